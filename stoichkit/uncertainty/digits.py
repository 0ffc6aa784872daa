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
searched numerically (``tests/uncertainty/test_digits.py``).

A vessel that is the same thing in every trial lies at one unknown position, not at one a trial:
the errors of its readings then do not average out. The sum over its trials is taken at each
position of the vessel, and only the result is averaged over that position.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .distribution import SumDistribution
from .sources import BOUNDED, Floats, Shape, Term
from .tails import normal_cdf

SINGLE = "single"
DIFFERENCE = "difference"
TRIPLE = "triple"
_GRID = 24
"""Cells of positions between two display steps, for one trial."""
_GRID_SEVERAL = 12
"""The same for several trials, of the position of their total."""
_FEW_TRIPLES = 4
"""Up to so many trials the digits of a triple are summed pattern by pattern; beyond, along D."""
_REACH = 6.5
"""Standard deviations of the noise that are kept."""


def hump(y: Floats, order: int, noise: float, **how: int) -> Floats:
    """Return the density of ``order`` rectangular errors of a step plus normal noise (steps)."""
    if noise < 1e-6:
        if order == 1:
            # a reading exactly half-way is rounded up
            return np.asarray(((y > -0.5) & (y <= 0.5)).astype(np.float64))
        return np.maximum(1.0 - np.abs(y), 0.0)
    if order == 1:
        return normal_cdf((y + 0.5) / noise, **how) - normal_cdf((y - 0.5) / noise, **how)

    def rise(v: Floats) -> Floats:
        z = -np.abs(v) / noise  # v + noise × (…) for v > 0, without cancellation far out
        small = noise * (z * normal_cdf(z, **how) + np.exp(-0.5 * z * z) / math.sqrt(2 * math.pi))
        return np.asarray(small)

    corner = np.maximum(1.0 - np.abs(y), 0.0)
    return np.maximum(rise(y + 1) - 2 * rise(y) + rise(y - 1) + corner, 0.0)


def _edges(kind: str, smallest_noise: float, count: int) -> Floats:
    """Return the edges of the cells of positions that are searched, in display steps."""
    grid = _GRID if count == 1 else _GRID_SEVERAL
    # single readings keep a bias that depends on the position, until noise has smeared it out
    every = smallest_noise < (0.5 if kind == SINGLE else 0.12)
    if every and count > 4:
        grid = grid // 2  # the search grows as the square of the number of trials
    if kind == SINGLE and smallest_noise < 0.2:  # the same digits each time: nothing averages out
        total = count * np.arange(_GRID + 1) / _GRID
    elif count == 1 or (every and count <= 12):
        total = np.arange(count * grid + 1) / grid
    elif every and kind == SINGLE:
        total = np.linspace(0.0, count, 97)
    else:  # the widest shapes lie about one half; every total occurs once within one step
        total = count / 2 - 0.5 + np.arange(grid + 1) / grid
    return np.asarray(total / count, dtype=np.float64)


@dataclass(frozen=True, slots=True)
class Axis:
    """Digit probabilities of a total over each cell of positions, never too small.

    ``high[g] + l`` and ``low[g] + l`` are the largest and smallest error of pattern l in cell g,
    in steps; ``p[g, l]`` is the larger of its probabilities at both edges of the cell;
    ``upper`` and ``lower`` are its sums from l on, and below l. ``mirrored``: the cells from the
    last to the first hold the same with the signs of the errors changed.
    """

    high: Floats
    low: Floats
    p: Floats
    upper: Floats
    lower: Floats
    mirrored: bool

    def half(self) -> Axis:
        """Return the first half of the cells, with the middle one."""
        n = (self.p.shape[0] + 1) // 2
        return Axis(self.high[:n], self.low[:n], self.p[:n], self.upper[:n], self.lower[:n], False)


def _celled(p: Floats) -> Floats:
    """Return the larger of the probabilities at both edges of each cell (first axis)."""
    return np.maximum(p[:-1], p[1:])


_NEGLIGIBLE = 1e-3
"""Part of the variance below which it does not matter that a vessel is the same in its trials."""


