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

/// Steps of a burn of one second; they grow with its root.
const BURN_STEPS: f64 = 13.0;
const COAST_STEP_S: f64 = 0.25;

/// Powered flight from `state` to burnout; on the rail while it is nearer to the pad than the rail is long.
///
/// Returns the state at burnout; the mass is then `craft.mass_kg - thrust.propellant_kg`.
///
/// # Model
/// Point mass. On the rail it moves along the rail and does not slide back; off it the axis follows the relative
/// wind (a stable rocket turns into it at once), thrust along the axis turned by the misalignment. Fourth-order
/// Runge-Kutta with steps that grow with the square of their number and end at burnout.
#[must_use]
pub fn boost(
    mut state: State,
    craft: Boost,
    thrust: Thrust<'_>,
    rail: Option<Rail>,
    air: &AirTable,
    path: &mut Path,
) -> State {
    let began_s = state.t_s;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a burn lasts seconds")]
    let steps = ((thrust.length_s.sqrt() * BURN_STEPS).ceil() as usize).clamp(8, 100);
    for step in 0..steps {
        // Ends of the steps lie at (k / n)^2 of the burn: short on the rail, where speed and law change fastest.
        let step_s = began_s + thrust.length_s * ((step + 1) as f64 / steps as f64).powi(2) - state.t_s;
        state = runge_kutta(state, step_s, |s| {
            let share = (s.t_s - began_s) / thrust.length_s;
            let (force, used) = thrust.burn.at(share);
            let mass_kg = craft.mass_kg - thrust.propellant_kg * used;
            let push = thrust.mean_n * force / mass_kg;
            match rail {
                Some(rail) if norm(s.at_m) < rail.length_m => guided(s, push, mass_kg, craft, rail, air),
                _ => free(s, push, thrust.misaligned_rad, mass_kg, craft, air),
            }
        });
        path.push(state.t_s, state.at_m);
    }
    state
}

/// Unpowered flight until `until(state)` or the ground, along the same law as [`boost`].
///
/// Stops at the first step after which `until` holds, and at 120 s at the latest.
#[must_use]
pub fn coast(
    mut state: State,
    craft: Boost,
    air: &AirTable,
    path: &mut Path,
    until_s: f64,
    apogee: &mut Option<State>,
) -> State {
    while state.t_s < until_s - 1e-9 {
        let step_s = COAST_STEP_S.min(until_s - state.t_s);
        let next = runge_kutta(state, step_s, |s| free(s, 0.0, [0.0; 2], craft.mass_kg, craft, air));
        if apogee.is_none() && next.velocity_mps[2] <= 0.0 {
            let mut top = interpolated(state, next, state.velocity_mps[2], next.velocity_mps[2]);
            // Between the two the vertical speed falls evenly: a parabola, not a chord.
            top.at_m[2] = state.at_m[2] + state.velocity_mps[2].max(0.0) * (top.t_s - state.t_s) / 2.0;
            *apogee = Some(top);
        }
        if next.at_m[2] <= 0.0 && next.velocity_mps[2] < 0.0 {
            let ground = interpolated(state, next, state.at_m[2], next.at_m[2]);
            path.push(ground.t_s, [ground.at_m[0], ground.at_m[1], 0.0]);
            return State { at_m: [ground.at_m[0], ground.at_m[1], 0.0], ..ground };
        }
        state = next;
        path.push(state.t_s, state.at_m);
    }
    state
}

/// Streamlined fall from `state` to the ground; ends at the ground or after two minutes.
#[must_use]
pub fn streamlined_fall(
    state: State,
    craft: Boost,
    air: &AirTable,
    path: &mut Path,
    apogee: &mut Option<State>,
) -> State {
    coast(state, craft, air, path, state.t_s + 120.0, apogee)
}

