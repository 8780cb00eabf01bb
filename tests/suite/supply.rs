//! Fuel supply: spring, regulator, starter and slits against counts by small steps.

use crate::support::*;
use sim_core::bleed::feed::{Feed, STEPS};
use sim_core::bleed::{Bleed, bleed};
use sim_core::fuel::condition::FuelSide;
use sim_core::fuel::leak::Seeps;
use sim_core::fuel::slit::{CYLINDERS, Liquid, jet_speed_m_s};
use sim_core::fuel::supply::{Accumulator, CheckValve};
use sim_core::rig::keys::Setup;
use sim_core::units::Unit;
use std::f64::consts::PI;

const BAR: f64 = 1e5;
const ML: f64 = 1e-6;

fn asked() -> BleedAsked {
    BleedAsked {
        lift_m: 0.020,
        check_valve: CheckValve::Ok,
        accumulator_share: 1.0,
        stand_s: 1800.0,
        hot_k: Unit::Celsius.to_si(90.0),
        class_pa: 60e3,
    }
}

fn work(setup: &Setup, asked: &BleedAsked) -> Bleed {
    bleed(setup, asked).expect("nothing flows at rest")
}

/// Hooke: a spring that has lost half its force holds at half the pressure what it held at
/// all of it, from the first millilitre to the last.
#[test]
fn a_weak_accumulator_is_weak_from_its_first_millilitre_to_its_last() {
    let sound = Accumulator { volume_m3: 40.0 * ML, preload_pa: 2.6e5, stiffness_pa_m3: 0.03e11 };
    for share in [0.3, 0.5, 0.8] {
        let weak = sound.weakened(share);
        near(weak.full_pa(), share * sound.full_pa(), 1e-12, "pressure at which it is full");
        for bar in [2.7, 3.0, 3.5, 3.79] {
            let (at, held) = (share * bar * BAR, sound.stored_m3(bar * BAR));
            near(weak.stored_m3(at), held, 1e-9, "what it holds");
        }
    }
    assert_eq!(sound.weakened(0.0).stored_m3(5e5), 0.0, "a broken spring stores nothing");
}

/// The file tells how far the pressure rises from the regulator's opening to the pump's free
/// delivery: with the slits shut it rises by that share which returns.
#[test]
fn the_regulator_rises_with_what_returns_through_it() {
    for rise_bar in [0.05, 0.12, 0.6] {
        let setup = with("six", &[("regulator_rise_bar", rise_bar)]);
        let found = work(&setup, &asked());
        let share = found.return_m3_s / (4500.0 * ML / 60.0);
        // A gauge shows 5.4 bar with nothing drawn; it opens below that by what then returns.
        let opens_pa = 5.4 * BAR - rise_bar * BAR * (1.0 - 5.4 / 11.0);
        near(found.running_pa - opens_pa, rise_bar * BAR * share, 1e-3, "rise above its opening");
        near(found.running_pa, 5.4 * BAR, 1e-3, "what a gauge shows");
        // And the pump gives what is left of its own line at that pressure.
        near(share, 1.0 - found.running_pa / (11.0 * BAR), 2e-3, "what the pump gives");
    }
}

/// The plate as the starter turns the hot engine: its air is the displacement, once in two
/// turns, filled to some two thirds to nine tenths with warm air.
#[test]
fn a_cranking_starter_lifts_the_plunger_by_the_air_of_its_speed() {
    let filled = |rpm: f64| {
        let setup = with("six", &[("hot_cranking_rpm", rpm)]);
        let parts = setup.rig.parts();
        let lift_m = work(&setup, &asked()).hot.cranking_lift_m;
        // 11 mm on the plunger's side of the pivot, 110 mm on the plate's.
        let height_m = 10.0 * lift_m + parts.lever.opening_height_m(0.0);
        let weight_n = 5.4e5 * PI / 4.0 * 0.010 * 0.010 * 11.0 / 110.0;
        let drop_pa = weight_n / (PI * 0.040 * 0.040);
        let air_kg_s = 0.7 * parts.plate.area_m2(height_m) * (2.0 * 1.204 * drop_pa).sqrt();
        air_kg_s / (2.8e-3 * rpm / 60.0 / 2.0 * 1.204)
    };
    for rpm in [160.0, 220.0, 350.0] {
        assert!((0.65..0.95).contains(&filled(rpm)), "{rpm} rpm: filled to {}", filled(rpm));
    }
}

