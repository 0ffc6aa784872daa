"""Limits of compatibility before the lab and what rests on them, against figures by hand.

Quantiles: normal 1.6449 (5 % above), Student t of two degrees of freedom 4.3027 (2.5 % above), as
in any printed table; chi-squared of two degrees of freedom exceeds x with the chance exp(−x/2).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from statistics import NormalDist
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from stoichkit import assess, experiments
from stoichkit.errors import ModelError
from stoichkit.experiments.parts import Variation
from stoichkit.measurement.displays import Balance
from stoichkit.planning import design, draws, following, next_trials
from stoichkit.planning import plan as planning
from stoichkit.planning.classes import Groups, class_chances
from stoichkit.planning.outcomes import Chances
from stoichkit.planning.plan import OperatingCharacteristic, Plan, chances, nominal_lab
from stoichkit.planning.questions import first_enough, sizes_of
from stoichkit.planning.sentences import _precision
from stoichkit.planning.simulation import simulate_labs
from stoichkit.planning.strips import (
    Band,
    Strips,
    _floors,
    _one_sided,
    _Varied,
    alarm_limits,
    limit_mol,
    strips_of,
)
from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.sources import Shape, Term

SILVER = experiments.load("copper-silver")
FINE = SILVER.with_instrument("balance", Balance(readability_g=0.0001, repeatability_g=0.0))
PLAN = Plan(experiment=SILVER, consumed_mol=0.002)


def at(consumed: float, produced: float) -> Band:
    """Return one pair of amounts."""
    return Band(np.array([consumed]), np.array([produced]), np.array([produced]))


@pytest.mark.parametrize("alpha", [0.3, 0.05, 0.01])
def test_the_limit_of_one_difference_without_noise(alpha: float) -> None:
    """An amount a part f above a whole step shows one step too much, off by 1 − f, in f of all
    places: at the worst f an error of x steps or more has the chance 1 − x (above one half)."""
    exact = SILVER.with_instrument("balance", Balance(readability_g=0.01, repeatability_g=0.0))
    linear = nominal_lab(replace(PLAN, experiment=exact), "copper(II)", 1.0)
    blocks, _ = linear.blocks(0.0, 1.0)  # of the silver alone
    found = limit_mol(linear, 0.0, alpha) * 107.868 / 0.01
    assert len(blocks) == 1
    assert 1 - alpha - 1e-4 <= found < 1 - alpha + 0.015  # places are taken in cells


def test_the_limit_of_errors_without_digits_is_their_quantile() -> None:
    """One-sided 5 % of a normal error of 2; of ±1, 0.9; as likely as not, nothing."""
    flat = ((Shape.RECTANGULAR, math.inf),)
    assert _one_sided((2.0,), (), 0.05) == pytest.approx(2 * 1.6449, rel=1e-4)
    assert _one_sided((0.0, 1.0), flat, 0.05) == pytest.approx(0.9, abs=1e-3)
    assert _one_sided((0.0, 1.0), flat, 0.49) == pytest.approx(0.02, abs=1e-3)
    assert _one_sided((0.0, 1.0), flat, 0.5) == 0.0
    assert _one_sided((0.0,), (), 0.05) == 0.0


def test_limits_change_with_the_amount_made() -> None:
    """Ratio 1 with 0.5 mol below 3 mol and 1.5 mol from there on; the second never fits; the third
    may be 2 to 2.5 with 0.25 mol anywhere."""
    inf = math.inf
    below = [[[0.5] * 2] * 2, [[-inf] * 2] * 2, [[0.25] * 2] * 2]
    above = [[[1.5] * 2] * 2, [[-inf] * 2] * 2, [[0.25] * 2] * 2]
    one = [[1.0] * 2] * 2
    strips = Strips(
        np.array([one, one, [[2.0, 2.5], [2.5, 2.0]]]), np.array([below, above]),
        np.array([3.0]), (0.0, 0.0), np.array([[0.5, 0.5, 1.0]] * 3), np.array([0, 1, 2]),
    )  # fmt: skip
    lower, upper = strips.edges(np.array([1.0, 2.0, 4.0, 5.0]))
    # 1 ± 0.5; 2 ± 0.5 and of 2 ± 1.5 what is above 3; of 4 ± 1.5 that; 5 ± 1.5
    assert lower[:, 0].tolist() == [0.5, 1.5, 3.0, 3.5]
    assert upper[:, 0].tolist() == [1.5, 3.5, 5.5, 6.5]
    assert lower[:, 1].tolist() == upper[:, 1].tolist() == [0.0] * 4
    assert lower[:, 2].tolist() == [1.75, 3.75, 7.75, 9.75]
    assert upper[:, 2].tolist() == [2.75, 5.25, 10.25, 12.75]


def test_between_two_amounts_a_variation_counts_as_the_same() -> None:
    """Just below an edge it is rounded up to the grade before, just above to the one after."""
    linear = nominal_lab(
        Plan(experiment=replace(SILVER, variation=Variation(relative=0.02)), consumed_mol=0.002),
        "copper(II)", 1.0,
    )  # fmt: skip
    found = _Varied.of(linear, Band(*np.array([[0.002] * 2, [0.0036] * 2, [0.0045] * 2])), 0.0)
    assert found.edges_mol.size == found.grades.size - 1 > 3
    for grade, edge in zip(found.grades.tolist(), found.edges_mol.tolist(), strict=False):
        for amount, rounded in ((0.99999 * edge, grade), (1.00001 * edge, grade + 1)):
            assert math.ceil(16 * math.log2(0.02 * amount)) == rounded


@pytest.mark.parametrize("trials", [1, 3])
def test_labs_are_drawn_as_far_apart_as_their_errors(trials: int) -> None:
    """Amounts even within ±10 %; a reading repeats to 0.05 g, and each trial has its own."""
    noisy = SILVER.with_instrument("balance", Balance(readability_g=0.001, repeatability_g=0.05))
    plan = Plan(experiment=noisy, consumed_mol=0.1, trials=trials, spread=0.1)
    shown = simulate_labs(plan, "copper(II)", labs=400).readings
    for name in ("paper", "wire after"):
        assert shown[name].std(axis=0) == pytest.approx([0.05] * trials, rel=0.1)
        assert np.round(shown[name] / 0.001) * 0.001 == pytest.approx(shown[name])
        if trials > 1:
            assert abs(np.corrcoef(shown[name].T)[0, 1]) < 0.15
    exact = Plan(experiment=FINE, consumed_mol=0.1, trials=trials, spread=0.1)
    shown = simulate_labs(exact, "copper(II)", labs=400).readings
    used = (shown["wire before"] - shown["wire after"]) / 6.3546
    made = (shown["paper + silver"] - shown["paper"]) / 6.3546
    assert (used.min(), used.max()) == pytest.approx((0.9, 1.1), abs=0.003)
    assert used.mean() == pytest.approx(1.0, abs=0.01)
    assert made / used == pytest.approx(np.full(used.shape, 2 * 107.868 / 63.546), rel=2e-4)


@pytest.mark.parametrize(
    ("made", "which"),
    [(1.1 * 1.0005, [1]), (1.1 * 1.004, [0]), (0.9 * 0.9995, [1]), (0.9 * 0.996, [0]),
     (2.5 * 1.1 * 1.0005, [2]), (2.5 * 0.9 * 0.9995, [2])],
)  # fmt: skip
def test_a_candidate_is_near_as_far_as_recovery_and_air_let_it_be(
    made: float, which: list[int]
) -> None:
    """6.4 g on a balance of 0.1 mg resolve a part in 10⁴; air may be 1 in 1000 to each side. If
    none is near the first is kept."""
    linear = nominal_lab(Plan(experiment=FINE, consumed_mol=0.1), "copper(I)", 1.0)
    given: dict[str, Any] = {"air": (0.999, 1.001), "band": at(0.1, 0.1 * made)}
    found = strips_of(linear, [5.0, 1.0, 2.5], (0.9, 1.1), 0.05, **given)
    assert found.which.tolist() == which
    ratio = [5.0, 1.0, 2.5][which[0]]
    assert found.ratios[0, 0, 0] == pytest.approx(0.9 * 0.999 * ratio)
    assert found.ratios[0, 1, 0] == pytest.approx(1.1 * 1.001 * ratio)


def test_a_lone_candidate_needs_no_amount_that_shows() -> None:
    linear = nominal_lab(PLAN, "copper(II)", 1.0)
    alone = strips_of(linear, [2.0], (1.0, 1.0), 0.05)
    assert alone.shown.tolist() == [[1.0, 1.0, -math.inf]]
    (first, second) = strips_of(linear, [1.0, 2.0], (1.0, 1.0), 0.05).shown
    # readings of equal variance v g²: v/63.546² of the amount used, v/(r 107.868)² of that made;
    # weights go as one over these, and 5 % of normal errors are above 1.645 of their deviation
    v = 2 * (SILVER.instruments["balance"].repeatability_g ** 2 + 0.01**2 / 12)
    for ratio, (a, b, least) in ((1.0, first), (2.0, second)):
        va, vb = v / 63.546**2, v / (ratio * 107.868) ** 2
        assert (a, b) == pytest.approx((vb / (va + vb), va / (va + vb) / ratio), rel=1e-3)
        assert least == pytest.approx(1.645 * math.sqrt(va * vb / (va + vb)), rel=0.02)


def test_amounts_are_even_in_the_test_unless_said_otherwise() -> None:
    varied = replace(SILVER, variation=Variation(relative=0.02))
    linear = nominal_lab(Plan(experiment=varied, consumed_mol=0.05, trials=3), "copper(II)", 1.0)
    band = at(0.05, 0.1)
    usual, even, uneven = (
        strips_of(linear, [2.0], (1.0, 1.0), 0.05, band=band, **how).limits_mol
        for how in ({}, {"uneven": 0.0}, {"uneven": 1.0})
    )
    assert usual.tolist() == even.tolist() != uneven.tolist()
    # 2 % of 0.1 mol over √3, rounded up to one of 16 ratios in 2; 1.96 times that beside digits
    assert usual[0, 0, 0, 0] == pytest.approx(1.96 * 0.002 / math.sqrt(3), rel=2 ** (1 / 16) - 1)


def lab_of(trials: int, sigma: tuple[float, float]) -> Any:
    """Return a lab whose mean amounts have normal errors."""

    def error(x: float, y: float) -> Term:
        return Term(Shape.NORMAL, math.hypot(x * sigma[0], y * sigma[1]))

    return SimpleNamespace(
        trials=trials,
        blocks=lambda x, y: ([], [error(x, y)]),
        distribution=lambda x, y: SumDistribution([error(x, y)]),
    )


@pytest.mark.parametrize(("trials", "shared_by"), [(1, 2), (3, 8)])
def test_how_far_below_zero_an_amount_may_lie(trials: int, shared_by: int) -> None:
    """One lab in 1000, shared by both amounts of one trial; of three by these and the means: two
    sides of a normal error."""
    sigma = (1.0, 2.0)
    lab = lab_of(trials, sigma)
    times = NormalDist().inv_cdf(1 - 0.001 / shared_by / 2)
    assert _floors(lab, None) == pytest.approx((times, 2 * times), rel=1e-4)
    spread = SumDistribution([Term(Shape.NORMAL, 1.0)]).spread
    # asked for only where amounts come as far as twice the spread below zero
    for consumed, produced, error, reached in (
        (0.0, 0.0, 0.0, (False, False)), (-1.99 * spread, -3.99 * spread, 0.0, (False, False)),
        (-2.01 * spread, -3.99 * spread, 0.0, (True, False)),
        (-1.99 * spread, -4.01 * spread, 0.02 * spread, (True, True)),
        (0.0, -4.01 * spread, 0.0, (False, True)), (0.0, -3.99 * spread, 0.1, (False, False)),
    ):  # fmt: skip
        found = _floors(lab, replace(at(consumed, produced), error_mol=error))
        assert tuple(map(math.isfinite, found)) == reached


def test_limits_of_a_lab_that_scatters_too_much_by_chance() -> None:
    """Three trials: half of the 1 % are beyond −2 ln 0.005; t of two degrees of freedom."""
    linear: Any = SimpleNamespace(trials=3, own_variance=lambda r, _: r * r)
    found = alarm_limits(linear, np.array([[1.0], [2.0]]), 0.05)
    one = 4.3027 * math.sqrt(-2 * math.log(0.005) / 2)
    assert found == pytest.approx(np.array([[one], [2 * one]]), rel=1e-4)


VX, VY, BOTH = 0.04, 0.09, 0.01


def trials_apart(size: float, *, ratio: float = 2.0) -> draws.Drawn:
    """Return labs of three trials whose amounts lie ``size`` across the ray of a ratio apart."""
    steps = np.array([[-size, 0.0, size]])
    return draws.Drawn({}, 3.0 + 0.0 * steps, 3.0 * ratio + steps)


def scattered(labs: draws.Drawn, recovery: tuple[float, float] = (1.0, 1.0)) -> bool:
    """Return whether a lab is judged by its own scatter, which lets any mean fit here."""
    linear: Any = SimpleNamespace(
        own_variance=lambda x, y: (x * x * VX + y * y * VY - 2 * x * y * BOTH) / 3,
        shared_terms=lambda *_: (),
    )
    lab: Any = SimpleNamespace(variation=None)
    (found,) = draws._by_scatter(labs, linear, lab, recovery)(2.0, 0.05)
    return bool(found)


def test_when_trials_scatter_too_much() -> None:
    """3 and 6 mol: D = y n(made) − x n(used) with x = 6/√45, y = 3/√45. Of a trial it has the
    variance x² 0.04 + y² 0.09 − 2 x y 0.01 = 0.042; made ± s is D ± y s, so that χ² is
    2 y² s² / 0.042, beyond 9.2103 (1 % of two degrees of freedom) where s > 0.98333."""
    x, y = 6 / math.sqrt(45), 3 / math.sqrt(45)
    variance = x * x * 0.04 + y * y * 0.09 - 2 * x * y * 0.01
    most = math.sqrt(-2 * math.log(0.01) * variance / (2 * y * y))
    assert (variance, most) == pytest.approx((0.042, 0.98333), rel=1e-4)
    assert scattered(trials_apart(1.0001 * most))
    assert not scattered(trials_apart(0.9999 * most))


def test_what_a_recovery_explains_is_no_excess() -> None:
    """Each may recover up to so much more: 6 ± s are explained from 3 by ratios f r with f from
    lo to hi where hi/lo ≥ (6 + s)/(6 − s); what is left beyond that counts alone."""
    made = trials_apart(2.0)
    assert scattered(made)
    assert not scattered(made, (0.5, 1.0))  # (6 + 2)/(6 − 2) = 2
    assert not scattered(made, (1.0, 2.0))
    assert scattered(made, (0.999, 1.0))
    # with u = 3 r lo what is left is (u − 4)² + (8 − q u)², q = hi/lo: at its least (8 − 4 q)² /
    # (1 + q²), the square of the distance of (4, 8) from a line; too much beyond 2 × 0.98333²
    q = 1.40146
    assert (8 - 4 * q) ** 2 / (1 + q * q) == pytest.approx(2 * 0.98333**2, rel=1e-4)
    assert not scattered(made, (1.0, q * 1.002))
    assert scattered(made, (1.0, q * 0.998))
    assert not scattered(made, (1.5, 1.5 * q * 1.002))
    assert scattered(made, (1.5, 1.5 * q * 0.998))


def test_own_scatter_lets_a_mean_fit_as_far_as_student_t_says() -> None:
    """Unknown variation, three trials of 2 n(used) + m ± 1: t = 4.3027 times 1/√3."""
    lab: Any = SimpleNamespace(variation=Variation(unknown=True))
    linear: Any = SimpleNamespace(shared_terms=lambda *_: ())
    for off, fits in ((2.48, True), (2.49, False), (-2.48, True), (-2.49, False)):
        labs = draws.Drawn({}, np.full((1, 3), 3.0), 6.0 + off + np.array([[-1.0, 0.0, 1.0]]))
        found = draws._by_scatter(labs, linear, lab, (1.0, 1.0))(2.0, 0.05)
        assert found.tolist() == [fits]
    alike = draws.Drawn({}, np.full((1, 3), 3.0), np.full((1, 3), 6.0))
    assert draws._by_scatter(alike, linear, lab, (1.0, 1.0))(2.0, 0.05).tolist() == [False]


@pytest.mark.parametrize(
    ("recovery", "ratios", "counts"),
    [
        ((0.6, 1.0), (1, 2), True), ((0.601, 1.0), (1, 2), False),
        ((0.72, 1.2), (1, 2), True), ((0.7212, 1.2), (1, 2), False),
        ((1.0, 1.0), (5, 6), True), ((1.0, 1.0), (4, 5), False),
        ((1.0, 1.0), (4, 5, 6, 1), True), ((1.0, 1.0), (1,), False),
    ],
)  # fmt: skip
def test_air_counts_in_a_map_where_candidates_lie_near(
    monkeypatch: pytest.MonkeyPatch, recovery: Any, ratios: tuple[int, ...], counts: bool
) -> None:
    """Air of 0.1 % to each side is 0.2002 % wide, a hundred times that 20.02 %: half of 2 is that
    far from 1 at a recovery of 0.6 (by 20 %), not at 0.601 (20.2 %)."""
    asked = []

    def air_of(_: object, amounts: list[tuple[float, float]]) -> Any:
        asked.extend(amounts)
        return (0.999, 1.001), False

    monkeypatch.setattr(design, "air_of", air_of)
    lab: Any = SimpleNamespace(
        recovery=recovery, candidates=[SimpleNamespace(ratio=r) for r in ratios]
    )
    linear: Any = SimpleNamespace(mean_consumed=2.0, mean_produced=3.0)
    assert design._air(lab, linear, 10.0) == ((0.999, 1.001) if counts else design.NO_AIR)
    assert asked == [(20.0, 30.0)]


def test_the_fewest_further_trials_that_reach_the_target_itself() -> None:
    found = tuple(Chances(p, 0.0, 1 - p, 0.0) for p in (0.89, 0.9, 0.95))
    assert following.FurtherTrials((1, 2, 3), found, 0.9, 0.002, 0.01).fewest == 2
    assert following.FurtherTrials((1, 2, 3), found, 0.951, 0.002, 0.01).fewest is None


def test_a_finer_balance_is_looked_at_until_the_target_itself(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Two truths with 0.25 and 0.75: 0.25 × 0.6 + 0.75 p of one trial, and so on."""
    right = {1: 0.8, 2: 0.9, 3: 1.0, 4: 1.0}
    asked = []

    def of(plan: Plan, name: str) -> Chances:
        asked.append((plan.trials, plan.consumed_mol, plan.spread))
        p = 0.6 if name == "copper(I)" else right[plan.trials]
        return Chances(p, 0.0, 1 - p, 0.0)

    monkeypatch.setattr(following, "chances", of)
    evidence: Any = SimpleNamespace(experiment=SILVER)
    shares = {"copper(I)": 0.25, "copper(II)": 0.75}

    def found(target: float, counts: tuple[int, ...] = (1, 2, 3, 4)) -> Any:
        return following._on_finer(evidence, shares, 0.001, 0.002, counts, target)

    at_two = found(0.25 * 0.6 + 0.75 * 0.9)
    assert at_two.trials == (1, 2)
    assert [c.right for c in at_two.chances] == pytest.approx([0.75, 0.825])
    assert (at_two.readability_g, at_two.consumed_mol, at_two.target) == (
        0.001,
        0.002,
        pytest.approx(0.825),
    )
    assert found(0.9).trials == (1, 2, 3)
    assert found(0.999, (2,)).trials == (1, 2)
    assert set(asked) == {(n, 0.002, 0.1) for n in (1, 2, 3)}


