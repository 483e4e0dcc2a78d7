use crate::{Api, ApiError, Code, call::guarded, clock};
use chrono::Datelike;
use serde::{Deserialize, Serialize};
use serde_json::json;
use windfall_facts::{LatLon, North, Sentence};
use windfall_logbook::about;
use windfall_physics::earth::{declination, sun};
use windfall_quantities::{Bearing, LocalFrame, MagneticNorth, Position, TrueNorth, turn_deg};

/// A phone that was pointed at something whose direction is known.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CheckHeading {
    /// Which phone, as sightings name it.
    pub phone: String,
    /// Where it was held.
    pub from: LatLon,
    /// How well that is known, m: radius that holds it in 68 of 100 cases.
    #[serde(default)]
    pub accuracy_m: f64,
    /// What it was pointed at.
    pub to: PointedAt,
    /// When, by the flyer's own clock, RFC 3339 with its offset; by ours if null. The shadow goes round with the sun.
    #[serde(default)]
    pub now: Option<String>,
    /// What it showed, degrees clockwise from `north`.
    pub bearing_deg: f64,
    /// Which north (default magnetic, as phones show it).
    #[serde(default = "magnetic")]
    pub north: North,
    /// What the pointing before this one came to, if that was not noted.
    #[serde(default)]
    pub before_deg: Option<f64>,
}

/// What a phone is pointed at to check it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(untagged, expecting = "to: a place {lat, lon} or \"shadow\" is needed")]
pub enum PointedAt {
    /// A thing that stands there.
    Place(LatLon),
    /// No thing at all.
    Shadow(OwnShadow),
}

/// Along the shadow of whoever holds the phone, straight away from the sun.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum OwnShadow {
    /// "shadow"
    Shadow,
}

fn magnetic() -> North {
    North::Magnetic
}

/// What came of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct HeadingChecked {
    /// The fact that was noted; null if this is more than a compass is off, and no second pointing says the same.
    pub id: Option<String>,
    /// Degrees that the phone showed too much, clockwise; below zero too little.
    pub too_much_deg: f64,
}

/// Kind of the fact that a phone was checked.
pub(crate) const HEADING_CHECK: &str = "heading_check";

/// Nearer than this the place of what is pointed at is not known well enough: 5 m at 150 m are 2 degrees.
const NEAREST_M: f64 = 150.0;
/// Lower than this the sun throws a shadow that is faint and lost in the grass. Judgement.
const LEAST_SUN_DEG: f64 = 5.0;
/// Higher than this whoever stands upright throws a shadow of less than 0.36 of the own height. Judgement.
const MOST_SUN_DEG: f64 = 70.0;
/// The middle of a shadow is told to so much either side, a third of a head's. Judgement.
const SHADOW_ACROSS_M: f64 = 0.1;
/// From the ground to the head whose shadow is pointed along. Judgement.
const HEAD_M: f64 = 1.7;
/// Whoever stands within a kilometre somewhere knows no direction.
const MOST_ACCURACY_M: f64 = 1000.0;

/// Further off a compass seldom is: whoever points so far past it means something else. Judgement.
const MOST_OFF_DEG: f64 = 45.0;
/// So near one another are two pointings at one thing, five times how well a phone is pointed by hand. Judgement.
const AGREE_DEG: f64 = 10.0;

/// A phone and every check of its heading.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PhoneChecks {
    /// As sightings name it.
    pub phone: String,
    /// In the order they were made.
    pub checks: Vec<PastCheck>,
}

/// A check of a phone's heading.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PastCheck {
    /// The fact, by which it can be set aside.
    pub id: String,
    /// RFC 3339, UTC; null if the identifier does not tell.
    pub noted_at: Option<String>,
    /// As [`HeadingChecked::too_much_deg`].
    pub too_much_deg: f64,
    /// Kept but not used: by this fact it was set aside, which can be undone.
    pub set_aside_by: Option<String>,
}

fn beyond(value: f64, low: f64, high: f64, unit: &str) -> Sentence {
    Sentence::OutOfRange { value, low, high, unit: unit.into() }
}

