//! What the program refuses: the exit code, the place, the words, and nothing written.

use crate::common::{listing, program, refuses, run, six, text};
use tempfile::TempDir;

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
    refuse(&["sweep", "--altitude-m", "high"], &["--altitude-m", "high", "-400 to 5000 m"]);
    refuse(&["sweep", "--altitude-m", "1500ft"], &["the number alone, in m"]);
    refuse(
        &["predict", "--change", "leak_kg_h=1kg/h"],
        &["the number alone, in kg/h", "0 to 60 kg/h"],
    );
    refuse(&["relearn", "--battery-off-s", "1min"], &["1min", "the number alone, in s"]);
    refuse(&["sweep", "--altitude-m", "1,500"], &["nothing between thousands"]);
    for thousands in ["5 000", "5'000", "5\u{a0}000", "5\u{202f}000"] {
        refuse(&["sweep", "--altitude-m", thousands], &["nothing between thousands"]);
        let reading = format!("speed_rpm={thousands}");
        refuse(&["diagnose", "--reading", &reading], &["nothing between thousands"]);
    }
    let twice = ["predict", "--change", "housing_mm=0.1", "--change", "housing_mm=0.2"];
    refuse(&twice, &["--change", "`housing_mm` is given twice"]);
    refuse(&["bleed", "--check-valve", "broken"], &["ok, leaks, stuck-open"]);
    refuse(&["sweep", "--trim", "maybe"], &["--trim", "off, on"]);
    refuse(&["sweep", "--set", "altitude_m"], &["KEY=VALUE"]);
    refuse(&["sweep", "--set", "ptich_mm=1"], &["ptich_mm", "pitch_mm"]);
    refuse(&["sweep", "--set", "slit_width_mm=1"], &["slit_width_mm", "row"]);
    refuse(&["sweep", "--no-such-flag"], &["--no-such-flag"]);
    refuse(&["sweep", "--chart", "a.gif"], &["a.gif", ".svg", ".png"]);
    refuse(&["swep"], &["swep", "sweep"]);
    refuse(&["sweep", "--format", "xml"], &["xml"]);
    refuse(&["sweep", "--chart", "a.csv", "-o", "a.csv"], &["a.csv", "two"]);
    refuse(&["sweep", "--chart", "a.svg", "-o", "./a.svg", "--rig", "no.toml"], &["two"]);
    refuse(&["draw"], &["draw", "-o FILE"]);
    refuse(&["draw", "-o", "machine.gif"], &["machine.gif", ".svg", ".png"]);
    refuse(&["draw", "-o", "machine.csv"], &["machine.csv", ".svg", "--format csv"]);
    refuse(&["draw", "-o", "a.svg", "--sheet", "brakes"], &["--sheet", "metering, fuel"]);
    refuse(&["draw", "-o", "a.svg", "--position", "idle"], &["--position", "warm-idle"]);
    refuse(&["draw", "-o", "a.svg", "--theme", "dark"], &["--theme", "print, projector"]);
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
        &["sweep", "--set", "throttle_closed_deg=30", "--set", "throttle_open_deg=20"],
        &["40 to 90 deg"],
    );
    refuse(&["flowstart", "--back-off", "nan"], &["--back-off"]);
    refuse(&["flowstart", "--back-off", "5"], &["--back-off", "turns"]);
    refuse(&["claims", "--rigs", "1000000"], &["--rigs", "100000"]);
    refuse(&["claims", "--rigs", "0"], &["--rigs"]);
    refuse(&["claims", "--seed", "1.5"], &["--seed", "whole numbers"]);
    let none = ["predict", "--change", "leak_kg_h=1", "--screw", "aim", "--accessories-bar", "3"];
    refuse(
        &[&none[..], &["--misfire-percent", "50", "--altitude-m", "5000"]].concat(),
        &["--screw", "no aim", "lambda 1"],
    );
    refuse(&["consequences", "--of", "coolant=-40"], &["--of coolant: -40"]);
    refuse(&["predict", "--change", "system_pressure_bar=480"], &["480 kPa is 4.8 bar"]);
    refuse(&["draw", "-o", "a.svg", "--screw", "3"], &["--screw", "-2 to 2 turns"]);
    refuse(&["gas", "--lambda", "9"], &["--lambda: 9", "0.5 to 5"]);
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
    bad("unit.toml", "spark_deg = 10", "spark_deg = 10 deg");
    refuse("unit.toml", &[&line("spark_deg"), "not TOML", "`spark_deg` takes", "no unit"]);
    bad("comma.toml", "spark_deg = 10", "spark_deg = 10,5");
    refuse("comma.toml", &[&line("spark_deg"), "not TOML", "`spark_deg` takes", "no comma"]);
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
        good.lines().find(|line| line.starts_with("slit_width_mm")).unwrap(),
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
    refuses(place, &["draw", "-o", "old.svg"], 5, &["old.svg", "--force"]);
    refuses(place, &["draw", "-o", "no/folder/a.svg"], 5, &["no/folder"]);
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

