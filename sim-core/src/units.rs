//! Units at the edge: every file key, table column and axis is converted here, once.
//!
//! ```
//! use sim_core::units::Unit;
//! assert!((Unit::Rpm.from_si(Unit::Rpm.to_si(750.0)) - 750.0).abs() < 1e-9);
//! assert_eq!(Unit::Bar.symbol(), "bar");
//! ```

use std::f64::consts::PI;

/// Zero of the Celsius scale (K).
pub const ZERO_CELSIUS_K: f64 = 273.15;
/// Molar gas constant (J/(mol K)), 2019 SI.
pub const GAS_J_MOL_K: f64 = 8.314_462_618;
/// Standard atmosphere (Pa).
pub const ATMOSPHERE_PA: f64 = 101_325.0;

/// A unit as it is written in file keys and tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unit {
    /// A bare number.
    One,
    /// Turns of the mixture screw, positive clockwise.
    Turns,
    /// Share of a hundred.
    Percent,
    /// Millimetres.
    Millimetre,
    /// Square millimetres.
    SquareMillimetre,
    /// Litres.
    Litre,
    /// Millilitres.
    Millilitre,
    /// Millilitres per bar.
    MillilitrePerBar,
    /// Metres.
    Metre,
    /// Degrees Celsius.
    Celsius,
    /// Kelvin.
    Kelvin,
    /// Bar.
    Bar,
    /// Millibar.
    Millibar,
    /// Kilopascal.
    Kilopascal,
    /// Bar per millilitre.
    BarPerMillilitre,
    /// Bar per milliampere.
    BarPerMilliampere,
    /// Milliamperes.
    Milliampere,
    /// Volts.
    Volt,
    /// Millivolts.
    Millivolt,
    /// Ohms.
    Ohm,
    /// Grams per second.
    GramPerSecond,
    /// Newtons.
    Newton,
    /// Newton metres.
    NewtonMetre,
    /// Revolutions per minute.
    Rpm,
    /// Revolutions per minute for each kelvin.
    RpmPerKelvin,
    /// Kilograms per hour.
    KilogramPerHour,
    /// Millilitres per minute.
    MillilitrePerMinute,
    /// Degrees of crank or throttle angle.
    Degree,
    /// Degrees of crank angle for each revolution per minute.
    DegreePerRpm,
    /// Per degree of crank angle squared.
    PerSquareDegree,
    /// Degrees of crank angle per metre.
    DegreePerMetre,
    /// Kilograms.
    Kilogram,
    /// Kilograms times square metres.
    KilogramSquareMetre,
    /// Newton seconds per metre.
    NewtonSecondPerMetre,
    /// Milliamperes per second.
    MilliamperePerSecond,
    /// Share per revolution per minute.
    PerRpm,
    /// Share per revolution per minute and second.
    PerRpmSecond,
    /// Share per revolution per minute and second of slope.
    PerRpmPerSecond,
    /// Seconds.
    Second,
    /// Hours.
    Hour,
    /// Seconds squared.
    SquareSecond,
}

impl Unit {
    /// How the unit is written, empty for a bare number, and the SI value of one of it.
    const fn symbol_and_size(self) -> (&'static str, f64) {
        match self {
            Unit::One => ("", 1.0),
            Unit::Turns => ("turns", 1.0),
            Unit::Percent => ("%", 1e-2),
            Unit::Millimetre => ("mm", 1e-3),
            Unit::SquareMillimetre => ("mm2", 1e-6),
            Unit::Litre => ("l", 1e-3),
            Unit::Millilitre => ("ml", 1e-6),
            Unit::MillilitrePerBar => ("ml/bar", 1e-11),
            Unit::Metre => ("m", 1.0),
            Unit::Celsius => ("degC", 1.0),
            Unit::Kelvin => ("K", 1.0),
            Unit::Bar => ("bar", 1e5),
            Unit::Millibar => ("mbar", 1e2),
            Unit::Kilopascal => ("kPa", 1e3),
            Unit::BarPerMillilitre => ("bar/ml", 1e11),
            Unit::BarPerMilliampere => ("bar/mA", 1e8),
            Unit::Milliampere => ("mA", 1e-3),
            Unit::Volt => ("V", 1.0),
            Unit::Millivolt => ("mV", 1e-3),
            Unit::Ohm => ("ohm", 1.0),
            Unit::GramPerSecond => ("g/s", 1e-3),
            Unit::Newton => ("N", 1.0),
            Unit::NewtonMetre => ("N m", 1.0),
            Unit::Rpm => ("rpm", PI / 30.0),
            Unit::RpmPerKelvin => ("rpm/K", PI / 30.0),
            Unit::KilogramPerHour => ("kg/h", 1.0 / 3600.0),
            Unit::MillilitrePerMinute => ("ml/min", 1e-6 / 60.0),
            Unit::Degree => ("deg", 1.0),
            Unit::PerSquareDegree => ("1/deg2", 1.0),
            Unit::DegreePerMetre => ("deg/m", 1.0),
            Unit::Kilogram => ("kg", 1.0),
            Unit::KilogramSquareMetre => ("kg m2", 1.0),
            Unit::NewtonSecondPerMetre => ("N s/m", 1.0),
            Unit::MilliamperePerSecond => ("mA/s", 1e-3),
            Unit::DegreePerRpm => ("deg/rpm", 30.0 / PI),
            Unit::PerRpm => ("1/rpm", 30.0 / PI),
            Unit::PerRpmPerSecond => ("s/rpm", 30.0 / PI),
            Unit::PerRpmSecond => ("1/(rpm s)", 30.0 / PI),
            Unit::Second => ("s", 1.0),
            Unit::Hour => ("h", 3600.0),
            Unit::SquareSecond => ("s2", 1.0),
        }
    }

    /// How the unit is written; empty for a bare number.
    pub const fn symbol(self) -> &'static str {
        self.symbol_and_size().0
    }

    const fn size(self) -> f64 {
        self.symbol_and_size().1
    }

    /// From the edge into SI.
    pub fn to_si(self, value: f64) -> f64 {
        match self {
            Unit::Celsius => value + ZERO_CELSIUS_K,
            _ => value * self.size(),
        }
    }

    /// From SI to the edge, the exact inverse of [`Unit::to_si`] up to rounding.
    pub fn from_si(self, value: f64) -> f64 {
        match self {
            Unit::Celsius => value - ZERO_CELSIUS_K,
            _ => value / self.size(),
        }
    }
}
