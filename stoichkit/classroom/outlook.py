"""What more groups, a finer balance or another balance would add to a class."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import ModelError
from ..uncertainty import entry
from .amounts import ClassAmounts
from .verdict import Basis, ClassVerdict

_FINER = 10.0
_PARTS = 200
"""Parts of equal chance that the distribution of the scatter is cut into."""
_MOST_NEEDED = 1e9


@dataclass(frozen=True, slots=True)
class OutlookRow:
    """What one size of class could do.

    Attributes
    ----------
    groups : float
        Groups like those of the class; infinite for the limit that what is shared sets.
    u_mol : float
        Standard uncertainty of the pooled discrepancy from the rival, mol.
    chance : float
        Chance that the true candidate is singled out from the rival.
    """

    groups: float
    u_mol: float
    chance: float


@dataclass(frozen=True, slots=True)
class ClassOutlook:
    """What would help a class to tell a candidate from its hardest rival.

    Attributes
    ----------
    truth, rival : str
        The candidate taken as true, and the one hardest to exclude then.
    target : float
        Chance of singling out asked for.
    discrepancy_mol : float
        Mean discrepancy from the rival if ``truth`` is true.
    own_u_mol : float
        Standard uncertainty of the discrepancy of one group, with the variance between groups
        where their scatter counts; it falls as 1/√groups.
    shared_u_mol : float
        Standard uncertainty from what all groups share; it does not fall.
    rows : tuple of OutlookRow
        For 1, 2, 4 and 8 times the groups of the class, and without end.
    groups_needed : float
        Fewest groups that reach the target; nan if no number does.
    finer : OutlookRow
        The class as it is, if every display were ten times finer.
    largest_shared : str
        Label of the shared source that matters most; "" without any.
    copies_needed : float
        With the groups as they are: over how many independent copies of that source (balances,
        stock solutions) they would have to be spread to reach the target; nan if no number does.
    later : OutlookRow or None
        For the groups that there will be, if that was said.
    """

    truth: str
    rival: str
    target: float
    discrepancy_mol: float
    own_u_mol: float
    shared_u_mol: float
    rows: tuple[OutlookRow, ...]
    groups_needed: float
    finer: OutlookRow
    largest_shared: str
    copies_needed: float
    later: OutlookRow | None = None


def class_outlook(
    found: ClassVerdict, *, truth: str = "", target: float = 0.9, groups: int | None = None
) -> ClassOutlook:
    """Return what more groups or other instruments would add to a class.

    Parameters
    ----------
    found : ClassVerdict
        Two candidates or more.
    truth : str
        Name of the candidate taken as true; the nearest one if left out.
    target : float
        Chance of singling it out, from 0.05 to below the coverage of the verdict (the true
        candidate itself is kept no more often than that).
    groups : int, optional
        Groups that there will be when all are in; no fewer than there are.

    Raises
    ------
    ModelError
        If there is one candidate only, no such candidate, or the target cannot be used.

    Notes
    -----
    Normal errors, groups with the mean amounts and uncertainties of this class, and the test that
    its verdict rests on. Digits, whose lattice matters with few readings, are in
    :func:`stoichkit.planning.questions.fewest_trials`.

    Examples
    --------
    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> from stoichkit.classroom.verdict import class_verdict
    >>> few = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.6, shared_produced=0.05)
    >>> found = class_verdict(few, candidates={"copper(I)": 1, "copper(II)": 2})
    >>> outlook = class_outlook(found)
    >>> found.verdict.kind.value, outlook.rival, outlook.groups_needed
    ('not_told_apart', 'copper(I)', 7.0)
    >>> round(outlook.rows[0].chance, 2), round(outlook.rows[-1].chance, 2)
    (0.12, 0.95)
    """
    named = entry.record("found", found, ClassVerdict).candidates
    if len(named) < 2:
        raise ModelError("There is no rival.", given=f"{len(named)} candidate", allowed="2 or more")
    truth = entry.text("truth", truth) or found.nearest.name
    if truth not in named:
        raise ModelError("There is no such candidate.", given=truth, allowed=", ".join(named))
    target = entry.number("target", target, least=0.05, below=found.coverage)
    if groups is not None:
        groups = entry.whole("groups", groups, least=len(found.groups), most=1000)
    chance = _Chance(found)
    parts = {n: _Parts(found, truth, n) for n in named if n != truth}
    count = len(found.groups)
    rival = min(parts, key=lambda n: parts[n].separation(count))
    part = parts[rival]

    def row(groups: float, own: float) -> OutlookRow:
        u = math.sqrt(own / groups + part.shared)
        return OutlookRow(groups, u, chance(part.difference, groups, own, part.shared))

    def spread_over(copies: float) -> float:
        shared = part.shared - part.largest * (1 - 1 / copies)
        return chance(part.difference, count, part.own, shared)

    return ClassOutlook(
        truth=truth,
        rival=rival,
        target=target,
        discrepancy_mol=part.difference,
        own_u_mol=math.sqrt(part.own),
        shared_u_mol=math.sqrt(part.shared),
        rows=tuple(row(count * m, part.own) for m in (1, 2, 4, 8, math.inf)),
        groups_needed=_fewest(lambda n: row(n, part.own).chance >= target, least=chance.least),
        finer=row(count, part.own - part.reading * (1 - _FINER**-2)),
        largest_shared=part.label,
        copies_needed=_fewest(lambda n: spread_over(n) >= target),
        later=None if groups is None else row(groups, part.own),
    )


def _fewest(enough: Callable[[float], bool], *, least: int = 1) -> float:
    """Return the least whole number that is enough, given that more never are less; or nan.

    >>> _fewest(lambda n: n >= 37), _fewest(lambda n: False)
    (37.0, nan)
    """
    if not enough(math.inf):
        return math.nan
    low, high = least - 1, least
    while not enough(high):
        low, high = high, 2 * high
        if high > _MOST_NEEDED:
            return math.nan
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(middle) else (middle, high)
    return float(high)


class _Chance:
    """Chance that groups single out the true candidate, by the test of a class's verdict."""

    def __init__(self, found: ClassVerdict) -> None:
        from scipy.special import ndtri

        self.normal = float(ndtri(0.5 + found.coverage / 2))
        self.coverage = found.coverage
        self.lost = 2 if found.basis is Basis.LINE else 1
        self.by_scatter = found.basis in (Basis.SCATTER, Basis.EITHER) or (
            found.line is not None and found.basis is Basis.LINE and found.line.inflated
        )
        self.least = self.lost + 1 if self.by_scatter else 1

    def __call__(self, difference: float, groups: float, own: float, shared: float) -> float:
        """Return the chance, given the variance of one group's discrepancy and of what is shared.

        True and rival discrepancies carry nearly the same error: kept and excluded together. The
        scatter of the groups is averaged over its chi-squared distribution.
        """
        from scipy.special import ndtr

        mean = own / groups
        u = math.sqrt(mean + shared)
        if not u:
            return 1.0 if difference else 0.0
        limits = np.array(self.normal)
        dof = groups - self.lost
        if self.by_scatter and math.isfinite(dof):
            from scipy.special import chdtri, stdtrit

            part = (np.arange(_PARTS) + 0.5) / _PARTS
            t = float(stdtrit(dof, 0.5 + self.coverage / 2))
            squares = t * t * mean * chdtri(dof, part) / dof + self.normal**2 * shared
            limits = np.maximum(self.normal, np.sqrt(squares) / u)
        apart = difference / u
        return float(np.mean(ndtr(limits) - ndtr(np.maximum(-limits, limits - apart))))


class _Parts:
    """Variance of the discrepancy from a rival: one group's own, of reading it, and shared."""

    def __init__(self, found: ClassVerdict, truth: str, rival: str) -> None:
        amounts: ClassAmounts = found.amounts
        r = float(found.candidates[rival].candidate.ratio)
        gap = float(found.candidates[truth].candidate.ratio) - r
        consumed = abs(amounts.linear.mean_consumed)
        self.difference = abs(gap) * consumed
        self.own = float(amounts.own.along(r, 1.0).mean())
        if found.basis is not Basis.COMMON:
            self.own += (found.ratio_spread * consumed) ** 2
        self.reading = float(amounts.reading.along(r, 1.0).mean())
        u = np.array([s.standard_uncertainty for s in amounts.shared_sources])
        shares = (amounts.shared_effects(r, 1.0).mean(axis=1) * u) ** 2
        self.shared = float(shares.sum())
        self.largest = float(shares.max()) if shares.size else 0.0
        self.label = amounts.shared_sources[int(shares.argmax())].label if shares.size else ""

    def separation(self, groups: int) -> float:
        """Difference over its standard uncertainty."""
        u = math.sqrt(self.own / groups + self.shared)
        return self.difference / u if u else math.inf
