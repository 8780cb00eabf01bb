//! The one list of causes: what can be wrong, and what it changes by how much.

use crate::conditions::{Conditions, Petrol};
use crate::rig::keys::Setup;
use crate::rig::{Parts, Rig};
use crate::sense::faults::{
    Altitude, Coolant, ExhaustTemperature, Lambda, SensorFault, ThrottleSwitch,
};

/// A car with what its readings hang on beside the keys.
#[derive(Clone, Copy, Debug)]
pub struct Changed {
    /// Engine and conditions.
    pub setup: Setup,
    /// Fuel that comes into the manifold by another way, share of the idle's.
    pub other_fuel: f64,
    /// Share of its spark that a line's cylinder has lost, and the line.
    pub spark: Option<(usize, f64)>,
    /// How much higher a line's injector opens (Pa), and the line.
    pub injector: Option<(usize, f64)>,
}

/// A cause.
pub struct Cause {
    /// Its name.
    pub name: &'static str,
    /// What is wrong where its strength is above 0.
    pub words: &'static str,
    /// What is wrong where it is below 0; empty if it goes one way only.
    pub other_way: &'static str,
    /// What strength 1 is.
    pub full: &'static str,
    /// Three strengths that a trial draws.
    pub references: [f64; 3],
    /// Whether there is one for each injection line.
    pub each_line: bool,
    /// Whether it has strengths; a contact is closed or open.
    pub graded: bool,
    /// Whether a standing engine shows it: fuel side and plate.
    pub standing: bool,
    /// Whether a rig has the part.
    pub fitted: fn(&Rig) -> bool,
    /// Makes a car worse by a strength, on a line where there is one for each.
    pub apply: fn(&mut Changed, f64, usize),
}

/// Changes of parts by a full strength: our own judgement of what a workshop meets.
mod full {
    /// Potentiometer's housing (m).
    pub const HOUSING_M: f64 = 0.6e-3;
    /// Pit in its track: depth (V), half width (m).
    pub const PIT: (f64, f64) = (0.15, 0.3e-3);
    /// Plate's stop (m).
    pub const REST_M: f64 = 0.6e-3;
    /// Screw (turns).
    pub const SCREW: f64 = 0.125;
    /// Width of all slits, share.
    pub const SLITS: f64 = 0.10;
    /// Width of one slit, share.
    pub const SLIT: f64 = 0.35;
    /// Air after the throttle (kg/s).
    pub const LEAK_KG_S: f64 = 2.5 / 3600.0;
    /// Gap that passes air beside the plate (m).
    pub const BESIDE_M: f64 = 0.06e-3;
    /// Actuator's pressure for each mA, share.
    pub const ACTUATOR: f64 = 0.5;
    /// System pressure (Pa).
    pub const SYSTEM_PA: f64 = 0.6e5;
    /// Share of the pump that is gone.
    pub const PUMP: f64 = 0.8;
    /// Pressure that a filter takes (Pa).
    pub const FILTER_PA: f64 = 40e5;
    /// Opening left in the check valve, against the rig's dirt.
    pub const CHECK: f64 = 2.0;
    /// An injector's opening pressure (Pa).
    pub const INJECTOR_PA: f64 = 1.0e5;
    /// Air into the exhaust, share of the air breathed.
    pub const EXHAUST: f64 = 0.08;
    /// The coolant sensor's resistance, times; its logarithm is graded.
    pub const COOLANT: f64 = 8.0;
    /// Idle air valve's gap, times.
    pub const VALVE: f64 = 2.0;
    /// Throttle linkage (m).
    pub const LINKAGE_M: f64 = 1.4e-3;
    /// Fuel by another way, share of the idle's.
    pub const OTHER_FUEL: f64 = 0.15;
}

fn parts(setup: &mut Setup, change: impl FnOnce(&mut Parts)) {
    // A change that makes no rig leaves it as it was.
    if let Ok(rig) = setup.rig.with_parts_beyond_ranges(change) {
        setup.rig = rig;
    }
}

fn fail(changed: &mut Changed, fault: SensorFault) {
    changed.setup.conditions.fail(fault);
}

const fn one_way(
    name: &'static str,
    words: &'static str,
    full: &'static str,
    apply: fn(&mut Changed, f64, usize),
) -> Cause {
    Cause {
        name,
        words,
        other_way: "",
        full,
        references: [0.4, 0.7, 1.0],
        each_line: false,
        graded: true,
        standing: false,
        fitted: |_| true,
        apply,
    }
}

const fn either_way(
    name: &'static str,
    (words, other_way): (&'static str, &'static str),
    full: &'static str,
    apply: fn(&mut Changed, f64, usize),
) -> Cause {
    Cause { other_way, references: [-0.8, 0.5, 1.0], ..one_way(name, words, full, apply) }
}

const fn yes_or_no(
    name: &'static str,
    words: &'static str,
    apply: fn(&mut Changed, f64, usize),
) -> Cause {
    Cause { graded: false, references: [1.0; 3], ..one_way(name, words, "", apply) }
}

