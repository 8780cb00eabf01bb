//! The modes of the linear engine, and which of them a kick shows.

use super::Linear;
use crate::point::Mode;
use nalgebra::Complex;

/// Where modes are looked for: growth (1/s) and turn (rad/s) of the starts.
const GROWTHS: [f64; 5] = [1.5, -0.5, -2.0, -4.0, -8.0];
/// See [`GROWTHS`].
const TURNS: [f64; 8] = [0.0, 1.0, 2.5, 4.0, 5.5, 7.5, 10.0, 14.0];
/// Newton's steps from each start.
const NEWTON_MOST: usize = 40;
/// A root stands where a step of Newton's is shorter than this (1/s).
const FOUND: f64 = 1e-10;
/// Steps that come so near to a root that is known already lead to it (1/s).
const KNOWN: f64 = 1e-4;
/// Share of the largest part of a kick below which a mode is not seen.
const UNSEEN: f64 = 0.2;
/// A turn slower than this counts as none (rad/s).
const TURNS_FROM: f64 = 1e-6;

impl Linear {
    /// Every mode that Newton's steps find from a grid of starts, the slowest first.
    pub fn modes(&self) -> Vec<Mode> {
        let mut found: Vec<Complex<f64>> = Vec::new();
        for growth in GROWTHS {
            for turn in TURNS {
                let start = Complex::new(growth, turn);
                let Some(root) = self.root_from(start, &found) else { continue };
                let root = Complex::new(root.re, root.im.abs());
                if found.iter().all(|other| (other - root).norm() > 1e-5) {
                    found.push(root);
                }
            }
        }
        found.sort_by(|a, b| b.re.total_cmp(&a.re));
        found
            .into_iter()
            .map(|root| Mode {
                growth_per_s: root.re,
                turn_rad_s: if root.im > TURNS_FROM { root.im } else { 0.0 },
            })
            .collect()
    }

    /// The slowest mode that a kick of the crank shows: what is left of it when all else has
    /// died away. A mode that takes up less than `UNSEEN` of the largest share does not
    /// count: the integral of the idle control creeps for seconds, far below what is seen.
    pub fn slowest(&self) -> Option<Mode> {
        let modes = self.modes();
        let shares: Vec<f64> = modes.iter().map(|mode| self.share_of_kick(mode)).collect();
        let most = shares.iter().fold(0.0_f64, |most, share| most.max(*share));
        let seen = modes.iter().zip(&shares).find(|(_, share)| **share >= UNSEEN * most);
        seen.map(|(mode, _)| *mode)
    }

    /// How much of a kick of the speed a mode takes up, as an amplitude.
    ///
    /// Equation: the residue of `1/(s - A(s))`, speed by speed, at the mode, twice that of a
    /// pair. Source: partial fractions.
    fn share_of_kick(&self, mode: &Mode) -> f64 {
        let root = Complex::new(mode.growth_per_s, mode.turn_rad_s);
        let near = 1e-5 * (1.0 + root.norm());
        // As seen from both sides, so that what the other modes add cancels.
        let sides = [near, -near].map(|off| {
            let s = root + off;
            let answers = self.answers(s);
            let closed = self.control.map_or(Complex::new(0.0, 0.0), |control| {
                let control = control.at(s);
                answers.by_inlet.value * control.cleared.value / control.poles.value * 100.0
            });
            self.answers_kick(s) / (answers.determinant.value + closed) * off
        });
        let residue = (0.5 * (sides[0] + sides[1])).norm();
        if mode.turn_rad_s > 0.0 { 2.0 * residue } else { residue }
    }

    /// The root that Newton's steps lead to, if they lead to one that is not `found` yet.
    fn root_from(&self, start: Complex<f64>, found: &[Complex<f64>]) -> Option<Complex<f64>> {
        let mut s = start;
        for _ in 0..NEWTON_MOST {
            let at = self.characteristic_and_slope(s);
            let mut step = at.value / at.slope;
            if !step.re.is_finite() || !step.im.is_finite() {
                return None;
            }
            // No further than the grid is wide.
            if step.norm() > 3.0 {
                step *= 3.0 / step.norm();
            }
            s -= step;
            if step.norm() < FOUND * (1.0 + s.norm()) {
                return Some(s);
            }
            let upper = Complex::new(s.re, s.im.abs());
            if found.iter().any(|other| (other - upper).norm_sqr() < KNOWN * KNOWN) {
                return None;
            }
            if s.re < -40.0 || s.norm() > 80.0 {
                return None;
            }
        }
        None
    }
}
