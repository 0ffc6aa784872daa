"""Diluting a stock solution with standard glassware; which glassware is good enough."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product

from ..errors import ModelError
from ..measurement.base import show
from ..measurement.concentration import Stock
from ..measurement.displays import Balance
from ..measurement.glassware import Glassware, GraduatedCylinder, Pipette, VolumetricFlask
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Number, format_number, nominal
from .recipes import (
    Made,
    Recipe,
    filled,
    none_holds,
    percent,
    prepare_solution,
    smallest_cylinder,
    standard_sizes,
    typed,
)

_ACID_RULE = (
    "An acid goes into the water, slowly, with stirring, never the other way round; let the "
    "solution cool to 20 °C before it is filled to the mark. Wear eye protection and gloves."
)
_STRONG_MOL_PER_L = 1.0
_BURNS_MOL_PER_L = 0.8
"""Acids from here on may burn the skin: 5 % nitric acid (Regulation (EC) 1272/2008; memory)."""
_EXACT = 1e-9
_WORTH_SAYING = 0.001
_SMALL_PIPETTE_ML = 5.0


@dataclass(frozen=True, slots=True)
class Stage:
    """One step of a dilution: a volume of the stronger solution made up to a larger one."""

    taken_mL: float
    made_mL: float
    measure: Pipette | GraduatedCylinder
    vessel: VolumetricFlask | GraduatedCylinder

    @property
    def factor(self) -> float:
        """Concentration after over concentration before."""
        return self.taken_mL / self.made_mL


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Dilution(Made):
    """How to dilute a stock solution.

    Attributes
    ----------
    stock : str
        The stock solution in words.
    stock_mol_per_L : number
        Its concentration.
    target_mol_per_L : float
        The concentration asked for.
    stages : tuple of Stage
        One or two steps.
    concentration_mol_per_L : uncertain number
        What results; it shares the errors of the stock solution.
    cautions : tuple of str
    """

    stock: str
    stock_mol_per_L: Number
    target_mol_per_L: float
    stages: tuple[Stage, ...]
    concentration_mol_per_L: Number
    cautions: tuple[str, ...]

    @property
    def volume_mL(self) -> float:
        """Volume of the diluted solution."""
        return self.stages[-1].made_mL

    def strength(self) -> tuple[str, Number]:
        """Return what was diluted, and the concentration it has now."""
        return self.stock, self.concentration_mol_per_L

    @property
    def pieces(self) -> tuple[Glassware, ...]:
        """What measures and what is filled, in each step."""
        return tuple(piece for stage in self.stages for piece in (stage.measure, stage.vessel))

    @property
    def steps(self) -> tuple[str, ...]:
        """What to do, one sentence each."""
        said = []
        source = self.stock
        for stage in self.stages:
            m, v = stage.measure, stage.vessel
            vessel = f"{show(v.capacity_mL)} mL {v.noun} (class {v.glass_class})"
            strong = source == self.stock and nominal(self.stock_mol_per_L) >= _STRONG_MOL_PER_L
            said.append(
                f"Put about {show(0.4 * stage.made_mL)} mL of pure water into "
                f"{'a heat-proof beaker' if strong else f'the {vessel}'}."
            )
            rinse = f"rinse it into the {vessel}, " if strong else ""
            said.append(
                f"Measure {show(stage.taken_mL)} mL of {source} with the "
                f"{show(m.capacity_mL)} mL {m.noun} (class {m.glass_class}), add it slowly to the "
                f"water, let it come to 20 °C, {rinse}fill to the {show(stage.made_mL)} mL mark "
                "and mix."
            )
            source = "the solution just made"
        said.append(
            f"Label it: solute, {format_number(self.concentration_mol_per_L, unit='mol/L')}, "
            "date, hazards."
        )
        return tuple(said)


def dilute(
    stock: Stock,
    target_mol_per_L: float,
    *,
    volume_mL: float = 100.0,
    glassware: str = "pipette",
    glass_class: str = "A",
    closeness: float = 0.01,
) -> Dilution:
    """Say how to dilute a stock solution with glassware of standard sizes.

    With a pipette, the fewest steps that come within ``closeness`` of the target are taken;
    among those the closest, then the smallest volume, rather without pipettes below 5 mL.

    Parameters
    ----------
    stock : KnownConcentration, Recipe or Dilution
        What is diluted.
    target_mol_per_L : float > 0
        Concentration wanted, below that of the stock.
    volume_mL : float > 0
        Least volume to make.
    glassware : "pipette" or "cylinder"
        One-mark pipette and volumetric flask, or two measuring cylinders.
    glass_class : "A" or "B"
    closeness : float > 0, < 1
        Largest relative departure from the target that will do.

    Raises
    ------
    ModelError
        If the stock is not stronger than the target, or no standard sizes will do; the message
        names the nearest concentration that can be made.

    Examples
    --------
    >>> from stoichkit.measurement.concentration import KnownConcentration
    >>> stock = KnownConcentration(mol_per_L=0.1, half_width_mol_per_L=0.0001, name="stock")
    >>> found = dilute(stock, 0.01)
    >>> found.glassware
    '10 mL pipette, class A; 100 mL volumetric flask, class A'
    >>> format_number(found.concentration_mol_per_L, unit="mol/L")
    '0.010000 ± 0.000014 mol/L'
    >>> [stage.factor for stage in dilute(stock, 0.00001).stages]
    [0.002, 0.05]
    """
    target = entry.number("target_mol_per_L", target_mol_per_L, above=0)
    volume = entry.number("volume_mL", volume_mL, above=0)
    entry.choice("glassware", glassware, ("pipette", "cylinder"))
    entry.choice("glass_class", glass_class, ("A", "B"))
    closeness = entry.number("closeness", closeness, above=0, below=1)
    name, concentration = entry.record("stock", stock, Stock).strength()
    strength = nominal(concentration)
    if not target < strength:
        raise ModelError(
            "Diluting makes a solution weaker.",
            given=f"{target:g} mol/L from {strength:.4g} mol/L",
            allowed="a target below the stock",
            fix="Make up a stronger stock solution.",
        )
    if glassware == "cylinder":
        stages = _cylinders(target / strength, volume, glass_class)
    else:
        stages = _pipettes(target / strength, volume, glass_class, closeness, strength)
    return Dilution(
        stock=name,
        stock_mol_per_L=concentration,
        target_mol_per_L=target,
        stages=stages,
        concentration_mol_per_L=concentration * _factor(stages),
        cautions=tuple(_cautions(stages, strength, target, stock.may_be_acid)),
    )


def _factor(stages: tuple[Stage, ...]) -> Number:
    """Return the dilution factor; one piece used twice keeps its one tolerance error."""
    pool = ErrorPool()
    factor: Number = 1.0
    for i, stage in enumerate(stages, start=1):
        taken = filled(stage.measure, stage.taken_mL, f"measured volume {i}", pool)
        made = filled(stage.vessel, stage.made_mL, f"volume made {i}", pool)
        factor = factor * taken / made
    return factor


def _cylinders(ratio: float, volume_mL: float, glass_class: str) -> tuple[Stage, ...]:
    vessel = smallest_cylinder(volume_mL, glass_class)
    largest = max(standard_sizes("cylinder", glass_class))
    if vessel is None:
        raise none_holds("measuring cylinder", volume_mL, f"{show(largest)} mL")
    made = typed(volume_mL, vessel.readability).value
    measure = smallest_cylinder(ratio * made, glass_class)
    assert measure is not None  # it is no larger than the vessel
    taken = typed(ratio * made, measure.readability).value
    if taken < 10 * measure.readability:
        raise ModelError(
            "The volume to measure is too small for a measuring cylinder.",
            given=f"{ratio * made:.2g} mL",
            allowed=f"{show(10 * measure.readability)} mL or more",
            fix="Use a pipette, or make more.",
        )
    return (Stage(taken, made, measure, vessel),)


def _options(volume_mL: float, glass_class: str) -> Iterator[Stage]:
    for pipette, flask in product(
        standard_sizes("pipette", glass_class), standard_sizes("flask", glass_class)
    ):
        if pipette < flask >= volume_mL:
            yield Stage(
                pipette,
                flask,
                Pipette(capacity_mL=pipette, glass_class=glass_class),
                VolumetricFlask(capacity_mL=flask, glass_class=glass_class),
            )


def _pipettes(
    ratio: float, volume_mL: float, glass_class: str, closeness: float, strength: float
) -> tuple[Stage, ...]:
    last = list(_options(volume_mL, glass_class))
    if not last:
        largest = max(standard_sizes("flask", glass_class))
        raise none_holds("volumetric flask", volume_mL, f"{show(largest)} mL")
    ones = [(stage,) for stage in last]
    found = _best(ones, ratio, closeness)
    if found is None:
        twos = [
            (first, second)
            for first, second in product(_options(0.0, glass_class), last)
            if second.taken_mL < first.made_mL
        ]
        found = _best(twos, ratio, closeness)
        if found is None:
            nearest = min((*ones, *twos), key=lambda stages: abs(_ratio(stages) / ratio - 1))
            raise ModelError(
                "No standard pipettes and flasks make this concentration in one or two steps.",
                given=f"{ratio * strength:.4g} mol/L",
                allowed=f"the nearest is {_ratio(nearest) * strength:.4g} mol/L",
                fix="Choose that, allow a larger departure (closeness), or use a burette.",
            )
    return found


def _ratio(stages: tuple[Stage, ...]) -> float:
    return math.prod(stage.factor for stage in stages)


def _best(
    options: Sequence[tuple[Stage, ...]], ratio: float, closeness: float
) -> tuple[Stage, ...] | None:
    """Return the closest option that makes least, rather without the smallest pipettes."""
    off = [abs(_ratio(stages) / ratio - 1) for stages in options]
    if not off or min(off) > closeness:
        return None
    closest = [s for s, d in zip(options, off, strict=True) if d <= min(off) + _EXACT]

    def cost(stages: tuple[Stage, ...]) -> tuple[float, int, float]:
        small = sum(s.taken_mL < _SMALL_PIPETTE_ML for s in stages)
        return stages[-1].made_mL, small, sum(s.made_mL for s in stages)

    return min(closest, key=cost)


def _cautions(
    stages: tuple[Stage, ...], strength: float, target: float, acid_like: bool
) -> Iterator[str]:
    if acid_like and strength >= _BURNS_MOL_PER_L:
        yield _ACID_RULE
    if any(isinstance(stage.measure, Pipette) for stage in stages):
        yield "Never pipette by mouth: use a pipette filler."
    off = _ratio(stages) * strength / target - 1
    if abs(off) > _WORTH_SAYING:
        yield f"The sizes make {percent(abs(off))} {'more' if off > 0 else 'less'} than asked for."


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


def good_enough(recipes: Mapping[str, Made], relative_target: float) -> Comparison:
    """Say which ways of making a solution reach a required relative uncertainty.

    Parameters
    ----------
    recipes : mapping of name to Recipe or Dilution
        Simplest first; see :func:`recipes_by_glassware` and :func:`dilutions_by_glassware`.
    relative_target : float > 0
        Relative standard uncertainty required, e.g. 0.002 for 0.2 %.

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
    target = entry.number("relative_target", relative_target, above=0)
    entry.mapping("recipes", recipes, "{name: recipe or dilution}")
    for name, made in recipes.items():
        entry.record(f"recipe {name}", made, Recipe, Dilution)
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
    """Return recipes for one solution with each kind of glassware made in that size."""
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
    stock: Stock,
    target_mol_per_L: float,
    *,
    volume_mL: float = 100.0,
) -> dict[str, Dilution]:
    """Return dilutions of one stock solution with each kind of glassware."""
    return {
        f"{words}, class {glass_class}": dilute(
            stock, target_mol_per_L, volume_mL=volume_mL, glassware=kind, glass_class=glass_class
        )
        for kind, words in (("cylinder", "cylinders"), ("pipette", "pipette and flask"))
        for glass_class in ("B", "A")
    }
