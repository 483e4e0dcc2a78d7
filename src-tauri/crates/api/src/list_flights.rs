use crate::{Api, ApiError, clock, day};
use chrono::DateTime;
use core::cmp::Reverse;
use serde::Serialize;
use windfall_facts::{Evidence, Flight};
use windfall_logbook::{Filter, FlightRow};

/// One line of the list of flights.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FlightLine {
    /// By which the other calls know it.
    pub id: String,
    /// A line that tells this flight from others.
    pub title: String,
    /// Name of the rocket; empty if it has none.
    pub rocket: String,
    /// First motion, RFC 3339, if known.
    pub launched_at: Option<String>,
    /// What was found so far; null if the file cannot be read.
    pub standing: Option<Standing>,
    /// Names of the parts found.
    pub found: Vec<String>,
    /// Why the file cannot be read.
    pub error: Option<ApiError>,
}

/// How far the search has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Nothing found.
    Lost,
    /// Something found, something missing.
    PartlyFound,
    /// Every stage found.
    Found,
}

impl Api {
    /// The flights of the day, the latest first: by launch time, without one by when they were told; what has neither
    /// comes last. A file that cannot be read is listed with its error, so that it is not silently missed. A flight that was set aside is looked for by nobody: the log has it.
    ///
    /// # Errors
    /// When no field day is open or its folder cannot be read.
    pub fn list_flights(&self) -> Result<Vec<FlightLine>, ApiError> {
        let told = self.all_told();
        let is_told = |id: &String| told.iter().any(|flight| flight.id.as_ref() == Some(id));
        let mut lines: Vec<_> = self
            .files()?
            .into_iter()
            .filter(|(id, _)| !is_told(id))
            .map(|(id, path)| match day::read_file(&path) {
                Ok(flight) => line(id, &flight),
                Err(error) => FlightLine {
                    title: id.clone(),
                    id,
                    rocket: String::new(),
                    launched_at: None,
                    standing: None,
                    found: Vec::new(),
                    error: Some(error),
                },
            })
            .chain(told.iter().filter_map(|flight| Some(line(flight.id.clone()?, flight))))
            .collect();
        // What the logbook has of today, and what was lost nobody said when, so that a program that was closed goes on where it was.
        for row in self.rows_of_today()? {
            if lines.iter().all(|line| line.id != row.name)
                && let Ok(flight) = self.logged_flight(&row.name)
            {
                lines.push(line(row.name, &flight));
            }
        }
        if let Some(book) = self.logbook_if_open() {
            let aside = book.flights_set_aside(&Filter::default())?;
            lines.retain(|line| aside.iter().all(|row| row.name != line.id));
        }
        lines.sort_by_cached_key(|line| {
            let told_at = || clock::noted_at(&line.id);
            let at = line.launched_at.clone().or_else(told_at);
            let at = at.and_then(|at| DateTime::parse_from_rfc3339(&at).ok());
            (Reverse(at), line.id.clone())
        });
        Ok(lines)
    }
}

/// Parts and stages that were found.
fn found(flight: &Flight) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    for piece in &flight.evidence {
        if let Evidence::Find(find) = piece
            && !find.set_aside
            && !found.contains(&find.part)
        {
            found.push(find.part.clone());
        }
    }
    found
}

fn line(id: String, flight: &Flight) -> FlightLine {
    let found = found(flight);
    let title = flight.title.clone().or_else(|| flight.rocket.name.clone()).unwrap_or_else(|| id.clone());
    FlightLine {
        id,
        title,
        rocket: flight.rocket.name.clone().unwrap_or_default(),
        launched_at: flight.launch.at.clone(),
        standing: Some(standing(flight, &found)),
        found,
        error: None,
    }
}

impl Api {
    /// Flights of today; and those without a launch time of which nothing was found or said how it ended.
    fn rows_of_today(&self) -> Result<Vec<FlightRow>, ApiError> {
        if !self.has_logbook() {
            return Ok(Vec::new());
        }
        let today = Some(clock::today());
        let book = self.open_logbook()?;
        let mut rows = book.flights(&Filter { from: today, until: today, ..Filter::default() })?;
        let untimed = book.flights(&Filter { untimed: true, ..Filter::default() })?;
        rows.extend(untimed.into_iter().filter(|row| row.found.is_empty() && row.how.is_none()));
        Ok(rows)
    }
}

/// What of a flight was not found: stages, or their parts if one of them was.
pub(crate) fn missing(flight: &Flight) -> Vec<String> {
    let found = found(flight);
    let has = |name: &str| found.iter().any(|part| part == name);
    let mut missing = Vec::new();
    for (index, stage) in flight.rocket.stages.iter().enumerate() {
        let name = flight.rocket.stage_name(index);
        let parts = &stage.splits_into;
        if has(&name) {
            continue;
        }
        if parts.iter().any(|part| has(&part.name)) {
            missing.extend(parts.iter().map(|part| part.name.clone()).filter(|part| !has(part)));
        } else {
            missing.push(name);
        }
    }
    missing
}

