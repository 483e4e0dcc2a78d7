//! Invented rockets: what their flyer would say of them, and what they truly were.

use super::chance::{Chance, normal, pick};
use super::flown::{Device, Piece, Stage};
use core::f64::consts::PI;
use rand::{Rng, RngExt};
use serde_json::{Value, json};

const GRAVITY_MPS2: f64 = 9.806_65;

/// A motor as its box says it.
#[derive(Clone, Copy, Debug)]
struct Motor {
    class: &'static str,
    /// Upper limit of the class, N s.
    upper_ns: f64,
    thrust_n: f64,
    delays_s: [f64; 2],
    loaded_g: f64,
    propellant_g: f64,
    dry_g: (f64, f64),
    diameter_mm: (f64, f64),
}

/// Invented, of no one make.
const MOTORS: [Motor; 5] = [
    Motor {
        class: "A",
        upper_ns: 2.5,
        thrust_n: 8.0,
        delays_s: [3.0, 3.0],
        loaded_g: 16.0,
        propellant_g: 3.1,
        dry_g: (22.0, 40.0),
        diameter_mm: (19.0, 25.0),
    },
    Motor {
        class: "B",
        upper_ns: 5.0,
        thrust_n: 6.0,
        delays_s: [4.0, 4.0],
        loaded_g: 18.5,
        propellant_g: 6.0,
        dry_g: (32.0, 62.0),
        diameter_mm: (19.0, 28.0),
    },
    Motor {
        class: "C",
        upper_ns: 10.0,
        thrust_n: 6.0,
        delays_s: [5.0, 5.0],
        loaded_g: 24.0,
        propellant_g: 11.0,
        dry_g: (40.0, 80.0),
        diameter_mm: (22.0, 34.0),
    },
    Motor {
        class: "D",
        upper_ns: 20.0,
        thrust_n: 12.0,
        delays_s: [5.0, 5.0],
        loaded_g: 43.0,
        propellant_g: 21.0,
        dry_g: (70.0, 150.0),
        diameter_mm: (25.0, 42.0),
    },
    Motor {
        class: "E",
        upper_ns: 40.0,
        thrust_n: 12.0,
        delays_s: [6.0, 4.0],
        loaded_g: 57.0,
        propellant_g: 35.0,
        dry_g: (95.0, 190.0),
        diameter_mm: (33.0, 50.0),
    },
];

/// Which rockets fly.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Fleet {
    /// All kinds, told in full.
    Told,
    /// In one stage, with two named parts and a parachute.
    TwoParts,
    /// In one stage, told in full.
    OneStage,
    /// Of which only the letter of the motor is told.
    Letter,
}

/// A rocket as told, and as it was.
#[derive(Clone, Debug)]
pub(super) struct Rocket {
    /// `rocket.stages` of the flight file.
    pub(super) told: Vec<Value>,
    pub(super) stages: Vec<Stage>,
}

impl Rocket {
    /// `wider`: how much wider than usual everything that is not normal strays.
    pub(super) fn draw(fleet: Fleet, wider: f64, chance: &Chance, rng: &mut impl Rng) -> Self {
        match fleet {
            Fleet::Letter => Self::of_a_letter(chance, rng),
            Fleet::TwoParts => Self::told(false, true, wider, chance, rng),
            Fleet::OneStage => {
                let parts = rng.random::<f64>() < 0.4;
                Self::told(false, parts, wider, chance, rng)
            }
            Fleet::Told => {
                let two_stages = rng.random::<f64>() < 0.1;
                let parts = !two_stages && rng.random::<f64>() < 0.4;
                Self::told(two_stages, parts, wider, chance, rng)
            }
        }
    }

    fn told(two_stages: bool, parts: bool, wider: f64, chance: &Chance, rng: &mut impl Rng) -> Self {
        let motor = MOTORS[pick(&[0.15, 0.25, 0.3, 0.2, 0.1], rng)];
        let (told, stage) = one_stage(motor, false, parts, wider, chance, rng);
        let (mut told, mut stages) = (vec![told], vec![stage]);
        if two_stages {
            // A booster is light, and lifts the stack with five times its weight: common practice.
            let below = if motor.upper_ns > 10.0 { MOTORS[4] } else { MOTORS[3] };
            let stack_kg = (motor.dry_g.1 + motor.loaded_g + 60.0 + below.loaded_g) / 1000.0;
            let lifts_n = (5.0 * stack_kg * GRAVITY_MPS2).ceil().max(below.thrust_n);
            let below = Motor { thrust_n: lifts_n, dry_g: (25.0, 60.0), ..below };
            let (first, stage) = one_stage(below, true, false, wider, chance, rng);
            told.insert(0, first);
            stages.insert(0, stage);
        }
        Self { told, stages }
    }

