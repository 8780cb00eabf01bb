//! Every printed reading's unit and size, by a road that does not use the reading's own row.

use crate::support::*;
use crate::table::rows;
use sim_core::point::READINGS;
use std::f64::consts::PI;

#[test]
fn every_reading_has_its_unit_checked_in_this_file() {
    let text = include_str!("units_by_another_road.rs");
    let bare = ["lambda", "residual_fraction", "residual"];
    for reading in READINGS.iter().filter(|reading| !bare.contains(&reading.name)) {
        let quoted = format!("\"{}\"", reading.name);
        assert!(text.contains(&quoted), "no test here checks the unit of {}", reading.name);
    }
}

#[test]
fn fuel_in_kg_h_is_what_a_run_counts_in_grams() {
    for rig in ["four", "six", "eight"] {
        let setup = aimed(&with(rig, &[]));
        let mut engine = engine(&setup);
        go_on(&mut engine, 36.0);
        // A hundredth of an hour.
        let grams = 1e3 * engine.fuel_kg();
        let steady = shown(&running(&setup), "fuel_kg_h");
        near(steady, 100.0 * grams / 1e3, 0.005, "fuel_kg_h, steady");
        near(shown(&now(&engine), "fuel_kg_h"), steady, 0.005, "fuel_kg_h, in the run");
    }
}

/// Petrol CH1.85 needs 14.6 times its mass of air (element balance; Heywood 1988, app. D).
#[test]
fn air_in_kg_h_is_lambda_times_fourteen_and_a_half_times_the_fuel() {
    for ma in [0.0, 10.0, 20.0] {
        let state = running(&with("six", &[("actuator_ma", ma)]));
        let by_fuel = 14.575 * state.lambda * shown(&state, "fuel_kg_h");
        near(shown(&state, "air_kg_h"), by_fuel, 0.002, "air_kg_h");
    }
}

#[test]
fn air_past_the_plate_in_kg_h_is_the_air_less_a_leak_told_in_kg_h() {
    let tight = running(&with("six", &[]));
    near(shown(&tight, "metered_air_kg_h"), shown(&tight, "air_kg_h"), 1e-9, "no leak");
    let leaky = running(&with("six", &[("leak_kg_h", 2.0)]));
    let past = shown(&leaky, "air_kg_h") - shown(&leaky, "metered_air_kg_h");
    near(past, 2.0, 1e-6, "leak told as 2 kg/h, manifold far below half an atmosphere");
}

#[test]
fn manifold_pressure_in_bar_is_the_barometer_s_with_the_throttle_wide_open() {
    for (altitude_m, barometer_bar) in [(0.0, 1.01325), (3000.0, 0.70109)] {
        let keys = [("throttle_percent", 100.0), ("speed_rpm", 800.0), ("altitude_m", altitude_m)];
        let bar = shown(&running(&with("six", &keys)), "manifold_bar");
        assert!(bar < barometer_bar, "{bar} above the barometer's {barometer_bar}");
        near(bar, barometer_bar, 0.02, "manifold_bar behind an open throttle");
    }
}

#[test]
fn plate_lift_in_mm_falls_by_the_millimetre_by_which_the_rest_is_raised() {
    let lift =
        |rest: f64| shown(&running(&with("six", &[("rest_height_mm", rest)])), "plate_lift_mm");
    assert!((lift(0.0) - lift(1.0) - 1.0).abs() < 1e-9, "{} {}", lift(0.0), lift(1.0));
}

#[test]
fn current_in_ma_and_duty_are_those_of_a_current_forced_by_hand() {
    // Authority and base of the rig's file: 10 mA each.
    for (ma, duty) in [(0.0, 0.0), (5.0, 25.0), (10.0, 50.0), (17.5, 87.5), (20.0, 100.0)] {
        let state = running(&with("six", &[("actuator_ma", ma)]));
        assert!((shown(&state, "actuator_ma") - ma).abs() < 1e-9, "{ma} mA forced");
        assert!((shown(&state, "duty_percent") - duty).abs() < 1e-9, "duty at {ma} mA");
    }
}

/// The file tells 0.4 bar at the actuator without current, 0.2 bar of spring against it, and
/// 0.008 bar for each mA.
#[test]
fn the_slits_drop_in_bar_is_the_actuator_s_less_the_spring_s() {
    for (ma, bar) in [(0.0, 0.2), (10.0, 0.28), (20.0, 0.36)] {
        let state = running(&with("six", &[("actuator_ma", ma)]));
        near(shown(&state, "slit_drop_bar"), bar, 1e-9, "slit_drop_bar");
    }
}

