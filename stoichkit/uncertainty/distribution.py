"""Exact distribution of a sum of scaled error sources, by inverting its characteristic function.

The error of a linear combination is Σ c_i e_i with known coefficients and known shapes, so its
characteristic function is the product of those of the shapes: sin(ct)/(ct) for rectangular, its
square at half the width for triangular, J0 for arcsine, a Gaussian, and a Bessel K for Student t.
Distribution function and density follow by the inversion of J. Gil-Pelaez, Biometrika 38 (1951)
481-482, summed on the half-integer grid. No normal approximation and no random numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..errors import ModelError
from . import entry
from .roots import crossing
from .sources import (
    BOUNDED,
    VARIANCE_DIVISOR,
    Floats,
    Number,
    Shape,
    Term,
    characteristic_factor,
    contributions,
    merged,
    terms_of,
)
from .tails import normal_cdf, student_cdf, student_height

_TOLERANCE = 1e-11
_MAX_NODES = 1 << 17
_REACH = 9.0
"""Standard deviations of the normal part within which the distribution is resolved."""


class SumDistribution:
    """Distribution of a sum of independent zero-mean terms, symmetric about zero.

    Parameters
    ----------
    terms : iterable of Term
        Terms of scale 0 are ignored; an empty sum is exactly zero.
    tolerance : float
        Where the characteristic function falls below this, the sum is cut off.

    Raises
    ------
    ModelError
        If a scale is negative or not finite.

    Notes
    -----
    Accuracy: about 1e-10 where the characteristic function falls off as the fourth power or
    faster (two weighings or more); the number of nodes is doubled until the sum has settled to
    1e-11, and one or two rectangular terms alone use their closed form.

    Examples
    --------
    Two weighings on a 0.1 g display, difference; chance of being off by 0.08 g or more:

    >>> d = SumDistribution([Term(Shape.RECTANGULAR, 0.05), Term(Shape.RECTANGULAR, 0.05)])
    >>> round(d.two_sided(0.08), 9)
    0.04
    """

    def __init__(self, terms: Iterable[Term], *, tolerance: float = _TOLERANCE) -> None:
        kept = [t for t in entry.listed("terms", terms, Term) if t.scale != 0]
        tolerance = entry.number("tolerance", tolerance, above=0, below=1)
        for i, t in enumerate(kept):
            if t.shape is Shape.STUDENT_T and math.isinf(t.dof):
                kept[i] = Term(Shape.NORMAL, t.scale)
        for t in kept:
            if not (math.isfinite(t.scale) and t.scale > 0):
                raise ModelError(
                    "A term of a sum has a size that cannot be used.",
                    given=t.scale,
                    allowed="a finite number, 0 or more",
                )
        self.terms: tuple[Term, ...] = merged(kept)
        self._tolerance = tolerance
        self._kept: tuple[float, tuple[Floats, Floats]] | None = None

    @cached_property
    def variance(self) -> float:
        """Variance of the sum (infinite with a Student t of 2 or fewer degrees of freedom)."""
        return math.fsum(t.variance for t in self.terms)

    @property
    def standard_deviation(self) -> float:
        """Standard deviation of the sum."""
        return math.sqrt(self.variance)

    @cached_property
    def spread(self) -> float:
        """A finite measure of width: the root sum of squares of the terms' GUM uncertainties."""
        return math.sqrt(
            math.fsum(t.scale**2 / VARIANCE_DIVISOR.get(t.shape, 1.0) for t in self.terms)
        )

    @cached_property
    def bound(self) -> float:
        """Largest possible absolute value; infinite with a normal or Student t term."""
        if any(t.shape not in BOUNDED for t in self.terms):
            return math.inf
        return math.fsum(t.scale for t in self.terms)

    @cached_property
    def _reach(self) -> float:
        """Half-width outside which the probability is below 1e-18 (without Student t terms)."""
        reach = math.fsum(t.scale for t in self.terms if t.shape in BOUNDED)
        normal = math.fsum(t.scale**2 for t in self.terms if t.shape is Shape.NORMAL)
        return reach + _REACH * math.sqrt(normal)

    @cached_property
    def _end(self) -> float:
        """Where arguments are cut off: nothing is left beyond, to the stated accuracy."""
        return self._reach + math.fsum(1e4 * t.scale for t in self._heavy)

    @cached_property
    def _heavy(self) -> tuple[Term, ...]:
        """The terms whose tails fall off as a power."""
        return tuple(t for t in self.terms if t.shape is Shape.STUDENT_T and math.isfinite(t.dof))

    def characteristic_function(self, t: ArrayLike) -> Floats:
        """Return the (real) characteristic function at the points t, an array of any shape.

        >>> SumDistribution([Term(Shape.NORMAL, 1.0)]).characteristic_function([0.0]).tolist()
        [1.0]
        """
        t = _points("t", t)
        out = np.ones_like(t)
        for shape, dof, scales, counts in self._groups:
            column = (-1,) + (1,) * t.ndim
            factors = characteristic_factor(shape, dof, scales.reshape(column) * t)
            out *= np.prod(factors ** counts.reshape(column), axis=0)
        return out

    @cached_property
    def _groups(self) -> list[tuple[Shape, float, Floats, NDArray[np.intp]]]:
        """Terms of one shape together: scales that differ, and how often each occurs."""
        found: dict[tuple[Shape, float], dict[float, int]] = {}
        for term in self.terms:
            scales = found.setdefault((term.shape, term.dof), {})
            scales[term.scale] = scales.get(term.scale, 0) + 1
        groups = []
        for (shape, dof), scales in found.items():
            if shape is Shape.NORMAL:
                square = math.fsum(n * s * s for s, n in scales.items())
                scales = {math.sqrt(square): 1}
            groups.append((shape, dof, np.array([*scales]), np.array([*scales.values()])))
        return groups

    def _nodes(self, furthest: float) -> tuple[Floats, Floats]:
        """Return grid points t and (weight × characteristic function) there, for |x| ≤ furthest."""
        kept = self._kept
        if kept is None or kept[0] != furthest:
            self._kept = kept = (furthest, self._new_nodes(furthest))
        return kept[1]

    def _new_nodes(self, furthest: float) -> tuple[Floats, Floats]:
        if self._heavy:
            t, weight = self._panels(furthest)
            return t, weight * self.characteristic_function(t)
        step = 2 * math.pi / (2.0 * self._reach + 2.0 * min(furthest, self._reach))
        count = 64
        while True:
            t = np.asarray((np.arange(count) + 0.5) * step, dtype=np.float64)
            phi = self.characteristic_function(t)
            # bound of what is left out: from here on the terms decay at least as 1/t
            if np.abs(phi[-max(count // 16, 4) :]).max() < self._tolerance or count >= _MAX_NODES:
                return t, phi * step
            count *= 2

    def _panels(self, furthest: float) -> tuple[Floats, Floats]:
        """Return Gauss-Legendre nodes and weights, for a function with a cusp at zero.

        A Student t decays as exp(-√dof scale |t|) and is |t|^dof near zero; power tails would
        wrap around on a periodic grid, so the integral is taken over panels that shrink to zero.
        """
        decay = sum(math.sqrt(t.dof) * t.scale for t in self._heavy)
        end = max(60.0 / decay, 10.0 / max(t.scale for t in self._heavy))
        # at many uneven points: at one of them alone a bounded shape may just have a zero
        while np.abs(self.characteristic_function(end * np.geomspace(0.5, 1, 64))).max() < 1e-16:
            end *= 0.5
        width = min(end / 4, 2 * math.pi / (furthest + self._reach + self.spread))
        edges = np.arange(1, min(math.ceil(end / width), _MAX_NODES // 16) + 1) * width
        fine = width * 0.25 ** np.arange(24, 0, -1)
        bounds = np.concatenate([[0.0], fine, edges])
        x, w = legendre(16)
        half = np.diff(bounds)[:, None] / 2
        t = (bounds[:-1, None] + half * (1 + x)).ravel()
        return t, (half * w).ravel()

    def cdf(self, x: ArrayLike) -> Floats:
        """Return P(sum ≤ x) for an array of any shape.

        >>> d = SumDistribution([Term(Shape.NORMAL, 1.0)])
        >>> round(float(d.cdf(1.959963985)), 9)
        0.975
        """
        x = _points("x", x)
        if not self.terms:
            return np.asarray((x >= 0).astype(np.float64))
        exact = self._closed_cdf(x)
        if exact is not None:
            return exact
        flat = x.ravel()
        end = self._end
        if not self._heavy and (np.abs(flat) >= end).all():
            return np.asarray((flat > 0).astype(np.float64).reshape(x.shape))
        inside = np.clip(flat, -end, end)
        t, weight = self._nodes(_largest(inside))
        out = 0.5 + _blocked(np.sin, inside, t, weight / t / math.pi)
        if not self._heavy:
            out = np.where(flat >= end, 1.0, np.where(flat <= -end, 0.0, out))
        return np.asarray(np.clip(out, 0.0, 1.0).reshape(x.shape))

    def pdf(self, x: ArrayLike) -> Floats:
        """Return the probability density at x (unit: 1 / unit of the sum), an array of any shape.

        Raises
        ------
        ModelError
            If the sum is exactly zero (it has no density).

        Examples
        --------
        >>> d = SumDistribution([Term(Shape.NORMAL, 1.0)])
        >>> round(float(d.pdf(0.0)), 9)
        0.39894228
        """
        if not self.terms:
            raise ModelError("A sum without any error has no density.", fix="State an uncertainty.")
        x = _points("x", x)
        exact = self._closed_pdf(x)
        if exact is not None:
            return exact
        flat = x.ravel()
        end = self._end
        if not self._heavy and (np.abs(flat) > end).all():
            return np.zeros(x.shape)
        inside = np.clip(flat, -end, end)
        t, weight = self._nodes(_largest(inside))
        out = np.maximum(_blocked(np.cos, inside, t, weight / math.pi), 0.0)
        if not self._heavy:
            out = np.where(np.abs(flat) > end, 0.0, out)
        return np.asarray(out.reshape(x.shape))

    def two_sided(self, x: float) -> float:
        """Return P(|sum| ≥ |x|), 1 at x = 0.

        >>> SumDistribution([]).two_sided(0.1)
        0.0
        """
        if x == 0:
            return 1.0
        if abs(x) >= self.bound:
            return 0.0
        return min(2.0 * float(self.cdf(-abs(x))), 1.0)

    def half_width(self, coverage: float) -> float:
        """Return the h with P(|sum| ≤ h) = coverage, for 0 < coverage < 1.

        Raises
        ------
        ModelError
            If the coverage is not between 0 and 1.

        Examples
        --------
        >>> round(SumDistribution([Term(Shape.NORMAL, 1.0)]).half_width(0.95), 6)
        1.959964
        """
        coverage = entry.number("coverage", coverage, above=0, below=1)
        most = min(self._end, self.bound)

        def excess(x: float) -> float:
            return self.two_sided(x) - (1 - coverage)

        low, high = 0.0, min(2.0 * self.spread, most)
        while high < most and excess(high) > 0:  # power tails reach beyond twice their uncertainty
            low, high = high, min(2.0 * high, most)
        return crossing(excess, low, high) if most else 0.0

    def _widths(self) -> tuple[float, float] | None:
        """Return the widths when the sum is one or two rectangles and nothing else."""
        scales: list[float] = []
        for t in self.terms:
            if t.shape is Shape.RECTANGULAR:
                scales.append(t.scale)
            elif t.shape is Shape.TRIANGULAR:
                scales += [t.scale / 2, t.scale / 2]
            else:
                return None
        if not 1 <= len(scales) <= 2:
            return None
        small, large = sorted([*scales, 0.0])[-2:]
        return small, large

    def _closed_cdf(self, x: Floats) -> Floats | None:
        if len(self.terms) == 1 and self.terms[0].shape is Shape.NORMAL:
            return normal_cdf(x / self.terms[0].scale)
        if len(self.terms) == 1 and self.terms[0].shape is Shape.ARCSINE:
            return np.asarray(0.5 + np.arcsin(np.clip(x / self.terms[0].scale, -1, 1)) / math.pi)
        if len(self.terms) == 1 and self._heavy:
            return student_cdf(x / self.terms[0].scale, self.terms[0].dof)
        widths = self._widths()
        if widths is None:
            return None
        small, large = widths
        if small <= 1e-9 * large:
            return np.clip(0.5 + x / (2 * large), 0.0, 1.0)

        def square(v: Floats) -> Floats:
            return np.maximum(v, 0.0) ** 2

        low = np.where(x > 0, -x, x)  # evaluate the smaller tail, without cancellation
        tail = (square(low + large + small) - square(low + large - small)) / (8 * large * small)
        return np.asarray(np.where(x > 0, 1 - tail, tail))

    def _closed_pdf(self, x: Floats) -> Floats | None:
        if len(self.terms) == 1 and self.terms[0].shape is Shape.NORMAL:
            scale = self.terms[0].scale
            z = x / scale
            return np.asarray(np.exp(-0.5 * z * z) / (scale * math.sqrt(2 * math.pi)))
        if len(self.terms) == 1 and self.terms[0].shape is Shape.ARCSINE:
            scale = self.terms[0].scale
            square = np.maximum(scale * scale - x * x, np.finfo(float).tiny)
            return np.asarray(np.where(np.abs(x) < scale, 1 / (math.pi * np.sqrt(square)), 0.0))
        widths = self._widths()
        if widths is None:
            return None
        small, large = widths
        if small <= 1e-9 * large:
            return np.asarray(np.where(np.abs(x) <= large, 1 / (2 * large), 0.0))
        rise = np.clip(large + small - np.abs(x), 0.0, 2 * small)
        return np.asarray(rise / (4 * large * small))


def _points(name: str, x: ArrayLike) -> Floats:
    """Return where a distribution is asked for; floats are asked for too often to look at each."""
    if isinstance(x, float) or (type(x) is np.ndarray and x.dtype == np.float64):
        return np.asarray(x, dtype=np.float64)
    return entry.array(name, x, infinite=True)


def _largest(x: Floats) -> float:
    return float(np.abs(x).max()) if x.size else 0.0


def _blocked(wave: Any, x: Floats, t: Floats, weight: Floats) -> Floats:
    """Return Σ wave(x t) weight for each x, in blocks that bound the memory."""
    block = max(1, 2_000_000 // t.size)
    parts = [wave(np.outer(x[i : i + block], t)) @ weight for i in range(0, x.size, block)]
    return np.concatenate(parts) if parts else np.zeros(0)


def distribution_of(value: Number) -> SumDistribution:
    """Return the exact distribution of the error of an uncertain number, to first order.

    Parameters
    ----------
    value : uncertain number
        Any result built from this package's error sources; its error is taken as linear in them.

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import error_source
    >>> e = error_source("display", kind="rounding", shape=Shape.RECTANGULAR, scale=0.05)
    >>> round(distribution_of(2.0 * e + 3.0).half_width(0.95), 9)
    0.095
    """
    return SumDistribution(terms_of(contributions(value)))


_MOST_NODES, _MOST_POINTS = 2048, 1 << 20
_LEAST = 1e-5
"""Half-width, in scales of t, up to which a rectangle changes a tail by less than 1e-11."""


@lru_cache(maxsize=256)
def legendre(count: int) -> tuple[Floats, Floats]:
    """Return so many Gauss-Legendre nodes from -1 to 1 and their weights, worked out once.

    >>> node, weight = legendre(2)
    >>> node.round(6).tolist(), weight.round(6).tolist()
    ([-0.57735, 0.57735], [1.0, 1.0])
    """
    node, weight = np.polynomial.legendre.leggauss(count)
    node.flags.writeable = weight.flags.writeable = False
    return node, weight


def student_tails(x: Floats, half_widths: Floats, scale: Floats, dof: int) -> Floats:
    """Return P(|error| ≥ |x|) where the error is a scaled Student t and rectangular terms.

    The widest rectangle is integrated in closed form, each other one by Gauss-Legendre nodes, as
    many as its width over the scale of t asks for (error below 1e-11); where that would take more
    than 2048 nodes, :class:`stoichkit.uncertainty.distribution.SumDistribution` is used.

    Parameters
    ----------
    x, scale : ndarray, shape (groups,)
        Value, and scale of t, above 0.
    half_widths : ndarray, shape (terms, groups)
        0 or more; at least one term.
    dof : int
        Degrees of freedom.

    Examples
    --------
    >>> terms = [Term(Shape.RECTANGULAR, 0.5), Term(Shape.RECTANGULAR, 0.2)]
    >>> exact = SumDistribution([*terms, Term(Shape.STUDENT_T, 0.3, 3.0)]).two_sided(0.9)
    >>> found = student_tails(np.array([0.9]), np.array([[0.5], [0.2]]), np.array([0.3]), 3)
    >>> bool(abs(found[0] - exact) < 1e-10)
    True
    """
    wide, *others = np.sort(half_widths, axis=0)[::-1] / scale
    wide = np.maximum(wide, _LEAST)
    others = [a for a in others if a.any()]
    # the density of t is analytic to √dof scales from the real axis
    counts = [math.ceil(14.0 / math.asinh(math.sqrt(dof) / a.max())) + 2 for a in others]
    nodes = math.prod(counts)
    if x.size > 1 and (nodes > _MOST_NODES or nodes * x.size > _MOST_POINTS):
        out = np.empty(x.size)
        order = np.argsort(others[0])
        for part in (order[: x.size // 2], order[x.size // 2 :]):
            out[part] = student_tails(x[part], half_widths[:, part], scale[part], dof)
        return out
    if nodes > _MOST_NODES:
        terms = [Term(Shape.RECTANGULAR, v) for v in half_widths[:, 0].tolist()]
        terms.append(Term(Shape.STUDENT_T, float(scale[0]), float(dof)))
        return np.array([SumDistribution(terms).two_sided(float(x[0]))])
    points, weights = (-np.abs(x) / scale)[None], np.ones(1)
    for a, count in zip(others, counts, strict=True):
        node, weight = legendre(count)
        points = (points[:, None] + node[:, None] * a).reshape(-1, x.size)
        weights = np.multiply.outer(weights, weight / 2).ravel()
    rise = _integral_of_t(points + wide, dof) - _integral_of_t(points - wide, dof)
    return np.asarray(np.minimum(weights @ rise / wide, 1.0))


def _integral_of_t(z: Floats, dof: int) -> Floats:
    """Return an antiderivative of the distribution function of Student t."""
    square = z * z
    if dof == 1:
        return np.asarray(z * student_cdf(z, 1) - np.log1p(square) / (2 * math.pi))
    density = student_height(dof) * np.exp(-(dof + 1) / 2 * np.log1p(square / dof))
    return np.asarray(z * student_cdf(z, dof) + density * (dof + square) / (dof - 1))


def student_p(x: Any, reach: Any, scale: Any, dof: int) -> Any:
    """Return P(|t scale| ≥ |x| − reach); arrays of one shape or floats.

    Parameters
    ----------
    x, reach, scale : float or array_like
        Value; how far it may be off, 0 or more; scale of t, above 0.
    dof : int
        Degrees of freedom, 1 or more.

    Raises
    ------
    ModelError
        If one cannot be used, or the shapes do not match.

    Examples
    --------
    >>> round(float(student_p(2.5, 0.5, 1.0, 3)), 4)
    0.1393
    """
    x, reach = entry.array("x", x, infinite=True), entry.array("reach", reach, least=0)
    scale, dof = entry.array("scale", scale, above=0), entry.whole("dof", dof, least=1, most=10**9)
    try:
        np.broadcast_shapes(x.shape, reach.shape, scale.shape)
    except ValueError:
        raise ModelError(
            "`x`, `reach` and `scale` do not match.",
            given=f"shapes {x.shape}, {reach.shape} and {scale.shape}",
            allowed="arrays of one shape, or numbers",
        ) from None
    return 2.0 * student_cdf(-np.maximum(np.abs(x) - reach, 0.0) / scale, dof)
