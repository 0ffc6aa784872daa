"""Time of a design map of 60 x 60 cells against simulating every cell.

python -m tests.benchmarks.design_map             # prints Markdown; under a minute
python -m tests.benchmarks.design_map --labs 500

The simulation draws labs in NumPy, a row of cells at once: masses within the spread, noise and
rounding of all four weighings. It is timed with the cheapest verdict there is (|D| within 1.96
first-order standard uncertainties), which is wrong for a few display steps, and, on a part of the
cells and scaled up, with the tool's own test. Some cells are then compared with labs judged by
that test.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
from collections.abc import Callable
from typing import TypeAlias

import numpy as np

from stoichkit import experiments
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.arrays import assess_weighings
from stoichkit.measurement.displays import Balance
from stoichkit.planning.design import DesignMap, design_map, with_readability

from .measure import Row, best, show

LAB = experiments.load("copper-silver")
RATIOS = {c.name: c.ratio for c in LAB.candidates}
MASSES_G = np.geomspace(0.005, 5, 60)
STEPS_G = np.geomspace(0.001, 0.5, 60)
SPREAD = 0.1
NOISE = 0.5
"""Repeatability in display steps: that of the balance of the lab."""
MOLAR = molar_mass_value("Cu"), molar_mass_value("Ag")
CELLS_COMPARED = 8
LABS_COMPARED = 100_000

Readings: TypeAlias = tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]


def weighed(
    rng: np.random.Generator,
    masses_g: np.ndarray,
    step_g: float,
    ratio: float,
    labs: int,
    trials: int,
) -> Readings:
    """Draw the four readings, in g, of labs for each mass: shape (masses, labs, trials)."""
    shape = (masses_g.size, labs, trials)
    reacting = masses_g[:, None, None] * (1 + SPREAD * rng.uniform(-1, 1, shape))
    made = reacting * (ratio * MOLAR[1] / MOLAR[0])

    def shown(true_g: np.ndarray) -> np.ndarray:
        noisy = true_g + NOISE * step_g * rng.standard_normal(shape)
        return np.asarray(np.round(noisy / step_g) * step_g)

    wire = 10 * MASSES_G[-1] + step_g * rng.uniform(0, 1, shape)
    paper = 1.0 + step_g * rng.uniform(0, 1, shape)
    return shown(wire), shown(wire - reacting), shown(paper), shown(paper + made)


def right_first_order(readings: Readings, step_g: float, truth: str) -> np.ndarray:
    """Return the share of labs that single out the truth by a first-order normal interval."""
    before, after, tare, gross = readings
    consumed = (before - after).mean(axis=-1) / MOLAR[0]
    produced = (gross - tare).mean(axis=-1) / MOLAR[1]
    reading = step_g * (1 / 12 + NOISE**2) ** 0.5
    right = np.ones(consumed.shape, dtype=bool)
    for name, ratio in RATIOS.items():
        u = (
            reading
            * np.hypot(1 / MOLAR[1], float(ratio) / MOLAR[0])
            * (2 / before.shape[-1]) ** 0.5
        )
        right &= (np.abs(produced - float(ratio) * consumed) <= 1.96 * u) == (name == truth)
    return np.asarray(right.mean(axis=-1))


def right_by_the_test(readings: Readings, step_g: float, truth: str) -> np.ndarray:
    """Return the share of labs that single out the truth by the tool's own test."""
    cells, labs, trials = readings[0].shape
    found = assess_weighings(
        *(r.reshape(cells * labs, trials) for r in readings),
        consumed="Cu", produced="Ag", candidates=RATIOS,
        balance=Balance(readability_g=step_g, repeatability_g=NOISE * step_g),
    )  # fmt: skip
    alone = found.compatible.sum(axis=1) == 1
    right = alone & found.compatible[:, list(RATIOS).index(truth)]
    return np.asarray(right.reshape(cells, labs).mean(axis=1))


def simulated_rows(
    rows: np.ndarray,
    masses_g: np.ndarray,
    labs: int,
    trials: int,
    judge: Callable[[Readings, float, str], np.ndarray],
) -> np.ndarray:
    """Return the chance of the right conclusion for the hardest candidate, row by row."""
    rng = np.random.default_rng(1)
    out = np.empty((rows.size, masses_g.size))
    for i, step in enumerate(rows.tolist()):
        each = [
            judge(weighed(rng, masses_g, step, float(ratio), labs, trials), step, name)
            for name, ratio in RATIOS.items()
        ]
        out[i] = np.min(each, axis=0)
    return out


