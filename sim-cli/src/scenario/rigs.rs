//! Rigs by name or from a file.

use crate::error::Error;
use crate::files::{names_a_file, read_text};
use crate::options::Text;
use sim_core::conditions::Conditions;
use sim_core::point::Point;
use sim_core::rig::file::{RigFile, parse};
use sim_core::rig::keys::nearest_word;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::steady::SteadyEngine;
use sim_core::wording::did_you_mean;

/// The rig that runs if none is named.
pub const RIG_DEFAULT: &str = "six";

/// The option that names a rig.
pub static RIG: Text = Text {
    default: Some(RIG_DEFAULT),
    ..Text::new("rig", "NAME|FILE", "a shipped rig or a rig file")
};

/// What a screw means at which fuel runs with the plate at rest.
pub const AT_REST: &str = "with the screw where it stands the slits are open with the plate at rest: with the pump on, fuel runs into a standing engine. Not a setting to start or to drive on. If it has run: do not crank, plugs out, let it dry, look for petrol in the oil.";

/// A shipped rig by its name, or a rig file.
pub fn load_rig(name: &str) -> Result<RigFile, Error> {
    if let Some(file) = shipped(name) {
        return Ok(file);
    }
    if !names_a_file(name) {
        let nearest = nearest_word(name, SHIPPED.iter().map(|(shipped, _)| *shipped));
        return Err(Error::file(format!(
            "no rig \"{name}\"{}; `quarterturn rig list` names the shipped ones, a file ends in .toml",
            did_you_mean(nearest)
        )));
    }
    parse(&read_text(name)?).map_err(Error::in_file(name))
}

/// A rig as it is named canonically: a file by what it holds, not by its place.
pub fn canonical_rig(asked: &str, file: &RigFile) -> String {
    match SHIPPED.iter().any(|(name, _)| *name == asked) {
        true if asked == RIG_DEFAULT => String::new(),
        true => format!(" --rig {asked}"),
        false => format!(" --rig <{}, from a file>", file.name),
    }
}

/// A rig's warm idle with the screw where it stands, trim off.
pub fn as_it_stands(file: &RigFile) -> Point {
    let usual = Conditions::default();
    let conditions = file.found.as_ref().map_or(usual, |found| found.over(usual));
    SteadyEngine::new(&file.rig, &conditions).point(0.0)
}
