"""Works out the posterior of a reduced model with a general-purpose library, for the core to be held against.

Needs Python 3.11 and particles 0.4 (pip install particles; with the numpy and scipy that it brings).
Run from the root of the repository: python3 tests/oracle/posterior.py
With --against PROGRAM it also puts the program's time beside the library's, per effective draw.

The reduced model is the program's own with all but a few coordinates pinned by tests/oracle/posterior/priors.csv. Here it
is written anew: one body, flown by small Runge-Kutta steps for all draws at once, no tables, no closed forms, no linear
block. Six standard normals: speed and direction of the wind, drag area, clock, heading, tilt; two modes, the parachute
opens or tangles (0.9 to 0.1). The library's sampler: tempering with adaptive steps, waste-free, for each mode on its own
(P. Del Moral et al. 2006; H.-D. Dau, N. Chopin 2022), repeated; Monte Carlo errors from the repetitions.

Frame: east, north, up about the pad, m; seconds after first motion; bearings clockwise from true north.
"""

import json
import math
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import particles
from particles import distributions as dists
from particles import smc_samplers as ssp
from scipy.special import log_expit
from scipy.stats import norm
from scipy.stats import t as student

HERE = Path(__file__).parent / "posterior"
TABLE = HERE.parent.parent / "reference" / "particles" / "posterior.csv"
G, R = 9.80665, 287.05287
PAD = dict(lat=46.2, lon=8.4, elevation_m=120.0)
# Degrees of latitude and longitude at the pad, m: WGS 84 series (NIMA TR8350.2), good to a decimetre over a kilometre.
_F = math.radians(PAD["lat"])
NORTH_M = 111132.954 - 559.822 * math.cos(2 * _F) + 1.175 * math.cos(4 * _F)
EAST_M = 111412.84 * math.cos(_F) - 93.5 * math.cos(3 * _F) + 0.118 * math.cos(5 * _F)

# Rocket, wind and errors as the files say them.
DRY_KG, LOADED_KG, PROPELLANT_KG = 0.062, 0.024, 0.011
IMPULSE_NS, THRUST_N, DELAY_S, OPENING_S = 9.5, 6.0, 5.0, 1.0
DRAG_M2 = 0.75 * math.pi / 4 * 0.0248**2
OPEN_M2 = 0.75 * math.pi / 4 * 0.3**2
ROD_M = 0.9
READ_MPS, READ_TOWARDS, AGE_MIN = 3.2, math.radians(60.0), 5.0
ROUGHNESS_M, STABILITY, SHEAR = 0.03, 0.75, 0.10
ACROSS, UPWARDS, CLICK_S = math.radians(4.0), math.radians(2.0), 0.5
HEADING, TILT, CLOCK_S, LATE_S = math.radians(6.0), math.radians(1.0), math.hypot(0.2, 0.5), 0.4
EYE_M = 1.6
MODES = {"opens": (0.9, 1.0), "tangled": (0.1, 0.4)}

CASES = {
    "nothing": [],
    "lost": [dict(moment="lost", t_s=50.4, bearing_deg=66.0, elevation_deg=40.0)],
    "two": [
        dict(moment="descent", t_s=20.4, bearing_deg=244.0, elevation_deg=69.0),
        dict(moment="lost", t_s=52.0, bearing_deg=57.0, elevation_deg=35.0),
    ],
    "fast": [
        dict(moment="descent", t_s=24.4, bearing_deg=236.0, elevation_deg=69.5),
        dict(moment="descent", t_s=33.0, bearing_deg=228.0, elevation_deg=77.5),
    ],
    "find": [
        dict(find=(70.0, 45.0), accuracy_m=25.0),
        dict(moment="lost", t_s=44.4, bearing_deg=62.0, elevation_deg=62.0),
    ],
}


def strayed(mps, sigma, power):
    """What age adds to an error: a light wind strays farther than one of 5 m/s at 40 m; usual ground between."""
    at_40m = mps * (1.0 + 0.75 * math.log(4.0) / math.log(10.0 / 0.05))
    return sigma * (AGE_MIN / 30.0) ** 0.4 * (5.0 / np.clip(at_40m, 2.5, 10.0)) ** power


