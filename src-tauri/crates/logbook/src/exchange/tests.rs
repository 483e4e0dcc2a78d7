//! Round trips, hand-written files of other programs, and files spoilt at random.

use super::*;
use chrono::DateTime;
use serde_json::{Value, json};
use windfall_facts::{Evidence, HazardKind, LatLon, read_flight};

const SAMPLES: [&str; 4] = [
    include_str!("../../../../../sample-data/flights/fieldfare-came-apart.json"),
    include_str!("../../../../../sample-data/flights/whimbrel-two-stage.json"),
    include_str!("../../../../../sample-data/flights/plover-two-observers.json"),
    include_str!("../../../../../sample-data/flights/siskin-track.json"),
];

/// Marsaglia's xorshift: seeded, so that a failure comes again.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, end: usize) -> usize {
        usize::try_from(self.next() % u64::try_from(end).unwrap()).unwrap()
    }

    /// Decimals as instruments write them.
    fn decimal(&mut self, most: f64, places: i32) -> f64 {
        let unit = f64::from(u32::try_from(self.next() >> 32).unwrap()) / f64::from(u32::MAX);
        ((2.0 * unit - 1.0) * most * 10_f64.powi(places)).round() / 10_f64.powi(places)
    }

    fn maybe<T>(&mut self, value: T) -> Option<T> {
        (self.below(2) == 0).then_some(value)
    }

    fn words(&mut self) -> String {
        const WORDS: [&str; 9] =
            ["lower", "<b>&amp;", "\"quoted\", it's", "=SUM(A1)", "östlich", "火", "a\nb", "]]>", "; 50 %"];
        (0..=self.below(3)).map(|_| WORDS[self.below(WORDS.len())]).collect::<Vec<_>>().join(" ")
    }

    fn spot(&mut self) -> Spot {
        let at = LatLon { lat: self.decimal(90.0, 7), lon: self.decimal(179.9, 7) };
        let (height, radius) = (self.decimal(900.0, 2), self.decimal(50.0, 1).abs() + 0.1);
        let seconds = i64::try_from(self.next() % 4_000_000_000).unwrap();
        let nanos = u32::try_from(self.next() % 1000).unwrap() * 1_000_000;
        Spot {
            at,
            elevation_m: self.maybe(height),
            time: DateTime::from_timestamp(seconds, nanos).filter(|_| self.below(2) == 0),
            accuracy_m: self.maybe(radius),
        }
    }

    fn about(&mut self) -> About {
        let (name, note, part) = (self.words(), self.words(), self.words());
        About { name: self.maybe(name), note: self.maybe(note), part: self.maybe(part), ..About::default() }
    }

    fn ring(&mut self, outer: bool) -> Value {
        let [east, north] = [self.decimal(150.0, 6), self.decimal(70.0, 6)];
        let corners = [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [0.0, 1.0], [0.0, 0.0]];
        let mut ring: Vec<Value> = corners.iter().map(|[e, n]| json!([east + e, north + n])).collect();
        if !outer {
            ring.reverse();
        }
        ring.into()
    }

    fn drawing(&mut self, with_areas: bool) -> Drawing {
        let (title, note) = (self.words(), self.words());
        let mut items = Vec::new();
        for _ in 0..self.below(6) {
            let role = [Role::Find, Role::Pad, Role::Aim, Role::Approach][self.below(4)];
            items.push(Item { role: Some(role), shape: Shape::Place(self.spot()), about: self.about() });
        }
        for role in [Role::Route, Role::Sweep, Role::SightLine] {
            let path = (0..2 + self.below(5)).map(|_| self.spot()).collect();
            let mut about = self.about();
            about.seen_from_m = self.maybe(12.5);
            about.sweep_width_m = self.maybe(8.0);
            items.push(Item { role: Some(role), shape: Shape::Path(path), about });
        }
        if with_areas {
            let polygon = [self.ring(true), self.ring(false), self.ring(false)];
            let line = json!([[1.5, 2.25], [3.0, 4.0]]);
            for (role, geometry) in [
                (Role::Region, json!({"type": "MultiPolygon", "coordinates": [polygon, [self.ring(true)]]})),
                (Role::Region, json!({"type": "MultiPolygon", "coordinates": [[self.ring(true)]]})),
                (Role::Area, json!({"type": "Polygon", "coordinates": polygon})),
                (Role::Outline, json!({"type": "Polygon", "coordinates": [self.ring(true)]})),
                (Role::Hazard, json!({"type": "LineString", "coordinates": line})),
                (Role::Hazard, json!({"type": "MultiLineString", "coordinates": [line, line]})),
                (Role::Hazard, json!({"type": "Point", "coordinates": [1.0, 2.0]})),
            ] {
                let mut about = self.about();
                match role {
                    Role::Region => about.probability = Some(0.5),
                    Role::Area => (about.inside, about.confidence) = (Some(false), Some(0.75)),
                    Role::Hazard => about.hazard = Some(HazardKind::PowerLine),
                    _ => {}
                }
                items.push(Item { role: Some(role), shape: Shape::Ground(geometry), about });
            }
        }
        Drawing { title: self.maybe(title), note: self.maybe(note), items, not_understood: Vec::new() }
    }
}

