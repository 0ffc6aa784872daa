"""Probabilities of digit patterns at every position of an amount between two display steps."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .shapes import Floats

__all__ = ["DIFFERENCE", "SINGLE", "TRIPLE", "Axis", "Joint", "axis_table", "hump", "joint_table"]

SINGLE = "single"
DIFFERENCE = "difference"
TRIPLE = "triple"

_GRID = 24
"""Cells of positions between two display steps, for one trial."""
_GRID_SEVERAL = 12
"""The same for several trials, of the position of their total."""
_REACH = 6.5
"""Standard deviations of the noise that are kept."""


def hump(y: Floats, order: int, noise: float) -> Floats:
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


@lru_cache(maxsize=256)
def axis_table(kind: str, noise: tuple[float, ...], count: int) -> Axis:
    """Return the digit probabilities of one reading, or a difference of two, over equal trials.

    Parameters
    ----------
    kind : str
        ``"single"`` or ``"difference"``.
    noise : tuple of float
        Repeatability of each reading, in display steps.
    count : int
        Number of trials.
    """
    order = len(noise)
    sd = math.sqrt(math.fsum(s * s for s in noise))
    edges = _edges(kind, min(noise), count)
    reach = order / 2 + _REACH * sd
    low = math.floor(-reach)
    j = np.arange(low, math.ceil(reach) + 2, dtype=np.float64)
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


@lru_cache(maxsize=64)
def joint_table(noise: tuple[float, float, float], count: int) -> Joint:
    """Return the digit probabilities of two differences that share a reading, over equal trials.

    Parameters
    ----------
    noise : tuple of float
        Repeatability of each reading in display steps, the shared one last.
    count : int
        Number of trials.
    """
    where = _edges(TRIPLE, min(noise), count)
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
    grid = (j[None, :] - where[:, None]).ravel()
    first = hump(grid[:, None] + z[None, :], 1, a)
    second = hump(grid[:, None] + z[None, :], 1, b)
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
    upper = np.zeros((*p.shape[:3], p.shape[3] + 1))
    upper[..., :-1] = np.cumsum(p[..., ::-1], axis=3)[..., ::-1]
    lower = np.zeros_like(upper)
    lower[..., 1:] = np.cumsum(p, axis=3)
    return Joint(start + rows[0], start + columns[0], upper, lower)
