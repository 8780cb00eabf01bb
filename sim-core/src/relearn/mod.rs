//! Battery off, then start by start: what the controller learns again.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::drive::{Drive, engine_demand};
//! use sim_core::relearn::{first_cells, relearn};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let asked = engine_demand(&setup, &Drive::urban(1200.0));
//! let cleared = first_cells(&setup, false, &asked);
//! // Forty starts by the averaged model; `true` runs the engine in time.
//! let found = relearn(&setup, cleared, &asked, (40, false), Default::default(), |_| {}).unwrap();
//! assert!(found.settled_at.is_some());
//! ```

mod feel;

pub use feel::with_feel;

use crate::conditions::{Conditions, Trim};
use crate::control::cells::{CELLS, Cells, LEARNS_FROM_K, Moment, STEADY, Taught};
use crate::drive::EngineDemand;
use crate::operation::operating_state::Plant;
use crate::rig::keys::Setup;
use crate::run::stall_cause::StallCause;
use crate::run::start::PAUSE_S;
use crate::run::{Action, Engine, Options, RunFault};
use crate::sense::faults::{Lambda, ThrottleSwitch};
use crate::sense::lambda_sensor::LambdaSensor;
use crate::steady::SteadyEngine;

/// Ticks of a second.
const SECOND_TICKS: u32 = 100;
/// An engine that has caught runs up for so long before its speed counts (s).
const RUNS_UP_S: usize = 3;
/// Seconds the starter is turned at most.
const CRANKED_S: u32 = 10;
/// Stalls of one drive after which it is given up.
const STALLS_MOST: u32 = 20;
/// Tries in a row that do not catch, after which it is given up.
const TRIES_MOST: u32 = 5;
/// A driver whose engine has stalled turns the key off and on again in this (s).
const RESTARTS_S: f64 = 2.0;
/// A cell that moves less between drives stands (A).
const STANDS_A: f64 = 0.0003;
/// So many drives in a row no cell may move.
const STANDS_FOR: usize = 3;

/// What is felt of a part of a drive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PartFelt {
    /// Mean roughness (COV of imep).
    pub cov: f64,
    /// Roughness of its worst second.
    pub worst_cov: f64,
    /// Mixture of its leanest and of its richest second.
    pub leanest_lambda: f64,
    /// See `leanest_lambda`.
    pub richest_lambda: f64,
}

/// Seconds of a part of a drive.
#[derive(Clone, Copy, Debug)]
struct Seconds {
    count: f64,
    covs: f64,
    felt: PartFelt,
}

impl Seconds {
    const NONE: Seconds = Seconds {
        count: 0.0,
        covs: 0.0,
        felt: PartFelt {
            cov: 0.0,
            worst_cov: 0.0,
            leanest_lambda: 0.0,
            richest_lambda: f64::INFINITY,
        },
    };

    fn add(&mut self, cov: f64, lambda: f64) {
        (self.count, self.covs) = (self.count + 1.0, self.covs + cov);
        self.felt.worst_cov = self.felt.worst_cov.max(cov);
        self.felt.leanest_lambda = self.felt.leanest_lambda.max(lambda);
        self.felt.richest_lambda = self.felt.richest_lambda.min(lambda);
    }

    fn felt(&self) -> Option<PartFelt> {
        (self.count > 0.0).then(|| PartFelt { cov: self.covs / self.count, ..self.felt })
    }
}

