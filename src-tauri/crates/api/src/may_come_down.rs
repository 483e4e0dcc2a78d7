use crate::day_plan::{MOST_TILT_DEG, ReadyFlight, a_way};
use crate::import_map::line;
use crate::sketch_rocket::ComesDownOn;
use crate::{Api, ApiError, call::guarded, clock};
use geo::{Centroid, CoordsIter, MultiPolygon, Polygon};
use serde::{Deserialize, Serialize};
use windfall_facts::{HazardChance, LatLon, North, PartAnswer, Sentence};
use windfall_inference::{Near, ahead, expected_opening};
use windfall_quantities::{LocalFrame, Offset, Position};

/// Of which rocket it is asked.
#[derive(Clone, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AskComeDown {
    /// Identifier in the fleet; all that are loaded without it.
    pub rocket: Option<String>,
}

/// Of which rocket leans of the rod are compared.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct AskLeans {
    /// Identifier in the fleet; the first that is loaded without it.
    pub rocket: Option<String>,
    /// Which way the rod is to lean, degrees from true north; against the wind without it.
    pub toward_deg: Option<f64>,
}

/// Where what is loaded may come down, before it flies.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MayComeDown {
    /// The pad.
    pub pad: LatLon,
    /// Nine of ten come down no further from the pad, metres: the farthest of all rockets.
    pub within_m: f64,
    /// Which way from the pad, degrees from true north; null if it may be any way.
    pub toward_deg: Option<f64>,
    /// The rockets that it speaks of.
    pub rockets: Vec<ComesDown>,
}

/// Where one rocket may come down with the motor and the device of today.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ComesDown {
    /// Identifier in the fleet.
    pub rocket: String,
    /// Its name.
    pub name: String,
    /// Motor of the last stage, as it is written.
    pub motor: Option<String>,
    /// What it comes down on.
    pub comes_down_on: ComesDownOn,
    /// Nine of ten come down no further from the pad, metres.
    pub within_m: f64,
    /// Which way from the pad, degrees from true north; null if it may be any way.
    pub toward_deg: Option<f64>,
    /// Of each of its parts, the area of nine in ten, a GeoJSON `MultiPolygon`.
    pub areas: Vec<serde_json::Value>,
    /// Chance that it lies inside the field, of the part that leaves it soonest; null without an outline.
    pub in_field: Option<f64>,
    /// Chance that a part lies on each hazard, the likeliest first; of several parts the greatest.
    pub hazards: Vec<HazardChance>,
    /// Said of the wind and the ground, most urgent first.
    pub cautions: Vec<Sentence>,
}

/// Leans of the rod one way, held against one another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Leans {
    /// The way that the rod leans, degrees from true north.
    pub toward_deg: f64,
    /// Whether that is where the wind comes from, or a way that the flyer chose.
    pub into_wind: bool,
    /// Marked that way, and so near that a rocket from a leaning rod that stays closed may hit it; nearest first.
    pub ahead: Vec<Near>,
    /// From upright on.
    pub leans: Vec<Lean>,
    /// Which of them keeps it best: inside the field and off what is marked, or nearest to the pad without an outline.
    /// Upright, whatever it does, where something is ahead: nobody aims at a road or at houses.
    pub best: usize,
    /// The safety code aims no further from the vertical, degrees.
    pub most_deg: f64,
}

/// Where a rocket may come down from a rod that leans so far.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Lean {
    /// Degrees from the vertical.
    pub tilt_deg: f64,
    /// As [`ComesDown::within_m`].
    pub within_m: f64,
    /// As [`ComesDown::in_field`].
    pub in_field: Option<f64>,
    /// The likeliest of [`ComesDown::hazards`].
    pub hazard: Option<HazardChance>,
}

/// Leans that are compared, degrees: a rod shows no finer, and further ones go more along than up. Judgement.
const LEANS_DEG: [f64; 4] = [0.0, 5.0, 10.0, 15.0];
/// A lean must be better than one that is nearer to upright by this chance, or by so many metres. Judgement.
const BETTER: f64 = 0.01;
const NEARER_M: f64 = 5.0;
/// How far a rocket goes that stays closed, for each metre of height: 4 / tan(75 degrees) for a shot without drag from the
/// furthest lean that is compared. With drag it goes less far.
const REACH: f64 = 1.07;

