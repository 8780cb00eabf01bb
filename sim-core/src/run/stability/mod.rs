//! Whether an idle stands by itself: the running engine's equations made linear about a
//! settled point, their slowest mode, and how near the idle speed control is to hunting.
//!
//! The laws are those of [`super::dynamics`], by differences; the charge's way to its work and
//! the ports' two revolutions enter as what they are, a delay and a moving mean. Left out:
//! friction of the plunger (a plate that sticks only takes a way away), the trim, and what
//! leaves the small: limits, switches, the overrun.

mod control;
mod determinants;
mod hunting;
mod margins;
mod modes;
mod sloped;

pub use control::Control;
pub use hunting::hunts;
pub use margins::Margins;

use super::dynamics::{self, DynamicState, Film, Inputs, STATES, film, unpack};
use super::engine::Engine;
use super::equations::Segment;
use super::options::TICK_S;
use super::plate::{PlateMotion, Slide};
use super::port_store::{CHARGE_TO_WORK_RAD, CYCLE_RAD, Holds, INTAKE_CLOSES_RAD};
use crate::conditions::Trim;
use crate::control::starting::Starting;
use crate::ode::OdeSystem;
use crate::operation::operating_state::Lies;
use crate::operation::roughness;
use crate::point::{Mode, Outcome, Point, Stall, State};
use crate::rig::keys::Setup;
use crate::steady::SteadyEngine;
use control::{LoopAt, control};
use determinants::{AnswersAt, Determinants, FEED};
use nalgebra::{Complex, SMatrix, SVector};
use sloped::{Sloped, mean_over};

/// Relative step of the differences.
const STEP: f64 = 1e-5;
/// How fast a plate that cannot move settles here (1/s): out of the way of every mode.
const STILL_PER_S: f64 = 200.0;
/// A complex frequency of a growth (1/s) and a turn (rad/s).
pub fn at(growth_per_s: f64, turn_rad_s: f64) -> Complex<f64> {
    Complex::new(growth_per_s, turn_rad_s)
}

/// The running engine, linear about a settled point.
#[derive(Clone, Debug)]
pub struct Linear {
    determinants: Determinants,
    speed_rad_s: f64,
    control: Option<Control>,
}

impl Linear {
    /// The engine of a setup at its settled point. `None` with an open throttle.
    pub fn about(setup: &Setup) -> Result<Option<Linear>, Stall> {
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        Linear::of(&steady, setup.conditions.screw_turns)
    }

