use super::motion::{CHORD_M, Moment, kept, pieces, push_bend, push_step, stride};
use super::{Knot, Path, State};
use crate::GRAVITY_MPS2;
use crate::air::AirTable;

/// No flight is followed longer than this, s.
pub const LONGEST_FLIGHT_S: f64 = 900.0;

/// Height of a row of the air table, so that no layer is cut here.
const CALM_BELOW_M: f64 = 48.0;
const OPENING_STEP_S: f64 = 1.0;
/// Share by which drag may settle in a step.
const SETTLES: f64 = 1.2;
/// It has opened after so many steps at the latest: a feather feels every change of the wind as a shock.
const MOST_STEPS: usize = 200;
/// It has opened when its sinking differs by less than this share from the steady one ...
const SETTLED: f64 = 0.06;
/// ... and when it moves sideways through the air at less than this share of it.
const SIDEWAYS: f64 = 0.3;
/// Where the climb changes by more than this share of itself, a layer is taken in pieces.
const UNEVEN: f64 = 0.4;
/// So is one whose way bends by more than this, m; where the wind changes by so much on the way, m/s, less will do.
const BENDS_M: f64 = 1.8;
const TURNS_MPS: f64 = 0.5;
const LEAST_BEND_M: f64 = 0.2;
/// By how much of itself what trails the wind has to add to the drag to be looked at.
const TRAILS: f64 = 1e-4;

/// Descent of a body whose drag area alone matters, from `state` to the ground, gusts left out.
///
/// `rising_mps`: mean vertical air motion, upwards positive; it fades out below 48 m. Returns whether it was
/// still in the air after [`LONGEST_FLIGHT_S`]; its path then ends on the ground below it.
///
/// # Frame
/// East, north, up about the pad, m; seconds after first motion.
/// # Model
/// Until it sinks steadily: quadratic drag, made linear about the start of each step and solved exactly, steps short
/// enough that the velocity over the air changes little in one. From then on it sinks at the terminal speed of its
/// height through layers of air between which wind and density change evenly, and its horizontal motion lags the
/// wind by `v_t / g`, solved exactly in each layer. A mean updraught stronger than the fall speed carries it up, and
/// holds it where both are equal.
#[must_use]
pub fn under_drag(
    state: State,
    mass_kg: f64,
    drag_area_m2: f64,
    rising_mps: f64,
    air: &AirTable,
    path: &mut Path,
) -> bool {
    let brake = 0.5 * drag_area_m2 / mass_kg;
    let canopy = Canopy { brake, terminal: (GRAVITY_MPS2 / brake).sqrt(), rising_mps, air };
    canopy.open(state, path).is_some_and(|state| canopy.sink(state, path))
}

struct Canopy<'a> {
    brake: f64,    // times density: deceleration over speed squared, 1/m
    terminal: f64, // over the root of density: terminal speed, m/s
    rising_mps: f64,
    air: &'a AirTable,
}

/// A height in the air, and how the body moves there once it sinks steadily.
#[derive(Clone, Copy)]
struct Level {
    height_m: f64,
    wind_mps: [f64; 2],
    terminal_mps: f64,
    climb_mps: f64,
}

impl Level {
    fn towards(&self, other: &Self, share: f64) -> Self {
        let mix = |a: f64, b: f64| a + share * (b - a);
        Self {
            height_m: mix(self.height_m, other.height_m),
            wind_mps: core::array::from_fn(|axis| mix(self.wind_mps[axis], other.wind_mps[axis])),
            terminal_mps: mix(self.terminal_mps, other.terminal_mps),
            climb_mps: mix(self.climb_mps, other.climb_mps),
        }
    }
}

