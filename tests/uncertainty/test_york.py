"""The straight line with errors in both variables: limits, symmetry, refusals, coverage."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from stoichkit.errors import ModelError
from stoichkit.uncertainty.straight_line import Line, fit_line

X = np.array([1.0, 2.0, 3.0, 4.0, 5.5])
Y = np.array([2.1, 3.9, 6.2, 8.1, 10.8])
U_X = np.array([0.05, 0.04, 0.06, 0.05, 0.08])
U_Y = np.array([0.10, 0.08, 0.12, 0.10, 0.15])


def test_exact_x_is_weighted_least_squares() -> None:
    """numpy.polyfit with weights and unscaled covariance."""
    line = fit_line(X, Y, 0.0, U_Y)
    (slope, intercept), covariance = np.polyfit(X, Y, 1, w=1 / U_Y, cov="unscaled")

    assert [line.slope, line.intercept] == pytest.approx([slope, intercept], rel=1e-12)
    assert line.u_slope**2 == pytest.approx(covariance[0, 0], rel=1e-10)
    assert line.u_intercept**2 == pytest.approx(covariance[1, 1], rel=1e-10)
    assert line.covariance == pytest.approx(covariance[0, 1], rel=1e-10)


@pytest.mark.parametrize("r", [0.0, 0.6, -0.6])
def test_exchanging_the_axes_gives_the_same_line(r: float) -> None:
    line, swapped = fit_line(X, Y, U_X, U_Y, r), fit_line(Y, X, U_Y, U_X, r)

    assert swapped.slope == pytest.approx(1 / line.slope, rel=1e-10)
    assert swapped.intercept == pytest.approx(-line.intercept / line.slope, rel=1e-9)
    assert swapped.chi_squared == pytest.approx(line.chi_squared, rel=1e-9)
    assert swapped.u_slope / swapped.slope == pytest.approx(line.u_slope / line.slope, rel=1e-9)
    assert swapped.slope_p_value(0.52) == pytest.approx(line.slope_p_value(1 / 0.52), rel=1e-7)


@settings(max_examples=40, deadline=None)
@given(
    st.floats(1e-6, 1e3), st.floats(1e-6, 1e3), st.floats(-20, 20), st.floats(-0.9, 0.9)
)  # fmt: skip
def test_change_of_units_and_origin(unit_x: float, unit_y: float, shift: float, r: float) -> None:
    line = fit_line(X, Y, U_X, U_Y, r)
    moved = fit_line(unit_x * (X + shift), unit_y * Y, unit_x * U_X, unit_y * U_Y, r)
    scale = unit_y / unit_x

    assert moved.slope == pytest.approx(scale * line.slope, rel=1e-8)
    expected = unit_y * (line.intercept - line.slope * shift)
    assert moved.intercept == pytest.approx(expected, abs=1e-6 * unit_y)
    assert moved.chi_squared == pytest.approx(line.chi_squared, rel=1e-6)
    assert moved.u_slope == pytest.approx(scale * line.u_slope, rel=1e-6)


def test_the_fitted_slope_has_p_value_one() -> None:
    """York's equation is the zero of the trend that tests a slope."""
    line = fit_line(X, Y, U_X, U_Y, 0.3)

    assert line.slope_p_value(line.slope) == pytest.approx(1.0, abs=1e-6)
    found = line.slope_set()
    assert found.kind == "bounded"
    for end in (found.low, found.high):
        assert line.slope_p_value(end) == pytest.approx(0.05, abs=1e-5)
    assert found.low < line.slope < found.high
    half = 1.959964 * line.u_slope
    assert found.high - found.low == pytest.approx(2 * half, rel=0.05)


def test_a_slope_without_upper_limit() -> None:
    """Amounts that hardly differ leave the slope open, and the set says so."""
    line = fit_line([1.00, 1.02, 0.97], [2.1, 1.9, 2.0], 0.05, 0.05)

    assert line.slope_set().kind in ("no upper limit", "every ratio")


