use super::motion::{Moment, STIFF, norm, on_the_way, push_step, stride};
use super::{Path, State};
use crate::GRAVITY_MPS2;
use crate::air::AirTable;
use crate::craft::Burn;

/// The launch rod or rail.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rail {
    /// Guided length, m.
    pub length_m: f64,
    /// Lean towards east and north, rad.
    pub lean_rad: [f64; 2],
}

impl Rail {
    /// Direction of the rail: east, north, up.
    fn along(&self) -> [f64; 3] {
        let [east, north] = self.lean_rad;
        let square = east * east + north * north;
        let (tilt, cos) = if square < 0.1 {
            // The series of the sine over its angle and of the cosine: to 1e-8 up to 18 degrees.
            let sine = 1.0 - square / 6.0 * (1.0 - square / 20.0 * (1.0 - square / 42.0));
            (sine, 1.0 - square / 2.0 * (1.0 - square / 12.0 * (1.0 - square / 30.0 * (1.0 - square / 56.0))))
        } else {
            let (sin, cos) = square.sqrt().sin_cos();
            (sin / square.sqrt(), cos)
        };
        [east * tilt, north * tilt, cos]
    }
}

/// A motor at work.
#[derive(Clone, Copy, Debug)]
pub struct Thrust<'a> {
    /// Shape of the burn.
    pub burn: &'a Burn,
    /// Mean thrust, N.
    pub mean_n: f64,
    /// Length of the burn, s.
    pub length_s: f64,
    /// Propellant, kg.
    pub propellant_kg: f64,
    /// Angle of the thrust to the axis towards east and north, rad.
    pub misaligned_rad: [f64; 2],
}

/// What is pushed through the air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Boost {
    /// Mass at the start, kg.
    pub mass_kg: f64,
    /// Drag coefficient times reference area, m2.
    pub drag_area_m2: f64,
    /// Gust at the start, added to the wind at every height, towards east and north, m/s.
    pub gust_mps: [f64; 2],
}

/// Longest step under thrust and without, s.
const BOOST_STEP_S: f64 = 0.45;
const COAST_STEP_S: f64 = 1.0;
/// Share of itself by which the velocity over the air may change in a step under thrust: the rocket turns with it.
const CHANGES: f64 = 0.5;
/// Where thrust changes by more than this share of its mean, the step is halved, and halved again.
const UNEVEN: f64 = 0.3;
/// Share by which drag may settle in a step.
const SETTLES: f64 = 0.6;
/// On the rail, drag settles by less than this share in a step ...
const SMOOTH: f64 = 0.35;
/// ... but no step is shorter than this, s, so that their number is bounded.
const SHORTEST_STEP_S: f64 = 1.0 / 64.0;

/// Powered flight from `state` to burnout; on the rail while it is nearer to the pad than the rail is long.
///
/// Returns the state at burnout; the mass is then `craft.mass_kg - thrust.propellant_kg`.
///
/// # Frame
/// East, north, up about the pad, m; seconds after first motion.
/// # Model
/// Point mass. On the rail it moves along the rail and does not slide back; off it the axis follows the relative
/// wind (a stable rocket turns into it at once), thrust along the axis turned by the misalignment. Mass is lost in
/// proportion to the impulse delivered. Each step delivers the impulse that the curve has in it.
/// Fourth-order Runge-Kutta, its first step ending at the end of the rail; for craft so light that drag settles
/// within a step, the law made linear and solved exactly. Landing points agree with a high-order solver to 0.5 m
/// (the oracle's table).
#[must_use]
pub fn boost(
    state: State,
    craft: Boost,
    thrust: Thrust<'_>,
    rail: Option<Rail>,
    air: &AirTable,
    path: &mut Path,
) -> State {
    let (began_s, end_s) = (state.t_s, state.t_s + thrust.length_s);
    let burning = Burning { craft, thrust, air, began_s, end_s, per_length: 1.0 / thrust.length_s };
    let mut now = burning.at(state.t_s);
    let state = match rail {
        Some(rail) => burning.leave(rail, state, &mut now, path),
        None => state,
    };
    burning.fly(state, now, path)
}

