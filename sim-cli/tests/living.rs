//! `live`: the page it writes, and acts answered here.

use crate::common::{json, refuses, run, text};
use serde_json::{Value, json as value};
use std::fs;
use tempfile::TempDir;

fn frames(folder: &TempDir, acts: &Value, flags: &[&str]) -> Vec<Value> {
    let path = folder.path().join("acts.json");
    fs::write(&path, acts.to_string()).unwrap();
    let args = [&["live", "--acts", path.to_str().unwrap()], flags].concat();
    let output = run(&args);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    text(&output.stdout).lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn a_page_is_one_file_that_connects_to_nothing() {
    let folder = TempDir::new().unwrap();
    let place = folder.path().join("bench.html");
    let found = json(&[
        "live",
        "--rig",
        "four",
        "--screw",
        "1/16",
        "--fail",
        "lambda=dead",
        "-o",
        place.to_str().unwrap(),
    ]);
    let page = fs::read_to_string(&place).unwrap();
    assert_eq!(found["bytes"], page.len());
    assert_eq!(found["file"], place.to_str().unwrap());
    assert_eq!(
        found["canonical_command"],
        "quarterturn live --rig four --screw 1/16 --fail lambda=dead"
    );
    assert!(page.starts_with("<!doctype html>") && page.contains("'wasm-unsafe-eval'"));
    assert!(page.contains("connect-src 'none'") && page.contains("\"screw\":0.0625"));
    assert!(page.contains("lambda=dead") && page.contains("plate_radius_mm"));
    let again = folder.path().join("again.html");
    json(&[
        "live",
        "--rig",
        "four",
        "--screw",
        "1/16",
        "--fail",
        "lambda=dead",
        "-o",
        again.to_str().unwrap(),
    ]);
    assert_eq!(page, fs::read_to_string(&again).unwrap(), "the same command writes the same page");
    refuses(folder.path(), &["live", "-o", "bench.html"], 5, &["exists"]);
    let lesson = folder.path().join("five.html");
    json(&["live", "--lesson", "5", "-o", lesson.to_str().unwrap()]);
    assert!(fs::read_to_string(lesson).unwrap().contains("the two rough edges"));
}

#[test]
fn acts_are_answered_a_line_each() {
    let folder = TempDir::new().unwrap();
    let acts = value!([
        { "act": "help" },
        { "act": "clip", "meter": "speed_rpm" },
        { "act": "key", "to": "start" },
        { "act": "wait", "seconds": 30 },
        { "act": "nothing" },
        { "act": "look" },
    ]);
    let lines = frames(&folder, &acts, &["--coolant-degc", "90"]);
    assert_eq!(lines.len(), 6);
    assert!(lines[0]["acts"].as_array().unwrap().len() > 20);
    let rpm = lines[3]["clipped"]["speed_rpm"].as_f64().unwrap();
    assert!((600.0..850.0).contains(&rpm), "{rpm}");
    assert!(lines[4]["error"].is_string());
    assert_eq!(lines[3]["time_s"], lines[5]["time_s"]);
    // The flags' faults act, and a session brings its own car.
    let faulty = value!([{ "act": "session" }]);
    let flags = ["--fail", "potentiometer=0.5", "--fail", "coolant=open", "--leak-kg-h", "2"];
    let session = &frames(&folder, &faulty, &flags)[0];
    let begin = &session["begin"];
    assert_eq!(begin["failed"], value!(["coolant=open"]));
    assert_eq!(
        (&begin["conditions"]["housing_mm"], &begin["conditions"]["leak_kg_h"]),
        (&value!(0.5), &value!(2.0))
    );
    let replayed =
        &frames(&folder, &value!({ "begin": begin, "acts": [{ "act": "session" }] }), &[])[0];
    assert_eq!(replayed["begin"], *begin);
    let found = json(&["live", "--acts", folder.path().join("acts.json").to_str().unwrap()]);
    assert_eq!(found["frames"].as_array().unwrap().len(), 1);
}

#[test]
fn a_lesson_asks_first() {
    let folder = TempDir::new().unwrap();
    let acts = value!([{ "act": "look" }, { "act": "wait", "seconds": 1 }, { "act": "predict", "text": "rich" }, { "act": "wait", "seconds": 1 }]);
    let lines = frames(&folder, &acts, &["--lesson", "5"]);
    assert_eq!(lines[0]["task"]["lesson"], 5);
    assert!(lines[0]["task"]["question"].as_str().unwrap().contains("middle"));
    assert!(lines[1]["error"].as_str().unwrap().contains("prediction"));
    assert_eq!(lines[3]["time_s"], 1.0);
}

#[test]
fn what_is_wrong_is_refused() {
    let folder = TempDir::new().unwrap();
    for (name, content) in [
        ("no.json", "acts"),
        ("none.json", "{}"),
        ("begin.json", r#"{"begin": {"rig": {"keys": {}}}, "acts": []}"#),
    ] {
        fs::write(folder.path().join(name), content).unwrap();
    }
    refuses(folder.path(), &["live", "--acts", "no.json"], 3, &["no.json", "JSON"]);
    refuses(folder.path(), &["live", "--acts", "none.json"], 3, &["no list of acts"]);
    refuses(folder.path(), &["live", "--acts", "begin.json"], 4, &["rig"]);
    refuses(folder.path(), &["live", "--acts", "gone.json"], 3, &["no such file"]);
    refuses(folder.path(), &["live", "--acts", "no.json", "-o", "x.html"], 2, &["--output"]);
    refuses(folder.path(), &["live", "--lesson", "77", "-o", "x.html"], 4, &["lesson"]);
    refuses(folder.path(), &["live", "--found", "-1", "-o", "x.html"], 4, &["--found"]);
    refuses(folder.path(), &["live", "--view", "inside", "-o", "x.html"], 2, &["teaching"]);
    refuses(folder.path(), &["live", "--rig", "nine", "-o", "x.html"], 3, &["nine"]);
    refuses(folder.path(), &["live", "-o", "no/where.html"], 5, &["no folder"]);
}
