//! Values by their names, in an order of their own.

use serde::{Serialize, Serializer};

/// Members of a JSON object, each with its name.
pub struct ByName<T>(pub Vec<(&'static str, T)>);

impl<T: Serialize> Serialize for ByName<T> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_map(self.0.iter().map(|(name, value)| (name, value)))
    }
}
