"""Everything a class file says: its groups, their slips, the verdict of the class, outlook."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

from .._common import FrozenMap
from ..decision.evidence import Evidence, assess
from ..decision.verdict import VerdictKind
from ..decision.yields import PercentYield, yield_for
from ..diagnosis.slips import LEVEL, Slip, find_slips
from ..errors import DataFileError, ModelError, StoichkitError
from ..experiments.parts import Between, Variation, checked_between
from ..experiments.record import MAX_TRIALS, Experiment
from ..uncertainty import entry
from .amounts import group_of, joined
from .choices import Choices
from .columns import ColumnMap
from .data import ClassData, MadeWhenAsked, decided_rows, load_class
from .evidence import ClassEvidence, Progress, evidence_of_groups
from .outlook import ClassOutlook, class_outlook
from .tables import FileSource
from .verdict import ClassVerdict, class_verdict

_STEPS_AFTER = 2
"""The search for slips and the verdict of the class, each counted like one group."""
_TARGET = 0.9
_STOPPED = "It was stopped before the class was put together."


@dataclass(frozen=True, eq=False)
class ClassResult:
    """What the readings of a class say, group by group and together.

    Attributes
    ----------
    data : ClassData
        As loaded, with what became of each row and the problems found.
    evidence : ClassEvidence
        p-values, verdicts, ratios and yields of all groups as arrays.
    groups : mapping of str to Evidence
        Full evidence of each group that was assessed, worked out when first asked for.
    slips : mapping of str to tuple of Slip
        Readings that cannot be right as typed, for groups that have any. All trials of the class
        are each other's fellows, so at most 1 % of classes without a mistake are accused.
    shared_slips : tuple of Slip
        Those made alike in every trial of the class.
    verdict : ClassVerdict or None
    no_verdict : str
        Why there is none; "" if there is one.
    outlook : ClassOutlook or None
        None without a verdict or a rival candidate, or where the class cannot be judged.
    coded : bool
        Whether groups go by codes, so that nothing here holds a name.
    """

    data: ClassData
    evidence: ClassEvidence
    groups: Mapping[str, Evidence] = field(repr=False)
    slips: Mapping[str, tuple[Slip, ...]]
    shared_slips: tuple[Slip, ...]
    verdict: ClassVerdict | None
    no_verdict: str
    outlook: ClassOutlook | None
    coded: bool = False

    def __getstate__(self) -> dict[str, Any]:
        return self.data.names_kept.state_of(self)

    @property
    def experiment(self) -> Experiment:
        """The record whose models, instruments and candidates hold for every group."""
        return self.data.experiment

    def group(self, name: str) -> Evidence:
        """Return the full evidence of one group.

        Raises
        ------
        ModelError
            If there is no such group, or it was not assessed; says which groups there are.
        """
        try:
            return self.groups[entry.text("name", name)]
        except KeyError:
            raise self.evidence.unknown(name) from None

    def yields(self, name: str) -> Mapping[str, PercentYield]:
        """Return the percent yields of one group, for the candidates that fit it.

        If none fits, that for the nearest one; candidates without a possible yield are left out.

        Raises
        ------
        ModelError
            If there is no such group.
        """
        evidence = self.group(name)
        found = {}
        for candidate in evidence.verdict.candidates or (evidence.nearest.name,):
            try:
                found[candidate] = yield_for(evidence, candidate)
            except ModelError:  # no yield from 0 % up fits: the sentence for it says so
                continue
        return FrozenMap(found)


def assess_class(
    path_or_data: FileSource | ClassData,
    experiment: Experiment | str | None = None,
    *,
    coverage: float | None = None,
    codes: bool = False,
    columns: ColumnMap | None = None,
    sheet: str | None = None,
    variation: Variation | str | float | None = None,
    progress: Progress | None = None,
    choices: Choices | None = None,
) -> ClassResult:
    """Work out what the readings of a class say, group by group and together.

    Parameters
    ----------
    path_or_data : path, bytes or ClassData
        A CSV or XLSX file or its content, which is only read; or what
        :func:`stoichkit.load_class` made of one.
    experiment : Experiment or str
        The record of the lab, or the name of a ready one; not for a ClassData, which holds it.
    coverage : float, optional
        Coverage probability, 0.5 to 0.9999; that of the experiment if left out.
    codes : bool
        Whether groups are called G01, G02, ... instead of by name. The result holds no key to
        the codes; to keep one, use :func:`stoichkit.load_class` first.
    columns, sheet, choices : optional
        As for :func:`stoichkit.load_class`; like ``codes`` not for a ClassData.
    variation : Variation, str or float, optional
        How much the groups truly differ: ``"1.5 %"``, ``"unknown"`` or ``"none"``; what the
        experiment says if left out, as for :func:`stoichkit.classroom.class_verdict`.
    progress : callable, optional
        Called with the number of steps done and of all: one for each group, and two for the
        class. Return True to stop: what is done by then is returned.

    Returns
    -------
    ClassResult
        Its ``evidence`` is that of all groups, ``verdict`` that of the class.

    Raises
    ------
    DataFileError
        If the file cannot be used.
    ModelError
        If the coverage cannot be used, no group can be assessed, or it is not said which
        experiment the readings belong to.
    ExperimentError
        If the variation cannot be used.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> found = assess_class(experiments.class_file("copper-silver"), "copper-silver")
    >>> found.verdict.verdict.candidates, len(found.groups), list(found.slips)
    (('copper(II)',), 9, ['plum'])
    """
    if progress is not None:
        entry.function("progress", progress, "progress(done, total)")
    how = {"columns": columns, "codes": codes, "sheet": sheet, "choices": choices}
    data = decided_rows(_loaded(path_or_data, experiment, **how))
    between = checked_between(variation, "variation")
    if not data.names:
        raise _all_waiting(data)
    coded, data = bool(data.key), data.without_key()
    total = len(data.names) + _STEPS_AFTER
    stopped = False

    def told(done: int) -> bool:
        nonlocal stopped
        stopped = stopped or (progress is not None and progress(done, total) is True)
        return stopped

    evidence = evidence_of_groups(
        data, coverage=coverage, progress=None if progress is None else lambda done, _: told(done)
    )
    named: dict[str, tuple[Slip, ...]] = {}
    shared: tuple[Slip, ...] = ()
    verdict, outlook, why = None, None, _STOPPED
    if not stopped:
        record, why = _together(data, evidence)
        named, shared = _slips(data, evidence, record, lambda: told(total - _STEPS_AFTER))
        if not told(total - 1):
            if record is not None:
                verdict, why = _verdict(record, evidence.coverage, between)
            judged = (
                verdict is not None and verdict.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED
            )
            if verdict is not None and judged and len(verdict.candidates) > 1:
                target = min(_TARGET, round(verdict.coverage - 0.05, 4))
                outlook = class_outlook(verdict, target=target)
            told(total)
        else:
            why = _STOPPED
    return ClassResult(
        data=data,
        evidence=evidence,
        groups=MadeWhenAsked(evidence.names, partial(_full_evidence, data, evidence)),
        slips=FrozenMap(named),
        shared_slips=shared,
        verdict=verdict,
        no_verdict=why,
        outlook=outlook,
        coded=coded,
    )


def _all_waiting(data: ClassData) -> DataFileError:
    asked = data.open_questions
    first = asked[0]
    return DataFileError(
        f"All {data.waiting} rows of readings wait for an answer. {first.text}",
        given=f"{len(asked)} open question{'s' if len(asked) > 1 else ''}, the first: {first.key}",
        allowed=" or ".join(f"“{one}”" for one in first.answers),
        fix="Answer on the Class screen, under [answers] in the choices (--choices), or with "
        f"--answer “{first.key}={first.answers[0]}”.",
    )


def _loaded(
    path_or_data: FileSource | ClassData, experiment: Experiment | str | None, **how: Any
) -> ClassData:
    """Return the data of a class, loaded unless they are loaded already."""
    if isinstance(path_or_data, ClassData):
        if experiment is not None or any(
            one is not None and one is not False for one in how.values()
        ):
            raise ModelError(
                "The class is loaded already, so nothing more can be said about its file.",
                fix="Give experiment, codes, columns, sheet and choices to load_class.",
            )
        return path_or_data
    if experiment is None:
        raise ModelError(
            "It is not said which experiment the readings belong to.",
            given="no experiment",
            allowed="an Experiment, or the name of a ready one",
        )
    if isinstance(experiment, str):
        from ..experiments import load

        experiment = load(experiment)
    return load_class(path_or_data, experiment, **how)


def _full_evidence(data: ClassData, evidence: ClassEvidence, place: int) -> Evidence:
    return assess(data.groups[evidence.names[place]], coverage=evidence.coverage)


def _together(data: ClassData, evidence: ClassEvidence) -> tuple[Experiment | None, str]:
    """Return the trials of all groups that were assessed as one record, or why there is none."""
    trials = int(evidence.trials.sum())
    if trials > MAX_TRIALS:
        return None, (
            f"A class is judged together up to {MAX_TRIALS:,} trials; these are {trials:,}. Each "
            "group is judged by itself. Give fewer groups for a verdict of the class."
        )
    try:
        return joined({name: data.groups[name] for name in evidence.names}), ""
    except StoichkitError as error:
        return None, str(error)


def _slips(
    data: ClassData,
    evidence: ClassEvidence,
    record: Experiment | None,
    stopped: Callable[[], bool],
) -> tuple[dict[str, tuple[Slip, ...]], tuple[Slip, ...]]:
    """Return the slips of each group, and those of all trials alike."""
    if record is None:  # too many trials, or readings for all trials of a group: each by itself
        level = LEVEL / max(len(evidence.names), 1)
        own: dict[str, tuple[Slip, ...]] = {}
        for name in evidence.names:
            if stopped():
                break
            own[name] = find_slips(data.groups[name], level=level)
        return {name: found for name, found in own.items() if found}, ()
    # a trial is known by group and trial; the name of a joined one is only for showing
    pairs = [(name, t.name) for name in evidence.names for t in data.groups[name].trials]
    owner = dict(zip((trial.name for trial in record.trials), pairs, strict=True))
    named: dict[str, tuple[Slip, ...]] = {}
    shared: list[Slip] = []
    for slip in find_slips(record):
        if not slip.trial:
            shared.append(slip)
            continue
        group, trial = owner[slip.trial]
        named[group] = (*named.get(group, ()), replace(slip, trial=trial))
    return named, tuple(shared)


def _verdict(
    record: Experiment, coverage: float, between: Between
) -> tuple[ClassVerdict | None, str]:
    groups = {group_of(trial) for trial in record.trials}
    if len(groups) == 1:
        return None, (
            f"Only {groups.pop()} was assessed: its own readings decide, and one group cannot show "
            "how much groups differ."
        )
    try:
        return class_verdict(record, coverage=coverage, variation=between), ""
    except ModelError as error:
        return None, str(error)
