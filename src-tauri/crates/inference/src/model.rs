//! From the facts of one flight to its possible flights: what each standard normal of the latent space moves.

mod drift;
mod rest;
mod story;

pub(crate) use drift::{Drift, Row};
pub(crate) use rest::Rest;
use rest::Resting;
pub(crate) use story::{Story, UNMODELLED_WIDER};

use crate::learn::{Adjustment, Learnable, Moved, Thing, Trait};
use crate::wind::WindBelief;
use crate::{Beliefs, LocateError, Priors};
use std::sync::Arc;
use windfall_facts::{
    CanopyShape, Delay, Designation, Figure, Flight, Known, Mode, Motor, Recovery, Rod, Sentence, Stage,
};
use windfall_physics::air::{Ground, Terrain};
use windfall_physics::craft::{
    Burn, Outline, TypicalMotor, canopy_area_m2, cross_section_m2, spill_hole_area_m2, streamer_area_m2,
    tumbling_drag_area_m2, typical_motor,
};
use windfall_physics::earth::declination;
use windfall_quantities::{Declination, LocalFrame, Position};

/// Coordinates of the latent space; all are independent standard normals.
pub(crate) mod coordinate {
    pub(crate) const WIND: usize = 0; // and 1
    pub(crate) const WIND_TAIL: usize = 2;
    pub(crate) const ROUGHNESS: usize = 3;
    pub(crate) const STABILITY: usize = 4;
    pub(crate) const SHEAR: usize = 5;
    pub(crate) const VEER: usize = 6;
    pub(crate) const RISING: usize = 7;
    pub(crate) const LEAN: usize = 8; // and 9
    pub(crate) const MISALIGNED: usize = 10; // and 11
    pub(crate) const OPENING: usize = 12;
    pub(crate) const MISHAP: usize = 13;
    pub(crate) const GUST_START: usize = 14; // slow along, slow across, fast along, fast across
    pub(crate) const STAGE: usize = 18;
    pub(crate) const FILL: usize = 0; // within a stage
    pub(crate) const IMPULSE: usize = 1;
    pub(crate) const THRUST: usize = 2;
    pub(crate) const DELAY: usize = 3;
    pub(crate) const DRAG_AREA: usize = 4;
    pub(crate) const MASS: usize = 5;
    pub(crate) const TUMBLE: usize = 6;
    pub(crate) const ASCENT_DRAG: usize = 7;
    pub(crate) const PER_STAGE: usize = 8;
}

/// A spread, by how well the number is known.
fn spread(known: Option<Known>, stated: f64, guessed: f64, weighed: f64) -> f64 {
    match known {
        Some(Known::Weighed) => weighed,
        None | Some(Known::Stated) => stated,
        Some(Known::Guessed) => guessed,
    }
}

/// A positive quantity: median and standard deviation of its logarithm, and the part of its variance that stays with the
/// thing from flight to flight.
#[derive(Clone, Copy, Debug)]
struct Positive {
    median: f64,
    ln_sigma: f64,
    lasting: f64,
}

/// The part of the variance that stays, of a spread made of several: standard deviation and lasting part of each.
fn lasting<const N: usize>(spreads: [(f64, f64); N]) -> f64 {
    let (stays, all) = spreads
        .iter()
        .fold((0.0, 0.0), |(stays, all), (sigma, part)| (stays + sigma * sigma * part, all + sigma * sigma));
    if all > 0.0 { stays / all } else { 1.0 }
}

impl Positive {
    fn at(self, z: f64) -> f64 {
        self.median * (self.ln_sigma * z).exp()
    }
}

