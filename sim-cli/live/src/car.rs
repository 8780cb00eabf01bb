//! The car as a trainee finds it: a rig, conditions, and what nobody has told.

use serde_json::{Map, Value, json};
use sim_core::conditions::{Conditions, Trim};
use sim_core::noise::Noise;
use sim_core::rig::file::RigFile;
use sim_core::rig::keys::{KEYS, Key, Place, Setup, nearest_word, tidy};
use sim_core::rig::{Parts, Rig};
use sim_core::run::procedure::parse_turns;
use sim_core::sense::faults::SensorFault;
use sim_core::units::ZERO_CELSIUS_K;
use sim_core::wording::did_you_mean;

/// The rig that stands there unless another is given: the only one the bench carries.
const SIX: &str = include_str!("six.json");

/// The item of a seed from which a found car is drawn.
const FOUND_ITEM: u64 = 7;

/// The conditions of a car that has stood overnight in the workshop at 20 degC, with its
/// controller's loop closed once it is warm.
pub fn workshop() -> Conditions {
    let cold_k = 20.0 + ZERO_CELSIUS_K;
    Conditions { trim: Trim::On, coolant_k: cold_k, fuel_k: cold_k, ..Conditions::default() }
}

/// A rig as the bench takes it: its name, and every key of its file with its value.
///
/// The bench reads no TOML: the module of the page is smaller by a sixth for it.
pub fn rig_keys(file: &RigFile) -> Value {
    let mut parts = *file.rig.parts();
    let mut keys = Map::new();
    for key in KEYS {
        let edge = |si: f64| json!(tidy(key.unit.from_si(si)));
        let value = match key.place {
            Place::Part { at, .. } => edge(*at(&mut parts)),
            Place::PartRow { get, .. } => get(&parts).iter().map(|si| edge(*si)).collect(),
            _ => continue,
        };
        keys.insert(key.name.into(), value);
    }
    json!({ "name": file.name, "keys": keys })
}

/// A rig out of [`rig_keys`], or `six` where none is given: its name, and the engine under the
/// conditions of [`workshop`].
pub fn rig_of(given: Option<&Value>) -> Result<(String, Setup), String> {
    let six;
    let given = match given {
        Some(given) => given,
        None => {
            six = serde_json::from_str::<Value>(SIX).unwrap_or_default();
            &six
        }
    };
    let mut parts = Parts::default();
    for key in KEYS.iter().filter(|key| key.table().is_some()) {
        let value = &given["keys"][key.name];
        let si = |value: &Value| {
            let number =
                value.as_f64().ok_or(format!("The rig has no number for `{}`.", key.name))?;
            key.checked(number).map_err(|why| {
                format!("The rig's `{}`: {why}; it takes {}.", key.name, key.range_words())
            })
        };
        match key.place {
            Place::PartRow { least, most, set, .. } => {
                let row = value.as_array().map_or(&[][..], Vec::as_slice);
                if !(least..=most).contains(&row.len()) {
                    return Err(format!(
                        "The rig's `{}` takes {least} to {most} values.",
                        key.name
                    ));
                }
                set(&mut parts, &row.iter().map(si).collect::<Result<Vec<f64>, String>>()?);
            }
            Place::Part { at, .. } => *at(&mut parts) = si(value)?,
            _ => {}
        }
    }
    let rig = Rig::new(parts).map_err(|fault| format!("The rig cannot be: {fault}."))?;
    let name = given["name"].as_str().unwrap_or("of no name");
    Ok((name.into(), Setup { rig, conditions: workshop() }))
}

/// Gives keys their values: numbers in the key's unit, words, turns as `1/16`.
pub fn give(setup: &mut Setup, values: &Map<String, Value>) -> Result<(), String> {
    for (name, value) in values {
        let key = Key::find(name).ok_or_else(|| {
            let near = did_you_mean(nearest_word(name, KEYS.iter().map(|key| key.name)));
            format!("There is no condition `{name}`{near}.")
        })?;
        let given = match value {
            Value::Number(number) => key.set(setup, number.as_f64().unwrap_or(f64::NAN)),
            Value::String(word) => match parse_turns(word) {
                Some(number) => key.set(setup, number),
                None => key.choose(setup, word),
            },
            _ => return Err(format!("`{name}` takes a number or a word.")),
        };
        given.map_err(|why| format!("`{name}`: {why}; it takes {}.", key.range_words()))?;
    }
    Ok(())
}

/// Lets sensors fail: a list of `SENSOR=MODE`.
pub fn fail(setup: &mut Setup, faults: &[Value]) -> Result<(), String> {
    for fault in faults {
        let text = fault.as_str().ok_or("A fault is a text, SENSOR=MODE.")?;
        let fault: SensorFault = text.parse().map_err(|why| format!("A fault: {why}."))?;
        setup.conditions.fail(fault);
    }
    Ok(())
}

/// What the last owner has left: drawn from a seed and told to nobody. Screw, housing and rest
/// height are off by up to 0.4 turn, 0.8 mm and 0.25 mm of plate height; one car in three has
/// a loose hose (1 to 4 kg/h), one in four a linkage without play. Our own.
pub fn misuse(setup: &mut Setup, seed: u64) {
    let mut noise = Noise::new(seed, FOUND_ITEM);
    let off = |noise: &mut Noise, least: f64, most: f64| {
        let size = noise.between(least, most);
        if noise.uniform() < 0.5 { -size } else { size }
    };
    let conditions = &mut setup.conditions;
    conditions.screw_turns += off(&mut noise, 0.06, 0.4);
    conditions.housing_shift_m += 1e-3 * off(&mut noise, 0.2, 0.8);
    conditions.rest_height_m += 1e-3 * noise.between(-0.25, 0.25);
    let (loose, leak_kg_h) = (noise.uniform() < 1.0 / 3.0, noise.between(1.0, 4.0));
    if loose {
        conditions.leak_kg_s += leak_kg_h / 3600.0;
    }
    let (tight, play_mm) = (noise.uniform() < 0.25, noise.between(0.4, 1.6));
    conditions.linkage_play_m = 1e-3 * if tight { -0.3 } else { play_mm };
}
