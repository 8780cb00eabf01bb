//! A program outside the workspace that depends on sim-core alone.

use crate::table::root;
use sim_core::point::READINGS;
use std::path::PathBuf;
use std::process::Command;

#[test]
fn a_stranger_s_program_drives_forks_and_reads_a_live_engine() {
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    // Beside what the workspace builds, so that it is built once.
    let target = std::env::var_os("CARGO_TARGET_DIR").map_or(root().join("target"), PathBuf::from);
    let run = Command::new(cargo)
        .args(["run", "--quiet", "--release", "--offline", "--locked", "--manifest-path"])
        .arg(root().join("tests/outside/Cargo.toml"))
        .env("CARGO_TARGET_DIR", target.join("outside"))
        .output()
        .unwrap();
    let (out, err) = (String::from_utf8_lossy(&run.stdout), String::from_utf8_lossy(&run.stderr));
    assert!(run.status.success(), "{out}\n{err}");
    for reading in READINGS {
        assert!(
            out.contains(&format!("{}: ", reading.name)),
            "{} is not read: {out}",
            reading.name
        );
    }
}
