//! The controller in time: two-point trim, fast idle trim, idle speed, overrun, acceleration,
//! full load. Values and paces are our own where no key names them; none was fitted to an
//! engine.

use super::learned_trim::{LearnedTrim, SPOILS_A};
use super::options::TICK_S;
use super::phase::Phase;
use crate::assembly::{Parts, Reference};
use crate::conditions::{Conditions, IdleAir, Trim};
use crate::control::cells::{Cells, LEARNS_FROM_K, Moment, Taught};
use crate::control::idle::Idle;
use crate::control::starting::{
    AFTER_START_S, BLIND_LOOP_S, HOT_LOOP_S, OPEN_LOOP_S, VAPOUR_S, after_start_a, cranking_a,
};
use crate::control::trim::{film_over_warm, full_load_a, warm_up_share};
use crate::maths::{Kept, Lag};
use crate::operation::seen;
use crate::sense::faults::{ExhaustTemperature, Faults, Lambda};
use crate::units::Unit;

/// The trim waits this long after an overrun cut (s).
const HELD_AFTER_CUT_S: f64 = 2.0;
/// At the speed limit the fuel stays cut until the speed is this much lower (rpm).
const LIMIT_BAND_RPM: f64 = 150.0;
/// Current that cuts the fuel (A).
const CUT_A: f64 = -0.050;
/// Coolant from which the overrun is cut (K).
const CUT_FROM_K: f64 = 323.15;
/// Acceleration: current for each V/s of the potentiometer above a threshold (A s/V, V/s),
/// its decay (s) and the most (A).
const ACCELERATION_A_S_V: f64 = 0.006;
/// See [`ACCELERATION_A_S_V`].
const ACCELERATION_FROM_V_S: f64 = 0.6;
/// The voltage is smoothed over this long before its rate is taken (s): with it and the
/// threshold a sound track's ripple asks for nothing.
const ACCELERATION_FILTER_S: f64 = 0.06;
/// See [`ACCELERATION_A_S_V`].
const ACCELERATION_DECAY_S: f64 = 0.4;
/// See [`ACCELERATION_A_S_V`].
const ACCELERATION_MOST_A: f64 = 0.020;
/// The air flow that decides about what a cold engine gets is smoothed over this long (s).
const SEEN_AIR_S: f64 = 1.0;

/// What the controller sees at a tick.
#[derive(Clone, Copy, Debug)]
pub struct ControllerInputs {
    /// Crank speed (rad/s).
    pub speed_rad_s: f64,
    /// What the lambda sensor takes for lambda.
    pub lambda: f64,
    /// Airflow potentiometer (V).
    pub potentiometer_v: f64,
    /// Whether the idle switch is closed.
    pub idle_switch: bool,
    /// Whether the full-load switch is closed.
    pub full_load: bool,
}

/// The engine as the controller's program has it: its own parts, and what it was made for.
type Engine<'a> = (&'a Parts, &'a Reference);

/// When nothing is left of what a start adds (s): ten times the time in which it goes.
const START_IS_OVER_S: f64 = 10.0 * AFTER_START_S;

/// The controller's memory.
#[derive(Clone, Copy, Debug, Default)]
pub struct Controls {
    /// Base current of the moment (A).
    pub base_a: f64,
    /// Two-point trim (A).
    pub trim_a: f64,
    /// Fast idle trim (A).
    pub fast_a: f64,
    /// What is added for acceleration, full load, or taken in the overrun (A).
    pub extra_a: f64,
    /// Duty of the idle air valve.
    pub valve_asked: f64,
    /// A current forced by hand (A).
    pub forced_a: Option<f64>,
    /// Whether the loop is asked to be closed.
    pub closed_loop_asked: bool,
    /// Whether the lambda sensor is plugged in.
    pub sensor_plugged: bool,
    low_a: f64,
    high_a: f64,
    rich: Option<bool>,
    integral: f64,
    smooth_rad_s: Option<f64>,
    lead_lag: Lag,
    smooth_v: Option<f64>,
    /// Air flow as the controller takes it, smoothed (kg/s).
    smooth_kg_s: Option<f64>,
    acceleration_a: f64,
    acceleration_lag: Lag,
    overrun_s: f64,
    cut: bool,
    limited: bool,
    held_s: f64,
    since_release_s: f64,
    pedal: bool,
    phase: Phase,
    learned: Option<LearnedTrim>,
    /// Air flow that the voltage stands for on the sound rig.
    nominal_kg_s: Kept,
}

