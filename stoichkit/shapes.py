"""Shapes of error sources: variance and characteristic function of each term of a sum."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

from .uncertain import Shape, Source

__all__ = [
    "BOUNDED",
    "VARIANCE_DIVISOR",
    "Floats",
    "Term",
    "characteristic_factor",
    "merged",
    "terms_of",
]

Floats: TypeAlias = NDArray[np.float64]

_MANY_DOF = 60.0
"""Degrees of freedom above which the Bessel function of a Student t would overflow."""
_NEGLIGIBLE = 1e-4
"""Terms whose standard deviation is below this part of the total are merged into one normal."""


@dataclass(frozen=True, slots=True)
class Term:
    """One independent, zero-mean term of a sum.

    Attributes
    ----------
    shape : Shape
    scale : float
        Half-width (bounded shapes), standard deviation (normal) or scale (Student t), already
        multiplied by the sensitivity coefficient; 0 or more, in the unit of the result.
    dof : float
        Degrees of freedom of a Student t; infinite otherwise.
    """

    shape: Shape
    scale: float
    dof: float = math.inf

    @property
    def variance(self) -> float:
        """Variance of the term; infinite for Student t with 2 or fewer degrees of freedom.

        >>> round(Term(Shape.RECTANGULAR, 3.0).variance, 9)
        3.0
        """
        square = self.scale * self.scale
        if self.shape is Shape.STUDENT_T and math.isfinite(self.dof):
            return square * self.dof / (self.dof - 2) if self.dof > 2 else math.inf
        return square / VARIANCE_DIVISOR.get(self.shape, 1.0)


VARIANCE_DIVISOR = {Shape.RECTANGULAR: 3.0, Shape.TRIANGULAR: 6.0, Shape.ARCSINE: 2.0}
BOUNDED = frozenset(VARIANCE_DIVISOR)


def characteristic_factor(shape: Shape, dof: float, z: Floats) -> Floats:
    """Return the characteristic function of a unit-scale shape at z (any array)."""
    out: Any
    if shape is Shape.RECTANGULAR:
        out = np.sinc(z / np.pi)
    elif shape is Shape.TRIANGULAR:
        out = np.sinc(z / (2 * np.pi)) ** 2
    elif shape is Shape.ARCSINE:
        from scipy import special

        out = special.j0(z)
    elif shape is Shape.NORMAL or not math.isfinite(dof):
        out = np.exp(-0.5 * z * z)
    else:
        from scipy import special

        if dof > _MANY_DOF:
            return _scale_mixture(dof, z)
        w = np.maximum(math.sqrt(dof) * np.abs(z), 1e-8)
        log = (
            np.log(special.kve(dof / 2, w))
            - w
            + dof / 2 * np.log(w)
            - special.gammaln(dof / 2)
            - (dof / 2 - 1) * math.log(2)
        )
        out = np.exp(log)
    return np.asarray(out, dtype=np.float64)


def _scale_mixture(dof: float, z: Floats) -> Floats:
    """Characteristic function of Student t as a mixture of normals over log(chi-squared / dof).

    The trapezoidal rule on that near-normal variable is exact to rounding.
    """
    u = np.linspace(-1, 1, 161) * 9.0 * math.sqrt(2.0 / dof)
    weight = np.exp(0.5 * dof * (u - np.expm1(u)))
    weight /= weight.sum()
    flat = z.ravel()
    out = np.exp(-0.5 * np.outer(flat * flat, np.exp(-u))) @ weight
    return np.asarray(out.reshape(z.shape))


def merged(terms: Sequence[Term]) -> tuple[Term, ...]:
    """Merge terms too small to show their shape into one normal of the same variance."""
    total = math.fsum(t.scale**2 / VARIANCE_DIVISOR.get(t.shape, 1.0) for t in terms)
    large, small = [], 0.0
    for t in terms:
        part = t.scale**2 / VARIANCE_DIVISOR.get(t.shape, 1.0)
        if part < _NEGLIGIBLE**2 * total and (t.shape is not Shape.STUDENT_T or t.dof > 4):
            small += t.variance
        else:
            large.append(t)
    # below 1e-7 of the width the merged part could not move any result at the stated accuracy
    if small > 1e-14 * total:
        large.append(Term(Shape.NORMAL, math.sqrt(small)))
    return tuple(large)


def terms_of(parts: Iterable[tuple[Source, float]]) -> tuple[Term, ...]:
    """Return the terms of (source, coefficient) pairs."""
    return tuple(Term(s.shape, abs(c) * s.scale, s.dof) for s, c in parts if c)
