"""What a sheet is besides its cells, how its numbers are written, and tables of other shapes."""

from __future__ import annotations

from collections import Counter
from typing import Any

import openpyxl
import pytest

from stoichkit import experiments, load_class
from stoichkit.classroom.shapes import _bare, _turned
from stoichkit.classroom.tables import (
    CellRows,
    Problem,
    TextTable,
    _decoded,
    _delimiter,
    _index_of,
    _Looks,
    _number_text,
    _remarks,
    _shown_as,
    _swallowed,
    column_letter,
    read_table,
)
from stoichkit.errors import DataFileError
from tests.classfiles import HEADER, ROWS, saved

LAB = experiments.load("copper-silver")
ROLES: Any = {role.name: role for role in LAB.roles()}
NAMES = list(ROLES)


def looks(*tags: bytes) -> _Looks:
    found = _Looks()
    for tag in tags:
        found.note(tag)
    return found


@pytest.mark.parametrize(
    ("letters", "index"),
    [("A", 0), ("B", 1), ("Z", 25), ("AA", 26), ("AZ", 51), ("BA", 52), ("ZZ", 701), ("AAA", 702)],
)
def test_columns_are_counted_from_a(letters: str, index: int) -> None:
    """26 with one letter, 26² = 676 with two: 702 before AAA."""
    assert column_letter(index) == letters
    assert _index_of(letters.encode()) == index


def test_hidden_columns_are_a_span() -> None:
    """Columns are numbered from 1 in a workbook (ECMA-376, SpreadsheetML; from memory)."""
    assert looks(b'<cols><col min="2" max="4" hidden="1"/></cols>').hidden_columns == {1, 2, 3}
    assert looks(b'<col min="1" max="1" hidden="true"/>').hidden_columns == {0}
    assert looks(b'<col min="3" hidden="1"/>').hidden_columns == {2}
    assert looks(b'<col max="3" hidden="1"/>').hidden_columns == set()
    assert looks(b'<col min="2" max="4"/><col min="6" hidden="0"/>').hidden_columns == set()
    assert looks(b'<col min="999" max="16384" hidden="1"/>').hidden_columns == {998, 999}
    both = looks(b'<col min="1" hidden="1"/>', b'<col min="3" hidden="1"/>')
    assert both.hidden_columns == {0, 2}


def test_hidden_rows_are_numbered_as_in_the_sheet() -> None:
    assert looks(b'<row r="7" hidden="1">', b'<row r="9" hidden="true">').hidden_rows == {7, 9}
    assert looks(b'<row r="7" hidden="0"><row r="8">').hidden_rows == set()
    assert looks(b'<row hidden="1">').hidden_rows == set()


def test_merged_cells_are_kept_by_their_corners() -> None:
    assert looks(b'<mergeCell ref="B3:D4"/>').merged == [(2, 1, 3, 3)]
    assert looks(b'<x:mergeCell ref="$AA$10:$AB$12"/>').merged == [(9, 26, 11, 27)]
    many = looks(*[b'<mergeCell ref="A1:B1"/>'] * 1999)
    many.note(b'<mergeCell ref="A1:B2"/><mergeCell ref="A1:B9"/>')
    assert len(many.merged) == 2000
    assert many.merged[-1] == (0, 0, 1, 1)


def test_formulas_are_seen_once_for_all() -> None:
    for tag in (b"<f>1</f>", b'<f t="shared">', b"<f/>"):
        assert looks(tag).formulas
        assert looks(tag, b"<c/>").formulas
    assert not looks(b"<font>", b"<c/>").formulas


@pytest.mark.parametrize(
    ("number_format", "how"),
    [
        ("0", ".0f"), ("0.0", ".1f"), ("#,##0.00", ".2f"), ('0.000" g"', ".3f"),
        ("0.00;-0.00", ".2f"),
        ("0E+00", ".0e"), ("0.00E+00", ".2e"), ("0.0%", "%"), ("0%", "%"), ("General", ""),
        ("dd.mm.yyyy", ""), ("?/?", ""),
    ],
)  # fmt: skip
def test_a_number_format_says_how_many_decimals_are_shown(number_format: str, how: str) -> None:
    assert _shown_as(number_format) == how


