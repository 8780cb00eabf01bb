//! Rig files: TOML text to a checked rig and back, with the keys' list as the only schema.

use super::keys::{KEYS, Key, Place, nearest_word, tidy};
use super::{Parts, Rig, RigFault};
use std::ops::Range;
use toml::de::{DeTable, DeValue};

/// A rig with what its file says of it.
#[derive(Clone, Debug, PartialEq)]
pub struct RigFile {
    /// Its name.
    pub name: String,
    /// What it is, in a sentence.
    pub about: String,
    /// The engine.
    pub rig: Rig,
}

/// Where in a text something stands, counted from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spot {
    /// Line.
    pub line: usize,
    /// Column, in characters.
    pub column: usize,
}

/// What is wrong with a rig file, and where.
#[derive(Clone, Debug, PartialEq)]
pub struct FileFault {
    /// Where; `None` if it is missing or concerns the whole.
    pub spot: Option<Spot>,
    /// What.
    pub kind: FaultKind,
}

/// What is wrong with a rig file.
#[derive(Clone, Debug, PartialEq)]
pub enum FaultKind {
    /// Nothing but white space.
    Empty,
    /// It starts with a byte-order mark.
    ByteOrderMark,
    /// It holds a NUL byte.
    Nul,
    /// Not TOML.
    Syntax {
        /// What the reader stumbled over.
        message: String,
        /// The line it stumbled in.
        line: String,
        /// The key of that line.
        key: Option<&'static str>,
    },
    /// No such table.
    UnknownTable {
        /// Its name.
        table: String,
        /// The nearest that exists.
        nearest: Option<&'static str>,
    },
    /// No such key in this table.
    UnknownKey {
        /// Table, empty at the top.
        table: String,
        /// Its name.
        key: String,
        /// The nearest that exists.
        nearest: Option<&'static str>,
        /// The table it belongs to, if it exists elsewhere.
        belongs: Option<&'static str>,
    },
    /// A key is missing.
    Missing {
        /// Table, empty at the top.
        table: &'static str,
        /// The key.
        key: &'static str,
    },
    /// A value of the wrong type.
    WrongType {
        /// The key.
        key: String,
        /// What is wanted.
        wanted: &'static str,
        /// What was found.
        found: &'static str,
    },
    /// A value outside the key's range, or not a finite number.
    OutOfRange {
        /// The key.
        key: &'static str,
        /// The value.
        value: f64,
    },
    /// A row with too few or too many values.
    WrongCount {
        /// The key.
        key: &'static str,
        /// How many there are.
        found: usize,
        /// Least count.
        least: usize,
        /// Largest count.
        most: usize,
    },
    /// A text that is empty or too long.
    BadText {
        /// The key.
        key: &'static str,
        /// Largest length in characters.
        most: usize,
    },
    /// A number outside its range, with its own words.
    NumberOutOfRange {
        /// What it is called.
        key: &'static str,
        /// The value.
        value: f64,
        /// Least value.
        low: f64,
        /// Largest value.
        high: f64,
        /// Unit.
        unit: &'static str,
    },
    /// A word that is none of those allowed.
    UnknownWord {
        /// What was found.
        found: String,
        /// What is allowed.
        words: &'static [&'static str],
    },
    /// An action that does nothing.
    NoAction,
    /// An action that does two things.
    TwoActions,
    /// An action before the one above it.
    TimeGoesBack {
        /// Its time (s).
        at_s: f64,
        /// The time reached by then (s).
        before_s: f64,
    },
    /// The values do not make a rig.
    Rig(RigFault),
}

/// The largest length of a rig's name and of its description, in characters.
const NAME_MOST: usize = 40;
const ABOUT_MOST: usize = 200;

/// Reads a rig file.
pub fn parse(text: &str) -> Result<RigFile, FileFault> {
    Reader { text }.file(document(text)?.get_ref())
}

