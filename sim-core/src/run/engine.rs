//! The engine in time: its states, its tick, and what can be asked of it.

use super::controls::{ControllerInputs, Controls};
use super::cycle_works::{CycleWorks, Firing};
use super::driver_input::{DriverInput, Pedal};
use super::dynamics::{self, Film, STATES};
use super::fuel_state::{FuelLedger, FuelState};
use super::options::{Options, RunFault, TICK_S};
use super::plate::{self, PlateMotion};
use super::port_store::{PortStore, Unburnt};
use super::stall_cause::StallCause;
use super::start_phase::StartPhase;
use super::transport_delay::{DelayLine, GasPath};
use super::trend::Trend;
use crate::conditions::Conditions;
use crate::control::cells::{Cells, Taught};
use crate::control::starting::ThermoTimeSwitch;
use crate::engine::plug::WetPlugs;
use crate::maths::{Kept, Lag, NearPower};
use crate::noise::Noise;
use crate::operation::operating_state::{OperatingState, Plant};
use crate::operation::roughness::roughness;
use crate::rig::keys::Setup;
use crate::sense::faults::ThrottleSwitch;
use crate::sense::lambda_sensor::{LambdaSensor, OxygenCell};
use crate::steady::SteadyEngine;

/// A tick is worked out in so many parts while the throttle moves or while the speed
/// changes faster than this (rad/s2).
const TRANSIENT_PARTS: u32 = 4;
const TRANSIENT_RAD_S2: f64 = 5.0;
/// In so many with the throttle on its way, after the fuel is cut or comes back, and after a
/// change from outside.
const EVENT_PARTS: u32 = 12;
/// For so long, more than two cycles of an idle (s).
pub(super) const EVENT_S: f64 = 0.4;
/// And for so long after a change from outside (s).
pub(super) const TRANSIENT_S: f64 = 2.0;
/// A change of the actuator's current larger than this jumps, a smaller one ramps (A).
const JUMP_A: f64 = 1e-4;

/// Key and battery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Power {
    pub key_on: bool,
    /// Whether a jumper takes the place of the pump's relay.
    pub jumper: bool,
    /// Since when the battery is off, if it is (s).
    pub battery_off_s: Option<f64>,
}

/// Fuel of the starts before this one (kg).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Earlier {
    /// Into the ports, and on into the cylinders.
    pub ports_kg: f64,
    pub cylinders_kg: f64,
    /// Dried off the walls of the standing engine.
    pub dried_kg: f64,
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

