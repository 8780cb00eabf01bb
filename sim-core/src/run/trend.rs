//! How the charges of a running engine go on: what stands for those that are not sent.

/// Over its span an even arc stands off its chord by this share of the value at most.
const ARC_MOST: f64 = 3e-4;

/// The line on which the charges sent last lie: their work, and what the lambda sensor takes their
/// gas for.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trend {
    /// Crank angle of the last (rad).
    pub at_rad: f64,
    values: [f64; 2],
    span_rad: f64,
    slopes: [f64; 2],
    /// Half the second derivative.
    bends: [f64; 2],
}

impl Trend {
    /// Of charges that are not known yet.
    pub fn unknown() -> Trend {
        let none = [f64::NAN; 2];
        Trend { at_rad: 0.0, values: none, span_rad: 0.0, slopes: none, bends: none }
    }

    /// Goes on to a charge. Gives the values half-way to it, on the parabola through it and the
    /// two before.
    pub fn go_on(&mut self, at_rad: f64, values: [f64; 2]) -> [f64; 2] {
        let span_rad = at_rad - self.at_rad;
        let slopes = [0, 1].map(|i| (values[i] - self.values[i]) / span_rad);
        let both_rad = self.span_rad + span_rad;
        let bends = [0, 1].map(|i| (slopes[i] - self.slopes[i]) / both_rad);
        let arc = 0.25 * span_rad * span_rad;
        let half_way = [0, 1].map(|i| 0.5 * (self.values[i] + values[i]) - arc * bends[i]);
        *self = Trend { at_rad, values, span_rad, slopes, bends };
        half_way
    }

    /// Whether there were three.
    pub fn is_known(&self) -> bool {
        self.bends[0].is_finite()
    }

    /// The values at an angle (rad) beyond the last, on the same parabola.
    pub fn beyond(&self, at_rad: f64) -> [f64; 2] {
        let on_rad = at_rad - self.at_rad;
        let steepens = |i: usize| self.slopes[i] + self.bends[i] * (self.span_rad + on_rad);
        [0, 1].map(|i| self.values[i] + on_rad * steepens(i))
    }

    /// Whether the line goes on a span (rad) with little bend ([`ARC_MOST`]); not where the bend is
    /// unknown.
    pub fn is_even(&self, span_rad: f64) -> bool {
        let arc = 0.25 * span_rad * span_rad;
        [0, 1].iter().all(|&i| (arc * self.bends[i]).abs() < ARC_MOST * self.values[i])
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn charges_on_a_parabola_are_sent_half_way_and_beyond_as_they_are() {
        let on = |at: f64| [2e5 + 40.0 * at - 9.0 * at * at, 1.0 - 3e-4 * at + 2e-5 * at * at];
        let near = |found: [f64; 2], at: f64| {
            let of = on(at);
            assert!((0..2).all(|i| (found[i] / of[i] - 1.0).abs() < 1e-14), "{found:?} {of:?}");
        };
        let mut trend = Trend::unknown();
        for at in [0.3, 1.0] {
            trend.go_on(at, on(at));
            assert!(!trend.is_known() && !trend.is_even(1e-9));
        }
        for (before, at) in [(1.0, 2.6), (2.6, 3.1), (3.1, 5.9)] {
            near(trend.go_on(at, on(at)), 0.5 * (before + at));
            near(trend.beyond(at + 1.7), at + 1.7);
        }
        // 9 s2/4 of the work is a larger share than 2e-5 s2/4 of the gas.
        let limit_rad = (4.0 * ARC_MOST * on(5.9)[0] / 9.0).sqrt();
        assert!(trend.is_even(0.999 * limit_rad) && !trend.is_even(1.001 * limit_rad));
    }
}
