"""The salt from which a solution of each ion is usually made: it holds the ion, and dissolves.

How many of the ions a formula unit holds is counted from its formula; that the usual strength can
be made follows from the second table of solubilities (CRC Handbook, from memory). The strengths
themselves are common practice, no source: between 0.02 and 2 mol/L.
"""

from __future__ import annotations

import pytest

from stoichkit.bench.reagent_data import concentrated
from stoichkit.bench.supply import usual_salts
from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.chemistry.formula import parse_formula
from tests.reference.table import rows

SOLUBLE = {row["formula"]: float(row["least"]) for row in rows("solubility")}


@pytest.mark.parametrize("ion", usual_salts())
def test_a_usual_salt(ion: str) -> None:
    salt, units, mol_per_L = usual_salts()[ion]
    own, counts = parse_formula(ion).counts, parse_formula(salt.split(".")[0]).counts
    element = next(iter(own))
    assert counts[element] == units * own[element]
    assert 0.02 <= mol_per_L <= 2
    base = salt.split(".")[0]
    if base in SOLUBLE:
        saturated = 1000 * SOLUBLE[base] / (100 + SOLUBLE[base]) / molar_mass_value(base)
        assert mol_per_L <= 0.8 * saturated
    else:
        stock = concentrated(salt)
        assert stock is not None
        assert mol_per_L < stock.mol_per_L


OTHER = {
    "C2O4^2-": 0.05, "Cr2O7^2-": 0.02, "MnO4^-": 0.02, "Cu^+": 0.5, "Cu^2+": 0.5, "Zn^2+": 0.5,
    "Fe^2+": 0.2, "Fe^3+": 0.2, "Ni^2+": 0.2, "H^+": 2.0,
}  # fmt: skip
"""Strengths in mol/L at which these are on the shelf of a teaching laboratory."""


def test_most_are_a_tenth_molar_and_one_ion_a_unit() -> None:
    """0.1 mol/L and the others above: common practice, no source."""
    for ion, (_, units, mol_per_L) in usual_salts().items():
        assert mol_per_L == OTHER.get(ion, 0.1), ion
        assert units == 1
    assert set(OTHER) <= set(usual_salts())
