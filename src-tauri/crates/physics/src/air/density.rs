use crate::GRAVITY_MPS2;

const LAPSE_KPM: f64 = 0.0065;
const SEA_LEVEL_K: f64 = 288.15;
const SEA_LEVEL_PA: f64 = 101_325.0;
const DRY_AIR_JPKGK: f64 = 287.052_87;

/// Temperature (K), pressure (Pa) and density (kg/m3) at a geopotential height up to 11 km.
///
/// # Source
/// US Standard Atmosphere 1976, equations 23, 33a and 42 (same values as ICAO Doc 7488/3).
#[must_use]
pub fn standard_atmosphere(height_m: f64) -> (f64, f64, f64) {
    let kelvin = SEA_LEVEL_K - LAPSE_KPM * height_m;
    let pascal = SEA_LEVEL_PA * (kelvin / SEA_LEVEL_K).powf(GRAVITY_MPS2 / (DRY_AIR_JPKGK * LAPSE_KPM));
    (kelvin, pascal, pascal / (DRY_AIR_JPKGK * kelvin))
}

/// Geopotential height (m) at which the standard atmosphere has this pressure, up to 11 km: what an altimeter takes it
/// for.
///
/// # Source
/// Inverse of [`standard_atmosphere`].
#[must_use]
pub fn pressure_height_m(pressure_pa: f64) -> f64 {
    let ratio = pressure_pa / SEA_LEVEL_PA;
    SEA_LEVEL_K / LAPSE_KPM * (1.0 - ratio.powf(DRY_AIR_JPKGK * LAPSE_KPM / GRAVITY_MPS2))
}

/// Geopotential height (m) at which the standard atmosphere is as dense, up to 11 km: density altitude.
///
/// # Source
/// Inverse of [`standard_atmosphere`].
#[must_use]
pub fn density_height_m(density_kgpm3: f64) -> f64 {
    let sea_level = SEA_LEVEL_PA / (DRY_AIR_JPKGK * SEA_LEVEL_K);
    let exponent = GRAVITY_MPS2 / (DRY_AIR_JPKGK * LAPSE_KPM) - 1.0;
    SEA_LEVEL_K / LAPSE_KPM * (1.0 - (density_kgpm3 / sea_level).powf(1.0 / exponent))
}

/// Density of moist air, kg/m3.
///
/// # Units
/// `relative_humidity`: 0 to 1.
/// # Source
/// A. Picard et al., Revised formula for the density of moist air (CIPM-2007), Metrologia 45 (2008) 149,
/// equations 1 and A1.1 to A1.4, carbon dioxide fraction 400 micromole per mole.
#[must_use]
pub fn moist_density_kgpm3(temperature_c: f64, pressure_pa: f64, relative_humidity: f64) -> f64 {
    let t = temperature_c;
    let kelvin = t + 273.15;
    let saturation_pa = (1.237_884_7e-5 * kelvin * kelvin - 1.912_131_6e-2 * kelvin + 33.937_110_47
        - 6.343_164_5e3 / kelvin)
        .exp();
    let enhancement = 1.000_62 + 3.14e-8 * pressure_pa + 5.6e-7 * t * t;
    let vapour = relative_humidity * enhancement * saturation_pa / pressure_pa;
    let compressibility = 1.0
        - pressure_pa / kelvin
            * (1.581_23e-6 - 2.9331e-8 * t
                + 1.1043e-10 * t * t
                + (5.707e-6 - 2.051e-8 * t) * vapour
                + (1.9898e-4 - 2.376e-6 * t) * vapour * vapour)
        + (pressure_pa / kelvin).powi(2) * (1.83e-11 - 0.765e-8 * vapour * vapour);
    let molar_mass_dry = 28.965_46e-3; // at 400 micromole CO2 per mole
    pressure_pa * molar_mass_dry / (compressibility * 8.314_472 * kelvin) * (1.0 - 0.3780 * vapour)
}

/// The air at the pad.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ground {
    /// Kelvin.
    pub temperature_k: f64,
    /// kg/m3.
    pub density_kgpm3: f64,
}

impl Ground {
    /// From what was measured; whatever is missing comes from the standard atmosphere at the pad's elevation.
    ///
    /// # Units
    /// `relative_humidity`: 0 to 1.
    #[must_use]
    pub fn measured(
        elevation_m: f64,
        temperature_c: Option<f64>,
        pressure_pa: Option<f64>,
        relative_humidity: Option<f64>,
    ) -> Self {
        let (standard_k, standard_pa, _) = standard_atmosphere(elevation_m);
        let temperature_k = temperature_c.map_or(standard_k, |c| c + 273.15);
        let density_kgpm3 = moist_density_kgpm3(
            temperature_k - 273.15,
            pressure_pa.unwrap_or(standard_pa),
            relative_humidity.unwrap_or(0.5),
        );
        Self { temperature_k, density_kgpm3 }
    }
}

/// What an altimeter shows at a true height above the pad: it takes the pressure for the standard atmosphere's.
///
/// # Model
/// Dry air with the standard lapse rate over a pad at standard pressure, warm or cold by any amount: there
/// indicated = true x `T_standard` / T is exact (integrate the hydrostatic equation). Damp air, another lapse rate and
/// another pressure change it by less than a hundredth; a test measures each.
#[must_use]
pub fn indicated_height_m(true_m: f64, ground: Ground, elevation_m: f64) -> f64 {
    true_m * standard_atmosphere(elevation_m).0 / ground.temperature_k
}
