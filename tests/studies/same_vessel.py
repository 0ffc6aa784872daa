"""One vessel in every trial: is the truth excluded at most 5 % of the time, and what does it cost?

The product is weighed with one piece of paper (or a hydrate in one crucible) that is the same thing
in every trial, so all its weighings begin at one position between two display steps. Each lab is
judged as it is stated (``same_vessel``) and as if each trial had a vessel of its own. The vessel of
each lab, and so its position, is drawn at random. The amounts are the same in all trials, at the
worst of six parts of a display step (“singled out” is the mean over them), or differ.

    python -m tests.studies.same_vessel                 # prints Markdown, kept in same_vessel.md
    python -m tests.studies.same_vessel --labs 2000
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
STEP_G = 0.01


@dataclass(frozen=True)
class Setting:
    """One kind of lab; the mass of the first substance and the noise in display steps."""

    kind: str
    steps: float
    noise: float
    trials: int
    equal: bool
    part: float = 0.0


METAL = {"iron(II)": "1", "iron(III)": "3/2"}
HYDRATE = {"tetrahydrate": "4", "pentahydrate": "5"}


def lab(setting: Setting, tables: dict[str, Floats], *, same: bool) -> Experiment:
    """Return the first lab of the tables as a record."""
    if setting.kind == "metal":
        named = ("paper",) if same else ()
        consumed = MassByDifference(species="Fe", heavier="before", lighter="after")
        produced = MassByDifference(
            species="Cu", heavier="paper + copper", lighter="paper", same_vessel=named
        )
    else:
        named = ("crucible",) if same else ()
        consumed = MassByDifference(
            species="CuSO4", heavier="residue", lighter="crucible", same_vessel=named
        )
        produced = MassByDifference(species="H2O", heavier="crystals", lighter="residue")
    return Experiment(
        title="One vessel in every trial (invented)",
        invented=True,
        consumed=consumed,
        produced=produced,
        instruments={
            "balance": Balance(readability_g=STEP_G, repeatability_g=setting.noise * STEP_G)
        },
        candidates=plain_ratios(METAL if setting.kind == "metal" else HYDRATE),
        trials=[
            Trial(str(i + 1), {name: f"{t[0, i]:.2f}" for name, t in tables.items()})
            for i in range(setting.trials)
        ],
    )


def weighed(setting: Setting, labs: int, seed: int) -> dict[str, Floats]:
    """Return the displayed weighings, shape (labs, trials); the first candidate is true."""
    rng = np.random.default_rng(np.random.SFC64(seed))
    shape = (labs, setting.trials)
    mass = setting.steps * STEP_G * np.ones(shape)
    mass += STEP_G * (setting.part if setting.equal else rng.uniform(0, 1, shape))
    vessel = rng.uniform(20, 21, (labs, 1)) * np.ones(shape)
    if setting.kind == "metal":
        wire = rng.uniform(2, 4, shape)
        made = mass * molar_mass_value("Cu") / molar_mass_value("Fe")
        true = {"before": wire, "after": wire - mass, "paper": vessel}
        true["paper + copper"] = vessel + made
    else:
        water = 4 * mass * molar_mass_value("H2O") / molar_mass_value("CuSO4")
        true = {"crucible": vessel, "crystals": vessel + mass + water, "residue": vessel + mass}
    noise = setting.noise * STEP_G
    return {
        name: np.round((t + noise * rng.standard_normal(shape)) / STEP_G) * STEP_G
        for name, t in true.items()
    }


def compatible(setting: Setting, tables: dict[str, Floats], *, same: bool) -> NDArray[np.bool_]:
    """Return which candidates each lab is compatible with, shape (labs, 2).

    The display errors do not depend on the amounts, so those of the first lab serve for all.
    """
    record = lab(setting, tables, same=same)
    linear = linear_amounts(record)
    found = []
    for candidate in record.candidates:
        r = float(candidate.ratio)
        blocks, rest = linear.blocks(r, 1.0)
        wide, narrow = split_narrow(rest, blocks)
        if setting.kind == "metal":
            a = (tables["before"] - tables["after"]) / molar_mass_value("Fe")
            b = (tables["paper + copper"] - tables["paper"]) / molar_mass_value("Cu")
        else:
            a = (tables["residue"] - tables["crucible"]) / molar_mass_value("CuSO4")
            b = (tables["crystals"] - tables["residue"]) / molar_mass_value("H2O")
        d = (b - r * a).mean(axis=1)
        found.append(worst_position_tails(d, blocks, wide, np.full(d.shape, narrow)) >= 0.05)
    return np.stack(found, axis=1)


def row(setting: Setting, labs: int) -> tuple[float, float, float, float]:
    """Return truth excluded and singled out: with the vessel stated, and without, as parts."""
    parts = np.arange(6) / 6 if setting.equal else [0.0]
    found = np.array([_row(replace(setting, part=float(part)), labs) for part in parts])
    worst, mean = found.max(axis=0), found.mean(axis=0)
    return float(worst[0]), float(mean[1]), float(worst[2]), float(mean[3])


def _row(setting: Setting, labs: int) -> list[float]:
    """Return the same at one part of a step."""
    key = seed_of(*setting.kind.encode(), setting.steps, setting.noise, setting.trials)
    tables = weighed(setting, labs, key + setting.equal + int(6 * setting.part + 0.5) * 2)
    out = []
    for same in (True, False):
        fits = compatible(setting, tables, same=same)
        out += [float((~fits[:, 0]).mean()), float((fits[:, 0] & ~fits[:, 1]).mean())]
    return out


def settings() -> Iterator[Setting]:
    """Yield the settings of the study."""
    for noise, trials, equal in product((0.0, 0.05, 0.15, 0.3, 0.5), (2, 3, 5, 8), (True, False)):
        yield Setting("metal", 8.0, noise, trials, equal)
        yield Setting("metal", 3.0, noise, trials, equal)
        if trials < 8:
            yield Setting("hydrate", 40.0, noise, trials, equal)


def main(argv: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=20_000)
    labs = parser.parse_args(argv).labs
    most = limit(labs)
    every = [(setting, row(setting, labs)) for setting in settings()]
    over = [s for s, found in every if found[0] > most]
    without = [s for s, found in every if found[2] > most]
    print(f"{labs} labs a setting; limit 5 % + 3 sigma = {100 * most:.2f} %.\n")
    print(f"{len(every)} settings; above the limit: {len(over)}, ", end="")
    print(f"and {len(without)} if each trial is taken to have a vessel of its own.\n")
    head = (
        "lab, steps consumed",
        "noise, steps",
        "trials",
        "amounts",
        "truth excluded %",
        "singled out %",
    )
    print(f"| {' | '.join(head)} | own vessels: excluded % | singled out % |\n|{'---|' * 8}")
    for s, found in every:
        about = (
            f"{s.kind}, {s.steps:g}",
            f"{s.noise:g}",
            str(s.trials),
            "equal" if s.equal else "differ",
        )
        print(f"| {' | '.join([*about, *(f'{100 * v:.2f}' for v in found)])} |")
    return int(bool(over))


if __name__ == "__main__":
    sys.exit(main())
