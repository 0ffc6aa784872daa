"""The coverage set of a mole ratio: every ratio that the readings do not exclude."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from itertools import pairwise

_SCAN = 12
_HALVINGS = 40


@dataclass(frozen=True, slots=True)
class Interval:
    """One stretch of compatible ratios; ``high`` is infinite when there is no upper limit."""

    low: float
    high: float

    def __contains__(self, ratio: float) -> bool:
        return self.low <= ratio <= self.high


@dataclass(frozen=True, slots=True)
class RatioSet:
    """Every mole ratio n_produced / n_consumed, 0 or more, that the test does not exclude.

    Attributes
    ----------
    intervals : tuple of Interval
        In rising order; nearly always exactly one.
    coverage : float
        Coverage probability.

    Examples
    --------
    >>> s = RatioSet((Interval(0.9, math.inf),), 0.95)
    >>> s.kind, 1.5 in s
    ('no upper limit', True)
    """

    intervals: tuple[Interval, ...]
    coverage: float

    def __contains__(self, ratio: float) -> bool:
        return any(ratio in interval for interval in self.intervals)

    @property
    def low(self) -> float:
        """Smallest compatible ratio; nan when there is none."""
        return self.intervals[0].low if self.intervals else math.nan

    @property
    def high(self) -> float:
        """Largest compatible ratio, infinite when there is no upper limit; nan when none."""
        return self.intervals[-1].high if self.intervals else math.nan

    @property
    def kind(self) -> str:
        """One of ``"bounded"``, ``"no lower limit"``, ``"no upper limit"``, ``"every ratio"``,
        ``"in pieces"`` (a stretch between two compatible ones is excluded), ``"empty"``."""
        if not self.intervals:
            return "empty"
        if len(self.intervals) > 1:
            return "in pieces"
        if self.low <= 0 and math.isinf(self.high):
            return "every ratio"
        if math.isinf(self.high):
            return "no upper limit"
        return "no lower limit" if self.low <= 0 else "bounded"


def invert(
    p_value: Callable[[float, float], float],
    estimate: tuple[float, float],
    known: Iterable[tuple[float, bool]],
    coverage: float,
) -> RatioSet:
    """Return all ratios with p at least 1 − coverage.

    Parameters
    ----------
    p_value : callable
        ``p_value(x, y)`` for the direction x/y = ratio; (1, 0) is an infinite ratio.
    estimate : (n_produced, n_consumed)
        Mean amounts, mol: the direction in which the discrepancy is zero.
    known : iterable of (ratio, compatible)
        Ratios tested already; the set contains exactly the compatible ones of these.
    coverage : float

    Notes
    -----
    The scale of the angle is chosen so that the estimate lies near 45 degrees. Between scanned
    angles the limit is found by halving, to about one part in 10⁹ of a right angle. An excluded
    stretch between two compatible ones that lies between two scanned angles and holds no candidate
    is missed: the set is then too wide, never too narrow.
    """
    produced, consumed = estimate
    verdicts = dict(known)
    unit = abs(produced / consumed) if produced and consumed else 1.0
    for ratio in verdicts:  # keep every candidate well inside the scanned range of angles
        unit = min(max(unit, ratio / 50), ratio * 50)
    alpha = 1 - coverage

    def compatible(angle: float) -> bool:
        return p_value(unit * math.sin(angle), math.cos(angle)) >= alpha

    right = math.pi / 2
    marks = {0.0: compatible(0.0), right: p_value(1.0, 0.0) >= alpha}
    for ratio, verdict in verdicts.items():
        marks[math.atan2(ratio, unit)] = verdict
    centre = math.atan2(produced, consumed * unit)
    if 0 < centre < right:
        marks[centre] = True
    for i in range(1, _SCAN):
        angle = right * i / _SCAN
        if angle not in marks:
            marks[angle] = compatible(angle)
    angles = sorted(marks)
    edges: list[float] = [0.0] if marks[0.0] else []
    for left, here in pairwise(angles):
        if marks[left] == marks[here]:
            continue
        inside, outside = (left, here) if marks[left] else (here, left)
        for _ in range(_HALVINGS):
            middle = 0.5 * (inside + outside)
            if abs(inside - outside) < 1e-9:
                break
            if compatible(middle):
                inside = middle
            else:
                outside = middle
        edges.append(inside)
    if marks[right]:
        edges.append(right)
    ratios = [math.inf if a == right else unit * math.tan(a) for a in edges]
    pairs = zip(ratios[::2], ratios[1::2], strict=True)
    found = tuple(Interval(low, high) for low, high in pairs)
    return RatioSet(_exact(found, verdicts), coverage)


def _exact(found: tuple[Interval, ...], verdicts: dict[float, bool]) -> tuple[Interval, ...]:
    """Move ends by a rounding error where that is needed to hold exactly the known ratios."""
    out = []
    for interval in found:
        low, high = interval.low, interval.high
        for ratio, verdict in verdicts.items():
            if verdict and math.isclose(ratio, low, rel_tol=1e-8):
                low = min(low, ratio)
            if verdict and math.isclose(ratio, high, rel_tol=1e-8):
                high = max(high, ratio)
        out.append(Interval(low, high))
    return tuple(out)
