//! Acts at the fuel side of a standing engine: jumper, lines into glasses, plate by hand.

use super::{Act, Done, PLAIN};
use crate::arguments::{Arguments, Takes, needs};
use crate::bench::Bench;

pub const JUMPER: Act = Act {
    name: "jumper",
    does: "Puts the pump's jumper in or takes it out, the key off.",
    arguments: &[needs("in", Takes::Flag, "whether it is in")],
    caution: Some(
        "Pump on the jumper: key off, jumper fused and switched, no petrol about when it is put in, out again before the car is driven: with it in, the pump runs on in a crash.",
    ),
    ignored: Some(
        "With the plate off its rest or the screw too far in, fuel runs into the standing engine: it floods.",
    ),
    run: not_yet,
    ..PLAIN
};

pub const LINES: Act = Act {
    name: "lines",
    does: "Opens the injection lines into glasses, or closes them on the engine again.",
    arguments: &[needs("into", Takes::Word(&["glasses", "engine"]), "where they lead")],
    caution: Some(
        "Opened fuel lines: relieve the pressure first, rag over the union, eye protection and gloves, no flame, spark or smoking near, extinguisher at hand, doors open.",
    ),
    ignored: Some("Petrol under pressure sprays from the union."),
    run: not_yet,
    ..PLAIN
};

pub const LIFT: Act = Act {
    name: "lift",
    does: "Lifts the air plate by hand, the engine standing; 0 lets it go.",
    arguments: &[needs("mm", Takes::Number("mm", 0.0, 40.0), "how far above its rest")],
    caution: Some(
        "Lift the plate only with every line opened into its glass: with the injectors in, fuel fills a standing engine.",
    ),
    ignored: Some("Fuel runs into the ports: the engine is flooded and has to dry."),
    run: not_yet,
    ..PLAIN
};

fn not_yet(_: &mut Bench, _: &Arguments<'_>) -> Done {
    Err("The fuel side of the standing engine cannot be worked at in this version yet.".into())
}
