"""Mean amounts as sums of error sources: each answer worked out by hand from a few readings.

A normal deviate z has both tails together of 2 Φ(−z); t with one degree of freedom those of
1 − (2/π) atan t. Amounts are plain numbers, as if a mole of each weighed 1 g.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm

from stoichkit.decision.linear import (
    LinearAmounts,
    Scatter,
    display_readings,
    grouped,
    one_sided,
    pairs_of,
    ratio_found,
    student_sum,
    student_sums,
    towards,
    trials_of,
    unexplained,
    variation_term,
)
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    Term,
    contributions,
    error_source,
    uncertain_value,
)

SQUARE = 0.1**2
"""A step of 0.1 squared: a rounding has a variance of a twelfth of it."""


def normal(u: float, **more: Any) -> Number:
    given: dict[str, Any] = {"kind": "other"} | more
    return error_source("e", shape=Shape.NORMAL, scale=u, **given)


def box(half_width: float, kind: str = "other") -> Number:
    return error_source("b", kind=kind, shape=Shape.RECTANGULAR, scale=half_width)


def shown(
    value: float,
    role: str,
    trial: int = 1,
    *,
    step: float = 0.1,
    noise: float = 0.0,
    vessel: str = "",
) -> Number:
    """A reading on a display, with its rounding and, if it repeats to anything, its noise."""
    label = f"{role} {trial}"
    rounding = error_source(
        label, kind="rounding", shape=Shape.RECTANGULAR, scale=step / 2, reading=label,
        vessel=vessel,
    )  # fmt: skip
    repeats = error_source(
        label, kind="repeatability", shape=Shape.NORMAL, scale=noise * step, reading=label,
        vessel=vessel,
    )  # fmt: skip
    return value + rounding + repeats


ROLES = {f"{role} {i}": role for role in ("before", "after", "tare", "gross") for i in range(1, 10)}


def weighed(
    used: float, made: float, trial: int = 1, step: float = 0.1, noise: float = 0.0
) -> tuple[Number, Number]:
    """Two masses by difference: (used up, made)."""
    how: dict[str, Any] = {"step": step, "noise": noise}
    wire, paper = how | {"vessel": f"wire {trial}"}, how | {"vessel": f"paper {trial}"}
    before = shown(10.0, "before", trial, **wire)
    after = shown(10.0 - used, "after", trial, **wire)
    gross = shown(5.0 + made, "gross", trial, **paper)
    return before - after, gross - shown(5.0, "tare", trial, **paper)


# -- amounts and their errors -----------------------------------------------------------------


def test_the_discrepancy_of_two_trials_by_hand() -> None:
    """D = y n_produced − x n_consumed; what each trial reads for itself counts half in the mean."""
    shared = normal(0.3)
    lab = LinearAmounts([
        (1.0 + normal(0.1) + shared, 5.0 + normal(0.2)),
        (3.0 + normal(0.1) + shared, 6.0 + normal(0.2) + 2 * shared),
    ])  # fmt: skip
    assert lab.trials == 2
    assert (lab.mean_consumed, lab.mean_produced) == (2.0, 5.5)
    assert lab.mean(2.0, 3.0) == pytest.approx(3 * 5.5 - 2 * 2.0)
    # own: −x/2 of 0.1 twice, y/2 of 0.2 twice; shared: −x (both) + y (0 + 2)/2
    x, y = 2.0, 3.0
    own = 2 * (x / 2 * 0.1) ** 2 + 2 * (y / 2 * 0.2) ** 2
    shared_part = (-x + y) * 0.3
    assert lab.own_variance(x, y) == pytest.approx(own)
    assert lab.distribution(x, y).spread == pytest.approx(math.sqrt(own + shared_part**2))
    c = {s.scale: c for s, c in lab.parts(x, y)}
    assert c == pytest.approx({0.1: -1.0, 0.2: 1.5, 0.3: 1.0})
    consumed, produced = lab.mean_coefficients()
    assert sorted(consumed.tolist()) == pytest.approx([0, 0, 0.5, 0.5, 1.0])
    assert sorted(produced.tolist()) == pytest.approx([0, 0, 0.5, 0.5, 1.0])
    assert lab.shared.tolist().count(True) == 1
    assert [t.scale for t in lab.shared_terms(x, y)] == pytest.approx([0.3])
    # 5 % point of a normal deviate, both tails
    assert lab.p_value(5.5, 2.0) == 1.0  # D = 2 × 5.5 − 5.5 × 2
    u = lab.distribution(2.0, 1.0).spread
    assert lab.p_value(2.0, 1.0) == pytest.approx(2 * norm.sf(1.5 / u), abs=1e-9)


def test_a_source_counts_with_what_it_does_to_each_amount() -> None:
    """A balance that reads a part too much: it cancels at the ratio found, and nowhere else."""
    calibration = normal(0.01)
    lab = LinearAmounts([(2.0 * (1 + calibration), 3.0 * (1 + calibration))])
    assert lab.distribution(1.5, 1.0).spread == pytest.approx(0.0, abs=1e-12)
    assert lab.distribution(1.0, 1.0).spread == pytest.approx(0.01)
    assert lab.distribution(2.0, 1.0).spread == pytest.approx(0.01)


@pytest.mark.parametrize(("noise", "single", "difference"), [
    (0.0, 3.0, 1.5),  # d²/4 and d²/8 against d²/12 on average
    (0.2, 1 + 2 * 0.20619, 1 + 0.5 * 0.20619),  # exp(−4 π² 0.04) = 0.20619
])  # fmt: skip
def test_the_variance_of_a_rounding_is_that_at_its_worst_position(
    noise: float, single: float, difference: float
) -> None:
    """The variance of one trial's D, which its scatter is held against."""
    other, step = 0.2**2 / 12, {"step": 0.2, "noise": noise}
    alone = LinearAmounts([
        (shown(1.0, "before", 1, noise=noise), shown(2.0, "gross", 1, **step)),
        (shown(1.0, "before", 2, noise=noise), shown(2.0, "gross", 2, **step)),
    ])  # fmt: skip
    worst = single * (SQUARE / 12 + other) + noise**2 * (SQUARE + 0.2**2)
    assert alone.own_variance(1.0, 1.0) == pytest.approx(worst / 2, rel=1e-4)
    pair = LinearAmounts([weighed(1.0, 2.0, i, 0.1, noise) for i in (1, 2)])
    worst = 4 * (difference * SQUARE / 12 + noise**2 * SQUARE)
    assert pair.own_variance(1.0, 1.0) == pytest.approx(worst / 2, rel=1e-4)


