"""How much may be typed, where a fault is said to be, and which of three reactants runs out."""

from __future__ import annotations

import pytest

from stoichkit.chemistry.equation import MAX_SPECIES, balance_equation, parse_equation
from stoichkit.chemistry.formula import MAX_CHARACTERS, parse_formula
from stoichkit.chemistry.limiting import limiting_reactant
from stoichkit.chemistry.usual import state_in
from stoichkit.errors import EquationError, FormulaError
from stoichkit.uncertainty.sources import Shape, uncertain_value

RUST = "4 Fe + 3 O2 + 6 H2O -> 4 Fe(OH)3"


def test_forty_species_and_no_more() -> None:
    assert MAX_SPECIES == 40
    left = " + ".join(f"C{n}" for n in range(2, 41))
    assert len(parse_equation(f"{left} -> H2").left) == 39
    with pytest.raises(EquationError, match=r"has 41 species\. .*at most 40"):
        parse_equation(f"{left} -> H2 + O2")


def test_a_species_that_cannot_be_read_is_shown_up_to_forty_characters() -> None:
    with pytest.raises(EquationError, match=r"“#{40}” on the left side cannot be read"):
        parse_equation("#" * 50 + " -> H2")
    with pytest.raises(EquationError, match=r"The coefficient of #{40} cannot be used"):
        parse_equation("0 " + "#" * 50 + " -> H2")
    with pytest.raises(EquationError, match=r"“/#{39}” has a coefficient that is not"):
        parse_equation("/" + "#" * 50 + " -> H2")


@pytest.mark.parametrize(("text", "place"), [("#", 1), ("H2#O", 3), ("Ag(NO3", 3), ("NaCl)", 5)])
def test_a_fault_in_a_formula_is_counted_from_one(text: str, place: int) -> None:
    with pytest.raises(FormulaError, match=rf"\(character {place}\)") as caught:
        parse_formula(text)
    assert caught.value.position == place - 1


def test_a_formula_has_a_most_of_characters() -> None:
    with pytest.raises(FormulaError, match="Allowed: at most "):
        parse_formula("C" * (MAX_CHARACTERS + 1))
    assert parse_formula("e-").hydrate_waters == parse_formula("NaCl").hydrate_waters == 0


def test_ions_that_leave_no_charge_give_no_state() -> None:
    """Na+ and Cl- are even, so that nothing is left for the copper to balance."""
    assert state_in("Cu", "CuNaCl") is None
    assert state_in("Cu", "CuCl2") == 2


def test_chances_of_three_reactants() -> None:
    """Amounts in the ratio 4 : 3 : 6 run out together; a tie is shared."""
    together = limiting_reactant(RUST, {"Fe": 4.0, "O2": 3.0, "H2O": 6.0}).probability
    assert together == pytest.approx({"Fe": 1 / 3, "O2": 1 / 3, "H2O": 1 / 3})
    least = limiting_reactant(RUST, {"Fe": 4.0, "O2": 3.0, "H2O": 5.9})
    assert (least.species, least.probability["H2O"]) == ("H2O", 1.0)

    def about(value: float) -> object:
        return uncertain_value(value, f"{value} mol", kind="other", shape=Shape.NORMAL,
                               scale=0.01 * value)  # fmt: skip

    alike = limiting_reactant(RUST, {"Fe": about(4.0), "O2": about(3.0), "H2O": about(6.0)})
    assert alike.probability == pytest.approx({"Fe": 1 / 3, "O2": 1 / 3, "H2O": 1 / 3}, abs=0.01)


def test_of_many_reactions_in_one_two_are_shown() -> None:
    """Ten species of four elements leave six reactions free."""
    with pytest.raises(EquationError) as refused:
        balance_equation("C + O2 + H2 + N2 -> CO + CO2 + H2O + NO + NO2 + NH3")
    said = str(refused.value)
    assert "6 independent reactions" in said
    assert said.count("“") == 2
