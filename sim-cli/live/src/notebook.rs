//! The notebook: what was done, predicted and read.

use serde::Serialize;
use sim_core::wording::tidy;

/// The most notes it holds; the oldest go.
const NOTES_MOST: usize = 400;
/// How many of the last notes a frame carries.
const IN_FRAME: usize = 12;

/// What kind of note it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Sort {
    /// Something was done.
    Done,
    /// Something happened.
    Happened,
    /// A prediction.
    Prediction,
    /// A reading.
    Reading,
    /// A moment was kept or gone back to.
    Moment,
}

/// A note.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Note {
    /// Its number, from 1, never used again.
    pub n: u64,
    /// When (s).
    pub time_s: f64,
    /// What kind of note.
    pub kind: Sort,
    /// In words.
    pub text: String,
    /// The meter it is about.
    pub meter: Option<&'static str>,
    /// Unit of the numbers.
    pub unit: Option<&'static str>,
    /// What was predicted.
    pub predicted: Option<f64>,
    /// What was read.
    pub reading: Option<f64>,
    /// Reading less prediction.
    pub difference: Option<f64>,
}

/// Notes in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Notebook {
    notes: Vec<Note>,
    written: u64,
}

impl Notebook {
    /// Writes words.
    pub fn write(&mut self, time_s: f64, kind: Sort, text: impl Into<String>) -> &mut Note {
        self.written += 1;
        if self.notes.len() == NOTES_MOST {
            self.notes.remove(0);
        }
        self.notes.push(Note {
            n: self.written,
            time_s: tidy(time_s),
            kind,
            text: text.into(),
            meter: None,
            unit: None,
            predicted: None,
            reading: None,
            difference: None,
        });
        let last = self.notes.len() - 1;
        &mut self.notes[last]
    }

    /// The last prediction about a meter that no reading has answered.
    pub fn open_prediction(&self, meter: &str) -> Option<f64> {
        let last = self.notes.iter().rev().find(|note| note.meter == Some(meter))?;
        if last.kind == Sort::Prediction { last.predicted } else { None }
    }

    /// All of it.
    pub fn all(&self) -> &[Note] {
        &self.notes
    }

    /// What a frame carries: the last notes.
    pub fn last(&self) -> &[Note] {
        &self.notes[self.notes.len().saturating_sub(IN_FRAME)..]
    }
}