def test_a_number_is_written_as_it_is_shown_or_with_all_that_is_stored() -> None:
    assert _number_text(2.9, "0.00") == ("2.90", "kept")
    assert _number_text(2.9, "General") == ("2.9", "lost")
    assert _number_text(2.905, "0.00") == ("2.905", "longer")
    assert _number_text(-2.905, "0.00") == ("-2.905", "longer")
    assert _number_text(2.9 + 2e-9, "0.00") == ("2.90", "kept")  # 0.7 parts in 10⁹
    assert _number_text(2.9 + 4e-9, "0.00") == ("2.900000004", "longer")  # 1.4 parts in 10⁹
    assert _number_text(0.125, "0.0%") == ("12.5 %", "kept")
    assert _number_text(0.1 + 0.2, "General") == ("0.3", "lost")  # to fifteen figures
    assert _number_text(1200.0, "0.0E+00") == ("1.2e+03", "kept")


def test_what_is_odd_about_numbers_is_told_by_column() -> None:
    lost, longer, none = Counter({2: 3, 1: 4}), Counter({0: 5}), Counter[int]()
    found = list(_remarks(lost, longer, []))
    assert [(one.column, one.text.partition(" ")[0]) for one in found] == [
        ("B", "4"), ("C", "3"), ("A", "5"),
    ]  # fmt: skip
    dates = [(n, 1, f"day {n}") for n in range(1, 26)]
    told = list(_remarks(none, none, dates))
    assert [(one.row, one.column, one.given) for one in told] == [
        (n, "B", f"day {n}") for n in range(1, 21)
    ]


def test_zeros_in_a_quarter_of_the_first_bytes_mean_two_bytes_a_character() -> None:
    """UTF-16 of plain letters has a zero in every second byte."""
    for codec in ("utf-16-le", "utf-16-be"):
        assert _decoded("group;paper".encode(codec)) == ("group;paper", "UTF-16", [])
    assert _decoded(b"abc\x00")[1] == "UTF-8"  # just a quarter
    assert _decoded(b"ab\x00d\x00f")[1] == "UTF-16"  # a third
    late = b"a" * 4000 + b"\x00" * 4000
    assert _decoded(late)[1] == "UTF-8"
    assert _decoded(b"a" * 2999 + b"\x00" * 1001 + b"aa")[1] == "UTF-16"
    assert _decoded(b"a" * 3000 + b"\x00" * 1000 + b"aa")[1] == "UTF-8"


def test_the_mark_splits_names_and_no_other_mark() -> None:
    assert _delimiter(["group;wire, before;paper\n"]) == ";"
    assert _delimiter(["group|wire|paper\n"]) == "|"
    assert _delimiter(["group\twire\n", "red\t2,94\n"]) == "\t"
    assert _delimiter(["a,b;c,d\n"]) == ","
    assert _delimiter(["1;2,5\n", "3;4,5\n", "5;6,5\n"]) in ";,"
    assert _delimiter([]) == ","
    assert _delimiter(["\n", " \n"]) == ","
    late = ["1\n"] * 59
    assert _delimiter([*late, "group;wire\n"]) == ";"
    assert _delimiter([*late, "1\n", "group;wire\n"]) == "\t"  # the sixty-first is not looked at


def test_a_cell_of_several_rows_was_swallowed() -> None:
    assert _swallowed(["a\nb;c;d"], ";")
    assert not _swallowed(["a\nb;c"], ";")
    assert not _swallowed(["a;b;c"], ";")


def test_places_are_told_from_the_sheet_down() -> None:
    assert Problem(7, "C", "Odd.", sheet="Monday", part="trial 2").place == (
        "sheet “Monday”, row 7, trial 2, column C"
    )
    assert Problem(None, "", "Odd.").place == "file"
    assert str(Problem(None, "", "Odd.", "a", "b", "Left out.")) == (
        "File: Odd. Given: a. Allowed: b. Left out."
    )
    assert str(Problem(None, "", "Odd.")) == "File: Odd."


def test_rows_are_equal_by_their_cells_and_their_ends() -> None:
    rows = CellRows.of([("a", "b"), ("c",)])
    assert rows == CellRows.of([("a", "b"), ("c",)])
    assert rows != CellRows.of([("a",), ("b", "c")])
    assert rows != CellRows.of([("a", "b"), ("d",)])
    assert rows == (("a", "b"), ("c",))
    assert rows != [("a", "b"), ("c",)]


def test_columns_of_even_and_of_uneven_rows() -> None:
    even = CellRows.of([("a", "b"), ("c", "d")])
    assert [even.column(n) for n in (0, 1, 2)] == [["a", "c"], ["b", "d"], ["", ""]]
    assert (even.column(0, first=1), even.column(0, first=2)) == (["c"], [])
    uneven = CellRows.of([("a",), ("b", "c"), ()])
    assert [uneven.column(n) for n in (0, 1, 2)] == [["a", "b", ""], ["", "c", ""], ["", "", ""]]
    assert uneven.column(1, first=1) == ["c", ""]
    assert (uneven.width, uneven.lengths.tolist(), CellRows.of([]).width) == (2, [1, 2, 0], 0)


