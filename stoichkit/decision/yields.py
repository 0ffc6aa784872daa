"""Percent yield and percent error, each with its coverage interval, and the yield of a lab.

A quotient of two sums of error sources has its interval by three routes: first order; Monte Carlo
(JCGM 101:2008); and test inversion, which keeps every value that the exact distribution of
numerator − value × denominator does not exclude (the idea of E. C. Fieller, J. R. Stat. Soc. B 16
(1954) 175-185) and so divides by nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from ..errors import ModelError
from ..uncertainty import entry
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.montecarlo import Comparison, MonteCarlo, draw, monte_carlo, tolerance_of
from ..uncertainty.ratio_set import invert
from ..uncertainty.sources import Number, Shape, Source, contributions, nominal, terms_of
from .evidence import Evidence

Parts = tuple[tuple[Source, float, float], ...]
"""Sources with the sensitivity of the numerator and of the denominator to each."""
_MOST = 3_000_000


def linear_parts(numerator: Number, denominator: Number) -> Parts:
    """Return every source of either number with both sensitivities.

    >>> from stoichkit.uncertainty.sources import Shape, error_source
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

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import Shape, uncertain_value
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
        entry.kept(self, coverage=entry.number("coverage", self.coverage, above=0, below=1))
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
        """Interval by test inversion; its high end is infinite when there is no upper limit."""
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


@dataclass(frozen=True, eq=False, kw_only=True)
class PercentYield(Quotient):
    """A percent yield: 100 × actual / theoretical, with the fields of a quotient.

    Attributes
    ----------
    estimate, standard_uncertainty : float
        Per cent, first order; nan when the theoretical yield is not told apart from zero.
    interval : (float, float)
        Coverage interval, per cent, by the route that ``method`` names; its high end is
        infinite when the readings put no upper limit on the yield.
    probability_over_100 : float
        Probability that the true yield is over 100 %, from the exact distribution of
        actual − theoretical with a flat prior on it.
    """

    probability_over_100: float

    @property
    def over_100(self) -> bool:
        """Whether the yield is over 100 % beyond its uncertainty, at the coverage."""
        if self.tested is not None:
            return self.tested[0] > 100
        return self.probability_over_100 > (1 + self.coverage) / 2


def percent_yield(actual: Number, theoretical: Number, *, coverage: float = 0.95) -> PercentYield:
    """Return the percent yield with its uncertainty.

    Parameters
    ----------
    actual : number
        What was obtained: mass or amount, exact or uncertain, in any one unit.
    theoretical : number
        The most that could be obtained, above 0, in the same unit.
    coverage : float
        Coverage probability, between 0 and 1.

    Returns
    -------
    PercentYield
        Without an upper limit when the theoretical yield is not told apart from zero.

    Raises
    ------
    ModelError
        If a number or the coverage cannot be used, or the theoretical yield is not above 0.

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import uncertain_value
    >>> actual_g = uncertain_value(0.392, "copper", kind="other", shape=Shape.NORMAL, scale=0.002)
    >>> found = percent_yield(actual_g, 0.5072)
    >>> f"{found.estimate:.1f} ± {found.standard_uncertainty:.1f}", found.method
    ('77.3 ± 0.4', 'first order')
    >>> found.over_100
    False
    """
    actual, theoretical = (
        entry.quantity("actual", actual),
        entry.quantity("theoretical", theoretical, above=0),
    )
    whole = Quotient(
        numerator=100 * nominal(actual),
        denominator=nominal(theoretical),
        parts=linear_parts(100 * actual, theoretical),
        coverage=coverage,
    )
    return PercentYield(
        numerator=whole.numerator,
        denominator=whole.denominator,
        parts=whole.parts,
        coverage=coverage,
        probability_over_100=whole.probability_above(100.0),
    )


@dataclass(frozen=True, eq=False, kw_only=True)
class PercentError(Quotient):
    """A percent error: 100 × (measured − accepted) / accepted, with the fields of a quotient.

    Attributes
    ----------
    estimate, standard_uncertainty : float
        Per cent, first order.
    interval : (float, float)
        Coverage interval, per cent, by the route that ``method`` names.
    p_equal : float
        Chance of a difference at least as large if both values were the same, from the exact
        distribution of measured − accepted.
    """

    p_equal: float

    @property
    def differs(self) -> bool:
        """Whether the values differ beyond their uncertainty, at the coverage."""
        return self.p_equal < 1 - self.coverage