/// Reads a text as TOML with places.
pub(crate) fn document(text: &str) -> Result<toml::Spanned<DeTable<'_>>, FileFault> {
    let nowhere = |kind| FileFault { spot: None, kind };
    if text.starts_with('\u{feff}') {
        return Err(FileFault { spot: Some(spot_of(text, 0)), kind: FaultKind::ByteOrderMark });
    }
    if let Some(at) = text.find('\0') {
        return Err(FileFault { spot: Some(spot_of(text, at)), kind: FaultKind::Nul });
    }
    if text.trim().is_empty() {
        return Err(nowhere(FaultKind::Empty));
    }
    DeTable::parse(text).map_err(|error| {
        let spot = error.span().map(|span| spot_of(text, span.start));
        let line = spot.and_then(|spot| text.lines().nth(spot.line - 1)).unwrap_or_default();
        let key = line.split('=').next().and_then(|word| Key::find(word.trim()));
        let message = error.message().trim().to_string();
        let (line, key) = (line.trim().to_string(), key.map(|key| key.name));
        FileFault { spot, kind: FaultKind::Syntax { message, line, key } }
    })
}

/// Line and column of a byte of a text.
fn spot_of(text: &str, byte: usize) -> Spot {
    let before = text.get(..byte).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |at| at + 1);
    Spot {
        line: before.matches('\n').count() + 1,
        column: before[line_start..].chars().count() + 1,
    }
}

/// Reads values with their places.
pub(crate) struct Reader<'a> {
    /// The text.
    pub text: &'a str,
}

impl Reader<'_> {
    pub(crate) fn fault(&self, span: Range<usize>, kind: FaultKind) -> FileFault {
        FileFault { spot: Some(spot_of(self.text, span.start)), kind }
    }

    fn file(&self, top: &DeTable<'_>) -> Result<RigFile, FileFault> {
        self.refuse_unknown(top)?;
        let name = self.words(top, "name", NAME_MOST)?;
        let about = self.words(top, "about", ABOUT_MOST)?;
        let mut parts = Parts::default();
        for key in KEYS {
            let Some(table) = key.table() else { continue };
            let missing =
                || FileFault { spot: None, kind: FaultKind::Missing { table, key: key.name } };
            let value = top
                .get(table)
                .and_then(|table| table.get_ref().as_table())
                .and_then(|table| table.get(key.name))
                .ok_or_else(missing)?;
            self.fill(&mut parts, key, value)?;
        }
        let rig = Rig::new(parts).map_err(|fault| FileFault {
            spot: fault.key().and_then(|key| self.spot_of_key(top, key)),
            kind: FaultKind::Rig(fault),
        })?;
        Ok(RigFile { name, about, rig })
    }

    fn spot_of_key(&self, top: &DeTable<'_>, key: &str) -> Option<Spot> {
        let table = top.get(Key::find(key)?.table()?)?.get_ref().as_table()?;
        Some(spot_of(self.text, table.get(key)?.span().start))
    }

    fn refuse_unknown(&self, top: &DeTable<'_>) -> Result<(), FileFault> {
        for (name, value) in top.iter() {
            let DeValue::Table(table) = value.get_ref() else {
                if ["name", "about"].contains(&name.get_ref().as_ref()) {
                    continue;
                }
                return Err(self.unknown_key("", name.get_ref(), name.span()));
            };
            let known = |key: &&Key| key.table() == Some(name.get_ref().as_ref());
            if !KEYS.iter().any(|key| known(&key)) {
                let nearest = nearest_word(name.get_ref(), KEYS.iter().filter_map(Key::table));
                let kind = FaultKind::UnknownTable { table: name.get_ref().to_string(), nearest };
                return Err(self.fault(name.span(), kind));
            }
            for (key, _) in table.iter() {
                if !KEYS.iter().filter(known).any(|k| k.name == key.get_ref().as_ref()) {
                    return Err(self.unknown_key(name.get_ref(), key.get_ref(), key.span()));
                }
            }
        }
        Ok(())
    }

    fn unknown_key(&self, table: &str, key: &str, span: Range<usize>) -> FileFault {
        let in_files = || KEYS.iter().filter(|key| key.table().is_some());
        let kind = FaultKind::UnknownKey {
            table: table.to_string(),
            key: key.to_string(),
            nearest: Key::nearest(key, in_files()).map(|key| key.name),
            belongs: in_files().find(|k| k.name == key).and_then(Key::table),
        };
        self.fault(span, kind)
    }

    pub(crate) fn words(
        &self,
        top: &DeTable<'_>,
        key: &'static str,
        most: usize,
    ) -> Result<String, FileFault> {
        let value = top
            .get(key)
            .ok_or(FileFault { spot: None, kind: FaultKind::Missing { table: "", key } })?;
        let DeValue::String(text) = value.get_ref() else {
            return Err(self.wrong_type(key, "a text in quotes", value));
        };
        let odd = |c: char| c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}');
        let printable = !text.chars().any(odd);
        if text.trim().is_empty() || text.chars().count() > most || !printable {
            return Err(self.fault(value.span(), FaultKind::BadText { key, most }));
        }
        Ok(text.to_string())
    }

    fn fill(
        &self,
        parts: &mut Parts,
        key: &'static Key,
        value: &toml::Spanned<DeValue<'_>>,
    ) -> Result<(), FileFault> {
        match key.place {
            Place::Part { at, .. } => {
                *at(parts) = self.number(key, value, "a number")?;
            }
            Place::PartRow { least, most, set, .. } => {
                let DeValue::Array(array) = value.get_ref() else {
                    return Err(self.wrong_type(key.name, "a row of numbers in [ ]", value));
                };
                let found = array.len();
                if found < least || found > most {
                    let kind = FaultKind::WrongCount { key: key.name, found, least, most };
                    return Err(self.fault(value.span(), kind));
                }
                let row: Result<Vec<f64>, FileFault> =
                    array.iter().map(|value| self.number(key, value, "a row of numbers")).collect();
                set(parts, &row?);
            }
            _ => {}
        }
        Ok(())
    }

    /// The SI value of a number in the key's unit and range.
    fn number(
        &self,
        key: &'static Key,
        value: &toml::Spanned<DeValue<'_>>,
        wanted: &'static str,
    ) -> Result<f64, FileFault> {
        let number = match value.get_ref() {
            DeValue::Integer(number) => number.as_str().parse().unwrap_or(f64::NAN),
            DeValue::Float(number) => number.as_str().parse().unwrap_or(f64::NAN),
            _ => return Err(self.wrong_type(key.name, wanted, value)),
        };
        key.checked(number).map_err(|_| {
            self.fault(value.span(), FaultKind::OutOfRange { key: key.name, value: number })
        })
    }

    pub(crate) fn wrong_type(
        &self,
        key: &str,
        wanted: &'static str,
        value: &toml::Spanned<DeValue<'_>>,
    ) -> FileFault {
        let found = match value.get_ref() {
            DeValue::String(_) => "a text",
            DeValue::Integer(_) | DeValue::Float(_) => "a number",
            DeValue::Boolean(_) => "true or false",
            DeValue::Datetime(_) => "a date",
            DeValue::Array(_) => "a row",
            DeValue::Table(_) => "a table",
        };
        self.fault(value.span(), FaultKind::WrongType { key: key.to_string(), wanted, found })
    }
}

