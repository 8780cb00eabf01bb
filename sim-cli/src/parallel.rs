//! Work on all cores, with results in the order of the items whatever the number of cores.

use rayon::prelude::*;
use std::sync::Mutex;

/// Applies `work` to every item; `show` hears after each how many are done.
pub fn map<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(&T) -> R + Sync,
    show: impl FnMut(usize) + Send,
) -> Vec<R> {
    let done = Mutex::new((0, show));
    let one = |item| {
        let result = work(item);
        if let Ok(mut done) = done.lock() {
            done.0 += 1;
            let (count, show) = &mut *done;
            show(*count);
        }
        result
    };
    items.par_iter().map(one).collect()
}
