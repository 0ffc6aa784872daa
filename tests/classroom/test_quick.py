"""What is read all at once is read as row by row and cell by cell, whatever stands between."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stoichkit import experiments
from stoichkit.classroom import cells, names, rows, tables
from stoichkit.classroom.data import ClassData, load_class
from stoichkit.classroom.questions import plain_name
from stoichkit.classroom.tables import CellRows, read_table
from stoichkit.errors import DataFileError
from tests.classfiles import HEADER

LAB = experiments.load("copper-silver")
PLAIN = st.decimals(0, 4, places=2).map(str)
ODD = st.sampled_from(
    ["", "2.9O", "-", "1e12", "9999999999999", "0.0000000000000001", "1,5", "2.94 g", "2940 mg",
     " 2.9", "2.9\t", '"2.9"', '"2', "5.", ".5", "+2", "-1.0", "1;2", "nan", "1_0", "٣.٢", "1 000",
     "0", "00.50", "1e-3", "3x", "x3", "2x9"]
)  # fmt: skip
NAMES = st.sampled_from(
    ["red", "Red", "bench 1", "bench 11", "bench 1 1", "bench  1", "", "mean", "total", "Zoë",
     "zoe\u0308", "x" * 90, "'=red", "red\u200b", "max", "1", "01", "blue", "g7"]
)  # fmt: skip
TRIALS = st.sampled_from(["1", "2", "3", "", "a", "A  b", "mean", "1"])


def _seldom(usual: st.SearchStrategy[str], odd: st.SearchStrategy[str]) -> Any:
    return st.integers(0, 9).flatmap(lambda n: odd if n == 0 else usual)


ROW = st.tuples(
    _seldom(st.sampled_from(["red", "blue", "g7", "bench 1"]), NAMES),
    _seldom(st.sampled_from(["1", "2", "3", "4"]), TRIALS),
    *[_seldom(PLAIN, ODD)] * 4,
).flatmap(
    lambda row: st.integers(0, 19).map(
        lambda n: ((), row[:3], (*row, "7"), (*row, ""), HEADER)[n] if n < 5 else row
    )
)


@contextmanager
def one_by_one() -> Iterator[None]:
    """Turn off whatever is taken all at once."""

    def no_groups(self: Any) -> Any:
        return np.zeros(len(self.names), dtype=np.bool_)

    def no_rows(_self: Any, part: Any, _width: int) -> Any:
        return np.zeros(part.count, dtype=np.bool_)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(tables, "_split_plainly", lambda *_: None)
        patch.setattr(cells, "_plain", lambda c: (cells.Cells.empty(len(c)), range(len(c))))
        patch.setattr(rows._Rows, "_clean_rows", no_rows)
        patch.setattr(rows._Rows, "_clean_trials", no_groups)
        patch.setattr(rows, "all_usable", lambda _: False)
        patch.setattr(names, "all_usable", lambda _: False)
        patch.setattr(rows, "plain_names", lambda given: list(map(plain_name, given)))
        yield


def everything(data: ClassData) -> Any:
    """Return all that was read as plain data."""
    found = data._rows
    readings = {
        name: (c.texts, np.nan_to_num(c.values, nan=-1).tolist(), c.decimals.tolist())
        for name, c in found.readings.items()
    }
    called = (data.names, dict(data.key), found.coded_trials)
    return data.rows, data.problems, data.questions, called, found.trials, readings, data.layout


def read(content: bytes, *, codes: bool = False) -> Any:
    try:
        return everything(load_class(content, LAB, codes=codes))
    except DataFileError as error:
        return str(error)


@settings(max_examples=150, deadline=None)
@given(
    st.lists(ROW, max_size=40),
    st.sampled_from([",", ";"]),
    st.sampled_from(["\n", "\r\n", "\r", "\n\n"]),
    st.booleans(),
    st.booleans(),
)
def test_sprinkled_rows(
    drawn: list[tuple[str, ...]], mark: str, end: str, codes: bool, trials: bool
) -> None:
    kept = slice(0, None) if trials else slice(2, None)
    lines = [mark.join((row[:1] + row[kept]) if not trials else row) for row in (HEADER, *drawn)]
    content = (end.join(lines) + end).encode()
    quick = read(content, codes=codes)
    with one_by_one():
        assert read(content, codes=codes) == quick


@settings(max_examples=150, deadline=None)
@given(
    st.text(st.sampled_from(list('ab1 ,;\t|"\r\n\0é\u2028\x85'))), st.sampled_from([",", ";", "\t"])
)
def test_any_text_is_split_as_the_rules_of_csv_say(text: str, mark: str) -> None:
    content = f"a{mark}b{mark}c\n{text}".encode()
    quick = read_table(content)
    with one_by_one():
        slow = read_table(content)
    assert slow.rows == quick.rows
    assert (slow.problems, slow.layout) == (quick.problems, quick.layout)


def test_the_quick_way_is_taken_where_it_should_be(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> Any:
        raise AssertionError("row by row")

    monkeypatch.setattr(tables, "_split", refuse)
    monkeypatch.setattr(cells, "_one", refuse)
    monkeypatch.setattr(rows._Rows, "_holds_no_trial", refuse)
    monkeypatch.setattr(rows, "usable_name", refuse)
    monkeypatch.setattr(names, "usable_name", refuse)
    monkeypatch.setattr(names, "plain_name", refuse)
    lines = [",".join(HEADER)]
    lines += [f"bench {g},{t},2.94,2.8{g % 9},0.75,1.1{t}" for g in range(30) for t in range(4)]
    data = load_class("\n".join(lines).encode(), LAB)
    assert len(data.names) == 30
    assert data.uses["used"] == 120


def test_rows_of_cells() -> None:
    given = (("a", "b"), (), ("1", "2", "3"), ("4", "5", "6"))
    made = CellRows.of(given)
    assert made == given
    assert made == CellRows.of(given) != CellRows.of(given[:3])
    assert hash(made) == hash(given)
    assert (len(made), made.width, repr(made)) == (4, 3, repr(given))
    assert made[-1] == given[-1]
    assert made[1:3] == given[1:3]
    assert list(made) == list(given)
    assert made.column(1) == ["b", "", "2", "5"]
    assert made.column(1, 2) == ["2", "5"]
    assert made.column(7, 2) == ["", ""]
    assert made.column(0, 4) == made.column(0, 9) == CellRows.of(()).column(0) == []
    with pytest.raises(IndexError):
        made[4]
