use crate::{Api, ApiError, call::guarded, keep};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;
use windfall_logbook::exchange::{self, Brought, Format, archive};
use windfall_logbook::{Fact, about};

/// A file that has come whole by `bring_file`.
#[derive(Clone, Debug, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PutIn {
    /// What it was called on its way here.
    pub file: String,
    /// Its name; the ending says the format.
    pub name: String,
    /// The flight that places and walks belong to.
    #[serde(default)]
    pub into: Option<String>,
}

/// What a file brought.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum CameIn {
    /// A whole logbook, merged.
    Archive {
        /// Flights that were not here.
        flights: usize,
        /// Flights of it that were here already.
        known_flights: usize,
        /// Notes that were not here, of all sorts.
        notes: usize,
        /// Notes of which the two logbooks say different things; those that were here are kept.
        differing: usize,
    },
    /// A flight, or something for one.
    Flight {
        /// Which.
        flight: String,
        /// What it is called.
        title: Option<String>,
        /// Whether it was not here.
        is_new: bool,
        /// Notes of it that were not here.
        notes: usize,
        /// What could not be taken, and why, in words.
        not_taken: Vec<String>,
    },
    /// Places and walks, read but not kept: to which flight do they belong?
    Places {
        /// How many.
        count: usize,
    },
}

impl Api {
    /// Takes in a file: an archive, a flight, or places and walks of any device for a flight. Twice changes nothing.
    ///
    /// # Errors
    /// When no logbook is open; names the line and the field of the first thing that cannot be used. Then nothing of the
    /// file is taken.
    pub fn put_in(&self, asked: &PutIn) -> Result<CameIn, ApiError> {
        guarded(|| {
            let bytes = self.map_files()?.taken(&asked.file)?;
            let came = self.came_in(&bytes, asked)?;
            // What is at hand of a flight is what was told of it here.
            for told in self.all_told() {
                let logged = told.id.as_deref().map(|id| self.logged_flight(id));
                if let Some(Ok(flight)) = logged {
                    self.hold(flight);
                }
            }
            Ok(came)
        })
    }

    fn came_in(&self, bytes: &[u8], asked: &PutIn) -> Result<CameIn, ApiError> {
        // Whatever became of its name on the way.
        if bytes.starts_with(br#"{"format":"windfall-archive/"#) {
            return self.archive_in(bytes);
        }
        let format = Format::of(&asked.name)?;
        if format == Format::Archive {
            return self.archive_in(bytes);
        }
        let into = asked.into.as_deref().map(|name| self.logged_flight(name)).transpose()?;
        if let (None, Brought::Drawing(drawing)) = (&into, exchange::read(format, bytes)?) {
            return Ok(CameIn::Places { count: drawing.items.len() });
        }
        let count = |name: &str| -> Result<usize, ApiError> {
            Ok(self.open_logbook()?.facts_of(about::FLIGHT, name)?.len())
        };
        let before = match exchange::read(format, bytes)? {
            Brought::Flight(flight) => flight.id.as_deref().map_or(Ok(0), count)?,
            Brought::Drawing(_) => asked.into.as_deref().map_or(Ok(0), count)?,
        };
        let imported = self.import_file(bytes, &asked.name, into.as_ref())?;
        let flight = imported.flight.id.unwrap_or_default();
        Ok(CameIn::Flight {
            is_new: before == 0,
            notes: count(&flight)?.saturating_sub(before),
            flight,
            title: imported.flight.title,
            not_taken: imported.not_taken,
        })
    }

