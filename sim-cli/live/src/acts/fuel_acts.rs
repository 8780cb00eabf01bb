//! Acts at the fuel side of a standing engine: jumper, lines into glasses, plate by hand.

use crate::act::{Act, Answer, Done, PLAIN};
use crate::arguments::{Arguments, Takes, needs};
use crate::bench::Bench;
use crate::workplace::KeyAt;
use sim_core::run::Action;

/// A line opened above this pressure lets fuel run into the rag (Pa above ambient): our own.
const UNDER_PRESSURE_PA: f64 = 0.3e5;

pub const JUMPER: Act = Act {
    name: "jumper",
    does: "Puts the pump's jumper in or takes it out, the key off and the engine standing.",
    arguments: &[needs("in", Takes::Flag, "whether it is in")],
    caution: Some(
        "Pump on the jumper: key off, jumper fused and switched, no petrol about when it is put in, out again before the car is driven: with it in, the pump runs on in a crash.",
    ),
    ignored: Some(
        "With the plate off its rest or the screw too far in, fuel runs into the standing engine: it floods.",
    ),
    run: jumper,
    ..PLAIN
};

pub const LINES: Act = Act {
    name: "lines",
    does: "Takes the injection lines off their injectors, each into an empty glass, or puts them back on.",
    arguments: &[needs("into", Takes::Word(&["glasses", "engine"]), "where they lead")],
    caution: Some(
        "Opened fuel lines: relieve the pressure first, rag over the union, eye protection and gloves, no flame, spark or smoking near, extinguisher at hand, doors open.",
    ),
    ignored: Some("Petrol under pressure sprays from the union."),
    run: lines,
    ..PLAIN
};

pub const LIFT: Act = Act {
    name: "lift",
    does: "Lifts the air plate by hand, the engine standing; 0 lets it go.",
    arguments: &[needs("mm", Takes::Number("mm", 0.0, 60.0), "how far above its rest")],
    caution: Some(
        "Lift the plate only with every line opened into its glass: with the injectors in, fuel fills a standing engine.",
    ),
    ignored: Some("Fuel runs into the ports: the engine is flooded and has to dry."),
    run: lift,
    ..PLAIN
};

pub const STAND: Act = Act {
    name: "stand",
    does: "Leaves the car standing for hours, key off, bonnet open: ports dry, pressure leaks away. The bench's clock does not go on.",
    arguments: &[needs("hours", Takes::Number("h", 0.0, 72.0), "how long")],
    caution: Some(
        "A flooded engine: plugs out, no spark near, doors open, look for petrol in the oil before it is cranked.",
    ),
    ignored: Some(
        "Cranked while it is wet it does not fire; petrol washes the oil off its cylinders.",
    ),
    run: stand,
    ..PLAIN
};

fn jumper(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let is_in = arguments.flag("in").unwrap_or(true);
    if is_in && bench.now.workplace.key != KeyAt::Off {
        return Err("The key is on: turn it off before the jumper is put in.".into());
    }
    bench.apply(&Action::PumpJumper(is_in))?;
    bench.now.workplace.jumper = is_in;
    bench.done(if is_in {
        "The jumper is in: the pump runs."
    } else {
        "The jumper is out: the pump has stopped."
    });
    Ok(Answer::Frame)
}

fn lines(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let open = arguments.text("into") == Some("glasses");
    let pressure_pa = bench.now.engine.system_pa();
    if open == bench.now.workplace.lines_open {
        return Err(if open {
            "The lines lead into the glasses already.".into()
        } else {
            "The lines are on their injectors already.".to_string()
        });
    }
    bench.apply(&Action::OpenLines(open))?;
    bench.now.workplace.lines_open = open;
    bench.now.glasses.empty();
    bench.done(match (open, pressure_pa > UNDER_PRESSURE_PA) {
        (true, true) => "The lines lead into the glasses. They were under pressure, and fuel ran into the rag: relieve it first.",
        (true, false) => "Every line leads into its glass.",
        (false, _) => "Every line is back on its injector.",
    });
    Ok(Answer::Frame)
}

fn lift(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let mm = arguments.number("mm").unwrap_or(0.0);
    if mm == 0.0 {
        bench.apply(&Action::LetPlateGo)?;
        bench.done("The plate is let go and falls to its rest.");
    } else {
        bench.apply(&Action::LiftPlate(1e-3 * mm))?;
        bench.done(format!("The plate is held {mm} mm above its rest."));
    }
    bench.now.workplace.lifted_mm = mm;
    Ok(Answer::Frame)
}

fn stand(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let hours = arguments.number("hours").unwrap_or(0.0);
    bench.apply(&Action::Stand(3600.0 * hours))?;
    bench.done(format!("The car has stood for {hours} h."));
    Ok(Answer::Frame)
}
