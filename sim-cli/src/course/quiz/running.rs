//! Questions on lessons 8 to 14: waits, air valve, altitude, starts, relearning, meters, wear.

use super::question::{Question, QuestionSource, ask_reading, set, state, trim_on};
use crate::text::{plain, turns, turns_typed};
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

/// What is waited for.
const WAITS: [(&str, &str); 3] = [
    ("the duty", "duty_percent"),
    ("the potentiometer", "potentiometer_v"),
    ("the idle air valve", "idle_valve_percent"),
];

pub fn climb_time(source: &mut QuestionSource) -> Option<Question> {
    let screw = source.one_of(&[-0.0390625, -0.03125, -0.0234375, -0.015625]);
    let before = trim_on(&source.setup);
    let after = set(&before, "screw", screw)?;
    let ma = |setup: &Setup| Some(Unit::Milliampere.from_si(state(setup)?.actuator_a));
    let (was, is) = (ma(&before)?, ma(&after)?);
    let slope = 1e3 * source.setup.rig.parts().gains.trim_slope_a_s;
    let takes = (is - was) / slope;
    // At its limit it no longer climbs to what is wanted.
    if !(0.03..0.97).contains(&state(&after)?.duty) || takes < 0.5 {
        return None;
    }
    Question::number(
        format!(
            "Trim on. The screw is moved {} turn out; the actuator's current has to go from {was:.1} to {is:.1} mA, and the two-point trim climbs {} mA a second. How long at least until the duty stands at its new value?",
            turns_typed(screw.abs()),
            plain(slope)
        ),
        "s",
        (takes, 0.1 * takes, 1),
        format!(
            "{:.1} mA at {} mA a second are {takes:.1} s; transport, film and sensor come on top, and the speed control takes longer still.",
            is - was,
            plain(slope)
        ),
    )
}

pub fn swing(source: &mut QuestionSource) -> Option<Question> {
    let late = source.stepped(0.1, 0.6, 0.05);
    let slope = 1e3 * source.setup.rig.parts().gains.trim_slope_a_s;
    let takes = 4.0 * late;
    Question::number(
        format!(
            "A two-point trim only climbs and falls, {} mA a second; the sensor tells of the mixture {} s late. How long does one whole swing of the trim take?",
            plain(slope),
            plain(late)
        ),
        "s",
        (takes, 0.1 * takes, 2),
        format!(
            "It goes on for {} s too far, comes back as long, and the same on the other side: four times the delay, {takes:.2} s, at any slope; the slope tells how far, {:.2} mA either way.",
            plain(late),
            slope * late
        ),
    )
}

pub fn first_to_settle(source: &mut QuestionSource) -> Option<Question> {
    let screw = source.one_of(&[-0.0390625, -0.03125, -0.0234375, -0.015625]);
    let record = after_a_turn(&source.setup, screw)?;
    let waits: Option<Vec<f64>> =
        WAITS.iter().map(|(_, name)| settling_time_s(&record, name)).collect();
    let waits = waits?;
    let first = (0..WAITS.len()).min_by(|a, b| waits[*a].total_cmp(&waits[*b]))?;
    let second =
        (0..WAITS.len()).filter(|i| *i != first).map(|i| waits[i]).fold(f64::INFINITY, f64::min);
    if second - waits[first] < 4.0 {
        return None;
    }
    let lines: Vec<String> =
        WAITS.iter().zip(&waits).map(|((word, _), s)| format!("{word} {s:.1} s")).collect();
    Some(Question::choice(
        format!(
            "Trim on. The screw is moved {} turn out. Which of these is the first to stay at its new value?",
            turns_typed(screw.abs())
        ),
        &WAITS.map(|(word, _)| word),
        first,
        format!("{}.", lines.join(", ")),
    ))
}

pub fn gap(source: &mut QuestionSource) -> Option<Question> {
    let fitted = 1e3 * source.setup.rig.parts().idle_valve.gap_m;
    let share = source.one_of(&[0.15, 0.2, 0.25, 0.35, 0.5, 0.8]);
    let mm = (fitted * share * 100.0).round() / 100.0;
    let from = Unit::Rpm.to_si(3000.0);
    let released = |mm: f64| release(&source.setup, 1e-3 * mm, from, PHASES[0]).ok();
    let outcome = |found: &Release| (found.no_idle.is_some(), found.stalled_after_s.is_some());
    let found = released(mm)?;
    // Near the threshold nobody could tell.
    if outcome(&released(0.8 * mm)?) != outcome(&found)
        || outcome(&released(1.25 * mm)?) != outcome(&found)
    {
        return None;
    }
    let rpm = Unit::Rpm.from_si(found.lowest_rad_s);
    let (at, outcome) = match (&found.no_idle, found.stalled_after_s) {
        (Some(_), _) => (2, "it does not even idle on it".to_string()),
        (None, Some(s)) => (
            1,
            format!(
                "it stalls {s:.1} s after: the manifold refills faster than the valve lets air in, and the mixture drowns"
            ),
        ),
        (None, None) => (0, format!("it falls to {rpm:.0} rpm and recovers")),
    };
    Some(Question::choice(
        format!(
            "The idle air valve's gap is {fitted:.2} mm as it should be. One of {mm:.2} mm is fitted, and the pedal let go from 3000 rpm without load. The engine"
        ),
        &["is caught", "is lost after the release", "does not even idle"],
        at,
        format!("With {mm:.2} mm {outcome}."),
    ))
}