/// A hot restart counted by steps of a tenth of a millisecond: pump at the share the starter
/// leaves it, spring and hoses, slits against the vapour they meet, lines to fill.
fn restart_by_small_steps(setup: &Setup, asked: &BleedAsked) -> f64 {
    let found = work(setup, asked);
    let (parts, hot) = (setup.rig.parts(), found.hot);
    let (supply, slits) = (&parts.supply, &parts.slits);
    let liquid = Liquid {
        density_kg_m3: setup.conditions.petrol.fuel().density_kg_m3(asked.hot_k),
        viscosity_pa_s: sim_core::fuel::kind::viscosity_pa_s(asked.hot_k),
    };
    let lines = slits.width_m.len();
    let volumes: Vec<f64> = (0..lines).map(|line| supply.line_m3(line)).collect();
    // The injectors let 0.03 ml drip a minute out of a line that boils, from 0.5 to 1.5 of that.
    let boiling_s = hot.boils_after_s.map_or(0.0, |after_s| asked.stand_s - after_s);
    let drips = |line: usize| 0.5 + line as f64 / (lines as f64 - 1.0);
    let dripped = |line: usize| drips(line) * 0.03 * ML / 60.0 * boiling_s;
    let short: Vec<f64> = (0..lines).map(|line| dripped(line).min(volumes[line])).collect();
    let pump = |pa: f64| {
        let free = supply.pump.cranking_share * supply.pump.free_m3_s;
        (free * (1.0 - pa / supply.pump.stall_pa)).max(0.0)
    };
    let spring = &supply.accumulator;
    let start_pa = hot.residual_pa;
    let mut time_s = hot.vapour_m3 / pump(start_pa);
    let (mut pa, mut passed) = (start_pa, vec![0.0; lines]);
    let step_s = 1e-4;
    while pa < parts.pressures.system_pa || (0..lines).any(|i| passed[i] < short[i]) {
        let drop_pa = (pa - start_pa).clamp(0.0, 0.2 * BAR);
        let jet = jet_speed_m_s(drop_pa, liquid.density_kg_m3);
        let mut out = 0.0;
        for (line, passed) in passed.iter_mut().enumerate() {
            let flow =
                slits.flow_kg_s(line, hot.cranking_lift_m, jet, &liquid) / liquid.density_kg_m3;
            *passed += flow * step_s;
            out += flow;
        }
        let gives = pa >= spring.preload_pa && pa < spring.full_pa();
        let holds =
            supply.compliance_m3_pa + if gives { 1.0 / spring.stiffness_pa_m3 } else { 0.0 };
        pa += (pump(pa) - out) / holds * step_s;
        pa = pa.min(parts.pressures.system_pa);
        time_s += step_s;
        assert!(time_s < 200.0, "counted for 200 s");
    }
    time_s
}

/// No vapour: the pressure alone has to come back, by what the starter leaves of the pump.
#[test]
fn a_weaker_battery_makes_the_pump_take_longer_to_bring_the_pressure_back() {
    let took = |percent: f64| {
        let setup = with("six", &[("pump_cranking_percent", percent)]);
        let cranking_s = work(&setup, &asked()).hot.cranking_s.expect("it starts");
        near(cranking_s, restart_by_small_steps(&setup, &asked()), 0.02, "hot restart (s)");
        cranking_s
    };
    let (whole, half) = (took(80.0), took(40.0));
    assert!(half > 1.8 * whole, "{whole} s at 80 % of the delivery, {half} s at 40 %");
}

/// The same in a run: with nothing drawn, the pressure takes as much longer as the starter and a
/// weak battery leave less of the pump.
#[test]
fn in_a_run_the_starter_and_a_weak_battery_leave_their_shares_of_the_pump() {
    let took_s = |left: f64, battery: f64| {
        let keys = [
            ("screw", -2.0),
            ("start_valve_g_s", 0.0),
            ("stood_h", 1500.0),
            ("pump_cranking_percent", left),
            ("battery_percent", battery),
        ];
        let mut engine = cranked(&with("six", &keys));
        assert!(engine.system_pa() < 0.1 * BAR, "it begins with {} Pa", engine.system_pa());
        while engine.system_pa() < 4.0 * BAR {
            engine.tick().unwrap();
            assert!(engine.time_s() < 20.0, "no pressure within 20 s");
        }
        engine.time_s()
    };
    let whole_s = took_s(80.0, 100.0);
    near(took_s(40.0, 100.0), 2.0 * whole_s, 0.03, "s at half the starter's share");
    near(took_s(80.0, 50.0), 2.0 * whole_s, 0.03, "s at half the battery");
}

