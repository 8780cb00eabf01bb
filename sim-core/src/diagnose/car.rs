//! A car as it was set: a relative of a rig, its screw and housing where a workshop left them,
//! and what it shows.

use super::causes::{Changed, Named};
use super::sheet::{Kind, Slot, Taken, When};
use super::spread::Spread;
use crate::bleed::{Bleed, BleedRequest, bleed};
use crate::conditions::{Conditions, IdleAir, Trim};
use crate::engine::exhaust::{HC_BASE, mixed_gas};
use crate::fuel::slit::CYLINDERS;
use crate::noise::Noise;
use crate::point::State;
use crate::rig::Rig;
use crate::rig::keys::Setup;
use crate::rig::seeded::relative;
use crate::run::{Options, start::start};
use crate::sense::faults::{Coolant, ThrottleSwitch};
use crate::sense::lambda_sensor::LambdaSensor;
use crate::sense::meter::loaded_v;
use crate::steady::SteadyEngine;
use crate::units::Unit;

/// What a sound car differs by from another, one sigma, beside [`relative`]'s spread: our own
/// judgement.
mod spread {
    /// Where the screw was left beside a centred duty (turns).
    pub const SCREW: f64 = 1.0 / 128.0;
    /// Where the housing was left beside the rig's own voltage (V).
    pub const HOUSING_V: f64 = 0.012;
    /// How much higher or lower than its stop should be the plate rests at most (m).
    pub const REST_M: f64 = 0.15e-3;
    /// System pressure (Pa).
    pub const SYSTEM_PA: f64 = 0.05e5;
    /// The actuator's slope (share).
    pub const ACTUATOR: f64 = 0.02;
    /// Delivery of the pump (share).
    pub const PUMP: f64 = 0.05;
    /// Where the regulator closes (Pa).
    pub const CLOSES_PA: f64 = 0.1e5;
    /// Leaks of the fuel side (natural logarithm).
    pub const LEAKS: f64 = 0.3;
    /// An injector's opening (Pa).
    pub const INJECTOR_PA: f64 = 0.08e5;
    /// The fall of speed without a cylinder: of all (share), of each (rpm).
    pub const DROP: (f64, f64) = (0.15, 4.0);
    /// Resistance of the coolant sensor (logarithm).
    pub const COOLANT: f64 = 0.05;
    /// Resistance of a closed contact (logarithm).
    pub const CONTACT: f64 = 0.7;
    /// Hydrocarbons of a sound engine (logarithm).
    pub const HC: f64 = 0.25;
    /// Oxygen that a sound engine's crevices and probe add (share of the gas).
    pub const O2: f64 = 0.05e-2;
    /// Time of a swing (logarithm).
    pub const SWING: f64 = 0.15;
    /// Cranking of a cold engine (logarithm).
    pub const CRANKING: f64 = 0.2;
}

/// A closed contact, and an open one (ohm).
const CONTACT_OHM: (f64, f64) = (0.5, 1e6);
/// How much longer a lazy lambda sensor lags.
const LAZY: f64 = 10.0;
/// How far the plate is lifted for the glasses (m), and how long the pump runs (s).
pub(crate) const GLASSES: (f64, f64) = (8e-3, 60.0);

/// Other laws than those that the likelihood is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Law {
    /// The same ones.
    Same,
    /// Another law of the flame's speed.
    Flame,
    /// Half as much scatter from cycle to cycle again.
    Scatter,
    /// More rubbing friction, and a plunger that sticks.
    Friction,
    /// A fault that is not among the causes: a generator that drags.
    Unlisted,
}

/// Every law but the same.
pub const OTHER_LAWS: [Law; 4] = [Law::Flame, Law::Scatter, Law::Friction, Law::Unlisted];

impl Law {
    /// It in a word.
    pub fn word(self) -> &'static str {
        match self {
            Law::Same => "same",
            Law::Flame => "flame",
            Law::Scatter => "scatter",
            Law::Friction => "friction",
            Law::Unlisted => "unlisted cause",
        }
    }
}

/// A car.
#[derive(Clone, Copy, Debug)]
pub struct Car {
    setup: Setup,
    injector_pa: [f64; CYLINDERS],
    drop_rpm: f64,
    drops: [f64; CYLINDERS],
    coolant: f64,
    contact: f64,
    hc: f64,
    o2: f64,
    swing: f64,
    cranking: f64,
    meter_ohm: f64,
}

