"""The verdict of a whole class: pooled discrepancies, a straight line, and how stable both are.

For each candidate the groups' discrepancies D = n_produced − r n_consumed are pooled, with what
the groups share kept shared, and judged twice: by what the readings explain, and by the scatter of
the groups alone. Groups do differ, so unless it is stated by how much, the judgement that excludes
less counts. A straight line through the groups' amounts tests the ratio as its slope whatever the
intercept; the intercept shows a constant blank (wet paper, residue, a constant loss) that would
masquerade as stoichiometry.

Then the mole ratio pooled in the usual ways, side by side, and what more groups, a finer balance or
another balance would add.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from itertools import repeat
from typing import Any

import numpy as np

from .._common import FrozenMap
from ..chemistry.candidates import Candidate, check_candidates, plain_ratios
from ..decision.evidence import allowed_ratios, dried_further, still_changing
from ..decision.linear import BELOW_ZERO_LEVEL
from ..decision.verdict import Reason, Verdict, verdict_of
from ..errors import ModelError, StoichkitError
from ..experiments.checks import checked_coverage, checked_recovery
from ..experiments.parts import NO_VARIATION, Variation, checked_between
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
    group_of,
    outlying_groups,
    scatter_test,
    with_scatter,
)

BLANK_LEVEL, LIKELY_BLANK_LEVEL = 0.001, 0.05
"""Chances, without any blank, of an intercept that makes the line decide, or both: the first rare,
as a slope is off where its intercept is; the second not, as both exclude less than either."""
_FEW = 4
_GROUPS = "{group: [(n_consumed, n_produced), …]}"


class Basis(StrEnum):
    """Which answer the verdict of a class rests on."""

    COMMON = "the readings alone: one discrepancy for all groups"
    SCATTER = "the readings or the scatter of the groups, whichever excludes less"
    EITHER = "mean or slope, whichever excludes less: a constant blank cannot be ruled out"
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
    SECOND_OPINION = "by the readings alone or the scatter alone the verdict would be another"
    NO_SCATTER = "the groups agree exactly: there is no scatter to judge by"


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
    tested_ratio : float
        The ratio tested: the candidate's own or, with a recovery allowance, the one of those it
        allows that agrees best with the class.
    pooled : Pooled
        Random-effects pooling (Paule-Mandel, Hartung-Knapp) of the groups' discrepancies from
        it, mol, with what they share apart. Far from the truth, different amounts make different
        discrepancies.
    p_common, p_scatter : float
        Chance of a mean discrepancy at least as large if the candidate is true: from the exact
        test over all trials, and by the scatter of the groups alone (Student t; nan without
        scatter). The largest over the recovery allowed.
    p_slope : float
        The same for the slope of the line; nan without a line.
    p_value : float
        The one that counts, by the basis of the verdict.
    compatible : bool
        Whether ``p_value`` is at least 1 − coverage.
    """

    candidate: Candidate
    tested_ratio: float
    pooled: Pooled
    p_common: float
    p_scatter: float
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
    variation : Variation or str
        How much the groups truly differ: unknown, stated, or ``"none"`` (nothing but their
        readings, or what was stated of their trials).
    by_readings : Verdict
        The verdict if the groups differ by no more than that, or by nothing if it is unknown.
    by_scatter : Verdict or None
        The verdict by the scatter of the groups alone; None where there is no scatter.
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
        Its scatter counts beside the readings as that of the groups does.
    no_line : str
        Why there is no line; "" if there is one.
    blank : Blank or None
    caveats : tuple of ClassCaveat
    amounts : ClassAmounts
    """

    verdict: Verdict
    basis: Basis
    variation: Variation | str
    by_readings: Verdict
    by_scatter: Verdict | None
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
    _test: _Test = field(repr=False)
    _changing: frozenset[str] = field(default=frozenset(), repr=False)

    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups."""
        return self.amounts.names

    @property
    def opinions_differ(self) -> bool:
        """Whether the readings alone and the scatter alone lead to different verdicts.

        Never where the class cannot be judged, or nothing shows that anything reacted.
        """
        if self.by_scatter is None or self.verdict.reason is not None:
            return False
        return self.by_readings.candidates != self.by_scatter.candidates

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
        found = {}
        for name in names:
            test = _Test(self.amounts.without(name), self.variation, self._test.recovery)
            reason = None
            if self.verdict.reason is Reason.NOT_CONSTANT and self._changing - {name}:
                reason = Reason.NOT_CONSTANT
            found[name] = test.verdict(listed, self.coverage, reason=reason)
        return FrozenMap(found)

    @property
    def deciding_groups(self) -> Mapping[str, Verdict]:
        """Groups without which the class says something else, and what it then says."""
        mine = self.verdict
        return FrozenMap(
            {
                n: v
                for n, v in self.without.items()
                if (v.kind, v.candidates) != (mine.kind, mine.candidates)
            }
        )

    @cached_property
    def ratio_set(self) -> RatioSet:
        """Every mole ratio as measured that the class does not exclude.

        A candidate is compatible exactly when some ratio that its recovery allows is in it.
        """
        known = [(c.tested_ratio, c.compatible) for c in self.candidates.values()]
        return invert(self._test.p_value, self._test.estimate, known, self.coverage)


