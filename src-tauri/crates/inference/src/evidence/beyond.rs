//! On which side of a landmark it was, along the line of sight.

use crate::Priors;
use crate::model::Model;
use windfall_facts::Sighting;
use windfall_quantities::Position;

/// Nearer to the eye than this a landmark has no two sides, m.
const NEAREST_M: f64 = 1.0;

/// "Behind that barn", "this side of the hedge": a limit along the line.
///
/// # Model
/// The chance of the word is logistic in how far along the line the body was, as wide as a landmark and a tap on the map
/// are. A word that is the wrong way round is one of several: it lowers the other side, and never rules it out.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beyond {
    eye_m: [f64; 3],
    /// Unit vector from the eye towards the landmark, over level ground.
    way: [f64; 2],
    distance_m: f64,
    width_m: f64,
    is_far: bool,
    p_wrong: f64,
}

impl Beyond {
    /// None if nobody said on which side, or of what.
    pub(super) fn of(it: &Sighting, eye_m: [f64; 3], model: &Model, priors: &Priors) -> Option<Self> {
        let (is_far, place) = (it.beyond?, it.in_line_with?);
        let mark = model.frame.offset_of(Position::new(place.lat, place.lon).ok()?);
        let (east, north) = (mark.east_m - eye_m[0], mark.north_m - eye_m[1]);
        let distance_m = east.hypot(north);
        (distance_m > NEAREST_M).then(|| Self {
            eye_m,
            way: [east / distance_m, north / distance_m],
            distance_m,
            width_m: priors.a("side_of_landmark_width"),
            is_far,
            p_wrong: priors.a("mistaken_side"),
        })
    }

    /// How far on the side that was said, over the width.
    pub(super) fn residual(&self, at_m: [f64; 3]) -> f64 {
        let along_m = self.way[0] * (at_m[0] - self.eye_m[0]) + self.way[1] * (at_m[1] - self.eye_m[1]);
        let past = (along_m - self.distance_m) / self.width_m;
        if self.is_far { past } else { -past }
    }

    /// Log of the chance of the word, for a body there.
    pub(super) fn ln_likelihood(&self, at_m: [f64; 3]) -> f64 {
        let right = 1.0 / (1.0 + (-self.residual(at_m)).exp());
        (self.p_wrong + (1.0 - 2.0 * self.p_wrong) * right).ln()
    }

    /// Log of its chance if the sighting is mistaken: either word, as likely.
    pub(super) const LN_WIDE: f64 = -core::f64::consts::LN_2;
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::cloud::Cloud;
    use crate::{Settings, locate};
    use windfall_facts::read_flight;

    /// A barn 200 m east of the eye.
    fn barn(is_far: bool) -> Beyond {
        let (way, distance_m) = ([1.0, 0.0], 200.0);
        Beyond { eye_m: [10.0, 0.0, 1.6], way, distance_m, width_m: 10.0, is_far, p_wrong: 0.1 }
    }

    #[test]
    fn at_the_landmark_either_word_is_as_likely_and_far_from_it_one_is_nine_times_as_likely() {
        for is_far in [false, true] {
            assert!((barn(is_far).ln_likelihood([210.0, 50.0, 0.0]) - 0.5_f64.ln()).abs() < 1e-12);
            // Thirty widths away the logistic is 1 to a part in 10^13.
            let (beyond, before) = ([510.0, -80.0, 3.0], [-90.0, 0.0, 90.0]);
            let (right, wrong) = if is_far { (beyond, before) } else { (before, beyond) };
            assert!((barn(is_far).ln_likelihood(right) - 0.9_f64.ln()).abs() < 1e-9);
            assert!((barn(is_far).ln_likelihood(wrong) - 0.1_f64.ln()).abs() < 1e-9);
        }
    }

    fn cloud(more: &str) -> Cloud {
        // 47.5 north: 0.002 degrees of longitude are 150.6 m on the ellipsoid. The landmark lies due east, downwind.
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}},
                "wind": [{{"speed_mps": 3, "from_deg": 270}}],
                "rocket": {{"stages": [{{"motor": "C6-5", "dry_mass_g": 60}}]}},
                "evidence": [{{"kind": "sighting", "moment": "landed", "method": "line",
                    "in_line_with": {{"lat": 47.5, "lon": 17.302}} {more}}}]}}"#
        );
        let flight = read_flight(&text).unwrap();
        locate(&flight, &Priors::embedded(), &Settings::default()).unwrap()
    }

    /// Share of the cloud that lies beyond a distance due east of the pad.
    fn beyond(cloud: &Cloud, east_m: f64) -> f64 {
        let total: f64 = cloud.draws.iter().map(|it| it.weight).sum();
        cloud.draws.iter().filter(|it| it.landing_m[0][0] > east_m).map(|it| it.weight).sum::<f64>() / total
    }

    #[test]
    fn the_far_side_and_this_side_cut_the_area_as_said_and_rule_nothing_out() {
        let [unsaid, far, near] = ["", r#", "beyond": true"#, r#", "beyond": false"#].map(cloud);
        let [unsaid, far, near] = [unsaid, far, near].map(|it| beyond(&it, 150.6));
        println!("beyond: {unsaid:.3} unsaid, {far:.3} said to be, {near:.3} said not to be");
        assert!((0.1..0.9).contains(&unsaid), "the landmark stands where the word matters: {unsaid}");
        // The words are nine to one where they are clear, less by what lies about the landmark itself.
        let odds = |p: f64| p / (1.0 - p);
        assert!((3.0..9.5).contains(&(odds(far) / odds(unsaid))), "{far} of {unsaid}");
        assert!((3.0..9.5).contains(&(odds(unsaid) / odds(near))), "{near} of {unsaid}");
    }
}