impl Controls {
    /// The controller of a settled engine.
    /// `duty` is that of the idle air valve, `base_a` the base current, `current_a` what flows.
    pub fn new(
        (parts, reference): Engine<'_>,
        conditions: &Conditions,
        duty: f64,
        (base_a, current_a): (f64, f64),
    ) -> Controls {
        let controller = &parts.controller;
        let seen_k = conditions.seen_coolant_k(&parts.thermistor);
        let trim_on = conditions.trim == Trim::On;
        Controls {
            base_a,
            // A settled engine has had the minutes that the fast trim takes.
            fast_a: if trim_on { current_a - base_a } else { 0.0 },
            valve_asked: duty,
            forced_a: conditions.actuator_a,
            closed_loop_asked: trim_on,
            sensor_plugged: true,
            low_a: controller.least_a,
            high_a: controller.most_a,
            integral: duty - reference.nominal.idle_duty(seen_k),
            since_release_s: f64::INFINITY,
            ..Controls::default()
        }
    }

    /// Gives the controller stored cells, to use and to teach.
    pub fn learn(&mut self, cells: Cells) {
        self.learned = Some(LearnedTrim::new(cells));
    }

    /// What this drive has taught so far.
    pub fn taught(&self) -> Taught {
        self.learned.map(|learned| learned.taught).unwrap_or_default()
    }

    /// The key is turned off: what was learned is stored, all else is forgotten.
    pub(super) fn key_off(&mut self) {
        if let Some(learned) = &mut self.learned {
            learned.cells.store(&std::mem::take(&mut learned.taught));
        }
        (self.trim_a, self.fast_a, self.extra_a, self.rich) = (0.0, 0.0, 0.0, None);
        (self.acceleration_a, self.overrun_s, self.cut, self.limited) = (0.0, 0.0, false, false);
        // Turned on again while the engine still runs, it begins as after a start.
        self.phase = Phase::Since(0.0);
    }

    /// The memory was without supply for too long.
    pub(super) fn forget_cells(&mut self, parts: &Parts) {
        if let Some(learned) = &mut self.learned {
            let cleared =
                Cells::cleared(parts.breathing.displacement_m3, parts.controller.authority_a);
            *learned = LearnedTrim::new(cleared);
        }
    }

    /// What is stored (A), if the controller stores anything.
    pub fn cells(&self) -> Option<Cells> {
        self.learned.map(|learned| learned.cells)
    }

    /// The same controller of another start, with what is stored and plugged.
    pub(super) fn with_what_stays_of(mut self, before: &Controls) -> Controls {
        self.learned = before.learned;
        self.sensor_plugged = before.sensor_plugged;
        self
    }

    /// The key has been turned: everything that is not stored is forgotten.
    pub(crate) fn begin_start(&mut self) {
        (self.phase, self.trim_a, self.fast_a) = (Phase::Cranking, 0.0, 0.0);
        self.valve_asked = 1.0;
    }

    /// The engine has caught.
    pub(crate) fn caught(&mut self) {
        if self.phase == Phase::Cranking {
            self.phase = Phase::Since(0.0);
        }
    }

    /// The current that flows (A).
    pub fn current_a(&self) -> f64 {
        if let Some(forced) = self.forced_a {
            return forced;
        }
        if self.is_cut() {
            return CUT_A;
        }
        (self.base_a + self.trim_now_a() + self.extra_a).clamp(self.low_a, self.high_a)
    }

    /// Whether the fuel is cut, in the overrun or at the speed limit.
    pub(crate) fn is_cut(&self) -> bool {
        self.cut || self.limited
    }

    /// What both trims add to the base current (A).
    pub fn trim_now_a(&self) -> f64 {
        self.trim_a + self.fast_a
    }

