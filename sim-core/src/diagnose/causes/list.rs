//! The list of causes.

use super::{Cause, Changed, full};
use crate::conditions::{Conditions, Petrol};
use crate::rig::keys::Setup;
use crate::rig::{Parts, Rig};
use crate::sense::faults::{
    Altitude, Coolant, ExhaustTemperature, Lambda, SensorFault, ThrottleSwitch,
};

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
        levels: &[],
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
    let graded = one_way(name, words, "", apply);
    Cause { graded: false, levels: &[1.0], references: [1.0; 3], ..graded }
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
        // As it is sold: 5 % and 10 %.
        levels: &[0.4, 1.0],
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
