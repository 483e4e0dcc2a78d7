/// Highest mean over `gust_s` within a stretch of `averaging_s`, over the mean of the stretch, at 10 m.
///
/// # Units
/// `turbulence_intensity`: standard deviation over mean, 0.25 inland, 0.20 off the land, 0.15 off the sea, 0.10 at
/// sea; `gust_s`: 3 to 600 s; `averaging_s`: 60 to 3600 s.
/// # Model
/// One where the gust is as long as the stretch, by definition.
/// # Source
/// B. A. Harper, J. D. Kepert, J. D. Ginger, Guidelines for converting between various wind averaging periods,
/// WMO/TD-No. 1555 (2010), appendix D, second-hand; its table 1.1 from memory. DIFFERENCE: the formula itself is up
/// to 1.09 where the gust is as long as the stretch.
#[must_use]
pub fn gust_factor(turbulence_intensity: f64, gust_s: f64, averaging_s: f64) -> f64 {
    if gust_s >= averaging_s {
        return 1.0;
    }
    const HOUR_S: f64 = 3600.0;
    let memory_s = 3.13 * 10_f64.powf(0.2); // integral time of the wind at 10 m
    let ratio = memory_s / gust_s;
    let crossings = HOUR_S * (0.007 + 0.213 * ratio.powf(0.654)) / memory_s;
    let spread = 1.0 - 0.193 * (ratio + 0.1).powf(-0.68); // what averaging over the gust leaves of the deviation
    let reach = (2.0 * crossings.ln()).sqrt();
    let peak = (reach + 0.577 / reach) * spread;
    let shorter = if averaging_s < HOUR_S { 0.2193 * averaging_s.log10().ln() + 0.7242 } else { 1.0 };
    (shorter * (1.0 + peak * turbulence_intensity)).max(1.0)
}
