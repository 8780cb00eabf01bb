//! Fuel to an engine that was opened or has stood: the pressure builds up, the lines bleed
//! with the plate lifted by hand, the pressure stays or leaks away, and what a hot restart
//! takes.
//!
//! ```
//! use sim_core::bleed::{BleedRequest, bleed};
//! use sim_core::{conditions::Conditions, fuel::supply::CheckValve};
//! use sim_core::{rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! let request = BleedRequest {
//!     lift_m: 8e-3,
//!     check_valve: CheckValve::default(),
//!     accumulator_share: 1.0,
//!     stand_s: 1200.0,
//!     hot_k: 353.15,
//!     class_pa: 60e3,
//! };
//! assert!(bleed(&setup, &request).is_ok());
//! ```

pub(crate) mod drive;
pub mod feed;
mod standing;
pub mod volume_balance;

pub use standing::{Standing, standing};

use crate::conditions::Conditions;
use crate::fuel::kind::viscosity_pa_s;
use crate::fuel::leak::Seeps;
use crate::fuel::slit::{CYLINDERS, Liquid};
use crate::fuel::supply::{CheckValve, Supply, vapour_pressure_pa};
use crate::operation::operating_state::Plant;
use crate::rig::keys::Setup;
use feed::{Feed, STEPS};
use std::array;
use volume_balance::VolumeBalance;

/// How long the pressure is followed after the pump has stopped (s).
const LEAK_DOWN_S: f64 = 1800.0;
/// A line that does not flow by then does not count as bled, and a start not as one (s).
pub const LONGEST_S: f64 = 600.0;
/// The least the pump runs with the plate up (s); it runs until the lines flow and the
/// pressure is up.
const LEAST_RUN_S: f64 = 4.0;
/// How long it runs on after the plate is let go (s).
const RUN_ON_S: f64 = 1.0;
/// Rows of the trace lie this far apart while the pressure builds up (s).
const FINE_S: f64 = 0.01;

/// What is asked for beside rig and conditions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BleedRequest {
    /// How far the plate is lifted above rest (m).
    pub lift_m: f64,
    /// State of the check valve.
    pub check_valve: CheckValve,
    /// Share of the accumulator's spring that is left.
    pub accumulator_share: f64,
    /// How long the hot engine stands (s).
    pub stand_s: f64,
    /// Temperature of feed and lines under the bonnet (K).
    pub hot_k: f64,
    /// Vapour pressure of the fuel's class at 37.8 degC (Pa).
    pub class_pa: f64,
}

/// A row of the trace.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// Time from the pump's start (s).
    pub time_s: f64,
    /// Pressure (Pa).
    pub pressure_pa: f64,
}

impl Sample {
    fn of(balance: &VolumeBalance) -> Sample {
        Sample { time_s: balance.time_s, pressure_pa: balance.pressure_pa }
    }
}

/// Why nothing is worked out: with the plate at rest the slits are open.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error(
    "the plate rests {:.2} mm above where the slits open. With the lines on their injectors fuel would run into the ports of the standing engine: put the lines into glasses first",
    1e3 * above_m
)]
pub struct FlowsAtRest {
    /// How far the plate rests above where the slits open (m).
    pub above_m: f64,
    /// Flow of all lines at rest (m3/s).
    pub flow_m3_s: f64,
    /// What comes of it with every line in its glass, as flow start is looked for.
    pub into_glasses: IntoGlasses,
}

/// Lines filled with the pump on the jumper, each open into its glass.
#[derive(Clone, Debug, PartialEq)]
pub struct IntoGlasses {
    /// When each line flows (s after the pump's start), if it does within [`LONGEST_S`].
    pub flows_after_s: Vec<Option<f64>>,
    /// Flow of each line at the lift (m3/s).
    pub line_m3_s: Vec<f64>,
    /// When the regulator's opening pressure is reached (s).
    pub at_set_s: Option<f64>,
    /// Pressure over time, while the pump runs.
    pub trace: Vec<Sample>,
}

