//! The burning of a state's cycles: what differs between them, and the work they do.

use super::operating_state::{OperatingState, Plant, SPARK_K, SPARK_PRESSURE_RATIO};
use crate::engine::burn::{Cycles, relative_angle};
use crate::engine::flame::Charge;
use crate::engine::scatter::{THREE, mean_and_scatter, pair_of};
use crate::engine::work::relative_work;
use crate::solve::least_to;

/// Speeds over the idle's between which the spark goes from its basic setting to the best
/// advance. Common practice, no source.
const ADVANCE_FROM_TO: (f64, f64) = (1.5, 2.0);
/// Earliest spark the advance gives (deg). Common practice, no source.
const ADVANCE_MOST_DEG: f64 = 50.0;

/// The least fuel of a cycle, as a share of the mean.
const LEAST_FUEL: f64 = 0.05;

impl Plant {
    /// Mean torque factor of all cylinders and cycles, at three points of the fuel's scatter:
    /// from cylinder to cylinder and from cycle to cycle, as one normal distribution.
    pub fn mean_torque(&self, state: &OperatingState) -> f64 {
        let flame = self.flame(state);
        let cycles = flame.cycles();
        let mut sum = 0.0;
        let mut add = |mixture: Burning, weight: f64| {
            let ignited = flame.ignited(mixture);
            if ignited > 0.0 {
                let relative = flame.relative_angle(mixture);
                sum += weight * ignited * cycles.mean_at(relative) * mixture.work;
            }
        };
        if self.lines.all_spray() {
            let mut phis = state.lambdas;
            phis.iter_mut().for_each(|each| *each = 1.0 / *each);
            let (phi, scatter) = mean_and_scatter(phis.iter().copied());
            let scatter = (scatter * scatter + (self.fuel_scatter * phi).powi(2)).sqrt();
            flame.over_scatter(phi, scatter, &THREE, add);
        } else {
            // Some cylinders get nothing: they and the others are two groups, no scatter.
            flame.over_cycles(state, &THREE, &mut add);
        }
        (1.0 - self.dead(state.manifold_pa)) * sum
    }

    /// The mixture on which a state's air would do the most work.
    pub fn most_work_lambda(&self, state: &OperatingState) -> f64 {
        let torque = |lambda: f64| self.mean_torque(&state.on_mixture(lambda));
        least_to(|lambda| -torque(lambda), 0.7, 1.2, 1e-3)
    }

    /// What the burning of a state's cycles follows from.
    pub fn flame(&self, state: &OperatingState) -> Flame<'_> {
        let charge = self.charge(state.manifold_pa, state.residual_fraction);
        let ln_speed_ratio = (state.speed_rad_s / self.parts.controller.idle_rad_s).ln();
        let spark_deg = self.spark_deg(state, ln_speed_ratio);
        let advanced = (spark_deg != self.idle_cycles.spark_deg)
            .then(|| Box::new(self.parts.burn.cycles(spark_deg)));
        Flame {
            plant: self,
            charge,
            ln_speed_ratio,
            residual_fraction: state.residual_fraction,
            ignites_up_to: self.parts.burn.ignites_up_to(state.residual_fraction),
            advanced,
        }
    }

    /// Spark before top dead centre (deg): the rig's setting at idle speeds; from there an
    /// advance that puts half burnt at its best place at lambda 1, warm, and goes along with a
    /// setting that has been changed. Knock, which calls for less, is left out.
    fn spark_deg(&self, state: &OperatingState, ln_speed_ratio: f64) -> f64 {
        let burn = &self.parts.burn;
        let (from, to) = ADVANCE_FROM_TO;
        let ratio = state.speed_rad_s / self.parts.controller.idle_rad_s;
        let t = ((ratio - from) / (to - from)).clamp(0.0, 1.0);
        if t == 0.0 {
            return burn.spark_deg + self.steadying_deg(state.speed_rad_s);
        }
        let pressure_pa = SPARK_PRESSURE_RATIO * state.manifold_pa;
        let warm = Charge::new(SPARK_K, pressure_pa, state.residual_fraction);
        let ln_q =
            self.reference.ln_flame[self.law as usize] - warm.ln_laminar_speed(self.law, 1.0);
        let half_burnt_deg = burn.half_burnt_deg * relative_angle(ln_q, ln_speed_ratio);
        let best_deg = half_burnt_deg - burn.best_deg;
        let turned_deg = burn.spark_deg - self.reference.spark_deg;
        let share = t * t * (3.0 - 2.0 * t);
        let advanced_deg = best_deg.min(ADVANCE_MOST_DEG) + turned_deg;
        let idle_deg = burn.spark_deg + self.steadying_deg(state.speed_rad_s);
        idle_deg + share * (advanced_deg - idle_deg)
    }

    /// How much earlier the spark comes to steady an idle at a speed (rad/s) (deg).
    fn steadying_deg(&self, speed_rad_s: f64) -> f64 {
        let idle_spark = &self.parts.idle_spark;
        if self.spark_steadies {
            idle_spark.earlier_deg(self.idle_target_rad_s - speed_rad_s)
        } else {
            0.0
        }
    }
}

