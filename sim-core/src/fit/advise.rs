//! The next move: which way, how far a hand turns, what the meters should then show, when to
//! stop.

use super::model::Stands;
use super::parameters::{Car, SCREW, Space};
use super::posterior::Fitted;
use crate::diagnose::checks::{CHECKS, Check};
use crate::diagnose::posterior::missing_before_the_screw;
use crate::diagnose::sheet::{Slot, Taken};
use crate::engine::flame::FlameLaw;
use crate::point::{State, Zone};
use crate::rig::keys::Setup;
use nalgebra::{DMatrix, DVector};

/// Turns that a hand can do, the least first.
pub const FRACTIONS: [f64; 7] =
    [1.0 / 64.0, 1.0 / 32.0, 1.0 / 16.0, 3.0 / 32.0, 1.0 / 8.0, 3.0 / 16.0, 0.25];
/// How far a hand is off in a turn at most: anywhere within it, either way (turns).
pub const HAND_TURNS: f64 = 1.0 / 72.0;
/// How far a hand is off in turning the housing: share of the way, and at least so much (m).
pub const HAND_HOUSING: (f64, f64) = (0.05, 0.02e-3);
/// What is wanted: duty within so much of 50 %, voltage within so much (V).
pub const WANTED: (f64, f64) = (10.0, 0.010);
/// Share of each up to which an estimate is left alone: it errs, too.
const LEFT_ALONE: (f64, f64) = (0.85, 0.65);
/// Duty between which it is no end of the meter (%), and the screw's move that tells its slope
/// (turns).
const INSIDE: (f64, f64) = (3.0, 97.0);
/// See [`INSIDE`].
const SLOPE_BY: f64 = 1.0 / 256.0;
/// Near an edge a step is no longer than this (turns).
const NEAR_AN_EDGE: f64 = 1.0 / 32.0;
/// Step of derivatives (spreads).
const STEP: f64 = 1e-3;
/// Leak above which it is looked for before the screw is moved (kg/s): what hides half of the
/// smooth zone from the aim.
const LEAK_KG_S: f64 = 2.0 / 3600.0;

/// What is believed of a car.
#[derive(Clone)]
pub struct Belief {
    /// The parameters.
    pub space: Space,
    /// Where they are (spreads).
    pub at: DVector<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
    /// The flame law.
    pub flame: FlameLaw,
}

/// A move.
#[derive(Clone, Copy)]
pub enum Act {
    /// The screw, in is plus (turns).
    Screw(f64),
    /// The housing, up is plus (m of plate height).
    Housing(f64),
    /// A check first.
    Check(&'static Check, &'static str),
    /// Nothing: it is right.
    Stop,
}

/// What a meter should then show.
#[derive(Clone, Copy)]
pub struct Expected {
    /// The reading.
    pub slot: Slot,
    /// Its value and the ends of what it shows in 90 of 100 cases, in its unit.
    pub value: f64,
    /// See `value`.
    pub low: f64,
    /// See `value`.
    pub high: f64,
}

/// Advice.
#[derive(Clone)]
pub struct Advice {
    /// The move.
    pub act: Act,
    /// What the meters should then show.
    pub expects: Vec<Expected>,
    /// Duty and voltage as they stand now, each with its standard deviation.
    pub stands: [(f64, f64); 2],
    /// Whether the step is held short: an edge is near.
    pub held_short: bool,
}

/// Half width of a 90 % interval (standard deviations).
const NINETY: f64 = super::trial::NINETY;

impl Belief {
    /// That of a fit.
    pub fn of(fitted: &Fitted) -> Belief {
        Belief {
            space: fitted.space.clone(),
            at: DVector::from_column_slice(&fitted.at),
            covariance: fitted.covariance.clone(),
            flame: fitted.flame,
        }
    }

    fn car(&self, at: &DVector<f64>) -> Option<Car> {
        self.space.car(at.as_slice(), self.flame)
    }

    fn screw(&self) -> Option<(usize, f64)> {
        let place = self.space.place(SCREW)?;
        Some((place, self.space.coordinates()[place].parameter.spread))
    }

    /// Where the screw stands, in from where the duty is 50 %, with its standard deviation
    /// (turns).
    pub fn screw_turns(&self) -> Option<(f64, f64)> {
        let (place, spread) = self.screw()?;
        Some((spread * self.at[place], spread * self.covariance[(place, place)].sqrt()))
    }

    /// Readings of the idle with the trim at work, of some slots.
    fn shows(&self, at: &DVector<f64>, slots: &[Slot], meter_ohm: f64) -> Option<DVector<f64>> {
        let mut stands = Stands::of(&self.car(at)?)?;
        let values: Option<Vec<f64>> = slots
            .iter()
            .map(|slot| {
                let (setup, state) = stands.running(slot.taken()?)?;
                let car = crate::diagnose::car::Car::plain(&setup, meter_ohm);
                Some(slot.kind.scaled(car.running_value(slot.kind, &setup, &state)?))
            })
            .collect();
        Some(DVector::from_vec(values?))
    }

