//! From text to a flight: exact about where it went wrong and what is allowed there.

use crate::check::consistent;
use crate::once::Once;
use crate::ranges::within_ranges;
use crate::{CanopyShape, Evidence, Figure, Flight, Motor, Recovery, Sentence, geometry};
use serde::Deserialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// What the key `format` of a flight file says.
pub const FORMAT: &str = "windfall-flight/1";

const TEXT_BYTES: usize = 4 * 1024 * 1024;
const WIND_ROWS: usize = 64;
const EVIDENCE_PIECES: usize = 2_000;
const HAZARDS: usize = 500;
const VERTICES: usize = 20_000;
const SAMPLES: usize = 100_000;
const THRUST_POINTS: usize = 2_000;

/// A flight file that cannot be used: which field, and what is allowed there.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("{field}: {message}")]
pub struct FlightError {
    /// The field, as in `rocket.stages[0].dry_mass_g`.
    pub field: String,
    /// What is wrong and what is allowed.
    pub message: String,
    /// The same as a sentence, if a screen can be the cause.
    pub said: Option<Box<Sentence>>,
}

impl FlightError {
    /// In words that only the terminal's language has; the whole file without a field.
    pub fn new(field: &str, message: impl Into<String>) -> Self {
        let field = if field.is_empty() { "file" } else { field };
        Self { field: field.into(), message: message.into(), said: None }
    }

    pub(crate) fn said(field: &str, why: Sentence) -> Self {
        Self::new(field, why.to_string()).saying(why)
    }

    /// Says it to the flyer in other words than to who wrote a file.
    pub(crate) fn saying(self, why: Sentence) -> Self {
        Self { said: Some(why.inside()), ..self }
    }

    pub(crate) fn unknown_key(field: &str, key: &str, allowed: &[&str]) -> Self {
        let said = match nearest(key, allowed) {
            Some(near) => Sentence::UnknownKeyNear { near: near.into() },
            None => Sentence::UnknownKeyOf { allowed: listed(allowed) },
        };
        Self::new(field, format!("unknown key; {}", advice(key, allowed))).saying(said)
    }

    pub(crate) fn unknown_word(field: &str, word: &str, allowed: &[&str]) -> Self {
        let advice = match nearest(word, allowed) {
            Some(near) => format!("did you mean {near}? allowed: {}", allowed.join(", ")),
            None => advice(word, allowed),
        };
        let said = match nearest(word, allowed) {
            Some(near) => {
                Sentence::UnknownWordNear { word: word.into(), near: near.into(), allowed: listed(allowed) }
            }
            None => Sentence::OneOfThese { written: word.into(), allowed: listed(allowed) },
        };
        Self::new(field, format!("unknown word {word:?}; {advice}")).saying(said)
    }
}

fn listed(allowed: &[&str]) -> String {
    if allowed.is_empty() { "-".into() } else { allowed.join(", ") }
}

fn advice(written: &str, allowed: &[&str]) -> String {
    match nearest(written, allowed) {
        Some(near) => format!("did you mean {near}?"),
        None if allowed.is_empty() => "none is allowed here".into(),
        None => format!("allowed: {}", allowed.join(", ")),
    }
}

/// The allowed word that looks most like what was written, if any does.
pub(crate) fn nearest<'a>(written: &str, allowed: &[&'a str]) -> Option<&'a str> {
    let likeness =
        |word: &str| strsim::normalized_damerau_levenshtein(&written.to_lowercase(), &word.to_lowercase());
    let best = allowed.iter().copied().max_by(|a, b| likeness(a).total_cmp(&likeness(b)))?;
    (likeness(best) >= 0.6).then_some(best)
}

/// `key` inside `field`.
pub(crate) fn join(field: &str, key: &str) -> String {
    match (field, key) {
        ("", key) => key.into(),
        (field, "") => field.into(),
        (field, key) if key.starts_with('[') => format!("{field}{key}"),
        (field, key) => format!("{field}.{key}"),
    }
}

