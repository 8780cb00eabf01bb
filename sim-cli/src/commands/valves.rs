//! `valves`: which idle air valve still catches the engine when the pedal is let go.

use super::Command;
use super::asked::{number_in, number_of, value_arg, within};
use crate::args::{with_chart, with_output};
use crate::cautions::RUNNING;
use crate::error::Error;
use crate::parallel;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::scenario::{EngineArgs, Scenario, with_conditions};
use crate::text::{no_start, plain, stall};
use clap::{Arg, ArgMatches};
use serde_json::{Value, json};
use sim_core::conditions::{Conditions, Trim};
use sim_core::rig::keys::{Key, KeyFault, Setup};
use sim_core::run::start::{NoStart, start};
use sim_core::run::valves::{PHASES, Release, release, smallest_catching_m};
use sim_core::run::{Options, RunFault};
use sim_core::units::{Unit, ZERO_CELSIUS_K};

pub const COMMAND: Command = Command {
    name: "valves",
    group: "watch",
    about: "Idle air valves of several gaps: which one catches the engine when the foot comes off",
    example: "quarterturn valves --gap-mm 4 2 1.2 1",
    args,
    report,
};

/// Speed the pedal is let go from unless a flag says otherwise (rpm).
const FROM_RPM: f64 = 3000.0;
/// Least and largest of it (rpm).
const FROM: (f64, f64) = (1600.0, 5000.0);
/// Gaps tried unless some are given, as shares of the rig's own.
const SHARES: [f64; 8] = [1.0, 0.7, 0.5, 0.4, 0.3, 0.275, 0.25, 0.2];
/// Coolant of the start that the gaps are tried at (K).
const START_COOLANT_K: f64 = 80.0 + ZERO_CELSIUS_K;
/// How long that start is cranked and looked at (s).
const START_S: (f64, f64) = (10.0, 15.0);
/// How far from the threshold the band over phases is looked for (m).
const BAND_M: f64 = 0.2e-3;

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(
            Arg::new("gap-mm")
                .long("gap-mm")
                .value_name("GAP")
                .num_args(1..)
                .action(clap::ArgAction::Append)
                .value_delimiter(',')
                .allow_negative_numbers(true)
                .help("gaps of the valve, full open, in mm [eight shares of the rig's own]"),
        )
        .arg(value_arg("from-rpm", "RPM", "3000", "speed at which the pedal is let go"));
    with_output(with_chart(with_conditions(command, &defaults())))
}

fn defaults() -> Conditions {
    Conditions { trim: Trim::Off, ..Conditions::default() }
}

/// A gap, tried.
pub struct GapOutcome {
    /// The release.
    pub release: Release,
    /// Why a start with it fails, if it does.
    pub no_start: Option<NoStart>,
    /// Largest speed of the start's flare (rad/s).
    pub flare_rad_s: f64,
}

/// All gaps, tried.
pub struct Valves {
    /// The engine.
    pub engine: Scenario,
    /// Each gap.
    pub outcomes: Vec<GapOutcome>,
    /// The smallest gap that catches (m), if one was found.
    pub smallest_m: Option<f64>,
    /// Least and largest of that over phases of the release (m).
    pub band_m: Option<(f64, f64)>,
    /// Speed of the release (rad/s).
    pub from_rad_s: f64,
    /// The command, canonically.
    pub command: String,
}

/// The gaps asked for (mm).
fn gaps_mm(matches: &ArgMatches) -> Result<Vec<f64>, Error> {
    let gaps = matches.get_many::<String>("gap-mm").into_iter().flatten();
    gaps.map(|text| number_in("--gap-mm", text)).collect()
}

fn report(matches: &ArgMatches, progress: &mut Progress<'_>) -> Result<Report, Error> {
    let (asked_mm, from_rpm) = (gaps_mm(matches)?, number_of(matches, "from-rpm")?);
    let mut engine = EngineArgs::read(matches)?.load(defaults())?;
    engine.setup.conditions.trim = Trim::Off;
    let from_rpm = within("--from-rpm", from_rpm, FROM, "rpm")?;
    let shipped_mm = 1e3 * engine.setup.rig.parts().idle_valve.gap_m;
    let gaps_mm = match asked_mm.is_empty() {
        true => SHARES.map(|share| (share * shipped_mm * 1e3).round() / 1e3).to_vec(),
        false => asked_mm.clone(),
    };
    if let Some(key) = Key::find("idle_valve_gap_mm") {
        for (gap, text) in gaps_mm.iter().map(|gap| (*gap, plain(*gap))) {
            key.checked(gap)
                .map_err(|fault: KeyFault| Error::of_key("--gap-mm", key, &text, fault))?;
        }
    }
    let mut command = String::from("quarterturn valves");
    if !asked_mm.is_empty() {
        let gaps: Vec<String> = asked_mm.iter().map(|gap| plain(*gap)).collect();
        command += &format!(" --gap-mm {}", gaps.join(" "));
    }
    if from_rpm != FROM_RPM {
        command += &format!(" --from-rpm {}", plain(from_rpm));
    }
    command += &engine.flags;
    let valves = try_all(engine, &gaps_mm, Unit::Rpm.to_si(from_rpm), command, progress)
        .map_err(|fault| Error::Run { fault })?;
    let mut report = Report::new("valves");
    values(&mut report, &valves);
    valves.engine.render_hazard(&mut report);
    render(&mut report, &valves);
    if matches.get_one::<String>("chart").is_some() {
        report.chart = Some(crate::chart::valves::picture(&valves));
    }
    Ok(report)
}

