"""Flies point masses with a high-order solver and writes the table that the flight kernel is held against.

Needs Python 3.11, numpy 2.4.6, scipy 1.17.1 (the versions it last ran with; it prints those it finds into the table).
Run from the root of the repository: python3 tests/oracle/trajectories.py

Every case is a line of inputs and of what came out; the Rust test flies the same inputs, so nothing is coded twice but
the equations. They are written here in full, in still simpler words than the kernel's: no tables, no closed forms, the
steps chosen by DOP853 at 1e-10, phases ended by events.

Frame: east, north, up about the pad, m; seconds; SI. Wind and motion are the direction towards which things move.
"""

import math
import sys
from pathlib import Path

import numpy as np
import scipy
from scipy.integrate import solve_ivp

G = 9.80665
CAP_S = 900.0
CALM_BELOW_M = 48.0
CONSTANT_DENSITY_M = 1e12  # a scale height at which density does not change

DEFAULTS = dict(
    # Air: mean wind towards east and north at 10 m, the profile, density at the pad and its scale height.
    east10_mps=0.0, north10_mps=0.0, roughness_m=0.03, stability=1.0, shear_exponent=0.14, veer_radpm=0.0,
    density_kgpm3=1.2, scale_m=10500.0, rising_mps=0.0,
    # Start: a rail of no length leaves it free from the first moment.
    start_up_m=0.0, start_east_mps=0.0, start_north_mps=0.0, start_up_mps=0.0,
    rail_m=1.0, lean_east_rad=0.0, lean_north_rad=0.0, misaligned_east_rad=0.0, misaligned_north_rad=0.0,
    gust_east_mps=0.0, gust_north_mps=0.0,
    # Burns: mean thrust (0: no burn), length, propellant, mass at ignition, drag area, shape "time:thrust;...".
    thrust1_n=0.0, burn1_s=0.0, propellant1_kg=0.0, mass1_kg=0.0, area1_m2=0.0, curve1="constant",
    thrust2_n=0.0, burn2_s=0.0, propellant2_kg=0.0, mass2_kg=0.0, area2_m2=0.0,
    # Without thrust: until this long after the last burn; then under drag. Negative: streamlined to the ground.
    coast_s=-1.0, coast_mass_kg=0.0, coast_area_m2=0.0, open_mass_kg=0.0, open_area_m2=0.0,
)

BREEZE = dict(east10_mps=4.0, north10_mps=-1.5, stability=0.8, veer_radpm=0.0002)


def rocket(thrust_n, burn_s, propellant_kg, mass_kg, diameter_m, drag=0.75, **more):
    area_m2 = drag * math.pi / 4.0 * diameter_m**2
    return dict(
        thrust1_n=thrust_n, burn1_s=burn_s, propellant1_kg=propellant_kg, mass1_kg=mass_kg, area1_m2=area_m2,
        coast_mass_kg=mass_kg - propellant_kg, coast_area_m2=area_m2, open_mass_kg=mass_kg - propellant_kg, **more,
    )


C6 = rocket(4.9, 1.8, 0.0108, 0.085, 0.025)
TWO = dict(
    thrust1_n=8.0, burn1_s=1.1, propellant1_kg=0.0113, mass1_kg=0.120, area1_m2=4.2e-4,
    lean_east_rad=0.03, lean_north_rad=-0.02,
)
SUSTAINER = dict(thrust2_n=4.9, burn2_s=1.8, propellant2_kg=0.0108, mass2_kg=0.072, area2_m2=3.6e-4)
APART = BREEZE | rocket(4.9, 1.8, 0.0108, 0.085, 0.025, coast_s=4.5)

