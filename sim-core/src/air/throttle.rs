//! The openings through which the manifold fills: throttle plate and idle air valve.

use std::f64::consts::PI;

/// Geometric opening beyond the closed stop at which the idle switch opens (m2). Our own.
const IDLE_SWITCH_M2: f64 = 1e-6;

/// A butterfly in a round bore.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Throttle {
    /// Diameter of the bore (m).
    pub bore_m: f64,
    /// Angle of the closed stop from square to the bore (deg).
    pub closed_deg: f64,
    /// Angle of the open stop (deg).
    pub open_deg: f64,
    /// Area that stays open at the closed stop (m2).
    pub closed_area_m2: f64,
    /// Discharge coefficient.
    pub discharge: f64,
    /// Arm of the lever that the linkage pulls (m).
    pub arm_m: f64,
}

impl Throttle {
    /// Share of the travel at which a linkage of some free play (m) lets the throttle rest:
    /// 0 with any play; without, the linkage holds it off its stop.
    ///
    /// Equation: `angle = -play / arm`. Source: geometry, small angles.
    pub fn held_open_share(&self, play_m: f64) -> f64 {
        let angle_deg = (-play_m / self.arm_m).max(0.0).to_degrees();
        (angle_deg / (self.open_deg - self.closed_deg)).min(1.0)
    }

    /// Effective area (m2) from which on the idle switch is open.
    pub fn idle_switch_opens_m2(&self) -> f64 {
        self.effective_m2(0.0) + IDLE_SWITCH_M2 * self.discharge
    }

    /// Geometric area (m2) at a share of the travel between the stops.
    ///
    /// Equation: `A = pi D^2/4 (1 - cos a / cos a0) + A_closed`, `a = a0 + share (a1 - a0)`.
    /// Symbols: `D` bore, `a0`, `a1` closed and open angle. Valid range: share 0 to 1.
    /// Source: Heywood 1988, sect. 7.6, eq. 7.18 without the shaft (from memory).
    pub fn area_m2(&self, share: f64) -> f64 {
        let angle = self.closed_deg + share * (self.open_deg - self.closed_deg);
        let open = 1.0 - angle.to_radians().cos() / self.closed_deg.to_radians().cos();
        PI / 4.0 * self.bore_m * self.bore_m * open + self.closed_area_m2
    }

    /// Effective area (m2): geometric area times discharge coefficient.
    pub fn effective_m2(&self, share: f64) -> f64 {
        self.discharge * self.area_m2(share)
    }
}

/// The idle air valve: a rectangular window that a slide opens from nothing to full. Two
/// windings turn the slide against each other; without current springs hold it part open.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct IdleValve {
    /// Height of the window: the gap when full open (m).
    pub gap_m: f64,
    /// Gap at which the slide rests without current (m): what is compared on the bench.
    pub unpowered_gap_m: f64,
    /// Share of the window that opens for each share of the drive's duty.
    pub opening_by_duty: f64,
    /// Width of the window (m).
    pub width_m: f64,
    /// Discharge coefficient.
    pub discharge: f64,
}

impl IdleValve {
    /// Opening, share of the window, that a duty of the drive gives.
    ///
    /// Equation: `opening = k duty`, 0 to 1. Symbols: `k` opening by duty. Valid range: duty 0
    /// to 1. Source: our own: the torques of the windings go with their duties, the slide's
    /// angle with their difference. A worn or dirty slide opens less for the same duty.
    ///
    /// ```
    /// use sim_core::air::throttle::IdleValve;
    /// let valve = IdleValve { gap_m: 4e-3, opening_by_duty: 0.5, ..IdleValve::default() };
    /// assert_eq!(valve.opening(0.6), 0.3);
    /// ```
    pub fn opening(&self, duty: f64) -> f64 {
        (self.opening_by_duty * duty).clamp(0.0, 1.0)
    }

    /// The duty that gives an opening; above 1 where none does.
    pub fn duty(&self, opening: f64) -> f64 {
        opening / self.opening_by_duty
    }

    /// The widest that any duty opens it, share of the window.
    pub fn widest(&self) -> f64 {
        self.opening(1.0)
    }

    /// Opening without current, share of the window.
    pub fn unpowered(&self) -> f64 {
        (self.unpowered_gap_m / self.gap_m).min(1.0)
    }

    /// Effective area fully open (m2): `discharge x gap x width`.
    pub(crate) fn full_effective_m2(&self) -> f64 {
        self.discharge * self.gap_m * self.width_m
    }
}
