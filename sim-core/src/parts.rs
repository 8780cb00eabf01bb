//! Which part that is off, or was renewed, does what; and which repair calls for a new
//! setting.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! let effects = sim_core::parts::effects(&setup).unwrap(); // the largest effect first
//! assert_eq!(effects.len(), sim_core::parts::PARTS.len());
//! ```

use crate::conditions::Trim;
use crate::flowstart::flow_start;
use crate::point::{Point, State};
use crate::relearn::averaged::wanted_a;
use crate::rig::Parts;
use crate::rig::keys::Setup;
use crate::run::stability::point_with_mode;
use crate::sense::faults::{
    Altitude, Coolant, ExhaustTemperature, Lambda, SensorFault, ThrottleSwitch,
};
use crate::steady::SteadyEngine;

/// A renewed part calls for a new setting if it moves the duty (share), the voltage (V) or
/// the static setting (turns) by more than this. Ours: half of what the trade calls a centred
/// duty, a fifth of the width of [`IDLE_BAND_V`], a quarter of a sixteenth of a turn.
///
/// [`IDLE_BAND_V`]: crate::sense::potentiometer::IDLE_BAND_V
pub const CALLS_FOR: (f64, f64, f64) = (0.05, 0.02, 1.0 / 64.0);
/// What counts as the same large effect of a part: lambda, duty (share), voltage (V), COV.
const WEIGHTS: (f64, f64, f64, f64) = (0.05, 0.25, 0.05, 0.05);

/// A part of the engine or its controller.
pub struct Part {
    /// Its name.
    pub name: &'static str,
    /// How far it is off in the first of two comparisons.
    pub change: &'static str,
    /// How a renewed one differs from the old.
    pub renewed_by: &'static str,
    off: fn(&mut Setup),
    renewed: fn(&mut Setup),
}

fn parts(setup: &mut Setup, change: impl FnOnce(&mut Parts)) {
    // A change that makes no rig leaves it as it was.
    if let Ok(rig) = setup.rig.with_parts_beyond_ranges(change) {
        setup.rig = rig;
    }
}

/// Every part, with how far it is off and how far a new one may differ: typical tolerances,
/// common practice, no source.
pub static PARTS: &[Part] = &[
    Part {
        name: "potentiometer",
        change: "housing 0.5 mm of plate off",
        renewed_by: "housing fitted 0.3 mm elsewhere",
        off: |s| s.conditions.housing_shift_m += 5e-4,
        renewed: |s| s.conditions.housing_shift_m += 3e-4,
    },
    Part {
        name: "plate-height",
        change: "rests 0.5 mm too high",
        renewed_by: "rest height set 0.2 mm elsewhere",
        off: |s| s.conditions.rest_height_m += 5e-4,
        renewed: |s| s.conditions.rest_height_m += 2e-4,
    },
    Part {
        name: "plunger",
        change: "slits 3 % wider",
        renewed_by: "edges 0.03 mm of plunger elsewhere",
        off: |s| {
            parts(s, |p| p.slits.width_m.iter_mut().for_each(|w| *w *= 1.03));
        },
        renewed: |s| {
            parts(s, |p| p.lever.zero_height_m -= 3e-5 / p.lever.plunger_per_plate());
        },
    },
    Part {
        name: "fuel-lines",
        change: "one line passes 15 % less",
        renewed_by: "one line passes 15 % less",
        off: |s| parts(s, |p| p.slits.width_m[0] *= 0.85),
        renewed: |s| parts(s, |p| p.slits.width_m[0] *= 0.85),
    },
    Part {
        name: "air-leak",
        change: "1 kg/h after the throttle",
        renewed_by: "sealed: as tight as it was",
        off: |s| s.conditions.leak_kg_s += 1.0 / 3600.0,
        renewed: |_| {},
    },
    Part {
        name: "actuator",
        change: "10 % less pressure for each mA",
        renewed_by: "2 % less pressure for each mA",
        off: |s| parts(s, |p| p.pressures.actuator_per_amp_pa *= 0.9),
        renewed: |s| parts(s, |p| p.pressures.actuator_per_amp_pa *= 0.98),
    },
    Part {
        name: "pressure-regulator",
        change: "0.4 bar too low",
        renewed_by: "0.05 bar elsewhere",
        off: |s| parts(s, |p| p.pressures.system_pa -= 0.4e5),
        renewed: |s| parts(s, |p| p.pressures.system_pa -= 0.05e5),
    },
    Part {
        name: "coolant",
        change: "circuit open",
        renewed_by: "5 % more resistance",
        off: |s| s.conditions.fail(SensorFault::Coolant(Coolant::Open)),
        renewed: |s| {
            let ohm = 1.05 * s.rig.parts().thermistor.ohm(s.conditions.coolant_k);
            s.conditions.fail(SensorFault::Coolant(Coolant::Ohm(ohm)));
        },
    },
    Part {
        name: "lambda",
        change: "dead",
        renewed_by: "another of its kind",
        off: |s| s.conditions.fail(SensorFault::Lambda(Lambda::Dead)),
        renewed: |s| parts(s, |p| p.dynamics.sensor_lag_s *= 0.8),
    },
    Part {
        name: "exhaust-temperature",
        change: "missing",
        renewed_by: "another of its kind",
        off: |s| s.conditions.fail(SensorFault::ExhaustTemperature(ExhaustTemperature::Missing)),
        renewed: |_| {},
    },
    Part {
        name: "altitude",
        change: "stuck at 1500 m",
        renewed_by: "another of its kind",
        off: |s| s.conditions.fail(SensorFault::Altitude(Altitude::Stuck)),
        renewed: |_| {},
    },
    Part {
        name: "throttle-switch",
        change: "idle contact never closes",
        renewed_by: "another of its kind",
        off: |s| s.conditions.fail(SensorFault::ThrottleSwitch(ThrottleSwitch::NoIdle)),
        renewed: |_| {},
    },
    Part {
        name: "idle-air-valve",
        change: "a third of its gap",
        renewed_by: "gap 5 % smaller",
        off: |s| parts(s, |p| p.idle_valve.gap_m /= 3.0),
        renewed: |s| parts(s, |p| p.idle_valve.gap_m *= 0.95),
    },
];

