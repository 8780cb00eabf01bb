//! How often each rule of the trade holds, over many relatives of a rig.

use crate::cautions::RUNNING;
use crate::report::{Column, Found, Report, Table};
use crate::scenario::Scenario;
use crate::text::{flame_words, turns};
use serde::{Serialize, Serializer};
use sim_core::claims::{Claims, Held};
use sim_core::mechanisms::MECHANISMS;
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
    pub drawn: u64,
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
    idle: u64,
    with_edges: u64,
    middle_minus_lambda_one_turns: [f64; 3],
    width_turns: [f64; 3],
}

/// A rule, and on how many rigs it holds.
#[derive(Clone, Serialize)]
pub struct Rule {
    rule: &'static str,
    holds: u64,
    of: u64,
    of_rigs: u64,
    holds_percent: f64,
    verdict: String,
    by_flame: Shares,
    by_mechanisms: Shares,
}

/// Shares of rigs (%) by a word; nothing where no rig was drawn.
#[derive(Clone)]
struct Shares(Vec<(&'static str, Option<f64>)>);

impl Serialize for Shares {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().copied())
    }
}

fn shares(counts: &[(u64, u64)], words: impl Iterator<Item = &'static str>) -> Shares {
    let share = |&(holds, of): &(u64, u64)| (of > 0).then(|| percent(holds, of));
    Shares(words.zip(counts.iter().map(share)).collect())
}

fn percent(holds: u64, of: u64) -> f64 {
    100.0 * holds as f64 / of.max(1) as f64
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
    let rule = |held: &Held| {
        let holds_percent = percent(held.holds, held.of);
        let by_flame = shares(&held.by_flame, flame_words());
        Rule {
            rule: held.rule.words(),
            holds: held.holds,
            of: held.of,
            of_rigs: held.of,
            holds_percent,
            verdict: verdict(holds_percent, &by_flame),
            by_flame,
            by_mechanisms: shares(&held.by_mechanisms, MECHANISMS.iter().map(|set| set.word())),
        }
    };
    claims.rules.iter().map(rule).collect()
}

/// Share of the rigs below which a rule fails, and from which it holds (%). Our own.
const FAILS_BELOW: f64 = 80.0;
const HOLDS_FROM: f64 = 95.0;

/// What a rule is worth: over all rigs first, then under the flame law that is hardest on it.
fn verdict(percent: f64, by_flame: &Shares) -> String {
    let by_law = || by_flame.0.iter().filter_map(|(law, share)| Some((*law, (*share)?)));
    let failing: Vec<&str> =
        by_law().filter(|(_, share)| *share < FAILS_BELOW).map(|(law, _)| law).collect();
    if percent < FAILS_BELOW {
        "fails".into()
    } else if !failing.is_empty() {
        format!("fails under {}", failing.join(", "))
    } else if by_law().all(|(_, share)| share >= HOLDS_FROM) {
        "holds".into()
    } else {
        "holds on most".into()
    }
}

impl Found for RuleCounts {
    fn table(&self) -> Table {
        if self.rules.is_empty() {
            return Table::default();
        }
        let mut columns = vec![
            Column::new("rule", "rule", "", 0),
            Column::new("holds_percent", "holds", "%", 0),
            Column::new("of_rigs", "of rigs", "", 0),
        ];
        columns.extend(flame_words().map(|law| Column::new(law, law, "%", 0)));
        columns.push(Column::new("verdict", "verdict", "", 0));
        let row = |rule: &Rule| {
            let start = [rule.rule.into(), rule.holds_percent.into(), (rule.of_rigs as f64).into()];
            let laws = rule.by_flame.0.iter().map(|(_, share)| (*share).into());
            start.into_iter().chain(laws).chain([rule.verdict.clone().into()]).collect()
        };
        Table::new(columns, self.rules.iter().map(row).collect())
    }
}

/// The report of the rules.
pub fn report(found: &Rc<RuleCounts>) -> Report {
    let mut report = Report::of("claims", found.clone());
    match &found.smooth_zones {
        Some(zones) => render(&mut report, found, zones),
        None => report.say("None of the rigs drawn idles with both a lean and a rich edge."),
    }
    report.note_idle_flags(&found.scenario);
    report.cautions = RUNNING.to_vec();
    report
}

fn render(report: &mut Report, found: &RuleCounts, zones: &SmoothZones) {
    let RuleCounts { drawn, rest_mm, .. } = found;
    report.heading(format!(
        "{drawn} relatives of {}, plates resting within {rest_mm} mm: {} idle, {} go rough both lean and rich",
        found.scenario.file.name, zones.idle, zones.with_edges
    ));
    report.table(found.table().short_columns(&["holds_percent", "verdict", "rule"]));
    let named: Vec<&str> = flame_words()
        .filter(|law| found.rules.iter().any(|rule| rule.verdict.contains(law)))
        .collect();
    if !named.is_empty() {
        report.in_short(|report| {
            report.say(format!(
                "{}: {} of how fast the flame burns (`--all`: all {}).",
                named.join(", "),
                if named.len() > 1 { "other laws" } else { "another law" },
                flame_words().count()
            ));
        });
    }
    let [low, mid, high] = zones.middle_minus_lambda_one_turns;
    let [narrow, usual, wide] = zones.width_turns;
    report.note(format!(
        "The middle lies {} turn from lambda 1 at the median, {} to {} for nine in ten. The smooth zone is {usual:.2} turn wide, {narrow:.2} to {wide:.2} for nine in ten. How many turns that is depends on the gearing of the screw.",
        turns(mid), turns(low), turns(high)
    ));
    if *drawn < 100 {
        report.note_always(format!(
            "Only {drawn} rigs: a share of so few says little; draw some hundreds."
        ));
    }
    report.note(format!(
        "Each rig burns by one of {} flame laws, drawn at random. `holds` counts all rigs, the columns behind it those of each law. A rule holds where each law gives it {HOLDS_FROM:.0} %, and fails below {FAILS_BELOW:.0} % of all rigs (our own bounds).",
        flame_words().count()
    ));
    report.note("Flame laws say how fast the flame burns over lambda. gasoline and iso-octane: fitted to measured flames of these fuels. gulder: another published fit, slow when rich. flat-rich: our own, stays fast when rich.");
    report.note("Rules about the middle and the edges are counted on rigs that go rough both lean and rich: one without an edge has no middle. A share of 100 % is that of the rigs drawn, not of every engine: a law that is not among these, or a part that is worn, can break the rule.");
    report.note(format!(
        "What makes an idle rough is not known for certain. So the rigs share {} sets of mechanisms among them ({}), all as rough at lambda 1. `--format json` has the shares for each.",
        MECHANISMS.len(),
        MECHANISMS.map(|set| set.word()).join(", ")
    ));
    report.note("Each rig's parts are drawn by chance, one sigma: lengths 2 %, rim clearance 15 %, slit widths 1 %, burn and its scatter 10 %. Further: scatter of fuel 15 %, gas-fuel limit 3 %, friction 5 %, overlap 20 %, spark 2 deg. These spreads are our judgement.");
}
