//! An operating state: all that follows from a manifold pressure, a speed and a mixture.

use crate::air::GAS_CONSTANT;
use crate::air::atmosphere::{density_kg_m3, standard_pressure_pa};
use crate::air::orifice::{CRITICAL_RATIO, flow_function, flow_function_and_slope};
use crate::assembly::{Parts, Reference};
use crate::conditions::Conditions;
use crate::control::trim::{vapour_share, warm_up_share};
use crate::engine::burn::Cycles;
use crate::engine::flame::{Charge, FlameLaw, Tabled};
use crate::engine::friction::{cold_factor, rubbing_pa};
use crate::engine::late::MOST_RELATIVE;
use crate::engine::plug::Plugs;
use crate::engine::work::{MOST_WORK, best_imep_pa, relative_efficiency};
use crate::fuel::injector::{Lines, Needles};
use crate::fuel::kind::{Fuel, viscosity_pa_s};
use crate::fuel::slit::{CYLINDERS, Liquid};
use crate::maths::BoundedVector;
use crate::sense::faults::ThrottleSwitch;
use std::f64::consts::PI;

/// Temperature at which the flame laws are taken (K): compressed charge at the spark.
pub(super) const SPARK_K: f64 = 600.0;
/// The coldest charge that is let be at the spark (K).
const COLDEST_SPARK_K: f64 = 450.0;
/// Outside air at which the rig's charge temperature is given (K).
const CHARGE_AT_K: f64 = 293.15;
/// Coolant at which the spark's temperature is given (K).
const WARM_COOLANT_K: f64 = 363.15;
/// Pressure at the spark over manifold pressure.
pub(super) const SPARK_PRESSURE_RATIO: f64 = 12.0;

/// An engine in its surroundings.
#[derive(Clone)]
pub(crate) struct Plant {
    pub parts: Parts,
    pub reference: Reference,
    pub law: FlameLaw,
    /// The law of the flame, tabled.
    pub tabled: &'static Tabled,
    pub fuel: Fuel,
    pub liquid: Liquid,
    /// What stands behind the slits.
    pub lines: Lines,
    /// Pressure that the regulator holds (Pa); infinite where it is stuck shut.
    pub holds_pa: f64,
    /// How much the first injector opens above where the set has it (Pa).
    pub(crate) first_injector_pa: f64,
    /// The injectors' needles.
    pub needles: Needles,
    pub air_fuel_ratio: f64,
    /// Share of the fuel that burns as vapour with the idle's air or less.
    pub vapour: f64,
    /// What stays liquid in the running engine at the idle's air, share.
    liquid_at_idle: f64,
    /// Air of the sound idle at this coolant (kg/s).
    usual_kg_s: f64,
    pub ambient_pa: f64,
    pub density_kg_m3: f64,
    /// `sqrt(2 rho)` of the outside air (kg/m3)^(1/2).
    pub root_2_density: f64,
    /// `1 / sqrt(R T)` of it (s/m): choked and other flow per pascal upstream.
    pub flux_per_pa: f64,
    pub exhaust_pa: f64,
    pub plate_drop_pa: f64,
    /// Pressure behind the plate, before the throttle (Pa).
    pub upstream_pa: f64,
    pub rest_height_m: f64,
    /// Effective area of the throttle with the pedal released (m2): closed, unless the
    /// linkage holds it off its stop.
    pub released_m2: f64,
    /// Whether the spark steadies the idle: the idle switch is closed.
    pub spark_steadies: bool,
    /// Speed it steadies at (rad/s).
    pub idle_target_rad_s: f64,
    rubbing_factor: f64,
    leak_choked_kg_s: f64,
    pub misfire: f64,
    /// The plugs, the supply's share of a sound one's voltage, and the share of sparks that run
    /// off over wet plugs.
    pub plugs: Plugs,
    pub spark_supply: f64,
    pub wet: f64,
    /// Manifold pressure up to which no spark fails (Pa).
    sparks_up_to_pa: f64,
    /// Temperature of the charge at the spark (K).
    spark_k: f64,
    /// That charge, undiluted at the pressure of the air outside.
    spark: Charge,
    /// Scatter of the fuel from cycle to cycle, rms share, with what is liquid.
    pub fuel_scatter: f64,
    /// The work of scattered cycles at the idle's spark.
    pub idle_cycles: Cycles,
    /// Efficiency with the compression as it is.
    efficiency: f64,
}