#[derive(Clone, Debug)]
struct MotorModel {
    burn: Burn,
    /// Impulse over the class maximum, uniform between these; (1, 1) if the impulse is known.
    fill: (f64, f64),
    impulse_ns: Positive,
    mean_thrust_n: Positive,
    /// Delay from burnout to ejection: mean and standard deviation, s.
    delay_s: (f64, f64),
    /// What of the fill and of the delay stays with motors of this name.
    fill_lasting: f64,
    delay_lasting: f64,
    loaded_kg: f64,
    propellant_kg_per_ns: f64,
    propellant_kg: Option<f64>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Device {
    Parachute,
    Streamer,
    Tumble,
}

#[derive(Clone, Debug)]
struct PartModel {
    mass_share: f64,
    length_m: f64,
    carries_recovery: bool,
    carries_motor: bool,
}

#[derive(Clone, Debug)]
struct StageModel {
    dry_kg: Positive,
    length_m: f64,
    diameter_m: f64,
    ascent_drag_m2: Positive,
    motor: MotorModel,
    device: Device,
    open_drag_m2: Positive,
    tumble_ln_sigma: f64,
    tumble_lasting: f64,
    parts: Vec<PartModel>, // empty: it does not come apart
}

/// Everything that is fixed for one flight, and the map from latents to a possible flight.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub(crate) frame: LocalFrame,
    pub(crate) declination: Declination,
    pub(crate) ground: Ground,
    pub(crate) elevation_m: f64,
    /// Error of the pad's place on each axis, m.
    pub(crate) pad_sigma_m: f64,
    pub(crate) wind: WindBelief,
    pub(crate) part_names: Vec<String>,
    pub(crate) part_stage: Vec<usize>,
    /// Modes this rocket can have, with their prior chances, which sum to one.
    pub(crate) modes: Vec<(Mode, f64)>,
    pub(crate) notes: Vec<Sentence>,
    stages: Vec<StageModel>,
    rail_m: f64,
    lean_rad: [f64; 2],
    sigmas: Sigmas,
    /// What stands on the field and what its ground is like.
    resting: Arc<Resting>,
    /// How beliefs move the coordinates of observers and phones; empty without any.
    adjustments: Vec<Adjustment>,
    /// How they move those of the story, together.
    moved: Moved,
    /// What stays of the air at a site: stability, shear, veer, roughness.
    air_lasting: [f64; 4],
    /// What stays of phones and their owners: heading, tilt, clock; and what one standard deviation of each is, in degrees.
    phone_lasting: [(f64, f64); 3],
    /// Standard normals that move heights and times. The clocks of the observers are the last of them.
    pub(crate) theta: usize,
    /// Offset of the first clock.
    pub(crate) clocks: usize,
    /// All standard normals: after `theta`, those of the phones, which belong to the linear block.
    pub(crate) latents: usize,
}

/// Spreads read from the table once.
#[derive(Clone, Copy, Debug)]
struct Sigmas {
    roughness_ln: (f64, f64),
    roughness_known: bool,
    stability: (f64, f64),
    shear: (f64, f64),
    veer_radpm: f64,
    rising_mps: f64,
    lean_rad: f64,
    misaligned_rad: f64,
    opening_s: (f64, f64),
    late_s: (f64, f64),
    tangled: (f64, f64),
    gust_u: f64,
    gust_v: f64,
    gust_w: f64,
    slow_share: f64,
    slow_s: f64,
    fast_s: f64,
}

