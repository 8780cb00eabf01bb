//! Cautions: the short form under tables, the long form in README and on sheets.

use serde::{Serialize, Serializer};
use sim_core::rig::keys::Setup;
use sim_core::run::start::flows_at_rest;

/// One thing that hurts people.
#[derive(Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// In a line of the screen.
    pub short: &'static str,
    /// In full.
    pub long: &'static str,
}

impl Serialize for Caution {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.long.serialize(serializer)
    }
}

/// Numbers are a model's.
pub const MODEL: Caution = Caution {
    short: "Invented parts: vehicle maker's data, local codes, licensed practice first.",
    long: "Numbers of a model of invented parts, measured on no engine: the vehicle maker's data, local codes and licensed practice come first.",
};
/// Petrol under pressure.
pub const PETROL: Caution = Caution {
    short: "Petrol under pressure: relieve it; eye protection, no flame, extinguisher.",
    long: "Petrol under pressure: relieve it before a line is opened, wear eye protection, no flame or spark near, extinguisher at hand.",
};
/// A running engine.
pub const ENGINE: Caution = Caution {
    short: "Running engine: keep clear of moving and hot parts, lead the exhaust outside.",
    long: "Running engine: moving and hot parts; the tool out of the screw before a blip; exhaust gas kills in closed rooms, lead it outside.",
};

/// The pump jumpered.
pub const JUMPER: Caution = Caution {
    short: "Fuel runs: ignition off, lines in glasses, a fused and switched jumper.",
    long: "Looking for flow start lets fuel run: ignition off, lines opened into glasses, pump on a fused and switched jumper that comes off before the car is driven.",
};

/// A start.
pub const CRANKING: Caution = Caution {
    short: "Starting: gear out, brake on, hands and face clear; short tries with rests.",
    long: "Starting: gear out, brake on, hands and cloths clear of fan and belts, face and hands away from the intake, it can spit back; short tries with rests between, the starter burns out; a flooded engine is left to dry before the next try.",
};

/// A drive.
pub const ROAD: Caution = Caution {
    short: "On the road: jumper off, tools out, brakes tried; a helper writes the meters.",
    long: "On the road: jumper off, tools out, brakes tried; a helper writes the meters, the driver drives. Battery off: ignition off, earth lead first off and last on, radio code and clock at hand.",
};

/// For drives.
pub const DRIVING: &[Caution] = &[ROAD, ENGINE, MODEL];
/// For a start.
pub const STARTING: &[Caution] = &[CRANKING, PETROL, ENGINE, MODEL];
/// Fuel lines opened, the pump running.
pub const OPENED: Caution = Caution {
    short: "Opened fuel lines: rag, gloves, eye protection; no flame; catch the fuel.",
    long: "Opened fuel lines: relieve the pressure first and cover the union with a rag; eye protection and gloves; no flame, spark, hot lamp or smoking near; fire extinguisher at hand; doors open, petrol vapour is heavier than air and collects in pits; catch the fuel in closed cans, rags outdoors.",
};
/// The pump on the jumper, for bleeding.
pub const RELAY: Caution = Caution {
    short: "Pump on the jumper: ignition off, fused and switched; off before driving.",
    long: "Pump on the jumper (relay socket, terminals 30 and 87 of DIN 72552): ignition off, jumper fused and switched, put in and taken out with the switch off and no petrol about, removed before the car is driven: with it in, the pump runs on in a crash.",
};
/// A plate held up with the pump on.
pub const PLATE_UP: Caution = Caution {
    short: "Lift the plate only with every line in its glass.",
    long: "Lift the plate only with every line opened into its glass: with the injectors in, fuel fills a standing engine. Let it go and see that every line stops before a line is closed.",
};

/// Cycles that do not burn.
pub const MISFIRE: Caution = Caution {
    short: "Misfire: petrol burns in the hot catalyst, no long runs; ignition leads kill.",
    long: "Misfire: a cylinder that does not fire is fed all the same, and its petrol burns in a hot catalyst: no long runs, nothing that burns under the car. Ignition leads kill: switch off before one is touched.",
};

/// Share of cycles lost from which the caution about misfires stands: our own.
pub const MISFIRES: f64 = 0.01;

/// A throttle that does not close.
pub const THROTTLE: Caution = Caution {
    short: "A throttle that does not close: do not drive the car until it does.",
    long: "A throttle that does not close: the car is not driven until it does, and the linkage is looked at with the engine off.",
};

/// An engine under load.
pub const LOAD: Caution = Caution {
    short: "Load: on a brake stand or on the road only, the driver drives.",
    long: "Load is put on by a brake stand or on the road, never by hand or by a held brake: on a stand the car strapped, nobody before or behind it, tyres looked at, exhaust drawn off; on the road the driver drives and a helper writes.",
};

/// Cautions of an engine under some setups, each once: what was found, what the conditions
/// bring, and those that always stand.
pub fn of_setups(setups: &[&Setup], found: &[Caution]) -> Vec<Caution> {
    let any = |is: fn(&Setup) -> bool| setups.iter().any(|setup| is(setup));
    let brings = [
        (any(flows_at_rest), &[PETROL, JUMPER][..]),
        (any(|setup| setup.conditions.misfire > MISFIRES), &[MISFIRE]),
        (any(|setup| setup.conditions.linkage_play_m < 0.0), &[THROTTLE]),
        (any(|setup| setup.conditions.throttle > 0.0), &[LOAD]),
    ];
    let brought = brings.into_iter().filter(|(does, _)| *does).flat_map(|(_, list)| list);
    let mut cautions: Vec<Caution> = Vec::new();
    for caution in found.iter().chain(brought).chain(RUNNING) {
        if !cautions.contains(caution) {
            cautions.push(*caution);
        }
    }
    cautions
}

/// For anything that runs the engine.
pub const RUNNING: &[Caution] = &[ENGINE, MODEL];
/// For the pump running on a standing engine.
pub const STANDING: &[Caution] = &[PETROL, JUMPER, ENGINE, MODEL];
/// For lines bled with the pump on the jumper.
pub const BLEEDING: &[Caution] = &[OPENED, RELAY, PLATE_UP, CRANKING, ENGINE, MODEL];
