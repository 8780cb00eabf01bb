//! Functions of the complex frequency with their slopes. They are inlined wherever they are used,
//! so that a slope which nobody reads is not worked out.

use nalgebra::Complex;

/// A value at a complex frequency, and its slope over the frequency.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sloped {
    pub value: Complex<f64>,
    pub slope: Complex<f64>,
}

/// Mean of `exp(-s t)` from now over a time (s), given what it is at the end of it.
///
/// Equation: `m = (1 - exp(-s T))/(s T)`, `dm/ds = (exp(-s T) - m)/s`. Near `s = 0` the first
/// terms of its series.
#[inline(always)]
pub(super) fn mean_over(s: Complex<f64>, lasts_s: f64, at_end: Complex<f64>) -> Sloped {
    let turned = s * lasts_s;
    if turned.norm_sqr() < 1e-12 {
        let one = Complex::new(1.0, 0.0);
        return Sloped { value: one - turned * 0.5, slope: -one * (0.5 * lasts_s) };
    }
    let value = (-at_end + 1.0) / turned;
    Sloped { value, slope: (at_end - value) / s }
}
