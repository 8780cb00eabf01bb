//! How the wiper wears the potentiometer's track, what the idle does on the worn track, and
//! how many cars have had a bad idle by when.

pub mod render;

use crate::by_name::ByName;
use crate::report::{Column, Field, Found, Records, Table};
use crate::scenario::Scenario;
use crate::text::plain;
use serde::{Serialize, Serializer};
use sim_core::ageing::{Fleet, Year};
use sim_core::run::idle_wear::{BAD_RATIO, DEEPEST_V, Disturbance, Search};
use sim_core::sense::wear::Dither;

/// Idles run at each depth, each with a seed of its own.
pub const IDLES: u64 = 3;
/// Roughness that the trade would call rough: our own limit of the sweep's edges (%).
const ROUGH_PERCENT: f64 = 10.0;

/// A fleet aged with its parts changed every so often, or never.
#[derive(Serialize)]
pub struct Curve {
    /// Time from change to change (years).
    pub change_years: Option<f64>,
    /// Year by year.
    #[serde(serialize_with = "years")]
    pub rows: Vec<Year>,
}

impl Curve {
    /// The curve in a word or two.
    pub fn word(&self) -> String {
        match self.change_years {
            None => "never changed".into(),
            Some(years) => format!("changed every {}", told_years(years)),
        }
    }
}

/// The wear of a track, worked out.
pub struct Ageing {
    /// The engine.
    pub scenario: Scenario,
    /// How many cars.
    pub parts: f64,
    /// Idling of a car in a year (h).
    pub hours_a_year: f64,
    /// Deviation of the logarithm of the wear over parts.
    pub spread: f64,
    /// Specific wear of the median track (mm3/(N m)).
    pub wear_mm3_nm: f64,
    /// How the wiper dithers, what the idle does on a worn track.
    pub found: Option<(Dither, Search)>,
    /// Why there is nothing to wear it.
    pub reason: Option<String>,
    /// The fleet; `None` if no depth makes a bad idle.
    pub fleet: Option<Fleet>,
    /// Never changed first.
    pub curves: Vec<Curve>,
    /// How much is lost in an hour of idling (V).
    pub lost_v_h: f64,
    /// The command, canonically.
    pub command: String,
}

/// The wear as the JSON object it is.
#[derive(Serialize)]
struct AgeingRecord<'a> {
    canonical_command: &'a str,
    conditions: &'a Scenario,
    reason: &'a Option<String>,
    parts: f64,
    hours_a_year: f64,
    spread: f64,
    wear_mm3_nm: f64,
    dither: Option<ByName<f64>>,
    lost_mv_per_100_h: Option<f64>,
    bad_from_mv: Option<f64>,
    bad_ratio: f64,
    cov_passes_10_percent: Option<bool>,
    idles: Records<'a, Disturbance>,
    median_h: Option<f64>,
    curves: &'a [Curve],
}

