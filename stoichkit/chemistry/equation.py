"""Chemical equations: read, check, and balance in exact whole numbers.

Most equations of a lab follow one coefficient at a time, as on paper. For the others balancing
finds the null space of the matrix of element counts (and charges, where there are any) over the
integers with sympy, which is loaded only then; nothing is rounded. An equation that cannot be
balanced in exactly one way is refused with the reason.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import gcd, lcm
from operator import mul

from ..errors import EquationError, FormulaError, short
from .formula import MAX_CHARACTERS, MAX_COUNT, Formula, parse_formula


@dataclass(frozen=True, slots=True)
class Term:
    """One species of an equation with its coefficient.

    Attributes
    ----------
    coefficient : int
        Whole number of formula units, at least 1.
    name : str
        The species as typed, without the coefficient.
    formula : Formula
        The species as read.
    """

    coefficient: int
    name: str
    formula: Formula

    def _write(self, species: str) -> str:
        # A formula such as 3CdSO4·8H2O keeps its coefficient even when that is 1.
        if self.coefficient == 1 and not species[0].isdecimal():
            return species
        return f"{self.coefficient} {species}"

    def text(self) -> str:
        """Write as plain text.

        >>> Term(2, "H₂O", parse_formula("H₂O")).text()
        '2 H2O'
        """
        return self._write(self.formula.plain())

    def unicode(self) -> str:
        """Write with subscript and superscript characters.

        >>> Term(2, "H2O", parse_formula("H2O")).unicode()
        '2 H₂O'
        """
        return self._write(self.formula.unicode())

    def latex(self) -> str:
        r"""Write as TeX mathematics.

        >>> print(Term(2, "H2O", parse_formula("H2O")).latex())
        2\,\mathrm{H_{2}O}
        """
        number = "" if self.coefficient == 1 else rf"{self.coefficient}\,"
        return f"{number}{self.formula.latex()}"


@dataclass(frozen=True, slots=True)
class Reaction:
    """A balanced equation; made by `balance_equation`.

    Attributes
    ----------
    reactants, products : tuple of Term
        Left and right side with exact positive coefficients.

    Examples
    --------
    >>> from stoichkit.chemistry.equation import balance_equation
    >>> reaction = balance_equation("Fe + CuCl2 -> FeCl3 + Cu")
    >>> reaction.coefficients
    {'Fe': 2, 'CuCl2': 3, 'FeCl3': 2, 'Cu': 3}
    >>> reaction.ratio("Cu", "Fe")
    Fraction(3, 2)
    >>> reaction.unicode()
    '2 Fe + 3 CuCl₂ → 2 FeCl₃ + 3 Cu'
    """

    reactants: tuple[Term, ...]
    products: tuple[Term, ...]

    @property
    def coefficients(self) -> dict[str, int]:
        """Species as typed to coefficient, both sides positive, in the order of the equation."""
        return {term.name: term.coefficient for term in (*self.reactants, *self.products)}

    def text(self) -> str:
        """Write as plain text, which `parse_equation` reads back.

        >>> from stoichkit.chemistry.equation import balance_equation
        >>> balance_equation("H2 + O2 = H2O").text()
        '2 H2 + O2 -> 2 H2O'
        """
        return " -> ".join(
            " + ".join(term.text() for term in side) for side in (self.reactants, self.products)
        )

    def unicode(self) -> str:
        """Write with subscript and superscript characters.

        >>> from stoichkit.chemistry.equation import balance_equation
        >>> balance_equation("Ag^+ + Cu -> Ag + Cu^2+").unicode()
        '2 Ag⁺ + Cu → 2 Ag + Cu²⁺'
        """
        return " → ".join(
            " + ".join(term.unicode() for term in side) for side in (self.reactants, self.products)
        )

    def latex(self) -> str:
        r"""Write as TeX mathematics without dollar signs.

        >>> from stoichkit.chemistry.equation import balance_equation
        >>> print(balance_equation("H2 + O2 = H2O").latex())
        2\,\mathrm{H_{2}} + \mathrm{O_{2}} \rightarrow 2\,\mathrm{H_{2}O}
        """
        return r" \rightarrow ".join(
            " + ".join(term.latex() for term in side) for side in (self.reactants, self.products)
        )

    def ratio(self, produced: str, consumed: str) -> Fraction:
        """Return n(produced) / n(consumed), exactly.

        Parameters
        ----------
        produced : str
            A species of the right side, as typed or in another spelling; the state label may
            be left out.
        consumed : str
            A species of the left side.

        Raises
        ------
        EquationError
            If the side has no such species.

        Examples
        --------
        >>> from stoichkit.chemistry.equation import balance_equation
        >>> balance_equation("Cu^2+ + e- -> Cu").ratio("Cu", "e-")
        Fraction(1, 2)
        """
        made = _find(self.products, produced, "produced", "right")
        used = _find(self.reactants, consumed, "consumed", "left")
        return Fraction(made.coefficient, used.coefficient)


def _find(terms: Sequence[Term], name: str, role: str, side: str) -> Term:
    """Find a species by its formula, else by its formula without the state."""
    try:
        wanted = parse_formula(name)
    except FormulaError as error:
        raise EquationError(
            f"The substance {role} cannot be read. {error.problem}", given=name, fix=error.fix
        ) from error
    plain = wanted.plain()
    matches = [term for term in terms if term.formula.plain() == plain]
    matches = matches or [term for term in terms if _without_state(term.formula) == plain]
    if len(matches) != 1:
        raise EquationError(
            f"The {side} side of the equation has {'no' if not matches else 'more than one'} "
            f"{plain}, so it cannot be the substance {role}.",
            given=name,
            allowed=", ".join(short(term.name) for term in terms),
        )
    return matches[0]


def _without_state(formula: Formula) -> str:
    return formula.plain().removesuffix(f"({formula.state})")


MAX_SPECIES = 40
"""Most species in one equation."""
_ARROW = re.compile(r"(?<=\s)-{2,3}>|<=>|<->|->|=>|=|→|⟶|⇌|⇄")
_COEFFICIENT = re.compile(r"([0-9]+) ?(.*)", re.DOTALL)
_EXAMPLE = "like “Fe + CuCl2 -> FeCl3 + Cu”"
_CHARGE = "charge"


@dataclass(frozen=True, slots=True)
class Equation:
    """An equation as typed, balanced or not.

    Attributes
    ----------
    left, right : tuple of Term
        The two sides with the coefficients as typed (1 where none is).
    numbered : bool
        Whether any coefficient was typed.
    """

    left: tuple[Term, ...]
    right: tuple[Term, ...]
    numbered: bool


def parse_equation(text: str) -> Equation:
    """Read an equation without balancing it.

    Parameters
    ----------
    text : str
        Two sides with ``->``, ``=>``, ``=``, ``<=>``, ``→``, ``⟶`` or ``⇌`` between them;
        species joined by ``+`` with a space on both sides. A whole number before a species is
        its coefficient (``2 Fe`` or ``2Fe``), so write ``1 3CdSO4·8H2O`` for a formula that
        itself begins with a number. Electrons are ``e-``.

    Raises
    ------
    EquationError
        If the text is not an equation or names a species twice.

    Examples
    --------
    >>> equation = parse_equation("2Fe^3+ + Cu -> 2Fe^2+ + Cu^2+")
    >>> [(term.coefficient, term.name) for term in equation.left]
    [(2, 'Fe^3+'), (1, 'Cu')]
    """
    if not isinstance(text, str) or len(text) > MAX_CHARACTERS:
        raise EquationError(
            "An equation is text of limited length.",
            given=text,
            allowed=f"at most {MAX_CHARACTERS:,} characters, {_EXAMPLE}",
        )
    sides = _ARROW.split(" ".join(text.split()))
    if len(sides) != 2:
        raise EquationError(
            "There is no arrow." if len(sides) == 1 else "There is more than one arrow.",
            given=text,
            allowed=f"one ->, =, → or ⇌ between the two sides, {_EXAMPLE}",
        )
    left, right = (
        [_parse_term(part, name, text) for part in side.strip().split(" + ")]
        for side, name in zip(sides, ("left", "right"), strict=True)
    )
    if len(left) + len(right) > MAX_SPECIES:
        raise EquationError(
            f"The equation has {len(left) + len(right)} species.",
            given=text,
            allowed=f"at most {MAX_SPECIES}",
        )
    terms = [term for term, _ in (*left, *right)]
    spelled = [term.formula.plain() for term in terms]
    for index, plain in enumerate(spelled):
        first = spelled.index(plain)
        if first < index:
            both = first < len(left) <= index
            raise EquationError(
                f"{plain} stands on both sides." if both else f"{plain} stands twice on one side.",
                given=text,
                allowed="each species once",
                fix="Leave out what does not change." if both else "Write it once.",
            )
    numbered = any(typed for _, typed in (*left, *right))
    return Equation(tuple(terms[: len(left)]), tuple(terms[len(left) :]), numbered)


def _parse_term(part: str, side: str, text: str) -> tuple[Term, bool]:
    """Read one species; also say whether it has a coefficient."""
    match = _COEFFICIENT.fullmatch(part)
    digits, species = (match[1], match[2].strip()) if match else ("", part.strip())
    if species[:1] in ("/", ".", ",", "½", "¼", "¾", "⅓", "⅔"):
        raise EquationError(
            f"“{part[:40]}” has a coefficient that is not a whole number.",
            given=text,
            allowed="whole numbers",
            fix="Multiply the equation until all are whole, or leave the coefficients out.",
        )
    if not species or species[0] == "+" or species.endswith(" +"):
        raise EquationError(
            f"A species is missing on the {side} side.", given=text, allowed=_EXAMPLE
        )
    if digits and (digits[0] == "0" or len(digits) > 10 or int(digits) > MAX_COUNT):
        raise EquationError(
            f"The coefficient of {species[:40]} cannot be used.",
            given=digits,
            allowed="whole numbers from 1 to 1,000,000,000, without leading zeros",
        )
    try:
        formula = parse_formula(species)
    except FormulaError as error:
        raise EquationError(
            f"“{species[:40]}” on the {side} side cannot be read. {error.problem}",
            given=text,
            allowed=error.allowed,
            fix=error.fix,
        ) from error
    return Term(int(digits) if digits else 1, species, formula), bool(digits)


def _totals(terms: Iterable[Term]) -> Counter[str]:
    """Add up atoms and charge of one side."""
    total = Counter[str]()
    for term in terms:
        for symbol, count in term.formula.composition:
            total[symbol] += term.coefficient * count
        total[_CHARGE] += term.coefficient * term.formula.charge
    return total


def check_balance(text: str) -> tuple[str, ...]:
    """Say for each element, and for charge, what differs between the sides as typed.

    >>> check_balance("H2 + O2 -> 2 H2O")
    ('H: 2 on the left, 4 on the right',)
    >>> check_balance("2 H2 + O2 -> 2 H2O")
    ()
    """
    equation = parse_equation(text)
    return _differences(equation.left, equation.right)


def _differences(left: Iterable[Term], right: Iterable[Term]) -> tuple[str, ...]:
    before, after = _totals(left), _totals(right)
    keys = [*(key for key in dict.fromkeys((*before, *after)) if key != _CHARGE), _CHARGE]
    return tuple(
        f"{key}: {_shown(key, before[key])} on the left, {_shown(key, after[key])} on the right"
        for key in keys
        if before[key] != after[key]
    )


def _shown(key: str, number: int) -> str:
    return f"{number:+d}" if key == _CHARGE and number else str(number)


def is_balanced(text: str) -> bool:
    """Return whether an equation is balanced as typed, in atoms and in charge.

    >>> is_balanced("Fe^3+ + Cu -> Fe^2+ + Cu^2+"), is_balanced("2Fe^3+ + Cu -> 2Fe^2+ + Cu^2+")
    (False, True)
    """
    return not check_balance(text)


def balance_equation(text: str) -> Reaction:
    """Balance an equation in the smallest whole numbers.

    Parameters
    ----------
    text : str
        See `parse_equation`. Coefficients already typed are ignored, except where more than
        one way of balancing exists: then typed coefficients that balance are kept.

    Returns
    -------
    Reaction

    Raises
    ------
    EquationError
        If the equation cannot be read, cannot be balanced, can be balanced in more than one
        independent way, or has a species that takes no part or stands on the wrong side.

    Examples
    --------
    >>> balance_equation("MnO4^- + Fe^2+ + H^+ -> Mn^2+ + Fe^3+ + H2O").text()
    'MnO4^- + 5 Fe^2+ + 8 H^+ -> Mn^2+ + 5 Fe^3+ + 4 H2O'
    """
    equation = parse_equation(text)
    terms = (*equation.left, *equation.right)
    rows = _matrix(equation, charge=True)
    numbers = _one_by_one(rows, len(terms))
    if numbers is not None:
        return _reaction(equation, numbers)
    basis = _null_space(rows, len(terms))
    if len(basis) == 1 and all(number > 0 for number in basis[0]):
        return _reaction(equation, basis[0])
    if len(basis) > 1 and equation.numbered and not _differences(equation.left, equation.right):
        return Reaction(equation.left, equation.right)
    problem, fix = _explain(equation, basis)
    raise EquationError(problem, given=text, fix=fix)


def _reaction(equation: Equation, numbers: Sequence[int]) -> Reaction:
    """Give the species of the equation new coefficients."""
    terms = [
        Term(number, term.name, term.formula)
        for number, term in zip(numbers, (*equation.left, *equation.right), strict=True)
    ]
    return Reaction(tuple(terms[: len(equation.left)]), tuple(terms[len(equation.left) :]))


def _matrix(equation: Equation, *, charge: bool) -> list[list[int]]:
    """One row for each element, and one for charge if any species carries one; right side < 0."""
    columns = [(dict(term.formula.composition), term.formula.charge, 1) for term in equation.left]
    columns += [
        (dict(term.formula.composition), term.formula.charge, -1) for term in equation.right
    ]
    symbols = dict.fromkeys(symbol for counts, _, _ in columns for symbol in counts)
    rows = [[sign * counts.get(symbol, 0) for counts, _, sign in columns] for symbol in symbols]
    if charge and any(number for _, number, _ in columns):
        rows.append([sign * number for _, number, sign in columns])
    return rows


def _one_by_one(rows: list[list[int]], columns: int) -> list[int] | None:
    """Balance by setting one coefficient after the other, or return None where that cannot be done.

    With the first species at 1, a row in which all but one are known gives that one. If all follow
    from the first, no second solution exists: their differences would follow from 0.
    """
    found: dict[int, Fraction] = {0: Fraction(1)}
    while len(found) < columns:
        for row in rows:
            left = [i for i, n in enumerate(row) if n and i not in found]
            if len(left) == 1:
                known = sum((row[i] * found[i] for i in found), Fraction(0))
                found[left[0]] = -known / row[left[0]]
                break
        else:
            return None
    numbers = [found[i] for i in range(columns)]
    if min(numbers) <= 0 or any(sum(map(mul, row, numbers)) for row in rows):
        return None
    units = lcm(*(n.denominator for n in numbers))
    return [int(n * units) for n in numbers]  # in lowest terms, since the first was 1


def _null_space(rows: list[list[int]], columns: int) -> list[list[int]]:
    """Return an integer basis of the null space, each vector in lowest terms, mostly positive."""
    from sympy import ZZ
    from sympy.polys.matrices import DomainMatrix

    if not rows:
        return [[int(i == j) for j in range(columns)] for i in range(columns)]
    exact = DomainMatrix([[ZZ(n) for n in row] for row in rows], (len(rows), columns), ZZ)
    reduced, denominator, pivots = exact.rref_den(method="FF")
    reduced_rows = reduced.to_list()
    basis = []
    for free in sorted(set(range(columns)) - set(pivots)):
        vector = [0] * columns
        vector[free] = int(denominator)
        for row, pivot in zip(reduced_rows, pivots, strict=False):
            vector[pivot] = -int(row[free])
        common = gcd(*vector)
        if sum(n > 0 for n in vector) < sum(n < 0 for n in vector):
            common = -common
        basis.append([n // common for n in vector])
    return basis


def _explain(equation: Equation, basis: list[list[int]]) -> tuple[str, str]:
    """Return why there is not exactly one way to balance, and what to do."""
    terms = (*equation.left, *equation.right)
    left, right = (
        {symbol for term in side for symbol, _ in term.formula.composition}
        for side in (equation.left, equation.right)
    )
    if left ^ right:
        places = [
            f"{symbol} is only on the {'left' if symbol in left else 'right'}"
            for symbol in dict.fromkeys(s for term in terms for s, _ in term.formula.composition)
            if symbol in left ^ right
        ]
        return f"It cannot be balanced: {'; '.join(places)}.", "Add the missing substance."
    if len(basis) > 1:
        shown = " and ".join(f"“{_moved(terms, vector, equation)}”" for vector in basis[:2])
        return (
            f"It can be balanced in many ways, because {len(basis)} independent reactions are "
            f"mixed in it, for instance {shown}.",
            "Balance one reaction at a time, or type all coefficients.",
        )
    if basis:
        (numbers,) = basis
        idle = [term.name for term, n in zip(terms, numbers, strict=True) if n == 0]
        wrong = [term.name for term, n in zip(terms, numbers, strict=True) if n < 0]
        reasons = []
        if idle:
            reasons.append(f"{_brief(', '.join(idle))} would take no part")
        if wrong:
            reasons.append(f"{_brief(', '.join(wrong))} would have to stand on the other side")
        balanced = _moved(terms, numbers, equation)
        return (
            f"It cannot be balanced as written: {' and '.join(reasons)} (“{balanced}”).",
            "Correct the species, or move them.",
        )
    without_charge = _null_space(_matrix(equation, charge=False), len(terms))
    if len(without_charge) == 1 and all(n > 0 for n in without_charge[0]):
        reaction = _reaction(equation, without_charge[0])
        (difference,) = _differences(reaction.reactants, reaction.products)
        return (
            f"The elements balance but not the {difference} of “{_brief(reaction.text())}”.",
            "Check the charges, or add what carries the rest, such as e-.",
        )
    if without_charge:
        return (
            "The elements can be balanced but the charge cannot at the same time.",
            "Check the charges, or add what carries the rest, such as e-.",
        )
    symbols = ", ".join(dict.fromkeys(s for term in terms for s, _ in term.formula.composition))
    return (
        f"No whole numbers balance {symbols} at the same time.",
        "Check the formulas; a substance may be missing.",
    )


def _moved(terms: Sequence[Term], numbers: Sequence[int], equation: Equation) -> str:
    """Write a solution as an equation with every species on the side where it is positive."""
    half = len(equation.left)
    signed = [*numbers[:half], *(-n for n in numbers[half:])]
    texts = [
        Term(abs(n), term.name, term.formula).text() for term, n in zip(terms, signed, strict=True)
    ]
    left = " + ".join(text for text, n in zip(texts, signed, strict=True) if n > 0)
    right = " + ".join(text for text, n in zip(texts, signed, strict=True) if n < 0)
    return _brief(f"{left} -> {right}")


def _brief(text: str) -> str:
    """Keep an explanation readable when the species are very long."""
    return text if len(text) <= 300 else f"{text[:299]}…"
