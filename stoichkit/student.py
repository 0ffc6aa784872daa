"""Tails of a Student t whose value is shifted or smeared by errors with limits."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from .distribution import SumDistribution
from .shapes import Floats, Term
from .uncertain import Shape

__all__ = ["student_p", "student_tails"]

_MOST_NODES, _MOST_POINTS = 2048, 1 << 20
_LEAST = 1e-5
"""Half-width, in scales of t, up to which a rectangle changes a tail by less than 1e-11."""


def student_tails(x: Floats, half_widths: Floats, scale: Floats, dof: int) -> Floats:
    """Return P(|error| ≥ |x|) where the error is a scaled Student t and rectangular terms.

    The widest rectangle is integrated in closed form, each other one by Gauss-Legendre nodes, as
    many as its width over the scale of t asks for (error below 1e-11); where that would take more
    than 2048 nodes, :class:`stoichkit.distribution.SumDistribution` is used.

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
        node, weight = np.polynomial.legendre.leggauss(count)
        points = (points[:, None] + node[:, None] * a).reshape(-1, x.size)
        weights = np.multiply.outer(weights, weight / 2).ravel()
    rise = _integral_of_t(points + wide, dof) - _integral_of_t(points - wide, dof)
    return np.asarray(np.minimum(weights @ rise / wide, 1.0))


def _integral_of_t(z: Floats, dof: int) -> Floats:
    """Return an antiderivative of the distribution function of Student t."""
    from scipy.special import betaln, stdtr

    square = z * z
    if dof == 1:
        return np.asarray(z * stdtr(1, z) - np.log1p(square) / (2 * math.pi))
    log_density = -(dof + 1) / 2 * np.log1p(square / dof) - betaln(dof / 2, 0.5)
    density = np.exp(log_density) / math.sqrt(dof)
    return np.asarray(z * stdtr(dof, z) + density * (dof + square) / (dof - 1))


def student_p(x: Any, reach: Any, scale: Any, dof: int) -> Any:
    """Return P(|t scale| ≥ |x| − reach); arrays of one shape or floats."""
    from scipy.special import stdtr

    return 2.0 * stdtr(dof, -np.maximum(np.abs(x) - reach, 0.0) / scale)