@pytest.mark.parametrize(
    ("explained", "by_hand"),
    # D of 3, 4 and 8 mol made, 1 used each, at 2: 1, 2 and 6, a variance of 7; 5 made on average
    [(1.0, math.sqrt(7 - 3) / 5), (7 / 3, None), (2.2, math.sqrt(0.4) / 5), (0.0, 0.5)],
)
def test_how_much_trials_were_seen_to_differ(
    monkeypatch: pytest.MonkeyPatch, explained: float, by_hand: float | None
) -> None:
    """What the readings do not explain (n times the variance of the mean), over the amount made; at
    most a half: of √7 / 5 = 0.529."""
    linear: Any = SimpleNamespace(own_variance=lambda *_: explained)
    monkeypatch.setattr(following, "linear_amounts", lambda *_: linear)
    evidence: Any = SimpleNamespace(
        experiment=SimpleNamespace(variation=None), scatter=SimpleNamespace(excess=True),
        amounts=[(1.0, 3.0), (1.0, 4.0), (1.0, 8.0)], nearest=SimpleNamespace(tested_ratio=2.0),
    )  # fmt: skip
    found = following._variation_seen(evidence)
    assert (found.relative if found else None) == (by_hand and pytest.approx(by_hand))


COARSE_NOW = assess(experiments.load("copper-silver-coarse"))


