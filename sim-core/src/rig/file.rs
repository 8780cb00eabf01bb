//! Rig files: TOML text to a checked rig and back, with the keys' list as the only schema.

pub use super::file_fault::{FaultKind, FileFault, Spot};
use super::found::{self, Found};
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
    /// The engine, as it was found where something was.
    pub rig: Rig,
    /// What was found on a car, if the file is of one.
    pub found: Option<Found>,
}

/// The largest length of a rig's name and of its description, in characters.
const NAME_MOST: usize = 40;
const ABOUT_MOST: usize = 200;

/// Tables of what was found on a car.
const OF_A_CAR: [&str; 2] = ["found", "covariance"];

/// Reads a rig file.
pub fn parse(text: &str) -> Result<RigFile, FileFault> {
    Reader { text }.file(document(text)?.get_ref())
}

/// Reads a text as TOML with places.
pub(crate) fn document(text: &str) -> Result<toml::Spanned<DeTable<'_>>, FileFault> {
    if text.starts_with('\u{feff}') {
        return Err(FileFault { spot: Some(spot_of(text, 0)), kind: FaultKind::ByteOrderMark });
    }
    if let Some(at) = text.find('\0') {
        return Err(FileFault { spot: Some(spot_of(text, at)), kind: FaultKind::Nul });
    }
    if text.trim().is_empty() {
        return Err(FileFault { spot: Some(spot_of(text, 0)), kind: FaultKind::Empty });
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

/// A number, with or without decimals.
pub(crate) fn float(value: &toml::Spanned<DeValue<'_>>) -> Option<f64> {
    let digits = match value.get_ref() {
        DeValue::Integer(number) => number.as_str(),
        DeValue::Float(number) => number.as_str(),
        _ => return None,
    };
    Some(digits.parse().unwrap_or(f64::NAN))
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

    /// A key is missing in a table, or at the top of the file (no table): told at the table's
    /// line where there is one, else at the first.
    pub(crate) fn missing(
        &self,
        table: &'static str,
        key: &'static str,
        top: &DeTable<'_>,
    ) -> FileFault {
        let named = top.iter().find(|(name, _)| name.get_ref().as_ref() == table);
        let at = named.map_or(0, |(name, _)| name.span().start);
        self.fault(at..at, FaultKind::Missing { table, key })
    }

    fn file(&self, top: &DeTable<'_>) -> Result<RigFile, FileFault> {
        self.refuse_unknown(top)?;
        let name = self.words(top, "name", NAME_MOST)?;
        let about = self.words(top, "about", ABOUT_MOST)?;
        let mut parts = Parts::default();
        for key in KEYS {
            let Some(table) = key.table() else { continue };
            let value = top
                .get(table)
                .and_then(|table| table.get_ref().as_table())
                .and_then(|table| table.get(key.name))
                .ok_or_else(|| self.missing(table, key.name, top))?;
            self.fill(&mut parts, key, value)?;
        }
        let rig = Rig::new(parts).map_err(|fault| FileFault {
            spot: fault.key().and_then(|key| self.spot_of_key(top, key)),
            kind: FaultKind::Rig(fault),
        })?;
        Ok(match self.found(top, &rig)? {
            Some((as_found, found)) => RigFile { name, about, rig: as_found, found: Some(found) },
            None => RigFile { name, about, rig, found: None },
        })
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
                return Err(self.unknown_key(name.get_ref(), name.span()));
            };
            if OF_A_CAR.contains(&name.get_ref().as_ref()) {
                continue;
            }
            let known = |key: &&Key| key.table() == Some(name.get_ref().as_ref());
            if !KEYS.iter().any(|key| known(&key)) {
                let tables = KEYS.iter().filter_map(Key::table).chain(OF_A_CAR);
                let nearest = nearest_word(name.get_ref(), tables);
                let kind = FaultKind::UnknownTable { table: name.get_ref().to_string(), nearest };
                return Err(self.fault(name.span(), kind));
            }
            for (key, _) in table.iter() {
                if !KEYS.iter().filter(known).any(|k| k.name == key.get_ref().as_ref()) {
                    return Err(self.unknown_key(key.get_ref(), key.span()));
                }
            }
        }
        Ok(())
    }

    pub(super) fn unknown_key(&self, key: &str, span: Range<usize>) -> FileFault {
        let in_files = || KEYS.iter().filter(|key| key.table().is_some());
        let kind = FaultKind::UnknownKey {
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
        let value = top.get(key).ok_or_else(|| self.missing("", key, top))?;
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

    pub(super) fn fill(
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
                    let fault = RigFault::WrongCount { key: key.name, found, least, most };
                    return Err(self.fault(value.span(), FaultKind::Rig(fault)));
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
        let number = float(value).ok_or_else(|| self.wrong_type(key.name, wanted, value))?;
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
    let mut parts = *file.found.as_ref().map_or(&file.rig, |found| &found.built).parts();
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
        text += &format!("# {} ({})\n{} = {value}\n", key.meaning, key.range_words(), key.name);
    }
    match &file.found {
        Some(found) => text + &found::to_toml(&file.rig, found),
        None => text,
    }
}

/// The range of a key in words: "15 to 80 mm".
pub fn range_words(key: &Key) -> String {
    key.range_words()
}