    /// What the letter leaves open is as wide as it is among rockets of one letter.
    fn of_a_letter(chance: &Chance, rng: &mut impl Rng) -> Self {
        let at = pick(&[0.2, 0.3, 0.35, 0.15], rng);
        let class = MOTORS[at].class;
        let usual = windfall_physics::craft::typical_motor(MOTORS[at].upper_ns);
        let dry_kg = usual.rocket_mass_kg * chance.draw("mass_guessed", rng);
        let diameter_m = usual.rocket_diameter_m * chance.draw("size_guessed", rng);
        let impulse_ns = MOTORS[at].upper_ns * chance.draw("impulse_letter_only", rng);
        let thrust_n = usual.mean_thrust_n * chance.wide("mean_thrust_designated", 3.0, rng);
        let propellant_kg = usual.propellant_kg_per_ns * impulse_ns;
        // A parachute chosen for this rocket: common practice, no source, is 4 to 5 m/s; half to twice the area.
        let falling_kg = dry_kg + usual.loaded_mass_kg - propellant_kg;
        let chosen_m2 = 2.0 * falling_kg * GRAVITY_MPS2 / (1.2 * 4.5 * 4.5);
        let drag = 0.70 * chance.draw("drag_coefficient_unknown", rng) * chance.draw("ascent_drag", rng);
        let stage = Stage {
            dry_kg,
            loaded_kg: usual.loaded_mass_kg,
            propellant_kg,
            thrust_n,
            burn_s: impulse_ns / thrust_n,
            delay_s: (usual.delay_s * (1.0 + 0.3 * normal(rng))).max(0.0),
            ascent_drag_m2: drag * PI * diameter_m * diameter_m / 4.0,
            device: Device::Parachute,
            open_drag_m2: chosen_m2 * (0.4 * normal(rng)).exp(),
            tumbling_m2: tumbling_m2(14.0 * diameter_m, diameter_m) * chance.draw("tumble_drag_area", rng),
            pieces: Vec::new(),
        };
        Self { told: vec![json!({ "motor": class })], stages: vec![stage] }
    }
}

