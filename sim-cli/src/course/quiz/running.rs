//! Numbers of the questions on lessons 8 to 14: waits, air valve, altitude, starts, relearning,
//! meters, wear.

use super::question::{Drawn, QuestionSource, numbers, set, state, trim_on};
use sim_core::ageing::Fleet;
use sim_core::conditions::Conditions;
use sim_core::drive::{Drive, engine_demand};
use sim_core::point::READINGS;
use sim_core::relearn::{first_cells, relearn};
use sim_core::rig::keys::Setup;
use sim_core::run::Options;
use sim_core::run::procedure::{Action, Procedure, Step};
use sim_core::run::record::{Record, perform};
use sim_core::run::start::{flows_at_rest, start};
use sim_core::run::valves::{PHASES, Release, release};
use sim_core::sense::meter::{Meter, Needle, loaded_v};
use sim_core::sense::wear::TRACK;
use sim_core::units::{Unit, ZERO_CELSIUS_K};

/// The screw is moved after 10 s, the loop closed; then it is waited.
fn after_a_turn(setup: &Setup, screw: f64) -> Option<Record> {
    let procedure = Procedure {
        name: "question".into(),
        about: String::new(),
        lasts_s: 70.0,
        noise: false,
        pulsation: 0.0,
        steps: vec![Step { at_s: 10.0, action: Action::Turn(screw) }],
    };
    perform(&trim_on(setup), &procedure, Options::default(), 10, |_| {}).ok()
}

fn settling_time_s(record: &Record, name: &str) -> Option<f64> {
    let at = READINGS.iter().position(|reading| reading.name == name)?;
    *record.settled_after_s.get(at)?
}

/// Turns of the screw outwards that are asked about.
const OUT: [f64; 4] = [-0.0390625, -0.03125, -0.0234375, -0.015625];

pub fn climb_time(source: &mut QuestionSource) -> Option<Drawn> {
    let screw = source.one_of(&OUT);
    let before = trim_on(&source.setup);
    let (was, is) = (state(&before)?, state(&set(&before, "screw", screw)?)?);
    let [was_ma, is_ma] = [was, is].map(|state| Unit::Milliampere.from_si(state.actuator_a));
    let slope = 1e3 * source.setup.rig.parts().gains.trim_slope_a_s;
    let (by, takes) = (is_ma - was_ma, (is_ma - was_ma) / slope);
    // At its limit it no longer climbs to what is wanted.
    if !(0.03..0.97).contains(&is.duty) || takes < 0.5 {
        return None;
    }
    let numbers = numbers![screw, was_ma, is_ma, by, slope, takes];
    Some(Drawn::number(takes, 0.1 * takes, numbers))
}

pub fn swing(source: &mut QuestionSource) -> Option<Drawn> {
    let late = source.stepped(0.1, 0.6, 0.05);
    let slope = 1e3 * source.setup.rig.parts().gains.trim_slope_a_s;
    let (takes, either_way) = (4.0 * late, slope * late);
    Some(Drawn::number(takes, 0.1 * takes, numbers![slope, late, takes, either_way]))
}

pub fn first_to_settle(source: &mut QuestionSource) -> Option<Drawn> {
    let screw = source.one_of(&OUT);
    let record = after_a_turn(&source.setup, screw)?;
    let waits = [
        settling_time_s(&record, "duty_percent")?,
        settling_time_s(&record, "potentiometer_v")?,
        settling_time_s(&record, "speed_rpm")?,
    ];
    let first = (0..waits.len()).min_by(|a, b| waits[*a].total_cmp(&waits[*b]))?;
    let others = (0..waits.len()).filter(|i| *i != first).map(|i| waits[i]);
    if others.fold(f64::INFINITY, f64::min) - waits[first] < 4.0 {
        return None;
    }
    let [duty, potentiometer, speed] = waits;
    Some(Drawn::choice(first, numbers![screw, duty, potentiometer, speed]))
}

