use crate::{Logbook, LogbookError, PHOTO, projections};
use core::fmt;
use rusqlite::Connection;

/// Something wrong with a logbook.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Wrong {
    /// The file itself, as SQLite says it.
    File(String),
    /// The words of this fact are no JSON.
    NoJson(String),
    /// A fact replaces one that is not there.
    NothingReplaced {
        /// The fact.
        fact: String,
        /// What it replaces.
        replaces: String,
    },
    /// A picture is not there, or not what it was.
    NoPicture {
        /// The fact that names it.
        fact: String,
        /// Its name.
        picture: String,
    },
    /// A derived table is not what the facts say.
    Table(&'static str),
}

impl fmt::Display for Wrong {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File(said) => out.write_str(said),
            Self::NoJson(fact) => write!(out, "fact {fact} is no JSON"),
            Self::NothingReplaced { fact, replaces } => {
                write!(out, "fact {fact} replaces {replaces}, which is not there")
            }
            Self::NoPicture { fact, picture } => {
                write!(out, "fact {fact} names the picture {picture}, which is not there")
            }
            Self::Table(table) => write!(out, "table {table} is not what the facts say"),
        }
    }
}

impl Logbook {
    /// Looks the whole file over: the file itself, every fact's JSON, corrections of facts that are not there, pictures, and
    /// whether the tables are what the facts say. What is wrong; nothing is changed.
    ///
    /// # Errors
    /// When the file cannot be read at all.
    pub fn check(&mut self) -> Result<Vec<Wrong>, LogbookError> {
        let (mut wrong, named) = looked_over(&mut self.db)
            .and_then(|wrong| Ok((wrong, pictures(&self.db)?)))
            .map_err(|error| error.explained(&self.file))?;
        let missing = named.into_iter().filter(|(_, name)| self.photo(name).is_none());
        wrong.extend(missing.map(|(fact, picture)| Wrong::NoPicture { fact, picture }));
        Ok(wrong)
    }

    /// What a check found wrong with the file itself, as the refusal that an opening would have given.
    #[must_use]
    pub fn damaged(&self, said: &str) -> LogbookError {
        LogbookError::damaged(&self.file, said)
    }

    /// Makes the tables that are derived from the facts anew.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn rebuild(&mut self) -> Result<(), LogbookError> {
        self.write(projections::rebuild)
    }
}

/// Facts that name a picture, and its name.
fn pictures(db: &Connection) -> Result<Vec<(String, String)>, LogbookError> {
    let mut query = db.prepare(
        "SELECT id, json ->> 'file' FROM fact
         WHERE kind = ?1 AND json_valid(json) AND json ->> 'file' IS NOT NULL ORDER BY id",
    )?;
    Ok(query.query_map([PHOTO], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<Result<_, _>>()?)
}

fn looked_over(db: &mut Connection) -> Result<Vec<Wrong>, LogbookError> {
    let listed = |db: &Connection, sql: &str| -> Result<Vec<[String; 2]>, LogbookError> {
        let row = |row: &rusqlite::Row<'_>| Ok([row.get(0)?, row.get(1)?]);
        Ok(db.prepare(sql)?.query_map([], row)?.collect::<Result<_, _>>()?)
    };
    let said = listed(db, "SELECT integrity_check, '' FROM pragma_integrity_check")?;
    let mut wrong: Vec<Wrong> =
        said.into_iter().filter(|[line, _]| line != "ok").map(|[line, _]| Wrong::File(line)).collect();
    let no_json = listed(db, "SELECT id, '' FROM fact WHERE NOT json_valid(json)")?;
    wrong.extend(no_json.into_iter().map(|[fact, _]| Wrong::NoJson(fact)));
    let dangling = listed(
        db,
        "SELECT id, replaces FROM fact WHERE replaces IS NOT NULL AND replaces NOT IN (SELECT id FROM fact)",
    )?;
    wrong.extend(dangling.into_iter().map(|[fact, replaces]| Wrong::NothingReplaced { fact, replaces }));
    let before = tables(db)?;
    let change = db.transaction()?;
    projections::rebuild(&change)?;
    let after = tables(&change)?;
    change.rollback()?;
    for (((table, _), before), after) in projections::TABLES.iter().zip(before).zip(after) {
        if before != after {
            wrong.push(Wrong::Table(table));
        }
    }
    Ok(wrong)
}

/// Every row of every derived table, as text.
fn tables(db: &Connection) -> Result<Vec<Vec<String>>, LogbookError> {
    let rows = |(table, order): &(&str, &str)| {
        let mut query = db.prepare(&format!("SELECT * FROM {table} ORDER BY {order}"))?;
        let columns = query.column_count();
        let mut rows = query.query([])?;
        let mut all = Vec::new();
        while let Some(row) = rows.next()? {
            let cells: Result<Vec<_>, _> =
                (0..columns).map(|column| row.get::<_, rusqlite::types::Value>(column)).collect();
            all.push(format!("{:?}", cells?));
        }
        Ok(all)
    };
    projections::TABLES.iter().map(rows).collect()
}
