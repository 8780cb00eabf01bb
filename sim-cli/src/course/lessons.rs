//! The lessons, carried in the program and read by the headings of their template.

use sim_core::rig::keys::nearest_word;

/// Each lesson's name, page and answers, in order.
static PAGES: &[(&str, &str, &str)] = &include!(concat!(env!("OUT_DIR"), "/lessons.rs"));

/// The rig that the lessons are written for.
pub const WRITTEN_FOR: &str = "six";

/// A lesson.
#[derive(Clone, Copy)]
pub struct Lesson {
    /// Its number.
    pub number: u32,
    /// Its page.
    pub page: &'static str,
    /// Its answers.
    pub answers: &'static str,
}

/// Every lesson, in order.
pub fn all() -> Vec<Lesson> {
    let lesson = |(name, page, answers): &(&'static str, &'static str, &'static str)| {
        let number = name.get(..2)?.parse().ok()?;
        Some(Lesson { number, page, answers })
    };
    PAGES.iter().filter_map(lesson).collect()
}

/// A figure of a lesson, and the command that draws it.
#[derive(Clone, Copy)]
pub struct Figure {
    /// Its name: the file's, without its ending.
    pub name: &'static str,
    /// The lesson.
    pub lesson: Lesson,
    /// What it shows on the rig the lesson is written for.
    pub shows: &'static str,
    /// The command as it stands in the lesson.
    pub command: &'static str,
}

impl Figure {
    /// The command's words after the program's name, without the picture's file.
    pub fn words(&self) -> Vec<&'static str> {
        let mut words: Vec<&str> = self.command.split_whitespace().skip(1).collect();
        if let Some(at) = words.iter().position(|word| ["--chart", "-o"].contains(word)) {
            words.drain(at..(at + 2).min(words.len()));
        }
        words
    }
}

/// Every figure of the course, in the order of the lessons: drawings of the machine, too.
pub fn figures() -> Vec<Figure> {
    all().iter().flat_map(Lesson::pictures).collect()
}

/// The figure of a name; the number before it may be left out where one alone is meant.
pub fn figure(name: &str) -> Result<Figure, Option<&'static str>> {
    let figures = figures();
    if let Some(figure) = figures.iter().find(|figure| figure.name == name) {
        return Ok(*figure);
    }
    let bare =
        |figure: &&Figure| figure.name.get(3..) == Some(name) || figure.name.get(..2) == Some(name);
    match figures.iter().filter(bare).collect::<Vec<_>>()[..] {
        [figure] => Ok(*figure),
        [figure, ..] => Err(Some(figure.name)),
        [] => {
            let names = figures.iter().flat_map(|f| [Some(f.name), f.name.get(3..)]).flatten();
            Err(nearest_word(name, names))
        }
    }
}

impl Lesson {
    /// Its title, without "Lesson N: ".
    pub fn title(&self) -> &'static str {
        let line = self.page.lines().next().unwrap_or_default();
        line.split_once(": ").map_or(line, |(_, title)| title)
    }

    /// What stands under a heading.
    pub fn section(&self, heading: &str) -> &'static str {
        let wanted = format!("## {heading}\n");
        let Some(start) = self.page.find(&wanted) else { return "" };
        let rest = &self.page[start + wanted.len()..];
        rest[..rest.find("\n## ").unwrap_or(rest.len())].trim()
    }

    /// Its figures: the charts that are predicted, drawn and compared.
    pub fn figures(&self) -> Vec<Figure> {
        self.pictures_of(self.section("The figure"))
    }

    /// Every picture of its page.
    pub fn pictures(&self) -> Vec<Figure> {
        self.pictures_of(self.page)
    }

    fn pictures_of(&self, text: &'static str) -> Vec<Figure> {
        let mut figures = Vec::new();
        let mut shown: Option<(&str, &str)> = None;
        for line in text.lines() {
            if let Some(picture) = line.strip_prefix("![") {
                shown = picture.split_once("](figures/");
            } else if let Some(command) = line.strip_prefix("Drawn by: `")
                && let Some((shows, file)) = shown.take()
            {
                let name = file.split('.').next().unwrap_or(file);
                let command = command.trim_end_matches('`');
                figures.push(Figure { name, lesson: *self, shows, command });
            }
        }
        figures
    }

    /// The commands that its page and its answers run, each with `quarterturn`.
    pub fn commands(&self) -> Vec<&'static str> {
        let lines = self.page.lines().chain(self.answers.lines());
        lines.filter_map(|line| line.strip_prefix("$ ")).collect()
    }
}

/// The sources that a text names by their keys, each after its key.
pub fn sources(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    for line in include_str!("../../../notebooks-md/references.md").lines() {
        let mut cells = line.split('|').map(str::trim).skip(1);
        if let (Some(key), Some(source)) = (cells.next(), cells.next())
            && key.starts_with('[')
            && text.contains(key)
        {
            found.push(format!("{key} {source}."));
        }
    }
    found
}

/// The cautions in full, as they stand in the README.
pub fn cautions_in_full() -> impl Iterator<Item = &'static str> {
    let readme = include_str!("../../../README.md");
    let section = readme.split("## Cautions\n").nth(1).unwrap_or_default();
    let section = section.split("\n## ").next().unwrap_or_default();
    section.lines().filter_map(|line| line.strip_prefix("- "))
}