pub fn gap(source: &mut QuestionSource) -> Option<Drawn> {
    let fitted = 1e3 * source.setup.rig.parts().idle_valve.gap_m;
    let share = source.one_of(&[0.15, 0.2, 0.25, 0.35, 0.5, 0.8]);
    let mm = (fitted * share * 100.0).round() / 100.0;
    let from = Unit::Rpm.to_si(3000.0);
    let released = |mm: f64| release(&source.setup, 1e-3 * mm, from, PHASES[0]).ok();
    let outcome = |found: &Release| match (&found.no_idle, found.stalled_after_s) {
        (Some(_), _) => 2,
        (None, Some(_)) => 1,
        (None, None) => 0,
    };
    let found = released(mm)?;
    let stalls = |found: &Release| (outcome(found) == 2, found.stalled_after_s.is_some());
    // Near the threshold nobody could tell.
    if stalls(&released(0.8 * mm)?) != stalls(&found)
        || stalls(&released(1.25 * mm)?) != stalls(&found)
    {
        return None;
    }
    let rpm = Unit::Rpm.from_si(found.lowest_rad_s);
    let stalls_s = found.stalled_after_s.unwrap_or_default();
    Some(Drawn::choice(outcome(&found), numbers![fitted, mm, rpm, stalls_s]))
}

pub fn climb_limit(source: &mut QuestionSource) -> Option<Drawn> {
    let metres = source.stepped(500.0, 4000.0, 250.0);
    let found = state(&set(&trim_on(&source.setup), "altitude_m", metres)?)?;
    let duty = 100.0 * found.duty;
    let at_limit = !(0.5..99.5).contains(&duty);
    // Too near to the limit to be asked fairly.
    if !at_limit && !(6.0..94.0).contains(&duty) {
        return None;
    }
    let numbers = numbers![metres, duty, lambda = found.lambda];
    Some(Drawn::choice(usize::from(at_limit), numbers))
}

pub fn cold_start(source: &mut QuestionSource) -> Option<Drawn> {
    let degc = source.stepped(-20.0, 15.0, 5.0);
    let screw = source.one_of(&[-0.15, -0.1, -0.05, 0.0, 0.05, 0.1, 0.15]);
    let mut setup = Setup { rig: source.setup.rig, conditions: Conditions::closed_loop() };
    let kelvin = degc + ZERO_CELSIUS_K;
    let conditions = &mut setup.conditions;
    (conditions.ambient_k, conditions.coolant_k, conditions.fuel_k) = (kelvin, kelvin, kelvin);
    conditions.screw_turns = screw;
    if flows_at_rest(&setup) {
        return None;
    }
    let found = start(&setup, Options::default(), 10.0, 20.0).ok()?;
    let (at, catches_s) = match (&found.reason, found.caught_after_s) {
        (None, Some(s)) => (usize::from(s > 4.0), s),
        _ => (if found.rich() { 3 } else { 2 }, 0.0),
    };
    let words = found.reason.as_ref().map(ToString::to_string).unwrap_or_default();
    Some(Drawn::choice(at, numbers![degc, screw, catches_s]).with("words", words))
}

pub fn thermistor(source: &mut QuestionSource) -> Option<Drawn> {
    let degc = source.stepped(-20.0, 90.0, 5.0);
    // Not what the question tells.
    if [-20.0, 20.0, 50.0, 90.0].contains(&degc) {
        return None;
    }
    let part = source.setup.rig.parts().thermistor;
    let [frost, cool, warm, hot, ohm] =
        [-20.0, 20.0, 50.0, 90.0, degc].map(|degc| part.ohm(degc + ZERO_CELSIUS_K));
    Some(Drawn::number(degc, 4.0, numbers![frost, cool, warm, hot, ohm, degc]))
}

