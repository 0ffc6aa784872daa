"""Decisions on single trials of a class, and the repairs that its readings suggest.

Decisions are part of what is undone and kept, as columns are; the file stays as it was typed.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from ...classroom.choices import Decision
from ...classroom.data import ClassData
from ...classroom.result import ClassResult
from ...classroom.review import Repair, Review, review_class
from ...errors import StoichkitError
from ...experiments.parts import Between


def with_repairs(
    decisions: Sequence[Decision], repairs: Sequence[Repair], reason: str = "", initials: str = ""
) -> tuple[Decision, ...]:
    """Return decisions with repairs accepted, each once.

    >>> with_repairs((), ())
    ()
    """
    found = tuple(decisions)
    for repair in repairs:
        if not repair.accepted(found):
            found += repair.decisions(reason.strip(), initials.strip())
    return found


def without_repair(decisions: Sequence[Decision], repair: Repair) -> tuple[Decision, ...]:
    """Return decisions without those that accepted a repair.

    >>> from stoichkit.diagnosis import Slip, SlipKind
    >>> slip = Slip(kind=SlipKind.UNIT, trial="1", readings=("a",), typed=("1",), corrected=("9",))
    >>> repair = Repair("red", "1", slip)
    >>> without_repair(with_repairs((), [repair], "spilled"), repair)
    ()
    """
    gone = {(*d.identity, d.reading, d.corrected) for d in repair.decisions()}
    return tuple(d for d in decisions if (*d.identity, d.reading, d.corrected) not in gone)


def kept_decisions(decisions: Sequence[Decision]) -> list[dict[str, str]]:
    """Return decisions as JSON holds them; see :func:`decisions_back`."""
    return [{name: str(getattr(one, name)) for name in Decision.__slots__} for one in decisions]


def decisions_back(kept: Any) -> tuple[Decision, ...]:
    """Return the decisions that were kept; none where they are damaged.

    >>> decisions_back(kept_decisions([Decision("red", "1", "used")]))[0].identity
    ('red', '1')
    >>> decisions_back([{"group": 3}]), decisions_back(None)
    ((), ())
    """
    if not isinstance(kept, list) or not all(isinstance(one, Mapping) for one in kept):
        return ()
    try:
        return tuple(Decision(**one) for one in kept)
    except (StoichkitError, TypeError):
        return ()


def reviewed(data: ClassData, result: ClassResult, between: Between) -> Review | None:
    """Return the review of a class that was worked out; None where nothing is doubtful."""
    if data.choices.decisions:
        return review_class(data, variation=between)
    if not result.slips and not result.shared_slips:
        return None
    return review_class(data, variation=between, typed=result)
