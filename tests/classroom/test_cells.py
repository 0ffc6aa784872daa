"""The cells of one column: which number each holds, with how many decimals, and what is odd."""

from __future__ import annotations

import numpy as np
import pytest

from stoichkit.classroom.cells import Cells, read_cells, remarks_on
from stoichkit.classroom.columns import known_unit
from stoichkit.measurement.base import Role
from stoichkit.measurement.displays import Balance

ONE = Role(name="m", instrument="balance", quantity="mass", unit="g")
LAST = Role(name="m", instrument="balance", quantity="mass", unit="g", repeated=True)
MEAN = Role(name="m", instrument="balance", quantity="mass", unit="g", averaged=True)
MAYBE = Role(name="m", instrument="balance", quantity="mass", unit="g", optional=True)


def shown(cells: Cells) -> list[tuple[object, float, int]]:
    return list(zip(cells.texts, cells.values.tolist(), cells.decimals.tolist(), strict=True))


@pytest.mark.parametrize(
    ("text", "value", "decimals"),
    [
        ("2.94", 2.94, 2), ("2,94", 2.94, 2), ("2.90", 2.9, 2), ("12", 12.0, 0), ("0.050", 0.05, 3),
        ("123456789012", 123456789012.0, 0),  # twelve digits, the most of a plain number
        ("12345678901.234", 12345678901.234, 3),
        ("1.23456789012345", 1.23456789012345, 14),  # sixteen characters, read at once
        ("1.234567890123456", 1.234567890123456, 15),  # one more, read by itself
        (".5", 0.5, 1), ("5.", 5.0, 0), ("-0.02", -0.02, 2), ("+3.1", 3.1, 1), ("1.2e1", 12.0, 0),
        ("−4", -4.0, 0), ("3e2", 300.0, -2),
    ],
)  # fmt: skip
def test_one_number_keeps_its_digits(text: str, value: float, decimals: int) -> None:
    """Beside numbers of other lengths it is read as it is alone."""
    for around in ([], ["7"], ["7.25", "", "1234.5"]):
        read = read_cells([*around, text], ONE)
        assert shown(read)[-1] == (text, value, decimals)
        assert not read.faults
        assert not read.remarks


def test_empty_cells_hold_no_number_and_no_fault() -> None:
    read = read_cells(["", "1.5", ""], ONE)
    assert read.texts == ["", "1.5", ""]
    assert np.isnan(read.values).tolist() == [True, False, True]
    assert not read.faults
    assert not len(read_cells([], ONE).values)


@pytest.mark.parametrize(
    "text", ["1.2.3", "1,234.5", "2.9O", "1 2", "1e15", "1:2", "1.2;1.3", "٣", "12O", "7x"]
)
def test_what_is_no_number_is_a_fault_of_its_cell(text: str) -> None:
    read = read_cells(["1.5", text], ONE)
    assert [(f.row, f.given) for f in read.faults] == [(1, text)]
    assert read.texts[1] == ""
    assert np.isnan(read.values[1])
    assert read.values[0] == 1.5


def test_a_cell_marked_as_missing() -> None:
    for word in ("n/a", "NA", "-", "–", "?", "None", "missing"):
        read = read_cells([word], ONE)
        assert [f.text for f in read.faults] == ["The reading is marked as missing."]
        assert not read_cells([word], MAYBE).faults
        assert read_cells([word], MAYBE).texts == [""]


def test_several_readings_in_a_cell() -> None:
    """Of repeated readings the last counts, of one thing read several times the mean."""
    cell = "20.52; 20.40\n20.38;"
    typed = ("20.52", "20.40", "20.38")
    assert shown(read_cells([cell], LAST)) == [(typed, 20.38, 2)]
    ((texts, value, decimals),) = shown(read_cells([cell], MEAN))
    assert (texts, decimals) == (typed, 2)
    assert value == pytest.approx((20.52 + 20.40 + 20.38) / 3)
    assert shown(read_cells([" ; 20.5 ;"], LAST)) == [("20.5", 20.5, 1)]
    assert read_cells([cell], ONE).faults


def test_numbers_in_the_unit_of_the_header_are_converted() -> None:
    read = read_cells(["2940", "3.5", "", "12.25 g", "0.5 kg", "5 mL"], ONE, known_unit("mg"))
    assert shown(read)[:2] == [("2.940", 2.94, 3), ("0.0035", 0.0035, 4)]
    assert shown(read)[3:5] == [("12.25", 12.25, 2), ("500", 500.0, 0)]  # its own unit counts
    assert [f.row for f in read.faults] == [5]
    same, other = read.remarks
    assert (same.row, same.given) == (3, "12.25 g")
    assert same.text == "The unit stands behind the number; it was read as such."
    assert (other.row, other.given) == (4, "0.5 kg")
    assert other.text.endswith("it was read as such (1 kg = 1000 g).")


def test_a_unit_behind_a_number_without_one_in_the_header() -> None:
    read = read_cells(["294 mg", "2.94"], ONE, known_unit("g"))
    assert shown(read) == [("0.294", 0.294, 3), ("2.94", 2.94, 2)]
    assert [r.row for r in read.remarks] == [0]