@lru_cache(maxsize=256)
def bias_variance(noise: float) -> float:
    """Return the variance, over positions, of the mean rounding error of a reading (steps²).

    It is 1/12 without noise, when the error hangs on the position alone; noise lets its Fourier
    series die out.

    >>> round(12 * bias_variance(0.0), 3), bias_variance(0.5) < 3e-6
    (1.0, True)
    """
    if noise == 0:
        return 1 / 12
    k = np.arange(1, 200)
    return float(np.sum(np.exp(-4 * (math.pi * k * noise) ** 2) / k**2)) / (2 * math.pi**2)


def bound_together(noise: Iterable[float], sizes: Sequence[int]) -> tuple[int, ...]:
    """Return how many trials each vessel serves, or () where that makes no difference.

    >>> bound_together((0.0, 0.0), [3]), bound_together((0.0, 0.0), [1, 1])
    ((3,), ())
    >>> bound_together((0.5, 0.5), [3])
    ()
    """
    more = sum(n * (n - 1) for n in sizes)
    if not more:
        return ()
    each = [(bias_variance(s), 1 / 12 + s * s) for s in noise]
    share = more * math.fsum(b for b, _ in each)
    if share <= _NEGLIGIBLE * sum(sizes) * math.fsum(v for _, v in each):
        return ()
    return tuple(sorted(sizes))


def _vessel_positions(smallest_noise: float) -> Floats:
    """Return equally likely positions of a vessel, between the places where digits jump."""
    # noise makes the average over a period converge fast; without, nothing happens in between
    count = 96 if 0 < smallest_noise < 0.06 else 24
    return np.asarray((np.arange(count) + 0.5) / count, dtype=np.float64)


def _over_trials(spectra: Iterable[Any], count: int, together: tuple[int, ...]) -> Any:
    """Return the transform of a sum over trials from that of one trial.

    Of trials in one vessel there is a transform for each position of the vessel; their powers are
    averaged.
    """
    if not together:
        (one,) = spectra
        return one**count
    sums: dict[int, Any] = dict.fromkeys(together, 0.0)
    positions = 0
    for spectrum in spectra:
        positions += 1
        for n in sums:
            sums[n] = sums[n] + spectrum**n
    total: Any = 1.0
    for n, vessels in Counter(together).items():
        total = total * (sums[n] / positions) ** vessels
    return total


@lru_cache(maxsize=256)
def axis_table(
    kind: str, noise: tuple[float, ...], count: int, together: tuple[int, ...] = ()
) -> Axis:
    """Return the digit probabilities of one reading, or a difference of two, over equal trials."""
    order = len(noise)
    sd = math.sqrt(math.fsum(s * s for s in noise))
    edges = _edges(SINGLE if together else kind, min(noise), count)
    reach = order / 2 + _REACH * sd
    low = math.floor(-reach)
    j = np.arange(low, math.ceil(reach) + 2, dtype=np.float64)
    if together:
        low, p = _one_vessel(noise, edges, count, together)
    else:
        p = hump(j[None, :] - edges[:, None], order, sd)
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
    high, low_edges = start[:-1], start[1:]
    mirrored = np.allclose(high + p.shape[1] - 1, -low_edges[::-1], atol=1e-12) and np.allclose(
        p, p[::-1, ::-1], rtol=0, atol=1e-14
    )
    return Axis(high, low_edges, p, upper, lower, mirrored)


def _one_vessel(
    noise: tuple[float, ...], where: Floats, count: int, together: tuple[int, ...]
) -> tuple[int, Floats]:
    """Return the least difference of one trial, and the probabilities of its sums over trials."""
    first, second = noise
    light = np.arange(math.floor(-0.5 - _REACH * first), math.ceil(1.5 + _REACH * first) + 1)
    heavy = np.arange(math.floor(-0.5 - _REACH * second), math.ceil(2.5 + _REACH * second) + 1)
    size = count * (light.size + heavy.size - 2) + 1

    def one(position: float) -> Any:
        less = hump(np.asarray(position - light[::-1], np.float64), 1, first)  # minus the lighter
        more = hump(heavy - position - where[:, None], 1, second)
        return np.fft.rfft(less, n=size) * np.fft.rfft(more, n=size, axis=1)

    spectra = map(one, _vessel_positions(min(noise)).tolist())
    p = np.maximum(np.fft.irfft(_over_trials(spectra, count, together), n=size, axis=1), 0.0)
    p[p < 1e-15] = 0.0
    return int(heavy[0] - light[-1]), p


