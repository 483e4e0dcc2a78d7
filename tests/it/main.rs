//! Checks against the world outside.
#![allow(clippy::unwrap_used, reason = "in a test a missing table or file is a failure")]

mod exchange;
mod facts;
mod faults;
mod gpsd;
mod heads_up;
mod oracle;
mod posterior;
mod reference;
mod season;
mod twin;
