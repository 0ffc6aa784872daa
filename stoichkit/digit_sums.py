"""Tails of the sum of two tables of digits and a rest in cells, the largest over all positions."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from .digit_tables import Axis, Joint
from .shapes import Floats

__all__ = ["tails_one_by_one", "tails_together", "triple_tails"]

_TIE = 1e-9
"""Digits that reach a limit to this part of a step are counted as reaching it."""
_IN_CACHE = 40_000
"""Patterns of digits sorted at a time."""


def tails_one_by_one(
    limit: Floats, first: Axis, second: Axis, steps: list[float], shifts: Floats, weights: Floats
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
    steps: list[float],
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