/// Each of these once hung, or showed a point out of balance or an infinity as a result.
#[test]
fn strange_engines_end_with_a_result_or_a_reason() {
    let unequal = TempDir::new().unwrap();
    let path = unequal.path().join("unequal.toml");
    let toml = six();
    let widths = toml.lines().find(|line| line.starts_with("slit_width_mm")).unwrap().to_string();
    std::fs::write(&path, toml.replace(&widths, "slit_width_mm = [0.06, 0.12]")).unwrap();
    let own = path.to_str().unwrap();
    for args in [
        vec!["--misfire-percent", "49", "--trim", "on"],
        vec!["--exhaust-leak-percent", "40", "--altitude-m", "4000", "--trim", "on"],
        vec!["--set", "efficiency=0.5", "--set", "half_burnt_deg=90", "--trim", "on"],
        vec!["--set", "filling_2_s2=-3e-6", "--speed-rpm", "6500"],
        vec!["--set", "rim_clearance_mm=0.3", "--leak-kg-h", "10"],
        vec!["--set", "base_ma=-20", "--set", "slit_height_mm=1", "--throttle-percent", "100"],
        vec!["--throttle-percent", "1", "--leak-kg-h", "15"],
        vec!["--idle-air", "fixed", "--set", "idle_valve_width_mm=1"],
        vec!["--rig", own],
    ] {
        let mut whole = vec!["sweep", "--step", "1/32", "--format", "json"];
        whole.extend(&args);
        let output = run(&whole);
        assert_eq!(output.status.code(), Some(0), "{args:?}: {}", text(&output.stderr));
        let value: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        for point in value["points"].as_array().unwrap() {
            if point["zone"] == "stalled" {
                assert!(point["reason"].is_string());
                continue;
            }
            assert!(point["residual"].as_f64().unwrap() < 1e-9, "{args:?}: {point}");
            assert!(point["idle_valve_percent"].as_f64().unwrap() <= 100.0 + 1e-9, "{args:?}");
        }
        let table = text(&run(&[&["sweep", "--step", "1/32"][..], &args[..]].concat()).stdout);
        assert!(!table.contains("inf") && !table.contains("NaN"), "{args:?}: {table}");
    }
}

#[test]
fn a_value_given_by_two_roads_is_given_once_too_often() {
    let folder = TempDir::new().unwrap();
    let refuse = |args: &[&str], words: &[&str]| refuses(folder.path(), args, 2, words);
    let twice = ["`altitude_m` is given twice", "--altitude-m", "--set"];
    refuse(&["sweep", "--set", "altitude_m=100", "--altitude-m", "200"], &twice);
    refuse(&["sweep", "--set", "ear_cov_percent=5", "--set", "ear_cov_percent=6"], &[]);
    refuse(&["parts", "--fail", "lambda=dead", "--fail", "lambda=cold"], &["`lambda`", "twice"]);
}

#[test]
fn a_bad_file_comes_before_a_value_outside_the_model() {
    let folder = TempDir::new().unwrap();
    let beyond = ["--screw", "9"];
    for args in [
        &["run", "--procedure", "missing.toml"][..],
        &["meter", "--procedure", "missing.toml"],
        &["predict", "--change", "rig=missing"],
        &["relearn", "--drive", "missing.csv"],
        &["sweep", "--rig", "missing.toml"],
        &["diagnose", "missing.csv"],
        &["fit", "missing.csv"],
        &["advise", "missing.csv"],
        &["jobsheet", "out-of-storage", "--readings", "missing.csv"],
    ] {
        refuses(folder.path(), &[args, &beyond].concat(), 3, &["missing"]);
    }
    std::fs::write(folder.path().join("bad.csv"), "duty_percent,potentiometer_v\n50,9\n").unwrap();
    let bad = ["fit", "bad.csv", "--screw", "9"];
    refuses(folder.path(), &bad, 3, &["bad.csv: line 2", "potentiometer_v"]);
    std::fs::remove_file(folder.path().join("bad.csv")).unwrap();
    // And a value outside the model before a place that cannot be read or written.
    for output in ["no/such/folder.csv", "/dev/full/x"] {
        refuses(folder.path(), &["sweep", "--altitude-m", "9e4", "-o", output], 4, &["altitude"]);
        refuses(folder.path(), &["sweep", "--step", "0", "-o", output], 2, &["--step"]);
        refuses(folder.path(), &["sweep", "--rig", "missing.toml", "-o", output], 3, &["missing"]);
    }
    if std::path::Path::new("/proc/self/mem").exists() {
        let args = ["sweep", "--rig", "/proc/self/mem"];
        refuses(folder.path(), &args, 5, &["/proc/self/mem"]);
        refuses(folder.path(), &[&args[..], &["--altitude-m", "9e4"]].concat(), 4, &["altitude"]);
    }
}

