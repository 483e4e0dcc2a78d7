//! The air of one flight: a mean wind that grows and turns with height, and gusts on a fine grid of times.

use super::chance::{Chance, forgetting, normal};
use rand::Rng;

const GRID_S: f64 = 0.1;
/// No flight is followed longer than this, s.
pub(super) const LONGEST_S: f64 = 900.0;
const GRAVITY_MPS2: f64 = 9.806_65;
const GAS_JPKGK: f64 = 287.053;
const LAPSE_KPM: f64 = 0.0065;

/// Three components of a gust against time: along, across, upwards, in standard deviations.
#[derive(Clone, Debug)]
struct Walk {
    axes: [Vec<f64>; 3],
}

impl Walk {
    fn new(memory_s: f64, rng: &mut impl Rng) -> Self {
        let steps = steps(LONGEST_S);
        Self { axes: core::array::from_fn(|_| forgetting(normal(rng), GRID_S, memory_s, steps, rng)) }
    }

    /// The same up to a moment, and on its own from there.
    fn parted(&self, at_s: f64, memory_s: f64, rng: &mut impl Rng) -> Self {
        let from = steps(at_s).min(self.axes[0].len() - 1);
        let axes = core::array::from_fn(|axis| {
            let old = &self.axes[axis];
            let mut walk = old[..from].to_vec();
            walk.extend(forgetting(old[from], GRID_S, memory_s, old.len() - from, rng));
            walk
        });
        Self { axes }
    }

    fn at(&self, t_s: f64) -> [f64; 3] {
        let place = (t_s / GRID_S).max(0.0);
        let index = steps(t_s.max(0.0)).min(self.axes[0].len() - 2);
        let share = (place - index as f64).clamp(0.0, 1.0);
        core::array::from_fn(|axis| {
            self.axes[axis][index] + share * (self.axes[axis][index + 1] - self.axes[axis][index])
        })
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "tenths of seconds up to the cap"
)]
fn steps(t_s: f64) -> usize {
    (t_s / GRID_S) as usize
}

/// The air of one flight.
#[derive(Clone, Debug)]
pub(super) struct Air {
    /// Mean wind at 10 m, towards east and north, m/s.
    pub(super) at_10_mps: [f64; 2],
    pub(super) roughness_m: f64,
    pub(super) stability: f64,
    pub(super) shear: f64,
    pub(super) veer_radpm: f64,
    pub(super) rising_mps: f64,
    /// At the pad.
    pub(super) kelvin: f64,
    pub(super) pascal: f64,
    /// Standard deviations along, across and upwards, m/s.
    gust_mps: [f64; 3],
    slow_share: f64,
    memory_s: [f64; 2],
    slow: Walk,
    /// The fast gusts of each body; those of the first blow before anything is let go.
    fast: Vec<Walk>,
}

/// What is not of the mean air: how wide, and how strong the gusts.
#[derive(Clone, Copy, Debug)]
pub(super) struct Unusual {
    pub(super) wider: f64,
    pub(super) gusts: f64,
    pub(super) shear_more: f64,
}

