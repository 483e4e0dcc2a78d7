//! The pure crates against tables from outside. What each table is, and how far it is to be trusted, stands in
//! `tests/reference/SOURCES.md` and in the table's own header; tolerances are there too. `cargo xtask checks` writes
//! what each comparison gave into `tests/reference/CHECKS.md`.

mod air;
mod craft;
mod earth;
mod picture;
mod reader;
mod tracking;
mod wind;
