//! What the tests of the program share.

pub mod chance;

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Output};
use std::sync::LazyLock;

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

/// Width of a text in the embedded font, at a size.
pub fn text_width(words: &str, size: f64, bold: bool) -> f64 {
    static FONTS: LazyLock<[Vec<u8>; 2]> = LazyLock::new(|| {
        let fonts = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/fonts");
        ["DejaVuSans-subset.ttf", "DejaVuSans-Bold-subset.ttf"]
            .map(|name| std::fs::read(fonts.join(name)).unwrap())
    });
    let face = ttf_parser::Face::parse(&FONTS[usize::from(bold)], 0).unwrap();
    let advance = |c: char| {
        let glyph = face.glyph_index(c).unwrap_or_else(|| panic!("no {c} in the font"));
        f64::from(face.glyph_hor_advance(glyph).unwrap())
    };
    words.chars().map(advance).sum::<f64>() * size / f64::from(face.units_per_em())
}

/// Relative luminance of a colour (WCAG 2.2, relative luminance).
pub fn luminance(colour: [u8; 3]) -> f64 {
    let share = |byte: u8| {
        let value = f64::from(byte) / 255.0;
        if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * share(colour[0]) + 0.7152 * share(colour[1]) + 0.0722 * share(colour[2])
}