/// The work of scattered cycles at the spark that parts have at idle.
pub(crate) fn idle_cycles(parts: &Parts) -> Cycles {
    parts.burn.cycles(parts.burn.spark_deg).averaged()
}

/// What sets the mixture of an operating state.
pub(crate) enum Mixture {
    /// Screw and current are known; lambda follows.
    Metered { opening_m: f64, jet_m_s: f64 },
    /// Screw and lambda are known; the current follows.
    Target { opening_m: f64, lambda: f64 },
    /// Current and lambda are known; the screw follows.
    Aim { jet_m_s: f64, lambda: f64 },
}

/// How the plate lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Lies {
    /// It floats in the funnel.
    Afloat,
    /// Too little air: it lies on its stop.
    OnStop,
    /// Too much air: it has left the funnel.
    Beyond,
}

/// One operating state.
#[derive(Clone, Copy, Debug)]
pub(crate) struct OperatingState {
    pub manifold_pa: f64,
    pub speed_rad_s: f64,
    pub air_kg_s: f64,
    pub metered_kg_s: f64,
    pub lies: Lies,
    pub height_m: f64,
    pub lift_m: f64,
    pub jet_m_s: f64,
    pub fuel_kg_s: f64,
    pub lambda: f64,
    pub lambdas: BoundedVector<CYLINDERS>,
    pub residual_fraction: f64,
    pub imep_pa: f64,
    pub demand_pa: f64,
}

impl OperatingState {
    /// The same state of the charge with another mixture in every cylinder, in proportion.
    pub fn on_mixture(&self, lambda: f64) -> OperatingState {
        let mut changed = OperatingState { lambda, ..*self };
        changed.lambdas.iter_mut().for_each(|each| *each *= lambda / self.lambda);
        changed
    }

    /// Mean effective pressure the engine makes beyond what it needs (Pa).
    pub fn surplus_pa(&self) -> f64 {
        self.imep_pa - self.demand_pa
    }
}

impl Plant {
    /// With the pump running and nothing drawn: all that a sound pump does not feel.
    pub fn new(parts: &Parts, reference: &Reference, conditions: &Conditions) -> Plant {
        Plant::at(parts, reference, conditions).fed(conditions)
    }

    /// The same with the pump running and nothing drawn.
    pub fn fed(mut self, conditions: &Conditions) -> Plant {
        let system_pa = self.kept_pa(conditions, 0.0);
        self.feed(system_pa, |_| false);
        self
    }

    /// The same at the system pressure of the parts, with lines that hold nothing back.
    pub fn at(parts: &Parts, reference: &Reference, conditions: &Conditions) -> Plant {
        Plant::on_cycles(parts, reference, conditions, idle_cycles(parts))
    }

