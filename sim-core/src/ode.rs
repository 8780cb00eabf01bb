//! Ordinary differential equations: one fixed step for ticked runs, and the general solver
//! as its reference. The only file that names ode_solvers.

use nalgebra::SVector;
use ode_solvers::dop_shared::OutputType;
use ode_solvers::{Dopri5, System};

/// A system of equations `x' = f(t, x)`.
pub trait Motion<const N: usize> {
    /// The rates of change at a time and state.
    fn rate(&self, t: f64, x: &[f64; N]) -> [f64; N];
}

/// One step of the fifth-order method of Dormand & Prince (J. Comput. Appl. Math. 6, 19,
/// 1980), without its error estimate.
///
/// ```
/// use sim_core::ode::{Motion, step};
/// struct Decay;
/// impl Motion<1> for Decay {
///     fn rate(&self, _: f64, x: &[f64; 1]) -> [f64; 1] { [-x[0]] }
/// }
/// let x = step(&Decay, 0.0, &[1.0], 0.1);
/// assert!((x[0] - (-0.1_f64).exp()).abs() < 1e-9);
/// ```
pub fn step<const N: usize>(motion: &impl Motion<N>, t: f64, x: &[f64; N], h: f64) -> [f64; N] {
    let along = |parts: &[(f64, &[f64; N])]| {
        let mut y = *x;
        for (i, value) in y.iter_mut().enumerate() {
            *value += h * parts.iter().map(|(a, k)| a * k[i]).sum::<f64>();
        }
        y
    };
    let k1 = motion.rate(t, x);
    let k2 = motion.rate(t + h / 5.0, &along(&[(1.0 / 5.0, &k1)]));
    let k3 = motion.rate(t + 0.3 * h, &along(&[(3.0 / 40.0, &k1), (9.0 / 40.0, &k2)]));
    let k4 = motion
        .rate(t + 0.8 * h, &along(&[(44.0 / 45.0, &k1), (-56.0 / 15.0, &k2), (32.0 / 9.0, &k3)]));
    let k5 = motion.rate(
        t + 8.0 / 9.0 * h,
        &along(&[
            (19_372.0 / 6561.0, &k1),
            (-25_360.0 / 2187.0, &k2),
            (64_448.0 / 6561.0, &k3),
            (-212.0 / 729.0, &k4),
        ]),
    );
    let k6 = motion.rate(
        t + h,
        &along(&[
            (9017.0 / 3168.0, &k1),
            (-355.0 / 33.0, &k2),
            (46_732.0 / 5247.0, &k3),
            (49.0 / 176.0, &k4),
            (-5103.0 / 18_656.0, &k5),
        ]),
    );
    along(&[
        (35.0 / 384.0, &k1),
        (500.0 / 1113.0, &k3),
        (125.0 / 192.0, &k4),
        (-2187.0 / 6784.0, &k5),
        (11.0 / 84.0, &k6),
    ])
}

/// The general solver gave up.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GaveUp;

struct Adapter<'a, M, const N: usize>(&'a M);

impl<M: Motion<N>, const N: usize> System<f64, SVector<f64, N>> for Adapter<'_, M, N> {
    fn system(&self, t: f64, y: &SVector<f64, N>, dy: &mut SVector<f64, N>) {
        *dy = SVector::from(self.0.rate(t, &y.data.0[0]));
    }
}

/// The state at `t1`, by the general solver with a tolerance for every component: the
/// reference for [`step`]. States should be of order 1.
pub fn reference<const N: usize>(
    motion: &impl Motion<N>,
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
