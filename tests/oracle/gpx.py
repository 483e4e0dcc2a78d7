"""Reads our GPX with gpxpy, and writes GPX with gpxpy for us to read.

Needs Python 3.11, gpxpy 1.6.2 (the version it last ran with; it prints the one it finds into the tables).
Run from the root of the repository: python3 tests/oracle/gpx.py

tests/reference/gpxpy/exported.gpx is what this program exports; a Rust test holds the two against each other and says
how to renew it. Into exported.csv goes every number that gpxpy finds in it. written_1_0.gpx and written_1_1.gpx are
files as gpxpy writes them, with places invented by a seeded generator; their numbers go into written.csv.
"""

import datetime
import random
from pathlib import Path

import gpxpy
import gpxpy.gpx

FOLDER = Path(__file__).resolve().parent.parent / "reference" / "gpxpy"
COLUMNS = "file,kind,name,part,index,lat_deg,lon_deg,ele_m,unix_s"


def row(file, kind, name, part, index, point):
    ele = "" if point.elevation is None else repr(point.elevation)
    at = "" if point.time is None else repr(point.time.timestamp())
    assert "," not in (name or "")
    return f"{file},{kind},{name or ''},{part},{index},{point.latitude!r},{point.longitude!r},{ele},{at}"


def rows(file):
    gpx = gpxpy.parse((FOLDER / file).read_text())
    for index, point in enumerate(gpx.waypoints):
        yield row(file, point.type or "", point.name, 0, index, point)
    for route in gpx.routes:
        for index, point in enumerate(route.points):
            yield row(file, "route", route.name, 0, index, point)
    for track in gpx.tracks:
        for part, segment in enumerate(track.segments):
            for index, point in enumerate(segment.points):
                yield row(file, track.type or "", track.name, part, index, point)


def table(name, files):
    lines = [line for file in files for line in rows(file)]
    header = f"""# Source: tests/oracle/gpx.py with gpxpy {gpxpy.__version__}
# Mark: GEN
# Rows: {len(lines)}
# Tolerance: degrees 0, the same decimals are read
# Tolerance: ele_m 0, the same decimals are read
# Tolerance: unix_s 1e-6, microseconds in gpxpy
"""
    (FOLDER / name).write_text(header + COLUMNS + "\n" + "\n".join(lines) + "\n")
    print(f"{name}: {len(lines)} rows")


def write(version):
    draw = random.Random(5870)
    start = datetime.datetime(2026, 5, 16, 9, 20, tzinfo=datetime.timezone.utc)

    def point(kind, seconds):
        return kind(
            latitude=round(draw.uniform(-90, 90), 8),
            longitude=round(draw.uniform(-180, 180), 8),
            elevation=draw.choice([None, round(draw.uniform(-100, 3000), 2)]),
            time=draw.choice([None, start + datetime.timedelta(seconds=seconds)]),
        )

    gpx = gpxpy.gpx.GPX()
    for number in range(6):
        waypoint = point(gpxpy.gpx.GPXWaypoint, number)
        waypoint.name, waypoint.symbol, waypoint.horizontal_dilution = f"place {number} & <more>", "Flag", 1.2
        gpx.waypoints.append(waypoint)
    route = gpxpy.gpx.GPXRoute(name="plan")
    route.points = [point(gpxpy.gpx.GPXRoutePoint, number) for number in range(4)]
    gpx.routes.append(route)
    track = gpxpy.gpx.GPXTrack(name="walk")
    for part in range(3):
        segment = gpxpy.gpx.GPXTrackSegment()
        segment.points = [point(gpxpy.gpx.GPXTrackPoint, 100 * part + number / 4) for number in range(5)]
        track.segments.append(segment)
    gpx.tracks.append(track)
    file = f"written_{version.replace('.', '_')}.gpx"
    (FOLDER / file).write_text(gpx.to_xml(version=version))
    return file


if __name__ == "__main__":
    table("written.csv", [write(version) for version in ("1.0", "1.1")])
    table("exported.csv", ["exported.gpx"])