/// What the hot engine does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hot {
    /// Pressure above ambient at which the fuel boils (Pa); below 0 it does not.
    pub boils_at_pa: f64,
    /// Pressure after the stand (Pa).
    pub residual_pa: f64,
    /// When the fuel began to boil (s after stopping), if it did.
    pub boils_after_s: Option<f64>,
    /// Room that vapour takes after the stand (m3).
    pub vapour_m3: f64,
    /// Lift of the plunger while cranking (m).
    pub cranking_lift_m: f64,
    /// Cranking until the system pressure is back and the lines are full (s), if within
    /// [`LONGEST_S`].
    pub cranking_s: Option<f64>,
}

/// What comes of it.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct Bleed {
    /// When each line flows (s after the pump's start), if it does within [`LONGEST_S`].
    pub flows_after_s: Vec<Option<f64>>,
    /// Flow of each line at the lift (m3/s).
    pub line_m3_s: Vec<f64>,
    /// When the regulator's opening pressure is reached (s).
    pub at_set_s: Option<f64>,
    /// When the pump stops (s).
    pub pump_stops_s: f64,
    /// Pressure with the pump running and the plate at rest (Pa).
    pub running_pa: f64,
    /// Flow at the return then (m3/s).
    pub return_m3_s: f64,
    /// Pressure over time.
    pub trace: Vec<Sample>,
    /// Pressure 30 min after the pump has stopped (Pa).
    pub residual_pa: f64,
    /// Where the feed stands then and what went where.
    pub balance: VolumeBalance,
    /// What is missing in the balance of volumes (m3).
    pub missing_m3: f64,
    /// The hot engine.
    pub hot: Hot,
}

/// A setup and what is asked of it.
struct Bleeding<'a> {
    plant: Plant,
    conditions: &'a Conditions,
    supply: Supply,
    request: &'a BleedRequest,
    opening_m: f64,
    /// Pressure that the regulator holds (Pa).
    holds_pa: f64,
}

/// When lines fill.
struct Filling {
    flows_after_s: Vec<Option<f64>>,
    at_set_s: Option<f64>,
    /// When the plate is let go (s).
    last_s: f64,
}

/// Works all of it out; refused where fuel would run with the plate at rest.
pub fn bleed(setup: &Setup, request: &BleedRequest) -> Result<Bleed, FlowsAtRest> {
    bleed_by(setup, request, STEPS)
}

/// As [`bleed`], with a number of steps for each local time constant.
pub fn bleed_by(setup: &Setup, request: &BleedRequest, steps: u32) -> Result<Bleed, FlowsAtRest> {
    let bleeding = Bleeding::of(setup, request);
    bleeding.tight_at_rest(steps)?;
    Ok(bleeding.work(steps))
}

impl<'a> Bleeding<'a> {
    fn of(setup: &'a Setup, request: &'a BleedRequest) -> Bleeding<'a> {
        let parts = setup.rig.parts();
        let spring = parts.supply.accumulator.weakened(request.accumulator_share);
        Bleeding {
            holds_pa: setup.conditions.fuel_side.holds_pa(parts.pressures.system_pa),
            plant: Plant::new(parts, setup.rig.reference(), &setup.conditions),
            conditions: &setup.conditions,
            supply: Supply { accumulator: spring, ..parts.supply },
            request,
            opening_m: parts.lever.opening_height_m(setup.conditions.screw_turns),
        }
    }

    /// Lift of the plunger over the slits' opening with the plate at rest (m).
    fn rest_lift_m(&self) -> f64 {
        self.plunger_lift_m(self.plant.rest_height_m)
    }
}

