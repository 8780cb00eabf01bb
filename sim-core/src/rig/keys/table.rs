//! The rows of [`KEYS`].

use super::key::{Key, Place};
use crate::assembly::Parts;
use crate::conditions::{IdleAir, Petrol, Trim};
use crate::engine::flame::FLAME_LAWS;
use crate::maths::BoundedVector;
use crate::units::Unit;
use Place::{Choice, Condition, Optional, PartRow};
use Unit::*;

const fn part(
    table: &'static str,
    name: &'static str,
    unit: Unit,
    range: (f64, f64),
    meaning: &'static str,
    at: fn(&mut Parts) -> &mut f64,
) -> Key {
    Key { name, unit, low: range.0, high: range.1, meaning, place: Place::Part { table, at } }
}

const fn number(
    name: &'static str,
    unit: Unit,
    range: (f64, f64),
    meaning: &'static str,
    place: Place,
) -> Key {
    Key { name, unit, low: range.0, high: range.1, meaning, place }
}

const fn words(name: &'static str, meaning: &'static str, place: Place) -> Key {
    Key { name, unit: One, low: 0.0, high: 0.0, meaning, place }
}

fn row<const N: usize>(values: &[f64]) -> BoundedVector<N> {
    BoundedVector::new(values).expect("the count was checked against the key")
}

