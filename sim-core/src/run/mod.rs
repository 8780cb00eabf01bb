//! The running engine: manifold, crank, plate and wall film between the ticks of a
//! controller.
//!
//! What feeds back within a tick is integrated ([`motion`]); what only listens (gas on its
//! way, the sensor's lag) is advanced once a tick ([`lines`]); the controller decides once
//! a tick ([`controls`]). [`procedure`] is what is done to the engine, [`record`] what is
//! written down of it.

pub mod controls;
pub mod lines;
pub mod motion;
pub mod procedure;
pub mod record;

use crate::conditions::Trim;
use crate::noise::Noise;
use crate::ode::step;
use crate::point::Stall;
use crate::rig::keys::Setup;
use crate::sense::lambda_sensor::LambdaSensor;
use crate::steady::Stand;
use crate::steady::reading::roughness;
use crate::steady::trial::{Plant, Trial};
use controls::{Controls, Sees};
use lines::DelayLine;
use motion::{Inputs, Plate, STATES, Segment};
use std::f64::consts::PI;

/// A step may be this many times the time in which the manifold fills.
const STEP_MOST: f64 = 1.5;
/// The most steps of a tick.
const PIECES_MOST: u32 = 60;
/// Time from tick to tick of the controller (s).
pub const TICK_S: f64 = 0.010;
/// Revolutions from a charge drawn in to its work.
const CHARGE_TO_WORK_REV: f64 = 1.0;
/// Revolutions from a charge drawn in to its gas at the port.
const CHARGE_TO_PORT_REV: f64 = 1.5;
/// Temperature of the exhaust before the lambda sensor (K).
const PIPE_K: f64 = 650.0;
/// Fastest a foot opens the throttle, for each cubic metre of displacement (m2/(s m3)), and
/// the time it takes to close (s). A quicker foot drowns an idling engine of this make: the
/// plate meters what fills the manifold, too.
const FOOT_OPENS: f64 = 0.040;
/// See [`FOOT_OPENS`].
const FOOT_CLOSES_S: f64 = 0.15;
/// Throttle area above closed at which the idle switch opens (m2).
const IDLE_SWITCH_M2: f64 = 1e-6;

/// What is added to a run for realism.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Options {
    /// Seed of the noise.
    pub seed: u64,
    /// Whether cycles scatter in torque.
    pub torque_noise: bool,
    /// Amplitude of the intake's pulsation at the plate, share of the flow.
    pub pulsation: f64,
}

impl Default for Options {
    fn default() -> Self {
        Options { seed: 1, torque_noise: false, pulsation: 0.0 }
    }
}

/// Where the foot is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Foot {
    /// Off the pedal.
    Off,
    /// On the way to a speed, to let go there (rad/s).
    BlipTo(f64),
    /// Holding a share of the travel, a brake holding the speed (rad/s).
    Holds(f64, f64),
}

/// Why a run cannot go on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum RunFault {
    /// It cannot start from a running point.
    NoStart(Stall),
    /// A state is no longer a number: the step is too long for this rig.
    Diverged {
        /// When (s).
        time_s: f64,
    },
}

/// A running engine.
pub struct Engine {
    setup: Setup,
    options: Options,
    plant: Plant,
    opening_m: f64,
    ticks: u64,
    x: [f64; STATES],
    plate: Plate,
    /// Crank angle since the start (rad), and exhaust that has left (kg).
    angle_rad: f64,
    exhaust_kg: f64,
    foot: Foot,
    throttle_m2: f64,
    valve: f64,
    brake_nm: f64,
    braked_rad_s: Option<f64>,
    controls: Controls,
    work: DelayLine,
    port: DelayLine,
    pipe: DelayLine,
    lambda_sensor: f64,
    noise: Noise,
    torque_factor: f64,
    stalled_at_s: Option<f64>,
    trial: Trial,
    start: motion::Moving,
}

