use crate::{Logbook, LogbookError};
use chrono::NaiveDate;
use rusqlite::params;
use serde::Serialize;
use serde_json::Value;
use std::collections::HashMap;

/// Which flights to list; what is left out does not narrow the list.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Filter {
    /// In the name or any text of the flight, in any case.
    pub text: Option<String>,
    /// Identifier or name of the rocket, in any case.
    pub rocket: Option<String>,
    /// Launched on this day or later, as the launch time was written; flights without one are left out.
    pub from: Option<NaiveDate>,
    /// Launched on this day or earlier, likewise.
    pub until: Option<NaiveDate>,
    /// Only those whose launch time nobody told.
    pub untimed: bool,
}

/// A line of the list of flights.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct FlightRow {
    /// Identifier.
    pub name: String,
    /// A line that tells it from others.
    pub title: Option<String>,
    /// Name of the rocket, or its identifier.
    pub rocket: Option<String>,
    /// Name of the field, or its identifier.
    pub field: Option<String>,
    /// First motion, RFC 3339, as noted.
    pub launched_at: Option<String>,
    /// Parts found.
    pub found: Vec<String>,
    /// Parts that are still searched for.
    pub searched: Vec<String>,
    /// How it came down, as the flyer closed it.
    pub how: Option<String>,
    /// Why, as the flyer closed it.
    pub cause: Option<String>,
    /// Kept but not used.
    pub set_aside: bool,
}

impl Filter {
    /// Whether a flight is wanted of which `said` was noted.
    fn wants(&self, name: &str, said: &Value) -> bool {
        let has = |text: &str| {
            let text = text.to_lowercase();
            name.to_lowercase().contains(&text) || said.to_string().to_lowercase().contains(&text)
        };
        let is = |rocket: &str, key: &str| {
            said["rocket"][key].as_str().is_some_and(|it| it.to_lowercase() == rocket.to_lowercase())
        };
        let day = said["launch"]["at"].as_str().and_then(|at| at.get(..10));
        let on = |limit: Option<NaiveDate>, fits: fn(&str, &str) -> bool| {
            limit.is_none_or(|limit| day.is_some_and(|day| fits(day, &limit.to_string())))
        };
        self.text.as_deref().is_none_or(has)
            && self.rocket.as_deref().is_none_or(|it| is(it, "id") || is(it, "name"))
            && on(self.from, |day, from| day >= from)
            && on(self.until, |day, until| day <= until)
            && !(self.untimed && day.is_some())
    }
}

