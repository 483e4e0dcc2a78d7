//! The answer in words, for reading in the sun: cautions first, then where to start.

use std::fmt::Write;
use windfall_api::Located;
use windfall_facts::{Evidence, Flight, HazardKind, LatLon, Mode, ModeAnswer, PartAnswer, Region, chance};

/// Columns of a narrow terminal.
const WIDTH: usize = 78;

/// Chances below this are summed up.
const WORTH_A_LINE: f64 = 0.02;

/// In which units lengths and areas are said.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Units {
    /// Metres, square metres and hectares.
    Metric,
    /// Yards, miles and acres.
    Imperial,
}

const METRES_PER_YARD: f64 = 0.9144; // exact by definition (international yard, 1959)
const YARDS_PER_MILE: f64 = 1760.0;
const SQUARE_YARDS_PER_ACRE: f64 = 4840.0;

impl Units {
    /// A distance to walk: as precise as a flyer can pace it.
    pub(crate) fn length(self, metres: f64) -> String {
        match self {
            Self::Metric if metres < 1000.0 => format!("{} m", paced(metres)),
            Self::Metric => format!("{:.2} km", metres / 1000.0),
            Self::Imperial => match metres / METRES_PER_YARD {
                yards if yards < YARDS_PER_MILE => format!("{} yd", paced(yards)),
                yards => format!("{:.2} mi", yards / YARDS_PER_MILE),
            },
        }
    }

    fn area(self, square_metres: f64) -> String {
        let ground = match self {
            Self::Metric if square_metres < 10_000.0 => format!("{} m²", two_figures(square_metres)),
            Self::Metric => format!("{} ha", two_figures(square_metres / 10_000.0)),
            Self::Imperial => match square_metres / METRES_PER_YARD.powi(2) {
                small if small < SQUARE_YARDS_PER_ACRE => format!("{} sq yd", two_figures(small)),
                large => format!("{} acres", two_figures(large / SQUARE_YARDS_PER_ACRE)),
            },
        };
        match likeness(square_metres) {
            Some(likeness) => format!("{ground} ({likeness})"),
            None => ground,
        }
    }
}

/// Whole steps up to 100, tens beyond.
fn paced(length: f64) -> String {
    if length < 100.0 { format!("{length:.0}") } else { format!("{:.0}", (length / 10.0).round() * 10.0) }
}

fn two_figures(number: f64) -> String {
    if number <= 0.0 {
        return "0".into();
    }
    let step = 10_f64.powf(number.log10().floor() - 1.0);
    let rounded = (number / step).round() * step;
    if rounded < 10.0 { format!("{rounded:.1}") } else { format!("{rounded:.0}") }
}

/// Something everyone has walked on, if the area is a whole number of it to one part in eight.
fn likeness(square_metres: f64) -> Option<String> {
    // From memory: ITF doubles court 23.77 m x 10.97 m; the pitch that UEFA and FIFA use for finals, 105 m x 68 m.
    let things = [("tennis court", 23.77 * 10.97, 12.0), ("football pitch", 105.0 * 68.0, 12.0)];
    things.into_iter().find_map(|(thing, size_m2, most)| {
        let count = (square_metres / size_m2).round();
        let is_honest =
            (1.0..=most).contains(&count) && (square_metres / (count * size_m2) - 1.0).abs() < 0.125;
        let plural = if thing.ends_with('h') { "es" } else { "s" };
        is_honest.then(|| match count {
            count if count < 1.5 => format!("about a {thing}"),
            count => format!("about {count:.0} {thing}{plural}"),
        })
    })
}

/// Three figures, as a compass shows them.
pub(crate) fn bearing(degrees: f64) -> String {
    format!("{:03.0}°", degrees.rem_euclid(360.0).round() % 360.0)
}

fn walk(seconds: f64) -> String {
    match (seconds / 60.0).ceil().max(1.0) {
        minutes if minutes <= 90.0 => format!("{minutes:.0} min"),
        minutes => format!("{:.1} h", minutes / 60.0),
    }
}

fn place(at: LatLon) -> String {
    format!("{:.5}, {:.5}", at.lat, at.lon)
}

/// How it came down.
pub(crate) fn mode(mode: Mode) -> &'static str {
    match mode {
        Mode::Opens => "opened as planned",
        Mode::OpensLate => "opened late",
        Mode::Tangled => "came out tangled",
        Mode::NoneOpened => "nothing opened, fell straight",
        Mode::CameApart => "came apart",
        Mode::CordBroke => "cord broke, body fell by itself",
        Mode::MotorKickedOut => "motor kicked out instead",
        Mode::SecondStageUnlit => "second stage did not light",
        Mode::Unmodelled => "something else",
    }
}

/// What a hazard is.
pub(crate) fn hazard(kind: HazardKind) -> &'static str {
    match kind {
        HazardKind::Road => "road",
        HazardKind::Railway => "railway",
        HazardKind::PowerLine => "power line",
        HazardKind::Water => "water",
        HazardKind::Trees => "trees",
        HazardKind::Buildings => "buildings",
        HazardKind::Crop => "crop",
        HazardKind::Livestock => "animals",
        HazardKind::PrivateLand => "private land",
        HazardKind::Other => "hazard",
    }
}

