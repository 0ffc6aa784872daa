"""Are first-order sensitivities good enough for this experiment? (JCGM 101:2008 clause 8)."""

from __future__ import annotations

from typing import Any

import numpy as np

from .amounts import MassByDifference, Precipitate
from .experiment import Experiment
from .montecarlo import Comparison, compare_first_order, draw, propagate, tolerance_of
from .readings import ErrorPool
from .uncertain import Source, nominal, simulated, standard_uncertainty

__all__ = ["compare_discrepancy", "linearity_fails"]

_SCREEN = 200


def _discrepancy(experiment: Experiment, ratio: float) -> Any:
    pairs = experiment.amounts(ErrorPool())
    total = sum(b - ratio * a for a, b in pairs)
    return total / len(pairs)


def linearity_fails(experiment: Experiment, ratio: float, coverage: float) -> bool:
    """Return whether the discrepancy from a ratio fails the comparison of JCGM 101 clause 8.

    Pairs of opposite errors show the part that first order leaves out without the noise of the
    part it keeps; only where that part could matter is the full Monte Carlo comparison made.
    Weighings alone are linear but for the atomic weights and are passed at once.

    >>> from stoichkit import experiments
    >>> linearity_fails(experiments.load("magnesium-gas"), 1.0, 0.95)
    False
    """
    linear = (MassByDifference, Precipitate)
    if isinstance(experiment.consumed, linear) and isinstance(experiment.produced, linear):
        return False
    first_order = _discrepancy(experiment, ratio)
    rng = np.random.default_rng(np.random.SFC64(1))

    def pairs(source: Source) -> Any:
        half = draw(source, rng, _SCREEN)
        return np.concatenate([half, -half])

    with simulated(pairs):
        values = np.asarray(_discrepancy(experiment, ratio))
    if values.ndim == 0:
        return False
    even = 0.5 * (values[:_SCREEN] + values[_SCREEN:]) - nominal(first_order)
    limit = tolerance_of(standard_uncertainty(first_order))
    if float(np.quantile(np.abs(even), 0.95)) <= limit:
        return False
    return not compare_discrepancy(experiment, ratio, coverage).agrees


def compare_discrepancy(experiment: Experiment, ratio: float, coverage: float) -> Comparison:
    """Compare first order with an adaptive Monte Carlo for the discrepancy from a ratio."""
    result = propagate(lambda: _discrepancy(experiment, ratio), coverage=coverage)
    return compare_first_order(_discrepancy(experiment, ratio), result)
