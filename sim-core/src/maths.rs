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

/// A value that is worked out anew only where what it follows from changes.
///
/// ```
/// use sim_core::maths::Kept;
/// let mut root = Kept::default();
/// assert_eq!(root.of(4.0, || 2.0), 2.0);
/// assert_eq!(root.of(4.0, || panic!("it is known")), 2.0);
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Kept {
    from: f64,
    value: f64,
}

impl Default for Kept {
    fn default() -> Self {
        Kept { from: f64::NAN, value: f64::NAN }
    }
}

impl Kept {
    /// The value that follows from a number, by `work_out` unless it is known.
    pub fn of(&mut self, from: f64, work_out: impl FnOnce() -> f64) -> f64 {
        if from != self.from {
            *self = Kept { from, value: work_out() };
        }
        self.value
    }
}

/// A power of a quantity that moves slowly: worked out at one place, and near it by its series.
///
/// Equation: `x^a = x0^a (1 + a d + a (a-1)/2 d^2 + ...)`, `d = x/x0 - 1`, up to the fifth power
/// of `d` (binomial series). Valid range: `x` above 0, `a` from -1 to 1. Error: what is left out is
/// below 1e-16 of it, as `d` is at most [`NEAR`]; farther away the power itself is taken.
///
/// ```
/// use sim_core::maths::NearPower;
/// let mut root = NearPower::new(0.5);
/// assert_eq!(root.about(4.0), 2.0);
/// assert!((root.at(4.005) / 4.005_f64.sqrt() - 1.0).abs() < 3e-16);
/// assert_eq!(root.at(9.0), 3.0); // too far away for the series
/// ```
#[derive(Clone, Copy, Debug)]
pub struct NearPower {
    exponent: f64,
    /// One over the place.
    inverse: f64,
    /// Of the series.
    coefficients: [f64; 6],
}

/// Distance from its place, as a share of it, up to which a [`NearPower`] goes by its series.
pub const NEAR: f64 = 2e-3;

impl NearPower {
    /// A power with an exponent, at no place yet.
    pub fn new(exponent: f64) -> NearPower {
        NearPower { exponent, inverse: f64::NAN, coefficients: [f64::NAN; 6] }
    }

    /// The power; one too far from its place makes that the new place.
    pub fn about(&mut self, x: f64) -> f64 {
        if let Some(value) = self.by_series(x) {
            return value;
        }
        let value = x.powf(self.exponent);
        self.inverse = 1.0 / x;
        self.coefficients[0] = value;
        for n in 1..self.coefficients.len() {
            let of = n as f64;
            self.coefficients[n] = self.coefficients[n - 1] * (self.exponent + 1.0 - of) / of;
        }
        value
    }

    /// The power, by the series where that is near enough.
    pub fn at(&self, x: f64) -> f64 {
        self.by_series(x).unwrap_or_else(|| x.powf(self.exponent))
    }

    fn by_series(&self, x: f64) -> Option<f64> {
        let d = x * self.inverse - 1.0;
        let [a, b, c, e, f, g] = self.coefficients;
        (d.abs() <= NEAR).then_some(a + d * (b + d * (c + d * (e + d * (f + d * g)))))
    }
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
#[derive(Clone, Copy, Debug, Default)]
pub struct Lag(Kept);

impl Lag {
    /// Share kept over a step of a lag (both s): `exp(-h/tau)`.
    pub fn keeps(&mut self, step_s: f64, lag_s: f64) -> f64 {
        let over_lag = step_s / lag_s;
        self.0.of(over_lag, || (-over_lag).exp())
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_power_by_its_series_is_the_power_to_the_last_digits() {
        for exponent in [-1.0, -0.7, 0.5, 1.0 / 1.3, 1.0] {
            for place in [0.02, 0.9, 2.9, 101_325.0] {
                let mut power = NearPower::new(exponent);
                power.about(place);
                for step in -20..=20 {
                    let x = place * (1.0 + 0.0499 * NEAR * f64::from(step));
                    let off = power.at(x) / x.powf(exponent) - 1.0;
                    assert!(off.abs() < 5e-16, "{x}^{exponent}: off by {off:e}");
                    assert_eq!(power.about(x), power.at(x));
                }
                // The place moves on.
                let far = place * (1.0 + 1.01 * NEAR);
                for (found, x) in [(power.about(far), far), (power.at(place), place)] {
                    assert!((found / x.powf(exponent) - 1.0).abs() < 5e-16, "{x}^{exponent}");
                }
                assert_eq!(power.inverse, 1.0 / far);
            }
        }
    }
}
