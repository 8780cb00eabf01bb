//! The program's arguments: built from the lists of commands and keys.

use crate::commands::{COMMANDS, GROUPS};
use crate::files::read_text;
use crate::trouble::Trouble;
use crate::words::{parse_turns, plain, turns_typed};
use clap::builder::Str;
use clap::{Arg, ArgAction, ArgMatches, Command};
use serde_json::{Map, Value, json};
use sim_core::conditions::Conditions;
use sim_core::rig::file::{RigFile, parse, range_words};
use sim_core::rig::keys::{KEYS, Key, Place, Setup};
use sim_core::rig::shipped::{SHIPPED, shipped};
use sim_core::units::Unit;
use std::path::Path;

/// Keys of the rig that are flags of every command that runs the engine, too.
const RIG_FLAGS: [&str; 3] = ["spark_deg", "system_pressure_bar", "accessories_bar"];

/// The keys that are flags, in the order of the list.
fn flag_keys() -> impl Iterator<Item = &'static Key> {
    KEYS.iter().filter(|key| key.table().is_none() || RIG_FLAGS.contains(&key.name))
}

fn flag_of(key: &Key) -> String {
    key.name.replace('_', "-")
}

/// The whole program.
pub fn program() -> Command {
    let mut help = String::from("Commands, in the order of the job:\n");
    for (group, about) in GROUPS {
        help += &format!("\n  {about}\n");
        for command in COMMANDS.iter().filter(|command| command.group == *group) {
            help += &format!("    {:<12}{}\n", command.name, command.about);
        }
    }
    help += "\n`quarterturn COMMAND --help` tells the flags of a command, with an example.\n\
             Exit codes: 0 done, 1 a check failed, 2 wrong usage, 3 bad file, 4 outside the model's range, 5 cannot read or write.";
    let mut program = Command::new("quarterturn")
        .version(env!("CARGO_PKG_VERSION"))
        .about("What mechanical continuous injection does when its mixture screw is turned, computed")
        .subcommand_required(true)
        .disable_help_subcommand(true)
        .help_template("{about}\n\nUsage: quarterturn COMMAND [FLAGS]\n\n{after-help}\n")
        .after_help(help);
    for command in COMMANDS {
        let example = format!("Example:\n  {}", command.example);
        let base = Command::new(command.name).about(command.about).after_help(example);
        program = program.subcommand((command.args)(base));
    }
    program
}

/// Where the report goes, and in which form.
pub struct Output {
    /// Form of the report.
    pub format: Format,
    /// Whether files may be replaced.
    pub force: bool,
    /// Whether messages are left out.
    pub quiet: bool,
    /// The chart's place.
    pub chart: Option<String>,
    path: Option<String>,
    color: String,
}

/// Form of a report.
#[derive(Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// For reading.
    Table,
    /// For spreadsheets.
    Csv,
    /// For programs.
    Json,
}

impl Output {
    /// The file the report goes to, if it goes to one.
    pub fn file(&self) -> Option<&Path> {
        self.path.as_deref().filter(|path| *path != "-").map(Path::new)
    }

    /// Whether the report goes to stdout.
    pub fn to_stdout(&self) -> bool {
        self.file().is_none()
    }

    /// Whether to colour, for a stdout that is a terminal or not.
    pub fn coloured(&self, terminal: bool) -> bool {
        match self.color.as_str() {
            "always" => true,
            "never" => false,
            _ => terminal && std::env::var_os("NO_COLOR").is_none_or(|value| value.is_empty()),
        }
    }
}

/// Adds the flags that every command has: form and place of the report.
pub fn with_output(command: Command) -> Command {
    command
        .arg(
            Arg::new("format")
                .long("format")
                .value_name("FORM")
                .value_parser(["table", "csv", "json"])
                .default_value("table")
                .help("form of the report")
                .help_heading("Output"),
        )
        .arg(
            Arg::new("output")
                .short('o')
                .long("output")
                .value_name("FILE")
                .help("write the report to a file; - is stdout")
                .help_heading("Output"),
        )
        .arg(switch("force", "replace files that exist"))
        .arg(switch("quiet", "no messages on stderr but errors"))
        .arg(
            Arg::new("color")
                .long("color")
                .value_name("WHEN")
                .value_parser(["auto", "always", "never"])
                .default_value("auto")
                .help("colour in tables; NO_COLOR is heeded")
                .help_heading("Output"),
        )
}

fn switch(name: &'static str, help: &'static str) -> Arg {
    Arg::new(name).long(name).action(ArgAction::SetTrue).help(help).help_heading("Output")
}

/// Adds `--chart`.
pub fn with_chart(command: Command) -> Command {
    command.arg(
        Arg::new("chart")
            .long("chart")
            .value_name("FILE")
            .help("draw a chart: .svg, .png, or .csv for the data behind it")
            .help_heading("Output"),
    )
}

