use crate::pick_up::{ONE_FIELD_M, apart_m};
use crate::{Api, ApiError, Code, call::guarded};
use serde::{Deserialize, Serialize};
use windfall_facts::{Flight, LatLon, Pad, Rocket, Stage};
use windfall_inference::{Lead, Walk, lead, walk};

/// A step of the way.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WalkTo {
    /// As [`crate::FlightLine::id`]; null for a place that another phone named.
    #[serde(default)]
    pub id: Option<String>,
    /// Where the flyer stands.
    pub from: LatLon,
    /// Radius that holds the flyer, m.
    pub accuracy_m: f64,
    /// Where they are going: an aim or the standing point short of it.
    pub to: LatLon,
    /// Where the way home leads.
    #[serde(default)]
    pub home: Option<LatLon>,
    /// Whether the way ends at the last safe standing point short of a hazard on it.
    #[serde(default)]
    pub stops_short: bool,
}

/// A place that another phone named, and where the walk to it begins.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LeadTo {
    /// The place.
    pub at: LatLon,
    /// Where the flyer stands.
    pub from: LatLon,
}

/// The way to a place that another phone named.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Led {
    /// Its ground and the wind of today: of the field whose pad lies nearest, bare if none is near. It is kept nowhere.
    pub flight: Flight,
    /// Where the way ends and why, with the cautions of an answer.
    #[serde(flatten)]
    pub lead: Lead,
}

impl Api {
    /// Where the way to a place that another phone named ends, over the ground that is known there.
    ///
    /// # Errors
    /// When a place is none, or the fields cannot be read.
    pub fn lead_to(&self, asked: &LeadTo) -> Result<Led, ApiError> {
        guarded(|| {
            let flight = self.ground_about(asked.at)?;
            let lead = lead(&flight, &self.priors, asked.from, asked.at)?;
            Ok(Led { flight, lead })
        })
    }

    /// Ground and wind at a place that belongs to no flight of this logbook.
    fn ground_about(&self, at: LatLon) -> Result<Flight, ApiError> {
        let sites = match self.sites() {
            Err(error) if error.code == Code::NotFound => Vec::new(),
            other => other?,
        };
        let pads = sites.iter().flat_map(|site| site.pads.iter().map(move |pad| (site, pad)));
        let near = pads
            .filter_map(|(site, pad)| {
                let far_m = apart_m(LatLon { lat: pad.lat, lon: pad.lon }, at)?;
                (far_m <= ONE_FIELD_M).then_some((far_m, site, pad))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let pad = near.map_or(at, |(_, _, pad)| LatLon { lat: pad.lat, lon: pad.lon });
        let wind = if self.has_logbook() { self.day()?.winds().cloned().collect() } else { Vec::new() };
        Ok(Flight {
            format: windfall_facts::FORMAT.into(),
            id: None,
            title: None,
            pad: Pad { lat: pad.lat, lon: pad.lon, accuracy_m: None, elevation_m: None },
            field: near.map(|(_, site, _)| site.ground()),
            air: None,
            wind,
            rocket: Rocket { stages: vec![Stage::default()], ..Rocket::default() },
            launch: windfall_facts::Launch::default(),
            evidence: Vec::new(),
        })
    }

    /// How far, which way, and whether a road, a railway, water or a power line is so near that the way ends.
    ///
    /// # Errors
    /// When there is no such flight, or a place is none.
    pub fn walk_to(&self, asked: &WalkTo) -> Result<Walk, ApiError> {
        let flight = match &asked.id {
            Some(id) => self.flight(id)?,
            None => self.ground_about(asked.to)?,
        };
        Ok(walk(
            &flight,
            &self.priors,
            asked.from,
            asked.accuracy_m,
            asked.to,
            asked.home,
            asked.stops_short,
        )?)
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use crate::{Api, Settings};
    use serde_json::json;

    #[test]
    fn a_place_that_another_phone_named_is_walked_to_over_the_ground_of_the_field_it_lies_on() {
        let (_folder, api) = with_logbook();
        // 0.001 degrees of the meridian are 111 m: a lane 111 m north of the pad, the place 222 m north.
        let lane = json!({"kind": "road", "name": "Mill Lane", "geometry": {"type": "LineString", "coordinates": [[17.29, 47.501], [17.31, 47.501]]}});
        let pad = json!({"name": "pad", "lat": 47.5, "lon": 17.3, "accuracy_m": 4});
        called(&api, "keep_site", json!({"field": {"name": "Sedge Meadow", "hazards": [lane]}, "pad": pad}));
        let (from, to) = (json!({"lat": 47.5, "lon": 17.3}), json!({"lat": 47.502, "lon": 17.3}));
        let led = called(&api, "lead_to", json!({"at": to, "from": from}));
        assert_eq!(led["cautions"][0]["say"], "stop_here");
        assert!(led["approach"]["lat"].as_f64().unwrap() < 47.501, "{led}");
        assert_eq!(led["flight"]["field"]["name"], "Sedge Meadow");
        let near = json!({"lat": 47.5008, "lon": 17.3});
        let step = called(
            &api,
            "walk_to",
            json!({"from": near, "accuracy_m": 4, "to": led["approach"].clone().as_object().map(|it| json!({"lat": it["lat"], "lon": it["lon"]}))}),
        );
        assert_eq!(
            (&step["stop"][0]["kind"], &step["stop"][0]["name"]),
            (&json!("road"), &json!("Mill Lane"))
        );
        // On no field of ours nothing is marked, and that is said.
        let far = json!({"lat": 48.5, "lon": 17.3});
        let led = called(&api, "lead_to", json!({"at": far, "from": far}));
        assert_eq!((&led["approach"]["said"], &led["flight"]["field"]), (&json!(null), &json!(null)));
        let step = called(&api, "walk_to", json!({"from": far, "accuracy_m": 4, "to": far}));
        assert_eq!(step["any_marked"], false);
    }

    #[test]
    fn without_a_logbook_a_named_place_is_walked_to_all_the_same_and_a_place_that_is_none_is_refused() {
        let api = Api::new(Settings::default());
        let at = json!({"lat": 47.5, "lon": 17.3});
        assert_eq!(
            called(&api, "lead_to", json!({"at": at, "from": at}))["cautions"][0]["say"],
            "mind_the_ground"
        );
        let none = json!({"at": {"lat": 147.5, "lon": 17.3}, "from": at});
        assert_eq!(api.call("lead_to", none).unwrap_err().code, crate::Code::BadFlight);
    }
}
