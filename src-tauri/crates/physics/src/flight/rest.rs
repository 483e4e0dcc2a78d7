use super::{Knot, Path};
use crate::GRAVITY_MPS2;

/// Longest stretch of a path, m over the ground, in which a surface is not asked for anew.
const LOOK_M: f64 = 3.0;
/// A path that ends above ground which lies lower than the pad goes on as it came for at most this long, s.
const BEYOND_S: f64 = 60.0;

/// Where a body that is let go comes to rest on ground that is not flat, or on what stands on it.
///
/// # Units
/// `from_s`: nothing is touched before, s after first motion. `surface_m`: height of what it would touch at a place
/// (m east and north of the pad), m above the pad: the slope of the ground, a roof, the top of a tree that would hold
/// it; less than zero below the pad. Returns the time and the place, at the height where it hangs or lies.
/// # Model
/// It stays where its way first meets the surface, also at a wall. A path ends on the level of the pad: towards lower
/// ground it goes on as it came, for a minute at most.
#[must_use]
pub fn rests_on(path: &Path, from_s: f64, surface_m: impl Fn([f64; 2]) -> f64) -> Knot {
    let knots = path.knots();
    let above = |knot: &Knot| knot.at_m[2] - surface_m([knot.at_m[0], knot.at_m[1]]);
    let end = path.end();
    let beyond = knots.len().checked_sub(2).map(|before| {
        let before = knots[before];
        let more = BEYOND_S / (end.t_s - before.t_s);
        Knot {
            t_s: end.t_s + BEYOND_S,
            at_m: core::array::from_fn(|axis| end.at_m[axis] + more * (end.at_m[axis] - before.at_m[axis])),
        }
    });
    let start = knots.partition_point(|knot| knot.t_s <= from_s);
    let mut here = Knot { t_s: from_s, at_m: path.at(from_s) };
    if above(&here) <= 0.0 {
        return here;
    }
    for next in knots[start..].iter().copied().chain(beyond) {
        let looks = looks_between(&here, &next);
        let mut before = here;
        for look in 1..=looks {
            let at = between(&here, &next, f64::from(look) / f64::from(looks));
            if above(&at) <= 0.0 {
                let (mut clear, mut touched) = (before, at);
                // To a millionth of the stretch: a wall has no slope for a faster search.
                for _ in 0..20 {
                    let middle = between(&clear, &touched, 0.5);
                    if above(&middle) <= 0.0 {
                        touched = middle;
                    } else {
                        clear = middle;
                    }
                }
                return touched;
            }
            before = at;
        }
        here = next;
    }
    end
}

fn looks_between(from: &Knot, to: &Knot) -> u32 {
    let apart_m = (to.at_m[0] - from.at_m[0]).hypot(to.at_m[1] - from.at_m[1]);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 1 and 1000")]
    let looks = (apart_m / LOOK_M).ceil().clamp(1.0, 1000.0) as u32;
    looks
}

fn between(from: &Knot, to: &Knot, share: f64) -> Knot {
    Knot {
        t_s: from.t_s + share * (to.t_s - from.t_s),
        at_m: core::array::from_fn(|axis| from.at_m[axis] + share * (to.at_m[axis] - from.at_m[axis])),
    }
}

