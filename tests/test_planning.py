"""Chances before the lab: against simulation, and the inverse questions verified."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.design_map import design_map, with_readability
from stoichkit.elements import molar_mass_value
from stoichkit.errors import ModelError
from stoichkit.evidence import assess
from stoichkit.instruments import Balance
from stoichkit.planning import Plan, chances, operating_characteristic
from stoichkit.planning_questions import (
    coarsest_balance,
    fewest_trials,
    largest_recovery,
    smallest_amount,
)
from tests.labs import lab
from tests.studies.planning import SETTINGS, planned, simulated

SILVER = experiments.load("copper-silver")


@pytest.mark.parametrize("setting", SETTINGS[:20], ids=str)
def test_planned_chances_against_simulated_labs(setting: tuple) -> None:
    """20,000 labs, every reading rounded: within 0.005 and three sigma of the sampling error."""
    plan, seen = planned(setting), simulated(setting, 20_000, 7)
    for name in ("right", "wrong", "not_told_apart", "none_fits"):
        p, s = getattr(plan, name), getattr(seen, name)
        sigma = (max(s * (1 - s), 1e-4) / 20_000) ** 0.5
        assert abs(p - s) <= 0.005 + 3 * sigma, name


@pytest.mark.parametrize("name", experiments.names())
def test_every_ready_experiment_can_be_planned(name: str) -> None:
    """Chances add up to 1 and grow to a conclusive lab, whatever the way of measuring."""
    experiment = experiments.load(name)
    typical = abs(assess(experiment).n_consumed.nominal_value)
    truth = experiment.candidates[0].name
    rows = []
    for factor in (0.02, 1.0, 4.0):
        plan = Plan(experiment=experiment, consumed_mol=factor * typical, trials=3)
        found = chances(plan, truth)
        total = found.right + found.wrong + found.not_told_apart + found.none_fits
        assert total == pytest.approx(1.0, abs=1e-9)
        rows.append(found.right)
    assert rows[0] <= rows[-1]
    assert rows[-1] > 0.9


@pytest.mark.parametrize(
    "name", ["hydrate-heating", "tin-oxide", "magnesium-gas", "acid-titration"]
)
def test_other_ways_of_measuring_against_simulated_readings(name: str) -> None:
    """300 labs read to the display and judged one by one: within sampling error."""
    experiment = experiments.load(name)
    truth = experiment.candidates[1].name
    typical = abs(assess(experiment).n_consumed.nominal_value)
    factor = {"hydrate-heating": 0.25, "tin-oxide": 0.02}.get(name, 0.1)
    plan = Plan(experiment=experiment, consumed_mol=factor * typical, trials=1, spread=0.1)
    expected = chances(plan, truth)
    rng = np.random.default_rng(4)
    right = total = 0
    for _ in range(300):
        amount = plan.consumed_mol * (1 + 0.1 * rng.uniform(-1, 1))
        kept = assess(simulated_lab(replace(plan, consumed_mol=amount), truth, rng)).verdict
        right += kept.candidates == (truth,)
        total += 1
    sigma = max(expected.right * (1 - expected.right), 0.01) ** 0.5 / total**0.5
    assert abs(right / total - expected.right) < 0.02 + 4 * sigma


def simulated_lab(plan: Plan, truth: str, rng: np.random.Generator):
    """One lab whose readings carry drawn errors of every instrument and are rounded."""
    from stoichkit.experiment import Trial
    from stoichkit.montecarlo import draw
    from stoichkit.readings import ErrorPool
    from stoichkit.uncertain import contributions

    experiment = plan.experiment
    readings = plan.expected_readings(truth)
    own = {n: (f"{v:.12g}",) for n, v in readings.items() if n not in experiment.shared_readings}
    exact = experiment.with_trials([Trial("1", own)])
    quantities = exact.quantities(exact.trials[0], ErrorPool())
    drawn: dict[int, float] = {}
    vessels: dict[str, float] = {}
    shown = {}
    roles = {r.name: r for r in exact.roles()}
    for reading in own:
        role = roles[reading]
        step = experiment.instruments[role.instrument].readability
        error = 0.0
        for source, c in contributions(quantities[reading]):
            if source.kind != "rounding":
                drawn.setdefault(id(source), float(draw(source, rng, 1)[0]))
                error += c * drawn[id(source)]
        offset = vessels.setdefault(role.vessel_group, rng.uniform(0, 1) * step)
        value = readings[reading] - error + (offset if role.vessel_group else 0.0)
        shown[reading] = (f"{round(value / step) * step:.9f}",)
    return experiment.with_trials([Trial("1", shown)])


def test_answers_are_met_and_one_step_short_is_not() -> None:
    plan = Plan(experiment=SILVER, consumed_mol=0.0006, trials=2)
    for answer in (smallest_amount(plan), fewest_trials(plan), largest_recovery(
        replace(plan, consumed_mol=0.004))):  # fmt: skip
        assert answer.reached
        assert answer.short is not None
        assert answer.at.right >= answer.target > answer.short.right
        again = operating_characteristic(answer.at.plan)
        assert again.right == pytest.approx(answer.at.right)
    step = smallest_amount(plan)
    gap = step.at.plan.consumed_mass_g - step.short.plan.consumed_mass_g
    assert gap == pytest.approx(0.01, rel=1e-6)  # one display step of this balance
    trials = fewest_trials(plan)
    assert trials.at.plan.trials == trials.short.plan.trials + 1


def test_coarsest_balance() -> None:
    plan = Plan(experiment=SILVER, consumed_mol=0.002)
    answer = coarsest_balance(plan)
    assert answer.value == 0.01
    assert answer.short.right < 0.9 <= answer.at.right
    tiny = coarsest_balance(replace(plan, consumed_mol=1e-8), readabilities_g=[0.1, 0.01])
    assert not tiny.reached


def test_no_number_of_trials_is_enough() -> None:
    """A recovery allowance is shared by all trials: it does not average away, and is named."""
    wide = replace(SILVER, recovery=(0.4, 1.6))
    answer = fewest_trials(Plan(experiment=wide, consumed_mol=0.005), most=16)
    assert not answer.reached
    assert answer.limiting == "recovery allowance"
    assert answer.shared_share > 0.8
    assert answer.at.right < 0.9


@pytest.mark.parametrize("trials", [1, 4])
def test_map_equals_direct_calculation(trials: int) -> None:
    masses, steps = np.geomspace(0.005, 5, 30), np.geomspace(0.001, 0.5, 20)
    found = design_map(SILVER, masses_g=masses, readabilities_g=steps, trials=trials)
    rng = np.random.default_rng(0)
    molar = molar_mass_value("Cu")
    checked = 0
    while checked < 12:
        i, j = rng.integers(20), rng.integers(30)
        if not 0.5 < masses[j] / steps[i] < 30:
            continue
        plan = Plan(
            experiment=with_readability(SILVER, float(steps[i])),
            consumed_mol=masses[j] / molar,
            trials=trials,
        )
        direct = operating_characteristic(plan)
        assert found.chance[i, j] == pytest.approx(direct.right, abs=0.005)
        checked += 1
    assert found.chance[0, -1] > 0.95
    assert found.chance[-1, 0] < 0.1


def test_map_with_errors_that_do_not_scale_is_filled_directly() -> None:
    allowed = replace(SILVER, recovery=(0.9, 1.0))
    found = design_map(allowed, masses_g=[0.05, 0.3], readabilities_g=[0.01])
    assert found.chance.shape == (1, 2)
    assert found.chance[0, 0] < found.chance[0, 1]


def test_noise_limited_power_equals_the_normal_formula() -> None:
    """Far above the display step the chance of excluding a rival is that of a z test.

    Source: statsmodels.stats.power.zt_ind_solve_power's formula, one sample, two-sided.
    """
    from statsmodels.stats.power import normal_power

    balance = Balance(readability_g=0.001, repeatability_g=0.05)
    experiment = lab([(30.0, 29.5, 7.0, 8.6)], balance)
    for mass in (0.3, 0.5, 0.8):
        moles = mass / molar_mass_value("Cu")
        plan = Plan(experiment=experiment, consumed_mol=moles, spread=0.0)
        found = chances(plan, "copper(II)")
        rival_excluded = found.right + found.none_fits
        u = 0.05 * 2**0.5 * np.hypot(1 / molar_mass_value("Ag"), 1.0 / molar_mass_value("Cu"))
        # with one observation the effect size is the shift in units of its standard deviation
        assert rival_excluded == pytest.approx(normal_power(moles / u, 1, 0.05), abs=0.005)


@pytest.mark.parametrize(
    "fields",
    [{"consumed_mol": 0.0}, {"consumed_mol": 1.0, "trials": 0}, {"consumed_mol": 1, "spread": 1}],
)
def test_bad_plans_are_refused(fields: dict) -> None:
    with pytest.raises(ModelError):
        Plan(experiment=SILVER, **fields)
