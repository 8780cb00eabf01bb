//! A lesson's commands, each worked out for the rig once, when it is first asked for.

use super::SheetRequest;
use crate::cautions::{Caution, RUNNING};
use crate::chart::picture::Picture;
use crate::commands::nested::{NestedCommand, takes_rig};
use crate::error::Error;
use crate::lessons::Lesson;
use crate::number_binding::{TextPart, pieces, worded_like};
use crate::progress::Progress;
use crate::report::Block;
use serde_json::Value;
use std::cell::{Cell, RefCell};
use std::path::Path;
use std::rc::Rc;

/// A command of a lesson, worked out for the rig.
pub struct CommandResult {
    /// Its words.
    pub words: String,
    /// What it tells.
    pub blocks: Vec<Block>,
    /// The JSON object.
    pub value: Value,
    /// The chart, if a figure is drawn by it.
    pub picture: Option<Picture>,
    /// The data, as CSV.
    pub data: String,
    /// Its cautions.
    pub cautions: Vec<Caution>,
    /// Why the rig cannot be worked out.
    pub error: Option<String>,
}

/// The commands of a lesson: the rig's own first, those of its page and its answers in their
/// order, then those that only a figure is drawn by.
pub struct LessonCommands<'a> {
    assignment: &'a SheetRequest,
    commands: Vec<Vec<&'a str>>,
    /// How many of them page and answers tell.
    printed: usize,
    /// Which commands draw the figures.
    figures: Vec<usize>,
    done: RefCell<Vec<Option<Rc<CommandResult>>>>,
    /// Whether prose asked for a number that the rig does not have.
    missing: Cell<bool>,
}

impl<'a> LessonCommands<'a> {
    /// Nothing is worked out yet.
    pub fn new(lesson: &Lesson, assignment: &'a SheetRequest) -> LessonCommands<'a> {
        let mut commands = vec![vec!["rig", "show", &assignment.rig]];
        for command in lesson.commands() {
            let words = command.split_whitespace().skip(1);
            commands.push(words.filter(|word| *word != "--quiet").collect());
        }
        let printed = commands.len() - 1;
        let mut figures = Vec::new();
        for figure in lesson.figures() {
            let words = figure.words();
            figures.push(commands.iter().position(|known| *known == words).unwrap_or_else(|| {
                commands.push(words);
                commands.len() - 1
            }));
        }
        let done = RefCell::new(commands.iter().map(|_| None).collect());
        LessonCommands { assignment, commands, printed, figures, done, missing: Cell::new(false) }
    }

    /// What draws each figure.
    pub fn figures(&self) -> Result<Vec<Rc<CommandResult>>, Error> {
        self.figures.iter().map(|at| self.worked(*at)).collect()
    }

    /// The commands that page and answers tell.
    pub fn printed(&self) -> Result<Vec<Rc<CommandResult>>, Error> {
        (1..=self.printed).map(|at| self.worked(at)).collect()
    }

    /// A command for the rig.
    pub fn worked(&self, at: usize) -> Result<Rc<CommandResult>, Error> {
        if let Some(Some(known)) = self.done.borrow().get(at) {
            return Ok(known.clone());
        }
        let worked = Rc::new(self.work(at)?);
        self.done.borrow_mut()[at] = Some(worked.clone());
        Ok(worked)
    }

    /// The commands of page and answers as they are typed for the rig.
    pub fn typed(&self) -> Result<Vec<String>, Error> {
        let printed = self.commands.iter().skip(1).take(self.printed);
        printed.map(|words| Ok(format!("quarterturn {}", self.read(words, false)?.1))).collect()
    }

    /// A command for the rig, and its words as they are shown. One that names a rig of its own
    /// keeps it, since it compares.
    fn read(&self, words: &[&str], chart: bool) -> Result<(NestedCommand, String), Error> {
        let asked = self.assignment.rig.as_str();
        let rig = (!words.contains(&"--rig") && asked != "six").then_some(asked);
        let nested = NestedCommand::read(words, rig, chart)?;
        let mut shown = nested.words.join(" ");
        if Path::new(asked).exists() && rig.is_some() && takes_rig(&nested.words) {
            shown = shown.replace(asked, &format!("<{}, from a file>", self.assignment.name));
        }
        Ok((nested, shown))
    }

    /// Works out a command. Trouble that is the engine's is told, not raised.
    fn work(&self, at: usize) -> Result<CommandResult, Error> {
        let (nested, shown) = self.read(&self.commands[at], self.figures.contains(&at))?;
        let mut worked = CommandResult {
            words: shown,
            blocks: Vec::new(),
            value: Value::Null,
            picture: None,
            data: String::new(),
            cautions: RUNNING.to_vec(),
            error: None,
        };
        match nested.report(&mut Progress::new("class", None)) {
            Ok(mut report) => {
                worked.picture = report.chart.take();
                worked.data = report.csv();
                worked.cautions = report.cautions;
                worked.value = Value::Object(std::mem::take(&mut report.value));
                worked.blocks = report.blocks;
            }
            Err(error) if error.code() == 4 => worked.error = Some(error.to_string()),
            Err(error) => return Err(error),
        }
        Ok(worked)
    }

    /// What "none" means, if the prose told so far says it.
    pub fn about_none(&self) -> Option<&'static str> {
        let words = "none: this rig has no such number; its command, under Worked out in the key, tells why.";
        self.missing.get().then_some(words)
    }

