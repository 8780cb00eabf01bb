//! What does not feed back: charge and gas on their way, and the lambda sensor.

use crate::maths::Lag;

/// Distance within which a value jumps.
const JUMP_WIDTH: f64 = 1e-9;

/// A delay by distance (crank angle, exhaust mass), values joined by straight lines.
#[derive(Clone, Debug)]
pub struct DelayLine {
    sent: Vec<(f64, f64)>,
    /// How many of them, the first ones, are forgotten.
    forgotten: usize,
}

/// So many forgotten values are carried along.
const CARRIED_MOST: usize = 64;

impl DelayLine {
    /// A line in which a value has stood for ever.
    pub fn new(at: f64, value: f64) -> DelayLine {
        DelayLine { sent: vec![(at, value)], forgotten: 0 }
    }

    fn kept(&self) -> &[(f64, f64)] {
        &self.sent[self.forgotten..]
    }

    /// Sends in a value at a distance that never falls; what nobody further back than
    /// `keep` behind it can see is forgotten.
    pub fn push(&mut self, at: f64, value: f64, keep: f64) {
        match self.sent.last_mut() {
            Some(last) if at <= last.0 => last.1 = value,
            _ => self.sent.push((at, value)),
        }
        let (far, kept) = (at - keep, self.kept());
        let out_of_sight = kept.iter().skip(1).take_while(|sent| sent.0 < far).count();
        self.forgotten += out_of_sight.min(kept.len().saturating_sub(2));
        if self.forgotten > CARRIED_MOST {
            self.sent.drain(..self.forgotten);
            self.forgotten = 0;
        }
    }

    /// Sends in a value that jumps at a distance: the one before stands up to there.
    pub fn jump(&mut self, at: f64, value: f64) {
        let before = self.sent.last().map_or(value, |last| last.1);
        self.push(at, before, f64::INFINITY);
        self.push(at + JUMP_WIDTH, value, f64::INFINITY);
    }

    /// The value sent in at a distance: the first before all, the last after all.
    pub fn at(&self, distance: f64) -> f64 {
        self.from(distance).0
    }

    /// The value at a distance, and what was sent in from there on. What is asked for lies near
    /// the far end, where the search begins.
    fn from(&self, distance: f64) -> (f64, &[(f64, f64)]) {
        let sent = self.kept();
        match sent.iter().position(|(at, _)| *at >= distance) {
            None => (sent.last().map_or(0.0, |last| last.1), &[]),
            Some(0) => (sent[0].1, sent),
            Some(i) => {
                let ((a, va), (b, vb)) = (sent[i - 1], sent[i]);
                (va + (vb - va) * (distance - a) / (b - a), &sent[i..])
            }
        }
    }

    /// What was sent in between two distances. Its mean is that of all values, so that what
    /// jumps between them counts for as much as it should.
    pub fn between(&self, from: f64, to: f64) -> Passing {
        let (start, sent) = self.from(from);
        if to <= from {
            return Passing { start, end: start, mean: start };
        }
        let (mut at, mut value, mut area) = (from, start, 0.0);
        let mut end = None;
        for &(b, vb) in sent {
            if b >= to {
                end = Some(value + (vb - value) * (to - at) / (b - at));
                break;
            }
            area += 0.5 * (value + vb) * (b - at);
            (at, value) = (b, vb);
        }
        // After all that was sent in its last value stands.
        let end = end.unwrap_or(value);
        area += 0.5 * (value + end) * (to - at);
        Passing { start, end, mean: area / (to - from) }
    }

    /// How many values it holds.
    pub fn held(&self) -> usize {
        self.kept().len()
    }
}

/// What passes between two distances of a [`DelayLine`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Passing {
    /// The value at the first.
    pub start: f64,
    /// The value at the second.
    pub end: f64,
    /// The mean in between.
    pub mean: f64,
}

/// Gas from the cylinders to the tip of the lambda sensor, and its lag.
#[derive(Clone, Debug)]
pub struct GasPath {
    port: DelayLine,
    pipe: DelayLine,
    exhaust_kg: f64,
    at_tip: f64,
    lag: Lag,
    /// What the sensor takes for lambda.
    pub sensor: f64,
}

/// What a step brings to the gas path.
#[derive(Clone, Copy, Debug)]
pub struct GasSample {
    /// What the sensor would take the gas of a charge for that is drawn in half-way through it;
    /// `None` where the charges before and after tell enough.
    pub seen: Option<f64>,
    /// Exhaust (kg).
    pub passes_kg: f64,
    /// Crank angles at which it begins and ends (rad).
    pub angles_rad: (f64, f64),
    /// How long it lasts (s).
    pub lasts_s: f64,
}

/// How long the way is.
#[derive(Clone, Copy, Debug)]
pub struct ExhaustPath {
    /// Crank angle from a charge drawn in to its gas at the port (rad).
    pub port_rad: f64,
    /// Gas that the pipe holds (kg).
    pub pipe_kg: f64,
    /// Lag of the sensor (s).
    pub lag_s: f64,
}

impl GasPath {
    /// A path full of one gas.
    pub fn new(seen: f64) -> GasPath {
        GasPath {
            port: DelayLine::new(0.0, seen),
            pipe: DelayLine::new(0.0, seen),
            exhaust_kg: 0.0,
            at_tip: seen,
            lag: Lag::default(),
            sensor: seen,
        }
    }

    /// What the gas is taken for jumps at a crank angle (rad).
    pub fn jump(&mut self, angle_rad: f64, seen: f64) {
        self.port.jump(angle_rad, seen);
    }

    /// What the gas of a charge is taken for that was drawn in at a crank angle (rad), beyond the
    /// last that is known.
    pub fn fill(&mut self, angle_rad: f64, seen: f64) {
        self.port.push(angle_rad, seen, f64::INFINITY);
    }

    /// Advances by a step: to the port by crank angle, through the pipe by mass, then a
    /// first-order lag on lambda.
    ///
    /// Equation of the lag: `tau ds/dt = u - s`, exact for a `u` that changes as a straight
    /// line over the step, about its mean there.
    pub fn advance(&mut self, gas: &GasSample, path: &ExhaustPath) {
        let &ExhaustPath { port_rad, pipe_kg, lag_s } = path;
        let &GasSample { seen, passes_kg: passed_kg, angles_rad: (from_rad, to_rad), lasts_s: h } =
            gas;
        if let Some(seen) = seen {
            self.port.push(0.5 * (from_rad + to_rad), seen, to_rad - from_rad + port_rad);
        }
        self.exhaust_kg += passed_kg;
        // What passes the port in this step goes down the pipe as its mean, half-way.
        let at_port = self.port.between(from_rad - port_rad, to_rad - port_rad).mean;
        self.pipe.push(self.exhaust_kg - 0.5 * passed_kg, at_port, 1.5 * passed_kg + pipe_kg);
        let tip_kg = self.exhaust_kg - pipe_kg;
        let Passing { end: at_tip, mean, .. } = self.pipe.between(tip_kg - passed_kg, tip_kg);
        let rises = at_tip - std::mem::replace(&mut self.at_tip, at_tip);
        if lag_s > 0.0 {
            let kept = self.lag.keeps(h, lag_s);
            let (start, end) = (mean - 0.5 * rises, mean + 0.5 * rises);
            self.sensor = end - rises * lag_s / h * (1.0 - kept) + (self.sensor - start) * kept;
        } else {
            self.sensor = at_tip;
        }
    }

    /// How many values its lines hold.
    pub fn held(&self) -> usize {
        self.port.held() + self.pipe.held()
    }
}
