"""Straight line through points with errors in both variables, correlated within each point.

The fit is that of D. York, N. M. Evensen, M. López Martínez and J. De Basabe Delgado, Am. J.
Phys. 72 (2004) 367-375. Tests of a slope do not use its standard uncertainty: if the slope is r,
every y − r x has the same mean, so its trend along the line has a distribution known without any
approximation for normal errors, in the way of E. C. Fieller for a ratio.

Where the points may truly differ in y by more than their errors, the scatter about the line shows
it: the uncertainties of y grow until they explain it, and tests use Student t. A few points do not
show whether the differences are alike in size or grow with x, and the wrong one of the two would
exclude the true slope too often; so each test is made both ways and the larger p-value counts.
Where the uncertainties explain more than the scatter already, it is that by the scatter or by them.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from ..errors import ModelError
from . import entry
from .distribution import SumDistribution
from .ratio_set import RatioSet, invert
from .roots import crossing
from .sources import Floats, Shape, Term
from .tails import chi_squared_tail

_MOST_ITERATIONS = 500
_SETTLED = 1e-13
_LEAST_PART = 0.1
"""Differences in proportion to x are not less than this part of those at its root mean square."""
_NO_SCATTER = 1e-9
"""Scatter over the uncertainties up to which points lie exactly on a line, to rounding."""


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A straight line y = intercept + slope x, and how well it is known.

    Attributes
    ----------
    x, y : ndarray, shape (points,)
        As given.
    u_x, u_y : ndarray, shape (points,)
        Standard uncertainties, without what the points share; ``tau`` is in those of y.
    correlation : ndarray, shape (points,)
        Of the errors of x and y of each point.
    shared_x, shared_y : ndarray, shape (sources, points)
        Effect of one standard uncertainty of each shared source on each x and y.
    intercept, slope : float
    u_intercept, u_slope : float
        Standard uncertainties from the points' own errors.
    covariance : float
        Of intercept and slope, likewise.
    u_intercept_shared, u_slope_shared : float
        Standard uncertainties from what the points share; they do not fall with more points.
    chi_squared : float
        Weighted squares of the distances from the line with the stated uncertainties.
    dof : int
        Points less two.
    p_value : float
        Chance of a chi-squared at least as large from the stated uncertainties; nan with two
        points.
    iterations : int
    converged : bool
        Whether the slope settled to about thirteen digits.
    tau : float
        Standard deviation between the points in y, beyond the stated uncertainties: the one with
        which chi-squared equals ``dof`` (Paule and Mandel); 0 unless asked for.
    stated : Line or None
        The line by the stated uncertainties alone, where the scatter was asked to count as well.
        All p-values are then Student t by the scatter or, with ``tau`` 0, the normal one of this
        line if that is larger.
    growing : Line or None
        With ``tau`` above 0: the line if the points differ in proportion to x instead of alike. All
        p-values are the larger of both.
    """

    x: Floats
    y: Floats
    u_x: Floats
    u_y: Floats
    correlation: Floats
    shared_x: Floats
    shared_y: Floats
    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    covariance: float
    u_intercept_shared: float
    u_slope_shared: float
    chi_squared: float
    dof: int
    p_value: float
    iterations: int
    converged: bool
    tau: float = 0.0
    stated: Line | None = None
    growing: Line | None = None

    @property
    def inflated(self) -> bool:
        """Whether the scatter about the line was asked to count beside the uncertainties."""
        return self.stated is not None

    @property
    def scatter(self) -> float:
        """Observed over stated scatter about the line, √(chi-squared / dof); nan for dof 0."""
        return math.sqrt(self.chi_squared / self.dof) if self.dof else math.nan

    @property
    def u_intercept_total(self) -> float:
        """Standard uncertainty of the intercept with what the points share."""
        return math.hypot(self.u_intercept, self.u_intercept_shared)

    @property
    def u_slope_total(self) -> float:
        """Standard uncertainty of the slope with what the points share."""
        return math.hypot(self.u_slope, self.u_slope_shared)

    def with_inflation(self) -> Line:
        """Return the line fitted with what its scatter shows beyond the stated uncertainties.

        Raises
        ------
        ModelError
            With two points, which have no scatter.

        Examples
        --------
        >>> line = fit_line([1, 2, 3, 4], [2.0, 4.3, 5.9, 8.1], [0.01] * 4, [0.05] * 4)
        >>> wide = line.with_inflation()
        >>> round(line.u_slope, 3), round(wide.u_slope, 3), round(wide.tau, 2)
        (0.024, 0.093, 0.2)
        """
        if self.dof < 1:
            raise ModelError("Two points show no scatter about a line.", allowed="3 or more")
        if self.inflated:
            return self
        alike = self._with_between(np.ones(self.x.size))
        if not alike.tau:
            return alike
        size = np.abs(self.x) / float(np.sqrt(np.mean(self.x**2)))
        return replace(alike, growing=self._with_between(np.maximum(size, _LEAST_PART)))

    def _with_between(self, part: Floats) -> Line:
        """Return the line with what the scatter shows, if the differences go with x like this."""
        tau = self._between(part)
        line = self._refitted(tau * part) if tau else self
        return replace(
            line, chi_squared=self.chi_squared, p_value=self.p_value, tau=tau, stated=self
        )

    def _refitted(self, tau: Floats) -> Line:
        """Return the line with a standard deviation between the points added to each y."""
        u_y = np.hypot(self.u_y, tau)
        correlation = self.correlation * self.u_y / u_y
        return fit_line(
            self.x, self.y, self.u_x, u_y, correlation, shared_x=self.shared_x,
            shared_y=self.shared_y,
        )  # fmt: skip

    def _between(self, part: Floats) -> float:
        """Return the standard deviation in y with which chi-squared equals dof; 0 if none does."""
        if self.chi_squared <= self.dof:
            return 0.0
        x, y, v_x, c = self.x, self.y, self.u_x**2, self.correlation * self.u_x * self.u_y

        slope = self.slope

        def excess(tau: float) -> float:
            nonlocal slope  # the search goes on from the slope that it found last
            v_y = self.u_y**2 + (tau * part) ** 2
            slope, _, _ = _iterate(x, y, v_x, v_y, c, slope)
            w, mean_x, mean_y, _ = _step(x, y, v_x, v_y, c, slope)
            return float(np.sum(w * (y - mean_y - slope * (x - mean_x)) ** 2)) - self.dof

        # with it even a level line has squares of less than 1
        highest = float(np.linalg.norm(self.y - self.y.mean()) / part.min())
        return crossing(excess, 0.0, highest, within=1e-10)

    def _p_of(self, value: float, own: float, shared: float, scatter: float) -> float:
        """Return the p-value of a value with these uncertainties; by the scatter if it counts.

        ``scatter`` is what multiplies ``own`` then; nan where there is none.
        """
        if not self.inflated:
            terms = [Term(Shape.NORMAL, own), Term(Shape.NORMAL, shared)]
            return SumDistribution(terms).two_sided(value)
        if not scatter > _NO_SCATTER:  # nan too
            return math.nan
        terms = [Term(Shape.STUDENT_T, own * scatter, float(self.dof)), Term(Shape.NORMAL, shared)]
        return SumDistribution(terms).two_sided(value)

    def intercept_p_value(self, value: float = 0.0) -> float:
        """Return the chance of an intercept at least as far from this value, if it is true.

        >>> line = fit_line([1, 2, 3, 4], [2.1, 4.0, 6.1, 8.1], [0.01] * 4, [0.05] * 4)
        >>> round(line.intercept_p_value(), 2), [round(a, 2) for a in line.intercept_interval()]
        (0.45, [-0.08, 0.18])
        """
        away = self.intercept - entry.number("value", value)
        p = self._p_of(away, self.u_intercept, self.u_intercept_shared, self._scale)
        if self.growing is not None:
            p = max(p, self.growing.intercept_p_value(value))
        return self._larger(p, lambda line: line.intercept_p_value(value))

    @property
    def _scale(self) -> float:
        """Scatter about the line over the uncertainties, ``tau`` among them."""
        return 1.0 if self.tau > 0 else self.scatter

    def intercept_interval(self, *, coverage: float = 0.95) -> tuple[float, float]:
        """Return the coverage interval of the intercept; see :meth:`intercept_p_value`.

        By the scatter, the half-widths of Student t and of what is shared are added in quadrature.
        """
        if self.inflated:
            from scipy.special import ndtri, stdtrit

            tail = 0.5 + coverage / 2
            own = float(stdtrit(self.dof, tail)) * self.u_intercept * self._scale
            half = math.hypot(own, float(ndtri(tail)) * self.u_intercept_shared)
        else:
            parts = (self.u_intercept, self.u_intercept_shared)
            half = SumDistribution([Term(Shape.NORMAL, u) for u in parts]).half_width(coverage)
        low, high = self.intercept - half, self.intercept + half
        other = self.growing if self.tau > 0 else self.stated
        if other is None:
            return low, high
        least, most = other.intercept_interval(coverage=coverage)
        return min(low, least), max(high, most)

    def slope_p_value(self, slope: float) -> float:
        """Return the chance of a trend of y − slope × x at least as large, if this is the slope.

        Parameters
        ----------
        slope : float
            A finite number, e.g. a candidate's mole ratio.

        Examples
        --------
        >>> line = fit_line([1, 2, 3, 4], [2.1, 4.0, 6.1, 8.1], [0.01] * 4, [0.05] * 4)
        >>> round(line.slope_p_value(2.0), 2), line.slope_p_value(1.5) < 1e-9
        (0.68, True)
        """
        return self.direction_p_value(entry.number("slope", slope), 1.0)

    def scatter_p_value(self, slope: float) -> float:
        """Return the p-value of a slope by the scatter about the line alone; nan without any.

        >>> line = fit_line([1, 2, 3, 4], [2.1, 4.0, 6.1, 8.1], [0.01] * 4, [0.05] * 4)
        >>> round(line.scatter_p_value(2.0), 2), round(line.scatter_p_value(1.5), 3)
        (0.85, 0.003)
        """
        slope = entry.number("slope", slope)
        if self.dof < 1:
            return math.nan
        return self.with_inflation()._scatter_p(slope, 1.0)

    def direction_p_value(self, p: float, q: float) -> float:
        """Return the p-value of the slope p/q; (1, 0) is a vertical line.

        Notes
        -----
        D = q y − p x has one mean for all points if p/q is the slope. The place of each point
        along the line, corrected for what D says about its error, is independent of D for
        normal errors, so given the places the weighted trend of D is exactly normal. By the
        scatter its scale comes from what is left of D, with ``tau`` in the uncertainties of y:
        without it the correction would take a true difference in y for an error of x.
        """
        found = self._scatter_p(p, q) if self.inflated else self._direction_p(p, q)
        return self._larger(found, lambda line: line.direction_p_value(p, q))

    def _scatter_p(self, p: float, q: float) -> float:
        """Return the p-value by the scatter alone: the larger of both ways it may go with x."""
        found = self._direction_p(p, q)
        return found if self.growing is None else max(found, self.growing._direction_p(p, q))

    def _larger(self, found: float, by_stated: Callable[[Line], float]) -> float:
        """Return a p-value or, if the stated uncertainties explain more than the scatter, theirs.

        Without scatter, where the one found is nan, always theirs.
        """
        if self.stated is None or self.tau > 0:
            return found
        stated = by_stated(self.stated)
        return stated if math.isnan(found) else max(found, stated)

    def _direction_p(self, p: float, q: float) -> float:
        """Return the same by the stated uncertainties or, if inflated, by the scatter alone."""
        size = math.hypot(p, q)
        p, q = p / size, q / size
        v_x, v_y, c = self.u_x**2, self.u_y**2, self.correlation * self.u_x * self.u_y
        variance = q * q * v_y + p * p * v_x - 2 * p * q * c
        if not (variance > 0).all():
            raise ModelError(
                "This slope cannot be tested: a point has no uncertainty across the line.",
                given=f"slope {p / q if q else math.inf:.6g}",
                fix="State the uncertainties of both variables.",
            )
        w = 1 / variance
        d = q * self.y - p * self.x
        d = d - np.sum(w * d) / w.sum()
        with_d = q * (q * c - p * v_x) + p * (q * v_y - p * c)
        place = q * self.x + p * self.y - with_d * w * d
        place = place - np.sum(w * place) / w.sum()
        trend, own = float(np.sum(w * place * d)), float(np.sum(w * place**2))
        if own == 0:
            return 1.0
        shared = (q * self.shared_y - p * self.shared_x) @ (w * place)
        left = max(float(np.sum(w * d**2)) - trend**2 / own, 0.0)
        scatter = math.sqrt(left / self.dof) if self.dof else math.nan
        return self._p_of(trend, math.sqrt(own), float(np.linalg.norm(shared)), scatter)

    def slope_set(self, *, coverage: float = 0.95) -> RatioSet:
        """Return every slope, 0 or more, that the points do not exclude.

        >>> line = fit_line([1, 2, 3, 4], [2.1, 4.0, 6.1, 8.1], [0.01] * 4, [0.05] * 4)
        >>> found = line.slope_set()
        >>> found.kind, round(found.low, 2), round(found.high, 2)
        ('bounded', 1.96, 2.06)
        """
        coverage = entry.number("coverage", coverage, above=0, below=1)
        return invert(self.direction_p_value, (self.slope, 1.0), (), coverage)