fn try_all(
    engine: Scenario,
    gaps_mm: &[f64],
    from_rad_s: f64,
    command: String,
    progress: &mut Progress<'_>,
) -> Result<Valves, RunFault> {
    let setup = engine.setup;
    let count = gaps_mm.len() as f64;
    let outcomes = parallel::map(
        gaps_mm,
        |gap_mm| {
            let gap_m = 1e-3 * gap_mm;
            let release = release(&setup, gap_m, from_rad_s, PHASES[0])?;
            let (no_start, flare_rad_s) = started(&setup, gap_m)?;
            Ok(GapOutcome { release, no_start, flare_rad_s })
        },
        |done| progress.show(0.4 * done as f64 / count),
    );
    let outcomes = outcomes.into_iter().collect::<Result<Vec<GapOutcome>, RunFault>>()?;
    let of = |caught: bool| {
        outcomes.iter().map(|t| &t.release).filter(move |r| r.caught == caught).map(|r| r.gap_m)
    };
    let catches = of(true).fold(f64::INFINITY, f64::min);
    let loses = of(false).filter(|gap| *gap < catches).fold(0.0, f64::max);
    let mut valves =
        Valves { engine, outcomes, smallest_m: None, band_m: None, from_rad_s, command };
    if catches.is_finite() {
        let threshold = |phase, bracket| smallest_catching_m(&setup, bracket, from_rad_s, phase);
        let smallest = threshold(PHASES[0], (loses, catches))?;
        progress.show(0.5);
        let bracket = ((smallest - BAND_M).max(0.0), smallest + BAND_M);
        let found = parallel::map(
            &PHASES,
            |phase| threshold(*phase, bracket),
            |done| progress.show(0.5 + 0.5 * done as f64 / PHASES.len() as f64),
        );
        let found = found.into_iter().collect::<Result<Vec<f64>, RunFault>>()?;
        let low = found.iter().copied().fold(smallest, f64::min);
        let high = found.iter().copied().fold(smallest, f64::max);
        (valves.smallest_m, valves.band_m) = (Some(smallest), Some((low, high)));
    }
    Ok(valves)
}

/// A warm start with the valve.
fn started(setup: &Setup, gap_m: f64) -> Result<(Option<NoStart>, f64), RunFault> {
    let Ok(rig) = setup.rig.with_parts(|parts| parts.idle_valve.gap_m = gap_m) else {
        return Ok((None, 0.0));
    };
    let conditions = Conditions { coolant_k: START_COOLANT_K, ..setup.conditions };
    let found = start(&Setup { rig, conditions }, Options::default(), START_S.0, START_S.1)?;
    Ok((found.reason, found.flare_rad_s))
}

fn millimetres(gap_m: f64) -> f64 {
    (gap_m * 1e6).round() / 1e3
}

fn row_value(outcome: &GapOutcome) -> Value {
    let release = &outcome.release;
    let ran = release.no_idle.is_none();
    let rpm = |rad_s: f64| number(ran.then(|| Unit::Rpm.from_si(rad_s)));
    let caught = |value: f64| number(release.caught.then_some(value));
    json!({
        "gap_mm": millimetres(release.gap_m),
        "lowest_rpm": rpm(release.lowest_rad_s),
        "highest_rpm": caught(Unit::Rpm.from_si(release.rebound_rad_s)),
        "caught": release.caught,
        "stalled_at_s": number(release.stalled_after_s),
        "richest_lambda": number(ran.then_some(release.richest_lambda)),
        "plate_over_cylinders": number(ran.then_some(release.plate_over_cylinders)),
        "manifold_least_bar": number(ran.then_some(1e-5 * release.refill_pa.0)),
        "manifold_refilled_bar": number(ran.then_some(1e-5 * release.refill_pa.1)),
        "reason": release.no_idle.as_ref().map(stall),
        "starts": outcome.no_start.is_none(),
        "start_flare_rpm": Unit::Rpm.from_si(outcome.flare_rad_s),
        "start_reason": outcome.no_start.as_ref().map(no_start),
    })
}

