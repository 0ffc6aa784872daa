"""Which amounts each candidate is compatible with, and which show nothing or cannot be judged.

A ratio ρ as measured is compatible where |n_produced − ρ n_consumed| ≤ t(ρ): a strip in the plane
of the two mean amounts. A candidate allows every ρ from lo·r to hi·r, its own ratio times what may
be recovered, so it is compatible between two edges: the lowest and the highest of its strips at
each amount consumed. With a stated variation between trials t grows with n_produced.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from ..decision.linear import (
    BELOW_ZERO_LEVEL,
    EXCESS_LEVEL,
    LinearAmounts,
    towards,
    variation_term,
)
from ..uncertainty.digits import DigitBlock, split_narrow, worst_position_tails
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.sources import Floats, Shape, Term

_IN_STEPS = (2e-6, 2e-4)
"""Accuracy of a limit in display steps, of digits alone and with more."""
_PER_OCTAVE = 16
_WIDTHS = 16.0
"""A variation less than the largest by this factor counts as that much less."""


@dataclass(frozen=True, slots=True, eq=False)
class Strips:
    """Where each candidate is compatible, between its lower and its upper edge.

    Attributes
    ----------
    ratios : ndarray, shape (candidates, 2, j)
        Ratios as measured whose strips make up the lower (0) and the upper (1) edge.
    limits_mol : ndarray, shape (s, candidates, 2, j)
        Largest |n_produced − ρ n_consumed| that leaves each compatible; −inf for one that
        decides nothing.
    edges_mol : ndarray, shape (s − 1,)
        Produced amounts between which the limits are the same, rising.
    floors_mol : (float, float)
        How far below zero the consumed and the produced amount may lie before nothing can be
        judged.
    shown : ndarray, shape (candidates, 3)
        Weight of n_consumed and of n_produced in the amount along each candidate's ray, and the
        amount up to which nothing shows that anything reacted.
    which : ndarray of int, shape (candidates,)
        Which of the candidates of the lab these are: those that any amounts come near.
    """

    ratios: Floats
    limits_mol: Floats
    edges_mol: Floats
    floors_mol: tuple[float, float]
    shown: Floats
    which: NDArray[np.intp]

    def at_least(self, limits_mol: Floats) -> Strips:
        """Return these strips with no limit below those given, shape (candidates, 2, j)."""
        return replace(self, limits_mol=np.maximum(self.limits_mol, limits_mol))

    @property
    def narrowest_mol(self) -> float:
        """Least half-width of a strip along the consumed amount; 0 if there is none."""
        widths = self.limits_mol / np.maximum(self.ratios, 1e-300)
        return float(widths[widths > 0].min(initial=math.inf)) if (widths > 0).any() else 0.0

    def edges(self, consumed: Floats) -> tuple[Floats, Floats]:
        """Return the lower and upper edges at consumed amounts (…), each (…, candidates)."""
        centre = [consumed[..., None, None] * self.ratios[:, side] for side in (0, 1)]
        if not self.edges_mol.size:
            low, high = self.limits_mol[0, :, 0], self.limits_mol[0, :, 1]
            return (centre[0] - low).min(axis=-1), (centre[1] + high).max(axis=-1)
        lower, upper = np.full((2, *consumed.shape, len(self.ratios)), math.inf)
        upper = -upper
        for floor, ceiling, limits in self._pieces():
            ends = [
                (np.maximum(c - limits[:, side], floor), np.minimum(c + limits[:, side], ceiling))
                for side, c in enumerate(centre)
            ]
            found = [np.where(low <= high, (low, high)[side], (math.inf, -math.inf)[side])
                     for side, (low, high) in enumerate(ends)]  # fmt: skip
            lower = np.minimum(lower, found[0].min(axis=-1))
            upper = np.maximum(upper, found[1].max(axis=-1))
        empty = lower > upper
        return np.where(empty, 0.0, lower), np.where(empty, 0.0, upper)

    def _pieces(self) -> Iterator[tuple[float, float, Floats]]:
        """Yield the least and largest produced amount and the limits there."""
        ends = [-math.inf, *self.edges_mol.tolist(), math.inf]
        yield from zip(ends[:-1], ends[1:], self.limits_mol, strict=True)

    def regions(self, consumed: Floats) -> tuple[Floats, Floats, Floats | None]:
        """Return both edges and the produced amounts above which something is seen to react.

        The last is None where no candidate is compatible below such an amount.
        """
        lower, upper = self.edges(consumed)
        weight_a, weight_b, least = self.shown.T
        with np.errstate(over="ignore"):
            cut = (least - weight_a * consumed[..., None]) / weight_b
        return lower, upper, cut if (cut > lower).any() else None


def between(
    lower: Floats, upper: Floats, cut: Floats | None, true: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]:
    """Sort the edges of strips and tell what is compatible between one edge and the next.

    ``lower`` and ``upper`` have shape (…, n); ``cut``, of the same shape, is where each candidate
    begins to count as singled out if it is alone; ``true`` says which strip is that of the true
    candidate. Returns the rising edges, and for each gap between two whether one candidate alone
    is singled out, whether candidates are not told apart, and whether the true one is compatible.

    >>> lower, upper = np.array([0.0, 2.0]), np.array([3.0, 4.0])
    >>> edges, alone, several, mine = between(lower, upper, None, np.array([True, False]))
    >>> edges.tolist(), alone.tolist(), several.tolist(), mine.tolist()
    ([0.0, 2.0, 3.0, 4.0], [True, False, True], [False, True, False], [True, True, False])
    >>> between(lower, upper, np.array([1.0, 0.0]), np.array([True, False]))[1].tolist()
    [False, False, True, False, True]
    """
    n = lower.shape[-1]
    edges = np.concatenate([lower, upper] if cut is None else [lower, upper, cut], axis=-1)
    if cut is not None:
        edges = edges.clip(lower.min(), upper.max())
    order = edges.argsort(axis=-1)
    rising = np.take_along_axis(edges, order, axis=-1)
    change = np.repeat([1, -1, 0][: edges.shape[-1] // n], n)

    number = change[order].cumsum(axis=-1)[..., :-1]
    mine = (change * np.tile(true, change.size // n))[order].cumsum(axis=-1)[..., :-1] > 0
    alone, several = number == 1, number > 1
    if cut is not None:
        places = np.tile(np.arange(n), change.size // n)
        who = (change * places)[order].cumsum(axis=-1)[..., :-1].clip(0, n - 1)
        shown = np.take_along_axis(cut, who, axis=-1) <= rising[..., :-1]
        alone, several = alone & shown, several | (alone & ~shown)
    return rising, alone, several, mine


def end_of(error: SumDistribution, deviations: float) -> float:
    """Return how far a continuous error reaches."""
    width = error.spread if math.isinf(error.variance) else error.standard_deviation
    return min(error.bound, deviations * width)


def allowed_ratios(ratio: float, recovery: tuple[float, float]) -> Floats:
    """Return the ratios that are tested from the lower and from the upper end, shape (2, j).

    >>> allowed_ratios(2.0, (1.0, 1.0)).tolist()
    [[2.0], [2.0]]
    >>> allowed_ratios(2.0, (0.5, 1.0))[:, [0, -1]].tolist()
    [[1.0, 2.0], [2.0, 1.0]]
    """
    low, high = (ratio * f for f in recovery)
    if low == high:
        return np.full((2, 1), low)
    return np.array([towards(low, high), towards(high, low)])


@dataclass(frozen=True, slots=True, eq=False)
class Band:
    """The mean amounts that may be found: for each consumed one, the least and largest produced.

    Attributes
    ----------
    consumed, low, high : ndarray, shape (n,)
    error_mol : float
        How far the consumed amounts may lie from these.
    """

    consumed: Floats
    low: Floats
    high: Floats
    error_mol: float = 0.0

    def distance(self, low: float, high: float) -> float:
        """Return the least distance of produced amounts from those two ratios allow; 0 or more."""
        one, other = low * self.consumed, high * self.consumed
        if low < high:
            one, other = np.minimum(one, other), np.maximum(one, other)
        away = np.maximum(self.low - other, one - self.high)
        return max(float(away.min()) - high * self.error_mol, 0.0)


def strips_of(
    linear: LinearAmounts,
    ratios: Sequence[float],
    recovery: tuple[float, float],
    alpha: float,
    *,
    air: tuple[float, float] = (1.0, 1.0),
    band: Band | None = None,
    uneven: float = 0.0,
    averaged: bool = False,
) -> Strips:
    """Return where each candidate is compatible.

    Parameters
    ----------
    linear : LinearAmounts
        The lab as it is planned.
    ratios : sequence of float
        Of the candidates.
    recovery : (float, float)
    alpha : float
        1 − coverage.
    air : (float, float)
        Between which factors the buoyancy of air may have changed the ratio. They are so near 1
        that the limits are those without it.
    band : Band, optional
        The amounts that may be found; limits that none of them come near are not worked out.
        A stated variation between trials needs it.
    uneven : float
        Relative spread of the amounts of the trials within a lab.
    averaged : bool
        Whether the limits are averaged over the positions of the amounts between two display steps,
        instead of those at the worst one, as the test has them: never wider, and many times
        quicker. :func:`fits_at_worst` says what they leave out.
    """
    varied = _Varied.of(linear, band, uneven)
    limits = _Limits(linear, alpha, varied, band, recovery[0] < recovery[1], averaged)
    ends = [(r * recovery[0] * air[0], r * recovery[1] * air[1]) for r in ratios]
    which = [i for i, (low, high) in enumerate(ends) if limits.near(low, high)] or [0]
    each = np.array([allowed_ratios(ratios[i], recovery) for i in which])
    found = np.empty((varied.grades.size, *each.shape))
    for index in np.ndindex(*each.shape):
        end = float(each[index[0], index[1], 0])
        found[:, *index] = limits.of(float(each[index]), end)
    kept = [ratios[i] * sum(recovery) / 2 for i in which]
    return Strips(
        each * np.reshape(air, (2, 1)),
        found + 1e-9 * found.max(),
        varied.edges_mol,
        _floors(linear, band),
        # a lone candidate is not told from nothing at all
        _shown(linear, kept, alpha if len(ratios) > 1 else 1.0, band),
        np.array(which),
    )


def fits_at_worst(
    linear: LinearAmounts, ratios: Iterable[float], consumed: Floats, produced: Floats, alpha: float
) -> NDArray[np.bool_]:
    """Return which mean amounts any of some ratios leaves compatible, at the worst position.

    Only of those beyond its averaged limit; where no digits matter that is the limit.
    """
    band = Band(consumed, produced, produced)
    limits = _Limits(linear, alpha, _Varied.of(linear, band, 0.0), band, False, False)
    found = np.zeros(consumed.size, dtype=np.bool_)
    for ratio in ratios:
        left = np.flatnonzero(~found)
        found[left] = limits.fits(ratio, left)
    return found


@dataclass(frozen=True, slots=True, eq=False)
class _Varied:
    """The stated variation between trials as the test sees it.

    It is a part of the produced amount found; its scale is rounded up to one of 16 equal ratios
    within a factor of two, as the test does, so between some amounts it is the same.
    """

    grades: Floats
    edges_mol: Floats
    per_mol: float
    dof: float
    index: tuple[int, ...]

    @classmethod
    def of(cls, linear: LinearAmounts, band: Band | None, uneven: float) -> _Varied:
        """Return that of a planned lab; a single grade without one."""
        index = tuple(i for i, s in enumerate(linear.sources) if s.kind == "variation")
        if not index or band is None:
            return cls(np.zeros(1), np.zeros(0), 0.0, math.inf, index)
        source, n = linear.sources[index[0]], linear.trials
        per_mol = source.scale * math.sqrt((1 + uneven**2 / 3 * (n - 1) / n) / n)
        widest = per_mol * max(abs(float(band.low.min())), abs(float(band.high.max())))
        least = max(per_mol * float(band.low.min()), widest / _WIDTHS)
        first, last = (math.ceil(_PER_OCTAVE * math.log2(v) - 1e-9) for v in (least, widest))
        grades = np.arange(first, last + 1.0)
        return cls(grades, 2.0 ** (grades[:-1] / _PER_OCTAVE) / per_mol, per_mol, source.dof, index)

    def terms(self, grade: float, digits: bool) -> list[Term]:
        """Return the variation at one grade; without digits the test rounds nothing up."""
        if not self.per_mol:
            return []
        scale = 2.0 ** ((grade - (0.0 if digits else 0.5)) / _PER_OCTAVE)
        return [variation_term(scale, self.dof)]


class _Limits:
    """Limits of one ratio after another, in each class of produced amounts."""

    def __init__(
        self,
        linear: LinearAmounts,
        alpha: float,
        varied: _Varied,
        band: Band | None,
        allowance: bool,
        averaged: bool,
    ) -> None:
        self.averaged = averaged
        self.linear, self.alpha, self.varied, self.band = linear, alpha, varied, band
        self.allowance = allowance
        self._errors: dict[float, tuple[list[DigitBlock], list[Term]]] = {}
        self._reaches: dict[float, float] = {}
        self._found: dict[float, Floats] = {}

    def _errors_of(self, ratio: float) -> tuple[list[DigitBlock], list[Term]]:
        """Return the displays and the terms but the variation."""
        if ratio not in self._errors:
            blocks, rest = self.linear.blocks(ratio, 1.0)
            if self.varied.per_mol:  # the variation is the last term
                rest = rest[:-1]
            self._errors[ratio] = blocks, rest
        return self._errors[ratio]

    def _reach(self, ratio: float) -> float:
        """Return what no limit is beyond."""
        if ratio not in self._reaches:
            blocks, rest = self._errors_of(ratio)
            every = [*rest, *self.varied.terms(self.varied.grades[-1], bool(blocks))]
            widest = SumDistribution([t for b in blocks for t in b.terms()] + every)
            # the inequality of Gauss, and a step for the worst position of each display
            reach = math.sqrt(4 / (9 * self.alpha)) * widest.spread
            reach += sum(max(b.steps) for b in blocks)
            self._reaches[ratio] = math.inf if math.isinf(widest.variance) else reach
        return self._reaches[ratio]

    def near(self, low: float, high: float) -> bool:
        """Return whether any amounts come near what two ratios allow."""
        if self.band is None:
            return True
        ends = {low, high}
        distance = self.band.distance(low, high)
        if distance == 0 or distance <= max(map(self._reach, ends)):
            return True
        if self.linear.trials == 1:
            return False
        return distance <= float(alarm_limits(self.linear, np.array([*ends]), self.alpha).max())

    def of(self, ratio: float, end: float) -> Floats:
        """Return the limit of one ratio.

        ``end`` is the ratio at this end of what is recovered: one far from it decides nothing,
        and where no amounts come near that end its ray alone is as good.
        """
        blocks, rest = self._errors_of(ratio)
        grades, band = self.varied.grades, self.band
        if self.allowance and band is not None:
            reach = self._reach(ratio)
            apart = abs(ratio - end) * (float(band.consumed.min()) - band.error_mol)
            if apart > reach or band.distance(ratio, ratio) > reach:
                return np.full(grades.size, 0.0 if ratio == end else -math.inf)
        if ratio not in self._found:
            varied = [self.varied.terms(g, bool(blocks)) for g in grades]
            if self.averaged:
                rest, blocks = [*(t for b in blocks for t in b.terms()), *rest], []
            found = [limit_of(blocks, [*rest, *v], self.alpha) for v in varied]
            self._found[ratio] = np.array(found)
        return self._found[ratio]

    def fits(self, ratio: float, which: NDArray[np.intp]) -> NDArray[np.bool_]:
        """Return which of the single amounts of the band the test leaves compatible."""
        assert self.band is not None
        blocks, rest = self._errors_of(ratio)
        produced = self.band.low[which]
        away = np.abs(produced - ratio * self.band.consumed[which])
        near = away <= self._reach(ratio) if blocks else np.zeros(away.size, dtype=np.bool_)
        grade = np.searchsorted(self.varied.edges_mol, produced)
        for place in np.unique(grade[near]).tolist():
            here = np.flatnonzero(near & (grade == place))
            varied = self.varied.terms(self.varied.grades[place], True)
            wide, narrow = split_narrow([*rest, *varied], blocks)
            value = np.maximum(away[here] - narrow, 0.0)
            tails = worst_position_tails(value, blocks, tuple(wide), np.zeros(value.size))
            near[here] = tails >= self.alpha
        return near


def _floors(linear: LinearAmounts, band: Band | None) -> tuple[float, float]:
    """Return how far below zero the mean amounts may lie; infinite where none come near that."""
    level = BELOW_ZERO_LEVEL / (2 * (linear.trials + 1) if linear.trials > 1 else 2)
    found = []
    for side, way in enumerate(((1.0, 0.0), (0.0, 1.0))):
        if band is not None:
            least = float((band.consumed if side == 0 else band.low).min())
            least -= 0.0 if side else band.error_mol
            if -least < 2 * linear.distribution(*way).spread:
                found.append(math.inf)
                continue
        found.append(limit_of(*linear.blocks(*way), level))
    return found[0], found[1]


def _shown(
    linear: LinearAmounts, ratios: Sequence[float], alpha: float, band: Band | None
) -> Floats:
    """Return the weights of both amounts along each ray, and the amount that shows no reaction."""
    found = np.full((len(ratios), 3), -math.inf)
    found[:, :2] = 1.0
    if alpha >= 1:
        return found
    least = math.inf
    if band is not None:  # the amount along a ray is not less certain than that consumed
        size = np.array([source.standard_uncertainty for source in linear.sources])
        widest = math.sqrt(3.0) * float(np.linalg.norm(size * linear.mean_coefficients()[0]))
        least = math.sqrt(2 / (9 * alpha)) * widest
    for i, ratio in enumerate(ratios):
        if band is not None:
            amounts = np.minimum(band.consumed - band.error_mol, band.low / ratio)
            if float(amounts.min()) > least:
                continue
        weight, terms = linear.along_ray(ratio)
        noise = math.hypot(*(t.scale for t in terms if t.shape is Shape.NORMAL))
        others = [t for t in terms if t.shape is not Shape.NORMAL]
        scales = _rounded([noise, *(t.scale for t in others)])
        least_mol = _one_sided(scales, tuple((t.shape, t.dof) for t in others), alpha)
        found[i] = weight, max((1 - weight) / ratio, 1e-300), least_mol
    return found


@lru_cache(maxsize=1024)
def _one_sided(
    scales: tuple[float, ...], shapes: tuple[tuple[Shape, float], ...], alpha: float
) -> float:
    """Return the amount that errors alone exceed with this chance; 0 or more.

    The first scale is that of a normal error, if any; the others are of the shapes given.
    """
    terms = [Term(s, scale, dof) for scale, (s, dof) in zip(scales[1:], shapes, strict=True)]
    terms += [Term(Shape.NORMAL, scales[0])] if scales[0] else []
    return SumDistribution(terms).half_width(1 - 2 * alpha) if terms and alpha < 0.5 else 0.0


def limit_mol(linear: LinearAmounts, ratio: float, alpha: float) -> float:
    """Return the largest |mean of D|, mol, at which a ratio is still compatible."""
    blocks, rest = linear.blocks(ratio, 1.0)
    return limit_of(blocks, rest, alpha)


def limit_of(blocks: Sequence[DigitBlock], rest: Sequence[Term], alpha: float) -> float:
    """Return the largest error of display readings and continuous terms that has tail ``alpha``.

    It is taken at the worst position of the amounts.
    """
    if not blocks:
        error = SumDistribution(rest)
        return error.half_width(1 - alpha) if error.terms else 0.0
    wide, narrow = split_narrow(rest, blocks)
    # what is far below any accuracy must not keep equal limits apart
    same = tuple(replace(b, steps=_rounded(b.steps), noise=_rounded(b.noise)) for b in blocks)
    return narrow + _digit_limit(same, tuple(wide), alpha)


def _rounded(values: Iterable[float]) -> tuple[float, ...]:
    return tuple(float(f"{v:.12g}") for v in values)


@lru_cache(maxsize=4096)
def _digit_limit(blocks: tuple[DigitBlock, ...], rest: tuple[Term, ...], alpha: float) -> float:
    """Return the largest error whose tail probability is alpha or more; none of it narrow."""
    none = np.zeros(1)

    def excess(value: float) -> float:
        tail = float(worst_position_tails(np.array([value]), blocks, rest, none)[0])
        return math.log(max(tail, 1e-20) / alpha)

    spread = SumDistribution([t for b in blocks for t in b.terms()] + list(rest)).spread
    step = sum(max(b.steps) for b in blocks)
    resolution = _IN_STEPS[bool(rest)] * step
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
    return low


def alarm_limits(linear: LinearAmounts, ratios: Floats, alpha: float) -> Floats:
    """Return the limits in a lab whose trials scatter too much by chance (median such lab).

    One for each of the ratios as measured, of any shape.
    """
    from scipy.special import chdtri, stdtrit

    dof = linear.trials - 1
    spread = math.sqrt(float(chdtri(dof, EXCESS_LEVEL / 2)) / dof)
    t = float(stdtrit(dof, 1 - alpha / 2))
    own = [linear.own_variance(r, 1.0) for r in ratios.ravel().tolist()]
    return np.asarray(t * spread * np.sqrt(np.reshape(own, ratios.shape)))


def alarm_share(
    linear: LinearAmounts, ratio: float, allowance: float, scales: Floats | float = 1.0
) -> Floats:
    """Return how many labs scatter too much by chance, at the amounts of the lab times each scale.

    The square is a fit to simulated labs. What a recovery of its own in each trial explains is no
    excess: two trials then lie apart by as much more as the allowance, a relative width, is wide.
    """
    from scipy.special import chdtrc, chdtri

    own = EXCESS_LEVEL * (1 - (1 - linear.noise_share(ratio, 1.0)) ** 2)
    variance = linear.own_variance(ratio, 1.0) * linear.trials
    if not allowance or not variance:
        return np.full(np.shape(scales), own)
    dof = linear.trials - 1
    wide = allowance * ratio * abs(linear.mean_consumed) * scales
    wide = wide * math.sqrt(dof / linear.trials / variance)
    least = math.sqrt(float(chdtri(dof, EXCESS_LEVEL)))
    return np.asarray(own * chdtrc(dof, (least + wide) ** 2) / EXCESS_LEVEL)
