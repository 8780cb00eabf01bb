//! Questions on lessons 1 to 7: faults, plate, plunger, flow start, edges, duty, voltage.

use super::question::{
    Question, QuestionSource, TOLERANCE_SHARE, ask_direction, ask_reading, point, set, state,
    trim_on,
};
use crate::text::{plain, turns, turns_typed};
use sim_core::air::atmosphere::{density_kg_m3, standard_pressure_pa};
use sim_core::engine::exhaust::gas_of;
use sim_core::flowstart::flow_start;
use sim_core::rig::keys::Key;
use sim_core::steady::SteadyEngine;
use sim_core::sweep::edges;
use sim_core::units::Unit;

const MIXTURE: [&str; 3] = ["leaner", "richer", "the same"];
const DIRECTIONS: [&str; 3] = ["rises", "falls", "stays"];

pub fn leak(source: &mut QuestionSource) -> Option<Question> {
    let kg_h = source.stepped(0.5, 2.5, 0.25);
    let after = set(&source.setup, "leak_kg_h", kg_h)?;
    ask_reading(
        &format!(
            "Trim off, idle air held. {} kg/h of air leak in behind the throttle, past no plate. Lambda was {{was}}: what is it now?",
            plain(kg_h)
        ),
        "lambda",
        (&source.setup, &after),
        0.01,
    )
}

pub fn dead_spark(source: &mut QuestionSource) -> Option<Question> {
    let percent = source.stepped(1.0, 4.0, 0.5);
    let before = trim_on(&source.setup);
    let mut after = before;
    after.conditions.misfire = 0.01 * percent;
    ask_direction(
        &format!(
            "Trim on. The ignition fails in {} % of the cycles. The duty was {{was}}: what does it do before anybody touches the screw?",
            plain(percent)
        ),
        "duty_percent",
        (&before, &after),
        DIRECTIONS,
    )
}

pub fn pressure_mixture(source: &mut QuestionSource) -> Option<Question> {
    let bar = source.one_of(&[-0.4, -0.3, -0.2, 0.2, 0.3, 0.4]);
    let now = Key::find("system_pressure_bar")?.get(&source.setup)?;
    let after = set(&source.setup, "system_pressure_bar", now + bar)?;
    ask_direction(
        &format!(
            "Trim off. The system pressure goes from {now:.1} to {:.1} bar. The mixture gets",
            now + bar
        ),
        "lambda",
        (&source.setup, &after),
        MIXTURE,
    )
}

pub fn climb(source: &mut QuestionSource) -> Option<Question> {
    let metres = source.stepped(500.0, 2500.0, 250.0);
    let after = set(&source.setup, "altitude_m", metres)?;
    ask_reading(
        &format!(
            "Trim off, no altitude correction. The car climbs from the sea to {metres} m; lambda was {{was}}. What is it up there?"
        ),
        "lambda",
        (&source.setup, &after),
        0.01,
    )
}

pub fn thin_air(source: &mut QuestionSource) -> Option<Question> {
    let metres = source.stepped(500.0, 3000.0, 250.0);
    let here = source.setup.conditions.ambient_k;
    let density = |m: f64| density_kg_m3(standard_pressure_pa(m), here);
    let less = 100.0 * (1.0 - (density(metres) / density(0.0)).sqrt());
    Question::number(
        format!(
            "The plate stands as high at {metres} m as by the sea, in air as warm. By how many percent is the air past it less?"
        ),
        "%",
        (less, 1.0, 1),
        format!(
            "At one drop the air goes with the square root of its density: sqrt({:.3}) is {:.1} % less, while the fuel stays.",
            density(metres) / density(0.0),
            less
        ),
    )
}

pub fn pressure_volts(source: &mut QuestionSource) -> Option<Question> {
    let bar = source.one_of(&[-0.4, -0.3, 0.3, 0.4]);
    let now = Key::find("system_pressure_bar")?.get(&source.setup)?;
    let after = set(&source.setup, "system_pressure_bar", now + bar)?;
    ask_direction(
        &format!(
            "Trim off. The system pressure goes from {now:.1} to {:.1} bar: the plate is weighed down otherwise. Its potentiometer was at {{was}}. It",
            now + bar
        ),
        "potentiometer_v",
        (&source.setup, &after),
        DIRECTIONS,
    )
}