impl Lean {
    fn is_better_than(&self, other: &Self) -> bool {
        let kept = |it: &Self| Some(it.in_field? - it.hazard.as_ref().map_or(0.0, |it| it.probability));
        match (kept(self), kept(other)) {
            (Some(a), Some(b)) => a > b + BETTER,
            _ => self.within_m < other.within_m - NEARER_M,
        }
    }
}

/// More are not worked out: somebody waits for the screen. Judgement.
const MOST_ROCKETS: usize = 4;
/// A way is named if the middle of the area lies this share of the farthest from the pad, or more: judgement.
const ASIDE: f64 = 0.15;

impl Api {
    /// Where today's load may come down: each rocket's cloud before its flight, with the wind as it was read. Null unless
    /// a rocket is loaded, the pad is known and the wind was read today: nothing is claimed that was not entered.
    ///
    /// # Errors
    /// When no logbook is open, it cannot be read, or a rocket lies outside the model's domain.
    pub fn may_come_down(&self, asked: &AskComeDown) -> Result<Option<MayComeDown>, ApiError> {
        guarded(|| {
            let day = self.day()?;
            if day.load.is_empty() || day.winds().next().is_none() || day.pad.is_none() {
                return Ok(None);
            }
            let wanted = |ready: &ReadyFlight| asked.rocket.as_ref().is_none_or(|it| *it == ready.rocket);
            let mut all: Option<MayComeDown> = None;
            for ready in self.ready_flights()?.into_iter().filter(wanted).take(MOST_ROCKETS) {
                let pad = LatLon { lat: ready.flight.pad.lat, lon: ready.flight.pad.lon };
                let one = self.comes_down(ready)?;
                let all = all.get_or_insert(MayComeDown {
                    pad,
                    within_m: 0.0,
                    toward_deg: None,
                    rockets: Vec::new(),
                });
                if one.within_m > all.within_m {
                    (all.within_m, all.toward_deg) = (one.within_m, one.toward_deg);
                }
                all.rockets.push(one);
            }
            Ok(all.filter(|it| it.within_m > 0.0))
        })
    }

    /// Where one rocket of today's load may come down from a rod that leans a little or more into the wind, or the way that
    /// is asked. Null unless it is loaded, the pad is known and somebody said where the wind goes.
    ///
    /// # Errors
    /// When no logbook is open, it cannot be read, the way is none, or the rocket lies outside the model's domain.
    pub fn compare_leans(&self, asked: &AskLeans) -> Result<Option<Leans>, ApiError> {
        guarded(|| {
            let chosen = asked.toward_deg.map(a_way).transpose().map_err(|error| error.of("toward_deg"))?;
            let day = self.day()?;
            let into = day.rod(0.0, None);
            let Some(from) = into.toward_deg.filter(|_| day.pad.is_some() && !day.load.is_empty()) else {
                return Ok(None);
            };
            let wanted = |it: &ReadyFlight| asked.rocket.as_ref().is_none_or(|rocket| *rocket == it.rocket);
            let Some(ready) = self.ready_flights()?.into_iter().find(wanted) else { return Ok(None) };
            let mut leans = Vec::new();
            for tilt_deg in LEANS_DEG {
                let mut ready = ready.clone();
                ready.flight.launch.rod = Some(day.rod(tilt_deg, chosen));
                let one = self.comes_down(ready)?;
                let hazard = one.hazards.into_iter().next();
                leans.push(Lean { tilt_deg, within_m: one.within_m, in_field: one.in_field, hazard });
            }
            let better =
                |best: usize, at: usize| if leans[at].is_better_than(&leans[best]) { at } else { best };
            let turned_deg = match into.north {
                North::True => 0.0,
                North::Magnetic => windfall_inference::declination_of(&ready.flight)?.degrees(),
            };
            let toward_deg = chosen.unwrap_or(from.value + turned_deg).rem_euclid(360.0);
            let beliefs = self.beliefs_about(&ready.flight)?;
            let opening = expected_opening(&ready.flight, &self.priors, &beliefs, &self.settings)?;
            let ahead = ahead(&ready.flight, &self.priors, toward_deg, REACH * opening.apogee_high_m)?;
            let best = if ahead.is_empty() { (1..leans.len()).fold(0, better) } else { 0 };
            let into_wind = chosen.is_none();
            Ok(Some(Leans { toward_deg, into_wind, ahead, leans, best, most_deg: MOST_TILT_DEG }))
        })
    }

