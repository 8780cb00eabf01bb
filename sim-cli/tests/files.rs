//! Files that are written: all or none, as what was there, and never over what is read.

use crate::common::{listing, program, refuses, run, six, text};
use std::path::Path;
use std::time::{Duration, Instant};
use tempfile::TempDir;

const QUICK: [&str; 5] = ["sweep", "--step", "1/4", "--format", "csv"];

#[test]
fn what_is_read_is_not_written_over() {
    let folder = TempDir::new().unwrap();
    std::fs::write(folder.path().join("m.toml"), six()).unwrap();
    let both = ["m.toml is both read and written"];
    for args in [
        &["sweep", "--rig", "m.toml", "-o", "./m.toml", "--force"][..],
        &["predict", "--change", "rig=m.toml", "-o", "m.toml", "--force"],
        &["run", "--procedure", "m.toml", "-o", "m.toml", "--force"],
    ] {
        refuses(folder.path(), args, 2, &both[..usize::from(args[4] != "./m.toml")]);
    }
    assert_eq!(std::fs::read_to_string(folder.path().join("m.toml")).unwrap(), six());
}

/// Whatever the option, the argument, or the name that it has.
#[test]
fn no_command_writes_over_a_file_that_it_reads() {
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    let readings = "reading,value\npotentiometer_v,0.7\n";
    std::fs::write(at("m.toml"), six()).unwrap();
    std::fs::write(at("r.csv"), readings).unwrap();
    std::fs::write(at("a.json"), "{\"01-leak\": 1.05}").unwrap();
    std::fs::hard_link(at("m.toml"), at("other.toml")).unwrap();
    let both = ["is both read and written"];
    for args in [
        &["rig", "check", "m.toml", "-o", "m.toml"][..],
        &["rig", "show", "m.toml", "-o", "m.toml"],
        &["sweep", "--rig", "m.toml", "-o", "other.toml"],
        &["readings", "check", "r.csv", "-o", "r.csv"],
        &["diagnose", "r.csv", "-o", "r.csv"],
        &["quiz", "--answers", "a.json", "-o", "a.json"],
        &["live", "--rig", "m.toml", "-o", "m.toml"],
    ] {
        refuses(folder.path(), &[args, &["--force"]].concat(), 2, &both);
    }
    assert_eq!(std::fs::read_to_string(at("m.toml")).unwrap(), six());
    assert_eq!(std::fs::read_to_string(at("r.csv")).unwrap(), readings);
}

#[test]
fn a_chart_and_a_table_are_both_written_or_neither() {
    let folder = TempDir::new().unwrap();
    if !Path::new("/dev/full").exists() {
        return;
    }
    let args = [&QUICK[..], &["--chart", "a.svg", "-o", "/dev/full"]].concat();
    refuses(folder.path(), &args, 5, &["/dev/full"]);
    // What was there is there again.
    std::fs::write(folder.path().join("a.svg"), "old").unwrap();
    refuses(folder.path(), &[&args[..], &["--force"]].concat(), 5, &["/dev/full"]);
    assert_eq!(std::fs::read_to_string(folder.path().join("a.svg")).unwrap(), "old");
}

#[cfg(unix)]
#[test]
fn a_file_that_is_replaced_keeps_its_mode_its_names_and_its_links() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown, symlink};
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    let write = |name: &str| {
        let args = [&QUICK[..], &["-o", name, "--force"]].concat();
        let output = program().current_dir(folder.path()).args(args).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    };
    let table = text(&run(&QUICK).stdout);
    std::fs::write(at("secret"), "old").unwrap();
    std::fs::set_permissions(at("secret"), PermissionsExt::from_mode(0o600)).unwrap();
    write("secret");
    assert_eq!(at("secret").metadata().unwrap().mode() & 0o777, 0o600);
    // Only the system's administrator may give a file away.
    if chown(at("secret"), Some(12_345), Some(12_345)).is_ok() {
        write("secret");
        let about = at("secret").metadata().unwrap();
        assert_eq!((about.uid(), about.gid(), about.mode() & 0o777), (12_345, 12_345, 0o600));
    }
    std::fs::write(at("one"), "old").unwrap();
    std::fs::hard_link(at("one"), at("other")).unwrap();
    write("one");
    assert_eq!(std::fs::read_to_string(at("other")).unwrap(), table);
    symlink("one", at("link")).unwrap();
    write("link");
    assert!(at("link").symlink_metadata().unwrap().is_symlink());
    assert_eq!(std::fs::read_to_string(at("one")).unwrap(), table);
    symlink("nowhere", at("dangling")).unwrap();
    for force in [&[][..], &["--force"]] {
        let args = [&QUICK[..], &["-o", "dangling"], force].concat();
        refuses(folder.path(), &args, 5, &["a link to nowhere, which is not there"]);
    }
}

#[test]
fn a_place_that_cannot_be_written_is_found_before_the_work() {
    let folder = TempDir::new().unwrap();
    std::fs::write(folder.path().join("there.csv"), "").unwrap();
    let begun = Instant::now();
    for (place, words) in [("there.csv", "exists"), ("no/x.csv", "no folder"), (".", "directory")] {
        let long = ["claims", "--rigs", "100000", "-o", place];
        refuses(folder.path(), &long, 5, &[words]);
        let long = ["relearn", "--starts", "500", "-o", place];
        refuses(folder.path(), &long, 5, &[words]);
    }
    if Path::new("/proc/self").exists() {
        let long = ["class", "-o", "/proc/class", "--for", "instructor"];
        refuses(folder.path(), &long, 5, &["/proc/class"]);
    }
    assert!(begun.elapsed() < Duration::from_secs(20), "{:?}", begun.elapsed());
}

