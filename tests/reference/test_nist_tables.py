"""Critical values printed in the NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.

Tables 1.3.6.7.1 (normal: area from 0 to z) and 1.3.6.7.4 (upper critical values of chi-squared).
All values are from memory.
"""

from __future__ import annotations

import numpy as np
import pytest
from digits import like
from scipy.optimize import brentq

from stoichkit.uncertainty.tails import chi_squared_tail, normal_cdf

LEVELS = (0.10, 0.05, 0.025, 0.01, 0.001)
CHI_SQUARED = {
    1: "2.706 3.841 5.024 6.635 10.828",
    2: "4.605 5.991 7.378 9.210 13.816",
    3: "6.251 7.815 9.348 11.345 16.266",
    4: "7.779 9.488 11.143 13.277 18.467",
    5: "9.236 11.070 12.833 15.086 20.515",
    9: "14.684 16.919 19.023 21.666 27.877",
    10: "15.987 18.307 20.483 23.209 29.588",
    20: "28.412 31.410 34.170 37.566 45.315",
    30: "40.256 43.773 46.979 50.892 59.703",
    100: "118.498 124.342 129.561 135.807 149.449",
}
AREAS = {"0.50": "0.19146", "1.00": "0.34134", "1.64": "0.44950", "1.96": "0.47500"}
AREAS |= {"2.58": "0.49506", "3.00": "0.49865", "3.50": "0.49977"}


@pytest.mark.parametrize("dof", CHI_SQUARED)
def test_upper_critical_values_of_chi_squared(dof: int) -> None:
    for level, printed in zip(LEVELS, CHI_SQUARED[dof].split(), strict=True):
        found = brentq(lambda x, p=level: chi_squared_tail(x, dof) - p, 0.01, 400, xtol=1e-9)
        assert like(printed, found) == printed


def test_areas_under_the_normal_curve() -> None:
    for z, printed in AREAS.items():
        assert like(printed, float(normal_cdf(np.array(float(z)))) - 0.5) == printed
