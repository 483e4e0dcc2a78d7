//! Milliseconds, for the benches of the logbook.
#![expect(clippy::disallowed_methods, reason = "a bench reads the clock")]

use std::time::Instant;

/// Median milliseconds of so many runs.
pub(crate) fn median_ms(runs: u32, mut work: impl FnMut(u32)) -> f64 {
    let mut all: Vec<f64> = (0..runs)
        .map(|run| {
            let start = Instant::now();
            work(run);
            start.elapsed().as_secs_f64() * 1e3
        })
        .collect();
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}
