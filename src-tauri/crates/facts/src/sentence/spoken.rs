//! Figures and sentences as they stand inside a sentence, in metres and English; and the macro that puts them there.

use super::Sentence;

/// What can fill a gap of a sentence. The name of the gap ends in the unit, as everywhere, and so says how it is spoken.
pub(super) trait Spoken {
    /// In English, in metric units.
    fn spoken(&self, name: &str) -> String;

    /// Whether there is more than one of it.
    fn is_many(&self) -> bool {
        false
    }
}

const COMPASS: [&str; 8] =
    ["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"];

/// Eight points of the compass, from a true direction in degrees.
fn compass(degrees: f64) -> &'static str {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "one of eight")]
    let index = ((degrees + 22.5).rem_euclid(360.0) / 45.0) as usize;
    COMPASS[index.min(7)]
}

/// As exact as a landing can be known.
fn rounded(metres: f64) -> f64 {
    let unit = if metres < 50.0 { 5.0 } else { 10.0 };
    (metres / unit).round() * unit
}

/// A chance in percent, never said more surely than it can be known.
#[must_use]
pub fn chance(probability: f64) -> String {
    match probability {
        p if p < 0.005 => "under 1 %".into(),
        p if p > 0.995 => "over 99 %".into(),
        p => format!("{:.0} %", p * 100.0),
    }
}

impl Spoken for f64 {
    fn spoken(&self, name: &str) -> String {
        let percent = 100.0 * self;
        match name {
            "compass_deg" => compass(*self).into(),
            "tilt_deg" => format!("{self:.1}"),
            "share_aloft" => format!("{percent:.1} %"),
            "percent" => format!("{self:.0} %"),
            _ if name.starts_with("p_") => chance(*self),
            _ if name.starts_with("share") => format!("{percent:.0} %"),
            _ if name.ends_with("_mps") => format!("{self:.0} m/s"),
            _ if name.ends_with("_m") => format!("{} m", rounded(*self)),
            _ if name.ends_with("_mm") => format!("{self} mm"),
            _ if name.ends_with("_s") => format!("{self:.0} s"),
            _ if name.ends_with("_deg") => format!("{self:.0}"),
            _ => self.to_string(),
        }
    }
}

impl Spoken for String {
    fn spoken(&self, name: &str) -> String {
        // A unit stands behind a number.
        let gap = if name == "unit" && !self.is_empty() && self != "%" { " " } else { "" };
        format!("{gap}{self}")
    }
}

impl Spoken for usize {
    fn spoken(&self, _: &str) -> String {
        self.to_string()
    }

    fn is_many(&self) -> bool {
        *self != 1
    }
}

impl Spoken for Vec<String> {
    fn spoken(&self, _: &str) -> String {
        self.join(", ")
    }
}

impl Spoken for Box<Sentence> {
    fn spoken(&self, _: &str) -> String {
        self.to_string()
    }
}

impl Spoken for Option<Box<Sentence>> {
    fn spoken(&self, _: &str) -> String {
        self.as_ref().map_or_else(String::new, |it| format!(" {it}"))
    }
}

impl Spoken for Vec<Sentence> {
    fn spoken(&self, _: &str) -> String {
        let all: Vec<String> = self.iter().map(ToString::to_string).collect();
        match all.split_last() {
            Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
            _ => all.concat(),
        }
    }
}

/// Declares every sentence with its figures and its English words, the one and, after a bar, the many. A gap without its
/// figure does not compile, nor does a figure without its gap.
macro_rules! sentences {
    ($( $name:ident { $($figure:ident : $of:ty),* } => $one:tt $(| $many:tt)? ; )*) => {
        /// What the core says to the flyer: which sentence, and its figures in SI units and degrees. Displayed, it is English
        /// and metric, for a terminal; a screen says the same in its own language and the flyer's units.
        #[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
        #[serde(tag = "say", rename_all = "snake_case")]
        #[cfg_attr(feature = "typescript", derive(ts_rs::TS))]
        #[expect(missing_docs, reason = "the words of a sentence say what it and its figures are")]
        pub enum Sentence {
            $( $name { $($figure: $of),* }, )*
        }

        impl fmt::Display for Sentence {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                match self {
                    $( Self::$name { $($figure),* } => {
                        $( let _is_many = $figure.is_many(); )*
                        $( let $figure = $figure.spoken(stringify!($figure)); )*
                        $( if _is_many { return write!(f, $many); } )?
                        write!(f, $one)
                    } )*
                }
            }
        }

        /// Name and English words of every sentence, the one and the many.
        #[cfg(any(test, feature = "typescript"))]
        pub(crate) const ENGLISH: &[(&str, &[&str])] = &[ $( (stringify!($name), &[$one $(, $many)?]), )* ];
    };
}
pub(super) use sentences;