    /// Words whose commands, if they are whole ones, are told as they are typed for the rig.
    fn named_for_the_rig(&self, words: &str) -> String {
        let span = |(i, span): (usize, &str)| {
            let command = span.strip_prefix("quarterturn ").filter(|_| i % 2 == 1);
            let typed = command.and_then(|command| {
                self.read(&command.split_whitespace().collect::<Vec<_>>(), false).ok()
            });
            typed.map_or(span.to_string(), |(_, shown)| format!("quarterturn {shown}"))
        };
        words.split('`').enumerate().map(span).collect::<Vec<_>>().join("`")
    }

    /// Prose with the numbers of the rig; "none" where the rig has no such number.
    pub fn prose(&self, prose: &str) -> Result<String, Error> {
        let mut printed = String::new();
        for piece in pieces(prose) {
            match piece {
                TextPart::Words(words) => printed += &self.named_for_the_rig(words),
                // The pages are written for it, and tested.
                TextPart::Number(shown, _) if self.assignment.rig == "six" => printed += shown,
                TextPart::Number(shown, mark) => {
                    let found = self.worked(mark.command)?;
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lessons::all;
    use crate::sheet::Paper;

    /// The number before a mark is what its command works out for the rig the pages are
    /// written for.
    #[test]
    fn every_bound_number_of_the_lessons_is_what_its_command_works_out() {
        let assignment = SheetRequest::new("six", true, Paper::A4).ok().expect("shipped");
        let mut wrong = Vec::new();
        for lesson in all() {
            let lesson_commands = LessonCommands::new(&lesson, &assignment);
            for piece in pieces(lesson.page).into_iter().chain(pieces(lesson.answers)) {
                let TextPart::Number(shown, mark) = piece else { continue };
                let place = format!("lesson {}: {shown}<!--{}", lesson.number, mark.formula);
                if mark.command >= lesson_commands.commands.len() {
                    wrong.push(format!("{place}: there is no command {}", mark.command));
                    continue;
                }
                let found = lesson_commands.worked(mark.command).ok().expect("worked out");
                match mark.value(&found.value) {
                    Ok(value) if worded_like(shown, value) == shown => {}
                    Ok(value) => wrong.push(format!("{place}: {}", worded_like(shown, value))),
                    Err(why) => wrong.push(format!("{place}: {why} (`{}`)", found.words)),
                }
            }
        }
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }

    /// A number of the prose is bound, or is an input: it stands in a command of the lesson, or
    /// it is the trade's or a definition, and stands in this list.
    #[test]
    fn no_number_of_a_lesson_is_typed_by_hand() {
        const GIVEN: &[(&str, &str)] = &[
            ("1", "lambda 1, one of something"),
            ("0", "none"),
            ("100", "percent"),
            ("50", "the duty of no trim, by its definition"),
            ("0.70", "the idle's voltage, common practice"),
            ("0.65", "its band, common practice"),
            ("0.75", "its band, common practice"),
            ("700", "its speed, common practice"),
            ("4", "seconds in which a right static setting fires, common practice"),
        ];
        let mut typed = Vec::new();
        for lesson in all() {
            let commands = lesson.commands().join(" ") + " " + &lesson.drawn_by().join(" ");
            let inputs: Vec<&str> = numbers(&commands);
            for (prose, place) in [(lesson.page, "page"), (lesson.answers, "answers")] {
                for piece in pieces(&prose_alone(prose)) {
                    let TextPart::Words(words) = piece else { continue };
                    for number in numbers(words) {
                        let given = GIVEN.iter().any(|(known, _)| *known == number);
                        if !given && !inputs.contains(&number) {
                            typed.push(format!("lesson {}, {place}: {number}", lesson.number));
                        }
                    }
                }
            }
        }
        assert!(typed.is_empty(), "{}", typed.join("\n"));
    }

    /// Prose without console blocks, commands, links, keys of sources, marks of lists, and the
    /// numbers of lessons.
    fn prose_alone(page: &str) -> String {
        let mut prose = String::new();
        let mut code = false;
        for line in page.lines() {
            code ^= line.starts_with("```");
            if code || line.starts_with(['#', '`']) || line.starts_with("Drawn by:") {
                continue;
            }
            let item = line.split_once(". ").filter(|(mark, _)| mark.parse::<u32>().is_ok());
            prose += item.map_or(line, |(_, text)| text);
            prose.push('\n');
        }
        let mut left = String::new();
        let mut words = prose.split_inclusive(' ').peekable();
        while let Some(word) = words.next() {
            let lesson = matches!(word.trim().trim_start_matches('('), "lesson" | "lessons");
            if lesson {
                words.next();
            } else if !word.contains("](") && !word.starts_with('[') {
                left += word;
            }
        }
        left
    }

    /// The numbers of a text, without their signs; a number that is part of a word is none.
    fn numbers(text: &str) -> Vec<&str> {
        let part = |c: char| c.is_ascii_alphanumeric() || matches!(c, '.' | '_');
        let words = text.split(|c: char| !part(c)).map(|word| word.trim_end_matches('.'));
        words.filter(|word| word.parse::<f64>().is_ok() && !word.contains('n')).collect()
    }
}