def test_noise_is_the_part_of_what_differs_that_has_tails() -> None:
    """Normal and Student t have tails, a rectangle none; what trials share is left out."""
    t = error_source("t", kind="other", shape=Shape.STUDENT_T, scale=0.2, dof=4.0)
    shared = normal(5.0)
    lab = LinearAmounts([
        (1.0 + normal(0.3) + shared, 2.0 + box(0.4 * math.sqrt(3))),
        (1.0 + t, 2.0 + shared),
    ])  # fmt: skip
    assert lab.noise_share(1.0, 1.0) == pytest.approx((0.09 + 0.04) / (0.09 + 0.04 + 0.16))
    assert LinearAmounts([(1.0, 2.0)] * 2).noise_share(1.0, 1.0) == 0.0


# -- below zero, nothing reacted --------------------------------------------------------------


@pytest.mark.parametrize(("trials", "shares"), [(1, 2), (2, 6), (3, 8)])
@pytest.mark.parametrize("side", [0, 1])
def test_how_far_below_zero_counts(trials: int, shares: int, side: int) -> None:
    """The level is shared by both means and, from two trials on, both amounts of each trial."""
    z = float(norm.isf(0.001 / shares / 2))  # 3.48, 3.76 and 3.84

    def lab(mean: float) -> LinearAmounts:
        # the mean of n repeats to 1/√n; the other amount is far above zero, and poorly known
        amounts = [(mean + normal(1.0), 1e4 + normal(500.0)) for _ in range(trials)]
        return LinearAmounts([pair[:: 1 - 2 * side] for pair in amounts])

    inside, outside = 0.997 * z / math.sqrt(trials), 1.003 * z / math.sqrt(trials)
    assert lab(-inside).below_zero(0.001) == []
    assert lab(-outside).below_zero(0.001)[:1] == [(side, None)]
    assert lab(outside).below_zero(0.001) == []
    if trials > 1:
        assert lab(-outside).below_zero(0.001) == [(side, None)]


@pytest.mark.parametrize("side", [0, 1])
def test_one_trial_below_zero_is_named(side: int) -> None:
    z = float(norm.isf(0.001 / 8 / 2))

    def found(amount: float) -> list[tuple[int, int | None]]:
        each = [9.0, amount, 9.0]
        return LinearAmounts([
            (a + normal(1.0), 50.0 + normal(1.0))[:: 1 - 2 * side] for a in each
        ]).below_zero(0.001)  # fmt: skip

    assert found(-0.997 * z) == []
    assert found(-1.003 * z) == [(side, 1)]


def test_an_amount_that_is_nothing_or_more_is_not_below_zero() -> None:
    """However small its error: nothing is looked at where nothing is below zero."""
    assert LinearAmounts([(0.0, 1.0)]).below_zero(0.999) == []
    assert LinearAmounts([(1.0, 0.0 + normal(1e-9))]).below_zero(0.999) == []
    assert LinearAmounts([(-1e-6, 1.0)]).below_zero(0.001) == [(0, None)]


def test_the_amount_along_a_ray_has_the_least_variance() -> None:
    """n_consumed known to 3, n_produced / 2 to 4: weights 16/25 and 9/25, mean known to 2.4."""
    n_a, n_b = 5.0, 20.0
    lab = LinearAmounts([(n_a + normal(3.0, reading="a"), n_b + normal(8.0, reading="b"))])
    weight, terms = lab.along_ray(2.0)
    assert weight == pytest.approx(16 / 25)
    assert math.hypot(*(t.scale for t in terms)) == pytest.approx(2.4)
    amount = 16 / 25 * n_a + 9 / 25 * n_b / 2
    assert lab.nothing_reacted_p(2.0) == pytest.approx(norm.sf(amount / 2.4), rel=1e-6)
    lower = LinearAmounts([(-n_a + normal(3.0, reading="a"), -n_b + normal(8.0, reading="b"))])
    assert lower.nothing_reacted_p(2.0) == 1.0


def test_weights_along_a_ray_lie_between_none_and_all() -> None:
    """Readings that act on both: 3 e on one and 5 e on the other leave all to the first."""
    e = normal(1.0, reading="r")
    lab = LinearAmounts([(1.0 + 3 * e, 1.0 + 5 * e)])
    assert lab.along_ray(1.0)[0] == 1.0
    assert LinearAmounts([(1.0 + 5 * e, 1.0 + 3 * e)]).along_ray(1.0)[0] == 0.0
    # alike in both: no weight is better than another
    assert LinearAmounts([(1.0 + e, 1.0 + e)]).along_ray(1.0)[0] == 0.5
    # against each other they cancel in the mean with weights 5/8 and 3/8
    weight, terms = LinearAmounts([(1.0 - 3 * e, 1.0 + 5 * e)]).along_ray(1.0)
    assert weight == pytest.approx(5 / 8)
    assert sum(t.scale for t in terms) == pytest.approx(0.0, abs=1e-12)


def test_only_errors_of_readings_tell_something_from_nothing() -> None:
    """An atomic weight is a part of an amount that would be zero; a linearity is not."""
    weight = error_source("M", kind="atomic weight", shape=Shape.NORMAL, scale=100.0)
    line = error_source("l", kind="linearity", shape=Shape.NORMAL, scale=1.5)
    a = 2.0 + normal(2.0, reading="a") + weight + line
    weight_of_a, terms = LinearAmounts([(a, 1e9 + normal(1e9, reading="b"))]).along_ray(1.0)
    assert weight_of_a == pytest.approx(1.0)
    assert math.hypot(*(t.scale for t in terms)) == pytest.approx(2.5)


