//! The current to the actuator: a base that helps the cold engine, and a trim about it.

use crate::solve::MonotoneCurve;
use crate::units::ZERO_CELSIUS_K;
use std::f64::consts::PI;

/// Base current, authority and limits of the actuator, and what the controller wants of
/// the idle speed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Controller {
    /// Base current of the warm engine (A).
    pub base_a: f64,
    /// The most the trim may add to or take from it (A).
    pub authority_a: f64,
    /// Least current the actuator can be given (A).
    pub least_a: f64,
    /// Largest current the actuator can be given (A).
    pub most_a: f64,
    /// 1 if an altitude sensor is fitted. Its correction belongs to the running engine.
    pub altitude_sensor: f64,
    /// 1 if an exhaust-temperature sensor is fitted. So does its answer.
    pub exhaust_temperature_sensor: f64,
    /// Coolant temperature from which the trim closes its loop (K).
    pub closed_loop_from_k: f64,
    /// Idle speed of the warm engine (rad/s).
    pub idle_rad_s: f64,
    /// Rise of the idle speed for each kelvin the coolant is below 60 degC (rad/(s K)).
    pub idle_rise_rad_s_k: f64,
    /// Speed above which the controller cuts the fuel (rad/s).
    pub limit_rad_s: f64,
    /// Speed below which the engine has stalled (rad/s).
    pub stall_rad_s: f64,
}

impl Controller {
    /// Base current at a coolant temperature (A).
    ///
    /// Equation: `base + warm(T)`, warm as [`Controller::warm_up_a`] has it.
    pub fn base_current_a(&self, coolant_k: f64) -> f64 {
        self.base_current_at_a(coolant_k, 1.0)
    }

    /// The same with a share of the warm-up, see [`warm_up_share`].
    pub fn base_current_at_a(&self, coolant_k: f64, share: f64) -> f64 {
        (self.base_a + share * self.warm_up_a(coolant_k)).clamp(self.least_a, self.most_a)
    }

    /// What a coolant temperature adds to the base current (A): 54/41/20/0 mA at
    /// -15/-5/20/60 degC, monotone between, end values outside. Source: our own, to balance
    /// [`vapour_share`].
    pub fn warm_up_a(&self, coolant_k: f64) -> f64 {
        static WARM_MA: MonotoneCurve<4> =
            MonotoneCurve::new([-15.0, -5.0, 20.0, 60.0], [54.0, 41.0, 20.0, 0.0]);
        let coolant_degc = coolant_k - ZERO_CELSIUS_K;
        if coolant_degc >= 60.0 { 0.0 } else { 1e-3 * WARM_MA.at(coolant_degc) }
    }

    /// Idle speed wanted at a coolant temperature (rad/s): more below 60 degC.
    pub fn idle_target_rad_s(&self, coolant_k: f64) -> f64 {
        let below = (60.0 + ZERO_CELSIUS_K - coolant_k).max(0.0);
        self.idle_rad_s + self.idle_rise_rad_s_k * below
    }

    /// Least and largest current the trim may reach about a base (A).
    pub fn trim_limits_a(&self, base_a: f64) -> (f64, f64) {
        (
            (base_a - self.authority_a).clamp(self.least_a, self.most_a),
            (base_a + self.authority_a).clamp(self.least_a, self.most_a),
        )
    }

    /// Duty signal of a current, as a share.
    ///
    /// Equation: `duty = 1/2 + (I - I_base) / (2 authority)`, clipped to 0..1: above one
    /// half the controller adds fuel. Source: our own scale for a common practice (meters
    /// clipped the other way show one less this).
    pub fn duty(&self, current_a: f64, base_a: f64) -> f64 {
        (0.5 + 0.5 * (current_a - base_a) / self.authority_a).clamp(0.0, 1.0)
    }
}

