//! What is written down of a run: rows of readings, and when each has settled.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::run::{Options, procedure, record::perform};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let screw = procedure::shipped("screw-step").unwrap();
//! let record = perform(&setup, &screw, Options::default(), 100, |_| {}).unwrap();
//! assert!(record.stalled_at_s.is_none() && record.rows.len() > 1);
//! ```

use super::action::{Action, Value};
use super::engine::Engine;
use super::options::{Options, RunFault, TICK_S};
use super::procedure::{Procedure, Step};
pub use super::readings::TraceRow;
use super::settling::{Averages, Dispersion, Gatherer, Series, last_decimal, mean_of_swings};
use super::stall_cause::StallCause;
use crate::conditions::Trim;
use crate::point::{READINGS, Stall, State};
use crate::rig::keys::Setup;

/// A run, written down.
#[derive(Clone, Debug, Default, PartialEq)]
#[must_use]
pub struct Record {
    /// Its rows.
    pub rows: Vec<TraceRow>,
    /// When the last action was taken (s).
    pub last_action_s: f64,
    /// When the engine stalled, if it did (s).
    pub stalled_at_s: Option<f64>,
    /// Why it stalled, if it stalled on the way.
    pub stalled_because: Option<StallCause>,
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

/// Runs a procedure from the settled point and writes it down every `every_ticks` ticks.
/// `progress` gets the share that is done now and then.
pub fn perform(
    setup: &Setup,
    procedure: &Procedure,
    options: Options,
    every_ticks: u64,
    progress: impl FnMut(f64),
) -> Result<Record, RunFault> {
    let mut rows = Vec::new();
    let keep = |row: &TraceRow| rows.push(*row);
    let record = perform_streamed(setup, procedure, options, every_ticks, progress, |_| {}, keep)?;
    Ok(Record { rows, ..record })
}

/// The same with a look at the engine after every part of a tick, and with each row handed
/// over as it comes and none kept: a record without rows.
/// What it keeps for the waiting times is little with the trim on, and with the trim off
/// eight bytes a reading and row.
pub fn perform_streamed(
    setup: &Setup,
    procedure: &Procedure,
    options: Options,
    every_ticks: u64,
    mut progress: impl FnMut(f64),
    mut watch: impl FnMut(&Engine),
    mut hand_over: impl FnMut(&TraceRow),
) -> Result<Record, RunFault> {
    let begun = if procedure.begins_standing() {
        Ok(Engine::standing(setup, options))
    } else {
        Engine::new(setup, options)
    };
    let mut engine = match begun {
        Err(RunFault::NoStart(why)) => return Ok(not_started(procedure, why)),
        other => other?,
    };
    let mut speed_range = (engine.speed_rad_s(), engine.speed_rad_s());
    let ticks = (procedure.lasts_s / TICK_S).round() as u64;
    let mut last_row = engine.readings();
    hand_over(&last_row);
    let mut series = may_end_open(setup, procedure).then(RowSeries::default);
    series.iter_mut().for_each(|series| series.push(&last_row));
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
            let time_s = engine.time_s();
            engine.apply(&step.action).map_err(|why| RunFault::Refused { time_s, why })?;
            next += 1;
        }
        engine.tick_watched(&mut watch)?;
        let speed = engine.speed_rad_s();
        speed_range = (speed_range.0.min(speed), speed_range.1.max(speed));
        if (tick + 1) % every_ticks == 0 {
            last_row = engine.readings();
            hand_over(&last_row);
            series.iter_mut().for_each(|series| series.push(&last_row));
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
    let last_action_s = procedure.last_action_s();
    let swings = engine.setup().conditions.trim == Trim::On;
    let last = last_row.state.map(|last| mean_of_swings(&tail, last));
    let (last, swing_s) = last.unzip();
    let last = last.map(|last| engine.with_mode(last));
    let mut settled = match series {
        Some(series) if !swings => series.settled_after(last_action_s, every_ticks as f64 * TICK_S),
        _ => averages.settled_after(last_action_s, swing_s.flatten()),
    };
    let learned_settled_after_s = settled.pop().flatten();
    Ok(Record {
        settled_after_s: settled,
        learned_settled_after_s,
        swing_s: swing_s.flatten(),
        dwells: dwelt,
        mass_error: engine.mass_error(),
        stalled_at_s: engine.stalled_at_s(),
        stalled_because: engine.stalled_because(),
        no_start: None,
        speed_range_rad_s: speed_range,
        last_action_s,
        last,
        rows: Vec::new(),
    })
}

/// The record of an engine that does not run to begin with: a result, too.
fn not_started(procedure: &Procedure, why: Stall) -> Record {
    Record {
        last_action_s: procedure.last_action_s(),
        stalled_at_s: Some(0.0),
        stalled_because: None,
        no_start: Some(why),
        settled_after_s: vec![None; READINGS.len()],
        ..Record::default()
    }
}

/// Whether the trim may be off at the end.
fn may_end_open(setup: &Setup, procedure: &Procedure) -> bool {
    let opens = |step: &Step| matches!(&step.action, Action::Set("trim", Value::Word(word)) if word == "off");
    setup.conditions.trim == Trim::Off || procedure.steps.iter().any(opens)
}

/// Every reading of the rows, and the learned trim, up to where the engine stands.
#[derive(Default)]
struct RowSeries {
    values: Vec<Vec<f64>>,
    ended: bool,
}

impl RowSeries {
    fn push(&mut self, row: &TraceRow) {
        self.values.resize(READINGS.len() + 1, Vec::new());
        // One that stands to begin with has not ended.
        self.ended |= row.state.is_none() && !self.values.iter().all(Vec::is_empty);
        let Some(state) = row.state.filter(|_| !self.ended) else { return };
        for (values, reading) in self.values.iter_mut().zip(READINGS) {
            // Where it means nothing it keeps its last value: every row counts.
            values.extend((reading.get)(&state).or(values.last().copied()));
        }
        self.values[READINGS.len()].push(row.learned_a);
    }

    /// How long after an action each settled.
    fn settled_after(self, action_s: f64, step_s: f64) -> Vec<Option<f64>> {
        self.values
            .into_iter()
            .enumerate()
            .map(|(i, values)| {
                let series = Series { start_s: 0.0, step_s, values };
                series.settled_within(action_s, last_decimal(i))
            })
            .collect()
    }
}
