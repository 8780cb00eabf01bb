//! What feeds back within a tick: manifold pressure, crank speed, plate, wall film.

use super::port_store::{CYCLE_RAD, Holds, INTAKE_CLOSES_RAD, Trapped};
use crate::air::GAS_CONSTANT;
use crate::air::orifice::CRITICAL_RATIO;
use crate::assembly::Parts;
use crate::conditions::Conditions;
use crate::control::starting::Starting;
use crate::control::trim::wall_film_share;
use crate::maths::NearPower;
use crate::operation::operating_state::{Lies, OperatingState, Plant};
use std::f64::consts::PI;

/// States: manifold pressure (bar), speed (100 rad/s), plate height (mm), plate speed
/// (0.1 m/s), film (0.1 g), and four sums (g): air in and out, fuel in and out.
pub const STATES: usize = 9;

/// The moving states in SI.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DynamicState {
    /// Manifold pressure (Pa).
    pub manifold_pa: f64,
    /// Crank speed (rad/s).
    pub speed_rad_s: f64,
    /// Plate height above the throat (m).
    pub height_m: f64,
    /// Plate speed (m/s).
    pub plate_m_s: f64,
    /// Fuel on the walls (kg).
    pub film_kg: f64,
    /// Air into and out of the manifold, fuel into the ports and into the cylinders (kg).
    pub sums_kg: [f64; 4],
}

impl DynamicState {
    /// The state a share of the way to another, on a straight line.
    pub(super) fn between(&self, other: &DynamicState, share: f64) -> DynamicState {
        let along = |a: f64, b: f64| a + share * (b - a);
        DynamicState {
            manifold_pa: along(self.manifold_pa, other.manifold_pa),
            speed_rad_s: along(self.speed_rad_s, other.speed_rad_s),
            height_m: along(self.height_m, other.height_m),
            plate_m_s: along(self.plate_m_s, other.plate_m_s),
            film_kg: along(self.film_kg, other.film_kg),
            sums_kg: std::array::from_fn(|i| along(self.sums_kg[i], other.sums_kg[i])),
        }
    }
}

/// Unpacks a state.
pub fn unpack(x: &[f64; STATES]) -> DynamicState {
    DynamicState {
        manifold_pa: 1e5 * x[0],
        speed_rad_s: 100.0 * x[1],
        height_m: 1e-3 * x[2],
        plate_m_s: 0.1 * x[3],
        film_kg: 1e-4 * x[4],
        sums_kg: [1e-3 * x[5], 1e-3 * x[6], 1e-3 * x[7], 1e-3 * x[8]],
    }
}

/// The state of a settled engine.
pub(super) fn pack(state: &OperatingState, film_kg: f64) -> [f64; STATES] {
    let moving = [
        1e-5 * state.manifold_pa,
        0.01 * state.speed_rad_s,
        1e3 * state.height_m,
        0.0,
        1e4 * film_kg,
    ];
    let mut x = [0.0; STATES];
    x[..5].copy_from_slice(&moving);
    x
}

/// The wall film: what share of the fuel wets it and how fast it dries.
///
/// Equation: `dm/dt = X m_in - m/tau`. Source: Aquino, SAE 810494 (from memory); X and tau by
/// coolant temperature and speed are our own.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Film {
    /// Share of the metered fuel that wets the wall.
    pub share: f64,
    /// Time it takes to evaporate (s).
    pub tau_s: f64,
}

/// The film's time goes with this power of the speed.
pub(super) const DRIES_BY_SPEED: f64 = -0.7;

/// The film at a coolant temperature and speed.
pub fn film(parts: &Parts, conditions: &Conditions, speed_rad_s: f64) -> Film {
    film_by(&mut NearPower::new(DRIES_BY_SPEED), parts, conditions, speed_rad_s)
}

/// The same by a power that is kept.
pub(super) fn film_by(
    power: &mut NearPower,
    parts: &Parts,
    conditions: &Conditions,
    speed_rad_s: f64,
) -> Film {
    let (share_factor, tau_factor) = wall_film_share(conditions.coolant_k);
    let slower = power.about(speed_rad_s.max(10.0) / parts.controller.idle_rad_s);
    Film {
        share: (parts.dynamics.film_share * share_factor).min(0.8),
        tau_s: parts.dynamics.film_s * tau_factor * slower,
    }
}

