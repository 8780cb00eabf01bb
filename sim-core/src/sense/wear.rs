//! How the wiper wears the potentiometer's track.

use super::potentiometer::Wear;
use std::f64::consts::PI;

/// What decides how fast a track wears, and what that costs in voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rubbing {
    /// Volume worn for each newton and metre (m3/(N m)): Archard's coefficient over hardness.
    pub specific_m3_n_m: f64,
    /// Force of the wiper on the track (N).
    pub load_n: f64,
    /// Width of the wiper across the track (m).
    pub across_m: f64,
    /// Voltage lost for each metre of depth (V/m).
    pub lost_v_per_m: f64,
}

/// The track that stands in for all here: invented. A filled polymer wears by some 1e-7
/// mm3/(N m) (from memory, order only); load, width and lost voltage are our own.
pub const TRACK: Rubbing =
    Rubbing { specific_m3_n_m: 1e-16, load_n: 0.2, across_m: 1e-3, lost_v_per_m: 40_000.0 };

impl Rubbing {
    /// Volume worn away over a sliding distance (m3).
    ///
    /// Equation: `V = (K/H) F s`. Symbols: `K` wear coefficient, `H` hardness (Pa), `F` load
    /// (N), `s` sliding distance (m). Valid range: all not negative; the coefficient counts as
    /// constant (no running in, no lubricant lost). Source: Archard, J. Appl. Phys. 24, 981,
    /// 1953 (from memory).
    ///
    /// ```
    /// use sim_core::sense::wear::TRACK;
    /// assert!((TRACK.volume_m3(2.0) / TRACK.volume_m3(1.0) - 2.0).abs() < 1e-12);
    /// ```
    pub fn volume_m3(&self, distance_m: f64) -> f64 {
        self.specific_m3_n_m * self.load_n * distance_m
    }

    /// Depth at the deepest of a worn place of half width `w` (m) after a sliding distance.
    ///
    /// Equation: `h = V/(sqrt(pi) w b)`, the volume of a pit `h exp(-(x/w)^2)` along the track
    /// and `b` wide. Distance and half width are both taken at the plate: the arm of the
    /// wiper is in both and cancels. Source: the integral of that pit, exact; its shape is
    /// [`Wear::depth`]'s.
    pub fn depth_m(&self, distance_m: f64, half_width_m: f64) -> f64 {
        self.volume_m3(distance_m) / (PI.sqrt() * half_width_m * self.across_m)
    }

    /// Voltage lost at the deepest of that place (V): as deep, so much lost (our own: nothing
    /// published ties the one to the other).
    pub fn lost_v(&self, distance_m: f64, half_width_m: f64) -> f64 {
        self.lost_v_per_m * self.depth_m(distance_m, half_width_m)
    }
}

/// How a wiper dithers about one place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dither {
    /// Its middle, as plate height (m), each place weighed by the distance rubbed there.
    pub middle_m: f64,
    /// Standard deviation about that, weighed likewise (m).
    pub spread_m: f64,
    /// Distance rubbed (m/s), at the plate.
    pub pace_m_s: f64,
    /// How often a second it passes its middle upwards (1/s).
    pub passes_per_s: f64,
}

impl Dither {
    /// Reads a dither off plate heights (m), evenly a time apart (s).
    ///
    /// A place wears by the distance rubbed over it, not by the time spent at it, so each
    /// stretch between two heights counts by its length (its own spread included). A sine of
    /// amplitude `A` and frequency `f` has the spread `A/sqrt(3)` and the pace `4 A f`; a
    /// normal wander of deviation `s` has the spread `s`, since its crossings of a height
    /// follow the normal curve (Rice, Bell Syst. Tech. J. 23, 282, 1944, from memory).
    /// `None` without two heights that differ.
    pub fn of(heights_m: &[f64], step_s: f64) -> Option<Dither> {
        let stretches = || heights_m.windows(2).map(|pair| (pair[0], pair[1]));
        let path: f64 = stretches().map(|(a, b)| (b - a).abs()).sum();
        if path <= 0.0 {
            return None;
        }
        let weighed = |get: &dyn Fn(f64, f64) -> f64| {
            stretches().map(|(a, b)| (b - a).abs() * get(a, b)).sum::<f64>() / path
        };
        let middle_m = weighed(&|a, b| 0.5 * (a + b));
        let square = weighed(&|a, b| (0.5 * (a + b) - middle_m).powi(2) + (b - a).powi(2) / 12.0);
        let ups = stretches().filter(|(a, b)| *a < middle_m && *b >= middle_m).count();
        let lasts_s = step_s * (heights_m.len() - 1) as f64;
        Some(Dither {
            middle_m,
            spread_m: square.sqrt(),
            pace_m_s: path / lasts_s,
            passes_per_s: ups as f64 / lasts_s,
        })
    }

    /// Half width of the pit that it rubs (m).
    ///
    /// Equation: `w = sqrt(2) s`, the pit `exp(-(x/w)^2)` with the dither's spread `s`.
    pub fn half_width_m(&self) -> f64 {
        std::f64::consts::SQRT_2 * self.spread_m
    }

    /// The worn place at a loss of voltage (V), for an idle at a plate height (m).
    pub fn wear(&self, lost_v: f64, idle_height_m: f64) -> Wear {
        Wear {
            depth_v: lost_v,
            above_idle_m: self.middle_m - idle_height_m,
            width_m: self.half_width_m(),
            contact_ohm: 0.0,
        }
    }
}