    fn comes_down(&self, mut ready: ReadyFlight) -> Result<ComesDown, ApiError> {
        // Readings are as old as they will be then, and what today's flights said of the wind counts.
        ready.flight.launch.at = Some(clock::soon());
        // Nothing is known but wind and rocket, and nothing is kept: no flight was flown.
        let answer = self.cloud(&ready.flight, &self.settings)?.cloud.answer(None, None);
        let last = ready.flight.rocket.stages.last();
        let mut one = ComesDown {
            rocket: ready.rocket,
            name: ready.name,
            motor: last.and_then(|stage| stage.motor.as_ref()).map(|motor| motor.designation().to_owned()),
            comes_down_on: ComesDownOn::of(last.and_then(|stage| stage.recovery.as_ref())),
            within_m: 0.0,
            toward_deg: None,
            areas: Vec::new(),
            in_field: answer.parts.iter().filter_map(|part| part.in_field).reduce(f64::min),
            hazards: worst(&answer.parts),
            cautions: answer.said.cautions.into_iter().filter(is_of_before).collect(),
        };
        let Ok(place) = Position::new(answer.pad.lat, answer.pad.lon) else { return Ok(one) };
        let frame = LocalFrame::about(place);
        for part in answer.parts {
            let widest = part.regions.into_iter().max_by(|a, b| a.probability.total_cmp(&b.probability));
            let Some(widest) = widest else { continue };
            let area = outline(&widest.geometry, &frame);
            let far_m = area.coords_iter().map(|at| at.x.hypot(at.y)).fold(0.0, f64::max);
            if far_m > one.within_m {
                one.within_m = far_m;
                let middle = area.centroid().map(|at| Offset { east_m: at.x(), north_m: at.y() });
                let aside = middle.filter(|it| it.length_m() > ASIDE * far_m);
                one.toward_deg = aside.map(|it| it.bearing().degrees());
            }
            one.areas.push(widest.geometry);
        }
        Ok(one)
    }
}

/// What is to be said before a flight: nobody walks yet.
fn is_of_before(said: &Sentence) -> bool {
    matches!(
        said,
        Sentence::WindAboveCode { .. }
            | Sentence::NotLookedOver { .. }
            | Sentence::InAPowerLine {}
            | Sentence::InATree {}
            | Sentence::MayHangInATree { .. }
            | Sentence::MayLieOnARoof { .. }
    )
}

/// Of each hazard the chance of the part that is likeliest to lie on it, the greatest first.
fn worst(parts: &[PartAnswer]) -> Vec<HazardChance> {
    let Some((first, others)) = parts.split_first() else { return Vec::new() };
    let mut worst = first.hazards.clone();
    for (at, hazard) in worst.iter_mut().enumerate() {
        for other in others.iter().filter_map(|part| part.hazards.get(at)) {
            hazard.probability = hazard.probability.max(other.probability);
        }
    }
    worst.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    worst
}

/// The outer edges of an area (a GeoJSON `MultiPolygon`), metres east and north of the pad.
fn outline(geometry: &serde_json::Value, frame: &LocalFrame) -> MultiPolygon {
    let polygons = geometry["coordinates"].as_array().into_iter().flatten();
    polygons.map(|rings| Polygon::new(line(&rings[0], frame), Vec::new())).collect()
}

#[cfg(test)]
mod tests {
    use crate::call::tests::{called, with_logbook};
    use serde_json::{Value, json};

