//! A hunt with chance: command lines at random and files changed at random.
//!
//! Short here. A longer one, with other draws:
//! `HUNT_CASES=20000 HUNT_SEED=7 cargo test --release -p sim-cli --test suite hunt -- --nocapture`.
//! It prints how many cases ended with each exit code.

use crate::common::chance::{Chance, ODD, hunted, setting};
use sim_core::rig::keys::{KEYS, Key, Place};
use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::Path;
use tempfile::TempDir;

/// A value for a key: mostly one that it takes.
fn value(chance: &mut Chance, key: &Key) -> String {
    match (chance.below(20), &key.place) {
        (0, _) => chance.of(&ODD).into(),
        (_, Place::Choice { words, .. }) => chance.of(words).into(),
        (1, _) => key.low.to_string(),
        (2, _) => key.high.to_string(),
        (3, _) => (key.high + (key.high - key.low) * chance.share()).to_string(),
        (4, _) if key.low <= 0.0 && key.high >= 0.0 => "0".into(),
        (5, _) => (key.low + (key.high - key.low) * 1e-9 * chance.share()).to_string(),
        _ => (key.low + (key.high - key.low) * chance.share()).to_string(),
    }
}

/// Commands whose work is short.
const COMMANDS: [&[&str]; 13] = [
    &["sweep", "--step", "1/4"],
    &["flowstart"],
    &["predict", "--change", "leak=1"],
    &["predict", "--turn", "-1/16", "--also-fast-idle"],
    &["bleed"],
    &["coldstart"],
    &["coldstart", "--tries", "3"],
    &["parts"],
    &["run", "--procedure", "PROCEDURE"],
    &["meter", "--procedure", "PROCEDURE"],
    &["relearn", "--starts", "1", "--averaged"],
    &["valves", "--gap-mm", "2"],
    &["gas"],
];

fn command(chance: &mut Chance, folder: &Path) -> Vec<String> {
    let begins = COMMANDS[chance.below(COMMANDS.len())];
    let place = |word: &str| match word {
        "PROCEDURE" => folder.join("procedure.toml").display().to_string(),
        word => word.to_string(),
    };
    let mut args: Vec<String> = begins.iter().map(|word| place(word)).collect();
    if begins == ["gas"] {
        for flag in ["--lambda", "--co", "--co2", "--o2", "--hc-ppm", "--tip-degc"] {
            if chance.below(2) == 0 {
                let most = [2.0, 20.0, 21.0, 20.0, 5000.0, 900.0][chance.below(6)];
                args.extend([flag.into(), (most * chance.share()).to_string()]);
            }
        }
    } else {
        for _ in 0..chance.below(5) {
            let key = &KEYS[chance.below(KEYS.len())];
            let value = value(chance, key);
            match (key.table(), chance.below(12)) {
                (_, 0) if begins[0] == "predict" => {
                    args.extend(["--change".into(), format!("{}={value}", key.name)]);
                }
                (None, _) => args.extend([format!("--{}", key.name.replace('_', "-")), value]),
                (Some(_), _) => args.extend(["--set".into(), format!("{}={value}", key.name)]),
            }
        }
        if chance.below(3) == 0 {
            args.extend(["--rig".into(), chance.of(&["four", "eight", "six"]).into()]);
        }
        if chance.below(6) == 0 {
            let faults =
                ["lambda=dead", "coolant=open", "coolant=1e9", "potentiometer=worn", "x=y"];
            args.extend(["--fail".into(), chance.of(&faults).into()]);
        }
    }
    if chance.below(30) == 0 {
        let at = chance.below(args.len());
        args[at] = chance.of(&ODD).into();
    }
    args.extend(["--format".into(), chance.of(&["json", "json", "csv", "table"]).into()]);
    args
}