/// Reads and checks a flight file.
///
/// # Errors
/// The first thing that is not as the format says: too large, no JSON, an unknown key, a wrong type, a number
/// out of range, or facts that contradict each other.
pub fn read_flight(text: &str) -> Result<Flight, FlightError> {
    if text.len() > TEXT_BYTES {
        return Err(FlightError::new("file", format!("{} bytes: allowed are {TEXT_BYTES}", text.len())));
    }
    let Once(mut file) = serde_json::from_str(text).map_err(|error| {
        FlightError::new("file", format!("unreadable: {error}")).saying(unreadable(&error))
    })?;
    match file.get("format") {
        Some(format) if format == FORMAT => {}
        Some(format) => return Err(other_format("format", format!("{format}: allowed is {FORMAT:?}"))),
        None if file.is_object() => {
            return Err(other_format("format", format!("missing; allowed is {FORMAT:?}")));
        }
        None => return Err(other_format("file", "a JSON object is needed".into())),
    }
    bounded(&file)?;
    for place in ["pad", "evidence"] {
        file.get_mut(place).map_or(Ok(()), |value| bare_numbers(value, place))?;
    }
    for (index, stage) in
        file.pointer_mut("/rocket/stages").and_then(Value::as_array_mut).into_iter().flatten().enumerate()
    {
        let field = format!("rocket.stages[{index}].motor.thrust_curve");
        stage.pointer_mut("/motor/thrust_curve").map_or(Ok(()), |value| bare_numbers(value, &field))?;
    }
    let flight = typed_flight(file.clone())?;
    within_ranges(&file)?;
    consistent(&flight)?;
    Ok(flight)
}

fn other_format(field: &str, message: String) -> FlightError {
    FlightError::new(field, message).saying(Sentence::OfAnotherFormat { wanted: FORMAT.into() })
}

/// Where a text stops being JSON.
#[must_use]
pub fn unreadable(error: &serde_json::Error) -> Sentence {
    Sentence::UnreadableAt { line: error.line(), column: error.column() }
}

/// Refuses lists too long to be a flight before anything is built from them.
fn bounded(file: &Value) -> Result<(), FlightError> {
    let at_most = |field: &str, what: &str, count: usize, most: usize| {
        if count <= most {
            return Ok(());
        }
        let said = Sentence::TooMuchAtOnce { count, most };
        Err(FlightError::new(field, format!("{count} {what}: allowed are {most}")).saying(said))
    };
    let hazards = items(file.pointer("/field/hazards"));
    let evidence = items(file.get("evidence"));
    at_most("wind", "readings", items(file.get("wind")).len(), WIND_ROWS)?;
    at_most("evidence", "pieces", evidence.len(), EVIDENCE_PIECES)?;
    at_most("field.hazards", "hazards", hazards.len(), HAZARDS)?;
    let samples = |piece: &Value| items(piece.get("samples")).len() + items(piece.get("path")).len();
    at_most("evidence", "samples of tracks and sweeps", evidence.iter().map(samples).sum(), SAMPLES)?;
    let shapes = hazards.iter().chain(evidence).filter_map(|it| it.get("geometry"));
    let vertices = shapes.chain(file.pointer("/field/outline")).map(geometry::vertex_count).sum();
    at_most("file", "positions in its geometries", vertices, VERTICES)?;
    for (index, stage) in items(file.pointer("/rocket/stages")).iter().enumerate() {
        let field = format!("rocket.stages[{index}].motor.thrust_curve");
        at_most(&field, "points", items(stage.pointer("/motor/thrust_curve")).len(), THRUST_POINTS)?;
    }
    Ok(())
}

fn items(value: Option<&Value>) -> &[Value] {
    value.and_then(Value::as_array).map_or(&[], Vec::as_slice)
}

