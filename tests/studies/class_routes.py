"""Is the truth kept by classes that find an amount by two routes, sound or not? Simulated classes.

Zinc that displaces copper, its loss found by weighing (0.001 g) and by titration (0.25 mol/L, 50 mL
burette), 4 to 6 mmol a group: the record of ``tests.measurement.test_routes``. The concentration
and the burette are the same in all groups. The titration is too high by as much in every group, or
in one, and groups may differ by 1 % of their product, four times the standard uncertainty of one
group's discrepancy. "Readings alone" is the same class judged as if its groups did not differ. A
fault too small to be seen is averaged in, as in one lab: those settings are shown, not counted.

    python -m tests.studies.class_routes                 # the full study, prints Markdown
    python -m tests.studies.class_routes --classes 30
"""

from __future__ import annotations

import argparse
import sys
import time
import zlib
from dataclasses import dataclass
from itertools import product
from multiprocessing import Pool

import numpy as np

from stoichkit.classroom.verdict import class_verdict
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from tests.measurement.test_routes import LAB
from tests.studies.real_labs import limit

TRUTH = "one to one"
READINGS = (
    "strip before", "strip after", "paper", "paper + copper", "burette before", "burette after",
)  # fmt: skip
UNSEEN_mL = (0.1, 0.2)
"""Too high by so much, a titration may be at fault without being seen to be."""


@dataclass(frozen=True)
class Setting:
    """One kind of class: groups, what they differ by, what the titration adds, in how many."""

    groups: int
    differ: float
    fault_mL: float
    in_one: bool

    @property
    def counts(self) -> bool:
        """Whether the promise should hold."""
        return self.fault_mL not in UNSEEN_mL


def simulated(setting: Setting, rng: np.random.Generator, lab: Experiment) -> Experiment:
    """Return the readings of one class."""
    strength = 0.25 + rng.normal(0, 0.0005)
    tolerance_mL = rng.triangular(-0.05, 0, 0.05)
    trials = []
    for group in range(setting.groups):
        n = rng.uniform(4e-3, 6e-3)
        made = n * (1 + setting.differ * rng.standard_normal())
        start, paper, zero = rng.uniform(3, 4), rng.uniform(0.6, 0.8), rng.uniform(0.1, 0.6)
        fault = 0.0 if setting.in_one and group else setting.fault_mL
        volume = 1e3 * n / strength - tolerance_mL + fault
        masses = np.array([start, start - n * 65.38, paper, paper + made * 63.546])
        drops = rng.normal(0, 0.02, 2)
        shown = [f"{mass:.3f}" for mass in masses + rng.normal(0, 0.0005, 4)]
        shown += [f"{zero + drops[0]:.2f}", f"{zero + volume + drops[1]:.2f}"]
        trials.append(Trial(str(group + 1), dict(zip(READINGS, shown, strict=True))))
    return lab.with_trials(trials)


def rates_of(setting: Setting, classes: int) -> tuple[float, ...]:
    """Simulate classes of one setting; return the parts seen apart, excluded, right, wrong, …"""
    rng = np.random.default_rng(np.random.SFC64(zlib.crc32(repr(setting).encode())))
    lab = parse_experiment(LAB)
    found = []
    for _ in range(classes):
        record = simulated(setting, rng, lab)
        verdict = class_verdict(record)
        names = verdict.verdict.candidates
        found.append(
            (
                not verdict.agreements[0].agree,
                not verdict.candidates[TRUTH].compatible,
                names == (TRUTH,),
                len(names) == 1 and names != (TRUTH,),
                TRUTH not in verdict.by_readings.candidates,
            )
        )
    return tuple(float(part) for part in np.mean(found, axis=0))


def _task(given: tuple[Setting, int]) -> tuple[float, ...]:
    return rates_of(*given)


def settings() -> list[Setting]:
    """Return all settings: the same in every group, or in one."""
    alike = product((4, 8), (0.0, 0.01), (0.0, 0.3, 1.0))
    return [
        *(Setting(k, differ, fault, in_one=False) for k, differ, fault in alike),
        *(Setting(k, 0.0, fault, in_one=False) for k in (4, 8) for fault in UNSEEN_mL),
        *(Setting(k, 0.0, 1.0, in_one=True) for k in (4, 8)),
    ]


def main(argv: list[str] | None = None) -> int:
    """Run the study and print it; return 1 if the truth is excluded too often."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--classes", type=int, default=120, help="classes a setting")
    parser.add_argument("--processes", type=int, default=1)
    options = parser.parse_args(argv)
    most, listed = limit(options.classes), settings()
    began = time.perf_counter()
    with Pool(options.processes) as pool:
        found = pool.map(_task, [(s, options.classes) for s in listed], chunksize=1)
    rows = list(zip(listed, found, strict=True))
    broken = [s for s, rates in rows if s.counts and rates[1] > most]
    print(
        f"{options.classes} classes a setting, so the limit is 5 % + 3 sigma = {100 * most:.2f} %. "
        f"{sum(s.counts for s in listed)} settings count; above the limit: {len(broken)}.\n"
    )
    print(
        "| groups | differ by % | titration too high by / mL | counts | seen apart % "
        "| truth excluded % | right % | wrong % | readings alone: excluded % |\n|"
        + "---|" * 9
    )  # fmt: skip
    for s, rates in rows:
        fault = f"{s.fault_mL:g}{' in one group' if s.in_one else ''}"
        said = [f"{s.groups}", f"{100 * s.differ:g}", fault, "yes" if s.counts else "no"]
        print(f"| {' | '.join([*said, *(f'{100 * r:.1f}' for r in rates)])} |")
    print(f"\n{time.perf_counter() - began:.0f} s with {options.processes} process(es).")
    return int(bool(broken))


if __name__ == "__main__":
    sys.exit(main())
