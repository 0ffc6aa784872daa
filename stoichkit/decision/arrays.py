"""The commonest lab for many groups at once: two masses by difference on one balance, as arrays."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..chemistry.candidates import Candidate, plain_ratios
from ..chemistry.elements import molar_mass
from ..errors import ModelError, ReadingError
from ..experiments.checks import (
    checked_coverage,
    checked_looks,
    checked_recovery,
    checked_variation,
)
from ..experiments.looks import Looks
from ..experiments.parts import Variation
from ..experiments.record import Experiment
from ..measurement.buoyancy import NEGLIGIBLE, matters, unknown_factors
from ..measurement.displays import Balance
from ..uncertainty import entry
from ..uncertainty.digits import (
    DIFFERENCE,
    DigitBlock,
    distinct,
    narrow_limit,
    worst_position_tails,
)
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.sources import Floats, Number, Shape, Term, contributions, nominal
from ..uncertainty.tails import chi_squared_limit
from .linear import (
    BELOW_ZERO_LEVEL,
    EXCESS_LEVEL,
    SAME,
    rounding_excess,
    student_sums,
    to_mean,
    towards,
    unexplained,
    variation_term,
)
from .verdict import Reason, Verdict, verdict_of


@dataclass(frozen=True, slots=True)
class FourWeighings:
    """The readings of a lab that :func:`assess_weighings` can judge, in its order."""

    names: tuple[str, str, str, str]
    balance: Balance


def four_weighings(experiment: Experiment) -> FourWeighings | None:
    """Return the four weighings of a lab of two plain masses on one balance, or None.

    >>> from stoichkit import experiments
    >>> four_weighings(experiments.load("copper-silver")).names
    ('wire before', 'wire after', 'paper', 'paper + silver')
    """
    a, b = experiment.consumed, experiment.produced
    names = (a.span.high, a.span.low, b.span.low, b.span.high)
    balance = experiment.instruments[a.span.instrument]
    if (
        not (a.plain_mass and b.plain_mass)
        or a.span.instrument != b.span.instrument
        or not isinstance(balance, Balance)
        or len({*names}) < 4
    ):
        return None
    return FourWeighings(names, balance)


_TABLES = ("consumed_before_g", "consumed_after_g", "tare_g", "gross_g")


@dataclass(frozen=True, slots=True, eq=False)
class WeighingEvidence:
    """What the weighings of many groups say about the candidates.

    Attributes
    ----------
    names : tuple of str
        Candidates, in the order of the last axis.
    p_value : ndarray, shape (groups, candidates)
        As :class:`stoichkit.decision.evidence.CandidateEvidence`.
    compatible : ndarray of bool, shape (groups, candidates)
    n_consumed, n_produced : ndarray, shape (groups,)
        Mean amounts over the trials as measured, mol.
    coverage : float
    below_zero : ndarray of bool, shape (groups,)
        Whether an amount lies below zero beyond what the readings explain.
    nothing_reacted : ndarray of bool, shape (groups,)
        Whether a lone candidate fits readings that do not show that anything reacted.
    """

    names: tuple[str, ...]
    p_value: Floats
    compatible: NDArray[np.bool_]
    n_consumed: Floats
    n_produced: Floats
    coverage: float
    below_zero: NDArray[np.bool_]
    nothing_reacted: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.p_value)

    def verdict(self, group: int) -> Verdict:
        """Return the verdict of one group, counted from 0."""
        reason = None
        if self.below_zero[group]:
            reason = Reason.BELOW_ZERO
        elif self.nothing_reacted[group]:
            reason = Reason.NOTHING_REACTED
        return verdict_of(
            zip(self.names, self.compatible[group].tolist(), strict=True),
            self.coverage,
            reason=reason,
        )

    @property
    def kinds(self) -> list[str]:
        """Verdict kind of each group, as :class:`stoichkit.decision.VerdictKind` writes it."""
        return kinds_of(self.compatible, self.below_zero, self.nothing_reacted)

    @property
    def candidates(self) -> list[tuple[str, ...]]:
        """Names of the compatible candidates of each group; none where it cannot be judged."""
        return [
            tuple(n for n, ok in zip(self.names, row, strict=True) if ok and not below)
            for row, below in zip(self.compatible.tolist(), self.below_zero.tolist(), strict=True)
        ]


def kinds_of(
    compatible: NDArray[np.bool_],
    below_zero: NDArray[np.bool_],
    nothing_reacted: NDArray[np.bool_],
) -> list[str]:
    """Return the verdict kind of each group from its compatible candidates and its reason.

    >>> one = np.array([[True, False]] * 3)
    >>> kinds_of(one, np.array([False, True, False]), np.array([False, False, True]))
    ['singled_out', 'cannot_be_judged', 'not_told_apart']
    """
    number = np.minimum(compatible.sum(axis=1), 2)
    number[nothing_reacted & (number == 1)] = 2
    number[below_zero] = 3
    words = ("none_fits", "singled_out", "not_told_apart", "cannot_be_judged")
    return [words[i] for i in number.tolist()]


def assess_weighings(
    consumed_before_g: ArrayLike,
    consumed_after_g: ArrayLike,
    tare_g: ArrayLike,
    gross_g: ArrayLike,
    *,
    consumed: str,
    produced: str,
    candidates: Iterable[Candidate] | Mapping[str, Any],
    balance: Balance,
    coverage: float = 0.95,
    recovery: tuple[float, float] = (1.0, 1.0),
    variation: Variation | None = None,
    looks: Looks | None = None,
) -> WeighingEvidence:
    """Test candidates for many groups that weigh what was used up and what was made.

    Parameters
    ----------
    consumed_before_g, consumed_after_g : array_like, shape (groups,) or (groups, trials)
        Mass of the reactant with its vessel before and after the reaction, g.
    tare_g, gross_g : array_like, same shape
        Mass of the empty vessel and of the vessel with the product, g.
    consumed, produced : str
        Formulas of the substance used up and of the substance weighed as product.
    candidates : iterable of Candidate, or mapping of str to ratio
        Ratios are n_produced / n_consumed, e.g. ``{"copper(II)": 2}``.
    balance : Balance
        The one balance of all weighings.
    coverage : float
        Coverage probability, 0.5 to 0.9999.
    recovery : (float, float)
        Least and largest fraction of the product recovered and weighed as product; each trial's
        may be anything in between.
    variation : Variation, optional
        How much the trials truly differ; if left out, the readings decide as if they did not.
    looks : Looks, optional
        How often the verdict is asked for while trials are added; ``coverage`` is then that of all
        planned looks together, and that of the result what is left for one.

    Returns
    -------
    WeighingEvidence
        Equal, group by group, to :func:`stoichkit.assess` of the same readings.

    Raises
    ------
    ReadingError
        If the shapes differ or a reading is not a finite number.
    ModelError
        If the coverage or the recovery cannot be used, or no candidate is given.

    Examples
    --------
    >>> lab = assess_weighings(
    ...     [3.12, 2.87], [2.65, 2.85], [0.71, 0.70], [2.30, 0.75], consumed="Cu",
    ...     produced="Ag", candidates={"copper(I)": 1, "copper(II)": 2},
    ...     balance=Balance(readability_g=0.01))
    >>> lab.kinds, lab.candidates
    (['singled_out', 'not_told_apart'], [('copper(II)',), ('copper(I)', 'copper(II)')])
    """
    before, after, tare, gross = _checked_tables(
        consumed_before_g, consumed_after_g, tare_g, gross_g
    )
    coverage = checked_coverage(coverage, error=ModelError)
    recovery = checked_recovery(recovery, error=ModelError)
    variation = checked_variation(variation, error=ModelError)
    looks = checked_looks(looks, error=ModelError)
    if looks is not None:
        coverage = 1 - looks.level(1 - coverage, variation)
    balance = entry.record("balance", balance, Balance)
    if isinstance(candidates, Mapping):
        named = plain_ratios(candidates)
    else:
        named = entry.listed("candidates", candidates, Candidate)
    if not named:
        raise ModelError("No candidate is given.", allowed="one or more")
    masses = molar_mass(consumed), molar_mass(produced)
    tables = before, after, tare, gross
    lab = _Lab(tables, masses, balance, variation, recovery)
    ratios = [float(c.ratio) for c in named]
    p = np.column_stack([lab.with_air(r, recovery, 1 - coverage) for r in ratios])
    compatible = p >= 1 - coverage
    alone = np.flatnonzero(compatible.sum(axis=1) == 1) if len(named) > 1 else np.zeros(0, int)
    nothing = np.zeros(len(p), dtype=np.bool_)
    if alone.size:
        tested = np.ones(len(p))
        for i, ratio in enumerate(ratios):
            here = alone[compatible[alone, i]]
            low, high = (ratio * f for f in recovery)
            tested[here] = np.clip(lab.found[here], low, high)
        nothing[alone] = lab.nothing_reacted(tested, 1 - coverage)[alone]
    return WeighingEvidence(
        tuple(c.name for c in named),
        p,
        compatible,
        lab.n_a,
        lab.n_b,
        coverage,
        lab.below_zero(BELOW_ZERO_LEVEL, tables),
        nothing,
    )


def _checked_tables(*given: ArrayLike) -> list[Floats]:
    """Return four tables of readings as arrays of shape (groups, trials), if they match."""
    arrays = [
        entry.array(name, g, error=ReadingError) for name, g in zip(_TABLES, given, strict=True)
    ]
    shape = arrays[0].shape
    if len(shape) not in (1, 2) or any(a.shape != shape for a in arrays) or 0 in shape:
        raise ReadingError(
            "The four tables of readings do not match.",
            given=", ".join(str(a.shape) for a in arrays),
            allowed="four of one shape, (groups,) or (groups, trials), none empty",
        )
    return [a.reshape(shape[0], -1) for a in arrays]


_BY_GROUP = ("a", "b", "n_a", "n_b", "found", "between", "spread", "excess", "fine", "looked_at")


class _Lab:
    """Arrays of all groups, and the same test as the scalar path for one ratio at a time."""

    def __init__(
        self,
        tables: Sequence[Floats],
        masses: tuple[Number, Number],
        balance: Balance,
        variation: Variation | None,
        recovery: tuple[float, float] = (1.0, 1.0),
    ) -> None:
        before, after, tare, gross = tables
        self.masses, self.balance, self.variation = masses, balance, variation
        self.trials = before.shape[1]
        self.mass_a, self.mass_b = masses
        self.m_a, self.m_b = nominal(self.mass_a), nominal(self.mass_b)
        self.a = (before - after) / self.m_a
        self.b = (gross - tare) / self.m_b
        self.n_a, self.n_b = self.a.mean(axis=1), self.b.mean(axis=1)
        with np.errstate(divide="ignore", invalid="ignore"):  # as decision.linear.ratio_found
            found = self.n_b / self.n_a
        self.found = np.where(self.n_a > 0, found, np.copysign(np.inf, self.n_b))
        self.unknown = variation is not None and variation.unknown
        self.relative = 0.0 if variation is None else variation.relative
        self.dof = math.inf if variation is None else variation.dof
        self.between = self.relative * np.sqrt((self.b**2).sum(axis=1)) / self.trials
        self.spread, self.excess = self._scatter(recovery)
        widest = np.maximum(np.abs(before - after), np.abs(gross - tare)).max(axis=1)
        least, most = unknown_factors()
        self.air = least / most, most / least
        self.fine = matters(widest, balance.readability_g)
        self.looked_at = matters(widest, balance.readability_g, NEGLIGIBLE)

    def _own_consumed(self) -> Floats:
        """Standard uncertainty of the consumed amount of one trial, by its readings."""
        d, s, off = self.balance.readability_g, self.balance.repeatability, self.balance.linearity_g
        return np.array([math.sqrt(2 * (d * d / 12 + s * s + off * off / 3)) / self.m_a])

    def _own_variance(self, x: Any, y: Any) -> Any:
        """Variance of one trial's D from the sources that differ from trial to trial."""
        d, s = self.balance.readability_g, self.balance.repeatability
        rounding = d * d / 12 * rounding_excess(s / d, single=False)
        each = rounding + s * s + self.balance.linearity_g**2 / 3
        own = 2 * each * ((y / self.m_b) ** 2 + (x / self.m_a) ** 2)
        if self.relative:
            own = own + (y * self.relative) ** 2 * (self.b**2).mean(axis=1)
        return own

    def _scatter(self, recovery: tuple[float, float]) -> tuple[Floats, NDArray[np.bool_]]:
        size = np.hypot(self.n_a, self.n_b)
        if self.trials < 2:
            return np.ones(size.size), np.zeros(size.size, dtype=bool)
        safe = np.where(size > 0, size, 1.0)
        x, y = self.n_b / safe, self.n_a / safe
        d = y[:, None] * self.b - x[:, None] * self.a
        own = self._own_variance(x, y)
        squares = ((d - d.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
        dof = self.trials - 1
        chi_squared = np.divide(squares, own, out=np.zeros_like(squares), where=own > 0)
        most = chi_squared_limit(EXCESS_LEVEL, dof)
        excess = (chi_squared > most) & (size > 0)
        look = np.flatnonzero(excess & (y > 0))
        if recovery[0] < recovery[1] and look.size:
            left = y[look] ** 2 * unexplained(self.a[look], self.b[look], recovery)
            excess[look] = left / own[look] > most
        return np.sqrt(chi_squared / dof), excess

    def _part(self, rows: NDArray[np.intp]) -> _Lab:
        """Return the lab of some of the groups."""
        part = copy(self)
        for name in _BY_GROUP:
            setattr(part, name, getattr(self, name)[rows])
        return part

    def with_air(self, ratio: float, recovery: tuple[float, float], alpha: float) -> Floats:
        """Return :meth:`candidate` with the buoyancy of air allowed for as ``RatioTest`` does."""
        wider = (recovery[0] * self.air[0], recovery[1] * self.air[1])
        p = np.empty(self.n_a.size)
        for rows, allowed in ((~self.fine, recovery), (self.fine, wider)):
            if rows.all():
                p = self.candidate(ratio, allowed)
            elif rows.any():
                p[rows] = self._part(np.flatnonzero(rows)).candidate(ratio, allowed)
        # without noise even a tail of nothing may become one of a few per cent
        decided = p < alpha if self.balance.repeatability == 0 else (p < alpha) & (p > 0)
        asked = np.flatnonzero(decided & self.looked_at & ~self.fine)
        if asked.size:
            found = self._part(asked).candidate(ratio, wider)
            counts = found >= alpha
            p[asked[counts]] = found[counts]
        return p

    def candidate(self, ratio: float, recovery: tuple[float, float]) -> Floats:
        """Return the largest p-value over the ratios that a candidate allows, (groups,)."""
        low, high = (ratio * f for f in recovery)
        if low == high:
            return self.p_values(low, 1.0)
        below, above = self.found < low, self.found > high
        out = np.where(below | above, 0.0, 1.0)
        nearest = np.where(above, high, low)
        if not self.unknown:  # most have no chance at the nearest ratio and the widest errors
            least = np.abs(self.n_b - nearest * self.n_a)
            sizes = [
                math.fsum(abs(c) * source.scale for source, c in contributions(m)) / nominal(m)
                + self.balance.calibration_relative
                for m in self.masses
            ]
            widest = high * sizes[0] * np.abs(self.n_a) + sizes[1] * np.abs(self.n_b)
            hopeless = least > 1.001 * self._furthest(high, 1.0, widest)
            asked = ~(hopeless & (self.n_a > 0) & ~self.excess)
            below, above = below & asked, above & asked
        for which, near, far in ((below, low, high), (above, high, low)):
            rows = np.flatnonzero(which)
            if rows.size:
                part = self._part(rows)
                found = [part.p_values(r, 1.0) for r in towards(near, far)]
                out[rows] = np.max(found, axis=0)
        return out

    def _weighing_errors(self, x: float, y: float) -> tuple[list[DigitBlock], list[Term]]:
        """Return the digits and the linearity of all readings, as errors of the discrepancy."""
        d, n = self.balance.readability_g, self.trials
        noise = self.balance.repeatability / d
        sizes = [s for s in (x * d / self.m_a / n, y * d / self.m_b / n) if s]
        blocks = [DigitBlock(DIFFERENCE, (s,), (noise, noise), n) for s in sizes]
        fixed = [Term(Shape.RECTANGULAR, s / d * self.balance.linearity_g) for s in sizes]
        return blocks, [t for t in fixed if t.scale] * (2 * n)

    def _furthest(self, x: float, y: float, varying: Floats) -> Floats:
        """Return the discrepancy beyond which the tail is zero, whatever the rounding of terms.

        ``varying`` is the sum of the half-widths that depend on the amounts, (groups,).
        """
        blocks, fixed = self._weighing_errors(x, y)
        between = y * self.between
        most = sum(b.reach for b in blocks) + 2 * (sum(t.scale for t in fixed) + varying)
        if math.isinf(self.dof):
            return np.asarray(most + 10 * between)
        return np.where(between > 0, np.inf, most)

    def p_values(self, x: float, y: float) -> Floats:
        """Return the p-value of the ratio x/y for every group, shape (groups,)."""
        blocks, fixed = self._weighing_errors(x, y)
        varying = self._varying(x, y, self.n_a, self.n_b)
        discrepancy = y * self.n_b - x * self.n_a
        between = y * self.between
        out = np.zeros(discrepancy.size)
        near = np.flatnonzero(np.abs(discrepancy) <= self._furthest(x, y, varying.sum(axis=0)))
        if near.size:
            wide, narrow = self._sorted_terms(fixed, varying[:, near], blocks, between[near])
            for part in _alike(wide):
                last = len(wide) - 1
                terms = [
                    variation_term(v, self.dof)
                    if i == last and self.relative
                    else Term(Shape.RECTANGULAR, v)
                    for i, v in enumerate(wide[:, part[0]].tolist())
                    if v
                ]
                here = near[part]
                out[here] = worst_position_tails(discrepancy[here], blocks, terms, narrow[part])
        if self.unknown:
            return self._with_own_scatter(x, y, out)
        if self.excess.any():
            out = self._with_scatter(x, y, discrepancy, varying, out)
            out = self._with_own_scatter(x, y, out, self.excess)
        return out

    def _sorted_terms(
        self, fixed: list[Term], varying: Floats, blocks: list[DigitBlock], between: Floats
    ) -> tuple[Floats, Floats]:
        """Split the terms of every group as ``digits.split_narrow`` does.

        Returns the rounded scales of the wide ones, shape (terms, groups), 0 for the narrow ones,
        and the reach of the narrow ones, shape (groups,). The variation between trials, if
        stated, is the last term.
        """
        limit = narrow_limit(blocks)
        constant = np.broadcast_to(
            [[t.scale] for t in fixed] or 0.0, (len(fixed), varying.shape[1])
        )
        scales = _rising(np.concatenate([constant, varying]))
        reach = scales
        if self.relative:
            scales = np.concatenate([scales, between[None]])
            last = 5.0 * between if math.isinf(self.dof) else np.where(between > 0, np.inf, 0.0)
            reach = np.concatenate([reach, last[None]])
            order = np.argsort(reach, axis=0, kind="stable")
            total = np.take_along_axis(reach, order, axis=0).cumsum(axis=0)
            narrow = np.empty(reach.shape, dtype=np.bool_)
            np.put_along_axis(narrow, order, total <= limit, axis=0)
        else:
            narrow = scales.cumsum(axis=0) <= limit
        wide = np.zeros(scales.shape)
        wide[~narrow] = 2.0 ** (np.ceil(16 * np.log2(scales[~narrow]) - 1e-9) / 16)
        return wide, np.where(narrow, reach, 0.0).sum(axis=0)

    def _varying(self, x: float, y: float, n_a: Floats, n_b: Floats) -> Floats:
        """Half-widths of the sources whose effect depends on the amounts, (sources, groups)."""
        effect: dict[int, tuple[float, Floats]] = {}
        for amount, molar, sign in ((n_b, self.mass_b, -y), (n_a, self.mass_a, x)):
            for source, c in contributions(molar):
                scale, total = effect.get(id(source), (source.scale, np.zeros_like(amount)))
                effect[id(source)] = (scale, total + sign * amount * c / nominal(molar))
        rows = [np.abs(total) * scale for scale, total in effect.values()]
        calibration = self.balance.calibration_relative
        if calibration:
            rows.append(np.abs(y * n_b - x * n_a) * calibration)
        return np.array(rows) if rows else np.zeros((0, n_a.size))

    def _with_scatter(
        self, x: float, y: float, discrepancy: Floats, varying: Floats, p: Floats
    ) -> Floats:
        """Let the scatter of the trials decide where there is more than the readings explain."""
        chosen = np.flatnonzero(self.excess)
        own = np.broadcast_to(self._own_variance(x, y), self.n_a.shape)[chosen]
        scale = self.spread[chosen] * np.sqrt(own / self.trials)
        out = p.copy()
        found = student_sums(discrepancy[chosen], varying[:, chosen], scale, self.trials - 1)
        out[chosen] = np.maximum(out[chosen], found)
        return out

    def _with_own_scatter(
        self,
        x: float,
        y: float,
        p: Floats,
        where: NDArray[np.bool_] | bool = True,
    ) -> Floats:
        """Let no p-value be below that by the trials' own scatter, in all labs or in some."""
        if self.trials < 2:
            return p
        f = to_mean(self.a, self._own_consumed())
        d = f * (y * self.b - x * self.a)
        scale = d.std(axis=1, ddof=1) / math.sqrt(self.trials)
        chosen = np.flatnonzero(where & (scale > SAME * np.abs(d).max(axis=1)))
        out, f = p.copy(), f[chosen]
        a, b = (f * self.a[chosen]).mean(axis=1), (f * self.b[chosen]).mean(axis=1)
        varying = self._varying(x, y, a, b)
        found = student_sums(d[chosen].mean(axis=1), varying, scale[chosen], self.trials - 1)
        out[chosen] = np.maximum(out[chosen], found)
        return out

    def below_zero(self, level: float, tables: Sequence[Floats]) -> NDArray[np.bool_]:
        """Say of which groups an amount is below zero, as ``LinearAmounts.below_zero`` does."""
        level /= 2 * (self.trials + 1) if self.trials > 1 else 2
        found = np.zeros(self.n_a.size, dtype=np.bool_)
        for mean, each, way in ((self.n_a, self.a, (1.0, 0.0)), (self.n_b, self.b, (0.0, 1.0))):
            if (mean < 0).any():
                rows = np.flatnonzero(mean < 0)
                found[rows] |= self._part(rows).p_values(*way) < level
            group, trial = np.nonzero((each < 0) & ~found[:, None])
            if self.trials > 1 and group.size:
                one = _Lab(
                    [t[group, trial][:, None] for t in tables],
                    self.masses,
                    self.balance,
                    self.variation,
                )
                found[group[one.p_values(*way) < level]] = True
        return found

    def nothing_reacted(self, ratio: Floats, alpha: float) -> NDArray[np.bool_]:
        """Say which groups do not show that anything reacted along a ratio's ray (one a group)."""
        balance, n = self.balance, self.trials
        d, s = balance.readability_g, balance.repeatability
        per_a, per_b = 1 / self.m_a, 1 / (ratio * self.m_b)
        weight = per_b**2 / (per_a**2 + per_b**2)
        amount = weight * self.n_a + (1 - weight) * self.n_b / ratio
        # errors like these exceed t standard deviations at most exp(-t²/2) of the time
        u = np.sqrt(self._own_variance(weight, (1 - weight) / ratio) / n)
        found = amount < math.sqrt(-2 * math.log(alpha)) * u
        for r in np.unique(ratio[found]):
            here = np.flatnonzero(found & (ratio == r))
            terms = []
            for c in (weight[here[0]] * per_a / n, (1 - weight[here[0]]) * per_b[here[0]] / n):
                terms += [Term(Shape.RECTANGULAR, c * d / 2)] * (2 * n)
                terms += [Term(Shape.NORMAL, c * s)] * (2 * n)
                terms += [Term(Shape.RECTANGULAR, c * balance.linearity_g)] * (2 * n)
            found[here] = SumDistribution(terms).cdf(-amount[here]) > alpha
        return np.asarray(found)


def _rising(columns: Floats) -> Floats:
    """Return numbers of shape (terms, groups) with those of each group rising."""
    if len(columns) > 6:
        return np.sort(columns, axis=0)
    out = list(columns)  # few are quicker exchanged in pairs
    for last in range(len(out) - 1, 0, -1):
        for i in range(last):
            out[i], out[i + 1] = np.minimum(out[i], out[i + 1]), np.maximum(out[i], out[i + 1])
    return np.array(out).reshape(columns.shape)


def _alike(columns: Floats) -> list[NDArray[np.intp]]:
    """Return the groups of equal rounded half-widths, 0 or a power of 2 ** (1 / 16)."""
    key = np.zeros(columns.shape[1], dtype=np.intp)
    for column in columns:
        if (column == column[0]).all():
            continue
        used = column > 0
        power = np.zeros(len(key), dtype=np.intp)
        power[used] = np.rint(16 * np.log2(column[used]))
        power[used] += 1 - power[used].min()
        _, key = distinct(key * (power.max() + 1) + power)
    count = int(key.max()) + 1
    small = key.astype(np.int16) if count < 1 << 15 else key  # sorted by counting
    order = np.argsort(small, kind="stable")
    return np.split(order, np.cumsum(np.bincount(key, minlength=count))[:-1])


_BLOCK = 16384
_ROLES = ("consumed, before", "consumed, after", "tare", "gross")


@dataclass(frozen=True, slots=True, eq=False)
class WeighedRatios:
    """Mole ratios n_produced / n_consumed of many groups, to first order.

    Attributes
    ----------
    ratio : ndarray, shape (groups,)
        Ratio of the mean amounts over the trials; nan where nothing was consumed.
    standard_uncertainty : ndarray, shape (groups,)
    sources : tuple of str
        The four readings (rounding, repeatability and linearity together, over all trials) and
        the atomic weights.
    contributions : ndarray, shape (sources, groups)
        Signed effect of one standard uncertainty of each source on the ratio. The squares add up
        to that of ``standard_uncertainty``. What both amounts share acts once: the calibration
        of the balance cancels, and so does an element to the extent that both formulas hold it.
    """

    ratio: Floats
    standard_uncertainty: Floats
    sources: tuple[str, ...]
    contributions: Floats

    def __len__(self) -> int:
        return self.ratio.size

    @property
    def shares(self) -> Floats:
        """Part of each group's variance from each source, shape (sources, groups), 0 to 1."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.asarray((self.contributions / self.standard_uncertainty) ** 2)


def weighed_ratios(
    consumed_before_g: ArrayLike,
    consumed_after_g: ArrayLike,
    tare_g: ArrayLike,
    gross_g: ArrayLike,
    *,
    consumed: str,
    produced: str,
    balance: Balance,
) -> WeighedRatios:
    """Return the mole ratio of every group with its standard uncertainty and budget.

    To first order, so a ratio whose amount consumed is not much larger than its uncertainty
    deserves no trust; :func:`stoichkit.assess_weighings` needs no such condition.

    Parameters
    ----------
    consumed_before_g, consumed_after_g, tare_g, gross_g, consumed, produced, balance
        As for :func:`stoichkit.assess_weighings`.

    Raises
    ------
    ReadingError
        If the shapes differ or a reading is not a finite number.

    Examples
    --------
    >>> found = weighed_ratios([3.12], [2.65], [0.71], [2.30], consumed="Cu", produced="Ag",
    ...     balance=Balance(readability_g=0.01))
    >>> found.ratio.round(3).tolist(), found.standard_uncertainty.round(3).tolist()
    ([1.993], [0.036])
    >>> dict(zip(found.sources, found.shares[:, 0].round(3).tolist()))["consumed, before"]
    0.46
    """
    tables = _checked_tables(consumed_before_g, consumed_after_g, tare_g, gross_g)
    entry.texts(consumed=consumed, produced=produced)
    balance = entry.record("balance", balance, Balance)
    trials = tables[0].shape[1]
    before, after, tare, gross = (t.ravel() if trials == 1 else t.mean(axis=1) for t in tables)
    shared = _shared(consumed, produced)
    d, s, k = balance.readability_g, balance.repeatability, balance.linearity_g
    u_g = math.sqrt((d * d / 12 + s * s + k * k / 3) / trials)

    table = np.empty((6 + len(shared.names), before.size))
    with np.errstate(invalid="ignore", divide="ignore"):
        for start in range(0, before.size, _BLOCK):  # small enough for the processor's cache
            here = slice(start, start + _BLOCK)
            block = table[:, here]
            r, u, first, second = block[:4]
            over = before[here] - after[here]
            np.divide(u_g, over, out=over)
            np.subtract(gross[here], tare[here], out=r)
            r *= over
            r *= shared.factor / u_g
            np.multiply(over, shared.both_ways, out=block[4:6])
            np.multiply(r, over, out=second)
            np.negative(second, out=first)
            np.multiply(r, shared.relative, out=block[6:])
            over *= over  # u² = r² (2 over² + square) + 2 (factor over)²
            np.multiply(r, r, out=u)
            fixed = over * (2 * shared.factor**2)
            over *= 2.0
            over += shared.square
            u *= over
            u += fixed
            np.sqrt(u, out=u)
            if not math.isfinite(np.add.reduce(u)):
                block[:, ~np.isfinite(u)] = np.nan
    return WeighedRatios(table[0], table[1], (*_ROLES, *shared.names), table[2:])


@dataclass(frozen=True, slots=True)
class _Shared:
    """What all groups share: both molar masses, and what their sources do to the ratio."""

    factor: float  # ratio of the molar masses
    both_ways: Floats  # its negative and itself, shape (2, 1)
    names: tuple[str, ...]
    relative: Floats  # relative change of the ratio by one standard uncertainty, (sources, 1)
    square: float  # sum of the squares of those


@lru_cache(maxsize=256)
def _shared(consumed: str, produced: str) -> _Shared:
    mass_a, mass_b = molar_mass(consumed), molar_mass(produced)
    relative: dict[str, float] = {}
    for molar, sign in ((mass_a, 1.0), (mass_b, -1.0)):
        for source, c in contributions(molar):
            effect = sign * c * source.standard_uncertainty / nominal(molar)
            relative[source.label] = relative.get(source.label, 0.0) + effect
    factor, column = nominal(mass_a) / nominal(mass_b), np.array([*relative.values()])[:, None]
    both = np.array([[-factor], [factor]])
    return _Shared(factor, both, tuple(relative), column, float(np.sum(column**2)))
