//! The running engine: manifold, crank, plate and wall film between the ticks of a
//! controller.
//!
//! What feeds back within a tick is integrated ([`dynamics`]), up to the moment at which the
//! plate sticks, slides or meets its stop ([`plate`]) or the engine stalls; what only listens
//! (gas on its way, the sensor's lag) is advanced once a tick ([`transport_delay`]); the controller
//! decides once a tick ([`controls`]). [`driver_input`] is the driver, [`procedure`] what is done to
//! the engine, [`record`] what is written down of it. [`voltmeter`] puts a voltmeter on,
//! [`idle_wear`] wears the potentiometer's track.

pub mod attribution;
pub mod controls;
pub mod driver_input;
pub mod dynamics;
pub mod idle_wear;
mod learned_trim;
pub mod open_loop;
pub mod plate;
pub mod procedure;
pub mod record;
pub mod settling;
pub mod start;
mod step;
pub mod transport_delay;
pub mod valves;
pub mod voltmeter;

use crate::conditions::{Conditions, Trim};
use crate::control::cells::{Cells, Taught};
use crate::noise::Noise;
use crate::point::Stall;
use crate::rig::keys::Setup;
use crate::sense::faults::ThrottleSwitch;
use crate::sense::lambda_sensor::LambdaSensor;
use crate::steady::SteadyEngine;
use crate::steady::operating_state::{OperatingState, Plant};
use crate::steady::roughness::roughness;
use controls::{ControllerInputs, Controls};
use driver_input::{DriverInput, Pedal};
use dynamics::{Film, Inputs, STATES};
use plate::PlateMotion;
use transport_delay::{DelayLine, GasPath};

/// The most steps of a tick.
pub const STEPS_MOST: u32 = 5000;
/// The most events of a tick.
pub const EVENTS_MOST: u32 = 50;
/// A tick is worked out in so many parts with the foot on the pedal or while the speed
/// changes faster than this (rad/s2).
const LIVELY_PARTS: u32 = 4;
const LIVELY_RAD_S2: f64 = 5.0;
/// And for so long after a change from outside (s).
const LIVELY_S: f64 = 2.0;
/// A change of the actuator's current larger than this jumps, a smaller one ramps (A).
const JUMP_A: f64 = 1e-4;
/// Time from tick to tick of the controller (s).
pub const TICK_S: f64 = 0.010;

/// What is added to a run for realism, and how finely it is worked out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Seed of the noise.
    pub seed: u64,
    /// Whether cycles scatter in torque.
    pub torque_noise: bool,
    /// Amplitude of the intake's pulsation at the plate, share of the flow.
    pub pulsation: f64,
    /// Parts of a tick after each of which gas and sensor are advanced: so many times more
    /// than usual.
    pub finer: u32,
    /// How far into the tick the controller decides, as a share of it.
    pub decides_at: f64,
    /// Tolerance of the general solver; `None` for fixed steps.
    pub solver_tolerance: Option<f64>,
}

impl Default for Options {
    fn default() -> Self {
        Options {
            seed: 1,
            torque_noise: false,
            pulsation: 0.0,
            finer: 1,
            decides_at: 0.0,
            solver_tolerance: None,
        }
    }
}

/// Why a run cannot go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RunFault {
    /// It cannot start from a running point.
    NoStart(Stall),
    /// A state is no longer a number.
    Diverged {
        /// When (s).
        time_s: f64,
    },
    /// A tick would take more steps than it may: the engine's parts are too quick.
    TooManySteps {
        /// When (s).
        time_s: f64,
        /// How many it asks for.
        steps: u32,
    },
    /// The plate sticks and slides without end.
    EventStorm {
        /// When (s).
        time_s: f64,
    },
    /// The general solver gave up.
    SolverGaveUp {
        /// When (s).
        time_s: f64,
    },
}

/// What flows at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flow {
    /// Mixture drawn in.
    pub lambda: f64,
    /// Air past the plate (kg/s).
    pub plate_kg_s: f64,
    /// Air into the cylinders (kg/s).
    pub cylinders_kg_s: f64,
    /// Manifold pressure (Pa).
    pub manifold_pa: f64,
}

/// A running engine.
pub struct Engine {
    setup: Setup,
    options: Options,
    plant: Plant,
    opening_m: f64,
    ticks: u64,
    /// What has passed of this tick (s).
    within_s: f64,
    x: [f64; STATES],
    plate: PlateMotion,
    /// Crank angle since the start (rad).
    angle_rad: f64,
    pedal: Pedal,
    valve: f64,
    controls: Controls,
    film: Film,
    /// How fast the speed last rose (rad/s2).
    gains_rad_s2: f64,
    lively_until_s: f64,
    /// Whether the mixture jumped since the last step, by a hand or by the controller.
    jumped: bool,
    work: DelayLine,
    gas: GasPath,
    noise: Noise,
    torque_factor: f64,
    /// Scatter of the torque, and the tick from which it is worked out anew.
    cov: f64,
    cov_anew_at: u64,
    stalled_at_s: Option<f64>,
    start: dynamics::DynamicState,
    /// Where its start has got to, if it is not a settled engine.
    starts: Option<start::StartPhase>,
}

