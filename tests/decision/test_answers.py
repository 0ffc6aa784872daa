"""What a group should have calculated, and which answers are accepted."""

from __future__ import annotations

import math

import pytest

from stoichkit import experiments
from stoichkit.decision.accepted import Fit
from stoichkit.decision.answers import AnswerLine, answer_lines
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
