"""JCGM 106:2012: probability of conformity, and the risks of a decision.

7.4 and 7.3.3: inputs of 7.4 were read in an article that reuses the example, those of 7.3.3 and
all printed probabilities are from memory, recomputed. Resistors (clause 9): inputs were read in a
public script, the printed risks are from memory, recomputed.
"""

from __future__ import annotations

import math

import pytest
from digits import like
from scipy import integrate

from stoichkit.uncertainty.distribution import SumDistribution, distribution_of
from stoichkit.uncertainty.sources import Shape, Term, nominal, uncertain_value


def conformity(estimate: float, u: float, low: float = -math.inf, high: float = math.inf) -> float:
    """Return the probability that the quantity lies between two limits."""
    y = uncertain_value(estimate, "y", kind="other", shape=Shape.NORMAL, scale=u)
    below = distribution_of(y).cdf([low - nominal(y), high - nominal(y)])
    return float(below[1] - below[0])


@pytest.mark.parametrize(
    ("estimate", "u", "low", "high", "printed"),
    [
        pytest.param(13.6, 1.8, 12.5, 16.3, "0.66", id="7.4 viscosity of an oil"),
        pytest.param(-5.47, 0.05, -math.inf, -5.40, "0.92", id="7.3.3 voltage, upper limit"),
        pytest.param(509.7, 8.6, 490.0, math.inf, "0.99", id="7.3.3 pressure, lower limit"),
    ],
)
def test_probability_of_conformity(
    estimate: float, u: float, low: float, high: float, printed: str
) -> None:
    """Both printed decimals agree."""
    assert like(printed, conformity(estimate, u, low, high)) == printed


PRIOR = SumDistribution([Term(Shape.NORMAL, 0.12)])
METER = SumDistribution([Term(Shape.NORMAL, 0.04)])
TOLERANCE_OHM = 0.20


def risk(guarded_limit_ohm: float, *, conforming: bool) -> float:
    """Return the producer's (conforming) or consumer's risk, resistance about 1500 Ω."""

    def density(x: float) -> float:
        limits = METER.cdf([-guarded_limit_ohm - x, guarded_limit_ohm - x])
        accepted = float(limits[1] - limits[0])
        return float(PRIOR.pdf(x)) * (1 - accepted if conforming else accepted)

    ends = (0.0, TOLERANCE_OHM) if conforming else (TOLERANCE_OHM, 9 * 0.12)
    return 2 * float(integrate.quad(density, *ends, epsabs=1e-12)[0])


def test_resistors_with_guard_bands() -> None:
    """Prior probability of conformity 0.90, producer's risk 0.07, consumer's risk 0.01."""
    inside = PRIOR.cdf([-TOLERANCE_OHM, TOLERANCE_OHM])

    assert like("0.90", float(inside[1] - inside[0])) == "0.90"
    assert like("0.07", risk(0.18, conforming=True)) == "0.07"
    assert like("0.01", risk(0.18, conforming=False)) == "0.01"


def test_guard_bands_trade_one_risk_for_the_other() -> None:
    """Without guard bands fewer good ones are refused and more bad ones accepted."""
    assert risk(0.20, conforming=True) < risk(0.18, conforming=True)
    assert risk(0.20, conforming=False) > risk(0.18, conforming=False)
