//! Whether an idle stands by itself: the running engine's equations made linear about a
//! settled point, their slowest mode, and how near the idle speed control is to hunting.
//!
//! The laws are those of [`super::dynamics`], by differences; the charge's way to its work and
//! the ports' two revolutions enter as what they are, a delay and a moving mean. Left out:
//! friction of the plunger (a plate that sticks only takes a way away), the trim, and what
//! leaves the small: limits, switches, the overrun.

use super::TICK_S;
use super::dynamics::{self, DynamicState, Film, Inputs, STATES, Segment, film, unpack};
use super::plate::{PlateMotion, Slide};
use super::port_store::{CYCLE_RAD, Holds, INTAKE_CLOSES_RAD};
use super::step::CHARGE_TO_WORK_RAD;
use crate::conditions::{Conditions, IdleAir};
use crate::control::starting::Starting;
use crate::ode::OdeSystem;
use crate::point::{Outcome, Point, Stall};
use crate::rig::keys::Setup;
use crate::sense::faults::ThrottleSwitch;
use crate::steady::SteadyEngine;
use crate::steady::operating_state::{Lies, Plant};
use nalgebra::{Complex, SMatrix, SVector};
use std::f64::consts::PI;

/// States that feed back: manifold pressure, speed, plate height and speed, film.
const FEED: usize = 5;
/// Relative step of the differences.
const STEP: f64 = 1e-5;
/// How fast a plate that cannot move settles here (1/s): out of the way of every mode.
const STILL_PER_S: f64 = 1e3;
/// Where modes are looked for: growth (1/s) and turn (rad/s) of the starts.
const GROWTHS: [f64; 5] = [1.5, -0.5, -2.0, -4.0, -8.0];
/// See [`GROWTHS`].
const TURNS: [f64; 8] = [0.0, 1.0, 2.5, 4.0, 5.5, 7.5, 10.0, 14.0];
/// Newton's steps from each start.
const NEWTON_MOST: usize = 40;
/// A root stands where a step of Newton's is shorter than this (1/s).
const FOUND: f64 = 1e-10;
/// Share of the largest part of a kick below which a mode is not seen.
const UNSEEN: f64 = 0.2;
/// A turn slower than this counts as none (rad/s).
const TURNS_FROM: f64 = 1e-6;
/// Frequencies at which margins are read: from and to (rad/s), and how many.
const MARGIN_RAD_S: (f64, f64, usize) = (0.05, 60.0, 500);

/// A complex frequency of a growth (1/s) and a turn (rad/s).
pub fn at(growth_per_s: f64, turn_rad_s: f64) -> Complex<f64> {
    Complex::new(growth_per_s, turn_rad_s)
}

/// A mode of motion, as `exp(growth t) cos(turn t)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Mode {
    /// Growth (1/s); below 0 it dies away.
    pub growth_per_s: f64,
    /// Its turn (rad/s), 0 where it does not oscillate.
    pub turn_rad_s: f64,
}

impl Mode {
    /// Damping ratio: 1 or -1 where it does not oscillate.
    ///
    /// Equation: `zeta = -g / sqrt(g^2 + w^2)`. Symbols: `g` growth, `w` turn. Valid range:
    /// any mode but a resting one. Source: definition.
    pub fn damping(&self) -> f64 {
        let size = self.growth_per_s.hypot(self.turn_rad_s);
        if size > 0.0 { -self.growth_per_s / size } else { 0.0 }
    }

    /// How long a swing takes (s), if it swings.
    pub fn period_s(&self) -> Option<f64> {
        (self.turn_rad_s > 0.0).then(|| 2.0 * PI / self.turn_rad_s)
    }
}

/// How near the closed idle speed control is to hunting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margins {
    /// By how much its gain may rise (dB), infinite if by any.
    pub gain_up_db: f64,
    /// By how much it may fall (dB), infinite if to nothing.
    pub gain_down_db: f64,
    /// By how much its phase may lag more (deg), 180 if it never reaches gain 1.
    pub phase_deg: f64,
    /// Largest sensitivity: what the control makes of a disturbance, at the worst frequency.
    pub sensitivity: f64,
}

