"""Readings: the number as typed, and the pool of error sources shared within one assessment."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass
from typing import TypeVar, cast

from ..errors import ReadingError

T = TypeVar("T")
MAX_LENGTH = 40
_MINUS_SIGNS = str.maketrans({"−": "-", "–": "-", "﹣": "-"})
_NUMBER = re.compile(r"([+-]?)([0-9]*)(?:[.,]([0-9]*))?(?:[eE]([+-]?[0-9]{1,3}))?")
SMALLEST, LARGEST = 1e-15, 1e12
"""Sizes of a number typed as a reading; in g, mL, s, kPa and the like none is outside."""
_ALLOWED = "digits with at most one decimal mark, such as 20.10 or 20,10"


@dataclass(frozen=True, slots=True)
class Reading:
    """One number as read from an instrument.

    Attributes
    ----------
    value : float
        The number.
    text : str
        What was typed, because "20.10" says more than 20.1.
    decimals : int
        Place of the last typed digit: 2 for "20.10", 0 for "20", 5 for "1.50e-3"; negative
        when the last digit stands for tens or more, -2 for "1.5e3".

    Examples
    --------
    >>> Reading(20.1, "20.10", 2).decimals
    2
    """

    value: float
    text: str
    decimals: int


def parse_number(text: str, what: str = "reading") -> Reading:
    """Read a typed number, with a decimal point or a decimal comma, and keep what was typed.

    A single comma is always a decimal comma ("1,234" is 1.234); two marks in one number are
    refused rather than guessed at.

    Parameters
    ----------
    text : str
        At most 40 characters: an optional sign, digits, at most one decimal mark, an optional
        power of ten such as ``e-3``. Spaces around it are ignored.
    what : str
        Name of the quantity, for the message.

    Raises
    ------
    ReadingError
        If the text is empty, is not a number from 1e-15 to 1e12 in size or 0, has a unit behind
        it, has thousands separators, or uses digits other than 0 to 9.

    Examples
    --------
    >>> parse_number(" 20,10 ")
    Reading(value=20.1, text=' 20,10 ', decimals=2)
    >>> parse_number("1,234.5", "mass of the crucible")
    Traceback (most recent call last):
    stoichkit.errors.ReadingError: The mass of the crucible has more than one decimal mark...
    """
    if not isinstance(text, str):
        raise ReadingError(
            f"The {what} is not text.",
            given=text,
            allowed=_ALLOWED,
            fix="Write it in quotes, so that its last zeros are kept.",
        )
    plain = text.strip().translate(_MINUS_SIGNS)
    if not plain:
        raise ReadingError(f"The {what} is empty.", allowed=_ALLOWED)
    if len(plain) > MAX_LENGTH:
        raise ReadingError(
            f"The {what} is too long.", given=text, allowed=f"at most {MAX_LENGTH} characters"
        )
    match = _NUMBER.fullmatch(plain)
    whole, fraction, power = (match[2], match[3] or "", match[4]) if match else ("", "", None)
    if match is None or not (whole or fraction):
        raise _refusal(plain, text, what)
    sign = match[1]
    value = float(f"{sign}{whole or '0'}.{fraction or '0'}e{power or '0'}")
    nonzero = bool((whole + fraction).strip("0"))
    if nonzero and not SMALLEST <= abs(value) <= LARGEST:
        raise ReadingError(
            f"The {what} is too large or too small to be a reading.",
            given=text,
            allowed=f"0, or a size from {SMALLEST:g} to {LARGEST:g}",
            fix="Check the power of ten.",
        )
    return Reading(value if nonzero else 0.0, text, len(fraction) - int(power or 0))


def mean_reading(readings: Sequence[Reading]) -> Reading:
    """Return the mean of readings of one thing, with the decimals of the coarsest.

    >>> mean_reading([parse_number("21.43"), parse_number("21.44"), parse_number("21.44")])
    Reading(value=21.43666..., text='21.4367', decimals=2)
    """
    if len(readings) == 1:
        return readings[0]
    value = math.fsum(one.value for one in readings) / len(readings)
    decimals = min(one.decimals for one in readings)
    text = f"{value:.{max(decimals, 0) + 2}f}"
    same = {one.value for one in readings} == {value}
    return Reading(value, readings[0].text if same else text, decimals)


def _refusal(plain: str, text: str, what: str) -> ReadingError:
    """Say why a text is not a number, as precisely as its characters allow."""
    marks = plain.count(".") + plain.count(",")
    if re.fullmatch(r"[+-]?[0-9][0-9.,]*", plain) and marks > 1:
        return ReadingError(
            f"The {what} has more than one decimal mark, so its value would be a guess.",
            given=text,
            allowed=_ALLOWED,
            fix="Leave thousands separators out.",
        )
    if re.fullmatch(r"[+-]?[0-9.,]+(\s+[0-9.,]+)+", plain):
        return ReadingError(
            f"The {what} has a space inside it.",
            given=text,
            allowed=_ALLOWED,
            fix="Type one number without spaces.",
        )
    if any(c.isdigit() and c not in "0123456789" for c in plain):
        return ReadingError(
            f"The {what} has digits other than 0 to 9.",
            given=text,
            allowed=_ALLOWED,
            fix="Type it again on a plain keyboard.",
        )
    if re.match(r"[+-]?[0-9.,]*[0-9]\s*[^\W\d_°%]", plain):
        return ReadingError(
            f"The {what} has letters behind the number.",
            given=text,
            allowed=_ALLOWED,
            fix="Type the number alone; the unit is that of the instrument.",
        )
    return ReadingError(f"The {what} is not a number.", given=text, allowed=_ALLOWED)


class ErrorPool:
    """The error sources shared by all readings of one assessment.

    A new pool per assessment; within one pool the same key always gives the same source, so
    that one balance's calibration error is one source in every weighing made on it.

    Examples
    --------
    >>> from stoichkit.uncertainty.sources import Shape, error_source
    >>> pool = ErrorPool()
    >>> def make():
    ...     return error_source("zero", kind="calibration", shape=Shape.NORMAL, scale=0.1)
    >>> pool.shared("balance", make) is pool.shared("balance", make)
    True
    >>> ErrorPool().shared("balance", make) is pool.shared("balance", make)
    False
    """

    __slots__ = ("_made",)

    def __init__(self) -> None:
        self._made: dict[Hashable, object] = {}

    def shared(self, key: Hashable, make: Callable[[], T]) -> T:
        """Return what was made for this key before, or make and keep it.

        Parameters
        ----------
        key : hashable
            Says what the source belongs to, e.g. ``("calibration", "balance 1")``.
        make : callable
            Called without arguments the first time the key is seen.
        """
        if key not in self._made:
            self._made[key] = make()
        return cast(T, self._made[key])