/// Share of the metered fuel that burns as vapour in a running engine, by coolant
/// temperature: 0.62/0.68/0.80/1 at -15/-5/20/80 degC, 1 when warm; the rest goes into the
/// oil and out unburnt. Source: our own, in the range of textbook enrichment.
pub fn vapour_share(coolant_k: f64) -> f64 {
    static SHARE: MonotoneCurve<4> =
        MonotoneCurve::new([-15.0, -5.0, 20.0, 80.0], [0.62, 0.68, 0.80, 1.0]);
    SHARE.at(coolant_k - ZERO_CELSIUS_K)
}

/// How much more fuel wets the wall in the cold and how much longer it takes to dry, as
/// factors on the warm values: 2 and 3.3 at 20 degC, 1 at 90 degC. Source: our own.
pub fn wall_film_share(coolant_k: f64) -> (f64, f64) {
    let cold = ((90.0 + ZERO_CELSIUS_K - coolant_k) / 70.0).clamp(0.0, 2.0);
    (1.0 + cold, 1.0 + 2.3 * cold)
}

/// How steeply what is added for a cold engine falls with the air flow.
const WARM_UP_EXPONENT: f64 = 0.3;
/// Least and largest share of it.
const WARM_UP_LIMITS: (f64, f64) = (0.6, 1.4);

/// Share of what is added for a cold engine (warm-up, after-start, acceleration) at an air flow
/// over that of the sound idle at this coolant.
///
/// Equation: `r^-0.3`, 0.6 to 1.4. Symbols: `r` air flow, as the controller takes it, over the
/// idle's. Valid range: all. Source: our own: more air warms up and dries the walls sooner, so
/// controllers of the period took the enrichment back with load; common practice, no source.
///
/// ```
/// use sim_core::control::trim::warm_up_share;
/// assert_eq!(warm_up_share(1.0), 1.0);
/// assert!(warm_up_share(3.0) < 0.75 && warm_up_share(0.5) > 1.2);
/// ```
pub fn warm_up_share(air_over_idle: f64) -> f64 {
    let (least, most) = WARM_UP_LIMITS;
    air_over_idle.max(1e-3).powf(-WARM_UP_EXPONENT).clamp(least, most)
}

/// Share of the throttle's travel at which the full-load switch closes.
pub const FULL_LOAD: f64 = 0.95;
/// Current added at full load (A).
const FULL_LOAD_A: f64 = 0.005;
/// Filling from which it begins to be added, and at which all of it is.
const FULL_LOAD_FILLING: (f64, f64) = (0.4, 0.6);
/// Speed up to which all of it is added, and from which none is (rad/s): 2000 and 4000 rpm.
const FULL_LOAD_RAD_S: (f64, f64) = (2000.0 * PI / 30.0, 4000.0 * PI / 30.0);

/// Current added while the full-load switch is closed (A), by the filling that the controller
/// takes the engine to have, and its speed (rad/s).
///
/// Equation: 5 mA, in proportion between a filling of 0.4 and 0.6, none below; less from 2000 rpm
/// on, none from 4000. Source: our own: the switch opens the trim's loop, and the current takes
/// the mixture to the best torque. At high speeds the funnel has done so already, which widens
/// for full load. It needs no lambda sensor, so it comes with the trim off as well. A pedal on the
/// floor at a speed at which no load comes of it asks for nothing.
pub fn full_load_a(filling: f64, speed_rad_s: f64) -> f64 {
    let (from, to) = FULL_LOAD_FILLING;
    let (all, none) = FULL_LOAD_RAD_S;
    let loaded = ((filling - from) / (to - from)).clamp(0.0, 1.0);
    FULL_LOAD_A * loaded * ((none - speed_rad_s) / (none - all)).clamp(0.0, 1.0)
}

/// Fuel that the walls hold at a coolant temperature, over what they hold warm: share times time
/// of [`wall_film_share`].
///
/// ```
/// use sim_core::control::trim::film_over_warm;
/// assert_eq!(film_over_warm(363.15), 1.0);
/// assert!(film_over_warm(293.15) > 6.0);
/// ```
pub fn film_over_warm(coolant_k: f64) -> f64 {
    let (share, time) = wall_film_share(coolant_k);
    share * time
}
