"""Propagation of distributions by Monte Carlo (JCGM 101:2008), with the clause 8 comparison."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from ..errors import ModelError
from . import entry
from .distribution import distribution_of
from .sources import Floats, Shape, Source, nominal, simulated, standard_uncertainty


@dataclass(frozen=True, eq=False)
class MonteCarlo:
    """Result of a Monte Carlo propagation.

    Attributes
    ----------
    estimate, standard_uncertainty : float
        Mean and standard deviation of the output, in its unit.
    shortest, symmetric : tuple of float
        Shortest and probabilistically symmetric coverage intervals.
    coverage : float
        Coverage probability of the intervals.
    trials : int
        Number of trials made.
    tolerance : float
        Numerical tolerance asked for (JCGM 101:2008 7.9.2); 0 when a fixed number was asked for.
    settled : bool
        Whether the tolerance was reached by the mean, the standard deviation and the ends of both
        intervals (true when a fixed number of trials was asked for).
    """

    estimate: float
    standard_uncertainty: float
    shortest: tuple[float, float]
    symmetric: tuple[float, float]
    coverage: float
    trials: int
    tolerance: float
    settled: bool
    _values: Floats = field(repr=False)

    @cached_property
    def samples(self) -> Floats:
        """Sorted output values, shape (trials,)."""
        return np.sort(self._values)


@dataclass(frozen=True, slots=True)
class Comparison:
    """First order against Monte Carlo (JCGM 101:2008 clause 8).

    Attributes
    ----------
    first_order : tuple of float
        Interval ``estimate ± k u`` of the first-order calculation.
    monte_carlo : tuple of float
        Probabilistically symmetric Monte Carlo interval.
    tolerance : float
        Half a unit in the last of the significant digits stated of the standard uncertainty.
    agrees : bool
        Whether both ends differ by no more than the tolerance.
    """

    first_order: tuple[float, float]
    monte_carlo: tuple[float, float]
    tolerance: float
    agrees: bool


_PART = 20_000
"""Trials drawn at a time: their arrays stay in the processor's cache."""
_EVERY = 100
"""One of so many results is looked at to guess where the tails end."""
_MOST_TRIALS = 100_000_000
_LARGEST = 1e150
"""Largest size of a result whose variance can be calculated."""


class FewDraws:
    """Some hundred random numbers without ``numpy.random``, which takes longer to load.

    Evenly spread ones are of Python's own generator. The others are made of two of them, a distance
    and a direction: G. E. P. Box and M. E. Muller, Ann. Math. Stat. 29 (1958) 610-611; for Student
    t R. W. Bailey, Math. Comput. 62 (1994) 779-781 (both from memory).

    >>> FewDraws(1).standard_t(5, 3).round(2)
    array([ 1.04,  0.15, -0.36])
    """

    def __init__(self, seed: int) -> None:
        self._bits = random.Random(seed)

    def random(self, size: int) -> Floats:
        """Draw evenly from 0 to 1, shape (size,)."""
        whole = np.frombuffer(self._bits.randbytes(8 * size), "<u8") >> np.uint64(11)
        return np.asarray(whole * 2.0**-53)

    def standard_normal(self, size: int) -> Floats:
        """Draw of the normal shape of standard deviation 1, shape (size,)."""
        return self._directed(np.sqrt(-2 * np.log1p(-self.random(size))))

    def standard_t(self, dof: float, size: int) -> Floats:
        """Draw of Student t, shape (size,)."""
        return self._directed(np.sqrt(dof * np.expm1(-2 / dof * np.log1p(-self.random(size)))))

    def _directed(self, distance: Floats) -> Floats:
        return np.asarray(distance * np.cos(2 * math.pi * self.random(distance.size)))


def draw(source: Source, rng: np.random.Generator | FewDraws, size: int) -> Floats:
    """Draw errors of one source, shape (size,), in the unit of its quantity.

    >>> s = Source("e", "other", Shape.RECTANGULAR, 1.0)
    >>> bool(np.abs(draw(s, np.random.default_rng(1), 1000)).max() <= 1)
    True
    """
    scale = source.scale
    if source.shape is Shape.RECTANGULAR:
        return _even(rng, scale, size)
    if source.shape is Shape.TRIANGULAR:
        return _even(rng, scale / 2, size) + _even(rng, scale / 2, size)
    if source.shape is Shape.ARCSINE:
        return np.asarray(scale * np.sin(_even(rng, math.pi / 2, size)))
    if source.shape is Shape.NORMAL or not math.isfinite(source.dof):
        errors = rng.standard_normal(size)
        errors *= scale
        return errors
    return np.asarray(scale * rng.standard_t(source.dof, size))


def _even(rng: np.random.Generator | FewDraws, half_width: float, size: int) -> Floats:
    """Draw errors evenly spread over plus or minus a half-width."""
    errors = rng.random(size)
    errors -= 0.5
    errors *= 2 * half_width
    return errors


_WIDER, _SMOOTHED = 1.03, 200
_SURE = np.array([2.0, 2.0, 2.0, 2.0, 2.6, 2.6])
"""Standard deviations of the averages that the tolerance must hold: 2 by JCGM 101:2008 7.9.4;
more for the two ends of the shortest interval, which are chosen and not only counted."""


