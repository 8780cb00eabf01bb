//! Starts, warm-up, drives and the static setting: what each part of them must do.

use crate::support::*;
use sim_core::control::starting::{Starting, ThermoTimeSwitch};
use sim_core::drive::Drive;
use sim_core::flowstart::flow_start;
use sim_core::rig::shipped::SHIPPED;
use sim_core::run::Options;
use sim_core::run::start::{fate, flows_at_rest, start};
use sim_core::units::Unit;

/// A lead battery at -18 degC gives a half to three quarters of its power at 20 degC
/// (handbooks, from memory).
#[test]
fn a_cold_battery_turns_the_starter_with_less_power() {
    let starter = with("six", &[]).rig.parts().starting;
    let power = |starter: &Starting| {
        (0..100)
            .map(|i| starter.free_rad_s * 0.01 * f64::from(i))
            .map(|speed| starter.torque_nm(speed) * speed)
            .fold(0.0, f64::max)
    };
    let share = power(&starter.at(255.15)) / power(&starter.at(293.15));
    assert!((0.45..0.78).contains(&share), "{share} of its power at -18 degC");
    assert_eq!(starter.at(310.0), starter, "a warm battery is a sound one");
    // Shut slits and no start valve: the starter turns the engine and nothing else does.
    let turns = |ambient: f64| {
        let keys = [
            ("ambient_degc", ambient),
            ("coolant_degc", 20.0),
            ("screw", -2.0),
            ("start_valve_g_s", 0.0),
        ];
        start(&with("six", &keys), Options::default(), 6.0, 6.0).unwrap().cranking_rad_s
    };
    let (mild, cold) = (turns(20.0), turns(-18.0));
    assert!(cold < 0.92 * mild, "{cold} rad/s on a cold battery, {mild} on a mild one");
    assert!(mild > 10.0, "{mild} rad/s");
}

/// A d.c. motor at a share of its voltage has that share of its stall torque and of its free speed.
/// The engine asks for the same torque whatever turns it: from each speed it comes out alike, and
/// a cold engine asks for more.
#[test]
fn on_a_weak_battery_the_starter_is_a_motor_at_that_share_of_its_voltage() {
    let drag_nm = |percent: f64, degc: f64| {
        let keys = [
            ("coolant_degc", degc),
            ("screw", -2.0),
            ("start_valve_g_s", 0.0),
            ("battery_percent", percent),
        ];
        let setup = with("six", &keys);
        let motor = setup.rig.parts().starting;
        let turns = start(&setup, Options::default(), 6.0, 6.0).unwrap().cranking_rad_s;
        motor.stall_nm * (0.01 * percent - turns / motor.free_rad_s)
    };
    let sound = drag_nm(100.0, 20.0);
    for percent in [80.0, 60.0] {
        near(drag_nm(percent, 20.0), sound, 0.06, "N m the engine asks of the starter");
    }
    let warm = drag_nm(100.0, 90.0);
    assert!((1.4..2.5).contains(&(sound / warm)), "{sound} N m at 20 degC, {warm} warm");
}

/// More air warms walls and mixture sooner, so controllers of the period took the warm-up back
/// with load; most of it stays (common practice, no source).
#[test]
fn under_load_less_is_added_for_a_cold_engine_than_at_its_idle() {
    for degc in [0.0, 20.0] {
        let added = |keys: &[(&str, f64)]| {
            let state = running(&and(&with("six", &[("coolant_degc", degc)]), keys));
            (shown(&state, "actuator_ma") - 10.0, state.air_kg_s)
        };
        let idle = added(&[]);
        let mut before = 1.0;
        for (percent, rpm) in [(10.0, 1500.0), (20.0, 2000.0)] {
            let load = added(&[("throttle_percent", percent), ("speed_rpm", rpm)]);
            let share = load.0 / idle.0;
            assert!(load.1 > 2.0 * idle.1, "{} kg/s of air under load", load.1);
            assert!(share < before - 0.05 && share > 0.5, "{degc} degC, {rpm} rpm: {share}");
            before = share;
        }
    }
}

