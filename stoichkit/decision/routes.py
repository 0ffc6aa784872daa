"""Several routes to one amount: which are compared, whether they agree, what is judged by each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, product

from ..measurement.base import Models
from .linear import LinearAmounts
from .ratio_test import allowed_ratios

ROUTES_LEVEL = 0.01
"""Chance, shared over all pairs of routes to one amount, below which they are said to disagree."""
SIDES = ("consumed", "produced")


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether two routes lead to the same amount.

    Attributes
    ----------
    side : str
        ``"consumed"`` or ``"produced"``.
    routes : (int, int)
        Which two, counted from 1.
    amounts_mol : (float, float)
        Mean over the trials by each.
    p_value : float
        Chance of a mean difference at least as large if both are sound, from the exact
        distribution of the errors of the difference: what acts in both routes counts once.
    agree : bool
        Whether ``p_value`` is at least ``ROUTES_LEVEL``, 0.01, over the number of pairs.
    """

    side: str
    routes: tuple[int, int]
    amounts_mol: tuple[float, float]
    p_value: float
    agree: bool


@dataclass(frozen=True, slots=True)
class RoutePair:
    """Two routes to one amount, and the p-value below which they are said to disagree."""

    side: str
    routes: tuple[int, int]
    models: Models
    level: float

    def compared(self, linear: LinearAmounts, air: tuple[float, float]) -> Agreement:
        """Return whether the amounts by both, as if one made the other, agree.

        The difference n_i − n_j is the discrepancy from the mole ratio 1, and is tested as that of
        a candidate is: display readings at their worst position, unknown buoyancy (``air``) as a
        bounded unknown. Scatter widens nothing: it would let routes agree that differ at random.
        """
        means = linear.mean_consumed, linear.mean_produced
        ratio = means[1] / means[0] if means[0] > 0 else 1.0
        p = max(linear.p_value(r, 1.0) for r in allowed_ratios(ratio, 1.0, air))
        return Agreement(self.side, self.routes, means, p, p >= self.level)


def route_pairs(models: Models) -> Iterator[RoutePair]:
    """Yield every two routes to one amount; none where there is one route to each."""
    for side, model in zip(SIDES, models, strict=True):
        pairs = list(combinations(enumerate(model.ways, start=1), 2))
        for (i, one), (j, other) in pairs:
            yield RoutePair(side, (i, j), (one, other), ROUTES_LEVEL / len(pairs))


def ways_alone(
    models: Models, agreements: Sequence[Agreement]
) -> list[tuple[Models, tuple[int, int]]]:
    """Return each route alone to the amounts whose routes disagree, and which it is.

    Counted from 1; 0 for all together. Empty where all agree.
    """
    apart = {one.side for one in agreements if not one.agree}
    if not apart:
        return []
    ways = [
        [*enumerate(model.ways, start=1)] if side in apart else [(0, model)]
        for side, model in zip(SIDES, models, strict=True)
    ]
    return [((a, b), (i, j)) for (i, a), (j, b) in product(*ways)]


def landmarks(linear: Sequence[LinearAmounts]) -> list[float]:
    """Return what each route gives as the ratio, and half-way between two neighbours.

    There the set of compatible ratios may begin anew, or have a gap.
    """
    pairs = [(one.mean_consumed, one.mean_produced) for one in linear]
    found = sorted(b / a for a, b in pairs if a > 0 and b > 0)
    return [*found, *((low + high) / 2 for low, high in pairwise(found))]
