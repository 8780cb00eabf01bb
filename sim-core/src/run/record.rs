//! What is written down of a run: rows of readings, and when each has settled.

use super::driver_input::DriverInput;
use super::dynamics;
use super::procedure::{Action, Procedure};
use super::settling::{Averages, Dispersion, Gatherer, Series, mean_of_swings};
use super::{Engine, Options, RunFault, TICK_S};
use crate::conditions::Trim;
use crate::engine::exhaust::mixed_gas;
use crate::point::{READINGS, Stall, State};
use crate::rig::keys::Setup;
use crate::sense::lambda_sensor::OxygenCell;
use crate::steady::roughness::{judge, roughness};

/// A row of the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TraceRow {
    /// Time since the start (s).
    pub time_s: f64,
    /// Screw position (turns).
    pub screw_turns: f64,
    /// Every reading; `None` once the engine stands.
    pub state: Option<State>,
    /// Fuel on the walls (kg).
    pub film_kg: f64,
    /// What the lambda sensor takes for lambda.
    pub lambda_at_sensor: f64,
    /// The fast idle trim that is learned (A).
    pub learned_a: f64,
}

/// A run, written down.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// Its rows.
    pub rows: Vec<TraceRow>,
    /// When the last action was taken (s).
    pub last_action_s: f64,
    /// When the engine stalled, if it did (s).
    pub stalled_at_s: Option<f64>,
    /// Why it did not even run at the start, if it did not.
    pub no_start: Option<Stall>,
    /// Least and largest speed over all ticks (rad/s).
    pub speed_range_rad_s: (f64, f64),
    /// Largest relative error of the mass balances of air and fuel.
    pub mass_error: f64,
    /// The mean over the whole swings of the last ten seconds (with the trim off the last
    /// row); `None` if it stalled.
    pub last: Option<State>,
    /// For each reading of [`READINGS`]: how long after the last action it settled (s).
    pub settled_after_s: Vec<Option<f64>>,
    /// The same for the fast idle trim that is learned.
    pub learned_settled_after_s: Option<f64>,
    /// How long a swing of the trim takes at the end, if it swings (s).
    pub swing_s: Option<f64>,
    /// What the readings did before the first action and after each.
    pub dwells: Vec<Dwell>,
}

/// The time between actions.
#[derive(Clone, Debug, PartialEq)]
pub struct Dwell {
    /// When it starts (s).
    pub from_s: f64,
    /// When it ends (s).
    pub to_s: f64,
    /// What each of [`READINGS`] did in its second half; empty if the engine stood.
    pub spreads: Vec<Option<Dispersion>>,
}

/// The dwells of a procedure: its distinct times of action, as ticks.
fn dwells(procedure: &Procedure, ticks: u64) -> Vec<(u64, u64)> {
    let at = procedure.steps.iter().map(|step| (step.at_s / TICK_S).round() as u64);
    let mut starts: Vec<u64> = [0].into_iter().chain(at).collect();
    starts.dedup();
    let ends = starts[1..].iter().copied().chain([ticks]);
    starts.iter().copied().zip(ends).filter(|(from, to)| to > from).collect()
}

/// The last part of a run, in which whole swings of the trim are averaged (s).
const SWINGS_S: f64 = 10.0;

