//! The one list of readings.

use super::State;
use crate::units::Unit;

/// What stands for a reading over a time in which it swings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Averaging {
    /// Its mean.
    Mean,
    /// Its largest value.
    Largest,
}

/// One reading of a running engine.
#[non_exhaustive]
pub struct Reading {
    /// Name with unit: JSON key and CSV header.
    pub name: &'static str,
    /// Words for tables and axes.
    pub label: &'static str,
    /// Unit of the value.
    pub unit: Unit,
    /// Decimals a person wants to see.
    pub decimals: usize,
    /// The value, SI.
    pub get: fn(&State) -> Option<f64>,
    /// Puts a value, SI, where `get` finds it.
    pub set: fn(&mut State, f64),
    /// What stands for it over a time in which it swings.
    pub averaging: Averaging,
}

impl Reading {
    /// The reading of a name.
    pub fn find(name: &str) -> Option<&'static Reading> {
        READINGS.iter().find(|reading| reading.name == name)
    }

    /// Its words up to the first comma, for titles and sentences.
    pub fn short_label(&self) -> &'static str {
        self.label.split(',').next().unwrap_or(self.label)
    }

    /// The value in the reading's unit, where it means something: the mixture of an engine
    /// without fuel has no lambda.
    pub fn value(&self, state: &State) -> Option<f64> {
        (self.get)(state).map(|si| self.unit.from_si(si)).filter(|value| value.is_finite())
    }
}

const fn reading(
    name: &'static str,
    label: &'static str,
    unit: Unit,
    decimals: usize,
    get: fn(&State) -> Option<f64>,
    set: fn(&mut State, f64),
) -> Reading {
    let averaging = Averaging::Mean;
    Reading { name, label, unit, decimals, get, set, averaging }
}

/// Every reading, in the order of tables and files.
#[rustfmt::skip]
pub static READINGS: &[Reading] = &[
    reading("lambda", "lambda", Unit::One, 3, State::told_lambda, |s, v| s.lambda = v),
    reading("cov_percent", "roughness (COV of imep)", Unit::Percent, 1, State::told_cov, |s, v| s.cov = v),
    reading("misfire_percent", "misfired cycles", Unit::Percent, 1, |s| Some(s.misfire), |s, v| s.misfire = v),
    reading("speed_rpm", "speed", Unit::Rpm, 0, |s| Some(s.speed_rad_s), |s, v| s.speed_rad_s = v),
    reading("manifold_bar", "manifold pressure, absolute", Unit::Bar, 3, |s| Some(s.manifold_pa), |s, v| s.manifold_pa = v),
    reading("residual_fraction", "residual gas", Unit::One, 3, |s| Some(s.residual_fraction), |s, v| s.residual_fraction = v),
    reading("air_kg_h", "air", Unit::KilogramPerHour, 2, |s| Some(s.air_kg_s), |s, v| s.air_kg_s = v),
    reading("metered_air_kg_h", "air past the plate", Unit::KilogramPerHour, 2, |s| Some(s.metered_kg_s), |s, v| s.metered_kg_s = v),
    reading("fuel_kg_h", "fuel", Unit::KilogramPerHour, 3, |s| Some(s.fuel_kg_s), |s, v| s.fuel_kg_s = v),
    reading("plate_lift_mm", "plate above rest", Unit::Millimetre, 2, |s| Some(s.plate_lift_m), |s, v| s.plate_lift_m = v),
    reading("potentiometer_v", "airflow potentiometer", Unit::Volt, 3, |s| Some(s.potentiometer_v), |s, v| s.potentiometer_v = v),
    reading("actuator_ma", "actuator current", Unit::Milliampere, 1, |s| Some(s.actuator_a), |s, v| s.actuator_a = v),
    reading("duty_percent", "duty, above 50 adds fuel", Unit::Percent, 0, |s| Some(s.duty), |s, v| s.duty = v),
    reading("trim_fuel_percent", "fuel added beyond the base", Unit::Percent, 1, |s| Some(s.trim_fuel), |s, v| s.trim_fuel = v),
    reading("wanted_ma", "current wanted for lambda 1", Unit::Milliampere, 1, |s| s.wanted_a, |s, v| s.wanted_a = Some(v)),
    reading("wanted_duty_percent", "duty wanted for lambda 1", Unit::Percent, 0, |s| s.wanted_duty, |s, v| s.wanted_duty = Some(v)),
    reading("slit_drop_bar", "pressure drop over the slits", Unit::Bar, 3, |s| Some(s.slit_drop_pa), |s, v| s.slit_drop_pa = v),
    reading("system_bar", "system pressure", Unit::Bar, 2, |s| Some(s.system_pa), |s, v| s.system_pa = v),
    reading("lower_chamber_bar", "lower chamber", Unit::Bar, 2, |s| Some(s.lower_chamber_pa), |s, v| s.lower_chamber_pa = v),
    reading("lower_chamber_below_bar", "lower chamber below the system", Unit::Bar, 2, |s| Some(s.system_pa - s.lower_chamber_pa), |s, v| s.lower_chamber_pa = s.system_pa - v),
    reading("line_bar", "injection line", Unit::Bar, 2, |s| Some(s.line_pa), |s, v| s.line_pa = v),
    reading("co_percent", "CO, dry, before the catalyst", Unit::Percent, 2, |s| Some(s.co), |s, v| s.co = v),
    reading("sensor_v", "lambda sensor", Unit::Volt, 2, |s| Some(s.sensor_v), |s, v| s.sensor_v = v),
    reading("idle_valve_percent", "idle air valve", Unit::Percent, 0, |s| Some(s.idle_valve), |s, v| s.idle_valve = v),
    reading("brake_nm", "brake torque", Unit::NewtonMetre, 1, |s| Some(s.brake_nm), |s, v| s.brake_nm = v),
    reading("friction_band_percent", "lambda either way by plunger friction", Unit::Percent, 1, |s| Some(s.friction_band), |s, v| s.friction_band = v),
    Reading { averaging: Averaging::Largest, ..reading("residual", "largest relative residual", Unit::One, 0, |s| Some(s.residual), |s, v| s.residual = v) },
];

