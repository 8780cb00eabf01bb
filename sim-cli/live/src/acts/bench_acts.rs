//! Acts about the bench itself: begin, look, wait, write, keep, go back.

use crate::act::{Act, Answer, Done, PLAIN};
use crate::arguments::{Arguments, Takes, may, needs};
use crate::bench::{Bench, KEPT_MOST, WAIT_MOST_S};
use crate::notebook::Sort;
use serde_json::json;

/// The largest seed: whole numbers beyond are not all told apart.
const SEED_MOST: f64 = 9e15;
/// The name of a moment that is not given one.
const MARK: &str = "mark";

pub const HELP: Act = Act {
    name: "help",
    does: "Lists every act with its arguments, and every meter.",
    moves: false,
    changes: false,
    run: |_, _| Ok(Answer::Help),
    ..PLAIN
};

pub const BEGIN: Act = Act {
    name: "begin",
    does: "Puts another car on the bench: its rig, what it is run under, and what nobody has told.",
    arguments: &[
        may(
            "rig",
            Takes::Data("object: name, keys"),
            "name and keys of a rig file, each key with its value; the shipped rig `six` unless given",
        ),
        may(
            "conditions",
            Takes::Data("object: key to number or word"),
            "values of keys, as `quarterturn rig keys` lists them",
        ),
        may("failed", Takes::Data("list of SENSOR=MODE"), "sensors that have failed"),
        may(
            "found",
            Takes::Number("seed", 0.0, SEED_MOST),
            "draws what the last owner has left wrong from this seed; nothing unless given",
        ),
        may(
            "seed",
            Takes::Number("seed", 0.0, SEED_MOST),
            "seed of all other chance; 1 unless given",
        ),
        may(
            "lesson",
            Takes::Data("object: number, title, task, question"),
            "a lesson: nothing moves until a prediction is written",
        ),
        may(
            "view",
            Takes::Word(&["teaching", "exercise"]),
            "teaching: the section is cut open; exercise: only what hand and eye can reach",
        ),
    ],
    moves: false,
    changes: false,
    run: begin,
    ..PLAIN
};

pub const LOOK: Act = Act {
    name: "look",
    does: "Looks and listens: gives the frame of this moment. No time passes.",
    moves: false,
    changes: false,
    ..PLAIN
};

pub const WAIT: Act = Act {
    name: "wait",
    does: "Lets time pass. However long it is, every hundredth of a second is worked out.",
    arguments: &[needs("seconds", Takes::Number("s", 0.0, WAIT_MOST_S), "how long")],
    run: |bench, arguments| {
        bench.wait(arguments.number("seconds").unwrap_or(0.0)).map(|()| Answer::Frame)
    },
    ..PLAIN
};

pub const NOTE: Act = Act {
    name: "note",
    does: "Writes words of your own into the notebook.",
    arguments: &[needs("text", Takes::Text, "the words")],
    moves: false,
    run: |bench, arguments| {
        bench.done(arguments.text("text").unwrap_or_default());
        Ok(Answer::Frame)
    },
    ..PLAIN
};

pub const NOTES: Act = Act {
    name: "notes",
    does: "Gives the whole notebook; a frame carries its last twelve notes.",
    moves: false,
    changes: false,
    run: |bench, _| Ok(Answer::Own(json!({ "notes": bench.notebook.all() }))),
    ..PLAIN
};

pub const SNAPSHOT: Act = Act {
    name: "snapshot",
    does: "Keeps this moment, to go back to it. At most 24 are kept; the oldest goes.",
    arguments: &[may(
        "name",
        Takes::Text,
        "its name; `mark` unless given; a name used again is overwritten",
    )],
    moves: false,
    run: snapshot,
    ..PLAIN
};

pub const BACK: Act = Act {
    name: "back",
    does: "Goes back to a kept moment: engine, tools, meters and clock. The notebook stays.",
    arguments: &[may("name", Takes::Text, "its name; the last one kept unless given")],
    run: back,
    ..PLAIN
};

pub const VIEW: Act = Act {
    name: "view",
    does: "Cuts the section open (teaching), or closes it (exercise). A car with a hidden state stays closed.",
    arguments: &[needs("to", Takes::Word(&["teaching", "exercise"]), "which view")],
    moves: false,
    run: view,
    ..PLAIN
};

pub const SESSION: Act = Act {
    name: "session",
    does: "Gives the session: what it began with and every act since, to be replayed.",
    moves: false,
    changes: false,
    run: |bench, _| Ok(Answer::Own(bench.session())),
    ..PLAIN
};

pub const REPLAY: Act = Act {
    name: "replay",
    does: "Does a session's acts again from its beginning: the same acts give the same frames.",
    arguments: &[needs("session", Takes::Data("object: begin, acts"), "what `session` gave")],
    moves: false,
    changes: false,
    run: |_, _| Ok(Answer::Replay),
    ..PLAIN
};

fn begin(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    *bench = Bench::begin(arguments)?;
    Ok(Answer::Frame)
}

fn snapshot(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let name = arguments.text("name").unwrap_or(MARK).to_string();
    bench.kept.retain(|(kept, _)| *kept != name);
    if bench.kept.len() == KEPT_MOST {
        bench.kept.remove(0);
    }
    bench.kept.push((name.clone(), bench.now.clone()));
    bench.tell(Sort::Moment, format!("Kept this moment as \"{name}\"."));
    Ok(Answer::Frame)
}

fn back(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let last = bench.kept.last().map(|(name, _)| name.clone());
    let name = arguments.text("name").map(str::to_string).or(last);
    let name = name.ok_or("No moment has been kept yet: `snapshot` keeps one.")?;
    let Some((_, moment)) = bench.kept.iter().find(|(kept, _)| *kept == name) else {
        return Err(format!("No moment is kept as \"{name}\"."));
    };
    let from_s = bench.time_s();
    bench.now = moment.clone();
    bench.now.hearing.begin_frame();
    bench.tell(Sort::Moment, format!("Went back from {from_s:.0} s to \"{name}\"."));
    Ok(Answer::Frame)
}

fn view(bench: &mut Bench, arguments: &Arguments<'_>) -> Done {
    let teaching = arguments.text("to") == Some("teaching");
    if teaching && bench.beginning.found.is_some() {
        return Err(
            "This car is an exercise: what is inside is found by hand, eye, ear and meter.".into(),
        );
    }
    bench.teaching = teaching;
    bench.done(if teaching { "The section is cut open." } else { "The section is closed." });
    Ok(Answer::Frame)
}
