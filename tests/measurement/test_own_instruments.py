"""Trials that were read on other instruments than the amounts name, from the file to the verdict.

The larger record is ``tests/studies/two_balances.md``.
"""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

import stoichkit
from stoichkit import assess, experiments
from stoichkit.decision.evidence import linear_amounts, still_changing
from stoichkit.decision.verdict import CaveatKind
from stoichkit.diagnosis.slips import find_slips, off_grid
from stoichkit.errors import ExperimentError
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.planning.following import next_trials
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from tests.studies.real_labs import limit
from tests.studies.two_balances import Setting, compatible, record, weighed


def mixed(*steps: str) -> Experiment:
    """Return iron in copper sulfate, each trial on a balance of its step."""
    rows = {"0.1": ("7.3", "6.2", "53.4", "54.7"), "0.01": ("7.31", "6.19", "53.41", "54.68")}
    read = [rows[step] for step in steps]
    return stoichkit.weighed(
        {"Fe": [row[:2] for row in read]}, {"Cu": [row[2:] for row in read]},
        states=[2, 3], balance_g=list(steps),
    )  # fmt: skip


def test_each_trial_has_the_rounding_of_its_own_balance() -> None:
    """By hand: rounding to steps of d has the standard uncertainty d/sqrt(12)."""
    lab = mixed("0.1", "0.01")
    for (consumed, _), step in zip(lab.amounts(), (0.1, 0.01), strict=True):
        noise = step / 2
        mass_u = math.sqrt(2 * (step**2 / 12 + noise**2))
        molar_mass = 55.845
        assert consumed.std_dev == pytest.approx(mass_u / molar_mass, rel=1e-3)


def test_one_balance_named_twice_is_the_same_as_one() -> None:
    """A second balance with the figures of the first changes no number."""
    lab = experiments.load("copper-silver")
    same = lab.with_instrument("other", lab.instruments["balance"])
    own = [replace(t, instruments={"balance": "other"} if i % 2 else {})
           for i, t in enumerate(lab.trials)]  # fmt: skip
    plain, twice = assess(lab), assess(same.with_trials(own))
    for name, one in plain.candidates.items():
        assert twice.candidates[name].p_value == one.p_value
    assert twice.overturned_by[0].size == pytest.approx(plain.overturned_by[0].size, rel=1e-9)


@pytest.mark.parametrize("setting", [
    Setting(0.05, 1, 2, 8.0, 0.5, True, 0.5),
    Setting(0.05, 2, 1, 3.0, 0.15, True, 1 / 3),
    Setting(0.02, 1, 1, 3.0, 0.0, True, 0.5),
    Setting(0.01, 2, 2, 8.0, 0.0, False),
])  # fmt: skip
def test_the_truth_is_excluded_at_most_as_often_as_stated(setting: Setting) -> None:
    labs = 4000
    fits = compatible(setting, weighed(setting, labs, 5))[:, 0]
    assert (~fits).mean() <= limit(labs)


def test_readings_of_other_steps_are_other_blocks() -> None:
    """Merged by their root mean square, two and one trials would be one block of three."""
    setting = Setting(0.02, 2, 1, 8.0, 0.0, True)
    linear = linear_amounts(record(setting, weighed(setting, 1, 3)))
    blocks, _ = linear.blocks(1.0, 1.0)
    assert sorted(block.count for block in blocks) == [1, 1, 2, 2]
    steps = sorted(block.steps[0] for block in blocks if block.count == 2)
    assert steps[0] == pytest.approx(0.1 / 3 / 63.546, rel=1e-4)
    assert steps[1] == pytest.approx(0.1 / 3 / 55.845, rel=1e-4)


def test_scatter_is_judged_against_each_display() -> None:
    """One coarse trial among fine ones scatters as its own display lets it: rarely an excess.

    Against the average variance the coarse trial alone would be called an excess whenever its own
    deviation passes 1.8 standard deviations, in about 7 % of labs.
    """
    setting = Setting(0.01, 1, 4, 30.0, 0.5, True)
    tables = weighed(setting, 400, 8)
    found = []
    for i in range(400):
        lab = record(setting, {name: t[i : i + 1] for name, t in tables.items()})
        scatter = linear_amounts(lab).scatter()
        assert scatter is not None
        found.append(scatter.excess)
    assert np.mean(found) <= 0.01 + 3 * math.sqrt(0.01 * 0.99 / 400)


