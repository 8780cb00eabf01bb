//! Acts at what is set: screw, linkage, plate's stop, potentiometer.

use crate::act::{Act, Answer, Done, PLAIN};
use crate::arguments::{Arguments, Takes, may, needs};
use crate::bench::Bench;
use crate::notebook::Sort;
use sim_core::run::{Action, Value};

/// The most the screw is turned at once (turns).
const TURN_MOST: f64 = 2.0;
/// The most the housing is turned at once (mm of plate height).
const HOUSING_MOST_MM: f64 = 3.0;

pub const TOOL: Act = Act {
    name: "tool",
    does: "Puts the hex key into the mixture screw, or takes it out.",
    arguments: &[needs("in", Takes::Flag, "whether it is in")],
    caution: Some(
        "A tool beside a running engine: sleeves and hair away from fan and belts, and the tool out before a start or a blip.",
    ),
    ignored: Some("What turns catches the tool and throws it."),
    run: tool,
    ..PLAIN
};

pub const TURN: Act = Act {
    name: "turn",
    does: "Turns the mixture screw with the hex key: in (plus, clockwise) is richer.",
    arguments: &[needs(
        "turns",
        Takes::Turns(-TURN_MOST, TURN_MOST),
        "how far: 1/4, 1/8, 1/16, 1/32 or any other; in is plus",
    )],
    caution: Some(
        "Small steps, then wait: the trim takes its time. Do not press the tool down: that lifts no plate but moves the lever.",
    ),
    ignored: Some(
        "With the pump on and the engine standing, a screw too far in lets fuel run into it: it floods.",
    ),
    run: turn,
    ..PLAIN
};

pub const LINKAGE: Act = Act {
    name: "linkage",
    does: "Sets the free play of the throttle's linkage.",
    arguments: &[needs(
        "play_mm",
        Takes::Number("mm", -2.0, 3.0),
        "free play; below 0 it holds the throttle off its stop",
    )],
    caution: Some(
        "Set the linkage with the engine off: a throttle that does not close runs away with the car.",
    ),
    ignored: Some(
        "Without play the throttle does not close: the idle switch stays open, the idle is too fast.",
    ),
    run: linkage,
    ..PLAIN
};

pub const FEEL: Act = Act {
    name: "feel",
    does: "Feels by hand: the throttle on its stop, the linkage's play, or the plate's free play.",
    arguments: &[needs(
        "what",
        Takes::Word(&["throttle", "linkage", "plate"]),
        "what the hand goes to",
    )],
    caution: Some(
        "Hands under the bonnet with the engine off, or well clear of what turns and what is hot.",
    ),
    run: feel,
    ..PLAIN
};

pub const REST: Act = Act {
    name: "rest",
    does: "Moves the stop on which the plate rests, the engine standing.",
    arguments: &[needs("mm", Takes::Number("mm", -0.5, 0.5), "up is plus")],
    caution: Some(
        "Key off, pump off: a plate moved with the pump on lets fuel run into the standing engine.",
    ),
    ignored: Some("The engine floods."),
    run: rest,
    ..PLAIN
};

pub const SCREWS: Act = Act {
    name: "screws",
    does: "Loosens or tightens the four screws of the airflow potentiometer's housing.",
    arguments: &[needs("loose", Takes::Flag, "whether they are loose")],
    caution: Some("Mark where the housing stands before the screws are loosened."),
    ignored: Some("Without a mark there is no way back to where it stood."),
    run: screws,
    ..PLAIN
};

pub const HOUSING: Act = Act {
    name: "housing",
    does: "Turns the loosened housing of the airflow potentiometer, measured as plate height.",
    arguments: &[
        needs(
            "mm",
            Takes::Number("mm", -HOUSING_MOST_MM, HOUSING_MOST_MM),
            "plus raises the voltage",
        ),
        may("note", Takes::Text, "words for the notebook"),
    ],
    caution: Some("A finger's width at most: a little turn is a lot of voltage."),
    run: housing,
    ..PLAIN
};

fn tool(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let is_in = arguments.flag("in").unwrap_or(true);
    bench.now.workplace.tool_in = is_in;
    bench.done(if is_in {
        "The hex key is in the screw."
    } else {
        "The hex key is out of the screw."
    });
    Ok(Answer::Frame)
}

fn turn(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let turns = arguments.number("turns").unwrap_or(0.0);
    if !bench.now.workplace.tool_in {
        return Err("The hex key is not in the screw.".into());
    }
    let to = bench.now.engine.setup().conditions.screw_turns + turns;
    if to.abs() > TURN_MOST {
        return Err("The screw is at the end of its thread.".into());
    }
    bench.apply(&Action::Turn(turns))?;
    bench.now.workplace.turned += turns;
    let way = if turns < 0.0 { "out, leaner" } else { "in, richer" };
    bench.done(format!("The screw is turned {} {way}.", turns_in_words(turns.abs())));
    Ok(Answer::Frame)
}

