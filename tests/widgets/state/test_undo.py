"""Undo and redo: every change is a step with a name, and nothing typed is lost on the way."""

from __future__ import annotations

import random

import pytest

from stoichkit.errors import ExperimentError
from stoichkit.widgets.kit.history import MOST_STEPS, History
from stoichkit.widgets.state.form import copy_form
from stoichkit.widgets.state.readings import Change, ReadingsState


def test_typing_in_one_field_is_one_step_until_another_field_is_edited() -> None:
    state = ReadingsState("copper-silver")
    for text in ("3", "3.", "3.0", "3.01"):
        state.set_reading(0, "wire before", text)
    state.set_reading(1, "paper", "0.71")
    state.set_reading(0, "wire before", "3.02")
    texts = state.form.trials[0].readings
    assert state.history.undo_words == "typed wire before, bench 1"
    assert state.undo() == "typed wire before, bench 1"
    assert texts is not state.form.trials[0].readings  # a copy: nothing leaks from a step
    assert state.form.trials[0].readings["wire before"] == "3.01"
    assert state.undo() == "typed paper, bench 2"
    assert state.undo() == "typed wire before, bench 1"
    assert state.form.trials[0].readings["wire before"] == "2.94"
    assert not state.can_undo
    with pytest.raises(ExperimentError, match="nothing to undo"):
        state.undo()


def test_a_focus_that_moves_on_ends_the_step() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "3")
    state.history.settle()
    state.set_reading(0, "wire before", "3.5")
    state.undo()
    assert state.form.trials[0].readings["wire before"] == "3"


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda s: s.set_candidates("a = 3/2"), "typed the candidates"),
        (lambda s: s.set_coverage("99 %"), "typed the coverage probability"),
        (lambda s: s.set_title("Wire"), "typed the title"),
        (lambda s: s.set_recovery(low="0.9"), "typed the least fraction recovered"),
        (lambda s: s.set_invented(False), "changed whether the readings are invented"),
        (lambda s: s.set_balance(readability_g="0.1"), "typed balance, readability"),
        (lambda s: s.add_trial(), "added a trial"),
        (lambda s: s.remove_trial(), "removed bench 4"),
        (lambda s: s.load("tin-oxide"), "opened tin-oxide"),
    ],
)
def test_every_change_is_undone_and_done_again(change, words) -> None:
    state = ReadingsState("copper-silver")
    before, verdict = copy_form(state.form), state.evidence.verdict
    change(state)
    after = copy_form(state.form)
    assert after != before or state.name == "tin-oxide"
    assert state.undo() == words
    assert state.form == before
    assert state.evidence.verdict == verdict
    assert state.redo() == words
    assert state.form == after
    assert not state.can_redo


def test_another_experiment_loses_nothing_that_was_typed() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(2, "paper", "0.7o g")
    kept = state.evidence
    state.load("tin-oxide")
    state.set_reading(0, "crucible", "x")
    state.undo()
    state.undo()
    assert state.name == "copper-silver"
    assert state.form.trials[2].readings["paper"] == "0.7o g"
    assert not state.outcome.current
    assert state.evidence.verdict == kept.verdict  # of the texts before the refused one
    state.redo()
    state.redo()
    assert state.form.trials[0].readings["crucible"] == "x"


def test_the_verdict_from_before_a_refusal_comes_back_with_it() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(0, "wire before", "12.94")
    none_fits = state.evidence.verdict
    state.set_reading(1, "wire before", "x")
    state.load("tin-oxide")
    state.undo()
    assert state.evidence.verdict == none_fits


def test_a_trial_that_was_removed_comes_back_by_undo_and_by_adding() -> None:
    state = ReadingsState("copper-silver")
    state.set_reading(3, "paper", "0.77")
    state.remove_trial()
    state.undo()
    assert state.form.trials[3].readings["paper"] == "0.77"
    state.redo()
    state.add_trial()
    assert state.form.trials[3].readings["paper"] == "0.77"


def test_subscribers_hear_what_undo_changed() -> None:
    state = ReadingsState("copper-silver")
    state.set_coverage("0.9")
    state.add_trial()
    state.load("tin-oxide")
    heard: list[Change] = []
    state.subscribe(heard.append)
    for _ in range(3):
        state.undo()
    assert heard == [Change.FORM, Change.TRIALS, Change.TEXT]


def test_what_was_undone_last_is_offered_to_be_done_again() -> None:
    history = History()
    assert history.redo_words == ""
    history.record("typed the coverage probability")
    history.record("typed the title")
    history.undo()
    assert history.redo_words == "typed the title"
    history.undo()
    assert history.redo_words == "typed the coverage probability"
    history.redo()
    assert history.redo_words == "typed the title"


def test_a_new_change_forgets_what_was_undone() -> None:
    state = ReadingsState("copper-silver")
    state.set_coverage("0.9")
    state.undo()
    state.set_title("Wire")
    assert not state.can_redo
    with pytest.raises(ExperimentError, match="nothing to redo"):
        state.redo()


def test_two_hundred_steps_are_kept_and_no_more() -> None:
    state = ReadingsState("copper-silver")
    for count in range(MOST_STEPS + 40):
        state.set_reading(count % 2, "wire before", f"{3 + count / 100:.2f}")
    undone = 0
    while state.can_undo:
        state.undo()
        undone += 1
    assert undone == MOST_STEPS
    assert state.form.trials[1].readings["wire before"] == "3.39"


def test_any_walk_of_changes_is_undone_to_the_beginning() -> None:
    luck = random.Random(5)
    state = ReadingsState("hydrate-heating")
    forms = [copy_form(state.form)]
    for _ in range(30):
        kind = luck.randrange(5)
        if kind == 0 and len(state.form.trials) > 1:
            state.remove_trial()
        elif kind == 1:
            state.add_trial()
        elif kind == 2:
            state.set_coverage(f"0.{luck.randrange(51, 99)}")
        else:
            name = luck.choice([row.name for row in state.form.rows if not row.shared])
            trial = luck.randrange(len(state.form.trials))
            state.set_reading(trial, name, luck.choice(["", "21.2", "x", "20,81; 20,80"]))
        state.history.settle()
        forms.append(copy_form(state.form))
    seen = [copy_form(state.form)]
    while state.can_undo:
        state.undo()
        seen.append(copy_form(state.form))
    distinct = [f for i, f in enumerate(forms) if i == 0 or f != forms[i - 1]]
    assert list(reversed(seen)) == distinct
    while state.can_redo:
        state.redo()
    assert state.form == distinct[-1]


def test_a_part_that_fails_leaves_the_history_usable() -> None:
    history, value = History(), {"text": "a"}

    def give(_: object) -> None:
        raise RuntimeError("boom")

    history.join("part", lambda: dict(value), give)
    history.record("typed")
    value["text"] = "b"
    with pytest.raises(RuntimeError, match="boom"):
        history.undo()
    assert not history.restoring
    history.record("typed again")
    assert history.undo_words == "typed again"
