//! `predict`, `gas`, `completions`, and the output flags that every command shares.

use crate::common::{json, program, refuses, run, text};
use tempfile::TempDir;

const COMMANDS: [&[&str]; 14] = [
    &["bleed"],
    &["valves", "--gap-mm", "4", "1"],
    &["coldstart"],
    &["flowstart"],
    &["sweep", "--step", "1/8"],
    &["predict", "--change", "screw=-1/32"],
    &["claims", "--rigs", "5"],
    &["rig", "list"],
    &["rig", "keys"],
    &["gas", "--lambda", "1"],
    &["completions", "bash"],
    &["run", "--procedure", "throttle-release", "--every-ms", "1000"],
    &["meter", "--procedure", "throttle-release"],
    &["wear", "--years", "4", "--parts", "20"],
];

#[test]
fn the_procedure_that_the_help_shows_runs() {
    let help = text(&run(&["run", "--help"]).stdout);
    let shown = help.split("mine.toml:\n").nth(1).unwrap().split("Actions:").next().unwrap();
    let folder = tempfile::TempDir::new().unwrap();
    let file = folder.path().join("mine.toml");
    std::fs::write(&file, shown).unwrap();
    let found = json(&["run", "--procedure", file.to_str().unwrap()]);
    assert_eq!(found["procedure"]["name"], "mine");
    assert_eq!(found["procedure"]["lasts_s"], 120.0);
}

#[test]
fn a_screw_counted_from_the_aim_stands_where_the_sweep_finds_the_aim() {
    for (rig, air) in [("six", "held"), ("four", "fixed"), ("eight", "held")] {
        let flags = ["--rig", rig, "--idle-air", air];
        let sweep = json(&[&["sweep"], &flags[..]].concat());
        let aim = sweep["edges"]["aim_turns"].as_f64().unwrap();
        for (screw, beyond) in [("aim", 0.0), ("aim-1/32", -1.0 / 32.0), ("aim+0.01", 0.01)] {
            let change = ["predict", "--screw", screw, "--change", "housing_mm=0.1"];
            let found = json(&[&change, &flags[..]].concat());
            let stands = found["conditions"]["screw"].as_f64().unwrap();
            assert!((stands - aim - beyond).abs() < 1e-9, "{rig} {screw}: {stands}, {aim}");
            assert!(found["canonical_command"].as_str().unwrap().contains(screw));
            // Changed to the aim last, whatever else is changed with it.
            let both = ["--change", &format!("screw={screw}"), "--change", "leak_kg_h=1"];
            let [both, turned] = [&both[..], &[both[2], both[3], both[0], both[1]][..]]
                .map(|change| json(&[&["predict"], change, &flags[..]].concat())["after"].clone());
            assert_eq!(both["screw_turns"], turned["screw_turns"], "{rig} {screw}");
            if beyond == 0.0 {
                let wanted = both["wanted_duty_percent"].as_f64().unwrap();
                assert!((wanted - 50.0).abs() < 1e-6, "{rig}, with a leak: {wanted}");
                let wanted = found["before"]["wanted_duty_percent"].as_f64().unwrap();
                assert!((wanted - 50.0).abs() < 1e-6, "{rig}: {wanted}");
            }
        }
    }
}

#[test]
fn a_prediction_holds_what_the_contract_names() {
    let found = json(&[
        "predict",
        "--change",
        "screw=-1/16",
        "--change",
        "leak_kg_h=1",
        "--also-fast-idle",
    ]);
    for part in ["before", "after", "difference", "before_2500", "after_2500"] {
        assert!(found[part]["lambda"].is_f64(), "{part}: {}", found[part]);
    }
    for key in [
        "lambda",
        "potentiometer_v",
        "duty_percent",
        "co_percent",
        "sensor_v",
        "wanted_ma",
        "air_kg_h",
    ] {
        let value = |part: &str| found[part][key].as_f64().unwrap();
        let difference = value("after") - value("before");
        assert!((value("difference") - difference).abs() < 1e-12, "{key}");
    }
    assert_eq!(found["before"]["screw_turns"], 0.0);
    assert_eq!(found["after"]["screw_turns"], -0.0625);
    assert!((found["after_2500"]["speed_rpm"].as_f64().unwrap() - 2500.0).abs() < 1e-9);
    assert!((found["after_2500"]["brake_nm"].as_f64().unwrap()).abs() < 1e-6, "no load");
}

