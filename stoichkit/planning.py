"""Before the lab: how likely is each verdict, for amounts, instruments and trials still to choose.

A plan is an experiment's models, instruments and candidates with an amount to react. For each
candidate taken as true, the readings it would give are worked back from the models, the tool's
own test gives the strip of compatible amounts for every candidate, and the chance of each verdict
follows (:mod:`stoichkit.outcomes`). The reacting amount is spread over a stated range, since
nobody hits a mass to better than the display; a spread of 0 gives the answer at one fixed amount.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from .amounts import AmountModel
from .candidates import Candidate
from .digits import DIFFERENCE, SINGLE, split_narrow, worst_position_tails
from .distribution import SumDistribution
from .elements import molar_mass_value
from .errors import ModelError
from .evidence import linear_amounts
from .experiment import Experiment, Trial
from .frozen_map import FrozenMap
from .linear import EXCESS_LEVEL, LinearAmounts, SideBlock
from .outcomes import Chances, Lattice, cells_of, chances_of, lattice_of, point_of
from .readings import ErrorPool
from .shapes import Term
from .uncertain import Shape, nominal

__all__ = [
    "OperatingCharacteristic",
    "Plan",
    "alarm_limits",
    "chances",
    "digits_lattice",
    "limit_mol",
    "main_reading",
    "nominal_lab",
    "operating_characteristic",
]

_LARGEST_LATTICE = 400
_LIMIT_RESOLUTION = 5e-4
"""Accuracy of a limit of compatibility, in display steps."""
_MAIN_READING = ("heavier", "final", "time")


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
    """

    experiment: Experiment
    consumed_mol: float
    trials: int = 1
    spread: float = 0.1

    def __post_init__(self) -> None:
        for name, value, low, high in (
            ("amount to react in mol", self.consumed_mol, 0.0, 1e6),
            ("number of trials", self.trials, 0, 64),
        ):
            if not (math.isfinite(value) and low < value <= high):
                raise ModelError(
                    f"The {name} cannot be used.",
                    given=value,
                    allowed=f"above {low:g}, up to {high:g}",
                )
        if not 0 <= self.spread <= 0.9:
            raise ModelError(
                "The spread of the amounts cannot be used.", given=self.spread, allowed="0 to 0.9"
            )

    @property
    def consumed_mass_g(self) -> float:
        """Mass of the consumed species to react in each trial, g (nan for electrons)."""
        species = self.experiment.consumed.species
        return math.nan if species == "e-" else self.consumed_mol * molar_mass_value(species)

    def expected_readings(self, truth: str) -> dict[str, float]:
        """Return the readings of one trial, unrounded, if a candidate is true.

        Parameters
        ----------
        truth : str
            Name of a candidate.

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

    >>> from stoichkit import experiments
    >>> lab = experiments.load("copper-silver")
    >>> found = operating_characteristic(Plan(experiment=lab, consumed_mol=0.002, trials=3))
    >>> found.right > 0.9, found.right == found.chances[found.hardest].right
    (True, True)
    """
    names = [c.name for c in plan.experiment.candidates]
    return OperatingCharacteristic(plan, FrozenMap({n: chances(plan, n) for n in names}))


def chances(plan: Plan, truth: str) -> Chances:
    """Return the chance of each verdict when one candidate is true.

    Parameters
    ----------
    plan : Plan
    truth : str
        Name of a candidate.

    Returns
    -------
    Chances

    Raises
    ------
    ModelError
        If there is no such candidate, or an amount cannot be varied (a pipette delivers one
        volume only).

    Notes
    -----
    With two or more trials, some labs are declared to scatter too much by chance alone and are
    judged by Student t: :data:`stoichkit.linear.EXCESS_LEVEL` of them, less by the share of the
    variance that comes from rounding, which has no tails.
    """
    experiment = plan.experiment
    index = [c.name for c in experiment.candidates].index(_candidate(experiment, truth).name)
    linear = nominal_lab(plan, truth)
    ratios = [float(c.ratio) for c in experiment.candidates]
    alpha = 1 - experiment.coverage
    limits = [limit_mol(linear, r, alpha) for r in ratios]
    lattice, consumed_error, produced_error = _split(plan, linear, ratios[index])

    def found(limits_mol: list[float]) -> Chances:
        return chances_of(
            lattice,
            ratios,
            limits_mol,
            index,
            consumed_error=consumed_error,
            produced_error=produced_error,
        )

    plain = found(limits)
    if plan.trials == 1:
        return plain
    wide = [max(t, w) for t, w in zip(limits, alarm_limits(linear, ratios, alpha), strict=True)]
    alarmed = found(wide)
    q = EXCESS_LEVEL * linear.noise_share(ratios[index], 1.0)
    mixed = [
        (1 - q) * getattr(plain, f.name) + q * getattr(alarmed, f.name) for f in fields(Chances)
    ]
    return Chances(*mixed)


def _candidate(experiment: Experiment, name: str) -> Candidate:
    for candidate in experiment.candidates:
        if candidate.name == name:
            return candidate
    raise ModelError(
        "There is no such candidate.",
        given=name,
        allowed=", ".join(c.name for c in experiment.candidates),
    )


