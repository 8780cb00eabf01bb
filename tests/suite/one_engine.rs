//! One engine: what the steady point calls smooth, the running engine survives.

use crate::running::LIMIT;
use sim_core::conditions::{Conditions, Trim};
use sim_core::point::Zone;
use sim_core::rig::Rig;
use sim_core::rig::keys::Setup;
use sim_core::rig::seeded::relative;
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::{Action, Engine, Options};
use sim_core::steady::SteadyEngine;
use sim_core::sweep::{Edges, edges};
use sim_core::units::Unit;

/// Seed of the relatives; none of the numbers of the idle was chosen on it.
const SEED: u64 = 90271;
/// What a hand turns (turns).
const STEP: f64 = 1.0 / 16.0;

/// What is done to an idle after ten seconds.
#[derive(Clone, Copy, Debug)]
enum Done {
    Blip,
    Turn(f64),
}

/// When the engine stalled (s), if it did, or its least speed since (rpm).
fn after(setup: &Setup, done: Done, seed: u64) -> Result<f64, (f64, String)> {
    let options = Options { torque_noise: true, seed, ..Options::default() };
    let mut engine = Engine::new(setup, options).map_err(|f| (0.0, format!("{f:?}")))?;
    let mut least = f64::INFINITY;
    for tick in 0..6000 {
        match done {
            Done::Blip if tick == 1000 => {
                assert!(LIMIT > Unit::Rpm.to_si(3000.0));
                engine.apply(&Action::Blip(Unit::Rpm.to_si(3000.0))).unwrap();
            }
            // A hand takes a second for it.
            Done::Turn(by) if (1000..1100).contains(&tick) => {
                engine.apply(&Action::Turn(by / 100.0)).expect("a number");
            }
            _ => {}
        }
        engine.tick().map_err(|f| (engine.time_s(), format!("{f:?}")))?;
        if let Some(at) = engine.stalled_at_s() {
            let because = engine.stalled_because().map(|cause| cause.sentence());
            return Err((at, because.unwrap_or_default()));
        }
        if tick > 1100 {
            least = least.min(Unit::Rpm.from_si(engine.speed_rad_s()));
        }
    }
    Ok(least)
}

fn within(edges: &Edges, turns: f64) -> bool {
    let (Some(lean), Some(rich)) = (edges.lean, edges.rich) else { return false };
    (lean..=rich).contains(&turns)
}

/// Settings tried and what died, over all tries.
#[derive(Default)]
struct Tries {
    tried: usize,
    died: Vec<String>,
    least_rpm: f64,
}

impl Tries {
    fn add(&mut self, what: String, found: Result<f64, (f64, String)>) {
        self.tried += 1;
        match found {
            Ok(least) => self.least_rpm = self.least_rpm.min(least),
            Err((at, why)) => self.died.push(format!("{what}: {at:.1} s, {why}")),
        }
    }
}

fn try_settings(
    (name, rig, conditions): (&str, &Rig, Conditions),
    settings: impl Iterator<Item = f64>,
    blips: &mut Tries,
    steps: &mut Tries,
) {
    let edges = edges(&SteadyEngine::new(rig, &conditions));
    for (i, turns) in settings.filter(|turns| within(&edges, *turns)).enumerate() {
        let setup =
            Setup { rig: *rig, conditions: Conditions { screw_turns: turns, ..conditions } };
        let what = format!("{name} {:?} {turns:+.4}", conditions.trim);
        blips.add(what.clone(), after(&setup, Done::Blip, i as u64));
        for by in [-STEP, STEP] {
            if within(&edges, turns + by) {
                steps.add(format!("{what} {by:+.4}"), after(&setup, Done::Turn(by), i as u64));
            }
        }
    }
}

