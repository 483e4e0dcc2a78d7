//! The flight file, judged from outside and by the sample field day.

use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use windfall_facts::{Evidence, Flight, MotorClass, Recovery, flight_schema, read_flight};
use windfall_tests::ReferenceTable;

fn house() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

/// Names and texts of the sample flights.
fn samples() -> Vec<(String, String)> {
    let folder = house().join("sample-data/flights");
    let mut samples: Vec<_> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|it| it == "json"))
        .map(|path| {
            let name = path.file_stem().unwrap().to_str().unwrap().to_string();
            (name, std::fs::read_to_string(&path).unwrap())
        })
        .collect();
    samples.sort();
    assert_eq!(samples.len(), 9);
    samples
}

fn read(name: &str, text: &str) -> Flight {
    read_flight(text).unwrap_or_else(|error| panic!("{name}: {error}"))
}

#[test]
fn every_sample_flight_reads_and_writes_back_equal() {
    for (name, text) in samples() {
        let flight = read(&name, &text);
        assert_eq!(flight.id.as_deref(), Some(name.as_str()));
        assert!(flight.title.is_some() && flight.field.is_some(), "{name}");
        let written = serde_json::to_string(&flight).unwrap();
        assert_eq!(read(&name, &written), flight, "{name}");
        // Plain serde, without the exact errors, reads the same.
        assert_eq!(serde_json::from_str::<Flight>(&written).unwrap(), flight, "{name}");
    }
}

#[test]
fn the_sample_day_shows_each_way_down_once() {
    let flights: Vec<Flight> = samples().iter().map(|(name, text)| read(name, text)).collect();
    let fields: Vec<_> = flights.iter().map(|flight| &flight.field).collect();
    assert!(fields.windows(2).all(|pair| pair[0] == pair[1]), "one day, one field");
    let any = |wanted: &dyn Fn(&Flight) -> bool| flights.iter().any(wanted);
    let stage = |flight: &Flight| flight.rocket.stages.last().unwrap().clone();
    assert!(any(&|it| matches!(stage(it).recovery, Some(Recovery::Parachute { .. }))));
    assert!(any(&|it| matches!(stage(it).recovery, Some(Recovery::Streamer { .. }))));
    assert!(any(&|it| it.rocket.part_names() == ["booster", "sustainer"]));
    assert!(any(&|it| it
        .evidence
        .iter()
        .any(|piece| matches!(piece, Evidence::Track(track) if track.samples.len() >= 80))));
    assert!(any(&|it| it
        .evidence
        .iter()
        .any(|piece| matches!(piece, Evidence::Find(find) if find.part == "lower"))));
}

#[test]
fn the_schema_takes_what_the_program_takes() {
    let schema = jsonschema::validator_for(&flight_schema()).unwrap();
    for (name, text) in samples() {
        let file: Value = serde_json::from_str(&text).unwrap();
        let complaints: Vec<String> =
            schema.iter_errors(&file).map(|error| format!("{}: {error}", error.instance_path())).collect();
        assert!(complaints.is_empty(), "{name}: {complaints:?}");
        let written = serde_json::to_value(read(&name, &text)).unwrap();
        assert!(schema.is_valid(&written), "{name} as written back");
    }
}

#[test]
fn the_schema_refuses_what_the_program_refuses() {
    let schema = jsonschema::validator_for(&flight_schema()).unwrap();
    let (_, text) = samples().into_iter().find(|(name, _)| name == "heron-lost").unwrap();
    let heron: Value = serde_json::from_str(&text).unwrap();
    for (parent, key, value) in [
        ("", "colour", json!("red")),
        ("", "format", json!("windfall-flight/2")),
        ("/pad", "lat", json!(90.5)),
        ("/pad", "lat", json!(null)),
        ("/pad", "lat", json!({"value": 47.5, "known": "hoped"})),
        ("/rocket/stages/0", "diametr_mm", json!(24.8)),
        ("/rocket/stages/0", "dry_mass_g", json!({"value": 6200, "known": "weighed"})),
        ("/rocket/stages/0/recovery", "kind", json!("ballute")),
        ("/rocket/stages/0/recovery", "shape", json!("triangle")),
        ("/evidence/1", "bearing", json!(3)),
        ("/evidence/1", "moment", json!("landd")),
        ("/evidence/1", "elevation_deg", json!(91)),
        ("/field/outline", "type", json!("Point")),
    ] {
        let mut file = heron.clone();
        file.pointer_mut(parent).unwrap()[key] = value;
        assert!(!schema.is_valid(&file), "schema takes {parent}/{key}");
        assert!(read_flight(&file.to_string()).is_err(), "program takes {parent}/{key}");
    }
}

