//! What is done to an engine, and what becomes of it.

use super::action::{Action, ActionError, given, turned};
use super::driver_input::DriverInput;
use super::dynamics;
use super::engine::{EVENT_S, Engine, TRANSIENT_S};
use super::fuel_state::RUN_IN_S;
use crate::conditions::Trim;
use crate::maths::{Kept, NearPower};
use crate::operation::operating_state::Plant;
use crate::rig::keys::Setup;
use crate::sense::lambda_sensor::OxygenCell;

impl Engine {
    /// Does something to the engine, running or standing: the one way to do it. What is
    /// refused leaves the engine as it was.
    pub fn apply(&mut self, action: &Action) -> Result<(), ActionError> {
        match action {
            Action::Turn(by) => {
                let turns = turned(&self.setup, number("turns", *by, ANY)?)?;
                self.change(|setup| setup.conditions.screw_turns = turns);
            }
            Action::Blip(speed) => {
                let speed = number("speed (rad/s)", *speed, ABOVE_ZERO)?;
                self.put_pedal(DriverInput::BlipTo(speed));
            }
            Action::Throttle(share, speed) | Action::Drive(share, speed) => {
                let share = number("throttle (share)", *share, SHARE)?;
                let speed = number("speed (rad/s)", *speed, ABOVE_ZERO)?;
                self.put_pedal(match action {
                    Action::Drive(..) => DriverInput::Drives(share, speed),
                    _ if share > 0.0 => DriverInput::Holds(share, speed),
                    _ => DriverInput::Off,
                });
            }
            Action::Kick(by) => {
                self.x[1] += 0.01 * number("speed (rad/s)", *by, ANY)?;
                self.transient_until_s = self.time_s() + TRANSIENT_S;
            }
            Action::PlugSensor(plugged) => self.controls.sensor_plugged = *plugged,
            Action::PlugActuator(plugged) => {
                let forced_a = (!plugged).then_some(0.0);
                self.change(|setup| setup.conditions.actuator_a = forced_a);
            }
            Action::Fail(fault) => self.change(|setup| setup.conditions.fail(*fault)),
            Action::Set(key, value) => {
                let mut setup = self.setup;
                given(&mut setup, key, value)?;
                self.change(|changed| *changed = setup);
            }
            Action::KeyOff => self.key_off(),
            Action::KeyOn if self.power.battery_off_s.is_some() => {
                return Err(ActionError::BatteryIsOff);
            }
            Action::KeyOn => {
                self.power.key_on = true;
                self.fuel.run_in_s = RUN_IN_S;
            }
            Action::Stand(lasts_s) => self.stand(number("time (s)", *lasts_s, NOT_BELOW_ZERO)?)?,
            Action::Starter(true) => self.starter_on()?,
            Action::Starter(false) => self.starter_off(),
            Action::BatteryOff => self.battery_off()?,
            Action::BatteryOn => self.battery_on(),
            Action::PumpJumper(on) => self.jump_pump(*on)?,
            Action::LiftPlate(by_m) => {
                let most_m = self.plant.parts.plate.top_m() - self.plant.rest_height_m;
                self.lift_plate(number("plate height above its rest (m)", *by_m, (0.0, most_m))?)?;
            }
            Action::LetPlateGo => {
                if self.stalled_at_s.is_some() {
                    self.lift_plate(0.0)?;
                }
            }
            Action::OpenLines(open) => self.open_lines(*open)?,
            Action::Wait => {}
        }
        Ok(())
    }

    /// Changes rig or conditions while it runs. The speed it idles at follows the controller.
    fn change(&mut self, change: impl FnOnce(&mut Setup)) {
        change(&mut self.setup);
        self.refit();
        let (rig, conditions) = (&self.setup.rig, &self.setup.conditions);
        self.cell = OxygenCell::at(rig.parts().sensor.tip_k);
        self.opening_m = rig.parts().lever.opening_height_m(conditions.screw_turns);
        self.controls.forced_a = conditions.actuator_a;
        self.controls.closed_loop_asked = conditions.trim == Trim::On;
        self.pedal.fit(&self.plant);
        self.transient_until_s = self.time_s() + TRANSIENT_S;
        self.event_until_s = self.time_s() + EVENT_S;
        self.jumped = true;
        let speed = self.speed_rad_s();
        self.film = dynamics::film(&self.plant.parts, &self.setup.conditions, speed);
    }

    /// Takes in a setup that has changed.
    pub(super) fn refit(&mut self) {
        let (rig, conditions) = (&self.setup.rig, &self.setup.conditions);
        self.plant = Plant::new(rig.parts(), rig.reference(), conditions);
        self.fuel.refit(&self.plant, conditions);
        self.fuel.tell(&mut self.plant);
        self.expands = NearPower::new(1.0 / rig.parts().breathing.polytropic);
        (self.passes, self.wiper) = (Kept::default(), Kept::default());
    }