/// What a part does.
#[must_use]
pub struct Effect {
    /// The part.
    pub part: &'static Part,
    /// The engine with the part off.
    pub off: Point,
    /// The same with the trim off.
    pub off_untrimmed: Point,
    /// How much the stored cells would have to change for it (A), at the idle's centre.
    pub cell_a: Option<f64>,
    /// By how much a renewed part moves duty (share), voltage (V) and static setting (turns).
    pub renewed: (f64, f64, f64),
    /// Whether a renewed part calls for a new setting.
    pub new_setting_needed: bool,
    /// Where the engine was set with the part off, and the part is then mended: by how much duty
    /// (share) and voltage (V) lie beside what was set, and the screw (turns) beside where it
    /// belongs. `None` if the engine cannot be set with the part off.
    pub set_with_it: Option<(f64, f64, f64)>,
    /// How large its effect is, for the order.
    size: f64,
}

/// What each part does to the engine of a setup, the worst first. `None` if the engine does
/// not run to begin with.
pub fn effects(setup: &Setup) -> Option<Vec<Effect>> {
    let before = *settled(setup).state()?;
    let static_before = flow_start(setup, 0.25).map(|found| found.setting_turns);
    let cell_before = wanted_a(setup)[0];
    let mut effects: Vec<Effect> = PARTS
        .iter()
        .map(|part| {
            let mut off = *setup;
            (part.off)(&mut off);
            let mut untrimmed = off;
            untrimmed.conditions.trim = Trim::Off;
            let mut renewed = *setup;
            (part.renewed)(&mut renewed);
            let moved = moved(&before, static_before, &renewed);
            let point = settled(&off);
            Effect {
                part,
                size: size(&before, &point),
                off: point,
                off_untrimmed: settled(&untrimmed),
                cell_a: cell_before.zip(wanted_a(&off)[0]).map(|(a, b)| b - a),
                renewed: moved,
                new_setting_needed: calls_for_a_setting(moved),
                set_with_it: set_with_it(setup, &off),
            }
        })
        .collect();
    effects.sort_by(|a, b| b.size.total_cmp(&a.size));
    Some(effects)
}

/// What is to be done about a part that is off.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Repair {
    /// Mend it and touch nothing: the old setting comes back with it.
    KeepTheSetting,
    /// Mend it; if the engine was set while it was off, set it anew, else touch nothing.
    SetAnewIfSetWithIt,
    /// Mend it and set the engine anew: a new part differs by more than a setting bears.
    SetAnew,
}

impl Repair {
    /// It in words.
    pub fn word(self) -> &'static str {
        match self {
            Repair::KeepTheSetting => "keep",
            Repair::SetAnewIfSetWithIt => "set anew if it was set with the fault",
            Repair::SetAnew => "set anew",
        }
    }
}

impl Effect {
    /// What is to be done.
    pub fn repair(&self) -> Repair {
        if self.new_setting_needed {
            Repair::SetAnew
        } else if self.set_with_it.is_none_or(calls_for_a_setting) {
            Repair::SetAnewIfSetWithIt
        } else {
            Repair::KeepTheSetting
        }
    }
}

/// Whether so much of duty (share), voltage (V) and screw (turns) calls for a new setting.
fn calls_for_a_setting((duty, volts, turns): (f64, f64, f64)) -> bool {
    duty.abs() > CALLS_FOR.0 || volts.abs() > CALLS_FOR.1 || turns.abs() > CALLS_FOR.2
}

