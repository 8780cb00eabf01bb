//! Fuel supply in time: leaks and leak-down against closed forms, balances, what a fault
//! does, and the trade's figures.

use crate::trade::{rigs, trade};
use sim_core::bleed::feed::{Feed, STEPS};
use sim_core::bleed::volume_balance::VolumeBalance;
use sim_core::bleed::{Bleed, BleedRequest, LONGEST_S, bleed, bleed_by};
use sim_core::conditions::Conditions;
use sim_core::fuel::leak::{LeakDown, Leaks, Seeps, annular_gap_m3_s, shut_slit_m3_s_pa};
use sim_core::fuel::slit::{CYLINDERS, Liquid};
use sim_core::fuel::supply::{Accumulator, CheckValve, Supply};
use sim_core::ode::{OdeSystem, reference};
use sim_core::rig::Rig;
use sim_core::rig::keys::Setup;
use sim_core::run::restart::restart;
use sim_core::units::Unit;

const BAR: f64 = 1e5;
const ML: f64 = 1e-6;

fn asked() -> BleedRequest {
    BleedRequest {
        lift_m: 0.020,
        check_valve: CheckValve::Ok,
        accumulator_share: 1.0,
        stand_s: 1800.0,
        hot_k: Unit::Celsius.to_si(90.0),
        class_pa: 90e3,
    }
}

fn work(rig: &Rig, asked: &BleedRequest) -> Bleed {
    let setup = Setup { rig: *rig, conditions: Conditions::default() };
    bleed(&setup, asked).expect("nothing flows at rest")
}

/// Pressure of the trace at a time after the pump has stopped (Pa).
fn after_stop_pa(found: &Bleed, after_s: f64) -> f64 {
    let at = found.pump_stops_s + after_s;
    let near = |a: &&sim_core::bleed::Sample, b: &&sim_core::bleed::Sample| {
        (a.time_s - at).abs().total_cmp(&(b.time_s - at).abs())
    };
    let row = found.trace.iter().min_by(near).unwrap();
    assert!((row.time_s - at).abs() < 6.0, "no row near {after_s} s");
    row.pressure_pa
}

/// The feed of a rig with the pump off and the slits shut.
fn feed<'a>(rig: &'a Rig, supply: &'a Supply, check: CheckValve, liquid: Liquid) -> Feed<'a> {
    let parts = rig.parts();
    Feed {
        supply,
        slits: &parts.slits,
        liquid,
        leaks: supply.leaks(parts.pressures.plunger_m, check, &liquid),
        set_pa: parts.pressures.system_pa,
        pump_share: 0.0,
        lift_m: 0.0,
        drop_pa: parts.pressures.slit_drop_pa(0.0),
        back_pa: 0.0,
        drawn_m3_s: 0.0,
        seeps: Seeps::NONE,
        to_fill_m3: [0.0; CYLINDERS],
        steps: STEPS,
    }
}

const COLD: Liquid = Liquid { density_kg_m3: 735.0, viscosity_pa_s: 0.5e-3 };

#[test]
fn the_gap_leaks_as_the_plane_channel_does() {
    // Plane Poiseuille flow summed over the height of the gap: u = dp/(2 mu L) y (c - y).
    let (d, c, length, drop, mu) = (0.011, 3e-6, 9e-3, 5.5e5, 0.45e-3);
    let n = 20_000;
    let step = c / f64::from(n);
    let speed = |y: f64| drop / (2.0 * mu * length) * y * (c - y);
    let flow: f64 =
        (0..n).map(|i| speed((f64::from(i) + 0.5) * step) * step * std::f64::consts::PI * d).sum();
    let closed = annular_gap_m3_s(d, (c, length), drop, mu);
    assert!((closed / flow - 1.0).abs() < 1e-8, "{closed} {flow}");
    // The law is laminar: the Reynolds number u c / nu of the widest gap a rig may have.
    let mean = annular_gap_m3_s(d, (2e-5, 1e-3), 8e5, mu) / (std::f64::consts::PI * d * 2e-5);
    assert!(mean * 2e-5 / (mu / 735.0) < 2300.0, "{mean} m/s");
}

