//! `predict`: every reading before and after a change.

use crate::alike::{DRAWN, over};
use crate::command::{Command, Context, PLAIN};
use crate::error::Error;
use crate::options::Switch;
use crate::report::Report;
use crate::results::predict::{Housing, Pair, PairIntervals, Prediction, Shares, report};
use crate::results::supply;
use crate::scenario::{CHANGE, Change, ChangesAsked, EngineArgs, TURN, VOLTS, plain_words, with};
use crate::text::effect;
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::rig::keys::Setup;
use std::rc::Rc;

pub const COMMAND: Command = Command {
    name: "predict",
    group: "set",
    about: "Every meter before and after a change, in numbers and words",
    example: "quarterturn predict --turn -1/16 --change leak=1",
    listed: plain_words,
    options: &[&CHANGE, &TURN, &VOLTS, &ALSO_FAST_IDLE],
    conditions: Some(Conditions::default),
    chart: true,
    readings: true,
    run,
    ..PLAIN
};

static ALSO_FAST_IDLE: Switch = Switch {
    flag: "also-fast-idle",
    meaning: "the same at 2500 rpm without load: valve shut, throttle as far open as needed",
};

fn run(matches: &ArgMatches, _: &mut Context<'_, '_>) -> Result<Report, Error> {
    let args = EngineArgs::read(matches)?.running();
    let asked = ChangesAsked::read(matches)?;
    let (scenario, asked) = args.load_beside(Conditions::default(), |_| asked.loaded())?;
    let changes = asked.of(&scenario.setup)?;
    let after = with(&scenario.setup, &changes, |_| true)?;
    let fast = ALSO_FAST_IDLE.read(matches);
    let file = &scenario.file;
    let told = |before: &Setup, after: &Setup| {
        let alike = over(file, DRAWN, |alike| {
            let pair = Pair::of(&alike(before)?, &alike(after)?);
            Some((pair.before, pair.after))
        })?;
        let intervals = alike.map(|pairs| PairIntervals::of(&pairs));
        Ok::<Pair, Error>(Pair { intervals, ..Pair::of(before, after) })
    };
    let pair = told(&scenario.setup, &after)?;
    let fast_pair = match fast {
        true => Some(told(&at_fast_idle(&scenario.setup), &at_fast_idle(&after))?),
        false => None,
    };
    let typed: Vec<String> = changes.iter().map(Change::typed).collect();
    let flags: String = changes.iter().map(Change::flag).collect();
    let housing = changes.iter().find_map(Change::housing).map(|(v, turn)| Housing::new(v, turn));
    let named: Vec<_> = changes.iter().map(|change| (change.typed(), change.words())).collect();
    let shares =
        Shares::of(&named, |made| with(&scenario.setup, &changes, |i| made >> i & 1 == 1).ok());
    let mut sentences = effect((&pair.before, &pair.after), &scenario.setup, &after, changes.len());
    if let Some(housing) = &housing {
        sentences.insert(0, housing.sentence());
    }
    sentences.extend(shares.sentences(&pair));
    sentences.extend(supply::low_pressure(&after));
    sentences.extend(supply::weaker_pump(&scenario.setup, &after, pair.after.state()));
    let prediction = Rc::new(Prediction {
        command: format!(
            "quarterturn predict{flags}{}{}",
            ALSO_FAST_IDLE.canonical(fast),
            scenario.flags
        ),
        typed,
        change: changes.iter().map(Change::words).collect::<Vec<_>>().join(", "),
        sentences,
        shares,
        housing,
        pair,
        fast: fast_pair,
        after,
        scenario,
    });
    Ok(report(&prediction).drawn(matches, || crate::chart::predict::picture(&prediction)))
}

fn at_fast_idle(setup: &Setup) -> Setup {
    Setup { conditions: setup.conditions.at_fast_idle(), ..*setup }
}