@dataclass(frozen=True, slots=True)
class Joint:
    """As :class:`Axis` for two differences that share a reading.

    ``first`` and ``second`` are the smallest errors at the edges of the cells; ``upper`` and
    ``lower``, shape (cells, cells, patterns of the first, patterns of the second + 1), are sums of
    the joint probabilities from a pattern of the second on, and below it.
    """

    first: Floats
    second: Floats
    upper: Floats
    lower: Floats


def _one_triple(noise: tuple[float, float, float], where: Floats) -> tuple[Floats, Floats]:
    """Return the digits of two differences that share a reading, and their probabilities.

    Shape of the probabilities: position of the first, of the second, digits of both.
    """
    a, b, shared = noise
    # midpoints on a grid that the sharp edges of noiseless readings fall between
    span = 0.5 + math.ceil(_REACH * shared)
    least = min(noise)
    per_step = 2400 if least < 0.03 else 240 if least < 0.15 else 60
    cells = per_step * round(2 * span)
    z = (np.arange(cells) + 0.5) / cells * 2 * span - span
    w = hump(z, 1, shared) * (2 * span / cells)
    reach = 1.0 + _REACH * (max(a, b) + shared)
    low = math.floor(-reach)
    j = np.arange(low, math.ceil(reach) + 2, dtype=np.float64)
    # the digits lie whole steps apart, so their rows are windows of one line of midpoints
    line = (np.arange((j.size - 1) * per_step + cells) + 0.5) / per_step - span + low
    windows = np.arange(j.size)[:, None] * per_step + np.arange(cells)
    shown = {
        sd: np.concatenate([hump(line - position, 1, sd)[windows] for position in where])
        for sd in {a, b}
    }
    p = (
        ((shown[a] * w) @ shown[b].T)
        .reshape(where.size, j.size, where.size, j.size)
        .transpose(0, 2, 1, 3)
    )
    return j, p / p.sum(axis=(2, 3), keepdims=True)


def _triples(
    noise: tuple[float, float, float], count: int, together: tuple[int, ...]
) -> tuple[Floats, Floats, list[Floats]]:
    """Return positions, digits and the probabilities of :func:`_one_triple`.

    Of trials in one vessel these are many, one for each position of the vessel.
    """
    if not together:
        where = _edges(TRIPLE, min(noise), count)
        j, p = _one_triple(noise, where)
        return where, j, [p]
    a, b, shared = noise
    grid = _GRID_SEVERAL if count <= _FEW_TRIPLES else _GRID_SEVERAL // 2
    where = np.arange(grid + 1) / grid
    third = np.arange(math.floor(-0.5 - _REACH * shared), math.ceil(1.5 + _REACH * shared) + 1)
    reach = 1.0 + _REACH * (max(a, b) + shared)
    j = np.arange(math.floor(-reach), math.ceil(reach) + 2, dtype=np.float64)
    # axes: position of the difference, the shared digit, the digit of the difference
    place = (third[:, None] + j)[None] - where[:, None, None]
    found = []
    for position in _vessel_positions(min(noise)).tolist():
        chance = hump(third - position, 1, shared)
        shown = {sd: hump(place - position, 1, sd) for sd in {a, b}}
        p = np.einsum("s,gsj,hsk->ghjk", chance, shown[a], shown[b], optimize=True)
        found.append(p)
    return where, j, found