def main_reading(model: AmountModel) -> str:
    """Return the name of the reading that grows with the amount.

    Raises
    ------
    ModelError
        If the amount is fixed by a pipette.
    """
    for field in _MAIN_READING:
        name = getattr(model, field, "")
        if name:
            return str(name)
    raise ModelError(
        f"The amount of {model.species} cannot be varied: no reading follows it.",
        fix="Plan with a burette instead of a pipette for this volume.",
    )


def _solve(model: AmountModel, values: dict[str, float], amount_mol: float) -> None:
    """Set the main reading so that the model gives this amount (it is linear in it)."""
    name = main_reading(model)
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


def limit_mol(linear: LinearAmounts, ratio: float, alpha: float) -> float:
    """Return the largest |mean of D|, mol, at which a ratio is still compatible."""
    blocks, rest = linear.blocks(ratio, 1.0)
    error = linear.distribution(ratio, 1.0)
    if not error.terms:
        return 0.0
    if not blocks:
        return error.half_width(1 - alpha)
    wide, narrow = split_narrow(rest, blocks)

    def compatible(value: float) -> bool:
        tail = worst_position_tails(np.array([value]), blocks, wide, np.array([narrow]))
        return bool(tail[0] >= alpha)

    step = sum(max(b.steps) for b in blocks)
    low = 1.5 * error.spread
    while low > 0 and not compatible(low):
        low = max(low - 2 * step, 0.0)
    high = low + step
    while compatible(high):
        low, high = high, high + max(step, 0.2 * error.spread)
    while high - low > _LIMIT_RESOLUTION * step:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if compatible(middle) else (low, middle)
    return low


def alarm_limits(linear: LinearAmounts, ratios: list[float], alpha: float) -> list[float]:
    """Return the limits in a lab whose trials scatter too much by chance (median such lab)."""
    from scipy.special import chdtri, stdtrit

    dof = linear.trials - 1
    spread = math.sqrt(float(chdtri(dof, EXCESS_LEVEL / 2)) / dof)
    t = float(stdtrit(dof, 1 - alpha / 2))
    return [t * spread * math.sqrt(linear.own_variance(r, 1.0)) for r in ratios]


def _split(
    plan: Plan, linear: LinearAmounts, ratio: float
) -> tuple[Lattice, SumDistribution, SumDistribution]:
    """Split the errors of both mean amounts into a lattice of digits and continuous rests."""
    a, b = linear.mean_coefficients()
    sides = [linear.side_blocks(side)[:1] for side in (0, 1)]
    lattice = digits_lattice(plan, linear, [s[0] for s in sides]) if all(sides) else None
    taken = {i for s in sides for i in s[0].sources} if lattice is not None else set()
    consumed, produced = [], []
    for i, source in enumerate(linear.sources):
        if i in taken:
            continue
        if b[i] == 0:
            consumed.append(Term(source.shape, abs(float(a[i])) * source.scale, source.dof))
        else:  # a source of both moves the produced amount off the true line by this much
            c = float(b[i] - ratio * a[i])
            produced.append(Term(source.shape, abs(c) * source.scale, source.dof))
    if lattice is None:
        each = plan.spread * plan.consumed_mol / plan.trials
        spread = SumDistribution([Term(Shape.RECTANGULAR, each)] * plan.trials)
        shift, weight = cells_of(spread)
        amount = plan.consumed_mol + shift
        lattice = point_of(amount, ratio * amount, weight)
    return lattice, SumDistribution(consumed), SumDistribution(produced)


def digits_lattice(
    plan: Plan, linear: LinearAmounts, sides: list[SideBlock], scale: float = 1.0
) -> Lattice | None:
    """Return the lattice of both amounts, or None where it is too fine to matter.

    The amounts are those of ``linear`` times ``scale``.
    """
    blocks = [s.block for s in sides]
    if any(b.kind not in (DIFFERENCE, SINGLE) or b.count != plan.trials for b in blocks):
        return None
    steps = (blocks[0].steps[0], blocks[1].steps[0])
    means = (scale * linear.mean_consumed, scale * linear.mean_produced)
    amounts = (means[0] / steps[0] / plan.trials, means[1] / steps[1] / plan.trials)
    widest = max(
        2 * plan.spread * x + 11 * math.hypot(*b.noise) + 2
        for x, b in zip(amounts, blocks, strict=True)
    )
    if plan.trials * widest > _LARGEST_LATTICE:
        return None
    shared = set(sides[0].roles) & set(sides[1].roles)
    noise = [dict(zip(s.roles, s.block.noise, strict=True)) for s in sides]
    signs = [dict(zip(s.roles, s.signs, strict=True)) for s in sides]
    if len(shared) > 1 or (shared and any(b.kind is SINGLE for b in blocks)):
        return None
    own = [tuple(v for k, v in n.items() if k not in shared) for n in noise]
    role = next(iter(shared), None)
    return lattice_of(
        amounts,
        (own[0], own[1]),
        steps,
        trials=plan.trials,
        spread=plan.spread,
        shared_noise=None if role is None else noise[0][role],
        shared_sign=-1.0 if role is None else signs[0][role] * signs[1][role],
    )