/// What one drive did.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DriveOutcome {
    /// Cells after it (A).
    pub cells_a: [f64; CELLS],
    /// Mean roughness of its idling: COV of imep. `None` if it did not idle.
    pub cov: Option<f64>,
    /// Fuel (kg).
    pub fuel_kg: f64,
    /// How often the starter was turned until the engine ran.
    pub tries: u32,
    /// How often the engine stalled.
    pub stalls: u32,
    /// Why it stalled last, if it did.
    pub stalled_because: Option<StallCause>,
    /// Standard deviation of the idle speed over the drive's idles (rad/s); `None` if it did not idle.
    pub surge_rad_s: Option<f64>,
    /// Least speed while it ran by itself (rad/s); `None` if it never did.
    pub least_rad_s: Option<f64>,
    /// Largest roughness of a second of idling (COV of imep): mostly that after the start, while
    /// the loop is open and the stored cells stand alone.
    pub worst_cov: Option<f64>,
    /// Leanest mixture of a second under load.
    pub leanest_lambda: Option<f64>,
    /// What is felt at the idle, from three seconds after the catch; `None` if there was none.
    pub idle: Option<PartFelt>,
    /// What is felt at a steady speed.
    pub cruise: Option<PartFelt>,
    /// What is felt while it is driven faster: where a shift comes in.
    pub load: Option<PartFelt>,
    /// Time in which each cell learned (s).
    pub learned_s: [f64; CELLS],
    /// Whether the drive was given up: the engine did not start again, or stalled too often.
    pub given_up: bool,
}

/// Many drives.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Relearn {
    /// Each drive.
    pub starts: Vec<DriveOutcome>,
    /// The drive from which no cell moves any more, counted from 1.
    pub settled_at: Option<usize>,
    /// Why they do not settle, if they do not.
    pub why: Option<UnsettledReason>,
    /// What the cells would hold if they went all the way, from the arithmetic of lift and
    /// current (A); beyond the limit it is the limit that is reached.
    pub wanted_a: [Option<f64>; CELLS],
}

/// Why the cells do not settle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum UnsettledReason {
    /// The loop is never closed: no lambda sensor that works.
    NoSensor(Lambda),
    /// The loop is not asked to close.
    TrimOff,
    /// A current is forced by hand.
    Forced,
    /// The controller takes the coolant for too cold (K) to close the loop.
    TakenForCold(f64),
    /// The engine cannot be driven at this setting.
    CannotBeDriven,
    /// There were too few starts.
    TooFewStarts,
    /// No cell was driven in steadily enough to learn.
    NothingSteady,
    /// The idle switch never closes: the idle's cell does not learn.
    NoIdleSwitch,
}

/// What a controller cannot do without, if it is missing.
fn prerequisite(setup: &Setup) -> Option<UnsettledReason> {
    let (parts, conditions) = (setup.rig.parts(), &setup.conditions);
    let seen_k = conditions.seen_coolant_k(&parts.thermistor);
    match conditions.faults.lambda {
        fault @ (Lambda::Cold | Lambda::Dead) => return Some(UnsettledReason::NoSensor(fault)),
        Lambda::Sound | Lambda::Stuck | Lambda::Lazy | Lambda::Shifted => {}
    }
    if conditions.trim == Trim::Off {
        return Some(UnsettledReason::TrimOff);
    }
    if conditions.actuator_a.is_some() {
        return Some(UnsettledReason::Forced);
    }
    (seen_k < parts.controller.closed_loop_from_k.max(LEARNS_FROM_K)
        && conditions.coolant_k > seen_k)
        .then_some(UnsettledReason::TakenForCold(seen_k))
}

/// Cells an engine starts with: cleared, or as they had been learned on the sound engine.
pub fn first_cells(setup: &Setup, kept: bool, asked: &[EngineDemand]) -> Cells {
    let parts = setup.rig.parts();
    let cleared = Cells::cleared(parts.breathing.displacement_m3, parts.controller.authority_a);
    if !kept {
        return cleared;
    }
    let sound = Setup { rig: setup.rig, conditions: Conditions::closed_loop() };
    let mut cells = cleared;
    for _ in 0..200 {
        cells.store(&averaged_drive(&sound, &cells, asked));
    }
    cells
}

