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

pub mod averaged;
mod feel;
mod full_drive;
mod outcome;
mod unsettled;

pub use feel::with_feel;
pub use outcome::{DriveOutcome, PartFelt};
pub use unsettled::UnsettledReason;

use crate::conditions::Conditions;
use crate::control::cells::{CELLS, Cells};
use crate::drive::EngineDemand;
use crate::rig::keys::Setup;
use crate::run::{Engine, Options, RunFault};
use crate::sense::faults::ThrottleSwitch;
use averaged::{averaged_drive, idle_kg_s, wanted_a};
use full_drive::full_drive;
use unsettled::prerequisite;

/// A cell that moves less between drives stands (A).
const STANDS_A: f64 = 0.0003;
/// So many drives in a row no cell may move.
const STANDS_FOR: usize = 3;

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
            let driven = DriveOutcome {
                fuel_kg: f64::NAN,
                learned_s: taught.time_s,
                given_up: idle_kg_s(setup).is_none(),
                ..DriveOutcome::default()
            };
            (taught, driven)
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

/// How long an engine is driven to see whether it can be (s): its start, and a cycle of driving in
/// a town. Source: our own.
const FIRST_LOOK_S: usize = 240;

/// What the averaged model answered, with what it cannot know asked of the engine in time: whether
/// it can be driven at all. It is driven for four minutes, with the cells it begins with, and to the
/// end of the drive if it stalls in them. If that drive is given up, it is the answer: there is no
/// other.
///
/// Near the edge another seed may be driven a little longer; a test compares with full drives.
pub fn with_first_drive(
    setup: &Setup,
    mut found: Relearn,
    mut cells: Cells,
    asked: &[EngineDemand],
    options: Options,
) -> Result<Relearn, RunFault> {
    let options = Options { seed: options.seed.wrapping_mul(1000), torque_noise: true, ..options };
    let driven = |asked| full_drive(Engine::standing(setup, options), &cells, asked);
    let (_, looked_at, _) = driven(&asked[..asked.len().min(FIRST_LOOK_S)])?;
    if looked_at.stalls == 0 && !looked_at.given_up {
        return Ok(found);
    }
    let (taught, first, _) = driven(asked)?;
    if first.given_up {
        cells.store(&taught);
        found.starts = vec![DriveOutcome { cells_a: cells.added_a, ..first }];
        (found.settled_at, found.why) = (None, why(setup, &found));
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Cells have settled with the first drive after which none moves for three drives and to the
    /// end, up or down; those that still move at the end, or have stood for two, have not.
    #[test]
    fn cells_have_settled_where_none_moves_for_three_drives_to_the_end() {
        let of = |ends_ma: &[f64]| {
            let drive = |ma: &f64| DriveOutcome {
                cells_a: [0.0, 1e-3 * ma, 0.0, 0.0],
                ..DriveOutcome::default()
            };
            settled(&ends_ma.iter().map(drive).collect::<Vec<_>>())
        };
        assert_eq!(of(&[4.0, 6.0, 7.0, 7.1, 7.0, 7.2]), Some(3));
        assert_eq!(of(&[4.0, 6.0, 7.0, 7.1, 7.0]), None, "stood for two");
        assert_eq!(of(&[7.0, 7.0, 7.0, 7.0]), Some(1));
        assert_eq!(of(&[7.0, 7.0, 7.0, 7.0, 6.0]), None, "it moves at the end");
        assert_eq!(of(&[7.0, 7.0, 7.0, 7.0, 6.0, 6.0, 6.0, 6.0]), Some(5), "it moved again");
        assert_eq!((of(&[]), of(&[7.0])), (None, None));
    }
}