impl Model {
    /// `clocks`, `phones`: coordinates that the evidence asks for (clock offsets; heading biases and the like), standard
    /// normals too.
    pub(crate) fn of(
        flight: &Flight,
        priors: &Priors,
        (clocks, phones): (usize, usize),
        beliefs: &Beliefs,
    ) -> Result<Self, LocateError> {
        let pad =
            Position::new(flight.pad.lat, flight.pad.lon).map_err(|error| LocateError::new("pad", error))?;
        let mut notes = Vec::new();
        let elevation_m = flight.pad.elevation_m.unwrap_or(0.0);
        let declination = declination_on_the_day(flight, pad, elevation_m, &mut notes);
        let air = flight.air.unwrap_or_default();
        let value = |figure: Option<Figure>| figure.map(|figure| figure.value);
        let ground = Ground::measured(
            elevation_m,
            value(air.temperature_c),
            value(air.pressure_hpa).map(|hpa| hpa * 100.0),
            value(air.humidity_pct).map(|pct| pct / 100.0),
        );
        let count = flight.rocket.stages.len();
        if count == 0 || count > 2 {
            let words = format!("{count} stages given: one or two are allowed");
            return Err(LocateError::new("rocket.stages", Sentence::Untold { words }));
        }
        let stages = flight
            .rocket
            .stages
            .iter()
            .enumerate()
            .map(|(index, stage)| StageModel::of(stage, index, count, priors, &mut notes))
            .collect::<Result<Vec<_>, _>>()?;
        // One entry a part, in the order of `part_names`.
        let part_stage = stages
            .iter()
            .enumerate()
            .flat_map(|(index, stage)| core::iter::repeat_n(index, stage.parts.len().max(1)))
            .collect();
        let last = &stages[count - 1];
        let modes = possible_modes(last, count == 2, priors);
        let clocks_at = coordinate::STAGE + coordinate::PER_STAGE * count;
        let (roughness_known, roughness_ln) = roughness(flight, priors);
        let rod = flight.launch.rod.unwrap_or_default();
        let clock2 = [priors.b("reaction_delay"), priors.b("launch_time_tap")].map(|sigma| sigma * sigma);
        let mut model = Self {
            frame: LocalFrame::about(pad),
            declination,
            ground,
            elevation_m,
            // A 68 % radius is 1.51 standard deviations of each axis: sqrt(-2 ln 0.32). A pad without one was tapped
            // or measured with care.
            pad_sigma_m: flight.pad.accuracy_m.unwrap_or(0.0) / 1.51,
            wind: WindBelief::from_readings(flight, declination, priors, beliefs.soundings()),
            part_names: flight.rocket.part_names(),
            part_stage,
            modes,
            notes,
            rail_m: rod.length_m.map_or(0.9, |figure| figure.value),
            lean_rad: lean(&rod, declination),
            sigmas: Sigmas {
                roughness_ln,
                roughness_known,
                stability: (priors.a("stability_slope_day"), priors.b("stability_slope_day")),
                shear: (priors.a("shear_exponent_above_80m_day"), priors.b("shear_exponent_above_80m_day")),
                veer_radpm: priors.b("veer_per_100m").to_radians() / 100.0,
                rising_mps: priors.b("thermal_mean_vertical_sunny"),
                lean_rad: if rod.tilt_deg.is_some_and(|figure| figure.known != Some(Known::Guessed)) {
                    priors.b("rod_lean_measured").to_radians()
                } else {
                    priors.b("rod_lean_words").to_radians()
                },
                misaligned_rad: priors.b("thrust_misalignment").to_radians(),
                opening_s: (priors.a("opening_lag"), priors.b("opening_lag")),
                late_s: (priors.a("late_opening_extra"), priors.b("late_opening_extra")),
                tangled: (priors.a("tangled_drag_factor"), priors.b("tangled_drag_factor")),
                gust_u: priors.a("gust_sigma_u"),
                gust_v: priors.a("gust_sigma_v"),
                gust_w: priors.a("gust_sigma_w"),
                slow_share: priors.a("gust_slow_share"),
                slow_s: priors.a("gust_time_slow"),
                fast_s: priors.a("gust_time_fast"),
            },
            stages,
            resting: Arc::new(Resting::of(flight.field.as_ref(), &LocalFrame::about(pad), priors)),
            theta: clocks_at + clocks,
            clocks: clocks_at,
            latents: clocks_at + clocks + phones,
            adjustments: Vec::new(),
            moved: Moved::default(),
            air_lasting: [
                priors.lasting("stability_slope_day"),
                priors.lasting("shear_exponent_above_80m_day"),
                priors.lasting("veer_per_100m"),
                priors.lasting(if roughness_known { "roughness_known_cover" } else { "roughness_unknown" }),
            ],
            phone_lasting: [
                (priors.lasting("heading_bias_phone_unchecked"), priors.b("heading_bias_phone_unchecked")),
                (priors.lasting("elevation_offset_phone"), priors.b("elevation_offset_phone")),
                (priors.lasting("reaction_delay") * clock2[0] / (clock2[0] + clock2[1]), 0.0),
            ],
        };
        if !beliefs.is_empty() {
            let recovery = model.recovery(flight);
            model.modes = beliefs.modes(recovery.as_ref(), core::mem::take(&mut model.modes));
            let learnable = model.learnable(flight);
            let (together, alone): (Vec<_>, Vec<_>) = learnable.iter().partition(|it| it.at < clocks_at);
            model.moved = beliefs.moves(&together);
            let mut adjustments = vec![Adjustment::NONE; model.latents];
            for learnable in alone {
                adjustments[learnable.at] = beliefs.adjusts(learnable);
            }
            model.adjustments = adjustments;
        }
        Ok(model)
    }

    /// How beliefs move the coordinates of the story.
    pub(crate) fn moved(&self) -> &Moved {
        &self.moved
    }

    /// How beliefs move a coordinate of an observer or a phone, which evidence reads by itself.
    pub(crate) fn adjustment(&self, at: usize) -> Adjustment {
        self.adjustments.get(at).copied().unwrap_or(Adjustment::NONE)
    }

    /// The recovery device of the last stage as it is rigged; none of a rocket without a name.
    #[allow(clippy::unused_self, reason = "asked of the model, as all else that is learned")]
    pub(crate) fn recovery(&self, flight: &Flight) -> Option<Thing> {
        let last = flight.rocket.stages.len().checked_sub(1)?;
        recovery_of(flight, last)
    }