def test_ten_standard_uncertainties_are_above_zero_whatever_the_shape() -> None:
    """Student t with one degree of freedom has 3 % beyond ten scales: both amounts must be sure."""

    def p(first: float, other: float) -> float:
        a, b = (
            error_source("t", kind="other", shape=Shape.STUDENT_T, scale=1.0, dof=1.0, reading=r)
            for r in "ab"
        )
        return LinearAmounts([(first + a, other + b)]).nothing_reacted_p(1.0)

    assert p(10.01, 10.01) == 0.0
    assert p(9.99, 10.01) > 0.01
    assert p(10.01, 9.99) > 0.01
    # the mean of two such errors is one like them: 1/2 − atan(9.99)/π
    assert p(9.99, 9.99) == pytest.approx(0.5 - math.atan(9.99) / math.pi, rel=1e-3)


# -- the scatter of the trials ----------------------------------------------------------------


def test_the_scatter_of_two_trials_by_hand() -> None:
    """3 used up and 4 ± δ made: χ² = 2 δ²/u² at the ratio found, 1 % beyond 2.5758²."""
    z, u = 2.575829, 0.1

    def lab(delta: float) -> Scatter:
        made = (4 - delta + normal(u), 4 + delta + normal(u))
        found = LinearAmounts([(3.0, b) for b in made]).scatter()
        assert found is not None
        return found

    near, far = lab(0.999 * z * u / math.sqrt(2)), lab(1.001 * z * u / math.sqrt(2))
    assert (near.excess, far.excess) == (False, True)
    assert near.dof == 1
    assert near.ratio_of_spread == pytest.approx(0.999 * z)
    assert near.p_value == pytest.approx(2 * norm.sf(0.999 * z), rel=1e-5)


def test_both_amounts_scatter_about_the_ratio_found() -> None:
    """Means 3 and 4: D = 0.6 n_produced − 0.8 n_consumed is −1.6 and 1.6, its variance 0.36 u²."""
    u = 2.0
    found = LinearAmounts([(4.0, 3.0 + normal(u)), (2.0, 5.0 + normal(u))])
    scatter = found.scatter()
    # d = 0.6 × 3 − 0.8 × 4 = −1.4 and 0.6 × 5 − 0.8 × 2 = 1.4
    assert scatter is not None
    assert scatter.ratio_of_spread == pytest.approx(math.sqrt(2) * 1.4 / (0.6 * u))
    u_a = LinearAmounts([(4.0 + normal(u), 3.0), (2.0 + normal(u), 5.0)]).scatter()
    assert u_a is not None
    assert u_a.ratio_of_spread == pytest.approx(math.sqrt(2) * 1.4 / (0.8 * u))


def test_scatter_against_unlike_trials_takes_their_mean_variance() -> None:
    """On one kind of display; on several each trial counts against its own."""
    pairs = [(3.0, b + normal(u)) for b, u in ((4.0, 0.1), (4.2, 0.3), (3.8, 0.2))]
    scatter = LinearAmounts(pairs).scatter()
    assert scatter is not None
    # squares of D: 0.36 × (0 + 0.04 + 0.04), mean variance 0.36 × (0.01 + 0.09 + 0.04)/3
    assert scatter.ratio_of_spread == pytest.approx(math.sqrt(0.08 / (0.14 / 3) / 2))
    assert scatter.dof == 2


def test_scatter_on_two_displays_is_weighted() -> None:
    """Steps of 0.1 and 0.3, single readings without noise: variances of d²/4 at the worst."""
    made = (4.0, 4.5, 4.1)
    steps = (0.1, 0.3, 0.1)
    lab = LinearAmounts(
        [
            (3.0, shown(b, "gross", i, step=s))
            for i, (b, s) in enumerate(zip(made, steps, strict=True), 1)
        ],
        ROLES,
    )
    assert lab.several_displays
    scatter = lab.scatter()
    assert scatter is not None
    v = [s * s / 4 for s in steps]
    centre = sum(b / w for b, w in zip(made, v, strict=True)) / sum(1 / w for w in v)
    chi_squared = sum((b - centre) ** 2 / w for b, w in zip(made, v, strict=True))
    # the variance of D is that of n_produced times y², which cancels but for the rounding of y
    assert scatter.ratio_of_spread == pytest.approx(math.sqrt(chi_squared / 2))


def test_what_recovery_explains_is_no_excess() -> None:
    """Made 1.8 and 2.0 of 1 each: from 90 to 100 % of 2 explain both, 95 to 100 % do not."""
    u = 0.01
    lab = LinearAmounts([(1.0, 1.8 + normal(u)), (1.0, 2.0 + normal(u))])
    plain, some, wide = (lab.scatter((f, 1.0)) for f in (1.0, 0.95, 0.9))
    assert plain is not None
    assert some is not None
    assert wide is not None
    assert (plain.excess, some.excess, wide.excess) == (True, True, False)
    # what is left of 0.95: 1.8 = 0.95 r − a, 2 = r + b, least a² + b² = 0.1²/(1 + 0.95²);
    # it counts as excess from 2.5758 standard uncertainties on
    left = 0.1 / math.hypot(1.0, 0.95)
    for part, excess in ((0.99, True), (1.01, False)):
        v = part * left / 2.575829
        found = LinearAmounts([(1.0, 1.8 + normal(v)), (1.0, 2.0 + normal(v))]).scatter((0.95, 1.0))
        assert found is not None
        assert found.excess is excess
        assert found.p_value == pytest.approx(2 * norm.sf(0.1 * math.sqrt(2) / v), rel=1e-4)


def test_no_scatter_of_one_trial_nor_of_nothing() -> None:
    assert LinearAmounts([(1.0 + normal(0.1), 2.0)]).scatter() is None
    assert LinearAmounts([(1.0 + normal(0.1), 2.0), (-1.0, -2.0)]).scatter() is None
    exact = [(1.0, 2.0), (1.0, 2.0)]
    assert LinearAmounts(exact).scatter() is None
    assert LinearAmounts([(1.0, 2.0), (1.0, 2.1)]).scatter() == Scatter(math.inf, 1, 0.0, True)


