//! Every kind of question, and questions drawn of them.

use super::question::{
    CorrectAnswer, Drawn, DrawnAnswer, Question, QuestionSource, TOLERANCE_SHARE, numbers, point,
    set, trim_on,
};
use super::{arriving, metering, repairs, running};
use crate::parallel;
use crate::progress::Progress;
use crate::text::{capital, effect, with_unit};
use serde::{Deserialize, Serialize};
use sim_core::noise::Noise;
use sim_core::point::Reading;
use sim_core::rig::keys::{Key, Setup};
use std::sync::LazyLock;

/// How often numbers are drawn until they make a fair question.
const DRAWS: usize = 24;
/// What a number may be missed by at most, as a share of it.
const TOLERANCE_MOST: f64 = 0.3;

/// A kind of question, as `questions.toml` has it.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct QuestionKind {
    /// Its name.
    pub id: String,
    text: String,
    why: Vec<String>,
    unit: String,
    decimals: usize,
    choices: Vec<String>,
    change: Option<Change>,
    reading: String,
    least: Option<f64>,
}

/// A change of one key.
#[derive(Default, Deserialize)]
#[serde(default, deny_unknown_fields)]
struct Change {
    trim: bool,
    key: String,
    to: Vec<f64>,
    by: Vec<f64>,
}

/// The file of the questions.
#[derive(Deserialize)]
struct QuestionFile {
    question: Vec<QuestionKind>,
}

/// Every kind of question, in the order of the lessons, whose number starts the name.
pub static KINDS: LazyLock<Vec<QuestionKind>> = LazyLock::new(|| {
    let file: QuestionFile = toml::from_str(include_str!("questions.toml")).expect("tested");
    file.question
});

/// Draws the numbers of a question, if they make a fair one.
type Draw = fn(&mut QuestionSource) -> Option<Drawn>;

/// What works out the kinds that are more than a change of one key.
const WORKED_OUT: [(&str, Draw); 27] = [
    ("02-thin-air", metering::thin_air),
    ("03-current", metering::current),
    ("03-drop", metering::slit_drop),
    ("04-rest-height", metering::rest_height),
    ("04-way-back", metering::way_back),
    ("05-by-ear", metering::by_ear),
    ("05-middle", metering::middle_side),
    ("06-monoxide", metering::monoxide),
    ("07-housing", metering::housing),
    ("07-speed", metering::speed_volts),
    ("08-climb", running::climb_time),
    ("08-swing", running::swing),
    ("08-first", running::first_to_settle),
    ("09-gap", running::gap),
    ("10-limit", running::climb_limit),
    ("11-start", running::cold_start),
    ("11-sensor", running::thermistor),
    ("12-cell", running::wanted_cell),
    ("12-drives", running::relearning),
    ("13-load", running::loaded),
    ("13-class", running::stated_error),
    ("14-pit", running::pit),
    ("14-changed", running::changed_parts),
    ("15-which", repairs::which_fault),
    ("15-screw", repairs::after_repair),
    ("17-share", arriving::share_drawn),
    ("17-drop", arriving::less_drop),
];

impl Change {
    fn drawn(&self, source: &mut QuestionSource) -> Option<Drawn> {
        let before = if self.trim { trim_on(&source.setup) } else { source.setup };
        let value = source.one_of(if self.to.is_empty() { &self.by } else { &self.to });
        let now = Key::find(&self.key)?.get(&before)?;
        let then = if self.to.is_empty() { now + value } else { value };
        let after = set(&before, &self.key, then)?;
        Some(Drawn::change(before, after, numbers![value, now, then]))
    }
}

impl QuestionKind {
    /// The words to choose from; of a number there are none.
    #[cfg(test)]
    pub fn choices(&self) -> &[String] {
        &self.choices
    }

    /// Which lesson it belongs to.
    pub fn lesson(&self) -> u32 {
        self.id[..2].parse().unwrap_or(0)
    }

    /// A question of numbers drawn by chance, if they make a fair one.
    fn question(&'static self, source: &mut QuestionSource) -> Option<Question> {
        let drawn = match &self.change {
            Some(change) => change.drawn(source)?,
            None => WORKED_OUT.iter().find(|(id, _)| *id == self.id)?.1(source)?,
        };
        let answer = match &drawn.answer {
            DrawnAnswer::Change(setups) => return self.of_change(setups, &drawn),
            DrawnAnswer::Worked(answer) => *answer,
        };
        let at = if let CorrectAnswer::Choice(at) = answer { at } else { 0 };
        let why = drawn.filled(self.why.get(at).or(self.why.first())?);
        self.fair(answer, (&self.unit, self.decimals), drawn.filled(&self.text), why)
    }

