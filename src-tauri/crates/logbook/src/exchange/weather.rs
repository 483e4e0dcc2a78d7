//! Winds aloft and the air, from wherever the flyer has them: a table with one row a height (CSV), or `wind` and `air` as
//! a flight file has them (JSON).
//!
//! The first line of a table names its columns, with their units: see [`COLUMNS`]. Commas between the cells, or
//! semicolons as spreadsheets write them where the comma is in the numbers.

use super::csv::{mark_of, unreadable};
use super::error::why_of;
use super::{ExchangeError, Format, Mark};
use ::csv::{ReaderBuilder, StringRecord};
use serde_json::{Map, Value, json};
use windfall_facts::{Air, FORMAT, Flight, FlightError, Sentence, WindReading, read_flight};

/// What a file of the weather has.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Weather {
    /// Winds, as read.
    pub wind: Vec<WindReading>,
    /// The air at the pad: of a table its lowest row that has any.
    pub air: Option<Air>,
    /// Rows with air above the lowest of them, which are not used: only the air at the pad is.
    pub unused_air: u32,
}

/// A column: its name, the key of the flight file, and what turns its numbers into that key's unit.
struct Column {
    name: &'static str,
    key: &'static str,
    scale: f64,
    shift: f64,
}

const fn column(name: &'static str, key: &'static str, scale: f64) -> Column {
    Column { name, key, scale, shift: 0.0 }
}

/// All columns there may be. A foot, a mile and a knot by definition (NIST SP 811, appendix B); Fahrenheit likewise.
const COLUMNS: [Column; 13] = [
    column("height_m", "height_m", 1.0),
    column("height_ft", "height_m", 0.3048),
    column("speed_mps", "speed_mps", 1.0),
    column("speed_kmh", "speed_mps", 1.0 / 3.6),
    column("speed_kt", "speed_mps", 1852.0 / 3600.0),
    column("speed_mph", "speed_mps", 1609.344 / 3600.0),
    column("from_deg", "from_deg", 1.0),
    column("temperature_c", "temperature_c", 1.0),
    Column { name: "temperature_f", key: "temperature_c", scale: 5.0 / 9.0, shift: -160.0 / 9.0 },
    column("pressure_hpa", "pressure_hpa", 1.0),
    column("pressure_mbar", "pressure_hpa", 1.0),
    column("humidity_pct", "humidity_pct", 1.0),
    column("at", "at", 1.0),
];
const OF_WIND: [&str; 3] = ["speed_mps", "from_deg", "at"];
const OF_AIR: [&str; 3] = ["temperature_c", "pressure_hpa", "humidity_pct"];

/// Reads a table or JSON, whichever the text is.
///
/// # Errors
/// Names the line and the column, or the key, of the first thing that cannot be used.
pub fn read(text: &str) -> Result<Weather, ExchangeError> {
    let text = super::text_in(Format::Csv, text.as_bytes())?;
    if text.trim_start().starts_with('{') { json_file(text) } else { table(text) }
}

fn json_file(text: &str) -> Result<Weather, ExchangeError> {
    let field = |field: &str, why: Sentence| ExchangeError::field(Format::FlightFile, None, field, why);
    let said: Value = serde_json::from_str(text).map_err(|error| ExchangeError::Unreadable {
        format: Format::FlightFile,
        mark: Mark { line: error.line(), column: Some(error.column()) },
        message: error.to_string(),
    })?;
    let keys = said.as_object().cloned().unwrap_or_default();
    if let Some(other) = keys.keys().find(|key| !["wind", "air"].contains(&key.as_str())) {
        return Err(field(other, Sentence::WindOrAir {}));
    }
    let flight = checked(keys).map_err(|error| ExchangeError::of_flight(Format::FlightFile, text, &error))?;
    if flight.wind.is_empty() && flight.air.is_none() {
        return Err(field("wind", Sentence::NeitherWindNorAir {}));
    }
    Ok(Weather { wind: flight.wind, air: flight.air, unused_air: 0 })
}

/// The least that is a flight, with these keys: whatever a flight file refuses is refused here.
fn checked(keys: Map<String, Value>) -> Result<Flight, FlightError> {
    let mut flight = json!({"format": FORMAT, "pad": {"lat": 0, "lon": 0}, "rocket": {"stages": [{}]}});
    for (key, value) in keys {
        flight[key] = value;
    }
    read_flight(&flight.to_string())
}