pub fn held_open(source: &mut QuestionSource) -> Option<Question> {
    let mm = source.stepped(0.1, 0.5, 0.05);
    let after = source.with(|setup| setup.conditions.linkage_play_m = -1e-3 * mm);
    ask_reading(
        &format!(
            "Trim off, idle at {{was}}. The throttle linkage has no play and holds the lever {} mm off its stop: the idle switch is open, and the idle air valve stays where it was. What is the speed now?",
            plain(mm)
        ),
        "speed_rpm",
        (&source.setup, &after),
        15.0,
    )
}

pub fn climb_duty(source: &mut QuestionSource) -> Option<Question> {
    let metres = source.stepped(250.0, 2000.0, 250.0);
    let before = trim_on(&source.setup);
    let after = set(&before, "altitude_m", metres)?;
    ask_reading(
        &format!(
            "Trim on, no altitude correction. The duty is {{was}} by the sea. What is it at {metres} m?"
        ),
        "duty_percent",
        (&before, &after),
        4.0,
    )
}

pub fn climb_limit(source: &mut QuestionSource) -> Option<Question> {
    let metres = source.stepped(500.0, 4000.0, 250.0);
    let after = set(&trim_on(&source.setup), "altitude_m", metres)?;
    let found = state(&after)?;
    let (lambda, duty) = (found.lambda, 100.0 * found.duty);
    let at_limit = !(0.5..99.5).contains(&duty);
    // Too near to the limit to be asked fairly.
    if !at_limit && !(6.0..94.0).contains(&duty) {
        return None;
    }
    Some(Question::choice(
        format!(
            "Trim on, no altitude correction, {metres} m up. Can the trim still hold lambda 1?"
        ),
        &["yes, it has room", "no, it stands at its limit"],
        usize::from(at_limit),
        format!("Duty {duty:.0} %, lambda {lambda:.2}."),
    ))
}

pub fn cold_start(source: &mut QuestionSource) -> Option<Question> {
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
    let (at, why) = match (&found.reason, found.caught_after_s) {
        (None, Some(s)) if s <= 4.0 => (0, format!("it catches after {s:.1} s")),
        (None, Some(s)) => (1, format!("it catches only after {s:.1} s")),
        (reason, _) => {
            let why = reason.as_ref().map(ToString::to_string).unwrap_or_default();
            (if found.rich() { 3 } else { 2 }, why)
        }
    };
    Some(Question::choice(
        format!(
            "The engine has stood the night at {degc} degC, the screw at {} turn. The key is turned. It",
            turns(screw)
        ),
        &[
            "starts within 4 s",
            "starts later",
            "does not start, too lean",
            "does not start, too rich",
        ],
        at,
        format!("At {degc} degC and {} turn: {why}.", turns(screw)),
    ))
}

pub fn thermistor(source: &mut QuestionSource) -> Option<Question> {
    let degc = source.stepped(-20.0, 90.0, 5.0);
    // Not what the question tells.
    if [-20.0, 20.0, 50.0, 90.0].contains(&degc) {
        return None;
    }
    let part = source.setup.rig.parts().thermistor;
    let at = |degc: f64| part.ohm(degc + ZERO_CELSIUS_K);
    Question::number(
        format!(
            "The coolant sensor has {:.0} ohm at -20 degC, {:.0} ohm at 20 degC, {:.0} ohm at 50 degC and {:.0} ohm at 90 degC. It is measured at {:.0} ohm. For how warm does the controller take the engine?",
            at(-20.0),
            at(20.0),
            at(50.0),
            at(90.0),
            at(degc)
        ),
        "degC",
        (degc, 4.0, 0),
        format!(
            "{:.0} ohm is {degc} degC: the logarithm of the resistance falls almost evenly.",
            at(degc)
        ),
    )
}

pub fn wanted_cell(source: &mut QuestionSource) -> Option<Question> {
    let screw = source.one_of(&[-0.0234375, -0.015625, 0.0078125, 0.015625]);
    let before = trim_on(&source.setup);
    let after = set(&before, "screw", screw)?;
    let duty = state(&after)?.duty;
    let most = source.setup.rig.parts().controller.authority_a;
    let held = Unit::Milliampere.from_si((2.0 * duty - 1.0) * most);
    // At its limit the duty no longer tells what is wanted.
    if !(0.03..0.97).contains(&duty) {
        return None;
    }
    Question::number(
        format!(
            "After a reset the idle cell is empty; with the screw at {} turn the duty swings about {:.1} %. No trim is 50 %, and at 100 % the trim adds {} mA. What must the idle cell learn to hold, so that the duty swings about 50 % again?",
            turns(screw),
            100.0 * duty,
            plain(Unit::Milliampere.from_si(most))
        ),
        "mA",
        (held, (0.1 * held.abs()).max(0.2), 1),
        format!(
            "{:+.1} % of duty from the middle stand for {held:+.1} mA: learning takes over what the trim holds, and the trim goes back to its middle.",
            100.0 * duty - 50.0
        ),
    )
}

