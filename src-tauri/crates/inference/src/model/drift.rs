//! How far gusts carry each body, sideways and up and down: the linear block of a possible flight.
//!
//! Given the story in steady air, the distances carried are jointly Gaussian in closed form, and so are the heading biases
//! of the phones. Evidence that is linear in them, or nearly so, is taken in exactly, one scalar at a time.

use super::Story;
use crate::normal::{LN_ROOT_TAU, flat_root, ln_normal};
use windfall_physics::air::{AirTable, carried_together};
use windfall_physics::flight::Knot;

/// Standard deviation and memory of the gusts of one possible flight.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Gusts {
    /// Slow and fast component: standard deviation along and across the mean wind and upwards, m/s.
    pub(crate) sigma_mps: [[f64; 3]; 2],
    /// Correlation times of the slow and the fast component, s.
    pub(crate) memory_s: [f64; 2],
    /// Velocities at first motion in standard deviations, along and across. Upwards they are not told.
    pub(crate) start: [[f64; 2]; 2],
    /// Direction of the mean wind, towards east and north.
    pub(crate) along: [f64; 2],
}

/// A point of a body's way at which the distance carried is a variable of its own; between nodes it is linear in time.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Node {
    /// When the body was let go, s.
    pub(crate) released_s: f64,
    pub(crate) t_s: f64,
    pub(crate) body: usize,
    /// Distance carried since, towards east, north and up, m.
    pub(crate) carried_m: [f64; 3],
    /// How much farther towards east and north the mean wind takes the body on the way here from the node before (or from
    /// where it was let go), for each metre that it is lifted there, and here.
    pub(crate) sheared: [[f64; 2]; 2],
}

impl Node {
    /// # Model
    /// Lifted by `up`, a body drifts with the wind of another height: `integral of dU/dh up dt`. With `up` linear in time and
    /// a body that sinks evenly at `w`, so that `dt = -dh / w`, by parts: a metre at the start counts `(U0 - mean U) / w`, one
    /// at the end `(mean U - U1) / w`. The mean is Simpson's. A body that hovers is left alone.
    fn sheared(
        air: &AirTable,
        from: Knot,
        middle_m: f64,
        to: Knot,
        last_mps: Option<[f64; 2]>,
    ) -> [[f64; 2]; 2] {
        const HOVERS_MPS: f64 = 0.2;
        let sinks_mps = (from.at_m[2] - to.at_m[2]) / (to.t_s - from.t_s);
        if sinks_mps < HOVERS_MPS {
            return [[0.0; 2]; 2];
        }
        let wind = |height_m: f64| {
            let [east, north, _] = air.at(height_m);
            [east, north]
        };
        let (first, middle) = (wind(from.at_m[2]), wind(middle_m));
        let last = last_mps.unwrap_or_else(|| wind(to.at_m[2]));
        let mean = [0, 1].map(|axis| (first[axis] + 4.0 * middle[axis] + last[axis]) / 6.0);
        [
            [0, 1].map(|axis| (first[axis] - mean[axis]) / sinks_mps),
            [0, 1].map(|axis| (mean[axis] - last[axis]) / sinks_mps),
        ]
    }
}

/// From when a body was let go to a node, as a gust component of one memory feels it.
#[derive(Clone, Copy, Debug)]
struct Span {
    memory_s: f64,
    /// Seconds after first motion and what is left by then of the velocity at first motion: let go, and now.
    from: (f64, f64),
    to: (f64, f64),
    /// How far a velocity of one at first motion carries, s.
    reach_s: f64,
}

impl Span {
    fn of(node: &Node, memory_s: f64) -> Self {
        let left = |t_s: f64| (t_s, (-t_s / memory_s).exp());
        let (from, to) = (left(node.released_s), left(node.t_s));
        Self { memory_s, from, to, reach_s: memory_s * (from.1 - to.1) }
    }

    /// Covariance of the distances carried by one component of unit variance, its velocity at first motion given.
    fn carried_with(&self, other: &Self) -> f64 {
        let pair = |a, b| carried_together(self.memory_s, a, b);
        pair(self.to, other.to) - pair(self.from, other.to) - pair(self.to, other.from)
            + pair(self.from, other.from)
    }

