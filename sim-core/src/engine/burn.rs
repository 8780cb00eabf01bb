//! Burning that is late, slow and scattered: what it costs in work, and the roughness and
//! lost cycles it makes.

use super::late::{self, ANGLES, LEAST_DEG, MOST_DEG, STEP_DEG, work_by_angle};
use super::scatter::FIVE;
use crate::maths::normal_share_below;
use crate::solve::{EvenCurves, even_curve_at};

/// A cycle that makes less than this share of the best work counts as lost.
pub const MISFIRE_BELOW: f64 = 0.1;
/// Width of the lean ignition limit in lambda.
pub const IGNITION_WIDTH: f64 = 0.04;
/// Width of the dilution limit in gas-fuel ratio.
pub const GAS_FUEL_WIDTH: f64 = 0.8;
/// Standard deviations that no cycle in 10^9 passes.
const SURELY: f64 = 6.0;
/// Standard deviations below which all cycles lie, to the last digit.
const ALL: f64 = 8.5;
/// Stoichiometric air-fuel ratio of the petrol that the dilution limit is given for.
pub const PETROL_AIR_FUEL: f64 = 14.575;

/// Constants of the burn. Each mechanism has its own, and a value that switches it off.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Burn {
    /// Spark advance before top dead centre at idle (deg).
    pub spark_deg: f64,
    /// From spark to half burnt at lambda 1, warm idle (deg).
    pub half_burnt_deg: f64,
    /// Best place of the half-burnt point after top dead centre (deg).
    pub best_deg: f64,
    /// Loss of torque for a half-burnt point away from the best, where the work goes by the
    /// parabola [1/deg2].
    pub lateness_per_deg2: f64,
    /// How much of the work goes by volume, the rest by the parabola: 1 all, 0 none.
    pub volume_work: f64,
    /// Scatter of the angle from spark to half burnt at lambda 1, warm idle (deg); 0: none.
    pub scatter_deg: f64,
    /// Exponent with which that scatter grows with the angle; 1: in proportion.
    pub scatter_exponent: f64,
    /// Scatter of the fuel from cycle to cycle, rms share; 0: none.
    pub fuel_scatter: f64,
    /// Scatter of the charge's mass from cycle to cycle, rms share; 0: none.
    pub charge_scatter: f64,
    /// Mixture at which half of the cycles no longer ignite (lambda).
    pub ignition_limit: f64,
    /// Gas-fuel ratio at which half of the cycles no longer ignite.
    pub gas_fuel_limit: f64,
    /// How much colder the charge is at the spark for each kelvin of coolant below 90 degC.
    pub cold_charge: f64,
    /// Scatter of the fuel added by the share of it that is liquid; 0: none.
    pub liquid_scatter: f64,
}

/// How long a charge takes to burn against the reference state: angle from spark to half burnt
/// over that at lambda 1, warm idle.
///
/// Equation: `r = (N/N_idle)^(1/3) q^(2/3)`, `q = S(lambda 1, warm idle) / S`. Symbols: `N`
/// engine speed, `S` laminar flame speed. Source: `D ~ S_p^(1/3) (h/S_L)^(2/3)`, Hires,
/// Tabaczynski & Novak, SAE 780232; Heywood 1988, sect. 9.3 (from memory).
pub fn relative_angle(ln_q: f64, ln_speed_ratio: f64) -> f64 {
    ((2.0 / 3.0) * ln_q + (1.0 / 3.0) * ln_speed_ratio).exp()
}

/// Moments of the work of a cycle of known mixture whose burn scatters.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Cycle {
    /// Mean work relative to the best timing.
    pub mean: f64,
    /// Mean of its square.
    pub square: f64,
    /// Share of cycles that make [`MISFIRE_BELOW`] of it or more.
    pub fired: f64,
}

/// The burn of one cycle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneBurn {
    /// Work relative to the best timing.
    pub work: f64,
    /// Whether it makes less than [`MISFIRE_BELOW`].
    pub lost: bool,
}

/// [`Cycle`] by the angle from spark to half burnt, for one spark.
#[derive(Clone, Debug)]
pub struct Cycles {
    /// Spark it is worked out for (deg before top dead centre).
    pub spark_deg: f64,
    burn: Burn,
    work: late::Row,
    /// Mean and variance over the scatter, where many mixtures will ask for them.
    averaged: Option<Box<EvenCurves<2, ANGLES>>>,
    /// Angle from which on a cycle counts as lost (deg).
    lost_deg: f64,
    /// Angle up to which no cycle in 10^9 is lost (deg).
    none_lost_deg: f64,
}

