"""The bench plan as headings, tables and sentences, in the order they are needed."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

from .bench_parts import Reagent
from .bench_readings import Expectation
from .cautions import CHECK, cautions_for
from .instrument_base import show
from .layout import Bullets
from .page import CaptionedTable, PagePart, PageSection
from .solution_parts import three_digits
from .wording import joined, species_text, symbol

if TYPE_CHECKING:
    from .bench import BenchPlan

__all__ = ["plan_opening", "plan_sections"]

_SAFETY = (
    "This plan does not replace the safety data sheets, the local rules or the judgement of the "
    "person in charge. Everybody in the room wears eye protection."
)


def plan_opening(plan: BenchPlan) -> list[str]:
    """Return the paragraphs below the title.

    >>> from stoichkit import experiments
    >>> from stoichkit.bench import bench_plan
    >>> plan_opening(bench_plan(experiments.load("tin-oxide"), reacting_mass_g=1))[2][:43]
    'Planned: 1 g of Sn (8.42 mmol) to react in '
    """
    experiment = plan.experiment
    opening = []
    if experiment.invented:
        opening.append("The scenario and its readings are invented, for practice.")
    if experiment.about.strip():
        opening.append(experiment.about)
    species = species_text(experiment.consumed.species)
    mmol = f"{1000 * plan.consumed_mol:.3g} mmol"
    amount = (
        f"{mmol} of electrons"
        if math.isnan(plan.reacting_mass_g)
        else f"{plan.reacting_mass_g:.3g} g of {species} ({mmol})"
    )
    trials = f"{plan.trials} trial{'s' if plan.trials > 1 else ''}"
    groups = f"{plan.groups} group{'s' if plan.groups > 1 else ''}"
    opening.append(
        f"Planned: {amount} to react in each trial; {trials} for each of {groups}; reagents in "
        f"excess {show(plan.excess)} times over."
    )
    opening.append(_SAFETY)
    return opening


def plan_sections(plan: BenchPlan) -> Iterator[PageSection]:
    """Yield the sections of the plan.

    >>> from stoichkit import experiments
    >>> from stoichkit.bench import bench_plan
    >>> [section.title for section in plan_sections(bench_plan(experiments.load("tin-oxide")))][:3]
    ['What is to be told apart', 'Reagents', 'Expected readings']
    """
    yield PageSection("What is to be told apart", tuple(_candidates(plan)))
    yield PageSection("Reagents", tuple(_reagents(plan)))
    made = [r for r in plan.reagents if r.preparation is not None]
    if made:
        yield PageSection("Solutions to make up", tuple(_solutions(made)))
    yield PageSection("Expected readings", tuple(_expected(plan)))
    yield PageSection("Checks before the lab", tuple(_checks(plan)))
    steps = (*plan.drying, *plan.waiting)
    if steps:
        yield PageSection("Drying, waiting and cooling", (Bullets(steps),))
    yield PageSection("What to record", tuple(_record(plan)))
    yield PageSection("Cautions", tuple(_cautions(plan)))
    yield PageSection("Waste", (Bullets((*plan.waste, "Local rules have the last word.")),))
    if plan.experiment.notes:
        yield PageSection("Notes of the record", (Bullets(plan.experiment.notes),))


def _candidates(plan: BenchPlan) -> Iterator[PagePart]:
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
    yield CaptionedTable("Candidates and their reactions", tuple(header), tuple(rows))
    if plan.chances_text:
        yield plan.chances_text


def _reagents(plan: BenchPlan) -> Iterator[PagePart]:
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
    yield CaptionedTable(f"Reagents; for the class: {runs} runs and a tenth more", header, rows)
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


def _solutions(made: list[Reagent]) -> Iterator[PagePart]:
    for reagent in made:
        recipe = reagent.preparation
        assert recipe is not None
        yield f"{reagent.name} ({reagent.for_class} for the class):"
        listed = cautions_for(reagent.formula)  # already in the table of cautions
        said = {*listed.statements, *listed.precautions, listed.note}
        cautions = tuple(f"Caution: {text}" for text in recipe.cautions if text not in said)
        yield Bullets((*recipe.steps, *cautions))


def _expected(plan: BenchPlan) -> Iterator[PagePart]:
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
    yield CaptionedTable("Changes in one trial if each candidate is true", tuple(header), rows)
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
    yield CaptionedTable("Readings to expect, as the instruments would show them", head, table)
    yield (
        "Vessels, room conditions and the like are those of the first trial of the record, "
        f"“{experiment.trials[0].name}”; yours will differ, the changes will not."
    )


def _product(plan: BenchPlan) -> str:
    model = plan.experiment.produced
    return species_text(getattr(model, "precipitate", model.species))


def _expected_row(e: Expectation, with_mass: bool) -> tuple[str, ...]:
    row = [e.candidate, e.consumed.text, e.produced.text, three_digits(e.produced.steps)]
    if with_mass:
        assert e.product_mass_g is not None
        row.append(f"{e.product_mass_g:.3g}")
    if not e.nearest:
        return (*row, "–", "–", "–")
    return (*row, e.nearest, three_digits(e.apart_steps), three_digits(e.apart_uncertainties))


def _checks(plan: BenchPlan) -> Iterator[PagePart]:
    rows = tuple((c.subject, c.mark, c.text) for c in plan.checks)
    yield CaptionedTable("Capacities and sizes", ("What", "Outcome", "Found"), rows)
    if plan.assumptions:
        yield "Assumed, because it is not stated:"
        yield Bullets(plan.assumptions)


def _record(plan: BenchPlan) -> Iterator[PagePart]:
    header = ("Reading", "Unit", "Decimals", "Instrument", "When")
    rows = tuple(
        (
            c.name,
            c.unit,
            str(c.decimals),
            c.instrument,
            ("once for all trials" if c.shared else "each trial")
            + (", repeated to constant mass" if c.repeated else ""),
        )
        for c in plan.record
    )
    yield CaptionedTable("Readings, with every zero that is shown", header, rows)
    yield (
        "Also: date, who, which instrument, colour changes, spills and whatever went otherwise "
        "than planned. Corrections are struck through, never erased."
    )


def _cautions(plan: BenchPlan) -> Iterator[PagePart]:
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
        yield CaptionedTable("Cautions by reagent", header, rows)
    if plan.unknown:
        yield (
            f"Nothing is known here about the hazards of {joined(list(plan.unknown))}. That does "
            f"not mean that there are none. {CHECK}"
        )
    yield _SAFETY