/// One drive in full: a start, then what was asked, second by second. A driver whose engine does
/// not catch tries again after a rest, and one whose engine stalls at once; what is left in lines
/// and feed goes on from try to try.
fn full_drive(
    mut engine: Engine,
    cells: &Cells,
    asked: &[EngineDemand],
) -> Result<(Taught, DriveOutcome, Engine), RunFault> {
    let mut start = DriveOutcome::default();
    let mut taught = Taught::default();
    let idle_rad_s = engine.setup().rig.parts().controller.idle_rad_s;
    let mut failed = 0;
    let (mut covs, mut idled) = (0.0, 0.0);
    let (mut sums, mut least_rad_s) = ((0.0, 0.0, 0.0), f64::INFINITY);
    let mut felt = [Seconds::NONE; 3];
    let (mut second, mut has_run) = (0, false);
    while second < asked.len() {
        engine = engine.with_cells(*cells);
        let time_s = engine.time_s();
        let released = Action::Throttle(0.0, idle_rad_s);
        engine.apply(&released).map_err(|why| RunFault::Refused { time_s, why })?;
        engine.turn_key()?;
        start.tries += u32::from(!has_run);
        let mut cranked = 0;
        while engine.is_cranking() && cranked < CRANKED_S {
            tick_second(&mut engine)?;
            (cranked, second) = (cranked + 1, second + 1);
        }
        let caught = !engine.is_cranking();
        let by_itself_from = second + RUNS_UP_S;
        while caught && second < asked.len() && engine.stalled_at_s().is_none() {
            if engine.is_cranking() {
                // It has died away on its starter again.
                if cranked >= CRANKED_S {
                    break;
                }
                tick_second(&mut engine)?;
                (cranked, second) = (cranked + 1, second + 1);
                continue;
            }
            let demand = match asked[second] {
                EngineDemand::Idle => Action::Throttle(0.0, idle_rad_s),
                EngineDemand::Drives { throttle, speed_rad_s, .. } => {
                    Action::Drive(throttle, speed_rad_s)
                }
            };
            let time_s = engine.time_s();
            engine.apply(&demand).map_err(|why| RunFault::Refused { time_s, why })?;
            let idles = asked[second] == EngineDemand::Idle;
            let pulls =
                matches!(asked[second], EngineDemand::Drives { throttle, .. } if throttle > 0.0);
            for _ in 0..SECOND_TICKS {
                engine.tick()?;
                let speed = engine.speed_rad_s();
                if second >= by_itself_from {
                    least_rad_s = least_rad_s.min(speed);
                }
                // A second after a change of the pedal is still on its way.
                if idles && second > 0 && asked[second - 1] == EngineDemand::Idle {
                    sums = (sums.0 + 1.0, sums.1 + speed, sums.2 + speed * speed);
                }
            }
            if engine.stalled_at_s().is_none()
                && second >= by_itself_from
                && !engine.fuel_is_cut()
                && let Some(part) = part_of(asked, second)
            {
                felt[part as usize].add(engine.cov(), engine.flow().lambda);
            }
            if idles && engine.stalled_at_s().is_none() {
                let cov = engine.cov();
                (covs, idled) = (covs + cov, idled + 1.0);
                if second >= by_itself_from {
                    start.worst_cov = Some(start.worst_cov.map_or(cov, |worst| worst.max(cov)));
                }
            }
            if pulls && !engine.fuel_is_cut() {
                let lambda = engine.flow().lambda;
                let leaner = start.leanest_lambda.is_none_or(|leanest| lambda > leanest);
                start.leanest_lambda = if leaner { Some(lambda) } else { start.leanest_lambda };
            }
            second += 1;
        }
        let now = engine.taught();
        for i in 0..CELLS {
            taught.time_s[i] += now.time_s[i];
            taught.trim_a_s[i] += now.trim_a_s[i];
        }
        start.fuel_kg += engine.fuel_kg();
        let ran = caught && !engine.is_cranking();
        has_run |= ran;
        failed = if ran { 0 } else { failed + 1 };
        start.given_up = failed >= TRIES_MOST;
        if ran && engine.stalled_at_s().is_some() {
            start.stalls += 1;
            start.stalled_because = engine.stalled_because();
            start.given_up |= start.stalls >= STALLS_MOST;
        }
        let rest_s = if ran { RESTARTS_S } else { PAUSE_S };
        if second < asked.len() && !start.given_up {
            engine.give_up(rest_s)?;
            second += rest_s as usize;
        }
        if start.given_up {
            break;
        }
    }
    start.given_up |= !has_run;
    start.cov = (idled > 0.0).then_some(covs / idled);
    [start.idle, start.cruise, start.load] = felt.map(|part| part.felt());
    start.surge_rad_s = (sums.0 > 0.0).then(|| {
        let mean = sums.1 / sums.0;
        (sums.2 / sums.0 - mean * mean).max(0.0).sqrt()
    });
    start.least_rad_s = Some(least_rad_s).filter(|speed| speed.is_finite());
    start.learned_s = taught.time_s;
    Ok((taught, start, engine))
}

