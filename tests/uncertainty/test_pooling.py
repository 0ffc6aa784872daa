"""Pooling of many groups: properties, refusals, what stands out, and coverage."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stoichkit.errors import ModelError
from stoichkit.uncertainty.pooling import (
    INTERVALS,
    METHODS,
    OUTLYING_LEVEL,
    deleted_residual,
    leave_one_out,
    outlying,
    pool,
)

numbers = st.floats(-5, 5).map(lambda v: round(v, 4))
variances = st.floats(0.01, 4).map(lambda v: round(v, 4))
labs = st.lists(st.tuples(numbers, variances), min_size=2, max_size=9)


def split(groups: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray]:
    y, v = np.array(groups).T
    return y, v


@settings(max_examples=60, deadline=None)
@given(labs)
def test_paule_mandel_solves_its_equation(groups: list[tuple[float, float]]) -> None:
    """The generalised Q equals the groups less one, or tau² is 0 and Q is smaller."""
    y, v = split(groups)
    found = pool(y, v)

    total = v + found.tau_squared
    q = float(np.sum((y - np.sum(y / total) / np.sum(1 / total)) ** 2 / total))
    if found.tau_squared > 0:
        assert q == pytest.approx(found.dof, rel=1e-7)
    else:
        assert q <= found.dof * (1 + 1e-9)


@settings(max_examples=40, deadline=None)
@given(labs, st.sampled_from(METHODS), st.floats(0.1, 10), st.floats(-3, 3))
def test_change_of_unit_and_origin(
    groups: list[tuple[float, float]], method: str, factor: float, shift: float
) -> None:
    y, v = split(groups)
    plain = pool(y, v, method=method)
    moved = pool(factor * y + shift, factor**2 * v, method=method)

    assert moved.mean == pytest.approx(factor * plain.mean + shift, abs=1e-6)
    assert moved.tau == pytest.approx(factor * plain.tau, abs=1e-4)
    assert moved.standard_uncertainty == pytest.approx(
        factor * plain.standard_uncertainty, abs=1e-6
    )
    assert moved.i_squared == pytest.approx(plain.i_squared, abs=1e-6)
    assert plain.weights.sum() == pytest.approx(1)
    assert 0 <= plain.i_squared < 1 <= plain.h_squared


def test_equal_variances_give_the_plain_mean_and_student_t() -> None:
    """Hartung-Knapp with equal variances is the interval of the mean of k numbers (GUM type A)."""
    y = np.array([1.98, 2.03, 2.01, 2.20, 1.90])
    found = pool(y, np.full(5, 0.0004))

    assert found.mean == pytest.approx(y.mean())
    assert found.standard_uncertainty == pytest.approx(y.std(ddof=1) / math.sqrt(5))
    half = 2.7764451 * found.standard_uncertainty  # t of 4 degrees of freedom
    assert found.interval == pytest.approx((y.mean() - half, y.mean() + half), rel=1e-7)
    assert found.tau_squared == pytest.approx(y.var(ddof=1) - 0.0004)


def test_what_is_shared_is_added_once_and_kept_apart() -> None:
    """A hundred groups do not reduce one calibration error."""
    rng = np.random.default_rng(1)
    y = 2 + rng.normal(0, 0.05, 100)
    own = pool(y, np.full(100, 0.05**2), interval="normal")
    both = pool(y, np.full(100, 0.05**2), interval="normal", shared_uncertainty=0.02)

    assert both.mean == own.mean
    assert both.standard_uncertainty == own.standard_uncertainty == pytest.approx(0.005)
    assert both.shared_uncertainty == 0.02
    assert both.total_uncertainty == pytest.approx(math.hypot(0.005, 0.02))
    assert both.interval[1] - both.mean == pytest.approx(1.959964 * both.total_uncertainty)
    assert both.p_value(both.interval[1]) == pytest.approx(0.05, abs=1e-9)


def test_student_t_and_a_shared_normal_are_convolved() -> None:
    """Against a simulation of the sum, 3 groups: t of 2 degrees of freedom."""
    found = pool([1.0, 1.2, 1.5], [0.01] * 3, shared_uncertainty=0.2)
    rng = np.random.default_rng(2)
    error = found.standard_uncertainty * rng.standard_t(2, 200_000) + rng.normal(0, 0.2, 200_000)

    assert found.interval[1] - found.mean == pytest.approx(np.quantile(abs(error), 0.95), rel=0.01)


def test_equal_estimates_and_the_floor() -> None:
    """Digits coincide easily: the floor keeps the interval from shrinking to nothing."""
    same = [2.0, 2.0, 2.0]

    assert pool(same, [0.01] * 3).standard_uncertainty == 0
    assert pool(same, [0.01] * 3).interval == (2.0, 2.0)
    floored = pool(same, [0.01] * 3, interval="floored hartung-knapp")
    assert floored.standard_uncertainty == pytest.approx(math.sqrt(0.01 / 3))
    assert floored.q == floored.tau_squared == 0
    assert floored.p_heterogeneity == 1


def test_two_groups() -> None:
    found = pool([1.0, 2.0], [0.01, 0.01])

    assert found.mean == pytest.approx(1.5)
    assert found.tau_squared == pytest.approx(0.5 - 0.01)
    assert found.interval[1] - 1.5 == pytest.approx(0.5 * 12.7062047, rel=1e-6)
    with pytest.raises(ModelError, match="too few groups"):
        leave_one_out(found)
    with pytest.raises(ModelError, match="too few groups"):
        outlying(found)


def test_extreme_variances() -> None:
    """One group ten million times better than the others decides; nothing overflows."""
    found = pool([1.0, 5.0, -3.0], [1e-14, 1.0, 1.0], method="common", interval="normal")
    assert found.mean == pytest.approx(1.0)
    wide = pool([1.0, 5.0, -3.0], [1e-14, 1.0, 1.0])
    assert wide.tau_squared > 0
    tiny = pool([1e-12, 2e-12, 4e-12], [1e-26] * 3)
    assert tiny.tau == pytest.approx(np.std([1e-12, 2e-12, 4e-12], ddof=1), rel=0.01)


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"estimates": [1.0]}, "two or more groups"),
        ({"estimates": [[1.0, 2.0]]}, "two or more groups"),
        ({"variances": [0.1]}, "two or more groups"),
        ({"estimates": [1.0, math.nan, 2.0]}, "element of `estimates`.*nan.*place .1."),
        ({"variances": [0.1, 0.1, 0.0]}, "element of `variances`.*place .2."),
        ({"variances": [0.1, -0.1, 0.1]}, "element of `variances`.*place .1."),
        ({"variances": [0.1, math.inf, 0.1]}, "element of `variances`.*place .1."),
        ({"method": "reml"}, "`method` is not.*paule-mandel"),
        ({"interval": "bootstrap"}, "`interval` is not.*normal"),
        ({"coverage": 1.0}, "`coverage`.*between 0 and 1"),
        ({"shared_uncertainty": -1.0}, "`shared_uncertainty`.*0 or more"),
        ({"shared_uncertainty": math.nan}, "`shared_uncertainty` is not a number"),
    ],
)
def test_refusals_say_what_and_where(changed: dict, words: str) -> None:
    given = {"estimates": [1.0, 2.0, 3.0], "variances": [0.1, 0.1, 0.1], **changed}
    y, v = given.pop("estimates"), given.pop("variances")
    with pytest.raises(ModelError, match=words):
        pool(y, v, **given)


def test_leave_one_out_is_pooling_the_rest() -> None:
    y, v = [1.98, 2.03, 2.01, 2.20], [0.0004, 0.0004, 0.0009, 0.0025]
    found = pool(y, v, method="dersimonian-laird", interval="normal", shared_uncertainty=0.1)
    third = leave_one_out(found)[2]
    again = pool(
        [1.98, 2.03, 2.20], [0.0004, 0.0004, 0.0025],
        method="dersimonian-laird", interval="normal", shared_uncertainty=0.1,
    )  # fmt: skip

    assert third.mean == again.mean
    assert third.interval == again.interval
    assert third.method == "dersimonian-laird"


def test_a_group_that_stands_out_is_flagged_and_kept() -> None:
    y = [2.00, 2.02, 1.99, 2.01, 2.30]
    found = pool(y, [0.0004] * 5)
    flagged = outlying(found)

    assert flagged.groups == (4,)
    assert flagged.p_values[4] < 0.05 / 5 <= min(flagged.p_values[:4])
    assert found.estimates.tolist() == y
    rest = pool(y[:4], [0.0004] * 4)
    assert flagged.residuals[4] == deleted_residual(2.30, 0.0004, rest)[0]
    with pytest.raises(ModelError, match="level"):
        outlying(found, level=0.0)


def test_false_alarms_of_the_outlying_rule() -> None:
    """Without outlying groups at most 5 % of classes have one flagged (300 classes, 3 sigma)."""
    rng = np.random.default_rng(3)
    alarms = sum(
        bool(outlying(pool(rng.normal(0, 1, 8), np.ones(8), interval="normal")).groups)
        for _ in range(300)
    )
    assert alarms <= 300 * 0.05 + 3 * math.sqrt(300 * 0.05 * 0.95)


@pytest.mark.parametrize("interval", INTERVALS)
@pytest.mark.parametrize(
    ("tau", "method"),
    [
        pytest.param(0.0, "common", marks=pytest.mark.slow),
        pytest.param(0.0, "paule-mandel", marks=pytest.mark.slow),
        (1.0, "paule-mandel"),
    ],
)
def test_coverage_with_a_shared_calibration(interval: str, tau: float, method: str) -> None:
    """10 groups of unequal variances and one shared error: 95 % intervals cover 95 %.

    600 classes each; the normal interval ignores that tau² is estimated, and may fall to 0.90.
    """
    rng = np.random.default_rng(4)
    variance = rng.uniform(0.3, 2.0, 10)
    count, classes = 0, 600
    for _ in range(classes):
        shared = rng.normal(0, 0.4)
        y = 3 + shared + rng.normal(0, np.sqrt(variance + tau**2))
        found = pool(y, variance, method=method, interval=interval, shared_uncertainty=0.4)
        count += found.p_value(3.0) >= 0.05
    least = 0.90 if interval == "normal" and tau else 0.95
    error = math.sqrt(0.05 * 0.95 / classes)
    assert least - 3.5 * error <= count / classes
    if "floored" not in interval and (tau or method == "common"):
        assert count / classes <= 0.95 + 3.5 * error


def test_forgetting_what_is_shared_would_not_cover() -> None:
    """The same classes, the shared error left out: the interval is far too short."""
    rng = np.random.default_rng(5)
    count = 0
    for _ in range(300):
        y = 3 + rng.normal(0, 0.4) + rng.normal(0, 0.5, 20)
        count += pool(y, np.full(20, 0.25)).p_value(3.0) >= 0.05
    assert count / 300 < 0.6


def generalised_q(y: list[float], v: list[float], tau_squared: float) -> Fraction:
    """Return Σ (y − ȳ)² / (v + τ²) about the weighted mean, exactly in fractions."""
    w = [Fraction(1) / (Fraction(a) + Fraction(tau_squared)) for a in v]
    mean = sum((a * Fraction(b) for a, b in zip(w, y, strict=True)), Fraction(0)) / sum(w)
    return sum((a * (Fraction(b) - mean) ** 2 for a, b in zip(w, y, strict=True)), Fraction(0))


# -- variance between groups ------------------------------------------------------------------


def test_a_variance_between_groups_far_below_their_scatter_is_found() -> None:
    """One poor group far off; the others differ by a little more than they should."""
    y, v = [-0.72, 0.72, 10.0], [1.0, 1.0, 100.0]
    found = pool(y, v)

    assert 2 < generalised_q(y, v, 0.0) < 2.1
    assert 0 < found.tau_squared < 0.001 * float(np.var(y, ddof=1))
    assert float(generalised_q(y, v, found.tau_squared)) == pytest.approx(2, abs=1e-12)


def test_scatter_of_exactly_the_stated_size_shows_no_variance_between() -> None:
    """s² = 1 = v: Q is the groups less one, and τ² is 0 by both estimators."""
    for method in ("paule-mandel", "dersimonian-laird"):
        found = pool([-1.0, 0.0, 1.0], [1.0, 1.0, 1.0], method=method)
        assert (found.q, found.tau_squared, found.i_squared, found.h_squared) == (2.0, 0, 0, 1)


@pytest.mark.parametrize("estimates", [[2.0, 2.0, 2.0], [1.9, 2.0, 2.1], [1.0, 2.0, 3.0]])
def test_no_part_of_the_variance_is_between_groups_where_q_is_not_above_its_mean(
    estimates: list[float],
) -> None:
    """I² = max(0, 1 − dof / Q) for a common effect; Q is 0, 0.02 and 2."""
    found = pool(estimates, [1.0] * 3, method="common")

    assert found.q == pytest.approx((estimates[2] - estimates[0]) ** 2 / 2)
    assert (found.i_squared, found.h_squared) == (0, 1)


def test_groups_that_differ_beyond_all_digits() -> None:
    """I² rounds to 1, and H² = 1 / (1 − I²) is infinite."""
    found = pool([1.0, 2.0], [1e-40, 1e-40])

    assert found.i_squared == 1.0
    assert math.isinf(found.h_squared)
    assert found.mean == pytest.approx(1.5)


# -- what is allowed --------------------------------------------------------------------------


def test_the_largest_and_smallest_numbers_allowed() -> None:
    assert pool([1e70, -1e70], [1e140, 1e140]).mean == pytest.approx(0, abs=1e55)
    assert pool([1.0, 1.0], [1e-140, 1e-140]).mean == 1.0


@pytest.mark.parametrize(
    ("estimates", "variances", "words"),
    [
        ([1.0, 1.01e70], [1.0, 1.0], "estimates.*1.01e\\+70 at place .1."),
        ([-1.01e70, 1.0], [1.0, 1.0], "estimates.*-1.01e\\+70 at place .0."),
        ([7.0, 8.0, 9.0], [1.0, 1.01e140, 1.0], "variances.*1.01e\\+140 at place .1."),
        ([7.0, 8.0, 9.0], [1.0, 1.0, 0.99e-140], "variances.*9.9e-141 at place .2."),
        ([7.0, 8.0], [-0.25, 1.0], "variances.*-0.25 at place .0."),
        ([math.inf, 8.0], [0.25, 1.0], "estimates.*inf at place .0."),
    ],
)
def test_a_number_beyond_them_is_shown(
    estimates: list[float], variances: list[float], words: str
) -> None:
    with pytest.raises(ModelError, match=words):
        pool(estimates, variances)


@pytest.mark.parametrize("coverage", [0.0, 1.0, -0.1, 1.1, math.nan])
def test_coverage_lies_between_zero_and_one(coverage: float) -> None:
    with pytest.raises(ModelError, match="between 0 and 1"):
        pool([1.0, 2.0], [1.0, 1.0], coverage=coverage)


# -- what stands out --------------------------------------------------------------------------


def test_three_groups_are_enough_to_leave_one_out() -> None:
    found = pool([1.0, 2.0, 4.0], [1.0, 1.0, 1.0], method="common", interval="normal")

    assert [rest.mean for rest in leave_one_out(found)] == pytest.approx([3.0, 2.5, 1.5])
    with pytest.raises(ModelError, match="three or more") as caught:
        leave_one_out(pool([1.0, 2.0], [1.0, 1.0]))
    assert "2" in str(caught.value)


def residual_and_p(distance: float) -> tuple[float, float]:
    """Distance of one group from three equal ones, all of variance 1, and its normal p-value."""
    z = distance / math.sqrt(1 + 1 / 3)
    return z, 2 * float(stats.norm.sf(z))


def test_the_level_is_five_percent_unless_stated() -> None:
    """p of 0.0153 is above 0.05 / 4, and below 0.085 / 4."""
    found = pool([0.0, 0.0, 0.0, 2.8], [1.0] * 4)
    z, p = residual_and_p(2.8)
    flagged = outlying(found)

    assert OUTLYING_LEVEL == flagged.level == 0.05
    assert flagged.residuals[3] == pytest.approx(z, rel=1e-12)
    assert flagged.p_values[3] == pytest.approx(p, rel=1e-12)
    assert 0.05 / 4 < p < 0.085 / 4
    assert flagged.groups == ()
    assert outlying(found, level=0.085).groups == (3,)


def test_a_group_exactly_at_the_limit_is_not_flagged() -> None:
    """Flagged: p below level / groups; with four groups the division is exact."""
    found = pool([0.0, 0.0, 0.0, 2.8], [1.0] * 4)
    p = outlying(found).p_values[3]

    assert outlying(found, level=4 * p).groups == ()
    assert outlying(found, level=4 * math.nextafter(p, 1)).groups == (3,)


def test_deleted_residual_with_a_variance_between_groups_by_hand() -> None:
    """The others 0, 1, 2 have s² = 1 = v + τ²; a fourth at 5: 4 / √(1 + 1/3), t of 2."""
    residual, p = deleted_residual(5.0, 0.25, pool([0.0, 1.0, 2.0], [0.25] * 3))

    assert residual == pytest.approx(4 / math.sqrt(4 / 3), rel=1e-12)
    assert p == pytest.approx(2 * float(stats.t.sf(4 / math.sqrt(4 / 3), 2)), rel=1e-12)


@pytest.mark.parametrize("level", [0.0, 1.0, -0.05, math.nan])
def test_the_level_lies_between_zero_and_one(level: float) -> None:
    with pytest.raises(ModelError, match="between 0 and 1"):
        outlying(pool([1.0, 2.0, 3.0], [1.0] * 3), level=level)


# -- the record -------------------------------------------------------------------------------


def test_answers_are_known_by_identity() -> None:
    """Arrays cannot be compared as one truth value; answers can, and can be put in a set."""
    one, other = (pool([1.0, 2.0], [1.0, 1.0]) for _ in range(2))

    assert len({one, other, one}) == 2
    assert one != other