    /// The same for two bodies that feel gusts of their own since the first of them was let go: they share the velocity
    /// of that moment, whose variance is one less what was known of it.
    fn parted_from(&self, other: &Self) -> f64 {
        let parted = self.from.1.max(other.from.1);
        self.reach_s * other.reach_s * (1.0 / (parted * parted) - 1.0)
    }
}

/// A scalar that was seen, linear in the block: `offset - h . x` is a normal residual.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    pub(crate) offset: f64,
    pub(crate) sigma: f64,
    columns: [(usize, f64); Self::MOST],
    used: usize,
}

impl Row {
    const MOST: usize = 14;

    pub(crate) fn new(sigma: f64) -> Self {
        Self { offset: 0.0, sigma, columns: [(0, 0.0); Self::MOST], used: 0 }
    }

    /// Adds a coefficient.
    pub(crate) fn depends(&mut self, column: usize, coefficient: f64) {
        if self.used < Self::MOST && coefficient != 0.0 {
            self.columns[self.used] = (column, coefficient);
            self.used += 1;
        }
    }

    fn columns(&self) -> &[(usize, f64)] {
        &self.columns[..self.used]
    }

    /// Sets the offset so that the residual at `x` is `residual`.
    pub(crate) fn with_residual(mut self, residual: f64, x: &[f64]) -> Self {
        self.offset = residual + self.columns().iter().map(|(at, h)| h * x[*at]).sum::<f64>();
        self
    }

    /// This row less `keep` of the one before: errors that remember lose their memory.
    pub(crate) fn less(mut self, keep: f64, before: &Self) -> Self {
        self.offset -= keep * before.offset;
        for (column, coefficient) in before.columns() {
            match self.columns[..self.used].iter_mut().find(|own| own.0 == *column) {
                Some(own) => own.1 -= keep * coefficient,
                None => self.depends(*column, -keep * coefficient),
            }
        }
        self
    }

    fn residual(&self, x: &[f64]) -> f64 {
        self.offset - self.columns().iter().map(|(at, h)| h * x[*at]).sum::<f64>()
    }
}

/// A Gaussian over the distances carried at all nodes (east, north, up for each) and the linear coordinates of the phones.
#[derive(Clone, Debug, Default)]
pub(crate) struct Drift {
    mean: Vec<f64>,
    /// Lower triangle, row by row.
    covariance: Vec<f64>,
    /// Everything taken in, and its log density before it was.
    rows: Vec<Row>,
    /// Coordinates whose greater values are likelier, each with the slope of the log density.
    slopes: Vec<(usize, f64)>,
    pub(crate) ln_evidence: f64,
    /// Residuals of everything taken in, over the standard deviation expected of them.
    pub(crate) innovations: Vec<f64>,
    saved: (Vec<f64>, Vec<f64>, [usize; 2], f64),
    gain: Vec<f64>,
    remembered: Vec<[Span; 2]>,
    with_up: Vec<[f64; 2]>,
}

impl Drift {
    /// The law before any evidence.
    pub(crate) fn begin(&mut self, story: &Story, phones: usize) {
        self.rows.clear();
        self.slopes.clear();
        self.innovations.clear();
        self.ln_evidence = 0.0;
        self.widen(story, phones);
    }

