"""Amounts from weighing: mass by difference, precipitate, and the check for constant mass."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from ..chemistry.elements import molar_mass
from ..errors import ExperimentError
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import Number
from .base import (
    AmountModel,
    Role,
    Step,
    check_factor,
    check_pair,
    check_purity,
    check_text,
    difference,
    purity_factor,
    show,
    times,
)
from .displays import Balance

__all__ = ["ConstantMass", "MassByDifference", "Precipitate", "constant_mass"]


def _weighing_roles(
    heavier: str, lighter: str, instrument: str, vessel: str | None, repeated: tuple[str, ...]
) -> tuple[Role, ...]:
    """Return the roles of one or two weighings; two share the vessel that stays on the pan."""
    group = (lighter if vessel is None else vessel) if lighter else (vessel or "")
    return tuple(
        Role(
            name=name,
            instrument=instrument,
            quantity="mass",
            unit="g",
            vessel_group=group,
            repeated=name in repeated,
        )
        for name in (heavier, lighter)
        if name
    )


def _check_repeated(repeated: object, heavier: str, lighter: str) -> None:
    known = tuple(name for name in (heavier, lighter) if name)
    if not isinstance(repeated, tuple) or not all(name in known for name in repeated):
        raise ExperimentError(
            "Only a reading of this amount can be repeated.",
            field="repeated",
            given=repeated,
            allowed=", ".join(known),
        )


def _mass_step(values: Mapping[str, Number], what: str, heavier: str, lighter: str) -> Step:
    formula = f"{heavier} − {lighter}" if lighter else heavier
    return Step(f"m({what})", f"mass of {what}", formula, difference(values, heavier, lighter), "g")


@dataclass(frozen=True, slots=True, kw_only=True)
class MassByDifference(AmountModel):
    """Amount from two weighings: n = (heavier − lighter) · purity / M.

    Serves for before/after, gross/tare and heating to constant mass.

    Parameters
    ----------
    species : str
        Formula of the substance the mass consists of, e.g. ``"H2O"`` for water driven off.
    heavier, lighter : str
        Names of the readings; ``lighter=""`` when the balance was tared to zero.
    instrument : str
        Name of the balance.
    vessel : str or None
        Name of what stays on the pan in both weighings; weighings in several amounts that are
        made in one vessel need the same name. None: named after the lighter reading.
    repeated : tuple of str
        Readings repeated to constant mass; the last one counts.
    purity, purity_half_width : float
        Mass fraction of the species, 0 to 1, and its half-width (rectangular).

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> model = MassByDifference(species="Cu", heavier="before", lighter="after")
    >>> round(nominal(model.amount({"before": 2.300, "after": 1.665}, ErrorPool())), 5)
    0.00999
    >>> [step.formula for step in model.explain({"before": 2.300, "after": 1.665})]
    ['before − after', '', 'm(Cu) / M(Cu)']
    """

    species: str
    heavier: str
    lighter: str = ""
    instrument: str = "balance"
    vessel: str | None = None
    repeated: tuple[str, ...] = ()
    purity: float = 1.0
    purity_half_width: float = 0.0

    def __post_init__(self) -> None:
        check_text(self, species=self.species, heavier=self.heavier, instrument=self.instrument)
        check_pair("heavier", self.heavier, "lighter", self.lighter)
        if self.vessel is not None:
            entry.text("vessel", self.vessel, error=ExperimentError)
        _check_repeated(self.repeated, self.heavier, self.lighter)
        check_purity(self)

    def roles(self) -> tuple[Role, ...]:
        """Return the two weighings, or the one if the balance was tared."""
        return _weighing_roles(
            self.heavier, self.lighter, self.instrument, self.vessel, self.repeated
        )

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        s = self.species
        mass = _mass_step(values, s, self.heavier, self.lighter)
        steps, product, formula = [mass], mass.value, f"m({s})"
        if (self.purity, self.purity_half_width) != (1, 0):
            purity = purity_factor(pool, self, s, self.purity, self.purity_half_width)
            steps.append(Step(f"w({s})", f"mass fraction of {s}", "", purity, ""))
            product, formula = product * purity, f"{formula} × w({s})"
        molar = molar_mass(s)
        steps.append(Step(f"M({s})", f"molar mass of {s}", "", molar, "g/mol"))
        steps.append(
            Step(f"n({s})", f"amount of {s}", f"{formula} / M({s})", product / molar, "mol")
        )
        return tuple(steps)


@dataclass(frozen=True, slots=True, kw_only=True)
class Precipitate(AmountModel):
    """Amount of a species from the mass of its precipitate: n = factor · m / M(precipitate).

    Parameters
    ----------
    species : str
        What was precipitated, e.g. ``"Cl^-"``.
    precipitate : str
        Formula of the solid weighed, e.g. ``"AgCl"``.
    heavier, lighter : str
        Names of the readings; ``lighter=""`` when the balance was tared to zero.
    factor : Fraction or int
        Moles of the species for each mole of precipitate.
    instrument, vessel, repeated
        As for :class:`MassByDifference`.

    Raises
    ------
    ExperimentError
        If a field cannot be used.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import ErrorPool
    >>> from stoichkit.uncertainty.sources import nominal
    >>> model = Precipitate(species="Cl^-", precipitate="AgCl", heavier="dry solid")
    >>> round(nominal(model.amount({"dry solid": 1.0881}, ErrorPool())), 6)
    0.007592
    """

    species: str
    precipitate: str
    heavier: str
    lighter: str = ""
    factor: Fraction | int = 1
    instrument: str = "balance"
    vessel: str | None = None
    repeated: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        check_text(
            self,
            species=self.species,
            precipitate=self.precipitate,
            heavier=self.heavier,
            instrument=self.instrument,
        )
        check_pair("heavier", self.heavier, "lighter", self.lighter)
        if self.vessel is not None:
            entry.text("vessel", self.vessel, error=ExperimentError)
        _check_repeated(self.repeated, self.heavier, self.lighter)
        check_factor(self)

    def roles(self) -> tuple[Role, ...]:
        """Return the two weighings, or the one if the balance was tared."""
        return _weighing_roles(
            self.heavier, self.lighter, self.instrument, self.vessel, self.repeated
        )

    def _steps(self, values: Mapping[str, Number], pool: ErrorPool) -> tuple[Step, ...]:
        del pool
        s, solid = self.species, self.precipitate
        mass = _mass_step(values, solid, self.heavier, self.lighter)
        molar = molar_mass(solid)
        return (
            mass,
            Step(f"M({solid})", f"molar mass of {solid}", "", molar, "g/mol"),
            Step(
                f"n({s})",
                f"amount of {s}",
                f"m({solid}) / M({solid}){times(self.factor)}",
                mass.value / molar * float(self.factor),
                "mol",
            ),
        )


@dataclass(frozen=True, slots=True)
class ConstantMass:
    """Whether repeated weighings have settled.

    Attributes
    ----------
    reached : bool
        Whether the last two weighings agree within ``limit_g``.
    change_g : float
        Last weighing less the one before.
    limit_g : float
        Change the balance cannot tell from none: the larger of one step and twice the standard
        uncertainty of a difference (rounding and repeatability).
    sentence : str
        The same in words.
    """

    reached: bool
    change_g: float
    limit_g: float
    sentence: str


def constant_mass(readings: Sequence[Reading], balance: Balance) -> ConstantMass:
    """Say whether the last two weighings agree within what the balance resolves.

    Parameters
    ----------
    readings : sequence of Reading
        Successive weighings in g, two or more.
    balance : Balance

    Raises
    ------
    ExperimentError
        If there are fewer than two readings.

    Examples
    --------
    >>> from stoichkit.uncertainty.readings import parse_number
    >>> weighings = [parse_number(text) for text in ("20.52", "20.36", "20.35")]
    >>> constant_mass(weighings, Balance(readability_g=0.01, repeatability_g=0.0)).sentence
    'Constant mass: the last change, -0.01 g, is within the 0.01 g this balance cannot resolve.'
    """
    if len(readings) < 2:
        raise ExperimentError(
            "Constant mass needs two weighings or more.", given=f"{len(readings)} readings"
        )
    step = balance.readability
    limit = max(step, 2 * math.sqrt(2 * (balance.repeatability**2 + step**2 / 12)))
    change = round(readings[-1].value - readings[-2].value, 12)
    reached = abs(change) <= limit * (1 + 1e-9)
    size = f"{change:+.6g} g"
    sentence = (
        f"Constant mass: the last change, {size}, is within the {limit:.2g} g this balance "
        "cannot resolve."
        if reached
        else f"Not yet constant: the last change, {size}, is more than the {limit:.2g} g this "
        f"balance cannot resolve (steps of {show(step)} g). Heat, cool and weigh again."
    )
    return ConstantMass(reached, change, limit, sentence)
