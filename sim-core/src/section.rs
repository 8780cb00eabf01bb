//! The machine in section: where plate, lever, roller, plunger, screw and stop stand, and what
//! pressures stand behind them. Numbers only: who draws them, on a sheet or on a live page,
//! takes them from here.
//!
//! ```
//! use sim_core::{conditions::Conditions, rig::keys::Setup, rig::shipped::shipped};
//! use sim_core::section::{Position, section};
//! let setup = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
//! let rest = section(&setup, Position::Rest);
//! let idle = section(&setup, Position::WarmIdle);
//! assert_eq!((rest.machine.plate_above_rest_m, rest.machine.slit_opening_m), (0.0, 0.0));
//! assert!(idle.machine.plate_above_rest_m > idle.machine.heights.felt_play_m());
//! assert!(idle.machine.slit_opening_m > 0.0);
//! ```

use crate::assembly::Parts;
use crate::conditions::Conditions;
use crate::fuel::slit::Liquid;
use crate::point::{Point, State};
use crate::rig::keys::Setup;
use crate::steady::SteadyEngine;
use crate::units::Unit;

/// Speed of full load (rpm), on a brake.
const FULL_LOAD_RPM: f64 = 4000.0;

/// Where the plate stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Position {
    /// On its stop: the engine stands, the pump is on the jumper.
    Rest,
    /// Lifted by hand until the roller touches the plunger.
    Touch,
    /// Lifted by hand until the first fuel shows.
    FirstFuel,
    /// Where the air of the idling engine holds it.
    WarmIdle,
    /// The same with the throttle open, on a brake.
    FullLoad,
}

impl Position {
    /// Every position, from rest upwards.
    pub const ALL: [Position; 5] = [
        Position::Rest,
        Position::Touch,
        Position::FirstFuel,
        Position::WarmIdle,
        Position::FullLoad,
    ];

    /// The word for it in options and files.
    pub const fn word(self) -> &'static str {
        match self {
            Position::Rest => "rest",
            Position::Touch => "touch",
            Position::FirstFuel => "first-fuel",
            Position::WarmIdle => "warm-idle",
            Position::FullLoad => "full-load",
        }
    }

    /// Whether the engine runs in it.
    pub fn runs(self) -> bool {
        matches!(self, Position::WarmIdle | Position::FullLoad)
    }

    /// What it is run under unless asked otherwise.
    pub fn conditions(self) -> Conditions {
        match self {
            Position::FullLoad => Conditions {
                throttle: 1.0,
                speed_rad_s: Some(Unit::Rpm.to_si(FULL_LOAD_RPM)),
                ..Conditions::default()
            },
            _ => Conditions::default(),
        }
    }
}

/// The plate heights (m above the throat's lower edge) at which something happens, the screw
/// as it stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlateHeights {
    /// It rests on its stop.
    pub rest_m: f64,
    /// The roller meets the plunger; below the rest where it never leaves it.
    pub touch_m: f64,
    /// The metering edge stands at the slits' lower edge.
    pub opening_m: f64,
    /// The first line shows fuel; `None` if none ever does.
    pub first_fuel_m: Option<f64>,
}

impl PlateHeights {
    /// The heights with the screw at so many turns. `first_flow_m` is the plate height above
    /// the slits' opening at which the first line shows fuel, see [`height_for_flow_m`].
    pub fn new(
        parts: &Parts,
        conditions: &Conditions,
        screw_turns: f64,
        first_flow_m: Option<f64>,
    ) -> PlateHeights {
        let opening_m = parts.lever.opening_height_m(screw_turns);
        PlateHeights {
            rest_m: conditions.rest_height_m - parts.plate.rest_below_throat_m,
            touch_m: opening_m - parts.slits.overlap_m / parts.lever.plunger_per_plate(),
            opening_m,
            first_fuel_m: first_flow_m.map(|above_m| opening_m + above_m),
        }
    }

    /// Plate travel from rest to the first fuel (m); below 0 where fuel runs at rest.
    pub fn play_m(&self) -> Option<f64> {
        self.first_fuel_m.map(|first_fuel_m| first_fuel_m - self.rest_m)
    }

    /// Plate travel from rest until the roller touches the plunger (m); 0 if it touches at
    /// rest already.
    pub fn felt_play_m(&self) -> f64 {
        (self.touch_m - self.rest_m).max(0.0)
    }
}

