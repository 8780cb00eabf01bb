//! What a start asks for: the starter's torque, more fuel, and what of it evaporates.

use crate::solve::MonotoneCurve;
use crate::units::ZERO_CELSIUS_K;

/// Starter and start valve.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Starting {
    /// Torque of the starter at the standing crank, battery at 20 degC (N m).
    pub stall_nm: f64,
    /// Crank speed at which its torque is gone (rad/s).
    pub free_rad_s: f64,
    /// Fuel of the start valve (kg/s).
    pub start_valve_kg_s: f64,
    /// Crank speed from which the engine counts as caught (rad/s).
    pub caught_rad_s: f64,
    /// How much longer the starter is held on (s).
    pub held_on_s: f64,
}

impl Starting {
    /// The same starter on a battery at a temperature (K): 0.9 % less torque and 0.5 % less
    /// speed for each kelvin below 20 degC. Source: our own, in the range of handbooks.
    pub fn at(&self, battery_k: f64) -> Starting {
        let below = (20.0 + ZERO_CELSIUS_K - battery_k).max(0.0);
        Starting {
            stall_nm: self.stall_nm * (1.0 - 0.009 * below).max(0.1),
            free_rad_s: self.free_rad_s * (1.0 - 0.005 * below).max(0.1),
            ..*self
        }
    }

    /// The same starter at a share of its voltage: stall torque and free speed fall alike.
    /// Source: a d.c. motor whose resistance and field stay, handbook.
    pub fn on_battery(&self, share: f64) -> Starting {
        Starting { stall_nm: self.stall_nm * share, free_rad_s: self.free_rad_s * share, ..*self }
    }

    /// Torque at the crank (N m).
    ///
    /// Equation: `T_stall (1 - w/w_free)`, not below 0: a freewheel lets the engine run
    /// ahead. Source: straight line of a series-free d.c. motor, handbook.
    pub fn torque_nm(&self, speed_rad_s: f64) -> f64 {
        (self.stall_nm * (1.0 - speed_rad_s / self.free_rad_s)).max(0.0)
    }
}

/// The thermo-time switch of the start valve: a bimetal in the coolant that the current of the
/// starter heats. It opens at 35 degC, and stays warm from try to try: that keeps the start valve
/// from drowning an engine that is cranked again and again.
///
/// Equations: heated `d(theta)/dt = 55 K / 8 s`, left alone `d(theta)/dt = -theta/tau`; closed
/// while `max(T, -20 degC) + theta < 35 degC`. Symbols: `theta` bimetal over coolant (K), `T`
/// coolant, `tau` time in which it cools (s). So a cold one sprays for `8 s (35 degC - T) / 55 K`,
/// 8 s at the most. Valid range: a starter that is held on without a break of seconds. Source:
/// our own form of a common practice.
///
/// ```
/// use sim_core::control::starting::ThermoTimeSwitch;
/// let mut switch = ThermoTimeSwitch::default();
/// switch.heat(2.0, 293.15);
/// assert!(switch.closed(293.15));
/// switch.heat(0.2, 293.15);
/// assert!(!switch.closed(293.15));
/// switch.cool(60.0, 180.0);
/// assert!(switch.closed(293.15)); // and sprays for half a second
/// ```
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ThermoTimeSwitch {
    /// How much warmer the bimetal is than the coolant (K).
    above_k: f64,
}

/// The coolant below which it heats no longer (K), where it opens (K), and how fast it heats (K/s).
const SWITCH: (f64, f64, f64) = (ZERO_CELSIUS_K - 20.0, ZERO_CELSIUS_K + 35.0, 55.0 / 8.0);

impl ThermoTimeSwitch {
    /// How much warmer than the coolant (K) it is where it opens (K).
    fn opens_above_k(coolant_k: f64) -> f64 {
        (SWITCH.1 - coolant_k.max(SWITCH.0)).max(0.0)
    }

    /// Whether the start valve has current, the starter turning, at a coolant temperature (K).
    pub fn closed(&self, coolant_k: f64) -> bool {
        self.above_k < ThermoTimeSwitch::opens_above_k(coolant_k)
    }

    /// The starter turns for a time (s). Once open it is kept warm, no warmer.
    pub fn heat(&mut self, lasts_s: f64, coolant_k: f64) {
        let opens_k = ThermoTimeSwitch::opens_above_k(coolant_k);
        self.above_k = (self.above_k + SWITCH.2 * lasts_s).min(opens_k.max(self.above_k));
    }

    /// The starter is off for a time (s).
    pub fn cool(&mut self, lasts_s: f64, cools_s: f64) {
        self.above_k *= (-lasts_s / cools_s).exp();
    }
}

/// A curve over coolant temperature at -15, -5, 20 and 80 degC, end values outside.
const fn by_coolant(values: [f64; 4]) -> MonotoneCurve<4> {
    MonotoneCurve::new([-15.0, -5.0, 20.0, 80.0], values)
}

/// Share of the metered fuel that is vapour while the starter turns: 0.20/0.26/0.40/0.72.
/// Source: our own, in the range of textbook enrichment: cranking air-fuel ratios of 2 to 12.
pub fn cranking_vapour_share(coolant_k: f64) -> f64 {
    static SHARE: MonotoneCurve<4> = by_coolant([0.20, 0.26, 0.40, 0.72]);
    SHARE.at(coolant_k - ZERO_CELSIUS_K)
}

/// Actuator current above the base while the starter turns (A): 135/120/85/75/16 mA at
/// -15/-5/20/40/80 degC. About 40 degC, where the start valve no longer helps, it falls little.
/// Source: our own, to balance [`cranking_vapour_share`].
pub fn cranking_a(coolant_k: f64) -> f64 {
    static MA: MonotoneCurve<5> =
        MonotoneCurve::new([-15.0, -5.0, 20.0, 40.0, 80.0], [135.0, 120.0, 85.0, 75.0, 16.0]);
    1e-3 * MA.at(coolant_k - ZERO_CELSIUS_K)
}

/// Actuator current on top of the warm-up just after the start (A): 55/45/20/3 mA; it goes
/// with `AFTER_START_S`. Source: our own.
pub fn after_start_a(coolant_k: f64) -> f64 {
    static MA: MonotoneCurve<4> = by_coolant([55.0, 45.0, 20.0, 3.0]);
    1e-3 * MA.at(coolant_k - ZERO_CELSIUS_K)
}

/// Time in which the after-start current goes (s).
pub(crate) const AFTER_START_S: f64 = 20.0;
/// Time in which the vapour share rises from cranking's to the running engine's (s), and in
/// which the cranking current goes over into the after-start's.
pub(crate) const VAPOUR_S: f64 = 1.0;
/// Time in which the coolant warms up (s) towards `WARM_K`.
pub(crate) const WARMS_UP_S: f64 = 240.0;
/// Temperature the thermostat holds (K).
pub(crate) const WARM_K: f64 = 90.0 + ZERO_CELSIUS_K;
/// How long after the start the trim's loop stays open (s): without an exhaust-temperature
/// sensor; with one, which shows when the tip is hot; with one that has failed.
pub(crate) const OPEN_LOOP_S: f64 = 15.0;
/// See [`OPEN_LOOP_S`].
pub(crate) const HOT_LOOP_S: f64 = 12.0;
/// See [`OPEN_LOOP_S`].
pub(crate) const BLIND_LOOP_S: f64 = 60.0;
