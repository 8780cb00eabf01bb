//! The one list of causes: what can be wrong, and what it changes by how much.

mod full;
mod list;

pub use list::CAUSES;

use crate::rig::Rig;
use crate::rig::keys::Setup;

/// A car with what its readings hang on beside the keys.
#[derive(Clone, Copy, Debug)]
pub struct Changed {
    /// Engine and conditions.
    pub setup: Setup,
    /// Fuel that comes into the manifold by another way, share of the idle's.
    pub other_fuel: f64,
    /// Share of its spark that a line's cylinder has lost, and the line.
    pub spark: Option<(usize, f64)>,
    /// How much higher a line's injector opens (Pa), and the line.
    pub injector: Option<(usize, f64)>,
}

/// A cause.
pub struct Cause {
    /// Its name.
    pub name: &'static str,
    /// What is wrong where its strength is above 0.
    pub words: &'static str,
    /// What is wrong where it is below 0; empty if it goes one way only.
    pub other_way: &'static str,
    /// What strength 1 is.
    pub full: &'static str,
    /// Three strengths that a trial draws.
    pub references: [f64; 3],
    /// Whether there is one for each injection line.
    pub each_line: bool,
    /// Whether it has strengths; a contact is closed or open.
    pub graded: bool,
    /// The strengths there are, where there is nothing between them.
    pub levels: &'static [f64],
    /// Whether a standing engine shows it: fuel side and plate.
    pub standing: bool,
    /// Whether a rig has the part.
    pub fitted: fn(&Rig) -> bool,
    /// Makes a car worse by a strength, on a line where there is one for each.
    pub apply: fn(&mut Changed, f64, usize),
}

/// Strengths of a cause that goes one way, the middles of equal steps, and the step.
const ONE_WAY: (&[f64], f64) = (&[0.25, 0.4, 0.55, 0.7, 0.85, 1.0], 0.15);
/// Strengths either way.
const EITHER_WAY: (&[f64], f64) =
    (&[-1.05, -0.85, -0.65, -0.45, -0.25, 0.25, 0.45, 0.65, 0.85, 1.05], 0.2);

impl Cause {
    /// Strengths that are worked out, and how far it is from one to the next; 0 where there is
    /// nothing between them.
    pub fn grid(&self) -> (&'static [f64], f64) {
        match (self.levels, self.other_way) {
            ([], "") => ONE_WAY,
            ([], _) => EITHER_WAY,
            (levels, _) => (levels, 0.0),
        }
    }
}

/// The name of a sound car among the causes.
pub const NONE: &str = "none";

/// A cause on a car: of those that are there for each line, on one of them.
#[derive(Clone, Copy)]
pub struct Named {
    /// The cause.
    pub cause: &'static Cause,
    /// Its line, from 0.
    pub line: Option<usize>,
}

impl Named {
    /// Its name: "spark-3".
    pub fn name(&self) -> String {
        match self.line {
            Some(line) => format!("{}-{}", self.cause.name, line + 1),
            None => self.cause.name.to_string(),
        }
    }

    /// What is wrong, at a strength.
    pub fn words(&self, strength: f64) -> String {
        let words = match strength < 0.0 && !self.cause.other_way.is_empty() {
            true => self.cause.other_way,
            false => self.cause.words,
        };
        match self.line {
            Some(line) => format!("line {}: {words}", line + 1),
            None => words.to_string(),
        }
    }

    /// Makes a car worse by a strength.
    pub fn apply(&self, changed: &mut Changed, strength: f64) {
        (self.cause.apply)(changed, strength, self.line.unwrap_or(0));
    }
}

/// Every cause that a rig can have, each line for itself.
pub fn causes_of(rig: &Rig) -> Vec<Named> {
    let lines = rig.parts().slits.width_m.len();
    let each = |cause: &'static Cause| {
        let count = if cause.each_line { lines } else { 1 };
        (0..count).map(move |line| Named { cause, line: cause.each_line.then_some(line) })
    };
    CAUSES.iter().filter(|cause| (cause.fitted)(rig)).flat_map(each).collect()
}
