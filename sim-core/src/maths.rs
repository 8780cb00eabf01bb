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

/// What a first-order lag keeps of a difference over a step, worked out anew only where the step
/// or the lag changes.
///
/// ```
/// use sim_core::maths::Lag;
/// let mut lag = Lag::default();
/// assert_eq!(lag.keeps(1.0, 10.0), (-0.1_f64).exp());
/// assert_eq!(lag.keeps(1.0, 0.0), 0.0); // no lag keeps nothing
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Lag {
    over_lag: f64,
    keeps: f64,
}

impl Default for Lag {
    fn default() -> Self {
        Lag { over_lag: 0.0, keeps: 1.0 }
    }
}

impl Lag {
    /// Share kept over a step of a lag (both s): `exp(-h/tau)`.
    pub fn keeps(&mut self, step_s: f64, lag_s: f64) -> f64 {
        let over_lag = step_s / lag_s;
        if over_lag != self.over_lag {
            *self = Lag { over_lag, keeps: (-over_lag).exp() };
        }
        self.keeps
    }
}

/// Standard normal density.
pub fn normal_density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * PI).sqrt()
}

/// Standard normal distribution function `P(X < x)`.
pub fn normal_share_below(x: f64) -> f64 {
    0.5 * libm::erfc(-x * FRAC_1_SQRT_2)
}

/// A row of at most `N` numbers that stays `Copy`: slit widths, funnel heights.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BoundedVector<const N: usize> {
    values: [f64; N],
    count: usize,
}

impl<const N: usize> BoundedVector<N> {
    /// From a slice; `None` if it is longer than `N`.
    pub fn new(values: &[f64]) -> Option<Self> {
        let mut row = BoundedVector { values: [0.0; N], count: values.len() };
        row.values.get_mut(..values.len())?.copy_from_slice(values);
        Some(row)
    }
}

impl<const N: usize> Default for BoundedVector<N> {
    fn default() -> Self {
        BoundedVector { values: [0.0; N], count: 0 }
    }
}

impl<const N: usize> std::ops::Deref for BoundedVector<N> {
    type Target = [f64];
    fn deref(&self) -> &[f64] {
        &self.values[..self.count]
    }
}

impl<const N: usize> std::ops::DerefMut for BoundedVector<N> {
    fn deref_mut(&mut self) -> &mut [f64] {
        &mut self.values[..self.count]
    }
}
