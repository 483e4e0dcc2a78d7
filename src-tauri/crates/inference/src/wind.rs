//! From wind readings to what is believed of the wind during the flight.

use crate::Priors;
use windfall_facts::{Flight, Known, North, WindMethod, WindReading};
use windfall_physics::air::{Aloft, shape_at};
use windfall_quantities::{Bearing, Declination, MagneticNorth, TrueNorth};

/// Mean wind of the flight at one height: a Gaussian vector, towards east and north, m/s.
#[derive(Clone, Debug)]
pub(crate) struct WindBelief {
    pub(crate) height_m: f64,
    pub(crate) mean_mps: [f64; 2],
    /// Lower triangle of the covariance's root: (east, east), (north, east), (north, north).
    pub(crate) root_mps: [f64; 3],
    /// Whether readings stand behind it, whose errors have heavy tails.
    pub(crate) read: bool,
    pub(crate) aloft: Vec<Aloft>,
}

const USUAL_HEIGHT_M: f64 = 2.0;
const ALOFT_ABOVE_M: f64 = 80.0;
const UNKNOWN_AGE_MIN: f64 = 10.0;
const LEAST_ERROR_MPS: f64 = 0.3;

impl WindBelief {
    /// Combines all readings with the climate of flying days.
    ///
    /// # Model
    /// Without a reading the wind is an isotropic Gaussian vector: its speed is then Rayleigh, which is the Weibull
    /// law of shape 2 in the table. A reading adds a Gaussian vector with errors along and across its direction.
    pub(crate) fn from_readings(flight: &Flight, declination: Declination, priors: &Priors) -> Self {
        let usable: Vec<Reading> =
            flight.wind.iter().filter_map(|row| Reading::of(row, flight, declination, priors)).collect();
        let (near, aloft): (Vec<&Reading>, Vec<&Reading>) =
            usable.iter().partition(|reading| reading.height_m <= ALOFT_ABOVE_M);
        let mut aloft: Vec<Aloft> = aloft
            .iter()
            .filter(|reading| reading.direction_known)
            .map(|reading| Aloft {
                height_m: reading.height_m,
                east_mps: reading.towards[0],
                north_mps: reading.towards[1],
            })
            .collect();
        aloft.sort_by(|a, b| a.height_m.total_cmp(&b.height_m));
        // All readings are brought to the height of the sharpest one, so that its own error stays its own.
        let sharpest = near.iter().min_by(|a, b| a.along_sigma_mps.total_cmp(&b.along_sigma_mps));
        let height_m = sharpest.map_or(10.0, |reading| reading.height_m);
        let climate_mps =
            priors.b("wind_speed_10m_unread") / (core::f64::consts::PI / 2.0).sqrt() * usual_shape(height_m);
        let mut precision = [climate_mps.powi(-2), 0.0, climate_mps.powi(-2)];
        let mut pull = [0.0; 2];
        for reading in &near {
            let scale = usual_shape(height_m) / usual_shape(reading.height_m);
            let [east, north] = reading.towards.map(|component| component * scale);
            let (along, across) = if reading.direction_known {
                let (along, across) = (reading.along_sigma_mps * scale, reading.across_sigma_mps * scale);
                (along.powi(-2), across.powi(-2))
            } else {
                // A speed alone pins the length only: the climate's spread is narrowed to that speed.
                let speed = east.hypot(north).max(LEAST_ERROR_MPS);
                let narrowed = (2.0 / (speed * speed) - climate_mps.powi(-2)).max(0.0);
                precision[0] += narrowed;
                precision[2] += narrowed;
                continue;
            };
            let speed = east.hypot(north);
            let (c, s) = if speed > 1e-9 { (east / speed, north / speed) } else { (1.0, 0.0) };
            let p =
                [along * c * c + across * s * s, (along - across) * c * s, along * s * s + across * c * c];
            precision = [precision[0] + p[0], precision[1] + p[1], precision[2] + p[2]];
            pull = [pull[0] + p[0] * east + p[1] * north, pull[1] + p[1] * east + p[2] * north];
        }
        let det = precision[0] * precision[2] - precision[1] * precision[1];
        let covariance = [precision[2] / det, -precision[1] / det, precision[0] / det];
        let first = covariance[0].sqrt();
        Self {
            height_m,
            mean_mps: [
                covariance[0] * pull[0] + covariance[1] * pull[1],
                covariance[1] * pull[0] + covariance[2] * pull[1],
            ],
            root_mps: [
                first,
                covariance[1] / first,
                (covariance[2] - covariance[1] * covariance[1] / covariance[0]).max(0.0).sqrt(),
            ],
            read: near.iter().any(|reading| reading.direction_known),
            aloft,
        }
    }
}

