//! Facts that must agree with each other.

use crate::read::{join, nearest};
use crate::{
    Altimeter, Beacon, Designation, Evidence, Flight, FlightError, Motor, MotorData, Recovery, Sentence,
    Sighting, Stage, WindReading, geometry,
};
use chrono::DateTime;
use core::cmp::Ordering;
use std::collections::BTreeSet;

type Verdict = Result<(), FlightError>;

const PARTS_SUM_SLACK_G: f64 = 2.0;
const NAME_CHARACTERS: usize = 100;

fn refuse<T>(field: &str, message: impl Into<String>) -> Result<T, FlightError> {
    Err(FlightError::new(field, message))
}

/// Everything that one number alone cannot show.
pub(crate) fn consistent(flight: &Flight) -> Verdict {
    moment(flight.launch.at.as_deref(), "launch.at")?;
    for (index, reading) in flight.wind.iter().enumerate() {
        wind(reading, &format!("wind[{index}]"))?;
    }
    if let Some(field) = &flight.field {
        if let Some(outline) = &field.outline {
            geometry::check(outline, "field.outline", geometry::AREAS)?;
        }
        for (index, hazard) in field.hazards.iter().enumerate() {
            let at = format!("field.hazards[{index}]");
            geometry::check(&hazard.geometry, &join(&at, "geometry"), geometry::SHAPES)?;
            if hazard.height_m.is_some() && !hazard.kind.stands() {
                return refuse(&join(&at, "height_m"), "only trees and buildings have a height");
            }
        }
    }
    if !(1..=2).contains(&flight.rocket.stages.len()) {
        return refuse("rocket.stages", format!("{} stages: allowed are 1 or 2", flight.rocket.stages.len()));
    }
    for (index, stage) in flight.rocket.stages.iter().enumerate() {
        self::stage(stage, &format!("rocket.stages[{index}]"))?;
    }
    names_unique(flight)?;
    for (index, piece) in flight.evidence.iter().enumerate() {
        evidence(flight, piece, &format!("evidence[{index}]"))?;
    }
    identifiers_unique(flight)
}

fn identifiers_unique(flight: &Flight) -> Verdict {
    let mut seen: BTreeSet<&str> = BTreeSet::new();
    for (index, id) in flight.evidence.iter().enumerate().filter_map(|(index, it)| Some((index, it.id()?))) {
        let field = format!("evidence[{index}].id");
        if id.trim().is_empty() || id.chars().count() > NAME_CHARACTERS {
            return refuse(&field, format!("{id:?}: a text of 1 to {NAME_CHARACTERS} characters is needed"));
        }
        if !seen.insert(id) {
            return refuse(&field, format!("{id:?} is the identifier of two pieces: each needs its own"));
        }
    }
    Ok(())
}

fn moment(written: Option<&str>, field: &str) -> Verdict {
    match written.map(DateTime::parse_from_rfc3339) {
        None | Some(Ok(_)) => Ok(()),
        Some(Err(error)) => refuse(
            field,
            format!(
                "{:?} is no RFC 3339 time, as in 2026-06-14T10:12:30+02:00: {error}",
                written.unwrap_or_default()
            ),
        ),
    }
}

fn wind(reading: &WindReading, field: &str) -> Verdict {
    moment(reading.at.as_deref(), &join(field, "at"))?;
    let WindReading { speed_mps, gust_mps, from_deg, .. } = reading;
    if speed_mps.is_none() && gust_mps.is_none() && from_deg.is_none() {
        return refuse(field, "at least one of speed_mps, gust_mps, from_deg is needed");
    }
    match (speed_mps, gust_mps) {
        (Some(mean), Some(gust)) if gust.value < mean.value => {
            let (gust_mps, mean_mps) = (gust.value, mean.value);
            let message = format!("{gust_mps} is below the mean speed_mps, {mean_mps}");
            let said = Sentence::GustBelowMean { gust_mps, mean_mps };
            Err(FlightError::new(&join(field, "gust_mps"), message).saying(said))
        }
        _ => Ok(()),
    }
}

