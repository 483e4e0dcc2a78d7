//! What a drawing has to give to a flight: finds from places, searches from walked paths, areas, hazards, the pad.

use super::drawing::{About, Drawing, Item, Role, Shape, Spot};
use super::outgoing::launch_time;
use chrono::{DateTime, Utc};
use serde_json::Value;
use windfall_facts::{Area, Evidence, Find, Flight, FlightError, Hazard, Pad, Sweep, read_flight};

/// What a file has for a flight.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Offer {
    /// A place marked as the pad, for a flight that is still to be written down.
    pub pad: Option<Pad>,
    /// An outline of the field, if the flight has none.
    pub outline: Option<Value>,
    /// Hazards that the flight does not have yet.
    pub hazards: Vec<Hazard>,
    /// Evidence that the flight does not have yet.
    pub evidence: Vec<Evidence>,
    /// What could not be taken, and why, in words.
    pub not_taken: Vec<String>,
}

/// What `drawing` has for `flight`.
///
/// A place is the pad if it is marked or named so, and a find if it is marked so or bears the name of a part. A walked
/// path is a search in vain. What a program computed (aims, regions) is no evidence and is not taken.
#[must_use]
pub fn offer(drawing: &Drawing, flight: &Flight) -> Offer {
    let mut offer = Offer { not_taken: drawing.not_understood.clone(), ..Offer::default() };
    for (index, item) in drawing.items.iter().enumerate() {
        let called = item.about.name.as_deref().map_or_else(|| format!("item {}", index + 1), str::to_owned);
        if let Err(why) = offer.take(item, flight) {
            offer.not_taken.push(format!("{called}: {why}"));
        }
    }
    offer
}

impl Offer {
    /// The flight with all of this but the pad, checked as if it had been read from its file; everything that was there
    /// stays.
    ///
    /// # Errors
    /// Names the field that would not be allowed.
    pub fn added_to(&self, flight: &Flight) -> Result<Flight, FlightError> {
        let mut flight = flight.clone();
        if self.outline.is_some() || !self.hazards.is_empty() {
            let field = flight.field.get_or_insert_default();
            if field.outline.is_none() {
                field.outline.clone_from(&self.outline);
            }
            field.hazards.extend(self.hazards.iter().cloned());
        }
        flight.evidence.extend(self.evidence.iter().cloned());
        let refused = |error: serde_json::Error| FlightError::new("file", error.to_string());
        read_flight(&serde_json::to_string(&flight).map_err(refused)?)
    }

    fn take(&mut self, item: &Item, flight: &Flight) -> Result<(), String> {
        let about = &item.about;
        if let (Some(other), Some(this)) = (&about.flight, &flight.id)
            && other != this
        {
            return Err(format!("it belongs to flight {other:?}"));
        }
        match (item.role, &item.shape) {
            (Some(Role::Aim | Role::Approach | Role::Region | Role::SightLine), _) => {
                Err("it was computed, so it is no evidence".into())
            }
            (Some(Role::Route), _) => {
                Err("a route is a plan; only a walked track says where was searched".into())
            }
            (Some(Role::Pad), Shape::Place(spot)) => self.take_pad(*spot),
            (None, Shape::Place(spot)) if is_pad(about) => self.take_pad(*spot),
            (None | Some(Role::Find), Shape::Place(spot)) => self.take_find(item, *spot, flight),
            (None | Some(Role::Sweep), Shape::Path(path)) => self.take_walk(about, path, flight),
            (Some(Role::Outline), Shape::Ground(geometry)) => self.take_outline(geometry, flight),
            (Some(Role::Hazard), Shape::Ground(geometry)) => self.take_hazard(about, geometry, flight),
            (Some(Role::Area), Shape::Ground(geometry)) => self.take_area(about, geometry, flight),
            (None, Shape::Ground(_)) => {
                let roles = [Role::Outline, Role::Hazard, Role::Area].map(Role::word).join(", ");
                Err(format!("an area is taken if its role says what it is: {roles}"))
            }
            (Some(role), _) => Err(format!("its shape does not fit its role, {}", role.word())),
        }
    }

    fn take_pad(&mut self, spot: Spot) -> Result<(), String> {
        if self.pad.is_some() {
            return Err("a second pad; the first is taken".into());
        }
        let Spot { at, elevation_m, accuracy_m, .. } = spot;
        self.pad = Some(Pad { lat: at.lat, lon: at.lon, accuracy_m, elevation_m });
        Ok(())
    }

    fn take_find(&mut self, item: &Item, spot: Spot, flight: &Flight) -> Result<(), String> {
        let part = part_of(item, flight)?;
        let condition = item.about.note.clone();
        let find =
            Find { part, at: spot.at, accuracy_m: spot.accuracy_m, condition, id: None, set_aside: false };
        self.add(Evidence::Find(find), flight)
    }

