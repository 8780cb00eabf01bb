//! The rigs that come with the library, all invented.

use super::file::{RigFile, parse};

/// Names and texts of the shipped rigs.
pub const SHIPPED: &[(&str, &str)] = &[
    ("six", include_str!("../../rigs/six.toml")),
    ("four", include_str!("../../rigs/four.toml")),
    ("eight", include_str!("../../rigs/eight.toml")),
];

/// The shipped rig of a name.
pub fn shipped(name: &str) -> Option<RigFile> {
    let (_, text) = SHIPPED.iter().find(|(shipped, _)| *shipped == name)?;
    // A test reads every shipped file, so this cannot fail in a build that passed.
    parse(text).ok()
}
