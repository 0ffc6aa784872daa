"""Percent yield and percent error, each with its coverage interval, and the yield of a lab."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from .errors import ModelError
from .evidence import Evidence, assess
from .quotient import Parts, Quotient, linear_parts
from .reactants import LimitingReactant, TheoreticalYield, limiting_reactant, theoretical_yield
from .uncertain import Number, Shape, Source, contributions, nominal

__all__ = [
    "LimitingReactant",
    "PercentError",
    "PercentYield",
    "TheoreticalYield",
    "limiting_reactant",
    "percent_error",
    "percent_yield",
    "theoretical_yield",
    "yield_for",
]


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
    >>> from stoichkit.uncertain import uncertain_value
    >>> actual_g = uncertain_value(0.392, "copper", kind="other", shape=Shape.NORMAL, scale=0.002)
    >>> found = percent_yield(actual_g, 0.5072)
    >>> f"{found.estimate:.1f} ± {found.standard_uncertainty:.1f}", found.method
    ('77.3 ± 0.4', 'first order')
    >>> found.over_100
    False
    """
    if not nominal(theoretical) > 0:
        raise ModelError(
            "A percentage of this theoretical yield cannot be taken.",
            given=f"{nominal(theoretical):.6g}",
            allowed="above 0",
            fix="Check the amount of the limiting reactant.",
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
    >>> from stoichkit.uncertain import uncertain_value
    >>> x = uncertain_value(6.86, "waters", kind="other", shape=Shape.NORMAL, scale=0.09)
    >>> found = percent_error(x, 7)
    >>> round(found.estimate, 1), found.differs
    (-2.0, False)
    """
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
        holds 100 % exactly when the candidate fits (without a recovery allowance). The
        first-order and Monte Carlo figures stand beside it.

    Raises
    ------
    ModelError
        If there is no such candidate, or no yield from 0 % up fits the readings.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> lab = assess(experiments.load("copper-silver"))
    >>> found = yield_for(lab, "copper(II)")
    >>> print(f"{found.estimate:.0f} %, {found.interval[0]:.0f} % to {found.interval[1]:.0f} %")
    103 %, 96 % to 112 %
    """
    low, high = evidence.recovery_needed(name)
    if math.isnan(low):
        raise ModelError(
            "No yield from 0 % up fits these readings.",
            given=f"{nominal(evidence.n_produced):.4g} mol produced, "
            f"{nominal(evidence.n_consumed):.4g} mol consumed",
            fix="Check which reading is subtracted from which.",
        )
    if evidence.experiment.recovery != (1.0, 1.0):
        plain = replace(evidence.experiment, recovery=(1.0, 1.0))
        evidence = assess(plain, coverage=evidence.coverage)
    tested = evidence.candidates[name]
    tail = tested.p_value_average / 2
    return PercentYield(
        numerator=100 * nominal(evidence.n_produced),
        denominator=tested.ratio * nominal(evidence.n_consumed),
        parts=_parts(evidence, tested.ratio),
        coverage=evidence.coverage,
        tested=(100 * low, 100 * high),
        probability_over_100=1 - tail if tested.discrepancy_mol > 0 else tail,
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
