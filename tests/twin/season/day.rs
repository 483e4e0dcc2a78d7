//! The air of one day: how the mean wind and its profile wander from flight to flight.

use crate::twin::chance::{forgetting, normal};
use rand::Rng;
use std::collections::BTreeMap;

/// Shares of the variance of each component of the wind, and the minutes after which they are forgotten.
///
/// # Model
/// The components wander, not the speed and the direction: so the speed keeps the table's Rayleigh law at any moment,
/// and both change the more, relatively, the less wind there is, as one over the speed, which is how the mast has it.
/// # Source
/// Fitted to the mast's changes in 10 min to 2 h by day in each class of speed (`wind_mast_persistence.csv`; a test holds
/// it to them). One law of the components is not exact: light winds change their speed somewhat more than there, strong
/// ones less.
const WIND: [(f64, f64); 2] = [(0.05, 20.0), (0.95, 1200.0)];
/// The same of slope, shear and veer.
///
/// # Source
/// Autocorrelation of the mast's shear exponent by day, 0.79, 0.68, 0.60 and 0.47 at these lags (measured from the same
/// data); that slope and veer keep as long is judgement.
const PROFILE: [(f64, f64); 2] = [(0.25, 8.0), (0.75, 250.0)];

/// A standard normal that wanders, minute by minute.
fn wanders(parts: [(f64, f64); 2], minutes: usize, rng: &mut impl Rng) -> Vec<f64> {
    let [fast, slow] =
        parts.map(|(share, memory)| (share.sqrt(), forgetting(normal(rng), 1.0, memory, minutes, rng)));
    fast.1.iter().zip(&slow.1).map(|(a, b)| fast.0 * a + slow.0 * b).collect()
}

/// What is new in each row of the table, minute by minute.
#[derive(Clone, Debug)]
pub(super) struct Day(Vec<((&'static str, u64), Vec<f64>)>);

impl Day {
    pub(super) fn draw(minutes: usize, rng: &mut impl Rng) -> Self {
        let rows = [
            (("wind_speed_10m_unread", 0), WIND),
            (("wind_speed_10m_unread", 1), WIND),
            (("stability_slope_day", 0), PROFILE),
            (("shear_exponent_above_80m_day", 0), PROFILE),
            (("veer_per_100m", 0), PROFILE),
        ];
        Self(rows.into_iter().map(|(row, parts)| (row, wanders(parts, minutes, rng))).collect())
    }

    pub(super) fn at(&self, minute: usize) -> BTreeMap<(&'static str, u64), f64> {
        self.0.iter().map(|(row, values)| (*row, values[minute.min(values.len() - 1)])).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ReferenceTable;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    #[test]
    fn the_wind_of_a_day_changes_as_the_mast_says() {
        // At the mast's 40 m it blows about a fifth stronger than at 10 m: the table's usual profile.
        let scale = 1.2 * 3.5 / (core::f64::consts::PI / 2.0).sqrt();
        let mut rng = ChaCha8Rng::seed_from_u64(11);
        let days: Vec<[Vec<f64>; 2]> = (0..6000)
            .map(|_| {
                let day = Day::draw(121, &mut rng);
                [0, 1].map(|axis| day.0[axis].1.iter().map(|z| scale * z).collect())
            })
            .collect();
        let table = ReferenceTable::open("brightwind/wind_mast_persistence.csv");
        let rows = table.rows();
        let mut seen = 0;
        for row in rows.iter().filter(|row| row["lag_min"] <= 120.0) {
            let Some(class) = row.text("subset").strip_prefix("day U40 ") else { continue };
            let class: Vec<f64> = class.split('-').filter_map(|it| it.parse().ok()).collect();
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "minutes")]
            let lag = row["lag_min"] as usize;
            let (mut n, mut ln, mut ln2, mut turn2) = (0.0, 0.0, 0.0, 0.0);
            for [east, north] in &days {
                let speed = east[0].hypot(north[0]);
                if (class[0]..class[1]).contains(&speed) {
                    let turn = north[lag].atan2(east[lag]) - north[0].atan2(east[0]);
                    let change = (east[lag].hypot(north[lag]) / speed).ln();
                    n += 1.0;
                    ln += change;
                    ln2 += change * change;
                    turn2 += turn.sin().atan2(turn.cos()).to_degrees().powi(2);
                }
            }
            let sd_ln = (ln2 / n - (ln / n).powi(2)).sqrt();
            let ratios = [sd_ln / row["sd_dlnU"], (turn2 / n).sqrt() / row["sd_ddir_deg"]];
            println!("{class:?} m/s, {lag} min: {ratios:.3?} of {n}");
            // Direction within a quarter, speed within a third.
            assert!((0.75..1.334).contains(&ratios[0]), "{class:?}, {lag} min: {ratios:?}");
            assert!((0.75..1.25).contains(&ratios[1]), "{class:?}, {lag} min: {ratios:?}");
            seen += 1;
        }
        assert_eq!(seen, 24);
    }
}
