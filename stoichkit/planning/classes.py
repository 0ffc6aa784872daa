"""The chance that a class together concludes: the groups of a plan pooled, and judged as one.

The verdict of a class (:mod:`stoichkit.classroom`) pools the mean amounts of its groups and keeps a
candidate unless the readings of all trials *and* the scatter of the groups exclude it: Student t
over the groups with the interval of Hartung and Knapp. The same is asked here of classes drawn from
a plan, many at once. ``tests/studies/rooms.py`` compares both over classes drawn apart.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from .._common import FrozenMap
from ..decision.evidence import trial_amounts
from ..decision.linear import SAME, LinearAmounts
from ..errors import ModelError
from ..experiments.parts import Trial, Variation
from ..experiments.record import Experiment
from ..uncertainty import entry
from ..uncertainty.montecarlo import draw
from ..uncertainty.sources import Floats, Number
from .draws import Bench, Drawn, fits_student, trials_below, verdicts_of_means
from .outcomes import Chances, chances_from
from .plan import OperatingCharacteristic, Plan, least, nominal_lab, truth_index

MOST_GROUPS, _MOST_TRIALS = 60, 1000
_CLASSES, _SEED = 4000, 1
_EVEN = 1.5
"""Uncertainties of groups that differ by no more than this leave all with the same weight."""
_HALVINGS = 50


@dataclass(frozen=True, slots=True)
class Groups:
    """Groups of a class that do the same plan on instruments they share.

    Attributes
    ----------
    plan : Plan
    number : int
        1 to 60.
    """

    plan: Plan
    number: int

    def __post_init__(self) -> None:
        entry.record("plan", self.plan, Plan)
        entry.kept(self, number=entry.whole("number", self.number, least=1, most=MOST_GROUPS))


def class_chances(
    groups: Sequence[Groups],
    truth: str,
    *,
    recovered: float | None = None,
    classes: int = _CLASSES,
    seed: int = _SEED,
) -> Chances:
    """Return the chance of each verdict of a whole class when one candidate is true.

    Parameters
    ----------
    groups : sequence of Groups
        Two groups or more in all; one entry for each kind of balance in the class. All plans are of
        one lab: the same substances, candidates, recovery and coverage.
    truth : str
        Name of a candidate, or ``"nothing reacted"``.
    recovered : float, optional
        Fraction of the product that every group recovers, above 0 to 10. If left out, the chances
        at the recovery, of those allowed, where that of a right conclusion is least.
    classes : int
        Classes simulated, 100 to 100,000.
    seed : int
        0 or more; the same seed gives the same classes, so that two plans are seen through the
        same luck.

    Returns
    -------
    Chances
        ``labs`` is the number of classes; ``standard_error`` says how far ``right`` can be off.

    Raises
    ------
    ModelError
        If there are fewer than two groups or more than 1000 trials, two plans are of different
        labs, there is no such candidate, or a number cannot be used.

    Notes
    -----
    What is assumed. The groups truly differ by nothing but their readings, unless the experiment
    states by how much (``between_groups``, or a variation between trials). The verdict does not
    know that, and counts the scatter of the groups beside the readings: that is where a class of
    few groups loses. Where it is stated, a real class is judged by the readings alone, so that no
    more is promised here than is so. What the groups of one balance share (its calibration, one
    solution, atomic weights) is drawn once for the class. A straight line through the groups
    takes the decision from the pooled mean only where a constant blank shows (less than 1 class
    in 1000 without one): that is left out. So is that routes to one amount disagree. The limits of
    compatibility are those at the planned amount.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver-coarse"), consumed_mol=0.003)
    >>> found = class_chances([Groups(plan, 8)], "copper(II)", classes=500)
    >>> found.right > 0.8, found.wrong < 0.05
    (True, True)
    """
    kinds = _checked(groups)
    classes = entry.whole("classes", classes, least=100, most=100_000)
    seed = entry.whole("seed", seed, least=0, most=2**32 - 1)
    experiment = kinds[0].plan.experiment
    index = truth_index(experiment, truth)
    if recovered is None:
        each = [
            (f, class_chances(kinds, truth, recovered=f, classes=classes, seed=seed))
            for f in kinds[0].plan.recoveries
        ]
        return least(tuple(each))
    recovered = entry.number("recovered", recovered, above=0, most=10)
    made = _Class(kinds, truth, recovered)
    counts = made.verdict_counts(index, classes, seed)
    return chances_from((n / classes for n in counts), labs=classes)


def class_characteristic(
    groups: Sequence[Groups], *, classes: int = _CLASSES, seed: int = _SEED
) -> OperatingCharacteristic:
    """Return the chance of each verdict of a class for each candidate taken as true.

    Parameters
    ----------
    groups, classes, seed
        As for :func:`class_chances`.

    Returns
    -------
    OperatingCharacteristic
        Its plan is that of the first groups.

    Raises
    ------
    ModelError
        As for :func:`class_chances`.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.0005)
    >>> class_characteristic([Groups(plan, 6)], classes=500).right > 0.9
    True
    """
    kinds = _checked(groups)
    first = kinds[0].plan
    found = {
        c.name: tuple(
            (f, class_chances(kinds, c.name, recovered=f, classes=classes, seed=seed))
            for f in first.recoveries
        )
        for c in first.experiment.candidates
    }
    return OperatingCharacteristic(first, FrozenMap(found))


def _checked(groups: Sequence[Groups]) -> tuple[Groups, ...]:
    """Return groups that can make up a class."""
    kinds = tuple(entry.listed("groups", groups, Groups))
    number = sum(one.number for one in kinds)
    trials = sum(one.number * one.plan.trials for one in kinds)
    if number < 2 or number > MOST_GROUPS or trials > _MOST_TRIALS:
        raise ModelError(
            "These groups do not make up a class.",
            given=f"{number} groups, {trials} trials",
            allowed=f"2 to {MOST_GROUPS} groups, {_MOST_TRIALS} trials at most",
        )
    first = kinds[0].plan.experiment
    for one in kinds[1:]:
        other = one.plan.experiment
        for name in ("consumed", "produced", "candidates", "recovery", "coverage", "variation"):
            if getattr(other, name) != getattr(first, name):
                raise ModelError(
                    "The groups of a class do not plan the same lab.",
                    given=f"{name} of {other.title}",
                    fix="Plan each lab as a class of its own.",
                )
    return kinds


class _Class:
    """A class as it would be if every reading showed what is expected; draws are judged by it."""

    def __init__(self, kinds: Sequence[Groups], truth: str, recovered: float) -> None:
        self.kinds, self.recovered = kinds, recovered
        self.experiment = kinds[0].plan.experiment
        self.numbers = np.array([one.number for one in kinds])
        self.readings = [k.plan.expected_readings(truth, recovered=recovered) for k in kinds]
        self.labs = [nominal_lab(k.plan, truth, recovered) for k in kinds]
        # of several trials: what of their errors all share, and by how much each differs by itself
        self.twos = [
            nominal_lab(replace(k.plan, trials=max(2, k.plan.trials)), truth, recovered)
            for k in kinds
        ]
        x, y = _direction(self.labs[0])
        variance = self.variances(x, y)
        self.weights = _weights(variance, self.numbers)
        self.linear = self._together()

    def variances(self, x: float, y: float) -> Floats:
        """Return the variance of each kind of group's own discrepancy, mol²."""
        return np.array([
            two.own_variance(x, y) * two.trials / kind.plan.trials
            for two, kind in zip(self.twos, self.kinds, strict=True)
        ])  # fmt: skip

    def _together(self) -> LinearAmounts:
        """Return all trials of the class, scaled so that their mean is that of the verdict."""
        pairs: list[tuple[Number, Number]] = []
        roles: dict[str, str] = {}
        total = sum(k.number * k.plan.trials for k in self.kinds)
        for number, (kind, shown) in enumerate(zip(self.kinds, self.readings, strict=True), 1):
            experiment = kind.plan.experiment
            own = {
                name: (f"{value:.15g}",) * experiment.repeats(name)
                for name, value in shown.items()
                if name not in experiment.shared_readings
            }
            names = [f"{number}.{i}" for i in range(kind.number * kind.plan.trials)]
            lab = experiment.with_trials([Trial(name, own) for name in names])
            factor = float(self.weights[number - 1]) * total / kind.plan.trials
            pairs += [(a * factor, b * factor) for a, b in trial_amounts(lab)]
            roles |= {
                f"{role.name}, trial {name}": f"{role.name} ({number})"
                for name in names
                for role in lab.roles()
            }
        return LinearAmounts(pairs, roles)

    def _drawn(self, classes: int, seed: int) -> Iterator[Drawn]:
        """Yield the trials of each kind of group, arrays of shape (classes, groups, trials)."""
        of_all: dict[str, Floats] = {}
        for place, (kind, linear, shown) in enumerate(
            zip(self.kinds, self.labs, self.readings, strict=True)
        ):
            rng = np.random.default_rng([seed, place])
            two, labs = self.twos[place], classes * kind.number
            known = {
                source.label: np.repeat(draw(source, rng, classes), kind.number)
                for source, shared in zip(two.sources, two.shared, strict=True)
                if shared and source.kind != "variation"
            }
            # atomic weights are the same for all
            known |= {k: np.repeat(v, kind.number) for k, v in of_all.items() if k in known}
            of_all |= {
                source.label: known[source.label][:: kind.number]
                for source in two.sources
                if source.kind == "atomic weight"
            }
            part = 1 + _between(self.experiment) * rng.standard_normal((labs, 1))
            bench = Bench(kind.plan, linear, shown, labs, int(rng.integers(2**31)), part, known)
            found = bench.drawn()
            shape = (classes, kind.number, kind.plan.trials)
            yield Drawn({}, found.consumed.reshape(shape), found.produced.reshape(shape))

    def verdict_counts(self, truth: int, classes: int, seed: int) -> list[int]:
        """Return how many classes come to each outcome."""
        drawn = list(self._drawn(classes, seed))
        total = int(sum(one.consumed.shape[1] * one.consumed.shape[2] for one in drawn))
        below = np.zeros(classes, dtype=np.bool_)
        for one, linear in zip(drawn, self.labs, strict=True):
            flat = Drawn({}, one.consumed.reshape(classes, -1), one.produced.reshape(classes, -1))
            below |= trials_below(flat, linear.part([0], np.ones(1)), total)
        consumed, produced = (
            np.concatenate([getattr(one, side).mean(axis=2) for one in drawn], axis=1)
            for side in ("consumed", "produced")
        )
        weight = np.repeat(self.weights, self.numbers)

        def by_scatter(ratio: float, alpha: float) -> np.ndarray:
            d = produced - ratio * consumed
            variance = np.repeat(self.variances(ratio, 1.0), self.numbers)
            mean, scale = pooled(d, variance)
            # none where all groups agree exactly: there is no scatter to judge by
            some = np.flatnonzero(scale > SAME * np.abs(d).max(axis=1))
            found = np.zeros(classes, dtype=np.bool_)
            found[some] = fits_student(
                np.abs(mean[some]), scale[some], d.shape[1] - 1,
                self.linear.shared_terms(ratio, 1.0), alpha,
            )  # fmt: skip
            return found

        means = consumed @ weight, produced @ weight
        found = verdicts_of_means(means, self.experiment, self.linear, by_scatter, below)
        return found.counts(truth)


