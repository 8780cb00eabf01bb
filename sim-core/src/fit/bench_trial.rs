//! The advice played on hidden cars, beside the way of the ear.

use super::advise::{Act, Advice, Belief, HAND_HOUSING, HAND_TURNS, WANTED, Wanted, advise};
use super::model::{Stands, roughness};
use super::parameters::{Car, Space};
use super::posterior::fit;
use super::question::{EAR_SIGMA, Question, Read, sigma};
use super::trial::{Hidden, hidden, read};
use crate::diagnose::car::Law;
use crate::diagnose::sheet::{Slot, Taken};
use crate::noise::Noise;
use crate::point::State;
use crate::rig::keys::Setup;

/// The first look: what is read before the first move, ignition, leaks and pressure among it.
pub const FIRST_LOOK: [(&str, Taken); 9] = [
    ("duty_percent", Taken::IDLE),
    ("actuator_ma", Taken::IDLE),
    ("potentiometer_v", Taken::IDLE),
    ("vacuum_bar", Taken::IDLE),
    ("idle_valve_percent", Taken::IDLE),
    ("system_bar", Taken::IDLE),
    ("co_percent", Taken::UNPLUGGED),
    ("potentiometer_v", Taken::UNPLUGGED),
    ("lambda", Taken::UNPLUGGED),
];
/// What is read after a move.
const NEXT_LOOK: [(&str, Taken); 4] = [
    ("duty_percent", Taken::IDLE),
    ("actuator_ma", Taken::IDLE),
    ("potentiometer_v", Taken::IDLE),
    ("potentiometer_v", Taken::UNPLUGGED),
];
/// Moves after which it is given up.
const MOVES_MOST: usize = 12;
/// What is left of a move's effect on the trim when it is read: three time constants are waited.
const NOT_SETTLED: f64 = 0.05;
/// Share of the plunger's friction that a blip leaves.
const FRICTION_LEFT: f64 = 0.3;
/// Steps of the ear (turns), how far it looks for an edge (turns), how far it then goes lean.
const EAR: (f64, f64, f64) = (1.0 / 32.0, 0.5, 1.0 / 16.0);

/// A car on the bench: what it is, how far hands and friction have it off.
struct OnBench {
    car: Car,
    noise: Noise,
    /// What friction holds the screw off (turns).
    held: f64,
    /// What duty (%) and current (mA) showed before.
    before: [f64; 2],
}

impl OnBench {
    fn new(car: Car, noise: Noise) -> Option<OnBench> {
        let mut bench = OnBench { car, noise, held: 0.0, before: [50.0, 0.0] };
        bench.blip();
        let state = bench.state(Taken::IDLE)?.1;
        bench.before = [100.0 * state.duty, 1e3 * state.actuator_a];
        Some(bench)
    }

    fn stands(&self) -> Option<Stands> {
        let held = Car { screw_turns: self.car.screw_turns + self.held, ..self.car };
        Stands::of(&held)
    }

    fn state(&self, taken: Taken) -> Option<(Setup, State)> {
        self.stands()?.running(taken)
    }

    /// Friction lets go of the plunger and holds it elsewhere within its band.
    fn blip(&mut self) {
        self.held = 0.0;
        let Some((_, state)) = self.state(Taken::UNPLUGGED) else { return };
        let more = Taken { screw_turns: 1.0 / 64.0, ..Taken::UNPLUGGED };
        let slope = self
            .state(more)
            .map_or(0.0, |(_, richer)| (richer.lambda / state.lambda).ln().abs() / (1.0 / 64.0));
        let band = if slope > 0.5 { state.friction_band / slope } else { 0.0 };
        let within = FRICTION_LEFT * band;
        self.held = self.noise.between(-within, within);
    }

    fn screw(&mut self, turns: f64) {
        self.car.screw_turns += turns + self.noise.between(-HAND_TURNS, HAND_TURNS);
        self.blip();
    }

    fn housing(&mut self, up_m: f64) {
        let error = HAND_HOUSING.1.max(HAND_HOUSING.0 * up_m.abs());
        self.car.setup.conditions.housing_shift_m += up_m + error * self.noise.normal();
    }

