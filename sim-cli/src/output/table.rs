//! For reading: headings, lines, tables, notes, cautions. The short answer fits one screen.

use crate::report::{Block, Fit, Report, Seen, Table, Wanted};
use crate::text::wrapped;

/// The screen that the short answer fits: the columns and lines of a terminal as it opens.
pub const SCREEN: (usize, usize) = (80, 24);

/// Lines of the screen that a report has: one waits for the next command.
const LINES: usize = SCREEN.1 - 1;

/// Fewest rows of a table that gives way to what else is on the screen.
const ROWS_LEAST: usize = 3;

/// Narrowest column of words that go on in a further line.
const WORDS_LEAST: usize = 16;

/// The report for a reader; `coloured` allows bold and red.
pub fn text(report: &Report, wanted: &Wanted, coloured: bool) -> String {
    let mut seen = report.seen(wanted);
    if !wanted.all {
        fit(report, &mut seen);
    }
    let below = below(report, &seen, wanted.all);
    above(&seen.blocks, wanted.all, coloured) + &below
}

/// Takes rows from the tables that give way, until all of it fits the screen.
fn fit(report: &Report, seen: &mut Seen<'_>) {
    loop {
        let text = above(&seen.blocks, false, false) + &below(report, seen, false);
        let over = text.lines().count().saturating_sub(LINES);
        let tables = seen.blocks.iter_mut().filter_map(|block| match block {
            Block::Table(table) => Some(table),
            _ => None,
        });
        let least = |table: &Table| table.firm.len().max(ROWS_LEAST);
        let may_shrink =
            |table: &&mut Table| table.fit != Fit::Whole && table.rows.len() > least(table);
        let Some(longest) = tables.filter(may_shrink).max_by_key(|table| table.rows.len()) else {
            return;
        };
        if over == 0 {
            return;
        }
        let rows = longest.rows.len();
        *longest = longest.within(rows.saturating_sub(over).max(least(longest)));
        seen.shortened = true;
    }
}

/// The blocks.
fn above(blocks: &[Block], all: bool, coloured: bool) -> String {
    let paint = |code: &str, text: &str| {
        if coloured { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_string() }
    };
    let mut text = String::new();
    for block in blocks {
        match block {
            Block::Heading(line) => {
                if !text.is_empty() {
                    text.push('\n');
                }
                text += &paint("1", &wrapped(line, SCREEN.0, ""));
                text.push('\n');
            }
            Block::Line(line) => text += &format!("{}\n", wrapped(line, SCREEN.0, "")),
            Block::Hazard(line) => {
                let line = wrapped(&format!("HAZARD: {line}"), SCREEN.0, "        ");
                text += &format!("{}\n", paint("1;31", &line));
            }
            Block::Table(table) => {
                if !text.is_empty() {
                    text.push('\n');
                }
                text += &if all { table_text(table) } else { table_text(&narrowed(table)) };
            }
            Block::Verbatim(verbatim) => text += verbatim,
        }
    }
    text
}

/// Notes and cautions, and where the rest is told.
fn below(report: &Report, seen: &Seen<'_>, all: bool) -> String {
    let mut text = String::new();
    if !seen.notes.is_empty() || !report.cautions.is_empty() {
        text.push('\n');
    }
    for note in &seen.notes {
        text += &format!("{}\n", wrapped(&format!("- {note}"), SCREEN.0, "  "));
    }
    for caution in &report.cautions {
        let in_full = all || report.cautions_in_full;
        let words = if in_full { caution.long } else { caution.short };
        text += &format!("{}\n", wrapped(&format!("! {words}"), SCREEN.0, "  "));
    }
    text += match (all, seen.shortened, report.cautions.is_empty() || report.cautions_in_full) {
        (false, true, false) => {
            "More: --all tells the rest, `quarterturn cautions` the cautions in full.\n"
        }
        (false, true, true) => "More: --all tells the rest.\n",
        (false, false, false) => "More: `quarterturn cautions` tells the cautions in full.\n",
        _ => "",
    };
    text
}

/// The same no wider than the screen: words of the widest column that has nothing but words go
/// on in further rows, and where that does not help the last columns go.
fn narrowed(table: &Table) -> Table {
    let mut table = table.clone();
    loop {
        let widths = widths(&table);
        let over = (widths.iter().sum::<usize>() + 2 * widths.len()).saturating_sub(SCREEN.0 + 2);
        if over == 0 {
            return table;
        }
        let numeric = table.numeric();
        let words = (0..widths.len()).filter(|at| !numeric[*at]).max_by_key(|at| widths[*at]);
        match words.filter(|at| widths[*at] >= over + WORDS_LEAST) {
            Some(at) => return table.with_words_within(at, widths[at] - over),
            None if widths.len() > 1 => table = table.without_last_column(),
            None => return table,
        }
    }
}

fn widths(table: &Table) -> Vec<usize> {
    let (lines, _) = table.printed();
    let widest = |i: usize| lines.iter().map(|line| line[i].chars().count()).max().unwrap_or(0);
    (0..table.columns.len()).map(widest).collect()
}

fn table_text(table: &Table) -> String {
    let (lines, _) = table.printed();
    let numeric = table.numeric();
    let widths = widths(table);
    let mut text = String::new();
    for line in &lines {
        let cells = line.iter().zip(&widths).zip(&numeric).map(|((cell, &width), right)| {
            if *right { format!("{cell:>width$}") } else { format!("{cell:<width$}") }
        });
        text += cells.collect::<Vec<_>>().join("  ").trim_end();
        text.push('\n');
    }
    text
}
