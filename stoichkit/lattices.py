"""Joint probabilities of both mean amounts read from displays.

Readings are whole display steps, so the mean amounts lie on a lattice. Its probabilities are
summed exactly over the digits, at positions of the amounts between two steps that fill the stated
spread; no random numbers. A recovery allowance, shared by the trials, moves the produced amount
before it is read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .digit_tables import DIFFERENCE, SINGLE, hump
from .linear import LinearAmounts, SideBlock
from .shapes import Floats

__all__ = [
    "Displays",
    "Lattice",
    "Points",
    "Stack",
    "displays_of",
    "lattice_of",
    "recovered_cells",
    "stack_of",
]

_LARGEST = 400
"""Steps, trials together, over which digits are summed."""
_LONGEST = 4000
"""The same along a recovery allowance."""

_PER_STEP, _PER_NOISY_STEP = 16, 6
"""Amounts tried between two display steps."""
_MOST_NODES = 801
_NODES_WITH_RECOVERY = 1024
_CELLS = 32
_GOLDEN = 0.5 * (math.sqrt(5) - 1)
_REACH = 4.5
_SMALLEST = 1e-8
_POSITIONS = 32
"""Positions between two display steps at which readings that share one are tabulated."""


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Joint probabilities of the mean amounts read from displays.

    Attributes
    ----------
    consumed, produced : ndarray, shapes (a,) and (b,)
        Mean amounts, mol, in equal steps.
    p : ndarray, shape (a, b)
    step_mol : float
        Step of ``produced``, mol.
    """

    consumed: Floats
    produced: Floats
    p: Floats
    step_mol: float

    def near(self, ratio: float, edges: Floats, limits: Floats, width: float) -> Floats:
        """Return the largest p within ``width`` of |produced − ratio × consumed| = limit.

        The limits are those between rising ``edges`` of the produced amount, one more than these.
        """
        part = np.searchsorted(edges, self.produced)
        size = np.abs(self.produced - ratio * self.consumed[:, None])
        found = np.zeros(limits.size)
        np.maximum.at(found, part, np.where(np.abs(size - limits[part]) < width, self.p, 0).max(0))
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Points:
    """Pairs of mean amounts, mol, with their weights: all arrays of shape (n,)."""

    consumed: Floats
    produced: Floats
    weight: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Stack:
    """Joint probabilities of both sums over the trials, in display steps, for several amounts.

    Attributes
    ----------
    p : ndarray, shape (n, a, b)
    first : ndarray of int, shape (n, 2)
        Sums of digits that the first row and the first column of each lattice stand for.
    """

    p: Floats
    first: NDArray[np.intp]


@dataclass(frozen=True, slots=True, kw_only=True)
class Displays:
    """What both amounts of a lab are in display steps, and how their displays err.

    Attributes
    ----------
    trials : int
    amounts_steps : (float, float)
        True amount consumed and produced in each trial, in display steps.
    step_mol : (float, float)
        Change of the *mean* amount for one step in one trial, mol.
    noise : two tuples of float
        Repeatability in steps of the readings of each amount: two each (a difference), one (a
        single reading); with ``shared_noise``, of the reading that is not shared.
    shared_noise : float or None
        Repeatability in steps of a reading that belongs to both amounts (the residue between an
        empty and a full crucible).
    shared_sign : float
        −1 if that reading is added in the one amount and subtracted in the other, else 1.
    """

    trials: int
    amounts_steps: tuple[float, float]
    step_mol: tuple[float, float]
    noise: tuple[tuple[float, ...], tuple[float, ...]]
    shared_noise: float | None = None
    shared_sign: float = -1.0

    def sigma(self, side: int) -> float:
        """Return the repeatability of one amount in one trial, in steps."""
        extra = () if self.shared_noise is None else (self.shared_noise,)
        return math.hypot(*self.noise[side], *extra)

    def reach(self, side: int) -> float:
        """Return how far from the true amount the digits of one trial lie."""
        return 1.0 + _REACH * self.sigma(side)

    def coarse(
        self, spread: float, *, scale: float = 1.0, recovery_half_width: float = 0.0
    ) -> bool:
        """Return whether digits may matter: not where there are very many steps."""
        widest = max(
            2 * spread * scale * x + 2.5 * _REACH * self.sigma(side) + 2
            for side, x in enumerate(self.amounts_steps)
        )
        lost = 2 * recovery_half_width * scale * self.amounts_steps[1]
        return self.trials * widest <= _LARGEST and self.trials * lost <= _LONGEST


