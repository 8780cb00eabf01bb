//! Work of a burn by where in the expansion it happens.

use crate::solve::EvenCurves;
use std::sync::LazyLock;

/// Compression ratio at which the shape of the loss is taken. Between 8 and 10.5 a burn 30 deg
/// late differs by less than one part in a hundred.
const COMPRESSION: f64 = 9.0;
/// Crank radius over length of the connecting rod. Common practice, no source.
const CRANK_OVER_ROD: f64 = 0.28;
/// The exhaust valve opens here, after top dead centre (deg). Common practice, no source.
const EXHAUST_OPENS_DEG: f64 = 130.0;
/// Ratio of specific heats of burnt gas less 1, in the expansion.
const GAMMA_LESS_ONE: f64 = 0.30;
/// Share of the heat that the walls take from a part burnt at top dead centre. It puts the best
/// half-burnt point at 8 to 9 deg.
const WALL_SHARE: f64 = 0.20;
/// What burns after this angle gives no more to the walls than it would anyway (deg).
const WALL_UNTIL_DEG: f64 = 60.0;
/// Exponent of the burn's S-curve: 0-10 % takes 0.58, 10-90 % 0.82 of the angle to half burnt.
pub const SHAPE: f64 = 3.5;

/// Parts into which the burnt mass is cut for the integral.
const PARTS: usize = 64;
/// Angles of the table, spark to half burnt: least, step (deg), count.
pub const LEAST_DEG: f64 = 6.0;
/// See [`LEAST_DEG`].
pub const STEP_DEG: f64 = 5.0;
/// See [`LEAST_DEG`].
pub const ANGLES: usize = 32;
/// Largest angle of the table (deg).
pub const MOST_DEG: f64 = LEAST_DEG + STEP_DEG * (ANGLES - 1) as f64;
/// Sparks of the table: earliest, step (deg), count.
const SPARK_LEAST_DEG: f64 = -20.0;
const SPARK_STEP_DEG: f64 = 5.0;
const SPARKS: usize = 17;
/// The most a burn of the table can make, against the best timing of a burn of 46 deg.
pub const MOST_RELATIVE: f64 = 1.06;

/// Values over the angle from spark to half burnt, at the angles of [`LEAST_DEG`].
pub type Row = [f64; ANGLES];

/// Work of a cycle by its angle from spark to half burnt, for a spark before top dead centre
/// (deg), relative to the best timing of a burn of 46 deg.
///
/// Equation: `y = 1/y_best integral dx_b (1 - (V/V_e)^(gamma-1)) (1 - 0.20 c)`,
/// `x_b = 1 - exp(-ln2 ((theta + spark)/D)^3.5)`, `c = (60 deg - theta)/60 deg` within 0 to 2,
/// to the opening of the exhaust valve. Symbols: `D` angle from spark to half burnt, `V`
/// cylinder volume by the crank angle `theta`, `V_e` at that opening, `gamma = 1.30`.
/// Valid range: `D` 6 to 161 deg, spark 60 before to 20 after top dead centre; outside the
/// nearest. What burns after the valve opens makes no work.
/// Source: `1 - (V/V_e)^(gamma-1)` is the work of heat added to an ideal gas at volume `V` and
/// expanded to `V_e` (first law); S-curve of Wiebe (Heywood 1988, eq. 9.26, from memory) with
/// its exponent from burn angles at idle (0-10 % 27 deg, 10-90 % 38 deg, from memory); the
/// walls' share is our own, so that the best half-burnt point lies at 8 to 9 deg.
pub fn work_by_angle(spark_deg: f64) -> Row {
    static TABLE: LazyLock<Box<EvenCurves<ANGLES, SPARKS>>> =
        LazyLock::new(|| Box::new(EvenCurves::new(&table())));
    TABLE.at(((spark_deg - SPARK_LEAST_DEG) / SPARK_STEP_DEG).clamp(0.0, (SPARKS - 1) as f64))
}

fn table() -> [Row; SPARKS] {
    // Work of a part burnt at whole degrees from -60 on.
    const FROM_DEG: f64 = -60.0;
    const COUNT: usize = 191;
    let part: [f64; COUNT] = std::array::from_fn(|i| work_of_part(FROM_DEG + i as f64));
    let reach: [f64; PARTS] = std::array::from_fn(|j| {
        let burnt = (j as f64 + 0.5) / PARTS as f64;
        (-(1.0 - burnt).ln() / std::f64::consts::LN_2).powf(1.0 / SHAPE)
    });
    let whole = |spark_deg: f64, angle_deg: f64| {
        let of = |reach: &f64| {
            let at = (angle_deg * reach - spark_deg - FROM_DEG).max(0.0);
            let i = at as usize;
            if i + 1 < COUNT { part[i] + (at - i as f64) * (part[i + 1] - part[i]) } else { 0.0 }
        };
        reach.iter().map(of).sum::<f64>() / PARTS as f64
    };
    let best = (0..=600).map(|i| whole(0.1 * f64::from(i), 46.0)).fold(0.0, f64::max);
    std::array::from_fn(|s| {
        let spark_deg = SPARK_LEAST_DEG + SPARK_STEP_DEG * s as f64;
        std::array::from_fn(|i| whole(spark_deg, LEAST_DEG + STEP_DEG * i as f64) / best)
    })
}

/// Work of a small part of the charge that burns at an angle (deg), as a share of its heat.
fn work_of_part(theta_deg: f64) -> f64 {
    if theta_deg >= EXHAUST_OPENS_DEG {
        return 0.0;
    }
    let expanded = volume(theta_deg) / volume(EXHAUST_OPENS_DEG);
    let to_walls = ((WALL_UNTIL_DEG - theta_deg) / WALL_UNTIL_DEG).clamp(0.0, 2.0);
    (1.0 - expanded.powf(GAMMA_LESS_ONE)) * (1.0 - WALL_SHARE * to_walls)
}

/// Cylinder volume over clearance volume (Heywood 1988, eq. 2.6, from memory).
fn volume(theta_deg: f64) -> f64 {
    let (sin, cos) = theta_deg.to_radians().sin_cos();
    let rod = 1.0 / CRANK_OVER_ROD;
    1.0 + 0.5 * (COMPRESSION - 1.0) * (rod + 1.0 - cos - (rod * rod - sin * sin).sqrt())
}