    #[test]
    fn it_says_nothing_before_rocket_pad_and_wind_were_entered_and_then_downwind() {
        let (_folder, api) = with_logbook();
        assert_eq!(called(&api, "may_come_down", json!({})), Value::Null);
        let pad = json!({"name": "pad", "lat": 47.53, "lon": 17.28, "accuracy_m": 3});
        let site =
            called(&api, "keep_site", json!({"field": {"name": "Sedge Meadow"}, "pad": pad}))["id"].clone();
        let told = json!({"name": "Linnet", "stages": [{"motor": "C6-5", "comes_down_on": "parachute"}]});
        let rocket = called(&api, "keep_rocket", json!({ "told": told }))["id"].clone();
        called(&api, "keep_day", json!({"plan": {"site": site, "load": [{"rocket": rocket}]}}));
        assert_eq!(called(&api, "may_come_down", json!({})), Value::Null, "no wind was read");
        called(&api, "tell_wind", json!({"toward_deg": 90, "force": 4}));
        let it = called(&api, "may_come_down", json!({}));
        let toward_deg = it["toward_deg"].as_f64().unwrap();
        assert!((45.0..135.0).contains(&toward_deg), "{toward_deg}");
        // 5 to 8 m/s for a minute at a few metres a second of fall: hundreds of metres, not tens and not kilometres.
        assert!((150.0..3000.0).contains(&it["within_m"].as_f64().unwrap()), "{}", it["within_m"]);
        let one = &it["rockets"][0];
        assert_eq!((&one["name"], one["areas"].as_array().unwrap().len()), (&json!("Linnet"), 1));
        assert_eq!((&one["in_field"], &one["hazards"]), (&Value::Null, &json!([])), "nobody drew the field");
        assert!(called(&api, "list_log", json!({})).as_array().unwrap().is_empty(), "no flight was flown");
    }

