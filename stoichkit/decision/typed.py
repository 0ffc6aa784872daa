"""An answer as somebody typed it: its number, unit and figures, and which known mistake it is.

The known mistakes are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from ..chemistry.elements import atomic_weight_value, molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import FormulaError, ReadingError
from ..uncertainty.readings import Reading
from .answers import AnswerLine
from .calculation import read_number

_WORD = r"(?![eE][+-]?[0-9])[A-Za-zµ%°]+(?:\^?-1|⁻¹|\^?3|³)?"
_UNIT = re.compile(rf"^(.*?[0-9.,)⁰¹²³⁴-⁹])\s*({_WORD}(?:\s*[/·*⋅]\s*{_WORD}|\s+{_WORD})*)$", re.S)
_PLUS_MINUS = re.compile(r"\s*(?:±|\+\s*/?\s*[-−])\s*")
_CONCISE = re.compile(r"([0-9]*[.,]?[0-9]+)\(([0-9]{1,2})\)(.*)", re.S)
"""As in 2.10(15): the last digits are those that are unsure."""
_SPELLED = {
    "gram": "g", "grams": "g", "milligram": "mg", "milligrams": "mg", "mole": "mol",
    "moles": "mol", "percent": "%",
}  # fmt: skip
FACTORS = {
    "g": {"g": 1.0, "mg": 1e-3, "kg": 1e3},
    "mol": {"mol": 1.0, "mmol": 1e-3, "µmol": 1e-6, "umol": 1e-6},
    "mL": {"mL": 1.0, "ml": 1.0, "cm3": 1.0, "L": 1e3, "l": 1e3},
    "g/mol": {"g/mol": 1.0, "g mol-1": 1.0, "kg/mol": 1e3},
    "mol/L": {"mol/L": 1.0, "mol/l": 1.0, "mol L-1": 1.0, "M": 1.0, "mmol/L": 1e-3},
    "kPa": {"kPa": 1.0, "Pa": 1e-3, "hPa": 0.1, "bar": 100.0},
    "K": {"K": 1.0},
    "C": {"C": 1.0, "As": 1.0, "A s": 1.0},
    "%": {"%": 1.0},
}
"""What one of each unit is in the unit of the answer."""
_PREFIXED = ("g", "mol", "mL", "kPa")


class MistakeKind(StrEnum):
    """What kind of mistake gives a wrong number, the same whatever the lab."""

    OTHER = "a known mistake"
    SIGN = "subtracted the wrong way round"
    ADDED = "added in place of subtracted"
    TARE = "not subtracted"
    OTHER_READING = "another reading"
    OTHER_TRIAL = "a reading of another trial"
    SWAPPED_DIGITS = "two digits in each other's place"
    LAST_DIGIT = "a digit of a difference"
    DECIMAL = "a slipped decimal mark"
    PREFIX = "a wrong prefix"
    TWICE = "a factor of two"
    MULTIPLIED = "multiplied"
    INVERTED = "upside down"
    LEFT_OUT = "a factor left out"
    MASSES = "the ratio of the masses"
    OTHER_SUBSTANCE = "another substance"
    ATOMIC_NUMBER = "the atomic number"
    NEIGHBOUR = "a neighbour in the table"
    TWO_ATOMS = "atoms and molecules"
    SUBSCRIPTS = "subscripts"
    WATER = "the water of a hydrate"
    EARLY = "rounded early"
    OTHER_STEP = "another step"
    CANDIDATE = "a candidate's ratio"
    COEFFICIENT = "coefficients"
    FRACTION = "a fraction for a percentage"
    MISSING = "what is missing"
    CELSIUS = "°C in place of K"
    CARRIED = "an earlier error"


@dataclass(frozen=True, slots=True)
class Mistake:
    """A wrong value that a known mistake leads to, and what to check.

    Attributes
    ----------
    value : float
        In the unit of the question.
    words : str
    kind : MistakeKind
    """

    value: float
    words: str
    kind: MistakeKind = MistakeKind.OTHER


def read_answer(text: str, unit: str) -> tuple[Reading, float, str]:
    """Return the number typed, the factor that its unit asks for, and that unit.

    Parameters
    ----------
    text : str
        A number with decimal point or comma, a power of ten, a quotient or a calculation (see
        :func:`stoichkit.decision.calculation.read_number`); its unit may follow.
    unit : str
        Unit of the answer; "" for a plain number.

    Raises
    ------
    ReadingError
        If it is not a number, or its unit is none of this kind.

    Examples
    --------
    >>> for typed in ("0,12", "120 mg", "2.94 g - 2.82 g", "1.2·10⁻¹ g"):
    ...     reading, factor, unit = read_answer(typed, "g")
    ...     print(f"{reading.value * factor:.3g}", unit or "-")
    0.12 -
    0.12 mg
    0.12 g
    0.12 g
    >>> read_answer("63.546 g mol⁻¹", "g/mol")[2], read_answer("2:1", "")[0].value
    ('g mol-1', 2.0)
    """
    plain = text.strip().replace("μ", "µ")
    found = _UNIT.fullmatch(plain)
    if found is None:
        return read_number(plain), 1.0, ""
    number, typed = found[1], _unit_name(found[2])
    known = FACTORS.get(unit, {unit: 1.0} if unit else {})
    if typed not in known:
        raise ReadingError(
            "The unit does not fit the question.",
            given=typed,
            allowed=", ".join(known) if known else "a number without a unit",
        )
    alone = re.sub(rf"(?<=[0-9)])\s*{re.escape(found[2])}(?![A-Za-z0-9⁻])", "", number)
    return read_number(alone), known[typed], typed


def _unit_name(text: str) -> str:
    """Return a unit in one way of writing."""
    plain = re.sub(r"\s*[·*⋅]\s*|\s+", " ", text.strip())
    plain = re.sub(r"\s*/\s*", "/", plain)
    plain = plain.replace("⁻¹", "-1").replace("^-1", "-1").replace("³", "3").replace("^3", "3")
    return "/".join(_SPELLED.get(one.casefold(), one) for one in plain.split("/"))


def read_with_uncertainty(text: str, unit: str) -> tuple[Reading, Reading, float]:
    """Return value, uncertainty and the factor of their unit, from ``value ± uncertainty``.

    Raises
    ------
    ReadingError
        If there are not two numbers, or a unit is none of this kind.

    Examples
    --------
    >>> for typed in ("2.1 ± 0.2", "2,10(15)", "2.1 +- 0.2", "2.1 +/- 8 %"):
    ...     value, sure, factor = read_with_uncertainty(typed, "")
    ...     print(value.value, round(sure.value, 3))
    2.1 0.2
    2.1 0.15
    2.1 0.2
    2.1 0.168
    """
    plain = text.strip().replace("μ", "µ")
    if match := _CONCISE.fullmatch(plain):
        value, factor, _ = read_answer(f"{match[1]}{match[3]}", unit)
        size = int(match[2]) * 10.0**-value.decimals
        return value, Reading(size, f"{size:g}", value.decimals), factor
    if bracketed := re.fullmatch(r"\(([^()]*)\)\s*(.*)", plain, re.S):
        return read_with_uncertainty(f"{bracketed[1]} {bracketed[2]}", unit)
    parts = _PLUS_MINUS.split(plain)
    if len(parts) != 2 or not all(parts):
        raise ReadingError(
            "Give the value and its uncertainty.", given=text, allowed="value ± uncertainty",
            fix="Write it as 2.1 ± 0.2.",
        )  # fmt: skip
    first, second = parts
    if second.rstrip().endswith("%") and unit != "%":
        value, factor, _ = read_answer(first, unit)
        part = read_answer(second, "%")[0]
        size = abs(value.value) * part.value / 100
        return value, Reading(size, part.text, value.decimals), factor
    sure, factor, typed = read_answer(second, unit)
    value, own, named = read_answer(first, unit)
    if named and typed:  # each with its own
        sure = Reading(sure.value * factor / own, sure.text, sure.decimals)
    factor = own if named else factor
    return value, sure, factor


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
            "reading was made before and which after.", MistakeKind.SIGN,
        )  # fmt: skip
    last = before[-2:]
    if line.unit == "mol" and [one.unit for one in last] == ["g", "g/mol"]:
        mass, molar = (one.value for one in last)
        words = "You multiplied; an amount is mass divided by molar mass."
        yield Mistake(mass * molar, words, MistakeKind.MULTIPLIED)
        if mass:
            words = "This is upside down: divide the mass by molar mass."
            yield Mistake(molar / mass, words, MistakeKind.INVERTED)
        words = "This is the mass; the question is for the amount in mol."
        yield Mistake(mass, words, MistakeKind.OTHER_STEP)
    if line.unit == "K":
        words = "This is in °C; the question is for K."
        yield Mistake(line.value - 273.15, words, MistakeKind.CELSIUS)
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
        words = f"This is upside down: the ratio asked for is {line.formula}."
        yield Mistake(1 / line.value, words, MistakeKind.INVERTED)
    if consumed_g > 0 and produced_g >= 0:
        yield Mistake(
            produced_g / consumed_g,
            "This is the ratio of the masses; the equation counts particles, so divide the "
            "amounts in mol.",
            MistakeKind.MASSES,
        )


def percent_mistakes(value: float, ratio: float) -> Iterator[Mistake]:
    """Yield what known mistakes would make of a percent yield; ``ratio`` is that required.

    >>> [round(one.value, 3) for one in percent_mistakes(80.0, 2.0)]
    [0.8, 125.0, 160.0]
    """
    words = "This is the fraction: give it in percent."
    yield Mistake(value / 100, words, MistakeKind.FRACTION)
    if value:
        words = "This is upside down: found divided by required."
        yield Mistake(1e4 / value, words, MistakeKind.INVERTED)
    words = "The coefficients of the equation are missing."
    yield Mistake(value * ratio, words, MistakeKind.COEFFICIENT)


def thousand(value: float, unit: str) -> Iterator[Mistake]:
    """Yield what a wrong prefix of the unit leads to.

    >>> [one.value for one in thousand(2.0, "g")], list(thousand(2.0, "%"))
    ([2000.0, 0.002], [])
    """
    if unit in _PREFIXED:
        words = f"This is off by a factor of 1000: the answer is in {unit}; see the prefix."
        yield Mistake(1000 * value, words, MistakeKind.PREFIX)
        yield Mistake(value / 1000, words, MistakeKind.PREFIX)


def _molar_mass_mistakes(species: str, value: float) -> Iterator[Mistake]:
    """Return what mistakes with a formula lead to."""
    try:
        formula = parse_formula(species)
    except FormulaError:
        return
    counts = formula.composition
    if any(n > 1 for _, n in counts):
        once = sum(atomic_weight_value(s) for s, _ in counts)
        words = "Each atom was counted once; the subscripts count too."
        yield Mistake(once, words, MistakeKind.SUBSCRIPTS)
    if formula.hydrate_waters:
        water = formula.hydrate_waters * molar_mass_value("H2O")
        words = "The water of the hydrate belongs to it."
        yield Mistake(value - water, words, MistakeKind.WATER)
    if len(counts) == 1 and counts[0][1] == 1:
        words = "This is a molecule of two atoms; here each atom counts by itself."
        yield Mistake(2 * value, words, MistakeKind.TWO_ATOMS)