struct Burning<'a> {
    craft: Boost,
    thrust: Thrust<'a>,
    air: &'a AirTable,
    began_s: f64,
    end_s: f64,
    per_length: f64,
}

/// A moment of the burn.
#[derive(Clone, Copy)]
struct Burnt {
    force_n: f64,
    used: f64,
    per_kg: f64,
}

impl Burning<'_> {
    #[inline]
    fn at(&self, t_s: f64) -> Burnt {
        /// As late as the burn still burns.
        const LAST: f64 = 1.0 - 1e-12;
        let (force, used) = self.thrust.burn.at(((t_s - self.began_s) * self.per_length).min(LAST));
        let per_kg = 1.0 / (self.craft.mass_kg - self.thrust.propellant_kg * used);
        Burnt { force_n: self.thrust.mean_n * force, used, per_kg }
    }

    /// The burn in the middle and at the end of a step. The force in the middle is such that Simpson's rule, which
    /// Runge-Kutta steps amount to, gives the step its impulse, whatever the curve does between.
    #[inline]
    fn step(&self, from: Burnt, t_s: f64, step_s: f64) -> [Burnt; 2] {
        let (middle, end) = (self.at(t_s + 0.5 * step_s), self.at(t_s + step_s));
        let mean_n = self.thrust.mean_n * self.thrust.length_s / step_s * (end.used - from.used);
        let force_n = (1.5 * mean_n - 0.25 * (from.force_n + end.force_n)).max(0.0);
        [Burnt { force_n, ..middle }, end]
    }

    /// Along the rail to its end or to burnout.
    fn leave(&self, rail: Rail, mut state: State, now: &mut Burnt, path: &mut Path) -> State {
        let along = rail.along();
        let cos = along[2];
        let drag = 0.5 * self.air.at(state.at_m[2])[2] * self.craft.drag_area_m2;
        let (mut way_m, mut speed) = (norm(state.at_m), norm(state.velocity_mps));
        while way_m < rail.length_m && state.t_s < self.end_s - 1e-9 {
            let left_s = self.end_s - state.t_s;
            let mut longest_s = self.thrust.length_s / 8.0;
            let mut soon_n = self.at(state.t_s + longest_s).force_n;
            if (soon_n - now.force_n).abs() > UNEVEN * self.thrust.mean_n {
                longest_s *= 0.25;
                soon_n = self.at(state.t_s + longest_s).force_n;
            }
            let (push, brake) = (now.force_n.max(soon_n) * now.per_kg, drag * now.per_kg);
            let pull = push - GRAVITY_MPS2 * cos - brake * speed * speed;
            // A little past the end of the rail if the pull does not change, but never stiffer than allowed.
            let left_m = 1.1 * (rail.length_m - way_m);
            let to_end_s =
                2.0 * left_m / (speed + (speed * speed + 2.0 * pull * left_m).max(0.0).sqrt()).max(1e-12);
            let mut step_s = to_end_s.min(longest_s);
            let square = 4.0 * (brake * speed * brake * speed).max(brake * push);
            if step_s * step_s * square > SMOOTH * SMOOTH {
                step_s = step_s.min((SMOOTH / square.sqrt()).max(SHORTEST_STEP_S));
            }
            let mut step_s = step_s.min(left_s);
            let (next_m, next_speed) = self.slide(*now, state.t_s, [way_m, speed], step_s, cos, drag);
            let (mut end_m, mut end_speed) = (next_m.max(way_m), next_speed.max(0.0));
            if end_m > rail.length_m {
                // Back to the end of the rail on the cubic through both ends of the step, by Newton's method.
                let (over_m, h) = (end_m - way_m, step_s);
                let (began, ends) = (h * speed, h * end_speed);
                let [square, cube] = [3.0 * over_m - 2.0 * began - ends, began + ends - 2.0 * over_m];
                let left_m = rail.length_m - way_m;
                let mut share = 1.0;
                for _ in 0..3 {
                    let way = share * (began + share * (square + share * cube));
                    let slope = began + share * (2.0 * square + 3.0 * share * cube);
                    share = (share - (way - left_m) / slope.max(1e-9)).clamp(0.0, 1.0);
                }
                end_speed = (began + share * (2.0 * square + 3.0 * share * cube)) / h;
                (step_s, end_m) = (share * h, rail.length_m);
            }
            let moved_m = end_m - way_m;
            (way_m, speed) = (end_m, end_speed);
            state = State {
                t_s: state.t_s + step_s,
                at_m: core::array::from_fn(|axis| state.at_m[axis] + along[axis] * moved_m),
                velocity_mps: along.map(|component| component * speed),
            };
            *now = self.at(state.t_s);
            path.push(state.t_s, state.at_m);
        }
        state
    }

    /// Way along the rail and speed after a step.
    #[inline]
    fn slide(
        &self,
        now: Burnt,
        t_s: f64,
        [way_m, speed]: [f64; 2],
        h: f64,
        cos: f64,
        drag: f64,
    ) -> (f64, f64) {
        let [middle, end] = self.step(now, t_s, h);
        let line = [now, middle, end];
        let [push, brake] =
            [line.map(|at| at.force_n * at.per_kg - GRAVITY_MPS2 * cos), line.map(|at| drag * at.per_kg)];
        let stiff = 2.0 * h * (brake[1] * speed).max((brake[1] * push[1].max(0.0)).sqrt());
        if stiff > STIFF {
            // Implicit Euler: the speed at the end of the step is the root of a square.
            let (free, b) = (speed + h * push[1], h * brake[1]);
            let next = if free <= 0.0 { 0.0 } else { 2.0 * free / (1.0 + (1.0 + 4.0 * b * free).sqrt()) };
            return (way_m + h * next, next);
        }
        let pull = |v: f64, at: usize| {
            let a = push[at] - brake[at] * v * v;
            if v < 1e-6 { a.max(0.0) } else { a }
        };
        let a1 = pull(speed, 0);
        let a2 = pull(speed + h / 2.0 * a1, 1);
        let a3 = pull(speed + h / 2.0 * a2, 1);
        let a4 = pull(speed + h * a3, 2);
        let sixth = h * (1.0 / 6.0);
        (way_m + h * (speed + sixth * (a1 + a2 + a3)), speed + sixth * (a1 + 2.0 * (a2 + a3) + a4))
    }

    /// Off the rail to burnout.
    fn fly(&self, mut state: State, mut now: Burnt, path: &mut Path) -> State {
        let misaligned = self.thrust.misaligned_rad;
        let shortest_s = SHORTEST_STEP_S.min(self.thrust.length_s / 32.0);
        let longest_s = BOOST_STEP_S.min(self.thrust.length_s / 3.0);
        let mut here = self.air.at(state.at_m[2]);
        // How long the relative wind takes to turn by the share allowed, the fastest rate at which drag settles
        // times the mass, and the thrust for which they were found: under steady thrust speed goes with time, and so does the first.
        let (mut turning_s, mut rate, mut found_n) = (0.0, 0.0, f64::INFINITY);
        while state.t_s < self.end_s - 1e-9 {
            let first = self.craft.moment(here, now);
            let a1 = first.acceleration_mps2(state.velocity_mps, misaligned);
            if (now.force_n - found_n).abs() > UNEVEN * self.thrust.mean_n {
                let (_, speed) = first.airspeed_mps(state.velocity_mps);
                turning_s = CHANGES * speed / norm(a1).max(1e-9);
                rate = first.settling_rate_ps(speed) / now.per_kg;
                found_n = now.force_n;
            }
            // It grows as the mass falls.
            let rate_ps = rate * now.per_kg;
            let left_s = self.end_s - state.t_s;
            let mut step_s = turning_s.min(longest_s);
            if step_s * rate_ps > SETTLES {
                step_s = SETTLES / rate_ps;
            }
            let step_s = step_s.max(shortest_s);
            let step_s = if left_s < 1.25 * step_s { left_s } else { step_s };
            let stiff = rate_ps * step_s > STIFF;
            let (mut step_s, mut burns) = (step_s, self.step(now, state.t_s, step_s));
            while (burns[1].force_n - now.force_n).abs() > UNEVEN * self.thrust.mean_n && step_s > shortest_s
            {
                step_s *= 0.5;
                burns = self.step(now, state.t_s, step_s);
            }
            let [middle, end] = burns;
            let mut above = here;
            let (next, _) = stride(state, step_s, stiff, a1, misaligned, |share, height_m| {
                above = self.air.at(height_m);
                self.craft.moment(above, if share < 1.0 { middle } else { end })
            });
            push_step(path, &state, &next);
            turning_s += CHANGES * step_s;
            (state, here, now) = (next, above, end);
        }
        state
    }
}

