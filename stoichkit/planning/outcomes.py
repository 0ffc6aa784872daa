"""Joint distribution of both mean amounts, and the chance of each verdict that follows from it.

Readings are whole display steps, so the mean amounts lie on a lattice. Its probabilities are
summed exactly over the digits, at positions of the amounts between two steps that fill the stated
spread; no random numbers. A recovery allowance, shared by the trials, moves the produced amount
before it is read.

Candidate k is compatible where |n_produced − r_k n_consumed| ≤ t_k: a strip in the plane of the
two mean amounts. With a recovery allowance t_k grows with n_produced. Every error but that of the
displays is continuous.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..decision.linear import EXCESS_LEVEL, LinearAmounts, SideBlock
from ..uncertainty.digits import (
    DIFFERENCE,
    SINGLE,
    DigitBlock,
    hump,
    split_narrow,
    worst_position_tails,
)
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.sources import Floats, Term

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
    """Return the displays of a nominal lab, or None if its digits cannot be summed."""
    blocks = [s.block for s in sides]
    if any(b.kind not in (DIFFERENCE, SINGLE) or b.count != trials or b.together for b in blocks):
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
    """Return the probabilities of the mean amounts over equal trials, read from displays."""
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
        p_a = hump(error_a, len(displays.noise[0]), math.hypot(*displays.noise[0]), many=0)
        p_b = hump(error_b, len(displays.noise[1]), math.hypot(*displays.noise[1]), many=0)
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


_IN_STEPS, _IN_SPREADS = (2e-6, 2e-4), 8e-3
"""Accuracy of a limit: in display steps, of digits alone and with more; in uncertainties."""
_WASHED = 1e-3
_SMALL = 0.02
_TOLERANCE = 1e-4
"""Accuracy of continuous distribution functions here: chances are stated to 0.005."""
_OUTCOME_CELLS = 33
_NEIGHBOURS = 3
_FINE = 20
"""Cells of the consumed amount's error in the half-width of the narrowest strip."""


@dataclass(frozen=True, slots=True)
class Chances:
    """Chance of each verdict when one candidate is true; the four add up to 1.

    Attributes
    ----------
    right : float
        The true candidate is singled out.
    wrong : float
        Another candidate is singled out.
    not_told_apart : float
        Two or more candidates are compatible.
    none_fits : float
        No candidate is compatible.
    """

    right: float
    wrong: float
    not_told_apart: float
    none_fits: float


@dataclass(frozen=True, slots=True, eq=False)
class Strips:
    """Largest |n_produced − r n_consumed| that leaves each candidate compatible.

    Attributes
    ----------
    edges_mol : ndarray, shape (s − 1,)
        Produced amounts between which the limits are the same, rising.
    limits_mol : ndarray, shape (s, candidates)
        A negative limit: never compatible.
    """

    edges_mol: Floats
    limits_mol: Floats

    def __iter__(self) -> Iterator[tuple[float, float, Floats]]:
        """Yield the least and largest produced amount and the limits there."""
        ends = [-math.inf, *self.edges_mol.tolist(), math.inf]
        yield from zip(ends[:-1], ends[1:], self.limits_mol, strict=True)

    def at_least(self, limits_mol: Sequence[float]) -> Strips:
        """Return these strips with no limit below those given."""
        return Strips(self.edges_mol, np.maximum(self.limits_mol, limits_mol))


def cells_of(terms: SumDistribution, most: int = _OUTCOME_CELLS) -> tuple[Floats, Floats]:
    """Return centres and probabilities of equal cells of a continuous error."""
    if not terms.terms or most == 1:
        return np.zeros(1), np.ones(1)
    edges = np.linspace(-1, 1, most + 1) * _end(terms, 5)
    cumulative = SumDistribution(terms.terms, tolerance=_TOLERANCE).cdf(edges)
    cumulative[0], cumulative[-1] = 0.0, 1.0
    return 0.5 * (edges[1:] + edges[:-1]), np.diff(cumulative)


def _end(error: SumDistribution, deviations: float) -> float:
    """Return how far a continuous error reaches."""
    width = error.spread if math.isinf(error.variance) else error.standard_deviation
    return min(error.bound, deviations * width)


class _Step:
    """Distribution function of a continuous error, tabulated."""

    def __init__(self, error: SumDistribution) -> None:
        error = SumDistribution(error.terms, tolerance=_TOLERANCE)
        self.end = _end(error, 6)
        self.x = np.linspace(-self.end, self.end, 513)
        self.y = error.cdf(self.x)

    def __call__(self, x: Floats) -> Floats:
        return np.asarray(np.interp(x, self.x, self.y, left=0.0, right=1.0))


def limit_mol(linear: LinearAmounts, ratio: float, alpha: float) -> float:
    """Return the largest |mean of D|, mol, at which a ratio is still compatible."""
    blocks, rest = linear.blocks(ratio, 1.0)
    return limit_of(blocks, rest, alpha)