CASES = dict(
    vertical_still_constant_density=C6 | dict(scale_m=CONSTANT_DENSITY_M, coast_s=5.0, open_area_m2=0.05),
    vertical_still=C6 | dict(coast_s=5.0, open_area_m2=0.05),
    vacuum_leaning=C6 | dict(density_kgpm3=1e-12, lean_east_rad=0.1, lean_north_rad=0.05),
    constant_wind=C6 | dict(
        east10_mps=6.0, north10_mps=2.0, roughness_m=1e-300, stability=0.0, shear_exponent=0.0,
        scale_m=CONSTANT_DENSITY_M, coast_s=5.0, open_area_m2=0.05),
    leaning_rod_in_still_air=C6 | dict(lean_east_rad=0.17, lean_north_rad=-0.1, coast_s=4.0, open_area_m2=0.05),
    leaning_rod_into_the_wind=C6 | BREEZE | dict(lean_east_rad=-0.1, lean_north_rad=0.04, coast_s=5.0, open_area_m2=0.05),
    misaligned_thrust=C6 | BREEZE | dict(misaligned_east_rad=0.02, misaligned_north_rad=-0.015, coast_s=5.0, open_area_m2=0.05),
    gust_on_the_way_up=C6 | BREEZE | dict(gust_east_mps=2.5, gust_north_mps=-1.0, coast_s=5.0, open_area_m2=0.05),
    nominal_parachute=C6 | BREEZE | dict(coast_s=5.0, open_area_m2=0.05),
    streamer=C6 | BREEZE | dict(coast_s=5.0, open_area_m2=0.012),
    tumble=C6 | BREEZE | dict(coast_s=3.0, open_area_m2=0.0035),
    early_ejection_while_ascending=C6 | BREEZE | dict(coast_s=0.3, open_area_m2=0.05),
    late_ejection_in_fast_fall=C6 | BREEZE | dict(coast_s=10.5, open_area_m2=0.05),
    streamlined_flight=C6 | BREEZE,
    streamlined_fall_from_250=BREEZE | dict(
        rail_m=0.0, start_up_m=250.0, start_east_mps=2.0, coast_mass_kg=0.07, coast_area_m2=3.7e-4),
    two_stages_sustainer=BREEZE | TWO | SUSTAINER | dict(
        coast_s=6.0, coast_mass_kg=0.0612, coast_area_m2=3.6e-4, open_mass_kg=0.0612, open_area_m2=0.05),
    two_stages_booster=BREEZE | TWO | dict(
        coast_s=0.0, coast_mass_kg=0.0367, coast_area_m2=4.2e-4, open_mass_kg=0.0367, open_area_m2=0.004),
    second_stage_unlit=BREEZE | TWO | dict(coast_mass_kg=0.072, coast_area_m2=3.6e-4),
    apart_upper_half=APART | dict(open_mass_kg=0.025, open_area_m2=0.045),
    apart_lower_half=APART | dict(open_mass_kg=0.045, open_area_m2=0.0028),
    apart_nose=APART | dict(open_mass_kg=0.0042, open_area_m2=0.0009),
    updraught_weaker_than_the_fall=BREEZE | dict(
        rail_m=0.0, start_up_m=200.0, rising_mps=1.5, coast_s=0.0, coast_mass_kg=0.06, coast_area_m2=4e-4,
        open_mass_kg=0.06, open_area_m2=0.06),
    updraught_stronger_than_the_fall=dict(
        east10_mps=1.0, rail_m=0.0, start_up_m=100.0, rising_mps=2.6, coast_s=0.0, coast_mass_kg=0.02,
        coast_area_m2=4e-4, open_mass_kg=0.02, open_area_m2=0.09),
    strong_shear=C6 | dict(
        east10_mps=5.0, north10_mps=3.0, roughness_m=0.25, stability=2.2, shear_exponent=0.35, coast_s=5.0,
        open_area_m2=0.05),
    strong_veer=C6 | dict(east10_mps=5.0, veer_radpm=0.004, coast_s=5.0, open_area_m2=0.04),
    opening_at_40_mps_under_a_big_chute=BREEZE | dict(
        rail_m=0.0, start_up_m=200.0, start_east_mps=6.0, start_up_mps=-40.0, coast_s=0.0, coast_mass_kg=0.07,
        coast_area_m2=4e-4, open_mass_kg=0.07, open_area_m2=0.25),
    opening_at_3_mps_under_a_tiny_chute=BREEZE | dict(
        rail_m=0.0, start_up_m=200.0, start_up_mps=-3.0, coast_s=0.0, coast_mass_kg=0.07, coast_area_m2=4e-4,
        open_mass_kg=0.07, open_area_m2=0.006),
    half_a=BREEZE | rocket(3.0, 0.42, 0.0016, 0.028, 0.0137, coast_s=2.0, open_area_m2=0.01),
    a=BREEZE | rocket(6.0, 0.42, 0.0031, 0.045, 0.0188, coast_s=3.0, open_area_m2=0.02),
    b_peaked_curve=BREEZE | rocket(
        4.6, 0.86, 0.0056, 0.06, 0.0248, coast_s=4.0, open_area_m2=0.03,
        curve1="0:0;0.1:4.0;0.18:11.6;0.24:9.5;0.28:5.3;0.36:4.4;0.79:4.1;0.82:2.3;0.86:0"),
    d=BREEZE | rocket(12.0, 1.4, 0.0249, 0.14, 0.0414, coast_s=5.0, open_area_m2=0.1),
    d_light_and_draggy=BREEZE | rocket(12.0, 1.4, 0.0249, 0.080, 0.2, drag=1.5, coast_s=3.0, open_area_m2=0.1),
    e=BREEZE | rocket(12.0, 2.4, 0.0359, 0.2, 0.0414, coast_s=6.0, open_area_m2=0.12),
    f=BREEZE | rocket(40.0, 1.6, 0.032, 0.35, 0.054, rail_m=1.8, coast_s=7.0, open_area_m2=0.25),
    g=BREEZE | rocket(80.0, 1.5, 0.0625, 0.75, 0.066, drag=0.5, rail_m=1.8, coast_s=10.0, open_area_m2=0.45),
    weak_thrust_in_wind=dict(east10_mps=4.0, north10_mps=3.0) | rocket(
        2.6, 3.6, 0.01, 0.085, 0.025, coast_s=2.0, open_area_m2=0.05),
)