/// Reads the output flags.
pub fn output(matches: &ArgMatches) -> Result<Output, Trouble> {
    let text = |name: &str| {
        let found = matches.try_get_one::<String>(name).ok().flatten();
        found.cloned()
    };
    let chart = text("chart");
    if let Some(path) = &chart {
        crate::chart::picture::Kind::of_path(path)?;
    }
    let format = match text("format").as_deref() {
        Some("json") => Format::Json,
        Some("csv") => Format::Csv,
        _ => Format::Table,
    };
    Ok(Output {
        format,
        force: matches.get_flag("force"),
        quiet: matches.get_flag("quiet"),
        chart,
        path: text("output"),
        color: text("color").unwrap_or_default(),
    })
}

/// A flag that takes a number of turns.
pub fn turns_arg(name: &'static str, default: &'static str, help: &'static str) -> Arg {
    Arg::new(name)
        .long(name)
        .value_name("TURNS")
        .default_value(default)
        .allow_hyphen_values(true)
        .help(help)
}

/// Reads a flag of turns.
pub fn turns(matches: &ArgMatches, name: &str) -> Result<f64, Trouble> {
    let found = matches.get_one::<String>(name).map_or("", String::as_str);
    parse_turns(found).ok_or_else(|| Trouble::NotANumber {
        flag: format!("--{name}"),
        found: found.into(),
        turns: true,
    })
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
            Place::Choice { words, get, .. } => (words.join("|"), Some(words[get(defaults)].into())),
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

/// A value asked for, not yet checked against its key.
struct Wish {
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
                number.ok_or(Trouble::NotANumber { flag: flag.clone(), found: text.into(), turns })?
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
    let units = ["_kg_h", "_degc", "_percent", "_rpm", "_bar", "_deg", "_mm", "_ma", "_m"];
    let bare = units.iter().find_map(|unit| key.name.strip_suffix(unit)).unwrap_or(key.name);
    bare.replace('_', " ")
}

/// What the flags ask for, read but not yet checked against files and ranges: wrong usage
/// is found before a bad file, and that before a value outside the model.
pub struct Ask {
    rig: String,
    wishes: Vec<Wish>,
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
        Ok(Ask { rig, wishes })
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
            if value_of(wish.key, &setup) == value_of(wish.key, &standard) {
                continue;
            }
            if !["trim", "idle_air"].contains(&wish.key.name) {
                changed.push(wish.words());
            }
            flags += &match wish.flag.as_str() {
                "--set" => format!(" --set {}={}", wish.key.name, wish.typed()),
                flag => format!(" {flag} {}", wish.typed()),
            };
        }
        Ok(Engine { file, setup, flags, changed })
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
    Wish::read(format!("{flag} {}", key.name), key, value.trim()).map(|mut wish| {
        wish.flag = if flag == "--set" { "--set".into() } else { wish.flag };
        wish
    })
}

/// The value of a key as JSON: a number, a word, or `null` for what the rig decides.
fn value_of(key: &Key, setup: &Setup) -> Value {
    match key.place {
        Place::Choice { words, get, .. } => json!(words[get(&setup.conditions)]),
        _ => json!(key.get(setup)),
    }
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
}

impl Engine {
    /// The conditions as JSON, with the rig's name.
    pub fn value(&self) -> Value {
        let mut object = Map::new();
        object.insert("rig".into(), json!(self.file.name));
        for key in flag_keys() {
            object.insert(key.name.into(), value_of(key, &self.setup));
        }
        Value::Object(object)
    }

    /// The conditions in words for a chart or a heading.
    pub fn words(&self) -> String {
        let conditions = &self.setup.conditions;
        let trim = match conditions.trim {
            sim_core::conditions::Trim::On => "trim on",
            sim_core::conditions::Trim::Off => "trim off",
        };
        let idle = match (conditions.throttle > 0.0, conditions.idle_air) {
            (true, _) => "speed held by a brake",
            (_, sim_core::conditions::IdleAir::Held) => "idle air held",
            (_, sim_core::conditions::IdleAir::Fixed) => "idle air fixed",
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
    let looks_like_a_file = name.contains(['/', '\\', '.']) || name == "-";
    if !looks_like_a_file && !Path::new(name).exists() {
        let nearest = SHIPPED
            .iter()
            .map(|(shipped, _)| (strsim::jaro_winkler(shipped, name), *shipped))
            .filter(|(score, _)| *score > 0.7)
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map(|(_, name)| name);
        return Err(Trouble::UnknownRig { name: name.into(), nearest });
    }
    let text = read_text(name)?;
    parse(&text).map_err(|fault| Trouble::RigFile { path: name.into(), fault: Box::new(fault) })
}
