//! Motor designations as people write them.

use crate::{Motor, Sentence};

/// Total impulse class of a model rocket motor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MotorClass {
    /// 1/8A
    EighthA,
    /// 1/4A
    QuarterA,
    /// 1/2A
    HalfA,
    /// A
    A,
    /// B
    B,
    /// C
    C,
    /// D
    D,
    /// E
    E,
    /// F
    F,
    /// G
    G,
}

impl MotorClass {
    /// All classes, smallest first.
    pub const ALL: [Self; 10] = [
        Self::EighthA,
        Self::QuarterA,
        Self::HalfA,
        Self::A,
        Self::B,
        Self::C,
        Self::D,
        Self::E,
        Self::F,
        Self::G,
    ];

    /// Least and greatest total impulse, newton seconds.
    ///
    /// # Source
    /// NFPA 1122, table of total impulse classes; the limits of 1/8A and 1/4A from memory.
    #[must_use]
    pub fn impulse_limits_ns(self) -> (f64, f64) {
        match self {
            Self::EighthA => (0.0, 0.3125),
            Self::QuarterA => (0.3126, 0.625),
            Self::HalfA => (0.626, 1.25),
            Self::A => (1.26, 2.5),
            Self::B => (2.51, 5.0),
            Self::C => (5.01, 10.0),
            Self::D => (10.01, 20.0),
            Self::E => (20.01, 40.0),
            Self::F => (40.01, 80.0),
            Self::G => (80.01, 160.0),
        }
    }

    /// As printed on a motor.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::EighthA => "1/8A",
            Self::QuarterA => "1/4A",
            Self::HalfA => "1/2A",
            Self::A => "A",
            Self::B => "B",
            Self::C => "C",
            Self::D => "D",
            Self::E => "E",
            Self::F => "F",
            Self::G => "G",
        }
    }
}

/// What follows the burn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Delay {
    /// Seconds from burnout to the ejection charge; zero for a booster motor.
    Seconds(f64),
    /// No ejection charge.
    Plugged,
}

/// What a designation says about a motor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Designation {
    /// Total impulse class.
    pub class: MotorClass,
    /// Mean thrust, newtons; a letter alone leaves it open.
    pub mean_thrust_n: Option<f64>,
    /// Delay; left open if not written.
    pub delay: Option<Delay>,
    /// Marked T: in a case of 13 mm. Common practice, no source.
    pub is_thin: bool,
}

/// Always the same spelling of the same motor, as `C6-5`, which reads back to it.
impl core::fmt::Display for Designation {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        f.write_str(self.class.name())?;
        if let Some(newtons) = self.mean_thrust_n {
            write!(f, "{newtons}")?;
        }
        match self.delay {
            Some(Delay::Seconds(seconds)) => write!(f, "-{seconds}")?,
            Some(Delay::Plugged) => f.write_str("-P")?,
            None => {}
        }
        if self.is_thin { f.write_str("T") } else { Ok(()) }
    }
}

/// A designation that cannot be read.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{written:?} is no motor designation: {reason}")]
pub struct NotADesignation {
    /// As written.
    pub written: String,
    /// What is wrong and what is allowed.
    pub reason: Sentence,
}

impl NotADesignation {
    /// As a sentence.
    #[must_use]
    pub fn said(&self) -> Sentence {
        Sentence::NoDesignation { written: self.written.clone(), reason: self.reason.clone().inside() }
    }
}

const MEAN_THRUST_N: core::ops::RangeInclusive<f64> = 0.5..=500.0;
const DELAY_S: core::ops::RangeInclusive<f64> = 0.0..=30.0;

