//! What `--change` asks for.

use super::assignment::{Assignment, pair_assignment};
use super::rigs::load_rig;
use crate::error::Error;
use crate::options::{Given, Number, Text};
use crate::text::{plain, turns_typed, wrapped};
use clap::ArgMatches;
use sim_core::housing::{HousingFault, HousingTurn, turn_for};
use sim_core::rig::Rig;
use sim_core::rig::keys::{Key, PLAIN_WORDS, Setup};
use sim_core::rig::shipped::shipped;
use sim_core::units::Unit;

/// The option that asks for changes.
pub static CHANGE: Text = Text {
    repeated: true,
    ..Text::new(
        "change",
        "KEY=VALUE",
        "a key of `quarterturn rig keys`, or a plain word, and its new value; several at once",
    )
};

/// The option that turns the screw from where it stands.
pub static TURN: Number = Number::of_key(
    "turn",
    ("TURNS", "turns"),
    "screw",
    "turn the mixture screw by so much from where it stands; in (clockwise) is plus",
);

/// The option that turns the potentiometer's housing.
pub static VOLTS: Number = Number::new(
    "volts",
    ("VOLTS", "V"),
    (0.0, f64::INFINITY),
    "turn the airflow potentiometer's housing until the warm idle shows so much",
);

/// What is asked to change, read but not yet applied to an engine.
pub struct ChangesAsked {
    changes: Vec<Change>,
    turn: Option<Given>,
    volts: Option<Given>,
}

impl ChangesAsked {
    /// Reads `--change`, `--turn` and `--volts`.
    pub fn read(matches: &ArgMatches) -> Result<ChangesAsked, Error> {
        let asked = ChangesAsked {
            changes: changes(matches)?,
            turn: TURN.read(matches)?,
            volts: VOLTS.read(matches)?,
        };
        let ways = [(asked.turn, TURN.flag, "screw"), (asked.volts, VOLTS.flag, "housing_mm")];
        for (given, flag, key) in ways {
            if given.is_some() && asked.changes.iter().any(|change| change.name() == key) {
                return Err(Error::usage(format!(
                    "--{flag} moves `{key}`, and so does --change; once is enough"
                )));
            }
        }
        if asked.changes.is_empty() && asked.turn.is_none() && asked.volts.is_none() {
            return Err(Error::needs("predict", "--change, --turn or --volts"));
        }
        Ok(asked)
    }

    /// The same with the files that changes name read.
    pub fn loaded(mut self) -> Result<ChangesAsked, Error> {
        for change in &mut self.changes {
            if let Change::Rig(name, rig) = change {
                *rig = Some(Box::new(load_rig(name)?.rig));
            }
        }
        Ok(self)
    }

    /// The changes of a setup: how far the screw goes, and how far the housing is turned for
    /// the voltage with all else changed.
    pub fn of(self, setup: &Setup) -> Result<Vec<Change>, Error> {
        let ChangesAsked { mut changes, turn, volts } = self;
        if let Some(turn) = turn {
            let by = turn.checked()?;
            changes.push(Change::Turn { by, to: setup.conditions.screw_turns + by });
        }
        if let Some(volts) = volts {
            let asked_v = volts.unchecked();
            let found = turn_for(&with(setup, &changes, |_| true)?, asked_v);
            let turn = found.map_err(|fault| out_of_reach(asked_v, fault))?;
            changes.push(Change::Volts { asked_v, turn });
        }
        Ok(changes)
    }
}

/// A setup with those of the changes made that `made` says.
pub fn with(
    setup: &Setup,
    changes: &[Change],
    made: impl Fn(usize) -> bool,
) -> Result<Setup, Error> {
    let mut after = *setup;
    let mut ordered: Vec<(usize, &Change)> = changes.iter().enumerate().collect();
    ordered.sort_by_key(|(_, change)| change.order());
    for (i, change) in ordered {
        if made(i) {
            change.apply(&mut after)?;
        }
    }
    Ok(after)
}

fn out_of_reach(asked_v: f64, fault: HousingFault) -> Error {
    let why = match fault {
        HousingFault::OutOfReach { low_v, high_v } => {
            let housing = Key::find("housing_mm").map(Key::range_words).unwrap_or_default();
            format!(
                "with the housing turned over its whole range, {housing}, the warm idle shows {low_v:.2} to {high_v:.2} V"
            )
        }
        other => other.to_string(),
    };
    Error::outside(format!("--volts: {} V cannot be had: {why}", plain(asked_v)))
}

