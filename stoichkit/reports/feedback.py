"""Half a page of feedback for each group: what it found, what limits it, a slip, a question."""

from __future__ import annotations

from collections.abc import Sequence

from ..classroom.judging import MarkKind
from ..classroom.marking import ClassMarks, GroupMarks, Mark
from ..classroom.result import ClassResult
from ..decision.evidence import Evidence
from ..decision.sentences import ratio_sentence, reading_shares, yield_sentence
from ..decision.statement import statement_of
from ..decision.verdict import Reason, VerdictKind
from ..diagnosis.sentences import slip_sentence
from ..diagnosis.slips import Slip
from ..errors import ModelError
from ..text.document import Document
from ..text.parts import Part, Section, Table
from ..text.wording import joined, names_text, species_text
from ..uncertainty import entry
from ..uncertainty.sources import nominal

_MOST_LOST = 4
_LONGEST = 330
"""Characters of one row, so that a group has half a page."""
_WORST = (MarkKind.MISTAKE, MarkKind.UNIT, MarkKind.WRONG, MarkKind.UNREAD, MarkKind.FIGURES)
"""Which answer is told first as the slip to look for."""


def feedback_pages(
    marks: ClassMarks,
    *,
    result: ClassResult | None = None,
    groups: Sequence[str] | None = None,
    title: str | None = None,
    note: str = "",
    points: bool = True,
) -> Document:
    """Return half a page of feedback for each group, two to a sheet of A4 or Letter paper.

    Parameters
    ----------
    marks : ClassMarks
    result : ClassResult, optional
        What the class says; its slips in readings are then told to their group.
    groups : sequence of str, optional
        All if left out.
    title : str, optional
        That of the experiment if left out.
    note : str
        A paragraph below the title.
    points : bool
        Whether points are told.

    Returns
    -------
    Document
        A section for each group. Save it as ``.html``, print it and cut it apart.

    Raises
    ------
    ModelError
        If there is no such group.

    Examples
    --------
    >>> from stoichkit import experiments, load_class
    >>> from stoichkit.classroom import mark_class
    >>> data = load_class(experiments.class_file(), experiments.load("copper-silver"))
    >>> marks = mark_class(b"group,ratio,conclusion\\nteal,0.5,copper(II)\\n", data)
    >>> page = feedback_pages(marks, groups=["teal"])
    >>> page.sections[0].title.split(":")[0], [row[0] for row in page.sections[0].parts[0].rows]
    ('teal', ['What you found', 'What limits it', 'Slip to look for', 'Points', 'To think about'])
    """
    entry.record("marks", marks, ClassMarks)
    if result is not None:
        entry.record("result", result, ClassResult)
    entry.texts(title="" if title is None else title, note=note)
    points = entry.flag("points", points)
    chosen = list(marks.groups) if groups is None else entry.listed("groups", groups, str)
    for name in chosen:
        if name not in marks.groups:
            raise ModelError(
                "There is no such group.", given=name, allowed=names_text([*marks.groups])
            )
    opening = [note] if note.strip() else []
    if marks.data.experiment.invented:
        opening.append("The experiment and its readings are invented, for practice.")
    return Document(
        title or f"{marks.data.experiment.title}: feedback",
        tuple(opening),
        tuple(_section(marks, name, result, points) for name in chosen),
        marks.data.names_kept.check if marks.coded else None,
    )


def _section(marks: ClassMarks, name: str, result: ClassResult | None, points: bool) -> Section:
    """Return the half page of one group."""
    group = marks.groups[name]
    head = f"{name}: {_number(group.points)} of {_number(group.out_of)} points"
    evidence = marks.evidence.get(name)
    if evidence is None:
        return Section(head if points else name, tuple(group.remarks), kept=True)
    slips = () if result is None else result.slips.get(name, ())
    rows = [
        ("What you found", _found(evidence)),
        ("What limits it", _limits(evidence, slips)),
        ("Slip to look for", _slip(group, slips)),
        *([("Points", _points(group))] if points else []),
        ("To think about", question_of(evidence, slips)),
    ]
    table = Table(("", "Your readings and your answers"), tuple((a, _cut(b)) for a, b in rows))
    parts: list[Part] = [table]
    return Section(head if points else name, tuple(parts), kept=True)


def _number(value: float) -> str:
    return f"{value:.2f}".rstrip("0").rstrip(".")


def _cut(text: str) -> str:
    """Shorten a text at the end of a sentence, so that the group has half a page."""
    if len(text) <= _LONGEST:
        return text
    kept = text[:_LONGEST]
    at = max(kept.rfind(mark) for mark in (". ", "? ", "; "))
    return kept[: at + 1] if at > _LONGEST // 3 else f"{kept.rstrip()}…"


def _found(evidence: Evidence) -> str:
    said = [statement_of(evidence).headline]
    if evidence.verdict.kind is not VerdictKind.CANNOT_BE_JUDGED:
        said.append(ratio_sentence(evidence))
        if evidence.verdict.kind is VerdictKind.SINGLED_OUT:
            said.append(yield_sentence(evidence, evidence.verdict.candidates[0]))
    return " ".join(said)


