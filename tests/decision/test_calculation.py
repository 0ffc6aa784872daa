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
    for text in (
        "0.12 ± 0.01 g", "0.12 g ± 0.01 g", "(0.12 ± 0.01) g", "120 mg ± 0.01 g", "120 ± 10 mg",
        "120 mg ± 10 mg", "0.12 g ± 10 mg", "120 mg ± 10", "0.12 ± 0.01",
    ):  # fmt: skip
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


@pytest.mark.parametrize(
    ("text", "value", "decimals"),
    [
        # a sum keeps the fewest decimals; from left to right, products first
        ("2.94-2.8", 0.14, 1), ("2.8+2.94", 5.74, 1), ("1-0.50", 0.5, 0), ("2-3*4", -10, 0),
        ("2*(3-4.0)", -2, None), ("8/4*2", 4, None), ("2+-3", -1, 0), ("-3^2", -9, 0),
        # a product has two figures more than its factor with the fewest: 6.00, 0.60, 60.0, 30.00
        ("2*3.0", 6, 2), ("2*0.30", 0.6, 3), ("20*3.00", 60, 2), ("3.0*10", 30, 2),
        ("3.00*2", 6, 2), ("4.0/2", 2, 2), ("4/0.020", 200, 0),
        ("0.40/107.8682", 0.4 / 107.8682, 6),
        # a power of ten moves the decimals
        ("3.0*10^2", 300, -1), ("3.0/10^2", 0.03, 3), ("3.0*10^-2", 0.03, 3), ("3*10^0", 3, 0),
        ("3.0/10^-2", 300, -1), ("10^2*3.0", 300, 1),
        # a power has the figures of its base; of ten it is exact
        ("2.0^3", 8, 1), ("2^3", 8, 0), ("2.0^-2", 0.25, 2), ("12^2", 144, -1), ("10^-3", 0.001, 3),
        # whole numbers divided are exact: what is needed, up to three digits
        ("1/2", 0.5, 1), ("3/2", 1.5, 1), ("1/8", 0.125, 3), ("1/16", 0.0625, 4), ("1/3", 1 / 3, 3),
        ("2/30", 1 / 15, 4), ("6/3/2", 1, 0), ("10/3", 10 / 3, 2), ("1/2*3.0", 1.5, 3),
        ("5*0", 0, 0), ("0/5", 0, 0),
    ],
)  # fmt: skip
def test_decimals_of_a_calculation(text: str, value: float, decimals: int | None) -> None:
    found = read_number(text)
    assert found.value == pytest.approx(value, rel=1e-12)
    if decimals is not None:
        assert found.decimals == decimals


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1+" * 79 + "11", 90), ("1+" * 79 + "111", None),  # 160 and 161 characters
        ("(" * 20 + "1" + ")" * 20, 1), ("(" * 21 + "1" + ")" * 21, None),
        ("2^15", 32768), ("2^16", None), ("2^-2", 0.25), ("2^1.5", None), ("2^015", None),
        ("2^", None), ("()", None), ("(1)", 1), ("(1)(2)", None), ("+(2)", 2), ("(1)+(2)", 3),
    ],
)  # fmt: skip
def test_how_long_deep_and_high_a_calculation_may_be(text: str, value: float | None) -> None:
    if value is None:
        with pytest.raises(ReadingError):
            read_number(text)
    else:
        assert read_number(text).value == pytest.approx(value)
    # closed brackets leave room for more beside them
    assert read_number("+".join(["((1))"] * 20)).value == 20


@pytest.mark.parametrize(
    ("typed", "value", "unsure"),
    [
        ("-2.0 ± 10 %", -2.0, 0.2),
        ("2.10(5)", 2.10, 0.05),
        ("12(3)", 12, 3),
        ("0.5 ± 0.1", 0.5, 0.1),
    ],
)
def test_an_uncertainty_has_no_sign(typed: str, value: float, unsure: float) -> None:
    found, uncertain, _ = read_with_uncertainty(typed, "")
    assert (found.value, uncertain.value) == (pytest.approx(value), pytest.approx(unsure))


def test_an_uncertainty_in_another_unit_is_brought_to_that_of_the_value() -> None:
    """5 mg of 0.12 g is 0.005 g; 0.005 g of 120 mg is 5 mg."""
    value, sure, factor = read_with_uncertainty("0.12 g ± 5 mg", "g")
    assert (value.value * factor, sure.value * factor) == pytest.approx((0.12, 0.005))
    value, sure, factor = read_with_uncertainty("120 mg ± 0.005 g", "g")
    assert (value.value, sure.value, factor) == pytest.approx((120, 5, 0.001))
    value, sure, factor = read_with_uncertainty("98 ± 2 %", "%")  # percentage points
    assert (value.value, sure.value, factor) == (98, 2, 1.0)