impl Air {
    pub(super) fn draw(
        chance: &Chance,
        known_cover: Option<f64>,
        (kelvin, elevation_m): (f64, f64),
        unusual: Unusual,
        rng: &mut impl Rng,
    ) -> Self {
        let wider = unusual.wider;
        // Rayleigh speeds from two components: the table's law has shape 2 and this mean.
        let component_mps = wider * chance.b("wind_speed_10m_unread") / (core::f64::consts::PI / 2.0).sqrt();
        let at_10_mps = [0, 1].map(|_| component_mps * chance.normal("wind_speed_10m_unread", rng));
        let roughness_m = match known_cover {
            Some(class_m) => class_m * chance.draw("roughness_known_cover", rng),
            None => chance.draw("roughness_unknown", rng),
        };
        let speed = at_10_mps[0].hypot(at_10_mps[1]);
        // Sun-warmed air keeps moving in a calm: at least a tenth.
        let friction = wider * unusual.gusts * (0.4 * speed / (10.0 / roughness_m).ln()).max(0.1);
        let memory_s = [chance.a("gust_time_slow"), chance.a("gust_time_fast")];
        Self {
            at_10_mps,
            roughness_m,
            stability: chance.draw("stability_slope_day", rng).max(-0.3),
            shear: chance.wide("shear_exponent_above_80m_day", wider, rng) + unusual.shear_more,
            veer_radpm: chance.wide("veer_per_100m", wider, rng).to_radians() / 100.0,
            rising_mps: chance.wide("thermal_mean_vertical_sunny", wider, rng),
            kelvin,
            pascal: standard_pa(elevation_m),
            gust_mps: ["gust_sigma_u", "gust_sigma_v", "gust_sigma_w"].map(|row| chance.a(row) * friction),
            slow_share: chance.a("gust_slow_share"),
            memory_s,
            slow: Walk::new(memory_s[0], rng),
            fast: vec![Walk::new(memory_s[1], rng)],
        }
    }

    /// From `at_s` on, one more body feels fast gusts of its own; returns its number.
    pub(super) fn part(&mut self, at_s: f64, rng: &mut impl Rng) -> usize {
        self.fast.push(self.fast[0].parted(at_s, self.memory_s[1], rng));
        self.fast.len() - 1
    }

    /// Mean wind at a height, towards east and north, m/s.
    pub(super) fn mean_mps(&self, height_m: f64) -> [f64; 2] {
        let grown = |height_m: f64| {
            let share = (height_m.max(2.0 * self.roughness_m) / self.roughness_m).ln()
                / (10.0 / self.roughness_m).ln();
            let slope = if height_m > 10.0 { self.stability } else { 1.0 };
            (1.0 + slope * (share - 1.0)).max(0.1)
        };
        let factor =
            if height_m <= 80.0 { grown(height_m) } else { grown(80.0) * (height_m / 80.0).powf(self.shear) };
        let (sin, cos) = (self.veer_radpm * (height_m - 10.0)).sin_cos();
        let [east, north] = self.at_10_mps;
        [factor * (east * cos + north * sin), factor * (north * cos - east * sin)]
    }

    /// The air's motion where a body is, towards east, north and up, m/s.
    pub(super) fn moves_mps(&self, body: usize, height_m: f64, t_s: f64) -> [f64; 3] {
        let (slow, fast) = (self.slow.at(t_s), self.fast[body].at(t_s));
        let [along, across, up] = core::array::from_fn(|axis| {
            self.gust_mps[axis]
                * (self.slow_share.sqrt() * slow[axis] + (1.0 - self.slow_share).sqrt() * fast[axis])
        });
        let [east, north] = self.mean_mps(height_m);
        let speed = self.at_10_mps[0].hypot(self.at_10_mps[1]).max(1e-9);
        let [c, s] = self.at_10_mps.map(|it| it / speed);
        // Nothing blows through the ground: thermals need some tens of metres, eddies fewer.
        let fades = |within_m: f64| (height_m / within_m).clamp(0.0, 1.0);
        [
            east + along * c - across * s,
            north + along * s + across * c,
            self.rising_mps * fades(50.0) + up * fades(20.0),
        ]
    }

    /// Pressure of dry air with the standard lapse rate above the pad, Pa.
    fn pascal_at(&self, height_m: f64) -> f64 {
        let kelvin = self.kelvin - LAPSE_KPM * height_m;
        self.pascal * (kelvin / self.kelvin).powf(GRAVITY_MPS2 / (GAS_JPKGK * LAPSE_KPM))
    }

    /// Density, kg/m3; the vapour of a fair day takes half a percent.
    pub(super) fn density_kgpm3(&self, height_m: f64) -> f64 {
        0.995 * self.pascal_at(height_m) / (GAS_JPKGK * (self.kelvin - LAPSE_KPM * height_m))
    }

