//! Asked as a technician asks: turns, volts, plain words, a gas, cautions by job.

use crate::common::{json, refuses, run, text};
use serde_json::Value;
use tempfile::TempDir;

fn predicted(args: &[&str]) -> Value {
    json(&[&["predict"], args].concat())
}

fn number(found: &Value, path: [&str; 2]) -> f64 {
    found[path[0]][path[1]].as_f64().unwrap()
}

fn kinds(args: &[&str]) -> Vec<String> {
    let found = json(&[&["gas"], args].concat());
    let comments = found["comments"].as_array().unwrap().clone();
    comments.iter().map(|one| one["kind"].as_str().unwrap().to_string()).collect()
}

#[test]
fn a_turn_is_added_to_where_the_screw_stands() {
    let turned = predicted(&["--turn", "1/16"]);
    assert_eq!(turned["after"], predicted(&["--change", "screw=1/16"])["after"]);
    assert_eq!(turned["canonical_command"], "quarterturn predict --turn 1/16");
    assert_eq!(turned["change"][0], "screw=1/16");
    let out = predicted(&["--turn", "-1/16", "--screw", "1/32"]);
    assert_eq!(out["after"]["screw_turns"], -0.03125);
    // In is richer.
    assert!(number(&turned, ["difference", "lambda"]) < 0.0);
    let from_aim = predicted(&["--screw", "aim", "--turn", "1/32"]);
    let aim = number(&from_aim, ["before", "screw_turns"]);
    assert!((number(&from_aim, ["after", "screw_turns"]) - aim - 1.0 / 32.0).abs() < 1e-12);
    assert_eq!(
        from_aim["canonical_command"], "quarterturn predict --turn 1/32 --screw aim",
        "the command does it again"
    );
}

#[test]
fn volts_turn_the_housing_until_the_warm_idle_shows_them() {
    for rig in ["six", "four", "eight"] {
        for volts in ["0.60", "0.70", "0.85"] {
            let found = predicted(&["--volts", volts, "--rig", rig, "--trim", "on"]);
            let asked: f64 = volts.parse().unwrap();
            assert!((number(&found, ["after", "potentiometer_v"]) - asked).abs() < 1e-9);
            let at = found["housing"]["housing_mm"].as_f64().unwrap();
            let by_hand =
                predicted(&["--change", &format!("housing_mm={at}"), "--rig", rig, "--trim", "on"]);
            assert!((number(&by_hand, ["after", "potentiometer_v"]) - asked).abs() < 1e-9);
        }
    }
    // By another road: `consequences` inverts the track, without an engine.
    let left = json(&["consequences", "--volts", "0.85"]);
    let inverted = left.to_string();
    let found = predicted(&["--volts", "0.85", "--trim", "on"]);
    let at = found["housing"]["housing_mm"].as_f64().unwrap();
    let near = inverted.split("\"housing_mm\":").skip(1).any(|rest| {
        let end = rest.find([',', '}']).unwrap();
        rest[..end].parse::<f64>().is_ok_and(|mm| (mm - at).abs() < 1e-9)
    });
    assert!(near, "{at} mm in {inverted}");
    // The lever turns by the plate's arc over its arm.
    let (mm, degrees) = (&found["housing"]["turn_mm"], &found["housing"]["turn_degrees"]);
    let arm = json(&["rig", "show", "six"])["values"]["plate_arm_mm"].as_f64().unwrap();
    let arc = degrees.as_f64().unwrap() * std::f64::consts::PI / 180.0 * arm;
    assert!((arc - mm.as_f64().unwrap()).abs() < 1e-9);
    // Set at the warm idle, told where it is asked for.
    let open = predicted(&["--volts", "0.85", "--throttle-percent", "20", "--trim", "on"]);
    assert!((open["housing"]["housing_mm"].as_f64().unwrap() - at).abs() < 1e-9);
    let says = text(&run(&["predict", "--volts", "0.78"]).stdout).replace("\n  ", " ");
    assert!(says.contains("needs 0.085 V more: turn the housing"), "{says}");
}

#[test]
fn turn_and_volts_have_their_share_as_changes_have() {
    let found = predicted(&["--turn", "1/32", "--volts", "0.8", "--change", "leak=0.5"]);
    let shares = found["shares"].as_array().unwrap();
    assert_eq!(shares.len(), 3);
    for key in ["lambda", "potentiometer_v"] {
        let sum: f64 = shares.iter().map(|share| share[key].as_f64().unwrap()).sum();
        assert!((sum - number(&found, ["difference", key])).abs() < 1e-9, "{key}");
    }
    assert!((number(&found, ["after", "potentiometer_v"]) - 0.8).abs() < 1e-9);
    let folder = TempDir::new().unwrap();
    let chart = folder.path().join("a.svg");
    run(&["predict", "--turn", "1/32", "--volts", "0.8", "--chart", chart.to_str().unwrap()]);
    let svg = std::fs::read_to_string(chart).unwrap();
    assert!(svg.contains("quarterturn predict --turn 1/32 --volts 0.8"), "the footer");
}

