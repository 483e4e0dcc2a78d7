//! What flights taught, kept so that it need not be worked out again. Not a fact: it may be thrown away.

use crate::{Logbook, LogbookError};
use rusqlite::{OptionalExtension, params};
use serde_json::Value;

impl Logbook {
    /// What `flight` taught when it was read as `read` says; none if it was never read so.
    ///
    /// # Errors
    /// When the file cannot be read.
    pub fn lesson(&self, flight: &str, read: &str) -> Result<Option<Value>, LogbookError> {
        let text: Option<String> = self.read(|db| {
            let mut query = db.prepare_cached("SELECT json FROM lesson WHERE flight = ?1 AND read = ?2")?;
            Ok(query.query_row([flight, read], |row| row.get(0)).optional()?)
        })?;
        Ok(text.and_then(|text| serde_json::from_str(&text).ok()))
    }

    /// Keeps what `flight` taught, in place of what it taught before.
    ///
    /// # Errors
    /// When the file cannot be written.
    pub fn keep_lesson(&mut self, flight: &str, read: &str, lesson: &Value) -> Result<(), LogbookError> {
        let text = lesson.to_string();
        self.write(|change| {
            change.execute(
                "INSERT OR REPLACE INTO lesson (flight, read, json) VALUES (?1, ?2, ?3)",
                params![flight, read, text],
            )?;
            Ok(())
        })
    }
}

#[cfg(test)]
mod tests {
    use crate::Logbook;
    use crate::told::day;
    use serde_json::json;

    #[test]
    fn a_lesson_counts_only_for_the_facts_it_was_read_from() {
        let folder = tempfile::tempdir().unwrap();
        let mut book = Logbook::open(folder.path(), day(16)).unwrap();
        book.keep_lesson("heron", "facts 1", &json!({"found": true})).unwrap();
        assert_eq!(book.lesson("heron", "facts 1").unwrap(), Some(json!({"found": true})));
        assert_eq!(book.lesson("heron", "facts 1, 2").unwrap(), None);
        book.keep_lesson("heron", "facts 1, 2", &json!({"found": false})).unwrap();
        assert_eq!(book.lesson("heron", "facts 1").unwrap(), None);
    }
}
