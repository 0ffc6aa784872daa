"""The verdict of a whole class: pooled discrepancies, a straight line, and how stable both are.

For each candidate the groups' discrepancies D = n_produced − r n_consumed are pooled, with what
the groups share kept shared. A straight line through the groups' amounts tests the ratio as its
slope whatever the intercept; the intercept shows a constant blank (wet paper, residue, a constant
loss) that would masquerade as stoichiometry. Which of the answers counts follows a stated rule.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property
from typing import Any

from .candidate import Candidate, check_candidates
from .candidates import plain_ratios
from .classamounts import ClassAmounts, Pair, amounts_of
from .classline import DIFFERENCE_LEVEL, Blank, blank_of, class_line
from .classrandom import outlying_groups, random_effects
from .distribution import SumDistribution
from .errors import ModelError
from .evidence import assess
from .experiment import Experiment
from .frozen_map import FrozenMap
from .pooling import Pooled, pool
from .ratio_set import RatioSet, invert
from .verdict import Verdict, verdict_of
from .york import Line

__all__ = [
    "BLANK_LEVEL",
    "Basis",
    "ClassCandidate",
    "ClassCaveat",
    "ClassCaveatKind",
    "ClassVerdict",
    "class_verdict",
    "class_verdict_of",
]

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
        :func:`stoichkit.pooling.outlying`, against the ratio of the others. They stay in.
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
        >>> found = class_verdict_of(experiments.load("copper-silver"))
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
    groups: ClassAmounts | Mapping[str, Sequence[Pair]],
    *,
    candidates: Iterable[Candidate] | Mapping[str, Any],
    coverage: float = 0.95,
    produced: str = "",
) -> ClassVerdict:
    """Test candidates with the amounts of all groups of a class.

    Parameters
    ----------
    groups : ClassAmounts, or mapping of str to sequence of (n_consumed, n_produced)
        Uncertain amounts, mol, of each group's trials; for arrays of numbers see
        :func:`stoichkit.classamounts.amounts_from_arrays`.
    candidates : iterable of Candidate, or mapping of str to ratio
        Ratios are n_produced / n_consumed.
    coverage : float
        Coverage probability, 0.5 to 0.9999.
    produced : str
        Formula of the product, for the blank in g.

    Returns
    -------
    ClassVerdict

    Raises
    ------
    ModelError
        If there are fewer than two groups or no candidates, or the coverage cannot be used.

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
    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> found = class_verdict(
    ...     amounts_from_arrays([1.0, 2.1, 2.9, 4.2], [1.01, 2.07, 2.90, 4.17], 0.02, 0.02),
    ...     candidates={"iron(II)": 1, "iron(III)": "3/2"})
    >>> found.verdict.candidates, found.basis.name, round(found.ratio, 3)
    (('iron(II)',), 'COMMON', 0.995)
    """
    if not 0.5 <= coverage <= 0.9999:
        raise ModelError(
            "The coverage probability cannot be used.", given=coverage, allowed="0.5 to 0.9999"
        )
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


def class_verdict_of(*records: Experiment, coverage: float | None = None) -> ClassVerdict:
    """Test the candidates of an experiment with the trials of all its groups.

    Parameters
    ----------
    *records : Experiment
        One record whose trials name their groups, or one record for each set of instruments.
    coverage : float, optional
        That of the first record if left out.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> found = class_verdict_of(experiments.load("copper-silver"))
    >>> found.verdict.kind.value, found.verdict.candidates, found.no_line[:27]
    ('singled_out', ('copper(II)',), 'The amounts consumed do not')
    """
    if not records:
        raise ModelError("There is no experiment.", allowed="one or more")
    first = records[0]
    for record in records[1:]:
        if record.candidates != first.candidates:
            raise ModelError(
                "The experiments of a class have different candidates.", given=record.title
            )
    coverage = first.coverage if coverage is None else coverage
    amounts = amounts_of(*(assess(record, coverage=coverage) for record in records))
    species = first.produced.species
    return class_verdict(
        amounts,
        candidates=first.candidates,
        coverage=coverage,
        produced="" if species == "e-" else species,
    )


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