/// Whether the flight says where this part was found.
pub(crate) fn is_found(flight: &Flight, part: &PartAnswer) -> bool {
    let index = flight.part_index_for(Some(&part.part));
    flight.evidence.iter().any(|piece| match piece {
        Evidence::Find(find) => !find.set_aside && flight.part_index_for(Some(&find.part)) == index,
        _ => false,
    })
}

/// Parts that most likely lie together, so that they are said and drawn once; the missing ones first.
pub(crate) fn together<'a>(flight: &Flight, parts: &'a [PartAnswer]) -> Vec<Vec<&'a PartAnswer>> {
    let mut groups: Vec<Vec<&'a PartAnswer>> = Vec::new();
    for part in parts {
        let is_near = |other: &PartAnswer| {
            let metres_per_degree = 111_200.0; // near enough to tell ten metres
            let east = (part.aim.lon - other.aim.lon) * part.aim.lat.to_radians().cos();
            (part.aim.lat - other.aim.lat).hypot(east) * metres_per_degree < 10.0
        };
        let group = groups.iter_mut().find(|group| {
            group.first().is_some_and(|first| {
                is_near(first)
                    && first.p_apart < 0.2
                    && part.p_apart < 0.2
                    && is_found(flight, first) == is_found(flight, part)
            })
        });
        match group {
            Some(group) => group.push(part),
            None => groups.push(vec![part]),
        }
    }
    groups.sort_by_key(|group| group.first().is_some_and(|part| is_found(flight, part)));
    groups
}

/// "upper and lower"
pub(crate) fn names(group: &[&PartAnswer]) -> String {
    let names: Vec<&str> = group.iter().map(|part| part.part.as_str()).collect();
    match names.as_slice() {
        [rest @ .., last] if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        names => names.concat(),
    }
}

/// The answer for people.
pub(crate) fn answer(located: &Located, units: Units) -> String {
    let Located { flight, answer } = located;
    let mut text = String::new();
    let title = [flight.title.as_deref(), flight.rocket.name.as_deref(), flight.id.as_deref()];
    let title = title.into_iter().flatten().next().unwrap_or("A flight");
    say(&mut text, "", "", title);
    if !answer.cautions.is_empty() {
        text.push('\n');
    }
    for caution in &answer.cautions {
        say(&mut text, "! ", "  ", caution);
    }
    for group in together(flight, &answer.parts) {
        if let Some(part) = group.first() {
            if is_found(flight, part) {
                let found = format!("{}: found at {}.", names(&group).to_uppercase(), place(part.aim));
                text.push('\n');
                say(&mut text, "", "    ", &found);
            } else {
                part_in_words(&mut text, &names(&group), part, group.len() > 1, units);
            }
        }
    }
    text.push('\n');
    if let Some(gone) = &answer.gone {
        say(&mut text, "", "  ", &gone.text);
        let most = chance(gone.search_finds_at_most);
        say(
            &mut text,
            "",
            "  ",
            &format!("Even a search of the whole 90 % area finds it in {most} of cases at most."),
        );
    }
    say(&mut text, "Why there: ", "  ", &answer.why);
    for surprise in &answer.surprises {
        let words = format!("{} ({} that it is mistaken)", surprise.text, chance(surprise.p_mistaken));
        say(&mut text, "Looks odd: ", "  ", &words);
    }
    if let Some(fact) = &answer.would_help {
        say(&mut text, "Would help most: ", "  ", fact);
    }
    for belief in &answer.beliefs {
        say(&mut text, "Learned: ", "  ", belief);
    }
    for warning in &answer.warnings {
        say(&mut text, "Note: ", "  ", warning);
    }
    text.trim_end().to_owned()
}

