use crate::{Api, ApiError, call::guarded};
use chrono::{DateTime, NaiveDate};
use serde::Deserialize;
use windfall_logbook::{Filter, FlightRow};

/// Which flights of the logbook; what is left out does not narrow the list.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ListLog {
    /// In the name or any text of the flight, in any case.
    pub text: Option<String>,
    /// Identifier or name of the rocket, in any case.
    pub rocket: Option<String>,
    /// Launched on this day or later.
    pub from: Option<NaiveDate>,
    /// Launched on this day or earlier.
    pub until: Option<NaiveDate>,
}

impl Api {
    /// Flights of the logbook by the time of their launch; those without one come last. Those set aside are marked.
    ///
    /// # Errors
    /// When no logbook is open or it cannot be read.
    pub fn list_log(&self, asked: &ListLog) -> Result<Vec<FlightRow>, ApiError> {
        let ListLog { text, rocket, from, until } = asked.clone();
        guarded(|| {
            let book = self.open_logbook()?;
            let filter = Filter { text, rocket, from, until, untimed: false };
            let aside = book.flights_set_aside(&filter)?;
            let mut rows = book.flights(&filter)?;
            // What is left of one that was set aside has neither name nor day.
            rows.retain(|row| {
                row.title.is_some() || row.launched_at.is_some() || aside.iter().all(|it| it.name != row.name)
            });
            rows.extend(aside);
            rows.sort_by_cached_key(|row| {
                let at = row.launched_at.as_deref().and_then(|at| DateTime::parse_from_rfc3339(at).ok());
                (at.is_none(), at, row.name.clone())
            });
            Ok(rows)
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::{Value, json};

    #[test]
    fn a_flight_set_aside_keeps_its_name_and_day_in_the_log_and_is_no_more_among_those_of_today() {
        let (_folder, api) = with_logbook();
        let at = crate::clock::now();
        let flight = |name: &str| {
            let find = json!({"kind": "find", "part": "rocket", "at": {"lat": 47.5, "lon": 17.3}});
            let flight = json!({"format": "windfall-flight/1", "title": format!("{name}, flown"), "pad": {"lat": 47.5, "lon": 17.3},
                "rocket": {"name": name, "stages": [{"motor": "C6-5"}]}, "launch": {"at": at}, "evidence": [find]});
            called(&api, "tell_flight", json!({ "flight": flight }))["id"].clone()
        };
        let (linnet, _) = (flight("Linnet"), flight("Bunting"));
        let word = called(&api, "story", json!({"flight": linnet}))["word"].clone();
        let aside = called(&api, "set_aside", json!({"id": word}));
        let rows = called(&api, "list_log", json!({"text": "linnet", "rocket": "Linnet"}));
        let [row] = &rows.as_array().unwrap()[..] else { panic!("{rows}") };
        assert_eq!(
            (&row["title"], &row["launched_at"], &row["set_aside"]),
            (&json!("Linnet, flown"), &json!(at), &json!(true))
        );
        assert_eq!(called(&api, "list_log", json!({"rocket": "Bunting"})).as_array().map(Vec::len), Some(1));
        assert_eq!(called(&api, "list_log", json!({"until": "2020-01-01"})), json!([]));
        let today = || {
            let lines = called(&api, "list_flights", json!({}));
            lines.as_array().unwrap().iter().map(|it| it["rocket"].clone()).collect::<Vec<_>>()
        };
        assert_eq!(today(), ["Bunting"]);
        called(&api, "undo", json!({"id": aside}));
        assert_eq!(today(), ["Linnet", "Bunting"]);
        let rows = called(&api, "list_log", json!({}));
        assert_eq!([&rows[0]["set_aside"], &rows[1]["set_aside"]], [&Value::Bool(false); 2]);
    }
}