/// Path of every key in a file, as errors write it, and its JSON pointer.
fn keys(value: &Value, field: &str, pointer: &str, found: &mut Vec<(String, String)>) {
    match value {
        Value::Object(keys_here) => {
            for (key, inside) in keys_here {
                let field = if field.is_empty() { key.clone() } else { format!("{field}.{key}") };
                let pointer = format!("{pointer}/{key}");
                keys(inside, &field, &pointer, found);
                found.push((field, pointer));
            }
        }
        Value::Array(items) => {
            for (index, inside) in items.iter().enumerate().take(3) {
                keys(inside, &format!("{field}[{index}]"), &format!("{pointer}/{index}"), found);
            }
        }
        _ => {}
    }
}

#[test]
fn a_misspelt_key_is_named_whichever_it_is() {
    for (name, text) in samples() {
        let file: Value = serde_json::from_str(&text).unwrap();
        let mut found = Vec::new();
        keys(&file, "", "", &mut found);
        assert!(found.len() >= 30, "{name}: {}", found.len());
        for (field, pointer) in found {
            let (parent, key) = pointer.rsplit_once('/').unwrap();
            let mut mutant = file.clone();
            let keys_here = mutant.pointer_mut(parent).unwrap().as_object_mut().unwrap();
            let value = keys_here.remove(key).unwrap();
            keys_here.insert(format!("{key}q"), value);
            let error = read_flight(&mutant.to_string()).expect_err(&field);
            // A misspelt key is refused as such, or its own is missed first.
            let named = error.field == field || error.field == format!("{field}q");
            assert!(named, "{name}: {field} misspelt gives: {error}");
        }
    }
}

#[test]
fn a_word_where_a_number_belongs_is_named_whichever_it_is() {
    for (name, text) in samples() {
        let file: Value = serde_json::from_str(&text).unwrap();
        let mut found = Vec::new();
        keys(&file, "", "", &mut found);
        let numbers = found.into_iter().filter(|(_, pointer)| file.pointer(pointer).unwrap().is_number());
        let mut tried = 0;
        for (field, pointer) in numbers {
            for wrong in [json!("62"), json!([62]), json!(true), json!(1e300), json!(-1e300)] {
                let mut mutant = file.clone();
                *mutant.pointer_mut(&pointer).unwrap() = wrong.clone();
                let error = read_flight(&mutant.to_string()).expect_err(&field);
                let whole = field.strip_suffix(".value").unwrap_or(&field);
                assert!(
                    error.field == field || error.field == whole,
                    "{name}: {field} = {wrong} gives: {error}"
                );
            }
            tried += 1;
        }
        assert!(tried >= 3, "{name}: {tried} numbers");
    }
}

#[test]
fn null_where_something_is_needed_is_named_and_elsewhere_means_not_known() {
    let schema = jsonschema::validator_for(&flight_schema()).unwrap();
    for (name, text) in samples() {
        let file: Value = serde_json::from_str(&text).unwrap();
        let mut found = Vec::new();
        keys(&file, "", "", &mut found);
        let (mut refused, mut taken) = (0, 0);
        for (field, pointer) in found {
            let mut mutant = file.clone();
            *mutant.pointer_mut(&pointer).unwrap() = Value::Null;
            match read_flight(&mutant.to_string()) {
                Ok(_) => {
                    assert!(schema.is_valid(&mutant), "{name}: only the program takes {field} as null");
                    taken += 1;
                }
                Err(error) if !schema.is_valid(&mutant) => {
                    let whole = field.strip_suffix(".value").unwrap_or(&field);
                    assert!(
                        error.field == field || error.field == whole,
                        "{name}: {field} null gives: {error}"
                    );
                    refused += 1;
                }
                // What is left out may leave the stage or the evidence without what it speaks of.
                Err(error) => {
                    let about = field.starts_with(&error.field) || error.field.starts_with("evidence");
                    assert!(about, "{name}: {field} null gives: {error}");
                }
            }
        }
        assert!(refused > 5 && taken > 5, "{name}: {refused} refused, {taken} taken");
    }
}

/// Source: `nfpa/motor_classes.csv`, limits of NFPA 1122; fractions of A are marked there as from memory.
#[test]
fn motor_classes_have_the_limits_of_nfpa_1122() {
    let table = ReferenceTable::open("nfpa/motor_classes.csv");
    let mut limits = table.worst("limits_Ns");
    for row in table.rows() {
        let Some(class) = MotorClass::ALL.into_iter().find(|class| class.name() == row.text("class")) else {
            assert_eq!(row.text("class"), "H", "model rockets end at G");
            continue;
        };
        let (least_ns, most_ns) = class.impulse_limits_ns();
        limits.see(row, least_ns, row["min_Ns"]);
        limits.see(row, most_ns, row["max_Ns"]);
    }
    limits.assert_within(2 * MotorClass::ALL.len());
}
