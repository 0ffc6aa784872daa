"""A verdict in a new process, of a long lab, and of a large class with one shared weighing.

Peer: ``uncertainties``, which propagates the same readings to the mean ratio and its uncertainty;
it tests no candidate and finds no interval.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace
from itertools import cycle
from typing import Any

from uncertainties import ufloat

from stoichkit import experiments
from stoichkit.chemistry.elements import molar_mass
from stoichkit.classroom.amounts import joined
from stoichkit.classroom.data import load_class
from stoichkit.classroom.verdict import class_verdict
from stoichkit.decision.evidence import assess
from stoichkit.experiments.record import Experiment
from stoichkit.uncertainty.sources import nominal, standard_uncertainty

from .measure import Row, best, process, show

TRIALS, GROUPS, PAPER = 60, 200, "0.70"
U_G = 0.01 / math.sqrt(12)

_VERDICT = """
import sys
from stoichkit import assess, experiments
print(assess(experiments.load(sys.argv[1])).verdict)
"""
_PEER = """
import math
import numpy
from uncertainties import ufloat
copper, silver = ufloat(63.546, 0.002), ufloat(107.8682, 0.0002)
rows = [(2.94, 2.82, 0.75, 1.15), (3.19, 3.09, 0.70, 1.06), (3.14, 3.03, 0.73, 1.12)]
rows = [[ufloat(x, 0.01 / math.sqrt(12)) for x in row] for row in rows]
print(sum((d - c) / silver for a, b, c, d in rows) / sum((a - b) / copper for a, b, c, d in rows))
"""


def _mean_ratio(pairs: Any, molar: Any) -> float:
    """Return the standard uncertainty of the ratio of the mean amounts of pairs of masses."""
    one, two = (ufloat(nominal(m), standard_uncertainty(m)) for m in molar)
    consumed, produced = zip(*pairs, strict=True)
    return float((sum(produced) / two / (sum(consumed) / one)).std_dev)


def _weighed(*texts: str) -> list[Any]:
    return [ufloat(float(text), U_G) for text in texts]


def long_lab() -> tuple[Experiment, Any]:
    """Return the hydrate lab with 60 trials, and the same readings for the peer."""
    lab = experiments.load("hydrate-heating")
    trials = [replace(t, name=str(i)) for i, t in zip(range(TRIALS), cycle(lab.trials))]
    names = lab.consumed.span.low, lab.consumed.span.high, lab.produced.span.high

    def theirs() -> float:
        pairs = []
        for trial in trials:
            dish, salt, hydrate = _weighed(*(trial.readings[name][-1] for name in names))
            pairs.append((salt - dish, hydrate - salt))
        return _mean_ratio(pairs, (molar_mass("CuSO4"), molar_mass("H2O")))

    return lab.with_trials(trials), theirs


def shared_class() -> tuple[Any, Any]:
    """Return a class of 200 groups whose paper was weighed once, and the same for the peer."""
    chance = random.Random(5)
    lab = experiments.load("copper-silver")
    without = [
        replace(t, readings={n: v for n, v in t.readings.items() if n != "paper"})
        for t in lab.trials
    ]
    lab = replace(lab, trials=tuple(without), shared_readings={"paper": (PAPER,)})
    rows = []
    for _ in range(GROUPS):
        wire, copper = chance.uniform(2.9, 3.3), chance.uniform(0.08, 0.3)
        silver = copper / 63.546 * 2 * 107.868
        masses = (wire, wire - copper, float(PAPER) + silver)
        rows.append([f"{m + chance.gauss(0, 0.004):.2f}" for m in masses])
    lines = [f"g{i},1,{','.join(row)}" for i, row in enumerate(rows)]
    head = "group,trial,wire before / g,wire after / g,paper + silver / g"
    data = load_class("\n".join([head, *lines]).encode(), lab)

    def theirs() -> float:
        (paper,) = _weighed(PAPER)
        found = [_weighed(*row) for row in rows]
        pairs = [(before - after, gross - paper) for before, after, gross in found]
        return _mean_ratio(pairs, (molar_mass("Cu"), molar_mass("Ag")))

    return data, theirs


def rows(repeats: int = 7) -> list[Row]:
    """Measure; processes take turns, the best of several counts."""
    out = []
    runs = [(process(_VERDICT, "copper-silver"), process(_PEER)) for _ in range(repeats)]
    for place, what in enumerate(("wall", "processor")):
        mine, theirs = (min(run[side][place] for run in runs) for side in (0, 1))
        label = f"new process that loads a ready lab and prints its verdict, {what}"
        peer = "new process: NumPy, uncertainties, three trials"
        out.append(Row(label, peer, mine * 1e3, theirs * 1e3, math.nan, unit="ms"))
    lab, peer_of_lab = long_lab()
    mine, theirs = best(lambda: assess(lab), peer_of_lab)
    label = f"assess() of the hydrate lab, {TRIALS} trials"
    out.append(Row(label, "uncertainties", mine * 1e3, theirs * 1e3, math.nan, unit="ms"))
    data, peer_of_class = shared_class()
    groups = dict(data.groups)
    mine, theirs = best(lambda: class_verdict(joined(groups)), peer_of_class, repeats=3)
    label = f"verdict of a class of {GROUPS} with one shared weighing"
    out.append(Row(label, "uncertainties", mine * 1e3, theirs * 1e3, math.nan, unit="ms"))
    return out


def main() -> str:
    return show("Verdicts of one process, one long lab, one large class", rows())


if __name__ == "__main__":
    print(main())
