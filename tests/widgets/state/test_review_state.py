"""Decisions of the class screen: applied, undone, redone and kept for a restart."""

from __future__ import annotations

from stoichkit.classroom.choices import Choices, Decision
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


def test_codes_keep_initials_and_groups_of_other_files_for_later() -> None:
    """A file of choices names blue and violet; only blue is in the class."""
    state = ClassState("copper-silver")
    state.open_bytes(csv_bytes(), "class.csv")
    state.set_codes(True)
    choices = Choices(decisions=[
        Decision("violet", "1", "set aside", reason="spilled", initials="EK"),
        Decision("blue", "1", "set aside", reason="spilled", initials="EK"),
    ])  # fmt: skip
    state.open_choices(choices.to_toml().encode())
    state.take(state.work_out())
    assert [(one.group, one.initials) for one in state.decided] == [("G02", "")]
    assert state.found is not None
    (said,) = [str(one) for one in state.found.data.problems if "not in the file" in str(one)]
    assert "decision 1 of 2, set aside" in said
    assert "violet" not in said
    state.decide((*state.decided, Decision("G01", "2", "set aside", initials="LM")))
    state.take(state.work_out())
    assert [one.group for one in state.decided] == ["G02", "G01"]
    assert [(one.group, one.initials) for one in state.decisions] == [
        ("blue", "EK"), ("G01", "LM"), ("violet", "EK"),
    ]  # fmt: skip
    assert "EK" not in repr(state.found.data.choices)
    state.decide(())
    assert state.decisions == ()
