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
