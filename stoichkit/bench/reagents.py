"""The reagents of a bench plan: what is consumed, what it reacts with, how solutions are made."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from ..chemistry.elements import molar_mass_value
from ..chemistry.formula import parse_formula
from ..errors import StoichkitError
from ..experiments.record import Experiment
from ..measurement.base import AmountModel, Portion, show
from ..measurement.concentration import Concentration, PreparedSolution
from ..measurement.displays import Balance
from ..measurement.glassware import VolumetricFlask
from ..uncertainty.readings import ErrorPool, parse_number
from ..uncertainty.sources import Number, format_number, nominal
from .dilutions import Dilution, dilute
from .reagent_data import cautions_for, concentrated, solubility
from .recipes import Recipe, prepare_solution, smallest_cylinder, standard_sizes
from .supply import (
    AIR,
    RESERVE,
    SOLUTION,
    Lab,
    Needs,
    Reagent,
    SharedSupply,
    Supply,
    balance_of,
    find_supply,
    shared_supplies,
)

_LEAST_VOLUME_ML = 10.0
_SMALLEST_BATCH_ML, _LARGEST_BATCH_ML = 50.0, 1000.0
_COST_OF_A_BATCH = 0.35


def round_up(volume_mL: float) -> float:
    """Round a volume in mL up to one that a cylinder shows well, 10 mL at least."""
    step = 5.0 if volume_mL <= 100 else 10.0 if volume_mL <= 250 else 50.0
    return max(_LEAST_VOLUME_ML, step * math.ceil(volume_mL / step - 1e-9))


def solution_in_excess(
    lab: Lab, supply: Supply, provides: str, needed: tuple[float, float], taken_mol: float
) -> Reagent:
    """Return a solution taken in excess, with the cylinder for it and how it is made up."""
    c = supply.concentration_mol_per_L
    volume = round_up(1000 * taken_mol / c)
    times = volume * c / needed[1]
    cylinder = smallest_cylinder(volume)
    total = round_up(RESERVE * lab.runs * volume)
    preparation, notes = _make_up(lab, supply, total)
    size = "a " if cylinder is None else f"{show(cylinder.capacity_mL)} mL "
    return Reagent(
        name=supply.words,
        formula=supply.solute,
        provides=provides,
        role="in excess",
        needed_mmol=needed,
        volume_mL=volume,
        concentration_mol_per_L=c,
        measured_with=f"{size}measuring cylinder",
        for_class=f"{show(total)} mL",
        preparation=preparation,
        notes=(f"{times:.2g} times what the neediest candidate takes.", *notes),
    )


def batches(total_mL: float, kind: str) -> tuple[int, float]:
    """Return how many batches to make with which size: little left over, few batches."""

    def cost(size: float) -> float:
        count = math.ceil(total_mL / size - 1e-9)
        return count * size * (1 + _COST_OF_A_BATCH * (count - 1))

    sizes = [s for s in standard_sizes(kind) if _SMALLEST_BATCH_ML <= s <= _LARGEST_BATCH_ML]
    size = min(reversed(sizes), key=cost)
    return math.ceil(total_mL / size - 1e-9), size


def _make_up(
    lab: Lab, supply: Supply, total_mL: float
) -> tuple[Recipe | Dilution | None, tuple[str, ...]]:
    """Return how a batch of the solution is made, and what to know about it."""
    stock = concentrated(supply.solute)
    kind = "flask" if stock is None else "cylinder"
    count, size = batches(total_mL, kind)
    volume = size if kind == "flask" else round_up(min(total_mL / count, size))
    notes = [f"Make it up in {count} batches of {show(volume)} mL."] if count > 1 else []
    made: Recipe | Dilution
    try:
        if stock is not None and stock.mol_per_L > supply.concentration_mol_per_L * 1.05:
            made = dilute(
                stock,
                supply.concentration_mol_per_L,
                volume_mL=volume,
                glassware="cylinder",
                glass_class="B",
            )
        elif stock is not None:
            return None, (*notes, f"Taken as it is: {stock.name}.")
        else:
            made = prepare_solution(
                supply.solute,
                supply.concentration_mol_per_L,
                volume,
                balance=balance_of(lab.experiment),
            )
            notes.append(made.solubility.sentence)
    except StoichkitError as error:
        return None, (*notes, f"It cannot be made up so: {error}")
    return made, tuple(notes)


def measured_solution(
    lab: Lab,
    model: AmountModel,
    solution: Concentration,
    portion: Portion,
    moles: tuple[float, float],
) -> Reagent:
    """Return a solution whose volume is measured: a titrant, or what is pipetted."""
    experiment, pool = lab.experiment, ErrorPool()
    values = experiment.quantities(experiment.example(), pool)
    concentration = solution.steps(values, pool)[-1].value
    c = nominal(concentration)
    least, most = (model.solute_mol(amount) for amount in moles)
    volume = 1000 * most / c
    notes = [f"Its concentration: {format_number(concentration, unit='mol/L')}."]
    preparation = None
    formula = portion.formula or _usual_solute(model.species)
    if solution.made_up is not None:
        preparation, said = _own_recipe(experiment, solution.made_up, c, values, pool)
        notes += said
    else:
        notes.append("It must be known this well before the lab: standardise it, or buy it so.")
        found = solubility(formula, c)
        notes += [found.sentence] if found.dissolves is False else []
    return Reagent(
        name=f"{portion.name}, {c:.4g} mol/L",
        formula=formula,
        provides=portion.provides,
        role=portion.role,
        needed_mmol=(1000 * least, 1000 * most),
        volume_mL=volume,
        concentration_mol_per_L=c,
        measured_with=portion.measured_with,
        for_class=f"{show(round_up(RESERVE * lab.runs * volume))} mL",
        preparation=preparation,
        notes=(*notes, *portion.notes),
    )


def _usual_solute(species: str) -> str:
    """Return the solute of a bottle with a label: the usual salt of an ion, or the species."""
    supply = find_supply(species, {})
    return species if supply is None else supply.solute


def _own_recipe(
    experiment: Experiment,
    known: PreparedSolution,
    c: float,
    values: Mapping[str, Number],
    pool: ErrorPool,
) -> tuple[Recipe | None, list[str]]:
    """Return how the solution of the record is made up with its own flask and balance."""
    flask, balance = experiment.instruments[known.flask], experiment.instruments[known.instrument]
    if not isinstance(flask, VolumetricFlask) or not isinstance(balance, Balance):
        return None, ["Its flask and balance are not ones this plan can make a recipe for."]
    stock = nominal(known.stock_mol_per_L(values, pool))
    said = [
        f"Then dilute: {pipette} to {to_flask}; {c:.4g} mol/L results."
        for pipette, to_flask in known.dilutions
    ]
    recipe = prepare_solution(
        known.solute,
        stock,
        flask.capacity_mL,
        purity=known.purity,
        purity_half_width=known.purity_half_width,
        flask=flask,
        balance=balance,
    )
    return recipe, said


def reagents_of(
    lab: Lab, needs: Sequence[Needs], supplies: Mapping[str, Supply]
) -> tuple[Reagent, ...]:
    """Return the reagents: what is consumed, its partners, and what is measured out."""
    experiment, n = lab.experiment, lab.consumed_mol
    made = [float(c.ratio) * n for c in experiment.candidates]
    found = [
        _measured(lab, experiment.consumed, "consumed", (n, n), needs),
        *(_partner(lab, shared) for shared in shared_supplies(needs, supplies)),
        _measured(lab, experiment.produced, "produced", (min(made), max(made)), ()),
    ]
    return tuple(reagent for reagent in found if reagent is not None)


def _measured(
    lab: Lab, model: AmountModel, side: str, moles: tuple[float, float], needs: Sequence[Needs]
) -> Reagent | None:
    """Return what an amount is measured out as; None where it is only found."""
    portion = model.portion(lab.experiment.setting(side))
    if portion is None:
        return None
    if model.solution is not None:
        return measured_solution(lab, model, model.solution, portion, moles)
    if portion.solid:
        return _solid(lab, model, portion, moles, needs)
    return Reagent(
        name=portion.name,
        formula=portion.formula,
        provides=portion.provides,
        role=portion.role,
        needed_mmol=(1000 * moles[0], 1000 * moles[1]),
        measured_with=portion.measured_with,
        for_class=f"{lab.runs} runs",
        notes=portion.notes,
    )


def _solid(
    lab: Lab,
    model: AmountModel,
    portion: Portion,
    moles: tuple[float, float],
    needs: Sequence[Needs],
) -> Reagent:
    """Return a solid: the piece or the mass to take, or the sample that holds the substance."""
    name, role, notes = _named(portion.formula), portion.role, portion.notes
    mass = model.mass_to_take_g(moles[1])
    samples = [need.sample for need in needs if need.sample is not None]
    if samples:
        n = lab.consumed_mol
        masses = [float(each) * n * molar_mass_value(formula) for formula, each in samples]
        held = [float(each) * n for _, each in samples]
        moles, mass = (min(held), max(held)), max(masses)
        name, role = f"{name}: the sample, which holds it", "limiting"
        note = (
            f"{min(masses):.3g} to {mass:.3g} g hold the planned "
            f"{n * molar_mass_value(model.species):.3g} g of {portion.provides}, as the candidates "
            "differ; the mass listed is the largest."
        )
        notes = (note, *notes)
    elif model.loses_mass(lab.experiment.reading_names()):
        note = (
            f"Take a piece well above the {mass:.3g} g that are to react, and lift it out when "
            "about that much is used up."
        )
        after = model.span.low
        left = parse_number(_first_reading(lab, after), after).value
        mass, notes = max(lab.excess * mass, left + mass), (note, *notes)
    return Reagent(
        name=name,
        formula=portion.formula,
        provides=portion.provides,
        role=role,
        needed_mmol=(1000 * moles[0], 1000 * moles[1]),
        mass_g=mass,
        measured_with=portion.measured_with,
        for_class=f"{RESERVE * lab.runs * mass:.3g} g",
        notes=notes,
    )


def _first_reading(lab: Lab, name: str) -> str:
    """Return the last number typed for a reading, shared or of the first trial: near enough."""
    experiment = lab.experiment
    return (experiment.shared_readings.get(name) or experiment.example().readings[name])[-1]


def _named(formula: str) -> str:
    known = cautions_for(formula)
    shown = parse_formula(formula).unicode()
    return f"{known.name}, {shown}" if known.known else shown


def _partner(lab: Lab, shared: SharedSupply) -> Reagent:
    """Return a reactant in excess: a solution, a solid, the air, or one of unknown source."""
    supply = shared.supply
    provides = " or ".join(parse_formula(s).unicode() for s in shared.species)
    moles = [m * lab.consumed_mol for m in shared.moles.values()]
    needed = (1000 * min(moles), 1000 * max(moles))
    taken = lab.excess * max(moles)
    if supply is not None and supply.form == SOLUTION:
        return solution_in_excess(lab, supply, provides, needed, taken)
    mass: float | None = None
    notes: tuple[str, ...] = ()
    if supply is None:
        with_what, total = "to be decided", f"{1000 * RESERVE * lab.runs * taken:.3g} mmol"
        notes = (f"No usual salt is known here for {provides}: say what it comes from.",)
    elif supply.form == AIR:
        with_what = total = "not measured"
        notes = ("It must be able to reach everything: repeat until the mass is constant.",)
    else:
        mass = taken * molar_mass_value(supply.solute)
        total = f"{RESERVE * lab.runs * mass:.3g} g"
        balance = balance_of(lab.experiment)
        with_what = "a balance" if balance is None else f"to {show(balance.readability_g)} g"
    return Reagent(
        name=f"{provides}: source not known here" if supply is None else supply.words,
        formula=shared.species[0] if supply is None else supply.solute,
        provides=provides,
        role="in excess",
        needed_mmol=needed,
        mass_g=mass,
        measured_with=with_what,
        for_class=total,
        notes=notes,
    )
