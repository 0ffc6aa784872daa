"""Numbers and names as a report writes them: digits that match, and never on the wrong side."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

from ..chemistry.equation import parse_equation
from ..chemistry.formula import SUPERSCRIPTS, parse_formula
from ..errors import FormulaError, StoichkitError
from ..uncertainty.sources import Number, Shape, format_number, uncertain_value

_SMALLEST_P = 1e-4
_LARGE = 1e5
"""From here on an end of a range is shown with three significant digits."""
_RAISED = str.maketrans("0123456789+-", SUPERSCRIPTS)


_MOST_NAMES = 12


def joined(words: Sequence[str], last: str = "and") -> str:
    """Join words as a sentence does.

    >>> joined(["a", "b", "c"])
    'a, b and c'
    """
    return f" {last} ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]


def names_text(names: Sequence[str], *, most: int = _MOST_NAMES) -> str:
    """Write a list of names; those beyond ``most`` are counted.

    >>> names_text(["red", "blue"]), names_text(["a", "b", "c"], most=2)
    ('red and blue', 'a, b and 1 more')
    """
    listed = list(names)
    if len(listed) <= most:
        return joined(listed)
    return f"{', '.join(listed[:most])} and {len(listed) - most} more"


def p_text(p: float, coverage: float = 0.95) -> str:
    """Write a p-value so that the digits shown stand on the right side of 1 − coverage.

    >>> p_text(0.4177), p_text(0.00002), p_text(0.04996, 0.95), p_text(1.0)
    ('0.42', '< 0.0001', '0.04996', '1.00')
    """
    alpha = round(1 - coverage, 12)  # 0.05, not a little more
    if p < _SMALLEST_P:
        return f"< {_SMALLEST_P:.4f}"
    decimals = max(1 - magnitude(p, 2), 2)
    while (float(f"{p:.{decimals}f}") >= alpha) != (p >= alpha):
        decimals += 1
    return f"{p:.{decimals}f}"


def p_clause(p: float, coverage: float = 0.95) -> str:
    """Write ``p = 0.42`` or ``p < 0.0001``; see :func:`p_text`.

    >>> p_clause(0.4177)
    'p = 0.42'
    """
    text = p_text(p, coverage)
    return f"p {text}" if text.startswith("<") else f"p = {text}"


def plus_minus(estimate: float, uncertainty: float) -> str:
    """Write an estimate with its standard uncertainty, digits matching.

    >>> plus_minus(1.89151, 0.0745638)
    '1.892 ± 0.075'
    """
    if not uncertainty > 0:
        return number_text(estimate)
    return number_text(
        uncertain_value(estimate, "shown", kind="other", shape=Shape.NORMAL, scale=uncertainty)
    )


def number_text(value: Number) -> str:
    """Write a number, with its standard uncertainty if it has one, and a proper minus sign.

    >>> number_text(-0.5)
    '−0.5'
    """
    return format_number(value).replace("-", "−")


def magnitude(value: float, figures: int) -> int:
    """Return the power of ten of the first digit of a value as so many figures show it.

    >>> magnitude(0.9996, 3), magnitude(0.9994, 3), magnitude(-250.0, 2), magnitude(0.0, 2)
    (0, -1, 2, 0)
    """
    return int(f"{value:.{max(figures, 1) - 1}e}".partition("e")[2])


def power_of_ten(exponent: int) -> str:
    """Write a power of ten.

    >>> power_of_ten(16), power_of_ten(-6)
    ('10¹⁶', '10⁻⁶')
    """
    return f"10{str(exponent).translate(_RAISED)}"


def two_digits(value: float) -> str:
    """Write a number above 0 with two significant digits and no power of ten.

    >>> two_digits(0.0000973), two_digits(123.4), two_digits(0.0), two_digits(0.0999)
    ('0.000097', '123', '0', '0.10')
    """
    if value <= 0:
        return "0"
    return f"{value:.{max(1 - magnitude(value, 2), 0)}f}"


def shown_range(low: float, high: float, marks: Iterable[float] = ()) -> tuple[str, str]:
    """Write both ends with digits that suit the width and keep every mark on its side.

    >>> shown_range(1.91738, 2.24154), shown_range(1.0004, 1.2, marks=[1.0])
    (('1.92', '2.24'), ('1.0004', '1.2000'))
    """
    marks = tuple(marks)
    size = high - low if math.isfinite(high) and high > low else abs(low) or 1.0
    decimals = min(max(1 - math.floor(math.log10(size)), 0), 9)

    def end(value: float, places: int) -> str:
        return f"{float(f'{value:.3g}') if abs(value) >= _LARGE else value:.{places}f}"

    def ends(places: int) -> tuple[str, str]:
        return end(low, places), end(high, places) if math.isfinite(high) else ""

    def kept(mark: float) -> bool:
        shown_low, shown_high = ends(decimals)
        inside = float(shown_low) <= mark <= float(shown_high or "inf")
        return inside == (low <= mark <= high)

    while decimals < 9 and not all(kept(mark) for mark in marks):
        decimals += 1
    return ends(decimals)


@lru_cache(maxsize=256)
def species_text(species: str) -> str:
    """Write a species with subscripts and superscripts.

    >>> species_text("OH^-")
    'OH⁻'
    """
    try:
        return parse_formula(species).unicode()
    except FormulaError:
        return species


def reaction_text(equation: str) -> str:
    """Write an equation with subscripts and superscripts, or as it is if it cannot be read.

    >>> reaction_text("Cu + 2 Ag^+ -> Cu^2+ + 2 Ag")
    'Cu + 2 Ag⁺ → Cu²⁺ + 2 Ag'
    """
    try:
        found = parse_equation(equation)
    except StoichkitError:
        return equation
    return " → ".join(
        " + ".join(term.unicode() for term in side) for side in (found.left, found.right)
    )


def symbol(species: str) -> str:
    """Write the symbol of the amount of a species.

    >>> symbol("H2O")
    'n(H₂O)'
    """
    return f"n({species_text(species)})"


def more_are(count: int, what: str) -> str:
    """Count what is left out, with its verb.

    >>> more_are(1, "trial"), more_are(3, "trial")
    ('1 more trial is', '3 more trials are')
    """
    return f"1 more {what} is" if count == 1 else f"{count} more {what}s are"


def capitalised(text: str) -> str:
    """Begin a sentence with a name; formulas such as ``pH`` keep their letters.

    >>> capitalised("copper(I)"), capitalised("x = 2")
    ('Copper(I)', 'x = 2')
    """
    start = text[:2]
    return text[:1].upper() + text[1:] if start.isalpha() and start.islower() else text
