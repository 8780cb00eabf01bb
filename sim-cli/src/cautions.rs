//! Cautions: THE list. What stands under answers and on sheets, and what `cautions` tells in
//! full, job by job.
//!
//! Each has a form of one line and a long one. [`PETROL`], [`JUMPER`], [`ENGINE`] and [`MODEL`]
//! say under an answer what [`IN_FULL`] says in the README, on sheets and in `cautions`.

use serde::{Serialize, Serializer};
use sim_core::rig::keys::Setup;
use sim_core::run::start::flows_at_rest;
use std::fmt::{self, Display};

/// One thing that hurts people.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Caution {
    /// In one line.
    pub short: &'static str,
    /// In full.
    pub long: &'static str,
}

const fn caution(short: &'static str, long: &'static str) -> Caution {
    Caution { short, long }
}

/// As it stands in answers: the long form.
impl Display for Caution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.long)
    }
}

impl Serialize for Caution {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

/// Numbers are a model's.
pub const MODEL: Caution = caution(
    "Invented parts: vehicle maker's data, local codes, licensed practice first.",
    "Numbers of a model of invented parts, measured on no engine: the vehicle maker's data, local codes and licensed practice come first.",
);
/// Petrol under pressure.
pub const PETROL: Caution = caution(
    "Petrol under pressure: relieve it; eye protection, no flame, extinguisher.",
    "Petrol under pressure: relieve it before a line is opened, wear eye protection, no flame or spark near, extinguisher at hand.",
);
/// A running engine.
pub const ENGINE: Caution = caution(
    "Running engine: hands and tools clear, hot parts, exhaust gas led outside.",
    "Running engine: moving and hot parts; the tool out of the screw before a blip; exhaust gas kills in closed rooms, lead it outside.",
);

/// The pump jumpered.
pub const JUMPER: Caution = caution(
    "Pump on the jumper: ignition off, lines in glasses; jumper off before a drive.",
    "Looking for flow start lets fuel run: ignition off, lines opened into glasses, pump on a fused and switched jumper that comes off before the car is driven.",
);

/// A start.
pub const CRANKING: Caution = caution(
    "Starting: gear out, brake on, clear of fan and intake, short tries with rests.",
    "Starting: gear out, brake on, hands and cloths clear of fan and belts. Face and hands away from the intake: it can spit back. Short tries with rests between, or the starter burns out. A flooded engine is left to dry before the next try.",
);

/// A drive.
pub const ROAD: Caution = caution(
    "On the road: jumper off, tools out, battery earth last on; a helper writes.",
    "On the road: jumper off, tools out, brakes tried; a helper writes the meters, the driver drives. Battery off: ignition off, earth lead first off and last on, radio code and clock at hand.",
);

/// For drives.
pub const DRIVING: &[Caution] = &[ROAD, ENGINE, MODEL];
/// For a start.
pub const STARTING: &[Caution] = &[CRANKING, PETROL, ENGINE, MODEL];
/// Fuel lines opened, the pump running.
pub const OPENED: Caution = caution(
    "Opened lines: pressure relieved, eye protection, gloves, no flame, cans.",
    "Opened fuel lines: relieve the pressure first, a rag over the union. Eye protection and gloves on. No flame, spark, hot lamp or smoking near, fire extinguisher at hand. Doors open: petrol vapour is heavier than air and collects in pits. Catch the fuel in closed cans, put rags outdoors.",
);
/// The pump on the jumper, for bleeding.
pub const RELAY: Caution = caution(
    "Jumper in the relay's socket: fused, switched, out before the car is driven.",
    "Pump on the jumper (relay socket, terminals 30 and 87 of DIN 72552): ignition off, jumper fused and switched. Put it in and take it out with its switch off and no petrol about. It is removed before the car is driven: with it in, the pump runs on in a crash.",
);
/// A plate held up with the pump on.
pub const PLATE_UP: Caution = caution(
    "Plate up only with every line in its glass; let go, see every line stop.",
    "Lift the plate only with every line opened into its glass: on their injectors they fill a standing engine. Let the plate go, and see every line stop before one is closed.",
);

/// Cycles that do not burn.
pub const MISFIRE: Caution = caution(
    "Misfire: petrol burns in the hot catalyst, no long runs; ignition leads kill.",
    "Misfire: a cylinder that does not fire still gets petrol, and it burns in the hot catalyst. No long runs, nothing that burns under the car. Ignition leads kill: switch off before one is touched.",
);

/// Share of cycles lost from which the caution about misfires stands: our own.
pub const MISFIRES: f64 = 0.01;

/// A throttle that does not close.
pub const THROTTLE: Caution = caution(
    "A throttle that does not close: the car is not driven until it does.",
    "A throttle that does not close: the car is not driven until it does, and the linkage is looked at with the engine off.",
);

/// An engine under load.
pub const LOAD: Caution = caution(
    "Load only on a brake stand or on the road, never by hand or by a held brake.",
    "Load is put on by a brake stand or on the road, never by hand or by a held brake. On a stand: the car strapped, nobody before or behind it, tyres looked at, exhaust drawn off. On the road the driver drives and a helper writes.",
);

/// Petrol, handled.
pub const FUEL_HANDLED: Caution = caution(
    "Petrol: relieve the pressure first; gloves, eye protection, no flame, extinguisher at hand.",
    "Petrol under pressure: relieve the pressure before a line is opened, wear gloves and eye protection, no flame, spark or hot lamp near, fire extinguisher at hand, catch and dispose of fuel properly.",
);
/// Fuel that runs with the plate at rest.
pub const FUEL_AT_REST: Caution = caution(
    "Jumpered pump, open slits: ignition off, lines in glasses, or petrol fills the engine.",
    "A jumpered pump: fused and switched jumper, removed before the car is driven. Looking for flow start opens the slits at rest: only with the ignition off and the lines opened into glasses, since fuel would otherwise fill a standing engine. If it has: do not crank, plugs out, let it dry, look for petrol in the oil.",
);
/// Near a running engine.
pub const NEAR_ENGINE: Caution = caution(
    "Running engine: hair, sleeves, tools away from belts and fans; hot parts burn; block the wheels.",
    "A running engine: hair, sleeves and tools away from belts and fans, the tool out of the mixture screw before a blip; hot parts burn; block the wheels; face and hands away from the intake, it can spit back.",
);
/// Exhaust gas.
pub const EXHAUST: Caution = caution(
    "Exhaust gas kills in closed rooms: lead it outside.",
    "Exhaust gas kills in closed rooms: lead it outside.",
);
/// The battery.
pub const BATTERY: Caution = caution(
    "Battery: ignition off, negative pole first off and last on, no sparks while it charges.",
    "The battery: switch the ignition off first, negative pole first off and last on, no sparks near a charging battery; mind radio codes and alarms.",
);
/// Whose numbers count.
pub const INVENTED: Caution = caution(
    "Numbers of a model: the vehicle maker's data, local codes, licensed practice come first.",
    "The numbers are those of a model of invented parts. The vehicle maker's data, local codes and licensed practice come first.",
);

/// Hot parts.
pub const HOT: Caution = caution(
    "Hot parts: exhaust, catalyst and coolant burn long after the engine stops; let it cool.",
    "Hot parts: exhaust, catalyst and lambda sensor burn skin long after the engine has stopped. Open the cooling system only when it is cold: hot, it spits. No fuel, rag or hose on hot parts. Let the engine cool before you work near them.",
);
/// A car that has stood.
pub const STOOD: Caution = caution(
    "Stood for years: old petrol out, look for leaks and soft hoses before the pump first runs.",
    "A car that has stood for years: drain the old petrol into closed cans, away from any flame. Look for leaks at every hose, every union and the tank before the pump first runs, the extinguisher in reach. Turn the engine by hand once before the starter does. Look at oil, brakes and tyres before it moves.",
);
/// A tester in the exhaust.
pub const TESTER: Caution = caution(
    "Gas tester: exhaust led outside all the same, probe and pipe are hot, never lie behind the car.",
    "Gas tester: lead the exhaust outside all the same, CO has no smell. Probe and pipe are hot. Brake on, wheels blocked, nobody lies behind the car. Windows of the workshop open, CO alarm on.",
);

/// The cautions in full, as they stand in the README and on sheets.
pub const IN_FULL: [Caution; 6] =
    [FUEL_HANDLED, FUEL_AT_REST, NEAR_ENGINE, EXHAUST, BATTERY, INVENTED];

/// A job, or a thing that hurts, with its cautions.
pub struct Job {
    /// Its word on the command line.
    pub name: &'static str,
    /// What it is, in a few words.
    pub about: &'static str,
    /// Its cautions, the most important first; [`INVENTED`] stands with all of them.
    pub cautions: &'static [Caution],
}

const fn job(name: &'static str, about: &'static str, cautions: &'static [Caution]) -> Job {
    Job { name, about, cautions }
}

/// Every job: first the things that hurt, then the jobs of a workshop.
pub static JOBS: &[Job] = &[
    job("petrol", "petrol under pressure, lines opened", &[FUEL_HANDLED, OPENED]),
    job(
        "fuel-at-rest",
        "fuel that runs with the plate at rest",
        &[FUEL_AT_REST, PLATE_UP, FUEL_HANDLED],
    ),
    job("jumper", "the pump on a jumper", &[RELAY, FUEL_AT_REST]),
    job("running-engine", "near a running engine", &[NEAR_ENGINE, EXHAUST, HOT]),
    job("exhaust-gas", "exhaust gas, and a tester in it", &[EXHAUST, TESTER, HOT]),
    job("battery", "the battery, on and off", &[BATTERY]),
    job("hot-parts", "what burns skin", &[HOT]),
    job("starting", "cranking and starting", &[CRANKING, NEAR_ENGINE, EXHAUST]),
    job("misfire", "cycles that do not burn", &[MISFIRE, HOT]),
    job("driving", "meters read on the road", &[ROAD, THROTTLE, LOAD]),
    job("load", "an engine under load", &[LOAD, NEAR_ENGINE, EXHAUST, HOT]),
    job(
        "out-of-storage",
        "a car that has stood for years",
        &[STOOD, FUEL_HANDLED, FUEL_AT_REST, RELAY, BATTERY, CRANKING, EXHAUST],
    ),
    job(
        "fuel-opened",
        "the fuel side was opened",
        &[OPENED, FUEL_HANDLED, RELAY, PLATE_UP, FUEL_AT_REST, CRANKING],
    ),
    job(
        "static-setting",
        "the screw set by where fuel just flows",
        &[FUEL_AT_REST, PLATE_UP, OPENED, RELAY],
    ),
    job("warm-setting", "the screw set on the warm engine", &[NEAR_ENGINE, EXHAUST, HOT, MISFIRE]),
    job("rough-idle", "an idle that is rough", &[NEAR_ENGINE, EXHAUST, MISFIRE, HOT]),
    job("hard-start-cold", "hard to start when cold", &[CRANKING, FUEL_HANDLED, EXHAUST, BATTERY]),
    job("hard-start-hot", "hard to start when hot", &[HOT, CRANKING, FUEL_HANDLED, EXHAUST]),
    job("relearn", "learned trims cleared and learned again", &[BATTERY, ROAD]),
    job("yearly", "the yearly look", &[FUEL_HANDLED, NEAR_ENGINE, EXHAUST, HOT, BATTERY, THROTTLE]),
];

impl Job {
    /// The job of a word; underscores count as hyphens, and the names of job sheets do, too.
    pub fn find(name: &str) -> Option<&'static Job> {
        let name = name.trim().to_lowercase().replace(['_', ' '], "-");
        let name = match name.as_str() {
            "fuel-side-opened" => "fuel-opened",
            "yearly-check" => "yearly",
            "repair" => "warm-setting",
            name => name,
        };
        JOBS.iter().find(|job| job.name == name)
    }

    /// Its cautions, the maker's data last.
    pub fn all(&self) -> impl Iterator<Item = Caution> + use<> {
        self.cautions.iter().copied().chain([INVENTED])
    }
}

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
