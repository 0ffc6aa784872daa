"""Limits, places and refusals of formulas and equations, each worked out by hand."""

from __future__ import annotations

import pytest

from stoichkit.chemistry.usual import state_in


@pytest.mark.parametrize(
    ("metal", "salt", "state"),
    [
        ("Fe", "Fe2(SO4)3", 3),
        ("Fe", "Fe3O4", None),
        ("Cu", "Cu2O", 1),
        ("Cu", "CuO", 2),
        ("Xx", "CuO", None),
        ("(", "CuO", None),
    ],
)
def test_the_state_of_a_metal_is_a_whole_number_or_none(
    metal: str, salt: str, state: int | None
) -> None:
    """Of the other ions: 3 · 2 for two iron; 4 · 2 for three, not a whole number each."""
    assert state_in(metal, salt) == state


@pytest.mark.parametrize(
    ("metal", "salt", "state"),
    [
        ("Ca", "2CaSO4·H2O", 2),
        ("Cd", "3CdSO4·8H2O(s)", 2),
        ("Cu", "CuCO3·Cu(OH)2", 2),
        ("Pb", "2PbCO3·Pb(OH)2", 2),
        ("Cu", "H2O·CuSO4", 2),
        ("Fe", "FeO·Fe2O3", None),
        ("Cu", "CuSO4·CuWO4", None),
        ("Fe", "CuSO4·5H2O", None),
        ("Cu", "CuCl2^-", None),
    ],
)
def test_the_state_of_a_metal_is_that_of_each_part_of_a_formula_with_dots(
    metal: str, salt: str, state: int | None
) -> None:
    """Sulfate, carbonate and two hydroxides are 2−; FeO has iron(II), Fe2O3 has iron(III).

    An ion is no salt: CuCl2^- is of copper(I), which two chlorides alone do not tell.
    """
    assert state_in(metal, salt) == state