    /// The coordinates of which something stays with a thing that has a name.
    pub(crate) fn learnable(&self, flight: &Flight) -> Vec<Learnable> {
        use coordinate::{
            ASCENT_DRAG, DELAY, DRAG_AREA, FILL, IMPULSE, MASS, PER_STAGE, ROUGHNESS, SHEAR, STABILITY,
            STAGE, THRUST, TUMBLE, VEER,
        };
        let mut all = Vec::new();
        let mut add = |thing: Option<Thing>, what: Trait, at: usize, lasting: f64, scale: f64| {
            if let Some(thing) = thing
                && lasting > 0.0
                && scale > 0.0
            {
                all.push(Learnable { thing, what, at, lasting, scale });
            }
        };
        let rocket = flight.rocket.id.as_ref().or(flight.rocket.name.as_ref());
        for (index, (stage, facts)) in self.stages.iter().zip(&flight.rocket.stages).enumerate() {
            let at = |coordinate: usize| STAGE + PER_STAGE * index + coordinate;
            let body = || rocket.map(|name| Thing::Rocket(name.clone(), index));
            let recovery = || recovery_of(flight, index);
            let mut positive = |thing, what, coordinate, it: &Positive| {
                add(thing, what, at(coordinate), it.lasting, it.ln_sigma);
            };
            if stage.device != Device::Tumble {
                positive(recovery(), Trait::OpenDrag, DRAG_AREA, &stage.open_drag_m2);
            }
            positive(body(), Trait::Mass, MASS, &stage.dry_kg);
            positive(body(), Trait::AscentDrag, ASCENT_DRAG, &stage.ascent_drag_m2);
            add(body(), Trait::TumblingDrag, at(TUMBLE), stage.tumble_lasting, stage.tumble_ln_sigma);
            let motor = || facts.motor.as_ref().map(|motor| Thing::Motor(motor.spelled()));
            let it = &stage.motor;
            let (low, high) = it.fill;
            add(motor(), Trait::Fill, at(FILL), it.fill_lasting, (high / low).ln());
            add(motor(), Trait::Impulse, at(IMPULSE), it.impulse_ns.lasting, it.impulse_ns.ln_sigma);
            add(motor(), Trait::Thrust, at(THRUST), it.mean_thrust_n.lasting, it.mean_thrust_n.ln_sigma);
            add(motor(), Trait::Delay, at(DELAY), it.delay_lasting, it.delay_s.1 / it.delay_s.0.max(0.1));
        }
        let site = || Some(Thing::Site(crate::learn::site(flight)));
        let [stability, shear, veer, roughness] = self.air_lasting;
        add(site(), Trait::Stability, STABILITY, stability, 1.0);
        add(site(), Trait::Shear, SHEAR, shear, 1.0);
        add(site(), Trait::Veer, VEER, veer, 1.0);
        add(site(), Trait::Roughness, ROUGHNESS, roughness, 1.0);
        let heads = crate::evidence::Heads::of(flight);
        let [heading, tilt, clock] = self.phone_lasting;
        let named = |name: &String| !name.is_empty();
        for (index, phone) in heads.phones().iter().enumerate().filter(|row| named(row.1)) {
            let at = self.theta + 2 * index;
            add(Some(Thing::Phone(phone.clone())), Trait::Heading, at, heading.0, heading.1);
            add(Some(Thing::Phone(phone.clone())), Trait::Tilt, at + 1, tilt.0, tilt.1);
        }
        let own_watch = |name: &String| !heads.is_elsewhere(name);
        for (index, name) in
            heads.observers().iter().enumerate().filter(|row| named(row.1) && own_watch(row.1))
        {
            add(Some(Thing::Observer(name.clone())), Trait::Clock, self.clocks + index, clock.0, 1.0);
        }
        all
    }

    /// Number of stages.
    pub(crate) fn stages(&self) -> usize {
        self.stages.len()
    }

    /// The coordinates whose facts are missing, and what these are called, for "what would help".
    pub(crate) fn missing_facts(&self, flight: &Flight) -> Vec<(Vec<usize>, Sentence)> {
        let last = self.stages.len() - 1;
        let at = |index: usize| coordinate::STAGE + coordinate::PER_STAGE * last + index;
        let stage = &flight.rocket.stages[last];
        let mut missing = Vec::new();
        if let Some(words) = self.wind.missing() {
            missing.push((vec![coordinate::WIND, coordinate::WIND + 1, coordinate::WIND_TAIL], words));
        }
        if flight.launch.rod.is_none_or(|rod| rod.tilt_deg.is_none()) {
            missing.push((vec![coordinate::LEAN, coordinate::LEAN + 1], Sentence::RodLean {}));
        }
        let unsized_device = match &stage.recovery {
            None => true,
            Some(Recovery::Parachute { diameter_mm, .. }) => diameter_mm.is_none(),
            Some(Recovery::Streamer { length_mm, width_mm }) => length_mm.is_none() || width_mm.is_none(),
            Some(Recovery::Tumble {}) => false,
        };
        if unsized_device {
            missing.push((vec![at(coordinate::DRAG_AREA)], Sentence::DeviceSize {}));
        }
        if stage.dry_mass_g.is_none() {
            missing.push((vec![at(coordinate::MASS)], Sentence::RocketWeight {}));
        }
        let designation = stage.motor.as_ref().and_then(|motor| Designation::parse(motor.designation()).ok());
        if designation.is_none_or(|it| it.delay.is_none()) {
            missing.push((vec![at(coordinate::DELAY)], Sentence::PrintedDelay {}));
        }
        if designation.is_none_or(|it| it.mean_thrust_n.is_none()) {
            missing.push((
                vec![at(coordinate::FILL), at(coordinate::IMPULSE), at(coordinate::THRUST)],
                if designation.is_some() { Sentence::FullMotorName {} } else { Sentence::MotorAtAll {} },
            ));
        }
        missing
    }
}

