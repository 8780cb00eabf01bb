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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::assembly::Parts;
    use crate::conditions::Conditions;
    use crate::engine::idle_spark::IdleSpark;
    use crate::rig::shipped::{SHIPPED, shipped};
    use crate::sense::faults::ThrottleSwitch;

    /// A warm engine with parts changed, under conditions.
    fn engine(name: &str, conditions: Conditions, change: impl FnOnce(&mut Parts)) -> Plant {
        let rig = shipped(name).unwrap().rig;
        let mut parts = *rig.parts();
        parts.idle_spark = IdleSpark::default();
        change(&mut parts);
        Plant::new(&parts, rig.reference(), &conditions)
    }

    /// Spark before top dead centre, and where half of lambda 1 is burnt after it (deg), at so
    /// many times the idle's speed and a manifold pressure (Pa).
    fn spark_and_half_burnt(plant: &Plant, speeds: f64, manifold_pa: f64) -> (f64, f64) {
        let speed_rad_s = speeds * plant.parts.controller.idle_rad_s;
        let state = plant.at_pressure(manifold_pa, speed_rad_s, 1.0);
        let flame = plant.flame(&state);
        let spark_deg = flame.cycles().spark_deg;
        let half_deg = plant.parts.burn.half_burnt_deg * flame.relative_angle(flame.burning(1.0));
        (spark_deg, half_deg - spark_deg)
    }

    /// Half burnt 8 to 10 deg after top dead centre gives the most torque (Heywood 1988, 9.2,
    /// from memory): from twice the idle's speed up the advance puts it where the model has its
    /// most, whatever speed and load, and never earlier than 50 deg; at idle speeds the spark
    /// is the rig's; half-way between it is half-way.
    #[test]
    fn the_advance_goes_from_the_rig_s_spark_at_idle_to_half_burnt_at_its_best_place() {
        for (name, _) in SHIPPED {
            let plant = engine(name, Conditions::default(), |_| {});
            let burn = &plant.parts.burn;
            assert!((7.0..11.0).contains(&burn.best_deg), "{name}: best {} deg", burn.best_deg);
            for (speeds, manifold_pa) in [(2.0, 60e3), (2.5, 80e3), (4.0, 95e3), (6.0, 95e3)] {
                let (spark_deg, half_deg) = spark_and_half_burnt(&plant, speeds, manifold_pa);
                let at = format!("{name}, {speeds} times idle, {manifold_pa} Pa: {spark_deg} deg");
                assert!(spark_deg < 50.0 && (half_deg - burn.best_deg).abs() < 0.1, "{at}");
            }
            for speeds in [0.6, 1.0, 1.5] {
                assert_eq!(spark_and_half_burnt(&plant, speeds, 35e3).0, burn.spark_deg, "{name}");
            }
            // Slow and thin: no earlier than the most.
            let (spark_deg, half_deg) = spark_and_half_burnt(&plant, 5.0, 25e3);
            assert!(spark_deg == 50.0 && half_deg > burn.best_deg, "{name}: {spark_deg} deg");
            // Half-way in speed between the two.
            let (spark_deg, half_deg) = spark_and_half_burnt(&plant, 1.75, 60e3);
            let best_deg = half_deg + spark_deg - burn.best_deg;
            let off_deg = spark_deg - 0.5 * (burn.spark_deg + best_deg);
            assert!(off_deg.abs() < 0.1, "{name}: {off_deg} deg off the middle");
        }
    }

    /// A distributor turned by 4 deg shifts the spark by as much at every speed, beyond the most
    /// of its own advance, too.
    #[test]
    fn a_turned_distributor_shifts_the_spark_as_much_at_every_speed() {
        let at = |turned_deg: f64, speeds: f64, manifold_pa: f64| {
            let turned = |parts: &mut Parts| parts.burn.spark_deg += turned_deg;
            let plant = engine("six", Conditions::default(), turned);
            spark_and_half_burnt(&plant, speeds, manifold_pa).0
        };
        for (speeds, manifold_pa) in [(1.0, 35e3), (1.6, 60e3), (2.5, 80e3), (5.0, 25e3)] {
            let shifted_deg = at(4.0, speeds, manifold_pa) - at(0.0, speeds, manifold_pa);
            assert!((shifted_deg - 4.0).abs() < 0.05, "{speeds}: {shifted_deg} deg");
        }
    }

    /// Half a degree for each rad/s, six at most: with the idle switch closed the spark comes
    /// earlier below the speed asked for, a third as much later above it, and pulls the engine
    /// back; with an open throttle, the pedal, a switch that never closes, or a linkage that
    /// holds it open, it stays.
    #[test]
    fn the_idle_spark_pulls_towards_the_speed_asked_for_while_the_switch_is_closed() {
        let spark = IdleSpark { deg_per_rad_s: 0.5, most_deg: 6.0 };
        let steadied =
            |conditions: Conditions| engine("six", conditions, |parts| parts.idle_spark = spark);
        let moved = |plant: &Plant, by_rad_s: f64| {
            let speeds = (plant.idle_target_rad_s + by_rad_s) / plant.parts.controller.idle_rad_s;
            spark_and_half_burnt(plant, speeds, 35e3).0 - plant.parts.burn.spark_deg
        };
        let closed = steadied(Conditions::default());
        for (by_rad_s, earlier_deg) in
            [(-30.0, 6.0), (-4.0, 2.0), (0.0, 0.0), (2.0, -1.0), (30.0, -2.0)]
        {
            let found_deg = moved(&closed, by_rad_s);
            assert!((found_deg - earlier_deg).abs() < 1e-9, "{by_rad_s} rad/s: {found_deg} deg");
        }
        // It still comes later where the advance has begun: half of it at the middle.
        let plain = engine("six", Conditions::default(), |_| {});
        let of = |plant: &Plant| spark_and_half_burnt(plant, 1.75, 60e3).0;
        assert!((of(&closed) - of(&plain) + 1.0).abs() < 0.05, "{} deg", of(&closed) - of(&plain));
        // Earlier gives more torque at idle: it pulls back.
        let torque = |plant: &Plant, by_rad_s: f64| {
            let speed_rad_s = plant.idle_target_rad_s + by_rad_s;
            plant.mean_torque(&plant.at_pressure(35e3, speed_rad_s, 1.0))
        };
        assert!(torque(&closed, -10.0) > torque(&plain, -10.0));
        assert!(torque(&closed, 10.0) < torque(&plain, 10.0));
        // A speed that is asked for is what it steadies at.
        let faster = steadied(Conditions { speed_rad_s: Some(100.0), ..Conditions::default() });
        assert!((moved(&faster, 100.0 - 4.0 - faster.idle_target_rad_s) - 2.0).abs() < 1e-9);
        let mut no_idle = Conditions::default();
        no_idle.faults.throttle_switch = ThrottleSwitch::NoIdle;
        for open in [
            Conditions { throttle: 0.05, ..Conditions::default() },
            Conditions { pedal_holds_speed: true, ..Conditions::default() },
            Conditions { linkage_play_m: -2e-3, ..Conditions::default() },
            no_idle,
        ] {
            assert_eq!(moved(&steadied(open), -10.0), 0.0, "{open:?}");
        }
    }
}
