//! The equations of motion of what feeds back: the rates of its states.

use super::dynamics::{Film, Inputs, STATES, intake, lift_n, pulse};
use super::plate::{PlateMotion, Slide};
use crate::air::GAS_CONSTANT;
use crate::ode::OdeSystem;
use crate::operation::operating_state::Plant;
use std::f64::consts::PI;

/// One step's equations.
pub(super) struct Segment<'a> {
    pub plant: &'a Plant,
    pub film: Film,
    pub inputs: &'a Inputs,
    pub slide: Slide,
}

impl OdeSystem<STATES> for Segment<'_> {
    const FEEDS_BACK: usize = 5;

    fn rate(&self, since: f64, x: &[f64; STATES]) -> [f64; STATES] {
        let (plant, inputs) = (self.plant, self.inputs);
        let parts = &plant.parts;
        let moving = &parts.dynamics;
        let p = 1e5 * x[0].max(0.01);
        let w = 100.0 * x[1].max(0.01);
        let z = 1e-3 * x[2];
        let v = 0.1 * x[3];
        let film = 1e-4 * x[4];
        let intake = intake(plant, inputs.along(inputs.inlet_m2, since), p, z);
        let air_in = intake.metered_kg_s + plant.leak_kg_s(p);
        let air_out = plant.air_kg_s(p, w);
        let imep = inputs.along(inputs.imep_pa, since);
        let volume = parts.breathing.displacement_m3;
        let torque = volume / (4.0 * PI) * (imep - plant.demand_pa(p, w)) - inputs.brake_nm
            + inputs.starter.torque_nm(w);
        let lift = (z - inputs.opening_m) * parts.lever.plunger_per_plate();
        let metered = plant.total_kg_s(lift, inputs.jet_m_s);
        let fuel_in = metered + inputs.start_valve_kg_s;
        let dries = film / self.film.tau_s;
        let fuel_out = (1.0 - self.film.share) * fuel_in + dries;
        let (up, speeds_up) = match self.slide.plate {
            PlateMotion::Sticks | PlateMotion::OnStop => (0.0, 0.0),
            PlateMotion::Slides { up } => {
                let against = if up { self.slide.friction_n } else { -self.slide.friction_n };
                let pulse = pulse(plant, inputs, w, since);
                let net = lift_n(plant, intake.drop_pa * pulse * pulse) - against;
                (v, (net - moving.plate_damping_ns_m * v) / moving.plate_kg)
            }
        };
        let filling = GAS_CONSTANT * parts.breathing.charge_k / moving.manifold_m3;
        [
            1e-5 * filling * (air_in - air_out),
            0.01 * torque / moving.inertia_kg_m2,
            1e3 * up,
            10.0 * speeds_up,
            1e4 * (self.film.share * fuel_in - dries),
            1e3 * air_in,
            1e3 * air_out,
            1e3 * fuel_in,
            1e3 * fuel_out,
        ]
    }
}
