//! What stands on the sheets of a lesson: the trainee's worksheet, the instructor's key, the
//! numbers of all pupils, and the names that terms lead to.

use super::lesson_commands::{CommandResult, LessonCommands};
use super::lesson_plan::{CaseNumbers, LessonPlan, PARTS, Prediction};
use super::lessons::{Lesson, WRITTEN_FOR, sources};
use super::paper_size::PaperSize;
use super::plain_text::{Paragraph, bare, pieces};
use super::sheet::Sheet;
use super::sheet_request::SheetRequest;
use crate::cautions::{Caution, ENGINE, JUMPER, MODEL, PETROL};
use crate::drawing::linked_page::LinkedPage;
use crate::error::Error;
use crate::text::typeset;
use std::rc::Rc;

/// Most pages of a worksheet.
pub const WORKSHEET_PAGES: usize = 2;
/// Most pages of a key.
pub const KEY_PAGES: usize = 3;

/// How sheets are made to fit: first fewer lines to write on, then a little smaller type, then
/// fewer words.
#[derive(Clone, Copy)]
pub struct Fit {
    /// Size of type.
    pub scale: f64,
    /// Lines to write on under a question.
    pub lines: usize,
    /// How many of the things that may be left out are.
    pub cut: usize,
}

const fn fit(scale: f64, lines: usize, cut: usize) -> Fit {
    Fit { scale, lines, cut }
}

/// From the roomiest to the tightest.
const FITS: [Fit; 13] = [
    fit(1.0, 6, 0),
    fit(1.0, 5, 0),
    fit(1.0, 4, 0),
    fit(1.0, 3, 0),
    fit(1.0, 2, 0),
    fit(0.95, 2, 0),
    fit(0.9, 2, 0),
    fit(0.95, 2, 1),
    fit(0.9, 2, 1),
    fit(0.95, 2, 2),
    fit(0.9, 2, 2),
    fit(0.9, 1, 2),
    fit(0.9, 1, 3),
];

/// The first sheet of at most so many pages.
pub fn fitted(most: usize, made: impl Fn(Fit) -> Result<Sheet, Error>) -> Result<Sheet, Error> {
    let mut sheet = made(FITS[0])?;
    for fit in &FITS[1..] {
        if sheet.count() <= most {
            break;
        }
        sheet = made(*fit)?;
    }
    Ok(sheet)
}

/// A sheet with nothing but its title.
pub fn titled(request: &SheetRequest, lesson: &Lesson, what: &str, scale: f64) -> Sheet {
    let footer = format!(
        "quarterturn {}, rig {}: a model of invented parts. Bold words: {}.",
        env!("CARGO_PKG_VERSION"),
        request.name,
        super::sheet::NAMES_FILE
    );
    let mut sheet = Sheet::new(request.paper_size, scale, &footer);
    sheet.title(&format!("Lesson {}: {}{what}", lesson.number, lesson.title()));
    sheet
}

/// The machine as a lesson shows it: of its page, or of its plan.
pub fn machine(commands: &LessonCommands<'_>) -> Result<Rc<CommandResult>, Error> {
    commands.worked_out(&machine_words(commands)?)
}

/// The words of the command that draws the machine.
fn machine_words(commands: &LessonCommands<'_>) -> Result<String, Error> {
    let own = commands.lesson.pictures().into_iter().find(|one| one.words()[0] == "draw");
    Ok(match own {
        Some(picture) => picture.words().join(" "),
        None => plan(commands)?.drawing.clone().unwrap_or_else(|| "draw".into()),
    })
}

