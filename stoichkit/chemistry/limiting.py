"""Limiting reactant and theoretical yield, with the probability of each reactant to limit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

import numpy as np

from .._common import FrozenMap
from ..errors import ModelError
from ..uncertainty import entry
from ..uncertainty.distribution import distribution_of
from ..uncertainty.montecarlo import draw
from ..uncertainty.sources import Number, Source, contributions, nominal
from .elements import molar_mass
from .equation import Reaction, balance_equation
from .formula import parse_formula

_DRAWS = 400_000
_SEED = 20_080_101


@dataclass(frozen=True, slots=True, eq=False)
class LimitingReactant:
    """Which reactant runs out first, and how sure that is.

    Attributes
    ----------
    species : str
        The reactant with the smallest estimated extent, as named in ``amounts_mol``.
    extents_mol : mapping of str to number
        Extent of reaction that each reactant would allow: its amount over its coefficient, mol.
    excess_mol : mapping of str to number
        What is left of each other reactant when the limiting one is used up, mol.
    probability : mapping of str to float
        Probability of each reactant to be the limiting one, given the uncertainties (flat
        prior on each amount). Exact for two reactants; for more a Monte Carlo figure with a
        standard error of at most 0.0008. Exact ties are shared equally.
    reaction : Reaction
    """

    species: str
    extents_mol: Mapping[str, Number]
    excess_mol: Mapping[str, Number]
    probability: Mapping[str, float]
    reaction: Reaction

    @property
    def extent_mol(self) -> Number:
        """Extent of reaction that the limiting reactant allows, mol."""
        return self.extents_mol[self.species]


def limiting_reactant(
    reaction: Reaction | str, amounts_mol: Mapping[str, Number]
) -> LimitingReactant:
    """Find the reactant that runs out first.

    Parameters
    ----------
    reaction : Reaction or str
        A balanced reaction, or an equation to be balanced.
    amounts_mol : mapping of str to number
        Amount of each reactant, mol, 0 or more, exact or uncertain. Reactants that are left out
        count as present in excess.

    Returns
    -------
    LimitingReactant

    Raises
    ------
    ModelError
        If no amount is given, one is negative, or a reactant is named twice.
    EquationError
        If the equation cannot be balanced or has no such reactant.

    Examples
    --------
    >>> found = limiting_reactant("Si + N2 -> Si3N4", {"Si": 0.0712, "N2": 0.0535})
    >>> found.species, round(found.extent_mol, 4), round(found.excess_mol["N2"], 4)
    ('Si', 0.0237, 0.006)
    """
    if isinstance(reaction, str):
        reaction = balance_equation(reaction)
    balanced = entry.record("reaction", reaction, Reaction)
    amounts_mol = {
        name: entry.quantity(f"the amount of {name}", amount, least=0)
        for name, amount in entry.mapping("amounts_mol", amounts_mol, "{reactant: mol}").items()
    }
    if not amounts_mol:
        raise ModelError("No amount is given.", allowed="the amount of at least one reactant, mol")
    per_extent = {name: _coefficient(balanced, name) for name in amounts_mol}
    if len({_spelled(balanced, name) for name in amounts_mol}) < len(amounts_mol):
        raise ModelError(
            "One reactant is named twice.", given=", ".join(amounts_mol), fix="Name it once."
        )
    extents = {name: amount / per_extent[name] for name, amount in amounts_mol.items()}
    species = min(extents, key=lambda name: nominal(extents[name]))
    excess = {
        name: amount - per_extent[name] * extents[species]
        for name, amount in amounts_mol.items()
        if name != species
    }
    return LimitingReactant(
        species, FrozenMap(extents), FrozenMap(excess), FrozenMap(_chances(extents)), balanced
    )


def _coefficient(reaction: Reaction, reactant: str) -> int:
    product = reaction.products[0]
    return int(product.coefficient / reaction.ratio(product.name, reactant))


def _spelled(reaction: Reaction, reactant: str) -> str:
    """Return how the reaction itself spells a reactant that is known to be in it."""
    wanted = parse_formula(reactant)
    alike = [t for t in reaction.reactants if t.formula.plain() == wanted.plain()] or [
        t
        for t in reaction.reactants
        if (t.formula.counts, t.formula.charge) == (wanted.counts, wanted.charge)
    ]
    return alike[0].name


def _chances(extents: Mapping[str, Number]) -> dict[str, float]:
    """Return the probability of each extent to be the smallest."""
    names = list(extents)
    if len(names) == 1:
        return {names[0]: 1.0}
    if len(names) == 2:
        difference = extents[names[0]] - extents[names[1]]
        gap, error = nominal(difference), distribution_of(difference)
        first = float(error.cdf(-gap)) if error.terms or gap else 0.5
        return {names[0]: first, names[1]: 1.0 - first}
    rng = np.random.default_rng(np.random.SFC64(_SEED))
    errors: dict[Source, Any] = {}
    rows = []
    for name in names:
        row = np.full(_DRAWS, nominal(extents[name]))
        for source, coefficient in contributions(extents[name]):
            if source not in errors:
                errors[source] = draw(source, rng, _DRAWS)
            row += coefficient * errors[source]
        rows.append(row)
    table = np.array(rows)
    smallest = table == table.min(axis=0)
    shares = (smallest / smallest.sum(axis=0)).mean(axis=1)
    return dict(zip(names, shares.tolist(), strict=True))


@dataclass(frozen=True, slots=True, eq=False)
class TheoreticalYield:
    """The most product that the amounts of the reactants allow.

    Attributes
    ----------
    product : str
    amount_mol, mass_g : number
        Amount (mol) and mass (g) of the product when the limiting reactant is used up.
    limiting : LimitingReactant
        Where its probability is well below 1, another reactant may be the limiting one, and
        the true theoretical yield is then smaller than stated.
    """

    product: str
    amount_mol: Number
    mass_g: Number
    limiting: LimitingReactant


def theoretical_yield(
    reaction: Reaction | str, amounts_mol: Mapping[str, Number], product: str
) -> TheoreticalYield:
    """Return the most product that the amounts of the reactants allow.

    Parameters
    ----------
    reaction : Reaction or str
    amounts_mol : mapping of str to number
        As for :func:`limiting_reactant`.
    product : str
        A species of the right side.

    Raises
    ------
    ModelError
        As :func:`limiting_reactant`.
    EquationError
        Likewise, and if there is no such product.

    Examples
    --------
    >>> n_mol = 1.274 / molar_mass("CuSO4")
    >>> made = theoretical_yield("CuSO4 + Zn -> Cu + ZnSO4", {"CuSO4": n_mol}, "Cu")
    >>> print(f"{nominal(made.mass_g):.4f} g")
    0.5072 g
    """
    limiting = limiting_reactant(reaction, amounts_mol)
    ratio: Fraction = limiting.reaction.ratio(product, limiting.species)
    amount = (
        entry.quantity("amount", amounts_mol[limiting.species])
        * ratio.numerator
        / ratio.denominator
    )
    return TheoreticalYield(product, amount, amount * molar_mass(product), limiting)