@lru_cache(maxsize=64)
def joint_table(
    noise: tuple[float, float, float], count: int, together: tuple[int, ...] = ()
) -> Joint:
    """Return the digit probabilities of two differences that share a reading, over equal trials."""
    where, j, found = _triples(noise, count, together)
    p = found[0]
    if count > 1:
        size = count * (j.size - 1) + 1
        spectra = (np.fft.rfft2(one, s=(size, size)) for one in found)
        spectrum = _over_trials(spectra, count, together)
        p = np.maximum(np.fft.irfft2(spectrum, s=(size, size)), 0.0)
        p[p < 1e-15] = 0.0
    start = count * (j[0] - where)
    rows = np.flatnonzero(p.max(axis=(0, 1, 3)) > 1e-13)
    columns = np.flatnonzero(p.max(axis=(0, 1, 2)) > 1e-13)
    p = p[:, :, rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    p = _celled(_celled(p).swapaxes(0, 1)).swapaxes(0, 1)
    upper = np.zeros((*p.shape[:3], p.shape[3] + 1))
    upper[..., :-1] = np.cumsum(p[..., ::-1], axis=3)[..., ::-1]
    lower = np.zeros_like(upper)
    lower[..., 1:] = np.cumsum(p, axis=3)
    return Joint(start + rows[0], start + columns[0], upper, lower)


_TIE = 1e-9
"""Digits that reach a limit to this part of a step are counted as reaching it."""
_IN_CACHE = 40_000
"""Patterns of digits sorted at a time."""


def tails_one_by_one(
    limit: Floats,
    first: Axis,
    second: Axis,
    steps: tuple[float, float],
    shifts: Floats,
    weights: Floats,
) -> Floats:
    """Return the tail at limits > 0, the largest over the positions of both axes."""
    size = first.p.size * second.p.shape[0] * shifts.size
    block = max(1, 400_000 // size)
    if limit.size > block:
        parts = [limit[i : i + block] for i in range(0, limit.size, block)]
        return np.concatenate(
            [tails_one_by_one(part, first, second, steps, shifts, weights) for part in parts]
        )
    digits = np.arange(first.p.shape[1])
    width = second.p.shape[1]
    rows = (np.arange(second.p.shape[0]) * (width + 1))[:, None]
    # axes: limits, position of the first, its digits, position of the second, cells of the rest
    edge = limit[:, None, None, None, None]
    inner = ((first.high[:, None] + digits) * steps[0])[None, :, :, None, None] + shifts
    above = np.ceil((edge - inner) / steps[1] - second.high[:, None] - _TIE)
    inner = ((first.low[:, None] + digits) * steps[0])[None, :, :, None, None] + shifts
    below = np.floor((-edge - inner) / steps[1] - second.low[:, None] + _TIE) + 1
    chance = second.upper.ravel()[np.clip(above, 0, width).astype(np.intp) + rows]
    chance += second.lower.ravel()[np.clip(below, 0, width).astype(np.intp) + rows]
    by_position = np.einsum("gl,nglhs,s->ngh", first.p, chance, weights)
    return np.asarray(by_position.max(axis=(1, 2)))


def tails_together(
    level: NDArray[np.intp],
    grain: float,
    cell: float,
    first: Axis,
    second: Axis,
    steps: tuple[float, float],
    shifts: Floats,
    weights: Floats,
) -> Floats:
    """Return the same at limits level × grain − cell, for many rising levels.

    Every pattern of digits is sorted into the limits once.
    """
    rank = np.zeros(level[-1] + 1, dtype=np.intp)
    rank[level] = 1
    rank = rank.cumsum()
    start = (_TIE * steps[1] + cell) / grain
    lowest = level[0] - start
    cells, size = second.p.shape[0], level.size + 1
    positions = first.p.shape[0]
    # each pattern's error lies about a middle; axes: position of the first, its digits with the
    # cells of the rest, position of the second, its digits
    inner = (first.high + first.low)[:, None] / 2 + np.arange(first.p.shape[1])
    inner = ((inner * steps[0])[:, :, None] + shifts).reshape(positions, -1) / grain
    chances = (first.p[:, :, None] * weights).reshape(positions, -1)
    middle = (second.high + second.low)[:, None] / 2 + np.arange(second.p.shape[1])
    middle *= steps[1] / grain
    ways = [
        (axis.high - axis.low) * step for axis, step in zip((first, second), steps, strict=True)
    ]
    half = (np.add.outer(*ways) / (2 * grain))[:, None, :, None]
    widest = half.max()
    out = np.zeros(level.size)
    at_once = max(1, _IN_CACHE // (inner.shape[1] * second.p.size))
    for here in (slice(i, i + at_once) for i in range(0, positions, at_once)):
        error = np.add.outer(inner[here], middle)
        np.abs(error, out=error)
        chance = np.multiply.outer(chances[here], second.p).ravel()
        both = np.flatnonzero(error <= half[here] - lowest) if widest >= lowest else ()
        if len(both):  # of one sign, or of the other
            further = np.subtract(half[here] + start, error).ravel()[both]
        error += half[here] + start
        bins = rank.take(error.astype(np.intp), mode="clip")
        bins += np.arange(len(error) * cells).reshape(-1, 1, cells, 1) * size
        bins = bins.ravel()
        found = np.bincount(bins, chance, len(error) * cells * size)
        if len(both):
            other = rank.take(further.astype(np.intp), mode="clip")
            other += bins[both] // size * size
            found += np.bincount(other, chance[both], found.size)
        tail = found.reshape(-1, size)[:, :0:-1].cumsum(axis=1)
        np.maximum(out, tail.max(axis=0)[::-1], out=out)
    return out


def triple_tails(
    x: Floats, table: Joint, steps: tuple[float, float], shifts: Floats, weights: Floats
) -> Floats:
    """Return the tail at values x of a triple and the rest, the largest over its positions."""
    step_a, step_b = steps
    cells, _, patterns, width = table.upper.shape
    rows = (np.arange(cells * cells * patterns) * width).reshape(cells, cells, patterns, 1)
    digits = np.arange(patterns)
    # axes: position of the first, of the second, digits of the first, cells of the rest
    high = ((table.first[:-1, None] + digits) * step_a)[:, None, :, None] + shifts
    low = ((table.first[1:, None] + digits) * step_a)[:, None, :, None] + shifts
    start_high = table.second[:-1, None, None]
    start_low = table.second[1:, None, None]
    furthest = max(
        high.max() + (table.second[0] + width) * step_b, -low.min() - table.second[-1] * step_b
    )
    out = np.where(x > furthest, 0.0, 1.0)
    for i, limit in enumerate(x):
        if 0 < limit <= furthest:
            above = np.ceil((limit - high) / step_b - start_high - _TIE)
            below = np.floor((-limit - low) / step_b - start_low + _TIE) + 1
            chance = table.upper.ravel()[np.clip(above, 0, width - 1).astype(np.intp) + rows]
            chance += table.lower.ravel()[np.clip(below, 0, width - 1).astype(np.intp) + rows]
            out[i] = (chance @ weights).sum(axis=2).max()
    return np.minimum(out, 1.0)


_BINS = 16
"""Parts of the smaller step into which the error of a sum of many triples is sorted."""


_triple_digits = lru_cache(maxsize=32)(_triples)


def many_triples_tails(x: Floats, block: DigitBlock, shifts: Floats, weights: Floats) -> Floats:
    """Return the tail at values x > 0 of a sum of many equal triples and the rest.

    The error of one trial is put on a fine grid along D (each probability shared between its two
    neighbours, so that no mean moves and the variance grows by 0.3 % or less), and the sum over
    the trials is a power of its transform: time and memory grow no faster than the trials. Within
    a cell of positions the error moves by up to half a cell; that much is taken off the value.
    """
    count = block.count
    a, b, shared = block.noise
    where, digits, found = _triple_digits((a, b, shared), count, block.together)
    step_a, step_b = block.steps
    grain = min(block.steps) / _BINS
    reach = 8.0 * math.sqrt(block.variance) + 2 * max(block.steps)
    size = 2 * math.ceil(reach / grain) + 1
    half_cell = 0.5 * count * float(np.diff(where).max()) * (step_a + step_b)
    place = np.concatenate([x[:, None] - half_cell - shifts, x[:, None] - half_cell + shifts], 1)
    # a bin is counted from its lower edge: never too little
    index = np.clip(np.ceil(place / grain).astype(np.intp) - 1 + size // 2, 0, size)
    out = np.zeros(x.size)
    offset_b = step_b * (digits[None, :] - where[:, None])
    for i in range((where.size + 1) // 2):  # the other half is the same with the signs changed
        offset_a = step_a * (digits - where[i])
        error = (offset_a[None, :, None] + offset_b[:, None, :]).reshape(where.size, -1) / grain
        below = np.floor(error).astype(np.intp)
        upper = error - below
        row = np.arange(where.size)[:, None] * size

        def one_trial(p: Floats, places: Any) -> Any:
            """Return the transform of one trial's error, with its digits at their places."""
            chance, (row, below, upper) = p.reshape(where.size, -1), places
            one = np.zeros(where.size * size)
            for at, part in ((below, 1 - upper), (below + 1, upper)):
                one += np.bincount((row + at % size).ravel(), (chance * part).ravel(), one.size)
            return np.fft.rfft(one.reshape(where.size, size), axis=1)

        places = row, below, upper
        spectrum = _over_trials((one_trial(p[i], places) for p in found), count, block.together)
        total = np.maximum(np.fft.irfft(spectrum, n=size, axis=1), 0.0)
        total = np.roll(total, size // 2, axis=1)
        above = np.zeros((where.size, size + 1))
        above[:, :-1] = np.cumsum(total[:, ::-1], axis=1)[:, ::-1]
        under = np.zeros_like(above)  # the same from the other end
        under[:, :-1] = np.cumsum(total, axis=1)[:, ::-1]
        upto = shifts.size
        tail = above[:, index[:, :upto]] @ weights + under[:, index[:, upto:]] @ weights
        np.maximum(out, tail.max(axis=0), out=out)
    return np.minimum(out, 1.0)


def hopeless(x: Floats, block: DigitBlock, rest: SumDistribution) -> NDArray[np.bool_]:
    """Say at which values the tail of a sum of triples is surely below 1e-13 (Hoeffding's bound).

    At every position of the digits a difference within one vessel is right on average, each
    rounding error has limits, and normal errors are what they are: the sum is sub-Gaussian.
    """
    pairs = zip(block.coefficients, block.noise, strict=True)
    # a sum of n errors that may hang together has at most n² times the proxy of one
    several = sum(n * n for n in block.together) or block.count
    proxy = several * math.fsum(c * c * (1.0 + s * s) for c, s in pairs)
    if any(term.shape is Shape.STUDENT_T for term in rest.terms):
        return np.zeros(x.shape, dtype=np.bool_)
    proxy += math.fsum(term.scale**2 for term in rest.terms)
    return np.asarray(2 * np.exp(-0.5 * x**2 / proxy) < 1e-13)


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
    together : tuple of int
        How many trials each vessel serves that is the same thing in several; adds up to the
        count. () where each trial has a vessel of its own (:func:`bound_together`).
    """

    kind: str
    steps: tuple[float, ...]
    noise: tuple[float, ...]
    count: int
    together: tuple[int, ...] = ()

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
        own = self.count * math.fsum(c * c * (1 / 12 + s * s) for c, s in pairs)
        return own + math.fsum(t.scale**2 / 3 for t in self._common())

    @property
    def weight(self) -> float:
        """Which block goes first: its largest step, more if vessels are the same in trials."""
        several = sum(n * n for n in self.together) or self.count
        return max(self.steps) * math.sqrt(several / self.count)

    def _common(self) -> tuple[Term, ...]:
        """Return what trials in one vessel have in common, averaged over positions."""
        more = sum(n * (n - 1) for n in self.together)
        if not more:
            return ()
        pairs = zip(self.coefficients, self.noise, strict=True)
        return tuple(common_term(c * c * more, s) for c, s in pairs)

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
        return (*out, *self._common())


def common_term(squares: float, noise: float) -> Term:
    """Return the term of rounding errors that are alike, from the sum of c_i c_j over i ≠ j.

    ``squares`` in squared units of the result a step. The means of the errors at one position of
    the vessel are the same in all its trials.

    >>> common_term(6.0, 0.0)  # three equal readings: 3 and 6 twelfths make 9, of three times one
    Term(shape=<Shape.RECTANGULAR: 'rectangular'>, scale=1.22..., dof=inf)
    """
    return Term(Shape.RECTANGULAR, math.sqrt(3 * max(squares, 0.0) * bias_variance(noise)))


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
    limit = narrow_limit(blocks)
    wide, narrow = [], 0.0
    for term in sorted(rest, key=reach_of):
        if narrow + reach_of(term) <= limit:
            narrow += reach_of(term)
        else:
            wide.append(Term(term.shape, rounded_up(term.scale), term.dof))
    return wide, narrow


def narrow_limit(blocks: Sequence[DigitBlock]) -> float:
    """Return the reach that terms set apart beside display steps may have together.

    >>> narrow_limit([DigitBlock(SINGLE, (step,), (0.0,), 1) for step in (0.64, 0.32)])
    0.01
    """
    return min(min(b.steps) for b in blocks) / 32


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
    shared = _shared(tuple(blocks), tuple(rest))
    out = np.zeros(x.shape)
    near = np.flatnonzero(x <= shared.beyond)
    if near.size:
        level = np.floor(x[near] / shared.grain).astype(np.intp)
        levels, where = distinct(level)
        out[near] = shared.tails(levels)[where]
    return out


def distinct(level: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the rising distinct values of whole numbers, and where each stands among them."""
    if level.size == 1:
        return level, np.zeros(1, dtype=np.intp)
    if level.max() > 50 * level.size:
        return np.unique(level, return_inverse=True)
    present = np.zeros(level.max() + 1, dtype=np.bool_)
    present[level] = True
    return np.flatnonzero(present), present.cumsum()[level] - 1


class _Shared:
    """What the tails at all values of one sum have in common."""

    def __init__(self, blocks: tuple[DigitBlock, ...], rest: tuple[Term, ...]) -> None:
        other = SumDistribution(rest)
        self._blocks, self._rest = blocks, rest
        self._spread = math.sqrt(math.fsum([b.variance for b in blocks] + [other.spread**2]))
        smallest = min(min(b.steps) for b in blocks)
        self.grain = max(smallest / _GRAINS, self._spread / _GRAINS_IN_SPREAD)
        # beyond this nothing is left; smaller values only have larger tails
        self.beyond = sum(b.reach for b in blocks)
        self.beyond += sum(_FAR / 5.0 * reach_of(t) for t in other.terms)

    @cached_property
    def _split(self) -> tuple[list[DigitBlock], SumDistribution]:
        """Blocks at their worst position, and the distribution of everything else."""
        lattice, smooth = _chosen(self._blocks, self._rest)
        return lattice, SumDistribution(smooth)

    @cached_property
    def _cut(self) -> tuple[Floats, Floats, float]:
        """Everything else in cells, see :func:`_cells`."""
        lattice, other = self._split
        smallest = min(min(b.steps) for b in lattice)
        return _cells(other, max(smallest / 8, self._spread / 40))

    @cached_property
    def _axes(self) -> tuple[Axis, Axis, tuple[float, float], float]:
        """Both axes with their steps, and the largest error of all patterns of digits kept."""
        lattice, _ = self._split
        axes = [axis_table(b.kind, b.noise, b.count, b.together) for b in lattice]
        steps = [b.steps[0] for b in lattice]
        if len(axes) == 1:
            axes.append(_NOTHING)
            steps.append(1.0)
        if all(axis.mirrored for axis in axes):
            axes[0] = axes[0].half()  # the other half is the same with the signs changed
        furthest = abs(self._cut[0]).max() + sum(
            c * max(abs(a.low[-1]), abs(a.high[0] + a.p.shape[1] - 1))
            for c, a in zip(steps, axes, strict=True)
        )
        return axes[0], axes[1], (steps[0], steps[1]), float(furthest)

    def tails(self, level: NDArray[np.intp]) -> Floats:
        """Return the tails at rising multiples, 0 or more, of the grain."""
        x = np.asarray(level * self.grain, dtype=np.float64)
        lattice, other = self._split
        if not lattice:
            return np.minimum(2.0 * other.cdf(-x), 1.0)
        shifts, weights, cell = self._cut
        if lattice[0].kind == TRIPLE:
            return _triple(x, lattice[0], other, self._cut)
        first, second, steps, furthest = self._axes
        limit = x - cell
        out = np.where(limit > furthest, 0.0, 1.0)  # beyond every pattern of digits kept
        live = np.flatnonzero((limit > 0) & (limit <= furthest))
        if live.size:
            given = (first, second, steps, shifts, weights)
            if live.size <= second.p.shape[1]:
                out[live] = tails_one_by_one(limit[live], *given)
            else:
                out[live] = tails_together(level[live], self.grain, cell, *given)
        return np.minimum(out, 1.0)


_shared = lru_cache(maxsize=16)(_Shared)


def _triple(
    x: Floats, block: DigitBlock, other: SumDistribution, cells: tuple[Floats, Floats, float]
) -> Floats:
    """Return the tails at values of a sum of triples and the rest."""
    shifts, weights, cell = cells
    if block.count <= _FEW_TRIPLES:
        a, b, shared = block.noise
        step_a, step_b = block.steps
        table = joint_table((a, b, shared), block.count, block.together)
        return triple_tails(x - cell, table, (step_a, step_b), shifts, weights)
    out = np.where(hopeless(x, block, other), 0.0, 1.0)
    live = np.flatnonzero((out > 0) & (x > cell))
    if live.size:
        out[live] = many_triples_tails(x[live] - cell, block, shifts, weights)
    return out


def _chosen(
    blocks: Sequence[DigitBlock], rest: Sequence[Term]
) -> tuple[list[DigitBlock], list[Term]]:
    """Split the blocks into those taken at the worst position and terms taken at the average."""
    ordered = sorted(blocks, key=lambda b: -b.weight)
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
            if b.together:
                continue  # a bias that all trials share stays, however smooth the rest
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
