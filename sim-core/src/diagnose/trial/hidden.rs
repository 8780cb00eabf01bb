//! A trial's car: what it has, and what meters that err read of it.

use crate::diagnose::car::{Asked, Car, Law, OTHER_LAWS};
use crate::diagnose::causes::Named;
use crate::diagnose::library::Library;
use crate::diagnose::posterior::Read;
use crate::noise::Noise;
use crate::rig::Rig;

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
    /// Drawn as the first three are, as often each, and read on parts of the sheet only: for the
    /// calibration, where what is said of one car hangs together and only more cars tell more.
    Further,
}

/// Further cars for each car with a single cause that is scored.
const FURTHER: u64 = 4;
/// Of five further cars three have a single cause; one is sound, one has two causes.
const FIVE: [Role; 5] = [Role::Single, Role::Single, Role::Single, Role::Sound, Role::Pair];

/// How many cars of each role there are for so many with a single cause.
pub fn roles(cars: u64) -> Vec<(Role, u64)> {
    let third = cars.div_ceil(3);
    let mut roles = vec![(Role::Single, cars), (Role::Sound, third), (Role::Pair, third)];
    let sixth = cars.div_ceil(6);
    roles.extend((0..OTHER_LAWS.len()).map(|law| (Role::Other(law), sixth)));
    roles.push((Role::Further, FURTHER * cars));
    roles
}

/// How sharply a person's ear tells smooth from rough: standard deviation of the logarithm.
pub const EAR_SIGMA: f64 = 0.1;

/// A car whose causes are known.
#[derive(Clone, Debug)]
pub struct Hidden {
    /// What it was drawn for.
    pub role: Role,
    /// Its causes by index.
    pub causes: Vec<usize>,
    /// Their strengths.
    pub strengths: Vec<f64>,
    /// What each slot of the library shows, on its scale; NaN for what it does not show.
    pub values: Vec<f64>,
    /// How rough it is against what is called rough (logarithm); NaN if it does not run.
    pub rough: f64,
}

impl Hidden {
    /// The car of a number in a role. `None` if that draw does not idle.
    pub fn drawn(
        base: &Rig,
        library: &Library,
        (seed, role, number): (u64, Role, u64),
    ) -> Option<Hidden> {
        let law = match role {
            Role::Other(law) => OTHER_LAWS[law],
            _ => Law::Same,
        };
        let item = item(role, number);
        let car = Car::drawn(base, &Asked::default(), seed, item, law)?;
        let mut noise = Noise::new(seed ^ 0x7a11, item);
        let count = library.causes.len();
        let (drawn_as, nth) = match role {
            Role::Further => {
                let place = (number % 5) as usize;
                (FIVE[place], (number / 5) as usize * 3 + place.min(2))
            }
            _ => (role, number as usize),
        };
        let (single, reference) = (nth % count, (nth / count) % 3);
        let causes: Vec<(usize, f64)> = match drawn_as {
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
        let named: Vec<(Named, f64)> =
            causes.iter().map(|(c, s)| (library.causes[*c], *s)).collect();
        let (values, rough) = car.shows(&named, &library.slots, true);
        Some(Hidden {
            role,
            causes: causes.iter().map(|(c, _)| *c).collect(),
            strengths: causes.iter().map(|(_, s)| *s).collect(),
            values,
            rough,
        })
    }

    /// What is true of it, by index; the last of `count + 1` is none.
    pub fn truth(&self, count: usize) -> Vec<usize> {
        match self.causes.is_empty() {
            true => vec![count],
            false => self.causes.clone(),
        }
    }

    /// Its readings once, each by a meter that errs, and what is heard.
    pub fn read(&self, library: &Library, noise: &mut Noise) -> (Vec<Read>, &'static str) {
        let reads = self
            .values
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
        let ear = match self.rough {
            rough if rough.is_nan() => "dies",
            rough if rough + EAR_SIGMA * noise.normal() > 0.0 => "rough",
            _ => "smooth",
        };
        (reads, ear)
    }
}

/// Which of a seed's items a car is.
pub fn item(role: Role, number: u64) -> u64 {
    let part = match role {
        Role::Single => 0,
        Role::Sound => 1,
        Role::Pair => 2,
        Role::Other(law) => 3 + law as u64,
        Role::Further => 3 + OTHER_LAWS.len() as u64,
    };
    number * 16 + part
}
