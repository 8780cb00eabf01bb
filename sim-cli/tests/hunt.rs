//! A hunt with chance: command lines at random and files changed at random.
//!
//! Short here. A longer one, with other draws:
//! `HUNT_CASES=20000 HUNT_SEED=7 cargo test --release -p sim-cli --test hunt -- --nocapture`.
//! It prints how many cases ended with each exit code.

use serde_json::Value;
use sim_core::rig::keys::{KEYS, Key, Place};
use std::collections::BTreeMap;
use std::ffi::OsString;
use std::fmt::Write;
use std::panic::catch_unwind;
use std::path::Path;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// No case takes longer, however busy the machine.
const LONGEST: Duration = Duration::from_secs(60);

/// SplitMix64 (Steele, Lea and Flood 2014, from memory).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn of<'a>(&mut self, words: &[&'a str]) -> &'a str {
        words[self.below(words.len())]
    }
}

/// Words that are no sound value of anything.
const ODD: [&str; 20] = [
    "nan",
    "inf",
    "-inf",
    "1e999",
    "-0",
    "1e-300",
    "0",
    "",
    "-",
    "aim",
    "1/0",
    "1/3",
    "0x10",
    "1_0",
    "1,5",
    "١",
    "\u{1b}[2J",
    "e0",
    "true",
    "99999999999999999999",
];

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
        bytes[at] = chance.next() as u8;
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

/// What must hold of a case, whatever it was; its exit code.
fn hunted(args: &[String]) -> Result<u8, String> {
    let words: Vec<OsString> =
        ["quarterturn".to_string()].iter().chain(args).map(OsString::from).collect();
    let begun = Instant::now();
    let ran = catch_unwind(|| {
        let (mut out, mut err) = (Vec::new(), Vec::new());
        let code = sim_cli::run(&words, &mut out, &mut err);
        (code, out, err)
    });
    let (code, out, err) = ran.map_err(|_| "panics".to_string())?;
    let (out, err) = (String::from_utf8_lossy(&out), String::from_utf8_lossy(&err));
    let fails = |what: &str| Err(format!("{what}; ends with {code}: {err}\n{out:.600}"));
    if begun.elapsed() > LONGEST {
        return fails("takes for ever");
    }
    match code {
        0 | 1 => {}
        2..=5 if !out.is_empty() => return fails("fails and prints"),
        2..=5 if err.len() < 20 => return fails("fails and says nothing"),
        2..=5 => {}
        _ => return fails("no exit code of ours"),
    }
    if err.contains(|c: char| c.is_control() && c != '\n') || err.len() > 4000 {
        return fails("floods or controls the terminal");
    }
    let odd = |word: &str| ["inf", "nan", "infinity"].contains(&word.to_lowercase().as_str());
    if out.split(|c: char| !c.is_alphanumeric()).any(odd) {
        return fails("tells a number that is none");
    }
    if args.windows(2).any(|pair| pair == ["--format", "json"]) && code < 2 {
        match serde_json::from_str(&out) {
            Ok(found) if stalls_have_reasons(&found) => {}
            Ok(_) => return fails("a stall without a reason"),
            Err(_) => return fails("no JSON"),
        }
    }
    Ok(code)
}

/// Where a point that does not run has a place for the reason, it stands there.
fn stalls_have_reasons(value: &Value) -> bool {
    match value {
        Value::Array(values) => values.iter().all(stalls_have_reasons),
        Value::Object(object) => {
            let stalled = object.get("zone").is_some_and(|zone| zone == "stalled");
            let told = object.get("reason").is_none_or(Value::is_string);
            (!stalled || told) && object.values().all(stalls_have_reasons)
        }
        _ => true,
    }
}

fn setting(name: &str, default: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(default)
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
            Ok(code) => *codes.entry(code).or_insert(0) += 1,
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
