//! A resistor whose resistance depends on its temperature.

/// Constants of the curve: 1/K, for resistance in ohm of a part of 10 kohm at 25 degC.
const A: f64 = 1.129_148e-3;
/// See [`A`].
const B: f64 = 2.341_25e-4;
/// See [`A`].
const C: f64 = 8.767_41e-8;
/// Resistance at 25 degC that the constants belong to (ohm).
const OHM_25: f64 = 10_000.0;

/// A thermistor of the common curve, of another size.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Thermistor {
    /// Resistance at 25 degC (ohm).
    pub ohm_25: f64,
}

impl Thermistor {
    /// Temperature at a resistance (K).
    ///
    /// Equation: `1/T = A + B ln R + C (ln R)^3`. Symbols: `R` resistance, scaled to the part
    /// the constants belong to (ohm). Valid range: -40 to 125 degC, held there outside.
    /// Source: Steinhart & Hart, Deep-Sea Res. 15, 497, 1968; constants of the common 10 kohm
    /// curve, from memory, checked against its published table in `tests`.
    pub fn temperature_k(&self, ohm: f64) -> f64 {
        let ln = (ohm.max(1e-3) * OHM_25 / self.ohm_25).ln();
        (1.0 / (A + ln * (B + C * ln * ln))).clamp(COLDEST_K, HOTTEST_K)
    }

    /// Resistance at a temperature (ohm): the inverse of [`Thermistor::temperature_k`].
    ///
    /// Equation: the real root of the cubic in `ln R` (Cardano). Source: as there.
    pub fn ohm(&self, temperature_k: f64) -> f64 {
        let x = (A - 1.0 / temperature_k) / C;
        let y = ((B / (3.0 * C)).powi(3) + 0.25 * x * x).sqrt();
        let ln = (y - 0.5 * x).cbrt() - (y + 0.5 * x).cbrt();
        ln.exp() * self.ohm_25 / OHM_25
    }
}

/// Coldest temperature a controller takes a reading for: also that of an open circuit (K).
pub(crate) const COLDEST_K: f64 = 233.15;
/// Hottest, also that of a short circuit (K).
pub(crate) const HOTTEST_K: f64 = 398.15;