/// Sets the engine while a part is off (screw to a centred duty, housing to the voltage of the
/// right setting), then mends the part and reads what is left.
fn set_with_it(sound: &Setup, off: &Setup) -> Option<(f64, f64, f64)> {
    let aim = |setup: &Setup| SteadyEngine::new(&setup.rig, &setup.conditions).aim_turns();
    let at = |setup: &Setup, screw_turns: f64, housing_m: f64| {
        let mut conditions = setup.conditions;
        conditions.housing_shift_m += housing_m;
        SteadyEngine::new(&setup.rig, &conditions).point(screw_turns).state().copied()
    };
    let (right, wrong) = (aim(sound)?, aim(off)?);
    let set = at(sound, right, 0.0)?;
    let shown = at(off, wrong, 0.0)?;
    // Turned until the engine with the fault shows what the right setting does.
    let track = &sound.rig.parts().potentiometer;
    let housing_m = track.height_m(set.potentiometer_v) - track.height_m(shown.potentiometer_v);
    let mut mended = *sound;
    mended.conditions.trim = Trim::On;
    let left = at(&mended, wrong, housing_m)?;
    Some((left.duty - 0.5, left.potentiometer_v - set.potentiometer_v, wrong - right))
}

fn settled(setup: &Setup) -> Point {
    let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
    point_with_mode(&steady, setup.conditions.screw_turns)
}

/// How far a renewed part moves duty, voltage and static setting.
fn moved(before: &State, static_before: Option<f64>, renewed: &Setup) -> (f64, f64, f64) {
    let point = settled(renewed);
    let Some(after) = point.state() else { return (f64::INFINITY, f64::INFINITY, f64::INFINITY) };
    let setting = flow_start(renewed, 0.25).map(|found| found.setting_turns);
    let turns = static_before.zip(setting).map_or(0.0, |(a, b)| b - a);
    (after.duty - before.duty, after.potentiometer_v - before.potentiometer_v, turns)
}

/// How large an effect is: the largest of its shares in what counts as large; an engine that
/// no longer runs is the largest.
fn size(before: &State, off: &Point) -> f64 {
    let Some(after) = off.state() else { return f64::INFINITY };
    let (lambda, duty, volts, cov) = WEIGHTS;
    let speed = (after.speed_rad_s / before.speed_rad_s - 1.0).abs() / 0.1;
    ((after.lambda - before.lambda).abs() / lambda)
        .max((after.duty - before.duty).abs() / duty)
        .max((after.potentiometer_v - before.potentiometer_v).abs() / volts)
        .max((after.cov - before.cov).abs() / cov)
        .max(speed)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conditions::Conditions;
    use crate::point::Outcome;
    use crate::rig::shipped::shipped;

    /// An effect is as large as the largest of its parts, up or down alike and in proportion;
    /// nothing that moves is none, and no engine any more the largest.
    #[test]
    fn an_effect_is_as_large_as_its_largest_part_whichever_way_it_goes() {
        let rig = shipped("six").unwrap().rig;
        let setup = Setup { rig, conditions: Conditions::closed_loop() };
        let point = settled(&setup);
        let before = *point.state().unwrap();
        let with = |change: &dyn Fn(&mut State)| {
            let mut off = settled(&setup);
            let Outcome::Running(state) = &mut off.outcome else { unreachable!() };
            change(state);
            size(&before, &off)
        };
        assert_eq!(with(&|_| ()), 0.0);
        // Steps of which each counts for something.
        let moves: [fn(&mut State, f64); 5] = [
            |state, by| state.lambda += 0.01 * by,
            |state, by| state.duty += 0.01 * by,
            |state, by| state.potentiometer_v += 0.01 * by,
            |state, by| state.cov += 0.01 * by,
            |state, by| state.speed_rad_s *= 1.0 + 0.01 * by,
        ];
        for change in moves {
            let by = |by: f64| with(&|state| change(state, by));
            assert!(by(1.0) > 0.0);
            assert!((by(-1.0) / by(1.0) - 1.0).abs() < 1e-9, "{} and {}", by(-1.0), by(1.0));
            assert!((by(3.0) / by(1.0) - 3.0).abs() < 1e-9, "{} and {}", by(3.0), by(1.0));
        }
        // A tenth of the speed is as large as what counts as large.
        assert!((with(&|state| state.speed_rad_s *= 0.9) - 1.0).abs() < 1e-9);
        let both = with(&|state| moves.iter().for_each(|change| change(state, 1.0)));
        let most = moves.iter().map(|change| with(&|state| change(state, 1.0))).fold(0.0, f64::max);
        assert_eq!(both, most);
        let mut dead = setup;
        dead.conditions.screw_turns = -0.6;
        assert_eq!(size(&before, &settled(&dead)), f64::INFINITY);
    }
}