def the_map(trials: int) -> DesignMap:
    return design_map(LAB, masses_g=MASSES_G, readabilities_g=STEPS_G, trials=trials, spread=SPREAD)


def both_ways(trials: int, labs: int, repeats: int) -> tuple[float, float]:
    """Return the best time of a warm map and that of simulating every cell once, s."""
    (warm,) = best(lambda: the_map(trials), repeats=repeats)
    (drawn,) = best(
        lambda: simulated_rows(STEPS_G, MASSES_G, labs, trials, right_first_order), repeats=1
    )
    return warm, drawn


def compared(found: DesignMap, trials: int) -> tuple[float, float]:
    """Return the largest difference of a few cells from simulated labs, and its sampling error."""
    rng = np.random.default_rng(trials)
    inside = np.argwhere((found.chance > 0.1) & (found.chance < 0.95))
    worst, sigma = 0.0, 0.0
    for i, j in rng.choice(inside, CELLS_COMPARED, replace=False):
        step, mass = float(STEPS_G[i]), MASSES_G[j : j + 1]
        truth = list(RATIOS)[found.hardest[i, j]]
        drawn = weighed(rng, mass, step, float(RATIOS[truth]), LABS_COMPARED, trials)
        gap = abs(float(right_by_the_test(drawn, step, truth)[0]) - found.chance[i, j])
        if gap > worst:
            p = found.chance[i, j]
            worst, sigma = gap, float(p * (1 - p) / LABS_COMPARED) ** 0.5
    return worst, sigma


def rows(labs: int = 2000) -> list[Row]:
    """Return the lines of the common table: warm maps against simulating every cell once."""
    out = []
    for trials in (1, 4):
        the_map(trials)
        warm, drawn = both_ways(trials, labs, 20)
        what = f"map of 60 x 60 cells, 2 candidates, {trials} trial(s), warm"
        peer = f"{labs:,} labs a cell, plain verdict, NumPy"
        out.append(Row(what, peer, 1e3 * warm, 1e3 * drawn, 50, limit=True, unit="ms"))
    return out


def main() -> str:
    return show("Design map", rows())


def detailed(arguments: list[str] | None = None) -> int:
    """Time both ways and print a table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=2000)
    parser.add_argument("--repeats", type=int, default=20)
    options = parser.parse_args(arguments)
    balance = with_readability(LAB, 1.0).instruments["balance"]
    assert isinstance(balance, Balance)
    assert balance.repeatability == NOISE
    print(
        f"60 x 60 cells, 2 candidates; simulation: {options.labs} labs a cell and candidate;"
        f" best of {options.repeats} maps, one simulation. {os.cpu_count()} cores,"
        f" Python {platform.python_version()}, NumPy {np.__version__}.\n"
    )
    print(
        "| trials | map, first call ms | map, warm ms | simulation, plain verdict s | ratio |"
        " simulation, the tool's test s (scaled up) | ratio | largest difference of"
        f" {CELLS_COMPARED} cells (its standard error) |"
    )
    print("|" + "---|" * 8)
    some_rows, some_masses = STEPS_G[5::10], MASSES_G[5::10]
    scale = STEPS_G.size * MASSES_G.size / (some_rows.size * some_masses.size)
    for trials in (1, 4):
        start = time.perf_counter()
        found = the_map(trials)
        first = time.perf_counter() - start
        warm, plain = both_ways(trials, options.labs, options.repeats)
        (own,) = best(
            lambda n=trials: simulated_rows(
                some_rows, some_masses, options.labs, n, right_by_the_test
            ),
            repeats=1,
        )
        own *= scale
        gap, sigma = compared(found, trials)
        print(
            f"| {trials} | {1e3 * first:.0f} | {1e3 * warm:.1f} | {plain:.1f} |"
            f" {plain / warm:.0f} | {own:.0f} | {own / warm:.0f} | {gap:.4f} ({sigma:.4f}) |",
            flush=True,
        )
    return 0


if __name__ == "__main__":
    sys.exit(detailed())
