//! What must be redone after a repair: by what [`crate::parts`] finds for the part on this car.

use super::steps::*;
use crate::parts::Repair;

/// What is done to a part, and what of the car is open then.
struct Done {
    part: &'static str,
    what: &'static str,
    tool: &'static str,
    caution: &'static str,
    /// Whether the fuel side is opened.
    fuel: bool,
    /// Whether the plate, its stop or the plunger is touched: the static setting is looked at.
    plate: bool,
}

const PETROL: &str = "Petrol under pressure: relieve it; eyes, gloves, no flame.";
const OFF: &str = "Ignition off before a plug is pulled.";
const ENGINE_OFF: &str = "Engine off and cold enough to touch.";

const fn done(
    part: &'static str,
    what: &'static str,
    tool: &'static str,
    caution: &'static str,
    (fuel, plate): (bool, bool),
) -> Done {
    Done { part, what, tool, caution, fuel, plate }
}

/// Every part of [`crate::parts::PARTS`].
#[rustfmt::skip]
static DONE: &[Done] = &[
    done("potentiometer", "Renew it; the housing as near to the old mark as it goes.", "screwdriver, scriber", OFF, (false, false)),
    done("plate-height", "Set the plate's stop to its height, plate centred.", "depth gauge, punch", ENGINE_OFF, (false, true)),
    done("plunger", "Renew plunger or distributor, new seals.", "two spanners, clean bench", PETROL, (true, true)),
    done("fuel-lines", "Renew the line, its seals and filter screen.", "two spanners", PETROL, (true, false)),
    done("air-leak", "Renew hose or seal; look at its neighbours.", "screwdriver, smoke", ENGINE_OFF, (false, false)),
    done("actuator", "Renew it, new seals, screws in turn.", "socket, torque wrench", PETROL, (true, false)),
    done("pressure-regulator", "Renew it, new seals.", "two spanners, gauge", PETROL, (true, false)),
    done("coolant", "Renew the sensor, system bled.", "deep socket", "Coolant cold and its pressure off.", (false, false)),
    done("lambda", "Renew it; no grease on the tip.", "slotted socket", "Exhaust cold; lead clear of it.", (false, false)),
    done("exhaust-temperature", "Renew the sensor.", "slotted socket", "Exhaust cold; lead clear of it.", (false, false)),
    done("altitude", "Renew the sensor.", "screwdriver", OFF, (false, false)),
    done("throttle-switch", "Renew or set it: it closes just before the stop.", "feeler gauge, ohmmeter", OFF, (false, false)),
    done("idle-air-valve", "Clean or renew it, new hoses.", "screwdriver", ENGINE_OFF, (false, false)),
];

/// What the verdict means, in a sentence.
pub fn verdict(repair: Repair) -> &'static str {
    match repair {
        Repair::KeepTheSetting => "Nothing is set: the old setting comes back with the repair.",
        Repair::SetAnewIfSetWithIt => {
            "Set anew only if the engine was set while the part was off: the readings after the repair say so."
        }
        Repair::SetAnew => {
            "Set anew: a new part of this kind differs by more than a setting bears."
        }
    }
}

/// The steps after a part was renewed; `None` for a part that is not on the list.
pub fn steps(part: &str, repair: Repair) -> Option<Vec<Step>> {
    let done = DONE.iter().find(|done| done.part == part)?;
    let renew = Step {
        title: "The repair",
        what: done.what,
        tool: done.tool,
        caution: done.caution,
        if_not: "Something else was found off: another sheet for that.",
        ..PLAIN
    };
    let anew = repair == Repair::SetAnew;
    let sets = anew || repair == Repair::SetAnewIfSetWithIt;
    let mut steps = vec![MARK, renew];
    if sets {
        steps.push(IGNITION);
    }
    if sets || done.plate {
        steps.push(PLATE);
    }
    if done.fuel || (done.plate && anew) {
        steps.extend([PRESSURE, FILL]);
        if done.plate && anew {
            steps.push(FLOW_START);
        }
        steps.push(CLOSE);
        steps.push(FIRST_START);
    }
    if part == "throttle-switch" || part == "idle-air-valve" {
        steps.push(THROTTLE);
    }
    steps.push(WARM);
    // After a static setting the idle is found by its edges, not read as it stands.
    if !(done.plate && anew) {
        steps.push(AT_IDLE);
    }
    if sets {
        if !steps.iter().any(|step| step.gives.contains(&Gate::Pressure)) {
            steps.push(PRESSURES);
        }
        let only_if = |step: Step, title| match anew {
            true => step,
            false => Step { title, ..step },
        };
        steps.extend([
            only_if(EDGES, "Duty off: two edges"),
            only_if(AIM, "Duty off: middle, leaner"),
            only_if(VOLTAGE_AFTER_AIM, "Volts off: voltage"),
            RELEARN,
        ]);
    } else {
        steps.push(ROAD);
    }
    Some(steps)
}
