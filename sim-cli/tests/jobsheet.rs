//! Job sheets: every job on every rig on two pages in type of 9 pt, what is expected against
//! other commands, what was found judged.

use crate::common::{json, program, refuses, run, text, text_width};
use serde_json::Value;
use tempfile::TempDir;

const RIGS: [&str; 3] = ["six", "four", "eight"];
const JOBS: [&str; 6] = [
    "out-of-storage",
    "fuel-side-opened",
    "rough-idle",
    "hard-start-cold",
    "hard-start-hot",
    "yearly-check",
];
const PARTS: [&str; 13] = [
    "potentiometer",
    "plate-height",
    "plunger",
    "fuel-lines",
    "air-leak",
    "actuator",
    "pressure-regulator",
    "coolant",
    "lambda",
    "exhaust-temperature",
    "altitude",
    "throttle-switch",
    "idle-air-valve",
];

fn attribute<'a>(element: &'a str, name: &str) -> Option<&'a str> {
    element.split(&format!(" {name}=\"")).nth(1)?.split('"').next()
}

fn number(element: &str, name: &str) -> f64 {
    attribute(element, name).unwrap_or_else(|| panic!("no {name}: {element}")).parse().unwrap()
}

/// Left, top, right, bottom.
type Bounds = [f64; 4];

/// Fails if a sheet has more than two pages, type under 9 pt, words beyond the page or their
/// cell, or words over words.
fn printed(what: &str, svg: &str, (wide, high): (f64, f64)) {
    let pages: Vec<&str> = svg.split("<g id=\"page-").skip(1).collect();
    assert!((1..=2).contains(&pages.len()), "{what}: {} pages", pages.len());
    for (i, page) in pages.iter().enumerate() {
        let mut texts: Vec<(Bounds, String)> = Vec::new();
        let mut cells: Vec<Bounds> = Vec::new();
        for piece in page.split('<').skip(1) {
            let (start, rest) = piece.split_once('>').unwrap_or((piece, ""));
            if start.starts_with("rect ") && attribute(start, "stroke").is_some() {
                let of = |name: &str| number(start, name);
                let (x, y) = (of("x"), of("y"));
                cells.push([x, y, x + of("width"), y + of("height")]);
            }
            if start.starts_with("text ") {
                let words =
                    rest.trim().replace("&amp;", "&").replace("&lt;", "<").replace("&gt;", ">");
                let size = number(start, "font-size");
                assert!(size >= 9.0, "{what}: {size} pt: {words}");
                let across = text_width(&words, size, start.contains("font-weight"));
                let (x, y) = (number(start, "x"), number(start, "y"));
                let bounds = [x, y - 0.6 * size, x + across, y + 0.15 * size];
                let [left, top, right, bottom] = bounds;
                let inside = left >= 18.0 && right <= wide - 18.0 && top >= 18.0;
                assert!(inside && bottom <= high - 16.0, "{what}, page {}: {words}", i + 1);
                texts.push((bounds, words));
            }
        }
        for (n, (one, words)) in texts.iter().enumerate() {
            for (other, covered) in &texts[..n] {
                let apart = one[0] >= other[2]
                    || other[0] >= one[2]
                    || one[1] >= other[3]
                    || other[1] >= one[3];
                assert!(apart, "{what}, page {}: \"{words}\" over \"{covered}\"", i + 1);
            }
            // What begins in a cell ends in it.
            let holds = |cell: &&Bounds| {
                cell[0] <= one[0] && one[0] < cell[2] && cell[1] <= one[1] && one[1] < cell[3]
            };
            for cell in cells.iter().filter(holds) {
                let within = one[2] <= cell[2] && one[3] <= cell[3] + 0.5;
                assert!(within, "{what}, page {}: \"{words}\" leaves its cell", i + 1);
            }
        }
    }
}

/// What every sheet has.
fn whole(what: &str, found: &Value) {
    let steps = found["steps"].as_array().unwrap();
    assert!(steps.len() >= 4, "{what}");
    for (i, step) in steps.iter().enumerate() {
        assert_eq!(step["number"], i + 1, "{what}");
        for key in ["title", "what", "tool", "caution", "if_not"] {
            assert!(!step[key].as_str().unwrap().is_empty(), "{what}: {step}");
        }
        for reading in step["readings"].as_array().unwrap() {
            let of =
                |key: &str| reading[key].as_f64().unwrap_or_else(|| panic!("{what}: {reading}"));
            assert!(of("tolerance") > 0.0, "{what}: {reading}");
            assert!(
                of("low") <= of("expected") && of("expected") <= of("high"),
                "{what}: {reading}"
            );
            assert!(reading["maker"].is_null(), "the maker's value is not ours to give");
        }
        let first = &step["readings"][0];
        assert_eq!(step["expected"], first["expected"], "{what}");
        assert_eq!(step["tolerance"], first["tolerance"], "{what}");
    }
    assert!(found["job_cautions"].as_array().unwrap().len() >= 3, "{what}");
}