    /// The same with [`idle_cycles`] of the parts, which are the same under all conditions.
    pub fn on_cycles(
        parts: &Parts,
        reference: &Reference,
        conditions: &Conditions,
        idle_cycles: Cycles,
    ) -> Plant {
        let ambient_pa = standard_pressure_pa(conditions.altitude_m);
        let fuel = conditions.petrol.fuel();
        let released_m2 =
            parts.throttle.effective_m2(parts.throttle.held_open_share(conditions.linkage_play_m));
        let idle_rad_s = || {
            let seen_k = conditions.seen_coolant_k(&parts.thermistor);
            parts.controller.idle_target_rad_s(seen_k)
        };
        let mut parts = *parts;
        // Walls warm a cold charge: it keeps the root of its advantage (Heywood 1988, sect.
        // 6.2.2; Taylor, vol. I, ch. 6, from memory).
        let warmed = (conditions.ambient_k / CHARGE_AT_K).sqrt();
        parts.breathing.charge_k *= warmed;
        let colder = parts.burn.cold_charge * (WARM_COOLANT_K - conditions.coolant_k).max(0.0);
        let vapour = vapour_share(conditions.coolant_k);
        let spark_k = (SPARK_K * warmed - colder).max(COLDEST_SPARK_K);
        let mut plant = Plant {
            spark_k,
            spark: Charge::new(spark_k, ambient_pa, 0.0),
            fuel_scatter: parts.burn.fuel_scatter + parts.burn.liquid_scatter * (1.0 - vapour),
            idle_cycles,
            efficiency: parts.efficiency * relative_efficiency(parts.breathing.compression),
            reference: *reference,
            law: conditions.flame,
            tabled: Tabled::of(conditions.flame),
            fuel,
            liquid: Liquid {
                density_kg_m3: fuel.density_kg_m3(conditions.fuel_k),
                viscosity_pa_s: viscosity_pa_s(conditions.fuel_k),
            },
            air_fuel_ratio: fuel.air_fuel_ratio(),
            vapour,
            liquid_at_idle: 1.0 - vapour,
            usual_kg_s: reference.nominal.idle_air_kg_s(conditions.coolant_k),
            ambient_pa,
            density_kg_m3: density_kg_m3(ambient_pa, conditions.ambient_k),
            root_2_density: (2.0 * density_kg_m3(ambient_pa, conditions.ambient_k)).sqrt(),
            flux_per_pa: 1.0 / (GAS_CONSTANT * conditions.ambient_k).sqrt(),
            exhaust_pa: ambient_pa + parts.breathing.exhaust_above_pa,
            plate_drop_pa: parts.plate_drop_pa(),
            upstream_pa: ambient_pa - parts.plate_drop_pa(),
            lines: Lines::free(parts.slits.width_m.len()),
            holds_pa: conditions.fuel_side.holds_pa(parts.pressures.system_pa),
            first_injector_pa: conditions.fuel_side.first_injector_pa,
            needles: Needles::default(),
            released_m2,
            spark_steadies: conditions.throttle <= 0.0
                && !conditions.pedal_holds_speed
                && conditions.faults.throttle_switch != ThrottleSwitch::NoIdle
                && released_m2 < parts.throttle.idle_switch_opens_m2(),
            idle_target_rad_s: conditions.speed_rad_s.unwrap_or_else(idle_rad_s),
            rest_height_m: conditions.rest_height_m - parts.plate.rest_below_throat_m,
            rubbing_factor: parts.rubbing_scale * cold_factor(conditions.coolant_k),
            leak_choked_kg_s: conditions.leak_kg_s,
            misfire: conditions.misfire,
            plugs: conditions.plugs,
            spark_supply: 1.0,
            wet: 0.0,
            sparks_up_to_pa: 0.0,
            parts,
        };
        plant.supply_spark(1.0);
        plant
    }

    /// Air that a plate resting in its balance at a height lets pass (kg/s).
    pub fn air_by_height_kg_s(&self, height_m: f64) -> f64 {
        let plate = &self.parts.plate;
        plate.flow_kg_s(plate.area_m2(height_m), self.density_kg_m3, self.plate_drop_pa)
    }

    /// Flow through an effective area from behind the plate into the manifold (kg/s).
    pub fn inlet_kg_s(&self, effective_m2: f64, manifold_pa: f64) -> f64 {
        self.throttled_kg_s(effective_m2, self.upstream_pa, manifold_pa)
    }

    /// The same from another pressure before the throttle: the orifice law of
    /// [`crate::air::orifice::flux_kg_s_m2`] in outside air.
    pub fn throttled_kg_s(&self, effective_m2: f64, upstream_pa: f64, manifold_pa: f64) -> f64 {
        effective_m2 * upstream_pa * self.flux_per_pa * flow_function(manifold_pa / upstream_pa)
    }

    /// The same, and how it grows with the pressure before the throttle (kg/(s Pa)).
    pub fn throttled_and_slope(
        &self,
        effective_m2: f64,
        upstream_pa: f64,
        manifold_pa: f64,
    ) -> (f64, f64) {
        let ratio = manifold_pa / upstream_pa;
        let (psi, slope) = flow_function_and_slope(ratio);
        let by_pressure = effective_m2 * self.flux_per_pa;
        (by_pressure * upstream_pa * psi, by_pressure * (psi - ratio * slope))
    }