impl Bleeding<'_> {
    /// Lift of the plunger over the slits' opening at a plate height (m).
    fn plunger_lift_m(&self, height_m: f64) -> f64 {
        (height_m - self.opening_m) * self.plant.parts.lever.plunger_per_plate()
    }

    fn liquid(&self, temperature_k: f64) -> Liquid {
        Liquid {
            density_kg_m3: self.plant.fuel.density_kg_m3(temperature_k),
            viscosity_pa_s: viscosity_pa_s(temperature_k),
        }
    }

    /// The feed with the pump on or off and the plunger at a lift; no current flows.
    fn feed(&self, temperature_k: f64, pump_share: f64, lift_m: f64, steps: u32) -> Feed<'_> {
        let liquid = self.liquid(temperature_k);
        let plunger_m = self.plant.parts.pressures.plunger_m;
        let leaks = self.supply.leaks(plunger_m, self.request.check_valve, &liquid);
        Feed {
            supply: &self.supply,
            slits: &self.plant.parts.slits,
            liquid,
            leaks: if pump_share > 0.0 { leaks.pump_on() } else { leaks },
            set_pa: if pump_share > 0.0 { self.opens_pa() } else { self.closes_pa() },
            pump_share: pump_share * self.conditions.fuel_side.delivers(&self.supply),
            lift_m,
            drop_pa: self.plant.parts.pressures.slit_drop_pa(0.0),
            back_pa: 0.0,
            drawn_m3_s: 0.0,
            to_fill_m3: self.line_volumes_m3(),
            seeps: match pump_share > 0.0 {
                true => Seeps::NONE,
                false => self.plant.seeps(liquid.viscosity_pa_s),
            },
            steps,
        }
    }

    /// Pressure down to which the regulator is open with the pump off (Pa).
    fn closes_pa(&self) -> f64 {
        self.supply.closes_pa(self.holds_pa)
    }

    /// Pressure from which it returns with the pump on (Pa).
    fn opens_pa(&self) -> f64 {
        self.supply.opens_pa(self.holds_pa)
    }

    fn line_volumes_m3(&self) -> [f64; CYLINDERS] {
        array::from_fn(|line| if line < self.lines() { self.supply.line_m3(line) } else { 0.0 })
    }

    fn lines(&self) -> usize {
        self.plant.parts.slits.width_m.len()
    }

    fn tight_at_rest(&self, steps: u32) -> Result<(), FlowsAtRest> {
        let lift_m = self.rest_lift_m();
        if lift_m <= 0.0 {
            return Ok(());
        }
        let rest = self.feed(self.conditions.fuel_k, 1.0, lift_m, steps);
        let up = self.lifted(steps);
        let filled = self.fill(&up);
        let (_, trace) = self.build_up(&up, &rest, filled.last_s);
        Err(FlowsAtRest {
            above_m: self.plant.rest_height_m - self.opening_m,
            flow_m3_s: self.full_flow_m3_s(&rest).iter().sum(),
            into_glasses: IntoGlasses {
                flows_after_s: filled.flows_after_s,
                line_m3_s: self.full_flow_m3_s(&up),
                at_set_s: filled.at_set_s,
                trace,
            },
        })
    }

    /// The cold feed with the pump on and the plate lifted by hand.
    fn lifted(&self, steps: u32) -> Feed<'_> {
        let lift_m = self.plunger_lift_m(self.plant.rest_height_m + self.request.lift_m);
        self.feed(self.conditions.fuel_k, 1.0, lift_m, steps)
    }

    /// Flow of each line at the regulator's opening pressure (m3/s).
    fn full_flow_m3_s(&self, feed: &Feed<'_>) -> Vec<f64> {
        (0..self.lines()).map(|i| feed.line_m3_s(i, feed.set_pa)).collect()
    }

    /// When the lines flow with the plate lifted.
    fn fill(&self, up: &Feed<'_>) -> Filling {
        let mut balance = VolumeBalance::default();
        up.advance(&mut balance, LONGEST_S);
        let flows_after_s = balance.full_s[..self.lines()].to_vec();
        let at_set_s = balance.at_set_s;
        let up_s = at_set_s.unwrap_or(0.0).max(LEAST_RUN_S);
        let line_s = flows_after_s.iter().map(|t| t.unwrap_or(LONGEST_S));
        let last_s = if up.lift_m > 0.0 { line_s.fold(up_s, f64::max) } else { up_s };
        Filling { flows_after_s, at_set_s, last_s }
    }

    /// The plate lifted until a time (s), then let go with the pump still on.
    fn build_up(
        &self,
        up: &Feed<'_>,
        down: &Feed<'_>,
        last_s: f64,
    ) -> (VolumeBalance, Vec<Sample>) {
        let mut balance = VolumeBalance::default();
        let mut trace = vec![Sample { time_s: 0.0, pressure_pa: 0.0 }];
        for time_s in build_up_times(last_s) {
            up.advance(&mut balance, time_s);
            trace.push(Sample::of(&balance));
        }
        for i in 1..=10 {
            down.advance(&mut balance, last_s + 0.1 * RUN_ON_S * f64::from(i));
            trace.push(Sample::of(&balance));
        }
        (balance, trace)
    }

    fn work(&self, steps: u32) -> Bleed {
        let cold_k = self.conditions.fuel_k;
        let up = self.lifted(steps);
        let down = self.feed(cold_k, 1.0, 0.0, steps);

        // Once for the times, once more for the trace: the first is a few pieces.
        let Filling { flows_after_s, at_set_s, last_s } = self.fill(&up);
        let pump_stops_s = last_s + RUN_ON_S;
        let (mut balance, mut trace) = self.build_up(&up, &down, last_s);
        let mut keep = |balance: &VolumeBalance| trace.push(Sample::of(balance));
        let off = self.feed(cold_k, 0.0, 0.0, steps);
        off.close(&mut balance, pump_stops_s + LEAK_DOWN_S);
        if balance.time_s > pump_stops_s {
            keep(&balance);
        }
        let (floor_pa, room_m3) = (self.boils_at_pa(cold_k), self.room_m3());
        for after_s in leak_down_times() {
            let time_s = pump_stops_s + after_s;
            if time_s > balance.time_s {
                off.leak_down(&mut balance, time_s, floor_pa, room_m3);
                keep(&balance);
            }
        }
        let (running_pa, return_m3_s) = self.running(&down);
        Bleed {
            flows_after_s,
            line_m3_s: self.full_flow_m3_s(&up),
            at_set_s,
            pump_stops_s,
            running_pa,
            return_m3_s,
            trace,
            residual_pa: balance.pressure_pa,
            missing_m3: balance.missing_m3(&self.supply),
            balance,
            hot: self.hot(steps),
        }
    }

    /// Pressure with the pump running and the slits shut (Pa), and the return's flow (m3/s).
    fn running(&self, feed: &Feed<'_>) -> (f64, f64) {
        let mut balance = VolumeBalance::default();
        feed.advance(&mut balance, LONGEST_S);
        let before = balance.returned_m3;
        feed.advance(&mut balance, LONGEST_S + 1.0);
        (balance.pressure_pa, balance.returned_m3 - before)
    }

    /// Pressure above ambient at which the fuel boils (Pa).
    fn boils_at_pa(&self, temperature_k: f64) -> f64 {
        vapour_pressure_pa(self.request.class_pa, temperature_k) - self.plant.ambient_pa
    }

    /// The most room vapour can take (m3): the hot feed. The lines are shut off from it by the
    /// slits and by the injectors.
    fn room_m3(&self) -> f64 {
        self.supply.feed_m3
    }

    /// Lift of the plunger while the starter turns the hot engine (m): the air of that
    /// speed with the manifold at ambient, on the plate that the full system pressure
    /// loads. A plate that would leave its funnel is at the top.
    fn cranking_lift_m(&self) -> f64 {
        let Plant { parts, ambient_pa, density_kg_m3, plate_drop_pa, .. } = &self.plant;
        let (plate, speed) = (&parts.plate, self.supply.hot_cranking_rad_s);
        let air_kg_s = parts.breathing.air_kg_s(*ambient_pa, *ambient_pa, speed);
        let area_m2 = air_kg_s / plate.flow_kg_s(1.0, *density_kg_m3, *plate_drop_pa);
        let height_m = if area_m2 <= plate.least_area_m2() {
            0.0
        } else {
            plate.height_m(area_m2).unwrap_or(plate.top_m())
        };
        self.plunger_lift_m(height_m).max(0.0)
    }

    /// The hot stand from the running pressure, and the restart.
    fn hot(&self, steps: u32) -> Hot {
        let hot_k = self.request.hot_k;
        let running = self.feed(hot_k, 1.0, 0.0, steps);
        let mut balance =
            VolumeBalance { pressure_pa: self.running(&running).0, ..VolumeBalance::default() };
        let off = self.feed(hot_k, 0.0, 0.0, steps);
        let (floor_pa, room_m3) = (self.boils_at_pa(hot_k), self.room_m3());
        off.close(&mut balance, self.request.stand_s);
        off.leak_down(&mut balance, self.request.stand_s, floor_pa, room_m3);
        let cranking_lift_m = self.cranking_lift_m();
        Hot {
            boils_at_pa: floor_pa,
            residual_pa: balance.pressure_pa,
            boils_after_s: balance.boils_at_s,
            vapour_m3: balance.vapour_m3,
            cranking_lift_m,
            cranking_s: self.restart(&balance, cranking_lift_m, steps),
        }
    }

    /// Cranking until the pressure is back and the lines are full (s).
    ///
    /// Vapour goes back into the fuel at its vapour pressure: first the pump puts its room in
    /// the feed back at that pressure, then the pressure rises and the slits put back what the
    /// injectors have let drip out of the lines since they boil.
    fn restart(&self, stood: &VolumeBalance, lift_m: f64, steps: u32) -> Option<f64> {
        let share = self.supply.pump.cranking_share;
        let delivers = share * self.conditions.fuel_side.delivers(&self.supply);
        let mut feed = self.feed(self.request.hot_k, share, lift_m, steps);
        let start_pa = stood.pressure_pa;
        let surplus =
            self.supply.pump.delivery_m3_s(start_pa, delivers) - feed.leaks.flow_m3_s(start_pa);
        let refilled_s = match stood.vapour_m3 {
            0.0 => 0.0,
            _ if surplus <= 0.0 => return None,
            room_m3 => room_m3 / surplus,
        };
        feed.back_pa = start_pa;
        let boiling_s = stood.boils_at_s.map_or(0.0, |at| self.request.stand_s - at);
        let lines = self.lines();
        for (line, volume) in feed.to_fill_m3.iter_mut().enumerate().take(lines) {
            let fuel_side = &self.conditions.fuel_side;
            *volume = fuel_side.dripped_m3(line, lines, *volume, boiling_s);
        }
        let mut balance =
            VolumeBalance { time_s: refilled_s, pressure_pa: start_pa, ..VolumeBalance::default() };
        feed.advance(&mut balance, LONGEST_S.max(refilled_s));
        let full = balance.full_s[..self.lines()].iter().copied();
        let last_s =
            full.chain([balance.at_set_s]).try_fold(0.0, |last: f64, t| Some(last.max(t?)));
        last_s.filter(|last| *last <= LONGEST_S)
    }
}

/// Times of the trace while the pump runs with the plate up, to a last one (s).
fn build_up_times(last_s: f64) -> Vec<f64> {
    let fine = (LEAST_RUN_S / FINE_S).round() as u32;
    let mut times: Vec<f64> = (1..=fine).map(|i| FINE_S * f64::from(i)).collect();
    let coarse = 40;
    let step_s = (last_s - LEAST_RUN_S) / f64::from(coarse);
    if step_s > 0.0 {
        times.extend((1..=coarse).map(|i| LEAST_RUN_S + step_s * f64::from(i)));
    }
    times
}

/// Times of the trace after the pump has stopped (s): dense at first, then every 10 s.
fn leak_down_times() -> Vec<f64> {
    let dense = (0..48).map(|i| 0.01 * 10f64.powf(f64::from(i) / 12.0)).filter(|t| *t < 9.9);
    dense.chain((1..=180).map(|i| 10.0 * f64::from(i))).collect()
}