/// An engine in time: running, or standing with a starter that can turn it.
///
/// A clone keeps a moment that can be gone back to. Everything that is done to it goes
/// through [`Engine::apply`], everything that is read of it stands in [`Engine::readings`].
///
/// ```
/// use sim_core::conditions::Conditions;
/// use sim_core::point::Reading;
/// use sim_core::rig::keys::Setup;
/// use sim_core::rig::shipped::shipped;
/// use sim_core::run::{Action, Engine, Options};
///
/// let rig = shipped("six").unwrap().rig;
/// let setup = Setup { rig, conditions: Conditions::closed_loop() };
/// let mut engine = Engine::new(&setup, Options::default()).unwrap();
/// let meters = ["potentiometer_v", "duty_percent", "speed_rpm"].map(|m| Reading::find(m).unwrap());
/// // Ten seconds at 100 ticks a second; after the first the screw goes in by 1/16 turn.
/// for tick in 0..1000 {
///     if tick == 100 {
///         engine.apply(&Action::Turn(1.0 / 16.0)).unwrap();
///     }
///     engine.tick().unwrap();
///     if tick % 100 == 99 {
///         let state = engine.readings().state.unwrap();
///         let shown = meters.map(|meter| meter.value(&state).unwrap());
///         println!("{:.2} s: {:.3} V, {:.0} %, {:.0} rpm", engine.time_s(), shown[0], shown[1], shown[2]);
///     }
/// }
/// ```
#[derive(Clone)]
#[must_use]
pub struct Engine {
    pub(super) setup: Setup,
    pub(super) options: Options,
    pub(super) plant: Plant,
    pub(super) opening_m: f64,
    pub(super) ticks: u64,
    /// What has passed of this tick (s).
    pub(super) within_s: f64,
    pub(super) x: [f64; STATES],
    pub(super) plate: PlateMotion,
    /// Crank angle since the start (rad).
    pub(super) angle_rad: f64,
    pub(super) pedal: Pedal,
    pub(super) valve: f64,
    pub(super) valve_lag: Lag,
    pub(super) controls: Controls,
    pub(super) film: Film,
    /// How the film's time goes with the speed, and how residual gas expands.
    pub(super) dries: NearPower,
    pub(super) expands: NearPower,
    /// What a plate at rest passes, by [`dynamics::air_by_root`], and the voltage there.
    pub(super) passes: Kept,
    pub(super) wiper: Kept,
    /// How fast the speed last rose (rad/s2).
    pub(super) acceleration_rad_s2: f64,
    /// Whether this tick is worked out in one part: no change, no quick change of speed.
    pub(super) calm: bool,
    pub(super) transient_until_s: f64,
    pub(super) event_until_s: f64,
    /// How many charges were not sent since the last that was, and whether that carried the engine.
    pub(super) unsent: u32,
    pub(super) trend: Trend,
    pub(super) carried: bool,
    /// Whether the mixture jumped since the last step, by an action or by the controller.
    pub(super) jumped: bool,
    pub(super) work: DelayLine,
    pub(super) ports: PortStore,
    pub(super) unburnt: Unburnt,
    pub(super) gas: GasPath,
    /// What the tip of the lambda sensor makes of gas.
    pub(super) cell: OxygenCell,
    pub(super) noise: Noise,
    pub(super) torque_factor: f64,
    /// Each cylinder's work, where it is drawn cycle by cycle.
    pub(super) works: Option<CycleWorks>,
    /// Scatter of the torque, and the tick from which it is worked out anew.
    pub(super) cov: f64,
    pub(super) cov_anew_at: u64,
    pub(super) stalled_at_s: Option<f64>,
    /// The first charge since the engine is short of torque.
    pub(super) short: Option<StallCause>,
    pub(super) start: dynamics::DynamicState,
    /// Where its start has got to, if it is not a settled engine.
    pub(super) starts: Option<StartPhase>,
    pub(super) start_switch: ThermoTimeSwitch,
    pub(super) wet: WetPlugs,
    pub(super) power: Power,
    pub(super) fuel: FuelState,
    pub(super) earlier: Earlier,
    /// How high the plate is lifted by hand above its rest (m).
    pub(super) lifted_m: f64,
    /// Fuel that has run into the ports of the standing engine (kg).
    pub(super) puddle_kg: f64,
}