def test_points_exactly_on_a_line() -> None:
    line = fit_line([1, 2, 3], [3, 5, 7], 0.1, 0.1)

    assert [line.slope, line.intercept] == pytest.approx([2.0, 1.0], abs=1e-12)
    assert line.chi_squared == pytest.approx(0, abs=1e-20)
    assert line.p_value == pytest.approx(1.0)
    assert line.with_inflation().tau == 0.0
    assert math.isnan(line.scatter_p_value(2.0))
    assert line.with_inflation().slope_p_value(2.5) == line.slope_p_value(2.5)
    level = fit_line([1, 2, 3], [2, 2, 2], 0.1, 0.1)
    assert [level.slope, level.intercept] == pytest.approx([0.0, 2.0], abs=1e-12)


def test_two_points_have_no_scatter() -> None:
    line = fit_line([1, 2], [3, 5], 0.1, 0.1)

    assert (line.slope, line.dof) == (2.0, 0)
    assert math.isnan(line.p_value)
    assert math.isnan(line.scatter)
    with pytest.raises(ModelError, match="Two points"):
        line.with_inflation()
    with pytest.raises(ModelError, match="Two points"):
        fit_line([1, 2], [3, 5], 0.1, 0.1, inflate=True)


def test_the_scatter_counts_only_when_asked_and_never_makes_p_smaller() -> None:
    plain = fit_line(X, Y, U_X / 10, U_Y / 10)
    wide = fit_line(X, Y, U_X / 10, U_Y / 10, inflate=True)

    assert (plain.inflated, plain.tau) == (False, 0.0)
    assert wide.inflated
    assert wide.stated.slope == plain.slope
    # by hand: with tau in the uncertainties of y the weighted squares are the degrees of freedom
    v = (U_Y / 10) ** 2 + wide.tau**2 + (wide.slope * U_X / 10) ** 2
    left = Y - wide.intercept - wide.slope * X
    assert float(np.sum(left**2 / v)) == pytest.approx(3.0, rel=1e-6)
    assert wide.chi_squared == plain.chi_squared
    assert wide.u_slope > plain.u_slope
    for slope in (1.8, 1.9, 1.97, 2.1):
        assert wide.slope_p_value(slope) >= plain.slope_p_value(slope)
        assert wide.slope_p_value(slope) >= plain.scatter_p_value(slope)
    assert wide.intercept_p_value(0.2) >= plain.intercept_p_value(0.2)
    low, high = wide.intercept_interval()
    assert (low, high)[0] < plain.intercept_interval()[0] < plain.intercept_interval()[1] < high
    assert wide.with_inflation() is wide
    assert fit_line(X, Y, U_X * 10, U_Y * 10, inflate=True).tau == 0.0
    assert math.isnan(fit_line(X[:2], Y[:2], 0.1, 0.1).scatter_p_value(2.0))


def test_shared_effects_match_a_simulation_of_them() -> None:
    """Propagation of a scale error of y and an offset of x against refitting shifted data."""
    shared_x = np.array([np.zeros(5), np.full(5, 0.02)])
    shared_y = np.array([0.01 * Y, np.zeros(5)])
    line = fit_line(X, Y, U_X, U_Y, shared_x=shared_x, shared_y=shared_y)
    plain = fit_line(X, Y, U_X, U_Y)
    moves = [fit_line(X + dx, Y + dy, U_X, U_Y) for dx, dy in zip(shared_x, shared_y, strict=True)]
    slope = math.hypot(*(m.slope - plain.slope for m in moves))
    intercept = math.hypot(*(m.intercept - plain.intercept for m in moves))

    assert line.slope == plain.slope
    assert line.u_slope == plain.u_slope
    assert line.u_slope_shared == pytest.approx(slope, rel=0.02)
    assert line.u_intercept_shared == pytest.approx(intercept, rel=0.02)
    assert line.u_slope_total == pytest.approx(math.hypot(line.u_slope, line.u_slope_shared))
    assert line.u_intercept_total > line.u_intercept
    assert plain.u_slope_shared == 0
    alone = fit_line(X, Y, U_X, U_Y, shared_y=shared_y[:1])
    assert alone.u_slope_shared > 0


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"x": [1.0]}, "two or more points"),
        ({"x": [[1, 2, 3, 4, 5]]}, "two or more points"),
        ({"y": [1.0, 2.0]}, "two or more points"),
        ({"u_x": [0.1, 0.1]}, "do not match the points"),
        ({"x": [2.0] * 5}, "all x are equal"),
        ({"x": [1, 2, math.nan, 4, 5]}, "element of `x`.*place .2."),
        ({"y": [1, 2, math.inf, 4, 5]}, "element of `y`.*place .2."),
        ({"u_x": -0.1}, "standard uncertainty of x"),
        ({"u_y": [0.1, 0.1, -0.1, 0.1, 0.1]}, "standard uncertainty of y"),
        ({"correlation": 1.0}, "correlation"),
        ({"u_x": 0.0, "u_y": 0.0}, "above 0 in x or in y"),
        ({"y": [2.0] * 5, "u_y": 0.0}, "no uncertainty across the line"),
        ({"shared_x": [[0.1, 0.2]]}, "effects of the shared sources"),
        ({"shared_x": [0.1] * 5}, "effects of the shared sources"),
        ({"shared_y": [[math.nan] * 5]}, "element of `shared_y`"),
    ],
)
def test_degenerate_input_is_refused_with_a_reason(changed: dict, words: str) -> None:
    given = {"x": X, "y": Y, "u_x": U_X, "u_y": U_Y, **changed}
    with pytest.raises(ModelError, match=words):
        fit_line(**given)