def percent_error(measured: Number, accepted: Number, *, coverage: float = 0.95) -> PercentError:
    """Return the percent error of a measured value with its uncertainty.

    Parameters
    ----------
    measured, accepted : number
        Exact or uncertain, in one unit; the accepted value above 0.
    coverage : float
        Coverage probability, between 0 and 1.

    Returns
    -------
    PercentError
        Negative when the measured value is too small.

    Raises
    ------
    ModelError
        If a number or the coverage cannot be used, or the accepted value is not told apart
        from zero.

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import uncertain_value
    >>> x = uncertain_value(6.86, "waters", kind="other", shape=Shape.NORMAL, scale=0.09)
    >>> found = percent_error(x, 7)
    >>> round(found.estimate, 1), found.differs
    (-2.0, False)
    """
    measured, accepted = entry.quantity("measured", measured), entry.quantity("accepted", accepted)
    found = PercentError(
        numerator=100 * (nominal(measured) - nominal(accepted)),
        denominator=nominal(accepted),
        parts=linear_parts(100 * (measured - accepted), accepted),
        coverage=coverage,
        lowest=-100.0,
        p_equal=math.nan,
    )
    if not found.resolved:
        raise ModelError(
            "The accepted value is not told apart from zero, so no percentage of it can be taken.",
            given=f"{nominal(accepted):.6g}",
            allowed="above 0 beyond its uncertainty",
            fix="State the difference itself.",
        )
    return replace(found, p_equal=found.p_value(0.0))


def yield_for(evidence: Evidence, name: str) -> PercentYield:
    """Return the percent yield of the measured product if one candidate is what formed.

    That is 100 × n_produced / (r × n_consumed), from the amounts as measured: the recovery
    allowance of the experiment is left out, because the yield is what it allows for.

    Parameters
    ----------
    evidence : Evidence
    name : str
        Name of a candidate.

    Returns
    -------
    PercentYield
        Its interval is found by test inversion with the p-values of the evidence, so that it
        holds 100 % exactly when the candidate fits (without an allowance for recovery or air). The
        first-order and Monte Carlo figures stand beside it.

    Raises
    ------
    ModelError
        If there is no such candidate, or no yield from 0 % up fits the readings.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> lab = assess(experiments.load("copper-silver"))
    >>> found = yield_for(lab, "copper(II)")
    >>> print(f"{found.estimate:.0f} %, {found.interval[0]:.0f} % to {found.interval[1]:.0f} %")
    103 %, 96 % to 112 %
    """
    low, high = entry.record("evidence", evidence, Evidence).recovery_needed(name)
    if math.isnan(low):
        raise ModelError(
            "No yield from 0 % up fits these readings.",
            given=f"{nominal(evidence.n_produced):.4g} mol produced, "
            f"{nominal(evidence.n_consumed):.4g} mol consumed",
            fix="Check which reading is subtracted from which.",
        )
    tested = evidence.candidates[name]
    discrepancy = nominal(evidence.discrepancy(tested.ratio))
    tail = evidence.average_p_value(tested.ratio) / 2
    return PercentYield(
        numerator=100 * nominal(evidence.n_produced),
        denominator=tested.ratio * nominal(evidence.n_consumed),
        parts=_parts(evidence, tested.ratio),
        coverage=evidence.coverage,
        tested=(100 * low, 100 * high),
        probability_over_100=1 - tail if discrepancy > 0 else tail,
    )


def _parts(evidence: Evidence, ratio: float) -> Parts:
    """Return the sources of the yield; excess scatter replaces those that differ by trial."""
    parts = linear_parts(100 * evidence.n_produced, ratio * evidence.n_consumed)
    scatter = evidence.scatter
    if scatter is None or not scatter.excess or nominal(evidence.n_consumed) <= 0:
        return parts
    seen: dict[Source, int] = {}
    for pair in evidence.amounts:
        for source in {source for amount in pair for source, _ in contributions(amount)}:
            seen[source] = seen.get(source, 0) + 1
    shared = tuple(part for part in parts if seen[part[0]] > 1)
    found = 100 * nominal(evidence.n_produced) / (ratio * nominal(evidence.n_consumed))
    own = math.sqrt(
        sum(
            ((n - found * d) * source.standard_uncertainty) ** 2
            for source, n, d in parts
            if seen[source] == 1
        )
    )
    between = Source(
        "scatter between trials",
        "scatter",
        Shape.STUDENT_T,
        scatter.ratio_of_spread * own,
        float(scatter.dof),
    )
    return (*shared, (between, 1.0, 0.0))