fn recovery_of(flight: &Flight, stage: usize) -> Option<Thing> {
    let rocket = flight.rocket.id.as_ref().or(flight.rocket.name.as_ref())?;
    let device = flight.rocket.stages.get(stage)?.recovery.as_ref().map(Recovery::as_sized);
    let rigged = serde_json::to_string(&device).unwrap_or_default();
    Some(Thing::Recovery(rocket.clone(), stage, rigged))
}

/// Declination at the pad on the day of the flight, as its answer turns compass bearings.
///
/// # Errors
/// When the pad is no place.
pub fn declination_of(flight: &Flight) -> Result<Declination, LocateError> {
    let pad =
        Position::new(flight.pad.lat, flight.pad.lon).map_err(|error| LocateError::new("pad", error))?;
    Ok(declination_on_the_day(flight, pad, flight.pad.elevation_m.unwrap_or(0.0), &mut Vec::new()))
}

fn declination_on_the_day(
    flight: &Flight,
    pad: Position,
    elevation_m: f64,
    notes: &mut Vec<Sentence>,
) -> Declination {
    use chrono::Datelike;
    let text = flight.launch.at.as_ref().or_else(|| flight.wind.iter().find_map(|row| row.at.as_ref()));
    let day = text.and_then(|text| chrono::DateTime::parse_from_rfc3339(text).ok());
    let (year, ordinal) = day.map_or((2027, 182), |day| (day.year(), day.ordinal()));
    let known = match year {
        ..2025 => Some((2025, 1)),
        2030.. => Some((2029, 365)),
        _ => None,
    };
    if day.is_none() {
        notes.push(Sentence::DayUnknown {});
    } else if let Some((nearest, _)) = known {
        let year = year.to_string();
        notes.push(match nearest {
            2025 => Sentence::BeforeTheMagneticModel { year },
            _ => Sentence::AfterTheMagneticModel { year },
        });
    }
    let (year, ordinal) = known.unwrap_or((year, ordinal));
    let ordinal = u16::try_from(ordinal).unwrap_or(1);
    declination(pad, elevation_m, year, ordinal).unwrap_or_else(|error| {
        notes.push(Sentence::NotTurnedToTrueNorth { why: error.to_string() });
        Declination::from_degrees(0.0)
    })
}

fn lean(rod: &Rod, declination: Declination) -> [f64; 2] {
    let (Some(tilt), Some(toward)) = (rod.tilt_deg, rod.toward_deg) else { return [0.0; 2] };
    crate::wind::true_bearing(toward.value, rod.north, declination).map_or([0.0; 2], |bearing| {
        let (sin, cos) = bearing.radians().sin_cos();
        [tilt.value.to_radians() * sin, tilt.value.to_radians() * cos]
    })
}

/// Roughness length: (known, (ln low, ln high) or (ln median, ln sigma)), by the terrain that the words for the cover
/// mean.
fn roughness(flight: &Flight, priors: &Priors) -> (bool, (f64, f64)) {
    let cover = flight.field.as_ref().and_then(|field| field.cover.as_deref()).unwrap_or("").to_lowercase();
    let terrains = [
        (Terrain::Smooth, ["snow", "sand", "tarmac", "concrete", "bare"].as_slice()),
        (Terrain::VeryRough, ["forest", "wood", "tree"].as_slice()),
        (Terrain::Rough, ["bush", "shrub", "orchard", "hedge"].as_slice()),
        (
            Terrain::RoughlyOpen,
            ["crop", "corn", "wheat", "high grass", "tall grass", "long grass", "stubble"].as_slice(),
        ),
        (Terrain::Open, ["grass", "meadow", "pasture", "lawn", "heath"].as_slice()),
    ];
    let meant = terrains.iter().find(|(_, words)| words.iter().any(|word| cover.contains(word)));
    meant.map_or_else(
        || (false, (priors.a("roughness_unknown").ln(), priors.b("roughness_unknown").ln())),
        |(terrain, _)| (true, (terrain.roughness_m().ln(), priors.a("roughness_known_cover"))),
    )
}