pub fn wanted_cell(source: &mut QuestionSource) -> Option<Drawn> {
    let screw = source.one_of(&[-0.0234375, -0.015625, 0.0078125, 0.015625]);
    let duty = state(&set(&trim_on(&source.setup), "screw", screw)?)?.duty;
    let most_a = source.setup.rig.parts().controller.authority_a;
    let held = Unit::Milliampere.from_si((2.0 * duty - 1.0) * most_a);
    // At its limit the duty no longer tells what is wanted.
    if !(0.03..0.97).contains(&duty) {
        return None;
    }
    let (most, duty) = (Unit::Milliampere.from_si(most_a), 100.0 * duty);
    let numbers = numbers![screw, duty, most, off = duty - 50.0, held];
    Some(Drawn::number(held, (0.1 * held.abs()).max(0.2), numbers))
}

pub fn relearning(source: &mut QuestionSource) -> Option<Drawn> {
    let screw = source.one_of(&[-0.015625, -0.0078125, 0.0, 0.0078125, 0.015625]);
    let mut setup = Setup { rig: source.setup.rig, conditions: Conditions::closed_loop() };
    setup.conditions.screw_turns = screw;
    let drives = engine_demand(&setup, &Drive::urban(1170.0));
    let cells = first_cells(&setup, false, &drives);
    let first = Unit::Milliampere.from_si(cells.step_a());
    let found = relearn(&setup, cells, &drives, (60, false), Options::default(), |_| {}).ok()?;
    let settled = found.settled_at? as f64;
    let tolerance = (0.3 * settled).max(1.0);
    Some(Drawn::number(settled, tolerance, numbers![screw, first, settled]))
}

pub fn loaded(source: &mut QuestionSource) -> Option<Drawn> {
    let range = source.one_of(&[2.5, 5.0, 10.0]);
    let per_v = source.one_of(&[2000.0, 5000.0, 10_000.0, 20_000.0]);
    let open = state(&source.setup)?.potentiometer_v;
    let source = source.setup.rig.parts().potentiometer.source_ohm(open, 0.0);
    let reads = loaded_v(open, source, per_v * range);
    let numbers = numbers![open, source, per_v, range, meter = 1e-3 * per_v * range, reads];
    Some(Drawn::number(1e3 * (open - reads), (0.1e3 * (open - reads)).max(0.1), numbers))
}

pub fn stated_error(source: &mut QuestionSource) -> Option<Drawn> {
    let range = source.one_of(&[1.0, 2.5, 5.0, 10.0]);
    let class = source.one_of(&[1.0, 1.5, 2.5]);
    let open = state(&source.setup)?.potentiometer_v;
    let needle = Meter::Needle(Needle::new(0.01 * class, range, 20_000.0));
    let error = 1e3 * needle.stated_error_v(open);
    Some(Drawn::number(error, 0.05 * error, numbers![class, range, open]))
}

pub fn pit(source: &mut QuestionSource) -> Option<Drawn> {
    let (hours, known) = (source.stepped(400.0, 2000.0, 100.0), 300.0);
    let (pace, half) = (source.stepped(20.0, 60.0, 5.0), 6e-5);
    let lost = |hours: f64| 1e3 * TRACK.lost_v(hours * pace, half);
    let numbers = numbers![pace, known, lost = lost(known), hours];
    Some(Drawn::number(lost(hours), 0.05 * lost(hours), numbers))
}

pub fn changed_parts(source: &mut QuestionSource) -> Option<Drawn> {
    let median_years = source.stepped(6.0, 14.0, 1.0);
    let every = source.one_of(&[3.0, 4.0, 5.0]);
    let fleet = Fleet { parts: 1, hours_a_year: 1.0, median_h: median_years, spread: 0.5, seed: 1 };
    let never = fleet.share_without_change(every);
    let share = fleet.expected_share(3.0 * every, Some(every));
    let (bad, spared) = (100.0 * never, 100.0 * (1.0 - never));
    let numbers = numbers![bad, every, last = 3.0 * every, spared];
    Some(Drawn::number(100.0 * share, (5.0 * share).max(0.5), numbers))
}
