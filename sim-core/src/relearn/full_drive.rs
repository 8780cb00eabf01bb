//! One drive of the engine in time: a start, then what was asked, second by second.

use super::outcome::{DriveOutcome, PartFelt};
use crate::control::cells::{CELLS, Cells, Taught};
use crate::drive::EngineDemand;
use crate::point::told_cov;
use crate::run::start::PAUSE_S;
use crate::run::{Action, Engine, RunFault};

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

/// One drive in full: a start, then what was asked, second by second. A driver whose engine does
/// not catch tries again after a rest, and one whose engine stalls at once; what is left in lines
/// and feed goes on from try to try.
pub(super) fn full_drive(
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
                && let Some(cov) = told_cov(engine.cov())
            {
                felt[part as usize].add(cov, engine.flow().lambda);
            }
            if idles
                && engine.stalled_at_s().is_none()
                && let Some(cov) = told_cov(engine.cov())
            {
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
