//! The option that names the theme of what is drawn.

use crate::drawing::theme::Theme;
use crate::error::Error;
use crate::options::Choice;
use clap::ArgMatches;

/// For whom it is drawn.
pub static THEME: Choice = Choice {
    flag: "theme",
    value: "THEME",
    words: &[Theme::Print.word(), Theme::Projector.word()],
    default: Some(Theme::Print.word()),
    meaning: "print, or projector: large text and thick lines",
};

/// The theme asked for.
pub fn read(matches: &ArgMatches) -> Result<Theme, Error> {
    Ok(match THEME.read(matches)? {
        Some(word) if word == Theme::Projector.word() => Theme::Projector,
        _ => Theme::Print,
    })
}
