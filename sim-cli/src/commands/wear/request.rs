//! What `wear` is asked for.

use super::super::asked::{
    SEED_MOST, WHOLE, number_in, number_of, value_arg, whole_within, within,
};
use crate::args::{with_chart, with_output};
use crate::error::Error;
use crate::scenario::with_conditions;
use crate::text::plain;
use clap::ArgMatches;
use sim_core::conditions::Conditions;

/// Most cars of one call.
const PARTS_MOST: f64 = 100_000.0;
/// Hours of a whole year: more cannot be idled (h).
const YEAR_H: f64 = 8766.0;
/// Most periods of change that are compared: curves have to stay apart.
const CHANGES_MOST: f64 = 4.0;

pub(super) fn args(command: clap::Command) -> clap::Command {
    let command = command
        .arg(value_arg("years", "YEARS", "15", "how long, whole years, 1 to 60"))
        .arg(value_arg("parts", "NUMBER", "500", "how many cars, 1 to 100000"))
        .arg(value_arg(
            "change-years",
            "YEARS,...",
            "3,5",
            "the part is changed so often, 0.5 to 60",
        ))
        .arg(value_arg("hours-a-year", "H", "100", "idling of a car in a year, 1 to 8766 h"))
        .arg(value_arg(
            "wear-mm3-nm",
            "MM3_NM",
            "1e-7",
            "specific wear of the median track, mm3/(N m), invented; 1e-10 to 1e-3",
        ))
        .arg(value_arg("spread", "NUMBER", "0.5", "deviation of its logarithm over parts, 0 to 3"))
        .arg(value_arg("seed", "NUMBER", "1", "seed of noise and draw"));
    with_output(with_chart(with_conditions(command, &Conditions::closed_loop())))
}

/// What was asked for, in numbers.
pub(super) struct WearRequest {
    pub years: f64,
    pub parts: f64,
    pub changes: Vec<f64>,
    pub hours: f64,
    pub wear: f64,
    pub spread: f64,
    pub seed: f64,
}

impl WearRequest {
    pub fn read(matches: &ArgMatches) -> Result<WearRequest, Error> {
        let text = matches.get_one::<String>("change-years").map_or("", String::as_str);
        let changes = text.split(',').map(|part| number_in("--change-years", part.trim()));
        let mut changes: Vec<f64> = changes.collect::<Result<_, _>>()?;
        changes.sort_by(f64::total_cmp);
        changes.dedup();
        Ok(WearRequest {
            years: number_of(matches, "years")?,
            parts: number_of(matches, "parts")?,
            changes,
            hours: number_of(matches, "hours-a-year")?,
            wear: number_of(matches, "wear-mm3-nm")?,
            spread: number_of(matches, "spread")?,
            seed: number_of(matches, "seed")?,
        })
    }

    pub fn check(&self) -> Result<(), Error> {
        whole_within("--years", self.years, (1.0, 60.0), "whole years")?;
        whole_within("--parts", self.parts, (1.0, PARTS_MOST), "whole cars")?;
        for change in &self.changes {
            within("--change-years", *change, (0.5, 60.0), "years")?;
        }
        let count = self.changes.len() as f64;
        within("--change-years (how many)", count, (1.0, CHANGES_MOST), "times")?;
        within("--hours-a-year", self.hours, (1.0, YEAR_H), "h")?;
        within("--wear-mm3-nm", self.wear, (1e-10, 1e-3), "mm3/(N m)")?;
        within("--spread", self.spread, (0.0, 3.0), "as a bare number")?;
        whole_within("--seed", self.seed, (0.0, SEED_MOST), WHOLE)?;
        Ok(())
    }

    pub fn command(&self, flags: &str) -> String {
        let mut command = String::from("quarterturn wear");
        let changes: Vec<String> = self.changes.iter().copied().map(plain).collect();
        for (flag, value, default) in [("years", self.years, 15.0), ("parts", self.parts, 500.0)] {
            if value != default {
                command += &format!(" --{flag} {value}");
            }
        }
        if self.changes != [3.0, 5.0] {
            command += &format!(" --change-years {}", changes.join(","));
        }
        for (flag, value, default) in [
            ("hours-a-year", self.hours, 100.0),
            ("wear-mm3-nm", self.wear, 1e-7),
            ("spread", self.spread, 0.5),
            ("seed", self.seed, 1.0),
        ] {
            if value != default {
                let small = value != 0.0 && value < 1e-3;
                let text = if small { format!("{value:e}") } else { plain(value) };
                command += &format!(" --{flag} {text}");
            }
        }
        command + flags
    }
}
