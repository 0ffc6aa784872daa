"""Does the promise hold in labs that are not exactly as stated? Simulated labs, with the cost.

The lab is iron in copper sulfate, iron(II) against iron(III), or copper in silver nitrate, on a
balance that shows whole steps. Beside the errors of the readings the trials truly differ (in what
is recovered), recover anything in the range stated, share a vessel, or do not react at all. For
each setting: how often the true candidate is excluded (at most 5 %), how often it is singled out,
how often another is, and the same without the remedy.

    python -m tests.studies.real_labs                      # the full study, prints Markdown
    python -m tests.studies.real_labs --labs 2000 --only variation
"""

from __future__ import annotations

import argparse
import math
import sys
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import product

import numpy as np
from numpy.typing import NDArray

from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.arrays import WeighingEvidence, assess_weighings
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance

Floats = NDArray[np.float64]
PAIRS = (
    ("Fe", "Cu", {"iron(II)": "1", "iron(III)": "3/2"}),
    ("Cu", "Ag", {"copper(I)": "1", "copper(II)": "2"}),
)
STEP_G = 0.01


@dataclass(frozen=True)
class Setting:
    """One kind of lab; masses and repeatability in display steps."""

    pair: int = 0
    truth: int = 0
    steps: float = 12.0
    noise: float = 0.5
    trials: int = 3
    recovered: float = 1.0
    variation: float = 0.0
    unlike: float = 0.0
    """By which part of their mean the masses that react differ, either way."""


@dataclass(frozen=True)
class Rates:
    """What came of the labs of one setting, as parts of all."""

    labs: int
    excluded: float
    right: float
    wrong: float
    cannot: float


def limit(labs: int, level: float = 0.05) -> float:
    """Return the level plus three standard deviations of the simulation."""
    return level + 3 * math.sqrt(level * (1 - level) / labs)


def seed_of(*what: float) -> int:
    """Return a seed that hangs on the setting alone."""
    return zlib.crc32(repr(what).encode())


def weighed(setting: Setting, labs: int, seed: int) -> list[Floats]:
    """Return the four displayed weighings of every trial, in g."""
    rng = np.random.default_rng(np.random.SFC64(seed))
    consumed, produced, ratios = PAIRS[setting.pair]
    shape = (labs, setting.trials)
    reacted = np.full(shape, setting.steps * STEP_G)  # the hard case: the same mass each time
    if setting.unlike:
        reacted *= 1 + setting.unlike * rng.uniform(-1, 1, shape)
    per_gram = float(Fraction(list(ratios.values())[setting.truth]))
    per_gram *= molar_mass_value(produced) / molar_mass_value(consumed)
    part = setting.recovered * (1 + setting.variation * rng.standard_normal(shape))
    wire, paper = rng.uniform(2, 4, shape), rng.uniform(0.5, 1, shape)

    def shown(true_g: Floats) -> Floats:
        noisy = true_g + setting.noise * STEP_G * rng.standard_normal(shape)
        return np.asarray(np.round(noisy / STEP_G) * STEP_G)

    return [
        shown(wire),
        shown(wire - reacted),
        shown(paper),
        shown(paper + reacted * per_gram * part),
    ]


def judged(
    setting: Setting,
    tables: list[Floats],
    recovery: tuple[float, float] = (1.0, 1.0),
    variation: Variation | None = None,
) -> WeighingEvidence:
    """Return what the tool says of such weighings."""
    consumed, produced, ratios = PAIRS[setting.pair]
    balance = Balance(readability_g=STEP_G, repeatability_g=setting.noise * STEP_G)
    return assess_weighings(
        *tables, consumed=consumed, produced=produced, candidates=ratios, balance=balance,
        recovery=recovery, variation=variation,
    )  # fmt: skip


def rates(setting: Setting, found: WeighingEvidence) -> Rates:
    """Count the verdicts against the truth."""
    fits = found.compatible[:, setting.truth]
    kinds = np.array(found.kinds)
    alone = kinds == "singled_out"
    cannot = kinds == "cannot_be_judged"
    return Rates(
        len(found),
        float((~fits & ~cannot).mean()),
        float((alone & fits).mean()),
        float((alone & ~fits).mean()),
        float(cannot.mean()),
    )


def row(name: str, found: Rates, plain: Rates) -> str:
    """Return a line of the table."""
    parts = [f"{100 * v:.2f}" for v in (found.excluded, found.right, found.wrong, found.cannot)]
    before = [f"{100 * v:.2f}" for v in (plain.excluded, plain.right, plain.wrong)]
    return f"| {' | '.join([name, *parts, *before])} |"


def recovery_rows(labs: int) -> Iterator[tuple[str, Rates, Rates]]:
    """Recovery stated as 0.85 to 1: both ends, between, each with the truth of both kinds."""
    for pair, truth, steps, noise, trials, part in product(
        (0, 1), (0, 1), (4.0, 12.0, 100.0), (0.0, 0.5), (1, 3), (0.85, 0.925, 1.0)
    ):
        setting = Setting(pair, truth, steps, noise, trials, part)
        tables = weighed(setting, labs, seed=seed_of(pair, truth, steps, noise, trials, part))
        found = rates(setting, judged(setting, tables, (0.85, 1.0)))
        name = (
            f"{PAIRS[pair][1]}, {truth}, {steps:g} steps, noise {noise:g}, {trials} tr., {part:g}"
        )
        yield name, found, rates(setting, judged(setting, tables))


