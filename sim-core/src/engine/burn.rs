//! Burning that is late, slow and scattered: what it costs in torque, and the roughness
//! and misfire it makes.

use crate::maths::{normal_density, normal_share_below};

/// COV of imep above which a driver calls the engine rough (Heywood 1988, sect. 9.4.2,
/// from memory).
pub const ROUGH_COV: f64 = 0.10;
/// A cycle that makes less than this share of the best work counts as a misfire.
const MISFIRE_BELOW: f64 = 0.1;
/// Width of the lean ignition limit in lambda.
const IGNITION_WIDTH: f64 = 0.04;

/// Constants of the burn.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Burn {
    /// Spark advance before top dead centre (deg).
    pub spark_deg: f64,
    /// From spark to half burnt at lambda 1, warm idle (deg).
    pub half_burnt_deg: f64,
    /// Best place of the half-burnt point after top dead centre (deg).
    pub best_deg: f64,
    /// Loss of torque for a half-burnt point away from the best [1/deg2].
    pub lateness_per_deg2: f64,
    /// Scatter of the half-burnt point at lambda 1, warm idle (deg).
    pub scatter_deg: f64,
    /// Mixture at which half of the cycles no longer ignite (lambda).
    pub ignition_limit: f64,
}

/// How much slower a charge burns than in the reference state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Slowness {
    /// `q = S(lambda 1, warm idle) / S`.
    q: f64,
    /// `q^(2/3)`.
    two_thirds: f64,
}

impl Slowness {
    /// As fast as in the reference state.
    pub const REFERENCE: Slowness = Slowness { q: 1.0, two_thirds: 1.0 };

    /// From the natural logarithm of `q`.
    pub fn of_ln(ln_q: f64) -> Slowness {
        let two_thirds = (ln_q * (2.0 / 3.0)).exp();
        Slowness { q: two_thirds * two_thirds.sqrt(), two_thirds }
    }
}

/// Mean torque factor, its coefficient of variation and the share of misfires of one
/// cylinder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cycles {
    /// Mean of the torque factor.
    pub mean: f64,
    /// Standard deviation over mean.
    pub cov: f64,
    /// Share of cycles that misfire.
    pub misfire: f64,
}

impl Burn {
    /// Mean lateness of the half-burnt point (deg) and its scatter (deg) at a slowness.
    ///
    /// Equation: `theta50 = -spark + theta_b q^(2/3)`, `sigma = sigma_0 q`,
    /// `q = S(lambda 1, warm idle) / S`. Symbols: `theta_b` spark to half burnt at q = 1.
    /// Source: exponent 2/3 after Hires, Tabaczynski & Novak, SAE 780232 (from memory);
    /// scatter in proportion to q: our own, simplest law.
    pub fn lateness_deg(&self, slowness: Slowness) -> (f64, f64) {
        let half_burnt = -self.spark_deg + self.half_burnt_deg * slowness.two_thirds;
        (half_burnt - self.best_deg, self.scatter_deg * slowness.q)
    }

    /// Whether no cycle in 10^16 reaches the floor of the torque parabola.
    fn clear_of_floor(&self, late: f64, scatter: f64) -> bool {
        let reach = late.abs() + 8.5 * scatter;
        self.lateness_per_deg2 * reach * reach < 1.0
    }

    /// Mean torque factor alone: the first of [`Burn::cycles`], for the balance.
    pub fn mean_torque(&self, slowness: Slowness, ignition_misfire: f64) -> f64 {
        let (late, scatter) = self.lateness_deg(slowness);
        let mean = if self.clear_of_floor(late, scatter) {
            1.0 - self.lateness_per_deg2 * (late * late + scatter * scatter)
        } else {
            self.moments(late, scatter).0
        };
        (1.0 - ignition_misfire) * mean
    }

