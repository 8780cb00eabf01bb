//! Which balance is solved for which unknown.

use super::operating_state::{Lies, Mixture, OperatingState, Plant};
use super::roughness::Rough;
use crate::conditions::{Conditions, IdleAir};
use crate::point::{Stall, ValveLimit};
use crate::sense::faults::ThrottleSwitch;
use crate::solve::{Crossing, Walk, rising_root};
use crate::units::Unit;

/// First and widest step of the walk along manifold pressures.
const PRESSURE_STEPS: (f64, f64) = (1.07, 1.25);
/// Step of the walk down the speeds.
const SPEED_STEP: f64 = 1.0 / 1.25;
/// Speed above which no idle is looked for (rpm).
const FASTEST_RPM: f64 = 7500.0;
/// Mean effective pressure that counts as balanced (Pa): 1e-10 of what an engine needs.
const BALANCED_PA: f64 = 1e-5;
/// Share of the best work below which an engine does not fire: what is left is chance.
const NO_WORK: f64 = 0.01;
/// Least manifold pressure looked at (Pa).
const LEAST_PRESSURE_PA: f64 = 1000.0;

/// An engine in balance.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Settled {
    pub(crate) state: OperatingState,
    /// Effective area of the idle air valve (m2).
    pub(crate) valve_m2: f64,
    /// Effective area of the throttle (m2).
    pub(crate) throttle_m2: f64,
    /// The limit the valve stands at, if it does.
    pub(crate) limit: Option<ValveLimit>,
    /// Mean effective pressure a brake takes (Pa); 0 at idle.
    pub(crate) brake_pa: f64,
    /// Its roughness, where that had to be known already.
    pub(crate) rough: Option<Rough>,
}

impl Plant {
    /// Solves the balance that the conditions ask for. `guess_pa` is where a walk along
    /// manifold pressures may start, see [`Plant::first_pressure`].
    pub(crate) fn settle(
        &self,
        conditions: &Conditions,
        mixture: &Mixture,
        guess_pa: f64,
    ) -> Result<Settled, Stall> {
        // Where injectors stay shut, that is what failed first.
        self.balance(conditions, mixture, guess_pa)
            .map_err(|stall| if self.lines.all_spray() { stall } else { self.too_few_spray() })
    }

    fn balance(
        &self,
        conditions: &Conditions,
        mixture: &Mixture,
        guess_pa: f64,
    ) -> Result<Settled, Stall> {
        let speed = self.speed_rad_s(conditions);
        let valve = &self.parts.idle_valve;
        let settled = match (conditions.throttle > 0.0, conditions.idle_air) {
            _ if conditions.pedal_holds_speed => {
                let settled = self.least_air(speed, mixture, guess_pa)?;
                if settled.valve_m2 < 0.0 {
                    return Err(Stall::RunsAway { speed_rad_s: speed });
                }
                // The pedal gives what the valve does not, which stands as with any open switch.
                let beyond_stop_m2 = settled.valve_m2;
                let valve_m2 = self.open_switch_valve_m2(conditions).min(beyond_stop_m2);
                let throttle_m2 = settled.throttle_m2 + beyond_stop_m2 - valve_m2;
                Settled { throttle_m2, valve_m2, ..settled }
            }
            (true, _) => self.braked(speed, conditions, mixture)?,
            (false, IdleAir::Unpowered) => {
                let unpowered_m2 = valve.unpowered() * valve.full_effective_m2();
                self.free(unpowered_m2, None, fastest(), mixture)?
            }
            (false, _)
                if self.released_m2 >= self.parts.throttle.idle_switch_opens_m2()
                    || conditions.faults.throttle_switch == ThrottleSwitch::NoIdle =>
            {
                self.free(self.open_switch_valve_m2(conditions), None, fastest(), mixture)?
            }
            (false, IdleAir::Held) => self.held(speed, mixture, guess_pa)?,
            (false, IdleAir::Fixed) => {
                self.free(self.fixed_valve_m2(), None, fastest(), mixture)?
            }
        };
        if let Some(stall) = self.no_fuel(&settled.state) {
            return Err(stall);
        }
        let state = &settled.state;
        let (speed_rad_s, limit_rad_s) = (state.speed_rad_s, self.parts.controller.limit_rad_s);
        let air_kg_s = state.metered_kg_s.max(0.0);
        match state.lies {
            _ if speed_rad_s > limit_rad_s => Err(Stall::FuelCut { speed_rad_s, limit_rad_s }),
            Lies::Beyond => Err(Stall::BeyondFunnel { air_kg_s }),
            // The walk met the jump at which the plate falls, not a balance.
            _ if (state.surplus_pa() - settled.brake_pa).abs() > 1.0 => {
                Err(Stall::InThroat { air_kg_s })
            }
            _ if state.imep_pa
                <= NO_WORK * self.best_imep_pa(state.air_kg_s, state.speed_rad_s) =>
            {
                Err(Stall::DoesNotFire { lambda: state.lambda })
            }
            _ => Ok(settled),
        }
    }

