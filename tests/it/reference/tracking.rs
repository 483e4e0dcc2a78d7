//! Tracking by angles.
