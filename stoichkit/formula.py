"""Chemical formulas: text to exact element counts, charge, state and water of crystallisation.

The grammar is our own and small: element symbols, whole-number subscripts, round and square
brackets, one charge at the end, one state label after it, and parts joined by a dot (hydrates
and other addition compounds). Reading is one pass without recursion; text that can be read in
two ways is refused with both spellings.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import NoReturn

from .charge import CHARGE_FORMS, SIGNS, SUPERSCRIPTS, refuse, split_formula
from .errors import FormulaError
from .markup import write_html, write_latex, write_plain, write_unicode

__all__ = ["MAX_CHARACTERS", "MAX_COUNT", "SYMBOLS", "Formula", "parse_formula"]

MAX_CHARACTERS = 10_000
"""Longest formula that is read."""
MAX_COUNT = 10**9
"""Largest subscript or multiplier."""
_MAX_TOTAL = 10**15  # of one element; whole numbers up to here are exact as floats

_TABLE = """
    H He Li Be B C N O F Ne Na Mg Al Si P S Cl Ar K Ca Sc Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge As
    Se Br Kr Rb Sr Y Zr Nb Mo Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe Cs Ba La Ce Pr Nd Pm Sm Eu Gd
    Tb Dy Ho Er Tm Yb Lu Hf Ta W Re Os Ir Pt Au Hg Tl Pb Bi Po At Rn Fr Ra Ac Th Pa U Np Pu Am
    Cm Bk Cf Es Fm Md No Lr Rf Db Sg Bh Hs Mt Ds Rg Cn Nh Fl Mc Lv Ts Og"""
SYMBOLS = tuple(_TABLE.split())
"""The element symbols in order of atomic number (IUPAC, 118 elements)."""
_KNOWN = frozenset(SYMBOLS)

_DOTS = "·•⋅∙.*"
_DOT = re.compile(f"[{re.escape(_DOTS)}]")
_FROM_SUBSCRIPT = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_ITEM = re.compile(r"([A-Z][a-z]?|[)\]])([0-9]+|[₀-₉]+|)|([(\[])|(.)", re.DOTALL)
_OPENS = {")": "(", "]": "["}


@dataclass(frozen=True, slots=True)
class Formula:
    """One chemical species as typed, with its exact element counts; made by `parse_formula`.

    Attributes
    ----------
    text : str
        The formula as typed, without surrounding spaces.
    composition : tuple of (str, int)
        Element symbols with whole-number counts, in order of first appearance.
    charge : int
        Charge number, 0 for a neutral species.
    state : str
        ``""``, ``"s"``, ``"l"``, ``"g"`` or ``"aq"``.
    hydrate_waters : int
        Number of H2O after the dot, 0 if there are none.

    Examples
    --------
    >>> blue_vitriol = parse_formula("CuSO4.5H2O(s)")
    >>> dict(blue_vitriol.counts)
    {'Cu': 1, 'S': 1, 'O': 9, 'H': 10}
    >>> blue_vitriol.hydrate_waters, blue_vitriol.state, blue_vitriol.unicode()
    (5, 's', 'CuSO₄·5H₂O(s)')
    """

    text: str
    composition: tuple[tuple[str, int], ...]
    charge: int = 0
    state: str = ""
    hydrate_waters: int = 0

    @property
    def counts(self) -> Mapping[str, int]:
        """Element symbol to number of atoms, read-only, in order of first appearance.

        >>> parse_formula("Fe2(SO4)3").counts["O"]
        12
        """
        return MappingProxyType(dict(self.composition))

    @property
    def is_electron(self) -> bool:
        """Whether this is the electron.

        >>> parse_formula("e-").is_electron
        True
        """
        return not self.composition

    def _body(self) -> str:
        start, end, _, _ = split_formula(self.text)
        return self.text[start:end]

    def plain(self) -> str:
        """Write with plain digits; only the hydrate dot (U+00B7) is outside ASCII.

        >>> parse_formula("Fe₂O₃").plain(), parse_formula("SO₄²⁻").plain()
        ('Fe2O3', 'SO4^2-')
        """
        return write_plain(self._body(), self.charge, self.state)

    def unicode(self) -> str:
        """Write with subscript and superscript characters.

        >>> parse_formula("K4[Fe(CN)6].3H2O").unicode(), parse_formula("SO4^2-(aq)").unicode()
        ('K₄[Fe(CN)₆]·3H₂O', 'SO₄²⁻(aq)')
        """
        return write_unicode(self._body(), self.charge, self.state)

    def html(self) -> str:
        """Write as HTML with ``sub`` and ``sup`` elements.

        >>> parse_formula("SO4^2-").html()
        'SO<sub>4</sub><sup>2−</sup>'
        """
        return write_html(self._body(), self.charge, self.state)

    def latex(self) -> str:
        r"""Write for TeX mathematics and Matplotlib's mathtext, without dollar signs.

        >>> print(parse_formula("CuSO4.5H2O").latex())
        \mathrm{CuSO_{4}\cdot 5H_{2}O}
        """
        return write_latex(self._body(), self.charge, self.state)


def parse_formula(text: str) -> Formula:
    """Read a chemical formula.

    Parameters
    ----------
    text : str
        At most 10,000 characters: ``Fe2O3``, ``Fe₂O₃``, ``K4[Fe(CN)6]``, ``CuSO4.5H2O`` (dot
        as ``·``, ``•``, ``.`` or ``*``; always a hydrate dot, never a decimal point),
        ``3CdSO4·8H2O``, ``Fe^3+``, ``Fe{3+}``, ``Fe³⁺``, ``NH4+``, ``NaCl(aq)``, ``e-``.
        Subscripts and multipliers are whole numbers from 1 to 10^9.

    Returns
    -------
    Formula

    Raises
    ------
    FormulaError
        If the text is not a formula or can be read in two ways (``Fe3+``), with the position.

    Examples
    --------
    >>> dict(parse_formula("Al2(SO4)3").counts)
    {'Al': 2, 'S': 3, 'O': 12}
    >>> parse_formula("PO4^3-").charge
    -3
    >>> parse_formula("Fe3+")
    Traceback (most recent call last):
    ...
    stoichkit.errors.FormulaError: The charge can be read in two ways. Given: Fe3+.
    Allowed: Fe^3+ or Fe3^+. Write the one you mean.
    """
    if not isinstance(text, str):
        raise FormulaError("A formula is text.", given=text, allowed="text like Fe2O3")
    return _parse(text)


@lru_cache(maxsize=2048)
def _parse(text: str) -> Formula:
    if len(text) > MAX_CHARACTERS:
        raise FormulaError(
            f"The formula has {len(text):,} characters.",
            position=MAX_CHARACTERS,
            given=text,
            allowed=f"at most {MAX_CHARACTERS:,}",
        )
    start, end, charge, state = split_formula(text)
    if text[start] == "e" and end == start + 1 and charge == -1:
        return Formula(text.strip(), (), -1, state)
    waters = 0
    if _DOT.search(text, start, end) is None and not "0" <= text[start] <= "9":
        counts = _count_atoms(text, start, end)
    else:
        counts, waters = _add_parts(text, start, end)
    return Formula(text.strip(), tuple(counts.items()), charge, state, waters)


def _add_parts(text: str, start: int, end: int) -> tuple[dict[str, int], int]:
    """Add up the parts of a formula with dots; also count the waters after the first dot."""
    edges = [start - 1, *(dot.start() for dot in _DOT.finditer(text, start, end)), end]
    total: dict[str, int] = {}
    waters = 0
    for index in range(len(edges) - 1):
        low, high = edges[index] + 1, edges[index + 1]
        while low < high and text[low] == " ":
            low += 1
        while low < high and text[high - 1] == " ":
            high -= 1
        begin = low
        while low < high and "0" <= text[low] <= "9":
            low += 1
        factor = _whole(text, begin, text[begin:low]) if low > begin else 1
        if low > begin and len(edges) == 2:
            refuse(
                text,
                begin,
                "A number stands before the formula",
                "a leading number only in an equation, or in a formula with a dot",
            )
        if low == high:
            refuse(
                text,
                min(edges[index + 1], len(text) - 1),
                "Something is missing beside the dot",
                "a formula on both sides, whole multipliers only, like 2CaSO4·H2O for a half",
            )
        part = _count_atoms(text, low, high)
        water = part == {"H": 2, "O": 1}
        if index and water:
            waters += factor
        elif index and low > begin and text[edges[index]] == ".":
            _refuse_decimal(text, edges[index])
        for symbol, count in part.items():
            total[symbol] = total.get(symbol, 0) + _limited(text, begin, factor * count)
    return total, waters


def _count_atoms(text: str, start: int, end: int) -> dict[str, int]:
    """Count the atoms of one part; each closing bracket touches each element at most once."""
    counts: dict[str, int] = {}
    outer: list[tuple[dict[str, int], str, int]] = []
    for item in _ITEM.finditer(text, start, end):
        head, digits, opening, wrong = item.groups()
        number = _whole(text, item.start(2), digits) if digits else 1
        if head in _KNOWN:
            counts[head] = counts.get(head, 0) + number
        elif opening:
            outer.append((counts, opening, item.start()))
            counts = {}
        elif wrong or head not in _OPENS:
            _explain(text, start, item.start(), head or wrong)
        else:
            if not outer or outer[-1][1] != _OPENS[head]:
                refuse(
                    text,
                    item.start(),
                    f"“{head}” closes a bracket that is not open",
                    "each ) after its (, each ] after its [",
                )
            if not counts:
                refuse(text, item.start(), "A bracket is empty", "a group inside, like (OH)")
            inner, (counts, _, _) = counts, outer.pop()
            for symbol, count in inner.items():
                counts[symbol] = _limited(
                    text, item.start(), counts.get(symbol, 0) + number * count
                )
    if outer:
        refuse(text, outer[-1][2], f"“{outer[-1][1]}” is never closed", "a closing bracket for it")
    return counts


def _whole(text: str, position: int, digits: str) -> int:
    """Read a subscript or multiplier."""
    if digits[0] in "0₀":
        refuse(
            text,
            position,
            "A number starts with zero",
            "whole numbers from 1, without leading zeros and without decimals",
        )
    if len(digits) > 10 or (number := int(digits.translate(_FROM_SUBSCRIPT))) > MAX_COUNT:
        refuse(text, position, "A number is too large", "at most 1,000,000,000")
    return number


def _limited(text: str, position: int, count: int) -> int:
    if count > _MAX_TOTAL:
        refuse(text, position, "The atoms are too many to count", "at most 10^15 of one element")
    return count


def _refuse_decimal(text: str, dot: int) -> NoReturn:
    refuse(
        text,
        dot,
        "A full stop followed by a number could be a decimal point or an addition compound",
        "whole numbers; “.” before a number only for water, like CuSO4.5H2O",
        "For another addition compound write · or * instead of the full stop.",
    )


def _explain(text: str, start: int, position: int, found: str) -> NoReturn:
    """Say why an item cannot stand where it is, and what the writer may have meant."""
    if found in ("D", "T"):
        refuse(
            text,
            position,
            f"“{found}” is a single isotope of hydrogen",
            "elements of natural isotopic composition, whose atomic weights are standardised",
        )
    guesses = []
    before = text[position - 1 : position] if position > start else ""
    if len(found) == 1 and found.isalpha() and found.isascii():
        guesses.append(before + found.lower())  # NaCL
        guesses.append(text[position : position + 2].capitalize())  # fe
        guesses.append(text[position : position + 2].upper())  # co: C and O
        guesses.append(found.upper())
    elif found[0].isalpha():
        guesses.append(found[0])
    meant = [
        guess
        for guess in dict.fromkeys(guesses)
        if guess in _KNOWN or (len(guess) == 2 and guess.isupper() and set(guess) <= _KNOWN)
    ]
    fix = f"Did you mean {' or '.join(meant)}?" if meant else None
    allowed = (
        "an element symbol, a whole number after it, a bracket, a charge or a state at the end"
    )
    if found[0].isascii() and found[0].isalpha():
        refuse(text, position, f"“{found}” is not an element symbol", allowed, fix)
    if found in "0123456789₀₁₂₃₄₅₆₇₈₉":
        refuse(text, position, "A number has nothing before it to count", allowed)
    if found.isspace():
        refuse(text, position, "There is a space inside the formula", allowed)
    if found in SIGNS or found in SUPERSCRIPTS:
        refuse(
            text,
            position,
            f"“{found}” stands inside the formula",
            CHARGE_FORMS,
            "Between the species of an equation put a space on both sides of +.",
        )
    shown = found if found.isprintable() else "�"
    refuse(text, position, f"“{shown}” (U+{ord(found):04X}) cannot be read", allowed)