# Shapes


def turned(trials: int, *, above: int = 0) -> Any:
    """Return what is made of a table with one column a trial, its names in the first column."""
    lines = [["x"] * (trials + 1) for _ in range(above)]
    lines += [[name, *["2.90"] * trials] for name in NAMES]
    return _turned(TextTable("", "CSV", CellRows.of(lines)), ROLES, NAMES)


def test_a_table_of_up_to_a_thousand_columns_is_turned() -> None:
    rows, origins, places = turned(2)
    assert rows.rows[0] == tuple(NAMES)
    assert rows.rows[1] == ("2.90",) * len(NAMES)
    assert origins == ((None, "column A"), (None, "column B"), (None, "column C"))
    assert places == tuple(f"row {n}" for n in range(1, len(NAMES) + 1))
    assert turned(999) is not None
    assert turned(1000) is None
    assert turned(0) is None  # nothing but names
    assert turned(1, above=1000 - len(NAMES)) is not None
    assert turned(1, above=1001 - len(NAMES)) is None


@pytest.mark.parametrize(("before", "found"), [(4, True), (5, False)])
def test_the_names_stand_in_one_of_the_first_five_columns(before: int, found: bool) -> None:
    lines = [["x"] * before + [name, "2.90"] for name in NAMES]
    made = _turned(TextTable("", "CSV", CellRows.of(lines)), ROLES, NAMES)
    assert (made is not None) is found


def test_what_is_hidden_is_turned_too() -> None:
    """Column B becomes the second row, numbered from 1; row 3 the third column, from 0."""
    lines = [[name, "2.90"] for name in NAMES]
    table = TextTable(
        "", "XLSX", CellRows.of(lines), hidden_rows=frozenset({3}), hidden_columns=frozenset({1})
    )
    made = _turned(table, ROLES, NAMES)
    assert made is not None
    assert made[0].hidden_rows == {2}
    assert made[0].hidden_columns == {2}


def bare(*lines: list[str]) -> dict[str, str] | None:
    return _bare(TextTable("", "CSV", CellRows.of(lines)), ROLES, NAMES)


def test_columns_without_a_header_are_taken_in_their_order() -> None:
    numbers = [f"2.9{n}" for n in range(len(NAMES))]
    letters = dict(zip(NAMES, "BCDE", strict=True))
    assert bare(["red", *numbers], ["blue", *numbers]) == {"group": "A", **letters}
    assert bare(numbers) == dict(zip(NAMES, "ABCD", strict=True))
    assert bare(["red", "1", *numbers]) == {
        "group": "A", "trial": "B", **dict(zip(NAMES, "CDEF", strict=True)),
    }  # fmt: skip
    assert bare(["999", *numbers]) is not None
    assert bare(["1000", *numbers]) is None  # no number of a trial
    assert bare(numbers[:-1]) is None
    assert bare() is None
    ten = [["red", *numbers] for _ in range(9)]
    assert bare(*ten, ["blue", "odd", *numbers[1:]]) is not None  # nine of ten are numbers
    assert bare(*ten[1:], ["blue", "odd", *numbers[1:]]) is None  # eight of nine


# Rows of a second sheet


def test_a_fault_in_a_second_sheet_sets_its_own_row_aside() -> None:
    """Sheet two begins behind three rows of the first; its third row holds a letter.

    The rows that can be read wait until somebody says whether that sheet is of this class.
    """
    book = openpyxl.Workbook()
    rows = [(g, t, *map(str, rest)) for g, t, *rest in ROWS]
    for number, part in enumerate((rows[:3], [rows[3], (*rows[4][:5], "1.o5"), rows[4]])):
        sheet = book.active if number == 0 else book.create_sheet("Tuesday")
        for line in (HEADER, *part):
            sheet.append(list(line))
    data = load_class(saved(book), LAB)
    (odd,) = [p for p in data.problems if p.given == "1.o5"]
    assert (odd.sheet, odd.row) == ("Tuesday", 3)
    uses = {one.row: one.use.value for one in data.rows if one.sheet == "Tuesday"}
    assert uses == {1: "header", 2: "waiting", 3: "set aside", 4: "waiting"}


def test_a_row_of_a_workbook_has_a_thousand_cells_at_most() -> None:
    def wide(columns: int) -> bytes:
        book = openpyxl.Workbook()
        book.active.append(["x"] * columns)
        return saved(book)

    assert read_table(wide(1000)).rows.width == 1000
    with pytest.raises(DataFileError, match=r"Row 1 has too many columns\. Given: 1001\."):
        read_table(wide(1001))
