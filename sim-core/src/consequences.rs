//! What follows when a prerequisite is missing: the same car with a sensor that has failed and
//! without, compared: how it drives, what the meters show, what is learned wrong. Every sentence
//! comes from a difference that was computed; where nothing differs, nothing is said.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::closed_loop() };
//! let found = sim_core::consequences::of(&setup, "throttle-switch=no-idle".parse().unwrap()).unwrap();
//! assert!(found.felt().iter().any(|line| line.contains("overrun")));
//! ```

use crate::conditions::Conditions;
use crate::control::cells::CELLS;
use crate::drive::{Drive, engine_demand};
use crate::point::{Outcome, Point, READINGS, Reading};
use crate::relearn::{Relearn, first_cells, relearn};
use crate::rig::keys::Setup;
use crate::run::stability::point_with_mode;
use crate::run::trial::{Trial, trial};
use crate::run::{Options, RunFault};
use crate::sense::faults::{MODES, SensorFault};
use crate::steady::SteadyEngine;
use crate::units::{Unit, ZERO_CELSIUS_K};

/// Temperature of the cold start (degC), and height of the mountain (m).
const COLD_DEGC: f64 = -10.0;
/// See [`COLD_DEGC`].
const MOUNTAIN_M: f64 = 1500.0;
/// Starts after the memory is cleared, and the drive between them (s).
const RELEARNS: (usize, f64) = (40, 780.0);
/// What a meter, a gauge or a gas tester shows; the rest is known to the model only.
const METERS: [&str; 12] = [
    "lambda",
    "speed_rpm",
    "manifold_bar",
    "potentiometer_v",
    "actuator_ma",
    "duty_percent",
    "system_bar",
    "lower_chamber_bar",
    "lower_chamber_below_bar",
    "co_percent",
    "sensor_v",
    "idle_valve_percent",
];
/// Differences that are told: idle speed and surge (rpm), mixture, roughness (COV), time (s),
/// current (A), time of a swing, torque and fuel (share). Ours: what a driver or a meter can tell apart.
const TELLS: Tells = Tells {
    speed_rpm: 30.0,
    surge_rpm: 4.0,
    lambda: 0.015,
    swing: 0.25,
    cov: 0.01,
    time_s: 0.3,
    cell_a: 0.001,
    torque: 0.01,
    fuel: 0.02,
};

struct Tells {
    speed_rpm: f64,
    surge_rpm: f64,
    lambda: f64,
    swing: f64,
    cov: f64,
    time_s: f64,
    cell_a: f64,
    torque: f64,
    fuel: f64,
}

/// A car with a failed sensor, or without.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Car {
    /// Its settled idle, warm.
    pub warm: Point,
    /// Its settled idle on a mountain.
    pub mountain: Point,
    /// The drive from a cold start.
    pub cold_drive: Trial,
    /// The drive from a warm start.
    pub warm_drive: Trial,
    /// The same on a mountain.
    pub mountain_drive: Trial,
    /// What it learns after its memory is cleared.
    pub learned: Relearn,
}

/// What a failed sensor does.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Consequences {
    /// What has failed.
    pub fault: SensorFault,
    /// The sound car.
    pub sound: Car,
    /// The car with the fault.
    pub failed: Car,
}

/// A meter that shows something else.
#[derive(Clone, Copy)]
pub struct Shown {
    /// The reading.
    pub reading: &'static Reading,
    /// On the sound car, in the reading's unit.
    pub sound: Option<f64>,
    /// On the other.
    pub failed: Option<f64>,
}

/// Every fault of a prerequisite that is one word: all but a turned or worn potentiometer.
pub fn faults() -> Vec<SensorFault> {
    let words = MODES.iter().flat_map(|(sensor, modes)| modes.iter().map(move |m| (sensor, m)));
    words
        .filter(|(sensor, _)| **sensor != "potentiometer")
        .filter_map(|(sensor, mode)| SensorFault::of(sensor, mode).ok())
        .collect()
}

/// What a failed sensor does to the car of a setup.
pub fn of(setup: &Setup, fault: SensorFault) -> Result<Consequences, RunFault> {
    let mut failed = *setup;
    failed.conditions.fail(fault);
    Ok(Consequences { fault, sound: car(setup)?, failed: car(&failed)? })
}

