"""Where a falling function crosses zero, against closed forms and SciPy's search."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from stoichkit.uncertainty.roots import crossing

FALLING = {
    "straight": (lambda x: 0.3 - x, 0.0, 1.0, 0.3),
    "square": (lambda x: 2 - x * x, 0.0, 2.0, math.sqrt(2)),
    "exponential": (lambda x: math.exp(-x) - 1e-6, 0.0, 100.0, math.log(1e6)),
    "flat at the crossing": (lambda x: (1 - x) ** 3, 0.0, 3.0, 1.0),
    "a step": (lambda x: 1.0 if x < 0.7 else -1.0, 0.0, 1.0, 0.7),
    "steep at the low end": (lambda x: 1e-9 / (x + 1e-15) - 1, 0.0, 1.0, 1e-9),
    "zero at the high end": (lambda x: 1.0 - x, 0.0, 1.0, 1.0),
}


@pytest.mark.parametrize("name", FALLING)
def test_crossings_known_in_closed_form(name: str) -> None:
    f, low, high, expected = FALLING[name]
    # the cube is zero to rounding within 1e-5 of its crossing
    allowed = 1e-4 if name.startswith("flat") else 1e-5 if "steep" in name else 1e-11
    assert crossing(f, low, high) == pytest.approx(expected, rel=allowed)


def test_it_agrees_with_a_general_library() -> None:
    rng = np.random.default_rng(5)
    for _ in range(200):
        y, v = rng.normal(size=6), rng.uniform(0.01, 0.1, 6)

        def excess(tau: float, y: np.ndarray = y, v: np.ndarray = v) -> float:
            w = 1 / (v + tau)
            return float(np.sum(w * (y - np.sum(w * y) / w.sum()) ** 2)) - 5

        if excess(0.0) > 0:
            expected = brentq(excess, 0.0, 100.0, xtol=1e-14)
            assert crossing(excess, 0.0, 100.0) == pytest.approx(expected, rel=1e-10)


def test_few_questions_are_asked_of_a_smooth_function() -> None:
    asked = []

    def f(x: float) -> float:
        asked.append(x)
        return math.erfc(x) - 0.05

    crossing(f, 0.0, 5.0)
    assert len(asked) < 20


def test_a_wider_tolerance_asks_less_and_keeps_its_word() -> None:
    asked: list[float] = []

    def f(x: float) -> float:
        asked.append(x)
        return math.erfc(x) - 0.05

    found = crossing(f, 0.0, 5.0, within=1e-3)
    rough, exact = len(asked), brentq(f, 0.0, 5.0)
    assert found == pytest.approx(exact, rel=1e-3)
    asked.clear()
    crossing(f, 0.0, 5.0)
    assert rough < len(asked)
