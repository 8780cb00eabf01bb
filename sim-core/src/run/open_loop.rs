//! The equations of motion alone, driven by given straight lines instead of a controller:
//! what another integrator can be held against.

use super::dynamics::{Film, Inputs, STATES, film};
use super::equations::Segment;
use super::plate::{PlateMotion, Slide};
use crate::control::starting::Starting;
use crate::ode::OdeSystem;
use crate::operation::operating_state::{Mixture, Plant};
use crate::rig::keys::Setup;

/// What drives a free run from its start to its end; straight lines between.
#[derive(Clone, Copy, Debug)]
pub struct Excitation {
    /// How long it lasts (s).
    pub lasts_s: f64,
    /// Effective area of throttle and idle valve (m2), at start and end.
    pub inlet_m2: (f64, f64),
    /// Indicated mean effective pressure (Pa), at start and end.
    pub imep_pa: (f64, f64),
    /// Actuator current (A).
    pub current_a: f64,
    /// Torque of a brake (N m).
    pub brake_nm: f64,
}

/// An engine that runs freely: the plate floats without friction and meets no stop, the film
/// dries as at one given speed. States as in [`super::dynamics::unpack`], times from 0.
pub struct OpenLoopRun {
    plant: Plant,
    film: Film,
    inputs: Inputs,
}

impl OpenLoopRun {
    /// A setup, driven; the film dries as at a speed (rad/s).
    pub fn new(setup: &Setup, excitation: &Excitation, film_at_rad_s: f64) -> OpenLoopRun {
        let (rig, conditions) = (&setup.rig, &setup.conditions);
        let plant = Plant::new(rig.parts(), rig.reference(), conditions);
        let inputs = Inputs {
            opening_m: rig.parts().lever.opening_height_m(conditions.screw_turns),
            inlet_m2: excitation.inlet_m2,
            jet_m_s: plant.jet_m_s(excitation.current_a),
            imep_pa: excitation.imep_pa,
            brake_nm: excitation.brake_nm,
            starter: Starting { free_rad_s: 1.0, ..Starting::default() },
            start_valve_kg_s: 0.0,
            pulsation: 0.0,
            angle_rad: 0.0,
            lasts_s: excitation.lasts_s,
        };
        OpenLoopRun { film: film(rig.parts(), conditions, film_at_rad_s), inputs, plant }
    }
}

impl OdeSystem<STATES> for OpenLoopRun {
    const FEEDS_BACK: usize = 5;

    fn rate(&self, t: f64, x: &[f64; STATES]) -> [f64; STATES] {
        let slide = Slide {
            plate: PlateMotion::Slides { up: true },
            friction_n: 0.0,
            rest_mm: f64::NEG_INFINITY,
        };
        Segment::new(&self.plant, self.film, &self.inputs, slide, (None, None)).rate(t, x)
    }
}

/// The laws of single charges, for a model of the engine other than [`super::dynamics`].
pub struct Charges {
    plant: Plant,
    jet_m_s: f64,
}

impl Charges {
    /// Those of a setup, on its base current.
    pub fn new(setup: &Setup) -> Charges {
        let (rig, conditions) = (&setup.rig, &setup.conditions);
        let plant = Plant::new(rig.parts(), rig.reference(), conditions);
        let seen_k = conditions.seen_coolant_k(&rig.parts().thermistor);
        let jet_m_s = plant.jet_m_s(rig.parts().controller.base_current_a(seen_k));
        Charges { plant, jet_m_s }
    }

    /// Air drawn in at a manifold pressure (Pa) and a speed (rad/s) (kg/s).
    pub fn air_kg_s(&self, manifold_pa: f64, speed_rad_s: f64) -> f64 {
        self.plant.air_kg_s(manifold_pa, speed_rad_s)
    }

    /// Indicated pressure, and what the engine itself takes (Pa), at a manifold pressure, a
    /// speed and a fuel rate into the cylinders (kg/s).
    pub fn pressures_pa(&self, manifold_pa: f64, speed_rad_s: f64, fuel_kg_s: f64) -> (f64, f64) {
        let air_kg_s = self.plant.air_kg_s(manifold_pa, speed_rad_s);
        let lambda = air_kg_s / (self.plant.air_for_fuel(air_kg_s) * fuel_kg_s);
        let mixture = Mixture::Aim { jet_m_s: self.jet_m_s, lambda };
        let state = self.plant.operating_state(manifold_pa, speed_rad_s, &mixture);
        (state.imep_pa, state.demand_pa)
    }
}
