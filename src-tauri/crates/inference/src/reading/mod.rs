//! What is read off the cloud: areas, aim, approach, ways it came down, reasons and warnings.

mod density;
mod rests;
mod surroundings;
mod words;

pub(crate) use rests::of_ten;
pub(crate) use surroundings::{Obstacle, Surroundings};

use crate::cloud::{Cloud, Draw, ENOUGH_DRAWS};
use crate::ground::{polygons, to_geojson};
use density::{Landing, Map};
use geo::{Contains, MultiPolygon, Point};
use windfall_facts::{
    Answer, Approach, Evidence, HazardChance, HazardKind, LatLon, Mode, ModeAnswer, Moment, PartAnswer,
    Region, Rests, Said, Sentence, SightLine, Surprise, WindReading,
};
use windfall_quantities::{Bearing, Offset, Position, TrueNorth};

/// A landing density as the screen draws it.
#[derive(Clone, Debug, PartialEq)]
pub struct Density {
    /// 16-byte header: width and height (u16), cell size, west edge and south edge in metres from the pad (f32),
    /// all little endian; then rows from north to south of u8: 255 sqrt(density / max). At most 256 x 256.
    pub bytes: Vec<u8>,
}

const CELLS: usize = 200;
const CELLS_OF_A_MODE: usize = 96;
pub(crate) const SHARES: [f64; 2] = [0.5, 0.9];
/// Radius that a searcher sees at once, m.
const SWEEP_RADIUS_M: f64 = 15.0;
/// Walking over grass: common practice, no source.
pub(crate) const WALK_MPS: f64 = 1.2;
/// From this confidence on nobody is sent to a place where somebody says it is not: judgement.
const SURE: f64 = 0.95;
/// From this chance on ground that nobody looked over it is said: judgement.
const NOT_SEEN: f64 = 0.1;
/// From this chance of a motor kicked out on it is warned of fire: judgement.
const HOT_MOTOR: f64 = 0.2;
/// From this chance that a charge or a second motor never fired on it is warned of it: judgement.
const LIVE_CHARGE: f64 = 0.1;
/// Farther from the pad than this nobody is sent: two kilometres of height on a parachute at 4 m/s, carried by the most wind
/// that the safety code launches in, come down 4.5 km away. Judgement.
const REACH_M: f64 = 5000.0;
/// 20 mph: model rocket safety code, tests/reference; a limit to check, never a permission.
const WIND_LIMIT_MPS: f64 = 8.94;

impl Cloud {
    /// The answer read off the cloud, `elapsed_ms` left at zero for the caller to fill.
    ///
    /// `from`: where the flyer stands (default the pad); `samples`: landing points to list per part.
    #[must_use]
    pub fn answer(&self, from: Option<LatLon>, samples: Option<usize>) -> Answer {
        let pad = LatLon { lat: self.flight.pad.lat, lon: self.flight.pad.lon };
        let from = from.filter(|it| Position::new(it.lat, it.lon).is_ok()).unwrap_or(pad);
        let from_m = Position::new(from.lat, from.lon)
            .map(|place| self.model.frame.offset_of(place))
            .map_or([0.0; 2], |offset| [offset.east_m, offset.north_m]);
        let parts: Vec<PartAnswer> =
            (0..self.model.part_names.len()).map(|part| self.part(part, from_m, samples)).collect();
        let leading =
            self.mode_chances().into_iter().max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((Mode::Opens, 1.0));
        let main = self.looked_for();
        let (surprises, looks_wrong) = self.surprises();
        let said = Said {
            cautions: self.cautions(&parts),
            why: words::why(self, leading, main),
            would_help: self.would_help(main),
            surprises: looks_wrong,
            warnings: self.warnings(surprises.len()),
            beliefs: self.learned.clone(),
        };
        let in_words = |all: &[Sentence]| all.iter().map(ToString::to_string).collect::<Vec<_>>();
        Answer {
            format: "windfall-answer/1".into(),
            flight: self.flight.id.clone().or_else(|| self.flight.title.clone()),
            pad,
            from,
            declination_deg: self.model.declination.degrees(),
            cautions: in_words(&said.cautions),
            why: in_words(&said.why).join(" "),
            would_help: said.would_help.as_ref().map(ToString::to_string),
            warnings: in_words(&said.warnings),
            surprises,
            parts,
            sight_lines: self.sight_lines(),
            gone: None,
            beliefs: in_words(&said.beliefs),
            said,
            seed: self.seed,
            effective_draws: self.effective_draws,
            monte_carlo_error_m: self.monte_carlo_error_m,
            model_version: crate::MODEL_VERSION.into(),
            elapsed_ms: 0.0,
        }
    }

