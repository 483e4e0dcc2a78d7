//! Geometry on the field: GeoJSON in the local frame.

use geo::{Coord, LineString, MultiPolygon, Point, Polygon};
use serde_json::Value;
use windfall_quantities::{LocalFrame, Offset, Position};

/// Shapes of one hazard or outline, metres east and north of the pad.
#[derive(Clone, Debug, Default)]
pub(crate) struct Shapes {
    pub(crate) points: Vec<Point>,
    pub(crate) lines: Vec<LineString>,
    pub(crate) polygons: Vec<Polygon>,
}

fn coord(value: &Value, frame: &LocalFrame) -> Option<Coord> {
    // The one place where GeoJSON's order, longitude first, is turned round.
    let place = Position::new(value.get(1)?.as_f64()?, value.get(0)?.as_f64()?).ok()?;
    let offset = frame.offset_of(place);
    Some(Coord { x: offset.east_m, y: offset.north_m })
}

fn each<T>(value: &Value, read: impl Fn(&Value) -> Option<T>) -> Option<Vec<T>> {
    value.as_array()?.iter().map(read).collect()
}

fn line(value: &Value, frame: &LocalFrame) -> Option<LineString> {
    each(value, |it| coord(it, frame)).map(LineString::new)
}

fn polygon(value: &Value, frame: &LocalFrame) -> Option<Polygon> {
    let mut rings = each(value, |ring| line(ring, frame))?.into_iter();
    Some(Polygon::new(rings.next()?, rings.collect()))
}

/// Reads a GeoJSON geometry (RFC 7946); none if it is of no known type or not in order.
pub(crate) fn shapes(geometry: &Value, frame: &LocalFrame) -> Option<Shapes> {
    let at = geometry.get("coordinates")?;
    let mut shapes = Shapes::default();
    match geometry.get("type")?.as_str()? {
        "Point" => shapes.points.push(coord(at, frame)?.into()),
        "LineString" => shapes.lines.push(line(at, frame)?),
        "Polygon" => shapes.polygons.push(polygon(at, frame)?),
        "MultiPoint" => shapes.points = each(at, |it| coord(it, frame).map(Point::from))?,
        "MultiLineString" => shapes.lines = each(at, |it| line(it, frame))?,
        "MultiPolygon" => shapes.polygons = each(at, |it| polygon(it, frame))?,
        _ => return None,
    }
    Some(shapes)
}

/// The polygons of a GeoJSON geometry.
pub(crate) fn polygons(geometry: &Value, frame: &LocalFrame) -> Option<MultiPolygon> {
    let shapes = shapes(geometry, frame)?;
    (!shapes.polygons.is_empty()).then(|| MultiPolygon::new(shapes.polygons))
}

/// A GeoJSON `MultiPolygon` of polygons in the local frame, to 7 decimals (a centimetre).
pub(crate) fn to_geojson(polygons: &MultiPolygon, frame: &LocalFrame) -> Value {
    let ring = |ring: &LineString| {
        let points = ring.coords().map(|c| {
            let place = frame.place_at(Offset { east_m: c.x, north_m: c.y });
            let rounded = |degrees: f64| (degrees * 1e7).round() / 1e7;
            serde_json::json!([rounded(place.lon_deg()), rounded(place.lat_deg())])
        });
        Value::Array(points.collect())
    };
    let coordinates: Vec<Value> = polygons
        .iter()
        .map(|polygon| {
            Value::Array(
                core::iter::once(ring(polygon.exterior()))
                    .chain(polygon.interiors().iter().map(ring))
                    .collect(),
            )
        })
        .collect();
    serde_json::json!({ "type": "MultiPolygon", "coordinates": coordinates })
}