/// What drives the engine for a step: constant, or a straight line from start to end.
#[derive(Clone, Copy, Debug)]
pub struct Inputs {
    /// Plate height at which the slits open (m).
    pub opening_m: f64,
    /// Effective area of throttle and idle valve at the step's start and end (m2).
    pub inlet_m2: (f64, f64),
    /// Ideal jet speed in the slits (m/s).
    pub jet_m_s: f64,
    /// Indicated pressure at the step's start and end (Pa).
    pub imep_pa: (f64, f64),
    /// Torque of a brake (N m).
    pub brake_nm: f64,
    /// Starter; its torque 0 where none turns.
    pub starter: Starting,
    /// Fuel of the start valve (kg/s).
    pub start_valve_kg_s: f64,
    /// Amplitude of the pulsation at the plate, share of the flow.
    pub pulsation: f64,
    /// Crank angle at the step's start (rad).
    pub angle_rad: f64,
    /// How long the step lasts (s).
    pub lasts_s: f64,
}

impl Inputs {
    /// The value of a straight line some time (s) after the start.
    pub(super) fn along(&self, (start, end): (f64, f64), since_s: f64) -> f64 {
        if start == end { start } else { start + (end - start) * (since_s / self.lasts_s) }
    }
}

/// Time in which the manifold follows a change of its opening (s): what it holds for each
/// pascal over what more flows in for each pascal less; infinite where the opening is choked.
pub(super) fn filling_s(plant: &Plant, inputs: &Inputs, x: &[f64; STATES]) -> f64 {
    let p = unpack(x).manifold_pa;
    if p + 50.0 <= CRITICAL_RATIO * plant.upstream_pa {
        return f64::INFINITY;
    }
    let inflow = |p: f64| plant.inlet_kg_s(inputs.inlet_m2.0.max(inputs.inlet_m2.1), p);
    let slope = (inflow(p - 50.0) - inflow(p + 50.0)) / 100.0;
    let breathing = &plant.parts.breathing;
    let holds = plant.parts.dynamics.manifold_m3 / (GAS_CONSTANT * breathing.charge_k);
    holds / slope.max(1e-12)
}

/// A last step of Newton's, as a share of the root: it leaves the square of that.
const ENOUGH: f64 = 1e-7;
/// Steps after which it is left; five are enough but at the kinks of the orifice's law.
const NEWTON_MOST: u32 = 60;

/// Metered air (kg/s) and the drop it makes over the plate (Pa).
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Intake {
    pub metered_kg_s: f64,
    pub drop_pa: f64,
}

/// What plate and plunger let pass at a height of the plate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Throat {
    /// Air for each root of the drop over the plate (kg/(s Pa^(1/2))): `C A(z) sqrt(2 rho)`.
    pub air_by_root: f64,
    /// Fuel through the slits (kg/s).
    pub fuel_kg_s: f64,
}

/// The throat at a height (m).
pub(super) fn throat(plant: &Plant, inputs: &Inputs, height_m: f64) -> Throat {
    throat_passing(plant, inputs, height_m, air_by_root(plant, height_m))
}

/// The same where [`air_by_root`] is known.
pub(super) fn throat_passing(
    plant: &Plant,
    inputs: &Inputs,
    height_m: f64,
    air_by_root: f64,
) -> Throat {
    let lift_m = (height_m - inputs.opening_m) * plant.parts.lever.plunger_per_plate();
    Throat { air_by_root, fuel_kg_s: plant.total_kg_s(lift_m, inputs.jet_m_s) }
}

/// See [`Throat::air_by_root`].
pub(super) fn air_by_root(plant: &Plant, height_m: f64) -> f64 {
    let plate = &plant.parts.plate;
    plate.discharge * plate.area_m2(height_m) * plant.root_2_density
}

/// What passes the plate at a height and then the throttle.
///
/// Equations: `m = C A(z) sqrt(2 rho dp)` over the plate, the orifice law of
/// [`crate::air::orifice`] from `p_a - dp` into the manifold; one flow passes both. Where
/// the throttle is choked the pair has a closed solution in `sqrt(dp)`. Between plate and
/// throttle no air is stored. A plate at rest in its balance makes the drop of
/// [`crate::air::plate::Lever::plate_drop_pa`], and the steady point's flow.
pub(super) fn intake(plant: &Plant, inlet_m2: f64, manifold_pa: f64, height_m: f64) -> Intake {
    intake_past(plant, air_by_root(plant, height_m), inlet_m2, manifold_pa)
}

/// The same past a throat that is known, see [`Throat::air_by_root`].
#[inline]
pub(super) fn intake_past(plant: &Plant, by_root: f64, inlet_m2: f64, manifold_pa: f64) -> Intake {
    let ambient_pa = plant.ambient_pa;
    // Choked: a (p_a - s^2) = b s with s = sqrt(dp).
    let a = plant.throttled_kg_s(inlet_m2, 1.0, 0.0);
    let root =
        2.0 * a * ambient_pa / (by_root + (by_root * by_root + 4.0 * a * a * ambient_pa).sqrt());
    let choked = manifold_pa <= CRITICAL_RATIO * (ambient_pa - root * root);
    let root =
        if choked { root } else { unchoked_root(plant, by_root, inlet_m2, manifold_pa, root) };
    Intake { metered_kg_s: by_root * root, drop_pa: root * root }
}