#[test]
fn every_smooth_setting_of_the_shipped_rigs_survives_a_blip_and_a_step() {
    let (mut blips, mut steps) =
        (Tries { least_rpm: f64::INFINITY, ..Tries::default() }, Tries::default());
    for (name, _) in SHIPPED {
        let rig = shipped(name).unwrap().rig;
        for trim in [Trim::Off, Trim::On] {
            let conditions = Conditions { trim, ..Conditions::default() };
            let settings = (-32..=32).map(|i| f64::from(i) / 64.0);
            try_settings((name, &rig, conditions), settings, &mut blips, &mut steps);
        }
    }
    println!(
        "{} blips, least {:.0} rpm, died {:#?}; {} steps, died {:#?}",
        blips.tried, blips.least_rpm, blips.died, steps.tried, steps.died
    );
    assert!(blips.tried >= 60 && steps.tried >= 60, "{} {}", blips.tried, steps.tried);
    assert!(blips.died.is_empty() && steps.died.is_empty());
    assert!(blips.least_rpm >= 450.0, "{}", blips.least_rpm);
}

/// Two settings by chance on each of 200 relatives, each with the trim off and on.
#[test]
fn smooth_settings_of_two_hundred_relatives_survive_too() {
    let bases: Vec<_> = SHIPPED.iter().map(|(name, _)| shipped(name).unwrap().rig).collect();
    let (mut blips, mut steps) =
        (Tries { least_rpm: f64::INFINITY, ..Tries::default() }, Tries::default());
    let mut rigs = 0;
    for item in 0..400 {
        if rigs == 200 {
            break;
        }
        let Some(one) = relative(&bases[item % 3], SEED, item as u64, 0.3e-3) else {
            continue;
        };
        rigs += 1;
        for trim in [Trim::Off, Trim::On] {
            let conditions = Conditions { trim, ..one.conditions() };
            let Edges { lean: Some(lean), rich: Some(rich), .. } =
                edges(&SteadyEngine::new(&one.rig, &conditions))
            else {
                continue;
            };
            // From edge to edge over the rigs, two on each.
            let share = |k: usize| (((item * 2 + k) * 37) % 101) as f64 / 100.0;
            let settings = [0, 1].map(|k| lean + share(k) * (rich - lean));
            let name = format!("relative {item} {:?}", one.flame);
            try_settings(
                (&name, &one.rig, conditions),
                settings.into_iter(),
                &mut blips,
                &mut steps,
            );
        }
    }
    println!(
        "{rigs} rigs, {} blips, least {:.0} rpm, died {:#?}; {} steps, died {:#?}",
        blips.tried, blips.least_rpm, blips.died, steps.tried, steps.died
    );
    assert!(rigs == 200 && blips.tried > 600, "{rigs} {}", blips.tried);
    assert!(blips.died.is_empty() && steps.died.is_empty());
}

/// A sensor that has failed leaves the same engine in a run as at the settled point: where
/// that idles and stands by itself, the run ends on its mixture and speed; where it does not,
/// the run has stalled or hunts.
#[test]
fn a_failed_sensor_leaves_the_same_engine_in_parts_and_in_a_run() {
    use sim_core::parts::effects;
    use sim_core::run::procedure::parse;
    use sim_core::run::record::perform;
    use sim_core::run::stability;
    use sim_core::sense::faults::SensorFault;
    let text = "name = \"x\"\nabout = \"y\"\nlasts_s = 90\n";
    let left_alone = parse(text, LIMIT).unwrap();
    let faults = [
        ("coolant", "open"),
        ("coolant", "short"),
        ("lambda", "dead"),
        ("lambda", "stuck"),
        ("throttle-switch", "no-idle"),
        ("potentiometer", "0.5"),
    ];
    for (name, _) in SHIPPED {
        let rig = shipped(name).unwrap().rig;
        for trim in [Trim::Off, Trim::On] {
            for (sensor, mode) in faults {
                let mut conditions = Conditions { trim, ..Conditions::default() };
                conditions.fail(SensorFault::of(sensor, mode).unwrap());
                let setup = Setup { rig, conditions };
                let steady = SteadyEngine::new(&rig, &conditions);
                let Some(settled) = steady.point(0.0).state().copied() else {
                    let record =
                        perform(&setup, &left_alone, Options::default(), 100, |_| {}).unwrap();
                    assert!(record.no_start.is_some(), "{name} {trim:?} {sensor} {mode}");
                    continue;
                };
                let hunts = stability::mode(&steady, 0.0).is_some_and(|mode| mode.damping() < 0.0);
                // On the point itself nothing moves; the scatter of the cycles kicks it.
                let options = Options { torque_noise: hunts, ..Options::default() };
                let record = perform(&setup, &left_alone, options, 100, |_| {}).unwrap();
                let same = record.last.is_some_and(|last| {
                    (last.lambda / settled.lambda - 1.0).abs() < 0.01
                        && (last.speed_rad_s / settled.speed_rad_s - 1.0).abs() < 0.01
                });
                println!(
                    "{name} {trim:?} {sensor} {mode}: lambda {:.3}, {:.0} rpm, hunts {hunts}; in the run {:?}, {:?}",
                    settled.lambda,
                    Unit::Rpm.from_si(settled.speed_rad_s),
                    record.last.map(|s| (s.lambda, Unit::Rpm.from_si(s.speed_rad_s))),
                    record.stalled_because.map(|cause| cause.sentence())
                );
                assert!(same != hunts, "{name} {trim:?} {sensor} {mode}");
            }
        }
    }
    let sound = Setup { rig: shipped("six").unwrap().rig, conditions: Conditions::default() };
    let all = effects(&sound).unwrap();
    let coolant = all.iter().find(|effect| effect.part.name == "coolant").unwrap();
    let open = coolant.off.state().unwrap();
    // What the table of parts shows says itself whether it stands.
    assert!(open.mode.is_some());
}