    fn put_pedal(&mut self, driver: DriverInput) {
        self.pedal.put(driver, &self.plant);
    }

    /// Spark and pump stop; the controller stores what it has learned and forgets the rest.
    fn key_off(&mut self) {
        if !self.power.key_on {
            return;
        }
        self.power.key_on = false;
        self.controls.key_off();
        self.jumped = true;
        self.transient_until_s = self.time_s() + TRANSIENT_S;
        self.starter_off();
    }

    fn starter_on(&mut self) -> Result<(), ActionError> {
        if self.starts.is_some_and(|starts| starts.engaged) {
            return Ok(());
        }
        match (self.power.battery_off_s, self.power.key_on, self.stalled_at_s) {
            (Some(_), ..) => Err(ActionError::BatteryIsOff),
            (_, false, _) => Err(ActionError::KeyIsOff),
            (_, _, None) => Err(ActionError::EngineRuns),
            _ if self.fuel.lines_open() => Err(ActionError::LinesAreOpen),
            _ => {
                self.crank();
                Ok(())
            }
        }
    }

    /// Lets go of the starter; an engine slower than its stall limit then stands.
    fn starter_off(&mut self) {
        let now_s = self.time_s();
        let Some(starts) = &mut self.starts else { return };
        if std::mem::take(&mut starts.engaged)
            && self.speed_rad_s() < self.plant.parts.controller.stall_rad_s
        {
            self.stalled_at_s.get_or_insert(now_s);
        }
    }

    fn jump_pump(&mut self, on: bool) -> Result<(), ActionError> {
        match (on, self.stalled_at_s, self.power.battery_off_s) {
            (true, None, _) => return Err(ActionError::EngineRuns),
            (true, _, Some(_)) => return Err(ActionError::BatteryIsOff),
            _ => self.power.jumper = on,
        }
        Ok(())
    }

    fn lift_plate(&mut self, by_m: f64) -> Result<(), ActionError> {
        if self.stalled_at_s.is_none() {
            return Err(ActionError::EngineRuns);
        }
        self.lifted_m = by_m;
        self.x[2] = 1e3 * (self.plant.rest_height_m + by_m);
        Ok(())
    }

    /// A running engine refuses: a trainer would not let it come to that, and what is learned
    /// from a fire is learned too late.
    fn open_lines(&mut self, open: bool) -> Result<(), ActionError> {
        match (self.stalled_at_s, self.pump_runs()) {
            (None, _) => return Err(ActionError::LinesWouldSpray),
            (_, true) => return Err(ActionError::PumpRuns),
            _ => self.fuel.open_lines(open),
        }
        Ok(())
    }

    /// Lets a stopped engine stand.
    fn stand(&mut self, lasts_s: f64) -> Result<(), ActionError> {
        match (self.stalled_at_s, self.power.key_on) {
            (None, _) => Err(ActionError::EngineRuns),
            (_, true) => Err(ActionError::KeyIsOn),
            _ if self.pump_runs() => Err(ActionError::PumpRuns),
            _ => {
                let conditions = &self.setup.conditions;
                self.start_switch.cool(lasts_s, conditions.start_switch_cools_s);
                self.fuel.stand(&self.plant, conditions, lasts_s);
                self.wet.stand(lasts_s);
                self.puddle_kg *= (-lasts_s / PUDDLE_DRIES_S).exp();
                Ok(())
            }
        }
    }

    fn battery_off(&mut self) -> Result<(), ActionError> {
        if self.power.key_on {
            return Err(ActionError::KeyIsOn);
        }
        if self.stalled_at_s.is_none() {
            return Err(ActionError::EngineRuns);
        }
        let now_s = self.time_s();
        self.power.battery_off_s.get_or_insert(now_s);
        Ok(())
    }

    fn battery_on(&mut self) {
        let Some(since_s) = self.power.battery_off_s.take() else { return };
        if !self.plant.parts.memory.keeps(self.time_s() - since_s) {
            self.controls.forget_cells(&self.plant.parts);
        }
    }
}

/// Time in which fuel in the ports of a standing engine dries (s). Source: our own.
const PUDDLE_DRIES_S: f64 = 1800.0;

/// Any finite number.
const ANY: (f64, f64) = (-f64::MAX, f64::MAX);
/// A number above 0.
const ABOVE_ZERO: (f64, f64) = (f64::MIN_POSITIVE, f64::INFINITY);
/// No negative number.
const NOT_BELOW_ZERO: (f64, f64) = (0.0, f64::MAX);
/// A share.
const SHARE: (f64, f64) = (0.0, 1.0);

fn number(what: &'static str, value: f64, (low, high): (f64, f64)) -> Result<f64, ActionError> {
    match (low..=high).contains(&value) {
        true => Ok(value),
        false => Err(ActionError::OutOfRange { what, value, low, high }),
    }
}
