//! Small functions of mathematics that more than one physical topic needs.

use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Square-root law with a finite slope at zero and the sign of its argument.
///
/// Equation: `y = x / (x^2 + small^2)^(1/4)`, which is `sign(x) sqrt|x|` for
/// `|x| >> small` (0.25 % low at `10 small`) and `x / sqrt(small)` near zero.
/// A raw root has infinite slope at 0 and is not a number below it.
///
/// ```
/// use sim_core::maths::signed_root;
/// assert!((signed_root(4.0e4, 1.0) - 200.0).abs() < 1e-6);
/// assert_eq!(signed_root(0.0, 1.0), 0.0);
/// assert_eq!(signed_root(-3.0, 1.0), -signed_root(3.0, 1.0));
/// ```
pub fn signed_root(x: f64, small: f64) -> f64 {
    x / (x * x + small * small).sqrt().sqrt()
}

/// Exponential function without a call or a branch, for the inner loops.
///
/// Equation: `exp(x) = 2^n exp(r)`, `|r| <= ln(2)/2`, Taylor to the 13th power.
/// Valid range: -700 to 700, ends kept outside. Within 2 units in the last place of the
/// system's function, which costs twice as much (benches/point.rs), and the same on every
/// machine.
#[inline]
pub fn exp(x: f64) -> f64 {
    // Adding and taking away this rounds to a whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let x = x.clamp(-700.0, 700.0);
    let shifted = x * std::f64::consts::LOG2_E + ROUND;
    let n = shifted - ROUND;
    let r = (x - n * LN2_HIGH) - n * LN2_LOW;
    let r2 = r * r;
    let r4 = r2 * r2;
    let low = (1.0 + r) + r2 * (1.0 / 2.0 + r * (1.0 / 6.0));
    let mid = (1.0 / 24.0 + r * (1.0 / 120.0)) + r2 * (1.0 / 720.0 + r * (1.0 / 5040.0));
    let high = (1.0 / 40_320.0 + r * (1.0 / 362_880.0))
        + r2 * (1.0 / 3_628_800.0 + r * (1.0 / 39_916_800.0))
        + r4 * (1.0 / 479_001_600.0 + r * (1.0 / 6_227_020_800.0));
    let power = f64::from_bits(shifted.to_bits().wrapping_add(1023) << 52);
    (low + r4 * (mid + r4 * high)) * power
}

/// Natural logarithm of a positive, normal number without a call or a branch.
///
/// Equation: `ln(x) = k ln 2 + 2 atanh(s)`, `s = (m-1)/(m+1)`, `x = 2^k m`, `m` between
/// `sqrt(1/2)` and `sqrt(2)`; the series to the 21st power. Valid range: 1e-300 to 1e300.
/// Within 2 units in the last place of the system's function, away from 1; absolutely
/// within 1e-16 near it.
#[inline]
pub fn ln(x: f64) -> f64 {
    const SQRT_HALF: u64 = std::f64::consts::FRAC_1_SQRT_2.to_bits();
    const LN2_HIGH: f64 = 6.931_471_803_691_238e-1;
    const LN2_LOW: f64 = 1.908_214_929_270_587_7e-10;
    let bits = x.to_bits().wrapping_sub(SQRT_HALF);
    let k = (bits as i64 >> 52) as f64;
    let m = f64::from_bits((bits & 0x000f_ffff_ffff_ffff).wrapping_add(SQRT_HALF));
    let s = (m - 1.0) / (m + 1.0);
    let s2 = s * s;
    let s4 = s2 * s2;
    let s8 = s4 * s4;
    let low = (1.0 / 3.0 + s2 * (1.0 / 5.0)) + s4 * (1.0 / 7.0 + s2 * (1.0 / 9.0));
    let high = (1.0 / 11.0 + s2 * (1.0 / 13.0)) + s4 * (1.0 / 15.0 + s2 * (1.0 / 17.0));
    let series = low + s8 * (high + s8 * (1.0 / 19.0 + s2 * (1.0 / 21.0)));
    k * LN2_HIGH + (2.0 * s + (2.0 * s * s2 * series + k * LN2_LOW))
}

/// Standard normal density.
pub fn normal_density(x: f64) -> f64 {
    exp(-0.5 * x * x) / (2.0 * PI).sqrt()
}

/// Standard normal distribution function `P(X < x)`.
pub fn normal_share_below(x: f64) -> f64 {
    0.5 * libm::erfc(-x * FRAC_1_SQRT_2)
}

/// Mean of the positive part of a normal variable: `E[max(0, X)]`, `X ~ N(mean, sigma)`.
///
/// Equation: `mean Phi(mean/sigma) + sigma phi(mean/sigma)`.
pub fn mean_positive_part(mean: f64, sigma: f64) -> f64 {
    if sigma <= 0.0 {
        return mean.max(0.0);
    }
    let t = mean / sigma;
    mean * normal_share_below(t) + sigma * normal_density(t)
}

/// A row of at most `N` numbers that stays `Copy`: slit widths, funnel heights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row<const N: usize> {
    values: [f64; N],
    count: usize,
}

impl<const N: usize> Row<N> {
    /// From a slice; `None` if it is longer than `N`.
    pub fn new(values: &[f64]) -> Option<Self> {
        let mut row = Row { values: [0.0; N], count: values.len() };
        row.values.get_mut(..values.len())?.copy_from_slice(values);
        Some(row)
    }
}

impl<const N: usize> Default for Row<N> {
    fn default() -> Self {
        Row { values: [0.0; N], count: 0 }
    }
}

impl<const N: usize> std::ops::Deref for Row<N> {
    type Target = [f64];
    fn deref(&self) -> &[f64] {
        &self.values[..self.count]
    }
}

impl<const N: usize> std::ops::DerefMut for Row<N> {
    fn deref_mut(&mut self) -> &mut [f64] {
        &mut self.values[..self.count]
    }
}