impl Engine {
    /// Every reading of the running engine, or `None` if it stands.
    pub fn state(&self) -> Option<State> {
        if self.stalled_at_s.is_some() {
            return None;
        }
        let (plant, trial, conditions) = (&self.plant, &self.charge(), &self.setup.conditions);
        let parts = &plant.parts;
        let rough = roughness(plant, trial);
        let (zone, rough_by) = judge(plant, conditions, &rough, trial.lambda, 0.0);
        let gas =
            mixed_gas(&plant.fuel, &trial.lambdas, rough.mean_misfire, conditions.exhaust_leak);
        let current = self.controls.current_a();
        let (low, high) = parts.controller.trim_limits_a(self.controls.base_a);
        let base_jet = plant.jet_m_s(self.controls.base_a);
        let at_base = parts.slits.total_kg_s(trial.lift_m, base_jet, &plant.liquid);
        let cell = OxygenCell::at(parts.sensor.tip_k).voltage_v(&plant.fuel, self.gas.sensor);
        let duty = parts.controller.duty(current.clamp(low, high), self.controls.base_a);
        Some(State {
            zone,
            rough_by,
            valve_limit: None,
            idle_valve: self.valve,
            lambda: trial.lambda,
            cov: rough.cov,
            misfire: rough.worst_misfire,
            mean_misfire: rough.mean_misfire,
            speed_drop_rad_s: 0.0,
            speed_rad_s: self.speed_rad_s(),
            manifold_pa: trial.manifold_pa,
            residual_fraction: trial.residual_fraction,
            air_kg_s: trial.air_kg_s,
            metered_kg_s: dynamics::intake(
                plant,
                self.inlet_m2(),
                trial.manifold_pa,
                trial.height_m,
            )
            .metered_kg_s,
            fuel_kg_s: trial.fuel_kg_s,
            plate_lift_m: trial.height_m - plant.rest_height_m,
            potentiometer_v: plant.potentiometer_v(conditions, trial.height_m),
            actuator_a: current,
            duty,
            trim_fuel: if at_base > 0.0 && current != self.controls.base_a {
                trial.fuel_kg_s / at_base - 1.0
            } else {
                0.0
            },
            wanted_a: None,
            wanted_duty: None,
            slit_drop_pa: parts.pressures.slit_drop_pa(current),
            co: gas.co,
            sensor_v: cell.clamp(0.0, parts.sensor.rich_cap_v),
            brake_nm: self.pedal.brake_nm,
            friction_band: parts.pressures.friction_band(),
            flows_at_rest: plant.flows_at_rest(self.opening_m),
            residual: self.mass_error(),
        })
    }

    /// Fuel on the walls (kg).
    pub fn film_kg(&self) -> f64 {
        dynamics::unpack(&self.x).film_kg
    }

    /// Largest relative error of the mass balances since the start: air and fuel in, less
    /// out, less what is stored.
    pub fn mass_error(&self) -> f64 {
        let now = dynamics::unpack(&self.x);
        let [air_in, air_out, fuel_in, fuel_out] = now.sums_kg;
        let parts = &self.plant.parts;
        let per_pa =
            parts.dynamics.manifold_m3 / (crate::air::GAS_CONSTANT * parts.breathing.charge_k);
        let air = air_in - air_out - per_pa * (now.manifold_pa - self.start.manifold_pa);
        let fuel = fuel_in - fuel_out - (now.film_kg - self.start.film_kg);
        let share = |error: f64, through: f64| {
            if through > 0.0 { error.abs() / through } else { 0.0 }
        };
        share(air, air_in).max(share(fuel, fuel_in))
    }

    fn row(&self) -> TraceRow {
        TraceRow {
            time_s: self.time_s(),
            screw_turns: self.setup.conditions.screw_turns,
            state: self.state(),
            film_kg: self.film_kg(),
            lambda_at_sensor: self.gas.sensor,
            learned_a: self.controls.fast_a,
        }
    }
}

/// Runs a procedure from the settled point and writes it down every `every_ticks` ticks.
/// `progress` is told the share that is done now and then.
pub fn perform(
    setup: &Setup,
    procedure: &Procedure,
    options: Options,
    every_ticks: u64,
    progress: impl FnMut(f64),
) -> Result<Record, RunFault> {
    perform_watched(setup, procedure, options, every_ticks, progress, |_| {})
}

