//! Spark that steadies the idle: earlier where the engine turns too slowly.

/// Share of the most that the spark comes later than the base.
const LATER_SHARE: f64 = 1.0 / 3.0;

/// A spark that follows the idle speed.
///
/// Equation: `advance = base + g (target - n)`, at most `most` earlier and a third of it later,
/// with the idle switch closed; the base alone else. Later is less: an engine that runs down to
/// its idle needs its torque. Symbols: `n` crank speed, `g` gain. Valid range: a
/// late idle spark, where an earlier one gives more torque. Source: our own law for what
/// electronic ignitions of the period did; common practice, no source.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct IdleSpark {
    /// Advance for each rad/s too slow (deg s/rad).
    pub deg_per_rad_s: f64,
    /// The most it moves either way (deg).
    pub most_deg: f64,
}

impl IdleSpark {
    /// How much earlier than the base the spark comes (deg), a speed below the target (rad/s).
    ///
    /// ```
    /// use sim_core::engine::idle_spark::IdleSpark;
    /// let spark = IdleSpark { deg_per_rad_s: 0.4, most_deg: 6.0 };
    /// assert_eq!(spark.earlier_deg(5.0), 2.0);
    /// assert_eq!(spark.earlier_deg(-50.0), -2.0);
    /// ```
    pub fn earlier_deg(&self, below_rad_s: f64) -> f64 {
        (self.deg_per_rad_s * below_rad_s).clamp(-LATER_SHARE * self.most_deg, self.most_deg)
    }
}