/// The idle speed control as the linear engine sees it: opening asked, share of full, for a
/// speed above the target (s/rad).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Control {
    /// Proportional part (s/rad).
    pub kp: f64,
    /// Integral part (1/rad).
    pub ki: f64,
    /// Lead on the slope (s2/rad).
    pub lead: f64,
    /// Lag of that slope (s).
    pub lead_lag_s: f64,
    /// Lag of the valve (s).
    pub valve_lag_s: f64,
    /// Effective area of the valve full open (m2).
    pub full_m2: f64,
}

impl Control {
    /// Opening of the valve (m2) for a speed (rad/s), times what [`Control::poles`] gives.
    ///
    /// Equation: `K = [kp + ki T/(z - 1) + (lead/lag)(z - 1)/(z - 1 + c)] (1 - 1/z)/(s T)
    /// / (1 + s valve)`, `z = exp(s T)`, `c = 1 - exp(-T/lag)`. Symbols: `T` tick. Valid
    /// range: turns far slower than the ticks. Source: z transform of the control's own
    /// difference equations, held from tick to tick.
    fn cleared(&self, s: Complex<f64>) -> Complex<f64> {
        let (ahead, smooths) = self.steps(s);
        let own = ahead * (ahead + smooths) * self.kp
            + (ahead + smooths) * (self.ki * TICK_S)
            + ahead * ahead * (self.lead / self.lead_lag_s);
        let turned = s * TICK_S;
        let one = Complex::new(1.0, 0.0);
        let held = if turned.norm() < 1e-9 { one } else { (one - (-turned).exp()) / turned };
        own * held * self.full_m2
    }

    /// What it was multiplied by.
    fn poles(&self, s: Complex<f64>) -> Complex<f64> {
        let (ahead, smooths) = self.steps(s);
        ahead * (ahead + smooths) * (s * self.valve_lag_s + 1.0)
    }

    /// `z - 1` and `c`.
    fn steps(&self, s: Complex<f64>) -> (Complex<f64>, f64) {
        ((s * TICK_S).exp() - 1.0, 1.0 - (-TICK_S / self.lead_lag_s).exp())
    }
}

/// The running engine, linear about a settled point.
#[derive(Clone, Debug)]
pub struct Linear {
    /// Rates of the states (scaled as in [`STATES`]) by states.
    rates: SMatrix<f64, FEED, FEED>,
    /// By opening (m2).
    by_inlet: SVector<f64, FEED>,
    /// By indicated pressure (Pa).
    by_imep: SVector<f64, FEED>,
    /// Indicated pressure by states, the ports' store held, and by that store (1/kg).
    imep_by: SVector<f64, FEED>,
    imep_by_store: f64,
    /// Fuel into the ports for each angle turned (kg/rad) by states.
    into_by: SVector<f64, FEED>,
    speed_rad_s: f64,
    control: Option<Control>,
}

impl Linear {
    /// The engine of a setup at its settled point. `None` with an open throttle.
    pub fn about(setup: &Setup) -> Result<Option<Linear>, Stall> {
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        steady.linear(setup.conditions.screw_turns)
    }

