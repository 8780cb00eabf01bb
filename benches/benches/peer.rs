//! sim-core's equations of motion beside a peer: the same equations written anew in C
//! (`benches/peer/motion.c`), compiled here by the C compiler, integrated by the same method with
//! the same steps over the drive of `tests/data/free_run_drive.csv`. Prints nanoseconds a rate of
//! both and their ratio, and ends with a failure where the two do not end in the same state.
//!
//! `cargo bench -p benches --bench peer`; `CC` names another compiler.

use sim_core::conditions::Conditions;
use sim_core::ode::step;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;
use sim_core::run::open_loop::{Excitation, OpenLoopRun};
use std::error::Error;
use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

const RIG: &str = include_str!("../../sim-core/rigs/six.toml");
const DRIVE: &str = include_str!("../../tests/data/free_run_drive.csv");
/// Steps a second: the manifold behind a wide throttle asks for so many.
const STEPS_PER_S: f64 = 8000.0;
/// Times that the two are timed in turn; the least time of each counts.
const ROUNDS: usize = 7;
/// Largest difference of a state at the end: rounding of 90 000 rates.
const AGREE: f64 = 1e-8;

fn main() -> Result<(), Box<dyn Error>> {
    let once = std::env::args().any(|arg| arg == "--test");
    let (rounds, passes) = if once { (1, 1) } else { (ROUNDS, 5) };
    let folder = tempfile::tempdir()?;
    let program = folder.path().join("motion");
    compile(&program)?;
    let numbers = numbers_of_rig()? + "drive\n" + &drive_rows();

    let (mut ours, mut theirs) = (f64::INFINITY, f64::INFINITY);
    for _ in 0..rounds {
        let (ns, rates, state) = peer(&program, &numbers, passes)?;
        theirs = theirs.min(ns);
        for _ in 0..passes {
            let start = Instant::now();
            let (counted, x) = driven()?;
            ours = ours.min(1e9 * start.elapsed().as_secs_f64() / counted as f64);
            assert_eq!(counted, rates, "both take the same steps");
            for (i, (mine, other)) in x.iter().zip(&state).enumerate() {
                let off = (mine - other).abs();
                assert!(off < AGREE, "state {i}: {mine} here, {other} in C");
            }
        }
    }
    println!("equations of motion, a rate: {ours:.1} ns here, {theirs:.1} ns in C");
    println!("ratio {:.2}; both end in the same state within {AGREE:e}", ours / theirs);
    Ok(())
}

fn compile(program: &Path) -> Result<(), Box<dyn Error>> {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("peer/motion.c");
    let compiler = std::env::var("CC").unwrap_or_else(|_| "cc".into());
    let done = Command::new(&compiler)
        .args(["-O3", "-std=c11", "-D_POSIX_C_SOURCE=200809L", "-o"])
        .args([program, &source])
        .arg("-lm")
        .status()?;
    done.success().then_some(()).ok_or_else(|| format!("{compiler} did not compile it").into())
}

/// `section.key number...`, a line for each of the rig's numbers.
fn numbers_of_rig() -> Result<String, Box<dyn Error>> {
    let rig: toml::Table = RIG.parse()?;
    let number = |value: &toml::Value| {
        value.as_float().or_else(|| value.as_integer().map(|integer| integer as f64))
    };
    let mut lines = String::new();
    for (section, keys) in rig.iter().filter_map(|(name, value)| Some((name, value.as_table()?))) {
        for (key, value) in keys {
            let list = value.as_array().map_or(std::slice::from_ref(value), Vec::as_slice);
            let numbers: Vec<f64> = list.iter().filter_map(number).collect();
            write!(lines, "{section}.{key}")?;
            numbers.iter().try_for_each(|each| write!(lines, " {each:?}"))?;
            lines.push('\n');
        }
    }
    Ok(lines)
}

/// The numbers of the drive's rows for the rig, from `until_s` on.
fn drive() -> impl Iterator<Item = [f64; 7]> {
    let rows = DRIVE.lines().filter_map(|line| line.strip_prefix("idle-to-full,six,,"));
    rows.map(|row| {
        let mut numbers = row.split(',').map(|number| number.parse().expect("a number"));
        std::array::from_fn(|_| numbers.next().expect("seven numbers"))
    })
}

fn drive_rows() -> String {
    drive().map(|row| row.map(|number| format!("{number:?}")).join(" ") + "\n").collect()
}

/// Nanoseconds a rate, rates a pass and the end state of the program in C.
fn peer(
    program: &Path,
    numbers: &str,
    passes: usize,
) -> Result<(f64, usize, Vec<f64>), Box<dyn Error>> {
    let mut running = Command::new(program)
        .args([STEPS_PER_S.to_string(), passes.to_string()])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()?;
    running.stdin.take().ok_or("no standard input")?.write_all(numbers.as_bytes())?;
    let told = String::from_utf8(running.wait_with_output()?.stdout)?;
    let mut words = told.split_whitespace();
    let mut next = || words.next().ok_or("the program in C told too little");
    let (ns, rates) = (next()?.parse()?, next()?.parse()?);
    let state = words.map(str::parse).collect::<Result<_, _>>()?;
    Ok((ns, rates, state))
}

/// The same drive here: rates, and the end state.
fn driven() -> Result<(usize, [f64; 9]), Box<dyn Error>> {
    let rig = shipped("six").ok_or("no such rig")?.rig;
    let setup = Setup { rig, conditions: Conditions::default() };
    let (mut x, mut start_s, mut rates) = ([0.34, 0.74, 1.4, 0.0, 0.6, 0.0, 0.0, 0.0, 0.0], 0.0, 0);
    for [until_s, inlet_start, inlet_end, imep_start, imep_end, current_ma, brake_nm] in drive() {
        let lasts_s = until_s - start_s;
        let excitation = Excitation {
            lasts_s,
            inlet_m2: (1e-6 * inlet_start, 1e-6 * inlet_end),
            imep_pa: (1e5 * imep_start, 1e5 * imep_end),
            current_a: 1e-3 * current_ma,
            brake_nm,
        };
        let motion = OpenLoopRun::new(&setup, &excitation, 74.0);
        let steps = (lasts_s * STEPS_PER_S).round() as usize;
        let h = lasts_s / steps as f64;
        for i in 0..steps {
            x = step(&motion, i as f64 * h, &x, h);
        }
        (start_s, rates) = (until_s, rates + 4 * steps);
    }
    Ok((rates, x))
}
