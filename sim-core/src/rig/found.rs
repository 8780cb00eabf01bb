//! A rig as it was found on one car: what a file says of it beside the rig as built.
//!
//! ```
//! use sim_core::rig::{file, shipped::SHIPPED};
//! let text = format!("{}\n[found]\nrest_height_mm = 0.2\n", SHIPPED[0].1);
//! let read = file::parse(&text).unwrap();
//! let found = read.found.unwrap();
//! assert!((found.conditions.rest_height_m - 2e-4).abs() < 1e-12);
//! assert_eq!(found.built, read.rig); // no part was found to be another
//! ```

use super::Rig;
use super::keys::{KEYS, Place, tidy};
use crate::conditions::Conditions;

/// What was found on a car.
#[derive(Clone, Debug, PartialEq)]
pub struct Found {
    /// The rig as it was built; the file's own is as it was found.
    pub built: Rig,
    /// Conditions as found; its screw is 0: the rig stands as it was found.
    pub conditions: Conditions,
    /// How sure it is, if that is known.
    pub covariance: Option<Covariance>,
}

/// Covariance of what was found.
#[derive(Clone, Debug, PartialEq)]
pub struct Covariance {
    /// Names of the parameters.
    pub keys: Vec<String>,
    /// Rows, in the order of the names: in their units, for a factor of its natural logarithm.
    pub rows: Vec<Vec<f64>>,
}

impl Found {
    /// Other conditions with all that was found and is not as usual.
    pub fn over(&self, conditions: Conditions) -> Conditions {
        let (mut usual, mut found) = (Conditions::default(), self.conditions);
        let mut over = conditions;
        for key in KEYS {
            match key.place {
                Place::Condition(at) if *at(&mut found) != *at(&mut usual) => {
                    *at(&mut over) = *at(&mut found);
                }
                Place::Optional(at) if *at(&mut found) != *at(&mut usual) => {
                    *at(&mut over) = *at(&mut found);
                }
                Place::Choice { get, set, .. } if get(&found) != get(&usual) => {
                    set(&mut over, get(&found));
                }
                _ => {}
            }
        }
        over
    }
}

/// The text of what was found.
pub(super) fn to_toml(rig: &Rig, found: &Found) -> String {
    let mut text = String::from("\n[found]\n");
    let (mut usual, mut conditions) = (Conditions::default(), found.conditions);
    let (mut built, mut parts) = (*found.built.parts(), *rig.parts());
    for key in KEYS {
        let edge = |si: f64| tidy(key.unit.from_si(si)).to_string();
        let value = match key.place {
            Place::Part { at, .. } if *at(&mut built) != *at(&mut parts) => edge(*at(&mut parts)),
            Place::PartRow { get, .. } if get(&built) != get(&parts) => {
                let row: Vec<String> = get(&parts).iter().map(|si| edge(*si)).collect();
                format!("[{}]", row.join(", "))
            }
            Place::Condition(at) if *at(&mut conditions) != *at(&mut usual) => {
                edge(*at(&mut conditions))
            }
            Place::Optional(at) if *at(&mut conditions) != *at(&mut usual) => {
                match *at(&mut conditions) {
                    Some(si) => edge(si),
                    None => continue,
                }
            }
            Place::Choice { words, get, .. } if get(&conditions) != get(&usual) => {
                format!("\"{}\"", words[get(&conditions)])
            }
            _ => continue,
        };
        text += &format!("# {} ({})\n{} = {value}\n", key.meaning, key.range_words(), key.name);
    }
    let Some(covariance) = &found.covariance else { return text };
    let names: Vec<String> = covariance.keys.iter().map(|key| format!("\"{key}\"")).collect();
    text += "\n[covariance]\n# in the units of the keys; of a factor its natural logarithm\n";
    text += &format!("keys = [{}]\nmatrix = [\n", names.join(", "));
    for row in &covariance.rows {
        let row: Vec<String> = row.iter().map(|value| format!("{value:.7e}")).collect();
        text += &format!("  [{}],\n", row.join(", "));
    }
    text + "]\n"
}