/// Less of the fuel evaporates in a cold engine; the warm-up current makes up for it, so that
/// what burns is neither lean nor drowned.
#[test]
fn the_warm_up_current_makes_up_for_what_does_not_evaporate() {
    for rig in ["four", "six", "eight"] {
        let aim = aim_turns(&with(rig, &[]));
        let mut before = f64::INFINITY;
        for degc in [-15.0, -5.0, 5.0, 20.0, 40.0, 60.0, 90.0] {
            let state = running(&with(rig, &[("screw", aim), ("coolant_degc", degc)]));
            assert!(
                (0.85..1.10).contains(&state.lambda),
                "{rig} {degc} degC: lambda {}",
                state.lambda
            );
            let ma = shown(&state, "actuator_ma");
            let warm = degc >= 60.0;
            assert!(ma < before || (warm && ma <= before), "{rig} {degc} degC: {ma} mA");
            before = ma;
        }
    }
}

/// Coolant comes half way to the thermostat in two to four minutes of idling after a cold
/// start (common practice, no source), and by the same share in each minute.
#[test]
fn coolant_warms_half_way_to_the_thermostat_in_a_few_minutes() {
    let setup = with("six", &[("coolant_degc", 20.0), ("fuel_degc", 20.0)]);
    let mut engine = cranked(&setup);
    let mut missing = Vec::new();
    for _ in 0..6 {
        go_on(&mut engine, 50.0);
        assert_eq!(engine.stalled_at_s(), None);
        missing.push(90.0 - Unit::Celsius.from_si(engine.setup().conditions.coolant_k));
    }
    let half = missing.windows(2).map(|pair| 50.0 * 0.5_f64.ln() / (pair[1] / pair[0]).ln());
    for half_s in half {
        assert!((120.0..240.0).contains(&half_s), "half way in {half_s} s");
    }
    let (first, last) = (missing[1] / missing[0], missing[5] / missing[4]);
    near(last, first, 0.01, "what is still missing, from one 50 s to the next");
}

/// Screw in: the slits open below where the plate rests, and fuel runs with the engine
/// standing. Screw out: they are shut.
#[test]
fn fuel_runs_into_a_standing_engine_with_the_screw_in_and_not_with_it_out() {
    let found = flow_start(&with("six", &[]), 0.25).unwrap();
    let shows = found.flow_start_turns;
    for (turns, runs) in [(shows + 0.1, true), (shows - 0.1, false), (shows - 0.25, false)] {
        let setup = with("six", &[("screw", turns)]);
        assert_eq!(flows_at_rest(&setup), runs, "told before a start, {turns} turns");
        let at_rest = flow_start(&setup, shows - turns).unwrap();
        let (lift, lines) = &at_rest.lines[0];
        let flow: f64 = lines.iter().sum();
        assert_eq!((*lift, flow > 0.0), (0.0, runs), "flow of the lines, {turns} turns");
        assert_eq!(at_rest.hazard, runs, "told with the static setting, {turns} turns");
        if let Some(state) = point(&setup).state() {
            assert_eq!(state.flows_at_rest, runs, "told of the running engine, {turns} turns");
        }
    }
}

/// The lever touches the plunger before the slits open, by their overlap: 0.05 mm at the
/// plunger, ten times that at the plate (110 mm against 11).
#[test]
fn the_play_that_is_felt_ends_where_the_lever_touches_the_plunger() {
    let of = |overlap: f64, back: f64| {
        let found = flow_start(&with("six", &[("slit_overlap_mm", overlap)]), back).unwrap();
        (1e3 * found.felt_play_m, 1e3 * found.play_m)
    };
    let (bare, with_overlap) = (of(0.0, 0.25), of(0.05, 0.25));
    near(bare.0 - with_overlap.0, 0.5, 1e-6, "mm of plate that the overlap takes off the play");
    assert_eq!(bare.1, with_overlap.1, "fuel shows where it did");
    assert!(with_overlap.0 < with_overlap.1, "it is felt before fuel shows");
    // Back by a quarter turn: 0.75 mm of thread, 13.75 mm from the pivot.
    let quarter = 0.25 * 0.75 * 110.0 / 13.75;
    near(of(0.0, 0.5).0 - of(0.0, 0.25).0, quarter, 1e-6, "mm of play for a quarter turn");
    assert_eq!(of(0.5, 0.0).0, 0.0, "a lever that touches at rest has no play");
}