#[test]
fn a_drawing_comes_back_from_gpx_and_geojson_as_it_was() {
    let mut dice = Dice(11);
    for _ in 0..200 {
        let drawing = dice.drawing(false);
        assert_eq!(gpx::read(&gpx::write(&drawing).unwrap()).unwrap(), drawing);
        let mut drawing = dice.drawing(true);
        for item in &mut drawing.items {
            match &mut item.shape {
                Shape::Path(path) if path.iter().any(|spot| spot.elevation_m.is_none()) => {
                    path.iter_mut().for_each(|spot| spot.elevation_m = None);
                }
                _ => {}
            }
        }
        assert_eq!(geojson::read(&geojson::write(&drawing).unwrap()).unwrap(), drawing);
    }
}

#[test]
fn a_drawing_comes_back_from_kml_but_for_times_and_accuracies_along_a_line() {
    let mut dice = Dice(12);
    for _ in 0..200 {
        let mut drawing = dice.drawing(true);
        let text = kml::write(&drawing).unwrap();
        for item in &mut drawing.items {
            if let Shape::Path(path) = &mut item.shape {
                for spot in path {
                    (spot.time, spot.accuracy_m) = (None, None);
                }
            }
        }
        assert_eq!(kml::read(&text).unwrap(), drawing);
    }
}

#[test]
fn what_xml_or_gpx_cannot_hold_is_written_as_what_they_can() {
    let spot = Spot::new(LatLon { lat: 1.0, lon: 180.0 });
    let about = About { name: Some("a\0b\u{b}c".into()), ..About::default() };
    let item = Item { role: Some(Role::Pad), shape: Shape::Place(spot), about };
    let drawing = Drawing { items: vec![item], ..Drawing::default() };
    let back = gpx::read(&gpx::write(&drawing).unwrap()).unwrap();
    assert_eq!(back.items[0].about.name.as_deref(), Some("a\u{fffd}b\u{fffd}c"));
    // The same meridian: the schema of GPX takes -180 and refuses 180.
    assert_eq!(back.items[0].shape, Shape::Place(Spot::new(LatLon { lat: 1.0, lon: -180.0 })));
    assert_eq!(kml::read(&kml::write(&drawing).unwrap()).unwrap().items[0].shape, drawing.items[0].shape);
}

#[test]
fn nesting_without_end_is_no_work_without_end() {
    for element in ["Placemark", "MultiGeometry", "Folder", "name"] {
        let (open, close) = (format!("<{element}>"), format!("</{element}>"));
        let text = format!("<kml>{}{}</kml>", open.repeat(100_000), close.repeat(100_000));
        assert_eq!(kml::read(&text).unwrap().items, []);
    }
    let open = "{\"type\":\"GeometryCollection\",\"geometries\":[";
    let nested = format!("{}{}", open.repeat(100_000), "]}".repeat(100_000));
    assert!(geojson::read(&nested).unwrap_err().to_string().contains("recursion limit"));
}

