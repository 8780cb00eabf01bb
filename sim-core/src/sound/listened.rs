//! Some seconds of an engine, run and made heard.

use super::beat::BEAT;
use crate::point::Stall;
use crate::rig::keys::Setup;
use crate::run::stall_cause::StallCause;
use crate::run::{Engine, Firing, Options, RunFault, TICK_S};

/// Samples a second.
pub const RATE_HZ: u32 = 44_100;
/// How long a sound goes on after a stall (s): the last beat dies away.
const DIES_AWAY_S: f64 = 0.3;

/// Some seconds of an engine, heard.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Listened {
    /// What fired.
    pub firings: Vec<Firing>,
    /// The sound, of full scale 1, [`RATE_HZ`] samples a second.
    pub samples: Vec<f32>,
    /// Crank speed at every tick (rad/s), until it stalled.
    pub speeds_rad_s: Vec<f64>,
    /// Roughness of the settled point by its closed form, COV of imep, if it runs.
    pub cov: Option<f64>,
    /// Cylinders.
    pub cylinders: usize,
    /// When it stalled, if it did (s): the sound ends there.
    pub stalled_at_s: Option<f64>,
    /// Why, if it did on the way.
    pub stalled_because: Option<StallCause>,
    /// Why it did not even run to begin with, if it did not.
    pub no_start: Option<Stall>,
}

/// Listens to an engine for some seconds, from its settled point on.
pub fn listen(setup: &Setup, seed: u64, lasts_s: f64) -> Result<Listened, RunFault> {
    let cylinders = setup.rig.parts().slits.width_m.len();
    let mut heard = Listened {
        firings: Vec::new(),
        samples: Vec::new(),
        speeds_rad_s: Vec::new(),
        cov: None,
        cylinders,
        stalled_at_s: None,
        stalled_because: None,
        no_start: None,
    };
    let options = Options { works: true, seed, ..Options::default() };
    match Engine::new(setup, options) {
        Err(RunFault::NoStart(why)) => {
            (heard.no_start, heard.stalled_at_s) = (Some(why), Some(0.0));
        }
        engine => heard.run(engine?, lasts_s)?,
    }
    let sounds_s = heard.stalled_at_s.map_or(lasts_s, |at| lasts_s.min(at + DIES_AWAY_S));
    heard.samples = BEAT.samples(&heard.firings, sounds_s, f64::from(RATE_HZ));
    Ok(heard)
}

impl Listened {
    fn run(&mut self, mut engine: Engine, lasts_s: f64) -> Result<(), RunFault> {
        self.cov = Some(engine.cov());
        for _ in 0..(lasts_s / TICK_S).ceil() as usize {
            engine.tick()?;
            let heard = engine.firings().iter().filter(|firing| firing.time_s < lasts_s);
            self.firings.extend(heard);
            if engine.stalled_at_s().is_some() {
                break;
            }
            self.speeds_rad_s.push(engine.speed_rad_s());
        }
        self.stalled_at_s = engine.stalled_at_s().filter(|at| *at <= lasts_s);
        self.stalled_because = self.stalled_at_s.and(engine.stalled_because());
        Ok(())
    }
}