fn car(setup: &Setup) -> Result<Car, RunFault> {
    let at = |change: &dyn Fn(&mut Conditions)| {
        let mut setup = *setup;
        change(&mut setup.conditions);
        setup
    };
    let settled = |setup: &Setup| {
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        point_with_mode(&steady, setup.conditions.screw_turns)
    };
    let high = at(&|c| c.altitude_m = MOUNTAIN_M);
    let cold = at(&|c| {
        let cold_k = COLD_DEGC + ZERO_CELSIUS_K;
        (c.ambient_k, c.coolant_k, c.fuel_k) = (cold_k, cold_k, cold_k);
    });
    let (starts, drive_s) = RELEARNS;
    let asked = engine_demand(setup, &Drive::urban(drive_s));
    let cleared = first_cells(setup, false, &asked);
    Ok(Car {
        warm: settled(setup),
        mountain: settled(&high),
        cold_drive: trial(&cold, Options::default())?,
        warm_drive: trial(setup, Options::default())?,
        mountain_drive: trial(&high, Options::default())?,
        learned: relearn(setup, cleared, &asked, (starts, false), Options::default(), |_| {})?,
    })
}

impl Consequences {
    /// What the driver feels, in sentences.
    pub fn felt(&self) -> Vec<String> {
        let mut told = Vec::new();
        let drives = [
            ("cold", &self.sound.cold_drive, &self.failed.cold_drive),
            ("warm", &self.sound.warm_drive, &self.failed.warm_drive),
            ("warm, at 1500 m", &self.sound.mountain_drive, &self.failed.mountain_drive),
        ];
        let mut below: Vec<String> = Vec::new();
        for (when, sound, failed) in drives {
            let felt = felt_in(sound, failed);
            // What the mountain adds to what is felt at its foot.
            let new = felt.iter().filter(|line| when != "warm, at 1500 m" || !below.contains(line));
            told.extend(new.map(|line| format!("{when}: {line}")));
            below = felt;
        }
        told
    }

    /// What the meters show at the warm idle that differs by more than can be read: the last
    /// decimal that is shown, and a thousandth of the reading's size.
    pub fn shown(&self) -> Vec<Shown> {
        shown(&self.sound.warm, &self.failed.warm)
    }

    /// The same on a mountain of 1500 m.
    pub fn shown_on_a_mountain(&self) -> Vec<Shown> {
        shown(&self.sound.mountain, &self.failed.mountain)
    }

    /// What is learned wrong, in a sentence; `None` if the same is learned.
    pub fn learned_wrong(&self) -> Option<String> {
        let (sound, failed) = (&self.sound.learned, &self.failed.learned);
        let ends = |learned: &Relearn| learned.starts.last().map_or([0.0; CELLS], |s| s.cells_a);
        let visited = |learned: &Relearn, i: usize| {
            learned.starts.first().is_some_and(|start| start.learned_s[i] >= 10.0)
        };
        let (right, wrong) = (ends(sound), ends(failed));
        let cells: Vec<String> = (0..CELLS)
            .filter(|&i| visited(sound, i) || visited(failed, i))
            .filter(|&i| (wrong[i] - right[i]).abs() > TELLS.cell_a)
            .map(|i| {
                let taught = if visited(failed, i) { "" } else { ", not taught" };
                format!(
                    "cell {}: {:+.1} mA instead of {:+.1}{taught}",
                    i + 1,
                    1e3 * wrong[i],
                    1e3 * right[i]
                )
            })
            .collect();
        (!cells.is_empty()).then(|| cells.join("; "))
    }
}

/// Readings of two points that differ.
fn shown(sound: &Point, failed: &Point) -> Vec<Shown> {
    let value = |point: &Point, reading: &Reading| match &point.outcome {
        Outcome::Running(state) => reading.value(state),
        Outcome::Stalled(_) => None,
    };
    let meters = READINGS.iter().filter(|reading| METERS.contains(&reading.name));
    meters
        .map(|reading| Shown {
            reading,
            sound: value(sound, reading),
            failed: value(failed, reading),
        })
        .filter(|shown| match (shown.sound, shown.failed) {
            (Some(a), Some(b)) => {
                let last = 10f64.powi(-(shown.reading.decimals as i32));
                (a - b).abs() > (1e-3 * a.abs().max(b.abs())).max(last)
            }
            (a, b) => a.is_some() != b.is_some(),
        })
        .collect()
}

/// What is felt in one drive and not in another.
fn felt_in(sound: &Trial, failed: &Trial) -> Vec<String> {
    let mut told = Vec::new();
    tell_differences(sound, failed, |text: String| told.push(text));
    told
}

