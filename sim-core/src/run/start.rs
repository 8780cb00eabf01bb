//! The start: a standing engine turned by its starter until it runs by itself.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::run::{Options, start::start};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let warm = start(&setup, Options::default(), 10.0, 15.0).unwrap();
//! assert!(warm.reason.is_none() && warm.running_after_s.unwrap() < 5.0);
//! ```

use super::action::Action;
use super::controls::Controls;
use super::cycle_works::CycleWorks;
use super::driver_input::Pedal;
use super::dynamics;
use super::engine::{Earlier, Engine, Power, TRANSIENT_S};
use super::fuel_state::FuelState;
use super::options::{Options, RunFault, TICK_S};
use super::plate::PlateMotion;
use super::port_store::{PortStore, Unburnt};
use super::stall_cause::StallCause;
use super::start_phase::StartPhase;
use super::transport_delay::{DelayLine, GasPath};
use crate::conditions::Conditions;
use crate::control::starting::{
    ThermoTimeSwitch, VAPOUR_S, WARM_K, WARMS_UP_S, cranking_vapour_share,
};
use crate::control::trim::vapour_share;
use crate::engine::plug::WetPlugs;
use crate::maths::Lag;
use crate::noise::Noise;
use crate::operation::operating_state::Plant;
use crate::point::LAMBDA_SAYS_NOTHING;
use crate::rig::keys::Setup;
use crate::sense::lambda_sensor::OxygenCell;
use crate::units::Unit;

/// Speed the starter has given the crank when the run begins (rad/s).
const FIRST_TURN_RAD_S: f64 = 2.0;
/// How long the key is on before a driver has turned it on to the starter (s). Source: our own.
const KEY_TURNS_S: f64 = 0.3;
/// Lambda that the sensor takes air for.
const AIR: f64 = LAMBDA_SAYS_NOTHING;
/// Indicated pressure from which a cylinder has fired (Pa).
const FIRED_PA: f64 = 50_000.0;
/// The engine must have run so long by itself to count as started (s).
const BY_ITSELF_S: f64 = 3.0;
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
/// Ticks from row to row of a start.
const ROW_TICKS: u64 = 5;
/// Where more sparks than this fail, they and not the mixture are why nothing fires.
const MOST_SPARKS: f64 = 0.5;
/// Charges richer than this lambda count as too rich to fire.
const FLOODED: f64 = 0.6;

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
            gas: GasPath::new(AIR),
            cell: OxygenCell::at(parts.sensor.tip_k),
            noise: Noise::new(options.seed, 0),
            setup: *setup,
            options,
            ticks: 0,
            within_s: 0.0,
            acceleration_rad_s2: 1e3,
            calm: false,
            waits: false,
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
        self.transient_until_s = now_s + TRANSIENT_S;
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
            let (rig, conditions) = (&self.setup.rig, &self.setup.conditions);
            self.plant = Plant::new(rig.parts(), rig.reference(), conditions);
            self.fuel.refit(&self.plant, conditions);
            self.fuel.tell(&mut self.plant);
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

/// Why an engine did not start.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoStart {
    /// The starter cannot turn it (crank speed, rad/s; 0 if it stands still).
    #[error("{}: too stiff, or too weak a battery", turned(*.0))]
    TooStiff(f64),
    /// No injector opened (highest pressure of the feed while cranking, opening, Pa).
    #[error(
        "nothing sprays, and the start valve cannot keep it running: the fuel reaches {:.1} bar, the injectors open at {:.1} bar",
        Unit::Bar.from_si(*.0),
        Unit::Bar.from_si(*.1)
    )]
    NothingSprays(f64, f64),
    /// Lines still hold air or vapour (how many).
    #[error(
        "{0} injection line{are} not full of fuel yet, and the start valve cannot keep it running: crank again, or bleed the lines",
        are = if *.0 == 1 { " is" } else { "s are" }
    )]
    LinesShort(usize),
    /// Most sparks fail (share of the cycles).
    #[error("no fire: the spark fails in {:.0} % of the cycles. Look at plugs, leads, coil and battery", 100.0 * .0)]
    NoSpark(f64),
    /// No charge was rich enough to fire (leanest to richest lambda).
    #[error("no charge is rich enough to fire: {}", evaporates(*.0))]
    TooLean(f64),
    /// The charges were too rich to fire (lambda at the end).
    #[error("flooded: lambda {0:.2} is too rich to fire, and the plugs are wet")]
    Flooded(f64),
    /// It fired, but not strongly enough to catch (lambda at the end).
    #[error("it fires, but not strongly enough to run up: {} at the end of cranking", told(*.0, 2))]
    FiresWithoutCatching(f64),
    /// It caught, and died when the starter let go or later (when, s; lambda then; what failed).
    #[error("it catches and dies after {0:.1} s{cause}", cause = cause_words(*.2))]
    Dies(f64, f64, Option<StallCause>),
}

