"""The mole ratio of a class pooled in the usual ways, beside the exact tests of its verdict."""

from __future__ import annotations

from dataclasses import dataclass

from ..uncertainty import entry
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.pooling import Pooled, pool
from .verdict import ClassVerdict

WAYS = (
    ("common effect", "common", "normal"),
    ("random effects, DerSimonian-Laird", "dersimonian-laird", "normal"),
    ("random effects, Paule-Mandel", "paule-mandel", "normal"),
    ("random effects, Paule-Mandel with Hartung-Knapp", "paule-mandel", "hartung-knapp"),
    ("the same, no narrower than the readings allow", "paule-mandel", "floored hartung-knapp"),
)
"""Name, estimator of the variance between groups, and interval of each way of pooling."""


@dataclass(frozen=True, slots=True)
class PooledRatio:
    """A pooled mole ratio n_produced / n_consumed.

    Attributes
    ----------
    way : str
        How it was pooled; one of ``WAYS``.
    ratio, standard_uncertainty : float
        With what the groups share.
    interval : (float, float)
        Coverage interval.
    tau : float
        Standard deviation between the groups, as a mole ratio at the mean amount.
    i_squared : float
        Part of the total variance that is between the groups, 0 to 1.
    pooled : Pooled
        The discrepancies from the ratio of the mean amounts, mol, that were pooled.
    """

    way: str
    ratio: float
    standard_uncertainty: float
    interval: tuple[float, float]
    tau: float
    i_squared: float
    pooled: Pooled


def pooled_ratios(verdict: ClassVerdict) -> tuple[PooledRatio, ...]:
    """Return the mole ratio of a class pooled in each of the usual ways.

    The groups' discrepancies from the ratio of the mean amounts are pooled, not their ratios,
    whose errors are skewed; the result is turned into a ratio at the mean amount consumed, to
    first order. What the groups share (one balance, one stock solution) is added once.

    Parameters
    ----------
    verdict : ClassVerdict

    Returns
    -------
    tuple of PooledRatio
        In the order of ``WAYS``; empty if the mean amount consumed is not above zero.

    Notes
    -----
    The verdict does not rest on these intervals: it tests each candidate with the exact shapes of
    the errors.

    Examples
    --------
    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> from stoichkit.classroom.verdict import class_verdict
    >>> amounts = amounts_from_arrays([1.0, 2.1, 2.9], [1.01, 2.07, 2.99], 0.02, 0.02)
    >>> found = pooled_ratios(class_verdict(amounts, candidates={"one": 1, "two": 2}))
    >>> [(p.way, round(p.ratio, 3), round(p.standard_uncertainty, 3)) for p in found][:1]
    [('common effect', 1.012, 0.008)]
    """
    amounts = entry.record("verdict", verdict, ClassVerdict).amounts
    linear = amounts.linear
    x, y = amounts.best_direction()
    scale = y * linear.mean_consumed
    if scale <= 0:
        return ()
    ratio = linear.mean_produced / linear.mean_consumed
    d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
    ways = []
    for way, method, interval in WAYS:
        plain = pool(d, v, method=method, interval=interval)
        shared = SumDistribution(amounts.shared_terms(x, y, plain.weights)).spread
        found = pool(
            d, v, method=method, interval=interval, coverage=verdict.coverage,
            shared_uncertainty=shared,
        )  # fmt: skip
        low, high = found.interval
        ways.append(
            PooledRatio(
                way=way,
                ratio=ratio + found.mean / scale,
                standard_uncertainty=found.total_uncertainty / scale,
                interval=(ratio + low / scale, ratio + high / scale),
                tau=found.tau / scale,
                i_squared=found.i_squared,
                pooled=found,
            )
        )
    return tuple(ways)
