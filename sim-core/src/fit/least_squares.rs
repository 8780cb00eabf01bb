//! Least squares of functions that are not linear, by Levenberg and Marquardt.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::storage::Owned;
use nalgebra::{DMatrix, DVector, Dyn};
use std::cell::RefCell;

/// Functions whose squares are to be least.
pub trait Residuals {
    /// Their values at parameters; `None` where there are none.
    fn at(&self, parameters: &[f64]) -> Option<Vec<f64>>;

    /// Step of a parameter for the derivatives.
    fn step(&self, parameter: usize, value: f64) -> f64;

    /// Whether derivatives are taken to both sides: dearer, and exact to the step's square.
    fn both_sides(&self) -> bool {
        false
    }
}

/// Where the squares are least.
#[derive(Clone, Debug)]
pub struct Least {
    /// The parameters.
    pub parameters: Vec<f64>,
    /// The residuals there.
    pub residuals: DVector<f64>,
    /// Their derivatives at the last point but the steps that ended the search.
    pub jacobian: DMatrix<f64>,
    /// How often the residuals were worked out, derivatives not counted.
    pub evaluations: usize,
    /// Whether it has settled.
    pub settled: bool,
}

impl Least {
    /// Sum of the squares.
    pub fn sum_of_squares(&self) -> f64 {
        self.residuals.norm_squared()
    }

    /// `J^T J`.
    pub fn information(&self) -> DMatrix<f64> {
        self.jacobian.tr_mul(&self.jacobian)
    }

    /// Standard errors of the parameters where the residuals' scatter is not known beforehand.
    ///
    /// Equation: `s_j = sqrt(S/(m - n) [(J^T J)^-1]_jj)`. Symbols: `S` sum of the squares, `m`
    /// residuals, `n` parameters. Valid range: `m > n`, parameters that can be told apart;
    /// `None` otherwise. Source: Gauss; any text on regression.
    pub fn standard_errors(&self) -> Option<Vec<f64>> {
        let freedom = self.residuals.len().checked_sub(self.parameters.len()).filter(|f| *f > 0)?;
        let variance = self.sum_of_squares() / freedom as f64;
        // Columns to one length first: their units may differ by many orders.
        let lengths: Vec<f64> = self.jacobian.column_iter().map(|c| c.norm()).collect();
        let mut scaled = self.jacobian.clone();
        for (mut column, length) in scaled.column_iter_mut().zip(&lengths) {
            column /= *length;
        }
        let inverse = scaled.tr_mul(&scaled).try_inverse()?;
        let error = |(j, length): (usize, &f64)| (variance * inverse[(j, j)]).sqrt() / length;
        Some(lengths.iter().enumerate().map(error).collect())
    }
}

struct Problem<'a> {
    residuals: &'a dyn Residuals,
    parameters: DVector<f64>,
    now: Option<DVector<f64>>,
    last: RefCell<Option<DMatrix<f64>>>,
}

impl Problem<'_> {
    fn evaluate(&mut self) {
        self.now = self.residuals.at(self.parameters.as_slice()).map(DVector::from_vec);
    }
}

/// The derivatives of residuals at parameters, where the residuals are `now`.
pub fn derivatives(
    residuals: &dyn Residuals,
    parameters: &[f64],
    now: &DVector<f64>,
) -> Option<DMatrix<f64>> {
    let mut matrix = DMatrix::zeros(now.len(), parameters.len());
    let mut moved = parameters.to_vec();
    for (j, value) in parameters.iter().enumerate() {
        let step = residuals.step(j, *value);
        moved[j] = value + step;
        // What the machine makes of it.
        let up = moved[j] - value;
        let above = DVector::from_vec(residuals.at(&moved)?);
        let column = match residuals.both_sides() {
            true => {
                moved[j] = value - step;
                let down = value - moved[j];
                (above - DVector::from_vec(residuals.at(&moved)?)) / (up + down)
            }
            false => (above - now) / up,
        };
        matrix.set_column(j, &column);
        moved[j] = *value;
    }
    Some(matrix)
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Problem<'_> {
    type ParameterStorage = Owned<f64, Dyn>;
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;

    fn set_params(&mut self, parameters: &DVector<f64>) {
        self.parameters.copy_from(parameters);
        self.evaluate();
    }

    fn params(&self) -> DVector<f64> {
        self.parameters.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        self.now.clone()
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        let found = derivatives(self.residuals, self.parameters.as_slice(), self.now.as_ref()?);
        self.last.replace(found.clone());
        found
    }
}

/// The first step is at most so many times as long as the start: a long one can jump over the
/// valley from far away (BoxBOD of NIST StRD from its far start ends in another at 100).
const FIRST_STEP: f64 = 10.0;

/// The parameters at which the squares are least, from a start, to a relative tolerance of the
/// squares and of the parameters. `None` where no residuals can be worked out.
///
/// Equation: `(J^T J + k D) d = -J^T r`, `k` by the trust region of Moré 1978. Valid range:
/// residuals with continuous derivatives, at least as many as parameters. Source: the crate
/// `levenberg-marquardt`.
pub fn least(residuals: &dyn Residuals, start: &[f64], tolerance: f64) -> Option<Least> {
    let mut problem = Problem {
        residuals,
        parameters: DVector::from_column_slice(start),
        now: None,
        last: RefCell::new(None),
    };
    problem.evaluate();
    let search = LevenbergMarquardt::new()
        .with_stepbound(FIRST_STEP)
        .with_ftol(tolerance)
        .with_xtol(tolerance)
        .with_gtol(tolerance.min(1e-8));
    let (problem, told) = search.minimize(problem);
    let jacobian = problem.last.take()?;
    Some(Least {
        parameters: problem.parameters.as_slice().to_vec(),
        residuals: problem.now?,
        jacobian,
        evaluations: told.number_of_evaluations,
        settled: told.termination.was_successful(),
    })
}