def wind_law():
    """Quantiles of the logarithm of the speed: Rayleigh climate of flying days times the error of the reading, whose step
    from one minute to another is a Student t of 4 degrees of freedom and the rest of it normal; on a fine grid."""
    ln = np.linspace(math.log(READ_MPS) - 3.0, math.log(READ_MPS) + 3.0, 4001)
    speed, climate = np.exp(ln), 3.5 / math.sqrt(math.pi / 2)
    rest = np.sqrt(0.08**2 + (0.15 / speed) ** 2 + strayed(speed, 0.24, 0.6) ** 2)
    steps = np.linspace(-8.0, 8.0, 1601)
    error = sum(
        student.pdf(step / 0.17, 4) * norm.pdf(math.log(READ_MPS) - ln - step, scale=rest) for step in steps)
    density = speed**2 * np.exp(-0.5 * (speed / climate) ** 2) * error
    reached = np.cumsum(density)
    return ln, (reached - 0.5 * density) / reached[-1]


LN_SPEEDS, REACHED = wind_law()


def air_density(height_m):
    """Moist air at the pad (CIPM-2007, half saturated, 20 C, standard pressure), thinning with the lapse of 6.5 K/km."""
    pascal = 101325.0 * (1 - 0.0065 * PAD["elevation_m"] / 288.15) ** (G / (R * 0.0065))
    kelvin, t = 293.15, 20.0
    saturation = math.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)
    vapour = 0.5 * (1.00062 + 3.14e-8 * pascal + 5.6e-7 * t * t) * saturation / pascal
    at_pad = pascal * 28.96546e-3 / (8.314472 * kelvin) * (1 - 0.378 * vapour) * 1.0004  # compressibility 0.9996
    return at_pad * np.exp(-np.maximum(height_m, 0.0) * (G / R - 0.0065) / kelvin)


def wind_factor(height_m):
    z = np.maximum(height_m, 2 * ROUGHNESS_M)
    top = np.minimum(z, 80.0)
    neutral = np.log(top / 10.0) / math.log(10.0 / ROUGHNESS_M)
    log_law = np.maximum(1.0 + np.where(top > 10.0, STABILITY, 1.0) * neutral, 0.1)
    return np.where(z <= 80.0, log_law, log_law * (z / 80.0) ** SHEAR)


def off_the_rod():
    """Time and speed at the end of the upright rod, the same for all draws: the wind does not act on it."""
    burn_s, t, z, v, h = IMPULSE_NS / THRUST_N, 0.0, 0.0, 0.0, 1e-5
    brake = 0.5 * float(air_density(0.0)) * DRAG_M2

    def gains(t, v):
        mass = DRY_KG + LOADED_KG - PROPELLANT_KG * t / burn_s
        return (THRUST_N - brake * v * v) / mass - G

    while z < ROD_M:
        middle = v + h / 2 * gains(t, v)
        z, v, t = z + h * middle, v + h * gains(t + h / 2, middle), t + h
    return t - (z - ROD_M) / v, v


