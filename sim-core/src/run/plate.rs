//! How the plate moves: it slides, friction holds it, or it lies on its stop.

use super::dynamics::{Inputs, STATES, intake, net_force_n, unpack};
use crate::operation::operating_state::Plant;

/// Force that breaks a resting plate loose over the friction of a sliding one. Rest takes
/// more everywhere; this little of it only keeps the two from alternating without end.
const BREAKAWAY: f64 = 1.001;

/// What the plate does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum PlateMotion {
    /// It slides up or down, friction against it. Without friction the side means nothing.
    Slides {
        /// Whether it slides up.
        up: bool,
    },
    /// Friction holds it where it is.
    Sticks,
    /// It lies on its stop.
    OnStop,
}

/// Friction of plunger and lever, at the plate (N).
pub(super) fn friction_n(plant: &Plant) -> f64 {
    plant.parts.pressures.friction_n * plant.parts.lever.plunger_per_plate()
}

/// The plate of one step: its friction and its stop, with what it does.
#[derive(Clone, Copy, Debug)]
pub(super) struct Slide {
    pub plate: PlateMotion,
    pub friction_n: f64,
    /// Height of the stop (mm).
    pub rest_mm: f64,
}

impl Slide {
    pub fn new(plate: PlateMotion, plant: &Plant) -> Slide {
        Slide { plate, friction_n: friction_n(plant), rest_mm: 1e3 * plant.rest_height_m }
    }

    /// Whether the plate stays where it is.
    pub fn holds(&self) -> bool {
        !matches!(self.plate, PlateMotion::Slides { .. })
    }

    /// Falls below zero when the plate ends what it does: a slide ends where it turns round
    /// or meets the stop, a rest where the net force (N) beats the friction.
    pub fn guard(&self, x: &[f64; STATES], net_n: impl Fn() -> f64) -> f64 {
        match self.plate {
            PlateMotion::Sticks => BREAKAWAY * self.friction_n - net_n().abs(),
            PlateMotion::OnStop => BREAKAWAY * self.friction_n - net_n(),
            PlateMotion::Slides { .. } if self.friction_n <= 0.0 => self.above_stop_mm(x),
            PlateMotion::Slides { up: true } => x[3],
            PlateMotion::Slides { up: false } => (-x[3]).min(self.above_stop_mm(x)),
        }
    }

    /// How far a plate that moves down is above its stop (mm); one on its way up is clear.
    fn above_stop_mm(&self, x: &[f64; STATES]) -> f64 {
        if x[3] > 0.0 { f64::INFINITY } else { x[2] - self.rest_mm }
    }

    /// What the plate does once its guard has fallen; it may lose its speed.
    pub fn ends(&self, x: &mut [f64; STATES], net_n: f64) -> PlateMotion {
        match self.plate {
            PlateMotion::Sticks => PlateMotion::Slides { up: net_n > 0.0 },
            PlateMotion::OnStop => PlateMotion::Slides { up: true },
            PlateMotion::Slides { .. } => {
                let lands = x[3] <= 0.0 && x[2] <= self.rest_mm + 1e-9;
                x[3] = 0.0;
                if lands {
                    x[2] = self.rest_mm;
                    PlateMotion::OnStop
                } else if net_n.abs() > BREAKAWAY * self.friction_n {
                    PlateMotion::Slides { up: net_n > 0.0 }
                } else {
                    PlateMotion::Sticks
                }
            }
        }
    }
}

/// What a plate in a state does to begin with.
pub(super) fn at_first(plant: &Plant, inputs: &Inputs, x: &[f64; STATES]) -> PlateMotion {
    let now = unpack(x);
    let intake = intake(plant, inputs.inlet_m2.0, now.manifold_pa, now.height_m);
    let net = net_force_n(plant, inputs, &intake, (now.speed_rad_s, 0.0));
    if now.height_m <= plant.rest_height_m {
        PlateMotion::OnStop
    } else if net.abs() < friction_n(plant) {
        PlateMotion::Sticks
    } else {
        PlateMotion::Slides { up: net > 0.0 }
    }
}