fn tell_differences(sound: &Trial, failed: &Trial, mut tell: impl FnMut(String)) {
    let rpm = |rad_s: f64| Unit::Rpm.from_si(rad_s);
    match (&sound.start.reason, &failed.start.reason) {
        (None, Some(reason)) => {
            tell(format!("it does not start: {reason}"));
            return;
        }
        (Some(_), Some(_)) => return,
        _ => {}
    }
    if let (Some(a), Some(b)) = (sound.start.caught_after_s, failed.start.caught_after_s)
        && (b - a).abs() > TELLS.time_s
    {
        tell(format!("it catches after {b:.1} s instead of {a:.1}"));
    }
    let (flared, flares) = (rpm(sound.start.flare_rad_s), rpm(failed.start.flare_rad_s));
    if (flares - flared).abs() > 2.0 * TELLS.speed_rpm {
        tell(format!("after the start it runs up to {flares:.0} rpm instead of {flared:.0}"));
    }
    if let (Some(a), Some(b)) = (&sound.idle, &failed.idle) {
        if (rpm(b.speed_rad_s) - rpm(a.speed_rad_s)).abs() > TELLS.speed_rpm {
            let (b, a) = (rpm(b.speed_rad_s), rpm(a.speed_rad_s));
            tell(format!("half a minute later it idles at {b:.0} rpm instead of {a:.0}"));
        }
        if rpm(b.surge_rad_s) > rpm(a.surge_rad_s) + TELLS.surge_rpm {
            let (b, a) = (rpm(b.surge_rad_s), rpm(a.surge_rad_s));
            tell(format!("the idle surges by {b:.0} rpm (standard deviation) instead of {a:.0}"));
        }
        if b.cov > a.cov + TELLS.cov {
            tell(format!(
                "the idle is rougher: COV {:.1} % instead of {:.1}",
                100.0 * b.cov,
                100.0 * a.cov
            ));
        }
        if (b.lambda - a.lambda).abs() > TELLS.lambda {
            let word = if b.lambda < a.lambda { "richer" } else { "leaner" };
            tell(format!("the idle is {word}: lambda {:.2} instead of {:.2}", b.lambda, a.lambda));
        }
        if let (Some(a), Some(b)) = (a.swing_s, b.swing_s)
            && (b / a - 1.0).abs() > TELLS.swing
        {
            tell(format!("a swing of mixture and duty takes {b:.1} s instead of {a:.1}"));
        }
    }
    if let Some(cause) = &failed.stalled_because
        && sound.stalled_because.is_none()
    {
        tell(format!("it dies: {}", cause.sentence()));
        return;
    }
    if sound.cut && !failed.cut {
        tell("in the overrun the fuel is not cut: it drinks, and brakes less".into());
    } else if !sound.cut && failed.cut {
        tell("the fuel is cut in the overrun, which the sound one does not do yet".into());
    }
    if let (Some(a), Some(b)) = (sound.blip_lowest_rad_s, failed.blip_lowest_rad_s)
        && (rpm(b) - rpm(a)).abs() > TELLS.speed_rpm
    {
        tell(format!("after a blip the speed falls to {:.0} rpm instead of {:.0}", rpm(b), rpm(a)));
    }
    if let (Some(a), Some(b)) = (sound.push, failed.push) {
        if b.0 > a.0 + TELLS.lambda {
            tell(format!("pushed, it hesitates: lambda rises to {:.2} instead of {:.2}", b.0, a.0));
        } else if b.0 < a.0 - TELLS.lambda {
            tell(format!(
                "pushed, it gets more fuel: lambda {:.2} at the leanest instead of {:.2}",
                b.0, a.0
            ));
        }
    }
    if let (Some(a), Some(b)) = (sound.wide_open, failed.wide_open) {
        let word = if b.0 > a.0 { "lean" } else { "rich" };
        if (b.0 - a.0).abs() > TELLS.lambda || (b.1 / a.1 - 1.0).abs() > TELLS.torque {
            let percent = 100.0 * (b.1 / a.1 - 1.0);
            tell(format!(
                "wide open it is {word}: lambda {:.2} instead of {:.2}, torque {percent:+.1} %",
                b.0, a.0
            ));
        }
    }
    let fuel = failed.fuel_kg / sound.fuel_kg - 1.0;
    if fuel.abs() > TELLS.fuel && failed.stalled_because.is_none() {
        tell(format!("the same drive takes {:+.0} % of fuel", 100.0 * fuel));
    }
}
