"""The self-study panel: nothing typed is lost, hints come one by one, feedback is shown."""

from __future__ import annotations

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.widgets.state.study import StudyState

pytest.importorskip("ipywidgets", reason="ipywidgets is not installed")

from stoichkit.widgets.panels.study import StudyPanel, study_panel


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


def test_the_panel_shows_feedback_beside_the_question() -> None:
    panel = study_panel("copper-silver")
    first, ratio = panel.questions[0], panel.questions[6]
    first.input.value = "0,12"
    first.check.click()
    assert first.feedback.text == "Right."
    assert "stoichkit-right" in first.feedback.look
    ratio.input.value = "0.509"
    ratio.check.click()
    assert ratio.feedback.text.startswith("Not yet. This is upside down")
    ratio.hint.click()
    assert ratio.hints.value.startswith("<ol><li>Divide the amount produced")
    assert panel.progress.text == "1 of 13 answered."
    assert panel.message.text == ""
    panel.close()


def test_choices_are_ticked_and_picked() -> None:
    panel = StudyPanel(StudyState("copper-silver"))
    excluded, conclusion = panel.questions[-2:]
    excluded.check.click()
    assert "1 more belongs" in excluded.feedback.text
    excluded.input[0].value = True
    excluded.check.click()
    assert excluded.feedback.text == "Right."
    conclusion.input.value = "the readings single out one candidate"
    conclusion.check.click()
    assert conclusion.feedback.text == "Right."
    panel.close()


def test_markup_in_an_experiment_is_shown_not_obeyed() -> None:
    text = experiments.read("copper-silver").replace("bench 1", "<b>1</b>")
    panel = study_panel(text)
    pieces = [w.value for w in panel.children[3].children[0].children]
    assert "&lt;b&gt;1&lt;/b&gt;" in "".join(pieces)
    assert "<b>1" not in "".join(pieces)
    panel.close()
