use crate::import_map::line;
use crate::{Api, ApiError, call::guarded};
use geo::{Centroid, CoordsIter, MultiPolygon, Polygon};
use serde::Serialize;
use windfall_facts::LatLon;
use windfall_quantities::{LocalFrame, Offset, Position};

/// Where what is loaded may come down, before it flies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MayComeDown {
    /// The pad.
    pub pad: LatLon,
    /// Nine of ten come down no further from the pad, metres: the farthest of all rockets.
    pub within_m: f64,
    /// Which way from the pad, degrees from true north; null if it may be any way.
    pub toward_deg: Option<f64>,
    /// Of each rocket and each of its parts, the area of nine in ten, a GeoJSON `MultiPolygon`.
    pub areas: Vec<serde_json::Value>,
    /// The rockets that it speaks of.
    pub rockets: Vec<String>,
}

/// More are not worked out: somebody waits for the screen. Judgement.
const MOST_ROCKETS: usize = 4;
/// A way is named if the middle of the area lies this share of the farthest from the pad, or more: judgement.
const ASIDE: f64 = 0.15;

impl Api {
    /// Where today's load may come down: each rocket's cloud before its flight, with the wind as it was read. Null unless
    /// a rocket is loaded, the pad is known and the wind was read today: nothing is claimed that was not entered.
    ///
    /// # Errors
    /// When no logbook is open, it cannot be read, or a rocket lies outside the model's domain.
    pub fn may_come_down(&self) -> Result<Option<MayComeDown>, ApiError> {
        guarded(|| {
            let day = self.day()?;
            if day.load.is_empty() || day.winds().next().is_none() || day.pad.is_none() {
                return Ok(None);
            }
            let mut all: Option<MayComeDown> = None;
            for ready in self.ready_flights()?.into_iter().take(MOST_ROCKETS) {
                let pad = LatLon { lat: ready.flight.pad.lat, lon: ready.flight.pad.lon };
                // Nothing is known but wind and rocket, and nothing is kept: no flight was flown.
                let answer = self.cloud(&ready.flight, &self.settings)?.cloud.answer(None, None);
                let Ok(place) = Position::new(pad.lat, pad.lon) else { continue };
                let frame = LocalFrame::about(place);
                let one = all.get_or_insert_with(|| MayComeDown {
                    pad,
                    within_m: 0.0,
                    toward_deg: None,
                    areas: Vec::new(),
                    rockets: Vec::new(),
                });
                one.rockets.push(ready.name);
                for part in answer.parts {
                    let mut regions = part.regions;
                    regions.sort_by(|a, b| a.probability.total_cmp(&b.probability));
                    let Some(widest) = regions.pop() else { continue };
                    let area = outline(&widest.geometry, &frame);
                    let far_m = area.coords_iter().map(|at| at.x.hypot(at.y)).fold(0.0, f64::max);
                    if far_m > one.within_m {
                        one.within_m = far_m;
                        let middle = area.centroid().map(|at| Offset { east_m: at.x(), north_m: at.y() });
                        let aside = middle.filter(|it| it.length_m() > ASIDE * far_m);
                        one.toward_deg = aside.map(|it| it.bearing().degrees());
                    }
                    one.areas.push(widest.geometry);
                }
            }
            Ok(all.filter(|it| it.within_m > 0.0))
        })
    }
}

/// The outer edges of an area (a GeoJSON `MultiPolygon`), metres east and north of the pad.
fn outline(geometry: &serde_json::Value, frame: &LocalFrame) -> MultiPolygon {
    let polygons = geometry["coordinates"].as_array().into_iter().flatten();
    polygons.map(|rings| Polygon::new(line(&rings[0], frame), Vec::new())).collect()
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::{Value, json};

    #[test]
    fn it_says_nothing_before_rocket_pad_and_wind_were_entered_and_then_downwind() {
        let (_folder, api) = with_logbook();
        assert_eq!(called(&api, "may_come_down", json!({})), Value::Null);
        let pad = json!({"name": "pad", "lat": 47.53, "lon": 17.28, "accuracy_m": 3});
        let site =
            called(&api, "keep_site", json!({"field": {"name": "Sedge Meadow"}, "pad": pad}))["id"].clone();
        let told = json!({"name": "Linnet", "stages": [{"motor": "C6-5", "comes_down_on": "parachute"}]});
        let rocket = called(&api, "keep_rocket", json!({ "told": told }))["id"].clone();
        called(&api, "keep_day", json!({"plan": {"site": site, "load": [{"rocket": rocket}]}}));
        assert_eq!(called(&api, "may_come_down", json!({})), Value::Null, "no wind was read");
        called(&api, "tell_wind", json!({"toward_deg": 90, "force": 4}));
        let it = called(&api, "may_come_down", json!({}));
        let toward_deg = it["toward_deg"].as_f64().unwrap();
        assert!((45.0..135.0).contains(&toward_deg), "{toward_deg}");
        // 5 to 8 m/s for a minute at a few metres a second of fall: hundreds of metres, not tens and not kilometres.
        assert!((150.0..3000.0).contains(&it["within_m"].as_f64().unwrap()), "{}", it["within_m"]);
        assert_eq!((&it["rockets"], it["areas"].as_array().unwrap().len()), (&json!(["Linnet"]), 1));
        assert!(called(&api, "list_log", json!({})).as_array().unwrap().is_empty(), "no flight was flown");
    }
}