/// A flight with a walk, whose evidence on the map is all there is on a map file.
fn searched() -> Flight {
    let mut flight: Value = serde_json::from_str(SAMPLES[0]).unwrap();
    let pieces = flight["evidence"].as_array_mut().unwrap();
    pieces.push(json!({"kind": "sweep", "part": "upper", "seen_from_m": 12, "path":
        [[900.5, 47.5311, 17.285, 4], [901.75, 47.5312, 17.2851, null], [null, 47.5313, 17.2852, null]]}));
    pieces.push(json!({"kind": "area", "part": "upper", "inside": false, "confidence": 0.9, "geometry":
        {"type": "Polygon", "coordinates": [[[17.28, 47.53], [17.29, 47.53], [17.29, 47.54], [17.28, 47.53]]]}}));
    pieces.push(json!({"kind": "find", "part": "upper", "at": {"lat": 1, "lon": 2}, "set_aside": true}));
    read_flight(&flight.to_string()).unwrap()
}

fn on_the_map(flight: &Flight, areas: bool) -> Vec<Evidence> {
    let kept = |piece: &&Evidence| match piece {
        Evidence::Find(_) | Evidence::Sweep(_) => !piece.set_aside(),
        Evidence::Area(_) => areas,
        _ => false,
    };
    flight.evidence.iter().filter(kept).cloned().collect()
}

#[test]
fn what_a_flight_shows_on_a_map_comes_back_into_a_flight_that_lacks_it() {
    let flight = searched();
    let mut bare = flight.clone();
    (bare.evidence, bare.field) = (Vec::new(), None);
    for format in [Format::Gpx, Format::GeoJson] {
        let text = write(format, &flight, None).unwrap();
        let Brought::Drawing(drawing) = read(format, text.as_bytes()).unwrap() else { panic!("a drawing") };
        let offer = incoming::offer(&drawing, &bare);
        assert_eq!(offer.not_taken, [""; 0], "{format}");
        let pad = offer.pad.unwrap();
        assert_eq!(pad, flight.pad);
        let back = offer.added_to(&bare).unwrap();
        let areas = format == Format::GeoJson;
        assert_eq!(back.evidence, on_the_map(&flight, areas), "{format}");
        if areas {
            assert_eq!(back.field.as_ref().unwrap().hazards, flight.field.as_ref().unwrap().hazards);
            assert!(back.field.unwrap().outline.is_some());
        }
        // A second time there is nothing new.
        let again = incoming::offer(&drawing, &flight);
        assert_eq!(again.evidence, [], "{format}");
        assert_eq!(again.added_to(&flight).unwrap(), flight);
    }
}

#[test]
fn finds_come_back_from_csv_and_stay_with_their_flight() {
    let flight = searched();
    let text = write(Format::Csv, &flight, None).unwrap();
    assert_eq!(
        text,
        "flight,part,lat_deg,lon_deg,accuracy_m,condition\r\n\
         fieldfare-came-apart,lower,47.531002,17.283813,4,\"motor tube bent, shock cord torn\"\r\n"
    );
    let drawing = csv::read_finds(&text).unwrap();
    let mut bare = flight.clone();
    bare.evidence.clear();
    let back = incoming::offer(&drawing, &bare).added_to(&bare).unwrap();
    assert_eq!(back.evidence.len(), 1);
    assert!(flight.evidence.contains(&back.evidence[0]));
    let other = read_flight(SAMPLES[1]).unwrap();
    assert_eq!(
        incoming::offer(&drawing, &other).not_taken,
        ["item 1: it belongs to flight \"fieldfare-came-apart\""]
    );
}

#[test]
fn the_list_of_flights_has_a_row_each_and_no_formula() {
    let mut flights: Vec<Flight> = SAMPLES.iter().map(|text| read_flight(text).unwrap()).collect();
    flights[1].title = Some("=HYPERLINK(\"x\")".into());
    let rows: Vec<(&Flight, Option<&Answer>)> = flights.iter().map(|flight| (flight, None)).collect();
    let text = csv::write_flights(&rows).unwrap();
    let mut reader = ::csv::Reader::from_reader(text.as_bytes());
    let head = reader.headers().unwrap().clone();
    let column = |name: &str| head.iter().position(|it| it == name).unwrap();
    let records: Vec<_> = reader.records().map(Result::unwrap).collect();
    assert_eq!(records.len(), 4);
    assert_eq!(&records[0][column("found")], "lower");
    assert_eq!(&records[0][column("wind_speed_mps")], "2.5");
    assert_eq!(&records[1][column("title")], "'=HYPERLINK(\"x\")");
    assert_eq!(&records[1][column("motors")], "C6-0 + C6-7");
    assert!(records.iter().all(|row| row.iter().all(|cell| !cell.starts_with(['=', '+', '-', '@']))));
}