    /// The law before any evidence, but with what was taken in still on record.
    pub(crate) fn widen(&mut self, story: &Story, phones: usize) {
        let (gusts, nodes) = (&story.gusts, &story.nodes);
        let n = 3 * nodes.len() + phones;
        self.mean.clear();
        self.mean.resize(n, 0.0);
        self.covariance.clear();
        self.covariance.resize(n * n, 0.0);
        self.remembered.clear();
        self.remembered
            .extend(nodes.iter().map(|node| gusts.memory_s.map(|memory_s| Span::of(node, memory_s))));
        let [c, s] = gusts.along;
        let variance = gusts.sigma_mps.map(|axes| axes.map(|sigma| sigma * sigma));
        for (i, node) in nodes.iter().enumerate() {
            let [slow, fast] = &self.remembered[i];
            let [along, across] = [0, 1].map(|axis| {
                gusts.sigma_mps[0][axis] * gusts.start[0][axis] * slow.reach_s
                    + gusts.sigma_mps[1][axis] * gusts.start[1][axis] * fast.reach_s
            });
            self.mean[3 * i] = along * c - across * s;
            self.mean[3 * i + 1] = along * s + across * c;
            for (j, other) in nodes[..=i].iter().enumerate() {
                let [other_slow, other_fast] = &self.remembered[j];
                let slow_together = slow.carried_with(other_slow);
                let fast_together = if node.body == other.body {
                    fast.carried_with(other_fast)
                } else {
                    fast.parted_from(other_fast)
                };
                // Upwards the velocity at first motion is one more unknown.
                let upwards = [
                    slow_together + slow.reach_s * other_slow.reach_s,
                    fast_together + fast.reach_s * other_fast.reach_s,
                ];
                let [along, across] =
                    [0, 1].map(|axis| variance[0][axis] * slow_together + variance[1][axis] * fast_together);
                let (ee, en, nn) = (
                    c * c * along + s * s * across,
                    c * s * (along - across),
                    s * s * along + c * c * across,
                );
                // Above the diagonal nothing is read.
                self.covariance[3 * i * n + 3 * j] = ee;
                self.covariance[3 * i * n + 3 * j + 1] = en;
                self.covariance[(3 * i + 1) * n + 3 * j] = en;
                self.covariance[(3 * i + 1) * n + 3 * j + 1] = nn;
                self.covariance[(3 * i + 2) * n + 3 * j + 2] =
                    variance[0][2] * upwards[0] + variance[1][2] * upwards[1];
            }
        }
        self.shear(nodes, n);
        for at in 3 * nodes.len()..n {
            self.covariance[at * n + at] = 1.0;
        }
    }

    /// Adds to the distances carried sideways what the mean wind at another height makes of those carried upwards.
    fn shear(&mut self, nodes: &[Node], n: usize) {
        let up =
            |covariance: &[f64], i: usize, j: usize| covariance[(3 * i.max(j) + 2) * n + 3 * i.min(j) + 2];
        // With every distance upwards: what is added at a node so far, and at the one before it.
        self.with_up.clear();
        for (i, node) in nodes.iter().enumerate() {
            let begins = i == 0 || nodes[i - 1].body != node.body;
            for k in 0..nodes.len() {
                let mut with = [0, 1].map(|axis| node.sheared[1][axis] * up(&self.covariance, i, k));
                if !begins {
                    let before = self.with_up[(i - 1) * nodes.len() + k];
                    let earlier = up(&self.covariance, i - 1, k);
                    for axis in 0..2 {
                        with[axis] += before[axis] + node.sheared[0][axis] * earlier;
                    }
                }
                self.with_up.push(with);
            }
        }
        for i in 0..nodes.len() {
            let own = &self.with_up[i * nodes.len()..(i + 1) * nodes.len()];
            let mut together = [[0.0; 2]; 2];
            for (j, node) in nodes[..=i].iter().enumerate() {
                let begins = j == 0 || nodes[j - 1].body != node.body;
                for (axis, row) in together.iter_mut().enumerate() {
                    for (other, sum) in row.iter_mut().enumerate() {
                        let earlier =
                            if begins { 0.0 } else { *sum + own[j - 1][axis] * node.sheared[0][other] };
                        *sum = earlier + own[j][axis] * node.sheared[1][other];
                        self.covariance[(3 * i + axis) * n + 3 * j + other] += *sum;
                    }
                    self.covariance[(3 * i + axis) * n + 3 * j + 2] = own[j][axis];
                    self.covariance[(3 * i + 2) * n + 3 * j + axis] = self.with_up[j * nodes.len() + i][axis];
                }
            }
        }
    }

    /// Present mean of the block.
    pub(crate) fn mean(&self) -> &[f64] {
        &self.mean
    }

    /// Remembers where it stands.
    pub(crate) fn mark(&mut self) {
        self.saved.0.clone_from(&self.mean);
        self.saved.1.clone_from(&self.covariance);
        self.saved.2 = [self.rows.len(), self.slopes.len()];
        self.saved.3 = self.ln_evidence;
    }