/// What failed, and on which mixture, behind the news that an engine dies.
fn cause_words(cause: Option<StallCause>) -> String {
    let Some(cause) = cause else { return String::new() };
    format!(", {}: {}", cause.failed.word(), told(cause.lambda, 2))
}

/// How the starter turns a crank (its speed, rad/s), in words.
fn turned(speed_rad_s: f64) -> String {
    match speed_rad_s {
        still if still <= 0.0 => "the starter cannot turn it".into(),
        slow => format!("the starter turns it at {:.0} rpm only", Unit::Rpm.from_si(slow)),
    }
}

/// A mixture in words: beyond what counts as air its number says nothing.
fn told(lambda: f64, decimals: usize) -> String {
    match lambda < LAMBDA_SAYS_NOTHING {
        true => format!("lambda {lambda:.decimals$}"),
        false => "next to no fuel".into(),
    }
}

/// The mixture of what evaporates, in words.
fn evaporates(lambda: f64) -> String {
    match lambda < LAMBDA_SAYS_NOTHING {
        true => format!("lambda {lambda:.1} of what evaporates"),
        false => "next to no fuel evaporates".into(),
    }
}

/// How a start went.
#[derive(Clone, Debug, Default, PartialEq)]
#[must_use]
pub struct StartOutcome {
    /// Seconds of cranking to the first fire.
    pub fires_after_s: Option<f64>,
    /// Seconds to the speed at which it counts as caught.
    pub caught_after_s: Option<f64>,
    /// Seconds to an idle of its own: when the starter had let go, if it then ran on.
    pub running_after_s: Option<f64>,
    /// Why it did not start.
    pub reason: Option<NoStart>,
    /// Crank speed just before the first fire (rad/s).
    pub cranking_rad_s: f64,
    /// Highest speed of the flare (rad/s), 0 if there was none.
    pub flare_rad_s: f64,
    /// Mixture drawn in at the first fire.
    pub lambda_at_fire: Option<f64>,
    /// Rows: time (s), speed (rad/s), lambda drawn in, manifold pressure (Pa), current (A).
    pub rows: Vec<[f64; 5]>,
    /// Largest relative error of the mass balances.
    pub mass_error: f64,
}

/// Cranks a standing engine for at most `crank_s`, and if it catches, lets it run on.
/// `watch_s` is how long after the key it is looked at in all.
pub fn start(
    setup: &Setup,
    options: Options,
    crank_s: f64,
    watch_s: f64,
) -> Result<StartOutcome, RunFault> {
    one_try(&mut Engine::standing(setup, options), crank_s, watch_s)
}

/// How long the starter is held on in a try, at the most (s). Common practice, no source.
pub const TRY_S: f64 = 10.0;
/// How long a driver waits with the key off between two tries (s): starter and battery recover.
/// Common practice, no source.
pub const PAUSE_S: f64 = 30.0;

/// Tries again and again, at most so often, until the engine runs on; each try's outcome.
///
/// A try: key on, so that the pump runs in; the starter held on until the engine has run by
/// itself for as long as the rig says, [`TRY_S`] at the most; then the key off and [`PAUSE_S`] of
/// rest. An engine that dies has had its try, too. What a try leaves in lines, feed and the start
/// valve's switch the next begins with.
pub fn tries(
    setup: &Setup,
    options: Options,
    most: usize,
    watch_s: f64,
) -> Result<Vec<StartOutcome>, RunFault> {
    let mut engine = Engine::standing(setup, options);
    let mut found = Vec::new();
    while found.len() < most {
        found.push(one_try(&mut engine, TRY_S, watch_s)?);
        if found.last().is_some_and(|last| last.reason.is_none()) {
            break;
        }
        engine.give_up(PAUSE_S)?;
    }
    Ok(found)
}

impl Engine {
    /// Starter and key off, and so long a rest (s).
    pub(crate) fn give_up(&mut self, rest_s: f64) -> Result<(), RunFault> {
        let time_s = self.time_s();
        self.apply(&Action::KeyOff).map_err(|why| RunFault::Refused { time_s, why })?;
        (0..(rest_s / TICK_S).round() as u64).try_for_each(|_| self.tick())
    }
}

