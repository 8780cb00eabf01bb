//! Ordinary differential equations: [`advance`] integrates a piece of time up to a guard, by
//! a fixed step of ours (ticked runs) or by the general solver (their reference). The only
//! file that names ode_solvers.

use crate::solve::root_to;
#[cfg(feature = "general-solver")]
use nalgebra::SVector;
#[cfg(feature = "general-solver")]
use ode_solvers::dop_shared::OutputType;
#[cfg(feature = "general-solver")]
use ode_solvers::{Dopri5, System};

/// A system of equations `x' = f(t, x)`.
pub trait OdeSystem<const N: usize> {
    /// How many of the states, the first ones, feed back into the rates. The others are
    /// sums of what has passed.
    const FEEDS_BACK: usize = N;

    /// The rates of change at a time and state.
    fn rate(&self, t: f64, x: &[f64; N]) -> [f64; N];
}

/// A guard this near to zero is on it.
const ON_GUARD: f64 = 1e-12;

/// How a piece of time is integrated.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Method {
    /// [`step`], so many equal ones.
    Steps(u32),
    /// [`midpoint_step`], one.
    Midpoint,
    /// [`reference()`] with a tolerance.
    Solver(f64),
}

/// Where [`advance`] ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reached<const N: usize> {
    /// When.
    pub t: f64,
    /// The state.
    pub x: [f64; N],
    /// Whether the guard ended it before its time.
    pub by_guard: bool,
    /// How many steps or calls of the solver it took.
    pub steps: u32,
}

/// Advances from `t0` to `t1`, or to the moment at which `guard` falls below zero.
///
/// The guard is looked at after every step (every call of the solver); the moment is found
/// by taking that step anew, shorter, until it ends where the guard is zero. A guard below
/// zero at the start ends it at once.
pub fn advance<const N: usize>(
    motion: &impl OdeSystem<N>,
    (t0, x0): (f64, &[f64; N]),
    t1: f64,
    method: Method,
    guard: impl Fn(f64, &[f64; N]) -> f64,
) -> Result<Reached<N>, GaveUp> {
    let pieces = match method {
        Method::Steps(pieces) => pieces.max(1),
        Method::Midpoint | Method::Solver(_) => 1,
    };
    let by = |t: f64, x: &[f64; N], h: f64| match method {
        Method::Steps(_) => Ok(step(motion, t, x, h)),
        Method::Midpoint => Ok(midpoint_step(motion, t, x, h)),
        Method::Solver(tolerance) => reference(motion, t, x, t + h, tolerance),
    };
    let h = (t1 - t0) / f64::from(pieces);
    let (mut x, mut value) = (*x0, guard(t0, x0));
    if value < 0.0 {
        return Ok(Reached { t: t0, x, by_guard: true, steps: 0 });
    }
    for piece in 0..pieces {
        let t = t0 + f64::from(piece) * h;
        let next = by(t, &x, h)?;
        let after = guard(t + h, &next);
        if after < 0.0 {
            let mut steps = piece + 1;
            let mut shorter = |s: f64| -> Result<f64, GaveUp> {
                steps += 1;
                by(t, &x, s).map(|y| guard(t + s, &y))
            };
            // A guard that starts at zero may rise before it falls.
            let (mut low, mut high) = ((0.0, value), (h, after));
            while low.1 <= 0.0 && high.0 > 1e-6 * h {
                let s = 0.5 * high.0;
                match shorter(s)? {
                    value if value > 0.0 => low = (s, value),
                    value => high = (s, value),
                }
            }
            let mut s = low.0;
            if low.1 > 0.0 {
                let mut fault = None;
                let guarded = |s| {
                    shorter(s).unwrap_or_else(|error| {
                        fault = Some(error);
                        0.0
                    })
                };
                s = root_to(guarded, low.0, low.1, high.0, high.1, ON_GUARD);
                if let Some(error) = fault {
                    return Err(error);
                }
            }
            return Ok(Reached { t: t + s, x: by(t, &x, s)?, by_guard: true, steps });
        }
        (x, value) = (next, after);
    }
    Ok(Reached { t: t1, x, by_guard: false, steps: pieces })
}

