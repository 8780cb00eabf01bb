//! Driving between starts: a speed over time, and what a simple vehicle asks of the engine.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! use sim_core::drive::{Drive, engine_demand};
//! let drive = Drive::parse("time_s,speed_kmh\n0,0\n10,30\n20,30").unwrap();
//! assert_eq!(drive.kmh(5.0), 15.0);
//! assert_eq!(engine_demand(&setup, &drive).len(), 20); // one demand a second
//! ```

use crate::conditions::Conditions;
use crate::operation::operating_state::{Mixture, Plant};
use crate::rig::keys::Setup;
use crate::solve::rising_root;
use crate::wording::plain;
use std::f64::consts::PI;

/// The elementary urban cycle: time (s) and speed (km/h), straight lines between.
///
/// Source: UN ECE R83, Annex 4, part one, operations of the elementary cycle, breakpoints
/// from memory; length, duration and mean speed are checked against the regulation's in
/// `tests` (195 s, about 1.013 km, 19 km/h). While the clutch is out between gears at the end
/// the car coasts from 35 to 32 km/h.
const URBAN_CYCLE: [(f64, f64); 26] = [
    (0.0, 0.0),
    (11.0, 0.0),
    (15.0, 15.0),
    (23.0, 15.0),
    (25.0, 10.0),
    (28.0, 0.0),
    (49.0, 0.0),
    (54.0, 15.0),
    (56.0, 15.0),
    (61.0, 32.0),
    (85.0, 32.0),
    (93.0, 10.0),
    (96.0, 0.0),
    (117.0, 0.0),
    (122.0, 15.0),
    (124.0, 15.0),
    (133.0, 35.0),
    (135.0, 35.0),
    (143.0, 50.0),
    (155.0, 50.0),
    (163.0, 35.0),
    (176.0, 35.0),
    (178.0, 32.0),
    (185.0, 10.0),
    (188.0, 0.0),
    (195.0, 0.0),
];

/// The vehicle: mass (kg), rolling resistance, drag area (m2), efficiency of the drive line.
/// Invented, of a middle-sized car.
const VEHICLE: (f64, f64, f64, f64) = (1400.0, 0.013, 0.75, 0.92);
/// Engine speed for each km/h in the gears (rpm), and the speed up to which each is used
/// (km/h).
const GEARS: [(f64, f64); 4] = [(125.0, 16.0), (70.0, 34.0), (46.0, 60.0), (32.0, f64::INFINITY)];
/// Speed below which the clutch is out (km/h).
const CLUTCH_KMH: f64 = 7.0;
/// Longest gap between two rows of a drive (s).
pub const GAP_MOST_S: f64 = 30.0;
/// Largest acceleration and deceleration of a car on a road (m/s2).
pub const ACCELERATION_MOST: (f64, f64) = (5.0, 11.0);
/// Largest speed (km/h) and length (s) of a drive.
pub const DRIVE_MOST: (f64, f64) = (250.0, 7200.0);

/// A drive: times (s) and speeds (km/h), straight lines between.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Drive {
    points: Vec<(f64, f64)>,
    /// The line of each point, if a file gave them.
    lines: Vec<usize>,
}

