"""The parts of a bench plan that its modules share."""

from __future__ import annotations

from dataclasses import dataclass

from .amounts import MassByDifference
from .balance import Balance
from .experiment import Experiment
from .instrument_base import show
from .solutions import Dilution, Recipe

__all__ = ["RESERVE", "Check", "Lab", "Reagent", "balance_of", "loses_mass"]

RESERVE = 1.1
"""What is got ready for a class, over what its trials take."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lab:
    """What the reagents follow from.

    Attributes
    ----------
    experiment : Experiment
    consumed_mol : float
        Amount of the consumed species to react in each trial.
    excess : float
        Reagents in excess are taken this many times over.
    runs : int
        Trials of all groups together.
    """

    experiment: Experiment
    consumed_mol: float
    excess: float
    runs: int


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


def loses_mass(model: MassByDifference, experiment: Experiment) -> bool:
    """Say whether the amount is what one piece lost: the heavier weighing comes first.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> loses_mass(lab.consumed, lab), loses_mass(lab.produced, lab)
    (True, False)
    """
    order = experiment.reading_names()
    return bool(model.lighter) and order.index(model.heavier) < order.index(model.lighter)


def balance_of(experiment: Experiment) -> Balance | None:
    """Return the finest balance of the record, or None.

    >>> from stoichkit import experiments
    >>> balance_of(experiments.load("tin-oxide")).readability_g
    0.001
    """
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
        """The outcome in a word.

        >>> Check("balance", None, "Its capacity is not stated.").mark
        'not known'
        """
        if self.passed is None:
            return "not known"
        return "ok" if self.passed else "LOOK"