/// The text of a rig file: every key with its meaning, unit and range beside it.
pub fn to_toml(file: &RigFile) -> String {
    let quoted = |text: &str| text.replace('\\', "\\\\").replace('"', "\\\"");
    let mut text =
        format!("name = \"{}\"\nabout = \"{}\"\n", quoted(&file.name), quoted(&file.about));
    let mut parts = *file.rig.parts();
    let mut table_now = "";
    for key in KEYS {
        let Some(table) = key.table() else { break };
        if table != table_now {
            text += &format!("\n[{table}]\n");
            table_now = table;
        }
        let edge = |si: f64| tidy(key.unit.from_si(si)).to_string();
        let value = match key.place {
            Place::Part { at, .. } => edge(*at(&mut parts)),
            Place::PartRow { get, .. } => {
                let row: Vec<String> = get(&parts).iter().map(|si| edge(*si)).collect();
                format!("[{}]", row.join(", "))
            }
            _ => continue,
        };
        text += &format!("# {} ({})\n{} = {value}\n", key.meaning, range_words(key), key.name);
    }
    text
}

/// The range of a key in words: "15 to 80 mm".
pub fn range_words(key: &Key) -> String {
    if let Place::Choice { words, .. } = key.place {
        return words.join(" | ");
    }
    let unit = key.unit.symbol();
    format!("{} to {} {unit}", key.low, key.high).trim_end().to_string()
}