fn table(text: &str) -> Result<Weather, ExchangeError> {
    let first = text.lines().next().unwrap_or_default();
    let is_continental = first.contains(';') && !first.contains(',');
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .delimiter(if is_continental { b';' } else { b',' })
        .from_reader(text.as_bytes());
    let mut rows = reader.records();
    let head = match rows.next() {
        Some(row) => row.map_err(|error| unreadable(text, &error))?,
        None => StringRecord::new(),
    };
    let columns = head.iter().map(known).collect::<Result<Vec<&Column>, _>>()?;
    for (index, column) in columns.iter().enumerate() {
        if let Some(twice) = columns[..index].iter().find(|other| other.key == column.key) {
            return Err(in_head(column.name, Sentence::SaidAlready { name: twice.name.into() }));
        }
    }
    if !columns.iter().any(|it| it.key != "height_m" && it.key != "at") {
        return Err(in_head("speed_mps", Sentence::MissingOf { allowed: names() }));
    }
    let mut weather = Weather::default();
    let mut lowest: Option<(f64, Air)> = None;
    let mut unused = 0;
    for row in rows {
        let row = row.map_err(|error| unreadable(text, &error))?;
        let refused = |field: &str, why: Sentence| {
            ExchangeError::field(Format::Csv, mark_of(text, row.position()), field, why)
        };
        let mut cells = Map::new();
        for (column, cell) in columns.iter().zip(&row) {
            let cell = cell.trim();
            if cell.is_empty() {
                continue;
            }
            let value = if column.key == "at" {
                json!(cell)
            } else {
                let point = if is_continental { cell.replace(',', ".") } else { cell.to_owned() };
                let number =
                    point.parse::<f64>().ok().filter(|number| number.is_finite()).ok_or_else(|| {
                        refused(column.name, Sentence::NumberWithPoint { written: cell.into() })
                    })?;
                // What was not turned stays as it was written.
                let is_same = (column.scale - 1.0).abs() < f64::EPSILON && column.shift == 0.0;
                json!(if is_same { number } else { number * column.scale + column.shift })
            };
            cells.insert(column.key.into(), value);
        }
        if cells.is_empty() {
            continue;
        }
        let of = |keys: &[&str]| -> Map<String, Value> {
            cells
                .iter()
                .filter(|(key, _)| keys.contains(&key.as_str()))
                .map(|(k, v)| (k.clone(), v.clone()))
                .collect()
        };
        let (mut wind, air) = (of(&OF_WIND), of(&OF_AIR));
        let has_wind = wind.keys().any(|key| key != "at");
        let height = cells.get("height_m");
        if let Some(height) = height {
            wind.insert("height_m".into(), height.clone());
        } else if has_wind {
            return Err(refused("height_m", Sentence::HeightNeeded {}));
        }
        let mut keys = Map::new();
        if has_wind {
            keys.insert("wind".into(), json!([wind]));
        }
        if !air.is_empty() {
            keys.insert("air".into(), json!(air));
        }
        let flight = checked(keys).map_err(|error| {
            // Of "wind[0].speed_mps" the line says which row it is.
            let key = error.field.rsplit('.').next().unwrap_or("row");
            let name = columns.iter().find(|it| it.key == key).map_or(key, |it| it.name);
            refused(name, why_of(&error))
        })?;
        weather.wind.extend(flight.wind);
        if let Some(air) = flight.air {
            let height_m = height.and_then(Value::as_f64).unwrap_or(0.0);
            match &lowest {
                Some((lower_m, _)) if *lower_m <= height_m => unused += 1,
                other => {
                    unused += u32::from(other.is_some());
                    lowest = Some((height_m, air));
                }
            }
        }
    }
    weather.air = lowest.map(|(_, air)| air);
    if weather.wind.is_empty() && weather.air.is_none() {
        return Err(in_head("height_m", Sentence::NoRow {}));
    }
    weather.unused_air = unused;
    Ok(weather)
}

fn known(name: &str) -> Result<&'static Column, ExchangeError> {
    let plain = name.trim().to_lowercase();
    COLUMNS.iter().find(|it| it.name == plain).ok_or_else(|| {
        let why = if plain.starts_with("altitude") {
            Sentence::HeightAboveGround {}
        } else {
            Sentence::NoSuchColumn { allowed: names() }
        };
        in_head(name, why)
    })
}

