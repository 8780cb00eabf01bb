//! Plain words that stand for keys where a person types one.

use super::{KEYS, Key};
use crate::wording::nearest_word;

/// Words of the workshop, each with the key it stands for. None is the name of a key, so a word
/// never changes what a key means.
pub static PLAIN_WORDS: &[(&str, &str)] = &[
    ("pressure", "system_pressure_bar"),
    ("leak", "leak_kg_h"),
    ("cold", "coolant_degc"),
    ("coolant", "coolant_degc"),
    ("outside", "ambient_degc"),
    ("ambient", "ambient_degc"),
    ("altitude", "altitude_m"),
    ("petrol", "fuel"),
    ("petrol_temperature", "fuel_degc"),
    ("fuel_temperature", "fuel_degc"),
    ("rpm", "speed_rpm"),
    ("speed", "speed_rpm"),
    ("throttle", "throttle_percent"),
    ("housing", "housing_mm"),
    ("stop", "rest_height_mm"),
    ("linkage", "linkage_play_mm"),
    ("worn", "wear_mv"),
    ("spark", "spark_deg"),
    ("misfire", "misfire_percent"),
    ("exhaust_leak", "exhaust_leak_percent"),
    ("current", "actuator_ma"),
    ("actuator", "actuator_ma"),
    ("pump", "pump_percent"),
    ("filter", "filter_bar"),
    ("accumulator", "accumulator_percent"),
    ("opening_pressure", "injector_opening_bar"),
    ("drips", "injector_drips_ml_min"),
    ("friction", "plunger_friction_n"),
    ("battery", "battery_percent"),
    ("stood", "stood_h"),
    ("bonnet", "bonnet_degc"),
];

/// The shortest part of a name that is held against a misspelt word (bytes).
const PART_LEAST: usize = 4;

/// The most keys that are offered for a word that names none.
const OFFERED: usize = 5;

impl Key {
    /// The key that a name or a plain word asks for; hyphens count as underscores.
    ///
    /// ```
    /// use sim_core::rig::keys::Key;
    /// assert_eq!(Key::asked("pressure").unwrap().name, "system_pressure_bar");
    /// assert_eq!(Key::asked("screw").unwrap().name, "screw");
    /// assert!(Key::asked("injector").is_none()); // more than one could be meant
    /// ```
    pub fn asked(name: &str) -> Option<&'static Key> {
        Key::find(name).or_else(|| {
            let word = name.replace('-', "_").to_lowercase();
            let (_, key) = PLAIN_WORDS.iter().find(|(plain, _)| *plain == word)?;
            Key::find(key)
        })
    }

    /// The plain words that stand for it.
    pub fn plain_words(&self) -> impl Iterator<Item = &'static str> {
        PLAIN_WORDS.iter().filter(|(_, key)| *key == self.name).map(|(word, _)| *word)
    }

    /// What may be meant by a word that asks for no key: the nearest key or plain word, or, of
    /// a word that several keys have in their names, those keys, conditions first.
    pub fn meant(name: &str) -> Vec<&'static str> {
        let word = name.replace('-', "_").to_lowercase();
        let has = |key: &&Key| key.name.split('_').any(|part| part == word || plural(part) == word);
        let (conditions, parts): (Vec<&Key>, Vec<&Key>) =
            KEYS.iter().filter(has).partition(|key| key.table().is_none());
        if !conditions.is_empty() || !parts.is_empty() {
            let having = conditions.into_iter().chain(parts);
            return having.map(|key| key.name).take(OFFERED).collect();
        }
        let key = Key::nearest(name, KEYS.iter()).map(|key| key.name);
        let plain = || nearest_word(&word, PLAIN_WORDS.iter().map(|(word, _)| *word));
        if let Some(near) = key.or_else(plain) {
            return vec![near];
        }
        // A misspelt part of a name: the keys that have it.
        let parts = KEYS.iter().flat_map(|key| key.name.split('_'));
        let long = parts.filter(|part| part.len() >= PART_LEAST);
        let part = nearest_word(&word, long).filter(|part| *part != word);
        part.map_or_else(Vec::new, Key::meant)
    }
}

fn plural(part: &str) -> String {
    format!("{part}s")
}