#[test]
fn waypoints_named_by_hand_are_finds_and_pads_and_the_rest_is_named() {
    let text = r#"<gpx version="1.1" creator="by hand" xmlns="http://www.topografix.com/GPX/1/1">
        <wpt lat="47.53" lon="17.28"><name>Launch Pad</name></wpt>
        <wpt lat="47.54" lon="17.29"><name>Found: UPPER</name><desc>in a hedge</desc></wpt>
        <wpt lat="47.55" lon="17.30"><name>car</name></wpt>
        <rte><name>plan</name><rtept lat="1" lon="1"/><rtept lat="1" lon="2"/></rte>
        <trk><name>walk</name><trkseg>
          <trkpt lat="47.1" lon="17.1"><time>2026-05-16T09:00:00Z</time></trkpt>
          <trkpt lat="47.2" lon="17.1"><time>2026-05-16T09:30:10Z</time></trkpt>
          <trkpt lat="47.3" lon="17.1"><time>2026-05-16T09:30:10Z</time></trkpt>
          <trkpt lat="47.4" lon="17.1"><time>2026-05-16T09:30:11.5Z</time></trkpt></trkseg></trk></gpx>"#;
    let flight = read_flight(SAMPLES[0]).unwrap(); // launched 2026-05-16T09:22:10Z
    let offer = incoming::offer(&gpx::read(text).unwrap(), &flight);
    assert_eq!(offer.pad.map(|pad| pad.lat), Some(47.53));
    assert_eq!(
        serde_json::to_value(&offer.evidence).unwrap(),
        json!([
            {"kind": "find", "part": "upper", "at": {"lat": 47.54, "lon": 17.29}, "accuracy_m": null,
             "condition": "in a hedge", "id": null, "set_aside": false},
            {"kind": "sweep", "part": null, "seen_from_m": null, "sweep_width_m": null, "id": null, "set_aside": false, "path":
             [[480.0, 47.2, 17.1, null], [null, 47.3, 17.1, null], [481.5, 47.4, 17.1, null]]},
        ])
    );
    assert_eq!(
        offer.not_taken,
        [
            "car: \"car\" is no part of this rocket; it has lower, upper, and the pad is called pad",
            "plan: a route is a plan; only a walked track says where was searched",
            "walk: 1 points from before the launch",
            "walk: the times of 1 points, which do not rise",
        ]
    );
    assert_eq!(offer.added_to(&flight).unwrap().evidence.len(), flight.evidence.len() + 2);
}

#[test]
fn an_offer_that_would_make_the_flight_impossible_is_refused_by_field() {
    let flight = read_flight(SAMPLES[0]).unwrap();
    let mut drawing = Drawing::default();
    let far = DateTime::from_timestamp(4_000_000_000, 0);
    let spot = Spot { time: far, ..Spot::new(LatLon { lat: 1.0, lon: 2.0 }) };
    let path = Shape::Path(vec![spot, Spot { time: None, ..spot }]);
    drawing.items.push(Item { role: Some(Role::Sweep), shape: path, about: About::default() });
    let error = incoming::offer(&drawing, &flight).added_to(&flight).unwrap_err();
    assert!(error.to_string().starts_with("evidence[3].path[0][0]: "), "{error}");
}

