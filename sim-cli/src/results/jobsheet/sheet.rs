//! A job on a sheet, as data: its steps, what is expected with its tolerance, what was found.

use crate::cautions::{Caution, Job as Careful};
use crate::report::{Cell, Column, Found, Table};
use crate::scenario::Scenario;
use crate::text::{capital, fixed};
use serde::ser::SerializeMap;
use serde::{Serialize, Serializer};
use sim_core::diagnose::checks::Check;
use sim_core::diagnose::sheet::Taken;
use sim_core::job::expected::{Expected, SHARE};
use sim_core::job::jobs::Job;
use sim_core::job::reading::Place;
use sim_core::job::steps::Step;
use sim_core::wording::plain;

/// A reading on the sheet.
pub struct Reading {
    place: Place,
    taken: Taken,
    expected: Option<Expected>,
    /// What was found: the line from 0, and the value.
    found: Vec<(usize, f64)>,
}

impl Reading {
    /// A reading, what is expected of it and what was found.
    pub fn new(
        place: Place,
        taken: Taken,
        expected: Option<Expected>,
        found: Vec<(usize, f64)>,
    ) -> Reading {
        Reading { place, taken, expected, found }
    }

    /// Words for it, with its unit and its state.
    pub fn label(&self) -> String {
        let unit = self.place.unit();
        let unit = if unit.is_empty() { String::new() } else { format!(", {unit}") };
        let state = match (self.taken.fast, self.taken.plugged) {
            (true, _) => " at 2500 rpm",
            (_, false) => " unplugged",
            _ => "",
        };
        format!("{}{state}{unit}", self.place.label())
    }

    /// What is expected: the value or the lines' range, and the tolerance.
    pub fn expected(&self) -> (String, String) {
        let Some(expected) = &self.expected else { return ("none".into(), String::new()) };
        // Fine enough for the tolerance to be told.
        let fine = |decimals: &usize| 10f64.powi(-(*decimals as i32)) <= 0.5 * expected.tolerance;
        let own = self.place.decimals();
        let decimals = (own..own + 3).find(fine).unwrap_or(own);
        let shown = |value: f64| fixed(value, decimals);
        let least = expected.each.iter().copied().fold(f64::INFINITY, f64::min);
        let most = expected.each.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let value = match shown(least) == shown(most) {
            true => shown(expected.value),
            false => format!("{}-{}", shown(least), shown(most)),
        };
        // Never finer than it is: rounded up.
        let ten = 10f64.powi(decimals as i32);
        let up = |value: f64| fixed((value * ten).ceil() / ten, decimals);
        // What cannot be below 0 has but one end.
        let floored = expected.low == 0.0 && expected.value < expected.tolerance;
        let tolerance = match floored {
            true => format!("to {}", up(expected.high)),
            false => up(expected.tolerance),
        };
        (value, tolerance)
    }

    /// What was found, as text; empty if nothing was.
    pub fn found(&self) -> String {
        let one = |(_, value): &(usize, f64)| plain(*value);
        self.found.iter().map(one).collect::<Vec<_>>().join(" ")
    }

    /// Whether what was found lies within the tolerance; `None` if nothing was.
    pub fn inside(&self) -> Option<bool> {
        let expected = self.expected.as_ref()?;
        let holds = |(line, value): &(usize, f64)| expected.holds(*line, *value);
        (!self.found.is_empty()).then(|| self.found.iter().all(holds))
    }

    /// What was found, judged: "inside", "below", "line 3 above".
    pub fn judged(&self) -> Option<String> {
        let expected = self.expected.as_ref()?;
        let off = self.found.iter().find(|(line, value)| !expected.holds(*line, *value));
        let inside = (!self.found.is_empty()).then(|| "inside".to_string());
        let Some((line, value)) = off else { return inside };
        let own = expected.each.get(*line).copied().unwrap_or(expected.value);
        let way = if *value < own { "below" } else { "above" };
        match expected.each.len() {
            1 => Some(way.into()),
            _ => Some(format!("line {} {way}", line + 1)),
        }
    }

