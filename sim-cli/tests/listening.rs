//! `listen`: the file, what is told of it, and what it refuses.

use crate::common::{json, refuses, run, text};
use tempfile::TempDir;

fn listen(folder: &TempDir, name: &str, more: &[&str]) -> (serde_json::Value, Vec<u8>) {
    let path = folder.path().join(name);
    let args = ["listen", "-o", path.to_str().unwrap()];
    let told = json(&[&args[..], more].concat());
    (told, std::fs::read(path).unwrap())
}

fn u32_at(bytes: &[u8], at: usize) -> u32 {
    u32::from_le_bytes(bytes[at..at + 4].try_into().unwrap())
}

fn u16_at(bytes: &[u8], at: usize) -> u16 {
    u16::from_le_bytes(bytes[at..at + 2].try_into().unwrap())
}

/// RIFF WAVE, format 1 (PCM): Multimedia Programming Interface and Data Specifications 1.0, 1991
/// (from memory).
#[test]
fn the_file_is_mono_16_bit_44_1_khz_and_as_long_as_asked_for() {
    let folder = TempDir::new().unwrap();
    let (told, wav) = listen(&folder, "idle.wav", &["--screw", "1/32", "--seconds", "2.5"]);
    assert_eq!((&wav[..4], &wav[8..16]), (&b"RIFF"[..], &b"WAVEfmt "[..]));
    assert_eq!(u32_at(&wav, 4) as usize, wav.len() - 8);
    assert_eq!((u16_at(&wav, 20), u16_at(&wav, 22), u32_at(&wav, 24)), (1, 1, 44_100));
    assert_eq!((u32_at(&wav, 28), u16_at(&wav, 32), u16_at(&wav, 34)), (88_200, 2, 16));
    assert_eq!(&wav[36..40], b"data");
    assert_eq!(u32_at(&wav, 40), 2 * 110_250);
    assert_eq!(wav.len(), 44 + 2 * 110_250);
    let samples = wav[44..].chunks_exact(2).map(|b| i16::from_le_bytes([b[0], b[1]]));
    let loudest = samples.clone().map(i16::unsigned_abs).max().unwrap();
    assert!((8_000..30_000).contains(&loudest), "neither faint nor clipped: {loudest}");
    for key in ["cycles", "lost_cycles"] {
        assert!(told[key].is_u64(), "{key}: {}", told[key]);
    }
    for key in ["envelope_cov_percent", "mean_rpm", "surge_rpm", "half_order_rpm", "beat_step_db"] {
        assert!(told[key].is_f64(), "{key}: {}", told[key]);
    }
    assert!(told["stalled_at_s"].is_null());
    assert_eq!(told["synthesis"]["recording"], false);
    // Three firings a turn.
    let cycles = told["mean_rpm"].as_f64().unwrap() / 60.0 * 2.5 * 3.0;
    assert!((told["cycles"].as_f64().unwrap() - cycles).abs() < 1.5, "{told}");
    let command = told["canonical_command"].as_str().unwrap();
    assert_eq!(command, "quarterturn listen --seconds 2.5 --screw 1/32");
}

#[test]
fn the_same_seed_gives_the_same_bytes_and_another_seed_others() {
    let folder = TempDir::new().unwrap();
    let of =
        |name: &str, more: &[&str]| listen(&folder, name, &[&["--seconds", "2"], more].concat());
    let (told, one) = of("1.wav", &[]);
    let (again, same) = of("2.wav", &["--seed", "1"]);
    assert!(one == same && told == again);
    assert!(one != of("3.wav", &["--seed", "2"]).1);
}

#[test]
fn a_stall_ends_the_sound_and_is_a_result() {
    let folder = TempDir::new().unwrap();
    let rich = ["--screw", "1/4", "--trim", "off", "--seconds", "20"];
    let (told, wav) = listen(&folder, "rich.wav", &rich);
    let at_s = told["stalled_at_s"].as_f64().unwrap();
    let sounds_s = (wav.len() - 44) as f64 / 88_200.0;
    assert!(at_s < sounds_s && sounds_s < at_s + 0.5, "{at_s} {sounds_s}");
    assert!(told["stalled_because"].is_string());
    let (told, wav) = listen(&folder, "lean.wav", &["--screw", "-1", "--trim", "off"]);
    assert_eq!((&told["stalled_at_s"], &told["cycles"]), (&0.0.into(), &0.into()));
    assert!(told["mean_rpm"].is_null() && told["envelope_cov_percent"].is_null());
    assert!(wav[44..].iter().all(|byte| *byte == 0));
}

#[test]
fn a_dead_spark_is_heard_as_lost_beats() {
    let folder = TempDir::new().unwrap();
    let dead = ["--set", "misfire_percent=10", "--screw", "aim", "--seconds", "20"];
    let (told, _) = listen(&folder, "dead.wav", &dead);
    let share = told["lost_cycles"].as_f64().unwrap() / told["cycles"].as_f64().unwrap();
    assert!((share - 0.1).abs() < 0.045, "four sigma of 700 cycles: {share}");
    assert!(told["envelope_cov_percent"].as_f64().unwrap() > 20.0);
    let cautions = told["cautions"].to_string();
    assert!(cautions.contains("Misfire"), "{cautions}");
}

#[test]
fn it_is_told_that_the_sound_is_no_recording() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("a.wav");
    let said = run(&["listen", "--seconds", "1", "-o", path.to_str().unwrap()]);
    for words in [text(&said.stdout), text(&run(&["listen", "--help"]).stdout)] {
        let words = words.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("synthesis of computed work, no recording"), "{words}");
    }
    // Every firing stands in the rows.
    let path = folder.path().join("b.wav");
    let rows = ["listen", "--seconds", "1", "--format", "csv", "-o", path.to_str().unwrap()];
    let csv = text(&run(&rows).stdout);
    assert!(csv.lines().any(|line| line == "time_s,cylinder,work,imep_bar,lost"), "{csv}");
    let firings = csv.lines().filter(|line| line.ends_with(",false")).count();
    assert!((33..=36).contains(&firings), "three a turn, 11.8 turns: {firings}");
}

#[test]
fn what_cannot_be_listened_to_is_refused() {
    let folder = TempDir::new().unwrap();
    let refuse = |args: &[&str], code: i32, words: &[&str]| {
        refuses(folder.path(), &[&["listen"], args].concat(), code, words);
    };
    refuse(&["--screw", "0"], 2, &["--output"]);
    refuse(&["-o", "idle.mp3"], 2, &["idle.mp3", ".wav"]);
    refuse(&["-o", "-"], 2, &[".wav"]);
    refuse(&["-o", "a.wav", "--seconds", "long"], 2, &["--seconds", "long"]);
    refuse(&["-o", "a.wav", "--rig", "no/such.toml"], 3, &["no/such.toml"]);
    for seconds in ["0", "-1", "1e9", "nan"] {
        refuse(&["-o", "a.wav", "--seconds", seconds], 4, &["--seconds", "0.5 to 300 s"]);
    }
    refuse(&["-o", "a.wav", "--seed", "1.5"], 4, &["--seed", "whole numbers"]);
    refuse(&["-o", "a.wav", "--screw", "9"], 4, &["-2 to 2 turns"]);
    refuse(&["-o", "no/such/a.wav"], 5, &["no/such"]);
    std::fs::write(folder.path().join("there.wav"), "mine").unwrap();
    refuse(&["-o", "there.wav"], 5, &["there.wav", "--force"]);
    assert_eq!(std::fs::read(folder.path().join("there.wav")).unwrap(), b"mine");
}
