//! The only place that reads a clock.

use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Instant, SystemTime, UNIX_EPOCH};

/// Runs `work` and says how long it took, milliseconds.
#[expect(clippy::disallowed_methods, reason = "the clock lives here")]
pub(crate) fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let start = Instant::now();
    let result = work();
    (result, start.elapsed().as_secs_f64() * 1000.0)
}

/// An identifier that sorts after all that this program gave out before, and by time between programs.
#[expect(clippy::disallowed_methods, reason = "the clock lives here")]
pub(crate) fn next_id() -> String {
    static LAST: AtomicU64 = AtomicU64::new(0);
    let now_us = SystemTime::now().duration_since(UNIX_EPOCH).map_or(0, |since| since.as_micros());
    let now_us = u64::try_from(now_us).unwrap_or(u64::MAX);
    // Two facts in one microsecond, or a clock set back, still get rising identifiers.
    let next = |last: u64| now_us.max(last + 1);
    let last = LAST.fetch_update(Ordering::Relaxed, Ordering::Relaxed, |last| Some(next(last)));
    format!("{:016x}", next(last.unwrap_or_default()))
}

#[cfg(test)]
mod tests {
    use super::next_id;

    #[test]
    fn identifiers_rise() {
        let ids: Vec<_> = (0..1000).map(|_| next_id()).collect();
        assert!(ids.is_sorted_by(|a, b| a < b));
    }
}
