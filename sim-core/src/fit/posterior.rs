//! The fit: parameters, how sure they are, what cannot be told, which readings are out of place.

use super::least_squares::{Least, Residuals, least};
use super::model::{Shown, shows};
use super::parameters::{Car, SCREW, Space};
use super::question::{EAR_SIGMA, Question};
use crate::diagnose::sheet::Taken;
use crate::engine::flame::{FLAME_LAWS, FlameLaw};
use crate::maths::normal_share_below;
use nalgebra::{DMatrix, DVector};

/// Share of the prior's standard deviation above which a parameter is not told.
pub const TOLD_BELOW: f64 = 0.85;
/// Correlation above which two are told together only.
pub const TOGETHER_ABOVE: f64 = 0.95;
/// How many standard deviations a reading lies from what the others say to be out of place.
pub const OUT_OF_PLACE: f64 = 4.0;
/// One reading in so many may be out of place.
const ONE_IN: usize = 4;
/// What a reading that an engine does not show counts (standard deviations): more than any that
/// it does.
const NOT_SHOWN: f64 = 300.0;
/// Places of the screw of which the likeliest is where a search starts: so many either way, so
/// far apart (spreads).
const STARTS: (i32, f64) = (9, 0.25);
/// Relative tolerance of the search, and step of its derivatives (spreads).
const SEARCH: (f64, f64) = (1e-4, 1e-3);
/// How much more likely another law must be to be searched, too (natural logarithm).
const WORTH_SEARCHING: f64 = 0.5;

/// A reading that the others contradict.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OutOfPlace {
    /// Its place among the readings.
    pub read: usize,
    /// What the others say of it, on the scale of its kind, and the standard deviation of its
    /// distance from that.
    pub expected: (f64, f64),
}

/// What is told of a parameter.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// Its place among the coordinates.
    pub place: usize,
    /// Its value in its unit.
    pub value: f64,
    /// Its standard error in its unit.
    pub standard_error: f64,
    /// Standard deviation against the prior's.
    pub spreads: f64,
    /// Whether the readings tell it.
    pub identified: bool,
    /// Another one that it is told together with only.
    pub together_with: Option<usize>,
}

/// A car as its readings have it.
#[derive(Clone)]
pub struct Fitted {
    /// The parameters.
    pub space: Space,
    /// Where they are, in spreads.
    pub at: Vec<f64>,
    /// Their covariance.
    pub covariance: DMatrix<f64>,
    /// The flame law it is kept under.
    pub flame: FlameLaw,
    /// How probable each law is, in the order of [`FLAME_LAWS`].
    pub laws: [f64; FLAME_LAWS.len()],
    /// The car.
    pub car: Car,
    /// What is told.
    pub parameters: Vec<Told>,
    /// Readings out of place.
    pub out_of_place: Vec<OutOfPlace>,
    /// Residuals of the readings in standard deviations; none of one out of place.
    pub residuals: Vec<Option<f64>>,
    /// Largest eigenvalue of the information over the least.
    pub condition_number: f64,
    /// How often the car was worked out, derivatives not counted.
    pub evaluations: usize,
}

impl Fitted {
    /// What is told of a parameter.
    pub fn told(&self, name: &str) -> Option<&Told> {
        let place = self.space.place(name)?;
        self.parameters.iter().find(|told| told.place == place)
    }
}

struct Posterior<'a> {
    question: &'a Question,
    states: &'a [Taken],
    space: &'a Space,
    flame: FlameLaw,
    left_out: &'a [usize],
}

impl Posterior<'_> {
    fn shown(&self, at: &[f64]) -> Option<Shown> {
        shows(self.question, self.states, &self.space.car(at, self.flame)?)
    }
}

/// Root of minus twice the logarithm of the probability of a mark.
fn surprise(rough: f64, is_rough: bool) -> f64 {
    let above = if is_rough { rough } else { -rough } / EAR_SIGMA;
    let probability: f64 = normal_share_below(above);
    match probability > 1e-30 {
        true => (-2.0 * probability.ln()).max(0.0).sqrt(),
        // The tail's own law.
        false => above.abs(),
    }
}

impl Residuals for Posterior<'_> {
    fn at(&self, at: &[f64]) -> Option<Vec<f64>> {
        let reads = &self.question.reads;
        let marks = &self.question.marks;
        let mut residuals = vec![NOT_SHOWN; reads.len() + marks.len()];
        if let Some(shown) = self.shown(at) {
            for (i, (read, value)) in reads.iter().zip(&shown.values).enumerate() {
                if value.is_finite() {
                    residuals[i] = (value - read.value) / read.sigma;
                }
            }
            for (i, mark) in marks.iter().enumerate() {
                let place = self.states.iter().position(|taken| *taken == mark.taken)?;
                let rough = shown.rough[place];
                if rough.is_finite() {
                    residuals[reads.len() + i] = surprise(rough, mark.rough);
                }
            }
        }
        for left_out in self.left_out {
            residuals[*left_out] = 0.0;
        }
        residuals.extend_from_slice(at);
        Some(residuals)
    }

    fn step(&self, _: usize, _: f64) -> f64 {
        SEARCH.1
    }
}