fn usual_shape(height_m: f64) -> f64 {
    shape_at(height_m, 0.05, 0.75, 0.1)
}

#[derive(Clone, Copy, Debug)]
struct Reading {
    height_m: f64,
    towards: [f64; 2],
    along_sigma_mps: f64,
    across_sigma_mps: f64,
    direction_known: bool,
}

impl Reading {
    fn of(row: &WindReading, flight: &Flight, declination: Declination, priors: &Priors) -> Option<Self> {
        let speed = row.speed_mps?;
        let speed_mps = speed.value;
        let meter = row.method == Some(WindMethod::Meter) && speed.known != Some(Known::Guessed);
        let averaged_s =
            row.averaged_s.map_or(if meter { 60.0 } else { 30.0 }, |figure| figure.value).clamp(3.0, 600.0);
        // The table's row is for a 60 s reading; shorter ones are worse, as wind_sonic_spot_vs_flight.csv shows
        // (0.31 at 10 s against 0.22 at 60 s).
        let short = (60.0 / averaged_s).powf(0.19).max(1.0);
        let age = (age_min(row, flight) / 30.0).powf(0.4);
        let ln_speed = (priors.a("reading_to_flight_ln_speed_60s") * short)
            .hypot(priors.b("reading_age_ln_speed_30min") * age)
            .hypot(if meter {
                priors.a("instrument_speed_meter")
            } else {
                priors.a("instrument_speed_feel")
            });
        let slow = (4.0 / speed_mps.max(0.5)).max(1.0);
        let by_eye = !meter;
        let direction_deg = (priors.a("reading_to_flight_direction_60s_at_4mps") * short * slow)
            .hypot(priors.b("reading_age_direction_30min") * age * slow.min(2.0))
            .hypot(if by_eye {
                priors.b("instrument_direction_eye")
            } else {
                priors.b("instrument_direction_compass")
            });
        let from = row.from_deg.and_then(|figure| true_bearing(figure.value, row.north, declination));
        let towards = from.map_or([speed_mps, 0.0], |from| {
            let (sin, cos) = from.reversed().radians().sin_cos();
            [speed_mps * sin, speed_mps * cos]
        });
        Some(Self {
            height_m: row.height_m.map_or(USUAL_HEIGHT_M, |figure| figure.value).max(0.5),
            towards,
            along_sigma_mps: (ln_speed * speed_mps).hypot(LEAST_ERROR_MPS),
            across_sigma_mps: (direction_deg.to_radians().min(1.2) * speed_mps).hypot(LEAST_ERROR_MPS),
            direction_known: from.is_some(),
        })
    }
}

/// A bearing as written, turned to true north; none for a number that is no direction.
pub(crate) fn true_bearing(
    degrees: f64,
    north: North,
    declination: Declination,
) -> Option<Bearing<TrueNorth>> {
    match north {
        North::True => Bearing::from_degrees(degrees).ok(),
        North::Magnetic => {
            Bearing::<MagneticNorth>::from_degrees(degrees).ok().map(|b| b.to_true(declination))
        }
    }
}

fn age_min(row: &WindReading, flight: &Flight) -> f64 {
    let moment = |text: &Option<String>| chrono::DateTime::parse_from_rfc3339(text.as_deref()?).ok();
    match (moment(&row.at), moment(&flight.launch.at)) {
        (Some(read), Some(launched)) => {
            ((launched - read).num_seconds().abs() as f64 / 60.0).clamp(0.0, 600.0)
        }
        _ => UNKNOWN_AGE_MIN,
    }
}