/// A winter petrol in a hot engine boils: the lines hold vapour at its own pressure, and the
/// slits pass against that.
#[test]
fn in_a_hot_restart_the_slits_pass_against_the_vapour_s_pressure() {
    // The stand leaves 2.7 bar. An accumulator that takes fuel just there lets the pressure rise
    // slowly above that, so that the slits have little to drive them while the lines fill.
    let soft = [
        ("accumulator_ml", 40.0),
        ("accumulator_preload_bar", 2.6),
        ("accumulator_stiffness_bar_ml", 0.01),
        ("pump_cranking_percent", 10.0),
        ("line_length_mm", 200.0),
        ("line_longer_mm", 0.0),
    ];
    for rpm in [180.0, 220.0] {
        let setup = and(&with("six", &soft), &[("hot_cranking_rpm", rpm)]);
        let hot_k = Unit::Celsius.to_si(105.0);
        let asked = BleedAsked { class_pa: 100e3, hot_k, stand_s: 7200.0, ..asked() };
        let found = work(&setup, &asked).hot;
        assert!(found.vapour_m3 > 1.0 * ML, "{} ml of vapour", found.vapour_m3 / ML);
        let counted = restart_by_small_steps(&setup, &asked);
        near(found.cranking_s.expect("it starts"), counted, 0.01, "hot restart with vapour (s)");
    }
    // The law itself: nothing flows at no difference, all of it from the drop the valves keep.
    let setup = with("six", &[]);
    let parts = setup.rig.parts();
    let liquid = Liquid { density_kg_m3: 700.0, viscosity_pa_s: 0.4e-3 };
    let feed = |back_pa: f64| Feed {
        supply: &parts.supply,
        slits: &parts.slits,
        liquid,
        leaks: parts.supply.leaks(parts.pressures.plunger_m, CheckValve::Ok, &liquid),
        set_pa: 5.4 * BAR,
        pump_share: 0.0,
        lift_m: 1e-3,
        drop_pa: 0.2 * BAR,
        back_pa,
        drawn_m3_s: 0.0,
        seeps: Seeps::NONE,
        to_fill_m3: [0.0; CYLINDERS],
        steps: STEPS,
    };
    let (free, against) = (feed(0.0), feed(3.0 * BAR));
    assert_eq!(against.line_m3_s(0, 3.0 * BAR), 0.0, "flow without a difference");
    for above_bar in [0.05, 0.1, 0.2, 1.0] {
        let (a, b) =
            (free.line_m3_s(0, above_bar * BAR), against.line_m3_s(0, (3.0 + above_bar) * BAR));
        near(b, a, 1e-9, "flow at the same difference");
    }
}

/// Geometry: a line of 2 mm bore holds 3.14 mm3 a millimetre.
#[test]
fn a_line_holds_its_bore_s_area_times_its_length() {
    let keys = [("line_bore_mm", 2.0), ("line_length_mm", 500.0), ("line_longer_mm", 40.0)];
    let supply = with("six", &keys).rig.parts().supply;
    for line in 0..6 {
        let ml = 3.141_593e-3 * (500.0 + 40.0 * line as f64);
        near(supply.line_m3(line), ml * ML, 1e-6, "volume of a line");
    }
}

/// No two injectors are as tight: what the set drips is its stated mean, the last of it ten times
/// the first, evenly in between by factors, and no line loses more than it holds.
#[test]
fn a_set_of_injectors_drips_its_mean_and_spreads_by_its_factor() {
    let side = FuelSide { drips_m3_s: 2.0 * ML / 60.0, drips_spread: 10.0, ..FuelSide::default() };
    for lines in [4, 6, 8] {
        let drips: Vec<f64> =
            (0..lines).map(|line| side.dripped_m3(line, lines, 1.0, 120.0)).collect();
        near(drips.iter().sum::<f64>() / lines as f64, 4.0 * ML, 1e-9, "mean of two minutes");
        near(drips[lines - 1] / drips[0], 10.0, 1e-9, "leakiest over tightest");
        for three in drips.windows(3) {
            near(three[1] * three[1], three[0] * three[2], 1e-9, "by factors");
        }
        assert_eq!(side.dripped_m3(0, lines, 0.1 * ML, 3600.0), 0.1 * ML);
    }
}

