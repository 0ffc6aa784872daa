"""How numbers and names are written in the pictures, and how much room they take.

Sentences write numbers with :mod:`stoichkit.text.wording`, which differs on purpose: there an
uncertainty always has two digits and large numbers get a power of ten, here numbers are short and
plain, and what was typed is cut to one line.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from functools import lru_cache

from ..text.wording import species_text

_NARROW = frozenset(" .,:;'|!()[]{}iljtfrI·/-")
_WIDE = frozenset("wDGNOQ&ΔΩ–→≥≤±+=<>~")
_WIDEST = frozenset("mMW@%—…")


def clean(text: str, *, limit: int = 100_000) -> str:
    """Return text as one line that XML and every font can take, cut off at a length.

    >>> clean("a\\nb\\x00c")
    'a b�c'
    """
    line = " ".join(text.split())
    if not line.isprintable():
        line = "".join(c if c.isprintable() else "�" for c in line)
    return shortened(line, limit)


def shortened(text: str, limit: int) -> str:
    """Return the text with its end replaced by … where it is longer than ``limit`` characters.

    >>> shortened("a very long name", 8)
    'a very …'
    """
    return text if len(text) <= limit else f"{text[: limit - 1]}…"


@lru_cache(maxsize=2048)
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Estimate the width of a line of text in points, on the generous side.

    >>> 40 < text_width("copper(II)", 9.0) < 60
    True
    """
    ems = 0.0
    for c in text:
        if c in _NARROW:
            ems += 0.40
        elif c in _WIDEST or c > "\u2e7f":
            ems += 1.0
        elif c in _WIDE:
            ems += 0.84
        else:
            ems += 0.70 if c.isupper() else 0.63
    return ems * size * (1.1 if bold else 1.0)


def wrapped(text: str, width: float, size: float) -> list[str]:
    """Break text into lines no wider than ``width`` points, between words.

    >>> wrapped("one two three", 40.0, 9.0)
    ['one two', 'three']
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and text_width(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def number(value: float, digits: int = 3) -> str:
    """Write a number with some significant digits, without an exponent where that can be read.

    >>> number(0.001234), number(-2.0), number(123456.0), number(1.5e-9)
    ('0.00123', '−2', '123456', '1.5e−09')
    """
    if not math.isfinite(value):
        return "infinite" if value > 0 else "−infinite" if value < 0 else "not defined"
    if value == 0:
        return "0"
    size = math.floor(math.log10(abs(value)))
    if -5 <= size < 7:
        decimals = max(digits - 1 - size, 0)
        text = f"{value:.{decimals}f}"
        text = text.rstrip("0").rstrip(".") if decimals else text
    else:
        text = f"{value:.{digits}g}"
    return text.replace("-", "−")


def with_uncertainty(value: float, uncertainty: float) -> str:
    """Write an estimate and its standard uncertainty to two digits of the latter.

    >>> with_uncertainty(1.7702, 0.0613)
    '1.770 ± 0.061'
    """
    if not (uncertainty > 0 and math.isfinite(uncertainty)):
        return number(value, 4)
    decimals = max(1 - math.floor(math.log10(uncertainty)), 0)
    if decimals > 9:
        return f"{number(value, 4)} ± {number(uncertainty, 2)}"
    return f"{value:.{decimals}f} ± {uncertainty:.{decimals}f}".replace("-", "−")


def percent(share: float) -> str:
    """Write a part of one in percent; a coverage probability keeps its digits.

    >>> percent(0.95), percent(0.999), percent(0.004)
    ('95 %', '99.9 %', '0.4 %')
    """
    return f"{100 * share:.4g} %"


def listed(words: Iterable[str], *, most: int = 12) -> str:
    """List words with commas; more than ``most`` are counted.

    >>> listed(["a", "b", "c"], most=2)
    'a, b and 1 more'
    """
    given = list(words)
    text = ", ".join(given[:most])
    return text if len(given) <= most else f"{text} and {len(given) - most} more"


def shown_species(species: str) -> str:
    """Write a formula with subscripts; text that is none is left as it is.

    >>> shown_species("SnO2"), shown_species("e-"), shown_species("coin")
    ('SnO₂', 'e⁻', 'coin')
    """
    written = species_text(species)
    return clean(species, limit=24) if written == species else written
