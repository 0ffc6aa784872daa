"""How probable each candidate is after these readings, and that none of those listed is true.

A p-value says which candidates the readings exclude; it does not say how often an answer is right.
That needs to be told what was thought before: equal shares for the candidates and 5 % for "none of
these" unless an experiment states others. The likelihoods are those of the evidence table.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from .._common import FrozenMap

_NODES = 40
SHARE_FOR_NONE = 0.05
"""What is thought of "none of these" before the readings, unless an experiment says otherwise."""


@dataclass(frozen=True, slots=True)
class Chances:
    """The probability of each candidate, and of none of them, after these readings.

    Attributes
    ----------
    by_candidate : mapping of str to float
        By name, in the order given; with ``none`` they add up to 1.
    none : float
        Probability that the true ratio is another, spread evenly on a logarithmic scale from half
        the smallest ratio of the candidates to twice the largest.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> found = assess(experiments.load("copper-silver-coarse")).chances
    >>> {name: round(p, 2) for name, p in found.by_candidate.items()}, round(found.none, 2)
    ({'copper(I)': 0.31, 'copper(II)': 0.65}, 0.04)
    """

    by_candidate: Mapping[str, float]
    none: float


def chances_of(
    likelihoods: Mapping[str, float],
    ratios: Mapping[str, float],
    density: Callable[[float], float],
    found: tuple[float, float],
    weights: Mapping[str, float] | None = None,
    share_for_none: float = SHARE_FOR_NONE,
) -> Chances:
    """Return the probabilities that follow from likelihoods and what was thought before.

    Parameters
    ----------
    likelihoods, ratios : mapping of name to float
        Of every candidate; densities in the same unit as ``density``.
    density : callable
        Likelihood of any mole ratio.
    found : (float, float)
        Mole ratio of the readings and how far from it, in the ratio, anything else is negligible.
    weights : mapping of name to float, optional
        Shares of the candidates before the readings, in any unit; equal if left out.
    share_for_none : float
        Probability of none of them before the readings, 0 to below 1.
    """
    given = {name: 1.0 if weights is None else weights.get(name, 0.0) for name in ratios}
    total = math.fsum(given.values())
    parts = {
        name: (1 - share_for_none) * given[name] / total * likelihoods[name] for name in ratios
    }
    none = share_for_none * _elsewhere(min(ratios.values()), max(ratios.values()), density, found)
    whole = math.fsum(parts.values()) + none
    if not whole > 0:  # the readings are as good as impossible with every ratio there is
        return Chances(FrozenMap(dict.fromkeys(parts, 0.0)), 1.0)
    return Chances(FrozenMap({name: p / whole for name, p in parts.items()}), none / whole)


def _elsewhere(
    smallest: float, largest: float, density: Callable[[float], float], found: tuple[float, float]
) -> float:
    """Return the likelihood averaged over ratios spread evenly on a logarithmic scale."""
    low, high = math.log(smallest / 2), math.log(2 * largest)
    middle, reach = found
    cuts = {low, high}
    for edge in (middle - reach, middle, middle + reach):
        if edge > 0 and low < math.log(edge) < high:
            cuts.add(math.log(edge))
    x, weight = np.polynomial.legendre.leggauss(_NODES)
    total = 0.0
    for start, end in zip(sorted(cuts), sorted(cuts)[1:], strict=False):
        half = (end - start) / 2
        values = [density(math.exp(start + half * (1 + t))) for t in x.tolist()]
        total += half * float(weight @ values)
    return total / (high - low)