/// Written by hand: KML 2.3 and its forerunner with tracks, folders, several shapes, and what is not read.
#[test]
fn kml_of_other_programs_comes_in() {
    let text = r##"<kml xmlns="http://www.opengis.net/kml/2.2" xmlns:gx="http://www.google.com/kml/ext/2.2"><Document>
      <name>Day</name><NetworkLink/><Folder><name>inner</name>
      <Placemark><name>lower</name><TimeStamp><when>2026-05</when></TimeStamp>
        <ExtendedData><Data name="part"><value>not ours</value></Data></ExtendedData>
        <Point><coordinates>
          17.28,47.53,120
        </coordinates></Point></Placemark>
      <Placemark><gx:Track><when>2026-05-16T09:00:00Z</when><when>2026-05-16T09:00:01Z</when>
        <gx:coord>17.1 47.1 1</gx:coord><gx:coord>17.2 47.2 1</gx:coord></gx:Track></Placemark>
      <Placemark><MultiGeometry><LineString><coordinates>1,2 3,4</coordinates></LineString>
        <Point><coordinates>5,6</coordinates></Point></MultiGeometry></Placemark>
      <Placemark/></Folder></Document></kml>"##;
    let drawing = kml::read(text).unwrap();
    assert_eq!(drawing.title.as_deref(), Some("Day"));
    assert_eq!(drawing.items.len(), 4);
    let Shape::Place(spot) = drawing.items[0].shape else { panic!("a place") };
    assert_eq!((spot.at, spot.elevation_m), (LatLon { lat: 47.53, lon: 17.28 }, Some(120.0)));
    assert_eq!(drawing.items[0].about.part, None);
    let Shape::Path(path) = &drawing.items[1].shape else { panic!("a path") };
    assert_eq!(path.iter().filter(|spot| spot.time.is_some()).count(), 2);
    assert_eq!(
        drawing.not_understood,
        [
            "<Data> is not read (once)",
            "<NetworkLink> is not read (once)",
            "<Placemark without a geometry> is not read (once)"
        ]
    );
    let said = |good: &str, bad: &str| kml::read(&text.replacen(good, bad, 1)).unwrap_err().to_string();
    assert_eq!(
        said("17.28,47.53,120", "17.28,97.53,120"),
        "KML, line 6, Placemark[0].Point.coordinates[0]: 97.53 is out of range; \
         allowed is -90 to 90, with a decimal point"
    );
    assert_eq!(
        said("<when>2026-05-16T09:00:01Z</when>", ""),
        "KML, line 8, column 18, Placemark[1].Track: times: 1, places: 2; as many of both are needed"
    );
}

#[test]
fn geojson_of_other_programs_comes_in_and_a_bad_one_is_named_by_line_and_field() {
    // Source of the shapes: RFC 7946, section 1.5 and appendix A.
    let text = r#"{"type": "FeatureCollection", "features": [
{"type": "Feature", "geometry": {"type": "Point", "coordinates": [102.0, 0.5]}, "properties": {"name": "lower", "part": 7}},
{"type": "Feature", "geometry": {"type": "GeometryCollection", "geometries": [
  {"type": "Point", "coordinates": [100.0, 0.0]},
  {"type": "MultiLineString", "coordinates": [[[100.0, 0.0], [101.0, 1.0]], [[102.0, 2.0], [103.0, 3.0]]]}]}, "properties": null},
{"type": "Feature", "geometry": null, "properties": {}},
{"type": "Feature", "geometry": {"type": "Polygon", "coordinates": [[[100.0, 0.0], [101.0, 0.0], [101.0, 1.0],
  [100.0, 1.0], [100.0, 0.0]]]}, "properties": {"role": "area", "inside": true, "confidence": 0.8}}]}"#;
    let drawing = geojson::read(text).unwrap();
    assert_eq!(drawing.items.len(), 5);
    assert_eq!(drawing.items[0].about.name.as_deref(), Some("lower"));
    assert_eq!(drawing.not_understood, ["features[2].geometry is null"]);
    let said = |good: &str, bad: &str| geojson::read(&text.replacen(good, bad, 1)).unwrap_err().to_string();
    assert_eq!(
        said("[103.0, 3.0]", "[103.0, 93.0]"),
        "GeoJSON, line 5, column 100, features[1].geometry.geometries[1].coordinates[1][1][1]: \
         93 is out of range; allowed is -90 to 90, with a decimal point"
    );
    assert_eq!(
        said("[100.0, 1.0], [100.0, 0.0]", "[100.0, 1.0]"),
        "GeoJSON, line 7, column 69, features[3].geometry.coordinates[0]: \
         a ring has at least 4 positions, and its last repeats its first"
    );
    assert_eq!(
        said("0.8", "80"),
        "GeoJSON, line 8, column 95, features[3].properties.confidence: \
         80 is out of range; allowed is 0.5 to 1, with a decimal point"
    );
    assert_eq!(
        said("102.0, 0.5", "102,0, 0,5"),
        "GeoJSON, line 2, column 66, features[0].geometry.coordinates: numbers: 4; \
         allowed are longitude, latitude and a height, with decimal points"
    );
    let unknown = "GeoJSON, line 1, column 15: unknown variant `Fold`, expected one of ";
    assert!(said("FeatureCollection", "Fold").starts_with(unknown));
    assert_eq!(
        said("[[100.0, 0.0], [101.0, 1.0]]", "[[100.0, 0.0]]"),
        "GeoJSON, line 5, column 47, features[1].geometry.geometries[1].coordinates[0]: \
         a line has at least 2 positions"
    );
    assert!(said("0.5]", "0.5").starts_with("GeoJSON, line 2, column "));
}