/// A gear box and an axle take 5 to 12 % of what passes them (common practice, no source).
/// The invented car: 1400 kg, rolling 0.013, drag area 0.75 m2.
#[test]
fn the_drive_line_loses_what_the_engine_makes_beyond_the_wheels() {
    let setup = with("six", &[]);
    for kmh in [50.0, 90.0, 120.0] {
        let steady = Drive::parse(&format!("time_s,speed_kmh\n0,{kmh}\n10,{kmh}\n")).unwrap();
        let Wants::Drives { speed_rad_s, air_kg_s, .. } = wants(&setup, &steady)[5] else {
            panic!("{kmh} km/h is driven")
        };
        let v = kmh / 3.6;
        let wheels_w = v * (1400.0 * 9.81 * 0.013 + 0.5 * 1.204 * 0.75 * v * v);
        let braked = |percent: f64| {
            let mut setup = and(&setup, &[("throttle_percent", percent)]);
            setup.conditions.speed_rad_s = Some(speed_rad_s);
            at_lambda(&setup, 1.0)
        };
        let (mut low, mut high) = (1.0, 60.0);
        for _ in 0..40 {
            let middle = 0.5 * (low + high);
            if running(&braked(middle)).air_kg_s < air_kg_s { low = middle } else { high = middle }
        }
        let crank_w = running(&braked(high)).brake_nm * speed_rad_s;
        let passes = wheels_w / crank_w;
        assert!((0.88..0.95).contains(&passes), "{kmh} km/h: {passes} of it reach the wheels");
    }
}

/// Cranking's enrichment goes over into the after-start's without a gap: an engine that has
/// just caught is not starved of it, and from then on it only falls.
#[test]
fn enrichment_falls_without_a_gap_from_cranking_to_the_idle() {
    for degc in [-5.0_f64, 20.0, 80.0] {
        let cold = degc.min(20.0);
        let keys = [("coolant_degc", degc), ("ambient_degc", cold), ("fuel_degc", cold)];
        let mut engine = cranked(&with("six", &keys));
        let ma = |engine: &sim_core::run::Engine| shown(&now(engine), "actuator_ma");
        go_on(&mut engine, 0.02);
        let cranking = ma(&engine);
        let mut before = cranking;
        for _ in 0..900 {
            go_on(&mut engine, 0.01);
            let now = ma(&engine);
            assert!(now < before + 1e-6, "{degc} degC: {now} mA after {before}");
            assert!(
                now > before - 0.05 * cranking,
                "{degc} degC: from {before} to {now} mA in 10 ms"
            );
            before = now;
        }
        assert!(
            before < 0.8 * cranking,
            "{degc} degC: {cranking} mA while cranking, {before} after 9 s"
        );
    }
}

/// The switch of the start valve closes for 8 s at the most, in any cold, and not at all from
/// 35 degC on (common practice, no source).
#[test]
fn the_start_valve_sprays_eight_seconds_at_the_most() {
    let sprays_s = |degc: f64| {
        let (mut switch, coolant_k) = (ThermoTimeSwitch::default(), degc + 273.15);
        let ticks = (0..2000).take_while(|_| {
            let closed = switch.closed(coolant_k);
            switch.heat(0.01, coolant_k);
            closed
        });
        0.01 * ticks.count() as f64
    };
    for (degc, seconds) in [(-40.0, 8.0), (-20.0, 8.0), (7.5, 4.0), (20.0, 2.18), (36.0, 0.0)] {
        assert!((sprays_s(degc) - seconds).abs() < 0.02, "{degc} degC: {} s", sprays_s(degc));
    }
}

