//! Cautions: the short form under tables, the long form in README and on sheets.

/// One thing that hurts people.
pub struct Caution {
    /// The short form.
    pub short: &'static str,
}

/// Numbers are a model's.
pub const MODEL: Caution = Caution {
    short: "Numbers of a model of invented parts, measured on no engine: the vehicle maker's data, local codes and licensed practice come first.",
};
/// Petrol under pressure.
pub const PETROL: Caution = Caution {
    short: "Petrol under pressure: relieve it before a line is opened, wear eye protection, no flame or spark near, extinguisher at hand.",
};
/// A running engine.
pub const ENGINE: Caution = Caution {
    short: "Running engine: moving and hot parts; exhaust gas kills in closed rooms, lead it outside.",
};

/// The pump jumpered.
pub const JUMPER: Caution = Caution {
    short: "Looking for flow start lets fuel run: ignition off, lines opened into glasses, pump on a fused and switched jumper that comes off before the car is driven.",
};

/// A start.
pub const CRANKING: Caution = Caution {
    short: "Starting: gear out, brake on, hands and cloths clear of fan and belts; a flooded engine is left to dry before the next try.",
};

/// For a start.
pub const STARTING: &[Caution] = &[CRANKING, PETROL, ENGINE, MODEL];
/// For anything that runs the engine.
pub const RUNNING: &[Caution] = &[ENGINE, MODEL];
/// For the pump running on a standing engine.
pub const STANDING: &[Caution] = &[PETROL, JUMPER, ENGINE, MODEL];
