//! Rig files with something wrong in them: the fault, its place, its numbers.

use approx::assert_abs_diff_eq;
use sim_core::rig::file::{FaultKind, FileFault, parse};
use sim_core::rig::keys::{KEYS, Key, KeyFault, Place, Setup};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::rig::{Rig, RigFault};

fn six() -> &'static str {
    SHIPPED.iter().find(|(name, _)| *name == "six").unwrap().1
}

/// The shipped six with one line replaced.
fn with_line(key: &str, line: &str) -> String {
    let start = format!("{key} = ");
    assert!(six().lines().any(|line| line.starts_with(&start)), "no line for {key}");
    six()
        .lines()
        .map(|old| if old.starts_with(&start) { line } else { old }.to_string() + "\n")
        .collect()
}

fn fault(text: &str) -> FileFault {
    parse(text).expect_err("the file is bad")
}

fn line_of(key: &str) -> usize {
    six().lines().position(|line| line.starts_with(&format!("{key} = "))).unwrap() + 1
}

#[test]
fn every_number_out_of_its_range_is_refused_at_its_line() {
    for key in KEYS.iter().filter(|key| matches!(key.place, Place::Part { .. })) {
        let too_low = key.low - 0.001 * key.low.abs() - 1e-9;
        let too_high = key.high + 0.001 * key.high.abs() + 1e-9;
        for value in [too_low, too_high] {
            let fault = fault(&with_line(key.name, &format!("{} = {value:e}", key.name)));
            assert_eq!(fault.kind, FaultKind::OutOfRange { key: key.name, value });
            assert_eq!(fault.spot.unwrap().line, line_of(key.name), "{}", key.name);
        }
        for (word, check) in [
            ("nan", f64::NAN),
            ("inf", f64::INFINITY),
            ("-inf", -f64::INFINITY),
            ("1e999", f64::INFINITY),
        ] {
            let text = with_line(key.name, &format!("{} = {word}", key.name));
            match fault(&text).kind {
                FaultKind::OutOfRange { key: found, value } => {
                    assert_eq!(found, key.name);
                    assert!(value == check || value.is_nan() && check.is_nan(), "{word}: {value}");
                }
                other => panic!("{} = {word}: {other:?}", key.name),
            }
        }
    }
}

#[test]
fn a_wrong_type_is_named() {
    for (value, found) in [
        ("\"40\"", "a text"),
        ("true", "true or false"),
        ("[40]", "a row"),
        ("1979-05-27", "a date"),
    ] {
        let fault = fault(&with_line("plate_radius_mm", &format!("plate_radius_mm = {value}")));
        match fault.kind {
            FaultKind::WrongType { key, found: what, .. } => {
                assert_eq!((key.as_str(), what), ("plate_radius_mm", found))
            }
            other => panic!("{other:?}"),
        }
    }
    assert!(matches!(
        fault(&with_line("slit_width_mm", "slit_width_mm = 0.065")).kind,
        FaultKind::WrongType { .. }
    ));
    assert!(matches!(fault(&with_line("name", "name = 6")).kind, FaultKind::WrongType { .. }));
}

#[test]
fn a_misspelt_key_brings_the_right_one_to_mind() {
    let text = with_line("pitch_mm", "ptich_mm = 0.75");
    match fault(&text).kind {
        FaultKind::UnknownKey { key, nearest, .. } => {
            assert_eq!((key.as_str(), nearest), ("ptich_mm", Some("pitch_mm")))
        }
        other => panic!("{other:?}"),
    }
    let text = with_line("pitch_mm", "pitch = 0.75");
    assert!(matches!(fault(&text).kind, FaultKind::UnknownKey { nearest: Some("pitch_mm"), .. }));
    let text = six().replace("[metering]", "[meterring]");
    assert!(matches!(fault(&text).kind, FaultKind::UnknownTable { nearest: Some("metering"), .. }));
    let moved = with_line("pitch_mm", "efficiency = 0.36");
    assert!(matches!(fault(&moved).kind, FaultKind::UnknownKey { belongs: Some("engine"), .. }));
}

