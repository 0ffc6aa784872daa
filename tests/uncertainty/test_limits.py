"""Arrays at the limits, and one vessel in every trial against an enumeration by hand."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from stoichkit.errors import ModelError
from stoichkit.uncertainty import entry
from stoichkit.uncertainty.digits import DIFFERENCE, DigitBlock, axis_table, worst_position_tail
from stoichkit.uncertainty.montecarlo import monte_carlo
from stoichkit.uncertainty.sources import Shape, Term
from stoichkit.uncertainty.straight_line import fit_line
from stoichkit.uncertainty.tails import student_cdf, student_height


@pytest.mark.parametrize(
    ("infinite", "sort"), [(True, "Allowed: numbers"), (False, "Allowed: finite numbers")]
)
def test_an_array_is_told_which_numbers_it_may_hold(infinite: bool, sort: str) -> None:
    with pytest.raises(ModelError, match=sort):
        entry.array("x", [1.0, float("nan")], infinite=infinite)


@pytest.mark.parametrize("place", [0.25, 0.5, 0.75])
def test_digits_of_one_vessel_in_two_trials(place: float) -> None:
    """Vessel at u in a step, filled at u + w: without noise it shows floor of both, plus a half.

    The difference is 1 where the two lie on different sides of a rounding edge, which has the
    chance w, else 0; both trials show the same, so that their sum is 2 with chance w, else 0.
    """
    table = axis_table(DIFFERENCE, (0.0, 0.0), 2, (2,))
    cells = table.p.shape[0]
    at = min(int(place * cells), cells - 1)
    row = table.p[at]
    # the largest error at a cell's edge is the number shown less twice the place
    shown = np.round(table.high[at] + 2 * place + np.arange(row.size)).astype(int)
    found = {int(n): float(p) for n, p in zip(shown, row, strict=True) if p > 1e-9}
    assert set(found) == {0, 2}
    assert found[2] / sum(found.values()) == pytest.approx(place, abs=0.06)


def test_one_trial_does_not_ask_whose_vessel_it_is() -> None:
    alone = DigitBlock(DIFFERENCE, (1.0,), (0.2, 0.2), 1)
    same = DigitBlock(DIFFERENCE, (1.0,), (0.2, 0.2), 1, (1,))
    for limit in (0.3, 0.6, 1.1):
        assert worst_position_tail(limit, [same], []) == pytest.approx(
            worst_position_tail(limit, [alone], []), abs=0.03
        )


def test_what_is_cut_into_cells_is_not_cut_coarsely() -> None:
    """A difference of two digits, at w between two, with a rectangle of 1.25 steps each way.

    The digits are off by −w with the chance 1 − w, else by 1 − w; the tail from 1.15 steps on is
    largest at w = ½: (0.1 + 0.5) / 2.5 = 0.24. Cells of an eighth of a step, and those of the
    position, may raise it by a fifth of a step over 2.5, not by half a step.
    """
    block = DigitBlock(DIFFERENCE, (1.0,), (0.0, 0.0), 1)
    stated = worst_position_tail(1.15, [block], [Term(Shape.RECTANGULAR, 1.25)])
    assert 0.24 <= stated <= (0.1 + 0.5 + 0.2) / 2.5


def test_the_two_coarsest_steps_are_taken_digit_by_digit_the_others_on_average() -> None:
    one, two, three = (DigitBlock(DIFFERENCE, (s,), (0.1, 0.1), 1) for s in (1.0, 0.7, 0.45))
    for limit in (0.9, 1.4, 2.0):
        stated = worst_position_tail(limit, [three, one, two], [])
        averaged = worst_position_tail(limit, [one, two], [*three.terms()])
        assert stated == pytest.approx(averaged, rel=0.04, abs=2e-4)


MOST = 10**9


@pytest.mark.parametrize(
    ("value", "right"),
    [
        (Fraction(1, MOST), True), (Fraction(1, MOST + 1), False), (MOST, True), (MOST + 1, False),
        (Fraction(1, 2 * MOST), False), (Fraction(3, 2), True),
    ],
)  # fmt: skip
def test_an_exact_ratio_lies_between_one_and_a_thousand_million_either_way(
    value: Fraction | int, right: bool
) -> None:
    if right:
        assert entry.exact("waters", value) == value
        return
    with pytest.raises(ModelError, match=r"out of range[\s\S]*up to 1,000,000,000"):
        entry.exact("waters", value)


def nested(depth: int) -> Any:
    """Return 1.5 in so many lists."""
    found: Any = 1.5
    for _ in range(depth):
        found = [found]
    return found


@pytest.mark.parametrize("depth", [1, 2, 3, 4, 5])
def test_lists_in_lists_are_read_to_a_depth(depth: int) -> None:
    assert entry.array("x", nested(depth)).shape == (1,) * depth


@pytest.mark.parametrize("depth", [6, 7, 60])
def test_lists_too_deep_are_refused(depth: int) -> None:
    with pytest.raises(ModelError, match="lists in lists"):
        entry.array("x", nested(depth))


def test_a_simulated_result_too_large_to_be_squared_is_refused() -> None:
    """The square of 10¹⁵⁰ is 10³⁰⁰, and numbers end at about 1.8 × 10³⁰⁸."""
    good = monte_carlo(lambda _, n: np.full(n, 0.9e150), trials=20_000)
    assert good.estimate == pytest.approx(0.9e150)
    with pytest.raises(ModelError, match=r"too large[\s\S]*up to 1e\+150\. Use a larger unit"):
        monte_carlo(lambda _, n: np.full(n, 1.1e150), trials=20_000)


def test_two_points_have_no_scatter_to_be_widened_by() -> None:
    with pytest.raises(ModelError, match=r"no scatter about a line\. Allowed: 3 or more"):
        fit_line([1, 2], [2.0, 4.3], [0.01] * 2, [0.05] * 2).with_inflation()
    three = fit_line([1, 2, 3], [2.0, 4.9, 5.9], [0.01] * 3, [0.05] * 3).with_inflation()
    assert three.u_slope > 0.05


@pytest.mark.parametrize("dof", [1, 2, 5, 200])
@pytest.mark.parametrize("size", [7, 8, 9])
def test_few_values_of_student_t_and_many_are_the_same(dof: int, size: int) -> None:
    """From more than ``many`` on another way is gone; with t = 0 a half, both tails alike."""
    t = np.linspace(-6.0, 6.0, size)
    found = student_cdf(t, dof, many=8)
    assert found == pytest.approx(student_cdf(t, dof), abs=1e-13)
    assert found + found[::-1] == pytest.approx(np.ones(size), abs=1e-13)


def test_student_t_with_one_and_two_degrees_of_freedom_by_hand() -> None:
    """1/2 + atan(t)/π, and 1/2 + t/(2 √(2 + t²))."""
    t = np.array([-30.0, -2.0, 0.0, 0.4, 5.0])
    assert student_cdf(t, 1) == pytest.approx(0.5 + np.arctan(t) / np.pi, abs=1e-14)
    assert student_cdf(t, 2) == pytest.approx(0.5 + t / (2 * np.sqrt(2 + t * t)), abs=1e-14)
    assert student_height(1) == pytest.approx(1 / np.pi)
    assert student_height(2) == pytest.approx(1 / np.sqrt(8))


def test_limits_in_words_have_commas_from_ten_thousand_on() -> None:
    for most, said in ((9999, "from 1 to 9999"), (10_000, "from 1 to 10,000")):
        with pytest.raises(ModelError, match=rf"{said}\."):
            entry.whole("count", most + 1, least=1, most=most)
