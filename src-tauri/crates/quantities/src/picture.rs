//! A flat picture of the ground, laid on the ground by points that are known in both.

use crate::Offset;

/// A point in the picture and on the ground.
type Pair = ([f64; 2], [f64; 2]);

/// A dot of a picture, counted from its top left corner.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dot {
    /// Dots to the right.
    pub right_px: f64,
    /// Dots down.
    pub down_px: f64,
}

/// What a picture may do to lie on the ground.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Lie {
    /// Turn, grow and shift: a map or a view from straight above.
    Similarity,
    /// Also stretch more one way than the other: a view somewhat from the side.
    Affine,
}

/// Where a picture lies.
#[derive(Clone, Debug, PartialEq)]
pub struct PictureFit {
    /// What it did to get there.
    pub lie: Lie,
    /// How far each point misses its place, metres.
    pub misses_m: Vec<f64>,
    middle: Dot,
    at: Offset,
    east: [f64; 2],  // metres east for each dot to the right and each dot up
    north: [f64; 2], // metres north for each dot to the right and each dot up
}

/// Why a picture cannot be laid on the ground.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NotPlaced {
    /// Two points fit always, so nothing would tell a slip.
    #[error("points: {given}; at least {LEAST} are needed, for two would fit whatever they say")]
    TooFew {
        /// How many there are.
        given: usize,
    },
    /// Nothing tells how wide the picture is across the line.
    #[error("points: they lie in one line; add one well to the side of it")]
    InLine,
    /// Turned over, which no picture of the ground is.
    #[error("points: the picture would be turned over, as in a mirror; two of them are mixed up")]
    Mirrored,
    /// The points contradict each other.
    #[error(
        "points: they miss their places by {miss_m:.0} m where they are {spread_m:.0} m apart; one of them is wrong"
    )]
    Contradicting {
        /// Root mean square of the misses, metres.
        miss_m: f64,
        /// Root mean square distance from their middle, metres.
        spread_m: f64,
    },
}

/// Fewer points are refused.
const LEAST: usize = 3;
/// Points whose spread across is a smaller share of that along lie in one line. Judgement: a miss grows twentyfold.
const NARROW: f64 = 0.05;
/// Misses beyond this share of the spread are no picture of that ground. Judgement.
const WORST: f64 = 0.25;

/// So many times more must an affine map take away than it leaves. Judgement: of pictures from straight above with five
/// points, 3 of 100 pass (the F law of 2 and 4 degrees of freedom, from memory).
const CLEARLY: f64 = 10.0;

impl PictureFit {
    /// The least squares fit through all points.
    ///
    /// # Model
    /// A similarity (4 numbers); from four points on an affine map (6 numbers), if that takes away clearly more variance
    /// for each number than it leaves for each degree of freedom (an F test with a fixed limit).
    ///
    /// # Errors
    /// When the points are too few, lie in one line in the picture or on the ground, would turn the picture over, or
    /// contradict each other.
    pub fn of(points: &[(Dot, Offset)]) -> Result<Self, NotPlaced> {
        if points.len() < LEAST {
            return Err(NotPlaced::TooFew { given: points.len() });
        }
        let count = points.len() as f64;
        let mean = |of: &dyn Fn(&(Dot, Offset)) -> f64| points.iter().map(of).sum::<f64>() / count;
        let middle = Dot { right_px: mean(&|it| it.0.right_px), down_px: mean(&|it| it.0.down_px) };
        let at = Offset { east_m: mean(&|it| it.1.east_m), north_m: mean(&|it| it.1.north_m) };
        // About their middles, both with the second number upwards.
        let pairs: Vec<Pair> = points
            .iter()
            .map(|(dot, place)| {
                let right_up = [dot.right_px - middle.right_px, middle.down_px - dot.down_px];
                (right_up, [place.east_m - at.east_m, place.north_m - at.north_m])
            })
            .collect();
        let sum = |of: &dyn Fn(&Pair) -> f64| pairs.iter().map(of).sum::<f64>();
        let scatter = |of: fn(&Pair) -> [f64; 2]| {
            let product = |i: usize, j: usize| sum(&|it| of(it)[i] * of(it)[j]);
            [product(0, 0), product(0, 1), product(1, 1)]
        };
        let (picture, ground) = (scatter(|it| it.0), scatter(|it| it.1));
        if is_narrow(picture) || is_narrow(ground) {
            return Err(NotPlaced::InLine);
        }
        let cross = |i: usize, j: usize| sum(&|it| it.0[i] * it.1[j]);
        let [[re, rn], [ue, un]] = [[cross(0, 0), cross(0, 1)], [cross(1, 0), cross(1, 1)]];
        if re * un - rn * ue <= 0.0 {
            return Err(NotPlaced::Mirrored);
        }
        let square = picture[0] + picture[2];
        let (along, across) = ((re + un) / square, (rn - ue) / square);
        let fit =
            |lie, east, north| Self { lie, misses_m: Vec::new(), middle, at, east, north }.missing(points);
        let similar = fit(Lie::Similarity, [along, -across], [across, along]);
        let [rr, ru, uu] = picture;
        let solved = |r: f64, u: f64| {
            let det = rr * uu - ru * ru;
            [(r * uu - u * ru) / det, (u * rr - r * ru) / det]
        };
        let affine = fit(Lie::Affine, solved(re, ue), solved(rn, un));
        let squares = |it: &Self| it.misses_m.iter().map(|miss_m| miss_m * miss_m).sum::<f64>();
        let gain = (squares(&similar) - squares(&affine)) / 2.0;
        let left = squares(&affine) / (2.0 * count - 6.0);
        let best = if points.len() > LEAST && gain > CLEARLY * left { affine } else { similar };
        let (miss_m, spread_m) = (best.miss_m(), ((ground[0] + ground[2]) / count).sqrt());
        if miss_m > WORST * spread_m { Err(NotPlaced::Contradicting { miss_m, spread_m }) } else { Ok(best) }
    }

