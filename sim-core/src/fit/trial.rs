//! How good the fit is: cars whose parts are known, read with meters that err.

use super::model::{Shown, shows};
use super::parameters::{Car, Space};
use super::posterior::{Fitted, fit};
use super::question::{EAR_SIGMA, Mark, Question, Read};
use crate::diagnose::car::{Law, OTHER_LAWS};
use crate::diagnose::sheet::{Slot, Taken};
use crate::engine::flame::{FLAME_LAWS, FlameLaw};
use crate::noise::Noise;
use crate::rig::keys::Setup;

/// Half width of a 90 % interval (standard errors).
pub const NINETY: f64 = 1.644_853_626_951_472_7;

/// The screw an eighth of a turn out and in, to hear the edges.
const OUT: Taken = Taken { plugged: false, fast: false, screw_turns: -0.0625 };
const IN: Taken = Taken { screw_turns: 0.125, ..OUT };

/// The sheet of a trial: twelve readings of the running engine, one of the standing one.
pub const SHEET: [(&str, Taken); 13] = [
    ("duty_percent", Taken::IDLE),
    ("potentiometer_v", Taken::IDLE),
    ("vacuum_bar", Taken::IDLE),
    ("idle_valve_percent", Taken::IDLE),
    ("lambda", Taken::IDLE),
    ("system_bar", Taken::IDLE),
    ("co_percent", Taken::UNPLUGGED),
    ("potentiometer_v", Taken::UNPLUGGED),
    ("duty_percent", Taken::FAST),
    ("potentiometer_v", Taken::FAST),
    ("co_percent", IN),
    ("lambda", OUT),
    ("flow_start_turns", Taken::IDLE),
];

/// The question of a trial's sheet, without values yet.
pub fn question(setup: &Setup) -> Question {
    let mut question = Question::of(setup);
    let slots = SHEET.iter().filter_map(|(name, taken)| Slot::of(name, *taken));
    question.reads = slots.map(|slot| Read { slot, value: 0.0, sigma: 1.0 }).collect();
    question.marks = [Taken::UNPLUGGED, OUT, IN].map(|taken| Mark { taken, rough: false }).into();
    question
}

/// A car whose parts are known.
#[derive(Clone, Debug)]
pub struct Hidden {
    /// Its parameters in spreads, under the same law.
    pub at: Vec<f64>,
    /// Its flame law.
    pub flame: FlameLaw,
    /// The car; another law is in it.
    pub car: Car,
}

/// How far a plunger that sticks holds the mixture off (turns).
const STICKS_TURNS: f64 = 0.01;

/// Draws the car of a number. `None` if it makes no engine.
pub fn hidden(space: &Space, seed: u64, number: u64, law: Law) -> Option<Hidden> {
    let mut noise = Noise::new(seed ^ 0xf17, number);
    let flame = FLAME_LAWS[(noise.uniform() * FLAME_LAWS.len() as f64) as usize];
    let at: Vec<f64> = space.coordinates().iter().map(|_| noise.normal()).collect();
    let mut car = space.car(&at, flame)?;
    let rig = car.setup.rig.with_parts_beyond_ranges(|parts| match law {
        Law::Scatter => {
            parts.burn.scatter_deg *= 1.5;
            parts.burn.fuel_scatter *= 1.5;
        }
        Law::Friction => parts.rubbing_scale *= 1.25,
        Law::Unlisted => parts.accessories_pa += 0.35e5,
        _ => {}
    });
    car.setup.rig = rig.ok()?;
    if law == Law::Flame {
        car.setup.conditions.flame = FlameLaw::Gulder;
    }
    if law == Law::Friction {
        car.screw_turns += STICKS_TURNS;
    }
    Some(Hidden { at, flame, car })
}

/// The question of a car as meters that err and an ear that errs have it. `None` if it does not
/// idle.
pub fn read(question: &Question, car: &Car, noise: &mut Noise) -> Option<Question> {
    let states = question.states();
    let Shown { values, rough } = shows(question, &states, car)?;
    let mut read = question.clone();
    read.reads = question
        .reads
        .iter()
        .zip(&values)
        .filter_map(|(asked, value)| {
            // Drawn whether it is shown or not: what follows stays the same.
            let off = noise.normal();
            value.is_finite().then(|| {
                let kind = asked.slot.kind;
                let sigma = super::question::sigma(&kind, *value, None);
                let (low, high) = kind.ends();
                let value = (value + sigma * off).clamp(low, high);
                Read { slot: asked.slot, value, sigma: super::question::sigma(&kind, value, None) }
            })
        })
        .collect();
    read.marks = states
        .iter()
        .zip(&rough)
        .filter_map(|(taken, rough)| {
            let heard = rough + EAR_SIGMA * noise.normal();
            let asked = question.marks.iter().any(|mark| mark.taken == *taken);
            (asked && rough.is_finite()).then_some(Mark { taken: *taken, rough: heard > 0.0 })
        })
        .collect();
    Some(read)
}

