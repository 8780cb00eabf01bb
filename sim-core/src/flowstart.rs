//! The static setting: pump jumpered, plate at rest, screw in until fuel just shows, then
//! back. And why that holds only with the right rest height.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! let found = sim_core::flowstart::flow_start(&setup, 0.25).unwrap(); // back by a quarter turn
//! assert!((found.flow_start_turns - found.setting_turns - 0.25).abs() < 1e-12);
//! assert!(found.play_m > 0.0 && found.after.state().is_some()); // free play, and it idles
//! ```

use crate::air::plate::Lever;
use crate::conditions::Conditions;
use crate::fuel::slit::Liquid;
use crate::operation::operating_state::Plant;
use crate::point::Point;
use crate::rig::keys::Setup;
use crate::section::{PlateHeights, height_for_flow_m};
use crate::steady::SteadyEngine;
use crate::units::Unit;

/// Offsets of the rest height for which the setting is done again (m).
const REST_OFFSETS_M: [f64; 4] = [-0.5e-3, -0.25e-3, 0.25e-3, 0.5e-3];
/// Plate lifts above rest at which the lines' flows are given (m).
const LINE_LIFTS_M: [f64; 9] = [0.0, 0.5e-3, 1e-3, 1.5e-3, 2e-3, 3e-3, 5e-3, 10e-3, 20e-3];
/// A stream rather than a drop: by how much a setting by this threshold would be richer.
const STREAM_M3_S: f64 = 1e-6 / 60.0;

/// The static setting and what comes of it.
#[derive(Clone, Debug, PartialEq)]
#[must_use]
pub struct FlowStart {
    /// Screw position at which fuel just shows with the plate at rest (turns).
    pub flow_start_turns: f64,
    /// The setting: that, less the way back (turns).
    pub setting_turns: f64,
    /// Plate travel from rest to first fuel at the setting (m).
    pub play_m: f64,
    /// Plate travel from rest until the lever touches the plunger (m); 0 if it touches at
    /// rest already.
    pub felt_play_m: f64,
    /// What the threshold of "fuel shows" is worth (turns).
    pub threshold_turns: f64,
    /// What waiting for a stream of 1 ml/min instead would be worth (turns).
    pub stream_turns: Option<f64>,
    /// Warm idle with the trim off at the setting.
    pub after: Point,
    /// Whether any line flows with the plate at rest.
    pub hazard: bool,
    /// The same with the plate resting higher by an offset (m), all done again.
    pub rest_height: Vec<(f64, Point)>,
    /// Lifts above rest (m) and the flow of each line there (kg/s).
    pub lines: Vec<(f64, Vec<f64>)>,
    /// Density of the fuel (kg/m3), to convert flows to volume.
    pub density_kg_m3: f64,
}

/// Screw position at which fuel just shows with the plate at rest (turns), and nothing more. `None`
/// if no line ever shows fuel.
pub fn flow_start_turns(setup: &Setup) -> Option<f64> {
    // No idle is needed for it: with the pump jumpered the engine stands.
    let plant = Plant::new(setup.rig.parts(), setup.rig.reference(), &setup.conditions);
    flow_start_of(setup, (&plant.liquid, plant.jet_m_s(0.0)))
}

/// The same of an engine that has been prepared already.
pub(crate) fn flow_start_on(setup: &Setup, steady: &SteadyEngine) -> Option<f64> {
    let (liquid, jet_m_s) = steady.liquid_and_jet(0.0);
    flow_start_of(setup, (&liquid, jet_m_s))
}

fn flow_start_of(setup: &Setup, at: (&Liquid, f64)) -> Option<f64> {
    let parts = setup.rig.parts();
    let threshold_m = height_for_flow_m(parts, at, parts.flow_threshold_m3_s)?;
    let heights = PlateHeights::new(parts, &setup.conditions, 0.0, Some(threshold_m));
    Some(turns_to_show(&parts.lever, heights.rest_m, threshold_m))
}

