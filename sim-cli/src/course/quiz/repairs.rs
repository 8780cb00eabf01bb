//! Numbers of the questions on lesson 15: which repair calls for which setting.

use super::question::{Drawn, QuestionSource, TOLERANCE_SHARE, numbers, set, state};
use crate::text::with_unit;
use sim_core::point::Reading;
use sim_core::rig::keys::{Key, Setup};
use sim_core::steady::SteadyEngine;

pub fn which_fault(source: &mut QuestionSource) -> Option<Drawn> {
    let at = source.one_of(&[0, 1, 2, 3]);
    let sign = source.one_of(&[-1.0, 1.0]);
    let (key, value) = match at {
        0 => ("housing_mm", 0.4 * sign),
        1 => ("screw", 0.0625 * sign),
        2 => ("leak_kg_h", 1.5),
        _ => {
            let now = Key::find("system_pressure_bar")?.get(&source.setup)?;
            ("system_pressure_bar", now + 0.4 * sign)
        }
    };
    let (before, after) = (source.setup, set(&source.setup, key, value)?);
    let fast = |setup: &Setup| Setup { conditions: setup.conditions.at_fast_idle(), ..*setup };
    let mut moves = Vec::new();
    for (words, before, after, name) in [
        ("lambda at idle", before, after, "lambda"),
        ("lambda at 2500 rpm", fast(&before), fast(&after), "lambda"),
        ("potentiometer at idle", before, after, "potentiometer_v"),
    ] {
        let reading = Reading::find(name)?;
        let shown = |setup: &Setup| Some(with_unit(reading, reading.value(&state(setup)?)?));
        moves.push(format!("{words} {} became {}", shown(&before)?, shown(&after)?));
    }
    Some(Drawn::choice(at, Vec::new()).with("words", moves.join("; ")))
}

pub fn after_repair(source: &mut QuestionSource) -> Option<Drawn> {
    let bar = source.one_of(&[-0.3, -0.2, 0.2, 0.3]);
    let now = Key::find("system_pressure_bar")?.get(&source.setup)?;
    let there = set(&source.setup, "system_pressure_bar", now + bar)?;
    let aim = |setup: &Setup| SteadyEngine::new(&setup.rig, &setup.conditions).aim_turns();
    let (was, is) = (aim(&source.setup)?, aim(&there)?);
    if (is - was).abs() < 0.004 {
        return None;
    }
    let numbers = numbers![was_turns = was, then = now + bar, now, is_turns = is];
    Some(Drawn::number(is, TOLERANCE_SHARE * (is - was).abs(), numbers))
}
