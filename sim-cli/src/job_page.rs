//! A job sheet on paper: pages on their side, a row for each step, nothing smaller than
//! 9 pt.

mod layout;

use crate::course::paper_size::PaperSize;
use crate::drawing::picture::{Drawing, FileKind, Picture};
use crate::error::Error;
use crate::results::jobsheet::{JobSheet, text};
use layout::Pages;
use std::io;

/// The form of a sheet's file.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Drawn, all pages one under another; as PDF each a page.
    Drawn(FileKind),
    /// Text of 80 columns.
    Text,
}

impl Form {
    /// The form of a file by its ending.
    pub fn of_path(path: &str) -> Result<Form, Error> {
        if path.to_lowercase().ends_with(".txt") {
            return Ok(Form::Text);
        }
        match FileKind::of_path(path) {
            Ok(kind) if kind != FileKind::Csv => Ok(Form::Drawn(kind)),
            _ => {
                let pdf = if cfg!(feature = "pdf") { ".pdf, " } else { "" };
                let why = format!("a job sheet's file name must end in {pdf}.svg, .png or .txt");
                Err(Error::usage(format!("{path}: {why}")))
            }
        }
    }
}

/// The file of a sheet.
pub fn bytes(sheet: &JobSheet, form: Form, paper_size: PaperSize) -> io::Result<Vec<u8>> {
    let Form::Drawn(kind) = form else { return Ok(text(sheet).into_bytes()) };
    let pages = layout::pages(sheet, paper_size);
    #[cfg(feature = "pdf")]
    if kind == FileKind::Pdf {
        let svgs: Vec<_> = pages.svgs().into_iter().map(Into::into).collect();
        return crate::drawing::pdf::bytes(&sheet.title(), &svgs, pages.size);
    }
    picture(sheet, &pages).bytes(kind)
}

/// All pages one under another.
fn picture(sheet: &JobSheet, pages: &Pages) -> Picture {
    let (width, height) = pages.size;
    let all = height * pages.bodies.len() as f64;
    let page = |(i, body): (usize, &String)| {
        format!(
            "<g id=\"page-{}\" transform=\"translate(0 {:.2})\">\n{body}</g>\n",
            i + 1,
            height * i as f64
        )
    };
    let body: String = pages.bodies.iter().enumerate().map(page).collect();
    let drawing = Drawing {
        body: format!("\n{body}</svg>\n"),
        view: [0.0, 0.0, width, all],
        size: (width, all),
        marks: String::new(),
    };
    Picture { title: sheet.title(), description: text(sheet), drawings: [drawing.clone(), drawing] }
}
