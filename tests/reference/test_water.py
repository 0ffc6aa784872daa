"""Water: vapour pressure and density against the iapws package and a handbook column.

Handbook column: "Handbook of Chemistry and Physics (1992-93)", read on a web copy of that table.
"""

from __future__ import annotations

import pytest
from iapws import IAPWS95, iapws97

from stoichkit._common import data_table
from stoichkit.measurement.gas_and_charge import (
    DENSITY_RELATIVE,
    VAPOUR_PRESSURE_RELATIVE,
    water_density_g_per_mL,
    water_vapour_pressure_kPa,
)
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import (
    Shape,
    contributions,
    nominal,
    standard_uncertainty,
    uncertain_value,
)

HANDBOOK_PA = {
    15: 1705.6, 16: 1818.5, 17: 1938.0, 18: 2064.4, 19: 2197.8, 20: 2338.8, 21: 2487.7,
    22: 2644.7, 23: 2810.4, 24: 2985.0, 25: 3169.0, 26: 3362.9, 27: 3567.0, 28: 3781.8,
    29: 4007.8, 30: 4245.5,
}  # fmt: skip
IAPWS95_DENSITY = {
    15: 999.1026, 20: 998.2072, 22: 997.7735, 25: 997.0476, 30: 995.6495,
}  # fmt: skip
TEXTBOOK_DENSITY = {
    0: 0.9998395, 4: 0.9999720, 10: 0.9997026, 15: 0.9991026, 20: 0.9982071, 22: 0.9977735,
    25: 0.9970479, 30: 0.9956502,
}  # fmt: skip
TEXTBOOK_TORR = {
    0: "4.6", 10: "9.2", 15: "12.8", 20: "17.5", 22: "19.8", 25: "23.8", 30: "31.8", 40: "55.3",
}  # fmt: skip


def vapour_kPa(t: float) -> float:
    return nominal(water_vapour_pressure_kPa(t, ErrorPool()))


def density(t: float) -> float:
    return nominal(water_density_g_per_mL(t, ErrorPool()))


def test_every_row_of_the_table_is_what_iapws_gives() -> None:
    rows = data_table("water.csv")

    assert [row["temperature_C"] for row in rows] == [str(t) for t in range(100)]
    for t, row in enumerate(rows):
        p = iapws97._PSat_T(t + 273.15) * 1e6
        assert float(row["vapour_pressure_Pa"]) == pytest.approx(p, abs=5.01e-4)
        rho = IAPWS95(T=t + 273.15, P=0.101325).rho
        assert float(row["density_kg_per_m3"]) == pytest.approx(rho, abs=5.01e-5)


def test_between_the_rows_the_vapour_pressure_agrees_to_five_digits() -> None:
    for tenth in range(991):
        t = tenth / 10
        assert vapour_kPa(t) == pytest.approx(iapws97._PSat_T(t + 273.15) * 1e3, rel=5e-6)


def test_from_10_degrees_on_it_agrees_to_six_digits() -> None:
    for tenth in range(100, 981):
        t = tenth / 10
        assert vapour_kPa(t) == pytest.approx(iapws97._PSat_T(t + 273.15) * 1e3, rel=1e-6)


@pytest.mark.parametrize("t", [0.5, 3.7, 15.5, 20.3, 24.9, 60.5, 98.5])
def test_between_the_rows_the_density_agrees_to_one_in_a_million(t: float) -> None:
    assert density(t) == pytest.approx(IAPWS95(T=t + 273.15, P=0.101325).rho / 1000, rel=1e-6)


@pytest.mark.parametrize(("t", "pressure_Pa"), HANDBOOK_PA.items())
def test_handbook_vapour_pressure_is_within_the_stated_uncertainty(
    t: int, pressure_Pa: float
) -> None:
    """Read; largest difference 0.03 %, the table claims ±0.05 %."""
    assert vapour_kPa(t) * 1000 == pytest.approx(pressure_Pa, rel=3e-4)
    assert VAPOUR_PRESSURE_RELATIVE > 3e-4


def test_the_vapour_pressure_is_off_by_at_most_what_the_table_claims() -> None:
    """Half a thousandth of 2.339 kPa at 20 °C, rectangular: 1.17 Pa / √3 = 0.675 Pa."""
    pressure = water_vapour_pressure_kPa(20.0, ErrorPool())
    assert standard_uncertainty(pressure) * 1000 == pytest.approx(0.675, abs=0.001)


@pytest.mark.parametrize(("t", "kg_per_m3"), IAPWS95_DENSITY.items())
def test_printed_iapws95_density(t: int, kg_per_m3: float) -> None:
    assert density(t) * 1000 == pytest.approx(kg_per_m3, abs=1e-4)


@pytest.mark.parametrize(("t", "g_per_mL"), TEXTBOOK_DENSITY.items())
def test_textbook_density(t: int, g_per_mL: float) -> None:
    """OpenStax Chemistry 2e, Appendix E (read); within 4e-6, the table claims ±1e-5."""
    assert density(t) == pytest.approx(g_per_mL, rel=4e-6)
    assert DENSITY_RELATIVE > 4e-6


@pytest.mark.parametrize(("t", "torr"), TEXTBOOK_TORR.items())
def test_textbook_vapour_pressure_in_torr(t: int, torr: str) -> None:
    """OpenStax Chemistry 2e, Appendix E (read).

    All of its decimals below 30 °C; at 30 and 40 °C that table is one unit lower.
    """
    found = vapour_kPa(t) * 760 / 101.325
    assert found == pytest.approx(float(torr), abs=0.051 if t < 30 else 0.1)


@pytest.mark.parametrize("t", [0.0, 0.999999, 1.0, 20.0, 37.5, 98.999999, 99.0])
def test_slope_is_that_of_the_saturation_line(t: float) -> None:
    warm = uncertain_value(t, "t", kind="tolerance", shape=Shape.NORMAL, scale=1.0)

    parts = contributions(water_vapour_pressure_kPa(warm, ErrorPool()))

    slope = next(c for source, c in parts if source.label == "t")
    low, high = (iapws97._PSat_T(273.15 + t + d) * 1e3 for d in (0.0, 1e-3))
    assert slope == pytest.approx((high - low) / 1e-3, rel=5e-4)


def test_value_and_slope_are_continuous_at_the_rows() -> None:
    for t in range(1, 99):
        for function in (water_vapour_pressure_kPa, water_density_g_per_mL):
            slopes, values = [], []
            for at in (t - 1e-9, t + 1e-9):
                warm = uncertain_value(at, "t", kind="t", shape=Shape.NORMAL, scale=1.0)
                found = function(warm, ErrorPool())
                values.append(nominal(found))
                slopes.append(next(c for s, c in contributions(found) if s.label == "t"))
            assert values[0] == pytest.approx(values[1], rel=1e-9)
            assert slopes[0] == pytest.approx(slopes[1], rel=1e-6, abs=1e-12)