/// What came of a parameter of a car.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Off {
    /// Its place.
    pub place: usize,
    /// Whether the readings told it.
    pub identified: bool,
    /// How far the fit is off, in standard errors.
    pub errors: f64,
    /// Standard error against the prior's spread.
    pub spreads: f64,
}

/// What came of a car.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// Its law.
    pub law: Law,
    /// Its parameters.
    pub off: Vec<Off>,
    /// Whether the law of its flame was kept, and how probable it was said to be.
    pub flame: (bool, f64),
    /// Readings that were put out of place.
    pub out_of_place: usize,
}

/// Tries the car of a number. `None` if it does not idle.
pub fn tried(question: &Question, (seed, number, law): (u64, u64, Law)) -> Option<Tried> {
    let space = Space::of(&question.setup, question.each_line());
    let hidden = hidden(&space, seed, number, law)?;
    let read = read(question, &hidden.car, &mut Noise::new(seed ^ 0x5ead, number))?;
    let found: Fitted = fit(&read)?;
    let off = |told: &super::posterior::Told| Off {
        place: told.place,
        identified: told.identified,
        errors: (found.at[told.place] - hidden.at[told.place]) / told.spreads,
        spreads: told.spreads,
    };
    let flame = hidden.car.setup.conditions.flame;
    Some(Tried {
        law,
        off: found.parameters.iter().map(off).collect(),
        flame: (found.flame == flame, found.laws[flame as usize]),
        out_of_place: found.out_of_place.len(),
    })
}

/// How well a parameter is found.
#[derive(Clone, Debug, PartialEq)]
pub struct Score {
    /// Its place.
    pub place: usize,
    /// Cars in which it was told.
    pub told: usize,
    /// Of these, the truth within the 90 % interval (%).
    pub coverage: f64,
    /// Mean of how far it was off, in standard errors.
    pub bias: f64,
    /// Standard error against the prior's spread, the median.
    pub spreads: f64,
}

/// Scores of a trial under one law.
#[derive(Clone, Debug, PartialEq)]
pub struct Scores {
    /// The law.
    pub law: Law,
    /// Cars.
    pub cars: usize,
    /// Truth within the 90 % interval over all parameters told (%).
    pub coverage: f64,
    /// Each parameter.
    pub parameters: Vec<Score>,
    /// Cars in which the flame law was kept (%), and how probable that was said to be (%).
    pub flame: (f64, f64),
    /// Readings put out of place, of a hundred cars.
    pub out_of_place: f64,
}

/// The laws of a trial: the same, then every other.
pub fn laws() -> impl Iterator<Item = Law> {
    std::iter::once(Law::Same).chain(OTHER_LAWS)
}

fn percent(part: usize, of: usize) -> f64 {
    100.0 * part as f64 / of.max(1) as f64
}

impl Scores {
    /// Those of cars that were tried under a law.
    pub fn of(tried: &[Tried], law: Law) -> Scores {
        let cars: Vec<&Tried> = tried.iter().filter(|car| car.law == law).collect();
        let places: Vec<usize> =
            cars.first().map_or(Vec::new(), |car| car.off.iter().map(|off| off.place).collect());
        let parameters = places
            .iter()
            .map(|place| {
                let told: Vec<&Off> = cars
                    .iter()
                    .flat_map(|car| &car.off)
                    .filter(|off| off.place == *place && off.identified)
                    .collect();
                let within = told.iter().filter(|off| off.errors.abs() <= NINETY).count();
                let mut spreads: Vec<f64> = told.iter().map(|off| off.spreads).collect();
                spreads.sort_by(f64::total_cmp);
                let count = told.len();
                Score {
                    place: *place,
                    told: count,
                    coverage: percent(within, count),
                    bias: told.iter().map(|off| off.errors).sum::<f64>() / count.max(1) as f64,
                    spreads: spreads.get(count / 2).copied().unwrap_or(f64::NAN),
                }
            })
            .collect();
        let told = cars.iter().flat_map(|car| &car.off).filter(|off| off.identified);
        let (within, count) = told.fold((0, 0), |(within, count), off| {
            (within + usize::from(off.errors.abs() <= NINETY), count + 1)
        });
        let kept = cars.iter().filter(|car| car.flame.0).count();
        let said: f64 = cars.iter().map(|car| car.flame.1).sum();
        let out: usize = cars.iter().map(|car| car.out_of_place).sum();
        Scores {
            law,
            cars: cars.len(),
            coverage: percent(within, count),
            parameters,
            flame: (percent(kept, cars.len()), 100.0 * said / cars.len().max(1) as f64),
            out_of_place: percent(out, cars.len()),
        }
    }
}
