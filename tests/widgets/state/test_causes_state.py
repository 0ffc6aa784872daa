"""The state of the causes panel: nothing typed is lost, the readings stay where they are."""

from __future__ import annotations

import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.diagnosis.causes import Cause
from stoichkit.diagnosis.effects import Action, Effect
from stoichkit.diagnosis.slips import SlipKind
from stoichkit.errors import ModelError, ReadingError
from stoichkit.measurement.displays import Balance
from stoichkit.widgets.state.causes import (
    MAX_WEIGHINGS,
    CausesChange,
    CausesState,
    Question,
    find,
    read_weighings,
    usual_candidate,
    usual_pair,
    weighed,
)
from stoichkit.widgets.state.readings import ReadingsState

DRY = "0 1.842\n10 1.571\n20 1.469\n30 1.433\n45 1.416"


def heard(state: CausesState) -> list[CausesChange]:
    said: list[CausesChange] = []
    state.subscribe(said.append)
    return said


def found(state: CausesState):
    question = state.question
    assert question is not None
    return find(question)


def test_begins_with_the_nearest_excluded_candidate() -> None:
    assert CausesState("copper-silver").candidate == "copper(I)"
    assert CausesState("copper-silver-coarse").candidate in ("copper(I)", "copper(II)")
    hydrate = CausesState("hydrate-heating")
    assert hydrate.candidate in ("MgSO4·6H2O", "MgSO4·8H2O")
    assert not hydrate.evidence.candidates[hydrate.candidate].compatible


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_is_answered_for_every_candidate(name: str) -> None:
    evidence = assess(experiments.load(name))
    known = None
    for candidate in evidence.candidates:
        answer = find(Question(evidence=evidence, candidate=candidate), known=known)
        assert answer.causes
        assert answer.combination is None or answer.combination.candidate == candidate
        assert [one for one, _ in answer.yields] == list(evidence.candidates)
        assert answer.answers(Question(evidence=evidence, candidate=candidate))
        if known is not None:
            assert answer.slips is known.slips
        known = answer


def test_a_reading_typed_elsewhere_is_followed() -> None:
    shared = ReadingsState("copper-silver")
    state = CausesState(shared)
    said = heard(state)
    shared.set_reading(2, "wire before", "1.34")
    assert said == [CausesChange.READINGS]
    slip = found(state).slips[0]
    assert (slip.kind, slip.trial, slip.corrected) == (SlipKind.TRANSPOSED, "bench 3", ("3.14",))
    assert shared.form.trials[2].readings["wire before"] == "1.34"
    shared.set_reading(2, "wire before", "3.14")
    assert found(state).slips == ()


def test_a_refused_reading_leaves_what_was_found() -> None:
    shared = ReadingsState("copper-silver")
    state = CausesState(shared)
    answer = found(state)
    shared.set_reading(0, "paper", "nonsense")
    assert not state.verdict_current
    assert state.question is not None
    assert answer.answers(state.question)


def test_another_experiment_brings_fresh_choices_and_undo_the_old_ones() -> None:
    shared = ReadingsState("copper-silver")
    state = CausesState(shared)
    state.choose("copper(II)")
    state.set_residue("AgNO3")
    state.set_weighings(DRY)
    said = heard(state)
    shared.load("tin-oxide")
    assert said == [CausesChange.LOADED]
    assert (state.candidate, state.residue, state.choices.weighings) == ("SnO", "", "")
    shared.undo()
    assert said[-1] is CausesChange.LOADED
    assert (state.candidate, state.residue, state.choices.weighings) == ("copper(II)", "AgNO3", DRY)
    shared.undo()
    assert state.choices.weighings == ""
    assert state.residue == "AgNO3"


def test_text_typed_on_is_one_step_to_undo() -> None:
    state = CausesState("copper-silver")
    for text in ("A", "Ag", "AgN", "AgNO3"):
        state.set_residue(text)
    state.readings.undo()
    assert state.choices.residue == ""
    state.readings.redo()
    assert state.residue == "AgNO3"


def test_a_state_that_stops_hears_nothing_and_leaves_the_history() -> None:
    shared = ReadingsState("copper-silver")
    state = CausesState(shared)
    said = heard(state)
    state.set_residue("AgNO3")
    state.stop()
    shared.set_coverage("99 %")
    shared.undo()
    shared.undo()
    assert said == [CausesChange.CHOICE]
    assert state.residue == "AgNO3"


def test_unknown_choices_are_refused_and_change_nothing() -> None:
    state = CausesState("copper-silver")
    said = heard(state)
    with pytest.raises(ModelError, match="no such candidate"):
        state.choose("copper(IV)")
    with pytest.raises(ModelError, match="no such effect"):
        state.combine("wet product", "gas lost")
    with pytest.raises(ModelError, match="the same"):
        state.combine("wet product", "wet product")
    with pytest.raises(ModelError, match="no balance"):
        state.set_balance("scales")
    assert said == []


def test_a_candidate_that_goes_is_replaced_and_comes_back() -> None:
    shared = ReadingsState("copper-silver")
    state = CausesState(shared)
    state.choose("copper(II)")
    shared.set_candidates("copper(I) = 1")
    assert state.candidate == "copper(I)"
    shared.set_candidates("copper(I) = 1\ncopper(II) = 2")
    assert state.candidate == "copper(II)"


