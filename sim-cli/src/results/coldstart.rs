//! What became of a start.

use super::supply;
use crate::cautions::STARTING;
use crate::report::{Field, Found, Report, Table};
use crate::scenario::Scenario;
use crate::text::turns;
use serde::Serialize;
use sim_core::point::told_lambda;
use sim_core::run::start::StartOutcome;
use sim_core::units::{Unit, ZERO_CELSIUS_K};
use std::rc::Rc;

/// A correct static setting fires within this (s): common practice, no source.
pub const SOON_S: f64 = 4.0;

const HAZARD: &str = "fuel runs into the ports of the standing engine at this setting: not tried. It fills a cylinder and bends a rod, or burns. Turn the screw back below flow start first";

/// What became of a start.
pub enum Fate {
    /// Fuel runs into the ports of the standing engine: not tried.
    Hazard,
    /// It was tried.
    Tried(Box<StartOutcome>),
}

impl Fate {
    /// The start, if one was tried.
    pub fn start(&self) -> Option<&StartOutcome> {
        match self {
            Fate::Hazard => None,
            Fate::Tried(start) => Some(start),
        }
    }

    /// Whether it starts.
    pub fn starts(&self) -> bool {
        self.start().is_some_and(|start| start.reason.is_none())
    }

    /// Why it does not start.
    pub fn reason(&self) -> Option<String> {
        match self {
            Fate::Hazard => Some(format!("hazard: {HAZARD}")),
            Fate::Tried(start) => start.reason.as_ref().map(ToString::to_string),
        }
    }
}

/// One start, worked out.
#[derive(Serialize)]
pub struct ColdStart {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine started.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    screw_turns: f64,
    ambient_degc: f64,
    coolant_degc: f64,
    hazard: bool,
    starts: bool,
    /// Which try this is, and why each before it failed.
    try_number: usize,
    failed_tries: Vec<String>,
    cranking_s: Option<f64>,
    caught_after_s: Option<f64>,
    running_after_s: Option<f64>,
    reason: Option<String>,
    cranking_rpm: Option<f64>,
    flare_rpm: Option<f64>,
    lambda_at_fire: Option<f64>,
    mass_error: Option<f64>,
    /// What pressure and standing have to do with it.
    sentences: Vec<String>,
    /// The first seconds.
    pub trace: Vec<StartRow>,
}

/// A moment of a start.
#[derive(Serialize)]
pub struct StartRow {
    /// Time since the key (s).
    pub time_s: f64,
    /// Speed (rpm).
    pub speed_rpm: f64,
    /// Mixture of what evaporates of the charge drawn in; `None` of next to no fuel.
    pub lambda: Option<f64>,
    /// Manifold pressure (bar).
    pub manifold_bar: f64,
    /// Actuator current (mA).
    pub actuator_ma: f64,
}

impl StartRow {
    fn of([time_s, speed_rad_s, lambda, manifold_pa, actuator_a]: [f64; 5]) -> StartRow {
        StartRow {
            time_s,
            speed_rpm: Unit::Rpm.from_si(speed_rad_s),
            lambda: told_lambda(lambda),
            manifold_bar: 1e-5 * manifold_pa,
            actuator_ma: 1e3 * actuator_a,
        }
    }
}

fn degc(kelvin: f64) -> f64 {
    ((kelvin - ZERO_CELSIUS_K) * 1e9).round() / 1e9
}

impl ColdStart {
    /// What was found, in the units it is told in.
    pub fn of(command: String, scenario: Scenario, fate: Fate, failed: Vec<String>) -> ColdStart {
        let setup = scenario.setup;
        let conditions = setup.conditions;
        let start = fate.start();
        ColdStart {
            command,
            scenario,
            screw_turns: conditions.screw_turns,
            ambient_degc: degc(conditions.ambient_k),
            coolant_degc: degc(conditions.coolant_k),
            hazard: start.is_none(),
            starts: fate.starts(),
            try_number: failed.len() + 1,
            failed_tries: failed,
            cranking_s: start.and_then(|start| start.fires_after_s),
            caught_after_s: start.and_then(|start| start.caught_after_s),
            running_after_s: start.and_then(|start| start.running_after_s),
            reason: fate.reason(),
            cranking_rpm: start.map(|start| Unit::Rpm.from_si(start.cranking_rad_s)),
            flare_rpm: start
                .map(|start| Unit::Rpm.from_si(start.flare_rad_s))
                .filter(|flare| *flare > 0.0),
            lambda_at_fire: start.and_then(|start| start.lambda_at_fire),
            mass_error: start.map(|start| start.mass_error),
            sentences: [supply::low_pressure(&setup), supply::long_stand(&setup)]
                .into_iter()
                .flatten()
                .collect(),
            trace: start
                .map_or(Vec::new(), |start| start.rows.iter().copied().map(StartRow::of).collect()),
        }
    }

