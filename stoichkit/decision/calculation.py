"""Numbers as the trade writes them: powers of ten, quotients, small calculations. Nothing is run.

A sum keeps the decimals of its term with the fewest, a product the significant figures of its
factor with the fewest and two more, whole powers of ten are exact.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction

from ..errors import ReadingError
from ..uncertainty.readings import LARGEST, SMALLEST, Reading, parse_number

_LONGEST = 160
_DEEPEST = 20
_MOST_POWER = 15
_MOST_BITS = 20_000
_MORE_FIGURES = 2
_RAISED = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻⁺", "0123456789-+")
_SIGNS = str.maketrans(
    {"−": "-", "–": "-", "×": "*", "·": "*", "⋅": "*", "∙": "*", "÷": "/", "∕": "/", "⁄": "/",
     ":": "/"}
)  # fmt: skip
_TIMES = re.compile(r"(?<=[0-9)])\s*[xX]\s*(?=[0-9(])")
_POWER = re.compile(r"(?<=[0-9)])([⁰¹²³⁴-⁹⁻⁺]+)")
_TOKEN = re.compile(
    r"\s*(?:(?P<number>(?:[0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)(?:[eE][+-]?[0-9]{1,3})?)"
    r"|(?P<power>\^|\*\*)|(?P<sign>[-+*/()]))"
)
_ALLOWED = "a number, a power of ten such as 1.9e-3 or 1.9 × 10⁻³, a quotient, or a calculation"


@dataclass(frozen=True, slots=True)
class _Part:
    """A value with the decimals that count; None where it is exact."""

    value: Fraction
    decimals: int | None

    @property
    def figures(self) -> int | None:
        if self.decimals is None or not self.value:
            return None
        return max(_magnitude(self.value) + 1 + self.decimals, 1)


def read_number(text: str) -> Reading:
    """Read a number, or work out the calculation that was typed.

    Parameters
    ----------
    text : str
        At most 160 characters: digits with decimal point or comma, ``+ − × · / :``, brackets,
        whole powers.

    Returns
    -------
    Reading
        With the decimals that the numbers typed give it.

    Raises
    ------
    ReadingError
        If it is none of these, divides by zero, or is too large or too small.

    Examples
    --------
    >>> for typed in ("2.94-2.82", "1.9·10⁻³", "1.9x10^-3", "1/2", "2:1", "0.12/63.546"):
    ...     found = read_number(typed)
    ...     print(f"{found.value:.6g}", found.decimals)
    0.12 2
    0.0019 4
    0.0019 4
    0.5 1
    2 0
    0.0018884 6
    >>> read_number("1/0")
    Traceback (most recent call last):
    stoichkit.errors.ReadingError: The calculation divides by zero. Given: 1/0...
    """
    try:
        return parse_number(text, "answer")
    except ReadingError as error:
        if not re.search(r"[-+−–×·⋅∙÷∕⁄:/*^()xX⁰¹²³⁴-⁹]", text.strip().lstrip("+-−")):
            raise
        plain = error
    if len(text) > _LONGEST:
        raise plain
    ready = _TIMES.sub("*", text)
    ready = _POWER.sub(lambda m: "^" + m[1].translate(_RAISED), ready).translate(_SIGNS)
    try:
        part = _Reader(ready).whole()
    except ZeroDivisionError:
        raise ReadingError(
            "The calculation divides by zero.", given=text, allowed=_ALLOWED
        ) from None
    except OverflowError:
        raise _size_refused(text) from None
    except _NotRead:
        raise ReadingError(
            "The answer is neither a number nor a calculation.", given=text, allowed=_ALLOWED
        ) from None
    if part.value and not SMALLEST <= abs(part.value) <= LARGEST:
        raise _size_refused(text)
    return _reading(part)


def _size_refused(text: str) -> ReadingError:
    return ReadingError(
        "The answer is too large or too small.", given=text,
        allowed=f"0, or a size from {SMALLEST:g} to {LARGEST:g}",
    )  # fmt: skip


def _reading(part: _Part) -> Reading:
    """Return a value with its decimals; an exact one with as many as it needs, at most three."""
    decimals = part.decimals
    if decimals is None:
        least = -_magnitude(part.value) if part.value else 0
        decimals = next(
            (d for d in range(max(least, 0) + 3) if (part.value * 10**d).denominator == 1),
            max(least, 0) + 2,
        )
    value = float(part.value)
    figures = (_magnitude(part.value) + decimals) if part.value else 0
    text = f"{value:.{decimals}f}" if decimals >= 0 else f"{value:.{max(figures, 0)}e}"
    return Reading(value, text, decimals)


def _magnitude(value: Fraction) -> int:
    """Return the power of ten of the first digit."""
    size = abs(value)
    found = math.floor(math.log10(size.numerator) - math.log10(size.denominator)) + 1
    while size < Fraction(10) ** found:  # a logarithm is near, not exact
        found -= 1
    return found


class _NotRead(Exception):
    """It is not a calculation."""


class _Reader:
    """Sums, products, powers and brackets, from left to right."""

    def __init__(self, text: str) -> None:
        self._text, self._at, self._depth = text.rstrip(), 0, 0

    def _next(self, group: str, among: str = "") -> str:
        match = _TOKEN.match(self._text, self._at)
        if match is None or match[group] is None or (among and match[group] not in among):
            return ""
        self._at = match.end()
        return match[group]

    def whole(self) -> _Part:
        found = self._sum()
        if self._at != len(self._text):
            raise _NotRead
        return found

    def _sum(self) -> _Part:
        found = self._product()
        while sign := self._next("sign", "+-"):
            other = self._product()
            known = [d for d in (found.decimals, other.decimals) if d is not None]
            way = 1 if sign == "+" else -1
            found = _Part(found.value + way * other.value, min(known) if known else None)
        return found

    def _product(self) -> _Part:
        found = self._signed()
        plain_power = False
        while sign := self._next("sign", "*/"):
            other = self._signed()
            if other.decimals is None and _is_ten(other.value):
                # a power of ten moves the decimals and takes no figures
                power = _magnitude(other.value) * (1 if sign == "*" else -1)
                kept = None if found.decimals is None else found.decimals - power
                found = _Part(found.value * Fraction(10) ** power, kept)
                continue
            plain_power = plain_power or self._both_whole(found, other)
            value = found.value * other.value if sign == "*" else found.value / other.value
            known = [f for f in (found.figures, other.figures) if f is not None]
            if plain_power and sign == "/":
                found = _Part(value, None)
            elif known and value:
                found = _Part(value, min(known) + _MORE_FIGURES - 1 - _magnitude(value))
            else:
                found = _Part(value, None)
        return found

    @staticmethod
    def _both_whole(one: _Part, other: _Part) -> bool:
        """Whether both are whole numbers, as in 1/2: a quotient of them is exact."""
        return all(p.decimals in (0, None) and p.value.denominator == 1 for p in (one, other))

    def _signed(self) -> _Part:
        if sign := self._next("sign", "+-"):
            found = self._one()
            return found if sign == "+" else _Part(-found.value, found.decimals)
        return self._one()

    def _one(self) -> _Part:
        if self._next("sign", "("):
            self._depth += 1
            if self._depth > _DEEPEST:
                raise _NotRead
            found = self._sum()
            if not self._next("sign", ")"):
                raise _NotRead
            self._depth -= 1
        elif text := self._next("number"):
            try:
                reading = parse_number(text, "answer")
            except ReadingError:
                raise _NotRead from None
            found = _Part(Fraction(text.replace(",", ".")), reading.decimals)
        else:
            raise _NotRead
        while self._next("power"):
            sign = self._next("sign", "+-")
            digits = self._next("number")
            if not digits.isdigit() or len(digits) > 2 or int(digits) > _MOST_POWER:
                raise _NotRead
            power = -int(digits) if sign == "-" else int(digits)
            bits = found.value.numerator.bit_length() + found.value.denominator.bit_length()
            if bits * abs(power) > _MOST_BITS:  # powers of powers soon fill the memory
                raise OverflowError
            value = found.value**power
            ten = found.value == 10
            figures = found.figures
            if ten or figures is None or not value:
                found = _Part(value, None)
            else:
                found = _Part(value, figures - 1 - _magnitude(value))
        return found


def _is_ten(value: Fraction) -> bool:
    """Whether a value is a power of ten."""
    return value > 0 and Fraction(10) ** _magnitude(value) == value
