"""Joint distribution of both mean amounts, and the chance of each verdict that follows from it.

Readings are whole display steps, so the mean amounts lie on a lattice. Its probabilities are
summed exactly over the digits, at positions of the amounts between two steps that fill the stated
spread; no random numbers. A stated variation between trials moves the produced amount of each
before it is read. Every error but these is continuous.

What each pair of amounts would be judged to be is told by :mod:`stoichkit.planning.strips`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..decision.linear import LinearAmounts, SideBlock
from ..uncertainty.digits import DIFFERENCE, SINGLE, hump
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.sources import Floats
from .strips import Band, Strips, between, end_of

_LARGEST = 400
"""Steps, trials together, over which digits are summed."""
_PER_STEP, _PER_NOISY_STEP = 16, 6
"""Amounts tried between two display steps."""
_MOST_NODES = 801
_NODES_TOGETHER = 1024
"""Amounts tried where the trials truly differ as well."""
_FURTHEST = 3.5
"""Standard deviations of the variation between trials that are counted as digits."""
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
    variation : float
        Standard deviation of the part recovered from trial to trial, relative.
    variation_dof : float
        Degrees of freedom of that figure; infinite where it is exactly known.
    """

    trials: int
    amounts_steps: tuple[float, float]
    step_mol: tuple[float, float]
    noise: tuple[tuple[float, ...], tuple[float, ...]]
    shared_noise: float | None = None
    shared_sign: float = -1.0
    variation: float = 0.0
    variation_dof: float = math.inf

    def sigma(self, side: int) -> float:
        """Return the repeatability of one amount in one trial, in steps."""
        extra = () if self.shared_noise is None else (self.shared_noise,)
        return math.hypot(*self.noise[side], *extra)

    def reach(self, side: int) -> float:
        """Return how far from the true amount the digits of one trial lie."""
        return 1.0 + _REACH * self.sigma(side)

    def coarse(self, spread: float, *, scale: float = 1.0) -> bool:
        """Return whether digits may matter: not where there are very many steps."""
        apart = self.variation * _FURTHEST
        widest = max(
            2 * (spread + (apart if side else 0.0)) * scale * x
            + 2.5 * _REACH * self.sigma(side)
            + 2
            for side, x in enumerate(self.amounts_steps)
        )
        return self.trials * widest <= _LARGEST


def displays_of(
    linear: LinearAmounts, sides: tuple[SideBlock, SideBlock], trials: int
) -> Displays | None:
    """Return the displays of a nominal lab, or None if its digits cannot be summed."""
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
    differ = next((s for s in linear.sources if s.kind == "variation"), None)
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
        variation=0.0 if differ is None else differ.scale,
        variation_dof=math.inf if differ is None else differ.dof,
    )


def lattice_of(displays: Displays, *, spread: float) -> Lattice:
    """Return the probabilities of the mean amounts over equal trials, read from displays."""
    if displays.variation:
        stack = _differing(displays, spread)
    else:
        stack = stack_of(displays, np.ones(1), spread=spread)
    p, first = stack.p[0], stack.first[0]
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
        p_a = hump(error_a, len(displays.noise[0]), math.hypot(*displays.noise[0]), many=0)
        p_b = hump(error_b, len(displays.noise[1]), math.hypot(*displays.noise[1]), many=0)
        joint = p_a[:, :, None] * p_b[:, None, :]
    else:
        joint = _sharing(error_a, error_b, displays)
    begin = np.unique(which, return_index=True)[1]
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
    shared = displays.shared_noise
    assert shared is not None
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


def _differing(displays: Displays, spread: float) -> Stack:
    """Return the probabilities of sums over trials that truly differ in what is recovered."""
    from scipy.special import ndtri, stdtrit

    u = _evenly(_NODES_TOGETHER)
    # an even filling of the square: the second coordinate is a golden-ratio sequence
    v = np.modf(_GOLDEN * (np.arange(u.size) + 0.5))[0] if spread else 0.5 * (u + 1)
    dof = displays.variation_dof
    part = 1 + displays.variation * np.asarray(ndtri(v) if math.isinf(dof) else stdtrit(dof, v))
    a, b = displays.amounts_steps
    amount = 1 + spread * u
    where = np.zeros(u.size, dtype=np.intp)
    return _added(_one_trial(a * amount, b * amount * part, where, displays), displays.trials)


_TOLERANCE = 1e-4
"""Accuracy of continuous distribution functions here: chances are stated to 0.005."""
_OUTCOME_CELLS = 33
_NEIGHBOURS = 3
_FINE = 20
"""Cells of the consumed amount's error in the half-width of the narrowest strip."""