def variation_rows(labs: int) -> Iterator[tuple[str, Rates, Rates]]:
    """Trials that truly differ: stated exactly, known from eight trials, or unknown."""
    for steps, noise, true, trials in product(
        (6.0, 50.0), (0.0, 0.5), (0.0, 0.005, 0.01, 0.02, 0.03), (2, 3, 5, 8)
    ):
        setting = Setting(0, 0, steps, noise, trials, variation=true)
        tables = weighed(setting, labs, seed=seed_of(steps, noise, true, trials))
        plain = rates(setting, judged(setting, tables))
        ways: dict[str, Variation] = {"unknown": Variation(unknown=True)}
        if true:
            ways["stated"] = Variation(relative=true)
        for way, variation in ways.items():
            found = rates(setting, judged(setting, tables, variation=variation))
            name = f"{steps:g} steps, noise {noise:g}, {100 * true:g} %, {trials} trials, {way}"
            yield name, found, plain


def unlike_rows(labs: int) -> Iterator[tuple[str, Rates, Rates]]:
    """Trials that differ by an unknown amount, of masses from half to 1.5 times their mean."""
    for steps, noise, true, trials in product(
        (6.0, 50.0), (0.0, 0.5), (0.0, 0.01, 0.03), (2, 3, 5)
    ):
        setting = Setting(0, 0, steps, noise, trials, variation=true, unlike=0.5)
        tables = weighed(setting, labs, seed=seed_of(steps, noise, true, trials, 0.5))
        found = rates(setting, judged(setting, tables, variation=Variation(unknown=True)))
        name = f"{steps:g} steps, noise {noise:g}, {100 * true:g} %, {trials} trials"
        yield name, found, rates(setting, judged(setting, tables))


def estimated_rows(labs: int) -> Iterator[tuple[str, Rates, Rates]]:
    """A variation learned from eight earlier trials: its estimate is drawn for each lab."""
    for true, trials in product((0.01, 0.03), (2, 4)):
        setting = Setting(0, 0, 50.0, 0.5, trials, variation=true)
        rng = np.random.default_rng(7)
        grades = np.sqrt(rng.chisquare(7, 40) / 7)
        parts = []
        for i, grade in enumerate(grades.tolist()):
            tables = weighed(setting, max(labs // 40, 1), seed=1000 + i)
            known = Variation(relative=min(true * grade, 0.5), from_trials=8)
            parts.append(rates(setting, judged(setting, tables, variation=known)))
        found = Rates(
            sum(p.labs for p in parts),
            *(
                float(np.mean([getattr(p, f) for p in parts]))
                for f in ("excluded", "right", "wrong")
            ),
            cannot=0.0,
        )
        exact = weighed(setting, labs, seed=1)
        plain = rates(setting, judged(setting, exact))
        yield f"{100 * true:g} %, from 8 trials, {trials} trials", found, plain


def nothing_rows(labs: int) -> Iterator[tuple[str, Rates, Rates]]:
    """Nothing reacted: nothing may be singled out (in the first columns excluded says nothing)."""
    for noise, trials in product((0.0, 0.3, 0.5, 1.0), (1, 3)):
        setting = Setting(0, 0, 1e-9, noise, trials)
        found = judged(setting, weighed(setting, labs, seed=int(10 * noise) + trials))
        alone = float((np.array(found.kinds) == "singled_out").mean())
        single = float((found.compatible.sum(axis=1) == 1).mean())
        below = float(found.below_zero.mean())
        yield (
            f"noise {noise:g}, {trials} trials",
            Rates(labs, 0.0, 0.0, alone, below),
            Rates(labs, 0.0, 0.0, single, 0.0),
        )


PARTS: dict[str, Callable[[int], Iterator[tuple[str, Rates, Rates]]]] = {
    "recovery": recovery_rows,
    "variation": variation_rows,
    "unlike masses": unlike_rows,
    "estimated": estimated_rows,
    "nothing reacted": nothing_rows,
}
HEADER = (
    "setting", "truth excluded %", "right %", "wrong %", "cannot be judged %",
    "without: excluded %", "right %", "wrong %",
)  # fmt: skip


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=20_000)
    parser.add_argument("--only", choices=tuple(PARTS))
    options = parser.parse_args(argv)
    most = limit(options.labs)
    print(f"{options.labs} labs a setting; limit 5 % + 3 sigma = {100 * most:.2f} %.\n")
    broken = 0
    for part, rows in PARTS.items():
        if options.only not in (None, part):
            continue
        found = list(rows(options.labs))
        worst = max(found, key=lambda entry: entry[1].excluded)
        over = sum(entry[1].excluded > most for entry in found)
        broken += over
        print(f"## {part}\n\n{len(found)} settings; above the limit: {over}; worst: ", end="")
        print(f"{100 * worst[1].excluded:.2f} % ({worst[0]}).\n")
        print(f"| {' | '.join(HEADER)} |\n|{'---|' * len(HEADER)}")
        print("\n".join(row(*entry) for entry in found), end="\n\n", flush=True)
    return int(broken > 0)


if __name__ == "__main__":
    sys.exit(main())
