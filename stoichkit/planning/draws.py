"""Readings of many labs drawn with their errors and rounded by the display, and how each is judged.

Every lab is judged by the limits of :mod:`stoichkit.planning.strips` at the planned amount, and by
the scatter of its own trials where the test lets that decide.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ..decision.arrays import assess_weighings
from ..decision.evidence import air_of
from ..decision.linear import BELOW_ZERO_LEVEL, EXCESS_LEVEL, SAME, LinearAmounts, unexplained
from ..experiments.record import Experiment
from ..measurement.base import AmountModel
from ..measurement.buoyancy import NOTHING
from ..measurement.displays import Balance
from ..uncertainty.digits import reach_of
from ..uncertainty.distribution import SumDistribution, student_tails
from ..uncertainty.montecarlo import draw
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Floats, Shape, Source, Term, nominal
from ..uncertainty.tails import chi_squared_limit
from .strips import Band, allowed_ratios, fits_at_worst, limit_of, strips_of

if TYPE_CHECKING:
    from .plan import Plan


@dataclass(frozen=True, slots=True, eq=False)
class Drawn:
    """Readings of labs, and the amounts of each trial worked out from them.

    Attributes
    ----------
    readings : mapping of str to ndarray, shape (labs, trials)
        What the displays showed, by reading name.
    consumed, produced : ndarray, shape (labs, trials)
        Amounts, mol.
    """

    readings: Mapping[str, Floats]
    consumed: Floats
    produced: Floats


class Bench:
    """The readings of a plan, how both amounts follow from them, and draws of their errors.

    Parameters
    ----------
    plan : Plan
    linear : LinearAmounts
        The lab as it would be if every reading showed what is expected.
    expected : mapping of str to float
        Those readings.
    labs, seed : int
    part : ndarray, shape (labs, 1), optional
        What each lab recovers over what is expected.
    known : mapping of str to ndarray, shape (labs,), optional
        Errors of sources that all trials share, by label, where they are not drawn anew.
    """

    def __init__(
        self,
        plan: Plan,
        linear: LinearAmounts,
        expected: Mapping[str, float],
        labs: int,
        seed: int,
        part: Floats | None = None,
        known: Mapping[str, Floats] | None = None,
    ) -> None:
        self.known = {} if known is None else known
        self.plan, self.labs, self.linear, self.expected = plan, labs, linear, expected
        self.rng = np.random.default_rng(seed)
        self.part = np.ones((1, 1)) if part is None else part
        experiment = plan.experiment
        self.roles = {
            r.name: r
            for r in experiment.roles()
            if r.name in expected and r.name not in experiment.shared_readings
        }
        models = (experiment.consumed, experiment.produced)
        self.slopes = _slopes(experiment, models, expected, self.roles)
        ways = [(side, model, way) for side, model in enumerate(models) for way in model.ways]
        self.sides = [side for side, _, _ in ways]
        self.main = [model.set_by(way) for _, model, way in ways]
        found = _slopes(experiment, [way for _, _, way in ways], expected, self.main)
        self.by_way = np.array([found[name] for name in self.main]).T
        self.shape = (labs, plan.trials)

    def _trial_of(self, source: Source, is_shared: bool) -> slice:
        """Return the trials a source belongs to."""
        name = source.label.rpartition(", trial ")[2]
        if is_shared or self.plan.trials == 1 or not name.isdecimal():
            return slice(None)
        return slice(int(name) - 1, int(name))

    def _draw_errors(self) -> tuple[dict[str, Floats], Floats, dict[str, float]]:
        """Draw every error but rounding and the variation between trials.

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
            if source.kind == "variation":
                continue
            where = self._trial_of(source, bool(shared))
            error = self.known.get(source.label)
            if error is None:
                error = draw(source, self.rng, self.labs)
            error = error[:, None]
            each = trials if where != slice(None) else 1
            effect = [float(c[i]) * each for c in coefficients]
            if own in self.roles and not shared:
                side = int(np.argmax(np.abs(self.slopes[own])))
                noise[own][:, where] += error * (effect[side] / self.slopes[own][side])
            else:
                for side in (0, 1):
                    amounts[side][:, where] += error * effect[side]
        return noise, amounts, steps

    def _differing(self) -> Floats:
        """Draw what each trial recovers over what its lab does; 1 without a stated variation."""
        variation = self.plan.experiment.variation
        if variation is None or variation.unknown:
            return np.ones((1, 1))
        size = np.full((self.labs, 1), variation.relative)
        if math.isfinite(variation.dof):  # the true variation, if the one stated was estimated
            size *= np.sqrt(variation.dof / self.rng.chisquare(variation.dof, (self.labs, 1)))
        return np.asarray(1 + size * self.rng.standard_normal(self.shape))

    def _readings(self) -> dict[str, Floats]:
        """Return what the displays show, each array of shape (labs, trials)."""
        relative = self.plan.spread * self.rng.uniform(-1, 1, self.shape)
        noise, amounts, steps = self._draw_errors()
        mean = self.linear.mean_consumed, self.linear.mean_produced
        made = (1 + relative) * self.part * self._differing() - 1
        change = amounts + np.stack([mean[0] * relative, mean[1] * made])
        # each route to an amount follows from its main reading; errors move all routes alike
        moved = np.einsum("ij,jlt->ilt", np.linalg.inv(self.by_way), change[self.sides])
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
                    shape = (self.labs, 1) if role.same_vessel else self.shape
                    vessels[group] = step * self.rng.uniform(0, 1, shape)
                value = value + vessels[group]
            shown[name] = np.round(value / step) * step if step else value
        return shown

    def drawn(self) -> Drawn:
        """Return readings and the amounts that follow from them."""
        shown = self._readings()
        amounts = [np.full(self.shape, m) for m in (self.linear.mean_consumed,
                                                    self.linear.mean_produced)]  # fmt: skip
        for name, values in shown.items():
            off = values - self.expected[name]
            for side in (0, 1):
                amounts[side] += self.slopes[name][side] * off
        return Drawn(shown, amounts[0], amounts[1])


