//! The density of a landing point, and the regions read off it.

use contour::ContourBuilder;
use geo::{Area, MultiPolygon};
use windfall_facts::Mode;

/// A weighted landing point.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Landing {
    pub(crate) mode: Mode,
    pub(crate) weight: f64,
    pub(crate) at_m: [f64; 2],
    /// In which half of the draws it is, 0 or 1: the halves know nothing of each other.
    pub(crate) half: usize,
}

/// A density on a grid of square cells, rows from south to north.
#[derive(Clone, Debug)]
pub(crate) struct Map {
    width: usize,
    height: usize,
    cell_m: f64,
    west_m: f64,
    south_m: f64,
    /// Chance per square metre.
    values: Vec<f64>,
    /// Density at each landing, in the order given, of the half of the draws that it is not in.
    at_landings: Vec<f64>,
}

/// Finest cell; nobody walks to half a metre.
const FINEST_M: f64 = 0.5;
/// Cells to a standard deviation of the narrowest kernel.
const CELLS_A_KERNEL: f64 = 2.5;
/// Kernels reach this many of their standard deviations.
const REACH: f64 = 3.5;
/// A thing on the ground is not a point, and the grass is not a mirror: least kernel, m.
const LEAST_KERNEL_M: f64 = 1.5;

/// One mode's landings as a smooth law: shrunk towards their mean and blurred so that the covariance is kept.
struct Blur {
    mean: [f64; 2],
    shrink: f64,
    /// Kernel covariance: east-east, east-north, north-north.
    kernel: [f64; 3],
}

impl Blur {
    /// # Source
    /// M. West, Approximating posterior distributions by mixture, J. R. Stat. Soc. B 55 (1993) 409, for the
    /// shrinkage; B. W. Silverman, Density Estimation (1986), equation 4.14, for the bandwidth `n^(-1/6)` in the
    /// plane; both from memory.
    fn of(landings: &[&Landing], least_m: f64) -> Self {
        let total: f64 = landings.iter().map(|it| it.weight).sum();
        let squares: f64 = landings.iter().map(|it| it.weight * it.weight).sum();
        let count = total * total / squares;
        let mut mean = [0.0; 2];
        for it in landings {
            mean[0] += it.weight / total * it.at_m[0];
            mean[1] += it.weight / total * it.at_m[1];
        }
        let mut cov = [0.0; 3];
        for it in landings {
            let (e, n, w) = (it.at_m[0] - mean[0], it.at_m[1] - mean[1], it.weight / total);
            cov = [cov[0] + w * e * e, cov[1] + w * e * n, cov[2] + w * n * n];
        }
        let h2 = count.max(2.0).powf(-1.0 / 3.0).min(0.9);
        let least = least_m * least_m;
        Self {
            mean,
            shrink: (1.0 - h2).sqrt(),
            kernel: [h2 * cov[0] + least, h2 * cov[1], h2 * cov[2] + least],
        }
    }

    /// The smallest standard deviation of the kernel in any direction, m.
    fn narrowest_m(&self) -> f64 {
        let [a, b, c] = self.kernel;
        (f64::midpoint(a, c) - ((a - c) / 2.0).hypot(b)).max(0.0).sqrt()
    }

    fn place(&self, at_m: [f64; 2]) -> [f64; 2] {
        core::array::from_fn(|axis| self.mean[axis] + self.shrink * (at_m[axis] - self.mean[axis]))
    }
}

