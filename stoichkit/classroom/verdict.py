"""The verdict of a whole class: pooled discrepancies, a straight line, and how stable both are.

For each candidate the groups' discrepancies D = n_produced − r n_consumed are pooled, with what
the groups share kept shared. A straight line through the groups' amounts tests the ratio as its
slope whatever the intercept; the intercept shows a constant blank (wet paper, residue, a constant
loss) that would masquerade as stoichiometry. Which of the answers counts follows a stated rule.

Then the mole ratio pooled in the usual ways, side by side, and what more groups, a finer balance or
another balance would add.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any

import numpy as np

from .._common import FrozenMap
from ..chemistry.candidates import Candidate, check_candidates, plain_ratios
from ..decision.evidence import assess
from ..decision.verdict import Verdict, verdict_of
from ..errors import ModelError
from ..experiments.checks import checked_coverage
from ..experiments.record import Experiment
from ..uncertainty import entry
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.pooling import Pooled, pool
from ..uncertainty.ratio_set import RatioSet, invert
from ..uncertainty.straight_line import Line
from .amounts import (
    DIFFERENCE_LEVEL,
    Blank,
    ClassAmounts,
    Pair,
    amounts_of,
    blank_of,
    class_line,
    outlying_groups,
    random_effects,
)

BLANK_LEVEL = 0.001
"""Chance, without any blank, of an intercept that makes the line decide; rare, as the line tells
less than the pooled groups."""
_FEW = 4


class Basis(StrEnum):
    """Which answer the verdict of a class rests on."""

    COMMON = "common effect: one discrepancy for all groups"
    RANDOM = "random effects: the groups differ by more than their readings explain"
    LINE = "slope of the line: a constant blank was found"


class ClassCaveatKind(StrEnum):
    """A reason to read the verdict of a class with care."""

    HETEROGENEOUS = "the groups differ by more than their readings explain"
    OUTLYING = "a group stands out from the others"
    BLANK = "a constant blank was found, so the line decides"
    POSSIBLE_BLANK = "a constant blank is likely but not certain"
    DISAGREE = "the line excludes what the pooled discrepancy singles out"
    NO_LINE = "no straight line: a constant blank cannot be seen"
    FEW_GROUPS = "with so few groups their variation is poorly known"
    NOT_RESOLVED = "the amount consumed is not told apart from zero"


@dataclass(frozen=True, slots=True)
class ClassCaveat:
    """One warning, as data: what kind, about which group or candidate, and the figure behind it."""

    kind: ClassCaveatKind
    subject: str = ""
    value: float = math.nan


@dataclass(frozen=True, slots=True)
class ClassCandidate:
    """What a class says about one candidate.

    Attributes
    ----------
    candidate : Candidate
    pooled : Pooled
        Random-effects pooling (Paule-Mandel) of the groups' discrepancies, mol, with what they
        share apart. Far from the truth, different amounts make different discrepancies.
    p_common, p_random : float
        Chance of a mean discrepancy at least as large if the candidate is true: from the exact
        test over all trials, and with a variance between the groups (Student t).
    p_slope : float
        The same for the slope of the line; nan without a line.
    p_value : float
        The one that counts, by the basis of the verdict.
    compatible : bool
        Whether ``p_value`` is at least 1 − coverage.
    """

    candidate: Candidate
    pooled: Pooled
    p_common: float
    p_random: float
    p_slope: float
    p_value: float
    compatible: bool

    @property
    def name(self) -> str:
        """Name of the candidate."""
        return self.candidate.name


@dataclass(frozen=True, eq=False)
class ClassVerdict:
    """What a class says about the candidates.

    Attributes
    ----------
    verdict : Verdict
        By ``basis``.
    basis : Basis
    coverage : float
    candidates : mapping of str to ClassCandidate
        By name, in the order given.
    ratio : float
        Mole ratio of the mean amounts; the slope where the line decides.
    heterogeneity : Pooled
        Common-effect pooling of the groups' discrepancies from the ratio of the mean amounts: Q,
        its p-value and I² say whether the groups differ by more than their readings explain.
    ratio_spread : float
        Standard deviation between the groups (Paule-Mandel) as a mole ratio at the mean amount.
    outlying : mapping of str to float
        Studentised deleted residual of each group beyond the Bonferroni limit, as
        :func:`stoichkit.uncertainty.outlying`, against the ratio of the others. They stay in.
    line : Line or None
        Its scatter widens the uncertainties if it is more than the readings explain.
    no_line : str
        Why there is no line; "" if there is one.
    blank : Blank or None
    caveats : tuple of ClassCaveat
    amounts : ClassAmounts
    """

    verdict: Verdict
    basis: Basis
    coverage: float
    candidates: Mapping[str, ClassCandidate]
    ratio: float
    heterogeneity: Pooled
    ratio_spread: float
    outlying: Mapping[str, float]
    line: Line | None
    no_line: str
    blank: Blank | None
    caveats: tuple[ClassCaveat, ...]
    amounts: ClassAmounts = field(repr=False)

    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups."""
        return self.amounts.names

    @cached_property
    def without(self) -> Mapping[str, Verdict]:
        """Verdict of the class without each group; empty with two groups.

        >>> from stoichkit import experiments
        >>> found = class_verdict(experiments.load("copper-silver"))
        >>> {v.candidates for v in found.without.values()}
        {('copper(II)',)}
        """
        names = self.groups if len(self.groups) > 2 else ()
        listed = [c.candidate for c in self.candidates.values()]
        return FrozenMap(
            {n: _verdict(self.amounts.without(n), listed, self.coverage) for n in names}
        )

    @property
    def deciding_groups(self) -> Mapping[str, Verdict]:
        """Groups without which the class says something else, and what it then says."""
        mine = self.verdict.candidates
        return FrozenMap({n: v for n, v in self.without.items() if v.candidates != mine})

    @cached_property
    def ratio_set(self) -> RatioSet:
        """Every mole ratio that the class does not exclude; exactly the compatible candidates."""
        known = [(float(c.candidate.ratio), c.compatible) for c in self.candidates.values()]
        if self.basis is Basis.LINE and self.line is not None:
            return invert(self.line.direction_p_value, (self.line.slope, 1.0), known, self.coverage)
        linear = self.amounts.linear
        estimate = (linear.mean_produced, linear.mean_consumed)

        def p_value(x: float, y: float) -> float:
            p = linear.p_value(x, y)
            return (
                max(p, random_effects(self.amounts, x, y)[1]) if self.basis is Basis.RANDOM else p
            )

        return invert(p_value, estimate, known, self.coverage)