const fn seen_standing(cause: Cause) -> Cause {
    Cause { standing: true, ..cause }
}

const fn for_each_line(cause: Cause) -> Cause {
    Cause { each_line: true, ..cause }
}

fn has_altitude_sensor(rig: &Rig) -> bool {
    rig.parts().controller.altitude_sensor >= 0.5
}

fn has_exhaust_temperature_sensor(rig: &Rig) -> bool {
    rig.parts().controller.exhaust_temperature_sensor >= 0.5
}

/// The name of a sound car among the causes.
pub const NONE: &str = "none";

/// Every cause but none.
pub static CAUSES: &[Cause] = &[
    either_way(
        "potentiometer-shifted",
        ("the potentiometer's housing is turned up", "the potentiometer's housing is turned down"),
        "0.6 mm of plate",
        |c, s, _| c.setup.conditions.housing_shift_m += full::HOUSING_M * s,
    ),
    one_way(
        "potentiometer-worn",
        "the potentiometer's track is worn at the idle",
        "0.15 V lost",
        |c, s, _| {
            let wear = &mut c.setup.conditions.wear;
            (wear.depth_v, wear.width_m, wear.above_idle_m) = (full::PIT.0 * s, full::PIT.1, 0.0);
        },
    ),
    seen_standing(either_way(
        "rest-height",
        ("the plate rests too high", "the plate rests too low"),
        "0.6 mm",
        |c, s, _| c.setup.conditions.rest_height_m += full::REST_M * s,
    )),
    seen_standing(either_way(
        "screw",
        ("the mixture screw stands too far in", "the mixture screw stands too far out"),
        "an eighth of a turn",
        |c, s, _| c.setup.conditions.screw_turns += full::SCREW * s,
    )),
    seen_standing(either_way(
        "plunger",
        ("all slits pass too much", "all slits pass too little"),
        "10 % of their width",
        |c, s, _| {
            parts(&mut c.setup, |p| {
                p.slits.width_m.iter_mut().for_each(|w| *w *= 1.0 + full::SLITS * s);
            });
        },
    )),
    seen_standing(for_each_line(one_way(
        "slit",
        "the slit or line passes too little",
        "35 % less",
        |c, s, line| {
            parts(&mut c.setup, |p| p.slits.width_m[line] *= 1.0 - full::SLIT * s);
        },
    ))),
    seen_standing(for_each_line(Cause {
        standing: false,
        ..either_way(
            "injector",
            ("the injector opens too late: dirty", "the injector opens too early: worn"),
            "1 bar",
            |c, s, line| {
                c.injector = Some((line, full::INJECTOR_PA * s));
                // The model moves the first one; to the sum of the lines it is all the same.
                c.setup.conditions.fuel_side.first_injector_pa += full::INJECTOR_PA * s;
            },
        )
    })),
    for_each_line(one_way("spark", "the cylinder loses sparks", "every spark", |c, s, line| {
        c.spark = Some((line, s));
        c.setup.conditions.misfire += s / c.setup.rig.parts().slits.width_m.len() as f64;
    })),
    one_way("leak-after-throttle", "air gets in after the throttle", "2.5 kg/h", |c, s, _| {
        c.setup.conditions.leak_kg_s += full::LEAK_KG_S * s
    }),
    one_way(
        "leak-before-throttle",
        "air gets in between plate and throttle",
        "as past 0.06 mm of gap around the plate",
        |c, s, _| parts(&mut c.setup, |p| p.plate.rim_clearance_m += full::BESIDE_M * s),
    ),
    one_way(
        "exhaust-leak",
        "air gets into the exhaust before the lambda sensor",
        "8 % of the air breathed",
        |c, s, _| c.setup.conditions.exhaust_leak += full::EXHAUST * s,
    ),
    either_way(
        "actuator",
        (
            "the actuator gives too much pressure for its current",
            "the actuator gives too little pressure for its current",
        ),
        "50 % of its slope",
        |c, s, _| {
            parts(&mut c.setup, |p| p.pressures.actuator_per_amp_pa *= 1.0 + full::ACTUATOR * s);
        },
    ),
    seen_standing(either_way(
        "pressure-regulator",
        ("the system pressure is held too high", "the system pressure is held too low"),
        "0.6 bar",
        |c, s, _| parts(&mut c.setup, |p| p.pressures.system_pa += full::SYSTEM_PA * s),
    )),
    seen_standing(one_way("pump", "the pump is weak", "80 % of its delivery", |c, s, _| {
        c.setup.conditions.fuel_side.pump_share *= 1.0 - full::PUMP * s;
    })),
    seen_standing(one_way(
        "filter",
        "the fuel filter is clogged",
        "40 bar at the free delivery",
        |c, s, _| {
            c.setup.conditions.fuel_side.filter_pa += full::FILTER_PA * s;
        },
    )),
    seen_standing(one_way(
        "check-valve",
        "the pump's check valve leaks",
        "twice the usual dirt",
        |c, s, _| {
            c.setup.conditions.fuel_side.check_valve = crate::fuel::supply::CheckValve::Leaks;
            parts(&mut c.setup, |p| p.supply.check_dirt_m2 *= full::CHECK * s);
        },
    )),
    seen_standing(one_way(
        "accumulator",
        "the accumulator's spring is weak",
        "no spring left",
        |c, s, _| c.setup.conditions.fuel_side.accumulator_share *= 1.0 - s,
    )),
    yes_or_no("lambda-dead", "the lambda sensor gives nothing", |c, _, _| {
        fail(c, SensorFault::Lambda(Lambda::Dead));
    }),
    yes_or_no("lambda-stuck", "the lambda sensor reads lean whatever the gas", |c, _, _| {
        fail(c, SensorFault::Lambda(Lambda::Stuck));
    }),
    yes_or_no("lambda-lazy", "the lambda sensor is slow", |c, _, _| {
        fail(c, SensorFault::Lambda(Lambda::Lazy));
    }),
    yes_or_no(
        "lambda-shifted",
        "the lambda sensor takes every gas for leaner than it is",
        |c, _, _| {
            fail(c, SensorFault::Lambda(Lambda::Shifted));
        },
    ),
    one_way(
        "coolant",
        "the coolant sensor has too much resistance: it reads cold",
        "8 times as much",
        |c, s, _| {
            let conditions: &Conditions = &c.setup.conditions;
            let ohm = c.setup.rig.parts().thermistor.ohm(conditions.coolant_k);
            fail(c, SensorFault::Coolant(Coolant::Ohm(ohm * full::COOLANT.powf(s))));
        },
    ),
    yes_or_no("coolant-short", "the coolant sensor is shorted: it reads hot", |c, _, _| {
        fail(c, SensorFault::Coolant(Coolant::Short));
    }),
    Cause {
        fitted: has_altitude_sensor,
        ..yes_or_no("altitude", "the altitude sensor is stuck high", |c, _, _| {
            fail(c, SensorFault::Altitude(Altitude::Stuck));
        })
    },
    Cause {
        fitted: has_exhaust_temperature_sensor,
        ..yes_or_no(
            "exhaust-temperature",
            "the exhaust-temperature sensor is missing",
            |c, _, _| {
                fail(c, SensorFault::ExhaustTemperature(ExhaustTemperature::Missing));
            },
        )
    },
    yes_or_no("throttle-switch", "the idle contact never closes", |c, _, _| {
        fail(c, SensorFault::ThrottleSwitch(ThrottleSwitch::NoIdle));
    }),
    either_way(
        "idle-air-valve",
        ("the idle air valve passes too much", "the idle air valve passes too little"),
        "twice or half its gap",
        |c, s, _| parts(&mut c.setup, |p| p.idle_valve.gap_m *= full::VALVE.powf(s)),
    ),
    one_way("throttle-held", "the linkage holds the throttle open", "0.4 mm", |c, s, _| {
        c.setup.conditions.linkage_play_m -= full::LINKAGE_M * (0.7 + 0.3 * s);
    }),
    Cause {
        references: [0.4, 1.0, 1.0],
        ..one_way(
            "ethanol",
            "the petrol has ethanol in it",
            "10 %, half of it below 0.75",
            |c, s, _| {
                c.setup.conditions.petrol = if s < 0.75 { Petrol::E5 } else { Petrol::E10 };
            },
        )
    },
    one_way(
        "other-fuel",
        "fuel comes in by another way: purge, or fuel in the oil",
        "15 % of the idle's",
        |c, s, _| c.other_fuel += full::OTHER_FUEL * s,
    ),
];