    /// The part that reasons are given for: of the last stage's the first that nobody has in hand, else the first.
    fn looked_for(&self) -> usize {
        let first =
            self.flight.part_index_for(None).unwrap_or(0).min(self.model.part_names.len().saturating_sub(1));
        let is_missing = |part: &usize| !self.is_found(&self.model.part_names[*part]);
        let stages = &self.model.part_stage;
        let mut own = (first..stages.len()).filter(|part| stages[*part] == stages[first]);
        own.find(is_missing).unwrap_or(first)
    }

    /// Whether somebody has a part in hand.
    fn is_found(&self, part: &str) -> bool {
        self.flight
            .evidence
            .iter()
            .any(|piece| matches!(piece, Evidence::Find(it) if !it.set_aside && it.part == part))
    }

    /// Density of the landing point of a part, of one mode or mixed; none for an unknown part or empty mode.
    #[must_use]
    pub fn density(&self, part: &str, mode: Option<Mode>) -> Option<Density> {
        let part = self.model.part_names.iter().position(|name| name == part)?;
        let landings = self.landings(part, mode);
        Some(Density { bytes: Map::of(&landings, CELLS, self.model.pad_sigma_m)?.bytes() })
    }

    fn landings(&self, part: usize, mode: Option<Mode>) -> Vec<Landing> {
        self.draws
            .iter()
            .filter(|draw| mode.is_none_or(|mode| draw.mode == mode))
            .map(|draw| Landing {
                mode: draw.mode,
                weight: draw.weight,
                at_m: draw.landing_m[part],
                half: draw.island % 2,
            })
            .collect()
    }

    fn mode_chances(&self) -> Vec<(Mode, f64)> {
        self.model
            .modes
            .iter()
            .map(|(mode, _)| {
                (*mode, self.draws.iter().filter(|draw| draw.mode == *mode).map(|draw| draw.weight).sum())
            })
            .collect()
    }

    fn share(&self, is: impl Fn(&Draw) -> bool) -> f64 {
        self.draws.iter().filter(|draw| is(draw)).map(|draw| draw.weight).sum()
    }

    fn place(&self, at_m: [f64; 2]) -> LatLon {
        let place = self.model.frame.place_at(Offset { east_m: at_m[0], north_m: at_m[1] });
        LatLon { lat: place.lat_deg(), lon: place.lon_deg() }
    }

    fn regions(&self, map: &Map, landings: &[Landing]) -> Vec<Region> {
        SHARES
            .into_iter()
            .map(|probability| {
                let (polygons, area_m2) = map.region(map.level(landings, probability));
                Region { probability, area_m2, geometry: to_geojson(&polygons, &self.model.frame) }
            })
            .collect()
    }

