//! The restart of an engine that has stood: try after try, until it runs, and until it runs on
//! all its lines.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::run::restart::restart;
//! let mut conditions = Conditions::closed_loop();
//! conditions.fuel_side.stood_s = 1200.0;
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions };
//! let found = restart(&setup, 60.0).unwrap();
//! assert!(found.caught_after_s.unwrap() < 2.0 && found.tries == 1);
//! ```

use super::engine::Engine;
use super::options::{Options, RunFault};
use super::start::{PAUSE_S, TRY_S};
use crate::rig::keys::Setup;

/// An engine that caught is looked at for so long whether it runs on and is smooth (s).
const LOOKED_S: f64 = 50.0;

/// More tries than any driver makes, however short each is.
const TRIES_MOST: u32 = 60;

/// How an engine came back to life.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[must_use]
pub struct Restart {
    /// Seconds that the starter turned before it caught and ran on, all tries together.
    pub caught_after_s: Option<f64>,
    /// Seconds that the starter turned until it was let go of for good, all tries together: a
    /// driver holds it on while it still carries the engine.
    pub let_go_after_s: Option<f64>,
    /// How many tries that took, or were made.
    pub tries: u32,
    /// How long it then ran on fewer than all its lines (s), from when the starter was let go.
    pub rough_s: Option<f64>,
}

/// Starts an engine that has stood, as a driver would, for at most so much cranking (s) and at
/// most 60 tries.
///
/// Each try is one of [`super::start::tries`], and the first of them is [`super::start::start`]:
/// the key, the pump's run at key on, the starter, a rest.
pub fn restart(setup: &Setup, cranks_s: f64) -> Result<Restart, RunFault> {
    let mut engine = Engine::standing(setup, Options::default());
    let mut found = Restart::default();
    let mut cranked_s = 0.0;
    while cranked_s < cranks_s && found.tries < TRIES_MOST {
        found.tries += 1;
        engine.turn_key()?;
        let from_s = engine.time_s();
        let since = |engine: &Engine| engine.time_s() - from_s;
        // Since when all lines have been full.
        let mut full_s = None;
        let mut go_on = |engine: &mut Engine| -> Result<(), RunFault> {
            engine.tick()?;
            full_s = (engine.lines_short() == 0).then(|| full_s.unwrap_or(since(engine)));
            Ok(())
        };
        while engine.is_cranking() && since(&engine) < TRY_S {
            go_on(&mut engine)?;
        }
        let caught_s = engine.starts.and_then(|starts| starts.caught_at_s).map(|at| at - from_s);
        if let Some(caught_s) = caught_s {
            let mut let_go_s = caught_s;
            while engine.stalled_at_s().is_none() && since(&engine) < caught_s + LOOKED_S {
                go_on(&mut engine)?;
                if let Some(at_s) = engine.starts.and_then(|starts| starts.let_go_at_s) {
                    let_go_s = at_s - from_s;
                }
            }
            if engine.stalled_at_s().is_none() {
                found.caught_after_s = Some(cranked_s + caught_s);
                found.let_go_after_s = Some(cranked_s + let_go_s);
                found.rough_s = full_s.map(|full| (full - let_go_s).max(0.0));
                return Ok(found);
            }
        }
        cranked_s += caught_s.unwrap_or(TRY_S);
        engine.give_up(PAUSE_S)?;
    }
    Ok(found)
}
