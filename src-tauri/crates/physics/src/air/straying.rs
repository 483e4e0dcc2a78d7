/// Speed at which the factors are one, m/s.
const USUAL_MPS: f64 = 5.0;
/// The mast's classes of speed, m/s: beyond them the factors stay what they are.
const SEEN_MPS: (f64, f64) = (2.5, 10.0);

/// How much farther the wind has strayed after some time than after half an hour of a usual wind: factors on the standard
/// deviations of the logarithm of its speed and of its direction.
///
/// # Units
/// `minutes`: before or after; `mps_at_40m`: the wind at that height.
/// # Model
/// Both grow with the time to the power 0.4. What changes is much the same in light wind and in strong wind, so that the
/// direction turns the more the lighter it is, as one over the speed; the speed, relatively, by its power 0.6.
/// # Source
/// Fitted to `wind_mast_persistence.csv` by classes of speed, lags of 10 min to 4 h by day.
#[must_use]
pub fn straying(minutes: f64, mps_at_40m: f64) -> [f64; 2] {
    let age = (minutes.abs() / 30.0).powf(0.4);
    let light = USUAL_MPS / mps_at_40m.clamp(SEEN_MPS.0, SEEN_MPS.1);
    [age * light.powf(0.6), age * light]
}