    /// Mean, scatter and misfires of one cylinder's cycles.
    ///
    /// Equation: torque factor of a cycle `y = max(0, 1 - k x^2)`, `x ~ N(mu, sigma)` the
    /// lateness; mean and variance by the closed moments of the truncated normal (without
    /// the floor `1 - k (mu^2 + sigma^2)` and `k^2 (4 mu^2 sigma^2 + 2 sigma^4)`). A share
    /// `m` of lost cycles makes `g' = (1-m) g` and `COV'^2 = (COV^2 + m)/(1-m)`.
    /// Misfire: `y < 0.1`, or not ignited. Valid range: `k > 0`, any mu and sigma >= 0.
    /// Source: parabola of torque over combustion phasing: common engine practice, no
    /// source for k; moments: closed form, checked against quadrature in `tests`.
    pub fn cycles(&self, slowness: Slowness, lost: f64) -> Cycles {
        let (late, scatter) = self.lateness_deg(slowness);
        let (mean, variance, fired) = if self.clear_of_floor(late, scatter) {
            let (k, m2, s2) = (self.lateness_per_deg2, late * late, scatter * scatter);
            let variance = k * k * s2 * (4.0 * m2 + 2.0 * s2);
            (1.0 - k * (m2 + s2), variance, self.share_fired(late, scatter))
        } else {
            let (mean, square) = self.moments(late, scatter);
            (mean, (square - mean * mean).max(0.0), self.share_fired(late, scatter))
        };
        let own_cov2 = if mean > 1e-9 { variance / (mean * mean) } else { 1e6 };
        Cycles {
            mean: (1.0 - lost) * mean,
            cov: ((own_cov2 + lost) / (1.0 - lost).max(1e-12)).sqrt().min(1e3),
            misfire: 1.0 - (1.0 - lost) * fired,
        }
    }

    /// Share of misfires among the cycles that ignite.
    pub fn late_misfire(&self, slowness: Slowness) -> f64 {
        let (late, scatter) = self.lateness_deg(slowness);
        1.0 - self.share_fired(late, scatter)
    }

    /// Share of ignited cycles that make at least `MISFIRE_BELOW` of the best work.
    fn share_fired(&self, late: f64, scatter: f64) -> f64 {
        let edge = ((1.0 - MISFIRE_BELOW) / self.lateness_per_deg2).sqrt();
        if late.abs() + 8.5 * scatter < edge { 1.0 } else { share_within(late, scatter, edge) }
    }

    /// Share of cycles that do not ignite because the mixture is too lean.
    ///
    /// Equation: `Phi((lambda - limit)/0.04)`. Source: our own; the limit is a key.
    pub fn not_ignited(&self, lambda: f64) -> f64 {
        let t = (lambda - self.ignition_limit) / IGNITION_WIDTH;
        if t < -9.0 { 0.0 } else { normal_share_below(t) }
    }

    /// Mean and mean square of `max(0, 1 - k x^2)`, `x ~ N(mu, sigma)`.
    fn moments(&self, mu: f64, sigma: f64) -> (f64, f64) {
        let k = self.lateness_per_deg2;
        let bound = k.powf(-0.5);
        if sigma <= 1e-9 * bound {
            let y = (1.0 - k * mu * mu).max(0.0);
            return (y, y * y);
        }
        // Moments of the standard normal between lo and hi, by recursion.
        let (lo, hi) = ((-bound - mu) / sigma, (bound - mu) / sigma);
        let (d_lo, d_hi) = (normal_density(lo), normal_density(hi));
        let m0 = share_within(mu, sigma, bound);
        let m1 = d_lo - d_hi;
        let m2 = m0 + lo * d_lo - hi * d_hi;
        let m3 = 2.0 * m1 + lo * lo * d_lo - hi * hi * d_hi;
        let m4 = 3.0 * m2 + lo * lo * lo * d_lo - hi * hi * hi * d_hi;
        let (s, s2) = (sigma, sigma * sigma);
        let x2 = mu * mu * m0 + 2.0 * mu * s * m1 + s2 * m2;
        let x4 = mu.powi(4) * m0
            + 4.0 * mu.powi(3) * s * m1
            + 6.0 * mu * mu * s2 * m2
            + 4.0 * mu * s2 * s * m3
            + s2 * s2 * m4;
        ((m0 - k * x2).max(0.0), (m0 - 2.0 * k * x2 + k * k * x4).max(0.0))
    }
}

/// `P(|X| < bound)`, `X ~ N(mu, sigma)`, without cancellation in either tail.
fn share_within(mu: f64, sigma: f64, bound: f64) -> f64 {
    if sigma <= 0.0 {
        return if mu.abs() < bound { 1.0 } else { 0.0 };
    }
    // Symmetric: only the nearer bound matters unless sigma is large.
    let (near, far) = ((bound - mu.abs()) / sigma, (bound + mu.abs()) / sigma);
    let beyond_far = if far > 8.5 { 0.0 } else { normal_share_below(-far) };
    if near < 0.0 {
        normal_share_below(near) - beyond_far
    } else {
        1.0 - normal_share_below(-near) - beyond_far
    }
}
