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
from functools import lru_cache

import numpy as np

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

SINGLE = "single"
DIFFERENCE = "difference"
TRIPLE = "triple"

_GRID = 24
"""Cells of positions between two display steps, for one trial."""
_GRID_SEVERAL = 12
"""The same for several trials, of the position of their total."""
_REACH = 6.5
_WASHED = 1e-3
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

    def terms(self) -> tuple[Term, ...]:
        """Return the continuous terms of this block: its error averaged over positions."""
        if self.kind == TRIPLE:
            a, b = self.steps
            coefficients: tuple[float, ...] = (a, b, a + b)
        else:
            coefficients = self.steps * len(self.noise)
        out = []
        for c, s in zip(coefficients, self.noise, strict=True):
            out += [Term(Shape.RECTANGULAR, c / 2)] * self.count
            if s:
                out.append(Term(Shape.NORMAL, c * s * math.sqrt(self.count)))
        return tuple(out)


def _hump(y: Floats, order: int, noise: float) -> Floats:
    """Return the density of ``order`` rectangular errors of one step plus normal noise (steps)."""
    if noise < 1e-6:
        if order == 1:
            # a reading exactly half-way is rounded up
            return np.asarray(((y > -0.5) & (y <= 0.5)).astype(np.float64))
        return np.maximum(1.0 - np.abs(y), 0.0)
    from scipy.special import ndtr

    if order == 1:
        return np.asarray(ndtr((y + 0.5) / noise) - ndtr((y - 0.5) / noise))

    def rise(v: Floats) -> Floats:
        z = -np.abs(v) / noise  # v + noise × (…) for v > 0, without cancellation far out
        small = noise * (z * ndtr(z) + np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi))
        return np.asarray(small)

    corner = np.maximum(1.0 - np.abs(y), 0.0)
    return np.maximum(rise(y + 1) - 2 * rise(y) + rise(y - 1) + corner, 0.0)


