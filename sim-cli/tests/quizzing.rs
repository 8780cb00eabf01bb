//! Questions, and answers marked.

use crate::common::{json, run, text};
use tempfile::TempDir;

fn questions(args: &[&str]) -> Vec<serde_json::Value> {
    json(&[&["quiz"], args].concat())["questions"].as_array().unwrap().clone()
}

/// Marks of a file of answers.
fn marks(args: &[&str], answers: &str) -> Vec<serde_json::Value> {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("answers.json");
    std::fs::write(&file, answers).unwrap();
    let args = [&["quiz"], args, &["--answers", file.to_str().unwrap()]].concat();
    json(&args)["marks"].as_array().unwrap().clone()
}

#[test]
fn every_lesson_has_two_questions_on_every_shipped_rig() {
    for rig in ["six", "four", "eight"] {
        for seed in ["1", "2"] {
            let found = questions(&["--rig", rig, "--seed", seed]);
            for lesson in (1..=15).chain([17]) {
                let count = found.iter().filter(|q| q["lesson"] == lesson).count();
                assert!(count >= 2, "{rig}, seed {seed}: lesson {lesson} has {count}");
            }
            let mut ids: Vec<&str> = found.iter().map(|q| q["id"].as_str().unwrap()).collect();
            ids.sort();
            ids.dedup();
            assert_eq!(ids.len(), found.len());
        }
    }
}

#[test]
fn a_seed_asks_the_same_again_and_another_seed_other_numbers() {
    let first = questions(&["--seed", "7"]);
    assert_eq!(first, questions(&["--seed", "7"]));
    let other = questions(&["--seed", "8"]);
    let changed = first.iter().zip(&other).filter(|(a, b)| a["text"] != b["text"]).count();
    assert!(changed > first.len() / 2, "{changed} of {}", first.len());
    let alone = questions(&["--seed", "7", "--lesson", "6"]);
    let among: Vec<_> = first.iter().filter(|q| q["lesson"] == 6).cloned().collect();
    assert_eq!(alone, among);
    for question in &first {
        let keys: Vec<&String> = question.as_object().unwrap().keys().collect();
        assert_eq!(keys, ["id", "lesson", "text", "unit", "choices"]);
    }
}

/// The first number after some words of a text.
fn number_after(text: &str, words: &str) -> f64 {
    let rest = text.split(words).nth(1).unwrap_or_else(|| panic!("{text}: no {words}"));
    let rest = rest.trim_start();
    let end = rest.find(|c: char| !(c.is_ascii_digit() || "+-.".contains(c))).unwrap_or(rest.len());
    rest[..end].trim_end_matches('.').parse().unwrap_or_else(|_| panic!("{text}: {words}"))
}

/// An answer to every question, of the right kind and most likely wrong.
fn guesses(questions: &[serde_json::Value]) -> String {
    let guess = |question: &serde_json::Value| match question["choices"].as_array() {
        Some(choices) => choices[0].clone(),
        None => 0.into(),
    };
    let id = |question: &serde_json::Value| question["id"].as_str().unwrap().to_string();
    let all = questions.iter().map(|question| (id(question), guess(question)));
    serde_json::Value::Object(all.collect()).to_string()
}

#[test]
fn no_reader_is_told_what_is_right_before_a_prediction() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("answers.txt");
    std::fs::write(&file, "01-leak 1\n").unwrap();
    let whole = marks(&["--lesson", "1"], "{\"01-leak\": 1}");
    for form in ["table", "csv"] {
        let place = file.to_str().unwrap();
        let args = ["quiz", "--lesson", "1", "--answers", place, "--format", form];
        let said = text(&run(&args).stdout).replace('\n', " ");
        for mark in &whole {
            let why = mark["why"].as_str().unwrap().split(' ').take(4).collect::<Vec<_>>();
            let render = said.contains(&why.join(" "));
            assert_eq!(render, mark["id"] == "01-leak", "{form}: {mark} {said}");
        }
    }
}