/// Flow of each line (m3/s) of the standing engine with the pump on, its plate lifted above rest.
pub(crate) fn lines_m3_s(setup: &Setup, steady: &SteadyEngine, lift_m: f64) -> Vec<f64> {
    let parts = setup.rig.parts();
    let (liquid, jet_m_s) = steady.liquid_and_jet(0.0);
    let turns = setup.conditions.screw_turns;
    let heights = PlateHeights::new(parts, &setup.conditions, turns, None);
    let above_m = heights.rest_m + lift_m - heights.opening_m;
    let plunger_m = above_m * parts.lever.plunger_per_plate();
    (0..parts.slits.width_m.len())
        .map(|i| parts.slits.flow_kg_s(i, plunger_m, jet_m_s, &liquid) / liquid.density_kg_m3)
        .collect()
}

/// Screw position (turns) at which a plate that rests at a height (m) shows fuel, that far above
/// where the slits open.
fn turns_to_show(lever: &Lever, rest_m: f64, threshold_m: f64) -> f64 {
    (lever.zero_height_m - (rest_m - threshold_m)) / lever.height_per_turn_m()
}

/// Does the static setting on a rig and runs it warm. `None` if no line ever shows fuel.
pub fn flow_start(setup: &Setup, back_off_turns: f64) -> Option<FlowStart> {
    let parts = setup.rig.parts();
    let lever = &parts.lever;
    // With the pump jumpered no current flows through the actuator.
    let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
    let (liquid, jet_m_s) = steady.liquid_and_jet(0.0);
    let height_for_m = |flow_m3_s: f64| height_for_flow_m(parts, (&liquid, jet_m_s), flow_m3_s);
    let threshold_m = height_for_m(parts.flow_threshold_m3_s)?;
    let per_turn = lever.height_per_turn_m();
    let setting_at = |rest_m: f64| turns_to_show(lever, rest_m, threshold_m) - back_off_turns;
    let heights_at =
        |turns: f64| PlateHeights::new(parts, &setup.conditions, turns, Some(threshold_m));
    let rest_m = heights_at(0.0).rest_m;
    let setting_turns = setting_at(rest_m);
    let heights = heights_at(setting_turns);
    let opening_m = heights.opening_m;
    let run = |offset_m: f64| {
        let conditions = Conditions {
            rest_height_m: setup.conditions.rest_height_m + offset_m,
            ..setup.conditions
        };
        SteadyEngine::new(&setup.rig, &conditions).point(setting_at(rest_m + offset_m))
    };
    let flows = |lift_m: f64| {
        let plunger_m = (rest_m + lift_m - opening_m) * lever.plunger_per_plate();
        (0..parts.slits.width_m.len())
            .map(|i| parts.slits.flow_kg_s(i, plunger_m, jet_m_s, &liquid))
            .collect()
    };
    Some(FlowStart {
        flow_start_turns: setting_turns + back_off_turns,
        setting_turns,
        play_m: opening_m + threshold_m - rest_m,
        felt_play_m: heights.felt_play_m(),
        threshold_turns: threshold_m / per_turn,
        stream_turns: height_for_m(STREAM_M3_S).map(|height_m| (height_m - threshold_m) / per_turn),
        after: run(0.0),
        hazard: rest_m > opening_m,
        rest_height: REST_OFFSETS_M.iter().map(|&offset| (offset, run(offset))).collect(),
        lines: LINE_LIFTS_M.iter().map(|&lift| (lift, flows(lift))).collect(),
        density_kg_m3: liquid.density_kg_m3,
    })
}

impl FlowStart {
    /// A line's flow by volume (ml/min).
    pub fn ml_min(&self, flow_kg_s: f64) -> f64 {
        Unit::MillilitrePerMinute.from_si(flow_kg_s / self.density_kg_m3)
    }
}
