//! What does not feed back: charge and gas on their way, and the lambda sensor.

use std::collections::VecDeque;

/// Distance within which a value jumps.
const JUMP_WIDTH: f64 = 1e-9;

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

    /// Sends in a value at a distance that never falls; what nobody further back than
    /// `keep` behind it can see is forgotten.
    pub fn push(&mut self, at: f64, value: f64, keep: f64) {
        match self.sent.back_mut() {
            Some(last) if at <= last.0 => last.1 = value,
            _ => self.sent.push_back((at, value)),
        }
        while self.sent.len() > 2 && self.sent[1].0 < at - keep {
            self.sent.pop_front();
        }
    }

    /// Sends in a value that jumps at a distance: the one before stands up to there.
    pub fn jump(&mut self, at: f64, value: f64) {
        let before = self.sent.back().map_or(value, |last| last.1);
        self.push(at, before, f64::INFINITY);
        self.push(at + JUMP_WIDTH, value, f64::INFINITY);
    }

    /// The value sent in at a distance: the first before all, the last after all. What is
    /// asked for lies near the far end, where the search begins.
    pub fn at(&self, distance: f64) -> f64 {
        let mut before: Option<(f64, f64)> = None;
        for &(b, vb) in &self.sent {
            if b >= distance {
                let Some((a, va)) = before else { return vb };
                return va + (vb - va) * (distance - a) / (b - a);
            }
            before = Some((b, vb));
        }
        before.map_or(0.0, |(_, last)| last)
    }

    /// What was sent in between two distances. Its mean is that of all values, so that what
    /// jumps between them counts for as much as it should.
    pub fn between(&self, from: f64, to: f64) -> Passing {
        if to <= from {
            let value = self.at(to);
            return Passing { start: value, end: value, mean: value };
        }
        let mut before: Option<(f64, f64)> = None;
        // Where the sum has got to, with the value there and the first.
        let (mut at, mut value, mut start) = (f64::NEG_INFINITY, 0.0, None);
        let mut area = 0.0;
        for &(b, vb) in &self.sent {
            if start.is_none() && b >= from {
                value = before.map_or(vb, |(a, va)| va + (vb - va) * (from - a) / (b - a));
                (at, start) = (from, Some(value));
            }
            if start.is_some() && b > at {
                let end = b.min(to);
                let v_end = if b <= to { vb } else { value + (vb - value) * (to - at) / (b - at) };
                area += 0.5 * (value + v_end) * (end - at);
                (at, value) = (end, v_end);
                if at >= to {
                    break;
                }
            }
            before = Some((b, vb));
        }
        let last = before.map_or(0.0, |(_, last)| last);
        let (at, value, start) = start.map_or((from, last, last), |start| (at, value, start));
        Passing { start, end: value, mean: (area + value * (to - at)) / (to - from) }
    }

    /// How many values it holds.
    pub fn held(&self) -> usize {
        self.sent.len()
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
    /// What the sensor takes for lambda.
    pub sensor: f64,
}

/// What a step brings to the gas path.
#[derive(Clone, Copy, Debug)]
pub struct GasSample {
    /// Crank angle at which the charge was drawn in (rad).
    pub angle_rad: f64,
    /// What the sensor would take its gas for.
    pub seen: f64,
    /// Exhaust flow (kg/s).
    pub flow_kg_s: f64,
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
            sensor: seen,
        }
    }

    /// What the gas is taken for jumps at a crank angle (rad).
    pub fn jump(&mut self, angle_rad: f64, seen: f64) {
        self.port.jump(angle_rad, seen);
    }

    /// Advances by `h` (s) to a crank angle (rad): to the port by crank angle, through the
    /// pipe by mass, then a first-order lag on lambda.
    ///
    /// Equation of the lag: `tau ds/dt = u - s`, exact for a `u` that changes as a straight
    /// line over the step, about its mean there.
    pub fn advance(&mut self, gas: &GasSample, angle_rad: f64, path: &ExhaustPath, h: f64) {
        let &ExhaustPath { port_rad, pipe_kg, lag_s } = path;
        let half_rad = angle_rad - gas.angle_rad;
        self.port.push(gas.angle_rad, gas.seen, 2.0 * half_rad + port_rad);
        let passed_kg = gas.flow_kg_s * h;
        self.exhaust_kg += passed_kg;
        // What passes the port in this step goes down the pipe as its mean, half-way.
        let end_rad = angle_rad - port_rad;
        let at_port = self.port.between(end_rad - 2.0 * half_rad, end_rad).mean;
        self.pipe.push(self.exhaust_kg - 0.5 * passed_kg, at_port, 1.5 * passed_kg + pipe_kg);
        let tip_kg = self.exhaust_kg - pipe_kg;
        let Passing { end: at_tip, mean, .. } = self.pipe.between(tip_kg - passed_kg, tip_kg);
        let rises = at_tip - std::mem::replace(&mut self.at_tip, at_tip);
        if lag_s > 0.0 {
            let kept = (-h / lag_s).exp();
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
