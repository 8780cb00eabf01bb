//! Work on all cores, with results in the order of the items whatever the number of cores.

use rayon::prelude::*;
use rayon::{ThreadPool, ThreadPoolBuilder};
use std::ops::Range;
use std::sync::{Mutex, OnceLock};

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
    // Each may take long, so each is handed out by itself: no core waits for another at the end.
    let together = || items.par_iter().with_max_len(1).map(&one).collect();
    on_cores(together, || items.iter().map(&one).collect())
}

/// Works on all cores; where no thread can be started, on the one there is.
fn on_cores<R: Send>(together: impl FnOnce() -> R + Send, alone: impl FnOnce() -> R) -> R {
    static POOL: OnceLock<Option<ThreadPool>> = OnceLock::new();
    let pool = POOL.get_or_init(|| ThreadPoolBuilder::new().build().ok());
    match pool {
        Some(pool) => pool.install(together),
        None => alone(),
    }
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
    let pieces = 0..count.div_ceil(PIECE);
    on_cores(
        || pieces.clone().into_par_iter().map(&piece).reduce(&none, &add),
        || pieces.clone().map(&piece).fold(none(), &add),
    )
}