    /// Goes back to the last mark.
    pub(crate) fn back_to_mark(&mut self) {
        core::mem::swap(&mut self.mean, &mut self.saved.0);
        core::mem::swap(&mut self.covariance, &mut self.saved.1);
        let [rows, slopes] = self.saved.2;
        self.rows.truncate(rows);
        self.slopes.truncate(slopes);
        self.innovations.truncate(rows);
        self.ln_evidence = self.saved.3;
    }

    /// Log evidence gathered since the last mark.
    pub(crate) fn since_mark(&self) -> f64 {
        self.ln_evidence - self.saved.3
    }

    /// Takes a row in: conditions the Gaussian on it, exactly.
    pub(crate) fn take(&mut self, row: &Row) {
        let n = self.mean.len();
        self.gain.clear();
        self.gain.resize(n, 0.0);
        let gain = &mut self.gain[..n];
        for &(column, coefficient) in row.columns() {
            // Along the row of the lower triangle up to the diagonal, then down the column below it.
            let (done, below) = self.covariance.split_at((column + 1) * n);
            for (gain, value) in gain.iter_mut().zip(&done[column * n..=column * n + column]) {
                *gain += coefficient * value;
            }
            for (gain, row) in gain[column + 1..].iter_mut().zip(below.chunks_exact(n.max(1))) {
                *gain += coefficient * row[column];
            }
        }
        let variance = row.sigma * row.sigma
            + row.columns().iter().map(|(column, coefficient)| coefficient * self.gain[*column]).sum::<f64>();
        let residual = row.residual(&self.mean);
        let sigma = variance.sqrt();
        self.ln_evidence += ln_normal(residual, sigma);
        self.innovations.push(residual / sigma);
        let per = 1.0 / variance;
        for (i, (mean, to)) in
            self.mean.iter_mut().zip(self.covariance.chunks_exact_mut(n.max(1))).enumerate()
        {
            let gain = self.gain[i] * per;
            *mean += gain * residual;
            for (value, other) in to[..=i].iter_mut().zip(&self.gain[..=i]) {
                *value -= gain * other;
            }
        }
        self.rows.push(*row);
    }

    /// Takes in a factor `exp(slope x[column])`: it shifts the Gaussian, and leaves its shape.
    pub(crate) fn favour(&mut self, column: usize, slope: f64) {
        let n = self.mean.len();
        self.ln_evidence += slope * (self.mean[column] + 0.5 * slope * self.covariance[column * n + column]);
        for (i, mean) in self.mean.iter_mut().enumerate() {
            *mean += slope * self.covariance[i.max(column) * n + i.min(column)];
        }
        self.slopes.push((column, slope));
    }

    /// Draws from the Gaussian into `x`, using as many standard normals as it has coordinates.
    pub(crate) fn draw(&mut self, mut normal: impl FnMut() -> f64, x: &mut Vec<f64>) {
        let n = self.mean.len();
        flat_root(&mut self.covariance, n);
        self.gain.clear();
        self.gain.extend((0..n).map(|_| normal()));
        x.clear();
        for (i, mean) in self.mean.iter().enumerate() {
            let row = &self.covariance[i * n..i * n + i + 1];
            x.push(mean + row.iter().zip(&self.gain).map(|(root, z)| root * z).sum::<f64>());
        }
    }

    /// Log of the linear likelihood of everything taken in, at `x`.
    pub(crate) fn ln_linear(&self, x: &[f64]) -> f64 {
        /// Products beyond this lose digits.
        const TOO_SMALL: f64 = 1e-200;
        let (mut ln, mut width) = (0.0, 1.0);
        for row in &self.rows {
            let residual = row.residual(x) / row.sigma;
            ln -= 0.5 * residual * residual + LN_ROOT_TAU;
            width *= row.sigma;
            if !(TOO_SMALL..TOO_SMALL.recip()).contains(&width) {
                (ln, width) = (ln - width.ln(), 1.0);
            }
        }
        ln - width.ln() + self.slopes.iter().map(|(at, slope)| slope * x[*at]).sum::<f64>()
    }

    /// Whether anything was taken in.
    pub(crate) fn informed(&self) -> bool {
        !self.rows.is_empty()
    }
}

