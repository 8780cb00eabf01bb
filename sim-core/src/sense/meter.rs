//! Voltmeters at the wiper: a needle and a digital one, as electrical loads and as what they
//! show of a voltage that moves.

use std::f64::consts::PI;

/// Natural frequency of a needle's movement (Hz), and its damping ratio: our own, in the
/// middle of what IEC 60051 allows (overshoot 9.5 %, response in 1.5 s).
const NEEDLE_HZ: f64 = 0.8;
/// See `NEEDLE_HZ`.
const NEEDLE_DAMPING: f64 = 0.6;
/// The most divisions a scale has.
const DIVISIONS_MOST: f64 = 60.0;
/// Time from reading to reading of a digital meter (s): 2.5 a second, common practice, no
/// source.
const DIGITAL_PERIOD_S: f64 = 0.4;
/// Time over which each of its readings is a mean (s): whole periods of 50 and 60 Hz mains,
/// common practice, no source.
const DIGITAL_INTEGRATES_S: f64 = 0.1;
/// Its input resistance (ohm): common practice, no source.
const DIGITAL_OHM: f64 = 10e6;
/// Its stated error: share of the reading, and counts (common practice, no source).
const DIGITAL_ERROR: (f64, f64) = (0.005, 2.0);
/// Full scale of its ranges (V) and the count of each (V); it shows 1999 counts.
const DIGITAL_RANGES: [(f64, f64); 3] = [(2.0, 1e-3), (20.0, 1e-2), (200.0, 0.1)];

/// Voltage at a source that a meter loads (V).
///
/// Equation: `V_m = V R_m/(R_m + R_s)`. Symbols: `V` open voltage (V), `R_s` resistance of the
/// source, `R_m` of the meter (ohm). Valid range: `R_s >= 0`, `R_m > 0`; the source counts as
/// linear. Source: voltage divider (Thevenin), exact.
///
/// ```
/// let loaded = sim_core::sense::meter::loaded_v(0.70, 2500.0, 50_000.0);
/// assert!((loaded - 0.70 / 1.05).abs() < 1e-12);
/// ```
pub fn loaded_v(open_v: f64, source_ohm: f64, meter_ohm: f64) -> f64 {
    open_v * meter_ohm / (meter_ohm + source_ohm)
}

/// A needle instrument.
#[derive(Clone, Copy, Debug, PartialEq)]
#[must_use]
pub struct Needle {
    /// Accuracy class: its error is at most this share of full scale.
    pub class_share: f64,
    /// Full scale (V).
    pub range_v: f64,
    /// Resistance for each volt of full scale (ohm/V).
    pub ohm_per_v: f64,
    /// Natural frequency of the movement (rad/s).
    pub natural_rad_s: f64,
    /// Damping ratio, below 1.
    pub damping: f64,
    /// Where the pointer stands (V).
    pointer_v: f64,
    /// How fast it moves (V/s).
    speed_v_s: f64,
}

impl Needle {
    /// A needle at zero: accuracy class as a share, full scale (V), resistance (ohm/V).
    pub fn new(class_share: f64, range_v: f64, ohm_per_v: f64) -> Needle {
        Needle {
            class_share,
            range_v,
            ohm_per_v,
            natural_rad_s: 2.0 * PI * NEEDLE_HZ,
            damping: NEEDLE_DAMPING,
            pointer_v: 0.0,
            speed_v_s: 0.0,
        }
    }

    /// Lets a constant voltage (V) act for a time (s).
    ///
    /// Equation: `y'' + 2 z w y' + w^2 (y - u) = 0`, its closed solution over the time with
    /// `u` constant. Symbols: `y` pointer, `u` voltage (V), `w` natural frequency (rad/s), `z`
    /// damping ratio. Valid range: `0 <= z < 1`. At zero and at full scale the pointer meets
    /// a stop and loses its speed. Source: second-order instrument, any handbook of
    /// measurement; IEC 60051-1 (from memory) allows an overshoot of 20 % and asks that the
    /// pointer be within 1.5 % of the scale's length after 4 s.
    ///
    /// ```
    /// use sim_core::sense::meter::Needle;
    /// let mut one = Needle::new(0.025, 2.5, 20e3);
    /// one.feed(0.7, 0.3);
    /// let mut two = Needle::new(0.025, 2.5, 20e3);
    /// (0..300).for_each(|_| two.feed(0.7, 1e-3));
    /// assert!((one.pointer_v() - two.pointer_v()).abs() < 1e-12);
    /// ```
    pub fn feed(&mut self, voltage_v: f64, lasts_s: f64) {
        let (w, z) = (self.natural_rad_s, self.damping);
        let turns = w * (1.0 - z * z).sqrt();
        let (away, speed) = (self.pointer_v - voltage_v, self.speed_v_s);
        let (sin, cos) = (turns * lasts_s).sin_cos();
        let fades = (-z * w * lasts_s).exp();
        self.pointer_v = voltage_v + fades * (away * cos + (speed + z * w * away) / turns * sin);
        self.speed_v_s = fades * (speed * cos - (w * w * away + z * w * speed) / turns * sin);
        if self.pointer_v <= 0.0 {
            (self.pointer_v, self.speed_v_s) = (0.0, self.speed_v_s.max(0.0));
        } else if self.pointer_v >= self.range_v {
            (self.pointer_v, self.speed_v_s) = (self.range_v, self.speed_v_s.min(0.0));
        }
    }

    /// Where the pointer stands (V).
    pub fn pointer_v(&self) -> f64 {
        self.pointer_v
    }

    /// Input resistance (ohm).
    pub fn input_ohm(&self) -> f64 {
        self.ohm_per_v * self.range_v
    }