def _slopes(
    experiment: Experiment,
    models: Sequence[AmountModel],
    expected: Mapping[str, float],
    roles: Iterable[str],
) -> dict[str, tuple[float, ...]]:
    """Return the change of each amount (mol) for a unit of each reading of a trial."""
    pool = ErrorPool()
    values = {k: nominal(v) for k, v in experiment.quantities(experiment.example(), pool).items()}
    values.update(expected)

    def amounts(changed: Mapping[str, float]) -> list[float]:
        return [nominal(model.amount(changed, pool)) for model in models]

    middle = amounts(values)
    found = {}
    for name in roles:
        moved = amounts({**values, name: values[name] + 1.0})
        found[name] = tuple(there - here for there, here in zip(moved, middle, strict=True))
    return found


@dataclass(frozen=True, slots=True, eq=False)
class Verdicts:
    """What many labs come to.

    Attributes
    ----------
    compatible : ndarray of bool, shape (labs, candidates)
    below_zero : ndarray of bool, shape (labs,)
        Whether an amount lies below zero beyond what the readings explain.
    nothing_reacted : ndarray of bool, shape (labs,)
        Whether a lone candidate fits readings that do not show that anything reacted.
    """

    compatible: NDArray[np.bool_]
    below_zero: NDArray[np.bool_]
    nothing_reacted: NDArray[np.bool_]

    def numbers(self, truth: int) -> NDArray[np.intp]:
        """Return the outcome of each lab as its place in ``outcomes.PARTS``."""
        fits = self.compatible.sum(axis=1)
        mine = self.compatible[:, truth] if truth >= 0 else np.zeros(fits.size, dtype=np.bool_)
        found = np.where(fits == 0, 3, np.where(fits > 1, 2, np.where(mine, 0, 1)))
        found[(fits == 1) & self.nothing_reacted] = 2
        found[self.below_zero] = 4
        return np.asarray(found)

    def counts(self, truth: int) -> list[int]:
        """Return how many labs came to each outcome, in the order of ``outcomes.PARTS``."""
        return [int(n) for n in np.bincount(self.numbers(truth), minlength=5)]


