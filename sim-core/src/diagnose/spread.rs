//! Over which engines a diagnosis is made: relatives of a rig as they are drawn by chance, or what
//! a rig that was fitted to one car leaves open.
//!
//! ```
//! use sim_core::diagnose::spread::Fitted;
//! let names = ["spark_deg", "rest_height_mm"];
//! let fitted = Fitted::new(&names, &[-12.0, 0.1], &[4.0, 0.0, 0.0, 0.01]).unwrap();
//! assert!(fitted.names("spark_deg") && !fitted.names("screw"));
//! assert!(Fitted::new(&["no_such_key"], &[1.0], &[1.0]).is_err());
//! ```

use crate::noise::Noise;
use crate::rig::keys::{Key, Place, Setup};
use crate::units::Unit;
use nalgebra::{DMatrix, DVector};

/// Over which engines a diagnosis is made.
#[derive(Clone, Debug, PartialEq)]
pub enum Spread {
    /// Relatives drawn by chance, set as a workshop sets them: [`crate::rig::seeded::relative`].
    Seeded,
    /// One car's own, as readings left it open.
    Fitted(Fitted),
}

/// A distribution over keys: normal, with a covariance.
///
/// Equation: `x = mean + L z`, `L L^T` the covariance, `z` standard normal. Symbols: `x` values in
/// the keys' units. Valid range: the keys' ranges; a draw outside them is no engine and is left
/// out. What no key names is the rig's own, but for what a fit cannot know: injectors, gases,
/// contacts and meters. Source: the definition of a normal distribution.
#[derive(Clone, Debug, PartialEq)]
pub struct Fitted {
    places: Vec<Named>,
    mean: DVector<f64>,
    lower: DMatrix<f64>,
}

/// What a name stands for.
#[derive(Clone, Copy)]
enum Named {
    Key(&'static Key),
    /// The width of one slit.
    Slit(usize),
}

impl std::fmt::Debug for Named {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(&self.name())
    }
}

impl PartialEq for Named {
    fn eq(&self, other: &Named) -> bool {
        self.name() == other.name()
    }
}

impl Named {
    /// That of a key, "screw_turns" for the screw, or "slit_3_width_mm".
    fn find(name: &str) -> Option<Named> {
        let slit = || {
            let line: usize =
                name.strip_prefix("slit_")?.strip_suffix("_width_mm")?.parse().ok()?;
            Some(Named::Slit(line.checked_sub(1)?))
        };
        let key = Key::find(if name == "screw_turns" { "screw" } else { name });
        let single =
            |key: &&Key| !matches!(key.place, Place::PartRow { .. } | Place::Choice { .. });
        slit().or_else(|| key.filter(single).map(Named::Key))
    }

    fn name(&self) -> String {
        match self {
            Named::Key(key) => key.name.to_string(),
            Named::Slit(line) => format!("slit_{}_width_mm", line + 1),
        }
    }

    fn set(&self, setup: &mut Setup, value: f64) -> Option<()> {
        match self {
            Named::Key(key) => key.set(setup, value).ok(),
            Named::Slit(line) => {
                setup.rig.parts().slits.width_m.get(*line)?;
                let width_m = Unit::Millimetre.to_si(value);
                let set = setup.rig.with_parts_beyond_ranges(|p| p.slits.width_m[*line] = width_m);
                setup.rig = set.ok()?;
                Some(())
            }
        }
    }
}

/// Why a distribution cannot be used.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SpreadFault {
    /// No single value has that name.
    #[error("no key \"{0}\" that takes one value")]
    Unknown(String),
    /// The numbers do not fit the names.
    #[error("{names} names need as many means and {} covariances", names * names)]
    Shape {
        /// How many names there are.
        names: usize,
    },
    /// Not the covariance of anything.
    #[error("the covariance is not symmetric, or has a variance below 0")]
    NoCovariance,
}

/// How far two entries of a covariance that mirror each other may be apart, share.
const SYMMETRIC: f64 = 1e-6;

impl Fitted {
    /// A distribution over keys by their names, in their units; the covariance row by row.
    pub fn new(names: &[&str], mean: &[f64], covariance: &[f64]) -> Result<Fitted, SpreadFault> {
        let n = names.len();
        if mean.len() != n || covariance.len() != n * n {
            return Err(SpreadFault::Shape { names: n });
        }
        let find = |name: &&str| Named::find(name).ok_or(SpreadFault::Unknown(name.to_string()));
        let places = names.iter().map(find).collect::<Result<Vec<Named>, SpreadFault>>()?;
        let covariance = DMatrix::from_row_slice(n, n, covariance);
        let size = |i: usize, j: usize| (covariance[(i, i)] * covariance[(j, j)]).abs().sqrt();
        let mirrored = (0..n).all(|i| {
            (0..i).all(|j| {
                let apart = (covariance[(i, j)] - covariance[(j, i)]).abs();
                apart <= SYMMETRIC * size(i, j)
            })
        });
        let finite = mean.iter().chain(covariance.iter()).all(|value| value.is_finite());
        if !finite || !mirrored {
            return Err(SpreadFault::NoCovariance);
        }
        // A root that takes a variance of nothing, too: eigenvectors times the roots.
        let largest = (0..n).map(|i| covariance[(i, i)]).fold(0.0, f64::max);
        let eigen = covariance.symmetric_eigen();
        if eigen.eigenvalues.iter().any(|value| *value < -SYMMETRIC * largest) {
            return Err(SpreadFault::NoCovariance);
        }
        let roots = eigen.eigenvalues.map(|value| value.max(0.0).sqrt());
        let lower = &eigen.eigenvectors * DMatrix::from_diagonal(&roots);
        Ok(Fitted { places, mean: DVector::from_column_slice(mean), lower })
    }

    /// Whether it says something of a key.
    pub fn names(&self, key: &str) -> bool {
        self.places.iter().any(|place| place.name() == key)
    }

    /// Draws an engine about a rig; `None` if what is drawn is no engine.
    pub fn draw(&self, about: &Setup, noise: &mut Noise) -> Option<Setup> {
        let normal = DVector::from_fn(self.places.len(), |_, _| noise.normal());
        let values = &self.mean + &self.lower * normal;
        let mut setup = *about;
        for (place, value) in self.places.iter().zip(values.iter()) {
            place.set(&mut setup, *value)?;
        }
        Some(setup)
    }
}
