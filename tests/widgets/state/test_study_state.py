"""The self-study panel: nothing typed is lost, hints come one by one, feedback is shown."""

from __future__ import annotations

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.widgets.state.study import StudyState

pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")


def test_hints_come_one_by_one_and_end_with_the_answer() -> None:
    state = StudyState("copper-silver")
    shown = []
    while words := state.hint(0):
        shown.append(words)

    assert shown == [
        "It is wire before − wire after.",
        "wire before = 2.94; wire after = 2.82.",
        "The answer is 0.12 g",
    ]
    assert not state.answers[0].solved


def test_text_is_kept_and_feedback_belongs_to_it() -> None:
    state = StudyState(experiments.load("tin-oxide"))
    heard: list[int] = []
    state.subscribe(heard.append)
    state.type(0, "much")
    assert state.check(0).kind == "not read"
    assert state.answers[0].text == "much"
    state.type(0, "0.643")
    assert state.answers[0].feedback is None
    assert state.check(0).accepted
    state.type(0, "1")
    assert state.answers[0].solved
    assert heard == [0, 0, 0, 0, 0]
    assert state.progress.startswith("1 of ")


def test_wrong_numbers_and_names_are_refused() -> None:
    with pytest.raises(ModelError, match="no such question"):
        StudyState().type(99, "1")
    with pytest.raises(ExperimentError):
        StudyState("unobtainium")