    /// Decides for one tick.
    pub fn tick(&mut self, engine: Engine<'_>, conditions: &Conditions, sees: &ControllerInputs) {
        let (parts, reference) = engine;
        let controller = &parts.controller;
        let seen_k = conditions.seen_coolant_k(&parts.thermistor);
        let voltage_v = sees.potentiometer_v;
        let nominal_kg_s =
            self.nominal_kg_s.of(voltage_v, || reference.nominal.air_kg_s(voltage_v));
        let air_kg_s = seen::air_of_nominal_kg_s(parts, conditions, nominal_kg_s);
        let usual_kg_s = || reference.nominal.idle_air_kg_s(seen_k);
        // A plate that the starter moves tells nothing of the load.
        let tells_kg_s = if self.phase == Phase::Cranking { usual_kg_s() } else { air_kg_s };
        let smooth_kg_s = self.smooth_kg_s.get_or_insert(tells_kg_s);
        *smooth_kg_s += (tells_kg_s - *smooth_kg_s) * TICK_S / SEEN_AIR_S;
        let smooth_kg_s = *smooth_kg_s;
        let share = || warm_up_share(smooth_kg_s / usual_kg_s());
        self.base_a = seen::base_a(engine, conditions, smooth_kg_s);
        let steady = match &mut self.learned {
            None => false,
            Some(learned) => {
                self.base_a += learned.cells.added_at_a(air_kg_s);
                learned.is_steady(air_kg_s)
            }
        };
        (self.low_a, self.high_a) = (controller.least_a, controller.most_a);
        self.overrun(&parts.idle, seen_k, sees);
        let over_rpm = Unit::Rpm.from_si(sees.speed_rad_s - controller.limit_rad_s);
        self.limited = over_rpm > if self.limited { -LIMIT_BAND_RPM } else { 0.0 };
        self.accelerate(sees, || share() * film_over_warm(seen_k));
        if sees.full_load {
            let filling = seen::filling(parts, air_kg_s, sees.speed_rad_s);
            self.extra_a += full_load_a(filling, sees.speed_rad_s);
        }
        self.enrich(parts, seen_k, share);
        let closed = self.trim(parts, conditions, sees);
        let warm = seen_k >= LEARNS_FROM_K;
        let (trim_a, plain) = (self.trim_now_a(), self.extra_a < SPOILS_A);
        if let (true, Some(learned)) = (closed && steady && warm && plain, &mut self.learned) {
            let at = Moment { air_kg_s, idles: sees.idle_switch };
            learned.cells.teach(&mut learned.taught, at, trim_a, TICK_S);
        }
        self.idle(engine, conditions, sees);
    }

    /// What a start adds: cranking takes the place of the warm-up, after it two decays.
    fn enrich(&mut self, parts: &Parts, seen_k: f64, share: impl Fn() -> f64) {
        if matches!(self.phase, Phase::Since(s) if s > START_IS_OVER_S) {
            self.phase = Phase::Settled;
        }
        if self.phase == Phase::Settled {
            return;
        }
        let cranking_a = parts.controller.base_a + cranking_a(seen_k) - self.base_a;
        let after_a = share() * after_start_a(seen_k);
        match &mut self.phase {
            Phase::Settled => {}
            Phase::Cranking => self.extra_a += cranking_a,
            Phase::Since(s) => {
                self.extra_a += after_a * (-*s / AFTER_START_S).exp()
                    + (cranking_a - after_a) * (-*s / VAPOUR_S).exp();
                *s += TICK_S;
            }
        }
    }

    fn overrun(&mut self, idle: &Idle, seen_k: f64, sees: &ControllerInputs) {
        let speed = sees.speed_rad_s;
        let over = sees.idle_switch && seen_k > CUT_FROM_K;
        if over && speed > idle.cut_above_rad_s {
            self.overrun_s += TICK_S;
        } else {
            self.overrun_s = 0.0;
        }
        if self.overrun_s > idle.cut_after_s {
            self.cut = true;
        }
        if self.cut && (!over || speed < idle.resume_rad_s) {
            self.cut = false;
            self.held_s = HELD_AFTER_CUT_S;
        }
    }

    /// A push on the pedal: fuel ahead of what wets the walls, so in the cold as many times
    /// more (`cold`) as the walls hold more.
    fn accelerate(&mut self, sees: &ControllerInputs, cold: impl Fn() -> f64) {
        let smooth = self.smooth_v.get_or_insert(sees.potentiometer_v);
        let rate = (sees.potentiometer_v - *smooth) / ACCELERATION_FILTER_S;
        *smooth += rate * TICK_S;
        self.acceleration_a *= self.acceleration_lag.keeps(TICK_S, ACCELERATION_DECAY_S);
        if rate > ACCELERATION_FROM_V_S {
            let asked = cold() * ACCELERATION_A_S_V * (rate - ACCELERATION_FROM_V_S);
            self.acceleration_a = self.acceleration_a.max(asked).min(ACCELERATION_MOST_A);
        }
        // Plate and voltage rise in every start; no driver asks for that.
        if !self.phase.settled() {
            self.acceleration_a = 0.0;
        }
        self.extra_a = self.acceleration_a;
    }

