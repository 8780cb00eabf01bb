//! Completions of a shell, or the manual page.

use crate::report::{Block, Found, Report};
use serde::Serialize;
use std::rc::Rc;

/// A text for a shell or for the reader of manuals.
#[derive(Serialize)]
pub struct Completions {
    /// The text.
    pub text: String,
}

impl Found for Completions {}

/// The report of a text.
pub fn report(completions: Completions) -> Report {
    let text = Block::Verbatim(completions.text.clone());
    let mut report = Report::of("completions", Rc::new(completions));
    report.block(text);
    report
}
