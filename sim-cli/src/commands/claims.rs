//! `claims`: how often each rule of the trade holds, over many relatives of a rig.

use super::Command;
use super::asked::{SEED_MOST, WHOLE, number_of, value_arg, whole_within, within};
use crate::args::with_output;
use crate::cautions::RUNNING;
use crate::error::Error;
use crate::progress::Progress;
use crate::report::{Block, Cell, Column, Report, Table};
use crate::scenario::{EngineArgs, with_conditions};
use crate::text::turns as signed;
use clap::ArgMatches;
use serde_json::json;
use sim_core::claims::{Claims, claims};
use sim_core::conditions::Conditions;
use sim_core::engine::flame::FLAME_LAWS;
use sim_core::mechanisms::MECHANISMS;
use sim_core::rig::keys::{Key, Place};

pub const COMMAND: Command = Command {
    name: "claims",
    group: "teach",
    about: "How often each rule holds, over many rigs drawn about one",
    example: "quarterturn claims --rigs 100 --seed 7",
    args,
    report,
};

/// Most rigs of one call.
const RIGS_MOST: f64 = sim_core::claims::RIGS_MOST as f64;
/// Most by which their plates may rest too high or too low (mm).
const REST_MOST_MM: f64 = 1.5;

fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(value_arg("rigs", "NUMBER", "500", "how many relatives of the rig to draw"))
        .arg(value_arg("seed", "NUMBER", "1", "seed of the draw"))
        .arg(value_arg(
            "rest-mm",
            "MM",
            "0.3",
            "their plates rest up to this much too high or too low",
        ));
    with_output(with_conditions(command, &Conditions::default()))
}

fn report(matches: &ArgMatches, _: &mut Progress<'_>) -> Result<Report, Error> {
    let [rigs, seed, rest_mm] = ["rigs", "seed", "rest-mm"].map(|name| number_of(matches, name));
    let (rigs, seed, rest_mm) = (rigs?, seed?, rest_mm?);
    let engine = EngineArgs::read(matches)?.turning_the_screw().load(Conditions::default())?;
    let rigs = whole_within("--rigs", rigs, (1.0, RIGS_MOST), "whole rigs")?;
    let seed = whole_within("--seed", seed, (0.0, SEED_MOST), WHOLE)?;
    let rest_mm = within("--rest-mm", rest_mm, (0.0, REST_MOST_MM), "mm")?;
    let found = claims(
        &engine.setup.rig,
        &engine.setup.conditions,
        seed as u64,
        rigs as u64,
        1e-3 * rest_mm,
    );
    let mut report = Report::new("claims");
    let mut command = String::from("quarterturn claims");
    for (flag, value, default) in
        [("rigs", rigs, 500.0), ("seed", seed, 1.0), ("rest-mm", rest_mm, 0.3)]
    {
        if value != default {
            command += &format!(" --{flag} {value}");
        }
    }
    report.put("canonical_command", json!(command + &engine.flags));
    report.put("conditions", engine.value());
    match found {
        Some(found) => render(&mut report, &found, &engine.file.name, rest_mm),
        None => {
            report.put("drawn", json!(rigs));
            report.put("rules", json!([]));
            report.say("None of the rigs drawn idles with both a lean and a rich edge.");
        }
    }
    engine.note_screw(&mut report);
    report.cautions = RUNNING.to_vec();
    Ok(report)
}

fn render(report: &mut Report, found: &Claims, rig: &str, rest_mm: f64) {
    report.put("drawn", json!(found.drawn));
    report.put("idle", json!(found.idle));
    report.put("with_edges", json!(found.with_edges));
    report.put("middle_minus_lambda_one_turns", json!(found.middle_turns));
    report.put("width_turns", json!(found.width_turns));
    report.blocks.push(Block::Heading(format!(
        "{} relatives of {rig}, plates resting within {rest_mm} mm: {} idle, {} have both edges",
        found.drawn, found.idle, found.with_edges
    )));
    let mut table = Table {
        columns: vec![
            Column::new("rule", "rule", "", 0),
            Column::new("holds_percent", "holds", "%", 0),
            Column::new("of_rigs", "of rigs", "", 0),
        ],
        rows: Vec::new(),
    };
    let mut values = Vec::new();
    for held in &found.rules {
        let percent = 100.0 * held.share();
        let by_flame: serde_json::Map<_, _> = flame_words()
            .zip(FLAME_LAWS)
            .filter_map(|(word, law)| Some((word.into(), json!(100.0 * held.share_under(law)?))))
            .collect();
        let by_mechanisms: serde_json::Map<_, _> = MECHANISMS
            .iter()
            .zip(held.by_mechanisms)
            .filter(|(_, (_, of))| *of > 0)
            .map(|(set, (holds, of))| (set.word().into(), json!(100.0 * holds as f64 / of as f64)))
            .collect();
        values.push(json!({
            "rule": held.rule.words(), "holds": held.holds, "of": held.of, "of_rigs": held.of,
            "holds_percent": percent, "by_flame": by_flame, "by_mechanisms": by_mechanisms,
        }));
        table.rows.push(vec![
            Cell::Word(held.rule.words().into()),
            Cell::Number(Some(percent)),
            Cell::Number(Some(held.of as f64)),
        ]);
    }
    report.put("rules", json!(values));
    report.rows = table.clone();
    report.blocks.push(Block::Table(table));
    let [low, mid, high] = found.middle_turns;
    let [narrow, usual, wide] = found.width_turns;
    report.notes.push(format!(
        "The middle lies {} turn from lambda 1 at the median, {} to {} for nine in ten; the smooth zone is {usual:.2} turn wide, {narrow:.2} to {wide:.2} for nine in ten. In turns they follow the gearing of the screw.",
        signed(mid), signed(low), signed(high)
    ));
    if found.drawn < 100 {
        report.notes.push(format!(
            "Only {} rigs: a share of so few says little; draw some hundreds.",
            found.drawn
        ));
    }
    report.notes.push("The last four rules are counted on rigs with both edges; one without an edge has no middle.".into());
    report.notes.push("Rigs are drawn part by part, one sigma: lengths 2 %, rim clearance 15 %, slit widths 1 %, burn 10 %, friction 5 %, overlap 20 %, spark 2 deg; a flame law at random. The spreads are our judgement.".into());
}

/// The flame laws' words, in the order of their key.
fn flame_words() -> impl Iterator<Item = &'static str> {
    let words = Key::find("flame").map(|key| &key.place);
    let words: &[&str] = if let Some(Place::Choice { words, .. }) = words { words } else { &[] };
    words.iter().copied()
}
