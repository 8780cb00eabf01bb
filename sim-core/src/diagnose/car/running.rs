//! What meters show of the running engine.

use super::Car;
use crate::conditions::{IdleAir, Trim};
use crate::diagnose::causes::Changed;
use crate::diagnose::sheet::{Kind, Taken};
use crate::engine::exhaust::{HC_BASE, mixed_gas};
use crate::point::State;
use crate::rig::keys::Setup;
use crate::sense::faults::LAZY;
use crate::sense::lambda_sensor::LambdaSensor;
use crate::sense::meter::loaded_v;
use crate::steady::SteadyEngine;
use crate::units::Unit;

impl Car {
    /// What a meter shows of a state of the running engine.
    pub(crate) fn running_value(&self, kind: Kind, setup: &Setup, state: &State) -> Option<f64> {
        let conditions = &setup.conditions;
        let gas = || {
            let parts = setup.rig.parts();
            let widths = &*parts.slits.width_m;
            let mean = widths.iter().sum::<f64>() / widths.len() as f64;
            // Each cylinder gets as its slit is wide.
            let lambdas: Vec<f64> = widths.iter().map(|w| state.lambda * mean / w).collect();
            let fuel = conditions.petrol.fuel();
            mixed_gas(&fuel, &lambdas, state.mean_misfire, conditions.exhaust_leak)
        };
        let loaded = |volts: f64, source: f64| match self.meter_ohm.is_finite() {
            true => loaded_v(volts, source, self.meter_ohm),
            false => volts,
        };
        match kind.name() {
            "vacuum_bar" => {
                let ambient_pa =
                    crate::air::atmosphere::standard_pressure_pa(conditions.altitude_m);
                Some(Unit::Bar.from_si(ambient_pa - state.manifold_pa))
            }
            "co2_percent" => Some(100.0 * gas().co2),
            "o2_percent" => Some(100.0 * (gas().o2 + self.o2)),
            "hc_ppm" => Some(1e6 * (gas().hc - HC_BASE + HC_BASE * self.hc)),
            // What a gas meter works out of its gases.
            "lambda" => {
                let leak = conditions.exhaust_leak;
                Some(LambdaSensor::reads(state.lambda, state.mean_misfire, leak))
            }
            "swing_s" => {
                use crate::sense::faults::Lambda;
                if conditions.trim == Trim::Off
                    || matches!(
                        conditions.faults.lambda,
                        Lambda::Dead | Lambda::Cold | Lambda::Stuck
                    )
                    || !(0.001..0.999).contains(&state.duty)
                {
                    return None;
                }
                let dynamics = &setup.rig.parts().dynamics;
                let lag = match conditions.faults.lambda {
                    Lambda::Lazy => LAZY * dynamics.sensor_lag_s,
                    _ => dynamics.sensor_lag_s,
                };
                let revolutions = dynamics.charge_to_port_rev * std::f64::consts::TAU;
                let late = revolutions / state.speed_rad_s;
                // The gas is hot: three times its volume when cold.
                let pipe = dynamics.pipe_m3 * 1.2 / (3.0 * state.air_kg_s);
                Some(4.0 * (late + pipe + lag) * self.swing.exp())
            }
            "potentiometer_v" => {
                let (parts, volts) = (setup.rig.parts(), state.potentiometer_v);
                let rests_m = conditions.rest_height_m - parts.plate.rest_below_throat_m;
                let wiper_m = rests_m + state.plate_lift_m + conditions.housing_shift_m;
                let idle_m = setup.rig.reference().idle_height_m;
                let track = &parts.potentiometer;
                let source = track.worn_source_ohm(volts, wiper_m, &conditions.wear, idle_m);
                Some(loaded(volts, source))
            }
            _ => {
                let reading = crate::point::Reading::find(kind.name())?;
                reading.value(state)
            }
        }
    }
}

impl Car {
    /// The state it is read in, and the engine as it stands then.
    pub(super) fn run(changed: &Changed, taken: Taken) -> Option<(Setup, State)> {
        let mut setup = changed.setup;
        setup.conditions.trim = if taken.plugged { Trim::On } else { Trim::Off };
        setup.conditions.screw_turns += taken.screw_turns;
        if taken.fast {
            setup.conditions = setup.conditions.at_fast_idle();
        }
        let at = |setup: &Setup| {
            let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
            steady.point(setup.conditions.screw_turns).state().copied()
        };
        if changed.other_fuel > 0.0 {
            // So much fuel beside the slits' is as if they passed so much more.
            let own = at(&setup)?.fuel_kg_s;
            let idle = match taken.fast {
                true => {
                    Car::run(
                        &Changed { other_fuel: 0.0, ..*changed },
                        Taken { fast: false, ..taken },
                    )?
                    .1
                    .fuel_kg_s
                }
                false => own,
            };
            let share = changed.other_fuel * idle / own;
            let wider = |p: &mut crate::rig::Parts| {
                p.slits.width_m.iter_mut().for_each(|w| *w *= 1.0 + share);
            };
            setup.rig = setup.rig.with_parts_beyond_ranges(wider).ok()?;
        }
        at(&setup).map(|state| (setup, state))
    }

    /// How far the speed falls on a fixed opening when one cylinder gets no spark (rpm).
    pub(super) fn fall_without_one(setup: &Setup) -> Option<f64> {
        let mut fixed = *setup;
        fixed.conditions.idle_air = IdleAir::Fixed;
        fixed.conditions.trim = Trim::Off;
        let speed = |setup: &Setup| {
            let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
            let point = steady.point(setup.conditions.screw_turns);
            point.state().map(|state| Unit::Rpm.from_si(state.speed_rad_s))
        };
        let all = speed(&fixed)?;
        fixed.conditions.misfire += 1.0 / setup.rig.parts().slits.width_m.len() as f64;
        // An engine that dies without one of its cylinders falls by half at least.
        Some(speed(&fixed).map_or(0.5 * all, |left| all - left))
    }
}