impl Designation {
    /// Reads a designation as people write it: `C6-5`, `c6 5`, `1/2A3-4T`, `D12-0`, `C6-P`, `C6 plugged`, `C6`, `C`; with a maker's name
    /// before it, and with words after a comma that say that the delay is not known.
    ///
    /// # Errors
    /// When there is no class letter, a number is out of range, or something is left over.
    pub fn parse(written: &str) -> Result<Self, NotADesignation> {
        let refused = |reason: Sentence| NotADesignation { written: written.into(), reason };
        let text = tidy(written);
        let text = without_unknown(without_maker(&text));
        let (class, rest) = class_of(text).ok_or_else(|| refused(Sentence::ClassComesFirst {}))?;
        let (thrust, rest) = number(rest.trim_start());
        let mean_thrust_n = match thrust {
            None => None,
            Some(newtons) if MEAN_THRUST_N.contains(&newtons) => Some(newtons),
            Some(newtons) => return Err(refused(Sentence::ThrustOutOfRange { newtons })),
        };
        let (marks, rest) = letters(rest);
        let written_delay = rest.trim_start_matches([' ', '-', '/']);
        if mean_thrust_n.is_none() && !(marks.is_empty() && rest.is_empty()) {
            return Err(refused(Sentence::ThrustComesSecond {}));
        }
        let separated = written_delay.len() < rest.len();
        let delay = match (written_delay, number(written_delay)) {
            ("", _) if marks == "P" => Some(Delay::Plugged),
            ("" | "?", _) => None,
            ("P" | "PLUGGED" | "TAPONADO", _) if separated => Some(Delay::Plugged),
            (_, (Some(seconds), after)) if separated && letters(after).1.is_empty() => {
                if !DELAY_S.contains(&seconds) {
                    return Err(refused(Sentence::DelayOutOfRange { seconds }));
                }
                Some(Delay::Seconds(seconds))
            }
            _ => {
                return Err(refused(Sentence::DelayComesLast {}));
            }
        };
        let is_thin = marks == "T" || written_delay.ends_with('T');
        Ok(Self { class, mean_thrust_n, delay, is_thin })
    }
}

/// Upper case, plain hyphens and fractions, single spaces.
fn tidy(written: &str) -> String {
    let plain = written
        .replace('½', "1/2")
        .replace('¼', "1/4")
        .replace('⅛', "1/8")
        .replace(['\u{2010}', '\u{2011}', '\u{2012}', '\u{2013}', '\u{2014}', '\u{2212}', '_'], "-");
    plain.split_whitespace().collect::<Vec<_>>().join(" ").to_ascii_uppercase()
}

/// Words of letters alone before one with a digit are the name of a maker.
fn without_maker(text: &str) -> &str {
    let is_name = |word: &str| word.len() > 2 && word.chars().all(char::is_alphabetic);
    match text.split_once(' ') {
        Some((word, rest)) if is_name(word) && rest.contains(|it: char| it.is_ascii_digit()) => {
            without_maker(rest)
        }
        _ => text,
    }
}

/// After a comma or in brackets: that something is not known. Words that may mean another thing stay, and are refused.
fn without_unknown(text: &str) -> &str {
    const UNKNOWN: [&str; 5] = ["NOT KNOWN", "UNKNOWN", "DESCONOCID", "NO SE CONOCE", "NO SE SABE"];
    match text.split_once([',', '(']) {
        Some((motor, said)) if UNKNOWN.iter().any(|it| said.contains(it)) => motor.trim_end(),
        _ => text,
    }
}

fn class_of(text: &str) -> Option<(MotorClass, &str)> {
    MotorClass::ALL.into_iter().find_map(|class| {
        let (fraction, letter) = class.name().split_at(class.name().len() - 1);
        let rest = text.strip_prefix(fraction)?.trim_start().strip_prefix(letter)?;
        Some((class, rest))
    })
}

/// A decimal number at the front, and the rest.
fn number(text: &str) -> (Option<f64>, &str) {
    let end = text.find(|it: char| !(it.is_ascii_digit() || it == '.')).unwrap_or(text.len());
    match text[..end].parse() {
        Ok(value) => (Some(value), &text[end..]),
        Err(_) => (None, text),
    }
}

/// Makers' marks (T, W, J, FJ ...) at the front, and the rest.
fn letters(text: &str) -> (&str, &str) {
    let end = text.find(|it: char| !it.is_ascii_alphabetic()).unwrap_or(text.len()).min(3);
    text.split_at(end)
}

impl Motor {
    /// Its designation as written.
    #[must_use]
    pub fn designation(&self) -> &str {
        match self {
            Self::Designation(written) => written,
            Self::Known(data) => &data.designation,
        }
    }

