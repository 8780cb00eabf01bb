//! Sentence and table agree: whoever takes one printed number from another finds the third.

use crate::common::{program, text};

/// A generator of our own for the changes asked for: Lehmer's, with the multiplier of Park and
/// Miller (Commun. ACM 31, 1192, 1988).
struct Draw(u64);

impl Draw {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0 * 48_271 % 2_147_483_647;
        (self.0 % count as u64) as usize
    }

    fn one<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[self.below(of.len())]
    }
}

const CHANGES: [&[&str]; 10] = [
    &["leak=0.3", "leak=1", "leak=2.2"],
    &["pressure=5.1", "pressure=4.8", "pressure=5.6"],
    &["altitude=300", "altitude=1000", "altitude=2200"],
    &["screw=1/16", "screw=-1/64", "screw=3/128"],
    &["coolant=60", "coolant=85"],
    &["petrol_temperature=10", "petrol_temperature=45"],
    &["spark=0", "spark=8"],
    &["accessories_bar=0.41", "accessories_bar=0.6"],
    &["misfire=1", "misfire=5"],
    &["housing=0.01", "housing=-0.3"],
];

/// Words of a prediction: a rig, conditions, one to three changes.
fn asked(draw: &mut Draw) -> Vec<String> {
    let mut words = vec!["predict".to_string(), "--rig".into()];
    words.push(draw.one(&["six", "four", "eight"]).into());
    for (flag, values) in [("--trim", ["on", "off"]), ("--idle-air", ["held", "fixed"])] {
        words.extend([flag.into(), draw.one(&values).to_string()]);
    }
    let (first, count) = (draw.below(CHANGES.len()), 1 + draw.below(3));
    for i in 0..count {
        let change = draw.one(CHANGES[(first + 3 * i) % CHANGES.len()]);
        words.extend(["--change".into(), change.to_string()]);
    }
    words
}

fn answer(words: &[String]) -> String {
    let output = program().args(words).args(["--all", "--quiet"]).output().unwrap();
    assert!(output.status.success(), "{words:?}: {}", text(&output.stderr));
    text(&output.stdout)
}

/// The cells of a line: columns stand two spaces apart.
fn cells(line: &str) -> Vec<&str> {
    line.split("  ").map(str::trim).filter(|cell| !cell.is_empty()).collect()
}

/// A printed number in steps of its last digit.
fn steps(printed: &str) -> i64 {
    printed.replace('.', "").parse().unwrap_or_else(|_| panic!("no number: {printed}"))
}

/// Rows of the first table under a head with these names.
fn rows<'a>(answer: &'a str, head: &[&str]) -> Vec<Vec<&'a str>> {
    let mut lines = answer.lines().skip_while(|line| !cells(line).starts_with(head));
    lines.next();
    lines.take_while(|line| !line.trim().is_empty()).map(cells).collect()
}

/// The sentences of an answer, without the breaks of lines.
fn sentences(answer: &str) -> String {
    let lines: Vec<&str> =
        answer.lines().take_while(|line| !line.starts_with("reading ")).collect();
    lines.join(" ").split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The word behind some words, and what follows it.
fn behind<'a>(said: &'a str, words: &str) -> Option<(&'a str, &'a str)> {
    said.split_once(words)?.1.split_once(' ')
}

/// A row's before, after and difference.
type Row<'a> = [&'a str; 3];

fn row<'a>(table: &[Vec<&'a str>], label: &str) -> Option<Row<'a>> {
    let row = table.iter().find(|row| row[0] == label)?;
    Some([row[1], row[2], row[3]])
}

