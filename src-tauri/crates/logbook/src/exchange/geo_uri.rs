//! `geo:` links to a place (RFC 5870), as other programs on the same phone open them.
//!
//! Why not the crate `geo-uri` 0.2? It forgets parameters it does not know, undoes no percent-encoding, and takes
//! numbers that the grammar does not allow, as `geo:1e1,nan`.
//!
//! # Source
//! RFC 5870: the grammar of section 3.3, the poles and the 180th meridian, and the examples of section 6.4. The grammar
//! is from memory, the examples second-hand.

use super::drawing::{latitude, longitude};
use core::fmt;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, percent_decode_str, utf8_percent_encode};
use windfall_facts::{LatLon, Sentence};

/// `unreserved` and `p-unreserved` of the grammar; everything else is percent-encoded.
const ENCODED: &AsciiSet = &NON_ALPHANUMERIC
    .remove(b'-')
    .remove(b'_')
    .remove(b'.')
    .remove(b'!')
    .remove(b'~')
    .remove(b'*')
    .remove(b'\'')
    .remove(b'(')
    .remove(b')')
    .remove(b'[')
    .remove(b']')
    .remove(b':')
    .remove(b'&')
    .remove(b'+')
    .remove(b'$');

/// A place in a link.
#[derive(Clone, Debug, PartialEq)]
pub struct GeoUri {
    /// Where, WGS 84.
    pub at: LatLon,
    /// Height above the ellipsoid, metres.
    pub altitude_m: Option<f64>,
    /// Radius in all directions, metres.
    pub uncertainty_m: Option<f64>,
    /// Parameters that this program gives no meaning to, in their order.
    pub others: Vec<(String, Option<String>)>,
}

/// A text that is no link to a place.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("geo link, {field}: {why}")]
pub struct GeoUriError {
    /// What of it: `scheme`, `latitude`, `longitude`, `altitude`, `crs`, `u`, or the name of a parameter.
    pub field: String,
    /// What is wrong and what is allowed.
    pub why: Sentence,
}

impl GeoUriError {
    fn new(field: &str, why: Sentence) -> Self {
        Self { field: field.into(), why }
    }
}

impl GeoUri {
    /// A link to a place, with the radius that holds it if that is known.
    #[must_use]
    pub fn new(at: LatLon, uncertainty_m: Option<f64>) -> Self {
        Self { at, altitude_m: None, uncertainty_m, others: Vec::new() }
    }

    /// Reads a link.
    ///
    /// # Errors
    /// When it is no `geo:` link, its coordinates are of another reference system than WGS 84 or out of range, or it
    /// does not follow the grammar.
    pub fn parse(link: &str) -> Result<Self, GeoUriError> {
        let (scheme, path) = link.split_once(':').unwrap_or(("", link));
        if !scheme.eq_ignore_ascii_case("geo") {
            return Err(GeoUriError::new("scheme", Sentence::NotAGeoLink { written: link.into() }));
        }
        let mut pieces = path.split(';');
        let numbers: Vec<&str> = pieces.next().unwrap_or_default().split(',').collect();
        if !(2..=3).contains(&numbers.len()) {
            return Err(GeoUriError::new("coordinates", Sentence::LinkNumbers { numbers: numbers.len() }));
        }
        let mut uri = Self::new(
            LatLon {
                lat: of_grammar(numbers[0], "latitude", true, latitude)?,
                lon: of_grammar(numbers[1], "longitude", true, longitude)?,
            },
            None,
        );
        let finite = |it: &str| super::error::number(it, -1e9, 1e9);
        uri.altitude_m = numbers.get(2).map(|it| of_grammar(it, "altitude", true, finite)).transpose()?;
        for (index, piece) in pieces.enumerate() {
            let (name, value) = piece.split_once('=').map_or((piece, None), |(name, it)| (name, Some(it)));
            let is_name = |c: char| c.is_ascii_alphanumeric() || c == '-';
            if name.is_empty() || !name.chars().all(is_name) {
                return Err(GeoUriError::new(
                    "parameter",
                    Sentence::NoParameterName { written: name.into() },
                ));
            }
            let name = name.to_ascii_lowercase();
            match name.as_str() {
                "crs" if index > 0 => return Err(GeoUriError::new("crs", Sentence::FirstOrNotAtAll {})),
                "crs" if value.is_some_and(|it| it.eq_ignore_ascii_case("wgs84")) => {}
                "crs" => {
                    let (written, allowed) = (value.unwrap_or_default().into(), "wgs84".into());
                    return Err(GeoUriError::new("crs", Sentence::OneOfThese { written, allowed }));
                }
                "u" if uri.uncertainty_m.is_some() || !uri.others.is_empty() => {
                    return Err(GeoUriError::new("u", Sentence::OnceBeforeOthers {}));
                }
                "u" => {
                    let value = value.unwrap_or_default();
                    uri.uncertainty_m = Some(of_grammar(value, "u", false, finite)?);
                }
                _ => uri.others.push((name.clone(), value.map(|it| decoded(it, &name)).transpose()?)),
            }
        }
        Ok(uri)
    }
}

