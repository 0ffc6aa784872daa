"""Before the lab: how likely is each verdict, for amounts, instruments and trials still to choose.

A plan is an experiment's models, instruments and candidates with an amount to react. For each
candidate taken as true, the readings it would give are worked back from the models, the tool's
own test gives the strip of compatible amounts for every candidate, and the chance of each verdict
follows (:mod:`stoichkit.planning.outcomes`). The reacting amount is spread over a stated range,
since nobody hits a mass to better than the display; a spread of 0 gives the answer at one fixed
amount.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields

import numpy as np

from .._common import FrozenMap
from ..chemistry.candidates import Candidate
from ..chemistry.elements import molar_mass_value
from ..decision.evidence import linear_amounts
from ..decision.linear import LinearAmounts
from ..errors import ModelError
from ..experiments.parts import Trial
from ..experiments.record import Experiment
from ..measurement.base import AmountModel
from ..uncertainty import entry
from ..uncertainty.digits import DigitBlock
from ..uncertainty.distribution import SumDistribution
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import Floats, Shape, Term, nominal
from .outcomes import (
    Chances,
    Lattice,
    Points,
    Rows,
    Strips,
    alarm_limits,
    alarm_share,
    cells_of,
    chances_of,
    displays_of,
    lattice_of,
    limit_of,
    recovered_cells,
    washed_out,
)

MOST_TRIALS = 64
_PER_OCTAVE = 16
_WIDTHS = 16.0
_AMOUNTS = 17
_CLOSE, _LIKELY = 0.016, 2e-3


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """A lab still to be done.

    Attributes
    ----------
    experiment : Experiment
        Models, instruments, candidates, recovery allowance and coverage; its first trial gives
        the readings that do not depend on the amount (vessels, room temperature, current).
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

    def expected_readings(self, truth: str, *, fixed: bool = False) -> dict[str, float]:
        """Return the readings of one trial, unrounded, if a candidate is true.

        Parameters
        ----------
        truth : str
            Name of a candidate.
        fixed : bool
            Whether a consumed amount that a pipette fixes is let pass.

        Returns
        -------
        dict of str to float
            By reading name, in the unit of its instrument.
        """
        ratio = float(_candidate(self.experiment, truth).ratio)
        experiment, pool = self.experiment, ErrorPool()
        trial = experiment.trials[0]
        values = {k: nominal(v) for k, v in experiment.quantities(trial, pool).items()}
        low, high = experiment.recovery
        gain = (1 / low + 1 / high) / 2
        if experiment.consumed.span.high or not fixed:
            _solve(experiment.consumed, values, self.consumed_mol)
        _solve(experiment.produced, values, ratio * self.consumed_mol / gain)
        typed = {*trial.readings, *experiment.shared_readings}
        return {name: value for name, value in values.items() if name in typed}


@dataclass(frozen=True, slots=True)
class OperatingCharacteristic:
    """Chances of each verdict, for each candidate taken as true.

    Attributes
    ----------
    plan : Plan
    chances : mapping of str to Chances
        By the name of the true candidate.
    """

    plan: Plan
    chances: Mapping[str, Chances]

    @property
    def hardest(self) -> str:
        """Name of the candidate that is least likely to be singled out when it is true."""
        return min(self.chances, key=lambda name: self.chances[name].right)

    @property
    def right(self) -> float:
        """Chance of the right conclusion for the hardest candidate."""
        return self.chances[self.hardest].right


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
    return OperatingCharacteristic(plan, FrozenMap({n: chances(plan, n) for n in names}))


def chances(plan: Plan, truth: str) -> Chances:
    """Return the chance of each verdict when one candidate is true.

    Parameters
    ----------
    plan : Plan
    truth : str
        Name of a candidate.

    Raises
    ------
    ModelError
        If there is no such candidate, or an amount cannot be varied (as by a pipette).

    Notes
    -----
    With two or more trials, about 1 % of labs are declared to scatter too much by chance alone and
    are judged by Student t (:func:`stoichkit.planning.outcomes.alarm_share`).
    """
    experiment = entry.record("plan", plan, Plan).experiment
    index = [c.name for c in experiment.candidates].index(_candidate(experiment, truth).name)
    linear = nominal_lab(plan, truth)
    ratios = [float(c.ratio) for c in experiment.candidates]
    alpha = 1 - experiment.coverage
    joint, consumed_error, produced_error = _split(plan, linear, ratios[index])
    rows = Rows(joint, consumed_error, produced_error)
    strips = strips_of(linear, ratios, alpha, rows)

    def found(judged: Strips) -> Chances:
        return chances_of(rows, ratios, judged, index)

    plain = found(strips)
    if plan.trials == 1:
        return plain
    alarmed = found(strips.at_least(alarm_limits(linear, ratios, alpha)))
    q = alarm_share(linear, ratios[index])
    mixed = [
        (1 - q) * getattr(plain, f.name) + q * getattr(alarmed, f.name) for f in fields(Chances)
    ]
    return Chances(*mixed)


