"""What a person decided of single trials: set aside, corrected, or refused with the reason."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit import experiments, load_class
from stoichkit.classroom.choices import Choices, Decision, DecisionKind
from stoichkit.classroom.data import ClassData, decided_rows
from stoichkit.classroom.deciding import _correct
from stoichkit.classroom.judging import _verdict_words
from stoichkit.classroom.records import Span
from stoichkit.decision.verdict import Reason, VerdictKind
from stoichkit.errors import DataFileError
from tests.classfiles import csv_bytes


@cache
def loaded() -> ClassData:
    return load_class(csv_bytes(), experiments.load("copper-silver"))


def decided(*made: Decision) -> ClassData:
    return decided_rows(replace(loaded(), choices=Choices(decisions=made)))


def aside(group: str, trial: str, **more: str) -> Decision:
    return Decision(group, trial, DecisionKind.SET_ASIDE, **more)


def paper(typed: str, corrected: str, reading: str = "paper") -> Decision:
    return Decision("red", "2", DecisionKind.CORRECTED, reading, typed=typed, corrected=corrected)


def trials(data: ClassData) -> dict[str, list[str]]:
    return {name: [t.name for t in lab.trials] for name, lab in data.groups.items()}


def test_a_trial_is_set_aside_with_who_said_so_and_why() -> None:
    data = decided(aside("red", "2", reason="spilt", initials="AB"), aside("blue", "1"))
    assert trials(data) == {"red": ["1"], "blue": ["2"], "green": ["1"]}
    reasons = {one.row: one.reason for one in data.rows if one.use.value == "set aside"}
    assert reasons == {3: "spilt (AB)", 4: "decided"}
    assert trials(loaded()) == {"red": ["1", "2"], "blue": ["1", "2"], "green": ["1"]}


def test_a_group_without_trials_is_gone_and_one_trial_must_be_left() -> None:
    data = decided(aside("red", "1"), aside("red", "2"))
    assert data.names == ("blue", "green")
    assert trials(data) == {"blue": ["1", "2"], "green": ["1"]}
    assert decided(*(aside(g, t) for g, t in EVERY[1:])).names == ("red",)
    with pytest.raises(DataFileError, match="No trial is left"):
        decided(*(aside(g, t) for g, t in EVERY))


EVERY = (("red", "1"), ("red", "2"), ("blue", "1"), ("blue", "2"), ("green", "1"))


def test_a_trial_that_was_looked_at_stays() -> None:
    used = decided(Decision("red", "2", DecisionKind.USED, reason="looked at"))
    assert trials(used) == trials(loaded())


def test_a_corrected_reading_stands_in_the_place_of_what_was_typed() -> None:
    data = decided(paper("0.70", "0.71"))
    assert data.groups["red"].trials[1].readings["paper"] == ("0.71",)
    assert data.groups["red"].trials[0].readings["paper"] == ("0.75",)
    assert loaded().groups["red"].trials[1].readings["paper"] == ("0.70",)
    assert decided(paper("0.7", "0.71")).groups["red"].trials[1].readings["paper"] == ("0.71",)


@pytest.mark.parametrize(
    ("decision", "words"),
    [
        (paper("0.71", "0.72"), "What was typed is another reading: 0.70"),
        (paper("0.70", "0.7O"), "The correction cannot be used"),
        (paper("0.70", "0.71", "lid"), "There is no such reading"),
        (aside("red", "3"), "The class has no such trial in use"),
        (aside("gray", "1"), "The class has no such trial in use"),
    ],
)
def test_a_decision_that_cannot_be_applied_is_refused(decision: Decision, words: str) -> None:
    with pytest.raises(DataFileError, match=words) as refused:
        decided(decision)
    assert refused.value.fix == "Correct it, or take it out of the choices."


def corrected(texts: tuple[str, ...], typed: str, right: str) -> tuple[Any, float, int]:
    cells = SimpleNamespace(
        texts=["1", texts if len(texts) > 1 else texts[0]], values=[1.0, 2.0], decimals=[0, 1]
    )
    _correct(cells, 1, paper(typed, right))
    assert (cells.texts[0], cells.values[0], cells.decimals[0]) == ("1", 1.0, 0)
    return cells.texts[1], cells.values[1], cells.decimals[1]


def test_of_several_readings_the_last_or_the_mean_is_corrected() -> None:
    """1.0, 2.0 and 4.5 have the mean 2.5; who gives that means all of them."""
    several = ("1.0", "2.0", "4.5")
    assert corrected(several, "4.5", "4.25") == (("1.0", "2.0", "4.25"), 4.25, 2)
    assert corrected(several, "2.5", "2.6") == (("2.6", "2.6", "2.6"), 2.6, 1)
    assert corrected(("2.0", "2.0"), "2", "2.10") == (("2.0", "2.10"), 2.1, 2)
    assert corrected(("2.0",), "2.0", "3") == ("3", 3.0, 0)
    with pytest.raises(DataFileError, match=r"another reading: 1\.0, 2\.0, 4\.5"):
        corrected(several, "2.0", "2.1")


# Where rows stood


def test_rows_are_numbered_as_in_the_file() -> None:
    plain = Span("", (), 0, 3, None)
    assert [plain.origin(place) for place in (0, 1, 2)] == [(1, ""), (2, ""), (3, "")]
    made = Span("", (), 0, 2, ((7, "trial 1"), (None, "column C")))
    assert [made.origin(place) for place in (0, 1)] == [(7, "trial 1"), (None, "column C")]


# The right conclusion in words


@pytest.mark.parametrize(
    ("kind", "names", "reason", "words"),
    [
        (VerdictKind.SINGLED_OUT, ["a"], None, "single out a"),
        (VerdictKind.NOT_TOLD_APART, ["a", "b"], None, "cannot tell a from b"),
        (VerdictKind.NOT_TOLD_APART, ["a", "b", "c"], None, "cannot tell a, b and c apart"),
        (VerdictKind.NONE_FITS, [], None, "fit none of the candidates"),
        (VerdictKind.CANNOT_BE_JUDGED, [], None, "cannot be judged"),
        (VerdictKind.NOT_TOLD_APART, ["a"], Reason.NOTHING_REACTED,
         "do not show that anything reacted"),
    ],
)  # fmt: skip
def test_a_conclusion_as_it_is_asked_for(
    kind: VerdictKind, names: list[str], reason: Reason | None, words: str
) -> None:
    assert _verdict_words(kind, names, reason) == words
