//! A strength of a cause, from what engines show.

use super::{Cell, Task, Worked, covariance, means};
use crate::diagnose::sheet::Slot;

/// Share of a cell's own covariance in the mean of it and that of sound engines: so few engines
/// do not give one of their own.
const OWN_SHARE: f64 = 0.3;
/// What the model may be off beside all that is drawn: share of the meter's own sigma. Our own.
const DISCREPANCY: f64 = 1.0;
/// Below this share of engines that show a reading nothing is said of it.
const SHOWN_LEAST: f64 = 0.25;

impl Cell {
    /// A row of the first line's cause, moved to another line.
    pub(super) fn moved(slots: &[Slot], row: &[f64], sound: &[f64], line: usize) -> Vec<f64> {
        let mut moved = row.to_vec();
        for (d, slot) in slots.iter().enumerate() {
            let Some(own) = slot.line else { continue };
            let at = |line: usize| {
                slots.iter().position(|o| o.kind.name() == slot.kind.name() && o.line == Some(line))
            };
            if own == line {
                let Some(first) = at(0) else { continue };
                moved[d] = match slot.kind.name() {
                    "line_N_ml" => row[first] / sound[first] * sound[d],
                    _ => row[first] - sound[first] + sound[d],
                };
            } else if own == 0 {
                moved[d] = sound[d];
            }
        }
        moved
    }

    /// What a task shows, from its rows and those of sound engines.
    pub(super) fn of(
        slots: &[Slot],
        (cause, task, weight): (Option<usize>, &Task, f64),
        worked: &Worked,
        (pooled_mean, pooled, sound): (&[f64], &[f64], &[Vec<f64>]),
        classes: &[Option<f64>],
    ) -> Cell {
        let n = slots.len();
        let (mut mean, shown) = means(&worked.rows, n);
        let raw = mean.clone();
        if cause.is_some() {
            // The same engines sound and with the cause: what differs between them is known better
            // than either mean, and the sound mean is of more engines.
            for d in 0..n {
                let both = worked
                    .rows
                    .iter()
                    .zip(sound)
                    .map(|(row, sound)| row[d] - sound[d])
                    .filter(|by| by.is_finite());
                let (sum, count) = both.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
                if count > 0.5 * shown[d] * worked.rows.len() as f64 && shown[d] >= SHOWN_LEAST {
                    mean[d] = pooled_mean[d] + sum / count;
                }
            }
        }
        for d in 0..n {
            if shown[d] < SHOWN_LEAST {
                mean[d] = pooled_mean[d];
            }
        }
        let own = covariance(&worked.rows, &raw);
        let mut covariance: Vec<f64> = match cause {
            None => pooled.to_vec(),
            Some(_) => own
                .iter()
                .zip(pooled)
                .map(|(own, pooled)| OWN_SHARE * own + (1.0 - OWN_SHARE) * pooled)
                .collect(),
        };
        for (d, slot) in slots.iter().enumerate() {
            let meter = slot.kind.meter_sigma(mean[d], classes.get(d).copied().flatten());
            let mut variance = meter * meter * (1.0 + DISCREPANCY * DISCREPANCY);
            if shown[d] < SHOWN_LEAST {
                // It says nothing of this reading.
                variance += (10.0 * meter).powi(2) + pooled[d * n + d] * 100.0 + mean[d].powi(2);
            }
            covariance[d * n + d] += variance;
        }
        let run: Vec<f64> = worked.rough.iter().copied().filter(|r| r.is_finite()).collect();
        let count = run.len().max(1) as f64;
        let middle = run.iter().sum::<f64>() / count;
        let spread = run.iter().map(|r| (r - middle).powi(2)).sum::<f64>() / count;
        let runs = (run.len() as f64 + 0.5) / (worked.rough.len() as f64 + 1.0);
        let rough = (middle, spread, runs);
        let (task, strength, step) = (task.number, task.strength, task.step);
        Cell { task, cause, strength, weight, step, mean, covariance, shown, rough }
    }

    /// How the readings of a cell move with strength: from the nearest cells of the same cause on the
    /// same side.
    pub(super) fn slope(cells: &[Cell], cell: &Cell) -> Option<Vec<f64>> {
        let near = |other: &&Cell| {
            other.cause == cell.cause
                && other.strength.signum() == cell.strength.signum()
                && (other.strength - cell.strength).abs() < 1.5 * cell.step
        };
        let mut near: Vec<&Cell> = cells.iter().filter(near).collect();
        near.sort_by(|a, b| a.strength.total_cmp(&b.strength));
        let (first, last) = (near.first()?, near.last()?);
        let apart = last.strength - first.strength;
        if cell.cause.is_none() || apart <= 0.0 {
            return None;
        }
        let each = |d: usize| match first.shown[d].min(last.shown[d]) < SHOWN_LEAST {
            true => 0.0,
            false => (last.mean[d] - first.mean[d]) / apart,
        };
        Some((0..cell.mean.len()).map(each).collect())
    }
}
