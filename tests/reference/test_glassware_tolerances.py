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


PRINTED = {
    ("ISO 4788", "cylinder", "A"): {
        5: 0.05, 10: 0.10, 25: 0.25, 50: 0.5, 100: 0.5, 250: 1, 500: 2.5, 1000: 5, 2000: 10,
    },
    ("ISO 1042", "flask", "A"): {
        5: 0.025, 10: 0.025, 20: 0.04, 25: 0.04, 50: 0.06, 100: 0.10, 200: 0.15, 250: 0.15,
        500: 0.25, 1000: 0.40,
    },
    ("ISO 648", "pipette", "A"): {1: 0.008, 5: 0.015, 10: 0.02, 25: 0.03},
    ("ASTM E969", "pipette", "A"): {1: 0.006, 5: 0.01, 10: 0.02, 25: 0.03, 50: 0.05, 100: 0.08},
    ("ASTM E288", "flask", "A"): {10: 0.02, 500: 0.20},
    ("analytical-chemistry textbook", "flask", "A"): {
        25: 0.03, 50: 0.05, 100: 0.08, 250: 0.12, 500: 0.15, 1000: 0.30, 2000: 0.50,
    },
    ("Illustrated Guide", "cylinder", "A"): {
        10: 0.08, 25: 0.14, 50: 0.20, 100: 0.35, 250: 0.65, 500: 1.10, 1000: 2.00,
    },
    ("Illustrated Guide", "cylinder", "B"): {
        10: 0.1, 25: 0.3, 50: 0.4, 100: 0.6, 250: 1.4, 500: 2.6, 1000: 5.0, 2000: 10.0,
    },
}  # fmt: skip
"""Tolerances in mL of each document, those that another outranks too; the last three and ASTM E969
as the table names them, the others from memory. Class B has twice those of class A."""


@pytest.mark.parametrize("document", PRINTED, ids=lambda key: f"{key[0]} {key[1]} {key[2]}")
def test_each_document_says_so(document: tuple[str, str, str]) -> None:
    start, kind, glass_class = document

    def of(one: str) -> dict[float, float]:
        return {
            row.capacity_mL: row.tolerance_mL
            for row in _rows()
            if row.source.startswith(start) and (row.kind, row.glass_class) == (kind, one)
        }

    assert of(glass_class) == PRINTED[document]
    if glass_class == "A" and (start, kind, "B") not in PRINTED:
        assert of("B") in ({}, {size: 2 * mL for size, mL in PRINTED[document].items()})
