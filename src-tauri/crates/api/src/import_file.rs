use crate::{Api, ApiError, Code, background, call::guarded, photos};
use windfall_facts::Flight;
use windfall_logbook::exchange::{self, Brought, Format, archive, incoming};
use windfall_logbook::{Fact, Merged};

/// What a file brought to a flight.
#[derive(Clone, Debug, PartialEq)]
pub struct Imported {
    /// The flight with what was taken.
    pub flight: Flight,
    /// Pieces of evidence and hazards that it did not have before.
    pub taken: usize,
    /// What could not be taken, and why, in words.
    pub not_taken: Vec<String>,
}

impl Api {
    /// Takes what the file `bytes` has: a flight file brings a flight of its own, any other file brings finds, searches,
    /// areas and hazards to the flight `into`. What was there stays; the facts are kept in the logbook, if one is open.
    ///
    /// `from` is the name of the file, or the word for its format: flight, gpx, kml, geojson, csv.
    ///
    /// # Errors
    /// Names the line and the field of the first thing that cannot be used; then nothing of the file is taken.
    pub fn import_file(&self, bytes: &[u8], from: &str, into: Option<&Flight>) -> Result<Imported, ApiError> {
        guarded(|| {
            let imported = match exchange::read(Format::of(from)?, bytes)? {
                Brought::Flight(flight) => {
                    let taken = flight.evidence.len();
                    Imported { flight: *flight, taken, not_taken: Vec::new() }
                }
                Brought::Drawing(drawing) => {
                    let into = into.ok_or_else(|| {
                        let message =
                            "flight: a file of places and tracks needs a flight to go into; name one";
                        ApiError::new(Code::BadRequest, message)
                    })?;
                    let offer = incoming::offer(&drawing, into);
                    let taken =
                        offer.evidence.len() + offer.hazards.len() + usize::from(offer.outline.is_some());
                    Imported { flight: offer.added_to(into)?, taken, not_taken: offer.not_taken }
                }
            };
            self.keep_facts(&imported.flight)?;
            Ok(imported)
        })
    }

    /// Takes all facts of an archive into the logbook, or none of them; twice changes nothing.
    ///
    /// # Errors
    /// When no logbook is open; when the file is no archive, was cut off or altered.
    pub fn import_archive(&self, bytes: &[u8]) -> Result<Merged, ApiError> {
        guarded(|| {
            let facts: Vec<Fact> = archive::read(exchange::text_in(Format::Archive, bytes)?)?;
            let mut book = self.open_logbook()?;
            let facts: Vec<Fact> = facts
                .into_iter()
                .map(|fact| background::unpacked(&book, photos::unpacked(&book, fact)?))
                .collect::<Result<_, _>>()?;
            Ok(book.merge_facts(&facts)?)
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::{Api, Code, Settings};

    const FLIGHT: &[u8] = include_bytes!("../../../../sample-data/flights/heron-lost.json");
    const WAYPOINT: &str = r#"<gpx version="1.1" creator="-"><wpt lat="47.53" lon="17.29"><name>rocket</name></wpt>
        <wpt lat="47.54" lon="17.29"><name>car</name></wpt></gpx>"#;

    #[test]
    fn a_waypoint_becomes_a_find_and_a_bad_file_changes_nothing() {
        let api = Api::new(Settings::default());
        let flight = api.import_file(FLIGHT, "heron.json", None).unwrap().flight;
        let imported = api.import_file(WAYPOINT.as_bytes(), "walk.gpx", Some(&flight)).unwrap();
        assert_eq!((imported.taken, imported.not_taken.len()), (1, 1));
        assert_eq!(imported.flight.evidence.len(), flight.evidence.len() + 1);

        let refused = |bytes: &[u8], from: &str| api.import_file(bytes, from, Some(&flight)).unwrap_err();
        let bad = WAYPOINT.replace("47.54", "47,54");
        assert_eq!(refused(bad.as_bytes(), "gpx").code, Code::BadFlight);
        assert_eq!(refused(b"", "walk.doc").code, Code::BadRequest);
        assert_eq!(api.import_file(WAYPOINT.as_bytes(), "gpx", None).unwrap_err().code, Code::BadRequest);
    }

    #[test]
    fn a_logbook_goes_through_an_archive_unchanged() {
        let (here, there) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let api = Api::new(Settings::default()).with_logbook(here.path()).unwrap();
        api.import_file(FLIGHT, "heron.json", None).unwrap();
        let text = api.export_archive(true).unwrap();
        let other = Api::new(Settings::default()).with_logbook(there.path()).unwrap();
        let cut = &text.as_bytes()[..text.len() - 9];
        assert_eq!(other.import_archive(cut).unwrap_err().code, Code::BadFlight);
        assert!(other.open_logbook().unwrap().all_facts().unwrap().is_empty());
        let merged = other.import_archive(text.as_bytes()).unwrap();
        let facts = api.open_logbook().unwrap().all_facts().unwrap();
        assert_eq!((merged.added, merged.known), (facts.len(), 0));
        assert_eq!(other.open_logbook().unwrap().all_facts().unwrap(), facts);
        assert_eq!(other.import_archive(text.as_bytes()).unwrap().added, 0);
    }

    #[test]
    fn a_flight_that_was_exported_corrected_and_imported_again_is_corrected_and_merges_as_one() {
        let (here, there) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let open = |folder: &std::path::Path| Api::new(Settings::default()).with_logbook(folder).unwrap();
        let (ours, theirs) = (open(here.path()), open(there.path()));
        ours.import_file(FLIGHT, "heron.json", None).unwrap();
        let pieces = |api: &Api| api.logged_flight("heron-lost").unwrap().evidence;
        let before = pieces(&ours);
        let text = ours.export_logged("heron-lost", "flight").unwrap();
        let facts = |api: &Api| api.open_logbook().unwrap().all_facts().unwrap().len();
        let count = facts(&ours);
        ours.import_file(text.as_bytes(), "heron.json", None).unwrap();
        assert_eq!(facts(&ours), count, "nothing new was said");

        let mut file: serde_json::Value = serde_json::from_str(&text).unwrap();
        let look =
            file["evidence"].as_array_mut().unwrap().iter_mut().find(|it| it["kind"] == "sighting").unwrap();
        for (key, value) in
            [("moment", "descent".into()), ("observer", "Wren".into()), ("bearing_deg", 12.into())]
        {
            look[key] = value;
        }
        let text = file.to_string();
        for _ in 0..2 {
            ours.import_file(text.as_bytes(), "heron.json", None).unwrap();
            assert_eq!((pieces(&ours).len(), facts(&ours)), (before.len(), count + 1));
        }
        assert!(pieces(&ours).iter().any(|it| matches!(it, windfall_facts::Evidence::Sighting(it)
            if it.observer.as_deref() == Some("Wren") && it.bearing_deg == Some(12.0))));

        // Another logbook has it from the file; merged, each piece counts once.
        theirs.import_file(text.as_bytes(), "heron.json", None).unwrap();
        for _ in 0..2 {
            theirs.merge_logbook(here.path()).unwrap();
            assert_eq!(pieces(&theirs).len(), before.len());
        }
    }
}
