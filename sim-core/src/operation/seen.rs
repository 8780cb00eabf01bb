//! What the controller makes of its sensors: the air flow it takes the voltage for, and the
//! current it gives before any trim.

use super::operating_state::{Lies, OperatingState, Plant};
use crate::air::atmosphere::standard_pressure_pa;
use crate::assembly::{NOMINAL_DEGC, Nominal, Parts, Reference};
use crate::conditions::Conditions;
use crate::control::trim::{FULL_LOAD, full_load_a, warm_up_share};
use crate::sense::faults::{Altitude, ThrottleSwitch};
use crate::units::{ATMOSPHERE_PA, ZERO_CELSIUS_K};
use std::f64::consts::PI;

/// Height that a stuck altitude sensor signals (m).
const STUCK_AT_M: f64 = 1500.0;
/// Density of air at sea level and 20 degC (kg/m3).
const NOMINAL_KG_M3: f64 = 1.204;

impl Nominal {
    /// Air flow (kg/s) that a voltage (V) stands for on the sound rig at sea level and 20 degC.
    ///
    /// Equation: `m = C A(z(V)) sqrt(2 rho dp)`, `z(V)` the inverse of the track's law. Valid
    /// range: a plate in its funnel. Source: both laws, each at its own place; what the
    /// controller does not know (a turned housing, a pit, thin air) is in its error.
    pub fn air_kg_s(&self, voltage_v: f64) -> f64 {
        self.flow_kg_s_m2 * self.plate.area_m2(self.potentiometer.height_m(voltage_v))
    }

    /// Air of the sound idle at a coolant temperature (kg/s).
    pub fn idle_air_kg_s(&self, coolant_k: f64) -> f64 {
        by_coolant(&self.idle_air_kg_s, coolant_k)
    }

    /// Duty of the idle air valve in the sound idle at a coolant temperature: what the
    /// controller gives before it looks at the speed.
    pub fn idle_duty(&self, coolant_k: f64) -> f64 {
        by_coolant(&self.idle_duty, coolant_k)
    }
}

/// A row over [`NOMINAL_DEGC`] on straight lines, the ends beyond.
fn by_coolant(row: &[f64; NOMINAL_DEGC.len()], coolant_k: f64) -> f64 {
    let degc = coolant_k - ZERO_CELSIUS_K;
    let above = NOMINAL_DEGC.partition_point(|at| *at <= degc);
    match above {
        0 => row[0],
        n if n == row.len() => row[n - 1],
        n => {
            let (low, high) = (NOMINAL_DEGC[n - 1], NOMINAL_DEGC[n]);
            row[n - 1] + (row[n] - row[n - 1]) * (degc - low) / (high - low)
        }
    }
}

/// Density of the air over that at sea level, as the controller takes it: 1 without an
/// altitude sensor that works.
fn thinner(parts: &Parts, conditions: &Conditions) -> f64 {
    let altitude_m = match conditions.faults.altitude {
        _ if parts.controller.altitude_sensor < 0.5 => return 1.0,
        Altitude::Missing => return 1.0,
        Altitude::Sound => conditions.altitude_m,
        Altitude::Stuck => STUCK_AT_M,
    };
    standard_pressure_pa(altitude_m) / ATMOSPHERE_PA
}

/// Air flow (kg/s) that the controller takes a voltage (V) for.
pub(crate) fn air_kg_s(
    (parts, reference): (&Parts, &Reference),
    conditions: &Conditions,
    voltage_v: f64,
) -> f64 {
    air_of_nominal_kg_s(parts, conditions, reference.nominal.air_kg_s(voltage_v))
}

/// The same where what the voltage stands for on the sound rig is known (kg/s).
pub(crate) fn air_of_nominal_kg_s(
    parts: &Parts,
    conditions: &Conditions,
    nominal_kg_s: f64,
) -> f64 {
    nominal_kg_s * thinner(parts, conditions).sqrt()
}

/// Base current of the moment (A): by the coolant, the less of the warm-up the more air flows
/// than the sound idle takes (both kg/s), and by the height where a sensor for it is fitted.
///
/// Equation: `dp_slit(I) = dp_slit(I_0) p/p_0`: the fuel falls with the square root of the
/// air's density, as the metered air does at a given plate height. Source: our own.
pub(crate) fn base_a(
    (parts, reference): (&Parts, &Reference),
    conditions: &Conditions,
    seen_kg_s: f64,
) -> f64 {
    let controller = &parts.controller;
    let seen_k = conditions.seen_coolant_k(&parts.thermistor);
    let share = match controller.warm_up_a(seen_k) > 0.0 {
        true => warm_up_share_of(reference, seen_k, seen_kg_s),
        false => 1.0,
    };
    let base_a = controller.base_current_at_a(seen_k, share);
    let thinner = thinner(parts, conditions);
    if thinner == 1.0 {
        return base_a;
    }
    let drop_pa = parts.pressures.slit_drop_pa(base_a) * thinner;
    parts.pressures.current_for_drop_a(drop_pa).clamp(controller.least_a, controller.most_a)
}

/// Share of the warm-up at an air flow (kg/s), the coolant taken for a temperature (K).
pub(crate) fn warm_up_share_of(reference: &Reference, seen_k: f64, seen_kg_s: f64) -> f64 {
    warm_up_share(seen_kg_s / reference.nominal.idle_air_kg_s(seen_k))
}