/// Why rows are no drive. Lines count from 1.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum DriveFault {
    /// No row at all.
    #[error("line 1: no rows; a header time_s,speed_kmh and rows of seconds and km/h are wanted")]
    Empty,
    /// The header is not `time_s,speed_kmh`.
    #[error("line {line}: {}", header(found, *miles))]
    Header {
        /// Its line.
        line: usize,
        /// What it is.
        found: String,
        /// Whether it speaks of miles.
        miles: bool,
    },
    /// A row that is not two numbers.
    #[error("line {line}: \"{found}\" is not two numbers with decimal points, seconds and km/h")]
    NotNumbers {
        /// Its line.
        line: usize,
        /// What it is.
        found: String,
    },
    /// Time does not go forward.
    #[error("line {line}: time_s = {} comes after {}; time goes forward", plain(*time_s), plain(*before_s))]
    TimeGoesBack {
        /// Its line.
        line: usize,
        /// Its time (s).
        time_s: f64,
        /// The time before (s).
        before_s: f64,
    },
    /// Too long between two rows.
    #[error("line {line}: a gap of {} s; at most {GAP_MOST_S} s between rows", plain(*gap_s))]
    Gap {
        /// Its line.
        line: usize,
        /// The gap (s).
        gap_s: f64,
    },
    /// A speed no car of this kind has (km/h).
    #[error("line {line}: speed_kmh = {} is outside 0 to {} km/h", plain(*kmh), DRIVE_MOST.0)]
    Speed {
        /// Its line.
        line: usize,
        /// The speed (km/h).
        kmh: f64,
    },
    /// An acceleration no car has (m/s2).
    #[error("line {line}: {m_s2:.1} m/s2 is more than a car does ({} up, {} down); are the seconds seconds?", ACCELERATION_MOST.0, ACCELERATION_MOST.1)]
    Acceleration {
        /// Its line.
        line: usize,
        /// The acceleration (m/s2).
        m_s2: f64,
    },
    /// Longer than may be (s).
    #[error("line {line}: lasts {} s, at most {} s", plain(*lasts_s), DRIVE_MOST.1)]
    TooLong {
        /// Its last line.
        line: usize,
        /// Its length (s).
        lasts_s: f64,
    },
    /// The speeds held longest are those of signs in miles an hour.
    #[error("line {line}: the speeds held ({}) are those of signs in miles an hour; if they are, times 1.609", held.iter().map(|kmh| plain(*kmh)).collect::<Vec<_>>().join(", "))]
    Miles {
        /// The line of the first of them.
        line: usize,
        /// Some of them.
        held: Vec<f64>,
    },
}

/// A drive that turns an engine faster than its controller's limit.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error(
    "at {} km/h the engine turns at {:.0} rpm, and its controller cuts the fuel above {:.0} rpm: it cannot drive so fast",
    plain(*kmh),
    30.0 / PI * speed_rad_s,
    30.0 / PI * limit_rad_s
)]
pub struct TooFast {
    /// The line of the file, if a file gave it.
    pub line: Option<usize>,
    /// Speed of the vehicle (km/h).
    pub kmh: f64,
    /// Crank speed (rad/s).
    pub speed_rad_s: f64,
    /// The limit (rad/s).
    pub limit_rad_s: f64,
}

fn header(found: &str, miles: bool) -> String {
    if miles {
        format!(
            "the header \"{found}\" speaks of miles; times 1.609, under the header time_s,speed_kmh"
        )
    } else {
        format!("the header is \"{found}\", wanted is time_s,speed_kmh")
    }
}

impl Drive {
    /// The urban cycle, as often as fits into a time (s), idling before and after.
    pub fn urban(lasts_s: f64) -> Drive {
        let cycle_s = URBAN_CYCLE[URBAN_CYCLE.len() - 1].0;
        let times = (lasts_s / cycle_s).floor() as usize;
        let mut points = vec![(0.0, 0.0)];
        for i in 0..times {
            let start = i as f64 * cycle_s;
            points.extend(URBAN_CYCLE[1..].iter().map(|(t, v)| (start + t, *v)));
        }
        if points[points.len() - 1].0 < lasts_s {
            points.push((lasts_s, 0.0));
        }
        Drive { points, lines: Vec::new() }
    }

