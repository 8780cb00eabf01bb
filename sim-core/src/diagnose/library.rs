//! What every cause at every strength shows, over the spread of engines: made once for a
//! question, then compared with readings.

use super::car::{Asked, Car, Law, cranking_s};
use super::causes::{Named, causes_of};
use super::sheet::Slot;
use super::spread::Spread;
use crate::rig::Rig;
use crate::rig::keys::Setup;

/// Seed of the engines that the likelihood is made of; no trial draws from it.
const SEED: u64 = 0x51a7_0c0d;
/// How many times as many sound engines there are as engines of each strength of a cause.
const SOUND_TIMES: usize = 8;
/// Strengths of a cause that goes one way, the middles of equal steps.
const ONE_WAY: [f64; 6] = [0.25, 0.4, 0.55, 0.7, 0.85, 1.0];
/// Strengths either way.
const EITHER_WAY: [f64; 10] = [-1.05, -0.85, -0.65, -0.45, -0.25, 0.25, 0.45, 0.65, 0.85, 1.05];
/// Share of a cell's own covariance in the mean of it and that of sound engines: so few engines
/// do not give one of their own.
const OWN_SHARE: f64 = 0.3;
/// What the model may be off beside all that is drawn: share of the meter's own sigma. Our own.
const DISCREPANCY: f64 = 1.0;
/// Below this share of engines that show a reading nothing is said of it.
const SHOWN_LEAST: f64 = 0.25;

/// What is worked out for one strength of a cause.
#[derive(Clone, Copy)]
pub struct Task {
    /// Which of the plan's kinds: `None` for sound engines.
    kind: Option<usize>,
    strength: f64,
    step: f64,
}

/// What is to be worked out: tasks that do not hang on each other.
pub struct Plan {
    /// The readings.
    pub slots: Vec<Slot>,
    /// The causes.
    pub causes: Vec<Named>,
    base: Setup,
    members: Vec<Car>,
    sound: Vec<Car>,
    /// Causes that are worked out; the others count as sound.
    among: Option<Vec<usize>>,
    /// The tasks.
    pub tasks: Vec<Task>,
}

/// What came of a task: a row for each engine.
pub struct Worked {
    /// Each engine's readings, on their scales.
    pub rows: Vec<Vec<f64>>,
    /// How rough each is.
    pub rough: Vec<f64>,
}

impl Plan {
    /// Plans for readings on a rig, with so many engines for each strength.
    pub fn new(base: &Rig, asked: &Asked, slots: Vec<Slot>, members: usize) -> Plan {
        Plan::over(Spread::Seeded, base, asked, slots, members)
    }

    /// The same over a spread of engines.
    pub fn over(
        spread: Spread<'_>,
        base: &Rig,
        asked: &Asked,
        slots: Vec<Slot>,
        members: usize,
    ) -> Plan {
        let causes = causes_of(base);
        // One of those that are there for each line stands for all.
        let kinds: Vec<usize> =
            (0..causes.len()).filter(|i| causes[*i].line.is_none_or(|line| line == 0)).collect();
        let mut tasks = vec![Task { kind: None, strength: 0.0, step: 0.0 }];
        for kind in &kinds {
            let cause = causes[*kind].cause;
            let (strengths, step): (&[f64], f64) = match (cause.graded, cause.other_way) {
                (false, _) => (&[1.0], 0.0),
                (true, "") => (&ONE_WAY, 0.15),
                _ => (&EITHER_WAY, 0.2),
            };
            tasks.extend(strengths.iter().map(|&strength| Task {
                kind: Some(*kind),
                strength,
                step,
            }));
        }
        let sound: Vec<Car> = (0..(SOUND_TIMES * members) as u64)
            .filter_map(|item| Car::drawn_over(spread, base, asked, (SEED, item, Law::Same)))
            .collect();
        Plan {
            slots,
            causes,
            base: Setup { rig: *base, conditions: asked.conditions },
            among: None,
            members: sound.iter().take(members).copied().collect(),
            sound,
            tasks,
        }
    }

    /// The same for some causes only, by their indices; the others count as sound.
    pub fn among(self, causes: &[usize]) -> Plan {
        let first = |cause: usize| cause - self.causes[cause].line.unwrap_or(0);
        let among = causes.iter().filter(|c| **c < self.causes.len()).map(|c| first(*c)).collect();
        Plan { among: Some(among), ..self }
    }

    /// Works on a task.
    pub fn work(&self, task: &Task) -> Worked {
        let left_out = |kind| self.among.as_ref().is_some_and(|among| !among.contains(&kind));
        if task.kind.is_some_and(left_out) {
            return Worked { rows: Vec::new(), rough: Vec::new() };
        }
        let cars = if task.kind.is_some() { &self.members } else { &self.sound };
        let causes: Vec<(Named, f64)> =
            task.kind.iter().map(|kind| (self.causes[*kind], task.strength)).collect();
        // What stands still shows nothing of a fault that only a running engine has: those readings
        // are the sound car's, put in where the library is made.
        let stands = task.kind.is_none_or(|kind| self.causes[kind].cause.standing);
        let (mut rows, rough): (Vec<Vec<f64>>, Vec<f64>) =
            cars.iter().map(|car| car.shows(&causes, &self.slots, stands)).unzip();
        let cranking = self.slots.iter().position(|slot| slot.kind.name() == "cranking_s");
        if let Some(d) = cranking {
            // A start takes long to work out: the rig's own, each car as much quicker or slower.
            let own = cranking_s(&self.base, &causes).map_or(f64::NAN, f64::ln);
            rows.iter_mut().zip(cars).for_each(|(row, car)| row[d] = own + car.cranking());
        }
        Worked { rows, rough }
    }
}

