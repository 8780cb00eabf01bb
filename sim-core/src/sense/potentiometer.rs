//! The airflow potentiometer: a track on the lever's axis.

/// Where the voltage of a warm idle should lie (V): common practice, no source.
pub const IDLE_BAND_V: (f64, f64) = (0.65, 0.75);

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
    /// Resistance of the whole track (ohm).
    pub track_ohm: f64,
}

/// A place where the wiper has worn the track.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wear {
    /// Voltage lost at its deepest (V).
    pub depth_v: f64,
    /// Its middle, as plate height above that of the idle at lambda 1 (m).
    pub above_idle_m: f64,
    /// Its half width, as plate height (m).
    pub width_m: f64,
    /// Contact resistance at its deepest (ohm).
    pub contact_ohm: f64,
}

impl Wear {
    /// How deep the wiper is in the worn place, 0 to 1, at a plate height with the idle's.
    ///
    /// Equation: `exp(-(x/w)^2)`, `x` from its middle. Source: our own; a wiper that dithers
    /// about one place leaves a pit of about the normal curve.
    pub fn depth(&self, height_m: f64, idle_height_m: f64) -> f64 {
        let x = (height_m - idle_height_m - self.above_idle_m) / self.width_m;
        (-x * x).exp()
    }
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

    /// Plate height (m) that a sound track in its place shows with a voltage (V): the inverse of
    /// [`Potentiometer::voltage_v`], unturned.
    pub fn height_m(&self, voltage_v: f64) -> f64 {
        self.bend_m * ((voltage_v - self.start_v) / self.rise_v).exp_m1() - self.housing_m
    }

    /// Voltage at a plate height on a worn track, with the plate height of the idle (m).
    pub fn worn_voltage_v(
        &self,
        height_m: f64,
        shift_m: f64,
        wear: &Wear,
        idle_height_m: f64,
    ) -> f64 {
        let sound_v = self.voltage_v(height_m, shift_m);
        if wear.depth_v == 0.0 {
            return sound_v;
        }
        // The wear is where the wiper is: a turned housing brings it elsewhere.
        let lost_v = wear.depth_v * wear.depth(height_m + shift_m, idle_height_m);
        (sound_v - lost_v).clamp(0.0, self.supply_v)
    }

    /// Resistance that a meter at the wiper sees (ohm): both parts of the track side by side,
    /// and the contact.
    ///
    /// Equation: `R x (1 - x) + R_c`, `x = V/V_supply`. Source: voltage divider (Thevenin).
    pub fn source_ohm(&self, voltage_v: f64, contact_ohm: f64) -> f64 {
        let x = (voltage_v / self.supply_v).clamp(0.0, 1.0);
        self.track_ohm * x * (1.0 - x) + contact_ohm
    }

    /// The same where the wiper stands on a worn track, with the plate height of the idle (m).
    pub fn worn_source_ohm(
        &self,
        voltage_v: f64,
        wiper_height_m: f64,
        wear: &Wear,
        idle_height_m: f64,
    ) -> f64 {
        let contact_ohm = wear.contact_ohm * wear.depth(wiper_height_m, idle_height_m);
        self.source_ohm(voltage_v, contact_ohm)
    }
}
