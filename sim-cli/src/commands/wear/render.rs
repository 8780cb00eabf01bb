//! What `wear` found, in JSON, rows and words.

use super::request::WearRequest;
use super::{Ageing, Curve, IDLES};
use crate::cautions::RUNNING;
use crate::report::{Block, Cell, Column, Report, Table, number};
use crate::text::plain;
use serde_json::{Value, json};
use sim_core::conditions::Conditions;
use sim_core::run::idle_wear::{BAD_RATIO, Disturbance, Search};

/// Roughness that the trade would call rough: our own limit of the sweep's edges (%).
const ROUGH_PERCENT: f64 = 10.0;

fn disturbance_value(one: &Disturbance) -> Value {
    json!({
        "lost_mv": 1e3 * one.lost_v,
        "bad": one.is_bad(),
        "stalls": one.stalls,
        "lambda_mean": one.lambda,
        "lambda_off": one.lambda_off,
        "lambda_ratio": one.lambda_ratio,
        "speed_off_rpm": one.speed_off_rpm,
        "speed_ratio": one.speed_ratio,
        "cov_percent": one.cov_percent.0,
        "cov_most_percent": one.cov_percent.1,
        "duty_percent": one.duty_percent,
    })
}

pub(super) fn values(report: &mut Report, ageing: &Ageing, asked: &WearRequest) {
    report.put("canonical_command", json!(ageing.command));
    report.put("conditions", ageing.engine.value());
    report.put("reason", json!(ageing.reason));
    report.put("parts", json!(asked.parts));
    report.put("hours_a_year", json!(asked.hours));
    report.put("spread", json!(asked.spread));
    report.put("wear_mm3_nm", json!(asked.wear));
    let rubs = ageing.found.as_ref().map(|(rubs, _)| rubs);
    let idle_m = ageing.engine.setup.rig.reference().idle_height_m;
    report.put(
        "dither",
        rubs.map_or(Value::Null, |rubs| {
            json!({
                "pace_m_h": 3600.0 * rubs.pace_m_s,
                "strokes_per_s": rubs.passes_per_s,
                "spread_mm": 1e3 * rubs.spread_m,
                "wear_at_mm": 1e3 * (rubs.middle_m - idle_m),
                "wear_width_mm": 1e3 * rubs.half_width_m(),
            })
        }),
    );
    report.put("lost_mv_per_100_h", number(rubs.map(|_| 1e5 * ageing.lost_v_h)));
    let search = ageing.found.as_ref().map(|(_, search)| search);
    report.put("bad_from_mv", number(search.and_then(|s| s.bad_from_v).map(|v| 1e3 * v)));
    report.put("bad_ratio", json!(BAD_RATIO));
    report.put("cov_passes_10_percent", json!(search.map(passes_rough)));
    report.put(
        "idles",
        search.map_or(json!([]), |s| s.tried.iter().map(disturbance_value).collect()),
    );
    report.put("median_h", number(ageing.fleet.map(|fleet| fleet.median_h)));
    let curve = |curve: &Curve| {
        let rows: Vec<Value> = curve
            .rows
            .iter()
            .map(|row| {
                json!({
                    "years": row.years,
                    "share_percent": 100.0 * row.share,
                    "expected_percent": 100.0 * row.expected_share,
                    "bad_now_percent": 100.0 * row.share_now,
                    "risk_percent": 100.0 * row.risk,
                })
            })
            .collect();
        json!({"change_years": curve.change_years, "rows": rows})
    };
    report.put("curves", ageing.curves.iter().map(curve).collect());
    report.rows = table(ageing, true);
}

/// Whether the mean roughness of any idle tried passes the rough limit.
fn passes_rough(search: &Search) -> bool {
    search.tried.iter().any(|one| one.cov_percent.0 > ROUGH_PERCENT)
}

/// Year by year: all of it for files, share and risk for reading.
fn table(ageing: &Ageing, whole: bool) -> Table {
    let mut columns = vec![Column::new("years", "years", "", 0)];
    for curve in &ageing.curves {
        let (name, label) = match curve.change_years {
            None => ("never".to_string(), "never".to_string()),
            Some(years) => (format!("every_{}", plain(years)), format!("every {}", plain(years))),
        };
        let mut add = |kind: &str, word: &str| {
            let label = format!("{label}{word}");
            columns.push(Column::new(&format!("{kind}_{name}_percent"), &label, "%", 1));
        };
        add("share", "");
        if whole {
            add("expected", "");
            add("bad_now", "");
        }
        add("risk", ", risk");
    }
    let count = ageing.curves.first().map_or(0, |curve| curve.rows.len());
    let rows = (0..count).map(|i| {
        let mut cells = vec![Cell::Number(Some(ageing.curves[0].rows[i].years))];
        for row in ageing.curves.iter().map(|curve| &curve.rows[i]) {
            let mut add = |share: f64| cells.push(Cell::Number(Some(100.0 * share)));
            add(row.share);
            if whole {
                add(row.expected_share);
                add(row.share_now);
            }
            add(row.risk);
        }
        cells
    });
    Table { rows: rows.collect(), columns }
}