/// Plate height above the slits' opening (m) at which the first line passes a flow, at an ideal
/// jet speed; `None` if none passes so much with its slit full open.
pub fn height_for_flow_m(
    parts: &Parts,
    (liquid, jet_m_s): (&Liquid, f64),
    flow_m3_s: f64,
) -> Option<f64> {
    let flow_kg_s = flow_m3_s * liquid.density_kg_m3;
    let lift_m = parts.slits.lift_for_first_m(flow_kg_s, jet_m_s, liquid)?;
    Some(lift_m / parts.lever.plunger_per_plate())
}

/// Where each part stands. Plate and plunger move in straight lines; the lever turns about its
/// pivot, and the roller's arm about the same pivot, held against the lever by the screw.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Machine {
    /// Heights of the plate at which something happens.
    pub heights: PlateHeights,
    /// Plate above its rest (m).
    pub plate_above_rest_m: f64,
    /// Plate above the throat's lower edge (m).
    pub plate_above_throat_m: f64,
    /// The lever from level, up at the plate (rad).
    pub lever_rad: f64,
    /// The roller's arm from level, up at the roller (rad).
    pub arm_rad: f64,
    /// The roller's middle above the pivot when it touches the resting plunger (m).
    pub roller_touches_m: f64,
    /// Gap between roller and plunger (m).
    pub roller_gap_m: f64,
    /// Plunger above its seat (m).
    pub plunger_m: f64,
    /// Slit uncovered by the metering edge (m).
    pub slit_opening_m: f64,
    /// Turns of the screw from where the rig stands; in is above 0.
    pub screw_turns: f64,
    /// How far the screw stands in for it (m).
    pub screw_in_m: f64,
    /// How much higher the stop stands than the rig's (m of plate).
    pub stop_raised_m: f64,
}

impl Machine {
    /// The machine with its plate at a height (m above the throat).
    ///
    /// Equations: `sin(a) = z / L`, `sin(b) = (z + n P) / L`, plunger
    /// `x = max(0, (z - z_touch) l / L)`, slit `h = x - o` between 0 and its height. Symbols:
    /// `a` lever and `b` arm from level, `z` plate height, `n` turns of the screw, `P` plate
    /// height of a turn, `L` and `l` arms of plate and plunger, `o` overlap. With plate and
    /// roller level with the pivot at `z = 0` both rise by `sin` of their angle, so that their
    /// ratio stays `l/L` all the way up. Valid range: sines are cut at 1. Source: geometry.
    pub fn at(parts: &Parts, heights: PlateHeights, screw_turns: f64, height_m: f64) -> Machine {
        let (lever, slits) = (&parts.lever, &parts.slits);
        let ratio = lever.plunger_per_plate();
        let turned_m = screw_turns * lever.height_per_turn_m();
        let angle = |height_m: f64| (height_m / lever.plate_arm_m).clamp(-1.0, 1.0).asin();
        let beyond_touch_m = (height_m - heights.touch_m) * ratio;
        let plunger_m = beyond_touch_m.max(0.0);
        Machine {
            heights,
            plate_above_rest_m: height_m - heights.rest_m,
            plate_above_throat_m: height_m,
            lever_rad: angle(height_m),
            arm_rad: angle(height_m + turned_m),
            roller_touches_m: (heights.touch_m + turned_m) * ratio,
            roller_gap_m: (-beyond_touch_m).max(0.0),
            plunger_m,
            slit_opening_m: (plunger_m - slits.overlap_m).clamp(0.0, slits.height_m),
            screw_turns,
            screw_in_m: screw_turns * lever.screw_pitch_m,
            stop_raised_m: heights.rest_m + parts.plate.rest_below_throat_m,
        }
    }
}

/// Pressures (above ambient) and flows of the fuel side.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hydraulics {
    /// What the regulator holds and the pump keeps (Pa).
    pub system_pa: f64,
    /// Lower chambers (Pa).
    pub lower_chamber_pa: f64,
    /// Upper chambers: the system's pressure less the drop over the slits (Pa).
    pub upper_chamber_pa: f64,
    /// Drop over the slits (Pa).
    pub slit_drop_pa: f64,
    /// First injection line (Pa).
    pub line_pa: f64,
    /// Current through the actuator (A).
    pub current_a: f64,
    /// What the pump delivers (m3/s).
    pub pump_m3_s: f64,
    /// What the slits pass, all together (m3/s).
    pub lines_m3_s: f64,
    /// Fuel in the accumulator (m3).
    pub stored_m3: f64,
}

