//! What the exchange formats say, judged by the schemas of their publishers and by another library.

use serde_json::json;
use std::path::{Path, PathBuf};
use std::process::Command;
use windfall_facts::{Answer, Flight, read_flight};
use windfall_logbook::exchange::{Drawing, Format, Role, Shape, Spot, gpx, outgoing, write};
use windfall_tests::{ReferenceTable, Row};

fn house() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap().to_path_buf()
}

fn reference(name: &str) -> PathBuf {
    house().join("tests/reference").join(name)
}

fn sample(name: &str) -> Flight {
    let text = std::fs::read_to_string(house().join("sample-data/flights").join(name)).unwrap();
    read_flight(&text).unwrap()
}

/// The sample flight that came apart, with a search in vain and an area added: everything a map can show.
fn flight() -> Flight {
    let mut flight = serde_json::to_value(sample("fieldfare-came-apart.json")).unwrap();
    let pieces = flight["evidence"].as_array_mut().unwrap();
    pieces.push(json!({"kind": "sweep", "part": "upper", "seen_from_m": 12, "path":
        [[900.5, 47.5311, 17.285, 4], [901.75, 47.5312, 17.2851, null], [null, 47.5313, 17.2852, null]]}));
    pieces.push(json!({"kind": "area", "part": "upper", "inside": false, "confidence": 0.9, "geometry":
        {"type": "Polygon", "coordinates": [
            [[17.28, 47.53], [17.29, 47.53], [17.29, 47.54], [17.28, 47.53]],
            [[17.285, 47.531], [17.287, 47.533], [17.287, 47.531], [17.285, 47.531]],
            [[17.288, 47.532], [17.289, 47.533], [17.289, 47.532], [17.288, 47.532]]]}}));
    read_flight(&flight.to_string()).unwrap()
}

/// An invented answer to it; no estimator ran.
fn answer() -> Answer {
    let area = json!({"type": "MultiPolygon", "coordinates": [
        [[[17.288, 47.532], [17.29, 47.532], [17.29, 47.534], [17.288, 47.532]]],
        [[[17.291, 47.532], [17.292, 47.532], [17.292, 47.533], [17.291, 47.532]]]]});
    let part = |name: &str, caution: Option<&str>| {
        json!({
            "part": name, "p_apart": 0.9, "aim": {"lat": 47.53312345678, "lon": 17.28901234567},
            "approach": {"lat": 47.5325, "lon": 17.2881, "caution": caution},
            "distance_m": 401.2, "distance_from_pad_m": 401.2, "bearing_true_deg": 58.0,
            "bearing_magnetic_deg": 53.0, "walk_s": 380.0,
            "regions": [{"probability": 0.5, "area_m2": 5200.0, "geometry": area},
                {"probability": 0.9, "area_m2": 21000.0, "geometry": area}],
            "modes": [], "in_field": null, "hazards": []
        })
    };
    serde_json::from_value(json!({
        "format": "windfall-answer/1", "flight": "fieldfare-came-apart",
        "pad": {"lat": 47.5312, "lon": 17.2846}, "from": {"lat": 47.5312, "lon": 17.2846},
        "declination_deg": 5.0,
        "cautions": ["Oddering Lane: mind the traffic.", "20 kV line: never pull anything off it & keep < 10 m away."],
        "parts": [part("lower", None), part("upper", Some("20 kV line"))],
        "sight_lines": [{"evidence": 1, "from": {"lat": 47.5312, "lon": 17.2846},
            "to": {"lat": 47.534, "lon": 17.294}, "bearing_true_deg": 71.0, "moment": "lost"}],
        "why": "", "would_help": null, "surprises": [], "warnings": [], "beliefs": [], "seed": 1,
        "effective_draws": 1000.0, "monte_carlo_error_m": 1.0, "model_version": "-", "elapsed_ms": 0.0
    }))
    .unwrap()
}

/// What `xmllint` says of a text.
fn judged(name: &str, schema: &str, text: &str) -> Result<(), String> {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&file, text).unwrap();
    let output = Command::new("xmllint")
        .args(["--nonet", "--noout", "--schema"])
        .arg(reference(schema))
        .arg(&file)
        .output()
        .unwrap_or_else(|error| panic!("xmllint (Debian: libxml2-utils): {error}"));
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    if output.status.success() { Ok(()) } else { Err(said) }
}

/// Each sample flight without an answer, and the one above with its.
fn exports(format: Format) -> Vec<String> {
    let mut texts: Vec<String> = std::fs::read_dir(house().join("sample-data/flights"))
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.ends_with(".json"))
        .map(|name| write(format, &sample(&name), None).unwrap())
        .collect();
    assert_eq!(texts.len(), 9);
    texts.push(write(format, &flight(), Some(&answer())).unwrap());
    texts
}

/// Source: GPX 1.1 schema of topografix.
#[test]
fn the_official_schema_takes_every_exported_gpx_file() {
    let schema = "topografix/gpx_1_1.xsd";
    let texts = exports(Format::Gpx);
    for (number, text) in texts.iter().enumerate() {
        assert_eq!(judged(&format!("{number}.gpx"), schema, text), Ok(()));
    }
    // The judge does judge: elements out of order, a longitude that is not one, a version.
    let good = texts.last().unwrap();
    for (part, spoilt) in [
        ("version=\"1.1\"", "version=\"1.0\""),
        ("<ele>128</ele>\n  <name>pad</name>", "<name>pad</name><ele>128</ele>"),
        ("lon=\"17.2846\"", "lon=\"180\""),
    ] {
        assert!(good.contains(part), "{part}");
        let verdict = judged("spoilt.gpx", schema, &good.replacen(part, spoilt, 1));
        assert!(verdict.unwrap_err().contains("Schemas validity error"), "{part}");
    }
}

