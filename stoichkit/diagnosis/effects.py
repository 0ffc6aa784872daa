"""Physical effects that move a stoichiometry lab: what each does to the readings, and how to check.

An effect is stated as the amount of something (grams of water, of salt, of lost product, or
millilitres of overshot titrant) that makes readings or amounts too large or too small. Which
effects apply say the ways of measuring, which may also bring effects of their own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any

from .._common import data_table
from ..chemistry.elements import element_name, molar_mass_value
from ..chemistry.formula import SYMBOLS, parse_formula
from ..errors import FormulaError, ModelError
from ..experiments.record import Experiment
from ..measurement.base import AmountModel
from ..text.wording import capitalised
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import nominal

OXIDES = {
    "Al": "Al2O3", "Cd": "CdO", "Co": "CoO", "Cu": "CuO", "Fe": "Fe2O3", "Mg": "MgO",
    "Mn": "MnO2", "Ni": "NiO", "Pb": "PbO", "Sn": "SnO2", "Zn": "ZnO",
}  # fmt: skip
"""Usual oxide of metals that take up oxygen when dried in air; common practice, no source."""
NITRIDES = {"Al": "AlN", "Ba": "Ba3N2", "Ca": "Ca3N2", "Li": "Li3N", "Mg": "Mg3N2", "Sr": "Sr3N2"}
"""Nitrides of metals that burn in nitrogen too; common practice, no source."""
_GASES = (("S", "SO3"), ("C", "CO2"))


@dataclass(frozen=True, slots=True)
class Action:
    """What one unit of an effect adds to a reading or to an amount.

    Attributes
    ----------
    side : str
        ``"consumed"`` or ``"produced"``: the amount whose model is meant.
    place : str
        A reading of that model, by its field (``"heavier"``, ``"lighter"``, ``"final"``), changed
        in its own unit wherever it is used; or ``"mass"`` (grams of the species counted as that
        amount) or ``"moles"``.
    per_unit : float
        Change per gram (or mL) of the effect; its sign says too large (+) or too small (−).
    """

    side: str
    place: str
    per_unit: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Effect:
    """One physical effect and its action on the readings.

    Attributes
    ----------
    key : str
        Short name for use in programs.
    name : str
        Plain-language name.
    mechanism : str
        How it disturbs the result, one sentence.
    check : str
        How to find out at the bench.
    applies_to : tuple of str
        Words of :func:`situation` that must all hold.
    actions : tuple of Action
    substance : str
        What the amount is of: a formula, or words.
    unit : str
        ``"g"`` or ``"mL"``, per trial.
    most_per_product, most_per_consumed : float
        Largest grams per gram of product or of consumed substance really there.
    most_reading : str
        The reading that bounds the effect, ``"consumed.lighter"`` or the like; "" for none.
    """

    key: str
    name: str
    mechanism: str
    check: str
    applies_to: tuple[str, ...]
    actions: tuple[Action, ...]
    substance: str = ""
    unit: str = "g"
    most_per_product: float = math.inf
    most_per_consumed: float = math.inf
    most_reading: str = ""


@lru_cache(maxsize=1)
def catalogue() -> tuple[Effect, ...]:
    """Return every effect, with ``{product}`` and ``{metal}`` for the species.

    The table is ``data/effects.csv``; which effects occur in a lab says :func:`effects_for`.

    Examples
    --------
    >>> [effect.key for effect in catalogue()][:3]
    ['wet product', 'residue salt', 'lost product']
    """
    return tuple(_effect(row) for row in data_table("effects.csv"))


def _effect(row: Mapping[str, str]) -> Effect:
    """Make an effect from a row of the table, or of a way of measuring."""
    return Effect(
        key=row["key"],
        name=row["name"],
        mechanism=row["mechanism"],
        check=row["check"],
        applies_to=tuple(row["applies_to"].split(", ")),
        actions=tuple(_action(word) for word in row["actions"].split()),
        substance=row["substance"],
        unit=row["unit"],
        most_reading=row.get("most_reading", ""),
    )


def _action(text: str) -> Action:
    """Read ``side.place:change``."""
    where, _, change = text.partition(":")
    side, _, place = where.partition(".")
    return Action(side, place, float(change))


def situation(experiment: Experiment) -> frozenset[str]:
    """Return, in words, what kind of lab this is, for choosing effects.

    The words come from the ways of measuring and from the substances: whether something is
    weighed in or left over, driven off or taken up, is read from the order of the readings.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> sorted(situation(experiments.load("copper-silver")))
    ['empty vessel weighed', 'filtered', 'metal left over', 'solid collected']
    >>> "driven off" in situation(experiments.load("hydrate-heating"))
    True
    """
    consumed, produced = experiment.consumed, experiment.produced
    found = set[str]()
    for side, model in _models(experiment).items():
        found |= model.situation(experiment.setting(side))
    if produced.weighs_species and produced.species in OXIDES:
        found.add("product tarnishes")
    if produced.species == "O" and consumed.species in NITRIDES:
        found.add("nitride forms")
    if _gas_of(consumed.species):
        found.add("residue decomposes")
    return frozenset(found)


def _models(experiment: Experiment) -> dict[str, AmountModel]:
    return {"consumed": experiment.consumed, "produced": experiment.produced}


def _gas_of(salt: str) -> str:
    """Return what a sulfate or carbonate gives off when it decomposes; "" for other salts."""
    try:
        counts = parse_formula(salt).counts
    except FormulaError:
        return ""
    return next((gas for element, gas in _GASES if element in counts and "O" in counts), "")


def effects_for(experiment: Experiment, *, residue: str = "") -> tuple[Effect, ...]:
    """Return the effects that can occur in a lab, with its substances filled in.

    Parameters
    ----------
    experiment : Experiment
    residue : str, optional
        Formula of the salt that poor washing would leave in the product.

    Returns
    -------
    tuple of Effect
        In the order of the catalogue.

    Raises
    ------
    FormulaError
        If the formula of the salt cannot be read.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> found = effects_for(experiments.load("copper-silver"), residue="AgNO3")
    >>> [effect.key for effect in found][:4]
    ['wet product', 'residue salt', 'lost product', 'product on metal']
    >>> found[1].substance
    'AgNO3'
    """
    here = situation(entry.record("experiment", experiment, Experiment))
    words = _words(experiment)
    salt = parse_formula(residue).plain() if entry.text("residue", residue) else ""
    own = [
        _effect(row)
        for side, model in _models(experiment).items()
        for row in model.effects(experiment.setting(side))
    ]
    found = []
    for effect in (*catalogue(), *own):
        if not here.issuperset(effect.applies_to):
            continue
        special = {"substance": effect.substance} | _special(effect, experiment, salt)
        special |= {"mechanism": effect.mechanism, "check": effect.check}
        for name in ("substance", "mechanism", "check"):
            special[name] = special[name].format(**words)
        found.append(replace(effect, **special))
    return tuple(found)


def effect_named(experiment: Experiment, key: str, *, residue: str = "") -> Effect:
    """Return one effect by its key.

    Raises
    ------
    ModelError
        If there is no such effect in this lab.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> effect_named(experiments.load("tin-oxide"), "unfinished oxidation").substance
    'oxygen still to be taken up'
    """
    found = {effect.key: effect for effect in effects_for(experiment, residue=residue)}
    if entry.text("key", key) not in found:
        raise ModelError(
            "There is no such effect in this lab.", given=key, allowed=", ".join(found)
        )
    return found[key]


def _words(experiment: Experiment) -> Mapping[str, str]:
    product, metal = (_called(m.species) for m in (experiment.produced, experiment.consumed))
    first = {"Product": capitalised(product), "Metal": capitalised(metal)}
    return {"product": product, "metal": metal, **first}


def _called(species: str) -> str:
    if species in SYMBOLS:
        return element_name(species)
    if species == "H2":
        return "hydrogen"
    try:
        return parse_formula(species).unicode()
    except FormulaError:
        return species


def _special(effect: Effect, experiment: Experiment, salt: str) -> dict[str, Any]:
    """Return the fields of an effect that depend on the substances at hand."""
    product, metal = experiment.produced.species, experiment.consumed.species
    if effect.key == "residue salt" and salt:
        return {"substance": salt}
    if effect.key == "oxidised product":
        oxide = parse_formula(OXIDES[product])
        metal_g = oxide.counts[product] * molar_mass_value(product)
        return {"most_per_product": molar_mass_value(oxide) / metal_g - 1}
    if effect.key == "nitride":
        nitride = parse_formula(NITRIDES[metal])
        nitrogen_g = nitride.counts["N"] * molar_mass_value("N")
        bound_g = (molar_mass_value(nitride) - nitrogen_g) / nitrogen_g
        return {"actions": (*effect.actions, Action("consumed", "mass", bound_g))}
    if effect.key == "decomposed":
        gas = _gas_of(metal)
        element = next(e for e, g in _GASES if g == gas)
        units = parse_formula(metal).counts[element]
        most = units * molar_mass_value(gas) / molar_mass_value(metal)
        return {"substance": gas, "most_per_consumed": most}
    electrons = experiment.consumed.electrons_passed
    if effect.key == "hydrogen evolved" and electrons:
        per_gram = 2 / (molar_mass_value("H2") * electrons)
        return {"actions": (Action("consumed", "moles", per_gram),)}
    return {}


def moved_amounts(experiment: Experiment, effect: Effect) -> tuple[float, float]:
    """Return what one gram (or mL) of an effect adds to the measured amounts, mean over trials."""
    models = _models(experiment)
    totals = dict.fromkeys(models, 0.0)
    for trial in experiment.trials:
        pool = ErrorPool()
        values = {k: nominal(v) for k, v in experiment.quantities(trial, pool).items()}
        moved = dict(values)
        for action in effect.actions:
            model = models[action.side]
            if action.place in ("mass", "moles"):
                molar = molar_mass_value(model.species) if action.place == "mass" else 1.0
                totals[action.side] += action.per_unit / molar
            else:
                moved[model.reading(action.place)] += action.per_unit
        for side, model in models.items():
            totals[side] += _nominal(model, moved) - _nominal(model, values)
    return tuple(total / len(experiment.trials) for total in totals.values())  # type: ignore[return-value]


def _nominal(model: AmountModel, values: Mapping[str, float]) -> float:
    return nominal(model.amount(values, ErrorPool()))
