"""Decisions of the class screen: applied, undone, redone and kept for a restart."""

from __future__ import annotations

from stoichkit.widgets.state.classroom import ClassState
from stoichkit.widgets.state.review import with_repairs
from tests.classfiles import csv_bytes
from tests.classroom.test_review import SWAPPED


def concluded(state: ClassState) -> tuple[str, ...]:
    state.take(state.work_out())
    assert state.result is not None
    assert state.result.verdict is not None
    return state.result.verdict.verdict.candidates


def test_repairs_are_accepted_undone_and_kept() -> None:
    state = ClassState("copper-silver")
    state.open_bytes(csv_bytes(SWAPPED), "class.csv")
    assert concluded(state) == ()
    assert state.found is not None
    assert state.found.review is not None
    state.decide(with_repairs(state.decisions, state.found.review.repairs, "swapped", "EK"))
    assert concluded(state) == ("copper(II)",)
    assert {one.initials for one in state.decisions} == {"EK"}
    again = ClassState("copper-silver")
    again.give_back(state.kept())
    assert again.decisions == state.decisions
    state.history.undo()
    assert state.decisions == ()
    assert concluded(state) == ()
    state.history.redo()
    assert concluded(state) == ("copper(II)",)
