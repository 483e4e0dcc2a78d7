//! Height by angles, as trackers reduce it at a contest. A display: what is computed elsewhere takes the angles
//! themselves as evidence.
//!
//! # Frame
//! The stations stand level at the two ends of the baseline; the height is above them.

/// What one station reads at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    /// From the baseline towards the other station, to the side on which the rocket is, radians, 0 to PI.
    pub from_baseline_rad: f64,
    /// Above the horizon, radians, 0 to PI / 2.
    pub elevation_rad: f64,
}

/// Height from two stations, and how badly their lines miss each other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reduced {
    /// Height, m.
    pub height_m: f64,
    /// Closure error over the height; how it is defined depends on the reduction.
    pub closure: f64,
}

/// The angles give no height.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoHeight {
    /// A baseline is needed.
    #[error("a baseline of {baseline_m} m is none: more than 0 m is needed")]
    Baseline {
        /// The value given.
        baseline_m: f64,
    },
    /// The lines of sight run apart, or an angle is none.
    #[error(
        "the two lines of sight do not meet: elevations within 0 to 90 degrees are needed, and bearings from the baseline that add up to more than 0 and less than 180 degrees"
    )]
    LinesApart,
}

/// Greatest closure error of a track that counts.
///
/// # Source
/// United States Model Rocket Sporting Code, appendix E: a track does not close at more than 10 %.
pub const CLOSURE_LIMIT: f64 = 0.10;

impl Reduced {
    /// Whether the track counts; one without a height does not.
    #[must_use]
    pub fn closed(&self) -> bool {
        self.closure <= CLOSURE_LIMIT
    }
}

/// Height from one station that looks square at the flight, m.
///
/// # Units
/// `baseline_m`: from the station to the pad; `elevation_rad`: of the top, below PI / 2.
/// # Model
/// The rocket is straight above the pad: each degree that it leans towards or away from the station is an error.
/// # Source
/// Plane geometry, h = b tan(el).
#[must_use]
pub fn one_station_height_m(baseline_m: f64, elevation_rad: f64) -> f64 {
    baseline_m * elevation_rad.tan()
}

/// Heights (m) that each of two stations finds straight above the point where the bearings cross.
///
/// # Errors
/// Without a baseline, or when the bearings do not cross on the side they are read to.
/// # Source
/// United States Model Rocket Sporting Code, appendix E: h1 = b sin A2 tan E1 / sin(A1 + A2), h2 likewise.
pub fn heights_over_crossing_m(baseline_m: f64, first: Look, second: Look) -> Result<[f64; 2], NoHeight> {
    let sum = check(baseline_m, first, second)?;
    let height = |own: Look, other: Look| {
        baseline_m * other.from_baseline_rad.sin() * own.elevation_rad.tan() / sum.sin()
    };
    Ok([height(first, second), height(second, first)])
}

/// Height by the vertical midpoint: the mean of both heights over the crossing, which it closes by half their
/// difference.
///
/// # Errors
/// As [`heights_over_crossing_m`].
/// # Source
/// United States Model Rocket Sporting Code, appendix E: closure |h1 - h2| / (h1 + h2).
pub fn vertical_midpoint(baseline_m: f64, first: Look, second: Look) -> Result<Reduced, NoHeight> {
    let [one, two] = heights_over_crossing_m(baseline_m, first, second)?;
    Ok(Reduced { height_m: (one + two) / 2.0, closure: (one - two).abs() / (one + two) })
}

/// Height by the geodesic method, from the shortest line between the two lines of sight; its closure is the length of
/// that line over the height.
///
/// # Errors
/// As [`heights_over_crossing_m`], and for lines of sight that are parallel.
/// # Source
/// United States Model Rocket Sporting Code, appendix E, the listing of 1983. DIFFERENCE from plain geometry: its height
/// is that of the middle of the shortest line only where the lines meet; a few parts in a thousand elsewhere.
pub fn geodesic(baseline_m: f64, first: Look, second: Look) -> Result<Reduced, NoHeight> {
    check(baseline_m, first, second)?;
    let (sin_a1, cos_a1) = first.from_baseline_rad.sin_cos();
    let (sin_a2, cos_a2) = second.from_baseline_rad.sin_cos();
    let (sin_e1, cos_e1) = first.elevation_rad.sin_cos();
    let (sin_e2, cos_e2) = second.elevation_rad.sin_cos();
    // Cosine of the angle between the lines, and its square missing to one.
    let cosine = sin_e1 * sin_e2 - cos_e1 * cos_e2 * (cos_a1 * cos_a2 - sin_a1 * sin_a2);
    let square = 1.0 - cosine * cosine;
    let along_first = (cos_e1 * cos_a1 + cosine * cos_e2 * cos_a2) / square;
    let along_second = (cos_e2 * cos_a2 + cosine * cos_e1 * cos_a1) / square;
    let gap = (cos_e2 * sin_e1 * sin_a2 - cos_e1 * sin_e2 * sin_a1) / square.sqrt();
    let height = (sin_e1 + sin_e2) * (along_first * along_second) / (along_first + along_second);
    let reduced = Reduced { height_m: baseline_m * height, closure: (gap / height).abs() };
    if reduced.height_m.is_finite() && reduced.closure.is_finite() && square > 0.0 {
        Ok(reduced)
    } else {
        Err(NoHeight::LinesApart)
    }
}

/// The sum of the bearings, if a height follows from them.
fn check(baseline_m: f64, first: Look, second: Look) -> Result<f64, NoHeight> {
    use core::f64::consts::{FRAC_PI_2, PI};
    if !(baseline_m > 0.0 && baseline_m.is_finite()) {
        return Err(NoHeight::Baseline { baseline_m });
    }
    let sum = first.from_baseline_rad + second.from_baseline_rad;
    let sound = [first, second].iter().all(|look| {
        look.from_baseline_rad >= 0.0 && look.elevation_rad > 0.0 && look.elevation_rad < FRAC_PI_2
    });
    if sound && sum > 0.0 && sum < PI { Ok(sum) } else { Err(NoHeight::LinesApart) }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn look(from_baseline_deg: f64, elevation_deg: f64) -> Look {
        Look { from_baseline_rad: from_baseline_deg.to_radians(), elevation_rad: elevation_deg.to_radians() }
    }

    #[test]
    fn a_track_with_lines_far_apart_does_not_close() {
        let (first, second) = (look(45.0, 45.0), look(45.0, 52.0));
        assert!(!vertical_midpoint(100.0, first, second).unwrap().closed());
        assert!(vertical_midpoint(100.0, first, look(45.0, 46.0)).unwrap().closed());
        assert!(!Reduced { height_m: 100.0, closure: f64::NAN }.closed());
    }

    #[test]
    fn angles_that_give_no_height_are_refused() {
        let good = look(45.0, 45.0);
        for bad in
            [look(135.0, 45.0), look(-60.0, 45.0), look(f64::NAN, 45.0), look(45.0, 0.0), look(45.0, 90.1)]
        {
            assert_eq!(geodesic(100.0, good, bad), Err(NoHeight::LinesApart), "{bad:?}");
            assert_eq!(vertical_midpoint(100.0, bad, good), Err(NoHeight::LinesApart), "{bad:?}");
        }
        assert!(matches!(geodesic(0.0, good, good), Err(NoHeight::Baseline { .. })));
        assert!(geodesic(f64::NAN, good, good).is_err());
    }
}