/// Part of a drive.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum DrivePart {
    Idle,
    Cruise,
    Load,
}

/// A speed is steady that changes by less than this share in a second.
const CRUISES: f64 = 0.01;

/// Which part of the drive a second belongs to; `None` where the wheels drive the engine.
fn part_of(asked: &[EngineDemand], second: usize) -> Option<DrivePart> {
    match asked[second] {
        EngineDemand::Idle => Some(DrivePart::Idle),
        EngineDemand::Drives { throttle, speed_rad_s, .. } if throttle > 0.0 => {
            let before = second.checked_sub(1).map(|before| asked[before]);
            let steady = matches!(before, Some(EngineDemand::Drives { speed_rad_s: before, .. })
                if (speed_rad_s / before - 1.0).abs() < CRUISES);
            Some(if steady { DrivePart::Cruise } else { DrivePart::Load })
        }
        EngineDemand::Drives { .. } => None,
    }
}

fn tick_second(engine: &mut Engine) -> Result<(), RunFault> {
    for _ in 0..SECOND_TICKS {
        engine.tick()?;
    }
    Ok(())
}

/// What a drive teaches, on average: the trim that each second's air flow asks for.
///
/// The full run's cells see a trim that swings about this; a second whose flow differs from
/// the one before teaches nothing, as in the controller.
fn averaged_drive(setup: &Setup, cells: &Cells, asked: &[EngineDemand]) -> Taught {
    let mut taught = Taught::default();
    if prerequisite(setup).is_some() {
        return taught;
    }
    let (parts, conditions) = (setup.rig.parts(), &setup.conditions);
    let current_for_a = currents_on_target(setup);
    let plant = Plant::new(parts, setup.rig.reference(), conditions);
    let idle_switch = conditions.faults.throttle_switch != ThrottleSwitch::NoIdle;
    let idle = SteadyEngine::new(&setup.rig, conditions).settle(conditions.screw_turns);
    let idle_kg_s = idle.map_or(0.0, |(settled, _)| settled.state.metered_kg_s);
    let authority = parts.controller.authority_a;
    let (mut before_kg_s, mut steady_s) = (0.0, 0.0);
    for moment in asked {
        let air_kg_s = match moment {
            EngineDemand::Idle => idle_kg_s,
            EngineDemand::Drives { throttle, air_kg_s, .. } if *throttle > 0.0 => {
                *air_kg_s - conditions.leak_kg_s
            }
            EngineDemand::Drives { .. } => 0.0,
        };
        let near = (air_kg_s - before_kg_s).abs() < STEADY.0 * air_kg_s;
        before_kg_s = air_kg_s;
        steady_s = if near { steady_s + 1.0 } else { 0.0 };
        if air_kg_s <= 0.0 || steady_s <= STEADY.1 + STEADY.2 {
            continue;
        }
        let Some(beyond_base_a) = current_for_a(air_kg_s) else { continue };
        let stuck = conditions.faults.lambda == Lambda::Stuck;
        let Some(seen_kg_s) = plant.seen_air_of_kg_s(conditions, air_kg_s) else { continue };
        let asks_a = beyond_base_a - cells.added_at_a(seen_kg_s);
        let trim_a = if stuck { authority } else { asks_a.clamp(-authority, authority) };
        let idles = idle_switch && *moment == EngineDemand::Idle;
        cells.teach(&mut taught, Moment { air_kg_s: seen_kg_s, idles }, trim_a, 1.0);
    }
    taught
}

