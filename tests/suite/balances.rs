//! A steady point worked out again from its readings and the numbers of the rig's file, by
//! laws written out here; and what the tables of published values say of themselves.

use crate::support::*;
use crate::table::{root, rows};
use std::f64::consts::PI;

/// Room air at sea level (kg/m3) and its gas constant (J/(kg K)).
const DENSITY: f64 = 1.2041;
const GAS: f64 = 287.05;

/// Moments about the pivot, Bernoulli past the plate, the gas tables' choked flow through
/// throttle and idle air valve (NACA 1135: 0.684731), Torricelli through the slits.
#[test]
fn a_steady_idle_balances_when_worked_out_from_its_readings_and_the_rig_s_file() {
    for rig in ["four", "six", "eight"] {
        for (screw, leak) in [(0.0, 0.0), (-0.06, 0.0), (0.06, 0.0), (0.0, 1.0)] {
            let keys = [("screw", screw), ("leak_kg_h", leak), ("slit_half_reynolds", 0.0)];
            let setup = with(rig, &keys);
            let told = |key: &str| told(&setup, key);
            let state = running(&setup);
            let shown = |name: &str| shown(&state, name);
            let what = |law: &str| format!("{rig}, screw {screw}, leak {leak} kg/h: {law}");
            let metered = shown("metered_air_kg_h") / 3600.0;

            let plunger_n =
                1e5 * told("system_pressure_bar") * PI / 4.0 * (1e-3 * told("plunger_mm")).powi(2);
            let radius = 1e-3 * told("plate_radius_mm");
            let weight_n = plunger_n * told("plunger_arm_mm") / told("plate_arm_mm");
            let drop_pa = weight_n / (PI * radius * radius);
            let height = 1e-3 * (shown("plate_lift_mm") - told("rest_below_throat_mm"));
            let gap = setup.rig.parts().plate.gap_m(height);
            let ring = PI * ((radius + gap).powi(2) - radius * radius);
            let past = told("plate_discharge") * ring * (2.0 * DENSITY * drop_pa).sqrt();
            near(past, metered, 1e-3, &what("air past the plate (kg/s)"));

            let slot = told("idle_valve_gap_mm") * told("idle_valve_width_mm");
            let open = told("throttle_discharge") * told("throttle_closed_mm2")
                + told("idle_valve_discharge") * slot * 0.01 * shown("idle_valve_percent");
            assert!(shown("manifold_bar") < 0.528 * 1.0, "choked");
            let choked = 1e-6 * open * (101_325.0 - drop_pa) * 0.684_731 / (GAS * 293.15).sqrt();
            near(choked, metered, 1e-3, &what("air through throttle and valve (kg/s)"));

            let lift = 1e-3 * told("plunger_arm_mm") / told("plate_arm_mm")
                * (1e3 * height - told("zero_height_mm")
                    + screw * told("pitch_mm") * told("plate_arm_mm") / told("screw_arm_mm"));
            let width: f64 = setup.rig.parts().slits.width_m.iter().sum();
            // Petrol of 745 kg/m3 at 15 degC, 30 degC warm.
            let petrol = 745.0 * (1.0 - 0.0012 * 15.0);
            let jets = (2.0 * petrol * 1e5 * shown("slit_drop_bar")).sqrt();
            let fuel = told("slit_discharge") * width * lift * jets;
            near(fuel, shown("fuel_kg_h") / 3600.0, 2e-3, &what("fuel through the slits (kg/s)"));

            let lambda = (metered + leak / 3600.0) / (14.575 * fuel);
            near(lambda, state.lambda, 4e-3, &what("lambda"));
        }
    }
}

/// Grade A: a formula, constant or table of its source, met as closely as it is printed.
/// Grade B: a shape or a range. No row without a source, none graded A with a wide tolerance.
#[test]
fn every_table_grades_its_rows_and_an_a_is_met_closely() {
    let folder = root().join("tests/data");
    let mut graded = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_stem().unwrap().to_str().unwrap().to_string();
        let text = std::fs::read_to_string(&path).unwrap();
        let header = text.lines().next().unwrap_or_default();
        if path.extension().is_none_or(|e| e != "csv") || !header.contains("grade") {
            continue;
        }
        for row in rows(&name) {
            graded += 1;
            assert!(row.word("source").len() > 5, "{row}: no source");
            let tolerance = header.contains("rel_tol").then(|| row.number("rel_tol"));
            match row.word("grade") {
                "A" => {
                    assert!(tolerance.is_none_or(|t| t <= 0.01), "{row}: graded A, {tolerance:?}")
                }
                "B" => {}
                other => panic!("{row}: grade {other}"),
            }
        }
    }
    assert!(graded > 100, "{graded} graded rows");
}