/// A law, by what a line from the point that was found says of it.
struct OfLaw {
    /// Least sum of the squares.
    squares: f64,
    /// Where.
    step: DVector<f64>,
}

/// Fits a car to a question. `None` if the rig does not idle under its conditions.
pub fn fit(question: &Question) -> Option<Fitted> {
    let space = Space::of(&question.setup, question.each_line());
    let states = question.states();
    let screw = space.place(SCREW)?;
    // The duty is flat beyond its ends: a search must not start there.
    let squares = |at: f64, flame: FlameLaw| {
        let mut start = vec![0.0; space.coordinates().len()];
        start[screw] = at;
        let of = Posterior { question, states: &states, space: &space, flame, left_out: &[] };
        of.at(&start).map_or(f64::INFINITY, |residuals| residuals.iter().map(|r| r * r).sum())
    };
    let least = |a: &(f64, f64), b: &(f64, f64)| a.1.total_cmp(&b.1);
    let usual = question.setup.conditions.flame;
    let places = (-STARTS.0..=STARTS.0).map(|i| f64::from(i) * STARTS.1);
    let (at, _) = places.map(|at| (at, squares(at, usual))).min_by(least)?;
    let laws = FLAME_LAWS.into_iter().map(|flame| (flame, squares(at, flame)));
    let (likely, lowest) = laws.min_by(|a, b| a.1.total_cmp(&b.1))?;
    // What hardly differs is no reason to leave the usual one.
    let flame = match squares(at, usual) - lowest > 2.0 * WORTH_SEARCHING {
        true => likely,
        false => usual,
    };
    let mut start = vec![0.0; space.coordinates().len()];
    start[screw] = at;
    fit_from(question, space, (&start, flame))
}

/// The same from a start.
pub fn fit_from(
    question: &Question,
    space: Space,
    (start, flame): (&[f64], FlameLaw),
) -> Option<Fitted> {
    let states = question.states();
    let idles = space.car(&vec![0.0; start.len()], flame);
    idles.and_then(|car| shows(question, &states, &car))?;
    let mut left_out: Vec<OutOfPlace> = Vec::new();
    let mut from = (start.to_vec(), flame);
    loop {
        let places: Vec<usize> = left_out.iter().map(|out| out.read).collect();
        let of = |flame| Posterior {
            question,
            states: &states,
            space: &space,
            flame,
            left_out: &places,
        };
        let mut flame = from.1;
        let mut found = least(&of(flame), &from.0, SEARCH.0)?;
        let mut laws = laws_from(&found, of, flame)?;
        let best = likeliest(&laws);
        if laws[flame as usize].squares - laws[best as usize].squares > 2.0 * WORTH_SEARCHING {
            let near = &laws[best as usize].step;
            let near: Vec<f64> = found.parameters.iter().zip(near).map(|(x, d)| x + d).collect();
            let other = least(&of(best), &near, SEARCH.0)?;
            if other.sum_of_squares() < found.sum_of_squares() {
                (flame, found) = (best, other);
                laws = laws_from(&found, of, flame)?;
            }
        }
        let inverse = found.information().cholesky()?.inverse();
        let most = question.reads.len() / ONE_IN;
        match furthest(question, &found, &inverse, &places) {
            Some(out) if left_out.len() < most => {
                left_out.push(out);
                from = (found.parameters, flame);
            }
            _ => {
                let found = Found { least: found, inverse, flame, laws };
                return told(question, space, found, left_out);
            }
        }
    }
}

fn likeliest(laws: &[OfLaw]) -> FlameLaw {
    let by_squares = |a: &FlameLaw, b: &FlameLaw| {
        laws[*a as usize].squares.total_cmp(&laws[*b as usize].squares)
    };
    FLAME_LAWS.into_iter().min_by(by_squares).unwrap_or(FLAME_LAWS[0])
}

/// What a line from the point that was found under one law says of each.
fn laws_from<'a>(
    found: &Least,
    of: impl Fn(FlameLaw) -> Posterior<'a>,
    flame: FlameLaw,
) -> Option<Vec<OfLaw>> {
    let factor = found.information().cholesky()?;
    FLAME_LAWS
        .into_iter()
        .map(|law| {
            if law == flame {
                let step = DVector::zeros(found.parameters.len());
                return Some(OfLaw { squares: found.sum_of_squares(), step });
            }
            let residuals = DVector::from_vec(of(law).at(&found.parameters)?);
            let slope = found.jacobian.tr_mul(&residuals);
            let step = -factor.solve(&slope);
            Some(OfLaw { squares: residuals.norm_squared() + slope.dot(&step), step })
        })
        .collect()
}

