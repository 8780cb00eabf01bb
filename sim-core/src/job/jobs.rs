//! The one list of jobs: their steps in order.

use super::steps::*;

/// A job.
pub struct Job {
    /// Its word on the command line.
    pub name: &'static str,
    /// What it is for, in a few words.
    pub about: &'static str,
    /// Its steps; those of a repair hang on the part.
    pub steps: &'static [Step],
    /// Whether readings of it are weighed to the cause.
    pub finds_the_cause: bool,
}

/// The job whose steps hang on a part.
pub const REPAIR: &str = "repair";

/// Every job.
pub static JOBS: &[Job] = &[
    Job {
        name: "out-of-storage",
        about: "the car has stood for years",
        steps: &[
            FIRST_LOOK,
            IGNITION,
            PLATE,
            THROTTLE,
            PRESSURE,
            FILL,
            MARK,
            FLOW_START,
            CLOSE,
            FIRST_START,
            WARM,
            EDGES,
            AIM,
            VOLTAGE_AFTER_AIM,
            RELEARN,
        ],
        finds_the_cause: false,
    },
    Job {
        name: "fuel-side-opened",
        about: "a line, filter, pump or the distributor was off",
        steps: &[PLATE, PRESSURE, FILL, RESIDUAL, CLOSE, FIRST_START, WARM, AT_IDLE, ROAD],
        finds_the_cause: false,
    },
    Job {
        name: REPAIR,
        about: "a part was renewed: repair PART says what must be redone",
        steps: &[],
        finds_the_cause: false,
    },
    Job {
        name: "rough-idle",
        about: "the warm idle is rough",
        steps: &[
            WARM,
            AT_IDLE,
            SPARKS,
            VACUUM,
            GAS,
            OPEN_LOOP,
            FAST_IDLE,
            PRESSURES,
            MARK,
            EDGES,
            AIM,
            VOLTAGE_AFTER_AIM,
        ],
        finds_the_cause: true,
    },
    Job {
        name: "hard-start-cold",
        about: "it starts badly after a night",
        steps: &[
            COLD_SENSOR,
            COLD_START,
            IGNITION,
            PLATE,
            PRESSURE,
            FILL,
            RESIDUAL,
            INJECTORS,
            CLOSE,
            FIRST_START,
            WARM,
            AT_IDLE,
        ],
        finds_the_cause: true,
    },
    Job {
        name: "hard-start-hot",
        about: "it starts badly after a hot stand",
        steps: &[HOT_START, PRESSURES, RESIDUAL, DELIVERY, INJECTORS, WARM, AT_IDLE, GAS],
        finds_the_cause: true,
    },
    Job {
        name: "yearly-check",
        about: "read and written down once a year, nothing moved",
        steps: &[
            PLATE, THROTTLE, WARM, AT_IDLE, VACUUM, SPARKS, GAS, FAST_IDLE, PRESSURES, RESIDUAL,
        ],
        finds_the_cause: true,
    },
];

impl Job {
    /// The job of a word; underscores and spaces count as hyphens.
    pub fn find(name: &str) -> Option<&'static Job> {
        let name = name.trim().to_lowercase().replace(['_', ' '], "-");
        JOBS.iter().find(|job| job.name == name)
    }

    /// Whether its steps hang on a part.
    pub fn is_of_a_part(&self) -> bool {
        self.name == REPAIR
    }
}

/// The first step that comes before what it waits for, and what that is. Of a screw that is
/// turned, ignition, leaks, pressure and the mark are waited for whatever the step says.
pub fn too_early(steps: &[Step]) -> Option<(&'static str, Gate)> {
    let mut done: Vec<Gate> = Vec::new();
    for step in steps {
        let screw: &[Gate] = if step.turns_the_screw { &BEFORE_THE_SCREW } else { &[] };
        if let Some(gate) = step.needs.iter().chain(screw).find(|gate| !done.contains(gate)) {
            return Some((step.title, *gate));
        }
        done.extend(step.gives);
    }
    None
}
