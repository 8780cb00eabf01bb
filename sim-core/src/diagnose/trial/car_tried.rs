//! What came of a car of a trial.

use super::hidden::Role;

/// A probability that was said, and whether it was so.
pub type Said = (f64, bool);

/// What came of a car.
#[derive(Clone, Debug)]
pub struct Tried {
    /// What it was drawn for.
    pub role: Role,
    /// Its causes by index.
    pub causes: Vec<usize>,
    /// Their strengths.
    pub strengths: Vec<f64>,
    /// Place of the true cause in the ranking (from 0), or the later of two; none counts.
    pub place: usize,
    /// Index of what was first (the last is none); `None` if the whole sheet was not read.
    pub first: Option<usize>,
    /// What was said on the whole sheet of each cause and none, if it was read.
    pub said: Vec<Said>,
    /// What was said on parts of the sheet.
    pub said_on_parts: Vec<Said>,
    /// Place of the true cause with an observer who knows the model, where there is one.
    pub observed: Option<usize>,
    /// Checks to certainty, and in the fixed order; none if it was not played.
    pub checks: Option<(usize, usize)>,
}