/// The same plane flow through a gap as wide as the slit and as long as the plunger covers it;
/// a worn edge covers a hundredth of a millimetre.
#[test]
fn a_shut_slit_seeps_as_the_plane_channel_does() {
    let (width, c, mu, drop) = (0.2e-3, 3e-6, 0.45e-3, 4e5);
    for (overlap, length) in [(0.4e-3, 0.4e-3), (0.02e-3, 0.02e-3), (0.0, 1e-5)] {
        let n = 20_000;
        let step = c / f64::from(n);
        let speed = |y: f64| drop / (2.0 * mu * length) * y * (c - y);
        let flow: f64 = (0..n).map(|i| speed((f64::from(i) + 0.5) * step) * step * width).sum();
        let closed = drop * shut_slit_m3_s_pa(width, c, overlap, mu);
        assert!((closed / flow - 1.0).abs() < 1e-8, "{overlap} m covered: {closed} {flow}");
    }
}

/// `C p' = -(G p + K sqrt p)` in bar, ml and minutes-like units, for the general solver.
struct Leaking {
    c: f64,
    g: f64,
    k: f64,
}

impl OdeSystem<3> for Leaking {
    fn rate(&self, _: f64, x: &[f64; 3]) -> [f64; 3] {
        let root = x[0].max(0.0).sqrt();
        [-(self.g * x[0] + self.k * root) / self.c, x[0], root]
    }
}

#[test]
fn a_leak_down_and_what_leaked_agree_with_the_general_solver() {
    for (c, g, k) in [(0.5, 0.1, 0.0), (0.5, 0.1, 0.4), (30.0, 1e-7, 2.0), (2.0, 3.0, 0.1)] {
        for t in [0.05, 0.4, 1.0, 2.0] {
            let leaking = Leaking { c, g, k };
            let x = reference(&leaking, 0.0, &[5.0, 0.0, 0.0], t, 1e-13).unwrap();
            let down = LeakDown { compliance_m3_pa: c, laminar: g, root: k };
            let root = down.root_after(5.0_f64.sqrt(), t);
            let (integral, roots) = down.integrals(5.0_f64.sqrt(), t);
            let case = format!("C {c} G {g} K {k} t {t}");
            assert!((root * root - x[0]).abs() < 1e-10, "{case}: {} {}", root * root, x[0]);
            assert!((integral - x[1]).abs() < 1e-10 * (1.0 + x[1]), "{case}: {integral} {x:?}");
            assert!((roots - x[2]).abs() < 1e-10 * (1.0 + x[2]), "{case}: {roots} {x:?}");
            assert!((down.time_to_s(5.0_f64.sqrt(), root) - t).abs() < 1e-7 * t, "{case}");
        }
    }
}

#[test]
fn without_accumulator_and_fault_the_pressure_falls_as_an_exponential() {
    for (name, rig) in rigs() {
        let mut supply = rig.parts().supply;
        supply.accumulator = supply.accumulator.weakened(0.0);
        let feed = feed(&rig, &supply, CheckValve::Ok, COLD);
        let mut balance = VolumeBalance { pressure_pa: 5.0 * BAR, ..VolumeBalance::default() };
        feed.leak_down(&mut balance, 700.0, -1.0, 0.0);
        let tau = supply.compliance_m3_pa / feed.leaks.laminar_m3_s_pa();
        let exact = 5.0 * BAR * (-700.0 / tau).exp();
        assert!((balance.pressure_pa / exact - 1.0).abs() < 1e-12, "{name}");
    }
}

#[test]
fn an_accumulator_empties_in_the_time_its_volume_and_leak_give() {
    // Laminar leaks only: t = (C + 1/k)/G ln(p_full/p_preload), then the hoses alone.
    let (_, rig) = rigs().next().unwrap();
    let supply = rig.parts().supply;
    let feed = feed(&rig, &supply, CheckValve::Ok, COLD);
    let Accumulator { preload_pa, stiffness_pa_m3, .. } = supply.accumulator;
    let (full_pa, g) = (supply.accumulator.full_pa(), feed.leaks.laminar_m3_s_pa());
    let c = supply.compliance_m3_pa;
    let empties_s = (c + 1.0 / stiffness_pa_m3) / g * (full_pa / preload_pa).ln();
    let mut balance = VolumeBalance { pressure_pa: full_pa, ..VolumeBalance::default() };
    feed.leak_down(&mut balance, empties_s, -1.0, 0.0);
    assert!((balance.pressure_pa / preload_pa - 1.0).abs() < 1e-12, "{}", balance.pressure_pa);
    feed.leak_down(&mut balance, empties_s + c / g, -1.0, 0.0);
    assert!((balance.pressure_pa / preload_pa - (-1.0_f64).exp()).abs() < 1e-12);
}

