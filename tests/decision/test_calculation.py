"""Numbers as the trade writes them; the values are worked out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from stoichkit.decision.accepted import figures_of
from stoichkit.decision.calculation import _magnitude, read_number
from stoichkit.decision.typed import read_answer, read_with_uncertainty
from stoichkit.errors import ReadingError


@pytest.mark.parametrize(
    ("text", "unit", "value", "figures"),
    [
        ("2.94-2.82", "g", 0.12, 2), ("2,94 − 2,82 g", "g", 0.12, 2),
        ("2.94 g - 2.82 g", "g", 0.12, 2), ("3.19 - 3.0", "g", 0.19, 1),
        ("1.9e-3", "mol", 0.0019, 2), ("1.9·10⁻³", "mol", 0.0019, 2),
        ("1.9x10^-3", "mol", 0.0019, 2), ("1.9 × 10−3 mol", "mol", None, 0),
        ("1.90*10^-3 mol", "mol", 0.0019, 3), ("1.9 × 10⁻³ mol", "mol", 0.0019, 2),
        ("0,12 g", "g", 0.12, 2), ("120 mg", "g", 0.12, 3), ("0.00012kg", "g", 0.12, 2),
        ("63.546 g mol⁻¹", "g/mol", 63.546, 5), ("63.546 g·mol⁻¹", "g/mol", 63.546, 5),
        ("63.546 g/mol", "g/mol", 63.546, 5), ("63.546 g mol^-1", "g/mol", 63.546, 5),
        ("1/2", "", 0.5, 1), ("2:1", "", 2.0, 1), ("3 / 2", "", 1.5, 2), ("8 %", "%", 8.0, 1),
        ("(2.94-2.82)/63.546", "mol", 0.12 / 63.546, 4), ("2*(1+0.5)", "", 3.0, None),
        ("-0.5", "", -0.5, 1), ("2^3", "", 8.0, None), ("1.9 mmol", "mol", 0.0019, 2),
        ("0.0019 moles", "mol", 0.0019, 2), ("0,0987 mol L⁻¹", "mol/L", 0.0987, 3),
    ],
)  # fmt: skip
def test_what_is_read(text: str, unit: str, value: float | None, figures: int | None) -> None:
    if value is None:  # 10−3 without a raised sign is ten minus three
        assert read_answer(text, unit)[0].value == pytest.approx(1.9 * 10 - 3)
        return
    reading, factor, _ = read_answer(text, unit)
    assert reading.value * factor == pytest.approx(value, rel=1e-12)
    if figures is not None:
        assert figures_of(reading) == figures


@pytest.mark.parametrize(
    "text",
    [
        "", "much", "1/0", "2.94-", "(2.94", "2..3-1", "1/(1-1)", "__import__('os')", "2**99",
        "9^15^15", "1e999-1", "(" * 40 + "1" + ")" * 40, "1-" * 200 + "1", "2.94 2.82", "²",
        "1-x", "1.2.3-1", "10^15*10^15", "=1+1", "0.12 cats", "1;2-1", "1\n-1x", "١-١", "⁻³",
    ],
)  # fmt: skip
def test_what_is_refused(text: str) -> None:
    with pytest.raises(ReadingError):
        read_answer(text, "g")


@pytest.mark.parametrize(
    "text", ["((9^15)^15)^15", "9^15^15^15^15", "10^-15^15", "*".join(["9^15^15"] * 12)]
)
def test_powers_of_powers_are_refused_at_once(text: str) -> None:
    with pytest.raises(ReadingError, match="too large or too small"):
        read_answer(text, "g")


def test_the_first_digit_of_a_very_long_number_is_found() -> None:
    """Python writes no whole number of more than 4,300 digits."""
    for power in (-9000, -1, 0, 1, 9000):
        for size, found in ((1, 0), (Fraction(9, 10), -1), (Fraction(99, 10), 0)):
            assert _magnitude(size * Fraction(10) ** power) == power + found
    assert read_answer("5x10^3^5 * 10^-3^5", "g")[0].value == pytest.approx(5)


@pytest.mark.parametrize(
    ("text", "value", "sure"),
    [
        ("2.1 ± 0.2", 2.1, 0.2), ("2,1±0,2", 2.1, 0.2), ("2.1 +- 0.2", 2.1, 0.2),
        ("2.1 +/- 0.2", 2.1, 0.2), ("2.10(15)", 2.10, 0.15), ("2.0 ± 10 %", 2.0, 0.2),
        ("(2.1 ± 0.2)", 2.1, 0.2), ("2.1 +− 0.2", 2.1, 0.2),
    ],
)  # fmt: skip
def test_value_and_uncertainty(text: str, value: float, sure: float) -> None:
    found, uncertain, factor = read_with_uncertainty(text, "")
    assert (found.value, factor) == (pytest.approx(value), 1.0)
    assert uncertain.value == pytest.approx(sure)


def test_value_and_uncertainty_with_units() -> None:
    for text in ("0.12 ± 0.01 g", "0.12 g ± 0.01 g", "(0.12 ± 0.01) g", "120 mg ± 0.01 g"):
        value, sure, factor = read_with_uncertainty(text, "g")
        assert value.value * factor == pytest.approx(0.12), text
        assert sure.value * factor == pytest.approx(0.01), text
    for text in ("0.12", "± 0.1", "0.12 ±", "1 ± 2 ± 3", "a ± b"):
        with pytest.raises(ReadingError):
            read_with_uncertainty(text, "g")


def test_a_plain_number_is_read_as_it_was() -> None:
    assert read_number("20,10").decimals == 2
    assert read_number("1.50e-3").decimals == 5


@pytest.mark.parametrize(
    ("unit", "typed", "size"),
    [
        # prefixes and units of the SI Brochure (9th edition, tables 3, 7 and 8; from memory)
        ("g", "1 g", 1.0), ("g", "1 mg", 0.001), ("g", "1 kg", 1000.0),
        ("mol", "1 mol", 1.0), ("mol", "1 mmol", 0.001), ("mol", "1 µmol", 0.000001),
        ("mol", "1 umol", 0.000001), ("mL", "1 mL", 1.0), ("mL", "1 ml", 1.0), ("mL", "1 cm3", 1.0),
        ("mL", "1 cm³", 1.0), ("mL", "1 L", 1000.0), ("mL", "1 l", 1000.0),
        ("g/mol", "1 g/mol", 1.0), ("g/mol", "1 g mol⁻¹", 1.0), ("g/mol", "1 kg/mol", 1000.0),
        ("mol/L", "1 mol/L", 1.0), ("mol/L", "1 mol/l", 1.0), ("mol/L", "1 M", 1.0),
        ("mol/L", "1 mol L⁻¹", 1.0), ("mol/L", "1 mmol/L", 0.001),
        ("kPa", "1 kPa", 1.0), ("kPa", "1 Pa", 0.001), ("kPa", "1 hPa", 0.1),
        ("kPa", "1 bar", 100.0),
        ("K", "1 K", 1.0), ("C", "1 C", 1.0), ("C", "1 A s", 1.0), ("C", "1 As", 1.0),
        ("%", "1 %", 1.0), ("g", "1 gram", 1.0), ("g", "1 milligrams", 0.001),
        ("mol", "1 moles", 1.0),
        ("%", "1 percent", 1.0), ("°C", "1 °C", 1.0),
    ],
)  # fmt: skip
def test_what_one_of_each_unit_is(unit: str, typed: str, size: float) -> None:
    reading, factor, _ = read_answer(typed, unit)
    assert reading.value * factor == pytest.approx(size, rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "typed"),
    [
        ("g", "1 mol"), ("mol", "1 g"), ("mL", "1 g"), ("kPa", "1 atm"), ("K", "1 °C"),
        ("C", "1 A"),
        ("", "1 g"), ("%", "1 g"), ("mol/L", "1 mol"), ("g/mol", "1 g"), ("g", "1 G"),
        ("mol", "1 Mol"),
    ],
)  # fmt: skip
def test_a_unit_of_another_kind_is_refused_with_those_allowed(unit: str, typed: str) -> None:
    with pytest.raises(ReadingError, match="The unit does not fit") as refused:
        read_answer(typed, unit)
    assert (unit or "without a unit") in str(refused.value.allowed)
