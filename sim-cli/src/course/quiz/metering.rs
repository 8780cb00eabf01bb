//! Numbers of the questions on lessons 1 to 7: faults, plate, plunger, flow start, edges, duty,
//! voltage.

use super::question::{Drawn, QuestionSource, TOLERANCE_SHARE, numbers, set, state};
use sim_core::air::atmosphere::{density_kg_m3, standard_pressure_pa};
use sim_core::engine::exhaust::gas_of;
use sim_core::flowstart::flow_start;
use sim_core::steady::SteadyEngine;
use sim_core::sweep::edges;
use sim_core::units::Unit;

pub fn thin_air(source: &mut QuestionSource) -> Option<Drawn> {
    let metres = source.stepped(500.0, 3000.0, 250.0);
    let here = source.setup.conditions.ambient_k;
    let density = |m: f64| density_kg_m3(standard_pressure_pa(m), here);
    let ratio = density(metres) / density(0.0);
    let less = 100.0 * (1.0 - ratio.sqrt());
    Some(Drawn::number(less, 1.0, numbers![metres, ratio, less]))
}

pub fn current(source: &mut QuestionSource) -> Option<Drawn> {
    let now = Unit::Milliampere.from_si(state(&source.setup)?.actuator_a);
    let off = source.one_of(&[-6.0, -5.0, -4.0, -3.0, 3.0, 4.0, 5.0, 6.0]);
    let ma = (now + off).round();
    let after = set(&source.setup, "actuator_ma", ma)?;
    Some(Drawn::change(source.setup, after, numbers![now, ma]))
}

pub fn slit_drop(source: &mut QuestionSource) -> Option<Drawn> {
    let ma = source.stepped(-4.0, 16.0, 1.0);
    let pressures = source.setup.rig.parts().pressures;
    let drop = |ma: f64| Unit::Bar.from_si(pressures.slit_drop_pa(1e-3 * ma));
    if drop(ma) <= 0.0 || ma == 0.0 {
        return None;
    }
    let more = 100.0 * ((drop(ma) / drop(0.0)).sqrt() - 1.0);
    let for_one = drop(1.0) - drop(0.0);
    let numbers = numbers![none = drop(0.0), at_20 = drop(20.0), ma, for_one, more];
    Some(Drawn::number(drop(ma), 0.005, numbers))
}

/// By how much a lambda after a change may be missed.
fn lambda_tolerance(was: f64, is: f64) -> f64 {
    (TOLERANCE_SHARE * (is - was).abs()).max(0.02)
}

pub fn rest_height(source: &mut QuestionSource) -> Option<Drawn> {
    let mm = source.one_of(&[-0.4, -0.3, -0.2, -0.1, 0.1, 0.2, 0.3, 0.4]);
    let right = flow_start(&source.setup, 0.25)?;
    let found = flow_start(&set(&source.setup, "rest_height_mm", mm)?, 0.25)?;
    let (was, is) = (right.after.state()?.lambda, found.after.state()?.lambda);
    let moved = found.setting_turns - right.setting_turns;
    let numbers = numbers![was, mm, flow_start = found.flow_start_turns, moved];
    Some(Drawn::number(is, lambda_tolerance(was, is), numbers))
}

pub fn way_back(source: &mut QuestionSource) -> Option<Drawn> {
    let back = source.one_of(&[0.1875, 0.21875, 0.28125, 0.3125]);
    let (quarter, found) = (flow_start(&source.setup, 0.25)?, flow_start(&source.setup, back)?);
    if found.hazard {
        return None;
    }
    let (was, is) = (quarter.after.state()?.lambda, found.after.state()?.lambda);
    let (setting, quarter) = (found.setting_turns, quarter.setting_turns);
    let numbers = numbers![was, back, setting, quarter];
    Some(Drawn::number(is, lambda_tolerance(was, is), numbers))
}

pub fn by_ear(source: &mut QuestionSource) -> Option<Drawn> {
    let metres = source.stepped(0.0, 1500.0, 250.0);
    let there = set(&source.setup, "altitude_m", metres)?;
    let found = edges(&SteadyEngine::new(&there.rig, &there.conditions));
    let (lean, rich, aim) = (found.lean?, found.rich?, found.ear_aim()?);
    let (middle, width) = (0.5 * (lean + rich), rich - lean);
    Some(Drawn::number(aim, 0.005, numbers![metres, lean, rich, middle, width]))
}

pub fn middle_side(source: &mut QuestionSource) -> Option<Drawn> {
    let metres = source.stepped(0.0, 2000.0, 250.0);
    let there = set(&source.setup, "altitude_m", metres)?;
    let steady = SteadyEngine::new(&there.rig, &there.conditions);
    let lambda = steady.point(edges(&steady).middle()?).state()?.lambda;
    if (lambda - 1.0).abs() < 0.02 {
        return None;
    }
    let at = if lambda > 1.0 { 0 } else { 2 };
    Some(Drawn::choice(at, numbers![metres, lambda]))
}

pub fn monoxide(source: &mut QuestionSource) -> Option<Drawn> {
    let lambda = source.stepped(0.88, 0.99, 0.01);
    let fuel = source.setup.conditions.petrol.fuel();
    let percent = |lambda: f64| 100.0 * gas_of(&fuel, lambda).co;
    let (co, richer) = (percent(lambda), percent(lambda - 0.01));
    Some(Drawn::number(co, (0.2 * co).max(0.15), numbers![lambda, co, richer]))
}

pub fn housing(source: &mut QuestionSource) -> Option<Drawn> {
    let mm = source.one_of(&[-0.5, -0.4, -0.3, -0.2, 0.2, 0.3, 0.4, 0.5]);
    let turned = |mm: f64| set(&source.setup, "housing_mm", mm);
    let was = state(&source.setup)?.potentiometer_v;
    let slope = state(&turned(0.1)?)?.potentiometer_v - was;
    let numbers = numbers![slope, by = 1e3 * slope.abs(), mm];
    Some(Drawn::change(source.setup, turned(mm)?, numbers))
}

pub fn speed_volts(source: &mut QuestionSource) -> Option<Drawn> {
    let more = source.stepped(50.0, 200.0, 25.0);
    let now = Unit::Rpm.from_si(state(&source.setup)?.speed_rad_s);
    let after = set(&source.setup, "speed_rpm", now + more)?;
    Some(Drawn::change(source.setup, after, numbers![now, then = now + more]))
}
