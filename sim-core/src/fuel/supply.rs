//! The fuel supply: pump, check valve, accumulator, regulator, lines, and the pressure at
//! which fuel boils on a hot engine.

use crate::fuel::kind::viscosity_pa_s;
use crate::fuel::leak::{Leaks, annular_gap_m3_s};
use crate::fuel::slit::{Liquid, jet_speed_m_s};
use std::f64::consts::PI;

/// Pressure at which the leaks of the rig's seats are stated (Pa).
const LEAK_STATED_AT_PA: f64 = 5e5;
/// Temperature of the fuel at which they are stated (K).
const LEAK_STATED_AT_K: f64 = 293.15;
/// Discharge coefficient of a sharp opening, `pi/(pi+2)`: potential flow through a slit.
const SHARP: f64 = PI / (PI + 2.0);

/// The electric pump.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pump {
    /// Delivery against no pressure (m3/s).
    pub free_m3_s: f64,
    /// Pressure at which it delivers nothing (Pa).
    pub stall_pa: f64,
    /// Share of the delivery that is left while the starter takes the battery's voltage.
    pub cranking_share: f64,
}

impl Pump {
    /// Delivery (m3/s) against a pressure, at a share of the full delivery.
    ///
    /// Equation: `Q = s Q_0 (1 - p/p_stall)`, not below 0. Symbols: `s` share (1 on the
    /// jumper, `cranking_share` on the starter), `Q_0` free delivery, `p` pressure (Pa).
    /// Valid range: 0 to the stall pressure; above it nothing, and nothing backwards (that
    /// is the check valve's). Source: a displacement pump with laminar inner leakage,
    /// textbook; the numbers are the rig's.
    ///
    /// ```
    /// use sim_core::fuel::supply::Pump;
    /// let pump = Pump { free_m3_s: 4e-5, stall_pa: 12e5, cranking_share: 0.6 };
    /// assert!((pump.delivery_m3_s(6e5, 1.0) - 2e-5).abs() < 1e-18);
    /// assert_eq!(pump.delivery_m3_s(13e5, 1.0), 0.0);
    /// ```
    pub fn delivery_m3_s(&self, pressure_pa: f64, share: f64) -> f64 {
        (share * self.free_m3_s * (1.0 - pressure_pa / self.stall_pa)).max(0.0)
    }
}

/// The accumulator: a spring that stores fuel.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Accumulator {
    /// What it takes from empty to full (m3).
    pub volume_m3: f64,
    /// Pressure at which it begins to take fuel (Pa).
    pub preload_pa: f64,
    /// Rise of pressure with the fuel taken (Pa/m3).
    pub stiffness_pa_m3: f64,
}

impl Accumulator {
    /// The accumulator with a share of its spring left: preload and stiffness both fall.
    /// At 0 it takes nothing and gives nothing back. Our own: a spring that has set.
    pub fn weakened(&self, share: f64) -> Accumulator {
        if share <= 0.0 {
            return Accumulator { volume_m3: 0.0, ..*self };
        }
        Accumulator {
            preload_pa: share * self.preload_pa,
            stiffness_pa_m3: share * self.stiffness_pa_m3,
            ..*self
        }
    }

    /// Pressure at which it is full (Pa).
    pub fn full_pa(&self) -> f64 {
        self.preload_pa + self.stiffness_pa_m3 * self.volume_m3
    }

    /// Fuel in it (m3) at a pressure.
    ///
    /// Equation: `V = (p - p_0)/k` between empty and full. Symbols: `p_0` preload (Pa), `k`
    /// stiffness (Pa/m3). Valid range: any; below the preload 0, above full its volume.
    /// Source: Hooke's law.
    ///
    /// ```
    /// use sim_core::fuel::supply::Accumulator;
    /// let spring = Accumulator { volume_m3: 4e-5, preload_pa: 2.6e5, stiffness_pa_m3: 3e9 };
    /// assert!((spring.stored_m3(3.2e5) - 2e-5).abs() < 1e-18);
    /// assert_eq!(spring.stored_m3(5e5), 4e-5);
    /// ```
    pub fn stored_m3(&self, pressure_pa: f64) -> f64 {
        ((pressure_pa - self.preload_pa) / self.stiffness_pa_m3).clamp(0.0, self.volume_m3)
    }
}

