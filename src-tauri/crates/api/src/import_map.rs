use crate::{Api, ApiError, Code, call::guarded};
use geo::{Contains, Coord, Distance, Euclidean, LineString, Point, Polygon};
use serde::{Deserialize, Serialize};
use serde_json::Value;
use windfall_facts::{Hazard, LatLon, Sentence};
use windfall_logbook::exchange::map_extract;
use windfall_quantities::{LocalFrame, Position};

/// An open map extract, and around which place it is wanted.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ImportMap {
    /// Text of an OSM XML or GeoJSON file.
    pub text: String,
    /// The pad.
    pub about: LatLon,
    /// What lies further off is left out, metres (default 1500).
    #[serde(default)]
    pub reach_m: Option<f64>,
}

/// Something on the map that could be a hazard, to be confirmed by somebody who knows the ground.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Proposal {
    /// What it would be on the field.
    pub hazard: Hazard,
    /// From the pad to its nearest point, metres.
    pub distance_m: f64,
}

/// What a map has to offer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Proposals {
    /// The nearest first.
    pub near: Vec<Proposal>,
    /// How many lie too far off.
    pub far: usize,
    /// What of the file was not understood.
    pub not_understood: Vec<Sentence>,
}

const REACH_M: f64 = 1500.0;
/// More than anybody confirms by hand.
const MOST: usize = 400;

impl Api {
    /// Roads, rails, wires, water, woods and buildings in an open map extract. Nothing is kept: it is for the flyer to
    /// confirm.
    ///
    /// # Errors
    /// Names the line and the field of the first thing that is not as the format says.
    pub fn import_map(&self, asked: &ImportMap) -> Result<Proposals, ApiError> {
        guarded(|| {
            let LatLon { lat, lon } = asked.about;
            let pad = Position::new(lat, lon)
                .map_err(|error| ApiError::said(Code::BadRequest, error).of("about"))?;
            let reach_m = asked.reach_m.unwrap_or(REACH_M);
            let frame = LocalFrame::about(pad);
            let extract = map_extract::read(&asked.text)?;
            let mut near: Vec<Proposal> = Vec::new();
            let mut far = 0;
            for hazard in extract.hazards {
                let distance_m = nearest_m(&hazard.geometry, &frame);
                if distance_m <= reach_m && near.len() < 4 * MOST {
                    near.push(Proposal { hazard, distance_m });
                } else {
                    far += 1;
                }
            }
            near.sort_by(|a, b| a.distance_m.total_cmp(&b.distance_m));
            far += near.len().saturating_sub(MOST);
            near.truncate(MOST);
            Ok(Proposals { near, far, not_understood: extract.not_understood })
        })
    }
}

/// To the nearest point of a geometry, zero inside an area, metres; infinite if it is none.
fn nearest_m(geometry: &Value, frame: &LocalFrame) -> f64 {
    let pad = Point::new(0.0, 0.0);
    let at = &geometry["coordinates"];
    let parts = || at.as_array().into_iter().flatten();
    let to_area = |rings: &Value| {
        let mut rings = rings.as_array().into_iter().flatten().map(|ring| line(ring, frame));
        let area = Polygon::new(rings.next().unwrap_or(LineString::new(Vec::new())), rings.collect());
        if area.contains(&pad) { 0.0 } else { Euclidean.distance(&area, &pad) }
    };
    let to_line = |it: &Value| Euclidean.distance(&line(it, frame), &pad);
    let least = |all: &mut dyn Iterator<Item = f64>| all.fold(f64::INFINITY, f64::min);
    match geometry["type"].as_str() {
        Some("Point") => {
            place(at, frame).map_or(f64::INFINITY, |at| Euclidean.distance(Point::from(at), pad))
        }
        Some("MultiPoint") => least(
            &mut parts().filter_map(|it| place(it, frame)).map(|at| Euclidean.distance(Point::from(at), pad)),
        ),
        Some("LineString") => to_line(at),
        Some("MultiLineString") => least(&mut parts().map(to_line)),
        Some("Polygon") => to_area(at),
        Some("MultiPolygon") => least(&mut parts().map(to_area)),
        _ => f64::INFINITY,
    }
}

pub(crate) fn line(positions: &Value, frame: &LocalFrame) -> LineString {
    LineString::new(positions.as_array().into_iter().flatten().filter_map(|it| place(it, frame)).collect())
}

fn place(position: &Value, frame: &LocalFrame) -> Option<Coord> {
    let LatLon { lat, lon } = LatLon::of_position([position[0].as_f64()?, position[1].as_f64()?]);
    let offset = frame.offset_of(Position::new(lat, lon).ok()?);
    Some(Coord { x: offset.east_m, y: offset.north_m })
}

#[cfg(test)]
mod tests {
    use crate::{Api, Settings};
    use serde_json::json;

    #[test]
    fn the_nearest_comes_first_and_what_is_too_far_is_counted() {
        let road = |name: &str, lat: f64| {
            json!({"type": "Feature", "properties": {"highway": "residential", "name": name},
                "geometry": {"type": "LineString", "coordinates": [[17.27, lat], [17.29, lat]]}})
        };
        let text = json!({"type": "FeatureCollection",
            "features": [road("far", 47.60), road("near", 47.531), road("nearer", 47.5301)]})
        .to_string();
        let api = Api::new(Settings::default());
        let asked = json!({"text": text, "about": {"lat": 47.53, "lon": 17.28}});
        let crate::Reply::Json(got) = api.call("import_map", asked).unwrap() else { panic!() };
        let got: serde_json::Value = serde_json::from_str(&got).unwrap();
        let names: Vec<_> =
            got["near"].as_array().unwrap().iter().map(|it| it["hazard"]["name"].clone()).collect();
        assert_eq!(names, ["nearer", "near"]);
        assert_eq!(got["far"], 1);
        // A ten thousandth of a degree of the meridian at 47.5 degrees is 11.12 m (WGS 84); the straight way between two
        // places 753 m east and west on a parallel runs 753^2 tan(47.5) / (2 * 6.37e6) = 0.05 m poleward of it.
        assert!((got["near"][0]["distance_m"].as_f64().unwrap() - 11.17).abs() < 0.01);
    }

    #[test]
    fn from_inside_an_area_it_is_no_distance() {
        let frame = super::LocalFrame::about(super::Position::new(47.53, 17.28).unwrap());
        let ring = |by: f64| {
            json!([
                [17.28 - by, 47.52],
                [17.28 + by, 47.52],
                [17.28 + by, 47.54],
                [17.28 - by, 47.54],
                [17.28 - by, 47.52]
            ])
        };
        let area = |rings: serde_json::Value| {
            super::nearest_m(&json!({"type": "Polygon", "coordinates": rings}), &frame)
        };
        assert!(area(json!([ring(0.01)])) < 1e-9);
        // In the hole. A thousandth of a degree of the parallel at 47.53 degrees is 75.30 m (WGS 84).
        assert!((area(json!([ring(0.01), ring(0.001)])) - 75.30).abs() < 0.02);
    }
}