def fit_line(
    x: ArrayLike,
    y: ArrayLike,
    u_x: ArrayLike,
    u_y: ArrayLike,
    correlation: ArrayLike = 0.0,
    *,
    shared_x: ArrayLike | None = None,
    shared_y: ArrayLike | None = None,
    inflate: bool = False,
) -> Line:
    """Fit a straight line to points with errors in both variables.

    Parameters
    ----------
    x, y : array_like, shape (points,)
        Two points or more; for a class the amounts consumed and produced, mol.
    u_x, u_y : array_like, shape (points,) or a number
        Standard uncertainties, 0 or more, in the units of x and y, without what all points
        share; not both 0 for one point.
    correlation : array_like, shape (points,) or a number
        Correlation of the errors of x and y of each point (one reading used in both), above −1
        and below 1.
    shared_x, shared_y : array_like, shape (sources, points), optional
        Effect of one standard uncertainty of each shared source (a balance's calibration, a
        stock solution, a molar mass) on each x and each y. Added once, kept apart.
    inflate : bool
        Let the scatter about the line count beside the uncertainties; see
        :meth:`Line.with_inflation`.

    Raises
    ------
    ModelError
        If the shapes differ, a number cannot be used, or the points define no line.

    Notes
    -----
    The uncertainties are those of York et al. (2004), the maximum-likelihood ones to first order.

    Examples
    --------
    >>> line = fit_line([1, 2, 3, 4], [2.1, 4.0, 6.1, 8.1], [0.01] * 4, [0.05] * 4)
    >>> round(line.slope, 3), round(line.u_slope, 3), round(line.intercept, 2)
    (2.01, 0.024, 0.05)
    """
    inflate = entry.flag("inflate", inflate)
    x, y, u_x, u_y, r = _checked(x, y, u_x, u_y, correlation)
    shared_x, shared_y = _checked_shared(shared_x, shared_y, x.size)
    v_x, v_y, c = u_x**2, u_y**2, r * u_x * u_y
    slope, iterations, converged = _iterate(x, y, v_x, v_y, c)
    w, mean_x, mean_y, beta = _step(x, y, v_x, v_y, c, slope)
    intercept = mean_y - slope * mean_x
    middle = mean_x + float(np.sum(w * beta) / w.sum())  # of the adjusted x
    along = mean_x + beta - middle
    information = float(np.sum(w * along**2))
    if not information > 0:  # nan too
        raise _no_line("they lie on a line parallel to the y axis")
    effect = shared_y - slope * shared_x
    on_slope = effect @ (w * along) / information
    on_intercept = effect @ w / w.sum() - middle * on_slope
    chi_squared = float(np.sum(w * (y - slope * x - intercept) ** 2))
    dof = x.size - 2
    line = Line(
        x=x,
        y=y,
        u_x=u_x,
        u_y=u_y,
        correlation=r,
        shared_x=shared_x,
        shared_y=shared_y,
        intercept=intercept,
        slope=slope,
        u_intercept=math.sqrt(1 / float(w.sum()) + middle**2 / information),
        u_slope=math.sqrt(1 / information),
        covariance=-middle / information,
        u_intercept_shared=float(np.linalg.norm(on_intercept)),
        u_slope_shared=float(np.linalg.norm(on_slope)),
        chi_squared=chi_squared,
        dof=dof,
        p_value=chi_squared_tail(chi_squared, dof) if dof else math.nan,
        iterations=iterations,
        converged=converged,
    )
    return line.with_inflation() if inflate else line


