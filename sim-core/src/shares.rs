//! Shares of several changes in what they do together.

/// The most changes that are shared out: twice the work for each more.
pub const CHANGES_MOST: usize = 12;

/// What each of some changes adds to each of some readings; for each reading they sum up to
/// what all changes do together.
///
/// `with` gives the readings with the changes whose bits are set made and no others, or `None`
/// where the engine does not run. Equation: share of `i` = mean over the orders in which the
/// changes can be made one by one of `v(before and i) - v(before)`. Symbols: `v` a reading with
/// a set of changes made. Orders that meet an engine that does not run are left out; `None` if
/// no order is left, or there are more than [`CHANGES_MOST`] changes. Valid range: any readings.
/// Source: Shapley, Contributions to the Theory of Games II (1953), 307: the one division that
/// is complete, treats equal changes equally and gives nothing to a change that does nothing.
///
/// ```
/// use sim_core::shares::shares;
/// // 3 from the first, 1 from the second, and 2 more if both are made.
/// let with = |made: u32| Some([f64::from([0, 3, 1, 6][made as usize])]);
/// assert_eq!(shares(2, with), Some(vec![[4.0], [2.0]]));
/// ```
pub fn shares<const N: usize>(
    count: usize,
    with: impl Fn(u32) -> Option<[f64; N]>,
) -> Option<Vec<[f64; N]>> {
    if count > CHANGES_MOST {
        return None;
    }
    let all = (1_usize << count) - 1;
    let values: Vec<_> = (0..=all).map(|made| with(made as u32)).collect();
    // In how many orders a set is reached from none, and all from a set.
    let mut reached = vec![0.0; all + 1];
    let mut onward = vec![0.0; all + 1];
    let runs = |made: usize| values[made].is_some();
    let one_of = |made: usize| (0..count).filter(move |i| made >> i & 1 == 1);
    reached[0] = f64::from(runs(0));
    for made in 1..=all {
        if runs(made) {
            reached[made] = one_of(made).map(|i| reached[made ^ (1 << i)]).sum();
        }
    }
    onward[all] = f64::from(runs(all));
    for made in (0..all).rev() {
        if runs(made) {
            onward[made] = one_of(all ^ made).map(|i| onward[made | (1 << i)]).sum();
        }
    }
    let orders = reached[all];
    if orders == 0.0 {
        return None;
    }
    let mut shares = vec![[0.0; N]; count];
    for made in 0..=all {
        let Some(before) = &values[made] else { continue };
        for i in one_of(all ^ made) {
            let then = made | (1 << i);
            let Some(after) = &values[then] else { continue };
            let weight = reached[made] * onward[then] / orders;
            for n in 0..N {
                shares[i][n] += weight * (after[n] - before[n]);
            }
        }
    }
    Some(shares)
}
