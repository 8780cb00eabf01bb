//! What waits before and stays in the cylinders: fuel that collects in the ports, and
//! charges that did not burn.

use super::transport_delay::DelayLine;
use std::f64::consts::PI;

/// Crank angle of a working cycle (rad).
pub(super) const CYCLE_RAD: f64 = 4.0 * PI;
/// Crank angle from a charge drawn in to its work (rad).
pub(super) const CHARGE_TO_WORK_RAD: f64 = 2.0 * PI;
/// Crank angle from the middle of the intake to the closing of its valve (rad): half of an
/// intake of 230 deg. Source: our own, typical of two-valve engines.
pub(super) const INTAKE_CLOSES_RAD: f64 = 2.0;
/// A charge that makes less indicated pressure than this has not burnt (Pa).
const UNBURNT_PA: f64 = 2000.0;
/// One that makes more burns for certain until the next is looked at (Pa).
const BURNS_PA: f64 = 80_000.0;

/// Crank angle over which all cylinders change over, from burnt residual gas to unburnt or
/// back (rad): an interval between firings. Source: our own.
const ONE_BY_ONE_RAD: f64 = 2.0;

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
        self.into.held()
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
    /// Whether the charge before has burnt.
    burns: bool,
    /// Its crank angle (rad).
    before_rad: f64,
}

/// A part of the residual gas that has not burnt.
#[derive(Clone, Copy, Debug)]
pub(super) struct Trapped {
    /// Its share of that gas.
    pub share: f64,
    /// Its fuel over the stoichiometric.
    pub phi: f64,
}

impl Unburnt {
    /// An engine that has run for ever.
    pub fn none() -> Unburnt {
        Unburnt {
            span_rad: (f64::NEG_INFINITY, f64::NEG_INFINITY),
            phi: DelayLine::new(0.0, 0.0),
            burns: true,
            before_rad: 0.0,
        }
    }

    /// An engine that has stood: its cylinders hold air.
    pub fn air() -> Unburnt {
        let span_rad = (f64::NEG_INFINITY, 0.0);
        Unburnt { span_rad, burns: false, ..Unburnt::none() }
    }

    /// Whether a charge makes so little, or one before it did, that it must be looked at.
    pub fn looks(&self, imep_pa: f64) -> bool {
        !self.burns || imep_pa < BURNS_PA
    }

    /// Whether the charge before has burnt.
    pub fn burns(&self) -> bool {
        self.burns
    }

    /// Whether a charge that makes an indicated pressure (Pa) has burnt.
    pub fn has_burnt(imep_pa: f64) -> bool {
        imep_pa > UNBURNT_PA
    }

    /// Notes from which crank angle (rad) charges burn or no longer do.
    pub fn turns(&mut self, at_rad: f64, burns: bool) {
        match (self.burns, burns) {
            (true, false) => self.span_rad = (at_rad, at_rad),
            (false, true) => self.span_rad.1 = at_rad,
            _ => {}
        }
        self.burns = burns;
    }

    /// Notes the mixture of a charge drawn in about a crank angle (rad), and up to where charges
    /// are known (rad).
    pub fn push(&mut self, at_rad: f64, lambda: f64, up_to_rad: f64) {
        self.phi.push(at_rad, 1.0 / lambda, CYCLE_RAD + at_rad - self.before_rad);
        self.before_rad = at_rad;
        if !self.burns {
            self.span_rad.1 = up_to_rad;
        }
    }

    /// The mixture jumps at a crank angle (rad).
    pub fn jump(&mut self, at_rad: f64, lambda: f64) {
        self.phi.jump(at_rad, 1.0 / lambda);
        // Charges that burn are not looked at, so what no residual gas can be of goes here.
        self.phi.push(at_rad, 1.0 / lambda, 2.0 * CYCLE_RAD);
    }

    /// How many values it holds.
    pub fn held(&self) -> usize {
        self.phi.held()
    }

    /// What of the residual gas of charges drawn in about a crank angle (rad) has not burnt:
    /// one cylinder after the other comes to such charges and leaves them.
    pub fn trapped(&self, angle_rad: f64) -> Option<Trapped> {
        let before = angle_rad - CYCLE_RAD;
        let (from, to) = self.span_rad;
        let share = ((before - from).min(to - before) / ONE_BY_ONE_RAD + 0.5).clamp(0.0, 1.0);
        (share > 0.0).then(|| Trapped { share, phi: self.phi.at(before) })
    }
}

/// What ports and cylinders hold for the charges of a moment.
#[derive(Clone, Copy, Debug)]
pub(super) struct Holds {
    /// Fuel that the ports have collected so far (kg).
    pub collected_kg: f64,
    /// What of the residual gas has not burnt.
    pub trapped: Option<Trapped>,
}
