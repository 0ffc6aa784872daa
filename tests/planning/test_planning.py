"""Chances before the lab: against simulation, and the inverse questions verified."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.evidence import assess
from stoichkit.errors import ModelError
from stoichkit.measurement.displays import Balance
from stoichkit.planning.design import design_map, with_readability
from stoichkit.planning.plan import Plan, chances, operating_characteristic
from stoichkit.planning.questions import (
    coarsest_balance,
    fewest_trials,
    largest_recovery,
    smallest_amount,
)
from stoichkit.planning.simulation import simulate_labs
from tests.labs import lab
from tests.studies.planning import SETTINGS, planned, simulated

SILVER = experiments.load("copper-silver")


@pytest.mark.parametrize("setting", [*SETTINGS[:20], *SETTINGS[-2:]], ids=str)
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
    from stoichkit.experiments.parts import Trial
    from stoichkit.uncertainty.montecarlo import draw
    from stoichkit.uncertainty.readings import ErrorPool
    from stoichkit.uncertainty.sources import contributions

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


@pytest.mark.parametrize(
    ("name", "mass_g", "trials", "truth"),
    [
        ("hydrate-heating", 0.16, 1, 1),
        ("hydrate-heating", 0.3, 1, 1),
        ("tin-oxide", 0.02, 1, 0),
        ("copper-silver", 0.03, 1, 1),
        ("copper-silver", 0.05, 3, 0),
        ("copper-silver-coarse", 0.4, 2, 1),
    ],
)
def test_recovery_allowance_at_few_steps_against_simulated_labs(
    name: str, mass_g: float, trials: int, truth: int
) -> None:
    """60,000 labs whose digits are read after the loss: 0.005 and three sigma of the sampling."""
    experiment = replace(experiments.load(name), recovery=(0.9, 1.05))
    moles = mass_g / molar_mass_value(experiment.consumed.species)
    plan = Plan(experiment=experiment, consumed_mol=moles, trials=trials)
    known = experiment.candidates[truth].name
    expected, seen = chances(plan, known), simulate_labs(plan, known, labs=60_000, seed=9).counts
    for part in ("right", "wrong", "not_told_apart", "none_fits"):
        p, s = getattr(expected, part), getattr(seen, part) / seen.labs
        assert abs(p - s) <= 0.005 + 3 * (max(s * (1 - s), 1e-4) / seen.labs) ** 0.5, part


@pytest.mark.parametrize(
    ("name", "steps", "noise", "recovery", "spread"),
    [
        ("hydrate-heating", 16.0, 0.5, (0.6, 1.1), 0.1),
        ("hydrate-heating", 28.0, 0.5, (0.9, 1.05), 0.0),
        ("tin-oxide", 24.0, 0.5, (0.8, 1.0), 0.1),
        ("tin-oxide", 15.0, 0.0, (0.97, 1.0), 0.5),
        ("copper-silver", 70.0, 0.5, (0.97, 1.0), 0.0),
        ("copper-silver", 12.0, 0.2, (0.7, 1.4), 0.1),
    ],
)
def test_wide_allowances_against_labs_judged_one_by_one(
    name: str, steps: float, noise: float, recovery: tuple[float, float], spread: float
) -> None:
    """The limits grow with the amount found, and the recovered fraction is never outside."""
    plan = allowed_plan(name, steps, noise, recovery, spread)
    truth = plan.experiment.candidates[1].name
    p, kept = chances(plan, truth), judged_labs(plan, truth, 60_000)
    alone = kept.sum(axis=1) == 1
    for expected, seen in (
        (p.right, alone & kept[:, 1]),
        (p.wrong, alone & ~kept[:, 1]),
        (p.none_fits, ~kept.any(axis=1)),
    ):
        s = float(seen.mean())
        assert abs(expected - s) <= 0.005 + 3 * (max(s * (1 - s), 1e-4) / len(kept)) ** 0.5


def allowed_plan(
    name: str, steps: float, noise: float, recovery: tuple[float, float], spread: float
) -> Plan:
    """Return a plan for one trial, its mass and repeatability in steps of the balance."""
    experiment = experiments.load(name)
    balance = experiment.instruments["balance"]
    step = balance.readability_g
    experiment = experiment.with_instrument(
        "balance", replace(balance, repeatability_g=noise * step)
    )
    moles = steps * step / molar_mass_value(experiment.consumed.species)
    return Plan(
        experiment=replace(experiment, recovery=recovery), consumed_mol=moles, spread=spread
    )


def judged_labs(plan: Plan, truth: str, labs: int) -> np.ndarray:
    """Weigh in one or two vessels, and test every lab with its own half-width of the allowance."""
    from stoichkit.planning.plan import nominal_lab
    from stoichkit.uncertainty.digits import rounded_up, split_narrow, worst_position_tails
    from stoichkit.uncertainty.sources import Shape, Term

    experiment, rng = plan.experiment, np.random.default_rng(3)
    a, b = experiment.consumed, experiment.produced
    low, high = experiment.recovery
    gain, half = (1 / low + 1 / high) / 2, (1 / low - 1 / high) / 2
    moles = plan.consumed_mol * (1 + plan.spread * rng.uniform(-1, 1, labs))
    ratio = float({c.name: c.ratio for c in experiment.candidates}[truth])
    found = ratio * moles / rng.uniform(1 / high, 1 / low, labs)
    first, second = rng.uniform(20, 21, (2, labs))
    molar = molar_mass_value(a.species), molar_mass_value(b.species)
    if b.lighter == a.heavier:
        second = first + moles * molar[0]
    true = {a.lighter: first, a.heavier: first + moles * molar[0]}
    true |= {b.lighter: second, b.heavier: second + found * molar[1]}
    balance = experiment.instruments["balance"]
    step, sigma = balance.readability_g, balance.repeatability
    shown = {n: np.round((m + rng.normal(0, sigma, labs)) / step) * step for n, m in true.items()}
    n_a = (shown[a.heavier] - shown[a.lighter]) / molar[0]
    n_b = gain * (shown[b.heavier] - shown[b.lighter]) / molar[1]
    linear = nominal_lab(plan, truth)
    allowance = np.abs(n_b) / gain * half
    kept = []
    for candidate in experiment.candidates:
        r = float(candidate.ratio)
        blocks, rest = linear.blocks(r, 1.0)
        planned = linear.mean_produced / gain * half
        others = [t for t in rest if t.scale != pytest.approx(planned, rel=1e-6)]
        assert len(others) == len(rest) - 1
        grade = np.array([rounded_up(max(w, 1e-12)) for w in allowance])
        p = np.empty(labs)
        for size in np.unique(grade):
            here = grade == size
            wide, narrow = split_narrow([*others, Term(Shape.RECTANGULAR, float(size))], blocks)
            reach = np.full(here.sum(), narrow)
            p[here] = worst_position_tails(n_b[here] - r * n_a[here], blocks, wide, reach)
        kept.append(p >= 1 - experiment.coverage)
    return np.column_stack(kept)


QUESTIONS = {
    "amount": smallest_amount,
    "trials": fewest_trials,
    "balance": coarsest_balance,
    "recovery": largest_recovery,
}


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize(
    ("name", "moles"),
    [
        ("copper-silver", {"amount": 6e-4, "trials": 5e-4, "balance": 2e-3, "recovery": 4e-3}),
        ("tin-oxide", {"amount": 5e-4, "trials": 2e-4, "balance": 1e-3, "recovery": 1e-3}),
        ("magnesium-gas", {"amount": 5e-4, "trials": 2e-4, "balance": 1e-3, "recovery": 2e-3}),
        ("acid-titration", {"amount": 1e-4, "trials": 2.4e-5, "balance": 3e-4, "recovery": 5e-4}),
    ],
)
def test_answers_are_met_and_one_step_short_is_not(
    name: str, moles: dict[str, float], question: str
) -> None:
    """For weighings apart, weighings that share a reading, a gas volume and a titration."""
    experiment = experiments.load(name)
    plan = Plan(experiment=experiment, consumed_mol=moles[question])
    answer = QUESTIONS[question](plan)
    assert answer.reached
    assert answer.short is not None
    assert answer.at.right >= answer.target > answer.short.right
    for found in (answer.at, answer.short):
        assert operating_characteristic(found.plan).right == pytest.approx(found.right)
    at, short = answer.at.plan, answer.short.plan
    if question == "amount":
        gap = at.consumed_mass_g - short.consumed_mass_g
        balance = experiment.instruments[experiment.consumed.instrument]
        step = getattr(balance, "readability_g", 0.0)
        assert answer.value == pytest.approx(at.consumed_mass_g)
        assert 0 < gap <= max(step, 0.01 * at.consumed_mass_g) * (1 + 1e-6)
    elif question == "trials":
        assert answer.value == at.trials == short.trials + 1
    elif question == "balance":
        assert at.experiment.instruments["balance"].readability_g == answer.value
        assert short.experiment.instruments["balance"].readability_g == 10 * answer.value
    else:
        widths = [p.experiment.recovery[1] - 1 for p in (at, short)]
        assert widths == pytest.approx([answer.value, answer.value + 0.005])


def test_one_candidate_alone_needs_no_amount() -> None:
    alone = SILVER.with_candidates(plain_ratios({"copper(II)": "2"}))
    answer = smallest_amount(Plan(experiment=alone, consumed_mol=0.001))
    assert answer.reached
    assert answer.short is None
    assert answer.at.right > 0.9


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


@pytest.mark.parametrize("noise", [0.0, 0.5])
@pytest.mark.parametrize(("trials", "spread"), [(1, 0.1), (4, 0.1), (1, 0.0), (2, 0.4)])
def test_map_equals_direct_calculation(noise: float, trials: int, spread: float) -> None:
    """30 cells of a map of 60 x 60 within 0.005, a third of them where the chance rises."""
    masses, steps = np.geomspace(0.005, 5, 60), np.geomspace(0.001, 0.5, 60)
    experiment = SILVER.with_instrument(
        "balance", Balance(readability_g=0.01, repeatability_g=0.01 * noise)
    )
    found = design_map(
        experiment, masses_g=masses, readabilities_g=steps, trials=trials, spread=spread
    )
    rng = np.random.default_rng(0)
    x = masses[None, :] / steps[:, None]
    rising = np.argwhere((found.chance > 0.05) & (found.chance < 0.9))
    level = np.argwhere((found.chance >= 0.9) & (x < 60))
    for i, j in (*rng.choice(rising, 20, replace=False), *rng.choice(level, 10, replace=False)):
        plan = Plan(
            experiment=with_readability(experiment, float(steps[i])),
            consumed_mol=masses[j] / molar_mass_value("Cu"),
            trials=trials,
            spread=spread,
        )
        direct = operating_characteristic(plan)
        assert found.chance[i, j] == pytest.approx(direct.right, abs=0.005), (x[i, j], direct)
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
