//! The start: a standing engine turned by its starter until it runs by itself.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::run::{Options, start::start};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let warm = start(&setup, Options::default(), 10.0, 15.0).unwrap();
//! assert!(warm.reason.is_none() && warm.running_after_s.unwrap() < 5.0);
//! ```

mod no_start;
mod tried;

pub use no_start::NoStart;
pub use tried::{PAUSE_S, StartOutcome, TRY_S, fate, start, tries};

use super::action::Action;
use super::controls::Controls;
use super::cycle_works::CycleWorks;
use super::driver_input::Pedal;
use super::dynamics;
use super::engine::{Earlier, Engine, Power};
use super::fuel_state::FuelState;
use super::options::{Options, RunFault, TICK_S};
use super::plate::PlateMotion;
use super::port_store::{PortStore, Unburnt};
use super::start_phase::StartPhase;
use super::transport_delay::{DelayLine, GasPath};
use super::trend::Trend;
use crate::conditions::Conditions;
use crate::control::starting::{
    ThermoTimeSwitch, VAPOUR_S, WARM_K, WARMS_UP_S, cranking_vapour_share,
};
use crate::control::trim::vapour_share;
use crate::engine::plug::WetPlugs;
use crate::maths::{Kept, Lag, NearPower};
use crate::noise::Noise;
use crate::operation::operating_state::Plant;
use crate::point::LAMBDA_SAYS_NOTHING;
use crate::rig::keys::Setup;
use crate::sense::lambda_sensor::OxygenCell;

/// Speed the starter has given the crank when the run begins (rad/s).
const FIRST_TURN_RAD_S: f64 = 2.0;
/// For so long after the starter begins to turn a tick is worked out in parts (s): the crank comes
/// up to the starter's speed, and the first fuel to the cylinders.
const FIRST_TURNS_S: f64 = 1.5;
/// How long the key is on before a driver has turned it on to the starter (s). Source: our own.
const KEY_TURNS_S: f64 = 0.3;
/// Indicated pressure from which a cylinder has fired (Pa).
const FIRED_PA: f64 = 50_000.0;
/// How long an engine must stay fast enough to have caught (s): a first kick may not.
const CATCHES_S: f64 = 0.2;
/// And how long the starter must carry it again to say that it had not (s). Source: our own.
const FALTERS_S: f64 = 0.5;
/// Plugs of which fewer sparks fail are dry.
const DRY: f64 = 1e-3;
/// An engine with its key off stands after this (s).
const RUNS_DOWN_S: f64 = 30.0;
/// A warm engine that caught so long ago has started and is one like any other (s).
const OVER_S: f64 = 30.0;
/// Time from settling of the plant to the next, as it warms up (s).
const WARMS_EVERY_S: f64 = 0.5;

impl Engine {
    /// A standing engine, its key off: plate on its stop, manifold full of air, walls dry, gas
    /// path full of air, sensor cold. [`Action::KeyOn`] and [`Action::Starter`] start it.
    pub fn standing(setup: &Setup, options: Options) -> Engine {
        let parts = setup.rig.parts();
        let plant = Plant::new(parts, setup.rig.reference(), &setup.conditions);
        let fuel = FuelState::stood(&plant, &setup.conditions);
        let mut x = [0.0; dynamics::STATES];
        x[0] = 1e-5 * plant.upstream_pa;
        x[1] = 0.01 * FIRST_TURN_RAD_S;
        x[2] = 1e3 * plant.rest_height_m;
        let base_a = plant.base_a(&setup.conditions, plant.rest_height_m);
        let mut controls = Controls::new(
            (parts, setup.rig.reference()),
            &setup.conditions,
            plant.idle_duty(&setup.conditions),
            (base_a, 0.0),
        );
        controls.begin_start();
        let film = dynamics::film(parts, &setup.conditions, FIRST_TURN_RAD_S);
        let cylinders = parts.slits.width_m.len();
        Engine {
            opening_m: parts.lever.opening_height_m(setup.conditions.screw_turns),
            controls,
            work: DelayLine::new(0.0, 0.0),
            ports: PortStore::dry(),
            unburnt: Unburnt::air(),
            gas: GasPath::new(LAMBDA_SAYS_NOTHING),
            cell: OxygenCell::at(parts.sensor.tip_k),
            noise: Noise::new(options.seed, 0),
            setup: *setup,
            options,
            ticks: 0,
            within_s: 0.0,
            acceleration_rad_s2: 1e3,
            calm: false,
            unsent: 0,
            trend: Trend::unknown(),
            carried: false,
            transient_until_s: 0.0,
            event_until_s: 0.0,
            jumped: false,
            x,
            plate: PlateMotion::OnStop,
            angle_rad: 0.0,
            pedal: Pedal::new(&plant, plant.released_m2),
            plant,
            valve: 1.0,
            valve_lag: Lag::default(),
            film,
            dries: NearPower::new(dynamics::DRIES_BY_SPEED),
            expands: NearPower::new(1.0 / parts.breathing.polytropic),
            passes: Kept::default(),
            wiper: Kept::default(),
            torque_factor: 1.0,
            works: options.works.then(|| CycleWorks::standing(options.seed, cylinders)),
            cov: 0.0,
            cov_anew_at: 0,
            stalled_at_s: Some(0.0),
            short: None,
            start: dynamics::unpack(&x),
            starts: None,
            start_switch: ThermoTimeSwitch::default(),
            wet: WetPlugs::default(),
            power: Power { key_on: false, jumper: false, battery_off_s: None },
            fuel,
            earlier: Earlier::default(),
            lifted_m: 0.0,
            puddle_kg: 0.0,
        }
    }