#[test]
fn the_current_wanted_for_lambda_one_is_the_one_on_which_lambda_is_one() {
    let aim = aim_turns(&with("six", &[]));
    for off in [-0.02, 0.0, 0.02] {
        let screwed = with("six", &[("screw", aim + off)]);
        let untrimmed = running(&screwed);
        let wanted = shown(&untrimmed, "wanted_ma");
        let forced = running(&and(&screwed, &[("actuator_ma", wanted)]));
        assert!(
            (forced.lambda - 1.0).abs() < 2e-3,
            "{off}: lambda {} at {wanted} mA",
            forced.lambda
        );
        let duty = shown(&untrimmed, "wanted_duty_percent");
        assert!((duty - shown(&forced, "duty_percent")).abs() < 1e-6, "{off}: duty {duty}");
    }
}

/// A brake holds the speed, so air and lift stay and only the current changes.
#[test]
fn fuel_added_by_the_trim_in_percent_is_what_the_flow_gains_over_the_base_current() {
    let driven = with("six", &[("throttle_percent", 12.0), ("speed_rpm", 2000.0)]);
    let aim = aim_turns(&with("six", &[]));
    for (off, sign) in [(-0.03, 1.0), (0.03, -1.0)] {
        let at_base = and(&driven, &[("screw", aim + off)]);
        let trimmed = running(&word(&at_base, "trim", "on"));
        let ratio = shown(&trimmed, "fuel_kg_h") / shown(&running(&at_base), "fuel_kg_h");
        let told = shown(&trimmed, "trim_fuel_percent");
        assert!(sign * told > 1.0, "screw {off} off: the trim adds {told} %");
        near(told, 100.0 * (ratio - 1.0), 1e-6, "trim_fuel_percent");
    }
}

#[test]
fn the_run_tells_fuel_added_with_the_sign_of_the_current_added() {
    let aim = aim_turns(&with("six", &[]));
    for off in [-0.03, 0.03] {
        let setup = word(&with("six", &[("screw", aim + off)]), "trim", "on");
        let mut engine = engine(&setup);
        go_on(&mut engine, 5.0);
        let state = now(&engine);
        let (added, current) =
            (shown(&state, "trim_fuel_percent"), shown(&state, "actuator_ma") - 10.0);
        // Fuel goes with the root of the drop, 0.28 bar at 10 mA and 0.008 bar for each mA.
        let by_root = 100.0 * (((0.28 + 0.008 * current) / 0.28).sqrt() - 1.0);
        assert!(off * current < 0.0, "a leaner screw asks for more current: {current}");
        near(added, by_root, 0.25, "trim_fuel_percent in the run");
    }
}

/// A cycle lost or not is a coin: a share m lost makes the deviation sqrt(m/(1 - m)) of the
/// mean, and the burn's own scatter a little more.
#[test]
fn a_dead_spark_makes_the_misfire_and_the_roughness_in_percent_of_a_coin() {
    for lost in [5.0, 20.0] {
        let state = running(&with("six", &[("misfire_percent", lost)]));
        let told = shown(&state, "misfire_percent");
        assert!((lost - 1e-9..lost + 0.5).contains(&told), "{lost} % of the sparks dead: {told} %");
        let coin = 100.0 * (lost / (100.0 - lost)).sqrt();
        let cov = shown(&state, "cov_percent");
        assert!((coin..coin + 3.0).contains(&cov), "coin {coin} %, told {cov} %");
    }
}

#[test]
fn carbon_monoxide_in_percent_is_the_published_balance_s() {
    for row in rows("exhaust_rich").iter().filter(|row| row.number("lambda") < 0.91) {
        let rich = at_lambda(&with("six", &[]), row.number("lambda"));
        near(
            shown(&running(&rich), "co_percent"),
            row.number("co_percent_dry"),
            0.05,
            "co_percent",
        );
    }
}

#[test]
fn the_lambda_sensor_in_volt_is_the_published_cell_lean_and_its_cap_rich() {
    let lean = running(&at_lambda(&with("six", &[]), 1.05));
    let row = rows("sensor_emf")
        .into_iter()
        .find(|row| row.number("lambda") == 1.05 && row.number("tip_degc") == 700.0)
        .expect("the table has lean gas at 700 degC");
    let volt = shown(&lean, "sensor_v");
    assert!((volt - 1e-3 * row.number("emf_mv")).abs() < 5e-3, "{volt} V, {row}");
    let rich = running(&at_lambda(&with("six", &[]), 0.85));
    assert!((shown(&rich, "sensor_v") - 0.9).abs() < 0.02, "{}", shown(&rich, "sensor_v"));
}