/// What all readings of one question share.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// Conditions of the rig as a workshop has it: weather, height, coolant.
    pub conditions: Conditions,
    /// Resistance of the voltmeter (ohm); infinite if it is not told.
    pub meter_ohm: f64,
}

impl Default for Asked {
    fn default() -> Self {
        Asked { conditions: Conditions::default(), meter_ohm: f64::INFINITY }
    }
}

impl Car {
    /// Item `item` of `seed`: a relative of a rig, set as a workshop sets it. `None` if it does
    /// not idle.
    pub fn drawn(base: &Rig, asked: &Asked, seed: u64, item: u64, law: Law) -> Option<Car> {
        Car::drawn_over(Spread::Seeded, base, asked, (seed, item, law))
    }

    /// The same over a spread.
    pub fn drawn_over(
        over: Spread<'_>,
        base: &Rig,
        asked: &Asked,
        (seed, item, law): (u64, u64, Law),
    ) -> Option<Car> {
        let about = match over {
            Spread::Seeded => {
                let drawn = relative(base, seed, item, spread::REST_M)?;
                let mut conditions = asked.conditions;
                conditions.flame = drawn.flame;
                conditions.rest_height_m = drawn.rest_height_m;
                Setup { rig: drawn.rig, conditions }
            }
            Spread::Own(draw) => draw(item)?,
        };
        let open = match over {
            Spread::Seeded => 1.0,
            Spread::Own(_) => 0.0,
        };
        let mut noise = Noise::new(seed ^ 0x9e37_79b9, item);
        let mut normal = || noise.normal();
        let mut rig = about.rig;
        rig = rig
            .with_parts_beyond_ranges(|p| {
                p.pressures.system_pa += open * spread::SYSTEM_PA * normal();
                p.pressures.actuator_per_amp_pa *= 1.0 + open * spread::ACTUATOR * normal();
                p.supply.pump.free_m3_s *= 1.0 + spread::PUMP * normal();
                p.supply.regulator_closes_pa += spread::CLOSES_PA * normal();
                p.supply.regulator_leak_m3_s *= (spread::LEAKS * normal()).exp();
                p.supply.check_leak_m3_s *= (spread::LEAKS * normal()).exp();
                if law == Law::Scatter {
                    p.burn.scatter_deg *= 1.5;
                    p.burn.fuel_scatter *= 1.5;
                }
                if law == Law::Friction {
                    p.rubbing_scale *= 1.25;
                }
            })
            .ok()?;
        let mut conditions = about.conditions;
        // A workshop sets a car at home: at sea level, warm.
        let home = Conditions {
            flame: conditions.flame,
            rest_height_m: conditions.rest_height_m,
            ..Conditions::default()
        };
        let (screw, housing) = (normal(), normal());
        if open > 0.0 {
            let steady = SteadyEngine::new(&rig, &home);
            let aim = steady.aim_turns()?;
            conditions.screw_turns = aim + spread::SCREW * screw;
            let shown_v = steady.point(aim).state()?.potentiometer_v;
            let nominal = base.reference();
            let wanted_v = nominal.nominal.potentiometer.voltage_v(nominal.idle_height_m, 0.0)
                + spread::HOUSING_V * housing;
            let track = &rig.parts().potentiometer;
            conditions.housing_shift_m += track.height_m(wanted_v) - track.height_m(shown_v);
        }
        if law == Law::Flame {
            conditions.flame = crate::engine::flame::FlameLaw::Gulder;
        }
        if law == Law::Friction {
            // A plunger that sticks half its friction to one side.
            conditions.screw_turns += 0.01;
        }
        let mut car = Car {
            setup: Setup { rig, conditions },
            injector_pa: [0.0; CYLINDERS],
            drop_rpm: 0.0,
            drops: [0.0; CYLINDERS],
            coolant: spread::COOLANT * normal(),
            contact: spread::CONTACT * normal(),
            hc: (spread::HC * normal()).exp(),
            o2: spread::O2 * normal().abs(),
            swing: spread::SWING * normal(),
            cranking: spread::CRANKING * normal(),
            meter_ohm: asked.meter_ohm,
        };
        for line in 0..CYLINDERS {
            car.injector_pa[line] = spread::INJECTOR_PA * normal();
            car.drops[line] = spread::DROP.1 * normal();
        }
        car.drop_rpm = fall_without_one(&car.setup)? * (1.0 + spread::DROP.0 * normal());
        if law == Law::Unlisted {
            car.setup.rig = rig.with_parts_beyond_ranges(|p| p.accessories_pa += 0.35e5).ok()?;
        }
        Some(car)
    }

