//! A voltmeter at the airflow potentiometer through a procedure: what it shows at the end.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::run::{procedure, voltmeter::{metered, shaken}};
//! use sim_core::sense::meter::{Meter, Needle};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let screw = procedure::shipped("screw-step").unwrap();
//! let meter = Meter::Needle(Needle::new(0.025, 2.5, 20e3));
//! let found = metered(&setup, &screw, shaken(&screw, false, 1), meter, |_| {}).unwrap();
//! assert!(found.figures.unwrap().loading_v < 0.0); // what the meter's load takes
//! ```

use super::engine::Engine;
use super::options::{Options, RunFault};
use super::procedure::Procedure;
use super::record::{Record, perform_streamed};
use crate::rig::keys::Setup;
use crate::sense::meter::{Meter, loaded_v};

/// The last part of a procedure, over which the figures are taken (s).
pub const WINDOW_S: f64 = 20.0;
/// A reading is steady while it stays this near its final value, either way (V): our own, two
/// fifths of half the width of [`IDLE_BAND_V`], so that one can aim within it.
///
/// [`IDLE_BAND_V`]: crate::sense::potentiometer::IDLE_BAND_V
pub const STEADY_V: f64 = 0.020;
/// How long it must have stayed to count as steady (s), as for the readings of a run.
const STAYS_S: f64 = 2.0;
/// Pulsation of the intake where a procedure names none, share of the flow (our own).
pub const PULSATION: f64 = 0.10;
/// How many times finer than usual the engine is looked at: a pulsation of 35 Hz is then seen
/// eleven times a period.
pub(super) const FINER: u32 = 4;
/// Ticks from row to row of the run's own trace, which is not looked at.
const ROW_TICKS: u64 = 1000;

/// What the engine is shaken by under a meter: intake pulsation (the procedure's, else
/// [`PULSATION`]) and scatter of the torque, or neither.
pub fn shaken(procedure: &Procedure, noise: bool, seed: u64) -> Options {
    let named = if procedure.pulsation > 0.0 { procedure.pulsation } else { PULSATION };
    Options {
        seed,
        torque_noise: noise,
        pulsation: if noise { named } else { 0.0 },
        finer: FINER,
        ..Options::default()
    }
}

/// A moment under the meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// When it ends (s).
    pub time_s: f64,
    /// How long it lasts (s).
    pub lasts_s: f64,
    /// Voltage at the wiper, open (V).
    pub true_v: f64,
    /// The same, loaded by the meter (V).
    pub loaded_v: f64,
    /// Resistance behind it (ohm).
    pub source_ohm: f64,
    /// What the meter shows (V).
    pub shown_v: f64,
}

/// Mean and standard deviation of what is said of moments, each by its length.
fn mean_and_deviation(moments: &[Moment], get: fn(&Moment) -> f64) -> (f64, f64) {
    let total: f64 = moments.iter().map(|m| m.lasts_s).sum();
    let mean = moments.iter().map(|m| m.lasts_s * get(m)).sum::<f64>() / total;
    let square = moments.iter().map(|m| m.lasts_s * (get(m) - mean).powi(2)).sum::<f64>() / total;
    (mean, square.sqrt())
}

/// The figures over the last [`WINDOW_S`] of a procedure.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Figures {
    /// Mean of the voltage at the wiper, open (V), and its standard deviation.
    pub true_v: (f64, f64),
    /// Mean of what is shown (V), and its standard deviation: the bounce.
    pub shown_v: (f64, f64),
    /// Least and largest shown (V).
    pub shown_range_v: (f64, f64),
    /// The mean shown, to the nearest step that can be read (V).
    pub reading_v: f64,
    /// What the meter's load takes from the mean (V); negative.
    pub loading_v: f64,
    /// Mean resistance behind the wiper (ohm).
    pub source_ohm: f64,
    /// Largest error the meter is stated to have there (V).
    pub stated_error_v: f64,
    /// From the last action (or the start, when the meter is put on) until what is shown
    /// stays within [`STEADY_V`] of its final mean (s); `None` if it does not.
    pub steady_after_s: Option<f64>,
}

/// A procedure under the meter.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Metered {
    /// The run itself.
    pub record: Record,
    /// The figures; `None` if the engine stalled.
    pub figures: Option<Figures>,
    /// The moments of the last [`WINDOW_S`].
    pub window: Vec<Moment>,
    /// The meter as it was left.
    pub meter: Meter,
}

/// Runs a procedure with a meter at the wiper, put on at the start.
///
/// The load is that of a divider at each moment ([`loaded_v`]); between two looks at the
/// engine the voltage counts as constant. The controller's own input draws nothing and does
/// not see the meter (our own: its input resistance is not known here). A stall is a result.
pub fn metered(
    setup: &Setup,
    procedure: &Procedure,
    options: Options,
    meter: Meter,
    progress: impl FnMut(f64),
) -> Result<Metered, RunFault> {
    let mut meter = meter;
    let input_ohm = meter.input_ohm();
    let last_action_s = procedure.last_action_s();
    let window_from_s = procedure.lasts_s - WINDOW_S;
    let mut window: Vec<Moment> = Vec::new();
    // Time and what was shown, since the last action.
    let mut shown: Vec<(f64, f64)> = Vec::new();
    let mut before_s = 0.0;
    let watch = |engine: &Engine| {
        let (true_v, source_ohm) = (engine.wiper_v(), engine.wiper_ohm());
        let at_meter_v = loaded_v(true_v, source_ohm, input_ohm);
        let time_s = engine.time_s();
        let lasts_s = time_s - before_s;
        before_s = time_s;
        meter.feed(at_meter_v, lasts_s);
        let shown_v = meter.shown_v();
        if time_s > last_action_s + 1e-9 {
            shown.push((time_s, shown_v));
        }
        if time_s > window_from_s + 1e-9 {
            let loaded_v = at_meter_v;
            window.push(Moment { time_s, lasts_s, true_v, loaded_v, source_ohm, shown_v });
        }
    };
    let record = perform_streamed(setup, procedure, options, ROW_TICKS, progress, watch, |_| {})?;
    let ran = record.stalled_at_s.is_none() && !window.is_empty();
    let figures = ran.then(|| {
        let (true_v, shown_v) =
            (mean_and_deviation(&window, |m| m.true_v), mean_and_deviation(&window, |m| m.shown_v));
        let least = window.iter().map(|m| m.shown_v).fold(f64::INFINITY, f64::min);
        let most = window.iter().map(|m| m.shown_v).fold(f64::NEG_INFINITY, f64::max);
        Figures {
            true_v,
            shown_v,
            shown_range_v: (least, most),
            reading_v: meter.read_v(shown_v.0),
            loading_v: mean_and_deviation(&window, |m| m.loaded_v).0 - true_v.0,
            source_ohm: mean_and_deviation(&window, |m| m.source_ohm).0,
            stated_error_v: meter.stated_error_v(shown_v.0),
            steady_after_s: steady_after_s(&shown, shown_v.0, last_action_s),
        }
    });
    Ok(Metered { record, figures, window, meter })
}

/// How long after an action (s) what was shown stays within [`STEADY_V`] of a final value.
pub fn steady_after_s(shown: &[(f64, f64)], final_v: f64, action_s: f64) -> Option<f64> {
    let end_s = shown.last()?.0;
    match shown.iter().rev().find(|(_, value)| (value - final_v).abs() > STEADY_V) {
        None => Some(0.0),
        Some((time_s, _)) => (*time_s < end_s - STAYS_S).then_some(time_s - action_s),
    }
}