/// One step of the classical fourth-order method (Kutta, Z. Math. Phys. 46, 435, 1901).
///
/// A fifth-order step (six rates instead of four) costs a quarter more a tick and changes
/// no printed figure: what is left of error there comes from the delays.
///
/// ```
/// use sim_core::ode::{OdeSystem, step};
/// struct Decay;
/// impl OdeSystem<1> for Decay {
///     fn rate(&self, _: f64, x: &[f64; 1]) -> [f64; 1] { [-x[0]] }
/// }
/// let x = step(&Decay, 0.0, &[1.0], 0.1);
/// assert!((x[0] - (-0.1_f64).exp()).abs() < 1e-7);
/// ```
pub fn step<const N: usize, M: OdeSystem<N>>(motion: &M, t: f64, x: &[f64; N], h: f64) -> [f64; N] {
    let feeds = M::FEEDS_BACK;
    let k1 = motion.rate(t, x);
    let k2 = motion.rate(t + 0.5 * h, &along(x, feeds, h, [0.5], [&k1]));
    let k3 = motion.rate(t + 0.5 * h, &along(x, feeds, h, [0.5], [&k2]));
    let k4 = motion.rate(t + h, &along(x, feeds, h, [1.0], [&k3]));
    along(x, N, h, [1.0 / 6.0, 1.0 / 3.0, 1.0 / 3.0, 1.0 / 6.0], [&k1, &k2, &k3, &k4])
}

/// One step of the midpoint method (Runge, Math. Ann. 46, 167, 1895), of second order: half the
/// rates of [`step`], for steps that are short against all that moves.
pub fn midpoint_step<const N: usize, M: OdeSystem<N>>(
    motion: &M,
    t: f64,
    x: &[f64; N],
    h: f64,
) -> [f64; N] {
    let start = motion.rate(t, x);
    let middle = motion.rate(t + 0.5 * h, &along(x, M::FEEDS_BACK, h, [0.5], [&start]));
    along(x, N, h, [1.0], [&middle])
}

/// `x + h sum(a k)`, in its first components.
#[inline(always)]
fn along<const N: usize, const K: usize>(
    x: &[f64; N],
    components: usize,
    h: f64,
    a: [f64; K],
    k: [&[f64; N]; K],
) -> [f64; N] {
    let mut y = *x;
    for i in 0..components.min(N) {
        let mut rise = 0.0;
        for j in 0..K {
            rise += a[j] * k[j][i];
        }
        y[i] += h * rise;
    }
    y
}

/// The general solver gave up.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("the general solver gave up")]
pub struct GaveUp;

#[cfg(feature = "general-solver")]
struct Adapter<'a, M, const N: usize>(&'a M);

#[cfg(feature = "general-solver")]
impl<M: OdeSystem<N>, const N: usize> System<f64, SVector<f64, N>> for Adapter<'_, M, N> {
    fn system(&self, t: f64, y: &SVector<f64, N>, dy: &mut SVector<f64, N>) {
        *dy = SVector::from(self.0.rate(t, &y.data.0[0]));
    }
}

/// The state at `t1`, by the general solver with a tolerance for every component: the
/// reference for [`step`]. States should be of order 1. Without the feature `general-solver` it
/// gives up.
#[cfg(feature = "general-solver")]
pub fn reference<const N: usize>(
    motion: &impl OdeSystem<N>,
    t0: f64,
    x0: &[f64; N],
    t1: f64,
    tolerance: f64,
) -> Result<[f64; N], GaveUp> {
    if t1 <= t0 {
        return Ok(*x0);
    }
    let start = SVector::from(*x0);
    let mut solver = Dopri5::from_param(
        Adapter(motion),
        t0,
        t1,
        t1 - t0,
        start,
        tolerance,
        tolerance,
        0.9,
        0.04,
        0.2,
        10.0,
        t1 - t0,
        0.0,
        1_000_000,
        1_000_000,
        OutputType::Sparse,
    );
    solver.integrate().map_err(|_| GaveUp)?;
    solver.y_out().last().map(|y| y.data.0[0]).ok_or(GaveUp)
}

#[cfg(not(feature = "general-solver"))]
#[expect(missing_docs, reason = "they stand at the one with the solver")]
pub fn reference<const N: usize>(
    _: &impl OdeSystem<N>,
    _: f64,
    _: &[f64; N],
    _: f64,
    _: f64,
) -> Result<[f64; N], GaveUp> {
    Err(GaveUp)
}
