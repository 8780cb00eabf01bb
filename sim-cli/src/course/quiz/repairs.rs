//! Questions on lesson 15: which repair calls for which setting.

use super::question::{Question, QuestionSource, TOLERANCE_SHARE, point, set, shown};
use crate::text::turns;
use sim_core::point::Reading;
use sim_core::rig::keys::{Key, Setup};
use sim_core::steady::SteadyEngine;

pub fn which_fault(source: &mut QuestionSource) -> Option<Question> {
    let choices = [
        "the housing of the potentiometer was turned",
        "the screw was turned",
        "air leaks in past no plate",
        "the system pressure is off",
    ];
    let at = source.one_of(&[0, 1, 2, 3]);
    let sign = source.one_of(&[-1.0, 1.0]);
    let after = match at {
        0 => source.with(|s| s.conditions.housing_shift_m = sign * 4e-4),
        1 => set(&source.setup, "screw", sign * 0.0625)?,
        2 => set(&source.setup, "leak_kg_h", 1.5)?,
        _ => {
            let now = Key::find("system_pressure_bar")?.get(&source.setup)?;
            set(&source.setup, "system_pressure_bar", now + 0.4 * sign)?
        }
    };
    let fast = |setup: &Setup| Setup { conditions: setup.conditions.at_fast_idle(), ..*setup };
    let reads = |setup: &Setup, name: &str| {
        let reading = Reading::find(name)?;
        Some((reading, reading.value(point(setup).state()?)?))
    };
    let mut moves = Vec::new();
    for (words, before, after, name) in [
        ("lambda at idle", source.setup, after, "lambda"),
        ("lambda at 2500 rpm", fast(&source.setup), fast(&after), "lambda"),
        ("potentiometer at idle", source.setup, after, "potentiometer_v"),
    ] {
        let ((reading, was), (_, is)) = (reads(&before, name)?, reads(&after, name)?);
        moves.push(format!("{words} {} became {}", shown(reading, was), shown(reading, is)));
    }
    let whys = [
        "Only the voltage moved: fuel and air do not know of the housing.",
        "Off at idle, nearly right at speed: the screw adds lift, which is a share at idle only.",
        "Lean at idle with less air past the plate, so a lower voltage; at speed the same leak is a small share.",
        "Off as much at idle as at speed, and the plate stands at another height for its air.",
    ];
    Some(Question::choice(
        format!("Trim off. {}. One thing was changed since; which?", moves.join("; ")),
        &choices,
        at,
        whys[at].into(),
    ))
}

pub fn after_repair(source: &mut QuestionSource) -> Option<Question> {
    let bar = source.one_of(&[-0.3, -0.2, 0.2, 0.3]);
    let now = Key::find("system_pressure_bar")?.get(&source.setup)?;
    let there = set(&source.setup, "system_pressure_bar", now + bar)?;
    let aim = |setup: &Setup| SteadyEngine::new(&setup.rig, &setup.conditions).aim_turns();
    let (was, is) = (aim(&source.setup)?, aim(&there)?);
    if (is - was).abs() < 0.004 {
        return None;
    }
    Question::number(
        format!(
            "The screw stood at {} turn, duty 50 %. A new regulator holds {:.1} instead of {now:.1} bar. Where would the screw have to stand for a duty of 50 % again?",
            turns(was),
            now + bar
        ),
        "turns",
        (is, TOLERANCE_SHARE * (is - was).abs(), 3),
        format!(
            "{} turn at idle; but the fault shows at every load and the screw at idle only: set the pressure, not the screw.",
            turns(is)
        ),
    )
}