@dataclass(frozen=True, slots=True)
class Chances:
    """Chance of each verdict when one candidate is true; the five add up to 1.

    Attributes
    ----------
    right : float
        The true candidate is singled out.
    wrong : float
        Another candidate is singled out.
    not_told_apart : float
        Two or more candidates are compatible, or one while nothing shows that anything reacted.
    none_fits : float
        No candidate is compatible.
    cannot_be_judged : float
        An amount lies below zero beyond what the readings explain.
    labs : int
        Labs simulated, from a fixed seed, to find these chances; 0 where they are exact.
    """

    right: float
    wrong: float
    not_told_apart: float
    none_fits: float
    cannot_be_judged: float = 0.0
    labs: int = 0

    @property
    def standard_error(self) -> float:
        """Sampling error of ``right`` from the labs simulated; 0 where none were.

        >>> round(Chances(0.9, 0.0, 0.1, 0.0, labs=10_000).standard_error, 6)
        0.003
        """
        variance = max(self.right * (1 - self.right), 0.0)  # right may be 1 and a last digit
        return math.sqrt(variance / self.labs) if self.labs else 0.0


PARTS = ("right", "wrong", "not_told_apart", "none_fits", "cannot_be_judged")
"""Outcomes of a lab, as fields of chances and of counts."""


def mixed(found: Sequence[Chances], weights: Iterable[float] | None = None) -> Chances:
    """Return the average of some chances, with equal weights if none are given.

    >>> mixed([Chances(0.9, 0.0, 0.1, 0.0), Chances(0.7, 0.1, 0.2, 0.0)]).not_told_apart
    0.15000000000000002
    """
    shares = [1 / len(found)] * len(found) if weights is None else list(weights)
    each = (sum(w * getattr(f, p) for w, f in zip(shares, found, strict=True)) for p in PARTS)
    return chances_from(each, labs=sum(f.labs for f in found))


def chances_from(parts: Iterable[float], *, labs: int = 0) -> Chances:
    """Return chances from those of each outcome, in the order of ``PARTS``.

    >>> chances_from([0.9, 0.0, 0.1, 0.0, 0.0]).right
    0.9
    """
    right, wrong, several, none, cannot = parts
    return Chances(right, wrong, several, none, cannot, labs)


def cells_of(terms: SumDistribution, most: int = _OUTCOME_CELLS) -> tuple[Floats, Floats]:
    """Return centres and probabilities of equal cells of a continuous error."""
    if not terms.terms or most == 1:
        return np.zeros(1), np.ones(1)
    edges = np.linspace(-1, 1, most + 1) * end_of(terms, 5)
    cumulative = SumDistribution(terms.terms, tolerance=_TOLERANCE).cdf(edges)
    cumulative[0], cumulative[-1] = 0.0, 1.0
    return 0.5 * (edges[1:] + edges[:-1]), np.diff(cumulative)


class _Step:
    """Distribution function of a continuous error, tabulated."""

    def __init__(self, error: SumDistribution) -> None:
        error = SumDistribution(error.terms, tolerance=_TOLERANCE)
        self.end = end_of(error, 6)
        self.x = np.linspace(-self.end, self.end, 513)
        self.y = error.cdf(self.x)

    def __call__(self, x: Floats) -> Floats:
        return np.asarray(np.interp(x, self.x, self.y, left=0.0, right=1.0))


