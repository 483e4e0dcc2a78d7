//! Tables that answer questions: derived from the facts, kept with them in one transaction, and made anew at will.
//!
//! All rows about one thing are a function of the facts about that thing. Whenever a fact is added, the rows about its
//! thing are made again, so running upkeep and rebuilding cannot differ. Kinds that no table asks for are passed over.

use crate::in_force::{Line, Standing, sort_out};
use crate::{LogbookError, about};
use rusqlite::{Connection, OptionalExtension, params};
use serde_json::Value;

/// Every table here, with the columns that order it.
pub(crate) const TABLES: [(&str, &str); 4] =
    [("in_force", "about, name, root"), ("flight", "name"), ("motor", "name"), ("search", "flight, part")];

const MAKE: &str = "
    DROP TABLE IF EXISTS in_force;
    DROP TABLE IF EXISTS flight;
    DROP TABLE IF EXISTS motor;
    DROP TABLE IF EXISTS search;
    -- The wording of each first word that counts. `set_aside`: kept, not used.
    CREATE TABLE in_force (
        about     TEXT    NOT NULL,
        name      TEXT    NOT NULL,
        root      TEXT    NOT NULL,
        fact      TEXT    NOT NULL,
        kind      TEXT    NOT NULL,
        set_aside INTEGER NOT NULL,
        PRIMARY KEY (about, name, root)
    ) STRICT, WITHOUT ROWID;
    CREATE INDEX in_force_kind ON in_force (about, kind, name, fact);
    -- A line of the list of flights. `launched_s`: Unix time; `found`: a JSON list of parts; `words`: lower case.
    CREATE TABLE flight (
        name        TEXT NOT NULL PRIMARY KEY,
        title       TEXT,
        rocket      TEXT,
        rocket_name TEXT,
        field       TEXT,
        launched_at TEXT,
        launched_s  INTEGER,
        found       TEXT NOT NULL,
        how         TEXT,
        cause       TEXT,
        words       TEXT NOT NULL
    ) STRICT;
    -- Motors in the box: the sum of what came and went.
    CREATE TABLE motor (
        name    TEXT    NOT NULL PRIMARY KEY,
        on_hand INTEGER NOT NULL
    ) STRICT, WITHOUT ROWID;
    -- Searches that go on. `since`: the fact that opened it.
    CREATE TABLE search (
        flight TEXT NOT NULL,
        part   TEXT NOT NULL,
        since  TEXT NOT NULL,
        PRIMARY KEY (flight, part)
    ) STRICT, WITHOUT ROWID;
";

/// Kinds whose JSON is long and holds nothing that a table asks for.
const NOT_READ: [&str; 5] = ["answer", "track", "samples", "sweep", "photo"];

/// Keys whose texts the list of flights is searched by.
const WORDS: [&str; 10] =
    ["title", "name", "designation", "motor", "condition", "observer", "cover", "how", "cause", "note"];

/// Makes all tables anew from the facts.
pub(crate) fn rebuild(change: &Connection) -> Result<(), LogbookError> {
    change.execute_batch(MAKE)?;
    let mut things = change.prepare("SELECT DISTINCT about, name FROM fact")?;
    let mut rows = things.query([])?;
    while let Some(row) = rows.next()? {
        project(change, &row.get::<_, String>(0)?, &row.get::<_, String>(1)?)?;
    }
    Ok(())
}