#[test]
fn a_key_missing_or_twice_is_named() {
    assert_eq!(
        fault(&with_line("spark_deg", "")).kind,
        FaultKind::Missing { table: "burn", key: "spark_deg" }
    );
    let twice = fault(&with_line("spark_deg", "spark_deg = 10\nspark_deg = 11"));
    assert!(matches!(twice.kind, FaultKind::Syntax { .. }), "{twice:?}");
    assert_eq!(twice.spot.unwrap().line, line_of("spark_deg") + 1);
}

#[test]
fn rows_must_rise_start_at_zero_and_belong_together() {
    let height =
        |row: &str| fault(&with_line("funnel_height_mm", &format!("funnel_height_mm = {row}")));
    let good = "[0, 0.4, 3.91, 6.49, 10.1, 14.22, 19.99, 23.82, 28.61, 33.96, 38.95, 48.7]";
    assert!(parse(&with_line("funnel_height_mm", &format!("funnel_height_mm = {good}"))).is_ok());
    let swapped = height(&good.replace("6.49, 10.1", "10.1, 6.49"));
    assert_eq!(
        swapped.kind,
        FaultKind::Rig(RigFault::NotRising { key: "funnel_height_mm", index: 4 })
    );
    assert_eq!(swapped.spot.unwrap().line, line_of("funnel_height_mm"));
    assert!(matches!(
        height(&good.replace("[0,", "[0.1,")).kind,
        FaultKind::Rig(RigFault::NotFromZero { .. })
    ));
    assert!(matches!(height("[0, 1, 2]").kind, FaultKind::Rig(RigFault::Unequal { .. })));
    assert!(matches!(
        height("[0]").kind,
        FaultKind::Rig(RigFault::WrongCount { found: 1, least: 2, .. })
    ));
    assert!(matches!(
        height(&format!("[{}]", "1, ".repeat(20))).kind,
        FaultKind::Rig(RigFault::WrongCount { found: 20, .. })
    ));
    assert!(matches!(height(&good.replace("3.91", "\"3.91\"")).kind, FaultKind::WrongType { .. }));
    assert!(matches!(height(&good.replace("3.91", "-3.91")).kind, FaultKind::OutOfRange { .. }));
    let slits =
        |row: &str| fault(&with_line("slit_width_mm", &format!("slit_width_mm = {row}"))).kind;
    assert!(matches!(slits("[]"), FaultKind::Rig(RigFault::WrongCount { found: 0, .. })));
    assert!(matches!(
        slits(&format!("[{}]", "0.065, ".repeat(13))),
        FaultKind::Rig(RigFault::WrongCount { found: 13, most: 12, .. })
    ));
}

#[test]
fn a_file_that_is_no_rig_file_is_refused() {
    assert_eq!(fault("").kind, FaultKind::Empty);
    assert_eq!(fault(" \n\t\n").kind, FaultKind::Empty);
    assert_eq!(fault(&format!("\u{feff}{}", six())).kind, FaultKind::ByteOrderMark);
    assert_eq!(fault(&six().replace("[burn]", "[burn]\0")).kind, FaultKind::Nul);
    let comma = fault(&with_line("pitch_mm", "pitch_mm = 0,75"));
    assert!(matches!(comma.kind, FaultKind::Syntax { .. }));
    assert_eq!(comma.spot.unwrap().line, line_of("pitch_mm"));
    assert!(matches!(fault("name = \"x\"").kind, FaultKind::Missing { .. }));
    assert!(matches!(fault(&with_line("name", "name = \"\"")).kind, FaultKind::BadText { .. }));
}

#[test]
fn line_ends_of_another_system_are_welcome() {
    assert_eq!(parse(&six().replace('\n', "\r\n")).unwrap(), parse(six()).unwrap());
}

#[test]
fn parts_that_make_no_engine_are_told_why() {
    let kind = |key: &str, line: &str| match fault(&with_line(key, line)).kind {
        FaultKind::Rig(fault) => fault,
        other => panic!("{other:?}"),
    };
    assert!(matches!(
        kind("idle_valve_gap_mm", "idle_valve_gap_mm = 0.5"),
        RigFault::IdleValveTooSmall { needed_m2, full_m2 } if needed_m2 > full_m2
    ));
    assert!(matches!(
        kind("throttle_closed_mm2", "throttle_closed_mm2 = 150"),
        RigFault::ThrottleTooOpen { passes_kg_s, needed_kg_s } if passes_kg_s > needed_kg_s
    ));
    let backwards = six()
        .replace("idle_rpm = 710", "idle_rpm = 400")
        .replace("stall_rpm = 350", "stall_rpm = 500");
    assert!(matches!(
        fault(&backwards).kind,
        FaultKind::Rig(RigFault::NotAbove { key: "idle_rpm", other: "stall_rpm", .. })
    ));
    let weak = with_line("efficiency", "efficiency = 0.15");
    let weak = weak.replace("accessories_bar = 0.4", "accessories_bar = 3");
    assert_eq!(fault(&weak).kind, FaultKind::Rig(RigFault::CannotIdle));
}

