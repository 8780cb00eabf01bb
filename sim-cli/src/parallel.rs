//! Work on all cores, with results in the order of the items whatever the number of cores.

use std::num::NonZero;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

/// Applies `work` to every item; `render` hears, on this thread, how many are done.
pub fn map<T: Sync, R: Send>(
    items: &[T],
    work: impl Fn(&T) -> R + Sync,
    mut render: impl FnMut(usize),
) -> Vec<R> {
    let threads = thread::available_parallelism().map_or(1, NonZero::get).min(items.len().max(1));
    let (next, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let results: Vec<Mutex<Option<R>>> = items.iter().map(|_| Mutex::new(None)).collect();
    let one = || {
        let at = next.fetch_add(1, Ordering::Relaxed);
        let item = items.get(at)?;
        let result = work(item);
        if let Ok(mut slot) = results[at].lock() {
            *slot = Some(result);
        }
        done.fetch_add(1, Ordering::Relaxed);
        Some(())
    };
    thread::scope(|scope| {
        for _ in 1..threads {
            scope.spawn(|| while one().is_some() {});
        }
        while one().is_some() {
            render(done.load(Ordering::Relaxed));
        }
    });
    results.into_iter().filter_map(|slot| slot.into_inner().ok().flatten()).collect()
}