pub(super) fn render(report: &mut Report, ageing: &Ageing, asked: &WearRequest) {
    report.blocks.push(Block::Heading(ageing.finding()));
    report.say(ageing.engine.words().replace("warm point", "running"));
    if let Some(why) = &ageing.reason {
        report.notes.push(format!("Nothing to tell: {why}."));
    }
    if let Some((rubs, search)) = &ageing.found {
        report.say(format!(
            "  dither at idle   {:.1} strokes a second, {:.0} m/h at the plate; the pit's half width {:.3} mm",
            rubs.passes_per_s,
            3600.0 * rubs.pace_m_s,
            1e3 * rubs.half_width_m()
        ));
        report.say(format!(
            "  wear             {:.1} mV lost in 100 h of idling at the median",
            1e5 * ageing.lost_v_h
        ));
        if let Some(fleet) = &ageing.fleet {
            report.say(format!("  a bad idle after {:.0} h at the median", fleet.median_h));
        }
        report.blocks.push(Block::Heading("The idle on a worn track".into()));
        report.blocks.push(Block::Table(idle_table(search)));
        report.notes.push(rough_words(search));
    }
    if !ageing.curves.is_empty() {
        report.blocks.push(Block::Heading(format!(
            "Cars that have had a bad idle, of {}; risk: of those spared till then, within the year",
            asked.parts
        )));
        report.blocks.push(Block::Table(table(ageing, false)));
    }
    report.notes.push(format!(
        "Bad idle: lambda or speed off the sound track's mean by {BAD_RATIO} times what it is on a sound track (root mean square over {IDLES} idles), or a stall; our own criterion. Pulsation 10 % and torque noise."
    ));
    report.notes.push("Depth by Archard's law (J. Appl. Phys. 24, 981, 1953, from memory): load times distance, the distance and the width of the pit from the run. Wear coefficient, load and the voltage lost for a depth are invented, and so are the years: twice the wear, half the years. Trust the order of the curves, not the years.".into());
    report.notes.push("The wiper idles at one place for all its life here; a real one wanders with weather and load, which spreads the pit and slows it.".into());
    let conditions = &ageing.engine.setup.conditions;
    if conditions.wear != Conditions::default().wear {
        report.notes.push(
            "Every track starts sound here: the wear that the flags give is left out.".into(),
        );
    }
    report.cautions = RUNNING.to_vec();
}

fn rough_words(search: &Search) -> String {
    let most = search.tried.iter().map(|one| one.cov_percent.0).fold(0.0, f64::max);
    if passes_rough(search) {
        format!("Roughness passes {ROUGH_PERCENT} % COV on the way: {most:.1} % at most.")
    } else {
        format!(
            "Roughness never passes {ROUGH_PERCENT} % COV ({most:.1} % at most): the worn track is seen in the mixture, not felt as misfires; the controller takes the leaps of voltage for acceleration and adds fuel."
        )
    }
}

fn idle_table(search: &Search) -> Table {
    let columns = vec![
        Column::new("lost_mv", "lost", "mV", 0),
        Column::new("lambda_mean", "lambda", "", 3),
        Column::new("lambda_ratio", "off", "times", 2),
        Column::new("speed_ratio", "speed off", "times", 2),
        Column::new("cov_percent", "rough", "%", 1),
        Column::new("bad", "idle", "", 0),
    ];
    let row = |one: &Disturbance| {
        let numbers =
            [1e3 * one.lost_v, one.lambda, one.lambda_ratio, one.speed_ratio, one.cov_percent.0];
        let mut cells: Vec<Cell> = numbers.map(|value| Cell::Number(Some(value))).to_vec();
        cells.push(Cell::Word(if one.is_bad() { "bad" } else { "good" }.into()));
        cells
    };
    Table { columns, rows: search.tried.iter().map(row).collect() }
}
