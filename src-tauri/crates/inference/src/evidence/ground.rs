//! A part found, and ground known to hold it or not.

use super::Target;
use crate::Priors;
use crate::ground::polygons;
use crate::model::{Drift, Model, Row, Story};
use crate::normal::ln_normal;
use geo::{Contains, MultiPolygon, Point};
use windfall_facts::{Area, Find};
use windfall_quantities::Position;

/// A part found.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Found {
    pub(crate) target: Target,
    pub(crate) at_m: [f64; 2],
    pub(crate) sigma_m: f64,
}

impl Found {
    /// A find that is mistaken (another rocket's part, a wrong fix) lies anywhere within a kilometre.
    pub(super) const LN_WIDE: f64 = -14.960_240_443_813_674; // -ln(PI x 1000^2)

    pub(super) fn of(it: &Find, target: Target, model: &Model, priors: &Priors) -> Self {
        let offset =
            Position::new(it.at.lat, it.at.lon).map(|place| model.frame.offset_of(place)).unwrap_or_default();
        // A 68 % radius is 1.51 standard deviations of each axis: sqrt(-2 ln 0.32). The model itself is not better
        // than a pace or two: things bounce.
        let radius_m = it.accuracy_m.unwrap_or_else(|| priors.b("position_accuracy_default"));
        let sigma_m = (radius_m / 1.51).hypot(2.0).hypot(model.pad_sigma_m);
        Self { target, at_m: [offset.east_m, offset.north_m], sigma_m }
    }

    /// Takes the find into the linear block, about its present mean; returns as a sighting does.
    pub(super) fn take_into(&self, drift: &mut Drift, story: &Story) -> Option<f64> {
        let body = self.target.body(story);
        let (landing_m, x) = (story.landing_towards(body, self.at_m), drift.mean().to_vec());
        for (axis, landing_m) in landing_m.into_iter().enumerate() {
            let mut row = Row::new(self.sigma_m);
            if let Some((node, farther)) = story.landing_node(body) {
                row.depends(3 * node + axis, 1.0);
                row.depends(3 * node + 2, farther[axis]);
            }
            drift.take(&row.with_residual(self.at_m[axis] - landing_m, &x));
        }
        Some(0.0)
    }

    pub(super) fn ln_likelihood(&self, story: &Story) -> f64 {
        let [east, north] = story.landing_m(self.target.body(story));
        ln_normal(self.at_m[0] - east, self.sigma_m) + ln_normal(self.at_m[1] - north, self.sigma_m)
    }
}

/// "In that field", "not behind the barn".
#[derive(Clone, Debug)]
pub(super) struct Ground {
    target: Target,
    polygons: MultiPolygon,
    inside: bool,
    confidence: f64,
}

impl Ground {
    pub(super) fn of(it: &Area, target: Target, model: &Model) -> Option<Self> {
        let polygons = polygons(&it.geometry, &model.frame)?;
        Some(Self { target, polygons, inside: it.inside, confidence: it.confidence.clamp(0.01, 0.99) })
    }

    /// The landing, in units of a size that an edge may cut.
    pub(super) fn residuals(&self, story: &Story) -> [f64; 2] {
        const EDGE_M: f64 = 30.0;
        story.landing_m(self.target.body(story)).map(|m| m / EDGE_M)
    }

    /// Whether this possible flight landed on the wrong side.
    pub(super) fn denies(&self, story: &Story) -> bool {
        let [east, north] = story.landing_m(self.target.body(story));
        self.polygons.contains(&Point::new(east, north)) != self.inside
    }

    pub(super) fn ln_likelihood(&self, story: &Story) -> f64 {
        if self.denies(story) { (1.0 - self.confidence).ln() } else { self.confidence.ln() }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use core::f64::consts::PI;

    #[test]
    fn a_mistaken_find_is_spread_over_a_disc_of_one_kilometre() {
        assert!((Found::LN_WIDE + (PI * 1e6).ln()).abs() < 1e-9);
    }
}
