"""Exact tail probability of a sum of display readings, at the worst position between two digits.

Readings are whole display steps. For readings of one vessel, whose own mass lies anywhere between
two steps, the probability of each pattern of digits equals the continuous density of the rounding
and repeatability errors, sampled on the grid of steps; the amount weighed decides where the grid
lies. Averaged over that position the continuous distribution is exact, but at one fixed amount it
is not. The tail probability used here is the largest over the position of the amounts, so a true
candidate is excluded at most as often as stated at every amount.

Over several trials the position is taken equal in all of them. For digits alone that is the least
favourable case (W. Hoeffding, Ann. Math. Statist. 27 (1956) 713-721: among sums of independent
two-valued variables of given mean, the binomial spreads the most); with repeatability it was
searched numerically (``tests/test_digits.py``).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .digit_sums import tails_one_by_one, tails_together, triple_tails
from .digit_tables import DIFFERENCE, SINGLE, TRIPLE, Axis, axis_table, joint_table
from .distribution import SumDistribution
from .shapes import BOUNDED, Floats, Term
from .uncertain import Shape

__all__ = [
    "DIFFERENCE",
    "SINGLE",
    "TRIPLE",
    "DigitBlock",
    "split_narrow",
    "worst_position_tail",
    "worst_position_tails",
]

_GRAINS, _GRAINS_IN_SPREAD = 256, 128
"""Values are rounded towards zero to this part of the smallest display step, or of the standard
uncertainty if that is larger, so that labs share tails."""
_WASHED = 1e-3
_FAR = 9.0
_WIDE = 20.0


@dataclass(frozen=True, slots=True)
class DigitBlock:
    """Readings that share one position between two display steps, repeated over equal trials.

    Attributes
    ----------
    kind : str
        ``"single"``: one reading; ``"difference"``: two readings of one vessel with opposite
        coefficients; ``"triple"``: three readings of one vessel whose coefficients add to zero.
    steps : tuple of float
        Change of the result per display step of each independent difference (one value; two for
        a triple), in the unit of the result; greater than 0.
    noise : tuple of float
        Repeatability of each reading in display steps (the shared reading of a triple last).
    count : int
        Number of trials whose readings add up.
    """

    kind: str
    steps: tuple[float, ...]
    noise: tuple[float, ...]
    count: int

    @property
    def coefficients(self) -> tuple[float, ...]:
        """Change of the result per display step of each reading, in size."""
        if self.kind == TRIPLE:
            a, b = self.steps
            return (a, b, a + b)
        return self.steps * len(self.noise)

    @property
    def variance(self) -> float:
        """Variance of the block's error averaged over positions."""
        pairs = zip(self.coefficients, self.noise, strict=True)
        return self.count * math.fsum(c * c * (1 / 12 + s * s) for c, s in pairs)

    @property
    def reach(self) -> float:
        """A size that the block's error never has, or with a chance below 1e-18."""
        pairs = zip(self.coefficients, self.noise, strict=True)
        noise = _FAR * math.sqrt(self.count) * math.hypot(*(c * s for c, s in pairs))
        return noise + 1.5 * self.count * sum(self.coefficients)

    def terms(self) -> tuple[Term, ...]:
        """Return the continuous terms of this block: its error averaged over positions."""
        out = []
        for c, s in zip(self.coefficients, self.noise, strict=True):
            out += [Term(Shape.RECTANGULAR, c / 2)] * self.count
            if s:
                out.append(Term(Shape.NORMAL, c * s * math.sqrt(self.count)))
        return tuple(out)


_NOTHING = Axis(
    np.zeros(1), np.zeros(1), np.ones((1, 1)), np.array([[1.0, 0.0]]), np.array([[0.0, 1.0]]), True
)


