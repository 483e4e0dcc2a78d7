//! Checks against the world outside.

mod facts;