impl Engine {
    /// An engine at its settled point under a setup.
    pub fn new(setup: &Setup, options: Options) -> Result<Engine, RunFault> {
        let stand = Stand::new(&setup.rig, &setup.conditions);
        let screw = setup.conditions.screw_turns;
        let (settled, current_a) = stand.settle(screw).map_err(RunFault::NoStart)?;
        let parts = setup.rig.parts();
        let plant = Plant::new(parts, setup.rig.reference(), &setup.conditions);
        let trial = settled.trial;
        let film = motion::film(parts, &setup.conditions, trial.speed_rad_s);
        let x = motion::pack(&trial, film.share * film.tau_s * trial.fuel_kg_s);
        let imep = trial.imep_pa;
        let base_a = parts.controller.base_current_a(setup.conditions.coolant_k);
        let valve = settled.valve_m2 / parts.idle_valve.full_effective_m2();
        let seen = LambdaSensor::reads(
            trial.lambda,
            setup.conditions.misfire,
            setup.conditions.exhaust_leak,
        );
        Ok(Engine {
            opening_m: parts.lever.opening_height_m(screw),
            controls: Controls::new(parts, &setup.conditions, valve, current_a - base_a),
            work: DelayLine::new(0.0, imep),
            port: DelayLine::new(0.0, seen),
            pipe: DelayLine::new(0.0, seen),
            noise: Noise::new(options.seed, 0),
            setup: *setup,
            options,
            plant,
            ticks: 0,
            x,
            plate: Plate::Slides,
            angle_rad: 0.0,
            exhaust_kg: 0.0,
            foot: Foot::Off,
            throttle_m2: settled.throttle_m2,
            valve,
            brake_nm: 0.0,
            braked_rad_s: None,
            lambda_sensor: seen,
            torque_factor: 1.0,
            stalled_at_s: None,
            trial,
            start: motion::unpack(&x),
        })
    }

    /// Time since the start (s): ticks times their length, so that it never drifts.
    pub fn time_s(&self) -> f64 {
        self.ticks as f64 * TICK_S
    }

    /// When the engine stalled, if it did (s).
    pub fn stalled_at_s(&self) -> Option<f64> {
        self.stalled_at_s
    }

    /// The setup as it is now.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// Changes rig or conditions while it runs. The speed it idles at follows the controller.
    pub fn change(&mut self, setup: Setup) {
        let conditions = &setup.conditions;
        self.plant = Plant::new(setup.rig.parts(), setup.rig.reference(), conditions);
        self.opening_m = setup.rig.parts().lever.opening_height_m(conditions.screw_turns);
        self.controls.forced_a = conditions.actuator_a;
        self.controls.closed_loop_asked = conditions.trim == Trim::On;
        self.setup = setup;
    }

    /// Puts the foot somewhere.
    pub fn put_foot(&mut self, foot: Foot) {
        self.foot = foot;
    }

    /// Plugs or unplugs the lambda sensor.
    pub fn plug_sensor(&mut self, plugged: bool) {
        self.controls.sensor_plugged = plugged;
    }

    /// Crank speed (rad/s).
    pub fn speed_rad_s(&self) -> f64 {
        motion::unpack(&self.x).speed_rad_s
    }

    /// Advances by one tick. A stalled engine stands still.
    pub fn tick(&mut self) -> Result<(), RunFault> {
        if self.stalled_at_s.is_none() {
            self.move_foot();
            self.decide();
            self.integrate()?;
            self.listen();
        }
        self.ticks += 1;
        Ok(())
    }

    /// The foot opens and closes no faster than feet do.
    fn move_foot(&mut self) {
        let throttle = &self.plant.parts.throttle;
        let closed = throttle.effective_m2(0.0);
        let wide = throttle.effective_m2(1.0);
        let target = match self.foot {
            Foot::Off => closed,
            Foot::BlipTo(speed) if self.speed_rad_s() < speed => wide,
            Foot::BlipTo(_) => {
                self.foot = Foot::Off;
                closed
            }
            Foot::Holds(share, _) => throttle.effective_m2(share),
        };
        let displacement = self.plant.parts.breathing.displacement_m3;
        let opens = FOOT_OPENS * displacement * throttle.discharge * TICK_S;
        let closes = (wide - closed) * TICK_S / FOOT_CLOSES_S;
        self.throttle_m2 += (target - self.throttle_m2).clamp(-closes, opens);
    }

