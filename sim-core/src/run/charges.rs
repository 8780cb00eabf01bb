//! The charges of a running engine, on their way to their work and their gas to the sensor.

use super::dynamics::{self, DynamicState, Film, Inputs, STATES};
use super::engine::{Engine, seen};
use super::port_store::{CHARGE_TO_WORK_RAD, Holds, Unburnt};
use super::transport_delay::{ExhaustPath, GasSample};
use super::trend::Trend;
use crate::air::GAS_CONSTANT;
use crate::operation::operating_state::OperatingState;
use crate::operation::roughness::roughness;
use crate::sense::faults::{LAZY, Lambda};
use std::f64::consts::PI;

/// Ticks for which the scatter of the torque is taken to stay what it is: it goes with the
/// mixture, which the film and the trim move no faster.
const COV_TICKS: u64 = 8;
/// In calm ticks charges may go unsent: one, or so many in a row where those before lie on an even
/// arc ([`Trend::is_even`]). The arc's value half-way is then sent for them.
const UNSENT_MOST: u32 = 3;
/// But only if the crank turns less than this share of a charge's way to its work, and of its
/// gas's way to the port, from one that is sent to the next: as much again passes before either.
const SPAN: f64 = 0.5;
/// And if the last one made so much of what the engine takes.
const CARRIES: f64 = 0.97;
/// Halvings of a part of a step, to find where charges cease to burn.
const HALVINGS: u32 = 20;
/// Temperature of the exhaust before the lambda sensor (K).
const PIPE_K: f64 = 650.0;

impl Engine {
    /// The charge drawn in at this moment, but for the work it will do.
    pub(super) fn charge(&self) -> OperatingState {
        let now = dynamics::unpack(&self.x);
        let film = dynamics::film(&self.plant.parts, &self.setup.conditions, now.speed_rad_s);
        let inputs = self.inputs_on((0.0, 0.0), (0.0, 0.0), 0.0);
        dynamics::mixture(&self.plant, &now, &inputs, &film, &self.holds(&now, self.angle_rad)).0
    }

    /// The charge drawn in about a crank angle (rad) in a state.
    pub(super) fn charge_of(
        &self,
        now: &DynamicState,
        inputs: &Inputs,
        film: &Film,
        angle_rad: f64,
    ) -> OperatingState {
        dynamics::charge(&self.plant, now, inputs, film, &self.holds(now, angle_rad))
    }

    fn holds(&self, now: &DynamicState, angle_rad: f64) -> Holds {
        Holds {
            collected_kg: self.ports.collected_kg(angle_rad, now.sums_kg[3]),
            trapped: self.unburnt.trapped(angle_rad),
        }
    }

    /// Sends charge and gas on their ways, as they were half-way through the step, which took a
    /// time (s): what jumped at its start then counts from there. Gives the mixture of the
    /// charge, if one was sent.
    pub(super) fn transport(
        &mut self,
        inputs: &Inputs,
        before: &[f64; STATES],
        took_s: f64,
    ) -> f64 {
        let (then, now) = (dynamics::unpack(before), dynamics::unpack(&self.x));
        let turned = 0.5 * (then.speed_rad_s + now.speed_rad_s) * took_s;
        let start_rad = self.angle_rad;
        self.angle_rad += turned;
        let sent = (!self.may_wait(turned)).then(|| self.send(inputs, start_rad, &then, &now));
        self.ports.push(self.angle_rad, now.sums_kg[3]);
        self.unsent = if sent.is_none() { self.unsent + 1 } else { 0 };
        let [air_kg, fuel_kg] = [1, 2].map(|i| now.sums_kg[i] - then.sums_kg[i]);
        let gas = GasSample {
            seen: sent.as_ref().map(|(_, seen)| *seen),
            passes_kg: air_kg + fuel_kg,
            angles_rad: (start_rad, self.angle_rad),
            lasts_s: took_s,
        };
        let moving = &self.plant.parts.dynamics;
        let path = ExhaustPath {
            port_rad: self.to_port_rad(),
            pipe_kg: self.plant.exhaust_pa * moving.pipe_m3 / (GAS_CONSTANT * PIPE_K),
            lag_s: match self.setup.conditions.faults.lambda {
                Lambda::Lazy => LAZY * moving.sensor_lag_s,
                _ => moving.sensor_lag_s,
            },
        };
        self.gas.advance(&gas, &path);
        self.acceleration_rad_s2 = (now.speed_rad_s - then.speed_rad_s) / took_s;
        // The film of the next step dries as it would half-way through it.
        let speed = now.speed_rad_s + 0.5 * self.acceleration_rad_s2 * took_s;
        let (parts, conditions) = (&self.plant.parts, &self.setup.conditions);
        self.film = dynamics::film_by(&mut self.dries, parts, conditions, speed);
        let Some((charge, _)) = sent else { return f64::NAN };
        if let Some(works) = &mut self.works {
            let turns = (start_rad, self.angle_rad, took_s);
            works.turn(turns, self.power.key_on, &self.plant, &charge);
        } else if self.options.torque_noise
            && let fired @ 1.. = self.firings_between(start_rad, self.angle_rad)
        {
            if self.ticks >= self.cov_anew_at {
                self.cov_anew_at = self.ticks + COV_TICKS;
                self.cov = roughness(&self.plant, &charge).cov.min(1.0);
            }
            let sum: f64 = (0..fired).map(|_| self.noise.normal()).sum();
            self.torque_factor = (1.0 + self.cov * sum / fired as f64).max(0.0);
        }
        charge.lambda
    }