const PAPERS: [(&str, (f64, f64)); 2] = [("a4", (841.89, 595.28)), ("letter", (792.0, 612.0))];

#[test]
fn every_job_on_every_rig_stands_on_two_pages() {
    let folder = TempDir::new().unwrap();
    let place = folder.path().join("sheet.svg");
    let place = place.to_str().unwrap();
    for rig in RIGS {
        for job in JOBS {
            for (paper, size) in PAPERS {
                let what = format!("{job}, {rig}, {paper}");
                let args =
                    ["jobsheet", job, "--rig", rig, "--paper", paper, "-o", place, "--force"];
                whole(&what, &json(&args));
                printed(&what, &std::fs::read_to_string(place).unwrap(), size);
            }
        }
    }
}

#[test]
fn every_repair_says_what_must_be_redone_on_two_pages() {
    let folder = TempDir::new().unwrap();
    let place = folder.path().join("sheet.svg");
    let place = place.to_str().unwrap();
    let needed = json(&["parts", "--rig", "four"]);
    for part in PARTS {
        let args = ["jobsheet", "repair", part, "--rig", "four", "-o", place, "--force"];
        let found = json(&args);
        whole(part, &found);
        printed(part, &std::fs::read_to_string(place).unwrap(), PAPERS[0].1);
        let rows = needed["rows"].as_array().unwrap();
        let row = rows.iter().find(|row| row["part"] == part).unwrap();
        let verdict = found["verdict"].as_str().unwrap();
        assert_eq!(row["new_setting_needed"], verdict.starts_with("Set anew:"), "{part}");
        // Without a new setting nobody turns the screw.
        let turns = found["steps"].as_array().unwrap().iter().any(|s| s["turns_the_screw"] == true);
        assert_eq!(turns, !verdict.starts_with("Nothing"), "{part}: {verdict}");
    }
}

#[test]
fn a_part_is_named_in_three_ways() {
    let one = json(&["jobsheet", "repair", "lambda"]);
    for args in [&["jobsheet", "repair", "--part", "lambda"][..], &["jobsheet", "repair-lambda"]] {
        assert_eq!(json(args)["canonical_command"], one["canonical_command"]);
    }
}

fn reading<'a>(found: &'a Value, name: &str) -> &'a Value {
    let steps = found["steps"].as_array().unwrap();
    let all = steps.iter().flat_map(|step| step["readings"].as_array().unwrap());
    let here = |reading: &&Value| {
        reading["name"] == name && reading["plugged"] == true && reading["fast_idle"] == false
    };
    all.into_iter().find(here).unwrap_or_else(|| panic!("no {name}"))
}

