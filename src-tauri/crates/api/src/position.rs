//! Where this computer is, from the receiver that `gpsd` reads.
//!
//! The protocol is that of `gpsd_json(5)`, major version 3: a line of JSON a message, told apart by `class`.

use crate::{Api, ApiError, Code, clock, locked};
use serde::{Deserialize, Serialize};
use std::io::{BufRead, BufReader, ErrorKind, Write};
use std::net::{SocketAddr, TcpStream};
use std::time::Duration;

/// Where gpsd listens unless told otherwise: `gpsd(8)`, option `-S`.
const GPSD: SocketAddr = SocketAddr::new(std::net::IpAddr::V4(std::net::Ipv4Addr::LOCALHOST), 2947);
/// A receiver speaks once a second: so long is waited for its next word.
const PATIENCE: Duration = Duration::from_millis(2500);
/// What was not asked for so long has old words in store: it is asked afresh, s.
const STALE_S: f64 = 4.0;
/// Where the receiver states no error: judgement.
const UNSTATED_M: f64 = 15.0;

/// Where this computer is.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Fix {
    /// Degrees, WGS 84.
    pub lat: f64,
    /// Degrees, WGS 84.
    pub lon: f64,
    /// Radius that holds the place, m, as the receiver states it.
    pub accuracy_m: f64,
    /// Course over ground, degrees from true north.
    pub course_deg: Option<f64>,
    /// Speed over ground, m/s.
    pub speed_mps: Option<f64>,
}

/// A line of gpsd; only `TPV` says a place, and only in mode 2 (without height) and 3 (with it).
#[derive(Debug, Deserialize)]
struct Report {
    class: String,
    #[serde(default)]
    mode: u8,
    lat: Option<f64>,
    lon: Option<f64>,
    eph: Option<f64>,
    epx: Option<f64>,
    epy: Option<f64>,
    track: Option<f64>,
    speed: Option<f64>,
}

impl Report {
    fn fix(&self) -> Option<Fix> {
        let (lat, lon) = (self.lat?, self.lon?);
        let both = || Some(self.epx?.hypot(self.epy?)); // before gpsd 3.20
        (self.class == "TPV" && self.mode >= 2).then_some(Fix {
            lat,
            lon,
            accuracy_m: self.eph.or_else(both).unwrap_or(UNSTATED_M),
            course_deg: self.track,
            speed_mps: self.speed,
        })
    }
}

/// A conversation with gpsd.
#[derive(Debug)]
pub(crate) struct Gpsd {
    lines: BufReader<TcpStream>,
    asked_s: f64,
}

impl Gpsd {
    fn call(address: SocketAddr) -> std::io::Result<Self> {
        let mut stream = TcpStream::connect_timeout(&address, PATIENCE)?;
        stream.set_read_timeout(Some(PATIENCE))?;
        stream.write_all(b"?WATCH={\"enable\":true,\"json\":true};\n")?;
        Ok(Self { lines: BufReader::new(stream), asked_s: clock::unix_s() })
    }

    /// The next place it says; none if it says none in time.
    fn next(&mut self) -> std::io::Result<Option<Fix>> {
        let since_s = clock::unix_s();
        self.asked_s = since_s;
        let mut line = String::new();
        while clock::unix_s() - since_s < PATIENCE.as_secs_f64() {
            line.clear();
            match self.lines.read_line(&mut line) {
                Ok(0) => return Err(ErrorKind::UnexpectedEof.into()),
                Ok(_) => {}
                Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => break,
                Err(error) => return Err(error),
            }
            // Whatever else it says is of other things.
            let report = serde_json::from_str::<Report>(&line).ok();
            if let Some(fix) = report.and_then(|report| report.fix()) {
                self.asked_s = clock::unix_s();
                return Ok(Some(fix));
            }
        }
        Ok(None)
    }
}

impl Api {
    /// Asks a gpsd at `address` where this computer is, and not the one at its usual place.
    #[must_use]
    pub fn with_gpsd(mut self, address: SocketAddr) -> Self {
        self.gpsd_at = Some(address);
        self
    }

    /// The next place that gpsd says; none if it has no receiver, or the receiver has no position yet. Nothing is
    /// listened to before the first call.
    ///
    /// # Errors
    /// When no gpsd answers.
    pub fn position(&self) -> Result<Option<Fix>, ApiError> {
        let address = self.gpsd_at.unwrap_or(GPSD);
        let none = |error: std::io::Error| {
            let message =
                format!("no gpsd answers at {address}: connect a receiver and start gpsd ({error})");
            ApiError::new(Code::NotFound, message)
        };
        let mut held = locked(&self.gpsd);
        let fresh = held.take().filter(|gpsd| clock::unix_s() - gpsd.asked_s < STALE_S);
        let mut gpsd = fresh.map_or_else(|| Gpsd::call(address), Ok).map_err(none)?;
        let fix = gpsd.next().map_err(none)?;
        *held = Some(gpsd);
        Ok(fix)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fix(line: &str) -> Option<Fix> {
        serde_json::from_str::<Report>(line).ok()?.fix()
    }

    #[test]
    fn only_a_position_in_two_or_three_dimensions_is_one() {
        let at = r#""lat":47.5,"lon":17.25"#;
        let got =
            fix(&format!(r#"{{"class":"TPV","mode":3,{at},"eph":7.5,"track":12.5,"speed":1.25}}"#)).unwrap();
        let wanted =
            Fix { lat: 47.5, lon: 17.25, accuracy_m: 7.5, course_deg: Some(12.5), speed_mps: Some(1.25) };
        assert_eq!(got, wanted);
        for none in [
            format!(r#"{{"class":"TPV","mode":1,{at}}}"#),
            format!(r#"{{"class":"SKY","mode":3,{at}}}"#),
            r#"{"class":"TPV","mode":2}"#.into(),
            "no JSON".into(),
        ] {
            assert_eq!(fix(&none), None, "{none}");
        }
        let old = fix(&format!(r#"{{"class":"TPV","mode":2,{at},"epx":3,"epy":4}}"#)).unwrap();
        assert!((old.accuracy_m - 5.0).abs() < 1e-12);
        assert!(fix(&format!(r#"{{"class":"TPV","mode":2,{at}}}"#)).unwrap().accuracy_m > 10.0);
    }

    #[test]
    fn where_no_gpsd_is_the_error_says_what_to_do() {
        // A port that was free a moment ago.
        let listener = std::net::TcpListener::bind(("127.0.0.1", 0)).unwrap();
        let address = listener.local_addr().unwrap();
        drop(listener);
        let error = Api::new(crate::Settings::default()).with_gpsd(address).position().unwrap_err();
        assert_eq!(error.code, Code::NotFound);
        assert!(error.message.contains("start gpsd"), "{}", error.message);
    }
}
