//! The bench from outside: acts in, frames out.

use live::Bench;
use serde_json::{Value, json};
use sim_core::conditions::Conditions;
use sim_core::flowstart::flow_start;
use sim_core::noise::Noise;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::steady::SteadyEngine;

fn act(bench: &mut Bench, act: Value) -> Value {
    let answer: Value = serde_json::from_str(&bench.answer(&act.to_string())).unwrap();
    assert!(answer.get("error").is_none(), "{act}: {answer}");
    answer
}

fn refused(bench: &mut Bench, act: Value) -> String {
    let before = bench.answer(r#"{"act": "look"}"#);
    let answer: Value = serde_json::from_str(&bench.answer(&act.to_string())).unwrap();
    let after = bench.answer(r#"{"act": "look"}"#);
    assert_eq!(before, after, "{act} is refused and has changed something");
    answer["error"].as_str().unwrap_or_else(|| panic!("{act} is not refused: {answer}")).to_string()
}

fn begun(begin: Value) -> Bench {
    let mut bench = Bench::default();
    let mut begin = begin;
    begin["act"] = json!("begin");
    act(&mut bench, begin);
    bench
}

/// A warm car, just started.
fn warm(conditions: Value) -> Bench {
    let mut all = json!({ "coolant_degc": 90, "fuel_degc": 30 });
    for (key, value) in conditions.as_object().unwrap() {
        all[key] = value.clone();
    }
    let mut bench = begun(json!({ "conditions": all }));
    act(&mut bench, json!({ "act": "key", "to": "start" }));
    bench
}

fn wait(bench: &mut Bench, seconds: f64) -> Value {
    act(bench, json!({ "act": "wait", "seconds": seconds }))
}

fn reads(bench: &mut Bench, meter: &str) -> f64 {
    let frame = act(bench, json!({ "act": "read", "meter": meter }));
    frame["notes"].as_array().unwrap().last().unwrap()["reading"].as_f64().unwrap()
}

/// `RIG=overwrite` writes the rig that the bench carries again.
#[test]
fn the_rig_that_the_bench_carries_is_six() {
    let is = live::rig_keys(&shipped("six").unwrap());
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/src/six.json");
    if std::env::var("RIG").is_ok_and(|word| word == "overwrite") {
        std::fs::write(path, format!("{is}\n")).unwrap();
    }
    let carried: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    assert_eq!(carried, is, "RIG=overwrite writes it again");
}

/// A job with many acts.
fn job() -> Vec<Value> {
    let mut acts = vec![
        json!({ "act": "clip", "meter": "needle_v" }),
        json!({ "act": "clip", "meter": "speed_rpm" }),
        json!({ "act": "clip", "meter": "co_percent" }),
        json!({ "act": "lines", "into": "glasses" }),
        json!({ "act": "jumper", "in": true }),
        json!({ "act": "wait", "seconds": 4 }),
        json!({ "act": "lift", "mm": 12 }),
        json!({ "act": "wait", "seconds": 20 }),
        json!({ "act": "lift", "mm": 0 }),
        json!({ "act": "wait", "seconds": 2 }),
        json!({ "act": "jumper", "in": false }),
        json!({ "act": "lines", "into": "engine" }),
        json!({ "act": "key", "to": "start" }),
        json!({ "act": "wait", "seconds": 20 }),
        json!({ "act": "snapshot", "name": "runs" }),
        json!({ "act": "tool", "in": true }),
        json!({ "act": "turn", "turns": "1/16" }),
        json!({ "act": "tool", "in": false }),
        json!({ "act": "blip" }),
    ];
    acts.extend((0..40).map(|_| json!({ "act": "wait", "seconds": 0.0333 })));
    acts.push(json!({ "act": "back", "name": "runs" }));
    acts.push(json!({ "act": "pedal", "percent": 5, "brake_rpm": 2000 }));
    acts.extend((0..40).map(|_| json!({ "act": "wait", "seconds": 0.05 })));
    acts.push(json!({ "act": "pedal", "percent": 0 }));
    acts.push(json!({ "act": "wait", "seconds": 30 }));
    acts
}

#[test]
fn the_same_acts_give_the_same_frames_and_a_session_replays() {
    let mut one = begun(json!({ "found": 5, "seed": 3 }));
    let mut two = begun(json!({ "found": 5, "seed": 3 }));
    for step in job() {
        let text = step.to_string();
        assert_eq!(one.answer(&text), two.answer(&text), "{step}");
    }
    let session = act(&mut one, json!({ "act": "session" }));
    let waits = session["acts"].as_array().unwrap().iter().filter(|act| act["act"] == "wait");
    assert_eq!(waits.count(), 7, "waits that follow each other are one: {session}");
    let mut third = Bench::default();
    let replayed = act(&mut third, json!({ "act": "replay", "session": session }));
    let last = act(&mut one, json!({ "act": "look" }));
    for key in ["time_s", "clipped", "seen", "notes", "kept"] {
        assert_eq!(replayed[key], last[key], "{key}");
    }
    // Both go on alike.
    assert_eq!(wait(&mut third, 5.0), wait(&mut one, 5.0));
    let mut other = begun(json!({ "found": 5, "seed": 4 }));
    let others: Vec<String> = job().iter().map(|step| other.answer(&step.to_string())).collect();
    assert_ne!(others.last(), job().last().map(|step| two.answer(&step.to_string())).as_ref());
}

#[test]
fn a_wait_in_pieces_is_a_wait_at_once() {
    let (mut one, mut two) = (warm(json!({})), warm(json!({})));
    for bench in [&mut one, &mut two] {
        act(bench, json!({ "act": "clip", "meter": "needle_v" }));
    }
    let at_once = wait(&mut one, 12.0);
    let mut pieces = Value::Null;
    for _ in 0..720 {
        pieces = wait(&mut two, 1.0 / 60.0);
    }
    for key in ["time_s", "clipped", "seen"] {
        assert_eq!(at_once[key], pieces[key], "{key}");
    }
}

#[test]
fn a_kept_moment_is_the_same_moment() {
    let mut bench = warm(json!({}));
    act(&mut bench, json!({ "act": "clip", "meter": "needle_v" }));
    wait(&mut bench, 10.0);
    act(&mut bench, json!({ "act": "snapshot" }));
    let went = wait(&mut bench, 7.0);
    act(&mut bench, json!({ "act": "tool", "in": true }));
    act(&mut bench, json!({ "act": "turn", "turns": 0.2 }));
    let turned = wait(&mut bench, 7.0);
    assert_ne!(went["clipped"], turned["clipped"]);
    act(&mut bench, json!({ "act": "back" }));
    let again = wait(&mut bench, 7.0);
    for key in ["time_s", "clipped", "heard", "seen"] {
        assert_eq!(went[key], again[key], "{key}");
    }
    assert!(again["notes"].to_string().contains("Went back"), "the notebook stays");
    refused(&mut bench, json!({ "act": "back", "name": "nowhere" }));
}

/// Cars that differ in what nobody has told look and sound alike until that is heard or seen.
#[test]
fn nothing_hidden_can_be_read_off_a_frame() {
    let hidden = [
        json!({ "screw": 0.3 }),
        json!({ "housing_mm": 0.7 }),
        json!({ "rest_height_mm": 0.3 }),
        json!({ "leak_kg_h": 3 }),
        json!({ "linkage_play_mm": -0.4 }),
        json!({ "misfire_percent": 10 }),
        json!({ "wear_mv": 300 }),
        json!({ "pump_percent": 60 }),
        json!({ "exhaust_leak_percent": 10 }),
        json!({ "check_valve": "leaks" }),
        json!({ "first_injector_bar": 1 }),
    ];
    let mut standing = vec![
        json!({ "act": "look" }),
        json!({ "act": "key", "to": "on" }),
        json!({ "act": "wait", "seconds": 3 }),
        json!({ "act": "key", "to": "off" }),
        json!({ "act": "tool", "in": true }),
        json!({ "act": "turn", "turns": "1/32" }),
        json!({ "act": "turn", "turns": "-1/32" }),
        json!({ "act": "connector", "part": "lambda-sensor", "on": false }),
    ];
    // Meters that do not show it: the engine stands.
    for meter in
        ["speed_rpm", "duty_percent", "actuator_ma", "co_percent", "vacuum_bar", "sensor_v"]
    {
        standing.push(json!({ "act": "clip", "meter": meter }));
    }
    standing.push(json!({ "act": "wait", "seconds": 20 }));
    for conditions in hidden {
        let mut sound = begun(json!({}));
        let mut car = begun(json!({ "conditions": conditions }));
        for step in &standing {
            let text = step.to_string();
            assert_eq!(sound.answer(&text), car.answer(&text), "{conditions} shows at {step}");
        }
    }
    for seed in 0..20 {
        let mut sound = begun(json!({}));
        let mut car = begun(json!({ "found": seed }));
        for step in &standing {
            let text = step.to_string();
            assert_eq!(sound.answer(&text), car.answer(&text), "car {seed} shows at {step}");
        }
        let why = refused(&mut car, json!({ "act": "view", "to": "teaching" }));
        assert!(why.contains("exercise"), "{why}");
    }
    // A running car in an exercise says no number of its inside.
    let mut car = begun(json!({ "found": 3 }));
    act(&mut car, json!({ "act": "key", "to": "start" }));
    let frame = wait(&mut car, 60.0).to_string();
    for word in ["lambda\"", "cov", "screw_turns", "leak", "mm2", "kg_h", "_v\"", "_bar", "misfire"]
    {
        assert!(!frame.contains(word), "{word} in {frame}");
    }
}

/// A turned housing moves the wiper's voltage; at a warm open loop an ear makes nothing of it.
#[test]
fn a_turned_housing_is_found_by_the_voltmeter_alone() {
    let conditions = |housing: f64| json!({ "housing_mm": housing, "trim": "off" });
    let (mut sound, mut turned) = (warm(conditions(0.0)), warm(conditions(0.5)));
    let (one, two) = (wait(&mut sound, 120.0), wait(&mut turned, 120.0));
    for key in ["engine", "evenness", "speed", "hiss", "lost_beats"] {
        assert_eq!(one["heard"][key], two["heard"][key], "{key}");
    }
    assert_eq!(one["seen"], two["seen"]);
    for bench in [&mut sound, &mut turned] {
        act(bench, json!({ "act": "clip", "meter": "digital_v" }));
        wait(bench, 20.0);
    }
    let (at, off) = (reads(&mut sound, "digital_v"), reads(&mut turned, "digital_v"));
    assert!(off > at + 0.05, "{at} V, {off} V");
}

#[test]
fn any_text_gets_an_answer() {
    let mut bench = Bench::default();
    for text in [
        "",
        " ",
        "{",
        "[]",
        "null",
        "7",
        "\"act\"",
        "{}",
        r#"{"act":7}"#,
        r#"{"act":"look","x":1}"#,
        r#"{"act":"wait"}"#,
        r#"{"act":"wait","seconds":1e999}"#,
        r#"{"act":"wait","seconds":-1}"#,
        r#"{"act":"wait","seconds":"x"}"#,
        r#"{"act":"begin","rig":"six"}"#,
        r#"{"act":"begin","rig":{"keys":{"pump_stall_bar":1e9}}}"#,
        r#"{"act":"begin","conditions":[]}"#,
        r#"{"act":"begin","conditions":{"screw":1e9}}"#,
        r#"{"act":"begin","conditions":{"no_such":1}}"#,
        r#"{"act":"begin","failed":["x"]}"#,
        r#"{"act":"begin","lesson":7}"#,
        r#"{"act":"replay","session":{}}"#,
        r#"{"act":"replay","session":7}"#,
        r#"{"act":"replay","session":{"acts":[{"act":"replay","session":{}}]}}"#,
        r#"{"act":"turn","turns":"1/0"}"#,
        r#"{"act":"clip","meter":"nothing"}"#,
        "\u{0}\u{ffff}",
        r#"{"act":"l\u0000ok"}"#,
    ] {
        let answer: Value = serde_json::from_str(&bench.answer(text)).unwrap();
        let sentence = answer["error"].as_str().unwrap_or_else(|| panic!("{text}: {answer}"));
        assert!(sentence.ends_with('.') && sentence.len() > 15, "{text}: {sentence}");
    }
    let near = refused(&mut bench, json!({ "act": "blipp" }));
    assert!(near.contains("`blip`"), "{near}");
    let deep = "[".repeat(100_000);
    assert!(bench.answer(&deep).contains("error"));
}

/// Acts in any order with any numbers within their ranges: every answer is a frame with finite
/// numbers, or a sentence.
#[test]
fn acts_in_any_order_never_break_it() {
    let help = act(&mut Bench::default(), json!({ "act": "help" }));
    let acts = help["acts"].as_array().unwrap();
    for seed in 0..6 {
        let mut noise = Noise::new(seed, 0);
        let mut pick = |most: usize| (noise.uniform() * most as f64) as usize;
        let mut bench = begun(json!({ "found": seed }));
        for _ in 0..250 {
            let one = &acts[pick(acts.len())];
            if ["begin", "replay", "help"].contains(&one["act"].as_str().unwrap()) {
                continue;
            }
            let mut step = json!({ "act": one["act"] });
            for argument in one["arguments"].as_array().unwrap() {
                let name = argument["name"].as_str().unwrap();
                let range = &argument["range"];
                step[name] =
                    match (argument["takes"].as_str().unwrap(), argument["words"].as_array()) {
                        (_, Some(words)) => words[pick(words.len())].clone(),
                        ("true or false", _) => json!(pick(2) == 1),
                        ("text", _) => json!("words"),
                        _ => {
                            let (low, high) =
                                (range[0].as_f64().unwrap(), range[1].as_f64().unwrap());
                            let share = pick(101) as f64 / 100.0;
                            json!(if name == "seconds" {
                                5.0 * share
                            } else {
                                low + share * (high - low)
                            })
                        }
                    };
            }
            let answer: Value = serde_json::from_str(&bench.answer(&step.to_string())).unwrap();
            if let Some(why) = answer.get("error") {
                assert!(why.as_str().unwrap().ends_with('.'), "{step}: {why}");
            } else {
                assert!(answer.is_object(), "{step}: {answer}");
            }
            let frame = act(&mut bench, json!({ "act": "look" }));
            for key in [
                "time_s", "clipped", "heard", "seen", "notes", "caution", "sentence", "task",
                "kept",
            ] {
                assert!(frame.get(key).is_some(), "{step}: no {key} in {frame}");
            }
        }
    }
}

#[test]
fn help_lists_every_act_with_what_it_needs() {
    let help = act(&mut Bench::default(), json!({ "act": "help" }));
    let acts = help["acts"].as_array().unwrap();
    for one in acts {
        let name = one["act"].as_str().unwrap();
        assert!(one["does"].as_str().unwrap().ends_with('.'), "{name}");
        for argument in one["arguments"].as_array().unwrap() {
            assert!(!argument["meaning"].as_str().unwrap().is_empty(), "{name}: {argument}");
            assert!(
                argument["unit"].is_null() == argument["range"].is_null(),
                "{name}: {argument}"
            );
        }
        assert!(one["ignored"].is_null() || one["caution"].is_string(), "{name}");
    }
    for name in [
        "key", "jumper", "lines", "lift", "tool", "turn", "pedal", "blip", "battery", "housing",
        "rest",
    ] {
        let one = acts.iter().find(|one| one["act"] == name).unwrap();
        assert!(one["caution"].is_string(), "{name} needs a caution");
    }
    let mut bench = Bench::default();
    for meter in help["meters"].as_array().unwrap() {
        let frame = act(&mut bench, json!({ "act": "clip", "meter": meter["meter"] }));
        assert!(
            frame["caution"].is_string()
                && frame["clipped"].get(meter["meter"].as_str().unwrap()).is_some()
        );
    }
}

#[test]
fn a_lesson_waits_for_its_prediction() {
    let lesson = json!({ "number": 5, "title": "T", "task": "Do", "question": "What?" });
    let mut bench = begun(json!({ "lesson": lesson }));
    let frame = act(&mut bench, json!({ "act": "look" }));
    assert_eq!(frame["task"]["prediction_due"], true);
    assert!(frame["seen"]["section"].is_object(), "a lesson is a teaching view");
    for step in [json!({ "act": "wait", "seconds": 1 }), json!({ "act": "key", "to": "on" })] {
        assert!(refused(&mut bench, step).contains("prediction"));
    }
    act(&mut bench, json!({ "act": "clip", "meter": "needle_v" }));
    refused(&mut bench, json!({ "act": "predict" }));
    act(&mut bench, json!({ "act": "predict", "meter": "needle_v", "value": 0.72 }));
    act(&mut bench, json!({ "act": "key", "to": "start" }));
    wait(&mut bench, 200.0);
    let frame = act(&mut bench, json!({ "act": "read", "meter": "needle_v" }));
    let note = frame["notes"].as_array().unwrap().last().unwrap().clone();
    let (reading, difference) =
        (note["reading"].as_f64().unwrap(), note["difference"].as_f64().unwrap());
    assert!((reading - 0.72 - difference).abs() < 1e-9 && note["predicted"] == 0.72, "{note}");
    assert!((reading / 0.025).fract().abs() < 1e-6 || (reading / 0.025).fract() > 1.0 - 1e-6);
}

/// The whole job by hand: flow start, a quarter back, start, warm, volts. Where fuel shows and what
/// the meters show are those of the static setting and of the warm point.
#[test]
fn the_whole_job_from_standing_to_the_volts() {
    for (name, _) in SHIPPED {
        let file = shipped(name).unwrap();
        let rig = file.rig;
        let conditions = json!({ "screw": -0.4, "lines": "full" });
        let mut bench = begun(json!({ "rig": live::rig_keys(&file), "conditions": conditions }));
        act(&mut bench, json!({ "act": "lines", "into": "glasses" }));
        act(&mut bench, json!({ "act": "jumper", "in": true }));
        act(&mut bench, json!({ "act": "tool", "in": true }));
        let mut frame = wait(&mut bench, 6.0);
        let mut turned = 0.0;
        while frame["seen"]["dripping"] == false {
            act(&mut bench, json!({ "act": "turn", "turns": "1/64" }));
            turned += 1.0 / 64.0;
            frame = wait(&mut bench, 4.0);
            assert!(turned < 2.0, "{name}: no fuel at {frame}");
        }
        let cold = Conditions { fuel_k: 293.15, coolant_k: 293.15, ..Conditions::default() };
        let setup = Setup { rig, conditions: cold };
        let found = flow_start(&setup, 0.25).unwrap();
        let off = -0.4 + turned - found.flow_start_turns;
        assert!((-1e-6..1.0 / 64.0 + 1e-6).contains(&off), "{name}: fuel shows {off} turn off");
        act(&mut bench, json!({ "act": "turn", "turns": "-1/4" }));
        frame = wait(&mut bench, 30.0);
        assert_eq!(frame["seen"]["dripping"], false, "{name}");
        for step in [
            json!({ "act": "tool", "in": false }),
            json!({ "act": "jumper", "in": false }),
            json!({ "act": "lines", "into": "engine" }),
            json!({ "act": "connector", "part": "lambda-sensor", "on": false }),
            json!({ "act": "clip", "meter": "digital_v" }),
            json!({ "act": "clip", "meter": "co_percent" }),
            json!({ "act": "clip", "meter": "speed_rpm" }),
            json!({ "act": "key", "to": "start" }),
        ] {
            act(&mut bench, step);
        }
        for _ in 0..5 {
            frame = wait(&mut bench, 600.0);
        }
        assert_eq!(
            (&frame["heard"]["engine"], &frame["seen"]["coolant"]),
            (&json!("running"), &json!("warm"))
        );
        // The fuel stays as cold as the workshop in this model, the coolant does not.
        let warm = Conditions { fuel_k: 293.15, ..Conditions::default() };
        let point = SteadyEngine::new(&rig, &warm).point(-0.4 + turned - 0.25);
        let state = point.state().unwrap();
        let volts = (0..10)
            .map(|_| {
                wait(&mut bench, 1.0);
                reads(&mut bench, "digital_v") / 10.0
            })
            .sum::<f64>();
        assert!(
            (volts - state.potentiometer_v).abs() < 0.02,
            "{name}: {volts} V, {}",
            state.potentiometer_v
        );
        let co = reads(&mut bench, "co_percent");
        assert!((co - 100.0 * state.co).abs() < 0.4, "{name}: {co} %, {}", 100.0 * state.co);
        let rpm = reads(&mut bench, "speed_rpm");
        assert!((rpm / (state.speed_rad_s * 9.549297) - 1.0).abs() < 0.03, "{name}: {rpm} rpm");
    }
}

#[test]
fn cautions_not_heeded_go_wrong() {
    // The tool left in the screw.
    let mut bench = warm(json!({}));
    wait(&mut bench, 10.0);
    act(&mut bench, json!({ "act": "tool", "in": true }));
    let frame = act(&mut bench, json!({ "act": "blip" }));
    assert!(frame["sentence"].as_str().unwrap().contains("fan"), "{frame}");
    assert_eq!(frame["seen"]["screw"]["tool_in"], false);
    refused(&mut bench, json!({ "act": "turn", "turns": 0.1 }));
    // A pedal that is never let go: the controller cuts the fuel below the speed asked for.
    let mut rig = live::rig_keys(&shipped("six").unwrap());
    rig["keys"]["limit_rpm"] = json!(2000);
    let mut bench = begun(json!({ "rig": rig }));
    act(&mut bench, json!({ "act": "key", "to": "start" }));
    wait(&mut bench, 10.0);
    let why = refused(&mut bench, json!({ "act": "blip", "rpm": 3000 }));
    assert!(why.contains("above 2000 rpm"), "{why}");
    act(&mut bench, json!({ "act": "blip", "rpm": 1900 }));
    // The plate lifted with the injectors in.
    let mut bench = begun(json!({}));
    act(&mut bench, json!({ "act": "jumper", "in": true }));
    let frame = wait(&mut bench, 3.0);
    assert_eq!((&frame["heard"]["pump"], &frame["seen"]["smell"]), (&json!(true), &json!("none")));
    act(&mut bench, json!({ "act": "lift", "mm": 25 }));
    let frame = wait(&mut bench, 20.0);
    assert_eq!(frame["seen"]["smell"], "petrol");
    assert!(frame["sentence"].as_str().unwrap().contains("smells of petrol"), "{frame}");
    refused(&mut bench, json!({ "act": "key", "to": "start" }));
    act(&mut bench, json!({ "act": "lift", "mm": 0 }));
    act(&mut bench, json!({ "act": "jumper", "in": false }));
    act(&mut bench, json!({ "act": "key", "to": "start" }));
    let frame = wait(&mut bench, 6.0);
    assert_eq!(frame["heard"]["engine"], "cranking", "it starts on flooded ports");
    act(&mut bench, json!({ "act": "key", "to": "off" }));
    wait(&mut bench, 5.0);
    act(&mut bench, json!({ "act": "stand", "hours": 5 }));
    act(&mut bench, json!({ "act": "key", "to": "start" }));
    let frame = wait(&mut bench, 10.0);
    assert_eq!(frame["heard"]["engine"], "running", "{frame}");
    // What would spray petrol is refused.
    refused(&mut bench, json!({ "act": "lines", "into": "glasses" }));
    refused(&mut bench, json!({ "act": "battery", "on": false }));
}

/// The beats heard scatter as the point says, sparks lost included, and a leak whistles.
#[test]
fn the_beat_follows_the_roughness_of_the_point() {
    for (conditions, screw) in
        [(json!({}), 0.0), (json!({ "misfire_percent": 8 }), 0.0), (json!({}), 0.06)]
    {
        let mut given = conditions.clone();
        given["trim"] = json!("off");
        given["screw"] = json!(screw);
        let mut bench = warm(given);
        wait(&mut bench, 120.0);
        let mut works = Vec::new();
        while works.len() < 4000 {
            let frame = wait(&mut bench, 1.0);
            let beats = frame["heard"]["beats"].as_array().unwrap();
            assert_eq!(beats.len() as u64, frame["heard"]["beats_passed"].as_u64().unwrap());
            works.extend(beats.iter().map(|beat| beat[2].as_f64().unwrap()));
        }
        let misfire = 0.01 * conditions["misfire_percent"].as_f64().unwrap_or(0.0);
        let point = SteadyEngine::new(
            &shipped("six").unwrap().rig,
            &Conditions { misfire, ..Conditions::default() },
        )
        .point(screw);
        let cov = point.cov().unwrap();
        let count = works.len() as f64;
        let mean = works.iter().sum::<f64>() / count;
        let square = works.iter().map(|work| (work - mean).powi(2)).sum::<f64>() / count;
        let heard = square.sqrt() / mean;
        assert!(
            (heard / cov - 1.0).abs() < 0.1,
            "{conditions} {screw}: heard {heard}, the point {cov}"
        );
    }
    let hiss = |leak: f64| {
        let mut bench = warm(json!({ "leak_kg_h": leak }));
        wait(&mut bench, 5.0)["heard"]["hiss"].clone()
    };
    assert_eq!((hiss(0.0), hiss(0.5), hiss(3.0)), (json!(false), json!(false), json!(true)));
}

/// An analyser shows nothing of a change for its dead time, then comes to it.
#[test]
fn the_analyser_shows_what_left_the_engine_before() {
    let mut bench = warm(json!({ "trim": "off" }));
    act(&mut bench, json!({ "act": "clip", "meter": "co_percent" }));
    let before = wait(&mut bench, 60.0)["clipped"]["co_percent"].as_f64().unwrap();
    act(&mut bench, json!({ "act": "tool", "in": true }));
    act(&mut bench, json!({ "act": "turn", "turns": "1/16" }));
    let early = wait(&mut bench, 5.0)["clipped"]["co_percent"].as_f64().unwrap();
    let late = wait(&mut bench, 15.0)["clipped"]["co_percent"].as_f64().unwrap();
    assert!((early - before).abs() < 0.3 && late > before + 1.5, "{before} {early} {late}");
}
