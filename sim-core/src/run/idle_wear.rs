//! What the idle does to the potentiometer's track, and what the worn track does to the idle.

use super::dynamics;
use super::engine::Engine;
use super::options::{Options, RunFault, TICK_S};
use super::procedure::Procedure;
use super::record::{perform, perform_streamed};
use super::voltmeter::{FINER, PULSATION};
use crate::point::{READINGS, Stall};
use crate::rig::keys::Setup;
use crate::sense::potentiometer::IDLE_BAND_V;
use crate::sense::wear::Dither;

/// How long an idle is run (s); its second half counts.
const LASTS_S: f64 = 40.0;
/// A bad idle: this many times what the sound track shows.
pub const BAD_RATIO: f64 = 2.0;
/// Steps of the walk towards the bad idle.
const STEPS: u32 = 10;
/// The deepest worn place that is tried (V).
pub const DEEPEST_V: f64 = 1.0;
/// How often the step in which the idle goes bad is halved.
const HALVINGS: u32 = 4;

/// An idle left alone.
fn idle() -> Procedure {
    Procedure {
        name: "idle".into(),
        about: "idle left alone".into(),
        lasts_s: LASTS_S,
        noise: true,
        pulsation: PULSATION,
        steps: Vec::new(),
    }
}

fn shaken(seed: u64) -> Options {
    Options { seed, torque_noise: true, pulsation: PULSATION, ..Options::default() }
}

/// Why the idle on a sound track has no dither.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NoIdle {
    /// It does not run to begin with.
    #[error(transparent)]
    NoStart(#[from] Stall),
    /// It stalls (s).
    #[error("the idle stalls {0:.1} s after the start")]
    Stalls(f64),
    /// The wiper does not move.
    #[error("the wiper does not move at idle")]
    Still,
    /// The run cannot go on.
    #[error(transparent)]
    Fault(#[from] RunFault),
}

/// How the wiper dithers at idle on a sound track, as height of plate and housing's turn.
pub fn dither(setup: &Setup, seed: u64) -> Result<Dither, NoIdle> {
    let mut setup = *setup;
    setup.conditions.wear.depth_v = 0.0;
    let options = Options { finer: FINER, ..shaken(seed) };
    let shift_m = setup.conditions.housing_shift_m;
    let step_s = TICK_S / f64::from(FINER);
    let mut heights = Vec::new();
    let mut next_s = 0.5 * LASTS_S;
    // Now and then a tick is worked out still finer: looks are kept evenly apart.
    let watch = |engine: &Engine| {
        if engine.time_s() > next_s - 1e-9 {
            next_s += step_s;
            heights.push(dynamics::unpack(&engine.x).height_m + shift_m);
        }
    };
    let record = perform_streamed(&setup, &idle(), options, 1000, |_| {}, watch, |_| {})?;
    match (record.no_start, record.stalled_at_s) {
        (Some(why), _) => Err(NoIdle::NoStart(why)),
        (None, Some(at_s)) => Err(NoIdle::Stalls(at_s)),
        (None, None) => Dither::of(&heights, step_s).ok_or(NoIdle::Still),
    }
}

/// What an idle does on a track worn so deep, over its second half.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Idle {
    /// Mean of lambda and its deviation.
    pub lambda: (f64, f64),
    /// Mean of the speed and its deviation (rpm).
    pub speed_rpm: (f64, f64),
    /// Mean and largest roughness (%).
    pub cov_percent: (f64, f64),
    /// Mean of the duty (%).
    pub duty_percent: f64,
    /// Mean of the potentiometer's voltage (V).
    pub potentiometer_v: f64,
}

/// Runs an idle on a track with a worn place; `None` if it stalls.
pub fn idle_on(
    setup: &Setup,
    dither: &Dither,
    lost_v: f64,
    seed: u64,
) -> Result<Option<Idle>, RunFault> {
    let mut setup = *setup;
    let idle_height_m = setup.rig.reference().idle_height_m;
    setup.conditions.wear = dither.wear(lost_v, idle_height_m);
    let record = perform(&setup, &idle(), shaken(seed), 1000, |_| {})?;
    if record.stalled_at_s.is_some() {
        return Ok(None);
    }
    let found = |name: &str| {
        let at = READINGS.iter().position(|reading| reading.name == name)?;
        *record.dwells.first()?.spreads.get(at)?
    };
    let all = || {
        let (lambda, speed) = (found("lambda")?, found("speed_rpm")?);
        let (cov, duty) = (found("cov_percent")?, found("duty_percent")?);
        let volts = found("potentiometer_v")?;
        Some(Idle {
            lambda: (lambda.mean, lambda.deviation),
            speed_rpm: (speed.mean, speed.deviation),
            cov_percent: (cov.mean, cov.most),
            duty_percent: duty.mean,
            potentiometer_v: volts.mean,
        })
    };
    Ok(all())
}

/// What several idles at one depth do together, against the same idles on a sound track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disturbance {
    /// Voltage lost (V).
    pub lost_v: f64,
    /// How many of the idles stall.
    pub stalls: usize,
    /// Root mean square of lambda about the sound track's mean, and of the speed (rpm).
    pub lambda_off: f64,
    /// See `lambda_off`.
    pub speed_off_rpm: f64,
    /// The same over the sound track's.
    pub lambda_ratio: f64,
    /// See `lambda_ratio`.
    pub speed_ratio: f64,
    /// Mean lambda.
    pub lambda: f64,
    /// Mean and largest roughness (%).
    pub cov_percent: (f64, f64),
    /// Mean duty (%).
    pub duty_percent: f64,
    /// Mean voltage of the potentiometer, and that on the sound track (V).
    pub potentiometer_v: (f64, f64),
}

