//! A car as it was set: a relative of a rig, its screw and housing where a workshop left them,
//! and what it shows.

mod law;
mod running;
mod standing;
mod tolerances;

pub use law::{Law, OTHER_LAWS};
pub(crate) use standing::GLASSES;
pub(in crate::diagnose) use standing::cranking_s;

use super::causes::{Changed, Named};
use super::sheet::{Slot, Taken, When};
use super::spread::Spread;
use crate::conditions::Conditions;
use crate::fuel::slit::CYLINDERS;
use crate::noise::Noise;
use crate::point::State;
use crate::rig::Rig;
use crate::rig::keys::Setup;
use crate::rig::seeded::relative;
use crate::steady::SteadyEngine;

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
        Car::drawn_over(Spread::Seeded, base, asked, (seed, item, law), true)
    }

    /// The same over a spread; without `drops` nothing is worked out of how far its speed falls
    /// without a cylinder.
    pub fn drawn_over(
        over: Spread<'_>,
        base: &Rig,
        asked: &Asked,
        (seed, item, law): (u64, u64, Law),
        drops: bool,
    ) -> Option<Car> {
        let about = match over {
            Spread::Seeded => {
                let drawn = relative(base, seed, item, tolerances::REST_M)?;
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
                p.pressures.system_pa += open * tolerances::SYSTEM_PA * normal();
                p.pressures.actuator_per_amp_pa *= 1.0 + open * tolerances::ACTUATOR * normal();
                p.supply.pump.free_m3_s *= 1.0 + tolerances::PUMP * normal();
                p.supply.regulator_closes_pa += tolerances::CLOSES_PA * normal();
                p.supply.regulator_leak_m3_s *= (tolerances::LEAKS * normal()).exp();
                p.supply.check_leak_m3_s *= (tolerances::LEAKS * normal()).exp();
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
            conditions.screw_turns = aim + tolerances::SCREW * screw;
            let shown_v = steady.point(aim).state()?.potentiometer_v;
            let nominal = base.reference();
            let wanted_v = nominal.nominal.potentiometer.voltage_v(nominal.idle_height_m, 0.0)
                + tolerances::HOUSING_V * housing;
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
            drop_rpm: f64::NAN,
            drops: [0.0; CYLINDERS],
            coolant: tolerances::COOLANT * normal(),
            contact: tolerances::CONTACT * normal(),
            hc: (tolerances::HC * normal()).exp(),
            o2: tolerances::O2 * normal().abs(),
            swing: tolerances::SWING * normal(),
            cranking: tolerances::CRANKING * normal(),
            meter_ohm: asked.meter_ohm,
        };
        for line in 0..CYLINDERS {
            car.injector_pa[line] = tolerances::INJECTOR_PA * normal();
            car.drops[line] = tolerances::DROP.1 * normal();
        }
        if drops {
            car.drop_rpm =
                Car::fall_without_one(&car.setup)? * (1.0 + tolerances::DROP.0 * normal());
        }
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
        let drop_rpm = Car::fall_without_one(&setup)?;
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
    /// [`Kind::scaled`](crate::diagnose::sheet::Kind::scaled); NaN for what it does not show. The second is how rough it is at the
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
            let found = Car::run(&changed, taken);
            runs.push((taken, found));
            found
        };
        let stands = standing && slots.iter().any(|slot| slot.kind.is_of_fuel_side());
        let left = slots.iter().any(|slot| slot.kind.name() == "residual_bar");
        let stood = stands.then(|| Car::stood(&changed.setup, left));
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
}