    /// What slots show and their derivatives.
    pub(super) fn line(
        &self,
        slots: &[Slot],
        meter_ohm: f64,
    ) -> Option<(DVector<f64>, DMatrix<f64>)> {
        let now = self.shows(&self.at, slots, meter_ohm)?;
        let mut slopes = DMatrix::zeros(slots.len(), self.at.len());
        for j in 0..self.at.len() {
            let mut moved = self.at.clone();
            moved[j] += STEP;
            let shown = self.shows(&moved, slots, meter_ohm)?;
            slopes.set_column(j, &((shown - &now) / STEP));
        }
        Some((now, slopes))
    }

    /// Takes readings of the car as it now stands, on the scale of their kinds, with their
    /// standard deviations.
    ///
    /// Equation: `x' = x + K (y - m(x))`, `K = C G^T (G C G^T + S)^-1`, `C' = C - K G C`. Symbols:
    /// `G` slopes of what is shown, `S` variance of the readings. Valid range: near a line.
    /// Source: Kalman 1960.
    pub fn takes(&mut self, reads: &[super::question::Read], meter_ohm: f64) -> Option<()> {
        let slots: Vec<Slot> = reads.iter().map(|read| read.slot).collect();
        let about = Belief { at: self.about(reads, meter_ohm)?, ..self.clone() };
        let (shown, slopes) = about.line(&slots, meter_ohm)?;
        let shown = shown + &slopes * (&self.at - &about.at);
        let off = DVector::from_iterator(reads.len(), reads.iter().map(|read| read.value)) - shown;
        let noise = DVector::from_iterator(reads.len(), reads.iter().map(|r| r.sigma * r.sigma));
        let cross = &self.covariance * slopes.transpose();
        let own = &slopes * &cross + DMatrix::from_diagonal(&noise);
        let factor = own.cholesky()?;
        let gain = factor.solve(&cross.transpose()).transpose();
        self.at += &gain * off;
        self.covariance -= &gain * cross.transpose();
        Some(())
    }

    /// Where the line is laid: at an end of the duty it would be flat, so the screw is put where
    /// the duty that is read shows.
    fn about(&self, reads: &[super::question::Read], meter_ohm: f64) -> Option<DVector<f64>> {
        let mut about = self.at.clone();
        let inside = |read: &&super::question::Read| {
            read.slot.kind.name() == "duty_percent"
                && read.slot.taken() == Some(Taken::IDLE)
                && (INSIDE.0..=INSIDE.1).contains(&read.value)
        };
        let (Some(read), Some((place, spread))) = (reads.iter().find(inside), self.screw()) else {
            return Some(about);
        };
        about[place] = SLOPE_BY / spread;
        let richer = self.shows(&about, &[read.slot], meter_ohm)?[0];
        about[place] = (read.value - 50.0) / (richer - 50.0) * SLOPE_BY / spread;
        Some(about)
    }

    /// The screw has been turned since it was found, as counted.
    pub fn turned(&mut self, turns: f64) {
        if turns != 0.0 {
            self.moved(Act::Screw(turns));
        }
    }

    /// A hand has moved the car.
    pub fn moved(&mut self, act: Act) {
        let housing = self.space.place("housing_mm");
        let (place, by, error) = match (act, self.screw(), housing) {
            (Act::Screw(turns), Some((place, spread)), _) => {
                (place, turns / spread, HAND_TURNS / 3f64.sqrt() / spread)
            }
            (Act::Housing(up_m), _, Some(place)) => {
                let spread = 1e-3 * self.space.coordinates()[place].parameter.spread;
                let error = HAND_HOUSING.1.max(HAND_HOUSING.0 * up_m.abs());
                (place, up_m / spread, error / spread)
            }
            _ => return,
        };
        self.at[place] += by;
        self.covariance[(place, place)] += error * error;
    }
}

/// The check that gives what is missing.
fn check_for(missing: &str) -> Option<&'static Check> {
    let name = match missing {
        "ignition" => "sparks",
        "leaks" => "vacuum",
        _ => "pressures",
    };
    CHECKS.iter().find(|check| check.name == name)
}

/// What is asked of advice.
#[derive(Clone, Copy)]
pub struct Wanted<'a> {
    /// Voltage of the warm idle (V).
    pub potentiometer_v: f64,
    /// Names of what has been read of the car.
    pub read: &'a [&'a str],
    /// Resistance of the voltmeter (ohm); infinite if it is not told.
    pub meter_ohm: f64,
}

