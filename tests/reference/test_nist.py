"""NIST statistical reference datasets: certified values of a line and of variance between groups.

Norris (straight line), AtmWtAg and SiRstv (one-way analysis of variance); data and certified
values were read in the test suite of a general statistics library. AtmWtAg: L. J. Powell, T. J.
Murphy and J. W. Gramlich, J. Res. Natl. Bur. Stand. 87 (1982) 9-19.
"""

from __future__ import annotations

import numpy as np
import pytest
from digits import matching_digits

from stoichkit.uncertainty.pooling import pool
from stoichkit.uncertainty.straight_line import fit_line

NORRIS = """
0.1,0.2; 338.8,337.4; 118.1,118.2; 888.0,884.6; 9.2,10.1; 228.1,226.5; 668.5,666.3; 998.5,996.3;
449.1,448.6; 778.9,777.0; 559.2,558.2; 0.3,0.4; 0.1,0.6; 778.1,775.5; 668.8,666.9; 339.3,338.0;
448.9,447.5; 10.8,11.6; 557.7,556.0; 228.3,228.1; 998.0,995.8; 888.8,887.6; 119.6,120.2; 0.3,0.3;
0.6,0.3; 557.6,556.8; 339.3,339.1; 888.0,887.2; 998.5,999.0; 778.9,779.0; 10.2,11.1; 117.6,118.3;
228.9,229.2; 668.4,669.1; 449.2,448.9; 0.2,0.5
"""
SILVER = (
    "81568 81465 81572 81785 81446 81903 81526 81494 81616 81587 81519 81486 "
    "81419 81569 81508 81672 81385 81518 81662 81424 81360 81333 81610 81477",
    "81079 81344 81513 81197 81604 81385 81642 81365 81151 81082 81517 81448 "
    "81198 81482 81334 81609 81101 81512 81469 81360 81254 81261 81450 81368",
)
RESISTIVITY = (
    "196.3052 196.1240 196.1890 196.2569 196.3403",
    "196.3042 196.3825 196.1669 196.3257 196.0422",
    "196.1303 196.2005 196.2889 196.0343 196.1811",
    "196.2795 196.1748 196.1494 196.1485 195.9885",
    "196.2119 196.1051 196.1850 196.0052 196.2090",
)


def test_norris_in_the_limit_of_exact_x() -> None:
    """Matching digits of coefficients, their uncertainties and the residual sum: at least 11."""
    pairs = [p.split(",") for p in NORRIS.replace("\n", " ").split(";")]
    y, x = np.array(pairs, dtype=float).T
    line = fit_line(x, y, 0.0, 1.0)

    for found, certified in (
        (line.intercept, -0.262323073774029),
        (line.slope, 1.00211681802045),
        (line.u_intercept * line.scatter, 0.232818234301152),
        (line.u_slope * line.scatter, 0.429796848199937e-03),
        (line.scatter, 0.884796396144373),
        (line.chi_squared, 26.6173985294224),
    ):
        assert matching_digits(found, certified) > 11
    assert (line.dof, line.x.size) == (34, 36)


def test_norris_with_tiny_errors_of_x_is_the_same_line() -> None:
    """The limit is approached smoothly: errors of x a thousandth of those of y."""
    pairs = [p.split(",") for p in NORRIS.replace("\n", " ").split(";")]
    y, x = np.array(pairs, dtype=float).T
    line = fit_line(x, y, 1e-3, 1.0)

    assert line.slope == pytest.approx(1.00211681802045, rel=1e-9)


@pytest.mark.parametrize(
    ("groups", "between", "within", "f", "digits"),
    [
        # fifteen-digit data that differ in the last four: 8 digits are left
        pytest.param(
            [["107.86" + d for d in g.split()] for g in SILVER],
            3.63834187500000e-09, 2.28155932971014e-10, 15.9467335677930, 8, id="AtmWtAg",
        ),
        pytest.param(
            [g.split() for g in RESISTIVITY],
            1.27865654000000e-02, 1.08318280000000e-02, 1.18046237440255, 12, id="SiRstv",
        ),
    ],
)  # fmt: skip
def test_analysis_of_variance_through_pooling(
    groups: list[list[str]], between: float, within: float, f: float, digits: float
) -> None:
    """Q of the group means over the within-group variance is F times the degrees of freedom."""
    values = np.array(groups, dtype=float)
    count = values.shape[1]
    found = pool(values.mean(axis=1), np.full(len(values), within / count), method="common")
    random = pool(found.estimates, found.variances, method="dersimonian-laird")

    assert matching_digits(found.q / found.dof, f) > digits
    assert matching_digits(found.q * within / found.dof, between) > digits
    assert matching_digits(random.tau_squared, (between - within) / count) > digits - 1
    assert matching_digits(found.mean, values.mean()) > 14
