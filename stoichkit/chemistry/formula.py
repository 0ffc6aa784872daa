"""Chemical formulas: text to exact element counts, charge, state and water of crystallisation.

And back: plain text, Unicode, HTML and TeX.

The grammar is our own and small: element symbols, whole-number subscripts, round and square
brackets, one charge at the end, one state label after it, and parts joined by a dot (hydrates
and other addition compounds). A round bracket that holds only I, V and X is an oxidation number.
Reading is one pass without recursion; text that can be read in two ways is refused with both
spellings.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from types import MappingProxyType
from typing import NoReturn

from ..errors import FormulaError
from .oxidation import (
    HIGHEST_CATION,
    IN_SQUARE,
    NON_METALS,
    NUMERAL,
    ROMAN,
    charge_sum,
    from_roman,
)

STATES = ("s", "l", "g", "aq")
"""State labels: solid, liquid, gas, dissolved in water."""
SIGNS = "+-−–"
"""Plus, hyphen, minus sign and en dash."""
SUPERSCRIPTS = "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻"
CHARGE_FORMS = "one charge at the end, like Fe^3+, SO4^2-, Fe{3+} or NH4^+"
_FROM_SUPERSCRIPT = str.maketrans(SUPERSCRIPTS, "0123456789+-")
_MARKED_CHARGE = re.compile(rf"(\^\{{|\^|\{{)([0-9]*)([{re.escape(SIGNS)}])([0-9]*)(\}}?)")
_RAISED_CHARGE = re.compile(rf"([0-9]*)([{re.escape(SIGNS)}])([0-9]*)")
_SYMBOL = re.compile("[A-Z][a-z]?")


def refuse(
    text: str, position: int, problem: str, allowed: str, fix: str | None = None
) -> NoReturn:
    """Raise a FormulaError that names the character, counted from 1."""
    raise FormulaError(
        f"{problem} (character {position + 1}).",
        position=position,
        given=text,
        allowed=allowed,
        fix=fix,
    )


def split_formula(text: str) -> tuple[int, int, int, str]:
    """Return where the body of a formula starts and ends, its charge and its state.

    >>> split_formula("SO4^2-(aq)")
    (0, 3, -2, 'aq')
    """
    end = len(text.rstrip())
    start = end - len(text[:end].lstrip())
    if start == end:
        raise FormulaError("The formula is empty.", position=0, given=text, allowed="like Fe2O3")
    state = ""
    if text[end - 1] == ")":
        for label in STATES:
            if text.endswith(f"({label})", start, end):
                state = label
                end = len(text[: end - len(label) - 2].rstrip())
                break
    if end <= start:
        raise FormulaError("A state label stands alone.", position=start, given=text)
    marks = [at for at in (text.find("^", start, end), text.find("{", start, end)) if at >= 0]
    if marks:
        end, charge = _marked_charge(text, min(marks), end)
    elif text[end - 1] in SUPERSCRIPTS:
        end, charge = _raised_charge(text, start, end)
    elif text[end - 1] in SIGNS:
        if text[end - 2] in SUPERSCRIPTS:
            end, charge = _raised_charge(text, start, end)
        else:
            end, charge = _bare_charge(text, start, end)
    else:
        charge = 0
    if end <= start:
        raise FormulaError("A charge stands alone.", position=start, given=text)
    return start, end, charge, state


def _charge_number(text: str, position: int, before: str, sign: str, after: str) -> int:
    digits = before or after
    if (before and after) or digits.startswith("0") or len(digits) > 2:
        refuse(text, position, "The charge cannot be read", f"{CHARGE_FORMS}, 1 to 99")
    number = int(digits or 1)
    return number if sign == "+" else -number


def _marked_charge(text: str, mark: int, end: int) -> tuple[int, int]:
    """Read ``^3+``, ``^{3+}``, ``{3+}`` or ``{+3}`` from the mark on; return (body end, charge)."""
    match = _MARKED_CHARGE.fullmatch(text, mark, end)
    if match is None or ("{" in match[1]) != bool(match[5]):
        refuse(text, mark, "The charge cannot be read", CHARGE_FORMS)
    return mark, _charge_number(text, mark, match[2], match[3], match[4])


def _raised_charge(text: str, start: int, end: int) -> tuple[int, int]:
    """Read a charge in superscript characters; an ordinary sign may close it."""
    low = end - 1
    while low > start and text[low - 1] in SUPERSCRIPTS:
        low -= 1
    match = _RAISED_CHARGE.fullmatch(text[low:end].translate(_FROM_SUPERSCRIPT))
    if match is None:
        refuse(text, low, "The charge cannot be read", CHARGE_FORMS)
    return low, _charge_number(text, low, match[1], match[2], match[3])


def _bare_charge(text: str, start: int, end: int) -> tuple[int, int]:
    """Read a sign at the end, unless a number before it might belong to the charge."""
    body, sign = text[start : end - 1], "+" if text[end - 1] == "+" else "-"
    stem = body.rstrip("0123456789")
    digits = body[len(stem) :]
    if stem.endswith(tuple(SIGNS)):
        refuse(text, end - 2, "The charge cannot be read", CHARGE_FORMS)
    # NH4+ and NO3- have one usual reading; Fe3+, O2-, VO2+ and SO42- have two.
    alone = _SYMBOL.fullmatch(stem) is not None
    if digits and (alone or len(digits) > 1 or (sign == "+" and digits in "123")):
        lower = digits[:-1]
        raise FormulaError(
            "The charge can be read in two ways.",
            position=end - 1 - len(digits),
            given=text,
            allowed=f"{stem[-40:]}{lower}^{digits[-1]}{sign} or {stem[-40:]}{digits}^{sign}",
            fix="Write the one you mean.",
        )
    return end - 1, 1 if sign == "+" else -1


_TO_ASCII = str.maketrans("₀₁₂₃₄₅₆₇₈₉", "0123456789")
_TO_SUBSCRIPT = str.maketrans("0123456789", "₀₁₂₃₄₅₆₇₈₉")
_TO_SUPERSCRIPT = str.maketrans("0123456789+-", "⁰¹²³⁴⁵⁶⁷⁸⁹⁺⁻")
_PIECE = re.compile(r"([0-9₀-₉]+)|([·•⋅∙.*])|([^0-9₀-₉·•⋅∙.* ]+)")


def _join(
    body: str, *, subscript: Callable[[str], str], symbols: Callable[[str], str], dot: str = "·"
) -> str:
    """Write the body; a number at the start or after a dot is a multiplier on the line."""
    out = []
    on_line = True
    for digits, found_dot, letters in _PIECE.findall(body):
        if digits:
            number = digits.translate(_TO_ASCII)
            out.append(number if on_line else subscript(number))
        else:
            out.append(dot if found_dot else symbols(letters))
        on_line = bool(found_dot)
    return "".join(out)


def _charge(charge: int) -> str:
    """Return the charge as ``2+``, ``-`` or nothing."""
    if charge > 0:
        return f"{charge if charge > 1 else ''}+"
    if charge < 0:
        return f"{-charge if charge < -1 else ''}-"
    return ""


def _state(state: str) -> str:
    return f"({state})" if state else ""


def write_plain(body: str, charge: int, state: str) -> str:
    """Write with plain digits, ``^`` before the charge and U+00B7 for the dot.

    >>> write_plain("CuSO₄*5H₂O", 0, ""), write_plain("SO4", -2, ""), write_plain("e", -1, "")
    ('CuSO4·5H2O', 'SO4^2-', 'e-')
    """
    mark = "^" if charge and body != "e" else ""
    return f"{_join(body, subscript=str, symbols=str)}{mark}{_charge(charge)}{_state(state)}"


def write_unicode(body: str, charge: int, state: str) -> str:
    """Write with subscript and superscript characters.

    >>> write_unicode("Cr2O7", -2, "aq")
    'Cr₂O₇²⁻(aq)'
    """
    written = _join(body, subscript=lambda number: number.translate(_TO_SUBSCRIPT), symbols=str)
    return f"{written}{_charge(charge).translate(_TO_SUPERSCRIPT)}{_state(state)}"


def write_html(body: str, charge: int, state: str) -> str:
    """Write with ``sub`` and ``sup`` elements; a formula holds nothing that acts in HTML.

    >>> write_html("Fe2O3", 0, "s")
    'Fe<sub>2</sub>O<sub>3</sub>(s)'
    """
    written = _join(body, subscript=lambda number: f"<sub>{number}</sub>", symbols=str)
    raised = _charge(charge).replace("-", "−")
    return f"{written}{f'<sup>{raised}</sup>' if raised else ''}{_state(state)}"


def write_latex(body: str, charge: int, state: str) -> str:
    r"""Write as upright TeX mathematics without dollar signs.

    >>> print(write_latex("[Fe(CN)6]", -3, "aq"))
    \mathrm{[Fe(CN)_{6}]^{3-}\,(aq)}
    """
    written = _join(body, subscript=lambda number: f"_{{{number}}}", symbols=str, dot=r"\cdot ")
    raised = f"^{{{_charge(charge)}}}" if charge else ""
    label = rf"\,{_state(state)}" if state else ""
    return rf"\mathrm{{{written}{raised}{label}}}"


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
_NUMERAL = re.compile(NUMERAL)
_ITEM = re.compile(rf"([A-Z][a-z]?|[)\]])([0-9]+|[₀-₉]+|)|( *{NUMERAL})|([(\[])|(.)", re.DOTALL)
_LONE_ION = re.compile(rf"([A-Z][a-z]?) *{NUMERAL}")
_HOLDER = re.compile(r"[A-Z][a-z]?[0-9₀-₉]*$")
_DIGITS = re.compile("[0-9₀-₉]+")
_IN_SQUARE = re.compile(IN_SQUARE)
_NAME = re.compile(rf"([A-Za-z][a-z]{{2,}}) *{NUMERAL}")
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
    charge: int
    state: str
    hydrate_waters: int

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
        return _NUMERAL.sub("", self.text[start:end])

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
        Subscripts and multipliers are whole numbers from 1 to 10^9. A metal alone with its
        oxidation number, ``Cu(II)``, is the ion Cu^2+. In a compound, ``Fe(II)SO4`` or
        ``Fe2(III)O3``, the number adds nothing and must fit the charges of common ions.

    Returns
    -------
    Formula

    Raises
    ------
    FormulaError
        If the text is not a formula or can be read in two ways (``Fe3+``), or an oxidation
        number does not fit, with the position.

    Examples
    --------
    >>> dict(parse_formula("Al2(SO4)3").counts)
    {'Al': 2, 'S': 3, 'O': 12}
    >>> parse_formula("PO4^3-").charge, parse_formula("Cu(II)").plain()
    (-3, 'Cu^2+')
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
        return Formula(text.strip(), (), -1, state, 0)
    numbered = _NUMERAL.search(text, start, end) is not None
    if numbered or "[" in text:
        _check_numerals(text, start, end)
    waters = 0
    if _DOT.search(text, start, end) is None and not "0" <= text[start] <= "9":
        counts = _count_atoms(text, start, end)
    else:
        counts, waters = _add_parts(text, start, end)
    if numbered:
        charge = _charge_with_numerals(text, start, end, charge)
    return Formula(text.strip(), tuple(counts.items()), charge, state, waters)


def _check_numerals(text: str, start: int, end: int) -> None:
    """Refuse an oxidation number that is none, or that does not stand behind its element."""
    allowed = "an oxidation number from (I) to (IX) behind its element, like Cu(II) or Fe(II)SO4"
    if name := _NAME.match(text, start, end):
        refuse(
            text,
            start,
            f"“{name[1][:30]}({name[2][:12]})” is a name, not a formula",
            "symbols, numbers, brackets and a charge",
            f"Write the symbol of {name[1][:30]}; for the ion with its charge, like Fe^2+ for "
            "iron(II).",
        )
    if square := _IN_SQUARE.search(text, start, end):
        refuse(
            text,
            square.start(),
            f"“[{square[1][:12]}]” could be an oxidation number or symbols of elements",
            allowed,
            "Write an oxidation number in round brackets, iodine and vanadium without.",
        )
    for numeral in _NUMERAL.finditer(text, start, end):
        shown = _shown(numeral)
        if from_roman(numeral[1]) is None:
            refuse(text, numeral.start(), f"“{shown}” is no oxidation number", allowed)
        holder = _HOLDER.search(text[start : numeral.start()].rstrip(" ")[-14:])
        if holder is None:
            refuse(
                text,
                numeral.start(),
                f"“{shown}” is an oxidation number, not iodine or vanadium, and no element stands "
                "before it",
                allowed,
                "Write iodine and vanadium without such a bracket, like CuI2.",
            )
        if number := _DIGITS.match(text, numeral.end(), end):
            _refuse_number_behind(text, numeral, holder[0], number[0][:10])


def _shown(numeral: re.Match[str]) -> str:
    """Return an oxidation number for a message."""
    return f"({numeral[1][:12]})"


def _refuse_number_behind(text: str, numeral: re.Match[str], holder: str, number: str) -> NoReturn:
    """Say where the number behind an oxidation number belongs: Cr2(VI), not Cr(VI)2."""
    shown = _shown(numeral)
    fix = "Leave the oxidation number out."
    if holder.isalpha():
        iodide = f", or {holder}I{number} for the iodide" if from_roman(numeral[1]) == 1 else ""
        fix = f"Write {holder}{number}{shown} if there are {number} {holder}{iodide}."
    refuse(
        text,
        numeral.end(),
        f"“{shown}” is an oxidation number, and it is not clear what the number behind it counts",
        "an oxidation number behind the number of atoms, like Fe2(III)O3",
        fix,
    )


def _charge_with_numerals(text: str, start: int, end: int, charge: int) -> int:
    """Return the charge of a formula with oxidation numbers; refuse those that do not fit it."""
    lone = _LONE_ION.fullmatch(text, start, end)
    if lone and not charge:
        return _charge_of_ion(text, lone)
    low = start
    for high in [*(dot.start() for dot in _DOT.finditer(text, start, end)), end]:
        numeral = _NUMERAL.search(text, low, high)
        part, low = text[low:high], high + 1
        if numeral is None:
            continue
        total = charge_sum(part.translate(_FROM_SUBSCRIPT))
        if total == charge:
            continue
        shown, bare = _shown(numeral), _NUMERAL.sub("", part).replace(" ", "")[:60]
        fix = f"Correct it or leave it out: {bare}."
        if total is None:
            problem = f"“{shown}” is an oxidation number; whether it fits {bare} is not known here"
        else:
            sums = " instead of ".join(f"{n:+d}" if n else "0" for n in (total, charge))
            problem = f"“{shown}” does not fit {bare}: the charges of the ions add up to {sums}"
            if charge:
                fix = "Write only one of the oxidation number and the charge."
        refuse(
            text,
            numeral.start(),
            problem,
            "an oxidation number that fits common ions, like Fe(II)SO4 or K2Cr2(VI)O7",
            fix,
        )
    return charge


def _charge_of_ion(text: str, lone: re.Match[str]) -> int:
    """Return the charge of a metal with an oxidation number and nothing else."""
    symbol, number = lone[1], from_roman(lone[2]) or 0
    pair = (symbol, number) == ("Hg", 1)  # mercury(I) is a pair of atoms
    if pair or symbol in NON_METALS or number > HIGHEST_CATION:
        refuse(
            text,
            lone.start(),
            f"“{symbol}({lone[2]})” has an oxidation number and is no simple ion",
            f"a metal with an oxidation number up to ({ROMAN[HIGHEST_CATION - 1]})",
            "Write Hg2^2+, the ion in water." if pair else "Write the formula of the substance.",
        )
    return number


def _add_parts(text: str, start: int, end: int) -> tuple[dict[str, int], int]:
    """Add up the parts of a formula with dots; also count the waters after the first dot."""
    edges = [start - 1, *(dot.start() for dot in _DOT.finditer(text, start, end)), end]
    total: dict[str, int] = {}
    waters = 0
    for index in range(len(edges) - 1):
        written = text[edges[index] + 1 : edges[index + 1]].rstrip(" ")
        high = edges[index] + 1 + len(written)
        begin = high - len(written.lstrip(" "))
        low = high - len(written.lstrip(" ").lstrip("0123456789"))
        multiplier = text[begin:low]
        factor = _whole(text, begin, multiplier) if multiplier else 1
        if multiplier and len(edges) == 2:
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
        elif index and multiplier and text[edges[index]] == ".":
            _refuse_decimal(text, edges[index])
        for symbol, count in part.items():
            total[symbol] = total.get(symbol, 0) + _limited(text, begin, factor * count)
    return total, waters


def _count_atoms(text: str, start: int, end: int) -> dict[str, int]:
    """Count the atoms of one part; each closing bracket touches each element at most once."""
    counts: dict[str, int] = {}
    outer: list[tuple[dict[str, int], str, int]] = []
    for item in _ITEM.finditer(text, start, end):
        head, digits, numeral, _, opening, wrong = item.groups()
        number = _whole(text, item.start(2), digits) if digits else 1
        if head in _KNOWN:
            counts[head] = counts.get(head, 0) + number
        elif numeral:  # a remark, checked elsewhere
            continue
        elif opening:
            outer.append((counts, opening, item.start()))
            counts = {}
        elif wrong or head not in _OPENS:
            _explain(text, item.start(), head or wrong)
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


def _explain(text: str, position: int, found: str) -> NoReturn:
    """Say why an item cannot stand where it is, and what the writer may have meant."""
    if found in ("D", "T"):
        refuse(
            text,
            position,
            f"“{found}” is a single isotope of hydrogen",
            "elements of natural isotopic composition, whose atomic weights are standardised",
        )
    guesses = []
    if len(found) == 1 and found.isalpha() and found.isascii():
        guesses.append(text[position - 1 : position] + found.lower())  # NaCL
        guesses.append(text[position : position + 2].capitalize())  # fe
        guesses.append(text[position : position + 2].upper())  # co: C and O
        guesses.append(found.upper())
    elif found[0].isalpha():
        guesses.append(found[0])
    meant = [
        guess
        for guess in dict.fromkeys(guesses)
        if guess in _KNOWN or (len(guess) == 2 and guess.isupper() and _KNOWN.issuperset(guess))
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
    if "Ⅰ" <= found <= "ⅻ":
        fix = "Write an oxidation number in round brackets, like Cu(II)."
        refuse(text, position, f"“{found}” is a Roman numeral", allowed, fix)
    shown = found if found.isprintable() else "�"
    refuse(text, position, f"“{shown}” (U+{ord(found):04X}) cannot be read", allowed)
