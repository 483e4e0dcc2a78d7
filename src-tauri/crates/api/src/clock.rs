//! The only place that reads a clock.

use chrono::{DateTime, Local, NaiveDate, SecondsFormat, TimeZone, Utc};
use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant, SystemTime, UNIX_EPOCH};
use uuid::{ContextV7, Timestamp, Uuid};

/// Runs `work` and says how long it took, milliseconds.
#[expect(clippy::disallowed_methods, reason = "the clock lives here")]
pub(crate) fn timed<T>(work: impl FnOnce() -> T) -> (T, f64) {
    let start = Instant::now();
    let result = work();
    (result, start.elapsed().as_secs_f64() * 1000.0)
}

/// Seconds after 1970-01-01T00:00:00Z.
pub(crate) fn unix_s() -> f64 {
    #[expect(clippy::disallowed_methods, reason = "the clock lives here")]
    let now = SystemTime::now().duration_since(UNIX_EPOCH);
    now.unwrap_or_default().as_secs_f64()
}

/// A moment that the flyer's own clock gave, RFC 3339, as [`unix_s`]; by ours if there is none.
pub(crate) fn unix_s_of(now: Option<&str>) -> chrono::ParseResult<f64> {
    now.map_or_else(
        || Ok(unix_s()),
        |text| DateTime::parse_from_rfc3339(text).map(|moment| moment.timestamp() as f64),
    )
}

/// The day it is here.
pub(crate) fn today() -> NaiveDate {
    Local::now().date_naive()
}

/// This second, with the time zone of the device; RFC 3339.
pub(crate) fn now() -> String {
    Local::now().to_rfc3339_opts(SecondsFormat::Secs, false)
}

/// When a flight that is only planned may go up: within five minutes, and the same for a while, so that what was worked out
/// for it stays at hand; as [`now`] writes it.
pub(crate) fn soon() -> String {
    const SLOT_S: i64 = 300;
    let now = Local::now();
    let until = SLOT_S - now.timestamp().rem_euclid(SLOT_S);
    (now + chrono::Duration::seconds(until)).to_rfc3339_opts(SecondsFormat::Secs, false)
}

/// A moment that the system gave, as [`now`] writes it.
pub(crate) fn local(moment: SystemTime) -> String {
    DateTime::<Local>::from(moment).to_rfc3339_opts(SecondsFormat::Secs, false)
}

/// An identifier that sorts after all that this program gave out before, also if the clock was set back, and by time
/// between programs and devices, which cannot clash: a UUID of version 7 (RFC 9562).
#[expect(clippy::disallowed_methods, reason = "the clock lives here")]
pub(crate) fn next_id() -> String {
    static IDS: Mutex<Option<Ids>> = Mutex::new(None);
    let now = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    let mut ids = IDS.lock().unwrap_or_else(PoisonError::into_inner);
    ids.get_or_insert_with(Ids::new).next(now)
}

/// An identifier that also sorts after `earlier`, which another device with a clock ahead of ours may have given out.
pub(crate) fn next_id_after(earlier: &str) -> String {
    let id = next_id();
    if *earlier < *id {
        return id;
    }
    let after = noted(earlier).map_or(Duration::ZERO, |at| at + Duration::from_millis(1));
    // A source of its own: a clock that is far ahead does not pull later identifiers along.
    Ids::new().next(after)
}

/// When the fact with this identifier was noted, by the clock of the device that noted it; RFC 3339, UTC.
pub(crate) fn noted_at(id: &str) -> Option<String> {
    let at: DateTime<Utc> = Utc.timestamp_micros(noted(id)?.as_micros().try_into().ok()?).single()?;
    Some(at.to_rfc3339_opts(SecondsFormat::Millis, true))
}

/// Time since 1970 that an identifier carries: a UUID's, or the microseconds of the first identifiers we gave out.
fn noted(id: &str) -> Option<Duration> {
    if let Ok(uuid) = Uuid::parse_str(id) {
        let (seconds, nanos) = uuid.get_timestamp()?.to_unix();
        return Some(Duration::new(seconds, nanos));
    }
    (id.len() == 16).then(|| u64::from_str_radix(id, 16).ok())?.map(Duration::from_micros)
}

/// A source of rising identifiers.
struct Ids(ContextV7);

impl Ids {
    fn new() -> Self {
        Self(ContextV7::new())
    }

    fn next(&mut self, now: Duration) -> String {
        let at = Timestamp::from_unix(&self.0, now.as_secs(), now.subsec_nanos());
        Uuid::new_v7(at).hyphenated().to_string()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn identifiers_rise_also_between_threads() {
        let threads: Vec<_> =
            (0..4).map(|_| std::thread::spawn(|| (0..1000).map(|_| next_id()).collect::<Vec<_>>())).collect();
        let mut all = Vec::new();
        for thread in threads {
            let ids = thread.join().unwrap();
            assert!(ids.is_sorted_by(|a, b| a < b));
            all.extend(ids);
        }
        all.sort();
        assert!(all.is_sorted_by(|a, b| a < b), "two alike");
    }

    #[test]
    fn identifiers_rise_when_the_clock_is_set_back() {
        let mut ids = Ids::new();
        let given: Vec<_> =
            [5000, 5000, 4000, 1, 5000, 5001].map(|ms| ids.next(Duration::from_millis(ms))).into();
        assert!(given.is_sorted_by(|a, b| a < b), "{given:?}");
    }

    #[test]
    fn two_devices_at_one_moment_give_out_different_identifiers() {
        let now = Duration::from_millis(1_779_000_000_000);
        assert_ne!(Ids::new().next(now), Ids::new().next(now));
    }

    #[test]
    fn a_correction_sorts_after_what_a_device_with_a_clock_ahead_noted() {
        let ahead = Ids::new().next(Duration::from_secs(4_000_000_000));
        assert!(next_id_after(&ahead) > ahead);
        assert!(next_id() < ahead, "later identifiers are not pulled along");
    }

    #[test]
    fn an_identifier_tells_when_the_fact_was_noted() {
        // RFC 9562, appendix A.6: Tuesday, February 22, 2022 2:22:22.00 PM GMT-05:00.
        let published = "017F22E2-79B0-7CC3-98C4-DC0C0C07398F";
        assert_eq!(noted_at(published).unwrap(), "2022-02-22T19:22:22.000Z");
        // The first schema counted microseconds.
        assert_eq!(noted_at("0006525d03d76240").unwrap().len(), 24);
        assert_eq!(noted_at("1"), None);
        assert!("0006525d03d76240" < "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    }
}