/// What a sentence says against its row; the words of what disagrees.
fn disagreements(answer: &str) -> Vec<String> {
    let table = rows(answer, &["reading", "before", "after", "difference"]);
    let said = sentences(answer);
    let mut found = Vec::new();
    let mut agree = |what: &str, sentence: String, table: String| {
        if sentence != table {
            found.push(format!("{what}: the sentence has {sentence}, the table {table}"));
        }
    };
    for row in &table {
        let [before, after, by] = [row[1], row[2], row[3]];
        if by != "-" {
            let sum = steps(before) + steps(by);
            agree(
                row[0],
                format!("{before} {by} = {sum}"),
                format!("{before} {by} = {}", steps(after)),
            );
        }
    }
    let volts = row(&table, "airflow potentiometer").filter(|row| row[2] != "-");
    for (words, sign) in [("The voltage rises by ", ""), ("The voltage falls by ", "-")] {
        if let (Some((mv, _)), Some([_, _, by])) = (behind(&said, words), volts) {
            agree("voltage", format!("{sign}{mv}"), steps(by).to_string());
        }
    }
    if let (true, Some([_, _, by])) = (said.contains("The voltage stays"), volts) {
        agree("voltage", "0".into(), steps(by).to_string());
    }
    let air = row(&table, "air past the plate");
    if let (Some((_, why)), Some([_, _, by])) = (behind(&said, " mV because "), air)
        && let Some((number, way)) =
            said.split_once(" mV because ").and_then(|(_, it)| it.split_once(" kg/h "))
    {
        let sign = if way.starts_with("less") { "-" } else { "+" };
        agree("air past the plate", format!("{sign}{number}"), by.to_string());
        assert!(why.contains("air passes the plate"));
    }
    if let (Some((speed, _)), Some([_, _, by])) =
        (behind(&said, "the speed tells instead, by "), row(&table, "speed"))
    {
        agree("speed", speed.to_string(), by.to_string());
    }
    if let (Some(lambda), Some([before, after, _])) =
        (said.split_once(": lambda "), row(&table, "lambda"))
    {
        let told: Vec<&str> = lambda.1.split(". ").next().unwrap_or_default().split(' ').collect();
        let want = if told.len() > 1 { vec![before, "becomes", after] } else { vec![after] };
        agree("lambda", told.join(" ").trim_end_matches('.').into(), want.join(" "));
    }
    let duty = row(&table, "duty, above 50 adds fuel");
    if let (Some((_, told)), Some([before, after, _])) = (said.split_once(": duty "), duty)
        && told.contains(" % becomes ")
    {
        let words: Vec<&str> = told.split([' ', ';', ',']).take(5).collect();
        agree("duty", words.join(" "), format!("{before} % becomes {after} %"));
    }
    let trimmed = row(&table, "fuel added beyond the base");
    for (word, sign) in [("adding", "+"), ("taking away", "-")] {
        if let (Some((fuel, _)), Some([_, _, by])) =
            (behind(&said, &format!("The trim answers by {word} ")), trimmed)
        {
            agree("trim", format!("{sign}{fuel}"), by.to_string());
        }
    }
    let wanted = row(&table, "duty wanted for lambda 1");
    for words in ["the controller would go to ", "the controller would want "] {
        if let (Some((duty, _)), Some([_, after, _])) = (behind(&said, words), wanted) {
            agree("wanted duty", duty.into(), after.into());
        }
    }
    for (name, label, whole) in [
        ("lambda, ", "lambda", row(&table, "lambda")),
        ("voltage, ", "voltage", volts),
        ("duty, ", "duty", duty),
    ] {
        let (Some((_, told)), Some([_, _, by])) =
            (said.split_once(&format!("Shares of the {name}")), whole)
        else {
            continue;
        };
        let (sum, parts) = told.split_once(": ").unwrap();
        let sum = sum.split(' ').next().unwrap();
        agree(&format!("shares of the {label}"), steps(sum).to_string(), steps(by).to_string());
        let parts = parts.split(". ").next().unwrap().trim_end_matches('.');
        let parts = parts.split("; ").map(|part| part.rsplit(' ').next().unwrap());
        let parts: i64 = parts.map(steps).sum();
        agree(
            &format!("sum of the shares of the {label}"),
            parts.to_string(),
            steps(by).to_string(),
        );
    }
    found
}