    /// Turns the key of a standing engine to start: it begins as one that never ran, but for
    /// its coolant, what the controller has stored, and the time.
    pub(super) fn crank(&mut self) {
        let now_s = self.time_s();
        let fresh = Engine::standing(&self.setup, self.options);
        let vapour = cranking_vapour_share(self.setup.conditions.coolant_k);
        let before = std::mem::replace(self, fresh);
        self.controls = self.controls.with_what_stays_of(&before.controls);
        self.pedal.put(before.driver(), &self.plant);
        (self.ticks, self.within_s) = (before.ticks, before.within_s);
        (self.noise, self.power) = (before.noise, before.power);
        (self.start_switch, self.wet) = (before.start_switch, before.wet);
        self.works = self.works.take().zip(before.works).map(|(works, old)| works.after(old));
        self.fuel = before.fuel;
        self.fuel.refit(&self.plant, &self.setup.conditions);
        self.fuel.tell(&mut self.plant);
        let then = dynamics::unpack(&before.x);
        self.earlier = Earlier {
            ports_kg: before.earlier.ports_kg + then.sums_kg[2],
            cylinders_kg: before.earlier.cylinders_kg + then.sums_kg[3],
            dried_kg: before.earlier.dried_kg + then.film_kg - self.start.film_kg,
        };
        // What has run into the ports wets the walls of the first charges.
        self.x[4] += 1e4 * before.puddle_kg;
        self.start = dynamics::unpack(&self.x);
        self.transient_until_s = now_s + FIRST_TURNS_S;
        self.stalled_at_s = None;
        self.starts = Some(StartPhase::new(now_s, vapour));
    }

    /// Key on, and the starter a moment later: the pump runs in meanwhile, which counts neither
    /// as cranking nor as time of the run.
    pub(crate) fn turn_key(&mut self) -> Result<(), RunFault> {
        let time_s = self.time_s();
        let refused = |why| RunFault::Refused { time_s, why };
        self.apply(&Action::KeyOn).map_err(refused)?;
        self.stand_with_pump(KEY_TURNS_S);
        self.apply(&Action::Starter(true)).map_err(refused)
    }

    /// The same car at its next start: stopped, then left to stand as long as the setup says.
    /// What that leaves in feed, lines and ports it begins with; all else is the setup's.
    pub(crate) fn next_start(
        mut self,
        setup: &Setup,
        options: Options,
    ) -> Result<Engine, RunFault> {
        self.give_up(0.0)?;
        for _ in 0..(RUNS_DOWN_S / TICK_S) as u32 {
            if self.stalled_at_s.is_some() {
                break;
            }
            self.tick()?;
        }
        let (time_s, stood_s) = (self.time_s(), setup.conditions.fuel_side.stood_s);
        let refused = |why| RunFault::Refused { time_s, why };
        self.apply(&Action::Stand(stood_s)).map_err(refused)?;
        let mut next = Engine::standing(setup, options);
        next.fuel = self.fuel.begun_anew();
        next.fuel.refit(&next.plant, &setup.conditions);
        (next.start_switch, next.puddle_kg) = (self.start_switch, self.puddle_kg);
        next.wet = self.wet;
        Ok(next)
    }