/// Turns as they are said: `1/16 turn`, `0.30 turn`.
pub fn turns_in_words(turns: f64) -> String {
    let sixty_fourths = (turns * 64.0).round();
    if (turns * 64.0 - sixty_fourths).abs() > 1e-9 || sixty_fourths == 0.0 {
        return format!("{turns:.3} turn");
    }
    let (mut above, mut below) = (sixty_fourths as u64, 64);
    while above.is_multiple_of(2) && below > 1 {
        (above, below) = (above / 2, below / 2);
    }
    let plural = if turns > 1.0 { "s" } else { "" };
    match (above / below, above % below) {
        (0, _) => format!("{above}/{below} turn"),
        (whole, 0) => format!("{whole} turn{plural}"),
        (whole, rest) => format!("{whole} {rest}/{below} turn{plural}"),
    }
}

fn linkage(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let play_mm = arguments.number("play_mm").unwrap_or(1.0);
    bench.apply(&Action::Set("linkage_play_mm", Value::Number(play_mm)))?;
    bench.done(match play_mm > 0.0 {
        true => format!("The linkage has {play_mm:.1} mm of free play: the throttle closes."),
        false => "The linkage has no free play: it holds the throttle off its stop.".into(),
    });
    Ok(Answer::Frame)
}

fn feel(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let (conditions, parts) = {
        let setup = bench.now.engine.setup();
        (setup.conditions, setup.rig.parts())
    };
    let words = match arguments.text("what").unwrap_or_default() {
        "throttle" if conditions.linkage_play_m > 0.0 => {
            "The throttle closes freely onto its stop.".to_string()
        }
        "throttle" => "The throttle does not reach its stop: something holds it open.".into(),
        "linkage" if conditions.linkage_play_m > 0.0 => {
            // Half a millimetre is what a finger tells.
            format!(
                "The linkage has about {:.1} mm of free play.",
                (2e3 * conditions.linkage_play_m).round().max(1.0) / 2.0
            )
        }
        "linkage" => "The linkage has no free play.".into(),
        _ if bench.turns() => {
            return Err(
                "The engine turns: the plate floats. Feel its play with the engine standing."
                    .into(),
            );
        }
        _ => {
            let lever = &parts.lever;
            let rest_m = conditions.rest_height_m - parts.plate.rest_below_throat_m;
            let touch_m = lever.opening_height_m(conditions.screw_turns)
                - parts.slits.overlap_m / lever.plunger_per_plate();
            let play_mm = 1e3 * (touch_m - rest_m);
            match play_mm > 0.0 {
                true => format!(
                    "The plate moves about {:.1} mm before it meets the plunger.",
                    (2.0 * play_mm).round().max(1.0) / 2.0
                ),
                false => "The plate has no free play: it lies on the plunger.".into(),
            }
        }
    };
    bench.tell(Sort::Reading, words);
    Ok(Answer::Frame)
}

fn rest(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    if bench.turns() {
        return Err("The engine turns: the plate's stop is moved with the engine standing.".into());
    }
    let by_mm = arguments.number("mm").unwrap_or(0.0);
    let to_mm = 1e3 * bench.now.engine.setup().conditions.rest_height_m + by_mm;
    bench
        .apply(&Action::Set("rest_height_mm", Value::Number(to_mm)))
        .map_err(|_| "The stop is at the end of its travel.".to_string())?;
    bench.done(format!(
        "The plate's stop is moved {:.2} mm {}.",
        by_mm.abs(),
        if by_mm < 0.0 { "down" } else { "up" }
    ));
    Ok(Answer::Frame)
}

fn screws(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let loose = arguments.flag("loose").unwrap_or(false);
    bench.now.workplace.housing_loose = loose;
    bench.done(if loose {
        "The housing's four screws are loose."
    } else {
        "The housing's four screws are tight."
    });
    Ok(Answer::Frame)
}

fn housing(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    if !bench.now.workplace.housing_loose {
        return Err("The housing's four screws are tight: loosen them first.".into());
    }
    let by_mm = arguments.number("mm").unwrap_or(0.0);
    let to_mm = 1e3 * bench.now.engine.setup().conditions.housing_shift_m + by_mm;
    bench
        .apply(&Action::Set("housing_mm", Value::Number(to_mm)))
        .map_err(|_| "The housing is at the end of its slots.".to_string())?;
    bench.now.workplace.housing_turned_mm += by_mm;
    let way = if by_mm < 0.0 { "down" } else { "up" };
    let note = arguments.text("note").map(|note| format!(" {note}")).unwrap_or_default();
    bench.done(format!(
        "The housing is turned by {:.2} mm of plate height, the voltage {way}.{note}",
        by_mm.abs()
    ));
    Ok(Answer::Frame)
}