    /// The running engine, linear about the settled point at a screw position; `None` with an
    /// open throttle.
    pub fn of(steady: &SteadyEngine, screw_turns: f64) -> Result<Option<Linear>, Stall> {
        let (plant, conditions) = steady.parts();
        if conditions.throttle > 0.0 || conditions.pedal_holds_speed {
            return Ok(None);
        }
        let (settled, current_a) = steady.settle(screw_turns)?;
        let state = &settled.state;
        let speed = state.speed_rad_s;
        let parts = &plant.parts;
        let film = |w: f64| film(parts, conditions, w);
        let inlet_m2 = settled.throttle_m2 + settled.valve_m2;
        let inputs = |inlet_m2: f64, imep_pa: f64| Inputs {
            opening_m: parts.lever.opening_height_m(screw_turns),
            inlet_m2: (inlet_m2, inlet_m2),
            jet_m_s: plant.jet_m_s(current_a),
            imep_pa: (imep_pa, imep_pa),
            brake_nm: 0.0,
            starter: Starting { free_rad_s: 1.0, ..Starting::default() },
            start_valve_kg_s: 0.0,
            pulsation: 0.0,
            angle_rad: 0.0,
            lasts_s: TICK_S,
        };
        let at = film(speed);
        let x0 = dynamics::pack(state, at.share * at.tau_s * state.fuel_kg_s);
        let afloat = state.lies == Lies::Afloat;
        let rate = |x: &[f64; STATES], inlet_m2: f64, imep_pa: f64| {
            let slide = Slide {
                plate: PlateMotion::Slides { up: true },
                friction_n: 0.0,
                rest_mm: f64::NEG_INFINITY,
            };
            let inputs = inputs(inlet_m2, imep_pa);
            Segment::new(plant, film(100.0 * x[1]), &inputs, slide, (None, None)).rate(0.0, x)
        };
        let store_rad = CYCLE_RAD - INTAKE_CLOSES_RAD;
        let store_kg = store_rad * state.fuel_kg_s / speed;
        let charge = |x: &[f64; STATES], collected_kg: f64| {
            let now: DynamicState = unpack(x);
            let film: Film = film(now.speed_rad_s);
            let holds = Holds { collected_kg, trapped: None };
            dynamics::charge(plant, &now, &inputs(inlet_m2, 0.0), &film, &holds).imep_pa
        };
        // Rates of the states (scaled as in [`STATES`]) by states; indicated pressure by states,
        // the ports' store held; fuel into the ports for each angle turned (kg/rad) by states.
        let mut rates = SMatrix::<f64, FEED, FEED>::zeros();
        let mut imep_by = SVector::<f64, FEED>::zeros();
        let mut into_by = SVector::<f64, FEED>::zeros();
        let spread = |above: [f64; STATES], below: [f64; STATES], by: f64| {
            let rates = SVector::<f64, FEED>::from_fn(|i, _| (above[i] - below[i]) / by);
            // Fuel into the ports: the last of the sums (g/s).
            (rates, 1e-3 * (above[8] - below[8]) / by)
        };
        for j in 0..FEED {
            let h = STEP * x0[j].abs().max(1.0);
            let (mut above, mut below) = (x0, x0);
            (above[j], below[j]) = (above[j] + h, below[j] - h);
            let (by_state, fuel) = spread(
                rate(&above, inlet_m2, state.imep_pa),
                rate(&below, inlet_m2, state.imep_pa),
                2.0 * h,
            );
            rates.set_column(j, &by_state);
            let slower = if j == 1 { 100.0 * state.fuel_kg_s / (speed * speed) } else { 0.0 };
            into_by[j] = fuel / speed - slower;
            imep_by[j] = (charge(&above, store_kg) - charge(&below, store_kg)) / (2.0 * h);
        }
        let h = STEP * inlet_m2;
        let imep = state.imep_pa;
        // By opening (m2), and by indicated pressure (Pa).
        let (mut by_inlet, _) =
            spread(rate(&x0, inlet_m2 + h, imep), rate(&x0, inlet_m2 - h, imep), 2.0 * h);
        let h = STEP * imep;
        let (by_imep, _) =
            spread(rate(&x0, inlet_m2, imep + h), rate(&x0, inlet_m2, imep - h), 2.0 * h);
        let h = STEP * store_kg;
        let imep_by_store_kg = (charge(&x0, store_kg + h) - charge(&x0, store_kg - h)) / (2.0 * h);
        if !afloat {
            for row in [2, 3] {
                rates.set_row(row, &SMatrix::<f64, 1, FEED>::zeros());
                rates[(row, row)] = -STILL_PER_S;
                by_inlet[row] = 0.0;
            }
        }
        let imep_by_stored = into_by * (store_rad * imep_by_store_kg);
        Ok(Some(Linear {
            determinants: Determinants::of(&rates, &by_imep, &by_inlet, &imep_by, &imep_by_stored),
            speed_rad_s: speed,
            control: control(plant, conditions, settled.limit.is_some()),
        }))
    }

    /// The share of the work that comes, late as it is, and that of the ports' store.
    #[inline(always)]
    fn comes(&self, s: Complex<f64>) -> (Sloped, Sloped) {
        let later_s = CHARGE_TO_WORK_RAD / self.speed_rad_s;
        let value = (s * -later_s).exp();
        let work = Sloped { value, slope: value * -later_s };
        // The mean over what the ports collect.
        let lasts_s = (CYCLE_RAD - INTAKE_CLOSES_RAD) / self.speed_rad_s;
        let mean = mean_over(s, lasts_s, (s * -lasts_s).exp());
        let stored = Sloped {
            value: work.value * mean.value,
            slope: work.slope * mean.value + work.value * mean.slope,
        };
        (work, stored)
    }

