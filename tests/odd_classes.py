"""Small classes (invented) that come to every kind of verdict, with every kind of trouble."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

from stoichkit import assess_class, experiments, load_class
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.result import ClassResult
from stoichkit.experiments.parts import Variation
from stoichkit.experiments.record import Experiment
from stoichkit.measurement.displays import Balance
from tests.classfiles import HEADER, ROWS, class_bytes, csv_bytes
from tests.labs import ROLES, lab

SILVER = experiments.load("copper-silver")
COARSE = experiments.load("copper-silver-coarse")
COPPER, SILVER_MASS = 63.546, 107.868  # g/mol, general knowledge of the trade


def drawn(
    seed: int,
    *,
    ratio: float = 2.0,
    groups: int = 4,
    step: float = 0.01,
    gain: float = 0.0,
    scatter: float = 0.02,
    ratios: dict[str, str] | None = None,
    **fields: Any,
) -> ClassData:
    """Return a class drawn from a seed, with a gain of product and a scatter of the groups."""
    draw = random.Random(seed)
    lines = [",".join(("group", *ROLES))]
    for number in range(groups):
        used = draw.uniform(5, 40) * step
        made = (used / COPPER * ratio * SILVER_MASS + gain) * draw.gauss(1, scatter)
        masses = (6.0, 6.0 - used, 9.0, 9.0 + made)
        shown = [f"{round(m / step + draw.gauss(0, 0.5)) * step:.3f}" for m in masses]
        lines.append(",".join((f"g{number + 1}", *shown)))
    record = lab(
        [(3.0, 2.9, 0.7, 1.0)],
        Balance(readability_g=step),
        ratios or {"copper(I)": "1", "copper(II)": "2"},
        **fields,
    )
    return load_class("\n".join(lines).encode(), record)


def changed(place: tuple[int, int], text: str) -> bytes:
    rows = [list(row) for row in ROWS]
    rows[place[0]][place[1]] = text
    return csv_bytes(rows)


def with_balances() -> bytes:
    steps = ("0.01 g", "0.01 g", "0.1 g", "0.1 g", "0.01 g")
    rows = [(*row, step) for row, step in zip(ROWS, steps, strict=True)]
    return csv_bytes(rows, (*HEADER, "balance"))


def _of(record: Experiment, rows: list[str], roles: tuple[str, ...]) -> ClassData:
    return load_class("\n".join([",".join(("group", "trial", *roles)), *rows]).encode(), record)


def gas() -> ClassData:
    rows = [
        "red,1,0.031,31.2,21.4,100.8", "red,2,0.028,28.4,21.4,100.8",
        "blue,1,0.033,33.8,21.4,100.8", "green,1,0.025,25.0,21.4,100.8",
    ]  # fmt: skip
    record = experiments.load("magnesium-gas")
    return _of(record, rows, ("ribbon", "gas volume", "room temperature", "room pressure"))


def crystals() -> ClassData:
    rows = ["red,1,19.88,22.52,21.18", "blue,1,21.36,24.62,22.96", "green,1,21.95,25.82,23.84"]
    record = experiments.load("hydrate-heating")
    return _of(record, rows, ("crucible", "crucible + crystals", "crucible + residue"))


DATA: dict[str, Callable[[], ClassData]] = {
    "five rows": lambda: load_class(csv_bytes(), SILVER),
    "ready": lambda: load_class(experiments.class_file(), SILVER),
    "ready, coded": lambda: load_class(experiments.class_file(), SILVER, codes=True),
    "one group": lambda: load_class(csv_bytes(ROWS[:2]), SILVER),
    "a slip": lambda: load_class(changed((2, 2), "3.41"), SILVER),
    "a gap": lambda: load_class(changed((1, 3), ""), SILVER),
    "coarse": lambda: load_class(csv_bytes(), COARSE),
    "two balances": lambda: load_class(with_balances(), SILVER),
    "a constant gain": lambda: load_class(class_bytes(9, gain_g=0.08), SILVER),
    "many": lambda: load_class(class_bytes(14), SILVER),
    "settled": lambda: drawn(1),
    "not settled": lambda: drawn(2, step=0.1, scatter=0.1, ratio=1.5),
    "none fits": lambda: drawn(3, ratio=1.5, scatter=0.005, groups=6),
    "groups differ": lambda: drawn(4, scatter=0.25, groups=6),
    "one candidate": lambda: drawn(5, ratios={"copper(II)": "2"}),
    "one that fails": lambda: drawn(5, ratios={"copper(I)": "1"}),
    "six candidates": lambda: drawn(
        6, ratios={"a": "1", "b": "6/5", "c": "4/3", "d": "3/2", "e": "2", "f": "3"}
    ),
    "below zero": lambda: drawn(7, ratio=-2.0),
    "next to nothing": lambda: drawn(8, ratio=0.0),
    "recovery": lambda: drawn(9, ratio=1.7, recovery=(0.7, 1.0)),
    "variation": lambda: drawn(10, variation=Variation(relative=0.05)),
    "variation, unknown": lambda: drawn(11, variation=Variation(unknown=True)),
    "between groups": lambda: drawn(12, scatter=0.1, between_groups=Variation(relative=0.1)),
    "wet": lambda: drawn(20, ratio=2.5, scatter=0.003, groups=8),
    "lossy": lambda: drawn(21, ratio=1.6, scatter=0.003, groups=8),
    "two groups": lambda: drawn(13, groups=2),
    "stray": lambda: drawn(
        16, ratios={"copper(I)": "1", "copper(II)": "2"}, groups=7, scatter=0.06
    ),
    "gas": gas,
    "crystals": crystals,
    "one vessel": lambda: load_class(
        csv_bytes(), replace(SILVER, produced=replace(SILVER.produced, same_vessel=("paper",)))
    ),
}


@cache
def data_of(name: str) -> ClassData:
    return DATA[name]()


@cache
def result_of(name: str) -> ClassResult:
    """Return the result of one of these classes, which is only looked at."""
    return assess_class(data_of(name))
