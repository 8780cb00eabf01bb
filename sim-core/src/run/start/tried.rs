//! One try to start an engine, or several, and how they went.

use super::{FIRST_TURN_RAD_S, NoStart};
use crate::point::LAMBDA_SAYS_NOTHING;
use crate::rig::keys::Setup;
use crate::run::engine::Engine;
use crate::run::options::{Options, RunFault, TICK_S};

/// Lambda that the sensor takes air for.
const AIR: f64 = LAMBDA_SAYS_NOTHING;
/// The engine must have run so long by itself to count as started (s).
const BY_ITSELF_S: f64 = 3.0;
/// Ticks from row to row of a start.
const ROW_TICKS: u64 = 5;
/// Where more sparks than this fail, they and not the mixture are why nothing fires.
const MOST_SPARKS: f64 = 0.5;
/// Charges richer than this lambda count as too rich to fire.
const FLOODED: f64 = 0.6;

/// An idle stands that has been held so long (s), as near to its target, on a feed that has
/// moved no more than this, both as shares. Source: our own.
const HELD_S: f64 = 1.0;
/// See [`HELD_S`].
const HELD_NEAR: f64 = 0.05;
/// See [`HELD_S`].
const FEED_NEAR: f64 = 0.01;

/// How a start went.
#[derive(Clone, Debug, Default, PartialEq)]
#[must_use]
pub struct StartOutcome {
    /// Seconds of cranking to the first fire.
    pub fires_after_s: Option<f64>,
    /// Seconds to the speed at which it counts as caught.
    pub caught_after_s: Option<f64>,
    /// Seconds to an idle of its own: when the starter had let go, if it then ran on.
    pub running_after_s: Option<f64>,
    /// Why it did not start.
    pub reason: Option<NoStart>,
    /// Crank speed just before the first fire (rad/s).
    pub cranking_rad_s: f64,
    /// Highest speed of the flare (rad/s), 0 if there was none.
    pub flare_rad_s: f64,
    /// Mixture drawn in at the first fire.
    pub lambda_at_fire: Option<f64>,
    /// Rows: time (s), speed (rad/s), lambda drawn in, manifold pressure (Pa), current (A).
    pub rows: Vec<[f64; 5]>,
    /// Largest relative error of the mass balances.
    pub mass_error: f64,
}

/// Cranks a standing engine for at most `crank_s`, and if it catches, lets it run on.
/// `watch_s` is how long after the key it is looked at in all.
pub fn start(
    setup: &Setup,
    options: Options,
    crank_s: f64,
    watch_s: f64,
) -> Result<StartOutcome, RunFault> {
    let look = Look { crank_s, watch_s, fate_only: false };
    one_try(&mut Engine::standing(setup, options), look)
}

/// The same without rows and flare, and looked at no longer than until its fate is clear: an idle
/// that the control has held near its target for a second, on a feed that stands, stands.
///
/// Whether it starts, when it caught and why not are those of [`start`]: a test compares over
/// temperature and screw. Those that die later than that come nowhere near: the nearest had held
/// its speed within a fifth of the target.
pub fn fate(
    setup: &Setup,
    options: Options,
    crank_s: f64,
    watch_s: f64,
) -> Result<StartOutcome, RunFault> {
    let look = Look { crank_s, watch_s, fate_only: true };
    one_try(&mut Engine::standing(setup, options), look)
}

/// How long the starter is held on in a try, at the most (s). Common practice, no source.
pub const TRY_S: f64 = 10.0;
/// How long a driver waits with the key off between two tries (s): starter and battery recover.
/// Common practice, no source.
pub const PAUSE_S: f64 = 30.0;

/// Tries again and again, at most so often, until the engine runs on; each try's outcome.
///
/// A try: key on, so that the pump runs in; the starter held on until the engine has run by
/// itself for as long as the rig says, [`TRY_S`] at the most; then the key off and [`PAUSE_S`] of
/// rest. An engine that dies has had its try, too. What a try leaves in lines, feed and the start
/// valve's switch the next begins with.
pub fn tries(
    setup: &Setup,
    options: Options,
    most: usize,
    watch_s: f64,
) -> Result<Vec<StartOutcome>, RunFault> {
    let mut engine = Engine::standing(setup, options);
    let mut found = Vec::new();
    while found.len() < most {
        found.push(one_try(&mut engine, Look { crank_s: TRY_S, watch_s, fate_only: false })?);
        if found.last().is_some_and(|last| last.reason.is_none()) {
            break;
        }
        engine.give_up(PAUSE_S)?;
    }
    Ok(found)
}

/// How a try is looked at: so long cranked at most, so long in all (s), and whether only for its
/// fate.
#[derive(Clone, Copy)]
struct Look {
    crank_s: f64,
    watch_s: f64,
    fate_only: bool,
}

/// An idle that its control holds: since when (s), and the feed's pressure then (Pa).
#[derive(Default)]
struct Held(Option<(f64, f64)>);

