"""The state of “What the balance can tell”, without Jupyter."""

from __future__ import annotations

import pytest

from stoichkit import experiments
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.planning.plan import chances
from stoichkit.widgets.kit.work import Stopped
from stoichkit.widgets.state.balance import READABILITIES_G, BalanceState, amount_stops


def test_readabilities_go_in_steps_of_1_2_5() -> None:
    assert READABILITIES_G[0] == 0.0001
    assert READABILITIES_G[-1] == 1.0
    assert len(READABILITIES_G) == 13
    assert {f"{step:.0e}"[0] for step in READABILITIES_G} == {"1", "2", "5"}


def test_amounts_rise_by_equal_ratios() -> None:
    stops = amount_stops(0.05)
    assert list(stops) == sorted(set(stops))
    assert stops[-1] / stops[0] == pytest.approx(1000, rel=0.01)


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_can_be_explored(name: str) -> None:
    state = BalanceState(name)
    assert state.labs.counts.labs == 400
    assert state.truth in [c.name for c in state.base.candidates]
    assert state.stops[0] <= state.amount <= state.stops[-1]
    assert state.sentence
    state.set_readability(0.1)
    state.set_trials(3)
    assert state.labs.plan.trials == 3
    unit = "mmol" if state.base.consumed.species == "e-" else "g"
    assert state.amount_unit == unit
    assert not state.amount_label.endswith(unit)


def test_a_coarser_balance_tells_less_and_more_copper_makes_up_for_it() -> None:
    state = BalanceState("copper-silver")
    fine = state.labs.counts.right
    state.set_readability(0.1)
    coarse = state.labs.counts.right
    state.set_amount(10 * state.amount)
    assert coarse < 0.2 * fine
    assert state.labs.counts.right == pytest.approx(fine, abs=25)


def test_repeatability_is_in_display_steps() -> None:
    state = BalanceState("copper-silver")
    state.set_readability(0.02)
    state.set_repeatability(1.5)
    balance = state.plan.experiment.instruments["balance"]
    assert (balance.readability_g, balance.repeatability_g) == (0.02, pytest.approx(0.03))
    state.set_repeatability(0)
    assert state.plan.experiment.instruments["balance"].repeatability_g == 0.0


def test_labs_are_simulated_only_when_asked_for_and_once() -> None:
    state = BalanceState("copper-silver")
    before = state.simulations
    for step in READABILITIES_G:
        state.set_readability(step)
    assert state.simulations == before
    assert state.labs is state.labs
    assert state.simulations == before + 1


def test_subscribers_hear_of_changes_only() -> None:
    state, heard = BalanceState("copper-silver"), []
    stop = state.subscribe(heard.append)
    state.set_readability(state.readability_g)
    state.set_readability(0.05)
    state.load("tin-oxide")
    stop()
    state.set_trials(2)
    assert heard == [False, True]


@pytest.mark.parametrize(
    ("method", "value"),
    [
        ("set_readability", 0.0),
        ("set_readability", float("nan")),
        ("set_repeatability", -1.0),
        ("set_amount", 0.0),
        ("set_trials", 17),
        ("set_trials", 1.5),
        ("set_truth", "copper(IV)"),
    ],
)
def test_what_cannot_be_used_is_refused_and_changes_nothing(method: str, value: object) -> None:
    state = BalanceState("copper-silver")
    before, heard = state.plan, []
    state.subscribe(heard.append)
    with pytest.raises(ModelError):
        getattr(state, method)(value)
    assert state.plan == before
    assert not heard


def test_unknown_experiment_changes_nothing() -> None:
    state = BalanceState("copper-silver")
    with pytest.raises(ExperimentError):
        state.load("copper-gold")
    assert state.name == "copper-silver"


def test_a_record_of_ones_own_is_taken() -> None:
    lab = experiments.load("copper-silver-coarse")
    assert BalanceState(lab).base is lab
    assert BalanceState(experiments.read("tin-oxide")).name == ""


def test_comparison_is_that_of_the_plans() -> None:
    state = BalanceState("copper-silver")
    state.set_readability(0.05)
    said: list[str] = []
    rows = state.comparison(said.append)
    assert [row.readability_g for row in rows] == [0.1, 0.05, 0.01, 0.001]
    assert rows[1].chances == chances(state.plan, state.truth)
    assert rows[1].counts == state.labs.counts
    assert said[0] == "Working out the exact chances, balance 1 of 4 …"


def test_comparison_can_be_stopped() -> None:
    def report(words: str) -> None:
        if "2 of" in words:
            raise Stopped

    with pytest.raises(Stopped):
        BalanceState("copper-silver").comparison(report)