#[test]
fn sentence_and_table_agree_and_before_and_difference_make_after() {
    let mut draw = Draw(20_260_101);
    let mut told = 0;
    for _ in 0..150 {
        let words = asked(&mut draw);
        let answer = answer(&words);
        let found = disagreements(&answer);
        assert!(
            found.is_empty(),
            "sentence and table agree: {}\nquarterturn {}\n{answer}",
            found.join("; "),
            words.join(" ")
        );
        told += usize::from(answer.contains("Shares of the voltage"));
    }
    assert!(told > 20, "shares are told of {told} only");
}

/// The comparison itself: what it is given wrong it finds.
#[test]
fn a_sentence_that_does_not_agree_is_found() {
    let words = "predict --trim on --change leak=1 --change pressure=4.8";
    let words: Vec<String> = words.split(' ').map(String::from).collect();
    let right = answer(&words);
    assert!(disagreements(&right).is_empty(), "{right}");
    for (from, to, what) in [
        ("falls by 3 mV", "falls by 2 mV", "voltage"),
        ("leak 1 kg/h -20", "leak 1 kg/h -19", "sum of the shares"),
        ("Shares of the duty, +3", "Shares of the duty, +2", "shares of the duty"),
        ("27 % becomes 30 %", "27 % becomes 29 %", "duty"),
        ("lambda 1.000.", "lambda 1.001.", "lambda"),
    ] {
        let wrong = right.replace(from, to);
        assert_ne!(wrong, right, "{from} is not there:\n{right}");
        let found = disagreements(&wrong).join("; ");
        assert!(found.contains(what), "{from} turned into {to} is not found: {found}");
    }
}

#[test]
fn the_shares_in_their_table_sum_up_to_the_printed_difference() {
    let mut draw = Draw(77);
    for _ in 0..60 {
        let words = asked(&mut draw);
        let answer = answer(&words);
        let table = rows(&answer, &["reading", "before", "after", "difference"]);
        let shares = rows(&answer, &["change", "potentiometer", "duty", "lambda"]);
        let shares: Vec<_> = shares.into_iter().filter(|row| row.len() == 4).collect();
        let labels = ["airflow potentiometer", "duty, above 50 adds fuel", "lambda"];
        for (column, label) in labels.into_iter().enumerate().filter(|_| !shares.is_empty()) {
            let sum: i64 = shares.iter().map(|row| steps(row[1 + column])).sum();
            let [_, _, by] = row(&table, label).unwrap();
            assert_eq!(sum, steps(by), "sentence and table agree: {label} of {words:?}\n{answer}");
        }
    }
}

/// Numbers of a headline that stand in the table under it, each as often as it is said.
#[test]
fn the_headline_of_a_sweep_is_made_of_the_rows_of_its_table() {
    for rig in ["six", "four", "eight"] {
        for altitude in ["0", "700", "1500"] {
            let words = ["sweep", "--rig", rig, "--altitude-m", altitude, "--quiet"];
            let answer = text(&program().args(words).output().unwrap().stdout);
            let said = sentences(answer.split("\n\n").next().unwrap());
            let place = |name: &str| -> Option<f64> {
                let row = answer.lines().map(cells).find(|row| row.get(1) == Some(&name))?;
                row[0].parse().ok()
            };
            let (Some(lean), Some(rich), Some(middle), Some(aim)) =
                (place("lean edge"), place("rich edge"), place("middle"), place("aim"))
            else {
                continue;
            };
            let off = (middle - aim).abs();
            for shown in [format!("{lean:+.3} to {rich:+.3} turn"), format!("lies {off:.3} turn")] {
                assert!(said.contains(&shown), "sentence and table agree: {shown}\n{answer}");
            }
        }
    }
}