#[test]
fn areas_are_written_with_the_winding_of_rfc_7946_whatever_theirs_was() {
    let clockwise = json!([[0.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 0.0], [0.0, 0.0]]);
    let shape = Shape::Ground(json!({"type": "Polygon", "coordinates": [clockwise, clockwise]}));
    let item = Item { role: Some(Role::Outline), shape, about: About::default() };
    let text = geojson::write(&Drawing { items: vec![item], ..Drawing::default() }).unwrap();
    let written: Value = serde_json::from_str(&text).unwrap();
    let rings = &written["features"][0]["geometry"]["coordinates"];
    // Section 3.1.6: exterior rings are counterclockwise, and holes are clockwise.
    assert_eq!(rings[0], json!([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.0, 0.0]]));
    assert_eq!(rings[1], clockwise);
}

#[test]
fn a_flight_file_comes_back_and_a_bad_one_is_named_by_line_and_field() {
    for text in SAMPLES {
        let flight = flight_file::read(text).unwrap();
        assert_eq!(flight_file::read(&flight_file::write(&flight).unwrap()).unwrap(), flight);
    }
    let line = SAMPLES[0].lines().position(|line| line.contains("\"dry_mass_g\": 78")).unwrap() + 1;
    let bad = SAMPLES[0].replace("\"dry_mass_g\": 78", "\"dry_mass_g\": 78000");
    assert_eq!(
        flight_file::read(&bad).unwrap_err().to_string(),
        format!(
            "flight file, line {line}, column 23, rocket.stages[0].dry_mass_g: 78000 is out of range: allowed is 1 to 1500 g"
        )
    );
    let cut = &SAMPLES[0][..200];
    assert!(flight_file::read(cut).unwrap_err().to_string().starts_with("flight file, line 5, column "));
}

#[test]
fn formats_are_known_by_word_and_by_the_ending_of_a_name() {
    for format in Format::ALL {
        assert_eq!(Format::of(format.word()), Ok(format));
        assert_eq!(Format::of(&format!("My walk.v2.{}", format.extension().to_uppercase())), Ok(format));
    }
    assert_eq!(
        Format::of("walk.doc").unwrap_err().to_string(),
        "format: \"walk.doc\" is none of this program's; allowed are flight (*.json), gpx (*.gpx), kml (*.kml), \
         geojson (*.geojson), csv (*.csv), archive (*.jsonl)"
    );
}

#[test]
fn bytes_that_are_not_utf_8_are_refused_with_their_line() {
    let latin = b"<gpx>\n<name>\xf6stlich</name></gpx>";
    assert_eq!(
        read(Format::Gpx, latin).unwrap_err().to_string(),
        "GPX, line 2, column 7: it is not UTF-8, the only encoding that is read; save it as UTF-8"
    );
    let large = vec![b' '; MOST_BYTES + 1];
    assert!(matches!(read(Format::Kml, &large), Err(ExchangeError::TooLarge { .. })));
}