/// A stage is found if it was found as a whole or in all its parts.
fn standing(flight: &Flight, found: &[String]) -> Standing {
    let has = |name: &str| found.iter().any(|part| part == name);
    let complete = flight.rocket.stages.iter().enumerate().all(|(index, stage)| {
        let parts = &stage.splits_into;
        has(&flight.rocket.stage_name(index)) || !parts.is_empty() && parts.iter().all(|part| has(&part.name))
    });
    match (found.is_empty(), complete) {
        (true, _) => Standing::Lost,
        (false, true) => Standing::Found,
        (false, false) => Standing::PartlyFound,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Code, Reply};
    use serde_json::json;
    use std::fs;
    use windfall_inference::Settings;

    fn file(launched_at: Option<&str>, found: &[&str]) -> String {
        let finds: Vec<_> = found
            .iter()
            .map(|part| json!({"kind": "find", "part": part, "at": {"lat": 47.0, "lon": 8.0}}))
            .collect();
        json!({
            "format": "windfall-flight/1",
            "pad": {"lat": 47.0, "lon": 8.0},
            "rocket": {"name": "Heron", "stages": [{"motor": "C6-5", "dry_mass_g": 62, "splits_into": [
                {"name": "upper", "mass_g": 24, "carries_recovery": true},
                {"name": "lower", "mass_g": 38, "carries_motor": true}]}]},
            "launch": {"at": launched_at},
            "evidence": finds,
        })
        .to_string()
    }

    fn day(files: &[(&str, String)]) -> (tempfile::TempDir, Api) {
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in files {
            fs::write(folder.path().join(name), text).unwrap();
        }
        let api = Api::new(Settings::default()).with_day(folder.path());
        (folder, api)
    }

    #[test]
    fn the_flight_launched_last_comes_first() {
        // As instants: 10:05 at +02:00 is before 08:30 at +00:00.
        let (_folder, api) = day(&[
            ("a.json", file(None, &[])),
            ("b.json", file(Some("2026-06-14T08:30:00+00:00"), &[])),
            ("c.json", file(Some("2026-06-14T10:05:00+02:00"), &[])),
            ("notes.txt", "no flight".into()),
        ]);
        let ids: Vec<_> = api.list_flights().unwrap().into_iter().map(|line| line.id).collect();
        assert_eq!(ids, ["b", "c", "a"]);
    }

    #[test]
    fn what_is_told_now_comes_before_what_flew_today_though_nobody_said_when() {
        let (_folder, api) = day(&[("a.json", file(Some("2026-06-14T08:30:00+00:00"), &[]))]);
        let told = json!({"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3},
            "rocket": {"stages": [{"motor": "C"}]}, "launch": {"timed_by": "recalled"}});
        let Ok(Reply::Json(reply)) = api.call("tell_flight", json!({"flight": told})) else { panic!("told") };
        let ids: Vec<_> = api.list_flights().unwrap().into_iter().map(|line| line.id).collect();
        assert_eq!(ids.len(), 2);
        assert!(reply.to_string().contains(&ids[0]), "{ids:?} {reply}");
    }

    #[test]
    fn a_flight_is_found_when_all_its_parts_are() {
        let (_folder, api) = day(&[
            ("a.json", file(None, &[])),
            ("b.json", file(None, &["lower"])),
            ("c.json", file(None, &["lower", "upper"])),
        ]);
        let standings: Vec<_> = api.list_flights().unwrap().into_iter().map(|line| line.standing).collect();
        assert_eq!(standings, [Some(Standing::Lost), Some(Standing::PartlyFound), Some(Standing::Found)]);
    }

    #[test]
    fn a_file_that_cannot_be_read_is_listed_with_its_error() {
        let (_folder, api) = day(&[("a.json", "{".into()), ("b.json", file(None, &[]))]);
        let lines = api.list_flights().unwrap();
        assert_eq!(lines.len(), 2);
        assert!(lines[0].error.is_some() && lines[1].error.is_none());
    }

    #[test]
    fn an_identifier_never_reaches_outside_the_day() {
        let (folder, api) = day(&[("a.json", file(None, &[]))]);
        let outside = folder.path().parent().unwrap().join("windfall-outside.json");
        fs::write(&outside, file(None, &[])).unwrap();
        let error = api.call("show_flight", json!({"id": "../windfall-outside"})).unwrap_err();
        fs::remove_file(outside).unwrap();
        assert_eq!(error.code, Code::NotFound);
        assert!(matches!(api.call("show_flight", json!({"id": "a"})), Ok(Reply::Json(_))));
    }

    #[test]
    fn what_was_lost_nobody_said_when_is_listed_by_a_program_that_was_closed_meanwhile() {
        let folder = tempfile::tempdir().unwrap();
        let open = || Api::new(Settings::default()).with_logbook(folder.path()).unwrap();
        let told = |id: &str, launch: &str, found: bool| {
            let find = json!({"kind": "find", "part": "rocket", "at": {"lat": 47.5, "lon": 17.3}});
            let at = (!launch.is_empty()).then_some(launch);
            json!({"flight": {"format": "windfall-flight/1", "id": id, "pad": {"lat": 47.5, "lon": 17.3},
                "rocket": {"stages": [{"motor": "C"}]}, "launch": {"at": at, "timed_by": "recalled"},
                "evidence": if found { vec![find] } else { vec![] }}})
        };
        let before = open();
        for flight in [
            told("lost", "", false),
            told("found", "", true),
            told("long-ago", "2026-05-16T10:00:00Z", false),
        ] {
            before.call("tell_flight", flight).unwrap();
        }
        drop(before);
        let names: Vec<_> = open().list_flights().unwrap().into_iter().map(|line| line.id).collect();
        assert_eq!(names, ["lost"]);
    }

    #[test]
    fn a_misspelt_argument_is_refused() {
        let (_folder, api) = day(&[("a.json", file(None, &[]))]);
        let error = api.call("locate_flight", json!({"id": "a", "form": null})).unwrap_err();
        assert_eq!(error.code, Code::BadRequest);
        assert!(error.message.contains("form"), "{}", error.message);
        assert_eq!(api.call("fly_to_the_moon", json!({})).unwrap_err().code, Code::NotFound);
    }
}