impl Api {
    /// Every check of a phone's heading, also those that were set aside, phone by phone.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn heading_checks(&self) -> Result<Vec<PhoneChecks>, ApiError> {
        guarded(|| {
            let book = self.open_logbook()?;
            let mut phones = Vec::new();
            for phone in book.names_of(about::PHONE)? {
                let words = book.words_of(about::PHONE, &phone)?;
                let shown = words.iter().filter(|it| it.fact.kind == HEADING_CHECK && !it.taken_back);
                let checks: Vec<PastCheck> = shown
                    .filter_map(|it| {
                        Some(PastCheck {
                            id: it.fact.id.clone(),
                            noted_at: clock::noted_at(&it.fact.id),
                            too_much_deg: it.fact.json["too_much_deg"].as_f64()?,
                            set_aside_by: it.set_aside_by().map(|fact| fact.id.clone()),
                        })
                    })
                    .collect();
                if !checks.is_empty() {
                    phones.push(PhoneChecks { phone, checks });
                }
            }
            Ok(phones)
        })
    }

    /// Notes how far a phone's heading is off; answers to come know of it. What is off too far to be believed is only noted
    /// if it was pointed twice and both agree.
    ///
    /// # Errors
    /// When no logbook is open, a place, direction or moment is none, what was pointed at is too near, or the sun is too
    /// low or too high for a shadow to point along, or is itself pointed at.
    pub fn check_heading(&self, asked: &CheckHeading) -> Result<HeadingChecked, ApiError> {
        guarded(|| {
            let refused =
                |field: &str, why: String| ApiError::new(Code::BadRequest, format!("{field}: {why}"));
            if asked.phone.trim().is_empty() {
                let why = "a name is needed, as sightings have it".into();
                return Err(refused("phone", why).saying(Sentence::NameNeeded {}));
            }
            let place = |field: &str, it: LatLon| {
                Position::new(it.lat, it.lon)
                    .map_err(|error| refused(field, error.to_string()).saying(Sentence::from(error)))
            };
            let from = place("from", asked.from)?;
            // A circular normal law has 68 % within 1.51 of its standard deviations: sqrt(-2 ln 0.32).
            let place_m = asked.accuracy_m / 1.51;
            let (bearing, across_m, far_m) = match asked.to {
                PointedAt::Place(to) => {
                    let way = LocalFrame::about(from).offset_of(place("to", to)?);
                    let distance_m = way.length_m();
                    if distance_m < NEAREST_M {
                        let why = format!(
                            "{distance_m:.0} m away; point at something {NEAREST_M} m away or farther"
                        );
                        let near = Sentence::TooNear { distance_m, least_m: NEAREST_M };
                        return Err(refused("to", why).saying(near));
                    }
                    (way.bearing(), place_m, distance_m)
                }
                PointedAt::Shadow(_) => {
                    let unix_s = clock::unix_s_of(asked.now.as_deref())
                        .map_err(|error| refused("now", error.to_string()))?;
                    let sun = sun(from, 0.0, unix_s).map_err(|error| refused("now", error.to_string()))?;
                    let useless = |why: Sentence| ApiError::said(Code::BadRequest, why).of("to");
                    let up_deg = sun.elevation_rad.to_degrees();
                    if up_deg > MOST_SUN_DEG {
                        return Err(useless(Sentence::SunTooHigh { most_deg: MOST_SUN_DEG }));
                    }
                    match sun.shadow() {
                        // The sun stands alike over a kilometre: how long the shadow is matters, not where it falls.
                        Some(shadow) if up_deg >= LEAST_SUN_DEG => {
                            (shadow, SHADOW_ACROSS_M, HEAD_M / sun.elevation_rad.tan())
                        }
                        _ => return Err(useless(Sentence::SunTooLow { least_deg: LEAST_SUN_DEG })),
                    }
                }
            };
            if !(-360.0..=360.0).contains(&asked.bearing_deg) {
                let why = format!("{} is out of range: allowed is -360 to 360 degrees", asked.bearing_deg);
                return Err(refused("bearing_deg", why).saying(beyond(
                    asked.bearing_deg,
                    -360.0,
                    360.0,
                    "degrees",
                )));
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
            if !(0.0..=MOST_ACCURACY_M).contains(&asked.accuracy_m) {
                let why =
                    format!("{} is out of range: allowed is 0 to {MOST_ACCURACY_M} m", asked.accuracy_m);
                return Err(refused("accuracy_m", why).saying(beyond(
                    asked.accuracy_m,
                    0.0,
                    MOST_ACCURACY_M,
                    "m",
                )));
            }
            let place_deg = (across_m.atan2(far_m).to_degrees() * 10.0).round() / 10.0;
            let too_much_deg = (bearing.turn_to(shown).to_degrees() * 10.0).round() / 10.0;
            // Said twice it is no truer: no compass is off by that much, whoever points at the sun is.
            if matches!(asked.to, PointedAt::Shadow(_)) && too_much_deg.abs() > 180.0 - MOST_OFF_DEG {
                return Err(ApiError::said(Code::BadRequest, Sentence::AtTheSun {}).of("bearing_deg"));
            }
            let again_deg = |before_deg: f64| turn_deg(before_deg, too_much_deg).abs();
            if too_much_deg.abs() > MOST_OFF_DEG
                && !asked.before_deg.is_some_and(|it| again_deg(it) <= AGREE_DEG)
            {
                return Ok(HeadingChecked { id: None, too_much_deg });
            }
            let said = json!({"too_much_deg": too_much_deg, "place_deg": place_deg, "from": asked.from, "to": asked.to,
                "now": asked.now, "bearing_deg": asked.bearing_deg, "north": asked.north});
            let id = self.note(about::PHONE, asked.phone.trim(), HEADING_CHECK, &said)?;
            Ok(HeadingChecked { id: Some(id), too_much_deg })
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::{Value, json};

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
        // Who hardly knows where he stands says less of the phone: 100 m at 1112 m are 3.4 degrees beside its 2.
        let mut vague = check(4.0);
        vague["accuracy_m"] = 100.into();
        called(&api, "check_heading", vague);
        let precision = |at: usize| api.lessons_but(None).unwrap().0[at].message.precision[0];
        let expected = (3.4_f64.powi(2) + 4.0) / 4.0;
        assert!(
            (precision(0) / precision(2) / expected - 1.0).abs() < 0.02,
            "{}",
            precision(0) / precision(2)
        );
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
    fn checks_are_listed_and_one_that_is_set_aside_is_not_learned_from_until_it_is_used_again() {
        let (_folder, api) = with_logbook();
        let check = |phone: &str, bearing_deg: f64| {
            called(
                &api,
                "check_heading",
                json!({"phone": phone, "from": {"lat": 47.5, "lon": 17.3}, "to": {"lat": 47.51, "lon": 17.3},
                    "bearing_deg": bearing_deg, "north": "true"}),
            )
        };
        let first = check("Ann's", 4.0)["id"].clone();
        check("Ann's", 3.0);
        check("Ben's", 359.0);
        let listed = || called(&api, "heading_checks", json!({}));
        let learned = || api.lessons_but(None).unwrap().0.len();
        let said = listed();
        assert_eq!([&said[0]["phone"], &said[1]["phone"]], ["Ann's", "Ben's"]);
        assert_eq!(said[0]["checks"][0]["too_much_deg"], 4.0);
        assert!(said[0]["checks"][0]["noted_at"].is_string());
        let aside = called(&api, "set_aside", json!({"id": first}));
        assert_eq!((listed()[0]["checks"][0]["set_aside_by"].clone(), learned()), (aside.clone(), 2));
        called(&api, "undo", json!({"id": aside}));
        assert_eq!((listed(), learned()), (said, 3));
        // Taken back as a whole it is not shown any more.
        called(&api, "undo", json!({"id": first}));
        assert_eq!(listed()[0]["checks"].as_array().map(Vec::len), Some(1));
    }

    #[test]
    fn what_no_compass_is_off_is_kept_only_when_pointed_twice_alike() {
        let (_folder, api) = with_logbook();
        let check = |bearing_deg: f64, before_deg: Option<f64>| {
            let asked = json!({"phone": "Ann's", "from": {"lat": 47.5, "lon": 17.3}, "to": {"lat": 47.51, "lon": 17.3},
                "bearing_deg": bearing_deg, "north": "true", "before_deg": before_deg});
            called(&api, "check_heading", asked)
        };
        let kept = || api.lessons_but(None).unwrap().0.len();
        let first = check(156.0, None);
        assert_eq!((&first["id"], &first["too_much_deg"], kept()), (&Value::Null, &json!(156.0), 0));
        assert_eq!((&check(100.0, Some(156.0))["id"], kept()), (&Value::Null, 0), "they do not agree");
        assert!(check(178.0, Some(-176.0))["id"].is_string(), "6 degrees apart across south");
        assert_eq!(kept(), 1);
        assert!(check(44.0, None)["id"].is_string());
    }

    #[test]
    fn the_own_shadow_does_for_a_thing_on_the_map_while_the_sun_is_neither_low_nor_high() {
        let (_folder, api) = with_logbook();
        let check = |lat: f64, lon: f64, now: &str, bearing_deg: f64| {
            json!({"phone": "Ann's", "from": {"lat": lat, "lon": lon}, "accuracy_m": 1000, "to": "shadow", "now": now,
                "bearing_deg": bearing_deg, "north": "true"})
        };
        // Reda and Andreas, NREL/TP-560-34302 (2008), worked example: the sun stands at 194.340241 degrees, 39.87 high.
        let example =
            |bearing_deg: f64| check(39.742_476, -105.1786, "2003-10-17T12:30:30-07:00", bearing_deg);
        for (shown, too_much) in [(26.34, 12.0), (2.34, -12.0), (14.34, 0.0)] {
            assert_eq!(called(&api, "check_heading", example(shown))["too_much_deg"], too_much);
        }
        // What pvlib has of the sun: `pvlib/sun_pvlib_30.csv`; 65.3 degrees high at 136.11.
        let high = check(40.0, -105.1, "2026-05-23T17:45:00Z", 320.1);
        assert_eq!(called(&api, "check_heading", high)["too_much_deg"], 4.0);
        let learned = || api.lessons_but(None).unwrap().0;
        assert_eq!(learned().len(), 4);
        // A shadow is told to 0.1 m at the head's, 1.7 m * cot 39.87 = 2.04 m and 1.7 m * cot 65.3 = 0.78 m away: 2.8 and
        // 7.3 degrees beside the 2 of the hand, however vague the place.
        let spread = |place_deg: f64| 1.0 / (place_deg.powi(2) + 4.0);
        let precision = |at: usize| learned()[at].message.precision[0];
        let ratio = spread(2.8) / spread(7.3);
        assert!((precision(0) / precision(3) / ratio - 1.0).abs() < 1e-9, "{}", precision(0) / precision(3));

        // The same table: 77.2, 2.5 and -26.7 degrees high.
        let refused = [
            (check(-33.87, 151.2, "2026-01-15T02:00:00Z", 0.0), "sun_too_high"),
            (check(52.0, 4.5, "2026-06-06T19:30:00Z", 0.0), "sun_too_low"),
            (check(-33.87, 151.2, "2025-12-21T12:00:00Z", 0.0), "sun_too_low"),
        ];
        for (asked, say) in refused {
            let error = api.call("check_heading", asked).unwrap_err();
            assert_eq!(serde_json::to_value(&error.said).unwrap()["say"], say);
            assert!(error.message.contains("landmark"), "{}", error.message);
        }
        // Who points at the sun, even twice, is told so; who points beside the shadow is doubted as with a thing.
        let mut at_the_sun = example(194.3);
        at_the_sun["before_deg"] = 180.into();
        for asked in [example(194.3), example(160.0), at_the_sun] {
            let error = api.call("check_heading", asked).unwrap_err();
            assert_eq!(serde_json::to_value(&error.said).unwrap(), json!({"say": "at_the_sun"}));
        }
        assert_eq!(called(&api, "check_heading", example(104.3))["id"], Value::Null);
        for (field, asked) in [
            ("now", check(52.0, 4.5, "noon", 0.0)),
            ("to", {
                let mut asked = example(0.0);
                asked["to"] = "sun".into();
                asked
            }),
        ] {
            let error = api.call("check_heading", asked).unwrap_err().message;
            assert!(error.starts_with(&format!("{field}: ")), "{error}");
        }
        assert_eq!(learned().len(), 4, "nothing is noted of what is refused or doubted");
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
