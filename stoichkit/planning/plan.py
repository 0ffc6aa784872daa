"""Before the lab: how likely is each verdict, for amounts, instruments and trials still to choose.

A plan is an experiment's models, instruments and candidates with an amount to react. For each
candidate taken as true, the readings it would give are worked back from the models, the tool's
own test gives the strip of compatible amounts for every candidate, and the chance of each verdict
follows (:mod:`stoichkit.planning.outcomes`). The reacting amount is spread over a stated range,
since nobody hits a mass to better than the display; a spread of 0 gives the answer at one fixed
amount. What is recovered may be anything in the range allowed: the chances are worked out at five
recoveries from end to end, and the least is what a plan promises.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from .._common import FrozenMap
from ..chemistry.elements import molar_mass_value
from ..decision.evidence import linear_amounts
from ..decision.linear import LinearAmounts, variation_term
from ..errors import ModelError
from ..experiments.parts import Prior, Trial
from ..experiments.record import Experiment
from ..measurement.base import AmountModel
from ..uncertainty import entry
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Shape, Term, nominal
from .draws import Bench, allowance_of, verdicts_of
from .outcomes import (
    Chances,
    Lattice,
    Points,
    Rows,
    cells_of,
    chances_from,
    chances_of,
    displays_of,
    lattice_of,
    mixed,
)
from .strips import Strips, alarm_limits, alarm_share, strips_of

MOST_TRIALS = 64
NOTHING = "nothing reacted"
"""Taken as true in place of a candidate: no amount of anything reacts."""
_AMOUNTS = 17
_RECOVERIES = 5
_LABS, _SEED = 20_000, 1
"""Labs simulated where the trials' own scatter decides or their readings hang together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A lab still to be done.

    Attributes
    ----------
    experiment : Experiment
        Models, instruments, candidates, recovery allowance and coverage; its first trial gives
        the readings that do not depend on the amount (vessels, room temperature, current), and
        how often a reading is made that is averaged.
    consumed_mol : float
        Amount of the consumed species to react in each trial, mol; above 0.
    trials : int
        Trials in the lab, 1 to 64.
    spread : float
        Each trial's amount lies anywhere within this relative half-width of ``consumed_mol``;
        0 (exactly this amount) to 0.9. Nobody hits a mass to better than the display.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002)
    >>> round(plan.consumed_mass_g, 4)
    0.1271
    """

    experiment: Experiment
    consumed_mol: float
    trials: int = 1
    spread: float = 0.1

    def __post_init__(self) -> None:
        entry.record("experiment", self.experiment, Experiment)
        entry.kept(
            self,
            consumed_mol=entry.number("consumed_mol", self.consumed_mol, above=0, most=1e6),
            trials=entry.whole("trials", self.trials, least=1, most=MOST_TRIALS),
            spread=entry.number("spread", self.spread, least=0, most=0.9),
        )

    @property
    def consumed_mass_g(self) -> float:
        """Mass of the consumed species to react in each trial, g (nan for electrons)."""
        species = self.experiment.consumed.species
        return math.nan if species == "e-" else self.consumed_mol * molar_mass_value(species)

    @property
    def recoveries(self) -> tuple[float, ...]:
        """Fractions of the product recovered at which the chances are worked out, rising.

        >>> from dataclasses import replace
        >>> from stoichkit import experiments
        >>> lab = replace(experiments.load("copper-silver"), recovery=(0.8, 1.0))
        >>> [round(f, 2) for f in Plan(experiment=lab, consumed_mol=0.002).recoveries]
        [0.8, 0.85, 0.9, 0.95, 1.0]
        """
        low, high = self.experiment.recovery
        return tuple(np.linspace(low, high, _RECOVERIES if low < high else 1).tolist())

    @property
    def right_of_single(self) -> float:
        """Part of the labs that single out a candidate which name the true one, if one is.

        That of :class:`OperatingCharacteristic`, which is worked out for it.

        >>> from stoichkit import experiments
        >>> lab = experiments.load("copper-silver-coarse")
        >>> fine = Plan(experiment=lab, consumed_mol=0.02).right_of_single
        >>> coarse = Plan(experiment=lab, consumed_mol=0.002).right_of_single
        >>> fine > 0.999 > coarse > 0.5
        True
        """
        return operating_characteristic(self).right_of_single

    def expected_readings(
        self, truth: str, *, fixed: bool = False, recovered: float | None = None
    ) -> dict[str, float]:
        """Return the readings of one trial, unrounded, if a candidate is true.

        Parameters
        ----------
        truth : str
            Name of a candidate, or ``"nothing reacted"``.
        fixed : bool
            Whether a consumed amount that a pipette fixes is let pass.
        recovered : float, optional
            Fraction of the product recovered, above 0 to 10; the middle of the range allowed if
            left out.

        Returns
        -------
        dict of str to float
            By reading name, in the unit of its instrument.
        """
        experiment = self.experiment
        index = truth_index(experiment, truth)
        part = _recovered(self, recovered)
        amount = self.consumed_mol if index >= 0 else 0.0
        ratio = float(experiment.candidates[index].ratio)
        first = _first_values(experiment)
        values = dict(first)
        for place, way in enumerate(experiment.consumed.ways):
            if way.span.high or not fixed:
                name, here, slope = _consumed_line(experiment, place)
                values[name] += (amount - here) / slope
        for way in experiment.produced.ways:
            name, here, slope = _line(experiment.produced, way, values)
            values[name] += (ratio * part * amount - here) / slope
        typed = {*experiment.example().readings, *experiment.shared_readings}
        return {
            name: value if abs(value) > 1e-12 * abs(first[name]) else 0.0
            for name, value in values.items()
            if name in typed
        }


@dataclass(frozen=True, slots=True)
class OperatingCharacteristic:
    """Chances of each verdict, for each candidate taken as true.

    Attributes
    ----------
    plan : Plan
    over_recovery : mapping of str to tuple of (float, Chances)
        By the name of the true candidate: the chances at each fraction recovered, rising.
    """

    plan: Plan
    over_recovery: Mapping[str, tuple[tuple[float, Chances], ...]]

    @property
    def chances(self) -> Mapping[str, Chances]:
        """Chances at the recovery where that of a right conclusion is least, by candidate."""
        return FrozenMap({n: least(f) for n, f in self.over_recovery.items()})

    @property
    def average(self) -> Mapping[str, Chances]:
        """Chances averaged over the recoveries with equal weight, by candidate."""
        return FrozenMap(
            {n: mixed([c for _, c in f]) for n, f in self.over_recovery.items()},
        )

    @property
    def hardest(self) -> str:
        """Name of the candidate that is least likely to be singled out when it is true."""
        least_of = self.chances
        return min(least_of, key=lambda name: least_of[name].right)

    @property
    def right(self) -> float:
        """Least chance of the right conclusion over the recoveries, for the hardest candidate."""
        return self.chances[self.hardest].right

    @property
    def average_right(self) -> float:
        """The same averaged over the recoveries, for the candidate with the least average."""
        return min(found.right for found in self.average.values())

    @property
    def wrong(self) -> float:
        """Largest chance, over candidates and recoveries, that a wrong one is singled out."""
        return max(c.wrong for found in self.over_recovery.values() for _, c in found)

    @property
    def right_of_single(self) -> float:
        """Part of the labs that single out a candidate which name the true one, 0 to 1.

        For a truth that is one of the candidates, drawn by the weights of the experiment's prior
        (equal if it states none), and a recovery drawn evenly; nan if no lab singles one out.
        """
        prior = self.plan.experiment.prior or Prior()
        shares = prior.shares(self.over_recovery)
        average = self.average
        right = math.fsum(share * average[name].right for name, share in shares.items())
        wrong = math.fsum(share * average[name].wrong for name, share in shares.items())
        return right / (right + wrong) if right + wrong > 0 else math.nan


def operating_characteristic(plan: Plan) -> OperatingCharacteristic:
    """Return the chance of each verdict for each candidate taken as true.

    Parameters
    ----------
    plan : Plan

    Returns
    -------
    OperatingCharacteristic

    Raises
    ------
    ModelError
        If an amount of the plan cannot be varied.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> plan = Plan(experiment=experiments.load("copper-silver"), consumed_mol=0.002, trials=3)
    >>> found = operating_characteristic(plan)
    >>> found.right > 0.9, found.right == found.chances[found.hardest].right
    (True, True)
    """
    names = [c.name for c in entry.record("plan", plan, Plan).experiment.candidates]
    return OperatingCharacteristic(plan, FrozenMap({n: over_recovery(plan, n) for n in names}))


def over_recovery(plan: Plan, truth: str) -> tuple[tuple[float, Chances], ...]:
    """Return the chances when one candidate is true, at each fraction of the product recovered.

    Parameters
    ----------
    plan : Plan
    truth : str
        As for :func:`chances`.

    Returns
    -------
    tuple of (float, Chances)
        Five fractions from the least to the largest allowed; one without an allowance.
    """
    fractions = entry.record("plan", plan, Plan).recoveries
    return tuple((f, chances(plan, truth, recovered=f)) for f in fractions)


def least(found: tuple[tuple[float, Chances], ...]) -> Chances:
    """Return the chances where that of a right conclusion is least, then those least sure.

    >>> least(((0.8, Chances(0.7, 0.0, 0.3, 0.0)), (1.0, Chances(0.9, 0.0, 0.1, 0.0)))).right
    0.7
    """
    return min((c for _, c in found), key=lambda c: (c.right, -c.wrong))


def chances(plan: Plan, truth: str, *, recovered: float | None = None) -> Chances:
    """Return the chance of each verdict when one candidate is true.

    Parameters
    ----------
    plan : Plan
    truth : str
        Name of a candidate, or ``"nothing reacted"``: then nothing is right but not to single out
        a candidate, and ``right`` is 0.
    recovered : float, optional
        Fraction of the product recovered in each trial, above 0 to 10. If left out, the chances
        at the recovery, of those allowed, where that of a right conclusion is least.

    Raises
    ------
    ModelError
        If there is no such candidate, or an amount cannot be varied (as by a pipette).

    Notes
    -----
    With two or more trials, about 1 % of labs are declared to scatter too much by chance alone and
    are judged by Student t (:func:`stoichkit.planning.strips.alarm_share`). That a single one of
    several trials lies below zero, less than 1 in 1,000, is left out.

    Where the variation between trials is stated, the trials differ by it. Where it is unknown,
    the trials are taken to differ by nothing but their readings. With two or more trials and a
    variation that is unknown, or was itself estimated, 20,000 labs are simulated from a fixed seed
    (``Chances.labs``): many are then judged by their own scatter, for which there is no exact sum.
    So they are where one vessel serves several trials and the balance repeats so well that its
    place between two display steps matters: the readings of the trials then hang together.

    Where an amount is found by several routes, labs are simulated too: each route is worked back
    from the reading that sets it, and all are sound. That two sound routes disagree by chance, in
    at most 1 in 100 labs for each amount of several routes, is left out.
    """
    experiment = entry.record("plan", plan, Plan).experiment
    index = truth_index(experiment, truth)
    if recovered is None:
        return least(over_recovery(plan, truth))
    recovered = _recovered(plan, recovered)
    linear = nominal_lab(plan, truth, recovered)
    ratios = [float(c.ratio) for c in experiment.candidates]
    alpha = 1 - experiment.coverage_each()
    variation = experiment.variation
    by_scatter = variation is not None and (variation.unknown or math.isfinite(variation.dof))
    routes = any(len(model.ways) > 1 for model in (experiment.consumed, experiment.produced))
    if routes or (plan.trials > 1 and (by_scatter or linear.one_vessel)):
        expected = plan.expected_readings(truth, recovered=recovered)
        labs = Bench(plan, linear, expected, _LABS, _SEED).drawn()
        counts = verdicts_of(labs, experiment, linear).counts(index)
        return chances_from((n / _LABS for n in counts), labs=_LABS)
    rows = Rows(*_split(plan, linear, ratios[index] * recovered, nothing=index < 0))
    uneven = plan.spread if index >= 0 else 0.0
    recovery, air = allowance_of(experiment, linear)
    strips = strips_of(linear, ratios, recovery, alpha, air=air, band=rows.band, uneven=uneven)

    def found(judged: Strips) -> Chances:
        return chances_of(rows, judged, index)

    plain = found(strips)
    if plan.trials == 1:
        return plain
    alarmed = found(strips.at_least(alarm_limits(linear, strips.ratios, alpha)))
    allowance = (recovery[1] - recovery[0]) / recovered
    q = float(alarm_share(linear, ratios[index] * recovered, allowance))
    return mixed([plain, alarmed], [1 - q, q])


def truth_index(experiment: Experiment, truth: str) -> int:
    """Return which candidate is true, counted from 0; −1 where nothing reacted.

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> truth_index(lab, "copper(II)"), truth_index(lab, "nothing reacted")
    (1, -1)
    """
    entry.text("truth", truth)
    names = [c.name for c in experiment.candidates]
    if truth in names:
        return names.index(truth)
    if truth == NOTHING:
        return -1
    raise ModelError(
        "There is no such candidate.", given=truth, allowed=", ".join([*names, NOTHING])
    )


def _recovered(plan: Plan, recovered: float | None) -> float:
    """Return the fraction recovered: the middle of the range allowed if none is given."""
    if recovered is None:
        return sum(plan.experiment.recovery) / 2
    return entry.number("recovered", recovered, above=0, most=10)


@lru_cache(maxsize=8)
def _first_values(experiment: Experiment) -> dict[str, float]:
    """Return the quantities of the first trial, which every amount of a search begins from."""
    found = experiment.quantities(experiment.example(), ErrorPool())
    return {name: nominal(value) for name, value in found.items()}


@lru_cache(maxsize=8)
def _consumed_line(experiment: Experiment, place: int) -> tuple[str, float, float]:
    """Return what sets the amount consumed by one way, that in the first trial, its change."""
    model = experiment.consumed
    return _line(model, model.ways[place], _first_values(experiment))


def _line(
    model: AmountModel, way: AmountModel, values: Mapping[str, float]
) -> tuple[str, float, float]:
    """Return the reading that sets an amount by one way, the amount, and its change with it.

    It is linear in it.
    """
    pool, name = ErrorPool(), model.set_by(way)
    here = nominal(way.amount(values, pool))
    return name, here, nominal(way.amount({**values, name: values[name] + 1.0}, pool)) - here


def nominal_lab(plan: Plan, truth: str, recovered: float | None = None) -> LinearAmounts:
    """Return the lab as it would be if every reading showed its expected value."""
    readings = plan.expected_readings(truth, recovered=recovered)
    experiment = plan.experiment
    own = {
        n: (f"{v:.15g}",) * experiment.repeats(n)
        for n, v in readings.items()
        if n not in experiment.shared_readings
    }
    trials = [Trial(str(i + 1), own) for i in range(plan.trials)]
    return linear_amounts(experiment.with_trials(trials))


def _split(
    plan: Plan, linear: LinearAmounts, ratio: float, *, nothing: bool
) -> tuple[Lattice | Points, SumDistribution, SumDistribution]:
    """Split the errors of both mean amounts into the likeliest values and continuous rests.

    The likeliest values are a lattice of digits, or points over the spread. ``ratio`` is the true
    one as measured.
    """
    a, b = linear.mean_coefficients()
    sides = [linear.side_blocks(side)[:1] for side in (0, 1)]
    spread = 0.0 if nothing else plan.spread
    lattice = None
    if all(sides):
        displays = displays_of(linear, (sides[0][0], sides[1][0]), plan.trials)
        if displays is not None and displays.coarse(spread):
            lattice = lattice_of(displays, spread=spread)
    taken = {i for s in sides for i in s[0].sources} if lattice is not None else set()
    consumed, produced, differ = [], [], 0.0
    for i, source in enumerate(linear.sources):
        if i in taken:
            continue
        if source.kind == "variation":  # one figure for all trials; a lattice holds it already
            differ, dof = math.hypot(differ, float(b[i]) * source.scale), source.dof
        elif b[i] == 0:
            consumed.append(Term(source.shape, abs(float(a[i])) * source.scale, source.dof))
        else:  # a source of both moves the produced amount off the true line by this much
            c = float(b[i] - ratio * a[i])
            produced.append(Term(source.shape, abs(c) * source.scale, source.dof))
    if lattice is not None:
        return lattice, SumDistribution(consumed), SumDistribution(produced)
    if differ:
        produced.append(variation_term(differ, dof))
    amount = 0.0 if nothing else plan.consumed_mol
    each = spread * amount / plan.trials
    reacting = SumDistribution([Term(Shape.RECTANGULAR, each)] * plan.trials if each else [])
    shift, weight = cells_of(reacting, _AMOUNTS)
    points = Points(amount + shift, ratio * (amount + shift), weight)
    return points, SumDistribution(consumed), SumDistribution(produced)
