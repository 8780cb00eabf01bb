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
