"""Lays pictures on the ground with a general-purpose library, for the core to be held against.

Needs Python 3.11 and numpy (pip install numpy).
Run from the root of the repository: python3 tests/oracle/picture.py > tests/reference/numpy/picture_fit_12.csv

Least squares through numpy.linalg.lstsq, written out as one linear system without centring: a similarity
(east = a right + b down + c, north = b right - a down + d) and an affine map; the affine one where it takes away ten
times more of the squares for each number than it leaves for each degree of freedom. Points are drawn with a fixed seed
and shaken by a few metres.

Frame: dots to the right and down from the top left corner; metres east and north.
"""

import platform

import numpy as np

POINTS = 5


def similarity(dots, places):
    rows, wanted = [], []
    for (right, down), (east, north) in zip(dots, places):
        rows += [[right, down, 1, 0], [-down, right, 0, 1]]
        wanted += [east, north]
    a, b, c, d = np.linalg.lstsq(np.array(rows, float), np.array(wanted, float), rcond=None)[0]
    return np.array([[a, b, c], [b, -a, d]])


def affine(dots, places):
    rows = np.column_stack([dots, np.ones(len(dots))])
    return np.linalg.lstsq(rows, places, rcond=None)[0].T


def apply(law, dots):
    return np.column_stack([dots, np.ones(len(dots))]) @ law.T


def similarity_rows_are_right():
    # (right, down) -> right a + down b: with down positive downwards the north axis turns over.
    law = similarity(np.array([[0, 0], [2, 0], [0, 2]]), np.array([[0, 0], [2, 0], [0, -2]]))
    assert np.allclose(apply(law, np.array([[1, 1]])), [[1, -1]])


def main():
    rng = np.random.default_rng(20260516)
    names = [f"{what}{i}" for i in range(POINTS) for what in ("right_px_", "down_px_", "east_m_", "north_m_")]
    print(f"# Source: tests/oracle/picture.py with Python {platform.python_version()}, numpy {np.__version__}: linalg.lstsq")
    print("# Mark: GEN")
    print("# Rows: 12")
    print("# Tolerance: probe_m 0.000001, both are solved to the last digits of a double; the table prints nine")
    print("# Tolerance: miss_m 0.000001, the same")
    print(",".join(["case", "is_affine", *names, "probe_right_px", "probe_down_px", "probe_east_m", "probe_north_m", "miss_m"]))
    for case in range(12):
        dots = rng.uniform([0, 0], [1600, 1200], (POINTS, 2))
        turn, grow = rng.uniform(0, 2 * np.pi), rng.uniform(0.1, 1.5)
        law = grow * np.array([[np.cos(turn), np.sin(turn)], [np.sin(turn), -np.cos(turn)]])
        if case % 2:
            law = law @ np.array([[1, 0.3], [0.1, 1.6]])
        places = dots @ law.T + rng.uniform(-400, 400, 2) + rng.normal(0, 3, (POINTS, 2))
        laws = [similarity(dots, places), affine(dots, places)]
        squares = [np.sum((apply(law, dots) - places) ** 2) for law in laws]
        is_affine = int((squares[0] - squares[1]) / 2 > 10 * squares[1] / (2 * POINTS - 6))
        found, miss = laws[is_affine], np.sqrt(squares[is_affine] / POINTS)
        probe = rng.uniform([0, 0], [1600, 1200])
        east, north = apply(found, probe[None, :])[0]
        numbers = [*np.column_stack([dots, places]).ravel(), *probe, east, north, miss]
        print(",".join([f"case_{case}", str(is_affine), *(f"{number:.9f}" for number in numbers)]))


similarity_rows_are_right()
main()
