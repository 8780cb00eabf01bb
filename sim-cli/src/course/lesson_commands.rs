//! A lesson's commands, each worked out for the rig once, when it is first asked for.

use super::lessons::{Lesson, WRITTEN_FOR};
use super::number_binding::{TextPart, pieces, worded_like};
use super::sheet_request::SheetRequest;
use crate::cautions::{Caution, RUNNING};
use crate::command::{NestedCommand, Program};
use crate::drawing::picture::Picture;
use crate::error::Error;
use crate::progress::Progress;
use serde_json::Value;
use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::path::Path;
use std::rc::Rc;

/// What a command of a lesson gives for the rig.
pub struct CommandResult {
    /// The JSON object.
    pub value: Value,
    /// The chart, if a figure is drawn by it.
    pub picture: Option<Picture>,
    /// The data, as CSV.
    pub data: Vec<u8>,
    /// Its cautions.
    pub cautions: Vec<Caution>,
    /// Why the rig cannot be worked out.
    pub error: Option<String>,
}

/// The commands of a lesson: the rig's own first, those of its page and its answers in their
/// order, then those that only a figure is drawn by.
pub struct LessonCommands<'a> {
    /// The lesson.
    pub lesson: &'a Lesson,
    /// What sheets are made for.
    pub request: &'a SheetRequest,
    program: &'a dyn Program,
    commands: Vec<Vec<&'a str>>,
    /// Which commands draw the figures.
    figures: Vec<usize>,
    results: RefCell<Vec<Option<Rc<CommandResult>>>>,
    /// Results of commands that are not the lesson's own, by their words.
    others: RefCell<HashMap<String, Rc<CommandResult>>>,
    /// Whether a text had a number that the rig does not have.
    missing: Cell<bool>,
}

/// Words of a command without those that only say what of its answer is read.
fn without_reading<'a>(words: &[&'a str]) -> Vec<&'a str> {
    let shows = |at: usize| words[at] == "--show";
    let reading = |at: usize| words[at] == "--all" || shows(at) || at > 0 && shows(at - 1);
    (0..words.len()).filter(|at| !reading(*at)).map(|at| words[at]).collect()
}