pub fn current(source: &mut QuestionSource) -> Option<Question> {
    let base = state(&source.setup)?.actuator_a;
    let off = source.one_of(&[-6.0, -5.0, -4.0, -3.0, 3.0, 4.0, 5.0, 6.0]);
    let ma = (Unit::Milliampere.from_si(base) + off).round();
    let after = set(&source.setup, "actuator_ma", ma)?;
    ask_reading(
        &format!(
            "The current through the actuator is forced from {:.0} to {ma:.0} mA. Lambda was {{was}}: what is it now?",
            Unit::Milliampere.from_si(base)
        ),
        "lambda",
        (&source.setup, &after),
        0.01,
    )
}

pub fn slit_drop(source: &mut QuestionSource) -> Option<Question> {
    let ma = source.stepped(-4.0, 16.0, 1.0);
    let pressures = source.setup.rig.parts().pressures;
    let drop = |ma: f64| Unit::Bar.from_si(pressures.slit_drop_pa(1e-3 * ma));
    if drop(ma) <= 0.0 || ma == 0.0 {
        return None;
    }
    Question::number(
        format!(
            "Over the slits stand {:.3} bar without current and {:.3} bar at 20 mA, on a straight line. How much at {} mA?",
            drop(0.0),
            drop(20.0),
            plain(ma)
        ),
        "bar",
        (drop(ma), 0.005, 3),
        format!(
            "{:.4} bar for each milliampere; the fuel goes with the square root of the drop, here {:+.1} %.",
            drop(1.0) - drop(0.0),
            100.0 * ((drop(ma) / drop(0.0)).sqrt() - 1.0)
        ),
    )
}

pub fn rest_height(source: &mut QuestionSource) -> Option<Question> {
    let mm = source.one_of(&[-0.4, -0.3, -0.2, -0.1, 0.1, 0.2, 0.3, 0.4]);
    let right = flow_start(&source.setup, 0.25)?;
    let there = set(&source.setup, "rest_height_mm", mm)?;
    let found = flow_start(&there, 0.25)?;
    let (was, is) = (right.after.state()?.lambda, found.after.state()?.lambda);
    let word = if mm > 0.0 { "high" } else { "low" };
    Question::number(
        format!(
            "With the plate resting right, the static rule (a quarter turn back from flow start) gives lambda {was:.2} warm. It rests {} mm too {word}, and the rule is followed again. Lambda warm?",
            plain(mm.abs())
        ),
        "",
        (is, (TOLERANCE_SHARE * (is - was).abs()).max(0.02), 2),
        format!(
            "Flow start moves to {} turn, so the screw ends {} turn from where it would: the rule is a statement about the rest height.",
            turns(found.flow_start_turns),
            turns(found.setting_turns - right.setting_turns)
        ),
    )
}

pub fn way_back(source: &mut QuestionSource) -> Option<Question> {
    let back = source.one_of(&[0.1875, 0.21875, 0.28125, 0.3125]);
    let (quarter, found) = (flow_start(&source.setup, 0.25)?, flow_start(&source.setup, back)?);
    if found.hazard {
        return None;
    }
    let (was, is) = (quarter.after.state()?.lambda, found.after.state()?.lambda);
    Question::number(
        format!(
            "A quarter turn back from flow start gives lambda {was:.2} warm. Someone goes {} turn back instead. Lambda warm?",
            turns_typed(back)
        ),
        "",
        (is, (TOLERANCE_SHARE * (is - was).abs()).max(0.02), 2),
        format!(
            "The screw ends at {} instead of {} turn; clockwise is richer, so back is leaner.",
            turns(found.setting_turns),
            turns(quarter.setting_turns)
        ),
    )
}

pub fn by_ear(source: &mut QuestionSource) -> Option<Question> {
    let metres = source.stepped(0.0, 1500.0, 250.0);
    let there = set(&source.setup, "altitude_m", metres)?;
    let found = edges(&SteadyEngine::new(&there.rig, &there.conditions));
    let (lean, rich, aim) = (found.lean?, found.rich?, found.ear_aim()?);
    Question::number(
        format!(
            "At {metres} m the engine gets rough at {} turn (lean) and at {} turn (rich). By ear alone: where do you leave the screw, a fifth of the width leaner than the middle?",
            turns(lean),
            turns(rich)
        ),
        "turns",
        (aim, 0.005, 3),
        format!(
            "The middle is {} turn, the width {:.3} turn; a fifth of that leaner.",
            turns(0.5 * (lean + rich)),
            rich - lean
        ),
    )
}

