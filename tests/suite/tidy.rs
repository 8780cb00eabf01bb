//! The house's own rules, where a program can check them. DEVELOPERS.md names each.

use crate::table::root;
use std::path::{Path, PathBuf};

/// Files below a folder of the repository with an ending.
pub fn files(folder: &str, ending: &str) -> Vec<PathBuf> {
    fn walk(folder: &Path, ending: &str, found: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
            let path = entry.path();
            if path.is_dir() {
                walk(&path, ending, found);
            } else if path.extension().is_some_and(|e| e == ending) {
                found.push(path);
            }
        }
    }
    let mut found = Vec::new();
    walk(&root().join(folder), ending, &mut found);
    assert!(!found.is_empty(), "no .{ending} below {folder}");
    found.sort();
    found
}

pub fn code(path: &Path) -> String {
    let text = std::fs::read_to_string(path).unwrap();
    text.lines().filter(|line| !line.trim_start().starts_with("//")).collect::<Vec<_>>().join("\n")
}

/// Those of the files whose code has one of the words.
fn having(files: &[PathBuf], words: &[&str]) -> Vec<String> {
    files
        .iter()
        .filter(|path| words.iter().any(|word| code(path).contains(word)))
        .map(|path| path.strip_prefix(root()).unwrap().display().to_string())
        .collect()
}

#[test]
fn the_core_reads_no_file_prints_nothing_and_asks_no_clock() {
    let words = [
        "std::fs",
        "std::io",
        "std::time",
        "std::env",
        "std::thread",
        "std::net",
        "println!",
        "eprintln!",
        "print!(",
    ];
    assert_eq!(having(&files("sim-core/src", "rs"), &words), Vec::<String>::new());
}

#[test]
fn the_drawing_kit_alone_draws_and_makes_pixels() {
    let cli = files("sim-cli/src", "rs");
    assert_eq!(having(&cli, &["plotters"]), ["sim-cli/src/drawing/canvas.rs"]);
    let pixels = ["sim-cli/src/drawing/fonts.rs", "sim-cli/src/drawing/picture.rs"];
    assert_eq!(having(&cli, &["resvg"]), pixels);
    assert_eq!(having(&files("sim-core/src", "rs"), &["ode_solvers"]), ["sim-core/src/ode.rs"]);
    assert_eq!(having(&files("sim-core/src", "rs"), &["plotters", "resvg"]), Vec::<String>::new());
}

#[test]
fn no_command_writes_its_own_output() {
    assert_eq!(having(&files("sim-cli/src/commands", "rs"), &["faces"]), Vec::<String>::new());
    let prints = ["println!", "print!(", "stdout", "stderr"];
    assert_eq!(having(&files("sim-cli/src/commands", "rs"), &prints), Vec::<String>::new());
}

#[test]
fn every_key_and_reading_is_named_once_with_its_unit() {
    use sim_core::point::READINGS;
    use sim_core::rig::keys::KEYS;
    use std::collections::HashSet;
    let names: HashSet<_> = KEYS.iter().map(|key| key.name).collect();
    assert_eq!(names.len(), KEYS.len());
    assert_eq!(READINGS.iter().map(|r| r.name).collect::<HashSet<_>>().len(), READINGS.len());
    for key in KEYS {
        let suffix = match key.unit.symbol() {
            "mm" => "_mm",
            "bar" => "_bar",
            "mA" => "_ma",
            "V" => "_v",
            "rpm" => "_rpm",
            "%" => "_percent",
            "degC" => "_degc",
            "kg/h" => "_kg_h",
            "ml/min" => "_ml_min",
            _ => continue,
        };
        assert!(key.name.ends_with(suffix), "{} does not carry its unit", key.name);
    }
}

#[test]
fn nothing_depends_on_what_is_not_in_the_repository() {
    for folder in ["sim-core", "sim-cli", "tests", "benches", "notebooks-md"] {
        for ending in ["rs", "md", "toml"] {
            let path = root().join(folder);
            if !path.exists() || files_if_any(folder, ending).is_empty() {
                continue;
            }
            for path in files(folder, ending) {
                if path.ends_with("tidy.rs") {
                    continue;
                }
                let text = std::fs::read_to_string(&path).unwrap();
                assert!(!text.contains("shared/design"), "{}", path.display());
            }
        }
    }
}

fn files_if_any(folder: &str, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![root().join(folder)];
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap().map(Result::unwrap) {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == ending) {
                found.push(path);
            }
        }
    }
    found
}