fn values(report: &mut Report, valves: &Valves) {
    report.put("canonical_command", json!(valves.command));
    report.put("conditions", valves.engine.value());
    report.put("from_rpm", json!(Unit::Rpm.from_si(valves.from_rad_s)));
    report.put("rows", valves.outcomes.iter().map(row_value).collect());
    report.put("smallest_catching_gap_mm", number(valves.smallest_m.map(millimetres)));
    let band = valves.band_m.map(|(low, high)| [millimetres(low), millimetres(high)]);
    report.put("band_mm", json!(band));
    let shipped = valves.engine.file.rig.parts().idle_valve.gap_m;
    report.put("shipped_gap_mm", json!(millimetres(shipped)));
}

impl Valves {
    /// What was found, in a sentence.
    pub fn finding(&self) -> String {
        let shipped = millimetres(self.engine.file.rig.parts().idle_valve.gap_m);
        match (self.smallest_m, self.outcomes.iter().all(|outcome| outcome.release.caught)) {
            (None, _) => "no gap tried catches the engine".into(),
            (Some(smallest), all) => format!(
                "{} of {} gaps catch the engine{}; the smallest that does is {:.2} mm, the rig has {} mm",
                self.outcomes.iter().filter(|outcome| outcome.release.caught).count(),
                self.outcomes.len(),
                if all { ", and smaller ones may" } else { "" },
                millimetres(smallest),
                plain(shipped)
            ),
        }
    }
}

fn render(report: &mut Report, valves: &Valves) {
    report.blocks.push(Block::Heading(valves.finding()));
    report.say(valves.engine.words().replace("warm point", "running"));
    report.say(format!(
        "Let go from {:.0} rpm without load; then a start at 80 degC of coolant.",
        Unit::Rpm.from_si(valves.from_rad_s)
    ));
    let column = |name: &str, label: &str, unit, decimals| Column::new(name, label, unit, decimals);
    let columns = vec![
        column("gap_mm", "gap", "mm", 3),
        column("caught", "pedal let go", "", 0),
        column("lowest_rpm", "lowest", "rpm", 0),
        column("highest_rpm", "rebound", "rpm", 0),
        column("richest_lambda", "richest lambda", "", 2),
        column("plate_over_cylinders", "plate/cylinders", "", 2),
        column("start_flare_rpm", "start flares to", "rpm", 0),
        column("start", "start", "", 0),
    ];
    let rows = valves.outcomes.iter().map(|outcome| {
        let release = &outcome.release;
        let fate = match (&release.no_idle, release.stalled_after_s) {
            (Some(_), _) => "does not idle".into(),
            (None, Some(s)) => format!("dies after {s:.1} s"),
            (None, None) => "caught".to_string(),
        };
        let ran = release.no_idle.is_none();
        vec![
            Cell::Number(Some(millimetres(release.gap_m))),
            Cell::Word(fate),
            Cell::Number(ran.then(|| Unit::Rpm.from_si(release.lowest_rad_s))),
            Cell::Number(release.caught.then(|| Unit::Rpm.from_si(release.rebound_rad_s))),
            Cell::Number(ran.then_some(release.richest_lambda)),
            Cell::Number(ran.then_some(release.plate_over_cylinders)),
            Cell::Number(Some(Unit::Rpm.from_si(outcome.flare_rad_s))),
            Cell::Word(if outcome.no_start.is_none() { "runs" } else { "dies" }.into()),
        ]
    });
    let table = Table { columns, rows: rows.collect() };
    report.rows = table.clone();
    report.blocks.push(Block::Table(table));
    if let Some((low, high)) = valves.band_m {
        let (low, high) = (format!("{:.3}", 1e3 * low), format!("{:.3}", 1e3 * high));
        let band = if low == high { low } else { format!("{low} to {high}") };
        report.say(format!(
            "Over eight phases of the release the smallest gap that catches is {band} mm."
        ));
    }
    report.notes.push("Why it dies: as the speed falls the manifold refills; the plate meters that air, and fuel with it, but the cylinders do not get it yet (plate/cylinders above 1), the mixture drowns (richest lambda) and the torque goes. A steady shortage of air alone only idles slower.".into());
    report.notes.push("Thresholds hang on inertia, manifold volume, the pace of the idle control and the length of the overrun cut, which are choices of ours: believe the order, not the tenth of a millimetre. The trim is off here.".into());
    report.cautions = RUNNING.to_vec();
}