/// The readings that a workshop has a meter for, the ear among them, the most important first:
/// tachometer, voltmeter, duty meter, exhaust gas meter, vacuum gauge, the ear, ammeter,
/// pressure gauge. A gas meter works lambda out. Common practice, no source.
pub static WORKSHOP_READINGS: &[&str] = &[
    "speed_rpm",
    "potentiometer_v",
    "sensor_v",
    "duty_percent",
    "co_percent",
    "manifold_bar",
    "cov_percent",
    "lambda",
    "actuator_ma",
    "system_bar",
    "lower_chamber_bar",
];

/// The ranges of the meter of each of [`WORKSHOP_READINGS`], the finest first, in the reading's
/// unit: a reading is shown on the first that holds it.
///
/// Common practice, no source: a tachometer of an idle tester; the 2 and 20 V, the 20 and
/// 200 mA ranges of a multimeter; the window of a lambda sensor's tester; an infrared gas
/// meter, with lambda as it works it out; a gauge of absolute pressure, and one of 10 bar. For
/// roughness, which no meter shows, the range within which an ear tells more from less.
pub static WORKSHOP_RANGES: &[(&str, &[(f64, f64)])] = &[
    ("speed_rpm", &[(0.0, 1500.0), (0.0, 6000.0)]),
    ("potentiometer_v", &[(0.0, 2.0), (0.0, 20.0)]),
    ("sensor_v", &[(0.0, 1.0), (0.0, 2.0)]),
    ("duty_percent", &[(0.0, 100.0)]),
    ("co_percent", &[(0.0, 15.0)]),
    ("manifold_bar", &[(0.0, 1.0), (0.0, 2.5)]),
    ("cov_percent", &[(0.0, 20.0), (0.0, 100.0)]),
    ("lambda", &[(0.7, 1.3), (0.5, 2.0)]),
    ("actuator_ma", &[(-20.0, 20.0), (-200.0, 200.0)]),
    ("system_bar", &[(0.0, 10.0)]),
    ("lower_chamber_bar", &[(0.0, 10.0)]),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_workshop_reading_has_ranges_each_within_the_next() {
        let names: Vec<&str> = WORKSHOP_RANGES.iter().map(|(name, _)| *name).collect();
        assert_eq!(names, WORKSHOP_READINGS);
        for (name, ranges) in WORKSHOP_RANGES {
            assert!(Reading::find(name).is_some() && !ranges.is_empty(), "{name}");
            for pair in ranges.windows(2) {
                assert!(pair[1].0 <= pair[0].0 && pair[1].1 > pair[0].1, "{name}");
            }
        }
    }
}