fn in_head(field: &str, why: Sentence) -> ExchangeError {
    ExchangeError::field(Format::Csv, Some(Mark { line: 1, column: None }), field, why)
}

fn names() -> String {
    COLUMNS.map(|it| it.name).join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(weather: &Weather) -> Vec<[f64; 3]> {
        let value = |figure: Option<windfall_facts::Figure>| figure.map_or(f64::NAN, |it| it.value);
        weather.wind.iter().map(|it| [value(it.height_m), value(it.speed_mps), value(it.from_deg)]).collect()
    }

    #[test]
    fn a_table_gives_winds_by_height_and_the_air_of_its_lowest_row() {
        let text = "height_m,speed_mps,from_deg,temperature_c,pressure_hpa,humidity_pct\n\
            1000,9.5,260,8,,\n300,7,250,14,,\n2,3,240,18.5,955,60\n";
        let weather = read(text).unwrap();
        assert_eq!(numbers(&weather), [[1000.0, 9.5, 260.0], [300.0, 7.0, 250.0], [2.0, 3.0, 240.0]]);
        let air = weather.air.unwrap();
        let told = [air.temperature_c, air.pressure_hpa, air.humidity_pct].map(|it| it.unwrap().value);
        for (told, meant) in told.into_iter().zip([18.5, 955.0, 60.0]) {
            assert!((told - meant).abs() < 1e-9, "{told} against {meant}");
        }
        assert_eq!(weather.unused_air, 2);
    }

    #[test]
    fn other_units_and_a_decimal_comma_say_the_same() {
        // NIST SP 811: a foot is 0.3048 m, a knot 1852 m an hour.
        let weather = read("Height_ft;Speed_kt;from_deg;temperature_f\r\n1000;10,5;250;68\r\n").unwrap();
        let [height_m, speed_mps, from_deg] = numbers(&weather)[0];
        assert!(
            (height_m - 304.8).abs() < 1e-9 && (speed_mps - 5.401_666_666_666_667).abs() < 1e-9,
            "{weather:?}"
        );
        assert!((from_deg - 250.0).abs() < 1e-9);
        assert!((weather.air.unwrap().temperature_c.unwrap().value - 20.0).abs() < 1e-9);
    }

    #[test]
    fn json_is_as_the_flight_file_has_it() {
        let text =
            r#"{"wind": [{"height_m": 500, "speed_mps": 8, "from_deg": 270}], "air": {"pressure_hpa": 955}}"#;
        let weather = read(text).unwrap();
        assert_eq!(numbers(&weather), [[500.0, 8.0, 270.0]]);
        assert!(weather.air.unwrap().pressure_hpa.is_some());
    }

    #[test]
    fn what_cannot_be_used_is_named_by_line_and_column() {
        let head = "height_m,speed_mps,from_deg\n";
        for (text, said) in [
            (format!("{head}300,7,250\n600,fast,250\n"), "CSV, line 3, speed_mps: \"fast\" is no number"),
            (format!("{head}300,99,250\n"), "CSV, line 2, speed_mps: 99 is out of range"),
            (format!("{head},7,250\n"), "CSV, line 2, height_m: empty or missing"),
            (format!("{head}300,7\n"), "CSV, line 2: 2 cells; allowed are 3"),
            (head.to_owned(), "CSV, line 1, height_m: no row"),
            (
                "height_m,knots\n1,2\n".into(),
                "CSV, line 1, knots: no such column; allowed are height_m, height_ft",
            ),
            ("altitude_m,speed_mps\n1,2\n".into(), "CSV, line 1, altitude_m: heights above the ground"),
            (
                "height_m,height_ft,speed_mps\n1,2,3\n".into(),
                "CSV, line 1, height_ft: height_m says the same",
            ),
            (String::new(), "CSV, line 1, "),
            (r#"{"wind": [{"speed_mps": 99}]}"#.into(), "wind[0].speed_mps: 99 is out of range"),
            (r#"{"winds": []}"#.into(), "winds: allowed are wind and air"),
            ("{\n\"wind\": }".into(), "line 2"),
            ("{}".into(), "wind: neither wind nor air"),
        ] {
            let error = read(&text).unwrap_err().to_string();
            assert!(error.contains(said), "{error}");
        }
    }
}
