//! What each number of a flight file may be: one row a key, the only place where limits stand.
//!
//! Limits are wide on purpose: they catch slips of unit and of finger, not unusual rockets.

use crate::read::join;
use crate::{FlightError, Sentence};
use serde_json::Value;

/// One number of the flight file and what it may be.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Range {
    /// Its place, with the indices of lists left out; in a list of lists the inner index stays.
    pub(crate) place: &'static str,
    pub(crate) low: f64,
    pub(crate) high: f64,
    unit: &'static str,
}

const fn row(place: &'static str, low: f64, high: f64, unit: &'static str) -> Range {
    Range { place, low, high, unit }
}

pub(crate) const RANGES: &[Range] = &[
    row("pad.lat", -90.0, 90.0, "degrees"),
    row("pad.lon", -180.0, 180.0, "degrees"),
    row("pad.accuracy_m", 0.01, 1000.0, "m"),
    row("pad.elevation_m", -450.0, 6000.0, "m"),
    row("field.hazards[].height_m", 0.5, 100.0, "m"),
    row("field.looked[].from.lat", -90.0, 90.0, "degrees"),
    row("field.looked[].from.lon", -180.0, 180.0, "degrees"),
    row("field.looked[].toward_deg", -360.0, 360.0, "degrees"),
    row("field.looked[].as_far_m", 1.0, 5000.0, "m"),
    row("air.temperature_c", -40.0, 60.0, "degrees Celsius"),
    row("air.pressure_hpa", 500.0, 1100.0, "hPa"),
    row("air.humidity_pct", 0.0, 100.0, "%"),
    row("wind[].height_m", 0.1, 5000.0, "m"),
    row("wind[].averaged_s", 0.0, 7200.0, "s"),
    row("wind[].speed_mps", 0.0, 40.0, "m/s"),
    row("wind[].gust_mps", 0.0, 60.0, "m/s"),
    row("wind[].from_deg", -360.0, 360.0, "degrees"),
    row("rocket.stages[].dry_mass_g", 1.0, 1500.0, "g"),
    row("rocket.stages[].diameter_mm", 5.0, 200.0, "mm"),
    row("rocket.stages[].length_mm", 30.0, 3000.0, "mm"),
    row("rocket.stages[].drag_coefficient", 0.1, 3.0, ""),
    row("rocket.stages[].motor.diameter_mm", 5.0, 60.0, "mm"),
    row("rocket.stages[].motor.loaded_mass_g", 1.0, 750.0, "g"),
    row("rocket.stages[].motor.propellant_g", 0.1, 200.0, "g"),
    row("rocket.stages[].motor.thrust_curve[][0]", 0.0, 30.0, "s"),
    row("rocket.stages[].motor.thrust_curve[][1]", 0.0, 1000.0, "N"),
    row("rocket.stages[].recovery.diameter_mm", 50.0, 3000.0, "mm"),
    row("rocket.stages[].recovery.spill_hole_mm", 0.0, 1500.0, "mm"),
    row("rocket.stages[].recovery.length_mm", 50.0, 10000.0, "mm"),
    row("rocket.stages[].recovery.width_mm", 5.0, 1000.0, "mm"),
    row("rocket.stages[].splits_into[].mass_g", 0.5, 1500.0, "g"),
    row("rocket.stages[].splits_into[].length_mm", 5.0, 3000.0, "mm"),
    row("launch.rod.length_m", 0.1, 10.0, "m"),
    row("launch.rod.tilt_deg", 0.0, 60.0, "degrees"),
    row("launch.rod.toward_deg", -360.0, 360.0, "degrees"),
    row("evidence[].t_s", 0.0, 86400.0, "s"),
    row("evidence[].bearing_deg", -360.0, 360.0, "degrees"),
    row("evidence[].downwind_deg", -180.0, 180.0, "degrees"),
    row("evidence[].in_line_with.lat", -90.0, 90.0, "degrees"),
    row("evidence[].in_line_with.lon", -180.0, 180.0, "degrees"),
    row("evidence[].elevation_deg", -30.0, 90.0, "degrees"),
    row("evidence[].sigma_deg", 0.1, 90.0, "degrees"),
    row("evidence[].from.lat", -90.0, 90.0, "degrees"),
    row("evidence[].from.lon", -180.0, 180.0, "degrees"),
    row("evidence[].samples[][0]", 0.0, 86400.0, "s"),
    row("evidence[].samples[][1]", -360.0, 360.0, "degrees"),
    row("evidence[].samples[][2]", -30.0, 90.0, "degrees"),
    row("evidence[].apogee_m", 0.0, 5000.0, "m"),
    row("evidence[].time_to_apogee_s", 0.1, 300.0, "s"),
    row("evidence[].descent_rate_mps", 0.0, 150.0, "m/s"),
    row("evidence[].duration_s", 0.1, 86400.0, "s"),
    row("evidence[].at.lat", -90.0, 90.0, "degrees"),
    row("evidence[].at.lon", -180.0, 180.0, "degrees"),
    row("evidence[].accuracy_m", 0.01, 1000.0, "m"),
    row("evidence[].confidence", 0.5, 1.0, ""),
    // Searches stay open for days, so a walk is not bound to the day of the flight.
    row("evidence[].path[][0]", 0.0, 31_536_000.0, "s"),
    row("evidence[].path[][1]", -90.0, 90.0, "degrees"),
    row("evidence[].path[][2]", -180.0, 180.0, "degrees"),
    row("evidence[].path[][3]", 0.01, 1000.0, "m"),
    row("evidence[].seen_from_m", 0.1, 500.0, "m"),
    row("evidence[].sweep_width_m", 0.1, 1000.0, "m"),
];

impl Range {
    pub(crate) fn of(place: &str) -> Option<&'static Self> {
        RANGES.iter().find(|range| range.place == place)
    }

    /// NaN lands on the refusing side.
    fn allows(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    fn refusal(&self, field: &str, value: f64) -> FlightError {
        let Self { low, high, unit, .. } = *self;
        FlightError::said(field, Sentence::OutOfRange { value, low, high, unit: unit.into() })
    }
}

/// Every number of the file against its row.
pub(crate) fn within_ranges(file: &Value) -> Result<(), FlightError> {
    walk(file, "", "")
}

fn walk(value: &Value, field: &str, place: &str) -> Result<(), FlightError> {
    match value {
        Value::Number(number) => {
            let value = number.as_f64().unwrap_or(f64::NAN);
            match Range::of(place) {
                Some(range) if !range.allows(value) => Err(range.refusal(field, value)),
                _ => Ok(()),
            }
        }
        Value::Object(keys) => {
            for (key, value) in keys {
                match key.as_str() {
                    "geometry" | "outline" | "known" => {}
                    "value" => walk(value, field, place)?,
                    key => walk(value, &join(field, key), &join(place, key))?,
                }
            }
            Ok(())
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                let here =
                    if place.ends_with(']') { format!("{place}[{index}]") } else { format!("{place}[]") };
                walk(item, &format!("{field}[{index}]"), &here)?;
            }
            Ok(())
        }
        Value::Null | Value::Bool(_) | Value::String(_) => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_not_a_number_is_refused_by_every_range() {
        for range in RANGES {
            assert!(!range.allows(f64::NAN), "{}", range.place);
            assert!(range.allows(range.low) && range.allows(range.high), "{}", range.place);
            assert!(range.low < range.high, "{}", range.place);
        }
    }

    #[test]
    fn no_number_has_two_rows() {
        for (index, range) in RANGES.iter().enumerate() {
            assert!(RANGES[..index].iter().all(|other| other.place != range.place), "{}", range.place);
        }
    }
}