/// The root of the drop over the plate where the throttle is not choked, below that where it is.
///
/// Begins as if air did not expand: both pass with the root of their drops. What the plate passes
/// less what the throttle passes is convex in `sqrt(dp)` up to the whole drop, so Newton's steps
/// come down to the root from the second on.
fn unchoked_root(
    plant: &Plant,
    by_root: f64,
    inlet_m2: f64,
    manifold_pa: f64,
    choked_root: f64,
) -> f64 {
    let ambient_pa = plant.ambient_pa;
    let whole_pa = (ambient_pa - manifold_pa).max(0.0);
    let undropped = plant.throttled_kg_s(inlet_m2, ambient_pa, manifold_pa);
    if undropped <= 0.0 {
        return 0.0;
    }
    let most = choked_root.min(whole_pa.sqrt());
    let mut root = undropped / (by_root * by_root + undropped * undropped / whole_pa).sqrt();
    for _ in 0..NEWTON_MOST {
        let upstream_pa = ambient_pa - root * root;
        let (passes, slope) = plant.throttled_and_slope(inlet_m2, upstream_pa, manifold_pa);
        let step = (by_root * root - passes) / (by_root + 2.0 * root * slope);
        root = (root - step).min(most);
        if step.abs() <= ENOUGH * root {
            break;
        }
    }
    root
}

/// Force of the air on the plate less what the plunger weighs, at the plate (N), where so much
/// passes, at a speed (rad/s) some time (s) after the step's start.
pub(super) fn net_force_n(
    plant: &Plant,
    inputs: &Inputs,
    intake: &Intake,
    (speed_rad_s, since_s): (f64, f64),
) -> f64 {
    let pulse = pulse(plant, inputs, speed_rad_s, since_s);
    let radius_m = plant.parts.plate.radius_m;
    (intake.drop_pa * pulse * pulse - plant.plate_drop_pa) * PI * radius_m * radius_m
}

/// How fast the plate answers (1/s): the faster root of `m s^2 + c s + k = 0`, with the
/// stiffness `k = 2 W A'/A` of an opening that passes its flow under the weight `W`.
pub(super) fn plate_pace_per_s(plant: &Plant, height_m: f64) -> f64 {
    let (plate, moving) = (&plant.parts.plate, &plant.parts.dynamics);
    let (area_m2, widens_m) = plate.area_and_slope(height_m);
    let weight_n = plant.plate_drop_pa * PI * plate.radius_m * plate.radius_m;
    let stiff = 2.0 * weight_n * widens_m / (area_m2 * moving.plate_kg);
    let damps = 0.5 * moving.plate_damping_ns_m / moving.plate_kg;
    let under = damps * damps - stiff;
    if under > 0.0 { damps + under.sqrt() } else { stiff.sqrt() }
}

/// By how much the intake's pulsation raises the flow at the plate, as a factor: once for
/// each cylinder that draws in.
fn pulse(plant: &Plant, inputs: &Inputs, speed_rad_s: f64, since_s: f64) -> f64 {
    if inputs.pulsation == 0.0 {
        return 1.0;
    }
    let count = plant.parts.slits.width_m.len() as f64;
    let phase = 0.5 * count * (inputs.angle_rad + speed_rad_s * since_s);
    1.0 + inputs.pulsation * phase.sin()
}

/// The charge drawn in at a moment: its mixture and the work it will do.
pub(super) fn charge(
    plant: &Plant,
    now: &DynamicState,
    inputs: &Inputs,
    film: &Film,
    holds: &Holds,
) -> OperatingState {
    let (mut state, air_burns_kg_s) = mixture(plant, now, inputs, film, holds);
    if state.lambda.is_finite() && state.air_kg_s > 0.0 {
        let best = plant.best_imep_pa(air_burns_kg_s, now.speed_rad_s);
        state.imep_pa = plant.mean_torque(&state) * best;
    }
    state
}