#[test]
fn the_headline_of_a_run_is_made_of_the_rows_of_its_table() {
    for words in ["--procedure both-edges", "--procedure both-edges --trim off --rig four"] {
        let words: Vec<&str> = words.split(' ').collect();
        let run = program().args(["run", "--quiet"]).args(&words).output().unwrap();
        let answer = text(&run.stdout);
        let said = sentences(answer.split("\n\n").next().unwrap());
        let last = answer.lines().rfind(|line| line.contains("blip to")).unwrap();
        let row = cells(last);
        let (volts, duty, lambda) = (row[row.len() - 4], row[row.len() - 3], row[row.len() - 1]);
        let ends = format!("ends at lambda {lambda}, duty {duty} %, {volts} V");
        assert!(said.contains(&ends), "sentence and table agree: {ends}\n{answer}");
        let turned = answer.lines().filter(|line| line.contains("screw ")).count();
        assert_eq!(turned, 7, "every turn of the screw has its row\n{answer}");
    }
}

/// An answer in one line, and its lines.
fn told(words: &[&str]) -> (String, String) {
    let words: Vec<String> = words.iter().map(ToString::to_string).collect();
    let answer = answer(&words);
    (answer.split_whitespace().collect::<Vec<_>>().join(" "), answer)
}

/// The cells that stand, or go to their limit, or do not move, do so in the rows.
#[test]
fn what_is_said_of_learned_cells_is_what_their_rows_show() {
    let mut draw = Draw(20_260_301);
    let (mut stood, mut at_limit, mut undecided) = (0, 0, 0);
    for _ in 0..40 {
        let screw = draw.one(&["0", "aim", "-1/64", "1/32", "-1/16", "0.1", "-0.15"]);
        let rig = draw.one(&["six", "four", "eight"]);
        let (starts, off) = (draw.one(&["3", "20", "40", "60"]), draw.one(&["5", "60"]));
        let words = ["relearn", "--averaged", "--rig", rig, "--screw", screw, "--starts", starts];
        let (said, answer) = told(&[&words[..], &["--battery-off-s", off]].concat());
        let all = rows(&answer, &["start"]);
        let all: Vec<_> = all.iter().filter(|row| row.len() >= 5 && row[0] != "mA").collect();
        let cells =
            |row: &[&str]| -> Vec<i64> { row[row.len() - 4..].iter().map(|c| steps(c)).collect() };
        if said.contains("cannot be driven") {
            let driven = all.iter().filter(|row| row[0].parse::<u32>().is_ok());
            assert_eq!(driven.count(), 1, "{answer}");
            continue;
        }
        let begin = all.iter().find(|row| row[0] == "to begin with").unwrap();
        let lost = said.contains("the memory loses its cells");
        assert_ne!(lost, said.contains("the memory keeps its cells"), "{answer}");
        assert!(!lost || cells(begin).iter().all(|cell| *cell == 0), "{answer}");
        let numbered: Vec<(i64, Vec<i64>)> =
            all.iter().filter_map(|row| Some((row[0].parse().ok()?, cells(row)))).collect();
        let last = numbered.last().unwrap();
        assert_eq!(last.0.to_string(), starts, "{answer}");
        let Some((_, from)) = said.split_once("they stand from start ") else {
            let still = numbered.iter().all(|(_, row)| *row == cells(begin));
            assert_eq!(said.contains("they do not move"), still, "{answer}");
            undecided += 1;
            continue;
        };
        let from: i64 = from.split([' ', ',']).next().unwrap().parse().unwrap();
        for pair in numbered.windows(2).filter(|pair| pair[0].0 >= from) {
            // A cell that moves less than 0.3 mA a drive stands.
            let most = 3 * (pair[1].0 - pair[0].0) + 1;
            let moved = pair[0].1.iter().zip(&pair[1].1).map(|(a, b)| (a - b).abs()).max();
            assert!(moved.unwrap() <= most, "moves after start {from}:\n{answer}");
        }
        let limit = said.split_once("a cell at its limit of ");
        let parts = sim_core::rig::shipped::shipped(rig).unwrap().rig;
        let most = (1e4 * parts.parts().controller.authority_a).round() as i64;
        let reached = last.1.iter().any(|cell| cell.abs() == most);
        assert_eq!(limit.is_some(), reached, "{answer}");
        if let Some((_, limit)) = limit {
            assert!(limit.starts_with(&format!("{} mA", most / 10)), "{answer}");
        }
        (stood, at_limit) = (stood + 1, at_limit + usize::from(reached));
    }
    assert!(stood > 5 && at_limit > 2 && undecided > 2, "{stood}, {at_limit}, {undecided}");
}