#[test]
fn the_build_up_at_rest_is_the_closed_one() {
    // Slits shut: C p' = Q0 - (Q0/p_stall + G) p below the accumulator's preload.
    for (name, rig) in rigs() {
        let supply = rig.parts().supply;
        let mut feed = feed(&rig, &supply, CheckValve::Leaks, COLD);
        feed.leaks = feed.leaks.pump_on();
        feed.pump_share = 1.0;
        let b = supply.pump.free_m3_s / supply.pump.stall_pa + feed.leaks.laminar_m3_s_pa();
        let end_pa = supply.pump.free_m3_s / b;
        let time_s = 0.010;
        let exact = end_pa * -(-time_s * b / supply.compliance_m3_pa).exp_m1();
        assert!(exact < supply.accumulator.preload_pa);
        let mut balance = VolumeBalance::default();
        feed.advance(&mut balance, time_s);
        assert!((balance.pressure_pa / exact - 1.0).abs() < 1e-12, "{name}");
        // In the end the pump's straight line meets the regulator's.
        let slope = supply.regulator_slope_m3_s_pa();
        let meets = (supply.pump.free_m3_s + slope * feed.set_pa) / (b + slope);
        feed.advance(&mut balance, 60.0);
        assert!((balance.pressure_pa / meets - 1.0).abs() < 1e-12, "{name}");
    }
}

#[test]
fn a_line_flows_when_its_slit_has_passed_its_volume() {
    for (name, rig) in rigs() {
        let found = work(&rig, &asked());
        let parts = rig.parts();
        let last = found.flows_after_s.len() - 1;
        for (line, after) in found.flows_after_s.iter().enumerate() {
            let after = after.unwrap();
            // Below 0.2 bar the drop is smaller than what the valves keep: milliseconds.
            let plain = parts.supply.line_m3(line) / found.line_m3_s[line];
            assert!(after > plain && after < plain + 0.02, "{name}: {after} {plain}");
            assert!((0.5..60.0).contains(&after), "{name}: {after} s");
        }
        assert!(found.flows_after_s[0] < found.flows_after_s[last], "{name}: longest last");
        let further = work(&rig, &BleedRequest { lift_m: 0.030, ..asked() });
        assert!(further.flows_after_s[0] < found.flows_after_s[0], "{name}");
        let rest = work(&rig, &BleedRequest { lift_m: 0.0, ..asked() });
        assert!(rest.flows_after_s.iter().all(Option::is_none), "{name}: tight at rest");
        assert_eq!(rest.balance.through_lines_m3(), 0.0);
    }
}

#[test]
fn halving_the_step_changes_nothing_that_is_printed() {
    let valves = [CheckValve::Ok, CheckValve::StuckOpen];
    for (name, rig) in rigs() {
        let setup = Setup { rig, conditions: Conditions::default() };
        for check_valve in valves {
            let asked = BleedRequest { check_valve, accumulator_share: 0.4, ..asked() };
            let coarse = bleed(&setup, &asked).unwrap();
            let fine = bleed_by(&setup, &asked, 2 * STEPS).unwrap();
            let near =
                |a: f64, b: f64, within: f64| assert!((a - b).abs() < within, "{name} {a} {b}");
            near(coarse.residual_pa, fine.residual_pa, 1e-6 * BAR);
            near(coarse.hot.cranking_s.unwrap(), fine.hot.cranking_s.unwrap(), 1e-5);
            near(coarse.at_set_s.unwrap(), fine.at_set_s.unwrap(), 1e-6);
            for (a, b) in coarse.flows_after_s.iter().zip(&fine.flows_after_s) {
                near(a.unwrap(), b.unwrap(), 1e-6);
            }
            assert_eq!(coarse.trace.len(), fine.trace.len());
            for (a, b) in coarse.trace.iter().zip(&fine.trace) {
                near(a.pressure_pa, b.pressure_pa, 1e-4 * BAR);
            }
        }
    }
}

#[test]
fn fuel_delivered_is_returned_stored_leaked_or_through_the_lines() {
    for (name, rig) in rigs() {
        for check_valve in [CheckValve::Ok, CheckValve::Leaks, CheckValve::StuckOpen] {
            for (share, lift_m, fuel_degc) in
                [(1.0, 0.020, 30.0), (0.5, 0.002, 30.0), (0.0, 0.0, 10.0), (0.3, 0.06, 90.0)]
            {
                let conditions =
                    Conditions { fuel_k: Unit::Celsius.to_si(fuel_degc), ..Conditions::default() };
                let asked =
                    BleedRequest { check_valve, accumulator_share: share, lift_m, ..asked() };
                let found = bleed(&Setup { rig, conditions }, &asked).unwrap();
                let share = found.missing_m3.abs() / found.balance.pumped_m3;
                assert!(share < 1e-9, "{name} {asked:?}: {share:e} of what was pumped is missing");
                assert!(found.balance.pumped_m3 > 50.0 * ML);
                // And against what must be left: nothing negative, no line without its flow.
                let balance = &found.balance;
                for part in
                    [balance.returned_m3, balance.check_m3, balance.plunger_m3, balance.seat_m3]
                {
                    assert!(part >= 0.0, "{name}: {balance:?}");
                }
            }
        }
    }
}

