//! What every cause at every strength shows, over the spread of engines: made once for a
//! question, then compared with readings.

mod cell;
mod plan;
mod rows;

pub use plan::{Cars, Plan, Task, Worked};
pub(super) use rows::{covariance, means};

use super::causes::Named;
use super::sheet::Slot;

/// What a strength of a cause shows.
pub struct Cell {
    /// Place of its task among the plan's.
    pub(in crate::diagnose) task: usize,
    /// Index of the cause in the library's; `None` for a sound car.
    pub cause: Option<usize>,
    /// The strength.
    pub strength: f64,
    /// Share of the cause's strengths that it stands for; 0 if it was not worked out.
    pub weight: f64,
    /// How far it is to the next strength; 0 where there is nothing between.
    pub step: f64,
    /// Mean of each reading.
    pub mean: Vec<f64>,
    /// Covariance, with the meters, row by row.
    pub covariance: Vec<f64>,
    /// Share of the engines that show the reading.
    pub shown: Vec<f64>,
    /// Roughness over what is called rough: mean and variance of its logarithm; share that runs.
    pub rough: (f64, f64, f64),
}

/// What every cause shows.
pub struct Library {
    /// The readings.
    pub slots: Vec<Slot>,
    /// The causes.
    pub causes: Vec<Named>,
    /// The cells; the first is the sound car's.
    pub cells: Vec<Cell>,
}

impl Library {
    /// Puts together what came of a plan's tasks, in their order. `classes` is what a meter of
    /// each slot may be off, where it is known.
    pub fn of(plan: Plan, worked: Vec<Worked>, classes: &[Option<f64>]) -> Library {
        Library::made(&plan, worked, classes)
    }

    /// The same of a plan that is worked on further.
    pub fn made(plan: &Plan, mut worked: Vec<Worked>, classes: &[Option<f64>]) -> Library {
        let (slots, causes) = (plan.slots.clone(), plan.causes.clone());
        let Plan { shown, tasks, .. } = plan;
        let n = slots.len();
        let left_out: Vec<bool> = worked.iter().map(|worked| worked.rows.is_empty()).collect();
        let (first, others) = worked.split_at_mut(1);
        for worked in others.iter_mut().filter(|worked| worked.rows.is_empty()) {
            worked.rows.clone_from(&first[0].rows);
            worked.rough.clone_from(&first[0].rough);
        }
        for (task, worked) in tasks[1..].iter().zip(others) {
            if task.kind.is_some_and(|kind| !causes[kind].cause.standing) {
                for (row, sound) in worked.rows.iter_mut().zip(&first[0].rows) {
                    let fuel_side = shown.iter().map(|slot| slot.kind.is_of_fuel_side());
                    for (d, _) in fuel_side.enumerate().filter(|(_, is)| *is) {
                        row[d] = sound[d];
                    }
                }
            }
        }
        let sound = &worked[0];
        let pooled_mean = means(&sound.rows, n).0;
        let mut pooled = covariance(&sound.rows, &pooled_mean);
        let (drawn, read) = (sound.rows.len() as f64, n as f64);
        // A covariance of so few engines makes its inverse too large by this: Hartlap, Simon &
        // Schneider, Astron. Astrophys. 464, 399 (2007), from memory.
        let few = (drawn - 1.0) / (drawn - read - 2.0).max(0.5 * drawn);
        pooled.iter_mut().for_each(|entry| *entry *= few);
        let lines = causes.iter().filter_map(|named| named.line).max().unwrap_or(0) + 1;
        let mut cells = Vec::new();
        for (task, worked) in tasks.iter().zip(&worked) {
            let Some(kind) = task.kind else {
                cells.push(Cell::of(
                    &slots,
                    (None, task, 1.0),
                    worked,
                    (&pooled_mean, &pooled, &sound.rows),
                    classes,
                ));
                continue;
            };
            let siblings = tasks.iter().filter(|other| other.kind == task.kind).count();
            let weight = if left_out[task.number] { 0.0 } else { 1.0 / siblings as f64 };
            let count = if causes[kind].line.is_some() { lines } else { 1 };
            for line in 0..count {
                let rows: Vec<Vec<f64>> = match line {
                    0 => worked.rows.clone(),
                    _ => worked
                        .rows
                        .iter()
                        .zip(&sound.rows)
                        .map(|(row, sound)| Cell::moved(shown, row, sound, line))
                        .collect(),
                };
                let here = Worked { rows, rough: worked.rough.clone() };
                let of = (Some(kind + line), task, weight);
                cells.push(Cell::of(
                    &slots,
                    of,
                    &here,
                    (&pooled_mean, &pooled, &sound.rows),
                    classes,
                ));
            }
        }
        // What lies between two strengths: the readings move by their slope.
        let slopes: Vec<Option<Vec<f64>>> =
            cells.iter().map(|cell| Cell::slope(&cells, cell)).collect();
        for (cell, slope) in cells.iter_mut().zip(slopes) {
            let Some(slope) = slope else { continue };
            let share = cell.step * cell.step / 12.0;
            for i in 0..n {
                for j in 0..n {
                    cell.covariance[i * n + j] += share * slope[i] * slope[j];
                }
            }
        }
        Library { slots, causes, cells }
    }
}