/// So many things are felt as are listed, and what is told to differ differs as it is printed.
#[test]
fn what_is_said_to_be_felt_is_listed_and_differs_in_its_printed_digits() {
    let mut draw = Draw(20_260_302);
    let faults = [
        "lambda=dead",
        "lambda=cold",
        "lambda=stuck",
        "lambda=lazy",
        "coolant=open",
        "coolant=short",
        "coolant=900",
        "throttle-switch=no-idle",
        "throttle-switch=no-full",
    ];
    for _ in 0..12 {
        let (fault, rig) = (draw.one(&faults), draw.one(&["six", "four", "eight"]));
        let (said, answer) = told(&["consequences", "--of", fault, "--rig", rig]);
        let head = answer.lines().next().unwrap();
        let listed = answer.lines().skip_while(|line| *line != fault).skip(1);
        let mut items: Vec<String> = Vec::new();
        for line in listed.take_while(|line| line.starts_with("  ")) {
            let begins = ["cold", "warm", "warm, at 1500 m"]
                .iter()
                .any(|when| line.trim_start().starts_with(&format!("{when}: ")));
            let meters = line.contains(" shows") || line.contains("learned wrong");
            match items.last_mut() {
                Some(item) if !begins && !meters => item.push_str(&format!(" {}", line.trim())),
                _ => items.push(line.trim().to_string()),
            }
        }
        let felt =
            items.iter().filter(|item| !item.contains(" shows") && !item.starts_with("learned"));
        let count = felt.count();
        let says = match count {
            0 => "nothing is felt".to_string(),
            1 => "one thing is felt".into(),
            count => format!("{count} things are felt"),
        };
        assert!(head.ends_with(&says), "{says}:\n{answer}");
        for (before, after) in
            said.match_indices(" instead of ").map(|(i, of)| (&said[..i], &said[i + of.len()..]))
        {
            let number =
                |word: &str| word.trim_end_matches([';', ',', '.', ':']).parse::<f64>().ok();
            let is = before.rsplit(' ').find_map(number);
            let was = after.split(' ').next().and_then(number);
            if let (Some(is), Some(was)) = (is, was) {
                assert_ne!(is, was, "\"{is} instead of {was}\" is no difference:\n{answer}");
                let clause = before.rsplit([';', ':']).nth(1).unwrap_or_default();
                if clause.ends_with("richer") {
                    assert!(is < was, "{answer}")
                }
                if clause.ends_with("leaner") {
                    assert!(is > was, "{answer}")
                }
            }
        }
    }
}