impl Burn {
    /// Scatter (deg) of the angle from spark to half burnt at a relative angle.
    ///
    /// Equation: `sigma = sigma_0 r^m`. Valid range: `r` 0.3 to 3. Source: scatter grows
    /// faster than the burn lengthens, `m` 1.5 to 2.5 (Young, SAE 810020; Matekunas, SAE
    /// 830337; Ozdor, Dulger & Sher, SAE 940987; from memory).
    pub fn scatter_at_deg(&self, relative: f64) -> f64 {
        self.scatter_deg * relative.powf(self.scatter_exponent)
    }

    /// Work of a cycle that takes an angle (deg) to half burnt, by that angle.
    pub fn work_by_angle(&self, spark_deg: f64) -> late::Row {
        let share = self.volume_work;
        let mut row = work_by_angle(spark_deg);
        if share < 1.0 {
            for (i, work) in row.iter_mut().enumerate() {
                let lateness = LEAST_DEG + STEP_DEG * i as f64 - spark_deg - self.best_deg;
                let parabola = (1.0 - self.lateness_per_deg2 * lateness * lateness).max(0.0);
                *work = share * *work + (1.0 - share) * parabola;
            }
        }
        row
    }

    /// The work of scattered cycles for a spark (deg before top dead centre): the work of
    /// each angle, averaged over normal scatter at five Gauss-Hermite points.
    pub fn cycles(&self, spark_deg: f64) -> Cycles {
        let work = self.work_by_angle(spark_deg);
        let lost_deg = lost_from_deg(&work);
        Cycles { spark_deg, burn: *self, work, averaged: None, lost_deg, none_lost_deg: 0.0 }
    }

    /// Share of cycles that do not ignite: too lean, or too diluted.
    ///
    /// Equation: `1 - (1 - Phi((lambda - lambda_l)/0.04)) (1 - Phi((G - G_l)/0.8))`,
    /// `G = (14.575 lambda + 1)/(1 - x_r)`. Symbols: `G` gas-fuel ratio (mass of air, fuel
    /// and burnt gas for each mass of petrol), `x_r` burnt share. Valid range: all.
    /// Source: limits by gas-fuel ratio are common practice in work on dilution (from memory);
    /// the widths are our own.
    pub fn not_ignited(&self, lambda: f64, residual_fraction: f64) -> f64 {
        let gas_fuel = (PETROL_AIR_FUEL * lambda + 1.0) / (1.0 - residual_fraction);
        let below = |t: f64| match t {
            _ if t < -SURELY => 0.0,
            _ if t > ALL => 1.0,
            _ => normal_share_below(t),
        };
        let lean = below((lambda - self.ignition_limit) / IGNITION_WIDTH);
        if lean == 1.0 {
            return 1.0;
        }
        let diluted = below((gas_fuel - self.gas_fuel_limit) / GAS_FUEL_WIDTH);
        1.0 - (1.0 - lean) * (1.0 - diluted)
    }
}

impl Burn {
    /// Mixture (lambda) up to which every cycle ignites: see [`Burn::not_ignited`].
    pub fn ignites_up_to(&self, residual_fraction: f64) -> f64 {
        let gas_fuel = self.gas_fuel_limit - SURELY * GAS_FUEL_WIDTH;
        let diluted = (gas_fuel * (1.0 - residual_fraction) - 1.0) / PETROL_AIR_FUEL;
        diluted.min(self.ignition_limit - SURELY * IGNITION_WIDTH)
    }
}

impl Cycles {
    /// The same with the averages over the scatter worked out at every angle of the table, for
    /// a spark that many mixtures burn with.
    pub fn averaged(mut self) -> Cycles {
        let mut moments = [[0.0; 2]; ANGLES];
        for (i, moments) in moments.iter_mut().enumerate() {
            let angle_deg = LEAST_DEG + STEP_DEG * i as f64;
            let relative = angle_deg / self.burn.half_burnt_deg;
            let scatter_deg = self.burn.scatter_at_deg(relative);
            *moments = self.moments(angle_deg, scatter_deg).into();
            if self.lost_deg - angle_deg > SURELY * scatter_deg {
                self.none_lost_deg = angle_deg;
            }
        }
        self.averaged = Some(Box::new(EvenCurves::new(&moments)));
        self
    }