    /// Starter and key off, and so long a rest (s).
    pub(crate) fn give_up(&mut self, rest_s: f64) -> Result<(), RunFault> {
        let time_s = self.time_s();
        self.apply(&Action::KeyOff).map_err(|why| RunFault::Refused { time_s, why })?;
        (0..(rest_s / TICK_S).round() as u64).try_for_each(|_| self.tick())
    }

    /// Whether the starter still turns an engine that has not caught.
    pub fn is_cranking(&self) -> bool {
        self.starts.is_some_and(|starts| starts.engaged && starts.caught_at_s.is_none())
    }

    /// Starter, vapour and coolant after a part of a tick of a start.
    pub(super) fn go_on_starting(&mut self, imep_pa: f64, lambda: f64, h: f64) {
        let Some(mut starts) = self.starts else { return };
        let over_s = self.time_s() - OVER_S;
        let warm = self.setup.conditions.coolant_k >= WARM_K - 0.01;
        if warm && self.wet.share < DRY && starts.caught_at_s.is_some_and(|at| at < over_s) {
            // Engaged no more, as warm as it gets, all vapour.
            self.starts = None;
            (self.wet, self.plant.wet) = (WetPlugs::default(), 0.0);
            return;
        }
        let (now_s, speed) = (self.time_s(), self.speed_rad_s());
        let parts = &self.plant.parts.starting;
        if imep_pa > FIRED_PA {
            starts.fired_at_s.get_or_insert(now_s);
        }
        if speed > parts.caught_rad_s && starts.fired_at_s.is_some() {
            let since_s = *starts.above_since_s.get_or_insert(now_s);
            if now_s > since_s + CATCHES_S {
                starts.caught_at_s.get_or_insert(since_s);
                self.controls.caught();
            }
        } else {
            starts.above_since_s = None;
        }
        // The starter carries it again: it had not caught, and nobody lets go of that.
        let carried_rad_s = starts.starter(parts, &self.setup.conditions).free_rad_s;
        if starts.engaged && starts.caught_at_s.is_some() && speed < carried_rad_s {
            let since_s = *starts.carried_since_s.get_or_insert(now_s);
            if now_s > since_s + FALTERS_S {
                starts.caught_at_s = None;
                self.controls.begin_start();
            }
        } else {
            starts.carried_since_s = None;
        }
        let until_s = starts.caught_at_s.map_or(f64::INFINITY, |at| at + parts.held_on_s);
        if let (true, true, Some(since_s)) = (starts.engaged, now_s > until_s, starts.above_since_s)
        {
            starts.engaged = false;
            starts.let_go_at_s = Some(until_s.max(since_s));
        }
        let Conditions { coolant_k, start_switch_cools_s, .. } = self.setup.conditions;
        if starts.engaged {
            self.start_switch.heat(h, coolant_k);
        } else {
            self.start_switch.cool(h, start_switch_cools_s);
        }
        let evaporates = match starts.caught_at_s {
            Some(_) => vapour_share(coolant_k),
            None => cranking_vapour_share(coolant_k),
        };
        starts.vapour += (evaporates - starts.vapour) * (1.0 - (-h / VAPOUR_S).exp());
        if starts.caught_at_s.is_some() && now_s > starts.warmed_at_s + WARMS_EVERY_S {
            let passed_s = now_s - starts.warmed_at_s;
            starts.warmed_at_s = now_s;
            let conditions = &mut self.setup.conditions;
            let colder = (WARM_K - conditions.coolant_k).max(0.0);
            conditions.coolant_k += colder * (1.0 - (-passed_s / WARMS_UP_S).exp());
            self.refit();
        }
        let supply = if starts.engaged { self.setup.conditions.battery } else { 1.0 };
        if self.plant.spark_supply != supply {
            self.plant.supply_spark(supply);
        }
        if starts.engaged || self.wet.share > 0.0 {
            self.wet.turn(h * speed, lambda, imep_pa > FIRED_PA);
            self.plant.wet = self.wet.share;
        }
        self.plant.vapour = starts.vapour;
        self.starts = Some(starts);
    }
}

/// Whether fuel runs with the plate at rest: into the ports of a standing engine.
pub fn flows_at_rest(setup: &Setup) -> bool {
    let parts = setup.rig.parts();
    let plant = Plant::new(parts, setup.rig.reference(), &setup.conditions);
    plant.flows_at_rest(parts.lever.opening_height_m(setup.conditions.screw_turns))
}