/// Makes all rows about one thing anew.
pub(crate) fn project(change: &Connection, about: &str, name: &str) -> Result<(), LogbookError> {
    let thing = [about, name];
    let lines: Vec<Line> = change
        .prepare_cached("SELECT id, kind, replaces FROM fact WHERE about = ?1 AND name = ?2 ORDER BY id")?
        .query_map(thing, |row| Ok(Line { id: row.get(0)?, kind: row.get(1)?, replaces: row.get(2)? }))?
        .collect::<Result<_, _>>()?;
    let (standings, _) = sort_out(&lines);
    change.prepare_cached("DELETE FROM in_force WHERE about = ?1 AND name = ?2")?.execute(thing)?;
    let mut insert = change.prepare_cached(
        "INSERT INTO in_force (about, name, root, fact, kind, set_aside) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?;
    let mut used: Vec<&Line> = Vec::new();
    for Standing { root, current, set_aside, .. } in standings {
        let Some(current) = current else { continue };
        let line = &lines[current];
        insert.execute(params![about, name, lines[root].id, line.id, line.kind, set_aside])?;
        if !set_aside {
            used.push(line);
        }
    }
    match about {
        about::FLIGHT => flight(change, name, &used),
        about::MOTOR => motor(change, name, &used),
        _ => Ok(()),
    }
}

/// What a fact says; null if its JSON cannot be read, which no table can do anything about.
fn json(change: &Connection, id: &str) -> Result<Value, LogbookError> {
    let text: Option<String> = change
        .prepare_cached("SELECT json FROM fact WHERE id = ?1")?
        .query_row([id], |row| row.get(0))
        .optional()?;
    Ok(text.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default())
}

fn flight(change: &Connection, name: &str, used: &[&Line]) -> Result<(), LogbookError> {
    change.prepare_cached("DELETE FROM flight WHERE name = ?1")?.execute([name])?;
    change.prepare_cached("DELETE FROM search WHERE flight = ?1")?.execute([name])?;
    if used.is_empty() {
        return Ok(());
    }
    // Of several, the one noted last counts.
    let (mut ground, mut outcome) = (Value::Null, Value::Null);
    let mut words = name.to_lowercase();
    let mut found: Vec<String> = Vec::new();
    let mut searches: Vec<(String, Option<&str>)> = Vec::new();
    let mut in_time = used.to_vec();
    in_time.sort_by(|a, b| a.id.cmp(&b.id));
    for line in in_time.into_iter().filter(|line| !NOT_READ.contains(&&*line.kind)) {
        let said = json(change, &line.id)?;
        if said["set_aside"] == true {
            continue;
        }
        collect_words(&said, &mut words);
        let part = || said["part"].as_str().map(str::to_owned);
        match (&*line.kind, part()) {
            ("flight", _) => ground = said,
            ("outcome", _) => outcome = said,
            ("find", Some(part)) if !found.contains(&part) => found.push(part),
            ("search", Some(part)) => {
                searches.retain(|(other, _)| *other != part);
                searches.push((part, (said["open"] == true).then_some(&line.id)));
            }
            _ => {}
        }
    }
    let text =
        |value: &Value, pointer: &str| value.pointer(pointer).and_then(Value::as_str).map(str::to_owned);
    change
        .prepare_cached(
            "INSERT INTO flight (name, title, rocket, rocket_name, field, launched_at, launched_s, found, how, cause, words)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, unixepoch(upper(?6)), ?7, ?8, ?9, ?10)",
        )?
        .execute(params![
            name,
            text(&ground, "/title"),
            text(&ground, "/rocket/id"),
            text(&ground, "/rocket/name"),
            text(&ground, "/field/name").or_else(|| text(&ground, "/field/id")),
            text(&ground, "/launch/at"),
            Value::from(&*found).to_string(),
            text(&outcome, "/how"),
            text(&outcome, "/cause"),
            words,
        ])?;
    let mut insert = change.prepare_cached("INSERT INTO search (flight, part, since) VALUES (?1, ?2, ?3)")?;
    for (part, since) in searches {
        // What is found is no longer searched for.
        if let Some(since) = since.filter(|_| !found.contains(&part)) {
            insert.execute([name, &part, since])?;
        }
    }
    Ok(())
}

fn motor(change: &Connection, name: &str, used: &[&Line]) -> Result<(), LogbookError> {
    change.prepare_cached("DELETE FROM motor WHERE name = ?1")?.execute([name])?;
    let mut on_hand = None;
    for line in used.iter().filter(|line| line.kind == "stock") {
        let came = json(change, &line.id)?["change"].as_i64().unwrap_or(0);
        on_hand = Some(on_hand.unwrap_or(0_i64).saturating_add(came));
    }
    if let Some(on_hand) = on_hand {
        change
            .prepare_cached("INSERT INTO motor (name, on_hand) VALUES (?1, ?2)")?
            .execute(params![name, on_hand])?;
    }
    Ok(())
}

/// Adds the texts below [`WORDS`], in lower case.
fn collect_words(said: &Value, words: &mut String) {
    match said {
        Value::Object(keys) => {
            for (key, value) in keys {
                match value {
                    Value::String(text) if WORDS.contains(&&**key) => {
                        words.push('\n');
                        words.push_str(&text.to_lowercase());
                    }
                    _ => collect_words(value, words),
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| collect_words(item, words)),
        _ => {}
    }
}

#[cfg(test)]
mod tests {
    use crate::told::{book, day_without_plan, fact, replacing};
    use crate::{Filter, SET_ASIDE};
    use serde_json::json;

    #[test]
    fn rebuilding_gives_row_for_row_what_running_upkeep_gave() {
        for seed in 0..5 {
            let (_folder, mut book) = book();
            for said in day_without_plan(seed, "a") {
                book.add(&said).unwrap();
            }
            assert!(!book.flights(&Filter::default()).unwrap().is_empty());
            assert_eq!(book.check().unwrap(), [], "seed {seed}");
        }
    }

    #[test]
    fn a_table_that_is_not_what_the_facts_say_is_noticed_and_made_anew() {
        let (_folder, mut book) = book();
        book.add_all(&day_without_plan(1, "a")).unwrap();
        book.db.execute("UPDATE motor SET on_hand = on_hand + 1", []).unwrap();
        assert_eq!(book.check().unwrap(), [crate::Wrong::Table("motor")]);
        book.rebuild().unwrap();
        assert_eq!(book.check().unwrap(), []);
    }

    #[test]
    fn motors_on_hand_are_what_came_less_what_went() {
        let (_folder, mut book) = book();
        let stock = |id: &str, change: i64| fact(id, "motor C6-5", "stock", json!({ "change": change }));
        book.add_all(&[stock("1", 6), stock("2", -1), stock("3", -1)]).unwrap();
        assert_eq!(book.motors_on_hand().unwrap(), [("C6-5".into(), 4)]);
        book.add(&replacing("2", fact("4", "motor C6-5", SET_ASIDE, json!({})))).unwrap();
        assert_eq!(book.motors_on_hand().unwrap(), [("C6-5".into(), 5)]);
    }

    #[test]
    fn a_search_is_open_until_it_is_closed_or_the_part_is_found() {
        let (_folder, mut book) = book();
        let search = |id: &str, part: &str, open: bool| {
            fact(id, "flight heron", "search", json!({ "part": part, "open": open }))
        };
        book.add_all(&[search("1", "upper", true), search("2", "lower", true)]).unwrap();
        let part = |part: &str| ("heron".to_owned(), part.to_owned());
        assert_eq!(book.open_searches().unwrap(), [part("upper"), part("lower")]);
        book.add(&fact("3", "flight heron", "find", json!({"part": "upper"}))).unwrap();
        assert_eq!(book.open_searches().unwrap(), [part("lower")]);
        book.add(&search("4", "lower", false)).unwrap();
        assert_eq!(book.open_searches().unwrap(), []);
        // The find was a mistake.
        book.add(&replacing("3", fact("5", "flight heron", SET_ASIDE, json!({})))).unwrap();
        assert_eq!(book.open_searches().unwrap(), [part("upper")]);
    }
}
