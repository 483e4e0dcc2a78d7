use solar_positioning::time::JulianDate;
use solar_positioning::{Location, SolarPositions, delta_t};
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