    fn part(&self, part: usize, from_m: [f64; 2], samples: Option<usize>) -> PartAnswer {
        let landings = self.landings(part, None);
        let (mut aim_m, regions) = Map::of(&landings, CELLS, self.model.pad_sigma_m)
            .map_or(([0.0; 2], Vec::new()), |map| (map.aim(SWEEP_RADIUS_M), self.regions(&map, &landings)));
        let looked_over = self.looked_over(part);
        if !looked_over.is_empty() {
            let is_open = |it: &Landing| {
                !looked_over.iter().any(|area| area.contains(&Point::new(it.at_m[0], it.at_m[1])))
            };
            let open: Vec<Landing> = landings.iter().filter(|it| is_open(it)).copied().collect();
            if let Some(map) = Map::of(&open, CELLS, self.model.pad_sigma_m) {
                aim_m = map.aim(SWEEP_RADIUS_M);
            }
        }
        let mut modes: Vec<ModeAnswer> = self
            .mode_chances()
            .into_iter()
            .filter_map(|(mode, probability)| {
                let own = self.landings(part, Some(mode));
                let map = Map::of(&own, CELLS_OF_A_MODE, self.model.pad_sigma_m)?;
                let (aim_m, regions) = (map.aim(SWEEP_RADIUS_M), self.regions(&map, &own));
                let approach = Some(self.approach(from_m, aim_m));
                let stay = self.out_of_reach(part, aim_m);
                Some(ModeAnswer { mode, probability, aim: self.place(aim_m), approach, stay, regions })
            })
            .collect();
        modes.sort_by(|a, b| b.probability.total_cmp(&a.probability));
        let to_m = [aim_m[0] - from_m[0], aim_m[1] - from_m[1]];
        let distance_m = to_m[0].hypot(to_m[1]);
        let bearing = Bearing::<TrueNorth>::of_vector(to_m[0], to_m[1]);
        let hazards = self
            .surroundings
            .obstacles
            .iter()
            .map(|obstacle| {
                let held = self.held_by(part, obstacle.hazard);
                HazardChance {
                    kind: obstacle.kind,
                    name: obstacle.name.clone(),
                    probability: self.share(|draw| obstacle.holds(draw.landing_m[part])),
                    held,
                    look_up: held >= rests::WORTH_SAYING,
                }
            })
            .collect();
        PartAnswer {
            part: self.model.part_names[part].clone(),
            rough: None,
            stay: self.out_of_reach(part, aim_m),
            p_apart: self.share(|draw| draw.apart && self.model.part_stage[part] + 1 == self.model.stages()),
            aim: self.place(aim_m),
            approach: self.approach(from_m, aim_m),
            distance_m,
            distance_from_pad_m: aim_m[0].hypot(aim_m[1]),
            bearing_true_deg: bearing.degrees(),
            bearing_magnetic_deg: bearing.to_magnetic(self.model.declination).degrees(),
            walk_s: distance_m / WALK_MPS,
            regions,
            modes,
            in_field: self
                .surroundings
                .outline
                .is_some()
                .then(|| self.share(|draw| self.surroundings.inside(draw.landing_m[part]) == Some(true))),
            hazards,
            rests: self.rests(part),
            samples: samples.map(|count| self.samples(part, count)),
        }
    }

    /// Why nobody should set out for a place: no model rocket comes down so far from its pad.
    fn out_of_reach(&self, part: usize, aim_m: [f64; 2]) -> Option<Sentence> {
        let distance_m = aim_m[0].hypot(aim_m[1]);
        let is_beyond = distance_m > REACH_M && !self.is_found(&self.model.part_names[part]);
        is_beyond.then_some(Sentence::TooFarToBe { distance_m, reach_m: REACH_M })
    }

    /// The last safe standing point on the straight way.
    fn approach(&self, from_m: [f64; 2], aim_m: [f64; 2]) -> Approach {
        let (stand_m, said) = self.surroundings.approach(from_m, aim_m);
        let LatLon { lat, lon } = self.place(stand_m);
        Approach { lat, lon, caution: said.as_ref().map(ToString::to_string), said }
    }

    /// Ground that somebody is sure a part does not lie on. It may still hold the tallest peak of what is left: nobody is
    /// sent back there.
    fn looked_over(&self, part: usize) -> Vec<MultiPolygon> {
        let name = &self.model.part_names[part];
        let areas = self.flight.evidence.iter().filter_map(|piece| match piece {
            Evidence::Area(it) if !it.set_aside && !it.inside && it.confidence >= SURE => Some(it),
            _ => None,
        });
        let own = areas.filter(|it| it.part.as_ref().is_some_and(|it| it == name));
        own.filter_map(|it| polygons(&it.geometry, &self.model.frame)).collect()
    }

    /// Equally weighted landing points by systematic resampling, in the order of the cloud.
    fn samples(&self, part: usize, count: usize) -> Vec<[f64; 2]> {
        let mut samples = Vec::with_capacity(count);
        let mut reached = 0.0;
        for draw in &self.draws {
            reached += draw.weight;
            while samples.len() < count && (samples.len() as f64 + 0.5) / (count as f64) < reached {
                let place = self.place(draw.landing_m[part]);
                samples.push([place.lat, place.lon]);
            }
        }
        samples
    }