impl Hydraulics {
    /// What returns to the tank (m3/s): the pump's delivery less what the lines take.
    pub fn returns_m3_s(&self) -> f64 {
        (self.pump_m3_s - self.lines_m3_s).max(0.0)
    }

    fn running(setup: &Setup, state: &State, density_kg_m3: f64) -> Hydraulics {
        let line_pa = state.line_pa;
        let lines_m3_s = state.fuel_kg_s / density_kg_m3;
        let drops = [state.lower_chamber_pa, state.slit_drop_pa];
        Hydraulics::fed(setup, state.system_pa, drops, line_pa, state.actuator_a, lines_m3_s)
    }

    fn fed(
        setup: &Setup,
        system_pa: f64,
        [lower_chamber_pa, slit_drop_pa]: [f64; 2],
        line_pa: f64,
        current_a: f64,
        lines_m3_s: f64,
    ) -> Hydraulics {
        let side = &setup.conditions.fuel_side;
        let supply = side.supply(&setup.rig.parts().supply);
        Hydraulics {
            system_pa,
            lower_chamber_pa,
            upper_chamber_pa: system_pa - slit_drop_pa,
            slit_drop_pa,
            line_pa,
            current_a,
            pump_m3_s: supply.pump.delivery_m3_s(system_pa, side.delivers(&supply)),
            lines_m3_s,
            stored_m3: supply.accumulator.stored_m3(system_pa),
        }
    }
}

/// A machine in a position.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    /// Which position was asked for.
    pub position: Position,
    /// Where its parts stand: at rest if the engine does not run.
    pub machine: Machine,
    /// Its fuel side.
    pub hydraulics: Hydraulics,
    /// The engine, where it should run.
    pub point: Option<Point>,
}

impl Section {
    /// Whether the engine should run and does not.
    pub fn stalled(&self) -> bool {
        self.point.is_some_and(|point| point.state().is_none())
    }
}

/// The machine in a position, the screw and all else as the conditions have it. In positions in
/// which the engine stands the pump runs on the jumper, and without a forced current none flows.
pub fn section(setup: &Setup, position: Position) -> Section {
    let (parts, conditions) = (setup.rig.parts(), &setup.conditions);
    let turns = conditions.screw_turns;
    let steady = SteadyEngine::new(&setup.rig, conditions);
    // What shows as first fuel is looked for on the jumper: no current flows.
    let (liquid, jet_m_s) = steady.liquid_and_jet(0.0);
    let first_flow_m = height_for_flow_m(parts, (&liquid, jet_m_s), parts.flow_threshold_m3_s);
    let heights = PlateHeights::new(parts, conditions, turns, first_flow_m);
    let point = position.runs().then(|| steady.point(turns));
    let state = point.as_ref().and_then(Point::state);
    let by_hand_m = match position {
        Position::Touch => heights.touch_m,
        Position::FirstFuel => heights.first_fuel_m.unwrap_or(heights.rest_m),
        _ => heights.rest_m,
    };
    let height_m = match state {
        Some(state) => heights.rest_m + state.plate_lift_m,
        None => by_hand_m.max(heights.rest_m),
    };
    let machine = Machine::at(parts, heights, turns, height_m);
    let hydraulics = match state {
        Some(state) => Hydraulics::running(setup, state, liquid.density_kg_m3),
        None => {
            let plant = steady.parts().0;
            let pressures = &plant.parts.pressures;
            let current_a = conditions.actuator_a.unwrap_or(0.0);
            let drops = [pressures.lower_chamber_pa(current_a), plant.slit_drop_pa(current_a)];
            let flows_kg_s = plant.total_kg_s(machine.slit_opening_m, plant.jet_m_s(current_a));
            let lines_m3_s = flows_kg_s / liquid.density_kg_m3;
            Hydraulics::fed(
                setup,
                pressures.system_pa,
                drops,
                plant.line_pa(),
                current_a,
                lines_m3_s,
            )
        }
    };
    Section { position, machine, hydraulics, point }
}
