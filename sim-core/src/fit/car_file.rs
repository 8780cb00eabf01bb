//! A fitted car as a rig file, and cars like it drawn from how sure it is.

use super::parameters::{Car, How, SCREW, Space};
use super::posterior::Fitted;
use crate::conditions::Conditions;
use crate::noise::Noise;
use crate::rig::Rig;
use crate::rig::file::RigFile;
use crate::rig::found::{Covariance, Found};
use crate::rig::keys::Setup;
use crate::steady::SteadyEngine;
use nalgebra::DMatrix;

/// The rig of a car with its screw where it was found: screw 0 stands there.
fn as_it_stands(car: &Car) -> Option<Rig> {
    let steady = SteadyEngine::new(&car.setup.rig, &car.setup.conditions);
    let turns = steady.aim_turns()? + car.screw_turns;
    let found = |parts: &mut crate::rig::Parts| {
        parts.lever.zero_height_m -= turns * parts.lever.height_per_turn_m();
    };
    car.setup.rig.with_parts_beyond_ranges(found).ok()
}

/// The file of a fitted car: the rig as built, what was found, how sure that is.
pub fn rig_file(built: &RigFile, fitted: &Fitted) -> Option<RigFile> {
    let coordinates = fitted.space.coordinates();
    let row = |i: usize| {
        let own = coordinates[i].parameter.spread;
        let entry = |j: usize| own * fitted.covariance[(i, j)] * coordinates[j].parameter.spread;
        (0..coordinates.len()).map(entry).collect()
    };
    let conditions = Conditions {
        screw_turns: 0.0,
        trim: Conditions::default().trim,
        ..fitted.car.setup.conditions
    };
    Some(RigFile {
        name: built.name.clone(),
        about: built.about.clone(),
        rig: as_it_stands(&fitted.car)?,
        found: Some(Found {
            built: built.found.as_ref().map_or(built.rig, |found| found.built),
            conditions,
            covariance: Some(Covariance {
                keys: coordinates.iter().map(|coordinate| coordinate.name()).collect(),
                rows: (0..coordinates.len()).map(row).collect(),
            }),
        }),
    })
}

/// Cars like a fitted one, each as probable as how sure it is has it.
pub struct Alike {
    space: Space,
    found: Setup,
    /// Root of the covariance in spreads: a column for each direction.
    root: DMatrix<f64>,
}

/// Why no cars like a fitted one can be drawn.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoneAlike {
    /// A key that no fit finds.
    #[error("[covariance]: no parameter \"{0}\" of a fit")]
    Unknown(String),
    /// The car does not idle as it was found.
    #[error("as it was found the car does not idle on lambda 1")]
    NoIdle,
}

impl Alike {
    /// Those of a rig file; none if it does not say how sure it is.
    pub fn of(file: &RigFile) -> Result<Option<Alike>, NoneAlike> {
        let Some(found) = &file.found else { return Ok(None) };
        let Some(covariance) = &found.covariance else { return Ok(None) };
        let setup = Setup { rig: file.rig, conditions: found.conditions };
        let steady = SteadyEngine::new(&setup.rig, &setup.conditions);
        let aim = steady.aim_turns().ok_or(NoneAlike::NoIdle)?;
        let each_line = covariance.keys.iter().any(|key| key.starts_with("slit_1"));
        let space = Space::about(Car { setup, screw_turns: -aim }, each_line);
        let count = space.coordinates().len();
        let mut matrix = DMatrix::zeros(count, count);
        let mut places = Vec::new();
        for key in &covariance.keys {
            let place = space.place(key).ok_or_else(|| NoneAlike::Unknown(key.clone()))?;
            places.push((place, space.coordinates()[place].parameter.spread));
        }
        for ((i, own), row) in places.iter().zip(&covariance.rows) {
            for ((j, other), value) in places.iter().zip(row) {
                matrix[(*i, *j)] = value / (own * other);
            }
        }
        let eigen = matrix.symmetric_eigen();
        let mut root = eigen.eigenvectors;
        for (mut column, value) in root.column_iter_mut().zip(&eigen.eigenvalues) {
            column *= value.max(0.0).sqrt();
        }
        Ok(Some(Alike { space, found: setup, root }))
    }

    /// How many directions there are.
    pub fn directions(&self) -> usize {
        self.root.ncols()
    }

    /// The car of a number, drawn by chance; with what a setup of the fitted one changes.
    pub fn drawn(&self, asked: &Setup, seed: u64, number: u64) -> Option<Setup> {
        let mut noise = Noise::new(seed ^ 0xa11e, number);
        let along: Vec<f64> = (0..self.directions()).map(|_| noise.normal()).collect();
        self.at(asked, &along)
    }

    /// The car a standard deviation along one direction.
    pub fn along(&self, asked: &Setup, direction: usize) -> Option<Setup> {
        let mut along = vec![0.0; self.directions()];
        along[direction] = 1.0;
        self.at(asked, &along)
    }

    fn at(&self, asked: &Setup, along: &[f64]) -> Option<Setup> {
        let at = &self.root * nalgebra::DVector::from_column_slice(along);
        let mut car = self.space.car(at.as_slice(), self.found.conditions.flame)?;
        let stands = as_it_stands(&car)?;
        car.setup.rig = stands;
        // What was asked for differs from the fitted car as it differs from this one.
        let zero = |rig: &Rig| rig.parts().lever.zero_height_m;
        let lifted = zero(&stands) - zero(&self.found.rig);
        let mut setup = self.space.moved(asked, &self.found, &car.setup)?;
        let rig = setup.rig.with_parts_beyond_ranges(|p| p.lever.zero_height_m += lifted);
        setup.rig = rig.ok()?;
        Some(setup)
    }
}

impl Space {
    /// A setup with each parameter moved as it is from one car to another.
    fn moved(&self, asked: &Setup, from: &Setup, to: &Setup) -> Option<Setup> {
        let mut moved = *asked;
        let (from, to) =
            (Car { setup: *from, screw_turns: 0.0 }, Car { setup: *to, screw_turns: 0.0 });
        for coordinate in self.coordinates() {
            let parameter = coordinate.parameter;
            if parameter.name == SCREW || matches!(parameter.how, How::Slits | How::Slit) {
                continue;
            }
            let (was, is) = (coordinate.value(&from), coordinate.value(&to));
            coordinate.change(&mut moved, |value| match parameter.how {
                How::Added => value + is - was,
                How::Positive(_) => (value + is - was).max(0.0),
                _ => value * is / was,
            })?;
        }
        // Slit by slit: the mean and each slit's own are in it.
        let widths = |setup: &Setup| setup.rig.parts().slits.width_m;
        let (was, is) = (widths(&from.setup), widths(&to.setup));
        let rig = moved.rig.with_parts_beyond_ranges(|parts| {
            for (i, width) in parts.slits.width_m.iter_mut().enumerate() {
                *width *= is[i] / was[i];
            }
        });
        moved.rig = rig.ok()?;
        Some(moved)
    }
}
