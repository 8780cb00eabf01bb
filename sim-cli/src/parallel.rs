//! Work on all cores, with results in the order of the items whatever the number of cores.

use rayon::prelude::*;
use std::ops::Range;
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

/// Items of one piece of a sum.
const PIECE: u64 = 25;

/// Works on the items from 0 to `count` in pieces and adds up what each gives. The order of
/// adding hangs on the cores: `add` must not mind it. Memory does not grow with `count`.
/// `show` hears how many items are done.
pub fn sum<R: Send>(
    count: u64,
    work: impl Fn(Range<u64>) -> R + Sync,
    add: impl Fn(R, R) -> R + Sync + Send,
    none: impl Fn() -> R + Sync + Send,
    show: impl FnMut(u64) + Send,
) -> R {
    let done = Mutex::new((0, show));
    let piece = |i: u64| {
        let items = i * PIECE..((i + 1) * PIECE).min(count);
        let size = items.end - items.start;
        let result = work(items);
        if let Ok(mut done) = done.lock() {
            done.0 += size;
            let (count, show) = &mut *done;
            show(*count);
        }
        result
    };
    (0..count.div_ceil(PIECE)).into_par_iter().map(piece).reduce(none, add)
}
