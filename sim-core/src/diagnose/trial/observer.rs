//! An observer who knows the model as a trial draws its cars: what no diagnosis does better than.
//!
//! Equation: `P(c | y) ~ P(c) mean_r p(y | c, r)`, over the strengths `r` that the trial draws;
//! `p ~ |S|^(-1/2) (1 + (y - m)^T S^-1 (y - m) / (N - 1))^(-N/2)`, with mean `m` and covariance
//! `S` of `N` relatives that have just this cause at just this strength, their meters' errors
//! within `S`. Symbols: `y` readings. Valid range: single causes and none; readings that are
//! normal over the relatives. Source: Sellentin & Heavens, Mon. Not. R. Astron. Soc. 456, L132
//! (2016), for a covariance that was estimated itself; from memory.
//!
//! It knows three things that a diagnosis does not: the very strengths, that there is one cause
//! or none, and that nothing is off but what is drawn.

use super::hidden::Hidden;
use crate::diagnose::car::{Asked, Car, Law};
use crate::diagnose::causes::Named;
use crate::diagnose::library::{Library, covariance, means};
use crate::diagnose::posterior::{Evidence, Factor, PRIOR_NONE, log_seen, log_sum};
use crate::diagnose::sheet::Slot;
use crate::rig::Rig;

/// Seed of its relatives; no trial and no library draws from it.
const SEED: u64 = 0x0b5e_72e4;
/// Below this share of relatives that show a reading nothing is said of it.
const SHOWN_LEAST: f64 = 0.25;

/// What it works out: each a cause at a strength, on one line of those that are alike.
pub struct Plan {
    slots: Vec<Slot>,
    causes: Vec<Named>,
    cars: Vec<Car>,
    /// The tasks: a cause's index and strength; none for sound cars.
    pub tasks: Vec<Option<(usize, f64)>>,
}

/// What every relative shows, and how rough each is.
pub type Worked = (Vec<Vec<f64>>, Vec<f64>);

struct Cell {
    cause: Option<usize>,
    share: f64,
    mean: Vec<f64>,
    covariance: Vec<f64>,
    shown: Vec<f64>,
    /// Shares that die and that are rough among those that run.
    dies: f64,
    rough: f64,
}

/// The observer.
pub struct Observer {
    cells: Vec<Cell>,
    columns: usize,
    causes: usize,
    relatives: usize,
}

impl Plan {
    /// Plans so many relatives for each strength of each cause of a library.
    pub fn new(base: &Rig, library: &Library, relatives: usize) -> Plan {
        let drawn = |item| Car::drawn(base, &Asked::default(), SEED, item, Law::Same);
        let mut tasks = vec![None];
        for (index, named) in library.causes.iter().enumerate() {
            let mut strengths = named.cause.references.to_vec();
            strengths.dedup();
            tasks.extend(strengths.into_iter().map(|strength| Some((index, strength))));
        }
        Plan {
            slots: library.slots.clone(),
            causes: library.causes.clone(),
            cars: (0..relatives as u64).filter_map(drawn).collect(),
            tasks,
        }
    }

    /// Works on a task: what every relative shows, and how rough it is.
    pub fn work(&self, task: &Option<(usize, f64)>) -> Worked {
        let causes: Vec<(Named, f64)> =
            task.iter().map(|(cause, strength)| (self.causes[*cause], *strength)).collect();
        self.cars.iter().map(|car| car.shows(&causes, &self.slots, true)).unzip()
    }
}

impl Observer {
    /// Puts together what came of a plan's tasks, in their order.
    pub fn of(plan: &Plan, worked: &[Worked]) -> Observer {
        let n = plan.slots.len();
        let cell = |(task, (rows, rough)): (&Option<(usize, f64)>, &Worked)| {
            let (mean, shown) = means(rows, n);
            let mut spread = covariance(rows, &mean);
            for (d, slot) in plan.slots.iter().enumerate() {
                spread[d * n + d] += match shown[d] < SHOWN_LEAST {
                    true => 1e12,
                    false => slot.kind.meter_sigma(mean[d], None).powi(2),
                };
            }
            let run: Vec<f64> = rough.iter().copied().filter(|r| r.is_finite()).collect();
            let share = |part: usize, of: usize| (part as f64 + 0.5) / (of as f64 + 1.0);
            let of_three = task.map_or(1.0, |(cause, strength)| {
                let three = plan.causes[cause].cause.references;
                three.iter().filter(|other| **other == strength).count() as f64 / 3.0
            });
            Cell {
                cause: task.map(|(cause, _)| cause),
                share: of_three,
                mean,
                covariance: spread,
                shown,
                dies: share(rough.len() - run.len(), rough.len()),
                rough: share(run.iter().filter(|r| **r > 0.0).count(), run.len()),
            }
        };
        Observer {
            cells: plan.tasks.iter().zip(worked).map(cell).collect(),
            columns: n,
            causes: plan.causes.len(),
            relatives: plan.cars.len(),
        }
    }

    /// Causes by how probable it holds them; the last index is none.
    fn ranking(&self, evidence: &Evidence<'_>) -> Vec<usize> {
        let reads = evidence.reads;
        let slots: Vec<usize> = reads.iter().map(|read| read.slot).collect();
        let mut logs = vec![Vec::new(); self.causes + 1];
        let relatives = self.relatives as f64;
        for cell in &self.cells {
            let factor = Factor::of(&cell.covariance, self.columns, &slots);
            let mut off: Vec<f64> = reads.iter().map(|r| r.value - cell.mean[r.slot]).collect();
            let size2 = factor.size2(&mut off);
            let heard = match evidence.ear {
                None => 1.0,
                Some("dies") => cell.dies,
                Some("rough") => (1.0 - cell.dies) * cell.rough,
                _ => (1.0 - cell.dies) * (1.0 - cell.rough),
            };
            let log = -0.5 * factor.log_det - 0.5 * relatives * (size2 / (relatives - 1.0)).ln_1p()
                + (cell.share * heard).ln()
                + log_seen(&cell.shown, reads);
            logs[cell.cause.unwrap_or(self.causes)].push(log);
        }
        let single = (1.0 - PRIOR_NONE) / self.causes as f64;
        let log = |cause: usize| {
            let prior = if cause == self.causes { PRIOR_NONE } else { single };
            prior.ln() + log_sum(&logs[cause])
        };
        let logs: Vec<f64> = (0..=self.causes).map(log).collect();
        let mut ranked: Vec<usize> = (0..=self.causes).collect();
        ranked.sort_by(|a, b| logs[*b].total_cmp(&logs[*a]));
        ranked
    }

    /// Place of a car's cause (from 0), read as the trial reads it.
    pub fn place(&self, hidden: &Hidden, evidence: &Evidence<'_>) -> usize {
        let truth = hidden.truth(self.causes);
        let ranked = self.ranking(evidence);
        ranked.iter().position(|cause| truth.contains(cause)).unwrap_or(self.causes)
    }
}