/// The plan of the lesson.
pub fn plan(commands: &LessonCommands<'_>) -> Result<&'static LessonPlan, Error> {
    let number = commands.lesson.number;
    LessonPlan::of(number).ok_or_else(|| Error::no_lesson(f64::from(number), "those with a plan"))
}

/// A pupil, who has numbers of their own.
pub struct Pupil {
    /// Counted from 1.
    pub number: usize,
    /// The numbers.
    pub numbers: CaseNumbers,
}

/// The worksheet, of the lesson's own numbers or a pupil's: two pages, and no answer on them.
pub fn worksheet(
    commands: &LessonCommands<'_>,
    pupil: Option<&Pupil>,
) -> Result<Vec<LinkedPage>, Error> {
    let sheet = fitted(WORKSHEET_PAGES, |fit| {
        let what = pupil.map_or(String::new(), |pupil| format!(", pupil {}", pupil.number));
        LessonSheet::new(commands, &what, fit)?.worksheet(pupil)
    })?;
    Ok(sheet.finish())
}

/// The instructor's page and the answers, on three pages at most.
pub fn key(commands: &LessonCommands<'_>) -> Result<Vec<LinkedPage>, Error> {
    let sheet =
        fitted(KEY_PAGES, |fit| LessonSheet::new(commands, ", for the instructor", fit)?.key())?;
    Ok(sheet.finish())
}

/// The numbers and the answers of all pupils.
pub fn pupils_key(
    commands: &LessonCommands<'_>,
    pupils: &[Pupil],
) -> Result<Vec<LinkedPage>, Error> {
    let LessonCommands { request, lesson, .. } = commands;
    let mut sheet = titled(request, lesson, ", answers of all pupils", 1.0);
    let plan = plan(commands)?;
    if plan.choices() < 2 {
        sheet.paragraph(
            "The cases of this lesson hold no numbers to change: all pupils have the same.",
        );
    }
    for pupil in pupils {
        let predictions = plan.predictions(commands, &pupil.numbers, true)?;
        let mut told = String::new();
        for one in &predictions {
            if !one.case.is_empty() {
                told += &format!("{}{}: ", if told.is_empty() { "" } else { ". " }, one.case);
            } else {
                told += "; ";
            }
            told += &answer(one);
        }
        sheet.item(&format!("{}.", pupil.number), &format!("{told}."));
    }
    Ok(sheet.finish())
}

/// A reading and its answer.
pub fn answer(one: &Prediction) -> String {
    let then = one.then.as_deref().unwrap_or("none");
    format!("{} {then} {}", bare(&one.reads), one.unit).trim_end().into()
}

/// The terms of the lessons, to which bold words lead.
pub fn names(paper_size: PaperSize) -> Vec<LinkedPage> {
    let mut sheet = Sheet::new(paper_size, 0.95, "Terms of the lessons, in the words of the bench");
    sheet.title("Names");
    for line in include_str!("../../../notebooks-md/names.md").lines() {
        let mut cells = line.split(" | ").map(|cell| cell.trim_matches(['|', ' ']));
        if let (Some(term), Some(meaning)) = (cells.next(), cells.next())
            && term.starts_with("**")
        {
            sheet.item("-", &format!("{term}: {}", bare(meaning)));
        }
    }
    sheet.finish()
}

/// A sheet of a lesson in the making.
struct LessonSheet<'a> {
    sheet: Sheet,
    lesson: &'a Lesson,
    commands: &'a LessonCommands<'a>,
    plan: &'static LessonPlan,
    fit: Fit,
    /// What is written of the lesson: its sources are named.
    written: String,
}

