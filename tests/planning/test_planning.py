"""Chances before the lab: against simulation, and the inverse questions verified."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.chemistry.candidates import plain_ratios
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.decision.evidence import assess
from stoichkit.decision.verdict import Verdict
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Prior, Variation
from stoichkit.measurement.displays import Balance
from stoichkit.planning.design import design_map, with_readability
from stoichkit.planning.outcomes import PARTS, Chances
from stoichkit.planning.plan import (
    NOTHING,
    OperatingCharacteristic,
    Plan,
    chances,
    operating_characteristic,
)
from stoichkit.planning.questions import (
    coarsest_balance,
    fewest_trials,
    largest_recovery,
    smallest_amount,
)
from stoichkit.planning.sentences import single_answer_sentence
from stoichkit.planning.simulation import simulate_labs
from tests.labs import lab
from tests.planning.test_simulation import shown_lab
from tests.studies.planning import SETTINGS, planned, simulated

SILVER = experiments.load("copper-silver")


@pytest.mark.parametrize("setting", SETTINGS, ids=str)
def test_planned_chances_against_simulated_labs(setting: tuple) -> None:
    """20,000 labs, every reading rounded: within 0.005 and three sigma of the sampling error."""
    plan, seen = planned(setting), simulated(setting, 20_000, 7)
    for name in PARTS:
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
        total = sum(getattr(found, part) for part in PARTS)
        assert total == pytest.approx(1.0, abs=1e-9)
        rows.append(found.right)
    assert rows[0] <= rows[-1]
    assert rows[-1] > 0.9


@pytest.mark.parametrize(
    "name",
    [
        "hydrate-heating",
        pytest.param("tin-oxide", marks=pytest.mark.slow),
        "magnesium-gas",
        pytest.param("acid-titration", marks=pytest.mark.slow),
    ],
)
def test_other_ways_of_measuring_against_simulated_readings(name: str) -> None:
    """60 labs read to the display and judged one by one: within sampling error."""
    experiment = experiments.load(name)
    truth = experiment.candidates[1].name
    typical = abs(assess(experiment).n_consumed.nominal_value)
    factor = {"hydrate-heating": 0.25, "tin-oxide": 0.02}.get(name, 0.1)
    plan = Plan(experiment=experiment, consumed_mol=factor * typical, trials=1, spread=0.1)
    expected = chances(plan, truth)
    rng = np.random.default_rng(4)
    right = total = 0
    for _ in range(60):
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
        pytest.param("hydrate-heating", 0.3, 1, 1, marks=pytest.mark.slow),
        pytest.param("tin-oxide", 0.02, 1, 0, marks=pytest.mark.slow),
        pytest.param("copper-silver", 0.03, 1, 1, marks=pytest.mark.slow),
        ("copper-silver", 0.05, 3, 0),
        ("copper-silver-coarse", 0.4, 2, 1),
    ],
)
def test_recovery_allowance_at_few_steps_against_simulated_labs(
    name: str, mass_g: float, trials: int, truth: int
) -> None:
    """At each end and the middle, 20,000 labs: 0.005 and three sigma of the sampling error.

    The labs are drawn reading by reading; those of two plain masses are judged by the array test,
    the others by limits that ``test_labs_judged_one_by_one`` holds against ``assess``.
    """
    experiment = replace(experiments.load(name), recovery=(0.9, 1.05))
    moles = mass_g / molar_mass_value(experiment.consumed.species)
    plan = Plan(experiment=experiment, consumed_mol=moles, trials=trials)
    known = experiment.candidates[truth].name
    for recovered in (0.9, 0.975, 1.05):
        expected = chances(plan, known, recovered=recovered)
        seen = simulate_labs(plan, known, labs=20_000, seed=9, recovered=recovered).counts
        near(expected, {part: getattr(seen, part) / seen.labs for part in PARTS}, seen.labs)


def near(expected: Chances, seen: dict[str, float], labs: int) -> None:
    """Hold every chance against the share of simulated labs."""
    for part in PARTS:
        p, s = getattr(expected, part), seen[part]
        assert abs(p - s) <= 0.005 + 3 * (max(s * (1 - s), 1e-4) / labs) ** 0.5, part


@pytest.mark.parametrize(
    ("name", "steps", "trials", "recovery", "variation"),
    [
        pytest.param("copper-silver", 4.0, 1, (0.85, 1.0), None, marks=pytest.mark.slow),
        pytest.param("tin-oxide", 24.0, 1, (0.85, 1.0), None, marks=pytest.mark.slow),
        ("copper-silver", 6.0, 2, (0.9, 1.05), Variation(unknown=True)),
        ("copper-silver", 12.0, 2, (1.0, 1.0), Variation(relative=0.05)),
    ],
)
def test_labs_judged_one_by_one(
    name: str,
    steps: float,
    trials: int,
    recovery: tuple[float, float],
    variation: Variation | None,
) -> None:
    """``assess`` of 24 labs at each end and the middle: binomial error, and the same verdicts."""
    experiment = replace(experiments.load(name), recovery=recovery, variation=variation)
    balance = experiment.instruments["balance"]
    moles = steps * balance.readability_g / molar_mass_value(experiment.consumed.species)
    plan = Plan(experiment=experiment, consumed_mol=moles, trials=trials)
    truth = experiment.candidates[1].name
    for recovered in sorted({recovery[0], sum(recovery) / 2, recovery[1]}):
        judged_one_by_one(plan, truth, labs=24, recovered=recovered)


@pytest.mark.parametrize(("mass_steps", "separate"), [(0.9, 0.999), (1.3, 0.945)])
def test_one_vessel_in_every_trial_against_labs_judged_one_by_one(
    mass_steps: float, separate: float
) -> None:
    """Digits alone, three trials on one piece of paper: fewer labs are conclusive than on three."""
    exact = Balance(readability_g=0.01, repeatability_g=0.0)
    apart = SILVER.with_instrument("balance", exact)
    same = replace(apart, produced=replace(apart.produced, same_vessel=("paper",)))
    moles = 0.01 * mass_steps / molar_mass_value("Cu")
    plan = Plan(experiment=same, consumed_mol=moles, trials=3, spread=0.02)
    found = judged_one_by_one(plan, "copper(II)", labs=40, recovered=1.0)
    assert found.labs == 20_000
    assert found.right < separate - 0.05
    own = chances(replace(plan, experiment=apart), "copper(II)")
    assert own.right == pytest.approx(separate, abs=0.005)
    noisy = same.with_instrument("balance", Balance(readability_g=0.01, repeatability_g=0.005))
    assert chances(replace(plan, experiment=noisy), "copper(II)").labs == 0  # it does not matter


def test_one_vessel_begins_at_one_place_a_lab() -> None:
    same = replace(SILVER, produced=replace(SILVER.produced, same_vessel=("paper",)))
    exact = Balance(readability_g=0.01, repeatability_g=0.0)
    same = same.with_instrument("balance", exact)
    labs = simulate_labs(Plan(experiment=same, consumed_mol=1e-3, trials=3), "copper(I)", labs=50)
    spread = {name: float(np.ptp(shown, axis=1).max()) for name, shown in labs.readings.items()}
    assert spread["paper"] == 0.0
    assert spread["wire after"] > 0.0


@pytest.mark.parametrize(
    ("mass_g", "recovered"),
    [
        pytest.param(0.03, 1.0013, marks=pytest.mark.slow),
        pytest.param(0.1, 1.0013, marks=pytest.mark.slow),
        (0.3, 0.9988),
    ],
)
def test_air_on_a_fine_balance_against_labs_judged_one_by_one(
    mass_g: float, recovered: float
) -> None:
    """A hydrate on a 0.1 mg balance, its ratio moved as far as air may: between a 48th and half a
    display step, beyond that, and so far that no plan without it could be right."""
    hydrate = experiments.load("hydrate-heating")
    fine = Balance(readability_g=0.0001, repeatability_g=0.0001)
    hydrate = hydrate.with_instrument("balance", fine)
    moles = mass_g / molar_mass_value(hydrate.consumed.species)
    plan = Plan(experiment=hydrate, consumed_mol=moles)
    found = judged_one_by_one(plan, "MgSO4·7H2O", labs=24, recovered=recovered)
    stated = replace(
        hydrate,
        consumed=replace(hydrate.consumed, density_g_per_cm3=2.66),
        produced=replace(hydrate.produced, density_g_per_cm3=1.0),
    )
    without = chances(replace(plan, experiment=stated), "MgSO4·7H2O", recovered=recovered)
    assert found.right >= without.right - 0.005
    if mass_g > 0.2:
        assert found.right > without.right + 0.1


def judged_one_by_one(plan: Plan, truth: str, *, labs: int, recovered: float) -> Chances:
    """Return planned chances held against ``assess`` of each of some simulated labs."""
    expected = chances(plan, truth, recovered=recovered)
    drawn = simulate_labs(plan, truth, labs=labs, seed=2, recovered=recovered)
    found = [outcome_of(assess(shown_lab(drawn, i)).verdict, truth) for i in range(labs)]
    for part in PARTS:
        p, s = getattr(expected, part), found.count(part) / labs
        assert abs(p - s) <= 0.005 + 3.5 * (max(p * (1 - p), 4e-3) / labs) ** 0.5, part
    assert sum(a != b for a, b in zip(found, drawn.kinds, strict=True)) <= 0.02 * labs
    return expected


def outcome_of(verdict: Verdict, truth: str) -> str:
    """Return the outcome of a lab as planning counts it."""
    if verdict.kind != "singled_out":
        return verdict.kind.value
    return "right" if verdict.candidates == (truth,) else "wrong"


def test_a_plan_promises_the_least_over_the_recovery() -> None:
    """The least of five recoveries, both ends among them; no other recovery has much less."""
    plan = Plan(experiment=replace(SILVER, recovery=(0.85, 1.0)), consumed_mol=6e-4)
    found = operating_characteristic(plan)
    for name, each in found.over_recovery.items():
        right = [c.right for _, c in each]
        assert [f for f, _ in each] == pytest.approx([0.85, 0.8875, 0.925, 0.9625, 1.0])
        assert found.chances[name].right == min(right) == chances(plan, name).right
        assert found.average[name].right == pytest.approx(np.mean(right))
        assert max(right) - min(right) > 0.01
        others = [chances(plan, name, recovered=f).right for f in np.linspace(0.85, 1, 11)]
        assert min(others) > min(right) - 0.01
    assert found.right == min(c.right for c in found.chances.values()) < found.average_right
    assert found.wrong == max(c.wrong for each in found.over_recovery.values() for _, c in each)


@pytest.mark.parametrize(
    ("variation", "steps", "noise", "trials"),
    [
        (Variation(relative=0.05), 4.0, 0.5, 1),
        (Variation(relative=0.01), 10.0, 0.0, 1),
        (Variation(relative=0.05), 60.0, 0.5, 2),
        pytest.param(Variation(relative=0.05, from_trials=6), 60.0, 0.5, 2, marks=pytest.mark.slow),
        (Variation(relative=0.05, from_trials=6), 12.0, 0.5, 1),
        (Variation(unknown=True), 6.0, 0.5, 3),
    ],
)
def test_variation_against_labs_judged_by_the_array_test(
    variation: Variation, steps: float, noise: float, trials: int
) -> None:
    balance = Balance(readability_g=0.01, repeatability_g=0.01 * noise)
    experiment = replace(SILVER.with_instrument("balance", balance), variation=variation)
    moles = 0.01 * steps / molar_mass_value("Cu")
    plan = Plan(experiment=experiment, consumed_mol=moles, trials=trials)
    exact = chances(plan, "copper(II)")
    simulated_too = trials > 1 and (variation.unknown or variation.from_trials is not None)
    assert exact.labs == (20_000 if simulated_too else 0)
    assert (exact.standard_error > 0) == simulated_too
    labs = 5_000 if variation.from_trials is not None else 20_000  # those take long
    seen = simulate_labs(plan, "copper(II)", labs=labs, seed=7).counts
    near(exact, {part: getattr(seen, part) / seen.labs for part in PARTS}, seen.labs)


def test_an_unknown_variation_costs_what_student_t_says() -> None:
    """With two trials of copper far from any limit, t of one degree of freedom decides.

    Source: closed form, P(|t| ≤ 12.7) = 0.95 for one degree of freedom (Student's table).
    """
    unknown = replace(SILVER, variation=Variation(unknown=True))
    plan = Plan(experiment=unknown, consumed_mol=0.002, trials=2)
    known = chances(replace(plan, experiment=SILVER), "copper(I)").right
    two, three = (chances(replace(plan, trials=n), "copper(I)").right for n in (2, 5))
    assert two < known - 0.02
    assert two < three


@pytest.mark.parametrize(("noise", "trials"), [(0.5, 1), (1.0, 3)])
def test_where_nothing_reacts_hardly_anything_is_singled_out(noise: float, trials: int) -> None:
    balance = Balance(readability_g=0.01, repeatability_g=0.01 * noise)
    experiment = SILVER.with_instrument("balance", balance)
    plan = Plan(experiment=experiment, consumed_mol=0.002, trials=trials)
    found = chances(plan, NOTHING)
    seen = simulate_labs(plan, NOTHING, labs=20_000, seed=3).counts
    near(found, {part: getattr(seen, part) / seen.labs for part in PARTS}, seen.labs)
    assert found.right == seen.right == 0
    assert 0 < found.wrong < 0.01
    assert found.cannot_be_judged < 0.001


QUESTIONS = {
    "amount": smallest_amount,
    "trials": fewest_trials,
    "balance": coarsest_balance,
    "recovery": largest_recovery,
}


MOLES = {
    "copper-silver": {"amount": 6e-4, "trials": 5e-4, "balance": 2e-3, "recovery": 4e-3},
    "tin-oxide": {"amount": 5e-4, "trials": 2e-4, "balance": 1e-3, "recovery": 1e-3},
    # what may be recovered is asked of weighings alone: that question knows nothing of the rest
    "magnesium-gas": {"amount": 5e-4, "trials": 2e-4, "balance": 1e-3},
    "acid-titration": {"amount": 1e-4, "trials": 2.4e-5, "balance": 3e-4},
}


@pytest.mark.parametrize(
    ("name", "question"), [(name, question) for name, each in MOLES.items() for question in each]
)
def test_answers_are_met_and_one_step_short_is_not(name: str, question: str) -> None:
    """For weighings apart, weighings that share a reading, a gas volume and a titration."""
    experiment = experiments.load(name)
    plan = Plan(experiment=experiment, consumed_mol=MOLES[name][question])
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
    """Where what may be recovered makes one candidate like another, it is named."""
    wide = replace(SILVER, recovery=(0.4, 1.6))
    answer = fewest_trials(Plan(experiment=wide, consumed_mol=0.005), most=16)
    assert not answer.reached
    assert answer.limiting == "recovery allowance"
    assert answer.shared_share == 1.0
    assert answer.at.right < 0.1


@pytest.mark.parametrize("recovery", [(1.0, 1.0), (0.85, 1.0)])
def test_the_smallest_amount_is_whole_steps_from_any_start(recovery: tuple[float, float]) -> None:
    allowed = replace(SILVER, recovery=recovery)
    found = {
        smallest_amount(Plan(experiment=allowed, consumed_mol=start)).value
        for start in (1e-5, 7.3e-4, 0.05)
    }
    assert len(found) == 1
    steps = found.pop() / 0.01
    assert steps == pytest.approx(round(steps))


@pytest.mark.parametrize("noise", [0.0, 0.5])
@pytest.mark.parametrize(("trials", "spread"), [(1, 0.1), (4, 0.1), (1, 0.0), (2, 0.4)])
def test_map_equals_direct_calculation(noise: float, trials: int, spread: float) -> None:
    """12 cells of a map of 60 x 60 within 0.005, a third of them where the chance rises."""
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
    for i, j in (*rng.choice(rising, 8, replace=False), *rng.choice(level, 4, replace=False)):
        plan = Plan(
            experiment=with_readability(experiment, float(steps[i])),
            consumed_mol=masses[j] / molar_mass_value("Cu"),
            trials=trials,
            spread=spread,
        )
        direct = operating_characteristic(plan)
        # of many steps air makes the true one fit more often, which the map leaves out
        less = 0.005 if x[i, j] < 15 else 0.03
        assert -less <= found.chance[i, j] - direct.right <= 0.005, (x[i, j], direct)
    assert found.chance[0, -1] > 0.95
    assert found.chance[-1, 0] < 0.1


def test_map_of_a_balance_that_scatters_over_hundreds_of_steps(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """One curve fills this map too: cell by cell it took minutes."""

    def cell_by_cell(*_: object) -> None:
        raise AssertionError

    monkeypatch.setattr("stoichkit.planning.design._directly", cell_by_cell)
    unsteady = Balance(readability_g=0.01, repeatability_g=2.0)
    experiment = SILVER.with_instrument("balance", unsteady)
    masses, steps = np.geomspace(4.0, 40.0, 60), [0.01, 0.02]
    found = design_map(experiment, masses_g=masses, readabilities_g=steps)
    for i, j in ((0, 0), (0, 25), (0, 33), (0, 59), (1, 40), (1, 59)):
        changed = with_readability(experiment, steps[i])
        moles = masses[j] / molar_mass_value("Cu")
        direct = operating_characteristic(Plan(experiment=changed, consumed_mol=moles))
        assert found.chance[i, j] == pytest.approx(direct.right, abs=0.015)
    assert found.chance[0, 0] < 0.5
    assert found.chance[0, -1] > 0.9, "4,000 steps, twenty times the scatter"


def test_map_with_errors_that_do_not_scale_is_filled_directly() -> None:
    tin = experiments.load("tin-oxide")
    found = design_map(tin, masses_g=[0.03, 0.3], readabilities_g=[0.01])
    assert found.chance.shape == (1, 2)
    assert found.chance[0, 0] < found.chance[0, 1]


@pytest.mark.parametrize(
    ("recovery", "variation"), [((0.9, 1.0), None), ((1.0, 1.0), Variation(relative=0.02))]
)
def test_map_with_an_allowance_equals_the_promise_of_the_plan(
    recovery: tuple[float, float], variation: Variation | None
) -> None:
    allowed = replace(SILVER, recovery=recovery, variation=variation)
    found = design_map(allowed, masses_g=[0.04, 0.07, 0.3], readabilities_g=[0.01])
    for j, mass in enumerate(found.masses_g.tolist()):
        plan = Plan(experiment=allowed, consumed_mol=mass / molar_mass_value("Cu"))
        direct = operating_characteristic(plan)
        assert found.chance[0, j] == pytest.approx(direct.right, abs=0.01)
        assert found.average[0, j] == pytest.approx(direct.average_right, abs=0.01)
    assert (found.average >= found.chance).all()


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


def test_how_many_single_answers_are_right_by_hand() -> None:
    """0.8 and 0.5 right, 0.02 and 0.12 wrong: 1.30 of 1.44; with weights 3 and 1, 2.9 of 3.08."""
    lab = experiments.load("copper-silver")
    each = {
        "copper(I)": ((1.0, Chances(0.8, 0.02, 0.18, 0.0)),),
        "copper(II)": ((0.9, Chances(0.4, 0.2, 0.4, 0.0)), (1.0, Chances(0.6, 0.04, 0.36, 0.0))),
    }
    plan = Plan(experiment=lab, consumed_mol=0.002)
    assert OperatingCharacteristic(plan, each).right_of_single == pytest.approx(1.30 / 1.44)
    stated = Plan(experiment=replace(lab, prior=Prior({"copper(I)": 3})), consumed_mol=0.002)
    found = OperatingCharacteristic(stated, each)
    assert found.right_of_single == pytest.approx(2.9 / 3.08)
    assert "about 94 name the true one" in single_answer_sentence(found)
    never = {name: ((1.0, Chances(0.0, 0.0, 1.0, 0.0)),) for name in each}
    nothing = OperatingCharacteristic(plan, never)
    assert math.isnan(nothing.right_of_single)
    assert single_answer_sentence(nothing).startswith("No lab of this plan")
