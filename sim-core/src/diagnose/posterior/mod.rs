//! From readings to the probability of each cause.

mod factor;
mod pairs;
mod signs;
mod tasks;
mod worths;

pub use signs::Speaks;
pub use worths::{Worth, missing_before_the_screw, worths};

pub(in crate::diagnose) use factor::{Factor, log_sum};

use super::library::{Cell, Library};
use crate::maths::normal_share_below;

/// Prior of a sound car, and of two causes at once; the rest is shared by single causes, each
/// alike. Our own: a car that is looked at, and the shares of cars that a trial draws.
pub const PRIOR_NONE: f64 = 0.2;
/// See [`PRIOR_NONE`].
pub const PRIOR_PAIR: f64 = 0.2;
/// How sharply the ear tells smooth from rough: standard deviation of the logarithm.
const EAR_SIGMA: f64 = 0.15;
/// How many of the causes that explain most alone are paired with every other: of two causes one
/// does more than the other, and is found alone first.
const PAIRED_WITH: usize = 8;
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
    /// How much less probable the best hypothesis with each cell is than the best of all (natural
    /// logarithm, 0 and below).
    pub reach: Vec<f64>,
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
    let mut reach = logs.clone();
    if pairs {
        let each = (PRIOR_PAIR / (0.5 * (count * (count - 1)) as f64)).ln();
        let mut alone: Vec<usize> = (0..count).collect();
        alone.sort_by(|a, b| weighed[b + 1].1.total_cmp(&weighed[a + 1].1));
        alone.truncate(PAIRED_WITH);
        let most = weighed.iter().map(|(_, log, _)| *log).fold(f64::NEG_INFINITY, f64::max);
        let likely = |a: usize, b: usize| alone.contains(&a) || alone.contains(&b);
        weighed.extend(evidence.pair_logs(
            library,
            (&factors, &shown, &of_cause),
            (each, most, &likely),
            &mut reach,
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
    let best = reach.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    reach.iter_mut().for_each(|log| *log -= best);
    Posterior { hypotheses, present, shared, cells, reach }
}
