/// Where something is and how it moves: east, north, up in metres and metres per second, mass in kilograms.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct State {
    /// Seconds after first motion.
    pub t_s: f64,
    /// Position about the pad.
    pub at_m: [f64; 3],
    /// Velocity over the ground.
    pub velocity_mps: [f64; 3],
}

/// A point of a path.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Knot {
    /// Seconds after first motion.
    pub t_s: f64,
    /// Position about the pad: east, north, up.
    pub at_m: [f64; 3],
}

/// The way of one body from the pad to the ground, gusts left out.
#[derive(Clone, Debug, Default)]
pub struct Path {
    knots: Vec<Knot>, // invariant: times rise
}

impl Path {
    /// Starts afresh, keeping the memory.
    pub fn clear(&mut self) {
        self.knots.clear();
    }

    /// Starts as a copy of what another body did so far.
    pub fn branch_from(&mut self, other: &Self) {
        self.knots.clone_from(&other.knots);
    }

    /// Adds a point; one that is not later than the last is dropped.
    #[inline]
    pub fn push(&mut self, t_s: f64, at_m: [f64; 3]) {
        if self.knots.last().is_none_or(|last| t_s > last.t_s) {
            self.knots.push(Knot { t_s, at_m });
        }
    }

    /// The points, times rising.
    #[inline]
    #[must_use]
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// The last point: where it touched the ground. The pad for an empty path.
    #[inline]
    #[must_use]
    pub fn end(&self) -> Knot {
        self.knots.last().copied().unwrap_or_default()
    }

    /// The highest point.
    #[must_use]
    pub fn top(&self) -> Knot {
        let higher = |a: &&Knot, b: &&Knot| a.at_m[2].total_cmp(&b.at_m[2]);
        self.knots.iter().max_by(higher).copied().unwrap_or_default()
    }

    /// Position at a time: on the pad before the first point, on the ground after the last.
    #[inline]
    #[must_use]
    pub fn at(&self, t_s: f64) -> [f64; 3] {
        let after = self.knots.partition_point(|knot| knot.t_s <= t_s);
        if after == 0 {
            return self.knots.first().map_or([0.0; 3], |knot| knot.at_m);
        }
        if after == self.knots.len() {
            return self.end().at_m;
        }
        let (from, to) = (self.knots[after - 1], self.knots[after]);
        let share = (t_s - from.t_s) / (to.t_s - from.t_s);
        core::array::from_fn(|axis| from.at_m[axis] + share * (to.at_m[axis] - from.at_m[axis]))
    }
}