fn possible_modes(last: &StageModel, two_stages: bool, priors: &Priors) -> Vec<(Mode, f64)> {
    let device = last.device;
    let rows = [
        (Mode::Opens, priors.a("p_opens"), true),
        (Mode::OpensLate, priors.a("p_opens_late"), true),
        (Mode::Tangled, priors.a("p_tangled"), device != Device::Tumble),
        (Mode::NoneOpened, priors.a("p_none_opened"), true),
        (Mode::CameApart, priors.a("p_comes_apart"), !last.parts.is_empty()),
        (Mode::CordBroke, priors.a("p_cord_broke"), device != Device::Tumble),
        (Mode::MotorKickedOut, priors.a("p_motor_kicked_out"), device != Device::Tumble),
        (Mode::SecondStageUnlit, priors.a("p_second_stage_unlit"), two_stages),
        (Mode::Unmodelled, priors.a("p_unmodelled"), true),
    ];
    let total: f64 = rows.iter().filter(|row| row.2).map(|row| row.1).sum();
    rows.iter().filter(|row| row.2 && row.1 / total > 1e-4).map(|row| (row.0, row.1 / total)).collect()
}

impl StageModel {
    fn of(
        stage: &Stage,
        index: usize,
        count: usize,
        priors: &Priors,
        notes: &mut Vec<Sentence>,
    ) -> Result<Self, LocateError> {
        let booster = index + 1 < count;
        if stage.motor.is_none() {
            notes.push(Sentence::MotorUnknown {});
        }
        let (motor, typical) = MotorModel::of(stage.motor.as_ref(), index, booster, priors)?;
        let mass_spread = |known| {
            spread(known, priors.a("mass_stated"), priors.a("mass_guessed"), priors.a("mass_weighed"))
        };
        let size_spread = |known| {
            spread(known, priors.a("size_stated"), priors.a("size_guessed"), priors.a("size_stated") / 2.0)
        };
        let sum_g: Option<f64> =
            stage.splits_into.iter().map(|part| part.mass_g.map(|figure| figure.value)).sum();
        let dry_kg = match (stage.dry_mass_g, sum_g.filter(|sum| *sum > 0.0)) {
            (Some(mass), _) => (mass.value / 1000.0, mass_spread(mass.known)),
            (None, Some(sum)) => (sum / 1000.0, priors.a("mass_stated")),
            (None, None) => (typical.rocket_mass_kg, priors.a("mass_guessed")),
        };
        let dry_kg =
            Positive { median: dry_kg.0, ln_sigma: dry_kg.1, lasting: priors.lasting("mass_stated") };
        let diameter_m = stage.diameter_mm.map_or(typical.rocket_diameter_m, |figure| figure.value / 1000.0);
        let diameter_sigma =
            stage.diameter_mm.map_or(priors.a("size_guessed"), |figure| size_spread(figure.known));
        let length_m = stage.length_mm.map_or(14.0 * diameter_m, |figure| figure.value / 1000.0);
        let (drag, drag_sigma) = stage.drag_coefficient.map_or_else(
            || (0.70, priors.a("drag_coefficient_unknown")),
            |figure| (figure.value, spread(figure.known, 0.0, priors.a("drag_coefficient_unknown"), 0.0)),
        );
        let ascent_drag_m2 = Positive {
            median: drag * cross_section_m2(diameter_m),
            ln_sigma: priors.a("ascent_drag").hypot(2.0 * diameter_sigma).hypot(drag_sigma),
            lasting: lasting([
                (priors.a("ascent_drag"), priors.lasting("ascent_drag")),
                (2.0 * diameter_sigma, priors.lasting("size_stated")),
                (drag_sigma, priors.lasting("drag_coefficient_unknown")),
            ]),
        };
        let falling_kg = dry_kg.median + motor.spent_kg(motor.impulse_ns.median);
        let (device, open_drag_m2) = open_drag(stage, booster, falling_kg, length_m, diameter_m, priors);
        if booster && device != Device::Tumble {
            notes.push(Sentence::BoosterDevice {});
        }
        let named: f64 =
            stage.splits_into.iter().filter_map(|part| part.mass_g).map(|figure| figure.value).sum();
        let unnamed = stage.splits_into.iter().filter(|part| part.mass_g.is_none()).count();
        let rest_g = (dry_kg.median * 1000.0 - named).max(1.0);
        let anyone_with_motor = stage.splits_into.iter().any(|part| part.carries_motor);
        let pieces = stage.splits_into.len();
        let parts = stage
            .splits_into
            .iter()
            .enumerate()
            .map(|(place, part)| PartModel {
                mass_share: part.mass_g.map_or(rest_g / unnamed as f64, |figure| figure.value)
                    / (dry_kg.median * 1000.0),
                length_m: part.length_mm.map_or(length_m / pieces as f64, |figure| figure.value / 1000.0),
                carries_recovery: part.carries_recovery,
                carries_motor: part.carries_motor || (!anyone_with_motor && place + 1 == pieces),
            })
            .collect();
        Ok(Self {
            dry_kg,
            length_m,
            diameter_m,
            ascent_drag_m2,
            motor,
            device,
            open_drag_m2,
            tumble_ln_sigma: priors.a("tumble_drag_area"),
            tumble_lasting: priors.lasting("tumble_drag_area"),
            parts,
        })
    }

