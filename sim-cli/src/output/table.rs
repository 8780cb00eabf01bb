//! For reading: headings, lines, tables, notes, cautions.

use crate::report::{Block, Report, Table};
use crate::text::wrapped;

/// Widest line of running text.
const WIDTH: usize = 96;

/// The report for a reader; `coloured` allows bold and red.
pub fn text(report: &Report, coloured: bool) -> String {
    let paint = |code: &str, text: &str| {
        if coloured { format!("\x1b[{code}m{text}\x1b[0m") } else { text.to_string() }
    };
    let mut text = String::new();
    for block in &report.blocks {
        match block {
            Block::Heading(line) => {
                if !text.is_empty() {
                    text.push('\n');
                }
                text += &paint("1", &wrapped(line, WIDTH, ""));
                text.push('\n');
            }
            Block::Line(line) => text += &format!("{}\n", wrapped(line, WIDTH, "")),
            Block::Hazard(line) => {
                let line = wrapped(&format!("HAZARD: {line}"), WIDTH, "        ");
                text += &format!("{}\n", paint("1;31", &line));
            }
            Block::Table(table) => text += &format!("\n{}", table_text(table)),
            Block::Verbatim(verbatim) => text += verbatim,
        }
    }
    if !report.notes.is_empty() || !report.cautions.is_empty() {
        text.push('\n');
    }
    for note in &report.notes {
        text += &format!("{}\n", wrapped(&format!("- {note}"), WIDTH, "  "));
    }
    for caution in &report.cautions {
        text += &format!("{}\n", wrapped(&format!("! {}", caution), WIDTH, "  "));
    }
    text
}

fn table_text(table: &Table) -> String {
    let (lines, _) = table.printed();
    let numeric = table.numeric();
    let widest = |i: usize| lines.iter().map(|line| line[i].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..numeric.len()).map(widest).collect();
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