/// Drives again and again. `full` runs the engine in time; else the averaged model answers.
/// `progress` gets the share done.
pub fn relearn(
    setup: &Setup,
    mut cells: Cells,
    asked: &[EngineDemand],
    (starts, full): (usize, bool),
    options: Options,
    mut progress: impl FnMut(f64),
) -> Result<Relearn, RunFault> {
    let mut found =
        Relearn { starts: Vec::new(), settled_at: None, why: None, wanted_a: wanted_a(setup) };
    let mut last: Option<Engine> = None;
    for n in 0..starts {
        let (taught, mut start) = if full {
            let options = Options { seed: options.seed.wrapping_mul(1000) + n as u64, ..options };
            let engine = match last.take() {
                None => Engine::standing(setup, options),
                Some(engine) => engine.next_start(setup, options)?,
            };
            let (taught, start, engine) = full_drive(engine, &cells, asked)?;
            last = Some(engine);
            (taught, start)
        } else {
            let taught = averaged_drive(setup, &cells, asked);
            let learned_s = taught.time_s;
            (taught, DriveOutcome { fuel_kg: f64::NAN, learned_s, ..DriveOutcome::default() })
        };
        cells.store(&taught);
        start.cells_a = cells.added_a;
        found.starts.push(start);
        progress((n + 1) as f64 / starts as f64);
        if start.given_up {
            break;
        }
    }
    found.settled_at = settled(&found.starts);
    found.why = why(setup, &found);
    if found.why.is_some() {
        found.settled_at = None;
    }
    Ok(found)
}

/// The first drive after which no cell moves any more.
fn settled(starts: &[DriveOutcome]) -> Option<usize> {
    let stands = |pair: &[DriveOutcome]| {
        (0..CELLS).all(|i| (pair[1].cells_a[i] - pair[0].cells_a[i]).abs() < STANDS_A)
    };
    let still: Vec<bool> = starts.windows(2).map(stands).collect();
    (0..still.len())
        .find(|&i| still.len() - i >= STANDS_FOR && still[i..].iter().all(|s| *s))
        .map(|i| i + 1)
}

fn why(setup: &Setup, found: &Relearn) -> Option<UnsettledReason> {
    if let Some(missing) = prerequisite(setup) {
        return Some(missing);
    }
    if found.starts.iter().any(|start| start.given_up) {
        return Some(UnsettledReason::CannotBeDriven);
    }
    if found.starts.iter().all(|start| start.learned_s.iter().all(|s| *s < 10.0)) {
        return Some(UnsettledReason::NothingSteady);
    }
    if setup.conditions.faults.throttle_switch == ThrottleSwitch::NoIdle {
        return Some(UnsettledReason::NoIdleSwitch);
    }
    found.settled_at.is_none().then_some(UnsettledReason::TooFewStarts)
}

/// The current each cell's centre asks for beyond the base (A): a screw that is off is a
/// lift, which another air flow needs another current to make good.
pub fn wanted_a(setup: &Setup) -> [Option<f64>; CELLS] {
    let parts = setup.rig.parts();
    let cells = Cells::cleared(parts.breathing.displacement_m3, parts.controller.authority_a);
    let plant = Plant::new(parts, setup.rig.reference(), &setup.conditions);
    let asks_a = currents_on_target(setup);
    cells.centre_kg_s.map(|centre| asks_a(plant.air_taken_for_kg_s(&setup.conditions, centre)?))
}

/// For an air flow past the plate (kg/s): the current that it asks for on the sensor's mixture,
/// beyond the base (A). Air that passes no plate is burnt beside it; that, dead sparks and an
/// exhaust leak read leaner, as at the steady point.
fn currents_on_target(setup: &Setup) -> impl Fn(f64) -> Option<f64> {
    let (parts, conditions) = (*setup.rig.parts(), &setup.conditions);
    let plant = Plant::new(&parts, setup.rig.reference(), conditions);
    let opening_m = parts.lever.opening_height_m(conditions.screw_turns);
    let leaner = LambdaSensor::reads(0.0, conditions.misfire, conditions.exhaust_leak)
        + conditions.lambda_sensor_reads_leaner_by();
    let conditions = *conditions;
    move |air_kg_s| {
        let height_m = plant.afloat_height_m(air_kg_s)?;
        let base_a = plant.base_a(&conditions, height_m);
        let metered = air_kg_s / (air_kg_s + conditions.leak_kg_s);
        Some(plant.current_for_a(air_kg_s, opening_m, (1.0 - leaner) * metered)? - base_a)
    }
}
