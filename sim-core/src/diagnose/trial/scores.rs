//! How often what was said of a trial's cars was so.

use super::car_tried::{Said, Tried};
use super::hidden::Role;
use crate::diagnose::car::{Law, OTHER_LAWS};

/// Bins of the calibration.
pub const BINS: usize = 10;

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
    /// What was said on whole sheets and on parts of them, by bins.
    pub calibration: Vec<Bin>,
    /// What was said on whole sheets only.
    pub calibration_whole: Vec<Bin>,
    /// Median of the checks to certainty, as they are asked for and in the fixed order.
    pub median_checks: (usize, usize),
    /// Each other law: cars, the cause first (%).
    pub other_laws: Vec<(Law, usize, f64)>,
    /// Each cause: how it went with the cars that have it.
    pub by_cause: Vec<Places>,
    /// All of them.
    pub all: Places,
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
        let cars = || tried.iter().filter(counted);
        let calibration_whole = bins(cars().map(|car| car.said.iter()));
        let calibration = bins(cars().map(|car| car.said.iter().chain(&car.said_on_parts)));
        let called = |car: &&Tried| car.said[..causes].iter().any(|(said, _)| *said >= CALLED);
        let played: Vec<(usize, usize)> = tried.iter().filter_map(|car| car.checks).collect();
        let by_cause = (0..causes)
            .map(|cause| Places::of(of(Role::Single).filter(|car| car.causes == [cause])))
            .collect();
        Scores {
            cars: of(Role::Single).count(),
            first: within(Role::Single, 1),
            first_three: within(Role::Single, 3),
            pairs_first_five: within(Role::Pair, 5),
            false_alarms: percent(of(Role::Sound).filter(called).count(), of(Role::Sound).count()),
            none_not_first: 100.0 - within(Role::Sound, 1),
            calibration,
            calibration_whole,
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
            all: Places::of(of(Role::Single)),
        }
    }
}

/// How often a true cause was first and in the first three.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Places {
    /// Cars.
    pub cars: usize,
    /// Of these: the cause first.
    pub first: usize,
    /// In the first three.
    pub first_three: usize,
    /// First, and in the first three, with an observer who knows the model, where there is one.
    pub observed: Option<(usize, usize)>,
}

impl Places {
    fn of<'a>(cars: impl Iterator<Item = &'a Tried>) -> Places {
        let mut places = Places::default();
        for car in cars {
            places.cars += 1;
            places.first += usize::from(car.place < 1);
            places.first_three += usize::from(car.place < 3);
            if let Some(place) = car.observed {
                let (first, three) = places.observed.unwrap_or_default();
                let now = (first + usize::from(place < 1), three + usize::from(place < 3));
                places.observed = Some(now);
            }
        }
        places
    }
}

/// A bin of probabilities that were said.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bin {
    /// Their mean.
    pub said: f64,
    /// How often it was so (%).
    pub true_percent: f64,
    /// How many there were.
    pub count: usize,
    /// Of how many cars they were said.
    pub cars: usize,
    /// How far it would be off by chance alone, one standard error (percentage points).
    ///
    /// Equation: `100 sqrt(sum_c d_c^2) / n` with `d_c` the sum of what was said less what was so
    /// over the statements of car `c`; not below `100 sqrt(p (1 - p) / n)`. Symbols: `n`
    /// statements, `p` their mean. Valid range: cars that do not hang on each other, whatever the
    /// statements of one car do. Source: the variance of a sum of clusters, Cochran, Sampling
    /// Techniques, 3rd ed., ch. 9; from memory.
    pub by_chance: f64,
}

impl Bin {
    /// How far what was said is from what was so (percentage points); above 0 it was said too
    /// often.
    pub fn off(&self) -> f64 {
        100.0 * self.said - self.true_percent
    }

    /// The same in standard errors.
    pub fn errors_off(&self) -> f64 {
        self.off().abs() / self.by_chance
    }
}

/// What was said of one probability's bin, as it adds up.
#[derive(Clone, Copy, Default)]
struct Sum {
    said: f64,
    so: usize,
    count: usize,
    cars: usize,
    square: f64,
}

/// Puts what was said of each car into bins of equal width.
pub fn bins<'a, S: Iterator<Item = &'a Said>>(cars: impl Iterator<Item = S>) -> Vec<Bin> {
    let mut sums = [Sum::default(); BINS];
    for car in cars {
        let mut own = [(0.0, 0usize, 0usize); BINS];
        for (said, is) in car.filter(|(said, _)| *said >= SAID_LEAST) {
            let sum = &mut own[((said * BINS as f64) as usize).min(BINS - 1)];
            *sum = (sum.0 + said, sum.1 + usize::from(*is), sum.2 + 1);
        }
        for (sum, (said, so, count)) in sums.iter_mut().zip(own).filter(|(_, own)| own.2 > 0) {
            sum.said += said;
            sum.so += so;
            sum.count += count;
            sum.cars += 1;
            sum.square += (said - so as f64).powi(2);
        }
    }
    let bin = |sum: &Sum| {
        let count = sum.count as f64;
        let said = sum.said / count;
        Bin {
            said,
            true_percent: percent(sum.so, sum.count),
            count: sum.count,
            cars: sum.cars,
            by_chance: 100.0 * sum.square.max(said * (1.0 - said) * count).sqrt() / count,
        }
    };
    sums.iter().filter(|sum| sum.count > 0).map(bin).collect()
}

/// How far the worst bin is off (percentage points), of those with enough statements.
pub fn worst(bins: &[Bin]) -> f64 {
    let enough = bins.iter().filter(|bin| bin.count >= BIN_LEAST);
    enough.map(|bin| bin.off().abs()).fold(0.0, f64::max)
}

/// How many of its standard errors the worst bin of those with enough statements is off: by how
/// much more than chance does.
pub fn worst_errors(bins: &[Bin]) -> f64 {
    let enough = bins.iter().filter(|bin| bin.count >= BIN_LEAST);
    let worst = enough.max_by(|a, b| a.off().abs().total_cmp(&b.off().abs()));
    worst.map_or(0.0, Bin::errors_off)
}
