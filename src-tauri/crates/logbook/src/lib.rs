//! What was said about each flight, rocket, field, motor, phone and day, kept for good: the only crate that knows SQL.
//!
//! A fact is a row of (id, about, name, kind, version, replaces, JSON). Facts are the one truth: they are added and
//! never changed or deleted; a correction, a setting aside and an undo are facts too. Everything else in the file is
//! derived from the facts, in the same transaction, and can be made anew. A new kind of fact needs no migration.

mod aside;
mod backup;
mod book;
mod check;
mod content_name;
mod daily;
mod error;
pub mod exchange;
mod fact;
mod in_force;
mod lessons;
mod list;
mod map_files;
pub mod mbtiles;
mod merge;
mod photos;
mod projections;
mod schema;
#[cfg(test)]
mod told;
pub mod whole_file;

pub use backup::{Backup, Counted};
pub use book::{Logbook, Word};
pub use check::Wrong;
pub use daily::DailyLook;
pub use error::LogbookError;
pub use fact::{Fact, SET_ASIDE, UNDO, about};
pub use lessons::Counting;
pub use list::{Filter, FlightRow};
pub use map_files::{MapContent, MapFileError, MapFiles};
pub use merge::Merged;
pub use photos::PHOTO;
