//! What is written down of a run: rows of readings, and when each has settled.

use super::procedure::{Action, Procedure};
use super::{Engine, Foot, Options, RunFault, TICK_S};
use crate::conditions::Trim;
use crate::engine::exhaust::mixed_gas;
use crate::point::{READINGS, Stall, State};
use crate::rig::keys::Setup;
use crate::sense::lambda_sensor::Cell;
use crate::steady::reading::{roughness, zone};

/// A row of the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
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
}

/// A run, written down.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// Its rows.
    pub rows: Vec<Row>,
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
    /// The mean of the last two seconds (the last row, trim off); `None` if it stalled.
    pub last: Option<State>,
    /// For each reading of [`READINGS`]: how long after the last action it settled (s).
    pub settled_after_s: Vec<Option<f64>>,
}

/// Over how long a swinging reading is averaged (s).
const MEAN_S: f64 = 2.0;
/// Share of its range within which a reading has settled.
const SETTLED_SHARE: f64 = 0.005;

impl Engine {
    /// Every reading of the running engine, or `None` if it stands.
    pub fn state(&self) -> Option<State> {
        if self.stalled_at_s.is_some() {
            return None;
        }
        let (plant, trial, conditions) = (&self.plant, &self.trial, &self.setup.conditions);
        let parts = &plant.parts;
        let rough = roughness(plant, trial);
        let gas =
            mixed_gas(&plant.fuel, &trial.lambdas, rough.mean_misfire, conditions.exhaust_leak);
        let current = self.controls.current_a();
        let (low, high) = parts.controller.trim_limits_a(self.controls.base_a);
        let base_jet = plant.jet_m_s(self.controls.base_a);
        let at_base = parts.slits.total_kg_s(trial.lift_m, base_jet, &plant.liquid);
        let cell = Cell::at(parts.sensor.tip_k).voltage_v(&plant.fuel, self.lambda_sensor);
        let duty = parts.controller.duty(current.clamp(low, high), self.controls.base_a);
        Some(State {
            zone: zone(plant, rough.cov, trial.lambda),
            valve_limit: None,
            idle_valve: self.valve,
            lambda: trial.lambda,
            cov: rough.cov,
            misfire: rough.worst_misfire,
            speed_rad_s: self.speed_rad_s(),
            manifold_pa: trial.manifold_pa,
            residual_fraction: trial.residual_fraction,
            air_kg_s: trial.air_kg_s,
            metered_kg_s: plant.inlet_kg_s(self.inlet_m2(), trial.manifold_pa),
            fuel_kg_s: trial.fuel_kg_s,
            plate_lift_m: trial.height_m - plant.rest_height_m,
            potentiometer_v: parts
                .potentiometer
                .voltage_v(trial.height_m, conditions.housing_shift_m),
            actuator_a: current,
            duty,
            trim_fuel: if at_base > 0.0 { trial.fuel_kg_s / at_base - 1.0 } else { 0.0 },
            wanted_a: None,
            wanted_duty: None,
            slit_drop_pa: parts.pressures.slit_drop_pa(current),
            co: gas.co,
            sensor_v: cell.clamp(0.0, parts.sensor.rich_cap_v),
            brake_nm: self.brake_nm,
            friction_band: parts.pressures.friction_band(),
            flows_at_rest: plant.rest_height_m > self.opening_m,
            residual: self.mass_error(),
        })
    }

