"""How each reactant of an equation comes to the bench: as which solid, solution or gas."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction

from .cautions import base_formula, cautions_for
from .errors import ExperimentError, FormulaError
from .formula import parse_formula
from .solubility import concentrated, solubility
from .solution_parts import check_positive

__all__ = [
    "AIR",
    "SOLID",
    "SOLUTION",
    "Supply",
    "default_supply",
    "find_supply",
    "supplies_by_species",
]

SOLUTION, SOLID, AIR = "solution", "solid", "air"
_FORMS = (SOLUTION, SOLID, AIR)

_IONS: Mapping[str, tuple[str, int, float]] = {
    "Ag^+": ("AgNO3", 1, 0.1),
    "Ba^2+": ("BaCl2.2H2O", 1, 0.1),
    "Br^-": ("KBr", 1, 0.1),
    "C2O4^2-": ("Na2C2O4", 1, 0.05),
    "CO3^2-": ("Na2CO3", 1, 0.1),
    "Ca^2+": ("CaCl2.2H2O", 1, 0.1),
    "Cl^-": ("NaCl", 1, 0.1),
    "Co^2+": ("CoCl2.6H2O", 1, 0.1),
    "Cr2O7^2-": ("K2Cr2O7", 1, 0.02),
    "CrO4^2-": ("K2CrO4", 1, 0.1),
    "Cu^+": ("CuSO4.5H2O", 1, 0.5),
    "Cu^2+": ("CuSO4.5H2O", 1, 0.5),
    "Fe^2+": ("FeSO4.7H2O", 1, 0.2),
    "Fe^3+": ("FeCl3.6H2O", 1, 0.2),
    "H^+": ("HCl", 1, 2.0),
    "I^-": ("KI", 1, 0.1),
    "Mg^2+": ("MgSO4.7H2O", 1, 0.1),
    "MnO4^-": ("KMnO4", 1, 0.02),
    "Ni^2+": ("NiSO4.6H2O", 1, 0.2),
    "OH^-": ("NaOH", 1, 0.1),
    "Pb^2+": ("Pb(NO3)2", 1, 0.1),
    "S2O3^2-": ("Na2S2O3.5H2O", 1, 0.1),
    "SO4^2-": ("Na2SO4", 1, 0.1),
    "Sn^2+": ("SnCl2.2H2O", 1, 0.1),
    "Zn^2+": ("ZnSO4.7H2O", 1, 0.5),
}
"""Usual salt for each ion, ions in it, usual concentration in mol/L; common practice, no source.