impl Boost {
    #[inline]
    fn moment(&self, [east, north, density]: [f64; 3], at: Burnt) -> Moment {
        Moment {
            wind_mps: [east + self.gust_mps[0], north + self.gust_mps[1], 0.0],
            brake_pm: 0.5 * density * self.drag_area_m2 * at.per_kg,
            push_mps2: at.force_n * at.per_kg,
        }
    }
}

/// Unpowered flight until `until_s` or the ground, along the same law as [`boost`].
///
/// `apogee` receives the first state at which it no longer rises, unless it holds one. Returns the state at `until_s`,
/// or on the ground with a height of exactly zero.
///
/// # Frame
/// East, north, up about the pad, m; seconds after first motion.
#[must_use]
pub fn coast(
    mut state: State,
    craft: Boost,
    air: &AirTable,
    path: &mut Path,
    until_s: f64,
    apogee: &mut Option<State>,
) -> State {
    let cold = Burnt { force_n: 0.0, used: 1.0, per_kg: 1.0 / craft.mass_kg };
    let moment = |height_m: f64| craft.moment(air.at(height_m), cold);
    let mut here = moment(state.at_m[2]);
    if apogee.is_none() && state.velocity_mps[2] <= 0.0 {
        *apogee = Some(state);
    }
    while state.t_s < until_s - 1e-9 {
        let (_, speed) = here.airspeed_mps(state.velocity_mps);
        let change = here.acceleration_mps2(state.velocity_mps, [0.0; 2]);
        let (step_s, stiff) = here.pace(speed, change, COAST_STEP_S, SETTLES);
        let left_s = until_s - state.t_s;
        let step_s = if left_s < 1.25 * step_s && !stiff { left_s } else { step_s.min(left_s) };
        let (next, there) = stride(state, step_s, stiff, change, [0.0; 2], |_, height_m| moment(height_m));
        if apogee.is_none() && next.velocity_mps[2] <= 0.0 {
            let mut share = state.velocity_mps[2] / (state.velocity_mps[2] - next.velocity_mps[2]);
            let near = on_the_way(&state, &next, share);
            share -= near.velocity_mps[2] / (step_s * change[2].min(-1e-3));
            *apogee = Some(on_the_way(&state, &next, share.clamp(0.0, 1.0)));
        }
        if next.at_m[2] <= 0.0 && next.velocity_mps[2] < 0.0 {
            let mut ground = next;
            for _ in 0..4 {
                let back_s = ground.at_m[2] / ground.velocity_mps[2].min(-1e-9);
                let share = (ground.t_s - back_s - state.t_s) / step_s;
                ground = on_the_way(&state, &next, share.clamp(0.0, 1.0));
            }
            ground.at_m[2] = 0.0;
            push_step(path, &state, &ground);
            return ground;
        }
        push_step(path, &state, &next);
        (state, here) = (next, there);
    }
    state
}

