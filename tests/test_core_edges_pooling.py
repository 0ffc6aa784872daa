"""Edges of pooling that mutants showed to be untested."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from scipy import stats

from stoichkit.errors import ModelError
from stoichkit.pooling import OUTLYING_LEVEL, deleted_residual, leave_one_out, outlying, pool


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
        ([1.0, 1.01e70], [1.0, 1.0], "estimate.*1.01e\\+70 for group 1 "),
        ([-1.01e70, 1.0], [1.0, 1.0], "estimate.*-1.01e\\+70 for group 0 "),
        ([7.0, 8.0, 9.0], [1.0, 1.01e140, 1.0], "variance.*1.01e\\+140 for group 1 "),
        ([7.0, 8.0, 9.0], [1.0, 1.0, 0.99e-140], "variance.*9.9e-141 for group 2 "),
        ([7.0, 8.0], [-0.25, 1.0], "variance.*-0.25 for group 0 "),
        ([math.inf, 8.0], [0.25, 1.0], "estimate.*inf for group 0 "),
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