impl Story {
    /// Lays the nodes: at every landing and at the times that evidence asks for.
    pub(crate) fn lay_nodes(&mut self, asked: &mut [(usize, f64)]) {
        /// Closer nodes are one.
        const APART_S: f64 = 0.05;
        /// The last of the way down, by which it is told how it sinks.
        const LAST_S: f64 = 4.0;
        asked.sort_by(|a, b| a.1.total_cmp(&b.1));
        self.nodes.clear();
        for (index, body) in self.bodies[..self.in_use].iter_mut().enumerate() {
            body.first_node = self.nodes.len();
            let (released_s, end) = (body.released_s, body.path.end());
            let ended_s = end.t_s;
            body.landed_s = ended_s;
            // Near the ground it sinks along a straight line: what is lifted lands that much later and farther on.
            let low = body.path.at((ended_s - LAST_S).max(released_s.min(ended_s)));
            let height_m = low[2].max(0.1);
            body.later_spm = LAST_S.min((ended_s - released_s).max(0.0)) / height_m;
            body.farther = [0, 1].map(|axis| (end.at_m[axis] - low[axis]) / height_m);
            if released_s < ended_s {
                let (path, air) = (&body.path, &self.air);
                let knot = |t_s: f64| Knot { t_s, at_m: path.at(t_s) };
                let mut last = knot(released_s);
                let mut next = |to: Knot, last_mps: Option<[f64; 2]>| {
                    let middle_m = path.at(f64::midpoint(last.t_s, to.t_s))[2];
                    let sheared = Node::sheared(air, last, middle_m, to, last_mps);
                    last = to;
                    Node { released_s, t_s: to.t_s, body: index, carried_m: [0.0; 3], sheared }
                };
                let mut last_s = released_s;
                for (_, t_s) in asked.iter().filter(|it| it.0 == index) {
                    if *t_s > last_s + APART_S && *t_s < ended_s - APART_S {
                        self.nodes.push(next(knot(*t_s), None));
                        last_s = *t_s;
                    }
                }
                // What is lifted at the end goes on with the wind of the last seconds.
                let last_mps = body.farther.map(|farther| farther / body.later_spm);
                self.nodes.push(next(end, Some(last_mps)));
            }
            body.last_node = self.nodes.len();
        }
    }

    /// Coordinates of the linear block that are distances carried.
    pub(crate) fn coordinates(&self) -> usize {
        3 * self.nodes.len()
    }

    /// Sets the distances carried, and the landings with them.
    pub(crate) fn carry(&mut self, x: &[f64]) {
        for (node, x) in self.nodes.iter_mut().zip(x.chunks_exact(3)) {
            node.carried_m = [x[0], x[1], x[2]];
        }
        for body in &mut self.bodies[..self.in_use] {
            let end = body.path.end();
            let [east, north, up] = if body.first_node < body.last_node {
                self.nodes[body.last_node - 1].carried_m
            } else {
                [0.0; 3]
            };
            body.landing_m =
                [end.at_m[0] + east + body.farther[0] * up, end.at_m[1] + north + body.farther[1] * up];
            body.landed_s = (end.t_s + body.later_spm * up).max(body.released_s.min(end.t_s));
            body.ground_m = body.landing_m;
        }
        self.come_to_rest();
    }

    /// The node at which a body lands, and how its landing moves towards east and north with each metre it is lifted
    /// there; none for a body that gusts do not carry.
    pub(crate) fn landing_node(&self, body: usize) -> Option<(usize, [f64; 2])> {
        let body = &self.bodies[body];
        (body.first_node < body.last_node).then(|| (body.last_node - 1, body.farther))
    }

