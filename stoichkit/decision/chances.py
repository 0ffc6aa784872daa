"""How probable each candidate is after these readings, and that none of those listed is true.

A p-value says which candidates the readings exclude; it does not say how often an answer is right.
That needs to be told what was thought before: equal shares for the candidates and 5 % for "none of
these" unless an experiment states others. The likelihoods are those of the evidence table.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise

from .._common import FrozenMap
from ..experiments.parts import Prior
from ..uncertainty.distribution import legendre

_NODES, _FEW = 32, 8
"""Nodes where the likelihood is large, and elsewhere."""


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
    prior : Prior
        What was thought before: that of the experiment, or all candidates alike.

    Examples
    --------
    >>> from stoichkit import assess, experiments
    >>> found = assess(experiments.load("copper-silver-coarse")).chances
    >>> {name: round(p, 2) for name, p in found.by_candidate.items()}, round(found.none, 2)
    ({'copper(I)': 0.31, 'copper(II)': 0.65}, 0.04)
    """

    by_candidate: Mapping[str, float]
    none: float
    prior: Prior


def chances_of(
    likelihoods: Mapping[str, float],
    ratios: Mapping[str, float],
    density: Callable[[float], float],
    found: tuple[float, float],
    recovery: tuple[float, float] = (1.0, 1.0),
    prior: Prior | None = None,
) -> Chances:
    """Return the probabilities that follow from likelihoods and what was thought before.

    Parameters
    ----------
    likelihoods, ratios : mapping of name to float
        Of every candidate; likelihoods averaged over the recovery, in the unit of ``density``.
    density : callable
        Likelihood of any mole ratio as measured.
    found : (float, float)
        Mole ratio of the readings and how far from it, in the ratio, anything else is negligible.
    recovery : (float, float)
        Least and largest fraction recovered, anything between being as likely.
    prior : Prior, optional
        All candidates alike, and 5 % for none of them, if left out.

    Examples
    --------
    Two candidates of which one explains the readings three times as well, and no other ratio does:

    >>> likelihoods, ratios = {"a": 3.0, "b": 1.0}, {"a": 1.0, "b": 2.0}
    >>> found = chances_of(likelihoods, ratios, lambda ratio: 0.0, (1.0, 0.1))
    >>> round(found.by_candidate["a"], 9), found.none
    (0.75, 0.0)
    """
    prior = prior or Prior()
    shares = prior.shares(ratios)
    parts = {name: (1 - prior.none) * shares[name] * likelihoods[name] for name in ratios}
    none = 0.0
    if prior.none:
        ends = min(ratios.values()) / 2, 2 * max(ratios.values())
        none = prior.none * _elsewhere(ends, density, found, recovery)
    whole = math.fsum(parts.values()) + none
    if not whole > 0:  # the readings are as good as impossible with every ratio there is
        return Chances(FrozenMap(dict.fromkeys(parts, 0.0)), 1.0, prior)
    return Chances(FrozenMap({name: p / whole for name, p in parts.items()}), none / whole, prior)


def _elsewhere(
    ends: tuple[float, float],
    density: Callable[[float], float],
    found: tuple[float, float],
    recovery: tuple[float, float],
) -> float:
    """Return the likelihood averaged over ratios spread evenly on a logarithmic scale.

    A ratio as measured is the true one times what was recovered: its likelihood counts by how much
    of the recovery leads to it from a true ratio between the ends.
    """
    least, most = recovery

    def weight(ratio: float) -> float:
        if least == most:
            return 1.0
        return max(min(most, ratio / ends[0]) - max(least, ratio / ends[1]), 0.0) / (most - least)

    low, high = math.log(ends[0] * least), math.log(ends[1] * most)
    middle, reach = found
    cuts = {low, high}
    for edge in (middle - reach, middle + reach):
        if edge > 0 and low < math.log(edge) < high:
            cuts.add(math.log(edge))
    total = 0.0
    for start, end in pairwise(sorted(cuts)):
        half = (end - start) / 2
        inside = abs(math.exp(start + half) - middle) <= reach
        x, weights = legendre(_NODES if inside else _FEW)
        for at, each in zip((start + half * (1 + x)).tolist(), weights.tolist(), strict=True):
            ratio = math.exp(at)
            total += half * each * weight(ratio) * density(ratio)
    return total / math.log(ends[1] / ends[0])
