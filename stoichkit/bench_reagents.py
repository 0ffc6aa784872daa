"""The reagents of a bench plan: what is consumed, and what it reacts with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from .amounts import AmountModel, Charge, GasVolume, MassByDifference, SolutionVolume
from .bench_needs import Needs, SharedSupply, shared_supplies
from .bench_parts import RESERVE, Lab, Reagent, balance_of, loses_mass
from .bench_solutions import measured_solution, solution_in_excess
from .bench_supply import AIR, SOLUTION, Supply
from .cautions import cautions_for
from .elements import molar_mass_value
from .formula import parse_formula
from .instrument_base import show
from .readings import parse_number

__all__ = ["reagents_of"]


def reagents_of(
    lab: Lab, needs: Sequence[Needs], supplies: Mapping[str, Supply]
) -> tuple[Reagent, ...]:
    """Return the reagents: what is consumed, its partners, and what is measured out.

    Parameters
    ----------
    lab : Lab
    needs : sequence of Needs
        For the candidates that have an equation.
    supplies : mapping of str to Supply
        Stated by the reader.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.bench_needs import needs_of
    >>> lab = Lab(experiment=experiments.load("copper-silver"), consumed_mol=0.002, excess=1.2,
    ...           runs=4)
    >>> needs = [needs_of(c, "Cu") for c in lab.experiment.candidates]
    >>> for reagent in reagents_of(lab, needs, {}):
    ...     print(reagent.name, reagent.role, reagent.amount, sep="; ")
    copper, Cu; in excess, what is used up is weighed; 2.95 g
    silver nitrate solution, 0.1 mol/L; in excess; 50 mL
    """
    found = [_consumed(lab, needs)]
    found += [_partner(lab, shared) for shared in shared_supplies(needs, supplies)]
    produced = lab.experiment.produced
    if isinstance(produced, SolutionVolume):
        ratios = [float(c.ratio) * lab.consumed_mol for c in lab.experiment.candidates]
        found.append(
            measured_solution(lab, produced, (min(ratios), max(ratios)), "measured, titrant")
        )
    return tuple(found)


def _consumed(lab: Lab, needs: Sequence[Needs]) -> Reagent:
    model, n = lab.experiment.consumed, lab.consumed_mol
    if isinstance(model, Charge):
        return Reagent(
            name="electric current",
            formula="",
            provides="e⁻",
            role="limiting, measured",
            needed_mmol=(1000 * n, 1000 * n),
            measured_with=f"{model.ammeter} and {model.timer}",
            for_class=f"{lab.runs} runs",
            notes=("Keep the current at the value noted; a supply with constant current helps.",),
        )
    if isinstance(model, SolutionVolume):
        return measured_solution(lab, model, (n, n), "limiting, measured")
    if isinstance(model, MassByDifference):
        return _weighed(lab, model, needs)
    return _other(lab, model)


def _other(lab: Lab, model: AmountModel) -> Reagent:
    mmol = 1000 * lab.consumed_mol
    gas = isinstance(model, GasVolume)
    return Reagent(
        name=parse_formula(model.species).unicode(),
        formula=model.species,
        provides=parse_formula(model.species).unicode(),
        role="limiting, measured",
        needed_mmol=(mmol, mmol),
        measured_with="gas volume, temperature and pressure" if gas else "its precipitate, weighed",
        for_class=f"{lab.runs} runs",
    )


def _weighed(lab: Lab, model: MassByDifference, needs: Sequence[Needs]) -> Reagent:
    n = lab.consumed_mol
    samples = [need for need in needs if need.sample]
    species = parse_formula(model.species).unicode()
    if samples:
        masses = [float(s.sample_moles) * n * molar_mass_value(s.sample) for s in samples]
        moles = [float(s.sample_moles) * n for s in samples]
        low, high = min(masses), max(masses)
        name = f"{_named(model.species)}: the sample, which holds it"
        notes = (
            f"{low:.3g} to {high:.3g} g hold the planned {n * molar_mass_value(model.species):.3g} "
            f"g of {species}, as the candidates differ; the mass listed is the largest.",
        )
        return _solid(lab, name, model, (min(moles), max(moles)), high, "limiting", notes)
    mass = n * molar_mass_value(model.species) / model.purity
    name = _named(model.species)
    if not loses_mass(model, lab.experiment):
        return _solid(lab, name, model, (n, n), mass, "limiting", ())
    left = parse_number(_first_reading(lab, model.lighter), model.lighter).value
    piece = max(lab.excess * mass, left + mass)
    note = (
        f"Take a piece well above the {mass:.3g} g that are to react, and lift it out when about "
        "that much is used up."
    )
    return _solid(lab, name, model, (n, n), piece, "in excess, what is used up is weighed", (note,))


def _first_reading(lab: Lab, name: str) -> str:
    """Return the last number typed for a reading, shared or of the first trial."""
    experiment = lab.experiment
    return (experiment.shared_readings.get(name) or experiment.trials[0].readings[name])[-1]


def _named(formula: str) -> str:
    known = cautions_for(formula)
    shown = parse_formula(formula).unicode()
    return f"{known.name}, {shown}" if known.known else shown


def _solid(
    lab: Lab,
    name: str,
    model: MassByDifference,
    moles: tuple[float, float],
    mass_g: float,
    role: str,
    notes: tuple[str, ...],
) -> Reagent:
    total = RESERVE * lab.runs * mass_g
    return Reagent(
        name=name,
        formula=model.species,
        provides=parse_formula(model.species).unicode(),
        role=role,
        needed_mmol=(1000 * moles[0], 1000 * moles[1]),
        mass_g=mass_g,
        measured_with=f"{model.instrument}, to "
        f"{show(lab.experiment.instruments[model.instrument].readability)} g",
        for_class=f"{total:.3g} g",
        notes=notes,
    )


def _partner(lab: Lab, shared: SharedSupply) -> Reagent:
    supply = shared.supply
    provides = " or ".join(parse_formula(s).unicode() for s in shared.species)
    moles = [m * lab.consumed_mol for m in shared.moles.values()]
    needed = (1000 * min(moles), 1000 * max(moles))
    taken = lab.excess * max(moles)
    if supply is None:
        return Reagent(
            name=f"{provides}: source not known here",
            formula=shared.species[0],
            provides=provides,
            role="in excess",
            needed_mmol=needed,
            measured_with="to be decided",
            for_class=f"{1000 * RESERVE * lab.runs * taken:.3g} mmol",
            notes=(f"No usual salt is known here for {provides}: say what it comes from.",),
        )
    if supply.form == AIR:
        return Reagent(
            name=supply.words,
            formula=supply.solute,
            provides=provides,
            role="in excess",
            needed_mmol=needed,
            measured_with="not measured",
            for_class="not measured",
            notes=("It must be able to reach everything: repeat until the mass is constant.",),
        )
    if supply.form == SOLUTION:
        return solution_in_excess(lab, supply, provides, needed, taken)
    mass = taken * molar_mass_value(supply.solute)
    balance = balance_of(lab.experiment)
    return Reagent(
        name=supply.words,
        formula=supply.solute,
        provides=provides,
        role="in excess",
        needed_mmol=needed,
        mass_g=mass,
        measured_with="a balance" if balance is None else f"to {show(balance.readability_g)} g",
        for_class=f"{RESERVE * lab.runs * mass:.3g} g",
    )
