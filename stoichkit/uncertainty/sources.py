"""Uncertain numbers: elementary error sources, their shapes, and splitting a result into a budget.

This module is the only place where ``uncertainties`` variables are created. Every elementary
source of error (one rounding of one reading, one balance's calibration, one flask's tolerance,
one element's atomic weight) is created once, carries its :class:`Source` as the variable's tag,
and is never copied: correlations follow from sharing the object.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any, TypeAlias

from uncertainties import ufloat
from uncertainties.core import AffineScalarFunc, Variable

from ..errors import ModelError
from . import entry

UncertainNumber: TypeAlias = AffineScalarFunc
Number: TypeAlias = Any
"""An int, float or Fraction when exact; an ``uncertainties`` number otherwise."""


class Shape(StrEnum):
    """The distribution of an error source about zero (JCGM 100:2008 4.3, JCGM 101:2008 6.4)."""

    RECTANGULAR = "rectangular"
    TRIANGULAR = "triangular"
    ARCSINE = "arcsine"
    NORMAL = "normal"
    STUDENT_T = "student t"


_SHAPES = tuple(shape.value for shape in Shape)
_DIVISOR = {
    Shape.RECTANGULAR: math.sqrt(3),
    Shape.TRIANGULAR: math.sqrt(6),
    Shape.ARCSINE: math.sqrt(2),
}


@dataclass(frozen=True, slots=True, eq=False)
class Source:
    """One elementary error source; identity, not content, makes two sources the same.

    Attributes
    ----------
    label : str
        What the error is, in words, for the budget.
    kind : str
        Class of source, e.g. ``"rounding"``, ``"repeatability"``, ``"linearity"``,
        ``"calibration"``, ``"tolerance"``, ``"temperature"``, ``"atomic weight"``,
        ``"variation"``, ``"scatter"``.
    shape : Shape
        Distribution about zero.
    scale : float
        Half-width for the bounded shapes; standard deviation for the normal; the scale
        (the GUM's standard uncertainty) for Student t. In the unit of the quantity.
    dof : float
        Degrees of freedom; infinite unless the shape is Student t.
    reading : str
        Identifies the reading that a rounding or repeatability source belongs to ("" for none).
    vessel : str
        Readings with the same non-empty vessel share one unknown position between two display
        steps, because the same vessel was on the balance for each.
    """

    label: str
    kind: str
    shape: Shape
    scale: float
    dof: float = math.inf
    reading: str = ""
    vessel: str = ""

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty of this source, in the unit of the quantity.

        >>> Source("rounding", "rounding", Shape.RECTANGULAR, 0.005).standard_uncertainty
        0.00288...
        """
        return self.scale / _DIVISOR.get(self.shape, 1.0)


def error_source(
    label: str,
    *,
    kind: str,
    shape: Shape,
    scale: float,
    dof: float = math.inf,
    reading: str = "",
    vessel: str = "",
) -> Number:
    """Create one elementary error of zero mean; add the result to the quantity it disturbs.

    Parameters are those of :class:`Source`. A scale of 0 gives the exact number ``0.0``.

    Returns
    -------
    uncertain number or float
        A variable of value 0 tagged with its :class:`Source`.

    Raises
    ------
    ModelError
        If the scale is negative or not finite, or the degrees of freedom are below 1.

    Examples
    --------
    >>> e = error_source("reading", kind="rounding", shape=Shape.RECTANGULAR, scale=0.05)
    >>> mass_g = 2.3 + e
    >>> round(standard_uncertainty(mass_g), 4)
    0.0289
    """
    return uncertain_value(
        0.0, label, kind=kind, shape=shape, scale=scale, dof=dof, reading=reading, vessel=vessel
    )


def uncertain_value(
    value: float,
    label: str,
    *,
    kind: str,
    shape: Shape,
    scale: float,
    dof: float = math.inf,
    reading: str = "",
    vessel: str = "",
) -> Number:
    """Create a quantity with one elementary source of error; see :func:`error_source`.

    >>> x = uncertain_value(100.0, "flask", kind="tolerance", shape=Shape.TRIANGULAR, scale=0.1)
    >>> round(standard_uncertainty(x), 3)
    0.041
    """
    return as_drawn(
        lasting_value(
            value,
            label,
            kind=kind,
            shape=shape,
            scale=scale,
            dof=dof,
            reading=reading,
            vessel=vessel,
        )
    )


def lasting_value(
    value: float,
    label: str,
    *,
    kind: str,
    shape: Shape,
    scale: float,
    dof: float = math.inf,
    reading: str = "",
    vessel: str = "",
) -> Number:
    """Create a quantity that is kept between calculations; pass it through :func:`as_drawn`.

    Parameters and errors are those of :func:`error_source`.
    """
    floats = type(value) is type(scale) is type(dof) is float
    if not (floats and -math.inf < value < math.inf and 0 <= scale < math.inf and dof >= 1):
        whose = f"“{label}”"  # every lab makes dozens of sources: look closer only here
        value, scale = (
            entry.number("value", value, of=whose),
            entry.number("scale", scale, least=0, of=whose),
        )
        dof = entry.number("dof", dof, least=1, infinite=True, of=whose)
    if not type(label) is type(kind) is type(reading) is type(vessel) is str:
        words = {"label": label, "kind": kind, "reading": reading, "vessel": vessel}
        for name, word in words.items():
            entry.text(name, word)
    if scale == 0:
        return value
    if type(shape) is not Shape:
        shape = Shape(entry.choice("shape", shape, _SHAPES))
    source = Source(label, kind, shape, scale, dof, reading, vessel)
    return ufloat(value, source.standard_uncertainty, tag=source)


_simulation: ContextVar[Callable[[Source], Any] | None] = ContextVar("_simulation", default=None)


@contextmanager
def simulated(draw: Callable[[Source], Any]) -> Iterator[None]:
    """Within this block, new sources are replaced by drawn errors: ``value + draw(source)``.

    The same calculation then runs on arrays of simulated readings instead of uncertain numbers.

    Parameters
    ----------
    draw : callable
        Returns the array of errors of a source; called at most once per source.

    Examples
    --------
    >>> with simulated(lambda source: 0.25):
    ...     error_source("e", kind="other", shape=Shape.NORMAL, scale=1.0) + 2.0
    2.25
    """
    drawn: dict[int, tuple[Source, Any]] = {}

    def once(source: Source) -> Any:
        if id(source) not in drawn:  # the source is kept too, so that its id stays its own
            drawn[id(source)] = (source, draw(source))
        return drawn[id(source)][1]

    token = _simulation.set(once)
    try:
        yield
    finally:
        _simulation.reset(token)


def as_drawn(value: Number) -> Number:
    """Return an elementary variable as it is, or its drawn values within :func:`simulated`.

    Variables kept between calculations (atomic weights) are passed through this on each use.
    """
    draw = _simulation.get()
    if draw is None or not isinstance(value, Variable):
        return value
    return value.nominal_value + draw(value.tag)


def nominal(value: Number) -> float:
    """Return the estimate of an uncertain or exact number as a float.

    >>> nominal(3)
    3.0
    """
    if isinstance(value, AffineScalarFunc):
        return float(value.nominal_value)
    if isinstance(value, float):
        return float(value)
    if getattr(value, "ndim", 0):
        return float(entry.array("value", value, ndim=(1,)).mean())  # simulated readings
    return entry.number("value", value)


def standard_uncertainty(value: Number) -> float:
    """Return the first-order standard uncertainty, 0 for an exact number.

    >>> standard_uncertainty(3)
    0.0
    """
    if isinstance(value, AffineScalarFunc):
        return float(value.std_dev)
    nominal(value)
    return 0.0


@dataclass(frozen=True, slots=True)
class Contribution:
    """One line of an uncertainty budget.

    Attributes
    ----------
    source : Source
        The error source.
    coefficient : float
        Sensitivity coefficient: change of the result per unit change of the source.
    uncertainty : float
        |coefficient| × standard uncertainty of the source, in the unit of the result.
    share : float
        Part of the variance of the result, 0 to 1.
    """

    source: Source
    coefficient: float
    uncertainty: float
    share: float

    @property
    def label(self) -> str:
        """Label of the source."""
        return self.source.label


def contributions(value: Number) -> tuple[tuple[Source, float], ...]:
    """Split a result into (source, sensitivity coefficient), in order of creation of the result.

    Parameters
    ----------
    value : uncertain number or float

    Raises
    ------
    ModelError
        If the result depends on a variable that was not made by this module.

    Examples
    --------
    >>> e = error_source("display", kind="rounding", shape=Shape.RECTANGULAR, scale=0.05)
    >>> [(s.label, c) for s, c in contributions(2 * (1.0 + e))]
    [('display', 2.0)]
    """
    if not isinstance(value, AffineScalarFunc):
        nominal(value)
        return ()
    parts = []
    for variable, coefficient in value.derivatives.items():
        source = variable.tag
        if not isinstance(source, Source):
            raise ModelError(
                "A number with an unlabelled uncertainty was used.",
                given=variable,
                fix="Make it with uncertain_value(), which records its shape.",
            )
        if coefficient:
            parts.append((source, float(coefficient)))
    return tuple(parts)


def budget(value: Number) -> tuple[Contribution, ...]:
    """Return the uncertainty budget of a result, largest contribution first.

    >>> a = error_source("a", kind="rounding", shape=Shape.NORMAL, scale=3.0)
    >>> b = error_source("b", kind="rounding", shape=Shape.NORMAL, scale=4.0)
    >>> [(line.label, round(line.share, 2)) for line in budget(a + b)]
    [('b', 0.64), ('a', 0.36)]
    """
    return budget_of(contributions(value))


def budget_of(parts: Iterable[tuple[Source, float]]) -> tuple[Contribution, ...]:
    """Return the budget lines of (source, coefficient) pairs, largest first."""
    sized = [(s, c, abs(c) * s.standard_uncertainty) for s, c in parts]
    largest = max((u for _, _, u in sized), default=0.0)
    if largest == 0:
        return ()
    total = math.fsum((u / largest) ** 2 for _, _, u in sized)
    lines = [Contribution(s, c, u, (u / largest) ** 2 / total) for s, c, u in sized if u > 0]
    return tuple(sorted(lines, key=lambda line: -line.uncertainty))


def format_number(value: Number, *, digits: int = 2, unit: str = "") -> str:
    """Write a number as ``estimate ± standard uncertainty`` with matching decimals.

    Parameters
    ----------
    value : uncertain number or float
    digits : int
        Significant digits of the uncertainty.
    unit : str
        Appended after a space.

    Examples
    --------
    >>> x = uncertain_value(0.02766, "n", kind="other", shape=Shape.NORMAL, scale=0.00031)
    >>> format_number(x, unit="mol")
    '0.02766 ± 0.00031 mol'
    >>> format_number(4)
    '4'
    """
    digits, unit = entry.whole("digits", digits, least=1, most=15), entry.text("unit", unit)
    u = standard_uncertainty(value)
    if u == 0:
        text = f"{nominal(value):.6g}"
    else:
        estimate = nominal(value)
        exponent = math.floor(math.log10(u))
        decimals = digits - 1 - exponent
        if round(u, decimals) >= 10 ** (exponent + 1):
            decimals -= 1
        if decimals >= 0 and decimals <= 12:
            text = f"{estimate:.{decimals}f} ± {u:.{decimals}f}"
        else:
            power = math.floor(math.log10(max(abs(estimate), u)))
            places = max(decimals + power, 0)
            factor = 10.0**power
            text = f"({estimate / factor:.{places}f} ± {u / factor:.{places}f})e{power:+d}"
    return f"{text} {unit}" if unit else text


def is_uncertain(value: Number) -> bool:
    """Return whether the number carries an uncertainty, as 1.0 does not."""
    return isinstance(value, AffineScalarFunc)


if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats: TypeAlias = NDArray[np.float64]
else:  # formulas, readings and records need no NumPy
    Floats = Any
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
    import numpy as np

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
    import numpy as np

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
