//! The spark plugs: the voltage their gap asks for against what the coil gives, and fuel on them.
//!
//! ```
//! use sim_core::engine::plug::{Plugs, breakdown_v};
//! // Air at 1 atm over a gap of 1 cm: 31 kV measured, a sixth more by the law.
//! let air = breakdown_v(101_325.0, 293.15, 0.01);
//! assert!((30e3..36e3).contains(&air), "{air}");
//! let sound = Plugs { gap_m: 0.8e-3, coil_share: 1.0 };
//! assert_eq!(sound.lost(12e5, 600.0, 1.0), 0.0);
//! let worn = Plugs { gap_m: 1.6e-3, ..sound };
//! assert!(worn.lost(4e5, 600.0, 1.0) < 1e-3 && worn.lost(12e5, 600.0, 1.0) > 0.05);
//! ```

use crate::maths::normal_share_below;

/// Voltage of a sound coil on a sound battery (V). Its series resistor is bridged while the
/// starter turns. Source: electronic ignitions of the era, 30 to 36 kV (from memory).
const COIL_V: f64 = 36e3;
/// Scatter of what a gap asks for from spark to spark (share). Source: our own.
const SCATTER: f64 = 0.1;
/// A voltage this many times what is asked for never fails (six times the scatter).
const NEVER_FAILS: f64 = 1.6;
/// Temperature at which the constants of the law are given (K).
const GIVEN_AT_K: f64 = 293.15;

/// Voltage at which a gap in air breaks down (V).
///
/// Equation: `U = B p d / (ln(A p d) - ln ln(1 + 1/g))` with `p = P T_0/T`, the pressure that has
/// the same density at 20 degC; `A = 112.5 /(kPa cm)`, `B = 2737.5 V/(kPa cm)`, `g = 0.01`.
/// Symbols: `P` pressure (Pa), `T` temperature (K), `d` gap (m). Valid range: `p d` of 1 to
/// 200 kPa cm, an even field; it lies a tenth to a sixth above what is measured, and edges lower
/// that by as much again. Source: Paschen's law
/// with the constants for air of textbooks on discharges (from memory).
pub fn breakdown_v(pressure_pa: f64, temperature_k: f64, gap_m: f64) -> f64 {
    let kpa_cm = 1e-3 * pressure_pa * GIVEN_AT_K / temperature_k * 100.0 * gap_m;
    let below = (112.5 * kpa_cm).ln() - 101f64.ln().ln();
    // Left of the law's least the gap only asks for more: no spark plug works there.
    2737.5 * kpa_cm / below.max(1.0)
}

/// Plugs and the coil that feeds them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plugs {
    /// Gap (m).
    pub gap_m: f64,
    /// Share of its voltage that the coil has left.
    pub coil_share: f64,
}

impl Plugs {
    /// Share of sparks that fail at a pressure (Pa) and temperature (K) of the charge, the coil
    /// at a share of its supply's voltage.
    ///
    /// Equation: `m = Phi((1 - U_coil/U)/s)`. Symbols: `U` what the gap asks for on average, `s`
    /// its scatter, `Phi` the normal distribution; none from `U_coil = 1.6 U`. The voltage of a
    /// coil goes with its supply's: the current before the spark does. Source: our own.
    pub fn lost(&self, pressure_pa: f64, temperature_k: f64, supply_share: f64) -> f64 {
        let has = COIL_V * self.coil_share * supply_share;
        let enough = has / breakdown_v(pressure_pa, temperature_k, self.gap_m);
        if enough > NEVER_FAILS { 0.0 } else { normal_share_below((1.0 - enough) / SCATTER) }
    }
}

/// Charges richer than this leave liquid fuel on the plugs of cylinders that do not fire. Our own.
pub const WETS_BELOW_LAMBDA: f64 = 0.5;
/// Crank angle in which they wet on such a charge, and in which they dry on any other (rad).
/// Source: our own: a second and a half, and 20 s, of the starter at 240 rpm.
const WETS_RAD: f64 = 38.0;
/// See [`WETS_RAD`].
const DRIES_RAD: f64 = 500.0;
/// Time in which they dry in a standing engine (s). Source: our own; the trade waits ten minutes
/// or more.
const DRIES_STANDING_S: f64 = 600.0;

/// How wet the plugs are: the share of sparks that run off over the wet insulator.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct WetPlugs {
    /// Share of sparks lost.
    pub share: f64,
}

impl WetPlugs {
    /// The crank turns by an angle (rad) on a mixture, and the engine fires or not.
    ///
    /// Equations: `dw/da = (1 - w)/a_w` on a charge richer than [`WETS_BELOW_LAMBDA`] that does
    /// not fire, else `dw/da = -w/a_d`: a cylinder whose plug is wet dries by the air it pumps.
    /// Symbols: `w` share of sparks lost, `a` crank angle (rad). Source: our own.
    pub fn turn(&mut self, by_rad: f64, lambda: f64, fires: bool) {
        if !fires && lambda < WETS_BELOW_LAMBDA {
            self.share = 1.0 - (1.0 - self.share) * (-by_rad / WETS_RAD).exp();
        } else {
            self.share *= (-by_rad / DRIES_RAD).exp();
        }
    }

    /// The engine stands for a time (s).
    pub fn stand(&mut self, lasts_s: f64) {
        self.share *= (-lasts_s / DRIES_STANDING_S).exp();
    }
}
