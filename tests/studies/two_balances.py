"""Trials on different balances: is the truth excluded at most 5 % of the time, and what helps?

Iron in a solution of a copper salt; some trials are weighed on a coarse balance and some on a finer
one. Every lab is judged as it is stated, by the mean over all its trials. The amount is the same in
all trials, at the worst of six parts of a display step of the coarse balance, or differs.

    python -m tests.studies.two_balances                 # prints Markdown, kept in two_balances.md
    python -m tests.studies.two_balances --labs 2000
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.evidence import linear_amounts
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.uncertainty.digits import split_narrow, worst_position_tails

from .real_labs import limit, seed_of

Floats = NDArray[np.float64]
COARSE_G = 0.1
NAMES = ("before", "after", "paper", "paper + copper")
CANDIDATES = {"iron(II)": "1", "iron(III)": "3/2"}


@dataclass(frozen=True)
class Setting:
    """One kind of lab; masses in steps of the coarse balance, noise in steps of each."""

    fine_g: float
    coarse: int
    fine: int
    steps: float
    noise: float
    equal: bool
    part: float = 0.0

    @property
    def steps_g(self) -> Floats:
        """Display step of each trial, shape (trials,)."""
        return np.array([COARSE_G] * self.coarse + [self.fine_g] * self.fine)


def record(setting: Setting, tables: dict[str, Floats]) -> Experiment:
    """Return the first lab of the tables as a record."""
    balances = {
        name: Balance(readability_g=step, repeatability_g=setting.noise * step)
        for name, step in (("balance", COARSE_G), ("finer", setting.fine_g))
    }
    trials = []
    for i, step in enumerate(setting.steps_g.tolist()):
        texts = {name: f"{t[0, i]:.{3 if step < 0.01 else 2}f}" for name, t in tables.items()}
        other = {} if step == COARSE_G else {"balance": "finer"}
        trials.append(Trial(str(i + 1), texts, instruments=other))
    return Experiment(
        title="Two balances (invented)",
        invented=True,
        consumed=MassByDifference(species="Fe", heavier="before", lighter="after"),
        produced=MassByDifference(species="Cu", heavier="paper + copper", lighter="paper"),
        instruments=balances,
        candidates=plain_ratios(CANDIDATES),
        trials=trials,
    )


def weighed(setting: Setting, labs: int, seed: int) -> dict[str, Floats]:
    """Return the displayed weighings, shape (labs, trials); the first candidate is true."""
    rng = np.random.default_rng(np.random.SFC64(seed))
    shape = (labs, setting.coarse + setting.fine)
    part = setting.part if setting.equal else rng.uniform(0, 1, shape)
    mass = COARSE_G * (setting.steps + part) * np.ones(shape)
    made = mass * molar_mass_value("Cu") / molar_mass_value("Fe")
    nail, paper = rng.uniform(5, 6, shape), rng.uniform(0.5, 1.5, shape)
    true = (nail, nail - mass, paper, paper + made)
    step = setting.steps_g
    return {
        name: np.round((t + setting.noise * step * rng.standard_normal(shape)) / step) * step
        for name, t in zip(NAMES, true, strict=True)
    }


def compatible(setting: Setting, tables: dict[str, Floats]) -> NDArray[np.bool_]:
    """Return which candidates each lab is compatible with, shape (labs, 2).

    The display errors do not depend on the amounts, so those of the first lab serve for all.
    """
    lab = record(setting, tables)
    linear = linear_amounts(lab)
    before, after, paper, copper = (tables[name] for name in NAMES)
    a = (before - after) / molar_mass_value("Fe")
    b = (copper - paper) / molar_mass_value("Cu")
    found = []
    for candidate in lab.candidates:
        r = float(candidate.ratio)
        blocks, rest = linear.blocks(r, 1.0)
        wide, narrow = split_narrow(rest, blocks)
        d = (b - r * a).mean(axis=1)
        d = linear.with_grain(d, blocks)
        found.append(worst_position_tails(d, blocks, wide, np.full(d.shape, narrow)) >= 0.05)
    return np.stack(found, axis=1)


def row(setting: Setting, labs: int) -> tuple[float, float]:
    """Return how often the truth is excluded, at the worst, and singled out, on average."""
    parts = np.arange(6) / 6 if setting.equal else [0.0]
    found = np.array([_row(replace(setting, part=float(part)), labs) for part in parts])
    return float(found[:, 0].max()), float(found[:, 1].mean())


def _row(setting: Setting, labs: int) -> tuple[float, float]:
    key = seed_of(setting.fine_g, setting.coarse, setting.fine, setting.steps, setting.noise)
    fits = compatible(setting, weighed(setting, labs, key + int(6 * setting.part + 0.5)))
    return float((~fits[:, 0]).mean()), float((fits[:, 0] & ~fits[:, 1]).mean())


def settings() -> Iterator[Setting]:
    """Yield the settings of the study."""
    for fine_g, (coarse, fine), steps, noise, equal in product(
        (0.05, 0.02, 0.01), ((1, 1), (2, 1), (1, 2), (4, 1), (2, 2)), (3.0, 8.0),
        (0.0, 0.15, 0.5), (True, False),
    ):  # fmt: skip
        yield Setting(fine_g, coarse, fine, steps, noise, equal)


def about(s: Setting) -> tuple[str, ...]:
    """Return what a row of the table begins with."""
    return (
        f"{s.fine_g:g}", f"{s.coarse} + {s.fine}", f"{s.steps:g}", f"{s.noise:g}",
        "equal" if s.equal else "differ",
    )  # fmt: skip


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=20_000)
    parser.add_argument("--only", default="", help='beginning of rows, such as "0.05 | 2 + 1 | 8"')
    options = parser.parse_args(argv)
    labs = options.labs
    most = limit(labs)
    wanted = [s for s in settings() if " | ".join(about(s)).startswith(options.only)]
    every = [(setting, row(setting, labs)) for setting in wanted]
    over = [s for s, found in every if found[0] > most]
    print(f"{labs} labs a setting; limit 5 % + 3 sigma = {100 * most:.2f} %.\n")
    worst = max(found[0] for _, found in every)
    print(f"{len(every)} settings; above the limit: {len(over)}; worst {100 * worst:.2f} %.\n")
    head = (
        "finer step, g", "trials on 0.1 g + finer", "steps consumed", "noise, steps", "amounts",
        "truth excluded %", "singled out %",
    )  # fmt: skip
    print(f"| {' | '.join(head)} |\n|{'---|' * len(head)}")
    for s, found in every:
        print(f"| {' | '.join([*about(s), *(f'{100 * v:.2f}' for v in found)])} |")
    return int(bool(over))


if __name__ == "__main__":
    sys.exit(main())