def _iterate(
    x: Floats, y: Floats, v_x: Floats, v_y: Floats, c: Floats, start: float | None = None
) -> tuple[float, int, bool]:
    """Return York's slope, the number of steps, and whether it settled."""
    dx, dy = x - x.mean(), y - y.mean()
    slope = float(np.sum(dx * dy) / np.sum(dx * dx)) if start is None else start
    unit = math.sqrt(float(np.sum(dy * dy) / np.sum(dx * dx)))
    for step in range(1, _MOST_ITERATIONS + 1):
        w, mean_x, mean_y, beta = _step(x, y, v_x, v_y, c, slope)
        below = float(np.sum(w * beta * (x - mean_x)))
        if below == 0:
            return slope, step, False
        before, slope = slope, float(np.sum(w * beta * (y - mean_y))) / below
        if abs(slope - before) <= _SETTLED * max(abs(slope), unit):
            return slope, step, True
        if not math.isfinite(slope):
            break
    return slope, step, False


def _usable(a: Floats) -> Any:
    return (a == 0) | ((np.abs(a) >= 1e-30) & (np.abs(a) <= 1e30))


def _step(
    x: Floats, y: Floats, v_x: Floats, v_y: Floats, c: Floats, slope: float
) -> tuple[Floats, float, float, Floats]:
    """Return the weights, the weighted means and York's beta (adjusted x less its mean)."""
    across = v_y + slope * slope * v_x - 2 * slope * c
    if not (across > 0).all():
        raise _no_line("a point has no uncertainty across the line")
    w = 1 / across
    mean_x = float(x[0] + np.sum(w * (x - x[0])) / w.sum())
    mean_y = float(y[0] + np.sum(w * (y - y[0])) / w.sum())
    u, v = x - mean_x, y - mean_y
    return w, mean_x, mean_y, w * (u * v_y + slope * v * v_x - (slope * u + v) * c)