    /// Crank angle from a charge's intake to its gas in the port (rad).
    fn to_port_rad(&self) -> f64 {
        2.0 * PI * self.plant.parts.dynamics.charge_to_port_rev
    }

    /// Whether the charge of a step may go unsent, as the line or arc from the one before to the
    /// one after tells enough: in a calm tick of an engine that its charges carry, long before
    /// it comes to its work.
    fn may_wait(&self, turned_rad: f64) -> bool {
        let scatters = self.options.torque_noise || self.works.is_some();
        let span_rad = f64::from(self.unsent + 2) * turned_rad;
        self.calm
            && self.unsent < UNSENT_MOST
            && (self.unsent == 0 || self.trend.is_even(span_rad))
            && !self.jumped
            && !scatters
            && self.carried
            && self.starts.is_none()
            && span_rad < SPAN * CHARGE_TO_WORK_RAD.min(self.to_port_rad())
    }

    /// Sends the charge half-way through a step on its way. Gives it, and what the lambda sensor
    /// would take its gas for.
    fn send(
        &mut self,
        inputs: &Inputs,
        start_rad: f64,
        then: &DynamicState,
        now: &DynamicState,
    ) -> (OperatingState, f64) {
        let half_way = 0.5 * (start_rad + self.angle_rad);
        let moving = then.between(now, 0.5);
        let charge = self.charge_of(&moving, inputs, &self.film, half_way);
        let gas = seen(&self.setup, &self.plant, &charge);
        let first = std::mem::take(&mut self.jumped).then(|| {
            // The last of those that went unsent was drawn in half a step before the jump.
            let unsent = f64::from(self.unsent);
            let at_rad = self.trend.at_rad;
            let last_rad = at_rad + (start_rad - at_rad) * unsent / (unsent + 0.5);
            if self.unsent > 0 && self.trend.is_known() {
                self.send_known(last_rad, self.trend.beyond(last_rad));
            }
            let first = self.charge_of(then, inputs, &self.film, start_rad);
            let first_gas = seen(&self.setup, &self.plant, &first);
            self.work.jump(start_rad, first.imep_pa);
            self.gas.jump(start_rad, first_gas);
            self.unburnt.jump(start_rad, first.lambda);
            self.trend = Trend::unknown();
            self.trend.go_on(start_rad, [first.imep_pa, first_gas]);
            self.unsent = 0;
            first
        });
        let before_rad = self.trend.at_rad;
        let on_arc = self.trend.go_on(half_way, [charge.imep_pa, gas]);
        if self.unsent > 1 {
            self.send_known(0.5 * (before_rad + half_way), on_arc);
        }
        let looks = self.unburnt.looks(charge.imep_pa) || !self.power.key_on;
        if looks {
            self.follow_unburnt(
                (first.as_ref(), &charge),
                inputs,
                [(start_rad, then), (half_way, &moving), (self.angle_rad, now)],
            );
        }
        self.work.push(half_way, charge.imep_pa, self.angle_rad - half_way + CHARGE_TO_WORK_RAD);
        self.note_shortage(&charge, inputs);
        self.carried =
            !looks && self.short.is_none() && charge.imep_pa >= charge.demand_pa * CARRIES;
        (charge, gas)
    }

    /// Sends a charge between one that was sent and the next, of which work (Pa) and gas are known.
    fn send_known(&mut self, at_rad: f64, [imep_pa, gas]: [f64; 2]) {
        self.work.push(at_rad, imep_pa, f64::INFINITY);
        self.gas.fill(at_rad, gas);
    }

    /// Finds where in a step charges cease to burn or burn again: at its start, if the mixture
    /// has jumped there, or on the way from there over its middle to its end.
    fn follow_unburnt(
        &mut self,
        (first, middle): (Option<&OperatingState>, &OperatingState),
        inputs: &Inputs,
        at: [(f64, &DynamicState); 3],
    ) {
        let lit = self.power.key_on;
        let has_burnt = |charge: &OperatingState| lit && Unburnt::has_burnt(charge.imep_pa);
        let burns = |engine: &Engine, (angle_rad, state): (f64, &DynamicState)| {
            has_burnt(&engine.charge_of(state, inputs, &engine.film, angle_rad))
        };
        let mut before = first.map_or(lit && self.unburnt.burns(), has_burnt);
        self.unburnt.turns(at[0].0, before);
        let burns_then = [has_burnt(middle), burns(self, at[2])];
        for (pair, after) in at.windows(2).zip(burns_then) {
            let [from, to] = [pair[0], pair[1]];
            if after != before {
                let between = |share: f64| {
                    let along = |a: f64, b: f64| a + share * (b - a);
                    (along(from.0, to.0), from.1.between(to.1, share))
                };
                let (mut low, mut high) = (0.0, 1.0);
                for _ in 0..HALVINGS {
                    let half = 0.5 * (low + high);
                    let (angle_rad, state) = between(half);
                    if burns(self, (angle_rad, &state)) == before {
                        low = half
                    } else {
                        high = half
                    }
                }
                self.unburnt.turns(between(high).0, after);
            }
            before = after;
        }
        self.unburnt.push(at[1].0, middle.lambda, at[2].0);
    }

    /// How many cylinders fire between two crank angles (rad).
    fn firings_between(&self, from_rad: f64, to_rad: f64) -> u64 {
        let count = self.plant.parts.slits.width_m.len() as f64;
        let before = |angle: f64| (angle * count / (4.0 * PI)).floor() as u64;
        before(to_rad) - before(from_rad)
    }
}
