"""The bench plan: what an instructor prints before the lab."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from .bench_document import plan_opening, plan_sections
from .bench_needs import equation_text, needs_of
from .bench_parts import Check, Lab, Reagent
from .bench_readings import Expectation, capacity_checks, expectations_of, size_checks
from .bench_reagents import reagents_of
from .bench_safety import also_named, cautions_of, unknown_of, waste_of
from .bench_steps import drying_steps, vessel_checks, waiting_steps
from .bench_supply import Supply, supplies_by_species
from .datasheet import Column, sheet_columns
from .elements import molar_mass_value
from .errors import ModelError
from .experiment import Experiment
from .experiment_parts import Caution
from .frozen_map import FrozenMap
from .layout import escaped_markdown, markdown_document
from .page import html_page, to_layout
from .planning import Plan
from .uncertain import nominal

__all__ = ["BenchPlan", "Check", "Expectation", "Reagent", "Supply", "bench_plan"]

_MOST_RUNS = 2000
_MOST_EXCESS = 20.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BenchPlan:
    """What an instructor prints before the lab.

    Attributes
    ----------
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

    @property
    def title(self) -> str:
        """Title of the plan."""
        return f"Bench plan: {self.experiment.title}"

    def to_markdown(self) -> str:
        """Write the plan as Markdown in which user text cannot act as markup.

        >>> from stoichkit import experiments
        >>> print(bench_plan(experiments.load("tin-oxide")).to_markdown().splitlines()[0])
        # Bench plan: Which oxide does tin form?
        """
        opening = [escaped_markdown(text) for text in plan_opening(self)]
        return markdown_document(self.title, opening, to_layout(plan_sections(self)))

    def to_html(self) -> str:
        """Write the plan as one self-contained HTML page that prints on A4 and Letter.

        >>> from stoichkit import experiments
        >>> page = bench_plan(experiments.load("tin-oxide")).to_html()
        >>> page.startswith("<!DOCTYPE html>"), "http" in page
        (True, False)
        """
        return html_page(self.title, plan_opening(self), plan_sections(self))


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
    """
    experiment, amount, runs_each = _lab(
        experiment_or_design, reacting_mass_g, reacting_mol, trials
    )
    _check_number("excess", excess, 1.0, _MOST_EXCESS)
    _check_number("number of groups", groups, 1, _MOST_RUNS, whole=True)
    _check_number("number of trials of all groups", groups * runs_each, 1, _MOST_RUNS, whole=True)
    stated = supplies_by_species(supplies)
    needs = [needs_of(c, experiment.consumed.species) for c in experiment.candidates]
    known = [need for need in needs if need is not None]
    lab = Lab(experiment=experiment, consumed_mol=amount, excess=excess, runs=groups * runs_each)
    reagents = reagents_of(lab, known, stated)
    plan = Plan(experiment=experiment, consumed_mol=amount, trials=min(runs_each, 64))
    expected = expectations_of(plan)
    return BenchPlan(
        experiment=experiment,
        consumed_mol=amount,
        reacting_mass_g=plan.consumed_mass_g,
        excess=excess,
        trials=runs_each,
        groups=groups,
        reagents=reagents,
        equations=tuple(
            (c.name, equation_text(c.equation) if c.equation else "no equation is stated")
            for c in experiment.candidates
        ),
        expectations=expected,
        checks=(
            *size_checks(experiment, expected),
            *capacity_checks(experiment, expected),
            *vessel_checks(reagents),
        ),
        drying=drying_steps(experiment),
        waiting=waiting_steps(experiment),
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
        experiment, planned, runs = design, math.fsum(amounts) / len(amounts), len(design.trials)
    else:
        raise ModelError(
            "There is nothing to plan for.", given=design, allowed="an experiment or a plan"
        )
    if mass_g is not None and mol is not None:
        raise ModelError(
            "What is to react is given twice.", allowed="either reacting_mass_g or reacting_mol"
        )
    species = experiment.consumed.species
    if mass_g is not None:
        _check_number("reacting mass in g", mass_g, 0.0, 1e6)
        if species == "e-":
            raise ModelError(
                "Electrons have no mass to react.",
                given=f"{mass_g} g",
                fix="Give reacting_mol: the moles of electrons.",
            )
        planned = mass_g / molar_mass_value(species)
    elif mol is not None:
        _check_number("reacting amount in mol", mol, 0.0, 1e4)
        planned = mol
    if not planned > 0:
        raise ModelError(
            "The trials of this record consume nothing.",
            given=f"{planned:.3g} mol",
            fix="Give reacting_mass_g.",
        )
    if trials is not None:
        _check_number("number of trials", trials, 1, 64, whole=True)
        runs = trials
    return experiment, planned, runs


def _check_number(
    what: str, value: object, low: float, high: float, *, whole: bool = False
) -> None:
    """Raise ModelError unless the value is a number within its limits, above 0."""
    kind = int if whole else (int, float)
    number = isinstance(value, kind) and not isinstance(value, bool)
    if not number or not math.isfinite(value) or not (low <= value <= high and value > 0):  # type: ignore[arg-type, operator]
        least = f"{low:g}" if low else "above 0"
        sort = "a whole number, " if whole else ""
        raise ModelError(
            f"The {what} cannot be used.", given=value, allowed=f"{sort}{least} to {high:g}"
        )


def _chances(experiment: Experiment, chances: Mapping[str, float] | None) -> FrozenMap[str, float]:
    names = [c.name for c in experiment.candidates]
    for name, chance in (chances or {}).items():
        if name not in names:
            raise ModelError("There is no such candidate.", given=name, allowed=", ".join(names))
        number = isinstance(chance, int | float) and not isinstance(chance, bool)
        if not number or not 0 <= chance <= 1:
            raise ModelError("A chance cannot be used.", given=chance, allowed="0 to 1")
    return FrozenMap(chances or {})
