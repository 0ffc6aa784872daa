"""What is asked of rows, at its limits: copies, numbers a thousand times off, equal readings."""

from __future__ import annotations

import io

import numpy as np
import openpyxl
import pytest

from stoichkit import experiments, load_class
from stoichkit.classroom.data import ClassData
from stoichkit.classroom.questions import averages, copies, mark_of, thousandfold
from stoichkit.classroom.rows import _cleaned
from tests.classfiles import HEADER, ROWS, csv_bytes, saved, xlsx_bytes

LAB = experiments.load("copper-silver")
NAN = float("nan")


def test_a_mark_stays_the_same() -> None:
    """Answers saved before are found by it: four signs, as the first version wrote them."""
    assert mark_of(["2.94", "2.82", "0.75", "1.15"]) == "8dad"
    assert mark_of(["1", "23"]) != mark_of(["12", "3"])


def test_a_copy_is_of_the_first_row_that_is_like_it_in_all() -> None:
    """Rows 0 and 1 differ in their trial alone; what is like row 1 is a copy of that one."""
    values = {"a": np.array([1.0, 1.0, 1.0, 1.0]), "b": np.array([5.0] * 4)}
    group = np.zeros(4, dtype=int)
    assert copies(values, group, ["1", "2", "2", "1"]) == {2: 1, 3: 0}
    assert copies(values, np.array([0, 1, 1, -1]), ["1"] * 4) == {2: 1}
    gaps = {"a": np.array([NAN, -1.0, -1.0, NAN]), "b": np.array([5.0, 5.0, 5.0, 5.0])}
    assert copies(gaps, group, ["1"] * 4) == {2: 1, 3: 0}
    close = {"a": np.array([1.0, 1.0 + 1e-15, 2.0, 3.0]), "b": np.array([5.0, 5.0, 4.0, 3.0])}
    assert copies(close, group, ["1"] * 4) == {}
    even = {"a": np.array([1.0, 2.0, 1.0, 2.0]), "b": np.array([2.0, 1.0, 1.0, 2.0])}
    assert copies(even, group, ["1"] * 4) == {}


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        # 3 ± 0.45 decades: 10^2.55 = 354.8 and 10^3.45 = 2818.4
        (354.0, ""), (355.0, "1000 times smaller"),
        (2818.0, "1000 times smaller"), (2819.0, ""),
        (1 / 354, ""), (1 / 355, "1000 times larger"),
        (1 / 2818, "1000 times larger"), (1 / 2819, ""),
        (-1000.0, "1000 times smaller"), (0.0, ""), (NAN, ""),
    ],
)  # fmt: skip
def test_a_reading_is_a_thousand_times_off_from_355_to_2818(typed: float, words: str) -> None:
    found, rows = thousandfold(2.0 * np.array([1.0, 1.0, typed, 1.0]), NAN, np.inf)
    assert found == words
    assert rows.tolist() == ([2] if words else [])
    # the same of all readings, against what is usual in the lab
    if typed > 0:
        assert thousandfold(np.full(3, 2.0 * typed), 2.0, np.inf)[0] == words


def test_fewer_than_half_are_off() -> None:
    """Of 1, 1, 1e6 and 1e6 the middle is 1e3, from which each half is a thousand times off."""
    assert thousandfold(np.array([1.0, 1.0, 1e6, 1e6]), NAN, np.inf)[0] == ""
    off = thousandfold(np.array([1.0, 1e3, 1.0, 1e3, 1.0]), NAN, np.inf)
    assert (off[0], off[1].tolist()) == ("1000 times smaller", [1, 3])


@pytest.mark.parametrize(
    ("size", "off"),
    [
        (99.0, False), (100.0, False), (101.0, True), (1e3, True), (99_000.0, True), (1e5, True),
        (101_000.0, False),
    ],
)  # fmt: skip
def test_a_column_beyond_what_can_be_shown_is_off_if_a_thousandth_can(
    size: float, off: bool
) -> None:
    """Up to 100 can be shown: 101 … 100 000 are read as 0.101 … 100, 101 000 would be 101."""
    found, rows = thousandfold(np.full(3, size), NAN, 100.0)
    assert (found, len(rows)) == (("1000 times smaller", 3) if off else ("", 0))
    assert thousandfold(np.full(3, size), size, 100.0)[0] == ""  # it is usual in this lab


def last_is_mean_of(a: list[float], b: list[float], decimals: int) -> bool:
    """Say whether the fourth row of one group is taken for the mean of the three before it."""
    columns = {"a": np.array(a), "b": np.array(b)}
    digits = {name: np.full(4, decimals) for name in columns}
    return 3 in averages(columns, digits, np.zeros(4, dtype=int), np.zeros(4, dtype=bool))