def test_the_trials_own_scatter_by_hand() -> None:
    """D of 1 and 3: mean 2, standard error 1, so t = 2 of one degree of freedom."""
    lab = LinearAmounts([(1.0, 3.0), (1.0, 5.0)])
    both_tails = 1 - 2 * math.atan(2.0) / math.pi
    assert lab.own_scatter_p(2.0, 1.0) == pytest.approx(both_tails)
    assert lab.own_scatter_p(6.0, 1.0) == pytest.approx(both_tails)  # D of −3 and −1
    # with x = 2, y = 3: D of 7 and 13, t = 10/3
    assert lab.own_scatter_p(2.0, 3.0) == pytest.approx(1 - 2 * math.atan(10 / 3) / math.pi)
    assert math.isnan(LinearAmounts([(1.0, 3.0)]).own_scatter_p(2.0, 1.0))
    three = LinearAmounts([(1.0, 3.0), (1.0, 4.0), (1.0, 5.0)])
    # D of 1, 2, 3: t = 2√3 of two degrees of freedom, whose tails are 1 − t/√(2 + t²)
    t = 2 * math.sqrt(3)
    assert three.own_scatter_p(2.0, 1.0) == pytest.approx(1 - t / math.sqrt(2 + t * t))


@pytest.mark.parametrize(("apart", "judged"), [(0.9e-6, False), (1.1e-6, True)])
def test_trials_that_differ_by_a_millionth_do_not_scatter(apart: float, judged: bool) -> None:
    """The standard error of two is half of what lies between them."""
    lab = LinearAmounts([(1.0, 2.0), (1.0, 2.0 + 2 * apart)])
    assert math.isnan(lab.own_scatter_p(1.0, 1.0)) is not judged


def test_excess_scatter_takes_the_larger_p_value() -> None:
    """Readings known to 0.01, trials 0.5 apart: t = 2 of one degree of freedom decides."""
    lab = LinearAmounts([(1.0, 2.5 + normal(0.01)), (1.0, 3.5 + normal(0.01))])
    scatter = lab.scatter()
    assert scatter is not None
    assert scatter.excess
    assert lab.p_value(2.0, 1.0) == pytest.approx(0.0, abs=1e-12)
    # the standard error is 0.5 at every ratio, since nothing scatters in what was used up
    assert lab.p_value(2.0, 1.0, scatter) == pytest.approx(1 - 2 * math.atan(2.0) / math.pi)
    (own,) = lab.scatter_terms(2.0, 1.0, scatter)
    assert (own.shape, own.dof) == (Shape.STUDENT_T, 1.0)
    assert own.scale == pytest.approx(0.5)
    quiet = Scatter(0.5, 1, 0.6, False)
    assert lab.p_value(2.0, 1.0, quiet) == pytest.approx(0.0, abs=1e-12)


# -- Student t beside other errors ------------------------------------------------------------


def beside_a_box(x: float, half_width: float) -> float:
    """Both tails of t with one degree of freedom and a rectangle.

    The integral of atan u is F(u) = u atan u − ln(1 + u²)/2; t is below x − v with the chance
    1/2 + atan(x − v)/π, averaged over v.
    """

    def integral(u: float) -> float:
        return u * math.atan(u) - 0.5 * math.log1p(u * u)

    mean = (integral(x + half_width) - integral(x - half_width)) / (2 * half_width)
    return 1 - 2 * mean / math.pi


@pytest.mark.parametrize("x", [0.3, 2.0, 12.0])
@pytest.mark.parametrize("half_width", [0.2, 1.0, 5.0])
def test_student_t_beside_one_rectangle_by_hand(x: float, half_width: float) -> None:
    terms = [Term(Shape.RECTANGULAR, half_width), Term(Shape.STUDENT_T, 1.0, 1.0)]
    assert student_sum(x, terms) == pytest.approx(beside_a_box(x, half_width), abs=1e-7)
    assert student_sum(-x, terms) == pytest.approx(beside_a_box(x, half_width), abs=1e-7)
    twice = [Term(Shape.RECTANGULAR, 2 * half_width), Term(Shape.STUDENT_T, 2.0, 1.0)]
    assert student_sum(2 * x, twice) == pytest.approx(beside_a_box(x, half_width), abs=1e-7)
    many = student_sums(np.array([x, 2 * x]), np.array([[half_width] * 2]), np.ones(2), 1)
    assert many[0] == pytest.approx(beside_a_box(x, half_width), abs=1e-7)
    assert many[1] == pytest.approx(beside_a_box(2 * x, half_width), abs=1e-7)


@pytest.mark.parametrize("scale", [1.0, 3.0])
def test_from_a_twentieth_of_the_scale_on_errors_are_more_than_a_shift(scale: float) -> None:
    """Below it the value is taken so much nearer: 1 − (2/π) atan(x − reach)."""
    x, below, above = 2.0, 0.0499, 0.0501
    shifted = 1 - 2 * math.atan(x - below) / math.pi

    def by_one(reach: float) -> float:
        own = Term(Shape.STUDENT_T, scale, 1.0)
        return student_sum(x * scale, [Term(Shape.RECTANGULAR, reach * scale), own])

    def by_many(reach: float) -> float:
        boxes, scales = np.array([[reach * scale]]), np.array([scale])
        return float(student_sums(np.array([x * scale]), boxes, scales, 1)[0])

    for asked in (by_one, by_many):
        assert asked(below) == pytest.approx(shifted, abs=1e-9)
        assert asked(above) == pytest.approx(beside_a_box(x, above), abs=1e-7)
        assert shifted - asked(above) > 0.005
    # the reaches of all errors add up, five standard deviations of a normal one
    own = Term(Shape.STUDENT_T, 1.0, 1.0)
    two = [Term(Shape.RECTANGULAR, 0.02), Term(Shape.NORMAL, 0.0059), own]
    assert student_sum(x, two) == pytest.approx(1 - 2 * math.atan(x - 0.0495) / math.pi, abs=1e-9)


def test_a_value_of_nothing_has_every_tail() -> None:
    own = Term(Shape.STUDENT_T, 1.0, 4.0)
    assert student_sum(0.0, [own]) == 1.0
    assert student_sum(0.0, [Term(Shape.RECTANGULAR, 1.0), own]) == pytest.approx(1.0)
    assert student_sum(0.0, [Term(Shape.NORMAL, 1.0), own]) == pytest.approx(1.0, abs=1e-9)


# -- small parts ------------------------------------------------------------------------------


def test_the_ratios_looked_at_within_an_allowance() -> None:
    """Parts of the way of 1/256, 1/64, 1/16 and 1/4, both ends included."""
    assert towards(0.0, 256.0) == (0.0, 1.0, 4.0, 16.0, 64.0, 256.0)
    assert towards(300.0, 44.0) == (300.0, 299.0, 296.0, 284.0, 236.0, 44.0)


