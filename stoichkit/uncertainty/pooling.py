"""Many estimates of one quantity into one answer: common effect, random effects, what stands out.

Each group's estimate has its own variance. With a common effect all groups estimate one value;
with random effects their values differ by more than that, with a variance between the groups.
What all groups share (the calibration of one balance, one stock solution) is not averaged away:
it is added once, after pooling.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ModelError
from . import entry
from .distribution import SumDistribution
from .roots import crossing
from .sources import Floats, Shape, Term
from .tails import chi_squared_tail, normal_cdf, student_cdf

METHODS = ("paule-mandel", "dersimonian-laird", "common")
INTERVALS = ("hartung-knapp", "floored hartung-knapp", "normal")
OUTLYING_LEVEL = 0.05
"""Chance that any group of a class without outlying groups is flagged."""


@dataclass(frozen=True, slots=True, eq=False)
class Pooled:
    """One answer from many groups.

    Attributes
    ----------
    estimates, variances : ndarray, shape (groups,)
        As given; the variances hold what differs from group to group only.
    method : str
        ``"paule-mandel"``, ``"dersimonian-laird"`` or ``"common"``.
    interval_method : str
        ``"hartung-knapp"``, ``"floored hartung-knapp"`` or ``"normal"``.
    coverage : float
    mean : float
        Weighted mean, in the unit of the estimates.
    standard_uncertainty : float
        Of the mean, without what the groups share.
    shared_uncertainty : float
        Standard uncertainty of what all groups share; it does not fall with more groups.
    q : float
        Cochran's Q: weighted squares about the common mean, over the groups' own variances.
    dof : int
        Groups less one.
    p_heterogeneity : float
        Chance of a Q at least as large if all groups estimate one value (chi-squared).
    tau_squared : float
        Variance between the groups, in the squared unit; 0 for a common effect.
    i_squared, h_squared : float
        Part of the total variance that is between groups, 0 to 1, and 1 / (1 − I²). From tau²
        and the typical own variance with random effects, from Q with a common effect.
    weights : ndarray, shape (groups,)
        Weights of the mean; they add up to 1.
    """

    estimates: Floats
    variances: Floats
    method: str
    interval_method: str
    coverage: float
    mean: float
    standard_uncertainty: float
    shared_uncertainty: float
    q: float
    dof: int
    p_heterogeneity: float
    tau_squared: float
    i_squared: float
    h_squared: float
    weights: Floats

    @property
    def tau(self) -> float:
        """Standard deviation between the groups, in the unit of the estimates."""
        return math.sqrt(self.tau_squared)

    @property
    def total_uncertainty(self) -> float:
        """Standard uncertainty of the mean with what the groups share."""
        return math.hypot(self.standard_uncertainty, self.shared_uncertainty)

    @property
    def interval(self) -> tuple[float, float]:
        """Coverage interval of the mean, with both uncertainties."""
        half = self.error.half_width(self.coverage)
        return self.mean - half, self.mean + half

    @property
    def own_term(self) -> Term:
        """Error of the mean without what is shared: normal, or Student t with ``dof``."""
        if self.interval_method == "normal":
            return Term(Shape.NORMAL, self.standard_uncertainty)
        return Term(Shape.STUDENT_T, self.standard_uncertainty, float(self.dof))

    @property
    def error(self) -> SumDistribution:
        """Distribution of the error of the mean: the own term and a normal for what is shared."""
        return SumDistribution([self.own_term, Term(Shape.NORMAL, self.shared_uncertainty)])

    def p_value(self, value: float) -> float:
        """Return the chance of a mean at least as far from this value, if it is the true one.

        >>> round(pool([0.9, 1.1, 1.3], [0.01, 0.01, 0.01], interval="normal").p_value(1.0), 4)
        0.3865
        """
        return self.error.two_sided(self.mean - entry.number("value", value))


def pool(
    estimates: ArrayLike,
    variances: ArrayLike,
    *,
    method: str = "paule-mandel",
    interval: str = "hartung-knapp",
    coverage: float = 0.95,
    shared_uncertainty: float = 0.0,
) -> Pooled:
    """Pool the estimates of two or more groups.

    Parameters
    ----------
    estimates : array_like, shape (groups,)
        One estimate a group, in any one unit.
    variances : array_like, shape (groups,)
        Squared standard uncertainty of each, above 0, without what the groups share.
    method : str
        ``"paule-mandel"`` and ``"dersimonian-laird"``: random effects, by these estimators of
        the variance between groups; ``"common"``: no such variance.
    interval : str
        ``"hartung-knapp"``: the observed scatter sets the uncertainty, with Student t for the
        groups less one; it can come out narrower than the groups' own variances allow (zero for
        equal estimates). ``"floored hartung-knapp"``: never below the normal standard
        uncertainty. ``"normal"``: the variances are taken as known.
    coverage : float
        Above 0 and below 1.
    shared_uncertainty : float
        Standard uncertainty of the mean from sources that all groups share, 0 or more; taken as
        normal. It is added once and kept apart in the result.

    Raises
    ------
    ModelError
        If there are fewer than two groups, or a number or a method cannot be used.

    Notes
    -----
    R. C. Paule and J. Mandel, J. Res. Natl. Bur. Stand. 87 (1982) 377-385; R. DerSimonian and
    N. Laird, Control. Clin. Trials 7 (1986) 177-188; J. Hartung and G. Knapp, Stat. Med. 20
    (2001) 3875-3889; J. P. T. Higgins and S. G. Thompson, Stat. Med. 21 (2002) 1539-1558 (I²,
    H²); floor: C. Röver, G. Knapp and T. Friede, BMC Med. Res. Methodol. 15 (2015) 99.

    Examples
    --------
    >>> p = pool([1.98, 2.03, 2.01, 2.20], [0.0004, 0.0004, 0.0009, 0.0025])
    >>> round(p.mean, 3), round(p.standard_uncertainty, 3), round(p.tau, 3), p.dof
    (2.048, 0.047, 0.089, 3)
    """
    y, v = _checked(estimates, variances)
    entry.choice("method", method, METHODS)
    entry.choice("interval", interval, INTERVALS)
    coverage = entry.number("coverage", coverage, above=0, below=1)
    shared_uncertainty = entry.number("shared_uncertainty", shared_uncertainty, least=0)
    dof = y.size - 1
    q = _generalised_q(y, v)
    w = 1 / v
    pairs = _pairs(w)  # the square of the sum less the sum of squares
    typical = float(dof * w.sum() / pairs)
    if method == "paule-mandel":
        tau_squared = _paule_mandel(y, v)
    elif method == "dersimonian-laird":
        tau_squared = max(0.0, (q - dof) * float(w.sum()) / pairs)
    else:
        tau_squared = 0.0
    if method == "common":
        i_squared = max(0.0, 1 - dof / q) if q > 0 else 0.0
    else:
        i_squared = tau_squared / (tau_squared + typical)
    mean, variance, weights = _weighted(y, v + tau_squared)
    if interval != "normal":
        scale = _generalised_q(y, v + tau_squared) / dof
        variance *= max(1.0, scale) if interval.startswith("floored") else scale
    return Pooled(
        estimates=y,
        variances=v,
        method=method,
        interval_method=interval,
        coverage=coverage,
        mean=mean,
        standard_uncertainty=math.sqrt(variance),
        shared_uncertainty=shared_uncertainty,
        q=q,
        dof=dof,
        p_heterogeneity=chi_squared_tail(q, dof),
        tau_squared=tau_squared,
        i_squared=i_squared,
        h_squared=1 / (1 - i_squared) if i_squared < 1 else math.inf,
        weights=weights,
    )


def _pairs(w: Floats) -> float:
    """Return the sum of w_i w_j over all i ≠ j, without a difference of large numbers."""
    rising = np.sort(w)
    return float(2 * np.sum(rising[1:] * np.cumsum(rising)[:-1]))


def _weighted(y: Floats, v: Floats) -> tuple[float, float, Floats]:
    """Return mean, variance and weights by 1/v; summed about one estimate to keep all digits."""
    weights = v.min() / v
    total = float(weights.sum())
    weights /= total
    mean = float(y[0] + np.sum(weights * (y - y[0])))
    return mean, float(v.min()) / total, weights


def _generalised_q(y: Floats, v: Floats) -> float:
    """Return the weighted squares about the weighted mean."""
    return float(np.sum((y - _weighted(y, v)[0]) ** 2 / v))


def _checked(estimates: ArrayLike, variances: ArrayLike) -> tuple[Floats, Floats]:
    y = entry.array("estimates", estimates, least=-1e70, most=1e70).copy()
    v = entry.array("variances", variances, least=1e-140, most=1e140).copy()
    if y.ndim != 1 or y.shape != v.shape or y.size < 2:
        raise ModelError(
            "Pooling needs one estimate and one variance for each of two or more groups.",
            given=f"shapes {y.shape} and {v.shape}",
            allowed="two lists of one length, 2 or more",
        )
    return y, v


def _paule_mandel(y: Floats, v: Floats) -> float:
    """Return the tau² at which the generalised Q equals the groups less one; 0 if none does."""
    dof = y.size - 1
    # at this tau² the generalised Q is at most dof: every weight is below 1 / (min v + tau²)
    highest = float(np.var(y, ddof=1)) - float(v.min())

    def excess(part: float) -> float:
        return _generalised_q(y, v + part * highest) - dof

    if highest <= 0 or excess(0.0) <= 0:
        return 0.0
    if excess(1.0) >= 0:  # equal variances: the bound itself, to rounding
        return highest
    return highest * crossing(excess, 0.0, 1.0, within=1e-14)


def leave_one_out(pooled: Pooled) -> tuple[Pooled, ...]:
    """Return the pooled answer without each group in turn.

    Raises
    ------
    ModelError
        With fewer than three groups.

    Examples
    --------
    >>> p = pool([1.98, 2.03, 2.01, 2.20], [0.0004, 0.0004, 0.0009, 0.0025])
    >>> [round(without.mean, 3) for without in leave_one_out(p)]
    [2.073, 2.057, 2.063, 2.006]
    """
    if entry.record("pooled", pooled, Pooled).dof < 2:
        raise ModelError(
            "There are too few groups to leave one out.",
            given=pooled.dof + 1,
            allowed="three or more",
        )
    return tuple(_without(pooled, i) for i in range(pooled.dof + 1))


def _without(pooled: Pooled, group: int) -> Pooled:
    return pool(
        np.delete(pooled.estimates, group),
        np.delete(pooled.variances, group),
        method=pooled.method,
        interval=pooled.interval_method,
        coverage=pooled.coverage,
        shared_uncertainty=pooled.shared_uncertainty,
    )


@dataclass(frozen=True, slots=True)
class Outlying:
    """Which groups stand out from the rest; nothing is removed.

    Attributes
    ----------
    residuals : tuple of float
        Studentised deleted residual of each group: its distance from the pooled answer of the
        others, over the standard uncertainty of that distance.
    p_values : tuple of float
        Chance of a residual at least as large.
    groups : tuple of int
        The flagged groups, counted from 0: p below level / groups (Bonferroni).
    level : float
        Chance that any group is flagged if none is outlying.
    """

    residuals: tuple[float, ...]
    p_values: tuple[float, ...]
    groups: tuple[int, ...]
    level: float


def outlying(pooled: Pooled, *, level: float = OUTLYING_LEVEL) -> Outlying:
    """Flag groups whose studentised deleted residual is beyond the Bonferroni limit.

    Parameters
    ----------
    pooled : Pooled
        Three or more groups.
    level : float
        Chance that any group is flagged if none is outlying, above 0 and below 1; each of k
        groups is tested at level / k, two-sided.

    Notes
    -----
    The residual is compared with the normal distribution where the others show no variance
    between them, else with Student t of k − 2 degrees of freedom. With fewer than eight groups
    that truly differ, more are flagged than stated (simulated: up to a third of such classes of
    three). Two outlying groups can hide each other, each being among the others of the other.

    Examples
    --------
    >>> p = pool([2.00, 2.02, 1.99, 2.01, 2.30], [0.0004] * 5)
    >>> outlying(p).groups
    (4,)
    """
    level = entry.number("level", level, above=0, below=1)
    others = leave_one_out(pooled)
    given = zip(pooled.estimates.tolist(), pooled.variances.tolist(), others, strict=True)
    found = [deleted_residual(y, v, rest) for y, v, rest in given]
    flagged = tuple(i for i, (_, p) in enumerate(found) if p < level / len(found))
    return Outlying(tuple(r for r, _ in found), tuple(p for _, p in found), flagged, level)


def deleted_residual(estimate: float, variance: float, others: Pooled) -> tuple[float, float]:
    """Return how far a group is from the others, in standard uncertainties, and the p-value.

    >>> others = pool([2.00, 2.02, 1.99, 2.01], [0.0004] * 4)
    >>> residual, p = deleted_residual(2.30, 0.0004, others)
    >>> round(residual, 1), p < 1e-30
    (13.2, True)
    """
    tau_squared = others.tau_squared
    of_mean = 1 / float(np.sum(1 / (others.variances + tau_squared)))
    residual = (estimate - others.mean) / math.sqrt(variance + tau_squared + of_mean)
    x = np.array(-abs(residual))
    tail = student_cdf(x, others.dof) if tau_squared > 0 else normal_cdf(x)
    return residual, 2 * float(tail)
