use rusqlite::Row;
use serde::{Deserialize, Serialize};
use serde_json::Value;

/// Kind of a fact that sets the one it replaces aside: kept, shown, not used.
pub const SET_ASIDE: &str = "set_aside";

/// Kind of a fact that takes the one it replaces back: a correction, a setting aside, an undo, or a first word.
pub const UNDO: &str = "undo";

/// What facts can be about: the words this program knows. Others are kept as well.
pub mod about {
    /// A flight, by its identifier.
    pub const FLIGHT: &str = "flight";
    /// A rocket of the fleet.
    pub const ROCKET: &str = "rocket";
    /// A field.
    pub const FIELD: &str = "field";
    /// A motor in the box, by its designation.
    pub const MOTOR: &str = "motor";
    /// A phone that bearings are taken with.
    pub const PHONE: &str = "phone";
    /// A day on the field, as in 2026-05-16.
    pub const DAY: &str = "day";
}

/// One thing that was said or measured. Never changed, never deleted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fact {
    /// Identifier; identifiers sort by the time the fact was noted.
    pub id: String,
    /// What it is about, see [`about`].
    pub about: String,
    /// Which one of these.
    pub name: String,
    /// What kind of fact it is.
    pub kind: String,
    /// Version of the kind.
    pub version: u32,
    /// The earlier fact about the same thing that this one corrects, sets aside or takes back.
    pub replaces: Option<String>,
    /// What it says.
    pub json: Value,
}

/// A row as it is stored; its JSON is still text.
#[derive(Debug)]
pub(crate) struct Stored {
    pub(crate) id: String,
    pub(crate) about: String,
    pub(crate) name: String,
    pub(crate) kind: String,
    pub(crate) version: u32,
    pub(crate) replaces: Option<String>,
    pub(crate) json: String,
}

impl Stored {
    /// In the order [`Stored::of`] reads them.
    pub(crate) const COLUMNS: &str =
        "fact.id, fact.about, fact.name, fact.kind, fact.version, fact.replaces, fact.json";

    pub(crate) fn of(row: &Row<'_>) -> rusqlite::Result<Self> {
        Ok(Self {
            id: row.get(0)?,
            about: row.get(1)?,
            name: row.get(2)?,
            kind: row.get(3)?,
            version: row.get(4)?,
            replaces: row.get(5)?,
            json: row.get(6)?,
        })
    }

    pub(crate) fn read(self) -> Result<Fact, crate::LogbookError> {
        let Self { id, about, name, kind, version, replaces, json } = self;
        match serde_json::from_str(&json) {
            Ok(json) => Ok(Fact { id, about, name, kind, version, replaces, json }),
            Err(source) => Err(crate::LogbookError::Unreadable { id, source }),
        }
    }
}