def test_a_slope_that_cannot_be_tested() -> None:
    """With exact y, a slope of 0 leaves nothing uncertain across the line."""
    line = fit_line(X, Y, U_X, 0.0)
    with pytest.raises(ModelError, match="cannot be tested"):
        line.slope_p_value(0.0)


def simulated(rng: np.random.Generator, wrong: float = 1.0) -> Line:
    """Return a class of 12 groups with varied amounts, correlated errors and one calibration."""
    x = rng.uniform(0.5, 2.0, 12)
    y = 0.3 + 2 * x
    u_x, u_y, r, shared = 0.04, 0.06, 0.5, 0.02
    e = rng.normal(size=(2, 12)) * wrong
    gain = 1 + rng.normal(0, shared)
    measured_x = x + u_x * e[0]
    measured_y = (y + u_y * (r * e[0] + math.sqrt(1 - r * r) * e[1])) * gain
    effect = shared * measured_y[None, :]
    return fit_line(measured_x, measured_y, u_x, u_y, r, shared_y=effect)


def test_coverage_of_slope_and_intercept() -> None:
    """1000 classes: slope test, slope and intercept intervals all cover 95 %, chi-squared holds."""
    rng = np.random.default_rng(6)
    classes = 1000
    kept = wald = blank = good = 0
    for _ in range(classes):
        line = simulated(rng)
        kept += line.slope_p_value(2.0) >= 0.05
        wald += abs(line.slope - 2.0) <= 1.959964 * line.u_slope_total
        blank += line.intercept_p_value(0.3) >= 0.05
        good += line.p_value >= 0.05
    error = math.sqrt(0.05 * 0.95 / classes)
    for count in (kept, wald, blank, good):
        assert abs(count / classes - 0.95) < 3.5 * error


@pytest.mark.parametrize("classes", [100, pytest.param(300, marks=pytest.mark.slow)])
def test_coverage_with_scatter_beyond_the_stated_uncertainties(classes: int) -> None:
    """Classes whose errors are twice those stated: Student t from the scatter still covers."""
    rng = np.random.default_rng(7)
    kept = naive = 0
    for _ in range(classes):
        line = simulated(rng, wrong=2.0)
        naive += line.slope_p_value(2.0) >= 0.05
        kept += line.with_inflation().slope_p_value(2.0) >= 0.05
    assert kept / classes > 0.95 - 3.5 * math.sqrt(0.05 * 0.95 / classes)
    assert naive / classes < 0.9