#[test]
fn every_condition_is_a_change_with_hyphens_or_underscores() {
    for change in [
        "screw=1/32",
        "altitude-m=500",
        "altitude_m=500",
        "ambient_degc=0",
        "coolant_degc=60",
        "fuel-degc=10",
        "speed_rpm=800",
        "throttle_percent=20",
        "leak_kg_h=0.5",
        "trim=on",
        "idle_air=fixed",
        "idle-air=fixed",
        "fuel=e10",
        "flame=flat-rich",
        "spark_deg=5",
        "system_pressure_bar=5",
        "actuator_ma=0",
        "housing_mm=0.3",
        "rest_height_mm=0.5",
        "accessories_bar=0.6",
        "misfire_percent=1",
        "exhaust_leak_percent=1",
        "rig=four",
        "rim_clearance_mm=0.05",
    ] {
        let found = json(&["predict", "--change", change]);
        assert!(found["after"]["lambda"].is_f64(), "{change}: {}", found["after"]);
    }
    let same = |a: &str, b: &str| {
        assert_eq!(
            json(&["predict", "--change", a])["after"],
            json(&["predict", "--change", b])["after"]
        );
    };
    same("altitude-m=500", "altitude_m=500");
    // The rest height is no part of the warm mixture.
    let rest = json(&["predict", "--change", "rest_height_mm=0.5"]);
    assert_eq!(rest["difference"]["lambda"], 0.0);
    assert_ne!(rest["difference"]["plate_lift_mm"], 0.0);
}

#[test]
fn a_prediction_says_the_sentence_that_matters() {
    let says = |args: &[&str]| text(&run(args).stdout).replace("\n  ", " ");
    let fixed = says(&["predict", "--change", "screw=-1/32", "--idle-air", "fixed"]);
    assert!(
        fixed.contains("The voltage does not move because the idle air is fixed and choked"),
        "{fixed}"
    );
    let lean = says(&["predict", "--change", "screw=-1/64", "--trim", "on"]);
    assert!(lean.contains("adding") && lean.contains("% fuel"), "{lean}");
    let stall = says(&["predict", "--change", "screw=-1/2"]);
    assert!(stall.contains("no longer runs") && stall.contains("Stalled after"), "{stall}");
    let unplugged = says(&["predict", "--change", "actuator_ma=0"]);
    assert!(unplugged.contains("cannot answer"), "{unplugged}");
}

#[test]
fn gas_goes_both_ways() {
    for fuel in ["e0", "e10", "iso-octane", "n-heptane", "toluene", "ethanol", "methanol"] {
        for lambda in ["0.75", "0.9", "0.99", "1", "1.01", "1.3"] {
            let gas = json(&["gas", "--lambda", lambda, "--fuel", fuel]);
            let read = |key: &str| gas[key].to_string();
            let back = json(&[
                "gas",
                "--co",
                &read("co_percent"),
                "--co2",
                &read("co2_percent"),
                "--o2",
                &read("o2_percent"),
                "--hc-ppm",
                &read("hc_ppm"),
                "--fuel",
                fuel,
            ]);
            let (there, again) = (lambda.parse::<f64>().unwrap(), back["lambda"].as_f64().unwrap());
            assert!((there - again).abs() < 1e-4, "{fuel}: {there} came back {again}");
            assert!(back["sensor_mv"].is_f64() && back["h2_percent"].is_f64());
        }
    }
    let published =
        json(&["gas", "--co", "0.5", "--co2", "14.7", "--o2", "0.5", "--hc-ppm", "100"]);
    assert!((published["lambda"].as_f64().unwrap() - 1.00468).abs() < 2e-5);
    let formula = json(&["gas", "--lambda", "0.9", "--h-per-c", "2.25", "--o-per-c", "0"]);
    let named = json(&["gas", "--lambda", "0.9", "--fuel", "iso-octane"]);
    assert_eq!(formula["co_percent"], named["co_percent"]);
    let hot = json(&["gas", "--lambda", "0.9", "--tip-degc", "800"]);
    assert!(hot["sensor_mv"].as_f64() < formula["sensor_mv"].as_f64());
}