    /// What looks mistaken, and the sentence on each.
    fn surprises(&self) -> (Vec<Surprise>, Vec<Sentence>) {
        let (mut surprises, mut said): (Vec<Surprise>, Vec<Sentence>) = (Vec::new(), Vec::new());
        for (slot, piece) in self.witnesses.pieces.iter().enumerate() {
            let p_mistaken = self.draws.iter().map(|draw| draw.weight * draw.p_mistaken[slot]).sum::<f64>();
            if p_mistaken <= 0.5 {
                continue;
            }
            match surprises.iter_mut().find(|it| it.evidence == piece.index) {
                Some(known) => known.p_mistaken = known.p_mistaken.max(p_mistaken),
                None => {
                    let sentence = words::surprise(&self.flight.evidence[piece.index]);
                    surprises.push(Surprise {
                        evidence: piece.index,
                        p_mistaken,
                        text: sentence.to_string(),
                    });
                    said.push(sentence);
                }
            }
        }
        (surprises, said)
    }

    /// A motor that was kicked out lies hot on the ground; on dry cover any motor may set fire. Judgement.
    fn may_burn(&self) -> bool {
        let dry = |cover: &String| {
            let cover = cover.to_lowercase();
            let words = ["dry", "stubble", "straw", "hay", "seco", "seca", "rastrojo", "paja", "heno"];
            words.iter().any(|word| cover.contains(word))
        };
        let kicked_out = self.share(|draw| draw.mode == Mode::MotorKickedOut);
        kicked_out > HOT_MOTOR
            || self.flight.field.as_ref().and_then(|field| field.cover.as_ref()).is_some_and(dry)
    }

    fn cautions(&self, parts: &[PartAnswer]) -> Vec<Sentence> {
        let mut cautions = Vec::new();
        if self.may_burn() {
            cautions.push(Sentence::HotMotor {});
        }
        let unfired = |draw: &Draw| matches!(draw.mode, Mode::NoneOpened | Mode::SecondStageUnlit);
        if self.share(unfired) > LIVE_CHARGE {
            cautions.push(Sentence::LiveCharge {});
        }
        for part in parts {
            if let Some(caution) = part.approach.said.clone() {
                cautions.push(Sentence::OnTheWayTo { part: part.part.clone(), caution: caution.inside() });
            }
        }
        cautions.extend(self.not_checked(parts));
        let chance = |kind: HazardKind| {
            parts
                .iter()
                .flat_map(|part| &part.hazards)
                .filter(|it| it.kind == kind)
                .map(|it| it.probability)
                .fold(0.0, f64::max)
        };
        if chance(HazardKind::PowerLine) > 0.01 {
            cautions.push(Sentence::InAPowerLine {});
        }
        // Of the parts that are missing the likeliest speaks.
        let missing = || parts.iter().filter(|part| !self.is_found(&part.part));
        let most = |of: fn(&Rests) -> f64| missing().map(|part| of(&part.rests)).fold(0.0, f64::max);
        let worst = Rests {
            in_a_tree: most(|it| it.in_a_tree),
            on_a_roof: most(|it| it.on_a_roof),
            ..Rests::default()
        };
        let hanging: Vec<Sentence> = rests::hangs(&worst).collect();
        let in_a_tree = hanging.iter().any(|it| matches!(it, Sentence::MayHangInATree { .. }));
        if chance(HazardKind::Trees) > 0.05 && !in_a_tree {
            cautions.push(Sentence::InATree {});
        }
        cautions.extend(hanging);
        // The code speaks of the wind where people launch, not of winds aloft.
        let low = |row: &&WindReading| row.height_m.is_none_or(|height| height.value <= 10.0);
        let rows = self.flight.wind.iter().filter(low);
        let wind_mps = rows.filter_map(|row| row.speed_mps).map(|it| it.value).fold(0.0, f64::max);
        if wind_mps > WIND_LIMIT_MPS {
            cautions.push(Sentence::WindAboveCode { wind_mps });
        }
        cautions.push(Sentence::AskIfTheRangeIsClosed {});
        cautions.push(Sentence::MindTheGround {});
        cautions
    }

