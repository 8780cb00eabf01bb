//! Readings as they are given: keys and texts in, a checked sheet out, or why not.
//!
//! ```
//! use sim_core::conditions::Conditions;
//! use sim_core::diagnose::given::{Fault, Sheet};
//! let rig = sim_core::rig::shipped::shipped("six").unwrap().rig;
//! let mut sheet = Sheet::new(&rig, &Conditions::default());
//! sheet.row(&[("duty_percent", "85"), ("co_percent", "0.57")]).unwrap();
//! assert_eq!(sheet.readings().len(), 2);
//! assert!(matches!(sheet.row(&[("potentiometer_v", "671")]), Err(Fault::Unit { .. })));
//! ```

mod contradictions;
mod fault;
mod units;

pub use fault::{Fault, LEAST_READINGS};

use super::car::Asked;
use super::posterior::Read;
use super::sheet::{EARS, Kind, METERED, Slot, Taken};
use crate::conditions::Conditions;
use crate::point::READINGS;
use crate::rig::Rig;
use crate::rig::keys::{Key, Setup};
use crate::units::{Unit, ZERO_CELSIUS_K};
use crate::wording::{did_you_mean, nearest_word, plain};
use fault::{not_a_number, not_a_word, outside};

/// Columns that are no readings: how the engine was, what it was read with, words.
pub static BESIDE: &[(&str, &str)] = &[
    ("plugged", "lambda sensor plugged in: yes or no; yes unless given"),
    ("screw_turns", "screw, counted from where it was found, in is plus; 0 unless given"),
    ("altitude_m", "height above the sea"),
    ("ambient_degc", "outside air"),
    ("coolant_degc", "coolant; a warm engine"),
    ("fuel_degc", "fuel"),
    ("meter_ohm", "resistance of the voltmeter, taken out of the potentiometer's reading"),
    ("meter_class_percent", "its class, of the full scale"),
    ("meter_range_v", "its full scale"),
    ("ear", "smooth, rough, hunting or dies"),
    ("note", "anything; not read"),
];

/// Units that are turned into the reading's own: header ending, the reading's ending, factor,
/// offset.
const CONVERTED: [(&str, &str, f64, f64); 7] = [
    ("_mv", "_v", 1e-3, 0.0),
    ("_kpa", "_bar", 0.01, 0.0),
    ("_mbar", "_bar", 1e-3, 0.0),
    ("_psi", "_bar", 0.068_947_6, 0.0),
    ("_degf", "_degc", 5.0 / 9.0, -160.0 / 9.0),
    ("_kohm", "_ohm", 1e3, 0.0),
    ("_a", "_ma", 1e3, 0.0),
];
/// Speeds that count as the idle and as the fast idle (rpm): what is between is neither.
const SPEEDS: [(f64, f64); 2] = [(300.0, 1300.0), (2200.0, 2800.0)];
/// A reading as given.
#[derive(Clone, Copy)]
pub struct Given {
    /// Its place.
    pub slot: Slot,
    /// Its value, in its unit.
    pub value: f64,
    /// What its meter may be off, where it is told.
    pub class: Option<f64>,
}