#[test]
fn the_potentiometer_in_volt_loses_the_millivolt_of_a_wide_pit() {
    let setup = aimed(&with("six", &[("wear_width_mm", 10.0)]));
    let worn = and(&setup, &[("wear_mv", 100.0)]);
    let volt = |setup: &_| shown(&running(setup), "potentiometer_v");
    let lost = volt(&setup) - volt(&worn);
    assert!((lost - 0.100).abs() < 1e-4, "{lost} V lost in a pit of 100 mV");
}

#[test]
fn the_idle_air_valve_in_percent_times_its_gap_is_the_same_slot_whatever_the_gap() {
    let share = |gap: f64| {
        shown(&running(&with("six", &[("idle_valve_gap_mm", gap)])), "idle_valve_percent")
    };
    let slot = 4.0 * share(4.0) / 100.0;
    assert!((0.3..4.0).contains(&slot), "a slot of {slot} mm in a valve of 4 mm");
    near(8.0 * share(8.0) / 100.0, slot, 1e-6, "slot in a valve twice as large");
    near(share(0.95 * slot), 100.0, 1e-9, "a valve smaller than the slot stands full open");
}

#[test]
fn a_speed_in_rpm_is_sixty_times_the_turns_a_second() {
    let mut setup = with("six", &[]);
    setup.conditions.speed_rad_s = Some(2.0 * PI * 20.0);
    assert!((shown(&running(&setup), "speed_rpm") - 1200.0).abs() < 1e-9);
}

/// In the run the brake is a controller on the crank's inertia; at the steady point it is
/// what is left over of the mean effective pressures. The run keeps its idle air valve open,
/// so the steady point is taken at the throttle that gives the same manifold pressure.
#[test]
fn brake_torque_in_nm_is_the_one_that_holds_the_turning_crank() {
    let aim = aim_turns(&with("six", &[]));
    for (share, rpm) in [(0.15, 2000.0), (0.6, 3000.0)] {
        let mut engine = engine(&with("six", &[("screw", aim)]));
        hold(&mut engine, share, rpm);
        go_on(&mut engine, 15.0);
        let held = now(&engine);
        near(shown(&held, "speed_rpm"), rpm, 2e-3, "the brake holds the speed");
        let steady = |percent: f64| {
            let keys = [("throttle_percent", percent), ("speed_rpm", rpm), ("screw", aim)];
            running(&with("six", &keys))
        };
        let (mut low, mut high) = (1.0, 100.0);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if steady(middle).manifold_pa < held.manifold_pa { low = middle } else { high = middle }
        }
        let steady = steady(low);
        near(shown(&steady, "brake_nm"), shown(&held, "brake_nm"), 0.01, "brake_nm");
        // Work at the brake against the heat of the fuel: 43 MJ/kg, and no petrol engine
        // turns more than 36 % of it into work here.
        let power_w = shown(&steady, "brake_nm") * 2.0 * PI * shown(&steady, "speed_rpm") / 60.0;
        let heat_w = shown(&steady, "fuel_kg_h") / 3600.0 * 43e6;
        assert!((0.12..0.36).contains(&(power_w / heat_w)), "{power_w} W from {heat_w} W");
    }
}

/// The plate weighs the plunger's force with the friction for or against it: its air goes
/// with the root, and at one height the fuel stays.
#[test]
fn the_friction_band_in_percent_is_the_plate_s_air_with_friction_for_and_against() {
    let setup = with("six", &[]);
    let parts = setup.rig.parts();
    let air = |force_n: f64| {
        let drop_pa = parts.lever.plate_drop_pa(force_n, parts.plate.radius_m);
        parts.plate.flow_kg_s(1e-4, 1.2, drop_pa)
    };
    // 5.4 bar on 10 mm, and 0.5 N: from the rig's file.
    let force_n = 5.4e5 * PI / 4.0 * 0.010 * 0.010;
    let (least, most) = (air(force_n - 0.5), air(force_n + 0.5));
    let band = 100.0 * (most - least) / (most + least);
    near(shown(&running(&setup), "friction_band_percent"), band, 1e-3, "friction_band_percent");
}

/// Four gauges: at the system, the lower chamber, between the two, and in the line of the first
/// cylinder, whose injector opens half a spread above the set's mean.
#[test]
fn pressures_of_the_fuel_in_bar_are_those_the_keys_tell() {
    let keys = [("actuator_ma", 0.0), ("system_pressure_bar", 5.2), ("injector_spread_bar", 0.4)];
    let state = running(&with("six", &keys));
    near(shown(&state, "system_bar"), 5.2, 1e-9, "system_bar");
    near(shown(&state, "lower_chamber_bar"), 4.8, 1e-9, "lower_chamber_bar");
    near(shown(&state, "lower_chamber_below_bar"), 0.4, 1e-9, "lower_chamber_below_bar");
    near(shown(&state, "line_bar"), 3.8, 1e-9, "line_bar");
}