def verdicts_of_weighings(
    tables: Sequence[Floats], experiment: Experiment, balance: Balance, coverage: float
) -> Verdicts:
    """Judge labs of two masses by difference on one balance from their readings.

    ``tables`` are those that :func:`stoichkit.assess_weighings` takes, each (labs, trials);
    ``coverage`` is that over all looks planned.
    """
    judged = assess_weighings(
        *tables,
        consumed=experiment.consumed.species,
        produced=experiment.produced.species,
        candidates=experiment.candidates,
        balance=balance,
        coverage=coverage,
        recovery=experiment.recovery,
        variation=experiment.variation,
        looks=experiment.looks,
    )
    return Verdicts(judged.compatible, judged.below_zero, judged.nothing_reacted)


def verdicts_of(labs: Drawn, experiment: Experiment, linear: LinearAmounts) -> Verdicts:
    """Judge labs by the test as it is at the planned amount.

    What lies within limits averaged over the positions between two display steps is compatible at
    the worst of them too: only the others are asked for that.
    """
    means = labs.consumed.mean(axis=1), labs.produced.mean(axis=1)
    if labs.consumed.shape[1] == 1:
        return verdicts_of_means(means, experiment, linear)
    recovery, _ = allowance_of(experiment, linear)
    own = _by_scatter(labs, linear, experiment, recovery)
    below = trials_below(labs, linear.part([0], np.ones(1)), labs.consumed.shape[1])
    return verdicts_of_means(means, experiment, linear, own, below)


def trials_below(labs: Drawn, one: LinearAmounts, trials: int) -> NDArray[np.bool_]:
    """Return in which labs a trial lies below zero beyond what its readings explain.

    ``one`` is a single trial, ``trials`` how many there are in all.
    """
    level = BELOW_ZERO_LEVEL / (2 * (trials + 1))
    below = np.zeros(len(labs.consumed), dtype=np.bool_)
    for amounts, way in ((labs.consumed, (1.0, 0.0)), (labs.produced, (0.0, 1.0))):
        if (amounts < 0).any():
            below |= (amounts < -limit_of(*one.blocks(*way), level)).any(axis=1)
    return below


ByScatter = Callable[[float, float], NDArray[np.bool_]]
"""Says which labs fit a ratio, at 1 − coverage, by the scatter of their own trials or groups."""


def verdicts_of_means(
    means: tuple[Floats, Floats],
    experiment: Experiment,
    linear: LinearAmounts,
    own: ByScatter | None = None,
    below: NDArray[np.bool_] | None = None,
) -> Verdicts:
    """Judge labs by their mean amounts, each shaped (labs,), and by their own scatter if any.

    ``below`` are labs that cannot be judged, because a trial of theirs is below zero.
    """
    n_a, n_b = means
    ratios = [float(c.ratio) for c in experiment.candidates]
    alpha = 1 - experiment.coverage_each()
    recovery, air = allowance_of(experiment, linear)
    band = Band(n_a, n_b, n_b)
    strips = strips_of(linear, ratios, recovery, alpha, air=air, band=band, averaged=True)
    compatible = np.zeros((n_a.size, len(ratios)), dtype=np.bool_)
    lower, upper, cut = strips.regions(n_a)
    compatible[:, strips.which] = (n_b[:, None] >= lower) & (n_b[:, None] <= upper)
    for place, i in enumerate(strips.which.tolist()):
        left = np.flatnonzero(~compatible[:, i])
        ratios_tested = np.unique(strips.ratios[place]).tolist()
        compatible[left, i] = fits_at_worst(linear, ratios_tested, n_a[left], n_b[left], alpha)
    if own is not None:
        for i, each in enumerate(ratios):
            allowed = allowed_ratios(each, recovery) * np.reshape(air, (2, 1))
            for ratio in np.unique(allowed).tolist():
                compatible[:, i] |= own(ratio, alpha)
    under = (n_a < -strips.floors_mol[0]) | (n_b < -strips.floors_mol[1])
    if below is not None:
        under |= below
    nothing = np.zeros(n_a.size, dtype=np.bool_)
    alone = (compatible.sum(axis=1) == 1) & compatible[:, strips.which].any(axis=1)
    if cut is not None and alone.any():
        who = compatible[:, strips.which].argmax(axis=1)
        nothing = alone & (n_b < np.take_along_axis(cut, who[:, None], axis=1)[:, 0])
    return Verdicts(compatible, under, nothing)


