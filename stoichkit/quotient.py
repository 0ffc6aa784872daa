"""A quotient of two sums of error sources, with its coverage interval by three routes.

First order; Monte Carlo (JCGM 101:2008); and test inversion, which keeps every value that the
exact distribution of numerator − value × denominator does not exclude (the idea of
E. C. Fieller, J. R. Stat. Soc. B 16 (1954) 175-185) and so divides by nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from .distribution import SumDistribution
from .errors import ModelError
from .montecarlo import Comparison, MonteCarlo, draw, monte_carlo, tolerance_of
from .ratio_set import invert
from .shapes import terms_of
from .uncertain import Number, Source, contributions

__all__ = ["Parts", "Quotient", "linear_parts"]

Parts = tuple[tuple[Source, float, float], ...]
"""Sources with the sensitivity of the numerator and of the denominator to each."""

_MOST = 1_000_000


def linear_parts(numerator: Number, denominator: Number) -> Parts:
    """Return every source of either number with both sensitivities.

    >>> from stoichkit.uncertain import Shape, error_source
    >>> e = error_source("balance", kind="calibration", shape=Shape.NORMAL, scale=0.1)
    >>> [(s.label, n, d) for s, n, d in linear_parts(2.0 + 3 * e, 1.0 + e)]
    [('balance', 3.0, 1.0)]
    """
    above, below = dict(contributions(numerator)), dict(contributions(denominator))
    return tuple((s, above.get(s, 0.0), below.get(s, 0.0)) for s in {**above, **below})


@dataclass(frozen=True, eq=False, kw_only=True)
class Quotient:
    """Numerator over denominator, both linear in their error sources.

    Attributes
    ----------
    numerator, denominator : float
        Estimates, in units that give the wanted unit when divided.
    parts : tuple of (Source, float, float)
        Sources with the sensitivity of the numerator and of the denominator.
    coverage : float
        Coverage probability of the intervals, between 0 and 1.
    lowest : float
        The least value that makes sense; 0 for a yield. Test inversion looks no lower.
    tested : (float, float), optional
        Interval by test inversion where it is known already; it is then the one shown.

    Raises
    ------
    ModelError
        If the coverage or a number cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertain import Shape, uncertain_value
    >>> a = uncertain_value(3.0, "a", kind="other", shape=Shape.RECTANGULAR, scale=0.3)
    >>> b = uncertain_value(2.0, "b", kind="other", shape=Shape.RECTANGULAR, scale=0.1)
    >>> q = Quotient(numerator=3.0, denominator=2.0, parts=linear_parts(a, b), coverage=0.95)
    >>> q.estimate, q.method, [round(v, 2) for v in q.interval]
    (1.5, 'Monte Carlo', [1.33, 1.68])
    """

    numerator: float
    denominator: float
    parts: Parts = field(repr=False)
    coverage: float = 0.95
    lowest: float = 0.0
    tested: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        if not 0 < self.coverage < 1:
            raise ModelError(
                "The coverage probability cannot be used.",
                given=self.coverage,
                allowed="between 0 and 1",
            )
        for value in (self.numerator, self.denominator):
            if not math.isfinite(value):
                raise ModelError("This is not a finite number, so no quotient is.", given=value)

    def _error(self, x: float, y: float) -> SumDistribution:
        """Return the distribution of the error of y × numerator − x × denominator."""
        return SumDistribution(terms_of((s, y * n - x * d) for s, n, d in self.parts))

    def _p_value(self, x: float, y: float) -> float:
        return self._error(x, y).two_sided(y * self.numerator - x * self.denominator)

    def p_value(self, value: float) -> float:
        """Return the chance of a numerator at least as far from value × denominator, if true."""
        return self._p_value(value, 1.0)

    def probability_above(self, value: float) -> float:
        """Return the probability that the true quotient is above a value.

        That is, that numerator − value × denominator is above zero, with a flat prior on it;
        exact, and meant for a denominator above zero.
        """
        gap = self.numerator - value * self.denominator
        error = self._error(value, 1.0)
        if not error.terms:
            return float(gap > 0)
        return float(error.cdf(gap))

    @cached_property
    def resolved(self) -> bool:
        """Whether the denominator is above zero beyond its uncertainty."""
        return self.denominator > 0 and self._p_value(1.0, 0.0) < 1 - self.coverage

    @property
    def estimate(self) -> float:
        """Quotient of the estimates; nan when the denominator is not told apart from zero."""
        return self.numerator / self.denominator if self.resolved else math.nan

    @cached_property
    def _first_error(self) -> SumDistribution:
        return self._error(self.estimate, 1.0)

    @property
    def standard_uncertainty(self) -> float:
        """First-order standard uncertainty; nan when not resolved."""
        return self._first_error.spread / self.denominator if self.resolved else math.nan

    @cached_property
    def first_order(self) -> tuple[float, float] | None:
        """First-order coverage interval; None when not resolved."""
        if not self.resolved:
            return None
        half = self._first_error.half_width(self.coverage) / self.denominator
        return self.estimate - half, self.estimate + half

    @cached_property
    def monte_carlo(self) -> MonteCarlo | None:
        """Monte Carlo result, every source drawn once a trial; None when not resolved."""
        if not self.resolved:
            return None

        def sample(rng: np.random.Generator, size: int) -> Any:
            above = np.full(size, self.numerator)
            below = np.full(size, self.denominator)
            for source, n, d in self.parts:
                drawn = draw(source, rng, size)
                above += n * drawn
                below += d * drawn
            return above / below

        if not self.parts:
            return monte_carlo(sample, coverage=self.coverage, trials=100)
        return monte_carlo(sample, coverage=self.coverage, most=_MOST)

    @cached_property
    def comparison(self) -> Comparison | None:
        """First order against Monte Carlo (JCGM 101:2008 clause 8); None when not resolved.

        To one significant digit of the standard uncertainty; the Monte Carlo figures settle to
        a tenth of that tolerance, where 8.2 asks for a fifth.
        """
        first, result = self.first_order, self.monte_carlo
        if first is None or result is None:
            return None
        tolerance = tolerance_of(self.standard_uncertainty, 1)
        apart = max(abs(a - b) for a, b in zip(first, result.symmetric, strict=True))
        agrees = apart <= max(tolerance, 1e-12 * abs(self.estimate))
        return Comparison(first, result.symmetric, tolerance, agrees)

    @cached_property
    def by_inversion(self) -> tuple[float, float]:
        """Interval by test inversion; its high end is infinite when there is no upper limit.

        Raises
        ------
        ModelError
            If no value from ``lowest`` up fits.
        """
        if self.tested is not None:
            return self.tested
        low = self.lowest
        found = invert(
            lambda x, y: self._p_value(x + low * y, y),
            (self.numerator - low * self.denominator, self.denominator),
            (),
            self.coverage,
        )
        if not found.intervals:
            raise ModelError(
                f"No value from {low:g} up fits these amounts.",
                given=f"{self.numerator:.4g} over {self.denominator:.4g}",
                fix="Check which reading is subtracted from which.",
            )
        return low + found.low, low + found.high

    @cached_property
    def method(self) -> str:
        """Which interval is shown: "first order", "Monte Carlo" or "test inversion".

        First order where it agrees with Monte Carlo, else the Monte Carlo interval that leaves
        out the same probability on each side. Test inversion where the denominator is not told
        apart from zero, where Monte Carlo does not settle, and where it was given.
        """
        if self.tested is not None or not self.resolved:
            return "test inversion"
        comparison, result = self.comparison, self.monte_carlo
        if comparison is None or result is None or not result.settled:
            return "test inversion"
        return "first order" if comparison.agrees else "Monte Carlo"

    @property
    def interval(self) -> tuple[float, float]:
        """The coverage interval to show; its high end may be infinite."""
        if self.method == "first order" and self.first_order is not None:
            return self.first_order
        if self.method == "Monte Carlo" and self.monte_carlo is not None:
            return self.monte_carlo.symmetric
        return self.by_inversion