def test_equal_readings_of_many_digits_do_not_scatter() -> None:
    """The mean of equal rows says nothing; their squares of 18 digits are rounded at the 16th.

    With 1e8 ± 20 and a step of 0.01 the scatter is 2e-7 of the size, which does count: by
    chance a mean would be met once in 0.4 · 0.01 / 20 of two columns each.
    """
    for value in (123456789.01, 987654321.03, 345678901.07, 777777777.77, 123123123.11):
        assert not last_is_mean_of([value] * 4, [value / 3] * 4, 2)
    assert not last_is_mean_of([2.5] * 4, [1.25] * 4, 5)
    for apart, found in ((8.0, False), (20.0, True)):
        one = [1e8 - apart, 1e8 + apart, 1e8, 1e8]
        assert last_is_mean_of(one, one, 2) is found


def test_the_mean_of_the_group_above_begins_the_next() -> None:
    """Of 1, 3, 5 it is 3, of 8, 4, 3 it is 5: from the first row on, and from the fourth on."""
    a, b = [1.0, 3.0, 5.0, 3.0, 9.0], [8.0, 4.0, 3.0, 5.0, 7.0]
    groups = np.array([0, 0, 0, 1, 1])
    hint = np.zeros(5, dtype=bool)
    digits = {"a": np.full(5, 2), "b": np.full(5, 2)}
    said = "the rows of the group above it"
    assert averages({"a": np.array(a), "b": np.array(b)}, digits, groups, hint) == {3: said}
    a, b, groups = [7.0, *a], [1.0, *b], np.array([2, 0, 0, 0, 1, 1])
    more = {"a": np.full(6, 2), "b": np.full(6, 2)}
    found = averages({"a": np.array(a), "b": np.array(b)}, more, groups, np.zeros(6, dtype=bool))
    assert found == {4: said}


# Rows held back by one question are not asked about in the next


def hidden(*order: tuple[str, ...], row: int) -> ClassData:
    book = openpyxl.load_workbook(io.BytesIO(xlsx_bytes(order)))
    book.active.row_dimensions[row].hidden = True
    return load_class(saved(book), LAB)


def test_rows_that_wait_are_neither_copies_nor_averages() -> None:
    """Row 6 is like row 4, of the second group; hidden, it is asked about once only."""
    rows = [*ROWS[:4], ROWS[2]]
    assert [q.kind for q in hidden(*rows, row=6).questions] == ["hidden"]
    assert [q.kind for q in load_class(csv_bytes(rows), LAB).questions] == ["copy"]
    size = (3, 2, 1, 4)
    blue = [("blue", str(n), *(f"{m + k:.2f}" for m, k in zip(size, (d, -d, d, d), strict=True)))
            for n, d in ((1, -0.3), (2, 0.1), (3, 0.2), (4, 0.0))]  # fmt: skip
    mean = [*ROWS[:2], *blue]  # row 7 holds the means of the others of blue
    assert [q.rows for q in load_class(csv_bytes(mean), LAB).questions] == [(7,)]
    assert [q.kind for q in hidden(*mean, row=7).questions] == ["hidden"]


def test_a_long_row_is_shown_by_eighty_signs() -> None:
    odd = ("7 " * 60, "", "", "", "", "")
    (problem,) = load_class(csv_bytes([*ROWS, odd]), LAB).problems
    assert problem.given == ("7 " * 40)


def test_a_line_end_in_a_cell_is_a_space() -> None:
    """Whether one row has one, or all have."""
    for cells in (["red\nteam", "blue", "green"], ["red\nteam", "blue\nteam", "green"], ["a\nb"]):
        rows = [(name, *ROWS[n][1:]) for n, name in enumerate(cells)]
        assert load_class(csv_bytes(rows), LAB).names == tuple(c.replace("\n", " ") for c in cells)


def test_groups_left_out_keep_the_places_of_the_others() -> None:
    """Of red, blue, red, green the row of blue, row 3, is hidden and waits: it has no group."""
    data = hidden(ROWS[0], ROWS[2], ROWS[1], ROWS[4], row=3)
    assert data.names == ("red", "green")
    assert data._rows.group_of.tolist() == [0, -1, 0, 1]
    assert [one.group for one in data.rows] == ["", "red", "", "red", "green"]


def test_cells_are_cleaned_where_one_needs_it() -> None:
    for odd in ("a\nb", "a  b", "a\tb", "a\r\nb", "a\u00a0b"):
        assert _cleaned([odd]) == ["a b"]
        assert _cleaned(["x", odd, ""]) == ["x", "a b", ""]


def test_what_is_said_of_the_file_stands_before_its_first_row() -> None:
    lines = csv_bytes(header=[*HEADER, "x"], mark=";").decode().splitlines()
    lines[0] = lines[0].replace("group", '"group" x')
    problems = load_class("\n".join(lines).encode(), LAB).problems
    assert [p.row for p in problems][:3] == [None, None, 1]