INPUTS = list(DEFAULTS)
OUTPUTS = [
    "burnout_up_m", "apogee_s", "apogee_east_m", "apogee_north_m", "apogee_up_m", "landing_s", "landing_east_m",
    "landing_north_m", "landing_mps", "capped",
] + [f"{name}_{part}" for name in ("quarter", "half", "three_quarters") for part in ("s", "east_m", "north_m", "up_m")]


class Air:
    def __init__(self, c):
        self.c = c

    def factor(self, height_m):
        """Speed over that at 10 m: log law to 80 m, its slope above 10 m scaled; power law above."""
        c = self.c
        z = max(height_m, 2.0 * c["roughness_m"])
        top = min(z, 80.0)
        neutral = math.log(top / 10.0) / (math.log(10.0) - math.log(c["roughness_m"]))
        slope = c["stability"] if top > 10.0 else 1.0
        log_law = max(1.0 + slope * neutral, 0.1)
        return log_law if z <= 80.0 else log_law * (z / 80.0) ** c["shear_exponent"]

    def wind(self, height_m):
        c = self.c
        factor = self.factor(max(height_m, 0.0))
        angle = c["veer_radpm"] * (height_m - 10.0)  # clockwise
        east, north = c["east10_mps"] * factor, c["north10_mps"] * factor
        return np.array([
            east * math.cos(angle) + north * math.sin(angle), north * math.cos(angle) - east * math.sin(angle), 0.0])

    def rising(self, height_m):
        return self.c["rising_mps"] * min(max(height_m / CALM_BELOW_M, 0.0), 1.0)

    def density(self, height_m):
        return self.c["density_kgpm3"] * math.exp(-max(height_m, 0.0) / self.c["scale_m"])


class Burn:
    """Thrust and the share of propellant used, at seconds after ignition."""

    def __init__(self, mean_n, length_s, curve):
        self.mean_n, self.length_s = mean_n, length_s
        if curve == "constant":
            self.times, self.thrusts = np.array([0.0, length_s]), np.array([mean_n, mean_n])
        else:
            rows = np.array([[float(x) for x in row.split(":")] for row in curve.split(";")])
            self.times, self.thrusts = rows[:, 0], rows[:, 1]
            assert abs(self.times[-1] - length_s) < 1e-12
            self.thrusts = self.thrusts * mean_n * length_s / np.trapezoid(self.thrusts, self.times)
        areas = np.diff(self.times) * (self.thrusts[1:] + self.thrusts[:-1]) / 2.0
        self.sums = np.concatenate([[0.0], np.cumsum(areas)])

    def at(self, s):
        s = min(max(s, 0.0), self.length_s)
        thrust = float(np.interp(s, self.times, self.thrusts))
        row = min(max(int(np.searchsorted(self.times, s, side="right")) - 1, 0), len(self.times) - 2)
        used = self.sums[row] + (s - self.times[row]) * (self.thrusts[row] + thrust) / 2.0
        return thrust, used / self.sums[-1]