/// A share of a year: kind, name, words behind a curve's label, whether it is printed.
type Share = (&'static str, &'static str, &'static str, bool, fn(&Year) -> f64);

/// The shares of a year.
const SHARES: [Share; 4] = [
    ("share", "share_percent", "", true, |year| year.share),
    ("expected", "expected_percent", "", false, |year| year.expected_share),
    ("bad_now", "bad_now_percent", "", false, |year| year.share_now),
    ("risk", "risk_percent", ", risk", true, |year| year.risk),
];

/// What the idles on worn tracks did.
static IDLES_TRIED: &[Field<Disturbance>] = &[
    Field::new("lost_mv", "lost", "mV", 0, |one| (1e3 * one.lost_v).into()),
    Field::data("bad", |one| one.is_bad().into()),
    Field::data("stalls", |one| one.stalls.into()),
    Field::new("lambda_mean", "lambda", "", 3, |one| one.lambda.into()),
    Field::data("lambda_off", |one| one.lambda_off.into()),
    Field::new("lambda_ratio", "off", "times", 2, |one| one.lambda_ratio.into()),
    Field::data("speed_off_rpm", |one| one.speed_off_rpm.into()),
    Field::new("potentiometer_v", "pot.", "V", 3, |one| one.potentiometer_v.0.into()),
    Field::new("speed_ratio", "speed off", "times", 2, |one| one.speed_ratio.into()),
    Field::new("cov_percent", "rough", "%", 1, |one| one.cov_percent.0.into()),
    Field::data("cov_most_percent", |one| one.cov_percent.1.into()),
    Field::data("duty_percent", |one| one.duty_percent.into()),
    Field::word("bad", "idle", |one| if one.is_bad() { "bad" } else { "good" }.into()),
];

/// Years in words.
fn told_years(years: f64) -> String {
    format!("{} year{}", plain(years), if years == 1.0 { "" } else { "s" })
}

fn years<S: Serializer>(years: &[Year], serializer: S) -> Result<S::Ok, S::Error> {
    let shares = |year: &Year| SHARES.map(|(_, name, _, _, share)| (name, 100.0 * share(year)));
    let record =
        |year: &Year| ByName([("years", year.years)].into_iter().chain(shares(year)).collect());
    serializer.collect_seq(years.iter().map(record))
}

impl Serialize for Ageing {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let (dither, search) = self.found.as_ref().map(|(dither, search)| (dither, search)).unzip();
        let idle_m = self.scenario.setup.rig.reference().idle_height_m;
        AgeingRecord {
            canonical_command: &self.command,
            conditions: &self.scenario,
            reason: &self.reason,
            parts: self.parts,
            hours_a_year: self.hours_a_year,
            spread: self.spread,
            wear_mm3_nm: self.wear_mm3_nm,
            dither: dither.map(|dither| {
                ByName(vec![
                    ("pace_m_h", 3600.0 * dither.pace_m_s),
                    ("strokes_per_s", dither.passes_per_s),
                    ("spread_mm", 1e3 * dither.spread_m),
                    ("wear_at_mm", 1e3 * (dither.middle_m - idle_m)),
                    ("wear_width_mm", 1e3 * dither.half_width_m()),
                ])
            }),
            lost_mv_per_100_h: dither.map(|_| 1e5 * self.lost_v_h),
            bad_from_mv: search.and_then(|search| search.bad_from_v).map(|lost_v| 1e3 * lost_v),
            bad_ratio: BAD_RATIO,
            cov_passes_10_percent: search.map(passes_rough),
            idles: Records(IDLES_TRIED, search.map_or(&[], |search| &search.tried)),
            median_h: self.fleet.map(|fleet| fleet.median_h),
            curves: &self.curves,
        }
        .serialize(serializer)
    }
}

impl Found for Ageing {
    fn table(&self) -> Table {
        table(self, true)
    }
}

/// Whether the mean roughness of any idle tried passes the rough limit.
fn passes_rough(search: &Search) -> bool {
    search.tried.iter().any(|one| one.cov_percent.0 > ROUGH_PERCENT)
}

/// Each curve over the years: all of its shares, or those that are printed.
fn table(ageing: &Ageing, whole: bool) -> Table {
    let mut table = Table::new(vec![Column::new("years", "years", "", 0)], Vec::new());
    let years = ageing.curves.first().map_or(&[][..], |curve| &curve.rows);
    table.rows = years.iter().map(|year| vec![year.years.into()]).collect();
    for curve in &ageing.curves {
        let label =
            curve.change_years.map_or("never".into(), |years| format!("every {}", plain(years)));
        let name = label.replace(' ', "_");
        let shown = SHARES.iter().filter(|(_, _, _, printed, _)| whole || *printed);
        for (kind, _, word, _, share) in shown {
            let (name, label) = (format!("{kind}_{name}_percent"), format!("{label}{word}"));
            table.columns.push(Column::new(&name, &label, "%", 1));
            for (row, year) in table.rows.iter_mut().zip(&curve.rows) {
                row.push((100.0 * share(year)).into());
            }
        }
    }
    table
}

impl Ageing {
    /// What was found, in a sentence.
    pub fn finding(&self) -> String {
        let Some((_, search)) = &self.found else {
            return "The engine does not idle on a sound track, so nothing wears it".into();
        };
        let Some(bad) = search.bad_from_v else {
            return format!("Even {:.0} mV lost make no bad idle here", 1e3 * DEEPEST_V);
        };
        let Some((never, changed)) = self.curves.split_first() else { return String::new() };
        let share = |curve: &Curve| 100.0 * curve.rows.last().map_or(0.0, |row| row.share);
        let years = never.rows.last().map_or(0.0, |row| row.years);
        let others: Vec<String> = changed
            .iter()
            .map(|curve| {
                let every = curve.change_years.unwrap_or(0.0);
                format!("{:.0} % if changed every {}", share(curve), told_years(every))
            })
            .collect();
        format!(
            "A pit of {:.0} mV makes a bad idle: {:.0} % of cars in {}; {}",
            1e3 * bad,
            share(never),
            told_years(years),
            others.join(", ")
        )
    }
}
