//! Delays: what was sent in at a crank angle or an exhaust mass comes out a distance later.

use std::collections::VecDeque;

/// A delay by distance (crank angle, exhaust mass), values joined by straight lines.
#[derive(Clone, Debug)]
pub struct DelayLine {
    sent: VecDeque<(f64, f64)>,
}

impl DelayLine {
    /// A line in which a value has stood for ever.
    pub fn new(at: f64, value: f64) -> DelayLine {
        DelayLine { sent: VecDeque::from([(at, value)]) }
    }

    /// Sends in a value at a distance that never falls; what lies more than `keep` behind
    /// is forgotten.
    pub fn push(&mut self, at: f64, value: f64, keep: f64) {
        match self.sent.back_mut() {
            Some(last) if at <= last.0 => last.1 = value,
            _ => self.sent.push_back((at, value)),
        }
        while self.sent.len() > 2 && self.sent[1].0 < at - 1.5 * keep {
            self.sent.pop_front();
        }
    }

    /// The value sent in at a distance: the first before all, the last after all.
    pub fn at(&self, distance: f64) -> f64 {
        let after = self.sent.partition_point(|(at, _)| *at < distance);
        match (after.checked_sub(1).map(|i| self.sent[i]), self.sent.get(after)) {
            (None, Some((_, first))) => *first,
            (Some((_, last)), None) => last,
            (Some((a, va)), Some((b, vb))) => va + (vb - va) * (distance - a) / (b - a),
            (None, None) => 0.0,
        }
    }
}