    /// Readings after a move; the duty is not quite settled.
    fn look(&mut self) -> Option<Vec<Read>> {
        let mut stands = self.stands()?;
        let mut reads = Vec::new();
        for (name, taken) in NEXT_LOOK {
            let slot = Slot::of(name, taken)?;
            let (setup, state) = stands.running(taken)?;
            let meters = crate::diagnose::car::Car::plain(&setup, f64::INFINITY);
            let mut shown = meters.running_value(slot.kind, &setup, &state)?;
            let trims = ["duty_percent", "actuator_ma"].iter().position(|trims| *trims == name);
            if let Some(place) = trims {
                shown += NOT_SETTLED * (self.before[place] - shown);
                self.before[place] = shown;
            }
            let (low, high) = slot.kind.ends();
            let off = sigma(&slot.kind, shown, None) * self.noise.normal();
            reads.push(Read::of(slot, (shown + off).clamp(low, high), None));
        }
        Some(reads)
    }

    /// Whether duty and voltage are where they are wanted.
    fn right(&self, wanted_v: f64) -> bool {
        self.state(Taken::IDLE).is_some_and(|(_, state)| {
            (100.0 * state.duty - 50.0).abs() <= WANTED.0
                && (state.potentiometer_v - wanted_v).abs() <= WANTED.1
        })
    }
}

/// What came of a way of setting a car.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Way {
    /// Moves of screw and housing.
    pub moves: usize,
    /// Of these, of the screw.
    pub of_screw: usize,
    /// Whether it got there.
    pub right: bool,
}

/// What came of a car.
#[derive(Clone, Debug, PartialEq)]
pub struct Played {
    /// Its law.
    pub law: Law,
    /// By the advice.
    pub advised: Way,
    /// By the ear, a sixteenth leaner than the middle, and a fifth of the width.
    pub ear: [Way; 2],
    /// Readings that were within what was expected, of all that were expected.
    pub within: (usize, usize),
}

/// The question of the first look, without values yet.
pub fn first_look(setup: &Setup) -> Question {
    let mut question = Question::of(setup);
    let slots = FIRST_LOOK.iter().filter_map(|(name, taken)| Slot::of(name, *taken));
    question.reads = slots.map(|slot| Read { slot, value: 0.0, sigma: 1.0 }).collect();
    question
}

/// Plays the car of a number. `None` if it does not idle.
pub fn played(
    question: &Question,
    wanted_v: f64,
    (seed, number, law): (u64, u64, Law),
) -> Option<Played> {
    let space = Space::of(&question.setup, false);
    let Hidden { car, .. } = hidden(&space, seed, number, law)?;
    let noise = |part: u64| Noise::new(seed ^ (0xad71 + part), number);
    let (advised, within) = advised(question, wanted_v, OnBench::new(car, noise(0))?)?;
    let ear = |leaner, part| by_ear(OnBench::new(car, noise(part))?, wanted_v, leaner);
    let ways = [ear(Leaner::Sixteenth, 1)?, ear(Leaner::Fifth, 2)?];
    Some(Played { law, advised, ear: ways, within })
}

fn advised(
    question: &Question,
    wanted_v: f64,
    mut bench: OnBench,
) -> Option<(Way, (usize, usize))> {
    let held = Car { screw_turns: bench.car.screw_turns + bench.held, ..bench.car };
    let first = read(question, &held, &mut bench.noise)?;
    let mut belief = Belief::of(&fit(&first)?);
    let names: Vec<&str> = FIRST_LOOK.iter().map(|(name, _)| *name).chain(["drop_N_rpm"]).collect();
    let wanted = Wanted { potentiometer_v: wanted_v, read: &names, meter_ohm: question.meter_ohm };
    let mut way = Way { moves: 0, of_screw: 0, right: false };
    let mut within = (0, 0);
    while way.moves < MOVES_MOST {
        let Some(Advice { act, expects, .. }) = advise(&belief, &wanted) else { break };
        match act {
            Act::Screw(turns) => {
                bench.screw(turns);
                way.of_screw += 1;
            }
            Act::Housing(up_m) => bench.housing(up_m),
            // A leak is looked for and found sound: the car is set all the same.
            Act::Check(..) | Act::Stop => break,
        }
        way.moves += 1;
        belief.moved(act);
        let Some(reads) = bench.look() else { break };
        for expected in &expects {
            let read = reads.iter().find(|read| read.slot.is(&expected.slot));
            if let Some(read) = read {
                let value = read.slot.kind.unscaled(read.value);
                within.0 += usize::from((expected.low..=expected.high).contains(&value));
                within.1 += 1;
            }
        }
        if belief.takes(&reads, question.meter_ohm).is_none() {
            break;
        }
    }
    way.right = bench.right(wanted_v);
    Some((way, within))
}

