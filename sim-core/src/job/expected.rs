//! What a meter should show, and how far a sound car may be off.

use super::reading::Place;
use crate::diagnose::car::{Asked, Car, Law};
use crate::diagnose::causes::{Changed, Named, causes_of};
use crate::diagnose::sheet::Slot;
use crate::noise::Noise;
use crate::rig::Rig;

/// Share of sound cars whose reading lies within the tolerance.
pub const SHARE: f64 = 0.95;
/// Seed of the sound cars, and of their meters; no trial draws from them.
const SEEDS: (u64, u64) = (0x0b5e_e7e5, 0x0b5e_e7e6);
/// Sound cars that are drawn; those that readings which take a run in time are worked out of.
/// [`SHARE`] of one more than either is a whole number.
const CARS: (u64, u64) = (199, 39);
/// Causes that are named on each side of a reading.
const NAMED: usize = 2;

/// What a reading should be.
#[derive(Clone, Debug, PartialEq)]
pub struct Expected {
    /// The rig's own, of all lines their mean, in the reading's unit.
    pub value: f64,
    /// Each line's own; one value where there is but one.
    pub each: Vec<f64>,
    /// How far a sound car's may be off either way.
    pub tolerance: f64,
    /// The least and most that it then is.
    pub low: f64,
    /// See `low`.
    pub high: f64,
    /// Causes that bring it below, the one that does most first.
    pub below: Vec<&'static str>,
    /// Causes that bring it above.
    pub above: Vec<&'static str>,
}

impl Expected {
    /// Whether a line's reading lies within the tolerance.
    pub fn holds(&self, line: usize, value: f64) -> bool {
        let own = self.each.get(line).copied().unwrap_or(self.value);
        (value - own).abs() <= self.tolerance
    }
}

/// What is worked out at once: a sound car by its item, or the rig with a cause.
#[derive(Clone, Copy)]
pub enum Task {
    /// The rig itself.
    Own,
    /// A sound car.
    Sound(u64),
    /// The rig with a cause of a strength.
    With(Named, f64),
}

/// Readings of a task: for each place the values of its lines, NaN for what is not shown.
pub type Shown = Option<Vec<Vec<f64>>>;

/// Readings to be worked out on a rig.
pub struct Plan {
    base: Rig,
    asked: Asked,
    places: Vec<Place>,
    typical: Car,
}

impl Plan {
    /// For places on a rig. `None` if the rig does not idle at lambda 1.
    pub fn new(base: &Rig, asked: &Asked, places: Vec<Place>) -> Option<Plan> {
        let typical = Car::typical(base, asked)?;
        Some(Plan { base: *base, asked: *asked, places, typical })
    }

    /// Its places.
    pub fn places(&self) -> &[Place] {
        &self.places
    }

    /// The rig's own car.
    pub fn typical(&self) -> &Car {
        &self.typical
    }

    /// Everything that is to be worked out; none hangs on another.
    pub fn tasks(&self) -> Vec<Task> {
        let sound = (0..CARS.0).map(Task::Sound);
        let causes = causes_of(&self.base);
        // One of those that are there for each line stands for all.
        let firsts = causes.iter().filter(|named| named.line.is_none_or(|line| line == 0));
        let with = firsts.flat_map(|named| {
            let strengths = named.cause.references;
            let least = strengths.iter().copied().fold(f64::INFINITY, f64::min);
            let most = strengths.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let both = if least < 0.0 { vec![least, most] } else { vec![most] };
            both.into_iter().map(|strength| Task::With(*named, strength))
        });
        [Task::Own].into_iter().chain(sound).chain(with).collect()
    }

    /// Works on a task.
    pub fn work(&self, task: &Task) -> Shown {
        match task {
            Task::Own => Some(self.shown(&self.typical, &[], true)),
            Task::Sound(item) => {
                let car = Car::drawn(&self.base, &self.asked, SEEDS.0, *item, Law::Same)?;
                Some(self.shown(&car, &[], *item < CARS.1))
            }
            Task::With(named, strength) => {
                Some(self.shown(&self.typical, &[(*named, *strength)], true))
            }
        }
    }

    /// What a car shows with causes; without `slow` nothing is run in time.
    pub fn shown(&self, car: &Car, causes: &[(Named, f64)], slow: bool) -> Vec<Vec<f64>> {
        let lines = self.base.parts().slits.width_m.len();
        let slots: Vec<Slot> = self
            .places
            .iter()
            .flat_map(|place| (0..place.lines(lines)).filter_map(|line| place.slot(line)))
            .collect();
        let mut values = car.shows(causes, &slots, true).0.into_iter();
        let setup = *car.setup();
        let mut changed = Changed { setup, other_fuel: 0.0, spark: None, injector: None };
        causes.iter().for_each(|(named, strength)| named.apply(&mut changed, *strength));
        self.places
            .iter()
            .map(|place| match place {
                Place::Slot(slot) => (0..place.lines(lines))
                    .map(|_| slot.kind.unscaled(values.next().unwrap_or(f64::NAN)))
                    .collect(),
                Place::Own(own) if own.slow && !slow => vec![f64::NAN],
                Place::Own(own) => vec![own.value(&changed.setup).unwrap_or(f64::NAN)],
            })
            .collect()
    }