pub fn relearning(source: &mut QuestionSource) -> Option<Question> {
    let screw = source.one_of(&[-0.015625, -0.0078125, 0.0, 0.0078125, 0.015625]);
    let mut setup = Setup { rig: source.setup.rig, conditions: Conditions::closed_loop() };
    setup.conditions.screw_turns = screw;
    let drives = engine_demand(&setup, &Drive::urban(1170.0));
    let cells = first_cells(&setup, false, &drives);
    let first = Unit::Milliampere.from_si(cells.step_a());
    let found = relearn(&setup, cells, &drives, (60, false), Options::default(), |_| {}).ok()?;
    let settled = found.settled_at? as f64;
    Question::number(
        format!(
            "The memory is cleared, the screw stands at {} turn, and every drive is twenty minutes of town. A cell learns at key-off, by {first:.0} mA at most the first time and by less each time after, and holds no more than its limit. After how many drives do the cells stand?",
            turns(screw)
        ),
        "drives",
        (settled, (0.3 * settled).max(1.0), 0),
        format!("From drive {settled} on they no longer move."),
    )
}

pub fn loaded(source: &mut QuestionSource) -> Option<Question> {
    let range = source.one_of(&[2.5, 5.0, 10.0]);
    let per_v = source.one_of(&[2000.0, 5000.0, 10_000.0, 20_000.0]);
    let found = state(&source.setup)?;
    let open = found.potentiometer_v;
    let source = source.setup.rig.parts().potentiometer.source_ohm(open, 0.0);
    let reads = loaded_v(open, source, per_v * range);
    Question::number(
        format!(
            "The wiper stands at {open:.3} V with {source:.0} ohm behind it. A needle of {per_v} ohm/V is put on it, range {range} V. By how many mV does its load pull the voltage down?"
        ),
        "mV",
        (1e3 * (open - reads), (0.1e3 * (open - reads)).max(0.1), 1),
        format!(
            "{:.0} kohm over {source:.0} ohm is a divider: {reads:.4} V is left.",
            1e-3 * per_v * range
        ),
    )
}

pub fn stated_error(source: &mut QuestionSource) -> Option<Question> {
    let range = source.one_of(&[1.0, 2.5, 5.0, 10.0]);
    let class = source.one_of(&[1.0, 1.5, 2.5]);
    let open = state(&source.setup)?.potentiometer_v;
    let error =
        1e3 * Meter::Needle(Needle::new(0.01 * class, range, 20_000.0)).stated_error_v(open);
    Question::number(
        format!("A needle of class {class}, range {range} V, reads {open:.2} V. How far off may it be, either way?"),
        "mV",
        (error, 0.05 * error, 1),
        "The class is a share of full scale, wherever the needle stands. A shorter range errs less by its class, but at the same ohm per volt it loads the track more.".into(),
    )
}

pub fn pit(source: &mut QuestionSource) -> Option<Question> {
    let (hours, known) = (source.stepped(400.0, 2000.0, 100.0), 300.0);
    let (pace, half) = (source.stepped(20.0, 60.0, 5.0), 6e-5);
    let lost = |hours: f64| 1e3 * TRACK.lost_v(hours * pace, half);
    Question::number(
        format!(
            "A wiper rubs {pace} m an hour about one place at idle; after {known} h the track there loses {:.0} mV. How much after {hours} h of idling at the same place?",
            lost(known)
        ),
        "mV",
        (lost(hours), 0.05 * lost(hours), 0),
        "Wear goes with the distance rubbed (Archard), and a place as wide gets as much deeper."
            .into(),
    )
}

pub fn changed_parts(source: &mut QuestionSource) -> Option<Question> {
    let median_years = source.stepped(6.0, 14.0, 1.0);
    let every = source.one_of(&[3.0, 4.0, 5.0]);
    let fleet = Fleet { parts: 1, hours_a_year: 1.0, median_h: median_years, spread: 0.5, seed: 1 };
    let (never, share) =
        (fleet.share_without_change(every), fleet.expected_share(3.0 * every, Some(every)));
    Question::number(
        format!(
            "Of parts never changed {:.1} % have gone bad within {every} years. All cars get a new one every {every} years. What share has had a bad idle by year {}?",
            100.0 * never,
            3.0 * every
        ),
        "%",
        (100.0 * share, (5.0 * share).max(0.5), 1),
        format!(
            "Three parts, each spared with {:.1} %: the chances multiply.",
            100.0 * (1.0 - never)
        ),
    )
}
