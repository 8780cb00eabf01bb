//! An engine of single charges, one cylinder after another, against the running engine's
//! bookkeeping of means: the same damping of speed and manifold.

use crate::running::setup;
use sim_core::air::GAS_CONSTANT;
use sim_core::conditions::{Conditions, IdleAir};
use sim_core::rig::keys::Setup;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::dynamics;
use sim_core::run::open_loop::Charges;
use sim_core::run::stability::Linear;
use sim_core::steady::SteadyEngine;
use std::f64::consts::PI;

/// Steps of a cycle, half a degree each: every valve opens and closes on one.
const CYCLE: usize = 1440;
/// How long an intake valve is open, and over how much of the crank a charge works (steps).
const INTAKE: usize = 460;
const WORK: usize = 300;
/// From the opening of the intake valve to the begin of the work: one revolution from the
/// middle of the one to the middle of the other (steps).
const TO_WORK: usize = INTAKE / 2 + 720 - WORK / 2;
/// Steps from one look at the speed to the next.
const EVERY: usize = 720;
const STEP_RAD: f64 = PI / 360.0;
const CYCLE_RAD: f64 = 4.0 * PI;

/// One cylinder, its port and the wall before it.
#[derive(Clone, Copy)]
struct Cylinder {
    /// Steps since its intake valve opened.
    phase: usize,
    film_kg: f64,
    /// Fuel in the port (kg).
    port_kg: f64,
    /// Pressure and speed summed over this intake so far, and how long it has lasted.
    drawn: [f64; 3],
    imep_pa: f64,
}

/// An engine of cylinders that draw, wait and work each in its turn. Air through a choked
/// throttle and fuel through still slits are constant.
struct Engine<'a> {
    charges: &'a Charges,
    cylinders: Vec<Cylinder>,
    manifold_pa: f64,
    speed: f64,
    air_in: f64,
    fuel_in: f64,
    film: dynamics::Film,
    film_at: f64,
    manifold_m3: f64,
    charge_k: f64,
    inertia: f64,
    displacement: f64,
}

impl Engine<'_> {
    fn step(&mut self) {
        let count = self.cylinders.len() as f64;
        let (p, w) = (self.manifold_pa, self.speed);
        let step_s = STEP_RAD / w;
        let all = self.charges.air_kg_s(p, w);
        // As the speed changes the film dries faster or slower (our own law's exponent).
        let tau_s = self.film.tau_s * (self.film_at / w).powf(0.7);
        let (mut drawn, mut torque) = (0.0, 0.0);
        for cylinder in &mut self.cylinders {
            let fuel = self.fuel_in / count;
            let dries = cylinder.film_kg / tau_s;
            cylinder.film_kg += step_s * (self.film.share * fuel - dries);
            cylinder.port_kg += step_s * ((1.0 - self.film.share) * fuel + dries);
            if cylinder.phase < INTAKE {
                drawn += all / count * CYCLE as f64 / INTAKE as f64;
                for (sum, more) in cylinder.drawn.iter_mut().zip([p, w, 1.0]) {
                    *sum += step_s * more;
                }
            }
            if (TO_WORK..TO_WORK + WORK).contains(&cylinder.phase) {
                torque += cylinder.imep_pa * self.displacement / count / (WORK as f64 * STEP_RAD);
            }
            cylinder.phase += 1;
            if cylinder.phase == INTAKE {
                let [p_s, w_s, s] = cylinder.drawn;
                let (p, w) = (p_s / s, w_s / s);
                // All that the port holds goes in with the charge.
                let rate = cylinder.port_kg * count * w / CYCLE_RAD;
                cylinder.imep_pa = self.charges.pressures_pa(p, w, rate).0;
                (cylinder.port_kg, cylinder.drawn) = (0.0, [0.0; 3]);
            }
            cylinder.phase %= CYCLE;
        }
        let filling = GAS_CONSTANT * self.charge_k / self.manifold_m3;
        self.manifold_pa += step_s * filling * (self.air_in - drawn);
        let demand_pa = self.charges.pressures_pa(p, w, self.fuel_in).1;
        let friction = demand_pa * self.displacement / CYCLE_RAD;
        self.speed += step_s * (torque - friction) / self.inertia;
    }
}