    /// The spelling that all ways to write this motor share, as [`Designation`] has it; as written if it cannot be read.
    #[must_use]
    pub fn spelled(&self) -> String {
        let written = self.designation().trim();
        Designation::parse(written).map_or_else(|_| written.to_uppercase(), |it| it.to_string())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(written: &str) -> (MotorClass, Option<f64>, Option<Delay>) {
        let it = Designation::parse(written).unwrap();
        (it.class, it.mean_thrust_n, it.delay)
    }

    #[test]
    fn people_write_the_same_motor_in_many_ways() {
        for written in
            ["C6-5", "c6-5", "C6 5", "c6/5", " C6 - 5 ", "C 6-5", "C6–5", "C6-5W", "C6W-5", "C6_5", "C6-5.0"]
        {
            assert_eq!(read(written), (MotorClass::C, Some(6.0), Some(Delay::Seconds(5.0))), "{written}");
        }
    }

    #[test]
    fn all_spellings_of_a_motor_become_one_which_reads_back_to_it() {
        for (written, one) in [
            ("c6 5", "C6-5"),
            ("½a3 4t", "1/2A3-4T"),
            ("Quill C6, delay not known", "C6"),
            ("d12 plugged", "D12-P"),
            ("D12-0", "D12-0"),
            ("g", "G"),
            ("who knows", "WHO KNOWS"),
        ] {
            assert_eq!(Motor::Designation(written.into()).spelled(), one);
            assert_eq!(Motor::Designation(one.into()).spelled(), one);
        }
    }

    #[test]
    fn fractions_of_class_a_are_their_own_classes() {
        assert_eq!(read("1/2A3-4T"), (MotorClass::HalfA, Some(3.0), Some(Delay::Seconds(4.0))));
        assert_eq!(read("½a3 4t"), (MotorClass::HalfA, Some(3.0), Some(Delay::Seconds(4.0))));
        assert_eq!(read("1/4A3-3T"), (MotorClass::QuarterA, Some(3.0), Some(Delay::Seconds(3.0))));
        assert_eq!(read("1/8A"), (MotorClass::EighthA, None, None));
        assert_eq!(read("A3-4T"), (MotorClass::A, Some(3.0), Some(Delay::Seconds(4.0))));
    }

    #[test]
    fn a_zero_delay_is_a_booster_motor_and_p_is_plugged() {
        assert_eq!(read("D12-0"), (MotorClass::D, Some(12.0), Some(Delay::Seconds(0.0))));
        for written in
            ["D12-P", "d12 p", "D12P", "D12 plugged", "D12-Plugged", "Quill d12-plugged", "D12 taponado"]
        {
            assert_eq!(read(written), (MotorClass::D, Some(12.0), Some(Delay::Plugged)), "{written}");
        }
    }

    #[test]
    fn the_name_of_a_maker_is_passed_over_and_the_mark_of_a_thin_case_is_not() {
        assert_eq!(read("Quill C6-5"), (MotorClass::C, Some(6.0), Some(Delay::Seconds(5.0))));
        assert_eq!(
            read("Quill Brothers 1/2A3-4T"),
            (MotorClass::HalfA, Some(3.0), Some(Delay::Seconds(4.0)))
        );
        for (written, thin) in
            [("1/2A3-4T", true), ("A10T", true), ("A10T-3", true), ("C6-5W", false), ("A8-3", false)]
        {
            assert_eq!(Designation::parse(written).unwrap().is_thin, thin, "{written}");
        }
    }

    #[test]
    fn what_is_not_written_stays_open() {
        assert_eq!(read("C6"), (MotorClass::C, Some(6.0), None));
        assert_eq!(read("A10T"), (MotorClass::A, Some(10.0), None));
        for written in ["C6, delay not known", "c6 (delay unknown)", "C6, retardo desconocido"] {
            assert_eq!(read(written), (MotorClass::C, Some(6.0), None), "{written}");
        }
        assert_eq!(read("C6-?"), (MotorClass::C, Some(6.0), None));
        assert_eq!(read("g"), (MotorClass::G, None, None));
    }

    #[test]
    fn what_is_no_designation_is_refused_with_what_is_allowed() {
        for (written, hint) in [
            ("", "1/8A, 1/4A, 1/2A, A, B"),
            ("H128-6", "1/8A, 1/4A, 1/2A, A, B"),
            ("1/3A3-4", "1/8A, 1/4A, 1/2A, A, B"),
            ("6-5", "1/8A"),
            ("C-5", "mean thrust in newtons"),
            ("Cat", "mean thrust in newtons"),
            ("C0-5", "0.5 to 500 N"),
            ("C6-99", "0 to 30 s"),
            ("C6-5-7", "a delay in seconds or P"),
            ("C6.5.1-3", "mean thrust in newtons"),
            ("C6, no delay", "a delay in seconds or P"),
            ("C6-five", "a delay in seconds or P"),
        ] {
            let refusal = Designation::parse(written).unwrap_err().to_string();
            assert!(refusal.contains(hint), "{written}: {refusal}");
            assert!(refusal.contains(&format!("{written:?}")), "{refusal}");
        }
    }

    #[test]
    fn classes_join_without_a_gap_wider_than_the_last_printed_digit() {
        for pair in MotorClass::ALL.windows(2) {
            let gap_ns = pair[1].impulse_limits_ns().0 - pair[0].impulse_limits_ns().1;
            assert!(gap_ns > 0.0 && gap_ns < 0.011, "{pair:?}");
        }
    }
}