def worst_position_tail(x: float, blocks: Sequence[DigitBlock], rest: Sequence[Term]) -> float:
    """Return P(|error| ≥ |x|), the largest over the positions of the amounts between two digits.

    Parameters
    ----------
    x : float
        Observed value of the sum, in the unit of the result.
    blocks : sequence of DigitBlock
        The display readings. The coarsest triple, or else the two coarsest other blocks, are
        taken at their worst position; finer ones at the average over positions.
    rest : sequence of Term
        Every other, continuous source.

    Returns
    -------
    float
        A probability, 0 to 1, rounded towards 1 by at most a small part of a display step.

    Examples
    --------
    Two vessels on a 0.1 g display without scatter: averaged over positions the chance of being
    off by 0.15 g or more is 0.005, at the worst position sixteen times as much.

    >>> pair = [DigitBlock("difference", (0.1,), (0.0, 0.0), 1)] * 2
    >>> round(worst_position_tail(0.15, pair, []), 3)
    0.085
    >>> all_terms = pair[0].terms() + pair[1].terms()
    >>> round(SumDistribution(all_terms).two_sided(0.15), 4)
    0.0052
    """
    if not blocks:
        return SumDistribution(rest).two_sided(x)
    wide, narrow = split_narrow(rest, blocks)
    return float(worst_position_tails(np.array([x]), blocks, wide, np.array([narrow]))[0])


def split_narrow(rest: Sequence[Term], blocks: Sequence[DigitBlock]) -> tuple[list[Term], float]:
    """Set apart the terms too small to matter beside a display step, and return their reach.

    Their reach (half-widths; five standard deviations of a normal) adds up to no more than
    1/32 of the smallest step; it is allowed for by testing a value that much smaller. The scale of
    the others is rounded up by at most 4.4 %, so that labs which differ little share one table.
    """
    limit = min(min(b.steps) for b in blocks) / 32
    wide, narrow = [], 0.0
    for term in sorted(rest, key=reach_of):
        if narrow + reach_of(term) <= limit:
            narrow += reach_of(term)
        else:
            wide.append(Term(term.shape, rounded_up(term.scale), term.dof))
    return wide, narrow


def rounded_up(scale: float) -> float:
    """Round a positive size up to the next of 16 equal ratios within a factor of two.

    >>> rounded_up(1.0), rounded_up(1.001) < 1.045
    (1.0, True)
    """
    return float(2.0 ** (math.ceil(16 * math.log2(scale) - 1e-9) / 16))


def reach_of(term: Term) -> float:
    """Return how far a term reaches: its half-width, or five standard deviations; never for t."""
    if term.shape is Shape.STUDENT_T:
        return math.inf
    return term.scale if term.shape in BOUNDED else 5.0 * term.scale


def worst_position_tails(
    x: Floats, blocks: Sequence[DigitBlock], rest: Sequence[Term], narrow: Floats
) -> Floats:
    """Return :func:`worst_position_tail` for many values that share blocks and wide terms.

    Parameters
    ----------
    x : ndarray, shape (n,)
        Observed values.
    blocks : sequence of DigitBlock
        At least one.
    rest : sequence of Term
        Continuous terms other than those in ``narrow``.
    narrow : ndarray, shape (n,)
        Reach of the terms too small to matter beside a display step (:func:`split_narrow`).
    """
    x = np.maximum(np.abs(x) - narrow, 0.0)
    other = SumDistribution(rest)
    spread = math.sqrt(math.fsum([b.variance for b in blocks] + [other.spread**2]))
    grain = max(min(min(b.steps) for b in blocks) / _GRAINS, spread / _GRAINS_IN_SPREAD)
    # beyond this nothing is left; smaller values only have larger tails
    beyond = sum(b.reach for b in blocks) + sum(_FAR / 5.0 * reach_of(t) for t in other.terms)
    out = np.zeros(x.shape)
    near = np.flatnonzero(x <= beyond)
    if near.size:
        level = np.floor(x[near] / grain).astype(np.intp)
        levels, where = distinct(level)
        out[near] = _tails(levels, grain, spread, blocks, rest)[where]
    return out


