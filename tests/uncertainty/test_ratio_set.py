"""The coverage set of a ratio: every shape it can take, and what it must contain."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stoichkit.decision.evidence import Evidence, assess
from stoichkit.decision.verdict import VerdictKind
from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.ratio_set import Interval, RatioSet, invert
from tests.labs import as_dense_as_weights, lab

ALPHA = 0.05
Z = float(stats.norm.ppf(1 - ALPHA / 2))


def gaussian(produced: float, consumed: float, u: float = 1.0) -> Callable[[float, float], float]:
    """Return p of the direction x/y for two independent normal amounts of one uncertainty."""

    def p_value(x: float, y: float) -> float:
        d = y * produced - x * consumed
        return float(2 * stats.norm.sf(abs(d) / (u * math.hypot(x, y))))

    return p_value


def between(*stretches: tuple[float, float]) -> Callable[[float, float], float]:
    """Return a p-value of 1 where x/y lies in one of the stretches, else 0."""

    def p_value(x: float, y: float) -> float:
        ratio = x / y if y > 1e-15 else math.inf
        return float(any(low <= ratio <= high for low, high in stretches))

    return p_value


# -- the record -------------------------------------------------------------------------------

RECORDS: list[tuple[Sequence[tuple[float, float]], str]] = [
    ([], "empty"),
    ([(0.5, 2.0)], "bounded"),
    ([(0.0, 2.0)], "no lower limit"),
    ([(0.5, math.inf)], "no upper limit"),
    ([(0.0, math.inf)], "every ratio"),
    ([(0.0, 0.3), (5.0, math.inf)], "in pieces"),
    ([(0.5, 0.7), (1.0, 2.0)], "in pieces"),
]


@pytest.mark.parametrize(("stretches", "kind"), RECORDS)
def test_kind_in_words(stretches: Sequence[tuple[float, float]], kind: str) -> None:
    found = RatioSet(tuple(Interval(*s) for s in stretches), 0.95)

    assert found.kind == kind
    if stretches:
        assert (found.low, found.high) == (stretches[0][0], stretches[-1][1])
    else:
        assert math.isnan(found.low)
        assert math.isnan(found.high)


def test_membership() -> None:
    found = RatioSet((Interval(0.0, 0.3), Interval(5.0, math.inf)), 0.95)

    assert [r in found for r in (0.0, 0.3, 0.31, 4.99, 5.0, 1e9, math.inf)] == [
        True, True, False, False, True, True, True,
    ]  # fmt: skip
    assert 1.0 not in RatioSet((), 0.95)


# -- inversion --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("produced", "consumed", "kind"),
    [
        (20.0, 10.0, "bounded"),
        (1.0, 10.0, "no lower limit"),
        (10.0, 1.0, "no upper limit"),
        (1.0, 1.0, "every ratio"),
        (0.0, 0.0, "every ratio"),
        (-10.0, 8.0, "empty"),
        (-1.8, 1.8, "in pieces"),
        (10.0, -1.0, "no upper limit"),
        (-1.0, 10.0, "no lower limit"),
    ],
)
def test_every_shape(produced: float, consumed: float, kind: str) -> None:
    """Two amounts of unit uncertainty, told apart from zero or not."""
    p_value = gaussian(produced, consumed)

    found = invert(p_value, (produced, consumed), [], 1 - ALPHA)

    assert found.kind == kind
    assert found.coverage == 1 - ALPHA
    for ratio in np.geomspace(1e-3, 1e3, 300).tolist():
        assert (ratio in found) == (p_value(ratio, 1.0) >= ALPHA)
    assert (0.0 in found) == (p_value(0.0, 1.0) >= ALPHA)
    assert math.isinf(found.high) == (p_value(1.0, 0.0) >= ALPHA)
    for limit in (v for i in found.intervals for v in (i.low, i.high) if 0 < v < math.inf):
        assert p_value(limit, 1.0) >= ALPHA  # the limits themselves belong to the set


@pytest.mark.parametrize("ratio", [1e-6, 0.01, 0.5, 1.0, 3.0, 400.0, 1e7])
def test_limits_in_closed_form(ratio: float) -> None:
    """Independent amounts: the limits are the estimate's angle ± asin(z u / size), 8 digits."""
    size, relative = 50.0, 0.004

    def p_value(x: float, y: float) -> float:
        # n_consumed = 1, n_produced = ratio, equal relative uncertainties
        d = y * ratio - x
        return float(2 * stats.norm.sf(abs(d) / (relative * math.hypot(y * ratio, x))))

    found = invert(p_value, (ratio * size, size), [], 1 - ALPHA)

    spread = math.asin(Z * relative / math.sqrt(2))
    assert found.low == pytest.approx(ratio * math.tan(math.pi / 4 - spread), rel=1e-8)
    assert found.high == pytest.approx(ratio * math.tan(math.pi / 4 + spread), rel=1e-8)


