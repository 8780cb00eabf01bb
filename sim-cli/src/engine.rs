//! The engine a command runs: flags from the list of keys, read, then loaded and checked.

use crate::failures::{self, Failure};
use crate::files::{names_a_file, read_text};
use crate::trouble::Trouble;
use crate::words::{plain, turns_typed};
use clap::builder::Str;
use clap::{Arg, ArgAction, ArgMatches, Command};
use serde_json::{Map, Value, json};
use sim_core::conditions::{Conditions, IdleAir, Trim};
use sim_core::point::Point;
use sim_core::rig::file::{RigFile, parse, range_words};
use sim_core::rig::keys::{KEYS, Key, Place, Setup, nearest_word};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::run::procedure::parse_turns;
use sim_core::sense::faults::ThrottleSwitch;
use sim_core::steady::Stand;
use sim_core::units::Unit;

/// Keys of the rig that are flags of every command that runs the engine, too.
const RIG_FLAGS: [&str; 3] = ["spark_deg", "system_pressure_bar", "accessories_bar"];

/// The keys that are flags, in the order of the list.
fn flag_keys() -> impl Iterator<Item = &'static Key> {
    KEYS.iter().filter(|key| key.table().is_none() || RIG_FLAGS.contains(&key.name))
}

fn flag_of(key: &Key) -> String {
    key.name.replace('_', "-")
}

/// Adds the conditions: a flag for each key that is one, `--rig` and `--set`.
pub fn with_conditions(mut command: Command, defaults: &Conditions) -> Command {
    const HEADING: &str = "Conditions";
    command = command.arg(
        Arg::new("rig")
            .long("rig")
            .value_name("NAME|FILE")
            .default_value("six")
            .help("a shipped rig or a rig file")
            .help_heading(HEADING),
    );
    for key in flag_keys() {
        let (name, default) = match key.place {
            Place::Choice { words, get, .. } => {
                (words.join("|"), Some(words[get(defaults)].into()))
            }
            Place::Condition(at) => {
                let mut defaults = *defaults;
                let value = key.unit.from_si(*at(&mut defaults));
                (unit_name(key), Some(plain(value)))
            }
            _ => (unit_name(key), None),
        };
        let default = default.map_or("the rig's".to_string(), |d| format!("default {d}"));
        let range = match key.place {
            Place::Choice { .. } => String::new(),
            _ => format!(", {}", range_words(key)),
        };
        command = command.arg(
            Arg::new(key.name)
                .long(Str::from(flag_of(key)))
                .value_name(Str::from(name))
                .allow_hyphen_values(true)
                .help(format!("{} [{default}{range}]", key.meaning))
                .help_heading(HEADING),
        );
    }
    let command = command.arg(
        Arg::new("fail")
            .long("fail")
            .value_name("SENSOR=MODE")
            .action(ArgAction::Append)
            .help(format!("let a sensor fail: {}", failures::modes()))
            .help_heading(HEADING),
    );
    command.arg(
        Arg::new("set")
            .long("set")
            .value_name("KEY=VALUE")
            .action(ArgAction::Append)
            .allow_hyphen_values(true)
            .help("give any key of `quarterturn rig keys` another value, parts of the rig included")
            .help_heading(HEADING),
    )
}

fn unit_name(key: &Key) -> String {
    match key.unit {
        Unit::One => "NUMBER".into(),
        unit => unit.symbol().to_uppercase().replace(['/', ' '], "_"),
    }
}

/// Reads the `--change` flags.
pub fn changes(matches: &ArgMatches) -> Result<Vec<Change>, Trouble> {
    let pairs = matches.get_many::<String>("change").into_iter().flatten();
    pairs
        .map(|pair| match pair.split_once('=') {
            Some((name, rig)) if name.trim() == "rig" => Ok(Change::Rig(rig.trim().into())),
            _ => pair_wish("--change", pair).map(Change::Key),
        })
        .collect()
}

/// What `--change` asks for.
pub enum Change {
    /// Another value of a key.
    Key(Wish),
    /// Another rig.
    Rig(String),
}

impl Change {
    /// Applies the change to a setup.
    pub fn apply(&self, setup: &mut Setup) -> Result<(), Trouble> {
        match self {
            Change::Key(wish) => wish.apply(setup),
            Change::Rig(name) => {
                setup.rig = load_rig(name)?.rig;
                Ok(())
            }
        }
    }

    /// As it is typed canonically.
    pub fn typed(&self) -> String {
        match self {
            Change::Key(wish) => format!("{}={}", wish.key.name, wish.typed()),
            Change::Rig(name) if shipped(name).is_some() => format!("rig={name}"),
            Change::Rig(_) => "rig=<from a file>".into(),
        }
    }