impl Canopy<'_> {
    fn rising_at(&self, height_m: f64) -> f64 {
        self.rising_mps * (height_m * (1.0 / CALM_BELOW_M)).clamp(0.0, 1.0)
    }

    fn moment(&self, height_m: f64) -> Moment {
        let [east, north, density] = self.air.at(height_m);
        Moment {
            wind_mps: [east, north, self.rising_at(height_m)],
            brake_pm: self.brake * density,
            push_mps2: 0.0,
        }
    }

    fn level(&self, height_m: f64, [east, north, _, thin]: [f64; 4]) -> Level {
        let terminal_mps = self.terminal * thin;
        let climb_mps = self.rising_at(height_m) - terminal_mps;
        Level { height_m, wind_mps: [east, north], terminal_mps, climb_mps }
    }

    /// From release until it sinks steadily; none if it reached the ground before.
    fn open(&self, mut state: State, path: &mut Path) -> Option<State> {
        let mut here = self.moment(state.at_m[2]);
        path.push(state.t_s, state.at_m);
        for _ in 0..MOST_STEPS {
            if state.at_m[2] <= 0.0 {
                path.push(state.t_s + 1e-6, [state.at_m[0], state.at_m[1], 0.0]);
                return None;
            }
            let (_, speed) = here.airspeed_mps(state.velocity_mps);
            let change = here.acceleration_mps2(state.velocity_mps, [0.0; 2]);
            // Near the steady fall acceleration goes with what is left to settle, and with the way that this still
            // makes.
            let still = change[2].abs();
            if still < 2.0 * SETTLED * GRAVITY_MPS2
                && still < 0.5 * CHORD_M * 4.0 * GRAVITY_MPS2 * here.brake_pm
                && change[0].abs().max(change[1].abs()) < SIDEWAYS * GRAVITY_MPS2
            {
                let rest_m = -change[2] / (4.0 * GRAVITY_MPS2 * here.brake_pm);
                state.at_m[2] = (state.at_m[2] + rest_m).max(1e-3);
                return Some(state);
            }
            let (step_s, stiff) = here.pace(speed, change, OPENING_STEP_S, SETTLES);
            let (next, there) =
                stride(state, step_s, stiff, change, [0.0; 2], |_, height_m| self.moment(height_m));
            if next.at_m[2] <= 0.0 {
                let share = state.at_m[2] / (state.at_m[2] - next.at_m[2]);
                let mix = |axis: usize| state.at_m[axis] + share * (next.at_m[axis] - state.at_m[axis]);
                path.push(state.t_s + share * step_s, [mix(0), mix(1), 0.0]);
                return None;
            }
            push_step(path, &state, &next);
            (state, here) = (next, there);
        }
        Some(state)
    }

    /// The next height at which the air bends, the way the body moves, and by how much the wind on the way there is
    /// more than the mean of both ends; `row` is the last row passed or reached.
    #[inline]
    fn ahead(&self, here: &Level, row: &mut usize) -> (Level, [f64; 2]) {
        let mut more_mps = [0.0; 2];
        if here.climb_mps >= 0.0 {
            while AirTable::row_height_m(*row) <= here.height_m {
                *row += 1;
            }
        } else if AirTable::row_height_m(*row) >= here.height_m && *row > 0 {
            // Several layers at a time, where their wind need not be told apart.
            let next = AirTable::coarser_below(*row);
            if next + 1 < *row {
                more_mps = self.air.bulge(next, *row);
            }
            *row = next;
        }
        (self.level(AirTable::row_height_m(*row), self.air.row(*row)), more_mps)
    }

    /// Steadily to the ground; whether it is still in the air at the cap.
    fn sink(&self, state: State, path: &mut Path) -> bool {
        let [mut east_m, mut north_m, height_m] = state.at_m;
        let mut t_s = state.t_s;
        let [east, north, density] = self.air.at(height_m);
        let mut here = self.level(height_m, [east, north, density, 1.0 / density.sqrt()]);
        let mut lag = [state.velocity_mps[0] - here.wind_mps[0], state.velocity_mps[1] - here.wind_mps[1]];
        let mut row = AirTable::row_below(height_m);
        let (mut there, mut more_mps) = self.ahead(&here, &mut row);
        loop {
            let (mut next, mut whole) = (there, true);
            let mut passage = Passage::between(&here, &next);
            let change = (there.climb_mps - here.climb_mps).abs();
            let bends =
                passage.bend_m > BENDS_M || (passage.bend_m > LEAST_BEND_M && passage.turn_mps > TURNS_MPS);
            if bends || change > UNEVEN * here.climb_mps.abs() {
                let even = (UNEVEN * here.climb_mps.abs() / change.max(1e-12)).min(1.0);
                // The bend goes with the square of the step; where it never gets through there is none to speak of.
                let straight =
                    if bends && passage.step_s > 0.0 { 1.0 / f64::from(pieces(passage.bend_m)) } else { 1.0 };
                let share = even.min(straight);
                (next, whole) = (here.towards(&there, share), share >= 1.0);
                passage = Passage::between(&here, &next);
            }
            let per_terminal = 2.0 / (here.terminal_mps + next.terminal_mps);
            // What it trails a wind that changes with height by adds to its drag: it sinks the slower.
            let turn: [f64; 2] = core::array::from_fn(|axis| next.wind_mps[axis] - here.wind_mps[axis]);
            let settles = (passage.step_s * GRAVITY_MPS2 * per_terminal).max(1.0);
            let trails = (turn[0] * turn[0] + turn[1] * turn[1]) * per_terminal * per_terminal;
            let mut step_s = passage.step_s;
            if trails > TRAILS * settles * settles {
                step_s *= 1.0 + 0.25 * trails / (settles * settles);
            }
            let left_s = LONGEST_FLIGHT_S - t_s;
            if !(step_s >= 0.0 && step_s < left_s) {
                // Held where it is, or as far as it gets.
                let share = if step_s > 0.0 { left_s.max(0.0) / step_s } else { 0.0 };
                let at = here.towards(&next, share);
                let [east, north] = [0, 1].map(|axis| 0.5 * (here.wind_mps[axis] + at.wind_mps[axis]));
                let (east_m, north_m) = (east_m + east * left_s, north_m + north * left_s);
                path.push(LONGEST_FLIGHT_S - 1e-3, [east_m, north_m, at.height_m]);
                path.push(LONGEST_FLIGHT_S.max(t_s + 1e-6), [east_m, north_m, 0.0]);
                return true;
            }
            let z = step_s * GRAVITY_MPS2 * per_terminal;
            let (fades, lingers) = kept(z);
            let moved_m: [f64; 2] = core::array::from_fn(|axis| {
                let chord = 0.5 * (here.wind_mps[axis] + next.wind_mps[axis])
                    - turn[axis] * passage.uneven * (1.0 / 12.0);
                let way = step_s * (chord + more_mps[axis] + lag[axis] * fades - turn[axis] * lingers);
                lag[axis] -= (lag[axis] * z + turn[axis]) * fades;
                way
            });
            if passage.bend_m > CHORD_M {
                let from = Knot { t_s, at_m: [east_m, north_m, here.height_m] };
                let way_m = [moved_m[0], moved_m[1], next.height_m - here.height_m];
                let bends_mps = [turn[0], turn[1], next.climb_mps - here.climb_mps];
                push_bend(path, &from, step_s, way_m, bends_mps, pieces(passage.bend_m));
            }
            t_s += step_s;
            east_m += moved_m[0];
            north_m += moved_m[1];
            path.push(t_s, [east_m, north_m, next.height_m]);
            if next.height_m <= 0.0 {
                return false;
            }
            here = next;
            if whole {
                (there, more_mps) = self.ahead(&here, &mut row);
            }
        }
    }
}

