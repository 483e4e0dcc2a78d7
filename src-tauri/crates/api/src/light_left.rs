use crate::{Api, ApiError, Code, clock};
use serde::{Deserialize, Serialize};
use windfall_facts::LatLon;
use windfall_physics::earth::daylight;
use windfall_quantities::Position;

/// Where, and when.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LightLeft {
    /// Where the flyer stands.
    pub at: LatLon,
    /// By the flyer's own clock, RFC 3339 with its offset; by ours if null.
    #[serde(default)]
    pub now: Option<String>,
}

/// What is left of the daylight, on a flat horizon.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Light {
    /// Whether the sun is up.
    pub sun_is_up: bool,
    /// Whether civil twilight is over.
    pub is_dark: bool,
    /// Seconds to the next sunset; null if there is none within a day.
    pub sunset_in_s: Option<f64>,
    /// Seconds to the next end of civil twilight; null if there is none within a day.
    pub dark_in_s: Option<f64>,
}

impl Api {
    /// How long there is light to search by.
    ///
    /// # Errors
    /// When the place or the moment is none.
    pub fn light_left(&self, asked: &LightLeft) -> Result<Light, ApiError> {
        let refused = |field: &str, why: &dyn core::fmt::Display| {
            ApiError::new(Code::BadRequest, format!("{field}: {why}"))
        };
        let at = Position::new(asked.at.lat, asked.at.lon).map_err(|error| refused("at", &error))?;
        let unix_s = clock::unix_s_of(asked.now.as_deref()).map_err(|error| refused("now", &error))?;
        let left = daylight(at, unix_s).map_err(|error| refused("now", &error))?;
        Ok(Light {
            sun_is_up: left.sun_is_up,
            is_dark: left.is_dark,
            sunset_in_s: left.sunset_in_s,
            dark_in_s: left.dark_in_s,
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::called;
    use crate::{Api, Settings};
    use serde_json::json;

    #[test]
    fn a_moment_with_its_offset_is_understood_and_a_wrong_one_named() {
        let api = Api::new(Settings::default());
        // A May evening at 47.5 N, 17.3 E: sunset near 20:15 by the clock there (of an almanac, from memory).
        let at = json!({"lat": 47.5, "lon": 17.3});
        let left = called(&api, "light_left", json!({"at": at, "now": "2026-05-16T19:30:00+02:00"}));
        let sunset_in_s = left["sunset_in_s"].as_f64().unwrap();
        assert!(left["sun_is_up"] == true && (2100.0..3300.0).contains(&sunset_in_s), "{left}");
        let error = api.call("light_left", json!({"at": at, "now": "evening"})).unwrap_err();
        assert!(error.message.starts_with("now: "), "{}", error.message);
        assert!(called(&api, "light_left", json!({"at": at}))["is_dark"].is_boolean());
    }
}
