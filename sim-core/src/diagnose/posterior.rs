//! From readings to the probability of each cause.

use super::checks::{BEFORE_THE_SCREW, CHECKS, Check, cost};
use super::library::{Cell, Library};
use super::sheet::{Slot, When};
use crate::maths::normal_share_below;

/// Prior of a sound car, and of two causes at once; the rest is shared by single causes, each
/// alike. Our own: a car that is looked at, and the shares of cars that a trial draws.
pub const PRIOR_NONE: f64 = 0.2;
/// See [`PRIOR_NONE`].
pub const PRIOR_PAIR: f64 = 0.2;
/// Degrees of freedom of the multivariate t: tails for what no model foresees.
const FREEDOM: f64 = 30.0;
/// How sharply the ear tells smooth from rough: standard deviation of the logarithm.
const EAR_SIGMA: f64 = 0.15;
/// How many of the causes that explain most alone are paired with every other: of two causes one
/// does more than the other, and is found alone first.
const PAIRED_WITH: usize = 8;
/// Two strengths that explain the readings so many times worse than the best (natural logarithm)
/// are left out.
const BELOW: f64 = 20.0;
/// From this share of engines on a reading counts as shown by all.
const SHOWN_BY_ALL: f64 = 0.9;
/// What no share is taken below: no reading alone rules a cause out.
const SHARE_LEAST: f64 = 1e-3;

/// A reading as it was taken, on its scale.
#[derive(Clone, Copy, Debug)]
pub struct Read {
    /// Index of its slot in the library.
    pub slot: usize,
    /// Value on the scale of its kind.
    pub value: f64,
}

/// A hypothesis and how probable it is.
#[derive(Clone, Debug)]
pub struct Weighed {
    /// The causes: none, one or two, by their indices.
    pub causes: Vec<usize>,
    /// Its probability.
    pub probability: f64,
    /// Strengths at their most probable.
    pub strengths: Vec<f64>,
    /// Index of the most probable cell of each.
    pub cells: Vec<usize>,
}

/// Probabilities of all hypotheses.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// All hypotheses, the most probable first.
    pub hypotheses: Vec<Weighed>,
    /// Probability that a cause is there, alone or with another: by index; the last is none.
    pub present: Vec<f64>,
    /// The same with that of a pair shared by its two: sums to 1.
    pub shared: Vec<f64>,
    /// Weight of each cell of the library, single causes only.
    pub cells: Vec<f64>,
}

/// The lower triangle of a Cholesky factor, column by column, with its log determinant.
pub(super) struct Factor {
    n: usize,
    lower: Vec<f64>,
    pub(super) log_det: f64,
}

impl Factor {
    /// That of a covariance of so many columns, for some of them.
    pub(super) fn of(covariance: &[f64], columns: usize, slots: &[usize]) -> Factor {
        let n = slots.len();
        let mut lower = vec![0.0; n * n];
        for (k, slot) in slots.iter().enumerate() {
            for (i, other) in slots.iter().enumerate().skip(k) {
                lower[k * n + i] = covariance[other * columns + slot];
            }
        }
        let mut log_det = 0.0;
        for k in 0..n {
            let (done, rest) = lower.split_at_mut((k + 1) * n);
            let own = &mut done[k * n..];
            let root = own[k].max(1e-18).sqrt();
            log_det += 2.0 * root.ln();
            own[k] = root;
            own[k + 1..].iter_mut().for_each(|entry| *entry /= root);
            for (j, column) in rest.chunks_exact_mut(n).enumerate() {
                let first = k + 1 + j;
                let by = own[first];
                for (entry, l) in column[first..].iter_mut().zip(&own[first..]) {
                    *entry -= by * l;
                }
            }
        }
        Factor { n, lower, log_det }
    }

    /// `|L^-1 x|^2`; `x` becomes `L^-1 x`.
    pub(super) fn size2(&self, x: &mut [f64]) -> f64 {
        self.size2_up_to(x, f64::INFINITY)
    }