/// How far an open parachute drags what hangs on it over hard ground, m in the direction of the wind.
///
/// # Units
/// `wind_mps`: at the canopy, a metre or so above the ground. `terminal_mps`: fall speed under the same canopy.
/// `friction`: force to slide over force to lift, 0.3 to 0.6 on mown grass or stubble (judgement). `lasts_s`: until
/// the canopy collapses or catches.
/// # Model
/// It touches down moving with the wind. The canopy stays open and pulls along the ground with the drag of its fall,
/// `m g ((w - v) / v_t)^2`, against `friction m g`; so it goes on for good where the wind is stronger than
/// `v_t sqrt(friction)`, and stops otherwise.
/// # Source
/// Derived: `w - v = V tanh(a t / V)` with `V = v_t sqrt(friction)`, `a = g friction`; the way is its integral. A test
/// holds it against small steps.
#[must_use]
pub fn dragged_m(wind_mps: f64, terminal_mps: f64, friction: f64, lasts_s: f64) -> f64 {
    let slip_mps = terminal_mps * friction.max(1e-9).sqrt();
    let slowing_mps2 = GRAVITY_MPS2 * friction.max(1e-9);
    let settles_s = slip_mps / slowing_mps2;
    let stops_s =
        if wind_mps < slip_mps { settles_s * (wind_mps.max(0.0) / slip_mps).atanh() } else { f64::INFINITY };
    let slides_s = stops_s.min(lasts_s.max(0.0));
    // ln cosh x without its overflow.
    let x = slides_s / settles_s;
    let ln_cosh = x + (-2.0 * x).exp().ln_1p() - core::f64::consts::LN_2;
    (wind_mps * slides_s - slip_mps * settles_s * ln_cosh).max(0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Down from 100 m at 5 m/s in a wind of 4 m/s towards east.
    fn drifting() -> Path {
        let mut path = Path::default();
        for second in 0..=20 {
            let t_s = f64::from(second);
            path.push(t_s, [4.0 * t_s, 0.0, 100.0 - 5.0 * t_s]);
        }
        path
    }

    fn close(ours: Knot, t_s: f64, at_m: [f64; 3]) {
        let apart =
            ours.at_m.iter().zip(at_m).map(|(a, b)| (a - b).abs()).fold((ours.t_s - t_s).abs(), f64::max);
        assert!(apart < 1e-3, "{ours:?}");
    }

    #[test]
    fn on_level_ground_it_rests_where_the_path_ends() {
        close(rests_on(&drifting(), 0.0, |_| 0.0), 20.0, [80.0, 0.0, 0.0]);
    }

    #[test]
    fn rising_ground_ends_the_flight_sooner_and_falling_ground_later() {
        // 100 - 5 t = 0.1 (4 t), and with the sign turned.
        let t_s = 100.0 / 5.4;
        close(rests_on(&drifting(), 0.0, |at| 0.1 * at[0]), t_s, [4.0 * t_s, 0.0, 0.4 * t_s]);
        let t_s = 100.0 / 4.6;
        close(rests_on(&drifting(), 0.0, |at| -0.1 * at[0]), t_s, [4.0 * t_s, 0.0, -0.4 * t_s]);
    }

    #[test]
    fn a_tree_holds_it_at_its_top_or_at_its_side() {
        let wood = |from_m: f64| {
            move |at: [f64; 2]| if (from_m..from_m + 30.0).contains(&at[0]) { 15.0 } else { 0.0 }
        };
        close(rests_on(&drifting(), 0.0, wood(50.0)), 17.0, [68.0, 0.0, 15.0]);
        // Below the tops when it comes to the edge, 72 m out.
        close(rests_on(&drifting(), 0.0, wood(72.0)), 18.0, [72.0, 0.0, 10.0]);
        // On the way up through it nothing is touched; only what comes down is asked for.
        let mut path = Path::default();
        for (t_s, at_m) in [(0.0, [0.0; 3]), (1.0, [0.0, 0.0, 100.0]), (21.0, [80.0, 0.0, 0.0])] {
            path.push(t_s, at_m);
        }
        close(rests_on(&path, 1.0, wood(-10.0)), 21.0, [80.0, 0.0, 0.0]);
        close(rests_on(&path, 0.0, wood(-10.0)), 0.0, [0.0; 3]);
    }

    #[test]
    fn a_house_narrower_than_the_path_between_two_points_is_not_flown_through() {
        let mut path = Path::default();
        path.push(0.0, [0.0, 0.0, 20.0]);
        path.push(10.0, [100.0, 0.0, 0.0]);
        let house = |at: [f64; 2]| if (60.0..66.0).contains(&at[0]) { 12.0 } else { 0.0 };
        close(rests_on(&path, 0.0, house), 6.0, [60.0, 0.0, 8.0]);
    }

    #[test]
    fn an_open_chute_drags_as_small_steps_say() {
        for (wind_mps, terminal, friction, lasts_s) in [
            (3.0, 4.5, 0.5, 60.0),
            (6.0, 4.5, 0.5, 20.0),
            (6.0, 4.5, 0.3, 1.0),
            (0.0, 4.5, 0.5, 9.0),
            (9.0, 3.0, 0.6, 40.0),
        ] {
            let (mut speed, mut way_m, h) = (wind_mps, 0.0, 1e-4);
            let mut t_s = 0.0;
            while t_s < lasts_s && speed > 0.0 {
                let slip: f64 = (wind_mps - speed) / terminal;
                let pull = slip * slip - friction;
                speed += h * GRAVITY_MPS2 * pull;
                way_m += h * speed.max(0.0);
                t_s += h;
            }
            let ours = dragged_m(wind_mps, terminal, friction, lasts_s);
            assert!((ours - way_m).abs() < 0.02, "{wind_mps} m/s: {ours} against {way_m}");
        }
    }
}
