//! What the workshop sees in runs: the linkage, the worn track, the climb.

use crate::running::setup;
use sim_core::conditions::{Conditions, Trim};
use sim_core::point::READINGS;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::Options;
use sim_core::run::procedure::shipped as procedure;
use sim_core::run::record::{Dwell, Record, perform};
use sim_core::run::settling::Dispersion;

fn run(rig: &str, name: &str, keys: &[(&str, f64)]) -> Record {
    let conditions = Conditions { trim: Trim::On, ..Conditions::default() };
    let setup = setup(&shipped(rig).unwrap().rig, conditions, keys);
    let procedure = procedure(name).unwrap();
    let options = Options {
        torque_noise: procedure.noise,
        pulsation: procedure.pulsation,
        ..Options::default()
    };
    perform(&setup, &procedure, options, 50, |_| {}).unwrap()
}

fn spread(dwell: &Dwell, name: &str) -> Dispersion {
    let at = READINGS.iter().position(|reading| reading.name == name).unwrap();
    dwell.spreads[at].unwrap_or_else(|| panic!("no {name} from {} s", dwell.from_s))
}

/// A pit where the wiper idles makes the current jump and the mixture swing; the same pit
/// elsewhere, or a housing turned so that the wiper idles beside it, does not.
#[test]
fn a_pit_where_the_wiper_idles_makes_current_and_mixture_swing_and_only_there() {
    for (rig, _) in SHIPPED {
        let record = run(rig, "worn-track", &[]);
        let [sound, elsewhere, there, turned] = &record.dwells[..] else {
            panic!("{rig}: {} dwells", record.dwells.len())
        };
        // How far it jumps; on the way the trim swings as it does anyway.
        let current = |dwell: &Dwell| {
            let current = spread(dwell, "actuator_ma");
            current.most - current.least
        };
        let least = |dwell: &Dwell| spread(dwell, "lambda").least;
        for beside in [elsewhere, turned] {
            assert!((current(beside) / current(sound) - 1.0).abs() < 0.15, "{rig}");
            assert!(
                current(there) > 1.8 * current(beside),
                "{rig}: {} {}",
                current(there),
                current(beside)
            );
            assert!(
                least(there) < least(beside) - 0.03,
                "{rig}: {} {}",
                least(there),
                least(beside)
            );
        }
        // Reported, not assumed: the charges stay smooth.
        let rough = spread(there, "cov_percent");
        println!("{rig}: with the pit COV reaches {:.1} %", rough.most);
        assert!(rough.most < 10.0, "{rig}: {} {}", rough.mean, rough.most);
        assert!(record.stalled_at_s.is_none());
    }
}

/// Without play the linkage holds the throttle off its stop: the idle stays up, the voltage
/// with it, and the play set again brings both back. While the idle switch is still closed
/// the idle control hides the rest.
#[test]
fn a_throttle_that_does_not_close_keeps_idle_and_voltage_up() {
    for (rig, _) in SHIPPED {
        let record = run(rig, "stuck-linkage", &[]);
        let [before, stuck, blipped, after] = &record.dwells[..] else { panic!("{rig}") };
        let mean = |dwell: &Dwell, name| spread(dwell, name).mean;
        for held in [stuck, blipped] {
            assert!(mean(held, "speed_rpm") > mean(before, "speed_rpm") + 150.0, "{rig}");
            assert!(
                mean(held, "potentiometer_v") > mean(before, "potentiometer_v") + 0.05,
                "{rig}"
            );
        }
        assert!((mean(after, "speed_rpm") - mean(before, "speed_rpm")).abs() < 5.0, "{rig}");
        assert!((mean(after, "potentiometer_v") - mean(before, "potentiometer_v")).abs() < 0.01);
    }
}

/// How much of an opened stop the idle air valve hides while the switch stays closed: all of
/// its own opening, and no more.
#[test]
fn with_the_idle_switch_closed_the_valve_hides_an_opened_stop_up_to_its_own_opening() {
    let rig = shipped("six").unwrap().rig;
    let hidden = rig.reference().idle_valve_m2 / rig.parts().throttle.discharge;
    let speed = |more_m2: f64| {
        let closed = 1e6 * (rig.parts().throttle.closed_area_m2 + more_m2);
        let setup = setup(&rig, Conditions::default(), &[("throttle_closed_mm2", closed)]);
        let steady = sim_core::steady::SteadyEngine::new(&setup.rig, &setup.conditions);
        sim_core::units::Unit::Rpm.from_si(steady.point(0.0).state().unwrap().speed_rad_s)
    };
    println!("six: the valve hides {:.1} mm2", 1e6 * hidden);
    assert!((speed(0.8 * hidden) - 710.0).abs() < 0.1, "{}", speed(0.8 * hidden));
    assert!(speed(1.3 * hidden) > 760.0, "{}", speed(1.3 * hidden));
    assert!((8e-6..20e-6).contains(&hidden));
}

/// With play the idle stays what it is; from none on, speed and voltage rise with every step.
#[test]
fn idle_speed_and_voltage_rise_as_the_play_goes() {
    let record = run("six", "linkage-gap", &[]);
    let speeds: Vec<f64> = record.dwells.iter().map(|d| spread(d, "speed_rpm").mean).collect();
    let volts: Vec<f64> = record.dwells.iter().map(|d| spread(d, "potentiometer_v").mean).collect();
    // Start, 0.5, 0, -0.05 mm: nothing to see. Then -0.1 and on.
    assert!(speeds[..4].iter().all(|speed| (speed - 710.0).abs() < 2.0), "{speeds:?}");
    assert!(speeds[3..].windows(2).all(|pair| pair[1] > pair[0] + 15.0), "{speeds:?}");
    assert!(volts[3..].windows(2).all(|pair| pair[1] > pair[0] + 0.003), "{volts:?}");
}

/// Height richens by the square root of the density. Where an altitude sensor is fitted the
/// base current follows, and the duty has nothing to do.
#[test]
fn a_climb_moves_the_duty_only_without_an_altitude_sensor() {
    let duty = |rig: &str, sensor: f64| {
        let record = run(rig, "climb", &[("altitude_sensor", sensor)]);
        let dwells = [&record.dwells[0], &record.dwells[3]];
        dwells.map(|dwell| spread(dwell, "duty_percent").mean)
    };
    for rig in ["six", "eight"] {
        let [low, high] = duty(rig, 0.0);
        let without = low - high;
        assert!(without > 15.0, "{rig} without: {low} to {high} %");
        let [low, high] = duty(rig, 1.0);
        println!("{rig}: duty moves by {without:.1} points without, {:.1} with", high - low);
        assert!((high - low).abs() < 0.35 * without, "{rig} with: {low} to {high} %");
    }
}
