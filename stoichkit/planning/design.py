"""Chance of a right conclusion over balances and reacting masses.

For weighings the problem depends on ratios only: the mass in display steps, the repeatability in
steps. So one curve over mass / readability fills the whole map.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from ..chemistry.elements import molar_mass_value
from ..decision.evidence import air_of
from ..decision.linear import LinearAmounts
from ..errors import ModelError
from ..experiments.record import Experiment
from ..measurement.buoyancy import NOTHING as NO_AIR
from ..measurement.displays import Balance
from ..uncertainty import entry
from ..uncertainty.digits import split_narrow
from ..uncertainty.sources import Floats
from .outcomes import Displays, Stack, displays_of, stack_of
from .plan import MOST_TRIALS, NOTHING, Plan, nominal_lab, over_recovery
from .strips import Strips, alarm_limits, alarm_share, strips_of

_NODES, _NODES_QUIET, _NODES_SHARP, _NODES_VARIED = 301, 601, 5000, 41
_QUIET, _SHARP = 0.3, 0.05
"""Repeatability in steps, and spread, below which the digits make the chance jump."""
_CURVE_RANGE = (0.1, 1000.0)
"""Masses in display steps between which the chance changes."""
_SPANS = 18
_FAR = 100
_AT_FIRST, _LATER, _TOGETHER = 8, 2, 64
_FORETOLD = 0.001
_CLOSE, _FLAT = 4, 0.004
_SETTLED, _HIGH, _ALIKE, _WASHED = 0.0015, 0.9, 3, 2.0


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
        Smallest, over the candidates and over what may be recovered, of the chance that the true
        one is singled out.
    average : ndarray, shape (r, m)
        The same averaged over what may be recovered.
    hardest : ndarray of int, shape (r, m)
        Which candidate that is, counted from 0.
    target : float
    trials : int
    """

    masses_g: Floats
    readabilities_g: Floats
    chance: Floats
    average: Floats
    hardest: np.ndarray
    target: float
    trials: int

    @classmethod
    def of(
        cls, masses_g: Floats, readabilities_g: Floats, each: Floats, target: float, trials: int
    ) -> DesignMap:
        """Return the map of chances shaped (candidates, recoveries, r, m)."""
        least = each.min(axis=1)
        average = each.mean(axis=1).min(axis=0)
        hardest = least.argmin(axis=0)
        return cls(masses_g, readabilities_g, least.min(axis=0), average, hardest, target, trials)

    def smallest_mass_g(self, readability_g: float, *, average: bool = False) -> float:
        """Return the smallest mass of the map that reaches the target; nan when none does.

        ``average``: that reaches it on average over what may be recovered.
        """
        readability_g = entry.number("readability_g", readability_g, above=0)
        row = int(np.argmin(np.abs(np.log(self.readabilities_g / readability_g))))
        met = np.flatnonzero((self.average if average else self.chance)[row] >= self.target)
        return float(self.masses_g[met[0]]) if met.size else math.nan