#[test]
fn answers_may_be_written_as_lines() {
    let asked = questions(&["--lesson", "5"]);
    let expected = marks(&["--lesson", "5"], &guesses(&asked));
    let mut lines = String::from("\u{feff}# mine\n\n");
    for mark in &expected {
        let right = &mark["expected"];
        let right = right.as_str().map_or_else(|| right.to_string(), str::to_string);
        let unit = mark["unit"].as_str().unwrap();
        lines += &format!("{}: {right} {unit}\r\n", mark["id"].as_str().unwrap());
    }
    let marked = marks(&["--lesson", "5"], &lines);
    assert!(marked.iter().all(|mark| mark["right"] == true), "{lines} {marked:?}");
}

#[test]
fn what_the_quiz_expects_is_what_the_commands_compute() {
    for seed in ["1", "2", "3", "4"] {
        let found = questions(&["--seed", seed]);
        let marked = marks(&["--seed", seed], &guesses(&found));
        assert_eq!(found.len(), marked.len());
        let of = |id: &str| {
            let at = found.iter().position(|q| q["id"] == id).unwrap();
            let text = found[at]["text"].as_str().unwrap().to_string();
            (text, marked[at]["expected"].as_f64().unwrap())
        };
        let after = |args: &[&str], key: &str| {
            json(&[&["predict"], args].concat())["after"][key].as_f64().unwrap()
        };
        let near = |a: f64, b: f64, step: f64| assert!((a - b).abs() <= step, "{a} and {b}");

        let (text, expected) = of("02-climb");
        let change = format!("altitude_m={}", number_after(&text, "sea to"));
        near(after(&["--change", &change], "lambda"), expected, 1e-4);

        let (text, expected) = of("10-duty");
        let change = format!("altitude_m={}", number_after(&text, "What is it at"));
        near(after(&["--change", &change, "--trim", "on"], "duty_percent"), expected, 0.1);

        let (text, expected) = of("01-leak");
        let change = format!("leak_kg_h={}", number_after(&text, "idle air held."));
        near(after(&["--change", &change], "lambda"), expected, 1e-4);

        let (text, expected) = of("07-speed");
        let change = format!("speed_rpm={}", number_after(&text, "is held at"));
        near(after(&["--change", &change], "potentiometer_v"), expected, 1e-4);

        // Pressure of the ISO 2533 standard atmosphere, its closed form (constants from
        // memory); in air as warm the density goes with the pressure.
        let (text, expected) = of("02-thin-air");
        let ratio = (1.0 - 2.25577e-5 * number_after(&text, "as high at")).powf(5.25588);
        near(100.0 * (1.0 - ratio.sqrt()), expected, 0.05);

        // A divider (Thevenin): what the load takes is V R_s / (R_s + R_m).
        let (text, expected) = of("13-load");
        let (volts, source) = (number_after(&text, "stands at"), number_after(&text, "V with"));
        let meter = number_after(&text, "A needle of") * number_after(&text, "range");
        near(1e3 * volts * source / (source + meter), expected, 0.1);
    }
}

#[test]
fn answers_are_marked_within_their_tolerance() {
    let none = marks(&[], "{}");
    assert!(none.iter().all(|mark| mark["right"] == false && mark["given"].is_null()));
    let expected = marks(&[], &guesses(&questions(&[])));
    let mut right = serde_json::Map::new();
    let mut wrong = Vec::new();
    for (mark, question) in expected.iter().zip(&questions(&[])) {
        let id = mark["id"].as_str().unwrap();
        assert!(mark["why"].as_str().unwrap().len() > 10, "{mark}");
        match mark["expected"].as_f64() {
            Some(value) => {
                let tolerance = mark["tolerance"].as_f64().unwrap();
                assert!(tolerance > 0.0);
                right.insert(id.into(), (value + 0.8 * tolerance).into());
                wrong.push(serde_json::json!({"id": id, "answer": value - 1.3 * tolerance}));
            }
            None => {
                right.insert(id.into(), mark["expected"].clone());
                let choices = question["choices"].as_array().unwrap();
                let other = choices.iter().find(|word| **word != mark["expected"]).unwrap();
                wrong.push(serde_json::json!({"id": id, "answer": other}));
            }
        }
    }
    let right = serde_json::Value::Object(right).to_string();
    assert!(marks(&[], &right).iter().all(|mark| mark["right"] == true));
    let wrong = serde_json::Value::Array(wrong).to_string();
    assert!(marks(&[], &wrong).iter().all(|mark| mark["right"] == false));
    // Turns as they are typed.
    let ear = marks(&["--lesson", "5"], "{\"05-by-ear\": \"1/2\"}");
    assert_eq!(ear[0]["given"], "1/2");
    assert_eq!(ear[0]["right"], false);
}

