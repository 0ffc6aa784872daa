"""When a row is taken for the mean of others: to its digits, and hardly by chance."""

from __future__ import annotations

import numpy as np
import pytest

from stoichkit import experiments, load_class
from stoichkit.classroom.questions import (
    Question,
    QuestionKind,
    _chance,
    _fitting,
    _near,
    averages,
    copies,
    summaries,
    summary_word,
)
from tests.classfiles import ROWS, csv_bytes


def row_of(*values: float) -> np.ndarray:
    return np.array(values, dtype=float)


def test_the_chance_of_half_a_step_is_four_tenths_of_step_over_spread() -> None:
    """A normal density is 0.399 / s at its middle, and a step wide: 0.4 · 0.01 / 0.04 = 0.1."""
    found = _chance(row_of(0.04, 0.004, 0.002, 0.0), np.full(4, 0.01))
    assert found.tolist() == pytest.approx([0.1, 1.0, 1.0, 1.0])


def test_a_mean_is_met_within_half_a_step() -> None:
    """Spread of two rows 0.04 with n: 0.04 · √2 with n − 1; 0.004 / 0.05657 = 0.0707."""
    mean, spread, step = row_of(1.0), row_of(0.04), row_of(0.01)
    for value, near in ((1.005, True), (1.0051, False), (0.995, True), (0.9949, False)):
        assert _near(mean, spread, row_of(value), step, 0.5, 2) is near
    assert _near(mean, spread, mean, step, 0.0708, 2)
    assert not _near(mean, spread, mean, step, 0.0707, 2)
    assert _near(mean, spread, mean, step, 0.101, 1)  # of one row there is no spread to correct
    assert not _near(mean, spread, mean, step, 0.099, 1)
    # two readings: the product of their chances
    assert _near(row_of(1, 1), row_of(0.04, 0.04), row_of(1, 1), row_of(0.01, 0.01), 0.00501, 2)
    assert not _near(row_of(1, 1), row_of(0.04, 0.04), row_of(1, 1), row_of(0.01, 0.01), 0.00499, 2)


def fits(row: float, limit: float, count: int = 2, *, asked: bool = True) -> bool:
    """Say whether a row is taken for the mean of ``count`` others, half at 0.96, half at 1.04."""
    total, square = row_of(count)[:, None], row_of(count * (1 + 0.04**2))[:, None]
    found = _fitting(
        total, square, np.array([count]), row_of(row)[:, None], row_of(0.01)[:, None],
        row_of(limit), np.array([asked]),
    )  # fmt: skip
    return found.tolist() == [0]


def test_sums_give_the_same_mean_and_spread() -> None:
    """As above; of four the spread is 0.04 · √(4/3): 0.004 / 0.04619 = 0.0866."""
    for value, near in ((1.005, True), (1.0051, False), (0.995, True), (0.9949, False)):
        assert fits(value, 0.5) is near
    assert fits(1.0, 0.0708)
    assert not fits(1.0, 0.0707)
    assert fits(1.0, 0.0867, 4)
    assert not fits(1.0, 0.0865, 4)
    assert not fits(1.0, 0.5, asked=False)


def of_one_group(apart: float, others: int = 0, *, hinted: bool = False) -> bool:
    """Say whether the last of four rows is taken for the mean of the three before it.

    Two readings each of 1 − 3 k, 1 + k and 1 + 2 k, whose standard deviation with n − 1 is
    k √((9 + 1 + 4) / 2) = k √7, which is ``apart``; then so many rows of other groups, one each,
    far from any mean.
    """
    k = apart / 7**0.5
    values = [1 - 3 * k, 1 + k, 1 + 2 * k, 1.0, *(7.3 * 1.9**n for n in range(others))]
    count = len(values)
    hint = np.zeros(count, dtype=bool)
    hint[3] = hinted
    found = averages(
        {"a": np.array(values), "b": np.array(values)},
        {name: np.full(count, 2) for name in "ab"},
        np.array([0, 0, 0, 0, *range(1, others + 1)]),
        hint,
    )
    assert set(found) <= {3}
    return found == {3: "the other rows of its group"}


