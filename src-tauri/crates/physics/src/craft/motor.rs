/// How a motor burns: a thrust shape of mean one over a burn of given length.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Burn {
    shape: Vec<(f64, f64)>, // (share of the burn, thrust over mean thrust, share of impulse up to here follows)
    used: Vec<f64>,         // share of the impulse delivered up to each row
}

impl Burn {
    /// Constant thrust.
    #[must_use]
    pub fn constant() -> Self {
        Self::default()
    }

    /// The shape of a measured curve, and its impulse (N s) and length (s).
    ///
    /// Returns none for fewer than two rows, times that do not rise, or no impulse.
    #[must_use]
    pub fn of_curve(rows: &[[f64; 2]]) -> Option<(Self, f64, f64)> {
        let rising = rows.windows(2).all(|pair| pair[1][0] > pair[0][0]);
        let (first, last) = (rows.first()?, rows.last()?);
        let length_s = last[0] - first[0];
        let areas: Vec<f64> =
            rows.windows(2).map(|pair| (pair[1][0] - pair[0][0]) * (pair[0][1] + pair[1][1]) / 2.0).collect();
        let impulse_ns: f64 = areas.iter().sum();
        let sound = rising && length_s > 0.0 && impulse_ns > 0.0;
        if !sound {
            return None;
        }
        let mean_n = impulse_ns / length_s;
        let shape = rows.iter().map(|row| ((row[0] - first[0]) / length_s, row[1] / mean_n)).collect();
        let mut total = 0.0;
        let mut used = vec![0.0];
        for area in &areas {
            total += area / impulse_ns;
            used.push(total);
        }
        Some((Self { shape, used }, impulse_ns, length_s))
    }

    /// Thrust over mean thrust, and the share of the impulse delivered, at a share of the burn.
    #[inline]
    #[must_use]
    pub fn at(&self, share: f64) -> (f64, f64) {
        if !(0.0..1.0).contains(&share) {
            return (0.0, if share < 0.0 { 0.0 } else { 1.0 });
        }
        if self.shape.is_empty() {
            return (1.0, share);
        }
        let after = self.shape.partition_point(|row| row.0 <= share).clamp(1, self.shape.len() - 1);
        let (from, to) = (self.shape[after - 1], self.shape[after]);
        let within = (share - from.0) / (to.0 - from.0);
        let thrust = from.1 + within * (to.1 - from.1);
        (thrust, self.used[after - 1] + (share - from.0) * (from.1 + thrust) / 2.0)
    }
}

/// What a motor of a class commonly is, for a flyer who knows the letter only.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TypicalMotor {
    /// Mean thrust, N.
    pub mean_thrust_n: f64,
    /// Loaded mass, kg.
    pub loaded_mass_kg: f64,
    /// Propellant over impulse, kg per N s.
    pub propellant_kg_per_ns: f64,
    /// Delay from burnout to ejection, s.
    pub delay_s: f64,
    /// Dry mass of the rocket it commonly lifts, kg.
    pub rocket_mass_kg: f64,
    /// Body diameter of that rocket, m.
    pub rocket_diameter_m: f64,
}

/// A typical motor by the upper impulse limit of its class, N s.
///
/// # Source
/// From memory and common practice, no source. Black powder to class E delivers about 80 s of specific impulse,
/// composite F and G about 190 s.
#[must_use]
pub fn typical_motor(upper_impulse_ns: f64) -> TypicalMotor {
    let black = 1.0 / (80.0 * crate::GRAVITY_MPS2);
    let composite = 1.0 / (190.0 * crate::GRAVITY_MPS2);
    let (mean_thrust_n, loaded_g, propellant_kg_per_ns, delay_s, rocket_g, diameter_mm) =
        match upper_impulse_ns {
            i if i <= 0.3125 => (2.0, 4.0, black, 2.0, 12.0, 18.0),
            i if i <= 0.625 => (3.0, 6.0, black, 3.0, 15.0, 18.0),
            i if i <= 1.25 => (4.0, 7.0, black, 3.0, 20.0, 20.0),
            i if i <= 2.5 => (6.0, 15.0, black, 4.0, 35.0, 24.0),
            i if i <= 5.0 => (6.0, 18.0, black, 4.0, 50.0, 24.8),
            i if i <= 10.0 => (6.5, 24.0, black, 5.0, 60.0, 26.0),
            i if i <= 20.0 => (12.0, 43.0, black, 5.0, 110.0, 34.0),
            i if i <= 40.0 => (13.0, 60.0, black, 6.0, 180.0, 42.0),
            i if i <= 80.0 => (30.0, 75.0, composite, 7.0, 350.0, 54.0),
            _ => (60.0, 125.0, composite, 7.0, 600.0, 66.0),
        };
    TypicalMotor {
        mean_thrust_n,
        loaded_mass_kg: loaded_g / 1000.0,
        propellant_kg_per_ns,
        delay_s,
        rocket_mass_kg: rocket_g / 1000.0,
        rocket_diameter_m: diameter_mm / 1000.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_delivers_all_its_impulse_at_burnout() {
        let (burn, impulse_ns, length_s) =
            Burn::of_curve(&[[0.0, 0.0], [0.2, 14.0], [0.3, 5.0], [1.8, 5.0], [1.9, 0.0]]).unwrap();
        assert!((impulse_ns - (1.4 + 0.95 + 7.5 + 0.25)).abs() < 1e-9);
        assert!((length_s - 1.9).abs() < 1e-12);
        let (_, used) = burn.at(1.0 - 1e-12);
        assert!((used - 1.0).abs() < 1e-6);
        assert!(Burn::of_curve(&[[0.0, 1.0], [0.0, 1.0]]).is_none());
    }
}
