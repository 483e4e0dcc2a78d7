use core::f64::consts::{FRAC_1_SQRT_2, SQRT_2};
use std::sync::LazyLock;
use windfall_quantities::{Declination, Position};

/// The magnetic model has no value for this moment.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum MagneticError {
    /// Outside the five years for which the coefficients were made.
    #[error("the magnetic model covers 2025.0 to 2030.0, not {decimal_year}")]
    OutsideModel {
        /// Year asked for, with its fraction.
        decimal_year: f64,
    },
    /// A year has 365 or 366 days.
    #[error("{year} has no day {day_of_year}: 1 to 365, or 366 in a leap year, is needed")]
    NoSuchDay {
        /// Year asked for.
        year: i32,
        /// Day of the year asked for, from 1.
        day_of_year: u16,
    },
}

/// The Earth's main magnetic field at one place and moment.
///
/// # Units
/// Nanotesla.
/// # Frame
/// Geodetic: true north, east and down along the normal of WGS 84.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MagneticField {
    /// Component X.
    pub north_nt: f64,
    /// Component Y.
    pub east_nt: f64,
    /// Component Z.
    pub down_nt: f64,
}

/// How far a compass is to be trusted where it stands.
///
/// # Source
/// Report of the World Magnetic Model 2025, second-hand: the blackout zone lies below 2000 nT of horizontal field,
/// the caution zone from there to 6000 nT.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CompassZone {
    /// A compass serves.
    Usable,
    /// It may fail: take directions by landmarks.
    Caution,
    /// It does not serve.
    Blackout,
}

impl MagneticField {
    /// Horizontal field H, nT.
    #[must_use]
    pub fn horizontal_nt(&self) -> f64 {
        self.north_nt.hypot(self.east_nt)
    }

    /// Total field F, nT.
    #[must_use]
    pub fn total_nt(&self) -> f64 {
        self.horizontal_nt().hypot(self.down_nt)
    }

    /// Dip below the horizon I, degrees.
    #[must_use]
    pub fn inclination_deg(&self) -> f64 {
        self.down_nt.atan2(self.horizontal_nt()).to_degrees()
    }

    /// Declination D.
    #[must_use]
    pub fn declination(&self) -> Declination {
        Declination::from_degrees(self.east_nt.atan2(self.north_nt).to_degrees())
    }

    /// One standard deviation of the model's declination, degrees, 180 at most: rocks and currents that no global
    /// model knows.
    ///
    /// # Source
    /// Error model of WMM2025 as in wmm-calculator 1.4.4 (CIRES and NOAA), `wmm/uncertainty.py`.
    #[must_use]
    pub fn declination_sigma_deg(&self) -> f64 {
        0.26_f64.hypot(5417.0 / self.horizontal_nt()).min(180.0)
    }

    /// Whether a compass can be trusted here.
    #[must_use]
    pub fn compass_zone(&self) -> CompassZone {
        match self.horizontal_nt() {
            weak if weak < 2000.0 => CompassZone::Blackout,
            weak if weak < 6000.0 => CompassZone::Caution,
            _ => CompassZone::Usable,
        }
    }
}

const DEGREES: usize = 12;
const EPOCH: f64 = 2025.0;
const YEARS: f64 = 5.0;

/// g, h (nT) and their change in a year, in the order (1, 0), (1, 1), (2, 0) ...
type Coefficients = [[f64; 4]; 90];

static WMM2025: LazyLock<Coefficients> = LazyLock::new(|| {
    let rows =
        include_str!("wmm2025.csv").lines().filter(|line| line.starts_with(|it: char| it.is_ascii_digit()));
    let mut coefficients = [[0.0; 4]; 90];
    for (place, row) in coefficients.iter_mut().zip(rows) {
        for (number, cell) in place.iter_mut().zip(row.split(',').skip(2)) {
            *number = cell.parse().expect("the embedded table is read by a test");
        }
    }
    coefficients
});