impl Map {
    /// The density of the landings, on at most `cells` cells a side, blurred by at least the error of the pad's own
    /// place. None without landings.
    pub(crate) fn of(landings: &[Landing], cells: usize, pad_sigma_m: f64) -> Option<Self> {
        let total: f64 = landings.iter().map(|it| it.weight).sum();
        if landings.is_empty() || total <= 0.0 {
            return None;
        }
        let blurs: Vec<(Mode, Blur)> = Mode::ALL
            .into_iter()
            .filter_map(|mode| {
                let own: Vec<&Landing> =
                    landings.iter().filter(|it| it.mode == mode && it.weight > 0.0).collect();
                (!own.is_empty()).then(|| (mode, Blur::of(&own, LEAST_KERNEL_M.hypot(pad_sigma_m))))
            })
            .collect();
        let (low, high) = extent(landings, &blurs, total);
        let span = (high[0] - low[0]).max(high[1] - low[1]);
        // A kernel need not be drawn finer than this: between cells the density is bilinear.
        let narrowest_m = blurs.iter().map(|(_, blur)| blur.narrowest_m()).fold(f64::INFINITY, f64::min);
        let cell_m = (span / cells as f64).max(narrowest_m / CELLS_A_KERNEL).max(FINEST_M);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most `cells`")]
        let count = |axis: usize| (((high[axis] - low[axis]) / cell_m).ceil() as usize).clamp(8, cells);
        let mut map = Self {
            width: count(0),
            height: count(1),
            cell_m,
            west_m: low[0],
            south_m: low[1],
            values: Vec::new(),
            at_landings: vec![0.0; landings.len()],
        };
        let halves = [0, 1].map(|half| {
            map.values = vec![0.0; map.width * map.height];
            for (mode, blur) in &blurs {
                map.add_mode(landings.iter().filter(|it| it.half == half), *mode, blur, total);
            }
            core::mem::take(&mut map.values)
        });
        for (half, values) in halves.iter().enumerate() {
            map.values.clone_from(values);
            let others = || landings.iter().enumerate().filter(|(_, it)| it.half != half);
            let share = 1.0 - others().map(|(_, it)| it.weight).sum::<f64>() / total;
            for (index, it) in others() {
                map.at_landings[index] = map.at(it.at_m) / share.max(1e-9);
            }
        }
        map.values = halves[0].iter().zip(&halves[1]).map(|(a, b)| a + b).collect();
        Some(map)
    }

    /// The kernel, no narrower than the grid can carry.
    fn wide_enough(&self, kernel: [f64; 3]) -> [f64; 3] {
        let least = (0.6 * self.cell_m).powi(2);
        [kernel[0] + least, kernel[1], kernel[2] + least]
    }