/// From one level to another.
struct Passage {
    step_s: f64,
    /// Change of the climb over its mean.
    uneven: f64,
    /// Change of the wind, the sum of both axes, m/s.
    turn_mps: f64,
    /// How far the way bends off its chord, m.
    bend_m: f64,
}

impl Passage {
    #[inline]
    fn between(from: &Level, to: &Level) -> Self {
        let slowness = 1.0 / (0.5 * (from.climb_mps + to.climb_mps));
        let uneven = (to.climb_mps - from.climb_mps) * slowness;
        // The mean of one over a speed that changes evenly, to second order.
        let even_s = (to.height_m - from.height_m) * slowness * (1.0 + uneven * uneven * (1.0 / 12.0));
        // Its sinking trails the climb that it will have by `v_t / 2g`.
        let step_s = (even_s + from.terminal_mps * (0.5 / GRAVITY_MPS2) * uneven).max(0.1 * even_s);
        let turn_mps = (to.wind_mps[0] - from.wind_mps[0]).abs() + (to.wind_mps[1] - from.wind_mps[1]).abs();
        Self { step_s, uneven, turn_mps, bend_m: turn_mps * step_s * 0.125 }
    }
}

#[cfg(test)]
mod tests {
    use super::super::motion::norm;
    use super::*;
    use crate::air::{Aloft, Ground, Profile};
    use crate::craft::terminal_speed_mps;

