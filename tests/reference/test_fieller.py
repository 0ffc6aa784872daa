"""The coverage set of a ratio against Fieller's limits and Marsaglia's ratio of two normals.

The ratio of two correlated normals was read in the program that accompanies G. Marsaglia, J. Stat.
Softw. 16(4) (2006). Fieller's formula (J. R. Stat. Soc. B 16 (1954) 175-185) was read in
encyclopedia copies: the limits are the roots in m of
(b² − t² v22) m² − 2 (a b − t² v12) m + (a² − t² v11) = 0, bounded only if b² > t² v22. No printed
numerical example was found; the numbers below were calculated from that formula.
"""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
import pytest
from digits import matching_digits
from scipy import stats

from stoichkit.decision.linear import LinearAmounts
from stoichkit.uncertainty.montecarlo import propagate
from stoichkit.uncertainty.ratio_set import RatioSet, invert
from stoichkit.uncertainty.sources import Number, Shape, error_source, uncertain_value

T95 = float(stats.norm.ppf(0.975))


def correlated(a: float, b: float, v11: float, v22: float, v12: float) -> tuple[Number, Number]:
    """Return two normal quantities that share one source, with the given covariance."""
    shared = error_source("shared", kind="other", shape=Shape.NORMAL, scale=1.0)
    size = math.sqrt(abs(v12)) if v12 else 0.0
    # the split of the covariance between the two coefficients is free
    size_a = size * (v11 / v22) ** 0.25
    size_b = math.copysign(size * (v22 / v11) ** 0.25, v12)

    def own(value: float, label: str, variance: float) -> Number:
        return uncertain_value(
            value, label, kind="other", shape=Shape.NORMAL, scale=math.sqrt(variance)
        )

    return (
        own(a, "a", v11 - size_a**2) + size_a * shared,
        own(b, "b", v22 - size_b**2) + size_b * shared,
    )


def ratio_set(
    numerator: Number,
    denominator: Number,
    coverage: float = 0.95,
    candidates: Iterable[float] = (),
) -> RatioSet:
    linear = LinearAmounts([(denominator, numerator)])
    estimate = (linear.mean_produced, linear.mean_consumed)
    known = [(r, linear.p_value(r, 1.0) >= 1 - coverage) for r in candidates]
    return invert(linear.p_value, estimate, known, coverage)


def fieller(
    a: float, b: float, v11: float, v22: float, v12: float, t: float = T95
) -> list[tuple[float, float]]:
    """Return Fieller's set of ratios of 0 or more, as intervals."""
    lead, half, last = b * b - t * t * v22, a * b - t * t * v12, a * a - t * t * v11
    root = half * half - lead * last
    if root <= 0:
        return [(0.0, math.inf)]  # only when the leading coefficient is negative
    low, high = sorted(((half - math.sqrt(root)) / lead, (half + math.sqrt(root)) / lead))
    pieces = [(low, high)] if lead > 0 else [(-math.inf, low), (high, math.inf)]
    return [(max(one, 0.0), other) for one, other in pieces if other > 0]


# z ~ N(30.5, 5), w ~ N(32, 4), correlation 0.8
MARSAGLIA = {"a": 30.5, "b": 32.0, "v11": 25.0, "v22": 16.0, "v12": 0.8 * 5 * 4}


def test_ratio_of_two_correlated_normals() -> None:
    """Limits 0.760215909 and 1.140047630, equal to the quantiles of Marsaglia's G: 8 digits."""
    found = ratio_set(*correlated(**MARSAGLIA))

    assert found.kind == "bounded"
    assert matching_digits(found.low, 0.760215909) > 8
    assert matching_digits(found.high, 1.140047630) > 8

    def g(t: float) -> float:
        """Marsaglia's distribution function of z/w, assuming w > 0."""
        spread = math.sqrt(25 - 2 * t * 16 + t * t * 16)
        return float(stats.norm.cdf((t * 32 - 30.5) / spread))

    assert g(found.low) == pytest.approx(0.025, abs=1e-8)
    assert g(found.high) == pytest.approx(0.975, abs=1e-8)


def test_simulated_ratio_has_the_same_limits() -> None:
    """The 2.5 and 97.5 % points of z/w by Monte Carlo: 0.7604 and 1.1400 (5e6 draws)."""

    def quotient() -> Number:
        z, w = correlated(**MARSAGLIA)
        return z / w

    result = propagate(quotient, trials=1_000_000)

    assert result.symmetric == pytest.approx((0.7602, 1.1400), abs=8e-4)
    assert result.estimate == pytest.approx(0.9524, abs=5e-4)
    assert result.standard_uncertainty == pytest.approx(0.0963, abs=5e-4)


def test_poorly_known_denominator() -> None:
    """a = 0.15, b = 0.25, g = t² v22 / b² = 0.307317: limits 0.230626 and 1.484021, 6 digits."""
    inputs = {"a": 0.15, "b": 0.25, "v11": 0.002, "v22": 0.005, "v12": 0.0001}

    found = ratio_set(*correlated(**inputs))

    assert T95**2 * inputs["v22"] / inputs["b"] ** 2 == pytest.approx(0.307317, abs=5e-7)
    assert matching_digits(found.low, 0.230626) > 6
    assert matching_digits(found.high, 1.484021) > 6


@pytest.mark.parametrize("coverage", [0.5, 0.9, 0.95, 0.99, 0.9999])
def test_limits_at_other_coverages(coverage: float) -> None:
    """Bounded at low coverage, without upper limit once g reaches 1."""
    a, b, v11, v22, v12 = 0.6, 0.4, 0.01, 0.02, 0.0
    t = float(stats.norm.ppf((1 + coverage) / 2))
    ((low, high),) = fieller(a, b, v11, v22, v12, t)

    found = ratio_set(*correlated(a, b, v11, v22, v12), coverage)

    assert matching_digits(found.low, low) > 8
    if t * t * v22 < b * b:
        assert found.kind == "bounded"
        assert matching_digits(found.high, high) > 7
    else:
        assert found.kind == "no upper limit"
        assert coverage >= 0.99


def test_random_cases_in_every_shape() -> None:
    """400 random pairs of uncorrelated or weakly correlated normals: the same intervals.

    An excluded stretch between two compatible ones is found for certain only if it holds a
    candidate, so one is put there.
    """
    rng = np.random.default_rng(4)
    seen = set()
    for _ in range(400):
        a, b = (rng.normal(size=2) * rng.choice([0.5, 2.0, 8.0], size=2)).tolist()
        v11, v22 = rng.uniform(0.2, 2.0, size=2).tolist()
        v12 = float(rng.choice([0.0, 0.3, -0.3])) * math.sqrt(v11 * v22)
        expected = fieller(a, b, v11, v22, v12)
        gap = [(expected[0][1] + expected[1][0]) / 2] if len(expected) == 2 else []

        found = ratio_set(*correlated(a, b, v11, v22, v12), candidates=gap)

        kind = (len(expected), *(math.isinf(high) for _, high in expected))
        seen.add((*kind, found.kind))
        assert len(found.intervals) == len(expected)
        for interval, (low, high) in zip(found.intervals, expected, strict=True):
            assert interval.low == pytest.approx(low, rel=1e-6, abs=1e-6)
            assert interval.high == pytest.approx(high, rel=1e-6)
    assert seen == {
        (0, "empty"),
        (1, False, "bounded"),
        (1, False, "no lower limit"),
        (1, True, "no upper limit"),
        (1, True, "every ratio"),
        (2, False, True, "in pieces"),
    }
