//! What readings tell of the cause, what could be found, and how often it is right.

mod causes;
mod render;
mod trial;

pub use causes::causes_report;
pub use render::report;
pub use trial::{TrialScores, trial_report};

use super::readings::{UNDERSTOOD, Understood};
use crate::report::Records;
use crate::scenario::Scenario;
use crate::text::fixed;
use serde::{Serialize, Serializer};
use sim_core::diagnose::causes::{NONE, Named};
use sim_core::diagnose::given::Sheet;
use sim_core::diagnose::library::Library;
use sim_core::diagnose::posterior::{Posterior, Read, Speaks, Worth};
use sim_core::diagnose::trial::ranking;

/// Pairs that are told, and signs for and against each cause.
const TOLD: (usize, usize) = (10, 3);
/// Causes less probable than this have no signs.
const HAS_SIGNS: f64 = 0.005;
/// How much a reading must say to be a sign: a factor of 1.35 (natural logarithm).
const SAYS_LEAST: f64 = 0.3;
/// Readings whose expected values are told for the next check.
const EXPECTED: usize = 3;

/// A cause and what speaks for and against it.
#[derive(Serialize)]
struct CauseFound {
    name: String,
    probability: f64,
    probability_percent: f64,
    /// That it is there, alone or with another.
    present_probability: f64,
    words: String,
    strength: Option<f64>,
    full_strength: &'static str,
    #[serde(rename = "for")]
    signs_for: Vec<String>,
    #[serde(rename = "against")]
    signs_against: Vec<String>,
}

#[derive(Serialize)]
struct PairFound {
    names: Vec<String>,
    probability: f64,
}

#[derive(Serialize)]
struct CheckFound {
    name: &'static str,
    words: &'static str,
    minutes: f64,
    caution: &'static str,
    information_bit: f64,
    waits_for: Option<&'static str>,
    expects: Vec<Expected>,
}

#[derive(Serialize)]
struct Expected {
    cause: String,
    reading: String,
    low: f64,
    high: f64,
    unit: &'static str,
}

/// What readings tell.
#[derive(Serialize)]
pub struct Diagnosis {
    #[serde(rename = "canonical_command")]
    command: String,
    #[serde(rename = "conditions")]
    scenario: Scenario,
    #[serde(serialize_with = "understood")]
    readings: Vec<Understood>,
    ear: Option<&'static str>,
    causes: Vec<CauseFound>,
    pairs: Vec<PairFound>,
    next_check: Option<CheckFound>,
    #[serde(skip_serializing_if = "Option::is_none")]
    checks: Option<Vec<CheckFound>>,
    #[serde(skip)]
    warm: bool,
}

fn understood<S: Serializer>(readings: &[Understood], serializer: S) -> Result<S::Ok, S::Error> {
    Records(UNDERSTOOD, readings).serialize(serializer)
}

fn name_of(library: &Library, cause: usize) -> String {
    library.causes.get(cause).map_or(NONE.to_string(), Named::name)
}

fn sign(library: &Library, speaks: &Speaks, sound: bool) -> String {
    let slot = &library.slots[speaks.slot];
    let (mean, sigma) = speaks.expected;
    let times = (speaks.says / std::f64::consts::LN_10).abs();
    let factor = if times > 3.0 { "more than 1000".into() } else { fixed(10f64.powf(times), 1) };
    let compared = match sound {
        true => String::new(),
        false => format!(", a sound car {}", slot.shown(speaks.sound)),
    };
    format!(
        "{} {}: expected {} give or take {}{compared} ({factor} times)",
        slot.words(),
        slot.shown(speaks.value),
        slot.shown(mean),
        slot.shown(sigma)
    )
}