    fn air(east10_mps: f64) -> AirTable {
        let mut air = AirTable::default();
        let profile = Profile {
            east10_mps,
            north10_mps: 0.0,
            roughness_m: 0.03,
            stability: 0.0, // no change above 10 m
            shear_exponent: 0.0,
            veer_radpm: 0.0,
        };
        air.fill(&profile, &[], Ground { temperature_k: 288.15, density_kgpm3: 1.2 }, 1000.0);
        air
    }

    #[test]
    fn a_parachute_falls_at_its_terminal_speed_and_drifts_with_the_wind() {
        let (mass_kg, drag_area_m2) = (0.06, 0.053);
        let mut path = Path::default();
        let start = State { at_m: [0.0, 0.0, 200.0], ..State::default() };
        assert!(!under_drag(start, mass_kg, drag_area_m2, 0.0, &air(4.0), &mut path));
        let fall = terminal_speed_mps(mass_kg, drag_area_m2, 1.19); // density half way down
        let end = path.end();
        assert!((end.t_s - 200.0 / fall).abs() < 0.02 * end.t_s, "{} s", end.t_s);
        // The lowest 10 m are slower than 4 m/s: a few metres less than wind times time.
        let drift = 4.0 * end.t_s;
        assert!(end.at_m[0] < drift && end.at_m[0] > drift - 12.0, "{} m of {drift}", end.at_m[0]);
    }

    #[test]
    fn an_updraught_stronger_than_the_fall_ends_at_the_cap_and_says_so() {
        let start = State { at_m: [0.0, 0.0, 100.0], ..State::default() };
        assert!(under_drag(start, 0.005, 0.1, 3.0, &air(1.0), &mut Path::default()));
    }

    /// The same law in steps of 0.2 ms: place and time when it touches the ground.
    fn finely_stepped(mut state: State, brake_pm: f64, wind_mps: f64) -> State {
        let h = 2e-4;
        while state.at_m[2] > 0.0 {
            let law = |v: [f64; 3]| {
                let rel = [v[0] - wind_mps, v[1], v[2]];
                let drag = brake_pm * norm(rel);
                [-drag * rel[0], -drag * rel[1], -drag * rel[2] - GRAVITY_MPS2]
            };
            let v = state.velocity_mps;
            let a = law(v);
            let b = law(core::array::from_fn(|axis| v[axis] + 0.5 * h * a[axis]));
            for axis in 0..3 {
                state.at_m[axis] += h * (v[axis] + 0.5 * h * a[axis]);
                state.velocity_mps[axis] += h * b[axis];
            }
            state.t_s += h;
        }
        state
    }