/// The field of the World Magnetic Model 2025.
///
/// # Units
/// `height_m`: metres above the ellipsoid; `decimal_year`: 2026.5 is the middle of 2026.
/// # Errors
/// Unless `decimal_year` lies within 2025.0 to 2030.0.
/// # Source
/// World Magnetic Model 2025, NOAA/NCEI and BGS: spherical harmonics to degree 12 with Schmidt's semi-normalised
/// functions, geomagnetic radius 6371.2 km, WGS 84. The recurrences are textbook forms, from memory; the official
/// test values check them.
pub fn magnetic_field(
    place: Position,
    height_m: f64,
    decimal_year: f64,
) -> Result<MagneticField, MagneticError> {
    let years = decimal_year - EPOCH;
    if !(0.0..=YEARS).contains(&years) {
        return Err(MagneticError::OutsideModel { decimal_year });
    }
    const EQUATOR_M: f64 = 6_378_137.0;
    const FLATTENING: f64 = 1.0 / 298.257_223_563;
    const REFERENCE_M: f64 = 6_371_200.0;
    let squared_eccentricity = FLATTENING * (2.0 - FLATTENING);
    let (sin_lat, cos_lat) = place.lat_deg().to_radians().sin_cos();
    let normal_m = EQUATOR_M / (1.0 - squared_eccentricity * sin_lat * sin_lat).sqrt();
    let out_m = (normal_m + height_m) * cos_lat;
    let up_m = (normal_m * (1.0 - squared_eccentricity) + height_m) * sin_lat;
    let radius_m = out_m.hypot(up_m);
    // Sine and cosine of the geocentric latitude.
    let (sin, cos) = (up_m / radius_m, out_m / radius_m);

    let legendre = Legendre::at(sin, cos);
    let ratio = REFERENCE_M / radius_m;
    let longitude = place.lon_deg().to_radians();
    let (mut north, mut east, mut down) = (0.0, 0.0, 0.0);
    let mut rows = WMM2025.iter();
    let mut fall = ratio * ratio;
    for n in 1..=DEGREES {
        fall *= ratio;
        for m in 0..=n {
            let Some([g, h, g_change, h_change]) = rows.next() else { break };
            let (g, h) = (g + years * g_change, h + years * h_change);
            let (sin_m, cos_m) = (m as f64 * longitude).sin_cos();
            let even = g * cos_m + h * sin_m;
            north += fall * even * legendre.slope(n, m);
            east += fall * m as f64 * (g * sin_m - h * cos_m) * legendre.over_cos(n, m);
            down -= fall * (n as f64 + 1.0) * even * legendre.value(n, m);
        }
    }
    // From the geocentric vertical to the normal of the ellipsoid.
    let (sin_tilt, cos_tilt) = (sin * cos_lat - cos * sin_lat, cos * cos_lat + sin * sin_lat);
    Ok(MagneticField {
        north_nt: north * cos_tilt - down * sin_tilt,
        east_nt: east,
        down_nt: north * sin_tilt + down * cos_tilt,
    })
}

/// Schmidt's semi-normalised associated Legendre functions of one latitude.
///
/// Kept are P(n, 0) and, from order 1 on, P(n, m) over the cosine of the latitude: finite at the poles too, where the
/// east component would otherwise be nought over nought.
struct Legendre {
    kept: [[f64; DEGREES + 2]; DEGREES + 1],
    cos: f64,
}

impl Legendre {
    #[expect(clippy::needless_range_loop, reason = "n and m are the indices of the published formula")]
    fn at(sin: f64, cos: f64) -> Self {
        let mut kept = [[0.0; DEGREES + 2]; DEGREES + 1];
        kept[0][0] = 1.0;
        for n in 1..=DEGREES {
            let whole = n as f64;
            for m in 0..n {
                let order = m as f64;
                let before = if n < 2 { 0.0 } else { kept[n - 2][m] };
                kept[n][m] = ((2.0 * whole - 1.0) * sin * kept[n - 1][m]
                    - ((whole - 1.0).powi(2) - order * order).max(0.0).sqrt() * before)
                    / (whole * whole - order * order).sqrt();
            }
            kept[n][n] = if n == 1 {
                1.0
            } else {
                ((2.0 * whole - 1.0) / (2.0 * whole)).sqrt() * cos * kept[n - 1][n - 1]
            };
        }
        Self { kept, cos }
    }

    fn value(&self, n: usize, m: usize) -> f64 {
        if m == 0 { self.kept[n][0] } else { self.cos * self.kept[n][m] }
    }

