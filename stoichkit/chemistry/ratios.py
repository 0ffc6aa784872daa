"""Exact ratios as people write them: 3/2, 3:2, 1.5 or 1,5, but never a rounded decimal."""

from __future__ import annotations

import re
from decimal import Decimal
from fractions import Fraction
from math import floor

from ..errors import ModelError
from ..uncertainty import entry

ALLOWED = "above 0, like 3/2, 3:2, 2 or 1.5; decimals only if they are exact"
_LARGEST = 12  # denominator of a ratio that a decimal may stand for
_DECIMALS = 3
_THIRDS = 3
_PLACES_OF_A_FLOAT = 12  # beyond them a quotient such as 10 / 3 is off
_FRACTION = re.compile(r"([1-9][0-9]{0,8})(?: ?[/:] ?([1-9][0-9]{0,8}))?")
_DECIMAL = re.compile(r"([0-9]{0,9})[.,]([0-9]{1,20})")


def exact_ratio(value: object, what: str = "mole ratio") -> Fraction:
    """Read a ratio that is exact.

    A decimal is taken if it has at most three places and is a fraction with a denominator up to
    12; one that a third may have been rounded to (0.67, but also 0.3) is asked about instead.

    Parameters
    ----------
    value : str, int, float or Fraction
        ``"3/2"``, ``"3:2"``, ``"1.5"``, ``"1,5"``, ``1.5``, ``2``; above 0.
    what : str
        What the ratio is called in a refusal.

    Raises
    ------
    ModelError
        If it cannot be read, is not above 0, or is not exact; with the fraction it may mean.

    Examples
    --------
    >>> [str(exact_ratio(ratio)) for ratio in ("3:2", "1.5", "2,25", 0.5, 2)]
    ['3/2', '3/2', '9/4', '1/2', '2']
    >>> exact_ratio("0.67")
    Traceback (most recent call last):
    ...
    stoichkit.errors.ModelError: The mole ratio is a rounded decimal. Given: 0.67. Allowed: above
    0, like 3/2, 3:2, 2 or 1.5; decimals only if they are exact. Did you mean 2/3? 67/100 is taken
    if it is written so.
    """
    entry.text("what", what)
    plain = value if isinstance(value, str) else entry.plain(value)
    if isinstance(plain, int | Fraction) and plain > 0:
        return Fraction(entry.exact(f"the {what}", plain))
    text = f"{plain:f}" if isinstance(plain, Decimal) else str(plain).strip()
    if match := _FRACTION.fullmatch(text):
        return Fraction(int(match[1]), int(match[2] or 1))
    match = _DECIMAL.fullmatch(text)
    number = Fraction(int(match[1] + match[2]), 10 ** len(match[2])) if match else Fraction(0)
    if match is None or not number:
        raise ModelError(f"The {what} cannot be read.", given=value, allowed=ALLOWED)
    last_place = Fraction(1, 10 ** min(len(match[2]), _PLACES_OF_A_FLOAT))
    if number.denominator <= _LARGEST and len(match[2].rstrip("0")) <= _DECIMALS:
        third = _simplest(number - last_place / 2, number + last_place / 2, _THIRDS)
        if third is None or third.denominator >= number.denominator:
            return number
        raise ModelError(
            f"The {what} can be read in two ways.",
            given=value,
            allowed=f"{third} or {number}",
            fix="Write the one you mean.",
        )
    meant = _simplest(number - last_place / 2, number + last_place / 2, _LARGEST)
    meant = meant or _simplest(number, number + last_place, _LARGEST)  # cut off, not rounded
    fix = f"Did you mean {meant}?" if meant else "Write it as a fraction."
    if number.denominator <= 10**_DECIMALS:
        fix += f" {number} is taken if it is written so."
    raise ModelError(f"The {what} is a rounded decimal.", given=value, allowed=ALLOWED, fix=fix)


def _simplest(low: Fraction, high: Fraction, largest: int) -> Fraction | None:
    """Return the fraction above 0 of smallest denominator between two bounds, ends excluded."""
    for denominator in range(1, largest + 1):
        numerator = max(floor(low * denominator) + 1, 1)
        if Fraction(numerator, denominator) < high:
            return Fraction(numerator, denominator)
    return None
