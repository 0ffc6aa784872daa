"""Atomic weights, their shared uncertainty, and molar masses."""

from __future__ import annotations

import math
import subprocess
import sys

import pytest

from stoichkit.chemistry.elements import (
    KNOWN,
    atomic_weight,
    atomic_weight_range,
    atomic_weight_value,
    element_name,
    molar_mass,
    molar_mass_value,
)
from stoichkit.chemistry.formula import SYMBOLS, parse_formula
from stoichkit.errors import FormulaError
from stoichkit.uncertainty.sources import Shape, contributions, nominal, standard_uncertainty


def has_weight(symbol: str) -> bool:
    try:
        atomic_weight(symbol)
    except FormulaError:
        return False
    return True


STANDARD = [symbol for symbol in SYMBOLS if has_weight(symbol)]


def test_84_elements_have_a_standard_atomic_weight() -> None:
    """84 of 118: all but Tc, Pm and those from Po on except Th, Pa, U (IUPAC; memory)."""
    assert len(STANDARD) == 84
    missing = set(SYMBOLS) - set(STANDARD)
    assert missing == {"Tc", "Pm"} | set(SYMBOLS[83:]) - {"Th", "Pa", "U"}


@pytest.mark.parametrize("symbol", ["Tc", "Pm", "Po", "Og"])
def test_no_standard_weight_is_refused_with_the_reason(symbol: str) -> None:
    for ask in (atomic_weight, atomic_weight_value, molar_mass, molar_mass_value):
        with pytest.raises(FormulaError, match="no standard atomic weight"):
            ask(symbol)


@pytest.mark.parametrize("symbol", ["", "fe", "Xx", "D"])
def test_unknown_symbol(symbol: str) -> None:
    for ask in (atomic_weight, atomic_weight_value, element_name):
        with pytest.raises(FormulaError, match="not an element symbol"):
            ask(symbol)


def test_one_shared_labelled_source_for_each_element() -> None:
    copper = atomic_weight("Cu")
    assert atomic_weight("Cu") is copper
    ((source, coefficient),) = contributions(copper)
    assert coefficient == 1
    assert source.label == "atomic weight of Cu"
    assert source.kind == "atomic weight"
    assert source.shape is Shape.RECTANGULAR
    assert source.scale == 0.003
    assert standard_uncertainty(copper) == pytest.approx(0.003 / math.sqrt(3))
    parts = dict(contributions(molar_mass("CuSO4.5H2O")))
    assert parts[source] == 1
    assert sorted(parts.values()) == [1, 1, 9, 10]


def test_shared_sources_cancel() -> None:
    salt, hydrate, water = molar_mass("CuSO4"), molar_mass("CuSO4.5H2O"), molar_mass("H2O")
    assert standard_uncertainty(hydrate - salt - 5 * water) == pytest.approx(0, abs=1e-15)
    assert nominal(hydrate - salt - 5 * water) == pytest.approx(0, abs=1e-9)


def test_copper_sulfate_pentahydrate() -> None:
    """63.546 + 32.06 + 9 × 15.999 + 10 × 1.008 = 249.677; never CuSO(4.5)H2O, 185.6."""
    assert molar_mass_value("CuSO4.5H2O") == pytest.approx(249.677, abs=1e-9)
    assert nominal(molar_mass("CuSO4·5H2O")) == pytest.approx(249.677, abs=1e-9)


def test_charge_does_not_change_the_mass() -> None:
    assert molar_mass_value("Fe^3+") == molar_mass_value("Fe") == 55.845


def test_electron_has_no_molar_mass() -> None:
    for ask in (molar_mass, molar_mass_value):
        with pytest.raises(FormulaError, match="electron"):
            ask("e-")


def test_value_path_agrees_with_uncertain_path() -> None:
    for text in ("Fe2O3", "K4[Fe(CN)6]·3H2O", "C12H22O11", "Pb(NO3)2", "SO4^2-"):
        parsed = parse_formula(text)
        assert molar_mass_value(parsed) == pytest.approx(nominal(molar_mass(text)), rel=1e-14)


def test_ranges_lie_within_the_abridged_value_and_its_uncertainty() -> None:
    """Reason for taking the ± of the abridged value: it covers the whole published range."""
    ranged = [symbol for symbol in STANDARD if atomic_weight_range(symbol)]
    assert " ".join(ranged) == "H Li B C N O Mg Si S Cl Ar Br Tl Pb"
    for symbol in ranged:
        lower, upper = atomic_weight_range(symbol)
        ((source, _),) = contributions(atomic_weight(symbol))
        value, half_width = atomic_weight_value(symbol), source.scale
        assert value - half_width <= lower + 1e-9
        assert upper <= value + half_width + 1e-9
    lower, upper = atomic_weight_range("S")
    assert atomic_weight_value("S") + (upper - lower) / 2 < upper  # half the range would not do


def test_names() -> None:
    assert element_name("S") == "sulfur"
    assert element_name("Al") == "aluminium"
    assert element_name("Cs") == "caesium"
    assert {element_name(symbol) for symbol in KNOWN} >= {"iron", "tungsten", "oganesson"}
    assert all(element_name(symbol).islower() for symbol in KNOWN)


def test_nothing_heavy_at_import() -> None:
    """NumPy is left out: the uncertainties package imports it by itself."""
    code = (
        "import sys, stoichkit.chemistry.elements, stoichkit.chemistry.candidates\n"
        "print(sorted({'sympy', 'periodictable', 'scipy', 'matplotlib'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
