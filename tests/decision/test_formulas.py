"""Formulas of steps, worked out with other numbers, and nothing run as code."""

from __future__ import annotations

import math
from collections.abc import Mapping

import pytest

from stoichkit import experiments
from stoichkit.decision.answers import answer_lines
from stoichkit.decision.formulas import NotKnown, tree_of, valued
from stoichkit.uncertainty.readings import ErrorPool
from stoichkit.uncertainty.sources import nominal


def worked_out(
    formula: str, readings: Mapping[str, float], symbols: Mapping[str, float]
) -> float | None:
    """Return what a formula gives; None for what is not known or is divided by zero."""
    try:
        return valued(tree_of(formula, readings, symbols), {**symbols, **readings})
    except (NotKnown, ZeroDivisionError):
        return None


@pytest.mark.parametrize("name", experiments.names())
def test_every_step_of_every_lab_can_be_worked_out_again(name: str) -> None:
    """The formula in words gives the value of the model, but for a power of ten of units."""
    lab = experiments.load(name)
    trial = lab.trials[0]
    readings = {n: nominal(v) for n, v in lab.quantities(trial, ErrorPool()).items()}
    lines = [line for line in answer_lines(lab) if line.trial == trial.name]
    symbols: dict[str, float] = {}
    for line in lines:
        if line.formula:
            found = worked_out(line.formula, readings, symbols)
            assert found, line.formula
            power = math.log10(line.value / found)
            assert power == pytest.approx(round(power), abs=1e-6), line.formula
        symbols[line.symbol] = line.value


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("a − b − c", 5.0),  # by hand: 10 − 3 − 2
        ("a / b / c", 10 / 6),
        ("(a − b) × c", 14.0),
        ("a − b × c", 4.0),
        ("3/2 × c", 3.0),
    ],
)
def test_the_order_of_signs(formula: str, value: float) -> None:
    assert worked_out(formula, {"a": 10.0, "b": 3.0, "c": 2.0}, {}) == pytest.approx(value)


@pytest.mark.parametrize("formula", ["", "a +", "(a", "a / 0", "1/0", "__import__", "a b", "a ^ b"])
def test_what_is_no_formula_is_nothing(formula: str) -> None:
    assert worked_out(formula, {"a": 1.0, "b": 2.0}, {}) is None
