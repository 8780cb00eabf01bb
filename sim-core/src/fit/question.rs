//! What a fit is asked: readings and marks by ear of one car, and the rig it is compared with.

use crate::diagnose::given::Sheet;
use crate::diagnose::sheet::{Kind, Slot, Taken, When};
use crate::rig::keys::Setup;

/// Share of what the meter may be off that the model is off, too: stated, our own judgement.
pub const DISCREPANCY: f64 = 0.5;
/// How far the ear is off in what it calls rough (natural logarithm): our own judgement.
pub const EAR_SIGMA: f64 = 0.1;

/// A reading.
#[derive(Clone, Copy)]
pub struct Read {
    /// What was read, and when.
    pub slot: Slot,
    /// Its value on the scale of [`Kind::scaled`].
    pub value: f64,
    /// Standard deviation on that scale: meter, model, and what differs from one sound engine to
    /// another beside the parameters.
    pub sigma: f64,
}

impl Read {
    /// A reading of a value in its unit; `class` is what its meter may be off, where it is told.
    pub fn of(slot: Slot, value: f64, class: Option<f64>) -> Read {
        let value = slot.kind.scaled(value);
        Read { slot, value, sigma: sigma(&slot.kind, value, class) }
    }
}

/// Standard deviation of a reading about what the model shows, on the scale of [`Kind::scaled`].
pub fn sigma(kind: &Kind, scaled: f64, class: Option<f64>) -> f64 {
    let meter = kind.meter_sigma(scaled, class);
    // What the model leaves alone: crevices, the probe, the controller's clock.
    let beside = match kind.name() {
        "hc_ppm" => 0.25,
        "o2_percent" => 0.05,
        "swing_s" => 0.15,
        _ => 0.0,
    };
    (meter * meter * (1.0 + DISCREPANCY * DISCREPANCY) + beside * beside).sqrt()
}

/// What the ear heard in a state.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mark {
    /// How the engine was.
    pub taken: Taken,
    /// Whether it ran rough.
    pub rough: bool,
}

/// What is asked.
#[derive(Clone)]
pub struct Question {
    /// The rig, and the weather of the readings.
    pub setup: Setup,
    /// Resistance of the voltmeter (ohm); infinite if it is not told.
    pub meter_ohm: f64,
    /// The readings.
    pub reads: Vec<Read>,
    /// What was heard.
    pub marks: Vec<Mark>,
}

/// Readings of the standing engine that the model shows.
const STANDING: [&str; 2] = ["flow_start_turns", "line_N_ml"];

impl Question {
    /// One without readings.
    pub fn of(setup: &Setup) -> Question {
        let (reads, marks) = (Vec::new(), Vec::new());
        Question { setup: *setup, meter_ohm: f64::INFINITY, reads, marks }
    }

    /// That of a sheet; with the places of its readings that the model does not show.
    pub fn of_sheet(setup: &Setup, sheet: &Sheet) -> (Question, Vec<usize>) {
        let asked = sheet.asked();
        let conditions = asked.conditions;
        let mut question = Question::of(&Setup { conditions, ..*setup });
        question.meter_ohm = asked.meter_ohm;
        let mut left = Vec::new();
        for (place, given) in sheet.readings().iter().enumerate() {
            let shown = given.slot.kind.is_running() || STANDING.contains(&given.slot.kind.name());
            match shown {
                true => question.reads.push(Read::of(given.slot, given.value, given.class)),
                false => left.push(place),
            }
        }
        let heard = |(taken, word): &(Taken, &str)| {
            let rough = match *word {
                "rough" => true,
                "smooth" => false,
                _ => return None,
            };
            Some(Mark { taken: *taken, rough })
        };
        question.marks = sheet.ears().iter().filter_map(heard).collect();
        (question, left)
    }

    /// Whether the lines have been measured each by itself.
    pub fn each_line(&self) -> bool {
        self.reads.iter().any(|read| read.slot.line.is_some())
    }

    /// The states that the running engine is read in.
    pub fn states(&self) -> Vec<Taken> {
        let of_reads = self.reads.iter().filter_map(|read| match read.slot.when {
            When::Running(taken) => Some(taken),
            When::Standing => None,
        });
        let mut states = Vec::new();
        for taken in of_reads.chain(self.marks.iter().map(|mark| mark.taken)) {
            if !states.contains(&taken) {
                states.push(taken);
            }
        }
        states
    }
}