#[test]
fn plain_words_stand_for_keys() {
    for (word, key) in [
        ("pressure=4.8", "system_pressure_bar=4.8"),
        ("leak=1", "leak_kg_h=1"),
        ("cold=-10", "coolant_degc=-10"),
        ("outside=0", "ambient_degc=0"),
        ("housing=0.2", "housing_mm=0.2"),
        ("pump=40", "pump_percent=40"),
        ("petrol=e10", "fuel=e10"),
        ("Exhaust-Leak=2", "exhaust_leak_percent=2"),
        ("screw=1/32", "screw=1/32"),
        ("fuel=e10", "fuel=e10"),
    ] {
        let (plain, whole) = (predicted(&["--change", word]), predicted(&["--change", key]));
        assert_eq!(plain["after"], whole["after"], "{word}");
        assert_eq!(plain["canonical_command"], whole["canonical_command"], "{word}");
    }
    let set = json(&["sweep", "--step", "1/4", "--set", "pressure=4.8"]);
    assert_eq!(set["conditions"]["system_pressure_bar"], 4.8);
    let help = text(&run(&["predict", "--help"]).stdout);
    let help = help.split_whitespace().collect::<Vec<_>>().join(" ");
    let keys = json(&["rig", "keys"]);
    for key in keys["keys"].as_array().unwrap() {
        for word in key["plain_words"].as_array().unwrap() {
            let word = word.as_str().unwrap();
            let told = [format!(" {word} ("), format!(" {word} or ")];
            assert!(told.iter().any(|told| help.contains(told)), "{word} is in the help");
            assert!(
                keys["keys"].as_array().unwrap().iter().all(|key| key["key"] != word),
                "{word} is a key, too"
            );
        }
    }
    let note = text(&run(&["predict", "--change", "cold=-10"]).stdout);
    assert!(note.contains("outside=-10"), "{note}");
}

#[test]
fn what_cannot_be_asked_is_refused_with_its_reason() {
    let folder = TempDir::new().unwrap();
    let refuse =
        |args: &[&str], code: i32, words: &[&str]| refuses(folder.path(), args, code, words);
    refuse(&["predict"], 2, &["--change, --turn or --volts"]);
    refuse(&["predict", "--turn", "a bit"], 2, &["--turn", "1/16"]);
    refuse(&["predict", "--turn", "1/16", "--change", "screw=1/8"], 2, &["--turn", "once"]);
    refuse(&["predict", "--volts", "0.8", "--change", "housing=1"], 2, &["--volts", "once"]);
    refuse(&["predict", "--change", "leak=1", "--change", "leak_kg_h=2"], 2, &["given twice"]);
    refuse(&["predict", "--turn", "3"], 4, &["--turn", "-2 to 2 turns"]);
    refuse(&["predict", "--turn", "1.5", "--screw", "1"], 4, &["--turn", "-2 to 2 turns"]);
    refuse(&["predict", "--volts", "3.2"], 4, &["--volts", "3.2 V", "-5 to 5 mm", "shows", "V"]);
    refuse(&["predict", "--volts", "nan"], 4, &["--volts", "shows"]);
    refuse(&["predict", "--volts", "0.8", "--screw", "-1"], 4, &["no warm idle", "slits"]);
    let several = ["`first_injector_bar`", "`injector_opening_bar`", " or "];
    refuse(&["predict", "--change", "injector=3"], 2, &several);
    refuse(&["predict", "--change", "presure=4"], 2, &["did you mean `pressure`"]);
    refuse(&["predict", "--change", "qqq=4"], 2, &["rig keys"]);
    refuse(&["gas", "--o2", "1"], 2, &["--co"]);
    refuse(&["gas", "--lambda", "1", "--co", "1"], 2, &["--lambda"]);
    refuse(&["cautions", "ruff-idle"], 2, &["did you mean `rough-idle`", "cautions list"]);
    refuse(&["cautions", "qqq"], 2, &["qqq", "cautions list"]);
}

