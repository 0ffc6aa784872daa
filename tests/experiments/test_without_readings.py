"""A lab that has no readings yet: kept, saved, planned; judged only once there are some."""

from __future__ import annotations

from dataclasses import replace

import pytest

import stoichkit
from stoichkit import experiments
from stoichkit.bench import bench_plan
from stoichkit.errors import ExperimentError, ModelError
from stoichkit.experiments.record import Experiment
from stoichkit.planning import Plan, operating_characteristic


def empty(name: str) -> Experiment:
    lab = experiments.load(name)
    return replace(lab, trials=(), order=lab.reading_names())


@pytest.mark.parametrize("name", experiments.names())
def test_it_is_saved_and_read_back_with_the_order_of_its_readings(name: str) -> None:
    lab = experiments.load(name)
    assert experiments.parse_experiment(empty(name).to_toml()) == empty(name)
    assert experiments.Experiment.from_json(empty(name).to_json()) == empty(name)
    assert empty(name).reading_names() == lab.reading_names()


def test_it_is_not_judged_but_says_what_to_read() -> None:
    with pytest.raises(ExperimentError, match="no readings yet") as caught:
        stoichkit.assess(empty("copper-silver"))
    assert caught.value.fix == "Read in each trial: wire before, wire after, paper, paper + silver."


@pytest.mark.parametrize("name", ["copper-silver", "hydrate-heating", "tin-oxide"])
def test_what_is_planned_does_not_hang_on_the_readings(name: str) -> None:
    """What vessels weigh moves no amount, so the chances are those of the lab with readings."""
    with_readings, without = (
        operating_characteristic(Plan(experiment=lab, consumed_mol=0.002, trials=2))
        for lab in (experiments.load(name), empty(name))
    )
    assert without.right == pytest.approx(with_readings.right, abs=1e-12)


@pytest.mark.parametrize("name", experiments.names())
def test_a_bench_plan_and_a_sheet_are_made_before_the_first_reading(name: str) -> None:
    plan = bench_plan(empty(name), reacting_mol=0.002)
    assert plan.text()
    assert stoichkit.bench.sheet_columns(empty(name))


def test_columns_of_readings_become_trials_in_the_order_of_the_bench() -> None:
    lab = experiments.load("hydrate-heating")
    columns = {
        name: [trial.readings[name] for trial in lab.trials]
        for name in reversed(lab.reading_names())
    }
    made = empty("hydrate-heating").with_readings(columns)
    assert made.trials == lab.trials
    assert [*made.trials[0].readings] == [*lab.trials[0].readings]
    assert stoichkit.assess(made).verdict.candidates == stoichkit.assess(lab).verdict.candidates


@pytest.mark.parametrize(
    ("columns", "names", "field"),
    [
        ({"wire before": ["1.00"], "wire after": []}, (), 'trials[1]."wire after"'),
        ({"wire before": ["1.00", "x"]}, (), 'trials[2]."wire before"'),
        ({"wire before": ["1.00"]}, (), 'trials[1]."wire after"'),
        ({"wire befor": ["1.00"]}, (), 'trials[1]."wire befor"'),
        ({"wire before": ["1.00"]}, ["a", "b"], 'trials[2]."wire before"'),
        ({"wire before": "1.00"}, (), "readings of wire before"),
    ],
)
def test_columns_that_are_no_trials_are_refused(
    columns: dict[str, list[str]], names: list[str], field: str
) -> None:
    with pytest.raises(ExperimentError) as caught:
        empty("copper-silver").with_readings(columns, names=names)
    assert caught.value.field == field


def test_the_order_stated_wins_over_that_of_the_trials() -> None:
    lab = experiments.load("copper-silver")
    order = ("paper", "paper + silver", "wire before", "wire after")
    assert replace(lab, order=order).reading_names() == order


def test_a_class_is_judged_by_its_own_rows_alone() -> None:
    rows = (
        b"group,wire before,wire after,paper,paper + silver\n"
        b"a,2.94,2.82,0.75,1.15\nb,3.1,3.0,0.7,1.04\nc,3.2,2.9,0.7,1.72\n"
    )
    lab = experiments.load("copper-silver")
    with_readings, without = (
        stoichkit.assess_class(rows, one) for one in (lab, empty("copper-silver"))
    )
    assert without.verdict.verdict == with_readings.verdict.verdict


def test_what_looks_at_readings_finds_none() -> None:
    assert stoichkit.find_slips(empty("copper-silver")) == ()
    with pytest.raises(ModelError, match="no readings yet"):
        bench_plan(empty("copper-silver"))
    with pytest.raises(ExperimentError, match="no readings yet"):
        stoichkit.worked_solution(empty("copper-silver"))
