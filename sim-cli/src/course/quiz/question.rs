//! What questions are made of: an engine to ask about, chance, what is drawn, and an answer.

use crate::text::{plain, turns, turns_typed};
use serde::Serialize;
use sim_core::conditions::Trim;
use sim_core::noise::Noise;
use sim_core::point::{Point, State};
use sim_core::rig::keys::{Key, Setup};
use sim_core::steady::SteadyEngine;

/// Share of a change by which a prediction of it may miss: our own, so that who has understood
/// the sign and the order is right, and who has guessed is not.
pub const TOLERANCE_SHARE: f64 = 0.25;

/// The right answer.
#[derive(Clone, Copy)]
pub enum CorrectAnswer {
    /// A number, and by how much it may be missed.
    Number(f64, f64),
    /// One of the choices, by its place.
    Choice(usize),
}

/// A question. It serialises without its answer.
#[derive(Serialize)]
pub struct Question {
    /// What is asked.
    pub text: String,
    /// Unit of the answer, empty for a choice or a bare number.
    pub unit: &'static str,
    /// The words to choose from; of a number there are none.
    pub choices: Option<&'static [String]>,
    /// What is right.
    #[serde(skip)]
    pub answer: CorrectAnswer,
    /// Decimals of a number.
    #[serde(skip)]
    pub decimals: usize,
    /// Why, in a line.
    #[serde(skip)]
    pub why: String,
}

impl Question {
    /// Where the answer is written, with what it may be.
    pub fn answer_space(&self) -> String {
        match self.choices {
            Some(choices) => format!("({})", choices.join(" / ")),
            None => format!("______ {}", self.unit).trim_end().to_string(),
        }
    }
}

/// Numbers by their names: `numbers![metres, less = 100.0 * share]`.
macro_rules! numbers {
    ($($name:ident $(= $value:expr)?),* $(,)?) => {
        vec![$((stringify!($name), numbers!(@ $name $($value)?))),*]
    };
    (@ $name:ident) => { $name };
    (@ $name:ident $value:expr) => { $value };
}
pub(super) use numbers;

/// Numbers by their names.
pub type Numbers = Vec<(&'static str, f64)>;

/// What a kind of question makes of numbers drawn by chance.
pub struct Drawn {
    /// What is right.
    pub answer: DrawnAnswer,
    /// Numbers of its text, by their names.
    pub numbers: Numbers,
    /// Texts that stand in it, by their names.
    pub texts: Vec<(&'static str, String)>,
}

/// What is right, or from what it follows.
pub enum DrawnAnswer {
    /// What is right.
    Worked(CorrectAnswer),
    /// The kind's reading, before and after a change.
    Change(Box<[Setup; 2]>),
}

impl Drawn {
    fn new(answer: DrawnAnswer, numbers: Numbers) -> Drawn {
        Drawn { answer, numbers, texts: Vec::new() }
    }

    /// Asks for a number, which may be missed by a tolerance.
    pub fn number(value: f64, tolerance: f64, numbers: Numbers) -> Drawn {
        Drawn::new(DrawnAnswer::Worked(CorrectAnswer::Number(value, tolerance)), numbers)
    }

    /// Asks for one of the kind's choices.
    pub fn choice(at: usize, numbers: Numbers) -> Drawn {
        Drawn::new(DrawnAnswer::Worked(CorrectAnswer::Choice(at)), numbers)
    }

    /// Asks for the kind's reading after a change.
    pub fn change(before: Setup, after: Setup, numbers: Numbers) -> Drawn {
        Drawn::new(DrawnAnswer::Change(Box::new([before, after])), numbers)
    }

    /// The same with a text of a name.
    pub fn with(mut self, name: &'static str, text: String) -> Drawn {
        self.texts.push((name, text));
        self
    }

    /// A text of `questions.toml` with what stands in its braces.
    pub fn filled(&self, text: &str) -> String {
        let mut pieces = text.split('{');
        let mut filled = pieces.next().unwrap_or_default().to_string();
        for piece in pieces {
            let (place, after) = piece.split_once('}').unwrap_or((piece, ""));
            filled += &self.value(place).unwrap_or_else(|| format!("{{{place}}}"));
            filled += after;
        }
        filled
    }

    /// What stands in a pair of braces: a name, and the form of its number.
    fn value(&self, place: &str) -> Option<String> {
        let (name, form) = place.split_once(':').unwrap_or((place, ""));
        if let Some((_, text)) = self.texts.iter().find(|(known, _)| *known == name) {
            return Some(text.clone());
        }
        let (_, number) = *self.numbers.iter().find(|(known, _)| *known == name)?;
        Some(match (form, form.split_once('|')) {
            ("", _) => plain(number),
            ("size", _) => plain(number.abs()),
            ("turns", _) => turns(number),
            ("typed", _) => turns_typed(number.abs()),
            (_, Some((above, below))) => if number > 0.0 { above } else { below }.to_string(),
            _ => {
                let decimals = form.trim_start_matches(['+', '.']).parse().ok()?;
                match form.starts_with('+') {
                    true => format!("{number:+.decimals$}"),
                    false => format!("{number:.decimals$}"),
                }
            }
        })
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