    /// Where the flyer noted looks: what may lie beyond all of them is not checked.
    fn not_checked(&self, parts: &[PartAnswer]) -> Option<Sentence> {
        let unseen =
            |part: usize| self.share(|draw| self.surroundings.is_seen(draw.landing_m[part]) == Some(false));
        let (part, _) = (0..parts.len())
            .map(|part| (part, unseen(part)))
            .filter(|(_, chance)| *chance > NOT_SEEN)
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        let aim = Position::new(parts[part].aim.lat, parts[part].aim.lon).ok()?;
        let compass_deg = self.model.frame.offset_of(aim).bearing().degrees();
        Some(Sentence::NotLookedOver { compass_deg })
    }

    fn warnings(&self, surprises: usize) -> Vec<Sentence> {
        let mut warnings = Vec::new();
        if self.contradicted {
            warnings.push(Sentence::ContradictsEverything {});
        }
        if self.effective_draws < ENOUGH_DRAWS {
            #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "counts of draws")]
            let [draws, wanted] = [self.effective_draws, ENOUGH_DRAWS].map(|it| it.round() as usize);
            warnings.push(Sentence::TooFewDraws { draws, wanted });
        }
        if surprises > 1 {
            warnings.push(Sentence::ContradictOneAnother {});
        }
        let share_aloft = self.share(|draw| draw.capped);
        if share_aloft > 0.005 {
            warnings.push(Sentence::StillAloft { share_aloft });
        }
        let unused = self.flight.wind.len() - self.model.wind.used;
        if self.model.wind.used == 0 {
            warnings.push(Sentence::NoWindReading {});
        } else if unused > 0 {
            warnings.push(Sentence::WindsAloftUnused { count: unused });
        }
        warnings.extend(self.ground_not_told());
        if self.flight.wind.iter().any(|row| row.speed_mps.is_some() && row.gust_mps.is_some()) {
            warnings.push(Sentence::GustUnused {});
        }
        let notes = self.model.notes.iter().chain(&self.witnesses.notes);
        for note in notes {
            if !warnings.contains(note) {
                warnings.push(note.clone());
            }
        }
        warnings
    }

    /// The missing fact whose coordinates explain most of the landing variance.
    ///
    /// # Model
    /// Weighted linear regression of east and north on the coordinates of each missing fact: the share of variance
    /// explained is what knowing the fact would take away, as far as the relation is linear. Only possible flights of
    /// the likeliest mode count: the few of the broad unmodelled one land kilometres away and would be all the variance.
    fn would_help(&self, part: usize) -> Option<Sentence> {
        let chance = |mode| self.draws.iter().filter(|it| it.mode == mode).map(|it| it.weight).sum::<f64>();
        let leading = Mode::ALL.into_iter().max_by(|a, b| chance(*a).total_cmp(&chance(*b)))?;
        let own: Vec<&Draw> = self.draws.iter().filter(|draw| draw.mode == leading).collect();
        let best = self
            .model
            .missing_facts(&self.flight)
            .into_iter()
            .map(|(coordinates, what)| (self.explained(part, &own, &coordinates), what))
            .max_by(|a, b| a.0.total_cmp(&b.0))?;
        (best.0 > 0.1).then(|| Sentence::WouldHelp { what: best.1.inside(), share: best.0.min(0.99) })
    }

    fn explained(&self, part: usize, own: &[&Draw], coordinates: &[usize]) -> f64 {
        let all: f64 = own.iter().map(|draw| draw.weight).sum();
        let mean = |value: &dyn Fn(&Draw) -> f64| {
            own.iter().map(|draw| draw.weight * value(draw)).sum::<f64>() / all
        };
        let (mut total, mut left) = (0.0, 0.0);
        for axis in 0..2 {
            let centre = mean(&|draw| draw.landing_m[part][axis]);
            let mut rest: Vec<f64> = own.iter().map(|draw| draw.landing_m[part][axis] - centre).collect();
            let variance =
                |rest: &[f64]| own.iter().zip(rest).map(|(draw, r)| draw.weight * r * r).sum::<f64>();
            total += variance(&rest);
            // Gauss-Seidel over at most three regressors: they are nearly independent, a few rounds suffice.
            for _ in 0..4 {
                for at in coordinates {
                    let z_mean = mean(&|draw| draw.theta[*at]);
                    let spread = all * mean(&|draw| (draw.theta[*at] - z_mean).powi(2));
                    let along: f64 = own
                        .iter()
                        .zip(&rest)
                        .map(|(draw, r)| draw.weight * (draw.theta[*at] - z_mean) * r)
                        .sum();
                    let slope = if spread > 1e-9 { along / spread } else { 0.0 };
                    for (r, draw) in rest.iter_mut().zip(own) {
                        *r -= slope * (draw.theta[*at] - z_mean);
                    }
                }
            }
            left += variance(&rest);
        }
        if total > 0.0 { (1.0 - left / total).clamp(0.0, 1.0) } else { 0.0 }
    }