def class_verdict(
    groups: ClassAmounts | Mapping[str, Sequence[Pair]] | Experiment | Sequence[Experiment],
    *,
    candidates: Iterable[Candidate] | Mapping[str, Any] | None = None,
    coverage: float | None = None,
    produced: str = "",
) -> ClassVerdict:
    """Test candidates with the amounts of all groups of a class.

    Parameters
    ----------
    groups : Experiment, several of them, ClassAmounts, or mapping of str to amounts
        Records whose trials name their groups, one for each balance of the class. Or uncertain
        amounts, mol: a sequence of (n_consumed, n_produced) for each group; for arrays of numbers
        see :func:`stoichkit.classroom.amounts.amounts_from_arrays`.
    candidates : iterable of Candidate, or mapping of str to ratio
        Ratios are n_produced / n_consumed; those of the records if left out.
    coverage : float, optional
        Coverage probability, 0.5 to 0.9999; that of the first record, or 0.95, if left out.
    produced : str
        Formula of the product, for the blank in g; that of the records if left out.

    Raises
    ------
    ModelError
        If there are fewer than two groups or no candidates, the coverage cannot be used, or two
        records have different candidates, or trials or groups of one name.

    Notes
    -----
    The rule. (1) Where the intercept differs from zero with p below ``BLANK_LEVEL``, the p-value
    is that of the slope. (2) Else, where the groups differ by more than their readings explain
    (p of Q below 0.1), it is the larger of the common-effect and the random-effects value.
    (3) Else it is the common-effect value. Four groups that truly differ, by twice their own
    uncertainty, hid that often enough to exclude the truth in 14 % of simulated classes; eight, in
    5 %. A fault proportional to the amount and the same in all groups shows nowhere.

    Examples
    --------
    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> found = class_verdict(
    ...     amounts_from_arrays([1.0, 2.1, 2.9, 4.2], [1.01, 2.07, 2.90, 4.17], 0.02, 0.02),
    ...     candidates={"iron(II)": 1, "iron(III)": "3/2"})
    >>> found.verdict.candidates, found.basis.name, round(found.ratio, 3)
    (('iron(II)',), 'COMMON', 0.995)
    >>> from stoichkit import experiments
    >>> found = class_verdict(experiments.load("copper-silver"))
    >>> found.verdict.kind.value, found.verdict.candidates, found.no_line[:27]
    ('singled_out', ('copper(II)',), 'The amounts consumed do not')
    """
    entry.text("produced", produced)
    if not isinstance(groups, ClassAmounts | Mapping):
        several = [groups] if isinstance(groups, Experiment) else groups
        records = entry.listed("groups", several, Experiment)
        first = _first_of(records)
        coverage = first.coverage if coverage is None else coverage
        candidates = first.candidates if candidates is None else candidates
        species = first.produced.species
        produced = produced or ("" if species == "e-" else species)
        groups = amounts_of(*(assess(record, coverage=coverage) for record in records))
    candidates = () if candidates is None else candidates
    coverage = checked_coverage(0.95 if coverage is None else coverage, error=ModelError)
    amounts = groups if isinstance(groups, ClassAmounts) else ClassAmounts(groups)
    listed = check_candidates(
        plain_ratios(candidates) if isinstance(candidates, Mapping) else candidates
    )
    x, y = amounts.best_direction()
    d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
    heterogeneity = pool(d, v, method="common", interval="normal", coverage=coverage)
    line, no_line = class_line(amounts)
    blank = blank_of(line, coverage=coverage, produced=produced) if line is not None else None
    basis = _basis(heterogeneity, math.nan if blank is None else blank.p_value)
    tested = [_tested(c, amounts, line, basis, coverage) for c in listed]
    linear = amounts.linear
    ratio = linear.mean_produced / linear.mean_consumed if linear.mean_consumed else math.nan
    tau = pool(d, v).tau
    found = ClassVerdict(
        verdict=verdict_of(((c.name, c.compatible) for c in tested), coverage),
        basis=basis,
        coverage=coverage,
        candidates=FrozenMap({c.name: c for c in tested}),
        ratio=line.slope if basis is Basis.LINE and line is not None else ratio,
        heterogeneity=heterogeneity,
        ratio_spread=tau / abs(y * linear.mean_consumed) if y * linear.mean_consumed else math.nan,
        outlying=outlying_groups(amounts),
        line=line,
        no_line=no_line,
        blank=blank,
        caveats=(),
        amounts=amounts,
    )
    object.__setattr__(found, "caveats", tuple(_caveats(found)))
    return found