    /// Causes that bring it out of its tolerance: "low: check-valve; high: filter".
    pub fn causes(&self) -> String {
        let Some(expected) = &self.expected else { return String::new() };
        if expected.below == expected.above && !expected.below.is_empty() {
            return format!("low or high: {}", expected.below.join(", "));
        }
        let sides = [("low", &expected.below), ("high", &expected.above)];
        let side =
            |(word, names): &(&str, &Vec<&'static str>)| format!("{word}: {}", names.join(", "));
        let sides = sides.iter().filter(|(_, names)| !names.is_empty());
        sides.map(side).collect::<Vec<_>>().join("; ")
    }
}

impl Serialize for Reading {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let expected = self.expected.as_ref();
        let found: Vec<f64> = self.found.iter().map(|(_, value)| *value).collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("name", self.place.name())?;
        map.serialize_entry("label", &self.label())?;
        map.serialize_entry("unit", self.place.unit())?;
        map.serialize_entry("plugged", &self.taken.plugged)?;
        map.serialize_entry("fast_idle", &self.taken.fast)?;
        map.serialize_entry("expected", &expected.map(|e| e.value))?;
        map.serialize_entry("tolerance", &expected.map(|e| e.tolerance))?;
        map.serialize_entry("low", &expected.map(|e| e.low))?;
        map.serialize_entry("high", &expected.map(|e| e.high))?;
        map.serialize_entry("each_expected", &expected.map(|e| &e.each))?;
        map.serialize_entry("maker", &None::<f64>)?;
        map.serialize_entry("found", &found)?;
        map.serialize_entry("inside", &self.inside())?;
        map.serialize_entry("low_causes", &expected.map(|e| &e.below))?;
        map.serialize_entry("high_causes", &expected.map(|e| &e.above))?;
        map.end()
    }
}

/// A step on the sheet.
pub struct SheetStep {
    /// The step.
    pub step: Step,
    /// Its readings.
    pub readings: Vec<Reading>,
}

impl SheetStep {
    /// What to do if it is not as it should be, and the causes that the readings may have.
    pub fn if_not(&self) -> String {
        let named = self.readings.iter().filter(|reading| !reading.causes().is_empty());
        let several = self.readings.len() > 1;
        let causes = named.map(|reading| match several {
            true => format!("{} {}.", capital(reading.place.label()), reading.causes()),
            false => format!("{}.", capital(&reading.causes())),
        });
        let text = [self.step.if_not.to_string()].into_iter().chain(causes);
        text.collect::<Vec<_>>().join(" ")
    }
}

struct Numbered<'a>(usize, &'a SheetStep);

impl Serialize for Numbered<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Numbered(number, SheetStep { step, readings }) = self;
        // The step's own are those of its first reading.
        let first = readings.first();
        let expected = first.and_then(|reading| reading.expected.as_ref());
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("number", number)?;
        map.serialize_entry("title", step.title)?;
        map.serialize_entry("what", step.what)?;
        map.serialize_entry("tool", step.tool)?;
        map.serialize_entry("caution", step.caution)?;
        map.serialize_entry("turns_the_screw", &step.turns_the_screw)?;
        map.serialize_entry("reading", &first.map(|reading| reading.place.name()))?;
        map.serialize_entry("unit", &first.map(|reading| reading.place.unit()))?;
        map.serialize_entry("expected", &expected.map(|e| e.value))?;
        map.serialize_entry("tolerance", &expected.map(|e| e.tolerance))?;
        map.serialize_entry("readings", readings)?;
        map.serialize_entry("if_not", &self.1.if_not())?;
        map.end()
    }
}

/// What readings say of the cause.
pub struct Finding {
    /// Causes with their probability and what is wrong.
    pub causes: Vec<(String, f64, String)>,
    /// The check that tells most next.
    pub next_check: Option<&'static Check>,
}

impl Finding {
    /// It in sentences.
    pub fn sentences(&self) -> Vec<String> {
        let cause = |(name, probability, words): &(String, f64, String)| {
            format!("{name} {:.0} % ({words})", 100.0 * probability)
        };
        let likely = self.causes.iter().filter(|(_, probability, _)| *probability > 0.01);
        let likely: Vec<String> = likely.map(cause).collect();
        let mut told = vec![format!("Most probable: {}.", likely.join("; "))];
        if let Some(check) = self.next_check {
            told.push(format!(
                "Next check: {} ({:.0} min). {}",
                check.words, check.minutes, check.caution
            ));
        }
        told
    }
}

impl Serialize for Finding {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let cause = |(name, probability, words): &(String, f64, String)| serde_json::json!({"name": name, "probability": probability, "words": words});
        let causes: Vec<serde_json::Value> = self.causes.iter().map(cause).collect();
        let next = self.next_check.map(|check| serde_json::json!({"name": check.name, "words": check.words, "minutes": check.minutes, "caution": check.caution}));
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("causes", &causes)?;
        map.serialize_entry("next_check", &next)?;
        map.end()
    }
}

/// A job on a sheet.
pub struct JobSheet {
    /// The command, canonically.
    pub command: String,
    /// The engine.
    pub scenario: Scenario,
    /// The job.
    pub job: &'static Job,
    /// The part that was renewed.
    pub part: Option<&'static str>,
    /// What the repair calls for.
    pub verdict: Option<&'static str>,
    /// The steps.
    pub steps: Vec<SheetStep>,
    /// What was heard.
    pub ear: Option<&'static str>,
    /// What the readings say of the cause.
    pub finding: Option<Finding>,
    /// Whether readings were given.
    pub has_readings: bool,
    /// Where the sheet goes.
    pub file: Option<String>,
    /// Outside air (degC).
    pub ambient_degc: f64,
    /// Height (m).
    pub altitude_m: f64,
}

