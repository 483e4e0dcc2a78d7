//! One step of a point mass in moving air: the law, and two ways to follow it.

use super::{Knot, Path, State};
use crate::GRAVITY_MPS2;

/// What acts at one moment of a step.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Moment {
    /// The air's motion towards east, north and up, m/s.
    pub(super) wind_mps: [f64; 3],
    /// Half density times drag area over mass: deceleration over speed squared, 1/m.
    pub(super) brake_pm: f64,
    /// Thrust over mass, m/s2.
    pub(super) push_mps2: f64,
}

impl Moment {
    /// Speed over the air: its components and size, m/s.
    #[inline]
    pub(super) fn airspeed_mps(&self, velocity_mps: [f64; 3]) -> ([f64; 3], f64) {
        let w = self.wind_mps;
        let rel = [velocity_mps[0] - w[0], velocity_mps[1] - w[1], velocity_mps[2] - w[2]];
        (rel, norm(rel))
    }

    /// Acceleration off the rail: drag and thrust along the relative wind, the thrust turned by `misaligned_rad`
    /// towards east and north, and gravity.
    #[inline]
    pub(super) fn acceleration_mps2(&self, velocity_mps: [f64; 3], misaligned_rad: [f64; 2]) -> [f64; 3] {
        let w = self.wind_mps;
        let rel = [velocity_mps[0] - w[0], velocity_mps[1] - w[1], velocity_mps[2] - w[2]];
        let speed = norm(rel);
        let push = self.push_mps2;
        if push <= 0.0 {
            let drag = self.brake_pm * speed;
            return [-drag * rel[0], -drag * rel[1], -drag * rel[2] - GRAVITY_MPS2];
        }
        let square = dot(rel, rel);
        // The root beside the quotient, not after it.
        let (axis, speed, per_speed) =
            if square > 1e-18 { (rel, speed, speed * (1.0 / square)) } else { ([0.0, 0.0, 1.0], 1.0, 1.0) };
        let along = push * per_speed - self.brake_pm * speed;
        let [east, north] = misaligned_rad.map(|rad| rad * push * per_speed);
        [
            along * axis[0] + east * axis[2],
            along * axis[1] + north * axis[2],
            along * axis[2] - east * axis[0] - north * axis[1] - GRAVITY_MPS2,
        ]
    }

    /// How long the next step may be, s, for what moves with `airspeed_mps` over the air and gains `change_mps2`, and
    /// whether drag is too stiff for [`runge_kutta`] in it.
    ///
    /// So long that drag settles by no more than `share` in it; longer where, being settled already, the velocity over
    /// the air changes by no more than half of that.
    #[inline]
    pub(super) fn pace(
        &self,
        airspeed_mps: f64,
        change_mps2: [f64; 3],
        longest_s: f64,
        share: f64,
    ) -> (f64, bool) {
        let square = self.settling_square(airspeed_mps);
        if longest_s * longest_s * square <= share * share {
            return (longest_s, false); // a share is never so large that drag is stiff in it
        }
        let rate_ps = square.sqrt();
        let step_s = (share / rate_ps).max(0.5 * share * airspeed_mps / norm(change_mps2).max(1e-9));
        let step_s = step_s.max(SHORTEST_STEP_S).min(longest_s);
        (step_s, rate_ps * step_s > STIFF)
    }

    /// Fastest rate at which the velocity can settle during a step, 1/s: at the speed now, or at the steady one.
    #[inline]
    pub(super) fn settling_rate_ps(&self, airspeed_mps: f64) -> f64 {
        self.settling_square(airspeed_mps).sqrt()
    }

    #[inline]
    fn settling_square(&self, airspeed_mps: f64) -> f64 {
        let now = self.brake_pm * airspeed_mps;
        let steady = self.brake_pm * self.push_mps2.max(GRAVITY_MPS2);
        4.0 * (now * now).max(steady)
    }
}

/// No step is shorter, so that their number is bounded.
const SHORTEST_STEP_S: f64 = 1.0 / 512.0;
/// Where rate times step is more than this, drag is too stiff for [`runge_kutta`].
pub(super) const STIFF: f64 = 1.6;

