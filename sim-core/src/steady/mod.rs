//! The steady warm point: where plate, plunger, flame and crank agree.
//!
//! A [`SteadyEngine`] is a rig under conditions with all that does not depend on the screw worked
//! out once; [`SteadyEngine::point`] then turns the screw. At a closed throttle the unknown is
//! the manifold pressure (the idle air valve holds the speed) or the speed (the opening is
//! known); above it a brake holds the speed and the air balance stands alone. With the
//! trim on the mixture is known instead of the current, so nothing is solved twice.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::shipped::shipped, steady::SteadyEngine};
//! let steady = SteadyEngine::new(&shipped("six").unwrap().rig, &Conditions::default());
//! let turns = steady.aim_turns().unwrap(); // where the sensor reads lambda 1 on base current
//! assert!((steady.point(turns).state().unwrap().lambda - 1.0).abs() < 1e-9);
//! ```

mod anchored;
mod heard;
mod reading;
mod starved;

pub(crate) use anchored::{cov_at_lambda_one, with_cov_at_lambda_one};

use crate::conditions::{Conditions, IdleAir, Trim};
use crate::fuel::slit::Liquid;
use crate::operation::balance::Settled;
use crate::operation::operating_state::{Mixture, Plant};
use crate::operation::roughness::roughness;
use crate::operation::seen;
use crate::point::{Outcome, Point, Stall, State, ValveLimit};
use crate::rig::{Parts, Reference, Rig};
use crate::sense::faults::Lambda;
use crate::sense::lambda_sensor::{LambdaSensor, OxygenCell};
use reading::Surroundings;
use std::sync::OnceLock;

/// A rig under conditions, ready for its screw to be turned.
#[must_use]
pub struct SteadyEngine {
    plant: Plant,
    conditions: Conditions,
    base_a: f64,
    cell: OxygenCell,
    /// The same engine on the mixture at which its sensor reads lambda 1, at base current.
    aim: Result<Settled, Stall>,
    /// A manifold pressure a little below any at which the engine is expected to run (Pa).
    guess_pa: f64,
    /// The best speed on the fixed opening of the idle valve, once it is asked for (rad/s).
    best_speed: OnceLock<f64>,
}

/// How far below the expected manifold pressure a walk starts.
const GUESS_SHARE: f64 = 0.96;
/// Share of lost cycles that a lambda sensor does not see: a hundred-thousandth of lambda.
const LOST_SHOWS: f64 = 1e-5;
/// How often the base current is worked out again from the air it leads to, and how near two
/// of them are alike (A).
const BASE_PASSES: usize = 20;
/// See [`BASE_PASSES`].
const BASE_NEAR_A: f64 = 1e-11;
/// How often the sensor's target is set again.
const TARGET_PASSES: usize = 60;

impl SteadyEngine {
    /// Prepares a rig under conditions. The screw of the conditions does not matter here.
    pub fn new(rig: &Rig, conditions: &Conditions) -> SteadyEngine {
        SteadyEngine::of_parts(rig.parts(), rig.reference(), conditions)
    }

    fn of_parts(parts: &Parts, reference: &Reference, conditions: &Conditions) -> SteadyEngine {
        SteadyEngine::of_plant(Plant::new(parts, reference, conditions), conditions)
    }

    fn of_plant(plant: Plant, conditions: &Conditions) -> SteadyEngine {
        let (parts, reference) = (&plant.parts, &plant.reference);
        let seen_k = conditions.seen_coolant_k(&parts.thermistor);
        let usual_kg_s = reference.nominal.idle_air_kg_s(seen_k);
        let mut base_a = seen::base_a((parts, reference), conditions, usual_kg_s);
        let speed = plant.speed_rad_s(conditions);
        let guess_pa = GUESS_SHARE * reference.pressure_over_floor * plant.least_manifold_pa(speed);
        let aim_on = |base_a: f64| {
            let jet_m_s = plant.jet_m_s(base_a);
            plant.on_target(conditions, |lambda| {
                plant.settle(conditions, &Mixture::Aim { jet_m_s, lambda }, guess_pa)
            })
        };
        let mut aim = aim_on(base_a);
        for _ in 0..BASE_PASSES {
            let Ok(settled) = &aim else { break };
            let before_a = base_a;
            base_a = plant.base_a(conditions, settled.state.height_m);
            if (base_a - before_a).abs() < BASE_NEAR_A {
                break;
            }
            aim = aim_on(base_a);
        }
        let guess_pa = aim.as_ref().map_or(guess_pa, |aim| GUESS_SHARE * aim.state.manifold_pa);
        let cell = OxygenCell::at(parts.sensor.tip_k);
        SteadyEngine {
            plant,
            conditions: *conditions,
            base_a,
            cell,
            aim,
            guess_pa,
            best_speed: OnceLock::new(),
        }
    }

    /// What it is run under.
    pub fn conditions(&self) -> &Conditions {
        &self.conditions
    }

    /// Closes or opens the trim's loop: all that is prepared stays as it is.
    pub(crate) fn set_trim(&mut self, trim: Trim) {
        self.conditions.trim = trim;
    }

