use crate::{Logbook, LogbookError, projections};
use rusqlite::Connection;

impl Logbook {
    /// Looks the whole file over: the file itself, every fact's JSON, corrections of facts that are not there, and
    /// whether the tables are what the facts say. What is wrong, in words; nothing is changed.
    ///
    /// # Errors
    /// When the file cannot be read at all.
    pub fn check(&mut self) -> Result<Vec<String>, LogbookError> {
        looked_over(&mut self.db).map_err(|error| error.explained(&self.file))
    }

    /// Makes the tables that are derived from the facts anew.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn rebuild(&mut self) -> Result<(), LogbookError> {
        self.write(projections::rebuild)
    }
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