    /// Mean and variance of the work at an angle with a scatter (deg).
    fn moments(&self, angle_deg: f64, scatter_deg: f64) -> (f64, f64) {
        let (mut mean, mut square) = (0.0, 0.0);
        for (x, weight) in FIVE {
            let y = work_at(&self.work, angle_deg + scatter_deg * x).max(0.0);
            mean += weight * y;
            square += weight * y * y;
        }
        (mean, (square - mean * mean).max(0.0))
    }

    fn moments_at(&self, relative: f64) -> (f64, f64) {
        self.moments(self.burn.half_burnt_deg * relative, self.burn.scatter_at_deg(relative))
    }

    /// Mean work at a relative angle: the first of [`Cycles::at`], for the balance.
    pub fn mean_at(&self, relative: f64) -> f64 {
        match &self.averaged {
            Some(curves) => {
                by_angle(self.burn.half_burnt_deg * relative, |place| curves.at(place))[0]
            }
            None => self.moments_at(relative).0,
        }
    }

    /// Moments of the work at a relative angle, and the share of cycles that are not lost.
    pub fn at(&self, relative: f64) -> Cycle {
        let angle_deg = self.burn.half_burnt_deg * relative;
        let (mean, variance) = match &self.averaged {
            Some(curves) => by_angle(angle_deg, |place| curves.at(place)).into(),
            None => self.moments_at(relative),
        };
        let fired =
            if angle_deg <= self.none_lost_deg { 1.0 } else { self.fired(relative, angle_deg) };
        Cycle { mean, square: mean * mean + variance.max(0.0), fired }
    }

    /// One cycle at a relative angle, so many standard deviations slower than the mean: the
    /// moments of [`Cycles::at`] are the means over a standard normal deviate.
    pub fn one(&self, relative: f64, deviate: f64) -> OneBurn {
        let scatter_deg = self.burn.scatter_at_deg(relative);
        let angle_deg = self.burn.half_burnt_deg * relative + scatter_deg * deviate;
        OneBurn { work: work_at(&self.work, angle_deg).max(0.0), lost: angle_deg > self.lost_deg }
    }

    fn fired(&self, relative: f64, angle_deg: f64) -> f64 {
        let spare_deg = self.lost_deg - angle_deg;
        let scatter_deg = self.burn.scatter_at_deg(relative);
        if spare_deg > SURELY * scatter_deg {
            1.0
        } else {
            normal_share_below(spare_deg / scatter_deg.max(1e-9))
        }
    }
}

/// Values at an angle (deg), by what stands at a place of the table. Below the table its first;
/// above, what is burnt when the valve opens falls with the power of the burn's S-curve.
fn by_angle<const M: usize>(angle_deg: f64, table: impl Fn(f64) -> [f64; M]) -> [f64; M] {
    let inside_deg = angle_deg.clamp(LEAST_DEG, MOST_DEG);
    let values = table((inside_deg - LEAST_DEG) / STEP_DEG);
    if angle_deg > MOST_DEG {
        let left = (MOST_DEG / angle_deg).powf(late::SHAPE);
        return values.map(|value| value * left);
    }
    values
}

/// A row's value at an angle (deg).
fn work_at(row: &late::Row, angle_deg: f64) -> f64 {
    by_angle(angle_deg, |place| [even_curve_at(row, place)])[0]
}

/// Angle (deg) from which on a cycle makes less than [`MISFIRE_BELOW`].
fn lost_from_deg(work: &late::Row) -> f64 {
    match (1..ANGLES).rev().find(|&i| work[i - 1] >= MISFIRE_BELOW) {
        // Still above it at the table's end: on along its tail.
        Some(i) if work[i] >= MISFIRE_BELOW => {
            MOST_DEG * (work[i] / MISFIRE_BELOW).powf(1.0 / late::SHAPE)
        }
        Some(i) => {
            let share = (work[i - 1] - MISFIRE_BELOW) / (work[i - 1] - work[i]);
            LEAST_DEG + STEP_DEG * (i as f64 - 1.0 + share)
        }
        None => LEAST_DEG,
    }
}