    #[test]
    fn a_streamer_in_place_of_the_chute_comes_down_nearer_and_the_field_and_its_road_are_counted() {
        let (_folder, api) = with_logbook();
        // A field of 300 m to either side of the pad, and a road along its eastern edge: 0.004 degrees of the parallel.
        let ring =
            json!([[17.276, 47.527], [17.284, 47.527], [17.284, 47.533], [17.276, 47.533], [17.276, 47.527]]);
        let road = json!({"kind": "road", "geometry": {"type": "LineString", "coordinates": [[17.284, 47.52], [17.284, 47.54]]}});
        let field = json!({"name": "Sedge Meadow", "outline": {"type": "Polygon", "coordinates": [ring]}, "hazards": [road]});
        let pad = json!({"name": "pad", "lat": 47.53, "lon": 17.28, "accuracy_m": 3});
        let site = called(&api, "keep_site", json!({"field": field, "pad": pad}))["id"].clone();
        let told = json!({"name": "Linnet", "stages": [{"motor": "C6-5", "comes_down_on": "parachute"}]});
        let rocket = called(&api, "keep_rocket", json!({ "told": told }))["id"].clone();
        let with = |load: Value| {
            let day = called(&api, "keep_day", json!({"plan": {"site": site, "load": [load]}}));
            if day["wind"].as_array().is_none_or(Vec::is_empty) {
                called(&api, "tell_wind", json!({"toward_deg": 90, "force": 3}));
            }
            called(&api, "may_come_down", json!({"rocket": rocket}))["rockets"][0].clone()
        };
        let chute = with(json!({"rocket": rocket}));
        let streamer = with(json!({"rocket": rocket, "comes_down_on": "streamer"}));
        let small = with(json!({"rocket": rocket, "motor": "A8-3", "comes_down_on": "streamer"}));
        let figure = |it: &Value, name: &str| it[name].as_f64().unwrap();
        assert_eq!(
            (&chute["comes_down_on"], &streamer["comes_down_on"]),
            (&json!("parachute"), &json!("streamer"))
        );
        assert!(figure(&streamer, "within_m") < figure(&chute, "within_m"), "{streamer}");
        assert!(figure(&streamer, "in_field") > figure(&chute, "in_field"));
        assert!(figure(&small, "in_field") > figure(&streamer, "in_field"), "lower up, less far");
        let road = &chute["hazards"][0];
        assert_eq!(road["kind"], "road");
        assert!(
            (0.0..1.0).contains(&road["probability"].as_f64().unwrap()) && road["probability"] != 0.0,
            "{road}"
        );
        // What flies is what was shown.
        let [flight] = &api.ready_flights().unwrap()[..] else { panic!() };
        assert_eq!(json!(flight.flight.rocket.stages[0].recovery)["kind"], "streamer");
        let unasked = called(&api, "may_come_down", json!({"rocket": "another"}));
        assert_eq!(unasked, Value::Null);

        // A parachute drifts out of the field: the rod that leans against the wind keeps more of it inside.
        with(json!({"rocket": rocket}));
        let it = called(&api, "compare_leans", json!({"rocket": rocket}));
        assert_eq!((&it["toward_deg"], &it["most_deg"]), (&json!(270.0), &json!(30.0)));
        assert_eq!(
            (&it["into_wind"], &it["ahead"]),
            (&json!(true), &json!([])),
            "the road lies the other way"
        );
        let leans = it["leans"].as_array().unwrap();
        let tilts: Vec<_> = leans.iter().map(|it| figure(it, "tilt_deg")).collect();
        assert_eq!(tilts, super::LEANS_DEG);
        // Between the two calls a reading may have become five minutes older.
        let same = |a: &Value, b: &Value| (figure(a, "in_field") - figure(b, "in_field")).abs() < 0.02;
        assert!(same(&leans[0], &chute), "upright is what was shown");
        assert!(figure(&leans[3], "in_field") > figure(&leans[0], "in_field") + super::BETTER, "{it}");
        assert_ne!(it["best"], 0, "{it}");
        let leaning = with(json!({"rocket": rocket, "tilt_deg": 15.0}));
        assert!(same(&leaning, &leans[3]), "what is shown is what flies");
        let [flight] = &api.ready_flights().unwrap()[..] else { panic!() };
        let rod = flight.flight.launch.rod.unwrap();
        assert_eq!(rod.toward_deg.map(|it| it.value), Some(270.0));
        let too_far = json!({"plan": {"site": site, "load": [{"rocket": rocket, "tilt_deg": 31.0}]}});
        let error = api.call("keep_day", too_far).unwrap_err();
        assert_eq!(error.message, "plan.load.tilt_deg: 31 is out of range: allowed is 0 to 30 degrees");
        assert_eq!(called(&api, "compare_leans", json!({"rocket": "another"})), Value::Null);

        // To the side of the wind: the cloud moves the way that the rod leans, and nowhere else to speak of.
        let middle = |tilt_deg: f64| {
            with(json!({"rocket": rocket, "tilt_deg": tilt_deg, "lean_toward_deg": 0.0}));
            let [ready] = &api.ready_flights().unwrap()[..] else { panic!() };
            let rod = ready.flight.launch.rod.unwrap();
            assert_eq!(
                (rod.toward_deg.map(|it| it.value), rod.north),
                (Some(0.0), windfall_facts::North::True)
            );
            let answer = api.cloud(&ready.flight, &api.settings).unwrap().cloud.answer(None, None);
            let aim = &answer.parts[0].aim;
            (aim.lat * 111_180.0, aim.lon * 75_300.0)
        };
        let (upright, leaning) = (middle(0.0), middle(15.0));
        let moved = [leaning.0 - upright.0, leaning.1 - upright.1];
        assert!(
            moved[0] > 15.0 && moved[1].abs() < moved[0],
            "north {:.0} m, east {:.0} m",
            moved[0],
            moved[1]
        );
        let north = called(&api, "compare_leans", json!({"rocket": rocket, "toward_deg": 0}));
        assert_eq!(
            (&north["toward_deg"], &north["into_wind"], &north["ahead"]),
            (&json!(0.0), &json!(false), &json!([]))
        );
        assert_eq!(north["leans"].as_array().unwrap().len(), super::LEANS_DEG.len());
        // Towards the road nothing is recommended, and the road is named.
        let east = called(&api, "compare_leans", json!({"rocket": rocket, "toward_deg": 90}));
        assert_eq!((&east["ahead"][0]["kind"], &east["best"]), (&json!("road"), &json!(0)), "{east}");
        // The road's line is 0.004 degrees of the parallel of 47.53 from the pad: 301 m (WGS 84).
        assert!((figure(&east["ahead"][0], "distance_m") - 301.0).abs() < 2.0, "{east}");
        let error = api.call("compare_leans", json!({"rocket": rocket, "toward_deg": 400})).unwrap_err();
        assert_eq!(error.message, "toward_deg: 400 is out of range: allowed is -360 to 360 degrees");
    }
}