class Flown:
    """The flights of all draws: knots every so many seconds, and when and where they landed."""

    def __init__(self, speed, towards, open_m2):
        n = len(speed)
        self.wind = np.stack([speed * np.sin(towards), speed * np.cos(towards), np.zeros(n)], axis=1)
        x, v = np.zeros((n, 3)), np.zeros((n, 3))
        burn_s = IMPULSE_NS / THRUST_N
        times, places = [0.0], [x.copy()]
        t, speed_off = off_the_rod()
        x[:, 2], v[:, 2] = ROD_M, speed_off
        times.append(t)
        places.append(x.copy())
        self.apogee_s = np.full(n, np.nan)
        self.deployed_s = burn_s + DELAY_S
        opens_s = self.deployed_s + OPENING_S
        landed_s, landing = np.full(n, np.nan), np.zeros((n, 2))

        def law(x, v, t, phase):
            rel = v - self.wind * wind_factor(x[:, 2])[:, None]
            speed = np.linalg.norm(rel, axis=1, keepdims=True)
            mass = DRY_KG + LOADED_KG - PROPELLANT_KG * min(t / burn_s, 1.0)
            area = np.full(n, DRAG_M2) if phase != "open" else open_m2
            pull = -(0.5 * air_density(x[:, 2]) * area / mass)[:, None] * speed * rel
            if phase == "burn":
                pull += THRUST_N / mass * rel / speed
            pull[:, 2] -= G
            return pull

        while np.isnan(landed_s).any() and t < 300.0:
            phase, h, end = ("burn", 0.01, burn_s) if t < burn_s - 1e-9 else (
                ("coast", 0.05, opens_s) if t < opens_s - 1e-9 else ("open", 0.1, 1e9))
            h = min(h, end - t)
            a1 = law(x, v, t, phase)
            v2 = v + h / 2 * a1
            a2 = law(x + h / 2 * v, v2, t + h / 2, phase)
            v3 = v + h / 2 * a2
            a3 = law(x + h / 2 * v2, v3, t + h / 2, phase)
            v4 = v + h * a3
            a4 = law(x + h * v3, v4, t + h, phase)
            next_x = x + h / 6 * (v + 2 * v2 + 2 * v3 + v4)
            next_v = v + h / 6 * (a1 + 2 * a2 + 2 * a3 + a4)
            top = np.isnan(self.apogee_s) & (next_v[:, 2] <= 0.0) & (t > 1.0)
            self.apogee_s[top] = t + h * v[top, 2] / (v[top, 2] - next_v[top, 2])
            down = np.isnan(landed_s) & (next_x[:, 2] <= 0.0) & (t > 1.0)
            share = x[:, 2] / np.maximum(x[:, 2] - next_x[:, 2], 1e-12)
            landed_s[down] = (t + share * h)[down]
            landing[down] = (x + share[:, None] * (next_x - x))[down, :2]
            x, v, t = next_x, next_v, t + h
            times.append(t)
            places.append(x.copy())
        self.times, self.places = np.array(times), np.array(places)
        self.landed_s, self.landing = landed_s, landing

    def at(self, t):
        """Places at one time for each draw; on the ground they stay."""
        t = np.clip(t, 0.0, self.landed_s)
        row = np.clip(np.searchsorted(self.times, t, side="right") - 1, 0, len(self.times) - 2)
        share = (t - self.times[row]) / (self.times[row + 1] - self.times[row])
        draws = np.arange(len(t))
        low, high = self.places[row, draws], self.places[row + 1, draws]
        place = low + share[:, None] * (high - low)
        place[:, 2] = np.maximum(place[:, 2], 0.0)
        return place


def towards_and_up(bearing, elevation):
    return np.stack([np.cos(elevation) * np.sin(bearing), np.cos(elevation) * np.cos(bearing), np.sin(elevation)], axis=1)


def ln_normal(x, sigma):
    return -0.5 * (x / sigma) ** 2 - np.log(sigma) - 0.5 * math.log(2 * math.pi)


def ln_direction(place, sight, heading, tilt):
    """Across and upwards, the angle split along the level and the upright axis a quarter of the way from the body."""
    n = len(heading)
    bearing = math.radians(sight["bearing_deg"]) - heading
    elevation = math.radians(sight["elevation_deg"]) - tilt
    seen = towards_and_up(bearing, elevation)
    body = place - [0.0, 0.0, EYE_M]
    body /= np.linalg.norm(body, axis=1, keepdims=True)
    between = 3 * body + seen
    between /= np.linalg.norm(between, axis=1, keepdims=True)
    level = np.stack([between[:, 1], -between[:, 0], np.zeros(n)], axis=1)
    level /= np.linalg.norm(level, axis=1, keepdims=True)
    upright = np.cross(level, between)
    chord = seen - body
    part = np.stack([(chord * level).sum(1), (chord * upright).sum(1)], axis=1)
    angle = np.arccos(np.clip((seen * body).sum(1), -1.0, 1.0))
    part *= (angle / np.maximum(np.linalg.norm(part, axis=1), 1e-12))[:, None]
    return ln_normal(part[:, 0], ACROSS) + ln_normal(part[:, 1], UPWARDS) + np.log(np.maximum(np.cos(elevation), 0.02))


