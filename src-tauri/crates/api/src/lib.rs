//! Not laid out yet.