#[test]
fn what_a_procedure_cannot_do_is_told_at_its_line_before_it_runs() {
    let folder = TempDir::new().unwrap();
    let head = "name = \"x\"\nabout = \"y\"\nlasts_s = 20\n";
    let refuse = |actions: &[&str], code: i32, more: &[&str], words: &[&str]| {
        let actions: String = actions.iter().map(|a| format!("[[action]]\n{a}\n")).collect();
        std::fs::write(folder.path().join("p.toml"), format!("{head}{actions}")).unwrap();
        let args = [&["run", "--procedure", "p.toml"], more].concat();
        refuses(folder.path(), &args, code, &[&["p.toml"], words].concat());
    };
    let row = ["line 5", "slit_width_mm", "a row of values, which only a rig file has"];
    refuse(&["set = \"slit_width_mm=0.07\""], 3, &[], &row);
    refuse(&["set = \"slit_width_mm=[0.07, 0.07]\""], 3, &[], &row);
    let below = ["set = \"idle_rpm=400\"", "set = \"stall_rpm=600\""];
    refuse(&below, 3, &[], &["line 6", "stall_rpm", "idle_rpm"]);
    refuse(&["turn = 1.5", "turn = \"1\""], 3, &[], &["line 6", "2.5", "-2 to 2"]);
    refuse(&["turn = 1.5"], 3, &["--screw", "1"], &["line 4", "2.5"]);
    refuse(&["set = \"altitude_m=abc\""], 3, &[], &["line 5", "altitude_m", "a number alone"]);
    refuse(&["wait = 15", "wait = 15"], 3, &[], &["line 7", "`wait` = 15", "0 to 5 s"]);
    refuse(&["turn = true"], 3, &[], &["line 5", "`turn` takes a number, found true or false\n"]);
    // What is asked for beyond the limit that holds by then bounces on it to the end.
    let lower = ["set = \"limit_rpm=2000\"", "blip = 3000"];
    refuse(&lower, 3, &[], &["line 7", "`blip` = 3000", "800 to 2000 rpm"]);
    let held = ["set = \"limit_rpm=2000\"", "throttle = 40\nspeed_rpm = 2100"];
    refuse(&held, 3, &[], &["line 8", "`speed_rpm` = 2100", "800 to 2000 rpm"]);
    let higher = ["set = \"limit_rpm=9000\"", "blip = 6500", "blip = 9500"];
    refuse(&higher, 3, &[], &["line 9", "`blip` = 9500", "800 to 9000 rpm"]);
    // A shipped procedure is sound: what does not suit it is what the flags ask for.
    let args = ["run", "--procedure", "screw-step", "--set", "limit_rpm=2000"];
    refuses(folder.path(), &args, 4, &["--set limit_rpm=2000", "2500", "2000 rpm"]);
}

#[test]
fn a_place_without_a_name_is_wrong_usage() {
    let folder = TempDir::new().unwrap();
    let refuse = |words: &str, flag: &str| {
        let args: Vec<&str> = words.split(' ').chain([""]).collect();
        refuses(folder.path(), &args, 2, &[flag, "is empty"]);
    };
    for command in ["sweep", "live", "draw", "listen", "class --lesson 5", "fit", "jobsheet yearly"]
    {
        refuse(&format!("{command} -o"), "--output");
    }
    for words in ["sweep --chart", "sweep --rig", "run --procedure", "relearn --drive"] {
        refuse(words, words.split(' ').nth(1).unwrap());
    }
    for words in ["quiz --answers", "live --acts", "jobsheet yearly --readings", "quiz --rig"] {
        refuse(words, words.split(' ').rfind(|word| word.starts_with("--")).unwrap());
    }
    refuse("chart sweep -o a.svg --data", "--data");
    for words in ["rig check", "rig show", "readings check", "diagnose", "advise"] {
        refuse(words, "");
    }
}