    /// Reads rows of `time_s,speed_kmh`.
    pub fn parse(text: &str) -> Result<Drive, DriveFault> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let mut lines = text.lines().enumerate().filter(|(_, line)| {
            let line = line.trim();
            !line.is_empty() && !line.starts_with('#')
        });
        let (header_at, header) = lines.next().ok_or(DriveFault::Empty)?;
        let plain: String = header.to_lowercase().split_whitespace().collect();
        if plain != "time_s,speed_kmh" {
            let miles = plain.contains("mph") || plain.contains("mile");
            return Err(DriveFault::Header {
                line: header_at + 1,
                found: header.trim().into(),
                miles,
            });
        }
        let mut points: Vec<(f64, f64)> = Vec::new();
        let mut line_of_each = Vec::new();
        for (i, row) in lines {
            let line = i + 1;
            let number =
                |cell: &str| cell.trim().parse().ok().filter(|value: &f64| value.is_finite());
            let numbers: Option<Vec<f64>> = row.split(',').map(number).collect();
            let Some(&[time_s, kmh]) = numbers.as_deref() else {
                return Err(DriveFault::NotNumbers { line, found: row.trim().into() });
            };
            if !(0.0..=DRIVE_MOST.0).contains(&kmh) {
                return Err(DriveFault::Speed { line, kmh });
            }
            if let Some(&(before_s, before_kmh)) = points.last() {
                let gap_s = time_s - before_s;
                if gap_s <= 0.0 {
                    return Err(DriveFault::TimeGoesBack { line, time_s, before_s });
                }
                if gap_s > GAP_MOST_S {
                    return Err(DriveFault::Gap { line, gap_s });
                }
                let m_s2 = (kmh - before_kmh) / 3.6 / gap_s;
                if m_s2 > ACCELERATION_MOST.0 || -m_s2 > ACCELERATION_MOST.1 {
                    return Err(DriveFault::Acceleration { line, m_s2 });
                }
            }
            points.push((time_s, kmh));
            line_of_each.push(line);
        }
        let start_s = points.first().ok_or(DriveFault::Empty)?.0;
        for point in &mut points {
            point.0 -= start_s;
        }
        let drive = Drive { points, lines: line_of_each };
        if drive.lasts_s() > DRIVE_MOST.1 {
            let line = drive.lines.last().copied().unwrap_or_default();
            return Err(DriveFault::TooLong { line, lasts_s: drive.lasts_s() });
        }
        match drive.held_like_miles() {
            Some(held) => {
                let first = drive.points.iter().position(|point| held.contains(&point.1));
                let line = first.and_then(|at| drive.lines.get(at)).copied().unwrap_or_default();
                Err(DriveFault::Miles { line, held })
            }
            None => Ok(drive),
        }
    }

    /// The speeds held, if all of those above walking are odd fives as signs in miles have
    /// them (15, 25, 35 and so on) and at least three differ.
    fn held_like_miles(&self) -> Option<Vec<f64>> {
        let mut held: Vec<f64> = self
            .points
            .windows(2)
            .filter(|pair| pair[0].1 == pair[1].1 && pair[0].1 > 8.0 && pair[1].0 - pair[0].0 > 3.0)
            .map(|pair| pair[0].1)
            .collect();
        held.sort_by(f64::total_cmp);
        held.dedup();
        let odd_five = |kmh: &f64| (kmh / 5.0).fract() == 0.0 && (kmh / 10.0).fract() != 0.0;
        (held.len() >= 3 && held.iter().all(odd_five)).then_some(held)
    }

    /// Where it first asks the crank to turn faster than a limit (rad/s), at the idle speed of an
    /// engine (rad/s): the controller would cut the fuel there.
    pub fn first_above(&self, limit_rad_s: f64, idle_rad_s: f64) -> Option<TooFast> {
        let speed = |kmh: f64| {
            if kmh < CLUTCH_KMH { idle_rad_s } else { crank_rad_s(kmh, idle_rad_s) }
        };
        // On a straight line the engine turns fastest at its faster end, or where it changes gear.
        let between = |(from, to): (f64, f64)| {
            let gears = GEARS.iter().map(|(_, up_to)| *up_to);
            gears.filter(move |kmh| from.min(to) < *kmh && *kmh < from.max(to)).chain([to])
        };
        let starts = self.points.iter().map(|point| point.1);
        let before = self.points.first().map(|point| point.1).into_iter().chain(starts.clone());
        before.zip(starts).enumerate().find_map(|(i, pair)| {
            let kmh = between(pair).find(|kmh| speed(*kmh) > limit_rad_s)?;
            let line = self.lines.get(i).copied();
            Some(TooFast { line, kmh, speed_rad_s: speed(kmh), limit_rad_s })
        })
    }

    /// How long it lasts (s).
    pub fn lasts_s(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.0)
    }

    /// How far it goes (km).
    pub fn length_km(&self) -> f64 {
        let trapezes = self.points.windows(2);
        trapezes.map(|p| 0.5 * (p[0].1 + p[1].1) * (p[1].0 - p[0].0)).sum::<f64>() / 3600.0
    }

    /// Speed at a time (km/h).
    pub fn kmh(&self, time_s: f64) -> f64 {
        let after = self.points.partition_point(|(t, _)| *t < time_s);
        let before = after.checked_sub(1).map(|i| self.points[i]);
        match (before, self.points.get(after).copied()) {
            (Some((a, va)), Some((b, vb))) => va + (vb - va) * (time_s - a) / (b - a),
            (_, Some((_, v))) | (Some((_, v)), None) => v,
            (None, None) => 0.0,
        }
    }
}