impl Disturbance {
    /// Compares idles at a depth with those on the sound track; `None` if all stall.
    ///
    /// Equation: `off = sqrt(mean((m_i - m_0i)^2 + s_i^2))`, `m` mean and `s` deviation of
    /// idle `i` (each seed by itself), `m_0i` mean of the same idle on a sound track.
    pub fn of(lost_v: f64, idles: &[Option<Idle>], sound: &[Option<Idle>]) -> Option<Disturbance> {
        let pairs: Vec<(Idle, Idle)> =
            idles.iter().zip(sound).filter_map(|(a, b)| Some(((*a)?, (*b)?))).collect();
        let count = pairs.len() as f64;
        if pairs.is_empty() {
            return None;
        }
        let root = |square: &dyn Fn(&(Idle, Idle)) -> f64| {
            (pairs.iter().map(square).sum::<f64>() / count).sqrt()
        };
        let off = |(mean, deviation): (f64, f64), (before, _): (f64, f64)| {
            (mean - before).powi(2) + deviation * deviation
        };
        let lambda_off = root(&|(a, b)| off(a.lambda, b.lambda));
        let speed_off_rpm = root(&|(a, b)| off(a.speed_rpm, b.speed_rpm));
        let mean = |get: fn(&Idle) -> f64| pairs.iter().map(|(a, _)| get(a)).sum::<f64>() / count;
        let most = pairs.iter().map(|(a, _)| a.cov_percent.1).fold(0.0, f64::max);
        Some(Disturbance {
            lost_v,
            stalls: idles.iter().filter(|idle| idle.is_none()).count(),
            lambda_off,
            speed_off_rpm,
            lambda_ratio: lambda_off / root(&|(_, b)| b.lambda.1.powi(2)),
            speed_ratio: speed_off_rpm / root(&|(_, b)| b.speed_rpm.1.powi(2)),
            lambda: mean(|idle| idle.lambda.0),
            cov_percent: (mean(|idle| idle.cov_percent.0), most),
            duty_percent: mean(|idle| idle.duty_percent),
            potentiometer_v: (
                mean(|idle| idle.potentiometer_v),
                pairs.iter().map(|(_, b)| b.potentiometer_v).sum::<f64>() / count,
            ),
        })
    }

    /// How far lambda or speed is off, as a multiple of what it is on the sound track; the larger
    /// of the two.
    pub fn unrest(&self) -> f64 {
        self.lambda_ratio.max(self.speed_ratio)
    }

    /// Whether it is a bad idle: one of the idles stalls, or lambda or speed is off by
    /// [`BAD_RATIO`] times what it is on the sound track (our own: twice the usual deviation is
    /// what we hold to be noticed), or the pit takes the mean voltage out of [`IDLE_BAND_V`]: the
    /// controller then takes the air flow for another.
    pub fn is_bad(&self) -> bool {
        let (low, high) = IDLE_BAND_V;
        let lies = |volts: f64| (low..=high).contains(&volts);
        let (now_v, sound_v) = self.potentiometer_v;
        self.stalls > 0 || self.unrest() >= BAD_RATIO || (lies(sound_v) && !lies(now_v))
    }
}

/// The way from a sound track to a bad idle.
#[derive(Clone, Debug, PartialEq)]
pub struct Search {
    /// What was tried, by depth.
    pub tried: Vec<Disturbance>,
    /// The least depth with a bad idle (V), to a sixteenth of a step; `None` if there is none up to
    /// [`DEEPEST_V`].
    pub bad_from_v: Option<f64>,
}

/// Finds where a bad idle begins: a walk in steps of depth from the sound track, the step in
/// which it goes bad then halved. `idles` runs the idles at a depth (V), one for each seed.
pub fn search<E>(mut idles: impl FnMut(f64) -> Result<Vec<Option<Idle>>, E>) -> Result<Search, E> {
    let sound = idles(0.0)?;
    let mut tried: Vec<Disturbance> = Disturbance::of(0.0, &sound, &sound).into_iter().collect();
    // Gives whether the idle is bad at a depth; with all stalled it is.
    let mut is_bad = |lost_v: f64| -> Result<bool, E> {
        let found = Disturbance::of(lost_v, &idles(lost_v)?, &sound);
        tried.extend(found);
        Ok(found.is_none_or(|found| found.is_bad()))
    };
    let (mut good_v, mut bad_v) = (0.0, None);
    for step in 1..=STEPS {
        let lost_v = f64::from(step) * DEEPEST_V / f64::from(STEPS);
        if is_bad(lost_v)? {
            bad_v = Some(lost_v);
            break;
        }
        good_v = lost_v;
    }
    if let Some(bad) = &mut bad_v {
        for _ in 0..HALVINGS {
            let middle = 0.5 * (good_v + *bad);
            if is_bad(middle)? {
                *bad = middle;
            } else {
                good_v = middle;
            }
        }
    }
    tried.sort_by(|a, b| a.lost_v.total_cmp(&b.lost_v));
    Ok(Search { tried, bad_from_v: bad_v })
}
