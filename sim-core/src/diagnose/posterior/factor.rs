//! A covariance made ready for densities: its Cholesky factor, and the multivariate t.

/// Degrees of freedom of the multivariate t: tails for what no model foresees.
const FREEDOM: f64 = 30.0;

/// The lower triangle of a Cholesky factor, column by column, with its log determinant.
pub(in crate::diagnose) struct Factor {
    n: usize,
    lower: Vec<f64>,
    pub(in crate::diagnose) log_det: f64,
}

impl Factor {
    /// That of a covariance of so many columns, for some of them.
    pub(in crate::diagnose) fn of(covariance: &[f64], columns: usize, slots: &[usize]) -> Factor {
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
    pub(in crate::diagnose) fn size2(&self, x: &mut [f64]) -> f64 {
        self.size2_up_to(x, f64::INFINITY)
    }

    /// The same; once it is more than `most` it ends, with what there is till then.
    pub(in crate::diagnose) fn size2_up_to(&self, x: &mut [f64], most: f64) -> f64 {
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
    pub(in crate::diagnose) fn size2_of(&self, log_density: f64) -> f64 {
        FREEDOM * (-2.0 * (log_density + 0.5 * self.log_det) / (FREEDOM + self.n as f64)).exp_m1()
    }

    /// Logarithm of the density of a multivariate t, without what all share.
    pub(in crate::diagnose) fn log_density(&self, size2: f64) -> f64 {
        -0.5 * self.log_det - 0.5 * (FREEDOM + self.n as f64) * (size2 / FREEDOM).ln_1p()
    }
}

pub(in crate::diagnose) fn log_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln()
}
