//! The first file of a class folder: which of the others are printed, shown and kept, and when.

use super::sheet_request::SheetRequest;

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

/// The text of the index, for files of a name and of what they are.
pub fn index(files: &[(&str, &str)], request: &SheetRequest) -> String {
    let mut text = format!(
        "The files of this folder, rig {}, for the {}.\n",
        request.name,
        request.reader()
    );
    for (heading, uses) in [
        ("PRINT", PRINT),
        ("SHOW, do not hand out", SHOW),
        ("KEEP, the answers stand in it", KEEP),
    ] {
        let rows: Vec<String> = uses.iter().filter_map(|one| row(one, files)).collect();
        if !rows.is_empty() {
            text += &format!("\n{heading}\n{}", rows.concat());
        }
    }
    text + "\nSheets are as large as the paper: print them at 100 %. A chart or a drawing is printed \
            across the page (landscape), fitted to it. Its smallest type is then at least 9 pt. The same \
            picture is there as .pdf and .png to print and .svg for a browser. To show it on a wall: \
            `quarterturn chart NAME --theme projector -o FILE`.\n\n\
            Everything here is paper: who has no computer needs none. One who has the program prints \
            for all.\n"
}

/// The files of a use, if there are any.
fn row(one: &Use, files: &[(&str, &str)]) -> Option<String> {
    let names = files.iter().filter(|(_, what)| *what == one.what).map(|(name, _)| *name);
    let names: Vec<&str> = names.collect();
    let names = (!names.is_empty()).then(|| names.join(", "))?;
    Some(format!("  {names}\n      {}: {}\n", one.what, one.when))
}
