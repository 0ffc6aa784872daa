"""Small parts of what is said and asked of a class file, on cases worked out by hand."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from stoichkit import assess_class, experiments, load_class
from stoichkit.classroom.amounts import amounts_from_arrays
from stoichkit.classroom.balances import Balances, step_of
from stoichkit.classroom.columns import converted, known_unit
from stoichkit.classroom.line import class_diagnosis
from stoichkit.classroom.marking import mark_class
from stoichkit.classroom.questions import _of_group_above, rows_text
from stoichkit.classroom.sentences import line_sentence
from stoichkit.classroom.statement import _of_groups
from stoichkit.decision.verdict import DiagnosisKind
from stoichkit.errors import ModelError
from tests.classfiles import ROWS, csv_bytes
from tests.odd_classes import result_of


def test_one_thing_of_one_group_is_written_with_it() -> None:
    assert _of_groups([("Cu", "red")]) == "Cu of red"
    assert _of_groups([("Cu", "red"), ("Cu", "blue")]) == "Cu of red and blue"
    assert _of_groups([("Cu", "")]) == "Cu"


def test_rows_beyond_eight_are_counted() -> None:
    """1, 3, 5, …, 21 are eleven rows apart: eight are named, three more."""
    assert rows_text(range(1, 22, 2)) == "rows 1, 3, 5, 7, 9, 11, 13, 15 and 3 more"
    assert rows_text(range(1, 16, 2)) == "rows 1, 3, 5, 7, 9, 11, 13, 15"
    assert rows_text([4, 4, 5]) == "rows 4 to 5"


def test_one_group_alone_is_no_class() -> None:
    found = assess_class(csv_bytes(ROWS[:2]), "copper-silver")
    assert found.verdict is None
    assert found.no_verdict == (
        "Only red was assessed: its own readings decide, and one group cannot show how much groups "
        "differ."
    )


def test_a_class_that_is_changed_by_nothing_is_the_same() -> None:
    one = amounts_from_arrays([1, 2, 3], [2, 4, 6], 0.01, 0.02)
    assert one.changed().produced.tolist() == [2, 4, 6]
    assert one.changed(times=2.0).produced.tolist() == [4, 8, 12]
    assert one.changed(0.5).produced.tolist() == [2.5, 4.5, 6.5]
    assert one.discrepancies(2.0, 1.0).tolist() == [0, 0, 0]
    assert one.discrepancies(1.0, 3.0).tolist() == [5, 10, 15]


@pytest.mark.parametrize(("spread", "asked"), [(0.01, []), (1.0, [6])])
def test_a_row_is_asked_about_only_if_it_is_hardly_a_mean_by_chance(
    spread: float, asked: list[int]
) -> None:
    """Seven rows of two readings to 0.01: the last is the mean of the three above it.

    One more reading lies within half a step of the mean by a chance of 0.4 × 0.01 / s (the height
    of a normal density, 0.4/s): both do in 16 % of rows where s is 0.01, in 16 of a million at 1.
    The first group, far off, has no part in it.
    """
    group = [5.0 - spread, 5.0, 5.0 + spread]
    table = np.array([[90.0, 100.0, 110.0, *group, 5.0], [10.0, 20.0, 30.0, *group, 5.0]])
    owner = np.array([0, 0, 0, 1, 1, 1, 2])
    step, limit = np.full(table.shape, 0.01), np.full(7, 0.05)
    assert _of_group_above(table, step, owner, limit).tolist() == asked


def test_where_all_slopes_are_excluded_the_nearest_is_named() -> None:
    """Slope 3.1 among ratios 1, 3 and 9, each with p = 0."""
    tested = {
        name: SimpleNamespace(name=name, p_slope=0.0, tested_ratio=ratio)
        for name, ratio in (("one", 1.0), ("three", 3.0), ("nine", 9.0))
    }
    line = SimpleNamespace(slope=3.1, u_slope_total=0.01, inflated=False)
    verdict = SimpleNamespace(line=line, coverage=0.95, candidates=tested)
    said = line_sentence(verdict)  # type: ignore[arg-type]
    assert "fits none of the candidates, not even three (p < 0.0001)" in said


def test_the_line_of_the_ready_class_fits_both() -> None:
    verdict = assess_class(experiments.class_file(), "copper-silver").verdict
    assert verdict is not None
    assert "which fits copper(II) (p = 0.26) and copper(I) (p = 0.055)." in line_sentence(verdict)


@pytest.mark.parametrize(
    "given",
    [([[1.0]], [[1.0]], 0.1, 0.1), ([1.0, 2.0], [1.0], 0.1, 0.1), ([1, 2], [1, 2], [0.1], 0.1)],
)
def test_amounts_of_other_lengths_are_no_class(given: tuple[object, ...]) -> None:
    with pytest.raises(ModelError, match="do not match"):
        amounts_from_arrays(*given)  # type: ignore[arg-type]


def test_the_outlook_asks_for_five_hundredths_less_than_the_coverage() -> None:
    """At 90 % coverage for a chance of 0.85; never for more than 0.9."""
    for coverage, target in ((0.9, 0.85), (0.99, 0.9), (0.8, 0.75)):
        found = assess_class(csv_bytes(), "copper-silver", coverage=coverage).outlook
        assert found is not None
        assert found.target == pytest.approx(target)


def test_a_step_of_a_balance_is_a_microgram_to_ten_grams() -> None:
    steps = [step_of(text) for text in ("1 µg", "0.5 µg", "10 g", "20 g", "5 g")]
    assert steps == [1e-6, None, 10.0, None, 5.0]


@pytest.mark.parametrize(
    ("name", "shift", "word"), [("wet", 0.25, "more"), ("lossy", -0.2, "less")]
)
def test_a_class_shifted_alike_is_said_so_with_its_size(name: str, shift: float, word: str) -> None:
    """Drawn with 2.5 and 1.6 mol of silver for each mole of copper, where copper(II) gives 2."""
    found = class_diagnosis(result_of(name))
    assert found.kind is DiagnosisKind.SHIFTED
    assert found.shift == pytest.approx(shift, abs=0.03)
    assert f" % {word} Ag than copper(II)" in found.sentence


@pytest.mark.parametrize(
    ("typed", "unit", "text"),
    [
        ("2940", "mg", "2.940"), ("2.5", "h", "9000.0"), ("25", "min", "1500"),
        ("298.15", "K", "25.00"), ("1013", "mbar", "101.3"), ("0.5", "L", "500"),
        ("1.25", "kg", "1250"), ("1", "torr", "0.133"), ("2,5", "mA", "0.0025"),
    ],
)  # fmt: skip
def test_units_are_converted_with_the_digits_typed(typed: str, unit: str, text: str) -> None:
    """SI prefixes; 0 °C is 273.15 K; 1 bar is 100 kPa; 760 torr are 101.325 kPa (memory)."""
    known = known_unit(unit)
    assert known is not None
    assert converted(typed, known) == text


def test_marking_stops_when_it_is_told_to() -> None:
    data = load_class(csv_bytes(), experiments.load("copper-silver"))
    answers = b"group,trial,m(Cu)\nred,1,0.12\n"
    told: list[tuple[int, int]] = []
    with pytest.raises(ModelError, match=r"stopped.*1 of 3 groups"):
        mark_class(answers, data, progress=lambda *n: bool(told.append(n)) or True)
    assert told == [(1, 3)]
    told.clear()
    mark_class(answers, data, progress=lambda *n: bool(told.append(n)))
    assert told == [(1, 3), (2, 3), (3, 3)]


def test_a_step_is_that_of_the_lab_or_another() -> None:
    balances = Balances(experiments.load("copper-silver"), "balance")
    assert balances.named("0.01 g") == "balance"
    assert balances.named("0.02 g") == "balance 0.02 g"
    assert balances.named("1 µg") == "balance 1e-06 g"
    assert balances.named("2 µg") == "balance 2e-06 g"
    assert balances.may_be_that_of_the_lab("10 mg")
    assert balances.may_be_that_of_the_lab("next to the window")
    assert not balances.may_be_that_of_the_lab("0.02 g")
    assert not balances.may_be_that_of_the_lab("5 mg")


def test_rows_of_one_balance_make_it_that_of_the_record() -> None:
    lab = experiments.load("copper-silver")
    balances = Balances.of(lab)
    coarse = balances.named("0.1 g")
    assert coarse == "balance 0.1 g"
    assert balances.record(["", ""]) == (lab, [{}, {}])
    one, each = balances.record([coarse, coarse])
    assert each == [{}, {}]
    assert one.instruments["balance"].readability == 0.1
    assert coarse not in one.instruments
    both, each = balances.record(["", coarse])
    assert each == [{}, {"balance": coarse}]
    assert both.instruments["balance"].readability == 0.01
    assert both.instruments[coarse].readability == 0.1
    balances.used = {2: coarse}
    assert balances.of_rows([1, 2, 3]) == ("", coarse, "")
    assert balances.balance("").readability_g == 0.01
    assert balances.balance(coarse).readability_g == 0.1