#[test]
fn a_sound_supply_holds_the_trade_s_pressure_and_delivers_the_trade_s_volume() {
    for (name, rig) in rigs() {
        let found = work(&rig, &asked());
        trade("residual pressure 30 min after stopping").holds(found.residual_pa / BAR);
        trade("pump delivery at the return").holds(40e3 * found.return_m3_s);
        trade("system pressure above atmosphere").holds(found.running_pa / BAR);
        let mut setup = Setup { rig, conditions: Conditions::closed_loop() };
        setup.conditions.fuel_side.stood_s = asked().stand_s;
        let hot = restart(&setup, LONGEST_S).unwrap();
        trade("cranking time to first fire after a correct static setting")
            .holds(hot.let_go_after_s.unwrap());
        // Winter petrol (90 kPa) begins to boil at that pressure; summer's (60 kPa) does not.
        assert!(found.hot.vapour_m3 < 3.0 * ML, "{name}: {} m3", found.hot.vapour_m3);
        let summer = work(&rig, &BleedRequest { class_pa: 60e3, ..asked() });
        assert_eq!(summer.hot.vapour_m3, 0.0, "{name}: no vapour at 90 degC");
    }
}

#[test]
fn a_check_valve_at_fault_shows_at_once_and_a_weak_accumulator_later() {
    for (name, rig) in rigs() {
        let sound = work(&rig, &asked());
        let leaks = work(&rig, &BleedRequest { check_valve: CheckValve::Leaks, ..asked() });
        let open = work(&rig, &BleedRequest { check_valve: CheckValve::StuckOpen, ..asked() });
        let weak = work(&rig, &BleedRequest { accumulator_share: 0.5, ..asked() });
        let at = |found: &Bleed, s: f64| after_stop_pa(found, s) / BAR;
        // At once: within a minute a bar is gone, or all of it.
        assert!(at(&sound, 60.0) - at(&leaks, 60.0) > 0.8, "{name}: {}", at(&leaks, 60.0));
        assert!(at(&open, 10.0) < 1.0, "{name}: {}", at(&open, 10.0));
        // The weak accumulator gives way slowly, and is lower after 30 min.
        assert!(at(&weak, 60.0) > at(&leaks, 60.0) + 0.2, "{name}: {}", at(&weak, 60.0));
        assert!(weak.residual_pa < sound.residual_pa - 0.7 * BAR, "{name}: {}", weak.residual_pa);
        assert!(weak.residual_pa > leaks.residual_pa, "{name}");
        // Before the pump stops no check valve tells.
        assert_eq!(leaks.flows_after_s, sound.flows_after_s, "{name}");
        assert_eq!(leaks.return_m3_s, sound.return_m3_s, "{name}");
        // Hot: vapour, and cranking in that order.
        let cranking = |found: &Bleed| found.hot.cranking_s.unwrap();
        assert!(weak.hot.vapour_m3 > 0.0, "{name}: the weak one boils");
        assert!(cranking(&weak) > 2.0 * cranking(&sound), "{name}: {}", cranking(&weak));
        assert!(cranking(&open) > cranking(&weak), "{name}: {}", cranking(&open));
        assert!(leaks.hot.boils_after_s < weak.hot.boils_after_s.map(|s| s + 600.0));
    }
}