#[test]
fn what_is_expected_is_what_the_other_commands_say() {
    for rig in RIGS {
        let near = |found: &Value, name: &str, value: f64, by: f64| {
            let expected = reading(found, name)["expected"].as_f64().unwrap();
            assert!((expected - value).abs() <= by, "{rig} {name}: {expected}, {value}");
        };
        let of = |found: &Value, path: &str| found.pointer(path).unwrap().as_f64().unwrap();
        let idle = json(&["jobsheet", "yearly-check", "--rig", rig]);
        let aim = json(&[
            "predict",
            "--rig",
            rig,
            "--screw",
            "aim",
            "--trim",
            "on",
            "--change",
            "screw=aim",
        ]);
        near(&idle, "speed_rpm", of(&aim, "/after/speed_rpm"), 1e-6);
        near(&idle, "duty_percent", of(&aim, "/after/duty_percent"), 0.01);
        near(&idle, "sensor_v", of(&aim, "/after/sensor_v"), 1e-6);
        near(&idle, "co_percent", of(&aim, "/after/co_percent"), 1e-6);
        // The housing makes good what the aim's plate is off.
        near(&idle, "potentiometer_v", of(&aim, "/after/potentiometer_v"), 0.02);
        let cold = json(&["jobsheet", "hard-start-cold", "--rig", rig]);
        let start = json(&["coldstart", "--rig", rig, "--screw", "aim"]);
        near(&cold, "cranking_s", of(&start, "/cranking_s"), 1e-6);
        near(&cold, "caught_s", of(&start, "/caught_after_s"), 1e-6);
        let bled = json(&["bleed", "--rig", rig, "--screw", "aim", "--lift-mm", "8"]);
        near(&cold, "residual_bar", of(&bled, "/residual_30min_bar"), 0.01);
        let last = of(&bled, "/last_line/flows_after_s");
        near(&cold, "line_flows_s", last, 0.02);
        let hot = json(&["jobsheet", "hard-start-hot", "--rig", rig]);
        let again = json(&["bleed", "--rig", rig, "--screw", "aim", "--vapour-kpa", "60"]);
        near(&hot, "hot_cranking_s", of(&again, "/hot_restart_cranking_s"), 0.1);
        let sweep = json(&["sweep", "--rig", rig]);
        let storage = json(&["jobsheet", "out-of-storage", "--rig", rig]);
        let aim_turns = of(&sweep, "/edges/aim_turns");
        near(&storage, "lean_edge_turns", of(&sweep, "/edges/rough_lean_turns") - aim_turns, 1e-6);
        near(&storage, "rich_edge_turns", of(&sweep, "/edges/rough_rich_turns") - aim_turns, 1e-6);
        let cold_set = json(&["flowstart", "--rig", rig]);
        near(&storage, "flow_start_turns", of(&cold_set, "/flow_start_turns") - aim_turns, 1e-3);
        let learned = json(&["relearn", "--rig", rig, "--screw", "aim", "--averaged"]);
        near(&storage, "learned_starts", of(&learned, "/settled_at_start"), 0.0);
    }
}

#[test]
fn the_screw_waits_for_ignition_leaks_and_pressure_and_has_a_way_back() {
    for job in ["out-of-storage", "rough-idle"] {
        let found = json(&["jobsheet", job]);
        let steps = found["steps"].as_array().unwrap();
        let turns = steps.iter().position(|step| step["turns_the_screw"] == true).unwrap();
        let before: String = steps[..turns].iter().map(|step| step.to_string()).collect();
        for word in ["spark", "Hoses", "system", "Found is 0"] {
            let there = before.to_lowercase().contains(&word.to_lowercase());
            assert!(there || word == "Hoses" && before.contains("vacuum"), "{job}: {word}");
        }
        let said = text(&run(&["jobsheet", job, "--quiet"]).stdout);
        assert!(said.contains("Record of the screw: found is 0"), "{job}");
    }
}

#[test]
fn a_needle_has_a_wider_tolerance() {
    let of = |kind: &str| {
        let found = json(&["jobsheet", "yearly-check", "--kind", kind]);
        reading(&found, "potentiometer_v")["tolerance"].as_f64().unwrap()
    };
    assert!(of("needle") > 1.5 * of("digital"));
}

#[test]
fn what_was_found_is_judged_and_weighed_to_the_cause() {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("found.csv");
    let file = file.to_str().unwrap();
    std::fs::write(
        file,
        "plugged,ear,speed_rpm,duty_percent,potentiometer_v,system_bar,drop_1_rpm,drop_2_rpm\n\
         yes,rough,708,50,0.70,4.9,84,20\n",
    )
    .unwrap();
    let found = json(&["jobsheet", "rough-idle", "--readings", file]);
    assert_eq!(reading(&found, "speed_rpm")["inside"], true);
    assert_eq!(reading(&found, "system_bar")["inside"], false);
    assert_eq!(reading(&found, "drop_N_rpm")["found"], serde_json::json!([84.0, 20.0]));
    assert_eq!(reading(&found, "drop_N_rpm")["inside"], false);
    assert!(reading(&found, "co_percent")["inside"].is_null());
    let causes = found["finding"]["causes"].as_array().unwrap();
    assert_eq!(causes.len(), 3);
    assert!(found["finding"]["next_check"]["minutes"].as_f64().unwrap() > 0.0);
    let said = found["judgement"].to_string();
    assert!(said.contains("line 2 below") && said.contains("By ear: rough"), "{said}");
    assert!(said.contains("Most probable") && said.contains("Next check"), "{said}");
    // The same by flags; and the sheet with what was found still stands on two pages.
    let place = folder.path().join("sheet.svg");
    let flags = [
        "jobsheet",
        "rough-idle",
        "--reading",
        "system_bar=4.9",
        "--reading",
        "speed_rpm=708",
        "-o",
        place.to_str().unwrap(),
    ];
    assert_eq!(reading(&json(&flags), "system_bar")["inside"], false);
    printed("found", &std::fs::read_to_string(place).unwrap(), PAPERS[0].1);
    let files = [("no.csv", 3), ("bad.csv", 3)];
    std::fs::write(folder.path().join("bad.csv"), "duty_percent\n850\n").unwrap();
    for (name, code) in files {
        refuses(folder.path(), &["jobsheet", "rough-idle", "--readings", name], code, &[name]);
    }
}

