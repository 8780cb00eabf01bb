//! What the fuel supply of a setup means for it, in sentences.

use sim_core::fuel::condition::LinesHold;
use sim_core::fuel::supply::CheckValve;
use sim_core::point::State;
use sim_core::rig::keys::Setup;
use sim_core::run::{Engine, Options};
use sim_core::steady::SteadyEngine;
use sim_core::units::Unit;

/// System pressure that the trade asks for (bar): common practice, no source.
const ASKED_BAR: (f64, f64) = (5.2, 5.6);
/// Full load as it is looked at: crank speed with the throttle wide open (rpm).
const FULL_LOAD_RPM: f64 = 4000.0;
/// After so long a stand the lines are spoken of (h).
const LONG_H: f64 = 12.0;

fn bar(pa: f64) -> f64 {
    Unit::Bar.from_si(pa)
}

fn ml_min(m3_s: f64) -> f64 {
    Unit::MillilitrePerMinute.from_si(m3_s)
}

/// What a low system pressure does; nothing where it is as asked for, or so low that nothing
/// sprays, which is told in its own words.
pub fn low_pressure(setup: &Setup) -> Option<String> {
    let (parts, fuel_side) = (setup.rig.parts(), &setup.conditions.fuel_side);
    let holds_pa = fuel_side.holds_pa(parts.pressures.system_pa);
    let lines = parts.slits.width_m.len();
    let opens_pa = parts.injectors.opening_pa(0, lines, fuel_side.first_injector_pa);
    if bar(holds_pa) >= ASKED_BAR.0 || holds_pa <= opens_pa {
        return None;
    }
    let lean_pa = opens_pa + parts.pressures.slit_drop_pa(parts.controller.base_a);
    let (low, high) = ASKED_BAR;
    let effect = if holds_pa > lean_pa {
        "With less of it the plate lifts further for the same air, and the mixture is richer at every load. A start may even be a little shorter: that is the rich mixture, not a better supply"
    } else {
        "The injectors now leave too little of it for the slits: the drop over them falls, and the mixture goes lean or the engine dies"
    };
    Some(format!(
        "The system pressure is low: {:.1} bar, the trade asks for {low:.1} to {high:.1} (common practice, no source). The pressure holds the plunger down. {effect}. Below {:.2} bar the drop over the slits falls, and at {:.2} bar the first injector no longer opens. A tired pump gets there first under load. Put the pressure right before the screw.",
        bar(holds_pa),
        bar(lean_pa),
        bar(opens_pa),
    ))
}

/// What a pump that delivers less than before still feeds: this point, and full load.
pub fn weaker_pump(before: &Setup, after: &Setup, is: Option<&State>) -> Option<String> {
    let supply = &after.rig.parts().supply;
    let delivers = |setup: &Setup| setup.conditions.fuel_side.delivers(&setup.rig.parts().supply);
    if delivers(after) >= delivers(before) {
        return None;
    }
    let holds_pa = after.conditions.fuel_side.holds_pa(after.rig.parts().pressures.system_pa);
    let at_pa = holds_pa.min(supply.pump.stall_pa);
    let gives = supply.pump.delivery_m3_s(at_pa, delivers(after));
    let density = after.conditions.petrol.fuel().density_kg_m3(after.conditions.fuel_k);
    let drawn = |state: &State| state.fuel_kg_s / density;
    let fed = |state: &State| bar(state.system_pa) > bar(at_pa) - 0.01;
    let here = match is {
        Some(state) if fed(state) => format!(
            "this point draws {:.0} ml/min of it, is fed as before and shows nothing",
            ml_min(drawn(state))
        ),
        Some(state) => format!(
            "this point draws {:.0} ml/min: it is starved, the pressure falls to {:.2} bar",
            ml_min(drawn(state)),
            bar(state.system_pa)
        ),
        None => "the engine does not run on it".into(),
    };
    Some(format!(
        "The pump delivers {:.0} ml/min at {:.1} bar; {here}. {}",
        ml_min(gives),
        bar(at_pa),
        full_load(before, after, density)
    ))
}

/// The same at full load.
fn full_load(before: &Setup, after: &Setup, density: f64) -> String {
    let loaded = |setup: &Setup| {
        let mut conditions = setup.conditions;
        conditions.throttle = 1.0;
        conditions.speed_rad_s = Some(Unit::Rpm.to_si(FULL_LOAD_RPM));
        SteadyEngine::new(&setup.rig, &conditions).point(conditions.screw_turns)
    };
    let (was, is) = (loaded(before), loaded(after));
    let at = format!("Full load at {FULL_LOAD_RPM:.0} rpm");
    let Some(was) = was.state() else {
        return format!("{at} is beyond this engine before the change too.");
    };
    let draws = ml_min(was.fuel_kg_s / density);
    match is.state() {
        Some(is) if is.system_pa > was.system_pa - 1e3 => {
            format!(
                "{at} draws {draws:.0} ml/min: that is fed, too. Measure the delivery: the engine does not tell."
            )
        }
        Some(is) => format!(
            "{at} draws {draws:.0} ml/min: there the pressure falls to {:.2} bar and lambda from {:.2} to {:.2}.",
            bar(is.system_pa),
            was.lambda,
            is.lambda
        ),
        None => format!(
            "{at} draws {draws:.0} ml/min: there the pressure breaks down and the engine does not pull through."
        ),
    }
}

/// What a long stand has left; nothing after a night or less, or where the lines were opened.
pub fn long_stand(setup: &Setup) -> Option<String> {
    let fuel_side = &setup.conditions.fuel_side;
    let hours = Unit::Hour.from_si(fuel_side.stood_s);
    if hours <= LONG_H || fuel_side.lines == LinesHold::Air {
        return None;
    }
    let engine = Engine::standing(setup, Options::default());
    let lines = setup.rig.parts().slits.width_m.len();
    let supply = &setup.rig.parts().supply;
    let volume: f64 = (0..lines).map(|line| supply.line_m3(line)).sum();
    let percent = 100.0 * engine.lines_short_m3() / volume;
    let pressure = match (bar(engine.system_pa()), fuel_side.check_valve) {
        (left, _) if left >= 0.05 => format!("{left:.1} bar of pressure are left"),
        (_, CheckValve::Ok) => {
            "the pressure has gone through the seats and past the plunger".into()
        }
        _ => "the pressure went within minutes".into(),
    };
    let lost = if percent < 1.0 {
        "the lines are full but for less than 1 %. As after a night, the pump's run at key on brings the pressure back".to_string()
    } else {
        format!(
            "{percent:.0} % of the fuel in the lines has evaporated through the injectors' seats. They spray again only when it is filled up"
        )
    };
    Some(format!(
        "After {hours:.0} h {pressure}; {lost}. How fast that goes is our own estimate from diffusion through a seat's gap, measured on no engine. Fuel that loses its light parts and a battery that runs down are left out."
    ))
}