def with_readability(experiment: Experiment, readability_g: float) -> Experiment:
    """Return the experiment with every balance read to another step.

    See :meth:`stoichkit.measurement.displays.Balance.read_to`.

    >>> from stoichkit import experiments
    >>> coarse = with_readability(experiments.load("copper-silver"), 0.1)
    >>> coarse.instruments["balance"].readability_g
    0.1
    """
    readability_g = entry.number("readability_g", readability_g, above=0)
    entry.record("experiment", experiment, Experiment)
    for name, instrument in experiment.instruments.items():
        if isinstance(instrument, Balance):
            experiment = experiment.with_instrument(name, instrument.read_to(readability_g))
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
        Models, instruments and candidates; see :class:`stoichkit.planning.plan.Plan`.
    masses_g : sequence of float, shape (m,)
        Masses of the consumed species, g, rising, all above 0.
    readabilities_g : sequence of float, shape (r,)
        Display steps, g, all above 0.
    trials, spread : int, float
        As for a plan.
    target : float
        Chance asked for, 0 to 1.

    Returns
    -------
    DesignMap
        Chances shaped (r, m), for the candidate that is hardest to single out in each cell.

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
    entry.record("experiment", experiment, Experiment)
    masses = entry.array("masses_g", masses_g, ndim=(1,), above=0)
    steps = entry.array("readabilities_g", readabilities_g, ndim=(1,), above=0)
    trials = entry.whole("trials", trials, least=1, most=MOST_TRIALS)
    spread, target = (
        entry.number("spread", spread, least=0),
        entry.number("target", target, least=0, most=1),
    )
    if not experiment.consumed.weighs_species:
        raise ModelError(
            "A map of reacting masses needs a consumed amount that is weighed.",
            given=type(experiment.consumed).__name__,
            allowed="mass by difference",
        )
    x = masses[None, :] / steps[:, None]
    first = steps[0]
    base = with_readability(experiment, first)
    molar = molar_mass_value(experiment.consumed.species)
    plan = Plan(
        experiment=replace(base, variation=None),
        consumed_mol=first / molar,
        trials=trials,
        spread=spread,
    )
    labs = _labs(plan)
    if labs is None:
        return _directly(experiment, masses, steps, molar, trials, spread, target)
    coarse = all(lab.displays.coarse(spread) for lab in labs)
    noise = [lab.displays.sigma(side) for lab in labs for side in (0, 1)]
    wide = 1.0 if coarse else max(1.0, *noise)
    low, high = _CURVE_RANGE
    x = x.clip(wide * low, wide * high)
    same = trials > 1 and any(role.same_vessel for role in experiment.roles())
    same = same and nominal_lab(plan, NOTHING).one_vessel
    # in display steps a variation grows with the mass; labs of one vessel are simulated: one by one
    if same or experiment.variation is not None or not coarse:
        nodes = _few(x, _NODES_VARIED)
        curves = _varied_curve(replace(plan, experiment=base), nodes * first / molar)
    else:
        nodes = _nodes(experiment, x, spread)
        curves = _digit_curve(plan, labs, nodes * first / molar)
    flat = np.log(x)
    each = np.stack([[np.interp(flat, np.log(nodes), c) for c in part] for part in curves])
    return DesignMap.of(masses, steps, each, target, trials)


def _varied_curve(plan: Plan, consumed_mol: Floats) -> list[list[Floats]]:
    """Return the chance of the right conclusion where the trials truly differ, as _digit_curve."""
    curves = []
    for candidate in plan.experiment.candidates:
        found = [
            over_recovery(replace(plan, consumed_mol=amount), candidate.name)
            for amount in consumed_mol.tolist()
        ]
        curves.append(list(np.array([[c.right for _, c in each] for each in found]).T))
    return curves


def _nodes(experiment: Experiment, x: Floats, spread: float) -> Floats:
    """Return the masses in display steps that make up a curve, rising."""
    if spread < _SHARP:  # nothing between two masses can be foretold
        return _few(x, _NODES_SHARP)
    balances = [i for i in experiment.instruments.values() if isinstance(i, Balance)]
    quiet = any(b.repeatability < _QUIET * b.readability_g for b in balances)
    return np.geomspace(x.min(), x.max(), _NODES_QUIET if quiet else _NODES)


def _few(x: Floats, most: int) -> Floats:
    """Return all masses, or so many in their place if there are more."""
    every = np.unique(x)
    return every if every.size <= most else np.geomspace(every[0], every[-1], most)


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
    rows = []
    for step in steps.tolist():
        changed = with_readability(experiment, step)
        plans = [
            Plan(experiment=changed, consumed_mol=mass / molar, trials=trials, spread=spread)
            for mass in masses.tolist()
        ]
        rows.append([[[c.right for _, c in over_recovery(p, n)] for n in names] for p in plans])
    # from (r, m, candidates, recoveries)
    return DesignMap.of(masses, steps, np.array(rows).transpose(2, 3, 0, 1), target, trials)