def turned(axis, toward_east_rad, toward_north_rad):
    """The axis turned by small angles: for an upright one, towards east and towards north. Rodrigues' rotation."""
    spin = np.array([-toward_north_rad, toward_east_rad, 0.0])
    angle = float(np.linalg.norm(spin))
    if angle < 1e-15:
        return axis
    k = spin / angle
    return axis * math.cos(angle) + np.cross(k, axis) * math.sin(angle) + k * np.dot(k, axis) * (1.0 - math.cos(angle))


class Flight:
    def __init__(self, c):
        self.c, self.air = c, Air(c)
        self.t, self.y = 0.0, np.array([
            0.0, 0.0, c["start_up_m"], c["start_east_mps"], c["start_north_mps"], c["start_up_mps"]])
        self.pieces, self.apogee, self.burnout_up_m = [], None, 0.0

    def solve(self, law, until_s, events=(), breaks=()):
        """To a time or the first event, in pieces between `breaks`; whether an event ended it."""
        for event in events:
            event.terminal = True
        ends = sorted({b for b in breaks if self.t + 1e-12 < b < until_s} | {until_s})
        for end in ends:
            if end <= self.t:
                continue
            r = solve_ivp(law, (self.t, end), self.y, method="DOP853", rtol=1e-10, atol=1e-10, events=list(events), dense_output=True)
            assert r.success, r.message
            self.pieces.append((self.t, r.t[-1], r.sol))
            self.t, self.y = r.t[-1], r.y[:, -1]
            if r.status == 1:
                return True
        return False

    def free(self, mass_of, area_m2, thrust_of=None, rising=False):
        c = self.c
        gust = np.zeros(3) if rising else np.array([c["gust_east_mps"], c["gust_north_mps"], 0.0])

        def law(t, y):
            wind = self.air.wind(y[2]) + gust
            if rising:
                wind[2] += self.air.rising(y[2])
            rel = y[3:] - wind
            speed = float(np.linalg.norm(rel))
            mass = mass_of(t)
            a = -0.5 * self.air.density(y[2]) * area_m2 * speed / mass * rel
            a[2] -= G
            if thrust_of is not None:
                axis = rel / speed if speed > 1e-9 else np.array([0.0, 0.0, 1.0])
                a = a + thrust_of(t) / mass * turned(axis, c["misaligned_east_rad"], c["misaligned_north_rad"])
            return np.concatenate([y[3:], a])

        return law

    def burn(self, number, on_rail):
        c = self.c
        length_s, propellant, mass, area = (c[f"{key}{number}{unit}"] for key, unit in (
            ("burn", "_s"), ("propellant", "_kg"), ("mass", "_kg"), ("area", "_m2")))
        burn = Burn(c[f"thrust{number}_n"], length_s, c["curve1"] if number == 1 else "constant")
        began = self.t
        mass_of = lambda t: mass - propellant * burn.at(t - began)[1]
        thrust_of = lambda t: burn.at(t - began)[0]
        end = began + length_s
        breaks = [began + b for b in burn.times[1:-1]]
        if on_rail and c["rail_m"] > 0.0:
            lean = math.hypot(c["lean_east_rad"], c["lean_north_rad"])
            tilt = math.sin(lean) / lean if lean > 0.0 else 0.0
            along = np.array([c["lean_east_rad"] * tilt, c["lean_north_rad"] * tilt, math.cos(lean)])

            def guided(t, y):
                speed = float(np.dot(y[3:], along))
                pull = (thrust_of(t) - 0.5 * self.air.density(y[2]) * area * speed**2) / mass_of(t) - G * along[2]
                if speed <= 0.0:
                    pull = max(pull, 0.0)  # it stands on the pad
                return np.concatenate([speed * along, pull * along])

            if not self.solve(guided, end, [lambda t, y: np.linalg.norm(y[:3]) - c["rail_m"]], breaks):
                return
        self.solve(self.free(mass_of, area, thrust_of), end, (), breaks)
        self.burnout_up_m = float(self.y[2])

    def fall(self, law, until_s):
        """To a time or the ground; whether it landed."""
        ground = lambda t, y: y[2]
        ground.direction = -1
        return self.solve(law, until_s, [ground])

    def fly(self):
        c = self.c
        if c["thrust1_n"] > 0.0:
            self.burn(1, True)
        if c["thrust2_n"] > 0.0:
            self.burn(2, False)
        streamlined = c["coast_s"] < 0.0
        until = self.t + (120.0 if streamlined else c["coast_s"])
        landed = self.fall(self.free(lambda t: c["coast_mass_kg"], c["coast_area_m2"]), until)
        speed_mps = float(np.linalg.norm(self.y[3:]))
        if streamlined:
            assert landed
            terminal = math.sqrt(2.0 * c["coast_mass_kg"] * G / (self.air.density(0.0) * c["coast_area_m2"]))
            self.share_of_terminal = speed_mps / terminal
        elif not landed:
            landed = self.fall(self.free(lambda t: c["open_mass_kg"], c["open_area_m2"], rising=True), CAP_S)
        self.landed = landed
        return self

    def at(self, t):
        for begin, end, sol in self.pieces:
            if t <= end:
                return sol(t)
        return self.y

    def top(self):
        """Time of the highest point: where it first stops rising."""
        from scipy.optimize import brentq
        for begin, end, sol in self.pieces:
            grid = np.linspace(begin, end, 400)
            up = sol(grid)[5]
            for i in range(len(grid) - 1):
                if up[i] > 0.0 >= up[i + 1]:
                    return brentq(lambda t: sol(t)[5], grid[i], grid[i + 1], xtol=1e-12)
        return self.pieces[0][0] if self.landed else self.t

    def row(self):
        top = self.top()
        apogee = self.at(top)
        out = [self.burnout_up_m, top, *apogee[:3], self.t, self.y[0], self.y[1], float(np.linalg.norm(self.y[3:])),
               0.0 if self.landed else 1.0]
        for share in (0.25, 0.5, 0.75):
            out += [share * self.t, *self.at(share * self.t)[:3]]
        return out


