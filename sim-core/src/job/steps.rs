//! The steps that jobs are made of: what is done, with what, what may hurt, what is read, and
//! what to do if it is off. Common practice, no source.

use crate::diagnose::sheet::Taken;

/// What a step leaves done, and what others wait for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Gate {
    /// Ignition has been looked at or read.
    Ignition,
    /// Air leaks have been looked for.
    Leaks,
    /// System pressure has been read.
    Pressure,
    /// Every line is in its glass, the pump on the jumper.
    Glasses,
    /// Lines on their injectors, jumper out.
    Closed,
    /// The engine runs and is warm.
    Warm,
    /// Where the screw was found is marked and written down.
    Marked,
    /// The mixture is set.
    Set,
    /// The voltage is set.
    Voltage,
}

/// What the screw must wait for.
pub const BEFORE_THE_SCREW: [Gate; 4] = [Gate::Ignition, Gate::Leaks, Gate::Pressure, Gate::Marked];

/// A step.
#[derive(Clone, Copy)]
pub struct Step {
    /// Its title.
    pub title: &'static str,
    /// What is done.
    pub what: &'static str,
    /// With what.
    pub tool: &'static str,
    /// What may hurt in it.
    pub caution: &'static str,
    /// What is read, and in which state.
    pub reads: &'static [(&'static str, Taken)],
    /// What to do if it is not as it should be.
    pub if_not: &'static str,
    /// What must have been done before.
    pub needs: &'static [Gate],
    /// What is done by it.
    pub gives: &'static [Gate],
    /// Whether the screw is turned.
    pub turns_the_screw: bool,
}

/// A step that reads nothing, waits for nothing and leaves nothing.
pub const PLAIN: Step = Step {
    title: "",
    what: "",
    tool: "",
    caution: "",
    reads: &[],
    if_not: "",
    needs: &[],
    gives: &[],
    turns_the_screw: false,
};

const IDLE: Taken = Taken::IDLE;
const UNPLUGGED: Taken = Taken::UNPLUGGED;
const FAST: Taken = Taken::FAST;
const ENGINE: &str = "Hands and tools clear; exhaust led outside.";
const PETROL: &str = "Petrol under pressure: relieve it; eyes, gloves, no flame.";
const GLASSES: &str = "Ignition off, lines in glasses, fused jumper.";
const LEADS: &str = "Ignition leads kill: off before one is touched.";

