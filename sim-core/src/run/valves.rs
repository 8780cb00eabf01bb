//! Which idle air valve still catches the engine when the pedal is let go.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! use sim_core::{run::valves::release, units::Unit};
//! let found = release(&setup, 4e-3, Unit::Rpm.to_si(2500.0), (0.0, 0.0)).unwrap();
//! assert!(found.caught && found.lowest_rad_s < found.rebound_rad_s);
//! ```

use super::action::Action;
use super::driver_input::DriverInput;
use super::engine::Engine;
use super::options::{Options, RunFault, TICK_S};
use super::stall_cause::StallCause;
use crate::conditions::{Conditions, Trim};
use crate::point::Stall;
use crate::rig::keys::Setup;

/// When the throttle is opened (s), and how long after that the engine is looked at.
const BLIP_AT_S: f64 = 2.0;
/// See [`BLIP_AT_S`].
const LOOKS_S: f64 = 14.0;
/// Ticks from row to row of the speed's trace.
const ROW_TICKS: u64 = 5;
/// How near a threshold is found (m).
const NEAR_M: f64 = 2e-6;
/// Phases of the release tried for a band: shares of a tick at which the controller decides,
/// and how much faster than asked the engine is let go (rad/s).
pub const PHASES: [(f64, f64); 8] = [
    (0.0, 0.0),
    (0.25, 0.0),
    (0.5, 0.0),
    (0.75, 0.0),
    (0.0, 1.0),
    (0.25, 1.0),
    (0.5, 1.0),
    (0.75, 1.0),
];

/// What became of the engine after a release.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Release {
    /// Gap of the valve (m).
    pub gap_m: f64,
    /// Whether it ran on.
    pub caught: bool,
    /// When it stalled after the release, if it did (s).
    pub stalled_after_s: Option<f64>,
    /// Why it stalled, if it did.
    pub stalled_because: Option<StallCause>,
    /// Why it did not even idle before, if it did not.
    pub no_idle: Option<Stall>,
    /// Least speed after the release (rad/s).
    pub lowest_rad_s: f64,
    /// Largest speed of the rebound after that (rad/s).
    pub rebound_rad_s: f64,
    /// Richest mixture drawn in after the overrun, while the speed fell.
    pub richest_lambda: f64,
    /// Air past the plate over air into the cylinders, the most of it meanwhile: what fills
    /// the manifold is metered, too, and its fuel with it.
    pub plate_over_cylinders: f64,
    /// Manifold pressure at the release's lowest (Pa) and at the end of the fall (Pa).
    pub refill_pa: (f64, f64),
    /// Time from the release (s) and speed (rad/s).
    pub rows: Vec<(f64, f64)>,
}

/// Lets the engine go from a speed with a valve of a gap. `phase` as in [`PHASES`].
pub fn release(
    setup: &Setup,
    gap_m: f64,
    from_rad_s: f64,
    phase: (f64, f64),
) -> Result<Release, RunFault> {
    let mut found = Release {
        gap_m,
        caught: false,
        stalled_after_s: None,
        stalled_because: None,
        no_idle: None,
        lowest_rad_s: f64::INFINITY,
        rebound_rad_s: 0.0,
        richest_lambda: f64::INFINITY,
        plate_over_cylinders: 0.0,
        refill_pa: (f64::INFINITY, 0.0),
        rows: Vec::new(),
    };
    let Ok(rig) = setup.rig.with_parts_beyond_ranges(|parts| parts.idle_valve.gap_m = gap_m) else {
        return Ok(found);
    };
    let conditions = Conditions { trim: Trim::Off, ..setup.conditions };
    let options = Options { decides_at: phase.0, ..Options::default() };
    let mut engine = match Engine::new(&Setup { rig, conditions }, options) {
        Err(RunFault::NoStart(why)) => {
            return Ok(Release { no_idle: Some(why), stalled_after_s: Some(0.0), ..found });
        }
        other => other?,
    };
    let blip_at = (BLIP_AT_S / TICK_S).round() as u64;
    let mut let_go_s = None;
    for tick in 0..((BLIP_AT_S + LOOKS_S) / TICK_S).round() as u64 {
        if tick == blip_at {
            let blip = Action::Blip(from_rad_s + phase.1);
            engine.apply(&blip).map_err(|why| RunFault::Refused { time_s: BLIP_AT_S, why })?;
        }
        engine.tick()?;
        let time_s = engine.time_s();
        if tick > blip_at && engine.driver() == DriverInput::Off {
            let_go_s.get_or_insert(time_s);
        }
        let Some(let_go_s) = let_go_s else {
            if engine.stalled_at_s().is_some() {
                break;
            }
            continue;
        };
        if let Some(at) = engine.stalled_at_s() {
            found.stalled_after_s = Some(at - let_go_s);
            found.stalled_because = engine.stalled_because();
            found.rows.push((at - let_go_s, engine.speed_rad_s()));
            found.lowest_rad_s = engine.speed_rad_s();
            break;
        }
        let speed = engine.speed_rad_s();
        if speed < found.lowest_rad_s {
            (found.lowest_rad_s, found.rebound_rad_s) = (speed, speed);
        }
        found.rebound_rad_s = found.rebound_rad_s.max(speed);
        if tick % ROW_TICKS == 0 {
            found.rows.push((time_s - let_go_s, speed));
        }
        let flow = engine.flow();
        if !engine.fuel_is_cut() && speed < 0.6 * from_rad_s && found.rebound_rad_s <= speed {
            found.richest_lambda = found.richest_lambda.min(flow.lambda);
            let share = flow.plate_kg_s / flow.cylinders_kg_s;
            found.plate_over_cylinders = found.plate_over_cylinders.max(share);
            found.refill_pa.1 = flow.manifold_pa;
        }
        found.refill_pa.0 = found.refill_pa.0.min(flow.manifold_pa);
    }
    found.caught = let_go_s.is_some() && found.stalled_after_s.is_none();
    if !found.caught {
        found.rebound_rad_s = 0.0;
        found.stalled_after_s.get_or_insert(0.0);
    }
    Ok(found)
}

/// The smallest gap that catches between one that does not and one that does (m), to
/// two thousandths of a millimetre. Where catching is not monotone in the gap it is one of the thresholds.
pub fn smallest_catching_m(
    setup: &Setup,
    (mut loses_m, mut catches_m): (f64, f64),
    from_rad_s: f64,
    phase: (f64, f64),
) -> Result<f64, RunFault> {
    while catches_m - loses_m > NEAR_M {
        let middle_m = 0.5 * (loses_m + catches_m);
        if release(setup, middle_m, from_rad_s, phase)?.caught {
            catches_m = middle_m;
        } else {
            loses_m = middle_m;
        }
    }
    Ok(catches_m)
}