def tolerance_of(uncertainty: float, digits: int = 2) -> float:
    """Return the numerical tolerance of a standard uncertainty (JCGM 101:2008 7.9.2).

    >>> tolerance_of(0.054, 2)
    0.0005
    """
    if uncertainty <= 0:
        return 0.0
    exponent = math.floor(math.log10(uncertainty)) - (digits - 1)
    return 0.5 * 10.0**exponent


def shortest_interval(ordered: Floats, coverage: float) -> tuple[float, float]:
    """Return the shortest interval holding the given part of sorted samples.

    Which of the intervals is shortest hangs on few samples, so that its ends would settle only as
    the cube root of their number. With many samples the widths near the least are therefore
    smoothed (a cubic over those up to 3 % wider): the ends then settle as means do, and lie off
    by less than 0.003 standard uncertainties.

    >>> shortest_interval(np.array([0.0, 1.0, 1.1, 1.2, 5.0]), 0.6)
    (1.0, 1.2)
    """
    count = ordered.size
    inside = _inside(count, coverage)
    widths = ordered[inside - 1 :] - ordered[: count - inside + 1]
    first = int(np.argmin(widths))
    near = np.flatnonzero(widths <= _WIDER * widths[first])
    if near.size >= _SMOOTHED and widths[first] > 0:
        start, end = int(near[0]), int(near[-1])
        t = np.linspace(-1, 1, _SMOOTHED)
        place = start + (0.5 * (end - start) * (t + 1)).astype(np.intp)
        fit = np.polynomial.polynomial.polyfit(t, widths[place], 3)
        fine = np.linspace(-1, 1, 10 * _SMOOTHED + 1)
        least = fine[int(np.argmin(np.polynomial.polynomial.polyval(fine, fit)))]
        first = start + round(0.5 * (end - start) * (least + 1))
    return float(ordered[first]), float(ordered[first + inside - 1])


def _inside(count: int, coverage: float) -> int:
    """Return how many of sorted samples the shortest interval holds."""
    return min(max(round(coverage * count), 1), count)


def symmetric_interval(ordered: Floats, coverage: float) -> tuple[float, float]:
    """Return the interval that leaves the same part of sorted samples on each side."""
    low, high = (
        _between(ordered, q * (ordered.size - 1)) for q in ((1 - coverage) / 2, (1 + coverage) / 2)
    )
    return low, high


def _between(ordered: Floats, position: float) -> float:
    """Return the value at a position among sorted samples, linear between two."""
    low = min(math.floor(position), ordered.size - 1)
    high = min(low + 1, ordered.size - 1)
    return float(ordered[low] + (position - low) * (ordered[high] - ordered[low]))


def monte_carlo(
    sample: Callable[[np.random.Generator, int], Any],
    *,
    coverage: float = 0.95,
    trials: int | None = None,
    digits: int = 2,
    seed: int = 20_080_101,
    block: int = 20_000,
    most: int = 4_000_000,
) -> MonteCarlo:
    """Propagate distributions by sampling, until the result has settled.

    Parameters
    ----------
    sample : callable
        ``sample(rng, size)`` returns an array of shape (size,) of simulated output values.
    coverage : float
        Coverage probability, between 0 and 1.
    trials : int, optional
        A fixed number of trials; by default blocks are added until twice the standard deviation
        of the averages over blocks is below the tolerance (the adaptive procedure of JCGM
        101:2008 7.9), at most ``most`` trials.
    digits : int
        Significant digits of the standard uncertainty that must have settled.
    seed : int
        Seed of the random numbers: the same seed gives the same result.
    block, most : int
        Trials added at a time, and the most that are made.

    Raises
    ------
    ModelError
        If the coverage or the number of trials cannot be used, or an output is not finite.

    Examples
    --------
    >>> result = monte_carlo(lambda rng, n: rng.normal(0, 1, n), trials=100_000)
    >>> [round(v, 1) for v in result.symmetric]
    [-2.0, 2.0]
    """
    entry.function("sample", sample, "sample(rng, size), which returns an array of that size")
    coverage = entry.number("coverage", coverage, above=0, below=1)
    digits = entry.whole("digits", digits, least=1, most=15)
    seed = entry.whole("seed", seed, least=0)
    block = entry.whole("block", block, least=2, most=_MOST_TRIALS)
    most = entry.whole("most", most, least=1, most=_MOST_TRIALS)
    trials = None if trials is None else entry.whole("trials", trials, least=100, most=_MOST_TRIALS)
    rng = np.random.default_rng(np.random.SFC64(seed))
    if trials is not None:
        values = np.empty(trials)
        for start in range(0, trials, _PART):
            here = values[start : start + _PART]
            here[:] = _checked(sample(rng, here.size), here.size)
        return _summary(values, coverage, 0.0, True)
    blocks: list[Floats] = []
    figures: list[list[float]] = []
    settled = False
    tolerance = 0.0
    while not settled and sum(b.size for b in blocks) < most:
        values = _checked(sample(rng, block), block)
        blocks.append(values)
        ordered = np.sort(values)
        figures.append(
            [
                float(values.mean()),
                float(values.std(ddof=1)),
                *symmetric_interval(ordered, coverage),
                *shortest_interval(ordered, coverage),
            ]
        )
        if len(blocks) >= 3:
            table = np.asarray(figures)
            tolerance = tolerance_of(float(table[:, 1].mean()), digits)
            spread = _SURE * table.std(axis=0, ddof=1) / math.sqrt(len(blocks))
            settled = bool((spread <= tolerance).all())
    return _summary(np.concatenate(blocks), coverage, tolerance, settled)


