//! The optimiser on regression problems whose answers are certified: Statistical Reference
//! Datasets, Nonlinear Regression, of the National Institute of Standards and Technology (NIST
//! StRD). Data, starts, certified values and standard deviations are from memory; that the
//! optimiser finds all of them to six digits vouches for the memory, too.

use sim_core::fit::least_squares::{Residuals, least};

struct Certified {
    name: &'static str,
    model: fn(&[f64], f64) -> f64,
    /// x, y.
    data: &'static [(f64, f64)],
    starts: [&'static [f64]; 2],
    /// Value, standard deviation.
    certified: &'static [(f64, f64)],
    sum_of_squares: f64,
}

impl Residuals for Certified {
    fn at(&self, b: &[f64]) -> Option<Vec<f64>> {
        Some(self.data.iter().map(|(x, y)| (self.model)(b, *x) - y).collect())
    }

    fn step(&self, _: usize, value: f64) -> f64 {
        6e-6 * value.abs().max(1e-8)
    }

    fn both_sides(&self) -> bool {
        true
    }
}

#[rustfmt::skip]
static PROBLEMS: &[Certified] = &[
    Certified {
        name: "Misra1a, lower difficulty",
        model: |b, x| b[0] * (1.0 - (-b[1] * x).exp()),
        data: &[(77.6, 10.07), (114.9, 14.73), (141.1, 17.94), (190.8, 23.93), (239.9, 29.61),
            (289.0, 35.18), (332.8, 40.02), (378.4, 44.82), (434.8, 50.76), (477.3, 55.05),
            (536.8, 61.01), (593.1, 66.40), (689.1, 75.47), (760.0, 81.78)],
        starts: [&[500.0, 0.0001], &[250.0, 0.0005]],
        certified: &[(2.3894212918e2, 2.7070075241), (5.5015643181e-4, 7.2668688436e-6)],
        sum_of_squares: 1.2455138894e-1,
    },
    Certified {
        name: "BoxBOD, higher difficulty",
        model: |b, x| b[0] * (1.0 - (-b[1] * x).exp()),
        data: &[(1.0, 109.0), (2.0, 149.0), (3.0, 149.0), (5.0, 191.0), (7.0, 213.0),
            (10.0, 224.0)],
        starts: [&[1.0, 1.0], &[100.0, 0.75]],
        certified: &[(2.1380940889e2, 1.2354515176e1), (5.4723748542e-1, 1.0455993237e-1)],
        sum_of_squares: 1.1680088766e3,
    },
    Certified {
        name: "MGH09, higher difficulty",
        model: |b, x| b[0] * (x * x + x * b[1]) / (x * x + x * b[2] + b[3]),
        data: &[(4.0, 0.1957), (2.0, 0.1947), (1.0, 0.1735), (0.5, 0.16), (0.25, 0.0844),
            (0.167, 0.0627), (0.125, 0.0456), (0.1, 0.0342), (0.0833, 0.0323), (0.0714, 0.0235),
            (0.0625, 0.0246)],
        starts: [&[25.0, 39.0, 41.5, 39.0], &[0.25, 0.39, 0.415, 0.39]],
        certified: &[(1.9280693458e-1, 1.1435312227e-2), (1.9128232873e-1, 1.9633220911e-1),
            (1.2305650693e-1, 8.0842031232e-2), (1.3606233068e-1, 9.0025542308e-2)],
        sum_of_squares: 3.0750560385e-4,
    },
    Certified {
        name: "Rat43, higher difficulty",
        model: |b, x| b[0] / (1.0 + (b[1] - b[2] * x).exp()).powf(1.0 / b[3]),
        data: &[(1.0, 16.08), (2.0, 33.83), (3.0, 65.80), (4.0, 97.20), (5.0, 191.55),
            (6.0, 326.20), (7.0, 386.87), (8.0, 520.53), (9.0, 590.03), (10.0, 651.92),
            (11.0, 724.93), (12.0, 699.56), (13.0, 689.96), (14.0, 637.56), (15.0, 717.41)],
        starts: [&[100.0, 10.0, 1.0, 1.0], &[700.0, 5.0, 0.75, 1.3]],
        certified: &[(6.9964151270e2, 1.6302297817e1), (5.2771253025, 2.0828735829),
            (7.5962938329e-1, 1.9566123451e-1), (1.2792483859, 6.8761936385e-1)],
        sum_of_squares: 8.7864049080e3,
    },
    Certified {
        name: "Thurber, higher difficulty",
        model: |b, x| {
            (b[0] + x * (b[1] + x * (b[2] + x * b[3]))) / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
        },
        data: &[(-3.067, 80.574), (-2.981, 84.248), (-2.921, 87.264), (-2.912, 87.195),
            (-2.840, 89.076), (-2.797, 89.608), (-2.702, 89.868), (-2.699, 90.101),
            (-2.633, 92.405), (-2.481, 95.854), (-2.363, 100.696), (-2.322, 101.060),
            (-1.501, 401.672), (-1.460, 390.724), (-1.274, 567.534), (-1.212, 635.316),
            (-1.100, 733.054), (-1.046, 759.087), (-0.915, 894.206), (-0.714, 990.785),
            (-0.566, 1090.109), (-0.545, 1080.914), (-0.400, 1122.643), (-0.309, 1178.351),
            (-0.109, 1260.531), (-0.103, 1273.514), (0.010, 1288.339), (0.119, 1327.543),
            (0.377, 1353.863), (0.790, 1414.509), (0.963, 1425.208), (1.006, 1421.384),
            (1.115, 1442.962), (1.572, 1464.350), (1.841, 1468.705), (2.047, 1447.894),
            (2.200, 1457.628)],
        starts: [&[1000.0, 1000.0, 400.0, 40.0, 0.7, 0.3, 0.03],
            &[1300.0, 1500.0, 500.0, 75.0, 1.0, 0.4, 0.05]],
        certified: &[(1.2881396800e3, 4.6647963344), (1.4910792535e3, 3.9571156086e1),
            (5.8323836877e2, 2.8698696102e1), (7.5416644291e1, 5.5675370270),
            (9.6629502864e-1, 3.1333340687e-2), (3.9797285797e-1, 1.4984928198e-2),
            (4.9727297349e-2, 6.5842344623e-3)],
        sum_of_squares: 5.6427082397e3,
    },
];

#[test]
fn nist_strd_nonlinear_regression_from_both_starts_values_errors_and_squares() {
    for problem in PROBLEMS {
        for start in problem.starts {
            let found = least(problem, start, 1e-14).unwrap();
            let near = |found: f64, certified: f64, within: f64, what: &str| {
                let off = (found / certified - 1.0).abs();
                assert!(
                    off < within,
                    "NIST StRD {} from {start:?}: {what} {found} is not the certified {certified}",
                    problem.name
                );
            };
            near(found.sum_of_squares(), problem.sum_of_squares, 1e-8, "sum of squares");
            let errors = found.standard_errors().unwrap();
            for (j, (value, error)) in problem.certified.iter().enumerate() {
                near(found.parameters[j], *value, 1e-6, &format!("b{}", j + 1));
                near(errors[j], *error, 1e-5, &format!("standard deviation of b{}", j + 1));
            }
        }
    }
}