def displays_of(
    linear: LinearAmounts, sides: tuple[SideBlock, SideBlock], trials: int
) -> Displays | None:
    """Return the displays of a nominal lab, or None if its digits cannot be summed.

    Parameters
    ----------
    linear : LinearAmounts
        Nominal lab.
    sides : (SideBlock, SideBlock)
        Display readings of each amount.
    trials : int
    """
    blocks = [s.block for s in sides]
    if any(b.kind not in (DIFFERENCE, SINGLE) or b.count != trials for b in blocks):
        return None
    shared = set(sides[0].roles) & set(sides[1].roles)
    noise = [dict(zip(s.roles, s.block.noise, strict=True)) for s in sides]
    signs = [dict(zip(s.roles, s.signs, strict=True)) for s in sides]
    if len(shared) > 1 or (shared and any(b.kind is SINGLE for b in blocks)):
        return None
    own = [tuple(v for k, v in n.items() if k not in shared) for n in noise]
    role = next(iter(shared), None)
    steps = blocks[0].steps[0], blocks[1].steps[0]
    return Displays(
        trials=trials,
        amounts_steps=(
            linear.mean_consumed / steps[0] / trials,
            linear.mean_produced / steps[1] / trials,
        ),
        step_mol=steps,
        noise=(own[0], own[1]),
        shared_noise=None if role is None else noise[0][role],
        shared_sign=-1.0 if role is None else signs[0][role] * signs[1][role],
    )


