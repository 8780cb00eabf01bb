//! Numbers as they are printed: THE place that rounds.
//!
//! A table, the sentence beside it and the shares under it are made of these numbers. Whoever
//! takes one printed number from another finds the third. JSON and CSV keep every digit.

use sim_core::point::{Reading, State};

/// A number with so many decimals, and no minus before a zero.
pub fn fixed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let zero = text.chars().all(|c| matches!(c, '-' | '0' | '.'));
    if zero { text.trim_start_matches('-').to_string() } else { text }
}

/// The same with a plus before what is not below zero.
pub fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if text.starts_with('-') { text } else { format!("+{text}") }
}

/// The number that stands there.
pub fn rounded(value: f64, decimals: usize) -> f64 {
    fixed(value, decimals).parse().unwrap_or(value)
}

/// A reading before and after a change, in steps of the last decimal of its column.
#[derive(Clone, Copy)]
pub struct Move {
    decimals: usize,
    before: i64,
    after: i64,
}

impl Move {
    /// Of a reading with two values in its unit.
    pub fn of(reading: &Reading, before: f64, after: f64) -> Move {
        let decimals = reading.decimals;
        let steps = |value: f64| (rounded(value, decimals) * scale(decimals)).round() as i64;
        Move { decimals, before: steps(before), after: steps(after) }
    }

    /// Of a reading by its name at two states; nothing where one of them does not have it.
    pub fn between(name: &str, was: &State, is: &State) -> Option<Move> {
        let reading = Reading::find(name)?;
        Some(Move::of(reading, reading.value(was)?, reading.value(is)?))
    }

    /// How far it moves: the one number less the other, as both stand there.
    pub fn by(&self) -> f64 {
        self.steps() as f64 / scale(self.decimals)
    }

    /// The same in steps of the last decimal.
    pub fn steps(&self) -> i64 {
        self.after - self.before
    }

    /// Where it ends, as it stands there.
    pub fn after(&self) -> f64 {
        self.after as f64 / scale(self.decimals)
    }

    /// Where it starts and where it ends, as text.
    pub fn texts(&self) -> [String; 2] {
        [self.before, self.after].map(|at| fixed(at as f64 / scale(self.decimals), self.decimals))
    }

    /// How far it moves, as text with a sign.
    pub fn difference(&self) -> String {
        signed(self.by(), self.decimals)
    }

    /// How far it moves without a sign, as text.
    pub fn distance(&self) -> String {
        fixed(self.by().abs(), self.decimals)
    }
}

fn scale(decimals: usize) -> f64 {
    10f64.powi(decimals as i32)
}

/// Parts of a whole, rounded so that they sum up to the whole as it stands there.
///
/// Method of largest remainders: each part is rounded down, and the steps still missing go to
/// those that lost most.
pub fn shared_out(parts: &[f64], whole: f64, decimals: usize) -> Vec<f64> {
    let scaled: Vec<f64> = parts.iter().map(|part| part * scale(decimals)).collect();
    let mut steps: Vec<i64> = scaled.iter().map(|part| part.floor() as i64).collect();
    let missing = (whole * scale(decimals)).round() as i64 - steps.iter().sum::<i64>();
    let mut order: Vec<usize> = (0..parts.len()).collect();
    order.sort_by(|a, b| {
        (scaled[*b] - scaled[*b].floor()).total_cmp(&(scaled[*a] - scaled[*a].floor()))
    });
    for i in order.into_iter().cycle().take(missing.max(0) as usize) {
        steps[i] += 1;
    }
    steps.into_iter().map(|step| step as f64 / scale(decimals)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_sum_up_to_the_whole_as_it_is_printed() {
        assert_eq!(shared_out(&[-19.6, 16.7], -3.0, 0), [-20.0, 17.0]);
        assert_eq!(shared_out(&[17.4, -15.2], 3.0, 0), [18.0, -15.0]);
        // What does nothing has nothing, though a sum leaves it a hair below.
        assert_eq!(shared_out(&[-1e-15, 1.4], 1.0, 0), [0.0, 1.0]);
    }

    #[test]
    fn a_move_is_what_a_reader_finds_by_taking_one_from_the_other() {
        let volts = Reading::find("potentiometer_v").unwrap();
        let moved = Move::of(volts, 0.70149, 0.70151);
        assert_eq!(moved.texts(), ["0.701", "0.702"]);
        assert_eq!((moved.difference().as_str(), moved.by()), ("+0.001", 0.001));
        assert_eq!(Move::of(volts, 0.0004, -0.0004).steps(), 0);
    }
}