def _first_of(records: Sequence[Experiment]) -> Experiment:
    """Return the first of the records of a class, which have the same candidates."""
    if not records:
        raise ModelError("There is no experiment.", allowed="one or more")
    for record in records[1:]:
        if record.candidates != records[0].candidates:
            raise ModelError(
                "The experiments of a class have different candidates.", given=record.title
            )
    return records[0]


def _basis(heterogeneity: Pooled, p_blank: float) -> Basis:
    """Return which answer counts; ``p_blank`` is nan without a line."""
    if p_blank < BLANK_LEVEL:
        return Basis.LINE
    differ = heterogeneity.p_heterogeneity < DIFFERENCE_LEVEL
    return Basis.RANDOM if differ else Basis.COMMON


def _verdict(amounts: ClassAmounts, candidates: Iterable[Candidate], coverage: float) -> Verdict:
    """Return the verdict alone, as :func:`class_verdict` reaches it."""
    x, y = amounts.best_direction()
    d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
    line, _ = class_line(amounts)
    basis = _basis(
        pool(d, v, method="common", interval="normal", coverage=coverage),
        math.nan if line is None else line.intercept_p_value(),
    )

    def compatible(ratio: float) -> bool:
        if basis is Basis.LINE and line is not None:
            return line.slope_p_value(ratio) >= 1 - coverage
        if amounts.linear.p_value(ratio, 1.0) >= 1 - coverage:
            return True
        return basis is Basis.RANDOM and random_effects(amounts, ratio, 1.0)[1] >= 1 - coverage

    return verdict_of(((c.name, compatible(float(c.ratio))) for c in candidates), coverage)


def _tested(
    candidate: Candidate, amounts: ClassAmounts, line: Line | None, basis: Basis, coverage: float
) -> ClassCandidate:
    ratio = float(candidate.ratio)
    plain, p_random = random_effects(amounts, ratio, 1.0)
    shared = SumDistribution(amounts.shared_terms(ratio, 1.0, plain.weights)).spread
    pooled = pool(
        plain.estimates,
        plain.variances,
        interval="floored hartung-knapp",
        coverage=coverage,
        shared_uncertainty=shared,
    )
    p_common = amounts.linear.p_value(ratio, 1.0)
    p_slope = math.nan if line is None else line.slope_p_value(ratio)
    by_basis = {Basis.COMMON: p_common, Basis.RANDOM: max(p_common, p_random), Basis.LINE: p_slope}
    p = by_basis[basis]
    if amounts.linear.mean_consumed < 0:  # no candidate consumes less than nothing
        p = min(p, amounts.linear.p_value(1.0, 0.0))
    return ClassCandidate(candidate, pooled, p_common, p_random, p_slope, p, p >= 1 - coverage)


