//! What is to be worked out for a library: engines that are drawn once, and tasks that do not hang
//! on each other.

use crate::diagnose::car::{Asked, Car, Law, cranking_s};
use crate::diagnose::causes::{Named, causes_of};
use crate::diagnose::sheet::Slot;
use crate::diagnose::spread::Spread;
use crate::rig::Rig;
use crate::rig::keys::Setup;
use std::ops::Range;

/// Seed of the engines that the likelihood is made of; no trial draws from it.
const SEED: u64 = 0x51a7_0c0d;
/// How many times as many sound engines there are as engines of each strength of a cause.
const SOUND_TIMES: usize = 8;

/// The engines of a question. Each can be drawn by itself, in any order.
pub struct Cars {
    base: Setup,
    drawn: Vec<Option<Car>>,
}

impl Cars {
    /// How many are drawn where each strength of a cause is to have so many members.
    pub fn count(members: usize) -> u64 {
        (SOUND_TIMES * members) as u64
    }

    /// Draws the one of a number, `drops` with how far its speed falls without a cylinder; `None`
    /// if it does not idle.
    pub fn one(
        spread: Spread<'_>,
        base: &Rig,
        asked: &Asked,
        (number, drops): (u64, bool),
    ) -> Option<Car> {
        Car::drawn_over(spread, base, asked, (SEED, number, Law::Same), drops)
    }

    /// Those that were drawn, by their numbers.
    pub fn of(base: &Rig, asked: &Asked, drawn: Vec<Option<Car>>) -> Cars {
        Cars { base: Setup { rig: *base, conditions: asked.conditions }, drawn }
    }
}

/// What is worked out for one strength of a cause.
#[derive(Clone, Copy)]
pub struct Task {
    /// Its place among the tasks.
    pub(super) number: usize,
    /// Which of the plan's kinds: `None` for sound engines.
    pub(super) kind: Option<usize>,
    pub(super) strength: f64,
    /// How far it is to the next strength; 0 where there is nothing between.
    pub(super) step: f64,
}

impl Task {
    /// Its place among the tasks.
    pub fn place(&self) -> usize {
        self.number
    }

    /// Whether it is a cause's, not that of sound engines.
    pub fn of_a_cause(&self) -> bool {
        self.kind.is_some()
    }
}

/// What is to be worked out: tasks that do not hang on each other.
pub struct Plan {
    /// The readings.
    pub slots: Vec<Slot>,
    /// The causes.
    pub causes: Vec<Named>,
    base: Setup,
    /// What is worked out: the readings, and those of the first line that others are found from.
    pub(super) shown: Vec<Slot>,
    members: Vec<Car>,
    sound: Vec<Car>,
    /// Which tasks are worked out; all of them if it is empty.
    only: Vec<bool>,
    /// The tasks.
    pub tasks: Vec<Task>,
}

/// What came of a task: a row for each engine.
#[derive(Clone)]
pub struct Worked {
    /// Each engine's readings, on their scales.
    pub rows: Vec<Vec<f64>>,
    /// How rough each is.
    pub rough: Vec<f64>,
}

impl Plan {
    /// Plans for readings on a rig, with so many engines for each strength.
    pub fn new(base: &Rig, asked: &Asked, slots: Vec<Slot>, members: usize) -> Plan {
        Plan::over(Spread::Seeded, base, asked, slots, members)
    }

    /// The same over a spread of engines.
    pub fn over(
        spread: Spread<'_>,
        base: &Rig,
        asked: &Asked,
        slots: Vec<Slot>,
        members: usize,
    ) -> Plan {
        let one = |number| Cars::one(spread, base, asked, (number, true));
        let drawn = (0..Cars::count(members)).map(one);
        Plan::with(&Cars::of(base, asked, drawn.collect()), slots, members)
    }

    /// The same with engines that were drawn already, or as many of them as it needs.
    pub fn with(cars: &Cars, slots: Vec<Slot>, members: usize) -> Plan {
        let causes = causes_of(&cars.base.rig);
        // One of those that are there for each line stands for all.
        let kinds = (0..causes.len()).filter(|i| causes[*i].line.is_none_or(|line| line == 0));
        let mut tasks = vec![Task { number: 0, kind: None, strength: 0.0, step: 0.0 }];
        for kind in kinds {
            let (strengths, step) = causes[kind].cause.grid();
            for &strength in strengths {
                tasks.push(Task { number: tasks.len(), kind: Some(kind), strength, step });
            }
        }
        let numbers = cars.drawn.iter().take(Cars::count(members) as usize);
        let sound: Vec<Car> = numbers.filter_map(|car| *car).collect();
        let mut shown = slots.clone();
        for slot in slots.iter().filter(|slot| slot.line.is_some()) {
            let first = Slot { line: Some(0), ..*slot };
            if !shown.iter().any(|known| known.is(&first)) {
                shown.push(first);
            }
        }
        Plan {
            slots,
            shown,
            causes,
            base: cars.base,
            only: Vec::new(),
            members: sound.iter().take(members).copied().collect(),
            sound,
            tasks,
        }
    }

    /// The same with some tasks only, by their places; the others say nothing.
    pub fn only(self, only: Vec<bool>) -> Plan {
        Plan { only, ..self }
    }

    /// Works on a task.
    pub fn work(&self, task: &Task) -> Worked {
        let mut worked = self.work_on(task, 0..self.members.len());
        self.crank(task, &mut worked);
        worked
    }

    /// Works on a task for some of the members, by their places, but for what a start shows. Of
    /// sound engines there are always all.
    pub fn work_on(&self, task: &Task, members: Range<usize>) -> Worked {
        if self.only.get(task.number) == Some(&false) {
            return Worked { rows: Vec::new(), rough: Vec::new() };
        }
        let members = members.start..members.end.min(self.members.len());
        let cars = if task.kind.is_some() { &self.members[members] } else { &self.sound };
        // What stands still shows nothing of a fault that only a running engine has: those readings
        // are the sound car's, put in where the library is made.
        let stands = task.kind.is_none_or(|kind| self.causes[kind].cause.standing);
        let causes = self.causes_of(task);
        let shows = |car: &Car| car.shows(&causes, &self.shown, stands);
        let (rows, rough) = cars.iter().map(shows).unzip();
        Worked { rows, rough }
    }

    /// Puts into what came of a task what a start shows of its first engines: the rig's own, each
    /// engine as much quicker or slower.
    pub fn crank(&self, task: &Task, worked: &mut Worked) {
        let cranking = self.slots.iter().position(|slot| slot.kind.name() == "cranking_s");
        let Some(d) = cranking.filter(|_| !worked.rows.is_empty()) else { return };
        let own = cranking_s(&self.base, &self.causes_of(task)).map_or(f64::NAN, f64::ln);
        let cars = if task.kind.is_some() { &self.members } else { &self.sound };
        worked.rows.iter_mut().zip(cars).for_each(|(row, car)| row[d] = own + car.cranking());
    }

    /// How many members each strength of a cause has.
    pub fn members(&self) -> usize {
        self.members.len()
    }

    fn causes_of(&self, task: &Task) -> Vec<(Named, f64)> {
        task.kind.iter().map(|kind| (self.causes[*kind], task.strength)).collect()
    }
}

impl Worked {
    /// With what came of further members.
    pub fn and(mut self, further: Worked) -> Worked {
        self.rows.extend(further.rows);
        self.rough.extend(further.rough);
        self
    }
}