    fn take_walk(&mut self, about: &About, path: &[Spot], flight: &Flight) -> Result<(), String> {
        let part = match &about.part {
            Some(part) => Some(known(part, flight).ok_or_else(|| unknown(part, flight))?),
            None => None,
        };
        let launched = launch_time(flight);
        let (mut early, mut untimed, mut last_s) = (0, 0, f64::NEG_INFINITY);
        let mut walked = Vec::new();
        for spot in path {
            let since_s = spot.time.zip(launched).map(|(time, launched)| seconds_after(launched, time));
            let t_s = match since_s {
                Some(t_s) if t_s < 0.0 => {
                    early += 1;
                    continue;
                }
                Some(t_s) if t_s > last_s => {
                    last_s = t_s;
                    Some(t_s)
                }
                _ => {
                    untimed += usize::from(spot.time.is_some());
                    None
                }
            };
            walked.push((t_s, spot.at.lat, spot.at.lon, spot.accuracy_m));
        }
        let called = about.name.as_deref().unwrap_or("a track");
        if early > 0 {
            self.not_taken.push(format!("{called}: {early} points from before the launch"));
        }
        if untimed > 0 {
            let why = if launched.is_some() { "which do not rise" } else { "for the launch has none" };
            self.not_taken.push(format!("{called}: the times of {untimed} points, {why}"));
        }
        if walked.len() < 2 {
            return Err(format!("{} points after the launch; a search has at least 2", walked.len()));
        }
        let sweep = Sweep {
            part,
            path: walked,
            seen_from_m: about.seen_from_m,
            sweep_width_m: about.sweep_width_m,
            id: None,
            set_aside: false,
        };
        self.add(Evidence::Sweep(sweep), flight)
    }

    fn take_outline(&mut self, geometry: &Value, flight: &Flight) -> Result<(), String> {
        let has_one = flight.field.as_ref().is_some_and(|field| field.outline.is_some());
        if has_one || self.outline.is_some() {
            return Err("the field has an outline already".into());
        }
        self.outline = Some(geometry.clone());
        Ok(())
    }

    fn take_hazard(&mut self, about: &About, geometry: &Value, flight: &Flight) -> Result<(), String> {
        let kind = about.hazard.ok_or("its kind of hazard is not said")?;
        let hazard = Hazard { kind, name: about.name.clone(), geometry: geometry.clone(), height_m: None };
        let known = flight.field.iter().flat_map(|field| &field.hazards).chain(&self.hazards);
        if known.into_iter().any(|it| *it == hazard) {
            return Err("already known".into());
        }
        self.hazards.push(hazard);
        Ok(())
    }

    fn take_area(&mut self, about: &About, geometry: &Value, flight: &Flight) -> Result<(), String> {
        let inside = about.inside.ok_or("it is not said whether the part lies inside")?;
        let confidence = about.confidence.ok_or("its confidence is not said")?;
        let part = about.part.clone();
        let geometry = geometry.clone();
        self.add(
            Evidence::Area(Area { part, geometry, inside, confidence, id: None, set_aside: false }),
            flight,
        )
    }

    fn add(&mut self, piece: Evidence, flight: &Flight) -> Result<(), String> {
        if flight.evidence.iter().chain(&self.evidence).any(|known| known.says_what(&piece)) {
            return Err("already known".into());
        }
        self.evidence.push(piece);
        Ok(())
    }
}

fn seconds_after(launched: DateTime<Utc>, time: DateTime<Utc>) -> f64 {
    let since = time - launched;
    since.to_std().map_or(-1.0, |since| since.as_secs_f64())
}

fn is_pad(about: &About) -> bool {
    let name = about.name.as_deref().unwrap_or_default().trim().to_lowercase();
    ["pad", "launch pad"].contains(&name.as_str())
}

/// The part a find is about: as its file says, or as a flyer would name the place: "lower", "found lower", "lower found".
fn part_of(item: &Item, flight: &Flight) -> Result<String, String> {
    if let Some(part) = &item.about.part {
        return known(part, flight).ok_or_else(|| unknown(part, flight));
    }
    let name = item.about.name.as_deref().unwrap_or_default().trim();
    let lower = name.to_lowercase();
    let bare = ["found", "find"].iter().find_map(|word| {
        lower
            .strip_prefix(word)
            .or_else(|| lower.strip_suffix(word))
            .map(|it| it.trim_matches([' ', ':', ',']))
    });
    bare.into_iter().chain([name]).find_map(|name| known(name, flight)).ok_or_else(|| unknown(name, flight))
}

/// The name of a part, a stage or the rocket as the flight spells it.
fn known(name: &str, flight: &Flight) -> Option<String> {
    names(flight).into_iter().find(|known| known.to_lowercase() == name.trim().to_lowercase())
}

fn names(flight: &Flight) -> Vec<String> {
    let rocket = &flight.rocket;
    let stages = (0..rocket.stages.len()).map(|stage| rocket.stage_name(stage));
    rocket.part_names().into_iter().chain(stages).chain(rocket.name.clone()).collect()
}

fn unknown(name: &str, flight: &Flight) -> String {
    format!(
        "{name:?} is no part of this rocket; it has {}, and the pad is called pad",
        flight.rocket.part_names().join(", ")
    )
}
