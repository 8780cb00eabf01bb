//! How good the diagnosis is: cars with a cause that is known, read with meters that err.

mod car_tried;
mod hidden;
pub mod observer;
mod play;
mod scores;

pub use car_tried::{Said, Tried};
pub use hidden::{EAR_SIGMA, Hidden, Role, item, roles};
pub use play::CERTAIN;
pub use scores::{BIN_LEAST, BINS, Bin, CALLED, Places, Scores, bins, worst, worst_errors};

use super::checks::CHECKS;
use super::library::Library;
use super::posterior::{Evidence, Posterior, Read, weigh};
use crate::noise::Noise;
use crate::rig::Rig;
use observer::Observer;

/// One car in so many is played check by check.
const PLAYED_EVERY: u64 = 2;
/// How many times each car is read on a part of the sheet, each time anew: what is said of it
/// counts for the calibration.
const PARTS_READ: u64 = 2;

/// Tries the car of a number in a role, with an observer beside it for single causes. `None` if
/// that draw does not idle.
pub fn tried(
    base: &Rig,
    library: &Library,
    observer: Option<&Observer>,
    (seed, role, number): (u64, Role, u64),
) -> Option<Tried> {
    let hidden = Hidden::drawn(base, library, (seed, role, number))?;
    let mut noise = Noise::new(seed ^ 0x5eed, item(role, number));
    Some(of(library, observer, &hidden, &mut noise, number.is_multiple_of(PLAYED_EVERY)))
}

/// Tries a car that was drawn.
pub fn of(
    library: &Library,
    observer: Option<&Observer>,
    hidden: &Hidden,
    noise: &mut Noise,
    played: bool,
) -> Tried {
    let single = hidden.role == Role::Single;
    let count = library.causes.len();
    let truth = hidden.truth(count);
    let says = |reads: &[Read], ear: &str| {
        let posterior = weigh(library, &Evidence { reads, ear: Some(ear) }, true);
        let said: Vec<Said> =
            (0..=count).map(|c| (posterior.present[c], truth.contains(&c))).collect();
        (posterior, said)
    };
    let (reads, ear) = hidden.read(library, noise);
    let whole = (hidden.role != Role::Further).then(|| says(&reads, ear));
    let ranked = whole.as_ref().map(|(posterior, _)| ranking(posterior)).unwrap_or_default();
    let places = truth.iter().filter_map(|t| ranked.iter().position(|r| r == t));
    let mut said_on_parts = Vec::new();
    let parts_read = if matches!(hidden.role, Role::Other(_)) { 0 } else { PARTS_READ };
    for _ in 0..parts_read {
        // The first look, and every other check with the same chance, which is anything.
        let chance = noise.uniform();
        let mut open = play::gives(CHECKS[0].name, library);
        for check in &CHECKS[1..] {
            if noise.uniform() < chance {
                open.extend(play::gives(check.name, library));
            }
        }
        let (mut reads, ear) = hidden.read(library, noise);
        reads.retain(|read| open.contains(&read.slot));
        said_on_parts.extend(says(&reads, ear).1);
    }
    Tried {
        role: hidden.role,
        causes: hidden.causes.clone(),
        strengths: hidden.strengths.clone(),
        place: places.max().unwrap_or(count),
        first: ranked.first().copied(),
        said: whole.map(|(_, said)| said).unwrap_or_default(),
        said_on_parts,
        observed: observer
            .filter(|_| single)
            .map(|observer| observer.place(hidden, &Evidence { reads: &reads, ear: Some(ear) })),
        checks: (single && played)
            .then(|| play::both(library, &Evidence { reads: &reads, ear: Some(ear) })),
    }
}

/// Causes by how probable they are; the last index is none.
pub fn ranking(posterior: &Posterior) -> Vec<usize> {
    let mut ranked: Vec<usize> = (0..posterior.shared.len()).collect();
    ranked.sort_by(|a, b| posterior.shared[*b].total_cmp(&posterior.shared[*a]));
    ranked
}