fn stage(stage: &Stage, field: &str) -> Verdict {
    let field = |key: &str| join(field, key);
    if let Some(motor) = &stage.motor {
        self::motor(motor, &field("motor"))?;
    }
    if let Some(Recovery::Parachute { diameter_mm: Some(whole), spill_hole_mm: Some(hole), .. }) =
        &stage.recovery
        && hole.value >= whole.value
    {
        let (hole_mm, canopy_mm) = (hole.value, whole.value);
        let message = format!("{hole_mm} is not smaller than the canopy's diameter_mm, {canopy_mm}");
        let said = Sentence::HoleTooWide { hole_mm, canopy_mm };
        return Err(FlightError::new(&field("recovery.spill_hole_mm"), message).saying(said));
    }
    let parts = &stage.splits_into;
    if parts.is_empty() {
        return Ok(());
    }
    if !(2..=6).contains(&parts.len()) {
        return refuse(&field("splits_into"), format!("{} parts: allowed are 2 to 6, or none", parts.len()));
    }
    let with_recovery = parts.iter().filter(|part| part.carries_recovery).count();
    if with_recovery != 1 {
        return refuse(
            &field("splits_into"),
            format!("{with_recovery} parts have carries_recovery: exactly one is needed"),
        );
    }
    let with_motor = parts.iter().filter(|part| part.carries_motor).count();
    if with_motor > 1 {
        return refuse(
            &field("splits_into"),
            format!("{with_motor} parts have carries_motor: at most one is allowed"),
        );
    }
    let sum_g: Option<f64> = parts.iter().map(|part| part.mass_g.map(|mass| mass.value)).sum();
    match (stage.dry_mass_g, sum_g) {
        (Some(dry), Some(sum_g)) if (dry.value - sum_g).abs() > PARTS_SUM_SLACK_G => refuse(
            &field("dry_mass_g"),
            format!(
                "{} differs from the sum of its parts, {}, by more than {PARTS_SUM_SLACK_G} g",
                dry.value,
                (sum_g * 100.0).round() / 100.0
            ),
        ),
        _ => Ok(()),
    }
}

fn motor(motor: &Motor, field: &str) -> Verdict {
    let at = match motor {
        Motor::Designation(_) => field.to_string(),
        Motor::Known(_) => join(field, "designation"),
    };
    Designation::parse(motor.designation()).map_err(|error| FlightError::said(&at, error.said()))?;
    let Motor::Known(MotorData { loaded_mass_g, propellant_g, thrust_curve, .. }) = motor else {
        return Ok(());
    };
    if let (Some(loaded), Some(propellant)) = (loaded_mass_g, propellant_g)
        && propellant.value >= loaded.value
    {
        return refuse(
            &join(field, "propellant_g"),
            format!("{} is not below loaded_mass_g, {}", propellant.value, loaded.value),
        );
    }
    let Some(curve) = thrust_curve else { return Ok(()) };
    let at = join(field, "thrust_curve");
    if curve.len() < 2 {
        return refuse(&at, format!("{} points: at least 2 are needed", curve.len()));
    }
    rising(curve.iter().map(|point| Some(point[0])), &at)?;
    if curve.iter().all(|point| point[1] <= 0.0) {
        return refuse(&at, "it never pushes: some thrust above 0 N is needed");
    }
    Ok(())
}

/// Times, where given, each later than the one before.
fn rising(times_s: impl Iterator<Item = Option<f64>>, field: &str) -> Verdict {
    let mut before = f64::NEG_INFINITY;
    for (index, time) in times_s.enumerate() {
        let Some(time) = time else { continue };
        // NaN lands on the refusing side.
        if time.partial_cmp(&before) != Some(Ordering::Greater) {
            return refuse(
                &format!("{field}[{index}][0]"),
                format!("{time} s is not later than {before} s before it"),
            );
        }
        before = time;
    }
    Ok(())
}

fn names_unique(flight: &Flight) -> Verdict {
    let mut seen: Vec<String> = Vec::new();
    let mut take = |name: String, field: &str| {
        if name.trim().is_empty() || name.chars().count() > NAME_CHARACTERS {
            let message = format!("{name:?}: a name of 1 to {NAME_CHARACTERS} characters is needed");
            let said = Sentence::NameLength { most: NAME_CHARACTERS };
            return Err(FlightError::new(field, message).saying(said));
        }
        let folded = name.trim().to_lowercase();
        if seen.contains(&folded) {
            return Err(FlightError::said(field, Sentence::NameTwice { name }));
        }
        seen.push(folded);
        Ok(())
    };
    for (index, stage) in flight.rocket.stages.iter().enumerate() {
        let field = format!("rocket.stages[{index}]");
        take(flight.rocket.stage_name(index), &join(&field, "name"))?;
        for (part_index, part) in stage.splits_into.iter().enumerate() {
            take(part.name.clone(), &format!("{field}.splits_into[{part_index}].name"))?;
        }
    }
    Ok(())
}