/// Source: OGC KML 2.2 schema.
#[test]
fn the_ogc_schema_takes_every_exported_kml_file() {
    let schema = "ogc/ogckml22.xsd";
    let texts = exports(Format::Kml);
    for (number, text) in texts.iter().enumerate() {
        assert_eq!(judged(&format!("{number}.kml"), schema, text), Ok(()));
    }
    let good = texts.last().unwrap();
    for (part, spoilt) in [
        ("<styleUrl>#sight_line</styleUrl>", "<styleUrl>#sight_line</styleUrl><name>late</name>"),
        ("<color>ff2222cc</color>", "<color>red</color>"),
        ("outerBoundaryIs>", "outerBoundary>"),
    ] {
        assert!(good.contains(part), "{part}");
        let verdict = judged("spoilt.kml", schema, &good.replace(part, spoilt));
        assert!(verdict.unwrap_err().contains("Schemas validity error"), "{part}");
    }
}

/// Every point of a drawing in the order in which gpxpy lists them: places, routes, tracks.
fn points(drawing: &Drawing) -> Vec<(Option<Role>, String, Spot)> {
    let mut points = [Vec::new(), Vec::new(), Vec::new()];
    for item in &drawing.items {
        let name = item.about.name.clone().unwrap_or_default();
        let (list, spots) = match &item.shape {
            Shape::Place(spot) => (0, vec![*spot]),
            Shape::Path(path) => (if item.role == Some(Role::Route) { 1 } else { 2 }, path.clone()),
            Shape::Ground(_) => continue,
        };
        points[list].extend(spots.into_iter().map(|spot| (item.role, name.clone(), spot)));
    }
    points.concat()
}

/// Each number against the one that gpxpy read.
fn compared(table: &ReferenceTable, rows: &[&Row], drawing: &Drawing) -> [usize; 3] {
    let points = points(drawing);
    assert_eq!(points.len(), rows.len());
    let [mut degrees, mut ele, mut unix] = ["degrees", "ele_m", "unix_s"].map(|it| table.worst(it));
    let mut seen = [0; 3];
    for (row, (role, name, spot)) in rows.iter().zip(points) {
        assert_eq!(row.text("name"), name);
        assert_eq!(row.text("kind"), role.map_or("", Role::word));
        degrees.see(row, spot.at.lat, row["lat_deg"]);
        degrees.see(row, spot.at.lon, row["lon_deg"]);
        assert_eq!(row.text("ele_m").is_empty(), spot.elevation_m.is_none(), "{name}");
        assert_eq!(row.text("unix_s").is_empty(), spot.time.is_none(), "{name}");
        seen[0] += 2;
        if let Some(elevation_m) = spot.elevation_m {
            ele.see(row, elevation_m, row["ele_m"]);
            seen[1] += 1;
        }
        if let Some(time) = spot.time {
            unix.see(row, time.timestamp_micros() as f64 / 1e6, row["unix_s"]);
            seen[2] += 1;
        }
    }
    degrees.assert_within(seen[0]);
    ele.assert_within(seen[1]);
    unix.assert_within(seen[2]);
    seen
}

/// Source: gpxpy/exported.csv, gpxpy on our export.
#[test]
fn gpxpy_finds_in_our_gpx_the_numbers_that_we_wrote() {
    let drawing = outgoing::drawing_of(&flight(), Some(&answer()));
    let text = gpx::write(&drawing).unwrap();
    let stored = reference("gpxpy/exported.gpx");
    if std::fs::read_to_string(&stored).ok().as_ref() != Some(&text) {
        let new = Path::new(env!("CARGO_TARGET_TMPDIR")).join("exported.gpx");
        std::fs::write(&new, &text).unwrap();
        panic!(
            "the export has changed: copy {} to {}, then run tests/oracle/gpx.py",
            new.display(),
            stored.display()
        );
    }
    let table = ReferenceTable::open("gpxpy/exported.csv");
    let rows: Vec<&Row> = table.rows().iter().collect();
    assert_eq!(compared(&table, &rows, &drawing), [20, 1, 2]);
}

/// Source: gpxpy/written.csv, files that gpxpy wrote, as those of another device.
#[test]
fn gpx_1_0_and_1_1_of_another_library_come_in_with_its_numbers() {
    let table = ReferenceTable::open("gpxpy/written.csv");
    for name in ["written_1_0.gpx", "written_1_1.gpx"] {
        let text = std::fs::read_to_string(reference("gpxpy").join(name)).unwrap();
        let rows: Vec<&Row> = table.rows().iter().filter(|row| row.text("file") == name).collect();
        let seen = compared(&table, &rows, &gpx::read(&text).unwrap());
        assert_eq!(seen[0], 50);
        assert!(seen[1] > 5 && seen[2] > 5, "{seen:?}");
    }
}