impl Logbook {
    /// Flights that were set aside, by name: what they were called, when and with what they flew. No table has them, for
    /// nothing is reckoned from them.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn flights_set_aside(&self, filter: &Filter) -> Result<Vec<FlightRow>, LogbookError> {
        let grounds: Vec<(String, String)> = self.read(|db| {
            let mut query = db.prepare_cached(
                "SELECT fact.name, fact.json FROM in_force JOIN fact ON fact.id = in_force.fact
                 WHERE in_force.about = 'flight' AND in_force.kind = 'flight' AND in_force.set_aside ORDER BY fact.id",
            )?;
            let rows = query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })?;
        let row = |(name, json): (String, String)| {
            let said: Value = serde_json::from_str(&json).ok()?;
            let text = |pointer: &str| said.pointer(pointer).and_then(Value::as_str).map(str::to_owned);
            filter.wants(&name, &said).then(|| FlightRow {
                title: text("/title"),
                rocket: text("/rocket/name").or_else(|| text("/rocket/id")),
                field: text("/field/name").or_else(|| text("/field/id")),
                launched_at: text("/launch/at"),
                found: Vec::new(),
                searched: Vec::new(),
                how: None,
                cause: None,
                set_aside: true,
                name,
            })
        };
        Ok(grounds.into_iter().filter_map(row).collect())
    }

    /// Flights by the time of their launch; those without one come last.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn flights(&self, filter: &Filter) -> Result<Vec<FlightRow>, LogbookError> {
        let day = |day: Option<NaiveDate>| day.map(|day| day.to_string());
        let mut searched: HashMap<String, Vec<String>> = HashMap::new();
        for (flight, part) in self.open_searches()? {
            searched.entry(flight).or_default().push(part);
        }
        self.read(|db| {
            // Put in order here: SQLite would carry every column through its sorter.
            let mut query = db.prepare_cached(
                "SELECT name, title, coalesce(rocket_name, rocket), field, launched_at, found, how, cause, launched_s
                 FROM flight
                 WHERE (?1 IS NULL OR instr(words, ?1))
                   AND (?2 IS NULL OR rocket = ?2 COLLATE NOCASE OR rocket_name = ?2 COLLATE NOCASE)
                   AND (?3 IS NULL OR substr(launched_at, 1, 10) >= ?3)
                   AND (?4 IS NULL OR substr(launched_at, 1, 10) <= ?4)
                   AND (NOT ?5 OR launched_at IS NULL)",
            )?;
            let text = filter.text.as_deref().map(str::to_lowercase);
            let rows = query.query_map(
                params![text, filter.rocket, day(filter.from), day(filter.until), filter.untimed],
                |row| {
                    let name: String = row.get(0)?;
                    let found = match row.get_ref(5)?.as_str()? {
                        "[]" => Vec::new(),
                        parts => serde_json::from_str(parts).unwrap_or_default(),
                    };
                    let launched_s: Option<i64> = row.get(8)?;
                    let line = FlightRow {
                        searched: searched.remove(&name).unwrap_or_default(),
                        name,
                        title: row.get(1)?,
                        rocket: row.get(2)?,
                        field: row.get(3)?,
                        launched_at: row.get(4)?,
                        found,
                        how: row.get(6)?,
                        cause: row.get(7)?,
                        set_aside: false,
                    };
                    Ok((launched_s, line))
                },
            )?;
            let mut rows: Vec<(Option<i64>, FlightRow)> = rows.collect::<Result<_, _>>()?;
            rows.sort_unstable_by(|(a_s, a), (b_s, b)| {
                (a_s.is_none(), a_s, &a.name).cmp(&(b_s.is_none(), b_s, &b.name))
            });
            Ok(rows.into_iter().map(|row| row.1).collect())
        })
    }

    /// Designations of the motors in the box, and how many of each.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn motors_on_hand(&self) -> Result<Vec<(String, i64)>, LogbookError> {
        self.read(|db| {
            let mut query = db.prepare_cached("SELECT name, on_hand FROM motor ORDER BY name")?;
            Ok(query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?)
        })
    }

    /// Things of one sort of which something is known, be it set aside: all phones, say.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn names_of(&self, about: &str) -> Result<Vec<String>, LogbookError> {
        self.read(|db| {
            let mut query =
                db.prepare_cached("SELECT DISTINCT name FROM in_force WHERE about = ?1 ORDER BY name")?;
            Ok(query.query_map([about], |row| row.get(0))?.collect::<Result<_, _>>()?)
        })
    }

    /// Searches that go on, as (flight, part), the longest open first.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn open_searches(&self) -> Result<Vec<(String, String)>, LogbookError> {
        self.read(|db| {
            let mut query = db.prepare_cached("SELECT flight, part FROM search ORDER BY since")?;
            Ok(query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::told::{book, day, fact, ground};
    use serde_json::json;

    fn names(book: &Logbook, filter: &Filter) -> Vec<String> {
        book.flights(filter).unwrap().into_iter().map(|row| row.name).collect()
    }

    #[test]
    fn flights_come_in_the_order_they_were_launched_and_those_without_a_time_last() {
        let (_folder, mut book) = book();
        // As instants: 10:05 at +02:00 is before 08:30 at +00:00.
        book.add(&fact("1", "flight a", "flight", json!({}))).unwrap();
        book.add(&ground("2", "b", "Heron", "2026-06-14T08:30:00Z")).unwrap();
        book.add(&ground("3", "c", "Heron", "2026-06-14t10:05:00.5+02:00")).unwrap();
        assert_eq!(names(&book, &Filter::default()), ["c", "b", "a"]);
    }

    #[test]
    fn flights_are_filtered_by_text_rocket_and_day() {
        let (_folder, mut book) = book();
        book.add(&ground("1", "a", "Heron", "2026-05-16T23:30:00-02:00")).unwrap();
        book.add(&ground("2", "b", "Égret", "2026-05-18T10:00:00+02:00")).unwrap();
        book.add(&fact("3", "flight b", "find", json!({"part": "rocket", "condition": "Fin chipped"})))
            .unwrap();
        let by = |text: Option<&str>, rocket: Option<&str>, from: Option<u32>, until: Option<u32>| {
            let [text, rocket] = [text, rocket].map(|it| it.map(str::to_owned));
            names(&book, &Filter { text, rocket, from: from.map(day), until: until.map(day), untimed: false })
        };
        assert_eq!(by(Some("QUILLMERE"), None, None, None), ["a", "b"]);
        assert_eq!(by(Some("fin CHIP"), None, None, None), ["b"]);
        assert_eq!(by(Some("éGRET"), None, None, None), ["b"]);
        assert_eq!(by(Some("100%"), None, None, None), [""; 0]);
        assert_eq!(by(None, Some("heron"), None, None), ["a"]);
        assert_eq!(by(None, None, Some(17), None), ["b"]);
        // The day it was on the field, not in Greenwich.
        assert_eq!(by(None, None, Some(16), Some(16)), ["a"]);
        assert_eq!(by(Some("chipped"), Some("heron"), None, None), [""; 0]);
    }

    #[test]
    fn a_line_says_what_was_found_and_how_it_ended() {
        let (_folder, mut book) = book();
        book.add(&ground("1", "a", "Heron", "2026-05-16T10:00:00+02:00")).unwrap();
        book.add(&fact("2", "flight a", "search", json!({"part": "upper", "open": true}))).unwrap();
        book.add(&fact("3", "flight a", "find", json!({"part": "lower"}))).unwrap();
        book.add(&fact("4", "flight a", "outcome", json!({"how": "came_apart", "cause": "old cord"})))
            .unwrap();
        let row = book.flights(&Filter::default()).unwrap().swap_remove(0);
        assert_eq!((row.found, row.searched), (vec!["lower".into()], vec!["upper".into()]));
        assert_eq!((row.how.as_deref(), row.cause.as_deref()), (Some("came_apart"), Some("old cord")));
    }
}