    /// Two points: the current falls while the sensor reads rich and rises while it reads
    /// lean, with a jump at each change between them. The fast idle trim takes over what the
    /// two-point trim leans to, in its own time.
    /// Gives whether the loop is closed and trims.
    fn trim(&mut self, parts: &Parts, conditions: &Conditions, sees: &ControllerInputs) -> bool {
        let seen_k = conditions.seen_coolant_k(&parts.thermistor);
        let warm = seen_k >= parts.controller.closed_loop_from_k;
        let faults = &conditions.faults;
        let live = self.sensor_plugged && !matches!(faults.lambda, Lambda::Cold | Lambda::Dead);
        let open_s = match (parts.controller.exhaust_temperature_sensor > 0.5, faults) {
            (false, _) => OPEN_LOOP_S,
            (true, Faults { exhaust_temperature: ExhaustTemperature::Sound, .. }) => HOT_LOOP_S,
            (true, _) => BLIND_LOOP_S,
        };
        let closed = self.closed_loop_asked && warm && live && self.phase.may_close(open_s);
        if !closed || sees.full_load {
            // Open loop, or a sensor that has failed: base current.
            (self.trim_a, self.fast_a, self.rich) = (0.0, 0.0, None);
            return false;
        }
        self.held_s = (self.held_s - TICK_S).max(0.0);
        if self.is_cut() || self.held_s > 0.0 {
            self.rich = None;
            return false;
        }
        let gains = &parts.gains;
        let rich = sees.lambda < 1.0 && faults.lambda != Lambda::Stuck;
        let sign = if rich { -1.0 } else { 1.0 };
        // A change between rich and lean lies half-way through the tick, on the mean: up and down cancel.
        let mut ramp = sign * gains.trim_slope_a_s * TICK_S;
        if self.rich.is_some_and(|before| before != rich) {
            self.trim_a += sign * gains.trim_jump_a;
            ramp = 0.0;
        }
        self.rich = Some(rich);
        let authority = parts.controller.authority_a;
        let room = |fast: f64| (-authority - fast, authority - fast);
        let (low, high) = room(self.fast_a);
        self.trim_a = (self.trim_a + ramp).clamp(low, high);
        if sees.idle_switch {
            let taken = self.trim_a * TICK_S / gains.fast_trim_s;
            self.fast_a = (self.fast_a + taken).clamp(-authority, authority);
            let (low, high) = room(self.fast_a);
            self.trim_a = (self.trim_a - taken).clamp(low, high);
        }
        true
    }

    /// Duty of the idle air valve: what the sound valve needs at this coolant, and what the speed
    /// asks for beyond that.
    fn idle(
        &mut self,
        (parts, reference): Engine<'_>,
        conditions: &Conditions,
        sees: &ControllerInputs,
    ) {
        let idle = &parts.idle;
        let seen_k = conditions.seen_coolant_k(&parts.thermistor);
        let ahead_duty = reference.nominal.idle_duty(seen_k);
        let smooth = self.smooth_rad_s.get_or_insert(sees.speed_rad_s);
        let ahead = sees.speed_rad_s - *smooth;
        *smooth += ahead * (1.0 - self.lead_lag.keeps(TICK_S, idle.lead_lag_s));
        if !sees.idle_switch {
            // The speed is the driver's: what the sound idle needs, and the integral waits.
            self.pedal = true;
            if conditions.idle_air == IdleAir::Held {
                self.valve_asked = ahead_duty;
            }
            return;
        }
        if self.pedal {
            self.pedal = false;
            self.since_release_s = 0.0;
        }
        self.since_release_s += TICK_S;
        if conditions.idle_air != IdleAir::Held || self.phase == Phase::Cranking {
            return;
        }
        let target =
            conditions.speed_rad_s.unwrap_or_else(|| parts.controller.idle_target_rad_s(seen_k));
        let error = target - sees.speed_rad_s;
        let gains = &parts.gains;
        let over = -error - idle.dash_above_rad_s;
        let dash = idle.dashes(over, self.since_release_s);
        let slope_rad_s2 = ahead / idle.lead_lag_s;
        let lead = (-idle.lead * slope_rad_s2).clamp(-idle.lead_most, idle.lead_most);
        let duty = ahead_duty + self.integral;
        let asked = duty + (gains.idle_kp * error).max(-idle.shuts_most) + lead + dash;
        // The integral rests while the valve stands at a limit and would go beyond it, and
        // while the engine still runs down: else it would shut the valve for what comes.
        let beyond = (asked > 1.0 && error > 0.0) || (asked < 0.0 && error < 0.0);
        if !beyond && !self.cut && over < 0.5 * idle.dash_above_rad_s {
            let next = (duty + gains.idle_ki * error * TICK_S).clamp(0.0, 1.0);
            self.integral = next - ahead_duty;
        }
        self.valve_asked = asked.clamp(0.0, 1.0);
    }
}