    /// The opening of the idle air valve while the idle switch is open (m2): the controller
    /// looks at no speed then and gives what the sound idle needs at this coolant. So the pedal
    /// is let go onto an idle that has its air. Without current the valve's springs hold it;
    /// one whose opening is kept keeps it.
    fn open_switch_valve_m2(&self, conditions: &Conditions) -> f64 {
        let valve = &self.parts.idle_valve;
        match conditions.idle_air {
            IdleAir::Held => valve.opening(self.idle_duty(conditions)) * valve.full_effective_m2(),
            IdleAir::Fixed => self.fixed_valve_m2(),
            IdleAir::Unpowered => valve.unpowered() * valve.full_effective_m2(),
        }
    }

    /// The opening of a valve that keeps the reference state's, as far as it has one (m2).
    fn fixed_valve_m2(&self) -> f64 {
        self.reference.idle_valve_m2.min(self.parts.idle_valve.full_effective_m2())
    }

    /// The speed that conditions ask to be held (rad/s).
    pub(crate) fn speed_rad_s(&self, conditions: &Conditions) -> f64 {
        conditions.speed_rad_s.unwrap_or(self.idle_target_rad_s)
    }

    /// Closed throttle, speed held by the idle air valve: the least air whose torque does.
    fn held(&self, speed_rad_s: f64, mixture: &Mixture, guess_pa: f64) -> Result<Settled, Stall> {
        let full_m2 = self.parts.idle_valve.widest() * self.parts.idle_valve.full_effective_m2();
        match self.least_air(speed_rad_s, mixture, guess_pa) {
            Ok(settled) if settled.valve_m2 < 0.0 => {
                self.free(0.0, Some(ValveLimit::Closed), fastest(), mixture)
            }
            Ok(settled) if settled.valve_m2 > full_m2 => {
                self.free(full_m2, Some(ValveLimit::Full), speed_rad_s, mixture)
            }
            Ok(settled) => Ok(settled),
            // No air holds this speed. The valve goes full open and the speed sinks, to a
            // running point or to a stall.
            Err(fold) => {
                self.free(full_m2, Some(ValveLimit::Full), speed_rad_s, mixture).map_err(|_| fold)
            }
        }
    }

    /// Closed throttle and any valve: the least air that carries a speed.
    pub(crate) fn least_air(
        &self,
        speed_rad_s: f64,
        mixture: &Mixture,
        guess_pa: f64,
    ) -> Result<Settled, Stall> {
        let mut last: Option<OperatingState> = None;
        let surplus =
            |p: f64| last.insert(self.operating_state(p, speed_rad_s, mixture)).surplus_pa();
        match self.first_pressure(speed_rad_s, guess_pa, surplus) {
            Crossing::Root(p) => {
                let state = last
                    .filter(|state| state.manifold_pa == p)
                    .unwrap_or_else(|| self.operating_state(p, speed_rad_s, mixture));
                let inlet_m2 = state.metered_kg_s / self.inlet_kg_s(1.0, p);
                let throttle_m2 = self.released_m2;
                let valve_m2 = inlet_m2 - throttle_m2;
                Ok(Settled {
                    state,
                    valve_m2,
                    throttle_m2,
                    limit: None,
                    brake_pa: 0.0,
                    rough: None,
                })
            }
            Crossing::Below { at, value } => {
                let best = self.operating_state(at, speed_rad_s, mixture);
                Err(self.no_fuel(&best).unwrap_or(Stall::Fold {
                    speed_rad_s,
                    air_kg_s: best.air_kg_s,
                    lambda: best.lambda,
                    short_pa: -value,
                }))
            }
            Crossing::AboveAtStart => Err(Stall::RunsAway { speed_rad_s }),
        }
    }

    /// The least manifold pressure at which a surplus of torque rises through zero.
    ///
    /// Perfect burning sets the floor. The walk starts at `guess_pa`, a pressure a little
    /// below where the engine is expected to run (0 for the floor itself), and goes back to
    /// the floor if there is torque to spare there already. A test compares with a fine walk
    /// from the floor over 2000 random rigs and settings.
    pub(crate) fn first_pressure(
        &self,
        speed_rad_s: f64,
        guess_pa: f64,
        mut surplus: impl FnMut(f64) -> f64,
    ) -> Crossing {
        let floor = self.least_manifold_pa(speed_rad_s);
        let start = guess_pa.clamp(1.2 * floor, self.upstream_pa.max(1.2 * floor));
        let (ratio, widest) = PRESSURE_STEPS;
        let walk = |start, stop| Walk { start, stop, ratio, widest, enough: BALANCED_PA };
        match walk(start, self.upstream_pa).first_crossing(&mut surplus) {
            Crossing::AboveAtStart => walk(floor, start).first_crossing(&mut surplus),
            met => met,
        }
    }