    /// In words: "screw -1/16 turns".
    pub fn words(&self) -> String {
        match self {
            Change::Key(wish) => wish.words(),
            Change::Rig(name) => format!("rig {name}"),
        }
    }

    /// Whether it names a file, which is looked at before any range.
    pub fn is_rig(&self) -> bool {
        matches!(self, Change::Rig(_))
    }
}

/// A value asked for, not yet checked against its key.
pub struct Wish {
    flag: String,
    key: &'static Key,
    text: String,
    number: f64,
}

impl Wish {
    /// Reads a value; only what cannot be a value at all is refused here.
    fn read(flag: String, key: &'static Key, text: &str) -> Result<Wish, Trouble> {
        let number = match key.place {
            Place::Choice { words, .. } if words.contains(&text) => 0.0,
            Place::Choice { words, .. } => {
                return Err(Trouble::NotAWord { flag, found: text.into(), words });
            }
            Place::PartRow { .. } => return Err(Trouble::RowKey { key: key.name }),
            _ => {
                let turns = key.unit == Unit::Turns;
                let number = if turns { parse_turns(text) } else { text.trim().parse().ok() };
                let (flag, found) = (flag.clone(), text.into());
                number.ok_or(Trouble::NotANumber { flag, found, key: Some(key) })?
            }
        };
        Ok(Wish { flag, key, text: text.into(), number })
    }

    fn apply(&self, setup: &mut Setup) -> Result<(), Trouble> {
        let done = match self.key.place {
            Place::Choice { .. } => self.key.choose(setup, &self.text),
            _ => self.key.set(setup, self.number),
        };
        done.map_err(|fault| Trouble::of_key(&self.flag, self.key, &self.text, fault))
    }

    /// In words: "altitude 1500 m".
    fn words(&self) -> String {
        let text = format!("{} {} {}", key_words(self.key), self.typed(), self.key.unit.symbol());
        text.trim_end().to_string()
    }

    /// As it is typed canonically.
    fn typed(&self) -> String {
        match self.key.place {
            Place::Choice { .. } => self.text.clone(),
            _ if self.key.unit == Unit::Turns => turns_typed(self.number),
            _ => plain(self.number),
        }
    }
}

/// The words of a key's name, without its unit.
fn key_words(key: &Key) -> String {
    let units = [
        "_ml_min", "_bar_ml", "_ml_bar", "_ml", "_mm2", "_kg_h", "_degc", "_percent", "_rpm",
        "_bar", "_deg", "_mm", "_ma", "_g_s", "_m",
    ];
    let bare = units.iter().find_map(|unit| key.name.strip_suffix(unit)).unwrap_or(key.name);
    bare.replace('_', " ")
}

/// What the flags ask for, read but not yet checked against files and ranges: wrong usage
/// is found before a bad file, and that before a value outside the model.
pub struct Ask {
    rig: String,
    wishes: Vec<Wish>,
    failures: Vec<Failure>,
    turns_the_screw: bool,
}

impl Ask {
    /// Reads the conditions' flags.
    pub fn read(matches: &ArgMatches) -> Result<Ask, Trouble> {
        let rig = matches.get_one::<String>("rig").cloned().unwrap_or_default();
        let mut wishes = Vec::new();
        for key in flag_keys() {
            if let Some(text) = matches.get_one::<String>(key.name) {
                wishes.push(Wish::read(format!("--{}", flag_of(key)), key, text)?);
            }
        }
        for pair in matches.get_many::<String>("set").into_iter().flatten() {
            wishes.push(pair_wish("--set", pair)?);
        }
        let failures = failures::read(matches)?;
        Ok(Ask { rig, wishes, failures, turns_the_screw: false })
    }

    /// For a command that turns the screw itself: where it stood before does not matter.
    pub fn turning_the_screw(self) -> Ask {
        Ask { turns_the_screw: true, ..self }
    }