/// The check valve at the pump.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CheckValve {
    /// Sound: it weeps.
    #[default]
    Ok,
    /// Dirt on its seat.
    Leaks,
    /// Open: fuel runs back through the pump.
    StuckOpen,
}

impl CheckValve {
    /// The word for it in tables and files.
    pub fn word(self) -> &'static str {
        match self {
            CheckValve::Ok => "ok",
            CheckValve::Leaks => "leaks",
            CheckValve::StuckOpen => "stuck-open",
        }
    }
}

/// Everything between tank and slits.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Supply {
    /// The pump.
    pub pump: Pump,
    /// The accumulator.
    pub accumulator: Accumulator,
    /// Rise of the pressure from the regulator's opening to the pump's free delivery (Pa).
    pub regulator_rise_pa: f64,
    /// Pressure down to which it stays open once the pump has stopped (Pa).
    pub regulator_closes_pa: f64,
    /// Leak of its closed seat at `LEAK_STATED_AT_PA` (m3/s).
    pub regulator_leak_m3_s: f64,
    /// Leak of the sound check valve at `LEAK_STATED_AT_PA` (m3/s).
    pub check_leak_m3_s: f64,
    /// Opening that dirt leaves in a leaking check valve (m2).
    pub check_dirt_m2: f64,
    /// Opening of a check valve stuck open, with the pump behind it (m2).
    pub check_open_m2: f64,
    /// Volume that hoses and fuel give with pressure (m3/Pa).
    pub compliance_m3_pa: f64,
    /// Radial gap around the plunger (m).
    pub plunger_gap_m: f64,
    /// Length of that gap (m).
    pub plunger_seal_m: f64,
    /// Volume of the feed that gets hot, filter to slits (m3).
    pub feed_m3: f64,
    /// Length of the first injection line (m).
    pub line_length_m: f64,
    /// How much longer each next line is (m).
    pub line_longer_m: f64,
    /// Bore of the lines (m).
    pub line_bore_m: f64,
    /// Crank speed while the starter turns the hot engine (rad/s).
    pub hot_cranking_rad_s: f64,
}

impl Supply {
    /// Volume of a line (m3), the first is 0: `V = pi/4 d^2 (L + i dL)`. Source: geometry.
    pub fn line_m3(&self, line: usize) -> f64 {
        let length_m = self.line_length_m + line as f64 * self.line_longer_m;
        PI / 4.0 * self.line_bore_m * self.line_bore_m * length_m
    }

    /// Slope of the open regulator (m3/(s Pa)).
    ///
    /// Equation: `Q = g (p - p_open)`, `g = Q_0 / dp`. Symbols: `Q_0` the pump's free
    /// delivery, `dp` the rise stated in the rig. Valid range: above the opening pressure;
    /// below it only the seat leaks. Source: our own straight line for a spring-loaded
    /// diaphragm, whose lift is small.
    pub fn regulator_slope_m3_s_pa(&self) -> f64 {
        self.pump.free_m3_s / self.regulator_rise_pa
    }

    /// Pressure from which the regulator returns (Pa), if with the pump running and nothing
    /// drawn it holds `system_pa`, the pressure a gauge shows.
    ///
    /// Equation: `p_open = p - dp (1 - p/p_stall)`, not below 0. Symbols: `dp` the rise stated
    /// in the rig, at the pump's free delivery. Source: the pump's line and the regulator's.
    pub fn opens_pa(&self, system_pa: f64) -> f64 {
        let returns = (1.0 - system_pa / self.pump.stall_pa).max(0.0);
        (system_pa - self.regulator_rise_pa * returns).max(0.0)
    }

    /// Pressure down to which a regulator that holds `holds_pa` stays open with the pump off (Pa);
    /// one that is stuck shut never opens. Source: common practice, no source: at once below the
    /// injectors' opening.
    pub fn closes_pa(&self, holds_pa: f64) -> f64 {
        if holds_pa.is_infinite() { holds_pa } else { self.regulator_closes_pa.min(holds_pa) }
    }

