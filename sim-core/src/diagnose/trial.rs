//! How good the diagnosis is: cars with a cause that is known, read with meters that err.

use super::car::{Asked, Car, Law, OTHER_LAWS};
use super::causes::Named;
use super::checks::CHECKS;
use super::library::Library;
use super::posterior::{Evidence, Posterior, Read, weigh, worths};
use super::sheet::Slot;
use crate::noise::Noise;
use crate::rig::Rig;

/// Certainty at which checks end.
pub const CERTAIN: f64 = 0.9;
/// Bins of the calibration.
pub const BINS: usize = 10;
/// One car in so many is played check by check.
const PLAYED_EVERY: u64 = 2;

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
    /// What was said of each cause and none, and whether it was so.
    pub said: Vec<(f64, bool)>,
    /// Checks to certainty, and in the fixed order; none if it was not played.
    pub checks: Option<(usize, usize)>,
}

/// Tries the car of a number in a role. `None` if that draw does not idle or dies of its cause.
pub fn tried(
    base: &Rig,
    library: &Library,
    (seed, role, number): (u64, Role, u64),
) -> Option<Tried> {
    let law = match role {
        Role::Other(law) => OTHER_LAWS[law],
        _ => Law::Same,
    };
    let part = match role {
        Role::Single => 0,
        Role::Sound => 1,
        Role::Pair => 2,
        Role::Other(law) => 3 + law as u64,
    };
    let item = number * 16 + part;
    let asked = Asked::default();
    let car = Car::drawn(base, &asked, seed, item, law)?;
    let mut noise = Noise::new(seed ^ 0x7a11, item);
    let count = library.causes.len();
    let single = (number as usize) % count;
    let reference = (number as usize / count) % 3;
    let causes: Vec<(usize, f64)> = match role {
        Role::Sound => Vec::new(),
        Role::Pair => {
            let first = (noise.uniform() * count as f64) as usize;
            let mut second = (noise.uniform() * (count - 1) as f64) as usize;
            second += usize::from(second >= first);
            let mut strength = |cause: usize| {
                let three = library.causes[cause].cause.references;
                three[(noise.uniform() * 3.0) as usize]
            };
            vec![(first, strength(first)), (second, strength(second))]
        }
        _ => vec![(single, library.causes[single].cause.references[reference])],
    };
    let named: Vec<(Named, f64)> = causes.iter().map(|(c, s)| (library.causes[*c], *s)).collect();
    let (values, rough) = car.shows(&named, &library.slots, true);
    let reads: Vec<Read> = values
        .iter()
        .enumerate()
        .filter(|(_, value)| value.is_finite())
        .map(|(slot, value)| {
            let kind = &library.slots[slot].kind;
            let read = value + kind.meter_sigma(*value, None) * noise.normal();
            let (low, high) = kind.ends();
            Read { slot, value: read.clamp(low, high) }
        })
        .collect();
    let ear = match rough {
        rough if rough.is_nan() => "dies",
        rough if rough + 0.1 * noise.normal() > 0.0 => "rough",
        _ => "smooth",
    };
    let posterior = weigh(library, &Evidence { reads: &reads, ear: Some(ear) }, true);
    let truth: Vec<usize> = match causes.is_empty() {
        true => vec![count],
        false => causes.iter().map(|(cause, _)| *cause).collect(),
    };
    let ranked = ranking(&posterior);
    let place = truth.iter().filter_map(|t| ranked.iter().position(|r| r == t)).max()?;
    let said = (0..=count).map(|c| (posterior.present[c], truth.contains(&c))).collect();
    let plays = matches!(role, Role::Single) && number.is_multiple_of(PLAYED_EVERY);
    let checks = plays.then(|| {
        (
            play(library, &reads, ear, &|posterior, read| {
                worths(library, posterior, read)
                    .into_iter()
                    .find(|worth| worth.waits_for.is_none())
                    .map(|worth| worth.check.name)
            }),
            play(library, &reads, ear, &|_, read| {
                CHECKS.iter().find(|check| !done(check.name, library, read)).map(|c| c.name)
            }),
        )
    });
    Some(Tried {
        role,
        causes: causes.iter().map(|(c, _)| *c).collect(),
        strengths: causes.iter().map(|(_, s)| *s).collect(),
        place,
        first: ranked[0],
        said,
        checks,
    })
}

/// Causes by how probable they are; the last index is none.
pub fn ranking(posterior: &Posterior) -> Vec<usize> {
    let mut ranked: Vec<usize> = (0..posterior.shared.len()).collect();
    ranked.sort_by(|a, b| posterior.shared[*b].total_cmp(&posterior.shared[*a]));
    ranked
}

/// Slots of a check in a library.
fn gives(name: &str, library: &Library) -> Vec<usize> {
    let Some(check) = CHECKS.iter().find(|check| check.name == name) else { return Vec::new() };
    let here = |slot: &Slot| {
        let same = match slot.when {
            super::sheet::When::Running(taken) => taken == check.taken,
            super::sheet::When::Standing => true,
        };
        same && check.gives.contains(&slot.kind.name())
    };
    (0..library.slots.len()).filter(|d| here(&library.slots[*d])).collect()
}

