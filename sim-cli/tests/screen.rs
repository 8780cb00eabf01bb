//! The short answer: one screen for whoever acts on it, and what `--all` brings back.

use crate::common::{program, run, text};

/// Columns and lines of a terminal as it opens; one line waits for the next command.
const SCREEN: (usize, usize) = (80, 24);

/// Lines of a command's short help.
const HELP_LINES: usize = 40;

/// Commands whose answer may be longer than a screen, and why.
const LONGER: [(&str, &str); 5] = [
    ("readings", "its example is the file that is filled in at the car"),
    ("cautions", "it is asked for cautions in full"),
    ("rig", "its example shows a rig file, which is a list of keys"),
    ("quiz", "a question is asked in full"),
    ("completions", "a script for the shell"),
];

/// Commands that give no number to act on, so no caution.
const WITHOUT_CAUTION: [&str; 3] = ["rig", "completions", "readings"];

/// Every command, with the example of its help.
fn examples() -> Vec<(String, Vec<String>)> {
    let help = text(&run(&["--help"]).stdout);
    let names = help.lines().filter_map(|line| line.strip_prefix("    "));
    let names = names.filter(|line| line.starts_with(char::is_alphabetic));
    let names: Vec<&str> = names.filter_map(|line| line.split_whitespace().next()).collect();
    assert!(names.len() >= 19, "{help}");
    let example = |name: &&str| {
        let help = text(&run(&[name, "-h"]).stdout);
        let mut lines = help.lines().skip_while(|line| *line != "Example:").skip(1);
        let words = lines.next().unwrap().split_whitespace().skip(1);
        let folder = std::env::temp_dir().join(format!("screen-{}", std::process::id()));
        let folder = folder.display().to_string();
        // The one example that writes files writes them into a folder of its own.
        let mut before = "";
        let words = words.map(|word| match std::mem::replace(&mut before, word) == "-o" {
            true => match word.rsplit_once('.') {
                Some((_, ending)) => format!("{folder}.{ending}"),
                None => folder.clone(),
            },
            false => word.to_string(),
        });
        (name.to_string(), words.collect())
    };
    names.iter().map(example).collect()
}