/// One step, with the method that fits: see [`runge_kutta`] and [`settle`].
#[inline]
pub(super) fn stride(
    s: State,
    h: f64,
    stiff: bool,
    a1: [f64; 3],
    misaligned_rad: [f64; 2],
    mut at: impl FnMut(f64, f64) -> Moment,
) -> (State, Moment) {
    if stiff {
        let middle = at(0.5, s.at_m[2] + 0.5 * h * s.velocity_mps[2]);
        let next = settle(s, h, &middle, misaligned_rad);
        (next, at(1.0, next.at_m[2]))
    } else {
        runge_kutta(s, h, a1, misaligned_rad, at)
    }
}

/// One step of the classical Runge-Kutta method of fourth order from `s`.
///
/// `a1` is the acceleration at the start; `at(share, height_m)` is asked once for the middle of the step and once for
/// its end, at heights foretold from it. Returns the new state and what acts there.
#[inline]
fn runge_kutta(
    s: State,
    h: f64,
    a1: [f64; 3],
    misaligned_rad: [f64; 2],
    mut at: impl FnMut(f64, f64) -> Moment,
) -> (State, Moment) {
    let (x, v) = (s.at_m, s.velocity_mps);
    let moved = |a: [f64; 3], by: f64| [v[0] + by * a[0], v[1] + by * a[1], v[2] + by * a[2]];
    let middle = at(0.5, x[2] + h / 2.0 * (v[2] + h / 4.0 * a1[2]));
    let last = at(1.0, x[2] + h * (v[2] + h / 2.0 * a1[2]));
    let a2 = middle.acceleration_mps2(moved(a1, h / 2.0), misaligned_rad);
    let a3 = middle.acceleration_mps2(moved(a2, h / 2.0), misaligned_rad);
    let a4 = last.acceleration_mps2(moved(a3, h), misaligned_rad);
    let sixth = h * (1.0 / 6.0);
    let next = State {
        t_s: s.t_s + h,
        at_m: core::array::from_fn(|i| x[i] + h * (v[i] + sixth * (a1[i] + a2[i] + a3[i]))),
        velocity_mps: core::array::from_fn(|i| v[i] + sixth * (a1[i] + 2.0 * (a2[i] + a3[i]) + a4[i])),
    };
    (next, last)
}

/// One step in which the law is made linear about the start and solved exactly: stable however stiff the drag is, and
/// at rest where the law is.
///
/// # Model
/// Along the relative wind the velocity settles at `2 b v`, across it at `b v` less what the thrust takes (it turns
/// with the axis).
/// # Source
/// The exponential Rosenbrock-Euler method: M. Hochbruck, A. Ostermann, Exponential integrators, Acta Numerica 19
/// (2010) 209, section 2.4 (section from memory).
#[inline]
fn settle(s: State, h: f64, moment: &Moment, misaligned_rad: [f64; 2]) -> State {
    let (rel, speed) = moment.airspeed_mps(s.velocity_mps);
    let f = moment.acceleration_mps2(s.velocity_mps, misaligned_rad);
    let unit = if speed > 1e-9 { rel.map(|component| component / speed) } else { [0.0, 0.0, 1.0] };
    let along = f[0] * unit[0] + f[1] * unit[1] + f[2] * unit[2];
    let rate = moment.brake_pm * speed;
    let (v_along, x_along) = kept(2.0 * rate * h);
    let (v_across, x_across) = kept((rate - moment.push_mps2 / speed.max(1e-9)).max(0.0) * h);
    let mut next = State { t_s: s.t_s + h, ..s };
    for axis in 0..3 {
        let (f_along, f_across) = (along * unit[axis], f[axis] - along * unit[axis]);
        next.velocity_mps[axis] += h * (v_along * f_along + v_across * f_across);
        next.at_m[axis] += h * (s.velocity_mps[axis] + h * (x_along * f_along + x_across * f_across));
    }
    next
}