def _caveats(found: ClassVerdict) -> Iterable[ClassCaveat]:
    kinds = ClassCaveatKind
    linear = found.amounts.linear
    if linear.p_value(1.0, 0.0) >= 1 - found.coverage or linear.mean_consumed <= 0:
        yield ClassCaveat(kinds.NOT_RESOLVED)
    widened = found.line is not None and found.line.inflated
    if found.basis is Basis.RANDOM or (found.basis is Basis.LINE and widened):
        yield ClassCaveat(kinds.HETEROGENEOUS, "", found.ratio_spread)
    for name, residual in found.outlying.items():
        yield ClassCaveat(kinds.OUTLYING, name, residual)
    if found.blank is None:
        yield ClassCaveat(kinds.NO_LINE, found.no_line)
    elif found.basis is Basis.LINE:
        yield ClassCaveat(kinds.BLANK, "", found.blank.amount_mol)
    elif found.blank.p_value < 1 - found.coverage:
        yield ClassCaveat(kinds.POSSIBLE_BLANK, "", found.blank.amount_mol)
    if len(found.verdict.candidates) == 1 and found.basis is not Basis.LINE:
        only = found.candidates[found.verdict.candidates[0]]
        if only.p_slope < 1 - found.coverage:
            yield ClassCaveat(kinds.DISAGREE, only.name, only.p_slope)
    if len(found.groups) < _FEW:
        yield ClassCaveat(kinds.FEW_GROUPS, "", float(len(found.groups)))


WAYS = (
    ("common effect", "common", "normal"),
    ("random effects, DerSimonian-Laird", "dersimonian-laird", "normal"),
    ("random effects, Paule-Mandel", "paule-mandel", "normal"),
    ("random effects, Paule-Mandel with Hartung-Knapp", "paule-mandel", "hartung-knapp"),
    ("the same, no narrower than the readings allow", "paule-mandel", "floored hartung-knapp"),
)
"""Name, estimator of the variance between groups, and interval of each way of pooling."""


@dataclass(frozen=True, slots=True)
class PooledRatio:
    """A pooled mole ratio n_produced / n_consumed.

    Attributes
    ----------
    way : str
        How it was pooled; one of ``WAYS``.
    ratio, standard_uncertainty : float
        With what the groups share.
    interval : (float, float)
        Coverage interval.
    tau : float
        Standard deviation between the groups, as a mole ratio at the mean amount.
    i_squared : float
        Part of the total variance that is between the groups, 0 to 1.
    pooled : Pooled
        The discrepancies from the ratio of the mean amounts, mol, that were pooled.
    """

    way: str
    ratio: float
    standard_uncertainty: float
    interval: tuple[float, float]
    tau: float
    i_squared: float
    pooled: Pooled


def pooled_ratios(verdict: ClassVerdict) -> tuple[PooledRatio, ...]:
    """Return the mole ratio of a class pooled in each of the usual ways.

    The groups' discrepancies from the ratio of the mean amounts are pooled, not their ratios,
    whose errors are skewed; the result is turned into a ratio at the mean amount consumed, to
    first order. What the groups share (one balance, one stock solution) is added once.

    Parameters
    ----------
    verdict : ClassVerdict

    Returns
    -------
    tuple of PooledRatio
        In the order of ``WAYS``; empty if the mean amount consumed is not above zero.

    Notes
    -----
    The verdict does not rest on these intervals: it tests each candidate with the exact shapes of
    the errors.

    Examples
    --------
    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> amounts = amounts_from_arrays([1.0, 2.1, 2.9], [1.01, 2.07, 2.99], 0.02, 0.02)
    >>> found = pooled_ratios(class_verdict(amounts, candidates={"one": 1, "two": 2}))
    >>> [(p.way, round(p.ratio, 3), round(p.standard_uncertainty, 3)) for p in found][:1]
    [('common effect', 1.012, 0.008)]
    """
    entry.record("verdict", verdict, ClassVerdict)
    amounts = verdict.amounts
    linear = amounts.linear
    x, y = amounts.best_direction()
    scale = y * linear.mean_consumed
    if scale <= 0:
        return ()
    ratio = linear.mean_produced / linear.mean_consumed
    d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
    ways = []
    for way, method, interval in WAYS:
        plain = pool(d, v, method=method, interval=interval)
        shared = SumDistribution(amounts.shared_terms(x, y, plain.weights)).spread
        found = pool(
            d, v, method=method, interval=interval, coverage=verdict.coverage,
            shared_uncertainty=shared,
        )  # fmt: skip
        low, high = found.interval
        ways.append(
            PooledRatio(
                way=way,
                ratio=ratio + found.mean / scale,
                standard_uncertainty=found.total_uncertainty / scale,
                interval=(ratio + low / scale, ratio + high / scale),
                tau=found.tau / scale,
                i_squared=found.i_squared,
                pooled=found,
            )
        )
    return tuple(ways)