def _between(experiment: Experiment) -> float:
    """Return by how much groups truly differ, relative; 0 unless it is stated."""
    stated = experiment.between_groups
    if not isinstance(stated, Variation) or stated.unknown:
        return 0.0
    return float(stated.relative)


def _direction(linear: LinearAmounts) -> tuple[float, float]:
    size = math.hypot(linear.mean_consumed, linear.mean_produced)
    if not size:
        return math.sqrt(0.5), math.sqrt(0.5)
    return linear.mean_produced / size, linear.mean_consumed / size


def _weights(variance: Floats, numbers: np.ndarray) -> Floats:
    """Return the weight of one group of each kind in the mean of a class; all together are 1.

    Equal, unless their uncertainties differ by more than half: then by inverse variance.

    >>> _weights(np.array([1.0, 1.2]), np.array([2, 2])).tolist()
    [0.25, 0.25]
    >>> _weights(np.array([1.0, 9.0]), np.array([1, 9])).tolist()
    [0.5, 0.05555555555555555]
    """
    weights = 1 / variance
    weights = weights / float(weights @ numbers)
    factors = weights * int(numbers.sum())
    if factors.max() <= _EVEN and factors.min() >= 1 / _EVEN:
        return np.full(variance.size, 1 / int(numbers.sum()))
    return np.asarray(weights)