    /// Loads the rig and applies the wishes to it and to the conditions' defaults.
    pub fn load(self, defaults: Conditions) -> Result<Engine, Trouble> {
        let file = load_rig(&self.rig)?;
        let mut setup = Setup { rig: file.rig, conditions: defaults };
        for wish in &self.wishes {
            wish.apply(&mut setup)?;
        }
        let shipped = SHIPPED.iter().any(|(name, _)| *name == self.rig);
        let mut flags = String::new();
        match (shipped, self.rig.as_str()) {
            (true, "six") => {}
            (true, name) => flags += &format!(" --rig {name}"),
            (false, _) => flags += &format!(" --rig <{}, from a file>", file.name),
        }
        let mut changed = Vec::new();
        let standard = Setup { rig: file.rig, conditions: defaults };
        for wish in &self.wishes {
            let ignored = self.turns_the_screw && wish.key.name == "screw";
            if ignored || value_of(wish.key, &setup) == value_of(wish.key, &standard) {
                continue;
            }
            if !["trim", "idle_air"].contains(&wish.key.name) {
                changed.push(wish.words());
            }
            flags += &match wish.flag.as_str() {
                flag if flag.starts_with("--set ") => {
                    format!(" --set {}={}", wish.key.name, wish.typed())
                }
                flag => format!(" {flag} {}", wish.typed()),
            };
        }
        for failure in &self.failures {
            failure.apply(&mut setup.conditions)?;
            flags += &format!(" --fail {}", failure.typed);
            changed.push(format!("failed: {}", failure.typed));
        }
        let failed = self.failures.into_iter().map(|failure| failure.typed).collect();
        Ok(Engine { file, setup, flags, changed, failed })
    }
}

fn pair_wish(flag: &str, pair: &str) -> Result<Wish, Trouble> {
    let Some((name, value)) = pair.split_once('=') else {
        return Err(Trouble::NoEquals { flag: flag.into(), found: pair.into() });
    };
    let key = Key::find(name.trim()).ok_or_else(|| Trouble::UnknownKey {
        key: name.trim().into(),
        nearest: Key::nearest(name.trim(), KEYS.iter()).map(|key| key.name),
    })?;
    Wish::read(format!("{flag} {}", key.name), key, value.trim())
}

/// The value of a key as JSON: a number, a word, or `null` for what the rig decides.
fn value_of(key: &Key, setup: &Setup) -> Value {
    match key.place {
        Place::Choice { words, get, .. } => json!(words[get(&setup.conditions)]),
        _ => json!(key.get(setup)),
    }
}

/// A rig's warm idle with the screw where it stands, trim off.
pub fn as_it_stands(file: &RigFile) -> Point {
    Stand::new(&file.rig, &Conditions::default()).point(0.0)
}

/// A rig under conditions, as asked for.
pub struct Engine {
    /// The rig as its file gives it.
    pub file: RigFile,
    /// The rig with what was set, and the conditions.
    pub setup: Setup,
    /// The flags that differ from the defaults, canonically, each with a space before it.
    pub flags: String,
    /// The same in words, but for what [`Engine::words`] says anyway.
    changed: Vec<String>,
    /// Sensors that have failed, as typed.
    failed: Vec<String>,
}

impl Engine {
    /// The conditions as JSON, with the rig's name.
    pub fn value(&self) -> Value {
        let mut object = Map::new();
        object.insert("rig".into(), json!(self.file.name));
        for key in flag_keys() {
            object.insert(key.name.into(), value_of(key, &self.setup));
        }
        object.insert("failed".into(), json!(self.failed));
        Value::Object(object)
    }

    /// The conditions in words for a chart or a heading.
    pub fn words(&self) -> String {
        let conditions = &self.setup.conditions;
        let trim = match conditions.trim {
            Trim::On => "trim on",
            Trim::Off => "trim off",
        };
        let throttle = &self.setup.rig.parts().throttle;
        let released = throttle.held_open_share(conditions.linkage_play_m);
        let open = throttle.effective_m2(released) >= throttle.idle_switch_opens_m2()
            || conditions.faults.throttle_switch == ThrottleSwitch::NoIdle;
        let idle = match (conditions.throttle > 0.0, conditions.idle_air) {
            (true, _) => "speed held by a brake",
            _ if open => "idle switch open, air valve left where it was",
            (_, IdleAir::Held) => "idle air held",
            (_, IdleAir::Fixed) => "idle air fixed",
        };
        let changed: String = self.changed.iter().map(|words| format!("; {words}")).collect();
        format!("Rig {}, invented; warm point, {trim}, {idle}{changed}", self.file.name)
    }
}

/// A shipped rig by its name, or a rig file.
pub fn load_rig(name: &str) -> Result<RigFile, Trouble> {
    if let Some(file) = shipped(name) {
        return Ok(file);
    }
    if !names_a_file(name) {
        let nearest = nearest_word(name, SHIPPED.iter().map(|(shipped, _)| *shipped));
        return Err(Trouble::UnknownRig { name: name.into(), nearest });
    }
    let text = read_text(name)?;
    parse(&text).map_err(|fault| Trouble::RigFile { path: name.into(), fault: Box::new(fault) })
}
