//! The flags of the conditions, made from the list of keys.

use super::rigs::RIG;
use crate::failures::modes;
use crate::options::{CommandOption, Text};
use crate::text::plain;
use clap::builder::Str;
use clap::{Arg, Command};
use serde_json::{Value, json};
use sim_core::conditions::Conditions;
use sim_core::rig::file::range_words;
use sim_core::rig::keys::{KEYS, Key, Place, Setup};
use sim_core::units::Unit;

/// The option that lets sensors fail.
static FAIL: Text =
    Text { repeated: true, ..Text::new("fail", "SENSOR=MODE", "let a sensor fail") };

/// The option that gives any key another value.
pub static SET: Text = Text {
    repeated: true,
    ..Text::new(
        "set",
        "KEY=VALUE",
        "give any key of `quarterturn rig keys` another value, parts of the rig included",
    )
};

/// Keys of the rig that are flags of every command that runs the engine, too.
const RIG_FLAGS: [&str; 3] = ["spark_deg", "system_pressure_bar", "accessories_bar"];

/// The keys that are flags, in the order of the list.
pub fn flag_keys() -> impl Iterator<Item = &'static Key> {
    KEYS.iter().filter(|key| key.table().is_none() || RIG_FLAGS.contains(&key.name))
}

/// The flag of a key, without its dashes.
pub fn flag_of(key: &Key) -> String {
    key.name.replace('_', "-")
}

/// Adds the conditions: `--rig`, a flag for each key that is one, `--fail` and `--set`.
pub fn with_conditions(command: Command, defaults: &Conditions) -> Command {
    let keys = flag_keys().map(|key| key_arg(key, defaults));
    // A flag behind the name of a rig or sensor must not be taken for it.
    let named = |option: &dyn CommandOption| option.arg().allow_hyphen_values(false);
    let args = [named(&RIG)]
        .into_iter()
        .chain(keys)
        .chain([named(&FAIL).help(format!("{}: {}", FAIL.meaning, modes())), SET.arg()]);
    command.args(args.map(|arg| arg.help_heading("Conditions").hide_short_help(true)))
}

/// The flag of a key.
fn key_arg(key: &'static Key, defaults: &Conditions) -> Arg {
    let (value, default) = match key.place {
        Place::Choice { words, get, .. } => (words.join("|"), Some(words[get(defaults)].into())),
        Place::Condition(at) => {
            let mut defaults = *defaults;
            (unit_name(key), Some(plain(key.unit.from_si(*at(&mut defaults)))))
        }
        _ => (unit_name(key), None),
    };
    let default = default.map_or("the rig's".to_string(), |default| format!("default {default}"));
    let range = match key.place {
        Place::Choice { .. } => String::new(),
        _ => format!(", {}", range_words(key)),
    };
    let aim = match key.name {
        "screw" => "; or aim, aim-1/32: from where the duty is 50 %",
        _ => "",
    };
    Arg::new(key.name)
        .long(Str::from(flag_of(key)))
        .value_name(Str::from(value))
        .allow_hyphen_values(true)
        .help(format!("{} [{default}{range}{aim}]", key.meaning))
}

fn unit_name(key: &Key) -> String {
    match key.unit {
        Unit::One => "NUMBER".into(),
        unit => unit.symbol().to_uppercase().replace(['/', ' '], "_"),
    }
}

/// The value of a key as JSON: a number, a word, or `null` for what the rig decides.
pub fn value_of(key: &Key, setup: &Setup) -> Value {
    match key.place {
        Place::Choice { words, get, .. } => json!(words[get(&setup.conditions)]),
        _ => json!(key.get(setup)),
    }
}
