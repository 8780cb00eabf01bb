//! Other laws than those that the likelihood is made of.

/// Other laws than those that the likelihood is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Law {
    /// The same ones.
    Same,
    /// Another law of the flame's speed.
    Flame,
    /// Half as much scatter from cycle to cycle again.
    Scatter,
    /// More rubbing friction, and a plunger that sticks.
    Friction,
    /// A fault that is not among the causes: a generator that drags.
    Unlisted,
}

/// Every law but the same.
pub const OTHER_LAWS: [Law; 4] = [Law::Flame, Law::Scatter, Law::Friction, Law::Unlisted];

impl Law {
    /// It in a word.
    pub fn word(self) -> &'static str {
        match self {
            Law::Same => "same",
            Law::Flame => "flame",
            Law::Scatter => "scatter",
            Law::Friction => "friction",
            Law::Unlisted => "unlisted cause",
        }
    }
}
