//! What the tests of the program share.

#![allow(dead_code, reason = "each test uses its own part")]

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};

pub fn program() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quarterturn"));
    command.env_remove("NO_COLOR");
    command
}

pub fn run(args: &[&str]) -> Output {
    program().args(args).output().unwrap()
}

pub fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

pub fn json(args: &[&str]) -> Value {
    let output = program().args(args).args(["--format", "json"]).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{args:?}: {}", text(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// Fails unless the program ends with a code, says every word on stderr, prints nothing on
/// stdout and writes nothing into the folder.
pub fn refuses(folder: &Path, args: &[&str], code: i32, words: &[&str]) {
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

pub fn listing(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

pub fn six() -> String {
    text(&run(&["rig", "show", "six", "--format", "toml"]).stdout)
}
