//! Metres about the pad and places on the Earth, by way of the tangent plane.

use serde_json::{Value, json};

const AXIS_M: f64 = 6_378_137.0;
const ECCENTRICITY2: f64 = 0.006_694_379_990_141_3; // WGS 84

/// The plane that touches the ellipsoid at the pad.
#[derive(Clone, Copy, Debug)]
pub(super) struct Field {
    pub(super) lat: f64,
    pub(super) lon: f64,
}

fn on_ellipsoid(lat: f64, lon: f64) -> [f64; 3] {
    let ((sin_lat, cos_lat), (sin_lon, cos_lon)) = (lat.to_radians().sin_cos(), lon.to_radians().sin_cos());
    let across_m = AXIS_M / (1.0 - ECCENTRICITY2 * sin_lat * sin_lat).sqrt();
    [across_m * cos_lat * cos_lon, across_m * cos_lat * sin_lon, across_m * (1.0 - ECCENTRICITY2) * sin_lat]
}

impl Field {
    /// Unit vectors towards east and north.
    fn axes(&self) -> [[f64; 3]; 2] {
        let ((sin_lat, cos_lat), (sin_lon, cos_lon)) =
            (self.lat.to_radians().sin_cos(), self.lon.to_radians().sin_cos());
        [[-sin_lon, cos_lon, 0.0], [-sin_lat * cos_lon, -sin_lat * sin_lon, cos_lat]]
    }

    /// Latitude and longitude of a place, degrees.
    pub(super) fn lat_lon(&self, [east_m, north_m]: [f64; 2]) -> [f64; 2] {
        let (pad, [east, north]) = (on_ellipsoid(self.lat, self.lon), self.axes());
        let [x, y, z]: [f64; 3] =
            core::array::from_fn(|axis| pad[axis] + east_m * east[axis] + north_m * north[axis]);
        let level_m = x.hypot(y);
        let mut lat = z.atan2(level_m * (1.0 - ECCENTRICITY2));
        for _ in 0..4 {
            let across_m = AXIS_M / (1.0 - ECCENTRICITY2 * lat.sin().powi(2)).sqrt();
            lat = (z + ECCENTRICITY2 * across_m * lat.sin()).atan2(level_m);
        }
        [lat.to_degrees(), y.atan2(x).to_degrees()]
    }

    /// A place as the flight file has it.
    pub(super) fn place(&self, at_m: [f64; 2]) -> Value {
        let [lat, lon] = self.lat_lon(at_m);
        json!({"lat": lat, "lon": lon})
    }

    /// Metres towards east and north of a place.
    pub(super) fn metres(&self, [lat, lon]: [f64; 2]) -> [f64; 2] {
        let (pad, there) = (on_ellipsoid(self.lat, self.lon), on_ellipsoid(lat, lon));
        self.axes().map(|axis| (0..3).map(|i| axis[i] * (there[i] - pad[i])).sum())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use windfall_quantities::{LocalFrame, Offset, Position};

    #[test]
    fn places_are_those_of_the_geodesic() {
        let (field, pad) = (Field { lat: 52.5, lon: -3.25 }, Position::new(52.5, -3.25).unwrap());
        for at_m in [[300.0, -40.0], [-900.0, 700.0], [0.0, 1500.0]] {
            let [lat, lon] = field.lat_lon(at_m);
            let geodesic = LocalFrame::about(pad).place_at(Offset { east_m: at_m[0], north_m: at_m[1] });
            assert!((lat - geodesic.lat_deg()).abs() < 2e-8 && (lon - geodesic.lon_deg()).abs() < 2e-8);
            let back = field.metres([lat, lon]);
            assert!((back[0] - at_m[0]).abs() < 1e-3 && (back[1] - at_m[1]).abs() < 1e-3, "{back:?}");
        }
    }
}