def _checked(values: Any, size: int) -> Floats:
    out = _floats("what `sample` returns", values)
    if out.shape != (size,):
        raise ModelError(
            "What `sample` returns has the wrong shape.", given=out.shape, allowed=f"({size},)"
        )
    largest = max(float(out.max()), -float(out.min()))
    if not math.isfinite(largest):
        raise ModelError(
            "A simulated result is not a finite number, so no interval can be given.",
            fix="The quantity divided by is not told apart from zero; use the ratio set instead.",
        )
    if largest > _LARGEST:
        raise ModelError(
            "A simulated result is too large to be squared.",
            given=largest,
            allowed=f"up to {_LARGEST:g}",
            fix="Use a larger unit.",
        )
    return out


def _floats(name: str, values: Any) -> Floats:
    """Return simulated results as floats, not looking at each where they are that already."""
    if type(values) is np.ndarray and values.dtype == np.float64:
        return values
    return entry.array(name, values, infinite=True)


def _summary(values: Floats, coverage: float, tolerance: float, settled: bool) -> MonteCarlo:
    ordered = _ordered_tails(values, coverage)
    return MonteCarlo(
        estimate=float(values.mean()),
        standard_uncertainty=float(values.std(ddof=1)),
        shortest=shortest_interval(ordered, coverage),
        symmetric=symmetric_interval(ordered, coverage),
        coverage=coverage,
        trials=values.size,
        tolerance=tolerance,
        settled=settled,
        _values=values,
    )


def _ordered_tails(values: Floats, coverage: float) -> Floats:
    """Return the values with both tails sorted; no interval that holds the coverage ends between.

    What lies between is nan: sorting only the ends is several times quicker.
    """
    left_out = values.size - _inside(values.size, coverage) + 2
    if 4 * left_out > values.size or values.size < 1000 * _EVERY:
        return np.sort(values)
    some = np.sort(values[::_EVERY])  # tells about where the tails end
    more = round(1.2 * left_out / _EVERY) + 10
    low, high = values[values <= some[more]], values[values >= some[-more - 1]]
    if min(low.size, high.size) < left_out or low.size + high.size > values.size:
        return np.sort(values)
    ordered = np.full(values.size, np.nan)
    ordered[: low.size], ordered[-high.size :] = np.sort(low), np.sort(high)
    return ordered


def propagate(calculation: Callable[[], Any], **options: Any) -> MonteCarlo:
    """Rerun a calculation on simulated errors of all its sources.

    Parameters
    ----------
    calculation : callable
        Takes nothing and returns the result, creating its error sources anew on each call.
    **options
        Passed to :func:`monte_carlo`.

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import error_source
    >>> def area():
    ...     side = 2.0 + error_source("side", kind="other", shape=Shape.NORMAL, scale=0.1)
    ...     return side * side
    >>> round(propagate(area, trials=200_000).estimate, 2)
    4.01
    """

    entry.function("calculation", calculation, "calculation(), which returns a number")

    def sample(rng: np.random.Generator, size: int) -> Any:
        with simulated(lambda source: draw(source, rng, size)):
            found = _floats("what `calculation` returns", calculation())
            return found if found.ndim else np.full(size, found)

    return monte_carlo(sample, **options)


def compare_first_order(value: Any, result: MonteCarlo, *, digits: int = 2) -> Comparison:
    """Compare a first-order result with Monte Carlo as JCGM 101:2008 clause 8 does.

    Parameters
    ----------
    value : uncertain number
        First-order result.
    result : MonteCarlo
    digits : int
        Significant digits of the standard uncertainty regarded as meaningful.

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import uncertain_value
    >>> x = uncertain_value(1.0, "x", kind="other", shape=Shape.NORMAL, scale=0.5)
    >>> r = monte_carlo(lambda rng, n: rng.normal(1.0, 0.5, n), trials=400_000)
    >>> compare_first_order(x, r, digits=1).agrees
    True
    """
    entry.record("result", result, MonteCarlo)
    digits = entry.whole("digits", digits, least=1, most=15)
    estimate = nominal(value)
    half = distribution_of(value).half_width(result.coverage)
    first = (estimate - half, estimate + half)
    tolerance = tolerance_of(standard_uncertainty(value), digits)
    agrees = all(abs(a - b) <= tolerance for a, b in zip(first, result.symmetric, strict=True))
    return Comparison(first, result.symmetric, tolerance, agrees)