#[test]
fn the_text_keeps_to_80_columns_and_files_are_whole() {
    let folder = TempDir::new().unwrap();
    for (job, rig) in JOBS.iter().zip(RIGS.iter().cycle()) {
        let place = folder.path().join(format!("{job}.txt"));
        let place = place.to_str().unwrap();
        assert!(run(&["jobsheet", job, "--rig", rig, "-o", place]).status.success());
        let written = std::fs::read_to_string(place).unwrap();
        for line in written.lines() {
            assert!(line.chars().count() <= 80, "{job}: {line}");
        }
        assert!(written.contains("If not:") && written.contains("maker"), "{written}");
        let said = text(&run(&["jobsheet", job, "--rig", rig, "--quiet"]).stdout);
        assert!(said.starts_with(&written), "{job}: the terminal shows the same");
    }
    for (name, start) in [("a.pdf", &b"%PDF"[..]), ("a.png", &b"\x89PNG"[..])] {
        let place = folder.path().join(name);
        let place = place.to_str().unwrap();
        assert!(run(&["jobsheet", "repair", "lambda", "-o", place]).status.success());
        assert!(std::fs::read(place).unwrap().starts_with(start), "{name}");
        let again = run(&["jobsheet", "repair", "lambda", "-o", place]);
        assert_eq!(again.status.code(), Some(5), "nothing is written over");
    }
}

#[test]
fn without_a_job_it_lists_them_on_one_screen() {
    for args in [&["jobsheet"][..], &["jobsheet", "list"]] {
        let said = text(&run(args).stdout);
        assert!(said.lines().count() < 24, "{said}");
        for job in JOBS.iter().chain(&["repair"]) {
            assert!(said.contains(job), "{said}");
        }
    }
}

#[test]
fn wrong_jobs_and_parts_are_refused() {
    let folder = TempDir::new().unwrap();
    let refuse =
        |args: &[&str], code: i32, words: &[&str]| refuses(folder.path(), args, code, words);
    refuse(&["jobsheet", "rough"], 2, &["rough", "rough-idle", "list"]);
    refuse(&["jobsheet", "repair"], 2, &["PART", "plunger"]);
    refuse(&["jobsheet", "repair", "plungr"], 2, &["plungr", "plunger"]);
    refuse(&["jobsheet", "rough-idle", "plunger"], 2, &["repair"]);
    refuse(&["jobsheet", "rough-idle", "-o", "a.gif"], 2, &["a.gif", ".txt"]);
    refuse(&["jobsheet", "-o", "a.pdf"], 2, &["JOB"]);
    refuse(&["jobsheet", "rough-idle", "--rig", "seven"], 3, &["seven"]);
    refuse(
        &[
            "jobsheet",
            "rough-idle",
            "--reading",
            "potentiometer_v=700",
            "--reading",
            "duty_percent=50",
        ],
        4,
        &["mV"],
    );
    let cautions = program().args(["cautions", "fuel-side-opened"]).output().unwrap();
    assert!(cautions.status.success(), "the jobs of the sheets have cautions of their names");
}

/// A sheet and `diagnose` say the same of the same readings.
#[test]
fn a_sheet_names_the_causes_that_diagnose_names() {
    let reads = ["--reading", "duty_percent=85", "--reading", "potentiometer_v=0.671"];
    let of = |words: &[&str]| json(&[words, &reads].concat());
    let (sheet, found) = (of(&["jobsheet", "rough-idle"]), of(&["diagnose"]));
    let told = sheet["finding"]["causes"].as_array().unwrap();
    assert!(!told.is_empty());
    for (told, weighed) in told.iter().zip(found["causes"].as_array().unwrap()) {
        assert_eq!(told["name"], weighed["name"]);
        assert_eq!(told["probability"], weighed["probability"], "{told}");
    }
    assert_eq!(sheet["finding"]["next_check"]["name"], found["next_check"]["name"]);
}