_FINER = 10.0


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
        if the verdict rests on random effects; it falls as 1/√groups.
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


def class_outlook(found: ClassVerdict, *, truth: str = "", target: float = 0.9) -> ClassOutlook:
    """Return what more groups or other instruments would add to a class.

    Parameters
    ----------
    found : ClassVerdict
        Two candidates or more.
    truth : str
        Name of the candidate taken as true; the one with the largest p-value if left out.
    target : float
        Chance of singling it out, from 0.05 to below the coverage of the verdict (the true
        candidate itself is kept no more often than that).

    Raises
    ------
    ModelError
        If there is one candidate only, no such candidate, or the target cannot be used.

    Notes
    -----
    Normal errors, groups with the mean amounts and uncertainties of this class, and the
    common-effect test. Digits, whose lattice matters with few readings, are in
    :func:`stoichkit.planning.questions.fewest_trials`.

    Examples
    --------
    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> few = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.6, shared_produced=0.05)
    >>> found = class_verdict(few, candidates={"copper(I)": 1, "copper(II)": 2})
    >>> outlook = class_outlook(found)
    >>> found.verdict.kind.value, outlook.rival, outlook.groups_needed
    ('not_told_apart', 'copper(I)', 5.0)
    >>> round(outlook.rows[0].chance, 2), round(outlook.rows[-1].chance, 2)
    (0.65, 0.95)
    """
    named = entry.record("found", found, ClassVerdict).candidates
    if len(named) < 2:
        raise ModelError("There is no rival.", given=f"{len(named)} candidate", allowed="2 or more")
    truth = entry.text("truth", truth) or max(named, key=lambda n: named[n].p_value)
    if truth not in named:
        raise ModelError("There is no such candidate.", given=truth, allowed=", ".join(named))
    target = entry.number("target", target, least=0.05, below=found.coverage)
    from scipy.special import ndtr, ndtri

    limit = float(ndtri(0.5 + found.coverage / 2))

    def chance(separation: float) -> float:
        # true and rival discrepancies carry nearly the same error: kept and excluded together
        return float(ndtr(limit) - ndtr(max(-limit, limit - separation)))

    parts = {n: _Parts(found, truth, n) for n in named if n != truth}
    count = len(found.groups)
    rival = min(parts, key=lambda n: parts[n].separation(count))
    part = parts[rival]

    def row(groups: float, own_variance: float) -> OutlookRow:
        u = math.sqrt(own_variance / groups + part.shared)
        return OutlookRow(groups, u, chance(part.difference / u if u else math.inf))

    # the largest variance with which the target is reached
    allowed = (part.difference / (limit - float(ndtri(float(ndtr(limit)) - target)))) ** 2
    spare = allowed - part.shared
    copies = allowed - part.own / count - (part.shared - part.largest)
    return ClassOutlook(
        truth=truth,
        rival=rival,
        target=target,
        discrepancy_mol=part.difference,
        own_u_mol=math.sqrt(part.own),
        shared_u_mol=math.sqrt(part.shared),
        rows=tuple(row(count * m, part.own) for m in (1, 2, 4, 8, math.inf)),
        groups_needed=max(1.0, float(math.ceil(part.own / spare))) if spare > 0 else math.nan,
        finer=row(count, part.own - part.reading * (1 - _FINER**-2)),
        largest_shared=part.label,
        copies_needed=max(1.0, float(math.ceil(part.largest / copies))) if copies > 0 else math.nan,
    )


class _Parts:
    """Variance of the discrepancy from a rival: one group's own, of reading it, and shared."""

    def __init__(self, found: ClassVerdict, truth: str, rival: str) -> None:
        amounts: ClassAmounts = found.amounts
        r = float(found.candidates[rival].candidate.ratio)
        gap = float(found.candidates[truth].candidate.ratio) - r
        consumed = abs(amounts.linear.mean_consumed)
        self.difference = abs(gap) * consumed
        self.own = float(amounts.own.along(r, 1.0).mean())
        if found.basis is Basis.RANDOM:
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
