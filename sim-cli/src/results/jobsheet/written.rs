//! The sheet as text of 80 columns.

use super::sheet::JobSheet;
use crate::text::wrapped;

/// Columns of the text.
const COLUMNS: usize = 80;
/// Moves that the record has room for.
const MOVES: usize = 8;

/// The sheet as text.
pub fn text(sheet: &JobSheet) -> String {
    let mut text = String::new();
    let mut add = |line: &str, indent: &str| {
        text += wrapped(line, COLUMNS, indent).trim_end();
        text.push('\n');
    };
    add(&sheet.title(), "  ");
    add(&sheet.circumstances(), "  ");
    sheet.verdict.into_iter().for_each(|verdict| add(verdict, "  "));
    sheet.judgement().iter().for_each(|sentence| add(sentence, "  "));
    add("", "");
    for caution in sheet.cautions() {
        add(&format!("! {}", caution.long), "  ");
    }
    for (i, one) in sheet.steps.iter().enumerate() {
        let step = &one.step;
        add("", "");
        add(&format!("{}. {}. {}", i + 1, step.title, step.what), "   ");
        add(&format!("   Tool: {}.", step.tool), "   ");
        add(&format!("   ! {}", step.caution), "     ");
        if !one.readings.is_empty() {
            add(&row("reading", "expected", "+/-", "maker", "found"), "");
        }
        for reading in &one.readings {
            let (expected, tolerance) = reading.expected();
            let found = match reading.judged() {
                Some(judged) => format!("{} {judged}", reading.found()),
                None => "______".into(),
            };
            let line = row(&reading.label(), &expected, &tolerance, "______", &found);
            match line.chars().count() <= COLUMNS {
                true => add(&line, ""),
                false => {
                    add(&row(&reading.label(), &expected, &tolerance, "______", ""), "");
                    add(&format!("     {found}"), "     ");
                }
            }
        }
        add(&format!("   If not: {}", one.if_not()), "     ");
    }
    if sheet.turns_the_screw() {
        add("", "");
        add(
            "Record of the screw: found is 0, in is plus. The way back is the sum with its sign turned.",
            "  ",
        );
        add(" move    turns       sum from found       duty        volts", "");
        for number in 1..=MOVES {
            add(&format!("{number:>5}    ______      ______               ______      ______"), "");
        }
    }
    text
}

fn row(label: &str, expected: &str, tolerance: &str, maker: &str, found: &str) -> String {
    format!("   {label:<37} {expected:>10} {tolerance:>6}  {maker:<6}  {found}")
}
