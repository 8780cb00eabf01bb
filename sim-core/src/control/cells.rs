//! The trim that is learned and stored: a current for each range of load, added to the base.

/// How many cells there are.
pub const CELLS: usize = 4;
/// Air flow of the cells' centres for each litre of displacement (kg/h): 15/25/42/70 at 2.8 l.
const CENTRES_KG_H_L: [f64; CELLS] = [5.36, 8.93, 15.0, 25.0];
/// First and least step a cell takes at the end of a drive (A), and by what it shrinks.
const STEP: (f64, f64, f64) = (0.020, 0.0004, 0.86);
/// A mean trim smaller than this teaches nothing (A).
const DEAD_BAND_A: f64 = 0.000_25;
/// A cell counts as visited with so much time of learning in a drive (s).
const VISITED_S: f64 = 10.0;

/// The cells.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Cells {
    /// Air flow of each centre (kg/s), rising.
    pub centre_kg_s: [f64; CELLS],
    /// What each adds to the base current (A).
    pub added_a: [f64; CELLS],
    /// The most a cell may add or take (A).
    pub limit_a: f64,
    /// Drives since the memory was cleared.
    pub drives: u32,
}

/// Coolant from which a controller learns (K).
pub(crate) const LEARNS_FROM_K: f64 = 333.15;
/// A flow is steady that has stayed within this share of its mean over the first time (s)
/// for the second: only then it teaches.
pub(crate) const STEADY: (f64, f64, f64) = (0.05, 1.0, 3.0);

/// What a drive taught: for each cell the time spent learning (s) and the trim over it (A s).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Taught {
    /// Time (s).
    pub time_s: [f64; CELLS],
    /// Integral of the trim (A s).
    pub trim_a_s: [f64; CELLS],
}

/// A moment that may teach a cell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moment {
    /// Air flow, as the controller takes it (kg/s).
    pub air_kg_s: f64,
    /// Whether the idle switch is closed.
    pub idles: bool,
}

impl Cells {
    /// Empty cells for an engine of a displacement (m3).
    pub fn cleared(displacement_m3: f64, limit_a: f64) -> Cells {
        let litres = 1e3 * displacement_m3;
        Cells {
            centre_kg_s: CENTRES_KG_H_L.map(|centre| centre * litres / 3600.0),
            added_a: [0.0; CELLS],
            limit_a,
            drives: 0,
        }
    }

    /// Shares of the cells in what is added at an air flow (kg/s): straight lines between the
    /// centres, the ends beyond them.
    pub fn shares(&self, air_kg_s: f64) -> [f64; CELLS] {
        let mut shares = [0.0; CELLS];
        let c = &self.centre_kg_s;
        match c.iter().position(|centre| air_kg_s < *centre) {
            Some(0) => shares[0] = 1.0,
            None => shares[CELLS - 1] = 1.0,
            Some(i) => {
                let up = (air_kg_s - c[i - 1]) / (c[i] - c[i - 1]);
                (shares[i - 1], shares[i]) = (1.0 - up, up);
            }
        }
        shares
    }

    /// What is added to the base current at an air flow (A).
    pub(crate) fn added_at_a(&self, air_kg_s: f64) -> f64 {
        let shares = self.shares(air_kg_s);
        shares.iter().zip(&self.added_a).map(|(share, added)| share * added).sum()
    }

    /// Takes in a moment of learning: a trim (A) for a time (s). It teaches the cell whose centre
    /// is nearest and no other: a cell taught by flows that are mostly its neighbour's would
    /// wander. The first cell is the idle's: it learns with the idle switch closed only.
    pub fn teach(&self, taught: &mut Taught, at: Moment, trim_a: f64, time_s: f64) {
        for (i, share) in self.shares(at.air_kg_s).into_iter().enumerate() {
            if share > 0.5 && (i > 0 || at.idles) {
                taught.time_s[i] += time_s;
                taught.trim_a_s[i] += time_s * trim_a;
            }
        }
    }

    /// The step a cell takes at the end of this drive (A).
    ///
    /// Equation: `max(20 mA 0.86^n, 0.4 mA)`, `n` drives since the memory was cleared.
    /// Source: our own: larger steps after a reset, as practice tells.
    pub fn step_a(&self) -> f64 {
        let (first, least, shrinks) = STEP;
        (first * shrinks.powi(self.drives.min(1000) as i32)).max(least)
    }

    /// Stores what a drive taught, at key-off: each cell that was visited counts a step up or
    /// down, by the sign of its mean trim, so that it moves about its place in steps that shrink.
    pub fn store(&mut self, taught: &Taught) {
        let step = self.step_a();
        for i in 0..CELLS {
            if taught.time_s[i] < VISITED_S {
                continue;
            }
            let mean = taught.trim_a_s[i] / taught.time_s[i];
            if mean.abs() <= DEAD_BAND_A {
                continue;
            }
            let wanted = self.added_a[i] + step.copysign(mean);
            self.added_a[i] = wanted.clamp(-self.limit_a, self.limit_a);
        }
        self.drives += 1;
    }

    /// Whether a cell stands at its limit.
    pub fn at_limit(&self) -> bool {
        self.added_a.iter().any(|added| added.abs() >= self.limit_a - 1e-12)
    }
}