    fn add_mode<'a>(
        &mut self,
        landings: impl Iterator<Item = &'a Landing>,
        mode: Mode,
        blur: &Blur,
        total: f64,
    ) {
        let mut mass = vec![0.0; self.width * self.height];
        for it in landings.filter(|it| it.mode == mode) {
            let [east, north] = blur.place(it.at_m);
            for (index, share) in self.nearest([east, north]) {
                mass[index] += share * it.weight / total;
            }
        }
        let kernel = self.wide_enough(blur.kernel);
        let det = kernel[0] * kernel[2] - kernel[1] * kernel[1];
        let inverse = [kernel[2] / det, -kernel[1] / det, kernel[0] / det];
        // A rare mode may be wider than the map by thousands of times; what lies off the map is not drawn.
        #[expect(clippy::cast_possible_truncation, reason = "no more than the map's own cells")]
        let reach = |variance: f64, cells: usize| {
            (REACH * variance.sqrt() / self.cell_m).ceil().min(cells as f64) as isize
        };
        let (across, along) = (reach(kernel[0], self.width), reach(kernel[2], self.height));
        let width = 2 * across + 1;
        let mut stamp = Vec::new();
        for j in -along..=along {
            for i in -across..=across {
                let (e, n) = (i as f64 * self.cell_m, j as f64 * self.cell_m);
                let distance2 = inverse[0] * e * e + 2.0 * inverse[1] * e * n + inverse[2] * n * n;
                stamp.push(if distance2 > REACH * REACH {
                    0.0
                } else {
                    (-0.5 * distance2).exp() * peak(&kernel)
                });
            }
        }
        let (w, h) = (self.width.cast_signed(), self.height.cast_signed());
        for (index, share) in mass.iter().enumerate().filter(|row| *row.1 > 0.0) {
            let (x, y) = ((index % self.width).cast_signed(), (index / self.width).cast_signed());
            let (from, to) = ((x - across).max(0), (x + across).min(w - 1));
            for j in (y - along).max(0)..=(y + along).min(h - 1) {
                let source = ((j - y + along) * width + from - x + across).cast_unsigned();
                let target = (j * w + from).cast_unsigned();
                let span = (to - from + 1).cast_unsigned();
                let (row, kernel) = (&mut self.values[target..target + span], &stamp[source..source + span]);
                for (value, weight) in row.iter_mut().zip(kernel) {
                    *value += share * weight;
                }
            }
        }
    }

    /// Density at a place, bilinear between cell centres; zero outside.
    pub(crate) fn at(&self, at_m: [f64; 2]) -> f64 {
        self.nearest(at_m).map(|(index, share)| share * self.values[index]).sum()
    }

    /// The four cells nearest to a place, those off the grid left out, and the share of each: bilinear.
    fn nearest(&self, at_m: [f64; 2]) -> impl Iterator<Item = (usize, f64)> + use<> {
        let (width, height) = (self.width, self.height);
        let (x, y) =
            ((at_m[0] - self.west_m) / self.cell_m - 0.5, (at_m[1] - self.south_m) / self.cell_m - 0.5);
        [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)].into_iter().filter_map(move |(dx, dy)| {
            let (i, j) = (x.floor() + dx, y.floor() + dy);
            if i >= 0.0 && j >= 0.0 && i < width as f64 && j < height as f64 {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "inside the grid"
                )]
                let index = j as usize * width + i as usize;
                Some((index, (1.0 - (x - i).abs()) * (1.0 - (y - j).abs())))
            } else {
                None
            }
        })
    }

    /// Density level whose region holds a share `p`: the weighted `(1 - p)` quantile of the density at the draws, each
    /// half of them under the density of the other half.
    ///
    /// # Model
    /// Under its own density a draw stands too high, and so it does, if left out alone, under that of draws which moved
    /// little since they were one with it: areas of 500 effective draws among 4000 then hold 89 % where they say 90.
    /// Halves that know nothing of each other have no such kin, and where they disagree the areas grow.
    /// # Source
    /// R. J. Hyndman, Computing and graphing highest density regions, The American Statistician 50 (1996) 120,
    /// from memory.
    pub(crate) fn level(&self, landings: &[Landing], p: f64) -> f64 {
        let mut order: Vec<usize> = (0..landings.len()).collect();
        order.sort_by(|a, b| self.at_landings[*b].total_cmp(&self.at_landings[*a]));
        let total: f64 = landings.iter().map(|it| it.weight).sum();
        let mut sum = 0.0;
        for index in order {
            sum += landings[index].weight / total;
            if sum >= p {
                return self.at_landings[index];
            }
        }
        0.0
    }

    /// The region above a level, in the local frame, and its area in m2.
    pub(crate) fn region(&self, level: f64) -> (MultiPolygon, f64) {
        // A rim of empty cells closes every ring.
        let (w, h) = (self.width + 2, self.height + 2);
        let mut padded = vec![0.0; w * h];
        for j in 0..self.height {
            padded[(j + 1) * w + 1..(j + 1) * w + 1 + self.width]
                .copy_from_slice(&self.values[j * self.width..(j + 1) * self.width]);
        }
        let builder = ContourBuilder::new(w, h, true)
            .x_origin(self.west_m - self.cell_m)
            .y_origin(self.south_m - self.cell_m)
            .x_step(self.cell_m)
            .y_step(self.cell_m);
        let level = level.max(f64::MIN_POSITIVE);
        let polygons = builder
            .contours(&padded, &[level])
            .ok()
            .and_then(|contours| contours.into_iter().next())
            .map_or_else(|| MultiPolygon::new(vec![]), |contour| contour.into_inner().0);
        let area = polygons.unsigned_area();
        (polygons, area)
    }

    /// Centre of the disc of a radius that holds most chance.
    pub(crate) fn aim(&self, radius_m: f64) -> [f64; 2] {
        let highest = self.values.iter().copied().fold(0.0, f64::max);
        #[expect(clippy::cast_possible_truncation, reason = "a few dozen cells")]
        let reach = (radius_m / self.cell_m).floor() as isize;
        let mut rows = Vec::new(); // half width of the disc in each of its rows
        for j in -reach..=reach {
            #[expect(clippy::cast_possible_truncation, reason = "a few dozen cells")]
            let half = (((radius_m / self.cell_m).powi(2) - (j * j) as f64).max(0.0)).sqrt().floor() as isize;
            rows.push((j, half));
        }
        // Running sums along each row make every disc a handful of differences.
        let (w, h) = (self.width.cast_signed(), self.height.cast_signed());
        let stride = self.width + 1;
        let mut sums = vec![0.0; stride * self.height];
        for j in 0..self.height {
            for i in 0..self.width {
                sums[j * stride + i + 1] = sums[j * stride + i] + self.values[j * self.width + i];
            }
        }
        let mut best = (f64::NEG_INFINITY, 0_usize);
        for (index, value) in self.values.iter().enumerate() {
            if *value < 0.2 * highest {
                continue;
            }
            let (x, y) = ((index % self.width).cast_signed(), (index / self.width).cast_signed());
            let mut mass = 0.0;
            for (dy, half) in &rows {
                let j = y + dy;
                if j >= 0 && j < h {
                    let (from, to) = ((x - half).max(0), (x + half + 1).min(w));
                    let row = j.cast_unsigned() * stride;
                    mass += sums[row + to.cast_unsigned()] - sums[row + from.cast_unsigned()];
                }
            }
            if mass > best.0 {
                best = (mass, index);
            }
        }
        let (i, j) = (best.1 % self.width, best.1 / self.width);
        [self.west_m + (i as f64 + 0.5) * self.cell_m, self.south_m + (j as f64 + 0.5) * self.cell_m]
    }

    /// As bytes for the screen.
    pub(crate) fn bytes(&self) -> Vec<u8> {
        let highest = self.values.iter().copied().fold(f64::MIN_POSITIVE, f64::max);
        let mut bytes = Vec::with_capacity(16 + self.values.len());
        #[expect(clippy::cast_possible_truncation, reason = "at most 256 cells; centimetres in f32")]
        {
            bytes.extend((self.width as u16).to_le_bytes());
            bytes.extend((self.height as u16).to_le_bytes());
            for value in [self.cell_m, self.west_m, self.south_m] {
                bytes.extend((value as f32).to_le_bytes());
            }
        }
        for j in (0..self.height).rev() {
            for value in &self.values[j * self.width..(j + 1) * self.width] {
                #[expect(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "between 0 and 255"
                )]
                bytes.push((255.0 * (value / highest).sqrt()).round() as u8);
            }
        }
        bytes
    }
}