#[test]
fn bad_input_to_predict_and_gas_is_refused() {
    let folder = TempDir::new().unwrap();
    let refuse =
        |args: &[&str], code: i32, words: &[&str]| refuses(folder.path(), args, code, words);
    refuse(&["predict"], 2, &["--change"]);
    refuse(&["predict", "--change", "screw"], 2, &["KEY=VALUE"]);
    refuse(&["predict", "--change", "scrw=1/16"], 2, &["scrw", "screw"]);
    refuse(&["predict", "--change", "trim=sometimes"], 2, &["trim", "off, on"]);
    refuse(&["predict", "--change", "leak_kg_h=1,5"], 2, &["decimal point"]);
    refuse(&["predict", "--change", "funnel_gap_mm=1"], 2, &["row"]);
    refuse(&["predict", "--change", "screw=5"], 4, &["screw", "-2 to 2 turns"]);
    refuse(&["predict", "--change", "leak_kg_h=nan"], 4, &["leak_kg_h", "kg/h"]);
    refuse(&["predict", "--change", "rest_height_mm=9"], 4, &["-1.5 to 1.5 mm"]);
    refuse(&["predict", "--change", "rig=seven"], 3, &["seven", "rig list"]);
    refuse(
        &["predict", "--change", "screw=5", "--change", "rig=no/file.toml"],
        3,
        &["no/file.toml"],
    );
    refuse(
        &[
            "predict",
            "--change",
            "current_low_ma=0",
            "--change",
            "stall_rpm=600",
            "--change",
            "idle_rpm=500",
        ],
        4,
        &["idle_rpm"],
    );
    refuse(&["gas"], 2, &["--lambda"]);
    refuse(&["gas", "--lambda", "0.9", "--co2", "14"], 2, &["--lambda"]);
    refuse(&["gas", "--lambda", "rich"], 2, &["rich"]);
    refuse(&["gas", "--lambda", "0.1"], 4, &["0.5 to 5"]);
    refuse(&["gas", "--lambda", "nan"], 4, &["0.5 to 5"]);
    refuse(&["gas", "--co2", "0"], 4, &["co2"]);
    refuse(&["gas", "--co2", "14", "--o2", "30"], 4, &["0 to 21 %"]);
    refuse(&["gas", "--lambda", "1", "--fuel", "diesel"], 2, &["diesel"]);
    refuse(&["gas", "--lambda", "1", "--h-per-c", "9"], 4, &["h-per-c"]);
    refuse(&["gas", "--lambda", "1", "--tip-degc", "20"], 4, &["550 to 1000 degC"]);
    refuse(&["completions", "tcsh"], 2, &["tcsh"]);
}

#[test]
fn every_command_writes_where_it_is_told_and_only_then() {
    let folder = TempDir::new().unwrap();
    for (i, command) in COMMANDS.iter().enumerate() {
        let path = folder.path().join(format!("{i}.txt"));
        let path = path.to_str().unwrap();
        let shown = run(command);
        assert_eq!(shown.status.code(), Some(0), "{command:?}: {}", text(&shown.stderr));
        let dash = program().args(*command).args(["-o", "-"]).output().unwrap();
        assert_eq!(dash.stdout, shown.stdout, "{command:?} -o -");
        let quiet = program().args(*command).args(["-o", path, "--quiet"]).output().unwrap();
        assert!(quiet.status.success() && quiet.stdout.is_empty() && quiet.stderr.is_empty());
        assert_eq!(std::fs::read(path).unwrap(), shown.stdout, "{command:?}");
        let again = program().args(*command).args(["-o", path]).output().unwrap();
        assert_eq!(again.status.code(), Some(5), "{command:?} overwrites");
        let forced = program().args(*command).args(["-o", path, "--force"]).output().unwrap();
        assert!(forced.status.success() && text(&forced.stderr).contains("wrote"));
        let plain = program().args(*command).env("NO_COLOR", "1").output().unwrap();
        assert_eq!(plain.stdout, shown.stdout);
        let value = json(command);
        assert_eq!(value["schema_version"], 1, "{command:?}");
    }
}

#[test]
fn completions_and_manual_know_every_command() {
    let help = text(&run(&["--help"]).stdout);
    for kind in ["bash", "zsh", "fish", "man"] {
        let page = text(&run(&["completions", kind]).stdout).to_lowercase();
        for command in [
            "flowstart",
            "sweep",
            "predict",
            "run",
            "meter",
            "wear",
            "claims",
            "rig",
            "gas",
            "completions",
        ] {
            assert!(page.contains(command), "{kind} does not know {command}");
            assert!(help.contains(command));
        }
    }
}

