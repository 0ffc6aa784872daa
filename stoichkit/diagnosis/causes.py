"""What a physical effect would have to amount to for a candidate to fit the readings.

With e grams of an effect in each trial the discrepancy of a candidate becomes D − e g, where g
follows from what one gram adds to each measured amount. It is linear, so the amount that makes
the candidate fit exactly is D / g, and the amounts that the readings do not exclude are those
with |D − e g| within the limit at which the evidence's own p-value falls below 1 − coverage.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import TypeAlias

from ..decision.evidence import CandidateEvidence, Evidence, assess, linear_amounts
from ..decision.linear import LinearAmounts, Scatter, to_mean
from ..decision.ratio_test import RatioTest
from ..errors import ModelError
from ..experiments.parts import Variation
from ..experiments.record import Experiment
from ..uncertainty import entry
from ..uncertainty.readings import ErrorPool
from ..uncertainty.sources import nominal
from .effects import Effect, effects_for, moved_amounts

Point: TypeAlias = tuple[float, float]
_ACCURACY = 1e-6
_MOST_DOUBLINGS = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """How much of one effect would make one candidate fit.

    Attributes
    ----------
    effect : Effect
    candidate : str
    needed : float
        Amount in each trial (mean) that makes the discrepancy zero, in the effect's unit;
        negative when the effect works the wrong way, nan when it does not move the discrepancy.
    low, high : float
        Amounts at which the candidate is compatible, by inversion of the evidence's test;
        not cut off at what is possible.
    most : float
        Largest amount that the masses present allow; 0 is the smallest.
    fraction, fraction_low, fraction_high : float
        ``needed``, ``low`` and ``high`` as a part of what was measured as product, or as
        consumed where the effect acts on that alone.
    fraction_of : str
        ``"produced"`` or ``"consumed"``: what the fractions refer to.
    ratio_change : int
        +1 if the effect makes the measured mole ratio, and with it the percent yield, too
        large; −1 too small; 0 neither.
    fits_without : bool
        Whether the candidate is compatible with none of the effect.
    """

    effect: Effect
    candidate: str
    needed: float
    low: float
    high: float
    most: float
    fraction: float
    fraction_low: float
    fraction_high: float
    fraction_of: str
    ratio_change: int
    fits_without: bool

    @property
    def possible(self) -> bool:
        """Whether an amount from 0 to ``most`` makes the candidate compatible."""
        return self.low <= self.most and self.high >= 0

    @property
    def kind(self) -> str:
        """What becomes of the candidate, as one of five words.

        ``"possible"``: the effect makes it fit; ``"free"``: it fits without it; ``"too much"``:
        more would be needed than there is; ``"wrong way"``; ``"unmoved"``: the effect does not
        change how well it fits.
        """
        if math.isnan(self.needed):
            return "unmoved"
        if self.possible:
            return "free" if self.fits_without else "possible"
        return "wrong way" if self.high < 0 else "too much"

    @property
    def turn(self) -> str:
        """What it makes of ratio and yield, in words.

        >>> from stoichkit import experiments
        >>> causes_for(assess(experiments.load("copper-silver")), "copper(I)")[0].turn
        'too large'
        """
        return {1: "too large", -1: "too small", 0: "no different"}[self.ratio_change]

    @property
    def explains(self) -> bool:
        """Whether the candidate is excluded without the effect and possible with it."""
        return self.possible and not self.fits_without

    @property
    def possible_range(self) -> tuple[float, float]:
        """Amounts that are both compatible and possible; (nan, nan) when there are none."""
        if not self.possible:
            return math.nan, math.nan
        return max(self.low, 0.0), min(self.high, self.most)


def causes_for(
    evidence: Evidence, candidate: str, *, residue: str = "", beyond_recovery: bool = False
) -> tuple[Cause, ...]:
    """Say for every effect that can occur how much of it would make a candidate fit.

    Parameters
    ----------
    evidence : Evidence
        A recovery allowance is left out, because an effect is what it allows for.
    candidate : str
        Name of a candidate.
    residue : str, optional
        Formula of the salt that poor washing would leave in the product.
    beyond_recovery : bool
        Whether to keep that allowance and ask what an effect did besides: the ratio to be met is
        then the one of those allowed that agrees best with the readings.

    Returns
    -------
    tuple of Cause
        In the order of the catalogue.

    Raises
    ------
    ModelError
        If there is no such candidate, or the last argument is neither True nor False.

    Notes
    -----
    Sensitivities are those at the readings as they are. Excess scatter between trials widens
    the ranges as it widens the verdict.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> evidence = assess(experiments.load("copper-silver"))
    >>> water = causes_for(evidence, "copper(I)")[0]
    >>> water.effect.name, water.possible, round(water.needed, 2), water.ratio_change
    ('product not dry', True, 0.2, 1)
    """
    entry.flags(beyond_recovery=beyond_recovery)
    plain, tested, ratio, limit_mol = _prepared(evidence, candidate, beyond_recovery)
    return tuple(
        _cause(plain, tested, effect, ratio, limit_mol)
        for effect in effects_for(plain.experiment, residue=residue)
    )


def compatibility_limit_mol(
    linear: LinearAmounts,
    ratio: float,
    alpha: float,
    *,
    scatter: Scatter | None = None,
    variation: Variation | None = None,
) -> float:
    """Return the largest |discrepancy|, mol, whose p-value is at least ``alpha``."""
    moved = copy(linear)
    test = RatioTest(moved, variation, (1.0, 1.0))
    test.scatter = scatter
    # in proportion to the amounts, so that none scatters more
    part = 1 / to_mean(linear.consumed, linear.own_consumed)
    centred = linear.produced - part * linear.mean(ratio, 1.0)

    def compatible(discrepancy_mol: float) -> bool:
        moved.produced = centred + part * discrepancy_mol
        return test.p_value(ratio, 1.0) >= alpha

    low, high = 0.0, linear.distribution(ratio, 1.0).spread
    for _ in range(_MOST_DOUBLINGS):
        if not compatible(high):
            break
        low, high = high, 2 * high
    while high - low > _ACCURACY * high:
        middle = 0.5 * (low + high)
        low, high = (middle, high) if compatible(middle) else (low, middle)
    return low


def _prepared(
    evidence: Evidence, name: str, beyond_recovery: bool = False
) -> tuple[Evidence, CandidateEvidence, float, float]:
    """Return the evidence without recovery allowance, the candidate's, its ratio and its limit.

    The limit is in mol. With the allowance, the ratio is the one of those allowed that was tested.
    """
    entry.text("candidate", name)
    entry.record("evidence", evidence, Evidence).named(name)
    if evidence.experiment.recovery != (1.0, 1.0) and not beyond_recovery:
        plain = replace(evidence.experiment, recovery=(1.0, 1.0))
        evidence = assess(plain, coverage=evidence.together)
    tested = evidence.named(name)
    ratio = tested.tested_ratio if beyond_recovery else tested.ratio
    linear = linear_amounts(evidence.experiment, evidence.amounts)
    alpha = 1 - evidence.coverage
    limit_mol = compatibility_limit_mol(
        linear,
        ratio,
        alpha,
        scatter=evidence.scatter,
        variation=evidence.experiment.variation,
    )
    if tested.compatible:  # the p-value moves in grains: keep what it says of the readings
        limit_mol = max(limit_mol, abs(tested.discrepancy_mol))
    return evidence, tested, ratio, limit_mol


def _cause(
    evidence: Evidence, tested: CandidateEvidence, effect: Effect, ratio: float, limit_mol: float
) -> Cause:
    n_a, n_b = nominal(evidence.n_consumed), nominal(evidence.n_produced)
    alpha, beta = moved_amounts(evidence.experiment, effect)
    gain = beta - ratio * alpha
    if gain:
        needed = tested.discrepancy_mol / gain
        ends = sorted((tested.discrepancy_mol + s * limit_mol) / gain for s in (-1, 1))
    else:
        needed = math.nan
        ends = [-math.inf, math.inf] if tested.compatible else [math.nan, math.nan]
    on_product = bool(beta)
    measured, moved = (n_b, abs(beta)) if on_product else (n_a, abs(alpha))
    scale = moved / measured if measured > 0 else math.nan
    limits = _limits(evidence.experiment, ratio, (n_a, n_b), [(effect, alpha, beta)])
    most = min((room / use for (use,), room in limits if use > 0), default=math.inf)
    return Cause(
        effect=effect,
        candidate=tested.name,
        needed=needed,
        low=ends[0],
        high=ends[1],
        most=max(most, 0.0),
        fraction=needed * scale,
        fraction_low=ends[0] * scale,
        fraction_high=ends[1] * scale,
        fraction_of="produced" if on_product else "consumed",
        ratio_change=(beta * n_a > alpha * n_b) - (beta * n_a < alpha * n_b),
        fits_without=tested.compatible,
    )


def _limits(
    experiment: Experiment,
    ratio: float,
    amounts_mol: tuple[float, float],
    moved: Sequence[tuple[Effect, float, float]],
) -> list[tuple[tuple[float, ...], float]]:
    """Return (uses, room): amounts e are possible while Σ use_j e_j <= room, for each row.

    What was consumed cannot be negative; no more can be weighed beside the product than was
    weighed, nor lost than was made; an oxide, a decomposition or a reading bounds its own effect.
    """
    n_a, n_b = amounts_mol
    alphas = [alpha for _, alpha, _ in moved]
    beside = [max(beta, 0.0) for _, _, beta in moved]
    lost = [max(-beta, 0.0) for _, _, beta in moved]
    rows = [(tuple(alphas), n_a), (tuple(beside), n_b)]
    if any(lost):
        uses = tuple(b + ratio * a for a, b in zip(alphas, lost, strict=True))
        rows.append((uses, ratio * n_a))
    for i, (effect, alpha, beta) in enumerate(moved):
        own = [float(i == j) for j in range(len(moved))]
        if math.isfinite(effect.most_per_product):
            most = effect.most_per_product / beta
            uses = tuple(o + most * b for o, b in zip(own, beside, strict=True))
            rows.append((uses, most * n_b))
        if math.isfinite(effect.most_per_consumed):
            most = effect.most_per_consumed / abs(alpha)
            uses = tuple(o + most * a for o, a in zip(own, alphas, strict=True))
            rows.append((uses, most * n_a))
        if effect.most_reading:
            rows.append((tuple(own), _mean_reading(experiment, effect.most_reading)))
    return rows


def _mean_reading(experiment: Experiment, where: str) -> float:
    """Return the mean over the trials of the reading at ``side.place``."""
    side, _, place = where.partition(".")
    name = (experiment.produced if side == "produced" else experiment.consumed).reading(place)
    pool = ErrorPool()
    values = [nominal(experiment.quantities(t, pool)[name]) for t in experiment.trials]
    return sum(values) / len(values)


@dataclass(frozen=True, slots=True, kw_only=True)
class Combination:
    """Two effects at once: which pairs of amounts make a candidate fit.

    The pairs (a, b) with ``gain_a`` a + ``gain_b`` b = ``discrepancy_mol`` lie on a line; those
    within ``limit_mol`` of it are compatible. Possible pairs are not negative and satisfy every
    ((use_a, use_b), room) of ``limits``: use_a a + use_b b <= room.

    Attributes
    ----------
    gains_mol : (float, float)
        Change of the discrepancy per gram (or mL) of each effect, mol.
    line : tuple of (float, float)
        Ends of the part of the line that is possible; empty when there is none.
    band : tuple of (float, float)
        Corners of the region that is compatible and possible, in order; empty when none is.
    """

    effects: tuple[Effect, Effect]
    candidate: str
    gains_mol: tuple[float, float]
    discrepancy_mol: float
    limit_mol: float
    limits: tuple[tuple[tuple[float, ...], float], ...]
    line: tuple[Point, ...]
    band: tuple[Point, ...]

    def compatible(self, amount_a: float, amount_b: float) -> bool:
        """Return whether the candidate is compatible with this much of each effect."""
        gain_a, gain_b = self.gains_mol
        return abs(self.discrepancy_mol - gain_a * amount_a - gain_b * amount_b) <= self.limit_mol

    def possible(self, amount_a: float, amount_b: float) -> bool:
        """Return whether the masses present allow this much of each effect."""
        return min(amount_a, amount_b) >= 0 and all(
            u * amount_a + v * amount_b <= room for (u, v), room in self.limits
        )


def combine(evidence: Evidence, candidate: str, effect_a: Effect, effect_b: Effect) -> Combination:
    """Return which amounts of two effects together make a candidate fit.

    Parameters
    ----------
    evidence : Evidence
        A recovery allowance is left out.
    candidate : str
    effect_a, effect_b : Effect
        From :func:`stoichkit.diagnosis.effects.effects_for` the same experiment.

    Raises
    ------
    ModelError
        If there is no such candidate, or both effects are the same.

    Examples
    --------
    >>> from stoichkit import experiments
    >>> from stoichkit.diagnosis.effects import effect_named
    >>> lab = experiments.load("copper-silver")
    >>> wet, lost = (effect_named(lab, key) for key in ("wet product", "lost product"))
    >>> found = combine(assess(lab), "copper(I)", wet, lost)
    >>> found.compatible(0.20, 0.0), found.compatible(0.30, 0.10), found.compatible(0.0, 0.1)
    (True, True, False)
    """
    for name, effect in (("effect_a", effect_a), ("effect_b", effect_b)):
        entry.record(name, effect, Effect)
    if effect_a == effect_b:
        raise ModelError(
            "Two different effects are needed.", given=effect_a.name, allowed="another effect"
        )
    plain, tested, ratio, limit_mol = _prepared(evidence, candidate)
    experiment, d = plain.experiment, tested.discrepancy_mol
    moved = [(effect, *moved_amounts(experiment, effect)) for effect in (effect_a, effect_b)]
    gain_a, gain_b = (beta - ratio * alpha for _, alpha, beta in moved)
    amounts = nominal(plain.n_consumed), nominal(plain.n_produced)
    limits = _limits(experiment, ratio, amounts, moved)
    region = _region(limits)
    band = _clipped(region, (gain_a, gain_b), d + limit_mol)
    band = _clipped(band, (-gain_a, -gain_b), limit_mol - d)
    line = _clipped(_clipped(region, (gain_a, gain_b), d), (-gain_a, -gain_b), -d)
    return Combination(
        effects=(effect_a, effect_b),
        candidate=candidate,
        gains_mol=(gain_a, gain_b),
        discrepancy_mol=d,
        limit_mol=limit_mol,
        limits=tuple(limits),
        line=(min(line), max(line)) if line else (),
        band=tuple(band),
    )


def _region(limits: Iterable[tuple[tuple[float, ...], float]]) -> list[Point]:
    """Return the corners of the possible pairs of amounts; none if nothing is possible."""
    rows = list(limits)
    corner = [
        min((room / uses[i] for uses, room in rows if uses[i] > 0 and uses[1 - i] >= 0), default=0)
        for i in (0, 1)
    ]
    if min(corner) < 0:
        return []
    region = [(0.0, 0.0), (corner[0], 0.0), (corner[0], corner[1]), (0.0, corner[1])]
    for uses, room in rows:
        region = _clipped(region, (uses[0], uses[1]), room)
    return region


def _clipped(corners: Sequence[Point], uses: Point, room: float) -> list[Point]:
    """Cut a convex polygon down to where uses · point <= room."""
    size = max((abs(uses[0] * x) + abs(uses[1] * y) for x, y in corners), default=0.0)
    slack = 1e-12 * max(size, abs(room))
    found: list[Point] = []
    for i, here in enumerate(corners):
        before = corners[i - 1]
        here_over = uses[0] * here[0] + uses[1] * here[1] - room
        before_over = uses[0] * before[0] + uses[1] * before[1] - room
        if (here_over > slack) != (before_over > slack):
            t = before_over / (before_over - here_over)
            x, y = (b + t * (h - b) for b, h in zip(before, here, strict=True))
            found.append((x, y))
        if here_over <= slack:
            found.append(here)
    return list(dict.fromkeys(found))