#[test]
fn fuel_boils_where_its_vapour_pressure_meets_the_feed_s() {
    // Hotter, higher up or with winter petrol it takes longer, never less.
    for (name, rig) in rigs() {
        let cranking = |hot_degc: f64, class_pa: f64, altitude_m: f64| {
            let conditions = Conditions { altitude_m, ..Conditions::default() };
            let hot_k = Unit::Celsius.to_si(hot_degc);
            let asked = BleedRequest { accumulator_share: 0.4, hot_k, class_pa, ..asked() };
            bleed(&Setup { rig, conditions }, &asked).unwrap().hot
        };
        let base = cranking(90.0, 90e3, 0.0);
        for worse in [cranking(100.0, 90e3, 0.0), cranking(90.0, 100e3, 0.0)] {
            assert!(worse.vapour_m3 > base.vapour_m3, "{name}");
            assert!(worse.cranking_s > base.cranking_s, "{name}");
        }
        assert!(cranking(90.0, 90e3, 2000.0).boils_at_pa > base.boils_at_pa);
        // No more vapour than there is room: the feed, shut off from the lines by the slits.
        let supply = rig.parts().supply;
        let open = work(&rig, &BleedRequest { check_valve: CheckValve::StuckOpen, ..asked() });
        assert!((open.hot.vapour_m3 / supply.feed_m3 - 1.0).abs() < 1e-9, "{name}");
    }
}

#[test]
fn slits_open_at_rest_fill_the_glasses_sooner_and_are_refused_beyond() {
    for (name, rig) in rigs() {
        let conditions = Conditions { screw_turns: 0.5, ..Conditions::default() };
        let refused = bleed(&Setup { rig, conditions }, &asked()).expect_err(name);
        assert!(refused.above_m > 0.0 && refused.flow_m3_s > 0.0, "{name}: {refused:?}");
        // The slits are open further at the same lift: each line flows more, and sooner.
        let sound = work(&rig, &asked());
        let glasses = &refused.into_glasses;
        let flows = glasses.line_m3_s.iter().zip(&sound.line_m3_s);
        assert!(flows.into_iter().all(|(open, shut)| open > shut), "{name}: {glasses:?}");
        let times = glasses.flows_after_s.iter().zip(&sound.flows_after_s);
        assert!(times.into_iter().all(|(open, shut)| open < shut), "{name}: {glasses:?}");
    }
}

#[test]
fn no_part_within_its_range_makes_it_hang_or_not_a_number() {
    use sim_core::noise::Noise;
    use sim_core::rig::keys::{KEYS, Place};
    let (_, six) = rigs().next().unwrap();
    for item in 0..1000 {
        let mut noise = Noise::new(5, item);
        let rig = six
            .with_parts(|parts| {
                for key in KEYS.iter().filter(|key| key.table() == Some("supply")) {
                    let Place::Part { at, .. } = key.place else { continue };
                    let edge = [key.low, key.high, noise.between(key.low, key.high)];
                    let pick = (3.0 * noise.uniform()) as usize;
                    *at(parts) = key.unit.to_si(edge[pick]);
                }
            })
            .unwrap();
        let check_valve =
            [CheckValve::Ok, CheckValve::Leaks, CheckValve::StuckOpen][item as usize % 3];
        let asked = BleedRequest {
            check_valve,
            accumulator_share: noise.uniform(),
            lift_m: noise.between(0.0, 0.06),
            stand_s: noise.between(60.0, 36_000.0),
            hot_k: noise.between(253.0, 403.0),
            class_pa: noise.between(45e3, 100e3),
        };
        let found = work(&rig, &asked);
        for row in &found.trace {
            assert!(row.pressure_pa.is_finite() && row.pressure_pa >= 0.0, "{item}: {row:?}");
        }
        assert!(found.trace.windows(2).all(|two| two[0].time_s < two[1].time_s), "{item}");
        let through = found.balance.pumped_m3 + rig.parts().supply.feed_m3;
        assert!(found.missing_m3.abs() < 1e-9 * through, "{item}: {:e}", found.missing_m3);
        assert!(found.hot.cranking_s.is_none_or(|s| (0.0..=LONGEST_S).contains(&s)), "{item}");
        assert!(found.hot.residual_pa.is_finite() && found.hot.vapour_m3 >= 0.0, "{item}");
    }
}

#[test]
fn a_faulty_check_valve_leaks_as_torricelli_says() {
    let (_, rig) = rigs().next().unwrap();
    let supply = rig.parts().supply;
    let leaks: Leaks = supply.leaks(0.010, CheckValve::StuckOpen, &COLD);
    let c = std::f64::consts::PI / (std::f64::consts::PI + 2.0);
    let flow = c * supply.check_open_m2 * (2.0 * 4e5 / 735.0_f64).sqrt();
    let laminar = leaks.laminar_m3_s_pa() * 4e5;
    assert!((leaks.flow_m3_s(4e5) / (flow + laminar) - 1.0).abs() < 1e-12);
    assert_eq!(leaks.pump_on().flow_m3_s(4e5), (leaks.plunger_m3_s_pa + leaks.seat_m3_s_pa) * 4e5);
}
