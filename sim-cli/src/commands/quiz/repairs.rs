//! Questions on lesson 15: which repair calls for which setting.

use super::bench::{Bench, Draft, SHARE, point, shown};
use super::metering::set;
use crate::words::turns;
use sim_core::point::Reading;
use sim_core::rig::keys::{Key, Setup};
use sim_core::steady::Stand;

pub fn which_fault(bench: &mut Bench) -> Option<Draft> {
    let choices = [
        "the housing of the potentiometer was turned",
        "the screw was turned",
        "air leaks in past no plate",
        "the system pressure is off",
    ];
    let at = bench.one_of(&[0, 1, 2, 3]);
    let sign = bench.one_of(&[-1.0, 1.0]);
    let after = match at {
        0 => bench.with(|s| s.conditions.housing_shift_m = sign * 4e-4),
        1 => set(&bench.setup, "screw", sign * 0.0625)?,
        2 => set(&bench.setup, "leak_kg_h", 1.5)?,
        _ => {
            let now = Key::find("system_pressure_bar")?.get(&bench.setup)?;
            set(&bench.setup, "system_pressure_bar", now + 0.4 * sign)?
        }
    };
    let fast = |setup: &Setup| Setup { conditions: setup.conditions.at_fast_idle(), ..*setup };
    let reads = |setup: &Setup, name: &str| {
        let reading = Reading::find(name)?;
        Some((reading, reading.value(point(setup).state()?)?))
    };
    let mut told = Vec::new();
    for (words, before, after, name) in [
        ("lambda at idle", bench.setup, after, "lambda"),
        ("lambda at 2500 rpm", fast(&bench.setup), fast(&after), "lambda"),
        ("potentiometer at idle", bench.setup, after, "potentiometer_v"),
    ] {
        let ((reading, was), (_, is)) = (reads(&before, name)?, reads(&after, name)?);
        told.push(format!("{words} {} became {}", shown(reading, was), shown(reading, is)));
    }
    let whys = [
        "Only the voltage moved: fuel and air do not know of the housing.",
        "Off at idle, nearly right at speed: the screw adds lift, which is a share at idle only.",
        "Lean at idle with less air past the plate, so a lower voltage; at speed the same leak is a small share.",
        "Off as much at idle as at speed, and the plate stands at another height for its air.",
    ];
    Some(Draft::choice(
        format!("Trim off. {}. One thing was changed since; which?", told.join("; ")),
        &choices,
        at,
        whys[at].into(),
    ))
}

pub fn after_repair(bench: &mut Bench) -> Option<Draft> {
    let bar = bench.one_of(&[-0.3, -0.2, 0.2, 0.3]);
    let now = Key::find("system_pressure_bar")?.get(&bench.setup)?;
    let there = set(&bench.setup, "system_pressure_bar", now + bar)?;
    let aim = |setup: &Setup| Stand::new(&setup.rig, &setup.conditions).aim_turns();
    let (was, is) = (aim(&bench.setup)?, aim(&there)?);
    if (is - was).abs() < 0.004 {
        return None;
    }
    Draft::number(
        format!(
            "The screw stood at {} turn, duty 50 %. A new regulator holds {:.1} instead of {now:.1} bar. Where would the screw have to stand for a duty of 50 % again?",
            turns(was),
            now + bar
        ),
        "turns",
        (is, SHARE * (is - was).abs(), 3),
        format!(
            "{} turn at idle; but the fault shows at every load and the screw at idle only: set the pressure, not the screw.",
            turns(is)
        ),
    )
}