impl Engine {
    /// An engine at its settled point under a setup.
    pub fn new(setup: &Setup, options: Options) -> Result<Engine, RunFault> {
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        let screw = setup.conditions.screw_turns;
        let (settled, current_a) = steady.settle(screw).map_err(RunFault::NoStart)?;
        let parts = setup.rig.parts();
        let plant = Plant::new(parts, setup.rig.reference(), &setup.conditions);
        let trial = settled.trial;
        let film = dynamics::film(parts, &setup.conditions, trial.speed_rad_s);
        let x = dynamics::pack(&trial, film.share * film.tau_s * trial.fuel_kg_s);
        let valve = settled.valve_m2 / parts.idle_valve.full_effective_m2();
        let mut engine = Engine {
            opening_m: parts.lever.opening_height_m(screw),
            controls: Controls::new(parts, &setup.conditions, valve, current_a),
            work: DelayLine::new(0.0, trial.imep_pa),
            gas: GasPath::new(seen(setup, &trial)),
            noise: Noise::new(options.seed, 0),
            setup: *setup,
            options,
            ticks: 0,
            within_s: 0.0,
            gains_rad_s2: 0.0,
            lively_until_s: 0.0,
            jumped: false,
            x,
            plate: PlateMotion::Sticks,
            angle_rad: 0.0,
            pedal: Pedal::new(&plant, settled.throttle_m2),
            plant,
            valve,
            film,
            torque_factor: 1.0,
            cov: 0.0,
            cov_anew_at: 0,
            stalled_at_s: None,
            start: dynamics::unpack(&x),
            starts: None,
        };
        let inlet_m2 = engine.inlet_m2();
        let inputs = engine.inputs((inlet_m2, inlet_m2), 0.0);
        engine.plate = plate::at_first(&engine.plant, &inputs, &engine.x);
        Ok(engine)
    }

    /// Time since the start (s): ticks times their length, so that it never drifts.
    pub fn time_s(&self) -> f64 {
        self.ticks as f64 * TICK_S + self.within_s
    }

    /// When the engine stalled, if it did (s).
    pub fn stalled_at_s(&self) -> Option<f64> {
        self.stalled_at_s
    }

    /// The setup as it is now.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Changes rig or conditions while it runs. The speed it idles at follows the controller.
    pub fn change(&mut self, setup: Setup) {
        let conditions = &setup.conditions;
        self.plant = Plant::new(setup.rig.parts(), setup.rig.reference(), conditions);
        self.opening_m = setup.rig.parts().lever.opening_height_m(conditions.screw_turns);
        self.controls.forced_a = conditions.actuator_a;
        self.controls.closed_loop_asked = conditions.trim == Trim::On;
        self.pedal.fit(&self.plant);
        self.setup = setup;
        self.lively_until_s = self.time_s() + LIVELY_S;
        self.jumped = true;
        let speed = self.speed_rad_s();
        self.film = dynamics::film(&self.plant.parts, &self.setup.conditions, speed);
    }

    /// Puts the foot somewhere.
    pub fn put_foot(&mut self, foot: DriverInput) {
        self.pedal.put(foot, &self.plant);
    }

    /// Plugs or unplugs the lambda sensor.
    pub fn plug_sensor(&mut self, plugged: bool) {
        self.controls.sensor_plugged = plugged;
    }

    /// Voltage at the wiper of the airflow potentiometer, not loaded by a meter (V).
    pub fn wiper_v(&self) -> f64 {
        let height_m = dynamics::unpack(&self.x).height_m;
        self.plant.potentiometer_v(&self.setup.conditions, height_m)
    }

    /// Resistance behind that voltage (ohm).
    pub fn wiper_ohm(&self) -> f64 {
        let height_m = dynamics::unpack(&self.x).height_m;
        let Conditions { wear, housing_shift_m, .. } = self.setup.conditions;
        let idle_height_m = self.plant.reference.idle_height_m;
        let contact = wear.contact_ohm * wear.depth(height_m + housing_shift_m, idle_height_m);
        self.plant.parts.potentiometer.source_ohm(self.wiper_v(), contact)
    }

    /// Gives the controller stored cells, to use and to teach.
    pub fn learn(&mut self, cells: Cells) {
        self.controls.learn(cells);
    }

    /// What this drive has taught the controller so far.
    pub fn taught(&self) -> Taught {
        self.controls.taught()
    }

    /// Fuel metered since the start (kg).
    pub fn fuel_kg(&self) -> f64 {
        dynamics::unpack(&self.x).sums_kg[2]
    }

