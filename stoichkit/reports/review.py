"""Decisions on a class as a record, and what it says as typed, as decided, without the doubtful."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ..classroom.choices import Decision
from ..classroom.review import Review
from ..classroom.sentences import class_verdict_sentences
from ..text.parts import Part, Section, Table
from ..text.wording import names_text
from ..uncertainty import entry


def side_by_side(found: Review) -> Table:
    """Return the verdicts of a review in one table.

    >>> from stoichkit import experiments, load_class
    >>> from stoichkit.classroom import review_class
    >>> data = load_class(experiments.class_file(), experiments.load("copper-silver"))
    >>> for row in side_by_side(review_class(data, "suggested")).rows:
    ...     print(row[0], "|", row[1], "|", row[2][:45])
    As typed | 9 | Together the 9 groups single out copper(II).
    With the decisions | 9 | Together the 9 groups single out copper(II).
    Without the doubtful groups | 8 | Together the 8 groups single out copper(II).
    """
    entry.record("found", found, Review)
    rows = []
    for name, side, why in found.sides():
        if side is None:
            rows.append((name, "–", why))
        else:
            rows.append((name, str(len(side.evidence)), class_verdict_sentences(side)))
    return Table(("Readings", "Groups", "Verdict"), tuple(rows), "The verdict side by side")


def decision_table(decisions: Iterable[Decision]) -> Table:
    """Return decisions as a record: what, who, why, with what was typed.

    >>> decision_table([Decision("red", "1", "set aside", reason="spilled", initials="EK")]).rows
    (('red', '1', 'set aside', '–', '–', 'spilled', 'EK'),)
    """
    rows = tuple(
        (
            one.group,
            one.trial,
            f"{one.kind}: {one.reading}" if one.reading else str(one.kind),
            one.typed or "–",
            one.corrected or "–",
            one.reason or "–",
            one.initials or "–",
        )
        for one in entry.listed("decisions", decisions, Decision)
    )
    header = ("Group", "Trial", "Decision", "Typed", "Corrected", "Why", "Who")
    return Table(header, rows, "Decisions on single trials; the file stays as it was typed")


def decisions_section(decisions: Iterable[Decision], found: Review | None = None) -> Section:
    """Return the section on decisions, with the verdicts side by side if there is a review."""
    parts: list[Part] = list(_parts(tuple(decisions), found))
    return Section("Decisions", tuple(parts))


def _parts(decisions: tuple[Decision, ...], found: Review | None) -> Iterator[Part]:
    if decisions:
        yield decision_table(decisions)
    else:
        yield "Nothing was decided; the readings count as they were typed."
    if found is not None:
        yield side_by_side(found)
        if found.doubtful:
            yield (
                "Doubtful are groups with a reading that looks mistyped, or of which a trial was "
                f"decided on: {names_text(found.doubtful)}."
            )