    fn of(steady: &SteadyEngine, screw_turns: f64) -> Result<Option<Linear>, Stall> {
        let (plant, conditions) = steady.parts();
        if conditions.throttle > 0.0 || conditions.pedal_holds_speed {
            return Ok(None);
        }
        let (settled, current_a) = steady.settle(screw_turns)?;
        let trial = &settled.trial;
        let speed = trial.speed_rad_s;
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
        let x0 = dynamics::pack(trial, at.share * at.tau_s * trial.fuel_kg_s);
        let afloat = trial.lies == Lies::Afloat;
        let rate = |x: &[f64; STATES], inlet_m2: f64, imep_pa: f64| {
            let slide = Slide {
                plate: PlateMotion::Slides { up: true },
                friction_n: 0.0,
                rest_mm: f64::NEG_INFINITY,
            };
            let inputs = inputs(inlet_m2, imep_pa);
            Segment { plant, film: film(100.0 * x[1]), inputs: &inputs, slide }.rate(0.0, x)
        };
        let store_rad = CYCLE_RAD - INTAKE_CLOSES_RAD;
        let store_kg = store_rad * trial.fuel_kg_s / speed;
        let charge = |x: &[f64; STATES], collected_kg: f64| {
            let now: DynamicState = unpack(x);
            let film: Film = film(now.speed_rad_s);
            let holds = Holds { collected_kg, trapped: None };
            dynamics::charge(plant, &now, &inputs(inlet_m2, 0.0), &film, &holds).imep_pa
        };
        let mut linear = Linear {
            rates: SMatrix::zeros(),
            by_inlet: SVector::zeros(),
            by_imep: SVector::zeros(),
            imep_by: SVector::zeros(),
            imep_by_store: 0.0,
            into_by: SVector::zeros(),
            speed_rad_s: speed,
            control: control(plant, conditions, settled.limit.is_some()),
        };
        let spread = |above: [f64; STATES], below: [f64; STATES], by: f64| {
            let rates = SVector::<f64, FEED>::from_fn(|i, _| (above[i] - below[i]) / by);
            // Fuel into the ports: the last of the sums (g/s).
            (rates, 1e-3 * (above[8] - below[8]) / by)
        };
        for j in 0..FEED {
            let h = STEP * x0[j].abs().max(1.0);
            let (mut above, mut below) = (x0, x0);
            (above[j], below[j]) = (above[j] + h, below[j] - h);
            let (rates, fuel) = spread(
                rate(&above, inlet_m2, trial.imep_pa),
                rate(&below, inlet_m2, trial.imep_pa),
                2.0 * h,
            );
            linear.rates.set_column(j, &rates);
            let slower = if j == 1 { 100.0 * trial.fuel_kg_s / (speed * speed) } else { 0.0 };
            linear.into_by[j] = fuel / speed - slower;
            linear.imep_by[j] = (charge(&above, store_kg) - charge(&below, store_kg)) / (2.0 * h);
        }
        let h = STEP * inlet_m2;
        let imep = trial.imep_pa;
        (linear.by_inlet, _) =
            spread(rate(&x0, inlet_m2 + h, imep), rate(&x0, inlet_m2 - h, imep), 2.0 * h);
        let h = STEP * imep;
        (linear.by_imep, _) =
            spread(rate(&x0, inlet_m2, imep + h), rate(&x0, inlet_m2, imep - h), 2.0 * h);
        let h = STEP * store_kg;
        linear.imep_by_store = (charge(&x0, store_kg + h) - charge(&x0, store_kg - h)) / (2.0 * h);
        if !afloat {
            for row in [2, 3] {
                linear.rates.set_row(row, &SMatrix::<f64, 1, FEED>::zeros());
                linear.rates[(row, row)] = -STILL_PER_S;
                linear.by_inlet[row] = 0.0;
            }
        }
        Ok(Some(linear))
    }

    /// `s - A(s)`: what is zero along a mode that grows with `s`.
    fn left(&self, s: Complex<f64>) -> SMatrix<Complex<f64>, FEED, FEED> {
        let one = Complex::new(1.0, 0.0);
        let work = (s * (-CHARGE_TO_WORK_RAD / self.speed_rad_s)).exp();
        // The mean over what the ports collect.
        let store_rad = CYCLE_RAD - INTAKE_CLOSES_RAD;
        let lasts = s * (store_rad / self.speed_rad_s);
        let mean = if lasts.norm() < 1e-6 { one } else { (one - (-lasts).exp()) / lasts };
        let stores = mean * (store_rad * self.imep_by_store);
        SMatrix::from_fn(|i, j| {
            let own = if i == j { s } else { Complex::new(0.0, 0.0) };
            let imep = (stores * self.into_by[j] + self.imep_by[j]) * work;
            own - self.rates[(i, j)] - imep * self.by_imep[i]
        })
    }

