//! Every reader of text under a seeded mutating fuzzer: rig files, procedures, drives, readings,
//! answers, the acts of the bench and command lines.
//!
//! The corpus stands in `tests/parsers`, a folder for each reader. Every file of it is read as it
//! stands, then changed at random. Longer, with other draws:
//! `FUZZ_CASES=20000 FUZZ_SEED=7 cargo test --release -p sim-cli --test suite parsers -- --nocapture`.
//! A changed text that is answered in words that no other was answered in is a new one: with
//! `FUZZ_KEEP=FOLDER` it is written there, and further texts are drawn from it, too.

use crate::common::chance::{Chance, LONGEST, ODD, hunted, setting};
use live::Bench;
use serde_json::Value;
use sim_core::drive::Drive;
use sim_core::rig::keys::KEYS;
use sim_core::rig::shipped::SHIPPED;
use sim_core::run::procedure::parse;
use std::collections::BTreeSet;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::Instant;
use tempfile::TempDir;

/// Cases of each reader unless `FUZZ_CASES` says otherwise.
const CASES: u64 = 150;
/// Speed limit that procedures are read for (rad/s).
const LIMIT: f64 = 650.0;
/// Words that the readers know, beside the keys.
const KNOWN: [&str; 22] = [
    "[[action]]",
    "at_s = ",
    "wait = 1\n",
    "set = \"",
    "turn = \"-1/16\"",
    "blip = ",
    "fail = \"lambda=dead\"",
    "{\"act\": \"",
    "\"conditions\": {",
    "\"rig\": {",
    "}",
    "]",
    "\"",
    ",",
    "\n",
    "\r\n",
    "=",
    "#",
    "\u{feff}",
    "null",
    "[[[[[[[[",
    "\\u0000",
];

/// The texts of a reader's corpus, by their names.
fn corpus(reader: &str) -> Vec<(String, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/parsers").join(reader);
    let mut paths: Vec<PathBuf> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    let name = |path: &Path| path.file_name().unwrap().to_string_lossy().into_owned();
    paths.iter().map(|path| (name(path), std::fs::read(path).unwrap())).collect()
}

/// A text made of others: bytes, words and lines changed, taken, doubled, swapped or joined.
fn changed(chance: &mut Chance, texts: &[Vec<u8>]) -> Vec<u8> {
    let mut text = texts[chance.below(texts.len())].clone();
    for _ in 0..1 + chance.below(4) {
        let at = chance.below(text.len() + 1);
        let end = (at + 1 + chance.below(24)).min(text.len());
        match chance.below(10) {
            0 if at < text.len() => text[at] = chance.bits() as u8,
            1 if at < text.len() => text[at] ^= 1 << chance.below(8),
            2 => drop(text.drain(at..end)),
            3 => {
                let piece = text[at..end].to_vec();
                text.splice(at..at, piece);
            }
            4 => text.truncate(at),
            5 => {
                let other = &texts[chance.below(texts.len())];
                let from = chance.below(other.len() + 1);
                let to = (from + chance.below(200)).min(other.len());
                text.splice(at..end, other[from..to].iter().copied());
            }
            6 => drop(text.splice(at..at, KEYS[chance.below(KEYS.len())].name.bytes())),
            7 => drop(text.splice(at..at, chance.of(&KNOWN).bytes())),
            // A number or a word becomes another.
            _ => {
                let one = |byte: &u8| byte.is_ascii_alphanumeric() || b".-+_".contains(byte);
                let from = at + text[at..].iter().take_while(|byte| !one(byte)).count();
                let to = from + text[from..].iter().take_while(|byte| one(byte)).count();
                let new = match chance.below(3) {
                    0 => chance.of(&ODD).to_string(),
                    1 => ((chance.share() - 0.3) * 1e4).to_string(),
                    _ => ((chance.share() - 0.3) * 3.0).to_string(),
                };
                text.splice(from..to, new.bytes());
            }
        }
    }
    text
}

/// The words of an answer that its text did not bring: what kind of answer it is.
fn kind(answer: &str, text: &str) -> String {
    let words = answer.split(|c: char| !c.is_ascii_alphabetic());
    let own = words.filter(|word| word.len() > 2 && !text.contains(*word)).take(24);
    own.collect::<Vec<_>>().join(" ")
}

/// Reads the corpus of a reader and changed texts; `read` gives the kind of answer, or what is
/// wrong with it.
fn fuzz(reader: &str, mut read: impl FnMut(&[u8]) -> Result<String, String>) {
    let corpus = corpus(reader);
    assert!(corpus.len() > 3, "{reader}: {} texts", corpus.len());
    let mut texts: Vec<Vec<u8>> = corpus.iter().map(|(_, text)| text.clone()).collect();
    if reader == "rig" {
        texts.extend(SHIPPED.iter().map(|(_, text)| text.as_bytes().to_vec()));
    }
    let mut kinds = BTreeSet::new();
    let mut checked = |name: &str, text: &[u8]| {
        let begun = Instant::now();
        let answer = catch_unwind(AssertUnwindSafe(|| read(text)));
        let answer = answer.unwrap_or_else(|_| Err("panics".into()));
        let shown = String::from_utf8_lossy(text);
        let answer = answer.unwrap_or_else(|why| panic!("{reader}, {name}: {why}\n{shown:?}"));
        assert!(begun.elapsed() < LONGEST, "{reader}, {name} takes for ever\n{shown:?}");
        kinds.insert(kind(&answer, &shown))
    };
    for (name, text) in &corpus {
        checked(name, text);
    }
    let (cases, seed) = (setting("FUZZ_CASES", CASES), setting("FUZZ_SEED", 1));
    let keep = std::env::var_os("FUZZ_KEEP").map(PathBuf::from);
    for case in 0..cases {
        let mut chance = Chance(seed.wrapping_mul(1_000_003).wrapping_add(case));
        let text = changed(&mut chance, &texts);
        if checked(&format!("case {case}"), &text) && text.len() < 100_000 {
            if let Some(folder) = &keep {
                std::fs::write(folder.join(format!("{reader}-{seed}-{case}")), &text).unwrap();
            }
            texts.push(text);
        }
    }
    println!(
        "{reader}: {} texts of the corpus, {cases} changed ones, seed {seed}: {} kinds of answer",
        corpus.len(),
        kinds.len()
    );
}

