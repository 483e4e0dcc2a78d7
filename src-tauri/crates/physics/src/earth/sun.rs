use solar_positioning::time::JulianDate;
use solar_positioning::{Horizon, Location, SolarEvents, SolarPositions, delta_t};
use windfall_quantities::{Bearing, Position, TrueNorth};

/// Where the sun stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sun {
    /// Towards the sun.
    pub bearing: Bearing<TrueNorth>,
    /// Above the horizon, without refraction, radians.
    pub elevation_rad: f64,
}

/// The position of the sun is not known for this moment.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("the sun's position is known from 1970 to 2100, not at {unix_s} seconds after 1970")]
pub struct SunError {
    /// Seconds after 1970-01-01, UTC.
    pub unix_s: f64,
}

const LAST_S: f64 = 4_133_980_800.0; // 2101-01-01

/// Where the sun stands, seen from a place.
///
/// # Units
/// `height_m`: metres above the ellipsoid; `unix_s`: seconds after 1970-01-01T00:00:00Z, without leap seconds.
/// # Model
/// UTC is taken for UT1 (0.9 s, 0.004 degrees of turn). Refraction is left out: it lifts the sun by half a degree at
/// the horizon and by less than 0.1 degrees from 10 degrees up.
/// # Errors
/// Outside 1970 to 2100.
/// # Source
/// I. Reda and A. Andreas, Solar Position Algorithm, NREL/TP-560-34302 (2008), through the crate
/// `solar-positioning`.
pub fn sun(place: Position, height_m: f64, unix_s: f64) -> Result<Sun, SunError> {
    let failed = SunError { unix_s };
    if !(0.0..LAST_S).contains(&unix_s) {
        return Err(failed);
    }
    let lag_s = delta_t::estimate(1970.0 + unix_s / 31_556_952.0).map_err(|_| failed)?;
    let time = JulianDate::new(2_440_587.5 + unix_s / 86_400.0, lag_s).map_err(|_| failed)?;
    let location = Location { latitude: place.lat_deg(), longitude: place.lon_deg() };
    let at = SolarPositions::new().at_from_julian(time, location, height_m, None).map_err(|_| failed)?;
    let bearing = Bearing::from_degrees(at.azimuth()).map_err(|_| failed)?;
    Ok(Sun { bearing, elevation_rad: at.elevation_angle().to_radians() })
}

/// What is left of the daylight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Daylight {
    /// Whether the upper edge of the sun is above the horizon.
    pub sun_is_up: bool,
    /// Whether the sun is farther down than civil twilight reaches: no light to search by.
    pub is_dark: bool,
    /// Seconds to the next sunset; none if there is none within a day.
    pub sunset_in_s: Option<f64>,
    /// Seconds to the next end of civil twilight; none if there is none within a day.
    pub dark_in_s: Option<f64>,
}

const DAY_S: f64 = 86_400.0;

/// What is left of the daylight at a place, on a flat horizon.
///
/// # Units
/// `unix_s`: seconds after 1970-01-01T00:00:00Z, without leap seconds.
/// # Model
/// Sunset: the centre of the sun 50 minutes of arc below the horizon, which allows for refraction and the radius of the
/// sun; dark: 6 degrees below, the end of civil twilight. Hills and woods take light away earlier.
/// # Errors
/// Outside 1970 to 2100.
/// # Source
/// Both angles: United States Naval Observatory, Rise, Set, and Twilight Definitions.
pub fn daylight(place: Position, unix_s: f64) -> Result<Daylight, SunError> {
    let failed = SunError { unix_s };
    let now = sun(place, 0.0, unix_s)?;
    let lag_s = delta_t::estimate(1970.0 + unix_s / 31_556_952.0).map_err(|_| failed)?;
    let location = Location { latitude: place.lat_deg(), longitude: place.lon_deg() };
    let start = 2_440_587.5 + unix_s / DAY_S;
    let next_s = |horizon: Horizon| {
        let set = SolarEvents::new()
            .next_set_from_julian(start, start + 1.0, location, lag_s, horizon)
            .map_err(|_| failed)?;
        Ok(set.map(|at| (at - start) * DAY_S))
    };
    let elevation_deg = now.elevation_rad.to_degrees();
    Ok(Daylight {
        sun_is_up: elevation_deg > Horizon::SunriseSunset.elevation_angle(),
        is_dark: elevation_deg < Horizon::CivilTwilight.elevation_angle(),
        sunset_in_s: next_s(Horizon::SunriseSunset)?,
        dark_in_s: next_s(Horizon::CivilTwilight)?,
    })
}

impl Sun {
    /// Where an upright thing throws its shadow; none while the sun is below the horizon.
    #[must_use]
    pub fn shadow(&self) -> Option<Bearing<TrueNorth>> {
        (self.elevation_rad > 0.0).then(|| self.bearing.reversed())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn under_the_midnight_sun_it_does_not_get_dark() {
        // 2025-06-21 noon UTC, Svalbard: the sun does not set from April to August.
        let north = daylight(Position::new(78.2, 15.6).unwrap(), 1_750_507_200.0).unwrap();
        assert!(north.sun_is_up && !north.is_dark && north.sunset_in_s.is_none(), "{north:?}");
        let night = daylight(Position::new(47.5, 17.3).unwrap(), 1_750_464_000.0).unwrap();
        assert!(!night.sun_is_up && night.sunset_in_s < night.dark_in_s, "{night:?}");
    }

    #[test]
    fn a_moment_that_is_none_is_refused_and_night_throws_no_shadow() {
        let place = Position::new(52.0, 4.5).unwrap();
        assert!(sun(place, 0.0, f64::NAN).is_err() && sun(place, 0.0, -1.0).is_err());
        // 2025-06-21, midnight and noon UTC: near noon the shadow of the north points north.
        let at = |hour: f64| sun(place, 0.0, 1_750_464_000.0 + 3600.0 * hour).unwrap();
        assert!(at(0.0).shadow().is_none());
        let shadow_deg = at(11.7).shadow().unwrap().degrees();
        assert!(!(5.0..355.0).contains(&shadow_deg), "{shadow_deg}");
    }
}