def limit_of(
    blocks: Sequence[DigitBlock], rest: Sequence[Term], alpha: float, *, rough: bool = False
) -> float:
    """Return the largest error of display readings and continuous terms that has tail ``alpha``.

    It is taken at the worst position of the amounts; ``rough`` is to 0.004 standard uncertainties.
    """
    if not blocks:
        error = SumDistribution(rest)
        return error.half_width(1 - alpha) if error.terms else 0.0
    wide, narrow = split_narrow(rest, blocks)
    if rough:
        size = SumDistribution([*wide, *(t for b in blocks for t in b.terms())]).spread
        wide = [t for t in wide if t.scale > _SMALL * size]
    # what is far below any accuracy must not keep equal limits apart
    same = tuple(replace(b, steps=_rounded(b.steps), noise=_rounded(b.noise)) for b in blocks)
    return narrow + _digit_limit(same, tuple(wide), alpha, rough)


def _rounded(values: Iterable[float]) -> tuple[float, ...]:
    return tuple(float(f"{v:.12g}") for v in values)


@lru_cache(maxsize=4096)
def _digit_limit(
    blocks: tuple[DigitBlock, ...], rest: tuple[Term, ...], alpha: float, rough: bool
) -> float:
    """Return the largest error whose tail probability is alpha or more; none of it narrow."""
    none = np.zeros(1)

    def excess(value: float) -> float:
        tail = float(worst_position_tails(np.array([value]), blocks, rest, none)[0])
        return math.log(max(tail, 1e-20) / alpha)

    spread = SumDistribution([t for b in blocks for t in b.terms()] + list(rest)).spread
    step = sum(max(b.steps) for b in blocks)
    resolution = max(_IN_STEPS[bool(rest)] * step, _IN_SPREADS * spread if rough else 0.0)
    low, at_low = 0.0, -math.log(alpha)
    high = 2.0 * spread
    at_high = excess(high)
    while at_high >= 0:
        low, at_low = high, at_high
        # as if tails fell as exp(-x²), and a little further
        high = 1.02 * low * math.sqrt(math.log(alpha) / min(math.log(alpha) + at_low, -1e-3))
        high = min(high, low + max(step, 0.2 * spread))
        at_high = excess(high)
    kept = 0
    while high - low > resolution:
        edge = 0.4 * resolution / (high - low)
        share = min(max(at_low / (at_low - at_high), edge), 1 - edge)
        if abs(kept) > 2:
            share = 0.5
        middle = math.sqrt(low * low + share * (high * high - low * low))
        at_middle = excess(middle)
        # an edge kept twice counts half, so that both close in
        if at_middle >= 0:
            low, at_low, kept = middle, at_middle, max(kept, 0) + 1
            at_high *= 0.5 if kept > 1 else 1.0
        else:
            high, at_high, kept = middle, at_middle, min(kept, 0) - 1
            at_low *= 0.5 if kept < -1 else 1.0
    return 0.5 * (low + high) if rough else low


def washed_out(blocks: Sequence[DigitBlock], rest: Sequence[Term]) -> tuple[bool, ...]:
    """Return for each of the two coarsest displays whether nothing is left of its digits."""
    coarse = sorted(blocks, key=lambda b: -max(b.steps))
    wide = split_narrow(rest, blocks)[0] if blocks else []
    other = SumDistribution(wide + [t for b in coarse[2:] for t in b.terms()])
    left = [other.characteristic_function(2 * math.pi / np.asarray(b.steps)) for b in coarse[:2]]
    return tuple(bool(np.abs(a).max() < _WASHED) for a in left)


def alarm_limits(linear: LinearAmounts, ratios: list[float], alpha: float) -> list[float]:
    """Return the limits in a lab whose trials scatter too much by chance (median such lab)."""
    from scipy.special import chdtri, stdtrit

    dof = linear.trials - 1
    spread = math.sqrt(float(chdtri(dof, EXCESS_LEVEL / 2)) / dof)
    t = float(stdtrit(dof, 1 - alpha / 2))
    return [t * spread * math.sqrt(linear.own_variance(r, 1.0)) for r in ratios]


