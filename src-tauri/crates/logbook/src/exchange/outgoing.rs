//! A flight and its last answer as a drawing.

use super::drawing::{About, Drawing, Item, Role, Shape, Spot};
use chrono::{DateTime, TimeDelta, Utc};
use core::time::Duration;
use windfall_facts::{Answer, Evidence, Flight, LatLon, PartAnswer, Sweep};

/// What is known of `flight`, without what was set aside, and where its last answer says to look.
///
/// The cautions of the answer become the note of the whole; a place to start at is never without the caution on the way
/// to it.
#[must_use]
pub fn drawing_of(flight: &Flight, answer: Option<&Answer>) -> Drawing {
    let mut items = vec![pad(flight)];
    if let Some(field) = &flight.field {
        let outline = field.outline.clone().map(|geometry| Item {
            role: Some(Role::Outline),
            shape: Shape::Ground(geometry),
            about: About { name: field.name.clone(), ..About::default() },
        });
        items.extend(outline);
        items.extend(field.hazards.iter().map(|hazard| Item {
            role: Some(Role::Hazard),
            shape: Shape::Ground(hazard.geometry.clone()),
            about: About { name: hazard.name.clone(), hazard: Some(hazard.kind), ..About::default() },
        }));
    }
    let launched = launch_time(flight);
    items.extend(flight.evidence.iter().filter(|it| !it.set_aside()).filter_map(|it| piece(it, launched)));
    if let Some(answer) = answer {
        for part in &answer.parts {
            computed(part, &mut items);
        }
        items.extend(answer.sight_lines.iter().map(|line| Item {
            role: Some(Role::SightLine),
            shape: Shape::Path(vec![Spot::new(line.from), Spot::new(line.to)]),
            about: About { name: Some(format!("sighted: {}", line.moment)), ..About::default() },
        }));
    }
    Drawing {
        title: flight.title.clone().or_else(|| flight.id.clone()),
        note: answer.filter(|it| !it.cautions.is_empty()).map(|it| it.cautions.join(" ")),
        items,
        not_understood: Vec::new(),
    }
}

/// What is known of all `flights` in one drawing, each thing under the name of its flight; nothing that was computed. What
/// several of them say of one field is there once.
#[must_use]
pub fn drawing_of_all<'a>(flights: impl IntoIterator<Item = &'a Flight>) -> Drawing {
    let mut all = Drawing { title: Some("Windfall".into()), ..Drawing::default() };
    for flight in flights {
        let Drawing { title, items, .. } = drawing_of(flight, None);
        for mut item in items {
            if matches!(item.role, Some(Role::Outline | Role::Hazard)) {
                if !all.items.contains(&item) {
                    all.items.push(item);
                }
                continue;
            }
            let about = &mut item.about;
            about.flight.clone_from(&flight.id);
            about.name = match (title.as_deref(), about.name.as_deref()) {
                (Some(title), Some(name)) => Some(format!("{title}: {name}")),
                (one, other) => one.or(other).map(str::to_owned),
            };
            all.items.push(item);
        }
    }
    all
}

/// First motion, if the flight says when.
pub(super) fn launch_time(flight: &Flight) -> Option<DateTime<Utc>> {
    let at = flight.launch.at.as_deref()?;
    DateTime::parse_from_rfc3339(at).ok().map(|at| at.to_utc())
}

fn pad(flight: &Flight) -> Item {
    let pad = flight.pad;
    let spot = Spot {
        elevation_m: pad.elevation_m,
        accuracy_m: pad.accuracy_m,
        ..Spot::new(LatLon { lat: pad.lat, lon: pad.lon })
    };
    let about = About { name: Some("pad".into()), flight: flight.id.clone(), ..About::default() };
    Item { role: Some(Role::Pad), shape: Shape::Place(spot), about }
}

fn piece(piece: &Evidence, launched: Option<DateTime<Utc>>) -> Option<Item> {
    match piece {
        Evidence::Find(find) => Some(Item {
            role: Some(Role::Find),
            shape: Shape::Place(Spot { accuracy_m: find.accuracy_m, ..Spot::new(find.at) }),
            about: About {
                name: Some(format!("{} found", find.part)),
                note: find.condition.clone(),
                part: Some(find.part.clone()),
                ..About::default()
            },
        }),
        Evidence::Sweep(sweep) => Some(Item {
            role: Some(Role::Sweep),
            shape: Shape::Path(walked(sweep, launched)),
            about: About {
                name: Some(format!("searched for {}", sweep.part.as_deref().unwrap_or("any part"))),
                part: sweep.part.clone(),
                seen_from_m: sweep.seen_from_m,
                sweep_width_m: sweep.sweep_width_m,
                ..About::default()
            },
        }),
        Evidence::Area(area) => Some(Item {
            role: Some(Role::Area),
            shape: Shape::Ground(area.geometry.clone()),
            about: About {
                part: area.part.clone(),
                inside: Some(area.inside),
                confidence: Some(area.confidence),
                ..About::default()
            },
        }),
        Evidence::Sighting(_)
        | Evidence::Track(_)
        | Evidence::Altimeter(_)
        | Evidence::Saw(_)
        | Evidence::Beacon(_) => None,
    }
}

fn walked(sweep: &Sweep, launched: Option<DateTime<Utc>>) -> Vec<Spot> {
    let after = |t_s: f64| {
        let since = TimeDelta::from_std(Duration::try_from_secs_f64(t_s).ok()?).ok()?;
        launched?.checked_add_signed(since)
    };
    let spot = |&(t_s, lat, lon, accuracy_m): &(Option<f64>, f64, f64, Option<f64>)| Spot {
        time: t_s.and_then(after),
        accuracy_m,
        ..Spot::new(LatLon { lat, lon })
    };
    sweep.path.iter().map(spot).collect()
}

fn computed(part: &PartAnswer, items: &mut Vec<Item>) {
    let name = &part.part;
    let about = |called: String, note: Option<String>| About {
        name: Some(called),
        note,
        part: Some(name.clone()),
        ..About::default()
    };
    let approach = &part.approach;
    let distance = format!("{:.0} m from the pad.", part.distance_from_pad_m);
    let note = approach.caution.as_ref().map_or(distance.clone(), |it| format!("{distance} Caution: {it}"));
    items.push(Item {
        role: Some(Role::Aim),
        shape: Shape::Place(Spot::new(part.aim)),
        about: about(format!("{name}: start here"), Some(note)),
    });
    if let Some(caution) = &approach.caution {
        items.push(Item {
            role: Some(Role::Approach),
            shape: Shape::Place(Spot::new(LatLon { lat: approach.lat, lon: approach.lon })),
            about: about(format!("{name}: stop here first"), Some(caution.clone())),
        });
    }
    items.extend(part.regions.iter().map(|region| Item {
        role: Some(Role::Region),
        shape: Shape::Ground(region.geometry.clone()),
        about: About {
            probability: Some(region.probability),
            ..about(format!("{name}, {:.0} %", 100.0 * region.probability), None)
        },
    }));
}
