//! What an act is.

use crate::arguments::{Argument, Arguments};
use crate::bench::Bench;
use serde_json::{Value, json};

/// What an act is answered with.
pub enum Answer {
    /// The frame of the moment.
    Frame,
    /// The list of acts.
    Help,
    /// Something of its own.
    Own(Value),
    /// The frame after a session has been done again.
    Replay,
}

/// What an act brings, or why it cannot be done.
pub type Done = Result<Answer, String>;

/// An act.
pub struct Act {
    /// Its name.
    pub name: &'static str,
    /// What it does, in a line.
    pub does: &'static str,
    /// Its arguments.
    pub arguments: &'static [Argument],
    /// Its caution.
    pub caution: Option<&'static str>,
    /// What goes wrong when the caution is not heeded.
    pub ignored: Option<&'static str>,
    /// Whether something moves by it: a lesson lets nothing move before its prediction.
    pub moves: bool,
    /// Whether it belongs to the session, to be replayed.
    pub changes: bool,
    /// Does it.
    pub run: fn(&mut Bench, &Arguments<'_>) -> Done,
}

/// An act without anything special: it moves something and needs no caution.
pub const PLAIN: Act = Act {
    name: "",
    does: "",
    arguments: &[],
    caution: None,
    ignored: None,
    moves: true,
    changes: true,
    run: |_, _| Ok(Answer::Frame),
};

impl Act {
    /// Its row of the help.
    pub fn help(&self) -> Value {
        json!({
            "act": self.name,
            "does": self.does,
            "arguments": self.arguments.iter().map(Argument::help).collect::<Vec<_>>(),
            "caution": self.caution,
            "ignored": self.ignored,
        })
    }
}
