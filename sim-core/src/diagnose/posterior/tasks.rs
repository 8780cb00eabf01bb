//! Which tasks of a plan a posterior makes worth working on.

use super::Posterior;
use crate::diagnose::library::{Cell, Library};

/// A cell whose best hypothesis is so many times less probable than the best of all (natural
/// logarithm), as a few engines have it, does not matter.
const MATTERS: f64 = 10.0;
/// A strength less probable than this share of its cause's does not tell what a check would show.
const TELLS: f64 = 1e-3;

impl Posterior {
    /// Which of the plan's tasks matter to a question: those of which a strength, alone or with
    /// another cause, is not far less probable than what is most so.
    pub fn matter(&self, library: &Library) -> Vec<bool> {
        of_tasks(library, |place, _| self.reach[place] > -MATTERS)
    }

    /// Which of the plan's tasks tell what a check would show of the causes that are more probable
    /// than a share.
    pub fn telling(&self, library: &Library, share: f64) -> Vec<bool> {
        let mut of_cause = vec![0.0; library.causes.len()];
        for (cell, probability) in library.cells.iter().zip(&self.cells) {
            cell.cause.into_iter().for_each(|cause| of_cause[cause] += probability);
        }
        of_tasks(library, |place, cell| {
            cell.cause.is_some_and(|cause| {
                let own = self.cells[place] >= TELLS * of_cause[cause];
                own && self.shared[cause] > share
            })
        })
    }
}

fn of_tasks(library: &Library, is: impl Fn(usize, &Cell) -> bool) -> Vec<bool> {
    let mut tasks = vec![false; library.cells.iter().map(|c| c.task + 1).max().unwrap_or(0)];
    tasks.iter_mut().take(1).for_each(|sound| *sound = true);
    for (place, cell) in library.cells.iter().enumerate() {
        tasks[cell.task] |= is(place, cell);
    }
    tasks
}