/// Accepts `{"value", "known"}` also where this program has no use for `known` and keeps a bare number.
fn bare_numbers(value: &mut Value, field: &str) -> Result<(), FlightError> {
    match value {
        Value::Object(keys) if keys.contains_key("value") => {
            let figure: Figure = typed(value.take(), field)?;
            *value = figure.value.into();
        }
        Value::Object(keys) => {
            for (key, value) in keys.iter_mut().filter(|(key, _)| *key != "geometry") {
                bare_numbers(value, &join(field, key))?;
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter_mut().enumerate() {
                bare_numbers(item, &format!("{field}[{index}]"))?;
            }
        }
        _ => {}
    }
    Ok(())
}

/// The parts of the file that are told apart by `kind` or by shape are read one by one, since serde
/// forgets the path inside such types.
fn typed_flight(mut file: Value) -> Result<Flight, FlightError> {
    let evidence = file.get_mut("evidence").map(Value::take);
    let mut motors = Vec::new();
    let mut recoveries = Vec::new();
    if let Some(stages) = file.pointer_mut("/rocket/stages").and_then(Value::as_array_mut) {
        for (index, stage) in stages.iter_mut().enumerate() {
            let stage_field = format!("rocket.stages[{index}]");
            let mut taken = |key| stage.get_mut(key).map(Value::take).filter(|it| !it.is_null());
            motors.push(taken("motor").map(|it| motor(it, &join(&stage_field, "motor"))));
            recoveries.push(taken("recovery").map(|it| recovery(it, &join(&stage_field, "recovery"))));
        }
    }
    let mut flight: Flight = typed(file, "")?;
    for ((stage, motor), recovery) in flight.rocket.stages.iter_mut().zip(motors).zip(recoveries) {
        stage.motor = motor.transpose()?;
        stage.recovery = recovery.transpose()?;
    }
    flight.evidence = match evidence {
        None | Some(Value::Null) => Vec::new(),
        Some(Value::Array(pieces)) => pieces
            .into_iter()
            .enumerate()
            .map(|(index, it)| piece_of_evidence(it, &format!("evidence[{index}]")))
            .collect::<Result<_, _>>()?,
        Some(_) => return Err(FlightError::said("evidence", Sentence::ListNeeded {})),
    };
    Ok(flight)
}

fn motor(value: Value, field: &str) -> Result<Motor, FlightError> {
    match value {
        Value::String(written) => Ok(Motor::Designation(written)),
        data @ Value::Object(_) => typed(data, field).map(Motor::Known),
        _ => Err(FlightError::said(field, Sentence::MotorNeeded {})),
    }
}

fn recovery(value: Value, field: &str) -> Result<Recovery, FlightError> {
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Parachute {
        diameter_mm: Option<Figure>,
        #[serde(default, deserialize_with = "crate::null_is_default")]
        shape: CanopyShape,
        spill_hole_mm: Option<Figure>,
    }
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Streamer {
        length_mm: Option<Figure>,
        width_mm: Option<Figure>,
    }
    #[derive(Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Tumble {}

    let (kind, rest) = split_kind(value, field, &["parachute", "streamer", "tumble"])?;
    Ok(match kind {
        "parachute" => {
            let Parachute { diameter_mm, shape, spill_hole_mm } = typed(rest, field)?;
            Recovery::Parachute { diameter_mm, shape, spill_hole_mm }
        }
        "streamer" => {
            let Streamer { length_mm, width_mm } = typed(rest, field)?;
            Recovery::Streamer { length_mm, width_mm }
        }
        _ => {
            let Tumble {} = typed(rest, field)?;
            Recovery::Tumble {}
        }
    })
}

fn piece_of_evidence(value: Value, field: &str) -> Result<Evidence, FlightError> {
    const KINDS: &[&str] = &["sighting", "track", "altimeter", "find", "saw", "area", "sweep", "beacon"];
    let (kind, rest) = split_kind(value, field, KINDS)?;
    match kind {
        "sighting" => typed(rest, field).map(Evidence::Sighting),
        "track" => typed(rest, field).map(Evidence::Track),
        "altimeter" => typed(rest, field).map(Evidence::Altimeter),
        "find" => typed(rest, field).map(Evidence::Find),
        "saw" => typed(rest, field).map(Evidence::Saw),
        "area" => typed(rest, field).map(Evidence::Area),
        "sweep" => typed(rest, field).map(Evidence::Sweep),
        _ => typed(rest, field).map(Evidence::Beacon),
    }
}

/// Takes `kind` out of an object and finds it among the kinds allowed there.
fn split_kind(
    value: Value,
    field: &str,
    kinds: &[&'static str],
) -> Result<(&'static str, Value), FlightError> {
    let Value::Object(mut keys) = value else {
        return Err(FlightError::new(field, "an object with a kind is needed"));
    };
    let kind_field = join(field, "kind");
    match keys.remove("kind") {
        Some(Value::String(written)) => match kinds.iter().find(|kind| **kind == written) {
            Some(kind) => Ok((kind, Value::Object(keys))),
            None => Err(FlightError::unknown_word(&kind_field, &written, kinds)),
        },
        Some(other) => {
            let (written, allowed) = (other.to_string(), kinds.join(", "));
            Err(FlightError::new(&kind_field, format!("{other}; allowed: {allowed}"))
                .saying(Sentence::OneOfThese { written, allowed }))
        }
        None => match keys.keys().find_map(|key| nearest(key, &["kind"]).map(|_| key)) {
            Some(key) => Err(FlightError::unknown_key(&join(field, key), key, &["kind"])),
            None => Err(FlightError::said(&kind_field, Sentence::MissingOf { allowed: kinds.join(", ") })),
        },
    }
}

fn typed<T: DeserializeOwned>(value: Value, field: &str) -> Result<T, FlightError> {
    serde_path_to_error::deserialize(value).map_err(|error| {
        let inside = if error.path().iter().len() == 0 { String::new() } else { error.path().to_string() };
        in_plain_words(&join(field, &inside), &error.inner().to_string())
    })
}

/// What serde says, as a flyer would want to read it.
fn in_plain_words(field: &str, said: &str) -> FlightError {
    // serde quotes each name in backticks: first what was written, then what it would have taken.
    let quoted: Vec<&str> = said.split('`').skip(1).step_by(2).collect();
    match quoted.split_first() {
        Some((key, allowed)) if said.starts_with("unknown field") => {
            FlightError::unknown_key(field, key, allowed)
        }
        Some((word, allowed)) if said.starts_with("unknown variant") => {
            FlightError::unknown_word(field, word, allowed)
        }
        Some((key, _)) if said.starts_with("missing field") => {
            FlightError::said(&join(field, key), Sentence::MissingHere {})
        }
        _ => match said.strip_prefix("invalid type: ").and_then(|rest| rest.split_once(", expected ")) {
            Some((given, "f64")) => FlightError::new(field, format!("{given} where a number is needed"))
                .saying(Sentence::NumberNeeded {}),
            Some((given, needed)) => FlightError::new(field, format!("{given} where {needed} is needed")),
            None => FlightError::new(field, said),
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Known;
    use serde_json::json;

    fn heron() -> Value {
        json!({
            "format": "windfall-flight/1",
            "pad": {"lat": 47.2, "lon": 16.9, "accuracy_m": 4, "elevation_m": null},
            "field": {"outline": null, "hazards": [{"kind": "road", "name": "Mill Lane",
                "geometry": {"type": "LineString", "coordinates": [[16.9, 47.2], [16.91, 47.2]]}}]},
            "wind": [{"at": "2026-06-14T10:05:00+02:00", "speed_mps": {"value": 3.2, "known": "guessed"},
                "from_deg": 245, "north": "magnetic", "method": "meter"}],
            "rocket": {"name": "Heron", "stages": [{
                "dry_mass_g": 62, "diameter_mm": 24.8,
                "motor": "C6-5",
                "recovery": {"kind": "parachute", "diameter_mm": 300, "shape": null, "spill_hole_mm": 0},
                "splits_into": [{"name": "upper", "mass_g": 24, "carries_recovery": true},
                    {"name": "lower", "mass_g": 38, "carries_motor": true}]}]},
            "launch": {"at": "2026-06-14T10:12:30+02:00", "rod": {"tilt_deg": 4}},
            "evidence": [
                {"kind": "sighting", "part": "rocket", "moment": "lost", "t_s": 41.0, "bearing_deg": 71, "id": "a"},
                {"kind": "track", "samples": [[1, 70, 20], [1.5, 71, 30]]},
                {"kind": "find", "part": "lower", "at": {"lat": 47.201, "lon": 16.9}, "accuracy_m": 4},
                {"kind": "area", "inside": true, "confidence": 0.8, "geometry":
                    {"type": "Polygon", "coordinates": [[[16.9, 47.2], [16.91, 47.2], [16.91, 47.21], [16.9, 47.2]]]}}
            ]
        })
    }

    fn read(file: &Value) -> Result<Flight, String> {
        read_flight(&file.to_string()).map_err(|error| error.to_string())
    }

    /// The refusal of `heron` with the value at a JSON pointer replaced (or added).
    fn refusal(pointer: &str, value: Value) -> String {
        let mut file = heron();
        let (parent, key) = pointer.rsplit_once('/').unwrap();
        match file.pointer_mut(parent).unwrap() {
            Value::Array(items) => items[key.parse::<usize>().unwrap()] = value,
            keys => keys[key] = value,
        }
        read(&file).unwrap_err()
    }

    #[test]
    fn what_is_not_known_may_be_left_out_or_null() {
        let flight = read(&heron()).unwrap();
        assert_eq!(flight.pad.elevation_m, None);
        assert_eq!(flight.evidence.len(), 4);
        let bare = json!({"format": FORMAT, "pad": {"lat": 1, "lon": 2}, "rocket": {"stages": [{}]},
            "wind": null, "evidence": null, "launch": null, "field": null});
        let flight = read(&bare).unwrap();
        assert!(
            flight.wind.is_empty() && flight.evidence.is_empty() && flight.rocket.stages[0].motor.is_none()
        );
    }

    #[test]
    fn any_number_may_say_how_well_it_is_known() {
        let mut file = heron();
        for pointer in [
            "/pad/lat",
            "/rocket/stages/0/dry_mass_g",
            "/rocket/stages/0/recovery/diameter_mm",
            "/evidence/0/t_s",
            "/evidence/1/samples/0/1",
            "/evidence/2/at/lat",
            "/evidence/3/confidence",
        ] {
            let number = file.pointer_mut(pointer).unwrap();
            *number = json!({"value": number.clone(), "known": "guessed"});
        }
        let flight = read(&file).unwrap();
        assert_eq!(
            flight.rocket.stages[0].dry_mass_g,
            Some(Figure { value: 62.0, known: Some(Known::Guessed) })
        );
        assert_eq!(flight.evidence, read(&heron()).unwrap().evidence);
        assert_eq!(
            refusal("/pad/lat", json!({"value": 47.2, "known": "gessed"})),
            "pad.lat.known: unknown word \"gessed\"; did you mean guessed? allowed: weighed, stated, guessed"
        );
        assert_eq!(
            refusal("/rocket/stages/0/dry_mass_g", json!({"value": 62, "knwon": "stated"})),
            "rocket.stages[0].dry_mass_g.knwon: unknown key; did you mean known?"
        );
    }

    #[test]
    fn a_refusal_names_the_field_and_what_is_allowed() {
        for (pointer, value, expected) in [
            (
                "/format",
                json!("windfall-flight/2"),
                "format: \"windfall-flight/2\": allowed is \"windfall-flight/1\"",
            ),
            ("/pad/lat", json!(91), "pad.lat: 91 is out of range: allowed is -90 to 90 degrees"),
            ("/pad/lat", json!("north"), "pad.lat: string \"north\" where a number is needed"),
            ("/pad/lat", json!(null), "pad.lat: null where a number is needed"),
            (
                "/rocket/stages/0/dry_mass_g",
                json!(6200),
                "rocket.stages[0].dry_mass_g: 6200 is out of range: allowed is 1 to 1500 g",
            ),
            (
                "/rocket/stages/0/diametr_mm",
                json!(24),
                "rocket.stages[0].diametr_mm: unknown key; did you mean diameter_mm?",
            ),
            (
                "/rocket/stages/0/recovery/kind",
                json!("ballute"),
                "rocket.stages[0].recovery.kind: unknown word \"ballute\"; allowed: parachute, streamer, tumble",
            ),
            (
                "/rocket/stages/0/recovery/spillhole_mm",
                json!(3),
                "rocket.stages[0].recovery.spillhole_mm: unknown key; did you mean spill_hole_mm?",
            ),
            (
                "/rocket/stages/0/recovery/spill_hole_mm",
                json!(300),
                "rocket.stages[0].recovery.spill_hole_mm: 300 is not smaller than the canopy's diameter_mm, 300",
            ),
            (
                "/rocket/stages/0/motor",
                json!("K9"),
                "rocket.stages[0].motor: \"K9\" is no motor designation: it starts with its class: \
                 1/8A, 1/4A, 1/2A, A, B, C, D, E, F or G, as in C6-5",
            ),
            (
                "/rocket/stages/0/motor",
                json!({"designation": "C6-5", "thrust_curve": [[0, 1], [0, 2]]}),
                "rocket.stages[0].motor.thrust_curve[1][0]: 0 s is not later than 0 s before it",
            ),
            (
                "/rocket/stages/0/motor",
                json!({"designation": "C6-5", "thrust_curve": [[0, 1], [1, -2]]}),
                "rocket.stages[0].motor.thrust_curve[1][1]: -2 is out of range: allowed is 0 to 1000 N",
            ),
            (
                "/rocket/stages/0/splits_into/1/carries_recovery",
                json!(true),
                "rocket.stages[0].splits_into: 2 parts have carries_recovery: exactly one is needed",
            ),
            (
                "/rocket/stages/0/splits_into/0/carries_motor",
                json!(true),
                "rocket.stages[0].splits_into: 2 parts have carries_motor: at most one is allowed",
            ),
            (
                "/rocket/stages/0/splits_into/1/name",
                json!("Upper"),
                "rocket.stages[0].splits_into[1].name: \"Upper\" is the name of two stages or parts: each needs its own",
            ),
            ("/evidence/0/id", json!(" "), "evidence[0].id: \" \": a text of 1 to 100 characters is needed"),
            (
                "/evidence/1/id",
                json!("a"),
                "evidence[1].id: \"a\" is the identifier of two pieces: each needs its own",
            ),
            ("/rocket/stages", json!([]), "rocket.stages: 0 stages: allowed are 1 or 2"),
            ("/wind/0/gust_mps", json!(2), "wind[0].gust_mps: 2 is below the mean speed_mps, 3.2"),
            (
                "/wind/0/method",
                json!("metre"),
                "wind[0].method: unknown word \"metre\"; did you mean meter? allowed: meter, feel",
            ),
            (
                "/evidence/0",
                json!({"kind": "sighting", "moment": "lost", "bearing_deg": 70, "beyond": true}),
                "evidence[0].beyond: this side or the far side needs in_line_with: of what?",
            ),
            (
                "/evidence/0",
                json!({"kind": "sighting", "moment": "lost"}),
                "evidence[0]: at least one of bearing_deg, downwind_deg, in_line_with, elevation_deg, t_s is needed",
            ),
            (
                "/evidence/0",
                json!({"kind": "sighting", "bearing_deg": 7}),
                "evidence[0].moment: missing, but it is needed",
            ),
            (
                "/evidence/0/kind",
                json!("siting"),
                "evidence[0].kind: unknown word \"siting\"; did you mean sighting? \
                 allowed: sighting, track, altimeter, find, saw, area, sweep, beacon",
            ),
            (
                "/evidence/0/moment",
                json!("landd"),
                "evidence[0].moment: unknown word \"landd\"; did you mean landed? \
                 allowed: apogee, deployment, descent, lost, landed",
            ),
            ("/evidence/0/bearing", json!(3), "evidence[0].bearing: unknown key; did you mean bearing_deg?"),
            (
                "/evidence/0/elevation_deg",
                json!(95),
                "evidence[0].elevation_deg: 95 is out of range: allowed is -30 to 90 degrees",
            ),
            (
                "/evidence/1/samples/1/0",
                json!(0.5),
                "evidence[1].samples[1][0]: 0.5 s is not later than 1 s before it",
            ),
            (
                "/evidence/1/samples/1/2",
                json!(-31),
                "evidence[1].samples[1][2]: -31 is out of range: allowed is -30 to 90 degrees",
            ),
            (
                "/evidence/2/part",
                json!("lowr"),
                "evidence[2].part: no part or stage is called \"lowr\"; did you mean lower?",
            ),
            (
                "/evidence/2/part",
                json!("fin"),
                "evidence[2].part: no part or stage is called \"fin\"; this rocket has: upper, lower, rocket, Heron",
            ),
            (
                "/evidence/2/accuracy_m",
                json!(0),
                "evidence[2].accuracy_m: 0 is out of range: allowed is 0.01 to 1000 m",
            ),
            (
                "/evidence/3/confidence",
                json!(0.4),
                "evidence[3].confidence: 0.4 is out of range: allowed is 0.5 to 1",
            ),
            (
                "/evidence/3/geometry/type",
                json!("Point"),
                "evidence[3].geometry.type: unknown word \"Point\"; allowed: Polygon, MultiPolygon",
            ),
            ("/evidence", json!({}), "evidence: a list is needed"),
        ] {
            assert_eq!(refusal(pointer, value), expected);
        }
    }

    #[test]
    fn a_dry_mass_off_the_sum_of_its_parts_is_refused_in_both_numbers() {
        let mut file = heron();
        file["rocket"]["stages"][0]["splits_into"][1]["mass_g"] = json!(31);
        assert_eq!(
            read(&file).unwrap_err(),
            "rocket.stages[0].dry_mass_g: 62 differs from the sum of its parts, 55, by more than 2 g"
        );
        file["rocket"]["stages"][0]["splits_into"][1]["mass_g"] = json!(36);
        assert!(read(&file).is_ok());
        file["rocket"]["stages"][0]["splits_into"][1]["mass_g"] = json!(null);
        assert!(read(&file).is_ok());
    }

    #[test]
    fn a_time_that_is_no_rfc_3339_time_is_refused_with_an_example() {
        let said = refusal("/launch/at", json!("14.6.2026 10:12"));
        assert!(said.starts_with(
            "launch.at: \"14.6.2026 10:12\" is no RFC 3339 time, as in 2026-06-14T10:12:30+02:00"
        ));
        assert!(refusal("/wind/0/at", json!("2026-06-14")).starts_with("wind[0].at:"));
    }

    #[test]
    fn text_that_is_no_flight_is_refused() {
        let said = |text: &str| read_flight(text).unwrap_err().to_string();
        assert!(said("").starts_with("file: unreadable: EOF"));
        assert_eq!(said("[]"), "file: a JSON object is needed");
        assert_eq!(said("{}"), "format: missing; allowed is \"windfall-flight/1\"");
        assert!(said(&"[".repeat(10_000)).starts_with("file: unreadable: recursion limit"));
        assert!(said("{\"format\": NaN}").starts_with("file: unreadable:"));
    }

    #[test]
    fn a_key_given_twice_is_refused_since_one_of_the_two_would_be_lost() {
        let text = heron().to_string().replacen("\"moment\":", "\"t_s\":40,\"moment\":", 1);
        let said = read_flight(&text).unwrap_err().to_string();
        assert!(said.contains("the key \"t_s\" is given twice at line 1 column"), "{said}");
    }

    #[test]
    fn only_what_stands_has_a_height_and_the_ground_is_of_three_kinds() {
        let mut file = heron();
        file["field"]["hazards"][0]["kind"] = json!("trees");
        file["field"]["hazards"][0]["height_m"] = json!(12.5);
        (file["field"]["ground"], file["field"]["place"]) = (json!("hard"), json!("public_place"));
        let field = read(&file).unwrap().field.unwrap();
        assert_eq!(field.hazards[0].height_m, Some(12.5));
        assert_eq!(
            (field.ground, field.place),
            (Some(crate::GroundKind::Hard), Some(crate::PlaceKind::PublicPlace))
        );
        assert_eq!(
            refusal("/field/hazards/0/height_m", json!(12)),
            "field.hazards[0].height_m: only trees and buildings have a height"
        );
        assert_eq!(
            refusal("/field/hazards/0/height_m", json!(0)),
            "field.hazards[0].height_m: 0 is out of range: allowed is 0.5 to 100 m"
        );
        assert_eq!(
            refusal("/field/ground", json!("short")),
            "field.ground: unknown word \"short\"; allowed: short_grass, hard, tall_growth"
        );
    }

    #[test]
    fn lists_too_long_are_refused_before_they_are_read() {
        assert_eq!(refusal("/wind", json!(vec![0; 65])), "wind: 65 readings: allowed are 64");
        assert_eq!(refusal("/evidence", json!(vec![0; 2001])), "evidence: 2001 pieces: allowed are 2000");
        assert_eq!(
            refusal("/field/hazards", json!(vec![0; 501])),
            "field.hazards: 501 hazards: allowed are 500"
        );
        assert_eq!(
            refusal("/evidence/1/samples", json!(vec![0; 100_001])),
            "evidence: 100001 samples of tracks and sweeps: allowed are 100000"
        );
        assert_eq!(
            refusal("/evidence/3/geometry/coordinates", json!([vec![[0, 0]; 20_001]])),
            "file: 20003 positions in its geometries: allowed are 20000"
        );
        let long = " ".repeat(TEXT_BYTES + 1);
        assert_eq!(read_flight(&long).unwrap_err().to_string(), "file: 4194305 bytes: allowed are 4194304");
    }

    #[test]
    fn a_flight_reads_back_equal_from_what_it_writes() {
        let flight = read(&heron()).unwrap();
        let written = serde_json::to_string(&flight).unwrap();
        assert_eq!(read_flight(&written).unwrap(), flight);
    }
}