def _no_line(why: str) -> ModelError:
    return ModelError(
        f"The points do not define a straight line: {why}.",
        fix="Use amounts that differ, and state the uncertainties of both.",
    )


def _checked(*given: ArrayLike) -> tuple[Floats, Floats, Floats, Floats, Floats]:
    names = ("x", "y", "u_x", "u_y", "correlation")
    arrays = [entry.array(n, g) for n, g in zip(names, given, strict=True)]
    x, y = arrays[:2]
    if x.ndim != 1 or x.shape != y.shape or x.size < 2:
        raise ModelError(
            "A line needs two or more points.",
            given=f"shapes {x.shape} and {y.shape}",
            allowed="two lists of one length, 2 or more",
        )
    if any(a.shape not in ((), x.shape) for a in arrays):
        raise ModelError(
            "The uncertainties do not match the points.",
            given=", ".join(str(a.shape) for a in arrays[2:]),
            allowed=f"a number, or one for each of {x.size} points",
        )
    x, y, u_x, u_y, r = (np.array(np.broadcast_to(a, x.shape)) for a in arrays)
    for what, ok, allowed in (
        ("x", _usable(x), "0, or a size from 1e-30 to 1e30"),
        ("y", _usable(y), "0, or a size from 1e-30 to 1e30"),
        ("standard uncertainty of x", _usable(u_x) & (u_x >= 0), "0, or 1e-30 to 1e30"),
        ("standard uncertainty of y", _usable(u_y) & (u_y >= 0), "0, or 1e-30 to 1e30"),
        ("correlation", np.abs(r) < 1, "above −1 and below 1"),
        ("uncertainty", (u_x > 0) | (u_y > 0), "above 0 in x or in y"),
    ):
        if not ok.all():
            at = int(np.argmin(ok))
            point = f"point {at} (from 0): {x[at]}, {y[at]}, {u_x[at]}, {u_y[at]}, {r[at]}"
            raise ModelError(f"The {what} of a point cannot be used.", given=point, allowed=allowed)
    if np.ptp(x) == 0:
        raise _no_line("all x are equal")
    return x, y, u_x, u_y, r


def _checked_shared(
    shared_x: ArrayLike | None, shared_y: ArrayLike | None, points: int
) -> tuple[Floats, Floats]:
    """Return both tables; one left out has no effect."""
    named = (("shared_x", shared_x), ("shared_y", shared_y))
    given = [None if s is None else entry.array(n, s).copy() for n, s in named]
    count = max((len(g) for g in given if g is not None and g.ndim), default=0)
    found = [np.zeros((count, points)) if g is None else g for g in given]
    if any(f.shape != (count, points) for f in found):
        raise ModelError(
            "The effects of the shared sources cannot be used.",
            given=", ".join(str(f.shape) for f in found),
            allowed=f"finite numbers, one row a source and {points} columns",
        )
    return found[0], found[1]
