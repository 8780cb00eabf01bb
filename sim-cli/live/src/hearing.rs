//! What is heard: each cylinder's work, beat by beat, and words for it.
//!
//! Equation of a beat: `w = 0` with the probability `m`, else `max(0, 1 + s n)`, `s^2 = COV^2
//! (1 - m) - m`. Symbols: `w` work of a cycle over the mean of those that burn, `COV` the
//! model's coefficient of variation of all cycles, `m` share of lost cycles, `n` standard
//! normal. Valid range: `s` to 1; beyond it is held there. Source: definition of the COV of a
//! mixture of lost cycles and others.

use serde_json::{Value, json};
use sim_core::noise::Noise;
use sim_core::run::{Engine, TICK_S};
use sim_core::units::Unit;
use std::f64::consts::PI;

/// Item of the seed from which beats are drawn.
const BEATS_ITEM: u64 = 11;
/// Ticks after which the law of a beat is looked up anew.
const LOOK_TICKS: u32 = 8;
/// The most beats a frame carries; those of a long wait are only counted.
const BEATS_MOST: usize = 64;
/// Beats over which an ear judges evenness.
const EAR_BEATS: f64 = 24.0;
/// Roughness of the beats heard, up to which each word goes. Our own.
const WORDS: [(f64, &str); 3] = [(0.07, "even"), (0.13, "a little uneven"), (0.25, "rough")];
/// What an ear makes of the speed: time of its memory (s), and what it notices (rpm).
const PITCH: (f64, f64) = (1.5, 35.0);
/// Unmetered air that whistles (kg/s): 1 kg/h, our own.
const HISSES_KG_S: f64 = 1.0 / 3600.0;

/// A beat.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Beat {
    time_s: f64,
    cylinder: usize,
    work: f64,
}

/// An ear at the exhaust.
#[derive(Clone)]
pub struct Hearing {
    noise: Noise,
    order: Vec<usize>,
    fires: usize,
    angle_rad: f64,
    look_in: u32,
    scatter: f64,
    lost: f64,
    beats: Vec<Beat>,
    passed: u32,
    lost_beats: u32,
    mean: f64,
    variance: f64,
    slow_rpm: f64,
    swing_rpm2: f64,
}

/// Firing order of so many cylinders in the usual arrangements (common practice, no source).
pub fn firing_order(cylinders: usize) -> Vec<usize> {
    match cylinders {
        4 => vec![1, 3, 4, 2],
        5 => vec![1, 2, 4, 5, 3],
        6 => vec![1, 5, 3, 6, 2, 4],
        8 => vec![1, 8, 4, 3, 6, 5, 7, 2],
        count => (1..=count.max(1)).collect(),
    }
}

impl Hearing {
    /// An ear at an engine of so many cylinders.
    pub fn new(seed: u64, cylinders: usize) -> Hearing {
        Hearing {
            noise: Noise::new(seed, BEATS_ITEM),
            order: firing_order(cylinders),
            fires: 0,
            angle_rad: 0.0,
            look_in: 0,
            scatter: 0.0,
            lost: 0.0,
            beats: Vec::new(),
            passed: 0,
            lost_beats: 0,
            mean: 1.0,
            variance: 0.0,
            slow_rpm: 0.0,
            swing_rpm2: 0.0,
        }
    }

    /// Begins a new frame.
    pub fn begin_frame(&mut self) {
        self.beats.clear();
        (self.passed, self.lost_beats) = (0, 0);
    }

    /// Listens for a tick.
    pub fn tick(&mut self, engine: &Engine) {
        if engine.stalled_at_s().is_some() {
            (self.look_in, self.slow_rpm, self.swing_rpm2) = (0, 0.0, 0.0);
            (self.mean, self.variance) = (1.0, 0.0);
            return;
        }
        let rpm = Unit::Rpm.from_si(engine.speed_rad_s());
        let share = TICK_S / PITCH.0;
        self.slow_rpm += share * (rpm - self.slow_rpm);
        self.swing_rpm2 += share * ((rpm - self.slow_rpm).powi(2) - self.swing_rpm2);
        if self.look_in == 0 {
            self.look_in = LOOK_TICKS;
            (self.scatter, self.lost) = match engine.state() {
                Some(state) => {
                    let lost = state.mean_misfire.clamp(0.0, 1.0);
                    let scatter2 = state.cov * state.cov * (1.0 - lost) - lost;
                    (scatter2.clamp(0.0, 1.0).sqrt(), lost)
                }
                None => (0.0, 1.0),
            };
        }
        self.look_in -= 1;
        self.angle_rad += engine.speed_rad_s() * TICK_S;
        let between = 4.0 * PI / self.order.len() as f64;
        while self.angle_rad >= between {
            self.angle_rad -= between;
            let late_s = self.angle_rad / engine.speed_rad_s().max(1.0);
            self.beat(engine.time_s() - late_s.min(TICK_S));
        }
    }

    fn beat(&mut self, time_s: f64) {
        let cylinder = self.order[self.fires % self.order.len()];
        self.fires += 1;
        let is_lost = self.noise.uniform() < self.lost;
        let drawn = (1.0 + self.scatter * self.noise.normal()).max(0.0);
        let work = if is_lost { 0.0 } else { drawn };
        self.lost_beats += u32::from(is_lost);
        let share = 1.0 / EAR_BEATS;
        self.mean += share * (work - self.mean);
        self.variance += share * ((work - self.mean).powi(2) - self.variance);
        match self.beats.len() < BEATS_MOST {
            true => self.beats.push(Beat { time_s, cylinder, work }),
            false => {
                // The last are the ones that can still be heard.
                self.beats.remove(0);
                self.beats.push(Beat { time_s, cylinder, work });
            }
        }
        self.passed += 1;
    }

    fn evenness(&self) -> &'static str {
        let rough = self.variance.sqrt() / self.mean.max(0.05);
        WORDS.iter().find(|(up_to, _)| rough < *up_to).map_or("very rough", |(_, word)| word)
    }

    fn pitch(&self, rpm: f64) -> &'static str {
        let ahead = rpm - self.slow_rpm;
        if ahead > 2.0 * PITCH.1 {
            "rising"
        } else if ahead < -2.0 * PITCH.1 {
            "sagging"
        } else if self.swing_rpm2.sqrt() > PITCH.1 {
            "hunting"
        } else {
            "steady"
        }
    }

    /// What is heard since the frame began.
    pub fn frame(&self, engine: &Engine, pump_runs: bool) -> Value {
        let turns = engine.stalled_at_s().is_none();
        let cranks = engine.is_cranking();
        let runs = turns && !cranks;
        let rpm = Unit::Rpm.from_si(engine.speed_rad_s());
        let beats: Vec<Value> = self
            .beats
            .iter()
            .map(|beat| json!([round(beat.time_s, 1e4), beat.cylinder, round(beat.work, 1e2)]))
            .collect();
        let hiss = turns && engine.setup().conditions.leak_kg_s > HISSES_KG_S;
        json!({
            "engine": if cranks { "cranking" } else if runs { "running" } else { "silent" },
            "beats": beats,
            "beats_passed": self.passed,
            "lost_beats": self.lost_beats,
            "evenness": runs.then(|| self.evenness()),
            "speed": runs.then(|| self.pitch(rpm)),
            "hiss": hiss,
            "pump": pump_runs,
        })
    }
}

fn round(value: f64, of_one: f64) -> f64 {
    (value * of_one).round() / of_one
}