#[test]
fn carbon_monoxide_alone_gives_a_mixture_and_its_range() {
    let found = json(&["gas", "--co", "1.2"]);
    let lambda = found["lambda"].as_f64().unwrap();
    let [low, high] = [0, 1].map(|i| found["lambda_range"][i].as_f64().unwrap());
    assert!(low < lambda && lambda < high && low > 0.95 && high < 1.02, "{found}");
    assert_eq!(found["co_percent"], 1.2);
    // The program's own engine on this mixture shows this CO.
    let little = json(&["gas", "--co", "0.2"]);
    assert!(little["lambda_range"][1].is_null() && little["lambda"].as_f64().unwrap() > 1.0);
    let none = json(&["gas", "--co", "0"]);
    assert!(none["lambda"].is_null() && none["sensor_mv"].is_null(), "{none}");
    assert!(none["lambda_range"][0] == 1.0);
    assert_eq!(kinds(&["--co", "1.2"]), ["co-alone"]);
}

#[test]
fn a_gas_is_commented_on() {
    let of = |[co, co2, o2, hc]: [&str; 4]| {
        kinds(&["--co", co, "--co2", co2, "--o2", o2, "--hc-ppm", hc])
    };
    assert_eq!(of(["0.5", "14.7", "0.5", "100"]), ["fits"]);
    assert_eq!(of(["1.2", "12.4", "2.9", "250"]), ["exhaust-leak", "sum-low"]);
    assert_eq!(of(["0.1", "11.8", "4.8", "1500"])[0], "lean-misfire");
    assert_eq!(of(["0.02", "15.2", "0.1", "10"]), ["catalyst"]);
    assert_eq!(of(["20", "20", "21", "0"]), ["cannot-be"]);
    assert_eq!(of(["0", "0.2", "21", "0"]), ["nearly-air"]);
    let cannot = json(&["gas", "--co2", "0.2", "--o2", "21"]);
    assert_eq!(cannot["possible"], false);
    // What was not read follows: added air from CO and CO2 alone.
    assert_eq!(kinds(&["--co", "2", "--co2", "11.5"])[0], "exhaust-leak");
    assert_eq!(json(&["gas", "--lambda", "1"])["comments"], serde_json::json!([]));
}

/// A flag that is taken changes what is found, or the answer says that it does not.
#[test]
fn a_flag_that_does_not_matter_is_told() {
    let folder = TempDir::new().unwrap();
    let drive = folder.path().join("d.csv");
    std::fs::write(&drive, "time_s,speed_kmh\n0,0\n20,0\n30,30\n50,30\n60,0\n").unwrap();
    let (drive, sound) = (drive.to_str().unwrap(), folder.path().join("s.wav"));
    let two = ["--reading", "duty_percent=85", "--reading", "potentiometer_v=0.67"];
    let short = ["--starts", "1", "--averaged"];
    let seconds = ["listen", "--seconds", "1", "-o", sound.to_str().unwrap()];
    for (args, flags) in [
        (["sweep", "--step", "1/4"].to_vec(), &["--lines empty", "--stood-h 3", "--screw 0.1"][..]),
        (vec!["predict", "--change", "leak=1"], &["--lines empty", "--stood-h 3"]),
        (vec!["flowstart"], &["--stood-h 3"]),
        (vec!["parts"], &["--stood-h 3"]),
        (vec!["claims", "--rigs", "2"], &["--stood-h 3"]),
        (seconds.to_vec(), &["--stood-h 3"]),
        ([&["diagnose"][..], &two].concat(), &["--stood-h 3", "--seed 5"]),
        ([&["fit"][..], &two].concat(), &["--stood-h 3", "--seed 5"]),
        ([&["advise"][..], &two].concat(), &["--stood-h 3", "--seed 5"]),
        (vec!["consequences", "--of", "lambda=dead"], &["--cold-degc 0", "--stood-h 3"]),
        (vec!["wear", "--years", "1"], &["--stood-h 3"]),
        (
            [&["relearn"][..], &short].concat(),
            &["--throttle-percent 20", "--speed-rpm 900", "--seed 5"],
        ),
        ([&["relearn", "--drive", drive][..], &short].concat(), &["--minutes 5"]),
        (vec!["relearn", "--starts", "1", "--drive", drive], &["--felt", "--throttle-percent 20"]),
        (
            vec!["meter", "--procedure", "screw-step", "--kind", "digital", "--noise", "off"],
            &["--range-v 5", "--class 1", "--seed 5"],
        ),
        (vec!["run", "--procedure", "screw-step"], &["--seed 5"]),
        (vec!["bleed"], &["--speed-rpm 900"]),
        (vec!["coldstart"], &["--throttle-percent 20"]),
        (vec!["coldstart", "--map"], &["--tries 5", "--screw 1", "--ambient-degc 5"]),
    ] {
        let flags = flags.iter().flat_map(|flag| flag.split(' '));
        let args: Vec<&str> = args.into_iter().chain(flags.clone()).chain(["--force"]).collect();
        let told = json(&args)["notes"].to_string();
        for flag in flags.filter(|word| word.starts_with("--")) {
            assert!(told.contains(&format!("{flag} does not matter here: ")), "{args:?}: {told}");
        }
    }
}

