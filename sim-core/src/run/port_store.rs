//! What waits before and stays in the cylinders: fuel that collects in the ports, and
//! charges that did not burn.

use super::lines::DelayLine;
use std::f64::consts::PI;

/// Crank angle of a working cycle (rad).
pub(super) const CYCLE_RAD: f64 = 4.0 * PI;
/// Crank angle from the middle of the intake to the closing of its valve (rad): half of an
/// intake of 230 deg. Source: our own, typical of two-valve engines.
pub(super) const INTAKE_CLOSES_RAD: f64 = 2.0;
/// A charge that makes less indicated pressure than this has not burnt (Pa).
const UNBURNT_PA: f64 = 2000.0;

/// The fuel that the ports collect between two closings of their intake valves.
///
/// Equation: `m(a) = M(a) - M(a + c - 4 pi) + c m_dot/w`, all cylinders. Symbols: `m` fuel of
/// the charges of a cycle, drawn in about crank angle `a`; `M` fuel into the ports up to
/// there, `m_dot` its rate; `c` angle to the closing, over which the rate is taken to stay;
/// `w` crank speed. Valid range: continuous injection before the valves, whatever the speed
/// does. Source: balance of a port. Fuel rate times the length of this moment's cycle is the
/// same only where nothing changes.
#[derive(Clone, Debug)]
pub(super) struct PortStore {
    /// Fuel into the ports since the start, by crank angle (kg).
    into: DelayLine,
}

impl PortStore {
    /// Ports that have collected a steady fuel rate for ever (kg/s) at a speed (rad/s).
    pub fn settled(fuel_kg_s: f64, speed_rad_s: f64) -> PortStore {
        let mut into = DelayLine::new(-CYCLE_RAD, -fuel_kg_s * CYCLE_RAD / speed_rad_s);
        into.push(0.0, 0.0, f64::INFINITY);
        PortStore { into }
    }

    /// Dry ports.
    pub fn dry() -> PortStore {
        PortStore { into: DelayLine::new(0.0, 0.0) }
    }

    /// Fuel that had come in up to a crank angle (rad), since the start (kg).
    pub fn push(&mut self, angle_rad: f64, into_kg: f64) {
        self.into.push(angle_rad, into_kg, CYCLE_RAD);
    }

    /// What the ports have collected for charges drawn in about a crank angle (rad), where
    /// so much has come in since the start (kg).
    pub fn collected_kg(&self, angle_rad: f64, into_kg: f64) -> f64 {
        (into_kg - self.into.at(angle_rad + INTAKE_CLOSES_RAD - CYCLE_RAD)).max(0.0)
    }

    /// How many values it holds.
    pub fn held(&self) -> usize {
        self.into.len()
    }
}

/// The charges that did not burn, of which a part stays in the cylinders for the next.
///
/// A cycle after a charge without work the residual gas is that charge, not burnt gas: it
/// does not slow the flame, and its air and fuel burn with the next.
#[derive(Clone, Debug)]
pub(super) struct Unburnt {
    /// The crank angles from and to which charges have not burnt lately (rad).
    span_rad: (f64, f64),
    /// Their fuel over the stoichiometric.
    phi: DelayLine,
}

impl Unburnt {
    /// An engine that has run for ever.
    pub fn none() -> Unburnt {
        Unburnt {
            span_rad: (f64::NEG_INFINITY, f64::NEG_INFINITY),
            phi: DelayLine::new(0.0, 0.0),
        }
    }

    /// An engine that has stood: its cylinders hold air.
    pub fn air() -> Unburnt {
        Unburnt { span_rad: (f64::NEG_INFINITY, 0.0), ..Unburnt::none() }
    }

    /// Notes a charge drawn in between two crank angles (rad).
    pub fn push(&mut self, from_rad: f64, to_rad: f64, lambda: f64, imep_pa: f64) {
        if imep_pa > UNBURNT_PA {
            return;
        }
        if self.span_rad.1 < from_rad {
            self.span_rad.0 = from_rad;
        }
        self.span_rad.1 = to_rad;
        self.phi.push(to_rad, 1.0 / lambda, CYCLE_RAD);
    }

    /// Fuel over the stoichiometric in the residual gas of charges drawn in about a crank
    /// angle (rad), where that gas has not burnt.
    pub fn trapped_phi(&self, angle_rad: f64) -> Option<f64> {
        let before = angle_rad - CYCLE_RAD;
        let unburnt = before >= self.span_rad.0 && before < self.span_rad.1;
        unburnt.then(|| self.phi.at(before))
    }
}

/// What ports and cylinders hold for the charges of a moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Holds {
    /// Fuel that the ports have collected so far (kg).
    pub collected_kg: f64,
    /// Fuel over the stoichiometric in the residual gas, if that has not burnt.
    pub trapped_phi: Option<f64>,
}
