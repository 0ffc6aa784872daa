"""A class of 100,000 groups from file to summary in a new process, and a class's own verdict."""

from __future__ import annotations

import math
import tempfile
from pathlib import Path

import numpy as np

from tests.labs import text, weighed

from .measure import Row, fresh, show

GROUPS = 100_000
STEPS = (0.1, 0.01, 0.001, 0.0001)

_READ = """
import re, sys, time
from pathlib import Path
from stoichkit import experiments
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.classroom.data import load_class
from stoichkit.classroom.evidence import evidence_of_groups
from stoichkit.measurement.displays import Balance
ratios = plain_ratios({"copper(I)": "1", "copper(II)": "2", "copper(III)": "3"})
lab = experiments.load("copper-silver").with_candidates(ratios)
lab = lab.with_instrument("balance", Balance(readability_g=float(sys.argv[2])))
start = time.perf_counter()
data = load_class(sys.argv[1], lab)
read = time.perf_counter()
found = evidence_of_groups(data)
tested = time.perf_counter()
found.counts, found.singled_out, found.percent_yield
end = time.perf_counter()
assert len(found) == int(sys.argv[3]) and next(iter(data._rows.readings.values())).texts[0]
# not getrusage: a child starts with the peak of the process that made it
peak = int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024
print(read - start, tested - read, end - start, peak)
"""

_WITHOUT = """
import sys, time
from stoichkit import experiments
from stoichkit.classroom.amounts import joined
from stoichkit.classroom.data import load_class
from stoichkit.classroom.verdict import class_verdict
data = load_class(sys.argv[1], experiments.load("copper-silver"))
found = class_verdict(joined(dict(data.groups)))
start = time.perf_counter()
assert len(found.without) == 100
print(time.perf_counter() - start)
"""


def write(path: Path, step_g: float, groups: int = GROUPS) -> None:
    """Write invented readings, one trial a group, with two more columns."""
    rng = np.random.default_rng(3)
    tables = weighed(rng, rng.uniform(0.05, 0.6, groups), 2.0, step_g, 0.5, (groups,))
    with path.open("w", encoding="utf-8") as file:
        print("group,trial,wire before / g,wire after / g,paper / g,paper + silver / g,by,remark",
              file=file)  # fmt: skip
        for i, row in enumerate(zip(*(t.tolist() for t in tables), strict=True), 1):
            print(f"g{i},1,{','.join(text(x, step_g) for x in row)},x,", file=file)


def rows(repeats: int = 5) -> list[Row]:
    out = []
    with tempfile.TemporaryDirectory() as folder:
        for step in STEPS:
            path = Path(folder) / f"class-{step}.csv"
            write(path, step)
            runs = [
                [float(v) for v in fresh(_READ, str(path), str(step), str(GROUPS)).split()]
                for _ in range(repeats)
            ]
            read, tested, total, peak = np.min(runs, axis=0).tolist()
            label = f"{GROUPS:,} rows, 3 candidates, {step} g: read, test, sum up"
            note = f"reading {read:.2f} s, testing {tested:.2f} s (best of {repeats} each)"
            out.append(Row(label, "", total, math.nan, 1.5, limit=True, unit="s", note=note))
            out.append(
                Row(f"the same, peak of memory, {step} g", "", peak, math.nan, 400, True, "MB")
            )
        path = Path(folder) / "hundred.csv"
        write(path, 0.01, 100)
        seconds = min(float(fresh(_WITHOUT, str(path))) for _ in range(repeats))
        label = "verdict of a class of 100 groups without each group in turn"
        out.append(Row(label, "", seconds, math.nan, 0.5, limit=True, unit="s"))
    return out


def main() -> str:
    return show("A class, in new processes", rows())


if __name__ == "__main__":
    print(main())