@dataclass(frozen=True, slots=True)
class _Lab:
    """A lab of a plan whose errors are in display steps, whatever the amount."""

    truth: int
    recovered: float
    linear: LinearAmounts
    displays: Displays


def _labs(plan: Plan) -> list[_Lab] | None:
    """Return the lab of each candidate and recovery; None if more than digits matters in one."""
    ratios = [float(c.ratio) for c in plan.experiment.candidates]
    labs = []
    for truth, candidate in enumerate(plan.experiment.candidates):
        for recovered in plan.recoveries:
            linear = nominal_lab(plan, candidate.name, recovered)
            displays = _displays(linear, plan.trials)
            if displays is None or any(_narrow(linear, r) is None for r in ratios):
                return None
            labs.append(_Lab(truth, recovered, linear, displays))
    return labs


def _displays(linear: LinearAmounts, trials: int) -> Displays | None:
    """Return the displays of a nominal lab, or None if other readings have digits too."""
    first = [linear.side_blocks(side)[:1] for side in (0, 1)]
    if not all(first):
        return None
    sides = first[0][0], first[1][0]
    taken = sides[0].sources | sides[1].sources
    if any(
        s.kind in ("rounding", "repeatability") and i not in taken
        for i, s in enumerate(linear.sources)
    ):
        return None
    return displays_of(linear, sides, trials)


def _narrow(linear: LinearAmounts, ratio: float) -> float | None:
    """Return the reach of all errors but those of digits, or None if they matter beside these."""
    blocks, rest = linear.blocks(ratio, 1.0)
    wide, narrow = split_narrow(rest, blocks)
    return None if wide else narrow


def _digit_curve(plan: Plan, labs: Sequence[_Lab], consumed_mol: Floats) -> list[list[Floats]]:
    """Return the chance of the right conclusion for each candidate and recovery at many amounts.

    The limits of compatibility are the same at every amount and are worked out once.
    """
    scales = consumed_mol / plan.consumed_mol
    curves: list[list[Floats]] = [[] for _ in plan.experiment.candidates]
    for lab in labs:
        curve = _Curve(lab.displays, plan.spread, scales, _judged(plan, lab, scales))
        curves[lab.truth].append(curve.filled())
    return curves


def _judged(plan: Plan, lab: _Lab, scales: Floats) -> _Judged:
    """Return how a lab is judged whose errors are in display steps."""
    experiment, linear = plan.experiment, lab.linear
    ratios = [float(c.ratio) for c in experiment.candidates]
    alpha = 1 - experiment.coverage_each()
    air = _air(experiment, linear, _CURVE_RANGE[1] / lab.displays.amounts_steps[0])
    strips = strips_of(linear, ratios, experiment.recovery, alpha, air=air)
    ways: tuple[Strips, ...] = (strips,)
    share = np.ones((scales.size, 1))
    if plan.trials > 1:
        allowance = (experiment.recovery[1] - experiment.recovery[0]) / lab.recovered
        q = alarm_share(linear, ratios[lab.truth] * lab.recovered, allowance, scales)
        wide = alarm_limits(linear, strips.ratios, alpha)
        ways, share = (strips, strips.at_least(wide)), np.stack([1 - q, q], axis=1)
    narrow = [_narrow(linear, r) or 0.0 for r in ratios]
    return _Judged(lab.truth, ways, np.array(narrow), share)


