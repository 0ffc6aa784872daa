"""Review of a class: repairs suggested, decisions on single trials, verdicts side by side.

A decision is about one trial, known by group and trial as a pair. Nothing is repaired unasked: a
suggested repair becomes decisions only when a person accepts it, and what was typed is kept in the
decision. The file of the class is never written.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from ..diagnosis.slips import Slip, slip_in
from ..errors import ModelError
from ..experiments.parts import Variation
from ..uncertainty import entry
from .choices import Decision, DecisionKind
from .data import ClassData, decided_rows
from .result import ClassResult, assess_class


@dataclass(frozen=True, slots=True)
class Repair:
    """A repair that the readings suggest, for a person to accept or not.

    Attributes
    ----------
    group, trial : str
        "" for a mistake made alike in all groups, or in all trials.
    slip : Slip
        What looks wrong, and what it might have been.
    each : tuple of Repair
        The repair of every trial, where one mistake was made alike in all of them.
    """

    group: str
    trial: str
    slip: Slip
    each: tuple[Repair, ...] = ()

    @property
    def where(self) -> str:
        """Group and trial in words.

        >>> from stoichkit.diagnosis import SlipKind
        >>> Repair("red", "1", Slip(kind=SlipKind.UNIT, trial="1")).where
        'red, trial 1'
        """
        if self.trial:
            return f"{self.group}, trial {self.trial}"
        return f"{self.group or 'all groups'}, all {len(self.each)} trials alike"

    @property
    def words(self) -> str:
        """What is changed into what, in short.

        >>> from stoichkit.diagnosis import SlipKind
        >>> slip = Slip(kind=SlipKind.SWAPPED, trial="1", readings=("a", "b"),
        ...             typed=("1.0", "2.0"), corrected=("2.0", "1.0"))
        >>> Repair("red", "1", slip).words
        'a 1.0 → 2.0, b 2.0 → 1.0'
        """
        slip = self.slip
        changes = zip(slip.readings, slip.typed, slip.corrected, strict=True)
        said = ", ".join(f"{name} {typed} → {right}" for name, typed, right in changes)
        return f"{said} in the first" if self.each else said

    def decisions(self, reason: str = "", initials: str = "") -> tuple[Decision, ...]:
        """Return the decisions that accept it, one for each reading; the kind of slip is the
        reason if none is given.

        Raises
        ------
        DataFileError
            If a text cannot be used.
        """
        slip = self.slip
        if self.each:
            made = (one.decisions(reason, initials) for one in self.each)
            return tuple(decision for some in made for decision in some)
        return tuple(
            Decision(
                self.group, self.trial, DecisionKind.CORRECTED, name, typed.strip(), right,
                reason or str(slip.kind), initials,
            )
            for name, typed, right in zip(slip.readings, slip.typed, slip.corrected, strict=True)
        )  # fmt: skip

    def accepted(self, decisions: Iterable[Decision]) -> bool:
        """Whether all its corrections are among these decisions.

        >>> from stoichkit.diagnosis import SlipKind
        >>> slip = Slip(kind=SlipKind.UNIT, trial="1", readings=("a",), typed=("1.0",),
        ...             corrected=("1000",))
        >>> repair = Repair("red", "1", slip)
        >>> repair.accepted(repair.decisions()), repair.accepted(())
        (True, False)
        """
        made = {(*d.identity, d.reading, d.corrected) for d in decisions}
        wanted = {(*d.identity, d.reading, d.corrected) for d in self.decisions()}
        return wanted <= made


def suggested_repairs(result: ClassResult) -> tuple[Repair, ...]:
    """Return the repairs that the slips of a class suggest, the likeliest of each trial first.

    A mistake made alike in all trials is one repair, which corrects each of them.

    Parameters
    ----------
    result : ClassResult
        Of the readings as typed.

    Examples
    --------
    >>> from stoichkit import assess_class, experiments
    >>> found = suggested_repairs(assess_class(experiments.class_file(), "copper-silver"))
    >>> [(repair.group, repair.trial, repair.words) for repair in found[:1]]
    [('plum', '2', 'wire before 3.32 → 3.23')]
    """
    entry.record("result", result, ClassResult)
    found = [
        Repair(group, slip.trial, slip)
        for group, slips in result.slips.items()
        for slip in slips
        if slip.corrected and slip.trial
    ]
    names = result.evidence.names
    alike = [("", names, slip) for slip in result.shared_slips]
    alike += [
        (g, (g,), slip) for g, some in result.slips.items() for slip in some if not slip.trial
    ]
    for group, groups, slip in alike:
        each = tuple(_in_each(result, groups, slip)) if slip.corrected else ()
        if each:
            found.append(Repair(group, "", slip, each))
    return tuple(found)


def _in_each(result: ClassResult, groups: Iterable[str], slip: Slip) -> Iterator[Repair]:
    """Yield the repair of every trial; none of a reading that only the record of the lab holds."""
    for group in groups:
        record = result.data.groups[group]
        for trial in record.trials:
            own = slip_in(record, trial, slip)
            if own is not None:
                yield Repair(group, trial.name, own)


def first_repairs(repairs: Iterable[Repair]) -> tuple[Repair, ...]:
    """Return one repair for each trial and reading, the first: what is accepted together.

    >>> first_repairs(())
    ()
    """
    taken: set[tuple[str, str, str]] = set()
    kept = []
    for one in repairs:
        places = {(p.group, p.trial, name) for p in one.each or (one,) for name in p.slip.readings}
        if not places & taken:
            kept.append(one)
            taken |= places
    return tuple(kept)


@dataclass(frozen=True, eq=False)
class Review:
    """A class as typed, as decided, and without the doubtful groups.

    Attributes
    ----------
    typed : ClassResult
        Of the readings as the file has them.
    decided : ClassResult or None
        With the decisions; None without any.
    without_doubtful : ClassResult or None
        Of the readings as typed, without the groups that have a slip or a decision.
    why_none : mapping of str to str
        Why one of the two is missing, by its name.
    doubtful : tuple of str
        Groups with a slip or a decision.
    repairs : tuple of Repair
        What the readings as typed suggest.
    decisions : tuple of Decision
    """

    typed: ClassResult
    decided: ClassResult | None
    without_doubtful: ClassResult | None
    why_none: Mapping[str, str]
    doubtful: tuple[str, ...]
    repairs: tuple[Repair, ...]
    decisions: tuple[Decision, ...] = field(default=())

    def sides(self) -> tuple[tuple[str, ClassResult | None, str], ...]:
        """Return the three, each with its name and why it is missing."""
        return (
            ("As typed", self.typed, ""),
            ("With the decisions", self.decided, self.why_none.get("decided", "")),
            (
                "Without the doubtful groups",
                self.without_doubtful,
                self.why_none.get("without_doubtful", ""),
            ),
        )


def review_class(
    data: ClassData,
    decisions: Sequence[Decision] | Literal["suggested"] | None = None,
    *,
    initials: str = "",
    coverage: float | None = None,
    variation: Variation | str | float | None = None,
    typed: ClassResult | None = None,
) -> Review:
    """Put side by side what a class says as typed, with decisions, and without doubtful groups.

    Parameters
    ----------
    data : ClassData
        As loaded; its own decisions are those of ``data.choices``.
    decisions : sequence of Decision, or "suggested", optional
        In the place of those in ``data.choices``; "suggested" accepts the first repair of every
        reading that has one.
    initials : str
        Who accepts the suggested repairs.
    coverage, variation : optional
        As for :func:`stoichkit.assess_class`.
    typed : ClassResult, optional
        The result of the readings as typed, where it is worked out already.

    Raises
    ------
    DataFileError
        If a decision is about no trial of the class, or about another reading than was typed.
    ModelError
        If no group can be assessed.

    Examples
    --------
    >>> from stoichkit import experiments, load_class
    >>> data = load_class(experiments.class_file(), experiments.load("copper-silver"))
    >>> found = review_class(data, "suggested", initials="EK")
    >>> [decision.corrected for decision in found.decisions], found.doubtful
    (['3.23'], ('plum',))
    >>> [side.verdict.verdict.candidates for _, side, _ in found.sides()]
    [('copper(II)',), ('copper(II)',), ('copper(II)',)]
    """
    entry.record("data", data, ClassData)
    entry.text("initials", initials)
    if typed is None:
        typed = assess_class(as_typed(data), coverage=coverage, variation=variation)
    repairs = suggested_repairs(entry.record("typed", typed, ClassResult))
    if isinstance(decisions, str):
        entry.choice("decisions", decisions, ["suggested"])
        chosen: tuple[Decision, ...] = ()
        for one in first_repairs(repairs):
            chosen += one.decisions(initials=initials)
    elif decisions is None:
        chosen = data.choices.decisions
    else:
        chosen = entry.listed("decisions", decisions, Decision)
    why: dict[str, str] = {}

    def judged(name: str, made: Callable[[], ClassData]) -> ClassResult | None:
        try:
            return assess_class(made(), coverage=coverage, variation=variation)
        except ModelError as error:
            why[name] = str(error)
            return None

    decided_result, rest = None, None
    if chosen:
        changed = decided(data, chosen)
        decided_result = judged("decided", lambda: changed)
    else:
        why["decided"] = "Nothing was decided."
    suspected = {*typed.slips, *(p.group for one in repairs for p in one.each)}
    suspected |= {one.group for one in chosen if one.kind != DecisionKind.USED}
    doubtful = tuple(name for name in data.names if name in suspected)
    if not doubtful:
        why["without_doubtful"] = "No group is doubtful."
    elif len(doubtful) == len(data.names):
        why["without_doubtful"] = "Every group is doubtful."
    else:
        rest = judged("without_doubtful", lambda: without_groups(data, doubtful))
    return Review(typed, decided_result, rest, why, doubtful, repairs, chosen)


def as_typed(data: ClassData) -> ClassData:
    """Return the data with no decision to apply; the readings stay as the file has them.

    >>> from stoichkit import experiments, load_class
    >>> data = load_class(experiments.class_file(), experiments.load("copper-silver"))
    >>> as_typed(data) is data
    True
    """
    if data.applied:
        raise ModelError(
            "Decisions were applied to these readings already.",
            fix="Review the class as load_class returned it.",
        )
    if not data.choices.decisions:
        return data
    return replace(data, choices=replace(data.choices, decisions=()))


def decided(data: ClassData, decisions: Sequence[Decision] | None = None) -> ClassData:
    """Return the data with decisions applied: trials set aside, readings corrected.

    Parameters
    ----------
    data : ClassData
    decisions : sequence of Decision, optional
        Those of ``data.choices`` if left out.

    Raises
    ------
    DataFileError
        If a decision is about no trial in use, about another text than was typed, or no trial is
        left.

    Examples
    --------
    >>> from stoichkit import experiments, load_class
    >>> data = load_class(experiments.class_file(), experiments.load("copper-silver"))
    >>> aside = Decision("plum", "1", "set aside", reason="spilled", initials="EK")
    >>> changed = decided(data, [aside])
    >>> len(data.groups["plum"].trials), len(changed.groups["plum"].trials)
    (2, 1)
    >>> "spilled (EK)" in [row.reason for row in changed.rows]
    True
    """
    entry.record("data", data, ClassData)
    if decisions is not None:
        kept = tuple(entry.listed("decisions", decisions, Decision))
        data = replace(as_typed(data), choices=replace(data.choices, decisions=kept))
    return decided_rows(data)


def without_groups(data: ClassData, groups: Iterable[str]) -> ClassData:
    """Return the data, as typed, without some groups."""
    left_out = set(groups)
    decisions = [
        Decision(name, trial.name, DecisionKind.SET_ASIDE, reason="the group is doubtful")
        for name in data.names
        if name in left_out
        for trial in data.groups[name].trials
    ]
    return decided(data, decisions)