/// `num` of the grammar: digits, or digits with a point and more digits; no exponent, no plus, no bare point.
fn of_grammar(
    written: &str,
    field: &str,
    signed: bool,
    read: impl Fn(&str) -> Result<f64, Sentence>,
) -> Result<f64, GeoUriError> {
    let digits = written.strip_prefix('-').filter(|_| signed).unwrap_or(written);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits = |it: &str| !it.is_empty() && it.bytes().all(|byte| byte.is_ascii_digit());
    if !all_digits(whole) || !all_digits(part) {
        return Err(GeoUriError::new(field, Sentence::NumberAsIn { written: written.into() }));
    }
    read(written).map_err(|why| GeoUriError::new(field, why))
}

fn decoded(value: &str, field: &str) -> Result<String, GeoUriError> {
    let refused = || GeoUriError::new(field, Sentence::NotPercentEncoded { written: value.into() });
    let bytes = value.as_bytes();
    let whole = |at: usize| bytes.get(at + 1..at + 3).is_some_and(|it| it.iter().all(u8::is_ascii_hexdigit));
    let escaped = bytes.iter().enumerate().all(|(at, byte)| *byte != b'%' || whole(at));
    let allowed = utf8_percent_encode(value, ENCODED).to_string().replace("%25", "%") == value;
    if !escaped || !allowed {
        return Err(refused());
    }
    percent_decode_str(value).decode_utf8().map(Into::into).map_err(|_| refused())
}

