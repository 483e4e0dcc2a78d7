//! What people say and instruments read. Facts carry no computation.

mod answer;
mod check;
mod designation;
mod evidence;
mod figure;
mod flight;
mod geometry;
mod names;
mod once;
mod ranges;
mod read;
mod schema;
mod sentence;
#[cfg(feature = "typescript")]
mod typescript;

pub use answer::*;
pub use designation::{Delay, Designation, MotorClass, NotADesignation};
pub use evidence::*;
pub use figure::{Figure, Known};
pub use flight::*;
pub use names::Named;
pub use read::{FORMAT, FlightError, read_flight, unreadable};
pub use schema::flight_schema;
pub use sentence::{Sentence, chance};
#[cfg(feature = "typescript")]
pub use typescript::export_typescript;

use schemars::JsonSchema;
use serde::{Deserialize, Deserializer, Serialize};

/// A place, degrees on WGS 84.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(deny_unknown_fields)]
pub struct LatLon {
    /// Degrees north.
    pub lat: f64,
    /// Degrees east.
    pub lon: f64,
}

/// Which north a direction counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
#[serde(rename_all = "snake_case")]
pub enum North {
    /// Geographic north, as on a map.
    #[default]
    True,
    /// As a compass shows it.
    Magnetic,
}

/// What is not known may be left out or null, also where the program has a default.
fn null_is_default<'de, D: Deserializer<'de>, T: Default + Deserialize<'de>>(
    deserializer: D,
) -> Result<T, D::Error> {
    Option::deserialize(deserializer).map(Option::unwrap_or_default)
}
