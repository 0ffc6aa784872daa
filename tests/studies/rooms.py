"""Planned chances of a class against classes drawn apart and judged by the verdict of a class.

python -m tests.studies.rooms                 # eight settings, 1000 classes each, prints Markdown
python -m tests.studies.rooms --classes 200
"""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.classroom.verdict import class_verdict
from stoichkit.decision.verdict import VerdictKind
from stoichkit.experiments.own import Sentence, understood
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.planning.classes import Groups, class_chances
from stoichkit.planning.design import with_readability
from stoichkit.planning.outcomes import Chances, chances_from
from stoichkit.planning.plan import Plan


@dataclass(frozen=True)
class Setting:
    """A class: (groups, step of their balance in g) for each kind, and what they do."""

    kinds: tuple[tuple[int, float], ...]
    mass_g: float
    trials: int
    truth: str
    metal: str = "Fe"
    spread: float = 0.1
    recovery: tuple[float, float] = (1.0, 1.0)


SETTINGS = (
    Setting(((12, 0.1),), 0.24, 1, "iron(II)"),
    Setting(((12, 0.1),), 0.24, 1, "iron(III)"),
    Setting(((4, 0.1),), 0.5, 2, "iron(III)"),
    Setting(((6, 0.01),), 0.04, 1, "iron(II)"),
    Setting(((10, 0.1), (2, 0.01)), 0.1, 1, "iron(III)"),
    Setting(((6, 0.1), (6, 0.01)), 0.03, 2, "iron(II)"),
    Setting(((3, 0.1), (2, 0.05)), 0.45, 1, "iron(II)"),
    Setting(((8, 0.1),), 0.8, 1, "iron(III)", recovery=(0.85, 1.0)),
)


def lab_of(setting: Setting) -> Experiment:
    """Return the lab, without trials."""
    slots = {"metal": setting.metal, "product": "Cu", "ion": "CuSO4.5H2O", "states": "2, 3"}
    found = understood(Sentence("displacement", slots)).experiment
    assert found is not None
    return replace(found, recovery=setting.recovery)


def planned(setting: Setting) -> Chances:
    """Return the chances that the plan gives."""
    lab, amount = lab_of(setting), setting.mass_g / molar_mass_value(setting.metal)
    kinds = [
        Groups(
            Plan(
                experiment=with_readability(lab, step),
                consumed_mol=amount,
                trials=setting.trials,
                spread=setting.spread,
            ),
            number,
        )
        for number, step in setting.kinds
    ]
    low, _ = setting.recovery
    return class_chances(kinds, setting.truth, recovered=low)


def drawn_class(setting: Setting, rng: np.random.Generator) -> list[Experiment]:
    """Draw the readings of a class, one record for each kind of balance."""
    lab = lab_of(setting)
    ratio = float(next(c.ratio for c in lab.candidates if c.name == setting.truth))
    before, after, empty, full = lab.reading_names()
    low, _ = setting.recovery
    records = []
    for kind, (number, step) in enumerate(setting.kinds):
        decimals = max(-math.floor(math.log10(step) + 1e-9), 0)

        def shown(mass: float, step: float = step, decimals: int = decimals) -> str:
            read = mass + rng.normal(0.0, step / 2)  # repeatability: half a step, as is assumed
            return f"{round(read / step) * step:.{decimals}f}"

        trials = []
        for group in range(number):
            for trial in range(setting.trials):
                reacting = setting.mass_g * (1 + setting.spread * rng.uniform(-1, 1))
                made = low * reacting / molar_mass_value(setting.metal) * ratio
                made *= molar_mass_value("Cu")
                metal, paper = rng.uniform(3, 5), rng.uniform(0.5, 1.5)
                values = (metal, metal - reacting, paper, paper + made)
                name = f"{kind}.{group}"
                readings = {
                    reading: (shown(value),)
                    for reading, value in zip((before, after, empty, full), values, strict=True)
                }
                trials.append(Trial(f"{name}.{trial}", readings, name))
        records.append(with_readability(lab, step).with_trials(trials))
    return records


def simulated(setting: Setting, classes: int, seed: int) -> Chances:
    """Return how often classes come to each verdict."""
    rng = np.random.default_rng(seed)
    counts = [0] * 5
    for _ in range(classes):
        verdict = class_verdict(drawn_class(setting, rng)).verdict
        place = {
            VerdictKind.SINGLED_OUT: 0 if verdict.candidates == (setting.truth,) else 1,
            VerdictKind.NOT_TOLD_APART: 2,
            VerdictKind.NONE_FITS: 3,
            VerdictKind.CANNOT_BE_JUDGED: 4,
        }[verdict.kind]
        counts[place] += 1
    return chances_from((n / classes for n in counts), labs=classes)


def apart(one: Chances, other: Chances) -> float:
    """Return how far apart two simulated chances of a right verdict are, in standard errors."""
    p = (one.right * one.labs + other.right * other.labs) / (one.labs + other.labs)
    error = math.sqrt(max(p * (1 - p), 1e-4) * (1 / one.labs + 1 / other.labs))
    return abs(one.right - other.right) / error


def main(arguments: Sequence[str] | None = None) -> None:
    """Print a table of planned and simulated chances."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--classes", type=int, default=1000)
    options = parser.parse_args(arguments)
    start = time.time()
    print("| class | mass / g | trials | true | recovered | right planned | simulated | apart |")
    print("|---|---|---|---|---|---|---|---|")
    for seed, setting in enumerate(SETTINGS, 1):
        expected, found = planned(setting), simulated(setting, options.classes, seed)
        kinds = " and ".join(f"{n} to {step:g} g" for n, step in setting.kinds)
        print(
            f"| {kinds} | {setting.mass_g:g} | {setting.trials} | {setting.truth} "
            f"| {setting.recovery[0]:g} | {expected.right:.3f} | {found.right:.3f} "
            f"| {apart(expected, found):.1f} |",
            flush=True,
        )
    print(f"\n{options.classes} classes each, {time.time() - start:.0f} s.")


if __name__ == "__main__":
    main()
