"""What the readings of each group of a class say about the candidates, all groups at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import compress, product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .._common import FrozenMap
from ..decision.arrays import assess_weighings, four_weighings, kinds_of
from ..decision.evidence import assess
from ..decision.verdict import Reason, Verdict, VerdictKind, verdict_of
from ..errors import ModelError, StoichkitError
from ..experiments.checks import checked_coverage
from ..experiments.record import Experiment
from ..text.wording import names_text
from ..uncertainty import entry
from ..uncertainty.sources import Floats, nominal
from .data import ClassData
from .privacy import NOBODY, KeptNames

Progress = Callable[[int, int], object]
"""Called with the number of groups done and of all groups; returns True to stop."""
_AT_ONCE = 20_000
STOPPED = "stopped before it was assessed"
REASON_WORDS = {
    Reason.BELOW_ZERO: "an amount is below zero",
    Reason.NOT_CONSTANT: "a mass was still changing",
    Reason.NOTHING_REACTED: "nothing shows that anything reacted",
}


@dataclass(frozen=True, eq=False)
class ClassEvidence:
    """Evidence of every group of a class.

    Attributes
    ----------
    names : tuple of str
        Groups assessed, in the order of the file.
    candidates : tuple of str
        In the order of the last axis.
    ratios : ndarray, shape (candidates,)
        Mole ratios n_produced / n_consumed of the candidates.
    p_value : ndarray, shape (groups, candidates)
        As in :class:`stoichkit.decision.evidence.CandidateEvidence`.
    compatible : ndarray of bool, shape (groups, candidates)
    n_consumed_mol, n_produced_mol : ndarray, shape (groups,)
        Mean amounts over the trials, as measured.
    trials : ndarray of int, shape (groups,)
    reasons : tuple of Reason or None
        Why the verdict of a group is not simply what its compatible candidates make it.
    coverage : float
    not_assessed : mapping of str to str
        Groups that could not be assessed, or were not because it was stopped, and why.
    at_once : bool
        Whether all groups went through :func:`stoichkit.decision.assess_weighings`; else each
        through :func:`stoichkit.decision.evidence.assess`. Both give the same numbers.
    names_kept : KeptNames
        As for :class:`stoichkit.classroom.ClassData`.
    """

    names: tuple[str, ...]
    candidates: tuple[str, ...]
    ratios: Floats
    p_value: Floats
    compatible: NDArray[np.bool_]
    n_consumed_mol: Floats
    n_produced_mol: Floats
    trials: NDArray[np.intp]
    reasons: tuple[Reason | None, ...]
    coverage: float
    not_assessed: Mapping[str, str]
    at_once: bool
    names_kept: KeptNames = field(default=NOBODY, repr=False)

    def __getstate__(self) -> dict[str, Any]:
        return self.names_kept.state_of(self)

    def __len__(self) -> int:
        return len(self.names)

    @cached_property
    def kinds(self) -> tuple[str, ...]:
        """Verdict kind of each group, as :class:`stoichkit.decision.VerdictKind` writes it."""
        nothing = np.array([reason is Reason.NOTHING_REACTED for reason in self.reasons])
        cannot = np.array([reason is not None for reason in self.reasons]) & ~nothing
        return tuple(kinds_of(self.compatible, cannot, nothing))

    @cached_property
    def fitting(self) -> tuple[tuple[str, ...], ...]:
        """Names of the compatible candidates of each group; none where it cannot be judged."""
        cannot = str(VerdictKind.CANNOT_BE_JUDGED)
        return tuple(
            tuple(n for n, ok in zip(self.candidates, row, strict=True) if ok and kind != cannot)
            for kind, row in zip(self.kinds, self.compatible.tolist(), strict=True)
        )

    def verdict(self, group: str) -> Verdict:
        """Return the verdict of one group, without the warnings of a full assessment.

        Raises
        ------
        ModelError
            If there is no such group, or it was not assessed.
        """
        if entry.text("group", group) not in self.names:
            raise self.unknown(group)
        place = self.names.index(group)
        named = zip(self.candidates, self.compatible[place].tolist(), strict=True)
        return verdict_of(named, self.coverage, reason=self.reasons[place])

    def unknown(self, group: str) -> ModelError:
        """Return the error that there is no such group, or why it was not assessed."""
        return ModelError(
            "There is no evidence of this group.",
            given=group,
            allowed=names_text(self.names) if self.names else "none",
            fix=self.not_assessed.get(group),
        )

    @cached_property
    def ratio(self) -> Floats:
        """Mole ratio of the mean amounts of each group; nan where nothing was consumed."""
        return self._over(self.n_consumed_mol)

    @cached_property
    def percent_yield(self) -> Floats:
        """Percent yield of each group if a candidate is true, shape (groups, candidates)."""
        return 100 * self._over(self.n_consumed_mol)[:, None] / self.ratios

    def _over(self, denominator: Floats) -> Floats:
        out = np.full(denominator.shape, np.nan)
        np.divide(self.n_produced_mol, denominator, out=out, where=denominator > 0)
        return out

    @cached_property
    def counts(self) -> Mapping[str, int]:
        """How many groups have each kind of verdict."""
        found = Counter(self.kinds)
        return FrozenMap({str(kind): found[str(kind)] for kind in VerdictKind})

    @cached_property
    def singled_out(self) -> Mapping[str, int]:
        """How many groups single out each candidate."""
        alone = np.array(self.kinds) == str(VerdictKind.SINGLED_OUT)
        alone = self.compatible[alone].sum(axis=0)
        return FrozenMap(zip(self.candidates, alone.tolist(), strict=True))


def refuse_looks(experiment: Experiment) -> None:
    """Raise ModelError where several looks are planned, which a class has no stages for."""
    if experiment.looks is not None:
        raise ModelError(
            "Looks are planned for one lab; a class is judged once, when all groups are in.",
            given="[looks] in the experiment",
            allowed="an experiment without it",
            fix="Leave the table out for the class, or judge each group as a lab of its own.",
        )


def evidence_of_groups(
    classdata: ClassData, *, coverage: float | None = None, progress: Progress | None = None
) -> ClassEvidence:
    """Test the candidates against the readings of every group.

    Groups that weigh what was used up and what was made on one balance each are taken all at once;
    others one at a time, which takes a few milliseconds each. Where ``progress`` returns True,
    what is done by then is returned; else a ModelError says why no group can be assessed.

    >>> from stoichkit import experiments, load_class
    >>> text = '''group,wire before,wire after,paper,paper + silver
    ... red,2.94,2.82,0.75,1.15
    ... blue,3.12,3.10,0.70,0.75'''
    >>> data = load_class(text.encode(), experiments.load("copper-silver"))
    >>> evidence = evidence_of_groups(data)
    >>> list(zip(evidence.names, evidence.fitting))
    [('red', ('copper(II)',)), ('blue', ('copper(I)', 'copper(II)'))]
    >>> evidence.ratio.round(2).tolist()
    [1.96, 1.47]
    """
    experiment = entry.record("classdata", classdata, ClassData).experiment
    refuse_looks(experiment)
    level = experiment.coverage if coverage is None else coverage
    level = checked_coverage(level, error=ModelError)
    if progress is not None:
        entry.function("progress", progress, "progress(done, total)")
    shape = (len(classdata.names), len(classdata.experiment.candidates))
    table = _Table(
        np.full(shape, np.nan), np.full(shape[0], np.nan), np.full(shape[0], np.nan),
        [None] * shape[0],
    )  # fmt: skip
    reasons: dict[str, str] = {}
    names = weighings_of(classdata.experiment)
    apart = [i for i, one in enumerate(classdata.weighed_on) if names is None or one is None]
    going_on = names is None or _all_at_once(classdata, names, level, progress, table)
    if apart and going_on:
        _one_by_one(classdata, apart, level, progress, table, reasons)
    done = ~np.isnan(table.n_consumed_mol)
    for index in np.flatnonzero(~done).tolist():
        reasons.setdefault(classdata.names[index], STOPPED)
    if not done.any() and progress is None:
        group, reason = next(iter(reasons.items()))
        raise ModelError("No group can be assessed.", given=group, fix=reason)
    ratios = np.array([float(c.ratio) for c in classdata.experiment.candidates])
    return ClassEvidence(
        names=tuple(compress(classdata.names, done.tolist())),
        candidates=tuple(c.name for c in classdata.experiment.candidates),
        ratios=ratios,
        p_value=table.p_value[done],
        compatible=table.p_value[done] >= 1 - level,
        n_consumed_mol=table.n_consumed_mol[done],
        n_produced_mol=table.n_produced_mol[done],
        trials=classdata.trial_counts[done],
        reasons=tuple(compress(table.reasons, done.tolist())),
        coverage=level,
        not_assessed=FrozenMap(reasons),
        at_once=names is not None and not apart,
        names_kept=classdata.names_kept,
    )


@dataclass(slots=True)
class _Table:
    """Results of all groups, nan until they are known."""

    p_value: Floats
    n_consumed_mol: Floats
    n_produced_mol: Floats
    reasons: list[Reason | None]


def weighings_of(experiment: Experiment) -> tuple[str, str, str, str] | None:
    """Return the four weighings if a lab is one for :func:`assess_weighings`, or None.

    They are the reactant before and after, the empty vessel and that with the product, all made
    in every trial on one balance.

    >>> from stoichkit import experiments
    >>> weighings_of(experiments.load("copper-silver"))
    ('wire before', 'wire after', 'paper', 'paper + silver')
    >>> weighings_of(experiments.load("hydrate-heating")) is None
    True
    """
    found = four_weighings(experiment)
    if found is None or experiment.shared_readings:
        return None
    vessels = {role.name: role.vessel_group for role in experiment.roles()}
    return None if vessels[found.names[0]] == vessels[found.names[3]] else found.names


def _all_at_once(
    classdata: ClassData,
    names: tuple[str, str, str, str],
    coverage: float,
    progress: Progress | None,
    table: _Table,
) -> bool:
    """Judge the groups that weighed everything on one balance each; return whether to go on."""
    experiment = classdata.experiment
    done, total = 0, len(classdata.names)
    balances = [name for name in dict.fromkeys(classdata.weighed_on) if name is not None]
    place = {name: number for number, name in enumerate(balances)}
    kind_of = np.array([-1 if name is None else place[name] for name in classdata.weighed_on])
    counts = np.unique(classdata.trial_counts).tolist()
    for kind, count in product(range(len(balances)), counts):
        groups = np.flatnonzero((classdata.trial_counts == count) & (kind_of == kind))
        if not groups.size:
            continue
        tables = [classdata.table(reading, groups) for reading in names]
        order = np.argsort((tables[0] - tables[1]).sum(axis=1))  # like amounts share the work
        size = order.size if progress is None else _AT_ONCE
        for start in range(0, order.size, size):
            part = order[start : start + size]
            found = assess_weighings(
                *(readings[part] for readings in tables),
                consumed=experiment.consumed.species,
                produced=experiment.produced.species,
                candidates=experiment.candidates,
                balance=classdata.balance(balances[kind]),
                coverage=coverage,
                recovery=experiment.recovery,
                variation=experiment.variation,
            )
            table.p_value[groups[part]] = found.p_value
            table.n_consumed_mol[groups[part]] = found.n_consumed
            table.n_produced_mol[groups[part]] = found.n_produced
            for place in part[found.nothing_reacted].tolist():
                table.reasons[groups[place]] = Reason.NOTHING_REACTED
            for place in part[found.below_zero].tolist():
                table.reasons[groups[place]] = Reason.BELOW_ZERO
            done += part.size
            if progress is not None and progress(done, total) is True:
                return False
    return True


def _one_by_one(
    classdata: ClassData,
    places: Sequence[int],
    coverage: float,
    progress: Progress | None,
    table: _Table,
    reasons: dict[str, str],
) -> None:
    total = len(classdata.names)
    for done, index in enumerate(places, total - len(places) + 1):
        name = classdata.names[index]
        try:
            evidence = assess(classdata.groups[name], coverage=coverage)
        except StoichkitError as error:
            reasons[name] = str(error)
        else:
            table.p_value[index] = [c.p_value for c in evidence.candidates.values()]
            table.n_consumed_mol[index] = nominal(evidence.n_consumed)
            table.n_produced_mol[index] = nominal(evidence.n_produced)
            table.reasons[index] = evidence.verdict.reason
        if progress is not None and progress(done, total) is True:
            return
