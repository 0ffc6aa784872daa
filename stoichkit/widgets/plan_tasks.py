"""The long calculations of a plan, step by step: each says what it does and can be stopped."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from ..amounts import MassByDifference
from ..design_grid import DesignMap, design_map, with_readability
from ..experiment import Experiment
from ..instruments import Balance
from ..outcomes import Chances
from ..plan_sentences import amount_text, step_text
from ..planning import OperatingCharacteristic, Plan, chances
from ..planning_questions import (
    Answer,
    coarsest_balance,
    fewest_trials,
    largest_recovery,
    smallest_amount,
)
from .work import Report

__all__ = ["QUESTIONS", "SampleCost", "answer", "characteristic", "design", "sample_cost"]

QUESTIONS = {
    "amount": "smallest amount",
    "trials": "fewest trials",
    "balance": "coarsest balance",
    "recovery": "largest recovery allowance",
}
_ASK: dict[str, Callable[..., Answer]] = {
    "amount": smallest_amount,
    "trials": fewest_trials,
    "balance": coarsest_balance,
    "recovery": largest_recovery,
}
_STEPS_G = (0.0001, 1.0)
_SETTLED = 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class _WatchedPlan(Plan):
    """A plan that tells whenever a plan is derived from it or worked out.

    The questions of planning try one plan after another; this is how they can be stopped between
    two of them.
    """

    watch: Callable[[Plan], None] = field(compare=False, repr=False)

    def __post_init__(self) -> None:
        Plan.__post_init__(self)
        self.watch(self)

    def expected_readings(self, truth: str) -> dict[str, float]:
        self.watch(self)
        return Plan.expected_readings(self, truth)


def _watched(plan: Plan, watch: Callable[[Plan], None]) -> _WatchedPlan:
    return _WatchedPlan(
        experiment=plan.experiment,
        consumed_mol=plan.consumed_mol,
        trials=plan.trials,
        spread=plan.spread,
        watch=watch,
    )


def _plain(found: OperatingCharacteristic) -> OperatingCharacteristic:
    """Return a result whose plan is watched no more."""
    p = found.plan
    plan = Plan(
        experiment=p.experiment, consumed_mol=p.consumed_mol, trials=p.trials, spread=p.spread
    )
    return OperatingCharacteristic(plan, found.chances)


def characteristic(plan: Plan, report: Report) -> OperatingCharacteristic:
    """Return the chance of each verdict for each candidate taken as true.

    Parameters
    ----------
    plan : Plan
    report : callable
        Called before each candidate; may raise to stop.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> said = []
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> characteristic(plan, said.append).right > 0.9, said[0]
    (True, 'Chances if copper(I) is true (1 of 2) …')
    """
    names = [c.name for c in plan.experiment.candidates]
    found: dict[str, Chances] = {}
    for number, name in enumerate(names, start=1):
        report(f"Chances if {name} is true ({number} of {len(names)}) …")
        found[name] = chances(plan, name)
    return OperatingCharacteristic(plan, found)


def answer(plan: Plan, question: str, target: float, report: Report) -> Answer:
    """Answer a planning question.

    Parameters
    ----------
    plan : Plan
    question : str
        ``"amount"``, ``"trials"``, ``"balance"`` or ``"recovery"``.
    target : float
        Chance of a right conclusion for every candidate.
    report : callable
        Called with every plan that is tried; may raise to stop.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> said = []
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> answer(plan, "trials", 0.9, said.append).value, said[0]
    (1.0, 'Looking for the fewest trials: 1 trial, 0.127 g of Cu, read to 0.01 g …')
    """

    def watch(tried: Plan) -> None:
        report(f"Looking for the {QUESTIONS[question]}: {_tried(tried)} …")

    found = _ASK[question](_watched(plan, watch), target=target)
    short = None if found.short is None else _plain(found.short)
    return replace(found, at=_plain(found.at), short=short)


def _tried(plan: Plan) -> str:
    trials = f"{plan.trials} trial{'s' if plan.trials > 1 else ''}"
    steps = [
        step_text(i.readability_g)
        for i in plan.experiment.instruments.values()
        if isinstance(i, Balance)
    ]
    low, high = plan.experiment.recovery
    allowed = "" if (low, high) == (1.0, 1.0) else f", recovery {low:g} to {high:g}"
    balance = f", read to {steps[0]}" if steps else ""
    return f"{trials}, {amount_text(plan)}{balance}{allowed}"


@dataclass(frozen=True, slots=True, eq=False)
class SampleCost:
    """The smallest amount on the balance of a plan and on one ten times coarser.

    Attributes
    ----------
    fine, coarse : Answer
    fine_g, coarse_g : float
        Display steps, g.
    """

    fine: Answer
    coarse: Answer
    fine_g: float
    coarse_g: float


def sample_cost(plan: Plan, fine_g: float, target: float, report: Report) -> SampleCost:
    """Return what a ten times coarser balance costs in sample.

    Parameters
    ----------
    plan : Plan
    fine_g : float
        Display step of its balance, g.
    target, report
        As for :func:`answer`.
    """
    coarse_g = float(f"{10 * fine_g:.6g}")
    coarse = replace(
        plan,
        experiment=with_readability(plan.experiment, coarse_g),
        consumed_mol=10 * plan.consumed_mol,
    )
    return SampleCost(
        answer(plan, "amount", target, report),
        answer(coarse, "amount", target, report),
        fine_g,
        coarse_g,
    )


def design(plan: Plan, target: float, marked_g: tuple[float, ...], report: Report) -> DesignMap:
    """Return the chance of a right conclusion over reacting masses and balances.

    Weighings of two substances by themselves take a fraction of a second; other labs are worked
    out on a coarser grid, balance by balance, the coarsest first.

    Parameters
    ----------
    plan : Plan
        Of a consumed species that is weighed.
    target : float
    marked_g : tuple of float
        Display steps that must be on the map, g, rising, one or more.
    report : callable
        Called before each candidate of each cell; may raise to stop.

    Raises
    ------
    ModelError
        If the consumed species is not weighed.
    """
    mass = plan.consumed_mass_g
    report("Working out the map …")
    quick = _separate_weighings(plan.experiment)
    low, high = (min(*_STEPS_G, *marked_g), max(*_STEPS_G, *marked_g))
    if math.isnan(mass):
        mass = 1.0  # electrons: the design map says why there is none
        quick = True
    if quick:
        steps = _with_marks(np.geomspace(low, high, 49), marked_g)
        masses = np.geomspace(min(mass / 3, marked_g[0] / 2), max(3 * mass, 30 * marked_g[-1]), 101)
        return design_map(
            plan.experiment,
            masses_g=masses,
            readabilities_g=steps,
            trials=plan.trials,
            spread=plan.spread,
            target=target,
        )
    steps = np.array(sorted({0.1, 0.01, 0.001, *marked_g}))
    masses = np.geomspace(mass / 100, mass * 10, 16)
    rows = []
    for number, step in enumerate(steps[::-1], start=1):
        words = f"Map: balance read to {step_text(float(step))}, {number} of {steps.size}"
        rows.append(_row(plan, float(step), masses, report, words))
    chance, hardest = (np.array([row[i] for row in rows[::-1]]) for i in (0, 1))
    return DesignMap(masses, steps, chance, hardest, target, plan.trials)


def _separate_weighings(experiment: Experiment) -> bool:
    """Return whether both substances are weighed and share no reading."""
    models = (experiment.consumed, experiment.produced)
    if not all(isinstance(m, MassByDifference) for m in models):
        return False
    names = [role.name for model in models for role in model.roles()]
    return len(set(names)) == len(names)


def _with_marks(steps: np.ndarray, marked_g: tuple[float, ...]) -> np.ndarray:
    """Move the nearest of the steps onto each mark."""
    steps = steps.copy()
    for mark in marked_g:
        steps[int(np.argmin(np.abs(np.log(steps / mark))))] = mark
    return steps


def _row(
    plan: Plan, step_g: float, masses: np.ndarray, report: Report, words: str
) -> tuple[list[float], list[int]]:
    """Return chances and hardest candidates of one balance, rising masses, until they settle."""
    mol_per_g = plan.consumed_mol / plan.consumed_mass_g
    chance: list[float] = []
    hardest: list[int] = []
    for number, mass in enumerate(masses, start=1):
        if len(chance) > 1 and min(chance[-2:]) > 0.9 and abs(chance[-1] - chance[-2]) < _SETTLED:
            chance.append(chance[-1])
            hardest.append(hardest[-1])
            continue
        changed = with_readability(plan.experiment, step_g)
        cell = replace(plan, experiment=changed, consumed_mol=float(mass) * mol_per_g)
        each = []
        for one in changed.candidates:
            report(f"{words}; mass {number} of {masses.size} …")
            each.append(chances(cell, one.name).right)
        chance.append(min(each))
        hardest.append(each.index(min(each)))
    return chance, hardest