    fn archive_in(&self, bytes: &[u8]) -> Result<CameIn, ApiError> {
        let facts: Vec<Fact> = archive::read(exchange::text_in(Format::Archive, bytes)?)?;
        let is_flight = |fact: &&Fact| fact.about == about::FLIGHT && fact.kind == keep::FLIGHT;
        let flights: BTreeSet<&str> = facts.iter().filter(is_flight).map(|fact| &*fact.name).collect();
        let mut known_flights = 0;
        {
            let book = self.open_logbook()?;
            for name in &flights {
                known_flights += usize::from(!book.facts_of(about::FLIGHT, name)?.is_empty());
            }
        }
        let merged = self.import_archive(bytes)?;
        Ok(CameIn::Archive {
            flights: flights.len() - known_flights,
            known_flights,
            notes: merged.added,
            differing: merged.differing.len(),
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use crate::{Api, ApiError, Reply};
    use base64::Engine;
    use base64::engine::general_purpose::STANDARD;
    use serde_json::{Value, json};

    const HERON: &str = include_str!("../../../../sample-data/flights/heron-lost.json");
    const SISKIN: &str = include_str!("../../../../sample-data/flights/siskin-track.json");
    const DOT: &str = "data:image/png;base64,iVBORw0KGgo=";

    fn put(api: &Api, name: &str, bytes: &[u8], into: Option<&str>) -> Result<Value, ApiError> {
        called(api, "bring_file", json!({"file": "it", "at": 0, "base64": STANDARD.encode(bytes)}));
        match api.call("put_in", json!({"file": "it", "name": name, "into": into}))? {
            Reply::Json(text) => Ok(serde_json::from_str(&text).unwrap()),
            Reply::Bytes(_) => panic!("bytes"),
        }
    }

    fn out(api: &Api, format: &str) -> Vec<u8> {
        match api.call("take_out", json!({ "format": format })).unwrap() {
            Reply::Bytes(bytes) => bytes,
            Reply::Json(text) => panic!("{text}"),
        }
    }

    fn facts(api: &Api) -> Vec<windfall_logbook::Fact> {
        api.open_logbook().unwrap().all_facts().unwrap()
    }

    #[test]
    fn an_archive_brings_its_flights_and_photos_and_twice_changes_nothing() {
        let ((_a, here), (_b, there)) = (with_logbook(), with_logbook());
        for text in [HERON, SISKIN] {
            let came = put(&here, "one.json", text.as_bytes(), None).unwrap();
            assert_eq!((&came["kind"], &came["is_new"]), (&json!("flight"), &json!(true)));
        }
        called(&here, "keep_photo", json!({"of": "flight", "id": "heron-lost", "data": DOT}));
        put(&there, "one.json", HERON.as_bytes(), None).unwrap();
        let archive = out(&here, "archive");
        let came = put(&there, "from the other phone.bin", &archive, None).unwrap();
        assert_eq!(
            (&came["kind"], &came["flights"], &came["known_flights"]),
            (&json!("archive"), &json!(1), &json!(1))
        );
        let after = facts(&there);
        let again = put(&there, "logbook.jsonl", &archive, None).unwrap();
        assert_eq!(
            (&again["flights"], &again["known_flights"], &again["notes"]),
            (&json!(0), &json!(2), &json!(0))
        );
        assert_eq!(facts(&there), after);
        let standing = called(&there, "logbook_standing", json!({}));
        assert_eq!((&standing["flights"], &standing["photos"]), (&json!(2), &json!(1)));
        assert_eq!(called(&there, "photos", json!({"of": "flight", "id": "heron-lost"}))[0]["data"], DOT);
        assert_eq!(called(&there, "check_logbook", json!({}))["wrong"], json!([]));

        // Cut off, or with a byte changed: nothing of it.
        let (_c, third) = with_logbook();
        let mut altered = archive.clone();
        altered[archive.len() / 2] ^= 1;
        for bytes in [&archive[..archive.len() - 9], &altered] {
            let error = put(&third, "logbook.jsonl", bytes, None).unwrap_err();
            assert!(error.message.contains("nothing of it is taken"), "{error}");
            assert_eq!(
                error.said.unwrap().to_string(),
                "The file was cut off or altered; nothing of it is taken."
            );
            assert!(facts(&third).is_empty());
        }
    }

    #[test]
    fn places_of_another_device_ask_for_their_flight_and_go_into_it_once() {
        let (_folder, api) = with_logbook();
        called(&api, "tell_flight", json!({"flight": serde_json::from_str::<Value>(HERON).unwrap()}));
        let gpx = br#"<gpx version="1.1" creator="-"><wpt lat="47.53" lon="17.29"><name>upper</name></wpt>
            <wpt lat="47.54" lon="17.29"><name>car</name></wpt></gpx>"#;
        let before = facts(&api);
        assert_eq!(put(&api, "walk.gpx", gpx, None).unwrap(), json!({"kind": "places", "count": 2}));
        assert_eq!(facts(&api), before);
        for notes in [1, 0] {
            let came = put(&api, "walk.gpx", gpx, Some("heron-lost")).unwrap();
            assert_eq!((&came["is_new"], &came["notes"]), (&json!(false), &json!(notes)));
            assert!(came["not_taken"].to_string().contains("car"), "{came}");
        }
        // Also for a flight that was told since the program began.
        let finds = |flight: &Value| {
            flight["evidence"].as_array().unwrap().iter().filter(|it| it["kind"] == "find").count()
        };
        assert_eq!(finds(&called(&api, "show_flight", json!({"id": "heron-lost"}))), 1);

        for (name, bytes, said) in [
            (
                "walk.gpx",
                &br#"<gpx version="1.1" creator="-">
<wpt lat="47,5" lon="17"/></gpx>"#[..],
                "line 2",
            ),
            ("walk.kml", b"<kml><nothing", "line 1"),
            ("finds.csv", b"part,lat_deg,lon_deg\nupper,north,17\n", "line 2, lat_deg"),
            ("walk.doc", b"", "allowed are"),
        ] {
            let before = facts(&api);
            let error = put(&api, name, bytes, Some("heron-lost")).unwrap_err();
            assert!(error.message.contains(said), "{name}: {error}");
            assert_eq!(facts(&api), before);
        }
        assert!(put(&api, "walk.gpx", gpx, Some("nobody")).is_err());
        let missing = api.call("put_in", json!({"file": "none", "name": "walk.gpx"})).unwrap_err();
        assert!(missing.message.contains("none"), "{missing}");
    }

    #[test]
    fn all_flights_leave_in_one_file_of_each_format() {
        let (_folder, api) = with_logbook();
        for text in [HERON, SISKIN] {
            put(&api, "one.json", text.as_bytes(), None).unwrap();
        }
        for (format, begins) in [("gpx", "<?xml"), ("kml", "<?xml"), ("geojson", "{"), ("csv", "flight,")] {
            let text = String::from_utf8(out(&api, format)).unwrap();
            assert!(text.starts_with(begins), "{format}: {}", &text[..40]);
            assert!(text.contains("heron-lost") && text.contains("siskin"), "{format}");
        }
        let refused = api.call("take_out", json!({"format": "flight"})).unwrap_err();
        assert!(refused.message.contains("allowed are gpx"), "{refused}");
        assert!(Api::new(crate::Settings::default()).call("take_out", json!({"format": "gpx"})).is_err());
    }
}