/// Growth (1/s) of what a kick of the speed leaves, by the two poles that predict the
/// difference of a kicked and an untouched engine at the same crank angle from its past.
fn growth(setup: &Setup) -> f64 {
    let point =
        SteadyEngine::new(&setup.rig, &setup.conditions).point(setup.conditions.screw_turns);
    let state = *point.state().unwrap();
    let parts = setup.rig.parts();
    let charges = Charges::new(setup);
    let film = dynamics::film(parts, &setup.conditions, state.speed_rad_s);
    let count = parts.slits.width_m.len();
    let new = |kick: f64| Engine {
        charges: &charges,
        cylinders: (0..count)
            .map(|i| {
                let phase = CYCLE * i / count;
                let step_s = STEP_RAD / state.speed_rad_s;
                let since_closing = (phase + CYCLE - INTAKE) % CYCLE;
                let fuel = state.fuel_kg_s / count as f64;
                let drawn_s = if phase < INTAKE { phase as f64 * step_s } else { 0.0 };
                Cylinder {
                    phase,
                    film_kg: film.share * film.tau_s * fuel,
                    port_kg: fuel * since_closing as f64 * step_s,
                    drawn: [state.manifold_pa * drawn_s, state.speed_rad_s * drawn_s, drawn_s],
                    imep_pa: charges
                        .pressures_pa(state.manifold_pa, state.speed_rad_s, state.fuel_kg_s)
                        .0,
                }
            })
            .collect(),
        manifold_pa: state.manifold_pa,
        speed: state.speed_rad_s * (1.0 + kick),
        air_in: state.air_kg_s,
        fuel_in: state.fuel_kg_s,
        film,
        film_at: state.speed_rad_s,
        manifold_m3: parts.dynamics.manifold_m3,
        charge_k: parts.breathing.charge_k,
        inertia: parts.dynamics.inertia_kg_m2,
        displacement: parts.breathing.displacement_m3,
    };
    // Both run from the same swing onto their rest, so that it drops out.
    let (mut plain, mut kicked) = (new(0.0), new(2e-4));
    let mut left = Vec::new();
    let begins = (0.8 * state.speed_rad_s / STEP_RAD) as usize;
    for step in 0..30 * CYCLE {
        plain.step();
        kicked.step();
        if step % EVERY == 0 && step > begins {
            left.push(kicked.speed - plain.speed);
        }
    }
    // d[k+1] = a d[k] + b d[k-1] by least squares.
    let (mut xx, mut xy, mut yy, mut xz, mut yz) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for three in left.windows(3) {
        let weight = 1.0 / (three[0].powi(2) + three[1].powi(2));
        let (x, y, z) = (three[1], three[0], three[2]);
        xx += weight * x * x;
        xy += weight * x * y;
        yy += weight * y * y;
        xz += weight * x * z;
        yz += weight * y * z;
    }
    let b = (xx * yz - xy * xz) / (xx * yy - xy * xy);
    let every_s = EVERY as f64 * STEP_RAD / state.speed_rad_s;
    0.5 * (-b).ln() / every_s
}

#[test]
fn the_engine_of_single_charges_is_damped_like_the_running_engine() {
    let mut worst = 0.0_f64;
    let mut compared = 0;
    for (name, _) in SHIPPED {
        let rig = shipped(name).unwrap().rig;
        let conditions = Conditions { idle_air: IdleAir::Held, ..Conditions::default() };
        for i in -2..8 {
            let screw_turns = f64::from(i) / 64.0;
            let keys = [("plunger_friction_n", 0.0), ("screw", screw_turns)];
            let setup = setup(&rig, conditions, &keys);
            let point = SteadyEngine::new(&setup.rig, &setup.conditions).point(screw_turns);
            let lambda = point.state().unwrap().lambda;
            let linear = Linear::about(&setup).unwrap().unwrap().with_fixed_air();
            let mode = linear.modes().into_iter().find(|mode| mode.turn_rad_s > 0.0).unwrap();
            if !(0.70..1.01).contains(&lambda) {
                continue;
            }
            let seen = growth(&setup);
            println!("{name} lambda {lambda:.3}: {seen:.3}, means {:.3}", mode.growth_per_s);
            worst = worst.max((seen - mode.growth_per_s).abs());
            compared += 1;
        }
    }
    println!("{compared} compared, worst {worst:.3} 1/s");
    assert!(compared >= 15, "{compared}");
    assert!(worst < 0.03, "{worst}");
}