impl<'a> LessonCommands<'a> {
    /// Nothing is worked out yet.
    pub fn new(
        lesson: &'a Lesson,
        request: &'a SheetRequest,
        program: &'a dyn Program,
    ) -> LessonCommands<'a> {
        let mut commands = vec![vec!["rig", "show", &request.rig]];
        for command in lesson.commands() {
            let words = command.split_whitespace().skip(1);
            commands.push(words.filter(|word| *word != "--quiet").collect());
        }
        let mut figures = Vec::new();
        for figure in lesson.figures() {
            let words = figure.words();
            let drawn = |known: &Vec<&str>| without_reading(known) == without_reading(&words);
            figures.push(commands.iter().position(drawn).unwrap_or_else(|| {
                commands.push(words);
                commands.len() - 1
            }));
        }
        let results = RefCell::new(commands.iter().map(|_| None).collect());
        LessonCommands {
            lesson,
            request,
            program,
            commands,
            figures,
            results,
            others: RefCell::default(),
            missing: Cell::new(false),
        }
    }

    /// How many commands there are, the rig's own among them.
    #[cfg(test)]
    pub fn count(&self) -> usize {
        self.commands.len()
    }

    /// The same for another paper of the same rig, with all that is worked out.
    #[cfg(test)]
    pub fn on_paper(&self, request: &'a SheetRequest) -> LessonCommands<'a> {
        LessonCommands {
            request,
            commands: self.commands.clone(),
            figures: self.figures.clone(),
            results: self.results.clone(),
            others: self.others.clone(),
            missing: self.missing.clone(),
            ..*self
        }
    }

    /// The result that holds each figure.
    pub fn figure_results(&self) -> Result<Vec<Rc<CommandResult>>, Error> {
        self.figures.iter().map(|at| self.result(*at)).collect()
    }

    /// The result of a command by its words, the lesson's own or another.
    pub fn worked_out(&self, command: &str) -> Result<Rc<CommandResult>, Error> {
        let words: Vec<&str> = command.split_whitespace().collect();
        let same = |known: &Vec<&str>| without_reading(known) == without_reading(&words);
        if let Some(at) = self.commands.iter().position(same) {
            return self.result(at);
        }
        if let Some(known) = self.others.borrow().get(command) {
            return Ok(known.clone());
        }
        let picture = words[0] == "draw";
        let result = Rc::new(self.run(&words, picture)?);
        self.others.borrow_mut().insert(command.into(), result.clone());
        Ok(result)
    }

    /// A command by its words, as it is typed for the rig.
    pub fn as_typed(&self, command: &str) -> Result<String, Error> {
        let words: Vec<&str> = command.split_whitespace().collect();
        Ok(format!("quarterturn {}", self.read(&words, false)?.1))
    }

    /// The result of a command for the rig.
    pub fn result(&self, at: usize) -> Result<Rc<CommandResult>, Error> {
        if let Some(Some(known)) = self.results.borrow().get(at) {
            return Ok(known.clone());
        }
        let result = Rc::new(self.run(&self.commands[at], self.figures.contains(&at))?);
        self.results.borrow_mut()[at] = Some(result.clone());
        Ok(result)
    }

    /// A command for the rig, and its words as they are shown. One that names a rig of its own
    /// keeps it, since it compares.
    fn read(&self, words: &[&str], chart: bool) -> Result<(NestedCommand, String), Error> {
        let asked = self.request.rig.as_str();
        let rig = (!words.contains(&"--rig") && asked != WRITTEN_FOR).then_some(asked);
        let nested = NestedCommand::read(self.program, words, rig, chart)?;
        let mut shown = nested.words.join(" ");
        if Path::new(asked).exists() && rig.is_some() && self.program.takes_rig(&nested.words) {
            shown = shown.replace(asked, &format!("<{}, from a file>", self.request.name));
        }
        Ok((nested, shown))
    }

    /// Runs a command. An error that is the engine's is part of the result.
    fn run(&self, words: &[&str], picture: bool) -> Result<CommandResult, Error> {
        let (nested, _) = self.read(words, picture)?;
        let mut result = CommandResult {
            value: Value::Null,
            picture: None,
            data: Vec::new(),
            cautions: RUNNING.to_vec(),
            error: None,
        };
        match nested.report(self.program, &mut Progress::new("class", None)) {
            Ok(mut report) => {
                result.picture = report.chart.take();
                result.data = crate::output::csv::bytes(&report);
                result.value = report.value();
                result.cautions = report.cautions;
            }
            Err(error) if error.code() == 4 => result.error = Some(error.to_string()),
            Err(error) => return Err(error),
        }
        Ok(result)
    }

    /// What "none" means.
    pub const NOTE_ON_NONE: &'static str =
        "none: this rig has no such number; its command tells why.";

    /// Whether a text so far says "none".
    pub fn note_on_none(&self) -> bool {
        self.missing.get()
    }

    /// Words, in which each whole command stands as it is typed for the rig.
    fn commands_for_rig(&self, words: &str) -> String {
        const BLOCK: &str = "console\n$ ";
        let span = |(i, span): (usize, &str)| {
            let (begins, rest) =
                span.split_at(if span.starts_with(BLOCK) { BLOCK.len() } else { 0 });
            let (line, printed) = rest.split_at(rest.find('\n').unwrap_or(rest.len()));
            let command = line.strip_prefix("quarterturn ").filter(|_| i % 2 == 1);
            let typed = command.and_then(|command| {
                self.read(&command.split_whitespace().collect::<Vec<_>>(), false).ok()
            });
            let typed = typed.map(|(_, shown)| format!("{begins}quarterturn {shown}{printed}"));
            typed.unwrap_or_else(|| span.into())
        };
        words.split('`').enumerate().map(span).collect::<Vec<_>>().join("`")
    }

    /// A text with the numbers of the rig; "none" where the rig has no such number.
    pub fn text_for_rig(&self, text: &str) -> Result<String, Error> {
        let mut printed = String::new();
        for piece in pieces(text) {
            match piece {
                TextPart::Words(words) => printed += &self.commands_for_rig(words),
                // The pages are written for it, and tested.
                TextPart::Number(shown, _) if self.request.rig == WRITTEN_FOR => printed += shown,
                TextPart::Number(shown, mark) => {
                    let found = self.result(mark.command)?;
                    match mark.value(&found.value) {
                        Ok(value) if value.is_finite() => printed += &worded_like(shown, value),
                        _ => {
                            printed += "none";
                            self.missing.set(true);
                        }
                    }
                }
            }
        }
        Ok(printed)
    }
}
