use crate::{Bearing, TrueNorth};
use geographiclib_rs::{DirectGeodesic, Geodesic, InverseGeodesic};

/// A place on the WGS 84 ellipsoid.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Position {
    lat_deg: f64, // invariant: finite, in [-90, 90]
    lon_deg: f64, // invariant: finite, in [-180, 180]
}

/// Numbers that name no place on the Earth.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("({lat_deg}, {lon_deg}) is no place: latitude -90 to 90 and longitude -180 to 180 are allowed")]
pub struct NotAPosition {
    /// The latitude given.
    pub lat_deg: f64,
    /// The longitude given.
    pub lon_deg: f64,
}

impl Position {
    /// Checks the ranges.
    ///
    /// # Errors
    /// When latitude or longitude is out of range or not a number.
    pub fn new(lat_deg: f64, lon_deg: f64) -> Result<Self, NotAPosition> {
        if (-90.0..=90.0).contains(&lat_deg) && (-180.0..=180.0).contains(&lon_deg) {
            Ok(Self { lat_deg, lon_deg })
        } else {
            Err(NotAPosition { lat_deg, lon_deg })
        }
    }

    /// Latitude in degrees, north positive.
    #[must_use]
    pub fn lat_deg(self) -> f64 {
        self.lat_deg
    }

    /// Longitude in degrees, east positive.
    #[must_use]
    pub fn lon_deg(self) -> f64 {
        self.lon_deg
    }
}

/// A horizontal offset from the origin of a [`LocalFrame`], metres east and north.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Offset {
    /// Metres east.
    pub east_m: f64,
    /// Metres north.
    pub north_m: f64,
}

impl Offset {
    /// Length of the offset in metres.
    #[must_use]
    pub fn length_m(self) -> f64 {
        self.east_m.hypot(self.north_m)
    }

    /// Where it points from the origin; north itself for no offset.
    #[must_use]
    pub fn bearing(self) -> Bearing<TrueNorth> {
        Bearing::of_vector(self.east_m, self.north_m)
    }
}

/// East and north about a place: geodesic distance and azimuth from the origin, laid flat.
///
/// # Model
/// Azimuthal equidistant on WGS 84: distances and bearings from the origin are exact; between two points
/// 5 km out the length differs from the geodesic by less than 2 mm.
#[derive(Clone, Copy, Debug)]
pub struct LocalFrame {
    origin: Position,
    earth: Geodesic,
}

impl LocalFrame {
    /// The frame about `origin`.
    #[must_use]
    pub fn about(origin: Position) -> Self {
        Self { origin, earth: Geodesic::wgs84() }
    }

    /// Where the frame is centred.
    #[must_use]
    pub fn origin(&self) -> Position {
        self.origin
    }

    /// Offset of a place from the origin.
    ///
    /// # Source
    /// C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87 (2013), through geographiclib-rs.
    #[must_use]
    pub fn offset_of(&self, place: Position) -> Offset {
        let (distance_m, azimuth_deg, _, _): (f64, f64, f64, f64) =
            self.earth.inverse(self.origin.lat_deg, self.origin.lon_deg, place.lat_deg, place.lon_deg);
        let (sin, cos) = azimuth_deg.to_radians().sin_cos();
        Offset { east_m: distance_m * sin, north_m: distance_m * cos }
    }

    /// The place at an offset from the origin.
    #[must_use]
    pub fn place_at(&self, offset: Offset) -> Position {
        let azimuth_deg = offset.east_m.atan2(offset.north_m).to_degrees();
        let (lat_deg, lon_deg): (f64, f64) =
            self.earth.direct(self.origin.lat_deg, self.origin.lon_deg, azimuth_deg, offset.length_m());
        Position { lat_deg: lat_deg.clamp(-90.0, 90.0), lon_deg: lon_deg.clamp(-180.0, 180.0) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_survives_the_trip_through_the_local_frame() {
        let frame = LocalFrame::about(Position::new(47.3, 8.5).unwrap());
        let place = frame.place_at(Offset { east_m: 1234.5, north_m: -678.9 });
        let back = frame.offset_of(place);
        assert!((back.east_m - 1234.5).abs() < 1e-6 && (back.north_m + 678.9).abs() < 1e-6);
    }

    #[test]
    fn a_latitude_beyond_the_pole_is_refused() {
        assert!(Position::new(90.1, 0.0).is_err());
        assert!(Position::new(f64::NAN, 0.0).is_err());
    }
}