    fn missing(mut self, points: &[(Dot, Offset)]) -> Self {
        self.misses_m = points
            .iter()
            .map(|(dot, place)| {
                let got = self.place(*dot);
                (got.east_m - place.east_m).hypot(got.north_m - place.north_m)
            })
            .collect();
        self
    }

    /// Where a dot of the picture lies.
    #[must_use]
    pub fn place(&self, dot: Dot) -> Offset {
        let (right, up) = (dot.right_px - self.middle.right_px, self.middle.down_px - dot.down_px);
        Offset {
            east_m: self.at.east_m + self.east[0] * right + self.east[1] * up,
            north_m: self.at.north_m + self.north[0] * right + self.north[1] * up,
        }
    }

    /// Root mean square of the misses, metres.
    #[must_use]
    pub fn miss_m(&self) -> f64 {
        (self.misses_m.iter().map(|miss_m| miss_m * miss_m).sum::<f64>() / self.misses_m.len() as f64).sqrt()
    }
}

/// Whether points with these second moments lie in one line, or all in one place.
fn is_narrow([xx, xy, yy]: [f64; 3]) -> bool {
    let (mean, half) = (f64::midpoint(xx, yy), (0.5 * (xx - yy)).hypot(xy));
    let (long, short) = (mean + half, (mean - half).max(0.0));
    // NaN is on the refusing side.
    !(short > NARROW * NARROW * long && long > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A picture of 0.5 m a dot, its right edge to the north-east: (east, north) of a dot in closed form.
    fn turned(right_px: f64, down_px: f64) -> (Dot, Offset) {
        let half = 0.5_f64.sqrt();
        let (right_m, up_m) = (0.5 * right_px, -0.5 * down_px);
        let place =
            Offset { east_m: half * (right_m - up_m) + 70.0, north_m: half * (right_m + up_m) - 30.0 };
        (Dot { right_px, down_px }, place)
    }

    #[test]
    fn a_turned_map_is_laid_exactly_and_a_slip_of_one_point_is_seen_in_its_miss() {
        let mut points =
            vec![turned(0.0, 0.0), turned(400.0, 10.0), turned(390.0, 300.0), turned(20.0, 280.0)];
        let fit = PictureFit::of(&points[..3]).unwrap();
        assert!((fit.lie == Lie::Similarity) && fit.miss_m() < 1e-9, "{fit:?}");
        let (dot, place) = turned(200.0, 150.0);
        let got = fit.place(dot);
        assert!((got.east_m - place.east_m).abs() < 1e-9 && (got.north_m - place.north_m).abs() < 1e-9);
        points.push(turned(200.0, 150.0));
        points[4].1.east_m += 20.0;
        let fit = PictureFit::of(&points).unwrap();
        let worst = fit.misses_m.iter().copied().fold(0.0, f64::max);
        assert!((fit.misses_m[4] - worst).abs() < 1e-12 && worst > 10.0, "{:?}", fit.misses_m);
    }

    #[test]
    fn a_picture_from_the_side_is_stretched_once_there_are_points_enough() {
        let squeezed = |right_px: f64, down_px: f64| {
            (Dot { right_px, down_px }, Offset { east_m: right_px + 0.2 * down_px, north_m: -1.6 * down_px })
        };
        let points = [squeezed(0.0, 0.0), squeezed(300.0, 0.0), squeezed(300.0, 200.0), squeezed(0.0, 200.0)];
        let fit = PictureFit::of(&points).unwrap();
        assert!(fit.lie == Lie::Affine && fit.miss_m() < 1e-9, "{fit:?}");
        assert!(
            PictureFit::of(&points[..3]).unwrap().miss_m() > 1.0,
            "three points are held to a similarity"
        );
    }

    #[test]
    fn too_few_points_points_in_a_line_a_mirror_and_nonsense_are_refused() {
        let refused = |points: &[(Dot, Offset)]| PictureFit::of(points).unwrap_err();
        let line = [turned(0.0, 0.0), turned(100.0, 100.0), turned(200.0, 201.0), turned(300.0, 300.0)];
        assert_eq!(refused(&line[..2]), NotPlaced::TooFew { given: 2 });
        assert_eq!(refused(&line), NotPlaced::InLine);
        assert_eq!(refused(&[line[0]; 4]), NotPlaced::InLine);
        let square = [turned(0.0, 0.0), turned(300.0, 0.0), turned(300.0, 300.0), turned(0.0, 300.0)];
        let with = |places: [usize; 4]| [0, 1, 2, 3].map(|i: usize| (square[i].0, square[places[i]].1));
        assert_eq!(refused(&with([0, 3, 2, 1])), NotPlaced::Mirrored);
        let mut wild = with([0, 1, 2, 3]);
        wild[2].1.east_m += 900.0;
        wild[0].1.north_m += 700.0;
        assert!(matches!(refused(&wild), NotPlaced::Contradicting { .. } | NotPlaced::Mirrored));
        let nan = [square[0], square[1], (square[2].0, Offset { east_m: f64::NAN, north_m: 0.0 })];
        assert_eq!(refused(&nan), NotPlaced::InLine);
    }
}