@pytest.mark.parametrize(
    ("ask", "name", "bad", "allowed"),
    [
        (lambda **a: class_chances([Groups(PLAN, 2)], "copper(II)", **a), "classes",
         (99, 100_001), "from 100 to 100000"),
        (lambda **a: class_chances([Groups(PLAN, 2)], "copper(II)", **a), "seed",
         (-1, 2**32), "from 0 to 4294967295"),
        (lambda **a: class_chances([Groups(PLAN, 2)], "copper(II)", **a), "recovered",
         (0.0, 10.001), "above 0 up to 10"),
        (lambda **a: next_trials(COARSE_NOW, **a), "seed", (-1, 2**32), "from 0 to 4294967295"),
        (lambda **a: next_trials(COARSE_NOW, **a), "labs", (99, 100_001), "from 100 to 100000"),
        (lambda **a: next_trials(COARSE_NOW, **a), "most", (0, 33), "from 1 to 32"),
        (lambda **a: next_trials(COARSE_NOW, **a), "target", (0.049, 1.0), "from 0.05 to 0.999"),
        (lambda **a: next_trials(COARSE_NOW, **a), "larger_by", (1.0, 1001.0),
         "above 1 up to 1000"),
        (lambda **a: next_trials(COARSE_NOW, **a), "finer_g", (0.0,), "above 0"),
        (lambda **a: simulate_labs(PLAN, "copper(II)", **a), "labs", (0, 100_001),
         "from 1 to 100000"),
        (lambda **a: simulate_labs(PLAN, "copper(II)", **a), "seed", (-1,), "0 or more"),
        (lambda **a: simulate_labs(PLAN, "copper(II)", **a), "recovered", (0.0, 10.001),
         "above 0 up to 10"),
        (lambda **a: chances(PLAN, "copper(II)", **a), "recovered", (0.0, 10.001),
         "above 0 up to 10"),
    ],
)  # fmt: skip
def test_what_may_be_asked(
    ask: Callable[..., object], name: str, bad: tuple[float, ...], allowed: str
) -> None:
    for value in bad:
        with pytest.raises(ModelError) as refused:
            ask(**{name: value})
        assert allowed in str(refused.value).replace(",", "")


