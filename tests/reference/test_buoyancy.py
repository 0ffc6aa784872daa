"""The buoyancy of air against worked examples and tables of others.

* Glass, 90.00000 g read at an air density of 1.126 kg/m³, glass 2500 kg/m³: 90.02788 g. Worked
  example in the instruction supplement of an analytical balance (read).
* Aluminium, 2.7 g/cm³, 2000.000 mg read at 1.2 kg/m³: 2000.589 mg. Worked example in a balance
  manual (read).
* m = W [1 + (1/D_o − 1/D_w) · 0.0012]: D. Harvey, Analytical Chemistry 2.1, Appendix 16.9, after
  Battino and Williamson, J. Chem. Educ. 61 (1984) 51 (read).
* Volume of 1 g of water as weighed in air at 20 °C and 101.3 kPa, 1.0029 mL: ISO 8655-6, table of
  Z values (from memory); density of water 0.998207 g/cm³ (from memory).
* Air of 1.2 kg/m³ within 10 %: OIML R 111-1, with its simplified formula E.3-1 (from memory).
"""

from __future__ import annotations

import math

import pytest

from stoichkit.measurement.buoyancy import (
    AIR_G_PER_CM3,
    AIR_HALF_WIDTH_G_PER_CM3,
    air_correction,
    air_factor,
    unknown_factors,
)
from stoichkit.measurement.weighing import MassByDifference
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import nominal, standard_uncertainty


def test_glass_in_light_air() -> None:
    assert 90 * air_factor(2.5, 0.001126) == pytest.approx(90.02788, abs=5e-6)


def test_aluminium() -> None:
    assert 2000 * air_factor(2.7) == pytest.approx(2000.589, abs=5e-4)


@pytest.mark.parametrize("density", [0.9, 1.0, 2.286, 4.0, 8.0, 10.49, 21.45])
def test_the_approximate_formula_of_a_textbook(density: float) -> None:
    """It leaves out squares of a part in a thousand."""
    approximate = 1 + (1 / density - 1 / 8.0) * 0.0012
    assert air_factor(density) == pytest.approx(approximate, abs=2e-6)


def test_a_gram_of_water_in_air() -> None:
    assert round(air_factor(0.998207) / 0.998207, 4) == 1.0029


def test_the_air_assumed_holds_in_a_laboratory() -> None:
    """950 to 1040 hPa, 18 to 27 °C and any humidity up to 80 % lie within the stated 10 %."""

    def air_kg_per_m3(p_hPa: float, humidity: float, t_C: float) -> float:
        return (0.34848 * p_hPa - 0.009 * humidity * math.exp(0.061 * t_C)) / (273.15 + t_C)

    found = [air_kg_per_m3(p, h, t) for p in (950, 1040) for h in (20, 80) for t in (18, 27)]
    low, high = (1000 * (AIR_G_PER_CM3 + s * AIR_HALF_WIDTH_G_PER_CM3) for s in (-1, 1))
    assert low < min(found) < max(found) < high
    assert air_kg_per_m3(1013.25, 50, 20) == pytest.approx(1000 * AIR_G_PER_CM3, abs=0.001)


def test_a_calculation_by_hand() -> None:
    """2.0000 g of blue vitriol, 2.286 g/cm³ (handbook value, from memory).

    By hand: 1 − 0.0012/8 = 0.99985; 0.0012/2.286 = 5.24934e-4, so 1 − it = 0.999475066; their ratio
    1.000375131; times 2.0000 g: 2.000750 g. Its error: 10 % of 0.000375131 over √3 is 2.166e-5.
    """
    salt = MassByDifference(species="CuSO4·5H2O", heavier="dish", density_g_per_cm3=2.286)
    steps = salt.explain({"dish": 2.0})
    assert [s.symbol for s in steps[:3]] == ["W(CuSO4·5H2O)", "k(CuSO4·5H2O)", "m(CuSO4·5H2O)"]
    assert nominal(steps[2].value) == pytest.approx(2.000750, abs=1e-6)
    factor = air_correction(2.286, ErrorPool())
    assert standard_uncertainty(factor) == pytest.approx(2.166e-5, rel=2e-3)


def test_the_unknown_density_encloses_every_other() -> None:
    low, high = unknown_factors()
    for density in (0.9, 1.0, 2.0, 8.0, 19.3, 22.0):
        for air in (0.00108, 0.0012, 0.00132):
            assert low <= air_factor(density, air) <= high
