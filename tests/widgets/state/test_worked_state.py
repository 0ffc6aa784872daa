"""What is chosen of the worked solution: it follows the lab, is undone, kept and saved."""

from __future__ import annotations

from pathlib import Path

import pytest

from stoichkit.errors import DataFileError, ExperimentError
from stoichkit.widgets.state.worked import ALL, WorkedState


@pytest.fixture
def state() -> WorkedState:
    return WorkedState("copper-silver")


def test_another_lab_begins_anew_and_undo_brings_the_choices_back(state: WorkedState) -> None:
    state.choose_trial("bench 3")
    state.choose_yield("copper(I)")
    state.choose_style("latex")
    state.name("mine")
    state.may_replace(True)
    before = state.chosen
    state.readings.load("tin-oxide")
    assert state.trial in state.trials
    assert state.trial != "bench 3"
    assert (state.yield_of, state.path, state.replace) == (ALL, "", False)
    assert state.style == "latex"
    state.readings.history.undo()
    assert state.chosen == before
    state.readings.history.redo()
    assert state.trial in state.trials


def test_each_choice_is_a_step_and_the_same_one_is_none(state: WorkedState) -> None:
    history = state.readings.history
    for choose, value, words in (
        (state.choose_trial, "bench 2", "chose the trial shown"),
        (state.choose_yield, "copper(II)", "chose the yield shown"),
        (state.choose_style, "text", "chose how it is shown"),
        (state.choose_kind, "report", "chose what is saved"),
        (state.name, "x.html", "typed the name of a file"),
        (state.may_replace, True, "said whether a file may be replaced"),
    ):
        choose(value)  # type: ignore[operator]
        assert history.undo_words == words
        choose(value)  # type: ignore[operator]
        history.undo()
        assert history.undo_words != words
        choose(value)  # type: ignore[operator]
    state.choose_kind("worked")
    assert state.path == ""


@pytest.mark.parametrize(
    ("method", "words"),
    [("choose_trial", "no such trial"), ("choose_yield", "no such candidate"),
     ("choose_style", "no such style"), ("choose_kind", "no such document")],
)  # fmt: skip
def test_what_is_not_there_cannot_be_chosen(method: str, words: str, state: WorkedState) -> None:
    before = state.chosen
    with pytest.raises(ExperimentError, match=words):
        getattr(state, method)("nowhere")
    assert state.chosen == before


def test_choices_are_kept_and_what_is_none_of_them_is_left_out(state: WorkedState) -> None:
    state.choose_trial("bench 3")
    state.choose_style("markdown")
    state.may_replace(True)
    tables = state.tables()
    other = WorkedState("copper-silver")
    other.restore_tables(tables)
    assert (other.trial, other.style, other.replace) == ("bench 3", "markdown", False)
    other.restore_tables({"trial": "gone", "style": "docx", "kind": 3, "yield_of": "gold"})
    assert (other.trial, other.yield_of, other.style, other.kind) == (
        "bench 1", ALL, "markdown", "worked",
    )  # fmt: skip
    other.restore_tables(["trial"])
    assert other.trial == "bench 1"


def test_a_trial_that_is_removed_is_no_longer_chosen(state: WorkedState) -> None:
    state.choose_trial("bench 4")
    state.readings.remove_trial()
    state.fit()
    assert state.trial == "bench 1"
    state.choose_trial(ALL)
    state.fit()
    assert state.trial == ALL


def test_what_is_saved_is_that_of_the_texts_as_they_stand(
    state: WorkedState, tmp_path: Path
) -> None:
    assert state.suggested("worked") == "copper-silver-worked.html"
    assert state.suggested("report") == "copper-silver-report.html"
    state.choose_style("latex")
    assert state.suggested("worked") == "copper-silver-worked.tex"
    assert state.suggested("hand-in") == "copper-silver-hand-in.html"
    assert state.endings == ".html, .md, .txt or .tex"
    state.choose_kind("report")
    assert state.endings == ".html or .md"
    made = {kind: state.written(kind, "x.md").decode() for kind in ("worked", "report", "hand-in")}
    assert made["worked"].startswith("# Worked solution: ")
    assert len({*made.values()}) == 3
    with pytest.raises(DataFileError):
        state.written("report", "x.tex")
    place = state.save("worked", str(tmp_path / "a.md"))
    assert state.save("worked", str(place)) == place  # one's own may be written again
    foreign = tmp_path / "b.md"
    foreign.write_text("mine", "utf-8")
    with pytest.raises(ExperimentError, match="exists already"):
        state.save("worked", str(foreign))
    assert state.save("worked", str(foreign), replace=True) == foreign
    assert state.status() == "Up to date."
    state.readings.set_reading(0, "paper", "x")
    with pytest.raises(ExperimentError, match="Nothing is saved"):
        state.save("worked", str(tmp_path / "c.md"))
    assert state.status().startswith("Not updated: bench 1, paper. ")
    assert state.status().endswith(" What is shown is from before that.")
