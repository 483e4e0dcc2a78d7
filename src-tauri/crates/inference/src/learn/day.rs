//! The wind that a flight met, as a reading for the next one.

use crate::cloud::{Cloud, Draw};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use windfall_facts::{Flight, WindReading};

/// The mean wind of one flight, at the height where it is known best.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Sounding {
    /// When, RFC 3339.
    pub at: String,
    /// Where, as the site is named.
    pub site: String,
    /// Above the ground, m.
    pub height_m: f64,
    /// Mean and standard deviation of the logarithm of the speed (m/s).
    pub ln_speed: [f64; 2],
    /// Where it blew towards, clockwise from true north, and the standard deviation, rad.
    pub towards_rad: [f64; 2],
    /// The readings it rests on, which must not count again.
    pub readings: Vec<WindReading>,
}

/// Heights at which the wind is read off a flight, m: where readings are taken, and half-way up.
const HEIGHTS_M: [f64; 4] = [2.0, 10.0, 30.0, 80.0];

/// Name of the site: as the flyer has it, or the pad to a kilometre or so.
pub(crate) fn site(flight: &Flight) -> String {
    let named = flight.field.as_ref().and_then(|field| field.id.clone().or_else(|| field.name.clone()));
    named.unwrap_or_else(|| format!("{:.2},{:.2}", flight.pad.lat, flight.pad.lon))
}

/// The local day of a moment (RFC 3339); none if that is none.
pub(super) fn day_of(at: Option<&str>) -> Option<NaiveDate> {
    chrono::DateTime::parse_from_rfc3339(at?).ok().map(|it| it.date_naive())
}

/// The wind that a flight met; none if it has no time, or says no more of the wind than its readings did.
pub(super) fn sounding(cloud: &Cloud, described: &[&Draw], total: f64) -> Option<Sounding> {
    let at = cloud.flight.launch.at.clone()?;
    if total <= 0.0 || total.is_nan() || cloud.contradicted || cloud.witnesses.pieces.is_empty() {
        return None;
    }
    let profiles: Vec<_> = described
        .iter()
        .map(|draw| (draw.weight / total, cloud.model.profile(draw.mode, &draw.theta)))
        .collect();
    let of_height = |height_m: f64| {
        let winds = profiles.iter().map(|(weight, profile)| (*weight, profile.at(height_m)));
        let (mut ln, mut square, mut way) = (0.0, 0.0, [0.0; 2]);
        for (weight, (east, north)) in winds {
            let speed = east.hypot(north).max(0.05);
            ln += weight * speed.ln();
            square += weight * speed.ln() * speed.ln();
            way = [way[0] + weight * east / speed, way[1] + weight * north / speed];
        }
        // The length of the mean direction is exp(-variance / 2).
        let length = way[0].hypot(way[1]).clamp(1e-6, 1.0 - 1e-9);
        Sounding {
            at: at.clone(),
            site: site(&cloud.flight),
            height_m,
            ln_speed: [ln, (square - ln * ln).max(1e-6).sqrt()],
            towards_rad: [way[0].atan2(way[1]), (-2.0 * length.ln()).sqrt()],
            readings: cloud.flight.wind.clone(),
        }
    };
    HEIGHTS_M
        .into_iter()
        .map(of_height)
        .min_by(|a, b| {
            let spread = |it: &Sounding| it.ln_speed[1].hypot(it.towards_rad[1]);
            spread(a).total_cmp(&spread(b))
        })
        .filter(|it| it.ln_speed[1] < 1.0)
}
