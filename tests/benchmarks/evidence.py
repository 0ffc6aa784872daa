"""Evidence per group and candidate, against the closed-form marginal likelihood in NumPy.

The peer answers an easier question: the continuous density of the discrepancy for one normal error
and one rounding a mass, a second difference of H(z) = z Φ(z) + φ(z). The p-value here is a lattice
tail at the worst position of the amounts between two display steps, with every source.
"""

from __future__ import annotations

import math
import time
from functools import partial

import numpy as np
from scipy.special import ndtr

from stoichkit.decision.arrays import WeighingEvidence, assess_weighings
from stoichkit.decision.evidence import assess
from stoichkit.measurement.displays import Balance
from tests.labs import lab, weighed

from .measure import Row, best, show

RATIOS = {"copper(I)": "1", "copper(II)": "2", "copper(III)": "3"}
COPPER, SILVER = 63.546, 107.8682
GROUPS = 100_000


def tables(step_g: float, groups: int = GROUPS, trials: int = 1) -> list[np.ndarray]:
    rng = np.random.default_rng(1)
    mass = rng.uniform(0.05, 0.6, groups)[:, None]
    return weighed(rng, mass, 2.0, step_g, 0.5, (groups, trials))


def ours(readings: list[np.ndarray], step_g: float, ratios: dict[str, str]) -> WeighingEvidence:
    return assess_weighings(
        *readings, consumed="Cu", produced="Ag", candidates=ratios,
        balance=Balance(readability_g=step_g),
    )  # fmt: skip


def closed_form(readings: list[np.ndarray], step_g: float, ratios: dict[str, str]) -> np.ndarray:
    """Density of the discrepancy for each group and candidate."""
    before, after, tare, gross = readings
    y1, y2 = (before - after)[:, 0], (gross - tare)[:, 0]
    out = np.empty((y1.size, len(ratios)))
    s = step_g / 2 * math.sqrt(2)
    for j, text in enumerate(ratios.values()):
        c = SILVER * float(text) / COPPER
        scale = s * math.sqrt(1 + c * c)
        t = y2 - c * y1
        total = np.zeros(y1.size)
        for sign, shift in (
            (1, (1 + c) / 2), (-1, (1 - c) / 2), (-1, (c - 1) / 2), (1, -(1 + c) / 2)
        ):  # fmt: skip
            z = (t + shift * step_g) / scale
            total += sign * (z * ndtr(z) + np.exp(-0.5 * z * z) * 0.3989422804014327)
        out[:, j] = total * scale / (c * COPPER)
    return out


def one_by_one(readings: list[np.ndarray], step_g: float, ratios: dict[str, str]) -> np.ndarray:
    """P-values by the path for one lab, built on the ``uncertainties`` package."""
    balance = Balance(readability_g=step_g)
    found = []
    for row in zip(*(t.tolist() for t in readings), strict=True):
        record = lab(np.column_stack(row), balance, ratios)
        found.append([c.p_value for c in assess(record).candidates.values()])
    return np.array(found)


def rows() -> list[Row]:
    out = []
    for step in (0.1, 0.01, 0.001):
        readings = tables(step)
        ours([t[:10] for t in readings], step, RATIOS)
        mine, theirs = best(
            partial(ours, readings, step, RATIOS), partial(closed_form, readings, step, RATIOS)
        )
        per = GROUPS * len(RATIOS) / 1e6
        label = f"{GROUPS:,} groups, 3 candidates, {step} g; us a group and candidate"
        out.append(Row(label, "closed-form density, NumPy", mine / per, theirs / per, 1 / 3))
    readings = tables(0.01)
    few = [t[:40] for t in readings]
    start = time.perf_counter()
    scalar = one_by_one(few, 0.01, RATIOS)
    theirs = (time.perf_counter() - start) / 40
    many = ours(readings, 0.01, RATIOS)
    worst = float(np.abs(many.p_value[:40] - scalar).max())
    assert worst < 1e-9, worst
    mine = best(partial(ours, readings, 0.01, RATIOS))[0] / GROUPS
    out.append(
        Row(
            f"{GROUPS:,} groups, 3 candidates, 0.01 g; us a group",
            "one lab at a time (uncertainties)", mine * 1e6, theirs * 1e6, 200,
            note=f"largest difference of a p-value between both paths: {worst:.1e}",
        )
    )  # fmt: skip
    return out


def main() -> str:
    return show("Evidence of many groups", rows())


if __name__ == "__main__":
    print(main())
