//! A real gpsd, Debian's, fed what a receiver wrote on an invented walk.

use geo::{Bearing, Distance, Geodesic, Point};
use std::io::Write;
use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::Duration;
use windfall_api::{Api, Fix, Settings};

/// Ended with the test.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// What was written each second.
fn seconds() -> Vec<String> {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/it/gpsd/walk.nmea")).unwrap();
    let lines: Vec<&str> = text.lines().filter(|line| line.starts_with('$')).collect();
    lines.chunks(3).map(|second| second.join("\r\n") + "\r\n").collect()
}

fn at(fix: &Fix) -> Point {
    Point::new(fix.lon, fix.lat)
}

#[test]
fn a_walk_that_a_real_gpsd_reads_is_the_walk_that_was_written() {
    let seconds = seconds();
    assert_eq!(seconds.len(), 40);
    let receiver = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap();
    let device = format!("tcp://{}", receiver.local_addr().unwrap());
    let free = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).unwrap().local_addr().unwrap();
    let (walk_on, waits) = mpsc::channel::<()>();
    let feeding = std::thread::spawn(move || {
        let (mut out, _) = receiver.accept().unwrap();
        for (number, second) in seconds.iter().enumerate() {
            if number == 2 {
                waits.recv().unwrap();
            }
            out.write_all(second.as_bytes()).unwrap();
            std::thread::sleep(Duration::from_millis(100));
        }
        waits.recv().unwrap();
    });
    let port = free.port().to_string();
    let gpsd = Command::new("/usr/sbin/gpsd")
        .args(["-N", "-n", "-S", &port, &device])
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let gpsd = Running(gpsd);

    let api = Api::new(Settings::default()).with_gpsd(SocketAddr::from((Ipv4Addr::LOCALHOST, free.port())));
    // Until it listens.
    let mut first = api.position();
    for _ in 0..100 {
        if first.is_ok() {
            break;
        }
        std::thread::sleep(Duration::from_millis(50));
        first = api.position();
    }
    assert_eq!(first, Ok(None), "a receiver that has no position yet");

    walk_on.send(()).unwrap();
    let mut fixes = Vec::new();
    while let Ok(Some(fix)) = api.position() {
        fixes.push(fix);
    }
    let (start, end) = (fixes.first().unwrap(), fixes.last().unwrap());
    // Ten-thousandths of a minute are 0.2 m; the sentences say 47 degrees 31.8720 minutes, 17 degrees 17.0760 minutes.
    assert!((start.lat - 47.5312).abs() < 1e-6 && (start.lon - 17.2846).abs() < 1e-6, "{start:?}");
    let (way_m, bearing) = (Geodesic.distance(at(start), at(end)), Geodesic.bearing(at(start), at(end)));
    assert!((way_m - 27.0 * 1.4).abs() < 0.4 && (bearing - 45.0).abs() < 0.6, "{way_m} m towards {bearing}");
    assert!(fixes.len() > 30, "{} fixes", fixes.len());
    for pair in fixes.windows(2) {
        let step_m = Geodesic.distance(at(&pair[0]), at(&pair[1]));
        assert!(step_m < 1.4 + 0.4, "{step_m} m in a second: a place was left out or told late");
    }
    let walks = &fixes[10];
    assert!((walks.speed_mps.unwrap() - 1.4).abs() < 0.01, "{walks:?}");
    assert!((walks.course_deg.unwrap() - 45.0).abs() < 0.1, "{walks:?}");
    assert!(end.speed_mps.unwrap() < 0.01, "{end:?}");
    assert!(fixes.iter().all(|fix| fix.accuracy_m > 1.0 && fix.accuracy_m < 40.0), "{end:?}");

    drop(gpsd);
    walk_on.send(()).unwrap();
    feeding.join().unwrap();
    let error = api.position().unwrap_err();
    assert!(error.message.contains("start gpsd"), "{}", error.message);
}
