"""The bench plan: what an instructor prints before the lab, with its cautions and waste."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from .._common import FrozenMap
from ..chemistry.elements import molar_mass_value
from ..errors import ModelError, short
from ..experiments.parts import Caution
from ..experiments.record import Experiment
from ..measurement.base import show
from ..planning.plan import MOST_TRIALS, Plan
from ..text.document import Document
from ..text.parts import Bullets, Part, Section, Table
from ..text.wording import joined, reaction_text, species_text, symbol
from ..uncertainty import entry
from ..uncertainty.sources import nominal
from .cautions import EYES, also_named, cautions_of, unknown_of, waste_of
from .datasheet import Column, sheet_columns
from .expectations import (
    Expectation,
    capacity_checks,
    care_of,
    expectations_of,
    size_checks,
    vessel_checks,
)
from .reagent_data import CHECK, cautions_for
from .reagents import reagents_of
from .recipes import three_digits
from .supply import (
    Check,
    Lab,
    Reagent,
    Supply,
    needs_of,
    supplies_by_species,
)

_SAFETY = (
    "This plan does not replace the safety data sheets, the local rules or the judgement of the "
    f"person in charge. {EYES}"
)


def _opening(plan: BenchPlan) -> Iterator[str]:
    """Yield the paragraphs below the title."""
    experiment = plan.experiment
    if experiment.invented:
        yield "The scenario and its readings are invented, for practice."
    if experiment.about.strip():
        yield experiment.about
    species = species_text(experiment.consumed.species)
    mmol = f"{1000 * plan.consumed_mol:.3g} mmol"
    amount = (
        f"{mmol} of electrons"
        if math.isnan(plan.reacting_mass_g)
        else f"{plan.reacting_mass_g:.3g} g of {species} ({mmol})"
    )
    trials = f"{plan.trials} trial{'s' if plan.trials > 1 else ''}"
    groups = f"{plan.groups} group{'s' if plan.groups > 1 else ''}"
    yield (
        f"Planned: {amount} to react in each trial; {trials} for each of {groups}; reagents in "
        f"excess {show(plan.excess)} times over."
    )
    yield _SAFETY


def _sections(plan: BenchPlan) -> Iterator[Section]:
    """Yield the sections, in the order they are needed."""
    yield Section("What is to be told apart", tuple(_candidates(plan)))
    yield Section("Reagents", tuple(_reagents(plan)))
    made = [r for r in plan.reagents if r.preparation is not None]
    if made:
        yield Section("Solutions to make up", tuple(_solutions(made)))
    yield Section("Expected readings", tuple(_expected(plan)))
    yield Section("Checks before the lab", tuple(_checks(plan)))
    steps = (*plan.drying, *plan.waiting)
    if steps:
        yield Section("Drying, waiting and cooling", (Bullets(steps),))
    yield Section("What to record", tuple(_record(plan)))
    yield Section("Cautions", tuple(_cautions(plan)))
    yield Section("Waste", (Bullets((*plan.waste, "Local rules have the last word.")),))
    if plan.experiment.notes:
        yield Section("Notes of the record", (Bullets(plan.experiment.notes),))


def _candidates(plan: BenchPlan) -> Iterator[Part]:
    experiment = plan.experiment
    ratio = f"{symbol(experiment.produced.species)}/{symbol(experiment.consumed.species)}"
    rows = []
    for candidate, (name, equation) in zip(experiment.candidates, plan.equations, strict=True):
        row = [name, str(candidate.ratio), equation]
        if plan.chances:
            chance = plan.chances.get(name)
            row.append("not given" if chance is None else f"{100 * chance:.0f} %")
        rows.append(tuple(row))
    header = ["Candidate", ratio, "Equation"]
    if plan.chances:
        header.append("Chance of the right verdict, if true")
    yield Table(tuple(header), tuple(rows), "Candidates and their reactions")
    if plan.chances_text:
        yield plan.chances_text


def _reagents(plan: BenchPlan) -> Iterator[Part]:
    header = (
        "Reagent",
        "Role",
        "Reacts in a trial, mmol",
        "Take for each trial",
        "Measure with",
        "For the class",
    )
    rows = tuple(
        (r.name, r.role, _range(r), r.amount or "see notes", r.measured_with, r.for_class)
        for r in plan.reagents
    )
    runs = plan.trials * plan.groups
    yield Table(header, rows, f"Reagents; for the class: {runs} runs and a tenth more")
    notes = tuple(f"{r.name}: {note}" for r in plan.reagents for note in r.notes)
    if notes:
        yield Bullets(notes)
    if plan.also:
        yield (
            f"Named in the record's cautions but in no equation, so not measured out here: "
            f"{joined(list(plan.also))}. Follow the procedure for them."
        )
    missing = [name for name, equation in plan.equations if equation == "no equation is stated"]
    if missing:
        yield (
            f"No equation is stated for {joined(missing)}: reactants other than those measured "
            "are not listed."
        )


def _range(reagent: Reagent) -> str:
    low, high = (f"{value:.3g}" for value in reagent.needed_mmol)
    return low if low == high else f"{low} to {high}"


def _solutions(made: list[Reagent]) -> Iterator[Part]:
    for reagent in made:
        recipe = reagent.preparation
        assert recipe is not None
        yield f"{reagent.name} ({reagent.for_class} for the class):"
        listed = cautions_for(reagent.formula)  # already in the table of cautions
        said = {*listed.statements, *listed.precautions, listed.note}
        cautions = tuple(f"Caution: {text}" for text in recipe.cautions if text not in said)
        yield Bullets((*recipe.steps, *cautions))


def _expected(plan: BenchPlan) -> Iterator[Part]:
    experiment, found = plan.experiment, plan.expectations
    consumed, produced = found[0].consumed, found[0].produced
    with_mass = all(e.product_mass_g is not None for e in found)
    header = [
        "Candidate",
        f"Consumed: {consumed.what}",
        f"Produced: {produced.what}",
        "the same in steps of the display or scale",
    ]
    if with_mass:
        header.append(f"Mass of {_product(plan)}, g")
    header += ["Nearest other candidate", "Apart, steps", "Apart, standard uncertainties"]
    rows = tuple(_expected_row(e, with_mass) for e in found)
    yield Table(tuple(header), rows, "Changes in one trial if each candidate is true")
    yield (
        "Apart, steps: how far the produced change lies from that of the nearest candidate. Apart, "
        "standard uncertainties: the same distance measured by the instruments' uncertainty of "
        "one trial; below about 4 one trial often cannot tell the two."
    )
    names = [name for name, _ in found[0].readings]
    units = {c.name: c.unit for c in plan.record}
    table = tuple(
        (e.candidate, *(dict(e.readings)[name].rpartition(" ")[0] for name in names)) for e in found
    )
    head = ("Candidate", *(f"{name} / {units[name]}" for name in names))
    yield Table(head, table, "Readings to expect, as the instruments would show them")
    yield (
        "Vessels, room conditions and the like are those of "
        + (
            f"the first trial of the record, “{experiment.trials[0].name}”"
            if experiment.trials
            else "an example in which empty vessels weigh nothing"
        )
        + "; yours will differ, the changes will not."
    )


def _product(plan: BenchPlan) -> str:
    return species_text(plan.experiment.produced.substance)


def _expected_row(e: Expectation, with_mass: bool) -> tuple[str, ...]:
    row = [e.candidate, e.consumed.text, e.produced.text, three_digits(e.produced.steps)]
    if with_mass:
        assert e.product_mass_g is not None
        row.append(f"{e.product_mass_g:.3g}")
    if not e.nearest:
        return (*row, "–", "–", "–")
    return (*row, e.nearest, three_digits(e.apart_steps), three_digits(e.apart_uncertainties))


def _checks(plan: BenchPlan) -> Iterator[Part]:
    rows = tuple((c.subject, c.mark, c.text) for c in plan.checks)
    yield Table(("What", "Outcome", "Found"), rows, "Capacities and sizes")
    if plan.assumptions:
        yield "Assumed, because it is not stated:"
        yield Bullets(plan.assumptions)


def _record(plan: BenchPlan) -> Iterator[Part]:
    header = ("Reading", "Unit", "Decimals", "Instrument", "When")
    rows = tuple(
        (
            c.name,
            c.unit,
            str(c.decimals),
            c.instrument,
            ("once for all trials" if c.shared else "each trial")
            + (", repeated to constant mass" if c.repeated else "")
            + (f", weighed {c.repeats} times for a mean" if c.repeats > 1 else ""),
        )
        for c in plan.record
    )
    yield Table(header, rows, "Readings, with every zero that is shown")
    yield (
        "Also: date, who, which instrument, colour changes, spills and whatever went otherwise "
        "than planned. Corrections are struck through, never erased."
    )


def _cautions(plan: BenchPlan) -> Iterator[Part]:
    rows = tuple(
        (
            c.subject,
            "; ".join(c.statements) or "none listed",
            " ".join(c.advice),
            c.source,
        )
        for c in plan.cautions
    )
    if rows:
        header = ("Reagent or step", "GHS hazard statements", "Precautions and waste", "Source")
        yield Table(header, rows, "Cautions by reagent")
    if plan.unknown:
        yield (
            f"Nothing is known here about the hazards of {joined(list(plan.unknown))}. That does "
            f"not mean that there are none. {CHECK}"
        )
    yield _SAFETY


_MOST_RUNS = 2000
_MOST_EXCESS = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class BenchPlan(Document):
    """What an instructor prints before the lab: a document that keeps what it is made from.

    Attributes
    ----------
    title, opening, sections
        See :class:`.Document`.
    experiment : Experiment
    consumed_mol, reacting_mass_g : float
        What is to react in each trial; the mass is nan for electrons.
    excess : float
    trials, groups : int
    reagents : tuple of Reagent
    equations : tuple of (str, str)
        Candidate and its equation, or that none is stated.
    expectations : tuple of Expectation
        One for each candidate.
    checks : tuple of Check
        Capacities, sizes of the changes, vessels, flasks.
    drying, waiting : tuple of str
    record : tuple of Column
        What to write down.
    cautions : tuple of Caution
        Those of the experiment, then those of reagents it does not mention.
    also : tuple of str
        Reagents that the record's cautions name but no equation does.
    unknown : tuple of str
        Substances about whose hazards nothing is known here.
    waste : tuple of str
    assumptions : tuple of str
        What was assumed about the instruments.
    chances : mapping of str to float
        Chance of the right verdict by candidate, if they were given.
    chances_text : str
        What those chances are for.
    """

    title: str = field(init=False)
    opening: tuple[str, ...] = field(init=False)
    sections: tuple[Section, ...] = field(init=False)
    experiment: Experiment
    consumed_mol: float
    reacting_mass_g: float
    excess: float
    trials: int
    groups: int
    reagents: tuple[Reagent, ...]
    equations: tuple[tuple[str, str], ...]
    expectations: tuple[Expectation, ...]
    checks: tuple[Check, ...]
    drying: tuple[str, ...]
    waiting: tuple[str, ...]
    record: tuple[Column, ...]
    cautions: tuple[Caution, ...]
    also: tuple[str, ...]
    unknown: tuple[str, ...]
    waste: tuple[str, ...]
    assumptions: tuple[str, ...]
    chances: Mapping[str, float] = FrozenMap()
    chances_text: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "title", f"Bench plan: {self.experiment.title}")
        object.__setattr__(self, "opening", tuple(_opening(self)))
        object.__setattr__(self, "sections", tuple(_sections(self)))


def bench_plan(
    experiment_or_design: Experiment | Plan,
    *,
    reacting_mass_g: float | None = None,
    reacting_mol: float | None = None,
    excess: float = 1.2,
    trials: int | None = None,
    groups: int = 1,
    supplies: Iterable[Supply] = (),
    chances: Mapping[str, float] | None = None,
    chances_text: str = "",
) -> BenchPlan:
    """Plan the bench of a lab: reagents, glassware, expected readings, checks, cautions, waste.

    Parameters
    ----------
    experiment_or_design : Experiment or Plan
        The lab; a plan also gives the amount and the number of trials.
    reacting_mass_g : float > 0, optional
        Mass of the consumed species that is to react in each trial.
    reacting_mol : float > 0, optional
        The same as an amount, for electrons. If neither is given, the mean of the record's
        trials.
    excess : float
        Reagents in excess are taken this many times what the neediest candidate takes, 1 to 20.
    trials, groups : int
        Trials of each group, as in the record if left out, and number of groups.
    supplies : iterable of Supply
        What reactants come from, where that is not the usual solution.
    chances : mapping of str to float, optional
        Chance of the right verdict by candidate, 0 to 1, to be shown.
    chances_text : str
        What those chances are for, in a sentence.

    Returns
    -------
    BenchPlan
        A :class:`.Document`; save it as ``.html`` or ``.md``.

    Raises
    ------
    ModelError
        If a figure cannot be used.
    ExperimentError
        If a supply cannot be used.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = bench_plan(experiments.load("copper-silver"), reacting_mass_g=0.12, groups=6)
    >>> [(reagent.name, reagent.amount) for reagent in plan.reagents]
    [('copper, Cu', '2.94 g'), ('silver nitrate solution, 0.1 mol/L', '50 mL')]
    >>> [f"{e.candidate}: {e.produced.steps:.0f} steps" for e in plan.expectations]
    ['copper(I): 20 steps', 'copper(II): 41 steps']
    >>> print(plan.markdown().splitlines()[0])
    # Bench plan: Copper wire in silver nitrate
    """
    experiment, amount, runs_each = _lab(
        experiment_or_design, reacting_mass_g, reacting_mol, trials
    )
    excess = entry.number("excess", excess, least=1, most=_MOST_EXCESS)
    groups = entry.whole("groups", groups, least=1, most=_MOST_RUNS)
    entry.whole("trials of all groups", groups * runs_each, least=1, most=_MOST_RUNS)
    entry.text("chances_text", chances_text)
    stated = supplies_by_species(supplies)
    needs = [needs_of(c, experiment.consumed.species) for c in experiment.candidates]
    known = [need for need in needs if need is not None]
    lab = Lab(experiment=experiment, consumed_mol=amount, excess=excess, runs=groups * runs_each)
    reagents = reagents_of(lab, known, stated)
    plan = Plan(experiment=experiment, consumed_mol=amount)
    expected = expectations_of(plan)
    drying, waiting = care_of(experiment)
    return BenchPlan(
        experiment=experiment,
        consumed_mol=amount,
        reacting_mass_g=plan.consumed_mass_g,
        excess=excess,
        trials=runs_each,
        groups=groups,
        reagents=reagents,
        equations=tuple(
            (c.name, reaction_text(c.equation) if c.equation else "no equation is stated")
            for c in experiment.candidates
        ),
        expectations=expected,
        checks=(
            *size_checks(expected),
            *capacity_checks(experiment, expected),
            *vessel_checks(reagents),
        ),
        drying=drying,
        waiting=waiting,
        record=sheet_columns(experiment),
        cautions=cautions_of(experiment, reagents),
        also=also_named(experiment, reagents),
        unknown=unknown_of(experiment, reagents),
        waste=waste_of(experiment, reagents),
        assumptions=experiment.assumptions(),
        chances=_chances(experiment, chances),
        chances_text=chances_text,
    )


def _lab(
    design: Experiment | Plan, mass_g: float | None, mol: float | None, trials: int | None
) -> tuple[Experiment, float, int]:
    """Return the experiment, the amount to react in mol, and the trials of each group."""
    if isinstance(design, Plan):
        experiment, planned, runs = design.experiment, design.consumed_mol, design.trials
    elif isinstance(design, Experiment):
        amounts = [nominal(consumed) for consumed, _ in design.amounts()]
        runs = max(len(amounts), 1)
        experiment, planned = design, math.fsum(amounts) / runs
    else:
        raise entry.refusal(
            ModelError,
            "experiment_or_design",
            "is nothing to plan for",
            design,
            "an experiment or a plan",
        )
    if mass_g is not None and mol is not None:
        raise ModelError(
            "What is to react is given twice.",
            given=f"{short(mass_g)} g and {short(mol)} mol",
            allowed="either reacting_mass_g or reacting_mol",
        )
    species = experiment.consumed.species
    if mass_g is not None:
        mass_g = entry.number("reacting_mass_g", mass_g, above=0, most=1e6)
        if species == "e-":
            raise ModelError(
                "Electrons have no mass to react.",
                given=f"{mass_g} g",
                fix="Give reacting_mol: the moles of electrons.",
            )
        planned = mass_g / molar_mass_value(species)
    elif mol is not None:
        planned = entry.number("reacting_mol", mol, above=0, most=1e4)
    if not planned > 0:
        raise ModelError(
            "The trials of this record consume nothing."
            if experiment.trials
            else "This lab has no readings yet to say how much usually reacts.",
            given=f"{planned:.3g} mol",
            fix="Give reacting_mass_g.",
        )
    if trials is not None:
        runs = entry.whole("trials", trials, least=1, most=MOST_TRIALS)
    return experiment, planned, runs


def _chances(experiment: Experiment, chances: Mapping[str, float] | None) -> FrozenMap[str, float]:
    names = [c.name for c in experiment.candidates]
    given = {} if chances is None else entry.mapping("chances", chances, "{candidate: chance}")
    for name in given:
        if name not in names:
            raise ModelError("There is no such candidate.", given=name, allowed=", ".join(names))
    return FrozenMap(
        {
            n: entry.number(f"the chance of {n}", chance, least=0, most=1)
            for n, chance in given.items()
        }
    )