def test_rows_are_converted_later_as_if_typed_in_another_unit() -> None:
    """A thousandth of 2940 and of 3010 with the digits typed; the other row stays."""
    mg = known_unit("mg")
    assert mg is not None
    read = read_cells(["2940; 2960.0", "2.95", "3010"], LAST)
    read.rescale([0, 2], mg, LAST)
    assert shown(read) == [(("2.940", "2.9600"), 2.96, 4), ("2.95", 2.95, 2), ("3.010", 3.01, 3)]
    mean = read_cells(["2940; 2960.0"], MEAN)
    mean.rescale([0], mg, MEAN)
    assert mean.values[0] == pytest.approx(2.95)
    assert mean.texts == [("2.940", "2.9600")]


def test_a_later_column_is_put_behind_the_earlier() -> None:
    first = read_cells(["20.5", "", "20.7", ""], LAST)
    later = read_cells(["20.40", "20.60", "", ""], LAST)
    both = first.then(later, LAST)
    assert both.texts == [("20.5", "20.40"), "20.60", "20.7", ""]
    assert both.values[:3].tolist() == [20.4, 20.6, 20.7]
    assert np.isnan(both.values[3])
    assert both.decimals[:3].tolist() == [2, 2, 1]
    mean = first.then(later, MEAN)
    assert mean.values[:3].tolist() == pytest.approx([20.45, 20.6, 20.7])
    third = both.then(read_cells(["20.30"] * 4, LAST), LAST)
    assert third.texts == [("20.5", "20.40", "20.30"), ("20.60", "20.30"), ("20.7", "20.30"),
                           "20.30"]  # fmt: skip


def test_faults_of_both_columns_are_kept_and_none_of_tables_below() -> None:
    bad, good = read_cells(["x"], LAST), read_cells(["1 g"], LAST)
    assert (len(bad.then(good, LAST).faults), len(bad.then(good, LAST).remarks)) == (1, 1)
    assert (len(good.then(bad, LAST).faults), len(good.then(bad, LAST).remarks)) == (1, 1)
    below = bad.followed_by(good)
    assert below.texts == ["", "1"]
    assert below.values[1] == 1.0
    assert below.decimals.tolist() == [0, 0]
    assert not below.faults
    assert not below.remarks


def asked(texts: list[str], used: list[bool] | None = None, **balance: float) -> list[str]:
    column = read_cells(texts, ONE)
    rows = np.ones(len(texts), dtype=bool) if used is None else np.array(used)
    found = remarks_on(column, rows, Balance(**{"readability_g": 0.01, **balance}))
    return [f"{r.row}: {r.text}" for r in found]


def test_what_a_balance_to_a_hundredth_gram_cannot_show_is_asked() -> None:
    assert asked(["2.94", "0.00", "150.00"]) == []
    (off,) = asked(["2.94", "2.945"])
    assert off.startswith("1: 2.945 g is not a whole number of steps of 0.01 g")
    (fewer,) = asked(["2.94", "2.9"])
    assert fewer.startswith("1: 2.9 g has fewer decimals than this balance shows (2)")
    (more,) = asked(["2.940", "2.94"])
    assert more.startswith("0: 2.940 g has more decimals than this balance shows (2)")
    assert asked(["", "2.94"]) == []
    assert asked(["2.945", "2.9"], [False, False]) == []


def test_decimals_are_asked_about_once_and_the_cells_counted() -> None:
    (fewer,) = asked(["2.9", "2.94", "3.1", "3.2"])
    assert fewer.startswith("0: 2.9 g has fewer")
    assert fewer.endswith(" (3 cells)")
    one, other = asked(["2.9", "2.940", "2.950"])
    assert "fewer" in one
    assert "cells" not in one
    assert "more decimals" in other
    assert other.endswith(" (2 cells)")


def test_twenty_cells_off_the_steps_are_named_and_the_rest_counted() -> None:
    twenty = asked(["2.945"] * 20)
    assert [text.partition(":")[0] for text in twenty] == [str(n) for n in range(20)]
    assert not any("cells)" in text for text in twenty)
    many = asked(["2.945"] * 23)
    assert len(many) == 20
    assert many[-1].endswith(" (23 cells)")
    assert not any("cells)" in text for text in many[:-1])


def test_capacity_and_sign_are_asked_about() -> None:
    assert asked(["200.00"], capacity_g=200.0) == []
    (beyond,) = asked(["1.00", "200.01"], capacity_g=200.0)
    assert beyond.startswith("1: 200.01 g is beyond the capacity of this balance (200 g)")
    (below,) = asked(["-0.01", "0.00"])
    assert below.startswith("0: -0.01 g is negative")


def test_steps_of_other_sizes() -> None:
    assert asked(["2.5", "3.0"], readability_g=0.5) == []
    assert "not a whole number of steps of 0.5 g" in asked(["2.6"], readability_g=0.5)[0]
    assert asked(["20", "30"], readability_g=1.0) == []
    assert "more decimals than this balance shows (0)" in asked(["20.0"], readability_g=1.0)[0]
    assert asked(["0.1234"], readability_g=0.0001) == []
    assert asked(["0.0002"], readability_g=0.0002) == []
