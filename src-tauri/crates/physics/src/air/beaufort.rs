/// Force of the wind by what it does, for a flyer without a meter: Beaufort's scale.
///
/// # Source
/// WMO Beaufort scale at 10 m over open level ground, `tests/reference/wmo/wind_beaufort.csv`; the words of what is
/// seen on land are shortened.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Beaufort(u8);

/// Least speed (m/s), name, and what is seen on land. Limits lie half way between the printed classes.
const FORCES: [(f64, &str, &str); 13] = [
    (0.0, "Calm", "smoke rises straight up"),
    (0.25, "Light air", "smoke drifts, vanes do not turn"),
    (1.55, "Light breeze", "felt on the face, leaves rustle"),
    (3.35, "Gentle breeze", "leaves and small twigs always move, a light flag is stretched"),
    (5.45, "Moderate breeze", "dust and loose paper fly, small branches move"),
    (7.95, "Fresh breeze", "small trees in leaf sway"),
    (10.75, "Strong breeze", "large branches move, wires whistle"),
    (13.85, "Near gale", "whole trees move, walking is hard"),
    (17.15, "Gale", "twigs break off"),
    (20.75, "Strong gale", "slates come off"),
    (24.45, "Storm", "trees are uprooted"),
    (28.45, "Violent storm", "damage far and wide"),
    (32.65, "Hurricane", "devastation"),
];

impl Beaufort {
    /// The force of a wind at 10 m; calm for a negative speed or none at all.
    #[must_use]
    pub fn of_speed(speed_mps: f64) -> Self {
        let above = FORCES.iter().skip(1).filter(|(least, ..)| speed_mps >= *least).count();
        Self(u8::try_from(above).unwrap_or(12))
    }

    /// By its number; none above 12.
    #[must_use]
    pub fn new(force: u8) -> Option<Self> {
        (force <= 12).then_some(Self(force))
    }

    /// Its number, 0 to 12.
    #[must_use]
    pub fn force(self) -> u8 {
        self.0
    }

    /// Least and greatest speed at 10 m, m/s; no greatest for a hurricane.
    #[must_use]
    pub fn speeds_mps(self) -> (f64, Option<f64>) {
        let at = usize::from(self.0);
        (FORCES[at].0, FORCES.get(at + 1).map(|next| next.0))
    }

    /// Name.
    #[must_use]
    pub fn name(self) -> &'static str {
        FORCES[usize::from(self.0)].1
    }

    /// What is seen on land.
    #[must_use]
    pub fn on_land(self) -> &'static str {
        FORCES[usize::from(self.0)].2
    }
}