    /// Unmetered air into the manifold (kg/s): a hole of fixed size, choked at idle.
    pub fn leak_kg_s(&self, manifold_pa: f64) -> f64 {
        if self.leak_choked_kg_s == 0.0 {
            return 0.0;
        }
        let ratio = manifold_pa / self.ambient_pa;
        self.leak_choked_kg_s * flow_function(ratio) / flow_function(CRITICAL_RATIO)
    }

    /// Air into the cylinders (kg/s).
    pub fn air_kg_s(&self, manifold_pa: f64, speed_rad_s: f64) -> f64 {
        self.parts.breathing.air_kg_s(manifold_pa, self.exhaust_pa, speed_rad_s)
    }

    /// What the crank takes without a brake (Pa): rubbing, accessories, pumping.
    pub fn demand_pa(&self, manifold_pa: f64, speed_rad_s: f64) -> f64 {
        self.rubbing_factor * rubbing_pa(speed_rad_s)
            + self.parts.accessories_pa
            + (self.exhaust_pa - manifold_pa)
    }

    /// Indicated pressure at lambda 1 and best burning for an air flow (Pa).
    pub fn best_imep_pa(&self, air_kg_s: f64, speed_rad_s: f64) -> f64 {
        best_imep_pa(
            self.efficiency,
            air_kg_s * 4.0 * PI / speed_rad_s,
            self.fuel.heating_j_kg,
            self.air_fuel_ratio,
            self.parts.breathing.displacement_m3,
        )
    }

    /// A manifold pressure no engine can idle below at a speed (Pa): the one at which even
    /// perfect burning only just carries the demand.
    pub fn least_manifold_pa(&self, speed_rad_s: f64) -> f64 {
        // With p_m below p_e no more than the filling factor of the displacement is taken
        // in; at p_m = p_e the volumetric efficiency is just that factor.
        let per_pa = self.air_kg_s(self.exhaust_pa, speed_rad_s) / self.exhaust_pa;
        let slope = MOST_WORK * MOST_RELATIVE * self.best_imep_pa(per_pa, speed_rad_s);
        (self.demand_pa(0.0, speed_rad_s) / (1.0 + slope)).max(1.0)
    }

    /// Gives the coil a share of a sound supply's voltage.
    pub fn supply_spark(&mut self, share: f64) {
        self.spark_supply = share;
        // Most engines never come near: one look at the densest charge there is.
        let densest_pa = self.ambient_pa;
        let lost = self.plugs.lost(SPARK_PRESSURE_RATIO * densest_pa, self.spark_k, share);
        self.sparks_up_to_pa = if lost == 0.0 { densest_pa } else { 0.0 };
    }

    /// Share of cycles that no spark lights at a manifold pressure (Pa): dead ones, too wide a
    /// gap for the coil, wet plugs.
    pub fn dead(&self, manifold_pa: f64) -> f64 {
        let missed = if manifold_pa <= self.sparks_up_to_pa {
            0.0
        } else {
            let pressure_pa = SPARK_PRESSURE_RATIO * manifold_pa;
            self.plugs.lost(pressure_pa, self.spark_k, self.spark_supply)
        };
        if missed == 0.0 && self.wet == 0.0 {
            return self.misfire;
        }
        1.0 - (1.0 - self.misfire) * (1.0 - missed) * (1.0 - self.wet)
    }

    /// Share of the fuel that burns as vapour at an air flow (kg/s).
    ///
    /// Equation: `v + l (1 - r^-0.3)` from the idle's air up, `v` below. Symbols: `v` share now,
    /// while it starts less than the running engine's; `l` share that stays liquid at the running
    /// idle; `r` air flow over the sound idle's at this coolant; [`warm_up_share`] is the power.
    /// Valid range: all. Source: our own: more air warms the walls and dries them sooner. It is
    /// what a controller reckons with that takes the enrichment back with load.
    pub fn vapour_at(&self, air_kg_s: f64) -> f64 {
        let at_idle = air_kg_s <= self.usual_kg_s || self.usual_kg_s <= 0.0;
        if self.liquid_at_idle <= 0.0 || at_idle {
            return self.vapour;
        }
        self.vapour + self.liquid_at_idle * (1.0 - warm_up_share(air_kg_s / self.usual_kg_s))
    }