def ln_likelihood(flown, evidence, z):
    clock, heading, tilt = LATE_S + CLOCK_S * z["clock"], HEADING * z["heading"], TILT * z["tilt"]
    ln = np.zeros(len(heading))
    down_from = np.minimum(np.minimum(flown.apogee_s, flown.deployed_s), flown.landed_s)
    for it in evidence:
        if "find" in it:
            sigma = math.hypot(it["accuracy_m"] / 1.51, 2.0)
            ln += ln_normal(flown.landing[:, 0] - it["find"][0], sigma) + ln_normal(flown.landing[:, 1] - it["find"][1], sigma)
            continue
        shifts = []
        for shift, share in ((0.0, 2 / 3), (CLICK_S * 3**0.5, 1 / 6), (-CLICK_S * 3**0.5, 1 / 6)):
            when = it["t_s"] - clock + shift
            air = log_expit(np.maximum((flown.landed_s - when) / 0.5, -600.0))
            if it["moment"] == "descent":
                air = air + log_expit((when - down_from) / 0.5 + 4.0)
            shifts.append(math.log(share) + air + ln_direction(flown.at(when), it, heading, tilt))
        ln += np.logaddexp.reduce(shifts, axis=0) - np.log(np.maximum(flown.landed_s - down_from, 2.0) / 60.0)
    return ln


NAMES = ("speed", "turn", "drag", "clock", "heading", "tilt")


def fly(z, factor):
    open_m2 = OPEN_M2 * np.exp(0.15 * z["drag"]) * factor
    speed = np.exp(np.interp(norm.cdf(z["speed"]), REACHED, LN_SPEEDS))
    turn = np.radians(np.hypot(strayed(speed, 16.6, 1.0), 8.0))
    return Flown(speed, READ_TOWARDS + turn * z["turn"], open_m2)


class Reduced(ssp.StaticModel):
    def __init__(self, evidence, factor):
        super().__init__(data=np.zeros(1), prior=dists.StructDist({name: dists.Normal() for name in NAMES}))
        self.evidence, self.factor = evidence, factor

    def loglik(self, theta, t=None):
        return ln_likelihood(fly(theta, self.factor), self.evidence, theta)


def posterior(evidence, repeats, draws=200):
    """Rows of [mean east, mean north, spread east, spread north, chance that it opened], one a repetition; seconds."""
    began, rows = time.process_time(), []
    for _ in range(repeats):
        parts = []
        for prior, factor in MODES.values():
            fk = ssp.AdaptiveTempering(Reduced(evidence, factor), len_chain=10)
            smc = particles.SMC(fk=fk, N=draws, ESSrmin=0.5, verbose=False)
            if evidence:
                smc.run()
                theta, w, ln = smc.X.theta, smc.W, smc.logLt
            else:
                theta, ln = dists.StructDist({name: dists.Normal() for name in NAMES}).rvs(10 * draws), 0.0
                w = np.full(10 * draws, 1 / (10 * draws))
            landing = fly(theta, factor).landing
            parts.append((math.log(prior) + ln, w, landing))
        high = max(ln for ln, _, _ in parts)
        chances = np.exp([ln - high for ln, _, _ in parts])
        chances /= chances.sum()
        w = np.concatenate([p * w / w.sum() for p, (_, w, _) in zip(chances, parts)])
        landing = np.concatenate([landing for _, _, landing in parts])
        mean = w @ landing
        spread = np.sqrt(w @ (landing - mean) ** 2)
        rows.append([*mean, *spread, chances[0]])
    return np.array(rows), time.process_time() - began


