"""Simulated labs of a plan: every reading drawn with its errors, rounded by the display, judged.

The chances of :mod:`stoichkit.planning.plan` are exact and need no random numbers; simulated labs
show what they look like, as points of the amounts plane, and check them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .._common import FrozenMap
from ..decision.arrays import four_weighings
from ..experiments.record import Experiment
from ..uncertainty import entry
from ..uncertainty.sources import Floats
from .draws import Bench, Verdicts, verdicts_of, verdicts_of_weighings
from .outcomes import PARTS
from .plan import Plan, nominal_lab, truth_index
from .strips import limit_mol

_MOST_LABS = 100_000


@dataclass(frozen=True, slots=True)
class Counts:
    """How many simulated labs came to each verdict; as :class:`Chances` does."""

    right: int
    wrong: int
    not_told_apart: int
    none_fits: int
    cannot_be_judged: int = 0

    @property
    def labs(self) -> int:
        """Number of labs."""
        return sum(getattr(self, part) for part in PARTS)


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedLabs:
    """Labs drawn from a plan, each judged as a lab of its own.

    Attributes
    ----------
    plan : Plan
    truth : str
        The candidate taken as true, or ``"nothing reacted"``.
    consumed_mol, produced_mol : ndarray, shape (labs,)
        Mean amounts over the trials, worked out from the rounded readings.
    recovered : ndarray, shape (labs,)
        Fraction of the product that each lab recovered.
    verdicts : Verdicts
        What each lab comes to.
    readings : mapping of str to ndarray, shape (labs, trials)
        What the displays showed, by reading name.
    limits_mol : tuple of (float, float)
        Largest |n_produced − ρ n_consumed| that leaves the least and the largest ratio that each
        candidate allows compatible, for drawing.
    """

    plan: Plan
    truth: str
    consumed_mol: Floats
    produced_mol: Floats
    recovered: Floats
    verdicts: Verdicts
    readings: Mapping[str, Floats]
    limits_mol: tuple[tuple[float, float], ...]

    def __len__(self) -> int:
        return self.consumed_mol.size

    @property
    def compatible(self) -> NDArray[np.bool_]:
        """Which candidates each lab is compatible with, shape (labs, candidates)."""
        return self.verdicts.compatible

    @property
    def kinds(self) -> list[str]:
        """Outcome of each lab, as the fields of :class:`Counts` are called."""
        numbers = self.verdicts.numbers(truth_index(self.plan.experiment, self.truth))
        return [PARTS[i] for i in numbers.tolist()]

    @property
    def counts(self) -> Counts:
        """Labs of each outcome."""
        return Counts(*self.verdicts.counts(truth_index(self.plan.experiment, self.truth)))


def simulate_labs(
    plan: Plan, truth: str, *, labs: int = 400, seed: int = 1, recovered: float | None = None
) -> SimulatedLabs:
    """Draw labs in which one candidate is true, and judge each.

    Parameters
    ----------
    plan : Plan
    truth : str
        Name of a candidate, or ``"nothing reacted"``.
    labs : int
        1 to 100,000.
    seed : int
        0 or more; the same seed gives the same draws, so that a changed plan is seen through the
        same luck.
    recovered : float, optional
        Fraction of the product that every lab recovers, above 0 to 10; if left out, each lab one
        of its own, evenly over the range allowed.

    Raises
    ------
    ModelError
        If there is no such candidate, an amount cannot be varied, or a number cannot be used.

    Notes
    -----
    The amount of each trial lies within the spread of the plan. Errors of instruments and atomic
    weights, what is recovered and a stated variation between trials act on the reading that grows
    with the amount; then every reading is rounded to the step of its display. What stays on the
    pan weighs anything, so the digits of two weighings in one vessel start from a random place
    between two steps.

    Labs that weigh both substances by difference on one balance are judged by
    :func:`stoichkit.assess_weighings`; elsewhere by limits worked out at the planned amount
    (:func:`stoichkit.planning.draws.verdicts_of`).

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> found = simulate_labs(plan, "copper(II)", labs=200)
    >>> found.counts.labs, found.counts.right > 180
    (200, True)
    """
    experiment = entry.record("plan", plan, Plan).experiment
    labs = entry.whole("labs", labs, least=1, most=_MOST_LABS)
    seed = entry.whole("seed", seed, least=0)
    truth_index(experiment, truth)
    low, high = experiment.recovery
    if recovered is None:
        middle, wide = (low + high) / 2, (high - low) / 2
        own = middle + wide * np.random.default_rng([seed, 1]).uniform(-1, 1, (labs, 1))
    else:
        middle = entry.number("recovered", recovered, above=0, most=10)
        own = np.full((labs, 1), middle)
    linear = nominal_lab(plan, truth, middle)
    expected = plan.expected_readings(truth, recovered=middle)
    drawn = Bench(plan, linear, expected, labs, seed, own / middle).drawn()
    alpha = 1 - experiment.coverage_each()
    return SimulatedLabs(
        plan,
        truth,
        drawn.consumed.mean(axis=1),
        drawn.produced.mean(axis=1),
        own[:, 0],
        _weighed(experiment, drawn.readings) or verdicts_of(drawn, experiment, linear),
        FrozenMap(drawn.readings),
        tuple(
            (limit_mol(linear, low * r, alpha), limit_mol(linear, high * r, alpha))
            for r in (float(c.ratio) for c in experiment.candidates)
        ),
    )


def _weighed(experiment: Experiment, shown: Mapping[str, Floats]) -> Verdicts | None:
    """Judge labs of two masses by difference on one balance; None for any other lab."""
    found = four_weighings(experiment)
    if found is None or not all(name in shown for name in found.names):
        return None
    tables = [shown[name] for name in found.names]
    return verdicts_of_weighings(tables, experiment, found.balance, experiment.coverage)