    /// Mass of air for each mass of metered fuel at lambda 1, at an air flow (kg/s).
    pub fn air_for_fuel(&self, air_kg_s: f64) -> f64 {
        self.air_fuel_ratio * self.vapour_at(air_kg_s)
    }

    /// The charge at the time of the spark.
    pub fn charge(&self, manifold_pa: f64, residual_fraction: f64) -> Charge {
        self.spark.at(SPARK_PRESSURE_RATIO * manifold_pa, residual_fraction)
    }

    /// Everything that follows from a manifold pressure, a speed and a mixture.
    pub fn operating_state(
        &self,
        manifold_pa: f64,
        speed_rad_s: f64,
        mixture: &Mixture,
    ) -> OperatingState {
        let air_kg_s = self.air_kg_s(manifold_pa, speed_rad_s);
        let metered_kg_s = air_kg_s - self.leak_kg_s(manifold_pa);
        let (lies, height_m) = self.plate_height(metered_kg_s);
        let mut state = OperatingState {
            manifold_pa,
            speed_rad_s,
            air_kg_s,
            metered_kg_s,
            lies,
            height_m,
            lift_m: 0.0,
            jet_m_s: 0.0,
            fuel_kg_s: 0.0,
            lambda: f64::INFINITY,
            lambdas: self.parts.slits.width_m,
            residual_fraction: 0.0,
            imep_pa: 0.0,
            demand_pa: self.demand_pa(manifold_pa, speed_rad_s),
        };
        self.mix(&mut state, mixture);
        state.residual_fraction = self.parts.breathing.residual_fraction(
            manifold_pa,
            self.exhaust_pa,
            speed_rad_s,
            1.0 / state.lambda,
        );
        if state.lambda.is_finite() {
            let torque = self.mean_torque(&state);
            state.imep_pa = torque * self.best_imep_pa(air_kg_s, speed_rad_s);
        }
        state
    }

    /// A state at a manifold pressure, a speed and a mixture, on base current.
    pub fn at_pressure(&self, manifold_pa: f64, speed_rad_s: f64, lambda: f64) -> OperatingState {
        let jet_m_s = self.jet_m_s(self.parts.controller.base_a);
        self.operating_state(manifold_pa, speed_rad_s, &Mixture::Aim { jet_m_s, lambda })
    }

    /// Where the plate lies at a metered air flow.
    pub fn plate_height(&self, metered_kg_s: f64) -> (Lies, f64) {
        let plate = &self.parts.plate;
        let area_m2 = metered_kg_s / plate.flow_kg_s(1.0, self.density_kg_m3, self.plate_drop_pa);
        match plate.height_m(area_m2) {
            Some(height) => (Lies::Afloat, height),
            None if area_m2 < plate.least_area_m2() => (Lies::OnStop, self.rest_height_m),
            None => (Lies::Beyond, plate.top_m()),
        }
    }

