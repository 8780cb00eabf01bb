//! Files that are written: all or none, as what was there, and never over what is read.

use crate::common::{listing, program, refuses, run, six, text};
#[cfg(target_os = "linux")]
use std::collections::BTreeMap;
use std::path::Path;
#[cfg(target_os = "linux")]
use std::process::Stdio;
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

/// The files of a folder with their bytes; none where there is no folder.
#[cfg(target_os = "linux")]
fn contents(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| {
            let name = entry.file_name().into_string().unwrap();
            (name, std::fs::read(entry.path()).unwrap_or_default())
        })
        .collect()
}

/// Kills the program (SIGKILL) at a moment drawn by chance: somewhere in its run, or just after
/// something has moved in one of the folders.
#[cfg(target_os = "linux")]
fn killed(args: &[&str], folder: &Path, watched: &[&Path], lasts: Duration, drawn: &mut u64) {
    *drawn = drawn.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
    let share = (*drawn >> 40) as f64 / f64::from(1 << 24);
    let moved = || {
        let about = |path: &&Path| path.metadata().and_then(|about| about.modified()).ok();
        watched.iter().map(about).collect::<Vec<_>>()
    };
    let before = moved();
    let mut child = program().current_dir(folder).args(args).stdout(Stdio::null()).spawn().unwrap();
    if *drawn >> 39 & 1 == 0 {
        std::thread::sleep(lasts.mul_f64(share));
    } else {
        while moved() == before && child.try_wait().unwrap().is_none() {}
        let until = Instant::now() + Duration::from_micros((2500.0 * share * share) as u64);
        while Instant::now() < until {}
    }
    let _ = child.kill();
    child.wait().unwrap();
}

/// Killed at any moment: a folder is there with all of its files or as it was, a file whole. What
/// is left out of sight the next run removes. `KILLS=300` kills more often.
#[cfg(target_os = "linux")]
#[test]
fn a_run_that_is_killed_leaves_a_folder_as_it_was_or_with_all_its_files() {
    let kills = std::env::var("KILLS").ok().map_or(6, |kills| kills.parse().unwrap());
    let class =
        |seed| ["class", "--lesson", "18", "--seed", seed, "-o", "out", "--quiet", "--force"];
    let made = |seed| {
        let folder = TempDir::new().unwrap();
        let begun = Instant::now();
        let output = program().current_dir(folder.path()).args(class(seed)).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        (contents(&folder.path().join("out")), begun.elapsed())
    };
    let ((one, lasts), (two, _)) = (made("1"), made("2"));
    assert!(one != two && one.len() > 3);
    let mut drawn = 1;
    let (mut hidden, mut mixed) = (0, 0);
    for kind in ["made", "written anew", "beside other files"] {
        let folder = TempDir::new().unwrap();
        let out = folder.path().join("out");
        for _ in 0..kills {
            let _ = std::fs::remove_dir_all(&out);
            if kind != "made" {
                std::fs::create_dir(&out).unwrap();
                one.iter().for_each(|(name, bytes)| std::fs::write(out.join(name), bytes).unwrap());
            }
            if kind == "beside other files" {
                std::fs::write(out.join("notes.txt"), "mine").unwrap();
            }
            killed(&class("2"), folder.path(), &[folder.path(), &out], lasts, &mut drawn);
            let mut left = contents(&out);
            let named = |name: &String| name.starts_with(".quarterturn-");
            hidden +=
                left.keys().chain(contents(folder.path()).keys()).filter(|n| named(n)).count();
            if kind != "beside other files" {
                let was = if kind == "made" { BTreeMap::new() } else { one.clone() };
                assert!(left == was || left == two, "{kind}: {:?}", left.keys());
                continue;
            }
            left.retain(|name, _| !named(name));
            assert_eq!(left.remove("notes.txt"), Some(b"mine".to_vec()));
            assert!(left.keys().eq(one.keys()), "{:?}", left.keys());
            for (name, bytes) in &left {
                assert!(*bytes == one[name] || *bytes == two[name], "{name} is neither");
            }
            mixed += usize::from(left != one && left != two);
        }
        let args = class("2");
        assert!(program().current_dir(folder.path()).args(args).output().unwrap().status.success());
        let notes = usize::from(kind == "beside other files");
        assert_eq!(contents(&out).len(), two.len() + notes, "{kind}");
        assert_eq!(listing(folder.path()), ["out"], "{kind}: nothing out of sight is left");
    }
    println!("{kills} kills of each kind: {hidden} names out of sight, {mixed} folders half new");
}

/// The same of a chart and a table, each of which is whole.
#[cfg(target_os = "linux")]
#[test]
fn a_run_that_is_killed_leaves_chart_and_table_each_as_it_was_or_whole() {
    let kills = std::env::var("KILLS").ok().map_or(20, |kills| kills.parse().unwrap());
    let folder = TempDir::new().unwrap();
    let to =
        |step| ["sweep", "--step", step, "--chart", "a.svg", "-o", "b.txt", "--quiet", "--force"];
    let made = |step| {
        let begun = Instant::now();
        let output = program().current_dir(folder.path()).args(to(step)).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
        (contents(folder.path()), begun.elapsed())
    };
    let ((two, _), (one, lasts)) = (made("1/8"), made("1/4"));
    let (mut drawn, mut mixed) = (2, 0);
    for _ in 0..kills {
        killed(&to("1/8"), folder.path(), &[folder.path()], lasts, &mut drawn);
        let mut left = contents(folder.path());
        left.retain(|name, _| !name.starts_with(".quarterturn-"));
        assert!(left.keys().eq(one.keys()), "{:?}", left.keys());
        for (name, bytes) in &left {
            assert!(*bytes == one[name] || *bytes == two[name], "{name} is neither");
        }
        mixed += usize::from(left != one && left != two);
        one.iter()
            .for_each(|(name, bytes)| std::fs::write(folder.path().join(name), bytes).unwrap());
    }
    assert_eq!(made("1/8").0, two, "nothing out of sight is left");
    println!("{kills} kills: {mixed} with one file new and one old");
}

/// A folder that is written anew keeps its mode and its owner, a link to it stays a link, and
/// who works in it keeps it.
#[cfg(unix)]
#[test]
fn a_folder_that_is_written_anew_keeps_its_mode_and_its_links() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt, chown, symlink};
    let folder = TempDir::new().unwrap();
    let at = |name: &str| folder.path().join(name);
    let class = |from: &Path, out: &str| {
        let args = ["class", "--lesson", "18", "-o", out, "--force", "--quiet"];
        let output = program().current_dir(from).args(args).output().unwrap();
        assert!(output.status.success(), "{}", text(&output.stderr));
    };
    std::fs::create_dir(at("real")).unwrap();
    std::fs::set_permissions(at("real"), PermissionsExt::from_mode(0o750)).unwrap();
    let given = chown(at("real"), Some(12_345), Some(12_345)).is_ok();
    symlink("real", at("link")).unwrap();
    class(folder.path(), "link");
    class(folder.path(), "link");
    let about = at("real").metadata().unwrap();
    assert_eq!(about.mode() & 0o777, 0o750);
    assert!(!given || (about.uid(), about.gid()) == (12_345, 12_345));
    assert!(at("link").symlink_metadata().unwrap().is_symlink());
    assert!(listing(&at("real")).len() > 3);
    let here = at("real").metadata().unwrap().ino();
    class(&at("real"), ".");
    assert_eq!(at("real").metadata().unwrap().ino(), here, "a working folder is not replaced");
    assert_eq!(listing(folder.path()), ["link", "real"]);
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