def test_the_finer_trials_are_told_apart() -> None:
    """A coarse trial beside a fine one makes the mean worse than the fine one is alone."""
    evidence = assess(mixed("0.1", "0.01"))
    alone = evidence.finer_alone
    assert alone is not None
    assert [t.name for t in alone.experiment.trials] == ["2"]
    assert CaveatKind.FINER_ALONE in [caveat.kind for caveat in evidence.verdict.warnings]
    said = " ".join(lab_report(evidence).text().split())
    assert "Trial 2 alone leaves less uncertain than all together and would single" in said
    assert "Trial 2: read on “balance 2” in place of “balance”" in said
    assert assess(experiments.load("copper-silver")).finer_alone is None


def test_everything_else_takes_the_balance_of_the_trial() -> None:
    lab = mixed("0.1", "0.01", "0.01")
    assert lab.questions() == ()
    swapped = lab.with_reading("2", "Fe before", "7.3")
    assert ["fewer decimals" in str(q) for q in swapped.questions()] == [True]
    assert [one[:3] for one in off_grid(lab.with_reading("1", "Fe before", "7.31"))] == [
        ("1", "Fe before", "7.31")
    ]
    assert list(off_grid(lab)) == []
    assert lab.read_on("Fe before") == ("balance", "balance 2")
    assert find_slips(lab) == ()
    worked = worked_solution(assess(lab), trial="2").text()
    assert "7.31" in worked
    assert next_trials(assess(lab), most=2).ways


def test_constant_mass_is_judged_by_the_balance_used() -> None:
    """A change of 0.02 g shows on a balance that reads to 0.01 g, not on one to 0.1 g."""
    lab = experiments.load("hydrate-heating")
    first = lab.trials[0]
    changed = {**first.readings, "crucible + residue": ("21.26", "21.18")}
    lab = lab.with_instrument("coarse", Balance(readability_g=0.1))
    fine = lab.with_trials([replace(first, readings=changed)])
    coarse = lab.with_trials([replace(first, readings=changed, instruments={"balance": "coarse"})])
    assert [len(still_changing(one)) for one in (fine, coarse)] == [1, 0]


def test_the_file_keeps_it() -> None:
    lab = mixed("0.1", "0.01")
    text = lab.to_toml()
    assert '[trials.instruments]\nbalance = "balance 2"' in text
    assert parse_experiment(text) == lab
    assert Experiment.from_json(lab.to_json()) == lab
    assert json.loads(lab.to_json())["trials"][1]["instruments"] == {"balance": "balance 2"}


@pytest.mark.parametrize(
    ("instruments", "said"),
    [
        ({"scales": "balance"}, "No reading is made on an instrument of this name"),
        ({"balance": "balanse 2"}, "Did you mean “balance 2”"),
        ({"balance": ""}, "cannot be the name of an instrument"),
        ("balance 2", "The instruments of a trial are not a table"),
    ],
)
def test_what_cannot_stand_in_its_place_is_refused(instruments: object, said: str) -> None:
    lab = mixed("0.1", "0.01")
    with pytest.raises(ExperimentError, match=said):
        lab.with_trials([Trial("1", lab.trials[0].readings, instruments=instruments)])  # type: ignore[arg-type]


def test_an_instrument_of_another_kind_is_refused() -> None:
    lab = experiments.load("copper-plating")
    own = replace(lab.trials[0], instruments={"ammeter": "timer"})
    with pytest.raises(ExperimentError, match="cannot stand in the place of “ammeter”"):
        lab.with_trials([own])


def test_one_balance_a_trial_is_asked_for() -> None:
    with pytest.raises(ExperimentError, match="There is not one balance for each trial"):
        stoichkit.weighed(
            {"Fe": [["7.3", "6.2"]]}, {"Cu": [["53.4", "54.7"]]}, balance_g=["0.1", "0.01"]
        )
