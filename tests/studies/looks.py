"""Asking after every trial: how often is the truth ever excluded, and what is gained?

Iron in copper sulfate (iron(II) makes 1 copper for each iron, iron(III) 3/2) on a balance that
reads to 0.01 g, one trial a stage, a verdict after each. Every lab is judged three ways: with the
looks planned (the level of ``Looks``), without a plan (5 % at each look), and once, at the end. A
lab that looks stops at the first verdict that leaves one candidate. The amounts of all trials are
the same; of three parts of a display step, and of both truths, the worst counts for the truth
excluded, and the mean for right answers and trials. That something must be seen to have reacted,
which the test asks of a lone candidate besides, is left out.

    nice -n 10 python -m tests.studies.looks                 # prints Markdown, kept in looks.md
    nice -n 10 python -m tests.studies.looks --labs 5000
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stoichkit import assess_weighings
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.experiments import Looks, Variation
from stoichkit.experiments.looks import constant_level, ever_excluded
from stoichkit.measurement import Balance

from .real_labs import limit, seed_of

Floats = NDArray[np.float64]
STEP_G, ALPHA = 0.01, 0.05
RATIOS = {"iron(II)": "1", "iron(III)": "3/2"}
TRUE = (1.0, 1.5)
PARTS = (0.0, 0.3, 0.5)
PLANS = (2, 3, 5, 10)
# S. J. Pocock, Biometrika 64 (1977) 191-199, 5 % two-sided; from memory
POCOCK = {2: 0.0294, 3: 0.0221, 4: 0.0182, 5: 0.0158, 10: 0.0106}


@dataclass(frozen=True)
class Setting:
    """Steps of iron consumed, noise in steps, and what each trial's product truly varies by."""

    steps: float
    noise: float
    varies: float | None = None

    @property
    def variation(self) -> Variation | None:
        """What the lab says of it: unknown, or nothing."""
        return None if self.varies is None else Variation(unknown=True)


def p_values(setting: Setting, truth: float, part: float, labs: int, most: int) -> Floats:
    """Return p of both candidates after each number of trials, shape (most, labs, 2)."""
    rng = np.random.default_rng(seed_of(setting, truth, part))
    shape = (labs, most)
    used = (setting.steps + part) * STEP_G
    made = used / molar_mass_value("Fe") * molar_mass_value("Cu") * truth
    made = made * (1 + (setting.varies or 0.0) * rng.standard_normal(shape))
    before, paper = rng.uniform(2, 4, shape), rng.uniform(0.5, 1.0, shape)
    noise = setting.noise * STEP_G
    tables = [
        np.round((true + noise * rng.standard_normal(shape)) / STEP_G) * STEP_G
        for true in (before, before - used, paper, paper + made)
    ]
    balance = Balance(
        readability_g=STEP_G, repeatability_g=noise, linearity_g=0.0, calibration_relative=0.0
    )
    return np.stack(
        [
            assess_weighings(
                *(t[:, :n] for t in tables), consumed="Fe", produced="Cu", candidates=RATIOS,
                balance=balance, variation=setting.variation,
            ).p_value
            for n in range(1, most + 1)
        ]
    )  # fmt: skip


def outcome(p: Floats, level: float, true: int) -> tuple[float, float, float]:
    """Return how often the truth is ever excluded, a right answer is stopped at, and the trials."""
    fits = p >= level
    ever = float((~fits[:, :, true]).any(axis=0).mean())
    alone = fits.sum(axis=2) == 1
    first = np.where(alone.any(axis=0), alone.argmax(axis=0), len(p) - 1)
    lab = np.arange(p.shape[1])
    right = alone[first, lab] & fits[first, lab, true]
    return ever, float(right.mean()), float((first + 1).mean())


def rows(setting: Setting, labs: int) -> Iterator[tuple[int, list[float]]]:
    """Yield each number of looks with: planned, without a plan, and one look at the end."""
    drawn = [
        (true, p_values(setting, ratio, part, labs, PLANS[-1]))
        for true, ratio in enumerate(TRUE)
        for part in PARTS
    ]
    for looks in PLANS:
        level = Looks(planned=looks).level(ALPHA, setting.variation)
        found = np.array(
            [
                [
                    *outcome(p[:looks], level, true),
                    *outcome(p[:looks], ALPHA, true),
                    *outcome(p[looks - 1 : looks], ALPHA, true)[:2],
                ]
                for true, p in drawn
            ]
        )
        worst, mean = found.max(axis=0), found.mean(axis=0)
        yield looks, [worst[0], mean[1], mean[2], worst[3], mean[4], mean[5], worst[6], mean[7]]


def settings() -> Iterator[Setting]:
    """Yield every setting."""
    for steps in (3.0, 6.0, 12.0):
        for noise in (0.0, 0.2, 0.5, 1.0):
            yield Setting(steps, noise)
    for varies in (0.0, 0.03):
        yield Setting(12.0, 0.5, varies)


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=1500)
    labs = parser.parse_args(argv).labs
    print("| looks | level worked out | printed | 5 % at each look comes to |\n|---|---|---|---|")
    for looks, printed in POCOCK.items():
        worked, ever = constant_level(looks, ALPHA), ever_excluded(looks, ALPHA)
        print(f"| {looks} | {worked:.5f} | {printed:.4f} | {100 * ever:.1f} % |")
    most = limit(labs)
    found = [(s, looks, row) for s in settings() for looks, row in rows(s, labs)]
    over = [one for one in found if one[2][0] > most]
    without = [one for one in found if one[2][3] > most]
    print(f"\n{labs} labs a setting; limit 5 % + 3 sigma = {100 * most:.2f} %.\n")
    print(f"{len(found)} rows; truth ever excluded above the limit: planned {len(over)}, ", end="")
    print(f"without a plan {len(without)}.\n")
    head = (
        "steps", "noise", "variation", "looks", "planned: ever excluded %", "right %", "trials",
        "no plan: ever excluded %", "right %", "trials", "one look: excluded %", "right %",
    )  # fmt: skip
    print(f"| {' | '.join(head)} |\n|{'---|' * len(head)}")
    for setting, looks, row in found:
        varies = "–" if setting.varies is None else f"{100 * setting.varies:g} %, unknown"
        shown = [f"{v:.2f}" if i in (2, 5) else f"{100 * v:.2f}" for i, v in enumerate(row)]
        about = [f"{setting.steps:g}", f"{setting.noise:g}", varies, str(looks)]
        print(f"| {' | '.join([*about, *shown])} |")
    return int(bool(over))


if __name__ == "__main__":
    sys.exit(main())
