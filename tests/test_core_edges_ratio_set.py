"""Edges of the coverage set of a ratio that mutants showed to be untested."""

from __future__ import annotations

import math

import pytest

from stoichkit.ratio_set import Interval, invert

from .test_ratio_set import between

DEGREE = math.pi / 180


def limits(found: tuple[Interval, ...]) -> list[float]:
    return [limit for interval in found for limit in (interval.low, interval.high)]


@pytest.mark.parametrize(("level", "kind"), [(0.25, "every ratio"), (0.24999, "empty")])
def test_a_ratio_whose_p_is_exactly_the_level_belongs_to_the_set(level: float, kind: str) -> None:
    """All ratios with p at least 1 − coverage; no amount, so the estimate has no direction."""
    found = invert(lambda _x, _y: level, (-1.0, -1.0), [], 0.75)

    assert found.kind == kind


def test_the_infinite_ratio_is_asked_for_as_documented() -> None:
    """(1, 0), and no other direction with nothing consumed."""
    asked = []

    def p_value(x: float, y: float) -> float:
        asked.append((x, y))
        return 1.0

    invert(p_value, (2.0, 1.0), [(2.0, True)], 0.95)
    assert [x for x, y in asked if y == 0] == [1.0]


@pytest.mark.parametrize("high", [150.0, 1000.0, 1e5])
def test_a_far_limit_is_not_no_limit(high: float) -> None:
    found = invert(between((0.5, high)), (1.0, 1.0), [], 0.95)

    assert found.kind == "bounded"
    assert found.high == pytest.approx(high, rel=1e-3)


@pytest.mark.parametrize("middle", range(1, 12))
def test_every_stretch_of_fourteen_degrees_is_found(middle: int) -> None:
    """Ratios as angles of their tangent; without a candidate in it and far from the estimate."""
    low, high = (math.tan((7.5 * (middle + s)) * DEGREE) for s in (-0.95, 0.95))
    found = invert(between((low, high)), (-1.0, -1.0), [], 0.95)

    assert limits(found.intervals) == pytest.approx([low, high], rel=1e-7)


@pytest.mark.parametrize("estimate", [1e-6, 1e-3, 1.0, 1e3, 1e6])
def test_limits_beside_a_candidate_are_sharp_wherever_the_estimate_lies(estimate: float) -> None:
    """A part in ten million of the ratio; with the estimate near, a part in a hundred million."""
    p_value = between((0.9, 1.1), (0.999 * estimate, 1.001 * estimate))
    found = invert(p_value, (estimate, 1.0), [(1.0, True)], 0.95)

    (beside,) = (i for i in found.intervals if 1.0 in i)
    rel = 1e-8 if estimate == 1 else 1e-7
    assert (beside.low, beside.high) == pytest.approx((0.9, 1.1), rel=rel)
    assert estimate in found


@pytest.mark.parametrize("excluded", [1.0005, 1.0025, 1.004])
def test_an_excluded_candidate_between_two_compatible_ones_stays_outside(excluded: float) -> None:
    """Gaps far below a percent: each limit keeps to its own candidate."""
    known = [(0.95, True), (1.0, True), (excluded, False), (1.005, True), (1.1, True)]
    found = invert(between((0.9, 1.0), (1.005, 1.2)), (1.1, 1.0), known, 0.95)

    assert [ratio in found for ratio, _ in known] == [compatible for _, compatible in known]
    assert len(found.intervals) == 2
    assert found.intervals[0].high < excluded < found.intervals[1].low