#[test]
fn a_bad_file_of_answers_is_told_by_file_line_and_key() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("answers.json");
    for (answers, words) in [
        ("{\n\"01-leek\": 1}", ["line 2", "did you mean `01-leak`"]),
        ("{\"01-leak\":\n \"much\"}", ["line 1, \"01-leak\"", "\"much\" is not a number"]),
        ("{\"01-leak\": [1]}", ["01-leak", "is not a number"]),
        ("{\"01-spark\": \"up\"}", ["01-spark", "rises, falls, stays"]),
        ("{\"06-duty\": 3}", ["06-duty", "another lesson"]),
        ("{\n \"01-leak\": }", ["line 2, column", "not JSON"]),
        ("3", ["line 1", "as 01-leak 1.05"]),
        ("", ["line 1", "no answers"]),
        ("\n01-leak 1,05\n", ["line 2", "decimal point"]),
        ("{\u{201c}01-leak\u{201d}: 1}", ["line 1", "straight"]),
        ("{\"01-leak\": 1,\n \"01-leak\": 2}", ["01-leak", "twice"]),
        ("[{\"answer\": 3}]", ["row 1", "`id`"]),
        (
            "[{\"id\": \"01-leak\", \"answer\": 1},\n {\"id\": \"01-leak\", \"answer\": 2}]",
            ["line 2, \"01-leak\"", "twice"],
        ),
        ("[{\"id\": \"01-leak\", \"anwser\": 1}]", ["row 1", "no key is \"anwser\""]),
        ("[{\"id\": \"01-leak\"}]", ["row 1", "has no `answer`"]),
        ("[]", ["line 1", "no answers"]),
        ("[1]", ["row 1", "no object"]),
        ("01-leak nan", ["line 1", "\"nan\" is not a number"]),
        ("01-leak -inf", ["line 1", "\"-inf\" is not a number"]),
        ("01-leak 1e999", ["line 1", "\"1e999\" is not a number"]),
        ("{\"01-leak\": 1e999}", ["line 1", "out of range"]),
        ("{\"01-leak\": \"nan\"}", ["line 1", "\"nan\" is not a number"]),
        ("{\"01-leak\": []}", ["line 1", "[] is not a number"]),
    ] {
        std::fs::write(&file, answers).unwrap();
        let output = run(&["quiz", "--lesson", "1", "--answers", file.to_str().unwrap()]);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(3), "{answers}: {said}");
        assert!(output.stdout.is_empty());
        assert!(said.contains("answers.json"), "{said}");
        for word in words {
            assert!(said.contains(word), "{answers}: {said} lacks {word}");
        }
    }
    let code = |args: &[&str]| run(&[&["quiz"], args].concat()).status.code();
    assert_eq!(code(&["--answers", "/no/such.json"]), Some(3));
    assert_eq!(code(&["--lesson", "20"]), Some(4));
    assert_eq!(code(&["--lesson", "one"]), Some(2));
    assert_eq!(code(&["--seed", "0.5"]), Some(4));
    assert_eq!(code(&["--rig", "sixx"]), Some(3));
}

#[test]
fn many_names_and_long_ones_are_read_in_a_moment() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("answers.json");
    let many: Vec<String> = (0..40_000).map(|i| format!("\"name-{i}\": {i}")).collect();
    let long = "a".repeat((2 << 20) - 20);
    for answers in [format!("{{{}}}", many.join(",\n")), format!("{{\"{long}\": 1}}")] {
        std::fs::write(&file, answers).unwrap();
        let begun = std::time::Instant::now();
        let output = run(&["quiz", "--answers", file.to_str().unwrap()]);
        assert_eq!(output.status.code(), Some(3));
        assert!(output.stderr.len() < 2000);
        // 30 s where the work grows with the square.
        assert!(begun.elapsed().as_secs_f64() < 6.0, "{:?}", begun.elapsed());
    }
}
