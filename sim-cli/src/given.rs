//! Readings as they are given: a CSV file, `--reading KEY=VALUE`, or both.
//!
//! The file: one header row of names with their units, a row for each state of the engine; lines
//! that start with `#` and blank ones are notes, empty cells were not read.

use crate::error::Error;
use crate::files::read_text;
use crate::options::Text;
use crate::scenario::{EngineArgs, Scenario};
use clap::ArgMatches;
use sim_core::conditions::Conditions;
use sim_core::diagnose::given::{Fault, Sheet};
use sim_core::rig::Rig;
use std::collections::HashSet;

/// The file of readings.
pub static READINGS: Text = Text {
    bare: true,
    ..Text::new(
        "readings",
        "FILE",
        "a CSV file of readings, - for stdin (`quarterturn readings template`)",
    )
};
/// A reading by itself.
pub static READING: Text = Text {
    repeated: true,
    ..Text::new("reading", "KEY=VALUE", "a reading, as potentiometer_v=0.67; repeat it for more")
};

/// What is asked for, read but not yet compared with a rig.
pub struct GivenArgs {
    file: Option<String>,
    pairs: Vec<(String, String)>,
}

impl GivenArgs {
    /// Reads the arguments.
    pub fn read(matches: &ArgMatches) -> Result<GivenArgs, Error> {
        let pair = |text: &str| match text.split_once('=') {
            Some((key, value)) if !key.trim().is_empty() => {
                Ok((key.trim().to_string(), value.trim().to_string()))
            }
            _ => Err(Error::not_a_pair("--reading", text)),
        };
        let pairs = READING.all(matches).map(pair).collect::<Result<Vec<_>, Error>>()?;
        if let Some(key) = twice(&cells(&pairs)) {
            return Err(Error::usage(format!("--reading: {key} is given twice")));
        }
        if let Some((key, _)) = pairs.iter().find(|(_, value)| value.is_empty()) {
            return Err(Error::usage(format!("--reading: {key} has no value")));
        }
        let file = READINGS.read(matches).map(str::to_string);
        Ok(GivenArgs { file, pairs })
    }

    /// Those of a file.
    pub fn of_file(path: &str) -> GivenArgs {
        GivenArgs { file: Some(path.into()), pairs: Vec::new() }
    }

    /// Whether a word stands in the file's place.
    pub fn asks_for(&self, word: &str) -> bool {
        self.file.as_deref() == Some(word)
    }

    /// Whether anything is given.
    pub fn is_empty(&self) -> bool {
        self.file.is_none() && self.pairs.is_empty()
    }

    /// What stands for it in the canonical command.
    pub fn canonical(&self) -> String {
        let file = if self.file.is_some() { " READINGS" } else { "" };
        let pairs: String =
            self.pairs.iter().map(|(key, value)| format!(" --reading {key}={value}")).collect();
        format!("{file}{pairs}")
    }

    /// The sheet of a rig, checked.
    pub fn sheet(&self, rig: &Rig, conditions: &Conditions) -> Result<Sheet, Error> {
        self.filled(rig, conditions, self.text()?.as_deref()).map(|filled| filled.sheet)
    }

    /// The engine asked for and the sheet of its readings. A bad file is found before a value
    /// outside the model.
    pub fn load(&self, args: EngineArgs) -> Result<(Scenario, Filled), Error> {
        let (scenario, text) = args.load_beside(Conditions::closed_loop(), |file| {
            let text = self.text()?;
            // A row is right or wrong whatever the conditions are.
            if let (Some(path), Some(text)) = (&self.file, &text) {
                let mut filled = Filled::empty(&file.rig, &Conditions::closed_loop());
                filled.rows(path, text)?;
            }
            Ok(text)
        })?;
        let setup = &scenario.setup;
        let filled = self.filled(&setup.rig, &setup.conditions, text.as_deref())?;
        Ok((scenario, filled))
    }

    fn text(&self) -> Result<Option<String>, Error> {
        self.file.as_deref().map(read_text).transpose()
    }