class Rows:
    """Distribution function of the produced mean amount, for each mean amount consumed."""

    def __init__(
        self,
        joint: Lattice | Points,
        consumed_error: SumDistribution,
        produced_error: SumDistribution,
    ) -> None:
        self.consumed_error = consumed_error
        self._error = _Step(produced_error) if produced_error.terms else None
        end = 0.0 if self._error is None else self._error.end
        self.joint = joint
        self.consumed = joint.consumed
        if isinstance(joint, Points):
            self.low, self.high = joint.produced - end, joint.produced + end
            return
        used = joint.p > 0
        last = joint.produced.size - 1
        self.low = joint.produced[used.argmax(axis=1)] - end
        self.high = joint.produced[last - used[:, ::-1].argmax(axis=1)] + end
        step = joint.step_mol
        self._start, self._grid, self._near = float(joint.produced[0]), step, 0
        if self._error is not None:
            self._near = math.ceil(end / step)
        self._smooth = self._near > _NEIGHBOURS
        if self._smooth:
            self._tabulate(joint, produced_error, end)
            return
        self._p = np.pad(joint.p, ((0, 0), (self._near, self._near)))
        self._sum = np.zeros((joint.p.shape[0], self._p.shape[1] + 1))
        np.cumsum(self._p, axis=1, out=self._sum[:, 1:])
        self._start -= self._near * step

    def _tabulate(self, joint: Lattice, error: SumDistribution, end: float) -> None:
        """Tabulate the distribution functions on a grid fine beside the continuous error."""
        assert self._error is not None
        fine = max(2, math.ceil(6 * joint.step_mol / end_of(error, 1)))
        self._grid = joint.step_mol / fine
        extra = math.ceil(end / self._grid)
        self._start -= extra * self._grid
        size = (joint.produced.size - 1) * fine + 2 * extra + 1
        grid = self._start + self._grid * np.arange(size)
        self._sum = joint.p @ self._error(grid - joint.produced[:, None])

    @property
    def band(self) -> Band:
        """The amounts that may be found."""
        error = end_of(self.consumed_error, 6) if self.consumed_error.terms else 0.0
        return Band(self.consumed, self.low, self.high, error)

    def cdf(self, rows: NDArray[np.intp], y: Floats) -> Floats:
        """Return P(this row, produced ≤ y) for rows, shape (n,), and amounts y, shape (n, …)."""
        rows = rows.reshape(rows.size, *[1] * (y.ndim - 1))
        if isinstance(self.joint, Points):
            behind = y - self.joint.produced[rows]
            chance = (behind >= 0).astype(np.float64)
            if self._error is not None:
                chance = self._error(behind)
            return np.asarray(self.joint.weight[rows] * chance)
        place = (y - self._start) / self._grid
        last = self._sum.shape[1] - 1
        if self._smooth:
            place = np.clip(place, 0, last)
            before = np.minimum(place.astype(np.intp), last - 1)
            flat = self._sum.ravel()
            index = before + rows * (last + 1)
            return np.asarray(flat[index] + (place - before) * (flat[index + 1] - flat[index]))
        if self._error is None:
            passed = np.clip(place + 1, 0, last).astype(np.intp)
            return np.asarray(self._sum.ravel()[passed + rows * (last + 1)])
        near = self._near
        nearest = np.clip(np.floor(place + 0.5), near, last - 1 - near).astype(np.intp)
        out = self._sum.ravel()[nearest - near + rows * (last + 1)]
        for k in range(-near, near + 1):
            chance = self._error(y - (self._start + self._grid * (nearest + k)))
            out = out + self._p.ravel()[nearest + k + rows * last] * chance
        return np.asarray(out)


def chances_of(rows: Rows, strips: Strips, truth: int) -> Chances:
    """Return the chance of each verdict; ``truth`` is the index of the true candidate."""
    error = rows.consumed_error
    shift, weight = cells_of(error, _cells_needed(error, strips))
    furthest = float(rows.high.max() - rows.low.min()) + 1.0
    bottom, top = float(rows.low.min()) - furthest, float(rows.high.max()) + furthest
    floor = max(bottom, -strips.floors_mol[1])
    consumed = rows.consumed[:, None] + shift
    every = np.arange(rows.consumed.size)
    lower, upper, cut = strips.regions(consumed)
    edges, alone, several, mine = between(
        lower.clip(floor, top), upper.clip(floor, top), cut, strips.which == truth
    )
    mass = np.diff(rows.cdf(every, edges), axis=2)
    inside = total = 1.0
    judged = weight
    if min(strips.floors_mol) < math.inf:  # where some amounts cannot be judged
        ends = np.broadcast_to([bottom, floor, top], (every.size, 3))
        start, below, above = rows.cdf(every, ends).T
        judged = (consumed >= -strips.floors_mol[0]) * weight  # (rows, cells)
        inside = float((judged * (above - below)[:, None]).sum())
        total = float((above - start).sum())
    one = np.where(alone, mass, 0.0)
    right = float((judged * np.where(mine, one, 0.0).sum(axis=2)).sum())
    wrong = float((judged * one.sum(axis=2)).sum()) - right
    more = float((judged * np.where(several, mass, 0.0).sum(axis=2)).sum())
    counts = np.maximum([right, wrong, more, inside - right - wrong - more, total - inside], 0.0)
    return chances_from((counts / counts.sum()).tolist())


def _cells_needed(error: SumDistribution, strips: Strips) -> int:
    """Return into how many cells the consumed amount's error is cut: fine beside the strips."""
    if not error.terms:
        return 1
    narrowest = strips.narrowest_mol
    if not narrowest:
        return _OUTCOME_CELLS
    return min(max(1, math.ceil(2 * _FINE * end_of(error, 5) / narrowest)), _OUTCOME_CELLS)