    fn sight_lines(&self) -> Vec<SightLine> {
        // Long enough to run past where it may lie.
        let farthest_m = self.draws.iter().map(|draw| {
            draw.weight * draw.landing_m.iter().fold(0.0, |m: f64, at| m.max(at[0].hypot(at[1])))
        });
        let longest = 1.6 * farthest_m.sum::<f64>() + 60.0;
        let mut lines = Vec::new();
        for (index, piece) in self.flight.evidence.iter().enumerate().filter(|(_, piece)| !piece.set_aside())
        {
            let (from, bearing_deg, north, moment) = match piece {
                Evidence::Sighting(it) => {
                    let Some(bearing_deg) = it.bearing_deg else { continue };
                    let moment = match it.moment {
                        Moment::Apogee => "apogee",
                        Moment::Deployment => "deployment",
                        Moment::Descent => "descent",
                        Moment::Lost => "lost",
                        Moment::Landed => "landed",
                    };
                    (it.from, bearing_deg, it.north, moment)
                }
                Evidence::Track(it) => {
                    let Some(last) = it.samples.last() else { continue };
                    (it.from, last[1], it.north, "track")
                }
                _ => continue,
            };
            let Some(bearing) = crate::wind::true_bearing(bearing_deg, north, self.model.declination) else {
                continue;
            };
            let from = from.unwrap_or(LatLon { lat: self.flight.pad.lat, lon: self.flight.pad.lon });
            let Ok(place) = Position::new(from.lat, from.lon) else { continue };
            let eye = self.model.frame.offset_of(place);
            let (sin, cos) = bearing.radians().sin_cos();
            lines.push(SightLine {
                evidence: index,
                from,
                to: self.place([eye.east_m + longest * sin, eye.north_m + longest * cos]),
                bearing_true_deg: bearing.degrees(),
                moment: moment.into(),
            });
        }
        lines
    }
}

impl Cloud {
    /// Whether places (m east and north of the pad) lie in each of the areas of a part.
    pub(crate) fn inside(&self, part: usize, places_m: &[[f64; 2]]) -> Vec<[bool; SHARES.len()]> {
        let landings = self.landings(part, None);
        let Some(map) = Map::of(&landings, CELLS, self.model.pad_sigma_m) else {
            return vec![[false; SHARES.len()]; places_m.len()];
        };
        let levels = SHARES.map(|share| map.level(&landings, share));
        places_m.iter().map(|at_m| levels.map(|level| map.at(*at_m) >= level)).collect()
    }
}

#[cfg(test)]
mod tests {
    use crate::{Priors, Settings, locate};
    use windfall_facts::{Sentence, read_flight};