#[test]
fn stdin_is_read_for_one_file() {
    let folder = TempDir::new().unwrap();
    for words in [
        "quiz --rig - --answers -",
        "diagnose - --rig -",
        "fit - --rig -",
        "readings check - --rig -",
        "run --rig - --procedure -",
        "relearn --drive - --rig -",
        "live --acts - --rig -",
        "jobsheet yearly --readings - --rig -",
        "predict --rig - --change rig=-",
    ] {
        let args: Vec<&str> = words.split(' ').collect();
        refuses(folder.path(), &args, 2, &["stdin", "read once"]);
    }
}

#[test]
fn a_file_whose_lines_end_as_on_old_machines_is_read() {
    let folder = TempDir::new().unwrap();
    let old = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::write(&path, text.replace('\n', "\r")).unwrap();
        path.to_str().unwrap().to_string()
    };
    let rig = old("six.toml", &six());
    assert_eq!(run(&["rig", "check", &rig]).status.code(), Some(0));
    let readings = old("r.csv", "# mine\nduty_percent,potentiometer_v\n85,0.67\n");
    let found = run(&["readings", "check", &readings]);
    assert_eq!(found.status.code(), Some(0), "{}", text(&found.stderr));
    let args = ["relearn", "--starts", "1", "--drive", "d.csv"];
    old("d.csv", "time_s,speed_kmh\n0,0\n5,x\n");
    refuses(folder.path(), &args, 3, &["d.csv: line 3"]);
}

#[test]
fn every_error_in_a_file_has_its_line() {
    let folder = TempDir::new().unwrap();
    let refuse = |args: &[&str], text: &[u8], line: &str| {
        std::fs::write(folder.path().join("f.txt"), text).unwrap();
        refuses(folder.path(), args, 3, &["f.txt", line]);
    };
    let rig = ["sweep", "--rig", "f.txt"];
    refuse(&rig, b"", "line 1");
    refuse(&rig, b"about = \"y\"\n", "line 1");
    refuse(&rig, b"name = \"x\"\n\xff", "line 2");
    let short = six().replacen("plate_arm_mm = 110", "", 1);
    let table = short.lines().position(|line| line == "[lever]").unwrap() + 1;
    refuse(&rig, short.as_bytes(), &format!("line {table}, "));
    let readings = ["readings", "check", "f.txt"];
    refuse(&readings, b"", "line 1");
    refuse(&readings, b"# mine\nduty_percent\n", "line 2: too few readings");
    let contradicts = b"vacuum_bar,manifold_bar\n0.4,0.9\n\n";
    refuse(&readings, b"# mine\nduty_percent\tpotentiometer_v\n85\t0.67\n", "line 2: no reading");
    refuse(&readings, b"duty_percent,potentiometer_v\n85,\"0,67\"\n", "not a comma");
    refuse(&readings, contradicts, "line 2: these contradict each other");
    let drive = ["relearn", "--starts", "1", "--drive", "f.txt"];
    refuse(&drive, b"", "line 1");
    refuse(&drive, b"# mine\nseconds,kmh\n", "line 2");
    let long: String = (0..400).map(|i| format!("{},0\n", 30 * i)).collect();
    refuse(&drive, format!("time_s,speed_kmh\n{long}").as_bytes(), "line 401");
}

#[test]
fn a_drive_faster_than_the_engine_can_turn_is_told() {
    let folder = TempDir::new().unwrap();
    let rows: String = (0..60).map(|i| format!("{},{}\n", 5 * i, (10 * i).min(200))).collect();
    std::fs::write(folder.path().join("d.csv"), format!("time_s,speed_kmh\n{rows}")).unwrap();
    let args = ["relearn", "--starts", "1", "--drive", "d.csv"];
    refuses(folder.path(), &args, 3, &["d.csv: line 22", "200 km/h", "6200 rpm"]);
    let valves = ["valves", "--set", "limit_rpm=2000"];
    refuses(folder.path(), &valves, 4, &["--from-rpm", "3000 rpm", "above 2000 rpm"]);
    let args = ["relearn", "--starts", "1", "--set", "limit_rpm=2000"];
    refuses(folder.path(), &args, 4, &["limit_rpm=2000", "2000 rpm"]);
}

