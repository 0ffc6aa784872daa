"""Is the fault of a lab named in its line of diagnosis, and is a clean lab left alone?

Labs with one fault each are simulated reading by reading (true masses, repeatability of half a
display step, the display's rounding): a balance too coarse, two neighbouring digits of one reading
transposed, two columns in each other's place, 10 % of water in every product, a recovery that
varies by 3 % from trial to trial, and none. Each is counted by what ``Evidence.diagnosis`` says.

    python -m tests.studies.diagnosis                 # 300 of each kind, prints Markdown
    python -m tests.studies.diagnosis --labs 40
"""

from __future__ import annotations

import argparse
import random
import time
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from stoichkit import assess
from stoichkit.chemistry.candidates import Candidate
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.verdict import DiagnosisKind
from stoichkit.experiments.parts import Trial, Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.weighing import MassByDifference

READINGS = ("wire before", "wire after", "paper", "paper + product")
PAIRS = (("Cu", "Ag", ("1", "2")), ("Fe", "Cu", ("1", "3/2")), ("Sn", "Cu", ("1", "2")))
Row = dict[str, float]


@dataclass(frozen=True)
class Kind:
    """A kind of lab: its fault, the kind of diagnosis that names it, balance and masses."""

    name: str
    right: DiagnosisKind
    step_g: float = 0.01
    least_g: float = 0.4
    most_g: float = 1.2
    water: float = 0.0
    varies: float = 0.0
    unknown: bool = False
    slip: Callable[[list[dict[str, str]], random.Random], None] | None = None


def transpose(rows: list[dict[str, str]], draw: random.Random) -> None:
    """Transpose two neighbouring digits, which differ, of one reading."""
    places = [
        (row, name, i, j)
        for row in rows
        for name, text in row.items()
        for i, j in ((k, k + 1 + (text[k + 1 : k + 2] == ".")) for k in range(len(text)))
        if j < len(text) and text[i] != text[j] and "." not in (text[i], text[j])
    ]
    row, name, i, j = draw.choice(places)
    text = row[name]
    row[name] = text[:i] + text[j] + text[i + 1 : j] + text[i] + text[j + 1 :]


def swap_columns(rows: list[dict[str, str]], draw: random.Random) -> None:
    """Write two columns of the table in each other's place."""
    one, other = draw.choice((READINGS[:2], READINGS[2:]))
    for row in rows:
        row[one], row[other] = row[other], row[one]


CLEAR, LIMITED = DiagnosisKind.CLEAR, DiagnosisKind.LIMITED
SHIFTED, SCATTERED = DiagnosisKind.SHIFTED, DiagnosisKind.SCATTERED
MISTYPED = DiagnosisKind.MISTYPED
KINDS = (
    Kind("0.05 g to 0.15 g on a balance that reads to 0.1 g", LIMITED, 0.1, 0.05, 0.15),
    Kind("two digits transposed", MISTYPED, slip=transpose),
    Kind("two digits transposed, 0.001 g", MISTYPED, 0.001, slip=transpose),
    Kind("two columns swapped", MISTYPED, slip=swap_columns),
    Kind("10 % of water in every product", SHIFTED, water=0.10),
    Kind("10 % of water in every product, 0.001 g", SHIFTED, 0.001, water=0.10),
    Kind("10 % of water, 0.001 g, variation unknown", SHIFTED, 0.001, water=0.10, unknown=True),
    Kind("scatter of 3 %, 0.001 g", SCATTERED, 0.001, varies=0.03),
    Kind("scatter of 3 %, 0.01 g", SCATTERED, varies=0.03),
    Kind("clean", CLEAR),
    Kind("clean, 0.001 g", CLEAR, 0.001),
    Kind("clean, 0.001 g, variation unknown", CLEAR, 0.001, unknown=True),
    Kind("scatter of 0.3 %, 0.001 g, unknown", CLEAR, 0.001, varies=0.003, unknown=True),
)
ACCUSES = (MISTYPED, SHIFTED, SCATTERED, DiagnosisKind.CANNOT_BE_JUDGED)


def lab(kind: Kind, draw: random.Random) -> Experiment:
    """Return a simulated lab of 3 to 5 trials with the fault of its kind."""
    consumed, produced, ratios = draw.choice(PAIRS)
    truth = float(Candidate("x", draw.choice(ratios)).ratio)
    per_gram = truth * molar_mass_value(produced) / molar_mass_value(consumed)
    step = kind.step_g
    places = len(f"{step:g}".partition(".")[2])
    rows = []
    for _ in range(draw.randint(3, 5)):
        used = draw.uniform(kind.least_g, kind.most_g)
        made = used * per_gram * (1 + kind.water) * (1 + draw.gauss(0, kind.varies))
        wire, paper = draw.uniform(2, 4), draw.uniform(0.5, 1)
        true = (wire, wire - used, paper, paper + made)
        shown = [f"{round((m + draw.gauss(0, step / 2)) / step) * step:.{places}f}" for m in true]
        rows.append(dict(zip(READINGS, shown, strict=True)))
    if kind.slip is not None:
        kind.slip(rows, draw)
    return Experiment(
        title="A simulated lab",
        invented=True,
        instruments={"balance": Balance(readability_g=step, repeatability_g=step / 2)},
        consumed=MassByDifference(species=consumed, heavier=READINGS[0], lighter=READINGS[1]),
        produced=MassByDifference(species=produced, heavier=READINGS[3], lighter=READINGS[2]),
        candidates=[Candidate(f"ratio {r}", r) for r in ratios],
        trials=[Trial(f"{i}", row) for i, row in enumerate(rows, start=1)],
        variation=Variation(unknown=True) if kind.unknown else None,
    )


def counted(kind: Kind, labs: int, seed: int = 7) -> Counter[DiagnosisKind]:
    """Return how many labs of a kind get each diagnosis."""
    draw = random.Random(f"{seed} {kind.name}")
    return Counter(assess(lab(kind, draw)).diagnosis.kind for _ in range(labs))


def lines(labs: int) -> Iterator[str]:
    """Yield the record."""
    shown = [k for k in DiagnosisKind if k is not DiagnosisKind.NOT_CONSTANT]
    yield "| lab | named rightly % | accused % | " + " | ".join(shown) + " |"
    yield "|---" * (3 + len(shown)) + "|"
    for kind in KINDS:
        found = counted(kind, labs)
        right = 100 * found[kind.right] / labs
        accused = 100 * sum(found[one] for one in ACCUSES) / labs
        counts = " | ".join(str(found[one]) for one in shown)
        yield f"| {kind.name} | {right:.1f} | {accused:.1f} | {counts} |"


def main() -> None:
    """Print the record."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--labs", type=int, default=300)
    started = time.perf_counter()
    for line in lines(parser.parse_args().labs):
        print(line, flush=True)
    print(f"\nTook {time.perf_counter() - started:.0f} s.")


if __name__ == "__main__":
    main()