    fn tumbling_m2(&self, length_m: f64, z: f64) -> f64 {
        tumbling_drag_area_m2(length_m, self.diameter_m) * (self.tumble_ln_sigma * z).exp()
    }
}

fn open_drag(
    stage: &Stage,
    booster: bool,
    falling_kg: f64,
    length_m: f64,
    diameter_m: f64,
    priors: &Priors,
) -> (Device, Positive) {
    let size = |figure: Figure| {
        spread(figure.known, priors.a("size_stated"), priors.a("size_guessed"), priors.a("size_stated") / 2.0)
    };
    let tumble = || {
        let median = tumbling_drag_area_m2(length_m, diameter_m);
        let row = "tumble_drag_area";
        (Device::Tumble, Positive { median, ln_sigma: priors.a(row), lasting: priors.lasting(row) })
    };
    // Of a device of unknown size one knows that it was chosen for this weight: common practice, no source, is a
    // parachute for 4 to 5 m/s and a streamer for about 9 m/s; the spread covers twice and half the area.
    let chosen_for = |speed_mps: f64| Positive {
        median: 2.0 * falling_kg * windfall_physics::GRAVITY_MPS2 / (1.2 * speed_mps * speed_mps),
        ln_sigma: 0.4,
        lasting: lasting([
            (0.37, 1.0),
            (priors.a("parachute_drag_area"), priors.lasting("parachute_drag_area")),
        ]),
    };
    match &stage.recovery {
        None if booster => tumble(),
        Some(Recovery::Tumble {}) => tumble(),
        None | Some(Recovery::Parachute { diameter_mm: None, .. }) => (Device::Parachute, chosen_for(4.5)),
        Some(Recovery::Parachute { diameter_mm: Some(width), shape, spill_hole_mm }) => {
            let outline = match shape {
                CanopyShape::Round => Outline::Round,
                CanopyShape::Hexagon => Outline::Hexagon,
                CanopyShape::Octagon => Outline::Octagon,
                CanopyShape::Square => Outline::Square,
                CanopyShape::Cross => Outline::Cross,
            };
            let whole = canopy_area_m2(outline, width.value / 1000.0);
            let hole = spill_hole_mm.map_or(0.0, |figure| spill_hole_area_m2(figure.value / 1000.0));
            let median = priors.a("parachute_drag_coefficient") * (whole - hole).max(0.1 * whole);
            let ln_sigma = priors.a("parachute_drag_area").hypot(2.0 * size(*width));
            let lasting = lasting([
                (priors.a("parachute_drag_area"), priors.lasting("parachute_drag_area")),
                (2.0 * size(*width), priors.lasting("size_stated")),
            ]);
            (Device::Parachute, Positive { median, ln_sigma, lasting })
        }
        Some(Recovery::Streamer { length_mm, width_mm }) => match (length_mm, width_mm) {
            (Some(length), Some(width)) => {
                let one_side = streamer_area_m2(length.value / 1000.0, width.value / 1000.0);
                let drag = priors.a("streamer_drag_coefficient");
                let body = tumbling_drag_area_m2(length_m, diameter_m) * 0.3; // the body hangs and swings below it
                let ln_sigma = priors.a("streamer_drag_area").hypot(size(*length)).hypot(size(*width));
                let lasting = lasting([
                    (priors.a("streamer_drag_area"), priors.lasting("streamer_drag_area")),
                    (size(*length).hypot(size(*width)), priors.lasting("size_stated")),
                ]);
                (Device::Streamer, Positive { median: drag * one_side + body, ln_sigma, lasting })
            }
            _ => (Device::Streamer, chosen_for(9.0)),
        },
    }
}

