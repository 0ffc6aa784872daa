"""How much of each reactant every candidate would need for each mole consumed."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from .bench_supply import Supply, find_supply
from .candidates import Candidate
from .equation import parse_equation
from .errors import StoichkitError
from .formula import Formula, parse_formula
from .reaction import Term

__all__ = ["Needs", "SharedSupply", "equation_text", "needs_of", "shared_supplies"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What one candidate's equation takes for each mole of the consumed species.

    Attributes
    ----------
    candidate : str
        Name of the candidate.
    partners : mapping of str to Fraction
        Moles of each other reactant, by its spelling in the equation.
    sample : str
        The reactant that gives the consumed species off, where that stands on the right (a
        hydrate that is heated); "" otherwise.
    sample_moles : Fraction
        Moles of it for each mole of the consumed species.
    """

    candidate: str
    partners: Mapping[str, Fraction]
    sample: str = ""
    sample_moles: Fraction = Fraction(1)


@dataclass(frozen=True, slots=True, kw_only=True)
class SharedSupply:
    """One bottle on the bench and the reactants that come from it.

    Attributes
    ----------
    supply : Supply or None
        None: no usual source is known for the reactant.
    species : tuple of str
        The reactants, as the equations spell them.
    moles : mapping of str to float
        Moles of solute for each mole of the consumed species, by candidate.
    """

    supply: Supply | None
    species: tuple[str, ...]
    moles: Mapping[str, float]


def equation_text(equation: str) -> str:
    """Return an equation with subscripts and superscripts, or as it is if it cannot be read.

    >>> equation_text("Cu + 2 Ag^+ -> Cu^2+ + 2 Ag")
    'Cu + 2 Ag⁺ → Cu²⁺ + 2 Ag'
    """
    try:
        found = parse_equation(equation)
    except StoichkitError:
        return equation
    return " → ".join(
        " + ".join(term.unicode() for term in side) for side in (found.left, found.right)
    )


def _same(formula: Formula, other: Formula) -> bool:
    """Say whether two formulas are spelled alike but for the state."""
    return _stateless(formula) == _stateless(other)


def _stateless(formula: Formula) -> str:
    return formula.plain().removesuffix(f"({formula.state})" if formula.state else "")


def needs_of(candidate: Candidate, consumed: str) -> Needs | None:
    """Return what a candidate's equation takes for each mole consumed, or None.

    Parameters
    ----------
    candidate : Candidate
    consumed : str
        Species whose amount consumed is measured.

    Returns
    -------
    Needs or None
        None when there is no equation, or it does not name the consumed species.

    Examples
    --------
    >>> found = needs_of(Candidate("copper(II)", Fraction(2), "Cu + 2 Ag^+ -> Cu^2+ + 2 Ag"), "Cu")
    >>> dict(found.partners)
    {'Ag^+': Fraction(2, 1)}
    >>> salt = Candidate("hydrate", Fraction(7), "MgSO4.7H2O -> MgSO4 + 7 H2O")
    >>> needs_of(salt, "MgSO4").sample
    'MgSO4·7H2O'
    """
    if not candidate.equation:
        return None
    equation = parse_equation(candidate.equation)
    wanted = parse_formula(candidate.consumed or consumed)
    left = [term for term in equation.left if _same(term.formula, wanted)]
    right = [term for term in equation.right if _same(term.formula, wanted)]
    if len(left) == 1:
        others = [term for term in equation.left if term is not left[0]]
        return Needs(candidate=candidate.name, partners=_moles(others, left[0]))
    if len(right) == 1:
        return _from_sample(candidate.name, equation.left, right[0], wanted)
    return None


def _moles(terms: Iterable[Term], per: Term) -> dict[str, Fraction]:
    return {_stateless(term.formula): Fraction(term.coefficient, per.coefficient) for term in terms}


def _from_sample(
    name: str, left: tuple[Term, ...], released: Term, wanted: Formula
) -> Needs | None:
    """Find the one reactant that holds all elements of what it gives off."""
    elements = set(wanted.counts)
    holding = [term for term in left if elements <= set(term.formula.counts)]
    if len(holding) != 1:
        return None
    others = [term for term in left if term is not holding[0]]
    return Needs(
        candidate=name,
        partners=_moles(others, released),
        sample=_stateless(holding[0].formula),
        sample_moles=Fraction(holding[0].coefficient, released.coefficient),
    )


def shared_supplies(
    needs: Iterable[Needs], stated: Mapping[str, Supply]
) -> tuple[SharedSupply, ...]:
    """Return the bottles the partners come from; partners from one bottle are put together.

    Parameters
    ----------
    needs : iterable of Needs
        One for each candidate that has an equation.
    stated : mapping of str to Supply
        Supplies stated by the reader, see :func:`stoichkit.bench_supply.supplies_by_species`.

    Examples
    --------
    >>> one = Needs(candidate="I", partners={"Cu^+": Fraction(1)})
    >>> two = Needs(candidate="II", partners={"Cu^2+": Fraction(1, 2)})
    >>> (bath,) = shared_supplies([one, two], {})
    >>> bath.supply.solute, bath.species, dict(bath.moles)
    ('CuSO4.5H2O', ('Cu^+', 'Cu^2+'), {'I': 1.0, 'II': 0.5})
    """
    species: dict[object, dict[str, None]] = {}
    moles: dict[object, dict[str, float]] = {}
    supplies: dict[object, Supply | None] = {}
    for need in needs:
        for name, amount in need.partners.items():
            supply = find_supply(name, stated)
            key: object = name if supply is None else supply.key
            units = 1.0 if supply is None else float(supply.units)
            supplies.setdefault(key, supply)
            species.setdefault(key, {})[name] = None
            taken = moles.setdefault(key, {})
            taken[need.candidate] = taken.get(need.candidate, 0.0) + float(amount) / units
    return tuple(
        SharedSupply(supply=supplies[key], species=tuple(species[key]), moles=moles[key])
        for key in supplies
    )
