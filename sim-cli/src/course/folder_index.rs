//! The first file of a class folder: which of the others are printed, shown and kept, and when.

use super::sheet_request::SheetRequest;
use std::collections::BTreeSet;

/// Its name: it stands before all others.
pub const INDEX_FILE: &str = "00-what-to-print.txt";
/// What it is.
pub const INDEX: &str = "what to print, show and keep";

/// What is done with a kind of file.
struct Use {
    /// As the list of files says it.
    what: &'static str,
    /// When and how.
    when: &'static str,
}

const PRINT: &[Use] = &[
    Use { what: "worksheet", when: "one each, at the start" },
    Use { what: "worksheet of a pupil", when: "to the pupil of its number, at the start" },
    Use { what: "what bold words mean", when: "one each, with the worksheet" },
    Use {
        what: "chart to draw on",
        when: "one each, for the prediction: what is expected is drawn into it",
    },
    Use { what: "quiz", when: "one each, for the last five minutes" },
];
const SHOW: &[Use] = &[
    Use { what: "the machine", when: "when all predictions stand in ink" },
    Use { what: "chart", when: "after the answers, while pairs explain" },
];
const KEEP: &[Use] = &[
    Use { what: "key and plan of the lesson", when: "page 1: plan and vote; then all answers" },
    Use { what: "quiz with its answers", when: "after the quiz" },
    Use { what: "answers of all pupils", when: "beside the key" },
    Use { what: "data of the chart", when: "for a spreadsheet" },
];

/// How large things are printed.
const SIZES: &str = "
Worksheets, keys and quizzes are as large as the paper: print them at 100 %.
Charts and drawings: print the .pdf across the page (landscape), fitted to it.
Their smallest type is then 8 pt or more. The .png and the .svg show the same on
a screen. For a wall: quarterturn chart NAME --theme projector -o FILE

Nobody in the class needs the program. One who has it prints for all.
";

/// The text of the index, for files of a name and of what they are.
pub fn index(files: &[(&str, &str)], request: &SheetRequest) -> String {
    let mut text = format!(
        "The files of this folder, rig {}, for the {}. NN: the number of the lesson.\n",
        request.name,
        request.reader()
    );
    for (heading, uses) in
        [("PRINT", PRINT), ("SHOW, do not hand out", SHOW), ("KEEP, the answers stand in it", KEEP)]
    {
        let rows: Vec<String> = uses.iter().filter_map(|one| row(one, files)).collect();
        if !rows.is_empty() {
            text += &format!("\n{heading}\n{}", rows.concat());
        }
    }
    text + SIZES
}

/// The files of a use, if there are any: of a picture its page, and the files of several
/// lessons by one name.
fn row(one: &Use, files: &[(&str, &str)]) -> Option<String> {
    let names: Vec<&str> =
        files.iter().filter(|(_, what)| *what == one.what).map(|(name, _)| *name).collect();
    let paged = names.iter().any(|name| name.ends_with(".pdf"));
    let number = |name: &str| name.chars().take_while(char::is_ascii_digit).count();
    let lessons: BTreeSet<&str> = files.iter().map(|(name, _)| &name[..number(name)]).collect();
    let several = lessons.iter().filter(|number| !number.is_empty()).count() > 1;
    let mut told: Vec<String> = Vec::new();
    for name in names.into_iter().filter(|name| !paged || name.ends_with(".pdf")) {
        let digits = if several { number(name) } else { 0 };
        let name = format!("{}{}", if digits > 0 { "NN" } else { "" }, &name[digits..]);
        if !told.contains(&name) {
            told.push(name);
        }
    }
    let names = (!told.is_empty()).then(|| told.join(", "))?;
    Some(format!("  {names}\n      {}: {}\n", one.what, one.when))
}

#[cfg(test)]
mod tests {
    use super::row;

    #[test]
    fn a_row_tells_the_page_of_a_picture_and_several_lessons_by_one_name() {
        let chart = &super::SHOW[1];
        let one = [("01-chart.svg", "chart"), ("01-chart.pdf", "chart"), ("names.pdf", "names")];
        assert!(row(chart, &one).is_some_and(|row| row.starts_with("  01-chart.pdf\n")));
        let two =
            [("01-chart.pdf", "chart"), ("02-chart.pdf", "chart"), ("02-chart-2.pdf", "chart")];
        assert!(
            row(chart, &two).is_some_and(|row| row.starts_with("  NN-chart.pdf, NN-chart-2.pdf\n"))
        );
        assert!(row(chart, &one[2..]).is_none());
    }
}