def test_a_ratio_of_nothing_consumed_is_infinite() -> None:
    assert ratio_found(4.0, 3.0) == 0.75
    assert ratio_found(1e-9, 1.0) == pytest.approx(1e9)
    assert ratio_found(0.0, 3.0) == math.inf
    assert ratio_found(-1.0, -3.0) == -math.inf


def test_the_chance_above_zero_is_one_tail() -> None:
    term = [Term(Shape.NORMAL, 2.0)]
    assert one_sided(2.0, term) == pytest.approx(0.158655, abs=1e-6)
    assert one_sided(0.0, term) == 1.0
    assert one_sided(-2.0, term) == 1.0


def test_a_known_variation_is_normal_and_an_estimated_one_is_not() -> None:
    assert variation_term(0.2, math.inf) == Term(Shape.NORMAL, 0.2)
    assert variation_term(0.2, 5.0) == Term(Shape.STUDENT_T, 0.2, 5.0)


def test_variations_known_from_the_same_trials_are_one_term() -> None:
    """Three of 0.3 over three trials: √3 × 0.3/3; another known from other trials stays apart."""

    def vary(dof: float, scale: float = 0.3) -> Number:
        shape = Shape.STUDENT_T if math.isfinite(dof) else Shape.NORMAL
        return error_source("v", kind="variation", shape=shape, scale=scale, dof=dof)

    lab = LinearAmounts([(1.0, 2.0 + vary(4.0)), (1.0, 2.0 + vary(4.0)), (1.0, 2.0 + vary(4.0))])
    (term,) = lab.distribution(1.0, 1.0).terms
    assert (term.shape, term.dof) == (Shape.STUDENT_T, 4.0)
    assert term.scale == pytest.approx(0.3 / math.sqrt(3))
    other = LinearAmounts([(1.0, 2.0 + vary(4.0)), (1.0, 2.0 + vary(6.0, 0.5))])
    assert {t.dof: round(t.scale, 9) for t in other.distribution(1.0, 2.0).terms} == {
        4.0: 0.3, 6.0: 0.5,
    }  # fmt: skip
    plain = LinearAmounts([(1.0 + normal(0.4), 2.0 + vary(math.inf))])
    assert plain.distribution(1.0, 1.0).spread == pytest.approx(0.5)


# -- display readings -------------------------------------------------------------------------


def test_rounding_and_noise_of_a_reading_belong_together() -> None:
    amount, _ = weighed(1.0, 2.0, 1, 0.2, 0.25)
    lab = LinearAmounts([(amount, 2.0)], ROLES)
    sources = [s for s, _ in contributions(amount)]
    found = {r.role: r for r in display_readings(lab.sources, ROLES)}
    assert sorted(found) == ["after", "before"]
    for role, one in found.items():
        assert (one.step, one.vessel) == (0.2, "wire 1")
        assert one.noise == pytest.approx(0.25)
        assert lab.sources[one.rounding].kind == "rounding"
        assert lab.sources[one.repeatability].kind == "repeatability"
        assert lab.sources[one.rounding].reading == f"{role} 1"
    without = [s for s in sources if s.kind == "rounding"]
    assert [(r.noise, r.repeatability) for r in display_readings(without, {})] == [(0.0, -1)] * 2
    assert {r.role for r in display_readings(without, {})} == {"before 1", "after 1"}
    noise = [s for s in sources if s.kind == "repeatability"]
    assert display_readings(noise, ROLES) == ()


def test_what_is_asked_of_one_reading() -> None:
    """A step of 0.2 g, noise of a quarter of it; one g more in every reading of a role."""
    labs = [weighed(1.0, 2.0, i, 0.2, 0.25) for i in (1, 2)]
    lab = LinearAmounts([(2 * a, b / 4) for a, b in labs], ROLES)
    assert lab.step_of("gross") == 0.2
    assert lab.noise_of("gross") == pytest.approx(0.05)
    assert math.isnan(lab.step_of("current"))
    assert math.isnan(lab.noise_of("current"))
    assert len(lab.readings_of("gross")) == 2
    (second,) = lab.readings_of("gross", {"gross 2", "tare 2"})
    assert lab.shift_of_reading(second).tolist() == [[0, 0], [0, 0.25]]
    assert lab.shift_of(["gross"]).tolist() == [[0, 0], [0.25, 0.25]]
    assert lab.shift_of(["before", "after", "tare"]).tolist() == [[0, 0], [-0.25, -0.25]]
    assert lab.shift_of(["before"], {"before 1"}).tolist() == [[2, 0], [0, 0]]
    assert math.isnan(lab.step_of("gross", {"tare 1"}))
    # D = n_produced − 3 n_consumed: of each trial 1/8 of the gross and 3 of what was before
    assert lab.variance_of(["gross"], 3.0) == pytest.approx(2 / 64)
    assert lab.variance_of(["gross", "before"], 3.0) == pytest.approx(2 * (1 / 64 + 9))
    assert lab.variance_of(["before"], 3.0, {"before 1"}) == pytest.approx(9)
    moved = lab.shifted(0.5 * lab.shift_of(["gross"]))
    assert moved.mean_produced == pytest.approx(2 / 4 + 0.125)
    assert moved.mean_consumed == pytest.approx(2.0)
    assert lab.mean_produced == pytest.approx(0.5)