    /// Determinant of `s - A(s)`, zero along a mode that grows with `s` where the air is held,
    /// and what answers times it.
    #[inline(always)]
    fn answers(&self, s: Complex<f64>) -> AnswersAt {
        let (work, stored) = self.comes(s);
        self.determinants.at(s, work, stored)
    }

    /// Speed for a kick of the speed, times that determinant.
    fn answers_kick(&self, s: Complex<f64>) -> Complex<f64> {
        let (work, stored) = self.comes(s);
        self.determinants.by_kick_at(s, work, stored)
    }

    /// Zero at every mode of the whole: engine, valve and control.
    pub fn characteristic(&self, s: Complex<f64>) -> Complex<f64> {
        self.characteristic_and_slope(s).value
    }

    #[inline(always)]
    fn characteristic_and_slope(&self, s: Complex<f64>) -> Sloped {
        let AnswersAt { determinant, by_inlet } = self.answers(s);
        let Some(control) = &self.control else { return determinant };
        let LoopAt { cleared, poles } = control.at(s);
        Sloped {
            value: determinant.value * poles.value + by_inlet.value * cleared.value * 100.0,
            slope: determinant.slope * poles.value
                + determinant.value * poles.slope
                + (by_inlet.slope * cleared.value + by_inlet.value * cleared.slope) * 100.0,
        }
    }

    /// The same with the idle air held fast.
    pub fn with_fixed_air(&self) -> Linear {
        Linear { control: None, ..self.clone() }
    }

    /// The control, where it holds the speed.
    pub fn control(&self) -> Option<Control> {
        self.control
    }

    /// The same engine under another control.
    pub fn with_control(&self, control: Control) -> Linear {
        Linear { control: Some(control), ..self.clone() }
    }

    /// Gain of the open idle speed loop at a frequency (rad/s); `None` without one.
    pub fn loop_gain(&self, turn_rad_s: f64) -> Option<Complex<f64>> {
        let control = self.control.as_ref()?;
        let s = Complex::new(0.0, turn_rad_s);
        let (answers, control) = (self.answers(s), control.at(s));
        let speed_by_inlet = answers.by_inlet.value / answers.determinant.value * 100.0;
        Some(control.cleared.value / control.poles.value * speed_by_inlet)
    }
}

/// The point of a settled engine with its slowest mode, trim off.
pub fn point_with_mode(steady: &SteadyEngine, screw_turns: f64) -> Point {
    let mut point = steady.point(screw_turns);
    if let Outcome::Running(state) = &mut point.outcome {
        *state = with_mode(steady, *state, screw_turns);
    }
    point
}

/// A settled state with the slowest mode about the point of a screw position, and rough if that
/// hunts.
pub(crate) fn with_mode(steady: &SteadyEngine, state: State, screw_turns: f64) -> State {
    let (plant, conditions) = steady.parts();
    roughness::with_mode(plant, conditions, state, mode(steady, screw_turns))
}

/// The slowest mode of the idle at a screw position, trim off; `None` with an open throttle
/// or where nothing runs.
pub fn mode(steady: &SteadyEngine, screw_turns: f64) -> Option<Mode> {
    Linear::of(steady, screw_turns).ok().flatten()?.slowest()
}

impl Engine {
    /// A state of the running engine with the slowest mode about the point that its setup settles
    /// at; without one while the pedal is pressed.
    pub(super) fn with_mode(&self, state: State) -> State {
        if self.pedal_is_down() {
            return state;
        }
        let Setup { rig, mut conditions } = *self.setup();
        if !self.controls.sensor_plugged {
            conditions.trim = Trim::Off;
        }
        with_mode(&SteadyEngine::new(&rig, &conditions), state, conditions.screw_turns)
    }
}