fn interpolated(from: State, to: State, before: f64, after: f64) -> State {
    let share = if before - after > 1e-12 { (before / (before - after)).clamp(0.0, 1.0) } else { 1.0 };
    let mix = |a: [f64; 3], b: [f64; 3]| core::array::from_fn(|axis| a[axis] + share * (b[axis] - a[axis]));
    State {
        t_s: from.t_s + share * (to.t_s - from.t_s),
        at_m: mix(from.at_m, to.at_m),
        velocity_mps: mix(from.velocity_mps, to.velocity_mps),
    }
}

fn norm(v: [f64; 3]) -> f64 {
    (v[0] * v[0] + v[1] * v[1] + v[2] * v[2]).sqrt()
}

fn relative(state: &State, craft: &Boost, air: &AirTable) -> ([f64; 3], f64) {
    let [east, north, density] = air.at(state.at_m[2]);
    let v = state.velocity_mps;
    ([v[0] - east - craft.gust_mps[0], v[1] - north - craft.gust_mps[1], v[2]], density)
}

fn guided(s: &State, push: f64, mass_kg: f64, craft: Boost, rail: Rail, air: &AirTable) -> [f64; 3] {
    let lean = rail.lean_rad[0].hypot(rail.lean_rad[1]);
    let (sin, cos) = lean.sin_cos();
    let tilt = if lean > 1e-9 { sin / lean } else { 1.0 };
    let along = [rail.lean_rad[0] * tilt, rail.lean_rad[1] * tilt, cos];
    let speed = norm(s.velocity_mps);
    let [_, _, density] = air.at(s.at_m[2]);
    let pull = push - GRAVITY_MPS2 * cos - 0.5 * density * craft.drag_area_m2 * speed * speed / mass_kg;
    let pull = if speed < 1e-6 { pull.max(0.0) } else { pull };
    along.map(|component| component * pull)
}

fn free(s: &State, push: f64, misaligned: [f64; 2], mass_kg: f64, craft: Boost, air: &AirTable) -> [f64; 3] {
    let (rel, density) = relative(s, &craft, air);
    let speed = norm(rel);
    let drag = 0.5 * density * craft.drag_area_m2 * speed / mass_kg;
    let mut a = [-drag * rel[0], -drag * rel[1], -drag * rel[2] - GRAVITY_MPS2];
    if push > 0.0 {
        let axis = if speed > 1e-9 { rel.map(|component| component / speed) } else { [0.0, 0.0, 1.0] };
        a[0] += push * (axis[0] + misaligned[0] * axis[2]);
        a[1] += push * (axis[1] + misaligned[1] * axis[2]);
        a[2] += push * (axis[2] - misaligned[0] * axis[0] - misaligned[1] * axis[1]);
    }
    a
}

fn runge_kutta(s: State, h: f64, acceleration: impl Fn(&State) -> [f64; 3]) -> State {
    let shifted = |dv: [f64; 3], da: [f64; 3], by: f64| State {
        t_s: s.t_s + by,
        at_m: core::array::from_fn(|axis| s.at_m[axis] + by * dv[axis]),
        velocity_mps: core::array::from_fn(|axis| s.velocity_mps[axis] + by * da[axis]),
    };
    let (v1, a1) = (s.velocity_mps, acceleration(&s));
    let s2 = shifted(v1, a1, h / 2.0);
    let (v2, a2) = (s2.velocity_mps, acceleration(&s2));
    let s3 = shifted(v2, a2, h / 2.0);
    let (v3, a3) = (s3.velocity_mps, acceleration(&s3));
    let s4 = shifted(v3, a3, h);
    let (v4, a4) = (s4.velocity_mps, acceleration(&s4));
    let blend = |a: f64, b: f64, c: f64, d: f64| (a + 2.0 * (b + c) + d) / 6.0;
    shifted(
        core::array::from_fn(|axis| blend(v1[axis], v2[axis], v3[axis], v4[axis])),
        core::array::from_fn(|axis| blend(a1[axis], a2[axis], a3[axis], a4[axis])),
        h,
    )
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
        // The air table knows 1/(2450 m) of density change at this scale height; the rest is the 0.25 s step.
        assert!((top.at_m[2] - height_m).abs() < 0.05, "{} against {height_m}", top.at_m[2]);
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
}