/// A car that has stood, before anything else.
pub const FIRST_LOOK: Step = Step {
    title: "First look",
    what: "Old petrol out, new filter in. Oil, coolant, brakes, tyres. Turn the engine by hand.",
    tool: "cans, ring spanner, lamp",
    caution: "Earth lead off. Old petrol into cans, no flame.",
    if_not: "It does not turn: stop, oil into the bores. Soft hose: renew it.",
    ..PLAIN
};
/// Ignition of a standing engine.
pub const IGNITION: Step = Step {
    title: "Ignition",
    what: "Plugs, leads, cap, rotor looked at. A spark at each lead on a tester.",
    tool: "plug spanner, spark tester, ohmmeter",
    caution: LEADS,
    if_not: "No spark at one lead: lead, cap, plug. At none: coil, pick-up, fuse.",
    gives: &[Gate::Ignition],
    ..PLAIN
};
/// Leaks of a standing engine, and the plate.
pub const PLATE: Step = Step {
    title: "Air leaks and plate",
    what: "Hoses, oil cap, dipstick, seals. The plate moves freely; feel its play to the plunger.",
    tool: "lamp, calliper, magnet",
    caution: "Pump off. Nothing may fall into the intake.",
    reads: &[("play_mm", IDLE)],
    if_not: "Plate rubs: centre it. Play off: the plate's stop before any screw.",
    gives: &[Gate::Leaks],
    ..PLAIN
};
/// The throttle.
pub const THROTTLE: Step = Step {
    title: "Throttle",
    what: "It falls shut by itself and keeps its free play; the idle contact closes.",
    tool: "feeler gauge, ohmmeter",
    caution: "A throttle that stays open: the car is not driven.",
    reads: &[("idle_contact_ohm", IDLE)],
    if_not: "It hangs: linkage, cable, coked bore. Contact open: adjust or renew.",
    ..PLAIN
};
/// Pressure of a standing engine.
pub const PRESSURE: Step = Step {
    title: "System pressure",
    what: "Gauge at the distributor, lines in glasses, pump on the jumper, plate at rest. Every union looked at.",
    tool: "gauge, glasses, can, jumper",
    caution: GLASSES,
    reads: &[("jumper_bar", IDLE), ("return_ml_min", IDLE)],
    if_not: "A drip: jumper off. Low with little return: filter, pump, volts at the pump.",
    gives: &[Gate::Pressure, Gate::Glasses],
    ..PLAIN
};
/// The lines filled.
pub const FILL: Step = Step {
    title: "Fill the lines",
    what: "Plate up by 8 mm until each line flows; then a minute into glasses.",
    tool: "glasses, watch",
    caution: "Plate up only with all lines in glasses; let go, all stop.",
    reads: &[("line_flows_s", IDLE), ("line_N_ml", IDLE)],
    if_not: "One line little: change it round; it stays with the line or with the slit.",
    needs: &[Gate::Glasses, Gate::Pressure],
    ..PLAIN
};
/// Pressure kept.
pub const RESIDUAL: Step = Step {
    title: "Pressure kept",
    what: "Pump off, plate at rest. Read the gauge after 30 min.",
    tool: "gauge, watch",
    caution: PETROL,
    reads: &[("residual_bar", IDLE)],
    if_not: "Pinch the hoses one by one: what holds it then is behind the pinch.",
    needs: &[Gate::Pressure],
    ..PLAIN
};
/// Where the screw was found.
pub const MARK: Step = Step {
    title: "Screw as found",
    what: "Mark screw and body: found is 0. Each turn goes into the record below; its sum back is the way back.",
    tool: "screw key, scriber",
    caution: "Tool out of the screw before start and blip.",
    if_not: "The cap was broken before: someone turned it; found is still 0.",
    gives: &[Gate::Marked],
    ..PLAIN
};
/// The static setting.
pub const FLOW_START: Step = Step {
    title: "Static setting",
    what: "Plate at rest, pump on the jumper: in until one line just shows fuel, counted. Then 1/4 turn back.",
    tool: "screw key, lamp",
    caution: "Slits open at rest: only into glasses, never on injectors.",
    reads: &[("flow_start_turns", IDLE)],
    if_not: "Far off: play and stop of the plate again, then this.",
    needs: &[Gate::Ignition, Gate::Leaks, Gate::Pressure, Gate::Marked, Gate::Glasses],
    turns_the_screw: true,
    ..PLAIN
};
/// The fuel side closed.
pub const CLOSE: Step = Step {
    title: "Lines on",
    what: "All lines stopped. Lines on their injectors, jumper out, relay in, unions dry.",
    tool: "two spanners, rag",
    caution: "Jumper out: with it in, the pump runs on in a crash.",
    if_not: "Fuel ran into the engine: do not crank, plugs out, oil looked at.",
    needs: &[Gate::Glasses],
    gives: &[Gate::Closed],
    ..PLAIN
};
/// The start of a cold engine.
pub const COLD_START: Step = Step {
    title: "Cold start",
    what: "A helper at the key, eyes on the unions. Starter 10 s at most, half a minute of rest.",
    tool: "watch, extinguisher",
    caution: "Gear out, brake on, face off the intake. Drip: off.",
    reads: &[("cranking_s", IDLE), ("caught_s", IDLE)],
    if_not: "No fire: spark, pressure, start valve. Flooded: plugs out, let it dry.",
    ..PLAIN
};
/// The same after the fuel side was closed.
pub const FIRST_START: Step = Step { needs: &[Gate::Closed], ..COLD_START };
/// The start of a hot engine.
pub const HOT_START: Step = Step {
    title: "Hot start",
    what: "Driven hot, bonnet shut, stood 30 min. Crank and count.",
    tool: "watch",
    caution: "Gear out, brake on; hot parts.",
    reads: &[("hot_cranking_s", IDLE)],
    if_not: "Long: residual pressure, then injectors that drip, then the start valve.",
    ..PLAIN
};
/// The engine made warm.
pub const WARM: Step = Step {
    title: "Warm up",
    what: "Until the coolant temperature stays. Consumers off. Coolant sensor measured, ignition off.",
    tool: "thermometer, ohmmeter",
    caution: "Hot coolant spits: cap on. Exhaust led outside.",
    reads: &[("coolant_ohm", IDLE)],
    if_not: "Ohms off: sensor or its plug. Never warm: thermostat.",
    gives: &[Gate::Warm],
    ..PLAIN
};
/// The idle read.
pub const AT_IDLE: Step = Step {
    title: "Idle as it stands",
    what: "Read before anything is moved, each a mean over 20 s.",
    tool: "voltmeter, dwell meter, rev counter",
    caution: ENGINE,
    reads: &[
        ("speed_rpm", IDLE),
        ("duty_percent", IDLE),
        ("potentiometer_v", IDLE),
        ("sensor_v", IDLE),
    ],
    if_not: "Duty at an end: too lean or rich for the trim; find why, no screw yet.",
    needs: &[Gate::Warm],
    ..PLAIN
};
/// The vacuum.
pub const VACUUM: Step = Step {
    title: "Vacuum, leaks",
    what: "Gauge on the manifold. Brake cleaner is no leak tester: use smoke or soapy water.",
    tool: "vacuum gauge, smoke",
    caution: "No spray near hot parts: it burns.",
    reads: &[("vacuum_bar", IDLE), ("idle_valve_percent", IDLE)],
    if_not: "Low: pinch the hoses one by one, then injector seals.",
    needs: &[Gate::Warm],
    gives: &[Gate::Leaks],
    ..PLAIN
};
/// Each cylinder's share.
pub const SPARKS: Step = Step {
    title: "Each cylinder",
    what: "One spark off after the other, idle valve held, 5 s each; write the fall of speed.",
    tool: "switched spark tester, rev counter",
    caution: "Leads kill: switched tester only. No long runs.",
    reads: &[("drop_N_rpm", IDLE)],
    if_not: "One falls less: plug, lead, then its line and injector.",
    needs: &[Gate::Warm],
    gives: &[Gate::Ignition],
    ..PLAIN
};
/// The four gases.
pub const GAS: Step = Step {
    title: "Gases",
    what: "Before the catalyst, probe tight, sensor plugged in.",
    tool: "gas tester",
    caution: "Exhaust led outside all the same; pipe and probe are hot.",
    reads: &[("co_percent", IDLE), ("co2_percent", IDLE), ("o2_percent", IDLE), ("hc_ppm", IDLE)],
    if_not: "O2 with CO: leak of the exhaust or a miss. HC alone: a miss.",
    needs: &[Gate::Warm],
    ..PLAIN
};
/// The lambda sensor unplugged.
pub const OPEN_LOOP: Step = Step {
    title: "Sensor unplugged",
    what: "Pull the plug of the lambda sensor, wait a minute, read, plug in.",
    tool: "gas tester, milliammeter",
    caution: "The sensor is hot; its lead away from exhaust and fan.",
    reads: &[("co_percent", UNPLUGGED), ("actuator_ma", UNPLUGGED), ("sensor_v", UNPLUGGED)],
    if_not: "CO off and duty off the same way: mixture. CO right, duty off: sensor.",
    needs: &[Gate::Warm],
    ..PLAIN
};
/// 2500 rpm.
pub const FAST_IDLE: Step = Step {
    title: "2500 rpm",
    what: "Held by the pedal, no load, each a mean over 20 s.",
    tool: "voltmeter, dwell meter",
    caution: ENGINE,
    reads: &[("duty_percent", FAST), ("potentiometer_v", FAST)],
    if_not: "Right here and off at idle: leak. Off more here: pressure, slits, plate.",
    needs: &[Gate::Warm],
    ..PLAIN
};
/// Pressures of the running engine.
pub const PRESSURES: Step = Step {
    title: "Pressures, running",
    what: "Gauge between distributor and regulator: system, then lower chamber.",
    tool: "gauge 0 to 10 bar, valve",
    caution: PETROL,
    reads: &[("system_bar", IDLE), ("lower_chamber_bar", IDLE)],
    if_not: "System off: regulator, filter, pump. Chamber alone off: actuator.",
    gives: &[Gate::Pressure],
    ..PLAIN
};
/// Pump and filter.
pub const DELIVERY: Step = Step {
    title: "Delivery",
    what: "Return into a can for a minute, pump on the jumper; pressure before the filter.",
    tool: "can, gauge, jumper",
    caution: GLASSES,
    reads: &[("return_ml_min", IDLE), ("before_filter_bar", IDLE)],
    if_not: "High before the filter: filter. Low there, too: pump, its volts, sieve.",
    ..PLAIN
};
/// Injectors on the tester.
pub const INJECTORS: Step = Step {
    title: "Injectors",
    what: "On the tester: where each opens; just below that none drips in 30 s.",
    tool: "injector tester",
    caution: "Spray mist burns and enters skin: shield, eyes, gloves.",
    reads: &[("injector_N_bar", IDLE)],
    if_not: "Drips or opens early: renew. Opens late or sprays a jet: clean, renew.",
    ..PLAIN
};
/// The coolant sensor, cold.
pub const COLD_SENSOR: Step = Step {
    title: "Coolant sensor, cold",
    what: "Engine at the outside temperature: ohms at the sensor, then at the controller's plug.",
    tool: "ohmmeter, thermometer",
    caution: "Ignition off before a plug is pulled.",
    reads: &[("cold_ohm", IDLE)],
    if_not: "Off at the plug alone: wiring. At both: sensor.",
    ..PLAIN
};
/// The two edges.
pub const EDGES: Step = Step {
    title: "Two edges",
    what: "Sensor unplugged. Out by 1/32, blip, wait, until rough; in until rough; both counted.",
    tool: "screw key",
    caution: "Tool out before a blip. No long runs: catalyst.",
    reads: &[("lean_edge_turns", IDLE), ("rich_edge_turns", IDLE)],
    if_not: "Narrow or none: misfire or leak; back to found, and look again.",
    needs: &[Gate::Ignition, Gate::Leaks, Gate::Pressure, Gate::Marked, Gate::Warm],
    turns_the_screw: true,
    ..PLAIN
};
/// The aim.
pub const AIM: Step = Step {
    title: "Middle, a little leaner",
    what: "To the middle, a fifth of the width leaner. Sensor in: steps of 1/64 until the duty is centred; wait, blip, wait.",
    tool: "screw key, dwell meter",
    caution: "Tool out before a blip. Hands clear of belts and fan.",
    reads: &[("duty_percent", IDLE), ("co_percent", UNPLUGGED), ("vacuum_bar", IDLE)],
    if_not: "Centred but rough: not the mixture. Back to found, step \"each cylinder\".",
    needs: &[Gate::Ignition, Gate::Leaks, Gate::Pressure, Gate::Marked, Gate::Warm],
    gives: &[Gate::Set],
    turns_the_screw: true,
};
/// The voltage.
pub const VOLTAGE: Step = Step {
    title: "Voltage",
    what: "Turn the potentiometer's housing until the idle shows it; tighten, read again.",
    tool: "voltmeter, screwdriver",
    caution: ENGINE,
    reads: &[("potentiometer_v", IDLE)],
    if_not: "It jumps: track worn. Not in reach: plate height.",
    needs: &[Gate::Warm],
    gives: &[Gate::Voltage],
    ..PLAIN
};
/// The same after the mixture is set.
pub const VOLTAGE_AFTER_AIM: Step = Step { needs: &[Gate::Warm, Gate::Set], ..VOLTAGE };
/// Forget and relearn.
pub const RELEARN: Step = Step {
    title: "Forget and relearn",
    what: "Battery off for a minute. Then drives of 20 min, each from a start; read again at the end.",
    tool: "spanner, notebook",
    caution: "Earth off first, on last. A helper writes.",
    reads: &[("learned_starts", IDLE), ("duty_percent", IDLE)],
    if_not: "Duty wanders off: leak or pressure, not the screw.",
    needs: &[Gate::Voltage],
    ..PLAIN
};
/// The duty after a drive.
pub const ROAD: Step = Step {
    title: "After a drive",
    what: "Drive 20 min, idle warm, read again.",
    tool: "dwell meter, voltmeter",
    caution: "Tools out, no drip, no smell of petrol; a helper writes.",
    reads: &[("duty_percent", IDLE), ("potentiometer_v", IDLE)],
    if_not: "Duty off: back to the first reading that was off.",
    needs: &[Gate::Warm],
    ..PLAIN
};
