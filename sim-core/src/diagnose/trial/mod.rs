//! How good the diagnosis is: cars with a cause that is known, read with meters that err.

mod hidden;
pub mod observer;
mod play;
mod scores;

pub use hidden::{EAR_SIGMA, Hidden, item};
pub use scores::{BIN_LEAST, Bin, CALLED, Places, Scores, bins, worst};

use super::car::OTHER_LAWS;
use super::checks::CHECKS;
use super::library::Library;
use super::posterior::{Evidence, Posterior, Read, weigh};
use crate::noise::Noise;
use crate::rig::Rig;
use observer::Observer;

/// Certainty at which checks end.
pub const CERTAIN: f64 = 0.9;
/// Bins of the calibration.
pub const BINS: usize = 10;
/// One car in so many is played check by check.
const PLAYED_EVERY: u64 = 2;
/// How many times each car is read on a part of the sheet, each time anew: what is said of it
/// counts for the calibration.
const PARTS_READ: u64 = 6;

/// What a car of a trial is drawn for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Role {
    /// A single cause.
    Single,
    /// A sound car.
    Sound,
    /// Two causes.
    Pair,
    /// A single cause, under another law: its index in [`OTHER_LAWS`].
    Other(usize),
}

/// How many cars of each role there are for so many with a single cause.
pub fn roles(cars: u64) -> Vec<(Role, u64)> {
    let third = cars.div_ceil(3);
    let mut roles = vec![(Role::Single, cars), (Role::Sound, third), (Role::Pair, third)];
    let sixth = cars.div_ceil(6);
    roles.extend((0..OTHER_LAWS.len()).map(|law| (Role::Other(law), sixth)));
    roles
}

/// A probability that was said, and whether it was so.
pub type Said = (f64, bool);

/// What came of a car.
#[derive(Clone, Debug)]
pub struct Tried {
    /// What it was drawn for.
    pub role: Role,
    /// Its causes by index.
    pub causes: Vec<usize>,
    /// Their strengths.
    pub strengths: Vec<f64>,
    /// Place of the true cause in the ranking (from 0), or the later of two; none counts.
    pub place: usize,
    /// Index of what was first (the last is none).
    pub first: usize,
    /// What was said on the whole sheet of each cause and none.
    pub said: Vec<Said>,
    /// What was said on parts of the sheet.
    pub said_on_parts: Vec<Said>,
    /// Place of the true cause with an observer who knows the model, where there is one.
    pub observed: Option<usize>,
    /// Checks to certainty, and in the fixed order; none if it was not played.
    pub checks: Option<(usize, usize)>,
}

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
    let (posterior, said) = says(&reads, ear);
    let ranked = ranking(&posterior);
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
        first: ranked[0],
        said,
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
