//! What only listens: charge and gas on their way, and the lambda sensor.

use std::collections::VecDeque;
use std::f64::consts::PI;

/// Revolutions from a charge drawn in to its gas at the port.
const CHARGE_TO_PORT_RAD: f64 = 1.5 * 2.0 * PI;

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

    /// How many values it holds.
    pub fn len(&self) -> usize {
        self.sent.len()
    }

    /// Whether it holds none. It never does.
    pub fn is_empty(&self) -> bool {
        self.sent.is_empty()
    }
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
pub struct Gas {
    /// Crank angle at which the charge was drawn in (rad).
    pub angle_rad: f64,
    /// What the sensor would take its gas for.
    pub seen: f64,
    /// Exhaust flow (kg/s).
    pub flow_kg_s: f64,
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

    /// Advances by `h` (s) to a crank angle (rad): one and a half revolutions to the port, the pipe by
    /// the mass it holds (kg), then a first-order lag (s) on lambda.
    ///
    /// Equation of the lag: `tau ds/dt = u - s`, exact for a `u` that changes as a straight
    /// line over the step.
    pub fn advance(&mut self, gas: &Gas, angle_rad: f64, pipe_kg: f64, lag_s: f64, h: f64) {
        self.port.push(gas.angle_rad, gas.seen, angle_rad - gas.angle_rad + CHARGE_TO_PORT_RAD);
        self.exhaust_kg += gas.flow_kg_s * h;
        let at_port = self.port.at(angle_rad - CHARGE_TO_PORT_RAD);
        self.pipe.push(self.exhaust_kg, at_port, pipe_kg);
        let at_tip = self.pipe.at(self.exhaust_kg - pipe_kg);
        let before = std::mem::replace(&mut self.at_tip, at_tip);
        if lag_s > 0.0 {
            let kept = (-h / lag_s).exp();
            let ramp = (at_tip - before) * lag_s / h * (1.0 - kept);
            self.sensor = at_tip - ramp + (self.sensor - before) * kept;
        } else {
            self.sensor = at_tip;
        }
    }

    /// How many values its lines hold.
    pub fn held(&self) -> usize {
        self.port.len() + self.pipe.len()
    }
}