def _air(experiment: Experiment, linear: LinearAmounts, scale: float) -> tuple[float, float]:
    """Return by which factors air may change a ratio, over a curve up to a largest amount.

    Left out where the candidates lie so far apart that it changes the mass needed by less than
    1 %: it then only makes the true one fit a little more often at many display steps, and the
    map promises no more than is so.
    """
    air, _ = air_of(experiment, [(scale * linear.mean_consumed, scale * linear.mean_produced)])
    low, high = experiment.recovery
    rising = sorted(float(c.ratio) for c in experiment.candidates)
    gaps = [(more * low) / (less * high) - 1 for less, more in pairwise(rising)]
    return air if min(gaps, default=1.0) < _FAR * (air[1] / air[0] - 1) else NO_AIR


@dataclass(frozen=True, slots=True, eq=False)
class _Judged:
    """How labs are judged.

    Attributes
    ----------
    truth : int
    ways : tuple of Strips
        Strips at the reference amount, in each way a lab may be judged, the widest last.
    growth_mol : ndarray, shape (candidates,)
        The part of the limits that is proportional to the amount (atomic weights).
    share : ndarray, shape (amounts, ways)
        How often a lab is judged so, at every amount of the curve.
    """

    truth: int
    ways: tuple[Strips, ...]
    growth_mol: Floats
    share: Floats

    def right(self, stack: Stack, scales: Floats, step_mol: tuple[float, float]) -> Floats:
        """Return the chance of the right conclusion, shape (lattices, ways)."""
        lattices, rows, columns = stack.p.shape
        passed = np.zeros((lattices, rows, columns + 1))
        np.cumsum(stack.p, axis=2, out=passed[:, :, 1:])
        consumed = np.asarray(
            step_mol[0] * (stack.first[:, :1] + np.arange(rows)), dtype=np.float64
        )
        grown = (scales - 1)[:, None, None, None] * self.growth_mol
        *widest, cut = self.ways[-1].regions(consumed)
        each = [*(strips.edges(consumed) for strips in self.ways[:-1]), widest]
        lower, upper = (np.stack([r[side] for r in each], axis=2) for side in (0, 1))
        lower, upper = lower - grown, upper + grown
        begin, end = lower[..., [self.truth]], upper[..., [self.truth]]
        if cut is not None:
            begin = np.maximum(begin, cut[:, :, None, [self.truth]])
            end = np.maximum(begin, end)
        others = np.arange(lower.shape[-1]) != self.truth
        parts = [edge[..., others].clip(begin, end) for edge in (lower, upper)]
        edges = np.concatenate([begin, end, *parts], axis=3)
        place = np.floor(edges / step_mol[1]) - (stack.first[:, 1, None, None, None] - 1)
        column = place.clip(0, columns).astype(np.intp).reshape(lattices, rows, -1)
        below = np.take_along_axis(passed, column, axis=2).reshape(edges.shape)
        low, high = np.split(below[..., 2:], 2, axis=3)
        mass = below[..., 1] - below[..., 0] - _covered(low, high)
        if consumed[:, 0].min() < -self.ways[0].floors_mol[0]:
            mass[consumed < -self.ways[0].floors_mol[0]] = 0.0
        return np.asarray(mass.sum(axis=1))


def _covered(low: Floats, high: Floats) -> Floats:
    """Return how much several intervals cover, each part once; the last axis is theirs.

    >>> _covered(np.array([[2.0, 0.0, 5.0]]), np.array([[3.0, 2.5, 6.0]])).tolist()
    [4.0]
    """
    if low.shape[-1] > 1:
        order = low.argsort(axis=-1)
        low, high = (np.take_along_axis(end, order, axis=-1) for end in (low, high))
        high = np.maximum.accumulate(high, axis=-1)
        low[..., 1:] = np.maximum(low[..., 1:], high[..., :-1])
    return np.asarray((high - low).sum(axis=-1))


