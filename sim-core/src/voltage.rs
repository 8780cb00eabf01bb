//! What if the potentiometer is left at another voltage: the same car driven with its housing
//! turned until the warm idle shows it.
//!
//! On a warm engine with a closed loop nothing is to be seen. The controller takes its air flow
//! from the voltage, so it gives a cold engine too little or too much, answers the pedal wrongly
//! and keeps what it learns in the wrong cells.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let high = sim_core::voltage::left_at(&setup, 0.85, -5.0).unwrap();
//! assert!(high.seen_over_true > 1.2); // it takes the idle's air for more than it is
//! ```

use crate::conditions::Conditions;
use crate::control::cells::CELLS;
use crate::control::trim::warm_up_share;
use crate::drive::{Drive, engine_demand};
use crate::relearn::{first_cells, relearn};
use crate::rig::keys::Setup;
use crate::run::trial::{Trial, trial};
use crate::run::{Options, RunFault};
use crate::steady::SteadyEngine;
use crate::units::ZERO_CELSIUS_K;

/// Starts after the memory is cleared that are looked at.
const STARTS: usize = 40;
/// The mixture just after the start is read from and to so long after the catch (s).
const AFTER_CATCH_S: (f64, f64) = (4.0, 6.0);
/// Length of the drive between them (s).
const DRIVE_S: f64 = 780.0;

/// A car with its potentiometer left at a voltage.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct LeftAt {
    /// Voltage of the warm idle (V).
    pub potentiometer_v: f64,
    /// Turn of the housing for it, in plate height (m).
    pub housing_m: f64,
    /// Air flow that the controller takes the warm idle for, over what it is.
    pub seen_over_true: f64,
    /// Share of what a cold idle is given on top beside what is right for it.
    pub cold_share: f64,
    /// Mean mixture of the fifth and sixth second after the cold engine has caught.
    pub cold_lambda_after_catch: Option<f64>,
    /// The drive from a cold start.
    pub cold: Trial,
    /// The same drive, warm.
    pub warm: Trial,
    /// What the cells hold at the end (A), and from which start none of them moves.
    pub cells_a: [f64; CELLS],
    /// See `cells_a`.
    pub settled_at: Option<usize>,
    /// Time that each cell learns in a drive (s).
    pub learned_s: [f64; CELLS],
}

/// What comes of leaving the warm idle at a voltage (V); the cold start is at an ambient
/// temperature (degC).
pub fn left_at(setup: &Setup, potentiometer_v: f64, cold_degc: f64) -> Result<LeftAt, RunFault> {
    let steady = |setup: &Setup| SteadyEngine::new(&setup.rig, &setup.conditions);
    let mut setup = *setup;
    setup.conditions.housing_shift_m = 0.0;
    let (settled, _) =
        steady(&setup).settle(setup.conditions.screw_turns).map_err(RunFault::NoStart)?;
    let height_m = settled.state.height_m;
    let shown_m = setup.rig.parts().potentiometer.height_m(potentiometer_v);
    setup.conditions.housing_shift_m = shown_m - height_m;
    let engine = steady(&setup);
    let (plant, conditions) = engine.parts();
    let seen_over_true =
        plant.seen_air_kg_s(conditions, height_m) / plant.air_by_height_kg_s(height_m);
    let cold_k = cold_degc + ZERO_CELSIUS_K;
    let cold = Setup {
        conditions: Conditions {
            ambient_k: cold_k,
            coolant_k: cold_k,
            fuel_k: cold_k.min(setup.conditions.fuel_k),
            ..setup.conditions
        },
        ..setup
    };
    let asked = engine_demand(&setup, &Drive::urban(DRIVE_S));
    let cells = first_cells(&setup, false, &asked);
    let learned = relearn(&setup, cells, &asked, (STARTS, false), Options::default(), |_| {})?;
    let last = learned.starts.last().copied().unwrap_or_default();
    let cold_drive = trial(&cold, Options::default())?;
    Ok(LeftAt {
        cold_share: warm_up_share(seen_over_true),
        cold_lambda_after_catch: after_catch(&cold_drive),
        potentiometer_v,
        housing_m: setup.conditions.housing_shift_m,
        seen_over_true,
        cold: cold_drive,
        warm: trial(&setup, Options::default())?,
        cells_a: last.cells_a,
        settled_at: learned.settled_at,
        learned_s: last.learned_s,
    })
}

/// Mean mixture of some seconds after an engine has caught; `None` if it did not or has died.
fn after_catch(drive: &Trial) -> Option<f64> {
    let caught_s = drive.start.caught_after_s?;
    let (from, to) = AFTER_CATCH_S;
    let within = |time_s: f64| (caught_s + from..caught_s + to).contains(&time_s);
    let rows = drive.start.rows.iter().filter(|row| within(row[0]));
    let (sum, count) = rows.fold((0.0, 0.0), |(s, n), row| (s + row[2], n + 1.0));
    (count > 0.0).then(|| sum / count)
}
