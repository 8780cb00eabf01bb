//! Units at the edge: every file key, table column and axis is converted here, once.

use std::f64::consts::PI;

/// Zero of the Celsius scale (K).
pub const ZERO_CELSIUS_K: f64 = 273.15;
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
    /// Seconds squared.
    SquareSecond,
}

impl Unit {
    /// How the unit is written; empty for a bare number.
    pub const fn symbol(self) -> &'static str {
        match self {
            Unit::One => "",
            Unit::Turns => "turns",
            Unit::Percent => "%",
            Unit::Millimetre => "mm",
            Unit::SquareMillimetre => "mm2",
            Unit::Litre => "l",
            Unit::Millilitre => "ml",
            Unit::MillilitrePerBar => "ml/bar",
            Unit::Metre => "m",
            Unit::Celsius => "degC",
            Unit::Kelvin => "K",
            Unit::Bar => "bar",
            Unit::Millibar => "mbar",
            Unit::BarPerMillilitre => "bar/ml",
            Unit::BarPerMilliampere => "bar/mA",
            Unit::Milliampere => "mA",
            Unit::Volt => "V",
            Unit::Millivolt => "mV",
            Unit::Ohm => "ohm",
            Unit::GramPerSecond => "g/s",
            Unit::Newton => "N",
            Unit::NewtonMetre => "N m",
            Unit::Rpm => "rpm",
            Unit::RpmPerKelvin => "rpm/K",
            Unit::KilogramPerHour => "kg/h",
            Unit::MillilitrePerMinute => "ml/min",
            Unit::Degree => "deg",
            Unit::PerSquareDegree => "1/deg2",
            Unit::DegreePerMetre => "deg/m",
            Unit::Kilogram => "kg",
            Unit::KilogramSquareMetre => "kg m2",
            Unit::NewtonSecondPerMetre => "N s/m",
            Unit::MilliamperePerSecond => "mA/s",
            Unit::DegreePerRpm => "deg/rpm",
            Unit::PerRpm => "1/rpm",
            Unit::PerRpmSecond => "1/(rpm s)",
            Unit::PerRpmPerSecond => "s/rpm",
            Unit::Second => "s",
            Unit::SquareSecond => "s2",
        }
    }

    /// SI value of one of this unit.
    const fn size(self) -> f64 {
        match self {
            Unit::Percent => 1e-2,
            Unit::Millimetre | Unit::Millivolt | Unit::GramPerSecond => 1e-3,
            Unit::SquareMillimetre | Unit::Millilitre => 1e-6,
            Unit::MillilitrePerBar => 1e-11,
            Unit::BarPerMillilitre => 1e11,
            Unit::Litre => 1e-3,
            Unit::Bar => 1e5,
            Unit::Millibar => 1e2,
            Unit::BarPerMilliampere => 1e8,
            Unit::Milliampere | Unit::MilliamperePerSecond => 1e-3,
            Unit::PerRpm | Unit::DegreePerRpm | Unit::PerRpmSecond | Unit::PerRpmPerSecond => {
                30.0 / PI
            }
            Unit::Rpm | Unit::RpmPerKelvin => PI / 30.0,
            Unit::KilogramPerHour => 1.0 / 3600.0,
            Unit::MillilitrePerMinute => 1e-6 / 60.0,
            _ => 1.0,
        }
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
