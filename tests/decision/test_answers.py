"""What a group should have calculated, and which answers are accepted."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from uncertainties import ufloat

from stoichkit import experiments
from stoichkit.decision.accepted import Fit
from stoichkit.decision.answers import AnswerLine, _digits_of, _line, _magnitude, answer_lines
from stoichkit.measurement.base import Step
from stoichkit.uncertainty.readings import parse_number
from stoichkit.uncertainty.sources import nominal

LAB = experiments.load("copper-silver")


def named(lines: tuple[AnswerLine, ...], trial: str, symbol: str) -> AnswerLine:
    (line,) = [one for one in lines if (one.trial, one.symbol) == (trial, symbol)]
    return line


def test_answers_worked_by_hand() -> None:
    """2.94 − 2.82 = 0.12 g; 0.12 / 63.546 = 0.00189 (two digits, from 0.12); and so on."""
    lines = answer_lines(LAB)
    assert [
        named(lines, "bench 1", symbol).answer
        for symbol in ("m(Cu)", "n(Cu)", "m(Ag)", "n(Ag)", "r")
    ] == ["0.12", "0.0019", "0.40", "0.0037", "2.0"]
    mass = named(lines, "bench 1", "m(Cu)")
    assert mass.exact
    assert mass.low == mass.high == pytest.approx(0.12)
    amount = named(lines, "bench 1", "n(Cu)")  # 0.0018884, two figures: half of 0.0001
    assert (amount.low, amount.high) == pytest.approx((0.0018384, 0.0019384), rel=1e-5)


@pytest.mark.parametrize("name", experiments.names())
def test_every_lab_has_a_key_that_accepts_its_own_values(name: str) -> None:
    lab = experiments.load(name)
    lines = answer_lines(lab)
    for trial, (a, b) in zip(lab.trials, lab.amounts(), strict=True):
        own = [line for line in lines if line.trial == trial.name]
        assert own[-1].value == pytest.approx(nominal(b) / nominal(a), rel=1e-12)
    for line in lines:
        assert not line.note
        assert line.low <= line.value <= line.high
        for typed in (line.answer or f"{line.value:.6g}", f"{line.value:.12g}"):
            assert line.accepted.fit(parse_number(typed)) is Fit.RIGHT


def test_a_temperature_sum_keeps_the_decimals_of_the_thermometer() -> None:
    lines = answer_lines(experiments.load("magnesium-gas"))
    assert named(lines, "1", "T").answer == "294.6"


def test_trials_that_cannot_be_calculated_are_said() -> None:
    lab = LAB.with_reading("bench 1", "wire after", "2.94")
    lines = answer_lines(lab)
    assert "nothing was consumed" in named(lines, "bench 1", "r").note
    assert math.isnan(named(lines, "bench 1", "r").value)
    assert named(lines, "bench 1", "m(Cu)").answer == "0"
    gas = experiments.load("magnesium-gas").with_reading("", "room pressure", "1.0")
    assert all("pressure" in line.note for line in answer_lines(gas))


def test_no_key_asks_for_a_negative_mass() -> None:
    """Paper 0.75 g and with silver 0.70 g: −0.05 g, so nothing that rests on it is asked."""
    lab = LAB.with_reading("bench 1", "paper + silver", "0.70")
    lines = answer_lines(lab)
    for line in lines:
        assert math.isnan(line.value) or line.value >= 0
        assert not line.answer.startswith("-")
    assert named(lines, "bench 1", "m(Ag)").note.startswith(
        "The mass of Ag comes out below zero (−0.05 g)."
    )
    assert named(lines, "bench 1", "r").note == "No ratio: the amount produced is below zero."
    assert named(lines, "bench 1", "m(Cu)").answer == "0.12"  # the other side is asked still
    assert not [line for line in lines if line.trial == "all"]


def step(value: float, unit: str, formula: str = "", u: float = 0.0) -> Step:
    return Step("x", "value", formula, ufloat(value, u) if u else value, unit)


@pytest.mark.parametrize(("given", "digits", "half", "kept"), [
    # given: 0.1 g/mol, or a thousandth, or one standard uncertainty where that is more
    (step(63.546, "g/mol"), 0, 0.1, 0), (step(63.546, "g/mol", u=0.2), 0, 0.2, 0),
    (step(0.0987, "mol/L"), 0, 0.0000987, 0), (step(0.0987, "mol/L", u=0.001), 0, 0.001, 0),
    (step(-20.0, "°C"), 0, 0.02, 0),
    # found in a table by a reading: a unit of the last figure, of three at the most
    (step(44.6, "kPa"), 4, 0.1, 3), (step(44.6, "kPa"), 3, 0.1, 3), (step(44.6, "kPa"), 2, 1.0, 2),
    (step(0.5, "kPa"), 2, 0.01, 2), (step(9.99, "kPa"), 3, 0.01, 3), (step(10.0, "kPa"), 3, 0.1, 3),
    (step(44.6, "kPa", u=0.3), 3, 0.3, 3), (step(44.6, "kPa", u=0.05), 3, 0.1, 3),
    # calculated: half a unit of the last figure, at most a twentieth
    (step(0.0018884, "mol", "m / M"), 2, 0.00005, 2), (step(1.04, "", "a / b"), 1, 0.052, 1),
    (step(9.4, "", "a / b"), 1, 0.47, 1), (step(44.6, "", "a / b", u=9.0), 3, 0.05, 3),
])  # fmt: skip
def test_how_wide_an_answer_is_accepted(given: Step, digits: int, half: float, kept: int) -> None:
    value = nominal(given.value)
    found = _line("1", given, digits)
    assert (found.low, found.high) == pytest.approx((value - half, value + half), rel=1e-9)
    assert found.digits == kept
    exact = _line("1", replace(given, formula="a − b"), 2, exact=True)
    assert exact.low == exact.high == value


def test_no_end_is_a_rest_of_a_subtraction() -> None:
    assert _line("1", step(0.1, "g/mol"), 0).low == 0.0
    assert _line("1", step(0.3, "g/mol"), 0).low == pytest.approx(0.2)


@pytest.mark.parametrize(("value", "power"), [
    (0.3 - 0.2, -1), (0.1, -1), (9.99, 0), (10.0, 1), (-25.0, 1), (0.0, 0), (0.00999, -3)
])  # fmt: skip
def test_the_place_of_the_first_digit(value: float, power: int) -> None:
    """0.3 − 0.2 in the computer falls just below 0.1."""
    assert _magnitude(value) == power


@pytest.mark.parametrize(("text", "digits"), [
    ("0.12", 2), ("0.120", 3), ("12.3", 3), ("100", 3), ("0", 1), ("0.05", 1), ("-2.50", 3),
])  # fmt: skip
def test_digits_of_a_reading(text: str, digits: int) -> None:
    assert _digits_of(parse_number(text)) == digits
