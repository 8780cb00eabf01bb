//! How far the trade's rules can be trusted: each tried on many relatives of a rig.
//!
//! ```
//! use sim_core::{claims::claims, conditions::Conditions, rig::shipped::shipped};
//! let base = shipped("six").unwrap().rig;
//! let tried = claims(&base, &Conditions::default(), 1, 5, 5e-4).unwrap();
//! assert!(tried.drawn == 5 && tried.with_edges <= tried.idle);
//! ```

use crate::conditions::Conditions;
use crate::engine::flame::{FLAME_LAWS, FlameLaw};
use crate::flowstart::flow_start_on;
use crate::mechanisms::{MECHANISMS, with_mechanisms};
use crate::rig::Rig;
use crate::rig::keys::Setup;
use crate::rig::seeded::relative;
use crate::steady::{SteadyEngine, cov_at_lambda_one};
use crate::sweep::{Edges, edges_and_stretch};
use std::ops::Range;

/// The most rigs of one call.
pub const RIGS_MOST: u64 = 100_000;
/// How far the screw is turned back from where fuel first shows (turns).
const QUARTER: f64 = 0.25;
/// The sixteenth of a turn of the workshop rule.
const SIXTEENTH: f64 = 1.0 / 16.0;
/// How far a hand turns to either side before it gives up (sixteenths).
const HAND_MOST: i32 = 16;

/// A rule of the trade.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Rule {
    /// A quarter turn back from flow start runs smooth, the plate resting as drawn.
    Quarter,
    /// The same with the rest height checked.
    QuarterChecked,
    /// The middle of the edges is richer than lambda 1.
    MiddleRich,
    /// The rich edge lies farther from lambda 1 than the lean one.
    RichFarther,
    /// The middle, then a sixteenth leaner, is still smooth.
    Sixteenth,
    /// The middle, then a fifth of the found width leaner, is still smooth.
    Fifth,
    /// A hand that turns in eighths and sixteenths finds a smooth middle.
    Hand,
    /// A fifth of the width it found leaner, to the nearest sixteenth, is still smooth.
    HandFifth,
}

/// All rules.
pub const RULES: [Rule; 8] = [
    Rule::Quarter,
    Rule::QuarterChecked,
    Rule::MiddleRich,
    Rule::RichFarther,
    Rule::Sixteenth,
    Rule::Fifth,
    Rule::Hand,
    Rule::HandFifth,
];

impl Rule {
    /// The rule in words.
    pub fn words(self) -> &'static str {
        match self {
            Rule::Quarter => "a quarter turn back from flow start runs smooth",
            Rule::QuarterChecked => {
                "a quarter turn back runs smooth, the plate's rest height checked"
            }
            Rule::MiddleRich => "the middle of the two edges is rich of lambda 1",
            Rule::RichFarther => "the rich edge lies farther from lambda 1 than the lean one",
            Rule::Sixteenth => "middle, then a sixteenth leaner, is still smooth",
            Rule::Fifth => "middle, then a fifth of the width leaner, is still smooth",
            Rule::Hand => "a hand that turns in eighths and sixteenths finds a smooth middle",
            Rule::HandFifth => {
                "a fifth of the width it found leaner, to a sixteenth, is still smooth"
            }
        }
    }

    /// Whether it is counted on all engines that idle; the others need both edges.
    fn of_all(self) -> bool {
        matches!(self, Rule::Quarter | Rule::QuarterChecked | Rule::Hand | Rule::HandFifth)
    }
}

/// Counts of one flame law and one set of mechanisms.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Counts {
    idle: u64,
    with_edges: u64,
    holds: [u64; RULES.len()],
}

/// Bins of a distribution over turns: first, count for each turn, number.
const BINS: (f64, f64, usize) = (-1.0, 1024.0, 3072);

/// A distribution over turns of the screw, to a thousandth of a turn.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Turns {
    bins: Vec<u32>,
}

impl Turns {
    fn add(&mut self, turns: f64) {
        let (first, each, count) = BINS;
        self.bins[((turns - first) * each).clamp(0.0, (count - 1) as f64) as usize] += 1;
    }

    fn percentiles(&self) -> [f64; 3] {
        let (first, each, _) = BINS;
        let total: u32 = self.bins.iter().sum();
        [0.05, 0.5, 0.95].map(|share| {
            let rank = (share * f64::from(total.saturating_sub(1))).round() as u32;
            let mut below = 0;
            let bin = self.bins.iter().position(|count| {
                below += count;
                below > rank
            });
            first + (bin.unwrap_or(0) as f64 + 0.5) / each
        })
    }
}

