//! What is heard: each cylinder's work, beat by beat, as the engine has drawn it
//! ([`sim_core::run::Firing`]), and words for it.

use serde_json::{Value, json};
use sim_core::run::{Engine, Firing, TICK_S};
use sim_core::units::Unit;
use std::collections::VecDeque;

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

/// An ear at the exhaust.
#[derive(Clone, Default)]
pub struct Hearing {
    beats: VecDeque<Firing>,
    passed: u32,
    lost_beats: u32,
    mean: f64,
    variance: f64,
    slow_rpm: f64,
    swing_rpm2: f64,
}

impl Hearing {
    /// Begins a new frame.
    pub fn begin_frame(&mut self) {
        self.beats.clear();
        (self.passed, self.lost_beats) = (0, 0);
    }

    /// Listens for a tick.
    pub fn tick(&mut self, engine: &Engine) {
        if engine.stalled_at_s().is_some() {
            (self.slow_rpm, self.swing_rpm2, self.mean, self.variance) = (0.0, 0.0, 1.0, 0.0);
            return;
        }
        let rpm = Unit::Rpm.from_si(engine.speed_rad_s());
        let share = TICK_S / PITCH.0;
        self.slow_rpm += share * (rpm - self.slow_rpm);
        self.swing_rpm2 += share * ((rpm - self.slow_rpm).powi(2) - self.swing_rpm2);
        engine.firings().iter().for_each(|firing| self.beat(*firing));
    }

    fn beat(&mut self, firing: Firing) {
        self.passed += 1;
        self.lost_beats += u32::from(firing.lost);
        let share = 1.0 / EAR_BEATS;
        self.mean += share * (firing.work - self.mean);
        self.variance += share * ((firing.work - self.mean).powi(2) - self.variance);
        if self.beats.len() == BEATS_MOST {
            self.beats.pop_front();
        }
        self.beats.push_back(firing);
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
            .map(|beat| json!([round(beat.time_s, 1e4), beat.cylinder + 1, round(beat.work, 1e2)]))
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
