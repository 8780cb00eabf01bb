//! What `--change` asks for.

use super::assignment::{Assignment, pair_assignment};
use super::rigs::load_rig;
use crate::error::Error;
use crate::options::Text;
use clap::ArgMatches;
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::shipped;

/// The option that asks for changes.
pub static CHANGE: Text = Text {
    required: true,
    repeated: true,
    ..Text::new(
        "change",
        "KEY=VALUE",
        "a key of `quarterturn rig keys` and its new value; several at once",
    )
};

/// Reads the `--change` flags.
pub fn changes(matches: &ArgMatches) -> Result<Vec<Change>, Error> {
    let changes: Vec<Change> = CHANGE
        .all(matches)
        .map(|pair| match pair.split_once('=') {
            Some((name, rig)) if name.trim() == "rig" => Ok(Change::Rig(rig.trim().into())),
            _ => pair_assignment("--change", pair).map(Change::Key),
        })
        .collect::<Result<_, _>>()?;
    for (i, change) in changes.iter().enumerate() {
        let name = change.name();
        if changes[..i].iter().any(|before| before.name() == name) {
            return Err(Error::usage(format!("--change: `{name}` is given twice; once is enough")));
        }
    }
    Ok(changes)
}

/// What `--change` asks for.
pub enum Change {
    /// Another value of a key.
    Key(Assignment),
    /// Another rig.
    Rig(String),
}

impl Change {
    /// Applies the change to a setup.
    pub fn apply(&self, setup: &mut Setup) -> Result<(), Error> {
        match self {
            Change::Key(assignment) => assignment.apply(setup),
            Change::Rig(name) => {
                setup.rig = load_rig(name)?.rig;
                Ok(())
            }
        }
    }

    /// As it is typed canonically.
    pub fn typed(&self) -> String {
        match self {
            Change::Key(assignment) => format!("{}={}", assignment.key.name, assignment.typed()),
            Change::Rig(name) if shipped(name).is_some() => format!("rig={name}"),
            Change::Rig(_) => "rig=<from a file>".into(),
        }
    }

    /// In words: "screw -1/16 turns".
    pub fn words(&self) -> String {
        match self {
            Change::Key(assignment) => assignment.words(),
            Change::Rig(name) => format!("rig {name}"),
        }
    }

    fn name(&self) -> &'static str {
        match self {
            Change::Key(assignment) => assignment.key.name,
            Change::Rig(_) => "rig",
        }
    }

    /// In which order changes are applied: files before ranges, and what is counted from the
    /// aim last, since the aim hangs on all else.
    pub fn order(&self) -> u8 {
        match self {
            Change::Rig(_) => 0,
            Change::Key(assignment) if assignment.comes_last() => 2,
            Change::Key(_) => 1,
        }
    }
}