    /// What an altimeter that takes the air for the standard one shows at a height, m.
    pub(super) fn shown_m(&self, height_m: f64) -> f64 {
        let standard_m = |pascal: f64| {
            (1.0 - (pascal / 101_325.0).powf(GAS_JPKGK * LAPSE_KPM / GRAVITY_MPS2)) * 288.15 / LAPSE_KPM
        };
        standard_m(self.pascal_at(height_m)) - standard_m(self.pascal)
    }
}

fn standard_pa(elevation_m: f64) -> f64 {
    101_325.0 * (1.0 - LAPSE_KPM * elevation_m / 288.15).powf(GRAVITY_MPS2 / (GAS_JPKGK * LAPSE_KPM))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use windfall_inference::Priors;

    #[test]
    fn gusts_have_the_spread_and_the_memory_of_the_table() {
        // Many flights: the spread of the sum, and how much of it is left after 12 s and after a minute.
        let mut rng = ChaCha8Rng::seed_from_u64(5);
        let chance = Chance::of(&Priors::embedded());
        let still = Unusual { wider: 1.0, gusts: 1.0, shear_more: 0.0 };
        let (mut square, mut later, mut flights) = (0.0, [0.0; 2], 0.0);
        for _ in 0..400 {
            let air = Air::draw(&chance, Some(0.03), (288.15, 0.0), still, &mut rng);
            let along = |t_s: f64| {
                let mean = air.mean_mps(50.0);
                let [east, north, _] = air.moves_mps(0, 50.0, t_s);
                let speed = air.at_10_mps[0].hypot(air.at_10_mps[1]);
                let way = air.at_10_mps.map(|it| it / speed);
                ((east - mean[0]) * way[0] + (north - mean[1]) * way[1]) / air.gust_mps[0]
            };
            for start in 0..8 {
                let t_s = 100.0 * f64::from(start);
                let now = along(t_s);
                square += now * now;
                later[0] += now * along(t_s + 12.0);
                later[1] += now * along(t_s + 60.0);
                flights += 1.0;
            }
        }
        let slow = chance.a("gust_slow_share");
        let left = |t_s: f64| slow * (-t_s / 60.0).exp() + (1.0 - slow) * (-t_s / 12.0).exp();
        // Standard error near 0.03: the band is five.
        for (ours, law) in [(square, 1.0), (later[0], left(12.0)), (later[1], left(60.0))] {
            assert!((ours / flights - law).abs() < 0.15, "{} against {law}", ours / flights);
        }
    }

    #[test]
    fn parted_bodies_share_the_slow_gusts_and_the_past() {
        let mut rng = ChaCha8Rng::seed_from_u64(6);
        let chance = Chance::of(&Priors::embedded());
        let usual = Unusual { wider: 1.0, gusts: 1.0, shear_more: 0.0 };
        let mut air = Air::draw(&chance, None, (288.15, 0.0), usual, &mut rng);
        let other = air.part(7.0, &mut rng);
        let apart = |t_s: f64| {
            let (a, b) = (air.moves_mps(0, 60.0, t_s), air.moves_mps(other, 60.0, t_s));
            (a[0] - b[0]).hypot(a[1] - b[1])
        };
        assert!(apart(3.0) < 1e-12 && apart(7.0) < 1e-12 && apart(40.0) > 1e-3);
    }

    #[test]
    fn density_at_sea_level_is_the_standard_one_but_for_its_vapour() {
        let mut rng = ChaCha8Rng::seed_from_u64(7);
        let usual = Unusual { wider: 1.0, gusts: 1.0, shear_more: 0.0 };
        let air = Air::draw(&Chance::of(&Priors::embedded()), None, (288.15, 0.0), usual, &mut rng);
        // US Standard Atmosphere 1976: 1.225 kg/m3, at 1 km 1.1117; a standard altimeter is right in standard air.
        assert!((air.density_kgpm3(0.0) / 0.995 - 1.225).abs() < 2e-4);
        assert!((air.density_kgpm3(1000.0) / 0.995 - 1.1117).abs() < 2e-4);
        assert!((air.shown_m(300.0) - 300.0).abs() < 1e-6);
    }
}
