//! What a car shows in the states of a question.

use super::parameters::Car;
use super::question::Question;
use crate::conditions::Trim;
use crate::diagnose::car::{self, GLASSES};
use crate::diagnose::sheet::{Slot, Taken, When};
use crate::flowstart::{flow_start_on, lines_m3_s};
use crate::point::State;
use crate::rig::keys::Setup;
use crate::steady::SteadyEngine;

/// What a car shows.
pub struct Shown {
    /// Readings in the order of the slots, on the scale of their kinds; NaN for what it does not
    /// show.
    pub values: Vec<f64>,
    /// How rough it is in each state against what is called rough (logarithm); NaN if it stops.
    pub rough: Vec<f64>,
}

/// A car in the states it is read in.
pub struct Stands {
    /// With the screw where it was found.
    pub found: Setup,
    idle: SteadyEngine,
    fast: Option<SteadyEngine>,
}

impl Stands {
    /// A car with its screw set. `None` if it does not idle.
    pub fn of(car: &Car) -> Option<Stands> {
        let mut found = car.setup;
        let idle = SteadyEngine::new(&found.rig, &found.conditions);
        found.conditions.screw_turns = idle.aim_turns()? + car.screw_turns;
        Some(Stands { found, idle, fast: None })
    }

    /// How it was in a state, and what it shows there.
    pub fn running(&mut self, taken: Taken) -> Option<(Setup, State)> {
        let mut setup = self.found;
        setup.conditions.trim = if taken.plugged { Trim::On } else { Trim::Off };
        setup.conditions.screw_turns += taken.screw_turns;
        if taken.fast {
            setup.conditions = setup.conditions.at_fast_idle();
        }
        let engine = match taken.fast {
            true => {
                self.fast.get_or_insert_with(|| SteadyEngine::new(&setup.rig, &setup.conditions))
            }
            false => &mut self.idle,
        };
        engine.set_trim(setup.conditions.trim);
        let state = *engine.point(setup.conditions.screw_turns).state()?;
        Some((setup, state))
    }
}

/// How rough a state is against what is called rough (logarithm).
pub fn roughness(setup: &Setup, state: &State) -> f64 {
    let ear = &setup.conditions.ear;
    (state.cov / ear.cov).max(state.mean_misfire / ear.misfire).max(1e-3).ln()
}

/// What a car shows of a question. `None` if it does not idle at all.
pub fn shows(question: &Question, states: &[Taken], car: &Car) -> Option<Shown> {
    let slots: Vec<Slot> = question.reads.iter().map(|read| read.slot).collect();
    let mut stands = Stands::of(car)?;
    let running: Vec<Option<(Setup, State)>> =
        states.iter().map(|taken| stands.running(*taken)).collect();
    let meters = car::Car::plain(&stands.found, question.meter_ohm);
    let value = |slot: &Slot| match slot.when {
        When::Running(taken) => {
            let place = states.iter().position(|known| *known == taken)?;
            let (setup, state) = running[place].as_ref()?;
            meters.running_value(slot.kind, setup, state)
        }
        When::Standing => match slot.kind.name() {
            "flow_start_turns" => {
                let shows = flow_start_on(&stands.found, &stands.idle)?;
                Some(shows - stands.found.conditions.screw_turns)
            }
            "line_N_ml" => {
                let lines = lines_m3_s(&stands.found, &stands.idle, GLASSES.0);
                Some(1e6 * GLASSES.1 * lines.get(slot.line?)?)
            }
            _ => None,
        },
    };
    let values = slots
        .iter()
        .map(|slot| value(slot).map_or(f64::NAN, |value| slot.kind.scaled(value)))
        .collect();
    let rough = running
        .iter()
        .map(|found| found.as_ref().map_or(f64::NAN, |(setup, state)| roughness(setup, state)))
        .collect();
    Some(Shown { values, rough })
}
