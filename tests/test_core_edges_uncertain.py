"""Edges of the error sources that mutants showed to be untested."""

from __future__ import annotations

import math

import pytest

from stoichkit.errors import ModelError
from stoichkit.uncertain import (
    Shape,
    Source,
    budget_of,
    contributions,
    error_source,
    format_number,
    standard_uncertainty,
    uncertain_value,
)


def test_identity_not_content_makes_two_sources_the_same() -> None:
    one, other = (Source("rounding", "rounding", Shape.RECTANGULAR, 0.005) for _ in range(2))

    assert one != other
    assert len({one, other, one}) == 2


@pytest.mark.parametrize("dof", [1, 1.5, 2, math.inf])
def test_one_degree_of_freedom_is_enough(dof: float) -> None:
    """1 or more: two readings have one (JCGM 100:2008, 4.2.1 and G.3.3)."""
    e = error_source("scatter", kind="scatter", shape=Shape.STUDENT_T, scale=0.3, dof=dof)

    assert contributions(e)[0][0].dof == dof
    assert standard_uncertainty(e) == 0.3
    with pytest.raises(ModelError, match="1 or more"):
        error_source("scatter", kind="scatter", shape=Shape.STUDENT_T, scale=0.3, dof=0.999)


def test_a_budget_of_nothing_is_empty() -> None:
    assert budget_of([]) == ()


@pytest.mark.parametrize(
    ("value", "u", "digits", "text"),
    [
        (2e-10, 1.2e-11, 2, "0.000000000200 ± 0.000000000012"),
        (2e-11, 1.2e-12, 2, "(2.00 ± 0.12)e-11"),
        (7.0, 1.2, 2, "7.0 ± 1.2"),
        (70.0, 12.0, 2, "70 ± 12"),
        (700.0, 120.0, 2, "(7.0 ± 1.2)e+2"),
        (0.0, 300.0, 1, "(0 ± 3)e+2"),
        (0.0, 960.0, 1, "(0 ± 10)e+2"),
        (600.0, 300.0, 1, "(6 ± 3)e+2"),
        (6000.0, 300.0, 1, "(6.0 ± 0.3)e+3"),
    ],
)
def test_twelve_decimals_are_written_out_and_digits_without_meaning_are_not(
    value: float, u: float, digits: int, text: str
) -> None:
    x = uncertain_value(value, "x", kind="other", shape=Shape.NORMAL, scale=u)
    assert format_number(x, digits=digits) == text