/// How far the ear goes lean from the middle.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Leaner {
    /// A sixteenth of a turn.
    Sixteenth,
    /// A fifth of the width.
    Fifth,
}

/// The way of the ear: out in small steps until it runs rough, in until it runs rough, half way
/// back, and leaner; then the housing by its meter.
fn by_ear(mut bench: OnBench, wanted_v: f64, leaner: Leaner) -> Option<Way> {
    let mut way = Way { moves: 0, of_screw: 0, right: false };
    let mut counted = 0.0;
    let rough = |bench: &mut OnBench| match bench.state(Taken::UNPLUGGED) {
        Some((setup, state)) => roughness(&setup, &state) + EAR_SIGMA * bench.noise.normal() > 0.0,
        None => true,
    };
    let mut edges = [0.0; 2];
    for (edge, side) in [(0, -1.0), (1, 1.0)] {
        // From beyond the other edge first back to what is smooth.
        let mut smooth = !rough(&mut bench);
        let from: f64 = counted;
        while (counted - from).abs() < 2.0 * EAR.1 {
            let is_rough = rough(&mut bench);
            if is_rough && smooth {
                break;
            }
            smooth |= !is_rough;
            bench.screw(side * EAR.0);
            counted += side * EAR.0;
            way.of_screw += 1;
        }
        edges[edge] = counted;
    }
    let width = edges[1] - edges[0];
    let lean = match leaner {
        Leaner::Sixteenth => EAR.2,
        Leaner::Fifth => 0.2 * width,
    };
    let aim = 0.5 * (edges[0] + edges[1]) - lean;
    bench.screw(aim - counted);
    way.of_screw += 1;
    way.moves = way.of_screw;
    if let Some((_, state)) = bench.state(Taken::IDLE) {
        let meter = Slot::of("potentiometer_v", Taken::IDLE)?.kind;
        let shown =
            state.potentiometer_v + meter.meter_sigma(wanted_v, None) * bench.noise.normal();
        // Turned until the meter shows it: what the meter is off stays.
        let track = &bench.car.setup.rig.parts().potentiometer;
        let off = wanted_v - shown;
        let up_m =
            track.height_m(state.potentiometer_v + off) - track.height_m(state.potentiometer_v);
        bench.car.setup.conditions.housing_shift_m += up_m;
        way.moves += 1;
    }
    way.right = bench.right(wanted_v);
    Some(way)
}

/// Scores of a trial under one law.
#[derive(Clone, Debug, PartialEq)]
pub struct Scores {
    /// The law.
    pub law: Law,
    /// Cars.
    pub cars: usize,
    /// By the advice; by the ear, a sixteenth and a fifth leaner.
    pub ways: [WayScores; 3],
    /// Readings within what was expected (%).
    pub within: f64,
}

/// Scores of a way.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WayScores {
    /// Moves: the median, and what 95 of 100 cars need at most.
    pub moves: (usize, usize),
    /// Of these, of the screw: the median.
    pub of_screw: usize,
    /// Cars that got there (%).
    pub right: f64,
}

impl WayScores {
    fn of(ways: &[Way]) -> WayScores {
        let sorted = |get: fn(&Way) -> usize| {
            let mut values: Vec<usize> = ways.iter().map(get).collect();
            values.sort_unstable();
            values
        };
        let at = |values: &[usize], share: f64| {
            let place = (share * values.len() as f64).ceil() as usize;
            values.get(place.max(1) - 1).copied().unwrap_or(0)
        };
        let moves = sorted(|way| way.moves);
        let right = ways.iter().filter(|way| way.right).count();
        WayScores {
            moves: (at(&moves, 0.5), at(&moves, 0.95)),
            of_screw: at(&sorted(|way| way.of_screw), 0.5),
            right: 100.0 * right as f64 / ways.len().max(1) as f64,
        }
    }
}

impl Scores {
    /// Those of cars that were played under a law.
    pub fn of(played: &[Played], law: Law) -> Scores {
        let cars: Vec<&Played> = played.iter().filter(|car| car.law == law).collect();
        let ways = |get: fn(&Played) -> Way| {
            WayScores::of(&cars.iter().map(|car| get(car)).collect::<Vec<_>>())
        };
        let (within, of) =
            cars.iter().fold((0, 0), |sum, car| (sum.0 + car.within.0, sum.1 + car.within.1));
        Scores {
            law,
            cars: cars.len(),
            ways: [ways(|car| car.advised), ways(|car| car.ear[0]), ways(|car| car.ear[1])],
            within: 100.0 * within as f64 / of.max(1) as f64,
        }
    }
}