def test_readings_that_repeat_otherwise() -> None:
    """What repeats to 0.5 g in place of 0.05 g; from one display step on its digits are gone."""
    lab = LinearAmounts([weighed(1.0, 2.0, i, 0.2, 0.25) for i in (1, 2)], ROLES)
    rounding = 8 * 0.2**2 / 12 / 4  # eight readings, each half in the mean
    assert lab.distribution(1.0, 1.0).spread ** 2 == pytest.approx(rounding + 8 * 0.05**2 / 4)
    worse = lab.repeating({"gross": 0.1})
    spread = rounding + (6 * 0.05**2 + 2 * 0.1**2) / 4
    assert worse.distribution(1.0, 1.0).spread ** 2 == pytest.approx(spread)
    assert worse.noise_of("gross") == pytest.approx(0.1)
    assert worse.noise_of("tare") == pytest.approx(0.05)
    one = lab.repeating({"gross": 0.1}, {"gross 2"})
    spread = rounding + (7 * 0.05**2 + 0.1**2) / 4
    assert one.distribution(1.0, 1.0).spread ** 2 == pytest.approx(spread)
    assert lab.repeating({"gross": 0.199}).step_of("gross") == 0.2
    smooth = lab.repeating({"gross": 0.2})
    assert math.isnan(smooth.step_of("gross"))
    spread = rounding + (6 * 0.05**2 + 2 * 0.2**2) / 4
    assert smooth.distribution(1.0, 1.0).spread ** 2 == pytest.approx(spread)
    exact = LinearAmounts([weighed(1.0, 2.0, i, 0.2) for i in (1, 2)], ROLES)
    some = exact.repeating({"gross": 0.1, "before": 0.1})
    assert some.distribution(1.0, 1.0).spread ** 2 == pytest.approx(rounding + 4 * 0.1**2 / 4)
    # on what was used up with ratio 3, so that the sides are told apart
    assert some.distribution(3.0, 1.0).spread ** 2 == pytest.approx(
        (1 + 9) / 2 * rounding + (2 * 0.1**2 + 9 * 2 * 0.1**2) / 4
    )


def test_trials_that_vary_by_so_much_more() -> None:
    """2 % of 3 and of 5 made, one error each: √(0.06² + 0.1²)/2 in the mean."""
    lab = LinearAmounts([(1.0 + normal(0.1), 3.0), (1.0 + normal(0.1), 5.0)])
    varied = lab.varying(0.02)
    of_readings = 0.1**2 / 2
    own = (0.06**2 + 0.1**2) / 4
    assert varied.distribution(1.0, 1.0).spread ** 2 == pytest.approx(of_readings + own)
    assert varied.distribution(2.0, 0.5).spread ** 2 == pytest.approx(4 * of_readings + own / 4)
    assert varied.own_variance(1.0, 1.0) == pytest.approx(of_readings + own)
    assert not varied.shared.any()


def test_some_of_the_trials() -> None:
    """What the others alone depend on is gone, amounts and errors are multiplied."""
    lab = LinearAmounts([weighed(float(i), 2.0 * i, i, 0.2, 0.25) for i in (1, 2, 3)], ROLES)
    one = lab.part([1], np.array([10.0]))
    assert one.trials == 1
    assert (one.mean_consumed, one.mean_produced) == pytest.approx((20.0, 40.0))
    assert len(one.sources) == 8
    assert one.distribution(1.0, 1.0).spread == pytest.approx(
        10 * math.sqrt(4 * (0.2**2 / 12 + 0.05**2))
    )
    two = lab.part([2, 0], np.array([1.0, 0.5]))
    assert two.consumed.tolist() == pytest.approx([3.0, 0.5])
    assert two.produced.tolist() == pytest.approx([6.0, 1.0])
    assert two.step_of("tare") == 0.2
    assert two.noise_of("tare") == pytest.approx(0.05)
    assert {two.sources[i].reading for i in np.flatnonzero(two.coefficients(1.0, 1.0))} == {
        f"{role} {i}" for role in ("before", "after", "tare", "gross") for i in (1, 3)
    }


def test_a_reading_whose_pair_is_left_out_stands_alone() -> None:
    """One paper for two trials: tare in the first, gross in the second. Alone its worst position
    has three times the average variance, beside its pair one and a half times."""
    tare = shown(5.0, "tare", 1, vessel="paper")
    gross = shown(9.0, "gross", 2, vessel="paper")
    lab = LinearAmounts([(1.0, 6.0 - tare), (1.0, gross - 5.0)], ROLES)
    assert lab.own_variance(0.0, 1.0) == pytest.approx(2 * 1.5 * SQUARE / 12 / 4)
    assert lab.part([0], np.ones(1)).own_variance(0.0, 1.0) == pytest.approx(3 * SQUARE / 12)


# -- digits taken together --------------------------------------------------------------------


def test_two_readings_of_one_vessel_are_a_difference() -> None:
    lab = LinearAmounts([weighed(1.0, 2.0, i) for i in (1, 2)], ROLES)
    blocks, rest = lab.blocks(3.0, 1.0)
    assert rest == []
    assert sorted((b.kind, b.count, *b.noise) for b in blocks) == [("difference", 2, 0.0, 0.0)] * 2
    # half a step in the mean of two trials, three times as much of what was used up
    assert sorted(b.steps[0] for b in blocks) == pytest.approx([0.05, 0.15])


def test_readings_without_a_vessel_stand_alone() -> None:
    pairs = [(shown(1.0, "before", 1) - shown(0.5, "after", 1), 2.0)]
    blocks, _ = LinearAmounts(pairs, ROLES).blocks(2.0, 1.0)
    assert [(b.kind, b.count) for b in blocks] == [("single", 1)] * 2
    assert [b.steps for b in blocks] == [pytest.approx((0.2,))] * 2


def test_a_reading_that_serves_both_amounts_makes_a_triple() -> None:
    """Crucible c, with crystals k, with residue r: D = (k − r) − 2 (r − c)."""
    c, k, r = (shown(v, role, 1, vessel="cup", noise=n) for v, role, n in (
        (5.0, "tare", 0.1), (9.0, "before", 0.2), (8.0, "after", 0.3),
    ))  # fmt: skip
    blocks, _ = LinearAmounts([(r - c, k - r)], ROLES).blocks(2.0, 1.0)
    (block,) = blocks
    assert block.kind == "triple"
    # the coefficients are +1, −3, +2: the largest belongs to the shared reading, which is last
    assert block.noise[2] == pytest.approx(0.3)
    by_noise = sorted(zip(block.noise, block.steps, strict=False))
    assert by_noise == [pytest.approx((0.1, 0.2)), pytest.approx((0.2, 0.1))]


def test_readings_that_do_not_balance_stand_alone() -> None:
    """Coefficients 1 and −2 of one vessel: no difference of its position drops out."""
    both: dict[str, Any] = {"vessel": "cup"}
    a = shown(5.0, "before", 1, **both) - 2 * shown(2.0, "after", 1, **both)
    blocks, _ = LinearAmounts([(a, 1.0)], ROLES).blocks(1.0, 1.0)
    assert sorted((b.kind, round(b.steps[0], 9)) for b in blocks) == [
        ("single", 0.1), ("single", 0.2),
    ]  # fmt: skip
    three = shown(5.0, "before", 1, **both) - shown(2.0, "after", 1, **both)
    third = three + 0.5 * shown(1.0, "tare", 1, **both)
    blocks, _ = LinearAmounts([(third, 1.0)], ROLES).blocks(1.0, 1.0)
    assert {b.kind for b in blocks} == {"single"}