#[test]
fn no_spoilt_file_ends_in_a_panic_and_what_is_read_can_be_written_again() {
    let flight = searched();
    let mut dice = Dice(13);
    let (mut taken, mut refused) = (0, 0);
    for format in [Format::FlightFile, Format::Gpx, Format::Kml, Format::GeoJson, Format::Csv] {
        let good = write(format, &flight, None).unwrap().into_bytes();
        for _ in 0..1500 {
            let mut bytes = good.clone();
            for _ in 0..=dice.below(2) {
                if bytes.is_empty() {
                    break;
                }
                let at = dice.below(bytes.len());
                let end = (at + dice.below(40)).min(bytes.len());
                match dice.below(5) {
                    0 => bytes[at] = u8::try_from(dice.below(256)).unwrap(),
                    1 => drop(bytes.drain(at..end)),
                    2 => bytes.extend_from_within(at..end),
                    3 => bytes.insert(at, b"<>&\"{}[],;-.0e"[dice.below(14)]),
                    _ => bytes.truncate(at.max(1)),
                }
            }
            match read(format, &bytes) {
                Ok(Brought::Drawing(drawing)) => {
                    taken += 1;
                    drop(incoming::offer(&drawing, &flight).added_to(&flight));
                    assert!(gpx::write(&drawing).and_then(|text| gpx::read(&text)).is_ok());
                    assert!(kml::write(&drawing).and_then(|text| kml::read(&text)).is_ok());
                    match geojson::write(&drawing) {
                        Ok(text) => assert!(geojson::read(&text).is_ok()),
                        Err(error) => assert!(error.to_string().contains("at least 2 positions")),
                    }
                }
                Ok(Brought::Flight(flight)) => {
                    taken += 1;
                    assert!(flight_file::write(&flight).and_then(|text| flight_file::read(&text)).is_ok());
                }
                Err(error) => {
                    refused += 1;
                    assert!(error.to_string().starts_with(&format.to_string()), "{error}");
                }
            }
        }
    }
    // Neither all taken nor all refused: the spoiling is worth the name.
    assert!(taken > 300 && refused > 300, "{taken} taken, {refused} refused");
}

#[test]
fn all_flights_go_into_one_file_and_each_takes_its_own_out_of_it() {
    let mut flights: Vec<_> = SAMPLES.iter().map(|text| read_flight(text).unwrap()).collect();
    // Another one from the same field.
    let mut second = flights[0].clone();
    second.id = Some("fieldfare-again".into());
    flights.push(second);
    let rows: Vec<_> = flights.iter().map(|flight| (flight, None)).collect();
    for format in [Format::Gpx, Format::Kml, Format::GeoJson] {
        let text = write_all(format, &rows).unwrap();
        let Brought::Drawing(drawing) = read(format, text.as_bytes()).unwrap() else { panic!() };
        assert_eq!(drawing.not_understood, Vec::<String>::new(), "{format}");
        let pads: Vec<_> = drawing.items.iter().filter(|it| it.role == Some(Role::Pad)).collect();
        let of: Vec<_> = pads.iter().map(|it| it.about.flight.as_deref()).collect();
        assert_eq!(of, flights.iter().map(|it| it.id.as_deref()).collect::<Vec<_>>(), "{format}");
        assert!(pads.iter().all(|it| it.about.name.as_deref().unwrap().ends_with(": pad")), "{format}");
        for flight in &flights {
            let mut bare = flight.clone();
            bare.evidence.clear();
            let finds = |all: &[Evidence]| all.iter().filter(|it| matches!(it, Evidence::Find(_))).count();
            let offer = incoming::offer(&drawing, &bare);
            assert_eq!(finds(&offer.evidence), finds(&flight.evidence), "{format}");
            assert!(offer.pad.is_some(), "{format}");
        }
    }
    // The field that two of them share is drawn once.
    let hazards = |flights: &[windfall_facts::Flight]| {
        let of_field = |it: &&Item| matches!(it.role, Some(Role::Hazard | Role::Outline));
        outgoing::drawing_of_all(flights).items.iter().filter(of_field).count()
    };
    assert!(hazards(&flights[..1]) > 0);
    assert_eq!(hazards(&[flights[0].clone(), flights[4].clone()]), hazards(&flights[..1]));
    assert_eq!(write_all(Format::Csv, &rows).unwrap().lines().count(), 1 + flights.len());
    assert!(matches!(write_all(Format::FlightFile, &rows), Err(ExchangeError::CannotHold { .. })));
}
