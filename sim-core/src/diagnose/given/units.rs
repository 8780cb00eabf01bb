//! Values that were given in another unit, it seems.
//!
//! A value is suspected where no car shows it, sound or faulty
//! ([`crate::diagnose::sheet::Metered::shows`]), or where its meter would have shown nothing (it is
//! less than one of the last digit), while in another unit some car shows it. Nothing is nothing in
//! every unit: 0 is not suspected.

use super::fault::{Fault, outside};
use crate::diagnose::sheet::Kind;
use crate::rig::keys::Key;
use crate::units::{Unit, ZERO_CELSIUS_K};
use crate::wording::plain;

/// What some readings are on most cars: of two units that a value may be in, the one that gives
/// this is meant.
const USUAL: [(&str, (f64, f64)); 3] =
    [("system_bar", (2.0, 8.0)), ("lower_chamber_bar", (2.0, 8.0)), ("vacuum_bar", (0.4, 0.8))];

/// What is given in ppm elsewhere.
const GASES: [&str; 3] = ["co_percent", "co2_percent", "o2_percent"];

/// Other units that a reading may be taken in, with what turns one into the reading's own; the
/// likelier first.
fn others(unit: Unit, name: &str) -> &'static [(&'static str, f64)] {
    match unit {
        Unit::Volt => &[("mV", 1e-3)],
        Unit::Bar if name == "vacuum_bar" => &[
            ("kPa", 0.01),
            ("mbar", 1e-3),
            ("inHg", 0.033_863_9),
            ("MPa", 10.0),
            ("a gauge that counts below outside air as minus", -1.0),
        ],
        Unit::Bar => &[("kPa", 0.01), ("psi", 0.068_947_6), ("mbar", 1e-3), ("MPa", 10.0)],
        Unit::Milliampere => &[("A", 1e3), ("microampere", 1e-3)],
        Unit::Percent if GASES.contains(&name) => &[("a share of 1", 100.0), ("ppm", 1e-4)],
        Unit::Percent => &[("a share of 1", 100.0)],
        Unit::Rpm => &[("thousands of rpm", 1e3), ("revolutions a second", 60.0)],
        Unit::Second => &[("ms", 1e-3)],
        Unit::Millilitre => &[("litres", 1e3)],
        Unit::MillilitrePerMinute => &[("litres a minute", 1e3)],
        Unit::Turns => &[("degrees", 1.0 / 360.0)],
        Unit::One if name == "hc_ppm" => &[("percent", 1e4)],
        Unit::One if name == "lambda" => &[("an air-fuel ratio", 1.0 / 14.7)],
        _ => &[],
    }
}

/// Voltmeters have no less resistance (ohm): common practice, no source.
const VOLTMETER_LEAST_OHM: f64 = 1000.0;

/// A voltmeter's resistance that was given in kohm or Mohm.
pub(super) fn voltmeter(name: &str, ohm: f64) -> Result<(), Fault> {
    if ohm >= VOLTMETER_LEAST_OHM {
        return Ok(());
    }
    let (unit, factor) = if ohm <= 20.0 { ("Mohm", 1e6) } else { ("kohm", 1e3) };
    Err(Fault::Unit {
        name: name.into(),
        value: plain(ohm),
        unit: "ohm",
        shows: format!("{} ohm and more", plain(VOLTMETER_LEAST_OHM)),
        meant: format!("{unit} ({} ohm)", plain(factor * ohm)),
    })
}

/// A value that no car shows is refused, with the unit it may have been read in.
pub(super) fn plausible(name: &str, kind: Kind, value: f64) -> Result<(), Fault> {
    let Kind::Metered(metered) = kind else { return Ok(()) };
    let lies = |value: f64, (low, high): (f64, f64)| (low..=high).contains(&value);
    let last_digit = 10f64.powi(-(metered.decimals as i32));
    let seen = value.abs() >= last_digit;
    if value == 0.0 || (seen && lies(value, metered.shows)) {
        return Ok(());
    }
    let within = |range: (f64, f64)| {
        let other = |(_, factor): &&(&str, f64)| lies(factor * value, range);
        others(metered.unit, metered.name).iter().find(other)
    };
    let symbol = match metered.name {
        "hc_ppm" => "ppm",
        "lambda" => "lambda",
        _ => metered.unit.symbol(),
    };
    let usual = USUAL.iter().find(|(name, _)| *name == metered.name).map(|(_, range)| *range);
    if let Some((unit, factor)) = usual.and_then(within).or_else(|| within(metered.shows)) {
        let (low, high) = metered.shows;
        let own = plain((1e3 * factor * value).round() * 1e-3);
        let shows = match seen {
            true => format!("{} to {} {symbol}", plain(low), plain(high)),
            false => format!("whole steps of {}; 0 if it showed nothing", plain(last_digit)),
        };
        return Err(Fault::Unit {
            name: name.into(),
            value: plain(value),
            unit: symbol,
            shows,
            meant: format!("{unit} ({own} {symbol})"),
        });
    }
    if lies(value, metered.plausible) {
        // Odd, but in no unit less so.
        return Ok(());
    }
    let (low, high) = metered.plausible;
    Err(outside(name, value, &format!("{low} to {high} {symbol}")))
}

/// A temperature that its key does not allow, and that another scale would.
pub(super) fn temperature(name: &str, key: &Key, value: f64) -> Option<Fault> {
    let others = [("degF", (value - 32.0) / 1.8), ("K", value - ZERO_CELSIUS_K)];
    let meant = others.iter().find(|(_, celsius)| key.allows(*celsius));
    let (unit, celsius) = meant.filter(|_| key.unit == Unit::Celsius)?;
    Some(Fault::Unit {
        name: name.into(),
        value: plain(value),
        unit: "degC",
        shows: key.range_words(),
        meant: format!("{unit} ({celsius:.0} degC)"),
    })
}