fn done(name: &str, library: &Library, read: &[Slot]) -> bool {
    gives(name, library).iter().all(|d| read.iter().any(|known| known.is(&library.slots[*d])))
}

/// How many checks it takes from the first readings to certainty; all of them if it is not
/// reached.
fn play(
    library: &Library,
    reads: &[Read],
    ear: &str,
    next: &dyn Fn(&Posterior, &[Slot]) -> Option<&'static str>,
) -> usize {
    let mut open = gives(CHECKS[0].name, library);
    let mut checks = 0;
    loop {
        let known: Vec<Read> = reads.iter().copied().filter(|r| open.contains(&r.slot)).collect();
        let posterior = weigh(library, &Evidence { reads: &known, ear: Some(ear) }, false);
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

/// Scores of a trial.
#[derive(Clone, Debug)]
pub struct Scores {
    /// Cars with a single cause.
    pub cars: usize,
    /// Of these: the cause first, in the first three (%).
    pub first: f64,
    /// See `first`.
    pub first_three: f64,
    /// Pairs: both in the first five (%).
    pub pairs_first_five: f64,
    /// Sound cars in which a cause is called (%).
    pub false_alarms: f64,
    /// Sound cars in which any cause stands before none (%).
    pub none_not_first: f64,
    /// Probability said, how often it was so (%), how often it was said: by bins.
    pub calibration: Vec<(f64, f64, usize)>,
    /// Median of the checks to certainty, as they are asked for and in the fixed order.
    pub median_checks: (usize, usize),
    /// Each other law: cars, the cause first (%).
    pub other_laws: Vec<(Law, usize, f64)>,
    /// Each cause: cars, first, in the first three.
    pub by_cause: Vec<(usize, usize, usize)>,
}

/// Probability from which a cause is called: more likely than all else together, by half again.
pub const CALLED: f64 = 0.75;
/// What is said less often than this is not counted: of almost nothing almost nothing is true.
const SAID_LEAST: f64 = 0.01;
/// Statements that a bin needs for its distance to count.
pub const BIN_LEAST: usize = 20;

fn percent(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

fn median(mut values: Vec<usize>) -> usize {
    values.sort_unstable();
    values.get(values.len() / 2).copied().unwrap_or(0)
}

impl Scores {
    /// Those of cars that were tried, of so many causes.
    pub fn of(tried: &[Tried], causes: usize) -> Scores {
        let of = |role: Role| tried.iter().filter(move |car| car.role == role);
        let within = |role: Role, places: usize| {
            percent(of(role).filter(|car| car.place < places).count(), of(role).count())
        };
        let counted = |car: &&Tried| !matches!(car.role, Role::Other(_));
        let mut bins = [(0.0, 0usize, 0usize); BINS];
        for (said, is) in tried.iter().filter(counted).flat_map(|car| &car.said) {
            if *said >= SAID_LEAST {
                let bin = &mut bins[((said * BINS as f64) as usize).min(BINS - 1)];
                *bin = (bin.0 + said, bin.1 + usize::from(*is), bin.2 + 1);
            }
        }
        let calibration = bins
            .iter()
            .filter(|bin| bin.2 > 0)
            .map(|(said, is, count)| (said / *count as f64, percent(*is, *count), *count))
            .collect();
        let called = |car: &&Tried| car.said[..causes].iter().any(|(said, _)| *said >= CALLED);
        let played: Vec<(usize, usize)> = tried.iter().filter_map(|car| car.checks).collect();
        let by_cause = (0..causes)
            .map(|cause| {
                let own = || of(Role::Single).filter(move |car| car.causes == [cause]);
                let places = |places| own().filter(|car| car.place < places).count();
                (own().count(), places(1), places(3))
            })
            .collect();
        Scores {
            cars: of(Role::Single).count(),
            first: within(Role::Single, 1),
            first_three: within(Role::Single, 3),
            pairs_first_five: within(Role::Pair, 5),
            false_alarms: percent(of(Role::Sound).filter(called).count(), of(Role::Sound).count()),
            none_not_first: 100.0 - within(Role::Sound, 1),
            calibration,
            median_checks: (
                median(played.iter().map(|played| played.0).collect()),
                median(played.iter().map(|played| played.1).collect()),
            ),
            other_laws: OTHER_LAWS
                .iter()
                .enumerate()
                .map(|(i, law)| (*law, of(Role::Other(i)).count(), within(Role::Other(i), 1)))
                .collect(),
            by_cause,
        }
    }

    /// How far the worst bin is off (percentage points), of those with enough statements.
    pub fn worst_bin(&self) -> f64 {
        let enough = self.calibration.iter().filter(|bin| bin.2 >= BIN_LEAST);
        enough.map(|(said, is, _)| (100.0 * said - is).abs()).fold(0.0, f64::max)
    }
}
