"""How each reactant comes to the bench, and how much of it each candidate would need.

Also the parts of a bench plan that its modules share.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from .._common import data_table
from ..chemistry.candidates import Candidate
from ..chemistry.equation import Term, parse_equation
from ..chemistry.formula import Formula, parse_formula
from ..errors import ExperimentError, FormulaError
from ..experiments.record import Experiment
from ..measurement.base import show
from ..measurement.displays import Balance
from ..uncertainty import entry
from .dilutions import Dilution
from .reagent_data import base_formula, cautions_for, concentrated, solubility
from .recipes import Recipe

SOLUTION, SOLID, AIR = "solution", "solid", "air"
_FORMS = (SOLUTION, SOLID, AIR)
_GASES_OF_AIR = ("O2", "N2", "CO2")
_WEAK_MOL_PER_L = 0.1
_ACID_MOL_PER_L = 2.0


@lru_cache(maxsize=1)
def usual_salts() -> Mapping[str, tuple[str, int, float]]:
    """Return the usual salt of each ion, ions in it, usual concentration in mol/L."""
    return {
        row["ion"]: (row["salt"], int(row["ions_in_salt"]), float(row["mol_per_L"]))
        for row in data_table("usual_salts.csv")
    }


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
        entry.choice("form", self.form, _FORMS, error=ExperimentError)
        c = entry.number("concentration_mol_per_L", self.concentration_mol_per_L, above=0)
        units = entry.exact("units", self.units, error=ExperimentError)
        entry.kept(self, units=units, concentration_mol_per_L=c)

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


def stateless(formula: Formula) -> str:
    """Write a formula without its state."""
    return formula.plain().removesuffix(f"({formula.state})" if formula.state else "")


def _plain(species: str) -> str:
    return stateless(parse_formula(species))


def default_supply(species: str) -> Supply:
    """Return the usual way a reactant comes to the bench.

    An ion comes as the solution of a usual salt, an acid as a 2 mol/L solution, a salt that
    dissolves well as a 0.1 mol/L solution, a gas of the air from the air, all else as a solid.
    """
    plain = _plain(species)
    if plain in usual_salts():
        solute, units, c = usual_salts()[plain]
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
    """Return supplies by the plain spelling of their species."""
    found: dict[str, Supply] = {}
    for supply in entry.listed("supplies", supplies, Supply, error=ExperimentError):
        plain = _plain(supply.species)
        if plain in found:
            raise ExperimentError(
                "One reactant has two supplies.", field="supplies", given=supply.species
            )
        found[plain] = supply
    return found


def find_supply(species: str, known: Mapping[str, Supply]) -> Supply | None:
    """Return the stated supply of a species, else the usual one, else None for a strange ion."""
    plain = _plain(species)
    if plain in known:
        return known[plain]
    try:
        return default_supply(species)
    except (ExperimentError, FormulaError):
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Needs:
    """What one candidate's equation takes for each mole of the consumed species.

    Partners are moles of each other reactant, by its spelling in the equation. The sample is the
    reactant that gives the consumed species off and the moles of it, where that stands on the
    right (a hydrate that is heated).
    """

    candidate: str
    partners: Mapping[str, Fraction]
    sample: tuple[str, Fraction] | None = None


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


def needs_of(candidate: Candidate, consumed: str) -> Needs | None:
    """Return what a candidate's equation takes for each mole consumed, or None."""
    if not candidate.equation:
        return None
    equation = parse_equation(candidate.equation)
    wanted = parse_formula(candidate.consumed or consumed)
    plain = stateless(wanted)
    left = [term for term in equation.left if stateless(term.formula) == plain]
    right = [term for term in equation.right if stateless(term.formula) == plain]
    if len(left) == 1:
        others = [term for term in equation.left if term is not left[0]]
        return Needs(candidate=candidate.name, partners=_moles(others, left[0]))
    if len(right) == 1:
        return _from_sample(candidate.name, equation.left, right[0], wanted)
    return None


def _moles(terms: Iterable[Term], per: Term) -> dict[str, Fraction]:
    return {stateless(term.formula): Fraction(term.coefficient, per.coefficient) for term in terms}


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
        sample=(
            stateless(holding[0].formula),
            Fraction(holding[0].coefficient, released.coefficient),
        ),
    )


def shared_supplies(
    needs: Iterable[Needs], stated: Mapping[str, Supply]
) -> tuple[SharedSupply, ...]:
    """Return the bottles the partners come from; partners from one bottle are put together."""
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


RESERVE = 1.1
"""What is got ready for a class, over what its trials take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lab:
    """What the reagents follow from: what reacts in a trial, how often, and what is in excess."""

    experiment: Experiment
    consumed_mol: float
    excess: float  # how many times over reagents in excess are taken
    runs: int  # trials of all groups together


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reagent:
    """One reagent on the bench.

    Attributes
    ----------
    name : str
        What is taken, in words.
    formula : str
        Formula by which its hazards are looked up; "" for electric current.
    provides : str
        The reactants of the equations that it provides, in words.
    role : str
        ``"limiting"``, ``"in excess"``, or how its amount is measured.
    needed_mmol : (float, float)
        Least and most that reacts in a trial over the candidates, mmol of solute or solid.
    mass_g, volume_mL : float or None
        To take for each trial.
    concentration_mol_per_L : float or None
        Of the solution.
    measured_with : str
    for_class : str
        For all trials of all groups, with a reserve of a tenth.
    preparation : Recipe, Dilution or None
        How the solution is made up.
    notes : tuple of str
    """

    name: str
    formula: str
    provides: str
    role: str
    needed_mmol: tuple[float, float]
    mass_g: float | None = None
    volume_mL: float | None = None
    concentration_mol_per_L: float | None = None
    measured_with: str
    for_class: str
    preparation: Recipe | Dilution | None = None
    notes: tuple[str, ...] = ()

    @property
    def amount(self) -> str:
        """What to take for each trial, in words."""
        if self.volume_mL is not None:
            return f"{show(float(f'{self.volume_mL:.3g}'))} mL"
        return "" if self.mass_g is None else f"{self.mass_g:.3g} g"


def balance_of(experiment: Experiment) -> Balance | None:
    """Return the finest balance of the record, or None."""
    found = [i for i in experiment.instruments.values() if isinstance(i, Balance)]
    return min(found, key=lambda balance: balance.readability_g) if found else None


@dataclass(frozen=True, slots=True)
class Check:
    """One thing that was checked before the lab.

    Attributes
    ----------
    subject : str
    passed : bool or None
        None: cannot be checked, because a figure is not stated.
    text : str
        What was found, in a sentence.
    """

    subject: str
    passed: bool | None
    text: str

    @property
    def mark(self) -> str:
        """The outcome in a word."""
        if self.passed is None:
            return "not known"
        return "ok" if self.passed else "LOOK"