/// What a map needs of a start is clear before the start is over: the same as of one that is
/// looked at to its end, on weak pumps, too.
#[test]
fn the_fate_of_a_start_that_is_not_looked_at_to_its_end_is_the_same() {
    let (mut started, mut died) = (0, 0);
    for (name, _) in SHIPPED {
        for pump in [100.0, 40.0] {
            for i in 0..9 * 12 {
                let (degc, screw) =
                    (-25.0 + 9.0 * f64::from(i / 12), -0.3 + 0.06 * f64::from(i % 12));
                let setup = with(
                    name,
                    &[
                        ("ambient_degc", degc),
                        ("coolant_degc", degc),
                        ("fuel_degc", degc),
                        ("screw", screw),
                        ("pump_percent", pump),
                    ],
                );
                let of = |how: fn(&_, _, _, _) -> _| how(&setup, Options::default(), 10.0, 12.0);
                let (whole, short) = (of(start).unwrap(), of(fate).unwrap());
                let at = format!("{name} at {degc} degC, {screw} turns, pump {pump} %");
                assert_eq!(short.reason, whole.reason, "{at}");
                assert_eq!(short.caught_after_s, whole.caught_after_s, "{at}");
                assert_eq!(short.fires_after_s, whole.fires_after_s, "{at}");
                started += u32::from(whole.reason.is_none());
                died += u32::from(whole.reason.is_some() && whole.caught_after_s.is_some());
            }
        }
    }
    assert!(started > 100 && died > 20, "{started} started, {died} caught and died");
}

/// How high a start flares is the same with ticks eight times as fine, cold and warm, low and high.
#[test]
fn a_flare_does_not_hang_on_how_finely_its_ticks_are_worked_out() {
    for (coolant, ambient, altitude) in
        [(90.0, 20.0, 1500.0), (90.0, 20.0, 0.0), (20.0, 20.0, 0.0), (-10.0, -10.0, 0.0)]
    {
        let keys = [("coolant_degc", coolant), ("ambient_degc", ambient), ("altitude_m", altitude)];
        let setup = with("six", &keys);
        let flares = |finer: u32| {
            start(&setup, Options { finer, ..Options::default() }, 10.0, 10.0).unwrap().flare_rad_s
        };
        let (flare, fine) = (flares(1), flares(8));
        assert!((flare / fine - 1.0).abs() < 5e-3, "{coolant} degC, {altitude} m: {flare} {fine}");
    }
}

/// Between its first fires and its catching a cold engine fires in some cylinders and not in
/// others: where one charge is taken to burn or not decides whether it catches then or a second
/// later. What the ticks are made of must not.
#[test]
fn when_a_cold_engine_catches_does_not_hang_on_how_finely_its_ticks_are_worked_out() {
    for (name, degc, screw) in [
        ("six", -25.0, -0.081),
        ("six", -23.0, 0.045),
        ("six", -23.0, 0.063),
        ("six", -21.0, 0.045),
        ("eight", -23.0, -0.135),
        ("eight", -23.0, 0.027),
        ("eight", -21.0, 0.027),
        ("eight", -19.0, -0.009),
    ] {
        let cold = [("ambient_degc", degc), ("coolant_degc", degc), ("fuel_degc", degc)];
        let setup = and(&with(name, &cold), &[("screw", screw)]);
        let catches_s = |finer: u32| {
            let options = Options { finer, ..Options::default() };
            fate(&setup, options, 10.0, 12.0).unwrap().caught_after_s.unwrap_or(f64::INFINITY)
        };
        let fine_s = catches_s(8);
        for finer in [1, 2, 3, 4] {
            let off_s = (catches_s(finer) - fine_s).abs();
            assert!(off_s < 0.01, "{name} at {degc} degC, {screw} turns, x{finer}: {off_s} s off");
        }
    }
}

/// The bimetal forgets by half-lives: cooled for one, the start valve sprays for half as long again.
#[test]
fn a_switch_that_has_cooled_for_half_its_time_sprays_half_as_long() {
    let coolant_k = Unit::Celsius.to_si(0.0);
    let sprays_s = |switch: &mut ThermoTimeSwitch| {
        let mut ticks = 0;
        while switch.closed(coolant_k) {
            switch.heat(0.001, coolant_k);
            ticks += 1;
        }
        0.001 * f64::from(ticks)
    };
    let mut switch = ThermoTimeSwitch::default();
    let whole_s = sprays_s(&mut switch);
    for halves in [1.0, 2.0] {
        switch.cool(halves * 180.0 * 2.0_f64.ln(), 180.0);
        near(sprays_s(&mut switch), whole_s * (1.0 - 0.5_f64.powf(halves)), 2e-3, "s of spray");
    }
}