@pytest.mark.parametrize(("off", "kind"), [(0.9e-6, "difference"), (1.1e-6, "single")])
def test_steps_alike_to_a_millionth_count_as_equal(off: float, kind: str) -> None:
    both: dict[str, Any] = {"vessel": "cup"}
    a = shown(5.0, "before", 1, **both) - (1 - off) * shown(2.0, "after", 1, **both)
    blocks, _ = LinearAmounts([(a, 1.0)], ROLES).blocks(1.0, 1.0)
    assert {b.kind for b in blocks} == {kind}


def test_unequal_trials_of_one_kind_are_one_block_of_their_root_mean_square() -> None:
    pairs = [weighed(1.0, 2.0, i) for i in (1, 2)]
    lab = LinearAmounts([(pairs[0][0], 1.0), (7 * pairs[1][0], 1.0)], ROLES)
    (block,), _ = lab.blocks(1.0, 1.0)
    # steps of 0.05 and 0.35: √((1 + 49)/2) = 5 of 0.05
    assert block.steps == pytest.approx((0.25,))
    assert block.count == 2


def test_displays_of_other_steps_are_blocks_of_their_own() -> None:
    """Two trials read to 0.1 g and one to 0.03 g; beyond the two coarsest half a step is taken off.

    In the mean of three the steps are 0.1/3 and 0.03/3, of each amount.
    """
    labs = [weighed(1.0, 2.0, 1), weighed(1.0, 2.0, 2), weighed(1.0, 2.0, 3, step=0.03)]
    lab = LinearAmounts(labs, ROLES)
    assert lab.several_displays
    blocks, _ = lab.blocks(1.5, 1.0)
    found = sorted((round(b.steps[0], 9), b.count) for b in blocks)
    assert found == [(0.01, 1), (0.015, 1), (0.033333333, 2), (0.05, 2)]
    assert lab.with_grain(0.2, blocks) == pytest.approx(0.2 - 0.0075)
    assert lab.with_grain(-0.2, blocks) == pytest.approx(-0.2 + 0.0075)
    assert lab.with_grain(0.007, blocks) == 0.0
    assert lab.with_grain(0.2, blocks[:2]) == pytest.approx(0.2)
    alike = LinearAmounts(labs[:2], ROLES)
    assert not alike.several_displays
    assert alike.with_grain(0.2, blocks) == 0.2


def test_the_blocks_of_one_amount_are_named_coarsest_first() -> None:
    labs = [weighed(1.0, 2.0, 1, 0.1, 0.2), weighed(1.0, 2.0, 2, 0.1, 0.2)]
    burette = [shown(20.0, "before", 9, step=4.0)] * 2
    lab = LinearAmounts([(3.0, b + v) for (_, b), v in zip(labs, burette, strict=True)], ROLES)
    assert lab.side_blocks(0) == []
    single, pair = lab.side_blocks(1)
    assert (single.block.kind, single.block.count) == ("single", 1)
    assert single.block.steps == pytest.approx((4.0,))
    assert (single.roles, single.signs) == (("before",), (1.0,))
    assert pair.block.kind == "difference"
    assert pair.block.count == 2
    assert pair.block.steps == pytest.approx((0.05,))
    assert dict(zip(pair.roles, pair.signs, strict=True)) == {"gross": 1.0, "tare": -1.0}
    readings = {lab.sources[i].reading for i in pair.sources}
    assert readings == {"gross 1", "gross 2", "tare 1", "tare 2"}
    assert len(pair.sources) == 8
    assert not lab.one_vessel


@pytest.mark.parametrize("trials", [2, 3])
def test_one_vessel_in_every_trial(trials: int) -> None:
    """The same paper in all trials, without noise: its place between two steps is one unknown."""

    def lab(noise: float, same: bool) -> LinearAmounts:
        found = []
        for i in range(1, trials + 1):
            how: dict[str, Any] = {"vessel": "paper" if same else f"paper {i}", "noise": noise}
            found.append((1.0, shown(6.0, "gross", i, **how) - shown(5.0, "tare", i, **how)))
        return LinearAmounts(found, ROLES)

    one = lab(0.0, same=True)
    assert one.one_vessel
    (block,), _ = one.blocks(1.0, 1.0)
    assert (block.kind, block.count, block.together) == ("difference", trials, (trials,))
    assert [b.block.together for b in one.side_blocks(1)] == [(trials,)]
    assert not lab(0.0, same=False).one_vessel
    assert not lab(0.5, same=True).one_vessel
    # the rounding errors of one place are alike: n times one, not √n times
    assert one.distribution(1.0, 1.0).spread == pytest.approx(math.sqrt(2 * SQUARE / 12))
    apart = lab(0.0, same=False).distribution(1.0, 1.0)
    assert apart.spread == pytest.approx(math.sqrt(2 * SQUARE / 12 / trials))


def test_readings_of_one_vessel_by_trial() -> None:
    lab = LinearAmounts([weighed(1.0, 2.0, i) for i in (1, 2)], ROLES)
    shown_ = [(r, 1.0) for r in display_readings(lab.sources, ROLES) if r.role in ("gross", "tare")]
    assert sorted(len(t) for t in trials_of(shown_)) == [2, 2]
    assert all({r.role for r, _ in t} == {"gross", "tare"} for t in trials_of(shown_))
    assert [len(t) for t in trials_of(shown_[:3])] == [1, 1, 1]  # no two can be set side by side
    assert trials_of(shown_[:1]) == [shown_[:1]]


def test_of_a_pair_the_first_by_name_is_the_first() -> None:
    lab = LinearAmounts([weighed(1.0, 2.0)], ROLES)
    gross, tare = (
        next(r for r in display_readings(lab.sources, ROLES) if r.role == role)
        for role in ("gross", "tare")
    )
    want = ("difference", ("gross", "tare"), (2.0,), (0.0, 0.0))
    assert grouped([(gross, 2.0), (tare, -2.0)]) == [want]
    assert grouped([(tare, -2.0), (gross, 2.0)]) == [want]
    assert [g[0] for g in grouped([(gross, 2.0), (tare, 2.0)])] == ["single", "single"]
    assert grouped([(gross, -3.0)]) == [("single", ("gross",), (3.0,), (0.0,))]


