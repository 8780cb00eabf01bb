//! One part of a tick: throttle and valve move, what feeds back is integrated from event to
//! event, then what does not feed back is advanced (`charges`, `fuel_state`).

use super::driver_input::DriverInput;
use super::dynamics::{self, Inputs, STATES};
use super::engine::Engine;
use super::equations::Segment;
use super::options::{EVENTS_MOST, RunFault, STEPS_MOST, TICK_S};
use super::plate::Slide;
use super::port_store::CHARGE_TO_WORK_RAD;
use crate::conditions::IdleAir;
use crate::control::starting::Starting;
use crate::ode::{GaveUp, Method, advance, midpoint_step};
use crate::sense::faults::ThrottleSwitch;

/// A step may be this many times the time in which the manifold fills, and this many times
/// that in which the plate answers: the method is stable up to 2.78.
const STEP_MOST: (f64, f64) = (2.2, 2.5);
/// A step of a calm tick lasts at most this share of the time in which the manifold fills.
const CALM_SHARE: f64 = 0.1;
/// Pressure from which a feed without its pump still drives fuel through the slits (Pa).
const FLOWS_PA: f64 = 1000.0;
/// A time too short to be worked out by itself (s).
const SHORTEST_S: f64 = 1e-12;

impl Engine {
    /// Advances by a time (s), in pieces in which the throttle moves evenly.
    pub(super) fn advance(&mut self, h: f64) -> Result<(), RunFault> {
        let mut left = h;
        while left > SHORTEST_S && self.stalled_at_s.is_none() {
            left -= self.piece(left.min(self.pedal.steady_for_s().max(SHORTEST_S)))?;
        }
        Ok(())
    }

    /// Moves throttle and valve, integrates what feeds back, then the rest, for at most a
    /// time (s). Gives the time it took: a driver who lets go ends a piece.
    fn piece(&mut self, h: f64) -> Result<f64, RunFault> {
        let switch = self.setup.conditions.faults.throttle_switch;
        self.plant.spark_steadies = self.pedal.idle_switch() && switch != ThrottleSwitch::NoIdle;
        let lag = self.plant.parts.dynamics.valve_lag_s;
        let (pedal, valve, asked) = (self.pedal, self.valve, self.opening_asked());
        let mut lags = self.valve_lag;
        let mut after =
            |h: f64| (pedal.after_m2(h), valve + (asked - valve) * (1.0 - lags.keeps(h, lag)));
        let (throttle_m2, valve) = after(h);
        let inputs = self.inputs((self.inlet_m2(), self.inlet_of(throttle_m2, valve)), h);
        let before = self.x;
        let took = self.integrate(&inputs)?;
        let (throttle_m2, valve) = if took < h { after(took) } else { (throttle_m2, valve) };
        (self.pedal.throttle_m2, self.valve, self.valve_lag) = (throttle_m2, valve, lags);
        let lambda = self.transport(&inputs, &before, took);
        self.draw(&inputs, &before, took);
        self.go_on_starting(inputs.imep_pa.1, lambda, took);
        if took < h && self.stalled_at_s.is_none() {
            self.pedal.driver = DriverInput::Off;
        }
        Ok(took)
    }

    /// Opening that the idle air valve goes to, share of its window: that of its duty, or its
    /// springs' without current.
    fn opening_asked(&self) -> f64 {
        let valve = &self.plant.parts.idle_valve;
        let unplugged = self.setup.conditions.idle_air == IdleAir::Unpowered;
        if unplugged || !self.power.key_on {
            valve.unpowered()
        } else {
            valve.opening(self.controls.valve_asked)
        }
    }

    /// Draws from the feed what has gone into the ports, and what fills lines that are short.
    fn draw(&mut self, inputs: &Inputs, before: &[f64; STATES], took_s: f64) {
        let (then, now) = (dynamics::unpack(before), dynamics::unpack(&self.x));
        let plant = &self.plant;
        let liquid = &plant.liquid;
        let arrives_m3 = (now.sums_kg[2] - then.sums_kg[2]) / liquid.density_kg_m3;
        let lift_m = (then.height_m - inputs.opening_m) * plant.parts.lever.plunger_per_plate();
        let kept_pa = 0.5 * liquid.density_kg_m3 * inputs.jet_m_s * inputs.jet_m_s;
        let pump = self.pump_share();
        let lasts = (took_s, pump);
        self.fuel.turn(plant, lasts, arrives_m3, (lift_m, kept_pa));
        self.fuel.tell(&mut self.plant);
    }

    /// Share of the pump's delivery while the engine turns: less while the starter takes the
    /// battery's voltage, none with the key off.
    fn pump_share(&self) -> f64 {
        let delivers = self.pump_delivers();
        delivers
            * match (self.power.key_on, &self.starts) {
                (false, _) => f64::from(u8::from(self.power.jumper)),
                (true, Some(starts)) if starts.engaged && starts.caught_at_s.is_none() => {
                    self.plant.parts.supply.pump.cranking_share * self.setup.conditions.battery
                }
                _ => 1.0,
            }
    }

