//! A car played check by check, from the first readings to certainty.

use crate::diagnose::checks::CHECKS;
use crate::diagnose::library::Library;
use crate::diagnose::posterior::{Evidence, Posterior, Read, weigh, worths};
use crate::diagnose::sheet::{Slot, When};

/// Certainty at which checks end.
pub const CERTAIN: f64 = 0.9;

/// Slots of a check in a library.
pub(super) fn gives(name: &str, library: &Library) -> Vec<usize> {
    let Some(check) = CHECKS.iter().find(|check| check.name == name) else { return Vec::new() };
    let here = |slot: &Slot| {
        let same = match slot.when {
            When::Running(taken) => taken == check.taken,
            When::Standing => true,
        };
        same && check.gives.contains(&slot.kind.name())
    };
    (0..library.slots.len()).filter(|d| here(&library.slots[*d])).collect()
}

/// Checks to certainty as they are asked for, and in the fixed order.
pub(super) fn both(library: &Library, all: &Evidence<'_>) -> (usize, usize) {
    let asked = |posterior: &Posterior, read: &[Slot]| {
        let worths = worths(library, posterior, read);
        worths.into_iter().find(|worth| worth.waits_for.is_none()).map(|worth| worth.check.name)
    };
    let fixed = |_: &Posterior, read: &[Slot]| {
        CHECKS.iter().find(|check| !done(check.name, library, read)).map(|check| check.name)
    };
    (play(library, all, &asked), play(library, all, &fixed))
}

fn done(name: &str, library: &Library, read: &[Slot]) -> bool {
    gives(name, library).iter().all(|d| read.iter().any(|known| known.is(&library.slots[*d])))
}

/// How many checks it takes from the first readings to certainty; all of them if it is not
/// reached.
fn play(
    library: &Library,
    all: &Evidence<'_>,
    next: &dyn Fn(&Posterior, &[Slot]) -> Option<&'static str>,
) -> usize {
    let mut open = gives(CHECKS[0].name, library);
    let mut checks = 0;
    loop {
        let known: Vec<Read> =
            all.reads.iter().copied().filter(|r| open.contains(&r.slot)).collect();
        let posterior = weigh(library, &Evidence { reads: &known, ear: all.ear }, false);
        let most = posterior.present.iter().copied().fold(0.0, f64::max);
        if most >= CERTAIN {
            return checks;
        }
        let slots: Vec<Slot> = open.iter().map(|d| library.slots[*d]).collect();
        let Some(name) = next(&posterior, &slots) else { return CHECKS.len() };
        open.extend(gives(name, library));
        open.sort_unstable();
        open.dedup();
        checks += 1;
    }
}