/// What the vehicle asks of the engine at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum EngineDemand {
    /// The clutch is out and the pedal released: it idles.
    Idle,
    /// The wheels hold the speed (rad/s), the throttle stands at a share of its travel, and
    /// the engine breathes so much air (kg/s).
    Drives {
        /// Throttle, share of its travel; 0 in the overrun.
        throttle: f64,
        /// Crank speed (rad/s).
        speed_rad_s: f64,
        /// Air (kg/s).
        air_kg_s: f64,
    },
}

/// What a drive asks of a warm engine, second by second.
///
/// Equation: `F = m a + m g c_rr + rho/2 c_d A v^2`, torque at the crank `F v / (eta w)`;
/// the throttle is that whose air makes it at lambda 1. Source: longitudinal dynamics,
/// textbook; the vehicle is invented.
pub fn engine_demand(setup: &Setup, drive: &Drive) -> Vec<EngineDemand> {
    let warm = Conditions {
        coolant_k: Conditions::default().coolant_k,
        fuel_k: Conditions::default().fuel_k,
        ..setup.conditions
    };
    let plant = Plant::new(setup.rig.parts(), setup.rig.reference(), &warm);
    (0..drive.lasts_s().floor() as usize)
        .map(|second| {
            let time_s = second as f64 + 0.5;
            let kmh = drive.kmh(time_s);
            let m_s2 = (drive.kmh(time_s + 0.5) - drive.kmh(time_s - 0.5)) / 3.6;
            plant.engine_demand(kmh, m_s2)
        })
        .collect()
}

/// Crank speed at a speed of the vehicle (km/h) with the clutch in, at an engine's idle speed.
fn crank_rad_s(kmh: f64, idle_rad_s: f64) -> f64 {
    let gear = GEARS.iter().find(|(_, up_to)| kmh <= *up_to).unwrap_or(&GEARS[GEARS.len() - 1]);
    (gear.0 * kmh * PI / 30.0).max(1.1 * idle_rad_s)
}

impl Plant {
    fn engine_demand(&self, kmh: f64, m_s2: f64) -> EngineDemand {
        if kmh < CLUTCH_KMH {
            return EngineDemand::Idle;
        }
        let (mass, rolling, drag_m2, efficiency) = VEHICLE;
        let speed_rad_s = crank_rad_s(kmh, self.parts.controller.idle_rad_s);
        let v = kmh / 3.6;
        let force = mass * (m_s2 + 9.81 * rolling) + 0.5 * self.density_kg_m3 * drag_m2 * v * v;
        let torque = force * v / speed_rad_s / if force > 0.0 { efficiency } else { 1.0 };
        let wanted_pa = 4.0 * PI * torque / self.parts.breathing.displacement_m3;
        let opening_m = self.parts.lever.opening_height_m(0.0);
        let surplus = |p: f64| {
            self.operating_state(p, speed_rad_s, &Mixture::Target { opening_m, lambda: 1.0 })
                .surplus_pa()
                - wanted_pa
        };
        let (low, high) = (0.15 * self.ambient_pa, 0.985 * self.upstream_pa);
        if surplus(low) >= 0.0 {
            return EngineDemand::Drives { throttle: 0.0, speed_rad_s, air_kg_s: 0.0 };
        }
        let manifold_pa = rising_root(surplus, low, high);
        let air_kg_s = self.air_kg_s(manifold_pa, speed_rad_s);
        let idle_m2 = self.reference.idle_valve_m2;
        let area_m2 = air_kg_s / self.inlet_kg_s(1.0, manifold_pa) - idle_m2;
        let excess = |share: f64| self.parts.throttle.effective_m2(share) - area_m2;
        let throttle = rising_root(excess, 0.0, 1.0);
        EngineDemand::Drives { throttle, speed_rad_s, air_kg_s }
    }
}
