//! A bleeding as data.

use crate::by_name::ByName;
use crate::report::{Field, Found, Table};
use crate::scenario::Scenario;
use crate::text::plain;
use serde::Serialize;
use sim_core::bleed::{Bleed, BleedRequest, FlowsAtRest, Sample};
use sim_core::conditions::Trim;
use sim_core::fuel::supply::CheckValve;
use sim_core::rig::keys::Setup;
use sim_core::run::restart::Restart;
use sim_core::units::Unit;

/// The least residual pressure of a sound supply after 20 to 30 min (bar): common practice, no
/// source.
pub const LEAST_RESIDUAL_BAR: f64 = 2.2;

/// A bleeding, worked out.
#[derive(Serialize)]
pub struct Bleeding {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine bled.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    /// How it is bled.
    #[serde(flatten)]
    pub settings: Settings,
    /// What came of it.
    #[serde(flatten)]
    pub outcome: Outcome,
}

/// How an engine is bled, and how it stands afterwards.
#[derive(Serialize)]
pub struct Settings {
    /// How far the plate is lifted (mm).
    pub lift_mm: f64,
    /// Share of the accumulator's spring that is left.
    pub accumulator_percent: f64,
    /// How long it stands (min).
    pub stand_min: f64,
    /// Temperature of feed and lines meanwhile (degC).
    pub hot_degc: f64,
    /// Vapour pressure of the fuel at 37.8 degC (kPa).
    pub vapour_kpa: f64,
    /// State of the check valve, as a word.
    pub check_valve: &'static str,
}

impl Settings {
    /// The same in SI units.
    pub fn request(&self) -> BleedRequest {
        BleedRequest {
            lift_m: 1e-3 * self.lift_mm,
            check_valve: match self.check_valve {
                "leaks" => CheckValve::Leaks,
                "stuck-open" => CheckValve::StuckOpen,
                _ => CheckValve::Ok,
            },
            accumulator_share: self.accumulator_percent / 100.0,
            stand_s: 60.0 * self.stand_min,
            hot_k: Unit::Celsius.to_si(self.hot_degc),
            class_pa: 1e3 * self.vapour_kpa,
        }
    }

    /// The hot engine after its stand, as `coldstart` would start it.
    pub fn stood(&self, setup: &Setup) -> Setup {
        let mut stood = *setup;
        let conditions = &mut stood.conditions;
        conditions.trim = Trim::On;
        conditions.fuel_side.stood_s = 60.0 * self.stand_min;
        conditions.fuel_side.bonnet_k = Some(Unit::Celsius.to_si(self.hot_degc));
        conditions.fuel_side.class_pa = 1e3 * self.vapour_kpa;
        stood
    }

    /// The faults in words; empty if there is none.
    pub fn faults(&self) -> String {
        let valve = match self.check_valve {
            "leaks" => Some("check valve leaks".to_string()),
            "stuck-open" => Some("check valve stuck open".to_string()),
            _ => None,
        };
        let spring = (self.accumulator_percent < 100.0)
            .then(|| format!("accumulator spring at {} %", plain(self.accumulator_percent)));
        valve.into_iter().chain(spring).collect::<Vec<_>>().join(", ")
    }
}

/// What came of a bleeding.
#[derive(Serialize)]
#[serde(untagged)]
pub enum Outcome {
    /// Fuel runs with the plate at rest: it is bled into glasses, and nothing more is worked out.
    OpenAtRest(OpenAtRest),
    /// It was bled.
    Bled(Box<Bled>),
}

/// What is found with the slits open at rest, every line in its glass; what a closed engine
/// would keep is empty.
#[derive(Serialize)]
pub struct OpenAtRest {
    hazard: bool,
    /// How far the plate at rest stands above where the slits open (mm).
    #[serde(skip)]
    pub(super) above_mm: f64,
    pub(super) rest_flow_ml_min: f64,
    pub(super) lines: Vec<Line>,
    pub(super) first_line: Option<LineTime>,
    pub(super) last_line: Option<LineTime>,
    pub(super) system_pressure_after_s: Option<f64>,
    #[serde(rename = "pressure_bar")]
    pub(super) trace: Vec<Pressure>,
    pub(super) residual_30min_bar: Option<f64>,
    pub(super) hot_restart_cranking_s: Option<f64>,
}

