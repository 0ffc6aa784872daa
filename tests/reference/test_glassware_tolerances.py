"""Tolerances of volumetric glassware by class, against the standards' tables.

Each row of ``tables/glassware.csv`` names the standard or the table, and whether it was read. A
kind, capacity or class that the table does not have fails.
"""

from __future__ import annotations

import pytest

from stoichkit.measurement.glassware import _rows, published_tolerance
from stoichkit.measurement.registry import make_instrument
from tests.reference.table import rows

TABLE = {
    (row["kind"], float(row["capacity_mL"]), glass_class): float(row[column])
    for row in rows("glassware")
    for glass_class, column in (("A", "a_mL"), ("B", "b_mL"))
}


def test_every_piece_has_a_row() -> None:
    assert {(row.kind, row.capacity_mL, row.glass_class) for row in _rows()} == set(TABLE)


@pytest.mark.parametrize("piece", TABLE, ids=lambda piece: f"{piece[0]} {piece[1]:g} {piece[2]}")
def test_the_tolerance(piece: tuple[str, float, str]) -> None:
    kind, capacity_mL, glass_class = piece
    assert published_tolerance(*piece).tolerance_mL == TABLE[piece]
    marks = {"graduation_mL": 20.0} if (kind, capacity_mL) == ("cylinder", 2000.0) else {}
    made = make_instrument(kind, capacity_mL=capacity_mL, glass_class=glass_class, **marks)
    assert made.tolerance == TABLE[piece]  # type: ignore[attr-defined]


GRADUATIONS = {
    ("cylinder", 5, "AB"): {0.1}, ("cylinder", 10, "AB"): {0.1, 0.2},
    ("cylinder", 25, "AB"): {0.2, 0.5}, ("cylinder", 50, "AB"): {1}, ("cylinder", 100, "AB"): {1},
    ("cylinder", 250, "AB"): {2}, ("cylinder", 500, "AB"): {5}, ("cylinder", 1000, "AB"): {10},
    ("burette", 50, "AB"): {0.1}, ("burette", 100, "AB"): {0.2}, ("burette", 10, "A"): {0.02, 0.05},
    ("burette", 10, "B"): {0.05}, ("burette", 25, "A"): {0.05, 0.1}, ("burette", 25, "B"): {0.1},
}  # fmt: skip
"""Smallest divisions in mL: ASTM E1272-02(2012), table 1; ISO 385 (memory)."""


def test_the_divisions_of_what_is_read() -> None:
    marked = {}
    for row in _rows():
        if row.graduation_mL is not None:
            key = row.kind, row.capacity_mL, row.glass_class
            marked.setdefault(key, set()).add(row.graduation_mL)
    assert marked == {
        (kind, capacity, one): found
        for (kind, capacity, classes), found in GRADUATIONS.items()
        for one in classes
    }
