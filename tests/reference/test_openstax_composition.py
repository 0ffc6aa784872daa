"""Worked examples on molar mass, composition, formulas and mole ratios.

Source: OpenStax, Chemistry 2e (CC BY 4.0), examples by number and their "check your learning"
answers (CYL), and end-of-section exercises of section 3.2. Status of every number: read. A
printed value is met when ours rounds to its last digit. The book rounds molar masses before it
divides, mostly to two decimals, so the examples do the same with ours.
"""

from __future__ import annotations

import math
from fractions import Fraction

import pytest

from stoichkit.chemistry.candidates import binary_series
from stoichkit.chemistry.elements import atomic_weight_value, molar_mass_value
from stoichkit.chemistry.equation import balance_equation
from stoichkit.chemistry.formula import parse_formula


def significant(value: float, digits: int) -> float:
    return float(f"{value:.{digits - 1}e}")


def book_mass(formula: str, decimals: int) -> float:
    """Molar mass rounded half up, as the example does."""
    return round(molar_mass_value(formula) + 1e-9, decimals)


def percent(formula: str, symbol: str) -> float:
    count = parse_formula(formula).counts[symbol]
    return 100 * count * atomic_weight_value(symbol) / molar_mass_value(formula)


@pytest.mark.parametrize(
    ("example", "mass_g", "formula", "decimals", "printed_mol", "digits"),
    [
        ("3.3", 4.7, "K", 2, 0.12, 2),
        ("3.3 CYL", 3.24, "Be", 3, 0.360, 3),
        ("3.6", 28.35, "C2H5O2N", 2, 0.3776, 4),
        ("3.6 CYL", 25, "C12H22O11", 2, 0.073, 2),
        ("3.11 Fe", 34.97, "Fe", 2, 0.6261, 4),
        ("3.11 O", 15.03, "O", 2, 0.9394, 4),
        ("3.12 C", 27.29, "C", 2, 2.272, 4),
        ("3.12 O", 72.71, "O", 2, 4.544, 4),
        ("3.13 C", 74.02, "C", 2, 6.163, 4),
        ("3.13 H", 8.710, "H", 3, 8.641, 4),
        ("3.13 N", 17.27, "N", 2, 1.233, 4),
    ],
)
def test_mass_to_amount(
    example: str, mass_g: float, formula: str, decimals: int, printed_mol: float, digits: int
) -> None:
    assert significant(mass_g / book_mass(formula, decimals), digits) == printed_mol, example
    assert mass_g / molar_mass_value(formula) == pytest.approx(
        printed_mol, abs=1.5 * 10.0 ** (math.floor(math.log10(printed_mol)) - digits + 1)
    )


@pytest.mark.parametrize(
    ("example", "amount_mol", "formula", "decimals", "printed_g", "digits"),
    [
        ("3.4", 9.2e-4, "Ar", 2, 0.037, 2),
        ("3.4 CYL", 2.561, "Au", 1, 504.5, 4),  # 504.4 with 196.966570
        ("3.7", 1.42e-4, "C6H8O6", 3, 0.0250, 3),
        ("3.7 CYL", 0.443, "N2H4", 2, 14.2, 3),
    ],
)
def test_amount_to_mass(
    example: str, amount_mol: float, formula: str, decimals: int, printed_g: float, digits: int
) -> None:
    assert significant(amount_mol * book_mass(formula, decimals), digits) == printed_g, example


@pytest.mark.parametrize(
    ("formula", "printed", "decimals"),
    [
        ("C2H5O2N", 75.07, 2),
        ("C6H8O6", 176.124, 3),
        ("C9H8O4", 180.159, 3),
        ("C8H18", 114.23, 2),
        ("Si", 28.09, 2),
    ],
)
def test_molar_masses(formula: str, printed: float, decimals: int) -> None:
    assert book_mass(formula, decimals) == printed


@pytest.mark.parametrize(
    ("formula", "symbol", "printed", "digits"),
    [
        ("C9H8O4", "C", 60.00, 4),
        ("C9H8O4", "H", 4.476, 4),
        ("C9H8O4", "O", 35.52, 4),
        ("Fe2O3", "Fe", 69.9, 3),
    ],
)
def test_3_10_percent_composition(formula: str, symbol: str, printed: float, digits: int) -> None:
    assert significant(percent(formula, symbol), digits) == printed


def amounts_ratio(parts: dict[str, float], formula: str) -> list[float]:
    """Amounts from masses, each divided by the count in the formula and by the first of them."""
    counts = parse_formula(formula).counts
    scaled = [mass / atomic_weight_value(s) / counts[s] for s, mass in parts.items()]
    return [value / scaled[0] for value in scaled]


