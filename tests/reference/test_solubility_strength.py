"""Solubilities, heats of solution and usual strengths, against a second table of each.

Source: CRC Handbook of Chemistry and Physics, and suppliers' labels, from memory: solubility in g
per 100 g of water at 20 °C as a range, since tables differ; standard enthalpy of solution in kJ/mol
of the salt without its crystal water. A salt or an acid that the tables do not have fails.
"""

from __future__ import annotations

import pytest

from stoichkit.bench.reagent_data import (
    _solubility_rows,
    _stocks,
    concentrated,
    heat_caution,
    solubility,
)
from stoichkit.chemistry.elements import molar_mass_value
from tests.reference.table import rows

TABLE = {row["formula"]: row for row in rows("solubility")}
FIGURES = {
    "AgNO3": 216, "AgCl": 1.9e-4, "BaCl2": 35.8, "Ba(OH)2": 3.9, "BaSO4": 2.5e-4, "CaCl2": 74,
    "CaCO3": 1.3e-3, "Ca(OH)2": 0.17, "C6H8O7": 147, "CoCl2": 53, "CuCl2": 73, "Cu(NO3)2": 125,
    "CuSO4": 20.5, "FeCl2": 62, "FeCl3": 92, "FeSO4": 26, "H2C2O4": 9.5, "I2": 0.029, "KBr": 65,
    "KCl": 34, "K2CrO4": 63, "K2Cr2O7": 12.3, "KHC8H4O4": 9, "KI": 144, "KMnO4": 6.4,
    "KNO3": 31.6, "KOH": 112, "MgCl2": 54, "MgSO4": 33.7, "Mg(OH)2": 0.001, "NaCl": 35.9,
    "Na2CO3": 21.5, "Na2C2O4": 3.4, "NaHCO3": 9.6, "NaOH": 109, "Na2SO4": 19.5, "Na2S2O3": 70,
    "NH4Cl": 37.2, "NH4NO3": 190, "NiSO4": 37, "Pb(NO3)2": 54, "PbCl2": 1.0, "PbI2": 0.07,
    "PbSO4": 0.004, "SnCl2": 84, "ZnCl2": 395, "Zn(NO3)2": 118, "ZnSO4": 54,
}  # fmt: skip
"""Handbook figures at 20 °C (memory), typed a second time: a slip in either is noticed.

That they are right to the digits that tables agree on is for the ranges of the second table.
"""
LABELS = {
    "HCl": (37, 1.18), "HNO3": (65, 1.39), "H2SO4": (96, 1.84), "H3PO4": (85, 1.69),
    "CH3COOH": (100, 1.05), "NH3": (25, 0.91),
}  # fmt: skip
"""Per cent by mass and g/mL of concentrated reagents as they are sold (suppliers, memory)."""
STRENGTHS = {row["formula"]: float(row["mol_per_L"]) for row in rows("concentrated")}
STRONG, COOLING = -40.0, 14.0
"""Heats of solution, kJ/mol, that are worth a caution (common practice, no source)."""


def test_every_salt_and_every_strong_solution_has_a_row() -> None:
    assert set(_solubility_rows()) == set(TABLE)
    assert set(_stocks()) == set(STRENGTHS)


@pytest.mark.parametrize("formula", TABLE)
def test_what_dissolves_and_what_does_not(formula: str) -> None:
    """S g in 100 g of water: at most 10 S g in a litre, at least 1000 S / (100 + S)."""
    low, high = float(TABLE[formula]["least"]), float(TABLE[formula]["most"])
    assert low <= float(_solubility_rows()[formula]["g_per_100g_water"]) <= high
    molar = molar_mass_value(formula)
    saturated = 1000 * low / (100 + low) / molar
    assert solubility(formula, 0.7 * saturated).dissolves is True
    assert solubility(formula, 1.3 * 10 * high / molar).dissolves is False
    assert solubility(formula, 10 * high / molar).dissolves is not True


@pytest.mark.parametrize("formula", TABLE)
def test_heat_is_told_and_its_sign(formula: str) -> None:
    text = TABLE[formula]["heat_kJ_per_mol"]
    said = heat_caution(formula)
    warms, cools = "warms the water" in said or "heats the water" in said, "cools the water" in said
    assert not (warms and cools)
    if not text:
        assert not warms
        return
    heat = float(text)
    assert not (warms and heat > 0)
    assert not (cools and heat < 0)
    if heat <= STRONG:
        assert warms, heat
    if heat >= COOLING and float(TABLE[formula]["least"]) > 7:
        assert cools, heat


@pytest.mark.parametrize("formula", ["NaOH", "KOH", "CaCl2", "ZnCl2"])
def test_what_boils_a_flask_is_never_begun_in_one(formula: str) -> None:
    said = heat_caution(formula)
    assert "heats the water strongly" in said
    assert "never in the volumetric flask" in said
    assert "small portions" in said


@pytest.mark.parametrize("formula", STRENGTHS)
def test_usual_strengths(formula: str) -> None:
    """Within 2 %, and the figure is taken as known to 3 %."""
    stock = concentrated(formula)
    assert stock is not None
    assert stock.mol_per_L == pytest.approx(STRENGTHS[formula], rel=0.02)
    assert stock.half_width_mol_per_L == pytest.approx(0.03 * stock.mol_per_L)


@pytest.mark.parametrize("formula", FIGURES)
def test_figures_typed_twice(formula: str) -> None:
    assert float(_solubility_rows()[formula]["g_per_100g_water"]) == FIGURES[formula]
    low, high = float(TABLE[formula]["least"]), float(TABLE[formula]["most"])
    assert low <= FIGURES[formula] <= high


@pytest.mark.parametrize("formula", LABELS)
def test_what_stands_on_the_bottle(formula: str) -> None:
    """10 w ρ / M: 37 % of 1.18 g/mL are 436.6 g/L."""
    percent, density = LABELS[formula]
    stock = concentrated(formula)
    assert stock is not None
    assert stock.name.endswith(f"({percent} %)")
    assert stock.mol_per_L == pytest.approx(10 * percent * density / molar_mass_value(formula))
