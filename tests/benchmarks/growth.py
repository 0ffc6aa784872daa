"""One lab, its report, and how the time grows with trials, candidates and groups."""

from __future__ import annotations

import math
from functools import partial

import numpy as np

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.measurement.displays import Balance
from stoichkit.reports.lab import lab_report
from tests.labs import lab

from .evidence import ours, tables
from .measure import Row, best, exponent, show


def _record(trials: int, candidates: int = 3) -> object:
    ratios = {f"candidate {i}": f"{i}/4" for i in range(1, candidates + 1)}
    readings = tables(0.01, 1, trials)
    return lab(np.column_stack([t[0] for t in readings]), Balance(readability_g=0.01), ratios)


def _grown(label: str, sizes: list[int], ways: list, most: float) -> Row:
    for way in ways:
        way()  # tables that are kept are made
    seconds = best(*ways, repeats=5)
    note = ", ".join(f"{n:,}: {t * 1e3:.3g} ms" for n, t in zip(sizes, seconds, strict=True))
    return Row(label, "", exponent(sizes, seconds), math.nan, most, True, "power", note)


def rows() -> list[Row]:
    experiment = experiments.load("copper-silver")
    evidence = assess(experiment)
    lab_report(evidence).text()
    one, words = best(
        lambda: assess(experiment), lambda: lab_report(assess(experiment)).text(), inner=3
    )
    out = [
        Row("assess() of one lab of four trials", "", one * 1e3, math.nan, 20, True, "ms"),
        Row("assess() and lab_report().text()", "", words * 1e3, math.nan, 200, True, "ms"),
    ]
    sizes = [4, 8, 16, 32, 64]
    ways = [partial(assess, _record(n)) for n in sizes]
    out.append(_grown("assess(): growth with trials", sizes, ways, 1.1))
    sizes = [2, 4, 8, 16, 32]
    ways = [partial(assess, _record(4, n)) for n in sizes]
    out.append(_grown("assess(): growth with candidates", sizes, ways, 1.1))
    sizes = [10_000, 20_000, 40_000, 80_000, 160_000]
    ratios = {"copper(I)": "1", "copper(II)": "2", "copper(III)": "3"}
    ways = [partial(ours, tables(0.01, n), 0.01, ratios) for n in sizes]
    out.append(_grown("assess_weighings(): growth with groups", sizes, ways, 1.1))
    return out


def main() -> str:
    return show("One lab, and growth", rows())


if __name__ == "__main__":
    print(main())
