"""Classes whose benches weigh on two kinds of balance: is the truth excluded at most 5 %?

Iron in a solution of a copper salt, iron(II) true against iron(III). Some groups weigh on a balance
that reads to 0.1 g, the others on one that reads to 0.01 g (or 0.05 g); their balance stands in a
column of the class file. Each class is a file: it is read, joined and judged as a user's is. The
amount is the same in all trials (the hard case), at a place between two steps of the coarse display
drawn anew for each class. Groups differ by nothing but their
readings; judged by the readings, and as if that were not known.

    python -m tests.studies.class_balances               # prints Markdown, kept beside it
    python -m tests.studies.class_balances --classes 200
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np

from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.classroom.amounts import joined
from stoichkit.classroom.choices import Choices
from stoichkit.classroom.data import load_class
from stoichkit.classroom.questions import TRIAL_ANSWER
from stoichkit.classroom.verdict import class_verdict
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference
from tests.studies.real_labs import limit, seed_of

TRUTH, RIVAL = "iron(II)", "iron(III)"
HEAD = "group,trial,before,after,paper,paper + copper,balance"
COARSE_G = 0.1


@dataclass(frozen=True)
class Setting:
    """One kind of class; masses in steps of the coarse balance, noise in steps of each."""

    coarse: int
    fine: int
    fine_g: float
    steps: float
    noise: float


def lab_of(setting: Setting) -> Experiment:
    """Return the lab, whose own balance is the finer one."""
    return Experiment(
        title="Two kinds of balance (invented)",
        invented=True,
        consumed=MassByDifference(species="Fe", heavier="before", lighter="after"),
        produced=MassByDifference(species="Cu", heavier="paper + copper", lighter="paper"),
        instruments={
            "balance": Balance(
                readability_g=setting.fine_g, repeatability_g=setting.noise * setting.fine_g
            )
        },
        candidates=plain_ratios({TRUTH: "1", RIVAL: "3/2"}),
        trials=(),
    )


def file_of(setting: Setting, rng: np.random.Generator) -> bytes:
    """Return the file of one class as it is handed in."""
    groups = setting.coarse + setting.fine
    part = np.full(groups, rng.uniform(0, 1))
    iron = COARSE_G * (setting.steps + part)
    copper = iron * molar_mass_value("Cu") / molar_mass_value("Fe")
    nail, paper = rng.uniform(5, 6, groups), rng.uniform(0.5, 1.5, groups)
    step = np.array([COARSE_G] * setting.coarse + [setting.fine_g] * setting.fine)
    lines = [HEAD]
    true = np.array([nail, nail - iron, paper, paper + copper])
    shown = np.round((true + setting.noise * step * rng.standard_normal(true.shape)) / step) * step
    for group, (d, texts) in enumerate(zip(step.tolist(), shown.T, strict=True)):
        places = 1 if d == COARSE_G else 2
        typed = ",".join(f"{text:.{places}f}" for text in texts)
        lines.append(f"bench {group},1,{typed},{d:g} g")
    return ("\n".join(lines) + "\n").encode()


def row(setting: Setting, classes: int) -> tuple[float, ...]:
    """Return how often the truth is excluded and alone left, by readings and not knowing that."""
    rng = np.random.default_rng(np.random.SFC64(seed_of(*map(float, vars(setting).values()))))
    lab, counts = lab_of(setting), np.zeros(4)
    for _ in range(classes):
        content = file_of(setting, rng)
        data = load_class(content, lab)
        if data.waiting:  # a row that is the mean of others by chance
            answers = {asked.key: TRIAL_ANSWER for asked in data.open_questions}
            data = load_class(content, lab, choices=Choices(answers=answers))
        assert len(data.names) == setting.coarse + setting.fine
        found = class_verdict(joined(dict(data.groups)))
        true, rival = (found.candidates[name] for name in (TRUTH, RIVAL))
        by_readings = true.p_common >= 0.05, rival.p_common >= 0.05
        for place, fits in ((0, by_readings), (2, (true.compatible, rival.compatible))):
            counts[place] += not fits[0]
            counts[place + 1] += fits == (True, False)
    return tuple((counts / classes).tolist())


def settings() -> Iterator[Setting]:
    """Yield the settings of the study."""
    for (coarse, fine), fine_g, noise in product(((6, 6), (10, 2)), (0.01, 0.05), (0.15, 0.5)):
        yield Setting(coarse, fine, fine_g, 1.5, noise)


def main(argv: list[str] | None = None) -> int:
    """Run the study and print it; return 1 if the truth is excluded too often."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--classes", type=int, default=300)
    options = parser.parse_args(argv)
    most = limit(options.classes)
    every = [(setting, row(setting, options.classes)) for setting in settings()]
    over = [one for one, found in every if max(found[0], found[2]) > most]
    worst = max(max(found[0], found[2]) for _, found in every)
    print(f"{options.classes} classes a setting; limit 5 % + 3 sigma = {100 * most:.2f} %.\n")
    print(f"{len(every)} settings; above the limit: {len(over)}; worst {100 * worst:.2f} %.\n")
    head = (
        "groups on 0.1 g + finer", "finer step, g", "noise, steps",
        "readings: truth excluded %", "singled out %", "not known: truth excluded %",
        "singled out %",
    )  # fmt: skip
    print(f"| {' | '.join(head)} |\n|{'---|' * len(head)}")
    for s, found in every:
        shown = [f"{100 * one:.1f}" for one in found]
        cells = (f"{s.coarse} + {s.fine}", f"{s.fine_g:g}", f"{s.noise:g}", *shown)
        print(f"| {' | '.join(cells)} |")
    return int(bool(over))


if __name__ == "__main__":
    sys.exit(main())
