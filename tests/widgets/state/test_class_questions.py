"""Questions about a class file on the screen: asked, answered, undone, saved and restored."""

from __future__ import annotations

from pathlib import Path

import pytest

from stoichkit.classroom.choices import load_choices
from stoichkit.widgets.state.class_files import write_class
from stoichkit.widgets.state.classroom import ClassState
from stoichkit.widgets.state.lab import LabState
from stoichkit.widgets.view.classroom import ClassScreen
from tests.classfiles import ROWS, csv_bytes
from tests.widgets.view.shown import Shown

TWICE = csv_bytes([*ROWS, ROWS[2]])
ALL_WAIT = "\n".join(",".join(row) for row in ROWS).encode()  # no header


def worked(content: bytes = TWICE) -> ClassState:
    state = ClassState("copper-silver")
    state.open_bytes(content, "class.csv")
    state.take(state.work_out())
    return state


def counts(state: ClassState) -> list[int]:
    assert state.result is not None
    return state.result.evidence.trials.tolist()


def test_an_answer_changes_the_result_and_undo_takes_it_back() -> None:
    state = worked()
    (asked,) = state.asked
    assert asked.waits
    assert counts(state) == [2, 2, 1]
    state.answer({asked.key: "a trial"})
    assert state.result is None
    assert state.last is not None  # to be looked at until the new one is there
    state.take(state.work_out())
    assert state.last is None
    assert counts(state) == [2, 3, 1]
    state.history.undo()
    state.take(state.work_out())
    assert counts(state) == [2, 2, 1]
    assert state.answers == {}


def test_choices_are_saved_opened_and_kept_for_a_restart(tmp_path: Path) -> None:
    state = worked()
    (asked,) = state.asked
    state.answer({asked.key: "a copy"})
    path = write_class(state, "choices", str(tmp_path / "class.choices.toml"))
    assert load_choices(path).answers[asked.key].answer == "a copy"
    other = ClassState("copper-silver")
    other.open_bytes(TWICE, "class.csv")
    other.open_choices(path.read_bytes())
    other.take(other.work_out())
    assert other.result is not None
    assert other.result.data.waiting == 0
    again = ClassState("copper-silver")
    again.give_back(state.kept())
    assert again.answers == {asked.key: "a copy"}
    restored = ClassState("copper-silver")
    restored.give_back(other.kept())
    assert restored.class_choices() == other.class_choices()


def test_another_file_forgets_the_answers() -> None:
    state = worked()
    state.answer({state.asked[0].key: "a copy"})
    state.open_bytes(csv_bytes(), "other.csv")
    assert state.answers == {}
    assert state.asked == ()
    assert state.last is None


def test_the_screen_lists_the_questions_with_a_button_for_each_answer() -> None:
    lab = LabState("copper-silver", autosave=False)
    lab.classroom.open_bytes(ALL_WAIT, "class.csv")
    shown = Shown(ClassScreen(lab))
    (asked,) = lab.classroom.asked
    assert lab.classroom.result is None
    assert "1 question is open" in shown.text("questions")
    assert "5 rows of the file wait" in shown.text("verdict")
    shown.press(f"answer:{asked.key}:in this order")
    shown.act("ready")
    assert lab.classroom.result is not None
    assert "single" in shown.text("verdict")
    assert "answered, or taken for now" in shown.text("questions")


def test_the_last_verdict_stays_greyed_while_the_columns_are_wrong() -> None:
    lab = LabState("copper-silver", autosave=False)
    lab.classroom.open_bytes(csv_bytes(), "class.csv")
    shown = Shown(ClassScreen(lab))
    (card,) = shown.blocks("verdict", "verdict")
    headline = card["headline"]
    assert card["look"] == "current"
    lab.classroom.set_column("trial", "E")  # which leaves “paper” without a column
    shown.act("ready")
    (card,) = shown.blocks("verdict", "verdict")
    assert (card["headline"], card["look"]) == (headline, "waits")
    assert "as it was read before" in shown.text("verdict")
    assert all(block["stale"] for block in shown.blocks("candidates", "candidates"))
    lab.classroom.history.undo()
    shown.act("ready")
    (card,) = shown.blocks("verdict", "verdict")
    assert card["look"] == "current"


@pytest.mark.parametrize(
    ("pairs", "left_out"), [(12, ""), (14, "2 more questions are like these.")]
)
def test_twelve_questions_of_a_kind_are_shown_and_the_rest_counted(
    pairs: int, left_out: str
) -> None:
    """Each group has a row twice, with a row of another group between."""
    lab = LabState("copper-silver", autosave=False)
    readings = [f"{2.9 + 0.01 * n:.2f}" for n in range(2 * pairs)]
    first = [(f"g{n}", "1", readings[n], "2.82", "0.75", "1.15") for n in range(pairs)]
    other = [(f"h{n}", "1", readings[pairs + n], "2.80", "0.74", "1.17") for n in range(pairs)]
    between = [row for pair in zip(first, other, strict=True) for row in pair]
    lab.classroom.open_bytes(csv_bytes([*first, *between]), "class.csv")
    shown = Shown(ClassScreen(lab))
    asked = lab.classroom.asked
    assert len(asked) == pairs
    text = shown.text("questions")
    assert f"{pairs} questions are open. The rows they are about ({pairs}) wait" in text
    assert f"All {pairs} on " in text
    assert sum(one.text in text for one in asked) == 12
    assert ("more questions are like these" in text) == bool(left_out)
    assert left_out in text
    shown.press("all:copy:a copy")
    shown.act("ready")
    assert all(lab.classroom.answers[one.key] == "a copy" for one in asked)
    assert f"{pairs} questions answered, or taken for now" in shown.text("questions")