fn peak(kernel: &[f64; 3]) -> f64 {
    1.0 / (core::f64::consts::TAU * (kernel[0] * kernel[2] - kernel[1] * kernel[1]).sqrt())
}

/// Corners of the grid: all but the outermost half percent on each side, and the kernels' reach.
fn extent(landings: &[Landing], blurs: &[(Mode, Blur)], total: f64) -> ([f64; 2], [f64; 2]) {
    let mut low = [0.0; 2];
    let mut high = [0.0; 2];
    for axis in 0..2 {
        let mut order: Vec<(f64, f64, f64)> = landings
            .iter()
            .filter_map(|it| {
                let (_, blur) = blurs.iter().find(|row| row.0 == it.mode)?;
                Some((blur.place(it.at_m)[axis], it.weight / total, blur.kernel[2 * axis].sqrt()))
            })
            .collect();
        order.sort_by(|a, b| a.0.total_cmp(&b.0));
        let edge = |rows: &mut dyn Iterator<Item = &(f64, f64, f64)>| {
            let mut sum = 0.0;
            let mut at = (0.0, 0.0);
            for row in rows {
                at = (row.0, row.2);
                sum += row.1;
                if sum > 0.005 {
                    break;
                }
            }
            at
        };
        let (from, reach) = edge(&mut order.iter());
        low[axis] = from - 2.5 * reach - 2.0;
        let (to, reach) = edge(&mut order.iter().rev());
        high[axis] = to + 2.5 * reach + 2.0;
    }
    (low, high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::{RngExt, SeedableRng};
    use rand_distr::StandardNormal;

    fn gaussian(count: usize, seed: u64) -> (Vec<Landing>, impl Fn([f64; 2]) -> f64) {
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
        let landings = (0..count)
            .map(|number| {
                let (a, b): (f64, f64) = (rng.sample(StandardNormal), rng.sample(StandardNormal));
                Landing {
                    mode: Mode::Opens,
                    weight: 1.0,
                    at_m: [100.0 + 60.0 * a, 40.0 + 30.0 * a + 20.0 * b],
                    half: number % 2,
                }
            })
            .collect();
        let distance2 = |at: [f64; 2]| {
            let a = (at[0] - 100.0) / 60.0;
            let b = (at[1] - 40.0 - 30.0 * a) / 20.0;
            a * a + b * b
        };
        (landings, distance2)
    }

    #[test]
    fn regions_of_exact_gaussian_draws_hold_what_they_say() {
        // Truth: a bivariate Gaussian; the share of fresh draws from it inside each region. 4 clouds of 4096 pooled.
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(99);
        for p in [0.5, 0.9] {
            let (mut inside, mut tried) = (0.0, 0.0);
            for seed in 0..4 {
                let (landings, _) = gaussian(4096, seed);
                let map = Map::of(&landings, 256, 0.0).unwrap();
                let level = map.level(&landings, p);
                for _ in 0..20_000 {
                    let (a, b): (f64, f64) = (rng.sample(StandardNormal), rng.sample(StandardNormal));
                    tried += 1.0;
                    if map.at([100.0 + 60.0 * a, 40.0 + 30.0 * a + 20.0 * b]) >= level {
                        inside += 1.0;
                    }
                }
            }
            let share = 100.0 * inside / tried;
            assert!((share - 100.0 * p).abs() < 1.0, "{share} % inside the {} % region", 100.0 * p);
        }
    }

    #[test]
    fn regions_of_draws_that_have_kin_hold_what_they_say() {
        // 512 draws, each with seven that hardly moved away from it: as if there were 4096.
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(98);
        let (mut inside, mut tried) = (0.0, 0.0);
        for seed in 10..30 {
            let (few, _) = gaussian(512, seed);
            let landings: Vec<Landing> = few.iter().flat_map(|it| [*it; 8]).collect();
            let map = Map::of(&landings, 256, 0.0).unwrap();
            let level = map.level(&landings, 0.9);
            for _ in 0..5_000 {
                let (a, b): (f64, f64) = (rng.sample(StandardNormal), rng.sample(StandardNormal));
                tried += 1.0;
                inside +=
                    f64::from(u8::from(map.at([100.0 + 60.0 * a, 40.0 + 30.0 * a + 20.0 * b]) >= level));
            }
        }
        // Spread between clouds near 1 %, so 0.25 for the mean of twenty; left out alone they held 87.
        let share = 100.0 * inside / tried;
        assert!((share - 90.0).abs() < 1.0, "{share} % inside the 90 % region");
    }

    #[test]
    fn the_area_of_a_gaussian_region_is_the_ellipse_of_the_textbook() {
        // Area inside probability p of a bivariate Gaussian: -2 pi ln(1 - p) sqrt(det cov).
        let (landings, _) = gaussian(8192, 7);
        let map = Map::of(&landings, 256, 0.0).unwrap();
        for p in [0.5_f64, 0.9] {
            let (_, area) = map.region(map.level(&landings, p));
            let exact = -core::f64::consts::TAU * (1.0 - p).ln() * 60.0 * 20.0;
            assert!((area / exact - 1.0).abs() < 0.06, "{area} against {exact}");
        }
    }

    #[test]
    fn a_rare_mode_that_is_far_wider_than_the_map_does_not_make_it_large() {
        let (mut landings, _) = gaussian(4096, 3);
        for (at, landing) in landings.iter_mut().step_by(512).enumerate() {
            *landing = Landing { mode: Mode::Unmodelled, at_m: [1e7 * at as f64, 2e7], ..*landing };
        }
        let map = Map::of(&landings, 256, 0.0).unwrap();
        let (_, area) = map.region(map.level(&landings, 0.9));
        let exact = -core::f64::consts::TAU * 0.1_f64.ln() * 60.0 * 20.0;
        assert!((area / exact - 1.0).abs() < 0.1, "{area} against {exact}");
    }

    #[test]
    fn the_aim_of_a_round_cloud_is_its_middle() {
        let (landings, distance2) = gaussian(4096, 3);
        let map = Map::of(&landings, 256, 0.0).unwrap();
        assert!(distance2(map.aim(15.0)) < 0.15);
    }
}