@pytest.mark.parametrize(("vessels", "quick"), [(7, False), (8, True)])
def test_many_vessels_are_taken_as_arrays(vessels: int, quick: bool) -> None:
    pairs = [(1.0, weighed(1.0, 2.0, i)[1]) for i in range(1, vessels + 1)]
    lab = LinearAmounts(pairs, ROLES)
    found = pairs_of(display_readings(lab.sources, ROLES))
    assert (found is not None) is quick
    (block,), _ = lab.blocks(1.0, 1.0)
    assert (block.kind, block.count) == ("difference", vessels)
    assert block.steps == pytest.approx((0.1 / vessels,))


def test_many_vessels_that_do_not_balance_are_not_taken_as_arrays() -> None:
    pairs = [(1.0, weighed(1.0, 2.0, i)[1]) for i in range(1, 10)]
    lab = LinearAmounts(pairs, ROLES)
    found = pairs_of(display_readings(lab.sources, ROLES))
    assert found is not None
    steps = np.ones(18)
    steps[found.second] = -1.0
    (block,) = found.blocks(steps) or []
    assert (block.steps, block.count) == ((1.0,), 9)
    unequal = steps.copy()
    unequal[[found.first[0], found.second[0]]] *= 4.0
    (block,) = found.blocks(unequal) or []
    assert block.steps == pytest.approx((math.sqrt((16 + 8) / 9),))
    unused = steps.copy()
    unused[[found.first[0], found.second[0]]] = 0.0
    (block,) = found.blocks(unused) or []
    assert (block.steps, block.count) == ((1.0,), 8)
    for off, balanced in ((0.9e-6, True), (1.1e-6, False)):
        slightly = steps.copy()
        slightly[found.second[0]] = -1.0 + off
        assert (found.blocks(slightly) is not None) is balanced


@pytest.mark.parametrize(("off", "kind"), [(0.9e-6, "triple"), (1.1e-6, "single")])
def test_three_readings_balance_to_a_millionth(off: float, kind: str) -> None:
    """Of the largest of 1, 2 and −3, whichever its sign."""
    for way in (1.0, -1.0):
        one, two, three = (
            shown(5.0, role, 1, vessel="cup") for role in ("tare", "before", "after")
        )
        amount = way * (one + 2 * two - 3 * (1 - off) * three)
        blocks, _ = LinearAmounts([(amount, 1.0)], ROLES).blocks(1.0, 1.0)
        assert {b.kind for b in blocks} == {kind}


def test_a_part_of_readings_without_noise_has_none_either() -> None:
    """Made to repeat to 0.1 g, it gains that and no more."""
    lab = LinearAmounts([weighed(1.0, 2.0, i, 0.2) for i in (1, 2, 3)], ROLES)
    one = lab.part([1], np.ones(1))
    rounding = 4 * 0.2**2 / 12
    assert one.distribution(1.0, 1.0).spread ** 2 == pytest.approx(rounding)
    worse = one.repeating({"gross": 0.1})
    assert worse.distribution(1.0, 1.0).spread ** 2 == pytest.approx(rounding + 0.1**2)
    assert len(worse.sources) == 5


def test_the_scatter_of_unlike_amounts() -> None:
    """Used up 2 and 4, made 5 and 7: for each used up 1 and 0.25 over 3/2, t = 1.25 / 0.75 = 5/3.

    Where the 2 is known to 0.21, not to a tenth, D of 2 × 5 − 3 × 2 = 4 and 2 × 7 − 3 × 4 = 2
    count as they are, t = 3; it is where it is known to 0.19.
    """
    lab = LinearAmounts([(2.0, 5.0), (4.0, 7.0)])
    apart = 1 - 2 * math.atan(5 / 3) / math.pi
    assert lab.own_scatter_p(3.0, 2.0) == pytest.approx(apart)
    for u, p in ((0.19, apart), (0.21, 1 - 2 * math.atan(3.0) / math.pi)):
        known = [
            uncertain_value(a, f"used, trial {i}", kind="other", shape=Shape.NORMAL, scale=u)
            for i, a in enumerate((2.0, 4.0))
        ]
        lab = LinearAmounts([(known[0], 5.0), (known[1], 7.0)])
        assert lab.own_scatter_p(3.0, 2.0) == pytest.approx(p)


def test_an_amount_made_is_sure_in_units_of_the_ratio() -> None:
    """Of ratio 4: 40.04 made, known to 4, is ten times its error; 39.9 is not."""

    def p(made: float) -> float:
        a, b = (
            error_source("t", kind="other", shape=Shape.STUDENT_T, scale=u, dof=1.0, reading=r)
            for u, r in ((1.0, "a"), (4.0, "b"))
        )
        return LinearAmounts([(10.01 + a, made + b)]).nothing_reacted_p(4.0)

    assert p(40.04) == 0.0
    assert p(39.9) > 0.01


@pytest.mark.parametrize(("recovery", "left"), [
    # 1 mol each time, of which 0.5 and 1.5 were found. Recovered by 80 % to 110 % the least of
    # (0.8 r − 0.5)² + (1.5 − 1.1 r)² is (0.8 × 1.5 − 1.1 × 0.5)²/(0.8² + 1.1²) = 0.4225/1.85
    ((0.8, 1.1), 0.4225 / 1.85),
    ((1.0, 1.0), 0.5),  # the mean is 1: 0.5² twice
    ((0.5, 1.0), 0.0625 / 1.25),  # (0.5 × 1.5 − 0.5)²/(0.5² + 1)
    ((0.3, 1.0), 0.0),  # a third of 1.5 explains it
])  # fmt: skip
def test_what_no_recovery_explains_by_hand(recovery: tuple[float, float], left: float) -> None:
    found = unexplained(np.ones((1, 2)), np.array([[0.5, 1.5]]), recovery)
    assert found[0] == pytest.approx(left, abs=1e-6)
    assert unexplained(2 * np.ones((1, 2)), np.array([[1.0, 3.0]]), recovery)[0] == (
        pytest.approx(4 * left, abs=4e-6)
    )
