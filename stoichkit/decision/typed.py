"""An answer as somebody typed it: its number, unit and figures, and which known mistake it is.

The known mistakes are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..chemistry.elements import atomic_weight_value, molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import FormulaError, ReadingError
from ..uncertainty.readings import Reading, parse_number
from .answers import AnswerLine

GUARD_FIGURES = 2
"""More figures than this beyond what the readings give are pointed out."""
SAME = 0.01
"""Answers this near to the value of a known mistake, relative, are taken for it."""
_UNIT = re.compile(r"^(.*?[0-9.,])\s*([A-Za-zµμ%°/·*⁻¹\- ]*[A-Za-z%])$")
_FRACTION = re.compile(r"([0-9]{1,4})\s*/\s*([1-9][0-9]{0,3})")
"""Read where figures are not asked for, as in 1/2 mol for one mole."""
FACTORS = {
    "g": {"g": 1.0, "mg": 1e-3, "kg": 1e3},
    "mol": {"mol": 1.0, "mmol": 1e-3, "µmol": 1e-6, "umol": 1e-6},
    "mL": {"mL": 1.0, "ml": 1.0, "cm3": 1.0, "L": 1e3, "l": 1e3},
    "g/mol": {"g/mol": 1.0, "g mol-1": 1.0},
    "mol/L": {"mol/L": 1.0, "mol/l": 1.0, "M": 1.0},
    "kPa": {"kPa": 1.0, "Pa": 1e-3, "hPa": 0.1, "bar": 100.0},
    "K": {"K": 1.0},
    "C": {"C": 1.0, "As": 1.0, "A s": 1.0},
    "%": {"%": 1.0},
}
"""What one of each unit is in the unit of the answer."""
_PREFIXED = ("g", "mol", "mL", "kPa")


@dataclass(frozen=True, slots=True)
class Mistake:
    """A wrong value that a known mistake leads to, and what to check.

    Attributes
    ----------
    value : float
        In the unit of the question.
    words : str
    """

    value: float
    words: str


def read_answer(text: str, unit: str, *, fractions: bool = False) -> tuple[Reading, float, str]:
    """Return the number typed, the factor that its unit asks for, and that unit.

    Parameters
    ----------
    text : str
        A number with decimal point or comma; its unit may follow.
    unit : str
        Unit of the answer; "" for a plain number.
    fractions : bool
        Whether 3/2 is a number too.

    Raises
    ------
    ReadingError
        If it is not a number, or its unit is none of this kind.

    Examples
    --------
    >>> [read_answer(t, "g")[0].value * read_answer(t, "g")[1] for t in ("0,12", "120 mg")]
    [0.12, 0.12]
    """
    plain = text.strip()
    if fractions and (share := _FRACTION.fullmatch(plain)):
        return parse_number(repr(int(share[1]) / int(share[2])), "answer"), 1.0, ""
    found = _UNIT.fullmatch(plain)
    if found is None:
        return parse_number(plain, "answer"), 1.0, ""
    number, typed = found[1], " ".join(found[2].split()).replace("μ", "µ")
    known = FACTORS.get(unit, {unit: 1.0} if unit else {})
    if typed not in known:
        raise ReadingError(
            "The unit does not fit the question.",
            given=typed,
            allowed=", ".join(known) if known else "a number without a unit",
        )
    return parse_number(number, "answer"), known[typed], typed


def figures_of(reading: Reading) -> int:
    """Count the significant figures that were typed; zeros in front do not count.

    >>> [figures_of(parse_number(t)) for t in ("0.0120", "1.9e-3", "120", "0")]
    [3, 2, 3, 1]
    """
    mantissa = re.split("[eE]", reading.text.strip())[0]
    return max(len(re.sub("[^0-9]", "", mantissa).lstrip("0")), 1)


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


def mistakes_of(line: AnswerLine, before: Sequence[AnswerLine]) -> Iterator[Mistake]:
    """Yield what known mistakes would make of a step; ``before`` are the steps that led to it.

    >>> from stoichkit import experiments
    >>> from stoichkit.decision.answers import answer_lines
    >>> mass, molar, moles, *_ = answer_lines(experiments.load("copper-silver"))
    >>> next(mistakes_of(moles, [mass, molar])).words
    'You multiplied; an amount is mass divided by molar mass.'
    """
    if line.unit == "g/mol":
        yield from _molar_mass_mistakes(line.symbol[2:-1], line.value)
        return
    if "−" in line.formula and line.value:
        yield Mistake(
            -line.value, "The sign is wrong: the larger reading comes first, so see which "
            "reading was made before and which after."
        )  # fmt: skip
    last = before[-2:]
    if line.unit == "mol" and [one.unit for one in last] == ["g", "g/mol"]:
        mass, molar = (one.value for one in last)
        yield Mistake(mass * molar, "You multiplied; an amount is mass divided by molar mass.")
        if mass:
            yield Mistake(molar / mass, "This is upside down: divide the mass by molar mass.")
        yield Mistake(mass, "This is the mass; the question is for the amount in mol.")
    if line.unit == "K":
        yield Mistake(line.value - 273.15, "This is in °C; the question is for K.")
    yield from thousand(line.value, line.unit)


def ratio_mistakes(line: AnswerLine, produced_g: float, consumed_g: float) -> Iterator[Mistake]:
    """Yield what known mistakes would make of a mole ratio; nan for a mass that is not known.

    >>> from stoichkit import experiments
    >>> from stoichkit.decision.answers import answer_lines
    >>> line = answer_lines(experiments.load("copper-silver"))[-1]
    >>> [round(one.value, 3) for one in ratio_mistakes(line, 0.4, 0.1)]
    [0.483, 4.0]
    """
    if line.value:
        yield Mistake(
            1 / line.value, f"This is upside down: the ratio asked for is {line.formula}."
        )
    if consumed_g > 0 and produced_g >= 0:
        yield Mistake(
            produced_g / consumed_g,
            "This is the ratio of the masses; the equation counts particles, so divide the "
            "amounts in mol.",
        )


def percent_mistakes(value: float, ratio: float) -> Iterator[Mistake]:
    """Yield what known mistakes would make of a percent yield; ``ratio`` is that required.

    >>> [round(one.value, 3) for one in percent_mistakes(80.0, 2.0)]
    [0.8, 125.0, 160.0]
    """
    yield Mistake(value / 100, "This is the fraction: give it in percent.")
    if value:
        yield Mistake(1e4 / value, "This is upside down: found divided by required.")
    yield Mistake(value * ratio, "The coefficients of the equation are missing.")


def thousand(value: float, unit: str) -> Iterator[Mistake]:
    """Yield what a wrong prefix of the unit leads to.

    >>> [one.value for one in thousand(2.0, "g")], list(thousand(2.0, "%"))
    ([2000.0, 0.002], [])
    """
    if unit in _PREFIXED:
        words = f"This is off by a factor of 1000: the answer is in {unit}; see the prefix."
        yield Mistake(1000 * value, words)
        yield Mistake(value / 1000, words)


def _molar_mass_mistakes(species: str, value: float) -> Iterator[Mistake]:
    """Return what mistakes with a formula lead to."""
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
