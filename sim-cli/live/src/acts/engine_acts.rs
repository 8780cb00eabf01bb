//! Acts at key, pedal, battery, connectors and hoses.

use crate::act::{Act, Answer, Done, PLAIN};
use crate::arguments::{Arguments, Takes, may, needs};
use crate::bench::Bench;
use crate::workplace::{CONNECTORS, KeyAt};
use sim_core::run::{Action, Value};
use sim_core::sense::faults::{Coolant, SensorFault, ThrottleSwitch};
use sim_core::units::Unit;

/// Air through the port of a hose that is off (kg/h): our own.
const OFF_KG_H: f64 = 8.0;
/// A leak below this is none (kg/s).
const TIGHT_KG_S: f64 = 1e-6;
/// Speed that an idle engine blipped is let go at, unless another is asked for (rpm).
const BLIP_RPM: f64 = 3000.0;

pub const KEY: Act = Act {
    name: "key",
    does: "Turns the key: off, on, or to start. It springs back to on when the engine has caught.",
    arguments: &[needs("to", Takes::Word(&["off", "on", "start"]), "where to")],
    caution: Some(
        "Starting: gear out, brake on, hands and sleeves clear of fan and belts, face away from the intake; exhaust led outside. Short tries with rests between.",
    ),
    ignored: Some(
        "A tool left in the screw is caught by what turns and thrown. Fuel that has run into a standing engine floods it: it spits back or does not fire.",
    ),
    run: key,
    ..PLAIN
};

pub const PEDAL: Act = Act {
    name: "pedal",
    does: "Holds the pedal at a share of its travel; 0 lets it go. A brake can hold a speed against it.",
    arguments: &[
        needs("percent", Takes::Number("%", 0.0, 100.0), "share of the travel"),
        may(
            "brake_rpm",
            Takes::Number("rpm", 800.0, 6000.0),
            "a brake stand lets the engine turn no faster; none unless given",
        ),
    ],
    caution: Some(
        "An engine at speed: nobody in the plane of the fan, tool out of the screw. A brake stand: car strapped, nobody before or behind it.",
    ),
    ignored: Some("A tool in the screw at speed is thrown."),
    run: pedal,
    ..PLAIN
};

pub const BLIP: Act = Act {
    name: "blip",
    does: "Opens the throttle until the engine has reached a speed, then lets go.",
    arguments: &[may("rpm", Takes::Number("rpm", 1000.0, 5500.0), "the speed; 3000 unless given")],
    caution: Some("Before a blip: the tool out of the screw, hands and sleeves clear of the fan."),
    ignored: Some("The tool is thrown out of the screw into the fan."),
    run: blip,
    ..PLAIN
};

pub const BATTERY: Act = Act {
    name: "battery",
    does: "Takes the battery's earth lead off or puts it on.",
    arguments: &[needs("on", Takes::Flag, "whether it is on")],
    caution: Some(
        "Battery: key off, earth lead first off and last on, no spark near it; radio code and clock at hand.",
    ),
    ignored: Some(
        "A lead taken off with the key on strikes a spark and can damage the controller.",
    ),
    run: battery,
    ..PLAIN
};

pub const CONNECTOR: Act = Act {
    name: "connector",
    does: "Takes a connector off or puts it on.",
    arguments: &[
        needs("part", Takes::Word(CONNECTORS), "whose connector"),
        needs("on", Takes::Flag, "whether it is on"),
    ],
    caution: Some("Connectors by their housing, not by the wires; hands clear of fan and exhaust."),
    run: connector,
    ..PLAIN
};

pub const HOSE: Act = Act {
    name: "hose",
    does: "Pushes every vacuum hose home and clamps it, or pulls one off.",
    arguments: &[needs("on", Takes::Flag, "true: all home; false: one off")],
    caution: Some(
        "Hands clear of fan and belts; a hose that is off makes an idle speed up or die.",
    ),
    run: hose,
    ..PLAIN
};

fn key(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let workplace = bench.now.workplace;
    match arguments.text("to").unwrap_or_default() {
        "off" => {
            bench.apply(&Action::KeyOff)?;
            bench.now.workplace.key = KeyAt::Off;
            bench.done("The key is off.");
        }
        "on" => {
            if workplace.key == KeyAt::Start {
                bench.apply(&Action::Starter(false))?;
                bench.now.workplace.key = KeyAt::On;
                bench.done("The starter is let go; the key is on.");
            } else {
                bench.apply(&Action::KeyOn)?;
                bench.now.workplace.key = KeyAt::On;
                bench.done("The key is on. The pump hums for a second.");
            }
        }
        _ => start(bench)?,
    }
    Ok(Answer::Frame)
}