/// What many relatives did, in counts alone: of a fixed size, and the same whatever order parts
/// of it are merged in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Counted {
    drawn: u64,
    counts: [[Counts; MECHANISMS.len()]; FLAME_LAWS.len()],
    middle: Turns,
    width: Turns,
}

/// How often a rule held.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// The rule.
    pub rule: Rule,
    /// On how many engines it held.
    pub holds: u64,
    /// Of how many.
    pub of: u64,
    /// The same for each law of [`FLAME_LAWS`].
    pub by_flame: [(u64, u64); FLAME_LAWS.len()],
    /// The same for each of [`MECHANISMS`].
    pub by_mechanisms: [(u64, u64); MECHANISMS.len()],
}

/// A rig with its roughness from each of [`MECHANISMS`], equally rough at lambda 1: what the
/// relatives are drawn about, in turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bases([Rig; MECHANISMS.len()]);

impl Bases {
    /// Of a rig. Where a set cannot be made as rough as the rig is, its own stands in.
    pub fn of(base: &Rig) -> Bases {
        let cov = cov_at_lambda_one(base.parts(), FlameLaw::Gasoline);
        Bases(MECHANISMS.map(|mechanisms| {
            cov.and_then(|cov| with_mechanisms(base, mechanisms, FlameLaw::Gasoline, cov))
                .unwrap_or(*base)
        }))
    }
}

impl Held {
    /// Share of the engines on which it held.
    pub fn share(&self) -> f64 {
        self.holds as f64 / self.of.max(1) as f64
    }

    /// The same under one law, if any engine had it.
    pub fn share_under(&self, law: FlameLaw) -> Option<f64> {
        let (holds, of) = self.by_flame[law as usize];
        (of > 0).then(|| holds as f64 / of as f64)
    }
}

/// How often each rule held, over the relatives that idle.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Claims {
    /// Relatives drawn.
    pub drawn: u64,
    /// Those that idle at lambda 1.
    pub idle: u64,
    /// Those whose smooth zone has both edges.
    pub with_edges: u64,
    /// The rules.
    pub rules: [Held; RULES.len()],
    /// Middle less lambda 1 (turns): 5th, 50th, 95th percentile.
    pub middle_turns: [f64; 3],
    /// Width of the smooth zone (turns): 5th, 50th, 95th percentile.
    pub width_turns: [f64; 3],
}

impl Claims {
    /// How often a rule held.
    pub fn held(&self, rule: Rule) -> &Held {
        &self.rules[rule as usize]
    }
}

impl Counted {
    /// Of no relatives.
    pub fn new() -> Counted {
        let none = Turns { bins: vec![0; BINS.2] };
        Counted { drawn: 0, counts: Default::default(), middle: none.clone(), width: none }
    }

    /// Tries the rules on the relatives `items` of a rig under conditions; the mechanisms take
    /// turns, the flame law and the rest height (uniform within `rest_m` either way of the conditions') are each
    /// relative's own.
    pub fn of(
        bases: &Bases,
        conditions: &Conditions,
        seed: u64,
        items: Range<u64>,
        rest_m: f64,
    ) -> Counted {
        let mut counted = Counted::new();
        for item in items {
            counted.drawn += 1;
            let set = item as usize % MECHANISMS.len();
            let Some(relative) = relative(&bases.0[set], seed, item, rest_m) else { continue };
            let checked = Conditions { flame: relative.flame, ..*conditions };
            let rest_height_m = checked.rest_height_m + relative.rest_height_m;
            let setup =
                Setup { rig: relative.rig, conditions: Conditions { rest_height_m, ..checked } };
            counted.add(&setup, &checked, set);
        }
        counted
    }

    /// Adds what other relatives did.
    pub fn merge(&mut self, other: &Counted) {
        self.drawn += other.drawn;
        let counts = self.counts.as_flattened_mut().iter_mut();
        for (own, more) in counts.zip(other.counts.as_flattened()) {
            own.idle += more.idle;
            own.with_edges += more.with_edges;
            own.holds.iter_mut().zip(more.holds).for_each(|(a, b)| *a += b);
        }
        for (own, more) in [(&mut self.middle, &other.middle), (&mut self.width, &other.width)] {
            own.bins.iter_mut().zip(&more.bins).for_each(|(a, b)| *a += b);
        }
    }