@pytest.mark.parametrize(
    ("text", "problem"),
    [("Xx2", "Xx"), ("NO3^-", "charge"), ("AgNO3)", ""), ("<b>", ""), ("A" * 5000, "")],
)
def test_a_residue_that_is_no_salt_is_refused_and_kept(text: str, problem: str) -> None:
    state = CausesState("copper-silver")
    state.set_residue("AgNO3")
    state.set_residue(text)
    assert state.choices.residue == text
    assert problem in str(state.residue_refusal)
    assert state.residue == "AgNO3"
    assert found(state).causes[1].effect.substance == "AgNO3"
    state.set_residue(" ")
    assert state.residue_refusal is None
    assert found(state).causes[1].effect.substance == "salt of the solution"


def test_two_effects_are_combined_as_chosen() -> None:
    state = CausesState("copper-silver")
    assert found(state).question.pair == ("wet product", "product on metal")
    state.combine("damp metal", "lost product")
    answer = found(state)
    assert [e.key for e in answer.combination.effects] == ["damp metal", "lost product"]
    state.choose("copper(II)")
    assert found(state).question.pair == ("damp metal", "lost product")


def test_the_usual_pair_explains_in_two_ways() -> None:
    evidence = assess(experiments.load("copper-silver"))
    causes = find(Question(evidence=evidence, candidate="copper(I)")).causes
    first, second = (next(c for c in causes if c.effect.key == k) for k in usual_pair(causes))
    assert first.explains
    assert second.explains
    assert first.effect.actions != second.effect.actions
    assert usual_pair(causes[:1]) == ("", "")


def cause(key: str, place: str, most: float) -> Cause:
    """Return a cause of which 0.5 g to 1.5 g would make a candidate fit; ``most`` is there."""
    effect = Effect(
        key=key, name=key, mechanism="", check="", applies_to=(),
        actions=(Action("produced", place),),
    )  # fmt: skip
    return Cause(
        effect=effect, candidate="X", needed=1.0, low=0.5, high=1.5, most=most, fraction=0.1,
        fraction_low=0.05, fraction_high=0.15, fraction_of="produced", ratio_change=1,
        fits_without=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("causes", "pair"),
    [
        # a possible one comes first, then the next that acts in another way
        ("heavier:2 heavier:2 lighter:2", ("1", "3")),
        ("heavier:0.1 heavier:2 lighter:0.1", ("2", "3")),
        # all act in one way: the next one
        ("mass:2 mass:2 mass:2", ("1", "2")), ("mass:2 mass:2", ("1", "2")),
        ("mass:0.1 mass:2 mass:0.1", ("2", "1")), ("mass:2", ("", "")), ("", ("", "")),
    ],
)  # fmt: skip
def test_the_usual_pair_of_some_causes(causes: str, pair: tuple[str, str]) -> None:
    parts = [one.split(":") for one in causes.split()]
    made = [cause(str(i), place, float(most)) for i, (place, most) in enumerate(parts, start=1)]
    assert usual_pair(made) == pair


def test_none_fits_begins_with_the_nearest() -> None:
    lab = experiments.load("copper-silver")
    for trial in lab.trials:
        lab = lab.with_reading(trial.name, "paper + silver", "1.35")
    evidence = assess(lab)
    assert not evidence.verdict.candidates
    assert usual_candidate(evidence) == evidence.nearest.name


# Drying


@pytest.mark.parametrize(
    "text",
    [
        "0 1.842\n10 1.571",
        "0;1,842\n10;1,571",
        "0\t1.842\n\n10\t1.571\n",
        " 0, 1,842 \r\n10, 1,571",
    ],
)
def test_lines_are_read_with_any_usual_mark_between(text: str) -> None:
    pairs = [(t, m.replace(",", ".")) for t, m in read_weighings(text)]
    assert pairs == [(0.0, "1.842"), (10.0, "1.571")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0 1.842\n10", "Line 2: this is not a time and a mass."),
        ("0 1.842\n\n10 1.5 2", "Line 3"),
        ("0 1.842\nten 1.571", "Line 2: The time is not a number."),
        ("0 1.842 g", "Line 1"),
        ("0 1.842", "two or more"),
        ("10 1.8\n5 1.7", "later time"),
        ("0 1.8\n0 1.8", "later time"),
        ("0 1.8\n1e999 1.7", "too large"),
    ],
)
def test_lines_that_cannot_be_used_say_which_and_why(text: str, words: str) -> None:
    outcome = weighed(text, Balance(readability_g=0.001))
    assert outcome.found is None
    assert words in str(outcome.refusal)


def test_too_many_lines_are_refused() -> None:
    with pytest.raises(ReadingError, match="too many"):
        read_weighings("\n".join(f"{i} 1.0" for i in range(MAX_WEIGHINGS + 1)))


def test_drying_depends_on_the_balance_and_keeps_what_is_typed() -> None:
    state = CausesState("tin-oxide")
    said = heard(state)
    assert state.drying.found is None
    assert state.drying.refusal is None
    state.set_weighings(DRY)
    assert said == [CausesChange.DRYING]
    assert state.drying.found.constant is False
    assert state.drying.found.next_min > 45
    state.set_weighings(f"{DRY}\n60 x")
    assert state.drying.refusal.problem.startswith("Line 6")
    assert state.choices.weighings == f"{DRY}\n60 x"


def test_digits_that_the_balance_does_not_show_are_asked_about() -> None:
    outcome = weighed("0 1.842\n10 1.571", Balance(readability_g=0.01))
    assert outcome.found is not None
    assert outcome.questions