/// The next move. `None` if the car does not idle as it is believed to stand.
pub fn advise(belief: &Belief, wanted: &Wanted<'_>) -> Option<Advice> {
    let names = ["duty_percent", "potentiometer_v"];
    let slots: Vec<Slot> = names.iter().filter_map(|name| Slot::of(name, Taken::IDLE)).collect();
    let car = belief.car(&belief.at)?;
    let mut standing = Stands::of(&car)?;
    let (now, slopes) = belief.line(&slots, wanted.meter_ohm)?;
    let deviation = |i: usize| {
        let slope = slopes.row(i);
        (slope * &belief.covariance * slope.transpose())[(0, 0)].max(0.0).sqrt()
    };
    let stands = [(now[0], deviation(0)), (now[1], deviation(1))];
    let mut advice = Advice { act: Act::Stop, expects: Vec::new(), stands, held_short: false };
    let check = |what: &'static str| check_for(what).map(|check| Act::Check(check, what));
    let (screw, _) = belief.screw_turns()?;
    let (duty_off, volts_off) = (now[0] - 50.0, now[1] - wanted.potentiometer_v);
    let missing = missing_before_the_screw(wanted.read);
    let leaks = car.setup.conditions.leak_kg_s > LEAK_KG_S;
    if let Some(act) = missing.or(leaks.then_some("leaks")).and_then(check) {
        advice.act = act;
        return Some(advice);
    }
    if duty_off.abs() > LEFT_ALONE.0 * WANTED.0 {
        let (turns, held_short) = step(&mut standing, -screw)?;
        (advice.act, advice.held_short) = (Act::Screw(turns), held_short);
    } else if volts_off.abs() > LEFT_ALONE.1 * WANTED.1 {
        let place = belief.space.place("housing_mm")?;
        let spread_m = 1e-3 * belief.space.coordinates()[place].parameter.spread;
        advice.act = Act::Housing(-volts_off / slopes[(1, place)] * spread_m);
    }
    let mut after = belief.clone();
    after.moved(advice.act);
    advice.expects = expected(&after, &slots, wanted.meter_ohm)?;
    Some(advice)
}

/// The turn of the screw nearest to the one wanted: of those a hand can do, not past an edge, and
/// short near one; never to where fuel would run at rest. Whether it is held short.
fn step(standing: &mut Stands, wanted: f64) -> Option<(f64, bool)> {
    let here = standing.running(Taken::UNPLUGGED)?;
    let near = |state: &State| state.zone != Zone::Smooth;
    let allowed = |turns: f64, standing: &mut Stands| {
        let taken = Taken { screw_turns: turns, ..Taken::UNPLUGGED };
        let Some((setup, state)) = standing.running(taken) else { return false };
        !near(&state) && !runs_at_rest(&setup, &state)
    };
    let far = |turns: &f64| (turns * wanted.signum() - wanted).abs();
    let mut fractions = FRACTIONS;
    fractions.sort_by(|a, b| far(a).total_cmp(&far(b)));
    let from_an_edge = near(&here.1);
    let most = match from_an_edge {
        // Away from it as far as needed: what is smooth lies there.
        true => f64::INFINITY,
        false => 0.25,
    };
    let fits = |turns: &f64, standing: &mut Stands| {
        *turns <= most && allowed(turns * wanted.signum(), standing)
    };
    let best = fractions[0];
    let turns = fractions.into_iter().find(|turns| fits(turns, standing)).unwrap_or(NEAR_AN_EDGE);
    Some((turns * wanted.signum(), turns != best))
}

fn runs_at_rest(setup: &Setup, state: &State) -> bool {
    state.flows_at_rest || setup.conditions.screw_turns > crate::sweep::hazard_turns(setup)
}

/// What slots of a car as it will stand show in 90 of 100 cases, meters that err among it.
fn expected(after: &Belief, slots: &[Slot], meter_ohm: f64) -> Option<Vec<Expected>> {
    let (shown, slopes) = after.line(slots, meter_ohm)?;
    let one = |(i, slot): (usize, &Slot)| {
        let slope = slopes.row(i);
        let own = (slope * &after.covariance * slope.transpose())[(0, 0)].max(0.0);
        let meter = super::question::sigma(&slot.kind, shown[i], None);
        let off = NINETY * (own + meter * meter).sqrt();
        let (low, high) = slot.kind.ends();
        let at = |scaled: f64| slot.kind.unscaled(scaled.clamp(low, high));
        Expected {
            slot: *slot,
            value: at(shown[i]),
            low: at(shown[i] - off),
            high: at(shown[i] + off),
        }
    };
    Some(slots.iter().enumerate().map(one).collect())
}