    /// The same; once it is more than `most` it ends, with what there is till then.
    fn size2_up_to(&self, x: &mut [f64], most: f64) -> f64 {
        let mut size = 0.0;
        for (k, column) in self.lower.chunks_exact(self.n.max(1)).enumerate() {
            let (done, rest) = x.split_at_mut(k + 1);
            let own = done[k] / column[k];
            done[k] = own;
            size += own * own;
            if size > most {
                return size;
            }
            // Down the column: entries that do not wait for each other.
            for (entry, l) in rest.iter_mut().zip(&column[k + 1..]) {
                *entry -= own * l;
            }
        }
        size
    }

    /// The size whose log density this is; less than none if there is none so large.
    fn size2_of(&self, log_density: f64) -> f64 {
        FREEDOM * (-2.0 * (log_density + 0.5 * self.log_det) / (FREEDOM + self.n as f64)).exp_m1()
    }

    /// Logarithm of the density of a multivariate t, without what all share.
    fn log_density(&self, size2: f64) -> f64 {
        -0.5 * self.log_det - 0.5 * (FREEDOM + self.n as f64) * (size2 / FREEDOM).ln_1p()
    }
}

pub(super) fn log_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln()
}

/// Logarithm of how probable it is that what was read shows at all: that which is least probable
/// counts, since they come and go together.
pub(super) fn log_seen(shown: &[f64], reads: &[Read]) -> f64 {
    let least = reads.iter().map(|read| shown[read.slot]).fold(1.0, f64::min);
    if least < SHOWN_BY_ALL { least.max(SHARE_LEAST).ln() } else { 0.0 }
}

/// Logarithm of how probable it is that a cell's engine shows these readings at all, and sounds
/// so.
fn log_shown(cell: &Cell, evidence: &Evidence<'_>) -> f64 {
    let ear = evidence.ear;
    let mut log = log_seen(&cell.shown, evidence.reads);
    let (mean, variance, runs) = cell.rough;
    let smooth = normal_share_below(-mean / (variance + EAR_SIGMA * EAR_SIGMA).sqrt());
    if let Some(word) = ear {
        let share = match word {
            "smooth" => runs * smooth,
            "rough" => runs * (1.0 - smooth),
            "dies" => 1.0 - runs,
            // What makes it hunt is not worked out here.
            _ => runs,
        };
        log += share.max(SHARE_LEAST).ln();
    }
    log
}

/// The readings that are compared: their slots and values.
pub struct Evidence<'a> {
    /// The readings.
    pub reads: &'a [Read],
    /// What was heard.
    pub ear: Option<&'a str>,
}