def distinct(level: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the rising distinct values of whole numbers, and where each stands among them."""
    if level.size == 1 or level.max() > 50 * level.size:
        return np.unique(level, return_inverse=True)
    present = np.zeros(level.max() + 1, dtype=np.bool_)
    present[level] = True
    return np.flatnonzero(present), present.cumsum()[level] - 1


def _tails(
    level: NDArray[np.intp],
    grain: float,
    spread: float,
    blocks: Sequence[DigitBlock],
    rest: Sequence[Term],
) -> Floats:
    """Return the tails at rising multiples, 0 or more, of a grain."""
    x = np.asarray(level * grain, dtype=np.float64)
    lattice, smooth = _chosen(blocks, rest)
    other = SumDistribution(smooth)
    if not lattice:
        return np.minimum(2.0 * other.cdf(-x), 1.0)
    smallest = min(min(b.steps) for b in lattice)
    shifts, weights, cell = _cells(other, max(smallest / 8, spread / 40))
    if lattice[0].kind == TRIPLE:
        a, b, shared = lattice[0].noise
        table = joint_table((a, b, shared), lattice[0].count)
        step_a, step_b = lattice[0].steps
        return triple_tails(x - cell, table, (step_a, step_b), shifts, weights)
    axes = [axis_table(b.kind, b.noise, b.count) for b in lattice]
    steps = [b.steps[0] for b in lattice]
    if len(axes) == 1:
        axes.append(_NOTHING)
        steps.append(1.0)
    if all(axis.mirrored for axis in axes):
        axes[0] = axes[0].half()  # the other half is the same with the signs changed
    limit = x - cell
    furthest = abs(shifts).max() + sum(
        c * max(abs(a.low[-1]), abs(a.high[0] + a.p.shape[1] - 1))
        for c, a in zip(steps, axes, strict=True)
    )
    out = np.where(limit > furthest, 0.0, 1.0)  # beyond every pattern of digits kept
    live = np.flatnonzero((limit > 0) & (limit <= furthest))
    if live.size:
        given = (axes[0], axes[1], steps, shifts, weights)
        if live.size <= axes[1].p.shape[1]:
            out[live] = tails_one_by_one(limit[live], *given)
        else:
            out[live] = tails_together(level[live], grain, cell, *given)
    return np.minimum(out, 1.0)


def _chosen(
    blocks: Sequence[DigitBlock], rest: Sequence[Term]
) -> tuple[list[DigitBlock], list[Term]]:
    """Split the blocks into those taken at the worst position and terms taken at the average."""
    ordered = sorted(blocks, key=lambda b: -max(b.steps))
    if ordered and ordered[0].kind == TRIPLE:
        lattice = ordered[:1]
    else:
        lattice = [b for b in ordered if b.kind != TRIPLE][:2]
    left = list(lattice)
    smooth = list(rest)
    for b in ordered:
        if b in left:
            left.remove(b)
        else:
            smooth.extend(b.terms())
    changed = True
    while changed and lattice:
        changed = False
        other = SumDistribution(smooth)
        for b in list(lattice):
            washed = np.abs(other.characteristic_function(2 * math.pi / np.asarray(b.steps)))
            if washed.max() < _WASHED or min(b.noise) > _WIDE:
                lattice.remove(b)
                smooth.extend(b.terms())
                changed = True
                break
    return lattice, smooth


def _cells(other: SumDistribution, size: float) -> tuple[Floats, Floats, float]:
    """Cut the continuous rest into cells: centres, probabilities and half a cell's width."""
    if not other.terms:
        return np.zeros(1), np.ones(1), 0.0
    width = other.spread if math.isinf(other.variance) else other.standard_deviation
    reach = min(other.bound, 5.0 * width)
    count = min(max(3, math.ceil(2 * reach / size)), 65)
    edges = np.linspace(-reach, reach, count + 1)
    cumulative = SumDistribution(other.terms, tolerance=1e-6).cdf(edges)
    cumulative[0], cumulative[-1] = 0.0, 1.0
    return 0.5 * (edges[1:] + edges[:-1]), np.diff(cumulative), reach / count
