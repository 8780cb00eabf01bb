//! Whether anything swings that is damped too little: the modes counted, before they are found.

use super::Linear;
use crate::steady::SteadyEngine;
use nalgebra::Complex;

/// Turns faster than this are not counted (1/s): beyond where modes are looked for.
const FASTEST: f64 = 90.0;
/// Slower than this nothing is told from rest (1/s).
const SLOWEST: f64 = 0.02;
/// Steps along the edge of the sector: on its arc, and from each distance to the next.
const ARC_STEPS: u32 = 16;
/// See [`ARC_STEPS`].
const NEARER: f64 = 0.78;
/// By how much the sector is taken too wide, so that what lies on its edge is looked at.
const WIDER: f64 = 1e-6;
/// A step is halved until the function turns by less than this on it (rad), at most so often.
const TURNS_BY: f64 = 1.0;
/// See [`TURNS_BY`].
const HALVINGS: u32 = 30;

impl Linear {
    /// How many modes are damped less than a ratio (0 to 0.5), as complex numbers with their
    /// conjugates.
    ///
    /// Equation: as often as [`Linear::characteristic`] turns about zero along the edge of the
    /// sector in which they lie. Valid range: modes slower than 90 1/s. Source: argument
    /// principle (Cauchy; Nyquist 1932). The function is real on the real axis, so that the
    /// upper half of the edge is enough.
    pub fn damped_less(&self, ratio: f64) -> u32 {
        let tip = Complex::new(-WIDER, 0.0);
        // The damping ratio is the cosine of the angle from the negative real axis.
        let angle = (-ratio - WIDER).acos();
        let ray = Complex::from_polar(1.0, angle);
        let arc = (0..ARC_STEPS)
            .map(|i| Complex::from_polar(FASTEST, angle * f64::from(i) / f64::from(ARC_STEPS)));
        let inwards = std::iter::successors(Some(FASTEST), |r| Some(r * NEARER))
            .take_while(|r| *r > SLOWEST)
            .map(|r| ray * r + tip);
        let mut before: Option<(Complex<f64>, Complex<f64>)> = None;
        let mut turned = 0.0;
        for s in arc.chain(inwards).chain([tip]) {
            let now = (s, self.characteristic(s));
            if let Some(before) = before {
                turned += self.turned(before, now, HALVINGS);
            }
            before = Some(now);
        }
        (turned / std::f64::consts::PI).round().abs() as u32
    }

    /// By how much the characteristic turns about zero from one place to another (rad).
    fn turned(
        &self,
        (a, at_a): (Complex<f64>, Complex<f64>),
        (b, at_b): (Complex<f64>, Complex<f64>),
        halvings: u32,
    ) -> f64 {
        let turned = (at_b * at_a.conj()).arg();
        if turned.abs() < TURNS_BY || halvings == 0 {
            return turned;
        }
        let half = (a + b) * 0.5;
        let middle = (half, self.characteristic(half));
        self.turned((a, at_a), middle, halvings - 1) + self.turned(middle, (b, at_b), halvings - 1)
    }
}

/// Whether the idle at a screw position hunts: a swing that is damped less than `rough_damping`,
/// or grows.
///
/// Modes are found only where the count says that there are any such.
pub fn hunts(steady: &SteadyEngine, screw_turns: f64) -> bool {
    let least = steady.parts().1.ear.damping;
    let Ok(Some(linear)) = Linear::of(steady, screw_turns) else { return false };
    linear.damped_less(least) > 0 && linear.slowest().is_some_and(|mode| mode.damping() < least)
}