/// Share of its displacement that an engine draws in of air at sea level and 20 degC, at an air
/// flow (kg/s) and a speed (rad/s).
pub(crate) fn filling(parts: &Parts, air_kg_s: f64, speed_rad_s: f64) -> f64 {
    let cycle_kg = air_kg_s * 4.0 * PI / speed_rad_s;
    cycle_kg / (parts.breathing.displacement_m3 * NOMINAL_KG_M3)
}

impl Plant {
    /// Height of the plate at a manifold pressure and a speed (m).
    pub fn height_at_m(&self, manifold_pa: f64, speed_rad_s: f64) -> f64 {
        self.plate_height(self.air_kg_s(manifold_pa, speed_rad_s) - self.leak_kg_s(manifold_pa)).1
    }

    /// Height of the plate at a metered air flow (m); `None` outside its funnel.
    pub fn afloat_height_m(&self, metered_kg_s: f64) -> Option<f64> {
        let (lies, height_m) = self.plate_height(metered_kg_s);
        (lies == Lies::Afloat).then_some(height_m)
    }

    /// Voltage of the airflow potentiometer at a plate height (V), on its track as worn.
    pub fn potentiometer_v(&self, conditions: &Conditions, height_m: f64) -> f64 {
        self.parts.potentiometer.worn_voltage_v(
            height_m,
            conditions.housing_shift_m,
            &conditions.wear,
            self.reference.idle_height_m,
        )
    }

    /// Air flow (kg/s) that the controller takes a plate height (m) for.
    pub fn seen_air_kg_s(&self, conditions: &Conditions, height_m: f64) -> f64 {
        let voltage_v = self.potentiometer_v(conditions, height_m);
        air_kg_s((&self.parts, &self.reference), conditions, voltage_v)
    }

    /// Air flow (kg/s) that the controller takes one for. `None` with the plate outside its
    /// funnel.
    pub fn seen_air_of_kg_s(&self, conditions: &Conditions, air_kg_s: f64) -> Option<f64> {
        Some(self.seen_air_kg_s(conditions, self.afloat_height_m(air_kg_s)?))
    }

    /// Air flow (kg/s) that the controller takes for another, on a sound track with its housing
    /// as it is turned. `None` with the plate outside its funnel.
    pub fn air_taken_for_kg_s(&self, conditions: &Conditions, seen_kg_s: f64) -> Option<f64> {
        let nominal = &self.reference.nominal;
        let thinner = thinner(&self.parts, conditions).sqrt();
        let area_m2 = seen_kg_s / (thinner * nominal.flow_kg_s_m2);
        let shown_v = nominal.potentiometer.voltage_v(nominal.plate.height_m(area_m2)?, 0.0);
        let height_m = self.parts.potentiometer.height_m(shown_v) - conditions.housing_shift_m;
        Some(self.air_by_height_kg_s(height_m))
    }

    /// Base current with the plate at a height (A).
    pub fn base_a(&self, conditions: &Conditions, height_m: f64) -> f64 {
        let seen_kg_s = self.seen_air_kg_s(conditions, height_m);
        base_a((&self.parts, &self.reference), conditions, seen_kg_s)
    }

    /// Whether the full-load switch is closed: the loop of the trim is open then.
    pub fn full_load_switch(&self, conditions: &Conditions) -> bool {
        let sound = conditions.faults.throttle_switch != ThrottleSwitch::NoFull;
        conditions.throttle >= FULL_LOAD && sound
    }

    /// Current on top of the base at full load (A): 0 unless the switch of the wide-open throttle
    /// is closed.
    pub fn full_load_a(&self, conditions: &Conditions, state: &OperatingState) -> f64 {
        if !self.full_load_switch(conditions) {
            return 0.0;
        }
        let seen_kg_s = self.seen_air_kg_s(conditions, state.height_m);
        full_load_a(filling(&self.parts, seen_kg_s, state.speed_rad_s), state.speed_rad_s)
    }

    /// Duty that the controller gives the idle air valve before it looks at the speed.
    pub fn idle_duty(&self, conditions: &Conditions) -> f64 {
        self.reference.nominal.idle_duty(conditions.seen_coolant_k(&self.parts.thermistor))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::shipped::shipped;

    /// At a height the plate lets pass air by the root of its density: with a sensor for the
    /// altitude the controller takes the same mass for the same, without one for more.
    #[test]
    fn high_up_the_same_air_is_taken_for_the_same_only_with_an_altitude_sensor() {
        for (name, has_sensor) in [("eight", true), ("six", false)] {
            let rig = shipped(name).unwrap().rig;
            let seen_over_true = |altitude_m: f64| {
                let conditions = Conditions { altitude_m, ..Conditions::default() };
                let plant = Plant::new(rig.parts(), rig.reference(), &conditions);
                let air_kg_s = 20.0 / 3600.0;
                plant.seen_air_of_kg_s(&conditions, air_kg_s).unwrap() / air_kg_s
            };
            for altitude_m in [1000.0, 2500.0] {
                let density = standard_pressure_pa(altitude_m) / ATMOSPHERE_PA;
                let expected = if has_sensor { 1.0 } else { 1.0 / density.sqrt() };
                let off = seen_over_true(altitude_m) / seen_over_true(0.0) / expected - 1.0;
                assert!(off.abs() < 5e-3, "{name} at {altitude_m} m: off by {off}");
            }
        }
    }
}
