"""Chance of each verdict, from the joint distribution of both mean amounts.

Candidate k is compatible where |n_produced − r_k n_consumed| ≤ t_k: a strip in the plane of the
two mean amounts. With a recovery allowance t_k grows with n_produced. Display readings put the
amounts on a lattice (:mod:`stoichkit.lattices`), whose probabilities are summed exactly; every
other error is continuous. No random numbers.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from .digits import DigitBlock, split_narrow, worst_position_tails
from .distribution import SumDistribution
from .lattices import Lattice, Points
from .linear import EXCESS_LEVEL, LinearAmounts
from .shapes import Floats, Term

__all__ = [
    "Chances",
    "Rows",
    "Strips",
    "alarm_limits",
    "alarm_share",
    "between",
    "cells_of",
    "chances_of",
    "limit_mol",
    "limit_of",
    "washed_out",
]

_IN_STEPS, _IN_SPREADS = (2e-6, 2e-4), 8e-3
"""Accuracy of a limit: in display steps, of digits alone and with more; in uncertainties."""
_WASHED = 1e-3
_SMALL = 0.02
_TOLERANCE = 1e-4
"""Accuracy of continuous distribution functions here: chances are stated to 0.005."""
_CELLS = 33
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


def cells_of(terms: SumDistribution, most: int = _CELLS) -> tuple[Floats, Floats]:
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
    same = tuple(DigitBlock(b.kind, _rounded(b.steps), _rounded(b.noise), b.count) for b in blocks)
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
    """Distribution function of the produced mean amount, for each mean amount consumed.

    Parameters
    ----------
    joint : Lattice or Points
        Mean amounts without the continuous errors.
    consumed_error, produced_error : SumDistribution
        Independent continuous errors of the mean amounts, mol.
    """

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
    """Return the chance of each verdict.

    Parameters
    ----------
    rows : Rows
        Mean amounts.
    ratios : sequence of float
        Ratio of each candidate.
    strips : Strips
        Where each is compatible.
    truth : int
        Index of the true candidate.
    """
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
        return 1 if not error.terms else _CELLS
    narrowest = float((limits / np.maximum(ratios, 1e-300))[limits > 0].min())
    return min(max(1, math.ceil(2 * _FINE * _end(error, 5) / narrowest)), _CELLS)


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