    /// The rig itself, set as it should be: nothing is drawn, no hand errs. `None` if it does not
    /// idle at lambda 1.
    pub fn typical(base: &Rig, asked: &Asked) -> Option<Car> {
        let home = SteadyEngine::new(base, &Conditions::default());
        let aim = home.aim_turns()?;
        let shown_v = home.point(aim).state()?.potentiometer_v;
        let nominal = base.reference();
        let wanted_v = nominal.nominal.potentiometer.voltage_v(nominal.idle_height_m, 0.0);
        let track = &base.parts().potentiometer;
        let mut conditions = Conditions { screw_turns: aim, ..asked.conditions };
        conditions.housing_shift_m += track.height_m(wanted_v) - track.height_m(shown_v);
        let setup = Setup { rig: *base, conditions };
        let drop_rpm = fall_without_one(&setup)?;
        Some(Car { drop_rpm, ..Car::plain(&setup, asked.meter_ohm) })
    }

    /// Engine and conditions.
    pub fn setup(&self) -> &Setup {
        &self.setup
    }

    /// A car as it stands, without what differs from one sound car to another beside its parts.
    pub(crate) fn plain(setup: &Setup, meter_ohm: f64) -> Car {
        Car {
            setup: *setup,
            injector_pa: [0.0; CYLINDERS],
            drop_rpm: f64::NAN,
            drops: [0.0; CYLINDERS],
            coolant: 0.0,
            contact: 0.0,
            hc: 1.0,
            o2: 0.0,
            swing: 0.0,
            cranking: 0.0,
            meter_ohm,
        }
    }

    /// What it shows with causes of given strengths, in the order of the slots and on the scale of
    /// [`Kind::scaled`]; NaN for what it does not show. The second is how rough it is at the
    /// idle, against what is called rough (logarithm); NaN if it does not run.
    ///
    /// Without `standing` nothing is worked out of the standing engine's fuel side.
    pub fn shows(
        &self,
        causes: &[(Named, f64)],
        slots: &[Slot],
        standing: bool,
    ) -> (Vec<f64>, f64) {
        let mut changed =
            Changed { setup: self.setup, other_fuel: 0.0, spark: None, injector: None };
        for (named, strength) in causes {
            named.apply(&mut changed, *strength);
        }
        let mut runs: Vec<(Taken, Option<(Setup, State)>)> = Vec::new();
        let mut running = |taken: Taken| {
            if let Some((_, found)) = runs.iter().find(|(known, _)| *known == taken) {
                return *found;
            }
            let found = run(&changed, taken);
            runs.push((taken, found));
            found
        };
        let stands = standing && slots.iter().any(|slot| slot.kind.is_of_fuel_side());
        let stood = stands.then(|| stood(&changed.setup));
        let value =
            |slot: &Slot, running: &mut dyn FnMut(Taken) -> Option<(Setup, State)>| match slot.when
            {
                When::Running(taken) => {
                    let (setup, state) = running(taken)?;
                    self.running_value(slot.kind, &setup, &state)
                }
                When::Standing if slot.kind.is_of_fuel_side() && !standing => None,
                When::Standing => self.standing_value(slot, &changed, stood.as_ref()),
            };
        let values = slots
            .iter()
            .map(|slot| value(slot, &mut running).map_or(f64::NAN, |v| slot.kind.scaled(v)))
            .collect();
        let rough = running(Taken::IDLE).map_or(f64::NAN, |(setup, state)| {
            let ear = &setup.conditions.ear;
            (state.cov / ear.cov).max(state.mean_misfire / ear.misfire).max(1e-3).ln()
        });
        (values, rough)
    }

