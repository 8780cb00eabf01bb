//! How often each rule of the trade holds, over many relatives of a rig.

use crate::cautions::RUNNING;
use crate::report::{Field, Found, Report, Table};
use crate::scenario::Scenario;
use crate::text::turns;
use serde::Serialize;
use sim_core::claims::Claims;
use std::rc::Rc;

/// Rules, counted on rigs drawn about one.
#[derive(Serialize)]
pub struct RuleCounts {
    /// The command, canonically.
    #[serde(rename = "canonical_command")]
    pub command: String,
    /// The engine drawn about.
    #[serde(rename = "conditions")]
    pub scenario: Scenario,
    /// How many rigs were drawn.
    pub drawn: usize,
    /// How many of them idle, and where their edges lie; nothing if none has both edges.
    #[serde(flatten)]
    pub smooth_zones: Option<SmoothZones>,
    /// The rules.
    pub rules: Vec<Rule>,
    /// By how much their plates rest too high or too low at most (mm).
    #[serde(skip)]
    pub rest_mm: f64,
}

/// The smooth zones of the rigs drawn.
#[derive(Serialize)]
pub struct SmoothZones {
    idle: usize,
    with_edges: usize,
    middle_minus_lambda_one_turns: [f64; 3],
    width_turns: [f64; 3],
}

/// A rule, and on how many rigs it holds.
#[derive(Clone, Serialize)]
pub struct Rule {
    rule: &'static str,
    holds: usize,
    of_rigs: usize,
    holds_percent: f64,
}

impl SmoothZones {
    /// Those that were counted.
    pub fn of(claims: &Claims) -> SmoothZones {
        SmoothZones {
            idle: claims.idle,
            with_edges: claims.with_edges,
            middle_minus_lambda_one_turns: claims.middle_turns,
            width_turns: claims.width_turns,
        }
    }
}

/// Each rule as it was counted.
pub fn rules(claims: &Claims) -> Vec<Rule> {
    let Claims { idle, with_edges, .. } = *claims;
    let counted = [
        ("a quarter turn back from flow start runs smooth", claims.quarter_smooth, idle),
        ("the middle of the two edges is rich of lambda 1", claims.middle_rich, with_edges),
        (
            "the rich edge lies farther from lambda 1 than the lean one",
            claims.rich_farther,
            with_edges,
        ),
        ("middle, then a sixteenth leaner, is still smooth", claims.sixteenth_smooth, with_edges),
        (
            "middle, then a fifth of the width leaner, is still smooth",
            claims.ear_smooth,
            with_edges,
        ),
    ];
    let rule = |(rule, holds, of_rigs)| {
        let holds_percent = 100.0 * holds as f64 / usize::max(of_rigs, 1) as f64;
        Rule { rule, holds, of_rigs, holds_percent }
    };
    counted.map(rule).to_vec()
}

/// The rules in a table.
static RULES: &[Field<Rule>] = &[
    Field::new("rule", "rule", "", 0, |rule| rule.rule.into()),
    Field::new("holds_percent", "holds", "%", 0, |rule| rule.holds_percent.into()),
    Field::new("of_rigs", "of rigs", "", 0, |rule| (rule.of_rigs as f64).into()),
];

impl Found for RuleCounts {
    fn table(&self) -> Table {
        if self.rules.is_empty() { Table::default() } else { Table::of(RULES, &self.rules) }
    }
}

/// The report of the rules.
pub fn report(found: &Rc<RuleCounts>) -> Report {
    let mut report = Report::of("claims", found.clone());
    match &found.smooth_zones {
        Some(zones) => render(&mut report, found, zones),
        None => report.say("None of the rigs drawn idles with both a lean and a rich edge."),
    }
    report.note_screw(&found.scenario);
    report.cautions = RUNNING.to_vec();
    report
}

fn render(report: &mut Report, found: &RuleCounts, zones: &SmoothZones) {
    let RuleCounts { drawn, rest_mm, .. } = found;
    report.heading(format!(
        "{drawn} relatives of {}, plates resting within {rest_mm} mm: {} idle, {} have both edges",
        found.scenario.file.name, zones.idle, zones.with_edges
    ));
    report.table(found.table());
    let [low, mid, high] = zones.middle_minus_lambda_one_turns;
    let [narrow, usual, wide] = zones.width_turns;
    report.note(format!(
        "The middle lies {} turn from lambda 1 at the median, {} to {} for nine in ten; the smooth zone is {usual:.2} turn wide, {narrow:.2} to {wide:.2} for nine in ten. In turns they follow the gearing of the screw.",
        turns(mid), turns(low), turns(high)
    ));
    if *drawn < 100 {
        report
            .note(format!("Only {drawn} rigs: a share of so few says little; draw some hundreds."));
    }
    report.note("The last four rules are counted on rigs with both edges; one without an edge has no middle.");
    report.note("Rigs are drawn part by part, one sigma: lengths 2 %, rim clearance 15 %, slit widths 1 %, burn 10 %, friction 5 %, overlap 20 %, spark 2 deg; a flame law at random. The spreads are our judgement.");
}
