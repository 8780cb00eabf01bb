//! A frame: only what is clipped on, seen, heard or smelt.

use crate::bench::{Bench, is_wet};
use crate::workplace::CONNECTORS;
use serde_json::{Map, Value, json};
use sim_core::section::{Machine, PlateHeights};
use sim_core::units::{Unit, ZERO_CELSIUS_K};
use sim_core::wording::tidy;

/// How finely an eye tells the plate's height from above (mm).
const EYE_MM: f64 = 1.0;
/// CO from which the exhaust is black, and from which it smells of petrol (share). Our own.
const BLACK: f64 = 0.08;
/// See [`BLACK`].
const SMELLS: f64 = 0.045;
/// Marks of the dashboard's gauge (degC).
const GAUGE_DEGC: [(f64, &str); 2] = [(40.0, "cold"), (78.0, "warming up")];

/// The frame of a moment.
pub fn frame(bench: &Bench) -> Value {
    let now = &bench.now;
    let clipped: Map<String, Value> = now
        .meters
        .iter()
        .map(|meter| (meter.kind.name.to_string(), json!(meter.shown())))
        .collect();
    json!({
        "time_s": tidy(bench.time_s()),
        "clipped": clipped,
        "heard": now.hearing.frame(&now.engine, now.engine.fuel_readings().pump_runs),
        "seen": seen(bench),
        "notes": bench.notebook.last(),
        "caution": bench.caution,
        "sentence": bench.sentence,
        "task": task(bench),
        "kept": bench.kept.iter().map(|(name, _)| name).collect::<Vec<_>>(),
    })
}

fn task(bench: &Bench) -> Value {
    bench.beginning.lesson.as_ref().map_or(Value::Null, |lesson| {
        json!({
            "lesson": lesson.number,
            "title": lesson.title,
            "task": lesson.task,
            "question": lesson.question,
            "prediction_due": bench.prediction_due,
        })
    })
}

fn seen(bench: &Bench) -> Value {
    let (engine, workplace) = (&bench.now.engine, &bench.now.workplace);
    let state = engine.state();
    let lift_mm = state.map_or(0.0, |state| 1e3 * state.plate_lift_m).max(workplace.lifted_mm);
    let co = state.map_or(0.0, |state| state.co);
    let smoke = if co > BLACK { "black" } else { "none" };
    let smell = if co > SMELLS || is_wet(engine) { "petrol" } else { "none" };
    let connectors: Map<String, Value> = CONNECTORS
        .iter()
        .zip(workplace.connected)
        .map(|(name, on)| (name.to_string(), json!(on)))
        .collect();
    let degc = engine.setup().conditions.coolant_k - ZERO_CELSIUS_K;
    let gauge =
        GAUGE_DEGC.iter().find(|(below, _)| degc < *below).map_or("warm", |(_, word)| *word);
    json!({
        "key": workplace.key.word(),
        "battery": workplace.battery,
        "screw": { "tool_in": workplace.tool_in, "turned": workplace.turned },
        "plate_by_eye_mm": (lift_mm / EYE_MM).round() * EYE_MM,
        "plate_lifted_mm": workplace.lifted_mm,
        "pedal_percent": workplace.pedal_percent,
        "housing": { "loose": workplace.housing_loose, "turned_mm": workplace.housing_turned_mm },
        "connectors": connectors,
        "jumper": workplace.jumper,
        "lines": if workplace.lines_open { "glasses" } else { "engine" },
        "glasses": if workplace.lines_open { bench.now.glasses.frame(engine) } else { Value::Null },
        "fan_turns": bench.turns(),
        "dripping": workplace.lines_open && bench.now.glasses.shows(engine),
        "smoke": smoke,
        "smell": smell,
        "coolant": workplace.key_is_on().then_some(gauge),
        "section": if bench.teaching { section(bench) } else { Value::Null },
    })
}

/// What the section cut open shows.
fn section(bench: &Bench) -> Value {
    let engine = &bench.now.engine;
    let (rig, conditions) = (&engine.setup().rig, &engine.setup().conditions);
    let parts = rig.parts();
    let turns = conditions.screw_turns;
    let heights = PlateHeights::new(parts, conditions, turns, None);
    let lifted_m = 1e-3 * bench.now.workplace.lifted_mm;
    let state = engine.state();
    let lift_m = state.map_or(lifted_m, |state| state.plate_lift_m);
    let machine = Machine::at(parts, heights, turns, heights.rest_m + lift_m);
    let mm = |metres: f64| 1e3 * metres;
    let bar = |pa: f64| Unit::Bar.from_si(pa);
    json!({
        "plate_above_rest_mm": mm(machine.plate_above_rest_m),
        "plate_above_throat_mm": mm(machine.plate_above_throat_m),
        "plunger_mm": mm(machine.plunger_m),
        "slit_opening_mm": mm(machine.slit_opening_m),
        "slit_above_mm": mm(machine.plunger_m - parts.slits.overlap_m),
        "roller_gap_mm": mm(machine.roller_gap_m),
        "play_mm": mm(heights.felt_play_m()),
        "screw_turns": turns,
        "screw_mm": mm(machine.screw_in_m),
        "stop_mm": mm(machine.stop_raised_m),
        "lever_deg": machine.lever_rad.to_degrees(),
        "arm_deg": machine.arm_rad.to_degrees(),
        "system_bar": bar(engine.system_pa()),
        "lower_chamber_bar": bar(engine.fuel_readings().lower_chamber_pa),
        "slit_drop_bar": state.map(|state| bar(state.slit_drop_pa)),
    })
}