/// Every key: those of a rig file in its order, then the conditions.
#[rustfmt::skip]
pub static KEYS: &[Key] = &[
    part("air", "plate_radius_mm", Millimetre, (15.0, 80.0), "radius of the air plate", |p| &mut p.plate.radius_m),
    part("air", "rim_clearance_mm", Millimetre, (0.005, 0.5), "radial gap around the plate in the narrow throat", |p| &mut p.plate.rim_clearance_m),
    part("air", "plate_discharge", One, (0.3, 1.0), "discharge coefficient of the gap around the plate", |p| &mut p.plate.discharge),
    part("air", "rest_below_throat_mm", Millimetre, (-2.0, 6.0), "how far the resting plate hangs below the throat's lower edge", |p| &mut p.plate.rest_below_throat_m),
    number("funnel_height_mm", Millimetre, (0.0, 120.0), "heights of the funnel's edges above the throat, rising from 0",
        PartRow { table: "air", least: 2, most: crate::air::plate::PROFILE_POINTS, get: |p| &p.plate.profile_height_m, set: |p, v| p.plate.profile_height_m = row(v) }),
    number("funnel_gap_mm", Millimetre, (0.0, 60.0), "radial gap the funnel adds at those heights, rising from 0",
        PartRow { table: "air", least: 2, most: crate::air::plate::PROFILE_POINTS, get: |p| &p.plate.profile_gap_m, set: |p, v| p.plate.profile_gap_m = row(v) }),
    part("air", "throttle_bore_mm", Millimetre, (20.0, 120.0), "bore of the throttle", |p| &mut p.throttle.bore_m),
    part("air", "throttle_closed_deg", Degree, (0.0, 30.0), "angle of the closed throttle from square to the bore", |p| &mut p.throttle.closed_deg),
    part("air", "throttle_open_deg", Degree, (40.0, 90.0), "angle of the open throttle", |p| &mut p.throttle.open_deg),
    part("air", "throttle_closed_mm2", SquareMillimetre, (0.0, 200.0), "area the closed throttle leaves open", |p| &mut p.throttle.closed_area_m2),
    part("air", "throttle_discharge", One, (0.3, 1.0), "discharge coefficient of the throttle", |p| &mut p.throttle.discharge),
    part("air", "linkage_arm_mm", Millimetre, (5.0, 100.0), "arm of the throttle lever that the linkage pulls", |p| &mut p.throttle.arm_m),
    part("air", "idle_valve_gap_mm", Millimetre, (0.1, 20.0), "gap of the idle air valve, full open", |p| &mut p.idle_valve.gap_m),
    part("air", "idle_valve_width_mm", Millimetre, (1.0, 40.0), "width of the idle air valve's window", |p| &mut p.idle_valve.width_m),
    part("air", "idle_valve_discharge", One, (0.3, 1.0), "discharge coefficient of the idle air valve", |p| &mut p.idle_valve.discharge),

    part("lever", "plate_arm_mm", Millimetre, (30.0, 250.0), "from the pivot to the middle of the plate", |p| &mut p.lever.plate_arm_m),
    part("lever", "plunger_arm_mm", Millimetre, (3.0, 60.0), "from the pivot to the plunger", |p| &mut p.lever.plunger_arm_m),
    part("lever", "screw_arm_mm", Millimetre, (3.0, 60.0), "from the pivot to the mixture screw", |p| &mut p.lever.screw_arm_m),
    part("lever", "pitch_mm", Millimetre, (0.1, 2.0), "pitch of the mixture screw's thread", |p| &mut p.lever.screw_pitch_m),
    part("lever", "zero_height_mm", Millimetre, (-10.0, 10.0), "plate height above the throat at which the slits open, the screw as the rig stands", |p| &mut p.lever.zero_height_m),

    part("metering", "system_pressure_bar", Bar, (1.0, 8.0), "system pressure above ambient", |p| &mut p.pressures.system_pa),
    part("metering", "plunger_mm", Millimetre, (4.0, 20.0), "diameter of the plunger", |p| &mut p.pressures.plunger_m),
    part("metering", "plunger_friction_n", Newton, (0.0, 5.0), "friction of plunger and lever, at the plunger, either way", |p| &mut p.pressures.friction_n),
    part("metering", "slit_overlap_mm", Millimetre, (0.0, 0.5), "plunger travel from the lever's touch to the opening of the slits", |p| &mut p.slits.overlap_m),
    number("slit_width_mm", Millimetre, (0.01, 1.0), "width of each slit, one for each cylinder",
        PartRow { table: "metering", least: 2, most: crate::fuel::slit::CYLINDERS, get: |p| &p.slits.width_m, set: |p, v| p.slits.width_m = row(v) }),
    part("metering", "slit_height_mm", Millimetre, (1.0, 20.0), "height of the slits: the lift beyond which no more opens", |p| &mut p.slits.height_m),
    part("metering", "slit_discharge", One, (0.3, 1.0), "discharge coefficient of a slit in fast flow", |p| &mut p.slits.discharge),
    part("metering", "slit_half_reynolds", One, (0.0, 2000.0), "Reynolds number at which half of that coefficient is left", |p| &mut p.slits.half_discharge_reynolds),
    part("metering", "spring_bar", Bar, (0.0, 1.0), "spring of the differential-pressure valves", |p| &mut p.pressures.spring_pa),
    part("metering", "actuator_zero_bar", Bar, (0.0, 2.0), "pressure difference of the actuator without current", |p| &mut p.pressures.actuator_at_zero_pa),
    part("metering", "actuator_slope_bar_ma", BarPerMilliampere, (0.0005, 0.05), "its rise with current", |p| &mut p.pressures.actuator_per_amp_pa),
    part("metering", "flow_threshold_ml_min", MillilitrePerMinute, (0.01, 10.0), "flow of the first line that counts as fuel showing", |p| &mut p.flow_threshold_m3_s),

    part("supply", "pump_free_ml_min", MillilitrePerMinute, (300.0, 10_000.0), "delivery of the pump against no pressure", |p| &mut p.supply.pump.free_m3_s),
    part("supply", "pump_stall_bar", Bar, (2.0, 30.0), "pressure at which the pump delivers nothing", |p| &mut p.supply.pump.stall_pa),
    part("supply", "pump_cranking_percent", Percent, (10.0, 100.0), "share of its delivery while the starter turns", |p| &mut p.supply.pump.cranking_share),
    part("supply", "hot_cranking_rpm", Rpm, (80.0, 400.0), "engine speed while the starter turns the hot engine", |p| &mut p.supply.hot_cranking_rad_s),
    part("supply", "regulator_rise_bar", Bar, (0.005, 1.0), "rise of the system pressure from the regulator's opening to the pump's free delivery", |p| &mut p.supply.regulator_rise_pa),
    part("supply", "regulator_leak_ml_min", MillilitrePerMinute, (0.0, 50.0), "leak of the closed regulator's seat at 5 bar and 20 degC", |p| &mut p.supply.regulator_leak_m3_s),
    part("supply", "check_leak_ml_min", MillilitrePerMinute, (0.0, 50.0), "leak of the sound check valve at 5 bar and 20 degC", |p| &mut p.supply.check_leak_m3_s),
    part("supply", "check_dirt_mm2", SquareMillimetre, (0.0001, 0.1), "opening that dirt leaves in a leaking check valve", |p| &mut p.supply.check_dirt_m2),
    part("supply", "check_open_mm2", SquareMillimetre, (0.05, 20.0), "opening of a check valve stuck open, with the pump behind it", |p| &mut p.supply.check_open_m2),
    part("supply", "accumulator_ml", Millilitre, (1.0, 200.0), "what the accumulator takes from empty to full", |p| &mut p.supply.accumulator.volume_m3),
    part("supply", "accumulator_preload_bar", Bar, (0.2, 8.0), "pressure at which the accumulator begins to take fuel", |p| &mut p.supply.accumulator.preload_pa),
    part("supply", "accumulator_stiffness_bar_ml", BarPerMillilitre, (0.001, 1.0), "rise of pressure with the fuel in the accumulator", |p| &mut p.supply.accumulator.stiffness_pa_m3),
    part("supply", "compliance_ml_bar", MillilitrePerBar, (0.02, 5.0), "volume that hoses and fuel give with pressure", |p| &mut p.supply.compliance_m3_pa),
    part("supply", "plunger_gap_mm", Millimetre, (0.0005, 0.02), "radial gap around the plunger", |p| &mut p.supply.plunger_gap_m),
    part("supply", "plunger_seal_mm", Millimetre, (1.0, 40.0), "length of that gap", |p| &mut p.supply.plunger_seal_m),
    part("supply", "feed_ml", Millilitre, (5.0, 1000.0), "volume of the feed under the bonnet, filter to slits", |p| &mut p.supply.feed_m3),
    part("supply", "line_length_mm", Millimetre, (50.0, 3000.0), "length of the injection line of cylinder 1", |p| &mut p.supply.line_length_m),
    part("supply", "line_longer_mm", Millimetre, (0.0, 500.0), "how much longer each next line is", |p| &mut p.supply.line_longer_m),
    part("supply", "line_bore_mm", Millimetre, (0.5, 6.0), "bore of the injection lines", |p| &mut p.supply.line_bore_m),

    part("engine", "displacement_l", Litre, (0.5, 8.0), "displacement of all cylinders", |p| &mut p.breathing.displacement_m3),
    part("engine", "compression", One, (5.0, 14.0), "compression ratio", |p| &mut p.breathing.compression),
    part("engine", "polytropic", One, (1.0, 1.67), "polytropic exponent of the residual gas", |p| &mut p.breathing.polytropic),
    part("engine", "filling_0", One, (0.3, 1.2), "filling factor at low speed", |p| &mut p.breathing.filling_0),
    part("engine", "filling_1_s", Second, (-1e-3, 2e-3), "its rise with crank speed", |p| &mut p.breathing.filling_1_s),
    part("engine", "filling_2_s2", SquareSecond, (-3e-6, 0.0), "its bend with crank speed", |p| &mut p.breathing.filling_2_s2),
    part("engine", "charge_k", Kelvin, (260.0, 400.0), "temperature of the charge in the manifold", |p| &mut p.breathing.charge_k),
    part("engine", "exhaust_mbar", Millibar, (0.0, 300.0), "exhaust pressure above ambient", |p| &mut p.breathing.exhaust_above_pa),
    part("engine", "overlap_deg_m", DegreePerMetre, (0.0, 3.0), "valve overlap factor", |p| &mut p.breathing.overlap_deg_m),
    part("engine", "residual_phi", One, (0.0, 1.0), "how much of the factor phi the trapped residual gas follows", |p| &mut p.breathing.residual_phi),
    part("engine", "efficiency", One, (0.15, 0.5), "indicated efficiency at lambda 1, best timing and compression ratio 9", |p| &mut p.efficiency),
    part("engine", "rubbing_scale", One, (0.3, 3.0), "rubbing friction against the published mean of engines", |p| &mut p.rubbing_scale),
    part("engine", "accessories_bar", Bar, (0.0, 3.0), "consumers and accessories as a mean effective pressure", |p| &mut p.accessories_pa),

    part("burn", "spark_deg", Degree, (-10.0, 50.0), "spark advance before top dead centre", |p| &mut p.burn.spark_deg),
    part("burn", "idle_spark_deg_per_rpm", DegreePerRpm, (0.0, 0.5), "how much earlier the spark comes for each rpm that the idle is too slow", |p| &mut p.idle_spark.deg_per_rad_s),
    part("burn", "idle_spark_most_deg", Degree, (0.0, 20.0), "the most the spark comes earlier for that; a third of it later", |p| &mut p.idle_spark.most_deg),
    part("burn", "half_burnt_deg", Degree, (15.0, 90.0), "crank angle from spark to half burnt at lambda 1, warm idle", |p| &mut p.burn.half_burnt_deg),
    part("burn", "best_deg", Degree, (0.0, 20.0), "best place of the half-burnt point after top dead centre", |p| &mut p.burn.best_deg),
    part("burn", "volume_work", One, (0.0, 1.0), "how much of a late burn's work goes by volume, the rest by the parabola of lateness_per_deg2", |p| &mut p.burn.volume_work),
    part("burn", "lateness_per_deg2", PerSquareDegree, (1e-5, 2e-3), "torque lost for a half-burnt point away from the best, by the parabola", |p| &mut p.burn.lateness_per_deg2),
    part("burn", "scatter_deg", Degree, (0.0, 15.0), "scatter of the half-burnt point from cycle to cycle at lambda 1, warm idle", |p| &mut p.burn.scatter_deg),
    part("burn", "scatter_exponent", One, (0.0, 6.0), "power of the burn's length with which that scatter grows", |p| &mut p.burn.scatter_exponent),
    part("burn", "fuel_scatter_percent", Percent, (0.0, 12.0), "fuel that differs from cycle to cycle, rms", |p| &mut p.burn.fuel_scatter),
    part("burn", "charge_scatter_percent", Percent, (0.0, 10.0), "charge that differs from cycle to cycle, rms", |p| &mut p.burn.charge_scatter),
    part("burn", "ignition_limit_lambda", One, (1.1, 2.5), "mixture at which half of the cycles no longer ignite, whatever the residual gas; 2.5 is off", |p| &mut p.burn.ignition_limit),
    part("burn", "gas_fuel_limit", One, (18.0, 100.0), "mass of air, fuel and residual gas for each mass of fuel at which half of the cycles no longer ignite; 100 is off", |p| &mut p.burn.gas_fuel_limit),
    part("burn", "cold_charge_k_per_k", One, (0.0, 2.0), "how much colder the charge is at the spark for each kelvin of coolant below 90 degC", |p| &mut p.burn.cold_charge),
    part("burn", "liquid_scatter", One, (0.0, 1.0), "what the liquid share of the fuel adds to its scatter", |p| &mut p.burn.liquid_scatter),

    part("sensing", "tip_degc", Celsius, (550.0, 1000.0), "temperature of the lambda sensor's tip", |p| &mut p.sensor.tip_k),
    part("sensing", "rich_cap_v", Volt, (0.5, 1.2), "the most the lambda sensor shows in rich gas", |p| &mut p.sensor.rich_cap_v),
    part("sensing", "track_start_v", Volt, (0.0, 0.5), "airflow potentiometer: voltage at the start of the track", |p| &mut p.potentiometer.start_v),
    part("sensing", "track_rise_v", Volt, (0.5, 10.0), "airflow potentiometer: rise of the track", |p| &mut p.potentiometer.rise_v),
    part("sensing", "track_housing_mm", Millimetre, (-5.0, 10.0), "airflow potentiometer: where the housing puts the track's start, plate height below the throat", |p| &mut p.potentiometer.housing_m),
    part("sensing", "track_bend_mm", Millimetre, (2.0, 100.0), "airflow potentiometer: plate height over which the track bends", |p| &mut p.potentiometer.bend_m),
    part("sensing", "coolant_ohm_25", Ohm, (100.0, 100_000.0), "coolant thermistor: resistance at 25 degC", |p| &mut p.thermistor.ohm_25),
    part("sensing", "track_ohm", Ohm, (100.0, 100_000.0), "airflow potentiometer: resistance of the whole track", |p| &mut p.potentiometer.track_ohm),
    part("sensing", "supply_v", Volt, (4.35, 5.35), "airflow potentiometer: supply", |p| &mut p.potentiometer.supply_v),

    part("controller", "base_ma", Milliampere, (-20.0, 50.0), "actuator current of the warm engine without trim", |p| &mut p.controller.base_a),
    part("controller", "authority_ma", Milliampere, (1.0, 50.0), "the most the trim adds to that or takes from it", |p| &mut p.controller.authority_a),
    part("controller", "current_low_ma", Milliampere, (-100.0, 0.0), "least current the actuator can be given", |p| &mut p.controller.least_a),
    part("controller", "current_high_ma", Milliampere, (10.0, 300.0), "largest current the actuator can be given", |p| &mut p.controller.most_a),
    part("controller", "altitude_sensor", One, (0.0, 1.0), "1 if an altitude sensor is fitted; it acts in the running engine", |p| &mut p.controller.altitude_sensor),
    part("controller", "exhaust_temperature_sensor", One, (0.0, 1.0), "1 if an exhaust-temperature sensor is fitted; it acts in the running engine", |p| &mut p.controller.exhaust_temperature_sensor),
    part("controller", "closed_loop_degc", Celsius, (0.0, 100.0), "coolant temperature from which the trim closes its loop", |p| &mut p.controller.closed_loop_from_k),
    part("controller", "idle_rpm", Rpm, (400.0, 1500.0), "idle speed of the warm engine", |p| &mut p.controller.idle_rad_s),
    part("controller", "idle_rise_rpm_k", RpmPerKelvin, (0.0, 20.0), "rise of the idle speed for each kelvin of coolant below 60 degC", |p| &mut p.controller.idle_rise_rad_s_k),
    part("controller", "limit_rpm", Rpm, (2000.0, 9000.0), "speed above which the controller cuts the fuel", |p| &mut p.controller.limit_rad_s),
    part("controller", "stall_rpm", Rpm, (150.0, 600.0), "speed below which the engine has stalled", |p| &mut p.controller.stall_rad_s),

    part("moving", "manifold_l", Litre, (0.5, 30.0), "volume of the intake manifold", |p| &mut p.dynamics.manifold_m3),
    part("moving", "inertia_kg_m2", KilogramSquareMetre, (0.02, 2.0), "moment of inertia at the crank", |p| &mut p.dynamics.inertia_kg_m2),
    part("moving", "plate_kg", Kilogram, (0.02, 1.0), "mass of plate and lever, at the plate", |p| &mut p.dynamics.plate_kg),
    part("moving", "plate_damping_ns_m", NewtonSecondPerMetre, (5.0, 200.0), "damping of the plate", |p| &mut p.dynamics.plate_damping_ns_m),
    part("moving", "film_share", One, (0.0, 0.8), "share of the fuel that wets the wall, warm", |p| &mut p.dynamics.film_share),
    part("moving", "film_s", Second, (0.05, 5.0), "time the film takes to evaporate, warm, at idle", |p| &mut p.dynamics.film_s),
    part("moving", "pipe_l", Litre, (0.05, 10.0), "volume of the exhaust pipe before the lambda sensor", |p| &mut p.dynamics.pipe_m3),
    part("moving", "charge_to_port_rev", One, (0.0, 4.0), "revolutions from a charge drawn in to its gas at the exhaust port", |p| &mut p.dynamics.charge_to_port_rev),
    part("moving", "sensor_lag_s", Second, (0.0, 2.0), "lag of the lambda sensor", |p| &mut p.dynamics.sensor_lag_s),
    part("moving", "trim_slope_ma_s", MilliamperePerSecond, (0.1, 50.0), "slope of the two-point trim", |p| &mut p.gains.trim_slope_a_s),
    part("moving", "trim_jump_ma", Milliampere, (0.0, 10.0), "jump of the two-point trim, peak to peak", |p| &mut p.gains.trim_jump_a),
    part("moving", "fast_trim_s", Second, (1.0, 1000.0), "time constant of the fast idle trim", |p| &mut p.gains.fast_trim_s),
    part("moving", "idle_kp_per_rpm", PerRpm, (0.0, 0.01), "idle speed control, opening for each rpm too slow", |p| &mut p.gains.idle_kp),
    part("moving", "idle_ki_per_rpm_s", PerRpmSecond, (0.0, 0.01), "idle speed control, opening for each rpm too slow and second", |p| &mut p.gains.idle_ki),
    part("moving", "idle_lead_per_rpm_s", PerRpmPerSecond, (0.0, 0.01), "idle speed control, opening for each rpm a second that the speed falls", |p| &mut p.idle.lead),
    part("moving", "idle_lead_lag_s", Second, (0.01, 1.0), "lag of the slope that this lead sees", |p| &mut p.idle.lead_lag_s),
    part("moving", "idle_lead_most_percent", Percent, (0.0, 100.0), "the most this lead opens or closes the valve, of full", |p| &mut p.idle.lead_most),
    part("moving", "idle_shuts_most_percent", Percent, (0.0, 100.0), "the most the proportional part closes the valve, of full", |p| &mut p.idle.shuts_most),
    part("moving", "dash_pot_per_rpm", PerRpm, (0.0, 0.01), "dash-pot, opening for each rpm above where it begins", |p| &mut p.idle.dash),
    part("moving", "dash_pot_above_rpm", Rpm, (0.0, 1000.0), "how far above the idle speed wanted the dash-pot begins", |p| &mut p.idle.dash_above_rad_s),
    part("moving", "dash_pot_s", Second, (0.1, 30.0), "time in which the dash-pot lets go after the pedal's release", |p| &mut p.idle.dash_s),
    part("moving", "cut_above_rpm", Rpm, (800.0, 9000.0), "overrun: speed above which the fuel is cut", |p| &mut p.idle.cut_above_rad_s),
    part("moving", "cut_after_s", Second, (0.0, 10.0), "overrun: time after which it is cut", |p| &mut p.idle.cut_after_s),
    part("moving", "cut_resume_rpm", Rpm, (700.0, 9000.0), "overrun: speed at which it comes back", |p| &mut p.idle.resume_rad_s),
    part("moving", "valve_lag_s", Second, (0.005, 1.0), "lag of the idle air valve", |p| &mut p.dynamics.valve_lag_s),
    part("memory", "memory_v", Volt, (3.0, 12.0), "voltage that the memory's capacitor is charged to", |p| &mut p.memory.supply_v),
    part("memory", "memory_holds_s", Second, (1.0, 1000.0), "time constant of the memory on its capacitor", |p| &mut p.memory.holds_s),
    part("memory", "memory_forgets_v", Volt, (0.5, 4.9), "voltage below which the memory forgets", |p| &mut p.memory.forgets_v),

    part("starting", "starter_stall_nm", NewtonMetre, (20.0, 1000.0), "torque of the starter at the standing crank", |p| &mut p.starting.stall_nm),
    part("starting", "starter_free_rpm", Rpm, (100.0, 800.0), "crank speed at which the starter's torque is gone", |p| &mut p.starting.free_rad_s),
    part("starting", "start_valve_g_s", GramPerSecond, (0.0, 5.0), "fuel of the start valve", |p| &mut p.starting.start_valve_kg_s),
    part("starting", "caught_rpm", Rpm, (300.0, 800.0), "crank speed from which the engine counts as caught", |p| &mut p.starting.caught_rad_s),
    part("starting", "held_on_s", Second, (0.0, 3.0), "how much longer the starter is held on", |p| &mut p.starting.held_on_s),

    number("screw", Turns, (-2.0, 2.0), "mixture screw from where the rig stands, clockwise (richer) positive", Condition(|c| &mut c.screw_turns)),
    number("altitude_m", Metre, (-400.0, 5000.0), "height above the sea; gives the pressure only", Condition(|c| &mut c.altitude_m)),
    number("ambient_degc", Celsius, (-40.0, 55.0), "temperature of the outside air, whatever the height", Condition(|c| &mut c.ambient_k)),
    number("coolant_degc", Celsius, (-40.0, 125.0), "temperature of the coolant", Condition(|c| &mut c.coolant_k)),
    number("fuel_degc", Celsius, (-40.0, 90.0), "temperature of the fuel at the slits", Condition(|c| &mut c.fuel_k)),
    number("speed_rpm", Rpm, (400.0, 6500.0), "engine speed held; the rig's idle unless given", Optional(|c| &mut c.speed_rad_s)),
    number("throttle_percent", Percent, (0.0, 100.0), "throttle opening, share of its travel", Condition(|c| &mut c.throttle)),
    number("leak_kg_h", KilogramPerHour, (0.0, 60.0), "unmetered air let in after the throttle, while choked", Condition(|c| &mut c.leak_kg_s)),
    words("trim", "whether the trim's loop is closed",
        Choice { words: &["off", "on"], get: |c| (c.trim == Trim::On) as usize, set: |c, i| c.trim = [Trim::Off, Trim::On][i] }),
    words("idle_air", "at a closed throttle: the valve holds the speed, or keeps its opening",
        Choice { words: &["held", "fixed"], get: |c| (c.idle_air == IdleAir::Fixed) as usize, set: |c, i| c.idle_air = [IdleAir::Held, IdleAir::Fixed][i] }),
    words("fuel", "petrol with 0, 5 or 10 % of ethanol by volume",
        Choice { words: &["e0", "e5", "e10"], get: |c| c.petrol as usize, set: |c, i| c.petrol = [Petrol::E0, Petrol::E5, Petrol::E10][i] }),
    words("flame", "law of the flame speed",
        Choice { words: &["gasoline", "iso-octane", "flat-rich", "gulder"], get: |c| c.flame as usize, set: |c, i| c.flame = FLAME_LAWS[i] }),
    number("actuator_ma", Milliampere, (-50.0, 150.0), "current forced through the actuator, 0 is unplugged; the controller's unless given", Optional(|c| &mut c.actuator_a)),
    number("housing_mm", Millimetre, (-5.0, 5.0), "turn of the potentiometer's housing, as plate height; positive raises the voltage", Condition(|c| &mut c.housing_shift_m)),
    number("rest_height_mm", Millimetre, (-1.5, 1.5), "how much higher than the rig's stop the plate rests", Condition(|c| &mut c.rest_height_m)),
    number("linkage_play_mm", Millimetre, (-5.0, 5.0), "free play of the throttle linkage; below 0 it holds the throttle off its stop", Condition(|c| &mut c.linkage_play_m)),
    number("wear_mv", Millivolt, (0.0, 1000.0), "voltage lost where the potentiometer's track is worn, at the deepest", Condition(|c| &mut c.wear.depth_v)),
    number("wear_at_mm", Millimetre, (-10.0, 60.0), "where it is worn: plate height above that of the rig's idle at lambda 1", Condition(|c| &mut c.wear.above_idle_m)),
    number("wear_width_mm", Millimetre, (0.005, 10.0), "half width of the worn place, as plate height", Condition(|c| &mut c.wear.width_m)),
    number("wear_ohm", Ohm, (0.0, 1e6), "contact resistance at the deepest of the worn place", Condition(|c| &mut c.wear.contact_ohm)),
    number("misfire_percent", Percent, (0.0, 50.0), "cycles lost to a dead spark", Condition(|c| &mut c.misfire)),
    number("exhaust_leak_percent", Percent, (0.0, 50.0), "leak air before the lambda sensor, share of the air breathed", Condition(|c| &mut c.exhaust_leak)),
    number("rough_cov_percent", Percent, (0.5, 100.0), "COV of imep above which the engine is called rough", Condition(|c| &mut c.ear.cov)),
    number("rough_misfire_percent", Percent, (0.01, 100.0), "lost cycles of all cylinders above which it is called rough", Condition(|c| &mut c.ear.misfire)),
    number("rough_speed_drop_rpm", Rpm, (1.0, 2000.0), "fall of the speed below its best, the idle air unchanged, above which it is called rough", Condition(|c| &mut c.ear.speed_drop_rad_s)),
    number("rough_damping", One, (0.0, 0.5), "damping ratio of the idle's slowest mode below which it hunts and is called rough", Condition(|c| &mut c.ear.damping)),
];
