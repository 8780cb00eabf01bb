//! Work of a cycle at constant air, by mixture.

use crate::solve::MonotoneCurve;

/// Work at constant air relative to lambda 1.
///
/// Equation: monotone cubic through the ideal constant-volume fuel-air cycle, compression
/// 9, iso-octane (Cantera 3.2.0) from lambda 0.7 to 1.3. Valid range: 0.3 to 3; outside
/// the end values. Source: the ends below 0.7 and above 1.3 are our own estimate; moving
/// the rich end alone moves the rich edge by 0.02 turn.
///
/// ```
/// assert_eq!(sim_core::engine::work::relative_work(1.0), 1.0);
/// ```
pub fn relative_work(lambda: f64) -> f64 {
    const CURVE: MonotoneCurve<17> = MonotoneCurve::new(
        [0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 1.0, 1.05, 1.1, 1.2, 1.3, 1.6, 2.0, 3.0],
        [
            0.45, 0.62, 0.78, 0.90, 0.9721, 0.9973, 1.0056, 1.0106, 1.0107, 1.0, 0.9698, 0.9373,
            0.8757, 0.8204, 0.69, 0.56, 0.38,
        ],
    );
    static WORK: MonotoneCurve<17> = CURVE;
    WORK.at(lambda)
}

/// The largest value of [`relative_work`].
pub(crate) const MOST_WORK: f64 = 1.0107;

/// Compression ratio that the key `efficiency` is given for.
const EFFICIENCY_AT: f64 = 9.0;

/// Indicated efficiency of a compression ratio against that of 9.
///
/// Equation: `(1 - eps^-0.4) / (1 - 9^-0.4)`. Valid range: 5 to 14. Source: ideal air cycle,
/// `gamma = 1.4` (Heywood 1988, eq. 5.31, from memory): +3 % from 9 to 10; engines gain about
/// 3 % a unit from 8 to 11 (Heywood 1988, sect. 15.3, from memory).
///
/// ```
/// use sim_core::engine::work::relative_efficiency;
/// assert!((relative_efficiency(10.0) / relative_efficiency(9.0) - 1.0293).abs() < 2e-4);
/// ```
pub fn relative_efficiency(compression: f64) -> f64 {
    let ideal = |eps: f64| 1.0 - eps.powf(-0.4);
    ideal(compression) / ideal(EFFICIENCY_AT)
}

/// Indicated mean effective pressure (Pa) of a cylinder at lambda 1 burning at its best.
///
/// Equation: `imep = eta m_air LHV / (AFR V)`, `m_air` and `V` of a cycle. Symbols: `eta`
/// best efficiency, `m_air` air of all cylinders in a cycle (kg), `V` displacement (m3).
/// Source: definition; Heywood 1988, sect. 5.2.
pub fn best_imep_pa(
    efficiency: f64,
    air_kg_cycle: f64,
    heating_j_kg: f64,
    air_fuel_ratio: f64,
    displacement_m3: f64,
) -> f64 {
    efficiency * air_kg_cycle * heating_j_kg / (air_fuel_ratio * displacement_m3)
}
