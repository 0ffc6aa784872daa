"""OpenStax *Chemistry 2e*, section 3.3 (Molarity), and EURACHEM/CITAC QUAM:2012, example A1.

OpenStax: worked examples and their "check your learning" answers, from memory, not checked
against the book. QUAM A1: inputs and unrounded results read in the documentation of the GUM Tree
Calculator (page CITAC_A1).
"""

from __future__ import annotations

import math

import pytest
from digits import like, matching_digits

from stoichkit.bench.dilutions import dilute
from stoichkit.bench.recipes import prepare_solution
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.measurement.concentration import KnownConcentration
from stoichkit.measurement.displays import Balance
from stoichkit.measurement.glassware import VolumetricFlask
from stoichkit.uncertainty.sources import nominal, standard_uncertainty

FINE = Balance(readability_g=0.0001)


@pytest.mark.parametrize(
    ("solute", "mol_per_L", "volume_mL", "printed_g"),
    [
        ("CH3CO2H", 0.839, 500, "25.2"),  # vinegar: 25.2 g in 0.500 L is 0.839 M
        ("NaCl", 5.30, 250, "77.4"),  # 0.250 L of a 5.30-M solution holds 77.4 g
        ("CaCl2", 0.200, 250, "5.55"),  # 250.0 mL of a 0.200-M solution holds 5.55 g
    ],
)
def test_mass_for_a_molarity(
    solute: str, mol_per_L: float, volume_mL: float, printed_g: str
) -> None:
    recipe = prepare_solution(solute, mol_per_L, volume_mL, balance=FINE)
    assert recipe.volume_mL == volume_mL
    assert like(printed_g, recipe.mass_g) == printed_g


def test_dilution_with_pipette_and_flask() -> None:
    """25.0 mL of 2.04 M CH3OH diluted to 500.0 mL: 0.102 M."""
    found = dilute(KnownConcentration(mol_per_L=2.04), 0.102, volume_mL=500)
    assert [(s.taken_mL, s.made_mL) for s in found.stages] == [(25.0, 500.0)]
    assert like("0.102", nominal(found.concentration_mol_per_L)) == "0.102"


@pytest.mark.parametrize(
    ("stock", "target", "made_mL", "taken_mL"),
    [
        (5.00, 2.36, 180, "85"),  # 0.850 L of 5.00 M Cu(NO3)2 to 1.80 L, a tenth of it: 2.36 M
        (0.45, 0.12, 41, "11"),  # 11 mL of 0.45 M HBr give 0.041 L of 0.12 M
        (1.59, 0.100, 500, "31.4"),  # 0.314 L of 1.59 M KOH for 5.00 L of 0.100 M, a tenth
        (3.00, 0.575, 261, "50.0"),  # 50.00 mL of 3.00 M glucose give 0.261 L of 0.575 M
    ],
)
def test_dilution_with_cylinders(
    stock: float, target: float, made_mL: float, taken_mL: str
) -> None:
    found = dilute(
        KnownConcentration(mol_per_L=stock), target, volume_mL=made_mL, glassware="cylinder"
    )
    (stage,) = found.stages
    assert like(taken_mL, stage.taken_mL) == taken_mL
    assert nominal(found.concentration_mol_per_L) == pytest.approx(target, rel=0.005)


def test_quam_a1_as_a_recipe() -> None:
    """c(Cd) = 1002.7 mg/L, u = 0.835199 mg/L unrounded; the guide prints 0.9.

    The guide states u(m) = 0.05 mg for the mass, so a weighing by difference carries
    0.05/√2 mg each; M(Cd) cancels and is left out of the budget.
    """
    per_weighing_g = 0.00005 / math.sqrt(2)
    c = 0.10028 * 0.9999 / molar_mass_value("Cd") / 0.1
    recipe = prepare_solution(
        "Cd",
        c,
        100,
        purity=0.9999,
        purity_half_width=0.0001,
        flask=VolumetricFlask(capacity_mL=100.0, tolerance_mL=0.1, repeatability_mL=0.02),
        balance=Balance(readability_g=1e-9, repeatability_g=per_weighing_g),
    )

    per_g = 1000 * molar_mass_value("Cd")
    parts = [x.uncertainty for x in recipe.budget if x.source.kind != "atomic weight"]
    assert like("1002.7", per_g * nominal(recipe.concentration_mol_per_L)) == "1002.7"
    assert matching_digits(per_g * math.hypot(*parts), 0.835199) > 5
    whole = per_g * standard_uncertainty(recipe.concentration_mol_per_L)
    assert 0.835 < whole < 0.9  # with the molar mass of cadmium too
    assert recipe.limited_by.startswith("the glassware")