/// What a strength of a cause shows.
pub struct Cell {
    /// Index of the cause in the library's; `None` for a sound car.
    pub cause: Option<usize>,
    /// The strength.
    pub strength: f64,
    /// Share of the cause's strengths that it stands for.
    pub weight: f64,
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

/// Means over rows without what is missing, and how many there were.
pub(super) fn means(rows: &[Vec<f64>], columns: usize) -> (Vec<f64>, Vec<f64>) {
    (0..columns)
        .map(|d| {
            let there = rows.iter().map(|row| row[d]).filter(|v| v.is_finite());
            let (sum, count) = there.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
            (sum / f64::max(count, 1.0), count / rows.len().max(1) as f64)
        })
        .unzip()
}

/// Covariance over rows about their mean; what is missing counts as the mean.
pub(super) fn covariance(rows: &[Vec<f64>], mean: &[f64]) -> Vec<f64> {
    let n = mean.len();
    let mut sum = vec![0.0; n * n];
    for row in rows {
        let off: Vec<f64> =
            row.iter().zip(mean).map(|(v, m)| if v.is_finite() { v - m } else { 0.0 }).collect();
        for i in 0..n {
            if off[i] != 0.0 {
                for j in 0..=i {
                    sum[i * n + j] += off[i] * off[j];
                }
            }
        }
    }
    let count = rows.len().max(2) as f64 - 1.0;
    for i in 0..n {
        for j in 0..=i {
            sum[i * n + j] /= count;
            sum[j * n + i] = sum[i * n + j];
        }
    }
    sum
}

impl Library {
    /// Puts together what came of a plan's tasks, in their order. `classes` is what a meter of
    /// each slot may be off, where it is known.
    pub fn of(plan: Plan, mut worked: Vec<Worked>, classes: &[Option<f64>]) -> Library {
        let Plan { slots, causes, tasks, .. } = plan;
        let n = slots.len();
        let (first, others) = worked.split_at_mut(1);
        for worked in others.iter_mut().filter(|worked| worked.rows.is_empty()) {
            worked.rows.clone_from(&first[0].rows);
            worked.rough.clone_from(&first[0].rough);
        }
        for (task, worked) in tasks[1..].iter().zip(others) {
            if task.kind.is_some_and(|kind| !causes[kind].cause.standing) {
                for (row, sound) in worked.rows.iter_mut().zip(&first[0].rows) {
                    let fuel_side = slots.iter().map(|slot| slot.kind.is_of_fuel_side());
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
                cells.push(cell(
                    &slots,
                    (None, 0.0, 1.0),
                    worked,
                    (&pooled_mean, &pooled, &sound.rows),
                    classes,
                ));
                continue;
            };
            let siblings = tasks.iter().filter(|other| other.kind == task.kind).count();
            let weight = 1.0 / siblings as f64;
            let count = if causes[kind].line.is_some() { lines } else { 1 };
            for line in 0..count {
                let rows: Vec<Vec<f64>> = match line {
                    0 => worked.rows.clone(),
                    _ => worked
                        .rows
                        .iter()
                        .zip(&sound.rows)
                        .map(|(row, sound)| moved(&slots, row, sound, line))
                        .collect(),
                };
                let here = Worked { rows, rough: worked.rough.clone() };
                let of = (Some(kind + line), task.strength, weight);
                cells.push(cell(&slots, of, &here, (&pooled_mean, &pooled, &sound.rows), classes));
            }
        }
        // What lies between two strengths: the readings move by their slope.
        let slopes: Vec<Option<(Vec<f64>, f64)>> =
            cells.iter().map(|cell| slope(&cells, cell, &tasks)).collect();
        for (cell, slope) in cells.iter_mut().zip(slopes) {
            let Some((slope, step)) = slope else { continue };
            let share = step * step / 12.0;
            for i in 0..n {
                for j in 0..n {
                    cell.covariance[i * n + j] += share * slope[i] * slope[j];
                }
            }
        }
        Library { slots, causes, cells }
    }
}

/// A row of the first line's cause, moved to another line.
fn moved(slots: &[Slot], row: &[f64], sound: &[f64], line: usize) -> Vec<f64> {
    let mut moved = row.to_vec();
    for (d, slot) in slots.iter().enumerate() {
        let Some(own) = slot.line else { continue };
        let at = |line: usize| {
            slots.iter().position(|o| o.kind.name() == slot.kind.name() && o.line == Some(line))
        };
        if own == line {
            // The first line's own slot may not be on the sheet.
            let first = at(0);
            if let Some(first) = first {
                moved[d] = match slot.kind.name() {
                    "line_N_ml" => row[first] / sound[first] * sound[d],
                    _ => row[first] - sound[first] + sound[d],
                };
            }
        } else if own == 0 {
            moved[d] = sound[d];
        }
    }
    moved
}

fn cell(
    slots: &[Slot],
    (cause, strength, weight): (Option<usize>, f64, f64),
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
    Cell { cause, strength, weight, mean, covariance, shown, rough: (middle, spread, runs) }
}

/// How the readings of a cell move with strength: from the nearest cells of the same cause on the
/// same side.
fn slope(cells: &[Cell], cell: &Cell, tasks: &[Task]) -> Option<(Vec<f64>, f64)> {
    let step =
        tasks.iter().find(|t| t.strength == cell.strength && t.kind.is_some()).map(|t| t.step)?;
    let near = |other: &&Cell| {
        other.cause == cell.cause
            && other.strength.signum() == cell.strength.signum()
            && (other.strength - cell.strength).abs() < 1.5 * step
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
    Some(((0..cell.mean.len()).map(each).collect(), step))
}