/// A cause on a car: of those that are there for each line, on one of them.
#[derive(Clone, Copy)]
pub struct Named {
    /// The cause.
    pub cause: &'static Cause,
    /// Its line, from 0.
    pub line: Option<usize>,
}

impl Named {
    /// Its name: "spark-3".
    pub fn name(&self) -> String {
        match self.line {
            Some(line) => format!("{}-{}", self.cause.name, line + 1),
            None => self.cause.name.to_string(),
        }
    }

    /// What is wrong, at a strength.
    pub fn words(&self, strength: f64) -> String {
        let words = match strength < 0.0 && !self.cause.other_way.is_empty() {
            true => self.cause.other_way,
            false => self.cause.words,
        };
        match self.line {
            Some(line) => format!("line {}: {words}", line + 1),
            None => words.to_string(),
        }
    }

    /// Makes a car worse by a strength.
    pub fn apply(&self, changed: &mut Changed, strength: f64) {
        (self.cause.apply)(changed, strength, self.line.unwrap_or(0));
    }
}

/// Every cause that a rig can have, each line for itself.
pub fn causes_of(rig: &Rig) -> Vec<Named> {
    let lines = rig.parts().slits.width_m.len();
    let each = |cause: &'static Cause| {
        let count = if cause.each_line { lines } else { 1 };
        (0..count).map(move |line| Named { cause, line: cause.each_line.then_some(line) })
    };
    CAUSES.iter().filter(|cause| (cause.fitted)(rig)).flat_map(each).collect()
}