def _edges(kind: str, smallest_noise: float, count: int) -> Floats:
    """Return the edges of the cells of positions that are searched, in display steps."""
    grid = _GRID if count == 1 else _GRID_SEVERAL
    every = kind == SINGLE or smallest_noise < 0.12
    if count == 1 or (every and count <= 12):
        total = np.arange(count * grid + 1) / grid
    elif kind == SINGLE:
        total = np.linspace(0.0, count, 97)
    else:  # the widest shapes lie about one half; every total occurs once within one step
        total = count / 2 - 0.5 + np.arange(grid + 1) / grid
    return np.asarray(total / count, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Axis:
    """Digit probabilities of a total over each cell of positions, never too small.

    ``high[g] + l`` and ``low[g] + l`` are the largest and smallest error of pattern l in cell g,
    in steps; ``p[g, l]`` is the larger of its probabilities at both edges of the cell;
    ``upper`` and ``lower`` are its sums from l on, and below l.
    """

    high: Floats
    low: Floats
    p: Floats
    upper: Floats
    lower: Floats


def _celled(p: Floats) -> Floats:
    """Return the larger of the probabilities at both edges of each cell (first axis)."""
    return np.maximum(p[:-1], p[1:])


@lru_cache(maxsize=256)
def _axis(kind: str, noise: tuple[float, ...], count: int) -> _Axis:
    order = len(noise)
    sd = math.sqrt(math.fsum(s * s for s in noise))
    edges = _edges(kind, min(noise), count)
    reach = order / 2 + _REACH * sd
    low = math.floor(-reach)
    j = np.arange(low, math.ceil(reach) + 2, dtype=np.float64)
    p = _hump(j[None, :] - edges[:, None], order, sd)
    if count > 1:
        size = count * (j.size - 1) + 1
        spectrum = np.fft.rfft(p, n=size, axis=1) ** count
        p = np.maximum(np.fft.irfft(spectrum, n=size, axis=1), 0.0)
        p[p < 1e-15] = 0.0
    p = _celled(p)
    used = np.flatnonzero(p.max(axis=0) > 1e-13)
    p = p[:, used[0] : used[-1] + 1]
    start = count * (low - edges) + used[0]
    upper = np.zeros((p.shape[0], p.shape[1] + 1))
    upper[:, :-1] = np.cumsum(p[:, ::-1], axis=1)[:, ::-1]
    lower = np.zeros_like(upper)
    lower[:, 1:] = np.cumsum(p, axis=1)
    return _Axis(start[:-1], start[1:], p, upper, lower)


@lru_cache(maxsize=64)
def _joint(noise: tuple[float, float, float], count: int) -> tuple[Floats, Floats, Floats]:
    """Return starts of both axes at the edges and joint p[g, h, l, m] for three readings."""
    where = _edges(TRIPLE, min(noise), count)
    a, b, shared = noise
    # midpoints on a grid that the sharp edges of noiseless readings fall between
    span = 0.5 + math.ceil(_REACH * shared)
    least = min(noise)
    per_step = 2400 if least < 0.03 else 240 if least < 0.15 else 60
    cells = per_step * round(2 * span)
    z = (np.arange(cells) + 0.5) / cells * 2 * span - span
    w = _hump(z, 1, shared) * (2 * span / cells)
    reach = 1.0 + _REACH * (max(a, b) + shared)
    low = math.floor(-reach)
    j = np.arange(low, math.ceil(reach) + 2, dtype=np.float64)
    grid = (j[None, :] - where[:, None]).ravel()
    first = _hump(grid[:, None] + z[None, :], 1, a)
    second = _hump(grid[:, None] + z[None, :], 1, b)
    p = (
        ((first * w) @ second.T)
        .reshape(where.size, j.size, where.size, j.size)
        .transpose(0, 2, 1, 3)
    )
    p = p / p.sum(axis=(2, 3), keepdims=True)
    if count > 1:
        size = count * (j.size - 1) + 1
        spectrum = np.fft.rfft2(p, s=(size, size)) ** count
        p = np.maximum(np.fft.irfft2(spectrum, s=(size, size)), 0.0)
        p[p < 1e-15] = 0.0
    start = count * (low - where)
    rows = np.flatnonzero(p.max(axis=(0, 1, 3)) > 1e-13)
    columns = np.flatnonzero(p.max(axis=(0, 1, 2)) > 1e-13)
    p = p[:, :, rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    p = _celled(_celled(p).swapaxes(0, 1)).swapaxes(0, 1)
    return start + rows[0], start + columns[0], np.ascontiguousarray(p)


_NOTHING = _Axis(
    np.zeros(1), np.zeros(1), np.ones((1, 1)), np.array([[1.0, 0.0]]), np.array([[0.0, 1.0]])
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
    1/32 of the smallest step; it is allowed for by testing a value that much smaller.
    """
    limit = min(min(b.steps) for b in blocks) / 32
    wide, narrow = [], 0.0
    for term in sorted(rest, key=reach_of):
        if narrow + reach_of(term) <= limit:
            narrow += reach_of(term)
        else:
            wide.append(term)
    return wide, narrow


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
    lattice, smooth = _chosen(blocks, rest)
    other = SumDistribution(smooth)
    x = np.maximum(np.abs(x) - narrow, 0.0)
    if not lattice:
        return np.array([other.two_sided(v) for v in x])
    shifts, weights, cell = _cells(other, min(min(b.steps) for b in lattice))
    if lattice[0].kind == TRIPLE:
        return _triple_tails(x - cell, lattice[0], shifts, weights)
    axes = [_axis(b.kind, b.noise, b.count) for b in lattice]
    steps = [b.steps[0] for b in lattice]
    if len(axes) == 1:
        axes.append(_NOTHING)
        steps.append(1.0)
    limit = x - cell
    out = np.ones(x.size)
    first, second = axes
    size = first.p.size * second.p.shape[0] * shifts.size
    block = max(1, 400_000 // size)
    live = np.flatnonzero(limit > 0)
    for i in range(0, live.size, block):
        chosen = live[i : i + block]
        out[chosen] = _pair_tails(limit[chosen], first, second, steps, shifts, weights)
    return np.minimum(out, 1.0)


def _pair_tails(
    limit: Floats, first: _Axis, second: _Axis, steps: list[float], shifts: Floats, weights: Floats
) -> Floats:
    """Return the tail at limits > 0, the largest over the positions of both axes."""
    digits = np.arange(first.p.shape[1])
    width = second.p.shape[1]
    rows = (np.arange(second.p.shape[0]) * (width + 1))[:, None]
    tiny = 1e-9
    # axes: limits, position of the first, its digits, position of the second, cells of the rest
    edge = limit[:, None, None, None, None]
    inner = ((first.high[:, None] + digits) * steps[0])[None, :, :, None, None] + shifts
    above = np.ceil((edge - inner) / steps[1] - second.high[:, None] - tiny)
    inner = ((first.low[:, None] + digits) * steps[0])[None, :, :, None, None] + shifts
    below = np.floor((-edge - inner) / steps[1] - second.low[:, None] + tiny) + 1
    chance = second.upper.ravel()[np.clip(above, 0, width).astype(np.intp) + rows]
    chance += second.lower.ravel()[np.clip(below, 0, width).astype(np.intp) + rows]
    by_position = np.einsum("gl,nglhs,s->ngh", first.p, chance, weights)
    return np.asarray(by_position.max(axis=(1, 2)))


def _triple_tails(x: Floats, block: DigitBlock, shifts: Floats, weights: Floats) -> Floats:
    a, b, shared = block.noise
    start_a, start_b, p = _joint((a, b, shared), block.count)
    step_a, step_b = block.steps
    value_a = (start_a[:, None] + np.arange(p.shape[2])) * step_a
    value_b = (start_b[:, None] + np.arange(p.shape[3])) * step_b
    high = value_a[:-1, None, :, None] + value_b[None, :-1, None, :]
    low = value_a[1:, None, :, None] + value_b[None, 1:, None, :]
    out = np.ones(x.size)
    for i, limit in enumerate(x * (1 - 1e-12)):
        if limit > 0:
            chance = np.zeros(p.shape[:2])
            for shift, weight in zip(shifts, weights, strict=True):
                outside = (high + shift >= limit) | (low + shift <= -limit)
                chance += weight * np.einsum("ghlm,ghlm->gh", p, outside)
            out[i] = chance.max()
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


def _cells(other: SumDistribution, step: float) -> tuple[Floats, Floats, float]:
    """Cut the continuous rest into cells: centres, probabilities and half a cell's width."""
    if not other.terms:
        return np.zeros(1), np.ones(1), 0.0
    width = other.spread if math.isinf(other.variance) else other.standard_deviation
    reach = min(other.bound, 5.0 * width)
    count = min(max(3, math.ceil(2 * reach / (step / 8))), 65)
    edges = np.linspace(-reach, reach, count + 1)
    cumulative = other.cdf(edges)
    cumulative[0], cumulative[-1] = 0.0, 1.0
    return 0.5 * (edges[1:] + edges[:-1]), np.diff(cumulative), reach / count