/// The hand's search passes from smooth to rough on both sides of each shipped rig and comes
/// back to smooth in the middle: by the steady point at each stop's screw, and by the recorded
/// rows before the next turn.
#[test]
fn the_search_for_both_edges_passes_them_and_ends_smooth_in_the_middle() {
    use Zone::{RoughLean, RoughRich, Smooth};
    use sim_core::run::procedure::shipped as procedure;
    use sim_core::run::record::perform;
    let search = procedure("both-edges").unwrap();
    let mut turns_at_s: Vec<f64> = search
        .steps
        .iter()
        .filter(|step| matches!(step.action, Action::Turn(_)))
        .map(|step| step.at_s)
        .collect();
    turns_at_s.push(search.lasts_s);
    let stops = [Smooth, Smooth, RoughLean, Smooth, Smooth, Smooth, RoughRich, Smooth];
    assert_eq!(turns_at_s.len(), stops.len());
    for (name, _) in SHIPPED {
        let rig = shipped(name).unwrap().rig;
        let conditions = Conditions::default();
        let steady = SteadyEngine::new(&rig, &conditions);
        for seed in 1..=5 {
            let options = Options { torque_noise: true, seed, ..Options::default() };
            let record = perform(&Setup { rig, conditions }, &search, options, 10, |_| {}).unwrap();
            assert!(record.stalled_at_s.is_none(), "{name}: {:?}", record.stalled_because);
            let mut screw_turns = 0.0;
            for (to_s, wanted) in turns_at_s.iter().zip(stops) {
                let before = (to_s - 6.0)..=(to_s - 0.1);
                let rows: Vec<_> =
                    record.rows.iter().filter(|row| before.contains(&row.time_s)).collect();
                screw_turns = rows.last().unwrap().screw_turns;
                let zone = steady.point(screw_turns).state().unwrap().zone;
                assert_eq!(zone, wanted, "{name} {screw_turns:+.4}");
                let zones = rows.iter().map(|row| row.state.as_ref().unwrap().zone);
                let like = zones.filter(|zone| *zone == wanted).count();
                // A rough stop is rough in most rows, a smooth one smooth in all.
                let least = if wanted == Smooth { rows.len() } else { rows.len() / 2 + 1 };
                assert!(like >= least, "{name} {screw_turns:+.4}: {like} of {}", rows.len());
            }
            let Edges { lean: Some(lean), rich: Some(rich), .. } = edges(&steady) else {
                panic!("{name} has no edges");
            };
            let off = screw_turns - 0.5 * (lean + rich);
            assert!(off.abs() < 0.05 * (rich - lean), "{name}: {off:+.4} turn off the middle");
        }
    }
}
