"""The test of one mole ratio after another against the readings of a lab.

With a recovery allowance, and where air matters, a candidate allows a range of ratios as measured:
the one that agrees best counts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from ..experiments.parts import Variation
from ..uncertainty.distribution import SumDistribution, legendre
from .linear import LinearAmounts, ratio_found, towards

if TYPE_CHECKING:
    from .overturning import Change

_NODES = 24


def allowed_ratios(found: float, ratio: float, recovery: tuple[float, float]) -> tuple[float, ...]:
    """Return ratios as measured that a candidate allows, the one nearest to that found first.

    >>> allowed_ratios(1.9, 2.0, (0.9, 1.0)), allowed_ratios(1.0, 2.0, (0.9, 1.0))[0]
    ((1.9,), 1.8)
    """
    low, high = (ratio * f for f in recovery)
    if low == high:
        return (low,)
    if low <= found <= high:
        return (found,)
    near, far = (low, high) if found < low else (high, low)
    return towards(near, far)


def over_recovery(
    density: Callable[[float], float],
    ratio: float,
    recovery: tuple[float, float],
    found: tuple[float, float],
    spread: float,
) -> float:
    """Return the density of a ratio as measured, averaged over a recovery with equal weight.

    ``found`` are the mean amounts consumed and produced, ``spread`` is that of the discrepancy:
    from them follows where the density is not negligible.

    >>> round(over_recovery(lambda ratio: ratio, 2.0, (0.9, 1.0), (1.0, 1.85), 1.0), 12)
    1.9
    """
    low, high = (ratio * f for f in recovery)
    if low == high:
        return density(low)
    n_a, n_b = found
    inner = low, high
    if n_a > 0:
        reach = 8 * spread / n_a
        inner = max(low, n_b / n_a - reach), min(high, n_b / n_a + reach)
    if inner[0] >= inner[1]:
        return 0.0
    x, weight = legendre(_NODES)
    half = (inner[1] - inner[0]) / 2
    values = [density(float(inner[0] + half * (1 + t))) for t in x]
    return float(weight @ values) * half / (high - low)


class RatioTest:
    """The test of one mole ratio after another against the readings of a lab.

    Parameters
    ----------
    linear : LinearAmounts
    variation : Variation or None
        If unknown, no p-value is below that by the trials' own scatter; nor is one where the
        trials scatter more than their readings and a stated variation explain.
    recovery : (float, float)
        Least and largest fraction recovered: a bounded unknown, a ratio of its own a trial.
    air : (float, float)
        Between which factors the buoyancy of air may have changed the ratio: a bounded unknown too.
    fine : bool
        Whether that is always allowed for. If not, it is less than half a display step, and is
        allowed for only where a candidate would be excluded without and not with it, so that every
        verdict holds at every density.
    alone : sequence of RatioTest
        The tests by each route alone, where routes to an amount disagree: the largest p-value
        counts, so that the true ratio is excluded no oftener than by the route that is sound.
    by : (int, int)
        By which route to each amount this test is, counted from 1; 0 for all together.
    """

    def __init__(
        self,
        linear: LinearAmounts,
        variation: Variation | None,
        recovery: tuple[float, float],
        *,
        air: tuple[float, float] = (1.0, 1.0),
        fine: bool = False,
        alone: Sequence[RatioTest] = (),
        by: tuple[int, int] = (0, 0),
    ) -> None:
        with_air = recovery[0] * air[0], recovery[1] * air[1]
        self.linear, self.variation, self.alone = linear, variation, tuple(alone)
        self.by = by
        self._nearest_only = recovery[0] == recovery[1]
        self._stated, self.recovery = recovery, with_air if fine else recovery
        self._with_air, self._air, self._fine = with_air, air, fine
        self.allows_air = fine and with_air != recovery
        self.scatter = linear.scatter(recovery)
        self._unknown = variation is not None and variation.unknown

    def changed(self, change: Change, recovery: tuple[float, float] | None = None) -> RatioTest:
        """Return the same test of other amounts, or with another allowance; by this route only."""
        found = RatioTest(
            change(self.linear),
            self.variation,
            self._stated if recovery is None else recovery,
            air=self._air,
            fine=self._fine,
            by=self.by,
        )
        found._nearest_only = self._nearest_only
        return found

    def nearly(self, ratio: float, alpha: float) -> tuple[float, float]:
        """Return the same as :meth:`candidate` for asking only whether a candidate fits.

        Unless the record allows a recovery, only the ratio nearest to that found is tried, of all
        that air or a recovery asked about may allow; the scatter of the trials is asked only
        where the readings' own errors exclude it.
        """
        if not self._nearest_only:
            return self.candidate(ratio, alpha)
        nearest = self.allowed(ratio, self._with_air)[0]
        p = self.linear.p_value(nearest, 1.0)
        if p < alpha and self.by_scatter:
            own = self.linear.own_scatter_p(nearest, 1.0)
            p = p if math.isnan(own) else max(p, own)
            if p < alpha and not self._unknown:
                p = self.linear.p_value(nearest, 1.0, self.scatter)
        return p, nearest

    @property
    def widest(self) -> tuple[float, float]:
        """Between which factors of its ratio a candidate may be tested, with air."""
        return self._with_air

    @property
    def by_scatter(self) -> bool:
        """Whether the scatter of the trials decides, or has a say."""
        return self._unknown or (self.scatter is not None and self.scatter.excess)

    def p_value(self, x: float, y: float) -> float:
        """Return the p-value of the ratio x/y as measured."""
        return max([self._own_p(x, y), *(test.p_value(x, y) for test in self.alone)])

    def _own_p(self, x: float, y: float) -> float:
        p = self.linear.p_value(x, y, None if self._unknown else self.scatter)
        own = self.linear.own_scatter_p(x, y) if self.by_scatter else math.nan
        return p if math.isnan(own) else max(p, own)

    def allowed(
        self, ratio: float, recovery: tuple[float, float] | None = None
    ) -> tuple[float, ...]:
        """Return ratios as measured that a candidate allows, the likeliest first."""
        found = ratio_found(self.linear.mean_consumed, self.linear.mean_produced)
        return allowed_ratios(found, ratio, recovery or self.recovery)

    def candidate(self, ratio: float, alpha: float) -> tuple[float, float]:
        """Return the largest p-value over what a candidate allows, and the ratio it belongs to.

        The ratio of an excluded one is that nearest to the ratio found: by the scatter of trials
        that agree, all that it allows are excluded alike. It is that of all routes together; what
        each gives alone is asked of ``alone``.
        """
        allowed = self.allowed(ratio)
        p, tested = self._largest(allowed)
        if p >= alpha:
            return p, tested
        if self._with_air != self.recovery:
            wider = self._largest(self.allowed(ratio, self._with_air))
            if wider[0] >= alpha:
                self.allows_air = True
                return wider
        return p, allowed[0]

    @property
    def allowed_parts(self) -> tuple[float, float]:
        """Between which factors of a candidate's ratio it is tested."""
        return self._with_air if self.allows_air else self.recovery

    def _largest(self, ratios: tuple[float, ...]) -> tuple[float, float]:
        p, _, tested = max((self._own_p(r, 1.0), -i, r) for i, r in enumerate(ratios))
        return p, tested

    def scatter_p(self, ratio: float) -> float:
        """Return the same by the scatter of the trials alone; nan where there is none."""
        own = max(self.linear.own_scatter_p(r, 1.0) for r in self.allowed(ratio))
        return max([own, *(test.scatter_p(ratio) for test in self.alone)])

    def error(self, ratio: float) -> SumDistribution:
        """Return the distribution of the discrepancy's error, averaged over digit positions."""
        if self.scatter is not None and self.scatter.excess:
            return self.linear.scatter_distribution(ratio, 1.0, self.scatter)
        return self.linear.distribution(ratio, 1.0)

    def likelihood(self, ratio: float, error: SumDistribution | None = None) -> float:
        """Return the density of the discrepancy, averaged over the recovery with equal weight.

        ``error`` is that of the one ratio allowed, where it is known already.
        """
        if self.recovery[0] == self.recovery[1]:
            return self.density(ratio * self.recovery[0], error)
        found = self.linear.mean_consumed, self.linear.mean_produced
        spread = self.error(self.allowed(ratio)[0]).spread
        return over_recovery(self.density, ratio, self.recovery, found, spread)

    def density(self, ratio: float, error: SumDistribution | None = None) -> float:
        """Return the density of the discrepancy from one ratio as measured."""
        error = self.error(ratio) if error is None else error
        return float(error.pdf(self.linear.mean(ratio, 1.0))) if error.terms else 0.0
