"""OpenStax Chemistry 2e (CC BY 4.0): limiting reactant and percent yield, chapter 4.

All inputs and printed answers were read in the book's source; "CYL" is the answer to "check
your learning". The book's equations are balanced here. It rounds molar masses to two decimals,
so a printed answer counts as reproduced when ours lies within half a unit of its last digit.
"""

from __future__ import annotations

import pytest

from stoichkit.chemistry.elements import molar_mass, molar_mass_value
from stoichkit.chemistry.limiting import limiting_reactant, theoretical_yield
from stoichkit.decision.yields import percent_yield
from stoichkit.uncertainty.sources import nominal
from tests.reference.digits import like, matching_digits


def moles(**masses_g: float) -> dict[str, float]:
    return {name: mass / molar_mass_value(name) for name, mass in masses_g.items()}


def yield_percent(equation: str, product: str, actual_g: float, amounts: dict[str, float]) -> float:
    made = theoretical_yield(equation, amounts, product)
    return percent_yield(actual_g, made.mass_g).estimate


def test_example_4_12_silicon_nitride() -> None:
    """2.00 g Si and 1.50 g N2: 0.0712 and 0.0535 mol; 0.0237 and 0.0268 mol product."""
    amounts = moles(Si=2.00, N2=1.50)
    found = limiting_reactant("Si + N2 -> Si3N4", amounts)

    assert found.species == "Si"
    assert found.reaction.coefficients == {"Si": 3, "N2": 2, "Si3N4": 1}
    assert [like("0.0712", v) for v in amounts.values()] == ["0.0712", "0.0535"]
    assert like("0.0237", nominal(found.extents_mol["Si"])) == "0.0237"
    assert like("0.0268", nominal(found.extents_mol["N2"])) == "0.0268"
    assert like("1.33", amounts["Si"] / amounts["N2"]) == "1.33"
    assert found.probability["Si"] == 1.0


def test_example_4_12_cyl_water() -> None:
    """5.00 g H2 and 10.0 g O2: O2 limits."""
    assert limiting_reactant("H2 + O2 -> H2O", moles(H2=5.00, O2=10.0)).species == "O2"


def test_example_4_13_copper_from_zinc() -> None:
    """1.274 g CuSO4 with excess Zn, 0.392 g Cu: theoretical 0.5072 g, 77.3 %."""
    amounts = {"CuSO4": 1.274 / molar_mass("CuSO4")}
    made = theoretical_yield("CuSO4 + Zn -> Cu + ZnSO4", amounts, "Cu")
    found = percent_yield(0.392, made.mass_g)

    assert like("0.5072", nominal(made.mass_g)) == "0.5072"
    assert like("77.3", found.estimate) == "77.3"
    assert not found.over_100


def test_example_4_13_cyl_freon() -> None:
    """12.5 g CF2Cl2 from 32.9 g CCl4 with excess HF: 48.3 %."""
    found = yield_percent("CCl4 + HF -> CF2Cl2 + HCl", "CF2Cl2", 12.5, moles(CCl4=32.9))

    assert like("48.3", found) == "48.3"


def test_section_4_4_item_8_benzoic_acid() -> None:
    """1.000 kg toluene to 1.21 kg benzoic acid: 91.3 %."""
    found = yield_percent("C7H8 + O2 -> C7H6O2 + H2O", "C7H6O2", 1210.0, moles(C7H8=1000.0))

    assert like("91.3", found) == "91.3"


def test_section_4_4_item_14_uranyl_oxalate() -> None:
    """0.4031 g Na2C2O4 and 1.481 g UO2(NO3)2 to 1.073 g UO2(C2O4)·3H2O: the first limits, 86.56 %.

    Unrounded it is 86.555 %; molar masses of two decimals, as the book uses, give the 86.56.
    """
    amounts = {
        "Na2C2O4": 0.4031 / molar_mass_value("Na2C2O4"),
        "UO2(NO3)2": 1.481 / molar_mass_value("UO2(NO3)2"),
    }
    equation = "Na2C2O4 + UO2(NO3)2 + H2O -> UO2(C2O4)·3H2O + NaNO3"
    found = yield_percent(equation, "UO2(C2O4)·3H2O", 1.073, amounts)

    assert limiting_reactant(equation, amounts).species == "Na2C2O4"
    assert found == pytest.approx(86.56, abs=0.0055)
    assert matching_digits(found, 86.56) > 4
    salt, product = (round(molar_mass_value(f), 2) for f in ("Na2C2O4", "UO2(C2O4)·3H2O"))
    assert like("86.56", percent_yield(1.073, 0.4031 / salt * product).estimate) == "86.56"