impl fmt::Display for GeoUri {
    /// The canonical spelling: on a pole longitude 0, on the 180th meridian 180, no negative zero.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plain = |degrees: f64| if degrees == 0.0 { 0.0 } else { degrees };
        let LatLon { lat, lon } = self.at;
        let lon = if lat.abs() >= 90.0 {
            0.0
        } else if lon <= -180.0 {
            180.0
        } else {
            lon
        };
        write!(formatter, "geo:{},{}", plain(lat), plain(lon))?;
        if let Some(altitude_m) = self.altitude_m {
            write!(formatter, ",{}", plain(altitude_m))?;
        }
        if let Some(uncertainty_m) = self.uncertainty_m {
            write!(formatter, ";u={}", plain(uncertainty_m))?;
        }
        for (name, value) in &self.others {
            write!(formatter, ";{name}")?;
            if let Some(value) = value {
                write!(formatter, "={}", utf8_percent_encode(value, ENCODED))?;
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parsed(link: &str) -> GeoUri {
        GeoUri::parse(link).unwrap()
    }

    fn refused(link: &str) -> String {
        GeoUri::parse(link).unwrap_err().to_string()
    }

    /// Source: RFC 5870, sections 1 and 6 (second-hand, from the tests of public libraries that quote them).
    #[test]
    fn the_examples_of_rfc_5870_are_read() {
        let simple = parsed("geo:13.4125,103.8667");
        assert_eq!(simple.at, LatLon { lat: 13.4125, lon: 103.8667 });
        let vienna = parsed("geo:48.2010,16.3695,183");
        assert_eq!(vienna.altitude_m, Some(183.0));
        assert_eq!(parsed("geo:48.198634,16.371648;crs=wgs84;u=40").uncertainty_m, Some(40.0));
        // Section 6.4: the same place, written in two ways.
        assert_eq!(parsed("geo:90,-22.43;crs=WGS84").to_string(), parsed("geo:90,46").to_string());
        assert_eq!(parsed("geo:22.300,-118.44").at, parsed("geo:22.3,-118.4400").at);
        assert_eq!(parsed("geo:66,30;u=6.500;FOo=this%2dthat"), parsed("geo:66.0,30;u=6.5;foo=this-that"));
        assert_eq!(parsed("GeO:66,30").at, LatLon { lat: 66.0, lon: 30.0 });
    }

    #[test]
    fn poles_and_the_180th_meridian_have_one_spelling() {
        assert_eq!(parsed("geo:-90,12").to_string(), "geo:-90,0");
        assert_eq!(parsed("geo:10,-180").to_string(), parsed("geo:10,180").to_string());
        assert_eq!(parsed("geo:-0,-0.0").to_string(), "geo:0,0");
    }

    #[test]
    fn what_the_grammar_does_not_allow_is_refused_with_what_is() {
        for (link, said) in [
            ("http://x", "geo link, scheme: \"http://x\" does not begin with geo:"),
            ("geo:1", "geo link, coordinates: numbers: 1; allowed are latitude, longitude and a height"),
            (
                "geo:1e1,2",
                "geo link, latitude: \"1e1\" is no number as these links have it: digits, a point, digits",
            ),
            (
                "geo:nan,2",
                "geo link, latitude: \"nan\" is no number as these links have it: digits, a point, digits",
            ),
            (
                "geo:+1,2",
                "geo link, latitude: \"+1\" is no number as these links have it: digits, a point, digits",
            ),
            (
                "geo:1.,2",
                "geo link, latitude: \"1.\" is no number as these links have it: digits, a point, digits",
            ),
            (
                "geo:91,2",
                "geo link, latitude: 91 is out of range; allowed is -90 to 90, with a decimal point",
            ),
            (
                "geo:1,181",
                "geo link, longitude: 181 is out of range; allowed is -180 to 180, with a decimal point",
            ),
            ("geo:1,2;crs=utm", "geo link, crs: \"utm\"; allowed: wgs84"),
            ("geo:1,2;u=3;crs=wgs84", "geo link, crs: it comes first or not at all"),
            (
                "geo:1,2;u=-3",
                "geo link, u: \"-3\" is no number as these links have it: digits, a point, digits",
            ),
            ("geo:1,2;a=1;u=3", "geo link, u: it comes once, before all parameters but crs"),
            ("geo:1,2;a=%4", "geo link, a: \"%4\" is not percent-encoded UTF-8, which is allowed"),
            ("geo:1,2;a=%ff", "geo link, a: \"%ff\" is not percent-encoded UTF-8, which is allowed"),
            ("geo:1,2;a=b c", "geo link, a: \"b c\" is not percent-encoded UTF-8, which is allowed"),
            ("geo:1,2;", "geo link, parameter: \"\" is no name; allowed are letters, digits and -"),
        ] {
            assert_eq!(refused(link), said);
        }
    }

    #[test]
    fn a_link_reads_back_as_it_was_written() {
        let mut link = GeoUri::new(LatLon { lat: 47.123_456, lon: -8.123_456 }, Some(4.0));
        link.altitude_m = Some(-12.5);
        link.others =
            vec![("name".into(), Some("Tinker's Pond, 50 % wet; östlich".into())), ("flag".into(), None)];
        let written = link.to_string();
        assert!(
            written.starts_with("geo:47.123456,-8.123456,-12.5;u=4;name=Tinker's%20Pond%2C%20"),
            "{written}"
        );
        assert_eq!(parsed(&written), link);
    }
}
