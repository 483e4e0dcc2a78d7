//! A height read off an altimeter, held against what the rocket does on its motor.

use crate::Opening;
use serde::Serialize;

/// What may have gone wrong on the way from the display to the keypad.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Slip {
    /// A digit too many or too few.
    Tenfold,
    /// The other unit of length.
    Unit,
    /// Nothing simple: another flight, or an altimeter that is off.
    Unlike,
}

/// A reading and what was expected.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct HeightCheck {
    /// 19 of 20 rise higher than this, m above the pad.
    pub low_m: f64,
    /// 19 of 20 stay lower than this, m above the pad.
    pub high_m: f64,
    /// What looks wrong; null if nothing does.
    pub slip: Option<Slip>,
    /// What was probably meant, m above the pad.
    pub meant_m: Option<f64>,
}

/// Beyond the expected by this factor a reading is asked about: judgement.
const DOUBTFUL: f64 = 2.0;
/// Exact by definition.
const M_PER_FT: f64 = 0.3048;

/// Whether a height is believable, and if not, what was probably meant. It is only asked about, never refused.
#[must_use]
pub fn check_height(apogee_m: f64, expected: &Opening) -> HeightCheck {
    let (low_m, high_m) = (expected.apogee_low_m, expected.apogee_high_m);
    let fits = |height_m: f64| height_m > low_m / DOUBTFUL && height_m < high_m * DOUBTFUL;
    let ways =
        [(Slip::Tenfold, 0.1), (Slip::Tenfold, 10.0), (Slip::Unit, M_PER_FT), (Slip::Unit, 1.0 / M_PER_FT)];
    let simple = ways.into_iter().find(|(_, factor)| fits(factor * apogee_m));
    let (slip, meant_m) = match (fits(apogee_m), simple) {
        (true, _) => (None, None),
        (false, Some((slip, factor))) => (Some(slip), Some(factor * apogee_m)),
        (false, None) => (Some(Slip::Unlike), None),
    };
    HeightCheck { low_m, high_m, slip, meant_m }
}

#[cfg(test)]
mod tests {
    use super::*;

    const EXPECTED: Opening = Opening {
        expected_s: 7.0,
        latest_s: 9.0,
        down_unopened_s: 14.0,
        apogee_low_m: 150.0,
        apogee_high_m: 260.0,
    };

    #[test]
    fn a_digit_too_many_or_too_few_is_asked_about_with_what_was_meant() {
        assert_eq!(check_height(190.0, &EXPECTED).slip, None);
        for (read_m, slip, meant_m) in
            [(1900.0, Slip::Tenfold, 190.0), (19.0, Slip::Tenfold, 190.0), (650.0, Slip::Unit, 198.12)]
        {
            let check = check_height(read_m, &EXPECTED);
            assert_eq!(check.slip, Some(slip), "{read_m}");
            assert!((check.meant_m.unwrap() - meant_m).abs() < 0.01, "{check:?}");
        }
        let odd = check_height(0.0, &EXPECTED);
        assert!(odd.slip == Some(Slip::Unlike) && odd.meant_m.is_none());
    }
}