    #[test]
    fn an_opening_at_any_speed_under_any_device_lands_where_a_finely_stepped_one_does() {
        // Wind and density that do not change with height.
        let mut air = AirTable::default();
        let even = Aloft { height_m: 2000.0, east_mps: 5.0, north_mps: 0.0 };
        let profile = Profile {
            east10_mps: 5.0,
            north10_mps: 0.0,
            roughness_m: 1e-300,
            stability: 0.0,
            shear_exponent: 0.0,
            veer_radpm: 0.0,
        };
        air.fill(&profile, &[even], Ground { temperature_k: 1e12, density_kgpm3: 1.2 }, 2000.0);
        let (mut worst_m, mut worst_s) = (0.0_f64, 0.0_f64);
        for terminal in [0.8, 2.0, 4.5, 9.0, 20.0, 45.0] {
            let brake_pm = GRAVITY_MPS2 / (terminal * terminal);
            for velocity_mps in [
                [0.0; 3],
                [3.0, 0.0, 0.0],
                [0.0, 0.0, -3.0],
                [0.0, 0.0, -40.0],
                [20.0, 10.0, 40.0],
                [9.0, 0.0, -15.0],
            ] {
                for height_m in [40.0, 300.0] {
                    let start = State { velocity_mps, at_m: [0.0, 0.0, height_m], ..State::default() };
                    let (mass_kg, mut path) = (0.06, Path::default());
                    let drag_area_m2 = brake_pm * mass_kg / 0.6;
                    assert!(!under_drag(start, mass_kg, drag_area_m2, 0.0, &air, &mut path));
                    let (end, fine) = (path.end(), finely_stepped(start, brake_pm, 5.0));
                    let late_s = end.t_s - fine.t_s;
                    let miss_m = (end.at_m[0] - fine.at_m[0]).hypot(end.at_m[1] - fine.at_m[1]);
                    worst_m = worst_m.max(miss_m);
                    worst_s = worst_s.max(late_s.abs());
                }
            }
        }
        assert!(worst_m < 0.5 && worst_s < 0.1, "{worst_m} m, {worst_s} s");
    }

    #[test]
    fn whatever_is_let_go_in_whatever_air_comes_to_an_end_at_a_place_that_is_finite() {
        // A plain generator of shares: the widest a possible flight could be, and wider.
        let mut seed = 20_u64;
        let mut share = || {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 11) as f64 / (1_u64 << 53) as f64
        };
        let mut path = Path::default();
        let mut ended = [0; 2];
        for _ in 0..3000 {
            let mut within = |low: f64, high: f64| low + (high - low) * share();
            let profile = Profile {
                east10_mps: within(-15.0, 15.0),
                north10_mps: within(-15.0, 15.0),
                roughness_m: 10_f64.powf(within(-4.0, 0.3)),
                stability: within(-0.3, 4.0),
                shear_exponent: within(-0.3, 0.8),
                veer_radpm: within(-0.01, 0.01),
            };
            let mut air = AirTable::default();
            air.fill(
                &profile,
                &[],
                Ground { temperature_k: 288.0, density_kgpm3: 1.2 },
                within(50.0, 3000.0),
            );
            let start = State {
                t_s: within(0.0, 100.0),
                at_m: [0.0, 0.0, within(-1.0, 1.0).max(-0.1) * within(0.0, 5000.0)],
                velocity_mps: [within(-80.0, 80.0), within(-80.0, 80.0), within(-150.0, 150.0)],
            };
            let (mass_kg, area_m2) = (10_f64.powf(within(-4.0, 1.0)), 10_f64.powf(within(-6.0, 1.5)));
            path.clear();
            let capped = under_drag(start, mass_kg, area_m2, within(-8.0, 8.0), &air, &mut path);
            ended[usize::from(capped)] += 1;
            let end = path.end();
            assert!(end.at_m.iter().all(|m| m.is_finite()) && end.t_s.is_finite(), "{start:?}");
            assert!(
                path.knots().windows(2).all(|pair| pair[0].t_s < pair[1].t_s) && path.knots().len() < 5000
            );
            assert!(capped == (end.t_s >= LONGEST_FLIGHT_S), "{start:?} {end:?}");
        }
        assert!(ended.iter().all(|count| *count > 100), "{ended:?}");
    }
}