def _candidate(experiment: Experiment, name: str) -> Candidate:
    entry.text("truth", name)
    for candidate in experiment.candidates:
        if candidate.name == name:
            return candidate
    raise ModelError(
        "There is no such candidate.",
        given=name,
        allowed=", ".join(c.name for c in experiment.candidates),
    )


def _solve(model: AmountModel, values: dict[str, float], amount_mol: float) -> None:
    """Set the main reading so that the model gives this amount (it is linear in it)."""
    name = model.main_reading()
    pool = ErrorPool()
    low = values[name]
    zero = nominal(model.amount(values, pool))
    values[name] = low + 1.0
    slope = nominal(model.amount(values, pool)) - zero
    values[name] = low + (amount_mol - zero) / slope


def nominal_lab(plan: Plan, truth: str) -> LinearAmounts:
    """Return the lab as it would be if every reading showed its expected value."""
    readings = plan.expected_readings(truth)
    experiment = plan.experiment
    own = {n: (f"{v:.15g}",) for n, v in readings.items() if n not in experiment.shared_readings}
    trials = [Trial(str(i + 1), own) for i in range(plan.trials)]
    return linear_amounts(experiment.with_trials(trials))


def strips_of(linear: LinearAmounts, ratios: Sequence[float], alpha: float, rows: Rows) -> Strips:
    """Return where each candidate is compatible, over the amounts that may be found produced.

    A recovery allowance is a part of the produced amount found, so the limits grow with it; as
    in the test itself, its half-width is rounded up to one of 16 equal ratios within a factor of
    two. Limits that no amounts come near are not worked out.
    """
    edges, grades = _classes(linear, rows)
    found = [_limits_of(linear, r, alpha, rows, edges, grades) for r in ratios]
    return Strips(edges, np.column_stack(found))


def _recovery(linear: LinearAmounts) -> int | None:
    """Return which source is the recovery allowance."""
    return next((i for i, s in enumerate(linear.sources) if s.kind == "recovery"), None)


def _classes(linear: LinearAmounts, rows: Rows) -> tuple[Floats, Floats]:
    """Return produced amounts between which the allowance's half-width is rounded alike.

    The second value is 16 times the logarithm to the base 2 of these half-widths.
    """
    i = _recovery(linear)
    if i is None:
        return np.zeros(0), np.zeros(1)
    per_mol = abs(float(linear.mean_coefficients()[1][i])) * linear.sources[i].scale
    per_mol /= abs(linear.mean_produced)
    found = float(rows.low.min()), float(rows.high.max()), linear.mean_produced
    widest = per_mol * max(map(abs, found))
    least = max(per_mol * found[0], widest / _WIDTHS)
    first, last = (math.ceil(_PER_OCTAVE * math.log2(v) - 1e-9) for v in (least, widest))
    grades = np.arange(first, last + 1.0)
    return 2.0 ** (grades[:-1] / _PER_OCTAVE) / per_mol, grades