    /// What is expected at each place, from what came of the tasks in their order. `classes` is
    /// what the meter of each place may be off, where it is known. `None` where the rig itself
    /// shows nothing.
    ///
    /// Equation: the tolerance is the k-th smallest of `|x_i - v|`, `k = 0.95 (n + 1)`. Symbols:
    /// `v` the rig's own value, `x_i` what a meter shows on the i-th of `n` sound cars. Valid
    /// range: cars of the spread of [`Car::drawn`]; of the next one 95 % lie within, whatever the
    /// distribution. Source: order statistics, Wilks, Ann. Math. Stat. 12, 91 (1941), from memory.
    pub fn expected(&self, shown: Vec<Shown>, classes: &[Option<f64>]) -> Vec<Option<Expected>> {
        let tasks = self.tasks();
        let mut own = Vec::new();
        let (mut sound, mut with) = (Vec::new(), Vec::new());
        for (task, shown) in tasks.iter().zip(shown) {
            match (task, shown) {
                (_, None) => {}
                (Task::Own, Some(values)) => own = values,
                (Task::Sound(item), Some(values)) => sound.push((*item, values)),
                (Task::With(named, _), Some(values)) => with.push((named.cause.name, values)),
            }
        }
        (0..self.places.len())
            .map(|at| {
                let each = own.get(at)?.clone();
                if each.iter().any(|value| !value.is_finite()) {
                    return None;
                }
                let class = classes.get(at).copied().flatten();
                let place = &self.places[at];
                let off = |line: usize| tolerance(place, (at, line), each[line], &sound, class);
                let tolerance = (0..each.len()).map(off).fold(0.0, f64::max);
                let value = each.iter().sum::<f64>() / each.len() as f64;
                let (least, most) = place.ends();
                let named = |above: bool| named(&with, at, (each[0], tolerance), above);
                let ends = |sign: f64| {
                    let end = each.iter().map(|own| own + sign * tolerance);
                    end.fold(
                        sign * f64::NEG_INFINITY,
                        |a, b| if sign > 0.0 { a.max(b) } else { a.min(b) },
                    )
                };
                // What cannot be below 0 is not.
                let floor = if value >= 0.0 && place.unit() != "turns" { 0.0 } else { least };
                Some(Expected {
                    low: ends(-1.0).max(least).max(floor),
                    high: ends(1.0).min(most),
                    below: named(false),
                    above: named(true),
                    value,
                    each,
                    tolerance,
                })
            })
            .collect()
    }
}

fn tolerance(
    place: &Place,
    (at, line): (usize, usize),
    own: f64,
    sound: &[(u64, Vec<Vec<f64>>)],
    class: Option<f64>,
) -> f64 {
    let (least, most) = place.ends();
    let mut off: Vec<f64> = sound
        .iter()
        .filter(|(_, values)| values[at][line].is_finite())
        .map(|(item, values)| {
            let value = values[at][line];
            let mut noise = Noise::new(SEEDS.1 + 1000 * at as u64 + line as u64, *item);
            let read = value + place.meter_sigma(value, class) * noise.normal();
            (read.clamp(least, most) - own).abs()
        })
        .collect();
    off.sort_by(f64::total_cmp);
    // A hair less: what is a whole number is not rounded up.
    let rank = (SHARE * (off.len() + 1) as f64 - 1e-9).ceil() as usize;
    off.get(rank.clamp(1, off.len().max(1)) - 1).copied().unwrap_or(f64::NAN)
}

/// Causes that bring a reading out of its tolerance to one side, the one that does most first.
fn named(
    with: &[(&'static str, Vec<Vec<f64>>)],
    at: usize,
    (own, tolerance): (f64, f64),
    above: bool,
) -> Vec<&'static str> {
    let sign = if above { 1.0 } else { -1.0 };
    let mut moved: Vec<(&'static str, f64)> = with
        .iter()
        .map(|(name, values)| (*name, sign * (values[at][0] - own)))
        .filter(|(_, by)| *by > tolerance)
        .collect();
    moved.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut names: Vec<&'static str> = Vec::new();
    for (name, _) in moved {
        if !names.contains(&name) && names.len() < NAMED {
            names.push(name);
        }
    }
    names
}
