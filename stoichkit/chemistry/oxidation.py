"""Oxidation numbers as they are written beside an element, and whether one fits its formula.

A bracket that holds only I, V and X is an oxidation number (IUPAC, Nomenclature of Inorganic
Chemistry 2005, IR-5.4.2.2), never iodine and vanadium. In a formula it is a remark about the
element before it: it adds no atoms, but it must fit the charges of the other ions.
"""

from __future__ import annotations

import re
import unicodedata

ROMAN = ("I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX")
"""The oxidation numbers 1 to 9 as they are written."""
_LETTERS = "[IVXivxⅠ-Ⅻⅰ-ⅻ]+"
NUMERAL = rf"\( *({_LETTERS}) *\) *"
"""Pattern of an oxidation number in its brackets, with the spaces behind them."""
IN_SQUARE = rf"\[ *({_LETTERS}) *\]"
"""Pattern of square brackets around what might be an oxidation number."""
HIGHEST_CATION = 4
"""Simple ions of higher charge do not exist in water; common practice, no source."""
_TABLE = "H He B C N O F Ne Si P S Cl Ar As Se Br Kr Te I Xe At Rn Ts Og"
NON_METALS = frozenset(_TABLE.split())
"""Elements that form no simple positive ion here."""
_GROUPS = {
    "H2O": 0, "NH3": 0, "CO": 0, "NH4": 1,
    "OH": -1, "CN": -1, "SCN": -1, "HS": -1, "NO2": -1, "NO3": -1, "HCO3": -1, "HSO4": -1,
    "HSO3": -1, "H2PO4": -1, "ClO": -1, "ClO2": -1, "ClO3": -1, "ClO4": -1, "BrO3": -1, "IO3": -1,
    "MnO4": -1, "HCOO": -1, "CH3COO": -1, "C2H3O2": -1,
    "CO3": -2, "SO3": -2, "SO4": -2, "S2O3": -2, "CrO4": -2, "Cr2O7": -2, "C2O4": -2, "HPO4": -2,
    "PO4": -3, "P2O7": -4,
}  # fmt: skip
_ATOMS = {
    "H": 1, "Li": 1, "Na": 1, "K": 1, "Rb": 1, "Cs": 1, "Ag": 1, "Be": 2, "Mg": 2, "Ca": 2,
    "Sr": 2, "Ba": 2, "Zn": 2, "Cd": 2, "Al": 3, "F": -1, "Cl": -1, "Br": -1, "I": -1, "O": -2,
    "S": -2,
}  # fmt: skip
_NAMES_OF_GROUPS = "|".join(sorted(_GROUPS, key=len, reverse=True))
_STEP = re.compile(
    rf"([A-Z][a-z]?)([0-9]*) *{NUMERAL}"
    rf"|({_NAMES_OF_GROUPS})(?![a-z0-9]| *\( *{_LETTERS} *\))"
    r"|([A-Z][a-z]?)([0-9]*)|([(\[])|[)\]]([0-9]*)"
)


def from_roman(text: str) -> int | None:
    """Return the number from 1 to 9 that a Roman numeral stands for, else None.

    >>> from_roman("III"), from_roman("iv"), from_roman("Ⅱ"), from_roman("IIII"), from_roman("X")
    (3, 4, 2, None, None)
    """
    plain = unicodedata.normalize("NFKC", text).upper()
    return ROMAN.index(plain) + 1 if plain in ROMAN else None


def charge_sum(part: str) -> int | None:
    """Add up the charges of the ions in a formula, None where one is not known here.

    An element with an oxidation number counts with it, others as the ions they commonly form
    (charges of common ions from memory; they are the ones of the 2005 recommendations, Table IX).
    >>> charge_sum("Fe(II)SO4"), charge_sum("K3[Fe(II)(CN)6]"), charge_sum("Fe(II)WO4")
    (0, -1, None)
    """
    total = 0
    outer: list[int] = []
    for step in _STEP.finditer(part):
        metal, metal_count, numeral, group, atom, atom_count, opening, group_count = step.groups()
        if group:
            total += _GROUPS[group]
        elif metal or atom:
            charge = from_roman(numeral) if metal else _ATOMS.get(atom)
            if charge is None:
                return None
            total += charge * int(metal_count or atom_count or 1)
        elif opening:
            outer.append(total)
            total = 0
        else:
            total = outer.pop() + total * int(group_count or 1)
    return total