impl MotorModel {
    fn of(
        motor: Option<&Motor>,
        index: usize,
        booster: bool,
        priors: &Priors,
    ) -> Result<(Self, TypicalMotor), LocateError> {
        let field = format!("rocket.stages[{index}].motor");
        let Some(motor) = motor else { return Ok(Self::unknown(booster, priors)) };
        let designation = Designation::parse(motor.designation())
            .map_err(|error| LocateError::new(&field, error.said()))?;
        let (_, upper_ns) = designation.class.impulse_limits_ns();
        let typical = typical_motor(upper_ns);
        let data = match motor {
            Motor::Known(data) => Some(data),
            Motor::Designation(_) => None,
        };
        let curve = data.and_then(|data| data.thrust_curve.as_deref()).and_then(Burn::of_curve);
        let impulse_sigma = priors.a("impulse_full_designation");
        let thrust_sigma = priors.a("mean_thrust_designated");
        let impulse = |median, ln_sigma| Positive {
            median,
            ln_sigma,
            lasting: priors.lasting("impulse_full_designation"),
        };
        let thrust = |median, ln_sigma| Positive {
            median,
            ln_sigma,
            lasting: priors.lasting("mean_thrust_designated"),
        };
        let (burn, fill, impulse_ns, mean_thrust_n) = match (curve, designation.mean_thrust_n) {
            (Some((burn, impulse_ns, length_s)), _) => (
                burn,
                (1.0, 1.0),
                impulse(impulse_ns, impulse_sigma),
                thrust(impulse_ns / length_s, thrust_sigma / 2.0),
            ),
            (None, Some(newtons)) => (
                Burn::constant(),
                (priors.a("class_fill"), priors.b("class_fill")),
                impulse(upper_ns, impulse_sigma),
                thrust(newtons, thrust_sigma),
            ),
            (None, None) => (
                Burn::constant(),
                (priors.a("impulse_letter_only"), priors.b("impulse_letter_only")),
                impulse(upper_ns, 0.0),
                thrust(typical.mean_thrust_n, 3.0 * thrust_sigma),
            ),
        };
        let factor = (priors.a("delay"), priors.b("delay"));
        let delay_s = match designation.delay {
            _ if booster => (0.0, 0.0),
            Some(Delay::Seconds(seconds)) => (seconds * factor.0, seconds * factor.1),
            // Three delays are sold for most motors, about a third apart: common practice, no source.
            None | Some(Delay::Plugged) => (typical.delay_s, 0.3 * typical.delay_s),
        };
        let grams = |figure: Option<Figure>| figure.map(|figure| figure.value / 1000.0);
        let model = Self {
            burn,
            fill,
            impulse_ns,
            mean_thrust_n,
            delay_s,
            fill_lasting: priors.lasting(if designation.mean_thrust_n.is_some() {
                "class_fill"
            } else {
                "impulse_letter_only"
            }),
            delay_lasting: match designation.delay {
                Some(Delay::Seconds(_)) => priors.lasting("delay"),
                // Which of the delays it has is not the same twice.
                None | Some(Delay::Plugged) => 0.0,
            },
            loaded_kg: grams(data.and_then(|data| data.loaded_mass_g)).unwrap_or(typical.loaded_mass_kg),
            propellant_kg_per_ns: typical.propellant_kg_per_ns,
            propellant_kg: grams(data.and_then(|data| data.propellant_g)),
        };
        Ok((model, typical))
    }

    /// Of a motor that nobody named: anything that such rockets fly on.
    fn unknown(booster: bool, priors: &Priors) -> (Self, TypicalMotor) {
        let median_ns = priors.a("motor_unknown");
        let typical = typical_motor(median_ns);
        let model = Self {
            burn: Burn::constant(),
            fill: (1.0, 1.0),
            // Nothing stays with a motor without a name.
            impulse_ns: Positive { median: median_ns, ln_sigma: priors.b("motor_unknown"), lasting: 0.0 },
            mean_thrust_n: Positive {
                median: typical.mean_thrust_n,
                ln_sigma: 3.0 * priors.a("mean_thrust_designated"),
                lasting: 0.0,
            },
            fill_lasting: 0.0,
            delay_lasting: 0.0,
            // As for a designation without a delay.
            delay_s: if booster { (0.0, 0.0) } else { (typical.delay_s, 0.3 * typical.delay_s) },
            loaded_kg: typical.loaded_mass_kg,
            propellant_kg_per_ns: typical.propellant_kg_per_ns,
            propellant_kg: None,
        };
        (model, typical)
    }

    fn propellant_kg(&self, impulse_ns: f64) -> f64 {
        self.propellant_kg.unwrap_or(self.propellant_kg_per_ns * impulse_ns).min(0.9 * self.loaded_kg)
    }

    fn spent_kg(&self, impulse_ns: f64) -> f64 {
        self.loaded_kg - self.propellant_kg(impulse_ns)
    }
}
