//! Means and covariances over rows of readings, of which some may be missing.

/// Means over rows without what is missing, and how many there were.
pub(in crate::diagnose) fn means(rows: &[Vec<f64>], columns: usize) -> (Vec<f64>, Vec<f64>) {
    (0..columns)
        .map(|d| {
            let there = rows.iter().map(|row| row[d]).filter(|v| v.is_finite());
            let (sum, count) = there.fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
            (sum / f64::max(count, 1.0), count / rows.len().max(1) as f64)
        })
        .unzip()
}

/// Covariance over rows about their mean; what is missing counts as the mean.
pub(in crate::diagnose) fn covariance(rows: &[Vec<f64>], mean: &[f64]) -> Vec<f64> {
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