/// The pressure where the worn pump's line meets what is drawn, what leaks and what the clogged
/// filter takes, found by halving.
#[test]
fn pump_filter_and_leaks_meet_at_the_pressure_that_is_kept() {
    let supply = with("six", &[]).rig.parts().supply;
    let liquid = Liquid { density_kg_m3: 740.0, viscosity_pa_s: 0.5e-3 };
    let leaks = supply.leaks(0.010, CheckValve::Ok, &liquid);
    let (free, stall) = (supply.pump.free_m3_s, supply.pump.stall_pa);
    for (pump_share, filter_bar, drawn) in [(1.0, 0.0, 0.2), (0.4, 0.0, 0.1), (0.5, 6.0, 0.15)] {
        let side = FuelSide { pump_share, filter_pa: filter_bar * BAR, ..FuelSide::default() };
        // Behind the filter: the pump's own pressure is higher by what the filter takes.
        let passes = |pa: f64| {
            let (mut low, mut high) = (0.0, free);
            for _ in 0..60 {
                let q = 0.5 * (low + high);
                let at_pump_pa = pa + side.filter_pa * q / free;
                if pump_share * free * (1.0 - at_pump_pa / stall) > q { low = q } else { high = q }
            }
            low
        };
        let drawn_m3_s = drawn * free;
        let (mut pa, mut above_pa) = (0.0, stall);
        for _ in 0..60 {
            let middle = 0.5 * (pa + above_pa);
            let enough = passes(middle) > drawn_m3_s + leaks.laminar_m3_s_pa() * middle;
            if enough { pa = middle } else { above_pa = middle }
        }
        let share = side.delivers(&supply);
        near(supply.kept_pa(20.0 * BAR, share, drawn_m3_s, &leaks), pa, 1e-9, "pressure kept");
        assert_eq!(supply.kept_pa(0.5 * pa, share, drawn_m3_s, &leaks), 0.5 * pa, "regulated");
        assert_eq!(supply.kept_pa(20.0 * BAR, share, 2.0 * free, &leaks), 0.0, "all is drawn");
    }
}

/// Each injector drips from its own opening on, by its own slit: what a pressure drives out is the
/// sum over those that are open, and below the first nothing.
#[test]
fn shut_slits_seep_through_each_injector_above_its_own_opening() {
    let mut seeps = Seeps { none: false, ..Seeps::NONE };
    let own = [(3.4, 2.0), (3.6, 1.0), (3.9, 5.0)];
    for (line, (opens_bar, ml_min_bar)) in own.into_iter().enumerate() {
        seeps.opens_pa[line] = opens_bar * BAR;
        seeps.slit_m3_s_pa[line] = ml_min_bar * ML / 60.0 / BAR;
    }
    assert_eq!((seeps.from_pa(), Seeps::NONE.from_pa()), (3.4 * BAR, f64::INFINITY));
    for (bar, ml_min) in [(3.0, 0.0), (3.5, 0.2), (3.7, 0.6 + 0.1), (4.4, 2.0 + 0.8 + 2.5)] {
        let flow_ml_min = seeps.flow_m3_s(bar * BAR) * 60.0 / ML;
        assert!((flow_ml_min - ml_min).abs() < 1e-9, "{bar} bar: {flow_ml_min} ml/min");
    }
}

/// Flow through a fine gap goes with one over the viscosity (Poiseuille): fuel half as viscous
/// leaks twice as fast through seats and past the plunger; through an opening that dirt keeps, it
/// does not know it.
#[test]
fn thinner_fuel_leaks_faster_through_gaps_and_not_through_an_opening() {
    let supply = with("six", &[]).rig.parts().supply;
    let leaks = |viscosity_pa_s: f64| {
        let liquid = Liquid { density_kg_m3: 740.0, viscosity_pa_s };
        supply.leaks(0.010, CheckValve::Leaks, &liquid)
    };
    let (thick, thin) = (leaks(6e-4), leaks(3e-4));
    near(thin.laminar_m3_s_pa(), 2.0 * thick.laminar_m3_s_pa(), 1e-9, "through gaps");
    near(thin.opening_m3_s_root, thick.opening_m3_s_root, 1e-9, "through an opening");
}