fn answer(words: &[String], more: &[&str]) -> String {
    // Asked again it writes its file again.
    let writes = words.iter().any(|word| word == "-o") && !words.iter().any(|w| w == "--force");
    let force = writes.then_some("--force");
    let output = program().args(words).args(more).args(force).arg("--quiet").output().unwrap();
    assert!(output.status.success(), "{words:?} {more:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

/// Fails unless a text fits the screen.
fn fits(what: &str, answer: &str, lines: usize) {
    let count = answer.lines().count();
    assert!(count <= lines, "{what}: {count} lines\n{answer}");
    for line in answer.lines() {
        let wide = line.chars().count();
        assert!(wide <= SCREEN.0, "{what}: {wide} columns\n{line}");
    }
}

#[test]
fn every_answer_fits_one_screen_and_ends_with_its_cautions() {
    for (name, words) in examples() {
        let short = answer(&words, &[]);
        if !WITHOUT_CAUTION.contains(&name.as_str()) {
            let cautions: Vec<&str> =
                short.lines().skip_while(|line| !line.starts_with("! ")).collect();
            let invented = |line: &&&str| line.contains("nvented") && line.contains("maker's data");
            assert!(cautions.iter().any(|line| invented(&line)), "{name}: {short}");
            // One line each, then where the rest stands.
            let (last, each) = cautions.split_last().unwrap();
            if name != "cautions" {
                assert!(each.iter().all(|line| line.starts_with("! ")), "{name}: {short}");
                assert!(last.contains("quarterturn cautions"), "{name}: {last}");
            }
        }
        if LONGER.iter().all(|(longer, _)| *longer != name) {
            fits(&name, &short, SCREEN.1 - 1);
        }
    }
}

#[test]
fn whatever_is_asked_the_answer_fits_one_screen() {
    for words in [
        "sweep",
        "sweep --trim on --idle-air fixed --altitude-m 1500",
        "sweep --screw 1/8 --leak-kg-h 5",
        "predict --change screw=-1/2",
        "predict --change screw=-1/32 --change leak_kg_h=1 --change altitude_m=1500 --trim on",
        "predict --rig eight --change altitude_m=2000 --throttle-percent 20 --speed-rpm 2500",
        "flowstart --rig eight",
        "flowstart --back-off 0",
        "bleed",
        "coldstart --map",
        "coldstart --lines empty",
        "relearn --averaged",
        "run --procedure both-edges --trim off",
        "run --procedure screw-wait --blame",
        "run --procedure climb --rig eight",
        "parts",
        "parts --rig eight",
        "meter --procedure screw-step",
        "valves --gap-mm 4 3 2 1.4 1.2 1.1 1 0.9 0.8 0.7 0.6 0.5 0.4",
        "rig list",
        "gas --co 0.5 --co2 14.7 --o2 0.5 --hc-ppm 100",
    ] {
        let args: Vec<String> = words.split(' ').map(String::from).collect();
        fits(words, &answer(&args, &[]), SCREEN.1 - 1);
    }
}

#[test]
fn all_brings_the_rest_and_changes_no_data() {
    for (name, words) in examples() {
        let (short, all) = (answer(&words, &[]), answer(&words, &["--all"]));
        if short.contains("--all tells the rest") {
            let more = all.lines().count() > short.lines().count();
            assert!(more, "{name}: --all tells no more\n{all}");
        }
        // A rig file has one form, and the long runs write their data by the same two writers.
        let other = words.iter().any(|word| word == "--format");
        if other || ["relearn", "wear", "claims"].contains(&name.as_str()) {
            continue;
        }
        for form in ["csv", "json"] {
            let data = answer(&words, &["--format", form]);
            assert_eq!(data, answer(&words, &["--format", form, "--all"]), "{name} as {form}");
        }
    }
    // Every reading, every position, every start, and the notes under them.
    let all = |words: &str| {
        let args: Vec<String> = words.split(' ').map(String::from).collect();
        answer(&args, &["--all"])
    };
    let predict = all("predict --change screw=1/32");
    let readings = predict.lines().skip_while(|line| !line.starts_with("reading"));
    assert_eq!(readings.take_while(|line| !line.is_empty()).count(), 27, "{predict}");
    assert!(predict.contains("100 minus this"), "{predict}");
    assert!(predict.contains("the tool out of the screw before a blip"), "cautions in full");
    let sweep = all("sweep");
    assert_eq!(
        sweep.lines().filter(|line| line.contains("rough-") || line.contains("smooth ")).count(),
        49
    );
    let relearn = all("relearn --averaged");
    assert!(relearn.contains("asked for") && relearn.contains("20 mA after a reset"), "{relearn}");
}

#[test]
fn named_readings_are_shown_in_their_order() {
    let show =
        |words: &[&str]| text(&run(&[words, &["--show", "co_percent,line_bar"]].concat()).stdout);
    for words in [
        &["predict", "--change", "screw=1/32"][..],
        &["run", "--procedure", "throttle-release"],
        &["run", "--procedure", "climb", "--rig", "eight"],
    ] {
        let shown = show(words);
        let (co, line) = (shown.find("CO, dry").unwrap(), shown.find("injection line").unwrap());
        assert!(co < line && !shown.contains("airflow potentiometer "), "{shown}");
    }
    let sweep = show(&["sweep", "--step", "1/8"]);
    let head = sweep.lines().find(|line| line.contains("zone")).unwrap();
    let words: Vec<&str> = head.split_whitespace().collect();
    assert_eq!(words, ["screw", "zone", "CO", "injection", "line"]);
    let wrong = run(&["predict", "--change", "screw=1/32", "--show", "co_percnt"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(text(&wrong.stderr).contains("did you mean `co_percent`"), "{}", text(&wrong.stderr));
}

#[test]
fn short_help_fits_its_lines_and_tells_the_command_s_own_flags() {
    let help = text(&run(&["-h"]).stdout);
    // A line for each command, beside groups and usage.
    let most = examples().len() + 25;
    assert!(help.lines().count() <= most, "the list of commands: {help}");
    for (name, _) in examples() {
        let short = text(&run(&[&name, "-h"]).stdout);
        fits(&format!("{name} -h"), &short, HELP_LINES);
        assert!(short.contains("`--help` tells"), "{name}: {short}");
        assert!(!short.contains("--altitude-m <") && !short.contains("--color"), "{name}: {short}");
        let long = text(&run(&[&name, "--help"]).stdout);
        assert!(
            long.lines().count() > short.lines().count()
                || ["rig", "readings"].contains(&name.as_str()),
            "{name}"
        );
        if long.contains("--altitude-m <") {
            let (conditions, output) = (long.find("Conditions:"), long.find("Output:"));
            assert!(conditions.unwrap() < output.unwrap(), "{name}: {long}");
        }
    }
}
