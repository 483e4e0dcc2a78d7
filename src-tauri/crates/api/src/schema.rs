use serde_json::Value;

/// JSON Schema of the flight file.
#[must_use]
pub fn schema() -> Value {
    windfall_facts::flight_schema()
}
