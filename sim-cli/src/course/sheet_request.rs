//! What sheets are made for: the rig, the reader, the paper.

use super::paper_size::PaperSize;
use crate::error::Error;
use crate::scenario::{as_it_stands, canonical_rig, load_rig};

/// What sheets are made for.
pub struct SheetRequest {
    /// The rig as it is asked for.
    pub rig: String,
    /// Its name.
    pub name: String,
    /// What stands for it in the canonical command.
    pub rig_option: String,
    /// Whether answers are wanted.
    pub instructor: bool,
    /// The size of the pages.
    pub paper_size: PaperSize,
    /// How many pupils have numbers of their own; 0: all have the lesson's.
    pub pupils: usize,
    /// Seed of their numbers and of the quiz.
    pub seed: u64,
    /// That it does not idle as it stands, and why; empty if it does.
    pub error: String,
}

impl SheetRequest {
    /// For a shipped rig or a rig file.
    pub fn new(rig: &str, instructor: bool, paper_size: PaperSize) -> Result<SheetRequest, Error> {
        let file = load_rig(rig)?;
        let point = as_it_stands(&file);
        let error = point.stall().map(|why| format!(
            " It does not idle as it stands, and much on this sheet is \"none\": {}. It does at lambda 1: `quarterturn sweep` tells where the screw gives that; zero_height_mm of the file makes it 0.",
            why
        ).replace('`', ""));
        Ok(SheetRequest {
            rig: rig.into(),
            name: file.name.to_string(),
            rig_option: canonical_rig(rig, &file),
            instructor,
            paper_size,
            pupils: 0,
            seed: 1,
            error: error.unwrap_or_default(),
        })
    }

    /// Whom the files are for.
    pub fn reader(&self) -> &'static str {
        if self.instructor { "instructor" } else { "trainee" }
    }
}
