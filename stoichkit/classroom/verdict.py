"""The verdict of a whole class: pooled discrepancies, a straight line, and how stable both are.

For each candidate the groups' discrepancies D = n_produced − r n_consumed are pooled, with what
the groups share kept shared, and judged twice: by what the readings explain, and by the scatter of
the groups alone. Groups do differ, so unless it is stated by how much, the judgement that excludes
less counts. A straight line through the groups' amounts tests the ratio as its slope whatever the
intercept; the intercept shows a constant blank (wet paper, residue, a constant loss) that would
masquerade as stoichiometry.

Then the mole ratio pooled in the usual ways, side by side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property, partial, reduce
from itertools import repeat
from typing import Any

from .._common import FrozenMap
from ..chemistry.candidates import Candidate, check_candidates, plain_ratios
from ..decision.chances import Chances, chances_of
from ..decision.evidence import dried_further, still_changing
from ..decision.linear import BELOW_ZERO_LEVEL, LinearAmounts, ratio_found
from ..decision.ratio_test import allowed_ratios, over_recovery
from ..decision.routes import Agreement, landmarks
from ..decision.verdict import Reason, Verdict, VerdictKind, verdict_of
from ..errors import ModelError, StoichkitError
from ..experiments.checks import checked_coverage, checked_recovery
from ..experiments.parts import NO_VARIATION, Prior, Variation, checked_between
from ..experiments.record import Experiment
from ..measurement.buoyancy import NOTHING
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
from .evidence import refuse_looks
from .overturning import ClassFault, class_faults, fewest_groups
from .routes import Air, ClassRoutes, class_air

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
    ROUTES_DISAGREE = "routes to one amount disagree over the class"


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
        The ratio tested: the candidate's own or, of those that the recovery and the buoyancy of
        air allow it, the one that agrees best with the class.
    pooled : Pooled
        Random-effects pooling (Paule-Mandel, Hartung-Knapp) of the groups' discrepancies from
        it, mol, each as if all had consumed the mean amount, with what they share apart.
    p_common, p_scatter : float
        Chance of a mean discrepancy at least as large if the candidate is true: from the exact
        test over all trials, and by the scatter of the groups alone (Student t; nan without
        scatter). The largest over the ratios allowed.
    p_slope : float
        The same for the slope of the line; nan without a line.
    p_value : float
        The one that counts, by the basis of the verdict.
    compatible : bool
        Whether ``p_value`` is at least 1 − coverage.
    tested_by : (int, int)
        By which route to each amount, counted from 1; 0 for all together. Where routes disagree,
        everything here is by the one, or all together, that agrees best with the candidate.
    """

    candidate: Candidate
    tested_ratio: float
    pooled: Pooled
    p_common: float
    p_scatter: float
    p_slope: float
    p_value: float
    compatible: bool
    tested_by: tuple[int, int] = (0, 0)

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
    produced : str
        Formula of the product; "" if it is not named.
    prior : Prior or None
        What is thought of the candidates before the readings, as the first record says.
    agreements : tuple of Agreement
        For each pair of routes to one amount, whether their pooled means agree.
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
    _test: ClassTest = field(repr=False)
    _changing: frozenset[str] = field(default=frozenset(), repr=False)
    produced: str = ""
    prior: Prior | None = None
    agreements: tuple[Agreement, ...] = ()

    @property
    def groups(self) -> tuple[str, ...]:
        """Names of the groups."""
        return self.amounts.names

    @cached_property
    def nearest(self) -> ClassCandidate:
        """The compatible candidate with the largest p-value; if none fits, the one least far off.

        Far in standard uncertainties of the discrepancy, or by the slope where the line decides:
        by the scatter of the groups the p-values of all are alike once each is far off.
        """
        return max(
            self.candidates.values(),
            key=lambda c: (
                c.p_value if c.compatible else 0.0,
                -self._test.distance(c.tested_ratio),
            ),
        )

    @property
    def groups_differ(self) -> bool:
        """Whether groups differ by more than is known of them, beyond a blank if one decides."""
        p = self.heterogeneity.p_heterogeneity
        if self.basis is Basis.LINE and self.line is not None:
            p = (self.line.stated or self.line).p_value
        return p < DIFFERENCE_LEVEL

    @property
    def nothing_shown(self) -> bool:
        """Whether some candidate fits, and nothing shows that anything reacted."""
        fitting = [self.candidates[name] for name in self.verdict.candidates]
        chances = [self.amounts.linear.nothing_reacted_p(c.tested_ratio) for c in fitting]
        return bool(chances) and min(chances) > 1 - self.coverage

    @property
    def recovery(self) -> tuple[float, float]:
        """Least and largest fraction of the product recovered, as stated."""
        return self._test.stated_recovery

    @property
    def air(self) -> tuple[float, float]:
        """Between which factors the buoyancy of air may have changed the ratio of all groups alike.

        (1, 1) where every density is stated, and where it is small and no test hangs on it.
        """
        allowed = any(test.allows_air for test in self._test.each)
        return self._test.air if allowed else NOTHING

    @property
    def stated(self) -> bool:
        """Whether it is stated how much the groups differ, by nothing or by how much."""
        return not (isinstance(self.variation, Variation) and self.variation.unknown)

    @property
    def refuted(self) -> bool:
        """Whether the groups differ by more than was stated, so that their scatter counts.

        Never where it is unknown how much they differ.
        """
        return self.stated and self.heterogeneity.p_heterogeneity < DIFFERENCE_LEVEL

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
            test = self._test.without(name)
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
    def overturned_by(self) -> tuple[ClassFault, ...]:
        """The smallest constant mass and scale, alike in all groups, that change the verdict.

        Empty where nothing can be judged, and where neither would change it.

        >>> from stoichkit import experiments
        >>> found = class_verdict(experiments.load("copper-silver"))
        >>> [(fault.kind, round(fault.size, 2)) for fault in found.overturned_by]
        [('constant mass on the product', -0.18)]
        """
        return tuple(class_faults(self, self._test))

    @cached_property
    def hangs_on(self) -> tuple[str, ...]:
        """The fewest groups found without which the verdict is another; () if there are none.

        Those that speak most against the next candidate are left out one after another.
        """
        return self._fewest[0]

    @property
    def without_those(self) -> Verdict | None:
        """The verdict without the groups that it hangs on."""
        return self._fewest[1]

    @cached_property
    def _fewest(self) -> tuple[tuple[str, ...], Verdict | None]:
        return fewest_groups(self, self._test)

    @cached_property
    def chances(self) -> Chances | None:
        """How probable each candidate is, and that none is true, by the prior of the record.

        None where nothing can be judged, and unless the readings alone decide: how probable groups
        are that differ by an unknown amount hangs on what was thought of that amount before.
        """
        if self.verdict.kind is VerdictKind.CANNOT_BE_JUDGED or self.basis is not Basis.COMMON:
            return None
        linear = self.amounts.linear
        ratios = {name: float(c.candidate.ratio) for name, c in self.candidates.items()}

        def density(ratio: float) -> float:
            return max(_density(test.linear, ratio) for test in self._test.each)

        likelihoods = {
            name: max(
                over_recovery(
                    partial(_density, test.linear),
                    ratio,
                    self.recovery,
                    (test.linear.mean_consumed, test.linear.mean_produced),
                    test.linear.distribution(test.allowed(ratio)[0], 1.0).spread,
                )
                for test in self._test.each
            )
            for name, ratio in ratios.items()
        }
        n_a = linear.mean_consumed
        u = linear.distribution(self.nearest.tested_ratio, 1.0).spread
        reach = 7 * u / n_a if n_a > 0 else math.inf
        found = self.ratio, reach
        return chances_of(likelihoods, ratios, density, found, self.recovery, self.prior)

    @cached_property
    def ratio_set(self) -> RatioSet:
        """Every mole ratio as measured that the class does not exclude.

        A candidate is compatible exactly when some ratio is in it that its recovery, and the
        buoyancy of air where it matters, allow.
        """
        known = [(c.tested_ratio, c.compatible) for c in self.candidates.values()]
        tests, alpha = self._test.each, 1 - self.coverage
        marks = landmarks([test.linear for test in tests]) if len(tests) > 1 else ()
        known += [(r, self._test.p_value(r, 1.0) >= alpha) for r in marks]
        return invert(self._test.p_value, self._test.estimate, known, self.coverage)