def number(value):
    if isinstance(value, str):
        return value
    value = float(value)
    return "0" if value == 0.0 else f"{value:.9g}"


def main():
    assert len(CASES) >= 24
    lines = []
    for name, given in CASES.items():
        c = DEFAULTS | given
        assert set(given) <= set(DEFAULTS), name
        # As the Rust side will read them.
        c = {key: value if isinstance(value, str) else float(number(value)) for key, value in c.items()}
        flight = Flight(c).fly()
        if name == "streamlined_fall_from_250":
            assert flight.share_of_terminal < 0.95, flight.share_of_terminal
        if name == "updraught_stronger_than_the_fall":
            assert not flight.landed
        row = dict(zip(OUTPUTS, flight.row()))
        lines.append(",".join([name] + [number(c[key]) for key in INPUTS] + [number(row[key]) for key in OUTPUTS]))
        print(f"{name}: {row['landing_s']:.1f} s, apogee {row['apogee_up_m']:.1f} m, lands "
              f"{row['landing_east_m']:.1f} {row['landing_north_m']:.1f}", file=sys.stderr)
    versions = f"Python {sys.version.split()[0]}, numpy {np.__version__}, scipy {scipy.__version__}"
    header = HEADER.format(versions=versions, rows=len(lines))
    out = Path(__file__).resolve().parent.parent / "reference" / "scipy" / "trajectories.csv"
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(header + ",".join(["case"] + INPUTS + OUTPUTS) + "\n" + "\n".join(lines) + "\n")


HEADER = """# Source: tests/oracle/trajectories.py with {versions}: solve_ivp, DOP853, rtol and atol 1e-10
# Mark: GEN
# Rows: {rows}
# Tolerance: landing_m 0.5, what a path may miss
# Tolerance: apogee_m 0.5, what a path may miss
# Tolerance: apogee_s 0.1, half a metre of height lasts 0.3 s about the top
# Tolerance: landing_s 0.1, half a metre at 5 m/s
# Tolerance: way_m 0.5, what a path may miss
"""

if __name__ == "__main__":
    main()
