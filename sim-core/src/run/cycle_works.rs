//! Each cylinder's work, cycle by cycle: drawn when its charge is drawn in, done a turn of the
//! crank later.

use super::port_store::CHARGE_TO_WORK_RAD;
use crate::noise::Noise;
use crate::operation::cycle::{CycleLaw, DrawnCycle};
use crate::operation::operating_state::{OperatingState, Plant};
use std::collections::VecDeque;
use std::f64::consts::PI;

/// The stream of random numbers under a run's seed; the torque's noise has stream 0.
const STREAM: u64 = 1;

/// One firing of one cylinder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Firing {
    /// When its stroke begins, since the engine was made (s).
    pub time_s: f64,
    /// Which cylinder, counted from 0 in the order in which they fire. It is fed by the line of
    /// that number: a rig says nothing of another order.
    pub cylinder: usize,
    /// Its work over the mean of the cycles of its moment.
    pub work: f64,
    /// Its indicated pressure (Pa).
    pub imep_pa: f64,
    /// Whether the cycle is lost: dead spark, no ignition, or burnt too late to count.
    pub lost: bool,
}

/// A cycle whose charge is in.
#[derive(Clone, Copy, Debug)]
struct Waiting {
    drawn: DrawnCycle,
    /// Its indicated pressure (Pa).
    imep_pa: f64,
}

impl Waiting {
    const LOST: Waiting = Waiting { drawn: DrawnCycle::LOST, imep_pa: 0.0 };

    fn draw(law: &CycleLaw<'_>, mean_pa: f64, cylinder: usize, noise: &mut Noise) -> Waiting {
        let drawn = law.draw(cylinder, noise);
        Waiting { drawn, imep_pa: drawn.work * mean_pa }
    }
}

/// The cycles on their way.
///
/// Firing `k` begins at crank angle `k d` and works evenly to `(k + 1) d`, `d = 4 pi/n` for `n`
/// cylinders; its charge is the one of `(k + 1/2) d - 2 pi`, so that charge and work lie a turn
/// apart in the mean, as they do without scatter. The run integrates its speed over these works:
/// what a weak cycle costs in speed, how a strong one follows, and how the control answers, come
/// from there. The swing of compression and expansion within one firing is left out: it is the
/// same at every firing, makes no work and shakes at the firing's own pitch.
#[derive(Clone)]
pub(super) struct CycleWorks {
    noise: Noise,
    cylinders: usize,
    /// The one at work first.
    waiting: VecDeque<Waiting>,
    /// Number of the one at work.
    at_work: u64,
    fired: Vec<Firing>,
    clock_s: f64,
}

impl CycleWorks {
    fn new(seed: u64, cylinders: usize) -> CycleWorks {
        CycleWorks {
            noise: Noise::new(seed, STREAM),
            cylinders,
            waiting: VecDeque::new(),
            at_work: 0,
            fired: Vec::new(),
            clock_s: 0.0,
        }
    }

    /// Of an engine that stands: nothing in its cylinders has burnt.
    pub fn standing(seed: u64, cylinders: usize) -> CycleWorks {
        let mut works = CycleWorks::new(seed, cylinders);
        for _ in 0..works.drawn_in(0.0) {
            works.waiting.push_back(Waiting::LOST);
        }
        works
    }

    /// Of an engine that has idled in a state.
    pub fn running(seed: u64, plant: &Plant, state: &OperatingState) -> CycleWorks {
        let mut works = CycleWorks::new(seed, state.lambdas.len());
        works.draw_up_to(0.0, plant, state);
        works
    }

    /// The same going on with the luck of another that stood before.
    pub fn after(mut self, before: CycleWorks) -> CycleWorks {
        (self.noise, self.clock_s) = (before.noise, before.clock_s);
        self
    }

    /// Crank angle from firing to firing (rad).
    fn interval_rad(&self) -> f64 {
        4.0 * PI / self.cylinders as f64
    }

    /// Number of the firing at a crank angle (rad).
    fn number_at(&self, angle_rad: f64) -> u64 {
        (angle_rad / self.interval_rad()) as u64
    }

    /// How many charges are in at a crank angle (rad).
    fn drawn_in(&self, angle_rad: f64) -> u64 {
        ((angle_rad + CHARGE_TO_WORK_RAD) / self.interval_rad() + 0.5) as u64
    }

    fn draw_up_to(&mut self, angle_rad: f64, plant: &Plant, charge: &OperatingState) {
        let next = self.at_work + self.waiting.len() as u64;
        let end = self.drawn_in(angle_rad);
        if next >= end {
            return;
        }
        let law = CycleLaw::new(plant, charge);
        for number in next..end {
            let cylinder = (number % self.cylinders as u64) as usize;
            let waiting = Waiting::draw(&law, charge.imep_pa, cylinder, &mut self.noise);
            self.waiting.push_back(waiting);
        }
    }

    /// A tick begins (s).
    pub fn begin_tick(&mut self, at_s: f64) {
        self.fired.clear();
        self.clock_s = at_s;
    }

    /// What fired since the tick began.
    pub fn fired(&self) -> &[Firing] {
        &self.fired
    }

    /// Mean indicated pressure (Pa) between two crank angles (rad) from now on.
    pub fn imep_pa(&self, from_rad: f64, to_rad: f64) -> f64 {
        let of = |number: u64| {
            let at = number.saturating_sub(self.at_work) as usize;
            self.waiting.get(at).or(self.waiting.back()).map_or(0.0, |cycle| cycle.imep_pa)
        };
        let (first, last) = (self.number_at(from_rad), self.number_at(to_rad));
        if last <= first {
            return of(first);
        }
        let d = self.interval_rad();
        let parts = (first..=last).map(|number| {
            let (begins, ends) = (number as f64 * d, (number + 1) as f64 * d);
            (ends.min(to_rad) - begins.max(from_rad)) * of(number)
        });
        parts.sum::<f64>() / (to_rad - from_rad)
    }

    /// The crank turns from one angle to another (rad) in a time (s), with the key on or off,
    /// while cylinders draw in a charge.
    pub fn turn(
        &mut self,
        (from_rad, to_rad, lasts_s): (f64, f64, f64),
        key_on: bool,
        plant: &Plant,
        charge: &OperatingState,
    ) {
        let d = self.interval_rad();
        self.draw_up_to(to_rad, plant, charge);
        while self.at_work < self.number_at(to_rad) {
            self.waiting.pop_front();
            self.at_work += 1;
            let Some(cycle) = self.waiting.front() else { break };
            let cycle = if key_on { *cycle } else { Waiting::LOST };
            let share = (self.at_work as f64 * d - from_rad) / (to_rad - from_rad);
            self.fired.push(Firing {
                time_s: self.clock_s + share.clamp(0.0, 1.0) * lasts_s,
                cylinder: (self.at_work % self.cylinders as u64) as usize,
                work: cycle.drawn.work,
                imep_pa: cycle.imep_pa,
                lost: cycle.drawn.lost,
            });
        }
        self.clock_s += lasts_s;
    }
}
