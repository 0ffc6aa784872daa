"""The marks of a class: answers in, points by a rubric, one record for each group."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from .._common import FrozenMap
from ..decision.evidence import Evidence, assess
from ..decision.verdict import Reason
from ..errors import DataFileError, ModelError, StoichkitError
from ..experiments.checks import checked_coverage
from ..experiments.parts import Trial
from ..text.wording import names_text
from ..uncertainty import entry
from .data import ClassData
from .evidence import Progress
from .handed_in import Answer, load_answers
from .items import Item, items_of
from .judging import Judgement, MarkKind, judged
from .rubric import Rubric, load_rubric
from .tables import FileSource, Problem


@dataclass(frozen=True, slots=True)
class Mark:
    """One answer with its points.

    Attributes
    ----------
    judgement : Judgement
        What the answer is, and what to say about it.
    points, out_of : float
        Earned, and to be earned; both 0 where nothing is asked.
    """

    judgement: Judgement
    points: float
    out_of: float

    @property
    def kind(self) -> MarkKind:
        """What the answer is."""
        return self.judgement.kind


@dataclass(frozen=True, slots=True)
class GroupMarks:
    """The marks of one group.

    Attributes
    ----------
    group : str
        Name or code.
    marks : tuple of Mark
        Of every item and trial, in the order in which they are worked out.
    remarks : tuple of str
        What a person should know: that an amount comes out below zero, or nothing was handed in.
    """

    group: str
    marks: tuple[Mark, ...]
    remarks: tuple[str, ...] = ()

    @property
    def points(self) -> float:
        """Points earned."""
        return sum(mark.points for mark in self.marks)

    @property
    def out_of(self) -> float:
        """Points that could be earned; less where something is not asked of this group."""
        return sum(mark.out_of for mark in self.marks)

    @property
    def handed_in(self) -> bool:
        """Whether anything was answered."""
        return any(mark.judgement.typed for mark in self.marks)

    def of(self, item: str) -> tuple[Mark, ...]:
        """Return the marks of one item, one a trial where it is asked of each.

        >>> GroupMarks("red", ()).of("ratio")
        ()
        """
        return tuple(mark for mark in self.marks if mark.judgement.item == item)


@dataclass(frozen=True, eq=False)
class ClassMarks:
    """The marks of a class.

    Attributes
    ----------
    data : ClassData
        The readings, without a key from codes to names.
    items : tuple of Item
        What was asked, as far as the rubric gives points.
    rubric : Rubric
    groups : mapping of str to GroupMarks
        In the order of the class file.
    evidence : mapping of str to Evidence
        What the readings of each group say.
    problems : tuple of Problem
        What a person should look at in what was handed in.
    coded : bool
        Whether groups go by codes; nothing here holds a name then.
    """

    data: ClassData
    items: tuple[Item, ...]
    rubric: Rubric
    groups: Mapping[str, GroupMarks]
    evidence: Mapping[str, Evidence] = field(repr=False)
    problems: tuple[Problem, ...] = ()
    coded: bool = False

    def __getstate__(self) -> dict[str, Any]:
        return self.data.names_kept.state_of(self)


def mark_class(
    answers: FileSource | Sequence[FileSource],
    data: ClassData,
    *,
    rubric: Rubric | str | os.PathLike[str] | None = None,
    coverage: float | None = None,
    sheet: str | None = None,
    progress: Progress | None = None,
) -> ClassMarks:
    """Mark the answers of a class, item by item, errors carried forward.

    Parameters
    ----------
    answers : path, bytes, or a sequence of them
        The answer sheet filled in (CSV or XLSX), pages to hand in (HTML), or a folder of them;
        only read.
    data : ClassData
        The readings of the class, as :func:`stoichkit.load_class` loads them. With codes, answers
        may name groups by code or by name, and the marks hold codes only.
    rubric : Rubric or path, optional
        Points by item; one point each, two for the conclusion, if left out.
    coverage : float, optional
        Coverage probability of the conclusions, 0.5 to 0.9999; that of the experiment if left out.
    sheet : str, optional
        Sheet of an XLSX file of answers.
    progress : callable, optional
        Called with the number of groups done and of all; return True to stop.

    Returns
    -------
    ClassMarks
        Every group of the class has marks, also one that handed nothing in.

    Raises
    ------
    DataFileError
        If the answers or the rubric cannot be read, or answers belong to no group of the class.
    ModelError
        If the rubric gives points for what nobody is asked for, or it was stopped.

    Examples
    --------
    >>> from stoichkit import experiments, load_class
    >>> rows = "group,wire before,wire after,paper,paper + silver\\nred,2.94,2.82,0.75,1.15\\n"
    >>> data = load_class(rows.encode(), experiments.load("copper-silver"))
    >>> typed = "group,m(Cu),n(Cu),m(Ag),n(Ag),ratio,conclusion,percent yield\\n"
    >>> typed += "red,0.12,0.0019,0.40,0.0037,0.51,copper(II),98\\n"
    >>> marks = mark_class(typed.encode(), data)
    >>> [(mark.judgement.item, mark.kind.value) for mark in marks.groups["red"].marks][4:6]
    [('ratio', 'a known mistake'), ('conclusion', 'right')]
    >>> marks.groups["red"].points, marks.groups["red"].out_of
    (7.0, 8.0)
    """
    entry.record("data", data, ClassData)
    if progress is not None:
        entry.function("progress", progress, "progress(done, total)")
    if coverage is not None:
        checked_coverage(coverage)
    asked = items_of(data)
    if rubric is None:
        rubric = Rubric.for_items(asked)
    elif not isinstance(rubric, Rubric):
        rubric = load_rubric(rubric)
    rubric.check(asked)
    found = load_answers(answers, asked, sheet=sheet)
    by_group, problems = _sorted_out(found.answers, data)
    groups: dict[str, GroupMarks] = {}
    evidence: dict[str, Evidence] = {}
    for done, name in enumerate(data.names, 1):
        own, said = _placed(name, by_group.get(name, []), data.groups[name].trials, asked)
        problems += said
        try:
            evidence[name] = assess(data.groups[name], coverage=coverage)
        except StoichkitError as error:
            groups[name] = GroupMarks(name, (), (f"The readings cannot be worked on: {error}",))
            continue
        marks = _with_points(judged(evidence[name], asked, own), rubric)
        groups[name] = GroupMarks(name, marks, tuple(_remarks(evidence[name], marks)))
        if progress is not None and progress(done, len(data.names)) is True:
            raise ModelError("Marking was stopped.", given=f"{done} of {len(data.names)} groups")
    return ClassMarks(
        data=data.without_key(),
        items=tuple(item for item in asked if rubric.points.get(item.key)),
        rubric=rubric,
        groups=FrozenMap(groups),
        evidence=FrozenMap(evidence),
        problems=(*_shown(found.problems, data), *problems),
        coded=bool(data.key),
    )


def _shown(problems: Sequence[Problem], data: ClassData) -> tuple[Problem, ...]:
    """Leave out what may name a person where groups go by codes."""
    if not data.key:
        return tuple(problems)
    return tuple(Problem(p.row, p.column if p.row else "", p.text, done=p.done) for p in problems)


def _sorted_out(
    answers: Sequence[Answer], data: ClassData
) -> tuple[dict[str, list[Answer]], list[Problem]]:
    """Return the answers of each group of the class, and which belong to none."""
    known = {name.casefold(): name for name in data.names}
    known |= {name.casefold(): code for code, name in data.key.items()}
    by_group: dict[str, list[Answer]] = {}
    strange: dict[str, str] = {}
    for answer in answers:
        name = known.get(answer.group.casefold())
        if name is None:
            strange.setdefault(answer.group, answer.place)
        else:
            by_group.setdefault(name, []).append(answer)
    if not by_group:
        raise DataFileError(
            "No answer belongs to a group of the class.",
            given=None if data.key else ", ".join(list(strange)[:5]),
            allowed=names_text(data.names),
        )
    return by_group, [
        Problem(
            None,
            "",
            "The class has no such group.",
            "" if data.key else group[:80],
            done="Its answers were not marked.",
            part="" if data.key else place,
        )
        for group, place in strange.items()
    ]


def _placed(
    group: str, answers: Sequence[Answer], trials: Sequence[Trial], items: Sequence[Item]
) -> tuple[dict[tuple[str, str], Answer], list[Problem]]:
    """Return the answers of one group by trial and item, and what was odd.

    A row whose trial is not named is the next trial; what is asked once may stand in any row.
    """
    by_trial = {item.key for item in items if item.by_trial}
    names = {trial.name.casefold(): trial.name for trial in trials}
    found: dict[tuple[str, str], Answer] = {}
    problems: list[Problem] = []
    strange: set[str] = set()
    for answer in answers:
        trial = ""
        if answer.item in by_trial:
            trial = names.get(answer.trial.casefold(), "")
            if not trial and not answer.trial:
                free = [t.name for t in trials if (t.name, answer.item) not in found]
                trial = free[0] if free else ""
            if not trial:
                if answer.trial not in strange:
                    strange.add(answer.trial)
                    problems.append(
                        Problem(None, "", f"Group {group} has no such trial.",
                                answer.trial[:80], ", ".join(t.name for t in trials),
                                "Its answers were not marked.", part=answer.place)
                    )  # fmt: skip
                continue
        first = found.setdefault((trial, answer.item), answer)
        if first is not answer and first.text != answer.text:
            text = f"Group {group} answered {answer.item} twice."
            done = f"The first counts: {first.text[:40]}."
            problems.append(Problem(None, "", text, answer.text[:40], done=done, part=answer.place))
    return found, problems


def _with_points(found: Sequence[Judgement], rubric: Rubric) -> tuple[Mark, ...]:
    """Give points to the answers of a group; the trials share those of an item evenly."""
    parts = {
        MarkKind.RIGHT: 1.0,
        MarkKind.FIGURES: 1.0,
        MarkKind.CARRIED: rubric.carried_forward,
        MarkKind.UNIT: rubric.another_unit,
        MarkKind.MISTAKE: rubric.known_mistake,
    }
    asked: dict[str, int] = {}
    for one in found:
        asked[one.item] = asked.get(one.item, 0) + (one.kind is not MarkKind.NOT_ASKED)
    marks = []
    for one in found:
        points = rubric.points.get(one.item, 0.0)
        if not points:
            continue
        out_of = 0.0 if one.kind is MarkKind.NOT_ASKED else points / asked[one.item]
        part = parts.get(one.kind, 0.0) - (rubric.figures_off if one.figures_off else 0.0)
        marks.append(Mark(one, out_of * max(part, 0.0), out_of))
    return tuple(marks)


def _remarks(evidence: Evidence, marks: Sequence[Mark]) -> list[str]:
    """Return what a person should know about a group."""
    said = []
    below = {
        mark.judgement.trial
        for mark in marks
        if mark.kind is MarkKind.NOT_ASKED and "below zero" in mark.judgement.words
    }
    if trials := [name for name in below if name]:
        where = ", ".join(sorted(trials))
        said.append(
            f"An amount comes out below zero in trial {where}: nothing that rests on it is asked. "
            "Look at the readings."
        )
    elif evidence.verdict.reason is Reason.BELOW_ZERO:
        said.append("An amount comes out below zero: look at the readings.")
    if not any(mark.judgement.typed for mark in marks):
        said.append("No answer was handed in.")
    return said
