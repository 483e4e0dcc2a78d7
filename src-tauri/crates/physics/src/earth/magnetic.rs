use windfall_quantities::{Declination, Position};
use world_magnetic_model::GeomagneticField;
use world_magnetic_model::time::Date;
use world_magnetic_model::uom::si::angle::degree;
use world_magnetic_model::uom::si::f32::{Angle, Length};
use world_magnetic_model::uom::si::length::meter;

/// The magnetic model does not reach this place or day.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("the magnetic model has no value for day {day_of_year} of {year}: {reason}")]
pub struct MagneticError {
    /// Year asked for.
    pub year: i32,
    /// Day of the year asked for, from 1.
    pub day_of_year: u16,
    /// What the model says.
    pub reason: String,
}

/// True minus magnetic bearing at a place and day.
///
/// # Units
/// `height_m`: metres above the ellipsoid; `day_of_year`: from 1.
/// # Errors
/// When the day lies outside the five years of the model (2025 to 2030).
/// # Source
/// World Magnetic Model 2025, NOAA/NCEI and BGS, through the crate `world_magnetic_model`.
pub fn declination(
    place: Position,
    height_m: f64,
    year: i32,
    day_of_year: u16,
) -> Result<Declination, MagneticError> {
    let failed = |reason: String| MagneticError { year, day_of_year, reason };
    let date = Date::from_ordinal_date(year, day_of_year).map_err(|error| failed(error.to_string()))?;
    #[expect(clippy::cast_possible_truncation, reason = "the crate computes in f32: 0.005 degrees at worst")]
    let (height, lat, lon) = (height_m as f32, place.lat_deg() as f32, place.lon_deg() as f32);
    let field = GeomagneticField::new(
        Length::new::<meter>(height),
        Angle::new::<degree>(lat),
        Angle::new::<degree>(lon),
        date,
    )
    .map_err(|error| failed(error.to_string()))?;
    Ok(Declination::from_degrees(f64::from(field.declination().get::<degree>())))
}
