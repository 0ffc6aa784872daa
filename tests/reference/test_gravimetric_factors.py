"""Gravimetric factors as handbooks print them, against the molar masses used here.

Source: CRC Handbook of Chemistry and Physics, table of gravimetric factors, from memory; four
figures, the last within one, since atomic weights have changed. The mass sought is the mass weighed
times the factor.
"""

from __future__ import annotations

import pytest

from stoichkit.chemistry.elements import molar_mass_value
from stoichkit.chemistry.formula import parse_formula
from tests.reference.table import rows


@pytest.mark.parametrize(
    "row", rows("gravimetric_factors"), ids=lambda row: f"{row['sought']} in {row['weighed']}"
)
def test_the_factor(row: dict[str, str]) -> None:
    sought, weighed = parse_formula(row["sought"]), parse_formula(row["weighed"])
    factor = int(row["units"]) * molar_mass_value(sought) / molar_mass_value(weighed)
    assert factor == pytest.approx(float(row["factor"]), abs=1.01e-4)
