//! The readings of a job sheet: those of a diagnosis, and the one list of those that only a job
//! takes.

use crate::bleed::{Bleed, BleedRequest, bleed};
use crate::conditions::Trim;
use crate::diagnose::sheet::{Slot, Taken};
use crate::drive::{Drive, engine_demand};
use crate::relearn::{first_cells, relearn};
use crate::rig::keys::Setup;
use crate::run::restart::restart;
use crate::run::start::start;
use crate::run::{Options, start::StartOutcome};
use crate::section::PlateHeights;
use crate::steady::SteadyEngine;
use crate::sweep::{Edges, edges};
use crate::units::Unit;

/// How far the plate is lifted to fill the lines (m).
pub const LIFT_M: f64 = 8e-3;
/// The hot stand: how long (s), how warm under the bonnet (K).
pub const HOT_STAND: (f64, f64) = (1800.0, 363.15);
/// The starter is held on for so long at most (s), the start watched for so long (s).
const START_S: (f64, f64) = (10.0, 20.0);
/// Drives after the memory is cleared, and how long each takes (s).
const DRIVES: (usize, f64) = (40, 1200.0);

/// A reading that only a job takes.
pub struct Own {
    /// Its name with its unit.
    pub name: &'static str,
    /// Words for it.
    pub label: &'static str,
    /// Its unit.
    pub unit: Unit,
    /// Decimals a person wants to see.
    pub decimals: usize,
    /// What its meter may be off: in its unit, or the share of the reading if that is more.
    /// Common practice, no source.
    pub permitted: (f64, f64),
    /// Whether it takes a run in time to work out.
    pub slow: bool,
    get: fn(&Setup) -> Option<f64>,
}

const fn own(
    name: &'static str,
    label: &'static str,
    (unit, decimals): (Unit, usize),
    permitted: (f64, f64),
    get: fn(&Setup) -> Option<f64>,
) -> Own {
    Own { name, label, unit, decimals, permitted, slow: false, get }
}

const fn slow(own: Own) -> Own {
    Own { slow: true, ..own }
}

/// Every reading that only a job takes.
pub static OWN: &[Own] = &[
    own("play_mm", "plate's play to the plunger", (Unit::Millimetre, 1), (0.2, 0.0), |setup| {
        let heights = PlateHeights::new(
            setup.rig.parts(),
            &setup.conditions,
            setup.conditions.screw_turns,
            None,
        );
        Some(1e3 * heights.felt_play_m())
    }),
    own("jumper_bar", "pressure, pump on the jumper", (Unit::Bar, 2), (0.06, 0.0), |setup| {
        Some(1e-5 * bled(setup)?.running_pa)
    }),
    own("line_flows_s", "last line flows after", (Unit::Second, 1), (0.5, 0.0), |setup| {
        let after = bled(setup)?.flows_after_s;
        after.into_iter().try_fold(0.0, |last: f64, each| Some(last.max(each?)))
    }),
    own("cold_ohm", "coolant sensor, cold engine", (Unit::Ohm, 0), (1.0, 0.03), |setup| {
        use crate::sense::faults::Coolant;
        let conditions = &setup.conditions;
        let thermistor = &setup.rig.parts().thermistor;
        let sound = thermistor.ohm(conditions.ambient_k);
        Some(match conditions.faults.coolant {
            Coolant::Sound => sound,
            Coolant::Open => 1e6,
            Coolant::Short => 1.0,
            // As many times too much as when warm.
            Coolant::Ohm(ohm) => sound * ohm / thermistor.ohm(conditions.coolant_k),
        })
    }),
    slow(own("cranking_s", "cranking to the first fire", (Unit::Second, 1), (0.2, 0.1), |setup| {
        started(setup)?.fires_after_s
    })),
    slow(own("caught_s", "caught after", (Unit::Second, 1), (0.3, 0.1), |setup| {
        started(setup)?.caught_after_s
    })),
    slow(own(
        "hot_cranking_s",
        "cranking, hot, after 30 min",
        (Unit::Second, 1),
        (0.3, 0.1),
        |setup| {
            let mut hot = *setup;
            hot.conditions.trim = Trim::On;
            hot.conditions.fuel_side.stood_s = HOT_STAND.0;
            hot.conditions.fuel_side.bonnet_k = Some(HOT_STAND.1);
            restart(&hot, 60.0).ok()?.let_go_after_s
        },
    )),
    own("lean_edge_turns", "lean edge from duty 50 %", (Unit::Turns, 3), (0.02, 0.0), |setup| {
        let found = found_edges(setup);
        Some(found.lean? - found.lambda_one?)
    }),
    own("rich_edge_turns", "rich edge from duty 50 %", (Unit::Turns, 3), (0.02, 0.0), |setup| {
        let found = found_edges(setup);
        Some(found.rich? - found.lambda_one?)
    }),
    slow(own(
        "learned_starts",
        "starts until nothing is learned",
        (Unit::One, 0),
        (1.0, 0.0),
        |setup| {
            let mut driven = *setup;
            driven.conditions.trim = Trim::On;
            let asked = engine_demand(&driven, &Drive::urban(DRIVES.1));
            let first = first_cells(&driven, false, &asked);
            let found =
                relearn(&driven, first, &asked, (DRIVES.0, false), Options::default(), |_| {});
            found.ok()?.settled_at.map(|at| at as f64)
        },
    )),
];

