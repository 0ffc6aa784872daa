"""Chance of a right conclusion over balances and reacting masses.

For weighings the problem depends on ratios only: the mass in display steps, the repeatability in
steps. So one curve over mass / readability fills the whole map.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from .amounts import MassByDifference
from .digits import split_narrow
from .distribution import SumDistribution
from .elements import molar_mass_value
from .errors import ModelError
from .experiment import Experiment
from .instruments import Balance
from .linear import EXCESS_LEVEL, LinearAmounts, SideBlock
from .outcomes import chances_of
from .planning import Plan, alarm_limits, chances, digits_lattice, limit_mol, nominal_lab
from .shapes import Floats

__all__ = ["DesignMap", "design_map", "with_readability"]

_CURVE_NODES = 151
_CURVE_RANGE = (0.1, 1000.0)
"""Masses in display steps between which the chance changes."""
_STRIDE = 6
_FLAT = 0.004
_SETTLED = 0.001


@dataclass(frozen=True, slots=True, eq=False)
class DesignMap:
    """Chance of a right conclusion for the hardest candidate.

    Attributes
    ----------
    masses_g : ndarray, shape (m,)
        Mass of the consumed species to react in each trial.
    readabilities_g : ndarray, shape (r,)
        Display step of the balance.
    chance : ndarray, shape (r, m)
        Smallest over the candidates of the chance that the true one is singled out.
    hardest : ndarray of int, shape (r, m)
        Which candidate that is, counted from 0.
    target : float
    trials : int
    """

    masses_g: Floats
    readabilities_g: Floats
    chance: Floats
    hardest: np.ndarray
    target: float
    trials: int

    def smallest_mass_g(self, readability_g: float) -> float:
        """Return the smallest mass of the map that reaches the target; nan when none does."""
        row = int(np.argmin(np.abs(np.log(self.readabilities_g / readability_g))))
        met = np.flatnonzero(self.chance[row] >= self.target)
        return float(self.masses_g[met[0]]) if met.size else math.nan


def with_readability(experiment: Experiment, readability_g: float) -> Experiment:
    """Return the experiment with every balance read to another step.

    Repeatability and linearity keep their size in display steps; a repeatability that was not
    stated stays not stated.

    >>> from stoichkit import experiments
    >>> coarse = with_readability(experiments.load("copper-silver"), 0.1)
    >>> coarse.instruments["balance"].readability_g
    0.1
    """
    for name, instrument in experiment.instruments.items():
        if isinstance(instrument, Balance):
            factor = readability_g / instrument.readability_g
            stated = instrument.repeatability_g
            changed = replace(
                instrument,
                readability_g=readability_g,
                repeatability_g=None if stated is None else stated * factor,
                linearity_g=instrument.linearity_g * factor,
            )
            experiment = experiment.with_instrument(name, changed)
    return experiment


def design_map(
    experiment: Experiment,
    *,
    masses_g: Sequence[float] | Floats,
    readabilities_g: Sequence[float] | Floats,
    trials: int = 1,
    spread: float = 0.1,
    target: float = 0.9,
) -> DesignMap:
    """Return the chance of a right conclusion for every balance and reacting mass.

    Parameters
    ----------
    experiment : Experiment
        Models, instruments and candidates; see :class:`stoichkit.planning.Plan`.
    masses_g : sequence of float, shape (m,)
        Masses of the consumed species, g, rising, all above 0.
    readabilities_g : sequence of float, shape (r,)
        Display steps, g, all above 0.
    trials, spread : int, float
        As for a plan.
    target : float
        Chance asked for, 0 to 1.

    Raises
    ------
    ModelError
        If an axis is empty or not above 0, or the consumed amount is not a mass.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> found = design_map(experiments.load("copper-silver"), masses_g=[0.02, 0.1, 0.5],
    ...                    readabilities_g=[0.1, 0.01])
    >>> (found.chance >= 0.9).tolist()
    [[False, False, False], [False, True, True]]
    """
    masses, steps = (np.asarray(v, dtype=np.float64) for v in (masses_g, readabilities_g))
    for what, axis in (("masses", masses), ("readabilities", steps)):
        if axis.ndim != 1 or axis.size == 0 or not (np.isfinite(axis) & (axis > 0)).all():
            raise ModelError(f"The {what} of the map cannot be used.", allowed="numbers above 0 g")
    if not isinstance(experiment.consumed, MassByDifference):
        raise ModelError(
            "A map of reacting masses needs a consumed amount that is weighed.",
            given=type(experiment.consumed).__name__,
            allowed="mass by difference",
        )
    x = masses[None, :] / steps[:, None]
    low, high = np.clip([x.min(), x.max()], *_CURVE_RANGE).tolist()
    nodes = np.geomspace(low, high, _CURVE_NODES)
    first = steps[0]
    base = with_readability(experiment, first)
    molar = molar_mass_value(experiment.consumed.species)
    curves = _digit_curve(
        Plan(experiment=base, consumed_mol=first / molar, trials=trials, spread=spread),
        nodes * first / molar,
    )
    if curves is None:
        return _directly(experiment, masses, steps, molar, trials, spread, target)
    flat = np.log(x)
    each = np.stack([np.interp(flat, np.log(nodes), c) for c in curves])
    return DesignMap(masses, steps, each.min(axis=0), each.argmin(axis=0), target, trials)


def _directly(
    experiment: Experiment,
    masses: Floats,
    steps: Floats,
    molar: float,
    trials: int,
    spread: float,
    target: float,
) -> DesignMap:
    """Fill the map cell by cell: for amounts whose errors do not scale with the display step."""
    names = [c.name for c in experiment.candidates]
    each = np.empty((len(names), steps.size, masses.size))
    for i, step in enumerate(steps):
        changed = with_readability(experiment, float(step))
        for j, mass in enumerate(masses):
            plan = Plan(
                experiment=changed, consumed_mol=float(mass) / molar, trials=trials, spread=spread
            )
            each[:, i, j] = [chances(plan, name).right for name in names]
    return DesignMap(masses, steps, each.min(axis=0), each.argmin(axis=0), target, trials)


def _digit_curve(plan: Plan, consumed_mol: Floats) -> list[Floats] | None:
    """Return the chance of the right conclusion for each candidate at many amounts.

    Only for labs whose errors are in display steps, whatever the amount: otherwise None. The
    limits of compatibility are then the same at every amount and are worked out once.

    Parameters
    ----------
    plan : Plan
        Its amount serves as reference.
    consumed_mol : ndarray, shape (n,)
        Amounts, rising.

    Returns
    -------
    list of ndarray, shape (n,) each, or None
    """
    candidates = plan.experiment.candidates
    ratios = [float(c.ratio) for c in candidates]
    alpha = 1 - plan.experiment.coverage
    curves = []
    for truth, candidate in enumerate(candidates):
        linear = nominal_lab(plan, candidate.name)
        sides = [linear.side_blocks(side)[:1] for side in (0, 1)]
        if not all(sides) or digits_lattice(plan, linear, [s[0] for s in sides]) is None:
            return None
        taken = {i for s in sides for i in s[0].sources}
        ends = [linear.blocks(r, 1.0) for r in ratios]
        if any(split_narrow(rest, blocks)[0] for blocks, rest in ends) or any(
            s.kind in ("rounding", "repeatability") and i not in taken
            for i, s in enumerate(linear.sources)
        ):
            return None
        limits = [limit_mol(linear, r, alpha) for r in ratios]
        judged = [(1.0, limits)]
        if plan.trials > 1:
            q = EXCESS_LEVEL * linear.noise_share(ratios[truth], 1.0)
            alarm = alarm_limits(linear, ratios, alpha)
            wide = [max(t, w) for t, w in zip(limits, alarm, strict=True)]
            judged = [(1 - q, limits), (q, wide)]
        curves.append(
            _curve(plan, linear, [s[0] for s in sides], ratios, truth, judged, consumed_mol)
        )
    return curves


def _curve(
    plan: Plan,
    linear: LinearAmounts,
    sides: list[SideBlock],
    ratios: list[float],
    truth: int,
    judged: list[tuple[float, list[float]]],
    consumed_mol: Floats,
) -> Floats:
    """Chance of the right conclusion at each amount; interpolated where it hardly changes."""
    nothing = SumDistribution([])

    def right(i: int) -> float:
        lattice = digits_lattice(plan, linear, sides, consumed_mol[i] / plan.consumed_mol)
        if lattice is None:
            return math.nan
        return sum(
            share
            * chances_of(
                lattice, ratios, limits, truth, consumed_error=nothing, produced_error=nothing
            ).right
            for share, limits in judged
        )

    size = consumed_mol.size
    found = np.full(size, math.nan)
    coarse = sorted({*range(0, size, _STRIDE), size - 1})
    for before, i in zip([None, *coarse], coarse, strict=False):
        found[i] = right(i)
        if math.isnan(found[i]):  # so many steps that the chance no longer changes
            found[i:] = found[before] if before is not None else 1.0
            break
        if before is None:
            continue
        change = abs(found[i] - found[before])
        if change > _FLAT:
            for j in range(before + 1, i):
                found[j] = right(j)
        elif change < _SETTLED and found[i] > 0.9:
            found[i:] = found[i]
            break
    known = np.flatnonzero(~np.isnan(found))
    return np.asarray(np.interp(np.arange(size), known, found[known]))
