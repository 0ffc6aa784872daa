"""Further trials after today's readings: against continuations of labs that read exactly alike."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from stoichkit import assess, assess_weighings, experiments
from stoichkit.decision.evidence import linear_amounts
from stoichkit.errors import ModelError
from stoichkit.experiments import Looks
from stoichkit.experiments.parts import Trial
from stoichkit.measurement import Balance
from stoichkit.planning import (
    FurtherTrials,
    NextTrials,
    Plan,
    chances,
    next_sentences,
    next_table,
    next_trials,
)
from stoichkit.planning.following import _Continued, _shared_errors, _shares
from stoichkit.planning.outcomes import Chances
from tests.labs import RATIOS, lab, weighed

STEP, NOISE = 0.01, 0.5
BALANCE = Balance(readability_g=STEP, repeatability_g=NOISE * STEP)
ONE = lab([(3.00, 2.98, 0.70, 0.75)], BALANCE)  # 0.02 g of copper, 0.05 g of silver
COARSE = assess(experiments.load("copper-silver-coarse"))


def test_chances_are_the_shares_of_labs_that_read_alike_and_go_on() -> None:
    """Labs of either truth, of equal shares and any amount, kept if they read as this one does."""
    rng = np.random.default_rng(5)
    drawn, further = 40_000, 3
    kept, truths = [], []
    for truth, ratio in enumerate((1.0, 2.0)):
        amounts_g = rng.uniform(0.002, 0.07, (drawn, 1))  # any amount is as likely
        each = amounts_g * (1 + 0.1 * rng.uniform(-1, 1, (drawn, 1 + further)))
        each[:, :1] = amounts_g
        before, after, paper, gross = weighed(rng, each, ratio, STEP, NOISE, each.shape)
        used, made = np.rint((before - after)[:, 0] / STEP), np.rint((gross - paper)[:, 0] / STEP)
        alike = np.flatnonzero((used == 2) & (made == 5))
        kept.append([table[alike] for table in (before, after, paper, gross)])
        truths.append(np.full(alike.size, truth))
    truth = np.concatenate(truths)
    tables = [np.concatenate(pair) for pair in zip(*kept, strict=True)]
    found = next_trials(assess(ONE), most=further, labs=2000)
    posterior = assess(ONE).chances
    assert posterior is not None
    expected = posterior.by_candidate["copper(II)"] / sum(posterior.by_candidate.values())
    assert abs(truth.mean() - expected) < 0.04
    for n, chance in zip(found.alike.trials, found.alike.chances, strict=True):
        judged = assess_weighings(
            *(t[:, : 1 + n] for t in tables), consumed="Cu", produced="Ag", candidates=RATIOS,
            balance=BALANCE,
        )  # fmt: skip
        alone = judged.compatible.sum(axis=1) == 1
        alone &= ~judged.nothing_reacted & ~judged.below_zero
        right = float((alone & judged.compatible[np.arange(truth.size), truth]).mean())
        off = 4 * np.hypot(np.sqrt(0.25 / truth.size), chance.standard_error)
        assert abs(chance.right - right) < off + 0.02, n


def test_many_further_trials_come_to_what_planning_says() -> None:
    found = next_trials(assess(ONE), most=12, labs=400)
    amount = found.alike.consumed_mol
    plan = Plan(experiment=ONE, consumed_mol=amount, trials=13)
    shares = assess(ONE).chances
    assert shares is not None
    total = sum(shares.by_candidate.values())
    planned = sum(p / total * chances(plan, name).right for name, p in shares.by_candidate.items())
    assert abs(found.alike.chances[-1].right - planned) < 0.05
    right = [one.right for one in found.alike.chances]
    assert right[0] < 0.6 < 0.9 < right[5]


def test_the_truth_is_as_probable_as_the_readings_make_it() -> None:
    now = COARSE.chances
    assert now is not None
    first, second = now.by_candidate.values()
    assert _shares(COARSE) == pytest.approx(
        {"copper(I)": first / (first + second), "copper(II)": second / (first + second)}
    )
    assert second > 1.5 * first


def test_a_finer_balance_is_begun_anew_and_a_seed_gives_the_same() -> None:
    assert next_trials(COARSE, labs=100).alike.trials == (1, 2, 3, 4, 5, 6)
    one, other = (next_trials(COARSE, most=2, labs=200) for _ in range(2))
    assert one.alike == other.alike
    assert one.larger == other.larger
    assert next_trials(COARSE, most=2, labs=200, seed=2).alike != one.alike
    assert one.finer is not None
    assert (one.finer.readability_g, one.finer.fewest) == (0.01, 1)
    fine = experiments.load("copper-silver")
    plan = Plan(experiment=replace(COARSE.experiment, instruments=fine.instruments),
                consumed_mol=one.alike.consumed_mol)  # fmt: skip
    rights = [chances(plan, name).right for name in RATIOS]
    assert min(rights) - 0.01 <= one.finer.chances[0].right <= max(rights) + 0.01
    assert one.larger.consumed_mol == pytest.approx(2 * one.alike.consumed_mol)
    assert one.larger.chances[1].right > one.alike.chances[1].right + 0.1


def test_planned_looks_are_kept_to() -> None:
    rows = [(3.00, 2.99, 0.70, 0.72), (3.00, 2.98, 0.70, 0.74)]
    planned = assess(lab(rows, BALANCE, looks=Looks(planned=3, trials_each=2)))
    found = next_trials(planned, most=6, labs=300)
    assert found.alike.trials == (2, 4)
    free = next_trials(assess(lab(rows, BALANCE)), most=6, labs=300)
    assert found.alike.chances[0].right < free.alike.chances[1].right  # the stricter level
    assert "one planned look" in " ".join(next_sentences(found))
    assert "Asked 2 times" in " ".join(next_sentences(free))
    used_up = assess(lab(rows, BALANCE, looks=Looks(planned=1, trials_each=2)))
    after = next_trials(used_up, most=2, labs=200)
    assert after.alike.trials == (1, 2)
    assert "Asked 2 times" in " ".join(next_sentences(after))


def test_shared_errors_are_those_that_the_readings_make_likely() -> None:
    """Normal errors with a sum that is known: mean V_s / V of it, variance V_s (1 − V_s / V)."""
    titration = assess(experiments.load("acid-titration"))
    now = linear_amounts(titration.experiment, titration.amounts)
    ratio = titration.nearest.ratio * 1.002  # so that a discrepancy is there to explain
    c = now.coefficients(ratio, 1.0)
    variance = (c * [source.standard_uncertainty for source in now.sources]) ** 2
    shared, whole = float(variance[now.shared].sum()), float(variance.sum())
    assert 0.3 < shared / whole < 1
    errors = _shared_errors(now, ratio, 20_000, np.random.default_rng(2))
    by_label = {source.label: float(k) for source, k in zip(now.sources, c, strict=True)}
    total = sum(by_label[label] * error for label, error in errors.items())
    assert isinstance(total, np.ndarray)
    left = np.sqrt(shared * (1 - shared / whole))
    expected = now.mean(ratio, 1.0) * shared / whole
    assert abs(total.mean() - expected) < 4 * left / np.sqrt(20_000)
    assert abs(expected) > 20 * left / np.sqrt(20_000)
    assert total.std() == pytest.approx(left, rel=0.03)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"target": 1.5}, "target"),
        ({"most": 0}, "most"),
        ({"larger_by": 1.0}, "larger_by"),
        ({"finer_g": 0.0}, "finer_g"),
        ({"labs": 5}, "labs"),
        ({"seed": -1}, "seed"),
    ],
)
def test_numbers_out_of_range_are_refused(change: dict[str, float], said: str) -> None:
    with pytest.raises(ModelError, match=said):
        next_trials(COARSE, **change)  # type: ignore[arg-type]


def test_where_nothing_is_to_be_gained_it_says_why() -> None:
    none = assess(lab([(3.00, 2.90, 0.70, 1.20)], BALANCE))
    with pytest.raises(ModelError, match="None of the candidates fits") as refused:
        next_trials(none)
    assert "Find the fault first: see the slips and the causes" in str(refused.value)
    wrong = assess(lab([(2.65, 3.12, 2.30, 0.71)], BALANCE))
    with pytest.raises(ModelError, match="cannot be judged"):
        next_trials(wrong)
    only = assess(lab([(3.00, 2.90, 0.70, 1.04)], BALANCE, {"copper(II)": "2"}))
    with pytest.raises(ModelError, match="only one candidate"):
        next_trials(only)


def test_the_fewest_and_what_is_said_of_them() -> None:
    parts = [Chances(r, 0.0, 1 - r, 0.0, labs=400) for r in (0.5, 0.8, 0.91)]
    way = FurtherTrials((1, 2, 3), tuple(parts), 0.9, 0.001, 0.01)
    assert way.fewest == 3
    assert replace(way, target=0.95).fewest is None
    found = NextTrials(COARSE, 0.9, 0.0, way, way, None, 2.0)
    said = next_sentences(found)
    assert said[0].endswith("judged together with them: 3 trials (chance 0.91).")
    assert "standard error up to 0.03" in said[-1]  # √(0.5 · 0.5 / 400) = 0.025
    assert next_table(found).rows[-1] == ("3", "0.91", "0.91")
    sure = replace(found, evidence=assess(experiments.load("copper-silver")), right_now=0.99)
    assert next_sentences(sure)[0].startswith("Nothing more is needed")


@pytest.mark.parametrize("name", ["hydrate-heating", "magnesium-gas"])
def test_labs_of_every_kind_are_judged_as_each_of_them_would_be(name: str) -> None:
    """The readings drawn, typed into the record beside those made, and assessed one by one."""
    evidence = assess(experiments.load(name))
    experiment, truth = evidence.experiment, evidence.verdict.candidates[0]
    labs, further = 400, 2
    after = _Continued(evidence, truth, 1.0, further, labs, (7, 0))
    found = after._judged(further).compatible
    index = [c.name for c in experiment.candidates].index(truth)
    excluded = np.flatnonzero(~found[:, index])
    assert 1 <= excluded.size <= 60
    others = np.flatnonzero(found[:, index])[:15]
    for i in (*excluded[:15].tolist(), *others.tolist()):
        trials = [
            Trial(f"more {n}", {k: f"{v[i, n]:.9f}" for k, v in after.drawn.readings.items()})
            for n in range(further)
        ]
        judged = assess(experiment.with_trials([*experiment.trials, *trials]))
        fitting = [c.compatible for c in judged.candidates.values()]
        assert fitting == found[i].tolist(), i