def lattice_of(displays: Displays, *, spread: float, recovery_half_width: float = 0.0) -> Lattice:
    """Return the probabilities of the mean amounts over equal trials, read from displays.

    Parameters
    ----------
    displays : Displays
    spread : float
        The amount of each trial lies anywhere within this relative half-width; 0 to below 1.
    recovery_half_width : float
        h ≥ 0: in every trial alike, the produced amount is divided by a factor that lies anywhere
        within 1 ± h, before it is read.
    """
    h = recovery_half_width
    if h == 0:
        stack = stack_of(displays, np.ones(1), spread=spread)
        p, first = stack.p[0], (int(stack.first[0, 0]), int(stack.first[0, 1]))
    elif displays.trials > 1:
        p, first = _mixed(displays, spread, h)
    else:
        p, first = _one_fraction_each(displays, spread, h)
    p = np.where(p > _SMALLEST, p, 0.0)
    rows, columns = np.flatnonzero(p.any(axis=1)), np.flatnonzero(p.any(axis=0))
    p = p[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    consumed = first[0] + np.arange(rows[0], rows[-1] + 1)
    produced = first[1] + np.arange(columns[0], columns[-1] + 1)
    step_a, step_b = displays.step_mol
    return Lattice(step_a * consumed, step_b * produced, p / p.sum(), step_b)


def stack_of(displays: Displays, scales: Floats, *, spread: float) -> Stack:
    """Return the lattices of several amounts: those of the displays times each scale."""
    a, b = displays.amounts_steps
    nodes = [1 + spread * _evenly(_count(displays, s, spread)) for s in scales.tolist()]
    which = np.repeat(np.arange(scales.size), [n.size for n in nodes])
    amount = scales[which] * np.concatenate(nodes)
    return _added(_one_trial(a * amount, b * amount, which, displays), displays.trials)


def recovered_cells(half_width: float) -> tuple[Floats, Floats, float]:
    """Return centres, probabilities and half-width of equal cells of 1 / v, v within 1 ± h.

    >>> centre, weight, half = recovered_cells(0.1)
    >>> round(float(centre @ weight), 4), round(float(weight.sum()), 9)
    (1.0034, 1.0)
    >>> recovered_cells(0.0)
    (array([1.]), array([1.]), 0.0)
    """
    if half_width == 0:
        return np.ones(1), np.ones(1), 0.0
    edges = np.linspace(1 / (1 + half_width), 1 / (1 - half_width), _CELLS + 1)
    weight = -np.diff(1 / edges) / (2 * half_width)
    return 0.5 * (edges[1:] + edges[:-1]), weight, float(edges[1] - edges[0]) / 2


def _evenly(count: int) -> Floats:
    """Return the middles of equal parts of −1 to 1."""
    return np.asarray((np.arange(count) + 0.5) / count * 2 - 1)


def _count(displays: Displays, scale: float, spread: float) -> int:
    """Return how many amounts fill the spread, finely beside a display step."""
    if spread == 0:
        return 1
    per_step = _PER_NOISY_STEP if min(map(displays.sigma, (0, 1))) > 0.4 else _PER_STEP
    count = math.ceil(2 * spread * scale * max(displays.amounts_steps) * per_step)
    return min(max(5, count), _MOST_NODES)


def _one_trial(a: Floats, b: Floats, which: NDArray[np.intp], displays: Displays) -> Stack:
    """Return the probabilities of one trial.

    ``a`` and ``b`` are true amounts in steps, equally likely within each lattice ``which``.
    """
    first_a, error_a = _patterns(a, displays.reach(0))
    first_b, error_b = _patterns(b, displays.reach(1))
    if displays.shared_noise is None:
        p_a = hump(error_a, len(displays.noise[0]), math.hypot(*displays.noise[0]))
        p_b = hump(error_b, len(displays.noise[1]), math.hypot(*displays.noise[1]))
        joint = p_a[:, :, None] * p_b[:, None, :]
    else:
        joint = _sharing(error_a, error_b, displays)
    begin = np.flatnonzero(np.diff(which, prepend=-1))
    first = np.stack([np.minimum.reduceat(f, begin) for f in (first_a, first_b)], axis=1)
    row, column = first_a - first[which, 0], first_b - first[which, 1]
    shape = (
        begin.size,
        int(row.max()) + error_a.shape[1],
        int(column.max()) + error_b.shape[1],
    )
    corner = (which * shape[1] + row) * shape[2] + column
    cell = np.arange(error_a.shape[1])[:, None] * shape[2] + np.arange(error_b.shape[1])
    where = corner[:, None, None] + cell
    p = np.bincount(where.ravel(), joint.ravel(), math.prod(shape)).reshape(shape)
    return Stack(p / p.sum(axis=(1, 2), keepdims=True), first)


def _patterns(position: Floats, reach: float) -> tuple[NDArray[np.intp], Floats]:
    """Return the first digits near each position, and the errors of these and the next ones."""
    first = np.floor(position - reach)
    digits = np.arange(math.ceil(2 * reach) + 2)
    return first.astype(np.intp), (first - position)[:, None] + digits


def _sharing(error_a: Floats, error_b: Floats, displays: Displays) -> Floats:
    """Joint probabilities where one reading belongs to both amounts, (n, digits, displays)."""
    if len(error_a) <= _POSITIONS:
        one, other = _given_the_shared(error_a, error_b, displays)
        return np.asarray(one @ other.transpose(0, 2, 1))
    # the first error lies less than one step below the reach: take the nearest tabulated one
    a, b = (
        np.minimum((-(e[:, 0] + displays.reach(side)) * _POSITIONS).astype(np.intp), _POSITIONS - 1)
        for side, e in enumerate((error_a, error_b))
    )
    plain = replace(displays, trials=1, amounts_steps=(0.0, 0.0), step_mol=(0.0, 0.0))
    return np.asarray(_sharing_table(plain)[a, :, b, :])


@lru_cache(maxsize=16)
def _sharing_table(displays: Displays) -> Floats:
    """Joint probabilities at every tabulated position, (positions, digits, positions, displays)."""
    below = (np.arange(_POSITIONS) + 0.5) / _POSITIONS
    a, b = (_patterns(below + reach, reach)[1] for reach in (displays.reach(0), displays.reach(1)))
    one, other = _given_the_shared(a, b, displays)
    cells = one.shape[2]
    p = one.reshape(-1, cells) @ other.reshape(-1, cells).T
    return np.asarray(p.reshape(*one.shape[:2], *other.shape[:2]))


def _given_the_shared(
    error_a: Floats, error_b: Floats, displays: Displays
) -> tuple[Floats, Floats]:
    """Probabilities of both errors in each cell of the shared one, (n, digits, cells) each.

    The first carries the probability of the cell.
    """
    shared = displays.shared_noise or 0.0
    noise_a, noise_b = displays.noise[0][0], displays.noise[1][0]
    span = 0.5 + math.ceil(_REACH * shared)
    per_step = 240 if min(noise_a, noise_b, shared) < 0.15 else 40
    cells = per_step * round(2 * span)
    z = ((np.arange(cells) + 0.5) / cells * 2 - 1) * span
    w = hump(z, 1, shared) * (2 * span / cells)
    one = hump(z - error_a[:, :, None], 1, noise_a) * w
    return one, hump(z - displays.shared_sign * error_b[:, :, None], 1, noise_b)


def _added(one: Stack, trials: int) -> Stack:
    """Return the probabilities of sums over equal trials."""
    if trials == 1:
        return one
    from scipy.fft import irfft2, next_fast_len, rfft2

    shape = [trials * (n - 1) + 1 for n in one.p.shape[1:]]
    size = [next_fast_len(n, real=True) for n in shape]
    spectrum = rfft2(one.p, s=size)
    p = irfft2(spectrum**trials, s=size)[:, : shape[0], : shape[1]]
    return Stack(np.asarray(p), trials * one.first)


def _one_fraction_each(
    displays: Displays, spread: float, half_width: float
) -> tuple[Floats, tuple[int, int]]:
    """Return the probabilities of one trial, over the spread and the recovery together."""
    u = _evenly(_NODES_WITH_RECOVERY)
    # an even filling of the square: the second coordinate is a golden-ratio sequence
    v = 2 * np.modf(_GOLDEN * (np.arange(u.size) + 0.5))[0] - 1 if spread else u
    a, b = displays.amounts_steps
    amount = 1 + spread * u
    where = np.zeros(u.size, dtype=np.intp)
    stack = _one_trial(a * amount, b * amount / (1 + half_width * v), where, displays)
    return stack.p[0], (int(stack.first[0, 0]), int(stack.first[0, 1]))


def _mixed(displays: Displays, spread: float, half_width: float) -> tuple[Floats, tuple[int, int]]:
    """Return the probabilities of sums over trials that share one recovered fraction.

    Each cell of the fraction is worked out at its centre and smeared over its width, in whole
    steps of the sum: a change of the fraction moves the sum along the lattice.
    """
    centres, weights, half = recovered_cells(half_width)
    steps, trials = displays.amounts_steps, displays.trials
    amount = 1 + spread * _evenly(_count(displays, 1.0, spread))
    where = np.zeros(amount.size, dtype=np.intp)
    found = []
    for factor, weight in zip(centres, weights, strict=True):
        one = _one_trial(steps[0] * amount, steps[1] * factor * amount, where, displays)
        several = _added(one, trials)
        found.append((int(several.first[0, 0]), int(several.first[0, 1]), weight * several.p[0]))
    low = min(a for a, _, _ in found), min(b for _, b, _ in found)
    rows, columns = (max(f[side] + f[2].shape[side] for f in found) - low[side] for side in (0, 1))
    width = 2 * half * steps[1] * trials
    reach = math.ceil(0.5 * width + 0.5)
    total = np.zeros((rows, columns + 2 * reach))
    for a, b, p in found:
        row, column = a - low[0], b - low[1] + reach
        total[row : row + p.shape[0], column : column + p.shape[1]] += p
    edges = np.clip(np.arange(-reach, reach + 2) - 0.5, -0.5 * width, 0.5 * width)
    smeared = np.zeros_like(total)
    for shift, part in zip(range(-reach, reach + 1), np.diff(edges) / width, strict=True):
        smeared += part * np.roll(total, shift, axis=1)
    return smeared, (low[0], low[1] - reach)
