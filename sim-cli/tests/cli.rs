//! The program from outside: exit codes, places of errors, files written whole or not at
//! all, the same bytes twice.

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};
use tempfile::TempDir;

fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quarterturn"));
    command.env_remove("NO_COLOR");
    command
}

fn run(args: &[&str]) -> Output {
    program().args(args).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

fn json(args: &[&str]) -> Value {
    let output = program().args(args).args(["--format", "json"]).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{args:?}: {}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Fails unless the program ends with a code, says every word on stderr, prints nothing on
/// stdout and writes nothing into the folder.
fn refuses(folder: &Path, args: &[&str], code: i32, words: &[&str]) {
    let before = listing(folder);
    let output = program().current_dir(folder).args(args).output().unwrap();
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(code), "{args:?}: {said}");
    assert!(output.stdout.is_empty(), "{args:?} prints: {}", text(&output.stdout));
    assert!(!said.contains("panicked"), "{said}");
    for word in words {
        assert!(said.contains(word), "{args:?} does not say \"{word}\": {said}");
    }
    assert_eq!(before, listing(folder), "{args:?} wrote something");
}

fn listing(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

fn six() -> String {
    text(&run(&["rig", "show", "six", "--format", "toml"]).stdout)
}

#[test]
fn a_sweep_holds_what_the_contract_names() {
    let sweep = json(&["sweep", "--from", "-1/4", "--to", "1/2", "--step", "1/64"]);
    assert_eq!(sweep["points"].as_array().unwrap().len(), 49);
    for key in [
        "rough_lean_turns",
        "rough_rich_turns",
        "middle_turns",
        "lambda_one_turns",
        "aim_turns",
        "ear_aim_turns",
    ] {
        assert!(sweep["edges"][key].is_f64(), "{key}: {}", sweep["edges"]);
    }
    assert!(sweep["edges"]["edge_kinds"].is_object());
    for key in ["middle_turns", "width_turns"] {
        let [low, high] = &sweep["spread"][key].as_array().unwrap()[..] else { panic!("{key}") };
        assert!(low.as_f64() < high.as_f64());
    }
    assert_eq!(sweep["edges"]["aim_turns"], sweep["edges"]["lambda_one_turns"]);
    let keys = [
        "screw_turns",
        "zone",
        "valve_at_limit",
        "lambda",
        "cov_percent",
        "misfire_percent",
        "speed_rpm",
        "manifold_bar",
        "residual_fraction",
        "air_kg_h",
        "fuel_kg_h",
        "plate_lift_mm",
        "potentiometer_v",
        "actuator_ma",
        "duty_percent",
        "wanted_ma",
        "wanted_duty_percent",
        "slit_drop_bar",
        "co_percent",
        "sensor_v",
        "residual",
    ];
    for point in sweep["points"].as_array().unwrap() {
        let point = point.as_object().unwrap();
        for key in keys {
            assert!(point.contains_key(key), "no {key} in {point:?}");
        }
        if point["zone"] == "stalled" {
            assert!(point["lambda"].is_null() && point["reason"].is_string());
        } else {
            assert!(point["residual"].as_f64().unwrap() < 1e-9);
            assert!(point["valve_at_limit"].is_boolean());
        }
    }
    assert_eq!(sweep["schema_version"], 1);
    // Lambda 1 in the duty's own words: the middle of the smooth points reads 50 %.
    let aim = sweep["edges"]["aim_turns"].to_string();
    let at_aim = json(&["sweep", "--from", &aim, "--to", &aim]);
    let point = &at_aim["points"][0];
    assert!((point["lambda"].as_f64().unwrap() - 1.0).abs() < 1e-9);
    assert!((point["wanted_duty_percent"].as_f64().unwrap() - 50.0).abs() < 1e-6);
}

#[test]
fn flow_start_holds_what_the_contract_names() {
    let found = json(&["flowstart"]);
    for key in [
        "flow_start_turns",
        "setting_turns",
        "play_mm",
        "felt_play_mm",
        "threshold_turns",
        "lambda_after",
    ] {
        assert!(found[key].is_f64(), "{key}: {found}");
    }
    assert_eq!(found["zone_after"], "smooth");
    assert_eq!(found["hazard"], false);
    let offsets: Vec<f64> = found["rest_height"]
        .as_array()
        .unwrap()
        .iter()
        .map(|row| row["offset_mm"].as_f64().unwrap())
        .collect();
    assert_eq!(offsets, [-0.5, -0.25, 0.25, 0.5]);
    assert_eq!(found["lines"][0]["flow_ml_min"].as_array().unwrap().len(), 6);
    let back = json(&["flowstart", "--back-off", "0"]);
    assert_eq!(back["hazard"], true);
    let table = run(&["flowstart", "--back-off", "0"]);
    assert!(text(&table.stdout).contains("HAZARD") && table.status.code() == Some(0));
}

#[test]
fn turns_are_read_as_they_are_written() {
    for (from, to) in [("-1/4", "-0.25"), ("+1/8", "0.125"), ("1/64", "0.015625"), ("-0.0", "0")] {
        let one = json(&["sweep", "--from", from, "--to", "1/2", "--step", "1/4"]);
        let other = json(&["sweep", "--from", to, "--to", "0.5", "--step", "0.25"]);
        assert_eq!(one["points"], other["points"], "{from} and {to}");
    }
    let typed = json(&["sweep", "--screw", "-1/16", "--from", "0", "--to", "0"]);
    assert_eq!(typed["conditions"]["screw"], -0.0625);
}

#[test]
fn wrong_usage_ends_with_two() {
    let folder = TempDir::new().unwrap();
    let refuse = |args: &[&str], words: &[&str]| refuses(folder.path(), args, 2, words);
    refuse(&["sweep", "--step", "0"], &["--step"]);
    refuse(&["sweep", "--step", "-1/64"], &["--step"]);
    refuse(&["sweep", "--step", "nan"], &["finite"]);
    refuse(&["sweep", "--to", "inf"], &["finite"]);
    refuse(&["sweep", "--from", "1/0"], &["1/0", "turns"]);
    refuse(&["sweep", "--from", "a quarter"], &["a quarter", "1/16"]);
    refuse(&["sweep", "--from", "0,25"], &["decimal point"]);
    refuse(&["sweep", "--step", "1e-7"], &["100000", "--step"]);
    refuse(&["sweep", "--step", "7.5e-8"], &["10000001"]);
    refuse(&["sweep", "--from", "1/2", "--to", "1/4"], &["--from"]);
    refuse(&["sweep", "--altitude-m", "high"], &["--altitude-m", "high"]);
    refuse(&["sweep", "--trim", "maybe"], &["--trim", "off, on"]);
    refuse(&["sweep", "--set", "altitude_m"], &["KEY=VALUE"]);
    refuse(&["sweep", "--set", "ptich_mm=1"], &["ptich_mm", "pitch_mm"]);
    refuse(&["sweep", "--set", "slit_width_mm=1"], &["slit_width_mm", "row"]);
    refuse(&["sweep", "--no-such-flag"], &["--no-such-flag"]);
    refuse(&["sweep", "--chart", "a.gif"], &["a.gif", ".svg", ".png"]);
    refuse(&["swep"], &["swep", "sweep"]);
    refuse(&["sweep", "--format", "xml"], &["xml"]);
    refuse(&["sweep", "--chart", "a.csv", "-o", "a.csv"], &["a.csv", "two"]);
    refuse(&[], &[]);
    // Wrong usage comes before a bad file, a bad file before a value outside the model.
    refuse(&["sweep", "--step", "0", "--rig", "no/such.toml"], &["--step"]);
    refuses(
        folder.path(),
        &["sweep", "--rig", "no/such.toml", "--altitude-m", "9e4"],
        3,
        &["no/such.toml"],
    );
    std::fs::write(folder.path().join("there.svg"), "").unwrap();
    refuses(
        folder.path(),
        &["sweep", "--altitude-m", "9e4", "--chart", "there.svg"],
        4,
        &["altitude"],
    );
}

#[test]
fn a_value_outside_the_model_ends_with_four() {
    let folder = TempDir::new().unwrap();
    let refuse = |args: &[&str], words: &[&str]| refuses(folder.path(), args, 4, words);
    refuse(&["sweep", "--altitude-m", "90000"], &["--altitude-m", "90000", "-400 to 5000 m"]);
    refuse(&["sweep", "--altitude-m", "nan"], &["NaN", "-400 to 5000 m"]);
    refuse(&["flowstart", "--fuel-degc", "-inf"], &["-inf", "degC"]);
    refuse(&["sweep", "--speed-rpm", "-710"], &["400 to 6500 rpm"]);
    refuse(&["sweep", "--throttle-percent", "101"], &["0 to 100 %"]);
    refuse(&["sweep", "--screw", "3"], &["-2 to 2 turns"]);
    refuse(&["sweep", "--to", "40"], &["--to", "turns"]);
    refuse(&["sweep", "--set", "plate_radius_mm=-40"], &["15 to 80 mm"]);
    refuse(
        &[
            "sweep",
            "--set",
            "throttle_open_deg=41",
            "--set",
            "throttle_closed_deg=30",
            "--set",
            "throttle_open_deg=20",
        ],
        &["40 to 90 deg"],
    );
    refuse(&["flowstart", "--back-off", "nan"], &["--back-off"]);
    refuse(&["flowstart", "--back-off", "5"], &["--back-off", "turns"]);
    refuse(&["claims", "--rigs", "1000000"], &["--rigs", "2000"]);
    refuse(&["claims", "--rigs", "0"], &["--rigs"]);
    refuse(&["claims", "--seed", "1.5"], &["--seed"]);
}

#[test]
fn a_bad_rig_file_ends_with_three_and_names_its_line() {
    let folder = TempDir::new().unwrap();
    let good = six();
    let write = |name: &str, bytes: &[u8]| std::fs::write(folder.path().join(name), bytes).unwrap();
    let line = |key: &str| {
        let at = good.lines().position(|line| line.starts_with(&format!("{key} ="))).unwrap();
        format!("line {}", at + 1)
    };
    let bad = |name: &str, from: &str, to: &str| {
        assert!(good.contains(from), "{from}");
        write(name, good.replacen(from, to, 1).as_bytes());
    };
    let refuse = |name: &str, words: &[&str]| {
        for args in [["rig", "check", name], ["sweep", "--rig", name], ["flowstart", "--rig", name]]
        {
            let mut all = vec![name];
            all.extend(words);
            refuses(folder.path(), &args, 3, &all);
        }
    };
    bad("unknown.toml", "pitch_mm = 0.75", "ptich_mm = 0.75");
    refuse("unknown.toml", &[&line("pitch_mm"), "ptich_mm", "did you mean `pitch_mm`"]);
    bad("negative.toml", "plate_arm_mm = 110", "plate_arm_mm = -110");
    refuse("negative.toml", &[&line("plate_arm_mm"), "plate_arm_mm", "-110", "30 to 250 mm"]);
    bad("nan.toml", "spark_deg = 10", "spark_deg = nan");
    refuse("nan.toml", &[&line("spark_deg"), "NaN", "deg"]);
    bad("inf.toml", "displacement_l = 2.8", "displacement_l = inf");
    refuse("inf.toml", &[&line("displacement_l"), "inf", "0.5 to 8 l"]);
    bad("huge.toml", "displacement_l = 2.8", "displacement_l = 1e999");
    refuse("huge.toml", &["inf", "0.5 to 8 l"]);
    bad("type.toml", "displacement_l = 2.8", "displacement_l = \"2.8\"");
    refuse("type.toml", &[&line("displacement_l"), "a number", "a text"]);
    bad("comma.toml", "displacement_l = 2.8", "displacement_l = 2,8");
    refuse("comma.toml", &[&line("displacement_l"), "decimal point"]);
    bad("rise.toml", "3.91, 6.49", "6.49, 3.91");
    refuse("rise.toml", &[&line("funnel_height_mm"), "funnel_height_mm", "rise"]);
    bad(
        "slits.toml",
        "slit_width_mm = [",
        "slit_width_mm = [0.06, 0.06, 0.06, 0.06, 0.06, 0.06, 0.06, ",
    );
    refuse("slits.toml", &[&line("slit_width_mm"), "13 values", "2 to 12"]);
    bad(
        "none.toml",
        "slit_width_mm = [0.06642, 0.06517, 0.06465, 0.06609, 0.06478, 0.06589]",
        "slit_width_mm = []",
    );
    refuse("none.toml", &[&line("slit_width_mm"), "0 values"]);
    bad("twice.toml", "spark_deg = 10", "spark_deg = 10\nspark_deg = 11");
    refuse("twice.toml", &["duplicate"]);
    write("empty.toml", b"");
    refuse("empty.toml", &["empty", "rig show"]);
    write("bom.toml", format!("\u{feff}{good}").as_bytes());
    refuse("bom.toml", &["byte-order mark"]);
    let utf16: Vec<u8> =
        [0xff, 0xfe].into_iter().chain(good.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    write("wide.toml", &utf16);
    refuse("wide.toml", &["UTF-16"]);
    write("latin.toml", b"name = \"s\xfcx\"\n");
    refuse("latin.toml", &["UTF-8"]);
    bad("nul.toml", "[burn]", "[burn]\0");
    refuse("nul.toml", &["NUL"]);
    std::fs::create_dir(folder.path().join("folder.toml")).unwrap();
    refuse("folder.toml", &["directory"]);
    refuse("missing.toml", &["no such file"]);
    refuses(folder.path(), &["sweep", "--rig", "sixx"], 3, &["sixx", "rig list", "six"]);
    write("crlf.toml", good.replace('\n', "\r\n").as_bytes());
    let fine = program().current_dir(&folder).args(["rig", "check", "crlf.toml"]).output().unwrap();
    assert_eq!(fine.status.code(), Some(0), "{}", text(&fine.stderr));
}

#[test]
fn what_cannot_be_written_ends_with_five_and_leaves_all_as_it_was() {
    let folder = TempDir::new().unwrap();
    let place = folder.path();
    std::fs::write(place.join("old.svg"), "old").unwrap();
    std::fs::create_dir(place.join("dir.svg")).unwrap();
    refuses(place, &["sweep", "--chart", "old.svg"], 5, &["old.svg", "--force"]);
    refuses(place, &["sweep", "-o", "old.svg"], 5, &["old.svg", "--force"]);
    refuses(place, &["sweep", "--chart", "dir.svg", "--force"], 5, &["directory"]);
    refuses(place, &["sweep", "--chart", "no/such/folder/a.svg"], 5, &["no/such/folder/a.svg"]);
    // The chart could be written, the report not: neither is.
    refuses(place, &["sweep", "--chart", "new.svg", "-o", "no/folder/a.json"], 5, &["no/folder"]);
    assert_eq!(std::fs::read_to_string(place.join("old.svg")).unwrap(), "old");
    let forced = program()
        .current_dir(place)
        .args(["sweep", "--chart", "old.svg", "--force", "-o", "r.json", "--format", "json"])
        .output()
        .unwrap();
    assert_eq!(forced.status.code(), Some(0), "{}", text(&forced.stderr));
    assert!(forced.stdout.is_empty());
    assert!(std::fs::read_to_string(place.join("old.svg")).unwrap().starts_with("<svg"));
    assert_eq!(listing(place), ["dir.svg", "old.svg", "r.json"], "nothing else is left behind");
    let device = run(&["sweep", "-o", "/dev/null"]);
    assert_eq!(device.status.code(), Some(0), "a device is written to, not replaced");
    assert!(!std::fs::metadata("/dev/null").unwrap().is_file());
}

#[test]
fn the_same_command_makes_the_same_bytes_anywhere() {
    let (here, there) = (TempDir::new().unwrap(), TempDir::new().unwrap());
    let make = |folder: &Path, locale: &str, name: &str| {
        let output = program()
            .current_dir(folder)
            .env("LC_ALL", locale)
            .env("LANG", locale)
            .args(["sweep", "--altitude-m", "500", "--chart", name, "--quiet"])
            .output()
            .unwrap();
        assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
        (output.stdout, std::fs::read(folder.join(name)).unwrap())
    };
    let first = make(here.path(), "C", "a.svg");
    assert_eq!(first, make(there.path(), "de_DE.UTF-8", "b.svg"));
    let svg = text(&first.1);
    assert!(svg.contains("quarterturn sweep --altitude-m 500"), "the footer tells the command");
    assert!(!svg.contains("a.svg") && svg.contains("<title") && svg.contains("<desc"));
    assert_eq!(make(here.path(), "C", "a.png").1, make(there.path(), "C", "c.png").1);
    let data = text(&make(here.path(), "C", "a.csv").1);
    assert!(data.lines().any(|line| line.starts_with("screw_turns,zone,")), "{data}");
}

#[test]
fn every_command_has_help_with_an_example_that_runs() {
    let help = text(&run(&["--help"]).stdout);
    for name in ["flowstart", "sweep", "claims", "rig"] {
        assert!(help.contains(name), "{help}");
        let own = run(&[name, "--help"]);
        assert_eq!(own.status.code(), Some(0));
        let own = text(&own.stdout);
        let example = own.split("Example:").nth(1).unwrap().trim().lines().next().unwrap();
        let words: Vec<&str> = example.split_whitespace().collect();
        assert_eq!(words[..2], ["quarterturn", name], "{example}");
        let output = run(&words[1..]);
        assert_eq!(output.status.code(), Some(0), "{example}: {}", text(&output.stderr));
        assert!(!output.stdout.is_empty());
    }
}

#[test]
fn csv_has_notes_one_header_and_a_row_a_point() {
    let csv = text(&run(&["sweep", "--format", "csv"]).stdout);
    let rows: Vec<&str> = csv.lines().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(rows.len(), 50);
    assert!(rows[0].starts_with("screw_turns,zone,valve_at_limit,lambda,"));
    assert!(csv.lines().any(|line| line.starts_with("# ")));
    let mut reader = csv::Reader::from_reader(rows[0..].join("\n").into_bytes().leak() as &[u8]);
    assert!(reader.records().all(|record| record.is_ok()));
}

#[test]
fn colour_comes_only_when_asked_for() {
    assert!(!text(&run(&["flowstart", "--back-off", "0"]).stdout).contains('\u{1b}'));
    assert!(
        text(&run(&["flowstart", "--back-off", "0", "--color", "always"]).stdout)
            .contains('\u{1b}')
    );
}

#[test]
fn a_rig_shown_is_a_rig_that_checks() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("own.toml");
    let shown = run(&["rig", "show", "six", "--format", "toml", "-o", path.to_str().unwrap()]);
    assert_eq!(shown.status.code(), Some(0));
    let check = run(&["rig", "check", path.to_str().unwrap()]);
    assert_eq!(check.status.code(), Some(0), "{}", text(&check.stderr));
    assert!(text(&check.stdout).contains("six"));
    let keys = json(&["rig", "keys"]);
    let names: Vec<&str> =
        keys["keys"].as_array().unwrap().iter().map(|k| k["key"].as_str().unwrap()).collect();
    for name in [
        "screw",
        "altitude_m",
        "ambient_degc",
        "coolant_degc",
        "fuel_degc",
        "speed_rpm",
        "throttle_percent",
        "leak_kg_h",
        "trim",
        "idle_air",
        "fuel",
        "flame",
        "spark_deg",
        "system_pressure_bar",
        "actuator_ma",
        "housing_mm",
        "rest_height_mm",
        "accessories_bar",
        "misfire_percent",
        "exhaust_leak_percent",
        "rest_below_throat_mm",
        "flow_threshold_ml_min",
        "base_ma",
        "authority_ma",
    ] {
        assert!(names.contains(&name), "no key {name}");
    }
    assert!(text(&run(&["rig", "list"]).stdout).contains("invented"));
}

#[test]
fn a_closed_pipe_is_no_trouble() {
    let mut child = program()
        .args(["sweep", "--step", "1/4096", "--format", "csv"])
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(output.stderr.is_empty(), "{}", text(&output.stderr));
}