def test_a_set_far_narrower_than_the_scan_is_found() -> None:
    found = invert(gaussian(2e7, 1e7), (2e7, 1e7), [], 1 - ALPHA)

    assert found.kind == "bounded"
    assert 2.0 in found
    assert found.high - found.low == pytest.approx(2 * Z * math.sqrt(5) / 1e7, rel=0.02)


def test_it_is_found_beside_far_candidates_too() -> None:
    """Candidates move the scanned angles; the estimate always belongs to the set."""
    p_value = gaussian(2e7, 1e7)

    found = invert(p_value, (2e7, 1e7), [(1000.0, False), (900.0, False)], 1 - ALPHA)

    assert found.kind == "bounded"
    assert 2.0 in found


def test_a_wide_second_stretch_is_found_without_a_candidate_in_it() -> None:
    found = invert(between((0.9, 1.1), (2.2, 8.0)), (1.0, 1.0), [], 0.95)

    limits = [v for i in found.intervals for v in (i.low, i.high)]
    assert limits == pytest.approx([0.9, 1.1, 2.2, 8.0], rel=1e-7)


def test_no_readings_at_all_exclude_nothing() -> None:
    found = invert(gaussian(0.0, 0.0), (0.0, 0.0), [(1.0, True)], 1 - ALPHA)

    assert found.intervals == (Interval(0.0, math.inf),)


def test_known_candidates_decide_about_themselves() -> None:
    """A candidate tested before counts as it was found, whatever the scan would say."""
    p_value = between((0.9, 1.1), (2.95, 3.05))

    alone = invert(p_value, (1.0, 1.0), [], 0.95)
    told = invert(p_value, (1.0, 1.0), [(3.0, True), (2.0, False)], 0.95)

    assert len(alone.intervals) == 1  # the second stretch lies between two scanned angles
    assert [(round(i.low, 6), round(i.high, 6)) for i in told.intervals] == [
        (0.9, 1.1),
        (2.95, 3.05),
    ]
    assert told.kind == "in pieces"


def test_a_candidate_on_the_very_limit_is_kept() -> None:
    """The limit found by halving is moved by a rounding error, not beyond."""
    for k, edge in enumerate(np.linspace(0.1, 4.0, 79).tolist()):
        above, below = 1.2 + 0.01 * k, 0.55 + 0.005 * k
        upper = invert(between((edge / 2, edge)), (edge * below, 1.0), [(edge, True)], 0.95)
        lower = invert(between((edge, edge * 2)), (edge * above, 1.0), [(edge, True)], 0.95)

        assert edge in upper
        assert edge in lower
        assert upper.high == pytest.approx(edge, rel=1e-8)
        assert lower.low == pytest.approx(edge, rel=1e-8)
        assert edge * (1 + 1e-6) not in upper
        assert edge * (1 - 1e-6) not in lower


@settings(max_examples=80, deadline=None)
@given(
    st.floats(-12, 12),
    st.floats(-12, 12),
    st.lists(st.floats(0.02, 50), min_size=1, max_size=6, unique=True),
    st.floats(1e-6, 1e6),
)
def test_exactly_the_compatible_ratios_are_members(
    produced: float, consumed: float, candidates: list[float], unit: float
) -> None:
    """Any amounts, any candidates, any unit of the produced amount."""

    def p_value(x: float, y: float) -> float:
        return gaussian(produced, consumed)(x / unit, y)

    known = [(r * unit, p_value(r * unit, 1.0) >= ALPHA) for r in candidates]

    found = invert(p_value, (produced * unit, consumed), known, 1 - ALPHA)

    assert [r in found for r, _ in known] == [ok for _, ok in known]
    if produced > 0 and consumed > 0:
        assert produced * unit / consumed in found
    lows = [i.low for i in found.intervals]
    highs = [i.high for i in found.intervals]
    assert lows == sorted(lows)
    assert all(low <= high for low, high in zip(lows, highs, strict=True))
    assert all(high < low for high, low in zip(highs, lows[1:], strict=False))