@dataclass(frozen=True, slots=True, eq=False)
class _Curve:
    """Chance of the right conclusion over rising amounts, worked out where it changes."""

    displays: Displays
    spread: float
    scales: Floats
    judged: _Judged

    def filled(self) -> Floats:
        """Return the chance at all amounts.

        With a spread it is worked out at every so many amounts until it has settled, then between
        two of them unless a cubic through their neighbours has foretold it.
        """
        if self.spread < _SHARP:
            return self._everywhere()
        found = self._coarse()
        spans = [*pairwise(found)]
        while spans := [(a, b) for a, b in spans if b - a > 1]:
            middles = [(a + b) // 2 for a, b in spans]
            expected = _cubics(found, middles)
            found.update(zip(middles, self._mean(self._each_way(middles), middles), strict=True))
            spans = [
                part
                for (a, b), m, e in zip(spans, middles, expected, strict=True)
                if abs(found[m] - e) > _FORETOLD
                or (b - a > _CLOSE and abs(found[b] - found[a]) > _FLAT)
                for part in ((a, m), (m, b))
            ]
        last = max(found)
        curve = np.full(self.scales.size, found[last])
        curve[:last] = _cubics(found, range(last))
        return curve.clip(0.0, 1.0)

    def _each_way(self, nodes: list[int]) -> Floats:
        """Return the chance at some of the amounts for each way of judging, (nodes, ways)."""
        scales = self.scales[nodes]
        stack = stack_of(self.displays, scales, spread=self.spread)
        return self.judged.right(stack, scales, self.displays.step_mol)

    def _mean(self, right: Floats, nodes: list[int]) -> list[float]:
        """Return the chance at some of the amounts over the ways of judging."""
        return [*map(float, (right * self.judged.share[nodes]).sum(axis=1))]

    def _everywhere(self) -> Floats:
        """Return the chance worked out at all amounts, until it has settled however judged."""
        size, done = self.scales.size, 0
        curve = np.empty(size)
        while done < size:
            nodes = [*range(done, min(done + _TOGETHER, size))]
            right = self._each_way(nodes)
            curve[nodes] = self._mean(right, nodes)
            done += len(nodes)
            steps = self.spread * self.displays.amounts_steps[0] * self.scales[nodes[0]]
            if steps > _WASHED and right.min() > _HIGH and np.ptp(curve[nodes]) < _SETTLED:
                curve[done:] = curve[nodes].mean()
                break
        return curve

    def _coarse(self) -> dict[int, float]:
        """Return the chance at every so many amounts, until it has settled however judged."""
        found: dict[int, float] = {}
        size = self.scales.size
        nodes = [
            i
            for i in sorted({*range(0, size, max(size // _SPANS, 1)), size - 1})
            if self.displays.coarse(self.spread, scale=float(self.scales[i]))
        ]
        while nodes:
            # lattices of few steps are small and go together; later ones may not be needed
            together = _LATER if found else _AT_FIRST
            chosen, nodes = nodes[:together], nodes[together:]
            right = self._each_way(chosen)
            found.update(zip(chosen, self._mean(right, chosen), strict=True))
            last = [*found.values()][-_ALIKE:]
            if right[-1].min() > _HIGH and max(last) - min(last) < _SETTLED:
                return found
        return found or {0: 1.0}


def _cubics(found: Mapping[int, float], places: Iterable[int]) -> Floats:
    """Return at each place the cubic through the values at the four known places around it.

    >>> _cubics({0: 0.0, 1: 1.0, 3: 27.0, 4: 64.0}, [1, 2]).round(9).tolist()
    [1.0, 8.0]
    """
    known = np.array(sorted(found))
    values = np.array([found[i] for i in known.tolist()])
    wanted = np.fromiter(places, dtype=np.intp)
    count = min(4, known.size)
    first = (np.searchsorted(known, wanted, side="right") - 2).clip(0, known.size - count)
    nodes = known[first[:, None] + np.arange(count)]
    total = np.zeros(wanted.size)
    for j in range(count):
        others = nodes[:, [m for m in range(count) if m != j]]
        factors = (wanted[:, None] - others) / (nodes[:, [j]] - others)
        total += values[first + j] * factors.prod(axis=1)
    return total