/// What was found by bleeding.
#[derive(Serialize)]
pub struct Bled {
    hazard: bool,
    /// Each line.
    pub lines: Vec<Line>,
    /// When the regulator opens (s).
    pub(super) system_pressure_after_s: Option<f64>,
    /// When the pump stops (s).
    pub pump_stops_s: f64,
    /// The pressure over time.
    #[serde(rename = "pressure_bar")]
    pub trace: Vec<Pressure>,
    pub(super) running_pressure_bar: f64,
    pub(super) return_l_per_40_s: f64,
    pub(super) residual_30min_bar: f64,
    /// From which to which it is enough and does not drip (bar).
    pub residual_band_bar: (f64, f64),
    pub(super) hot_restart_cranking_s: Option<f64>,
    pub(super) hot: Hot,
    /// What has dripped from the injectors within 30 min (ml).
    #[serde(skip)]
    pub(super) dripped_ml: f64,
    pub(super) volumes_ml: ByName<f64>,
    pub(super) first_line: Option<LineTime>,
    pub(super) last_line: Option<LineTime>,
}

/// A line.
#[derive(Serialize)]
pub struct Line {
    /// Its number, from 1.
    pub line: usize,
    /// When fuel flows (s).
    pub flows_after_s: Option<f64>,
    /// How much then flows (ml/min).
    pub flow_ml_min: f64,
}

/// When a line flows.
#[derive(Serialize, Clone, Copy)]
pub struct LineTime {
    pub(super) line: usize,
    pub(super) flows_after_s: f64,
}

/// A pressure at a time.
#[derive(Serialize)]
pub struct Pressure {
    /// Time from the pump's start (s).
    pub time_s: f64,
    /// Pressure (bar).
    pub pressure_bar: f64,
}

/// The hot restart.
#[derive(Serialize)]
pub struct Hot {
    pub(super) boils_at_bar: f64,
    pub(super) residual_bar: f64,
    pub(super) boils_after_s: Option<f64>,
    pub(super) vapour_ml: f64,
    pub(super) cranking_plunger_lift_mm: f64,
    /// Tries of the starter, and how long it runs on fewer than all lines once it has caught (s).
    pub(super) tries: u32,
    pub(super) rough_s: Option<f64>,
    /// Cranking until the last line is full if it never fired (s).
    pub(super) lines_full_without_fire_s: Option<f64>,
}

fn ml_min(m3_s: f64) -> f64 {
    Unit::MillilitrePerMinute.from_si(m3_s)
}

fn bar(pa: f64) -> f64 {
    Unit::Bar.from_si(pa)
}

fn ml(m3: f64) -> f64 {
    Unit::Millilitre.from_si(m3)
}

/// Lines with their times and flows.
fn lines(flows_after_s: &[Option<f64>], m3_s: &[f64]) -> Vec<Line> {
    let each = flows_after_s.iter().zip(m3_s).enumerate();
    each.map(|(i, (after, flow))| Line {
        line: i + 1,
        flows_after_s: *after,
        flow_ml_min: ml_min(*flow),
    })
    .collect()
}

/// The first and the last line to flow, if every line does.
fn first_and_last(flows_after_s: &[Option<f64>]) -> (Option<LineTime>, Option<LineTime>) {
    let times = flows_after_s.iter().enumerate();
    let times: Option<Vec<LineTime>> =
        times.map(|(i, t)| Some(LineTime { line: i + 1, flows_after_s: (*t)? })).collect();
    let times = times.unwrap_or_default();
    let by_time = |a: &&LineTime, b: &&LineTime| a.flows_after_s.total_cmp(&b.flows_after_s);
    (times.iter().min_by(by_time).copied(), times.iter().max_by(by_time).copied())
}

fn pressures(trace: &[Sample]) -> Vec<Pressure> {
    let each = trace.iter();
    each.map(|row| Pressure { time_s: row.time_s, pressure_bar: bar(row.pressure_pa) }).collect()
}

impl Outcome {
    /// What was found, in the units it is told in.
    pub fn of(setup: &Setup, found: Result<Bleed, FlowsAtRest>, again: Restart) -> Outcome {
        match found {
            Ok(found) => Outcome::Bled(Box::new(Bled::of(setup, &found, &again))),
            Err(hazard) => {
                let glasses = &hazard.into_glasses;
                let (first_line, last_line) = first_and_last(&glasses.flows_after_s);
                Outcome::OpenAtRest(OpenAtRest {
                    hazard: true,
                    above_mm: 1e3 * hazard.above_m,
                    rest_flow_ml_min: ml_min(hazard.flow_m3_s),
                    lines: lines(&glasses.flows_after_s, &glasses.line_m3_s),
                    first_line,
                    last_line,
                    system_pressure_after_s: glasses.at_set_s,
                    trace: pressures(&glasses.trace),
                    residual_30min_bar: None,
                    hot_restart_cranking_s: None,
                })
            }
        }
    }
}

