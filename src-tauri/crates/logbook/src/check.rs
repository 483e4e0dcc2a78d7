use crate::{Logbook, LogbookError, PHOTO, projections};
use rusqlite::Connection;

impl Logbook {
    /// Looks the whole file over: the file itself, every fact's JSON, corrections of facts that are not there, pictures, and
    /// whether the tables are what the facts say. What is wrong, in words; nothing is changed.
    ///
    /// # Errors
    /// When the file cannot be read at all.
    pub fn check(&mut self) -> Result<Vec<String>, LogbookError> {
        let (mut wrong, named) = looked_over(&mut self.db)
            .and_then(|wrong| Ok((wrong, pictures(&self.db)?)))
            .map_err(|error| error.explained(&self.file))?;
        let missing = named.into_iter().filter(|(_, name)| self.photo(name).is_none());
        wrong.extend(
            missing.map(|(fact, name)| format!("fact {fact} names the picture {name}, which is not there")),
        );
        Ok(wrong)
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

fn looked_over(db: &mut Connection) -> Result<Vec<String>, LogbookError> {
    let listed = |db: &Connection, sql: &str| -> Result<Vec<String>, LogbookError> {
        Ok(db.prepare(sql)?.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?)
    };
    let mut wrong = listed(db, "PRAGMA integrity_check")?;
    wrong.retain(|line| line != "ok");
    wrong.extend(listed(db, "SELECT 'fact ' || id || ' is no JSON' FROM fact WHERE NOT json_valid(json)")?);
    wrong.extend(listed(
        db,
        "SELECT 'fact ' || id || ' replaces ' || replaces || ', which is not there' FROM fact
         WHERE replaces IS NOT NULL AND replaces NOT IN (SELECT id FROM fact)",
    )?);
    let before = tables(db)?;
    let change = db.transaction()?;
    projections::rebuild(&change)?;
    let after = tables(&change)?;
    change.rollback()?;
    for (((table, _), before), after) in projections::TABLES.iter().zip(before).zip(after) {
        if before != after {
            wrong.push(format!("table {table} is not what the facts say"));
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