    fn answered(evidence: &str, cover: &str, hazards: &str) -> windfall_facts::Answer {
        let text = format!(
            r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}}, "field": {{"cover": "{cover}", "hazards": [{hazards}]}},
                "wind": [{{"speed_mps": 3, "from_deg": 270, "height_m": 2}}],
                "rocket": {{"stages": [{{"motor": "A8-3"}}]}}, "evidence": {evidence}}}"#
        );
        let flight = read_flight(&text).unwrap();
        locate(&flight, &Priors::embedded(), &Settings::default()).unwrap().answer(None, None)
    }

    #[test]
    fn a_fire_and_a_live_charge_are_warned_of_before_anybody_sets_out_where_the_facts_make_them_possible() {
        let says = |answer: &windfall_facts::Answer, wanted: &Sentence| answer.said.cautions.contains(wanted);
        let calm = answered(r#"[{"kind": "saw", "mode": "opened", "sure": "sure"}]"#, "short grass", "");
        assert!(!says(&calm, &Sentence::HotMotor {}) && !says(&calm, &Sentence::LiveCharge {}));
        let fell = answered(r#"[{"kind": "saw", "mode": "none_opened", "sure": "sure"}]"#, "hierba seca", "");
        assert_eq!(fell.said.cautions[..2], [Sentence::HotMotor {}, Sentence::LiveCharge {}]);
    }

    #[test]
    fn each_way_of_coming_down_has_the_standing_point_on_its_own_way() {
        let east = |answer: &windfall_facts::Answer| -> Vec<f64> {
            answer.parts[0].modes.iter().map(|it| it.aim.lon).collect()
        };
        // A road along a meridian, 10 m short of where the way lies that goes farthest east: 0.001 degrees of the parallel at
        // 47.5 degrees are 75.3 m (WGS 84).
        let bare = east(&answered("[]", "", ""));
        let most = bare.iter().copied().fold(f64::MIN, f64::max);
        let lon = most - 0.001 * 10.0 / 75.3;
        assert!(lon > 17.3 + 0.001 * 10.0 / 75.3, "the pad lies clear of it");
        let road = format!(
            r#"{{"kind": "road", "geometry": {{"type": "LineString", "coordinates": [[{lon}, 47.4], [{lon}, 47.6]]}}}}"#
        );
        let answer = answered("[]", "", &road);
        let modes = &answer.parts[0].modes;
        // It is kept clear of by 4 m.
        let is_beyond = |lon_of: f64| lon_of > lon - 0.001 * 4.0 / 75.3;
        for mode in modes {
            let approach = mode.approach.as_ref().unwrap();
            assert_eq!(approach.said.is_some(), is_beyond(mode.aim.lon), "{:?}", mode.mode);
            assert!(!is_beyond(approach.lon), "{approach:?}");
        }
        let beyond = modes.iter().filter(|it| is_beyond(it.aim.lon)).count();
        assert!((1..modes.len()).contains(&beyond), "{beyond} of {}", modes.len());
    }

    #[test]
    fn nobody_is_sent_farther_than_a_model_rocket_can_be() {
        assert_eq!(answered("[]", "", "").parts[0].stay, None);
        let mut cloud = {
            let text = r#"{"format": "windfall-flight/1", "pad": {"lat": 47.5, "lon": 17.3}, "rocket": {"stages": [{"motor": "A8-3"}]}}"#;
            locate(&read_flight(text).unwrap(), &Priors::embedded(), &Settings::default()).unwrap()
        };
        // What a crude track once made of it: every possible flight 44.5 km away.
        for draw in &mut cloud.draws {
            for at in &mut draw.landing_m {
                at[0] += 44_500.0;
            }
        }
        let stay = cloud.answer(None, None).parts[0].stay.clone();
        assert!(
            matches!(stay, Some(Sentence::TooFarToBe { distance_m, .. }) if (44_000.0..46_000.0).contains(&distance_m)),
            "{stay:?}"
        );
    }

    #[test]
    fn ground_that_nobody_looked_over_is_said_and_ground_that_was_is_not() {
        // A find 80 m east of the pad: 0.001063 degrees of the parallel at 47.5 degrees.
        let cautions = |looked: &str| {
            let text = format!(
                r#"{{"format": "windfall-flight/1", "pad": {{"lat": 47.5, "lon": 17.3}}, "field": {{"looked": {looked}}},
                    "rocket": {{"stages": [{{"motor": "A8-3"}}]}},
                    "evidence": [{{"kind": "find", "part": "rocket", "at": {{"lat": 47.5, "lon": 17.301063}}}}]}}"#
            );
            let flight = read_flight(&text).unwrap();
            locate(&flight, &Priors::embedded(), &Settings::default()).unwrap().answer(None, None).cautions
        };
        let look = |toward_deg: f64, as_far_m: f64| {
            format!(
                r#"{{"from": {{"lat": 47.5, "lon": 17.3}}, "toward_deg": {toward_deg}, "as_far_m": {as_far_m}}}"#
            )
        };
        let unseen = |looked: &str| {
            cautions(looked).iter().any(|it| it.contains("east of the pad: it is not checked"))
        };
        assert!(!unseen("[]"), "who notes no looks is not asked for them");
        assert!(unseen(&format!("[{}]", look(270.0, 300.0))), "looked the other way");
        assert!(unseen(&format!("[{}]", look(90.0, 40.0))), "not as far");
        assert!(!unseen(&format!("[{}, {}]", look(270.0, 300.0), look(90.0, 300.0))));
    }
}
