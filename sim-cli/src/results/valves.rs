//! What became of the engine with idle air valves of several gaps.

use crate::cautions::RUNNING;
use crate::report::{Cell, Field, Fit, Found, Records, Report, Table};
use crate::scenario::Scenario;
use crate::text::plain;
use serde::{Serialize, Serializer};
use sim_core::run::start::{NoStart, flows_at_rest};
use sim_core::run::valves::Release;
use sim_core::units::Unit;
use std::rc::Rc;

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
    pub scenario: Scenario,
    /// In the order asked for.
    pub outcomes: Vec<GapOutcome>,
    /// The smallest gap that catches (m), if any does.
    pub smallest_m: Option<f64>,
    /// Over phases of the release (m).
    pub band_m: Option<(f64, f64)>,
    /// Speed the pedal is let go from (rad/s).
    pub from_rad_s: f64,
    /// The command, canonically.
    pub command: String,
}

/// The valves as the JSON object they are.
#[derive(Serialize)]
struct ValvesRecord<'a> {
    canonical_command: &'a str,
    conditions: &'a Scenario,
    from_rpm: f64,
    rows: Records<'a, GapOutcome>,
    smallest_catching_gap_mm: Option<f64>,
    band_mm: Option<[f64; 2]>,
    shipped_gap_mm: f64,
    fuel_flows_at_rest: bool,
}

impl Serialize for Valves {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        ValvesRecord {
            canonical_command: &self.command,
            conditions: &self.scenario,
            from_rpm: Unit::Rpm.from_si(self.from_rad_s),
            rows: Records(GAPS, &self.outcomes),
            smallest_catching_gap_mm: self.smallest_m.map(millimetres),
            band_mm: self.band_m.map(|(low, high)| [low, high].map(millimetres)),
            shipped_gap_mm: self.shipped_gap_mm(),
            fuel_flows_at_rest: flows_at_rest(&self.scenario.setup),
        }
        .serialize(serializer)
    }
}

fn rpm(rad_s: f64) -> f64 {
    Unit::Rpm.from_si(rad_s)
}

/// What became of the engine with a gap.
static GAPS: &[Field<GapOutcome>] = &[
    Field::new("gap_mm", "gap", "mm", 3, |gap| millimetres(gap.release.gap_m).into()),
    Field::word("caught", "pedal let go", |gap| gap.fate().into()),
    Field::new("lowest_rpm", "lowest", "rpm", 0, |gap| gap.ran(rpm(gap.release.lowest_rad_s))),
    Field::new("highest_rpm", "rebound", "rpm", 0, |gap| {
        gap.release.caught.then(|| rpm(gap.release.rebound_rad_s)).into()
    }),
    Field::data("caught", |gap| gap.release.caught.into()),
    Field::data("stalled_at_s", |gap| gap.release.stalled_after_s.into()),
    Field::data("stalled_because", |gap| {
        Cell::said(gap.release.stalled_because.map(|cause| cause.sentence()).as_ref())
    }),
    Field::new("richest_lambda", "richest lambda", "", 2, |gap| {
        gap.ran(gap.release.richest_lambda)
    }),
    Field::new("plate_over_cylinders", "plate/cylinders", "", 2, |gap| {
        gap.ran(gap.release.plate_over_cylinders)
    }),
    Field::data("manifold_least_bar", |gap| gap.ran(1e-5 * gap.release.refill_pa.0)),
    Field::data("manifold_refilled_bar", |gap| gap.ran(1e-5 * gap.release.refill_pa.1)),
    Field::data("reason", |gap| Cell::said(gap.release.no_idle.as_ref())),
    Field::data("starts", |gap| gap.no_start.is_none().into()),
    Field::new("start_flare_rpm", "start flares to", "rpm", 0, |gap| rpm(gap.flare_rad_s).into()),
    Field::data("start_reason", |gap| Cell::said(gap.no_start.as_ref())),
    Field::word("start", "start", |gap| {
        if gap.no_start.is_none() { "runs" } else { "dies" }.into()
    }),
];

impl GapOutcome {
    /// A value of the release, if there was an idle before it.
    fn ran(&self, value: f64) -> Cell {
        self.release.no_idle.is_none().then_some(value).into()
    }

    fn fate(&self) -> String {
        match (&self.release.no_idle, self.release.stalled_after_s) {
            (Some(_), _) => "does not idle".into(),
            (None, Some(s)) => format!("dies after {s:.1} s"),
            (None, None) => "caught".into(),
        }
    }
}

impl Found for Valves {
    fn table(&self) -> Table {
        Table::of(GAPS, &self.outcomes)
    }
}

fn millimetres(gap_m: f64) -> f64 {
    (gap_m * 1e6).round() / 1e3
}

impl Valves {
    fn shipped_gap_mm(&self) -> f64 {
        millimetres(self.scenario.file.rig.parts().idle_valve.gap_m)
    }

    /// What was found, in a sentence.
    pub fn finding(&self) -> String {
        match (self.smallest_m, self.outcomes.iter().all(|outcome| outcome.release.caught)) {
            (None, _) => "no gap tried catches the engine".into(),
            (Some(smallest), all) => format!(
                "{} of {} gaps catch the engine{}; the smallest that does is {:.2} mm, the rig has {} mm",
                self.outcomes.iter().filter(|outcome| outcome.release.caught).count(),
                self.outcomes.len(),
                if all { ", and smaller ones may" } else { "" },
                millimetres(smallest),
                plain(self.shipped_gap_mm())
            ),
        }
    }
}

/// The report of the valves.
pub fn report(valves: &Rc<Valves>) -> Report {
    let mut report = Report::of("valves", valves.clone());
    report.warn_at_rest(&valves.scenario);
    report.heading(valves.finding());
    report.say(valves.scenario.words().replace("warm point", "running"));
    report.say(format!(
        "Let go from {:.0} rpm without load; then a start at 80 degC of coolant.",
        Unit::Rpm.from_si(valves.from_rad_s)
    ));
    let short = ["gap_mm", "caught", "lowest_rpm", "highest_rpm", "start"];
    report.table(valves.table().short_columns(&short).fitted(Fit::Spread));
    if let Some((low, high)) = valves.band_m {
        let (low, high) = (format!("{:.3}", 1e3 * low), format!("{:.3}", 1e3 * high));
        let band = if low == high { low } else { format!("{low} to {high}") };
        report.say(format!(
            "Over eight phases of the release the smallest gap that catches is {band} mm."
        ));
    }
    report.note("Why it dies: as the speed falls the manifold refills. The plate meters that air, and fuel with it, but the cylinders do not get the air yet (plate/cylinders above 1). The mixture goes very rich (richest lambda), and the torque is gone. A steady shortage of air alone only makes it idle slower.");
    report.note("Inertia, manifold volume, the pace of the idle control and the length of the overrun cut set these limits, and they are choices of ours. Believe the order, not the tenth of a millimetre. The trim is off here.");
    report.cautions = RUNNING.to_vec();
    report
}