    fn pump_delivers(&self) -> f64 {
        self.setup.conditions.fuel_side.delivers(&self.plant.parts.supply)
    }

    /// Whether the pump of a standing engine runs: on its jumper, or in after the key.
    pub(super) fn pump_runs(&self) -> bool {
        let jumped = self.power.jumper && self.power.battery_off_s.is_none();
        let turns = self.stalled_at_s.is_none();
        jumped || self.power.key_on && (turns || self.fuel.run_in_s > 0.0)
    }

    /// The fuel side of an engine that stands: the pump runs in after the key or on its jumper;
    /// a plate that is lifted, or rests too high, lets fuel into lines, glasses or ports.
    pub(super) fn stand_with_pump(&mut self, h: f64) {
        let runs = match (self.power.jumper, self.power.key_on) {
            (true, _) if self.power.battery_off_s.is_none() => h,
            (_, true) => self.fuel.run_in_s.clamp(0.0, h),
            _ => 0.0,
        };
        self.fuel.run_in_s -= h;
        let cools_s = self.setup.conditions.start_switch_cools_s;
        self.start_switch.cool(h, cools_s);
        self.wet.stand(h);
        let pump = self.pump_delivers();
        self.stand_with_plate(runs, pump);
        self.stand_with_plate(h - runs, 0.0);
    }

    /// The same for a time (s), with the pump at a share of its delivery.
    fn stand_with_plate(&mut self, h: f64, pump: f64) {
        if h <= 0.0 {
            return;
        }
        let (plant, conditions) = (&self.plant, &self.setup.conditions);
        let height_m = plant.rest_height_m + self.lifted_m;
        let lift_m = (height_m - self.opening_m) * plant.parts.lever.plunger_per_plate();
        let flows = lift_m > 0.0 && (pump > 0.0 || self.fuel.pressure_pa() > FLOWS_PA);
        let kept_pa = plant.parts.pressures.slit_drop_pa(self.current_a());
        if !flows && pump > 0.0 {
            self.fuel.turn(plant, (h, pump), 0.0, (0.0, 0.0));
        } else if !flows {
            self.fuel.stand(plant, conditions, h);
        } else if self.fuel.lines_open() {
            self.fuel.fill_glasses(plant, (h, pump), (lift_m, kept_pa));
        } else {
            self.fuel.tell(&mut self.plant);
            let plant = &self.plant;
            let kg_s = plant.total_kg_s(lift_m, plant.jet_m_s(self.current_a()));
            self.puddle_kg += kg_s * h;
            let arrives_m3 = kg_s * h / plant.liquid.density_kg_m3;
            self.fuel.turn(plant, (h, pump), arrives_m3, (lift_m, kept_pa));
        }
    }

    /// What drives the engine for a time `h`.
    pub(super) fn inputs(&self, inlet_m2: (f64, f64), h: f64) -> Inputs {
        let behind = self.angle_rad - CHARGE_TO_WORK_RAD;
        let ahead = behind + (self.speed_rad_s() + 0.5 * self.acceleration_rad_s2 * h) * h;
        let imep_pa = match &self.works {
            _ if !self.power.key_on => (0.0, 0.0),
            // A straight line with the mean of what comes, so that a jump on its way counts for
            // as much as it should.
            None => {
                let comes = self.work.between(behind, ahead);
                let rises = 0.5 * self.torque_factor * (comes.end - comes.start);
                let mean = self.torque_factor * comes.mean;
                (mean - rises, mean + rises)
            }
            Some(works) => {
                let even_pa = works.imep_pa(self.angle_rad, ahead + CHARGE_TO_WORK_RAD);
                (even_pa, even_pa)
            }
        };
        self.inputs_on(inlet_m2, imep_pa, h)
    }

    /// The same at an indicated pressure, at start and end (Pa).
    pub(super) fn inputs_on(&self, inlet_m2: (f64, f64), imep_pa: (f64, f64), h: f64) -> Inputs {
        let (parts, conditions) = (&self.plant.parts.starting, &self.setup.conditions);
        let (starter, start_valve_kg_s) = match &self.starts {
            None => (Starting { stall_nm: 0.0, ..*parts }, 0.0),
            Some(starts) => (starts.starter(parts, conditions), {
                let held_pa = self.setup.rig.parts().pressures.system_pa;
                let share = self.fuel.pressure_pa() / held_pa;
                starts.start_valve_kg_s(
                    parts,
                    self.start_switch.closed(conditions.coolant_k),
                    share,
                )
            }),
        };
        Inputs {
            opening_m: self.opening_m,
            inlet_m2,
            jet_m_s: self.jet_m_s(),
            imep_pa,
            brake_nm: self.pedal.brake_nm,
            starter,
            start_valve_kg_s,
            pulsation: self.options.pulsation,
            angle_rad: self.angle_rad,
            lasts_s: h,
        }
    }