def pooled(estimates: Floats, variances: Floats) -> tuple[Floats, Floats]:
    """Pool many classes at once: random effects by Paule and Mandel, interval by Hartung and Knapp.

    Parameters
    ----------
    estimates : ndarray, shape (classes, groups)
    variances : ndarray, shape (groups,)
        Above 0; the same in every class.

    Returns
    -------
    (ndarray, ndarray), shapes (classes,)
        Mean, and its standard uncertainty for a Student t with groups − 1 degrees of freedom, as
        :func:`stoichkit.uncertainty.pooling.pool` gives them.

    Examples
    --------
    >>> mean, scale = pooled(np.array([[1.0, 2.0, 3.0]]), np.array([1.0, 1.0, 1.0]))
    >>> mean.tolist(), scale.round(4).tolist()
    ([2.0], [0.5774])
    """
    y, dof = estimates, estimates.shape[1] - 1
    if np.ptp(variances) <= 1e-9 * variances.max():  # whatever the variance between groups is
        return y.mean(axis=1), y.std(axis=1, ddof=1) / math.sqrt(y.shape[1])

    def weighed(tau_squared: Floats) -> tuple[Floats, Floats, Floats]:
        w = 1 / (variances + tau_squared[:, None])
        total = w.sum(axis=1)
        mean = (w * y).sum(axis=1) / total
        return mean, total, (w * (y - mean[:, None]) ** 2).sum(axis=1)

    low = np.zeros(len(y))
    high = np.maximum(y.var(axis=1, ddof=1) - variances.min(), 0.0)
    high[weighed(low)[2] <= dof] = 0.0
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        more = weighed(middle)[2] > dof
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    mean, total, q = weighed(high)
    return mean, np.sqrt(q / (dof * total))
