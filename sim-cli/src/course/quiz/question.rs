//! What questions are made of: an engine to ask about, chance, and the shapes of an answer.

use crate::text::effect;
use serde::{Serialize, Serializer};
use sim_core::conditions::Trim;
use sim_core::noise::Noise;
use sim_core::point::{Point, Reading, State};
use sim_core::rig::keys::{Key, Setup};
use sim_core::steady::SteadyEngine;

/// Share of a change by which a prediction of it may miss: our own, so that who has understood
/// the sign and the order is right, and who has guessed is not.
pub const TOLERANCE_SHARE: f64 = 0.25;

/// What a number may be missed by at most, as a share of it.
const TOLERANCE_MOST: f64 = 0.3;

/// The right answer.
pub enum CorrectAnswer {
    /// A number within a tolerance, written with so many decimals.
    Number { value: f64, tolerance: f64, decimals: usize },
    /// One of some words, by its place.
    Choice { choices: Vec<String>, at: usize },
}

impl CorrectAnswer {
    /// The words to choose from; of a number there are none.
    pub fn choices(&self) -> Option<&[String]> {
        match self {
            CorrectAnswer::Number { .. } => None,
            CorrectAnswer::Choice { choices, .. } => Some(choices),
        }
    }
}

/// A question. It serialises without its answer.
#[derive(Serialize)]
pub struct Question {
    /// What is asked.
    pub text: String,
    /// Unit of the answer, empty for a choice or a bare number.
    pub unit: &'static str,
    /// What is right.
    #[serde(rename = "choices", serialize_with = "choices")]
    pub answer: CorrectAnswer,
    /// Why, in a line.
    #[serde(skip)]
    pub why: String,
}

fn choices<S: Serializer>(answer: &CorrectAnswer, serializer: S) -> Result<S::Ok, S::Error> {
    answer.choices().serialize(serializer)
}

impl Question {
    /// Where the answer is written, with what it may be.
    pub fn answer_space(&self) -> String {
        match self.answer.choices() {
            Some(choices) => format!("({})", choices.join(" / ")),
            None => format!("______ {}", self.unit).trim_end().to_string(),
        }
    }

    /// A question for a number; none if what it may be missed by is not small beside it. On a
    /// scale whose zero means nothing, turns and degrees, that cannot be asked.
    pub fn number(
        text: String,
        unit: &'static str,
        (value, tolerance, decimals): (f64, f64, usize),
        why: String,
    ) -> Option<Question> {
        let answer = CorrectAnswer::Number { value, tolerance, decimals };
        let scale = matches!(unit, "turns" | "degC");
        let fair = value.is_finite() && (scale || tolerance <= TOLERANCE_MOST * value.abs());
        fair.then_some(Question { text, unit, answer, why })
    }

    /// A question for one of some words.
    pub fn choice(text: String, choices: &[&str], at: usize, why: String) -> Question {
        let choices = choices.iter().map(|word| word.to_string()).collect();
        Question { text, unit: "", answer: CorrectAnswer::Choice { choices, at }, why }
    }
}

/// An engine and the chance that draws the numbers of one question.
pub struct QuestionSource {
    /// The rig, warm, trim off, idle air held.
    pub setup: Setup,
    /// The chance.
    pub noise: Noise,
}

impl QuestionSource {
    /// One of some values.
    pub fn one_of<T: Copy>(&mut self, values: &[T]) -> T {
        let at = (self.noise.uniform() * values.len() as f64) as usize;
        values[at.min(values.len() - 1)]
    }

    /// A round value: a whole number of steps between two.
    pub fn stepped(&mut self, low: f64, high: f64, step: f64) -> f64 {
        let count = ((high - low) / step).round();
        let at = (self.noise.uniform() * (count + 1.0)).floor().min(count);
        ((low + at * step) * 1e9).round() / 1e9
    }

    /// The setup with another thing about it.
    pub fn with(&self, change: impl FnOnce(&mut Setup)) -> Setup {
        let mut setup = self.setup;
        change(&mut setup);
        setup
    }
}

/// Gives a key another value, if the rig allows it.
pub fn set(setup: &Setup, name: &str, value: f64) -> Option<Setup> {
    let mut setup = *setup;
    Key::find(name)?.set(&mut setup, value).ok()?;
    Some(setup)
}

/// The same with the trim on.
pub fn trim_on(setup: &Setup) -> Setup {
    let mut setup = *setup;
    setup.conditions.trim = Trim::On;
    setup
}

/// The engine under a setup.
pub fn point(setup: &Setup) -> Point {
    SteadyEngine::new(&setup.rig, &setup.conditions).point(setup.conditions.screw_turns)
}

/// The running engine under a setup.
pub fn state(setup: &Setup) -> Option<State> {
    point(setup).state().copied()
}

/// A reading with its unit, as a person writes it.
pub fn shown(reading: &Reading, value: f64) -> String {
    format!("{value:.*} {}", reading.decimals, reading.unit.symbol()).trim_end().to_string()
}

/// Before and after of a reading, both running.
pub fn before_and_after(
    name: &str,
    before: &Setup,
    after: &Setup,
) -> Option<(&'static Reading, f64, f64)> {
    let reading = Reading::find(name)?;
    let value = |setup: &Setup| state(setup).and_then(|state| reading.value(&state));
    Some((reading, value(before)?, value(after)?))
}

/// Why a reading is what it is after a change, in the words of `predict`.
fn why(reading: &Reading, (was, is): (f64, f64), before: &Setup, after: &Setup) -> String {
    let sentences = effect((&point(before), &point(after)), before, after, 1).join(" ");
    format!(
        "{}: {} becomes {}. {sentences}",
        reading.label,
        shown(reading, was),
        shown(reading, is)
    )
}

/// Asks for a reading after a change; `{was}` in the text is what it was. It may be missed by
/// `least` in the reading's unit, or by [`TOLERANCE_SHARE`] of the change. Not asked where who writes down
/// what it was would be right, or nearly.
pub fn ask_reading(
    text: &str,
    name: &str,
    (before, after): (&Setup, &Setup),
    least: f64,
) -> Option<Question> {
    let (reading, was, is) = before_and_after(name, before, after)?;
    if (is - was).abs() < 2.0 * least {
        return None;
    }
    let tolerance = least.max(TOLERANCE_SHARE * (is - was).abs());
    let text = text.replace("{was}", &shown(reading, was));
    let why = why(reading, (was, is), before, after);
    Question::number(text, reading.unit.symbol(), (is, tolerance, reading.decimals), why)
}

/// Asks which way a reading goes: up, down or neither, in three words of that order. What
/// moves by hardly a decimal is not asked about.
pub fn ask_direction(
    text: &str,
    name: &str,
    (before, after): (&Setup, &Setup),
    words: [&str; 3],
) -> Option<Question> {
    let (reading, was, is) = before_and_after(name, before, after)?;
    let step = 10f64.powi(-(reading.decimals as i32));
    let moved = (is - was) / step;
    let at = match moved {
        m if m >= 2.0 => 0,
        m if m <= -2.0 => 1,
        m if m.abs() < 0.5 => 2,
        _ => return None,
    };
    let text = text.replace("{was}", &shown(reading, was));
    Some(Question::choice(text, &words, at, why(reading, (was, is), before, after)))
}
