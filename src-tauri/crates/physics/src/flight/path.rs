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

    /// Adds points, each later than the one before.
    #[inline]
    pub(super) fn extend(&mut self, knots: impl Iterator<Item = Knot>) {
        self.knots.extend(knots);
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

    /// The highest point: the top of the parabola through the highest knot and its neighbours.
    #[must_use]
    pub fn top(&self) -> Knot {
        let Some(at) =
            (0..self.knots.len()).max_by(|a, b| self.knots[*a].at_m[2].total_cmp(&self.knots[*b].at_m[2]))
        else {
            return Knot::default();
        };
        let top = self.knots[at];
        if at == 0 || at + 1 == self.knots.len() {
            return top;
        }
        let (before, after) = (self.knots[at - 1], self.knots[at + 1]);
        let (rise_s, sink_s) = (top.t_s - before.t_s, after.t_s - top.t_s);
        let (rising, sinking) =
            ((top.at_m[2] - before.at_m[2]) / rise_s, (top.at_m[2] - after.at_m[2]) / sink_s);
        // Slope at the knot, and half the curvature downwards.
        let slope = (rising * sink_s - sinking * rise_s) / (rise_s + sink_s);
        let bend = (rising + sinking) / (rise_s + sink_s);
        let later_s = if bend > 1e-9 { (slope / (2.0 * bend)).clamp(-rise_s, sink_s) } else { 0.0 };
        let t_s = top.t_s + later_s;
        let [east, north, _] = self.at(t_s);
        Knot { t_s, at_m: [east, north, top.at_m[2] + later_s * (slope - bend * later_s)] }
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
