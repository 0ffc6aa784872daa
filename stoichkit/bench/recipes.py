"""Making up a solution from a solid: what to weigh, which flask, how well it is known then.

Also what making up and diluting share: standard sizes, and what limits the result.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import ClassVar

from ..chemistry.elements import molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import InstrumentError, ModelError
from ..measurement.base import show
from ..measurement.concentration import PreparedSolution, Stock
from ..measurement.displays import Balance
from ..measurement.glassware import Glassware, GraduatedCylinder, Pipette, VolumetricFlask
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool, Reading
from ..uncertainty.sources import (
    Contribution,
    Number,
    Source,
    budget,
    format_number,
    nominal,
    standard_uncertainty,
)
from .reagent_data import Solubility, cautions_for, heat_caution, solubility

_SIZES_ML = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 250.0, 500.0, 1000.0, 2000.0)
_MADE = {"pipette": Pipette, "flask": VolumetricFlask, "cylinder": GraduatedCylinder}
_PARTS = {"atomic weight": "the molar mass", "purity": "the purity of the solid"}


@lru_cache(maxsize=16)
def standard_sizes(kind: str, glass_class: str = "B") -> tuple[float, ...]:
    """Return the capacities, mL, that are made and have a published tolerance."""
    made = _MADE.get(kind)
    if made is None:
        raise InstrumentError(
            "That kind of glassware is not known here.", given=kind, allowed=", ".join(_MADE)
        )
    found = []
    for size in _SIZES_ML:
        try:
            made(capacity_mL=size, glass_class=glass_class)
        except InstrumentError:
            continue  # not in the table of published tolerances
        found.append(size)
    return tuple(found)


def typed(value: float, step: float) -> Reading:
    """Return the nearest value an instrument with that step can show, as a reading."""
    decimals = len(show(step).partition(".")[2])
    text = f"{round(value / step) * step:.{decimals}f}"
    return Reading(float(text), text, decimals)


def filled(
    piece: Glassware,
    volume_mL: float,
    label: str,
    pool: ErrorPool,
) -> Number:
    """Return the volume measured once with a piece of glassware, mL, with its error sources."""
    reading = typed(volume_mL, piece.readability) if piece.needs_reading else None
    return piece.quantity(reading, name=piece.named, label=label, pool=pool, delivery=label)


def none_holds(piece: str, volume_mL: float, largest: str) -> ModelError:
    """Return the error that no piece of a standard size holds a volume."""
    return ModelError(
        f"No standard {piece} holds this volume.",
        given=f"{show(volume_mL)} mL",
        allowed=f"up to {largest}",
        fix="Make it up in portions.",
    )


def smallest_cylinder(volume_mL: float, glass_class: str = "B") -> GraduatedCylinder | None:
    """Return the smallest standard measuring cylinder that holds a volume, or None."""
    for size in standard_sizes("cylinder", glass_class):
        if volume_mL <= size:
            return GraduatedCylinder(capacity_mL=size, glass_class=glass_class)
    return None


def relative_uncertainty(value: Number) -> float:
    """Return the relative standard uncertainty of a number above 0."""
    return standard_uncertainty(value) / nominal(value)


def three_digits(value: float) -> str:
    """Write a number with three significant digits and no power of ten.

    >>> three_digits(1442.3), three_digits(0.01234), three_digits(19.09)
    ('1440', '0.0123', '19.1')
    """
    return show(float(f"{value:.3g}"))


def percent(relative: float) -> str:
    """Write a relative uncertainty in per cent with two significant digits."""
    if relative <= 0:
        return "0 %"
    places = max(1 - math.floor(math.log10(100 * relative)), 0)
    return f"{100 * relative:.{places}f} %"


def _part(source: Source) -> str:
    if source.kind in _PARTS:
        return _PARTS[source.kind]
    if source.kind == "concentration":
        return "the stock solution"
    text = f"{source.label} {source.reading}"
    return "the weighing" if "boat" in text or "balance" in text else "the glassware"


def limiting_part(value: Number) -> tuple[str, float]:
    """Return what contributes most to the variance of a concentration, and its share."""
    shares: dict[str, float] = {}
    for line in budget(value):
        part = _part(line.source)
        shares[part] = shares.get(part, 0.0) + line.share
    if not shares:
        return "nothing stated", 0.0
    name = max(shares, key=lambda part: shares[part])
    return name, shares[name]


_HEAVIER, _LIGHTER = "boat with the solid", "emptied boat"
_FEW_STEPS = 100


class Made(Stock):
    """A solution that is made up here, with how well its concentration is then known."""

    __slots__ = ()
    concentration_mol_per_L: Number

    @property
    def pieces(self) -> tuple[Glassware, ...]:
        """The glassware, in the order it is used."""
        raise NotImplementedError

    @property
    def glassware(self) -> str:
        """The glassware in words."""
        return "; ".join(piece.named for piece in self.pieces)

    @property
    def budget(self) -> tuple[Contribution, ...]:
        """Uncertainty budget of the concentration, largest first."""
        return budget(self.concentration_mol_per_L)

    @property
    def relative_uncertainty(self) -> float:
        """Relative standard uncertainty of the concentration."""
        return relative_uncertainty(self.concentration_mol_per_L)

    @property
    def limited_by(self) -> str:
        """What contributes most to the uncertainty, with its share of the variance."""
        part, share = limiting_part(self.concentration_mol_per_L)
        return f"{part} ({100 * share:.0f} % of the variance)" if share else part


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Recipe(Made):
    """How to make up a solution by weighing a solid and filling to a mark.

    Attributes
    ----------
    solute : str
        Formula of the solid weighed, as given, with its crystal water.
    target_mol_per_L : float
        The concentration asked for.
    mass_g : float
        Mass to weigh, as the balance shows it.
    balance : Balance
    vessel : VolumetricFlask or GraduatedCylinder
        What is filled to the mark.
    volume_mL : float
        Volume that is made.
    purity, purity_half_width : float
        Mass fraction of the solid that is solute.
    concentration_mol_per_L : uncertain number
        What results when the balance shows exactly ``mass_g``.
    solubility : Solubility
        Whether that much dissolves.
    cautions : tuple of str
    """

    solute: str
    target_mol_per_L: float
    mass_g: float
    balance: Balance
    vessel: VolumetricFlask | GraduatedCylinder
    volume_mL: float
    purity: float
    purity_half_width: float
    concentration_mol_per_L: Number
    solubility: Solubility
    cautions: tuple[str, ...]

    may_be_acid: ClassVar[bool] = False

    def strength(self) -> tuple[str, Number]:
        """Return the solution as a stock, and its concentration."""
        return f"{self.solute} stock", self.concentration_mol_per_L

    @property
    def pieces(self) -> tuple[Glassware, ...]:
        """What is filled to the mark."""
        return (self.vessel,)

    @property
    def steps(self) -> tuple[str, ...]:
        """What to do, one sentence each."""
        step = self.balance.readability_g
        shown = parse_formula(self.solute).unicode()
        return (
            f"Weigh about {typed(self.mass_g, step).text} g of {shown} into a weighing boat and "
            f"write down what the balance shows, to {show(step)} g.",
            f"Tip it into a beaker with about {show(0.6 * self.volume_mL)} mL of pure water; weigh "
            "the emptied boat again.",
            f"Stir until all is dissolved. Let it come to 20 °C, rinse it into the "
            f"{self.glassware}, fill to the {show(self.volume_mL)} mL mark, mix.",
            f"Label it: solute, {format_number(self.concentration_mol_per_L, unit='mol/L')} (from "
            "the mass weighed), date, hazards.",
        )


def prepare_solution(
    solute: str,
    concentration_mol_per_L: float,
    volume_mL: float,
    *,
    purity: float = 1.0,
    purity_half_width: float = 0.0,
    flask: VolumetricFlask | GraduatedCylinder | None = None,
    glass_class: str = "B",
    balance: Balance | None = None,
) -> Recipe:
    """Say how to make up a solution from a solid, and how well its concentration is known then.

    The solid is weighed by difference: boat with the solid, then the emptied boat. The mass is
    rounded to a step of the balance.

    Parameters
    ----------
    solute : str
        Formula of the solid as weighed: ``"CuSO4.5H2O"`` for the hydrate.
    concentration_mol_per_L : float > 0
        Concentration wanted.
    volume_mL : float > 0
        Volume wanted. The flask makes its capacity, which may be more.
    purity, purity_half_width : float
        Mass fraction of the solid that is solute, 0 to 1, and its half-width (rectangular).
    flask : VolumetricFlask or GraduatedCylinder, optional
        What is filled; if left out, the smallest standard flask that holds the volume.
    glass_class : "A" or "B"
        Class of the flask when it is left out.
    balance : Balance, optional
        If left out, one that reads to 0.01 g.

    Raises
    ------
    FormulaError
        If the formula cannot be read.
    ModelError
        If a figure cannot be used, the flask is too small, or the balance too coarse.
    ExperimentError
        If the purity cannot be used.

    Examples
    --------
    >>> recipe = prepare_solution("CuSO4.5H2O", 0.1, 200)
    >>> recipe.mass_g, recipe.glassware
    (4.99, '200 mL volumetric flask, class B')
    >>> format_number(recipe.concentration_mol_per_L, unit="mol/L")
    '0.09993 ± 0.00019 mol/L'
    >>> recipe.limited_by
    'the weighing (76 % of the variance)'
    """
    target = entry.number("concentration_mol_per_L", concentration_mol_per_L, above=0)
    volume = entry.number("volume_mL", volume_mL, above=0)
    entry.choice("glass_class", glass_class, ("A", "B"))
    formula = parse_formula(entry.text("solute", solute))
    if formula.charge:
        raise ModelError(
            "A solid that is weighed has no charge.", given=solute, allowed="a formula like AgNO3"
        )
    balance = (
        Balance(readability_g=0.01)
        if balance is None
        else entry.record("balance", balance, Balance)
    )
    vessel = _flask_for(volume, glass_class) if flask is None else flask
    entry.record("flask", vessel, VolumetricFlask, GraduatedCylinder)
    if volume > vessel.capacity_mL:
        raise ModelError(
            f"The {vessel.noun} is too small.",
            given=f"{show(volume)} mL",
            allowed=f"up to {show(vessel.capacity_mL)} mL",
            fix="Take a larger one, or make it up in portions.",
        )
    made = volume if isinstance(vessel, GraduatedCylinder) else vessel.capacity_mL
    stock = PreparedSolution(
        solute=solute,
        heavier=_HEAVIER,
        lighter=_LIGHTER,
        purity=purity,
        purity_half_width=purity_half_width,
        name="solution",
    )
    ideal_g = target * made / 1000 * molar_mass_value(formula) / stock.purity
    reading = typed(ideal_g, balance.readability_g)
    if reading.value <= 0:
        raise ModelError(
            "The mass to weigh is below one step of this balance.",
            given=f"{ideal_g:.2g} g",
            allowed=f"{show(balance.readability_g)} g or more",
            fix="Make a stronger solution and dilute it, or use a finer balance.",
        )
    concentration = _concentration(stock, reading, balance, vessel, made)
    found = solubility(solute, target)
    return Recipe(
        solute=solute,
        target_mol_per_L=target,
        mass_g=reading.value,
        balance=balance,
        vessel=vessel,
        volume_mL=made,
        purity=stock.purity,
        purity_half_width=stock.purity_half_width,
        concentration_mol_per_L=concentration,
        solubility=found,
        cautions=_cautions(solute, target, concentration, reading.value, balance, found),
    )


def _flask_for(volume_mL: float, glass_class: str) -> VolumetricFlask:
    sizes = standard_sizes("flask", glass_class)
    for size in sizes:
        if size >= volume_mL:
            return VolumetricFlask(capacity_mL=size, glass_class=glass_class)
    largest = f"{show(max(sizes, default=0.0))} mL of class A or B"
    raise none_holds("volumetric flask", volume_mL, largest)


def _concentration(
    stock: PreparedSolution,
    mass: Reading,
    balance: Balance,
    vessel: VolumetricFlask | GraduatedCylinder,
    volume_mL: float,
) -> Number:
    """Return the concentration; the boat's own mass cancels, so it is put at zero."""
    pool = ErrorPool()
    empty = typed(0.0, balance.readability_g)
    values = {
        name: balance.quantity(reading, name="balance", label=name, vessel="boat", pool=pool)
        for name, reading in ((_HEAVIER, mass), (_LIGHTER, empty))
    }
    values[f"flask of {stock.name}"] = filled(vessel, volume_mL, f"{vessel.noun} filling", pool)
    return stock.steps(values, pool)[-1].value


def _cautions(
    solute: str,
    target: float,
    concentration: Number,
    mass_g: float,
    balance: Balance,
    found: Solubility,
) -> tuple[str, ...]:
    known = cautions_for(solute)
    said = list(known.statements)
    said += [*known.precautions, heat_caution(solute), known.note]
    if not found.dissolves:
        said.append(found.sentence)
    if mass_g / balance.readability_g < _FEW_STEPS:
        off = abs(nominal(concentration) / target - 1)
        said.append(
            f"Only {mass_g / balance.readability_g:.0f} steps of the balance are weighed: the "
            f"concentration can be off the round figure by {percent(off)} and is known to "
            f"{percent(relative_uncertainty(concentration))} only. Use the mass read, or a finer "
            "balance."
        )
    if balance.capacity_g is not None and mass_g > balance.capacity_g:
        said.append(
            f"The mass is beyond the capacity of the balance ({show(balance.capacity_g)} g): "
            "weigh it in portions."
        )
    return tuple(text for text in said if text)
