//! Whether somebody has taken it since.

use crate::Priors;
use crate::reading::of_ten;
use windfall_facts::{Flight, Gone, PlaceKind, Sentence};

/// The largest area that is searched.
const SEARCHED: f64 = 0.9;
/// Below this chance it is not said: judgement.
const WORTH_SAYING: f64 = 0.05;

/// That what still lies out there may have been taken, so many days after the flight; none where nobody said who comes by
/// the place, or where it is hardly worth a word yet.
///
/// # Model
/// Each day takes the same share of what is still there: `1 - e^(-rate days)`, with a rate for each kind of place.
/// # Source
/// Rows `gone_...` of the table of priors: judgement.
#[must_use]
pub fn may_be_gone(flight: &Flight, days: usize, priors: &Priors) -> Option<Gone> {
    let place = flight.field.as_ref()?.place?;
    let rate = priors.a(match place {
        PlaceKind::ClubField => "gone_club_field",
        PlaceKind::Farmland => "gone_farmland",
        PlaceKind::PublicPlace => "gone_public_place",
    });
    let probability = -(-rate * days as f64).exp_m1();
    if probability < WORTH_SAYING {
        return None;
    }
    let (of_ten, count) = (of_ten(probability), days);
    let said = match place {
        PlaceKind::ClubField => Sentence::MayBeGoneFromAClubField { of_ten, count },
        PlaceKind::Farmland => Sentence::MayBeGoneFromFarmland { of_ten, count },
        PlaceKind::PublicPlace => Sentence::MayBeGoneFromAPublicPlace { of_ten, count },
    };
    let search_finds_at_most = SEARCHED * (1.0 - probability);
    Some(Gone { days, probability, search_finds_at_most, text: said.to_string(), said })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after(place: &str, days: usize) -> Option<Gone> {
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}}, "field": {{"place": {place}}},
                "rocket": {{"stages": [{{"motor": "C6-5"}}]}}}}"#
        );
        may_be_gone(&windfall_facts::read_flight(&text).unwrap(), days, &Priors::embedded())
    }

    #[test]
    fn three_days_in_a_public_place_take_two_of_ten() {
        let gone = after("\"public_place\"", 3).unwrap();
        assert!((gone.probability - (1.0 - (-0.21_f64).exp())).abs() < 1e-12, "{gone:?}");
        assert_eq!(gone.text, "It may be gone: after 3 days in a public place, about 2 of 10.");
        assert!((gone.search_finds_at_most - 0.9 * (-0.21_f64).exp()).abs() < 1e-12);
        assert!(after("\"public_place\"", 1).unwrap().text.contains("after 1 day in"));
    }

    #[test]
    fn it_grows_with_time_and_is_slower_where_fewer_come_by() {
        let at = |place: &str, days| after(place, days).map_or(0.0, |it| it.probability);
        for days in [5, 10, 100, 1000] {
            let all = [at("\"club_field\"", days), at("\"farmland\"", days), at("\"public_place\"", days)];
            assert!(all.is_sorted() && all[2] < 1.0 + 1e-12, "{all:?}");
            assert!(at("\"club_field\"", 2 * days) > all[0]);
        }
        assert!(after("\"public_place\"", 1000).unwrap().text.contains("9 of 10"));
    }

    #[test]
    fn nothing_is_said_on_the_day_itself_or_of_a_place_of_which_nobody_told() {
        assert_eq!(after("\"public_place\"", 0), None);
        assert_eq!(after("\"club_field\"", 1), None);
        assert_eq!(after("null", 30), None);
    }
}
