//! The injectors: valves with a spring, one behind each line, that meter nothing.
//!
//! ```
//! use sim_core::fuel::injector::Injectors;
//! let set = Injectors { opening_pa: 3.6e5, spread_pa: 0.3e5, closes_below_pa: 0.3e5 };
//! assert_eq!(set.opening_pa(0, 4, 0.0), 3.75e5);
//! assert_eq!(set.opening_pa(3, 4, 0.0), 3.45e5);
//! ```

use super::slit::{CYLINDERS, Liquid, Slits, jet_speed_m_s};
use crate::maths::BoundedVector;
use crate::solve::root_between;

/// A set of injectors.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Injectors {
    /// Pressure in the line at which they open, the mean of the set (Pa above ambient).
    pub opening_pa: f64,
    /// From the last to open to the first (Pa).
    pub spread_pa: f64,
    /// How far below its opening one closes (Pa).
    pub closes_below_pa: f64,
}

impl Injectors {
    /// Pressure at which the injector of a line opens (Pa), of so many lines.
    ///
    /// The set lies evenly over its spread, the first line highest; that one is `first_pa`
    /// off besides (worn below 0, dirty above). An open injector holds its line at this
    /// pressure whatever flows: the rise with flow of a poppet is left out. Valid range: a set
    /// that atomises, 3 to 4.1 bar. Source: common practice, no source (3.5 to 4.1 bar,
    /// earlier ones 2.7 to 3.8, within 0.6 of each other).
    pub fn opening_pa(&self, line: usize, lines: usize, first_pa: f64) -> f64 {
        let steps = lines.saturating_sub(1).max(1) as f64;
        let place = 0.5 - line as f64 / steps;
        let own = if line == 0 { first_pa } else { 0.0 };
        (self.opening_pa + place * self.spread_pa + own).max(0.0)
    }

    /// Pressure at which the last of them closes once nothing flows (Pa).
    pub fn closing_pa(&self, lines: usize, first_pa: f64) -> f64 {
        let opens = (0..lines).map(|line| self.opening_pa(line, lines, first_pa));
        (opens.fold(f64::INFINITY, f64::min) - self.closes_below_pa).max(0.0)
    }
}

/// What stands behind the slits: how fast each jet may become at most (m/s).
///
/// A differential-pressure valve can only throttle. Its upper chamber lies between the line and
/// the feed: where the line's pressure leaves less than the drop the valves keep, all that is
/// left drives the jet, and nothing where the injector needs more than the feed has.
/// Equation: `dp_i = min(dp_kept, p_feed - p_i)`, not below 0. Source: balance of pressures.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Lines {
    most_m_s: BoundedVector<CYLINDERS>,
    /// The least of them and the largest.
    least_m_s: f64,
    largest_m_s: f64,
}

impl Lines {
    /// Lines that hold no jet back.
    pub fn free(count: usize) -> Lines {
        Lines::of(count, |_| f64::INFINITY)
    }

    /// Lines behind injectors, of which those `shut` names pass nothing, at a pressure of the
    /// feed (Pa).
    pub fn behind(
        injectors: &Injectors,
        count: usize,
        first_pa: f64,
        feed_pa: f64,
        density_kg_m3: f64,
        shut: impl Fn(usize) -> bool,
    ) -> Lines {
        Lines::of(count, |line| {
            let left_pa = feed_pa - injectors.opening_pa(line, count, first_pa);
            if shut(line) { 0.0 } else { jet_speed_m_s(left_pa, density_kg_m3) }
        })
    }

    fn of(count: usize, most: impl Fn(usize) -> f64) -> Lines {
        let all: [f64; CYLINDERS] = std::array::from_fn(most);
        let all = &all[..count.min(CYLINDERS)];
        Lines {
            most_m_s: BoundedVector::new(all).unwrap_or_default(),
            least_m_s: all.iter().copied().fold(f64::INFINITY, f64::min),
            largest_m_s: all.iter().copied().fold(0.0, f64::max),
        }
    }

    /// How many of them spray.
    pub fn spraying(&self) -> usize {
        self.most_m_s.iter().filter(|most| **most > 0.0).count()
    }

    /// Whether all of them spray.
    pub fn all_spray(&self) -> bool {
        self.least_m_s > 0.0
    }

    /// The least jet that one of them allows (m/s): up to it none holds any back.
    pub fn least_m_s(&self) -> f64 {
        self.least_m_s
    }

    /// Ideal speed of a line's jet at the speed that the valves would keep (m/s).
    pub fn jet_m_s(&self, line: usize, kept_m_s: f64) -> f64 {
        kept_m_s.min(self.most_m_s[line])
    }

    /// Flow of one line (kg/s) at a lift and the jet that the valves would keep.
    pub fn flow_kg_s(
        &self,
        slits: &Slits,
        line: usize,
        lift_m: f64,
        jet_m_s: f64,
        liquid: &Liquid,
    ) -> f64 {
        slits.flow_kg_s(line, lift_m, self.jet_m_s(line, jet_m_s), liquid)
    }

    /// Flow of all lines (kg/s).
    pub fn total_kg_s(&self, slits: &Slits, lift_m: f64, jet_m_s: f64, liquid: &Liquid) -> f64 {
        if jet_m_s <= self.least_m_s {
            return slits.total_kg_s(lift_m, jet_m_s, liquid);
        }
        (0..self.most_m_s.len()).map(|i| self.flow_kg_s(slits, i, lift_m, jet_m_s, liquid)).sum()
    }

    /// The jet that the valves must keep (m/s) for all lines together to pass `total_kg_s`;
    /// `None` if none does.
    pub fn jet_for_total_m_s(
        &self,
        slits: &Slits,
        total_kg_s: f64,
        lift_m: f64,
        liquid: &Liquid,
    ) -> Option<f64> {
        let plain = slits.jet_for_total_m_s(total_kg_s, lift_m, liquid)?;
        if plain <= self.least_m_s {
            return Some(plain);
        }
        let short = |jet: f64| self.total_kg_s(slits, lift_m, jet, liquid) - total_kg_s;
        let at_most = short(self.largest_m_s);
        (at_most >= 0.0).then(|| root_between(short, 0.0, -total_kg_s, self.largest_m_s, at_most))
    }

    /// The lift (m) at which all lines together pass `total_kg_s`; infinite if none does.
    pub fn lift_for_total_m(
        &self,
        slits: &Slits,
        total_kg_s: f64,
        jet_m_s: f64,
        liquid: &Liquid,
    ) -> f64 {
        if jet_m_s <= self.least_m_s {
            return slits.lift_for_total_m(total_kg_s, jet_m_s, liquid);
        }
        let short = |lift_m: f64| self.total_kg_s(slits, lift_m, jet_m_s, liquid) - total_kg_s;
        let at_most = short(slits.height_m);
        if at_most < 0.0 {
            return f64::INFINITY;
        }
        root_between(short, 0.0, -total_kg_s, slits.height_m, at_most)
    }
}
