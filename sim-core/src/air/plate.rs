//! The air plate in its funnel: it floats where the pressure drop over it carries the
//! plunger, so the drop is constant and its height is a measure of the air.

use crate::maths::{BoundedVector, signed_root};
use std::f64::consts::PI;

/// The most points a funnel profile may have.
pub(crate) const PROFILE_POINTS: usize = 16;

/// Plate and funnel. Heights count upwards from the lower edge of the narrow throat.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Plate {
    /// Radius of the plate (m).
    pub radius_m: f64,
    /// Gap around the plate in the throat (m).
    pub rim_clearance_m: f64,
    /// Discharge coefficient of the annulus.
    pub discharge: f64,
    /// How far the resting plate hangs below the throat (m).
    pub rest_below_throat_m: f64,
    /// Heights of the funnel's edges above the throat (m), rising, first 0.
    pub profile_height_m: BoundedVector<PROFILE_POINTS>,
    /// Radial gap the funnel adds at those heights (m), rising, first 0.
    pub profile_gap_m: BoundedVector<PROFILE_POINTS>,
}

impl Plate {
    /// Height of the funnel above the throat (m): where the profile ends.
    pub(crate) fn top_m(&self) -> f64 {
        self.profile_height_m[self.profile_height_m.len() - 1]
    }

    /// Radial gap (m) at a height: rim clearance plus the funnel, a row of straight cones.
    pub fn gap_m(&self, height_m: f64) -> f64 {
        self.rim_clearance_m + interpolate(&self.profile_height_m, &self.profile_gap_m, height_m)
    }

    /// Area of the annulus (m2) at a height.
    ///
    /// Equation: `A = pi ((R + y)^2 - R^2)`, `y` the radial gap. Valid range: below the
    /// throat the rim clearance alone; above the funnel the area of its upper edge.
    /// Source: geometry.
    pub fn area_m2(&self, height_m: f64) -> f64 {
        let y = self.gap_m(height_m);
        PI * y * (2.0 * self.radius_m + y)
    }

    /// The same, and how it grows with the height (m).
    ///
    /// Equation: `A' = 2 pi (R + y) y'`; on an edge of the profile that of the cone above.
    /// Valid range and source as [`Plate::area_m2`].
    pub fn area_and_slope(&self, height_m: f64) -> (f64, f64) {
        let (gap, widens) =
            interpolate_and_slope(&self.profile_height_m, &self.profile_gap_m, height_m);
        let y = self.rim_clearance_m + gap;
        (PI * y * (2.0 * self.radius_m + y), 2.0 * PI * (self.radius_m + y) * widens)
    }

    /// Area of the rim clearance (m2): the least the plate can pass.
    pub(crate) fn least_area_m2(&self) -> f64 {
        self.area_m2(0.0)
    }

    /// Height (m) at which the annulus has an area, or `None` outside the funnel.
    pub fn height_m(&self, area_m2: f64) -> Option<f64> {
        let gap = (self.radius_m * self.radius_m + area_m2 / PI).sqrt() - self.radius_m;
        let funnel = gap - self.rim_clearance_m;
        let end = self.profile_gap_m[self.profile_gap_m.len() - 1];
        (0.0..=end)
            .contains(&funnel)
            .then(|| interpolate(&self.profile_gap_m, &self.profile_height_m, funnel))
    }

    /// Mass flow past the plate (kg/s).
    ///
    /// Equation: `m = C A sqrt(2 rho dp)`. Symbols: `C` discharge coefficient, `A` area
    /// (m2), `rho` density of the air (kg/m3), `dp` drop over the plate (Pa).
    /// Valid range: `dp` small against the pressure (about 1 % here). Source: Bernoulli.
    pub fn flow_kg_s(&self, area_m2: f64, density_kg_m3: f64, drop_pa: f64) -> f64 {
        self.discharge * area_m2 * signed_root(2.0 * density_kg_m3 * drop_pa, 1e-6)
    }
}

fn interpolate(x: &[f64], y: &[f64], at: f64) -> f64 {
    interpolate_and_slope(x, y, at).0
}

/// A row on straight lines and the slope of the one, the end values beyond.
fn interpolate_and_slope(x: &[f64], y: &[f64], at: f64) -> (f64, f64) {
    let last = x.len() - 1;
    if at < x[0] {
        return (y[0], 0.0);
    }
    if at >= x[last] {
        return (y[last], 0.0);
    }
    let i = (1..last).find(|&i| at < x[i]).unwrap_or(last);
    let (rise, run) = (y[i] - y[i - 1], x[i] - x[i - 1]);
    (y[i - 1] + rise * (at - x[i - 1]) / run, rise / run)
}

/// The lever that joins plate, plunger and screw.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lever {
    /// From the pivot to the middle of the plate (m).
    pub plate_arm_m: f64,
    /// From the pivot to the plunger (m).
    pub plunger_arm_m: f64,
    /// From the pivot to the mixture screw (m).
    pub screw_arm_m: f64,
    /// Pitch of the mixture screw's thread (m).
    pub screw_pitch_m: f64,
    /// Plate height at which the slits open, with the screw as it stands (m).
    pub zero_height_m: f64,
}

impl Lever {
    /// Plate height at which the metering edge uncovers the slits (m).
    ///
    /// Equation: `z0 = z0(0) - turns pitch L_plate / L_screw`; clockwise is richer.
    /// Source: lever law.
    pub fn opening_height_m(&self, turns: f64) -> f64 {
        self.zero_height_m - turns * self.height_per_turn_m()
    }

    /// Plate height that one turn of the screw is worth (m).
    pub fn height_per_turn_m(&self) -> f64 {
        self.screw_pitch_m * self.plate_arm_m / self.screw_arm_m
    }

    /// Plunger movement for each metre of plate.
    pub fn plunger_per_plate(&self) -> f64 {
        self.plunger_arm_m / self.plate_arm_m
    }

    /// Pressure drop over the plate (Pa) that carries a force on the plunger.
    ///
    /// Equation: `dp pi R^2 L_plate = F L_plunger`. Source: moments about the pivot.
    pub fn plate_drop_pa(&self, plunger_force_n: f64, plate_radius_m: f64) -> f64 {
        plunger_force_n * self.plunger_per_plate() / (PI * plate_radius_m * plate_radius_m)
    }
}