fn one_stage(
    motor: Motor,
    booster: bool,
    parts: bool,
    wider: f64,
    chance: &Chance,
    rng: &mut impl Rng,
) -> (Value, Stage) {
    let dry_g = rng.random_range(motor.dry_g.0..motor.dry_g.1).round();
    let diameter_mm = rng.random_range(motor.diameter_mm.0..motor.diameter_mm.1).round();
    let length_mm = (diameter_mm * rng.random_range(10.0..18.0)).round();
    let weighed = rng.random::<f64>() < 0.6;
    let drag = (rng.random::<f64>() < 0.5).then(|| (100.0 * rng.random_range(0.5..0.85_f64)).round() / 100.0);
    let delay_s = motor.delays_s[pick(&[0.5, 0.5], rng)];
    let device = match (booster, parts) {
        (true, _) => Device::Tumble,
        (_, true) => Device::Parachute,
        _ if motor.upper_ns <= 5.0 => {
            [Device::Parachute, Device::Streamer, Device::Tumble][pick(&[0.55, 0.35, 0.1], rng)]
        }
        _ => [Device::Parachute, Device::Streamer][pick(&[0.85, 0.15], rng)],
    };
    let falling_kg = (dry_g + motor.loaded_g - motor.propellant_g) / 1000.0;
    // Chosen for a fall that does no harm.
    let open_m2 = |mps: f64| 2.0 * falling_kg * GRAVITY_MPS2 / (1.2 * mps * mps);
    let tumbles_m2 = tumbling_m2(length_mm / 1000.0, diameter_mm / 1000.0);
    let size = |rng: &mut _| chance.wide("size_stated", wider, rng);
    let (recovery, open_drag_m2) = match device {
        Device::Tumble => (json!({"kind": "tumble"}), 0.0),
        Device::Parachute => {
            let area_m2 = open_m2(rng.random_range(3.8..6.0)) / chance.a("parachute_drag_coefficient");
            let across_mm = (1000.0 * (4.0 * area_m2 / PI).sqrt()).round();
            let true_m = across_mm / 1000.0 * size(rng);
            let drag_m2 = chance.a("parachute_drag_coefficient") * PI * true_m * true_m / 4.0;
            (
                json!({"kind": "parachute", "diameter_mm": across_mm}),
                drag_m2 * chance.wide("parachute_drag_area", wider, rng),
            )
        }
        Device::Streamer => {
            let drag = chance.a("streamer_drag_coefficient");
            let area_m2 = (open_m2(rng.random_range(8.0..11.0)) - 0.3 * tumbles_m2).max(0.01) / drag;
            let width_mm = (1000.0 * (area_m2 / 10.0).sqrt()).round();
            let one_side_m2 = width_mm / 1000.0 * size(rng) * width_mm / 100.0 * size(rng);
            let drag_m2 =
                (drag * one_side_m2 + 0.3 * tumbles_m2) * chance.wide("streamer_drag_area", wider, rng);
            (json!({"kind": "streamer", "length_mm": 10.0 * width_mm, "width_mm": width_mm}), drag_m2)
        }
    };
    let mass = if weighed { "mass_weighed" } else { "mass_stated" };
    let dry_kg = dry_g / 1000.0 * chance.draw(mass, rng);
    let across_m = diameter_mm / 1000.0 * size(rng);
    let drag_truly = drag.unwrap_or_else(|| 0.70 * chance.wide("drag_coefficient_unknown", wider, rng));
    let impulse_ns =
        motor.upper_ns * chance.draw("class_fill", rng) * chance.wide("impulse_full_designation", wider, rng);
    let thrust_n = motor.thrust_n * chance.wide("mean_thrust_designated", wider, rng);
    let tumbling = |length_mm: f64, rng: &mut _| {
        tumbling_m2(length_mm / 1000.0, diameter_mm / 1000.0) * chance.wide("tumble_drag_area", wider, rng)
    };
    let mut told = json!({
        "dry_mass_g": {"value": dry_g, "known": if weighed { "weighed" } else { "stated" }},
        "diameter_mm": diameter_mm,
        "length_mm": length_mm,
        "motor": {
            "designation": format!("{}{}-{}", motor.class, motor.thrust_n, if booster { 0.0 } else { delay_s }),
            "loaded_mass_g": motor.loaded_g,
            "propellant_g": motor.propellant_g,
        },
        "recovery": recovery,
    });
    if let Some(drag) = drag {
        told["drag_coefficient"] = json!(drag);
    }
    let mut pieces = Vec::new();
    if parts {
        let (upper_g, upper_mm) = ((0.4 * dry_g).round(), (0.35 * length_mm).round());
        told["splits_into"] = json!([
            {"name": "upper", "mass_g": upper_g, "length_mm": upper_mm, "carries_recovery": true},
            {"name": "lower", "mass_g": dry_g - upper_g, "length_mm": length_mm - upper_mm, "carries_motor": true},
        ]);
        let piece = |share: f64, length_mm: f64, upper: bool, rng: &mut _| Piece {
            dry_kg: share * dry_kg,
            tumbling_m2: tumbling(length_mm, rng),
            carries_recovery: upper,
            carries_motor: !upper,
        };
        pieces.push(piece(upper_g / dry_g, upper_mm, true, rng));
        pieces.push(piece(1.0 - upper_g / dry_g, length_mm - upper_mm, false, rng));
    }
    let stage = Stage {
        dry_kg,
        loaded_kg: motor.loaded_g / 1000.0,
        propellant_kg: motor.propellant_g / 1000.0,
        thrust_n,
        burn_s: impulse_ns / thrust_n,
        delay_s: if booster { 0.0 } else { (delay_s * chance.wide("delay", wider, rng)).max(0.0) },
        ascent_drag_m2: drag_truly * chance.wide("ascent_drag", wider, rng) * PI * across_m * across_m / 4.0,
        device,
        open_drag_m2,
        tumbling_m2: tumbling(length_mm, rng),
        pieces,
    };
    (told, stage)
}

/// A cylinder in cross-flow, 1.2 L d, of which a tumbling one keeps about half: the table's factor is about this.
fn tumbling_m2(length_m: f64, diameter_m: f64) -> f64 {
    1.2 * f64::midpoint(4.0 / (3.0 * PI), 3.0 * PI / 16.0) * length_m * diameter_m
}