fn check(library: &Library, worth: &Worth) -> CheckFound {
    let mut slots: Vec<(usize, f64)> = Vec::new();
    for (_, slot, mean, sigma) in &worth.expects {
        let others = worth.expects.iter().filter(|other| other.1 == *slot);
        let apart = others.map(|other| (other.2 - mean).abs() / sigma).fold(0.0, f64::max);
        match slots.iter_mut().find(|(known, _)| known == slot) {
            Some((_, most)) => *most = most.max(apart),
            None => slots.push((*slot, apart)),
        }
    }
    slots.sort_by(|a, b| b.1.total_cmp(&a.1));
    slots.truncate(EXPECTED);
    // Reading by reading, so that what tells two causes apart stands together.
    let of = |(told, _): &(usize, f64)| {
        let told = *told;
        worth.expects.iter().filter(move |(_, slot, ..)| *slot == told)
    };
    let expects = slots
        .iter()
        .flat_map(of)
        .map(|(cause, slot, mean, sigma)| {
            let slot = &library.slots[*slot];
            let (low, high) = slot.kind.ends();
            let at = |scaled: f64| slot.kind.unscaled(scaled.clamp(low, high));
            Expected {
                cause: name_of(library, *cause),
                reading: slot.name(),
                low: at(mean - 2.0 * sigma),
                high: at(mean + 2.0 * sigma),
                unit: slot.kind.unit().symbol(),
            }
        })
        .collect();
    CheckFound {
        name: worth.check.name,
        words: worth.check.words,
        minutes: worth.check.minutes,
        caution: worth.check.caution,
        information_bit: worth.information / std::f64::consts::LN_2,
        waits_for: worth.waits_for,
        expects,
    }
}

impl Diagnosis {
    /// What was found.
    pub fn new(
        command: String,
        scenario: Scenario,
        sheet: &Sheet,
        (library, posterior, reads): (&Library, &Posterior, &[Read]),
        (check_library, worths, all_checks): (&Library, &[Worth], bool),
    ) -> Diagnosis {
        let best = |cause: usize| {
            let own = |h: &&sim_core::diagnose::posterior::Weighed| h.causes == [cause];
            posterior.hypotheses.iter().find(own)
        };
        let ranked = ranking(posterior);
        let rival: Vec<usize> = ranked
            .iter()
            .find(|cause| **cause < library.causes.len())
            .and_then(|cause| best(*cause))
            .map(|h| h.cells.clone())
            .unwrap_or_default();
        let causes = ranked
            .iter()
            .map(|&cause| {
                let named = library.causes.get(cause);
                let found = best(cause);
                let cells = found.map(|h| h.cells.clone()).unwrap_or_default();
                let strength = found.and_then(|h| h.strengths.first().copied());
                let signs = match posterior.shared[cause] > HAS_SIGNS {
                    true => library.signs(&cells, &rival, reads),
                    false => Vec::new(),
                };
                let told = |is_for: bool| {
                    let says = |s: &&Speaks| s.says.abs() > SAYS_LEAST && (s.says > 0.0) == is_for;
                    let sound = named.is_none();
                    signs
                        .iter()
                        .filter(says)
                        .take(TOLD.1)
                        .map(|s| sign(library, s, sound))
                        .collect()
                };
                CauseFound {
                    name: name_of(library, cause),
                    probability: posterior.shared[cause],
                    probability_percent: 100.0 * posterior.shared[cause],
                    present_probability: posterior.present[cause],
                    words: named.map_or("nothing is wrong that these readings show".into(), |n| {
                        n.words(strength.unwrap_or(1.0))
                    }),
                    strength: strength.filter(|_| named.is_some_and(|n| n.cause.graded)),
                    full_strength: named.map_or("", |n| n.cause.full),
                    signs_for: told(true),
                    signs_against: told(false),
                }
            })
            .collect();
        let pairs = posterior
            .hypotheses
            .iter()
            .filter(|h| h.causes.len() == 2)
            .take(TOLD.0)
            .map(|h| PairFound {
                names: h.causes.iter().map(|cause| name_of(library, *cause)).collect(),
                probability: h.probability,
            })
            .collect();
        let next = worths.iter().find(|worth| worth.waits_for.is_none());
        Diagnosis {
            command,
            scenario,
            readings: sheet.readings().iter().map(Understood::of).collect(),
            ear: sheet.ear(),
            causes,
            pairs,
            next_check: next.map(|worth| check(check_library, worth)),
            checks: all_checks
                .then(|| worths.iter().map(|worth| check(check_library, worth)).collect()),
            warm: sheet.is_warm(),
        }
    }
}