    /// Pressure (Pa) that the pump, at a share of its delivery, keeps against what is drawn (m3/s) and what leaks, at most
    /// `holds_pa`, where the regulator returns the rest.
    ///
    /// Equation: `p = (s Q_0 - q) / (s Q_0/p_stall + G)`. Symbols: `s Q_0` free delivery, `q` drawn,
    /// `G` laminar leak. Source: balance of volumes. The regulator's own rise with what returns
    /// through it is left out here: 0.015 bar from idle to full load.
    pub fn kept_pa(&self, holds_pa: f64, share: f64, drawn_m3_s: f64, leaks: &Leaks) -> f64 {
        let free_m3_s = share * self.pump.free_m3_s;
        let falls = free_m3_s / self.pump.stall_pa + leaks.laminar_m3_s_pa();
        if falls <= 0.0 {
            return 0.0;
        }
        ((free_m3_s - drawn_m3_s) / falls).clamp(0.0, holds_pa.max(0.0))
    }

    /// Fuel that the pressure holds (m3): hoses, fuel and accumulator.
    pub fn stored_m3(&self, pressure_pa: f64) -> f64 {
        self.compliance_m3_pa * pressure_pa + self.accumulator.stored_m3(pressure_pa)
    }

    /// How the supply leaks with the pump off, with fuel of a temperature.
    pub fn leaks(&self, plunger_m: f64, check: CheckValve, liquid: &Liquid) -> Leaks {
        let thinner = viscosity_pa_s(LEAK_STATED_AT_K) / liquid.viscosity_pa_s / LEAK_STATED_AT_PA;
        let gap = (self.plunger_gap_m, self.plunger_seal_m);
        let opening_m2 = match check {
            CheckValve::Ok => 0.0,
            CheckValve::Leaks => self.check_dirt_m2,
            CheckValve::StuckOpen => self.check_open_m2,
        };
        Leaks {
            check_m3_s_pa: self.check_leak_m3_s * thinner,
            plunger_m3_s_pa: annular_gap_m3_s(plunger_m, gap, 1.0, liquid.viscosity_pa_s),
            seat_m3_s_pa: self.regulator_leak_m3_s * thinner,
            opening_m3_s_root: SHARP * opening_m2 * jet_speed_m_s(1.0, liquid.density_kg_m3),
        }
    }
}

/// Pressure at which petrol boils at a temperature, absolute (Pa).
///
/// Equation: `p = 1.066 p_R exp(-B (1/T - 1/T_R))`, `B = 2904 K - 410 K ln(p_R / 70 kPa)`,
/// `T_R = 310.95 K` (37.8 degC). Symbols: `p_R` vapour pressure of the fuel's class at 37.8
/// degC as tested (Pa), `T` (K). The test lets four volumes of vapour go: with none, fuel boils
/// at 6.6 % more. Valid range: 45 to 100 kPa, about 0 to 100 degC; above that the heavy parts
/// make it low. What has boiled away leaves a fuel that boils less: left out.
/// Source: Clausius-Clapeyron; both constants from the EPA's AP-42 ch. 7.1 fit for gasolines
/// (from memory), which it follows within 2 %; classes of EN 228 from 45 to 100 kPa (from
/// memory).
///
/// ```
/// use sim_core::fuel::supply::vapour_pressure_pa;
/// assert!((vapour_pressure_pa(70e3, 310.95) - 74.6e3).abs() < 0.1e3);
/// let hot = vapour_pressure_pa(45e3, 363.15);
/// assert!((hot - 198.6e3).abs() < 4e3);
/// ```
pub fn vapour_pressure_pa(class_pa: f64, temperature_k: f64) -> f64 {
    let steepness_k = 2904.0 - 410.0 * (class_pa / 70e3).ln();
    1.066 * class_pa * (-steepness_k * (1.0 / temperature_k - 1.0 / 310.95)).exp()
}