impl<'a> LessonSheet<'a> {
    fn new(
        commands: &'a LessonCommands<'a>,
        what: &str,
        fit: Fit,
    ) -> Result<LessonSheet<'a>, Error> {
        let LessonCommands { lesson, request, .. } = commands;
        let sheet = titled(request, lesson, what, fit.scale);
        let plan = plan(commands)?;
        Ok(LessonSheet { sheet, lesson, commands, plan, fit, written: String::new() })
    }

    /// Pieces of a text of the lesson, with the numbers of the rig.
    fn pieces(&mut self, text: &str) -> Result<Vec<Paragraph>, Error> {
        self.written += text;
        self.written.push('\n');
        Ok(pieces(&self.commands.text_for_rig(text)?))
    }

    /// A text of the lesson.
    fn text(&mut self, text: &str) -> Result<(), Error> {
        for Paragraph { mark, text } in self.pieces(text)? {
            self.sheet.item(&mark, &text);
        }
        Ok(())
    }

    fn sources(&mut self) {
        sources(&self.written).iter().for_each(|source| self.sheet.small(source));
    }

    /// The cautions of this lesson: its own words, and of its commands what they do not say.
    fn cautions(&mut self) -> Result<(), Error> {
        let bench = self.lesson.section("At the bench");
        let mut told: Vec<String> = self.pieces(bench)?.into_iter().map(|one| one.text).collect();
        let said = told.join(" ").to_lowercase();
        let says = |caution: &Caution| {
            let words = [(PETROL, "petrol"), (JUMPER, "jumper"), (ENGINE, "exhaust")];
            let said = |(known, word): &(Caution, &str)| known == caution && said.contains(word);
            *caution == MODEL || words.iter().any(said)
        };
        let mut found: Vec<Caution> = Vec::new();
        let machine = machine(self.commands)?;
        for one in self.commands.figure_results()?.iter().chain([&machine]) {
            for caution in one.cautions.iter().filter(|caution| !says(caution)) {
                if !found.contains(caution) {
                    found.push(*caution);
                }
            }
        }
        let more: Vec<&str> = found.iter().map(|caution| caution.short).collect();
        if !more.is_empty() {
            told.push(more.join(" "));
        }
        self.sheet.framed(&told);
        Ok(())
    }

    fn worksheet(mut self, pupil: Option<&Pupil>) -> Result<Sheet, Error> {
        let SheetRequest { name, error, .. } = self.commands.request;
        self.sheet.small(&format!(
            "The engine is the rig {name}, invented.{error}   Name: _______________________   Date: ___________"
        ));
        let mut about =
            self.pieces(self.lesson.section("What it is about"))?.into_iter().peekable();
        if let Some(first) = about.next() {
            // A list that the first paragraph leads to belongs to it.
            let leads = first.text.ends_with(':');
            let short = !leads && self.fit.cut > 1;
            self.sheet.paragraph(&if short { in_short(&first.text) } else { first.text });
            while let Some(item) = about.next_if(|one| leads && !one.mark.is_empty()) {
                self.sheet.item(&item.mark, &item.text);
            }
        }
        self.cautions()?;
        if let Some(picture) = &machine(self.commands)?.picture {
            self.sheet.paragraph(&self.plan.draw);
            self.sheet.drawing("", &picture.blank());
            let command = self.commands.as_typed(&machine_words(self.commands)?)?;
            self.sheet.small(&format!(
                "The blanks of the drawing, when yours is done: {command} -o machine.svg"
            ));
        }
        let own = self.plan.own_numbers();
        let numbers = pupil.map_or(&own, |pupil| &pupil.numbers);
        let predictions = self.plan.predictions(self.commands, numbers, false)?;
        let to_do = "Draw a stroke on each scale for what you predict, a cross for what you saw.";
        self.sheet.predictions(("Predict in ink, then see", to_do), &predictions, false);
        self.sheet.small("To see it with the program:");
        self.typed(&predictions);
        self.sheet.paragraph("What else you saw:");
        self.sheet.lines_to_write_on(self.fit.lines.min(2));
        let mut asked = self.pieces(self.lesson.section("Why"))?;
        let more = self.pieces(self.lesson.section("Ask yourself"))?;
        asked.extend(more.into_iter().take([9, 2, 1, 0][self.fit.cut]));
        self.sheet.questions("Explain", &asked, self.fit.lines);
        self.sources();
        Ok(self.sheet)
    }

    /// The commands of the cases, each once.
    fn typed(&mut self, predictions: &[Prediction]) {
        let mut typed: Vec<&str> = Vec::new();
        for one in predictions {
            if !typed.contains(&one.command.as_str()) {
                typed.push(&one.command);
            }
        }
        typed.iter().for_each(|command| self.sheet.small(command));
    }

    fn key(mut self) -> Result<Sheet, Error> {
        self.text(self.lesson.section("For the instructor"))?;
        self.cautions()?;
        self.timetable()?;
        self.sheet.heading("Likely wrong answers, and what to say");
        for one in &self.plan.wrong {
            self.sheet.item("-", &format!("\"{}\" {}", one.says, one.reply));
        }
        let vote = &self.plan.vote;
        self.sheet.heading("Vote");
        self.sheet.paragraph(&vote.ask);
        for (choice, letter) in vote.choices.iter().zip('a'..) {
            self.sheet.item(&format!("{letter})"), choice);
        }
        self.sheet.new_page();
        let SheetRequest { name, rig, error, .. } = self.commands.request;
        if rig != WRITTEN_FOR {
            self.sheet.paragraph(&format!(
                "The numbers are those of the rig {name}; the words were read with those of the shipped rigs.{error}"
            ));
        }
        let own = self.plan.own_numbers();
        let predictions = self.plan.predictions(self.commands, &own, true)?;
        self.sheet.predictions(("Answers", ""), &predictions, true);
        self.typed(&predictions);
        self.sheet.paragraph(&format!("Vote: {}.", self.plan.vote.right));
        self.text(self.lesson.answers)?;
        let none = predictions.iter().any(|one| one.then.is_none());
        if none || self.commands.note_on_none() {
            self.sheet.small(LessonCommands::NOTE_ON_NONE);
        }
        if self.fit.cut < 2 {
            self.sheet.heading("What this model leaves out");
            self.text(self.lesson.section("What this model leaves out"))?;
        }
        self.sources();
        if let (0, Some(picture)) = (self.fit.cut, &machine(self.commands)?.picture) {
            let heading = format!("The drawing: {}", typeset(&picture.title));
            self.sheet.drawing(&heading, picture);
        }
        Ok(self.sheet)
    }

    /// 45 minutes: when what is done, and what is shown then.
    fn timetable(&mut self) -> Result<(), Error> {
        let number = self.lesson.number;
        let file = |what: &str| format!("{number:02}-{what}");
        let mut charts = Vec::new();
        for (i, one) in self.commands.figure_results()?.iter().enumerate() {
            let more = if i > 0 { format!("-{}", i + 1) } else { String::new() };
            charts.push(match (&one.picture, &one.error) {
                (Some(picture), _) => {
                    format!("Show {}{more}: {}.", file("chart"), typeset(&picture.title))
                }
                (None, error) => format!(
                    "There is no chart for this rig: {}.",
                    error.as_deref().unwrap_or("it has none")
                ),
            });
        }
        let machine = machine(self.commands)?;
        let drawn = match &machine.picture {
            Some(picture) => {
                format!("Show {}: {}.", file("machine"), typeset(&picture.title))
            }
            None => String::new(),
        };
        let blank = match self.commands.figure_results()?.iter().any(|one| one.picture.is_some()) {
            true => format!("Hand out {}: what is expected is drawn into it. ", file("blank")),
            false => String::new(),
        };
        let shows = [
            format!("Hand out {} and names.", file("worksheet")),
            format!("{blank}Show nothing yet."),
            "Write the count of hands on the board.".into(),
            format!("{drawn} Run the commands below, or read the answers out one by one."),
            charts.join(" "),
            format!("Hand out {}.", file("quiz")),
        ];
        self.sheet.heading("45 minutes");
        let mut from = 0;
        for ((minutes, what), show) in PARTS.iter().zip(shows) {
            let mark = format!("{from:>2} to {:>2}", from + minutes);
            self.sheet.item(&mark, format!("{what}. {show}").trim());
            from += minutes;
        }
        Ok(())
    }
}

/// The first two sentences of a text.
fn in_short(text: &str) -> String {
    let mut ends = text.match_indices(['.', '?']).map(|(at, _)| at + 1);
    let whole = |at: &usize| text[*at..].is_empty() || text[*at..].starts_with(' ');
    let second = ends.by_ref().filter(whole).nth(1);
    text[..second.unwrap_or(text.len())].into()
}