    /// A question, unless what its number may be missed by is not small beside it. On a scale
    /// whose zero means nothing, turns and degrees, that cannot be asked.
    fn fair(
        &'static self,
        answer: CorrectAnswer,
        (unit, decimals): (&'static str, usize),
        text: String,
        why: String,
    ) -> Option<Question> {
        let scale = matches!(unit, "turns" | "degC");
        if let CorrectAnswer::Number(value, tolerance) = answer
            && !(value.is_finite() && (scale || tolerance <= TOLERANCE_MOST * value.abs()))
        {
            return None;
        }
        let choices = Some(&self.choices[..]).filter(|choices| !choices.is_empty());
        Some(Question { text, unit, choices, answer, decimals, why })
    }

    /// Asks for the reading after a change, or which way it goes. A value may be missed by
    /// `least` or by [`TOLERANCE_SHARE`] of the change, and is not asked where who writes down
    /// what it was would be right, or nearly. A way is not asked where it moves by hardly a
    /// decimal. The reason stands in the words of `predict`.
    fn of_change(&'static self, [before, after]: &[Setup; 2], drawn: &Drawn) -> Option<Question> {
        let reading = Reading::find(&self.reading)?;
        let (point_before, point_after) = (point(before), point(after));
        let was = reading.value(point_before.state()?)?;
        let is = reading.value(point_after.state()?)?;
        let (answer, unit) = match self.least {
            Some(least) if (is - was).abs() < 2.0 * least => return None,
            Some(least) => {
                let tolerance = least.max(TOLERANCE_SHARE * (is - was).abs());
                (CorrectAnswer::Number(is, tolerance), reading.unit.symbol())
            }
            None => {
                let at = match (is - was) * 10f64.powi(reading.decimals as i32) {
                    moved if moved >= 2.0 => 0,
                    moved if moved <= -2.0 => 1,
                    moved if moved.abs() < 0.5 => 2,
                    _ => return None,
                };
                (CorrectAnswer::Choice(at), "")
            }
        };
        let [was, is] = [was, is].map(|value| with_unit(reading, value));
        let effect = effect((&point_before, &point_after), before, after, 1).join(" ");
        let why = format!("{}: {was} becomes {is}. {effect}", capital(reading.label));
        let text = drawn.filled(&self.text).replace("{was}", &was);
        self.fair(answer, (unit, reading.decimals), text, why)
    }
}

/// A question with its name.
#[derive(Serialize)]
pub struct QuizItem {
    /// Its name.
    pub id: &'static str,
    /// Its lesson.
    pub lesson: u32,
    /// What is asked.
    #[serde(flatten)]
    pub question: Question,
}

/// Questions of some kinds. Each kind has a chance of its own, so one lesson's questions are
/// the same whether or not the others are asked.
pub fn drawn_questions(
    kinds: &[&'static QuestionKind],
    setup: &Setup,
    seed: u64,
    progress: &mut Progress<'_>,
) -> Vec<QuizItem> {
    let count = kinds.len().max(1) as f64;
    let one = |kind: &&'static QuestionKind| {
        let item = kind.id.bytes().fold(0u64, |sum, byte| sum.wrapping_mul(131) + u64::from(byte));
        let mut source = QuestionSource { setup: *setup, noise: Noise::new(seed, item) };
        let question = (0..DRAWS).find_map(|_| kind.question(&mut source))?;
        Some(QuizItem { id: &kind.id, lesson: kind.lesson(), question })
    };
    let questions = parallel::map(kinds, one, |done| progress.show(done as f64 / count));
    questions.into_iter().flatten().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scenario::load_rig;
    use sim_core::conditions::Conditions;

    /// A misspelt name would leave its braces in what is printed.
    #[test]
    fn every_kind_is_worked_out_and_fills_its_texts() {
        let rig = load_rig("six").ok().expect("shipped").rig;
        let setup = Setup { rig, conditions: Conditions::default() };
        let kinds: Vec<_> = KINDS.iter().collect();
        for seed in 1..4 {
            let items = drawn_questions(&kinds, &setup, seed, &mut Progress::new("quiz", None));
            assert_eq!(items.len(), KINDS.len());
            for QuizItem { id, question, .. } in items {
                let texts = [question.text, question.why];
                assert!(texts.iter().all(|text| !text.contains(['{', '}'])), "{id}: {texts:?}");
            }
        }
    }
}
