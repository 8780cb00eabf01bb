//! What a driver feels of drives that the averaged model answered.

use super::full_drive::full_drive;
use super::{DriveOutcome, PartFelt, Relearn};
use crate::conditions::Conditions;
use crate::control::cells::{CELLS, Cells};
use crate::drive::EngineDemand;
use crate::rig::keys::Setup;
use crate::run::{Engine, Options, RunFault};

/// What a driver feels in drives that the averaged model answered: three of them are driven in
/// full, the one with the cells furthest to the rich, the one furthest to the lean, and the last.
/// Between the last and the one on its side, what is felt of a drive goes with the square of how
/// far the cells are from what they are asked for.
///
/// Equation: `y = y_last + (y_side - y_last) min(1, e^2/e_side^2)`. Symbols: `e` root mean square of
/// what the visited cells are off before the drive, `side` by the sign of their mean. Valid range:
/// an engine that is driven without stalling. Source: our own; a small error shakes the torque in
/// proportion, and independent shakes add in squares. A lean cell thins the mixture under load, a
/// rich one fattens it: each side needs a drive of its own.
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
    let off = |found: &Relearn, n: usize| {
        let cells_a = before(found, n);
        let visited = (0..CELLS).filter(|&i| found.starts[n].learned_s[i] >= 10.0);
        let errors = visited
            .filter_map(|i| Some(cells_a[i] - found.wanted_a[i]?.clamp(-authority, authority)));
        let (squares, sum, count) =
            errors.fold((0.0, 0.0, 0.0), |(q, s, n), e| (q + e * e, s + e, n + 1.0));
        if count > 0.0 { (squares / count, sum >= 0.0) } else { (0.0, true) }
    };
    let Some(last) = found.starts.len().checked_sub(1) else { return Ok(found) };
    let errors: Vec<(f64, bool)> = (0..=last).map(|n| off(&found, n)).collect();
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
    // The drive furthest off on a side, and how far.
    let worst_of = |rich: bool| {
        let side = (0..=last).filter(|&n| errors[n].1 == rich);
        side.max_by(|&a, &b| errors[a].0.total_cmp(&errors[b].0))
            .map(|n| Ok((errors[n].0, drive(n)?)))
            .transpose()
    };
    let (rich, lean, calm) = (worst_of(true)?, worst_of(false)?, drive(last)?);
    for (start, (error, is_rich)) in found.starts.iter_mut().zip(&errors) {
        let Some((most, rough)) = (if *is_rich { &rich } else { &lean }) else { continue };
        let share = if *most > 0.0 { (error / most).clamp(0.0, 1.0) } else { 0.0 };
        let felt = between(&calm, rough, share);
        *start = DriveOutcome {
            cells_a: start.cells_a,
            learned_s: start.learned_s,
            given_up: start.given_up,
            ..felt
        };
    }
    Ok(found)
}

/// What is felt a share of the way from one drive to another.
fn between(calm: &DriveOutcome, rough: &DriveOutcome, share: f64) -> DriveOutcome {
    let mix = |calm: f64, rough: f64| calm + share * (rough - calm);
    let of = |of: fn(&DriveOutcome) -> Option<f64>| Some(mix(of(calm)?, of(rough)?));
    let part = |of: fn(&DriveOutcome) -> Option<PartFelt>| {
        let (calm, rough) = (of(calm)?, of(rough)?);
        Some(PartFelt {
            cov: mix(calm.cov, rough.cov),
            worst_cov: mix(calm.worst_cov, rough.worst_cov),
            leanest_lambda: mix(calm.leanest_lambda, rough.leanest_lambda),
            richest_lambda: mix(calm.richest_lambda, rough.richest_lambda),
        })
    };
    let stalls = mix(f64::from(calm.stalls), f64::from(rough.stalls)).round() as u32;
    DriveOutcome {
        cov: of(|o| o.cov),
        surge_rad_s: of(|o| o.surge_rad_s),
        least_rad_s: of(|o| o.least_rad_s),
        worst_cov: of(|o| o.worst_cov),
        leanest_lambda: of(|o| o.leanest_lambda),
        fuel_kg: mix(calm.fuel_kg, rough.fuel_kg),
        stalls,
        stalled_because: rough.stalled_because.filter(|_| stalls > 0),
        idle: part(|o| o.idle),
        cruise: part(|o| o.cruise),
        load: part(|o| o.load),
        ..DriveOutcome::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::stall_cause::{Failed, StallCause};

    /// Half-way between two drives half of everything is felt; of stalls whole ones, and why only
    /// where there is one.
    #[test]
    fn half_way_between_two_drives_half_is_felt() {
        let because = Some(StallCause {
            failed: Failed::Lean,
            time_s: 40.0,
            speed_rad_s: 60.0,
            lambda: 1.4,
            air_kg_s: 2e-3,
            manifold_pa: 4e4,
            imep_pa: 0.0,
            best_pa: 3e5,
            needs_pa: 2e5,
            system_pa: 5e5,
            plate_over_cylinders: 1.0,
        });
        let rough = DriveOutcome {
            cov: Some(0.2),
            fuel_kg: 3.0,
            stalls: 4,
            stalled_because: because,
            ..DriveOutcome::default()
        };
        let calm = DriveOutcome { cov: Some(0.1), fuel_kg: 2.0, ..DriveOutcome::default() };
        for (share, cov, fuel_kg, stalls) in
            [(0.0, 0.1, 2.0, 0), (0.1, 0.11, 2.1, 0), (0.5, 0.15, 2.5, 2), (1.0, 0.2, 3.0, 4)]
        {
            let felt = between(&calm, &rough, share);
            assert!((felt.cov.unwrap() - cov).abs() < 1e-12 && felt.surge_rad_s.is_none());
            assert!((felt.fuel_kg - fuel_kg).abs() < 1e-12, "{share}: {} kg", felt.fuel_kg);
            assert_eq!(felt.stalls, stalls, "{share}");
            assert_eq!(felt.stalled_because, because.filter(|_| stalls > 0), "{share}");
        }
    }
}