def test_sizes_reach_a_kilogram_whatever_a_step_is_cut_into() -> None:
    for parts in (1, 10):
        sizes = sizes_of(PLAN, parts=parts)
        assert sizes[0] == pytest.approx(0.01 / parts)
        assert 990 < sizes[-1] <= 1000
    assert first_enough([1.0], lambda _: True) == 0


def test_how_precise_chances_are_is_said_of_one_candidate_too() -> None:
    """0.5 of 2,500 labs: √(0.25 / 2500) = 0.01."""
    found = OperatingCharacteristic(
        PLAN, {"copper(II)": ((1.0, Chances(0.5, 0.0, 0.5, 0.0, labs=2500)),)}
    )
    assert _precision(found) == (
        " The chances are those of 2,500 simulated labs for each candidate and recovery (standard "
        "error up to 0.01)."
    )
    exact = OperatingCharacteristic(PLAN, {"copper(II)": ((1.0, Chances(0.5, 0.0, 0.5, 0.0)),)})
    assert _precision(exact) == ""


@pytest.mark.parametrize(
    ("variation", "trials", "labs"),
    [
        (Variation(unknown=True), 1, 0), (Variation(unknown=True), 2, 200), (None, 2, 0),
    ],
)  # fmt: skip
def test_labs_are_simulated_where_the_scatter_of_their_trials_decides(
    monkeypatch: pytest.MonkeyPatch, variation: Variation | None, trials: int, labs: int
) -> None:
    monkeypatch.setattr(planning, "_LABS", 200)
    plan = Plan(experiment=replace(SILVER, variation=variation), consumed_mol=0.0005, trials=trials)
    assert chances(plan, "copper(II)", recovered=1.0).labs == labs


