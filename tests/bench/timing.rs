//! Milliseconds, for the benches of the logbook.
#![expect(clippy::disallowed_methods, reason = "a bench reads the clock")]

use std::time::Instant;

/// Median milliseconds of so many runs.
pub(crate) fn median_ms(runs: u32, mut work: impl FnMut(u32)) -> f64 {
    median((0..runs).map(|run| timed(|| work(run))).collect())
}

/// The same, with something done before each run that is not counted.
#[allow(dead_code, reason = "one of the benches")]
pub(crate) fn median_ms_after(runs: u32, mut before: impl FnMut(u32), mut work: impl FnMut()) -> f64 {
    let one = |run| {
        before(run);
        timed(&mut work)
    };
    median((0..runs).map(one).collect())
}

fn timed(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64() * 1e3
}

fn median(mut all: Vec<f64>) -> f64 {
    all.sort_by(f64::total_cmp);
    all[all.len() / 2]
}