def allowance_of(
    experiment: Experiment, linear: LinearAmounts
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return the recovery that the test allows, and what else air may do to the ratio.

    Where air always matters it is a part of the former, as in the test itself. Where it is allowed
    for only if it decides, a candidate fits exactly if it does with or without it.
    """
    recovery = experiment.recovery
    air, fine = air_of(experiment, [(linear.mean_consumed, linear.mean_produced)])
    if not fine:
        return recovery, air
    return (recovery[0] * air[0], recovery[1] * air[1]), NOTHING


def _by_scatter(
    labs: Drawn, linear: LinearAmounts, experiment: Experiment, recovery: tuple[float, float]
) -> ByScatter:
    """Return a function that says which labs fit a ratio by the scatter of their own trials.

    Where the variation is unknown every lab may; elsewhere one whose trials scatter too much.
    """
    n = labs.consumed.shape[1]
    dof, variation = n - 1, experiment.variation
    unknown = variation is not None and variation.unknown
    if not unknown:
        size = np.hypot(labs.consumed.mean(axis=1), labs.produced.mean(axis=1))
        x, y = (
            a.mean(axis=1) / np.where(size > 0, size, 1.0) for a in (labs.produced, labs.consumed)
        )
        d = y[:, None] * labs.produced - x[:, None] * labs.consumed
        vx, vy, both = (linear.own_variance(*w) for w in ((1.0, 0.0), (0.0, 1.0), (1.0, 1.0)))
        own = n * (x * x * vx + y * y * vy + x * y * (both - vx - vy))
        squares = ((d - d.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
        chi_squared = np.divide(squares, own, out=np.zeros_like(squares), where=own > 0)
        most = chi_squared_limit(EXCESS_LEVEL, dof)
        chosen = np.flatnonzero(chi_squared > most)
        if recovery[0] < recovery[1]:  # what that explains is no excess
            left = unexplained(labs.consumed[chosen], labs.produced[chosen], recovery)
            still = y[chosen] ** 2 * left / own[chosen] > most
            chosen = chosen[still | (y[chosen] <= 0)]
        spread = np.sqrt(chi_squared[chosen] / dof)

    def fits(ratio: float, alpha: float) -> NDArray[np.bool_]:
        d = labs.produced - ratio * labs.consumed
        found = np.zeros(len(d), dtype=np.bool_)
        if unknown:
            scale = d.std(axis=1, ddof=1) / math.sqrt(n)
            which = np.flatnonzero(scale > SAME * np.abs(d).max(axis=1))
            scale = scale[which]
        else:
            which, scale = chosen, spread * math.sqrt(linear.own_variance(ratio, 1.0))
        mean = np.abs(d[which].mean(axis=1))
        found[which] = fits_student(mean, scale, dof, linear.shared_terms(ratio, 1.0), alpha)
        return found

    return fits


def fits_student(
    mean: Floats, scale: Floats, dof: int, shared: Sequence[Term], alpha: float
) -> NDArray[np.bool_]:
    """Return which mean discrepancies, 0 or more, a Student t with what is shared leaves fitting.

    ``scale`` is the standard uncertainty of each mean by its own scatter.

    >>> fits_student(np.array([0.9, 1.1]), np.array([0.5, 0.5]), 10**6, (), 0.05).tolist()
    [True, False]
    """
    from scipy.special import stdtrit

    t = float(stdtrit(dof, 1 - alpha / 2))
    reach = sum(reach_of(term) for term in shared)
    found = np.asarray(mean <= t * scale + (reach <= scale / 20) * reach)
    # beyond that, but not beyond all shared errors at their ends
    unsure = np.flatnonzero((mean > t * scale) & (mean <= t * scale + reach) & (reach > scale / 20))
    for i in unsure.tolist() if not all(_flat(term) for term in shared) else ():
        error = SumDistribution([*shared, Term(Shape.STUDENT_T, float(scale[i]), float(dof))])
        found[i] = error.two_sided(float(mean[i])) >= alpha
    if unsure.size and all(_flat(term) for term in shared):
        widths = np.repeat([[term.scale] for term in shared], unsure.size, axis=1)
        found[unsure] = student_tails(mean[unsure], widths, scale[unsure], dof) >= alpha
    return found


def _flat(term: Term) -> bool:
    return term.shape is Shape.RECTANGULAR
