//! Two causes at once.

use super::Evidence;
use super::factor::{Factor, log_sum};
use crate::diagnose::library::Library;

/// Two strengths that explain the readings so many times worse than the best (natural logarithm)
/// are left out.
const BELOW: f64 = 20.0;

impl Evidence<'_> {
    /// Logarithms of pairs: what two causes do adds up, between the ends of the meters; the spread is
    /// that of the one that does more.
    pub(super) fn pair_logs(
        &self,
        library: &Library,
        (factors, shown, of_cause): (&[Factor], &[f64], &[Vec<usize>]),
        (each, most, likely): (f64, f64, &dyn Fn(usize, usize) -> bool),
        reach: &mut [f64],
    ) -> Vec<(Vec<usize>, f64, Vec<usize>)> {
        let cells = &library.cells;
        let sound = &cells[0];
        let n = self.reads.len();
        let moved: Vec<Vec<f64>> = cells
            .iter()
            .map(|cell| self.reads.iter().map(|r| cell.mean[r.slot] - sound.mean[r.slot]).collect())
            .collect();
        let size: Vec<f64> = moved.iter().map(|m| factors[0].size2(&mut m.clone())).collect();
        let ends: Vec<(f64, f64)> =
            self.reads.iter().map(|read| library.slots[read.slot].kind.ends()).collect();
        let values: Vec<f64> = self.reads.iter().map(|read| read.value).collect();
        let base: Vec<f64> = self.reads.iter().map(|read| sound.mean[read.slot]).collect();
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
                        let other =
                            shown[i].min(shown[j]) + (cells[i].weight * cells[j].weight).ln();
                        let most = factors[by].size2_of(least - each - other);
                        let size2 = factors[by].size2_up_to(&mut x, most);
                        if size2 > most {
                            continue;
                        }
                        let log = factors[by].log_density(size2) + other;
                        if log > best.0 {
                            best = (log, i, j);
                        }
                        for cell in [i, j] {
                            reach[cell] = reach[cell].max(each + log);
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
}