    /// Roughness of the charges drawn in at this moment: COV of imep.
    pub fn cov(&self) -> f64 {
        roughness(&self.plant, &self.charge()).cov
    }

    /// Where the foot is.
    pub fn foot(&self) -> DriverInput {
        self.pedal.foot
    }

    /// Whether the controller cuts the fuel at this moment.
    pub fn fuel_is_cut(&self) -> bool {
        self.controls.is_cut()
    }

    /// What flows at this moment.
    pub fn flow(&self) -> Flow {
        let charge = self.charge();
        let inlet_m2 = self.inlet_m2();
        let intake = dynamics::intake(&self.plant, inlet_m2, charge.manifold_pa, charge.height_m);
        Flow {
            lambda: charge.lambda,
            plate_kg_s: intake.metered_kg_s,
            cylinders_kg_s: charge.air_kg_s,
            manifold_pa: charge.manifold_pa,
        }
    }

    /// Crank speed (rad/s).
    pub fn speed_rad_s(&self) -> f64 {
        dynamics::unpack(&self.x).speed_rad_s
    }

    /// Advances by one tick. A stalled engine stands still.
    pub fn tick(&mut self) -> Result<(), RunFault> {
        self.tick_watched(|_| {})
    }

    /// The same, with a look at the engine after every part of the tick.
    pub fn tick_watched(&mut self, mut watch: impl FnMut(&Engine)) -> Result<(), RunFault> {
        let parts = self.options.finer * if self.is_lively() { LIVELY_PARTS } else { 1 };
        let decides_before = (self.options.decides_at * f64::from(parts)) as u32;
        for part in 0..parts {
            self.within_s = f64::from(part) * TICK_S / f64::from(parts);
            if self.stalled_at_s.is_none() {
                if part == decides_before {
                    self.decide();
                }
                self.advance(TICK_S / f64::from(parts))?;
            }
            self.within_s = f64::from(part + 1) * TICK_S / f64::from(parts);
            watch(self);
        }
        (self.ticks, self.within_s) = (self.ticks + 1, 0.0);
        Ok(())
    }

    /// Whether so much happens in a tick that it is worked out in parts.
    fn is_lively(&self) -> bool {
        // Cycles that scatter shake the speed all the time, by more than any step's error.
        let lively = if self.options.torque_noise { 10.0 } else { 1.0 } * LIVELY_RAD_S2;
        self.time_s() < self.lively_until_s
            || !self.pedal.rests()
            || self.gains_rad_s2.abs() > lively
    }

    /// The controller, and the brake of the stand.
    fn decide(&mut self) {
        let now = dynamics::unpack(&self.x);
        let parts = &self.plant.parts;
        let switch = self.setup.conditions.faults.throttle_switch;
        let sees = ControllerInputs {
            speed_rad_s: now.speed_rad_s,
            lambda: self.gas.sensor,
            potentiometer_v: self.plant.potentiometer_v(&self.setup.conditions, now.height_m),
            idle_switch: self.pedal.idle_switch() && switch != ThrottleSwitch::NoIdle,
            full_load: self.pedal.full_load() && switch != ThrottleSwitch::NoFull,
            air_kg_s: self.plant.air_by_height_kg_s(now.height_m),
        };
        let before_a = self.controls.current_a();
        self.controls.tick(parts, &self.setup.conditions, &sees);
        self.jumped |= (self.controls.current_a() - before_a).abs() > JUMP_A;
        self.pedal.brake(now.speed_rad_s, parts.dynamics.inertia_kg_m2);
    }

    /// The charge drawn in at this moment.
    fn charge(&self) -> OperatingState {
        let jet_m_s = self.plant.jet_m_s(self.controls.current_a());
        let now = dynamics::unpack(&self.x);
        let film = dynamics::film(&self.plant.parts, &self.setup.conditions, now.speed_rad_s);
        let inputs = Inputs { jet_m_s, ..self.inputs((0.0, 0.0), 0.0) };
        dynamics::charge(&self.plant, &now, &inputs, &film)
    }

    /// Effective area of throttle and idle air valve (m2).
    fn inlet_m2(&self) -> f64 {
        self.inlet_of(self.pedal.throttle_m2, self.valve)
    }

    fn inlet_of(&self, throttle_m2: f64, valve: f64) -> f64 {
        throttle_m2 + valve * self.plant.parts.idle_valve.full_effective_m2()
    }

    /// How many values of the past the engine keeps.
    pub fn held(&self) -> usize {
        self.work.len() + self.gas.held()
    }
}

/// What the lambda sensor would take a charge's gas for.
fn seen(setup: &Setup, charge: &OperatingState) -> f64 {
    let conditions = &setup.conditions;
    LambdaSensor::reads(charge.lambda.min(10.0), conditions.misfire, conditions.exhaust_leak)
}