impl JobSheet {
    /// Its title.
    pub fn title(&self) -> String {
        let part = self.part.map(|part| format!(" {part}")).unwrap_or_default();
        let about = match self.part {
            Some(_) => "what must be redone",
            None => self.job.about,
        };
        format!("Job sheet {}{part}: {about}", self.job.name)
    }

    /// What the numbers hold for.
    pub fn circumstances(&self) -> String {
        format!(
            "Rig {}, invented; set as it should be, {:.0} degC outside, {:.0} m. Expected: the model's value for this rig. +/-: holds {:.0} % of sound cars, meters that err included. Maker: the vehicle maker's value; it rules.",
            self.scenario.file.name,
            self.ambient_degc,
            self.altitude_m,
            100.0 * SHARE
        )
    }

    /// Cautions of the job in full.
    pub fn cautions(&self) -> Vec<Caution> {
        let word = match self.part {
            Some("plunger" | "fuel-lines" | "actuator" | "pressure-regulator") => "fuel-opened",
            Some(_) => "warm-setting",
            None => self.job.name,
        };
        Careful::find(word).map(|job| job.all().collect()).unwrap_or_default()
    }

    /// Whether the screw is turned in it.
    pub fn turns_the_screw(&self) -> bool {
        self.steps.iter().any(|step| step.step.turns_the_screw)
    }

    /// What was found outside, in a sentence each; nothing if no readings were given.
    pub fn judgement(&self) -> Vec<String> {
        if !self.has_readings {
            return Vec::new();
        }
        let all = || self.steps.iter().flat_map(|step| &step.readings);
        let read = all().filter(|reading| reading.inside().is_some()).count();
        let off: Vec<String> = all()
            .filter(|reading| reading.inside() == Some(false))
            .map(|reading| format!("{} {}", reading.label(), reading.judged().unwrap_or_default()))
            .collect();
        let mut told = match (read, off.is_empty()) {
            (0, _) => vec!["None of the readings given stands on this sheet.".to_string()],
            (_, true) => vec![format!("Found: all {read} inside their tolerance.")],
            _ => vec![format!("Found: {} of {read} outside: {}.", off.len(), off.join("; "))],
        };
        if let Some(ear) = self.ear {
            told.push(format!("By ear: {ear}."));
        }
        told.extend(self.finding.iter().flat_map(Finding::sentences));
        told
    }
}

impl Serialize for JobSheet {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let steps: Vec<Numbered<'_>> =
            self.steps.iter().enumerate().map(|(i, step)| Numbered(i + 1, step)).collect();
        let cautions: Vec<&str> = self.cautions().iter().map(|caution| caution.long).collect();
        let mut map = serializer.serialize_map(None)?;
        map.serialize_entry("canonical_command", &self.command)?;
        map.serialize_entry("conditions", &self.scenario)?;
        map.serialize_entry("job", self.job.name)?;
        map.serialize_entry("about", self.job.about)?;
        map.serialize_entry("part", &self.part)?;
        map.serialize_entry("verdict", &self.verdict)?;
        map.serialize_entry("job_cautions", &cautions)?;
        map.serialize_entry("share_within_percent", &(100.0 * SHARE))?;
        map.serialize_entry("steps", &steps)?;
        map.serialize_entry("ear", &self.ear)?;
        map.serialize_entry("judgement", &self.judgement())?;
        map.serialize_entry("finding", &self.finding)?;
        map.serialize_entry("file", &self.file)?;
        map.end()
    }
}

impl Found for JobSheet {
    fn table(&self) -> Table {
        let columns = vec![
            Column::new("step", "step", "", 0),
            Column::new("reading", "reading", "", 0),
            Column::new("expected", "expected", "", 0),
            Column::new("tolerance", "+/-", "", 0),
            Column::new("found", "found", "", 0),
            Column::new("judged", "is", "", 0),
        ];
        let row = |(number, reading): (usize, &Reading)| -> Vec<Cell> {
            let (expected, tolerance) = reading.expected();
            vec![
                number.into(),
                reading.label().into(),
                expected.into(),
                tolerance.into(),
                reading.found().into(),
                reading.judged().unwrap_or_default().into(),
            ]
        };
        let numbered = self.steps.iter().enumerate();
        let rows = numbered.flat_map(|(i, step)| step.readings.iter().map(move |r| (i + 1, r)));
        Table::new(columns, rows.map(row).collect())
    }
}