#[test]
fn a_step_that_a_run_does_not_have_is_refused() {
    let folder = TempDir::new().unwrap();
    let args = ["run", "--procedure", "screw-step", "--every-ms", "15"];
    refuses(folder.path(), &args, 4, &["--every-ms: 15", "10 or 20"]);
}

#[test]
fn how_an_engine_stood_is_refused_by_a_run_that_begins_running() {
    let folder = TempDir::new().unwrap();
    for command in ["run", "meter"] {
        for flags in [["--lines", "empty"], ["--stood-h", "3"]] {
            let args = [&[command, "--procedure", "screw-step"][..], &flags].concat();
            refuses(folder.path(), &args, 2, &[flags[0], "begins with a running one"]);
        }
    }
}

#[test]
fn a_message_neither_controls_the_terminal_nor_floods_it() {
    let folder = TempDir::new().unwrap();
    let args = ["sweep", "--rig", "a\u{1b}[2J\u{202e}.toml"];
    refuses(folder.path(), &args, 3, &["a\\u{1b}[2J\\u{202e}.toml", "no such file"]);
    let long = "x".repeat(100_000);
    for args in [["sweep", "--altitude-m", &long], ["sweep", "--no-such-flag", &long]] {
        let output = program().args(args).output().unwrap();
        assert_eq!(output.status.code(), Some(2));
        assert!(output.stderr.len() < 2000, "{} bytes", output.stderr.len());
    }
}

#[test]
fn a_place_that_was_written_does_not_control_the_terminal() {
    let folder = TempDir::new().unwrap();
    let readings = ["--reading", "duty_percent=50", "--reading", "potentiometer_v=0.7"];
    for (args, ending) in [
        (&["sweep", "--step", "1/4", "-o"][..], "csv"),
        (&["sweep", "--step", "1/4", "--chart"], "svg"),
        (&["draw", "-o"], "pdf"),
        (&["live", "-o"], "html"),
        (&["listen", "--seconds", "1", "-o"], "wav"),
        (&[&["fit"], &readings[..], &["-o"]].concat(), "toml"),
        (&["chart", "05-two-edges", "-o"], "png"),
        (&["class", "--lesson", "1", "-o"], "d"),
    ] {
        let place = folder.path().join(format!("a\u{1b}[2J\u{202e}.{ending}"));
        let output = program().args(args).arg(&place).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{args:?}: {}", text(&output.stderr));
        let told = text(&output.stdout) + &text(&output.stderr);
        let controls = |c: char| c.is_control() && c != '\n' || c == '\u{202e}';
        assert!(!told.contains(controls), "{args:?}: {told:?}");
    }
}

/// Twice as long takes twice the time: what grew with the square took 9 s here, and 40 s for
/// 40 000 answers.
#[test]
fn long_files_are_refused_in_time() {
    let folder = TempDir::new().unwrap();
    let many = |one: &dyn Fn(usize) -> String| (0..20_000).map(one).collect::<String>();
    let columns = many(&|i| format!("c{i},"));
    let members = many(&|i| format!("\"q{i}\":1,"));
    let keys = many(&|i| format!("k{i} = {i}\n"));
    let actions = many(&|i| format!("[[action]]\nset = \"altitude_m={i}\"\n"));
    for (name, text, args) in [
        ("r.csv", format!("{columns}x\n1\n"), &["readings", "check", "r.csv"][..]),
        ("d.csv", format!("{columns}x\n1\n"), &["diagnose", "d.csv"]),
        ("a.json", format!("{{{members}\"x\":1}}"), &["quiz", "--answers", "a.json"]),
        (
            "k.json",
            format!("{{\"{}\":1}}", "k".repeat(1_900_000)),
            &["quiz", "--answers", "k.json"],
        ),
        ("r.toml", format!("name = \"x\"\n[lever]\n{keys}"), &["rig", "check", "r.toml"]),
        (
            "p.toml",
            format!("name = \"x\"\nabout = \"y\"\nlasts_s = 20\n{actions}"),
            &["run", "--procedure", "p.toml"],
        ),
    ] {
        std::fs::write(folder.path().join(name), text).unwrap();
        let begun = std::time::Instant::now();
        refuses(folder.path(), args, 3, &[name, "line "]);
        assert!(begun.elapsed().as_secs() < 5, "{name}: {:?}", begun.elapsed());
    }
}
