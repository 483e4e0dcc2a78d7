//! JSON Schema of the flight file.

use crate::Flight;
use serde_json::Value;

/// JSON Schema (2020-12) of the flight file.
#[must_use]
pub fn flight_schema() -> Value {
    schemars::schema_for!(Flight).to_value()
}
