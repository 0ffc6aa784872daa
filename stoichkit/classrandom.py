"""Groups that differ: their discrepancies pooled with random effects, and which stand out."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from .classamounts import ClassAmounts
from .distribution import SumDistribution
from .frozen_map import FrozenMap
from .pooling import OUTLYING_LEVEL, Pooled, deleted_residual, pool
from .student import student_tails
from .uncertain import Shape

__all__ = ["outlying_groups", "random_effects"]


def random_effects(amounts: ClassAmounts, x: float, y: float) -> tuple[Pooled, float]:
    """Return the random-effects pooling of y n_produced − x n_consumed, and its p-value.

    What the groups share keeps its exact shape in the p-value.

    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> pooled, p = random_effects(amounts_from_arrays([1, 2, 3], [1.1, 1.9, 3.2], 0.1, 0.1), 1, 1)
    >>> round(pooled.mean, 3), round(p, 2)
    (0.067, 0.53)
    """
    d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
    pooled = pool(d, v, interval="floored hartung-knapp")
    shared = amounts.shared_terms(x, y, pooled.weights)
    if any(t.shape is not Shape.RECTANGULAR for t in shared):
        return pooled, SumDistribution([pooled.own_term, *shared]).two_sided(pooled.mean)
    half_widths = np.array([[0.0], *([t.scale] for t in shared)])
    value, scale = np.array([pooled.mean]), np.array([pooled.own_term.scale])
    return pooled, float(student_tails(value, half_widths, scale, pooled.dof)[0])


def outlying_groups(amounts: ClassAmounts) -> Mapping[str, float]:
    """Return the residuals of the groups that stand out from the ratio of the others.

    Studentised deleted residuals beyond the Bonferroni limit; none with two groups.

    >>> from stoichkit.classamounts import amounts_from_arrays
    >>> dict(outlying_groups(amounts_from_arrays([1, 2, 3], [1, 2, 3.1], 0.1, 0.1)))
    {}
    """
    count = len(amounts.names)
    found = {}
    for i, name in enumerate(amounts.names if count > 2 else ()):
        others = [j for j in range(count) if j != i]
        consumed, produced = amounts.consumed[others].mean(), amounts.produced[others].mean()
        x, y = amounts.direction(consumed, produced)
        d, v = amounts.discrepancies(x, y), amounts.own.along(x, y)
        rest = pool(d[others], v[others], interval="normal")
        residual, p = deleted_residual(float(d[i]), float(v[i]), rest)
        if p < OUTLYING_LEVEL / count:
            found[name] = residual
    return FrozenMap(found)
