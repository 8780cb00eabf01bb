//! The model's parts against published values. Sources stand in the rows.

use crate::table::rows;
use sim_core::air::atmosphere::{density_kg_m3, standard_pressure_pa, standard_temperature_k};
use sim_core::air::orifice::flux_kg_s_m2;
use sim_core::engine::exhaust::gas_of;
use sim_core::engine::flame::{Charge, FlameLaw};
use sim_core::engine::friction::motored_wide_open_pa;
use sim_core::engine::work::relative_work;
use sim_core::fuel::kind::Fuel;
use sim_core::fuel::slit::torricelli_kg_s;
use sim_core::sense::lambda_sensor::Cell;
use sim_core::units::{ATMOSPHERE_PA, Unit, ZERO_CELSIUS_K};

fn e0() -> Fuel {
    Fuel::petrol_with_ethanol(0.0)
}

#[test]
fn the_atmosphere_is_the_standard_one() {
    for row in rows("atmosphere") {
        let height = row.number("height_m");
        let (p, t) = (standard_pressure_pa(height), standard_temperature_k(height));
        row.agrees("temperature_k", t);
        row.agrees("pressure_pa", p);
        row.agrees("density_kg_m3", density_kg_m3(p, t));
    }
}

#[test]
fn air_through_an_orifice_follows_the_compressible_law() {
    for row in rows("throttle") {
        let flux = flux_kg_s_m2(
            ATMOSPHERE_PA,
            row.number("upstream_k"),
            ATMOSPHERE_PA * row.number("pressure_ratio"),
        );
        row.agrees("flow_kg_h", flux * 1e-6 * row.number("area_mm2") * 3600.0);
    }
}

#[test]
fn fuel_through_a_slit_follows_torricelli() {
    for row in rows("slit") {
        let (width_m, density) = (0.2e-3, 745.0);
        let flow = torricelli_kg_s(
            0.61,
            width_m,
            1e-3 * row.number("opening_mm"),
            1e5 * row.number("pressure_drop_bar"),
            density,
        );
        row.agrees("flow_ml_min", flow / density * 6e7);
    }
}

#[test]
fn fuels_need_the_air_their_elements_say() {
    for row in rows("stoichiometry") {
        let fuel = Fuel { h_per_c: row.number("h_per_c"), o_per_c: row.number("o_per_c"), ..e0() };
        row.agrees("air_fuel_ratio", fuel.air_fuel_ratio());
    }
}

#[test]
fn fuel_shrinks_in_the_cold_as_the_petroleum_tables_say() {
    for row in rows("fuel_density") {
        let fuel = Fuel { density_15c_kg_m3: row.number("density_15c_kg_m3"), ..e0() };
        let temperature = row.number("temperature_degc") + ZERO_CELSIUS_K;
        row.agrees("density_kg_m3", fuel.density_kg_m3(temperature));
    }
}

#[test]
fn motored_friction_is_the_handbook_one() {
    for row in rows("friction") {
        let speed = Unit::Rpm.to_si(row.number("speed_rpm"));
        row.agrees("mep_bar", motored_wide_open_pa(speed) / 1e5);
    }
}

#[test]
fn laminar_flame_speed_at_room_state_is_the_published_one() {
    let charge = Charge::new(298.0, ATMOSPHERE_PA, 0.0);
    for row in rows("flame_speed") {
        let speed = charge.laminar_speed_m_s(FlameLaw::Gasoline, 1.0 / row.number("lambda"));
        row.agrees("speed_cm_s", 100.0 * speed);
    }
}

#[test]
fn laminar_flame_speed_at_the_spark_falls_off_as_its_exponents_say() {
    let charge = Charge::new(600.0, 4.0 * ATMOSPHERE_PA, 0.0);
    let at = |lambda: f64| charge.laminar_speed_m_s(FlameLaw::Gasoline, 1.0 / lambda);
    for row in rows("flame_speed_at_spark") {
        row.agrees("speed_relative_to_lambda_1", at(row.number("lambda")) / at(1.0));
    }
}

#[test]
fn work_at_constant_air_follows_the_ideal_fuel_air_cycle() {
    for row in rows("torque_at_constant_air") {
        row.agrees("work_relative_to_lambda_1", relative_work(row.number("lambda")));
    }
}

#[test]
fn rich_exhaust_is_the_water_gas_balance() {
    for row in rows("exhaust_rich") {
        let gas = gas_of(&e0(), row.number("lambda"));
        row.agrees("co_percent_dry", 100.0 * gas.co);
        row.agrees("co2_percent_dry", 100.0 * gas.co2);
        row.agrees("h2_percent_dry", 100.0 * gas.h2);
    }
}

#[test]
fn lean_exhaust_is_complete_combustion() {
    for row in rows("exhaust_lean") {
        let gas = gas_of(&e0(), row.number("lambda"));
        row.agrees("o2_percent_dry", 100.0 * gas.o2);
        row.agrees("co2_percent_dry", 100.0 * gas.co2);
    }
}

#[test]
fn the_oxygen_cell_gives_the_voltage_of_equilibrium() {
    let iso_octane = Fuel { h_per_c: 2.25, o_per_c: 0.0, ..e0() };
    for row in rows("sensor_emf") {
        let cell = Cell::at(row.number("tip_degc") + ZERO_CELSIUS_K);
        row.agrees("emf_mv", 1e3 * cell.voltage_v(&iso_octane, row.number("lambda")));
    }
}

/// Abramowitz & Stegun 1964, table 26.1 (values from memory).
#[test]
fn the_normal_distribution_is_the_tabulated_one() {
    use sim_core::maths::{normal_density, normal_share_below};
    for (x, share, density) in [
        (0.0, 0.5, 0.398_942_280_4),
        (1.0, 0.841_344_746_1, 0.241_970_724_5),
        (1.96, 0.975_002_104_9, 0.058_440_944_3),
        (3.0, 0.998_650_102_0, 0.004_431_848_4),
    ] {
        assert!((normal_share_below(x) - share).abs() < 2e-10, "Phi({x})");
        assert!((normal_density(x) - density).abs() < 2e-10, "phi({x})");
    }
}

/// Glassman & Yetter, Combustion: stoichiometric air at sea level and the sound speed of
/// the choked throat are textbook; the critical ratio for gamma 1.4 is 0.528282 (NACA 1135,
/// eq. for M = 1).
#[test]
fn air_chokes_at_the_critical_ratio_of_the_gas_tables() {
    let flux = |ratio: f64| flux_kg_s_m2(ATMOSPHERE_PA, 293.15, ratio * ATMOSPHERE_PA);
    assert!((sim_core::air::orifice::CRITICAL_RATIO - 0.528_282).abs() < 5e-7);
    assert_eq!(flux(0.1), flux(0.5));
    assert!(flux(0.55) < flux(0.5));
    // NACA 1135: m sqrt(R T0) / (A p0) = 0.684731 at M = 1.
    let number = flux(0.3) * (287.05287_f64 * 293.15).sqrt() / ATMOSPHERE_PA;
    assert!((number - 0.684_731).abs() < 1e-6, "{number}");
}