    /// Whether the idle switch is closed.
    fn idle_switch(&self) -> bool {
        self.throttle_m2 - self.plant.parts.throttle.effective_m2(0.0) < IDLE_SWITCH_M2
    }

    fn decide(&mut self) {
        let now = motion::unpack(&self.x);
        let parts = self.plant.parts;
        let parts = &parts;
        let sees = Sees {
            speed_rad_s: now.speed_rad_s,
            lambda: self.lambda_sensor,
            potentiometer_v: parts
                .potentiometer
                .voltage_v(now.height_m, self.setup.conditions.housing_shift_m),
            idle_switch: self.idle_switch(),
            full_load: matches!(self.foot, Foot::Holds(share, _) if share >= 0.95),
            valve: self.valve,
        };
        self.controls.tick(parts, &self.setup.conditions, &sees);
        let lag = parts.moving.valve_lag_s;
        self.valve += (self.controls.valve_asked - self.valve) * (1.0 - (-TICK_S / lag).exp());
        if let Foot::Holds(_, speed) = self.foot {
            self.braked_rad_s = Some(speed);
        } else if self.idle_switch() {
            self.braked_rad_s = None;
        }
        self.brake_nm = match self.braked_rad_s {
            // A stiff brake: it takes what the engine makes above the speed asked for, until
            // the throttle is closed again.
            Some(speed) => {
                // It only takes: below that speed it lets go.
                let stiffness = parts.moving.inertia_kg_m2 / 0.03;
                let error = now.speed_rad_s - speed;
                let sum = self.controls.brake_sum + error * TICK_S * stiffness / 0.5;
                self.controls.brake_sum = sum.max(0.0);
                (stiffness * error + self.controls.brake_sum).max(0.0)
            }
            None => {
                self.controls.brake_sum = 0.0;
                0.0
            }
        };
    }

    fn integrate(&mut self) -> Result<(), RunFault> {
        let conditions = &self.setup.conditions;
        let jet_m_s = self.plant.jet_m_s(self.controls.current_a());
        let speed = self.speed_rad_s();
        let behind = CHARGE_TO_WORK_REV * 2.0 * PI;
        let imep = |after: f64| self.torque_factor * self.work.at(self.angle_rad + after - behind);
        let inputs = Inputs {
            opening_m: self.opening_m,
            inlet_m2: self.inlet_m2(),
            jet_m_s,
            imep_pa: (imep(0.0), imep(speed * TICK_S)),
            brake_nm: self.brake_nm,
            pulsation: self.options.pulsation,
            angle_rad: self.angle_rad,
        };
        let segment = Segment {
            plant: &self.plant,
            film: motion::film(&self.plant.parts, conditions, speed),
            inputs: &inputs,
            plate: self.plate.start(&self.plant, &inputs, &self.x),
            start_s: self.time_s(),
        };
        // A pulsation faster than the ticks asks for shorter steps, and so does a wide
        // throttle, behind which the manifold fills in a fraction of a tick.
        let pulse = if self.options.pulsation > 0.0 { 4 } else { 1 };
        let filling = motion::filling_s(&self.plant, &inputs, &self.x);
        let pieces = ((TICK_S / (STEP_MOST * filling)).ceil() as u32).clamp(pulse, PIECES_MOST);
        let h = TICK_S / f64::from(pieces);
        for i in 0..pieces {
            self.x = step(&segment, self.time_s() + f64::from(i) * h, &self.x, h);
        }
        if !self.x.iter().all(|value| value.is_finite()) {
            return Err(RunFault::Diverged { time_s: self.time_s() });
        }
        self.plate = segment.plate.end(&self.plant, &mut self.x);
        Ok(())
    }