class _Test:
    """The test of one mole ratio after another against a class."""

    def __init__(
        self, amounts: ClassAmounts, between: Variation | str, recovery: tuple[float, float]
    ) -> None:
        self.amounts, self.linear, self.recovery = amounts, amounts.linear, recovery
        self._known: dict[tuple[str, float], float] = {}
        x, y = amounts.best_direction()
        d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
        self.heterogeneity = pool(d, v, method="common", interval="normal")
        differ = self.heterogeneity.p_heterogeneity < DIFFERENCE_LEVEL
        self._scatter = differ or (isinstance(between, Variation) and between.unknown)
        self._stated = class_line(amounts, scatter=False)
        self.basis = Basis.SCATTER if self._scatter else Basis.COMMON
        stated = self._stated[0]
        if stated is not None and stated.intercept_p_value() < BLANK_LEVEL:
            line = self.line
            p = math.nan if line is None else line.intercept_p_value()
            if p < BLANK_LEVEL:
                self.basis = Basis.LINE
            elif p < LIKELY_BLANK_LEVEL:
                self.basis = Basis.EITHER

    @cached_property
    def _found_line(self) -> tuple[Line | None, str]:
        stated = self._stated[0]
        return self._stated if stated is None or not self._scatter else with_scatter(stated)

    @property
    def line(self) -> Line | None:
        """The line through the groups, with their scatter where that counts."""
        return self._found_line[0]

    @property
    def no_line(self) -> str:
        """Why there is no line."""
        return self._found_line[1]

    @property
    def estimate(self) -> tuple[float, float]:
        """The direction whose ratio agrees best with the class."""
        if self.basis is Basis.LINE and self.line is not None:
            return self.line.slope, 1.0
        return self.linear.mean_produced, self.linear.mean_consumed

    def p_value(self, x: float, y: float) -> float:
        """Return the p-value of the ratio x/y as measured, by the basis of the verdict."""
        if self.basis is Basis.LINE and self.line is not None:
            return self.line.direction_p_value(x, y)
        p = self.linear.p_value(x, y)
        if self.basis is Basis.COMMON:
            return p
        p = _greater(p, scatter_test(self.amounts, x, y)[1])
        if self.basis is Basis.EITHER and self.line is not None:
            p = _greater(p, self.line.direction_p_value(x, y))
        return p

    def allowed(self, ratio: float) -> tuple[float, ...]:
        """Return ratios as measured that a candidate allows, the likeliest first."""
        produced, consumed = self.estimate
        found = produced / consumed if consumed > 0 else math.copysign(math.inf, produced)
        return allowed_ratios(found, ratio, self.recovery)

    def largest(self, p_of: Callable[[float], float], ratio: float) -> tuple[float, float]:
        """Return the largest p-value over what a candidate allows, and the ratio it belongs to."""
        found = [(p_of(r), -i, r) for i, r in enumerate(self.allowed(ratio))]
        known = [entry for entry in found if not math.isnan(entry[0])]
        p, _, tested = max(known) if known else found[0]
        return p, tested

    def common_p(self, ratio: float) -> float:
        """Return the p-value over all trials, by the readings alone."""
        return self._once("common", ratio, lambda: self.linear.p_value(ratio, 1.0))

    def scatter_p(self, ratio: float) -> float:
        """Return the p-value by the scatter of the groups alone; nan without scatter."""
        return self._once("scatter", ratio, lambda: scatter_test(self.amounts, ratio, 1.0)[1])

    def slope_p(self, ratio: float) -> float:
        """Return the p-value of the slope; nan without a line."""
        line = self.line
        if line is None:
            return math.nan
        return self._once("slope", ratio, lambda: line.slope_p_value(ratio))

    def _once(self, way: str, ratio: float, work: Callable[[], float]) -> float:
        """Return a p-value, worked out once for each ratio."""
        if (way, ratio) not in self._known:
            self._known[way, ratio] = work()
        return self._known[way, ratio]

    def opinions(self) -> tuple[Callable[[float], float], Callable[[float], float]]:
        """Return the p-values by the readings alone and by the scatter alone, for this basis."""
        if self.basis is Basis.LINE and self.line is not None:
            line = self.line
            return (line.stated or line).slope_p_value, line.scatter_p_value
        if self.basis is Basis.EITHER and self.line is not None:
            line = self.line
            stated = line.stated or line
            return (
                lambda r: max(self.common_p(r), stated.slope_p_value(r)),
                lambda r: _greater(line.scatter_p_value(r), self.scatter_p(r)),
            )
        return self.common_p, self.scatter_p

    def verdict(
        self,
        candidates: Sequence[Candidate],
        coverage: float,
        *,
        reason: Reason | None = None,
        about: Iterable[str] = (),
        species: tuple[str, str] = ("", ""),
    ) -> Verdict:
        """Return the verdict alone; ``reason`` is one that was found elsewhere."""
        fits = [self.fits(float(c.ratio), 1 - coverage) for c in candidates]
        if below := self.below_zero(species):
            reason, about = Reason.BELOW_ZERO, below
        elif reason is None and sum(fits) == 1 and len(fits) > 1:
            ratio = self.allowed(float(candidates[fits.index(True)].ratio))[0]
            if self.linear.nothing_reacted_p(ratio) > 1 - coverage:
                reason = Reason.NOTHING_REACTED
        named = zip((c.name for c in candidates), fits, strict=True)
        return verdict_of(named, coverage, reason=reason, about=about)

    def fits(self, ratio: float, alpha: float) -> bool:
        """Say whether a candidate is compatible; the quicker test first."""
        ways = {
            Basis.COMMON: (self.common_p,),
            Basis.SCATTER: (self.scatter_p, self.common_p),
            Basis.EITHER: (self.slope_p, self.scatter_p, self.common_p),
            Basis.LINE: (self.slope_p,),
        }[self.basis]
        return any(way(r) >= alpha for r in self.allowed(ratio) for way in ways)

    def below_zero(self, species: tuple[str, str]) -> tuple[str, ...]:
        """Return which amounts are below zero beyond what their readings explain, and whose."""
        owner = [name for name, pairs in self.amounts.groups.items() for _ in pairs]
        what = species[0] or "what was consumed", species[1] or "what was produced"
        below = self.linear.below_zero(BELOW_ZERO_LEVEL)
        whole = {side for side, trial in below if trial is None}
        found = [what[side] for side in sorted(whole)]
        found += [f"{what[s]}, {owner[t]}" for s, t in below if s not in whole and t is not None]
        return tuple(dict.fromkeys(found))