impl Bled {
    fn of(setup: &Setup, found: &Bleed, again: &Restart) -> Bled {
        let (balance, hot) = (&found.balance, &found.hot);
        let (parts, fuel_side) = (setup.rig.parts(), &setup.conditions.fuel_side);
        let (count, first_pa) = (parts.slits.width_m.len(), fuel_side.first_injector_pa);
        let drips_bar = bar(parts.injectors.first_opens_pa(count, first_pa));
        let (first_line, last_line) = first_and_last(&found.flows_after_s);
        Bled {
            hazard: false,
            lines: lines(&found.flows_after_s, &found.line_m3_s),
            system_pressure_after_s: found.at_set_s,
            pump_stops_s: found.pump_stops_s,
            trace: pressures(&found.trace),
            running_pressure_bar: bar(found.running_pa),
            return_l_per_40_s: 40e3 * found.return_m3_s,
            residual_30min_bar: bar(found.residual_pa),
            residual_band_bar: (LEAST_RESIDUAL_BAR.min(drips_bar), drips_bar),
            hot_restart_cranking_s: again.let_go_after_s,
            hot: Hot {
                tries: again.tries,
                rough_s: again.rough_s,
                lines_full_without_fire_s: hot.cranking_s,
                boils_at_bar: bar(hot.boils_at_pa),
                residual_bar: bar(hot.residual_pa),
                boils_after_s: hot.boils_after_s,
                vapour_ml: ml(hot.vapour_m3),
                cranking_plunger_lift_mm: 1e3 * hot.cranking_lift_m,
            },
            dripped_ml: ml(balance.seeped_m3),
            volumes_ml: ByName(vec![
                ("pumped", ml(balance.pumped_m3)),
                ("returned", ml(balance.returned_m3)),
                ("through_lines", ml(balance.through_lines_m3())),
                ("leaked_check_valve", ml(balance.check_m3)),
                ("leaked_plunger", ml(balance.plunger_m3)),
                ("leaked_regulator", ml(balance.seat_m3)),
                ("dripped_injectors", ml(balance.seeped_m3)),
                ("missing", ml(found.missing_m3)),
            ]),
            first_line,
            last_line,
        }
    }

    pub(super) fn no_line_flows(&self) -> bool {
        self.lines.iter().all(|line| line.flow_ml_min == 0.0)
    }

    /// What was found, in a sentence.
    pub fn finding(&self) -> String {
        let lines = match (self.first_line, self.last_line) {
            (Some(first), Some(last)) => {
                format!(
                    "Lines flow after {:.1} to {:.1} s",
                    first.flows_after_s, last.flows_after_s
                )
            }
            _ if self.no_line_flows() => "No line flows at this lift".into(),
            _ => "Not every line flows within 10 min".into(),
        };
        let residual = self.residual_30min_bar;
        let (least, most) = self.residual_band_bar;
        let judged = if residual < least {
            "too little"
        } else if residual < most {
            "enough"
        } else {
            "too much, the injectors drip"
        };
        format!("{lines}; {residual:.1} bar stand after 30 min: {judged}")
    }
}

/// The pressure in a table.
static TRACE: &[Field<Pressure>] = &[
    Field::new("time_s", "time", "s", 2, |row| row.time_s.into()),
    Field::new("pressure_bar", "pressure", "bar", 3, |row| row.pressure_bar.into()),
];

/// The lines in a table.
pub(super) static LINES: &[Field<Line>] = &[
    Field::new("line", "line", "", 0, |line| line.line.to_string().into()),
    Field::new("flows_after_s", "flows after", "s", 2, |line| line.flows_after_s.into()),
    Field::new("flow_ml_min", "then", "ml/min", 1, |line| line.flow_ml_min.into()),
];

impl Found for Bleeding {
    fn table(&self) -> Table {
        match &self.outcome {
            Outcome::Bled(bled) => Table::of(TRACE, &bled.trace),
            Outcome::OpenAtRest(open) => Table::of(TRACE, &open.trace),
        }
    }
}

impl Bleeding {
    /// The engine in words, without what does not matter to a pump on the jumper.
    pub fn engine_words(&self) -> String {
        self.scenario.words().replace("; warm point, trim off, idle air held", "")
    }
}
