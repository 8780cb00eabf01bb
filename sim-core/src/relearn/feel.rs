//! What a driver feels of drives that the averaged model answered.

use super::{DriveOutcome, Relearn, full_drive};
use crate::conditions::Conditions;
use crate::control::cells::{CELLS, Cells};
use crate::drive::EngineDemand;
use crate::rig::keys::Setup;
use crate::run::{Engine, Options, RunFault};

/// What a driver feels in drives that the averaged model answered: two of them, the first and
/// the last, are driven in full; between them surge and least speed go with the square of how far
/// the cells are from what they are asked for.
///
/// Equation: `y = y_last + (y_first - y_last) (e^2 - e_last^2)/(e_first^2 - e_last^2)`, kept
/// between both. Symbols: `e` root mean square of what the visited cells are off before the drive.
/// Valid range: an engine that is driven without stalling. Source: our own; a small error shakes
/// the torque in proportion, and independent shakes add in squares.
pub fn with_feel(
    setup: &Setup,
    mut found: Relearn,
    cleared: Cells,
    asked: &[EngineDemand],
    options: Options,
) -> Result<Relearn, RunFault> {
    let authority = setup.rig.parts().controller.authority_a;
    let before = |found: &Relearn, n: usize| match n {
        0 => cleared.added_a,
        n => found.starts[n - 1].cells_a,
    };
    let off_squared = |found: &Relearn, n: usize| {
        let cells_a = before(found, n);
        let visited = (0..CELLS).filter(|&i| found.starts[n].learned_s[i] >= 10.0);
        let errors = visited
            .filter_map(|i| Some(cells_a[i] - found.wanted_a[i]?.clamp(-authority, authority)));
        let (sum, count) = errors.fold((0.0, 0.0), |(s, n), e| (s + e * e, n + 1.0));
        if count > 0.0 { sum / count } else { 0.0 }
    };
    let Some(last) = found.starts.len().checked_sub(1) else { return Ok(found) };
    let errors: Vec<f64> = (0..=last).map(|n| off_squared(&found, n)).collect();
    // The drive with the largest error, and the last one.
    let worst = (0..=last).max_by(|&a, &b| errors[a].total_cmp(&errors[b])).unwrap_or(0);
    let drive = |n: usize| {
        let mut cells = cleared;
        (cells.added_a, cells.drives) = (before(&found, n), n as u32);
        let options = Options { torque_noise: true, ..options };
        let mut setup = *setup;
        if n > 0 {
            // Only the first start can find lines that were opened.
            setup.conditions.fuel_side.lines = Conditions::default().fuel_side.lines;
        }
        let engine = Engine::standing(&setup, options);
        full_drive(engine, &cells, asked).map(|(_, outcome, _)| outcome)
    };
    let (rough, calm) = (drive(worst)?, drive(last)?);
    for (start, error) in found.starts.iter_mut().zip(&errors) {
        let span = errors[worst] - errors[last];
        let share = if span > 0.0 { ((error - errors[last]) / span).clamp(0.0, 1.0) } else { 0.0 };
        let between = |of: fn(&DriveOutcome) -> Option<f64>| {
            let (rough, calm) = (of(&rough)?, of(&calm)?);
            Some(calm + share * (rough - calm))
        };
        start.surge_rad_s = between(|o| o.surge_rad_s);
        start.least_rad_s = between(|o| o.least_rad_s);
        start.cov = between(|o| o.cov);
        start.worst_cov = between(|o| o.worst_cov);
        start.leanest_lambda = between(|o| o.leanest_lambda);
        start.fuel_kg = calm.fuel_kg + share * (rough.fuel_kg - calm.fuel_kg);
        let stalls =
            f64::from(calm.stalls) + share * (f64::from(rough.stalls) - f64::from(calm.stalls));
        start.stalls = stalls.round() as u32;
    }
    Ok(found)
}
