//! One short drive that shows what a driver would notice: a start, an idle, a blip, a push on
//! the pedal, a wide-open throttle. The same for every car, so that two can be compared.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::run::{Options, trial::trial};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let warm = trial(&setup, Options::default()).unwrap();
//! assert!(warm.start.reason.is_none() && warm.stalled_because.is_none());
//! ```

use super::action::Action;
use super::engine::Engine;
use super::options::{Options, RunFault, TICK_S};
use super::stall_cause::StallCause;
use super::start::{StartOutcome, start};
use crate::rig::keys::Setup;
use crate::units::Unit;

/// Cranking at most, and how long a start is looked at (s).
const START_S: (f64, f64) = (10.0, 15.0);
/// The idle after the start: how long it lasts, and over how much of its end it is read (s).
const IDLE_S: (f64, f64) = (40.0, 15.0);
/// Speed of the blip (rpm), and how long it is looked at (s).
const BLIP: (f64, f64) = (2500.0, 10.0);
/// Speed at which the pedal is pushed (rpm), throttle before and after (share), and how long
/// each is held (s).
const PUSH: (f64, (f64, f64), (f64, f64)) = (1500.0, (0.08, 0.25), (5.0, 3.0));
/// The wide-open throttle: speed (rpm), how long it is held, and over how much it is read (s).
const WIDE: (f64, f64, f64) = (2500.0, 8.0, 3.0);
/// A mixture that moves by less than this about its mean does not swing (standard deviation of
/// lambda): a closed loop's two points make several times as much.
const SWINGS: f64 = 0.004;
/// No loop swings faster (s): the gas is on its way for half of that.
const QUICKEST_S: f64 = 0.3;
/// A mixture leaner than this counts as none.
const LEANEST: f64 = 10.0;

/// What a short drive showed. What it did not come to is `None`.
#[derive(Clone, Debug, Default, PartialEq)]
#[must_use]
pub struct Trial {
    /// The start.
    pub start: StartOutcome,
    /// The idle half a minute after it.
    pub idle: Option<IdleFelt>,
    /// Least speed after the blip (rad/s).
    pub blip_lowest_rad_s: Option<f64>,
    /// Time from the blip's release to within 50 rpm of the idle before (s); `None` if it does not
    /// come back.
    pub blip_back_s: Option<f64>,
    /// Whether the fuel was cut while it ran down.
    pub cut: bool,
    /// Leanest mixture after the push on the pedal, and current added for it at the most (A).
    pub push: Option<(f64, f64)>,
    /// Mixture and torque of the wide-open throttle (N m).
    pub wide_open: Option<(f64, f64)>,
    /// Fuel of it all (kg).
    pub fuel_kg: f64,
    /// Why it stalled, if it did.
    pub stalled_because: Option<StallCause>,
}

/// An idle as it is felt.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct IdleFelt {
    /// Mean speed (rad/s).
    pub speed_rad_s: f64,
    /// Its standard deviation (rad/s).
    pub surge_rad_s: f64,
    /// Mean mixture.
    pub lambda: f64,
    /// Time of one of its swings about its mean (s); `None` if it does not swing.
    pub swing_s: Option<f64>,
    /// Roughness at the end: COV of imep.
    pub cov: f64,
    /// Mean voltage of the potentiometer (V).
    pub potentiometer_v: f64,
}

/// Means and standard deviation of what is added.
#[derive(Clone, Copy, Debug, Default)]
struct Mean {
    count: f64,
    sum: f64,
    squares: f64,
}

impl Mean {
    fn add(&mut self, value: f64) {
        (self.count, self.sum) = (self.count + 1.0, self.sum + value);
        self.squares += value * value;
    }

    fn mean(&self) -> f64 {
        self.sum / self.count
    }

    fn deviation(&self) -> f64 {
        (self.squares / self.count - self.mean() * self.mean()).max(0.0).sqrt()
    }
}

/// Starts an engine and drives it.
pub fn trial(setup: &Setup, options: Options) -> Result<Trial, RunFault> {
    let mut found =
        Trial { start: start(setup, options, START_S.0, START_S.1)?, ..Trial::default() };
    if found.start.reason.is_some() {
        return Ok(found);
    }
    let mut engine = Engine::standing(setup, options);
    engine.turn_key()?;
    drive(&mut engine, &mut found)?;
    found.fuel_kg = engine.fuel_kg();
    if engine.stalled_at_s().is_some() {
        found.stalled_because = engine.stalled_because();
    }
    Ok(found)
}

