"""Making up and diluting solutions, and which glassware is good enough for it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from .balance import Balance
from .concentrations import KnownConcentration
from .dilution import Dilution, Stage, dilute
from .errors import ModelError
from .glassware import VolumetricFlask
from .graduated import GraduatedCylinder
from .recipe import Recipe, prepare_solution
from .solubility import Solubility, concentrated, solubility
from .solution_parts import check_positive, percent, standard_sizes

__all__ = [
    "Comparison",
    "Dilution",
    "Recipe",
    "Solubility",
    "Stage",
    "Way",
    "concentrated",
    "dilute",
    "dilutions_by_glassware",
    "good_enough",
    "prepare_solution",
    "recipes_by_glassware",
    "solubility",
    "standard_sizes",
]

_CLASSES = (("cylinder", "B"), ("cylinder", "A"), ("flask", "B"), ("flask", "A"))


@dataclass(frozen=True, slots=True)
class Way:
    """One way to make a solution, compared with others.

    Attributes
    ----------
    name, glassware : str
    relative_uncertainty : float
        Relative standard uncertainty of the concentration.
    reaches : bool
        Whether that is no more than the one required.
    limited_by : str
        What contributes most to it.
    """

    name: str
    glassware: str
    relative_uncertainty: float
    reaches: bool
    limited_by: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Ways to make a solution, side by side.

    Attributes
    ----------
    relative_target : float
        Relative standard uncertainty required.
    ways : tuple of Way
        In the order given: simplest first, if the reader listed them so.
    """

    relative_target: float
    ways: tuple[Way, ...]

    @property
    def first(self) -> Way | None:
        """The first way that reaches the target, or None."""
        return next((way for way in self.ways if way.reaches), None)

    @property
    def sentence(self) -> str:
        """The answer in words."""
        goal = percent(self.relative_target)
        if self.first is not None:
            return (
                f"{self.first.name} is good enough: {percent(self.first.relative_uncertainty)} "
                f"against the {goal} required."
            )
        best = min(self.ways, key=lambda way: way.relative_uncertainty)
        return (
            f"None of these reaches {goal}. The best, {best.name}, comes to "
            f"{percent(best.relative_uncertainty)}, limited by {best.limited_by}."
        )


def good_enough(recipes: Mapping[str, Recipe | Dilution], relative_target: float) -> Comparison:
    """Say which ways of making a solution reach a required relative uncertainty.

    Parameters
    ----------
    recipes : mapping of name to Recipe or Dilution
        Simplest first; see :func:`recipes_by_glassware` and :func:`dilutions_by_glassware`.
    relative_target : float > 0
        Relative standard uncertainty required, e.g. 0.002 for 0.2 %.

    Returns
    -------
    Comparison

    Raises
    ------
    ModelError
        If there is nothing to compare or the target is not above 0.

    Examples
    --------
    >>> found = good_enough(recipes_by_glassware("AgNO3", 0.1, 100), 0.005)
    >>> [way.name for way in found.ways if way.reaches]
    ['volumetric flask, class B', 'volumetric flask, class A']
    >>> print(found.sentence)
    volumetric flask, class B is good enough: 0.49 % against the 0.50 % required.
    """
    target = check_positive("relative uncertainty required", relative_target)
    if not recipes:
        raise ModelError("There is nothing to compare.", allowed="at least one recipe")
    return Comparison(
        target,
        tuple(
            Way(
                name,
                made.glassware,
                made.relative_uncertainty,
                made.relative_uncertainty <= target,
                made.limited_by,
            )
            for name, made in recipes.items()
        ),
    )


def recipes_by_glassware(
    solute: str,
    concentration_mol_per_L: float,
    volume_mL: float,
    *,
    purity: float = 1.0,
    purity_half_width: float = 0.0,
    balance: Balance | None = None,
) -> dict[str, Recipe]:
    """Return recipes for one solution with each kind of glassware made in that size.

    Parameters
    ----------
    solute, concentration_mol_per_L, purity, purity_half_width, balance
        As for :func:`prepare_solution`.
    volume_mL : float
        A standard size, so that every kind makes the same volume.

    Returns
    -------
    dict of str to Recipe
        Measuring cylinder, then volumetric flask, class B before class A.

    Raises
    ------
    ModelError
        If nothing is made in this size, or a figure cannot be used.

    Examples
    --------
    >>> for name, recipe in recipes_by_glassware("NaCl", 0.5, 250).items():
    ...     print(f"{name}: {100 * recipe.relative_uncertainty:.2f} %")
    cylinder, class B: 0.38 %
    cylinder, class A: 0.26 %
    volumetric flask, class B: 0.13 %
    volumetric flask, class A: 0.12 %
    """
    found = {}
    for kind, glass_class in _CLASSES:
        if volume_mL in standard_sizes(kind, glass_class):
            made = VolumetricFlask if kind == "flask" else GraduatedCylinder
            piece = made(capacity_mL=float(volume_mL), glass_class=glass_class)
            found[f"{piece.noun}, class {glass_class}"] = prepare_solution(
                solute,
                concentration_mol_per_L,
                volume_mL,
                purity=purity,
                purity_half_width=purity_half_width,
                flask=piece,
                balance=balance,
            )
    if not found:
        sizes = sorted({*standard_sizes("flask"), *standard_sizes("cylinder")})
        raise ModelError(
            "No glassware is made in this size.",
            given=f"{volume_mL:g} mL",
            allowed=", ".join(f"{size:g}" for size in sizes) + " mL",
        )
    return found


def dilutions_by_glassware(
    stock: KnownConcentration | Recipe | Dilution,
    target_mol_per_L: float,
    *,
    volume_mL: float = 100.0,
) -> dict[str, Dilution]:
    """Return dilutions of one stock solution with each kind of glassware.

    Parameters
    ----------
    stock, target_mol_per_L, volume_mL
        As for :func:`dilute`.

    Returns
    -------
    dict of str to Dilution
        Measuring cylinders, then pipette and flask, class B before class A.

    Raises
    ------
    ModelError
        As :func:`dilute`.

    Examples
    --------
    >>> stock = KnownConcentration(mol_per_L=1.0, half_width_mol_per_L=0.0005)
    >>> found = good_enough(dilutions_by_glassware(stock, 0.1), 0.0015)
    >>> [way.name for way in found.ways if way.reaches]
    ['pipette and flask, class A']
    """
    return {
        f"{words}, class {glass_class}": dilute(
            stock, target_mol_per_L, volume_mL=volume_mL, glassware=kind, glass_class=glass_class
        )
        for kind, words in (("cylinder", "cylinders"), ("pipette", "pipette and flask"))
        for glass_class in ("B", "A")
    }