#[test]
fn a_chart_that_there_is_nothing_to_draw_of_is_told() {
    let folder = TempDir::new().unwrap();
    let args = ["bleed", "--screw", "1/4", "--chart", "c.svg"];
    let output = program().current_dir(folder.path()).args(args).output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(text(&output.stderr).contains("c.svg is not written"), "{}", text(&output.stderr));
    assert!(listing(folder.path()).is_empty());
}

/// A run that is ended while it writes leaves nothing behind.
#[cfg(target_os = "linux")]
#[test]
fn a_run_that_is_ended_leaves_no_hidden_file() {
    let folder = TempDir::new().unwrap();
    let args = ["run", "--procedure", "screw-step", "--every-ms", "10", "--format", "json"];
    for ms in [400, 700, 900, 1000, 1100, 1200, 1300, 1500] {
        let mut child = program()
            .current_dir(folder.path())
            .args(args)
            .args(["-o", "run.json", "--force", "--quiet"])
            .spawn()
            .unwrap();
        std::thread::sleep(Duration::from_millis(ms));
        let ended = std::process::Command::new("kill").arg(child.id().to_string()).status();
        assert!(ended.is_ok());
        child.wait().unwrap();
        let left: Vec<String> =
            listing(folder.path()).into_iter().filter(|name| name != "run.json").collect();
        assert!(left.is_empty(), "after {ms} ms: {left:?}");
    }
}

/// Limits of the system: no thread can be started, little memory.
#[cfg(target_os = "linux")]
#[test]
fn files_within_the_limit_are_read_in_half_a_gigabyte() {
    let folder = TempDir::new().unwrap();
    let within = (2 << 20) - 100;
    let head = "name = \"x\"\nabout = \"y\"\nlasts_s = 7200\n";
    let actions = |one: &str, n: usize| one.repeat(n / one.len());
    for (name, bytes, args) in [
        (
            "a.toml",
            head.to_string() + &actions("[[action]]\nwait=0.001\n", within),
            ["run", "--procedure"],
        ),
        ("b.toml", format!("{head}action=[{}]", actions("{},", within)), ["run", "--procedure"]),
        ("c.json", format!("[{}1]", actions("1,", within)), ["quiz", "--answers"]),
        ("d.json", format!("{{{}\"a\":1}}", actions("\"a\":1,", within)), ["quiz", "--answers"]),
    ] {
        std::fs::write(folder.path().join(name), bytes).unwrap();
        let output = std::process::Command::new("sh")
            .current_dir(folder.path())
            .args(["-c", "ulimit -v 500000; exec \"$@\"", "sh"])
            .arg(env!("CARGO_BIN_EXE_quarterturn"))
            .args(args)
            .arg(name)
            .output()
            .unwrap();
        let said = text(&output.stderr);
        assert!(
            matches!(output.status.code(), Some(0 | 3 | 4)),
            "{name}: {:?} {said}",
            output.status
        );
    }
}

/// 180 001 rows of a trace, or 93 751 points: kept whole they took 9 to 17 kB each.
#[cfg(target_os = "linux")]
#[test]
fn a_long_trace_and_a_fine_sweep_take_little_memory() {
    let folder = TempDir::new().unwrap();
    let long = "name = \"x\"\nabout = \"half an hour\"\nlasts_s = 1800\n\
        [[action]]\nat_s = 5\nturn = 0.01\n";
    std::fs::write(folder.path().join("p.toml"), long).unwrap();
    let run = "run --procedure p.toml --every-ms 10 --format";
    let sweep = "sweep --from 0 --to 1/16 --step 1/1500000 --format";
    for (words, form) in [(run, "csv"), (run, "json"), (run, "table"), (sweep, "json")] {
        let ended = std::process::Command::new("sh")
            .current_dir(folder.path())
            .args(["-c", "ulimit -v 200000; exec \"$@\"", "sh"])
            .arg(env!("CARGO_BIN_EXE_quarterturn"))
            .args(words.split(' ').chain([form]))
            .stdout(std::process::Stdio::null())
            .stderr(std::process::Stdio::piped())
            .output()
            .unwrap();
        let said = text(&ended.stderr);
        assert_eq!(ended.status.code(), Some(0), "{words} {form}: {:?} {said}", ended.status);
    }
}

/// No thread can be started: each would ask for more memory than there is. The work is done on
/// the one there is, with the same result.
#[cfg(target_os = "linux")]
#[test]
fn where_no_thread_can_start_the_work_is_done_on_one() {
    for words in ["claims --rigs 60 --format json", "consequences --of coolant=open", "wear"] {
        let args: Vec<&str> = words.split(' ').chain(["--quiet"]).collect();
        let limited = std::process::Command::new("sh")
            .args(["-c", "ulimit -v 500000; exec \"$@\"", "sh"])
            .arg(env!("CARGO_BIN_EXE_quarterturn"))
            .args(&args)
            .env("RUST_MIN_STACK", "1000000000")
            .output()
            .unwrap();
        assert_eq!(limited.status.code(), Some(0), "{words}: {}", text(&limited.stderr));
        assert_eq!(text(&limited.stdout), text(&run(&args).stdout), "{words}");
    }
}
