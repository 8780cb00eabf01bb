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

    /// Pressure at which the first of them opens (Pa): a feed that rests above it makes it drip.
    pub fn first_opens_pa(&self, lines: usize, first_pa: f64) -> f64 {
        let opens = (0..lines).map(|line| self.opening_pa(line, lines, first_pa));
        opens.fold(f64::INFINITY, f64::min)
    }

    /// Pressure at which the injector of a line closes (Pa): a needle that has left its seat
    /// comes back to it later than it left.
    pub fn closing_pa(&self, line: usize, lines: usize, first_pa: f64) -> f64 {
        (self.opening_pa(line, lines, first_pa) - self.closes_below_pa).max(0.0)
    }
}

/// What the injectors' needles do while the feed moves: the pressure that each holds its line at.
///
/// Friction holds a needle where it is, so that its line's pressure may lie anywhere between
/// closing and opening. Equations, for a line held at `p_i` and a feed `p` that moves by `dp`: a
/// shut one opens where `p` passes its opening; an open one gives way to a falling feed before the
/// jet does, `p_i = max(p_closes, p - dp_kept)`, and comes back with a rising one,
/// `p_i = min(p_opens, p_i + dp)`; where `p` no longer exceeds `p_i` it shuts. Symbols: `dp_kept`
/// drop that the differential-pressure valves keep (Pa). Valid range: a feed that moves slowly
/// against the needle. Source: play of dry friction, textbook; that the band is the same all over
/// the lift is our own.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Needles {
    /// Pressure that each line is held at, its opening while it is shut (Pa).
    held_pa: [f64; CYLINDERS],
    feed_pa: f64,
}

impl Needles {
    /// Those behind a feed that has come up to a pressure (Pa).
    pub fn risen_to(injectors: &Injectors, count: usize, first_pa: f64, feed_pa: f64) -> Needles {
        let held_pa = std::array::from_fn(|line| injectors.opening_pa(line, count, first_pa));
        Needles { held_pa, feed_pa }
    }

    /// Those behind a feed that has fallen to a pressure (Pa) slowly, from far above: open down to
    /// their closing.
    pub fn fallen_to(injectors: &Injectors, count: usize, first_pa: f64, feed_pa: f64) -> Needles {
        let held_pa = std::array::from_fn(|line| {
            let closes_pa = injectors.closing_pa(line, count, first_pa);
            let open = feed_pa > closes_pa;
            if open { closes_pa } else { injectors.opening_pa(line, count, first_pa) }
        });
        Needles { held_pa, feed_pa }
    }

    /// Pressure that a line is held at (Pa); what it needs while it is shut.
    pub fn held_pa(&self, line: usize) -> f64 {
        self.held_pa[line]
    }

    /// Whether the injector of a line is open.
    pub fn is_open(&self, line: usize) -> bool {
        self.feed_pa > self.held_pa[line]
    }

    /// The feed moves to a pressure (Pa) while the valves keep a drop (Pa). Gives how far the
    /// line of each injector that shuts then falls (Pa).
    pub fn follow(
        &mut self,
        injectors: &Injectors,
        (count, first_pa): (usize, f64),
        feed_pa: f64,
        kept_pa: f64,
    ) -> [f64; CYLINDERS] {
        let moved_pa = feed_pa - self.feed_pa;
        if moved_pa == 0.0 {
            // Nothing moves a needle where the feed stands.
            return [0.0; CYLINDERS];
        }
        let before = *self;
        self.feed_pa = feed_pa;
        std::array::from_fn(|line| {
            if line >= count {
                return 0.0;
            }
            let opens_pa = injectors.opening_pa(line, count, first_pa);
            let closes_pa = injectors.closing_pa(line, count, first_pa);
            let held_pa = before.held_pa[line];
            self.held_pa[line] = match (before.is_open(line), moved_pa < 0.0) {
                (false, _) => opens_pa,
                (true, true) => held_pa.min((feed_pa - kept_pa).max(closes_pa)),
                (true, false) => (held_pa + moved_pa).min(opens_pa),
            };
            if self.is_open(line) {
                return 0.0;
            }
            self.held_pa[line] = opens_pa;
            if before.is_open(line) { (held_pa - closes_pa).max(0.0) } else { 0.0 }
        })
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
        let needles = Needles::risen_to(injectors, count, first_pa, feed_pa);
        Lines::behind_needles(&needles, count, density_kg_m3, shut)
    }

    /// The same behind injectors as they are now.
    pub fn behind_needles(
        needles: &Needles,
        count: usize,
        density_kg_m3: f64,
        shut: impl Fn(usize) -> bool,
    ) -> Lines {
        Lines::of(count, |line| {
            let left_pa = needles.feed_pa - needles.held_pa(line);
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

    /// The same of each line.
    pub fn each_kg_s(
        &self,
        slits: &Slits,
        lift_m: f64,
        jet_m_s: f64,
        liquid: &Liquid,
    ) -> BoundedVector<CYLINDERS> {
        let mut flows = slits.each_kg_s(lift_m, jet_m_s, liquid);
        if jet_m_s > self.least_m_s {
            for (line, flow) in flows.iter_mut().enumerate() {
                *flow = self.flow_kg_s(slits, line, lift_m, jet_m_s, liquid);
            }
        }
        flows
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