/// What follows the key; ends where the engine stalls.
fn drive(engine: &mut Engine, found: &mut Trial) -> Result<(), RunFault> {
    while engine.is_cranking() && engine.time_s() < START_S.0 {
        engine.tick()?;
    }
    hold(engine, IDLE_S.0 - IDLE_S.1, |_| {})?;
    let (mut speed, mut lambda, mut volts) = (Mean::default(), Mean::default(), Mean::default());
    let mut lambdas = Vec::new();
    hold(engine, IDLE_S.1, |engine| {
        speed.add(engine.speed_rad_s());
        lambda.add(engine.flow().lambda.min(LEANEST));
        lambdas.push(engine.flow().lambda);
        volts.add(engine.wiper_v());
    })?;
    if engine.stalled_at_s().is_some() {
        return Ok(());
    }
    let idle_rad_s = speed.mean();
    found.idle = Some(IdleFelt {
        speed_rad_s: idle_rad_s,
        surge_rad_s: speed.deviation(),
        lambda: lambda.mean(),
        swing_s: swing_s(&lambdas, lambda.mean())
            .filter(|s| lambda.deviation() > SWINGS && *s > QUICKEST_S),
        cov: engine.cov(),
        potentiometer_v: volts.mean(),
    });
    act(engine, &Action::Blip(Unit::Rpm.to_si(BLIP.0)))?;
    let (mut lowest, mut released_s, mut cut) = (f64::INFINITY, None, false);
    let mut away_s = None;
    hold(engine, BLIP.1, |engine| {
        if !engine.pedal_is_down() {
            let released_s = *released_s.get_or_insert(engine.time_s());
            lowest = lowest.min(engine.speed_rad_s());
            cut |= engine.fuel_is_cut();
            if (engine.speed_rad_s() - idle_rad_s).abs() > Unit::Rpm.to_si(50.0) {
                away_s = Some(engine.time_s() - released_s);
            }
        }
    })?;
    (found.cut, found.blip_lowest_rad_s) = (cut, Some(lowest));
    if engine.stalled_at_s().is_some() {
        return Ok(());
    }
    found.blip_back_s = away_s.filter(|away| *away < BLIP.1 - 1.0);
    let (at, (before, after), (before_s, after_s)) = PUSH;
    act(engine, &Action::Drive(before, Unit::Rpm.to_si(at)))?;
    hold(engine, before_s, |_| {})?;
    let before_a = engine.current_a();
    act(engine, &Action::Drive(after, Unit::Rpm.to_si(at)))?;
    let (mut leanest, mut most_a) = (0.0_f64, 0.0_f64);
    hold(engine, after_s, |engine| {
        leanest = leanest.max(engine.flow().lambda.min(LEANEST));
        most_a = most_a.max(engine.current_a() - before_a);
    })?;
    found.push = Some((leanest, most_a));
    act(engine, &Action::Drive(1.0, Unit::Rpm.to_si(WIDE.0)))?;
    hold(engine, WIDE.1 - WIDE.2, |_| {})?;
    let (mut lambda, mut torque) = (Mean::default(), Mean::default());
    hold(engine, WIDE.2, |engine| {
        lambda.add(engine.flow().lambda.min(LEANEST));
        torque.add(engine.pedal.brake_nm);
    })?;
    if engine.stalled_at_s().is_none() {
        found.wide_open = Some((lambda.mean(), torque.mean()));
    }
    Ok(())
}

/// Time from one rise through a mean to the next (s), over a series of ticks.
fn swing_s(series: &[f64], mean: f64) -> Option<f64> {
    let rises = series.windows(2).enumerate().filter(|(_, p)| p[0] < mean && p[1] >= mean);
    let at: Vec<usize> = rises.map(|(i, _)| i).collect();
    let (first, last) = (at.first()?, at.last()?);
    (at.len() > 1).then(|| TICK_S * (last - first) as f64 / (at.len() - 1) as f64)
}

fn act(engine: &mut Engine, action: &Action) -> Result<(), RunFault> {
    let time_s = engine.time_s();
    engine.apply(action).map_err(|why| RunFault::Refused { time_s, why })
}

/// Lets the engine run on for a time (s), looked at every tick, until it stalls.
fn hold(engine: &mut Engine, lasts_s: f64, mut watch: impl FnMut(&Engine)) -> Result<(), RunFault> {
    for _ in 0..(lasts_s / TICK_S).round() as u32 {
        if engine.stalled_at_s().is_some() {
            break;
        }
        engine.tick()?;
        watch(engine);
    }
    Ok(())
}
