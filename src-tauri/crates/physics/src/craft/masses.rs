/// What a motor of one impulse class and diameter commonly weighs.
///
/// # Source
/// From memory and common practice, no source: rounded, of no one make, for a flyer who cannot weigh. A test holds
/// the propellant against the impulse of its class.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TypicalMasses {
    /// Upper impulse limit of the class, N s.
    pub upper_impulse_ns: f64,
    /// Outer diameter, m.
    pub diameter_m: f64,
    /// With propellant, delay and ejection charge, kg.
    pub loaded_kg: f64,
    /// Propellant, kg.
    pub propellant_kg: f64,
    /// Whether the propellant is a composite; black powder otherwise.
    pub composite: bool,
}

const fn black(upper_impulse_ns: f64, diameter_mm: f64, loaded_g: f64, propellant_g: f64) -> TypicalMasses {
    TypicalMasses {
        upper_impulse_ns,
        diameter_m: diameter_mm / 1000.0,
        loaded_kg: loaded_g / 1000.0,
        propellant_kg: propellant_g / 1000.0,
        composite: false,
    }
}

const fn composite(
    upper_impulse_ns: f64,
    diameter_mm: f64,
    loaded_g: f64,
    propellant_g: f64,
) -> TypicalMasses {
    TypicalMasses { composite: true, ..black(upper_impulse_ns, diameter_mm, loaded_g, propellant_g) }
}

/// By class, then by diameter.
pub const TYPICAL_MASSES: [TypicalMasses; 15] = [
    black(0.3125, 10.5, 4.0, 0.35),
    black(0.625, 13.0, 6.0, 0.75),
    black(1.25, 13.0, 6.8, 1.5),
    black(1.25, 18.0, 15.0, 1.5),
    black(2.5, 13.0, 8.0, 3.1),
    black(2.5, 18.0, 16.0, 3.1),
    black(5.0, 18.0, 18.5, 6.0),
    black(10.0, 18.0, 24.0, 11.0),
    black(10.0, 24.0, 34.0, 11.0),
    black(20.0, 24.0, 43.0, 21.0),
    black(40.0, 24.0, 57.0, 35.0),
    composite(80.0, 24.0, 55.0, 27.0),
    black(80.0, 29.0, 102.0, 60.0),
    composite(80.0, 29.0, 80.0, 32.0),
    composite(160.0, 29.0, 125.0, 62.0),
];

/// Typical masses of a class in a diameter.
///
/// # Units
/// `upper_impulse_ns`: upper limit of the class, N s; `diameter_m`: met within 1 mm.
///
/// None where the table has no such motor. Where it has one of each propellant, the composite: the commoner one.
#[must_use]
pub fn typical_masses(upper_impulse_ns: f64, diameter_m: f64) -> Option<TypicalMasses> {
    let mut fitting = TYPICAL_MASSES.into_iter().filter(|it| {
        // A limit is a short decimal: a millionth of it is as good as equal.
        (it.upper_impulse_ns / upper_impulse_ns - 1.0).abs() < 1e-6
            && (it.diameter_m - diameter_m).abs() <= 0.001
    });
    let first = fitting.next();
    fitting.find(|it| it.composite).or(first)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::craft::typical_motor;

    #[test]
    fn the_propellant_of_each_typical_motor_delivers_an_impulse_of_its_class() {
        // Specific impulse of black powder near 80 s, of composites near 190 s: from memory, no source.
        for masses in TYPICAL_MASSES {
            let specific_s = if masses.composite { 190.0 } else { 80.0 };
            let delivered_ns = masses.propellant_kg * specific_s * crate::GRAVITY_MPS2;
            let upper_ns = masses.upper_impulse_ns;
            assert!(delivered_ns <= upper_ns && delivered_ns > upper_ns / 2.0, "{masses:?}: {delivered_ns}");
            assert!(masses.propellant_kg < 0.65 * masses.loaded_kg, "{masses:?}");
        }
    }

    #[test]
    fn what_the_letter_alone_says_lies_among_the_motors_of_its_class() {
        for masses in TYPICAL_MASSES {
            let of_class = || {
                TYPICAL_MASSES
                    .iter()
                    .filter(|it| it.upper_impulse_ns.total_cmp(&masses.upper_impulse_ns).is_eq())
            };
            let least_kg = of_class().map(|it| it.loaded_kg).fold(f64::INFINITY, f64::min);
            let most_kg = of_class().map(|it| it.loaded_kg).fold(0.0, f64::max);
            let letter_kg = typical_motor(masses.upper_impulse_ns).loaded_mass_kg;
            assert!((0.9 * least_kg..=1.1 * most_kg).contains(&letter_kg), "{masses:?} {letter_kg}");
        }
    }

    #[test]
    fn a_motor_is_found_by_its_class_and_diameter() {
        for masses in TYPICAL_MASSES {
            let found = typical_masses(masses.upper_impulse_ns, masses.diameter_m + 0.0005).unwrap();
            assert!((found.diameter_m - masses.diameter_m).abs() < 1e-9);
        }
        assert!(typical_masses(80.0, 0.029).unwrap().composite);
        assert!(typical_masses(10.0, 0.038).is_none() && typical_masses(7.0, 0.018).is_none());
        assert!(typical_masses(f64::NAN, 0.018).is_none());
    }
}
