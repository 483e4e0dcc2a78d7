//! The shape of a GeoJSON geometry (RFC 7946): longitude before latitude, rings closed.

use crate::read::join;
use crate::{FlightError, LatLon, Sentence};
use serde_json::Value;

impl LatLon {
    /// As GeoJSON and KML write it: longitude, latitude.
    #[must_use]
    pub fn to_position(self) -> [f64; 2] {
        [self.lon, self.lat]
    }

    /// From longitude, latitude, as GeoJSON and KML write it.
    #[must_use]
    pub fn of_position([lon, lat]: [f64; 2]) -> Self {
        Self { lat, lon }
    }
}

/// Areas only.
pub(crate) const AREAS: &[&str] = &["Polygon", "MultiPolygon"];
/// Anything that can be drawn.
pub(crate) const SHAPES: &[&str] =
    &["Point", "MultiPoint", "LineString", "MultiLineString", "Polygon", "MultiPolygon"];

/// Refuses what is no geometry of one of the `allowed` types.
pub(crate) fn check(geometry: &Value, field: &str, allowed: &[&str]) -> Result<(), FlightError> {
    let Some(keys) = geometry.as_object() else {
        return Err(FlightError::said(field, Sentence::GeometryNeeded {}));
    };
    for key in keys.keys() {
        const KEYS: &[&str] = &["type", "coordinates", "bbox"];
        if !KEYS.contains(&key.as_str()) {
            return Err(FlightError::unknown_key(&join(field, key), key, KEYS));
        }
    }
    let type_field = join(field, "type");
    let kind = match keys.get("type") {
        Some(Value::String(kind)) => kind.as_str(),
        Some(other) => {
            let (written, allowed) = (other.to_string(), allowed.join(", "));
            return Err(FlightError::said(&type_field, Sentence::OneOfThese { written, allowed }));
        }
        None => {
            return Err(FlightError::said(&type_field, Sentence::MissingOf { allowed: allowed.join(", ") }));
        }
    };
    if !allowed.contains(&kind) {
        return Err(FlightError::unknown_word(&type_field, kind, allowed));
    }
    let at = join(field, "coordinates");
    let Some(coordinates) = keys.get("coordinates") else {
        return Err(FlightError::new(&at, "missing; a list is needed").saying(Sentence::ListNeeded {}));
    };
    match kind {
        "Point" => position(coordinates, &at),
        "MultiPoint" => each(coordinates, &at, 1, position),
        "LineString" => line(coordinates, &at),
        "MultiLineString" => each(coordinates, &at, 1, line),
        "Polygon" => polygon(coordinates, &at),
        _ => each(coordinates, &at, 1, polygon),
    }
}

fn each(
    value: &Value,
    field: &str,
    least: usize,
    check: impl Fn(&Value, &str) -> Result<(), FlightError>,
) -> Result<(), FlightError> {
    let Some(items) = value.as_array().filter(|items| items.len() >= least) else {
        return Err(FlightError::said(field, Sentence::ListOfAtLeast { least }));
    };
    items.iter().enumerate().try_for_each(|(index, item)| check(item, &format!("{field}[{index}]")))
}

fn polygon(value: &Value, field: &str) -> Result<(), FlightError> {
    each(value, field, 1, ring)
}

fn line(value: &Value, field: &str) -> Result<(), FlightError> {
    each(value, field, 2, position)
}

fn ring(value: &Value, field: &str) -> Result<(), FlightError> {
    each(value, field, 4, position)?;
    let ends = value.as_array().map(|ring| (ring.first(), ring.last()));
    match ends {
        Some((first, last)) if first == last => Ok(()),
        _ => Err(FlightError::new(field, "the ring is not closed: its last point must repeat its first")
            .saying(Sentence::RingNotClosed {})),
    }
}

fn position(value: &Value, field: &str) -> Result<(), FlightError> {
    let numbers: Option<Vec<f64>> =
        value.as_array().and_then(|items| items.iter().map(Value::as_f64).collect());
    let Some(numbers) = numbers.filter(|numbers| (2..=3).contains(&numbers.len())) else {
        return Err(FlightError::said(field, Sentence::PositionNeeded {}));
    };
    let (lon, lat) = (numbers[0], numbers[1]);
    if !(-180.0..=180.0).contains(&lon) {
        return Err(FlightError::new(
            &format!("{field}[0]"),
            format!("{lon} is out of range: allowed is longitude -180 to 180 degrees"),
        )
        .saying(Sentence::OutOfRange {
            value: lon,
            low: -180.0,
            high: 180.0,
            unit: "degrees".into(),
        }));
    }
    if !(-90.0..=90.0).contains(&lat) {
        return Err(FlightError::new(
            &format!("{field}[1]"),
            format!("{lat} is out of range: allowed is latitude -90 to 90 degrees, after the longitude"),
        )
        .saying(Sentence::OutOfRange { value: lat, low: -90.0, high: 90.0, unit: "degrees".into() }));
    }
    Ok(())
}