    /// The engine and what it is run under.
    pub(crate) fn parts(&self) -> (&Plant, &Conditions) {
        (&self.plant, &self.conditions)
    }

    /// Screw position (turns) at which the sensor reads lambda 1 on base current: duty
    /// 50 %. `None` if the engine does not run on that mixture.
    pub fn aim_turns(&self) -> Option<f64> {
        let turns = self.turns_of(self.aim.as_ref().ok()?);
        turns.is_finite().then_some(turns)
    }

    /// Screw position (turns) of a settled engine.
    fn turns_of(&self, settled: &Settled) -> f64 {
        let (lever, state) = (&self.plant.parts.lever, &settled.state);
        let opening_m = state.height_m - state.lift_m / lever.plunger_per_plate();
        (lever.zero_height_m - opening_m) / lever.height_per_turn_m()
    }

    /// The fuel at the slits, and its ideal jet speed (m/s) at an actuator current.
    pub(crate) fn liquid_and_jet(&self, current_a: f64) -> (Liquid, f64) {
        (self.plant.liquid, self.plant.jet_m_s(current_a))
    }

    /// What the engine makes beyond what it needs (Pa) at a manifold pressure and the speed
    /// held, as mean effective pressure: the curve whose first rise through zero is the idle.
    pub fn surplus_pa(&self, screw_turns: f64, manifold_pa: f64) -> f64 {
        let opening_m = self.plant.parts.lever.opening_height_m(screw_turns);
        let speed = self.plant.speed_rad_s(&self.conditions);
        let height_m = self.plant.height_at_m(manifold_pa, speed);
        let jet_m_s = self.plant.jet_m_s(self.plant.base_a(&self.conditions, height_m));
        self.plant
            .operating_state(manifold_pa, speed, &Mixture::Metered { opening_m, jet_m_s })
            .surplus_pa()
    }

    /// The point at a screw position.
    pub fn point(&self, screw_turns: f64) -> Point {
        let point = self.point_as_fed(screw_turns);
        let drawn_kg_s = point.state().map_or(0.0, |state| state.fuel_kg_s);
        match self.starved(screw_turns, drawn_kg_s) {
            Some(starved) => starved.point_as_fed(screw_turns),
            None => point,
        }
    }

    fn point_as_fed(&self, screw_turns: f64) -> Point {
        let outcome = match self.settle(screw_turns) {
            Ok((settled, current_a)) => {
                Outcome::Running(self.state(&settled, current_a, self.wanted_a(screw_turns)))
            }
            Err(stall) => Outcome::Stalled(stall),
        };
        Point { screw_turns, outcome }
    }

    /// The settled engine at a screw position, and the actuator current.
    pub(crate) fn settle(&self, screw_turns: f64) -> Result<(Settled, f64), Stall> {
        let (plant, conditions) = (&self.plant, &self.conditions);
        // What a cold engine gets on top follows the air that the controller sees, and that the
        // mixture; full load likewise.
        let (mut base_a, mut extra_a) = (self.base_a, 0.0);
        let mut found = self.settle_on(screw_turns, base_a, extra_a)?;
        for _ in 0..BASE_PASSES {
            let state = &found.0.state;
            let (before_a, before_extra_a) = (base_a, extra_a);
            base_a = plant.base_a(conditions, state.height_m);
            extra_a = plant.full_load_a(conditions, state);
            let moved_a = (base_a - before_a).abs() + (extra_a - before_extra_a).abs();
            if moved_a < BASE_NEAR_A {
                break;
            }
            found = self.settle_on(screw_turns, base_a, extra_a)?;
        }
        Ok(found)
    }

    /// The same on a base current (A), with what full load adds to it (A).
    fn settle_on(
        &self,
        screw_turns: f64,
        base_a: f64,
        extra_a: f64,
    ) -> Result<(Settled, f64), Stall> {
        let (plant, conditions) = (&self.plant, &self.conditions);
        let controller = &plant.parts.controller;
        let opening_m = plant.parts.lever.opening_height_m(screw_turns);
        let on_current = |current_a: f64| {
            let jet_m_s = plant.jet_m_s(current_a);
            let settled = plant.settle(
                conditions,
                &Mixture::Metered { opening_m, jet_m_s },
                self.guess_pa,
            )?;
            Ok((settled, current_a))
        };
        if let Some(forced) = conditions.actuator_a {
            return on_current(forced);
        }
        let seen_k = conditions.seen_coolant_k(&plant.parts.thermistor);
        let closed_loop = seen_k >= controller.closed_loop_from_k;
        let blind = matches!(conditions.faults.lambda, Lambda::Cold | Lambda::Dead);
        let open = !closed_loop || blind || plant.full_load_switch(conditions);
        if conditions.trim == Trim::Off || open {
            return on_current((base_a + extra_a).min(controller.most_a));
        }
        let (low, high) = controller.trim_limits_a(base_a);
        if conditions.faults.lambda == Lambda::Stuck {
            // It reads lean for ever: the trim has gone as far as it may.
            return on_current(high);
        }
        let on_target = plant.on_target(conditions, |lambda| {
            plant.settle(conditions, &Mixture::Target { opening_m, lambda }, self.guess_pa)
        });
        match on_target {
            Ok(settled) => match plant.current_a(settled.state.jet_m_s) {
                current if current > high => on_current(high),
                current if current < low => on_current(low),
                current => Ok((settled, current)),
            },
            // No running point on the sensor's mixture: the trim ends at a limit, the
            // richer one if even that leaves the engine lean.
            Err(_) => on_current(high),
        }
    }