fn one_try(engine: &mut Engine, crank_s: f64, watch_s: f64) -> Result<StartOutcome, RunFault> {
    engine.turn_key()?;
    let mut found = StartOutcome::default();
    let mut lambda = AIR;
    let mut most_pa = 0.0_f64;
    let mut fired = false;
    let Some(mut starts) = engine.starts else { return Ok(found) };
    let from_s = engine.time_s();
    for tick in 0..(watch_s / TICK_S).round() as u64 {
        engine.tick()?;
        let time_s = engine.time_s() - from_s;
        most_pa = most_pa.max(engine.system_pa());
        starts = engine.starts.unwrap_or(starts);
        let fires = starts.fired_at_s.is_some()
            && !std::mem::replace(&mut fired, starts.fired_at_s.is_some());
        if fires || tick % ROW_TICKS == ROW_TICKS - 1 || engine.stalled_at_s.is_some() {
            let charge = engine.charge();
            lambda = charge.lambda;
            let current_a = engine.controls.current_a();
            let speed = engine.speed_rad_s();
            found.rows.push([time_s, speed, lambda.min(AIR), charge.manifold_pa, current_a]);
        }
        if starts.fired_at_s.is_none() {
            found.cranking_rad_s = engine.speed_rad_s();
        } else if fires {
            found.lambda_at_fire = Some(lambda).filter(|lambda| *lambda < LAMBDA_SAYS_NOTHING);
        }
        if starts.caught_at_s.is_some() {
            found.flare_rad_s = found.flare_rad_s.max(engine.speed_rad_s());
        }
        let gives_up = starts.caught_at_s.is_none() && time_s >= crank_s;
        if gives_up || engine.stalled_at_s.is_some() {
            break;
        }
    }
    let since_key = |at_s: Option<f64>| at_s.map(|at_s| at_s - from_s);
    let (caught_s, stalled_s) = (since_key(starts.caught_at_s), since_key(engine.stalled_at_s));
    (found.fires_after_s, found.caught_after_s) = (since_key(starts.fired_at_s), caught_s);
    found.mass_error = engine.mass_error();
    let opening_pa = engine.setup.rig.parts().injectors.opening_pa;
    let dead = engine.plant.dead(engine.charge().manifold_pa);
    found.reason = match (caught_s, stalled_s, found.fires_after_s) {
        (Some(_), None, _) => None,
        (None, Some(_), None) => Some(NoStart::TooStiff(0.0)),
        _ if most_pa <= opening_pa => Some(NoStart::NothingSprays(most_pa, opening_pa)),
        _ if engine.lines_short() > 0 => Some(NoStart::LinesShort(engine.lines_short())),
        (Some(_), Some(at), _) => Some(NoStart::Dies(at, lambda, engine.stalled_because())),
        (None, _, None) if found.cranking_rad_s < 2.0 * FIRST_TURN_RAD_S => {
            Some(NoStart::TooStiff(found.cranking_rad_s))
        }
        (None, _, None) if lambda < FLOODED => Some(NoStart::Flooded(lambda)),
        (None, _, None) if dead > MOST_SPARKS => Some(NoStart::NoSpark(dead)),
        (None, _, Some(_)) => Some(NoStart::FiresWithoutCatching(lambda)),
        (None, _, None) => Some(NoStart::TooLean(lambda)),
    };
    if found.reason.is_none() {
        let let_go_s = since_key(starts.let_go_at_s);
        found.running_after_s = let_go_s.filter(|at| at + BY_ITSELF_S <= watch_s + 1e-9);
    }
    Ok(found)
}

impl StartOutcome {
    /// Whether it failed for too much fuel.
    pub fn rich(&self) -> bool {
        match self.reason {
            Some(NoStart::Flooded(_)) => true,
            Some(NoStart::FiresWithoutCatching(lambda) | NoStart::Dies(_, lambda, _)) => {
                lambda < 0.8
            }
            _ => false,
        }
    }
}

/// Whether fuel runs with the plate at rest: into the ports of a standing engine.
pub fn flows_at_rest(setup: &Setup) -> bool {
    let parts = setup.rig.parts();
    let plant = Plant::new(parts, setup.rig.reference(), &setup.conditions);
    plant.flows_at_rest(parts.lever.opening_height_m(setup.conditions.screw_turns))
}