@pytest.mark.parametrize("trials", [1, 4])
def test_what_is_not_read_in_digits_is_continuous(trials: int) -> None:
    """0.05 mol on 0.1 mg, where digits are too many: what is made differs by 2 % of 0.1 mol over
    √n; the mean of amounts even within ±10 % has the variance (0.1 × 0.05)² / 3 n."""
    lab = replace(FINE, variation=Variation(relative=0.02))
    plan = Plan(experiment=lab, consumed_mol=0.05, trials=trials, spread=0.1)
    linear = nominal_lab(plan, "copper(II)", 1.0)
    points, used, made = planning._split(plan, linear, 2.0, nothing=False)
    assert made.standard_deviation == pytest.approx(0.02 * 0.1 / math.sqrt(trials), rel=1e-4)
    assert points.produced == pytest.approx(2 * points.consumed)
    middle = float(points.weight @ points.consumed)  # type: ignore[union-attr]
    variance = float(points.weight @ (points.consumed - middle) ** 2)  # type: ignore[union-attr]
    assert middle == pytest.approx(0.05)
    assert variance == pytest.approx(0.005**2 / 3 / trials, rel=0.03)
    # two roundings of 0.1 mg each of the copper
    # two roundings of ±0.05 mg, and Cu 63.546 ± 0.003 (IUPAC, atomic weights 2021)
    roundings = math.sqrt(2 / trials) * 0.00005 / 63.546
    by_hand = math.hypot(roundings, 0.003 / 63.546 * 0.05) / math.sqrt(3)
    assert used.standard_deviation == pytest.approx(by_hand, rel=0.01)
    none, *_ = planning._split(plan, linear, 2.0, nothing=True)
    assert (none.consumed.tolist(), none.produced.tolist()) == ([0.0], [0.0])