fn start(bench: &mut Bench) -> Result<(), String> {
    if bench.now.workplace.jumper {
        return Err("The pump's jumper is in: take it out before the engine is started.".into());
    }
    if bench.now.workplace.lifted_mm > 0.0 {
        return Err("A hand holds the plate: let it go before the engine is started.".into());
    }
    if bench.now.workplace.key == KeyAt::Off {
        bench.apply(&Action::KeyOn)?;
    }
    bench.apply(&Action::Starter(true))?;
    bench.now.workplace.key = KeyAt::Start;
    bench.now.workplace.cranking_since_s = bench.time_s();
    bench.done("The starter turns.");
    throw_tool(bench);
    Ok(())
}

fn pedal(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let percent = arguments.number("percent").unwrap_or(0.0);
    let limit_rad_s = bench.now.engine.setup().rig.parts().controller.limit_rad_s;
    let brake = arguments.number("brake_rpm");
    let speed = brake.map_or(limit_rad_s, |rpm| Unit::Rpm.to_si(rpm));
    bench.apply(&Action::Throttle(0.01 * percent, speed))?;
    bench.now.workplace.pedal_percent = percent;
    bench.done(match (percent > 0.0, brake) {
        (false, _) => "The pedal is let go.".to_string(),
        (true, None) => format!("The pedal is held at {percent:.0} %."),
        (true, Some(rpm)) => {
            format!("The pedal is held at {percent:.0} %, the brake at {rpm:.0} rpm.")
        }
    });
    if percent > 0.0 {
        throw_tool(bench);
    }
    Ok(Answer::Frame)
}

fn blip(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    if !bench.turns() {
        return Err("The engine stands: there is nothing to blip.".into());
    }
    let rpm = arguments.number("rpm").unwrap_or(BLIP_RPM);
    let limit_rpm = Unit::Rpm.from_si(bench.now.engine.setup().rig.parts().controller.limit_rad_s);
    if rpm > limit_rpm + 1e-6 {
        return Err(format!(
            "The pedal cannot be let go at {rpm:.0} rpm: the controller cuts the fuel above {limit_rpm:.0} rpm."
        ));
    }
    bench.apply(&Action::Blip(Unit::Rpm.to_si(rpm)))?;
    bench.now.workplace.pedal_percent = 0.0;
    bench.done(format!("A blip to {rpm:.0} rpm."));
    throw_tool(bench);
    Ok(Answer::Frame)
}

/// A tool left in the screw while the engine is started or speeds up.
fn throw_tool(bench: &mut Bench) {
    if std::mem::take(&mut bench.now.workplace.tool_in) {
        let words = "The hex key was still in the screw: it is thrown into the fan. Nobody was hurt this time. Key off, look at fan, belts and hoses before you go on.";
        bench.tell(crate::notebook::Sort::Happened, words);
        bench.caution =
            Some("Always take the tool out of the screw before the engine is started or blipped.");
    }
}

fn battery(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let on = arguments.flag("on").unwrap_or(true);
    bench.apply(if on { &Action::BatteryOn } else { &Action::BatteryOff })?;
    bench.now.workplace.battery = on;
    bench.done(if on { "The battery's lead is on." } else { "The battery's lead is off." });
    Ok(Answer::Frame)
}

fn connector(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let part = arguments.text("part").unwrap_or_default();
    let on = arguments.flag("on").unwrap_or(true);
    let found = bench.now.workplace.found_faults;
    let action = match part {
        "lambda-sensor" => Action::PlugSensor(on),
        "actuator" => Action::PlugActuator(on),
        "coolant-sensor" => {
            Action::Fail(SensorFault::Coolant(if on { found.coolant } else { Coolant::Open }))
        }
        "throttle-switch" => Action::Fail(SensorFault::ThrottleSwitch(if on {
            found.throttle_switch
        } else {
            ThrottleSwitch::NoIdle
        })),
        _ => {
            let word = if on { "held" } else { "unpowered" };
            Action::Set("idle_air", Value::Word(word.into()))
        }
    };
    bench.apply(&action)?;
    if let Some(at) = CONNECTORS.iter().position(|name| *name == part) {
        bench.now.workplace.connected[at] = on;
    }
    bench.done(format!(
        "The connector of the {} is {}.",
        part.replace('-', " "),
        if on { "on" } else { "off" }
    ));
    Ok(Answer::Frame)
}

fn hose(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let on = arguments.flag("on").unwrap_or(true);
    let leaked = bench.now.engine.setup().conditions.leak_kg_s > TIGHT_KG_S;
    let leak_kg_h = if on { 0.0 } else { OFF_KG_H };
    bench.apply(&Action::Set("leak_kg_h", Value::Number(leak_kg_h)))?;
    bench.done(match (on, leaked) {
        (true, true) => "A hose was loose: it is home and clamped now.",
        (true, false) => "Every hose was home.",
        (false, _) => "A vacuum hose is off.",
    });
    Ok(Answer::Frame)
}