/// The charge drawn in at a moment but for its work, and the air that burns with it (kg/s).
pub(super) fn mixture(
    plant: &Plant,
    now: &DynamicState,
    inputs: &Inputs,
    film: &Film,
    holds: &Holds,
) -> (OperatingState, f64) {
    let parts = &plant.parts;
    let slits = &parts.slits;
    let air_kg_s = plant.air_kg_s(now.manifold_pa, now.speed_rad_s);
    let &Inputs { opening_m, jet_m_s, start_valve_kg_s, .. } = inputs;
    let lift_m = (now.height_m - opening_m) * parts.lever.plunger_per_plate();
    let count = slits.width_m.len();
    let dries = now.film_kg / film.tau_s;
    let mut state = OperatingState {
        manifold_pa: now.manifold_pa,
        speed_rad_s: now.speed_rad_s,
        air_kg_s,
        metered_kg_s: air_kg_s - plant.leak_kg_s(now.manifold_pa),
        lies: if now.height_m <= plant.rest_height_m { Lies::OnStop } else { Lies::Afloat },
        height_m: now.height_m,
        lift_m,
        jet_m_s,
        fuel_kg_s: 0.0,
        lambda: f64::INFINITY,
        lambdas: slits.width_m,
        residual_fraction: 0.0,
        imep_pa: 0.0,
        demand_pa: plant.demand_pa(now.manifold_pa, now.speed_rad_s),
    };
    let total_width: f64 = slits.width_m.iter().sum();
    // The film is shared as the slits are, the start valve's fuel evenly.
    let (dries_by_width, evenly) = (dries / total_width, start_valve_kg_s / count as f64);
    let mut fuel_kg_s = plant.lines_kg_s(lift_m, jet_m_s);
    state.fuel_kg_s = fuel_kg_s.iter().sum::<f64>() + start_valve_kg_s;
    for (fuel, width) in fuel_kg_s.iter_mut().zip(slits.width_m.iter()) {
        *fuel = (1.0 - film.share) * (*fuel + evenly) + dries_by_width * width;
    }
    let rate_kg_s: f64 = fuel_kg_s.iter().sum();
    // What the ports hold when the valve closes, as a rate.
    let closes_kg = holds.collected_kg + rate_kg_s * INTAKE_CLOSES_RAD / now.speed_rad_s;
    let stored_kg_s = closes_kg * now.speed_rad_s / CYCLE_RAD;
    let air_for_fuel = plant.air_for_fuel(air_kg_s);
    let share_of_residual = parts.breathing.residual_fraction(
        now.manifold_pa,
        plant.exhaust_pa,
        now.speed_rad_s,
        air_for_fuel * stored_kg_s / air_kg_s,
    );
    let (mut air_burns, mut fuel_burns) = (air_kg_s, stored_kg_s);
    state.residual_fraction = share_of_residual;
    if let Some(Trapped { share, phi }) = holds.trapped {
        state.residual_fraction *= 1.0 - share;
        let trapped = share * air_kg_s * share_of_residual / (1.0 - share_of_residual);
        air_burns += trapped;
        fuel_burns += trapped * phi / air_for_fuel;
    }
    let stoichiometric = air_burns / air_for_fuel;
    state.lambda = stoichiometric / fuel_burns;
    // Each cylinder gets its share of the fuel, or without any of it that of its slit.
    let (shares, all) = match rate_kg_s > 0.0 {
        true => (fuel_kg_s, rate_kg_s),
        false => (slits.width_m, total_width),
    };
    let even = state.lambda * all / count as f64;
    for (lambda, share) in state.lambdas.iter_mut().zip(shares.iter()) {
        *lambda = even / share;
    }
    (state, air_burns)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::conditions::Conditions;
    use crate::rig::shipped::{SHIPPED, shipped};

    #[test]
    fn what_passes_the_plate_passes_the_throttle_at_every_opening() {
        let conditions = Conditions::default();
        for (name, _) in SHIPPED {
            let rig = shipped(name).unwrap().rig;
            let plant = Plant::new(rig.parts(), rig.reference(), &conditions);
            for inlet_m2 in [1e-7, 2e-5, 1e-4, 1e-3, 4e-3] {
                for height_m in [0.2e-3, 3e-3, 20e-3] {
                    let mut before = f64::INFINITY;
                    for share in [0.2, 0.5, 0.6, 0.9, 0.98, 0.999, 0.9995, 0.999_999] {
                        let manifold_pa = share * plant.ambient_pa;
                        let found = intake(&plant, inlet_m2, manifold_pa, height_m);
                        let upstream_pa = plant.ambient_pa - found.drop_pa;
                        let passes = plant.throttled_kg_s(inlet_m2, upstream_pa, manifold_pa);
                        let off = (found.metered_kg_s / passes - 1.0).abs();
                        let place = format!("{name}, {inlet_m2} m2, {height_m} m, {share}");
                        // Where the throttle hardly throttles its flow hangs on the last
                        // digits of the pressure before it: that is what must agree.
                        let throttled = 1.0 - manifold_pa / upstream_pa;
                        assert!(off * throttled < 1e-10, "{place}: off by {off}");
                        assert!(found.metered_kg_s <= before, "{place}: more at a higher pressure");
                        before = found.metered_kg_s;
                    }
                    let none = intake(&plant, inlet_m2, plant.ambient_pa, height_m);
                    assert_eq!(none.metered_kg_s, 0.0);
                }
            }
        }
    }
}