    /// One division of the scale (V): 1, 2 or 5 times a power of ten (IEC 60051-1, from
    /// memory), the smallest with at most 60 of them.
    ///
    /// ```
    /// let needle = sim_core::sense::meter::Needle::new(0.025, 2.5, 20e3);
    /// assert!((needle.division_v() - 0.05).abs() < 1e-12);
    /// ```
    pub fn division_v(&self) -> f64 {
        let least = self.range_v / DIVISIONS_MOST * (1.0 - 1e-9);
        let decade = 10f64.powf(least.log10().floor());
        [1.0, 2.0, 5.0]
            .into_iter()
            .map(|s| s * decade)
            .find(|d| *d >= least)
            .unwrap_or(10.0 * decade)
    }
}

/// A digital meter.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Digital {
    /// Time from reading to reading (s).
    pub period_s: f64,
    /// Time at the end of each period over which the reading is a mean (s).
    pub integrates_s: f64,
    /// Time since the last reading (s).
    since_s: f64,
    /// Integral of the voltage over what has passed of the mean (V s).
    integral_v_s: f64,
    /// The last mean (V).
    mean_v: f64,
}

impl Default for Digital {
    fn default() -> Self {
        Digital {
            period_s: DIGITAL_PERIOD_S,
            integrates_s: DIGITAL_INTEGRATES_S,
            since_s: 0.0,
            integral_v_s: 0.0,
            mean_v: 0.0,
        }
    }
}

impl Digital {
    /// Lets a constant voltage (V) act for a time (s).
    ///
    /// Equation: every `P` seconds the reading becomes the mean of the last `T` seconds. A
    /// sine of amplitude `A` and frequency `f` then reads as a sine of amplitude `A |sin(pi f
    /// T)/(pi f T)|`, folded to the nearest whole multiple of `1/P` away: it is seen at a
    /// frequency it does not have. Source: mean of a sine, and the sampling theorem (Shannon,
    /// Proc. IRE 37, 10, 1949, from memory).
    pub fn feed(&mut self, voltage_v: f64, lasts_s: f64) {
        let opens_s = self.period_s - self.integrates_s;
        let mut left = lasts_s;
        while left > 0.0 {
            let waits = self.since_s < opens_s;
            let until = if waits { opens_s } else { self.period_s };
            let step = left.min(until - self.since_s);
            if !waits {
                self.integral_v_s += voltage_v * step;
            }
            left -= step;
            // What rounding leaves of a span is passed over.
            self.since_s =
                if until - self.since_s - step < 1e-12 { until } else { self.since_s + step };
            if self.since_s >= self.period_s {
                self.mean_v = self.integral_v_s / self.integrates_s;
                (self.since_s, self.integral_v_s) = (0.0, 0.0);
            }
        }
    }

    /// The last mean (V), before it is rounded to what can be shown.
    pub fn mean_v(&self) -> f64 {
        self.mean_v
    }

    /// What one count is worth at a voltage (V): the 2 V range shows 1999 counts of 1 mV.
    pub fn count_v(voltage_v: f64) -> f64 {
        let fits = |(full_v, count_v): &&(f64, f64)| voltage_v.abs() < full_v - 0.5 * count_v;
        let ranges = &DIGITAL_RANGES;
        ranges.iter().find(fits).unwrap_or(&ranges[ranges.len() - 1]).1
    }

    /// What it shows (V).
    pub fn shown_v(&self) -> f64 {
        let count_v = Self::count_v(self.mean_v);
        (self.mean_v / count_v).round() * count_v
    }
}

/// An instrument at the wiper.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Meter {
    /// With a needle.
    Needle(Needle),
    /// With digits.
    Digital(Digital),
}

impl Meter {
    /// Lets a constant voltage at its terminals (V) act for a time (s).
    pub fn feed(&mut self, voltage_v: f64, lasts_s: f64) {
        match self {
            Meter::Needle(needle) => needle.feed(voltage_v, lasts_s),
            Meter::Digital(digital) => digital.feed(voltage_v, lasts_s),
        }
    }

    /// What it shows (V).
    pub fn shown_v(&self) -> f64 {
        match self {
            Meter::Needle(needle) => needle.pointer_v(),
            Meter::Digital(digital) => digital.shown_v(),
        }
    }

    /// Its input resistance (ohm).
    pub fn input_ohm(&self) -> f64 {
        match self {
            Meter::Needle(needle) => needle.input_ohm(),
            Meter::Digital(_) => DIGITAL_OHM,
        }
    }

    /// The finest step that can be read at a voltage (V): half a division, or a count.
    pub fn finest_v(&self, voltage_v: f64) -> f64 {
        match self {
            Meter::Needle(needle) => 0.5 * needle.division_v(),
            Meter::Digital(_) => Digital::count_v(voltage_v),
        }
    }

    /// What a person writes down of a value it shows (V): the nearest step that can be read.
    pub fn read_v(&self, shown_v: f64) -> f64 {
        let step = self.finest_v(shown_v);
        (shown_v / step).round() * step
    }

    /// The largest error it is stated to have at a voltage (V), either way.
    ///
    /// Equation: class times full scale for the needle; share of the reading and counts for
    /// the digits. Source: IEC 60051-1 (from memory) for the class; common practice, no
    /// source, for the digits.
    pub fn stated_error_v(&self, voltage_v: f64) -> f64 {
        match self {
            Meter::Needle(needle) => needle.class_share * needle.range_v,
            Meter::Digital(_) => {
                let (share, counts) = DIGITAL_ERROR;
                share * voltage_v.abs() + counts * Digital::count_v(voltage_v)
            }
        }
    }
}