    /// Works out fuel and lambda, of all and of each cylinder.
    fn mix(&self, state: &mut OperatingState, mixture: &Mixture) {
        let slits = &self.parts.slits;
        let per_plate = self.parts.lever.plunger_per_plate();
        let air_kg_s = state.air_kg_s;
        let air_for_fuel = self.air_for_fuel(air_kg_s);
        let fuel_for = |lambda: f64| air_kg_s / (air_for_fuel * lambda);
        let mut known = None;
        match *mixture {
            Mixture::Metered { opening_m, jet_m_s } => {
                state.lift_m = (state.height_m - opening_m) * per_plate;
                state.jet_m_s = jet_m_s;
            }
            Mixture::Target { opening_m, lambda } => {
                state.lift_m = (state.height_m - opening_m) * per_plate;
                let total = fuel_for(lambda);
                state.jet_m_s =
                    self.jet_for_total_m_s(total, state.lift_m).unwrap_or(f64::INFINITY);
                known = Some(lambda);
            }
            Mixture::Aim { jet_m_s, lambda } => {
                state.jet_m_s = jet_m_s;
                let total = fuel_for(lambda);
                state.lift_m = self.lines.lift_for_total_m(slits, total, jet_m_s, &self.liquid);
                known = Some(lambda);
            }
        }
        let count = slits.width_m.len();
        let air_each = state.air_kg_s / count as f64;
        if let (Some(lambda), true) = (known, state.jet_m_s.is_infinite()) {
            // Slits shut: the mixture is asked for all the same, and no current gives it.
            state.fuel_kg_s = fuel_for(lambda);
            state.lambda = lambda;
            state.lambdas.iter_mut().for_each(|each| *each = lambda);
            return;
        }
        let flows = self.lines_kg_s(state.lift_m, state.jet_m_s);
        let total = flows.iter().sum();
        for (lambda, flow) in state.lambdas.iter_mut().zip(flows.iter()) {
            *lambda = air_each / (air_for_fuel * flow);
        }
        state.fuel_kg_s = total;
        state.lambda = match known {
            Some(lambda) => lambda,
            None if total > 0.0 && state.air_kg_s > 0.0 => state.air_kg_s / (air_for_fuel * total),
            None => f64::INFINITY,
        };
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::shipped::{SHIPPED, shipped};

    fn engine(name: &str, conditions: Conditions) -> Plant {
        let rig = shipped(name).unwrap().rig;
        Plant::new(rig.parts(), rig.reference(), &conditions)
    }

    /// The plate lies on its stop while too little air passes to lift it, floats where the air it
    /// lets pass is the air there is, and stands at the funnel's top when there is more.
    #[test]
    fn the_plate_rests_without_air_floats_on_what_it_lets_pass_and_ends_at_the_funnel_s_top() {
        for (name, _) in SHIPPED {
            let rest_height_m = 4e-4;
            let plant = engine(name, Conditions { rest_height_m, ..Conditions::default() });
            let rest_m = rest_height_m - plant.parts.plate.rest_below_throat_m;
            let (least, most) = (
                plant.air_by_height_kg_s(0.0),
                plant.air_by_height_kg_s(plant.parts.plate.top_m()),
            );
            assert!(least > 0.0 && most > 20.0 * least, "{name}: {least} to {most} kg/s");
            for share in [0.0, 0.5, 0.999] {
                assert_eq!(plant.plate_height(share * least), (Lies::OnStop, rest_m), "{name}");
            }
            for air in [1.001 * least, (least * most).sqrt(), 0.999 * most] {
                let (lies, height_m) = plant.plate_height(air);
                let off = plant.air_by_height_kg_s(height_m) / air - 1.0;
                assert!(lies == Lies::Afloat && off.abs() < 1e-9, "{name}: {air} kg/s off {off}");
            }
            for share in [1.001, 3.0] {
                let top_m = plant.parts.plate.top_m();
                assert_eq!(plant.plate_height(share * most), (Lies::Beyond, top_m), "{name}");
            }
        }
    }

    /// A spark is missed if it is dead, or the gap too wide, or the plug wet, each by its own
    /// chance: those that are left multiply.
    #[test]
    fn the_chances_of_a_missed_spark_are_independent() {
        let mut plant = engine("six", Conditions { misfire: 0.1, ..Conditions::default() });
        assert_eq!(plant.dead(40e3), 0.1);
        plant.wet = 0.5;
        assert!((plant.dead(40e3) - 0.55).abs() < 1e-12, "{}", plant.dead(40e3));
        plant.wet = 1.0;
        assert_eq!(plant.dead(40e3), 1.0);
    }

    /// Air of -20 degC brings the charge to the spark colder by the root of the temperatures, a
    /// share of 0.929; walls of a cold engine take their share for each kelvin they lack; neither
    /// goes below the coldest.
    #[test]
    fn the_charge_at_the_spark_is_colder_by_the_root_of_the_air_and_by_the_walls() {
        let at = |ambient_k: f64, coolant_k: f64| {
            engine("six", Conditions { ambient_k, coolant_k, ..Conditions::default() })
        };
        let warm = at(293.15, 363.15);
        let share = at(253.15, 363.15).spark_k / warm.spark_k;
        assert!((share - 0.9293).abs() < 1e-4, "{share}");
        let by_walls_k = warm.spark_k - at(293.15, 353.15).spark_k;
        let lacks_k = 10.0 * warm.parts.burn.cold_charge;
        assert!(lacks_k > 0.5 && (by_walls_k - lacks_k).abs() < 1e-9, "{by_walls_k} K");
        assert_eq!(at(293.15, 380.0).spark_k, warm.spark_k);
    }
}
