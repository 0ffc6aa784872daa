"""What becomes of rows that contradict each other or wait, and in which order it is told."""

from __future__ import annotations

from dataclasses import replace

import pytest

from stoichkit import assess_class, experiments, load_class
from stoichkit.classroom.choices import Choices
from stoichkit.classroom.rows import read_rows
from stoichkit.classroom.sheets import parts_of
from stoichkit.classroom.tables import read_table
from stoichkit.errors import DataFileError
from stoichkit.experiments.store import parse_experiment
from tests.classfiles import HEADER, ROWS, csv_bytes

LAB = experiments.load("copper-silver")
HEAD = ",".join(HEADER)
TITRATED = """
title = "How many acid groups has the solid acid?"
invented = true

[instruments.balance]
kind = "balance"
readability_g = 0.001

[instruments.burette]
kind = "burette"
capacity_mL = 50
tolerance_mL = 0.05
resolution_mL = 0.01

[instruments."25 mL pipette"]
kind = "pipette"
capacity_mL = 25
tolerance_mL = 0.03

[consumed]
kind = "mass by difference"
species = "C6H8O7"
heavier = "crystals"

[produced]
kind = "solution"
species = "OH^-"
final = "after"
initial = "before"

[produced.concentration]
kind = "titrated"
name = "alkali"
titrant = "acid"
titrant_mol_per_L = 0.1
final = "acid after"
aliquot = "25 mL pipette"

[candidates.ratios]
"diprotic" = 2
"triprotic" = 3

[shared]
"acid after" = "24.32"

[[trials]]
name = "1"
crystals = "0.128"
before = "1.20"
after = "21.75"
"""


def test_what_is_read_once_is_that_of_the_first_row_of_its_group() -> None:
    """The alkali is titrated once: a row of the group with another reading of it is set aside."""
    text = """group,trial,crystals / g,before / mL,after / mL,acid after / mL
red,1,0.128,1.20,21.75,24.30
red,2,0.131,1.00,22.01,24.40
red,3,0.127,0.80,21.18,24.30
blue,1,0.130,1.10,21.95,
blue,2,0.126,1.30,21.52,24.50
blue,3,0.129,0.90,21.59,24.60
teal,1,none,1.10,21.95,24.10
teal,2,none,1.10,21.95,24.20
teal,3,0.129,0.90,21.59,24.20
"""
    data = load_class(text.encode(), parse_experiment(TITRATED))
    assert {name: [t.name for t in one.trials] for name, one in data.groups.items()} == {
        "red": ["1", "3"], "blue": ["1", "2"], "teal": ["3"],
    }  # fmt: skip
    told = [p for p in data.problems if p.text.startswith("This is read once for all trials")]
    assert [(p.row, p.given, p.allowed) for p in told] == [
        (3, "24.40", "24.3, as in the first row of the group"),
        (7, "24.60", "24.5, as in the first row of the group"),
    ]
    assert told[0].column == "F (acid after / mL)"


def test_what_is_about_the_whole_file_is_told_before_its_first_row() -> None:
    """A stray quotation mark in the header, row 1, is met before what its columns are."""
    lines = [f'{HEAD},"no"te', *(",".join((*row, "x")) for row in ROWS)]
    data = load_class("\n".join(lines).encode(), LAB)
    assert [(p.row, p.text.split()[0]) for p in data.problems] == [(None, "The"), (1, "A")]


def test_what_is_about_no_sheet_is_told_with_the_first() -> None:
    """A name written in two ways is found only after the cells, of which one is no number."""
    one = [("red", "1", "2.94", "2.82", "0.75", "1.15"), ("red", "2", "2.94", "2.8", "O.7", "1.1")]
    other = [("Red", "3", "3.14", "3.03", "0.73", "1.12")]
    sheets = {"Monday": one, "Tuesday": other}
    found = [replace(read_table(csv_bytes(r)), sheet=s) for s, r in sheets.items()]
    parts, _ = parts_of(found, LAB, None, Choices(sheets=tuple(sheets)), codes=False)
    told = read_rows(parts, LAB).problems
    assert [(p.sheet, p.row) for p in told] == [("", None), ("Monday", 3)]


def test_with_codes_nothing_is_kept_of_the_names() -> None:
    """What a column says of a balance may be whose it is."""
    lines = (f"{HEAD},balance", "marigold,1,2.94,2.82,0.75,1.15,0.01 g marigold")
    plain, coded = (load_class("\n".join(lines).encode(), LAB, codes=c) for c in (False, True))
    assert dict(plain.balances) == {("marigold", "1"): "0.01 g marigold"}
    assert dict(coded.balances) == {}
    assert "marigold" in repr(plain._rows)
    assert "marigold" not in repr(coded.without_key()._rows)


@pytest.mark.parametrize(
    ("rows", "given", "answer"),
    [
        (("red,1,2.94,2.82,0.75,1.15,A", "blue,1,3.14,3.03,0.73,1.12,B"),
         "1 open question, the first: balance:G.", "balance:G=as the record says"),
        (("red,1,2.94,2.82,750,1150", "blue,1,3.14,3.03,730,1120"),
         "2 open questions, the first: scale:F.", "scale:F=1000 times smaller"),
    ],
)  # fmt: skip
def test_where_all_rows_wait_the_questions_are_counted(
    rows: tuple[str, ...], given: str, answer: str
) -> None:
    """Which balances, of one column; which unit, of each of two."""
    text = "\n".join((f"{HEAD},balance", *rows))
    with pytest.raises(DataFileError, match="All 2 rows of readings wait for an answer") as caught:
        assess_class(text.encode(), LAB)
    assert f"Given: {given}" in str(caught.value)
    assert str(caught.value).endswith(f"or with --answer “{answer}”.")