fn evidence(flight: &Flight, piece: &Evidence, field: &str) -> Verdict {
    if let Some(part) = part_of(piece) {
        known_part(flight, part, &join(field, "part"))?;
    }
    match piece {
        Evidence::Sighting(sighting) => {
            let Sighting { bearing_deg, downwind_deg, in_line_with, beyond, elevation_deg, t_s, .. } =
                sighting;
            let ways =
                [bearing_deg.is_some(), downwind_deg.is_some(), in_line_with.is_some()].map(usize::from);
            if ways.iter().sum::<usize>() > 1 {
                return refuse(field, "only one of bearing_deg, downwind_deg, in_line_with can be given");
            }
            if beyond.is_some() && in_line_with.is_none() {
                return refuse(
                    &join(field, "beyond"),
                    "this side or the far side needs in_line_with: of what?",
                );
            }
            if ways == [0; 3] && elevation_deg.is_none() && t_s.is_none() {
                return refuse(
                    field,
                    "at least one of bearing_deg, downwind_deg, in_line_with, elevation_deg, t_s is needed",
                );
            }
        }
        Evidence::Track(track) => {
            let at = join(field, "samples");
            if track.samples.is_empty() {
                return refuse(&at, "at least one sample is needed");
            }
            rising(track.samples.iter().map(|sample| Some(sample[0])), &at)?;
        }
        Evidence::Altimeter(Altimeter {
            apogee_m, time_to_apogee_s, descent_rate_mps, duration_s, ..
        }) => {
            if [apogee_m, time_to_apogee_s, descent_rate_mps, duration_s].iter().all(|it| it.is_none()) {
                return refuse(
                    field,
                    "at least one of apogee_m, time_to_apogee_s, descent_rate_mps, duration_s is needed",
                );
            }
            if let (Some(up_s), Some(all_s)) = (time_to_apogee_s, duration_s)
                && up_s >= all_s
            {
                return refuse(
                    &join(field, "time_to_apogee_s"),
                    format!("{up_s} is not before the landing, duration_s {all_s}"),
                );
            }
        }
        Evidence::Area(area) => geometry::check(&area.geometry, &join(field, "geometry"), geometry::AREAS)?,
        Evidence::Sweep(sweep) => {
            let at = join(field, "path");
            if sweep.path.len() < 2 {
                return refuse(&at, format!("{} points: at least 2 are needed", sweep.path.len()));
            }
            rising(sweep.path.iter().map(|point| point.0), &at)?;
        }
        Evidence::Beacon(Beacon { bearing_deg: Some(_), heard: false, .. }) => {
            return refuse(&join(field, "bearing_deg"), "a beacon that was not heard has no bearing");
        }
        Evidence::Find(_) | Evidence::Saw(_) | Evidence::Beacon(_) => {}
    }
    Ok(())
}

fn part_of(piece: &Evidence) -> Option<&str> {
    match piece {
        Evidence::Sighting(it) => it.part.as_deref(),
        Evidence::Track(it) => it.part.as_deref(),
        Evidence::Altimeter(it) => it.part.as_deref(),
        Evidence::Find(it) => Some(&it.part),
        Evidence::Area(it) => it.part.as_deref(),
        Evidence::Sweep(it) => it.part.as_deref(),
        Evidence::Beacon(it) => it.part.as_deref(),
        Evidence::Saw(_) => None,
    }
}

fn known_part(flight: &Flight, name: &str, field: &str) -> Verdict {
    if flight.part_index_for(Some(name)).is_some() {
        return Ok(());
    }
    let mut names = flight.rocket.part_names();
    let stages = (0..flight.rocket.stages.len()).map(|stage| flight.rocket.stage_name(stage));
    for name in stages.chain(flight.rocket.name.clone()) {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let allowed: Vec<&str> = names.iter().map(String::as_str).collect();
    let advice = match nearest(name, &allowed) {
        Some(near) => format!("did you mean {near}?"),
        None => format!("this rocket has: {}", allowed.join(", ")),
    };
    refuse(field, format!("no part or stage is called {name:?}; {advice}"))
}