    /// Closed throttle, valve opening known: the highest speed in balance, no faster than
    /// `fastest_rad_s`. A valve that stands full open because the speed asked for cannot be
    /// held only ever runs slower than that: were it faster, the controller would close it.
    fn free(
        &self,
        valve_m2: f64,
        limit: Option<ValveLimit>,
        fastest_rad_s: f64,
        mixture: &Mixture,
    ) -> Result<Settled, Stall> {
        let throttle_m2 = self.released_m2;
        let inlet_m2 = valve_m2 + throttle_m2;
        let state_at =
            |speed: f64| self.operating_state(self.manifold_pa(inlet_m2, speed), speed, mixture);
        let slowest = self.parts.controller.stall_rad_s;
        let speeds = Walk {
            start: fastest_rad_s,
            stop: slowest,
            ratio: SPEED_STEP,
            widest: SPEED_STEP,
            enough: BALANCED_PA,
        };
        match speeds.first_crossing(|speed| state_at(speed).surplus_pa()) {
            Crossing::Root(speed) => Ok(Settled {
                state: state_at(speed),
                valve_m2,
                throttle_m2,
                limit,
                brake_pa: 0.0,
                rough: None,
            }),
            Crossing::Below { at, value } => {
                let best = state_at(at);
                Err(self.no_fuel(&best).unwrap_or(Stall::TooSlow {
                    limit,
                    stall_rad_s: slowest,
                    best_rad_s: at,
                    lambda: best.lambda,
                    short_pa: -value,
                }))
            }
            Crossing::AboveAtStart => Err(Stall::RunsAway { speed_rad_s: fastest_rad_s }),
        }
    }

    /// Open throttle, speed held by a brake: the air balance alone.
    fn braked(
        &self,
        speed_rad_s: f64,
        conditions: &Conditions,
        mixture: &Mixture,
    ) -> Result<Settled, Stall> {
        let throttle = &self.parts.throttle;
        let throttle_m2 = throttle.effective_m2(conditions.throttle).max(self.released_m2);
        let valve_m2 = self.open_switch_valve_m2(conditions);
        let manifold_pa = self.manifold_pa(throttle_m2 + valve_m2, speed_rad_s);
        let state = self.operating_state(manifold_pa, speed_rad_s, mixture);
        let brake_pa = state.surplus_pa();
        Ok(Settled { state, valve_m2, throttle_m2, limit: None, brake_pa, rough: None })
    }

    /// Manifold pressure (Pa) at which an opening lets in what the cylinders take.
    fn manifold_pa(&self, inlet_m2: f64, speed_rad_s: f64) -> f64 {
        let short = |p: f64| {
            self.air_kg_s(p, speed_rad_s) - (self.inlet_kg_s(inlet_m2, p) + self.leak_kg_s(p))
        };
        rising_root(short, LEAST_PRESSURE_PA, self.ambient_pa)
    }
}

impl Plant {
    /// The stall of a state without fuel.
    fn no_fuel(&self, state: &OperatingState) -> Option<Stall> {
        let air_kg_s = state.metered_kg_s.max(0.0);
        state.lambda.is_infinite().then_some(Stall::NoFuel { air_kg_s })
    }

    /// The stall of an engine some or all of whose injectors stay shut.
    fn too_few_spray(&self) -> Stall {
        let (system_pa, opening_pa) =
            (self.parts.pressures.system_pa, self.parts.injectors.opening_pa);
        match self.lines.spraying() {
            0 => Stall::NothingSprays { system_pa, opening_pa },
            spraying => Stall::FewSpray {
                system_pa,
                opening_pa,
                spraying,
                lines: self.parts.slits.width_m.len(),
            },
        }
    }
}

