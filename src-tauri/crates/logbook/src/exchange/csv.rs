//! CSV (RFC 4180) for a spreadsheet: one row a flight, or one row a find. Finds come in again.
//!
//! Commas between the cells, a point in the numbers, lines end in CR LF, units in the names of the columns. A text
//! that a spreadsheet would take for a formula gets an apostrophe in front, which the reader takes off again.
//!
//! # Source
//! RFC 4180, section 2. What begins a formula (= + - @, tab, carriage return): OWASP, CSV Injection (from memory).

use super::drawing::{About, Drawing, Item, Role, Shape, Spot, accuracy_m, latitude, longitude};
use super::{ExchangeError, Format, Mark};
use ::csv::{Position, ReaderBuilder, StringRecord, Terminator, WriterBuilder};
use std::collections::BTreeSet;
use windfall_facts::{Answer, Evidence, Flight, LatLon, North, Sentence};

const FLIGHT_COLUMNS: [&str; 22] = [
    "flight",
    "title",
    "launched_at",
    "rocket",
    "motors",
    "parts",
    "found",
    "pad_lat_deg",
    "pad_lon_deg",
    "pad_elevation_m",
    "temperature_c",
    "wind_speed_mps",
    "wind_gust_mps",
    "wind_from_deg",
    "wind_north",
    "apogee_m",
    "duration_s",
    "aim_part",
    "aim_lat_deg",
    "aim_lon_deg",
    "aim_from_pad_m",
    "aim_caution",
];
const FIND_COLUMNS: [&str; 6] = ["flight", "part", "lat_deg", "lon_deg", "accuracy_m", "condition"];

/// One row a flight: its first wind reading, its first altimeter, and the aim for the part with the recovery device.
///
/// # Errors
/// None that is known of; the writer could refuse.
pub fn write_flights(flights: &[(&Flight, Option<&Answer>)]) -> Result<String, ExchangeError> {
    table(&FLIGHT_COLUMNS, flights.iter().map(|(flight, answer)| flight_row(flight, *answer)))
}

fn flight_row(flight: &Flight, answer: Option<&Answer>) -> Vec<String> {
    let wind = flight.wind.first();
    let altimeter = flight.evidence.iter().find_map(|piece| match piece {
        Evidence::Altimeter(it) if !it.set_aside => Some(it),
        _ => None,
    });
    let parts = flight.rocket.part_names();
    let aim = answer.and_then(|answer| {
        let wanted = parts.get(flight.part_index_for(None)?)?;
        answer.parts.iter().find(|part| part.part == *wanted)
    });
    let motors = flight.rocket.stages.iter().filter_map(|stage| stage.motor.as_ref());
    let found: BTreeSet<&str> = finds_of(flight).map(|find| find.part.as_str()).collect();
    vec![
        text(flight.id.as_deref()),
        text(flight.title.as_deref()),
        text(flight.launch.at.as_deref()),
        text(flight.rocket.name.as_deref()),
        text(Some(&motors.map(|motor| motor.designation()).collect::<Vec<_>>().join(" + "))),
        text(Some(&parts.join(", "))),
        text(Some(&found.into_iter().collect::<Vec<_>>().join(", "))),
        flight.pad.lat.to_string(),
        flight.pad.lon.to_string(),
        number(flight.pad.elevation_m),
        number(flight.air.and_then(|air| air.temperature_c).map(|it| it.value)),
        number(wind.and_then(|wind| wind.speed_mps).map(|it| it.value)),
        number(wind.and_then(|wind| wind.gust_mps).map(|it| it.value)),
        number(wind.and_then(|wind| wind.from_deg).map(|it| it.value)),
        wind.map_or("", |wind| if wind.north == North::True { "true" } else { "magnetic" }).into(),
        number(altimeter.and_then(|it| it.apogee_m)),
        number(altimeter.and_then(|it| it.duration_s)),
        text(aim.map(|aim| aim.part.as_str())),
        number(aim.map(|aim| aim.aim.lat)),
        number(aim.map(|aim| aim.aim.lon)),
        number(aim.map(|aim| aim.distance_from_pad_m)),
        text(aim.and_then(|aim| aim.approach.caution.as_deref())),
    ]
}

