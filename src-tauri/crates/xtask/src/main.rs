//! Set-up, run and test.
fn main() {}