#[test]
fn a_chart_of_a_prediction_tells_its_command() {
    let folder = TempDir::new().unwrap();
    for (name, args) in [
        ("a.svg", vec!["--change", "screw=1/32"]),
        ("b.png", vec!["--change", "screw=-1/2"]),
        ("c.svg", vec!["--change", "screw=0"]),
    ] {
        let path = folder.path().join(name);
        let output = program()
            .arg("predict")
            .args(&args)
            .args(["--chart", path.to_str().unwrap()])
            .output()
            .unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        assert!(std::fs::metadata(&path).unwrap().len() > 1000);
    }
    let svg = std::fs::read_to_string(folder.path().join("a.svg")).unwrap();
    assert!(svg.contains("quarterturn predict --change screw=1/32"), "the footer");
}

#[test]
fn a_run_holds_what_the_contract_names() {
    let found = json(&["run", "--procedure", "screw-step"]);
    let summary = &found["summary"];
    assert!(summary["settled_after_s"]["lambda"].is_f64(), "{summary}");
    assert!(summary["lowest_rpm"].as_f64() < summary["highest_rpm"].as_f64());
    assert!(summary["stalled_at_s"].is_null());
    assert!((summary["final"]["lambda"].as_f64().unwrap() - 1.0).abs() < 0.01);
    let trace = found["trace"].as_array().unwrap();
    assert_eq!(trace.len(), 2401, "four minutes in tenths of a second");
    for key in [
        "time_s",
        "speed_rpm",
        "lambda",
        "idle_valve_percent",
        "film_mg",
        "lambda_at_sensor",
        "duty_percent",
    ] {
        assert!(trace[7][key].is_f64(), "{key}: {}", trace[7]);
    }
    let stalled = json(&[
        "run",
        "--procedure",
        "screw-step",
        "--trim",
        "off",
        "--screw",
        "-0.12",
        "--idle-air",
        "fixed",
    ]);
    if !stalled["summary"]["stalled_at_s"].is_null() {
        assert_eq!(stalled["summary"]["final"]["zone"], "stalled");
    }
    assert_eq!(found["dwells"][1]["set"]["turned_turns"], -1.0 / 32.0);
    let linkage = json(&["run", "--procedure", "stuck-linkage"]);
    assert_eq!(linkage["dwells"][1]["set"]["linkage_play_mm"], -0.8);
    assert!((linkage["dwells"][2]["set"]["blip_rpm"].as_f64().unwrap() - 2500.0).abs() < 1e-9);
    let again = json(&["run", "--procedure", "screw-step"]);
    assert_eq!(found, again);
}

#[test]
fn bad_input_to_run_is_refused() {
    let folder = TempDir::new().unwrap();
    let refuse =
        |args: &[&str], code: i32, words: &[&str]| refuses(folder.path(), args, code, words);
    let write = |name: &str, text: &str| std::fs::write(folder.path().join(name), text).unwrap();
    let head = "name = \"x\"\nabout = \"y\"\nlasts_s = 60\n";
    write("unknown.toml", &format!("{head}[[action]]\nat_s = 5\nturm = 1\n"));
    write(
        "back.toml",
        &format!("{head}[[action]]\nat_s = 9\nturn = 0.1\n[[action]]\nat_s = 5\nturn = 0.1\n"),
    );
    write("fast.toml", &format!("{head}[[action]]\nblip = 9000\n"));
    write("empty.toml", "");
    let run = |file: &'static str| ["run", "--procedure", file];
    refuse(&run("unknown.toml"), 3, &["unknown.toml", "line 6", "turm", "did you mean `turn`"]);
    refuse(&run("back.toml"), 3, &["back.toml", "line 8", "goes back"]);
    refuse(&run("fast.toml"), 3, &["9000", "800 to 6200 rpm"]);
    refuse(&run("empty.toml"), 3, &["empty"]);
    refuse(&run("missing.toml"), 3, &["no such file"]);
    refuse(&run("screw-stop"), 3, &["screw-step"]);
    refuse(&["run"], 2, &["--procedure"]);
    refuse(&["run", "--procedure", "screw-step", "--every-ms", "often"], 2, &["often"]);
    refuse(
        &["run", "--procedure", "screw-step", "--every-ms", "0"],
        4,
        &["--every-ms", "10 to 60000"],
    );
    refuse(&["run", "--procedure", "screw-step", "--seed", "-1"], 4, &["--seed"]);
    refuse(&["run", "--procedure", "screw-step", "--set", "film_share=2"], 4, &["0 to 0.8"]);
}