def flight(evidence):
    pieces = []
    for it in evidence:
        if "find" in it:
            east, north = it["find"]
            at = dict(lat=PAD["lat"] + north / NORTH_M, lon=PAD["lon"] + east / EAST_M)
            pieces.append(dict(kind="find", part="rocket", at=at, accuracy_m=it["accuracy_m"]))
        else:
            pieces.append(dict(kind="sighting", north="true", observer="Ann", phone="Ann's", **it))
    return {
        "format": "windfall-flight/1", "pad": PAD, "field": {"cover": "short grass"}, "air": {"temperature_c": 20},
        "wind": [dict(at="2026-05-16T11:00:00+02:00", height_m=10, averaged_s=60, speed_mps=READ_MPS, from_deg=240,
                      north="true", method="meter")],
        "rocket": {"stages": [{
            "name": "rocket", "dry_mass_g": 62, "diameter_mm": 24.8, "length_mm": 430, "drag_coefficient": 0.75,
            "motor": dict(designation="C6-5", loaded_mass_g=24, propellant_g=11),
            "recovery": dict(kind="parachute", diameter_mm=300)}]},
        "launch": {"at": "2026-05-16T11:05:00+02:00", "rod": dict(length_m=ROD_M, tilt_deg=0, toward_deg=0, north="true")},
        "evidence": pieces,
    }


COLUMNS = ("mean_east_m", "mean_north_m", "spread_east_m", "spread_north_m", "p_opens")


def write(repeats=8):
    lines = [
        "# Source: tests/oracle/posterior.py: particles 0.4, adaptive tempering, waste-free",
        "# Mark: GEN",
        f"# Regenerated by: python3 tests/oracle/posterior.py (numpy {np.__version__})",
        f"# Posterior of the reduced model; {repeats} repetitions of 2,000 places a mode; errors are standard errors of their mean.",
        f"# Rows: {len(CASES)}",
        "# Tolerance: place 6, means and spreads: standard errors of both and half a metre for the way the flights are followed",
        "# Tolerance: chance 6, chance that it opened: standard errors of both and half a hundredth",
        "case," + ",".join(f"{name},{name}_error" for name in COLUMNS),
    ]
    for name, evidence in CASES.items():
        (HERE / f"{name}.json").write_text(json.dumps(flight(evidence), indent=1) + "\n")
        rows, seconds = posterior(evidence, repeats)
        mean, error = rows.mean(0), rows.std(0, ddof=1) / math.sqrt(repeats)
        lines.append(name + "," + ",".join(f"{m:.4f},{e:.4f}" for m, e in zip(mean, error)))
        print(f"{lines[-1]}  ({seconds:.0f} s)", flush=True)
    TABLE.parent.mkdir(exist_ok=True)
    TABLE.write_text("\n".join(lines) + "\n")


def against(program):
    """Seconds of one core per effective draw of the landing, program and library in turn, in one run."""
    print("case: effective draws and seconds of the program, of the library, ratio of seconds per effective draw")
    for name, evidence in CASES.items():
        if not evidence:
            continue
        repeats = 4
        rows, seconds = posterior(evidence, repeats)
        ours, spent = [], 0.0
        for seed in range(1, 9):
            command = [program, "locate", str(HERE / f"{name}.json"), "--json", "--seed", str(seed), "--threads", "1",
                       "--samples", "500", "--priors", str(HERE / "priors.csv")]
            answer = json.loads(subprocess.run(command, capture_output=True, check=True, text=True).stdout)
            spent += answer["elapsed_ms"] / 1e3
            ours.append(answer["effective_draws"])
        effective = len(ours) / sum(1 / max(it, 1e-9) for it in ours)
        # As the program counts them: variance over squared error, the worst of east and north.
        theirs = min(rows[:, 2 + axis].mean() ** 2 / rows[:, axis].var(ddof=1) for axis in (0, 1))
        ratio = (seconds / repeats / theirs) / (spent / len(ours) / effective)
        print(f"{name:<8} {effective:6.0f} in {spent / len(ours):.3f} s   {theirs:6.0f} in {seconds / repeats:.1f} s   {ratio:.0f} times")


if __name__ == "__main__":
    if "--against" in sys.argv:
        against(sys.argv[sys.argv.index("--against") + 1])
    else:
        write()
