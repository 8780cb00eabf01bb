//! `meter` and `wear`: what they hold, and what they refuse.

use crate::common::{json, program, refuses, run, text};
use serde_json::Value;
use tempfile::TempDir;

fn number(value: &Value, key: &str) -> f64 {
    value[key].as_f64().unwrap_or_else(|| panic!("{key}: {}", value[key]))
}

#[test]
fn a_meter_holds_what_the_contract_names() {
    for kind in ["needle", "digital"] {
        let found = json(&["meter", "--procedure", "worn-track", "--kind", kind]);
        for key in ["true_mean_v", "reading_v", "bounce_v", "loading_error_v", "steady_after_s"] {
            assert!(found[key].is_f64(), "{kind}, {key}: {}", found[key]);
        }
        assert!(found["reason"].is_null());
        assert_eq!(found["pulsation_percent"], 10.0);
        assert_eq!(found["instrument"]["kind"], kind);
        let off = number(&found, "reading_v") - number(&found, "true_mean_v");
        let stated = number(&found, "stated_error_v") - number(&found, "loading_error_v") + 0.0125;
        assert!(off.abs() < stated, "{off} {stated}");
        assert_eq!(found, json(&["meter", "--procedure", "worn-track", "--kind", kind]));
    }
    let calm = json(&["meter", "--procedure", "worn-track", "--noise", "off"]);
    assert_eq!((&calm["noise"], &calm["pulsation_percent"]), (&Value::from(false), &0.0.into()));
    let command = calm["canonical_command"].as_str().unwrap();
    assert_eq!(command, "quarterturn meter --procedure worn-track --noise off");
    let other = json(&["meter", "--procedure", "worn-track", "--seed", "2"]);
    assert_ne!(other["bounce_v"], json(&["meter", "--procedure", "worn-track"])["bounce_v"]);
}

#[test]
fn the_load_and_the_class_are_those_of_the_flags() {
    let load = |ohm: &str| {
        let args = ["meter", "--procedure", "throttle-release", "--noise", "off"];
        json(&[&args[..], &["--ohm-per-volt", ohm, "--class", "1", "--range-v", "3"]].concat())
    };
    let (light, heavy) = (load("20000"), load("1000"));
    assert_eq!(light["instrument"]["input_ohm"], 60_000.0);
    assert!((number(&light, "stated_error_v") - 0.03).abs() < 1e-12, "1 % of 3 V");
    for one in [&light, &heavy] {
        let (open, source) = (number(one, "true_mean_v"), number(one, "source_ohm"));
        let input = number(&one["instrument"], "input_ohm");
        let divider = open * (input / (input + source) - 1.0);
        assert!((number(one, "loading_error_v") / divider - 1.0).abs() < 1e-3, "{one}");
    }
    // Short of the voltage: the pointer stands at its stop, and it is said.
    let args = ["meter", "--procedure", "throttle-release", "--range-v", "0.5"];
    assert_eq!(json(&args)["reading_v"], 0.5);
    assert!(text(&run(&args).stdout).contains("stop at full scale"));
}

#[test]
fn a_stall_under_a_meter_or_before_the_wear_is_a_result() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("stall.toml");
    let actions = "[[action]]\nat_s = 5\nturn = \"-1/2\"\n";
    std::fs::write(&path, format!("name = \"x\"\nabout = \"y\"\nlasts_s = 40\n{actions}")).unwrap();
    let own = path.to_str().unwrap();
    for args in [
        vec!["meter", "--procedure", own],
        vec!["meter", "--procedure", "worn-track", "--screw", "-1/2", "--trim", "off"],
    ] {
        let found = json(&args);
        for key in ["true_mean_v", "reading_v", "bounce_v", "loading_error_v", "steady_after_s"] {
            assert!(found[key].is_null(), "{key}: {}", found[key]);
        }
        assert!(found["reason"].is_string(), "{found}");
        let chart = folder.path().join("a.svg");
        let chart = ["--chart", chart.to_str().unwrap(), "--force"];
        assert_eq!(run(&[&args[..], &chart[..]].concat()).status.code(), Some(0));
    }
    let found = json(&["wear", "--screw", "-1/2", "--trim", "off"]);
    assert!(found["reason"].is_string() && found["bad_from_mv"].is_null());
    assert_eq!(found["curves"], Value::Array(Vec::new()));
}

/// What has no value at the end has not settled.
#[test]
fn nothing_settles_of_an_engine_that_stalls() {
    let folder = TempDir::new().unwrap();
    let place = folder.path().join("out.toml");
    let leaner =
        "name = \"out\"\nabout = \"far out\"\nlasts_s = 20\n[[action]]\nat_s = 5\nturn = -1.5\n";
    std::fs::write(&place, leaner).unwrap();
    let args = ["run", "--procedure", place.to_str().unwrap()];
    let stalled = json(&args);
    let summary = &stalled["summary"];
    assert!(summary["stalled_at_s"].is_number(), "{summary}");
    let settled = summary["settled_after_s"].as_object().unwrap();
    assert!(settled.len() > 10 && settled.values().all(serde_json::Value::is_null), "{summary}");
    assert!(summary["learned_trim_settled_after_s"].is_null());
    let table = text(&run(&args).stdout);
    assert!(!table.contains("at once") && !table.contains("not yet"), "{table}");
}