    /// The point on a mixture, whatever the screw: the screw stands where base current gives it.
    pub fn point_on_mixture(&self, lambda: f64) -> Point {
        let mixture = Mixture::Aim { jet_m_s: self.plant.jet_m_s(self.base_a), lambda };
        let settled = self.plant.settle(&self.conditions, &mixture, self.guess_pa);
        match settled {
            Ok(settled) => Point {
                screw_turns: self.turns_of(&settled),
                outcome: Outcome::Running(self.state(&settled, self.base_a, Some(self.base_a))),
            },
            Err(stall) => {
                Point { screw_turns: self.conditions.screw_turns, outcome: Outcome::Stalled(stall) }
            }
        }
    }

    /// Every reading of a settled engine on a current.
    fn state(&self, settled: &Settled, current_a: f64, wanted_a: Option<f64>) -> State {
        let around = Surroundings {
            plant: &self.plant,
            conditions: &self.conditions,
            base_a: self.plant.base_a(&self.conditions, settled.state.height_m),
            cell: &self.cell,
            speed_drop_rad_s: self.speed_drop_rad_s(settled),
        };
        reading::state(&around, settled, current_a, wanted_a)
    }

    /// How far a settled engine's speed lies below the best it can do on its opening (rad/s).
    ///
    /// The best is that of the mixture with the most work for its air: air is choked at idle,
    /// so speed goes with it. Where a valve at its end lets a held speed fall, that is the best.
    fn speed_drop_rad_s(&self, settled: &Settled) -> f64 {
        let (plant, conditions) = (&self.plant, &self.conditions);
        let speed = settled.state.speed_rad_s;
        if conditions.throttle > 0.0 || conditions.pedal_holds_speed {
            return 0.0;
        }
        if settled.limit == Some(ValveLimit::Full) {
            return (plant.speed_rad_s(conditions) - speed).max(0.0);
        }
        if conditions.idle_air != IdleAir::Fixed {
            return 0.0;
        }
        let best = self.best_speed.get_or_init(|| {
            let jet_m_s = plant.jet_m_s(self.base_a);
            let lambda = plant.most_work_lambda(&settled.state);
            let mixture = Mixture::Aim { jet_m_s, lambda };
            plant
                .settle(conditions, &mixture, self.guess_pa)
                .map_or(0.0, |settled| settled.state.speed_rad_s)
        });
        (best - speed).max(0.0)
    }

    /// The current that would bring the sensor to lambda 1 here, clipped to the authority.
    fn wanted_a(&self, screw_turns: f64) -> Option<f64> {
        let aim = &self.aim.as_ref().ok()?.state;
        let parts = &self.plant.parts;
        let (low, high) = parts.controller.trim_limits_a(self.base_a);
        let above = aim.height_m - parts.lever.opening_height_m(screw_turns);
        let lift_m = above * parts.lever.plunger_per_plate();
        let jet = self.plant.jet_for_total_m_s(aim.fuel_kg_s, lift_m);
        Some(jet.map_or(high, |jet| self.plant.current_a(jet).clamp(low, high)))
    }
}

impl Plant {
    /// Solves for the mixture on which the lambda sensor reads 1. Cycles that the burn
    /// itself loses show to the sensor too, so the target is set again until it stands.
    fn on_target(
        &self,
        conditions: &Conditions,
        solve: impl Fn(f64) -> Result<Settled, Stall>,
    ) -> Result<Settled, Stall> {
        let bias = LambdaSensor::reads(0.0, 0.0, conditions.exhaust_leak)
            + conditions.lambda_sensor_reads_leaner_by();
        let mut lost = conditions.misfire;
        let mut before: Option<(f64, f64)> = None;
        for pass in 0..TARGET_PASSES {
            let mut settled = solve(1.0 - bias - LambdaSensor::reads(0.0, lost, 0.0))?;
            let rough = roughness(self, &settled.state);
            settled.rough = Some(rough);
            let now = rough.mean_misfire;
            let off = now - lost;
            if off.abs() < 1e-12 || now < conditions.misfire + LOST_SHOWS {
                return Ok(settled);
            }
            // A line through the last two; half steps, should whole ones go to and fro.
            let next = match before {
                _ if pass > 10 => 0.5 * (now + lost),
                Some((lost_before, off_before)) if off != off_before => {
                    (lost - off * (lost - lost_before) / (off - off_before)).clamp(0.0, 1.0)
                }
                _ => now,
            };
            before = Some((lost, off));
            lost = next;
        }
        Err(Stall::NoTarget)
    }
}