/// How many positions a geometry holds, whatever its shape.
pub(crate) fn vertex_count(value: &Value) -> usize {
    match value {
        Value::Object(keys) => keys.get("coordinates").map_or(0, vertex_count),
        Value::Array(items) if items.iter().any(Value::is_number) => 1,
        Value::Array(items) => items.iter().map(vertex_count).sum(),
        _ => 0,
    }
}

/// JSON Schema of an area.
pub(crate) fn area_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schema(AREAS)
}

/// JSON Schema of anything that can be drawn.
pub(crate) fn shape_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
    schema(SHAPES)
}

fn schema(allowed: &[&str]) -> schemars::Schema {
    schemars::json_schema!({
        "type": "object",
        "properties": {
            "type": {"enum": allowed},
            "coordinates": {"type": "array"},
            "bbox": {"type": "array"},
        },
        "required": ["type", "coordinates"],
        "additionalProperties": false,
    })
}

/// A GeoJSON geometry; positions are [longitude, latitude].
#[cfg(feature = "typescript")]
#[derive(ts_rs::TS)]
#[ts(tag = "type")]
#[expect(dead_code, reason = "only its TypeScript form is used")]
pub(crate) enum Geometry {
    Point { coordinates: Vec<f64> },
    MultiPoint { coordinates: Vec<Vec<f64>> },
    LineString { coordinates: Vec<Vec<f64>> },
    MultiLineString { coordinates: Vec<Vec<Vec<f64>>> },
    Polygon { coordinates: Vec<Vec<Vec<f64>>> },
    MultiPolygon { coordinates: Vec<Vec<Vec<Vec<f64>>>> },
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn refusal(geometry: &Value, allowed: &[&str]) -> String {
        check(geometry, "field.outline", allowed).unwrap_err().to_string()
    }

    #[test]
    fn the_shapes_of_rfc_7946_pass() {
        // Source: RFC 7946, appendix A (geometry examples).
        for geometry in [
            json!({"type": "Point", "coordinates": [100.0, 0.0]}),
            json!({"type": "LineString", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}),
            json!({"type": "Polygon", "coordinates": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]],
                [[100.8, 0.8], [100.8, 0.2], [100.2, 0.2], [100.2, 0.8], [100.8, 0.8]]]}),
            json!({"type": "MultiPoint", "coordinates": [[100.0, 0.0], [101.0, 1.0]]}),
            json!({"type": "MultiLineString", "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]]}),
            json!({"type": "MultiPolygon", "coordinates": [[[[102.0, 2.0], [103.0, 2.0], [103.0, 3.0], [102.0, 3.0], [102.0, 2.0]]],
                [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0], [100.0, 1.0], [100.0, 0.0]]]]}),
        ] {
            assert_eq!(check(&geometry, "geometry", SHAPES), Ok(()), "{geometry}");
        }
    }

    #[test]
    fn an_open_or_short_ring_is_refused() {
        let open = json!({"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, 1], [0, 1]]]});
        assert_eq!(
            refusal(&open, AREAS),
            "field.outline.coordinates[0]: the ring is not closed: its last point must repeat its first"
        );
        let short = json!({"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [0, 0]]]});
        assert_eq!(refusal(&short, AREAS), "field.outline.coordinates[0]: a list of at least 4 is needed");
    }

    #[test]
    fn latitude_first_is_noticed_where_it_cannot_be_a_latitude() {
        let swapped = json!({"type": "Point", "coordinates": [47.1, 101.2]});
        assert_eq!(
            refusal(&swapped, SHAPES),
            "field.outline.coordinates[1]: 101.2 is out of range: allowed is latitude -90 to 90 degrees, after the longitude"
        );
    }

    #[test]
    fn an_outline_is_an_area_and_says_so() {
        let line = json!({"type": "LineString", "coordinates": [[0, 0], [1, 1]]});
        assert_eq!(
            refusal(&line, AREAS),
            "field.outline.type: unknown word \"LineString\"; allowed: Polygon, MultiPolygon"
        );
        assert_eq!(
            refusal(&json!({"type": "Polygon", "cordinates": []}), AREAS),
            "field.outline.cordinates: unknown key; did you mean coordinates?"
        );
    }
}