/// The same, with a look at the engine after every part of a tick.
pub fn perform_watched(
    setup: &Setup,
    procedure: &Procedure,
    options: Options,
    every_ticks: u64,
    mut progress: impl FnMut(f64),
    mut watch: impl FnMut(&Engine),
) -> Result<Record, RunFault> {
    let mut engine = match Engine::new(setup, options) {
        Err(RunFault::NoStart(why)) => return Ok(not_started(procedure, why)),
        other => other?,
    };
    let mut speed_range = (engine.speed_rad_s(), engine.speed_rad_s());
    let ticks = (procedure.lasts_s / TICK_S).round() as u64;
    let mut rows = vec![engine.row()];
    let mut next = 0;
    let (mut tail, mut averages) = (Vec::new(), Averages::default());
    let mut dwelt: Vec<Dwell> = Vec::new();
    let mut gathered = Gatherer::default();
    let spans = dwells(procedure, ticks);
    let tail_from = ticks.saturating_sub((SWINGS_S / TICK_S).round() as u64);
    for tick in 0..ticks {
        while let Some(step) = procedure.steps.get(next)
            && (step.at_s / TICK_S).round() as u64 <= tick
        {
            act(&mut engine, &step.action);
            next += 1;
        }
        engine.tick_watched(&mut watch)?;
        let speed = engine.speed_rad_s();
        speed_range = (speed_range.0.min(speed), speed_range.1.max(speed));
        if (tick + 1) % every_ticks == 0 {
            rows.push(engine.row());
        }
        let (from, to) = spans[dwelt.len()];
        let swings = engine.setup().conditions.trim == Trim::On;
        let second_half = tick >= (from + to) / 2;
        if (swings || second_half)
            && let Some(state) = engine.state()
        {
            if second_half {
                gathered.push(&state);
            }
            if swings {
                averages.push(&state, engine.controls.fast_a);
                if tick >= tail_from {
                    tail.push(state);
                }
            }
        }
        if tick + 1 == to {
            let spreads = std::mem::take(&mut gathered).spreads();
            let (from_s, to_s) = (from as f64 * TICK_S, to as f64 * TICK_S);
            dwelt.push(Dwell { from_s, to_s, spreads });
        }
        if tick % 2000 == 0 {
            progress(tick as f64 / ticks as f64);
        }
    }
    let last_action_s = procedure.steps.last().map_or(0.0, |step| step.at_s);
    let swings = engine.setup().conditions.trim == Trim::On;
    let last = rows.last().and_then(|row| row.state).map(|last| mean_of_swings(&tail, last));
    let (last, swing_s) = last.unzip();
    let mut settled = if swings {
        averages.settled_after(last_action_s, swing_s.flatten())
    } else {
        settled_rows(&rows, last_action_s, every_ticks as f64 * TICK_S)
    };
    let learned_settled_after_s = settled.pop().flatten();
    Ok(Record {
        settled_after_s: settled,
        learned_settled_after_s,
        swing_s: swing_s.flatten(),
        dwells: dwelt,
        mass_error: engine.mass_error(),
        stalled_at_s: engine.stalled_at_s(),
        no_start: None,
        speed_range_rad_s: speed_range,
        last_action_s,
        last,
        rows,
    })
}

/// The record of an engine that does not run to begin with: a result, too.
fn not_started(procedure: &Procedure, why: Stall) -> Record {
    Record {
        rows: Vec::new(),
        last_action_s: procedure.steps.last().map_or(0.0, |step| step.at_s),
        stalled_at_s: Some(0.0),
        no_start: Some(why),
        speed_range_rad_s: (0.0, 0.0),
        mass_error: 0.0,
        last: None,
        settled_after_s: vec![None; READINGS.len()],
        learned_settled_after_s: None,
        swing_s: None,
        dwells: Vec::new(),
    }
}

/// How long after an action each reading of the rows settled, and the learned trim.
fn settled_rows(rows: &[TraceRow], action_s: f64, step_s: f64) -> Vec<Option<f64>> {
    let series = |get: &dyn Fn(&TraceRow) -> Option<f64>| {
        let values = rows.iter().map_while(|row| row.state.is_some().then(|| get(row)));
        let series = Series { start_s: 0.0, step_s, values: values.flatten().collect() };
        series.settled_after(action_s)
    };
    let readings = READINGS.iter().map(|reading| series(&|row| (reading.get)(row.state.as_ref()?)));
    readings.chain([series(&|row| Some(row.learned_a))]).collect()
}

fn act(engine: &mut Engine, action: &Action) {
    match action {
        Action::Turn(by) => {
            let mut setup = *engine.setup();
            setup.conditions.screw_turns += by;
            engine.change(setup);
        }
        Action::Blip(speed) => engine.put_foot(DriverInput::BlipTo(*speed)),
        Action::Throttle(share, _) if *share <= 0.0 => engine.put_foot(DriverInput::Off),
        Action::Throttle(share, speed) => engine.put_foot(DriverInput::Holds(*share, *speed)),
        Action::PlugSensor(plugged) => engine.plug_sensor(*plugged),
        Action::PlugActuator(plugged) => {
            let mut setup = *engine.setup();
            setup.conditions.actuator_a = (!plugged).then_some(0.0);
            engine.change(setup);
        }
        Action::Fail(sensor, mode) => {
            let mut setup = *engine.setup();
            setup.conditions.fail(sensor, mode);
            engine.change(setup);
        }
        Action::Set(key, value) => {
            let mut setup = *engine.setup();
            // Checked when the procedure was read, against the rig it runs on.
            if value.give(key, &mut setup).is_ok() {
                engine.change(setup);
            }
        }
        Action::Wait => {}
    }
}