/// Readings of one car.
pub struct Sheet {
    rig: Rig,
    lines: usize,
    asked: Asked,
    beside: Vec<(&'static str, f64)>,
    given: Vec<Given>,
    ears: Vec<(Taken, &'static str)>,
}

impl Sheet {
    /// An empty sheet for a rig under conditions.
    pub fn new(rig: &Rig, conditions: &Conditions) -> Sheet {
        Sheet {
            rig: *rig,
            lines: rig.parts().slits.width_m.len(),
            asked: Asked { conditions: *conditions, ..Asked::default() },
            beside: Vec::new(),
            given: Vec::new(),
            ears: Vec::new(),
        }
    }

    /// The readings.
    pub fn readings(&self) -> &[Given] {
        &self.given
    }

    /// What was heard at the idle, the screw where it was found.
    pub fn ear(&self) -> Option<&'static str> {
        let found = |taken: &Taken| !taken.fast && taken.screw_turns == 0.0;
        let heard = |plugged: bool| {
            let here = |(taken, _): &&(Taken, _)| found(taken) && taken.plugged == plugged;
            self.ears.iter().find(here).map(|(_, word)| *word)
        };
        heard(true).or_else(|| heard(false))
    }

    /// What was heard in each state.
    pub fn ears(&self) -> &[(Taken, &'static str)] {
        &self.ears
    }

    /// Weather, height and meter.
    pub fn asked(&self) -> &Asked {
        &self.asked
    }

    /// The slots in order.
    pub fn slots(&self) -> Vec<Slot> {
        self.given.iter().map(|given| given.slot).collect()
    }

    /// What each meter may be off.
    pub fn classes(&self) -> Vec<Option<f64>> {
        self.given.iter().map(|given| given.class).collect()
    }

    /// The readings on the scales of their kinds, by the order of [`Sheet::slots`].
    pub fn reads(&self) -> Vec<Read> {
        let read = |(slot, given): (usize, &Given)| Read {
            slot,
            value: given.slot.kind.scaled(given.value),
        };
        self.given.iter().enumerate().map(read).collect()
    }

    /// Takes readings of one state: names and texts; empty texts are not read.
    pub fn row(&mut self, cells: &[(&str, &str)]) -> Result<(), Fault> {
        let mut taken = Taken::IDLE;
        let (mut class, mut range, mut heard) = (None, None, None);
        let mut readings = Vec::new();
        for (name, text) in cells.iter().filter(|(_, text)| !text.trim().is_empty()) {
            let (name, text) = (name.trim().replace('-', "_").to_lowercase(), text.trim());
            match name.as_str() {
                "note" | "notes" => {}
                "ear" => {
                    let word = EARS.iter().find(|word| **word == text.to_lowercase());
                    let words = || EARS.join(", ");
                    let word = *word.ok_or_else(|| not_a_word(&name, text, words()))?;
                    heard = Some(word);
                }
                "plugged" => {
                    taken.plugged = match text.to_lowercase().as_str() {
                        "yes" | "y" | "1" | "true" | "on" | "plugged" => true,
                        "no" | "n" | "0" | "false" | "off" | "unplugged" => false,
                        _ => return Err(not_a_word(&name, text, "yes, no".into())),
                    }
                }
                "screw_turns" | "screw" => {
                    taken.screw_turns = match crate::run::procedure::parse_turns(text) {
                        Some(turns) if turns.is_finite() => turns,
                        _ => return Err(not_a_number(&name, text)),
                    };
                    if taken.screw_turns.abs() > 1.0 {
                        return Err(outside(&name, taken.screw_turns, "-1 to 1 turns"));
                    }
                }
                "meter_class_percent" => class = Some(number(&name, text)?),
                "meter_range_v" => range = Some(number(&name, text)?),
                "meter_ohm" => {
                    let ohm = number(&name, text)?;
                    if ohm <= 0.0 {
                        return Err(outside(&name, ohm, "above 0 ohm"));
                    }
                    units::voltmeter(&name, ohm)?;
                    self.beside("meter_ohm", ohm)?;
                    self.asked.meter_ohm = ohm;
                }
                _ => match condition(&name) {
                    Some((key, factor, offset)) => {
                        let value = factor * number(&name, text)? + offset;
                        self.condition(key, &name, value)?;
                    }
                    None => readings.push((name, text)),
                },
            }
        }
        let full_scale = |class: Option<f64>, range: Option<f64>| Some(0.01 * class? * range?);
        let class_v = full_scale(class, range);
        let mut found = Vec::new();
        for (name, text) in readings {
            let (kind, line, factor) = self.kind(&name)?;
            let value = factor * number(&name, text)?;
            units::plausible(&name, kind, value)?;
            if kind.name() == "speed_rpm" {
                taken.fast = fast(&name, value)?;
            }
            let class = class_v.filter(|_| kind.unit() == Unit::Volt);
            found.push((kind, line, value, class));
        }
        if let Some(word) = heard {
            match self.ears.iter().find(|(known, _)| *known == taken) {
                Some((_, before)) if *before != word => {
                    return Err(Fault::Contradiction(format!("by ear {before} and {word}")));
                }
                Some(_) => {}
                None => self.ears.push((taken, word)),
            }
        }
        for (kind, line, value, class) in found {
            let when = match kind.is_running() {
                true => super::sheet::When::Running(taken),
                false => super::sheet::When::Standing,
            };
            let slot = Slot { kind, when, line };
            if self.given.iter().any(|given| given.slot.is(&slot)) {
                return Err(Fault::Twice { name: slot.name(), when: slot.words() });
            }
            self.given.push(Given { slot, value, class });
        }
        Ok(())
    }

    /// Checks the sheet as a whole.
    pub fn whole(&self) -> Result<(), Fault> {
        self.contradictions()?;
        if self.given.len() < LEAST_READINGS {
            return Err(Fault::TooFew { found: self.given.len() });
        }
        Ok(())
    }

    fn kind(&self, name: &str) -> Result<(Kind, Option<usize>, f64), Fault> {
        let own = |name: &str| Kind::find(name).map(|(kind, line)| (kind, line, 1.0));
        let converted = || {
            CONVERTED.iter().find_map(|(ending, into, factor, _)| {
                let (kind, line) = Kind::find(&format!("{}{into}", name.strip_suffix(ending)?))?;
                Some((kind, line, *factor))
            })
        };
        let Some((kind, line, factor)) = own(name).or_else(converted) else {
            let names = METERED.iter().map(|metered| metered.name);
            let names = names.chain(READINGS.iter().map(|reading| reading.name));
            let names = names.chain(BESIDE.iter().map(|(name, _)| *name));
            let hint = did_you_mean(nearest_word(name, names)).to_string();
            return Err(Fault::Unknown { name: name.into(), hint });
        };
        if line.is_some_and(|line| line >= self.lines) {
            let has = format!("{} lines", self.lines);
            return Err(Fault::NotFitted { name: name.into(), has });
        }
        Ok((kind, line, factor))
    }

    /// A value beside the readings holds for the whole car.
    fn beside(&mut self, name: &'static str, value: f64) -> Result<(), Fault> {
        match self.beside.iter().find(|(known, _)| *known == name) {
            Some((_, before)) if *before != value => Err(Fault::Contradiction(format!(
                "{name} {} and {}: one car, one sheet",
                plain(*before),
                plain(value)
            ))),
            Some(_) => Ok(()),
            None => {
                self.beside.push((name, value));
                Ok(())
            }
        }
    }

    fn condition(&mut self, key: &'static Key, name: &str, value: f64) -> Result<(), Fault> {
        if !key.allows(value) {
            if let Some(fault) = units::temperature(name, key, value) {
                return Err(fault);
            }
            return Err(outside(name, value, &key.range_words()));
        }
        self.beside(key.name, value)?;
        let mut setup = Setup { rig: self.rig, conditions: self.asked.conditions };
        let set = key.set(&mut setup, value);
        set.map_err(|_| outside(name, value, &key.range_words()))?;
        self.asked.conditions = setup.conditions;
        Ok(())
    }
}

fn fast(name: &str, rpm: f64) -> Result<bool, Fault> {
    let place = SPEEDS.iter().position(|(low, high)| (*low..=*high).contains(&rpm));
    match place {
        Some(place) => Ok(place == 1),
        None => {
            let words = "what is worked out: the idle (300 to 1300 rpm) and the fast idle (2200 to 2800 rpm, no load)";
            Err(outside(name, rpm, words))
        }
    }
}

fn number(name: &str, text: &str) -> Result<f64, Fault> {
    let value: Option<f64> = text.parse().ok();
    value.filter(|value| value.is_finite()).ok_or_else(|| not_a_number(name, text))
}

/// The key of a condition beside the readings, with how its unit is turned into the key's.
fn condition(name: &str) -> Option<(&'static Key, f64, f64)> {
    const KEYS: [&str; 4] = ["altitude_m", "ambient_degc", "coolant_degc", "fuel_degc"];
    let own = KEYS.contains(&name).then(|| Key::find(name)).flatten();
    if let Some(key) = own {
        return Some((key, 1.0, 0.0));
    }
    CONVERTED.iter().find_map(|(ending, into, factor, offset)| {
        let known = format!("{}{into}", name.strip_suffix(ending)?);
        KEYS.contains(&known.as_str())
            .then(|| Key::find(&known))
            .flatten()
            .map(|key| (key, *factor, *offset))
    })
}

/// Coolant below which the engine is not warm and its idle is not what is worked out (degC).
pub const WARM_DEGC: f64 = 60.0;

impl Sheet {
    /// Whether the engine was warm.
    pub fn is_warm(&self) -> bool {
        self.asked.conditions.coolant_k - ZERO_CELSIUS_K >= WARM_DEGC
    }
}