/// The state at a share of the step between two, on the cubics that join their places with their velocities.
#[inline]
pub(super) fn on_the_way(from: &State, to: &State, share: f64) -> State {
    let h = to.t_s - from.t_s;
    let rest = 1.0 - share;
    let steep = 6.0 * share * rest / h.max(1e-12);
    let (began, ends) = (rest * (1.0 - 3.0 * share), share * (3.0 * share - 2.0));
    State {
        t_s: from.t_s + share * h,
        at_m: place_on_the_way(from, to, share),
        velocity_mps: core::array::from_fn(|i| {
            let way = to.at_m[i] - from.at_m[i];
            began * from.velocity_mps[i] + ends * to.velocity_mps[i] + steep * way
        }),
    }
}

#[inline]
fn place_on_the_way(from: &State, to: &State, share: f64) -> [f64; 3] {
    let (h, rest) = (to.t_s - from.t_s, 1.0 - share);
    let (start, end) = (h * share * rest * rest, -h * share * share * rest);
    let risen = share * share * (3.0 - 2.0 * share);
    core::array::from_fn(|i| {
        let way = to.at_m[i] - from.at_m[i];
        from.at_m[i] + risen * way + start * from.velocity_mps[i] + end * to.velocity_mps[i]
    })
}

/// Straight lines between the points of a path may miss it by about this much, m.
pub(super) const CHORD_M: f64 = 0.3;

/// Into how many pieces a bend has to be cut, each of which bends as much less as the square of their number.
#[inline]
pub(super) fn pieces(bend_m: f64) -> u32 {
    (2..8).find(|pieces| bend_m <= CHORD_M * f64::from(pieces * pieces)).unwrap_or(8)
}

/// Points between the ends of a way of `step_s` that begins at `from`, along which the velocity changes evenly by
/// `gained_mps`: so many that it falls into `pieces`.
#[inline]
pub(super) fn push_bend(
    path: &mut Path,
    from: &Knot,
    step_s: f64,
    way_m: [f64; 3],
    gained_mps: [f64; 3],
    pieces: u32,
) {
    let each = 1.0 / f64::from(pieces);
    path.extend((1..pieces).map(|piece| {
        let share = each * f64::from(piece);
        let bend = 0.5 * step_s * share * (1.0 - share);
        let at_m = core::array::from_fn(|i| from.at_m[i] + share * way_m[i] - bend * gained_mps[i]);
        Knot { t_s: from.t_s + share * step_s, at_m }
    }));
}

/// The end of a step and, if its way bends, points on the curve that joins its ends with their velocities.
#[inline(always)] // a tenth of the cost of a boost
pub(super) fn push_step(path: &mut Path, from: &State, to: &State) {
    let h = to.t_s - from.t_s;
    let gained: [f64; 3] = core::array::from_fn(|i| to.velocity_mps[i] - from.velocity_mps[i]);
    // Compared as squares: most steps are straight enough.
    let gained2 = dot(gained, gained);
    if gained2 * h * h > 64.0 * CHORD_M * CHORD_M {
        let pieces = pieces(gained2.sqrt() * h * 0.125);
        let each = 1.0 / f64::from(pieces);
        path.extend((1..pieces).map(|piece| {
            let share = each * f64::from(piece);
            Knot { t_s: from.t_s + share * h, at_m: place_on_the_way(from, to, share) }
        }));
    }
    path.push(to.t_s, to.at_m);
}

/// What is left after so many times the time that it takes to settle is nothing: 2e-9.
const SETTLED: f64 = 20.0;

/// `(1 - e^-z) / z` and `(z - 1 + e^-z) / z^2`: what a force that fades at a rate leaves of its kick and its way.
#[inline]
pub(super) fn kept(z: f64) -> (f64, f64) {
    if z < 1e-3 {
        (1.0 - z / 2.0 + z * z * (1.0 / 6.0), 0.5 - z * (1.0 / 6.0) + z * z * (1.0 / 24.0))
    } else {
        let per = 1.0 / z;
        let left = if z < SETTLED { (-z).exp() } else { 0.0 };
        let first = (1.0 - left) * per;
        (first, (1.0 - first) * per)
    }
}

#[inline]
pub(super) fn norm(v: [f64; 3]) -> f64 {
    dot(v, v).sqrt()
}

#[inline]
fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}