    /// Speed (rad/s) for an opening (m2) at a complex frequency, and the determinant.
    fn speed_by_inlet(&self, s: Complex<f64>) -> (Complex<f64>, Complex<f64>) {
        let left = self.left(s).lu();
        let by = self.by_inlet.map(|value| Complex::new(value, 0.0));
        let determinant = left.determinant();
        let speed = left.solve(&by).map_or(Complex::new(f64::INFINITY, 0.0), |x| x[1] * 100.0);
        (speed, determinant)
    }

    /// Zero at every mode of the whole: engine, valve and control.
    pub fn characteristic(&self, s: Complex<f64>) -> Complex<f64> {
        let Some(control) = &self.control else { return self.left(s).determinant() };
        let (speed, determinant) = self.speed_by_inlet(s);
        determinant * (control.poles(s) + control.cleared(s) * speed)
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
        Some(control.cleared(s) / control.poles(s) * self.speed_by_inlet(s).0)
    }

    /// Its margins. They are those of a loop that stands; `None` without a loop.
    pub fn margins(&self) -> Option<Margins> {
        let (from, to, count) = MARGIN_RAD_S;
        let mut found = Margins {
            gain_up_db: f64::INFINITY,
            gain_down_db: f64::INFINITY,
            phase_deg: 180.0,
            sensitivity: 1.0,
        };
        let mut before: Option<Complex<f64>> = None;
        for i in 0..count {
            let turn = from * (to / from).powf(i as f64 / (count - 1) as f64);
            let gain = self.loop_gain(turn)?;
            let distance = (gain + 1.0).norm();
            found.sensitivity = found.sensitivity.max(1.0 / distance);
            if let Some(last) = before {
                // Crossing the negative axis: the gain there may change by its inverse.
                if last.im * gain.im < 0.0 && 0.5 * (last.re + gain.re) < 0.0 {
                    let at = last.re - last.im * (gain.re - last.re) / (gain.im - last.im);
                    let db = -20.0 * at.abs().log10();
                    if db >= 0.0 {
                        found.gain_up_db = found.gain_up_db.min(db);
                    } else {
                        found.gain_down_db = found.gain_down_db.min(-db);
                    }
                }
                if (last.norm() - 1.0) * (gain.norm() - 1.0) < 0.0 {
                    let phase = (PI - gain.arg().abs()).to_degrees();
                    found.phase_deg = found.phase_deg.min(phase);
                }
            }
            before = Some(gain);
        }
        Some(found)
    }

    /// Every mode that Newton's steps find from a grid of starts, the slowest first.
    pub fn modes(&self) -> Vec<Mode> {
        let mut found: Vec<Complex<f64>> = Vec::new();
        for growth in GROWTHS {
            for turn in TURNS {
                let Some(root) = self.root_from(Complex::new(growth, turn)) else { continue };
                let root = Complex::new(root.re, root.im.abs());
                if found.iter().all(|other| (other - root).norm() > 1e-5) {
                    found.push(root);
                }
            }
        }
        found.sort_by(|a, b| b.re.total_cmp(&a.re));
        found
            .into_iter()
            .map(|root| Mode {
                growth_per_s: root.re,
                turn_rad_s: if root.im > TURNS_FROM { root.im } else { 0.0 },
            })
            .collect()
    }

    /// The slowest mode that a kick of the crank shows: what is left of it when all else has
    /// died away. A mode that takes up less than [`UNSEEN`] of the largest share does not
    /// count: the integral of the idle control creeps for seconds, far below what is seen.
    pub fn slowest(&self) -> Option<Mode> {
        let modes = self.modes();
        let shares: Vec<f64> = modes.iter().map(|mode| self.share_of_kick(mode)).collect();
        let most = shares.iter().fold(0.0_f64, |most, share| most.max(*share));
        let seen = modes.iter().zip(&shares).find(|(_, share)| **share >= UNSEEN * most);
        seen.map(|(mode, _)| *mode)
    }