fn part_in_words(text: &mut String, name: &str, part: &PartAnswer, is_group: bool, units: Units) {
    text.push('\n');
    let _ = writeln!(text, "{}", name.to_uppercase());
    if let Some(rough) = &part.rough {
        say(text, "  ", "    ", &format!("{} {}", rough.why, rough.next));
    }
    if let Some(stay) = &part.stay {
        say(text, "  ! ", "    ", &format!("Do not set out yet. {stay}"));
    }
    let start = format!(
        "Start here: walk {} at {} on the compass ({} true), about {}.",
        units.length(part.distance_m),
        bearing(part.bearing_magnetic_deg),
        bearing(part.bearing_true_deg),
        walk(part.walk_s),
    );
    say(text, "  ", "    ", &start);
    let from_pad = units.length(part.distance_from_pad_m);
    let mut spot = place(part.aim);
    if (part.distance_from_pad_m - part.distance_m).abs() >= 1.0 {
        let _ = write!(spot, " ({from_pad} from the pad)");
    }
    say(text, "  ", "    ", &format!("That is {spot}."));
    if let Some(caution) = &part.approach.caution {
        let stand = place(LatLon { lat: part.approach.lat, lon: part.approach.lon });
        say(text, "  ! ", "    ", &format!("Stop first at {stand}: {caution}"));
    }
    if let Some(areas) = areas(&part.regions, units) {
        say(text, "  ", "    ", &areas);
    }
    say(text, "  ", "    ", &format!("How it came down: {}.", modes(&part.modes)));
    if is_group {
        say(text, "  ", "    ", &format!("Chance that they lie apart: {}.", chance(part.p_apart)));
    } else if part.p_apart >= WORTH_A_LINE && part.p_apart < 0.995 {
        say(text, "  ", "    ", &format!("Chance that it fell by itself: {}.", chance(part.p_apart)));
    }
    let hazards: Vec<String> = part
        .hazards
        .iter()
        .filter(|hazard| hazard.probability >= 0.005)
        .map(|it| {
            let kind = hazard(it.kind);
            let name = it.name.as_ref().map_or_else(|| kind.into(), |name| format!("{name}, {kind}"));
            format!("{name} ({})", chance(it.probability))
        })
        .collect();
    for words in &part.rests.text {
        say(text, "  ", "    ", words);
    }
    if let Some(inside) = part.in_field {
        say(text, "  ", "    ", &format!("Inside the field: {}.", chance(inside)));
    }
    if !hazards.is_empty() {
        say(text, "  ! ", "    ", &format!("May be on or near: {}.", hazards.join("; ")));
    }
}

fn areas(regions: &[Region], units: Units) -> Option<String> {
    let mut sizes = regions.iter().map(|region| {
        let inside = chance(region.probability);
        format!("{inside} inside {}", units.area(region.area_m2))
    });
    sizes
        .next()
        .map(|first| sizes.fold(format!("Chances: {first}"), |said, next| format!("{said}; {next}")) + ".")
}

fn modes(modes: &[ModeAnswer]) -> String {
    let (likely, rare): (Vec<_>, Vec<_>) = modes.iter().partition(|mode| mode.probability >= WORTH_A_LINE);
    let mut said: Vec<String> =
        likely.iter().map(|it| format!("{} ({})", mode(it.mode), chance(it.probability))).collect();
    let rest: f64 = rare.iter().map(|mode| mode.probability).sum();
    if rest >= 0.005 {
        said.push(format!("otherwise ({})", chance(rest)));
    }
    said.join(", ")
}

fn say(text: &mut String, first: &str, then: &str, words: &str) {
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(first)
        .subsequent_indent(then)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(false);
    let words = words.replace(" %", "\u{a0}%"); // a number and its sign stay on one line
    let _ = writeln!(text, "{}", textwrap::fill(&words, options));
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Without line breaks, and every figure a 0: figures may stray with the draws, words may not.
    fn words_of(text: &str) -> String {
        let mut words = String::new();
        for letter in text.split_whitespace().collect::<Vec<_>>().join(" ").replace('\u{a0}', " ").chars() {
            match letter {
                '0'..='9' if words.ends_with('0') => {}
                '0'..='9' => words.push('0'),
                other => words.push(other),
            }
        }
        words
    }

    #[test]
    fn the_terminal_says_what_the_readme_shows() {
        let readme = include_str!("../../../../README.md");
        let shown = readme.split("```").find(|it| it.trim().starts_with("Heron, last seen")).unwrap();
        let flight = include_str!("../../../../sample-data/flights/heron-lost.json");
        let how = windfall_api::LocateText { id: None, from: None, samples: None, on: None };
        let located =
            windfall_api::Api::new(windfall_api::Settings::default()).locate_text(flight, &how).unwrap();
        assert_eq!(words_of(&answer(&located, Units::Metric)), words_of(shown));
    }

    #[test]
    fn a_bearing_has_three_figures_and_never_reads_360() {
        assert_eq!(bearing(7.4), "007°");
        assert_eq!(bearing(359.7), "000°");
    }

    #[test]
    fn lengths_are_said_as_they_are_paced() {
        assert_eq!(Units::Metric.length(47.4), "47 m");
        assert_eq!(Units::Metric.length(214.0), "210 m");
        assert_eq!(Units::Metric.length(1234.0), "1.23 km");
        // 200 yd = 182.88 m and 1 mi = 1609.344 m exactly (international yard and pound agreement, 1959).
        assert_eq!(Units::Imperial.length(182.88), "200 yd");
        assert_eq!(Units::Imperial.length(1609.344), "1.00 mi");
    }

    #[test]
    fn an_area_is_likened_only_to_what_it_is_like() {
        assert_eq!(Units::Metric.area(270.0), "270 m² (about a tennis court)");
        assert_eq!(Units::Metric.area(390.0), "390 m²"); // one and a half courts are neither one nor two
        assert_eq!(Units::Metric.area(14_300.0), "1.4 ha (about 2 football pitches)");
        // An acre is 4046.8564224 m2 exactly.
        assert_eq!(Units::Imperial.area(404_685.642_24), "100 acres");
    }
}