impl Engine {
    /// An engine at its settled point under a setup.
    pub fn new(setup: &Setup, options: Options) -> Result<Engine, RunFault> {
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        let screw = setup.conditions.screw_turns;
        let first = steady.settle(screw).map_err(RunFault::NoStart)?;
        let starved = steady.starved(screw, first.0.state.fuel_kg_s);
        let (settled, current_a) = match &starved {
            Some(starved) => starved.settle(screw).map_err(RunFault::NoStart)?,
            None => first,
        };
        let parts = setup.rig.parts();
        let state = settled.state;
        let film = dynamics::film(parts, &setup.conditions, state.speed_rad_s);
        let x = dynamics::pack(&state, film.share * film.tau_s * state.fuel_kg_s);
        let fed = starved.as_ref().unwrap_or(&steady).parts().0;
        let valve = settled.valve_m2 / parts.idle_valve.full_effective_m2();
        let duty = parts.idle_valve.duty(valve);
        let standing = Engine::standing(setup, options);
        let mut plant = standing.plant.clone();
        plant.feed_behind(fed.parts.pressures.system_pa, fed.needles, |_| false);
        let mut engine = Engine {
            controls: {
                let base_a = standing.plant.base_a(&setup.conditions, state.height_m);
                let engine = (parts, setup.rig.reference());
                Controls::new(engine, &setup.conditions, duty, (base_a, current_a))
            },
            work: DelayLine::new(0.0, state.imep_pa),
            works: options
                .works
                .then(|| CycleWorks::running(options.seed, &standing.plant, &state)),
            ports: PortStore::settled(state.fuel_kg_s, state.speed_rad_s),
            unburnt: Unburnt::none(),
            gas: GasPath::new(seen(setup, &plant, &state)),
            acceleration_rad_s2: 0.0,
            x,
            plate: PlateMotion::Sticks,
            pedal: Pedal::new(&standing.plant, settled.throttle_m2),
            valve,
            film,
            stalled_at_s: None,
            short: None,
            start: dynamics::unpack(&x),
            power: Power { key_on: true, jumper: false, battery_off_s: None },
            fuel: FuelState::running(&plant, &setup.conditions),
            plant,
            ..standing
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

    /// Since when the engine stands, if it does (s): it stalled then, or was stopped.
    pub fn stalled_at_s(&self) -> Option<f64> {
        self.stalled_at_s
    }

    /// The setup as it is now.
    pub fn setup(&self) -> &Setup {
        &self.setup
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
        let (track, idle_height_m) =
            (&self.plant.parts.potentiometer, self.plant.reference.idle_height_m);
        track.worn_source_ohm(self.wiper_v(), height_m + housing_shift_m, &wear, idle_height_m)
    }

    /// The same engine with a controller that has stored cells, to use and to teach.
    pub fn with_cells(mut self, cells: Cells) -> Engine {
        self.controls.learn(cells);
        self
    }

    /// What this drive has taught the controller so far.
    pub fn taught(&self) -> Taught {
        self.controls.taught()
    }

    /// Fuel by volume: what has gone where since the engine was made.
    pub fn fuel_ledger(&self) -> FuelLedger {
        self.fuel.ledger()
    }

    /// Pressure of the fuel feed (Pa above ambient), whether the engine runs or stands.
    pub fn system_pa(&self) -> f64 {
        self.fuel.pressure_pa()
    }

    /// How many injection lines fuel does not fill.
    pub fn lines_short(&self) -> usize {
        self.fuel.short()
    }

    /// What the injection lines lack to be full (m3).
    pub fn lines_short_m3(&self) -> f64 {
        self.fuel.short_m3()
    }

    /// Fuel metered since the start (kg).
    pub fn fuel_kg(&self) -> f64 {
        dynamics::unpack(&self.x).sums_kg[2]
    }

    /// Roughness of the charges drawn in at this moment: COV of imep.
    pub fn cov(&self) -> f64 {
        roughness(&self.plant, &self.charge()).cov
    }

    /// What the driver does.
    pub(super) fn driver(&self) -> DriverInput {
        self.pedal.driver
    }

    /// Whether the pedal is pressed.
    pub fn pedal_is_down(&self) -> bool {
        self.driver() != DriverInput::Off
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

    /// What fired during the last tick, in its order; nothing where no works are drawn
    /// ([`Options::works`]).
    pub fn firings(&self) -> &[Firing] {
        self.works.as_ref().map_or(&[], |works| works.fired())
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
    pub(crate) fn tick_watched(&mut self, mut watch: impl FnMut(&Engine)) -> Result<(), RunFault> {
        let parts = self.parts();
        self.calm = parts == 1;
        let parts = self.options.finer * parts;
        let tick_s = self.time_s();
        self.works.iter_mut().for_each(|works| works.begin_tick(tick_s));
        let decides_before = (self.options.decides_at * f64::from(parts)) as u32;
        for part in 0..parts {
            self.within_s = f64::from(part) * TICK_S / f64::from(parts);
            if self.stalled_at_s.is_none() {
                if part == decides_before {
                    self.decide();
                }
                self.advance(TICK_S / f64::from(parts))?;
            } else {
                self.stand_with_pump(TICK_S / f64::from(parts));
            }
            self.within_s = f64::from(part + 1) * TICK_S / f64::from(parts);
            watch(self);
        }
        (self.ticks, self.within_s) = (self.ticks + 1, 0.0);
        Ok(())
    }

    /// In how many parts a tick is worked out, by how much happens in it.
    fn parts(&mut self) -> u32 {
        if !self.pedal.rests() {
            self.event_until_s = self.time_s() + EVENT_S;
        }
        if self.time_s() < self.event_until_s {
            return EVENT_PARTS;
        }
        // Cycles that scatter, and cranking, change the speed all the time, by more than any step's
        // error.
        let restless = self.options.torque_noise || self.options.works || self.is_cranking();
        let transient = if restless { 10.0 } else { 1.0 } * TRANSIENT_RAD_S2;
        let much =
            self.time_s() < self.transient_until_s || self.acceleration_rad_s2.abs() > transient;
        if much { TRANSIENT_PARTS } else { 1 }
    }

    /// The controller, if the key is on, and the brake.
    fn decide(&mut self) {
        let now = dynamics::unpack(&self.x);
        if self.power.key_on {
            self.control(&now);
        }
        self.pedal.brake(now.speed_rad_s, self.plant.parts.dynamics.inertia_kg_m2);
    }

    fn control(&mut self, now: &dynamics::DynamicState) {
        let parts = &self.plant.parts;
        let switch = self.setup.conditions.faults.throttle_switch;
        let sees = ControllerInputs {
            speed_rad_s: now.speed_rad_s,
            lambda: self.gas.sensor,
            potentiometer_v: self.wiper.of(now.height_m, || {
                self.plant.potentiometer_v(&self.setup.conditions, now.height_m)
            }),
            idle_switch: self.pedal.idle_switch() && switch != ThrottleSwitch::NoIdle,
            full_load: self.pedal.full_load() && switch != ThrottleSwitch::NoFull,
        };
        let (before_a, was_cut) = (self.controls.current_a(), self.controls.is_cut());
        self.controls.tick((parts, &self.plant.reference), &self.setup.conditions, &sees);
        if self.controls.is_cut() != was_cut {
            self.event_until_s = self.time_s() + EVENT_S;
        }
        self.jumped |= (self.controls.current_a() - before_a).abs() > JUMP_A;
    }

    /// Current through the actuator (A).
    pub(super) fn current_a(&self) -> f64 {
        if self.power.key_on { self.controls.current_a() } else { 0.0 }
    }

    /// Ideal jet speed in the slits (m/s); none with the pump off.
    pub(super) fn jet_m_s(&self) -> f64 {
        let flows = self.power.key_on || self.power.jumper;
        if flows { self.plant.jet_m_s(self.current_a()) } else { 0.0 }
    }

    /// Effective area of throttle and idle air valve (m2).
    pub(super) fn inlet_m2(&self) -> f64 {
        self.inlet_of(self.pedal.throttle_m2, self.valve)
    }

    pub(super) fn inlet_of(&self, throttle_m2: f64, valve: f64) -> f64 {
        throttle_m2 + valve * self.plant.parts.idle_valve.full_effective_m2()
    }

    /// How many values of the past the engine keeps.
    pub fn held(&self) -> usize {
        self.work.held() + self.ports.held() + self.unburnt.held() + self.gas.held()
    }
}

/// What the lambda sensor would take a charge's gas for.
pub(super) fn seen(setup: &Setup, plant: &Plant, charge: &OperatingState) -> f64 {
    let conditions = &setup.conditions;
    let dead = plant.dead(charge.manifold_pa);
    LambdaSensor::reads(charge.lambda.min(10.0), dead, conditions.exhaust_leak)
        + conditions.lambda_sensor_reads_leaner_by()
}
