//! The equations of motion of what feeds back: the rates of its states.

use super::dynamics::{
    Film, Inputs, Intake, STATES, Throat, intake_past, net_force_n, throat, unpack,
};
use super::plate::{PlateMotion, Slide};
use crate::air::GAS_CONSTANT;
use crate::maths::NearPower;
use crate::ode::OdeSystem;
use crate::operation::operating_state::Plant;
use std::f64::consts::PI;

/// One step's equations.
pub(super) struct Segment<'a> {
    plant: &'a Plant,
    film: Film,
    inputs: &'a Inputs,
    slide: Slide,
    /// What a plate that does not move lets pass.
    held: Option<Throat>,
    /// By how much the residual gas expands, where that is kept: the power `1/kappa` of the
    /// pressure in the exhaust over that in the manifold.
    expands: Option<&'a NearPower>,
    /// Pressure of the manifold for each kilogram in it (Pa/kg).
    pa_per_kg: f64,
    /// Torque of the crank for each pascal of mean effective pressure (N m/Pa).
    nm_per_pa: f64,
}

impl<'a> Segment<'a> {
    /// The equations of a step. What is kept of it (what a plate lets pass that does not move, and
    /// the power of the residual gas's expansion) may be left out.
    pub fn new(
        plant: &'a Plant,
        film: Film,
        inputs: &'a Inputs,
        slide: Slide,
        (held, expands): (Option<Throat>, Option<&'a NearPower>),
    ) -> Segment<'a> {
        let parts = &plant.parts;
        let pa_per_kg = GAS_CONSTANT * parts.breathing.charge_k / parts.dynamics.manifold_m3;
        let nm_per_pa = parts.breathing.displacement_m3 / (4.0 * PI);
        Segment { plant, film, inputs, slide, held, expands, pa_per_kg, nm_per_pa }
    }

    fn air_out_kg_s(&self, manifold_pa: f64, speed_rad_s: f64) -> f64 {
        let plant = self.plant;
        let Some(expands) = self.expands else { return plant.air_kg_s(manifold_pa, speed_rad_s) };
        let expands = expands.at(plant.exhaust_pa / manifold_pa);
        plant.parts.breathing.air_expanding_kg_s(expands, manifold_pa, speed_rad_s)
    }

    #[inline]
    fn throat(&self, height_m: f64) -> Throat {
        self.held.unwrap_or_else(|| throat(self.plant, self.inputs, height_m))
    }

    fn intake(&self, since_s: f64, throat: &Throat, manifold_pa: f64) -> Intake {
        let inlet_m2 = self.inputs.along(self.inputs.inlet_m2, since_s);
        intake_past(self.plant, throat.air_by_root, inlet_m2, manifold_pa)
    }

    /// Force of the air on the plate less what the plunger weighs, at the plate (N), some time
    /// (s) after the step's start.
    pub fn net_force_n(&self, since_s: f64, x: &[f64; STATES]) -> f64 {
        let now = unpack(x);
        let intake = self.intake(since_s, &self.throat(now.height_m), now.manifold_pa);
        net_force_n(self.plant, self.inputs, &intake, (now.speed_rad_s, since_s))
    }
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
        let throat = self.throat(z);
        let intake = self.intake(since, &throat, p);
        let air_in = intake.metered_kg_s + plant.leak_kg_s(p);
        let air_out = self.air_out_kg_s(p, w);
        let imep = inputs.along(inputs.imep_pa, since);
        let torque = self.nm_per_pa * (imep - plant.demand_pa(p, w)) - inputs.brake_nm
            + inputs.starter.torque_nm(w);
        let fuel_in = throat.fuel_kg_s + inputs.start_valve_kg_s;
        let dries = film / self.film.tau_s;
        let fuel_out = (1.0 - self.film.share) * fuel_in + dries;
        let (up, speeds_up) = match self.slide.plate {
            PlateMotion::Sticks | PlateMotion::OnStop => (0.0, 0.0),
            PlateMotion::Slides { up } => {
                let against = if up { self.slide.friction_n } else { -self.slide.friction_n };
                let net = net_force_n(plant, inputs, &intake, (w, since)) - against;
                (v, (net - moving.plate_damping_ns_m * v) / moving.plate_kg)
            }
        };
        [
            1e-5 * self.pa_per_kg * (air_in - air_out),
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
