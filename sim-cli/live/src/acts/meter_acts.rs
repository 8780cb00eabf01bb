//! Acts with meters and predictions.

use crate::act::{Act, Answer, Done, PLAIN};
use crate::arguments::{Arguments, Takes, may, needs};
use crate::bench::Bench;
use crate::meter::{Clipped, Kind};
use crate::notebook::Sort;
use sim_core::wording::tidy;

/// Names of the meters, in the order of their list.
const METERS: &[&str] = &[
    "needle_v",
    "digital_v",
    "speed_rpm",
    "actuator_ma",
    "duty_percent",
    "system_bar",
    "lower_chamber_bar",
    "co_percent",
    "vacuum_bar",
    "sensor_v",
    "idle_valve_percent",
];

pub const CLIP: Act = Act {
    name: "clip",
    does: "Clips a meter on: from now on a frame carries what it shows. Each meter has a caution of its own.",
    arguments: &[needs("meter", Takes::Word(METERS), "which meter")],
    moves: false,
    run: clip,
    ..PLAIN
};

pub const UNCLIP: Act = Act {
    name: "unclip",
    does: "Takes a meter off.",
    arguments: &[needs("meter", Takes::Word(METERS), "which meter")],
    moves: false,
    run: unclip,
    ..PLAIN
};

pub const PREDICT: Act = Act {
    name: "predict",
    does: "Writes a prediction: in words, or as what a meter will show.",
    arguments: &[
        may("text", Takes::Text, "what you expect, in words"),
        may("meter", Takes::Word(METERS), "the meter it is about"),
        may("value", Takes::Number("the meter's unit", -1e6, 1e6), "what it will show"),
    ],
    moves: false,
    run: predict,
    ..PLAIN
};

pub const READ: Act = Act {
    name: "read",
    does: "Writes down what a clipped meter shows, beside the prediction about it.",
    arguments: &[
        needs("meter", Takes::Word(METERS), "which meter"),
        may("text", Takes::Text, "words for the notebook"),
    ],
    moves: false,
    run: read,
    ..PLAIN
};

fn kind(arguments: &Arguments<'_>) -> Result<&'static Kind, String> {
    arguments.text("meter").and_then(Kind::find).ok_or("There is no such meter.".into())
}

fn clip(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let kind = kind(arguments)?;
    if bench.now.meters.iter().any(|meter| meter.kind.name == kind.name) {
        return Err(format!("{} is clipped on already.", kind.name));
    }
    bench.now.meters.push(Clipped::new(kind));
    bench.caution = Some(kind.caution);
    bench.done(format!("Clipped on: {}.", kind.about));
    Ok(Answer::Frame)
}

fn unclip(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let kind = kind(arguments)?;
    let Some(at) = bench.now.meters.iter().position(|meter| meter.kind.name == kind.name) else {
        return Err(format!("{} is not clipped on.", kind.name));
    };
    bench.now.meters.remove(at);
    bench.done(format!("Taken off: {}.", kind.about));
    Ok(Answer::Frame)
}

fn predict(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let (words, value) = (arguments.text("text").map(str::trim), arguments.number("value"));
    let kind = arguments.text("meter").and_then(Kind::find);
    let text = match (words.filter(|words| !words.is_empty()), kind, value) {
        (None, Some(kind), Some(value)) => format!("{}: {value} {}", kind.name, kind.unit),
        (Some(words), _, _) => words.to_string(),
        _ => return Err("A prediction is words, or a meter and the value it will show.".into()),
    };
    if value.is_some() && kind.is_none() {
        return Err("A value needs the meter that will show it.".into());
    }
    let time_s = bench.time_s();
    let note = bench.notebook.write(time_s, Sort::Prediction, text.clone());
    note.meter = kind.map(|kind| kind.name);
    note.unit = kind.map(|kind| kind.unit);
    note.predicted = value;
    bench.prediction_due = false;
    bench.sentence = format!("Your prediction is written down: {text}");
    Ok(Answer::Frame)
}

fn read(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let kind = kind(arguments)?;
    let Some(meter) = bench.now.meters.iter().find(|meter| meter.kind.name == kind.name) else {
        return Err(format!("{} is not clipped on.", kind.name));
    };
    let reading = meter.reading().ok_or(format!("{} shows nothing now.", kind.name))?;
    let predicted = bench.notebook.open_prediction(kind.name);
    let places = kind.decimals();
    let mut text = format!("{} reads {reading:.places$} {}.", kind.name, kind.unit);
    if let Some(predicted) = predicted {
        text = format!(
            "{text} Predicted: {predicted}; the difference is {:+.places$}.",
            reading - predicted
        );
    }
    if let Some(words) = arguments.text("text") {
        text = format!("{text} {words}");
    }
    let time_s = bench.time_s();
    let note = bench.notebook.write(time_s, Sort::Reading, text.clone());
    (note.meter, note.unit) = (Some(kind.name), Some(kind.unit));
    (note.predicted, note.reading) = (predicted, Some(reading));
    note.difference = predicted.map(|predicted| tidy(reading - predicted));
    bench.sentence = text;
    Ok(Answer::Frame)
}