def class_verdict(
    groups: ClassAmounts | Mapping[str, Sequence[Pair]] | Experiment | Sequence[Experiment],
    *,
    candidates: Iterable[Candidate] | Mapping[str, Any] | None = None,
    coverage: float | None = None,
    produced: str = "",
    variation: Variation | str | float | None = None,
    recovery: tuple[float, float] | None = None,
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

    variation : Variation, str or float, optional
        How much the groups truly differ, relative standard deviation from group to group of the
        product recovered: ``"1.5 %"``, ``"unknown"``, or ``"none"`` if they differ by nothing but
        their readings. If left out, what the records say: their ``between_groups``; else a
        variation stated between trials is all there is; else it is unknown.
    recovery : (float, float), optional
        Least and largest fraction recovered; that of the records, or (1, 1), if left out.

    Raises
    ------
    ModelError
        If there are fewer than two groups or no candidates, the coverage or the recovery cannot
        be used, or two records have different candidates, or trials or groups of one name.
    ExperimentError
        If the variation cannot be used, or readings are physically impossible.

    Notes
    -----
    The rule. (1) Where the intercept differs from zero with p below 0.001, the slope of the line
    is tested, else the mean discrepancy of all groups; where it does so by the readings alone,
    and with the scatter of the groups only with p below 0.05, both are, and the one that excludes
    less counts. (2) Where the variation between groups is unknown, the p-value is the larger of
    that by the readings and that by the scatter of the groups (Student t), always: with no test
    first whether they differ, as few groups hide that too well. Where it is stated the readings
    decide, unless the groups differ by more than was stated (p of Q below 0.1). (3) A class with
    an amount below zero, or a mass that was still changing, cannot be judged. A fault
    proportional to the amount and the same in all groups shows nowhere.

    Examples
    --------
    >>> from stoichkit.classroom.amounts import amounts_from_arrays
    >>> found = class_verdict(
    ...     amounts_from_arrays([1.0, 2.1, 2.9, 4.2], [1.01, 2.07, 2.90, 4.17], 0.02, 0.02),
    ...     candidates={"iron(II)": 1, "iron(III)": "3/2"})
    >>> found.verdict.candidates, found.basis.name, round(found.ratio, 3)
    (('iron(II)',), 'SCATTER', 0.995)
    >>> from stoichkit import experiments
    >>> found = class_verdict(experiments.load("copper-silver"))
    >>> found.verdict.kind.value, found.verdict.candidates, found.no_line[:27]
    ('singled_out', ('copper(II)',), 'The amounts consumed do not')
    """
    entry.text("produced", produced)
    between = checked_between(variation, "variation")
    records: Sequence[Experiment] = ()
    if not isinstance(groups, ClassAmounts | Mapping):
        several = [groups] if isinstance(groups, Experiment) else groups
        records = entry.listed("groups", several, Experiment)
        first = _first_of(records)
        coverage = first.coverage if coverage is None else coverage
        candidates = first.candidates if candidates is None else candidates
        species = first.produced.species
        produced = produced or ("" if species == "e-" else species)
        between = first.between_groups if between is None else between
        if between is None and all(r.variation and not r.variation.unknown for r in records):
            between = NO_VARIATION
        if recovery is None:
            ends = zip(*(record.recovery for record in records), strict=True)
            least, most = ends
            recovery = min(least), max(most)
    candidates = () if candidates is None else candidates
    coverage = checked_coverage(0.95 if coverage is None else coverage, error=ModelError)
    recovery = (1.0, 1.0) if recovery is None else checked_recovery(recovery, error=ModelError)
    listed = check_candidates(
        plain_ratios(candidates) if isinstance(candidates, Mapping) else candidates
    )
    between = Variation(unknown=True) if between is None else between

    def test_of(given: ClassAmounts) -> _Test:
        if isinstance(between, Variation) and not between.unknown:
            given = given.varied(between)
        return _Test(given, between, recovery)

    if records:
        test = test_of(amounts_of(*records))
    elif isinstance(groups, ClassAmounts):
        test = test_of(groups)
    else:
        test = test_of(ClassAmounts(entry.mapping("groups", groups, _GROUPS)))
    amounts, linear, line = test.amounts, test.linear, test.line
    tested = [_tested(c, test, coverage) for c in listed]
    changing = _still_changing(records)
    reason = None
    if changing:
        fitting = tuple(c.compatible for c in tested)

        def changes(further: tuple[Experiment | None, ...]) -> bool:
            """Return whether other candidates fit, or none where a mass cannot be read."""
            try:
                other = test_of(amounts_of(*(entry.record("lab", e, Experiment) for e in further)))
            except StoichkitError:
                return True
            return tuple(other.fits(float(c.ratio), 1 - coverage) for c in listed) != fitting

        if not any(fitting) or any(map(changes, _dried(records))):
            reason = Reason.NOT_CONSTANT
    consumed = records[0].consumed.species if records else ""
    verdict = test.verdict(
        listed, coverage, reason=reason, about=changing, species=(consumed, produced)
    )
    opinions = [
        verdict_of(((c.name, p >= 1 - coverage) for c, p in zip(listed, ps, strict=True)), coverage)
        if not any(math.isnan(p) for p in ps)
        else None
        for ps in (
            [test.largest(way, float(c.ratio))[0] for c in listed] for way in test.opinions()
        )
    ]
    assert opinions[0] is not None
    x, y = amounts.best_direction()
    scale = y * linear.mean_consumed
    tau = pool(amounts.discrepancies(x, y), amounts.own.along(x, y)).tau
    produced_mol, consumed_mol = test.estimate
    found = ClassVerdict(
        verdict=verdict,
        basis=test.basis,
        variation=between,
        by_readings=opinions[0],
        by_scatter=opinions[1],
        coverage=coverage,
        candidates=FrozenMap({c.name: c for c in tested}),
        ratio=produced_mol / consumed_mol if consumed_mol else math.nan,
        heterogeneity=test.heterogeneity,
        ratio_spread=tau / abs(scale) if scale else math.nan,
        outlying=outlying_groups(amounts),
        line=line,
        no_line=test.no_line,
        blank=None if line is None else blank_of(line, coverage=coverage, produced=produced),
        caveats=(),
        amounts=amounts,
        _test=test,
        _changing=frozenset(changing.values()),
    )
    object.__setattr__(found, "caveats", tuple(_caveats(found)))
    return found


def _still_changing(records: Sequence[Experiment]) -> dict[str, str]:
    """Return what had not become constant ("reading, group") with its group, "" for all."""
    found = {}
    for record in records:
        groups = {trial.name: group_of(trial) for trial in record.trials}
        for trial, name, _ in still_changing(record):
            group = groups.get(trial, "")
            found[f"{name}, {group}" if group else name] = group
    return found


def _dried(records: Sequence[Experiment]) -> Iterator[tuple[Experiment | None, ...]]:
    """Yield the records as if all masses had gone on changing; None for one that cannot be read."""
    ways: list[Iterable[Experiment | None]] = []
    for record in records:
        changing = still_changing(record)
        ways.append(dried_further(record, changing) if changing else repeat(record))
    return zip(*ways)  # noqa: B905 - records that need no drying go on for ever


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


def _greater(p: float, other: float) -> float:
    """Return the greater of two p-values, of which either may be nan for not known."""
    return other if math.isnan(p) else p if math.isnan(other) else max(p, other)


def _tested(candidate: Candidate, test: _Test, coverage: float) -> ClassCandidate:
    """Test one candidate in every way."""
    ratio = float(candidate.ratio)
    p_common, common_at = test.largest(test.common_p, ratio)
    p_scatter, scatter_at = test.largest(test.scatter_p, ratio)
    p_slope, slope_at = test.largest(test.slope_p, ratio)
    p, tested = p_common, common_at
    if test.basis is Basis.LINE:
        p, tested = p_slope, slope_at
    elif test.basis is not Basis.COMMON and p_scatter > p_common:
        p, tested = p_scatter, scatter_at
    if test.basis is Basis.EITHER and p_slope > p:
        p, tested = p_slope, slope_at
    amounts = test.amounts
    plain, _ = scatter_test(amounts, tested, 1.0)
    shared = SumDistribution(amounts.shared_terms(tested, 1.0, plain.weights)).spread
    pooled = pool(
        plain.estimates,
        plain.variances,
        interval=plain.interval_method,
        coverage=coverage,
        shared_uncertainty=shared,
    )
    fits = p >= 1 - coverage
    return ClassCandidate(candidate, tested, pooled, p_common, p_scatter, p_slope, p, fits)


def _caveats(found: ClassVerdict) -> Iterable[ClassCaveat]:
    kinds = ClassCaveatKind
    linear = found.amounts.linear
    if linear.p_value(1.0, 0.0) >= 1 - found.coverage or linear.mean_consumed <= 0:
        yield ClassCaveat(kinds.NOT_RESOLVED)
    if found.heterogeneity.p_heterogeneity < DIFFERENCE_LEVEL:
        yield ClassCaveat(kinds.HETEROGENEOUS, "", found.ratio_spread)
    for name, residual in found.outlying.items():
        yield ClassCaveat(kinds.OUTLYING, name, residual)
    if found.blank is None:
        yield ClassCaveat(kinds.NO_LINE, found.no_line)
    elif found.basis is Basis.LINE:
        yield ClassCaveat(kinds.BLANK, "", found.blank.amount_mol)
    elif found.basis is Basis.EITHER or found.blank.p_value < 1 - found.coverage:
        yield ClassCaveat(kinds.POSSIBLE_BLANK, "", found.blank.amount_mol)
    if len(found.verdict.candidates) == 1 and found.basis is not Basis.LINE:
        only = found.candidates[found.verdict.candidates[0]]
        if only.p_slope < 1 - found.coverage:
            yield ClassCaveat(kinds.DISAGREE, only.name, only.p_slope)
    if len(found.groups) < _FEW:
        yield ClassCaveat(kinds.FEW_GROUPS, "", float(len(found.groups)))
    if found.by_scatter is None:
        yield ClassCaveat(kinds.NO_SCATTER)
    elif found.opinions_differ:
        yield ClassCaveat(kinds.SECOND_OPINION)


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
    Normal errors, groups with the mean amounts and uncertainties of this class, and the test that
    its verdict rests on. Digits, whose lattice matters with few readings, are in
    :func:`stoichkit.planning.questions.fewest_trials`.

    Examples
    --------
    >>> from stoichkit.classroom.amounts import amounts_from_arrays
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
    truth = entry.text("truth", truth) or max(named, key=lambda n: named[n].p_value)
    if truth not in named:
        raise ModelError("There is no such candidate.", given=truth, allowed=", ".join(named))
    target = entry.number("target", target, least=0.05, below=found.coverage)
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
        limits = np.full(1, self.normal)
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
