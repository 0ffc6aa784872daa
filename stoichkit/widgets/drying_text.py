"""Successive weighings typed as lines of time and mass, and what they say about dryness."""

from __future__ import annotations

import re
from dataclasses import dataclass

from ..constant_mass import Drying, drying
from ..errors import ReadingError, StoichkitError
from ..instruments import Balance
from ..readings import parse_number
from .evaluation import Refusal, refusal_of

__all__ = ["MAX_WEIGHINGS", "DryingOutcome", "read_weighings", "weighed"]

MAX_WEIGHINGS = 100
"""Most weighings that are read."""
_BETWEEN = re.compile(r"\s*;\s*|,\s+|\s+")
"""A comma alone is a decimal comma."""


@dataclass(frozen=True, slots=True)
class DryingOutcome:
    """What follows from the lines typed.

    Attributes
    ----------
    found : Drying or None
        None when nothing is typed or it cannot be used.
    refusal : Refusal or None
        Why the lines cannot be used.
    questions : tuple of str
        What is odd about the masses, one sentence each.
    """

    found: Drying | None = None
    refusal: Refusal | None = None
    questions: tuple[str, ...] = ()


def read_weighings(text: str) -> list[tuple[float, str]]:
    """Read lines of a time in min and a mass in g.

    Parameters
    ----------
    text : str
        One weighing a line; between time and mass a space, a tab, a semicolon, or a comma with
        a space behind it. Decimal commas and empty lines will do.

    Returns
    -------
    list of (time in min, mass in g as typed)

    Raises
    ------
    ReadingError
        If a line is not a time and a mass, or there are too many.

    Examples
    --------
    >>> read_weighings("0 1.842; \\n\\n10; 1,571\\n20, 1.469")
    [(0.0, '1.842'), (10.0, '1,571'), (20.0, '1.469')]
    """
    lines = [(i, line.strip()) for i, line in enumerate(text.splitlines(), start=1)]
    lines = [(i, line) for i, line in lines if line]
    if len(lines) > MAX_WEIGHINGS:
        raise ReadingError(
            "There are too many weighings.", given=len(lines), allowed=f"at most {MAX_WEIGHINGS}"
        )
    found = []
    for i, line in lines:
        parts = [part for part in _BETWEEN.split(line) if part]
        if len(parts) != 2:
            raise ReadingError(
                f"Line {i}: this is not a time and a mass.",
                given=line,
                allowed="two numbers, min and g, with a space or a semicolon between them",
            )
        try:
            time_min = parse_number(parts[0], "time").value
            parse_number(parts[1], "mass")
        except StoichkitError as error:
            raise ReadingError(
                f"Line {i}: {error.problem}",
                given=error.given,
                allowed=error.allowed,
                fix=error.fix,
            ) from error
        found.append((time_min, parts[1]))
    return found


def weighed(text: str, balance: Balance | None) -> DryingOutcome:
    """Say what the lines typed tell about dryness; nothing is said while they are empty.

    Parameters
    ----------
    text : str
        See :func:`read_weighings`.
    balance : Balance or None
        None when the lab has no balance.

    Examples
    --------
    >>> weighed("0 20.52\\n10 20.36\\n20 20.35", Balance(readability_g=0.01)).found.constant
    True
    >>> print(weighed("0 20.52\\n10 a", Balance(readability_g=0.01)).refusal)
    Line 2: The mass is not a number. Given: a. Allowed: digits with at most one decimal mark...
    """
    if not text.strip():
        return DryingOutcome()
    if balance is None:
        return DryingOutcome(refusal=Refusal("This lab has no balance."))
    try:
        weighings = read_weighings(text)
        found = drying(weighings, balance)
    except StoichkitError as error:
        return DryingOutcome(refusal=refusal_of(error))
    odd = [q for _, mass in weighings for q in balance.check(parse_number(mass, "mass"))]
    return DryingOutcome(found, None, tuple(dict.fromkeys(odd)))
