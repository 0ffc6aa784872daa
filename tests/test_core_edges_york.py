"""Edges of the straight line that mutants showed to be untested."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from stoichkit.errors import ModelError
from stoichkit.york import Line, fit_line

X = np.array([1.0, 2.0, 3.0, 4.0, 5.5])
Y = np.array([2.1, 3.9, 6.2, 8.1, 10.8])
U_X = np.array([0.05, 0.04, 0.06, 0.05, 0.08])
U_Y = np.array([0.10, 0.08, 0.12, 0.10, 0.15])

# -- finding the line -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("x", "y", "slope"),
    [
        ([1, 2, 3], [3, 5, 7], 2.0),
        ([0, 0, 1, 1], [0, 1, 2, 3], 2.0),
        ([1, 2, 3], [2, 2, 2], 0.0),
        ([0, 0, 0], [1, 2, 3], None),
    ],
)
def test_with_exact_x_and_equal_uncertainties_nothing_is_left_to_iterate(
    x: list[float], y: list[float], slope: float | None
) -> None:
    """The least-squares line is the start, and the first step finds it settled."""
    if slope is None:
        with pytest.raises(ModelError, match="all x are equal"):
            fit_line(x, y, 0.0, 1.0)
        return
    line = fit_line(x, y, 0.0, 1.0)

    assert line.slope == slope
    assert (line.iterations, line.converged) == (1, True)


@pytest.mark.parametrize("unit", [1e-12, 1e-6, 1e6, 1e12])
def test_the_unit_of_the_amounts_does_not_end_the_search_early(unit: float) -> None:
    plain = fit_line(X, Y**1.3, 8 * U_X, U_Y, 0.5)
    scaled = fit_line(unit * X, unit * Y**1.3, unit * 8 * U_X, unit * U_Y, 0.5)

    assert plain.iterations > 3
    assert scaled.slope == pytest.approx(plain.slope, rel=1e-12)
    assert scaled.converged


def test_points_all_but_in_a_square_have_no_settled_line() -> None:
    """Every direction through the corners of a square is as good; one is moved by 0.0005."""
    line = fit_line([-1, -1, 1, 1], [-1, 1.001, -1, 1], 1.0, 1.0)

    assert not line.converged
    assert line.iterations > 100
    assert math.isfinite(line.slope)


def test_a_step_that_cannot_be_taken_is_not_called_settled() -> None:
    """The first point says nothing; the next step from the least-squares slope would be 0/0."""
    line = fit_line([1, -3, 1], [-3, 2, 2], [1000, 1, 0], [1, 0, 1e-13], -0.5)

    assert line.slope == -0.625  # least squares: −10 / 3 over 32 / 6
    assert not line.converged


@pytest.mark.parametrize("u", [1e9, 1e12])
def test_a_vertical_line_is_refused(u: float) -> None:
    """Two good points one above the other; the third could lie anywhere."""
    with pytest.raises(ModelError, match="parallel to the y axis"):
        fit_line([2, 3, 3], [2, 1, 4], [u, 1, 1], [u, 1, 1])


# -- what all points share --------------------------------------------------------------------


def test_an_error_along_the_line_does_not_move_it() -> None:
    """One balance weighs both amounts: x and y grow alike, and y = 2 x stays."""
    line = fit_line(X, 2 * X, U_X, U_Y, shared_x=[0.1 * X], shared_y=[0.1 * 2 * X])

    assert line.u_slope_shared == pytest.approx(0, abs=1e-12)
    assert line.u_intercept_shared == pytest.approx(0, abs=1e-12)
    assert line.u_slope_total == pytest.approx(line.u_slope)


@pytest.mark.parametrize("slope", [1.5, 1.9, 1.97, 2.1])
def test_test_of_a_slope_with_one_calibration_by_hand(slope: float) -> None:
    """Exact x on a line of slope 2: y − r x has the trend 2 − r, which the calibration scales."""
    line = fit_line(X, 2 * X, 0.0, 0.1, shared_x=[0.1 * X], shared_y=[0.1 * 2 * X])
    own = 0.1 / math.sqrt(float(np.sum((X - X.mean()) ** 2)))
    z = (2 - slope) / math.hypot(own, 0.1 * (2 - slope))

    assert line.slope_p_value(slope) == pytest.approx(2 * stats.norm.sf(abs(z)), rel=1e-6)


def test_no_shared_source_is_an_empty_table() -> None:
    line = fit_line(X, Y, U_X, U_Y)

    assert line.shared_x.shape == line.shared_y.shape == (0, 5)


# -- tests with the scatter -------------------------------------------------------------------


@pytest.mark.parametrize("u_y", [0.02, 0.1, 0.15, 5.0])
@pytest.mark.parametrize("slope", [1.85, 1.95, 2.02, 2.1])
def test_test_of_a_slope_with_its_scatter_is_that_of_regression(u_y: float, slope: float) -> None:
    """Exact x: Student t of scipy.stats.linregress, its error never below the stated one."""
    line = fit_line(X, Y, 0.0, u_y, inflate=True)
    known = stats.linregress(X, Y)
    stated = u_y / math.sqrt(float(np.sum((X - X.mean()) ** 2)))
    t = (known.slope - slope) / max(known.stderr, stated)

    assert line.slope == pytest.approx(known.slope, rel=1e-12)
    assert line.u_slope == pytest.approx(max(known.stderr, stated), rel=1e-9)
    assert line.slope_p_value(slope) == pytest.approx(2 * stats.t.sf(abs(t), 3), rel=1e-6)


@pytest.mark.parametrize("inflate", [False, True])
def test_points_without_extent_along_a_slope_say_nothing_against_it(inflate: bool) -> None:
    """Equal uncertainties: across the line itself all points are at one place."""
    line = fit_line([0, 1, 2, 3], [0, 1, 2, 3], 0.1, 0.1, inflate=inflate)

    assert line.slope_p_value(-1.0) == 1.0
    assert line.slope_p_value(0.5) < 0.05


# -- refusals ---------------------------------------------------------------------------------


def test_sizes_from_1e_30_to_1e30_and_zero_are_allowed() -> None:
    line = fit_line([0, 1e30], [0, 1e30], 1e30, 1e30)
    assert line.slope == pytest.approx(1)
    line = fit_line([0, 1e-30], [0, 1e-30], 1e-30, 1e-30)
    assert line.slope == pytest.approx(1)


@pytest.mark.parametrize("wrong", [1.01e30, -1.01e30, 0.99e-30, -0.99e-30])
@pytest.mark.parametrize("which", [0, 1, 2, 3])
def test_sizes_beyond_are_refused_and_shown(wrong: float, which: int) -> None:
    given = [[1.0, 2.0], [1.0, 2.0], [0.1, 0.1], [0.1, 0.1]]
    given[which][1] = wrong
    words = ("x", "y", "standard uncertainty of x", "standard uncertainty of y")[which]
    with pytest.raises(ModelError, match=f"The {words} of a point.*point 1 ") as caught:
        fit_line(*given)
    assert str(wrong) in str(caught.value)


def test_shapes_that_do_not_match_are_shown() -> None:
    with pytest.raises(ModelError) as caught:
        fit_line(X, Y, [0.1, 0.1], U_Y, 0.5)
    assert caught.value.given == "(2,), (5,), ()"


def test_tables_of_different_length_are_refused() -> None:
    with pytest.raises(ModelError, match=r"\(1, 5\), \(2, 5\)"):
        fit_line(X, Y, U_X, U_Y, shared_x=[0.1 * X], shared_y=[0.1 * Y, 0.1 * Y])


def test_lines_are_known_by_identity() -> None:
    """Arrays cannot be compared as one truth value; lines can, and can be put in a set."""
    one, other = (fit_line(X, Y, U_X, U_Y) for _ in range(2))

    assert isinstance(one, Line)
    assert len({one, other, one}) == 2
