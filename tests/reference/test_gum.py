"""JCGM 100:2008 (GUM): examples H.1 and H.3, Annex G, and the shared standard of clause 5.2.2.

H.1 (Table H.1) was read in the documentation of the GUM Tree Calculator and in a data set of the
R package metRology; H.3 (Table H.6) in the documentation of the GUM Tree Calculator. In Table G.2
the cells marked "read" were seen in the test files of two open-source programs that quote the
table; the others are from memory of its columns, recomputed with Student's t. The example of
clause 5.2.2 is from memory.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest
from digits import like, matching_digits
from uncertainties import correlation_matrix

from stoichkit.uncertainty.distribution import SumDistribution
from stoichkit.uncertainty.montecarlo import propagate
from stoichkit.uncertainty.sources import (
    Number,
    Shape,
    Term,
    budget,
    error_source,
    nominal,
    standard_uncertainty,
    uncertain_value,
)


def normal(value: float, label: str, u: float) -> Number:
    return uncertain_value(value, label, kind="other", shape=Shape.NORMAL, scale=u)


def rectangular(value: float, label: str, half_width: float) -> Number:
    return uncertain_value(value, label, kind="other", shape=Shape.RECTANGULAR, scale=half_width)


def student(value: float, label: str, u: float, dof: float) -> Number:
    return uncertain_value(value, label, kind="other", shape=Shape.STUDENT_T, scale=u, dof=dof)


def effective_dof(value: Number, dof: Mapping[str, float]) -> float:
    """Welch-Satterthwaite formula, GUM equation (G.2b); labels not named count as infinite."""
    quarters = (line.uncertainty**4 / dof.get(line.label, math.inf) for line in budget(value))
    return standard_uncertainty(value) ** 4 / math.fsum(quarters)


# -- H.1 end-gauge calibration ----------------------------------------------------------------

COMPARATOR_DOF = {"repeated observations": 24, "random effects": 5, "systematic effects": 8}
END_GAUGE_DOF = {"l_S": 18, **COMPARATOR_DOF, "δα": 50, "δθ": 2}


def comparator_nm() -> Number:
    return (
        student(215.0, "repeated observations", 5.8, 24)
        + student(0.0, "random effects", 3.9, 5)
        + student(0.0, "systematic effects", 6.7, 8)
    )


def end_gauge_nm() -> Number:
    """l = l_S + d − l_S (δα θ + α_S δθ), all lengths in nm."""
    standard = student(50_000_623.0, "l_S", 25.0, 18)
    alpha = rectangular(11.5e-6, "α_S", 2e-6)
    theta = normal(-0.1, "mean bed temperature", 0.2) + error_source(
        "cyclic variation", kind="other", shape=Shape.ARCSINE, scale=0.5
    )
    d_alpha, d_theta = rectangular(0.0, "δα", 1e-6), rectangular(0.0, "δθ", 0.05)
    return standard + comparator_nm() - standard * (d_alpha * theta + alpha * d_theta)


def test_h1_length_and_contributions() -> None:
    """Table H.1: l = 50 000 838 nm, u_c = 32 nm; contributions 25, 9.7, 2.9, 16.6 nm, two zero."""
    length = end_gauge_nm()

    parts = {line.label: line.uncertainty for line in budget(length)}
    assert like("50000838", nominal(length)) == "50000838"
    assert like("32", standard_uncertainty(length)) == "32"
    assert parts["l_S"] == pytest.approx(25.0)
    assert like("9.7", math.hypot(*(parts[name] for name in COMPARATOR_DOF))) == "9.7"
    assert matching_digits(parts["δα"], 2.887) > 3.5
    assert matching_digits(parts["δθ"], 16.599) > 4.5
    # θ and α_S multiply quantities whose estimate is zero
    assert set(parts) == set(END_GAUGE_DOF)


def test_h1_standard_uncertainties_of_bounded_inputs() -> None:
    """H.1.3: 2e-6 rectangular gives 1.2e-6; arcsine 0.5 gives 0.35; θ has 0.41 °C."""
    theta = normal(-0.1, "bed", 0.2) + error_source(
        "cyclic variation", kind="other", shape=Shape.ARCSINE, scale=0.5
    )

    assert like("1.2", 1e6 * standard_uncertainty(rectangular(0.0, "α_S", 2e-6))) == "1.2"
    assert like("0.58", 1e6 * standard_uncertainty(rectangular(0.0, "δα", 1e-6))) == "0.58"
    assert like("0.029", standard_uncertainty(rectangular(0.0, "δθ", 0.05))) == "0.029"
    assert like("0.41", standard_uncertainty(theta)) == "0.41"


def test_h1_effective_degrees_of_freedom_and_expanded_uncertainty() -> None:
    """H.1.6: ν_eff(d) = 25.6, ν_eff(l) = 16 (16.7 truncated), t_99(16) = 2.92, U_99 = 93 nm.

    The printed 25.6 and 16.7 come from u(d) = 9.7 nm and u_c² = 1002 nm², both rounded.
    """
    length = end_gauge_nm()

    dof = effective_dof(length, END_GAUGE_DOF)
    factor = SumDistribution([Term(Shape.STUDENT_T, 1.0, math.floor(dof))]).half_width(0.99)

    comparator = comparator_nm()
    rounded = (
        effective_dof(comparator, COMPARATOR_DOF) * (9.7 / standard_uncertainty(comparator)) ** 4
    )
    assert like("25.6", rounded) == "25.6"
    assert like("16.7", dof * (1002 / standard_uncertainty(length) ** 2) ** 2) == "16.7"
    assert math.floor(dof) == 16
    assert like("2.92", factor) == "2.92"
    assert like("93", factor * 32) == "93"  # the guide multiplies the rounded 32 nm


def test_h1_second_order_terms_by_monte_carlo() -> None:
    """H.1.7: with the products δα θ and α_S δθ, u = 34 nm (33.91 from the rounded inputs)."""

    def rounded_inputs() -> Number:
        standard = normal(50_000_623.0, "l_S", 25.0)
        products = normal(0.0, "δα", 0.58e-6) * normal(-0.1, "θ", 0.41)
        products += normal(11.5e-6, "α_S", 1.2e-6) * normal(0.0, "δθ", 0.029)
        return standard + normal(215.0, "d", 9.7) - standard * products

    result = propagate(rounded_inputs, trials=400_000)

    assert like("34", result.standard_uncertainty) == "34"
    assert result.standard_uncertainty == pytest.approx(33.91, abs=0.16)  # four standard errors
    assert like("31.71", standard_uncertainty(rounded_inputs())) == "31.71"


# -- H.3 calibration line of a thermometer ----------------------------------------------------

T_C = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
CORRECTION_C = [
    -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
]  # fmt: skip


def line_at_20_C(corrections: list[Number]) -> tuple[Number, Number]:
    """Return intercept at 20 °C and slope of the least-squares line, equations (H.13)."""
    theta = [t - 20.0 for t in T_C]
    mean = math.fsum(theta) / len(theta)
    squares = math.fsum((t - mean) ** 2 for t in theta)
    slope = sum(b * ((t - mean) / squares) for b, t in zip(corrections, theta, strict=True))
    return sum(corrections) / len(theta) - slope * mean, slope


def test_h3_calibration_line() -> None:
    """Table H.6: intercept, slope, their uncertainties and correlation, and b(30 °C)."""
    y1, y2 = line_at_20_C(list(CORRECTION_C))
    residuals = [b - y1 - y2 * (t - 20) for b, t in zip(CORRECTION_C, T_C, strict=True)]
    s = math.sqrt(math.fsum(r * r for r in residuals) / 9)
    uncertain = [normal(b, f"b{k}", s) for k, b in enumerate(CORRECTION_C, start=1)]

    intercept, slope = line_at_20_C(uncertain)
    at_30 = intercept + slope * 10.0

    assert matching_digits(math.fsum(r * r for r in residuals), 0.000110096583) > 8.5
    assert like("0.0035", s) == "0.0035"
    assert like("-0.1712", nominal(intercept)) == "-0.1712"
    assert like("0.0029", standard_uncertainty(intercept)) == "0.0029"
    assert like("0.00218", nominal(slope)) == "0.00218"
    assert like("0.00067", standard_uncertainty(slope)) == "0.00067"
    assert like("-0.930", correlation_matrix([intercept, slope])[0][1]) == "-0.930"
    assert like("-0.1494", nominal(at_30)) == "-0.1494"
    assert like("0.0041", standard_uncertainty(at_30)) == "0.0041"


# -- Annex G ----------------------------------------------------------------------------------

SIGMA_1, SIGMA_2, SIGMA_3 = (math.erf(k / math.sqrt(2)) for k in (1, 2, 3))
COVERAGES = [SIGMA_1, 0.90, 0.95, SIGMA_2, 0.99, SIGMA_3]
TABLE_G2 = """
1    1.84* 6.31  12.71* 13.97 63.66 235.80*
2    1.32  2.92  4.30   4.53  9.92  19.21*
3    1.20  2.35  3.18   3.31  5.84  9.22
4    1.14  2.13  2.78   2.87  4.60  6.62
5    1.11  2.02  2.57   2.65  4.03  5.51*
6    1.09  1.94  2.45   2.52  3.71  4.90
7    1.08  1.89  2.36   2.43  3.50  4.53
8    1.07  1.86  2.31   2.37  3.36  4.28
9    1.06  1.83  2.26   2.32  3.25  4.09
10   1.05  1.81* 2.23   2.28  3.17  3.96
11   1.05  1.80  2.20   2.25  3.11* 3.85
12   1.04  1.78  2.18   2.23  3.05  3.76
15   1.03  1.75  2.13   2.18  2.95  3.59
16   1.03  1.75  2.12   2.17  2.92* 3.54
20   1.03  1.72* 2.09*  2.13  2.85  3.42
50   1.01  1.68  2.01   2.05  2.68  3.16
100  1.01  1.66  1.98   2.03  2.63  3.08
inf  1.00  1.64  1.96   2.00* 2.58  3.00*
"""
"""Coverage factors to two decimals; * marks a cell that was read."""


@pytest.mark.parametrize("row", TABLE_G2.split("\n")[1:-1])
def test_table_g2_coverage_factors(row: str) -> None:
    """Each cell of Table G.2 to its two decimals (first column 1, 2, 3 σ exactly)."""
    dof, *printed = row.replace("*", "").split()
    student_t = SumDistribution([Term(Shape.STUDENT_T, 1.0, float(dof))])

    found = [
        like(cell, student_t.half_width(p)) for cell, p in zip(printed, COVERAGES, strict=True)
    ]

    assert found == printed


def test_table_g2_without_degrees_of_freedom_is_the_normal_one() -> None:
    """A Student t source whose degrees of freedom are not stated has the factor 1.96."""
    x = uncertain_value(0.0, "x", kind="other", shape=Shape.STUDENT_T, scale=1.0)

    found = SumDistribution([Term(Shape.STUDENT_T, standard_uncertainty(x))]).half_width(0.95)

    assert like("1.96", found) == "1.96"


def test_g4_four_equal_contributions() -> None:
    """G.4: four equal contributions with 10 degrees of freedom each have 40 together."""
    y = sum(student(0.0, name, 1.0, 10) for name in "abcd")

    assert effective_dof(y, dict.fromkeys("abcd", 10.0)) == pytest.approx(40.0, rel=1e-12)


# -- 5.2.2, correlated input quantities -------------------------------------------------------


def test_5_2_2_ten_resistors_calibrated_against_one_standard() -> None:
    """Ten resistors of 1000 Ω calibrated with one standard of u = 100 mΩ: u(sum) = 1 Ω."""
    standard = normal(1000.0, "R_S", 0.1)
    total = sum(1.0 * standard for _ in range(10))
    apart = sum(normal(1000.0, f"R{k}", 0.1) for k in range(10))

    assert standard_uncertainty(total) == pytest.approx(1.0, rel=1e-12)
    assert like("0.32", standard_uncertainty(apart)) == "0.32"  # the guide's incorrect value
