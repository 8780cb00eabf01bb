//! Which part of the engine a wait is owed to: the same run with each part in turn made
//! quick or taken away, and how much sooner each reading then settles.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::run::{Options, attribution::attribute, procedure};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let screw = procedure::shipped("screw-step").unwrap();
//! let waits = attribute(&setup, &screw, Options::default(), |_| {}).unwrap().unwrap();
//! let (factor, saved_s) = waits.main_factor(0).unwrap(); // of lambda, the first reading
//! println!("without {}: {saved_s:.1} s sooner", factor.name);
//! ```

use super::options::{Options, RunFault};
use super::procedure::Procedure;
use super::record::perform;
use crate::point::READINGS;
use crate::rig::Parts;
use crate::rig::keys::Setup;

/// A part that takes time.
pub struct Factor {
    /// Its name.
    pub name: &'static str,
    /// What is done to it to see what it costs.
    pub without: &'static str,
    /// How the rig is changed.
    change: fn(&mut Parts),
}

/// Every part of the running engine that takes time.
pub static FACTORS: &[Factor] = &[
    Factor {
        name: "film",
        without: "no fuel on the walls",
        change: |p| p.dynamics.film_share = 0.0,
    },
    Factor {
        name: "plate",
        without: "a plate of a seventh of the mass and a third of the damping",
        change: |p| (p.dynamics.plate_kg, p.dynamics.plate_damping_ns_m) = (0.02, 15.0),
    },
    Factor {
        name: "gas",
        without: "no way from cylinder to sensor",
        change: |p| (p.dynamics.pipe_m3, p.dynamics.charge_to_port_rev) = (5e-5, 0.0),
    },
    Factor {
        name: "sensor",
        without: "no lag of the sensor",
        change: |p| p.dynamics.sensor_lag_s = 0.0,
    },
    Factor {
        name: "trim",
        without: "a trim three times as steep",
        change: |p| p.gains.trim_slope_a_s *= 3.0,
    },
    Factor {
        name: "air-valve",
        without: "idle speed control three times as quick",
        change: |p| {
            p.gains.idle_ki *= 3.0;
            p.gains.idle_kp *= 1.5;
            p.dynamics.valve_lag_s /= 3.0;
        },
    },
    Factor {
        name: "learned-trim",
        without: "a fast idle trim of one second",
        change: |p| p.gains.fast_trim_s = 1.0,
    },
    Factor {
        name: "friction",
        without: "no friction of the plunger",
        change: |p| p.pressures.friction_n = 0.0,
    },
];

/// What became of the readings in one of the runs: as many as [`READINGS`], then the learned
/// trim.
#[derive(Clone, Debug, PartialEq)]
pub struct Waits {
    /// How long after the last action each settled (s).
    pub settled_after_s: Vec<Option<f64>>,
    /// Where each ended, in the units of [`crate::point::Reading::value`]; the learned trim
    /// in mA.
    pub ends: Vec<Option<f64>>,
}

/// A run and the same with each factor taken out.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Attribution {
    /// The engine as it is.
    pub whole: Waits,
    /// With each of [`FACTORS`] taken out; `None` where the engine does not last then.
    pub without: Vec<Option<Waits>>,
}

impl Attribution {
    /// The factor whose absence saves a reading most of its wait, and how much (s). `None`
    /// if none saves a tenth of it.
    pub fn main_factor(&self, reading: usize) -> Option<(&'static Factor, f64)> {
        let whole = self.whole.settled_after_s[reading]?;
        FACTORS
            .iter()
            .zip(&self.without)
            .filter_map(|(factor, waits)| {
                Some((factor, whole - waits.as_ref()?.settled_after_s[reading]?))
            })
            .filter(|(_, saved)| *saved > 0.1 * whole)
            .max_by(|a, b| a.1.total_cmp(&b.1))
    }
}

/// Runs a procedure on the engine as it is and with each factor taken out. `progress`
/// gets the share done.
pub fn attribute(
    setup: &Setup,
    procedure: &Procedure,
    options: Options,
    mut progress: impl FnMut(f64),
) -> Result<Option<Attribution>, RunFault> {
    let runs = (FACTORS.len() + 1) as f64;
    let mut waits = |setup: &Setup, done: usize| {
        let report = |share: f64| progress((done as f64 + share) / runs);
        let record = perform(setup, procedure, options, 10, report)?;
        let learned_ma = record.rows.last().map(|row| 1e3 * row.learned_a);
        Ok::<_, RunFault>(record.last.map(|last| {
            Waits {
                settled_after_s: record
                    .settled_after_s
                    .iter()
                    .copied()
                    .chain([record.learned_settled_after_s])
                    .collect(),
                ends: READINGS
                    .iter()
                    .map(|reading| reading.value(&last))
                    .chain([learned_ma])
                    .collect(),
            }
        }))
    };
    let Some(whole) = waits(setup, 0)? else { return Ok(None) };
    let mut without = Vec::new();
    for (i, factor) in FACTORS.iter().enumerate() {
        // A part that cannot be left out on this rig is left as it is.
        without.push(match setup.rig.with_parts_beyond_ranges(factor.change) {
            Ok(rig) => waits(&Setup { rig, ..*setup }, i + 1).unwrap_or(None),
            Err(_) => None,
        });
    }
    Ok(Some(Attribution { whole, without }))
}