@pytest.mark.parametrize(
    ("example", "parts", "formula", "tolerance"),
    [
        ("3.11", {"Fe": 34.97, "O": 15.03}, "Fe2O3", 0.001),
        ("3.11 CYL", {"N": 0.130, "O": 0.370}, "N2O5", 0.005),
        ("3.12", {"C": 27.29, "O": 72.71}, "CO2", 0.001),
        ("3.12 CYL", {"C": 40.0, "H": 6.71, "O": 53.28}, "CH2O", 0.003),
        ("3.13", {"C": 74.02, "H": 8.710, "N": 17.27}, "C5H7N", 0.002),
        ("3.13 CYL", {"C": 49.47, "H": 5.201, "N": 28.84, "O": 16.48}, "C4H5N2O", 0.003),
        ("3.2, 6", {"C": 15.8, "S": 84.2}, "CS2", 0.005),
        ("3.2, 6", {"C": 40.0, "H": 6.7, "O": 53.3}, "CH2O", 0.005),
        ("3.2, 10", {"Mg": 28.03, "Si": 21.60, "H": 1.16, "O": 49.21}, "Mg3Si2H3O8", 0.005),
        ("3.2, 12", {"C": 75.95, "N": 17.72, "H": 6.33}, "C5NH5", 0.01),
    ],
)
def test_empirical_formulas(
    example: str, parts: dict[str, float], formula: str, tolerance: float
) -> None:
    assert amounts_ratio(parts, formula) == pytest.approx([1.0] * len(parts), abs=tolerance), (
        example
    )


@pytest.mark.parametrize(
    ("metal", "partner", "masses_g", "printed"),
    [("Fe", "O", (34.97, 15.03), "Fe2O3"), ("N", "O", (0.130, 0.370), "N2O5")],
)
def test_3_11_nearest_of_a_series(
    metal: str, partner: str, masses_g: tuple[float, float], printed: str
) -> None:
    amounts = [m / molar_mass_value(s) for s, m in zip((metal, partner), masses_g, strict=True)]
    series = binary_series(metal, partner, max_metal=3, max_partner=5)
    nearest = min(series, key=lambda c: abs(float(c.ratio) - amounts[1] / amounts[0]))
    assert nearest.name == printed


@pytest.mark.parametrize(
    ("empirical", "molar_mass", "printed"),
    [
        ("C5H7N", 162.3, "C10H14N2"),
        ("C4H5N2O", 194.2, "C8H10N4O2"),
        ("Mg3Si2H3O8", 520.8, "Mg6Si4H6O16"),
        ("C5NH5", 240, "C15H15N3"),
        ("CH", 78.1, "C6H6"),
    ],
)
def test_3_13_molecular_formulas(empirical: str, molar_mass: float, printed: str) -> None:
    units = round(molar_mass / molar_mass_value(empirical))
    counts = {s: n * units for s, n in parse_formula(empirical).counts.items()}
    assert counts == dict(parse_formula(printed).counts)


def test_3_13_unit_mass() -> None:
    assert round(molar_mass_value("C5H7N"), 1) == 81.1  # printed 81.13 from 12.01, 1.008, 14.01
    assert round(40.57 / 0.2500, 1) == 162.3


def test_4_8_ratios() -> None:
    assert balance_equation("Al + I2 -> AlI3").ratio("AlI3", "I2") == Fraction(2, 3)


@pytest.mark.parametrize(
    ("example", "equation", "given_name", "given_mol", "asked", "printed_mol"),
    [
        ("4.8", "Al + I2 -> AlI3", "Al", 0.429, "I2", 0.644),
        ("4.8 CYL", "Ca(OH)2 + H3PO4 -> Ca3(PO4)2 + H2O", "H3PO4", 1.36, "Ca(OH)2", 2.04),
    ],
)
def test_4_8_stoichiometric_factor(
    example: str, equation: str, given_name: str, given_mol: float, asked: str, printed_mol: float
) -> None:
    n = balance_equation(equation).coefficients
    assert significant(given_mol * n[asked] / n[given_name] + 1e-12, 3) == printed_mol, example


@pytest.mark.parametrize(
    ("example", "equation", "given_name", "given_g", "asked", "printed_g", "digits"),
    [
        ("4.10", "MgCl2 + NaOH -> Mg(OH)2 + NaCl", "Mg(OH)2", 16, "NaOH", 22, 2),
        ("4.10 CYL", "Ga + O2 -> Ga2O3", "Ga", 29.0, "Ga2O3", 39.0, 3),
        ("4.11", "C8H18 + O2 -> CO2 + H2O", "C8H18", 702, "O2", 2.46e3, 3),
        ("4.11 CYL", "Fe2O3 + CO -> Fe + CO2", "Fe2O3", 25.13, "CO", 13.22, 4),
    ],
)
def test_4_10_and_4_11_mass_to_mass(
    example: str,
    equation: str,
    given_name: str,
    given_g: float,
    asked: str,
    printed_g: float,
    digits: int,
) -> None:
    n = balance_equation(equation).coefficients
    moles = given_g / molar_mass_value(given_name) * n[asked] / n[given_name]
    assert significant(moles * molar_mass_value(asked), digits) == printed_g, example
