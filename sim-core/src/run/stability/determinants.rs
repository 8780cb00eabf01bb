//! The determinants of the linear engine, as polynomials of the complex frequency.
//!
//! The charge's work acts through one column of the equations, late by a delay. A determinant
//! grows in proportion with what is added in one such column times any row, so three sets of
//! polynomials hold all of it: without the work, with what the states do to it, and with what
//! the ports' store does.

use super::sloped::Sloped;
use nalgebra::{Complex, SMatrix, SVector};

/// States that feed back: manifold pressure, speed, plate height and speed, film.
pub(super) const FEED: usize = 5;
/// A polynomial, the lowest power first.
type Polynomial = [f64; FEED + 1];
/// The state that is the speed.
const SPEED: usize = 1;

/// The determinant of `s - A`, and it times the speed that answers a unit of the opening and a
/// kick of the speed.
#[derive(Clone, Copy, Debug)]
struct Answers([Polynomial; 3]);

/// The same at one complex frequency.
#[derive(Clone, Copy, Debug)]
pub(super) struct AnswersAt {
    /// Determinant of `s - A(s)`.
    pub determinant: Sloped,
    /// Speed (100 rad/s) for an opening (m2), times the determinant.
    pub by_inlet: Sloped,
}

impl Answers {
    const DETERMINANT: usize = 0;
    const BY_INLET: usize = 1;
    const BY_KICK: usize = 2;

    /// Of a matrix of rates.
    ///
    /// Equation: `det(s - A) = sum c_k s^k`, `adj(s - A) = sum M_k s^(n-k)`, `M_1 = 1`,
    /// `c_(n-k) = -tr(A M_k)/k`, `M_(k+1) = A M_k + c_(n-k)`. Source: Faddeev & Le Verrier
    /// (Gantmacher, Theory of matrices, vol. I, ch. IV, sect. 5, from memory).
    fn of(rates: &SMatrix<f64, FEED, FEED>, by_inlet: &SVector<f64, FEED>) -> Answers {
        let mut found = Answers([[0.0; FEED + 1]; 3]);
        let [determinant, inlet, kick] = &mut found.0;
        determinant[FEED] = 1.0;
        let mut adjoint = SMatrix::<f64, FEED, FEED>::identity();
        for k in 1..=FEED {
            inlet[FEED - k] = (0..FEED).map(|j| adjoint[(SPEED, j)] * by_inlet[j]).sum();
            kick[FEED - k] = adjoint[(SPEED, SPEED)];
            let next = rates * adjoint;
            determinant[FEED - k] = -next.trace() / k as f64;
            adjoint = next + SMatrix::identity() * determinant[FEED - k];
        }
        found
    }

    /// What these are beyond others.
    fn beyond(&self, others: &Answers) -> Answers {
        Answers(std::array::from_fn(|which| {
            std::array::from_fn(|k| self.0[which][k] - others.0[which][k])
        }))
    }
}

/// The linear engine's determinants.
#[derive(Clone, Copy, Debug)]
pub(super) struct Determinants {
    without_work: Answers,
    by_states: Answers,
    by_store: Answers,
}

impl Determinants {
    /// Of the rates without the work, what the work and the opening add to them, and how the
    /// work goes by the states: at once, and by what the ports hold.
    pub fn of(
        rates: &SMatrix<f64, FEED, FEED>,
        by_imep: &SVector<f64, FEED>,
        by_inlet: &SVector<f64, FEED>,
        imep_by: &SVector<f64, FEED>,
        imep_by_stored: &SVector<f64, FEED>,
    ) -> Determinants {
        let without_work = Answers::of(rates, by_inlet);
        let added = |row: &SVector<f64, FEED>| {
            let with = SMatrix::from_fn(|i, j| rates[(i, j)] + by_imep[i] * row[j]);
            Answers::of(&with, by_inlet).beyond(&without_work)
        };
        Determinants { without_work, by_states: added(imep_by), by_store: added(imep_by_stored) }
    }

    /// At a complex frequency (1/s), where the work comes as a share of what it was, and of the
    /// ports' store.
    #[inline(always)]
    pub fn at(&self, s: Complex<f64>, work: Sloped, stored: Sloped) -> AnswersAt {
        AnswersAt {
            determinant: self.one_at(Answers::DETERMINANT, s, work, stored),
            by_inlet: self.one_at(Answers::BY_INLET, s, work, stored),
        }
    }

    /// Speed for a kick of the speed, times the determinant.
    pub fn by_kick_at(&self, s: Complex<f64>, work: Sloped, stored: Sloped) -> Complex<f64> {
        self.one_at(Answers::BY_KICK, s, work, stored).value
    }

    #[inline(always)]
    fn one_at(&self, which: usize, s: Complex<f64>, work: Sloped, stored: Sloped) -> Sloped {
        let zero = Complex::new(0.0, 0.0);
        let (own, states, store) =
            (&self.without_work.0[which], &self.by_states.0[which], &self.by_store.0[which]);
        // Horner's scheme; the slope has a part of each factor that moves.
        let (mut value, mut by_power, mut by_factor) = (zero, zero, zero);
        for k in (0..=FEED).rev() {
            by_power = by_power * s + value;
            value = value * s + work.value * states[k] + stored.value * store[k] + own[k];
            by_factor = by_factor * s + work.slope * states[k] + stored.slope * store[k];
        }
        Sloped { value, slope: by_power + by_factor }
    }
}