Copper(I) is not kept in water: a bath that might discharge it is made from the copper(II) salt.
"""

_GASES_OF_AIR = ("O2", "N2", "CO2")
_WEAK_MOL_PER_L = 0.1
_ACID_MOL_PER_L = 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Supply:
    """How one reactant comes to the bench.

    Parameters
    ----------
    species : str
        The reactant as the equations name it, e.g. ``"Ag^+"``.
    solute : str
        What is taken: formula of the solid, or of what is dissolved.
    form : str
        ``"solution"``, ``"solid"`` or ``"air"`` (taken up from the air, not measured).
    units : int or Fraction
        Moles of the species for each mole of solute, above 0.
    concentration_mol_per_L : float > 0
        Of the solution, in moles of solute.

    Raises
    ------
    ExperimentError
        If a field cannot be used.
    FormulaError
        If a formula cannot be read.

    Examples
    --------
    >>> Supply(species="Ag^+", solute="AgNO3", concentration_mol_per_L=0.15).words
    'silver nitrate solution, 0.15 mol/L'
    """

    species: str
    solute: str
    form: str = SOLUTION
    units: Fraction | int = 1
    concentration_mol_per_L: float = _WEAK_MOL_PER_L

    def __post_init__(self) -> None:
        parse_formula(self.species)
        parse_formula(self.solute)
        if self.form not in _FORMS:
            raise ExperimentError(
                "The form of a supply is not known.",
                field="form",
                given=self.form,
                allowed=", ".join(_FORMS),
            )
        exact = isinstance(self.units, int | Fraction) and not isinstance(self.units, bool)
        if not exact or self.units <= 0:
            raise ExperimentError(
                "The moles of the species for each mole of solute cannot be used.",
                field="units",
                given=self.units,
                allowed="a whole number or a Fraction above 0",
            )
        check_positive("concentration of a supply in mol/L", self.concentration_mol_per_L)

    @property
    def name(self) -> str:
        """Name of what is taken, or its formula where no name is known here."""
        known = cautions_for(self.solute)
        return known.name if known.known else parse_formula(self.solute).unicode()

    @property
    def words(self) -> str:
        """What stands on the bench, in words."""
        if self.form == AIR:
            return f"{self.name}, from the air or from what gives it off"
        if self.form == SOLID:
            formula = parse_formula(self.solute).unicode()
            return self.name if self.name == formula else f"{self.name}, {formula}"
        solution = "" if self.name.endswith(("acid", "solution")) else " solution"
        return f"{self.name}{solution}, {self.concentration_mol_per_L:g} mol/L"

    @property
    def key(self) -> tuple[str, str, float]:
        """Reactants with the same key come from one bottle."""
        c = self.concentration_mol_per_L if self.form == SOLUTION else 0.0
        return base_formula(self.solute), self.form, c


def _plain(species: str) -> str:
    formula = parse_formula(species)
    return formula.plain().removesuffix(f"({formula.state})" if formula.state else "")


def default_supply(species: str) -> Supply:
    """Return the usual way a reactant comes to the bench.

    An ion comes as the solution of a usual salt, an acid as a 2 mol/L solution, a salt that
    dissolves well as a 0.1 mol/L solution, a gas of the air from the air, all else as a solid.

    Parameters
    ----------
    species : str
        A neutral species, or one of the usual ions.

    Raises
    ------
    ExperimentError
        If no usual salt is known for an ion.
    FormulaError
        If the species cannot be read.

    Examples
    --------
    >>> default_supply("H^+").words
    'hydrochloric acid, 2 mol/L'
    >>> default_supply("CuCl2").form, default_supply("Zn").form, default_supply("O2").form
    ('solution', 'solid', 'air')
    """
    plain = _plain(species)
    if plain in _IONS:
        solute, units, c = _IONS[plain]
        return Supply(species=species, solute=solute, units=units, concentration_mol_per_L=c)
    formula = parse_formula(species)
    if formula.charge:
        raise ExperimentError(
            f"No usual salt is known here for {formula.unicode()}.",
            field="supplies",
            given=species,
            fix=f'Say what it comes from: supplies=[Supply(species="{species}", solute="…")].',
        )
    if plain in _GASES_OF_AIR:
        return Supply(species=species, solute=plain, form=AIR)
    if concentrated(plain) is not None:
        return Supply(species=species, solute=plain, concentration_mol_per_L=_ACID_MOL_PER_L)
    dissolves = solubility(plain, _WEAK_MOL_PER_L).dissolves and not formula.hydrate_waters
    return Supply(species=species, solute=plain, form=SOLUTION if dissolves else SOLID)


def supplies_by_species(supplies: Iterable[Supply]) -> dict[str, Supply]:
    """Return supplies by the plain spelling of their species.

    Raises
    ------
    ExperimentError
        If something is not a Supply, or a species comes twice.

    Examples
    --------
    >>> list(supplies_by_species([default_supply("Ag+")]))
    ['Ag^+']
    """
    found: dict[str, Supply] = {}
    for supply in supplies:
        if not isinstance(supply, Supply):
            raise ExperimentError(
                "This does not say how a reactant comes to the bench.",
                field="supplies",
                given=supply,
                allowed="Supply(species=…, solute=…)",
            )
        plain = _plain(supply.species)
        if plain in found:
            raise ExperimentError(
                "One reactant has two supplies.", field="supplies", given=supply.species
            )
        found[plain] = supply
    return found


def find_supply(species: str, known: Mapping[str, Supply]) -> Supply | None:
    """Return the stated supply of a species, else the usual one, else None for a strange ion.

    >>> find_supply("Cl^-", {}).solute, find_supply("Tl^+", {})
    ('NaCl', None)
    """
    plain = _plain(species)
    if plain in known:
        return known[plain]
    try:
        return default_supply(species)
    except (ExperimentError, FormulaError):
        return None
