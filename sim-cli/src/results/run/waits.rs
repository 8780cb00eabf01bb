//! What each wait is owed to.

use crate::by_name::ByName;
use crate::report::{Cell, Column, Fit, Report, Table};
use serde::Serialize;
use sim_core::point::READINGS;
use sim_core::run::attribution::{Attribution, FACTORS, Waits};

/// Readings shown as rows: name, words.
const SHOWN: [(&str, &str); 8] = [
    ("lambda", "lambda"),
    ("speed_rpm", "speed"),
    ("manifold_bar", "manifold"),
    ("air_kg_h", "air"),
    ("fuel_kg_h", "fuel"),
    ("potentiometer_v", "pot."),
    ("duty_percent", "duty"),
    ("idle_valve_percent", "air valve"),
];
/// Name of the learned trim among the readings.
const LEARNED: &str = "learned_trim_ma";

/// Every reading's name, then the learned trim's, with its place in a [`Attribution`].
fn names() -> impl Iterator<Item = (usize, &'static str)> {
    READINGS.iter().map(|reading| reading.name).chain([LEARNED]).enumerate()
}

/// The waits as the JSON object they are.
#[derive(Serialize)]
pub struct WaitsRecord {
    made_quick: ByName<&'static str>,
    readings: ByName<WaitRecord>,
}

/// The wait of a reading.
#[derive(Serialize)]
struct WaitRecord {
    #[serde(flatten)]
    whole: Settled,
    owed_to: Option<&'static str>,
    saves_s: Option<f64>,
    without: ByName<Settled>,
}

/// When a reading settled, and where it ended.
#[derive(Default, Serialize)]
struct Settled {
    settled_after_s: Option<f64>,
    end: Option<f64>,
}

impl Settled {
    fn of(waits: &Waits, reading: usize) -> Settled {
        Settled { settled_after_s: waits.settled_after_s[reading], end: waits.ends[reading] }
    }
}

impl WaitsRecord {
    /// The record of an attribution.
    pub fn of(attribution: &Attribution) -> WaitsRecord {
        let wait = |i: usize| {
            let main_factor = attribution.main_factor(i);
            let without = FACTORS.iter().zip(&attribution.without).map(|(factor, waits)| {
                (factor.name, waits.as_ref().map_or_else(Settled::default, |w| Settled::of(w, i)))
            });
            WaitRecord {
                whole: Settled::of(&attribution.whole, i),
                owed_to: main_factor.map(|(factor, _)| factor.name),
                saves_s: main_factor.map(|(_, saved)| saved),
                without: ByName(without.collect()),
            }
        };
        WaitsRecord {
            made_quick: ByName(FACTORS.iter().map(|f| (f.name, f.without)).collect()),
            readings: ByName(names().map(|(i, name)| (name, wait(i))).collect()),
        }
    }
}

/// Where friction leaves the engine until something shakes the plunger.
fn friction_words(attribution: &Attribution) -> Option<String> {
    let at = FACTORS.iter().position(|factor| factor.name == "friction")?;
    let free = attribution.without[at].as_ref()?;
    let left = |name: &str| {
        let (i, _) = names().find(|(_, known)| *known == name)?;
        Some(attribution.whole.ends[i]? - free.ends[i]?)
    };
    Some(format!(
        "At the end the plunger's friction still holds lambda off by {:+.3}, the potentiometer by {:+.1} mV and the duty by {:+.1} points.",
        left("lambda")?,
        1e3 * left("potentiometer_v")?,
        left("duty_percent")?
    ))
}

/// The waits as a table, with what was made quick under it.
pub fn render(report: &mut Report, attribution: &Attribution) {
    report.heading("What each wait is owed to (s until settled)");
    let column = |name: &str| Column::new(name, name, "", 0);
    let mut columns = vec![column("reading"), column("as it is")];
    columns.extend(FACTORS.iter().map(|factor| column(factor.name)));
    columns.push(column("owed to"));
    let seconds = |settled: Option<f64>| match settled {
        Some(s) if s > 0.0 => format!("{s:.1}"),
        Some(_) => "0".into(),
        None => "-".into(),
    };
    let shown = SHOWN.iter().copied().chain([(LEARNED, "learned trim")]);
    let mut rows = Vec::new();
    for (name, words) in shown {
        let Some((i, _)) = names().find(|(_, known)| *known == name) else { continue };
        let mut row = vec![words.to_string(), seconds(attribution.whole.settled_after_s[i])];
        row.extend(attribution.without.iter().map(|waits| match waits {
            Some(waits) => seconds(waits.settled_after_s[i]),
            None => "dies".into(),
        }));
        row.push(
            attribution
                .main_factor(i)
                .map_or("none alone".into(), |(factor, _)| factor.name.into()),
        );
        rows.push(row.into_iter().map(Cell::Word).collect());
    }
    let factors = FACTORS.iter().map(|factor| factor.name);
    let short: Vec<&str> = ["reading", "as it is", "owed to"].into_iter().chain(factors).collect();
    report.table(Table::new(columns, rows).short_columns(&short).fitted(Fit::First));
    if let Some(words) = friction_words(attribution) {
        report.say(words);
    }
    report.in_full(|report| {
        for factor in FACTORS {
            report.say(format!("  {:<13} {}", factor.name, factor.without));
        }
    });
    report.note("Owed to: the part that shortens the wait most if it is made quick, by a tenth at least. A dash: not settled at the end of the run. Every pace here is a choice of ours, measured on no engine. The heat of manifold, exhaust and sensor, which takes minutes, is left out.");
}
