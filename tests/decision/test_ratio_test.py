"""Which ratios a candidate allows, and the mean of a density over them; worked out by hand."""

from __future__ import annotations

import math

import pytest

from stoichkit import assess, experiments
from stoichkit.decision.ratio_test import RatioTest, allowed_ratios, over_recovery


def test_which_ratios_a_candidate_allows() -> None:
    """Of ratio 2 recovered by 80 % to 105 %: 1.6 to 2.1, the nearest to that found first."""
    part = (0.8, 1.05)
    assert allowed_ratios(1.9, 2.0, part) == (1.9,)
    assert allowed_ratios(1.6, 2.0, part) == (1.6,)
    assert allowed_ratios(2.1, 2.0, part) == (2.1,)
    below, above = allowed_ratios(1.5, 2.0, part), allowed_ratios(2.2, 2.0, part)
    assert below[0] == pytest.approx(1.6)
    assert above[0] == pytest.approx(2.1)
    assert len(below) > 1
    assert list(below) == sorted(below)
    assert list(above) == sorted(above, reverse=True)
    assert all(1.6 - 1e-12 <= r <= 2.1 + 1e-12 for r in (*below, *above))
    assert allowed_ratios(5.0, 2.0, (0.9, 0.9)) == (pytest.approx(1.8),)
    assert allowed_ratios(math.inf, 2.0, part)[0] == pytest.approx(2.1)


def bell(centre: float, width: float, seen: list[float] | None = None):
    def density(ratio: float) -> float:
        if seen is not None:
            seen.append(ratio)
        z = (ratio - centre) / width
        return math.exp(-z * z / 2) / (width * math.sqrt(2 * math.pi))

    return density


@pytest.mark.parametrize(("width", "n_a"), [(0.002, 1.0), (0.0005, 0.01), (0.004, 4.0)])
def test_a_narrow_density_is_averaged_over_the_whole_recovery(width: float, n_a: float) -> None:
    """A bell of area 1 within 1.8 to 2.0 has the mean 1/0.2 = 5; half of it 2.5."""
    spread = width * n_a  # that of the discrepancy is n times that of the ratio
    for centre, mean in ((1.85, 5.0), (1.95, 5.0), (1.8, 2.5), (2.0, 2.5)):
        found = over_recovery(bell(centre, width), 2.0, (0.9, 1.0), (n_a, centre * n_a), spread)
        assert found == pytest.approx(mean, rel=1e-4)


def test_a_flat_density_has_its_own_value() -> None:
    wide = over_recovery(lambda _: 3.0, 2.0, (0.9, 1.0), (1.0, 1.85), 1.0)
    assert wide == pytest.approx(3.0)
    assert over_recovery(lambda r: r, 2.0, (0.9, 0.9), (1.0, 1.85), 1.0) == pytest.approx(1.8)
    # where nothing was used up all of the recovery is looked at
    none = over_recovery(lambda r: r * r, 2.0, (0.5, 1.0), (0.0, 0.1), 1e-9)
    assert none == pytest.approx((2.0**3 - 1.0) / 3)
    less = over_recovery(lambda r: r * r, 2.0, (0.5, 1.0), (-1.0, 0.1), 1e-9)
    assert less == pytest.approx((2.0**3 - 1.0) / 3)


def test_air_counts_only_where_it_is_asked_or_matters() -> None:
    """Where air is not fine enough to matter it is left to a candidate that would be excluded."""
    linear = assess(experiments.load("copper-silver"))._test.linear
    plain = RatioTest(linear, None, (0.8, 1.0), air=(0.5, 1.5))
    assert plain.allowed_parts == (0.8, 1.0)
    assert plain.widest == pytest.approx((0.4, 1.5))
    fine = RatioTest(linear, None, (0.8, 1.0), air=(0.5, 1.5), fine=True)
    assert fine.allowed_parts == pytest.approx((0.4, 1.5))
    # 2.07 was found: of ratio 1 no more than 1.0 is allowed, with air 1.5
    assert plain.allowed(1.0)[0] == pytest.approx(1.0)
    assert fine.allowed(1.0)[0] == pytest.approx(1.5)
    assert RatioTest(linear, None, (0.8, 1.0)).widest == (0.8, 1.0)