/// The fuel side on the jumper, as the glasses of a diagnosis are filled.
fn bled(setup: &Setup) -> Option<Bleed> {
    let fuel_side = &setup.conditions.fuel_side;
    let request = BleedRequest {
        lift_m: LIFT_M,
        check_valve: fuel_side.check_valve,
        accumulator_share: fuel_side.accumulator_share,
        stand_s: 1.0,
        hot_k: setup.conditions.fuel_k,
        class_pa: fuel_side.class_pa,
    };
    bleed(setup, &request).ok()
}

fn started(setup: &Setup) -> Option<StartOutcome> {
    let mut cold = *setup;
    let conditions = &mut cold.conditions;
    (conditions.trim, conditions.throttle) = (Trim::On, 0.0);
    conditions.coolant_k = conditions.ambient_k;
    conditions.fuel_k = conditions.ambient_k;
    start(&cold, Options::default(), START_S.0, START_S.1).ok()
}

fn found_edges(setup: &Setup) -> Edges {
    let mut open = *setup;
    open.conditions.trim = Trim::Off;
    edges(&SteadyEngine::new(&open.rig, &open.conditions))
}

impl Own {
    /// Its value on a car, in its unit; `None` if it shows none.
    pub fn value(&self, setup: &Setup) -> Option<f64> {
        (self.get)(setup)
    }
}

/// A reading at its place in a job.
#[derive(Clone, Copy)]
pub enum Place {
    /// One of a diagnosis; of those that are there for each line, every line's.
    Slot(Slot),
    /// One that only a job takes.
    Own(&'static Own),
}

impl Place {
    /// The reading of a name in a state; "drop_N_rpm" stands for every line's.
    pub fn of(name: &str, taken: Taken) -> Option<Place> {
        if let Some(own) = OWN.iter().find(|own| own.name == name) {
            return Some(Place::Own(own));
        }
        Slot::of(&name.replace('N', "1"), taken).map(Place::Slot)
    }

    /// Its name on the list.
    pub fn name(&self) -> &'static str {
        match self {
            Place::Slot(slot) => slot.kind.name(),
            Place::Own(own) => own.name,
        }
    }

    /// Words for it.
    pub fn label(&self) -> &'static str {
        match self {
            Place::Slot(slot) => match slot.kind.name() {
                "line_N_ml" => "each line in a minute",
                "drop_N_rpm" => "fall of speed, each",
                "injector_N_bar" => "each injector opens at",
                "residual_bar" => "pressure after 30 min",
                "return_ml_min" => "return flow",
                "before_filter_bar" => "before the filter",
                "flow_start_turns" => "turns in to flow start",
                "coolant_ohm" => "coolant sensor, warm",
                "idle_contact_ohm" => "idle contact, closed",
                _ => slot.kind.label(),
            },
            Place::Own(own) => own.label,
        }
    }

    /// Its unit in letters.
    pub fn unit(&self) -> &'static str {
        match self {
            Place::Slot(slot) if slot.kind.name() == "hc_ppm" => "ppm",
            Place::Slot(slot) => slot.kind.unit().symbol(),
            Place::Own(own) => own.unit.symbol(),
        }
    }

    /// Decimals.
    pub fn decimals(&self) -> usize {
        match self {
            Place::Slot(slot) => slot.kind.decimals(),
            Place::Own(own) => own.decimals,
        }
    }

    /// How many lines it is read of, of so many; 1 where there is but one of it.
    pub fn lines(&self, lines: usize) -> usize {
        match self {
            Place::Slot(Slot { line: Some(_), .. }) => lines,
            _ => 1,
        }
    }

    /// The slot of a line, from 0.
    pub fn slot(&self, line: usize) -> Option<Slot> {
        match self {
            Place::Slot(slot) => Some(Slot { line: slot.line.map(|_| line), ..*slot }),
            Place::Own(_) => None,
        }
    }

    /// Standard deviation of its meter about a value, in its unit. `class` is what the meter may
    /// be off, where it is known.
    pub fn meter_sigma(&self, value: f64, class: Option<f64>) -> f64 {
        match self {
            Place::Slot(slot) => {
                let kind = slot.kind;
                let scaled = kind.scaled(value);
                let sigma = kind.meter_sigma(scaled, class);
                (kind.unscaled(scaled + sigma) - kind.unscaled(scaled)).abs()
            }
            // Anywhere within what is permitted.
            Place::Own(own) => {
                class.unwrap_or(own.permitted.0).max(own.permitted.1 * value.abs()) / 3f64.sqrt()
            }
        }
    }

    /// The least and most it can show.
    pub fn ends(&self) -> (f64, f64) {
        match self {
            Place::Slot(slot) => slot.kind.ends(),
            Place::Own(_) => (f64::NEG_INFINITY, f64::INFINITY),
        }
    }
}
