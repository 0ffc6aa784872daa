"""The commonest lab for many groups at once: two masses by difference on one balance, as arrays."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from ..chemistry.candidates import Candidate, plain_ratios
from ..chemistry.elements import molar_mass
from ..errors import ModelError, ReadingError
from ..experiments.checks import checked_coverage, checked_recovery
from ..experiments.record import Experiment
from ..measurement.displays import Balance
from ..uncertainty import entry
from ..uncertainty.digits import DIFFERENCE, DigitBlock, distinct, worst_position_tails
from ..uncertainty.distribution import student_p, student_tails
from ..uncertainty.sources import Floats, Shape, Term, contributions, nominal
from .linear import EXCESS_LEVEL, rounding_excess
from .verdict import Verdict, verdict_of


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
        Mean amounts over the trials, mol; the recovery allowance is in ``n_produced``.
    coverage : float
    """

    names: tuple[str, ...]
    p_value: Floats
    compatible: NDArray[np.bool_]
    n_consumed: Floats
    n_produced: Floats
    coverage: float

    def __len__(self) -> int:
        return len(self.p_value)

    def verdict(self, group: int) -> Verdict:
        """Return the verdict of one group, counted from 0."""
        return verdict_of(
            zip(self.names, self.compatible[group].tolist(), strict=True), self.coverage
        )

    @property
    def kinds(self) -> list[str]:
        """Verdict kind of each group: "singled_out", "not_told_apart" or "none_fits"."""
        count = self.compatible.sum(axis=1)
        words = np.array(["none_fits", "singled_out", "not_told_apart"])
        return [str(w) for w in words[np.minimum(count, 2)]]

    @property
    def candidates(self) -> list[tuple[str, ...]]:
        """Names of the compatible candidates of each group."""
        return [
            tuple(n for n, ok in zip(self.names, row, strict=True) if ok)
            for row in self.compatible.tolist()
        ]


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
        Least and largest fraction of the product recovered and weighed as product.

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
    balance = entry.record("balance", balance, Balance)
    if isinstance(candidates, Mapping):
        named = plain_ratios(candidates)
    else:
        named = entry.listed("candidates", candidates, Candidate)
    if not named:
        raise ModelError("No candidate is given.", allowed="one or more")
    lab = _Lab(before, after, tare, gross, consumed, produced, balance, recovery)
    p = np.column_stack([lab.p_values(float(c.ratio)) for c in named])
    return WeighingEvidence(
        tuple(c.name for c in named), p, p >= 1 - coverage, lab.n_a, lab.n_b, coverage
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


class _Lab:
    """Arrays of all groups, and the same test as the scalar path for one ratio at a time."""

    def __init__(
        self,
        before: Floats,
        after: Floats,
        tare: Floats,
        gross: Floats,
        consumed: str,
        produced: str,
        balance: Balance,
        recovery: tuple[float, float],
    ) -> None:
        self.balance = balance
        self.trials = before.shape[1]
        self.mass_a, self.mass_b = molar_mass(consumed), molar_mass(produced)
        self.m_a, self.m_b = nominal(self.mass_a), nominal(self.mass_b)
        self.gain = (1 / recovery[0] + 1 / recovery[1]) / 2
        self.gain_half_width = (1 / recovery[0] - 1 / recovery[1]) / 2
        self.a = (before - after) / self.m_a
        self.b = (gross - tare) / self.m_b * self.gain
        self.n_a, self.n_b = self.a.mean(axis=1), self.b.mean(axis=1)
        self.spread, self.excess = self._scatter()

    def _own_variance(self, x: Any, y: Any) -> Any:
        """Variance of one trial's D from the sources that differ from trial to trial."""
        d, s = self.balance.readability_g, self.balance.repeatability
        rounding = d * d / 12 * rounding_excess(s / d, single=False)
        each = rounding + s * s + self.balance.linearity_g**2 / 3
        return 2 * each * ((y * self.gain / self.m_b) ** 2 + (x / self.m_a) ** 2)

    def _scatter(self) -> tuple[Floats, NDArray[np.bool_]]:
        size = np.hypot(self.n_a, self.n_b)
        if self.trials < 2:
            return np.ones(size.size), np.zeros(size.size, dtype=bool)
        from scipy.special import chdtrc

        safe = np.where(size > 0, size, 1.0)
        x, y = self.n_b / safe, self.n_a / safe
        d = y[:, None] * self.b - x[:, None] * self.a
        own = self._own_variance(x, y)
        squares = ((d - d.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
        dof = self.trials - 1
        chi_squared = np.divide(squares, own, out=np.zeros_like(squares), where=own > 0)
        excess = (chdtrc(dof, chi_squared) < EXCESS_LEVEL) & (size > 0)
        return np.sqrt(chi_squared / dof), excess

    def p_values(self, ratio: float) -> Floats:
        """Return the p-value of one ratio for every group, shape (groups,)."""
        d, n = self.balance.readability_g, self.trials
        noise = self.balance.repeatability / d
        step_a, step_b = ratio * d / self.m_a / n, self.gain * d / self.m_b / n
        blocks = [DigitBlock(DIFFERENCE, (s,), (noise, noise), n) for s in (step_a, step_b) if s]
        linearity = self.balance.linearity_g
        fixed = [Term(Shape.RECTANGULAR, s / d * linearity) for s in (step_a, step_b)] * (2 * n)
        fixed = [t for t in fixed if t.scale]
        varying = self._varying(ratio)
        discrepancy = self.n_b - ratio * self.n_a
        out = np.zeros(discrepancy.size)
        # beyond this the tail is zero, whatever the rounding of the terms
        most = sum(b.reach for b in blocks) + 2 * (
            sum(t.scale for t in fixed) + varying.sum(axis=0)
        )
        near = np.flatnonzero(np.abs(discrepancy) <= most)
        if near.size:
            wide, narrow = self._sorted_terms(fixed, varying[:, near], blocks)
            for part in _alike(wide):
                terms = [Term(Shape.RECTANGULAR, v) for v in wide[:, part[0]].tolist() if v]
                here = near[part]
                out[here] = worst_position_tails(discrepancy[here], blocks, terms, narrow[part])
        return self._with_scatter(ratio, discrepancy, varying, out)

    def _sorted_terms(
        self, fixed: list[Term], varying: Floats, blocks: list[DigitBlock]
    ) -> tuple[Floats, Floats]:
        """Split the rectangular terms of every group as ``digits.split_narrow`` does.

        Returns the rounded half-widths of the wide ones, shape (terms, groups), 0 for the narrow
        ones, and the reach of the narrow ones, shape (groups,).
        """
        constant = np.broadcast_to(
            [[t.scale] for t in fixed] or 0.0, (len(fixed), varying.shape[1])
        )
        scales = _rising(np.concatenate([constant, varying]))
        narrow = scales.cumsum(axis=0) <= min(min(b.steps) for b in blocks) / 32
        wide = np.zeros(scales.shape)
        wide[~narrow] = 2.0 ** (np.ceil(16 * np.log2(scales[~narrow]) - 1e-9) / 16)
        return wide, np.where(narrow, scales, 0.0).sum(axis=0)

    def _varying(self, ratio: float) -> Floats:
        """Half-widths of the sources whose effect depends on the amounts, (sources, groups)."""
        effect: dict[int, tuple[float, Floats]] = {}
        for amount, molar, sign in ((self.n_b, self.mass_b, -1.0), (self.n_a, self.mass_a, ratio)):
            for source, c in contributions(molar):
                scale, total = effect.get(id(source), (source.scale, np.zeros_like(amount)))
                effect[id(source)] = (scale, total + sign * amount * c / nominal(molar))
        rows = [np.abs(total) * scale for scale, total in effect.values()]
        calibration = self.balance.calibration_relative
        if calibration:
            rows.append(np.abs(self.n_b - ratio * self.n_a) * calibration)
        if self.gain_half_width:
            rows.append(np.abs(self.n_b) / self.gain * self.gain_half_width)
        return np.array(rows) if rows else np.zeros((0, self.n_a.size))

    def _with_scatter(
        self, ratio: float, discrepancy: Floats, varying: Floats, p: Floats
    ) -> Floats:
        chosen = np.flatnonzero(self.excess)
        if not chosen.size:
            return p
        own = math.sqrt(self._own_variance(ratio, 1.0) / self.trials)
        scale = self.spread[chosen] * own
        reach = varying[:, chosen].sum(axis=0)
        found = student_p(discrepancy[chosen], reach, scale, self.trials - 1)
        wide = np.flatnonzero(reach > scale / 20)
        if wide.size:
            groups = chosen[wide]
            found[wide] = student_tails(
                discrepancy[groups], varying[:, groups], scale[wide], self.trials - 1
            )
        out = p.copy()
        out[chosen] = np.maximum(out[chosen], found)
        return out


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
        The four readings (rounding, repeatability and linearity together, over all trials), the
        atomic weights, and the recovery if there is an allowance.
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
    recovery: tuple[float, float] = (1.0, 1.0),
) -> WeighedRatios:
    """Return the mole ratio of every group with its standard uncertainty and budget.

    To first order, so a ratio whose amount consumed is not much larger than its uncertainty
    deserves no trust; :func:`stoichkit.assess_weighings` needs no such condition.

    Parameters
    ----------
    consumed_before_g, consumed_after_g, tare_g, gross_g, consumed, produced, balance, recovery
        As for :func:`stoichkit.assess_weighings`.

    Raises
    ------
    ReadingError
        If the shapes differ or a reading is not a finite number.
    ModelError
        If the recovery cannot be used.

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
    low, high = checked_recovery(recovery, error=ModelError)
    entry.texts(consumed=consumed, produced=produced)
    balance = entry.record("balance", balance, Balance)
    before, after, tare, gross = (t[:, 0] if t.shape[1] == 1 else t.mean(axis=1) for t in tables)
    gain = (1 / low + 1 / high) / 2
    per_gram, weights = _molar(entry.text("consumed", consumed), entry.text("produced", produced))
    factor, relative = gain * per_gram, dict(weights)
    if low < high:
        relative["recovery"] = (1 / low - 1 / high) / 2 / gain / math.sqrt(3)
    d, s, k = balance.readability_g, balance.repeatability, balance.linearity_g
    u_g = math.sqrt((d * d / 12 + s * s + k * k / 3) / tables[0].shape[1])
    common = np.array([*relative.values()])[:, None]
    square = float(np.sum(common**2))

    table = np.empty((6 + len(relative), before.size))
    with np.errstate(invalid="ignore", divide="ignore"):
        for start in range(0, before.size, _BLOCK):  # small enough for the processor's cache
            here = slice(start, start + _BLOCK)
            r, u, first, second, third, fourth, *_ = block = table[:, here]
            over = before[here] - after[here]
            np.divide(u_g, over, out=over)
            np.subtract(gross[here], tare[here], out=r)
            r *= over
            r *= factor / u_g
            np.multiply(over, factor, out=fourth)
            np.negative(fourth, out=third)
            np.multiply(r, over, out=second)
            np.negative(second, out=first)
            np.multiply(r, common, out=block[6:])
            over *= over  # u² = r² (2 over² + square) + 2 (factor over)²
            over *= 2.0
            np.multiply(r, r, out=u)
            fixed = over * factor**2
            over += square
            u *= over
            u += fixed
            np.sqrt(u, out=u)
            if not np.isfinite(u).all():
                block[:, ~np.isfinite(u)] = np.nan
    return WeighedRatios(table[0], table[1], (*_ROLES, *relative), table[2:])


@lru_cache(maxsize=256)
def _molar(consumed: str, produced: str) -> tuple[float, tuple[tuple[str, float], ...]]:
    """Return the ratio of both molar masses, and its relative change by each source."""
    mass_a, mass_b = molar_mass(consumed), molar_mass(produced)
    relative: dict[str, float] = {}
    for molar, sign in ((mass_a, 1.0), (mass_b, -1.0)):
        for source, c in contributions(molar):
            effect = sign * c * source.standard_uncertainty / nominal(molar)
            relative[source.label] = relative.get(source.label, 0.0) + effect
    return nominal(mass_a) / nominal(mass_b), tuple(relative.items())