pub fn middle_side(source: &mut QuestionSource) -> Option<Question> {
    let metres = source.stepped(0.0, 2000.0, 250.0);
    let there = set(&source.setup, "altitude_m", metres)?;
    let steady = SteadyEngine::new(&there.rig, &there.conditions);
    let found = edges(&steady);
    let middle = found.middle()?;
    let lambda = steady.point(middle).state()?.lambda;
    if (lambda - 1.0).abs() < 0.02 {
        return None;
    }
    Some(Question::choice(
        format!("At {metres} m, trim off: half way between the two rough edges the mixture is"),
        &["lean of lambda 1", "lambda 1 within 0.02", "rich of lambda 1"],
        if lambda > 1.0 { 0 } else { 2 },
        format!(
            "Lambda is {lambda:.2} there: flames stay fast in rich mixtures and die quickly in lean ones, so there is more room on the rich side."
        ),
    ))
}

pub fn roughness(source: &mut QuestionSource) -> Option<Question> {
    let screw = source.one_of(&[-0.125, -0.09375, -0.0625, 0.0625, 0.09375, 0.125, 0.15625]);
    let after = set(&source.setup, "screw", screw)?;
    ask_reading(
        &format!(
            "Trim off. The screw goes {} turn {}. The roughness was {{was}} (rough is above 10 %). How much is it now?",
            turns_typed(screw.abs()),
            if screw > 0.0 { "in, richer" } else { "out, leaner" }
        ),
        "cov_percent",
        (&source.setup, &after),
        0.5,
    )
}

pub fn duty(source: &mut QuestionSource) -> Option<Question> {
    let screw = source.one_of(&[-0.03125, -0.0234375, -0.015625, 0.0078125, 0.015625]);
    let before = trim_on(&source.setup);
    let after = set(&before, "screw", screw)?;
    ask_reading(
        &format!(
            "Trim on. The duty is {{was}}. The screw goes {} turn {}: to what does the duty go?",
            turns_typed(screw.abs()),
            if screw > 0.0 { "in, richer" } else { "out, leaner" }
        ),
        "duty_percent",
        (&before, &after),
        4.0,
    )
}

pub fn monoxide(source: &mut QuestionSource) -> Option<Question> {
    let lambda = source.stepped(0.88, 0.99, 0.01);
    let fuel = source.setup.conditions.petrol.fuel();
    let percent = |lambda: f64| 100.0 * gas_of(&fuel, lambda).co;
    let co = percent(lambda);
    Question::number(
        format!(
            "One even mixture of lambda {lambda:.2} burns. How much carbon monoxide does the dry gas hold before the catalyst?"
        ),
        "%",
        (co, (0.2 * co).max(0.15), 2),
        format!(
            "{co:.2} %; a hundredth of lambda richer it would be {:.2} %: rich gas is told by its CO.",
            percent(lambda - 0.01)
        ),
    )
}

pub fn housing(source: &mut QuestionSource) -> Option<Question> {
    let mm = source.one_of(&[-0.5, -0.4, -0.3, -0.2, 0.2, 0.3, 0.4, 0.5]);
    let mut after = source.setup;
    after.conditions.housing_shift_m = 1e-3 * mm;
    let was = state(&source.setup)?.potentiometer_v;
    let slope = state(&source.with(|s| s.conditions.housing_shift_m = 1e-4))?.potentiometer_v - was;
    let way = if slope > 0.0 { "up" } else { "down" };
    ask_reading(
        &format!(
            "Turning the potentiometer's housing by 0.1 mm of plate height moves the idle voltage {way} by {:.0} mV from {{was}}. It is turned by {} mm the {} way. What does the meter read?",
            1e3 * slope.abs(),
            plain(mm.abs()),
            if mm > 0.0 { "same" } else { "other" }
        ),
        "potentiometer_v",
        (&source.setup, &after),
        0.005,
    )
}

pub fn speed_volts(source: &mut QuestionSource) -> Option<Question> {
    let more = source.stepped(50.0, 200.0, 25.0);
    let now = Unit::Rpm.from_si(state(&source.setup)?.speed_rad_s);
    let after = set(&source.setup, "speed_rpm", now + more)?;
    ask_reading(
        &format!(
            "The idle is held at {:.0} instead of {now:.0} rpm. The potentiometer was at {{was}}. Where is it now?",
            now + more
        ),
        "potentiometer_v",
        (&source.setup, &after),
        0.004,
    )
}

pub fn leak_volts(source: &mut QuestionSource) -> Option<Question> {
    let kg_h = source.stepped(0.5, 2.5, 0.25);
    let before = trim_on(&source.setup);
    let after = set(&before, "leak_kg_h", kg_h)?;
    point(&after).state()?;
    ask_direction(
        &format!(
            "Trim on, idle air held. {} kg/h of air leak in past no plate. The potentiometer was at {{was}}. It",
            plain(kg_h)
        ),
        "potentiometer_v",
        (&before, &after),
        DIRECTIONS,
    )
}