/// The averaged model learns without an engine in time, but asks one whether it can be driven.
#[test]
fn a_weak_battery_decides_whether_an_engine_can_be_driven_in_either_model() {
    let of = |args: &[&str]| json(&[&["relearn", "--starts", "1"][..], args].concat());
    let weak = ["--battery-percent", "20"];
    let full = of(&weak);
    assert!(full["reason"].as_str().unwrap().contains("cannot be driven"), "{full}");
    for more in [&["--averaged"][..], &["--averaged", "--felt"]] {
        let found = of(&[&weak[..], more].concat());
        assert_eq!(found["reason"], full["reason"]);
        assert_eq!(found["starts"], full["starts"], "{more:?}");
    }
    let told = of(&["--averaged", "--battery-percent", "90"])["notes"].to_string();
    assert!(told.contains("--battery-percent: with --averaged it only decides"), "{told}");
}

#[test]
fn a_sweep_shows_carbon_monoxide() {
    let table = text(&run(&["sweep", "--step", "1/8"]).stdout);
    let head = table.lines().find(|line| line.contains("screw  zone")).unwrap();
    assert!(head.split_whitespace().any(|word| word == "CO"), "{head}");
    let found = json(&["sweep", "--step", "1/8"]);
    assert!(found["points"][2]["co_percent"].as_f64().unwrap() > 1.0);
}

#[test]
fn cautions_are_told_in_full_job_by_job() {
    let list = json(&["cautions"]);
    assert_eq!(list["jobs"], json(&["cautions", "list"])["jobs"]);
    let jobs: Vec<&str> =
        list["jobs"].as_array().unwrap().iter().map(|job| job["job"].as_str().unwrap()).collect();
    for job in [
        "out-of-storage",
        "fuel-opened",
        "rough-idle",
        "hard-start-cold",
        "hard-start-hot",
        "yearly",
        "fuel-at-rest",
        "running-engine",
        "exhaust-gas",
        "battery",
        "hot-parts",
    ] {
        assert!(jobs.contains(&job), "{job}");
    }
    for job in &jobs {
        let found = json(&["cautions", job]);
        let told = found["told"].as_array().unwrap();
        assert!(told.len() >= 2, "{job}");
        for one in told {
            let [short, long] = ["short", "long"].map(|form| one[form].as_str().unwrap());
            assert!(short.chars().count() <= 96, "one line: {short}");
            assert!(long.len() >= short.len() / 2 && long.ends_with('.'), "{long}");
        }
        let last = told.last().unwrap()["long"].as_str().unwrap();
        assert!(last.contains("vehicle maker"), "{job}: {last}");
        let shown = text(&run(&["cautions", job]).stdout).replace("\n  ", " ");
        assert!(shown.contains(last), "{shown}");
    }
    // The README says the same.
    let readme = include_str!("../../README.md");
    let section = readme.split("## Cautions\n").nth(1).unwrap().split("\n## ").next().unwrap();
    for one in list["told"].as_array().unwrap() {
        let long = one["long"].as_str().unwrap();
        assert!(section.contains(&format!("- {long}")), "{long}");
    }
    assert_eq!(section.matches("\n- ").count(), list["told"].as_array().unwrap().len());
}

#[test]
fn an_engine_that_does_not_run_is_a_result_of_every_command() {
    let dead = ["--screw", "-1", "--accessories-bar", "3"];
    for words in [
        "consequences",
        "consequences --of coolant=open",
        "parts",
        "sweep --from -1 --to -7/8 --step 1/8",
        "flowstart",
        "predict --change leak_kg_h=1",
        "valves --gap-mm 3",
        "wear",
        "relearn --starts 1 --averaged",
        "run --procedure screw-step",
        "meter --procedure screw-step",
    ] {
        let args: Vec<&str> = words.split(' ').chain(dead).chain(["--quiet"]).collect();
        let output = run(&args);
        assert_eq!(output.status.code(), Some(0), "{words}: {}", text(&output.stderr));
    }
    let found = json(&[&["consequences"][..], &dead].concat());
    assert!(found["reason"].as_str().unwrap().contains("slits stay shut"), "{found}");
    assert_eq!(found["left_at"], Value::Array(Vec::new()));
    assert_eq!(json(&["consequences", "--volts", "0.7"])["reason"], Value::Null);
}