def _density(linear: LinearAmounts, ratio: float) -> float:
    """Return the density of the mean discrepancy from a ratio, by the readings alone."""
    return float(linear.distribution(ratio, 1.0).pdf(linear.mean(ratio, 1.0)))


class ClassTest:
    """The test of one mole ratio after another against a class.

    ``air`` and ``by`` are as :class:`stoichkit.decision.ratio_test.RatioTest`
    takes them, with whether air always matters; one factor for all groups, which weigh the same
    substances. ``each`` is this test and, where ``routes`` disagree, that by each route alone, on
    a basis of its own.
    """

    def __init__(
        self,
        amounts: ClassAmounts,
        between: Variation | str,
        recovery: tuple[float, float],
        air: Air = (NOTHING, False),
        *,
        routes: ClassRoutes | None = None,
        by: tuple[int, int] = (0, 0),
    ) -> None:
        self.amounts, self.linear = amounts, amounts.linear
        self.routes, self.by = routes, by
        self.agreements = () if routes is None else routes.agreements()
        alone = () if routes is None else routes.alone(self.agreements)
        self.each = (
            self,
            *(
                ClassTest(_varied(one, between), between, recovery, its_air, by=ways)
                for one, its_air, ways in alone
            ),
        )
        self.between, self.stated_recovery = between, recovery
        self.air, self.fine = air
        self._with_air = recovery[0] * self.air[0], recovery[1] * self.air[1]
        self.recovery = self._with_air if self.fine else recovery
        self.allows_air = self.fine and self.air != NOTHING
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

    def without(self, group: str) -> ClassTest:
        """Return the test without one group; other routes may agree then."""
        routes = None if self.routes is None else self.routes.without(group)
        return self._of(self.amounts.without(group), routes)

    def shifted(self, add_mol: float, times: float) -> ClassTest:
        """Return the test as if every trial had produced more, by every route."""
        routes = None if self.routes is None else self.routes.shifted(add_mol, times)
        return self._of(self.amounts.changed(add_mol, times), routes)

    def _of(self, amounts: ClassAmounts, routes: ClassRoutes | None) -> ClassTest:
        return ClassTest(
            amounts, self.between, self.stated_recovery, (self.air, self.fine), routes=routes
        )

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
        """Return the p-value of the ratio x/y as measured; where routes disagree the largest."""
        return max(test._own_p(x, y) for test in self.each)

    def _own_p(self, x: float, y: float) -> float:
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

    def allowed(
        self, ratio: float, recovery: tuple[float, float] | None = None
    ) -> tuple[float, ...]:
        """Return ratios as measured that a candidate allows, the likeliest first."""
        produced, consumed = self.estimate
        return allowed_ratios(ratio_found(consumed, produced), ratio, recovery or self.recovery)

    def largest(
        self, p_of: Callable[[float], float], ratio: float, alpha: float
    ) -> tuple[float, float]:
        """Return the largest p-value over what a candidate allows, and the ratio it belongs to.

        The ratio of an excluded one is that nearest to the class.
        """
        allowed = self.allowed(ratio)
        p, tested = self._largest(p_of, allowed)
        if not p < alpha:
            return p, tested
        if self._with_air != self.recovery:
            wider = self._largest(p_of, self.allowed(ratio, self._with_air))
            if wider[0] >= alpha:
                self.allows_air = True
                return wider
        return p, allowed[0]

    @staticmethod
    def _largest(p_of: Callable[[float], float], ratios: Sequence[float]) -> tuple[float, float]:
        """Return the largest p-value that is known, and its ratio."""
        found = [(p_of(r), -i, r) for i, r in enumerate(ratios)]
        known = [entry for entry in found if not math.isnan(entry[0])]
        p, _, tested = max(known) if known else found[0]
        return p, tested

    def distance(self, ratio: float) -> float:
        """Return how far a ratio as measured is from the class."""
        if self.basis is Basis.LINE and self.line is not None:
            return abs(self.line.slope - ratio) / (self.line.u_slope_total or math.inf)
        u = self.linear.distribution(ratio, 1.0).spread
        return abs(self.linear.mean(ratio, 1.0)) / (u or math.inf)

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

    def opinions(
        self, candidates: Sequence[Candidate], coverage: float
    ) -> tuple[Verdict | None, Verdict | None]:
        """Return the verdicts by the readings alone, and by the scatter alone if there is any."""
        found: list[Verdict | None] = []
        for place in (0, 1):
            ps = [self._by(place, float(c.ratio), 1 - coverage) for c in candidates]
            named = [(c.name, p >= 1 - coverage) for c, p in zip(candidates, ps, strict=True)]
            found.append(None if any(map(math.isnan, ps)) else verdict_of(named, coverage))
        return found[0], found[1]

    def _by(self, place: int, ratio: float, alpha: float) -> float:
        """Return the p-value of a candidate by one of the opinions; by the route that fits best."""
        return reduce(
            _greater, (t.largest(t._ways_of_opinion()[place], ratio, alpha)[0] for t in self.each)
        )

    def _ways_of_opinion(self) -> tuple[Callable[[float], float], Callable[[float], float]]:
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
        """Say whether a candidate is compatible, by any route alone where they disagree."""
        return any(test._own_fits(ratio, alpha) for test in self.each)

    def _own_fits(self, ratio: float, alpha: float) -> bool:
        """Say whether a candidate is compatible; the quicker test first."""
        ways = {
            Basis.COMMON: (self.common_p,),
            Basis.SCATTER: (self.scatter_p, self.common_p),
            Basis.EITHER: (self.slope_p, self.scatter_p, self.common_p),
            Basis.LINE: (self.slope_p,),
        }[self.basis]
        ratios = self.allowed(ratio)
        if self._with_air != self.recovery:
            ratios += self.allowed(ratio, self._with_air)
        return any(way(r) >= alpha for r in ratios for way in ways)

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
    proportional to the amount and the same in all groups shows nowhere. (4) Where a record states
    no density, the buoyancy of air is a bounded unknown, one factor for all groups, as it is for
    the trials of one; amounts given as numbers are taken as corrected for it. (5) Where an amount
    is found by several routes, every two are compared over the whole class: if their pooled means
    differ with p below 0.01 by the readings (shared over the pairs), p is the largest by each
    route alone and by all together, as for one lab. Among sound routes that can only raise p; if
    one is at fault in all groups and seen to be, p is not below that by a sound one.

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
        for record in records:
            refuse_looks(record)
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

    def test_of(given: Sequence[Experiment]) -> ClassTest:
        plain = amounts_of(*given)
        return ClassTest(
            _varied(plain, between), between, recovery, class_air(given, plain),
            routes=ClassRoutes.of(given),
        )  # fmt: skip

    if records:
        test = test_of(records)
    else:
        given = groups if isinstance(groups, ClassAmounts) else None
        given = given or ClassAmounts(entry.mapping("groups", groups, _GROUPS))
        test = ClassTest(_varied(given, between), between, recovery)
    amounts, linear, line = test.amounts, test.linear, test.line
    tested = [_tested(c, test, coverage) for c in listed]
    changing = _still_changing(records)
    reason = None
    if changing:
        fitting = tuple(c.compatible for c in tested)

        def changes(further: tuple[Experiment | None, ...]) -> bool:
            """Return whether other candidates fit, or none where a mass cannot be read."""
            try:
                other = test_of([entry.record("lab", e, Experiment) for e in further])
            except StoichkitError:
                return True
            return tuple(other.fits(float(c.ratio), 1 - coverage) for c in listed) != fitting

        if not any(fitting) or any(map(changes, _dried(records))):
            reason = Reason.NOT_CONSTANT
    consumed = records[0].consumed.species if records else ""
    verdict = test.verdict(
        listed, coverage, reason=reason, about=changing, species=(consumed, produced)
    )
    by_readings, by_scatter = test.opinions(listed, coverage)
    assert by_readings is not None
    x, y = amounts.best_direction()
    scale = y * linear.mean_consumed
    tau = pool(amounts.discrepancies(x, y), amounts.own.along(x, y)).tau
    produced_mol, consumed_mol = test.estimate
    found = ClassVerdict(
        verdict=verdict,
        basis=test.basis,
        variation=between,
        by_readings=by_readings,
        by_scatter=by_scatter,
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
        produced=produced,
        prior=records[0].prior if records and listed == records[0].candidates else None,
        agreements=test.agreements,
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


def _varied(amounts: ClassAmounts, between: Variation | str) -> ClassAmounts:
    """Return the class with what its groups are stated to differ by as one more source of each."""
    stated = isinstance(between, Variation) and not between.unknown
    return amounts.varied(between) if isinstance(between, Variation) and stated else amounts


def _greater(p: float, other: float) -> float:
    """Return the greater of two p-values, of which either may be nan for not known."""
    return other if math.isnan(p) else p if math.isnan(other) else max(p, other)


def _tested(candidate: Candidate, test: ClassTest, coverage: float) -> ClassCandidate:
    """Test a candidate by all routes and, where they disagree, by each: the largest p counts."""
    found = [_tested_by(candidate, one, coverage) for one in test.each]
    return max(found, key=lambda c: (c.p_value, -test.distance(c.tested_ratio)))


def _tested_by(candidate: Candidate, test: ClassTest, coverage: float) -> ClassCandidate:
    """Test one candidate in every way."""
    ratio = float(candidate.ratio)
    alpha = 1 - coverage
    p_common, common_at = test.largest(test.common_p, ratio, alpha)
    p_scatter, scatter_at = test.largest(test.scatter_p, ratio, alpha)
    p_slope, slope_at = test.largest(test.slope_p, ratio, alpha)
    p, tested = p_common, common_at
    if test.basis is Basis.LINE:
        p, tested = p_slope, slope_at
    elif test.basis is not Basis.COMMON and p_scatter > p_common:
        p, tested = p_scatter, scatter_at
    if test.basis is Basis.EITHER and p_slope > p:
        p, tested = p_slope, slope_at
    amounts = test.amounts
    plain, _ = scatter_test(amounts, tested, 1.0)
    weights = amounts.to_mean() * plain.weights
    shared = SumDistribution(amounts.shared_terms(tested, 1.0, weights)).spread
    pooled = pool(
        plain.estimates,
        plain.variances,
        interval=plain.interval_method,
        coverage=coverage,
        shared_uncertainty=shared,
    )
    fits = p >= alpha
    return ClassCandidate(candidate, tested, pooled, p_common, p_scatter, p_slope, p, fits, test.by)


def _caveats(found: ClassVerdict) -> Iterable[ClassCaveat]:
    kinds = ClassCaveatKind
    linear = found.amounts.linear
    if linear.p_value(1.0, 0.0) >= 1 - found.coverage or linear.mean_consumed <= 0:
        yield ClassCaveat(kinds.NOT_RESOLVED)
    if found.groups_differ:
        yield ClassCaveat(kinds.HETEROGENEOUS, "", found.ratio_spread)
    for name, residual in found.outlying.items():
        yield ClassCaveat(kinds.OUTLYING, name, residual)
    if found.blank is None:
        yield ClassCaveat(kinds.NO_LINE, found.no_line)
    elif found.verdict.reason is Reason.BELOW_ZERO:
        pass  # what draws the amount below zero moves the line too, and is no blank
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
    for side in dict.fromkeys(one.side for one in found.agreements if not one.agree):
        p = min(one.p_value for one in found.agreements if one.side == side)
        yield ClassCaveat(kinds.ROUTES_DISAGREE, side, p)
