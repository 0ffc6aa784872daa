"""Simulated labs: the same verdicts as lab by lab, and the planned chances."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stoichkit import experiments
from stoichkit.decision.evidence import assess
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Trial
from stoichkit.planning.outcomes import PARTS
from stoichkit.planning.plan import Plan, chances
from stoichkit.planning.simulation import SimulatedLabs, simulate_labs
from stoichkit.uncertainty.sources import nominal

SILVER = experiments.load("copper-silver")


def usual_mol(name: str) -> float:
    return abs(nominal(assess(experiments.load(name)).n_consumed))


def shown_lab(labs: SimulatedLabs, index: int):
    """Return one simulated lab as a record of its readings."""
    experiment = labs.plan.experiment
    trials = [
        Trial(str(t + 1), {n: (f"{v[index, t]:.9f}",) for n, v in labs.readings.items()})
        for t in range(labs.plan.trials)
    ]
    return experiment.with_trials(trials)


@pytest.mark.parametrize("trials", [pytest.param(1, marks=pytest.mark.slow), 3])
@pytest.mark.parametrize("name", experiments.names())
def test_amounts_and_verdicts_are_those_of_the_readings_judged_one_by_one(
    name: str, trials: int
) -> None:
    experiment = experiments.load(name)
    factor = 0.02 if name == "tin-oxide" else 0.08
    plan = Plan(experiment=experiment, consumed_mol=factor * usual_mol(name), trials=trials)
    labs = simulate_labs(plan, experiment.candidates[0].name, labs=25, seed=3)
    size = float(np.abs(labs.produced_mol).max())
    agree = 0
    for i in range(len(labs)):
        found = assess(shown_lab(labs, i))
        assert nominal(found.n_consumed) == pytest.approx(labs.consumed_mol[i], abs=1e-6 * size)
        assert nominal(found.n_produced) == pytest.approx(labs.produced_mol[i], abs=1e-6 * size)
        kept = [c.compatible for c in found.candidates.values()]
        agree += kept == labs.compatible[i].tolist()
    # two masses by difference are judged exactly; the limits of others are at the planned amount
    assert agree >= (25 if name.startswith("copper-silver") else 23)


@pytest.mark.parametrize(
    ("name", "factor", "trials", "recovery"),
    [
        ("copper-silver", 0.15, 1, (1.0, 1.0)),
        ("copper-silver", 0.3, 3, (1.0, 1.0)),
        ("copper-silver-coarse", 0.5, 2, (1.0, 1.0)),
        ("hydrate-heating", 0.1, 1, (1.0, 1.0)),
        ("magnesium-gas", 0.1, 2, (0.9, 1.05)),
        ("acid-titration", 0.03, 1, (1.0, 1.0)),
        ("copper-plating", 0.03, 1, (1.0, 1.0)),
        ("tin-oxide", 0.03, 1, (1.0, 1.0)),
    ],
)
def test_counts_agree_with_the_exact_chances(
    name: str, factor: float, trials: int, recovery: tuple[float, float]
) -> None:
    """10,000 labs; the exact chances leave no room but sampling error and 0.005 of their own."""
    experiment = replace(experiments.load(name), recovery=recovery)
    plan = Plan(experiment=experiment, consumed_mol=factor * usual_mol(name), trials=trials)
    truth = experiment.candidates[1].name
    ends = {"recovered": recovery[0]}
    labs = simulate_labs(plan, truth, labs=10_000, seed=5, **ends)
    exact = chances(plan, truth, **ends)
    for part in PARTS:
        p, seen = getattr(exact, part), getattr(labs.counts, part) / 10_000
        sigma = (max(p * (1 - p), 1e-4) / 10_000) ** 0.5
        assert abs(p - seen) <= 0.008 + 4 * sigma, part


def test_readings_are_whole_steps_and_vessels_begin_anywhere() -> None:
    plan = Plan(experiment=SILVER, consumed_mol=0.0007, trials=2)
    labs = simulate_labs(plan, "copper(II)", labs=300)
    for values in labs.readings.values():
        assert values.shape == (300, 2)
        np.testing.assert_allclose(values / 0.01, np.round(values / 0.01), atol=1e-6)
    masses = labs.readings["wire before"] - labs.readings["wire after"]
    expected = 0.0007 * 63.546
    assert masses.mean() == pytest.approx(expected, abs=4 * 0.01 / 600**0.5)


def test_spread_keeps_the_amounts_near_the_plan() -> None:
    exact = Plan(experiment=SILVER, consumed_mol=0.02, trials=1, spread=0.0)
    wide = replace(exact, spread=0.5)
    narrow, broad = (simulate_labs(p, "copper(I)", labs=500).consumed_mol for p in (exact, wide))
    assert narrow.std() < 0.02 * 0.02
    assert 0.2 * 0.02 < broad.std() < 0.4 * 0.02


def test_same_seed_same_labs() -> None:
    plan = Plan(experiment=SILVER, consumed_mol=0.001)
    one, two, other = (simulate_labs(plan, "copper(I)", labs=50, seed=s) for s in (1, 1, 2))
    assert np.array_equal(one.produced_mol, two.produced_mol)
    assert not np.array_equal(one.produced_mol, other.produced_mol)


def test_kinds_and_counts_agree() -> None:
    plan = Plan(experiment=SILVER, consumed_mol=0.0004)
    labs = simulate_labs(plan, "copper(I)", labs=400)
    counts = labs.counts
    assert counts.labs == len(labs) == 400
    assert labs.kinds.count("wrong") == counts.wrong
    alone = (labs.compatible.sum(axis=1) == 1) & ~labs.verdicts.nothing_reacted
    assert counts.right + counts.wrong == alone.sum()
    assert counts.none_fits == (labs.compatible.sum(axis=1) == 0).sum()


@pytest.mark.parametrize("bad", [{"labs": 0}, {"labs": 10**6}, {"seed": -1}])
def test_numbers_that_cannot_be_used_are_refused(bad: dict[str, int]) -> None:
    with pytest.raises(ModelError, match=r"`(labs|seed)` is out of range"):
        simulate_labs(Plan(experiment=SILVER, consumed_mol=0.001), "copper(I)", **bad)


def test_unknown_candidate_is_refused() -> None:
    with pytest.raises(ModelError, match="no such candidate"):
        simulate_labs(Plan(experiment=SILVER, consumed_mol=0.001), "copper(IV)")
