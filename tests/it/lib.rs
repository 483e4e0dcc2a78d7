//! Shared by the suites.
