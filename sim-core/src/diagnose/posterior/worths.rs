//! What each check would tell.

use super::Posterior;
use crate::diagnose::checks::{BEFORE_THE_SCREW, CHECKS, Check, cost};
use crate::diagnose::library::Library;
use crate::diagnose::sheet::{Slot, When};

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
            if cell.cause.unwrap_or(count) == cause && cell.weight > 0.0 {
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
