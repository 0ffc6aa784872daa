"""Simulated labs of a plan: every reading drawn with its errors, rounded by the display, judged.

The chances of :mod:`stoichkit.planning.plan` are exact and need no random numbers; simulated labs
show what they look like, as points of the amounts plane, and check them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .._common import FrozenMap
from ..decision.arrays import assess_weighings, four_weighings
from ..experiments.record import Experiment
from ..uncertainty import entry
from ..uncertainty.montecarlo import draw
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Floats, Shape, Source, nominal
from .outcomes import limit_mol
from .plan import Plan, nominal_lab

_MOST_LABS = 100_000


@dataclass(frozen=True, slots=True)
class Counts:
    """How many simulated labs came to each verdict; as :class:`Chances` does."""

    right: int
    wrong: int
    not_told_apart: int
    none_fits: int

    @property
    def labs(self) -> int:
        """Number of labs."""
        return self.right + self.wrong + self.not_told_apart + self.none_fits


@dataclass(frozen=True, slots=True, eq=False)
class SimulatedLabs:
    """Labs drawn from a plan, each judged as a lab of its own.

    Attributes
    ----------
    plan : Plan
    truth : str
        The candidate taken as true.
    consumed_mol, produced_mol : ndarray, shape (labs,)
        Mean amounts over the trials, worked out from the rounded readings.
    compatible : ndarray of bool, shape (labs, candidates)
    readings : mapping of str to ndarray, shape (labs, trials)
        What the displays showed, by reading name.
    limits_mol : tuple of float
        Largest |n_produced − r n_consumed| that leaves each candidate compatible; exact for
        judging where errors do not depend on the amount, for drawing elsewhere.
    """

    plan: Plan
    truth: str
    consumed_mol: Floats
    produced_mol: Floats
    compatible: NDArray[np.bool_]
    readings: Mapping[str, Floats]
    limits_mol: tuple[float, ...]

    def __len__(self) -> int:
        return self.consumed_mol.size

    @property
    def kinds(self) -> list[str]:
        """Verdict of each lab: "right", "wrong", "not_told_apart" or "none_fits"."""
        number = self.compatible.sum(axis=1)
        right = self.compatible[:, _index(self.plan.experiment, self.truth)]
        words = np.array(["none_fits", "wrong", "not_told_apart", "right"])
        return [str(w) for w in words[np.where((number == 1) & right, 3, np.minimum(number, 2))]]

    @property
    def counts(self) -> Counts:
        """Labs of each verdict."""
        kinds = self.kinds
        return Counts(*(kinds.count(k) for k in ("right", "wrong", "not_told_apart", "none_fits")))


def simulate_labs(plan: Plan, truth: str, *, labs: int = 400, seed: int = 1) -> SimulatedLabs:
    """Draw labs in which one candidate is true, and judge each.

    Parameters
    ----------
    plan : Plan
    truth : str
        Name of a candidate.
    labs : int
        1 to 100,000.
    seed : int
        0 or more; the same seed gives the same draws, so that a changed plan is seen through the
        same luck.

    Raises
    ------
    ModelError
        If there is no such candidate, an amount cannot be varied, or a number cannot be used.

    Notes
    -----
    The amount of each trial lies within the spread of the plan. Errors of instruments, atomic
    weights and the recovery allowance act on the reading that grows with the amount; then every
    reading is rounded to the step of its display. What stays on the pan weighs anything, so the
    digits of two weighings in one vessel start from a random place between two steps.

    Labs that weigh both substances by difference on one balance are judged by
    :func:`stoichkit.assess_weighings`; elsewhere candidate k is compatible where
    \\|n_produced − r_k n_consumed\\| is at most :func:`limit_mol` at the planned
    amount. That leaves out the alarm at trials that scatter too much (1 % of labs or fewer).

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> found = simulate_labs(plan, "copper(II)", labs=200)
    >>> found.counts.labs, found.counts.right > 180
    (200, True)
    """
    entry.record("plan", plan, Plan)
    labs = entry.whole("labs", labs, least=1, most=_MOST_LABS)
    seed = entry.whole("seed", seed, least=0)
    return _Bench(plan, truth, labs, seed).judged()


def _index(experiment: Experiment, truth: str) -> int:
    return [c.name for c in experiment.candidates].index(truth)


class _Bench:
    """The readings of a plan, how both amounts follow from them, and draws of their errors."""

    def __init__(self, plan: Plan, truth: str, labs: int, seed: int) -> None:
        self.plan, self.truth, self.labs = plan, truth, labs
        self.rng = np.random.default_rng(seed)
        self.expected = plan.expected_readings(truth)
        self.linear = nominal_lab(plan, truth)
        experiment = plan.experiment
        self.roles = {
            r.name: r
            for r in experiment.roles()
            if r.name in self.expected and r.name not in experiment.shared_readings
        }
        self.slopes = _slopes(plan, self.expected, self.roles)
        models = (experiment.consumed, experiment.produced)
        self.main = (models[0].main_reading(), models[1].main_reading())
        self.shape = (labs, plan.trials)

    def _trial_of(self, source: Source, is_shared: bool) -> slice:
        """Return the trials a source belongs to."""
        name = source.label.rpartition(", trial ")[2]
        if is_shared or self.plan.trials == 1 or not name.isdecimal():
            return slice(None)
        return slice(int(name) - 1, int(name))

    def _draw_errors(self) -> tuple[dict[str, Floats], Floats, dict[str, float]]:
        """Draw every error but rounding.

        Returns errors of single readings, in their units; errors of both amounts from anything
        else, mol, shape (2, labs, trials); and the display step of each reading that has one.
        """
        trials = self.plan.trials
        noise = {name: np.zeros(self.shape) for name in self.roles}
        amounts = np.zeros((2, *self.shape))
        steps: dict[str, float] = {}
        coefficients = self.linear.mean_coefficients()
        for i, (source, shared) in enumerate(
            zip(self.linear.sources, self.linear.shared, strict=True)
        ):
            own = source.reading.rpartition(", trial ")[0]
            on_display = source.kind == "rounding" and source.shape is Shape.RECTANGULAR
            if own in self.roles and on_display:
                steps[own] = 2 * source.scale
                continue
            where = self._trial_of(source, bool(shared))
            error = draw(source, self.rng, self.labs)[:, None]
            each = trials if where != slice(None) else 1
            effect = [float(c[i]) * each for c in coefficients]
            if own in self.roles and not shared:
                side = int(np.argmax(np.abs(self.slopes[own])))
                noise[own][:, where] += error * (effect[side] / self.slopes[own][side])
            else:
                for side in (0, 1):
                    amounts[side][:, where] += error * effect[side]
        return noise, amounts, steps

    def readings(self) -> dict[str, Floats]:
        """Return what the displays show, each array of shape (labs, trials)."""
        relative = self.plan.spread * self.rng.uniform(-1, 1, self.shape)
        noise, amounts, steps = self._draw_errors()
        mean = np.array([self.linear.mean_consumed, self.linear.mean_produced])
        change = amounts + mean[:, None, None] * relative
        # both amounts follow from their two main readings
        square = np.array([[self.slopes[m][side] for m in self.main] for side in (0, 1)])
        moved = np.einsum("ij,jlt->ilt", np.linalg.inv(square), change)
        vessels: dict[str, Floats] = {}
        shown = {}
        for name, role in self.roles.items():
            value = self.expected[name] + noise[name]
            for main, move in zip(self.main, moved, strict=True):
                if main == name:
                    value = value + move
            step = steps.get(name, 0.0)
            if role.vessel_group and step:
                group = role.vessel_group
                if group not in vessels:
                    vessels[group] = step * self.rng.uniform(0, 1, self.shape)
                value = value + vessels[group]
            shown[name] = np.round(value / step) * step if step else value
        return shown

    def judged(self) -> SimulatedLabs:
        """Return the labs with their verdicts."""
        experiment = self.plan.experiment
        shown = self.readings()
        means = [self.linear.mean_consumed, self.linear.mean_produced]
        for name, values in shown.items():
            off = (values - self.expected[name]).mean(axis=1)
            for side in (0, 1):
                means[side] = means[side] + self.slopes[name][side] * off
        alpha = 1 - experiment.coverage
        ratios = [float(c.ratio) for c in experiment.candidates]
        limits = tuple(limit_mol(self.linear, r, alpha) for r in ratios)
        consumed, produced = (np.broadcast_to(m, (self.labs,)).astype(float) for m in means)
        compatible = _weighed(experiment, shown)
        if compatible is None:
            compatible = np.column_stack(
                [
                    np.abs(produced - r * consumed) <= t * (1 + 1e-9)
                    for r, t in zip(ratios, limits, strict=True)
                ]
            )
        return SimulatedLabs(
            self.plan, self.truth, consumed, produced, compatible, FrozenMap(shown), limits
        )


def _slopes(
    plan: Plan, expected: Mapping[str, float], roles: Iterable[str]
) -> dict[str, tuple[float, float]]:
    """Return the change of both amounts (mol) for a unit of each reading of a trial."""
    experiment, pool = plan.experiment, ErrorPool()
    values = {k: nominal(v) for k, v in experiment.quantities(experiment.trials[0], pool).items()}
    values.update(expected)
    low, high = experiment.recovery
    gain = (1.0, (1 / low + 1 / high) / 2)
    models = (experiment.consumed, experiment.produced)

    def amounts(changed: Mapping[str, float]) -> list[float]:
        return [
            g * nominal(model.amount(changed, pool)) for g, model in zip(gain, models, strict=True)
        ]

    middle = amounts(values)
    found = {}
    for name in roles:
        moved = amounts({**values, name: values[name] + 1.0})
        found[name] = (moved[0] - middle[0], moved[1] - middle[1])
    return found


def _weighed(experiment: Experiment, shown: Mapping[str, Floats]) -> NDArray[np.bool_] | None:
    """Judge labs of two masses by difference on one balance; None for any other lab."""
    found = four_weighings(experiment)
    if found is None or not all(name in shown for name in found.names):
        return None
    return assess_weighings(
        *(shown[name] for name in found.names),
        consumed=experiment.consumed.species,
        produced=experiment.produced.species,
        candidates=experiment.candidates,
        balance=found.balance,
        coverage=experiment.coverage,
        recovery=experiment.recovery,
    ).compatible
