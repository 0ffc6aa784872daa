"""Candidate products: what the product could be, each with its exact mole ratio.

Every builder returns a tuple of `Candidate` records. Ratios are always n(produced) / n(consumed),
exact fractions. Two candidates with one ratio are refused: no measurement of amounts can tell
them apart.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import gcd

from ..errors import FormulaError, ModelError
from ..uncertainty import entry
from .elements import KNOWN, element_name, symbol_named
from .equation import Reaction, balance_equation
from .formula import Formula, parse_formula
from .oxidation import HIGHEST_CATION, NON_METALS, ROMAN, from_roman
from .ratios import exact_ratio
from .spoken import understood


@dataclass(frozen=True, slots=True)
class Candidate:
    """One product that might have formed.

    Attributes
    ----------
    name : str
        What the candidate is called in tables and plots.
    ratio : Fraction
        n(produced) / n(consumed), above 0. Given as text or number, it is read as `exact_ratio`
        reads it.
    equation : str
        Balanced equation as plain text, ``""`` where none is given.
    consumed, produced : str
        The two substances whose amounts are measured, ``""`` where not stated.

    Raises
    ------
    ModelError
        If the name is empty or the ratio is not an exact number above 0.

    Examples
    --------
    >>> Candidate("iron(II)", Fraction(1), consumed="Fe", produced="Cu").ratio
    Fraction(1, 1)
    >>> Candidate("iron(III)", "1.5").ratio
    Fraction(3, 2)
    """

    name: str
    ratio: Fraction
    equation: str = ""
    consumed: str = ""
    produced: str = ""

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise ModelError("A candidate needs a name.", given=self.name, allowed="any text")
        ratio = exact_ratio(self.ratio, f"mole ratio of {self.name}")
        object.__setattr__(self, "ratio", ratio)
        for name in ("equation", "consumed", "produced"):
            entry.text(name, getattr(self, name))


def check_candidates(candidates: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """Return the candidates if they can be told apart by name and by ratio.

    Parameters
    ----------
    candidates : iterable of Candidate
        At least one.

    Raises
    ------
    ModelError
        If there are none, or two share a name or a ratio.

    Examples
    --------
    >>> check_candidates([Candidate("a", Fraction(1)), Candidate("b", Fraction(2, 2))])
    Traceback (most recent call last):
    ...
    stoichkit.errors.ModelError: The candidates a and b cannot be told apart: both have the mole
    ratio 1. Give one name to both, or measure something else.
    """
    checked = entry.listed("candidates", candidates, Candidate)
    if not checked:
        raise ModelError("There is no candidate.", allowed="at least one")
    names: set[str] = set()
    ratios: dict[Fraction, str] = {}
    for candidate in checked:
        if candidate.name in names:
            raise ModelError(
                "Two candidates have the same name.",
                given=candidate.name,
                fix="Give each a name of its own.",
            )
        names.add(candidate.name)
        other = ratios.setdefault(candidate.ratio, candidate.name)
        if other != candidate.name:
            raise ModelError(
                f"The candidates {other} and {candidate.name} cannot be told apart: both have the "
                f"mole ratio {candidate.ratio}.",
                fix="Give one name to both, or measure something else.",
            )
    return checked


_DIATOMIC = frozenset(["H", "N", "O", "F", "Cl", "Br", "I"])
_STATE = re.compile(
    r"(?:(?P<word>[A-Za-z]+)(?=[^A-Za-z]))?(?P<mark>[ ^({]*)"
    r"(?:\+?(?P<roman>[IVXivx]+)|\+?(?P<number>[0-9]{1,3})|(?P<sign>[0-9]{1,3}\+|\+))[ )}]*"
)


def from_equations(
    equations: Mapping[str, str] | Iterable[str], *, consumed: str, produced: str
) -> tuple[Candidate, ...]:
    """Make one candidate of each equation; equations are balanced where they are not.

    Parameters
    ----------
    equations : mapping of name to equation, or iterable of equations
        Without names a candidate is called after its other products.
    consumed, produced : str
        Species measured; ``consumed`` on the left and ``produced`` on the right of each.

    Returns
    -------
    tuple of Candidate
        In the order given.

    Raises
    ------
    EquationError
        If an equation cannot be balanced or lacks one of the two species.
    ModelError
        See `check_candidates`.

    Examples
    --------
    >>> for candidate in from_equations(
    ...     ["Cu + AgNO3 -> CuNO3 + Ag", "Cu + AgNO3 -> Cu(NO3)2 + Ag"],
    ...     consumed="Cu", produced="Ag"
    ... ):
    ...     print(candidate.name, candidate.ratio, candidate.equation)
    CuNO3 1 Cu + AgNO3 -> CuNO3 + Ag
    Cu(NO3)2 2 Cu + 2 AgNO3 -> Cu(NO3)2 + 2 Ag
    """
    entry.texts(consumed=consumed, produced=produced)
    if isinstance(equations, Mapping):
        named = [(name, balance_equation(text)) for name, text in equations.items()]
    else:
        balanced = [balance_equation(text) for text in entry.listed("equations", equations, str)]
        named = [(_product_name(reaction, produced), reaction) for reaction in balanced]
    return check_candidates(
        Candidate(name, reaction.ratio(produced, consumed), reaction.text(), consumed, produced)
        for name, reaction in named
    )


def _product_name(reaction: Reaction, produced: str) -> str:
    """Name a reaction after its products other than the one measured."""
    measured = parse_formula(produced).plain()
    others = [
        term.formula.plain()
        for term in reaction.products
        if term.formula.plain().removesuffix(f"({term.formula.state})") != measured
    ]
    return " + ".join(others) or reaction.text()


def oxidation_state(metal: str, spelled: int | str) -> int:
    """Read an oxidation state of a metal that is known already.

    Parameters
    ----------
    metal : str
        Symbol of the metal.
    spelled : int or str
        Beside iron ``2``, ``"2"``, ``"+2"``, ``"II"``, ``"iron(II)"``, ``"Fe(II)"``, ``"Fe^2+"``,
        ``"Fe2+"``, ``"Fe²⁺"`` and ``"Fe(2+)"`` all mean the same: the metal is stated, so that
        "Fe2+" cannot be two atoms.

    Returns
    -------
    int
        From 1 to 9.

    Raises
    ------
    ModelError
        If it cannot be read, belongs to another metal, or is not from 1 to 9.
    FormulaError
        If ``metal`` is not the symbol of an element.

    Examples
    --------
    >>> [oxidation_state("Fe", s) for s in ("iron(II)", "Fe²⁺", "Fe2+", "Ⅲ", 3)]
    [2, 2, 2, 3, 3]
    >>> oxidation_state("Fe", "Cu^2+")
    Traceback (most recent call last):
    ...
    stoichkit.errors.ModelError: This is a state of copper (Cu), not of Fe. Given: Cu^2+.
    Allowed: whole numbers 1 to 9, or texts like iron(II), Fe^2+ or II. Write Fe^2+.
    """
    entry.text("metal", metal)
    element: str
    state: int | None
    if isinstance(spelled, str):
        element, state = _spelled_state(metal, spelled)
    else:
        number = entry.plain(spelled)
        element, state = metal, number if isinstance(number, int) else None
    fix = None
    if element != metal:
        problem = f"This is a state of {element_name(element)} ({element}), not of {metal}."
        fix = f"Write {metal}^{state}+." if state else None
    elif state is None:
        problem = "An oxidation state cannot be read."
    elif not 1 <= state <= len(ROMAN):
        problem = f"The oxidation state of a product is from 1 to {len(ROMAN)}."
        fix = "Leave it out." if state == 0 else None
    else:
        return state
    raise ModelError(
        problem,
        given=spelled,
        allowed=f"whole numbers 1 to 9, or texts like {element_name(metal)}(II), {metal}^2+ or II",
        fix=fix,
    )


def _spelled_state(metal: str, spelled: str) -> tuple[str, int | None]:
    """Return the element and the state that a text means; no state where it cannot be read."""
    match = _STATE.fullmatch(unicodedata.normalize("NFKC", spelled).strip())
    word = match["word"] if match else None
    element = metal if word is None else symbol_named(word) or word.capitalize()
    if match and element in KNOWN:
        if match["roman"]:
            return element, from_roman(match["roman"])
        if match["sign"] and (word or match["sign"] != "+"):
            return element, int(match["sign"].strip("+") or 1)
        if match["number"] and (word is None or "(" in match["mark"] or "+" in spelled):
            return element, int(match["number"])  # but Fe2 alone is two atoms
    try:
        ion = parse_formula(spelled)
    except FormulaError:
        return metal, None
    if len(ion.composition) != 1:
        return metal, None
    ((element, atoms),) = ion.composition  # mercury(I) is Hg2^2+
    return element, ion.charge // atoms if ion.charge and not ion.charge % atoms else None


def _read_as(formula: Formula) -> str:
    """Say in a refusal what a formula was read as, at a length that can be read."""
    said = understood(formula)
    return f"It was read as {said if len(said) <= 300 else f'{said[:299]}…'}."


def oxidation_states(
    metal: str, states: Iterable[int | str], *, displaced: str = "Cu^2+"
) -> tuple[Candidate, ...]:
    """Candidates for the ion a metal forms when it displaces another metal or hydrogen.

    Parameters
    ----------
    metal : str
        Symbol of the metal consumed.
    states : iterable of int or str
        Oxidation states from 1 to 9, spelled as `oxidation_state` reads them.
    displaced : str
        Ion that is reduced to the element, e.g. ``"Cu^2+"``, ``"Ag^+"``, ``"H^+"`` (gives H2).

    Returns
    -------
    tuple of Candidate
        Named like ``"iron(II)"`` (IUPAC nomenclature of inorganic chemistry, oxidation number
        in Roman numerals), with the ionic equation up to state 4: no simple ion of higher
        charge exists in water.

    Raises
    ------
    ModelError
        If the metal, a state or the ion cannot be used.

    Examples
    --------
    >>> for candidate in oxidation_states("Fe", [2, 3]):
    ...     print(candidate.name, candidate.ratio, candidate.equation)
    iron(II) 1 Fe + Cu^2+ -> Fe^2+ + Cu
    iron(III) 3/2 2 Fe + 3 Cu^2+ -> 2 Fe^3+ + 3 Cu
    >>> [candidate.name for candidate in oxidation_states("Fe", ["Fe^2+", "III"])]
    ['iron(II)', 'iron(III)']
    """
    if entry.text("metal", metal) not in KNOWN or metal in NON_METALS:
        symbol = symbol_named(metal)
        raise ModelError(
            "The substance consumed is not the symbol of a metal.",
            given=metal,
            allowed="a symbol like Fe",
            fix=f"Write {symbol}." if symbol and symbol not in NON_METALS else None,
        )
    ion = parse_formula(entry.text("displaced", displaced))
    if len(ion.composition) != 1 or ion.charge < 1 or ion.counts.get(metal):
        raise ModelError(
            f"{metal} cannot displace this.",
            given=displaced,
            allowed="a positive ion of one other element, like Cu^2+, Ag^+ or H^+",
            fix=_read_as(ion),
        )
    ((element, atoms),) = ion.composition
    produced = "H2" if element == "H" else element
    per_unit = 2 if element == "H" else 1
    found = []
    for spelled in entry.listed("states", states):
        state = oxidation_state(metal, spelled)
        equation = ""
        if state <= HIGHEST_CATION:
            ionic = f"{metal} + {ion.plain()} -> {ion_of(metal, state)} + {produced}"
            equation = balance_equation(ionic).text()
        found.append(
            Candidate(
                f"{element_name(metal)}({ROMAN[state - 1]})",
                Fraction(state * atoms, ion.charge * per_unit),
                equation,
                metal,
                produced,
            )
        )
    return check_candidates(found)


def ion_of(metal: str, state: int) -> str:
    """Write the simple ion of a metal; mercury(I) is a pair of atoms in water.

    The pair is common practice, no source.

    >>> ion_of("Fe", 3), ion_of("Hg", 1)
    ('Fe^3+', 'Hg2^2+')
    """
    return "Hg2^2+" if (metal, state) == ("Hg", 1) else f"{metal}^{state}+"


def hydrate_series(
    salt: str, *, waters: Iterable[int | float | str | Fraction] = range(1, 13)
) -> tuple[Candidate, ...]:
    """Candidates for the number of water molecules in a hydrate, by driving them off.

    Parameters
    ----------
    salt : str
        The salt without water.
    waters : iterable of int, float, str or Fraction
        Water molecules for each formula unit, above 0, as `exact_ratio` reads them; ``"1/2"``
        or ``0.5`` for a hemihydrate.

    Returns
    -------
    tuple of Candidate
        Ratio n(H2O) / n(salt).

    Raises
    ------
    FormulaError
        If the salt cannot be read.
    ModelError
        If the salt carries water or charge, or a number of waters cannot be used.

    Examples
    --------
    >>> blue = hydrate_series("CuSO4", waters=[1, 3, 5])[-1]
    >>> print(blue.name, blue.ratio, blue.equation)
    CuSO4·5H2O 5 CuSO4·5H2O -> CuSO4 + 5 H2O
    """
    parsed = parse_formula(entry.text("salt", salt))
    plain = parsed.plain()
    if "·" in plain or parsed.charge or parsed.state or plain == "H2O":
        raise ModelError(
            "The salt must be written without water, charge and state.",
            given=salt,
            allowed="like CuSO4",
            fix=_read_as(parsed),
        )
    found = []
    for count in entry.listed("waters", waters):
        ratio = exact_ratio(count, "number of water molecules")
        units, molecules = ratio.denominator, ratio.numerator
        name = f"{units if units > 1 else ''}{plain}·{molecules if molecules > 1 else ''}H2O"
        left = f"1 {name}" if units > 1 else name
        equation = balance_equation(f"{left} -> {plain} + H2O").text()
        found.append(Candidate(name, ratio, equation, plain, "H2O"))
    return check_candidates(found)


def binary_series(
    metal: str, partner: str, *, max_metal: int = 3, max_partner: int = 4
) -> tuple[Candidate, ...]:
    """Candidates for the formula of a compound of two elements, all simple ratios.

    Parameters
    ----------
    metal, partner : str
        Element symbols, e.g. ``"Sn"`` and ``"O"``; the first is the element consumed, the
        second is what the product has gained.
    max_metal, max_partner : int
        Largest subscripts, 1 to 20.

    Returns
    -------
    tuple of Candidate
        In order of rising ratio n(partner) / n(metal), each formula in lowest terms.

    Raises
    ------
    ModelError
        If a largest subscript cannot be used, or a symbol is not that of an element.

    Examples
    --------
    >>> [c.name for c in binary_series("Sn", "O", max_metal=2, max_partner=3)]
    ['Sn2O', 'SnO', 'Sn2O3', 'SnO2', 'SnO3']
    """
    entry.texts(metal=metal, partner=partner)
    for symbol in (metal, partner):
        element_name(symbol)  # refuses what is not an element
    if metal == partner:
        raise ModelError("The two elements are the same.", given=metal, allowed="two elements")
    max_metal = entry.whole("max_metal", max_metal, least=1, most=20)
    max_partner = entry.whole("max_partner", max_partner, least=1, most=20)
    pairs = [
        (Fraction(b, a), a, b)
        for a in range(1, max_metal + 1)
        for b in range(1, max_partner + 1)
        if gcd(a, b) == 1
    ]
    formulas = [
        f"{metal}{a if a > 1 else ''}{partner}{b if b > 1 else ''}" for _, a, b in sorted(pairs)
    ]
    return from_formulas(formulas, consumed=metal, produced=partner)


def from_formulas(
    formulas: Iterable[str], *, consumed: str, produced: str
) -> tuple[Candidate, ...]:
    """Candidates given as formulas of the product, compared by atoms of two elements.

    Parameters
    ----------
    formulas : iterable of str
        Possible products, e.g. ``["SnO", "SnO2"]``.
    consumed, produced : str
        Symbols of the two elements whose amounts are measured.

    Returns
    -------
    tuple of Candidate
        Ratio of the atoms of ``produced`` to those of ``consumed``. A compound of just these
        two elements carries the equation of its formation from them.

    Raises
    ------
    ModelError
        If a formula lacks one of the elements; see also `check_candidates`.

    Examples
    --------
    >>> for candidate in from_formulas(["SnO", "SnO2"], consumed="Sn", produced="O"):
    ...     print(candidate.name, candidate.ratio, candidate.equation)
    SnO 1 2 Sn + O2 -> 2 SnO
    SnO2 2 Sn + O2 -> SnO2
    """
    entry.texts(consumed=consumed, produced=produced)
    found = []
    for text in entry.listed("formulas", formulas, str):
        formula = parse_formula(text)
        counts = formula.counts
        for symbol in (consumed, produced):
            if symbol not in counts:
                raise ModelError(
                    f"{formula.plain()} does not contain {symbol}.",
                    given=text,
                    allowed=f"formulas with {consumed} and {produced}",
                    fix=_read_as(formula),
                )
        found.append(
            Candidate(
                formula.plain(),
                Fraction(counts[produced], counts[consumed]),
                _formation(formula),
                consumed,
                produced,
            )
        )
    return check_candidates(found)


def _formation(formula: Formula) -> str:
    """Return the equation of formation of a neutral compound of two elements, else ``""``."""
    if len(formula.composition) != 2 or formula.charge:
        return ""
    elements = [f"{s}2" if s in _DIATOMIC else s for s, _ in formula.composition]
    return balance_equation(f"{' + '.join(elements)} -> {formula.plain()}").text()


def plain_ratios(
    ratios: Mapping[str, str | int | float | Fraction], *, consumed: str = "", produced: str = ""
) -> tuple[Candidate, ...]:
    """Candidates given as bare mole ratios.

    Parameters
    ----------
    ratios : mapping of name to ratio
        n(produced) / n(consumed) as `exact_ratio` reads it: ``"3/2"``, ``"3:2"``, ``2``, ``1.5``
        or a Fraction, but not 0.667, which is not two thirds.
    consumed, produced : str
        What the two substances are, if it is to be shown.

    Returns
    -------
    tuple of Candidate
        In the order given.

    Raises
    ------
    ModelError
        If a ratio is not an exact number above 0, or a name is used twice.

    Examples
    --------
    >>> [c.ratio for c in plain_ratios({"1:1": "1/1", "3:2": 1.5, "two": 2})]
    [Fraction(1, 1), Fraction(3, 2), Fraction(2, 1)]
    """
    return check_candidates(
        Candidate(name, exact_ratio(ratio, f"mole ratio of {name}"), "", consumed, produced)
        for name, ratio in entry.mapping("ratios", ratios, "{name: ratio}").items()
    )
