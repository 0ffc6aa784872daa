"""A class of 100,000 rows from file to summary in a new process, and a class's own verdict.

Peer, in a new process of its own in turn: the ``csv`` module and ``float`` on the four columns, and
for a workbook openpyxl's reading of all cells; neither looks at what is wrong in the file.
"""

from __future__ import annotations

import math
import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import openpyxl
from openpyxl.cell import WriteOnlyCell

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
start = time.process_time()
data = load_class(sys.argv[1], lab)
read = time.process_time()
found = evidence_of_groups(data)
tested = time.process_time()
found.counts, found.singled_out, found.percent_yield
end = time.process_time()
assert len(found) == int(sys.argv[3])
assert next(iter(data._rows.readings.values())).texts[0]
# not getrusage: a child starts with the peak of the process that made it
peak = int(re.search(r"VmHWM:\\s+(\\d+)", Path("/proc/self/status").read_text())[1]) / 1024
print(read - start, tested - read, end - start, peak)
"""

_CSV = """
import csv, sys, time
start = time.process_time()
with open(sys.argv[1], newline="", encoding="utf-8") as file:
    rows = list(csv.reader(file))
columns = [[float(row[place]) for row in rows[1:]] for place in range(2, 6)]
print(time.process_time() - start)
"""

_XLSX = """
import openpyxl, sys, time
start = time.process_time()
book = openpyxl.load_workbook(sys.argv[1], read_only=True)
rows = [[(cell.value, cell.number_format if cell.value is not None else "") for cell in row]
        for row in book.active.iter_rows()]
print(time.process_time() - start)
"""

_WITHOUT = """
import sys, time
from stoichkit import experiments
from stoichkit.classroom.amounts import joined
from stoichkit.classroom.data import load_class
from stoichkit.classroom.verdict import class_verdict
import scipy.special  # a class needs its Bessel function; loading it is no work on the class
lab = experiments.load("copper-silver")
class_verdict(lab)  # loads what the first verdict of a process loads
data = load_class(sys.argv[1], lab)
start = time.process_time()
found = class_verdict(joined(dict(data.groups)))
assert found.verdict.candidates
told = time.process_time()
assert len(found.without) == 100
print(told - start, time.process_time() - told)
"""


HEADER = ("group", "trial", "wire before / g", "wire after / g", "paper / g",
          "paper + silver / g", "by", "remark")  # fmt: skip


def readings(step_g: float, groups: int, trials: int) -> Iterator[tuple[str, ...]]:
    """Yield the rows of an invented class, as text, with two more columns."""
    rng = np.random.default_rng(3)
    shape = (groups, trials)
    tables = weighed(rng, rng.uniform(0.05, 0.6, shape), 2.0, step_g, 0.5, shape)
    flat = (t.ravel().tolist() for t in tables)
    for place, row in enumerate(zip(*flat, strict=True)):
        group, trial = divmod(place, trials)
        yield f"g{group + 1}", str(trial + 1), *(text(x, step_g) for x in row), "x", ""


def write(path: Path, step_g: float, groups: int = GROUPS, trials: int = 1) -> None:
    """Write them as a text file."""
    with path.open("w", encoding="utf-8") as file:
        for row in (HEADER, *readings(step_g, groups, trials)):
            print(",".join(row), file=file)


def write_workbook(path: Path, step_g: float, groups: int, trials: int) -> None:
    """Write them as a workbook with the readings stored as numbers."""
    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet("class")
    shown = f"{step_g:f}".rstrip("0")
    sheet.append(HEADER)
    for row in readings(step_g, groups, trials):
        cells: list[object] = [row[0], int(row[1])]
        for one in row[2:6]:
            cell = WriteOnlyCell(sheet, float(one))
            cell.number_format = shown.replace("1", "0")
            cells.append(cell)
        sheet.append([*cells, "x"])
    book.save(path)


def _from_file(path: Path, step: float, groups: int, peer: str, repeats: int) -> list[Row]:
    """Return the rows of one file: time against the peer's, and the peak of memory."""
    runs, theirs = [], []
    for _ in range(repeats):
        runs.append([float(v) for v in fresh(_READ, str(path), str(step), str(groups)).split()])
        theirs.append(float(fresh(_XLSX if path.suffix == ".xlsx" else _CSV, str(path))))
    read, tested, total, peak = np.min(runs, axis=0).tolist()
    kind = path.suffix[1:].upper()
    label = f"{kind}, {groups:,} groups, {GROUPS // groups} rows each, 3 candidates, {step} g"
    note = f"reading {read:.2f} s, testing {tested:.2f} s of the processor (best of {repeats} each)"
    return [
        Row(f"{label}: read, test, sum up", peer, total, min(theirs), 0.6, True, "s", note),
        Row(f"{label}: peak of memory", "", peak, math.nan, 200, True, "MB"),
    ]


def rows(repeats: int = 5) -> list[Row]:
    """Measure; times are of the processor, the best of several counts."""
    out = []
    with tempfile.TemporaryDirectory() as folder:
        for step, trials in (*((step, 1) for step in STEPS), (0.01, 4)):
            path = Path(folder) / f"class-{step}-{trials}.csv"
            write(path, step, GROUPS // trials, trials)
            out += _from_file(path, step, GROUPS // trials, "csv and float", repeats)
        path = Path(folder) / "class.xlsx"
        write_workbook(path, 0.01, GROUPS // 4, 4)
        out += _from_file(path, 0.01, GROUPS // 4, "openpyxl, all cells", 2)
        path = Path(folder) / "hundred.csv"
        write(path, 0.01, 100)
        runs = [[float(v) for v in fresh(_WITHOUT, str(path)).split()] for _ in range(repeats)]
        ways = ("", " without each group in turn")
        for seconds, more in zip(np.min(runs, axis=0), ways, strict=True):
            label = "verdict of a class of 100 groups" + more
            out.append(Row(label, "", float(seconds), math.nan, 0.3, limit=True, unit="s"))
    return out


def main() -> str:
    return show("A class, in new processes", rows())


if __name__ == "__main__":
    print(main())