def alarm_share(linear: LinearAmounts, ratio: float) -> float:
    """Return how many labs scatter too much by chance; the square is a fit to simulated labs."""
    return EXCESS_LEVEL * (1 - (1 - linear.noise_share(ratio, 1.0)) ** 2)


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
        pad = self._near + 1
        self._p = np.pad(joint.p, ((0, 0), (pad, pad)))
        self._sum = np.zeros((joint.p.shape[0], self._p.shape[1] + 1))
        np.cumsum(self._p, axis=1, out=self._sum[:, 1:])
        self._start -= pad * step

    def _tabulate(self, joint: Lattice, error: SumDistribution, end: float) -> None:
        """Tabulate the distribution functions on a grid fine beside the continuous error."""
        assert self._error is not None
        fine = max(2, math.ceil(6 * joint.step_mol / _end(error, 1)))
        self._grid = joint.step_mol / fine
        extra = math.ceil(end / self._grid) + 1
        self._start -= extra * self._grid
        size = (joint.produced.size - 1) * fine + 2 * extra + 1
        grid = self._start + self._grid * np.arange(size)
        self._sum = joint.p @ self._error(grid - joint.produced[:, None])

    def distance(self, ratio: float) -> float:
        """Return the least |produced − ratio × consumed| that can be found, mol; 0 or more."""
        above = self.low - ratio * self.consumed
        below = ratio * self.consumed - self.high
        error = ratio * _end(self.consumed_error, 6) if self.consumed_error.terms else 0.0
        return max(float(np.maximum(above, below).min()) - error, 0.0)

    def cdf(self, rows: NDArray[np.intp], y: Floats) -> Floats:
        """Return P(this row, produced ≤ y) for rows, shape (n,), and amounts y, shape (n, …)."""
        rows = rows.reshape(-1, *[1] * (y.ndim - 1))
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


def chances_of(
    rows: Rows,
    ratios: Sequence[float],
    strips: Strips,
    truth: int,
) -> Chances:
    """Return the chance of each verdict."""
    r, error = np.asarray(ratios), rows.consumed_error
    shift, weight = cells_of(error, _cells_needed(error, r, strips))
    furthest = float(rows.high.max() - rows.low.min()) + 1.0
    counts = np.zeros(4)
    for low, high, limits in strips:
        live = np.flatnonzero((rows.high >= low) & (rows.low <= high))
        kept = np.flatnonzero(limits >= 0)
        if not live.size:
            continue
        low = max(low, float(rows.low.min()) - furthest)
        high = min(high, float(rows.high.max()) + furthest)
        ends = np.array([[low, high]] * live.size)
        inside = rows.cdf(live, ends) @ np.array([-1.0, 1.0])
        if not kept.size:
            counts[3] += inside.sum()
            continue
        centre = (rows.consumed[live][:, None] + shift)[:, :, None] * r[kept]
        half = limits[kept] + 1e-9 * limits.max()
        found = weight @ _tally(rows, live, centre, half, (low, high), kept == truth)
        counts += [*found, inside.sum() - found.sum()]
    counts = np.maximum(counts, 0.0)
    right, wrong, several, none = (counts / counts.sum()).tolist()
    return Chances(right, wrong, several, none)


def _cells_needed(error: SumDistribution, ratios: Floats, strips: Strips) -> int:
    """Return into how many cells the consumed amount's error is cut: fine beside the strips."""
    limits = strips.limits_mol
    if not error.terms or not (limits > 0).any():
        return 1 if not error.terms else _OUTCOME_CELLS
    narrowest = float((limits / np.maximum(ratios, 1e-300))[limits > 0].min())
    return min(max(1, math.ceil(2 * _FINE * _end(error, 5) / narrowest)), _OUTCOME_CELLS)


def _tally(
    rows: Rows,
    live: NDArray[np.intp],
    centre: Floats,
    half: Floats,
    ends: tuple[float, float],
    true: NDArray[np.bool_],
) -> Floats:
    """Return chances of right, wrong and several in each cell of the consumed error, (cells, 3).

    The middle of each candidate's strip, ``centre``, has shape (rows, cells, candidates).
    """
    edges = np.concatenate([centre - half, centre + half], axis=2).clip(*ends)
    edges, number, mine = between(edges, true)
    mass = np.diff(rows.cdf(live, edges), axis=2)
    alone = np.where(number == 1, mass, 0.0)
    right = np.where(mine, alone, 0.0).sum(axis=(0, 2))
    several = np.where(number > 1, mass, 0.0).sum(axis=(0, 2))
    return np.stack([right, alone.sum(axis=(0, 2)) - right, several], axis=1)


def between(
    edges: Floats, true: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.intp], NDArray[np.bool_]]:
    """Sort the edges of strips and tell what is compatible between one edge and the next.

    ``edges``, shape (…, 2 n), holds the lower edges of all strips, then the upper ones; ``true``
    says which strip is that of the true candidate. Returns the rising edges, and for each gap,
    shape (…, 2 n − 1), how many strips cover it and whether that of the true candidate does.
    """
    order = edges.argsort(axis=-1)
    change = np.repeat([1, -1], true.size)
    number = change[order].cumsum(axis=-1)[..., :-1]
    mine = (change * np.tile(true, 2))[order].cumsum(axis=-1)[..., :-1] > 0
    return np.take_along_axis(edges, order, axis=-1), number, mine
