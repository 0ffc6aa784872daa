"""Small labs (invented) that come to every kind of verdict, with every kind of trouble."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

from stoichkit import assess, experiments
from stoichkit.decision.evidence import Evidence
from stoichkit.experiments.looks import Looks
from stoichkit.experiments.parts import Prior, Trial, Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from tests.labs import REVERSED, crucible, lab, two

FINE = Balance(readability_g=0.01, repeatability_g=0.005)
COARSE = Balance(readability_g=0.1, repeatability_g=0.1)
DIGITS = Balance(readability_g=0.1, repeatability_g=0.0)
ONE = (2.94, 2.84, 0.75, 1.09)
SCATTERED = [(2.94, 2.84, 0.75, 1.09), (3.01, 2.90, 0.72, 1.01), (3.10, 2.99, 0.70, 1.13)]


def silver(**readings: str) -> Experiment:
    """Return the ready lab with readings of bench 3 changed."""
    made = experiments.load("copper-silver")
    for name, text in readings.items():
        made = made.with_reading("bench 3", name.replace("_plus_", " + ").replace("_", " "), text)
    return made


def _alike(change: Callable[[dict[str, str]], dict[str, str]]) -> Experiment:
    """Return the ready lab with the same change in every trial."""
    ready = experiments.load("copper-silver")
    rows = [{name: text for name, (text,) in t.readings.items()} for t in ready.trials]
    trials = zip(ready.trials, rows, strict=True)
    return ready.with_trials([Trial(t.name, {**row, **change(row)}) for t, row in trials])


ODD: dict[str, Callable[[], Experiment]] = {
    "none fits": lambda: lab([(2.94, 2.84, 0.75, 1.55)], FINE),
    "no upper limit": lambda: lab([(2.9, 2.8, 0.7, 1.1)], COARSE),
    "no lower limit": lambda: lab([(3.9, 2.8, 0.7, 0.9)], COARSE),
    "in pieces": lambda: lab([(2.3, 2.5, 0.7, 0.8)], COARSE, {"a": "1", "b": "2", "c": "3"}),
    "nothing read": lambda: lab([(2.9, 2.9, 0.7, 0.7)], COARSE),
    "less than nothing": lambda: lab([(2.94, 2.84, 0.95, 0.75)], FINE),
    "digits only": lambda: lab([(2.94, 2.84, 0.75, 1.55)], DIGITS),
    "one candidate": lambda: lab([ONE], FINE, {"copper(II)": "2"}),
    "one that fails": lambda: lab([ONE], FINE, {"copper(I)": "1"}),
    "recovery": lambda: lab([(2.94, 2.84, 0.75, 1.02)], FINE, recovery=(0.7, 0.9)),
    "excess scatter": lambda: lab(SCATTERED, FINE),
    "scatter and an allowance": lambda: lab(SCATTERED, FINE, recovery=(0.8, 1.0)),
    "many trials": lambda: lab([ONE] * 12, FINE),
    "strict": lambda: lab([ONE], FINE, coverage=0.9999),
    "reversed": lambda: lab(REVERSED),
    "reversed once": lambda: lab([ONE, (2.99, 2.88, 0.75, 1.12), REVERSED[0]], FINE),
    "drifting": lambda: crucible("22.7028", "22.7005", "22.6994"),
    "nothing shown": lambda: lab([(3.00, 2.98, 0.80, 0.80)]),
    "doubted": lambda: two((0.64, 0.31), (0.56, 0.30)),
    "unknown": lambda: two((0.64, 0.31), (0.56, 0.30), variation=Variation(unknown=True)),
    "stated": lambda: two((0.64, 0.34), (0.56, 0.30), variation=Variation(relative=0.02)),
    "seen": lambda: two(
        (0.64, 0.34), (0.56, 0.30), variation=Variation(relative=0.02, from_trials=5)
    ),
    "looks": lambda: replace(silver(), looks=Looks(planned=2, trials_each=2)),
    "looks before": lambda: replace(silver(), looks=Looks(before=2)),
    "prior": lambda: replace(silver(), prior=Prior({"copper(I)": 3}, none=0.1)),
    "transposed": lambda: silver(wire_before="1.34"),
    "decimal": lambda: silver(wire_before="31.4"),
    "unit": lambda: silver(wire_before="3140"),
    "off the grid": lambda: silver(wire_before="3.145"),
    "tared": lambda: silver(paper_plus_silver="0.39"),
    "outlying": lambda: silver(paper_plus_silver="1.32"),
    "columns swapped": lambda: _alike(
        lambda row: {"wire before": row["wire after"], "wire after": row["wire before"]}
    ),
    "wet": lambda: _alike(
        lambda row: {"paper + silver": f"{float(row['paper + silver']) + 0.06:.2f}"}
    ),
    "lossy": lambda: _alike(
        lambda row: {"paper + silver": f"{float(row['paper + silver']) - 0.08:.2f}"}
    ),
    "coarse, an allowance": lambda: replace(
        experiments.load("copper-silver-coarse"), recovery=(0.95, 1.0)
    ),
    "coarse, two trials": lambda: lab([(2.9, 2.7, 0.7, 1.3), (2.9, 2.6, 0.7, 1.7)], COARSE),
    "one vessel": lambda: replace(
        silver(), produced=replace(silver().produced, same_vessel=("paper",))
    ),
}  # fmt: skip
for _name in experiments.names():
    ODD[_name] = lambda name=_name: experiments.load(name)  # type: ignore[misc]


@cache
def experiment_of(name: str) -> Experiment:
    return ODD[name]()


@cache
def evidence_of(name: str) -> Evidence:
    """Return the evidence of one of these labs, which is only looked at."""
    return assess(experiment_of(name))