    /// The two nodes between which the distance carried at a time lies, and their shares.
    pub(crate) fn basis(&self, body: usize, t_s: f64) -> [(usize, f64); 2] {
        let body = &self.bodies[body];
        let nodes = &self.nodes[body.first_node..body.last_node];
        if nodes.is_empty() || t_s <= body.released_s {
            return [(0, 0.0); 2];
        }
        let after = nodes.partition_point(|node| node.t_s < t_s);
        if after == nodes.len() {
            return [(body.last_node - 1, 1.0), (0, 0.0)];
        }
        let from_s = if after == 0 { body.released_s } else { nodes[after - 1].t_s };
        let share = (t_s - from_s) / (nodes[after].t_s - from_s);
        let before = if after == 0 { (0, 0.0) } else { (body.first_node + after - 1, 1.0 - share) };
        [(body.first_node + after, share), before]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_taken_in_gives_the_evidence_and_the_posterior_of_a_textbook_gaussian() {
        // Prior N(0, 1) on the only coordinate, seen 1.2 through 2 x with error 0.5.
        let mut drift = Drift::default();
        drift.begin(&Story::default(), 1);
        let mut row = Row::new(0.5);
        row.depends(0, 2.0);
        let row = row.with_residual(1.2, &[0.0]);
        drift.take(&row);
        let variance: f64 = 4.0 + 0.25;
        assert!((drift.mean()[0] - 2.0 * 1.2 / variance).abs() < 1e-12);
        assert!((drift.covariance[0] - 0.25 / variance).abs() < 1e-12);
        let ln = -0.5 * (1.44 / variance + variance.ln() + core::f64::consts::TAU.ln());
        assert!((drift.ln_evidence - ln).abs() < 1e-12);
        // Likelihood times prior over posterior is the evidence, wherever it is read.
        let x = 0.9;
        let ln_prior = ln_normal(x, 1.0);
        let ln_posterior = ln_normal(x - drift.mean()[0], drift.covariance[0].sqrt());
        assert!((drift.ln_linear(&[x]) + ln_prior - ln_posterior - ln).abs() < 1e-12);
    }

    #[test]
    fn a_factor_that_favours_one_side_shifts_a_gaussian_and_leaves_its_shape() {
        // Seen through x + y, then a factor exp(0.7 x): completing the square.
        let mut drift = Drift::default();
        drift.begin(&Story::default(), 2);
        let mut row = Row::new(0.5);
        row.depends(0, 1.0);
        row.depends(1, 1.0);
        drift.take(&row.with_residual(1.2, &[0.0, 0.0]));
        let (mean, covariance) = (drift.mean().to_vec(), drift.covariance.clone());
        drift.mark();
        drift.favour(0, 0.7);
        assert!((drift.mean()[0] - mean[0] - 0.7 * covariance[0]).abs() < 1e-12);
        assert!((drift.mean()[1] - mean[1] - 0.7 * covariance[2]).abs() < 1e-12);
        assert_eq!(drift.covariance, covariance);
        assert!((drift.since_mark() - 0.7 * mean[0] - 0.245 * covariance[0]).abs() < 1e-12);
        // Likelihood times prior over posterior is the evidence, wherever it is read.
        let x = [0.4, -1.1];
        let variance = covariance[0] * covariance[3] - covariance[2] * covariance[2];
        let off = [x[0] - drift.mean()[0], x[1] - drift.mean()[1]];
        let square = covariance[3] * off[0] * off[0] - 2.0 * covariance[2] * off[0] * off[1]
            + covariance[0] * off[1] * off[1];
        let ln_posterior = -0.5 * (square / variance + variance.ln()) - 2.0 * LN_ROOT_TAU;
        let ln_prior = ln_normal(x[0], 1.0) + ln_normal(x[1], 1.0);
        assert!((drift.ln_linear(&x) + ln_prior - ln_posterior - drift.ln_evidence).abs() < 1e-12);
    }

    /// A body that sinks at 4 m/s from 200 m, let go after 10 s, in a wind that grows and turns with height.
    fn sinking() -> Story {
        use windfall_physics::air::{Ground, Profile};
        let profile = Profile {
            east10_mps: 5.0,
            north10_mps: 1.0,
            roughness_m: 0.03,
            stability: 1.0,
            shear_exponent: 0.14,
            veer_radpm: 0.002,
        };
        let mut story = Story::default();
        story.air.fill(&profile, &[], Ground::measured(120.0, None, None, None), 400.0);
        let mut body = super::super::story::Body { released_s: 10.0, ..Default::default() };
        let mut at_m = [0.0, 0.0, 200.0];
        for step in 0..=5000 {
            body.path.push(10.0 + 0.01 * f64::from(step), at_m);
            let [east, north, _] = story.air.at(at_m[2] - 0.02);
            at_m = [at_m[0] + 0.01 * east, at_m[1] + 0.01 * north, (at_m[2] - 0.04).max(0.0)];
        }
        story.bodies.push(body);
        story.in_use = 1;
        story
    }

    #[test]
    fn what_is_lifted_drifts_with_the_wind_of_another_height() {
        let mut story = sinking();
        let mut asked = [(0, 20.0), (0, 27.0), (0, 45.0)];
        story.lay_nodes(&mut asked);
        // Lifted more and more, 15 m when it would have landed: followed step by step to the ground.
        let lifts = |t_s: f64| 0.3 * (t_s - 10.0).clamp(0.0, 50.0);
        let (mut added, mut t_s) = ([0.0; 2], 10.0_f64);
        let mut truly = Vec::new();
        loop {
            let steady_m = (200.0 - 4.0 * (t_s - 10.0)).max(0.0);
            let height_m = 200.0 - 4.0 * (t_s - 10.0) + lifts(t_s);
            if height_m <= 0.0 {
                break;
            }
            let (lifted, steady) = (story.air.at(height_m), story.air.at(steady_m));
            for (axis, added) in added.iter_mut().enumerate() {
                let steady_mps = if t_s < 60.0 { steady[axis] } else { 0.0 };
                *added += 0.01 * (lifted[axis] - steady_mps);
            }
            t_s += 0.01;
            if story.nodes.iter().any(|node| (node.t_s - t_s).abs() < 0.005) {
                truly.push(added);
            }
        }
        let (mut sum, mut before_m) = ([0.0; 2], 0.0);
        assert_eq!(truly.len(), story.nodes.len());
        for (node, truly) in story.nodes.iter().zip(&truly) {
            let lifted_m = lifts(node.t_s);
            for axis in 0..2 {
                sum[axis] += node.sheared[0][axis] * before_m + node.sheared[1][axis] * lifted_m;
                if node.t_s < 59.0 {
                    let off_m = (sum[axis] - truly[axis]).abs();
                    assert!(off_m < 0.3, "{sum:?} against {truly:?} after {} s", node.t_s);
                }
            }
            before_m = lifted_m;
        }
        // Near the ground wind and height do not go together in a straight line: a tenth of it.
        let [east, north] = [0, 1].map(|axis| sum[axis] + 15.0 * story.bodies[0].farther[axis]);
        let off_m = (east - added[0]).hypot(north - added[1]);
        println!(
            "lands {east:.1}, {north:.1} m farther; followed step by step {:.1}, {:.1}",
            added[0], added[1]
        );
        assert!(off_m < 0.1 * added[0].hypot(added[1]), "{east}, {north} against {added:?}");
    }

    /// Two bodies, let go 6 s and 8 s after first motion, and their nodes.
    fn two_bodies() -> Story {
        let gusts = Gusts {
            sigma_mps: [[0.9, 0.6, 0.4], [0.7, 0.5, 0.3]],
            memory_s: [60.0, 12.0],
            start: [[0.8, -0.5], [-1.2, 0.4]],
            along: [0.6, 0.8],
        };
        let node = |body: usize, released_s: f64, t_s: f64| Node {
            released_s,
            t_s,
            body,
            carried_m: [0.0; 3],
            sheared: [[0.0; 2]; 2],
        };
        let mut nodes = vec![node(0, 6.0, 9.0), node(0, 6.0, 30.0), node(1, 8.0, 12.0), node(1, 8.0, 50.0)];
        for (node, at) in nodes.iter_mut().zip(1..) {
            node.sheared = [[0.2 * f64::from(at), -0.1], [0.3, 0.15 * f64::from(at)]];
        }
        let mut story = Story::default();
        (story.gusts, story.nodes) = (gusts, nodes);
        story
    }

    #[test]
    fn distances_carried_have_the_mean_and_spread_of_gusts_followed_step_by_step() {
        use rand::{Rng, RngExt, SeedableRng};
        use rand_distr::StandardNormal;
        fn normal(rng: &mut impl Rng) -> f64 {
            rng.sample(StandardNormal)
        }
        let story = two_bodies();
        let mut drift = Drift::default();
        drift.begin(&story, 0);
        let n = 3 * story.nodes.len();
        const FLIGHTS: usize = 6000;
        const STEP_S: f64 = 0.1;
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(31);
        let (mut sums, mut squares) = (vec![0.0; n], vec![0.0; n * n]);
        let keep = story.gusts.memory_s.map(|memory_s| (-STEP_S / memory_s).exp());
        for _ in 0..FLIGHTS {
            // Velocities of the slow gusts, the fast ones of body 0, and those of body 1, the same till body 0 is let go.
            let start = story.gusts.start;
            let upwards = [normal(&mut rng), normal(&mut rng)];
            let first = [0, 1].map(|part| [start[part][0], start[part][1], upwards[part]]);
            let (mut slow, mut fast) = (first[0], [first[1]; 2]);
            let mut carried = [[0.0; 3]; 2];
            let mut added = [0.0; 2];
            let mut seen = vec![0.0; n];
            for step in 0..500 {
                let t_s = STEP_S * f64::from(step);
                let mut after = (slow, fast);
                for axis in 0..3 {
                    let moved = |v: f64, keep: f64, z: f64| keep * v + (1.0 - keep * keep).sqrt() * z;
                    after.0[axis] = moved(slow[axis], keep[0], normal(&mut rng));
                    after.1[0][axis] = moved(fast[0][axis], keep[1], normal(&mut rng));
                    after.1[1][axis] = if t_s < 5.99 {
                        after.1[0][axis]
                    } else {
                        moved(fast[1][axis], keep[1], normal(&mut rng))
                    };
                }
                for (body, released_s) in [(0, 6.0), (1, 8.0)] {
                    if t_s > released_s - 0.01 {
                        for axis in 0..3 {
                            let mean = |slow: f64, fast: f64| {
                                story.gusts.sigma_mps[0][axis] * slow + story.gusts.sigma_mps[1][axis] * fast
                            };
                            carried[body][axis] += STEP_S
                                * 0.5
                                * (mean(slow[axis], fast[body][axis])
                                    + mean(after.0[axis], after.1[body][axis]));
                        }
                    }
                }
                (slow, fast) = after;
                for (at, node) in story.nodes.iter().enumerate() {
                    if (node.t_s - t_s - STEP_S).abs() < 0.01 {
                        let [c, s] = story.gusts.along;
                        let [along, across, up] = carried[node.body];
                        seen[3 * at..3 * at + 3].copy_from_slice(&[
                            along * c - across * s,
                            along * s + across * c,
                            up,
                        ]);
                    }
                }
            }
            for (at, node) in story.nodes.iter().enumerate() {
                // What the shear adds up to the node before, if it is one of the same body, and from there.
                let first = at == 0 || story.nodes[at - 1].body != node.body;
                if first {
                    added = [0.0; 2];
                }
                let lifted_m = if first { 0.0 } else { seen[3 * at - 1] };
                for axis in 0..2 {
                    added[axis] +=
                        node.sheared[0][axis] * lifted_m + node.sheared[1][axis] * seen[3 * at + 2];
                    seen[3 * at + axis] += added[axis];
                }
            }
            for i in 0..n {
                sums[i] += seen[i] / FLIGHTS as f64;
                for j in 0..n {
                    squares[i * n + j] += seen[i] * seen[j] / FLIGHTS as f64;
                }
            }
        }
        for i in 0..n {
            let spread = drift.covariance[i * n + i].sqrt();
            let error = spread / (FLIGHTS as f64).sqrt();
            assert!(
                (sums[i] - drift.mean[i]).abs() < 5.0 * error,
                "{i}: {} against {}",
                sums[i],
                drift.mean[i]
            );
            for j in 0..=i {
                let ours = drift.covariance[i * n + j];
                let theirs = squares[i * n + j] - sums[i] * sums[j];
                let other = drift.covariance[j * n + j].sqrt();
                assert!(
                    (theirs - ours).abs() < 7.0 * error * other,
                    "{i}, {j}: {theirs} against {ours}, spreads {spread} and {other}"
                );
            }
        }
    }
}
