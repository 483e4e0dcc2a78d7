/// How rough the land upwind is, in the classes of Davenport and Wieringa.
///
/// # Source
/// J. Wieringa, Updating the Davenport roughness classification, J. Wind Eng. Ind. Aerodyn. 41 (1992) 357, from
/// memory; lengths as in `tests/reference/wmo/wind_roughness_davenport.csv`, which a test holds against these.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Terrain {
    /// Open sea or lake, tidal flat, smooth desert, concrete.
    Sea,
    /// Featureless land: beaches, snow-covered fields.
    Smooth,
    /// Level country with grass and few obstacles: airports, pasture.
    Open,
    /// Low crops, occasional obstacles.
    RoughlyOpen,
    /// High crops, scattered obstacles, vineyards.
    Rough,
    /// Farms and clumps of forest, orchards, bushland.
    VeryRough,
    /// Suburbs, villages, mature forest.
    Closed,
    /// City centres, irregular forest with clearings.
    Chaotic,
}

impl Terrain {
    /// From the smoothest to the roughest.
    pub const ALL: [Self; 8] = [
        Self::Sea,
        Self::Smooth,
        Self::Open,
        Self::RoughlyOpen,
        Self::Rough,
        Self::VeryRough,
        Self::Closed,
        Self::Chaotic,
    ];

    /// Name of the class.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Sea => "sea",
            Self::Smooth => "smooth",
            Self::Open => "open",
            Self::RoughlyOpen => "roughly open",
            Self::Rough => "rough",
            Self::VeryRough => "very rough",
            Self::Closed => "closed",
            Self::Chaotic => "chaotic",
        }
    }

    /// Roughness length of the log law, m; that of [`Terrain::Chaotic`] is a lower limit.
    #[must_use]
    pub const fn roughness_m(self) -> f64 {
        match self {
            Self::Sea => 0.0002,
            Self::Smooth => 0.005,
            Self::Open => 0.03,
            Self::RoughlyOpen => 0.1,
            Self::Rough => 0.25,
            Self::VeryRough => 0.5,
            Self::Closed => 1.0,
            Self::Chaotic => 2.0,
        }
    }
}