/// The program with a text in a file; what it says of it.
fn by_file(folder: &TempDir, args: &[&str], text: &[u8]) -> Result<String, String> {
    let path = folder.path().join("text");
    std::fs::write(&path, text).unwrap();
    let path = path.display().to_string();
    let args: Vec<String> = args.iter().map(|word| word.replace("FILE", &path)).collect();
    hunted(&args).map(|(code, err)| format!("{code}: {}", err.replace(&path, "FILE")))
}

/// A sentence of a reader of sim-core: it says where.
fn sentence(why: &dyn std::fmt::Display) -> Result<String, String> {
    let why = why.to_string();
    let sound = why.len() < 4000 && !why.is_empty();
    if sound { Ok(why) } else { Err(format!("says: {why}")) }
}

/// What is read is written as a file that reads as the same.
#[test]
fn rig_files() {
    let folder = TempDir::new().unwrap();
    fuzz("rig", |text| {
        let said = by_file(&folder, &["rig", "check", "FILE"], text)?;
        if let (true, Ok(text)) = (said.starts_with("0"), std::str::from_utf8(text)) {
            let read = sim_core::rig::file::parse(text).map_err(|why| why.to_string())?;
            let written = sim_core::rig::file::to_toml(&read);
            let again = sim_core::rig::file::parse(&written).map_err(|why| why.to_string())?;
            if sim_core::rig::file::to_toml(&again) != written {
                return Err("is not what it is written as".into());
            }
        }
        Ok(said)
    });
}

#[test]
fn procedures() {
    fuzz("procedure", |text| {
        let text = String::from_utf8_lossy(text);
        match parse(&text, LIMIT) {
            Err(why) => sentence(&why),
            Ok(read) if !read.lasts_s.is_finite() => Err(format!("lasts {} s", read.lasts_s)),
            Ok(read) => Ok(format!("{} steps", read.steps.len())),
        }
    });
}

#[test]
fn drives() {
    fuzz("drive", |text| match Drive::parse(&String::from_utf8_lossy(text)) {
        Err(why) => sentence(&why),
        Ok(_) => Ok("a drive".into()),
    });
}

#[test]
fn readings() {
    let folder = TempDir::new().unwrap();
    fuzz("readings", |text| by_file(&folder, &["readings", "check", "FILE"], text));
}

#[test]
fn answers() {
    let folder = TempDir::new().unwrap();
    let args = ["quiz", "--lesson", "1", "--answers", "FILE", "--format", "json"];
    fuzz("answers", |text| by_file(&folder, &args, text));
}

/// Any text gets an answer that is JSON. What is refused changes nothing.
#[test]
fn acts_of_the_bench() {
    let look = r#"{"act": "look"}"#;
    let mut bench = Bench::default();
    let mut done = 0;
    fuzz("acts", |text| {
        let mut said = String::new();
        done += 1;
        if done % 50 == 0 {
            bench = Bench::default();
        }
        for line in String::from_utf8_lossy(text).lines().take(6) {
            let before = bench.answer(look);
            let answer = bench.answer(line);
            let told: Value =
                serde_json::from_str(&answer).map_err(|why| format!("no JSON: {why}"))?;
            if let Some(why) = told.get("error") {
                if bench.answer(look) != before {
                    return Err(format!("is refused and has changed something: {why}"));
                }
                said += why.as_str().ok_or("an error without a sentence")?;
            }
        }
        Ok(said)
    });
}

/// A line is a command, its words parted by spaces; work that is long is left out.
#[test]
fn command_lines() {
    let quick = ["rig", "gas", "flowstart", "predict", "readings", "cautions", "draw", "quiz"];
    fuzz("lines", |text| {
        let text = String::from_utf8_lossy(text).replace("FILE", "no/such/file");
        let words: Vec<String> =
            text.lines().next().unwrap_or_default().split(' ').map(str::to_string).collect();
        // Nothing is written, and nothing is waited for.
        let writes = |word: &String| {
            word == "-"
                || ["-o", "--output", "--ch", "--keep"].iter().any(|flag| word.starts_with(flag))
        };
        if !quick.contains(&words[0].as_str()) || words.iter().any(writes) {
            return Ok("left out".into());
        }
        hunted(&words).map(|(code, err)| format!("{code}: {err}"))
    });
}