def test_few_points_the_slope_test_stays_exact() -> None:
    """2000 classes of 4 groups with large errors of x: the slope test covers 95 % there too."""
    rng = np.random.default_rng(8)
    kept = 0
    for _ in range(2000):
        x = np.array([0.6, 0.8, 1.2, 1.5])
        e = rng.normal(size=(2, 4))
        line = fit_line(x + 0.15 * e[0], 2 * x + 0.1 * e[1], 0.15, 0.1)
        kept += line.slope_p_value(2.0) >= 0.05
    assert abs(kept / 2000 - 0.95) < 3.5 * math.sqrt(0.05 * 0.95 / 2000)


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
    """Exact x: the largest of the p-values of three regressions.

    Student t of scipy.stats.linregress; the same with weights if points differ in proportion to x;
    or, where the uncertainties explain the scatter, the normal test.
    """
    line = fit_line(X, Y, 0.0, u_y, inflate=True)
    known = stats.linregress(X, Y)
    stated = u_y / math.sqrt(float(np.sum((X - X.mean()) ** 2)))
    by_scatter = 2 * stats.t.sf(abs(known.slope - slope) / known.stderr, 3)
    by_readings = 2 * stats.norm.sf(abs(known.slope - slope) / stated)

    assert line.slope == pytest.approx(known.slope, rel=1e-12)
    assert line.u_slope == pytest.approx(max(known.stderr, stated), rel=1e-9)
    wanted = max(by_scatter, by_readings)
    if line.growing is not None:
        w = 1 / (u_y**2 + (line.growing.tau * X) ** 2 / np.mean(X**2))
        place = X - np.average(X, weights=w)
        found = np.sum(w * place * Y) / np.sum(w * place**2)
        left = np.sum(w * (Y - np.average(Y, weights=w) - found * place) ** 2)
        assert left == pytest.approx(3, rel=1e-6)  # the weighted squares are the freedom
        by_growing = 2 * stats.t.sf(abs(found - slope) * math.sqrt(np.sum(w * place**2)), 3)
        by_scatter = max(by_scatter, by_growing)
        wanted = by_scatter
    assert (line.growing is None) == (line.tau == 0.0)
    assert line.scatter_p_value(slope) == pytest.approx(by_scatter, rel=1e-6)
    assert line.slope_p_value(slope) == pytest.approx(wanted, rel=1e-6)


def test_differences_that_grow_with_x_are_taken_to_do_so_where_that_excludes_less() -> None:
    """Amounts that differ ninefold; how often the true slope is lost is in the study of classes."""
    rng, raised = np.random.default_rng(8), 0
    for _ in range(20):
        x = rng.uniform(0.2, 1.8, 8)
        y = x * (1 + 0.2 * rng.standard_normal(8))
        noisy = x + 0.035 * rng.standard_normal(8), y + 0.035 * rng.standard_normal(8)
        line = fit_line(*noisy, 0.035, 0.035, inflate=True)
        alike = replace(line, growing=None)
        found = [(line.slope_p_value(r), alike.slope_p_value(r)) for r in (1.0, 1.5)]
        found.append((line.intercept_p_value(), alike.intercept_p_value()))
        assert all(p >= other for p, other in found)
        raised += found[0][0] > found[0][1] + 0.01
        (low, high), (inner, outer) = line.intercept_interval(), alike.intercept_interval()
        assert low <= inner < outer <= high
    assert raised > 5


@pytest.mark.parametrize(
    ("points", "true"),
    [
        (4, 0.0),
        (4, 1.5),
        pytest.param(8, 1.5, marks=pytest.mark.slow),
        pytest.param(30, 3.0, marks=pytest.mark.slow),
    ],
)
def test_points_that_truly_differ_keep_their_slope(points: int, true: float) -> None:
    """``true`` is the difference over the error across the line; 300 classes each."""
    rng = np.random.default_rng(points)
    classes, lost, stated = 300, 0, 0
    for _ in range(classes):
        x = rng.uniform(0.5, 1.5, points)
        y = 2 * x + 0.056 * true * rng.standard_normal(points)
        line = fit_line(
            x + 0.02 * rng.standard_normal(points), y + 0.04 * rng.standard_normal(points), 0.02,
            0.04, inflate=True,
        )  # fmt: skip
        lost += line.slope_p_value(2.0) < 0.05
        stated += line.stated.slope_p_value(2.0) < 0.05
    assert lost / classes < 0.05 + 3 * math.sqrt(0.05 * 0.95 / classes)
    assert (stated / classes > 0.2) == (true > 0)


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