def test_two_in_a_hundred_files_may_hold_such_a_row() -> None:
    """Up to ten rows the chance of a row must be below 0.02 / 10 = 0.002; that of two readings
    is (0.004 / s)²: 0.00202 for s = 0.089, 0.00198 for 0.09. With twenty rows it is 0.001: 0.00101
    for 0.126, 0.00099 for 0.127. A hint allows fifty times as much: 0.1, that is 0.111 for 0.012
    and 0.095 for 0.013.
    """
    assert of_one_group(0.09)
    assert not of_one_group(0.089)
    assert of_one_group(0.09, 6)
    assert not of_one_group(0.089, 6)
    assert of_one_group(0.127, 16)
    assert not of_one_group(0.126, 16)
    assert of_one_group(0.013, hinted=True)
    assert not of_one_group(0.012, hinted=True)


def test_three_rows_and_two_readings_are_needed() -> None:
    columns = {"a": row_of(1.0, 3.0, 2.0), "b": row_of(8.0, 4.0, 6.0)}
    digits = {name: np.full(3, 2) for name in columns}
    groups, hint = np.zeros(3, dtype=int), np.zeros(3, dtype=bool)
    assert averages(columns, digits, groups, hint) == {2: "the other rows of its group"}
    assert averages({"a": columns["a"]}, digits, groups, hint) == {}
    two = {name: values[1:] for name, values in columns.items()}
    assert averages(two, {n: d[1:] for n, d in digits.items()}, groups[1:], hint[1:]) == {}
    gaps = {**columns, "c": row_of(1.0, np.nan, 2.0)}  # a reading that some lack does not count
    assert averages(gaps, {**digits, "c": digits["a"]}, groups, hint) == {
        2: "the other rows of its group"
    }


def test_copies_are_told_by_the_first() -> None:
    values = {"a": row_of(1, 1, 2, 1), "b": row_of(5, 5, 5, 5)}
    trials = ["1"] * 4
    assert copies(values, np.zeros(4, dtype=int), trials) == {1: 0, 3: 0}
    assert copies(values, np.array([0, 1, 0, 1]), trials) == {3: 1}
    assert copies(values, np.array([0, 1, 2, 3]), trials) == {}
    assert copies(values, np.array([-1, -1, -1, 0]), trials) == {}
    two = {"a": row_of(1, 1), "b": row_of(5, 5)}
    assert copies(two, np.zeros(2, dtype=int), ["1", "1"]) == {1: 0}


def asked_about(*order: int) -> list[tuple[str, tuple[int, ...]]]:
    """Return what is asked of a class whose rows are those of the example, in this order."""
    data = load_class(csv_bytes([ROWS[n] for n in order]), experiments.load("copper-silver"))
    return [(one.text.partition(" in group")[0], one.rows) for one in data.open_questions]


def test_copies_that_stand_together_are_one_question() -> None:
    """The first row below the header is row 2."""
    assert asked_about(0, 1, 2, 3) == []
    assert asked_about(0, 1, 2, 0) == [("Row 5 repeats row 2", (5,))]
    assert asked_about(0, 1, 2, 0, 1) == [("Rows 5 to 6 repeat rows 2 to 3", (5, 6))]
    assert asked_about(0, 1, 0, 2, 1) == [
        ("Row 4 repeats row 2", (4,)), ("Row 6 repeats row 3", (6,)),
    ]  # fmt: skip


def test_words_for_an_average() -> None:
    sure = ("Mean", "avg", "AVG.", "ave", "s.d.", "Total:", "(mean)", "std dev", "Ø", "mean =")
    assert {summary_word(text) for text in sure} == {"sure"}
    maybe = ("max", "Sum", "mean of red", "red, mean", "red/avg")
    assert {summary_word(text) for text in maybe} == {"maybe"}
    assert {summary_word(text) for text in ("", "red", "meaning", "maxwell", "bench 3")} == {""}
    assert summaries(["red", "blue 7"]) == {}
    assert summaries(["Mean 2", "max", "red"]) == {"Mean 2": "maybe", "max": "maybe"}


def asked(answer: str = "", default: str = "") -> Question:
    return Question(
        "copy:3", QuestionKind.COPY, "A copy?", (3, 4), "…", ("a trial", "a copy"), answer, default,
        "Monday",
    )  # fmt: skip


def test_rows_wait_without_an_answer_and_without_a_default() -> None:
    assert [one.waits for one in (asked(), asked("a copy"), asked("", "a trial"))] == [
        True, False, False,
    ]  # fmt: skip
    assert [one.taken for one in (asked(), asked("a copy", "a trial"), asked("", "a trial"))] == [
        "", "a copy", "a trial",
    ]  # fmt: skip
    assert asked().where == "sheet “Monday”, rows 3 to 4"
