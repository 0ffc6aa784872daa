"""What labs of the plan would find, without Jupyter."""

from __future__ import annotations

import pytest

from stoichkit import experiments
from stoichkit.errors import ModelError
from stoichkit.planning.plan import chances
from stoichkit.widgets.kit.work import Stopped
from stoichkit.widgets.state.labs import LabsState
from stoichkit.widgets.state.plan import USUAL_STEPS_G, PlanState


def labs_of(name: str = "copper-silver", **figures: str) -> LabsState:
    plan = PlanState(name)
    for figure, text in figures.items():
        plan.set(figure, text)
    return LabsState(plan)


def test_usual_steps_go_in_1_2_5() -> None:
    assert (USUAL_STEPS_G[0], USUAL_STEPS_G[-1], len(USUAL_STEPS_G)) == (0.0001, 1.0, 13)
    assert {f"{step:.0e}"[0] for step in USUAL_STEPS_G} == {"1", "2", "5"}


@pytest.mark.parametrize("name", experiments.names())
def test_labs_of_every_ready_experiment_are_simulated(name: str) -> None:
    state = labs_of(name, trials="3")
    assert state.truth in [c.name for c in state.plan.base.candidates]
    state.set_step(0.1)
    found = state.simulate()
    assert found.counts.labs == 400
    assert found.plan.trials == 3


def test_a_coarser_balance_tells_less_and_more_copper_makes_up_for_it() -> None:
    state = labs_of(amount="0.05", trials="1")
    fine = state.simulate().counts.right
    state.set_step(0.1)
    coarse = state.simulate().counts.right
    state.plan.set("amount", "0.5")
    assert coarse < 0.2 * fine
    assert state.simulate().counts.right == pytest.approx(fine, abs=25)


def test_other_balances_repeat_as_many_steps_as_that_of_the_plan() -> None:
    state = labs_of(repeatability="0.015")
    state.set_step(0.02)
    balance = state.looked_at.experiment.instruments["balance"]
    assert (balance.readability_g, balance.repeatability_g) == (0.02, pytest.approx(0.03))
    assert state.plan_on(0.01) is state.plan.figures.plan


def test_the_step_of_the_plan_leads_back_to_it() -> None:
    state = labs_of()
    state.set_step(0.1)
    state.plan.set("readability", "0.1")
    assert state.looked_at.experiment.instruments["balance"].readability_g == 0.1
    state.set_step(0.1)
    assert state.choices.step == ""
    state.plan.set("readability", "0.003")
    assert state.step_g == 0.003
    assert 0.003 in state.steps_g


@pytest.mark.parametrize(
    ("method", "value"),
    [
        ("set_step", 0.0),
        ("set_step", float("nan")),
        ("set_step", 0.15),
        ("set_truth", "copper(IV)"),
    ],
)
def test_what_cannot_be_used_is_refused_and_changes_nothing(method: str, value: object) -> None:
    state, heard = labs_of(), []
    state.subscribe(heard.append)
    with pytest.raises(ModelError):
        getattr(state, method)(value)
    assert not heard
    assert not state.plan.history.can_undo


def test_choices_are_undone_and_left_behind_with_the_lab() -> None:
    state = labs_of()
    state.set_truth("copper(I)")
    for step in (0.02, 0.05, 0.1):
        state.set_step(step)
    assert state.plan.history.undo() == "looked at another balance"
    assert (state.truth, state.step_g) == ("copper(I)", 0.01)
    state.set_step(0.1)
    state.plan.load("tin-oxide")
    assert state.choices.step == ""
    state.plan.history.undo()
    assert (state.truth, state.step_g) == ("copper(I)", 0.1)


def test_comparison_is_that_of_the_plans() -> None:
    state = labs_of(amount="0.05", trials="1")
    state.set_step(0.05)
    said: list[str] = []
    rows = state.comparison(said.append)
    assert [row.readability_g for row in rows] == [0.1, 0.05, 0.01, 0.001]
    assert rows[1].chances == chances(state.looked_at, state.truth)
    assert rows[1].counts == state.simulate().counts
    assert said[0] == "Working out the exact chances, balance 1 of 4 …"


def test_comparison_can_be_stopped() -> None:
    def report(words: str) -> None:
        if "2 of" in words:
            raise Stopped

    with pytest.raises(Stopped):
        labs_of().comparison(report)
