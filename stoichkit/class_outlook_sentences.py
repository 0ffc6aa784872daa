"""What would help a class, and what became of the rows of its file, in words."""

from __future__ import annotations

import math
from collections.abc import Iterator

from .class_result import ClassResult
from .class_sentences import names_text
from .classoutlook import ClassOutlook
from .classtable import RowUse
from .wording import two_digits

__all__ = ["file_sentence", "not_assessed_sentences", "outlook_sentences"]


def outlook_sentences(outlook: ClassOutlook) -> Iterator[str]:
    """Yield what more groups, finer displays or other instruments would add.

    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> from stoichkit.classoutlook import class_outlook
    >>> from stoichkit.classverdict import class_verdict
    >>> few = amounts_from_arrays([1.0, 1.2], [1.8, 1.9], 0.2, 0.6, shared_produced=0.05)
    >>> found = class_verdict(few, candidates={"copper(I)": 1, "copper(II)": 2})
    >>> for sentence in outlook_sentences(class_outlook(found)):
    ...     print(sentence)
    If copper(II) is true, the chance that 2 groups like these single it out from copper(I), its
    hardest rival, is 0.65.
    More groups: 5 like these would reach a chance of 0.9.
    Finer instruments: with every display ten times finer the same groups would reach 0.65.
    """
    now = outlook.rows[0]
    yield (
        f"If {outlook.truth} is true, the chance that {now.groups:g} groups like these single it "
        f"out from {outlook.rival}, its hardest rival, is {_chance(now.chance)}."
    )
    enough = now.chance >= outlook.target
    yield _more_groups(outlook, enough)
    yield _finer(outlook, enough)
    if enough:
        return
    if outlook.largest_shared and outlook.shared_u_mol**2 > 0.1 * now.u_mol**2:
        if math.isnan(outlook.copies_needed):
            yield (
                f"Another instrument or stock: {outlook.largest_shared} is the largest error that "
                "the groups share, but sharing it between more copies would not be enough."
            )
        elif outlook.copies_needed > 1:
            yield (
                f"Another instrument or stock: {outlook.largest_shared} is the largest error that "
                f"the groups share; spread over {outlook.copies_needed:.0f} independent copies "
                f"the same groups would reach {outlook.target:g}."
            )


def _more_groups(outlook: ClassOutlook, enough: bool) -> str:
    limit = outlook.rows[-1]
    if enough:
        return (
            f"More groups: not needed for this question. With {outlook.rows[1].groups:g} the "
            "standard uncertainty of the pooled discrepancy would fall from "
            f"{two_digits(1e3 * outlook.rows[0].u_mol)} mmol to "
            f"{two_digits(1e3 * outlook.rows[1].u_mol)} mmol."
        )
    if math.isnan(outlook.groups_needed):
        return (
            f"More groups: no number is enough. The chance levels off at {_chance(limit.chance)}, "
            f"short of {outlook.target:g}, because all groups share {outlook.largest_shared}."
        )
    return (
        f"More groups: {outlook.groups_needed:.0f} like these would reach a chance of "
        f"{outlook.target:g}."
    )


def _finer(outlook: ClassOutlook, enough: bool) -> str:
    head = "Finer instruments: with every display ten times finer"
    if not enough:
        return f"{head} the same groups would reach {_chance(outlook.finer.chance)}."
    u, now = 1e3 * outlook.finer.u_mol, 1e3 * outlook.rows[0].u_mol
    if u > 0.9 * now:
        return (
            "Finer instruments: they would hardly help, since the displays add little to what "
            "differs between the groups."
        )
    return f"{head} it would fall to {two_digits(u)} mmol."


def _chance(value: float) -> str:
    return "below 0.01" if value < 0.01 else f"{value:.2f}"


def file_sentence(result: ClassResult) -> str:
    """Say how many rows of the file were used and what became of the others.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> print(file_sentence(assess_class_file(experiments.class_file(), "copper-silver")))
    The file (CSV, UTF-8, separated by commas) has 20 rows: 17 used, 2 set aside, 1 header. It was
    not changed.
    """
    data = result.data
    order = (RowUse.USED, RowUse.SET_ASIDE, RowUse.HEADER, RowUse.UNITS, RowUse.ABOVE, RowUse.BLANK)
    parts = [f"{data.uses[use]} {use}" for use in order if data.uses.get(use)]
    name = f"The file {data.source}" if data.source and not result.coded else "The file"
    total = sum(data.uses.values())
    return f"{name} ({data.layout}) has {total} rows: {', '.join(parts)}. It was not changed."


def not_assessed_sentences(result: ClassResult) -> Iterator[str]:
    """Yield why groups could not be assessed, those with one reason together.

    >>> from stoichkit import experiments
    >>> from stoichkit.class_result import assess_class_file
    >>> list(not_assessed_sentences(assess_class_file(experiments.class_file(), "copper-silver")))
    []
    """
    by_reason: dict[str, list[str]] = {}
    for name, reason in result.evidence.not_assessed.items():
        by_reason.setdefault(reason, []).append(name)
    for reason, names in by_reason.items():
        yield f"Not assessed: {names_text(names)}. {reason[:1].upper()}{reason[1:]}"