    /// How much longer than the rig's own it is cranked (logarithm).
    pub(super) fn cranking(&self) -> f64 {
        self.cranking
    }

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
                let track = &setup.rig.parts().potentiometer;
                let volts = state.potentiometer_v;
                Some(loaded(volts, track.source_ohm(volts, conditions.wear.contact_ohm)))
            }
            _ => {
                let reading = crate::point::Reading::find(kind.name())?;
                reading.value(state)
            }
        }
    }

    fn standing_value(&self, slot: &Slot, changed: &Changed, stood: Option<&Stood>) -> Option<f64> {
        let setup = &changed.setup;
        let parts = setup.rig.parts();
        let fuel_side = &setup.conditions.fuel_side;
        let line = slot.line.unwrap_or(0);
        let lines = parts.slits.width_m.len();
        if slot.line.is_some_and(|line| line >= lines) {
            return None;
        }
        match slot.kind.name() {
            "residual_bar" => stood?.residual_pa.map(|pa| Unit::Bar.from_si(pa)),
            "return_ml_min" => Some(6e7 * stood?.return_m3_s),
            "before_filter_bar" => {
                let stood = stood?;
                let pump = &parts.supply.pump;
                let flow = fuel_side.delivers(&parts.supply)
                    * pump.free_m3_s
                    * (1.0 - stood.running_pa / pump.stall_pa).max(0.0);
                Some(1e-5 * (stood.running_pa + fuel_side.filter_pa * flow / pump.free_m3_s))
            }
            "line_N_ml" => Some(1e6 * GLASSES.1 * stood?.line_m3_s.get(line)?),
            "flow_start_turns" => {
                let found_turns = crate::flowstart::flow_start_turns(setup)?;
                Some(found_turns - setup.conditions.screw_turns)
            }
            "cranking_s" => None,
            "coolant_ohm" => {
                let sound = parts.thermistor.ohm(setup.conditions.coolant_k) * self.coolant.exp();
                Some(match setup.conditions.faults.coolant {
                    Coolant::Sound => sound,
                    Coolant::Open => 1e6,
                    Coolant::Short => 1.0,
                    Coolant::Ohm(ohm) => ohm * self.coolant.exp(),
                })
            }
            "idle_contact_ohm" => Some(match setup.conditions.faults.throttle_switch {
                ThrottleSwitch::NoIdle => CONTACT_OHM.1,
                _ => CONTACT_OHM.0 * self.contact.exp(),
            }),
            "injector_N_bar" => {
                let own = changed.injector.filter(|(at, _)| *at == line).map_or(0.0, |(_, pa)| pa);
                let set = parts.injectors.opening_pa(line, lines, 0.0);
                Some(1e-5 * (set + own + self.injector_pa[line]))
            }
            "drop_N_rpm" => {
                let lost = changed.spark.filter(|(at, _)| *at == line).map_or(0.0, |(_, s)| s);
                Some(self.drop_rpm * (1.0 - lost) + self.drops[line])
            }
            _ => None,
        }
    }
}

/// Cranking of the cold engine to the first fire (s), with causes; none if it never fires.
pub(super) fn cranking_s(setup: &Setup, causes: &[(Named, f64)]) -> Option<f64> {
    let mut cold = *setup;
    let conditions = &mut cold.conditions;
    conditions.trim = Trim::On;
    conditions.coolant_k = conditions.ambient_k;
    conditions.fuel_k = conditions.ambient_k;
    let mut changed = Changed { setup: cold, other_fuel: 0.0, spark: None, injector: None };
    for (named, strength) in causes {
        named.apply(&mut changed, *strength);
    }
    let found = start(&changed.setup, Options::default(), CRANKED_S, CRANKED_S).ok()?;
    found.fires_after_s
}

/// How long the starter is held on at most (s).
const CRANKED_S: f64 = 10.0;

/// A standing engine's fuel side.
struct Stood {
    residual_pa: Option<f64>,
    running_pa: f64,
    return_m3_s: f64,
    line_m3_s: Vec<f64>,
}

fn stood(setup: &Setup) -> Stood {
    let fuel_side = &setup.conditions.fuel_side;
    let request = BleedRequest {
        lift_m: GLASSES.0,
        check_valve: fuel_side.check_valve,
        accumulator_share: fuel_side.accumulator_share,
        stand_s: 1.0,
        hot_k: setup.conditions.fuel_k,
        class_pa: fuel_side.class_pa,
    };
    match bleed(setup, &request) {
        Ok(Bleed { residual_pa, running_pa, return_m3_s, line_m3_s, .. }) => {
            Stood { residual_pa: Some(residual_pa), running_pa, return_m3_s, line_m3_s }
        }
        Err(flows) => Stood {
            residual_pa: None,
            running_pa: setup.rig.parts().pressures.system_pa,
            return_m3_s: f64::NAN,
            line_m3_s: flows.into_glasses.line_m3_s,
        },
    }
}

fn run(changed: &Changed, taken: Taken) -> Option<(Setup, State)> {
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
                run(&Changed { other_fuel: 0.0, ..*changed }, Taken { fast: false, ..taken })?
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
fn fall_without_one(setup: &Setup) -> Option<f64> {
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