/// A text changed at random.
fn changed(chance: &mut Chance, text: &str) -> Vec<u8> {
    let mut lines: Vec<String> = text.lines().map(str::to_string).collect();
    for _ in 0..1 + chance.below(3) {
        let at = chance.below(lines.len());
        let odd = chance.of(&ODD);
        match chance.below(9) {
            0 => drop(lines.remove(at)),
            1 => lines.insert(at, lines[at].clone()),
            2 => lines.truncate(at.max(1)),
            3 => lines.insert(at, odd.into()),
            4 => {
                let other = chance.below(lines.len());
                lines.swap(at, other);
            }
            _ => {
                // A number of the line becomes another.
                let line = &lines[at];
                let number = |c: char| c.is_ascii_digit() || c == '.';
                let from = line.find(|c: char| c.is_ascii_digit()).unwrap_or(line.len());
                let to = line[from..].find(|c| !number(c)).map_or(line.len(), |end| from + end);
                let old: f64 = line[from..to].parse().unwrap_or(1.0);
                let new = match chance.below(4) {
                    0 => odd.into(),
                    1 => (-old).to_string(),
                    _ => (old * 2.0 * chance.share()).to_string(),
                };
                lines[at] = format!("{}{new}{}", &line[..from], &line[to..]);
            }
        }
        if lines.is_empty() {
            lines.push(String::new());
        }
    }
    let mut bytes = (lines.join("\n") + "\n").into_bytes();
    if chance.below(5) == 0 {
        let at = chance.below(bytes.len());
        bytes[at] = chance.bits() as u8;
    }
    bytes
}

const PROCEDURE: &str = "name = \"hunt\"\nabout = \"short\"\nlasts_s = 8\n\
    [[action]]\nat_s = 1\nturn = \"-1/32\"\n[[action]]\nat_s = 2\nblip = 2500\n\
    [[action]]\nat_s = 4\nset = \"altitude_m=1000\"\n[[action]]\nwait = 1\n\
    [[action]]\nfail = \"lambda=dead\"\n[[action]]\nthrottle = 20\nspeed_rpm = 2500\n";
const STANDING: &str = "name = \"stand\"\nabout = \"short\"\nlasts_s = 9\n\
    [[action]]\nkey = \"on\"\n[[action]]\nat_s = 1\nstarter = \"on\"\n[[action]]\nat_s = 4\nkey = \"off\"\n\
    [[action]]\nat_s = 8\nstand = 600\n";
const DRIVE: &str = "time_s,speed_kmh\n0,0\n10,0\n20,30\n40,30\n50,60\n70,60\n90,0\n100,0\n";
const ANSWERS: &str = "{\"01-leak\": 1.05,\n\"01-spark\": \"rises\",\n\"05-by-ear\": \"1/32\"}\n";

/// A file changed at random and a command that reads it.
fn file(chance: &mut Chance, folder: &Path) -> Vec<String> {
    let place = folder.join("mutant.txt");
    let rig = sim_core::rig::shipped::SHIPPED[chance.below(3)].1;
    let (text, args): (&str, &[&str]) = match chance.below(6) {
        0 => (PROCEDURE, &["run", "--format", "json", "--procedure"]),
        1 => (STANDING, &["run", "--format", "csv", "--procedure"]),
        2 => (DRIVE, &["relearn", "--starts", "1", "--averaged", "--drive"]),
        3 => (ANSWERS, &["quiz", "--lesson", "1", "--answers"]),
        4 => (rig, &["rig", "check"]),
        _ => (rig, &["predict", "--change", "leak=1", "--format", "json", "--rig"]),
    };
    std::fs::write(&place, changed(chance, text)).unwrap();
    let mut args: Vec<String> = args.iter().map(ToString::to_string).collect();
    args.push(place.display().to_string());
    args
}

fn hunt(what: &str, cases: u64, draw: impl Fn(&mut Chance, &Path) -> Vec<String>) {
    let folder = TempDir::new().unwrap();
    std::fs::write(folder.path().join("procedure.toml"), PROCEDURE).unwrap();
    let seed = setting("HUNT_SEED", 1);
    let (mut codes, mut found) = (BTreeMap::new(), String::new());
    for case in 0..cases {
        let mut chance = Chance(seed.wrapping_mul(1_000_003).wrapping_add(case));
        let args = draw(&mut chance, folder.path());
        match hunted(&args) {
            Ok((code, _)) => *codes.entry(code).or_insert(0) += 1,
            Err(why) => {
                let file = std::fs::read_to_string(folder.path().join("mutant.txt"));
                writeln!(found, "case {case}, {args:?}: {why}\n{}", file.unwrap_or_default())
                    .unwrap();
            }
        }
    }
    println!("{what}: {cases} cases, seed {seed}; exit codes {codes:?}");
    assert!(found.is_empty(), "{found}");
}

#[test]
fn no_command_line_drawn_by_chance_breaks_the_program() {
    hunt("command lines", setting("HUNT_CASES", 120), command);
}

#[test]
fn no_file_changed_by_chance_breaks_the_program() {
    hunt("files", setting("HUNT_CASES", 150), file);
}
