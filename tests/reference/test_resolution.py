"""Resolution of a display and the conversions of half-widths to standard uncertainties.

JCGM 100:2008 F.2.2.1 (0.29 step; read in the manual of an open-source R function that cites it);
rectangular, triangular and arcsine conversions (4.3.7, 4.3.9, H.1.3.4 and EURACHEM/CITAC guide
QUAM:2012; read in documentation and HTML edition); cumulants of the uniform error, the basis of
Sheppard's correction, read in encyclopedia pages.
"""

from __future__ import annotations

import math

import pytest
from digits import like, matching_digits

from stoichkit.measurement.displays import Balance
from stoichkit.uncertainty.distribution import SumDistribution, distribution_of
from stoichkit.uncertainty.readings import ErrorPool, parse_number
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    Term,
    budget,
    error_source,
    standard_uncertainty,
)


def weighing(text: str, balance: Balance, label: str = "reading") -> Number:
    return balance.quantity(parse_number(text), name="balance", label=label, pool=ErrorPool())


@pytest.mark.parametrize("step", [0.1, 0.01, 0.0001])
def test_display_step(step: float) -> None:
    """F.2.2.1: u = 0.29 step, variance step²/12."""
    mass = weighing("1.2", Balance(readability_g=step, repeatability_g=0.0))

    assert like("0.29", standard_uncertainty(mass) / step) == "0.29"
    assert standard_uncertainty(mass) ** 2 == pytest.approx(step**2 / 12, rel=1e-12)


def test_relative_uncertainty_of_a_four_digit_reading() -> None:
    """A four-digit reading that starts with 1 has a relative uncertainty of about 0.029 %."""
    mass = weighing("1.000", Balance(readability_g=0.001, repeatability_g=0.0))

    assert like("0.029", 100 * standard_uncertainty(mass)) == "0.029"


def test_unstated_repeatability_is_half_a_step_and_is_said() -> None:
    """Common practice, no source: u = step × √(1/12 + 1/4)."""
    balance = Balance(readability_g=0.01)

    assert standard_uncertainty(weighing("1.20", balance)) == pytest.approx(0.01 / math.sqrt(3))
    assert "0.005 g is assumed" in balance.assumptions()[0]


@pytest.mark.parametrize(
    ("shape", "divisor"),
    [
        (Shape.RECTANGULAR, math.sqrt(3)),
        (Shape.TRIANGULAR, math.sqrt(6)),
        (Shape.ARCSINE, math.sqrt(2)),
        (Shape.NORMAL, 1.0),
    ],
)
def test_half_width_to_standard_uncertainty(shape: Shape, divisor: float) -> None:
    """Rectangular ±a: a/√3; triangular: a/√6; arcsine: a/√2; in source and in distribution."""
    error = error_source("e", kind="other", shape=shape, scale=0.5)

    assert standard_uncertainty(error) == pytest.approx(0.5 / divisor, rel=1e-14)
    assert distribution_of(error).standard_deviation == pytest.approx(0.5 / divisor, rel=1e-14)


def test_arcsine_of_h1() -> None:
    """H.1.3.4: a cyclic variation of ±0.5 °C has a standard uncertainty of 0.35 °C."""
    error = error_source("Δ", kind="temperature", shape=Shape.ARCSINE, scale=0.5)

    assert like("0.35", standard_uncertainty(error)) == "0.35"


def test_difference_of_two_weighings_counts_linearity_twice() -> None:
    """QUAM A2: linearity ±0.15 mg gives 0.09 mg for one weighing and 0.12 mg for a difference."""
    balance = Balance(readability_g=1e-9, repeatability_g=0.0, linearity_g=0.15e-3)
    first, second = weighing("60.5450", balance, "first"), weighing("60.1562", balance, "second")

    assert like("0.09", 1e3 * standard_uncertainty(first)) == "0.09"
    assert like("0.12", 1e3 * standard_uncertainty(first - second)) == "0.12"
    assert [line.source.kind for line in budget(first - second)][:2] == ["linearity"] * 2


@pytest.mark.parametrize(
    ("shape", "second", "fourth"),
    [
        (Shape.RECTANGULAR, 1 / 12, -1 / 120),
        # a triangular error is the sum of two rectangular ones of half the width
        (Shape.TRIANGULAR, 2 / 48, -2 / 1920),
    ],
)
def test_cumulants_of_the_rounding_error(shape: Shape, second: float, fourth: float) -> None:
    """Uniform error on (−c/2, c/2): second cumulant c²/12, fourth −c⁴/120 (c = 1)."""
    error = SumDistribution([Term(shape, 0.5)])
    t = 0.2
    log = math.log(float(error.characteristic_function(t)))

    assert error.variance == pytest.approx(second, rel=1e-14)
    found = 24 * (log + second * t * t / 2) / t**4
    assert matching_digits(found, fourth) > 2.5  # the sixth cumulant adds about t²/600