    /// Sends charge, gas and mixture on their ways and moves the sensor.
    fn listen(&mut self) {
        let before = self.angle_rad;
        let now = motion::unpack(&self.x);
        self.angle_rad += 0.5 * (self.trial.speed_rad_s + now.speed_rad_s) * TICK_S;
        if now.speed_rad_s < self.plant.parts.controller.stall_rad_s {
            self.stalled_at_s = Some(self.time_s() + TICK_S);
        }
        let conditions = self.setup.conditions;
        let jet = self.plant.jet_m_s(self.controls.current_a());
        let film = motion::film(&self.plant.parts, &conditions, now.speed_rad_s);
        self.trial = motion::charge(&self.plant, &now, self.opening_m, jet, &film);
        self.work.push(self.angle_rad, self.trial.imep_pa, CHARGE_TO_WORK_REV * 2.0 * PI);
        let seen = LambdaSensor::reads(
            self.trial.lambda.min(10.0),
            conditions.misfire,
            conditions.exhaust_leak,
        );
        let to_port = CHARGE_TO_PORT_REV * 2.0 * PI;
        self.port.push(self.angle_rad, seen, to_port);
        let at_port = self.port.at(self.angle_rad - to_port);
        self.exhaust_kg += (self.trial.air_kg_s + self.trial.fuel_kg_s) * TICK_S;
        let gas_constant = crate::air::GAS_CONSTANT;
        let pipe_kg =
            self.plant.exhaust_pa * self.plant.parts.moving.pipe_m3 / (gas_constant * PIPE_K);
        self.pipe.push(self.exhaust_kg, at_port, pipe_kg);
        let at_tip = self.pipe.at(self.exhaust_kg - pipe_kg);
        let lag = self.plant.parts.moving.sensor_lag_s;
        let share = if lag > 0.0 { 1.0 - (-TICK_S / lag).exp() } else { 1.0 };
        self.lambda_sensor += (at_tip - self.lambda_sensor) * share;
        self.scatter(before);
    }

    /// A new torque for each cylinder that fires, if cycles scatter.
    fn scatter(&mut self, angle_before: f64) {
        if !self.options.torque_noise {
            return;
        }
        let count = self.plant.parts.slits.width_m.len() as f64;
        let firing = |angle: f64| (angle * count / (4.0 * PI)).floor() as u64;
        let fired = firing(self.angle_rad) - firing(angle_before);
        if fired == 0 {
            return;
        }
        let cov = roughness(&self.plant, &self.trial).cov.min(1.0);
        let sum: f64 = (0..fired).map(|_| self.noise.normal()).sum();
        self.torque_factor = (1.0 + cov * sum / fired as f64).max(0.0);
    }

    /// Effective area of throttle and idle air valve (m2).
    fn inlet_m2(&self) -> f64 {
        self.throttle_m2 + self.valve * self.plant.parts.idle_valve.full_effective_m2()
    }

    /// Fuel on the walls (kg).
    pub fn film_kg(&self) -> f64 {
        motion::unpack(&self.x).film_kg
    }

    /// Largest relative error of the mass balances since the start: air and fuel in, less
    /// out, less what is stored.
    pub fn mass_error(&self) -> f64 {
        let now = motion::unpack(&self.x);
        let [air_in, air_out, fuel_in, fuel_out] = now.sums_kg;
        let parts = &self.plant.parts;
        let per_pa =
            parts.moving.manifold_m3 / (crate::air::GAS_CONSTANT * parts.breathing.charge_k);
        let air = air_in - air_out - per_pa * (now.manifold_pa - self.start.manifold_pa);
        let fuel = fuel_in - fuel_out - (now.film_kg - self.start.film_kg);
        let share = |error: f64, through: f64| {
            if through > 0.0 { error.abs() / through } else { 0.0 }
        };
        share(air, air_in).max(share(fuel, fuel_in))
    }
}