/// Reads the `--change` flags.
fn changes(matches: &ArgMatches) -> Result<Vec<Change>, Error> {
    let changes: Vec<Change> = CHANGE
        .all(matches)
        .map(|pair| match pair.split_once('=') {
            Some((name, rig)) if name.trim() == "rig" => Ok(Change::Rig(rig.trim().into(), None)),
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

/// The plain words with their keys, for help.
pub fn plain_words() -> String {
    let mut keys: Vec<&str> = PLAIN_WORDS.iter().map(|(_, key)| *key).collect();
    keys.dedup();
    let told = |key: &str| {
        let words = PLAIN_WORDS.iter().filter(|(_, of)| *of == key).map(|(word, _)| *word);
        format!("{} ({key})", words.collect::<Vec<_>>().join(" or "))
    };
    let words = keys.into_iter().map(told).collect::<Vec<_>>().join(", ");
    format!(
        "Plain words for --change and --set, each with the key it stands for:\n{}",
        wrapped(&format!("  {words}"), 80, "  ")
    )
}

/// What `--change`, `--turn` or `--volts` asks for.
pub enum Change {
    /// Another value of a key.
    Key(Assignment),
    /// Another rig, by its name; loaded once files are read.
    Rig(String, Option<Box<Rig>>),
    /// The screw turned from where it stands.
    Turn {
        /// By how much (turns).
        by: f64,
        /// Where it then stands (turns).
        to: f64,
    },
    /// The potentiometer's housing turned until the warm idle shows a voltage.
    Volts {
        /// The voltage asked for (V).
        asked_v: f64,
        /// How far it is turned.
        turn: HousingTurn,
    },
}

/// Gives the key that a flag moves a value.
fn move_key(setup: &mut Setup, flag: &str, key: &str, value: f64) -> Result<(), Error> {
    let Some(key) = Key::find(key) else { return Ok(()) };
    key.set(setup, value).map_err(|fault| Error::of_key(flag, key, "", fault))
}

impl Change {
    /// Applies the change to a setup.
    pub fn apply(&self, setup: &mut Setup) -> Result<(), Error> {
        match self {
            Change::Key(assignment) => assignment.apply(setup),
            Change::Rig(name, rig) => {
                setup.rig = match rig {
                    Some(rig) => **rig,
                    None => load_rig(name)?.rig,
                };
                Ok(())
            }
            Change::Turn { to, .. } => move_key(setup, "--turn", "screw", *to),
            Change::Volts { turn, .. } => {
                move_key(setup, "--volts", "housing_mm", Unit::Millimetre.from_si(turn.to_m))
            }
        }
    }

    /// As it is typed canonically.
    pub fn typed(&self) -> String {
        match self {
            Change::Key(assignment) => format!("{}={}", assignment.key.name, assignment.typed()),
            Change::Rig(name, _) if shipped(name).is_some() => format!("rig={name}"),
            Change::Rig(..) => "rig=<from a file>".into(),
            Change::Turn { to, .. } => format!("screw={}", turns_typed(*to)),
            Change::Volts { turn, .. } => {
                format!("housing_mm={}", plain(Unit::Millimetre.from_si(turn.to_m)))
            }
        }
    }

    /// The flag that asks for it canonically, with a space before it.
    pub fn flag(&self) -> String {
        match self {
            Change::Turn { by, .. } => format!(" --turn {}", turns_typed(*by)),
            Change::Volts { asked_v, .. } => format!(" --volts {}", plain(*asked_v)),
            _ => format!(" --change {}", self.typed()),
        }
    }

    /// The turn of the housing, if it is one.
    pub fn housing(&self) -> Option<(f64, HousingTurn)> {
        match self {
            Change::Volts { asked_v, turn } => Some((*asked_v, *turn)),
            _ => None,
        }
    }

    /// In words: "screw -1/16 turns".
    pub fn words(&self) -> String {
        match self {
            Change::Key(assignment) => assignment.words(),
            Change::Rig(name, _) => format!("rig {name}"),
            Change::Turn { by, .. } => {
                let way = if *by < 0.0 { "out" } else { "in" };
                format!("screw {} turn {way}", turns_typed(by.abs()))
            }
            Change::Volts { asked_v, .. } => {
                format!("housing turned until {} V show", plain(*asked_v))
            }
        }
    }

    fn name(&self) -> &'static str {
        match self {
            Change::Key(assignment) => assignment.key.name,
            Change::Rig(..) => "rig",
            Change::Turn { .. } => "screw",
            Change::Volts { .. } => "housing_mm",
        }
    }

    /// In which order changes are applied: files before ranges, and what is counted from the
    /// aim late, since the aim hangs on all else; the housing last, which was turned with all
    /// else done.
    fn order(&self) -> u8 {
        match self {
            Change::Rig(..) => 0,
            Change::Key(assignment) if assignment.comes_last() => 2,
            Change::Key(_) | Change::Turn { .. } => 1,
            Change::Volts { .. } => 3,
        }
    }
}
