"""Which numbers are right for a value that follows from readings: the one rule for typed answers.

What was read is given, so a value that follows from it is one number; its uncertainty says how
far the truth may lie from it, and excuses no other calculation. What is left open is rounding: an
answer need say no more than the figures that the readings bear; a difference of them needs none.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from enum import Enum, auto

from ..uncertainty.readings import Reading

GUARD_FIGURES = 2
"""More figures than this beyond what the readings give are pointed out."""
_WIDEST = 0.05
"""No answer further off than this is accepted, relative, however few figures the readings bear."""
_SHORT = 0.05
"""An answer with too few figures is let pass if it is no further off than this, relative."""
_SLACK = 1e-9
_EXACT = 1e-8
"""A difference of two numbers of seven digits is off by less than this in the computer."""


class Fit(Enum):
    """What a number is beside the right one."""

    RIGHT = auto()
    CARRIED = auto()  # it follows from an earlier answer that was not right
    FEW = auto()  # too few figures to say it
    OFF = auto()


@dataclass(frozen=True, slots=True)
class Own:
    """A number that somebody goes on with: as typed, or what follows from what was typed.

    Attributes
    ----------
    value : float
        In the unit of the step.
    rounding : float
        Half a unit of the last figure typed, relative.
    right : bool
        Whether no earlier error is in it.
    """

    value: float
    rounding: float = 0.0
    right: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Accepted:
    """A value, and which numbers are right for it.

    Attributes
    ----------
    value, low, high : float
        Unrounded, and the unrounded numbers that are right; nan for none.
    figures : int
        Significant figures that the readings give it; 0 where that is not asked.
    exact : bool
        Whether it is a difference of readings, which nobody has to round.
    also : tuple of float
        Other values that are right too, as wide as the first.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import parse_number
    >>> ratio = Accepted.of(1.9637, 2)
    >>> for typed in ("1.9637", "2.0", "1.9", "2.06", "2"):
    ...     print(typed, ratio.fit(parse_number(typed)).name)
    1.9637 RIGHT
    2.0 RIGHT
    1.9 RIGHT
    2.06 OFF
    2 RIGHT
    >>> mass = Accepted(value=0.12, low=0.12, high=0.12, figures=2, exact=True)
    >>> [mass.fit(parse_number(typed)).name for typed in ("0.12", "0.13", "0.1")]
    ['RIGHT', 'OFF', 'FEW']
    """

    value: float = float("nan")
    low: float = float("nan")
    high: float = float("nan")
    figures: int = 0
    exact: bool = False
    also: tuple[float, ...] = ()

    @classmethod
    def of(cls, value: float, figures: int, rounding: float = 0.0) -> Accepted:
        """Return what is right for a value that is not exact, from numbers rounded so far before.

        >>> one = Accepted.of(2.096, 2)
        >>> round(one.low, 6), round(one.high, 6), round(Accepted.of(118.0, 1).high, 6)
        (2.046, 2.146, 123.9)
        """
        place = figures - 1 - Decimal(f"{value:.12g}").adjusted()
        half = min(0.5 * float(Decimal(1).scaleb(-place)), _WIDEST * abs(value))
        half += rounding * abs(value)
        return cls(value=value, low=value - half, high=value + half, figures=figures)

    def holds(self, value: float) -> bool:
        """Whether an unrounded value is right.

        >>> asked = Accepted(value=2.0, low=1.9, high=2.1, also=(3.0,))
        >>> [asked.holds(one) for one in (2.05, 2.2, 3.1)]
        [True, False, True]
        """
        half = (self.high - self.low) / 2 + _SLACK * abs(self.value)
        return any(abs(value - right) <= half for right in ((self.low + self.high) / 2, *self.also))

    def fit(self, typed: Reading, factor: float = 1.0, own: Own | None = None) -> Fit:
        """Judge a number as typed; ``factor`` brings it to the unit of the value.

        ``own`` is what follows from somebody's own earlier answers, which is right too if those
        were.
        """
        found = self._fit(typed, factor)
        if own is None or found is Fit.RIGHT:
            return found
        follows = Accepted.of(own.value, self.figures, own.rounding)
        if follows._fit(typed, factor) is not Fit.RIGHT:
            return found
        return Fit.RIGHT if own.right else Fit.CARRIED

    def _fit(self, typed: Reading, factor: float) -> Fit:
        value = typed.value * factor
        if not self.figures:
            return Fit.RIGHT if self.holds(value) else Fit.OFF
        half = half_unit(typed, factor)
        off, size = abs(value - self.value), abs(self.value)
        short = figures_of(typed) < self.figures and off <= half * (1 + _SLACK)
        if self.exact:
            good = off <= _EXACT * size or (short and half <= _SHORT * size)
        else:
            unit = (self.high - self.low) / 2
            good = (
                off <= unit + min(half, unit) + _SLACK * size
                or (_least_figures(typed) <= self.figures and self._rounded_is(value))
                or (short and off <= _SHORT * size)
            )
        return Fit.RIGHT if good else Fit.FEW if short else Fit.OFF

    def _rounded_is(self, value: float) -> bool:
        """Whether it is the right one rounded to so many figures, as 100 is 117.8 to one."""
        if not self.value or (value > 0) != (self.value > 0):
            return value == self.value
        # what was rounded with care on the way may fall to the other side of a half
        parts = (0.99 * abs(self.value), abs(self.value), 1.01 * abs(self.value))
        rounded = {float(f"{one:.{self.figures - 1}e}") for one in parts}
        return any(abs(abs(value) - shown) <= _SLACK * shown for shown in rounded)


def own_of(typed: Reading, factor: float, *, right: bool) -> Own:
    """Return what somebody who typed a number goes on with."""
    value = typed.value * factor
    rounding = half_unit(typed, factor) / abs(value) if value else 0.0
    return Own(value, min(rounding, 1.0), right)


def half_unit(typed: Reading, factor: float = 1.0) -> float:
    """Return half a unit of the last figure of a number as typed; ``factor`` as of the number.

    >>> from stoichkit.uncertainty.readings import parse_number
    >>> half_unit(parse_number("0.12")), half_unit(parse_number("120"), 0.001)
    (0.005, 0.0005)
    """
    return 0.5 * 10.0**-typed.decimals * factor


def figures_of(reading: Reading) -> int:
    """Count the significant figures that were typed; zeros in front do not count.

    >>> from stoichkit.uncertainty.readings import parse_number
    >>> [figures_of(parse_number(t)) for t in ("0.0120", "1.9e-3", "120", "0")]
    [3, 2, 3, 1]
    """
    mantissa = re.split("[eE]", reading.text.strip())[0]
    return max(len(re.sub("[^0-9]", "", mantissa).lstrip("0")), 1)


def _least_figures(reading: Reading) -> int:
    """Count the figures typed; zeros at the end of a whole number may only hold the place."""
    figures = figures_of(reading)
    plain = reading.text.strip()
    if plain.isdigit():
        return max(figures - (len(plain) - len(plain.rstrip("0"))), 1)
    return figures


def figures_remark(typed: int, wanted: int) -> str:
    """Say whether an answer has too many or too few figures; "" if it has not.

    >>> figures_remark(7, 2)
    '7 figures claim more than the readings give: they support 2'
    >>> figures_remark(1, 2), figures_remark(4, 2), figures_remark(9, 0)
    ('the readings support 2 significant figures; you gave 1', '', '')
    """
    if wanted and typed > wanted + GUARD_FIGURES:
        return f"{typed} figures claim more than the readings give: they support {wanted}"
    if wanted and typed < wanted:
        return f"the readings support {wanted} significant figures; you gave {typed}"
    return ""


def too_few(typed: int, wanted: int) -> str:
    """Say that a number has too few figures to be judged.

    >>> too_few(1, 3)
    '1 figure cannot say this; the readings bear 3. Give that many.'
    """
    figures = f"{typed} figure{'s' if typed > 1 else ''}"
    return f"{figures} cannot say this; the readings bear {wanted}. Give that many."
