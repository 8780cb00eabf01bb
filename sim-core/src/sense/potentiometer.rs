//! The airflow potentiometer: a track on the lever's axis.

/// The potentiometer and its housing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Potentiometer {
    /// Voltage at the start of the track (V).
    pub start_v: f64,
    /// Rise of the track (V).
    pub rise_v: f64,
    /// Plate height below the throat at which the track starts, set by turning the
    /// housing in its slotted holes (m).
    pub housing_m: f64,
    /// Plate height over which the track bends (m).
    pub bend_m: f64,
    /// Supply voltage (V).
    pub supply_v: f64,
}

impl Potentiometer {
    /// Voltage at a plate height (V).
    ///
    /// Equation: `V = V_0 + k ln(1 + (z + c + shift)/z_k)`, clipped to 0..supply. Symbols:
    /// `z` plate height above the throat, `c` housing, `shift` of the housing, `z_k` bend
    /// (m). Valid range: `z + c + shift > -z_k`. Source: our own law: a track for volume
    /// flow over decades is logarithmic; 0.70 V at warm idle is common practice, no source.
    pub fn voltage_v(&self, height_m: f64, shift_m: f64) -> f64 {
        let along = ((height_m + self.housing_m + shift_m) / self.bend_m).max(-0.999);
        (self.start_v + self.rise_v * along.ln_1p()).clamp(0.0, self.supply_v)
    }
}
