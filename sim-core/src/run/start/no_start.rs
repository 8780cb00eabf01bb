//! Why an engine does not start, in words.

use crate::point::LAMBDA_SAYS_NOTHING;
use crate::run::stall_cause::StallCause;
use crate::units::Unit;

/// Why an engine did not start.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoStart {
    /// The starter cannot turn it (crank speed, rad/s; 0 if it stands still).
    #[error("{}: too stiff, or too weak a battery", turned(*.0))]
    TooStiff(f64),
    /// No injector opened (highest pressure of the feed while cranking, opening, Pa).
    #[error(
        "nothing sprays, and the start valve cannot keep it running: the fuel reaches {:.1} bar, the injectors open at {:.1} bar",
        Unit::Bar.from_si(*.0),
        Unit::Bar.from_si(*.1)
    )]
    NothingSprays(f64, f64),
    /// Lines still hold air or vapour (how many).
    #[error(
        "{0} injection line{are} not full of fuel yet, and the start valve cannot keep it running: crank again, or bleed the lines",
        are = if *.0 == 1 { " is" } else { "s are" }
    )]
    LinesShort(usize),
    /// Most sparks fail (share of the cycles).
    #[error("no fire: the spark fails in {:.0} % of the cycles. Look at plugs, leads, coil and battery", 100.0 * .0)]
    NoSpark(f64),
    /// No charge was rich enough to fire (lambda at the end: of what evaporates, and of what is
    /// metered).
    #[error("no charge is rich enough to fire: {}", too_lean(*.0, *.1))]
    TooLean(f64, f64),
    /// The charges were too rich to fire (lambda at the end).
    #[error("flooded: lambda {0:.2} is too rich to fire, and the plugs are wet")]
    Flooded(f64),
    /// It fired, but not strongly enough to catch (lambda at the end).
    #[error("it fires, but not strongly enough to run up: {} at the end of cranking", told(*.0, 2))]
    FiresWithoutCatching(f64),
    /// It caught, and died when the starter let go or later (when, s; lambda then; what failed).
    #[error("it catches and dies after {0:.1} s{cause}", cause = cause_words(*.2))]
    Dies(f64, f64, Option<StallCause>),
}

/// What failed, and on which mixture, behind the news that an engine dies.
fn cause_words(cause: Option<StallCause>) -> String {
    let Some(cause) = cause else { return String::new() };
    format!(", {}: {}", cause.failed.word(), told(cause.lambda, 2))
}

/// How the starter turns a crank (its speed, rad/s), in words.
fn turned(speed_rad_s: f64) -> String {
    match speed_rad_s {
        still if still <= 0.0 => "the starter cannot turn it".into(),
        slow => format!("the starter turns it at {:.0} rpm only", Unit::Rpm.from_si(slow)),
    }
}

/// A mixture in words: beyond what counts as air its number says nothing.
fn told(lambda: f64, decimals: usize) -> String {
    match lambda < LAMBDA_SAYS_NOTHING {
        true => format!("lambda {lambda:.decimals$}"),
        false => "next to no fuel".into(),
    }
}

/// What a charge is short of, in words: fuel that is metered, or vapour of it.
fn too_lean(evaporates: f64, metered: f64) -> String {
    let told = |lambda: f64| (lambda < LAMBDA_SAYS_NOTHING).then(|| format!("lambda {lambda:.1}"));
    match (told(evaporates), told(metered)) {
        (None, None) => "next to no fuel is metered, the slits are all but shut".into(),
        (None, Some(metered)) => format!("next to no fuel evaporates of {metered} metered"),
        (Some(evaporates), None) => {
            format!("{evaporates} of what evaporates; next to no fuel is metered any more")
        }
        (Some(evaporates), Some(metered)) => {
            format!("{evaporates} of what evaporates, {metered} of what is metered")
        }
    }
}
