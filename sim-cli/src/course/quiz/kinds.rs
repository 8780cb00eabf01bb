//! Every kind of question, and questions drawn of them.

use super::question::{Question, QuestionSource};
use super::{metering, repairs, running};
use crate::parallel;
use crate::progress::Progress;
use serde::Serialize;
use sim_core::noise::Noise;
use sim_core::rig::keys::Setup;

/// How often numbers are drawn until they make a fair question.
const DRAWS: usize = 24;

/// A kind of question.
pub struct QuestionKind {
    /// Its name.
    pub id: &'static str,
    /// Makes a question of numbers drawn by chance, if they make a fair one.
    make: fn(&mut QuestionSource) -> Option<Question>,
}

const fn kind(id: &'static str, make: fn(&mut QuestionSource) -> Option<Question>) -> QuestionKind {
    QuestionKind { id, make }
}

/// Every kind of question, in the order of the lessons, whose number starts the name.
pub static KINDS: &[QuestionKind] = &[
    kind("01-leak", metering::leak),
    kind("01-spark", metering::dead_spark),
    kind("01-pressure", metering::pressure_mixture),
    kind("02-climb", metering::climb),
    kind("02-thin-air", metering::thin_air),
    kind("02-weight", metering::pressure_volts),
    kind("03-current", metering::current),
    kind("03-drop", metering::slit_drop),
    kind("04-rest-height", metering::rest_height),
    kind("04-way-back", metering::way_back),
    kind("05-by-ear", metering::by_ear),
    kind("05-middle", metering::middle_side),
    kind("05-roughness", metering::roughness),
    kind("06-duty", metering::duty),
    kind("06-monoxide", metering::monoxide),
    kind("07-housing", metering::housing),
    kind("07-speed", metering::speed_volts),
    kind("07-leak", metering::leak_volts),
    kind("08-climb", running::climb_time),
    kind("08-swing", running::swing),
    kind("08-first", running::first_to_settle),
    kind("09-gap", running::gap),
    kind("09-linkage", running::held_open),
    kind("10-duty", running::climb_duty),
    kind("10-limit", running::climb_limit),
    kind("11-start", running::cold_start),
    kind("11-sensor", running::thermistor),
    kind("12-cell", running::wanted_cell),
    kind("12-drives", running::relearning),
    kind("13-load", running::loaded),
    kind("13-class", running::stated_error),
    kind("14-pit", running::pit),
    kind("14-changed", running::changed_parts),
    kind("15-which", repairs::which_fault),
    kind("15-screw", repairs::after_repair),
];

impl QuestionKind {
    /// Which lesson it belongs to.
    pub fn lesson(&self) -> u32 {
        self.id[..2].parse().unwrap_or(0)
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
    kinds: &[&QuestionKind],
    setup: &Setup,
    seed: u64,
    progress: &mut Progress<'_>,
) -> Vec<QuizItem> {
    let count = kinds.len().max(1) as f64;
    let one = |kind: &&QuestionKind| {
        let item = kind.id.bytes().fold(0u64, |sum, byte| sum.wrapping_mul(131) + u64::from(byte));
        let mut source = QuestionSource { setup: *setup, noise: Noise::new(seed, item) };
        let question = (0..DRAWS).find_map(|_| (kind.make)(&mut source))?;
        Some(QuizItem { id: kind.id, lesson: kind.lesson(), question })
    };
    let questions = parallel::map(kinds, one, |done| progress.show(done as f64 / count));
    questions.into_iter().flatten().collect()
}
