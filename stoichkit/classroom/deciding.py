"""Decisions put into the rows of a class file: trials set aside, readings corrected."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from ..errors import DataFileError, StoichkitError
from ..uncertainty.readings import mean_reading, parse_number
from .cells import several
from .choices import Decision, DecisionKind
from .records import ClassRows, RowUse


def with_decisions(rows: ClassRows, decisions: Sequence[Decision]) -> ClassRows:
    """Return the rows with decisions applied; those given stay as they are.

    Raises
    ------
    DataFileError
        If a decision is about no trial in use, about another text than was typed, or no trial is
        left.
    """
    place = {
        (rows.groups[group], rows.trials[index]): index
        for index, group in enumerate(rows.group_of.tolist())
        if group >= 0
    }
    readings = {
        name: replace(c, texts=[*c.texts], values=c.values.copy(), decimals=c.decimals.copy())
        for name, c in rows.readings.items()
    }
    group_of, uses, reasons = rows.group_of.copy(), [*rows.uses], dict(rows.reasons)
    for one in decisions:
        index = place.get(one.identity)
        if index is None:
            raise _refused(one, "The class has no such trial in use", "a trial that was used")
        if one.kind is DecisionKind.SET_ASIDE:
            group_of[index] = -1
            uses[index] = RowUse.SET_ASIDE
            by = f" ({one.initials})" if one.initials else ""
            reasons[index] = f"{one.reason or 'decided'}{by}"
        elif one.kind is DecisionKind.CORRECTED:
            cells = readings.get(one.reading)
            if cells is None:
                raise _refused(one, "There is no such reading", ", ".join(readings))
            _correct(cells, index, one)
    kept = np.bincount(group_of[group_of >= 0], minlength=len(rows.groups)) > 0
    if not kept.any():
        raise DataFileError(
            "No trial is left: all were set aside.", fix="Use at least one trial of one group."
        )
    new = np.append(np.cumsum(kept) - 1, -1)
    names = tuple(name for name, keep in zip(rows.groups, kept, strict=True) if keep)
    return replace(
        rows, group_of=new[group_of], readings=readings, groups=names, uses=uses, reasons=reasons
    )


def _correct(cells: Any, index: int, one: Decision) -> None:
    """Put a corrected reading in the place of what was typed; the last one, or all of a mean."""
    typed = several(cells.texts[index])
    try:
        before = mean_reading([parse_number(text, "cell") for text in typed])
        given, right = parse_number(one.typed), parse_number(one.corrected)
        last = parse_number(typed[-1], "cell")
    except StoichkitError as error:
        raise _refused(one, f"The correction cannot be used: {error.problem}", "numbers") from error
    mean = given.value == before.value and given.value != last.value
    if given.value != last.value and not mean:
        raise _refused(
            one, f"What was typed is another reading: {', '.join(typed)}", "the reading as typed"
        )
    texts = (one.corrected,) * len(typed) if mean else (*typed[:-1], one.corrected)
    cells.texts[index] = texts[0] if len(texts) == 1 else texts
    cells.values[index] = right.value
    cells.decimals[index] = right.decimals


def _refused(one: Decision, problem: str, allowed: str) -> DataFileError:
    about = f"trial {one.trial} of {one.group}" + (f", {one.reading}" if one.reading else "")
    return DataFileError(
        f"A decision cannot be applied. {problem}.",
        given=about,
        allowed=allowed,
        fix="Correct it, or take it out of the choices.",
    )
