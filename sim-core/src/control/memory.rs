//! What is kept while the battery is off: a capacitor feeds the memory for a while.

/// The memory's supply.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Memory {
    /// Voltage at which the capacitor is charged (V).
    pub supply_v: f64,
    /// Time constant of capacitor and memory (s).
    pub holds_s: f64,
    /// Voltage below which the memory forgets (V).
    pub forgets_v: f64,
}

/// Spread of the time constant over parts: standard deviation of its logarithm. Electrolytic
/// capacitors come within -20 to +50 % and dry out with age; our own, from that tolerance.
const HOLD_SPREAD: f64 = 0.25;

impl Memory {
    /// Voltage after a time without battery (V).
    ///
    /// Equation: `V = V_0 exp(-t/RC)`. Source: discharge of a capacitor, textbook.
    pub fn voltage_v(&self, off_s: f64) -> f64 {
        self.supply_v * (-off_s / self.holds_s).exp()
    }

    /// How long it keeps what is stored (s): `RC ln(V_0/V_min)`.
    pub fn keeps_for_s(&self) -> f64 {
        self.holds_s * (self.supply_v / self.forgets_v).ln()
    }

    /// Whether it still keeps what was learned after a time without battery (s).
    pub fn keeps(&self, off_s: f64) -> bool {
        self.voltage_v(off_s) >= self.forgets_v
    }

    /// Share of parts that still know it, over the spread of the time constant.
    ///
    /// Equation: `1 - Phi(ln(t / t_keep) / s)`. Source: lognormal spread, our own.
    pub fn share_that_keeps(&self, off_s: f64) -> f64 {
        if off_s <= 0.0 {
            return 1.0;
        }
        let late = (off_s / self.keeps_for_s()).ln() / HOLD_SPREAD;
        crate::maths::normal_share_below(-late)
    }
}
