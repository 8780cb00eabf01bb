//! The one list of checks: what each gives, how long it takes, what is dangerous about it.

use super::sheet::{Slot, Taken};

/// A check.
pub struct Check {
    /// Its name.
    pub name: &'static str,
    /// What is done.
    pub words: &'static str,
    /// How long it takes (min): common practice, no source.
    pub minutes: f64,
    /// What it costs beside its time (min): how much longer another check may take before this
    /// one is chosen for it. Our own, by danger: 0 none, 5 a running engine's leads or hot gas, 15
    /// petrol under pressure.
    pub danger: f64,
    /// Word of caution.
    pub caution: &'static str,
    /// The readings it gives.
    pub gives: &'static [&'static str],
    /// In which state.
    pub taken: Taken,
    /// Whether the screw is moved for it.
    pub moves_the_screw: bool,
}

const fn check(
    name: &'static str,
    words: &'static str,
    (minutes, danger): (f64, f64),
    caution: &'static str,
    gives: &'static [&'static str],
    taken: Taken,
) -> Check {
    Check { name, words, minutes, danger, caution, gives, taken, moves_the_screw: false }
}

const ENGINE: &str = "Running engine: hands and tools clear, exhaust gas led outside.";
const PETROL: &str =
    "Petrol under pressure: relieve it first; eye protection, no flame, extinguisher at hand.";
const GLASSES: &str =
    "Petrol: ignition off, every line in its glass, pump on a fused and switched jumper; no flame.";
const SPARK: &str = "Ignition leads kill: spark off with a switched tester only; no long runs, the catalyst gets hot.";
const OFF: &str = "Ignition off before a plug is pulled.";

/// Every check. The first is what is read before anything else.
pub static CHECKS: &[Check] = &[
    check(
        "idle",
        "read the warm idle as it stands",
        (3.0, 0.0),
        ENGINE,
        &[
            "duty_percent",
            "potentiometer_v",
            "sensor_v",
            "speed_rpm",
            "idle_valve_percent",
            "swing_s",
        ],
        Taken::IDLE,
    ),
    check(
        "vacuum",
        "put a vacuum gauge on the manifold",
        (3.0, 0.0),
        ENGINE,
        &["vacuum_bar"],
        Taken::IDLE,
    ),
    check(
        "gas",
        "read the four gases before the catalyst",
        (5.0, 2.0),
        ENGINE,
        &["co_percent", "co2_percent", "o2_percent", "hc_ppm"],
        Taken::IDLE,
    ),
    check(
        "unplugged",
        "pull the plug of the lambda sensor and read again",
        (4.0, 2.0),
        ENGINE,
        &["co_percent", "o2_percent", "sensor_v", "actuator_ma", "potentiometer_v"],
        Taken::UNPLUGGED,
    ),
    check(
        "fast-idle",
        "hold 2500 rpm and read",
        (2.0, 2.0),
        ENGINE,
        &["duty_percent", "potentiometer_v", "sensor_v", "co_percent"],
        Taken::FAST,
    ),
    check(
        "sparks",
        "switch off one cylinder's spark after the other",
        (8.0, 5.0),
        SPARK,
        &["drop_N_rpm"],
        Taken::IDLE,
    ),
    check(
        "coolant-sensor",
        "measure the coolant sensor's resistance, warm",
        (3.0, 0.0),
        OFF,
        &["coolant_ohm"],
        Taken::IDLE,
    ),
    check(
        "idle-contact",
        "measure the idle contact, throttle closed",
        (3.0, 0.0),
        OFF,
        &["idle_contact_ohm"],
        Taken::IDLE,
    ),
    check(
        "pressures",
        "put the gauge between distributor and regulator: system and lower chamber",
        (15.0, 15.0),
        PETROL,
        &["system_bar", "lower_chamber_bar"],
        Taken::IDLE,
    ),
    check(
        "residual",
        "leave the gauge on for 30 min after the stop",
        (31.0, 5.0),
        PETROL,
        &["residual_bar"],
        Taken::IDLE,
    ),
    check(
        "delivery",
        "measure the return in a can, pump on the jumper, and the pressure before the filter",
        (15.0, 15.0),
        PETROL,
        &["return_ml_min", "before_filter_bar"],
        Taken::IDLE,
    ),
    check(
        "glasses",
        "lines into glasses, pump on the jumper, plate up for a minute; then the screw to flow start and back",
        (30.0, 15.0),
        GLASSES,
        &["line_N_ml"],
        Taken::IDLE,
    ),
    Check {
        moves_the_screw: true,
        ..check(
            "flow-start",
            "lines in glasses, engine standing: count the turns in to where fuel just shows, and back",
            (20.0, 15.0),
            GLASSES,
            &["flow_start_turns"],
            Taken::IDLE,
        )
    },
    check(
        "injectors",
        "injectors on the tester: where each opens",
        (40.0, 15.0),
        PETROL,
        &["injector_N_bar"],
        Taken::IDLE,
    ),
    Check {
        moves_the_screw: true,
        ..check(
            "turn",
            "turn the screw in by a sixteenth, counted, read, and back",
            (5.0, 2.0),
            ENGINE,
            &["duty_percent", "potentiometer_v"],
            Taken::TURNED,
        )
    },
];

/// What must have been read before the screw is moved: ignition, leaks, pressure.
pub static BEFORE_THE_SCREW: &[(&str, &[&str])] = &[
    ("ignition", &["drop_N_rpm"]),
    ("leaks", &["vacuum_bar", "manifold_bar"]),
    ("pressure", &["system_bar"]),
];

/// Time that a check takes with what its danger counts (min).
pub fn cost(check: &Check) -> f64 {
    check.minutes + check.danger
}

/// Slots of names in a state, each line for itself.
fn slots_of(names: &[&str], taken: Taken, lines: usize, sheet: &mut Vec<Slot>) {
    for name in names {
        let count = if name.contains('N') { lines } else { 1 };
        for line in 0..count {
            let slot = Slot::of(&name.replace('N', &(line + 1).to_string()), taken);
            sheet.extend(slot);
        }
    }
}

/// The sheet that a trial reads, group by group: each group is what one check gives.
pub fn groups(lines: usize) -> Vec<Vec<Slot>> {
    CHECKS
        .iter()
        .map(|check| {
            let mut sheet = Vec::new();
            slots_of(check.gives, check.taken, lines, &mut sheet);
            sheet
        })
        .collect()
}
