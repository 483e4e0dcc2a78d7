use super::{Learnable, Thing, Trait};
use windfall_facts::{Mode, Sentence};

/// Less of a change than this many percent nobody would notice.
const NOTICED: f64 = 2.0;

/// A sentence about a trait that `change` moves: the logarithm of a factor, or degrees. None if it moves it by nothing
/// that a flyer would notice.
///
/// `rocket`: how the flyer calls it.
pub(super) fn of_trait(
    learnable: &Learnable,
    rocket: Option<&str>,
    change: f64,
    count: usize,
) -> Option<Sentence> {
    let percent = |ln: f64| 100.0 * (ln.exp() - 1.0);
    let named = match &learnable.thing {
        Thing::Rocket(name, _) | Thing::Recovery(name, ..) => rocket.unwrap_or(name).to_owned(),
        Thing::Motor(name) | Thing::Phone(name) => name.clone(),
        Thing::Observer(_) | Thing::Site(_) => String::new(),
    };
    let from = Sentence::Flights { count }.inside();
    let signed = match learnable.what {
        // Speed goes with one over the root of the drag area.
        Trait::OpenDrag => percent(-0.5 * change),
        Trait::Mass | Trait::AscentDrag | Trait::Thrust => percent(change),
        Trait::Delay => 100.0 * change,
        Trait::Heading | Trait::Tilt => change,
        _ => return None,
    };
    let is_more = signed > 0.0;
    if let Trait::Heading | Trait::Tilt = learnable.what {
        let (phone, degrees) = (named, signed.abs());
        return (degrees >= 0.5).then_some(match (learnable.what, is_more) {
            (Trait::Heading, true) => Sentence::PointsTooFarRight { phone, heading_deg: degrees, from },
            (Trait::Heading, false) => Sentence::PointsTooFarLeft { phone, heading_deg: degrees, from },
            (_, true) => Sentence::PointsTooHigh { phone, tilt_deg: degrees, from },
            (_, false) => Sentence::PointsTooLow { phone, tilt_deg: degrees, from },
        });
    }
    let percent = signed.abs().round();
    let (rocket, motor) = (named.clone(), named);
    (percent >= NOTICED).then_some(match (learnable.what, is_more) {
        (Trait::OpenDrag, true) => Sentence::ComesDownFaster { rocket, percent, from },
        (Trait::OpenDrag, false) => Sentence::ComesDownSlower { rocket, percent, from },
        (Trait::Mass, true) => Sentence::WeighsMore { rocket, percent, from },
        (Trait::Mass, false) => Sentence::WeighsLess { rocket, percent, from },
        (Trait::AscentDrag, true) => Sentence::MeetsMoreDrag { rocket, percent, from },
        (Trait::AscentDrag, false) => Sentence::MeetsLessDrag { rocket, percent, from },
        (Trait::Thrust, true) => Sentence::PushesHarder { motor, percent, from },
        (Trait::Thrust, false) => Sentence::PushesLessHard { motor, percent, from },
        (_, true) => Sentence::LongerDelay { motor, percent, from },
        (_, false) => Sentence::ShorterDelay { motor, percent, from },
    })
}

/// How often the recovery device of `rocket` opens, if that is not what it usually is.
pub(super) fn of_modes(
    rocket: &str,
    chances: &[(Mode, f64)],
    table: &[(Mode, f64)],
    count: usize,
) -> Option<Sentence> {
    let opens = |rows: &[(Mode, f64)]| rows.iter().find(|row| row.0 == Mode::Opens).map_or(0.0, |row| row.1);
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "of twenty")]
    let [of_twenty, usual] = [opens(chances), opens(table)].map(|chance| (20.0 * chance).round() as usize);
    let (rocket, from) = (rocket.to_owned(), Sentence::Flights { count }.inside());
    (of_twenty.abs_diff(usual) >= 2).then_some(if of_twenty > usual {
        Sentence::OpensMoreOften { rocket, of_twenty, usual, from }
    } else {
        Sentence::OpensLessOften { rocket, of_twenty, usual, from }
    })
}