def _limits(evidence: Evidence, slips: Sequence[Slip]) -> str:
    """Say in short what limits the conclusion."""
    if any(slip.corrected for slip in slips):
        return "A reading that looks mistyped: while it stands, no instrument limits what you say."
    if evidence.verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return "Nothing is concluded from these readings, so no instrument limits it."
    shares = sorted(reading_shares(evidence).items(), key=lambda item: -item[1])
    if not shares:
        return "No source of error is stated."
    name, share = shares[0]
    beside = ""
    if len(shares) > 1 and shares[1][1] >= 0.9 * share:
        beside = f", closely followed by “{shares[1][0]}”"
    trials = len(evidence.experiment.trials)
    more = "1 trial" if trials == 1 else f"{trials} trials"
    return (
        f"The reading “{name}”, with {100 * share:.0f} % of the variance of what decides"
        f"{beside}. You made {more}; more substance, more trials or a finer display there would "
        "help most."
    )


def _slip(group: GroupMarks, slips: Sequence[Slip]) -> str:
    """Say which slip to look for: in the readings first, then in the answers."""
    for slip in slips:
        return slip_sentence(slip)
    if not group.handed_in:
        return "No answer was handed in, so none can be seen."
    for kind in _WORST:
        for mark in group.marks:
            if mark.kind is kind:
                one = mark.judgement
                return (
                    f"{_where(mark, group)}: you wrote “{_short(one.typed)}”. {one.words}".strip()
                )
    if group.remarks:
        return " ".join(group.remarks)
    return "None was seen in your readings or your answers."


def _where(mark: Mark, group: GroupMarks) -> str:
    one = mark.judgement
    several = len(group.of(one.item)) > 1
    return f"{one.item}, trial {one.trial}" if several else one.item


def _short(text: str) -> str:
    return text if len(text) <= 60 else f"{text[:59]}…"


def _points(group: GroupMarks) -> str:
    """Say where points were lost, and what would have been right."""
    lost = [mark for mark in group.marks if mark.points < mark.out_of]
    said = list(group.remarks)
    if not group.handed_in:
        return " ".join(said)
    if not lost:
        return " ".join([*said, "All that could be earned."])
    shown = [
        f"{_where(mark, group)} ({mark.kind}): {mark.judgement.answer}"
        for mark in lost[:_MOST_LOST]
    ]
    more = f"; and {len(lost) - _MOST_LOST} more" if len(lost) > _MOST_LOST else ""
    return " ".join([*said, f"What would have been right: {'; '.join(shown)}{more}."])


def question_of(evidence: Evidence, slips: Sequence[Slip] = ()) -> str:
    """Return one question to think about, which the group's own readings raise.

    >>> from stoichkit import assess, experiments
    >>> print(question_of(assess(experiments.load("copper-silver"))))
    By how much would “wire after” of every trial have to be wrong before copper(I) would fit too?
    Work it out from your own readings.
    """
    experiment, verdict = evidence.experiment, evidence.verdict
    made = species_text(experiment.produced.species)
    used = species_text(experiment.consumed.species)
    if any(slip.corrected for slip in slips):
        return (
            "How could you have noticed at the bench, before the next step, that this reading "
            "cannot be right?"
        )
    if verdict.reason is Reason.BELOW_ZERO:
        return (
            "Which of the two readings should have been the larger one, and how could you have "
            "seen it while you still stood at the balance?"
        )
    if verdict.reason is Reason.NOT_CONSTANT:
        return "How long would you go on, and how would you know that you may stop?"
    if verdict.kind is VerdictKind.CANNOT_BE_JUDGED:
        return "What would you have to do differently so that these readings can be judged?"
    if verdict.reason is Reason.NOTHING_REACTED:
        return f"What would you have to read to be able to say that any {made} was made?"
    nearest = evidence.nearest
    if verdict.kind is VerdictKind.NONE_FITS:
        a, b = nominal(evidence.n_consumed), nominal(evidence.n_produced)
        way = "more" if b > nearest.tested_ratio * a else "less"
        allowed = "" if experiment.recovery == (1.0, 1.0) else " with any recovery allowed"
        return (
            f"You found {way} {made} than {nearest.name}, the nearest candidate, would give"
            f"{allowed}. Name one step of the procedure that could do this, and a check that would "
            "show whether it did."
        )
    if verdict.kind is VerdictKind.NOT_TOLD_APART:
        names = joined([*verdict.candidates], "and")
        return (
            f"Your readings leave {names}. With the same balance, would you rather use twice as "
            f"much {used} or make twice as many trials to tell them apart, and why?"
        )
    rivals = [c for c in evidence.candidates.values() if c.name not in verdict.candidates]
    shares = sorted(reading_shares(evidence).items(), key=lambda item: -item[1])
    if not rivals or not shares:
        return f"Which candidate is missing from the list, and what ratio of {made} would it ask?"
    rival = max(rivals, key=lambda one: one.p_value)
    return (
        f"By how much would “{shares[0][0]}” of every trial have to be wrong before {rival.name} "
        "would fit too? Work it out from your own readings."
    )
