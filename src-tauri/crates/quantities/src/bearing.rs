use core::f64::consts::{PI, TAU};
use core::marker::PhantomData;

/// Geographic north.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TrueNorth;

/// The north a compass needle shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MagneticNorth;

/// A horizontal direction, clockwise from the north named by `N`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bearing<N> {
    rad: f64, // invariant: finite, in [0, TAU)
    north: PhantomData<N>,
}

/// A number that is no direction.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{degrees} is not a direction: a finite number of degrees is needed")]
pub struct NotABearing {
    /// The value given.
    pub degrees: f64,
}

/// True bearing minus magnetic bearing: positive where the needle points east of north.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Declination {
    rad: f64,
}

impl Declination {
    /// From degrees, east positive. A non-finite value becomes zero.
    #[must_use]
    pub fn from_degrees(degrees: f64) -> Self {
        let rad = degrees.to_radians();
        Self { rad: if rad.is_finite() { rad } else { 0.0 } }
    }

    /// Degrees, east positive.
    #[must_use]
    pub fn degrees(self) -> f64 {
        self.rad.to_degrees()
    }
}

impl<N> Bearing<N> {
    /// From degrees, any finite number of turns.
    ///
    /// # Errors
    /// When `degrees` is not finite.
    pub fn from_degrees(degrees: f64) -> Result<Self, NotABearing> {
        if degrees.is_finite() {
            Ok(Self::wrapped(degrees.to_radians()))
        } else {
            Err(NotABearing { degrees })
        }
    }

    /// Direction of the vector (`east`, `north`), both in the same unit; north itself for a null vector.
    #[must_use]
    pub fn of_vector(east: f64, north: f64) -> Self {
        Self::wrapped(east.atan2(north))
    }

    /// Radians in [0, TAU).
    #[must_use]
    pub fn radians(self) -> f64 {
        self.rad
    }

    /// Degrees in [0, 360).
    #[must_use]
    pub fn degrees(self) -> f64 {
        let degrees = self.rad.to_degrees();
        if degrees >= 360.0 { 0.0 } else { degrees }
    }

    /// Signed turn from `self` to `other`, radians in (-PI, PI], clockwise positive.
    #[must_use]
    pub fn turn_to(self, other: Self) -> f64 {
        let turn = (other.rad - self.rad).rem_euclid(TAU);
        if turn > PI { turn - TAU } else { turn }
    }

    /// The opposite direction.
    #[must_use]
    pub fn reversed(self) -> Self {
        Self::wrapped(self.rad + PI)
    }

    fn wrapped(rad: f64) -> Self {
        let turn = rad.rem_euclid(TAU); // rounds up to TAU itself for tiny negatives
        Self { rad: if turn >= TAU { 0.0 } else { turn }, north: PhantomData }
    }
}

impl Bearing<MagneticNorth> {
    /// The only road from magnetic to true.
    #[must_use]
    pub fn to_true(self, declination: Declination) -> Bearing<TrueNorth> {
        Bearing::wrapped(self.rad + declination.rad)
    }
}

impl Bearing<TrueNorth> {
    /// The only road from true to magnetic.
    #[must_use]
    pub fn to_magnetic(self, declination: Declination) -> Bearing<MagneticNorth> {
        Bearing::wrapped(self.rad - declination.rad)
    }
}

/// Turn from one figure of degrees to another, in [-180, 180), clockwise positive: for differences that are no bearings, or
/// of which nobody needs the north.
#[must_use]
pub fn turn_deg(from_deg: f64, to_deg: f64) -> f64 {
    (to_deg - from_deg + 180.0).rem_euclid(360.0) - 180.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_goes_the_short_way_round() {
        for (from_deg, to_deg, turn) in
            [(350.0, 10.0, 20.0), (10.0, 350.0, -20.0), (-170.0, 170.0, -20.0), (0.0, 180.0, -180.0)]
        {
            assert!((turn_deg(from_deg, to_deg) - turn).abs() < 1e-12, "from {from_deg} to {to_deg}");
        }
    }

    #[test]
    fn a_tiny_negative_angle_stays_below_a_full_turn() {
        let bearing = Bearing::<TrueNorth>::from_degrees(-1e-18).unwrap();
        assert!(bearing.degrees() < 360.0);
        assert!(bearing.radians() < TAU);
    }

    #[test]
    fn an_east_declination_adds_to_a_magnetic_bearing() {
        let needle = Bearing::<MagneticNorth>::from_degrees(359.0).unwrap();
        let there = needle.to_true(Declination::from_degrees(3.0));
        assert!((there.degrees() - 2.0).abs() < 1e-12);
        assert!((there.to_magnetic(Declination::from_degrees(3.0)).turn_to(needle)).abs() < 1e-12);
    }

    #[test]
    fn a_direction_that_is_no_number_is_refused() {
        assert!(Bearing::<TrueNorth>::from_degrees(f64::NAN).is_err());
    }
}
