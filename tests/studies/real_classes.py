"""Is the truth kept by classes whose groups truly differ? Simulated classes, with the cost.

Iron in copper sulfate, iron(II) true against iron(III). Each group recovers another part of its
product: a standard deviation of 0, 0.5, 1, 2, 4 times u, the standard uncertainty of one group's
discrepancy by its readings. Two kinds of class: groups with alike amounts, and u such that the
readings alone single out the truth in about 92 % of classes whose groups do not differ; and groups
with amounts from 0.2 to 1.8 of their mean, so that there is a line, whose slope is tested. Errors
are normal; what the digits of a display add is in ``tests.studies.real_labs``, the same test with
trials for groups. Each class goes through ``class_verdict`` as a user would call it.

    python -m tests.studies.real_classes                 # the full study, prints Markdown
    python -m tests.studies.real_classes --classes 200
"""

from __future__ import annotations

import argparse
import math
import sys
import time
import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from multiprocessing import Pool

import numpy as np

from stoichkit.classroom.amounts import amounts_from_arrays
from stoichkit.classroom.verdict import ClassVerdict, class_verdict
from tests.studies.real_labs import limit

TRUTH, RIVAL = "iron(II)", "iron(III)"
CANDIDATES = {TRUTH: "1", RIVAL: "3/2"}
GROUPS = (4, 8, 30)
DIFFERENCES = (0.0, 0.5, 1.0, 2.0, 4.0)


@dataclass(frozen=True)
class Setting:
    """One kind of class: groups, what they truly differ by in u, whether there is a line."""

    groups: int
    difference: float
    line: bool


@dataclass(frozen=True)
class Rates:
    """What came of the classes of one setting, as parts of all."""

    excluded: float
    right: float
    wrong: float
    readings_excluded: float
    readings_right: float
    slope_excluded: float
    stated_slope_excluded: float


def simulated(setting: Setting, rng: np.random.Generator) -> ClassVerdict:
    """Return the verdict of one class."""
    k = setting.groups
    # alike: the gap of 1/2 at the mean amount of 1 is 3.6 standard uncertainties of the mean
    u = 0.05 if setting.line else 0.5 * math.sqrt(k) / 3.6
    n = rng.uniform(0.2, 1.8, k) if setting.line else rng.uniform(0.8, 1.2, k)
    made = n * (1 + setting.difference * u * rng.standard_normal(k))
    u_n = u / math.sqrt(2)
    consumed = n + u_n * rng.standard_normal(k)
    return class_verdict(
        amounts_from_arrays(consumed, made + u_n * rng.standard_normal(k), u_n, u_n),
        candidates=CANDIDATES,
    )


def rates_of(setting: Setting, classes: int) -> Rates:
    """Simulate classes of one setting and count."""
    seed = zlib.crc32(repr(setting).encode())
    rng = np.random.default_rng(np.random.SFC64(seed))
    found = [simulated(setting, rng) for _ in range(classes)]
    lines = [v.line for v in found if v.line is not None]

    def part(which: Iterable[bool]) -> float:
        values = list(which)
        return sum(values) / len(values) if values else math.nan

    return Rates(
        part(not v.candidates[TRUTH].compatible for v in found),
        part(v.verdict.candidates == (TRUTH,) for v in found),
        part(v.verdict.candidates == (RIVAL,) for v in found),
        part(TRUTH not in v.by_readings.candidates for v in found),
        part(v.by_readings.candidates == (TRUTH,) for v in found),
        part(line.slope_p_value(1.0) < 0.05 for line in lines),
        part((line.stated or line).slope_p_value(1.0) < 0.05 for line in lines),
    )


def _task(given: tuple[Setting, int]) -> Rates:
    return rates_of(*given)


def shown(value: float) -> str:
    """Write a part in per cent."""
    return "–" if math.isnan(value) else f"{100 * value:.2f}"


def main(argv: list[str] | None = None) -> int:
    """Run the study and print it; return 1 if the truth is excluded too often."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--classes", type=int, default=2_000, help="classes a setting")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--only", choices=("alike", "line"))
    options = parser.parse_args(argv)
    most = limit(options.classes)
    kinds = {"alike": (False,), "line": (True,), None: (False, True)}[options.only]
    settings = [Setting(k, d, line) for line, k, d in product(kinds, GROUPS, DIFFERENCES)]
    began = time.perf_counter()
    with Pool(options.processes) as pool:
        found = pool.map(_task, [(s, options.classes) for s in settings], chunksize=1)
    print(f"{options.classes} classes a setting; limit 5 % + 3 sigma = {100 * most:.2f} %.")
    broken = 0
    for line in kinds:
        rows = [(s, r) for s, r in zip(settings, found, strict=True) if s.line is line]
        over = [r for _, r in rows if r.excluded > most or r.slope_excluded > most]
        broken += len(over)
        print(f"\n## {'Amounts that differ: a line' if line else 'Alike amounts'}\n")
        print(f"{len(rows)} settings; above the limit: {len(over)}.\n")
        header = [
            "groups", "differ by / u", "truth excluded %", "right %", "wrong %",
            "readings alone: excluded %", "right %",
        ]  # fmt: skip
        if line:
            header += ["slope: excluded %", "slope by readings alone: excluded %"]
        print(f"| {' | '.join(header)} |\n|{'---|' * len(header)}")
        for s, r in rows:
            cells = [f"{s.groups}", f"{s.difference:g}", shown(r.excluded), shown(r.right)]
            cells += [shown(r.wrong), shown(r.readings_excluded), shown(r.readings_right)]
            if line:
                cells += [shown(r.slope_excluded), shown(r.stated_slope_excluded)]
            print(f"| {' | '.join(cells)} |")
    print(f"\n{time.perf_counter() - began:.0f} s with {options.processes} processes.")
    return int(broken > 0)


if __name__ == "__main__":
    sys.exit(main())
