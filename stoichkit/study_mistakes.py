"""Answers accepted in self-study, and the values that known mistakes lead to.

The mistakes are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from decimal import Decimal

from .answerkey import AnswerLine
from .elements import atomic_weight_value, molar_mass_value
from .errors import FormulaError
from .figures import written
from .formula import parse_formula
from .study_question import Mistake

__all__ = ["accepted_range", "answer_text", "apart", "molar_mass_mistakes", "rounded", "thousand"]

_NEAR = 0.02
"""A mistake nearer than this to an accepted answer, relative, cannot be told from it."""
_PREFIXED = ("g", "mol", "mL", "kPa")


def answer_text(line: AnswerLine) -> str:
    """Write the answer to a step with its unit."""
    text = line.answer or f"{line.value:.6g}"
    return f"{text} {line.unit}".strip()


def _last_place(value: float, figures: int) -> int:
    """Return the decimals that so many figures leave."""
    return figures - 1 - Decimal(repr(value)).adjusted()


def rounded(value: float, figures: int) -> str:
    """Write a value with so many significant figures, whole numbers without a power of ten.

    >>> rounded(0.40986, 2), rounded(101.4, 2), rounded(98.18, 2)
    ('0.41', '101', '98')
    """
    return written(value, max(_last_place(value, figures), 0))


def accepted_range(value: float, figures: int) -> tuple[float, float]:
    """Return the answers accepted: within one unit of the last figure shown.

    >>> accepted_range(12.5, 3)
    (12.4, 12.6)
    """
    unit = float(Decimal(1).scaleb(-max(_last_place(value, figures), 0)))
    return value - unit, value + unit


def apart(low: float, high: float, found: Iterable[Mistake]) -> tuple[Mistake, ...]:
    """Keep mistakes whose values are not accepted and not near to being so."""
    kept = []
    for one in found:
        margin = _NEAR * abs(one.value)
        if one.value + margin < low or one.value - margin > high:
            kept.append(one)
    return tuple(kept)


def thousand(value: float, unit: str) -> Iterator[Mistake]:
    """Return what a wrong prefix of the unit leads to."""
    if unit in _PREFIXED:
        words = f"This is off by a factor of 1000: the answer is in {unit}; see the prefix."
        yield Mistake(1000 * value, words)
        yield Mistake(value / 1000, words)


def molar_mass_mistakes(species: str, value: float) -> Iterator[Mistake]:
    """Return what mistakes with a formula lead to.

    >>> [round(m.value, 2) for m in molar_mass_mistakes("SnO2", 150.708)]
    [134.71]
    """
    try:
        formula = parse_formula(species)
    except FormulaError:
        return
    counts = formula.composition
    if any(n > 1 for _, n in counts):
        once = sum(atomic_weight_value(s) for s, _ in counts)
        yield Mistake(once, "Each atom was counted once; the subscripts count too.")
    if formula.hydrate_waters:
        water = formula.hydrate_waters * molar_mass_value("H2O")
        yield Mistake(value - water, "The water of the hydrate belongs to it.")
    if len(counts) == 1 and counts[0][1] == 1:
        words = "This is a molecule of two atoms; here each atom counts by itself."
        yield Mistake(2 * value, words)
