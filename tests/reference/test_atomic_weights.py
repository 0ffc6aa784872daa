"""Every atomic weight against its printed form, digits in parentheses included.

Source: IUPAC Commission on Isotopic Abundances and Atomic Weights, standard atomic weights 2021
(ciaaw.org/atomic-weights.htm). Status "read": seen in that table or, for the abridged values and
for Ba, in the periodictable documentation that quotes Prohaska et al., Pure Appl. Chem. 94
(2022) 573. Status "memory": recalled, not confirmed in a text. The reason for a table: a value
such as 4.002602(2) has been read elsewhere as 4.0026022.

Our table was written from the package periodictable, and every row of it is compared with the
version installed.
"""

from __future__ import annotations

import re
from typing import Any

import periodictable
import pytest

from stoichkit.chemistry.elements import (
    KNOWN,
    atomic_weight,
    atomic_weight_range,
    atomic_weight_value,
    element_name,
)
from stoichkit.errors import FormulaError
from stoichkit.uncertainty.sources import contributions, nominal

SINGLE = [
    ("Na", "22.98976928(2)", "read"),
    ("Al", "26.9815384(3)", "read"),
    ("K", "39.0983(1)", "read"),
    ("Ca", "40.078(4)", "read"),
    ("Ti", "47.867(1)", "read"),
    ("V", "50.9415(1)", "read"),
    ("Cr", "51.9961(6)", "read"),
    ("Mn", "54.938043(2)", "read"),
    ("Fe", "55.845(2)", "read"),
    ("Co", "58.933194(3)", "read"),
    ("Ni", "58.6934(4)", "read"),
    ("Cu", "63.546(3)", "read"),
    ("Zn", "65.38(2)", "read"),
    ("Ag", "107.8682(2)", "read"),
    ("Sn", "118.710(7)", "read"),
    ("I", "126.90447(3)", "read"),
    ("Ba", "137.327(7)", "read"),
    ("He", "4.002602(2)", "memory"),
    ("F", "18.998403162(5)", "memory"),
    ("P", "30.973761998(5)", "memory"),
    ("Au", "196.966570(4)", "memory"),
    ("Hg", "200.592(3)", "memory"),
]

RANGES = [
    ("H", "[1.00784, 1.00811]", "1.0080 ± 0.0002", "read"),
    ("C", "[12.0096, 12.0116]", "12.011 ± 0.002", "read"),
    ("N", "[14.00643, 14.00728]", "14.007 ± 0.001", "read"),
    ("O", "[15.99903, 15.99977]", "15.999 ± 0.001", "read"),
    ("Mg", "[24.304, 24.307]", "24.305 ± 0.002", "read"),
    ("S", "[32.059, 32.076]", "32.06 ± 0.02", "read"),
    ("Cl", "[35.446, 35.457]", "35.45 ± 0.01", "read"),
    ("Br", "[79.901, 79.907]", "79.904 ± 0.003", "read"),
    ("Li", "[6.938, 6.997]", "6.94 ± 0.06", "memory"),
    ("B", "[10.806, 10.821]", "10.81 ± 0.02", "memory"),
    ("Si", "[28.084, 28.086]", "28.085 ± 0.001", "memory"),
    ("Ar", "[39.792, 39.963]", "39.95 ± 0.16", "memory"),
    ("Tl", "[204.382, 204.385]", "204.38 ± 0.01", "memory"),
    ("Pb", "[206.14, 207.94]", "207.2 ± 1.1", "memory"),  # the range; the ± was read
]


def half_width(symbol: str) -> float:
    ((source, _),) = contributions(atomic_weight(symbol))
    return source.scale


def from_parentheses(printed: str) -> tuple[float, float]:
    """Read 118.710(7) as 118.710 and 0.007."""
    match = re.fullmatch(r"(\d+)\.(\d+)\((\d+)\)", printed)
    assert match is not None
    return float(f"{match[1]}.{match[2]}"), int(match[3]) * 10.0 ** -len(match[2])


@pytest.mark.parametrize("element", [e for e in periodictable.elements if 1 <= e.number <= 118])
def test_every_row_is_what_periodictable_holds(element: Any) -> None:
    """The ± sits in a private attribute; 0 marks an element without a standard atomic weight."""
    symbol = element.symbol
    assert symbol in KNOWN
    british = {"aluminum": "aluminium", "cesium": "caesium"}
    assert element_name(symbol) == british.get(element.name, element.name)
    if element._mass_unc > 0:
        assert atomic_weight_value(symbol) == element.mass
        assert half_width(symbol) == element._mass_unc
    else:
        with pytest.raises(FormulaError, match="no standard atomic weight"):
            atomic_weight_value(symbol)


@pytest.mark.parametrize(("symbol", "printed", "status"), SINGLE)
def test_single_values(symbol: str, printed: str, status: str) -> None:
    value, uncertainty = from_parentheses(printed)
    assert atomic_weight_value(symbol) == nominal(atomic_weight(symbol)) == value
    assert half_width(symbol) == pytest.approx(uncertainty, rel=1e-9)
    assert atomic_weight_range(symbol) is None
    assert status in ("read", "memory")


@pytest.mark.parametrize(("symbol", "bounds", "abridged", "status"), RANGES)
def test_ranges(symbol: str, bounds: str, abridged: str, status: str) -> None:
    value, uncertainty = (float(part) for part in abridged.split(" ± "))
    lower, upper = (float(part) for part in bounds.strip("[]").split(", "))
    assert atomic_weight_value(symbol) == value
    assert half_width(symbol) == pytest.approx(uncertainty, rel=1e-9)
    assert atomic_weight_range(symbol) == (lower, upper)
    assert status in ("read", "memory")


def test_every_range_has_a_row() -> None:
    weighed = (symbol for symbol in KNOWN if periodictable.elements.symbol(symbol)._mass_unc > 0)
    assert {s for s in weighed if atomic_weight_range(s)} == {symbol for symbol, *_ in RANGES}


def test_limits_are_rectangular_as_in_the_guide() -> None:
    """QUAM A2 (EURACHEM/CITAC, read): KHP with the guide's older weights has u = 0.0038 g/mol.

    Its limits are treated as rectangular, as ours are; with the 2021 ± the same sum gives a
    larger figure because the abridged ± of carbon is 0.002 instead of 0.0008.
    """
    older = {"C": (8, 0.0008), "H": (5, 0.00007), "O": (4, 0.0003), "K": (1, 0.0001)}
    u = sum((n * limit) ** 2 / 3 for n, limit in older.values()) ** 0.5
    assert round(u, 4) == 0.0038
    now = {s: n * half_width(s) for s, (n, _) in older.items()}
    assert (sum(a * a / 3 for a in now.values())) ** 0.5 == pytest.approx(0.00954, abs=5e-5)
