//! What the static setting is and where it will run.

use crate::cautions::STANDING;
use crate::report::{Column, Found, Report, Table};
use crate::rounding::rounded;
use crate::scenario::Scenario;
use crate::text::{turns as signed, turns_typed};
use serde::Serialize;
use sim_core::flowstart::FlowStart;
use sim_core::point::Point;
use std::rc::Rc;

/// A static setting, worked out.
#[derive(Serialize)]
pub struct StaticSetting {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine set.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    /// How far back from where fuel just flows (turns).
    #[serde(skip)]
    pub back_off_turns: f64,
    /// Where fuel just flows (turns).
    pub flow_start_turns: f64,
    /// The setting (turns).
    pub setting_turns: f64,
    /// From rest to the first fuel (mm).
    pub play_mm: f64,
    /// From rest until the lever meets the plunger (mm).
    pub felt_play_mm: f64,
    /// What the first drop is worth (turns).
    pub threshold_turns: f64,
    /// How much richer a stream would set it (turns).
    pub stream_turns: Option<f64>,
    /// How the engine then runs.
    #[serde(flatten)]
    pub after: Running,
    /// Why it does not run.
    pub reason: Option<String>,
    /// Whether fuel runs with the plate at rest.
    pub hazard: bool,
    /// The same with the plate resting higher and lower.
    pub rest_height: Vec<AtRestHeight>,
    /// Fuel of each line at this setting over the plate's lift.
    pub lines: Vec<LinesAtLift>,
}

/// How an engine runs.
#[derive(Serialize)]
pub struct Running {
    zone_after: &'static str,
    lambda_after: Option<f64>,
    #[serde(skip)]
    point: Point,
}

/// A setting with the plate resting elsewhere.
#[derive(Serialize)]
pub struct AtRestHeight {
    offset_mm: f64,
    #[serde(flatten)]
    after: Running,
}

/// Fuel of each line at a lift of the plate.
#[derive(Serialize)]
pub struct LinesAtLift {
    lift_mm: f64,
    flow_ml_min: Vec<f64>,
}

impl StaticSetting {
    /// What was found, in the units it is told in.
    pub fn of(
        command: String,
        scenario: Scenario,
        back_off_turns: f64,
        found: FlowStart,
    ) -> StaticSetting {
        let ml_min = |flows: &[f64]| flows.iter().map(|flow| found.ml_min(*flow)).collect();
        let lines = found
            .lines
            .iter()
            .map(|(lift, flows)| LinesAtLift { lift_mm: 1e3 * lift, flow_ml_min: ml_min(flows) });
        let lines = lines.collect();
        let rest_height = found.rest_height.into_iter();
        StaticSetting {
            command,
            scenario,
            back_off_turns,
            flow_start_turns: found.flow_start_turns,
            setting_turns: found.setting_turns,
            play_mm: 1e3 * found.play_m,
            felt_play_mm: 1e3 * found.felt_play_m,
            threshold_turns: found.threshold_turns,
            stream_turns: found.stream_turns,
            reason: found.after.stall().map(ToString::to_string),
            after: Running::of(found.after),
            hazard: found.hazard,
            rest_height: rest_height
                .map(|(offset, point)| AtRestHeight {
                    offset_mm: 1e3 * offset,
                    after: Running::of(point),
                })
                .collect(),
            lines,
        }
    }
}

impl Running {
    fn of(point: Point) -> Running {
        let lambda_after = point.state().map(|state| state.lambda);
        Running { zone_after: point.zone().word(), lambda_after, point }
    }

    fn words(&self) -> String {
        match (self.point.state(), self.point.stall()) {
            (Some(state), _) => format!(
                "{} at lambda {:.2}, {:.1} % COV",
                self.zone_after,
                state.lambda,
                100.0 * state.cov
            ),
            (None, _) => "does not run".into(),
        }
    }

    /// The same as what comes of a setting.
    fn fate(&self) -> String {
        match self.point.stall() {
            Some(why) => format!("it does not run: {why}"),
            None => format!("it will run {}", self.words()),
        }
    }
}

impl Found for StaticSetting {
    fn table(&self) -> Table {
        let count = self.lines.first().map_or(0, |line| line.flow_ml_min.len());
        let line =
            |i: usize| Column::new(&format!("line_{i}_ml_min"), &format!("line {i}"), "ml/min", 2);
        let lift = Column::new("lift_mm", "plate above rest", "mm", 2);
        let row = |line: &LinesAtLift| {
            [line.lift_mm].iter().chain(&line.flow_ml_min).map(|value| (*value).into()).collect()
        };
        Table::new(
            [lift].into_iter().chain((1..=count).map(line)).collect(),
            self.lines.iter().map(row).collect(),
        )
    }
}

/// The report of a static setting.
pub fn report(setting: &Rc<StaticSetting>) -> Report {
    let mut report = Report::of("flowstart", setting.clone());
    let back_off = turns_typed(setting.back_off_turns);
    report.heading(format!(
        "Fuel just flows at {} turn; {back_off} turn back puts the screw at {} turn: {}",
        signed(setting.flow_start_turns),
        signed(setting.setting_turns),
        setting.after.fate()
    ));
    report.say(setting.scenario.words());
    if setting.hazard {
        report.hazard(
            "at this setting the slits are open with the plate at rest: with the pump on, fuel runs into the standing engine. This is no setting: back off further. If fuel has run: ignition off, do not crank, plugs out, let it dry, look for petrol in the oil.",
        );
    }
    report.say(format!(
        "  play at the plate     {:5.2} mm  from rest to the first fuel",
        setting.play_mm
    ));
    report.say(format!(
        "  play to the touch     {:5.2} mm  from rest until the lever meets the plunger",
        setting.felt_play_mm
    ));
    let [flows, drop] =
        [setting.flow_start_turns, setting.threshold_turns].map(|turns| rounded(turns, 3));
    report.say(format!(
        "  the slits open at {} turn; the first drop shows {:.3} turn further in",
        signed(flows - drop),
        drop
    ));
    if let Some(stream) = setting.stream_turns {
        report.say(format!("  waiting for a stream of 1 ml/min sets it {stream:.3} turn richer"));
    }
    report.heading("The same rule with the plate resting higher or lower");
    for AtRestHeight { offset_mm, after } in &setting.rest_height {
        let word = if *offset_mm > 0.0 { "higher" } else { "lower" };
        report.say(format!("  {:.2} mm {word:<7} {}", offset_mm.abs(), after.words()));
    }
    report.in_full(|report| {
        report.heading(format!(
            "Fuel of each line at this setting, pump jumpered, no current ({back_off} turn back)"
        ));
        report.table(setting.table());
    });
    report.note("Rest height moves the static setting, the felt play, the first start and the rest voltage. It does not move the warm point. So: centre the plate, set the rest height, check free travel, look for flow start, turn back.");
    report.note_idle_flags(&setting.scenario);
    report.cautions = STANDING.to_vec();
    report
}