    /// What happened, in a sentence.
    pub fn finding(&self) -> String {
        let at = format!(
            "{:.0} degC, coolant {:.0} degC, screw {}",
            self.ambient_degc,
            self.coolant_degc,
            turns(self.screw_turns)
        );
        match (&self.reason, self.caught_after_s) {
            _ if self.hazard => format!("{at}: refused, fuel runs at rest"),
            (None, Some(caught)) if self.try_number > 1 => {
                format!("{at}: starts on try {}, caught after {caught:.1} s", self.try_number)
            }
            (None, Some(caught)) => format!("{at}: starts, caught after {caught:.1} s"),
            (Some(why), _) if self.try_number > 1 => {
                format!("{at}: does not start on {} tries: {why}", self.try_number)
            }
            (Some(why), _) => format!("{at}: does not start: {why}"),
            (None, None) => format!("{at}: does not start"),
        }
    }
}

/// The first seconds in a table.
static TRACE: &[Field<StartRow>] = &[
    Field::new("time_s", "time", "s", 3, |row| row.time_s.into()),
    Field::new("speed_rpm", "speed", "rpm", 3, |row| row.speed_rpm.into()),
    Field::new("lambda", "lambda", "", 3, |row| row.lambda.into()),
    Field::new("manifold_bar", "manifold", "bar", 3, |row| row.manifold_bar.into()),
    Field::new("actuator_ma", "current", "mA", 3, |row| row.actuator_ma.into()),
];

impl Found for ColdStart {
    fn table(&self) -> Table {
        Table::of(TRACE, &self.trace)
    }
}

/// The conditions of a start in words.
pub fn scenario_words(scenario: &Scenario) -> String {
    scenario.words().replace("warm point", "cold start")
}

/// The report of a start.
pub fn report(cold: &Rc<ColdStart>) -> Report {
    let mut report = Report::of("coldstart", cold.clone());
    report.cautions = STARTING.to_vec();
    report.heading(cold.finding());
    report.say(scenario_words(&cold.scenario));
    let Some(cranking_rpm) = cold.cranking_rpm else {
        report.hazard(HAZARD);
        return report;
    };
    for (i, why) in cold.failed_tries.iter().enumerate() {
        report.say(format!("  try {}        {why}", i + 1));
    }
    let seconds = |s: Option<f64>| s.map_or("never".into(), |s| format!("after {s:.2} s"));
    report.say(match cranking_rpm > 0.0 {
        true => format!("  the starter turns it at {cranking_rpm:.0} rpm"),
        false => "  the starter does not turn it".into(),
    });
    report.say(format!("  first fire   {}", seconds(cold.cranking_s)));
    report.say(format!("  caught       {}", seconds(cold.caught_after_s)));
    report.say(format!("  on its own   {}", seconds(cold.running_after_s)));
    if let Some(flare_rpm) = cold.flare_rpm {
        report.say(format!("  flares to    {flare_rpm:.0} rpm"));
    }
    for sentence in &cold.sentences {
        report.say(format!("  {sentence}"));
    }
    report.note_always("Caught: it holds the speed at which the starter is let go (key caught_rpm). A correct static setting fires within 4 s (common practice, no source).");
    if cold.trace.iter().any(|row| row.lambda.is_none()) {
        report.note(
            "A lambda that is left out: next to no fuel evaporates or is metered, and its number says nothing.",
        );
    }
    report.note("Enrichment, evaporated shares, wall film and starter are laws of our own in the range of textbooks, measured on no engine. Believe the order of things, not the tenth of a second. Compression strokes are left out. A try: the starter for 10 s at most, then half a minute with the key off (common practice, no source).");
    report
}