/// One row a find that is not set aside.
///
/// # Errors
/// None that is known of; the writer could refuse.
pub fn write_finds(flights: &[&Flight]) -> Result<String, ExchangeError> {
    let rows = flights.iter().flat_map(|flight| {
        finds_of(flight).map(|find| {
            vec![
                text(flight.id.as_deref()),
                text(Some(&find.part)),
                find.at.lat.to_string(),
                find.at.lon.to_string(),
                number(find.accuracy_m),
                text(find.condition.as_deref()),
            ]
        })
    });
    table(&FIND_COLUMNS, rows)
}

fn finds_of(flight: &Flight) -> impl Iterator<Item = &windfall_facts::Find> {
    flight.evidence.iter().filter_map(|piece| match piece {
        Evidence::Find(find) if !find.set_aside => Some(find),
        _ => None,
    })
}

fn table(columns: &[&str], rows: impl Iterator<Item = Vec<String>>) -> Result<String, ExchangeError> {
    let cannot = |message: String| ExchangeError::cannot_hold(Format::Csv, message);
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    writer.write_record(columns).map_err(|error| cannot(error.to_string()))?;
    for row in rows {
        writer.write_record(&row).map_err(|error| cannot(error.to_string()))?;
    }
    let bytes = writer.into_inner().map_err(|error| cannot(error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| cannot(error.to_string()))
}

fn number(value: Option<f64>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

/// A text that no spreadsheet takes for a formula.
fn text(written: Option<&str>) -> String {
    let written = written.unwrap_or_default();
    if is_guarded(written) || written.starts_with(begins_a_formula) {
        format!("'{written}")
    } else {
        written.to_owned()
    }
}

fn begins_a_formula(c: char) -> bool {
    matches!(c, '=' | '+' | '-' | '@' | '\t' | '\r')
}

/// Whether an apostrophe stands in front that [`text`] could have put there.
fn is_guarded(written: &str) -> bool {
    written.strip_prefix('\'').is_some_and(|rest| rest.starts_with(|c| begins_a_formula(c) || c == '\''))
}

fn unguarded(written: &str) -> &str {
    if is_guarded(written) { &written[1..] } else { written }
}

/// The finds in a table with at least the columns `part`, `lat_deg` and `lon_deg`; others of [`write_finds`] as they
/// are there.
///
/// # Errors
/// Names the line and the column of the first cell that is not as the format says.
pub fn read_finds(text: &str) -> Result<Drawing, ExchangeError> {
    let mut reader = ReaderBuilder::new().has_headers(false).from_reader(text.as_bytes());
    let mut rows = reader.records();
    let head = match rows.next() {
        Some(row) => row.map_err(|error| unreadable(text, &error))?,
        None => StringRecord::new(),
    };
    let names: Vec<String> = head.iter().map(|name| name.trim().to_lowercase()).collect();
    let column = |wanted: &str| names.iter().position(|name| name == wanted);
    let needed = |wanted: &str| {
        column(wanted).ok_or_else(|| {
            let found = head.iter().collect::<Vec<_>>().join(",");
            let why = Sentence::ColumnMissing { found, allowed: FIND_COLUMNS.join(", ") };
            ExchangeError::field(Format::Csv, Some(Mark { line: 1, column: None }), wanted, why)
        })
    };
    let (part, lat, lon) = (needed("part")?, needed("lat_deg")?, needed("lon_deg")?);
    let [flight, accuracy, condition] = ["flight", "accuracy_m", "condition"].map(column);
    let unknown = |name: &&String| !FIND_COLUMNS.contains(&name.as_str());
    let not_understood = names.iter().filter(unknown).map(|name| format!("column {name:?} is not read"));
    let mut drawing = Drawing { not_understood: not_understood.collect(), ..Drawing::default() };
    for row in rows {
        let row = row.map_err(|error| unreadable(text, &error))?;
        let refused = |field: &str, why: Sentence| {
            ExchangeError::field(Format::Csv, mark_of(text, row.position()), field, why)
        };
        let cell = |index: usize| unguarded(row.get(index).unwrap_or_default().trim());
        let given = |index: Option<usize>| index.map(cell).filter(|it| !it.is_empty()).map(str::to_owned);
        let at = LatLon {
            lat: latitude(cell(lat)).map_err(|message| refused("lat_deg", message))?,
            lon: longitude(cell(lon)).map_err(|message| refused("lon_deg", message))?,
        };
        let mut spot = Spot::new(at);
        if let Some(written) = given(accuracy) {
            let radius = accuracy_m(&written.into());
            spot.accuracy_m = Some(radius.map_err(|message| refused("accuracy_m", message))?);
        }
        let Some(part) = given(Some(part)) else {
            return Err(refused("part", Sentence::PartNeeded {}));
        };
        let about =
            About { part: Some(part), flight: given(flight), note: given(condition), ..About::default() };
        drawing.items.push(Item { role: Some(Role::Find), shape: Shape::Place(spot), about });
    }
    Ok(drawing)
}

/// The line on which a row begins. The reader points before the line feed that ended the row above.
pub(super) fn mark_of(text: &str, position: Option<&Position>) -> Option<Mark> {
    let start = usize::try_from(position?.byte()).ok()?;
    let ends = text.get(start..)?.bytes().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
    Some(Mark { column: None, ..Mark::at(text, start + ends) })
}

pub(super) fn unreadable(text: &str, error: &::csv::Error) -> ExchangeError {
    let mark = mark_of(text, error.position()).unwrap_or(Mark { line: 1, column: None });
    let message = match error.kind() {
        ::csv::ErrorKind::UnequalLengths { expected_len, len, .. } => {
            format!("{len} cells; allowed are {expected_len}, as in the first line")
        }
        _ => error.to_string(),
    };
    ExchangeError::Unreadable { format: Format::Csv, mark, message }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_becomes_a_formula_and_each_comes_back() {
        for written in ["=1+1", "+49", "-x", "@now", "\tx", "'=1", "''", "'", "'tis", "plain", "", "a=b"] {
            let cell = text(Some(written));
            assert!(!cell.starts_with(begins_a_formula), "{cell:?}");
            assert_eq!(unguarded(&cell), written);
        }
    }

    #[test]
    fn a_bad_cell_is_named_by_line_and_column() {
        let said = |text: &str| read_finds(text).unwrap_err().to_string();
        let head = "flight,part,lat_deg,lon_deg,accuracy_m,condition\r\n";
        assert_eq!(
            said(&format!("{head}h,lower,47.5,17.2,4,\r\nh,upper,\"47,5\",17.2,4,\r\n")),
            "CSV, line 3, lat_deg: \"47,5\" is no number; allowed is -90 to 90, with a decimal point"
        );
        assert_eq!(
            said(&format!("{head}h,lower,47.5\r\n")),
            "CSV, line 2: 3 cells; allowed are 6, as in the first line"
        );
        assert_eq!(
            said("part;lat_deg;lon_deg\nlower;47,5;17,2\n"),
            "CSV, line 1, part: missing from the first line, \"part;lat_deg;lon_deg\"; \
             allowed are flight, part, lat_deg, lon_deg, accuracy_m, condition, separated by commas"
        );
        assert!(said("").contains("part: missing"));
        assert!(said(&format!("{head}h,,47.5,17.2,4,\r\n")).contains("line 2, part: empty"));
    }
}