fn fastest() -> f64 {
    Unit::Rpm.to_si(FASTEST_RPM)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::rig::shipped::{SHIPPED, shipped};

    /// An engine, and how it settles on a mixture.
    fn settled(
        name: &str,
        conditions: &Conditions,
        lambda: f64,
    ) -> (Plant, Result<Settled, Stall>) {
        let rig = shipped(name).unwrap().rig;
        let plant = Plant::new(rig.parts(), rig.reference(), conditions);
        let jet_m_s = plant.jet_m_s(plant.parts.controller.base_a);
        let found = plant.settle(conditions, &Mixture::Aim { jet_m_s, lambda }, 0.0);
        (plant, found)
    }

    /// The pedal holds a speed: the throttle opens, the valve stands as with any open idle
    /// switch, and through both comes the air that is metered.
    #[test]
    fn a_pedal_that_holds_a_speed_gives_what_the_valve_does_not() {
        for (name, _) in SHIPPED {
            let speed_rad_s = Some(Unit::Rpm.to_si(2000.0));
            let held = Conditions { pedal_holds_speed: true, speed_rad_s, ..Conditions::default() };
            let (plant, found) = settled(name, &held, 1.0);
            let found = found.unwrap();
            let state = &found.state;
            let passes_kg_s =
                plant.inlet_kg_s(found.valve_m2 + found.throttle_m2, state.manifold_pa);
            assert!((passes_kg_s / state.metered_kg_s - 1.0).abs() < 1e-9, "{name}");
            assert!((state.surplus_pa() / state.demand_pa).abs() < 1e-6, "{name}: no brake");
            assert!(found.throttle_m2 > 1.1 * plant.released_m2, "{name}: the pedal is down");
            // The valve is where the sound idle has it.
            let idle = settled(name, &Conditions::default(), 1.0).1.unwrap();
            let open_m2 = found.valve_m2 / idle.valve_m2;
            assert!((open_m2 - 1.0).abs() < 0.02, "{name}: {open_m2} of the idle's");
            // A throttle that is held open wider than the speed needs: no pedal holds it.
            let idle_rad_s = plant.parts.controller.idle_rad_s;
            let (linkage_play_m, speed_rad_s) = (-2e-3, Some(idle_rad_s));
            let wide = Conditions { linkage_play_m, speed_rad_s, ..held };
            let stall = settled(name, &wide, 1.0).1.unwrap_err();
            assert_eq!(stall, Stall::RunsAway { speed_rad_s: idle_rad_s }, "{name}");
        }
    }

    /// Under a brake it is told that the mixture does not fire where next to nothing of the best
    /// work is left, and not before.
    #[test]
    fn an_engine_under_a_brake_does_not_fire_once_its_work_is_all_but_gone() {
        let (throttle, speed_rad_s) = (0.3, Some(Unit::Rpm.to_si(2000.0)));
        let braked = Conditions { throttle, speed_rad_s, ..Conditions::default() };
        let (mut runs, mut little, mut dead) = (0, 0, 0);
        for i in 0..400 {
            let lambda = 1.0 + 0.005 * f64::from(i);
            let (plant, found) = settled("six", &braked, lambda);
            match found {
                Ok(found) => {
                    let state = &found.state;
                    let best_pa = plant.best_imep_pa(state.air_kg_s, state.speed_rad_s);
                    assert!(state.imep_pa > 0.01 * best_pa && dead == 0, "lambda {lambda}");
                    runs += 1;
                    little += u32::from(state.imep_pa < 0.1 * best_pa);
                }
                Err(stall) => {
                    assert_eq!(stall, Stall::DoesNotFire { lambda });
                    dead += 1;
                }
            }
        }
        assert!(runs > 50 && little > 0 && dead > 50, "{runs}, {little}, {dead}");
    }

    /// With the idle switch open nobody looks at the speed: the valve keeps the sound idle's
    /// opening, and a heavier engine runs slower. A linkage that holds the throttle open, or a
    /// switch that never closes, opens it.
    #[test]
    fn with_the_idle_switch_open_the_valve_does_not_answer_to_the_speed() {
        let mut no_idle = Conditions::default();
        no_idle.faults.throttle_switch = ThrottleSwitch::NoIdle;
        let held_off = Conditions { linkage_play_m: -1e-3, ..Conditions::default() };
        for (open, conditions) in
            [(false, Conditions::default()), (true, no_idle), (true, held_off)]
        {
            let at = |leak_kg_s: f64| {
                let conditions = Conditions { leak_kg_s, ..conditions };
                settled("six", &conditions, 1.0).1.unwrap()
            };
            let (sound, leaks) = (at(0.0), at(3.0 / 3600.0));
            let (opens, faster) = (
                leaks.valve_m2 / sound.valve_m2 - 1.0,
                leaks.state.speed_rad_s / sound.state.speed_rad_s - 1.0,
            );
            if open {
                assert!(opens == 0.0 && faster > 0.03, "{opens}, {faster}");
            } else {
                assert!(opens < -0.1 && faster.abs() < 1e-9, "{opens}, {faster}");
            }
        }
    }
}
