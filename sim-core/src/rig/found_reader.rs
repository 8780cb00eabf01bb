//! Reads what was found on a car from its file.

use super::Rig;
use super::file::{FaultKind, FileFault, Reader, float};
use super::found::{Covariance, Found};
use super::keys::{Key, KeyFault, Place, Setup};
use crate::conditions::Conditions;
use toml::de::{DeTable, DeValue};

/// How far apart two values that mirror each other in a matrix may be, share of the larger.
const MIRRORED: f64 = 1e-6;

impl Reader<'_> {
    /// The tables of what was found, if the file has them, on the rig as built.
    pub(super) fn found(
        &self,
        top: &DeTable<'_>,
        built: &Rig,
    ) -> Result<Option<(Rig, Found)>, FileFault> {
        let table = |name: &str| top.get(name).and_then(|table| table.get_ref().as_table());
        let mut setup = Setup { rig: *built, conditions: Conditions::default() };
        for (name, value) in table("found").into_iter().flat_map(|table| table.iter()) {
            let key = Key::find(name.get_ref())
                .filter(|key| key.name == name.get_ref().as_ref())
                .ok_or_else(|| self.unknown_key(name.get_ref(), name.span()))?;
            let outside = |fault: KeyFault, value: f64| match fault {
                KeyFault::Rig(fault) => FaultKind::Rig(fault),
                _ => FaultKind::OutOfRange { key: key.name, value },
            };
            match (value.get_ref(), &key.place) {
                (DeValue::String(word), Place::Choice { words, .. }) => {
                    key.choose(&mut setup, word).map_err(|_| {
                        let found = word.to_string();
                        self.fault(value.span(), FaultKind::UnknownWord { found, words })
                    })?;
                }
                (_, Place::Choice { .. }) => {
                    return Err(self.wrong_type(key.name, "a text in quotes", value));
                }
                (_, Place::PartRow { .. }) => {
                    let mut parts = *setup.rig.parts();
                    self.fill(&mut parts, key, value)?;
                    let rig = setup.rig.with_parts_beyond_ranges(|p| *p = parts);
                    setup.rig =
                        rig.map_err(|fault| self.fault(value.span(), FaultKind::Rig(fault)))?;
                }
                _ => {
                    let number =
                        float(value).ok_or_else(|| self.wrong_type(key.name, "a number", value))?;
                    key.set(&mut setup, number)
                        .map_err(|fault| self.fault(value.span(), outside(fault, number)))?;
                }
            }
        }
        let covariance = match table("covariance") {
            Some(table) => Some(self.covariance(table, top)?),
            None => None,
        };
        let found = Found { built: *built, conditions: setup.conditions, covariance };
        let any = table("found").is_some() || found.covariance.is_some();
        Ok(any.then_some((setup.rig, found)))
    }

    fn covariance(&self, table: &DeTable<'_>, top: &DeTable<'_>) -> Result<Covariance, FileFault> {
        let entry =
            |key: &'static str| table.get(key).ok_or_else(|| self.missing("covariance", key, top));
        let (names, matrix) = (entry("keys")?, entry("matrix")?);
        let wrong = |value| {
            self.wrong_type("covariance", "`keys` in quotes and `matrix`, a row for each", value)
        };
        let row = |value| match toml::Spanned::get_ref(value) {
            DeValue::Array(array) => Ok(array),
            _ => Err(wrong(value)),
        };
        let mut keys = Vec::new();
        for name in row(names)?.iter() {
            let DeValue::String(name) = name.get_ref() else { return Err(wrong(name)) };
            keys.push(name.to_string());
        }
        let mut rows: Vec<Vec<f64>> = Vec::new();
        for line in row(matrix)?.iter() {
            let numbers = row(line)?.iter().map(|value| float(value).ok_or_else(|| wrong(value)));
            rows.push(numbers.collect::<Result<_, _>>()?);
        }
        let fits = rows.len() == keys.len() && rows.iter().all(|row| row.len() == keys.len());
        let sound = |i: usize, j: usize| {
            let (one, other) = (rows[i][j], rows[j][i]);
            let bound = (rows[i][i] * rows[j][j]).sqrt();
            one.is_finite()
                && (one - other).abs() <= MIRRORED * one.abs().max(other.abs())
                && rows[i][i] >= 0.0
                && one.abs() <= (1.0 + MIRRORED) * bound
        };
        let places = || 0..keys.len();
        if !fits || !places().all(|i| places().all(|j| sound(i, j))) {
            return Err(self.fault(matrix.span(), FaultKind::NoCovariance { keys: keys.len() }));
        }
        Ok(Covariance { keys, rows })
    }
}
