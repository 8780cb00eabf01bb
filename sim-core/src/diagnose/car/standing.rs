//! What is read of the standing engine, and of parts on their own.

use super::Car;
use crate::bleed::{BleedRequest, Standing, standing};
use crate::conditions::Trim;
use crate::diagnose::causes::{Changed, Named};
use crate::diagnose::sheet::Slot;
use crate::rig::keys::Setup;
use crate::run::{Options, start::start};
use crate::sense::faults::{Coolant, ThrottleSwitch};
use crate::units::Unit;

/// A closed contact, and an open one (ohm).
const CONTACT_OHM: (f64, f64) = (0.5, 1e6);
/// How far the plate is lifted for the glasses (m), and how long the pump runs (s).
pub(crate) const GLASSES: (f64, f64) = (8e-3, 60.0);

impl Car {
    pub(super) fn standing_value(
        &self,
        slot: &Slot,
        changed: &Changed,
        stood: Option<&Standing>,
    ) -> Option<f64> {
        let setup = &changed.setup;
        let parts = setup.rig.parts();
        let fuel_side = &setup.conditions.fuel_side;
        let line = slot.line.unwrap_or(0);
        let lines = parts.slits.width_m.len();
        if slot.line.is_some_and(|line| line >= lines) {
            return None;
        }
        match slot.kind.name() {
            "residual_bar" => stood?.residual_pa.map(|pa| Unit::Bar.from_si(pa)),
            "return_ml_min" => Some(6e7 * stood?.running?.1),
            "before_filter_bar" => {
                // Where fuel runs with the plate at rest the regulator holds all the same.
                let running = stood?.running.map(|(pa, _)| pa);
                let running_pa = running.unwrap_or(parts.pressures.system_pa);
                let pump = &parts.supply.pump;
                let flow = fuel_side.delivers(&parts.supply)
                    * pump.free_m3_s
                    * (1.0 - running_pa / pump.stall_pa).max(0.0);
                Some(1e-5 * (running_pa + fuel_side.filter_pa * flow / pump.free_m3_s))
            }
            "line_N_ml" => Some(1e6 * GLASSES.1 * stood?.line_m3_s.get(line)?),
            "flow_start_turns" => {
                let found_turns = crate::flowstart::flow_start_turns(setup)?;
                Some(found_turns - setup.conditions.screw_turns)
            }
            "cranking_s" => None,
            "coolant_ohm" => {
                let sound = parts.thermistor.ohm(setup.conditions.coolant_k) * self.coolant.exp();
                Some(match setup.conditions.faults.coolant {
                    Coolant::Sound => sound,
                    Coolant::Open => 1e6,
                    Coolant::Short => 1.0,
                    Coolant::Ohm(ohm) => ohm * self.coolant.exp(),
                })
            }
            "idle_contact_ohm" => Some(match setup.conditions.faults.throttle_switch {
                ThrottleSwitch::NoIdle => CONTACT_OHM.1,
                _ => CONTACT_OHM.0 * self.contact.exp(),
            }),
            "injector_N_bar" => {
                let own = changed.injector.filter(|(at, _)| *at == line).map_or(0.0, |(_, pa)| pa);
                let set = parts.injectors.opening_pa(line, lines, 0.0);
                Some(1e-5 * (set + own + self.injector_pa[line]))
            }
            "drop_N_rpm" => {
                let lost = changed.spark.filter(|(at, _)| *at == line).map_or(0.0, |(_, s)| s);
                Some(self.drop_rpm * (1.0 - lost) + self.drops[line])
            }
            _ => None,
        }
    }
}

/// Cranking of the cold engine to the first fire (s), with causes; none if it never fires.
pub(in crate::diagnose) fn cranking_s(setup: &Setup, causes: &[(Named, f64)]) -> Option<f64> {
    let mut cold = *setup;
    let conditions = &mut cold.conditions;
    conditions.trim = Trim::On;
    conditions.coolant_k = conditions.ambient_k;
    conditions.fuel_k = conditions.ambient_k;
    let mut changed = Changed { setup: cold, other_fuel: 0.0, spark: None, injector: None };
    for (named, strength) in causes {
        named.apply(&mut changed, *strength);
    }
    // Most fire early: only the others are watched to the end.
    WATCHED_S.iter().find_map(|watched_s| {
        let found = start(&changed.setup, Options::default(), CRANKED_S, *watched_s).ok()?;
        found.fires_after_s
    })
}

/// How long the starter is held on at most (s).
const CRANKED_S: f64 = 10.0;
/// How long it is watched, until it fires (s).
const WATCHED_S: [f64; 3] = [2.0, 4.0, CRANKED_S];

impl Car {
    /// What gauges and glasses show of a standing engine; left to stand only if that is asked for.
    pub(super) fn stood(setup: &Setup, left: bool) -> Standing {
        let fuel_side = &setup.conditions.fuel_side;
        let request = BleedRequest {
            lift_m: GLASSES.0,
            check_valve: fuel_side.check_valve,
            accumulator_share: fuel_side.accumulator_share,
            stand_s: 1.0,
            hot_k: setup.conditions.fuel_k,
            class_pa: fuel_side.class_pa,
        };
        standing(setup, &request, left)
    }
}