/// Weighs every hypothesis, pairs if asked for.
pub fn weigh(library: &Library, evidence: &Evidence<'_>, pairs: bool) -> Posterior {
    let columns = library.slots.len();
    let slots: Vec<usize> = evidence.reads.iter().map(|read| read.slot).collect();
    let count = library.causes.len();
    let cells = &library.cells;
    let singles = 1.0 - PRIOR_NONE - if pairs { PRIOR_PAIR } else { 0.0 };
    let log_prior = |cell: &Cell| match cell.cause {
        None => PRIOR_NONE.ln(),
        Some(_) => (singles / count as f64 * cell.weight).ln(),
    };
    let factors: Vec<Factor> =
        cells.iter().map(|cell| Factor::of(&cell.covariance, columns, &slots)).collect();
    let off = |cell: &Cell| -> Vec<f64> {
        evidence.reads.iter().map(|read| read.value - cell.mean[read.slot]).collect()
    };
    let shown: Vec<f64> = cells.iter().map(|cell| log_shown(cell, evidence)).collect();
    let logs: Vec<f64> = cells
        .iter()
        .enumerate()
        .map(|(i, cell)| {
            let size2 = factors[i].size2(&mut off(cell));
            log_prior(cell) + factors[i].log_density(size2) + shown[i]
        })
        .collect();
    let mut of_cause: Vec<Vec<usize>> = vec![Vec::new(); count];
    for (i, cell) in cells.iter().enumerate() {
        if let Some(cause) = cell.cause {
            of_cause[cause].push(i);
        }
    }
    let mut weighed: Vec<(Vec<usize>, f64, Vec<usize>)> = vec![(Vec::new(), logs[0], Vec::new())];
    for (cause, own) in of_cause.iter().enumerate() {
        let own_logs: Vec<f64> = own.iter().map(|i| logs[*i]).collect();
        let best = own.iter().copied().max_by(|a, b| logs[*a].total_cmp(&logs[*b]));
        weighed.push((vec![cause], log_sum(&own_logs), best.into_iter().collect()));
    }
    if pairs {
        let each = (PRIOR_PAIR / (0.5 * (count * (count - 1)) as f64)).ln();
        let mut alone: Vec<usize> = (0..count).collect();
        alone.sort_by(|a, b| weighed[b + 1].1.total_cmp(&weighed[a + 1].1));
        alone.truncate(PAIRED_WITH);
        let most = weighed.iter().map(|(_, log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
        let likely = |a: usize, b: usize| alone.contains(&a) || alone.contains(&b);
        weighed.extend(pair_logs(
            library,
            evidence,
            (&factors, &shown, &of_cause),
            (each, most, &likely),
        ));
    }
    let all: Vec<f64> = weighed.iter().map(|(_, log, _)| *log).collect();
    let total = log_sum(&all);
    let mut hypotheses: Vec<Weighed> = weighed
        .into_iter()
        .map(|(causes, log, best)| Weighed {
            causes,
            probability: (log - total).exp(),
            strengths: best.iter().map(|i| cells[*i].strength).collect(),
            cells: best,
        })
        .collect();
    let (mut present, mut shared) = (vec![0.0; count + 1], vec![0.0; count + 1]);
    for hypothesis in &hypotheses {
        let part = hypothesis.probability / hypothesis.causes.len().max(1) as f64;
        for cause in &hypothesis.causes {
            present[*cause] += hypothesis.probability;
            shared[*cause] += part;
        }
        if hypothesis.causes.is_empty() {
            present[count] += hypothesis.probability;
            shared[count] += part;
        }
    }
    hypotheses.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let single = log_sum(&logs);
    let cells = logs.iter().map(|log| (log - single).exp()).collect();
    Posterior { hypotheses, present, shared, cells }
}

/// Logarithms of pairs: what two causes do adds up, between the ends of the meters; the spread is
/// that of the one that does more.
fn pair_logs(
    library: &Library,
    evidence: &Evidence<'_>,
    (factors, shown, of_cause): (&[Factor], &[f64], &[Vec<usize>]),
    (each, most, likely): (f64, f64, &dyn Fn(usize, usize) -> bool),
) -> Vec<(Vec<usize>, f64, Vec<usize>)> {
    let cells = &library.cells;
    let sound = &cells[0];
    let n = evidence.reads.len();
    let moved: Vec<Vec<f64>> = cells
        .iter()
        .map(|cell| evidence.reads.iter().map(|r| cell.mean[r.slot] - sound.mean[r.slot]).collect())
        .collect();
    let size: Vec<f64> = moved.iter().map(|m| factors[0].size2(&mut m.clone())).collect();
    let ends: Vec<(f64, f64)> =
        evidence.reads.iter().map(|read| library.slots[read.slot].kind.ends()).collect();
    let values: Vec<f64> = evidence.reads.iter().map(|read| read.value).collect();
    let base: Vec<f64> = evidence.reads.iter().map(|read| sound.mean[read.slot]).collect();
    let mut found = Vec::new();
    let mut x = vec![0.0; n];
    let mut least = most - BELOW;
    for a in 0..of_cause.len() {
        for b in (a + 1..of_cause.len()).filter(|b| likely(a, *b)) {
            let mut logs = Vec::with_capacity(64);
            let mut best = (f64::NEG_INFINITY, of_cause[a][0], of_cause[b][0]);
            for &i in &of_cause[a] {
                for &j in &of_cause[b] {
                    for d in 0..n {
                        let mean =
                            (base[d] + moved[i][d] + moved[j][d]).clamp(ends[d].0, ends[d].1);
                        x[d] = values[d] - mean;
                    }
                    let by = if size[i] > size[j] { i } else { j };
                    let other = shown[i].min(shown[j]) + (cells[i].weight * cells[j].weight).ln();
                    let most = factors[by].size2_of(least - each - other);
                    let size2 = factors[by].size2_up_to(&mut x, most);
                    if size2 > most {
                        continue;
                    }
                    let log = factors[by].log_density(size2) + other;
                    if log > best.0 {
                        best = (log, i, j);
                    }
                    logs.push(log);
                }
            }
            least = least.max(best.0 + each - BELOW);
            found.push((vec![a, b], each + log_sum(&logs), vec![best.1, best.2]));
        }
    }
    found
}

/// A reading that speaks for or against a cause.
#[derive(Clone, Debug)]
pub struct Speaks {
    /// Its slot.
    pub slot: usize,
    /// Its value, in its unit.
    pub value: f64,
    /// What the cause would show, and its standard deviation.
    pub expected: (f64, f64),
    /// What a sound car would show.
    pub sound: f64,
    /// Logarithm of how many times as probable it makes the cause, against a sound car.
    pub says: f64,
}

impl Library {
    /// Mean and standard deviation of a reading for cells, those after the first as what they
    /// add to a sound car.
    fn predicts(&self, cells: &[usize], slot: usize) -> (f64, f64) {
        let n = self.slots.len();
        let sound = &self.cells[0];
        let mut mean = sound.mean[slot];
        let mut variance = sound.covariance[slot * n + slot];
        for i in cells {
            mean += self.cells[*i].mean[slot] - sound.mean[slot];
            variance = variance.max(self.cells[*i].covariance[slot * n + slot]);
        }
        let (low, high) = self.slots[slot].kind.ends();
        (mean.clamp(low, high), variance.sqrt())
    }

    /// What each reading says for cells against the sound car; for the sound car, against the
    /// cells of `other`. The one that says most first.
    pub fn signs(&self, cells: &[usize], other: &[usize], reads: &[Read]) -> Vec<Speaks> {
        let log = |(mean, sigma): (f64, f64), value: f64| {
            -0.5 * ((value - mean) / sigma).powi(2).min(50.0) - sigma.ln()
        };
        let against: &[usize] = if cells.is_empty() { other } else { &[] };
        let mut signs: Vec<Speaks> = reads
            .iter()
            .map(|read| {
                let kind = &self.slots[read.slot].kind;
                let own = self.predicts(cells, read.slot);
                let compared = self.predicts(against, read.slot);
                let mean = kind.unscaled(own.0);
                let sigma = (kind.unscaled(own.0 + own.1) - mean).abs();
                Speaks {
                    slot: read.slot,
                    value: kind.unscaled(read.value),
                    expected: (mean, sigma),
                    sound: kind.unscaled(self.cells[0].mean[read.slot]),
                    says: log(own, read.value) - log(compared, read.value),
                }
            })
            .collect();
        signs.sort_by(|a, b| b.says.abs().total_cmp(&a.says.abs()));
        signs
    }
}

/// A check and what it is worth.
#[derive(Clone)]
pub struct Worth {
    /// The check.
    pub check: &'static Check,
    /// Information expected (nat).
    pub information: f64,
    /// Why it must wait, if it must.
    pub waits_for: Option<&'static str>,
    /// What is expected: causes by index (the last is none) with slot, mean and standard
    /// deviation on the slot's scale.
    pub expects: Vec<(usize, usize, f64, f64)>,
}

/// What must be read before the screw is moved and has not been; nothing if all has.
pub fn missing_before_the_screw(read: &[&str]) -> Option<&'static str> {
    let has = |names: &&[&str]| names.iter().any(|name| read.contains(name));
    BEFORE_THE_SCREW.iter().find(|(_, names)| !has(names)).map(|(what, _)| *what)
}

/// Every check of which readings are missing, the one worth most first. `sheet` is a library that
/// holds the checks' readings, `posterior` is over its causes and cells.
///
/// Equation: what a check tells, `I = -sum_i p_i ln sum_j p_j exp(-B_ij)`, `B` the Bhattacharyya
/// distance of what two causes would show, reading by reading. Symbols: `p` probabilities.
/// Valid range: a bound from below on the information for readings that are independent given
/// the cause; theirs are nearly. Source: Kolchinsky & Tracey, Entropy 19, 361 (2017), from memory.
pub fn worths(library: &Library, posterior: &Posterior, read: &[Slot]) -> Vec<Worth> {
    let n = library.slots.len();
    let count = library.causes.len();
    // What each cause would show: its cells as probable as they are now.
    let mut considered: Vec<(usize, f64)> =
        posterior.shared.iter().copied().enumerate().filter(|(_, p)| *p > 1e-4).collect();
    considered.sort_by(|a, b| b.1.total_cmp(&a.1));
    considered.truncate(24);
    let total: f64 = considered.iter().map(|(_, p)| p).sum();
    considered.iter_mut().for_each(|(_, p)| *p /= total);
    let predict = |cause: usize, slot: usize| {
        let (mut weight, mut mean, mut square) = (0.0, 0.0, 0.0);
        for (cell, w) in library.cells.iter().zip(&posterior.cells) {
            if cell.cause.unwrap_or(count) == cause {
                let w = w + 1e-12 * cell.weight;
                weight += w;
                mean += w * cell.mean[slot];
                square += w * (cell.covariance[slot * n + slot] + cell.mean[slot].powi(2));
            }
        }
        (mean / weight, (square / weight - (mean / weight).powi(2)).max(1e-18))
    };
    let names: Vec<&str> = read.iter().map(|slot| slot.kind.name()).collect();
    let mut worths: Vec<Worth> = CHECKS
        .iter()
        .filter_map(|check| {
            let gives: Vec<usize> = (0..n)
                .filter(|d| {
                    let slot = &library.slots[*d];
                    let here = match slot.when {
                        When::Running(taken) => taken == check.taken,
                        When::Standing => true,
                    };
                    here && check.gives.contains(&slot.kind.name())
                })
                .filter(|d| !read.iter().any(|known| known.is(&library.slots[*d])))
                .collect();
            if gives.is_empty() {
                return None;
            }
            let shown: Vec<Vec<(f64, f64)>> = considered
                .iter()
                .map(|(cause, _)| gives.iter().map(|slot| predict(*cause, *slot)).collect())
                .collect();
            let distance = |i: usize, j: usize| -> f64 {
                shown[i]
                    .iter()
                    .zip(&shown[j])
                    .map(|((a, va), (b, vb))| {
                        let sum = va + vb;
                        0.25 * (a - b).powi(2) / sum + 0.5 * (0.5 * sum / (va * vb).sqrt()).ln()
                    })
                    .sum()
            };
            let information = (0..considered.len())
                .map(|i| {
                    let near: f64 = (0..considered.len())
                        .map(|j| considered[j].1 * (-distance(i, j)).exp())
                        .sum();
                    -considered[i].1 * near.ln()
                })
                .sum();
            let waits_for =
                check.moves_the_screw.then(|| missing_before_the_screw(&names)).flatten();
            // The most probable cause, and those that the check tells from it best.
            let mut told: Vec<usize> = (1..considered.len()).collect();
            let apart = |i: usize| considered[i].1 * (1.0 - (-distance(0, i)).exp());
            told.sort_by(|a, b| apart(*b).total_cmp(&apart(*a)));
            let mut expects = Vec::new();
            for i in std::iter::once(0).chain(told).take(3) {
                for (at, slot) in gives.iter().enumerate() {
                    let (mean, variance) = shown[i][at];
                    expects.push((considered[i].0, *slot, mean, variance.sqrt()));
                }
            }
            Some(Worth { check, information, waits_for, expects })
        })
        .collect();
    let per_minute = |worth: &Worth| worth.information / cost(worth.check);
    worths.sort_by(|a, b| per_minute(b).total_cmp(&per_minute(a)));
    worths
}