/// Which parts call for a new setting: the heading, the table and what is told of each part.
#[test]
fn heading_table_and_sentences_of_parts_call_for_the_same_settings() {
    let mut draw = Draw(20_260_303);
    for _ in 0..9 {
        let (rig, altitude) =
            (draw.one(&["six", "four", "eight"]), draw.one(&["0", "600", "1400"]));
        let screw = draw.one(&["0", "aim", "1/64"]);
        let (said, answer) =
            told(&["parts", "--rig", rig, "--altitude-m", altitude, "--screw", screw]);
        let table = rows(&answer, &["part", "off by"]);
        let listed = |from: &str, to: &str| -> Vec<String> {
            let Some((_, list)) = said.split_once(from) else { return Vec::new() };
            let list = list.split_once(to).unwrap().0;
            list.split(", ").map(String::from).collect()
        };
        let with = |setting: &str| -> Vec<String> {
            let rows = table.iter().filter(|row| row.last() == Some(&setting));
            rows.map(|row| row[0].to_string()).collect()
        };
        assert_eq!(
            listed("these call for a new setting: ", " Mended").join(", ").trim_end_matches('.'),
            with("set anew").join(", "),
            "{answer}"
        );
        assert_eq!(
            listed("while they were bad: ", "."),
            with("set anew if it was set with the fault"),
            "{answer}"
        );
        let mut seen = 0;
        for row in table.iter().filter(|row| row.len() > 3 && row[1] != "sound") {
            let Some((_, told)) = said.split_once(&format!("{} renewed (", row[0])) else {
                continue;
            };
            let number = |behind: &str| -> f64 {
                let (_, it) = told.split_once(behind).unwrap();
                it.split(' ').next().unwrap().parse().unwrap()
            };
            let moved = [
                number("moves the duty by "),
                number("potentiometer by "),
                number("static setting by "),
            ];
            let (anew, stays) = (told.find("set it anew"), told.find("the setting stays"));
            let anew = match (anew, stays) {
                (Some(anew), Some(stays)) => anew < stays,
                (anew, _) => anew.is_some(),
            };
            let beyond =
                moved[0].abs() > 5.0 || moved[1].abs() > 20.0 || moved[2].abs() > 1.0 / 64.0;
            assert_eq!(anew, beyond, "{}: {moved:?}\n{answer}", row[0]);
            assert_eq!(anew, row.last() == Some(&"set anew"), "{}\n{answer}", row[0]);
            seen += 1;
        }
        assert!(seen > 8, "{seen} parts\n{answer}");
    }
}

/// When lines flow, which first and which last.
#[test]
fn the_headline_of_a_bleeding_is_made_of_the_rows_of_its_table() {
    let mut draw = Draw(20_260_304);
    for _ in 0..25 {
        let (rig, pump) = (draw.one(&["six", "four", "eight"]), draw.one(&["100", "60", "30"]));
        let (lift, degc) = (draw.one(&["10", "20", "35"]), draw.one(&["5", "20", "32"]));
        let (said, answer) = told(&[
            "bleed",
            "--rig",
            rig,
            "--pump-percent",
            pump,
            "--lift-mm",
            lift,
            "--ambient-degc",
            degc,
        ]);
        let table = rows(&answer, &["line", "flows after"]);
        let lines: Vec<(&str, f64)> = table
            .iter()
            .filter_map(|row| Some((row[0], row.get(1)?.parse().ok()?)))
            .filter(|(line, _)| line.parse::<u8>().is_ok())
            .collect();
        let Some((_, told)) = said.split_once("Lines flow after ") else {
            panic!("{answer}");
        };
        let words: Vec<&str> = told.split(' ').collect();
        let (first, last): (f64, f64) = (words[0].parse().unwrap(), words[2].parse().unwrap());
        let least = lines.iter().map(|line| line.1).fold(f64::INFINITY, f64::min);
        let most = lines.iter().map(|line| line.1).fold(0.0, f64::max);
        assert!((first - least).abs() < 0.0551 && (last - most).abs() < 0.0551, "{answer}");
        let of = |time: f64| {
            lines.iter().filter(|line| line.1 == time).map(|line| line.0).collect::<Vec<_>>()
        };
        let (_, order) = said.split_once("Line ").unwrap();
        let words: Vec<&str> =
            order.split([' ', ',', '.']).filter(|word| !word.is_empty()).collect();
        assert!(of(least).contains(&words[0]), "{answer}");
        let at = words.iter().position(|word| *word == "line").unwrap();
        assert!(of(most).contains(&words[at + 1]), "{answer}");
    }
}