def _limits_of(
    linear: LinearAmounts, ratio: float, alpha: float, rows: Rows, edges: Floats, grades: Floats
) -> Floats:
    """Return the limit of one ratio in each class of produced amounts."""
    blocks, rest = linear.blocks(ratio, 1.0)
    i = _recovery(linear)
    if i is not None:
        source, c = linear.sources[i], float(linear.coefficients(ratio, 1.0)[i])
        rest.remove(Term(source.shape, abs(c) * source.scale, source.dof))

    def terms(grade: float) -> list[Term]:
        if i is None:
            return rest
        # without digits the test rounds nothing up: the middle of the class
        return [*rest, Term(Shape.RECTANGULAR, 2.0 ** ((grade - 0.5 * (not blocks)) / _PER_OCTAVE))]

    # the inequality of Gauss, and a step for the worst position of each display
    widest = SumDistribution([t for b in blocks for t in b.terms()] + terms(grades[-1]))
    furthest = math.sqrt(4 / (9 * alpha)) * widest.spread + sum(max(b.steps) for b in blocks)
    if rows.distance(ratio) > furthest:
        return np.full(grades.size, -1.0)
    if grades.size == 1:
        return np.array([limit_of(blocks, terms(grades[0]), alpha)])
    limits = _interpolated(blocks, terms, alpha, grades)
    if isinstance(rows.joint, Lattice):
        # a few likely digits close to a limit are not averaged out
        likely = rows.joint.near(ratio, edges, limits, _CLOSE * widest.spread)
        for k in np.flatnonzero(likely > _LIKELY):
            limits[k] = limit_of(blocks, terms(grades[k]), alpha)
    return limits


def _interpolated(
    blocks: list[DigitBlock], terms: Callable[[float], list[Term]], alpha: float, grades: Floats
) -> Floats:
    """Return the limits at rising grades from those at a few.

    The square of the limit is nearly linear in the square of the allowance's half-width, except
    that it drops where that half-width washes out the digits of a display.
    """
    first, last = 8 * math.floor(grades[0] / 8), 8 * math.ceil(grades[-1] / 8)
    every = np.arange(first, last + 1.0)
    washed = [washed_out(blocks, terms(g)) for g in every]
    found, square = np.empty(grades.size), 4.0 ** (grades / _PER_OCTAVE)
    for kind in {*washed}:
        alike = every[[w == kind for w in washed]]
        spacing = np.where(alike < last - 24, 16, 8)
        nodes = alike[np.diff(alike // spacing, prepend=-math.inf) > 0]
        nodes = np.unique([*nodes, alike[-1]])
        squares = [limit_of(blocks, terms(g), alpha, rough=True) ** 2 for g in nodes]
        here = np.isin(grades, alike)
        found[here] = np.interp(square[here], 4.0 ** (nodes / _PER_OCTAVE), squares)
    return np.sqrt(found)


def _split(
    plan: Plan, linear: LinearAmounts, ratio: float
) -> tuple[Lattice | Points, SumDistribution, SumDistribution]:
    """Split the errors of both mean amounts into the likeliest values and continuous rests.

    The likeliest values are a lattice of digits, or points over the spread and the recovery.
    """
    a, b = linear.mean_coefficients()
    sides = [linear.side_blocks(side)[:1] for side in (0, 1)]
    allowed = _recovery(linear)
    low, high = plan.experiment.recovery
    h = (high - low) / (high + low)
    lattice = None
    if all(sides):
        displays = displays_of(linear, (sides[0][0], sides[1][0]), plan.trials)
        if displays is not None and displays.coarse(plan.spread, recovery_half_width=h):
            lattice = lattice_of(displays, spread=plan.spread, recovery_half_width=h)
    taken = {i for s in sides for i in s[0].sources} if lattice is not None else set()
    consumed, produced = [], []
    for i, source in enumerate(linear.sources):
        if i in taken or i == allowed:
            continue
        if b[i] == 0:
            consumed.append(Term(source.shape, abs(float(a[i])) * source.scale, source.dof))
        else:  # a source of both moves the produced amount off the true line by this much
            c = float(b[i] - ratio * a[i])
            produced.append(Term(source.shape, abs(c) * source.scale, source.dof))
    if lattice is not None:
        return lattice, SumDistribution(consumed), SumDistribution(produced)
    each = plan.spread * plan.consumed_mol / plan.trials
    spread = SumDistribution([Term(Shape.RECTANGULAR, each)] * plan.trials)
    shift, weight = cells_of(spread, _AMOUNTS)
    centre, share, half = recovered_cells(h)
    if half:
        produced.append(Term(Shape.RECTANGULAR, half * ratio * plan.consumed_mol))
    amount = np.repeat(plan.consumed_mol + shift, centre.size)
    points = Points(
        amount,
        ratio * amount * np.tile(centre, shift.size),
        np.outer(weight, share).ravel(),
    )
    return points, SumDistribution(consumed), SumDistribution(produced)