/// The reading furthest from what the others say, if it is out of place.
///
/// Equation: `z_i = r_i/sqrt(1 - h_i)`, `h = diag(J (J^T J)^-1 J^T)`: its residual without it,
/// over that residual's standard deviation. Symbols: `r` residuals in standard deviations. Valid
/// range: near a line about the fit. Source: Cook & Weisberg, Residuals and Influence, 1982.
fn furthest(
    question: &Question,
    found: &Least,
    inverse: &DMatrix<f64>,
    left_out: &[usize],
) -> Option<OutOfPlace> {
    let distance = |read: usize| {
        let row = found.jacobian.row(read);
        let leverage = (row * inverse * row.transpose())[(0, 0)];
        let free = (1.0 - leverage).max(1e-6);
        (found.residuals[read] / free.sqrt(), free)
    };
    let reads = (0..question.reads.len()).filter(|read| !left_out.contains(read));
    let far = reads.map(|read| (read, distance(read)));
    let (read, (z, free)) = far.max_by(|a, b| a.1.0.abs().total_cmp(&b.1.0.abs()))?;
    let given = &question.reads[read];
    // Without it the model would show this.
    let expected = given.value + given.sigma * found.residuals[read] / free;
    let sigma = given.sigma / free.sqrt();
    (z.abs() > OUT_OF_PLACE).then_some(OutOfPlace { read, expected: (expected, sigma) })
}

struct Found {
    least: Least,
    inverse: DMatrix<f64>,
    flame: FlameLaw,
    laws: Vec<OfLaw>,
}

/// Parameters that the readings do not tell are put back to their prior, the others follow.
fn told(
    question: &Question,
    space: Space,
    found: Found,
    out_of_place: Vec<OutOfPlace>,
) -> Option<Fitted> {
    let Found { least, inverse, flame, laws } = found;
    let best = laws.iter().map(|law| law.squares).fold(f64::INFINITY, f64::min);
    let mut weights = [0.0; FLAME_LAWS.len()];
    for (weight, law) in weights.iter_mut().zip(&laws) {
        *weight = (-0.5 * (law.squares - best)).exp();
    }
    let total: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|weight| *weight /= total);
    let mut covariance = inverse;
    for (weight, law) in weights.iter().zip(&laws) {
        covariance += *weight * &law.step * law.step.transpose();
    }
    let names = space.coordinates();
    let spreads: Vec<f64> = (0..names.len()).map(|j| covariance[(j, j)].sqrt()).collect();
    let by_itself = |j: usize| names[j].parameter.told && spreads[j] < TOLD_BELOW;
    let together = |j: usize| {
        let bound = |k: &usize| {
            let bound = covariance[(j, *k)].abs() / (spreads[j] * spreads[*k]);
            *k != j && by_itself(*k) && bound > TOGETHER_ABOVE
        };
        (0..names.len()).find(bound)
    };
    let places = (0..names.len()).filter(|j| names[*j].parameter.told);
    let mut parameters: Vec<Told> = places
        .map(|place| {
            let together_with = by_itself(place).then(|| together(place)).flatten();
            Told {
                place,
                value: 0.0,
                standard_error: 0.0,
                spreads: spreads[place],
                identified: by_itself(place) && together_with.is_none(),
                together_with,
            }
        })
        .collect();
    let put_back: Vec<usize> =
        parameters.iter().filter(|told| !told.identified).map(|told| told.place).collect();
    let at = with_some_at_nothing(&least.parameters, &covariance, &put_back)?;
    let car = space.car(&at, flame)?;
    for told in &mut parameters {
        let coordinate = &names[told.place];
        told.value = coordinate.value(&car);
        told.standard_error = coordinate.error(told.value, told.spreads);
    }
    let eigenvalues = least.information().symmetric_eigenvalues();
    let residuals = (0..question.reads.len())
        .map(|read| match out_of_place.iter().any(|out| out.read == read) {
            true => None,
            false => Some(least.residuals[read]),
        })
        .collect();
    Some(Fitted {
        at,
        covariance,
        flame,
        laws: weights,
        car,
        parameters,
        out_of_place,
        residuals,
        condition_number: eigenvalues.max() / eigenvalues.min(),
        evaluations: least.evaluations,
        space,
    })
}

/// Normal parameters given that some of them are 0: `x_a - C_ab C_bb^-1 x_b`.
fn with_some_at_nothing(
    at: &[f64],
    covariance: &DMatrix<f64>,
    nothing: &[usize],
) -> Option<Vec<f64>> {
    let count = nothing.len();
    let own = DMatrix::from_fn(count, count, |i, j| covariance[(nothing[i], nothing[j])]);
    let off = DVector::from_fn(count, |i, _| at[nothing[i]]);
    let weights = match count {
        0 => off,
        _ => own.cholesky()?.solve(&off),
    };
    let moved = |j: usize| -> f64 {
        if nothing.contains(&j) {
            return 0.0;
        }
        let by: f64 = nothing.iter().zip(&weights).map(|(b, w)| covariance[(j, *b)] * w).sum();
        at[j] - by
    };
    Some((0..at.len()).map(moved).collect())
}
