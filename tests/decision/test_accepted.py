"""Which typed numbers are right, a step to either side of each limit; worked out by hand."""

from __future__ import annotations

import pytest

from stoichkit.decision.accepted import (
    Accepted,
    Fit,
    Own,
    figures_of,
    figures_remark,
    half_unit,
    own_of,
    too_few,
)
from stoichkit.decision.answers import AnswerLine
from stoichkit.uncertainty.readings import parse_number


def fit(one: Accepted, text: str, factor: float = 1.0, own: Own | None = None) -> Fit:
    return one.fit(parse_number(text), factor, own)


@pytest.mark.parametrize(("text", "found"), [
    # 1.9637 to two figures: half of 0.1 to either side, and half of the last figure typed, no
    # more than as much again: 1.8637 to 2.0637 for one decimal, 1.9087 to 2.0187 for two
    ("1.96", Fit.RIGHT), ("2.0", Fit.RIGHT), ("1.9", Fit.RIGHT), ("2.1", Fit.OFF),
    ("1.8", Fit.OFF), ("2.01", Fit.RIGHT), ("2.02", Fit.OFF), ("1.91", Fit.RIGHT),
    ("1.90", Fit.OFF), ("2.0138", Fit.OFF), ("2.0137", Fit.RIGHT), ("1.9137", Fit.RIGHT),
    ("1.9136", Fit.OFF),
    # one figure: within half a unit, and within a twentieth (1.8655 to 2.0619)
    ("2", Fit.RIGHT), ("1", Fit.OFF), ("3", Fit.OFF), ("-2.0", Fit.OFF), ("0", Fit.OFF),
])  # fmt: skip
def test_a_ratio_of_two_figures(text: str, found: Fit) -> None:
    assert fit(Accepted.of(1.9637, 2), text) is found


@pytest.mark.parametrize(("text", "found"), [
    ("0.12", Fit.RIGHT), ("0.120", Fit.RIGHT), ("0.13", Fit.OFF), ("0.11", Fit.OFF),
    # one figure: right to half a unit of its own, but that is more than a twentieth
    ("0.1", Fit.FEW), ("0.2", Fit.OFF), ("0.121", Fit.OFF), ("-0.12", Fit.OFF),
])  # fmt: skip
def test_a_difference_of_readings(text: str, found: Fit) -> None:
    mass = Accepted(value=0.12, low=0.12, high=0.12, figures=2, exact=True)
    assert fit(mass, text) is found


@pytest.mark.parametrize(("value", "text", "found"), [
    # half a unit of the last figure may be a twentieth of the value: 0.5 of 10.4, not of 9.6
    (10.4, "10", Fit.RIGHT), (9.6, "10", Fit.FEW),
    (1.04, "1", Fit.FEW),
])  # fmt: skip
def test_a_difference_with_a_figure_too_few(value: float, text: str, found: Fit) -> None:
    mass = Accepted(value=value, low=value, high=value, figures=4, exact=True)
    assert fit(mass, text) is found


def test_a_value_from_a_table_is_right_within_its_limits() -> None:
    molar = Accepted(value=63.546, low=63.446, high=63.646)
    for text, found in (("63.55", Fit.RIGHT), ("63.5", Fit.RIGHT), ("63.446", Fit.RIGHT),
                        ("63.64", Fit.RIGHT), ("63.44", Fit.OFF), ("63.65", Fit.OFF)):  # fmt: skip
        assert fit(molar, text) is found, text


def test_what_one_goes_on_with() -> None:
    """0.0033 is rounded by half a ten-thousandth, 1.5 % of itself; 3.3 mmol as much."""
    one = own_of(parse_number("0.0033"), 1.0, right=False)
    assert (one.value, one.right) == (0.0033, False)
    assert one.rounding == pytest.approx(0.00005 / 0.0033)
    assert own_of(parse_number("3.3"), 0.001, right=True).rounding == pytest.approx(0.05 / 3.3)
    assert own_of(parse_number("0"), 1.0, right=True) == Own(0.0, 0.0, True)
    assert own_of(parse_number("-0.5"), 1.0, right=True).rounding == pytest.approx(0.1)
    assert half_unit(parse_number("-0.5")) == pytest.approx(0.05)


def test_what_follows_from_an_own_number_is_right_or_carried_on() -> None:
    ratio = Accepted.of(1.9637, 3)
    assert fit(ratio, "1.12", own=Own(1.1221, 0.0, right=False)) is Fit.CARRIED
    assert fit(ratio, "1.95", own=Own(1.9474, 0.0)) is Fit.RIGHT
    assert fit(ratio, "1.95") is Fit.OFF
    assert fit(ratio, "1.96", own=Own(1.1221, 0.0, right=False)) is Fit.RIGHT
    assert fit(ratio, "1.30", own=Own(1.1221, 0.0, right=False)) is Fit.OFF
    # rounded by 2 % on the way: 1.1221 ± 0.0224 ± 0.005, and half of the last figure
    own = Own(1.1221, 0.02, right=False)
    assert fit(ratio, "1.15", own=own) is Fit.CARRIED
    assert fit(ratio, "1.16", own=own) is Fit.OFF


def test_figures_that_are_too_many_or_too_few() -> None:
    assert figures_remark(4, 2) == ""
    assert figures_remark(5, 2).startswith("5 figures claim more")
    assert figures_remark(2, 2) == ""
    assert figures_remark(1, 2).endswith("you gave 1")
    assert figures_remark(9, 0) == figures_remark(0, 0) == ""
    assert too_few(1, 3).startswith("1 figure cannot")
    assert too_few(2, 3) == "2 figures cannot say this; the readings bear 3. Give that many."
    for text, count in (("0.0120", 3), ("1.90E-3", 3), ("0", 1), ("-0.50", 2), ("10", 2)):
        assert figures_of(parse_number(text)) == count, text


@pytest.mark.parametrize(("value", "digits", "text"), [
    (9.99, 2, "10"), (0.0018884, 2, "0.0019"), (0.00010, 2, "0.00010"), (0.0000951, 2, "9.5e-5"),
    (123.4, 2, "1.2e+2"), (123.4, 3, "123"), (12.34, 2, "12"), (99.9, 2, "1.0e+2"), (0.0, 2, "0"),
    (0.125, 2, "0.13"), (-0.125, 2, "-0.13"), (1.9637, 0, ""), (0.1 + 0.2, 3, "0.300"),
])  # fmt: skip
def test_an_answer_with_its_digits(value: float, digits: int, text: str) -> None:
    """Below a ten-thousandth, or where zeros would claim more, as a power of ten."""
    line = AnswerLine("1", "x", "", "", value, "", 0.0, digits, value, value)
    assert line.answer == text


@pytest.mark.parametrize(("figures", "found"), [(2, Fit.OFF), (3, Fit.RIGHT)])
def test_as_many_figures_as_the_readings_bear_are_not_too_few(figures: int, found: Fit) -> None:
    """12 for 12.5, within half a unit and a twentieth: short of three figures, wrong to two."""
    mass = Accepted(value=12.5, low=12.5, high=12.5, figures=figures, exact=True)
    assert fit(mass, "12") is found


def test_a_long_number_is_plain_from_a_ten_thousandth_on() -> None:
    for value, text in ((0.00012, "0.00012"), (0.000099, "9.9e-5"), (0.0000120, "1.2e-5")):
        assert AnswerLine("1", "x", "", "", value, "", 0.0, 2, value, value).answer == text
