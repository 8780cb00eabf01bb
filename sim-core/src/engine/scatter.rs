//! What differs from cycle to cycle and from cylinder to cylinder, as points with weights.

/// Points of the standard normal distribution with weights (Gauss-Hermite): the middle one,
/// then the pairs. Exact for polynomials of degree `2 n - 1`.
/// Source: Abramowitz & Stegun, table 25.10, rescaled.
pub const THREE: [(f64, f64); 3] =
    [(0.0, 2.0 / 3.0), (1.732_050_807_568_877_2, 1.0 / 6.0), (-1.732_050_807_568_877_2, 1.0 / 6.0)];
/// See [`THREE`].
pub const FIVE: [(f64, f64); 5] = [
    (0.0, 0.533_333_333_333_333_3),
    (1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (-1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (2.856_970_013_872_805_5, 0.011_257_411_327_720_69),
    (-2.856_970_013_872_805_5, 0.011_257_411_327_720_69),
];

/// Mean of some values, and two values with weights that have their mean, variance and
/// skewness (the two-point Gauss rule of their distribution).
pub fn pair_of(values: impl Iterator<Item = f64> + Clone) -> (f64, [(f64, f64); 2]) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    let (mut second, mut third) = (0.0, 0.0);
    for value in values {
        let away = value - mean;
        second += away * away / count;
        third += away * away * away / count;
    }
    if second < 1e-16 {
        return (mean, [(mean, 0.5), (mean, 0.5)]);
    }
    let lean = 0.5 * third / second;
    let half = (lean * lean + second).sqrt();
    let weight_high = (half - lean) / (2.0 * half);
    (mean, [(mean + lean - half, 1.0 - weight_high), (mean + lean + half, weight_high)])
}

/// Mean of some values and the root of their variance.
pub fn mean_and_scatter(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let count = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / count;
    let square = values.map(|value| (value - mean) * (value - mean)).sum::<f64>() / count;
    (mean, square.sqrt())
}
