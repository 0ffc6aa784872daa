"""The straight line with errors in both variables, against published fits.

K. Pearson's data with D. York's weights: D. York, Can. J. Phys. 44 (1966) 1079-1086; York et al.,
Am. J. Phys. 72 (2004) 367-375, where they are fitted again. Data, weights and results are from
memory; the results agree with a direct minimisation here. The calibration line of JCGM 100:2008
H.3 was read in a public program that reuses it.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from digits import like, matching_digits
from scipy import optimize

from stoichkit.uncertainty.straight_line import Line, fit_line

X = np.array([0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
Y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
WEIGHT_X = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1])
WEIGHT_Y = np.array([1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500])


def pearson(correlation: float = 0.0) -> Line:
    return fit_line(X, Y, WEIGHT_X**-0.5, WEIGHT_Y**-0.5, correlation)


def test_pearson_data_with_york_weights() -> None:
    """Intercept 5.47991022, slope −0.480533407, chi-squared per degree of freedom 1.4833."""
    line = pearson()

    assert like("5.47991022", line.intercept) == "5.47991022"
    assert like("-0.480533407", line.slope) == "-0.480533407"
    assert like("1.4833", line.chi_squared / line.dof) == "1.4833"
    assert line.converged
    assert line.iterations < 20


def test_standard_uncertainties_of_pearson_data() -> None:
    """0.29497 and 0.057985 from the weights; 0.3592 and 0.0706 widened by the scatter."""
    line = pearson()

    assert like("0.29497", line.u_intercept) == "0.29497"
    assert like("0.057985", line.u_slope) == "0.057985"
    assert like("0.3592", line.u_intercept * line.scatter) == "0.3592"
    assert like("0.0706", line.u_slope * line.scatter) == "0.0706"


@pytest.mark.parametrize("correlation", [0.0, 0.5, -0.8])
def test_direct_minimisation_of_the_sum_of_squares(correlation: float) -> None:
    """The same line as minimising York's sum S numerically over both parameters (scipy)."""
    v_x, v_y = 1 / WEIGHT_X, 1 / WEIGHT_Y
    both = correlation * np.sqrt(v_x * v_y)

    def squares(p: np.ndarray) -> float:
        a, b = p
        return float(np.sum((Y - a - b * X) ** 2 / (v_y + b * b * v_x - 2 * b * both)))

    line = pearson(correlation)
    best = optimize.minimize(
        squares, [5.0, -0.4], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12}
    )

    assert line.chi_squared == pytest.approx(best.fun, rel=1e-10)
    assert [line.intercept, line.slope] == pytest.approx(best.x, rel=1e-6)


def test_calibration_line_of_a_thermometer() -> None:
    """JCGM 100:2008 H.3: exact x, uncertainty from the scatter; all printed digits agree."""
    t = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
    b = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
    line = fit_line(np.array(t) - 20, b, 0.0, 0.001, inflate=True)

    assert like("-0.1712", line.intercept) == "-0.1712"
    assert like("0.00218", line.slope) == "0.00218"
    assert like("0.0029", line.u_intercept) == "0.0029"
    assert like("0.00067", line.u_slope) == "0.00067"
    correlation = line.covariance / (line.u_intercept * line.u_slope)
    assert like("-0.930", correlation) == "-0.930"
    assert like("0.0035", 0.001 * line.scatter) == "0.0035"
    at_30 = line.intercept + 10 * line.slope
    u_at_30 = math.sqrt(line.u_intercept**2 + 100 * line.u_slope**2 + 20 * line.covariance)
    assert like("-0.1494", at_30) == "-0.1494"
    assert like("0.0041", u_at_30) == "0.0041"
    assert matching_digits(line.u_intercept, 0.0028775978) > 7
