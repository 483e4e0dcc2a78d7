use crate::{Api, ApiError, Code, call::guarded, clock};
use chrono::Datelike;
use serde::{Deserialize, Serialize};
use serde_json::json;
use windfall_facts::{LatLon, North};
use windfall_logbook::about;
use windfall_physics::earth::declination;
use windfall_quantities::{Bearing, LocalFrame, MagneticNorth, Position, TrueNorth};

/// A phone that was pointed at something whose place is known.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckHeading {
    /// Which phone, as sightings name it.
    pub phone: String,
    /// Where it was held.
    pub from: LatLon,
    /// What it was pointed at.
    pub to: LatLon,
    /// What it showed, degrees clockwise from `north`.
    pub bearing_deg: f64,
    /// Which north (default magnetic, as phones show it).
    #[serde(default = "magnetic")]
    pub north: North,
}

fn magnetic() -> North {
    North::Magnetic
}

/// What came of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeadingChecked {
    /// The fact that was noted.
    pub id: String,
    /// Degrees that the phone showed too much, clockwise; below zero too little.
    pub too_much_deg: f64,
}

/// Nearer than this the place of what is pointed at is not known well enough: 5 m at 150 m are 2 degrees.
const NEAREST_M: f64 = 150.0;

impl Api {
    /// Notes how far a phone's heading is off; answers to come know of it.
    ///
    /// # Errors
    /// When no logbook is open, a place or direction is none, or what was pointed at is too near.
    pub fn check_heading(&self, asked: &CheckHeading) -> Result<HeadingChecked, ApiError> {
        guarded(|| {
            let refused =
                |field: &str, why: String| ApiError::new(Code::BadRequest, format!("{field}: {why}"));
            if asked.phone.trim().is_empty() {
                return Err(refused("phone", "a name is needed, as sightings have it".into()));
            }
            let place = |field: &str, it: LatLon| {
                Position::new(it.lat, it.lon).map_err(|error| refused(field, error.to_string()))
            };
            let (from, to) = (place("from", asked.from)?, place("to", asked.to)?);
            let way = LocalFrame::about(from).offset_of(to);
            if way.length_m() < NEAREST_M {
                let why =
                    format!("{:.0} m away; point at something {NEAREST_M} m away or farther", way.length_m());
                return Err(refused("to", why));
            }
            if !(-360.0..=360.0).contains(&asked.bearing_deg) {
                let why = format!("{} is out of range: allowed is -360 to 360 degrees", asked.bearing_deg);
                return Err(refused("bearing_deg", why));
            }
            let bad = |error: windfall_quantities::NotABearing| refused("bearing_deg", error.to_string());
            let shown: Bearing<TrueNorth> = match asked.north {
                North::True => Bearing::from_degrees(asked.bearing_deg).map_err(bad)?,
                North::Magnetic => {
                    let today = clock::today();
                    let turn =
                        declination(from, 0.0, today.year(), u16::try_from(today.ordinal()).unwrap_or(1))
                            .map_err(|error| refused("north", error.to_string()))?;
                    Bearing::<MagneticNorth>::from_degrees(asked.bearing_deg).map_err(bad)?.to_true(turn)
                }
            };
            let too_much_deg = (way.bearing().turn_to(shown).to_degrees() * 10.0).round() / 10.0;
            let said = json!({"too_much_deg": too_much_deg, "from": asked.from, "to": asked.to,
                "bearing_deg": asked.bearing_deg, "north": asked.north});
            let id = self.note(about::PHONE, asked.phone.trim(), "heading_check", &said)?;
            Ok(HeadingChecked { id, too_much_deg })
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::json;

    #[test]
    fn a_phone_that_shows_too_much_is_believed_less_far_round() {
        let (_folder, api) = with_logbook();
        // Due north of the pad, on its meridian.
        let check = |bearing_deg: f64| {
            json!({"phone": "Ann's", "from": {"lat": 47.5, "lon": 17.3},
            "to": {"lat": 47.51, "lon": 17.3}, "bearing_deg": bearing_deg, "north": "true"})
        };
        for (shown, too_much) in [(4.0, 4.0), (357.5, -2.5)] {
            assert_eq!(called(&api, "check_heading", check(shown))["too_much_deg"], too_much);
        }
        let lessons = api.lessons_but(None).unwrap().0;
        assert_eq!(lessons.len(), 2, "both are learned from");
        let mut near = check(4.0);
        near["to"]["lat"] = 47.501.into();
        for (bad, field) in
            [(near, "to: 111 m"), (check(f64::NAN), "invalid"), (check(4000.0), "bearing_deg")]
        {
            let error = api.call("check_heading", bad).unwrap_err().message;
            assert!(error.contains(field), "{error}");
        }
    }

    #[test]
    fn a_magnetic_reading_is_turned_first() {
        let (_folder, api) = with_logbook();
        let asked = json!({"phone": "Ann's", "from": {"lat": 47.5, "lon": 17.3}, "to": {"lat": 47.51, "lon": 17.3},
            "bearing_deg": 0});
        // The declination in western Hungary was 5 degrees east in 2025 and grows by 0.2 a year (WMM2025, from memory).
        let too_much = called(&api, "check_heading", asked)["too_much_deg"].as_f64().unwrap();
        assert!((4.5..6.5).contains(&too_much), "{too_much}");
    }
}