    /// For m of 1 and more.
    fn over_cos(&self, n: usize, m: usize) -> f64 {
        self.kept[n][m]
    }

    /// Derivative by the colatitude.
    fn slope(&self, n: usize, m: usize) -> f64 {
        let (whole, order) = (n as f64, m as f64);
        let up = ((whole + order + 1.0) * (whole - order)).sqrt() * self.value(n, m + 1);
        if m == 0 {
            return -FRAC_1_SQRT_2 * up; // order 0 is normalised by a root of two less
        }
        let double = if m == 1 { SQRT_2 } else { 1.0 };
        let down = double * ((whole + order) * (whole - order + 1.0)).sqrt() * self.value(n, m - 1);
        (down - up) / 2.0
    }
}

/// True minus magnetic bearing at a place at the start of a day, UTC.
///
/// # Units
/// `height_m`: metres above the ellipsoid; `day_of_year`: from 1.
/// # Errors
/// As [`magnetic_field`], and for a day that the year does not have.
pub fn declination(
    place: Position,
    height_m: f64,
    year: i32,
    day_of_year: u16,
) -> Result<Declination, MagneticError> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let days = if leap { 366 } else { 365 };
    if !(1..=days).contains(&day_of_year) {
        return Err(MagneticError::NoSuchDay { year, day_of_year });
    }
    let decimal_year = f64::from(year) + f64::from(day_of_year - 1) / f64::from(days);
    magnetic_field(place, height_m, decimal_year).map(|field| field.declination())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place() -> Position {
        Position::new(52.0, 4.5).unwrap()
    }

    #[test]
    fn every_coefficient_is_read() {
        assert_eq!(WMM2025[0].map(f64::to_bits), [-29351.8, 0.0, 12.0, 0.0].map(f64::to_bits));
        assert_eq!(include_str!("wmm2025.csv").lines().filter(|line| line.starts_with("12,")).count(), 13);
        let zonal = [0, 2, 5, 9, 14, 20, 27, 35, 44, 54, 65, 77];
        assert!(zonal.iter().all(|at| WMM2025[*at][1] == 0.0), "h of order 0 is nought");
        assert!(WMM2025.iter().all(|row| row[0] != 0.0 || row[1] != 0.0));
    }

    #[test]
    fn a_moment_outside_the_five_years_is_refused() {
        for decimal_year in [2024.999, 2030.001, f64::NAN] {
            assert!(magnetic_field(place(), 0.0, decimal_year).is_err(), "{decimal_year}");
        }
        assert!(magnetic_field(place(), 0.0, 2030.0).is_ok());
        assert!(declination(place(), 0.0, 2024, 366).is_err() && declination(place(), 0.0, 2030, 2).is_err());
        let refused = |year, day| declination(place(), 0.0, year, day).unwrap_err().to_string();
        assert!(refused(2026, 366).contains("no day 366") && refused(2026, 0).contains("no day 0"));
        assert!(declination(place(), 0.0, 2028, 366).is_ok());
    }

    #[test]
    fn the_field_is_whole_at_the_poles_and_weakest_there_for_a_compass() {
        for lat_deg in [90.0, -90.0] {
            let at = |lat_deg: f64, lon_deg: f64| {
                magnetic_field(Position::new(lat_deg, lon_deg).unwrap(), 0.0, 2027.0).unwrap()
            };
            let (pole, near) = (at(lat_deg, 30.0), at(lat_deg * (1.0 - 1e-9), 30.0));
            assert!((pole.east_nt - near.east_nt).abs() < 0.01, "{pole:?} {near:?}");
            assert!(
                (pole.down_nt - at(lat_deg, -150.0).down_nt).abs() < 1e-6,
                "one place, whatever the longitude"
            );
            assert!((pole.north_nt + at(lat_deg, -150.0).north_nt).abs() < 1e-6);
        }
        // The magnetic pole lies near 86 north, 139 east in 2025 (from memory).
        let arctic = magnetic_field(Position::new(86.0, 140.0).unwrap(), 0.0, 2025.0).unwrap();
        assert_eq!(arctic.compass_zone(), CompassZone::Blackout);
        assert_eq!(magnetic_field(place(), 0.0, 2025.0).unwrap().compass_zone(), CompassZone::Usable);
    }
}