    fn row(&self) -> Row {
        Row {
            time_s: self.time_s(),
            screw_turns: self.setup.conditions.screw_turns,
            state: self.state(),
            film_kg: self.film_kg(),
            lambda_at_sensor: self.lambda_sensor,
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
    mut progress: impl FnMut(f64),
) -> Result<Record, RunFault> {
    let mut engine = match Engine::new(setup, options) {
        Err(RunFault::NoStart(why)) => return Ok(not_started(procedure, why)),
        other => other?,
    };
    let mut speed_range = (engine.speed_rad_s(), engine.speed_rad_s());
    let ticks = (procedure.lasts_s / TICK_S).round() as u64;
    let mut rows = vec![engine.row()];
    let mut next = 0;
    for tick in 0..ticks {
        while let Some(step) = procedure.steps.get(next)
            && (step.at_s / TICK_S).round() as u64 <= tick
        {
            act(&mut engine, &step.action);
            next += 1;
        }
        engine.tick()?;
        let speed = engine.speed_rad_s();
        speed_range = (speed_range.0.min(speed), speed_range.1.max(speed));
        if (tick + 1) % every_ticks == 0 {
            rows.push(engine.row());
        }
        if tick % 2000 == 0 {
            progress(tick as f64 / ticks as f64);
        }
    }
    let last_action_s = procedure.steps.last().map_or(0.0, |step| step.at_s);
    let swings = engine.setup().conditions.trim == Trim::On;
    let last = last_state(&rows, swings);
    Ok(Record {
        settled_after_s: READINGS
            .iter()
            .map(|reading| {
                let series: Vec<(f64, f64)> = rows
                    .iter()
                    .filter_map(|row| Some((row.time_s, (reading.get)(row.state.as_ref()?)?)))
                    .collect();
                settled_after(&series, last_action_s, swings)
            })
            .collect(),
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
    }
}

fn act(engine: &mut Engine, action: &Action) {
    match action {
        Action::Turn(by) => {
            let mut setup = *engine.setup();
            setup.conditions.screw_turns += by;
            engine.change(setup);
        }
        Action::Blip(speed) => engine.put_foot(Foot::BlipTo(*speed)),
        Action::Throttle(share, _) if *share <= 0.0 => engine.put_foot(Foot::Off),
        Action::Throttle(share, speed) => engine.put_foot(Foot::Holds(*share, *speed)),
        Action::PlugSensor(plugged) => engine.plug_sensor(*plugged),
        Action::PlugActuator(plugged) => {
            let mut setup = *engine.setup();
            setup.conditions.actuator_a = (!plugged).then_some(0.0);
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

/// The mean of the last [`MEAN_S`] where the trim swings, else the last row.
fn last_state(rows: &[Row], swings: bool) -> Option<State> {
    let last = rows.last()?.state?;
    if !swings {
        return Some(last);
    }
    let from = rows.last()?.time_s - MEAN_S;
    let window: Vec<&State> =
        rows.iter().filter(|row| row.time_s > from).filter_map(|row| row.state.as_ref()).collect();
    let mean = |get: fn(&State) -> f64| {
        window.iter().map(|state| get(state)).sum::<f64>() / window.len() as f64
    };
    Some(State {
        lambda: mean(|s| s.lambda),
        cov: mean(|s| s.cov),
        misfire: mean(|s| s.misfire),
        speed_rad_s: mean(|s| s.speed_rad_s),
        manifold_pa: mean(|s| s.manifold_pa),
        residual_fraction: mean(|s| s.residual_fraction),
        air_kg_s: mean(|s| s.air_kg_s),
        metered_kg_s: mean(|s| s.metered_kg_s),
        fuel_kg_s: mean(|s| s.fuel_kg_s),
        plate_lift_m: mean(|s| s.plate_lift_m),
        potentiometer_v: mean(|s| s.potentiometer_v),
        actuator_a: mean(|s| s.actuator_a),
        duty: mean(|s| s.duty),
        trim_fuel: mean(|s| s.trim_fuel),
        slit_drop_pa: mean(|s| s.slit_drop_pa),
        co: mean(|s| s.co),
        sensor_v: mean(|s| s.sensor_v),
        idle_valve: mean(|s| s.idle_valve),
        ..last
    })
}

/// How long after an action a series stays within a share of its range of its final value.
///
/// 0 if it never left, `None` if it never settles; a swinging series is averaged over
/// two seconds first.
pub fn settled_after(series: &[(f64, f64)], action_s: f64, swings: bool) -> Option<f64> {
    let smooth: Vec<(f64, f64)> = if swings { moving_mean(series) } else { series.to_vec() };
    let &(end, last) = smooth.last()?;
    let least = smooth.iter().map(|(_, value)| *value).fold(f64::INFINITY, f64::min);
    let most = smooth.iter().map(|(_, value)| *value).fold(f64::NEG_INFINITY, f64::max);
    let band = SETTLED_SHARE * (most - least) + 1e-12 * last.abs();
    let after = |time: &f64| *time >= action_s - 1e-9;
    let outside = smooth
        .iter()
        .enumerate()
        .filter(|(_, (time, value))| after(time) && (value - last).abs() > band)
        .map(|(i, _)| i)
        .next_back();
    match outside {
        None => Some(0.0),
        Some(i) => {
            let (time, _) = *smooth.get(i + 1)?;
            // What has only just come in has not shown that it stays.
            (time < end - MEAN_S).then_some((time - action_s).max(0.0))
        }
    }
}

/// Mean over the [`MEAN_S`] up to each point.
fn moving_mean(series: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let (mut from, mut sum) = (0, 0.0);
    series
        .iter()
        .enumerate()
        .map(|(i, &(time, value))| {
            sum += value;
            while series[from].0 < time - MEAN_S {
                sum -= series[from].1;
                from += 1;
            }
            (time, sum / (i + 1 - from) as f64)
        })
        .collect()
}