#[test]
fn no_damage_to_a_file_brings_the_reader_down() {
    use sim_core::noise::Noise;
    let bytes = six().as_bytes();
    let mut refused = 0;
    for item in 0..4000 {
        let mut noise = Noise::new(77, item);
        let mut damaged = bytes.to_vec();
        for _ in 0..=(noise.uniform() * 4.0) as usize {
            let at = (noise.uniform() * damaged.len() as f64) as usize;
            match (noise.uniform() * 4.0) as usize {
                0 => damaged[at] = (noise.uniform() * 256.0) as u8,
                1 => {
                    damaged.remove(at);
                }
                2 => damaged.insert(at, b"=.-[]\"#e9\n"[(noise.uniform() * 10.0) as usize]),
                _ => damaged.truncate(at.max(1)),
            }
        }
        let text = String::from_utf8_lossy(&damaged);
        refused += usize::from(parse(&text).is_err());
    }
    assert!(refused > 2000, "only {refused} of 4000 damaged files are refused");
}

#[test]
fn a_value_given_to_a_key_is_checked_like_one_in_a_file() {
    let mut setup = Setup { rig: shipped("six").unwrap().rig, conditions: Default::default() };
    let key = |name: &str| Key::find(name).unwrap();
    assert_eq!(key("altitude_m").set(&mut setup, 9e4), Err(KeyFault::OutOfRange { value: 9e4 }));
    assert!(matches!(
        key("altitude-m").set(&mut setup, f64::NAN),
        Err(KeyFault::OutOfRange { .. })
    ));
    assert_eq!(key("slit_width_mm").set(&mut setup, 0.05), Err(KeyFault::IsARow));
    assert_eq!(key("trim").choose(&mut setup, "maybe"), Err(KeyFault::NotAWord));
    assert_eq!(key("throttle_open_deg").set(&mut setup, 40.0), Ok(()));
    assert_eq!(key("system_pressure_bar").set(&mut setup, 4.8), Ok(()));
    assert_abs_diff_eq!(setup.rig.parts().pressures.system_pa, 4.8e5, epsilon = 1e-6);
    assert_eq!(key("system_pressure_bar").get(&setup), Some(4.8));
    assert!(Key::find("no_such_key").is_none());
}

/// No public way makes a rig with a value outside its key's range, or with none at all.
#[test]
fn no_rig_holds_a_value_outside_its_key_s_range() {
    let six = shipped("six").unwrap().rig;
    for key in KEYS {
        let Place::Part { at, .. } = key.place else { continue };
        for value in [f64::NAN, f64::INFINITY, key.low - 1.0, key.high * 1.01 + 1.0] {
            let si = key.unit.to_si(value);
            let mut parts = *six.parts();
            *at(&mut parts) = si;
            let refused = |fault: Option<RigFault>| {
                assert!(
                    matches!(fault, Some(RigFault::OutOfRange { key: named, .. }) if named == key.name),
                    "{} = {value}: {fault:?}",
                    key.name
                );
            };
            refused(Rig::new(parts).err());
            refused(six.with_parts(|parts| *at(parts) = si).err());
        }
        // Both ends of the range are in it, as a file and as a part.
        for value in [key.low, key.high] {
            let mut parts = *six.parts();
            *at(&mut parts) = key.unit.to_si(value);
            let fault = Rig::new(parts).err();
            assert!(!matches!(fault, Some(RigFault::OutOfRange { .. })), "{}: {fault:?}", key.name);
        }
    }
    let gap = |gap_m: f64| {
        six.with_parts(|parts| parts.plate.profile_gap_m.iter_mut().for_each(|gap| *gap = gap_m))
    };
    assert!(matches!(gap(f64::NAN), Err(RigFault::OutOfRange { key: "funnel_gap_mm", .. })));
}