#[test]
fn wear_holds_shares_over_the_years() {
    let args = ["wear", "--years", "12", "--change-years", "4,2.5"];
    let found = json(&args);
    assert_eq!(found, json(&args), "whatever the threads did");
    let curves = found["curves"].as_array().unwrap();
    let periods: Vec<&Value> = curves.iter().map(|curve| &curve["change_years"]).collect();
    assert_eq!(periods, [&Value::Null, &2.5.into(), &4.0.into()]);
    for curve in curves {
        let shares: Vec<f64> =
            curve["rows"].as_array().unwrap().iter().map(|r| number(r, "share_percent")).collect();
        assert_eq!(shares.len(), 13);
        assert!(shares.windows(2).all(|pair| pair[1] >= pair[0]), "{shares:?}");
    }
    let last = |i: usize| number(&curves[i]["rows"][12], "share_percent");
    assert!(last(1) <= last(2) && last(2) < last(0));
    assert_eq!(found["canonical_command"], "quarterturn wear --years 12 --change-years 2.5,4");
    // Twice the wear, half the hours.
    let twice = json(&[&args[..], &["--wear-mm3-nm", "2e-7"]].concat());
    assert!((2.0 * number(&twice, "median_h") / number(&found, "median_h") - 1.0).abs() < 1e-9);
    let hours = json(&[&args[..], &["--hours-a-year", "200"]].concat());
    assert_eq!(hours["curves"][0]["rows"], twice["curves"][0]["rows"], "twice the hours, too");
    let idles = found["idles"].as_array().unwrap();
    assert_eq!(idles[0]["lambda_ratio"], 1.0);
    assert!(idles.iter().any(|idle| idle["bad"] == true));
    assert_eq!(found["cov_passes_10_percent"], false);
    let csv = text(&run(&[&args[..], &["--format", "csv"]].concat()).stdout);
    assert!(csv.contains("share_every_2.5_percent") && csv.contains("risk_never_percent"));
}

#[test]
fn charts_of_meter_and_wear_tell_their_command() {
    let folder = TempDir::new().unwrap();
    for (name, args, words) in [
        ("a.svg", vec!["meter", "--procedure", "worn-track"], "meter --procedure worn-track"),
        ("b.svg", vec!["meter", "--procedure", "climb", "--kind", "digital"], "--kind digital"),
        ("c.svg", vec!["wear", "--years", "9"], "wear --years 9"),
    ] {
        let path = folder.path().join(name);
        let output =
            program().args(&args).args(["--chart", path.to_str().unwrap()]).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        assert!(std::fs::read_to_string(&path).unwrap().contains(words), "{name}");
    }
}

#[test]
fn bad_input_to_meter_and_wear_is_refused() {
    let folder = TempDir::new().unwrap();
    let refuse =
        |args: &[&str], code: i32, words: &[&str]| refuses(folder.path(), args, code, words);
    let meter = |flags: &[&'static str]| [&["meter", "--procedure", "climb"], flags].concat();
    refuse(&["meter"], 2, &["--procedure"]);
    refuse(&meter(&["--kind", "needel"]), 2, &["--kind", "needel", "did you mean `needle`"]);
    refuse(&meter(&["--kind", "digitl"]), 2, &["did you mean `digital`"]);
    refuse(&meter(&["--noise", "maybe"]), 2, &["--noise", "on, off"]);
    refuse(&meter(&["--class", "fine"]), 2, &["--class", "fine"]);
    refuse(&meter(&["--class", "0"]), 4, &["--class", "0.05 to 5 % of full scale"]);
    refuse(&meter(&["--range-v", "-2.5"]), 4, &["--range-v", "-2.5", "0.1 to 1000 V"]);
    refuse(&meter(&["--range-v", "nan"]), 4, &["NaN", "V"]);
    refuse(&meter(&["--ohm-per-volt", "0"]), 4, &["--ohm-per-volt", "ohm/V"]);
    refuse(&meter(&["--kind", "digital", "--class", "inf"]), 4, &["--class"]);
    refuse(&meter(&["--seed", "1.5"]), 4, &["--seed"]);
    refuse(&["meter", "--procedure", "clim"], 3, &["clim", "did you mean `climb`"]);
    refuse(&["meter", "--procedure", "no.toml", "--class", "0"], 3, &["no.toml"]);
    refuse(&["wear", "--years", "0"], 4, &["--years", "1 to 60"]);
    refuse(&["wear", "--years", "2.5"], 4, &["--years"]);
    refuse(&["wear", "--parts", "nan"], 4, &["--parts", "NaN"]);
    refuse(&["wear", "--change-years", "3,often"], 2, &["--change-years", "often"]);
    refuse(&["wear", "--change-years", "3,0"], 4, &["--change-years", "0.5 to 60 years"]);
    refuse(&["wear", "--change-years", "1,2,3,4,5"], 4, &["--change-years", "1 to 4"]);
    refuse(&["wear", "--hours-a-year", "9000"], 4, &["--hours-a-year", "8766 h"]);
    refuse(&["wear", "--wear-mm3-nm", "0"], 4, &["--wear-mm3-nm", "mm3/(N m)"]);
    refuse(&["wear", "--spread", "-1"], 4, &["--spread", "0 to 3"]);
    refuse(&["wear", "--rig", "seven", "--years", "0"], 3, &["seven"]);
}
