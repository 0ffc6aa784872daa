"""Balanced reactions: species with exact coefficients, written out, and their mole ratios."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from .errors import EquationError, FormulaError
from .formula import Formula, parse_formula

__all__ = ["Reaction", "Term"]


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
    >>> from stoichkit.equation import balance_equation
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

        >>> from stoichkit.equation import balance_equation
        >>> balance_equation("H2 + O2 = H2O").text()
        '2 H2 + O2 -> 2 H2O'
        """
        return " -> ".join(
            " + ".join(term.text() for term in side) for side in (self.reactants, self.products)
        )

    def unicode(self) -> str:
        """Write with subscript and superscript characters.

        >>> from stoichkit.equation import balance_equation
        >>> balance_equation("Ag^+ + Cu -> Ag + Cu^2+").unicode()
        '2 Ag⁺ + Cu → 2 Ag + Cu²⁺'
        """
        return " → ".join(
            " + ".join(term.unicode() for term in side) for side in (self.reactants, self.products)
        )

    def latex(self) -> str:
        r"""Write as TeX mathematics without dollar signs.

        >>> from stoichkit.equation import balance_equation
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
        >>> from stoichkit.equation import balance_equation
        >>> balance_equation("Cu^2+ + e- -> Cu").ratio("Cu", "e-")
        Fraction(1, 2)
        """
        made = _find(self.products, produced, "produced", "right")
        used = _find(self.reactants, consumed, "consumed", "left")
        return Fraction(made.coefficient, used.coefficient)


def _find(terms: Sequence[Term], name: str, role: str, side: str) -> Term:
    """Find a species by its text, else by its formula, else by its formula without the state."""
    try:
        wanted = parse_formula(name)
    except FormulaError as error:
        raise EquationError(
            f"The substance {role} cannot be read. {error.problem}", given=name, fix=error.fix
        ) from error
    matches = [term for term in terms if term.formula.text == wanted.text]
    if not matches:
        matches = [term for term in terms if term.formula.plain() == wanted.plain()]
    if not matches and not wanted.state:
        matches = [term for term in terms if _without_state(term.formula) == wanted.plain()]
    if len(matches) != 1:
        raise EquationError(
            f"The {side} side of the equation has {'no' if not matches else 'more than one'} "
            f"{wanted.plain()}, so it cannot be the substance {role}.",
            given=name,
            allowed=", ".join(term.name[:60] for term in terms),
        )
    return matches[0]


def _without_state(formula: Formula) -> str:
    return formula.plain().removesuffix(f"({formula.state})")
