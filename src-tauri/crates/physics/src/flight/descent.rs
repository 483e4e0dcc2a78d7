use super::{Path, State};
use crate::GRAVITY_MPS2;
use crate::air::AirTable;

/// No flight is followed longer than this, s.
pub const LONGEST_FLIGHT_S: f64 = 900.0;

const STEP_S: f64 = 2.0;
const OPENING_STEP_S: f64 = 0.1;
const OPENING_S: f64 = 2.0;
const CALM_BELOW_M: f64 = 50.0;

/// Descent of a body whose drag area alone matters, from `state` to the ground, gusts left out.
///
/// `rising_mps`: mean vertical air motion, upwards positive; it fades out below 50 m. Returns whether it was
/// still in the air after [`LONGEST_FLIGHT_S`].
///
/// # Model
/// For the first 2 s steps of 0.1 s in which quadratic drag is solved in closed form; then steps of 2 s in which the
/// body moves with the air and sinks at its terminal speed, relaxing with `v_t / g` horizontally. A mean updraught
/// stronger than the fall speed carries it up.
#[must_use]
pub fn under_drag(
    mut state: State,
    mass_kg: f64,
    drag_area_m2: f64,
    rising_mps: f64,
    air: &AirTable,
    path: &mut Path,
) -> bool {
    let opened_s = state.t_s;
    let rising = |height_m: f64| rising_mps * (height_m / CALM_BELOW_M).clamp(0.0, 1.0);
    while state.t_s < opened_s + OPENING_S && state.at_m[2] > 0.0 {
        let [east, north, density] = air.at(state.at_m[2]);
        let wind = [east, north, rising(state.at_m[2])];
        let rate = 0.5 * density * drag_area_m2 / mass_kg;
        let rel: [f64; 3] = core::array::from_fn(|axis| state.velocity_mps[axis] - wind[axis]);
        let speed = (rel[0] * rel[0] + rel[1] * rel[1] + rel[2] * rel[2]).sqrt();
        // Gravity is split around the drag, so that the steady state of the step is the true terminal speed to
        // second order however stiff the drag is.
        let terminal = (GRAVITY_MPS2 / rate).sqrt();
        let rel_next = if speed * rate * OPENING_STEP_S < 0.5 && terminal * rate * OPENING_STEP_S < 0.5 {
            let kept = 1.0 / (1.0 + rate * speed * OPENING_STEP_S);
            let mut next = rel.map(|component| component * kept);
            next[2] -= GRAVITY_MPS2 * OPENING_STEP_S * (1.0 + kept) / 2.0;
            next
        } else {
            let kept = (-GRAVITY_MPS2 / terminal * OPENING_STEP_S).exp();
            [rel[0] * kept, rel[1] * kept, -terminal + (rel[2] + terminal) * kept * kept]
        };
        let before = state;
        for axis in 0..3 {
            let next = wind[axis] + rel_next[axis];
            state.at_m[axis] += OPENING_STEP_S * (state.velocity_mps[axis] + next) / 2.0;
            state.velocity_mps[axis] = next;
        }
        state.t_s += OPENING_STEP_S;
        if state.at_m[2] <= 0.0 {
            return touch(before, state, path);
        }
    }
    path.push(state.t_s, state.at_m);
    let mut lag = {
        let [east, north, _] = air.at(state.at_m[2]);
        [state.velocity_mps[0] - east, state.velocity_mps[1] - north]
    };
    while state.at_m[2] > 0.0 {
        if state.t_s >= LONGEST_FLIGHT_S {
            path.push(state.t_s, [state.at_m[0], state.at_m[1], 0.0]);
            return true;
        }
        let before = state;
        let terminal = |height_m: f64| {
            let density = air.at(height_m)[2];
            (2.0 * mass_kg * GRAVITY_MPS2 / (density * drag_area_m2)).sqrt()
        };
        let fall = terminal(state.at_m[2]);
        let middle_m = (state.at_m[2] + (rising(state.at_m[2]) - fall) * STEP_S / 2.0).max(0.0);
        let [east, north, _] = air.at(middle_m);
        let relax_s = fall / GRAVITY_MPS2;
        let kept = (-STEP_S / relax_s).exp();
        for (axis, wind) in [east, north].into_iter().enumerate() {
            state.at_m[axis] += wind * STEP_S + lag[axis] * relax_s * (1.0 - kept);
            lag[axis] *= kept;
        }
        // The body trails the wind it sinks through by relax_s of the wind's change.
        let next_m = state.at_m[2] + (rising(middle_m) - terminal(middle_m)) * STEP_S;
        let [east_next, north_next, _] = air.at(next_m.max(0.0));
        let [east_here, north_here, _] = air.at(state.at_m[2]);
        lag[0] += (east_here - east_next) * (1.0 - kept) * relax_s / STEP_S;
        lag[1] += (north_here - north_next) * (1.0 - kept) * relax_s / STEP_S;
        state.at_m[2] = next_m;
        state.t_s += STEP_S;
        if state.at_m[2] <= 0.0 {
            return touch(before, state, path);
        }
        path.push(state.t_s, state.at_m);
    }
    path.push(state.t_s + 1e-6, [state.at_m[0], state.at_m[1], 0.0]);
    false
}

fn touch(before: State, after: State, path: &mut Path) -> bool {
    let share = before.at_m[2] / (before.at_m[2] - after.at_m[2]).max(1e-12);
    let mix = |axis: usize| before.at_m[axis] + share * (after.at_m[axis] - before.at_m[axis]);
    path.push(before.t_s + share * (after.t_s - before.t_s), [mix(0), mix(1), 0.0]);
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::air::{Ground, Profile};
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
}