/// The burning of a state's cycles.
pub(crate) struct Flame<'a> {
    plant: &'a Plant,
    charge: Charge,
    ln_speed_ratio: f64,
    residual_fraction: f64,
    /// Mixture up to which every cycle ignites (lambda).
    ignites_up_to: f64,
    /// The work of its cycles where the spark is not the idle's.
    advanced: Option<Box<Cycles>>,
}

/// The mixture of a cycle.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Burning {
    phi: f64,
    lambda: f64,
    /// Work at constant air and best timing, relative to lambda 1.
    pub work: f64,
}

impl Flame<'_> {
    /// A cycle's mixture by its fuel over the stoichiometric.
    fn burning(&self, phi: f64) -> Burning {
        let lambda = 1.0 / phi;
        Burning { phi, lambda, work: relative_work(lambda) }
    }

    /// The work of its cycles.
    pub fn cycles(&self) -> &Cycles {
        self.advanced.as_deref().unwrap_or(&self.plant.idle_cycles)
    }

    /// Angle from spark to half burnt against the reference state's.
    pub fn relative_angle(&self, mixture: Burning) -> f64 {
        let plant = self.plant;
        let ln_speed = self.charge.ln_tabled_speed(plant.tabled, mixture.phi);
        let ln_q = plant.reference.ln_flame[plant.law as usize] - ln_speed;
        relative_angle(ln_q, self.ln_speed_ratio)
    }

    /// Share of cycles of a mixture that ignite.
    pub fn ignited(&self, mixture: Burning) -> f64 {
        if mixture.lambda <= self.ignites_up_to {
            return 1.0;
        }
        1.0 - self.plant.parts.burn.not_ignited(mixture.lambda, self.residual_fraction)
    }

    /// The mixture of one cycle of a cylinder with a mean fuel over the stoichiometric, so many
    /// standard deviations richer.
    pub fn one_mixture(&self, phi: f64, deviate: f64) -> Burning {
        self.burning((phi * (1.0 + self.plant.fuel_scatter * deviate)).max(LEAST_FUEL * phi))
    }

    /// The mixtures of all cylinders' cycles, with weights: the cylinders as the pair that has
    /// the mean, variance and skewness of their fuel, each with the points of a rule about it.
    pub fn over_cycles(
        &self,
        state: &OperatingState,
        rule: &[(f64, f64)],
        mut each: impl FnMut(Burning, f64),
    ) {
        let (_, pair) = pair_of(state.lambdas.iter().map(|lambda| 1.0 / lambda));
        for (phi, share) in pair {
            self.over_cycles_of(phi, rule, |mixture, weight| each(mixture, share * weight));
        }
    }

    /// The same of a cylinder with a mean fuel over the stoichiometric.
    pub fn over_cycles_of(
        &self,
        phi: f64,
        rule: &[(f64, f64)],
        mut each: impl FnMut(Burning, f64),
    ) {
        self.over_scatter(phi, self.plant.fuel_scatter * phi, rule, &mut each);
    }

    /// The same of a mean fuel over the stoichiometric and its scatter.
    fn over_scatter(
        &self,
        phi: f64,
        scatter: f64,
        rule: &[(f64, f64)],
        mut each: impl FnMut(Burning, f64),
    ) {
        for &(x, weight) in rule {
            each(self.burning((phi + scatter * x).max(LEAST_FUEL * phi)), weight);
        }
    }
}