    /// What it comes to. `None` if no relative has both edges.
    pub fn claims(&self) -> Option<Claims> {
        let all = self.counts.as_flattened();
        let sum = |get: fn(&Counts) -> u64| all.iter().map(get).sum::<u64>();
        let with_edges = sum(|counts| counts.with_edges);
        let held = |rule: Rule| {
            let of = |counts: &Counts| {
                let of = if rule.of_all() { counts.idle } else { counts.with_edges };
                (counts.holds[rule as usize], of)
            };
            let total = |counts: &mut dyn Iterator<Item = &Counts>| {
                counts.map(of).fold((0, 0), |sum, one| (sum.0 + one.0, sum.1 + one.1))
            };
            let (holds, of_all) = total(&mut all.iter());
            Held {
                rule,
                holds,
                of: of_all,
                by_flame: std::array::from_fn(|law| total(&mut self.counts[law].iter())),
                by_mechanisms: std::array::from_fn(|set| {
                    total(&mut self.counts.iter().map(|law| &law[set]))
                }),
            }
        };
        (with_edges > 0).then(|| Claims {
            drawn: self.drawn,
            idle: sum(|counts| counts.idle),
            with_edges,
            rules: RULES.map(held),
            middle_turns: self.middle.percentiles(),
            width_turns: self.width.percentiles(),
        })
    }

    fn add(&mut self, setup: &Setup, checked: &Conditions, set: usize) {
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        let right = Setup { rig: setup.rig, conditions: *checked };
        let steady_checked = steady.resting_at(checked.rest_height_m);
        let quarter =
            |setup: &Setup, steady: &SteadyEngine| Some(flow_start_on(setup, steady)? - QUARTER);
        let Some(setting) = quarter(setup, &steady) else { return };
        let Some(setting_checked) = quarter(&right, &steady_checked) else { return };
        let (edges, stretch) = edges_and_stretch(&steady);
        let smooth = |turns: f64| {
            stretch.is_some_and(|stretch| stretch.holds(turns)) || steady.is_smooth(turns)
        };
        let counts = &mut self.counts[setup.conditions.flame as usize][set];
        counts.idle += 1;
        let mut hold = |rule: Rule, holds: bool| counts.holds[rule as usize] += u64::from(holds);
        hold(Rule::Quarter, smooth(setting));
        hold(Rule::QuarterChecked, steady_checked.is_smooth(setting_checked));
        let by_hand = by_hand(setting, smooth);
        hold(Rule::Hand, by_hand.is_some_and(|(middle, _)| smooth(middle)));
        hold(Rule::HandFifth, by_hand.is_some_and(|(_, aim)| smooth(aim)));
        let Edges { lean: Some(lean), rich: Some(rich), lambda_one: Some(one), .. } = edges else {
            return;
        };
        let (middle, width) = (0.5 * (lean + rich), rich - lean);
        hold(Rule::MiddleRich, middle > one);
        hold(Rule::RichFarther, rich - one > one - lean);
        hold(Rule::Sixteenth, smooth(middle - SIXTEENTH));
        hold(Rule::Fifth, edges.ear_aim().is_some_and(smooth));
        counts.with_edges += 1;
        self.middle.add(middle - one);
        self.width.add(width);
    }
}

impl Default for Counted {
    fn default() -> Self {
        Counted::new()
    }
}

/// Middle and aim (turns) that a hand finds from a setting. It turns leaner in eighths until the
/// engine runs rough, then back in sixteenths until it is smooth again; the same to the rich
/// side. From a setting that is rough it first goes to and fro in eighths for a smooth one. The
/// middle and the aim, a fifth of the width leaner, are taken to the nearest sixteenth, the
/// leaner of two. `None` if it finds no smooth setting within a turn.
fn by_hand(setting: f64, smooth: impl Fn(f64) -> bool) -> Option<(f64, f64)> {
    let at = |sixteenths: i32| setting + SIXTEENTH * f64::from(sixteenths);
    let runs = |sixteenths: i32| smooth(at(sixteenths));
    let start = (0..=HAND_MOST / 2).flat_map(|i| [2 * i, -2 * i]).find(|&i| runs(i))?;
    let last = |way: i32| {
        let mut out = start;
        while out.abs() <= HAND_MOST && runs(out) {
            out += 2 * way;
        }
        if runs(out - way) { out - way } else { out - 2 * way }
    };
    let (lean, rich) = (last(-1), last(1));
    let nearest = |sixteenths: f64| (sixteenths - 0.5).ceil() as i32;
    let middle = 0.5 * f64::from(lean + rich);
    Some((at(nearest(middle)), at(nearest(middle - 0.2 * f64::from(rich - lean)))))
}

/// The claims of `rigs` relatives, one after the other.
pub fn claims(
    base: &Rig,
    conditions: &Conditions,
    seed: u64,
    rigs: u64,
    rest_m: f64,
) -> Option<Claims> {
    Counted::of(&Bases::of(base), conditions, seed, 0..rigs, rest_m).claims()
}
