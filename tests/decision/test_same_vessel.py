"""A vessel that is the same thing in every trial is one unknown, from the file to the verdict.

The larger record is ``tests/studies/same_vessel.md``.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from stoichkit import assess
from stoichkit.classroom.amounts import amounts_of
from stoichkit.classroom.evidence import weighings_of
from stoichkit.decision.evidence import linear_amounts
from stoichkit.experiments.parts import Trial
from stoichkit.experiments.record import Experiment
from stoichkit.experiments.store import parse_experiment
from stoichkit.measurement.displays import Balance
from stoichkit.planning.plan import Plan, operating_characteristic
from stoichkit.reports.lab import lab_report
from stoichkit.reports.worked import worked_solution
from tests.labs import iron_text
from tests.studies.real_labs import limit
from tests.studies.same_vessel import Setting, compatible, weighed

TRIAL = """
[[trials]]
name = "{}"
"nail before" = "3.00"
"nail after" = "2.92"
"paper" = "0.84"
"paper + copper" = "0.94"
"""


def lab(same: bool, trials: int = 3) -> Experiment:
    stated = 'same_vessel = ["paper"]' if same else ""
    every = "".join(TRIAL.format(i + 1) for i in range(trials))
    return parse_experiment(iron_text(0.0, stated) + every)


@pytest.mark.parametrize("setting", [
    Setting("metal", 8.0, 0.0, 3, True, 1 / 3),
    Setting("metal", 8.0, 0.0, 8, True, 0.5),
    Setting("metal", 8.0, 0.15, 5, True, 0.5),
    Setting("metal", 8.0, 0.15, 5, False),
    Setting("hydrate", 40.0, 0.0, 3, True, 1 / 3),
    Setting("hydrate", 40.0, 0.15, 3, True, 0.5),
])  # fmt: skip
def test_the_truth_is_excluded_at_most_as_often_as_stated(setting: Setting) -> None:
    labs = 3000
    fits = compatible(setting, weighed(setting, labs, 11), same=True)[:, 0]
    assert (~fits).mean() <= limit(labs)


def test_left_out_the_promise_is_broken() -> None:
    """What the field is there for: the same readings judged as if each had its own paper."""
    setting = Setting("metal", 8.0, 0.0, 8, True, 0.5)
    worst = 0.0
    for part in (0.0, 1 / 6, 1 / 3, 0.5, 2 / 3, 5 / 6):
        setting = Setting("metal", 8.0, 0.0, 8, True, part)
        fits = compatible(setting, weighed(setting, 1000, 12), same=False)[:, 0]
        worst = max(worst, float((~fits).mean()))
    assert worst > 0.25


def test_more_equal_trials_do_not_help_without_noise() -> None:
    """Three readings that must be alike say what one says of the paper."""
    ratio = 1.0
    three = linear_amounts(lab(True)).blocks(ratio, 1.0)[0]
    alone = linear_amounts(lab(True, 1)).blocks(ratio, 1.0)[0]
    paper, single = (next(b for b in found if b.noise and b.together) for found in (three, three))
    assert paper is single
    assert paper.together == (3,)
    assert all(b.together == () for b in alone)
    own = linear_amounts(lab(False)).distribution(ratio, 1.0).spread
    assert linear_amounts(lab(True)).distribution(ratio, 1.0).spread > 1.2 * own
    # no p-value is smaller than with papers of their own
    stated, left_out = assess(lab(True)), assess(lab(False))
    for name, found in stated.candidates.items():
        assert found.p_value >= left_out.candidates[name].p_value - 1e-9


def test_it_costs_nothing_with_half_a_step_of_scatter() -> None:
    balance = Balance(readability_g=0.01, repeatability_g=0.005)
    stated, left_out = (
        assess(lab(same).with_instrument("balance", balance)) for same in (True, False)
    )
    for name, found in stated.candidates.items():
        assert found.p_value == left_out.candidates[name].p_value


def test_trials_of_other_groups_have_other_vessels() -> None:
    record = lab(True, 4)
    groups = ("red", "red", "blue", "blue")
    trials = [Trial(t.name, t.readings, g) for t, g in zip(record.trials, groups, strict=True)]
    (block,) = (
        b for b in linear_amounts(record.with_trials(trials)).blocks(1.0, 1.0)[0] if b.together
    )
    assert block.together == (2, 2)


def test_it_does_no_harm_in_a_class() -> None:
    """Each group has its own vessel; a group of one trial is what it was without the field."""
    assert weighings_of(lab(True)) is None  # not the quick way, which knows no such vessel
    record = lab(True, 4)
    trials = [Trial(t.name, t.readings, f"group {t.name}") for t in record.trials]
    blocks = amounts_of(assess(record.with_trials(trials))).linear.blocks(1.0, 1.0)[0]
    assert all(b.together == () for b in blocks)


def test_without_a_reading_of_its_own_in_each_trial_every_reading_stands_alone() -> None:
    """The paper weighed once for all trials: nothing to set it against trial by trial."""
    text = lab(True).to_toml().replace('paper = "0.84"\n', "")
    record = parse_experiment(
        text.replace("[[trials]]", '[shared]\npaper = "0.84"\n\n[[trials]]', 1)
    )
    found = assess(record)
    assert all(0 <= c.p_value <= 1 for c in found.candidates.values())
    assert not any(b.together for b in linear_amounts(record).blocks(1.0, 1.0)[0])


def test_the_reports_say_it_and_the_file_keeps_it() -> None:
    record = lab(True)
    again = Experiment.from_json(record.to_json())
    assert again == record
    assert parse_experiment(record.to_toml()) == record
    assert 'same_vessel = ["paper"]' in record.to_toml()
    for document in (lab_report(assess(record)), worked_solution(record)):
        text = " ".join(document.text().split())
        assert "The vessel of “paper” is the same thing in every trial of a group" in text
    assert "same thing" not in worked_solution(lab(False)).text()


def test_a_plan_uses_the_same_limits() -> None:
    """The chance of a single answer is no better than with vessels of their own."""

    def chance(same: bool) -> float:
        plan = Plan(experiment=lab(same), consumed_mol=0.08 / 55.845, trials=3)
        return operating_characteristic(plan).right

    one, own = chance(True), chance(False)
    assert math.isfinite(one)
    assert 0 <= one <= own + 0.02


def test_every_trial_of_the_vessel_counts_once() -> None:
    """The variance of three equal noiseless readings of one vessel: 3² of one, not 3."""
    linear = linear_amounts(lab(True))
    (block,) = (b for b in linear.blocks(1.0, 1.0)[0] if b.together)
    step = 0.01 / 63.546 / 3
    assert block.steps[0] == pytest.approx(step, rel=1e-4)
    assert block.variance == pytest.approx(9 * 2 / 12 * step**2, rel=1e-4)
    assert np.isclose(sum(t.scale**2 / 3 for t in block.terms()), block.variance)
