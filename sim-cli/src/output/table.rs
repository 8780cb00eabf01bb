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
    let body: Vec<Vec<String>> = table
        .rows
        .iter()
        .map(|row| row.iter().zip(&table.columns).map(|(c, column)| c.printed(column)).collect())
        .collect();
    let numeric = table.numeric();
    let head: Vec<String> = table.columns.iter().map(|column| column.label.clone()).collect();
    let units: Vec<String> = table.columns.iter().map(|column| column.unit.to_string()).collect();
    let lines = || [&head, &units].into_iter().chain(&body);
    let widths: Vec<usize> = (0..head.len())
        .map(|i| lines().map(|line| line[i].chars().count()).max().unwrap_or(0))
        .collect();
    let mut text = String::new();
    for line in lines() {
        if line.iter().all(String::is_empty) {
            continue;
        }
        let cells: Vec<String> = line
            .iter()
            .enumerate()
            .map(|(i, cell)| {
                let width = widths[i];
                if numeric[i] { format!("{cell:>width$}") } else { format!("{cell:<width$}") }
            })
            .collect();
        text += cells.join("  ").trim_end();
        text.push('\n');
    }
    text
}