# -- experiments ------------------------------------------------------------------------------


def random_lab(rng: np.random.Generator) -> Evidence:
    """Assess a simulated copper lab of random size, noise, trials and truth."""
    step = float(rng.choice([0.1, 0.01]))
    noise = float(rng.choice([0.0, 0.3, 0.5, 1.0]))
    ratio = float(rng.choice([1, 2, 3]))
    mean_g = step * float(rng.choice([0.5, 1, 3, 10, 60]))
    rows = []
    for _ in range(int(rng.choice([1, 1, 2, 4]))):
        copper, wire, paper = mean_g * rng.uniform(0.7, 1.4), rng.uniform(2, 4), rng.uniform(0.5, 1)
        true = (wire, wire - copper, paper, paper + copper / 63.546 * ratio * 107.868)
        rows.append([round((m + rng.normal() * noise * step) / step) * step for m in true])
    balance = Balance(readability_g=step, repeatability_g=noise * step)
    ratios = {"copper(I)": "1", "copper(II)": "2", "three halves": "3/2", "copper(III)": "3"}
    return assess(as_dense_as_weights(lab(rows, balance, ratios)))


def test_random_experiments_hold_exactly_the_compatible_candidates() -> None:
    """60 labs on display readings: candidates, and 40 other ratios around the limits."""
    rng = np.random.default_rng(8)
    kinds = set()
    for _ in range(60):
        evidence = random_lab(rng)
        found = evidence.ratio_set
        kinds.add(found.kind)

        for candidate in evidence.candidates.values():
            assert (candidate.ratio in found) == candidate.compatible
        limits = [v for i in found.intervals for v in (i.low, i.high) if 0 < v < math.inf]
        near = [v * f for v in limits for f in (0.9, 0.99, 0.9999, 1.0001, 1.01, 1.1)]
        for ratio in [*near, *np.geomspace(0.05, 50, 20).tolist()]:
            assert (ratio in found) == (evidence.p_value(ratio) >= 0.05)
    assert kinds >= {"bounded", "no upper limit", "every ratio"}


def test_amount_consumed_not_told_from_zero_gives_no_upper_limit() -> None:
    """0.1 g of copper on a 0.1 g balance, 0.6 g of silver."""
    evidence = assess(lab([(2.3, 2.2, 0.7, 1.3)], Balance(readability_g=0.1)))

    assert evidence.ratio_set.kind == "no upper limit"
    assert math.isinf(evidence.ratio_set.high)
    assert 1e9 in evidence.ratio_set


def test_amount_produced_not_told_from_zero_gives_no_lower_limit() -> None:
    evidence = assess(lab([(2.9, 2.3, 0.7, 0.7)], Balance(readability_g=0.1)))

    assert evidence.ratio_set.kind == "no lower limit"
    assert 0.0 in evidence.ratio_set


def test_nothing_told_from_zero_excludes_no_ratio() -> None:
    evidence = assess(lab([(2.3, 2.3, 0.7, 0.7)], Balance(readability_g=0.1)))

    assert evidence.ratio_set.kind == "every ratio"
    assert evidence.verdict.kind is VerdictKind.NOT_TOLD_APART


def test_a_wire_that_gained_mass_is_not_called_every_ratio() -> None:
    """Both amounts may be zero, but no candidate between fits: the set is in pieces."""
    evidence = assess(
        lab([(2.3, 2.5, 0.7, 0.8)], Balance(readability_g=0.1), {"1": "1", "2": "2", "3": "3"})
    )

    assert evidence.verdict.kind is VerdictKind.NONE_FITS
    assert evidence.ratio_set.kind == "in pieces"
    assert not any(c.ratio in evidence.ratio_set for c in evidence.candidates.values())


@pytest.mark.parametrize("coverage", [0.5, 0.9, 0.99, 0.9999])
def test_higher_coverage_widens_the_set(coverage: float) -> None:
    rows: list[Any] = [(3.12, 2.65, 0.71, 2.30), (3.08, 2.59, 0.70, 2.37)]
    narrow = assess(lab(rows), coverage=coverage - 0.3).ratio_set if coverage > 0.8 else None
    wide = assess(lab(rows), coverage=coverage).ratio_set

    assert wide.coverage == coverage
    assert wide.kind == "bounded"
    if narrow is not None:
        assert wide.low < narrow.low < narrow.high < wide.high


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
