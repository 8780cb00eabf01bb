//! What a lesson's sheets hold beside its text, read from `lesson_plans.toml`: what is drawn,
//! the cases that are predicted, seen and answered, and what an instructor needs. A case is
//! predicted, seen and answered in the same row, so it cannot be another one.

use super::lesson_commands::LessonCommands;
use super::number_binding::Binding;
use crate::error::Error;
use crate::text::{fixed, typeset};
use serde::Deserialize;
use sim_core::noise::Noise;
use std::collections::BTreeMap;
use std::sync::LazyLock;

/// The plan of a lesson.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LessonPlan {
    lesson: u32,
    /// The command of its drawing where the lesson's page has none.
    pub drawing: Option<String>,
    /// What is drawn into the machine.
    pub draw: String,
    #[serde(default)]
    numbers: BTreeMap<String, Vec<String>>,
    rows: Vec<PlannedRow>,
    /// Answers that are likely and wrong.
    pub wrong: Vec<WrongAnswer>,
    /// What hands are raised for.
    pub vote: Vote,
}

/// A reading that is predicted. Without case and command it goes on with those of the row
/// before.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PlannedRow {
    #[serde(default)]
    case: String,
    #[serde(default)]
    command: String,
    reads: String,
    unit: String,
    decimals: usize,
    #[serde(default)]
    now: String,
    then: String,
    scale: [f64; 2],
}

/// What is likely said, and what to say then.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WrongAnswer {
    /// What is said.
    pub says: String,
    /// What to say.
    pub reply: String,
}

/// A question to raise hands for.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Vote {
    /// What is asked.
    pub ask: String,
    /// Two or three choices.
    pub choices: Vec<String>,
    /// What is right.
    pub right: String,
}

#[derive(Deserialize)]
struct PlanFile {
    lesson: Vec<LessonPlan>,
}

static PLANS: LazyLock<Vec<LessonPlan>> = LazyLock::new(|| {
    let file: PlanFile = toml::from_str(include_str!("lesson_plans.toml")).expect("tested");
    file.lesson
});

/// The parts of 45 minutes: how long, and what.
pub const PARTS: [(u32, &str); 6] = [
    (4, "What it is about, and the cautions read aloud"),
    (8, "Predict: each alone, drawing and numbers, in ink"),
    (4, "Vote: hands up, nobody says why yet"),
    (14, "See: at the bench or with the program, numbers written beside the predictions"),
    (10, "Explain: in pairs, then aloud"),
    (5, "Quiz, and the next car to try it on"),
];

/// Numbers that stand in the braces of a plan's texts, by their names.
pub type CaseNumbers = Vec<(String, String)>;

/// A reading of a case: before, and after if it is worked out.
pub struct Prediction {
    /// The case; empty if it is the one before.
    pub case: String,
    /// Its command as it is typed.
    pub command: String,
    /// What is read.
    pub reads: String,
    /// Its unit.
    pub unit: String,
    /// What it shows before, if it shows anything.
    pub now: Option<String>,
    /// What it shows then, if that is asked and the rig has such a number.
    pub then: Option<String>,
    /// Where on the scale both stand, as shares of it.
    pub marks: [Option<f64>; 2],
    /// The ends of the scale.
    pub scale: [f64; 2],
    decimals: usize,
}

impl Prediction {
    /// An end of its scale in words.
    pub fn end(&self, at: usize) -> String {
        let decimals = if self.scale[at].fract() == 0.0 { 0 } else { self.decimals.min(2) };
        typeset(&fixed(self.scale[at], decimals))
    }
}

impl LessonPlan {
    /// The plan of a lesson.
    pub fn of(lesson: u32) -> Option<&'static LessonPlan> {
        PLANS.iter().find(|plan| plan.lesson == lesson)
    }

    /// How many pupils have numbers of their own before one has those of another.
    pub fn choices(&self) -> usize {
        self.numbers.values().map(Vec::len).product()
    }

    /// The lesson's own numbers.
    pub fn own_numbers(&self) -> CaseNumbers {
        self.nth_numbers(0)
    }

    /// The numbers of a pupil, counted from 0: all choices in an order by chance, without the
    /// lesson's own as long as there are others.
    pub fn pupil_numbers(&self, seed: u64, pupil: usize) -> CaseNumbers {
        let count = self.choices();
        if count < 2 {
            return self.own_numbers();
        }
        let mut order: Vec<usize> = (1..count).collect();
        let mut noise = Noise::new(seed, u64::from(self.lesson));
        for last in (1..order.len()).rev() {
            let at = (noise.uniform() * (last + 1) as f64) as usize;
            order.swap(last, at.min(last));
        }
        order.push(0);
        self.nth_numbers(order[pupil % count])
    }

    fn nth_numbers(&self, nth: usize) -> CaseNumbers {
        let mut rest = nth;
        let one = |(name, values): (&String, &Vec<String>)| {
            let value = values[rest % values.len()].clone();
            rest /= values.len();
            (name.clone(), value)
        };
        self.numbers.iter().map(one).collect()
    }

    /// The predictions with some numbers; worked out, or only what is known before.
    pub fn predictions(
        &self,
        commands: &LessonCommands<'_>,
        numbers: &CaseNumbers,
        worked_out: bool,
    ) -> Result<Vec<Prediction>, Error> {
        let mut command = "";
        let mut predictions = Vec::new();
        for row in &self.rows {
            if !row.command.is_empty() {
                command = &row.command;
            }
            predictions.push(row.prediction(commands, command, numbers, worked_out)?);
        }
        Ok(predictions)
    }
}

/// A text with numbers in place of their names in braces.
fn filled(text: &str, numbers: &CaseNumbers) -> String {
    let put = |text: String, (name, value): &(String, String)| {
        text.replace(&format!("{{{name}}}"), value)
    };
    numbers.iter().fold(text.to_string(), put)
}

impl PlannedRow {
    fn prediction(
        &self,
        commands: &LessonCommands<'_>,
        command: &str,
        numbers: &CaseNumbers,
        worked_out: bool,
    ) -> Result<Prediction, Error> {
        let command = filled(command, numbers);
        let value = |formula: &str| -> Result<Option<f64>, Error> {
            if formula.is_empty() {
                return Ok(None);
            }
            let found = commands.worked_out(&command)?;
            let value = Binding { command: 0, formula }.value(&found.value);
            Ok(value.ok().filter(|value| value.is_finite()))
        };
        let now = value(&self.now)?;
        let then = if worked_out { value(&self.then)? } else { None };
        let [low, high] = self.scale;
        let mark = |value: f64| ((value - low) / (high - low)).clamp(0.0, 1.0);
        let shown = |value: f64| typeset(&fixed(value, self.decimals));
        Ok(Prediction {
            case: filled(&self.case, numbers),
            command: commands.as_typed(&command)?,
            reads: self.reads.clone(),
            unit: self.unit.clone(),
            now: now.map(shown),
            then: then.map(shown),
            marks: [now.map(mark), then.map(mark)],
            scale: self.scale,
            decimals: self.decimals,
        })
    }
}
