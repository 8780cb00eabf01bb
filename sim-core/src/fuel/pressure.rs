//! What drives fuel through the slits: system pressure, actuator, chamber springs.

use std::f64::consts::PI;

/// The fuel side's pressures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pressures {
    /// System pressure above ambient (Pa).
    pub system_pa: f64,
    /// Diameter of the plunger (m).
    pub plunger_m: f64,
    /// Spring of the differential-pressure valves (Pa).
    pub spring_pa: f64,
    /// Actuator pressure difference without current (Pa).
    pub actuator_at_zero_pa: f64,
    /// Its rise with current (Pa/A).
    pub actuator_per_amp_pa: f64,
    /// Coulomb friction of plunger and lever, at the plunger (N).
    pub friction_n: f64,
}

impl Pressures {
    /// Force of the system pressure on the plunger (N): `F = p_sys pi/4 d^2`.
    pub fn plunger_force_n(&self) -> f64 {
        self.system_pa * PI / 4.0 * self.plunger_m * self.plunger_m
    }

    /// Pressure drop over the slits (Pa) at an actuator current.
    ///
    /// Equation: `dp = max(0, dp_0 + k I - p_spring)`. Valid range: -50 to 150 mA; about
    /// -25 mA cuts the fuel off. Source: common practice, no source (0.4 bar at 0 mA,
    /// 0.2 bar over the slits).
    pub fn slit_drop_pa(&self, current_a: f64) -> f64 {
        (self.actuator_at_zero_pa + self.actuator_per_amp_pa * current_a - self.spring_pa).max(0.0)
    }

    /// Pressure in the lower chambers (Pa above ambient): the system's less what the actuator
    /// takes. Source: common practice, no source (0.3 to 0.5 bar below at 0 mA).
    pub fn lower_chamber_pa(&self, current_a: f64) -> f64 {
        let takes_pa = self.actuator_at_zero_pa + self.actuator_per_amp_pa * current_a;
        (self.system_pa - takes_pa).max(0.0)
    }

    /// The current (A) that gives a pressure drop over the slits, inverse of
    /// [`Pressures::slit_drop_pa`].
    pub fn current_for_drop_a(&self, drop_pa: f64) -> f64 {
        (drop_pa + self.spring_pa - self.actuator_at_zero_pa) / self.actuator_per_amp_pa
    }

    /// Largest shift of lambda by friction: the share `F_f / (2 F)`, either way.
    ///
    /// The friction adds to or takes from the plunger force; the plate's air goes with its
    /// square root, the fuel not at all. A steady point carries none.
    pub fn friction_band(&self) -> f64 {
        self.friction_n / (2.0 * self.plunger_force_n())
    }
}