    fn filled(
        &self,
        rig: &Rig,
        conditions: &Conditions,
        text: Option<&str>,
    ) -> Result<Filled, Error> {
        let mut filled = Filled::empty(rig, conditions);
        let mut last_line = 0;
        if let (Some(path), Some(text)) = (&self.file, text) {
            last_line = filled.rows(path, text)?;
        }
        let of_flag = |fault: Fault| match fault.is_outside() {
            true => Error::outside(format!("--reading: {fault}")),
            false => Error::usage(format!("--reading: {fault}")),
        };
        filled.sheet.row(&cells(&self.pairs)).map_err(of_flag)?;
        filled.sheet.whole().map_err(|fault| match &self.file {
            Some(path) => Error::file(format!("{path}: line {last_line}: {fault}")),
            None => Error::usage(fault),
        })?;
        filled.lines.resize(filled.sheet.readings().len(), None);
        Ok(filled)
    }
}

fn cells(pairs: &[(String, String)]) -> Vec<(&str, &str)> {
    pairs.iter().map(|(key, value)| (key.as_str(), value.as_str())).collect()
}

/// A sheet, and the line of the file that each of its readings stands on, if it is of a file.
pub struct Filled {
    /// The readings.
    pub sheet: Sheet,
    /// Their lines, in their order.
    pub lines: Vec<Option<usize>>,
}

impl Filled {
    fn empty(rig: &Rig, conditions: &Conditions) -> Filled {
        Filled { sheet: Sheet::new(rig, conditions), lines: Vec::new() }
    }

    /// Takes the rows of a file; gives its last line that says something.
    fn rows(&mut self, path: &str, text: &str) -> Result<usize, Error> {
        let (mut last_line, mut names_line) = (0, 0);
        let mut header: Option<Vec<String>> = None;
        for (number, line) in text.trim_start_matches('\u{feff}').lines().enumerate() {
            let place = |why: String| Error::file(format!("{path}: line {}: {why}", number + 1));
            if line.trim().is_empty() || line.trim_start().starts_with('#') {
                continue;
            }
            last_line = number + 1;
            let cells = cells_of(line).ok_or_else(|| place("a quote is not closed".into()))?;
            let Some(names) = &header else {
                let pairs: Vec<(&str, &str)> =
                    cells.iter().map(|name| (name.as_str(), "")).collect();
                let named = pairs.iter().copied().filter(|(name, _)| !name.is_empty());
                if let Some(name) = twice(&named.collect::<Vec<_>>()) {
                    return Err(place(format!("column \"{name}\" stands twice")));
                }
                (header, names_line) = (Some(cells), number + 1);
                continue;
            };
            if cells.len() > names.len() && cells[names.len()..].iter().any(|cell| !cell.is_empty())
            {
                let why = format!("{} cells under {} names", cells.len(), names.len());
                return Err(place(format!("{why}; a comma separates cells, a point decimals")));
            }
            let row: Vec<(&str, &str)> = names
                .iter()
                .zip(&cells)
                .filter(|(name, _)| !name.is_empty())
                .map(|(name, cell)| (name.as_str(), cell.as_str()))
                .collect();
            self.sheet.row(&row).map_err(|fault| match fault {
                // What is wrong with a name stands where the names do.
                Fault::Unknown { .. } | Fault::NotFitted { .. } => {
                    Error::file(format!("{path}: line {names_line}: {fault}"))
                }
                fault => place(fault.to_string()),
            })?;
            self.lines.resize(self.sheet.readings().len(), Some(number + 1));
        }
        match header {
            Some(_) => Ok(last_line),
            None => Err(Error::file(format!(
                "{path}: line 1: no header; `quarterturn readings template` prints a file to fill in"
            ))),
        }
    }
}

/// The first name that stands there before, whatever its letters and dashes.
fn twice<'a>(cells: &[(&'a str, &str)]) -> Option<&'a str> {
    let mut seen = HashSet::new();
    let plain = |name: &str| name.replace('-', "_").to_ascii_lowercase();
    cells.iter().map(|(name, _)| *name).find(|name| !seen.insert(plain(name)))
}

/// The cells of a line, as RFC 4180 has them; `None` for a quote that is not closed.
fn cells_of(line: &str) -> Option<Vec<String>> {
    let (mut cells, mut cell, mut quoted) = (Vec::new(), String::new(), false);
    let mut letters = line.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                cell.push('"');
            }
            '"' => quoted = !quoted,
            ',' if !quoted => cells.push(std::mem::take(&mut cell).trim().to_string()),
            letter => cell.push(letter),
        }
    }
    cells.push(cell.trim().to_string());
    (!quoted).then_some(cells)
}