    /// How a step is integrated in which the plate may move.
    ///
    /// A pulsation faster than the ticks asks for shorter steps, and so do a wide throttle,
    /// behind which the manifold fills in a fraction of a tick, and a quick plate.
    fn method(&self, inputs: &Inputs, filling_s: f64) -> Result<Method, RunFault> {
        let now = dynamics::unpack(&self.x);
        let pulse = if inputs.pulsation > 0.0 { 4.0 / TICK_S } else { 0.0 };
        let fills = 1.0 / (STEP_MOST.0 * filling_s);
        let stops = dynamics::plate_pace_per_s(&self.plant, now.height_m) / STEP_MOST.1;
        let steps = (inputs.lasts_s * pulse.max(fills).max(stops)).ceil();
        if steps <= f64::from(STEPS_MOST) {
            Ok(Method::Steps(steps as u32))
        } else {
            Err(RunFault::TooManySteps { time_s: self.time_s(), steps: steps as u32 })
        }
    }

    /// Integrates what feeds back, from event to event of the plate, until the inputs end or
    /// the driver lets go or the engine stalls. Gives the time it took (s).
    fn integrate(&mut self, inputs: &Inputs) -> Result<f64, RunFault> {
        let plant = &self.plant;
        let filling_s = dynamics::filling_s(plant, inputs, &self.x);
        // In a calm tick two rates do for a plate that holds still.
        let slow = inputs.lasts_s <= CALM_SHARE * filling_s && inputs.pulsation == 0.0;
        let calm = self.calm && slow;
        // A starter that turns lets nothing stall; one that cannot turn it any more leaves the
        // crank standing, held by the friction that stopped it.
        let stall = match &self.starts {
            Some(starts) if starts.engaged => 0.0,
            _ => 0.01 * plant.parts.controller.stall_rad_s,
        };
        let lets_go = self.pedal.lets_go_at().map_or(f64::INFINITY, |speed| 0.01 * speed);
        // Events are located to no better than this.
        let near = 1e-9;
        let (mut t, mut steps) = (0.0, 0);
        let start_s = self.time_s();
        let fault_at = |t: f64| start_s + t;
        if calm {
            self.expands.about(plant.exhaust_pa / dynamics::unpack(&self.x).manifold_pa);
        }
        for event in 0..=EVENTS_MOST {
            let slide = Slide::new(self.plate, plant);
            let held = slide.holds().then(|| {
                let height_m = dynamics::unpack(&self.x).height_m;
                let by_root = || dynamics::air_by_root(plant, height_m);
                let by_root = self.passes.of(height_m, by_root);
                dynamics::throat_passing(plant, inputs, height_m, by_root)
            });
            let kept = (held, calm.then_some(&self.expands));
            let segment = Segment::new(plant, self.film, inputs, slide, kept);
            let guard = |t: f64, x: &[f64; STATES]| {
                let net = || segment.net_force_n(t, x);
                slide.guard(x, net).min(x[1] - stall).min(lets_go - x[1])
            };
            if calm && event == 0 && held.is_some() && self.options.solver_tolerance.is_none() {
                // No guard falls where the tick before ended: one look at the end does.
                let x = midpoint_step(&segment, 0.0, &self.x, inputs.lasts_s);
                if guard(inputs.lasts_s, &x) >= 0.0 && x.iter().all(|value| value.is_finite()) {
                    self.x = x;
                    return Ok(inputs.lasts_s);
                }
            }
            let method = match self.options.solver_tolerance {
                Some(tolerance) => Method::Solver(tolerance),
                None if calm && slide.holds() => Method::Midpoint,
                None => self.method(inputs, filling_s)?,
            };
            let reached = advance(&segment, (t, &self.x), inputs.lasts_s, method, guard)
                .map_err(|GaveUp| RunFault::SolverGaveUp { time_s: fault_at(t) })?;
            (t, self.x) = (reached.t, reached.x);
            steps += reached.steps;
            if !self.x.iter().all(|value| value.is_finite()) {
                return Err(RunFault::Diverged { time_s: fault_at(t) });
            }
            if !reached.by_guard || self.x[1] >= lets_go - near {
                return Ok(t);
            }
            if self.x[1] <= stall + near {
                self.x[1] = self.x[1].max(0.0);
                self.stalled_at_s = Some(fault_at(t));
                // Who hears that it does not turn lets go of the key.
                if let Some(starts) = &mut self.starts {
                    starts.engaged = false;
                }
                return Ok(t);
            }
            let net = segment.net_force_n(t, &self.x);
            self.plate = slide.ends(&mut self.x, net);
            if steps > STEPS_MOST {
                return Err(RunFault::TooManySteps { time_s: fault_at(t), steps });
            }
        }
        Err(RunFault::EventStorm { time_s: fault_at(t) })
    }
}
