//! Chance with a seed: one generator for each seed and item, so that item 7 is the same
//! whether or not items 0 to 6 were drawn, and on any thread.
//!
//! ```
//! use sim_core::noise::Noise;
//! let (mut first, mut again) = (Noise::new(1, 0), Noise::new(1, 0));
//! assert_eq!(first.normal(), again.normal()); // the same seed and item, the same numbers
//! ```

use rand_core::Rng;
use rand_pcg::Pcg32;

/// A generator of random numbers.
#[derive(Clone)]
pub struct Noise(Pcg32);

impl Noise {
    /// The generator of an item under a seed.
    pub fn new(seed: u64, item: u64) -> Noise {
        Noise(Pcg32::new(seed, item))
    }

    /// Uniform in `[0, 1)`.
    pub fn uniform(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 * (0.5_f64).powi(53)
    }

    /// Uniform between two values.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// Standard normal (Box & Muller, Ann. Math. Stat. 29, 610, 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }
}
