//! Checks against the world outside.
