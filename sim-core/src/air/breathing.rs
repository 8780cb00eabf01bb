//! What the cylinders take in, and the burnt gas that stays in them.

use super::GAS_CONSTANT;
use std::f64::consts::PI;

/// Displacement, compression and filling of the engine.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Breathing {
    /// Displacement of all cylinders (m3).
    pub displacement_m3: f64,
    /// Compression ratio.
    pub compression: f64,
    /// Polytropic exponent of the residual gas.
    pub polytropic: f64,
    /// Filling factor at standstill.
    pub filling_0: f64,
    /// Its rise with speed (s).
    pub filling_1_s: f64,
    /// Its bend with speed (s2).
    pub filling_2_s2: f64,
    /// Temperature of the charge in the manifold (K).
    pub charge_k: f64,
    /// Exhaust pressure above ambient (Pa).
    pub exhaust_above_pa: f64,
    /// Valve overlap factor (deg/m).
    pub overlap_deg_m: f64,
    /// How much of the published factor phi the trapped residual carries, 0 to 1.
    pub residual_phi: f64,
}

impl Breathing {
    /// Volumetric efficiency against the manifold state.
    ///
    /// Equation: `[eps/(eps-1) - (p_e/p_m)^(1/kappa)/(eps-1)] (g0 + g1 w + g2 w^2)`.
    /// Symbols: `eps` compression ratio, `kappa` polytropic exponent, `p_e`, `p_m`
    /// exhaust and manifold pressure (Pa), `w` crank speed (rad/s).
    /// Valid range: not below zero. Source: Guzzella & Onder 2010, ch. 2.3 (from memory).
    pub fn efficiency(&self, manifold_pa: f64, exhaust_pa: f64, speed_rad_s: f64) -> f64 {
        let expands = ((exhaust_pa / manifold_pa).ln() / self.polytropic).exp();
        self.efficiency_expanding(expands, speed_rad_s)
    }

    fn efficiency_expanding(&self, expands: f64, speed_rad_s: f64) -> f64 {
        let eps = self.compression;
        ((eps - expands) / (eps - 1.0)).max(0.0) * self.filling(speed_rad_s)
    }

    fn filling(&self, speed_rad_s: f64) -> f64 {
        let filling =
            self.filling_0 + speed_rad_s * (self.filling_1_s + speed_rad_s * self.filling_2_s2);
        filling.max(0.0)
    }

    /// Air into all cylinders (kg/s).
    ///
    /// Equation: `m = eta p_m V_d w / (4 pi R T_m)`. Source: Guzzella & Onder, ch. 2.3.
    pub fn air_kg_s(&self, manifold_pa: f64, exhaust_pa: f64, speed_rad_s: f64) -> f64 {
        self.air_of(self.efficiency(manifold_pa, exhaust_pa, speed_rad_s), manifold_pa, speed_rad_s)
    }

    /// The same where `(p_e/p_m)^(1/kappa)` is known: by how much the residual gas expands.
    pub fn air_expanding_kg_s(&self, expands: f64, manifold_pa: f64, speed_rad_s: f64) -> f64 {
        self.air_of(self.efficiency_expanding(expands, speed_rad_s), manifold_pa, speed_rad_s)
    }

    fn air_of(&self, efficiency: f64, manifold_pa: f64, speed_rad_s: f64) -> f64 {
        efficiency * manifold_pa * self.displacement_m3 * speed_rad_s
            / (4.0 * PI * GAS_CONSTANT * self.charge_k)
    }

    /// Mass share of burnt gas in the charge.
    ///
    /// Equation: `1.266 (OF/n)(p_i/p_e)^-0.87 sqrt(p_e - p_i) + 0.632 (p_i/p_e)^-0.74 / eps`,
    /// `n` in rev/s, pressures under the root in bar, `OF` in deg/m.
    /// Valid range: about 0.05 to 0.45; held below 0.9, and the root at zero for `p_i > p_e`.
    /// Source: Fox, Cheng & Heywood, SAE 931025 (from memory). The published second term
    /// carries a factor phi, fitted near lambda 1; a share `residual_phi` of it is used here,
    /// none by default: with all of it the middle of the edges falls on lambda 1, a
    /// sensitivity that `sweep` prints.
    pub fn residual_fraction(
        &self,
        manifold_pa: f64,
        exhaust_pa: f64,
        speed_rad_s: f64,
        phi: f64,
    ) -> f64 {
        let ln_ratio = (manifold_pa / exhaust_pa).ln();
        let rev_s = speed_rad_s / (2.0 * PI);
        let back_flow = ((exhaust_pa - manifold_pa) / 1e5).max(0.0).sqrt();
        let overlap = 1.266 * self.overlap_deg_m / rev_s * (-0.87 * ln_ratio).exp() * back_flow;
        let factor = 1.0 + self.residual_phi * (phi - 1.0);
        let clearance = 0.632 * factor * (-0.74 * ln_ratio).exp() / self.compression;
        (overlap + clearance).min(0.9)
    }
}
