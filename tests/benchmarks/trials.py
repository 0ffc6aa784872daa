"""JCGM 101 Monte Carlo: 1,000,000 trials, mean, standard uncertainty and shortest interval.

Per trial: four weighings, each with a rectangular rounding and a normal repeatability, and two
rectangular atomic weights: ten draws. Peers: metrolopy and plain NumPy with a full sort.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from stoichkit.chemistry.elements import atomic_weight
from stoichkit.uncertainty.montecarlo import propagate
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import nominal, standard_uncertainty

from .measure import Row, best, missing, peer, show
from .propagation import BALANCE, MOLAR

TRIALS = 1_000_000
READINGS = {"before": "3.12", "after": "2.65", "tare": "0.71", "gross": "2.30"}


def ratio() -> Any:
    """The calculation as a user of the package writes it."""
    pool = ErrorPool()
    mass = {
        name: BALANCE.quantity(parse_number(text), name="balance", label=name, pool=pool)
        for name, text in READINGS.items()
    }
    silver = (mass["gross"] - mass["tare"]) / atomic_weight("Ag")
    return silver / ((mass["before"] - mass["after"]) / atomic_weight("Cu"))


def ours() -> tuple[float, ...]:
    found = propagate(ratio, trials=TRIALS)
    return found.estimate, found.standard_uncertainty, *found.shortest


def shortest(values: np.ndarray) -> tuple[float, float]:
    inside = round(0.95 * values.size)
    widths = values[inside - 1 :] - values[: values.size - inside + 1]
    first = int(np.argmin(widths))
    return float(values[first]), float(values[first + inside - 1])


def plain() -> tuple[float, ...]:
    """Plain NumPy, written by hand for this one model."""
    rng = np.random.default_rng(np.random.SFC64(1))

    def weighing(value: float) -> np.ndarray:
        return value + rng.normal(0, 0.005, TRIALS) + rng.uniform(-0.005, 0.005, TRIALS)

    def weight(value: float, u: float) -> np.ndarray:
        half = u * math.sqrt(3)
        return rng.uniform(value - half, value + half, TRIALS)

    before, after, tare, gross = (weighing(float(v)) for v in READINGS.values())
    r = (gross - tare) / weight(*MOLAR[1]) / ((before - after) / weight(*MOLAR[0]))
    mean, u = float(r.mean()), float(r.std(ddof=1))
    r.sort()
    return mean, u, *shortest(r)


def with_metrolopy(metrolopy: Any) -> tuple[float, ...]:
    gummy = metrolopy.gummy
    uniform = metrolopy.UniformDist

    def weighing(value: float) -> Any:
        return gummy(value, 0.005) + gummy(uniform(center=0.0, half_width=0.005))

    def weight(value: float, u: float) -> Any:
        return gummy(uniform(center=value, half_width=u * math.sqrt(3)))

    before, after, tare, gross = (weighing(float(v)) for v in READINGS.values())
    r = (gross - tare) / weight(*MOLAR[1]) / ((before - after) / weight(*MOLAR[0]))
    r.sim(n=TRIALS)
    values = np.sort(r.simdata)
    return float(r.xsim), float(r.usim), *shortest(values)


def rows() -> list[Row]:
    """Measure, after checking that all agree within the scatter of a million trials."""
    expected = ours()
    first_order = ratio()
    np.testing.assert_allclose(expected[0], nominal(first_order), rtol=1e-2)
    np.testing.assert_allclose(expected[1], standard_uncertainty(first_order), rtol=2e-2)
    out = []
    np.testing.assert_allclose(plain(), expected, rtol=2e-3)
    mine, theirs = best(ours, plain)
    label = "1e6 trials of ten draws, one thread"
    out.append(Row(label, "plain NumPy, full sort", mine * 1e3, theirs * 1e3, 1, unit="ms"))
    metrolopy = peer("metrolopy")
    if metrolopy is None:
        return [*out, missing(label, "metrolopy")]
    np.testing.assert_allclose(with_metrolopy(metrolopy), expected, rtol=2e-3)
    mine, theirs = best(ours, lambda: with_metrolopy(metrolopy), repeats=9)
    out.append(Row(label, "metrolopy", mine * 1e3, theirs * 1e3, 2.3, unit="ms"))
    return out


def main() -> str:
    return show("Propagation of distributions (JCGM 101)", rows())


if __name__ == "__main__":
    print(main())