/// No streamlined fall is followed longer than this, s: what then is still in the air is so light for its drag that it
/// sinks at its terminal speed, and [`super::under_drag`] takes it the rest of the way.
pub const LONGEST_STREAMLINED_S: f64 = 120.0;

/// Streamlined fall from `state` to the ground, as [`coast`]; after [`LONGEST_STREAMLINED_S`] the state that is
/// returned is still above it.
#[must_use]
pub fn streamlined_fall(
    state: State,
    craft: Boost,
    air: &AirTable,
    path: &mut Path,
    apogee: &mut Option<State>,
) -> State {
    coast(state, craft, air, path, state.t_s + LONGEST_STREAMLINED_S, apogee)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::{Ground, Profile};

    fn still_air(density_kgpm3: f64) -> AirTable {
        let mut air = AirTable::default();
        let calm = Profile {
            east10_mps: 0.0,
            north10_mps: 0.0,
            roughness_m: 0.03,
            stability: 1.0,
            shear_exponent: 0.14,
            veer_radpm: 0.0,
        };
        air.fill(&calm, &[], Ground { temperature_k: 1e9, density_kgpm3 }, 1000.0);
        air
    }

    #[test]
    fn a_vertical_coast_reaches_the_height_and_time_of_the_closed_form() {
        // m dv/dt = -m g - k v^2: height (m / 2k) ln(1 + k v0^2 / m g), time sqrt(m / g k) atan(v0 sqrt(k / m g)).
        let (mass_kg, drag_area_m2, v0) = (0.06_f64, 4e-4_f64, 80.0_f64);
        let k = 0.5 * 1.2 * drag_area_m2;
        let craft = Boost { mass_kg, drag_area_m2, gust_mps: [0.0; 2] };
        let mut apogee = None;
        let start = State { velocity_mps: [0.0, 0.0, v0], ..State::default() };
        let _ = coast(start, craft, &still_air(1.2), &mut Path::default(), 20.0, &mut apogee);
        let top = apogee.unwrap();
        let height_m = mass_kg / (2.0 * k) * (1.0 + k * v0 * v0 / (mass_kg * GRAVITY_MPS2)).ln();
        let time_s =
            (mass_kg / (GRAVITY_MPS2 * k)).sqrt() * (v0 * (k / (mass_kg * GRAVITY_MPS2)).sqrt()).atan();
        // What steps of up to a second miss: a fifth of what is allowed for a path.
        assert!((top.at_m[2] - height_m).abs() < 0.1, "{} against {height_m}", top.at_m[2]);
        assert!((top.t_s - time_s).abs() < 0.005, "{} against {time_s}", top.t_s);
    }

    #[test]
    fn a_motor_too_weak_for_its_rocket_leaves_it_on_the_pad() {
        let burn = Burn::constant();
        let thrust =
            Thrust { burn: &burn, mean_n: 0.3, length_s: 2.0, propellant_kg: 0.0, misaligned_rad: [0.0; 2] };
        let craft = Boost { mass_kg: 0.1, drag_area_m2: 4e-4, gust_mps: [0.0; 2] };
        let rail = Some(Rail { length_m: 1.0, lean_rad: [0.05, 0.0] });
        let end = boost(State::default(), craft, thrust, rail, &still_air(1.2), &mut Path::default());
        assert!(norm(end.at_m) < 1e-12);
    }

    fn light_and_draggy() -> (Boost, f64) {
        // 200 mm across, 38 g, drag coefficient 1.5.
        let drag_area_m2 = 1.5 * core::f64::consts::PI * 0.1 * 0.1;
        (Boost { mass_kg: 0.038 + 0.042, drag_area_m2, gust_mps: [0.0; 2] }, 0.5 * 1.2 * drag_area_m2)
    }

    #[test]
    fn a_light_and_draggy_craft_flies_as_a_finely_stepped_reference_does() {
        let (craft, k) = light_and_draggy();
        let burn = Burn::constant();
        let (mean_n, length_s, propellant_kg) = (12.0, 1.4, 0.021); // about a D12
        let thrust = Thrust { burn: &burn, mean_n, length_s, propellant_kg, misaligned_rad: [0.0; 2] };
        let rail = Some(Rail { length_m: 1.0, lean_rad: [0.0; 2] });
        for lighter in [1.0, 0.45, 0.3] {
            let craft = Boost { mass_kg: craft.mass_kg * lighter, ..craft };
            let (air, mut path) = (still_air(1.2), Path::default());
            let state = boost(State::default(), craft, thrust, rail, &air, &mut path);
            let after = Boost { mass_kg: craft.mass_kg - propellant_kg, ..craft };
            let mut apogee = None;
            let end = streamlined_fall(state, after, &air, &mut path, &mut apogee);

            // Vertical, Euler with steps of 10 microseconds.
            let (mut t_s, mut up_m, mut speed, h) = (0.0, 0.0, 0.0_f64, 1e-5);
            let mut top_m = 0.0_f64;
            while up_m >= 0.0 {
                let burning = t_s < length_s;
                let mass_kg = craft.mass_kg - propellant_kg * (t_s / length_s).min(1.0);
                let force_n = if burning { mean_n } else { 0.0 } - k * speed * speed.abs();
                speed += h * (force_n / mass_kg - GRAVITY_MPS2);
                up_m += h * speed;
                t_s += h;
                top_m = top_m.max(up_m);
            }
            assert!(path.knots().iter().all(|knot| knot.at_m.iter().all(|m| m.is_finite())));
            assert!(
                (apogee.unwrap().at_m[2] - top_m).abs() < 0.1,
                "{:?} against {top_m}",
                apogee.unwrap().at_m
            );
            assert!((end.t_s - t_s).abs() < 0.1, "{} against {t_s}", end.t_s);
            assert!(path.knots().len() < 600, "{} points", path.knots().len());
        }
    }

    #[test]
    fn even_a_feather_under_full_thrust_stays_finite_in_a_bounded_number_of_steps() {
        let burn = Burn::constant();
        for (drag_area_m2, mass_kg) in [(10.0, 0.005), (100.0, 0.002), (1e-9, 0.01)] {
            let thrust = Thrust {
                burn: &burn,
                mean_n: 30.0,
                length_s: 3.0,
                propellant_kg: 0.001,
                misaligned_rad: [0.1; 2],
            };
            let rail = Some(Rail { length_m: 1.0, lean_rad: [0.3, 0.1] });
            let craft = Boost { mass_kg, drag_area_m2, gust_mps: [8.0, -3.0] };
            let mut path = Path::default();
            let state = boost(State::default(), craft, thrust, rail, &still_air(1.2), &mut path);
            let end = streamlined_fall(state, craft, &still_air(1.2), &mut path, &mut None);
            assert!(end.at_m.iter().all(|m| m.is_finite()) && end.velocity_mps.iter().all(|v| v.is_finite()));
            assert!(path.knots().len() < 20_000);
        }
    }

    #[test]
    fn a_streamlined_fall_too_light_to_end_is_handed_back_in_the_air() {
        let craft = Boost { mass_kg: 0.01, drag_area_m2: 0.1, gust_mps: [0.0; 2] };
        let start = State { at_m: [0.0, 0.0, 400.0], ..State::default() };
        let end = streamlined_fall(start, craft, &still_air(1.2), &mut Path::default(), &mut None);
        assert!(end.at_m[2] > 200.0 && (end.t_s - LONGEST_STREAMLINED_S).abs() < 1e-6, "{end:?}");
    }
}