impl Held {
    /// For how long (s) the engine has been held now.
    fn lasts_s(&mut self, engine: &Engine, let_go: bool) -> f64 {
        let (now_s, feed_pa) = (engine.time_s(), engine.system_pa());
        let speed = engine.speed_rad_s() / engine.plant.idle_target_rad_s;
        let (since_s, then_pa) = *self.0.get_or_insert((now_s, feed_pa));
        let on_target = let_go && (speed - 1.0).abs() < HELD_NEAR;
        if on_target && (feed_pa / then_pa - 1.0).abs() < FEED_NEAR && engine.lines_short() == 0 {
            return now_s - since_s;
        }
        self.0 = None;
        0.0
    }
}

fn one_try(engine: &mut Engine, look: Look) -> Result<StartOutcome, RunFault> {
    let Look { crank_s, watch_s, fate_only } = look;
    engine.turn_key()?;
    let mut held = Held::default();
    let mut found = StartOutcome::default();
    let mut lambda = AIR;
    let mut most_pa = 0.0_f64;
    let mut fired = false;
    let Some(mut starts) = engine.starts else { return Ok(found) };
    let from_s = engine.time_s();
    for tick in 0..(watch_s / TICK_S).round() as u64 {
        engine.tick()?;
        let time_s = engine.time_s() - from_s;
        most_pa = most_pa.max(engine.system_pa());
        starts = engine.starts.unwrap_or(starts);
        let fires = starts.fired_at_s.is_some()
            && !std::mem::replace(&mut fired, starts.fired_at_s.is_some());
        let in_turn = tick % ROW_TICKS == ROW_TICKS - 1 && !fate_only;
        if fires || in_turn || engine.stalled_at_s.is_some() {
            let charge = engine.charge();
            lambda = charge.lambda;
            let current_a = engine.controls.current_a();
            let speed = engine.speed_rad_s();
            found.rows.push([time_s, speed, lambda.min(AIR), charge.manifold_pa, current_a]);
        }
        if starts.fired_at_s.is_none() {
            found.cranking_rad_s = engine.speed_rad_s();
        } else if fires {
            found.lambda_at_fire = Some(lambda).filter(|lambda| *lambda < LAMBDA_SAYS_NOTHING);
        }
        if starts.caught_at_s.is_some() {
            found.flare_rad_s = found.flare_rad_s.max(engine.speed_rad_s());
        }
        let gives_up = starts.caught_at_s.is_none() && time_s >= crank_s;
        let stands = fate_only && held.lasts_s(engine, starts.let_go_at_s.is_some()) >= HELD_S;
        if gives_up || stands || engine.stalled_at_s.is_some() {
            break;
        }
    }
    if fate_only {
        lambda = engine.charge().lambda;
        (found.flare_rad_s, found.rows) = (0.0, Vec::new());
    }
    let since_key = |at_s: Option<f64>| at_s.map(|at_s| at_s - from_s);
    let (caught_s, stalled_s) = (since_key(starts.caught_at_s), since_key(engine.stalled_at_s));
    (found.fires_after_s, found.caught_after_s) = (since_key(starts.fired_at_s), caught_s);
    found.mass_error = engine.mass_error();
    let opening_pa = engine.setup.rig.parts().injectors.opening_pa;
    let dead = engine.plant.dead(engine.charge().manifold_pa);
    found.reason = match (caught_s, stalled_s, found.fires_after_s) {
        (Some(_), None, _) => None,
        (None, Some(_), None) => Some(NoStart::TooStiff(0.0)),
        _ if most_pa <= opening_pa => Some(NoStart::NothingSprays(most_pa, opening_pa)),
        _ if engine.lines_short() > 0 => Some(NoStart::LinesShort(engine.lines_short())),
        (Some(_), Some(at), _) => Some(NoStart::Dies(at, lambda, engine.stalled_because())),
        (None, _, None) if found.cranking_rad_s < 2.0 * FIRST_TURN_RAD_S => {
            Some(NoStart::TooStiff(found.cranking_rad_s))
        }
        (None, _, None) if lambda < FLOODED => Some(NoStart::Flooded(lambda)),
        (None, _, None) if dead > MOST_SPARKS => Some(NoStart::NoSpark(dead)),
        (None, _, Some(_)) => Some(NoStart::FiresWithoutCatching(lambda)),
        (None, _, None) => Some(NoStart::TooLean(lambda, metered_lambda(engine))),
    };
    if found.reason.is_none() {
        let let_go_s = since_key(starts.let_go_at_s);
        found.running_after_s = let_go_s.filter(|at| at + BY_ITSELF_S <= watch_s + 1e-9);
    }
    Ok(found)
}

/// The mixture of what slits and start valve meter (lambda), evaporated or not.
fn metered_lambda(engine: &Engine) -> f64 {
    let charge = engine.charge();
    charge.air_kg_s / engine.plant.air_fuel_ratio / charge.fuel_kg_s
}

impl StartOutcome {
    /// Whether it failed for too much fuel.
    pub fn rich(&self) -> bool {
        match self.reason {
            Some(NoStart::Flooded(_)) => true,
            Some(NoStart::FiresWithoutCatching(lambda)) => lambda < 0.8,
            // As speed falls, what the walls give makes any charge rich: what failed first tells.
            Some(NoStart::Dies(_, lambda, cause)) => {
                cause.map_or(lambda, |cause| cause.lambda) < 0.8
            }
            _ => false,
        }
    }
}