    /// How much of a kick of the speed a mode takes up, as an amplitude.
    ///
    /// Equation: the residue of `1/(s - A(s))`, speed by speed, at the mode, twice that of a
    /// pair. Source: partial fractions.
    fn share_of_kick(&self, mode: &Mode) -> f64 {
        let root = Complex::new(mode.growth_per_s, mode.turn_rad_s);
        let near = 1e-5 * (1.0 + root.norm());
        // As seen from both sides, so that what the other modes add cancels.
        let sides = [near, -near].map(|off| {
            let s = root + off;
            let mut left = self.left(s);
            if let Some(control) = &self.control {
                let opens = control.cleared(s) / control.poles(s) * 100.0;
                for i in 0..FEED {
                    left[(i, 1)] += opens * self.by_inlet[i];
                }
            }
            let mut kick = SVector::<Complex<f64>, FEED>::zeros();
            kick[1] = Complex::new(1.0, 0.0);
            left.lu().solve(&kick).map_or(Complex::new(0.0, 0.0), |x| x[1] * off)
        });
        let residue = (0.5 * (sides[0] + sides[1])).norm();
        if mode.turn_rad_s > 0.0 { 2.0 * residue } else { residue }
    }

    fn root_from(&self, start: Complex<f64>) -> Option<Complex<f64>> {
        let mut s = start;
        for _ in 0..NEWTON_MOST {
            let h = 1e-5 * (1.0 + s.norm());
            let value = self.characteristic(s);
            let slope = (self.characteristic(s + h) - self.characteristic(s - h)) / (2.0 * h);
            let mut step = value / slope;
            if !step.re.is_finite() || !step.im.is_finite() {
                return None;
            }
            // No further than the grid is wide.
            if step.norm() > 3.0 {
                step *= 3.0 / step.norm();
            }
            s -= step;
            if step.norm() < FOUND * (1.0 + s.norm()) {
                return Some(s);
            }
            if s.re < -40.0 || s.norm() > 80.0 {
                return None;
            }
        }
        None
    }
}

/// The idle speed control, where it holds the speed.
fn control(plant: &Plant, conditions: &Conditions, at_limit: bool) -> Option<Control> {
    let switch_closed = conditions.faults.throttle_switch != ThrottleSwitch::NoIdle
        && plant.released_m2 < plant.parts.throttle.idle_switch_opens_m2();
    if at_limit || !switch_closed || conditions.idle_air == IdleAir::Fixed {
        return None;
    }
    let moving = &plant.parts.dynamics;
    Some(Control {
        kp: plant.parts.gains.idle_kp,
        ki: plant.parts.gains.idle_ki,
        lead: plant.parts.idle.lead,
        lead_lag_s: plant.parts.idle.lead_lag_s,
        valve_lag_s: moving.valve_lag_s,
        full_m2: plant.parts.idle_valve.full_effective_m2(),
    })
}

impl SteadyEngine {
    /// The same point as [`SteadyEngine::point`] with its slowest mode, trim off.
    pub fn point_with_mode(&self, screw_turns: f64) -> Point {
        let mut point = self.point(screw_turns);
        if let Outcome::Running(state) = &mut point.outcome {
            state.mode = self.mode(screw_turns);
        }
        point
    }

    /// The slowest mode of the idle at a screw position, trim off; `None` with an open
    /// throttle or where nothing runs.
    pub fn mode(&self, screw_turns: f64) -> Option<Mode> {
        self.linear(screw_turns).ok().flatten()?.slowest()
    }

    /// Whether the idle at a screw position hunts: a swing that is damped less than the rig's
    /// `rough_damping`, or grows.
    pub fn hunts(&self, screw_turns: f64) -> bool {
        let least = self.parts().0.parts.rough_damping;
        self.mode(screw_turns).is_some_and(|mode| mode.damping() < least)
    }

    /// The running engine, linear about the settled point at a screw position; `None` with an
    /// open throttle.
    pub fn linear(&self, screw_turns: f64) -> Result<Option<Linear>, Stall> {
        Linear::of(self, screw_turns)
    }
}
