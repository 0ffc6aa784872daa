"""Planned chances against 200,000 simulated labs that round every reading to the display.

python -m tests.studies.planning            # 32 settings, prints Markdown
python -m tests.studies.planning --labs 20000
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np

from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.arrays import assess_weighings
from stoichkit.measurement.displays import Balance
from stoichkit.planning.outcomes import PARTS, Chances, chances_from
from stoichkit.planning.plan import Plan, chances
from tests.labs import RATIOS, lab

STEP_G = 0.01
# mass in display steps, repeatability in steps, trials, spread, truth,
# recovery (least and largest allowed, true)
SETTINGS = [
    (3.0, 0.5, 1, 0.10, "copper(II)", (1.0, 1.0, 1.0)),
    (3.0, 0.5, 1, 0.0, "copper(II)", (1.0, 1.0, 1.0)),
    (5.3, 0.5, 1, 0.10, "copper(I)", (1.0, 1.0, 1.0)),
    (5.3, 0.5, 1, 0.0, "copper(I)", (1.0, 1.0, 1.0)),
    (2.5, 0.0, 1, 0.30, "copper(II)", (1.0, 1.0, 1.0)),
    (2.5, 0.0, 1, 0.0, "copper(II)", (1.0, 1.0, 1.0)),
    (3.7, 0.0, 1, 0.0, "copper(I)", (1.0, 1.0, 1.0)),
    (4.2, 0.2, 1, 0.10, "copper(I)", (1.0, 1.0, 1.0)),
    (4.2, 0.2, 1, 0.0, "copper(II)", (1.0, 1.0, 1.0)),
    (8.0, 1.0, 1, 0.10, "copper(I)", (1.0, 1.0, 1.0)),
    (8.0, 1.0, 1, 0.0, "copper(II)", (1.0, 1.0, 1.0)),
    (20.0, 3.0, 1, 0.10, "copper(II)", (1.0, 1.0, 1.0)),
    (2.2, 0.5, 2, 0.10, "copper(II)", (1.0, 1.0, 1.0)),
    (2.2, 0.5, 2, 0.0, "copper(I)", (1.0, 1.0, 1.0)),
    (1.7, 0.5, 4, 0.10, "copper(II)", (1.0, 1.0, 1.0)),
    (1.7, 0.5, 4, 0.0, "copper(II)", (1.0, 1.0, 1.0)),
    (1.2, 0.0, 4, 0.20, "copper(I)", (1.0, 1.0, 1.0)),
    (1.2, 0.0, 4, 0.0, "copper(I)", (1.0, 1.0, 1.0)),
    (1.5, 0.3, 8, 0.10, "copper(II)", (1.0, 1.0, 1.0)),
    (1.3, 0.3, 8, 0.0, "copper(I)", (1.0, 1.0, 1.0)),
    (30.0, 0.5, 1, 0.10, "copper(II)", (0.7, 1.1, 0.7)),
    (30.0, 0.5, 1, 0.10, "copper(II)", (0.7, 1.1, 0.9)),
    (30.0, 0.5, 1, 0.10, "copper(II)", (0.7, 1.1, 1.1)),
    (12.0, 0.5, 3, 0.10, "copper(I)", (0.8, 1.05, 0.8)),
    (12.0, 0.5, 3, 0.10, "copper(I)", (0.8, 1.05, 0.925)),
    (12.0, 0.5, 3, 0.10, "copper(I)", (0.8, 1.05, 1.05)),
    (8.0, 0.5, 2, 0.00, "copper(II)", (0.9, 1.0, 0.9)),
    (8.0, 0.5, 2, 0.00, "copper(II)", (0.9, 1.0, 0.95)),
    (8.0, 0.5, 2, 0.00, "copper(II)", (0.9, 1.0, 1)),
    (5.0, 0.0, 1, 0.10, "copper(II)", (0.9, 1.05, 0.9)),
    (5.0, 0.0, 1, 0.10, "copper(II)", (0.9, 1.05, 0.975)),
    (5.0, 0.0, 1, 0.10, "copper(II)", (0.9, 1.05, 1.05)),
]  # fmt: skip


def simulated(setting: tuple, labs: int, seed: int) -> Chances:
    """Simulate labs of one setting and judge each with the tool."""
    mass, noise, trials, spread, truth, (low, high, recovered) = setting
    rng = np.random.default_rng(np.random.SFC64(seed))
    shape = (labs, trials)
    reacting = mass * STEP_G * (1 + spread * rng.uniform(-1, 1, shape))
    moles = reacting / molar_mass_value("Cu")
    made = moles * float(RATIOS[truth]) * molar_mass_value("Ag") * recovered
    wire, paper = rng.uniform(2, 4, shape), rng.uniform(0.5, 1.0, shape)

    def weigh(true: np.ndarray) -> np.ndarray:
        shown = true + rng.normal(0.0, noise * STEP_G, true.shape)
        return np.asarray(np.round(shown / STEP_G) * STEP_G)

    found = assess_weighings(
        weigh(wire), weigh(wire - reacting), weigh(paper), weigh(paper + made),
        consumed="Cu", produced="Ag", candidates=RATIOS, recovery=(low, high),
        balance=Balance(readability_g=STEP_G, repeatability_g=noise * STEP_G),
    )  # fmt: skip
    index = list(RATIOS).index(truth)
    kinds = np.array(found.kinds)
    alone, right = kinds == "singled_out", found.compatible[:, index]
    several = kinds == "not_told_apart"
    none, cannot = kinds == "none_fits", kinds == "cannot_be_judged"
    each = (alone & right, alone & ~right, several, none, cannot)
    return chances_from(float(part.mean()) for part in each)


def planned(setting: tuple) -> Chances:
    """Return the planned chances of one setting."""
    mass, noise, trials, spread, truth, (low, high, recovered) = setting
    balance = Balance(readability_g=STEP_G, repeatability_g=noise * STEP_G)
    experiment = lab([(3.0, 2.5, 0.7, 2.4)], balance, recovery=(low, high))
    amount = mass * STEP_G / molar_mass_value("Cu")
    plan = Plan(experiment=experiment, consumed_mol=amount, trials=trials, spread=spread)
    return chances(plan, truth, recovered=recovered)


def main(arguments: list[str] | None = None) -> int:
    """Compare every setting; exit with 1 if any chance differs by more than 0.005."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=200_000)
    options = parser.parse_args(arguments)
    names = PARTS
    print("| mass/step, rep./step, trials, spread, truth, recovery | " + " | ".join(
        f"{n}: plan, sim." for n in names) + " | largest difference | ms |")  # fmt: skip
    print("|" + "---|" * (len(names) + 3))
    worst, begun = 0.0, time.perf_counter()
    for i, setting in enumerate(SETTINGS):
        start = time.perf_counter()
        plan = planned(setting)
        spent = 1e3 * (time.perf_counter() - start)
        seen = simulated(setting, options.labs, i)
        pairs = [(getattr(plan, n), getattr(seen, n)) for n in names]
        gap = max(abs(a - b) for a, b in pairs)
        worst = max(worst, gap)
        cells = " | ".join(f"{a:.4f}, {b:.4f}" for a, b in pairs)
        print(f"| {setting} | {cells} | {gap:.4f} | {spent:.0f} |", flush=True)
    print(f"\nLargest difference {worst:.4f} (limit 0.005), {options.labs} labs a setting.")
    print(f"Took {time.perf_counter() - begun:.0f} s.")
    return int(worst > 0.005)


if __name__ == "__main__":
    sys.exit(main())
